//! The rules, arrangements and tables of a rule set and what it does not check, a line each: all of it, or what cites a
//! section.
//!
//! What each asks is told by `explain`.

use std::fmt::Write as _;

use crownweir_rulebook::{Arrangement, Citation, Matter, Rule, RuleSet, Table};

use crate::text::BOLD;

/// A line of a list.
struct Line<'a> {
    name: &'a str,
    what: &'static str,
    citation: &'a Citation,
    title: &'a str,
}

fn of_rule(rule: &Rule) -> Line<'_> {
    Line {
        name: &rule.name,
        what: match rule.require {
            Some(_) => rule.severity.name(),
            None => "on site",
        },
        citation: &rule.citation,
        title: &rule.title,
    }
}

fn of_arrangement(arrangement: &Arrangement) -> Line<'_> {
    Line {
        name: &arrangement.name,
        what: if arrangement.needs_approval {
            "needs approval"
        } else {
            ""
        },
        citation: &arrangement.citation,
        title: &arrangement.title,
    }
}

fn of_table(table: &Table) -> Line<'_> {
    Line {
        name: &table.name,
        what: "",
        citation: &table.citation,
        title: &table.title,
    }
}

fn of_matter(matter: &Matter) -> Line<'_> {
    Line {
        name: &matter.name,
        what: "",
        citation: &matter.citation,
        title: &matter.title,
    }
}

/// Every rule of a rule set with its severity, section and title; then its arrangements, its tables and what it does not
/// check, with the escape codes of a terminal.
#[must_use]
pub fn rules_list(rules: &RuleSet) -> String {
    let mut out = format!(
        "{BOLD}{}{BOLD:#}: {} {}\n",
        rules.called(),
        rules.document,
        rules.edition
    );
    let protection = rules.protection.iter().map(|own| Line {
        name: &own.rule,
        what: "violation",
        citation: &own.citation,
        title: &own.title,
    });
    list(
        &mut out,
        rules,
        "rules",
        protection.chain(rules.rules.iter().map(of_rule)).collect(),
    );
    list(
        &mut out,
        rules,
        "arrangements",
        rules.arrangements.iter().map(of_arrangement).collect(),
    );
    list(
        &mut out,
        rules,
        "tables",
        rules.tables.iter().map(of_table).collect(),
    );
    list(
        &mut out,
        rules,
        "not checked",
        rules.not_checked.iter().map(of_matter).collect(),
    );
    out
}

/// The rules, arrangements and tables that cite a section or a part of it, themselves or for something within them, and
/// what of it is not checked; none where nothing does.
#[must_use]
pub fn citing(rules: &RuleSet, section: &str) -> Option<String> {
    let cites = |citation: &Citation| sections(citation).any(|own| is_within(own, section));
    let by_rule = |rule: &&Rule| {
        let limits = rule.limit_citations.iter().map(|own| &own.citation);
        let exceptions = rule.exceptions.iter().map(|own| &own.citation);
        std::iter::once(&rule.citation)
            .chain(limits)
            .chain(exceptions)
            .any(cites)
    };
    let by_arrangement = |one: &&Arrangement| {
        let conditions = one.conditions.iter().map(|own| &own.citation);
        std::iter::once(&one.citation).chain(conditions).any(cites)
    };
    let by_table = |table: &&Table| {
        let cells = table.rows().iter().flat_map(|row| &row.cells);
        let cells = cells.filter_map(|cell| cell.citation.as_ref());
        std::iter::once(&table.citation).chain(cells).any(cites)
    };
    let protection = rules
        .protection
        .iter()
        .filter(|own| cites(&own.citation))
        .map(|own| Line {
            name: &own.rule,
            what: "violation",
            citation: &own.citation,
            title: &own.title,
        });
    let own: Vec<Line<'_>> = protection
        .chain(rules.rules.iter().filter(by_rule).map(of_rule))
        .collect();
    let arrangements: Vec<_> = rules
        .arrangements
        .iter()
        .filter(by_arrangement)
        .map(of_arrangement)
        .collect();
    let tables: Vec<_> = rules.tables.iter().filter(by_table).map(of_table).collect();
    let not_checked = rules.not_checked.iter().filter(|own| cites(&own.citation));
    let not_checked: Vec<_> = not_checked.map(of_matter).collect();
    if own.is_empty() && arrangements.is_empty() && tables.is_empty() && not_checked.is_empty() {
        return None;
    }
    let mut out = format!("{BOLD}{}{BOLD:#}: what cites section {section}\n", rules.called());
    list(&mut out, rules, "rules", own);
    list(&mut out, rules, "arrangements", arrangements);
    list(&mut out, rules, "tables", tables);
    list(&mut out, rules, "not checked", not_checked);
    Some(out)
}

