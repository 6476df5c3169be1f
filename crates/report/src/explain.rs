//! A rule in words: what it asks, the tables it reads, where each comes from.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use crownweir_rulebook::{
    Check, Citation, Condition, Lookup, Message, Operand, Part, Piece, Rule, RuleSet, Words,
};

use crate::text::cited;

const BOLD: Style = Style::new().bold();
const MARK: Style = AnsiColor::Green.on_default().bold();

/// The rule with its tables, with the escape codes of a terminal. `applied` names, by table, the rows that were read on some network: they are
/// marked.
#[must_use]
pub fn explain(rules: &RuleSet, rule: &Rule, applied: &BTreeMap<String, BTreeSet<usize>>) -> String {
    let words = Words::of(rules);
    let mut out = String::new();
    let _ = writeln!(out, "{BOLD}{}{BOLD:#}: {}", rule.name, rule.title);
    let _ = writeln!(out, "speaks about: {}", rule.subject.name().replace('_', " "));
    cite(&mut out, "from", &rule.citation);
    changes(&mut out, rules, &Part::Rule(rule.name.clone()));
    for limit in &rule.limit_citations {
        let lead = format!("limit of {} {}", limit.fact.name(), limit.order.replace('_', " "));
        cite(&mut out, &lead, &limit.citation);
    }
    for note in &rule.notes {
        let _ = writeln!(out, "note: {note}");
    }
    if rule.require.is_some() {
        let _ = writeln!(out, "severity: {}", rule.severity.name());
    }
    let _ = writeln!(out, "\napplies {}", words.condition(&rule.when, 1, "always"));
    match &rule.require {
        Some(require) => {
            let _ = writeln!(out, "asks {}", words.condition(require, 1, "nothing"));
        }
        None => out.push_str("asks to be confirmed on site: no file can settle it\n"),
    }
    let _ = writeln!(out, "says: {}", message(rule, &rule.message));
    if let Some(advice) = &rule.advice {
        let _ = writeln!(out, "advises: {}", message(rule, advice));
    }
    let mut tables = BTreeSet::new();
    collect(&rule.when, &mut tables);
    if let Some(require) = &rule.require {
        collect(require, &mut tables);
    }
    for (_, shown) in &rule.show {
        collect_operand(shown, &mut tables);
    }
    let shown = Tables { rules, words };
    for table in tables {
        shown.table(&mut out, table, applied);
    }
    out
}

/// What the rule set asks of every trap, and the arrangements that it admits, with the escape codes of a terminal.
#[must_use]
pub fn explain_protection(rules: &RuleSet) -> String {
    let words = Words::of(rules);
    let mut out = String::new();
    if let Some(asked) = &rules.protection {
        let _ = writeln!(out, "{BOLD}{}{BOLD:#}: {}", asked.rule, asked.title);
        cite(&mut out, "from", &asked.citation);
    }
    for arrangement in &rules.arrangements {
        let _ = writeln!(
            out,
            "\n{BOLD}{}{BOLD:#}: {} (shape {})",
            arrangement.name,
            arrangement.title,
            arrangement.pattern.name().replace('_', " ")
        );
        cite(&mut out, "from", &arrangement.citation);
        changes(&mut out, rules, &Part::Arrangement(arrangement.name.clone()));
        if arrangement.needs_approval {
            out.push_str("only with the authority's permission\n");
        }
        for condition in &arrangement.conditions {
            let _ = writeln!(
                out,
                "  - {} [{}]{}",
                words.condition(&condition.require, 2, ""),
                condition.citation,
                if condition.defining {
                    "; where not, it is never the nearest"
                } else {
                    ""
                }
            );
        }
    }
    out
}

fn cite(out: &mut String, lead: &str, citation: &Citation) {
    let _ = write!(out, "{lead}: {}", cited(citation));
    if let Some(checked) = &citation.checked {
        let _ = write!(out, ", last checked {checked}");
    }
    out.push('\n');
    if let Some(note) = &citation.note {
        let _ = writeln!(out, "note: {note}");
    }
}

/// What amendments have changed in a part of the rule set.
fn changes(out: &mut String, rules: &RuleSet, part: &Part) {
    for change in rules.changes_to(part) {
        let _ = writeln!(out, "{change}");
    }
}

