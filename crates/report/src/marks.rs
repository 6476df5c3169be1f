//! The numbers by which findings are called, and the marks that bear them on the drawing.

use crownweir_drawing::{Drawing, Mark, MarkKind, Options, draw};
use crownweir_evaluate::{Finding, Measured, Report, Verdict};
use crownweir_rulebook::Severity;

use crate::plain::shortened;

/// What is open in more places than this is listed and not marked: it would hide the rest.
const MOST_OPEN: usize = 12;
/// The longest a finding is on a mark.
const WORDS: usize = 200;

/// A finding that is broken, by its number.
pub(crate) struct Numbered<'a> {
    pub(crate) number: usize,
    pub(crate) finding: &'a Finding,
}

/// What a rule leaves open, by its number.
pub(crate) struct OpenGroup<'a> {
    pub(crate) number: usize,
    pub(crate) findings: Vec<&'a Finding>,
}

/// Breaches in the order of the report, numbered from 1 as in the text.
pub(crate) fn broken(report: &Report) -> Vec<Numbered<'_>> {
    let broken = report
        .findings
        .iter()
        .filter(|finding| finding.verdict == Verdict::Violated);
    let numbered = broken.zip(1..);
    numbered
        .map(|(finding, number)| Numbered { number, finding })
        .collect()
}

/// What is open, by rule: the same datum is often missing in many places.
pub(crate) fn open(report: &Report) -> Vec<OpenGroup<'_>> {
    let mut open: Vec<&Finding> = report
        .findings
        .iter()
        .filter(|finding| finding.verdict == Verdict::Undetermined)
        .collect();
    open.sort_by(|one, other| one.rule.cmp(&other.rule));
    let groups = open.chunk_by(|one, other| one.rule == other.rule).zip(1..);
    groups
        .map(|(findings, number)| OpenGroup {
            number,
            findings: findings.to_vec(),
        })
        .collect()
}

/// The anchor of a mark: of a broken finding, or of one of the places of a group.
pub(crate) fn broken_mark(number: usize) -> String {
    format!("mark-{number}")
}

pub(crate) fn open_mark(number: usize, place: usize) -> String {
    format!("mark-open-{number}-{place}")
}

/// The marks of a report, each leading to what is listed.
fn marks(report: &Report) -> Vec<Mark> {
    let words = |finding: &Finding| {
        let words = format!("{} {}: {}", finding.kind, finding.name, finding.message);
        shortened(&words, WORDS)
    };
    let mut marks: Vec<Mark> = broken(report)
        .into_iter()
        .map(|Numbered { number, finding }| Mark {
            number: number.to_string(),
            kind: match finding.severity {
                Severity::NeedsApproval => MarkKind::NeedsApproval,
                Severity::Advice => MarkKind::Advice,
                _ => MarkKind::Violation,
            },
            element: finding.element,
            id: broken_mark(number),
            target: format!("#finding-{number}"),
            words: format!(
                "finding {number}, {}: {}",
                finding.severity.name(),
                words(finding)
            ),
        })
        .collect();
    for group in open(report) {
        if group.findings.len() > MOST_OPEN {
            continue;
        }
        for (place, finding) in group.findings.iter().enumerate() {
            marks.push(Mark {
                number: format!("?{}", group.number),
                kind: MarkKind::Open,
                element: finding.element,
                id: open_mark(group.number, place),
                target: format!("#open-{}", group.number),
                words: format!("undetermined {}: {}", group.number, words(finding)),
            });
        }
    }
    marks
}

/// The network drawn, with the findings marked by the numbers that they have in the text and the page.
#[must_use]
pub fn drawing(measured: &Measured<'_>, report: &Report, options: Options) -> Drawing {
    draw(measured, &marks(report), options)
}
