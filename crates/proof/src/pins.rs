//! Which parts of a rule set its examples pin: each part is altered, and the examples that read it are run again.
//!
//! A part is *pinned* when every alteration of it makes some example fail, *half-pinned* when some do, *loose* when
//! an example reads it and none notices, and *bare* when no example reads it. Nothing is estimated: every state comes
//! of runs. An example that has not read a part cannot notice that it was altered, so it is not run again.
//!
//! Each example stands in a [`Session`](crownweir_evaluate::Session), which is asked what would be told by the altered rule
//! set: of a rule, or of a table that only rules look into, that is told of what has been measured.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crownweir_evaluate::{RulePart, Substitute};
use crownweir_rulebook::{Content, RuleSet};

use crate::changed::Changed;
use crate::example::Example;
use crate::expected::What;
use crate::nudge::{self, Expressions, Nudge};
use crate::prove::{Measuring, Outcome, Ready, Sessions, outcome};
use crate::tally::{Held, PinReport, State, Unpinned};
use crate::wire::Answer;

/// The work of finding out what a rule set's examples pin, in pieces that do not depend on one another.
#[derive(Debug)]
pub struct Pins<'a> {
    rules: &'a RuleSet,
    /// Cases with the best kind of answer first.
    cases: Vec<Ready<'a>>,
    parts: Vec<Work>,
}

/// A part of the rule set with what is to be tried on it.
#[derive(Debug)]
struct Work {
    what: Part,
    nudges: Vec<Nudge>,
    /// The cases that read it.
    readers: Vec<usize>,
}

#[derive(Debug, Clone)]
pub(crate) enum Part {
    Cell {
        table: usize,
        row: usize,
        column: usize,
    },
    Key {
        table: usize,
        /// The rows that it is a bound of.
        rows: Vec<usize>,
        name: String,
    },
    Rule {
        rule: usize,
    },
    Exception {
        rule: usize,
        exception: usize,
    },
    RuleFigure {
        rule: usize,
        name: String,
    },
    Other {
        group: Group,
        of: Other,
        name: String,
    },
}

/// What of a group a part is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Other {
    Arrangement(usize),
    /// A condition of an arrangement, or a figure in it.
    Condition(usize, usize),
    Definition(&'static str),
    Load,
}

/// Parts of a rule set that are neither tables nor rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Group {
    /// Arrangements, their conditions, and the figures in these.
    Arrangements,
    /// The cases of a fixture's load, and the load of a group.
    Loads,
    /// Definitions.
    Definitions,
}

impl Group {
    /// The group in a word.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Arrangements => "arrangements",
            Self::Loads => "loads",
            Self::Definitions => "definitions",
        }
    }
}

/// What a piece of the work came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tried {
    piece: usize,
    state: State,
}

impl<'a> Pins<'a> {
    /// Runs every case once and divides the work. What an example pins can be told only where all are met.
    ///
    /// # Errors
    /// The outcomes of the cases that are not met.
    pub fn new(rules: &'a RuleSet, examples: &'a [Example]) -> Result<Self, Vec<Outcome>> {
        let mut cases: Vec<_> = examples
            .iter()
            .flat_map(|example| example.cases.iter().map(move |case| (example, case)))
            .collect();
        cases.sort_by_key(|(_, case)| case.origin.answer);
        let mut ready = Vec::with_capacity(cases.len());
        let mut readers = Readers::default();
        let mut failed = Vec::new();
        for (number, (example, case)) in cases.into_iter().enumerate() {
            let one = Ready::new(rules, case);
            let mut reads = BTreeSet::new();
            let unmet = one.unmet(&mut Measuring::Tracing(rules, &mut reads));
            if !unmet.is_empty() {
                failed.push(outcome(example, case, unmet));
            }
            readers.note(number, rules, &reads, &one);
            ready.push(one);
        }
        if !failed.is_empty() {
            return Err(failed);
        }
        Ok(Self {
            rules,
            parts: parts(rules, &readers, ready.len()),
            cases: ready,
        })
    }

    /// Leaves of the work what amendments have put there or altered; `base` is the rule set without them.
    #[must_use]
    pub fn of_changes(mut self, base: &RuleSet) -> Self {
        let mut changed = Changed::of(self.rules, base);
        self.parts.retain(|part| changed.has(&part.what));
        self
    }

    /// How many pieces of work there are.
    #[must_use]
    pub fn pieces(&self) -> usize {
        self.parts.len()
    }

