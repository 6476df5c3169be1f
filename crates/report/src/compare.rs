//! One network under several rule sets: what each finds, and which figures differ.
//!
//! It judges nothing: every verdict is that of the check under one rule set.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use crownweir_document::Unwritable;
use crownweir_evaluate::{Finding, Measured, Outcome, Report, Step, Verdict};
use crownweir_rulebook::{Check, Fact, Operand, Rule, RuleSet, Severity, Subject};
use serde::Serialize;

use crate::json::written;
use crate::text::{plural, wrapped};

const BOLD: Style = Style::new().bold();
const RED: Style = AnsiColor::Red.on_default().bold();
const GREEN: Style = AnsiColor::Green.on_default().bold();
const DIM: Style = Style::new().dimmed();

/// How many figures of a kind are listed; the rest is counted.
const MOST_FIGURES: usize = 40;

/// A network checked by one rule set of several: what of it is laid beside the others.
#[derive(Debug)]
pub struct Compared {
    network: String,
    file: String,
    column: Column,
    findings: Vec<Finding>,
    /// The load of each drain where loads are counted, with its name, in the order of their numbers, which are the same by every rule set.
    loads: Vec<(String, Option<String>)>,
    /// What rules read, by what it is, the element and its kind.
    read: BTreeMap<(String, String, String), String>,
}

/// What checks of one network by several rule sets come to, side by side.
#[derive(Debug, Serialize)]
pub struct Comparison {
    crownweir: &'static str,
    network: String,
    file: String,
    rules: Vec<Column>,
    elements: Vec<Row>,
    figures: Vec<FigureRow>,
    figures_omitted: usize,
    cautions: &'static [&'static str],
}

/// A rule set's totals.
#[derive(Debug, Serialize)]
struct Column {
    rules: String,
    document: String,
    edition: String,
    revision: u32,
    amendments: Vec<String>,
    violations: usize,
    needs_approval: usize,
    advice: usize,
    undetermined: usize,
    /// None where the rule set counts no loads, none within where it is not known, nor between which ends it lies.
    #[serde(skip_serializing_if = "Option::is_none")]
    load: Option<Option<String>>,
}

/// An element that some rule set finds something about, and what each finds.
#[derive(Debug, Serialize)]
struct Row {
    kind: String,
    name: String,
    storey: Option<String>,
    line: u32,
    /// By rule set, in their order.
    found: Vec<Vec<Found>>,
}

#[derive(Debug, Serialize)]
struct Found {
    rule: String,
    verdict: &'static str,
    message: String,
    citation: String,
    /// What amendments have changed in the rule.
    changes: Vec<String>,
    #[serde(skip)]
    cited: String,
}

impl Found {
    /// Whether the other says the same; each code cites it by a section of its own.
    fn is_like(&self, other: &Self) -> bool {
        (&self.rule, self.verdict, &self.message) == (&other.rule, other.verdict, &other.message)
    }
}

/// A figure that is not the same under all rule sets.
#[derive(Debug, Serialize)]
struct FigureRow {
    what: String,
    /// By rule set, in their order; none where the rule set has no such figure there.
    values: Vec<Option<String>>,
    /// The elements it is the same for.
    elements: Vec<String>,
}

impl Compared {
    /// Checks what was measured; `rules` is what the rule set was asked for by.
    #[must_use]
    pub fn of(rules: String, measured: &Measured<'_>) -> Self {
        let report = measured.check();
        let drains = measured.elements(Subject::Drain).into_iter();
        let loads = drains.map(|drain| {
            let load = measured.rules().counts_loads();
            let load = load.then(|| measured.fact_in_words(Subject::Drain, drain, Fact::DrainLoad));
            (measured.name_of(Subject::Drain, drain), load.flatten())
        });
        Self {
            network: report.network.clone(),
            file: report.file.clone(),
            column: column(rules, &report),
            loads: loads.collect(),
            read: read(measured),
            findings: report.findings,
        }
    }
}

/// Puts the checks of one network side by side.
#[must_use]
pub fn compare(list: Vec<Compared>) -> Comparison {
    let first = list.first();
    let (network, file) = first.map_or_else(Default::default, |one| (one.network.clone(), one.file.clone()));
    let elements = elements(&list);
    let mut figures = figures(&list);
    let figures_omitted = figures.len().saturating_sub(MOST_FIGURES);
    figures.truncate(MOST_FIGURES);
    Comparison {
        crownweir: "comparison/1",
        network,
        file,
        rules: list.into_iter().map(|one| one.column).collect(),
        elements,
        figures,
        figures_omitted,
        cautions: crate::CAUTIONS,
    }
}

