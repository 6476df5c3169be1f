//! Conditions and operands, read with the dimension of every part checked.
//!
//! A condition is a mapping from facts to what is asked of them; all of it must hold. An operand is a value, a
//! fact's name, or a mapping that says how to come by a value.

use std::cmp::Ordering;

use crownweir_document::{Cursor, Diagnostic, Diagnostics, nearest};
use serde_yaml::{Mapping, Value as Yaml};

use crate::amend::flow;
use crate::facts::{Fact, Subject};
use crate::literal::literal;
use crate::model::{Check, Comparison, Condition, FactTest, Operand};
use crate::table::Table;
use crate::value::Ladder;

/// The definition of a sharp turn, as an example.
const SHARP_TURN: &str = "{more_than: 60 deg, cite: {...}}";

/// The change by which an amendment defines a sharp turn, as an example.
pub(crate) fn add_sharp_turn() -> String {
    format!("add: {{definition: sharp_turn, with: {SHARP_TURN}}}")
}

/// What expressions may refer to.
pub(crate) struct Scope<'a> {
    pub(crate) subject: Subject,
    pub(crate) ladder: &'a Ladder,
    pub(crate) tables: &'a [Table],
    /// Whether the rule set says when a turn is sharp.
    pub(crate) says_sharp_turn: bool,
}

