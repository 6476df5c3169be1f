//! The report as JSON, in a form of its own that only grows.

use std::collections::BTreeMap;

use crownweir_document::Unwritable;
use crownweir_evaluate::{Finding, Measured, Outcome, Pass, Report, Shown, Step, Verdict};
use crownweir_rulebook::{Citation, Layer, Origin, Severity, Standing};
use serde::Serialize;

/// What is serialised as indented JSON.
pub(crate) fn written(value: &impl Serialize) -> Result<String, Unwritable> {
    serde_json::to_string_pretty(value).map_err(Unwritable::new)
}

/// The format's name and version, as the first key of a report states it.
const FORMAT: &str = "report/1";

/// What came of checking a network by a rule set. Later versions may add keys, and take none away.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "report"))]
pub(crate) struct ReportJson<'a> {
    /// What kind of file this is.
    #[cfg_attr(feature = "schema", schemars(extend("const" = FORMAT)))]
    crownweir: &'static str,
    /// The network's own name.
    network: &'a str,
    /// The file that the network was read from.
    file: &'a str,
    /// The rule set that it was checked by.
    rules: RulesJson<'a>,
    /// What there is, and how much was found.
    totals: Totals<'a>,
    /// What is wrong or not known: violations first, then by place in the file.
    findings: Vec<FindingJson<'a>>,
    /// What only a visit can settle.
    confirm_on_site: Vec<OnSiteJson<'a>>,
    /// How many traps each arrangement protects.
    protected_traps: Vec<ProtectedJson<'a>>,
    /// What each rule came to, in the order of the rule set.
    rules_run: Vec<RuleJson<'a>>,
    /// What the code asks, and no rule of the rule set checks.
    not_checked: Vec<MatterJson<'a>>,
    /// Every element that a rule holds for; only where it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    passes: Option<Vec<PassJson>>,
    /// What a reader has to bear in mind.
    cautions: &'static [&'static str],
}

/// An element that a rule holds for.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "pass"))]
struct PassJson {
    /// The rule's name.
    rule: String,
    /// What the element is, in a word or two.
    kind: String,
    /// The element's name in the network file.
    name: String,
    /// The line of the network file that defines it, counted from 1; 0 where an edit has added it since.
    line: u32,
    /// The column, counted from 1; 0 likewise.
    column: u32,
    /// The derivation, step by step.
    workings: Vec<String>,
    /// The same for a program that redoes each step.
    steps: Vec<StepJson>,
}

/// A step of a derivation.
#[derive(Serialize)]
#[serde(tag = "step", rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "step"))]
enum StepJson {
    /// A fact was measured.
    Fact {
        /// The fact's name.
        fact: String,
        /// What came of it.
        value: ShownJson,
    },
    /// A table's cell was read.
    Cell {
        /// The table's name.
        table: String,
        /// What it was looked up by.
        keys: BTreeMap<String, ShownJson>,
        /// The name of the table's column.
        column: String,
        /// What the cell says.
        value: ShownJson,
        /// Where it is written.
        place: PlaceJson,
    },
    /// A figure was reckoned from those before it.
    Reckoned {
        /// What came of it.
        value: ShownJson,
    },
    /// The fact was compared.
    Compared {
        /// The limit, where the fact was held to one.
        limit: Option<ShownJson>,
        /// What came of it.
        outcome: OutcomeJson,
    },
    /// A condition has parts of which at least one must hold, or one that must not.
    Parts {
        /// `any of` or `not`.
        how: String,
        /// The steps of the parts.
        steps: Vec<StepJson>,
    },
    /// A trap was seen as these shapes, of which the rule set has arrangements.
    Shapes {
        /// Their names, the plainest first.
        patterns: Vec<String>,
    },
    /// An arrangement's conditions were judged.
    Arrangement {
        /// Its name.
        arrangement: String,
        /// The steps of each condition in turn.
        conditions: Vec<Vec<StepJson>>,
    },
    /// The message and the advice tell these figures, beside those that decide.
    Told {
        /// One fact or reckoning after the other.
        steps: Vec<StepJson>,
    },
}

