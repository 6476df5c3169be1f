//! Worked examples as read: each case with its network, and what is expected of it.
//!
//! Nothing is judged here; what needs the rule set to be understood waits for it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostics, Document, Limits, Place, nearest};
use crownweir_network::Network;
use crownweir_rulebook::Basis;

use crate::expected::{Expected, Filler, What, expectations};
use crate::template::{Lacking, Puts, Template};
use crate::wire::{Answer, CaseFile, Confidence, ExampleFile};

/// The format's name and version, as the first key of a file states it.
pub(crate) const FORMAT: &str = "example/1";

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

impl Case {
    /// The network, with the case's values put into it.
    #[must_use]
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// The text of that network, at the lines and columns at which it stands in the file.
    #[must_use]
    pub fn network_text(&self) -> String {
        let filled = self.template.filled(&self.puts);
        filled.map(|(text, _)| text).unwrap_or_default()
    }

    /// The fixtures whose traps the case speaks of, each with the arrangement that it expects there: `none` where
    /// nothing protects the trap, `unknown` where it cannot be told.
    pub fn traps(&self) -> impl Iterator<Item = (&str, &str)> {
        self.expected.iter().filter_map(|expected| match &expected.what {
            What::Trap { of, by, .. } => Some((of.as_str(), by.as_str())),
            _ => None,
        })
    }
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
        let decoded = document.decode_sound_parts::<ExampleFile>(&mut problems);
        let Some(decoded) = decoded.filter(|decoded| decoded.is_whole) else {
            return problems.or(None);
        };
        let document = decoded.document.map_or(document, Arc::new);
        let file = decoded.value;
        let mut reader = Reader {
            document: &document,
            limits: *limits,
            cases: Vec::new(),
            bytes: 0,
            lacking: Vec::new(),
        };
        reader.file(&file, &mut problems);
        reader.tell_lacking(&mut problems);
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
    /// Placeholders of networks, each with the lines of the cases that put nothing for them.
    lacking: Vec<(Lacking, Vec<usize>)>,
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
            problems.push(
                top.get("cases")
                    .problem("there is no case")
                    .expecting("at least one"),
            );
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
        let given: Puts = case
            .put
            .iter()
            .map(|(name, value)| (name.clone(), value.to_string()))
            .collect();
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
            let network = self.network(template, &mut filler, last.as_ref(), at.place().line);
            let expected = expectations(case, at, &mut filler);
            let used = filler.used;
            let is_filled = used.iter().all(|name| puts.contains_key(name));
            // What is put without use may be what is lacking, by another name.
            let idle = puts.keys().find(|name| is_filled && !used.contains(*name));
            if let Some(name) = idle {
                problems.push(at.problem(format!("`{name}` is put, and nothing here says `${name}`")));
            }
            if is_filled && expected.is_empty() && problems.list.len() + problems.omitted == before {
                problems.push(
                    at.problem("the case expects nothing")
                        .expecting("`held`, `violated`, `loads`, `facts` or the like"),
                );
            }
            let title = case.case.clone().unwrap_or_default();
            let values: Vec<_> = puts
                .iter()
                .map(|(name, value)| format!("{name} {value}"))
                .collect();
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
        line: usize,
    ) -> Option<Arc<Network>> {
        let names = template.names();
        filler.used.extend(names.iter().map(|name| (*name).to_owned()));
        if let Some((network, puts)) = last
            && names.iter().all(|name| puts.get(*name) == filler.puts.get(*name))
        {
            return Some(Arc::clone(network));
        }
        let filled = match template.filled(filler.puts) {
            Ok(filled) => filled,
            Err(lacking) => {
                for one in lacking {
                    match self.lacking.iter_mut().find(|(known, _)| *known == one) {
                        Some((_, lines)) => lines.push(line),
                        None => self.lacking.push((one, vec![line])),
                    }
                }
                return None;
            }
        };
        let network = template.network(&filled, filler.puts, &self.limits, filler.problems)?;
        self.bytes += filled.0.len();
        // All networks of the file together hold no more than one may.
        let elements = network.graph().node_count() + network.graph().edge_count();
        self.limits.nodes = self.limits.nodes.saturating_sub(elements).max(1);
        Some(Arc::new(network))
    }
}

/// Most lines of cases that are named in one problem.
const MOST_LINES: usize = 5;

impl Reader<'_> {
    /// Tells of the placeholders that nothing is put for, each once for all cases that lack it.
    fn tell_lacking(&self, problems: &mut Diagnostics) {
        for (lacking, lines) in &self.lacking {
            let name = &lacking.name;
            let mut named: Vec<_> = lines.iter().take(MOST_LINES).map(ToString::to_string).collect();
            if lines.len() > MOST_LINES {
                named.push(format!("{} more", lines.len() - MOST_LINES));
            }
            let cases = match &named[..] {
                [line] => format!("the case in line {line}"),
                [first @ .., last] => format!("the cases in lines {} and {last}", first.join(", ")),
                [] => continue,
            };
            let help = match &lacking.near {
                Some(near) if lines.len() == 1 => format!("{cases} puts `{near}`: was `{name}` meant?"),
                Some(near) => format!("{cases} put `{near}`: was `{name}` meant?"),
                None => format!("so it is with {cases}"),
            };
            problems.push(
                self.document
                    .problem(lacking.bytes.clone(), format!("nothing is put for `${name}`"))
                    .expecting(format!("`{name}` under `put` or in the `grid`"))
                    .helped(help),
            );
        }
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
        problems.push(
            at.problem("the answer has no source")
                .expecting("where it was read"),
        );
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
