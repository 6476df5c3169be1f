//! Worked examples as read: each case with its network, and what is expected of it.
//!
//! Nothing is judged here; what needs the rule set to be understood waits for it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostics, Document, Limits, Place, nearest};
use crownweir_evaluate::{Judgement, Verdict};
use crownweir_network::Network;
use crownweir_quantity::NominalSize;
use crownweir_rulebook::{Basis, Dimension, Fact, Family, Ladder};

use crate::template::{Puts, Template, fill};
use crate::wire::{
    Answer, CaseFile, Confidence, ElementFile, ExampleFile, FactFile, FindingFile, LimitFile, Names, Scalar,
    SizeFile, TrapFile,
};

/// The format's name and version, as the first key of a file states it.
const FORMAT: &str = "example/1";

/// The most cases that a file may hold.
const MOST_CASES: usize = 10_000;

/// A file of worked examples.
#[derive(Debug, Clone)]
pub struct Example {
    /// What it is about.
    pub title: String,
    /// The file as its reader called it.
    pub file: Arc<str>,
    /// Its cases, each row of a grid one.
    pub cases: Vec<Case>,
}

/// Where an answer comes from.
#[derive(Debug, Clone)]
pub struct Origin {
    /// The source.
    pub source: String,
    /// What kind of answer it is.
    pub answer: Answer,
    /// How it is known.
    pub basis: Basis,
    /// How far the source can be relied on.
    pub confidence: Option<Confidence>,
    /// What a reader should know.
    pub note: Option<String>,
}

/// A network and what is expected of it.
#[derive(Debug, Clone)]
pub struct Case {
    /// What it is about, or the values put.
    pub title: String,
    /// Where its answer comes from.
    pub origin: Arc<Origin>,
    /// Where it stands.
    pub place: Place,
    pub(crate) network: Arc<Network>,
    pub(crate) expected: Vec<Expected>,
    pub(crate) template: Arc<Template>,
    pub(crate) puts: Puts,
    pub(crate) limits: Limits,
}

/// One thing that is expected.
#[derive(Debug, Clone)]
pub(crate) struct Expected {
    pub(crate) place: Place,
    pub(crate) what: What,
}

#[derive(Debug, Clone)]
pub(crate) enum What {
    Fact {
        of: Option<String>,
        fact: Fact,
        is: String,
        within: Option<String>,
    },
    Rule {
        rule: String,
        on: Option<String>,
        judgement: Judgement,
        limit: Option<String>,
    },
    Limit {
        rule: String,
        on: Option<String>,
        column: Option<String>,
        is: String,
    },
    Size {
        put: String,
        rule: String,
        on: Option<String>,
        is: NominalSize,
    },
    Trap {
        of: String,
        by: String,
        nearest: Option<String>,
    },
    Findings {
        verdict: Verdict,
        list: Vec<(String, String)>,
    },
}

impl Example {
    /// Reads worked examples from the text of a file, called `name` in messages.
    ///
    /// # Errors
    /// Everything that keeps the text from being worked examples, with its place.
    pub fn read(name: &str, text: &[u8], limits: &Limits) -> Result<Self, Diagnostics> {
        let document = Arc::new(Document::read(name, text, limits)?);
        let mut problems = Diagnostics::keeping(limits.diagnostics);
        if !document.is_of_format(FORMAT, &mut problems) {
            return problems.or(None);
        }
        let Some(file) = document.decode::<ExampleFile>(&mut problems) else {
            return problems.or(None);
        };
        let mut reader = Reader {
            document: &document,
            limits: *limits,
            cases: Vec::new(),
            bytes: 0,
        };
        reader.file(&file, &mut problems);
        let cases = reader.cases;
        problems.or(Some(Self {
            title: file.example,
            file: name.into(),
            cases,
        }))
    }
}

struct Reader<'a> {
    document: &'a Arc<Document>,
    limits: Limits,
    cases: Vec<Case>,
    /// Bytes of network text read so far.
    bytes: usize,
}

/// What a case's own text is filled with, and what of it has been used.
struct Filler<'a> {
    puts: &'a Puts,
    used: BTreeSet<String>,
    problems: &'a mut Diagnostics,
}

