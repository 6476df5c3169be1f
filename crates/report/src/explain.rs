//! A rule in words: what it asks, the tables it reads, where each comes from.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use crownweir_quantity::Notation;
use crownweir_rulebook::{
    Basis, Check, Citation, Condition, Content, Lookup, Message, Operand, Part, Piece, Rule, RuleSet, Test,
    Value,
};

const BOLD: Style = Style::new().bold();
const MARK: Style = AnsiColor::Green.on_default().bold();

/// The rule with its tables. `applied` names, by table, the rows that were read on some network: they are
/// marked.
#[must_use]
pub fn explain(rules: &RuleSet, rule: &Rule, applied: &BTreeMap<String, BTreeSet<usize>>) -> String {
    let words = Words { rules };
    let mut out = String::new();
    let _ = writeln!(out, "{BOLD}{}{BOLD:#}: {}", rule.name, rule.title);
    let _ = writeln!(out, "speaks about: {}", rule.subject.name().replace('_', " "));
    cite(&mut out, "from", &rule.citation);
    changes(&mut out, rules, &Part::Rule(rule.name.clone()));
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
    for table in tables {
        words.table(&mut out, table, applied);
    }
    out
}

/// What the rule set asks of every trap, and the arrangements that it admits.
#[must_use]
pub fn explain_protection(rules: &RuleSet) -> String {
    let words = Words { rules };
    let asked = &rules.protection;
    let mut out = String::new();
    let _ = writeln!(out, "{BOLD}{}{BOLD:#}: {}", asked.rule, asked.title);
    cite(&mut out, "from", &asked.citation);
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
                "  - {} [{}]",
                words.condition(&condition.require, 2, ""),
                condition.citation
            );
        }
    }
    out
}

fn cite(out: &mut String, lead: &str, citation: &Citation) {
    let _ = write!(out, "{lead}: {citation}");
    if citation.basis != Basis::CommonPractice {
        let _ = write!(out, " ({})", citation.basis.name());
    }
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
        let _ = write!(out, "changed by {}: {}", change.amendment.name, change.what);
        let _ = match (&change.was, &change.now) {
            (Some(was), Some(now)) => write!(out, ", from {was} to {now}"),
            (None, Some(now)) => write!(out, ", {now}"),
            (Some(was), None) => write!(out, ", before {was}"),
            (None, None) => Ok(()),
        };
        let _ = writeln!(out, " ({}:{})", change.place.file, change.place.line);
    }
}