/// A place in a rule file.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "place"))]
struct PlaceJson {
    /// The file, or the name of a published one.
    file: String,
    /// The line, counted from 1.
    line: usize,
    /// The column, counted from 1.
    column: usize,
}

/// What came of a step.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "shown"))]
struct ShownJson {
    /// In words.
    text: String,
    /// The name of the value's dimension; `not_permitted`, `no_limit`, `absent` or `open` where there is no value.
    is: &'static str,
    /// The value: of a size, word or truth value as files write it, else a whole number or fraction. Lengths are in
    /// nanometres, slopes fall over length, angles in microdegrees, loads in thousandths, flows in picolitres a
    /// minute, volumes in picolitres, temperatures in 900ths of a kelvin, times in seconds, velocities in nanometres a
    /// second, ratios in parts of 720 million.
    exact: Option<String>,
}

/// What came of a comparison.
#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "outcome")
)]
enum OutcomeJson {
    /// It holds.
    Yes,
    /// It does not.
    No,
    /// It cannot be told.
    Open,
}

/// The rule set that the network was checked by.
#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "rule_set")
)]
struct RulesJson<'a> {
    /// Its name.
    name: &'a str,
    /// The document that it re-expresses.
    document: &'a str,
    /// That document's edition.
    edition: &'a str,
    /// The rule set's own revision.
    revision: u32,
    /// The amendments laid over it, in order, those that are not in force too.
    amendments: Vec<AmendmentJson<'a>>,
}

/// An amendment laid over the rule set.
#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "amendment")
)]
struct AmendmentJson<'a> {
    /// Its name.
    name: &'a str,
    /// Its title.
    title: &'a str,
    /// Where it is law, from the widest to the narrowest.
    jurisdiction: &'a [String],
    /// The ordinance, code or rule that makes the changes.
    document: &'a str,
    /// Its edition, year or date.
    edition: &'a str,
    /// The day from which it is in force, as year-month-day.
    from: Option<String>,
    /// The first day on which it no longer is.
    until: Option<String>,
    /// Whether it is in force on the day of the check.
    in_force: bool,
    /// The same in words.
    standing: String,
    /// How many of its changes do not hold.
    changes_that_do_not_hold: usize,
    /// Whether it is real law or made up for a demonstration.
    origin: &'static str,
}

/// What there is, and how much was found.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "totals"))]
struct Totals<'a> {
    /// Fixtures in the network.
    fixtures: usize,
    /// Pipes in the network.
    pipes: usize,
    /// The load at the point of disposal, or between which ends it lies, as `7 dfu to 9 dfu`; null where neither is
    /// known, left out where the rule set counts no loads.
    #[serde(skip_serializing_if = "Option::is_none")]
    load: Option<Option<&'a str>>,
    /// Elements found against the code.
    violations: usize,
    /// Elements that need the authority's permission.
    needs_approval: usize,
    /// Elements found against good practice.
    advice: usize,
    /// Elements for which it cannot be told.
    undetermined: usize,
    /// Findings that are counted here but not listed: a rule that is broken in very many places is listed for
    /// the first of them only.
    findings_omitted: usize,
    /// Of `stack` and `building_drain`, the kinds by which the file calls no run, so that their rules were asked of
    /// nothing.
    kinds_without_a_run: Vec<&'static str>,
    /// Drains of runs without a kind that lead plumb from one storey to a lower one, where other runs are stacks: rules
    /// on stacks are not asked of them.
    unmarked_stacks: &'a [String],
    /// What findings ask for, of other elements that do not state it either: it may be asked for next.
    missing_elsewhere: Vec<String>,
    /// How many passages through framing the rule set asks nothing of.
    passages_unasked: usize,
}

