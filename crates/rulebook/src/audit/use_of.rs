//! Tables, columns and facts that nothing in the rule set reads.

use std::collections::BTreeSet;

use crownweir_document::Place;

use super::{Audit, RemarkKind, readers};
use crate::facts::{Fact, Family, Subject};

use crate::model::{Operand, RuleSet};
use crate::walk;

fn every_operand<'a>(audit: &Audit<'a>, visit: &mut dyn FnMut(&'a Operand)) {
    readers::conditions(audit.rules).for_each(|condition| walk::operands_of(condition, visit));
    readers::operands(audit.rules).for_each(|operand| walk::operands(operand, visit));
}

pub(super) fn tables(audit: &mut Audit<'_>) {
    let mut read = BTreeSet::new();
    every_operand(audit, &mut |operand| {
        read.extend(walk::lookup(operand).map(|lookup| (lookup.table, lookup.column)));
    });
    let rules = audit.rules;
    for (index, table) in rules.tables.iter().enumerate() {
        let unread = table
            .columns
            .iter()
            .enumerate()
            .filter(|(column, _)| !read.contains(&(index, *column)))
            .map(|(_, column)| column.name.as_str());
        let unread: Vec<_> = unread.collect();
        if unread.len() == table.columns.len() {
            let message = format!("nothing reads the table `{}`", table.name);
            let to_do = "look it up in a rule, or drop it";
            audit.notice(RemarkKind::UnreadTable, &table.place, message, to_do);
            continue;
        }
        for column in unread {
            let message = format!("nothing reads `{column}` of the table `{}`", table.name);
            let to_do = "look it up in a rule, or drop it";
            audit.notice(RemarkKind::UnreadColumn, &table.place, message, to_do);
        }
    }
}

/// The head of the file that the rule set stands in.
pub(super) fn head(rules: &RuleSet) -> Place {
    let tables = rules.tables.iter().map(|table| &table.place);
    let mut places = rules.rules.iter().map(|rule| &rule.place).chain(tables);
    Place {
        file: places.next().map(|place| place.file.clone()).unwrap_or_default(),
        line: 1,
        column: 1,
        bytes: 0..0,
    }
}

pub(super) fn facts(audit: &mut Audit<'_>) {
    let mut used: BTreeSet<Fact> = readers::shown(audit.rules).collect();
    for condition in readers::conditions(audit.rules) {
        used.extend(walk::facts(condition));
    }
    every_operand(audit, &mut |operand| {
        if let Operand::Fact(fact) = operand {
            used.insert(*fact);
        }
    });
    // What the arrangements' shapes are told by is read with every arrangement.
    if !audit.rules.arrangements.is_empty() {
        used.insert(Fact::ProtectionPattern);
    }
    // It concerns no part of the file, so it stands at its head.
    let head = head(audit.rules);
    // A drainage code asks nothing of framing, and rules for framing ask nothing of drains.
    let subjects: BTreeSet<Subject> = audit.rules.rules.iter().map(|rule| rule.subject).collect();
    let sees = |fact: Fact| subjects.iter().any(|subject| subject.sees(fact.family()));
    let asks_of_traps = audit.rules.protection.is_some();
    let spoken_of = |fact: Fact| (asks_of_traps && fact.family() != Family::Passage) || sees(fact);
    let unused = Fact::ALL.iter().filter(|fact| !used.contains(fact));
    for fact in unused.filter(|fact| spoken_of(**fact)) {
        let fact = format!("`{}`", fact.name());
        let message = format!("no rule speaks of {fact}");
        let to_do = "if the code asks something of it, write the rule; else leave it";
        audit.notice(RemarkKind::UnusedFact, &head, message, to_do);
        audit.varying(&fact);
    }
}
