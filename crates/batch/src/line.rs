//! What stands in a line: the head of the results, and the result of one record.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use crownweir_document::{Diagnostic, Diagnostics, Limits, Unwritable};
use crownweir_evaluate::{Report, Verdict, check};
use crownweir_network::Network;
use crownweir_rulebook::{RuleSet, Severity};
use serde::{Deserialize, Serialize};

use crate::source::Record;

/// The format's name and version, as the first line states it.
const FORMAT: &str = "batch/1";

/// The first line: by what the records are checked. Results are only written on under a head that is the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "head"))]
pub struct Header {
    /// What kind of file this is.
    #[cfg_attr(feature = "schema", schemars(extend("const" = FORMAT)))]
    crownweir: String,
    /// The version of the program.
    pub program: String,
    /// The rule set asked for, with its amendments; none where each network names its own.
    pub rules: Option<String>,
    /// The CRC-32 of the texts of that rule set and its amendments.
    pub rules_checksum: Option<String>,
    /// The day whose law applies.
    pub on: String,
}

impl Header {
    /// The head of results.
    #[must_use]
    pub fn new(program: &str, rules: Option<(String, String)>, on: String) -> Self {
        let (rules, rules_checksum) = rules.unzip();
        Self {
            crownweir: FORMAT.to_owned(),
            program: program.to_owned(),
            rules,
            rules_checksum,
            on,
        }
    }

    /// The line.
    ///
    /// # Errors
    /// Never, as far as is known: the writer's own.
    pub fn line(&self) -> Result<String, Unwritable> {
        serde_json::to_string(self).map_err(Unwritable::new)
    }
}

/// What came of a record, in a word; the worst of all that was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "outcome")
)]
pub enum Outcome {
    /// Nothing was found.
    Clear,
    /// Only what is against good practice.
    Advice,
    /// A rule could not be settled.
    Undetermined,
    /// The authority's permission is needed.
    NeedsApproval,
    /// A rule of the code is broken.
    Violation,
    /// The record could not be used.
    Unusable,
}

/// The result of a record.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ResultLine {
    /// The line, without its end.
    pub line: String,
    /// The worst that is in it.
    pub outcome: Outcome,
}

/// A result as it is written. Later versions may add keys, and take none away.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "result"))]
struct ResultJson<'a> {
    /// The record's number: that of its line, or of its file among the files, counted from 1.
    record: u64,
    /// The file that it was read from.
    #[serde(skip_serializing_if = "Option::is_none")]
    file: Option<&'a str>,
    /// The CRC-32 of its file's name and its text.
    checksum: String,
    /// The worst that was found.
    outcome: Outcome,
    /// What was found, or what keeps the record from being used.
    #[serde(flatten)]
    content: Content<'a>,
}

#[derive(Serialize)]
#[serde(untagged)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "content")
)]
enum Content<'a> {
    /// Of a record that was checked.
    Checked {
        /// The network's own name.
        network: &'a str,
        /// The rule set's name.
        rules: &'a str,
        /// Fixtures in the network.
        fixtures: usize,
        /// Elements found against the code.
        violations: usize,
        /// Elements that need the authority's permission.
        needs_approval: usize,
        /// Elements found against good practice.
        advice: usize,
        /// Elements for which it cannot be told.
        undetermined: usize,
        /// What is wrong or not known.
        findings: Vec<FindingJson<'a>>,
        /// Findings that are counted but not listed.
        findings_omitted: usize,
    },
    /// Of a record that cannot be used.
    Unusable {
        /// What is wrong with it.
        problems: Vec<ProblemJson<'a>>,
        /// Problems that are not listed.
        problems_omitted: usize,
    },
}

#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "finding")
)]
struct FindingJson<'a> {
    /// The rule's name.
    rule: &'a str,
    /// `violated`, or `undetermined` where it cannot be told.
    verdict: &'static str,
    /// How serious a breach is.
    severity: &'static str,
    /// What the element is, in a word or two.
    kind: &'a str,
    /// The element's name in the network.
    name: &'a str,
    /// What is the matter.
    message: &'a str,
    /// Where the rule comes from.
    citation: String,
    /// What amendments have changed in the rule; left out where they have changed nothing.
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    changes: &'a [String],
    /// The line of the record's text that defines the element.
    line: u32,
    /// The column of that line.
    column: u32,
}

#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "problem")
)]
struct ProblemJson<'a> {
    /// The line of the record's text; 0 where the problem has no place in it.
    line: usize,
    /// The column of that line.
    column: usize,
    /// What is wrong.
    message: &'a str,
    /// What would have been accepted there.
    #[serde(skip_serializing_if = "Option::is_none")]
    expected: Option<&'a str>,
    /// How to mend it.
    #[serde(skip_serializing_if = "Option::is_none")]
    help: Option<&'a str>,
}