fn column(rules: String, report: &Report) -> Column {
    let count = |severity| report.count(Verdict::Violated, severity);
    let layers = report.layers.iter();
    Column {
        rules,
        document: report.document.clone(),
        edition: report.edition.clone(),
        revision: report.revision,
        amendments: layers
            .map(|layer| format!("{} ({})", layer.amendment.name, layer.standing))
            .collect(),
        violations: count(Severity::Violation),
        needs_approval: count(Severity::NeedsApproval),
        advice: count(Severity::Advice),
        undetermined: report.summary.iter().map(|row| row.undetermined).sum(),
        load: report.counts_loads.then(|| report.load.clone()),
    }
}

fn found(finding: &Finding) -> Found {
    Found {
        rule: finding.rule.clone(),
        verdict: match (finding.verdict, finding.severity) {
            (Verdict::Undetermined, _) => "undetermined",
            (_, Severity::NeedsApproval) => "needs approval",
            (_, Severity::Advice) => "advice",
            _ => "violated",
        },
        message: finding.message.clone(),
        citation: finding.citation.to_string(),
        changes: finding.changes.clone(),
        cited: finding.cited(),
    }
}

fn elements(list: &[Compared]) -> Vec<Row> {
    let mut rows: BTreeMap<(u32, u32, String, String), Row> = BTreeMap::new();
    for (number, one) in list.iter().enumerate() {
        for finding in &one.findings {
            let (line, column) = (finding.position.line, finding.position.column);
            let key = (line, column, finding.name.clone(), finding.kind.clone());
            let row = rows.entry(key).or_insert_with(|| Row {
                kind: finding.kind.clone(),
                name: finding.name.clone(),
                storey: finding.storey.clone(),
                line,
                found: list.iter().map(|_| Vec::new()).collect(),
            });
            if let Some(own) = row.found.get_mut(number) {
                own.push(found(finding));
            }
        }
    }
    rows.into_values().collect()
}

/// The loads of drains, and the table cells that rules of the same name read, where they differ.
fn figures(list: &[Compared]) -> Vec<FigureRow> {
    let mut grouped: BTreeMap<(String, Vec<Option<String>>), BTreeSet<String>> = BTreeMap::new();
    let mut add = |what: String, values: Vec<Option<String>>, element: String| {
        // A rule that only some of them have is told by its findings.
        let known: BTreeSet<&String> = values.iter().flatten().collect();
        let differs = known.len() > 1;
        if differs {
            grouped.entry((what, values)).or_default().insert(element);
        }
    };
    let Some(first) = list.first() else {
        return Vec::new();
    };
    for (place, (name, _)) in first.loads.iter().enumerate() {
        let load = |one: &Compared| one.loads.get(place).and_then(|(_, load)| load.clone());
        add(
            "load of drains".to_owned(),
            list.iter().map(load).collect(),
            name.clone(),
        );
    }
    let mut read: BTreeMap<&(String, String, String), Vec<Option<String>>> = BTreeMap::new();
    for (number, one) in list.iter().enumerate() {
        for (what, content) in &one.read {
            let row = read
                .entry(what)
                .or_insert_with(|| list.iter().map(|_| None).collect());
            if let Some(slot) = row.get_mut(number) {
                *slot = Some(content.clone());
            }
        }
    }
    for ((what, name, _), values) in read {
        add(what.clone(), values, name.clone());
    }
    let rows = grouped.into_iter().map(|((what, values), elements)| FigureRow {
        what,
        values,
        elements: elements.into_iter().collect(),
    });
    rows.collect()
}

/// What the rules read: table cells and limits, by what it is, the element and its kind.
fn read(measured: &Measured<'_>) -> BTreeMap<(String, String, String), String> {
    let mut read = BTreeMap::new();
    for rule in &measured.rules().rules {
        // Stacks and intervals are not the same under every definition, and have no number in common.
        if matches!(rule.subject, Subject::BranchInterval) {
            continue;
        }
        for element in measured.elements(rule.subject) {
            if measured.applies(rule, element) == Outcome::Violated {
                continue;
            }
            let name = measured.name_of(rule.subject, element);
            let told = limits(measured, rule, element);
            let mut figures = Vec::new();
            cells(
                measured,
                &measured.workings(rule, element),
                &told.cells,
                &mut figures,
            );
            figures.extend(told.figures);
            for (cell, content) in figures {
                let what = format!("{cell}, for rule {}", rule.name);
                read.insert((what, name.clone(), rule.subject.name().to_owned()), content);
            }
        }
    }
    read
}

