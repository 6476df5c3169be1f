//! The report as JSON, in a form of its own that only grows.

use crownweir_evaluate::{Finding, Measured, Report, Step, Verdict};
use crownweir_rulebook::{Citation, Layer, Origin, Severity, Standing};
use serde::Serialize;

#[derive(Serialize)]
struct ReportJson<'a> {
    crownweir: &'static str,
    network: &'a str,
    file: &'a str,
    rules: RulesJson<'a>,
    totals: Totals<'a>,
    findings: Vec<FindingJson<'a>>,
    confirm_on_site: Vec<OnSiteJson<'a>>,
    protected_traps: Vec<ProtectedJson<'a>>,
    rules_run: Vec<RuleJson<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    passes: Option<Vec<PassJson<'a>>>,
    cautions: &'static [&'static str],
}

#[derive(Serialize)]
struct PassJson<'a> {
    rule: &'a str,
    kind: String,
    name: String,
    workings: Vec<String>,
}

#[derive(Serialize)]
struct RulesJson<'a> {
    name: &'a str,
    document: &'a str,
    edition: &'a str,
    revision: u32,
    amendments: Vec<AmendmentJson<'a>>,
}

#[derive(Serialize)]
struct AmendmentJson<'a> {
    name: &'a str,
    title: &'a str,
    jurisdiction: &'a [String],
    document: &'a str,
    edition: &'a str,
    from: Option<String>,
    until: Option<String>,
    in_force: bool,
    standing: String,
    changes_that_do_not_hold: usize,
    origin: &'static str,
}

#[derive(Serialize)]
struct Totals<'a> {
    fixtures: usize,
    pipes: usize,
    load: Option<&'a str>,
    violations: usize,
    needs_approval: usize,
    advice: usize,
    undetermined: usize,
    findings_omitted: usize,
}

#[derive(Serialize)]
struct FindingJson<'a> {
    rule: &'a str,
    title: &'a str,
    verdict: &'static str,
    severity: &'static str,
    subject: &'static str,
    kind: &'a str,
    name: &'a str,
    storey: Option<&'a str>,
    line: u32,
    column: u32,
    message: &'a str,
    measured: Option<&'a str>,
    limit: Option<&'a str>,
    headroom: Option<&'a str>,
    missing: &'a [String],
    citation: CitationJson<'a>,
    advice: Option<&'a str>,
    notes: &'a [String],
    #[serde(skip_serializing_if = "Option::is_none")]
    workings: Option<Vec<String>>,
}

#[derive(Serialize)]
struct CitationJson<'a> {
    text: String,
    document: &'a str,
    edition: &'a str,
    section: Option<&'a str>,
    basis: &'static str,
    checked: Option<&'a str>,
    note: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    set_by: Option<SetByJson<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    amends: Option<String>,
}

#[derive(Serialize)]
struct SetByJson<'a> {
    amendment: &'a str,
    file: &'a str,
    line: usize,
}

#[derive(Serialize)]
struct OnSiteJson<'a> {
    rule: &'a str,
    message: &'a str,
    count: usize,
    examples: &'a [String],
    citation: CitationJson<'a>,
}

#[derive(Serialize)]
struct ProtectedJson<'a> {
    arrangement: &'a str,
    traps: usize,
    citation: CitationJson<'a>,
}

#[derive(Serialize)]
struct RuleJson<'a> {
    rule: &'a str,
    title: &'a str,
    subjects: usize,
    not_applicable: usize,
    satisfied: usize,
    violated: usize,
    undetermined: usize,
    confirm_on_site: usize,
}

fn amendment(layer: &Layer) -> AmendmentJson<'_> {
    let one = &layer.amendment;
    AmendmentJson {
        name: &one.name,
        title: &one.title,
        jurisdiction: &one.jurisdiction,
        document: &one.document,
        edition: &one.edition,
        from: one.from.map(|day| day.to_string()),
        until: one.until.map(|day| day.to_string()),
        in_force: layer.standing == Standing::InForce,
        standing: layer.standing.to_string(),
        changes_that_do_not_hold: layer.void,
        origin: match one.origin {
            Origin::Public => "public",
            Origin::Invented => "invented",
        },
    }
}