    /// What does pieces of the work, one after the other; each thread needs one of its own.
    #[must_use]
    pub fn worker(&self) -> Worker<'_> {
        let rules = Arc::new(self.rules.clone());
        let sessions = self.cases.iter().map(|ready| Sessions::new(&rules, ready));
        Worker {
            pins: self,
            copy: self.rules.clone(),
            sessions: sessions.collect(),
            rules,
        }
    }

    /// Puts the pieces together, in whatever order they were done. A piece that is missing counts as not read.
    #[must_use]
    pub fn report(&self, tried: &[Tried]) -> PinReport {
        let states: BTreeMap<usize, State> = tried.iter().map(|one| (one.piece, one.state)).collect();
        let rules = self.rules;
        let named = |name: &str| Held {
            name: name.to_owned(),
            ..Held::default()
        };
        let mut report = PinReport {
            rules: rules.name.clone(),
            cases: self.cases.len(),
            nudges: self.parts.iter().map(|part| part.nudges.len()).sum(),
            tables: rules.tables.iter().map(|table| named(&table.name)).collect(),
            each_rule: rules.rules.iter().map(|rule| named(&rule.name)).collect(),
            others: Vec::new(),
        };
        let mut others: BTreeMap<Group, Held> = BTreeMap::new();
        for (piece, part) in self.parts.iter().enumerate() {
            let state = states.get(&piece).copied().unwrap_or(State::Bare);
            let held = match &part.what {
                Part::Cell { table, .. } | Part::Key { table, .. } => report.tables.get_mut(*table),
                Part::Rule { rule } | Part::Exception { rule, .. } | Part::RuleFigure { rule, .. } => {
                    report.each_rule.get_mut(*rule)
                }
                Part::Other { group, .. } => {
                    Some(others.entry(*group).or_insert_with(|| named(group.name())))
                }
            };
            let Some(held) = held else { continue };
            match part.what {
                Part::Key { .. } | Part::RuleFigure { .. } => held.bounds.count(state),
                _ => held.parts.count(state),
            }
            if !matches!(state, State::Pinned(_)) {
                held.unpinned.push(Unpinned {
                    name: part.what.in_words(rules),
                    state,
                });
            }
        }
        report.others = others.into_values().collect();
        report
    }
}

/// Does pieces of the work on a copy of the rule set.
#[derive(Debug)]
pub struct Worker<'p> {
    pins: &'p Pins<'p>,
    /// Between pieces, as the rule set itself is.
    copy: RuleSet,
    /// The rule set itself, and the sessions of each case by it.
    rules: Arc<RuleSet>,
    sessions: Vec<Sessions>,
}

impl Worker<'_> {
    /// Does a piece of the work; none beyond the last.
    #[must_use]
    pub fn try_piece(&mut self, piece: usize) -> Option<Tried> {
        let part = self.pins.parts.get(piece)?;
        if part.readers.is_empty() {
            let state = State::Bare;
            return Some(Tried { piece, state });
        }
        let noticed: Vec<_> = part
            .nudges
            .iter()
            .map(|nudge| self.noticed(nudge, &part.readers))
            .collect();
        let worst = noticed.iter().flatten().max();
        let state = match worst {
            None => State::Loose,
            Some(worst) if noticed.iter().all(Option::is_some) => State::Pinned(*worst),
            Some(_) => State::HalfPinned,
        };
        Some(Tried { piece, state })
    }

    /// The best kind of answer among the cases that notice an alteration.
    fn noticed(&mut self, nudge: &Nudge, readers: &[usize]) -> Option<Answer> {
        nudge.make(&mut self.copy);
        let substitute = Substitute::new(&self.rules, &self.copy);
        let noticed = readers.iter().find_map(|&reader| {
            let ready = self.pins.cases.get(reader)?;
            let sessions = self.sessions.get_mut(reader)?;
            let fails = ready.fails(&mut Measuring::InSessions(&substitute, sessions));
            fails.then_some(ready.case.origin.answer)
        });
        nudge.take_back(&mut self.copy, self.pins.rules);
        noticed
    }
}

/// The cases that read each part.
#[derive(Default)]
struct Readers {
    of: BTreeMap<RulePart, Vec<usize>>,
    rules: BTreeMap<usize, Vec<usize>>,
}

