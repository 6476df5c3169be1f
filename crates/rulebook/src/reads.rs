//! What conditions, operands and rule sets read and name, for whoever proposes or explains.

use std::collections::BTreeSet;

use crownweir_quantity::Slope;

use crate::facts::Fact;
use crate::model::{Check, Condition, FactTest, Operand, RuleSet};
use crate::table::Content;
use crate::value::{Size, Value};
use crate::walk;

impl Condition {
    /// The facts that it reads, each once: those that limits hang on first.
    #[must_use]
    pub fn facts(&self) -> Vec<Fact> {
        walk::facts(self)
    }

    /// Its comparisons, in the order of the file.
    #[must_use]
    pub fn tests(&self) -> Vec<&FactTest> {
        let mut tests = Vec::new();
        walk::tests(self, &mut |test| tests.push(test));
        tests
    }
}

impl Operand {
    /// The operands that it is reckoned from, in order. Among those of a smallest size, what stands for the size sought is
    /// any literal size; what the cell must hold comes last.
    #[must_use]
    pub fn parts(&self) -> Vec<&Self> {
        match self {
            Self::Literal(_) | Self::Fact(_) => Vec::new(),
            Self::Lookup(lookup) => lookup.keys.iter().collect(),
            Self::SmallestSize { lookup, holds, .. } => lookup.keys.iter().chain([&**holds]).collect(),
            Self::Times { of, .. } | Self::FlowAsLoad { flow: of, .. } => vec![of],
            Self::Diameter(of) | Self::SizeFor(of) | Self::SizesUp(_, of) => vec![of],
            Self::Sum(parts) | Self::LargerOf(parts) | Self::SmallerOf(parts) => parts.iter().collect(),
        }
    }

    /// The facts that it reads, each once.
    #[must_use]
    pub fn facts(&self) -> Vec<Fact> {
        let mut found = Vec::new();
        walk::operands(self, &mut |operand| {
            if let Operand::Fact(fact) = operand
                && !found.contains(fact)
            {
                found.push(*fact);
            }
        });
        found
    }
}

impl RuleSet {
    /// The sizes that a pipe may be given, the smallest first: those by which some table is looked up. Others on the ladder are
    /// openings of fittings and cleanouts. Where no table is looked up by a size, all are.
    #[must_use]
    pub fn pipe_sizes(&self) -> Vec<Size> {
        let keys = self.tables.iter().flat_map(|table| &table.rows);
        let keys = keys.flat_map(|row| row.keys.iter().flatten());
        let sizes: BTreeSet<Size> = keys
            .filter_map(|key| match key {
                Value::Size(size) => self.ladder.rung(*size).map(|_| *size),
                _ => None,
            })
            .collect();
        if sizes.is_empty() {
            self.ladder.sizes().collect()
        } else {
            sizes.into_iter().collect()
        }
    }

    /// Every slope that its tables and conditions name, the least first: between two of them no look-up and no
    /// comparison with a named value changes.
    #[must_use]
    pub fn named_slopes(&self) -> Vec<Slope> {
        let mut found = Vec::new();
        let mut note = |value: &Value| {
            if let Value::Slope(slope) = value {
                found.push(*slope);
            }
        };
        for row in self.tables.iter().flat_map(|table| &table.rows) {
            row.keys.iter().flatten().for_each(&mut note);
            for cell in &row.cells {
                if let Content::Value(value) = &cell.content {
                    note(value);
                }
            }
        }
        let of_rules = self
            .rules
            .iter()
            .flat_map(|rule| std::iter::once(&rule.when).chain(&rule.require));
        let of_arrangements = self.arrangements.iter().flat_map(|one| &one.conditions);
        for condition in of_rules.chain(of_arrangements.map(|one| &one.require)) {
            walk::operands_of(condition, &mut |operand| {
                if let Operand::Literal(value) = operand {
                    note(value);
                }
            });
            walk::tests(condition, &mut |test| {
                if let Check::Among { values, .. } = &test.check {
                    values.iter().for_each(&mut note);
                }
            });
        }
        found.sort_unstable();
        found.dedup();
        found
    }
}