/// The schema of a line: the head, or the result of a record.
#[cfg(feature = "schema")]
#[must_use]
pub fn schema() -> schemars::Schema {
    /// A line of what a batch writes.
    #[derive(Serialize, schemars::JsonSchema)]
    #[schemars(rename = "line")]
    #[serde(untagged)]
    #[expect(dead_code, reason = "only its schema is asked for")]
    enum Line<'a> {
        /// The first line.
        Head(Header),
        /// Any other.
        Result(ResultJson<'a>),
    }
    schemars::generate::SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<Line<'_>>()
}

/// By which rule set a network is checked, or why by none.
pub type Rules<'r> = dyn Fn(&Network) -> Result<Arc<RuleSet>, String> + Sync + 'r;

/// The result line of a record. Whatever is wrong with the record is told in the line.
#[must_use]
pub fn result(record: &Record, rules: &Rules<'_>, limits: &Limits) -> ResultLine {
    // A fault of the program itself is told as that of one record, and stops no other.
    let line = catch_unwind(AssertUnwindSafe(|| checked(record, rules, limits)));
    line.unwrap_or_else(|_| {
        plainly(
            record,
            "the program failed on this record; this is a fault of the program",
        )
    })
}

fn checked(record: &Record, rules: &Rules<'_>, limits: &Limits) -> ResultLine {
    let text = match &record.text {
        Ok(text) => text,
        Err(why) => return plainly(record, why),
    };
    let name = record.file.as_deref().unwrap_or("record");
    let network = match Network::read(name, text, limits) {
        Ok(network) => network,
        Err(problems) => return unusable(record, &problems),
    };
    let rules = match rules(&network) {
        Ok(rules) => rules,
        Err(why) => return plainly(record, &why),
    };
    match check(&network, &rules) {
        Ok(report) => found(record, &report),
        Err(unknown) => plainly(record, &unknown.to_string()),
    }
}

fn found(record: &Record, report: &Report) -> ResultLine {
    let [violations, needs_approval, advice] =
        [Severity::Violation, Severity::NeedsApproval, Severity::Advice]
            .map(|severity| report.count(Verdict::Violated, severity));
    let outcome = match (violations, needs_approval, report.has_undetermined(), advice) {
        (0, 0, false, 0) => Outcome::Clear,
        (0, 0, false, _) => Outcome::Advice,
        (0, 0, true, _) => Outcome::Undetermined,
        (0, _, _, _) => Outcome::NeedsApproval,
        _ => Outcome::Violation,
    };
    let findings = report.findings.iter().map(|finding| FindingJson {
        rule: &finding.rule,
        verdict: match finding.verdict {
            Verdict::Violated => "violated",
            Verdict::Undetermined => "undetermined",
        },
        severity: finding.severity.name(),
        kind: &finding.kind,
        name: &finding.name,
        message: &finding.message,
        citation: finding.citation.to_string(),
        changes: &finding.changes,
        line: finding.position.line,
        column: finding.position.column,
    });
    written(&ResultJson {
        record: record.number,
        file: record.file.as_deref(),
        checksum: record.checksum(),
        outcome,
        content: Content::Checked {
            network: &report.network,
            rules: &report.rules,
            fixtures: report.fixtures,
            violations,
            needs_approval,
            advice,
            undetermined: report.summary.iter().map(|row| row.undetermined).sum(),
            findings: findings.collect(),
            findings_omitted: report.omitted,
        },
    })
}

/// A record that is unusable for a reason that has no place in it.
fn plainly(record: &Record, why: &str) -> ResultLine {
    let mut problems = Diagnostics::keeping(1);
    problems.push(Diagnostic::at("", 0, 0, why));
    unusable(record, &problems)
}

fn unusable(record: &Record, problems: &Diagnostics) -> ResultLine {
    let list = problems.list.iter().map(|problem| ProblemJson {
        line: problem.place.line,
        column: problem.place.column,
        message: &problem.message,
        expected: problem.expected.as_deref(),
        help: problem.help.as_deref(),
    });
    written(&ResultJson {
        record: record.number,
        file: record.file.as_deref(),
        checksum: record.checksum(),
        outcome: Outcome::Unusable,
        content: Content::Unusable {
            problems: list.collect(),
            problems_omitted: problems.omitted,
        },
    })
}

fn written(result: &ResultJson<'_>) -> ResultLine {
    ResultLine {
        // Strings and numbers are always JSON.
        line: serde_json::to_string(result).unwrap_or_default(),
        outcome: result.outcome,
    }
}