impl Readers {
    fn note(&mut self, case: usize, rules: &RuleSet, reads: &BTreeSet<RulePart>, ready: &Ready<'_>) {
        for read in reads {
            self.of.entry(*read).or_default().push(case);
        }
        let expected = || ready.case.expected.iter();
        let all = expected().any(|one| matches!(one.what, What::Findings { .. }));
        for (number, rule) in rules.rules.iter().enumerate() {
            let asked = expected().any(|one| match &one.what {
                What::Rule { rule: asked, .. }
                | What::Limit { rule: asked, .. }
                | What::Size { rule: asked, .. } => *asked == rule.name,
                _ => false,
            });
            if all || asked {
                self.rules.entry(number).or_default().push(case);
            }
        }
    }

    fn of(&self, read: RulePart) -> Vec<usize> {
        self.of.get(&read).cloned().unwrap_or_default()
    }
}

fn parts(rules: &RuleSet, readers: &Readers, cases: usize) -> Vec<Work> {
    let mut parts = Vec::new();
    let copy = &mut rules.clone();
    for (table, own) in rules.tables.iter().enumerate() {
        for (row, cells) in own.rows().iter().enumerate() {
            for (column, cell) in cells.cells.iter().enumerate() {
                // What is still to be filled from the book holds no figure that could be altered.
                if cell.content == Content::Unfilled {
                    continue;
                }
                parts.push(Work {
                    what: Part::Cell { table, row, column },
                    nudges: nudge::of_cell(rules, table, row, column),
                    readers: readers.of(RulePart::Cell(table, row, column)),
                });
            }
        }
        for bound in nudge::key_bounds(own) {
            let key = own.keys().get(bound.key).map_or("", |key| key.name.as_str());
            let row = bound.rows.first().copied().unwrap_or(0);
            let value = bound.value.in_words(&rules.ladder, rules.ladder.notation());
            parts.push(Work {
                what: Part::Key {
                    table,
                    rows: bound.rows.clone(),
                    name: format!(
                        "the bound {value} of the key `{key}` ({})",
                        keys(rules, table, row)
                    ),
                },
                nudges: nudge::of_key(rules, table, &bound),
                readers: readers.of(RulePart::Table(table)),
            });
        }
    }
    for rule in 0..rules.rules.len() {
        let asked = readers.rules.get(&rule).cloned().unwrap_or_default();
        parts.push(Work {
            what: Part::Rule { rule },
            nudges: vec![Nudge::DropRule(rule)],
            readers: asked.clone(),
        });
        let exceptions = rules.rules.get(rule).map_or(0, |own| own.exceptions.len());
        parts.extend((0..exceptions).map(|exception| Work {
            what: Part::Exception { rule, exception },
            nudges: vec![Nudge::DropException(rule, exception)],
            readers: asked.clone(),
        }));
        let figures = nudge::of_slots(rules, copy, Expressions::Rule(rule)).into_iter();
        parts.extend(
            figures
                .filter(|(_, nudges)| !nudges.is_empty())
                .map(|(name, nudges)| Work {
                    what: Part::RuleFigure { rule, name },
                    nudges,
                    readers: asked.clone(),
                }),
        );
    }
    others(rules, copy, readers, cases, &mut parts);
    parts
}

fn others(rules: &RuleSet, copy: &mut RuleSet, readers: &Readers, cases: usize, parts: &mut Vec<Work>) {
    let mut add = |(group, of): (Group, Other), name: String, nudges: Vec<Nudge>, readers: &[usize]| {
        if !nudges.is_empty() {
            parts.push(Work {
                what: Part::Other { group, of, name },
                nudges,
                readers: readers.to_vec(),
            });
        }
    };
    for (number, arrangement) in rules.arrangements.iter().enumerate() {
        let asked = readers.of(RulePart::Arrangement(number));
        let name = &arrangement.name;
        let whole = (Group::Arrangements, Other::Arrangement(number));
        add(
            whole,
            format!("`{name}`"),
            vec![Nudge::DropArrangement(number)],
            &asked,
        );
        for one in 0..arrangement.conditions.len() {
            let what = format!("condition {} of `{name}`", one + 1);
            let own = (Group::Arrangements, Other::Condition(number, one));
            add(own, what.clone(), vec![Nudge::DropCondition(number, one)], &asked);
            for (slot, nudges) in nudge::of_slots(rules, copy, Expressions::Condition(number, one)) {
                add(own, format!("`{slot}` in {what}"), nudges, &asked);
            }
        }
    }
    let loads = (Group::Loads, Other::Load);
    for number in 0..rules.loads.fixture.len() {
        let asked = readers.of(RulePart::LoadCase(number));
        let what = format!("case {} of a fixture's load", number + 1);
        add(loads, what.clone(), vec![Nudge::DropLoadCase(number)], &asked);
        for (slot, nudges) in nudge::of_slots(rules, copy, Expressions::LoadCase(number)) {
            add(loads, format!("`{slot}` in {what}"), nudges, &asked);
        }
    }
    if rules.loads.group.is_some() {
        let asked = readers.of(RulePart::GroupLoad);
        let what = "the load of a bathroom group";
        add(loads, what.to_owned(), vec![Nudge::DropGroupLoad], &asked);
        for (slot, nudges) in nudge::of_slots(rules, copy, Expressions::GroupLoad) {
            add(loads, format!("`{slot}` in {what}"), nudges, &asked);
        }
    }
    // What a definition, the hydraulics or the framing touch is not traced: every case may notice.
    let all: Vec<usize> = (0..cases).collect();
    for (slot, nudges) in nudge::of_slots(rules, copy, Expressions::Flows) {
        let what = format!("`{slot}` in the probable flow, the hydraulics or the framing");
        add(loads, what, nudges, &all);
    }
    for (number, (name, changes)) in nudge::definitions(rules).into_iter().enumerate() {
        let nudges = (0..changes)
            .map(|change| Nudge::Definition(number, change))
            .collect();
        let own = (Group::Definitions, Other::Definition(name));
        add(own, format!("`{name}`"), nudges, &all);
    }
}