impl Filler<'_> {
    fn text(&mut self, text: impl ToString, at: Cursor<'_>) -> Option<String> {
        match fill(&text.to_string(), self.puts, &mut self.used) {
            Ok(filled) => Some(filled),
            Err(name) => {
                let known = self.puts.keys().map(String::as_str);
                self.problems.push(
                    at.problem(format!("nothing is put for `${name}`"))
                        .expecting(format!("`{name}` under `put` or in the `grid`"))
                        .suggesting(nearest(&name, known)),
                );
                None
            }
        }
    }

    /// Text that may be missing: none inside where it is.
    fn optional(&mut self, text: Option<&Scalar>, at: Cursor<'_>) -> Option<Option<String>> {
        match text {
            None => Some(None),
            Some(text) => self.text(text, at).map(Some),
        }
    }
}

impl Reader<'_> {
    fn file(&mut self, file: &ExampleFile, problems: &mut Diagnostics) {
        let document = Arc::clone(self.document);
        let top = document.top();
        let shared = file
            .network
            .as_ref()
            .and_then(|network| self.template(network, top.get("network"), problems));
        let mut named = BTreeMap::new();
        for (name, network) in &file.networks {
            let template = self.template(network, top.get("networks").get(name), problems);
            named.extend(template.map(|template| (name.as_str(), template)));
        }
        let mut unnamed: BTreeSet<&str> = named.keys().copied().collect();
        if file.cases.is_empty() {
            problems.push(top.get("cases").problem("there is no case").expecting("at least one"));
        }
        for (index, case) in file.cases.iter().enumerate() {
            let at = top.get("cases").item(index);
            let Some(origin) = origin(file, case, top, at, problems) else {
                continue;
            };
            let own = match &case.network {
                Some(serde_yaml::Value::String(name)) => {
                    unnamed.remove(name.as_str());
                    let template = named.get(name.as_str()).cloned();
                    if template.is_none() {
                        problems.push(
                            at.get("network")
                                .problem(format!("there is no network `{name}`"))
                                .expecting("a name under `networks`, or a network")
                                .suggesting(nearest(name, named.keys().copied())),
                        );
                    }
                    template
                }
                Some(network) => self.template(network, at.get("network"), problems),
                None => shared.clone(),
            };
            let Some(template) = own else {
                if case.network.is_none() && file.network.is_none() {
                    problems.push(
                        at.problem("the case has no network")
                            .expecting("`network` here or at the top of the file"),
                    );
                }
                continue;
            };
            self.case(case, &Arc::new(origin), &template, at, problems);
        }
        for name in unnamed {
            let at = top.get("networks").key(name);
            problems.push(at.problem(format!("no case is about the network `{name}`")));
        }
    }

    fn template(
        &self,
        network: &serde_yaml::Value,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Arc<Template>> {
        if !network.is_mapping() {
            problems.push(
                at.problem("a network belongs here")
                    .expecting("the keys of a network file, such as `drains` and `vents`"),
            );
            return None;
        }
        Some(Arc::new(Template::at(self.document, at)))
    }

    fn case(
        &mut self,
        case: &CaseFile,
        origin: &Arc<Origin>,
        template: &Arc<Template>,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) {
        let given: Puts = case.put.iter().map(|(name, value)| (name.clone(), value.to_string())).collect();
        let grid = case.grid.as_ref();
        for name in given.keys().chain(grid.into_iter().flat_map(|grid| &grid.put)) {
            let sound = name.starts_with(|first: char| first.is_ascii_uppercase())
                && name
                    .bytes()
                    .all(|byte| byte.is_ascii_uppercase() || byte.is_ascii_digit() || byte == b'_');
            if !sound {
                problems.push(
                    at.problem(format!("`{name}` cannot be put"))
                        .expecting("a name in capitals, digits and underscores, such as `SIZE`"),
                );
                return;
            }
        }
        let alone = [Vec::new()];
        let rows = grid.map_or(&alone[..], |grid| &grid.rows);
        let mut last: Option<(Arc<Network>, Puts)> = None;
        for (number, row) in rows.iter().enumerate() {
            let before = problems.list.len() + problems.omitted;
            let mut place = at;
            let mut puts = given.clone();
            if let Some(grid) = grid {
                place = at.get("grid").get("rows").item(number);
                if row.len() != grid.put.len() {
                    let what = format!("this row puts {} values", row.len());
                    let expected = format!("{}: one for each name under `put`", grid.put.len());
                    problems.push(place.problem(what).expecting(expected));
                    return;
                }
                let own = grid.put.iter().zip(row);
                puts.extend(own.map(|(name, value)| (name.clone(), value.to_string())));
            }
            if self.cases.len() >= MOST_CASES || self.bytes > self.limits.bytes {
                problems.push(place.problem(format!(
                    "the file's cases come to more than {MOST_CASES}, or to more than {} bytes of networks",
                    self.limits.bytes
                )));
                return;
            }
            let mut filler = Filler {
                puts: &puts,
                used: BTreeSet::new(),
                problems,
            };
            let network = self.network(template, &mut filler, last.as_ref());
            let expected = expectations(case, at, &mut filler);
            let used = filler.used;
            if let Some(name) = puts.keys().find(|name| !used.contains(*name)) {
                problems.push(at.problem(format!("`{name}` is put, and nothing here says `${name}`")));
            }
            if expected.is_empty() {
                problems.push(
                    at.problem("the case expects nothing")
                        .expecting("`held`, `violated`, `loads`, `facts` or the like"),
                );
            }
            let title = case.case.clone().unwrap_or_default();
            let values: Vec<_> = puts.iter().map(|(name, value)| format!("{name} {value}")).collect();
            let title = match (title.is_empty(), values.is_empty()) {
                (false, true) => title,
                (false, false) if grid.is_none() => title,
                (false, false) => format!("{title}: {}", values.join(", ")),
                (true, _) => values.join(", "),
            };
            // The next row of the grid would only say the same again.
            let (Some(network), true) = (network, problems.list.len() + problems.omitted == before) else {
                return;
            };
            last = Some((Arc::clone(&network), puts.clone()));
            self.cases.push(Case {
                title,
                origin: Arc::clone(origin),
                place: place.place(),
                network,
                expected,
                template: Arc::clone(template),
                puts,
                limits: self.limits,
            });
        }
    }

    /// The network of a case: the last one again where what is put into it has not changed.
    fn network(
        &mut self,
        template: &Template,
        filler: &mut Filler<'_>,
        last: Option<&(Arc<Network>, Puts)>,
    ) -> Option<Arc<Network>> {
        let names = template.names();
        if let Some((network, puts)) = last
            && names.iter().all(|name| puts.get(*name) == filler.puts.get(*name))
        {
            filler.used.extend(names.iter().map(|name| (*name).to_owned()));
            return Some(Arc::clone(network));
        }
        let (network, bytes) =
            template.network(filler.puts, &self.limits, &mut filler.used, filler.problems)?;
        self.bytes += bytes;
        // All networks of the file together hold no more than one may.
        let elements = network.graph().node_count() + network.graph().edge_count();
        self.limits.nodes = self.limits.nodes.saturating_sub(elements).max(1);
        Some(Arc::new(network))
    }
}

