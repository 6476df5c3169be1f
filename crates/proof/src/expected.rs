//! What a case expects, read from its lists with every placeholder filled.
//!
//! Names of rules, tables and arrangements are left as they are: only the rule set to be proven knows them.

use std::collections::BTreeSet;

use crownweir_document::{Cursor, Diagnostics, Place, nearest};
use crownweir_evaluate::{Judgement, Verdict};
use crownweir_quantity::NominalSize;
use crownweir_rulebook::{Dimension, Fact, Family, Ladder};

use crate::template::{Puts, fill};
use crate::wire::{
    CaseFile, ElementFile, FactFile, FindingFile, LimitFile, Names, Scalar, SizeFile, TrapFile,
};

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
        limit: Option<String>,
    },
    Findings {
        verdict: Verdict,
        list: Vec<(String, String)>,
    },
}

/// What a case's own text is filled with, and what of it has been used.
pub(crate) struct Filler<'a> {
    pub(crate) puts: &'a Puts,
    pub(crate) used: BTreeSet<String>,
    pub(crate) problems: &'a mut Diagnostics,
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

/// Everything that a case expects, with its placeholders filled.
pub(crate) fn expectations(case: &CaseFile, at: Cursor<'_>, filler: &mut Filler<'_>) -> Vec<Expected> {
    let mut expected = Vec::new();
    for (pipe, load) in &case.loads {
        let at = at.get("loads").get(pipe);
        let fact = Fact::DrainLoad;
        let (Some(of), Some(is)) = (filler.text(pipe, at), filler.text(load, at)) else {
            continue;
        };
        expected.extend(
            value(fact.dimension(), &is, at, filler.problems).map(|()| Expected {
                place: at.place(),
                what: What::Fact {
                    of: Some(of),
                    fact,
                    is,
                    within: None,
                },
            }),
        );
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
        add("facts", index, &mut |at| {
            fact(one, at, filler).map(|what| vec![what])
        });
    }
    for (index, one) in case.sizes.iter().enumerate() {
        add("sizes", index, &mut |at| {
            size(one, at, filler).map(|what| vec![what])
        });
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
        add("limits", index, &mut |at| {
            limit(one, at, filler).map(|what| vec![what])
        });
    }
    for (index, one) in case.traps.iter().enumerate() {
        add("traps", index, &mut |at| {
            trap(one, at, filler).map(|what| vec![what])
        });
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
        Dimension::Size => text
            .parse::<NominalSize>()
            .map(|_| ())
            .map_err(|error| error.to_string()),
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
    let Ok(fact) = file.fact.parse::<Fact>() else {
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
        let adds_up = matches!(
            fact.dimension(),
            Dimension::Length
                | Dimension::Load
                | Dimension::Flow
                | Dimension::Velocity
                | Dimension::Ratio
                | Dimension::Count
        );
        if !adds_up {
            let what = format!("a {} is expected exactly", fact.dimension().name());
            let problem = at.get("within").problem(what);
            filler.problems.push(
                problem.expecting("`within` on lengths, loads, flows, velocities, ratios and counts only"),
            );
            return None;
        }
        value(fact.dimension(), within, at.get("within"), filler.problems)?;
    }
    if within.is_some()
        != file
            .because
            .as_ref()
            .is_some_and(|because| !because.trim().is_empty())
    {
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
        Dimension::Velocity,
        Dimension::Ratio,
        Dimension::Count,
    ];
    let known = matches!(text, "none" | "unlimited" | "unfilled")
        || text.parse::<NominalSize>().is_ok()
        || dimensions
            .into_iter()
            .any(|dimension| dimension.read(text, &ladder).is_ok());
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
        let problem = at
            .get("nearest")
            .problem("only a trap that nothing protects has a nearest arrangement");
        filler.problems.push(problem.expecting("`by: none`"));
        return None;
    }
    if file.limit.is_some() && file.nearest.is_none() {
        let problem = at
            .get("limit")
            .problem("the limit is one that the nearest arrangement's conditions read");
        filler
            .problems
            .push(problem.expecting("`nearest` with that arrangement's name"));
        return None;
    }
    let nearest = match &file.nearest {
        None => None,
        Some(nearest) => Some(filler.text(nearest, at.get("nearest"))?),
    };
    let limit = filler.optional(file.limit.as_ref(), at.get("limit"))?;
    if let Some(limit) = &limit {
        is_a_limit(limit, at.get("limit"), filler.problems)?;
    }
    Some(What::Trap {
        of: filler.text(&file.of, at.get("of"))?,
        by,
        nearest,
        limit,
    })
}

fn exactly(list: &[FindingFile], at: Cursor<'_>, filler: &mut Filler<'_>) -> Option<Vec<(String, String)>> {
    let mut found = Vec::new();
    for (index, one) in list.iter().enumerate() {
        let at = at.item(index);
        found.push((
            filler.text(&one.rule, at.get("rule"))?,
            filler.text(&one.on, at.get("on"))?,
        ));
    }
    found.sort();
    Some(found)
}
