//! Rows for words with which nothing looks their table up.

use super::words_without_row::can_be;
use super::{Audit, RemarkKind, readers};
use crate::cases::{Answer, Region};
use crate::facts::Fact;
use crate::model::{Lookup, Operand};
use crate::table::{Match, Row, Table};
use crate::value::Value;
use crate::walk;

/// The facts and words by which a look-up comes to a row.
fn words(table: &Table, lookup: &Lookup, row: &Row) -> Vec<(Fact, Value)> {
    let keys = table.keys.iter().zip(&lookup.keys).zip(&row.keys);
    keys.filter_map(|((key, operand), value)| match (key.matching, operand, value) {
        (Match::Exact, Operand::Fact(fact), Some(value @ (Value::Word(_) | Value::Truth(_)))) => {
            Some((*fact, *value))
        }
        _ => None,
    })
    .collect()
}

pub(super) fn rows_never_asked(audit: &mut Audit<'_>) {
    let rules = audit.rules;
    // By table and row: whether something comes to it; none of a table that nothing looks up.
    let mut asked: Vec<Option<Vec<bool>>> = vec![None; rules.tables.len()];
    for reader in readers::readers(rules) {
        let mut lookups = Vec::new();
        walk::operands_of(&reader.reads, &mut |operand| {
            lookups.extend(walk::lookup(operand))
        });
        let conditions: Vec<_> = reader.when.iter().map(|goal| goal.condition).collect();
        let domains = audit.cases.domains(&conditions);
        for lookup in lookups {
            let (Some(table), Some(asked)) = (rules.table(lookup.table), asked.get_mut(lookup.table)) else {
                continue;
            };
            let asked = asked.get_or_insert_with(|| vec![false; table.rows.len()]);
            for (row, asked) in table.rows.iter().zip(asked).filter(|(_, asked)| !**asked) {
                let words = words(table, lookup, row);
                let fixed: Vec<_> = words
                    .iter()
                    .map(|(fact, word)| (*fact, Region::Is(*word)))
                    .collect();
                *asked = words
                    .iter()
                    .all(|(fact, word)| can_be(reader.subject, *fact, *word))
                    && audit.cases.find(&domains, &reader.when, &fixed) != Answer::Never;
            }
        }
    }
    // What a message shows beside is not reasoned over.
    for (_, shown) in rules.rules.iter().flat_map(|rule| &rule.show) {
        walk::operands(shown, &mut |operand| {
            if let Some(asked) = walk::lookup(operand).and_then(|lookup| asked.get_mut(lookup.table)) {
                *asked = None;
            }
        });
    }
    for (table, asked) in rules.tables.iter().zip(asked) {
        let never = table.rows.iter().zip(asked.into_iter().flatten());
        for (row, _) in never.filter(|(_, asked)| !asked) {
            let keys: Vec<_> = row.keys.iter().map(|key| audit.words.key(*key)).collect();
            let message = format!(
                "nothing looks the table `{}` up for {}: what reads it leaves that to others",
                table.name,
                keys.join(", ")
            );
            let to_do = "say it where that is looked up, or widen what reads the table";
            audit.fault(RemarkKind::RowNeverFound, &row.place, message, to_do);
        }
    }
}