/// A rule that an element breaks, or that cannot be settled for it.
#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "finding")
)]
struct FindingJson<'a> {
    /// The rule's name.
    rule: &'a str,
    /// The rule's title.
    title: &'a str,
    /// Whether the rule is broken, or it cannot be told.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["violated", "undetermined"])))]
    verdict: &'static str,
    /// How serious a breach is.
    #[cfg_attr(feature = "schema", schemars(with = "Severity"))]
    severity: &'static str,
    /// What the rule speaks about.
    #[cfg_attr(feature = "schema", schemars(with = "crownweir_rulebook::Subject"))]
    subject: &'static str,
    /// What the element is, in a word or two.
    kind: &'a str,
    /// The element's name in the network file.
    name: &'a str,
    /// The storey it is on.
    storey: Option<&'a str>,
    /// The line of the network file that defines it, counted from 1; 0 where an edit has added it since.
    line: u32,
    /// The column, counted from 1; 0 likewise.
    column: u32,
    /// What is the matter, for people.
    message: &'a str,
    /// The figure measured, in the network's notation.
    measured: Option<&'a str>,
    /// The limit that it was compared with.
    limit: Option<&'a str>,
    /// How far the figure is from the limit; below zero when beyond it.
    headroom: Option<&'a str>,
    /// What the network or the rule set must state before it can be told.
    missing: Vec<String>,
    /// Where the rule comes from.
    citation: CitationJson<'a>,
    /// What to do about it.
    advice: Option<&'a str>,
    /// What a reader should know and no network can show.
    notes: &'a [String],
    /// What amendments have changed in the rule.
    changes: &'a [String],
    /// The derivation, step by step; only where it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    workings: Option<Vec<String>>,
    /// The same for a program that redoes each step.
    #[serde(skip_serializing_if = "Option::is_none")]
    steps: Option<Vec<StepJson>>,
}

/// Where a rule comes from, and how it is known.
#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "citation")
)]
struct CitationJson<'a> {
    /// The citation in words.
    text: String,
    /// The document.
    document: &'a str,
    /// Its edition.
    edition: &'a str,
    /// Section or table; none for common practice.
    section: Option<&'a str>,
    /// How it is known, in words.
    basis: &'static str,
    /// The day on which it was last compared with its source, as year-month-day.
    checked: Option<&'a str>,
    /// What a reader should know.
    note: Option<&'a str>,
    /// The amendment that set it, where one did.
    #[serde(skip_serializing_if = "Option::is_none")]
    set_by: Option<SetByJson<'a>>,
    /// The citation, in words, of what stood in its place before.
    #[serde(skip_serializing_if = "Option::is_none")]
    amends: Option<String>,
}

/// An amendment, and where in its file it sets a value or a rule.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "set_by"))]
struct SetByJson<'a> {
    /// The amendment's name.
    amendment: &'a str,
    /// Its file.
    file: &'a str,
    /// The line in it.
    line: usize,
}

/// What the code asks, and no rule checks.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "matter"))]
struct MatterJson<'a> {
    /// The matter's name.
    matter: &'a str,
    /// What is not checked.
    title: &'a str,
    /// Where the code asks it.
    citation: CitationJson<'a>,
}

/// Something that only a visit can settle.
#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "on_site")
)]
struct OnSiteJson<'a> {
    /// The rule's name.
    rule: &'a str,
    /// What to look at.
    message: &'a str,
    /// How many elements it concerns.
    count: usize,
    /// The names of the first of them.
    examples: &'a [String],
    /// Where the rule comes from.
    citation: CitationJson<'a>,
}

/// How many traps an arrangement protects.
#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "protected_traps")
)]
struct ProtectedJson<'a> {
    /// The arrangement's title.
    arrangement: &'a str,
    /// How many traps.
    traps: usize,
    /// Where the arrangement comes from.
    citation: CitationJson<'a>,
}

/// What a rule came to.
#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "rule_summary")
)]
struct RuleJson<'a> {
    /// The rule's name.
    rule: &'a str,
    /// The rule's title.
    title: &'a str,
    /// Elements that the rule speaks about.
    subjects: usize,
    /// Elements that it does not apply to.
    not_applicable: usize,
    /// Elements that it holds for.
    satisfied: usize,
    /// Elements that break it.
    violated: usize,
    /// Elements for which it cannot be told.
    undetermined: usize,
    /// Elements to be looked at on site.
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

