//! What two rule sets have in common, for whoever has measured a network by one of them and asks about the other.
//!
//! It compares what is written and judges nothing: what comes to the same in other words is not alike.

use std::collections::{BTreeMap, BTreeSet};

use crate::amend::Part;
use crate::model::{Condition, LoadModel, Operand, Rule, RuleSet};
use crate::walk;

/// Adds the tables that an operand looks into.
fn note(operand: &Operand, tables: &mut BTreeSet<usize>) {
    walk::operands(operand, &mut |operand| {
        tables.extend(walk::lookup(operand).map(|lookup| lookup.table));
    });
}

/// Adds the tables that a condition looks into.
fn note_all(condition: &Condition, tables: &mut BTreeSet<usize>) {
    walk::operands_of(condition, &mut |operand| {
        tables.extend(walk::lookup(operand).map(|lookup| lookup.table));
    });
}

impl RuleSet {
    /// The tables that something other than a rule looks into: loads, flows, framing and arrangements.
    #[must_use]
    pub fn measuring_tables(&self) -> BTreeSet<usize> {
        let mut tables = BTreeSet::new();
        for case in &self.loads.fixture {
            note_all(&case.when, &mut tables);
            note(&case.load, &mut tables);
        }
        let flow = match &self.loads.model {
            LoadModel::Sum { probable_flow } => probable_flow.as_ref(),
            LoadModel::RootSum { factor, .. } => Some(factor),
        };
        let hydraulics = self.hydraulics.iter().flat_map(|own| own.operands());
        let framing = self.framing.iter().flat_map(|own| own.operands());
        let operands = self
            .loads
            .group
            .iter()
            .chain(flow)
            .chain(hydraulics)
            .chain(framing);
        operands.for_each(|operand| note(operand, &mut tables));
        let conditions = self.arrangements.iter().flat_map(|one| &one.conditions);
        conditions.for_each(|one| note_all(&one.require, &mut tables));
        tables
    }

    /// Whether this and another rule set ask for the same of any network but by their rules: they have the same sizes,
    /// definitions, loads, flows, framing and arrangements, and the same in all tables that these look into. Then a fact
    /// has the same value by both.
    #[must_use]
    pub fn measures_alike(&self, other: &Self) -> bool {
        let to_arrangements = |rules: &Self| -> Vec<_> {
            let changes = rules.changes.iter();
            let changes = changes.filter(|change| matches!(change.part, Part::Arrangement(_)));
            changes.cloned().collect()
        };
        self.loads == other.loads
            && self.definitions == other.definitions
            && self.ladder == other.ladder
            && self.hydraulics == other.hydraulics
            && self.framing == other.framing
            && self.protection == other.protection
            && self.arrangements == other.arrangements
            && to_arrangements(self) == to_arrangements(other)
            && self.are_alike(other, &self.measuring_tables())
    }

    /// For each rule of this rule set, the place in another's list of the one that comes to the same on any network of
    /// which the same is [measured](Self::measures_alike), and tells it in the same words.
    #[must_use]
    pub fn rules_alike(&self, other: &Self) -> Vec<Option<usize>> {
        let others = (0..).zip(&other.rules);
        let mut places: BTreeMap<&str, usize> =
            others.map(|(place, rule)| (rule.name.as_str(), place)).collect();
        let alike = self.rules.iter().map(|rule| {
            let place = places.remove(rule.name.as_str())?;
            let is_alike = other.rules.get(place) == Some(rule)
                && self.are_alike(other, &rule.tables())
                && self.changes_alike(other, &Part::Rule(rule.name.clone()));
            is_alike.then_some(place)
        });
        alike.collect()
    }

    fn are_alike(&self, other: &Self, tables: &BTreeSet<usize>) -> bool {
        tables
            .iter()
            .all(|&table| self.tables.get(table) == other.tables.get(table))
    }

    fn changes_alike(&self, other: &Self, part: &Part) -> bool {
        self.changes_to(part).eq(other.changes_to(part))
    }
}

impl Rule {
    /// The tables that it looks into.
    #[must_use]
    pub fn tables(&self) -> BTreeSet<usize> {
        let mut tables = BTreeSet::new();
        let conditions = std::iter::once(&self.when).chain(&self.require);
        conditions.for_each(|condition| note_all(condition, &mut tables));
        self.show
            .iter()
            .for_each(|(_, operand)| note(operand, &mut tables));
        tables
    }
}