/// What a rule holds facts to on an element.
struct Limits {
    /// The limits, each with what it is a limit of.
    figures: Vec<(String, String)>,
    /// The tables and columns that they are looked up in as they are.
    cells: BTreeSet<(String, String)>,
}

fn limits(measured: &Measured<'_>, rule: &Rule, element: u32) -> Limits {
    let mut cells = BTreeSet::new();
    for (test, _) in measured.limits(rule, element) {
        if let Check::Compare(_, operand) = &test.check {
            looked_up(measured.rules(), operand, &mut cells);
        }
    }
    Limits {
        figures: measured.limits_in_words(rule, element),
        cells,
    }
}

/// The columns whose cell is the operand's value, or the bound of it: the limit tells what comes of it.
fn looked_up(rules: &RuleSet, operand: &Operand, cells: &mut BTreeSet<(String, String)>) {
    match operand {
        Operand::Lookup(lookup) => {
            let table = rules.table(lookup.table);
            cells.extend(table.and_then(|table| {
                let column = table.columns().get(lookup.column)?;
                Some((table.name.clone(), column.name.clone()))
            }));
        }
        Operand::LargerOf(parts) | Operand::SmallerOf(parts) => {
            parts.iter().for_each(|part| looked_up(rules, part, cells));
        }
        _ => {}
    }
}

/// The table cells read in workings, less those that are told as limits: which column of which table, and what it says, to
/// the last digit.
fn cells(
    measured: &Measured<'_>,
    steps: &[Step],
    told: &BTreeSet<(String, String)>,
    found: &mut Vec<(String, String)>,
) {
    for step in steps {
        match step {
            Step::Cell {
                table,
                row,
                column,
                content,
                ..
            } if !told.contains(&(table.clone(), column.clone())) => {
                let said = measured.cell_in_words(table, *row, column);
                let said = said.unwrap_or_else(|| content.text.clone());
                found.push((format!("{column} of table {table}"), said));
            }
            Step::Parts { steps, .. } => cells(measured, steps, told, found),
            _ => {}
        }
    }
}

impl Comparison {
    /// Whether all rule sets find the same.
    #[must_use]
    pub fn is_alike(&self) -> bool {
        let same = |row: &Row| {
            let rules = |list: &Vec<Found>| {
                list.iter()
                    .map(|one| (one.rule.clone(), one.verdict))
                    .collect::<Vec<_>>()
            };
            row.found
                .windows(2)
                .all(|pair| pair.first().map(rules) == pair.last().map(rules))
        };
        self.figures.is_empty() && self.elements.iter().all(same)
    }

    /// The comparison as indented JSON.
    ///
    /// # Errors
    /// None is known: every part has a JSON form. The error type is the serialiser's.
    pub fn json(&self) -> Result<String, Unwritable> {
        written(self)
    }