/// The report as indented JSON. `workings` gives the derivation to add to each finding, none for none; with `passes`, that
/// of every pass is added too.
///
/// # Errors
/// None is known: every part has a JSON form. The error type is the serialiser's.
pub fn json(
    report: &Report,
    workings: &dyn Fn(&Finding) -> Option<Vec<Step>>,
    passes: Option<&Measured<'_>>,
) -> Result<String, Unwritable> {
    let count = |severity| report.count(Verdict::Violated, severity);
    let whole = ReportJson {
        crownweir: FORMAT,
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
            load: report.counts_loads.then_some(report.load.as_deref()),
            violations: count(Severity::Violation),
            needs_approval: count(Severity::NeedsApproval),
            advice: count(Severity::Advice),
            undetermined: report.summary.iter().map(|row| row.undetermined).sum(),
            findings_omitted: report.omitted,
            kinds_without_a_run: report.unnamed.iter().map(|kind| kind.name()).collect(),
            unmarked_stacks: &report.unmarked_stacks,
            missing_elsewhere: report.missing_elsewhere.iter().map(ToString::to_string).collect(),
            passages_unasked: report.passages_unasked,
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
        not_checked: report
            .not_checked
            .iter()
            .map(|matter| MatterJson {
                matter: &matter.name,
                title: &matter.title,
                citation: citation(&matter.citation),
            })
            .collect(),
        passes: passes.map(|measured| {
            let rules = measured.rules().rules.iter();
            let of_rules = rules.flat_map(|rule| measured.passes(rule));
            measured
                .passes_of_protection()
                .chain(of_rules)
                .map(pass)
                .collect()
        }),
        cautions: crate::CAUTIONS,
    };
    written(&whole)
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
        missing: finding.needed(),
        citation: citation(&finding.citation),
        advice: finding.advice.as_deref(),
        notes: &finding.notes,
        changes: &finding.changes,
        workings: steps.as_deref().map(crate::workings),
        steps: steps.map(in_order),
    }
}

fn pass(pass: Pass) -> PassJson {
    PassJson {
        workings: crate::workings(&pass.steps),
        rule: pass.rule,
        kind: pass.kind,
        name: pass.name,
        line: pass.position.line,
        column: pass.position.column,
        steps: in_order(pass.steps),
    }
}

fn in_order(steps: Vec<Step>) -> Vec<StepJson> {
    steps.into_iter().filter_map(step).collect()
}

fn step(step: Step) -> Option<StepJson> {
    Some(match step {
        Step::Fact { fact, value } => StepJson::Fact {
            fact: fact.to_owned(),
            value: shown(value),
        },
        Step::Cell {
            table,
            keys,
            column,
            content,
            place,
            ..
        } => StepJson::Cell {
            table,
            keys: keys.into_iter().map(|(key, value)| (key, shown(value))).collect(),
            column,
            value: shown(content),
            place: PlaceJson {
                file: place.file.to_string(),
                line: place.line,
                column: place.column,
            },
        },
        Step::Reckoned { value, .. } => StepJson::Reckoned { value: shown(value) },
        Step::Compared { limit, outcome, .. } => StepJson::Compared {
            limit: limit.map(shown),
            outcome: match outcome {
                Outcome::Satisfied => OutcomeJson::Yes,
                Outcome::Violated => OutcomeJson::No,
                Outcome::Undetermined(_) => OutcomeJson::Open,
            },
        },
        Step::Parts { how, steps } => StepJson::Parts {
            how: how.to_owned(),
            steps: in_order(steps),
        },
        Step::Shapes { patterns } => StepJson::Shapes {
            patterns: patterns.into_iter().map(str::to_owned).collect(),
        },
        Step::Arrangement { name, conditions, .. } => StepJson::Arrangement {
            arrangement: name,
            conditions: conditions.into_iter().map(in_order).collect(),
        },
        Step::Told { steps } => StepJson::Told {
            steps: in_order(steps),
        },
        _ => return None,
    })
}

fn shown(shown: Shown) -> ShownJson {
    ShownJson {
        text: shown.text,
        is: shown.is,
        exact: shown.exact,
    }
}