/// A row's keys in words.
fn keys(rules: &RuleSet, table: usize, row: usize) -> String {
    let row = rules.tables.get(table).and_then(|table| table.rows().get(row));
    let keys = row.into_iter().flat_map(|row| &row.keys).map(|key| match key {
        Some(value) => value.in_words(&rules.ladder, rules.ladder.notation()),
        None => "any".to_owned(),
    });
    keys.collect::<Vec<_>>().join(", ")
}

impl Part {
    fn in_words(&self, rules: &RuleSet) -> String {
        match self {
            Self::Cell { table, row, column } => {
                let own = rules.tables.get(*table);
                let cell = own
                    .and_then(|table| table.rows().get(*row))
                    .and_then(|row| row.cells.get(*column));
                let content = match cell.map(|cell| cell.content) {
                    Some(Content::Value(value)) => value.in_words(&rules.ladder, rules.ladder.notation()),
                    Some(Content::Barred) => "none".to_owned(),
                    Some(Content::Unlimited) => "unlimited".to_owned(),
                    Some(Content::Unfilled) | None => "unfilled".to_owned(),
                };
                let name = own.and_then(|table| table.columns().get(*column));
                let name = name.map_or("", |column| column.name.as_str());
                format!("{content}: `{name}` at {}", keys(rules, *table, *row))
            }
            Self::Key { name, .. } | Self::RuleFigure { name, .. } | Self::Other { name, .. } => name.clone(),
            Self::Rule { .. } => "the rule itself".to_owned(),
            Self::Exception { rule, exception } => {
                let rule = rules.rules.get(*rule);
                let exception = rule.and_then(|rule| rule.exceptions.get(*exception));
                format!("the exception `{}`", exception.map_or("", |own| &own.name))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use crownweir_rulebook::published;

    use super::*;

    /// Every alteration of a rule set alters it, and leaves nothing behind once it is taken back.
    #[test]
    fn nudges_are_taken_back_to_the_last_figure() {
        for name in published::names() {
            let text = published::text(name).unwrap_or_default();
            let rules = RuleSet::read(name, text.as_bytes(), &Default::default());
            let rules = rules.unwrap_or_else(|problems| panic!("{problems}"));
            let (before, mut copy) = (format!("{rules:?}"), rules.clone());
            let mut parts = parts(&rules, &Readers::default(), 0);
            // Cells and bounds are many and alike.
            let mut seen = 0;
            parts.retain(|part| match part.what {
                Part::Cell { .. } | Part::Key { .. } => {
                    seen += 1;
                    seen % 20 == 1
                }
                _ => true,
            });
            for part in parts {
                for nudge in &part.nudges {
                    nudge.make(&mut copy);
                    let what = part.what.in_words(&rules);
                    assert!(
                        format!("{copy:?}") != before,
                        "{name}: {what}, {nudge:?} alters nothing"
                    );
                    nudge.take_back(&mut copy, &rules);
                    assert!(format!("{copy:?}") == before, "{name}: {what}, {nudge:?} stays");
                }
            }
        }
    }
}