fn citation(citation: &Citation) -> CitationJson<'_> {
    CitationJson {
        text: citation.to_string(),
        document: &citation.document,
        edition: &citation.edition,
        section: citation.section.as_deref(),
        basis: citation.basis.name(),
        checked: citation.checked.as_deref(),
        note: citation.note.as_deref(),
        set_by: citation.set_by.as_ref().map(|set_by| SetByJson {
            amendment: &set_by.amendment.name,
            file: &set_by.place.file,
            line: set_by.place.line,
        }),
        amends: citation.amends.as_ref().map(|amended| amended.to_string()),
    }
}

/// The report as indented JSON. `workings` gives the derivation to add to each finding; with `passes`, that of
/// every pass is added too.
///
/// # Errors
/// None is known: every part has a JSON form. The error type is the serialiser's.
pub fn json(
    report: &Report,
    workings: &dyn Fn(&Finding) -> Option<Vec<Step>>,
    passes: Option<&Measured<'_>>,
) -> Result<String, serde_json::Error> {
    let count = |severity| report.count(Verdict::Violated, severity);
    let whole = ReportJson {
        crownweir: "report/1",
        network: &report.network,
        file: &report.file,
        rules: RulesJson {
            name: &report.rules,
            document: &report.document,
            edition: &report.edition,
            revision: report.revision,
            amendments: report.layers.iter().map(amendment).collect(),
        },
        totals: Totals {
            fixtures: report.fixtures,
            pipes: report.pipes,
            load: report.load.as_deref(),
            violations: count(Severity::Violation),
            needs_approval: count(Severity::NeedsApproval),
            advice: count(Severity::Advice),
            undetermined: report.summary.iter().map(|row| row.undetermined).sum(),
            findings_omitted: report.omitted,
        },
        findings: report
            .findings
            .iter()
            .map(|one| finding(one, workings(one)))
            .collect(),
        confirm_on_site: report
            .on_site
            .iter()
            .map(|visit| OnSiteJson {
                rule: &visit.rule,
                message: &visit.message,
                count: visit.count,
                examples: &visit.examples,
                citation: citation(&visit.citation),
            })
            .collect(),
        protected_traps: report
            .protected
            .iter()
            .map(|protected| ProtectedJson {
                arrangement: &protected.arrangement,
                traps: protected.traps,
                citation: citation(&protected.citation),
            })
            .collect(),
        rules_run: report
            .summary
            .iter()
            .map(|row| RuleJson {
                rule: &row.rule,
                title: &row.title,
                subjects: row.subjects,
                not_applicable: row.not_applicable,
                satisfied: row.satisfied,
                violated: row.violated,
                undetermined: row.undetermined,
                confirm_on_site: row.on_site,
            })
            .collect(),
        passes: passes.map(|measured| {
            let of_rule = |rule| {
                measured.passes(rule).map(|pass| PassJson {
                    rule: &rule.name,
                    kind: pass.kind,
                    name: pass.name,
                    workings: crate::workings(&pass.steps),
                })
            };
            measured.rules().rules.iter().flat_map(of_rule).collect()
        }),
        cautions: crate::CAUTIONS,
    };
    serde_json::to_string_pretty(&whole)
}

fn finding(finding: &Finding, steps: Option<Vec<Step>>) -> FindingJson<'_> {
    FindingJson {
        rule: &finding.rule,
        title: &finding.title,
        verdict: match finding.verdict {
            Verdict::Violated => "violated",
            Verdict::Undetermined => "undetermined",
        },
        severity: match finding.severity {
            Severity::NeedsApproval => "needs_approval",
            Severity::Advice => "advice",
            _ => "violation",
        },
        subject: finding.subject.name(),
        kind: &finding.kind,
        name: &finding.name,
        storey: finding.storey.as_deref(),
        line: finding.position.line,
        column: finding.position.column,
        message: &finding.message,
        measured: finding.measured.as_ref().map(|figure| figure.text.as_str()),
        limit: finding.limit.as_ref().map(|figure| figure.text.as_str()),
        headroom: finding.headroom.as_ref().map(|figure| figure.text.as_str()),
        missing: &finding.missing,
        citation: citation(&finding.citation),
        advice: finding.advice.as_deref(),
        notes: &finding.notes,
        workings: steps.map(|steps| crate::workings(&steps)),
    }
}