fn origin(
    file: &ExampleFile,
    case: &CaseFile,
    top: Cursor<'_>,
    at: Cursor<'_>,
    problems: &mut Diagnostics,
) -> Option<Origin> {
    let origin = Origin {
        source: case.source.as_ref().unwrap_or(&file.source).clone(),
        answer: case.answer.unwrap_or(file.answer),
        basis: case.basis.unwrap_or(file.basis),
        confidence: case.confidence.or(file.confidence),
        note: case.note.clone().or_else(|| file.note.clone()),
    };
    let of = |own: bool, key: &str| if own { at.get(key) } else { top.get(key) };
    if origin.source.trim().is_empty() {
        let at = of(case.source.is_some(), "source");
        problems.push(at.problem("the answer has no source").expecting("where it was read"));
        return None;
    }
    if origin.answer == Answer::Independent && origin.confidence.is_none() {
        let at = of(case.answer.is_some(), "answer");
        problems.push(
            at.problem("an independent answer says how far its source can be relied on")
                .expecting("`confidence: high`, `medium` or `low`"),
        );
        return None;
    }
    if origin.confidence == Some(Confidence::Low) && origin.note.is_none() {
        let at = of(case.confidence.is_some(), "confidence");
        problems.push(
            at.problem("an answer of low confidence counts only where it has been reckoned again")
                .expecting("a `note` that says what the reckoning gives"),
        );
        return None;
    }
    Some(origin)
}