/// A message as the rule file has it.
fn message(rule: &Rule, message: &Message) -> String {
    message
        .pieces
        .iter()
        .map(|piece| match piece {
            Piece::Text(text) => text.clone(),
            Piece::Fact(fact) => format!("{{{}}}", fact.name()),
            Piece::Shown(index) => format!("{{{}}}", rule.show.get(*index).map_or("", |(name, _)| name)),
            Piece::Measured => "{measured}".to_owned(),
            Piece::Limit => "{limit}".to_owned(),
            Piece::LeastOrMost => "{least_or_most}".to_owned(),
        })
        .collect()
}

fn collect(condition: &Condition, tables: &mut BTreeSet<usize>) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts.iter().for_each(|part| collect(part, tables)),
        Condition::Not(inner) => collect(inner, tables),
        Condition::Test(test) => {
            if let Check::Compare(_, operand) = &test.check {
                collect_operand(operand, tables);
            }
        }
    }
}

fn collect_operand(operand: &Operand, tables: &mut BTreeSet<usize>) {
    let mut lookup = |lookup: &Lookup| {
        tables.insert(lookup.table);
    };
    match operand {
        Operand::Lookup(one) => lookup(one),
        Operand::SmallestSize {
            lookup: one, holds, ..
        } => {
            lookup(one);
            collect_operand(holds, tables);
        }
        Operand::Times { of, .. }
        | Operand::Diameter(of)
        | Operand::SizeFor(of)
        | Operand::SizesUp(_, of) => {
            collect_operand(of, tables);
        }
        Operand::Sum(parts) | Operand::LargerOf(parts) | Operand::SmallerOf(parts) => {
            parts.iter().for_each(|part| collect_operand(part, tables));
        }
        Operand::Literal(_) | Operand::Fact(_) | Operand::FlowAsLoad { .. } => {}
    }
}

struct Tables<'a> {
    rules: &'a RuleSet,
    words: Words<'a>,
}

impl Tables<'_> {
    fn table(&self, out: &mut String, index: usize, applied: &BTreeMap<String, BTreeSet<usize>>) {
        let Some(table) = self.rules.table(index) else {
            return;
        };
        let _ = writeln!(out, "\n{BOLD}table {}{BOLD:#}: {}", table.name, table.title);
        cite(out, "from", &table.citation);
        changes(out, self.rules, &Part::Table(table.name.clone()));
        let marked = applied.get(&table.name);
        let head: Vec<String> = table
            .keys()
            .iter()
            .map(|key| key.name.clone())
            .chain(table.columns().iter().map(|column| column.name.clone()))
            .collect();
        let rows: Vec<(Vec<String>, Option<&Citation>)> = table
            .rows()
            .iter()
            .map(|row| {
                let keys = row.keys.iter().map(|key| self.words.key(*key));
                let cells = row.cells.iter().map(|cell| self.words.content(cell.content));
                (
                    keys.chain(cells).collect(),
                    row.cells.iter().find_map(|cell| cell.citation.as_ref()),
                )
            })
            .collect();
        let width = |column: usize| {
            let cells = rows.iter().filter_map(|(row, _)| row.get(column));
            cells
                .chain(head.get(column))
                .map(|cell| cell.chars().count())
                .max()
                .unwrap_or(0)
        };
        let widths: Vec<usize> = (0..head.len()).map(width).collect();
        let line = |row: &[String]| {
            let cells = row
                .iter()
                .zip(&widths)
                .map(|(cell, width)| format!("{cell:<width$}"));
            cells.collect::<Vec<_>>().join("  ").trim_end().to_owned()
        };
        let _ = writeln!(out, "    {}", line(&head));
        for (index, (row, own)) in rows.iter().enumerate() {
            let mut text = line(row);
            if let Some(own) = own {
                let _ = write!(text, "   [{own}; {}]", own.basis.name());
            }
            if marked.is_some_and(|rows| rows.contains(&index)) {
                let _ = writeln!(out, "{MARK}  > {text}{MARK:#}");
            } else {
                let _ = writeln!(out, "    {text}");
            }
        }
    }
}
