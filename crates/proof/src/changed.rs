//! Which parts of an amended rule set the amendments have put there or altered.
//!
//! It goes by places and figures; nothing is run.

use std::collections::{BTreeMap, BTreeSet};

use crownweir_document::Place;
use crownweir_rulebook::{AppliedChange, Part as Named, RuleSet};

use crate::nudge::{self, Expressions};
use crate::pins::{Other, Part};

/// What amendments have changed.
pub(crate) struct Changed<'a> {
    rules: &'a RuleSet,
    /// The files of the amendments that have changed something.
    files: BTreeSet<&'a str>,
    named: BTreeSet<&'a Named>,
    /// The figures of each rule as it is without the amendments, less those that have been found in it.
    figures: BTreeMap<usize, Vec<String>>,
}

impl<'a> Changed<'a> {
    pub(crate) fn of(rules: &'a RuleSet, base: &RuleSet) -> Self {
        let standing = || rules.changes.iter().filter(|change| change.void.is_none());
        let copy = &mut base.clone();
        let mut figures = BTreeMap::new();
        for (number, rule) in rules.rules.iter().enumerate() {
            let before = base.rules.iter().position(|own| own.name == rule.name);
            let slots = before.map(|before| nudge::of_slots(base, copy, Expressions::Rule(before)));
            let slots = slots.into_iter().flatten();
            figures.insert(number, slots.map(|(name, _)| name).collect());
        }
        Self {
            rules,
            files: standing()
                .map(|change: &AppliedChange| &*change.place.file)
                .collect(),
            named: standing().map(|change| &change.part).collect(),
            figures,
        }
    }

    fn is_written_by_one(&self, place: Option<&Place>) -> bool {
        place.is_some_and(|place| self.files.contains(&*place.file))
    }

    fn names(&self, part: fn(String) -> Named, name: Option<&String>) -> bool {
        name.is_some_and(|name| self.named.contains(&part(name.clone())))
    }

    /// Whether a part is one that amendments have put there or altered. Each is to be asked for once.
    pub(crate) fn has(&mut self, part: &Part) -> bool {
        let rules = self.rules;
        match part {
            Part::Cell { table, row, column } => {
                let row = rules.tables.get(*table).and_then(|table| table.rows().get(*row));
                let cell = row.and_then(|row| row.cells.get(*column));
                self.is_written_by_one(cell.map(|cell| &cell.place))
            }
            Part::Key { table, rows, .. } => {
                let own = rules
                    .tables
                    .get(*table)
                    .map(|table| table.rows())
                    .unwrap_or_default();
                let mut rows = rows.iter().filter_map(|row| own.get(*row));
                rows.any(|row| self.is_written_by_one(Some(&row.place)))
            }
            Part::Rule { rule } => {
                let rule = rules.rules.get(*rule);
                self.names(Named::Rule, rule.map(|rule| &rule.name))
            }
            Part::Exception { rule, exception } => {
                let own = rules.rules.get(*rule);
                let own = own.and_then(|own| own.exceptions.get(*exception));
                self.is_written_by_one(own.map(|own| &own.place))
            }
            Part::RuleFigure { rule, name } => {
                let own = rules.rules.get(*rule);
                if self.is_written_by_one(own.map(|own| &own.place)) {
                    return true;
                }
                let before = self.figures.entry(*rule).or_default();
                match before.iter().position(|figure| figure == name) {
                    Some(known) => {
                        before.remove(known);
                        false
                    }
                    None => true,
                }
            }
            Part::Other { of, .. } => match of {
                Other::Arrangement(number) => {
                    let own = rules.arrangements.get(*number);
                    self.names(Named::Arrangement, own.map(|own| &own.name))
                }
                Other::Condition(number, one) => {
                    let own = rules.arrangements.get(*number);
                    let own = own.and_then(|own| own.conditions.get(*one));
                    self.is_written_by_one(own.map(|own| &own.place))
                }
                Other::Definition(name) => self.named.contains(&Named::Definition((*name).to_owned())),
                Other::Load => false,
            },
        }
    }
}
