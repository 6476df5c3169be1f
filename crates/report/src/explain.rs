//! A rule in words: what it asks, the tables it reads, where each comes from.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use crownweir_rulebook::{
    Arrangement, ArrangementCondition, Check, Citation, Condition, Lookup, Matter, Message, Operand, Part,
    Piece, Rule, RuleSet, Words,
};

use crate::text::{cited, wrapped};

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
    let _ = writeln!(out, "says: {}", message(&rule.show, &rule.message));
    if let Some(advice) = &rule.advice {
        let _ = writeln!(out, "advises: {}", message(&rule.show, advice));
    }
    let shown = Tables { rules, words };
    for table in tables_of(rule) {
        out.push('\n');
        shown.table(&mut out, table, applied);
    }
    out
}

/// A matter of the code that the rule set does not check, with the escape codes of a terminal.
#[must_use]
pub fn explain_matter(rules: &RuleSet, matter: &Matter) -> String {
    let mut out = format!("{BOLD}{}{BOLD:#}: {}\n", matter.name, matter.title);
    cite(&mut out, "from", &matter.citation);
    changes(&mut out, rules, &Part::Matter(matter.name.clone()));
    out.push_str("no rule of the rule set checks it\n");
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
    for own in &rules.arrangements {
        out.push('\n');
        arrangement(&mut out, rules, own);
        for condition in &own.conditions {
            asked(&mut out, &words, condition);
        }
    }
    out
}

/// An arrangement: the shape that it is seen by, what it asks and what is told where that does not hold, and the tables that it
/// reads, with the escape codes of a terminal.
#[must_use]
pub fn explain_arrangement(rules: &RuleSet, own: &Arrangement) -> String {
    let words = Words::of(rules);
    let mut out = String::new();
    arrangement(&mut out, rules, own);
    out.push_str(if own.conditions.is_empty() {
        "\nasks nothing more\n"
    } else {
        "\nasks all of these\n"
    });
    let mut tables = BTreeSet::new();
    for condition in &own.conditions {
        asked(&mut out, &words, condition);
        let _ = writeln!(out, "    says: {}", message(&[], &condition.message));
        if let Some(advice) = &condition.advice {
            let _ = writeln!(out, "    advises: {}", message(&[], advice));
        }
        collect(&condition.require, &mut tables);
    }
    let shown = Tables { rules, words };
    for table in tables {
        out.push('\n');
        shown.table(&mut out, table, &BTreeMap::new());
    }
    out
}

/// A table of the rule set by its name, and what reads it, with the escape codes of a terminal; none where there is none of
/// that name. `applied` as in [`explain`].
#[must_use]
pub fn explain_table(
    rules: &RuleSet,
    name: &str,
    applied: &BTreeMap<String, BTreeSet<usize>>,
) -> Option<String> {
    let table = rules.tables.iter().position(|own| own.name == name)?;
    let words = Words::of(rules);
    let mut out = String::new();
    Tables { rules, words }.table(&mut out, table, applied);
    let mut readers = Vec::new();
    for rule in &rules.rules {
        if tables_of(rule).contains(&table) {
            readers.push(format!("rule {}", rule.name));
        }
    }
    for own in &rules.arrangements {
        let mut tables = BTreeSet::new();
        own.conditions
            .iter()
            .for_each(|one| collect(&one.require, &mut tables));
        if tables.contains(&table) {
            readers.push(format!("arrangement {}", own.name));
        }
    }
    let is_measured_by = rules.measuring_tables().contains(&table);
    if is_measured_by && !readers.iter().any(|reader| reader.starts_with("arrangement ")) {
        readers.push("what is measured of loads, flows or framing".to_owned());
    }
    let readers = match readers.as_slice() {
        [] => "nothing".to_owned(),
        readers => readers.join(", "),
    };
    out.push('\n');
    wrapped(&mut out, "read by: ", "  ", &readers);
    Some(out)
}

/// An arrangement without what it asks.
fn arrangement(out: &mut String, rules: &RuleSet, own: &Arrangement) {
    let _ = writeln!(
        out,
        "{BOLD}{}{BOLD:#}: {} (shape {})",
        own.name,
        own.title,
        own.pattern.name().replace('_', " ")
    );
    cite(out, "from", &own.citation);
    changes(out, rules, &Part::Arrangement(own.name.clone()));
    if own.needs_approval {
        out.push_str("only with the authority's permission\n");
    }
}

/// What an arrangement asks by one of its conditions.
fn asked(out: &mut String, words: &Words<'_>, condition: &ArrangementCondition) {
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

/// The tables that a rule looks into, by their places.
fn tables_of(rule: &Rule) -> BTreeSet<usize> {
    let mut tables = BTreeSet::new();
    collect(&rule.when, &mut tables);
    if let Some(require) = &rule.require {
        collect(require, &mut tables);
    }
    for (_, shown) in &rule.show {
        collect_operand(shown, &mut tables);
    }
    tables
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

/// A message as the rule file has it; `shown` are the figures that a rule shows besides.
fn message(shown: &[(String, Operand)], message: &Message) -> String {
    message
        .pieces
        .iter()
        .map(|piece| match piece {
            Piece::Text(text) => text.clone(),
            Piece::Fact(fact) => format!("{{{}}}", fact.name()),
            Piece::Shown(index) => format!("{{{}}}", shown.get(*index).map_or("", |(name, _)| name)),
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
        let _ = writeln!(out, "{BOLD}table {}{BOLD:#}: {}", table.name, table.title);
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