    /// The comparison with the escape codes of a terminal, for one of eighty columns.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = String::new();
        let _ = writeln!(out, "{BOLD}{}{BOLD:#}\n", self.network);
        for (letter, rules) in letters().zip(&self.rules) {
            let named = if rules.rules.starts_with(&rules.document) {
                String::new()
            } else {
                format!(" ({})", rules.rules)
            };
            let what = format!(
                "{} {}, revision {}{named}",
                rules.document, rules.edition, rules.revision
            );
            wrapped(&mut out, &format!("  {letter}  "), "     ", &what);
            for amendment in &rules.amendments {
                wrapped(&mut out, "     amended by ", "     ", amendment);
            }
        }
        self.totals(&mut out);
        self.findings(&mut out);
        self.differences(&mut out);
        let _ = writeln!(out, "{BOLD}Cautions{BOLD:#}\n");
        for caution in self.cautions {
            wrapped(&mut out, "  - ", "    ", caution);
        }
        out
    }

    fn totals(&self, out: &mut String) {
        out.push('\n');
        let mut line = |what: &str, cells: Vec<String>| {
            let cells: String = cells.iter().map(|cell| format!(" {cell:>10}")).collect();
            let _ = writeln!(out, "  {what:<30}{cells}");
        };
        let heads = letters().take(self.rules.len());
        line("", heads.map(String::from).collect());
        let mut row = |what: &str, value: &dyn Fn(&Column) -> String| {
            line(what, self.rules.iter().map(value).collect());
        };
        row("violations", &|rules| rules.violations.to_string());
        row("need approval", &|rules| rules.needs_approval.to_string());
        row("advice", &|rules| rules.advice.to_string());
        row("undetermined", &|rules| rules.undetermined.to_string());
        if self.rules.iter().any(|rules| rules.load.is_some()) {
            row("load at the point of disposal", &|rules| match &rules.load {
                None => "-".to_owned(),
                Some(None) => "not known".to_owned(),
                Some(Some(load)) => load.clone(),
            });
        }
        out.push('\n');
    }

    /// What one rule set finds and another does not; what all find alike is only counted.
    fn findings(&self, out: &mut String) {
        let _ = writeln!(out, "{BOLD}What each finds{BOLD:#}\n");
        let mut shared: BTreeMap<&str, usize> = BTreeMap::new();
        let mut listed = false;
        for row in &self.elements {
            let is_shared = |one: &&Found| {
                row.found
                    .iter()
                    .all(|found| found.iter().any(|other| other.is_like(one)))
            };
            let first = row.found.first().into_iter().flatten();
            for one in first.filter(is_shared) {
                *shared.entry(one.verdict).or_default() += 1;
            }
            if row.found.iter().flatten().all(|one| is_shared(&one)) {
                continue;
            }
            listed = true;
            let storey = row
                .storey
                .as_ref()
                .map(|storey| format!(", {storey}"))
                .unwrap_or_default();
            let _ = writeln!(
                out,
                "  {BOLD}{} `{}`{BOLD:#}{storey} {DIM}line {}{DIM:#}",
                row.kind, row.name, row.line
            );
            for (letter, found) in letters().zip(&row.found) {
                let own: Vec<_> = found.iter().filter(|one| !is_shared(one)).collect();
                if own.is_empty() {
                    let nothing = if found.is_empty() {
                        "nothing"
                    } else {
                        "nothing else"
                    };
                    let _ = writeln!(out, "    {letter}  {GREEN}{nothing}{GREEN:#}");
                }
                for one in own {
                    let what = format!("{}: {} ({})", one.verdict, one.message, one.cited);
                    wrapped(out, &format!("    {RED}{letter}{RED:#}  "), "       ", &what);
                }
            }
        }
        let counts: Vec<_> = shared
            .iter()
            .map(|(verdict, count)| format!("{count} {verdict}"))
            .collect();
        match (listed, counts.is_empty()) {
            (true, true) => {}
            (true, false) => {
                let what = format!("found alike by all, and not listed: {}", counts.join(", "));
                out.push('\n');
                wrapped(out, "  ", "  ", &what);
            }
            (false, true) => out.push_str("  nothing\n"),
            (false, false) => {
                let what = format!("the same: {}; `check` lists it", counts.join(", "));
                wrapped(out, "  ", "  ", &what);
            }
        }
        out.push('\n');
    }

    fn differences(&self, out: &mut String) {
        let _ = writeln!(out, "{BOLD}Figures that differ{BOLD:#}\n");
        if self.figures.is_empty() {
            out.push_str("  none\n");
        }
        for row in &self.figures {
            let values: Vec<String> = letters()
                .zip(&row.values)
                .map(|(letter, value)| format!("{letter} {}", value.as_deref().unwrap_or("none")))
                .collect();
            let names: Vec<String> = row
                .elements
                .iter()
                .take(6)
                .map(|name| format!("`{name}`"))
                .collect();
            let more = match row.elements.len().saturating_sub(names.len()) {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            let what = format!("{}: {} - {}{more}", row.what, values.join(", "), names.join(", "));
            wrapped(out, "  ", "    ", &what);
        }
        if self.figures_omitted > 0 {
            let more = plural(self.figures_omitted, "figure", "figures");
            let _ = writeln!(out, "  and {more} more");
        }
        out.push('\n');
    }
}

fn letters() -> impl Iterator<Item = char> {
    'A'..='Z'
}