/// The sections that a citation names: its own, and those of what it stands over.
fn sections(citation: &Citation) -> impl Iterator<Item = &str> {
    let chain = std::iter::successors(Some(citation), |own| own.amends.as_deref());
    chain.filter_map(|own| own.section.as_deref())
}

/// Whether a section as cited is the one asked for or a part of it: `909.1.2`, `Table 909.1` and `909.1, note a` are of
/// `909.1`, and `909.10` is not.
fn is_within(cited: &str, asked: &str) -> bool {
    let bare = |text: &str| {
        let text = text.trim().to_lowercase();
        let bare = text
            .strip_prefix("section ")
            .or_else(|| text.strip_prefix("table "));
        bare.map_or_else(|| text.clone(), |bare| bare.trim().to_owned())
    };
    let begins = |cited: &str, asked: &str| {
        let rest = cited.strip_prefix(asked);
        rest.is_some_and(|rest| !rest.starts_with(|next: char| next.is_alphanumeric()))
    };
    let asked = bare(asked);
    asked.contains(|letter: char| letter.is_ascii_digit())
        && (begins(&bare(cited), &asked) || cited.split([' ', ',', ';']).any(|word| begins(word, &asked)))
}

/// A citation among others of `document`: the section alone, where it is of that document.
pub(crate) fn within(document: &str, citation: &Citation) -> String {
    match &citation.section {
        Some(section) if *citation.document == *document => section.to_string(),
        _ => citation.to_string(),
    }
}

fn list(out: &mut String, rules: &RuleSet, head: &str, lines: Vec<Line<'_>>) {
    if lines.is_empty() {
        return;
    }
    let rows: Vec<[String; 4]> = lines
        .into_iter()
        .map(|line| {
            [
                line.name.to_owned(),
                line.what.replace('_', " "),
                within(&rules.document, line.citation),
                line.title.to_owned(),
            ]
        })
        .collect();
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..4).map(width).collect();
    let _ = writeln!(out, "\n{BOLD}{head}{BOLD:#}");
    for row in &rows {
        let cells = row.iter().zip(&widths).filter(|(_, width)| **width > 0);
        let cells = cells.map(|(cell, width)| format!("{cell:<width$}"));
        let _ = writeln!(out, "  {}", cells.collect::<Vec<_>>().join("  ").trim_end());
    }
}

#[cfg(test)]
mod tests {
    use super::is_within;

    #[test]
    fn a_section_has_its_parts_and_no_neighbours() {
        for cited in [
            "909.1",
            "909.1.2",
            "Table 909.1",
            "909.1, note a",
            "909.1(2)",
            "905.3 and 909.1",
        ] {
            assert!(is_within(cited, "909.1"), "{cited}");
            assert!(is_within(cited, "section 909.1"), "{cited}");
        }
        for cited in ["909.10", "909", "909.2", "Table 909.11", "1909.1"] {
            assert!(!is_within(cited, "909.1"), "{cited}");
        }
        assert!(is_within("909.1", "909"));
        assert!(!is_within("909.1", "9"));
        // A word alone is no section.
        assert!(!is_within("Table 909.1", "table"));
        assert!(!is_within("Table 909.1", ""));
    }
}