/// Everything that a case expects, with its placeholders filled.
fn expectations(case: &CaseFile, at: Cursor<'_>, filler: &mut Filler<'_>) -> Vec<Expected> {
    let mut expected = Vec::new();
    for (pipe, load) in &case.loads {
        let at = at.get("loads").get(pipe);
        let fact = Fact::DrainLoad;
        let (Some(of), Some(is)) = (filler.text(pipe, at), filler.text(load, at)) else {
            continue;
        };
        expected.extend(value(fact.dimension(), &is, at, filler.problems).map(|()| Expected {
            place: at.place(),
            what: What::Fact {
                of: Some(of),
                fact,
                is,
                within: None,
            },
        }));
    }
    let mut add = |key: &str, index: usize, what: &mut dyn FnMut(Cursor<'_>) -> Option<Vec<What>>| {
        let at = at.get(key).item(index);
        let place = at.place();
        expected.extend(what(at).unwrap_or_default().into_iter().map(|what| Expected {
            place: place.clone(),
            what,
        }));
    };
    for (index, one) in case.facts.iter().enumerate() {
        add("facts", index, &mut |at| fact(one, at, filler).map(|what| vec![what]));
    }
    for (index, one) in case.sizes.iter().enumerate() {
        add("sizes", index, &mut |at| size(one, at, filler).map(|what| vec![what]));
    }
    let judged = [
        ("held", &case.held, Judgement::Satisfied),
        ("violated", &case.violated, Judgement::Violated),
        ("undetermined", &case.undetermined, Judgement::Undetermined),
        ("not_applicable", &case.not_applicable, Judgement::NotApplicable),
        ("on_site", &case.on_site, Judgement::OnSite),
    ];
    for (key, list, judgement) in judged {
        for (index, one) in list.iter().enumerate() {
            add(key, index, &mut |at| element(one, judgement, at, filler));
        }
    }
    for (index, one) in case.limits.iter().enumerate() {
        add("limits", index, &mut |at| limit(one, at, filler).map(|what| vec![what]));
    }
    for (index, one) in case.traps.iter().enumerate() {
        add("traps", index, &mut |at| trap(one, at, filler).map(|what| vec![what]));
    }
    if let Some(findings) = &case.findings {
        let lists = [
            ("violated", &findings.violated, Verdict::Violated),
            ("undetermined", &findings.undetermined, Verdict::Undetermined),
        ];
        for (key, list, verdict) in lists {
            let at = at.get("findings").get(key);
            let Some(list) = list else { continue };
            expected.extend(exactly(list, at, filler).map(|list| Expected {
                place: at.place(),
                what: What::Findings { verdict, list },
            }));
        }
    }
    expected
}