impl Scope<'_> {
    /// A condition; nothing at all holds always.
    pub(crate) fn condition(
        &self,
        yaml: &Yaml,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Condition> {
        let map = match yaml {
            Yaml::Null => return Some(Condition::All(Vec::new())),
            Yaml::Mapping(map) => map,
            _ => {
                problems.push(
                    at.problem("a condition is written as facts and what is asked of each")
                        .expecting("keys with values, such as `{pipe.size: {at_least: 2 in}}`"),
                );
                return None;
            }
        };
        let mut parts = Vec::with_capacity(map.len());
        let mut sound = true;
        for (key, value) in entries(map) {
            let below = at.get(key);
            let part = match key {
                "all" => self.list(value, below, problems).map(Condition::All),
                "any" => self.list(value, below, problems).map(Condition::Any),
                "not" => self
                    .condition(value, below, problems)
                    .map(|condition| Condition::Not(Box::new(condition))),
                _ => match self.fact(key, at.key(key), problems) {
                    Some(fact) => self.tests(fact, value, below, problems),
                    None => None,
                },
            };
            match part {
                Some(part) => parts.push(part),
                None => sound = false,
            }
        }
        if !sound {
            return None;
        }
        if parts.len() == 1 {
            return parts.pop();
        }
        Some(Condition::All(parts))
    }

    fn list(&self, yaml: &Yaml, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<Vec<Condition>> {
        let Yaml::Sequence(items) = yaml else {
            problems.push(
                at.problem("a list of conditions belongs here")
                    .expecting("`[{...}, {...}]`"),
            );
            return None;
        };
        let read: Vec<_> = items
            .iter()
            .enumerate()
            .map(|(index, item)| self.condition(item, at.item(index), problems))
            .collect();
        read.into_iter().collect()
    }

    pub(crate) fn fact(&self, name: &str, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<Fact> {
        let problem = match name.parse::<Fact>() {
            Ok(fact) if self.subject.sees(fact.family()) => {
                return self.can_measure(fact, at, problems).then_some(fact);
            }
            Ok(_) => {
                let about = self.subject.name();
                at.problem(format!("a rule about {about} cannot speak of `{name}`"))
                    .expecting(self.facts_like(""))
            }
            Err(_) => at
                .problem(format!("there is no fact `{name}`"))
                .expecting(self.facts_like(name))
                .suggesting(self.fact_meant(name)),
        };
        problems.push(problem);
        None
    }

    /// Whether the rule set says all that a fact rests on.
    pub(crate) fn can_measure(&self, fact: Fact, at: Cursor<'_>, problems: &mut Diagnostics) -> bool {
        let can = self.says_sharp_turn || !fact.tells_of_sharp_turns();
        if !can {
            problems.push(
                at.problem(format!(
                    "`{}` tells of sharp turns, and the rule set does not say what a sharp turn is",
                    fact.name()
                ))
                .expecting(match at.text_number() {
                    0 => format!("`sharp_turn` among the definitions, such as `{SHARP_TURN}`"),
                    // Amendments are merged into the base, each with a text of its own.
                    _ => format!("a change that defines it too, such as `{}`", add_sharp_turn()),
                }),
            );
        }
        can
    }

    /// The facts of the family that a name begins with, or which families there are: a rule sees a hundred facts.
    fn facts_like(&self, name: &str) -> String {
        let seen = || self.subject.facts().map(Fact::name);
        let family = |name: &'static str| name.split_once('.').map(|(family, _)| family);
        let own: Vec<&str> = match name.split_once('.') {
            Some((wanted, _)) => seen().filter(|name| family(name) == Some(wanted)).collect(),
            None => Vec::new(),
        };
        if !own.is_empty() {
            return format!("one of {}", own.join(", "));
        }
        let mut families: Vec<&str> = seen().filter_map(family).collect();
        families.dedup();
        let example = seen().next().unwrap_or_default();
        format!(
            "a fact of {}, by its full name such as `{example}`",
            families.join(", ")
        )
    }

    /// The fact of another family that goes by the same name, else the nearest.
    fn fact_meant(&self, name: &str) -> Option<&'static str> {
        let seen = || self.subject.facts().map(Fact::name);
        let own = name.split_once('.').map(|(_, own)| own);
        let mut same = seen().filter(|fact| own.is_some() && fact.split_once('.').map(|(_, own)| own) == own);
        same.next().or_else(|| nearest(name, seen()))
    }

    fn tests(
        &self,
        fact: Fact,
        yaml: &Yaml,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Condition> {
        let Yaml::Mapping(map) = yaml else {
            if let Some(any) = any_of(yaml) {
                problems.push(one_value(at).expecting(format!("`{{{any}}}`, where any of them will do")));
                return None;
            }
            let check = self.equal(fact, yaml, at, problems)?;
            return Some(Condition::Test(FactTest { fact, check }));
        };
        let mut parts = Vec::with_capacity(map.len());
        let mut sound = !map.is_empty();
        if map.is_empty() {
            problems.push(at.problem(format!("nothing is asked of `{}`", fact.name())));
        }
        for (key, value) in entries(map) {
            let below = at.get(key);
            let check = match key {
                "present" => match value {
                    Yaml::Bool(wanted) => Some(Check::Present(*wanted)),
                    _ => {
                        problems.push(
                            below
                                .problem("`present` asks yes or no")
                                .expecting("`true` or `false`"),
                        );
                        None
                    }
                },
                "is" => match any_of(value) {
                    Some(any) => {
                        problems.push(one_value(below).expecting(format!("`{any}` in place of `is`")));
                        None
                    }
                    None => self.equal(fact, value, below, problems),
                },
                "is_not" => self.among(fact, std::slice::from_ref(value), below, false, problems),
                "one_of" | "none_of" => match value {
                    Yaml::Sequence(items) => self.among(fact, items, below, key == "one_of", problems),
                    _ => {
                        problems.push(
                            below
                                .problem("a list belongs here")
                                .expecting("`[first, second]`"),
                        );
                        None
                    }
                },
                "at_least" => self.compare(fact, Comparison::AtLeast, value, below, problems),
                "at_most" => self.compare(fact, Comparison::AtMost, value, below, problems),
                "more_than" => self.compare(fact, Comparison::MoreThan, value, below, problems),
                "less_than" => self.compare(fact, Comparison::LessThan, value, below, problems),
                _ => {
                    let known = [
                        "is",
                        "is_not",
                        "one_of",
                        "none_of",
                        "at_least",
                        "at_most",
                        "more_than",
                        "less_than",
                        "present",
                    ];
                    problems.push(
                        at.key(key)
                            .problem(format!("`{key}` cannot be asked of a fact"))
                            .expecting(format!("one of {}", known.join(", ")))
                            .suggesting(meant(key).or_else(|| nearest(key, known))),
                    );
                    None
                }
            };
            match check {
                Some(check) => parts.push(Condition::Test(FactTest { fact, check })),
                None => sound = false,
            }
        }
        if !sound {
            return None;
        }
        let bound = |wanted: Comparison| {
            parts.iter().find_map(|part| match part {
                Condition::Test(FactTest {
                    check: Check::Compare(comparison, Operand::Literal(value)),
                    ..
                }) if *comparison == wanted => Some(*value),
                _ => None,
            })
        };
        if let (Some(least), Some(most)) = (bound(Comparison::AtLeast), bound(Comparison::AtMost))
            && least.compare(most) == Some(Ordering::Greater)
        {
            problems.push(contradictory(map, at));
            return None;
        }
        if parts.len() == 1 {
            return parts.pop();
        }
        Some(Condition::All(parts))
    }

    fn equal(&self, fact: Fact, yaml: &Yaml, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<Check> {
        if matches!(yaml, Yaml::Mapping(_)) {
            return self.compare(fact, Comparison::Is, yaml, at, problems);
        }
        let value = literal(yaml, at, fact.dimension(), None, self.ladder, problems)?;
        Some(if fact.dimension().is_ordered() {
            Check::Compare(Comparison::Is, Operand::Literal(value))
        } else {
            Check::Among {
                values: vec![value],
                wanted: true,
            }
        })
    }

    fn among(
        &self,
        fact: Fact,
        items: &[Yaml],
        at: Cursor<'_>,
        wanted: bool,
        problems: &mut Diagnostics,
    ) -> Option<Check> {
        let values: Vec<_> = items
            .iter()
            .enumerate()
            .map(|(index, item)| {
                literal(
                    item,
                    at.item(index),
                    fact.dimension(),
                    None,
                    self.ladder,
                    problems,
                )
            })
            .collect();
        let values = values.into_iter().collect::<Option<_>>()?;
        Some(Check::Among { values, wanted })
    }

    fn compare(
        &self,
        fact: Fact,
        comparison: Comparison,
        yaml: &Yaml,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Check> {
        if !fact.dimension().is_ordered() && comparison != Comparison::Is {
            problems.push(
                at.problem(format!(
                    "`{}` is a {}, which has no more and no less",
                    fact.name(),
                    fact.dimension().name()
                ))
                .expecting("`is`, `is_not`, `one_of` or `none_of`"),
            );
            return None;
        }
        let operand = self.operand(yaml, at, fact.dimension(), problems)?;
        Some(Check::Compare(comparison, operand))
    }
}

/// What may be asked of a fact and is written by another word elsewhere.
fn meant(written: &str) -> Option<&'static str> {
    Some(match written {
        "min" | "minimum" | "least" | "not_less_than" => "at_least",
        "max" | "maximum" | "most" | "not_more_than" => "at_most",
        "over" | "above" | "greater_than" => "more_than",
        "under" | "below" => "less_than",
        "equals" | "equal_to" => "is",
        "not" | "not_equal_to" => "is_not",
        "in" | "any_of" => "one_of",
        "not_in" => "none_of",
        "exists" => "present",
        _ => return None,
    })
}

fn one_value(at: Cursor<'_>) -> Diagnostic {
    at.problem("a single value belongs here")
}

/// What asks for any of the values of a list; none of what is no list, or of one with no values or too many to be shown.
fn any_of(yaml: &Yaml) -> Option<String> {
    const MOST_SHOWN: usize = 8;
    let items = yaml.as_sequence()?;
    let values = match items.as_slice() {
        [] => return None,
        items
            if items.len() > MOST_SHOWN
                || items.iter().any(|item| item.is_mapping() || item.is_sequence()) =>
        {
            "...".to_owned()
        }
        items => items.iter().map(flow).collect::<Vec<_>>().join(", "),
    };
    Some(format!("one_of: [{values}]"))
}

/// That what a fact is held to leaves it no value: where the last amendment put one of the two bounds, or where both
/// stand.
fn contradictory(map: &Mapping, at: Cursor<'_>) -> Diagnostic {
    const LEAST: &str = "at_least";
    const MOST: &str = "at_most";
    let written = |key: &str| map.get(key).map(flow).unwrap_or_default();
    let (least, most) = (at.get(LEAST), at.get(MOST));
    let problem = |at: Cursor<'_>| {
        at.problem(format!(
            "nothing is at least {} and at most {}",
            written(LEAST),
            written(MOST)
        ))
    };
    let ((key, order, own), (other, stands)) = match least.text_number().cmp(&most.text_number()) {
        Ordering::Equal => return problem(at).expecting("`at_least` no more than `at_most`"),
        Ordering::Greater => ((LEAST, "no more than", least), (MOST, most)),
        Ordering::Less => ((MOST, "no less than", most), (LEAST, least)),
    };
    problem(own)
        .expecting(format!("`{key}` {order} {}", written(other)))
        .helped(format!("`{other}` stands at {}", stands.place()))
}

/// Whether a mapping has no keys but those that go with the first of `known`; any other is a problem.
pub(crate) fn only(known: &[&str], map: &Mapping, at: Cursor<'_>, problems: &mut Diagnostics) -> bool {
    let mut sound = true;
    for (key, _) in entries(map).filter(|(key, _)| !known.contains(key)) {
        let form = known.first().copied().unwrap_or_default();
        problems.push(
            at.key(key)
                .problem(format!("`{key}` does not go with `{form}`"))
                .expecting(known.join(", "))
                .suggesting(nearest(key, known.iter().copied())),
        );
        sound = false;
    }
    sound
}

pub(crate) fn entries(map: &Mapping) -> impl Iterator<Item = (&str, &Yaml)> {
    map.iter()
        .filter_map(|(key, value)| key.as_str().map(|key| (key, value)))
}
