//! A check as JUnit XML: a suite for each rule, a case for each element that breaks it or leaves it open.

use crownweir::{Finding, Report, RuleSummary, Severity, Verdict};
use quick_junit::{NonSuccessKind, TestCase, TestCaseStatus, TestSuite};

use crate::input::Trouble;

/// What fails is a violation of the code, as with the program's own exit code. What is open, needs approval or is advice
/// neither passes nor fails: it is skipped, with the reason.
pub(crate) fn check(found: &Report) -> Result<String, Trouble> {
    let amendments = found.layers.iter().map(|layer| layer.amendment.name.as_str());
    let rules: Vec<&str> = std::iter::once(found.rules.as_str()).chain(amendments).collect();
    let mut report = quick_junit::Report::new(format!("crownweir check by {}", rules.join("+")));
    for row in &found.summary {
        let applied = row.satisfied + row.violated + row.undetermined;
        if applied == 0 {
            continue;
        }
        let mut suite = TestSuite::new(row.rule.as_str());
        let own = || found.findings.iter().filter(|one| one.rule == row.rule);
        suite.add_test_cases(own().map(|finding| case(found, finding)));
        suite.add_test_cases(rest(found, row, own));
        report.add_test_suite(suite);
    }
    let xml = report.to_string();
    xml.map_err(|error| Trouble::Plain(format!("cannot write the report: {error}")))
}

fn case(found: &Report, finding: &Finding) -> TestCase {
    let mut said = finding.message.clone();
    if let (Some(measured), Some(limit)) = (&finding.measured, &finding.limit) {
        said.push_str(&format!("; measured {}, limit {}", measured.text, limit.text));
    }
    if !finding.missing.is_empty() {
        said.push_str(&format!("; needed: {}", finding.needed().join("; ")));
    }
    said.push_str(&format!(" [{}]", finding.cited()));
    let mut status = status(finding.verdict, finding.severity);
    status.set_message(said);
    if finding.verdict == Verdict::Violated && finding.severity == Severity::Violation {
        status.set_type(finding.severity.name());
    }
    let mut case = TestCase::new(format!("{} {}", finding.kind, finding.name), status);
    case.set_classname(format!(
        "{}:{}:{}",
        found.file, finding.position.line, finding.position.column
    ));
    case
}

fn status(verdict: Verdict, severity: Severity) -> TestCaseStatus {
    match (verdict, severity) {
        (Verdict::Violated, Severity::Violation) => TestCaseStatus::non_success(NonSuccessKind::Failure),
        _ => TestCaseStatus::skipped(),
    }
}

/// Cases for what is counted and not listed: elements that the rule holds for, and findings past the most that are
/// listed.
fn rest<'f, Own: Iterator<Item = &'f Finding>>(
    found: &Report,
    row: &RuleSummary,
    own: impl Fn() -> Own,
) -> Vec<TestCase> {
    let listed = |verdict| own().filter(|one| one.verdict == verdict).count();
    let violated = row.violated.saturating_sub(listed(Verdict::Violated));
    let open = row.undetermined.saturating_sub(listed(Verdict::Undetermined));
    let counts = [
        (row.satisfied, "it holds for", TestCaseStatus::success()),
        (
            violated,
            "also broken by",
            status(Verdict::Violated, row.severity),
        ),
        (open, "also open for", TestCaseStatus::skipped()),
    ];
    let counts = counts.into_iter().filter(|(count, ..)| *count > 0);
    counts
        .map(|(count, what, status)| {
            let mut case = TestCase::new(format!("{what} {count} elements"), status);
            case.set_classname(&*found.file);
            case
        })
        .collect()
}