/// Whether `text` writes a value of a dimension. Which sizes there are only the rule set knows.
fn value(dimension: Dimension, text: &str, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<()> {
    let read = match dimension {
        Dimension::Size => text.parse::<NominalSize>().map(|_| ()).map_err(|error| error.to_string()),
        other => other.read(text, &Ladder::default()).map(|_| ()),
    };
    match (read, dimension) {
        (Ok(()), _) => Some(()),
        (Err(message), Dimension::Word(words)) => {
            problems.push(
                at.problem(message)
                    .expecting(format!("one of {}", words.join(", ")))
                    .suggesting(nearest(text, words.iter().copied())),
            );
            None
        }
        (Err(message), _) => {
            let message = message.split(", expected ").next().unwrap_or_default().to_owned();
            problems.push(at.problem(message).expecting(dimension.example()));
            None
        }
    }
}

fn fact(file: &FactFile, at: Cursor<'_>, filler: &mut Filler<'_>) -> Option<What> {
    let Some(fact) = Fact::from_name(&file.fact) else {
        filler.problems.push(
            at.get("fact")
                .problem(format!("there is no fact `{}`", file.fact))
                .expecting("a fact such as `drain.load`; `crownweir rules facts` lists them")
                .suggesting(nearest(&file.fact, Fact::NAMES.iter().copied())),
        );
        return None;
    };
    let of = filler.optional(file.of.as_ref(), at.get("of"))?;
    if of.is_none() && fact.family() != Family::System {
        filler.problems.push(
            at.problem(format!("`{}` is not a fact of the whole network", fact.name()))
                .expecting("`of` with the element's name"),
        );
        return None;
    }
    let is = filler.text(&file.is, at.get("is"))?;
    if !matches!(is.as_str(), "absent" | "unknown") {
        value(fact.dimension(), &is, at.get("is"), filler.problems)?;
    }
    let within = filler.optional(file.within.as_ref(), at.get("within"))?;
    if let Some(within) = &within {
        let adds_up = matches!(fact.dimension(), Dimension::Length | Dimension::Load | Dimension::Count);
        if !adds_up {
            let what = format!("a {} is expected exactly", fact.dimension().name());
            let problem = at.get("within").problem(what);
            filler.problems.push(problem.expecting("`within` on lengths, loads and counts only"));
            return None;
        }
        value(fact.dimension(), within, at.get("within"), filler.problems)?;
    }
    if within.is_some() != file.because.as_ref().is_some_and(|because| !because.trim().is_empty()) {
        filler.problems.push(
            at.problem("a tolerance and its reason go together")
                .expecting("both `within` and `because`, or neither"),
        );
        return None;
    }
    Some(What::Fact { of, fact, is, within })
}

fn size(file: &SizeFile, at: Cursor<'_>, filler: &mut Filler<'_>) -> Option<What> {
    if !filler.puts.contains_key(&file.put) {
        let known = filler.puts.keys().map(String::as_str);
        filler.problems.push(
            at.get("put")
                .problem(format!("nothing is put for `${}`", file.put))
                .expecting("a name under `put`: the sizes are put in its place one by one")
                .suggesting(nearest(&file.put, known)),
        );
        return None;
    }
    let is = filler.text(&file.is, at.get("is"))?;
    value(Dimension::Size, &is, at.get("is"), filler.problems)?;
    Some(What::Size {
        put: file.put.clone(),
        rule: file.rule.clone(),
        on: filler.optional(file.on.as_ref(), at.get("on"))?,
        is: is.parse().ok()?,
    })
}

fn element(
    file: &ElementFile,
    judgement: Judgement,
    at: Cursor<'_>,
    filler: &mut Filler<'_>,
) -> Option<Vec<What>> {
    let rule = filler.text(&file.rule, at.get("rule"))?;
    let bound = filler.optional(file.limit.as_ref(), at.get("limit"))?;
    if let Some(bound) = &bound {
        is_a_limit(bound, at.get("limit"), filler.problems)?;
    }
    let on: Vec<Option<String>> = match &file.on {
        None => vec![None],
        Some(Names::One(name)) => vec![Some(filler.text(name, at.get("on"))?)],
        Some(Names::Several(names)) => {
            let filled = names.iter().map(|name| filler.text(name, at.get("on")).map(Some));
            filled.collect::<Option<_>>()?
        }
    };
    let what = on.into_iter().map(|on| What::Rule {
        rule: rule.clone(),
        on,
        judgement,
        limit: bound.clone(),
    });
    Some(what.collect())
}

/// Of which dimension a limit is, the rule says; here it is seen that it is any at all.
fn is_a_limit(text: &str, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<()> {
    let ladder = Ladder::default();
    let dimensions = [
        Dimension::Length,
        Dimension::Slope,
        Dimension::Angle,
        Dimension::Load,
        Dimension::Flow,
        Dimension::Volume,
        Dimension::Temperature,
        Dimension::Period,
        Dimension::Count,
    ];
    let known = matches!(text, "none" | "unlimited" | "unfilled")
        || text.parse::<NominalSize>().is_ok()
        || dimensions.into_iter().any(|dimension| dimension.read(text, &ladder).is_ok());
    if !known {
        problems.push(
            at.problem(format!("`{text}` is not a limit"))
                .expecting("a value with its unit, `none`, `unlimited` or `unfilled`"),
        );
    }
    known.then_some(())
}

fn limit(file: &LimitFile, at: Cursor<'_>, filler: &mut Filler<'_>) -> Option<What> {
    let is = filler.text(&file.is, at.get("is"))?;
    is_a_limit(&is, at.get("is"), filler.problems)?;
    Some(What::Limit {
        rule: filler.text(&file.rule, at.get("rule"))?,
        on: filler.optional(file.on.as_ref(), at.get("on"))?,
        column: file.column.clone(),
        is,
    })
}

fn trap(file: &TrapFile, at: Cursor<'_>, filler: &mut Filler<'_>) -> Option<What> {
    let by = filler.text(&file.by, at.get("by"))?;
    if file.nearest.is_some() && by != "none" {
        let problem = at.get("nearest").problem("only a trap that nothing protects has a nearest arrangement");
        filler.problems.push(problem.expecting("`by: none`"));
        return None;
    }
    let nearest = match &file.nearest {
        None => None,
        Some(nearest) => Some(filler.text(nearest, at.get("nearest"))?),
    };
    Some(What::Trap {
        of: filler.text(&file.of, at.get("of"))?,
        by,
        nearest,
    })
}

fn exactly(list: &[FindingFile], at: Cursor<'_>, filler: &mut Filler<'_>) -> Option<Vec<(String, String)>> {
    let mut found = Vec::new();
    for (index, one) in list.iter().enumerate() {
        let at = at.item(index);
        found.push((filler.text(&one.rule, at.get("rule"))?, filler.text(&one.on, at.get("on"))?));
    }
    found.sort();
    Some(found)
}