fn message(rule: &Rule, message: &Message) -> String {
    message
        .pieces
        .iter()
        .map(|piece| match piece {
            Piece::Text(text) => text.clone(),
            Piece::Fact(fact) => format!("<{}>", fact.name()),
            Piece::Shown(index) => format!("<{}>", rule.show.get(*index).map_or("", |(name, _)| name)),
            Piece::Measured => "<measured>".to_owned(),
            Piece::Limit => "<limit>".to_owned(),
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

struct Words<'a> {
    rules: &'a RuleSet,
}

impl Words<'_> {
    fn value(&self, value: Value) -> String {
        value.in_words(&self.rules.ladder, Notation::Inches)
    }

    fn condition(&self, condition: &Condition, depth: usize, empty: &str) -> String {
        let indent = "  ".repeat(depth);
        let list = |how: &str, parts: &[Condition]| {
            let parts = parts
                .iter()
                .map(|part| format!("\n{indent}- {}", self.condition(part, depth + 1, empty)));
            format!("{how}{}", parts.collect::<String>())
        };
        match condition {
            Condition::All(parts) if parts.is_empty() => empty.to_owned(),
            Condition::All(parts) => list("that all of these hold:", parts),
            Condition::Any(parts) => list("that one of these holds:", parts),
            Condition::Not(inner) => format!("not {}", self.condition(inner, depth, empty)),
            Condition::Test(test) => self.test(test),
        }
    }

    fn test(&self, test: &Test) -> String {
        let fact = test.fact.name();
        match &test.check {
            Check::Present(true) => format!("{fact} exists"),
            Check::Present(false) => format!("{fact} does not exist"),
            Check::Among { values, wanted } => {
                let values: Vec<_> = values.iter().map(|value| self.value(*value)).collect();
                let verb = if *wanted { "is" } else { "is not" };
                format!("{fact} {verb} {}", values.join(" or "))
            }
            Check::Compare(comparison, limit) => {
                let relation = comparison.name();
                format!("{fact} {relation} {}", self.operand(limit))
            }
        }
    }

    fn operand(&self, operand: &Operand) -> String {
        let list = |parts: &[Operand], with: &str| {
            let parts: Vec<_> = parts.iter().map(|part| self.operand(part)).collect();
            parts.join(with)
        };
        match operand {
            Operand::Literal(value) => self.value(*value),
            Operand::Fact(fact) => fact.name().to_owned(),
            Operand::Lookup(lookup) => {
                let (table, column) = self.names(lookup);
                let keys = lookup.keys.iter().map(|key| self.operand(key));
                format!(
                    "`{column}` of table {table} for {}",
                    keys.collect::<Vec<_>>().join(" and ")
                )
            }
            Operand::SmallestSize { lookup, holds, .. } => {
                let (table, column) = self.names(lookup);
                format!(
                    "the smallest size whose `{column}` in table {table} is at least {}",
                    self.operand(holds)
                )
            }
            Operand::Times {
                numerator,
                denominator,
                of,
            } => match denominator {
                1 => format!("{numerator} times {}", self.operand(of)),
                _ => format!("{numerator}/{denominator} of {}", self.operand(of)),
            },
            Operand::Sum(parts) => list(parts, " plus "),
            Operand::LargerOf(parts) => format!("the larger of {}", list(parts, " and ")),
            Operand::SmallerOf(parts) => format!("the smaller of {}", list(parts, " and ")),
            Operand::Diameter(size) => format!("the diameter of {}", self.operand(size)),
            Operand::SizeFor(diameter) => format!("the smallest size of at least {}", self.operand(diameter)),
            Operand::SizesUp(steps, size) => format!("{steps} up from {}", self.operand(size)),
            Operand::FlowAsLoad { flow, per, load } => {
                format!("{} at {load} for each {per}", self.operand(flow))
            }
        }
    }

    fn names(&self, lookup: &Lookup) -> (&str, &str) {
        let table = self.rules.table(lookup.table);
        let column = table.and_then(|table| table.columns.get(lookup.column));
        (
            table.map_or("", |table| table.name.as_str()),
            column.map_or("", |column| column.name.as_str()),
        )
    }

    fn table(&self, out: &mut String, index: usize, applied: &BTreeMap<String, BTreeSet<usize>>) {
        let Some(table) = self.rules.table(index) else {
            return;
        };
        let _ = writeln!(out, "\n{BOLD}table {}{BOLD:#}: {}", table.name, table.title);
        cite(out, "from", &table.citation);
        changes(out, self.rules, &Part::Table(table.name.clone()));
        let marked = applied.get(&table.name);
        let head: Vec<String> = table
            .keys
            .iter()
            .map(|key| key.name.clone())
            .chain(table.columns.iter().map(|column| column.name.clone()))
            .collect();
        let rows: Vec<(Vec<String>, Option<&Citation>)> = table
            .rows
            .iter()
            .map(|row| {
                let keys = row
                    .keys
                    .iter()
                    .map(|key| key.map_or_else(|| "any".to_owned(), |key| self.value(key)));
                let cells = row.cells.iter().map(|cell| match cell.content {
                    Content::Value(value) => self.value(value),
                    Content::Barred => "not permitted".to_owned(),
                    Content::Unlimited => "no limit".to_owned(),
                    Content::Unfilled => "to be filled from the adopted book".to_owned(),
                });
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
