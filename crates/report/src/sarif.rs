//! The report as SARIF 2.1.0 (OASIS Static Analysis Results Interchange Format), for code hosts and editors.
//!
//! It carries no drawing and no passes; what SARIF calls a rule, a result and a location keep those meanings.

use crownweir_document::Unwritable;
use crownweir_evaluate::{Finding, Report, Verdict};
use crownweir_rulebook::{Citation, RuleSet, Severity};
use serde_json::{Value, json};

use crate::json::written;
use crate::text::cited;
use crate::uri::reference;

const VERSION: &str = "2.1.0";

/// The report as an indented SARIF log with one run. Results that are neither a breach nor open, such as passes, are
/// not listed; what only a visit can settle is of the kind `review`.
///
/// # Errors
/// None is known: every part has a JSON form. The error type is the serialiser's.
pub fn sarif(report: &Report, rules: &RuleSet) -> Result<String, Unwritable> {
    let index_of = |name: &str| report.summary.iter().position(|row| row.rule == name);
    let file = reference(&report.file);
    let mut results: Vec<Value> = report
        .findings
        .iter()
        .map(|finding| result(finding, index_of(&finding.rule), &file))
        .collect();
    for visit in &report.on_site {
        let concerns = match visit.count {
            0 | 1 => String::new(),
            count => format!(" ({count} places)"),
        };
        results.push(json!({
            "ruleId": visit.rule,
            "ruleIndex": index_of(&visit.rule),
            "kind": "review",
            "level": "none",
            "message": message(&format!("To confirm on site: {}{concerns}", visit.message)),
            "locations": [{"physicalLocation": {"artifactLocation": {"uri": &file, "index": 0}}}],
        }));
    }
    let log = json!({
        "version": VERSION,
        "runs": [{
            "tool": {"driver": {
                "name": "crownweir",
                "semanticVersion": env!("CARGO_PKG_VERSION"),
                "rules": descriptors(report, rules),
            }},
            "artifacts": [{"location": {"uri": &file}}],
            // Columns of a network file count characters.
            "columnKind": "unicodeCodePoints",
            "results": results,
            "properties": {
                "ruleSet": report.rules,
                "revision": report.revision,
                "document": report.document,
                "edition": report.edition,
                "amendments": report.layers.iter().map(|layer| &layer.amendment.name).collect::<Vec<_>>(),
                "findingsOmitted": report.omitted,
                "cautions": crate::CAUTIONS,
            },
        }],
    });
    written(&log)
}

/// A descriptor of each rule that was run.
fn descriptors(report: &Report, rules: &RuleSet) -> Vec<Value> {
    let protection = rules.protection.as_ref();
    report
        .summary
        .iter()
        .map(|row| {
            let citation = match rules.rule(&row.rule) {
                Some(rule) => Some(&rule.citation),
                None => protection
                    .filter(|own| own.rule == row.rule)
                    .map(|own| &own.citation),
            };
            let mut descriptor = json!({
                "id": row.rule,
                "shortDescription": message(&row.title),
                "defaultConfiguration": {"level": level(row.severity)},
            });
            if let Some(citation) = citation {
                let cited = cited(citation);
                descriptor["fullDescription"] = message(&format!("{}: {cited}", row.title));
                descriptor["properties"] = cite(citation);
            }
            descriptor
        })
        .collect()
}

fn result(finding: &Finding, rule_index: Option<usize>, file: &str) -> Value {
    let mut words = format!("{} `{}`: {}", finding.kind, finding.name, finding.message);
    if let (Some(measured), Some(limit)) = (&finding.measured, &finding.limit) {
        words.push_str(&format!(" (measured {}, limit {})", measured.text, limit.text));
    }
    if !finding.missing.is_empty() {
        words.push_str(&format!(". Needed: {}", finding.needed().join("; ")));
    }
    if let Some(advice) = &finding.advice {
        words.push_str(&format!(". To do: {advice}"));
    }
    words.push_str(&format!(" [{}]", finding.cited()));
    let (kind, level) = match finding.verdict {
        Verdict::Violated => ("fail", level(finding.severity)),
        Verdict::Undetermined => ("open", "none"),
    };
    let mut one = json!({
        "ruleId": finding.rule,
        "kind": kind,
        "level": level,
        "message": message(&words),
        "locations": [{
            "physicalLocation": {"artifactLocation": {"uri": file, "index": 0}},
            "logicalLocations": [{
                "name": finding.name,
                "kind": finding.subject.name(),
            }],
        }],
        // A network's names outlive its lines, and storeys that repeat share a line.
        "partialFingerprints": {"element/v1": format!("{}/{}/{}", finding.rule, finding.subject.name(), finding.name)},
        "properties": {
            "severity": finding.severity.name(),
            "storey": finding.storey,
            "citation": cite(&finding.citation),
            "changes": finding.changes,
        },
    });
    if finding.position.is_in_file() {
        one["locations"][0]["physicalLocation"]["region"] = json!({
            "startLine": finding.position.line,
            "startColumn": finding.position.column,
        });
    }
    if let Some(index) = rule_index {
        one["ruleIndex"] = index.into();
    }
    one
}

fn cite(citation: &Citation) -> Value {
    json!({
        "citation": citation.to_string(),
        "basis": citation.basis.name(),
        "setBy": citation.set_by.as_ref().map(|set_by| &set_by.amendment.name),
    })
}

fn level(severity: Severity) -> &'static str {
    match severity {
        Severity::NeedsApproval => "warning",
        Severity::Advice => "note",
        _ => "error",
    }
}

/// A plain text message. SARIF reads `{0}` as a placeholder and `[words](target)` as a link, neither of which a name
/// in a network file may make.
fn message(text: &str) -> Value {
    let mut escaped = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '{' | '}' => escaped.extend([letter, letter]),
            '[' | ']' if text.contains("](") => escaped.extend(['\\', letter]),
            _ => escaped.push(letter),
        }
    }
    json!({"text": escaped})
}
