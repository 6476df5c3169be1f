//! The report as one page of HTML: works from disk, asks for nothing from elsewhere, runs no script, prints.
//!
//! Everything that comes from an input passes through maud's escaping, or through `escape` in the long tables.

mod findings;
mod schedules;
mod shop;
mod style;

use std::collections::BTreeMap;

use crownweir_drawing::{Drawing, Options};
use crownweir_evaluate::{Measured, Report, Step, Verdict};
use crownweir_rulebook::{Basis, Layer, Origin, Severity, Standing};
use crownweir_shop::Sheet;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::CAUTIONS;
use crate::marks::{self, Numbered, OpenGroup};
use crate::plain::{plain, shortened};

/// Scripts, frames, requests and forms are all refused; styles stand in the page.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";

/// What the parts of the page are made from.
struct Page<'a> {
    measured: &'a Measured<'a>,
    report: &'a Report,
    drawing: &'a Drawing,
    shop: &'a [Sheet],
    broken: &'a [Numbered<'a>],
    open: &'a [OpenGroup<'a>],
    /// The sheet on which each mark is.
    sheet_of: BTreeMap<&'a str, usize>,
}

/// The report as a page, with the shop sheets given.
#[must_use]
pub fn page(measured: &Measured<'_>, report: &Report, shop: &[Sheet], options: Options) -> String {
    let drawing = marks::drawing(measured, report, options);
    let (broken, open) = (marks::broken(report), marks::open(report));
    let sheets = drawing.sheets.iter().enumerate();
    let sheet_of = sheets
        .flat_map(|(number, sheet)| sheet.mark_ids().map(move |id| (id, number)))
        .collect();
    let page = Page {
        measured,
        report,
        drawing: &drawing,
        shop,
        broken: &broken,
        open: &open,
        sheet_of,
    };
    page.whole().into_string()
}

/// Text from a file: in one line, and kept apart from the direction of what stands around it.
fn named(text: &str) -> Markup {
    html! { bdi { (plain(text)) } }
}

impl Page<'_> {
    fn whole(&self) -> Markup {
        let title = format!(
            "{}: check by {}",
            shortened(&self.report.network, 80),
            plain(&self.report.rules)
        );
        html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta http-equiv="Content-Security-Policy" content=(POLICY);
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="generator" content=(concat!("crownweir ", env!("CARGO_PKG_VERSION")));
                    title { (title) }
                    style { (PreEscaped(style::PAGE)) (PreEscaped(crownweir_drawing::STYLE)) }
                }
                body {
                    a .skip href="#findings" { "Skip to the findings" }
                    header { (self.verdict()) }
                    (self.contents())
                    main {
                        (self.findings())
                        (self.undetermined())
                        (self.on_site())
                        (self.drawing())
                        (self.checked())
                        (self.fixtures())
                        (self.pipes())
                        (self.shop())
                        (self.provenance())
                        (cautions())
                    }
                }
            }
        }
    }

    fn count(&self, severity: Severity) -> usize {
        self.report.count(Verdict::Violated, severity)
    }

    fn undetermined_count(&self) -> usize {
        self.report.summary.iter().map(|row| row.undetermined).sum()
    }

    /// What it all came to, before anything else.
    fn verdict(&self) -> Markup {
        let report = self.report;
        let violations = self.count(Severity::Violation);
        let approvals = self.count(Severity::NeedsApproval);
        let undetermined = self.undetermined_count();
        let (class, sign, words) = match (violations, approvals + undetermined) {
            (0, 0) => ("sound", "✓", "No violation found"),
            (0, _) => (
                "open",
                "?",
                "No violation found, but not everything could be settled",
            ),
            _ => ("broken", "✗", "Not as the code asks"),
        };
        html! {
            h1 { (named(&report.network)) }
            p .verdict .(class) { span aria-hidden="true" { (sign) } " " strong { (words) } }
            ul .counts {
                @for (count, one, many) in [
                    (violations, "violation", "violations"),
                    (approvals, "needs approval", "need approval"),
                    (undetermined, "undetermined", "undetermined"),
                    (self.count(Severity::Advice), "piece of advice", "pieces of advice"),
                    (report.on_site.len(), "matter to confirm on site", "matters to confirm on site"),
                ] {
                    li { strong { (count) } " " (if count == 1 { one } else { many }) }
                }
            }
            @for unasked in crate::text::unasked(report) { p { (unasked) "." } }
            dl .facts {
                div { dt { "Code" } dd { (report.document) " " (report.edition) } }
                div { dt { "Rule set" } dd { (plain(&report.rules)) ", revision " (report.revision) (amended(report)) } }
                div { dt { "Network file" } dd { (named(&report.file)) } }
                div { dt { "Fixtures" } dd { (report.fixtures) } }
                div { dt { "Pipes" } dd { (report.pipes) } }
                @if report.counts_loads {
                    div { dt { "Load at the point of disposal" } dd { (report.load.as_deref().unwrap_or("not known")) } }
                }
            }
            p .aid { "An aid to reading a drawing, not an approval: the adopted code with its local amendments, a licensed plumber and the authority having jurisdiction decide. The cautions at the end are part of this report." }
        }
    }

    fn contents(&self) -> Markup {
        html! {
            nav aria-label="Contents" {
                ul {
                    li { a href="#findings" { "Findings" } }
                    @if !self.open.is_empty() { li { a href="#undetermined" { "Undetermined" } } }
                    @if !self.report.on_site.is_empty() { li { a href="#on-site" { "To confirm on site" } } }
                    li { a href="#drawing" { "Drawing" } }
                    li { a href="#checked" { "What was checked" } }
                    li { a href="#fixtures" { (if self.report.counts_loads { "Fixture units" } else { "Fixtures" }) } }
                    li { a href="#pipes" { "Sizes" } }
                    @if !self.shop.is_empty() { li { a href="#shop" { "Shop sheets" } } }
                    li { a href="#provenance" { "Rules and sources" } }
                    li { a href="#cautions" { "Cautions" } }
                }
            }
        }
    }

    fn drawing(&self) -> Markup {
        let sheets = &self.drawing.sheets;
        // The heading stands on the page of the first sheet, and goes the way that it does.
        let begins_tall = sheets
            .first()
            .is_some_and(|sheet| sheet.size().1 > sheet.size().0);
        let unplaced: usize = sheets.iter().map(crownweir_drawing::Sheet::unplaced).sum();
        html! {
            section #drawing .drawings .tall[begins_tall] aria-labelledby="drawing-title" {
                h2 #drawing-title { "Drawing" }
                p { "Marks bear the numbers of the findings; each leads to its finding and back." }
                @if sheets.len() > 1 {
                    ol .sheets {
                        @for (number, sheet) in (1..).zip(sheets) {
                            li { a href=(format!("#sheet-{number}")) { (plain(sheet.title())) } }
                        }
                    }
                }
                @for (number, sheet) in (1..).zip(sheets) {
                    @let (width, height) = sheet.size();
                    figure #{ "sheet-" (number) } .tall[height > width] {
                        div .scroll tabindex="0" role="region" aria-label=(format!("Drawing, sheet {number}")) {
                            (PreEscaped(sheet.inline()))
                        }
                    }
                }
                @if unplaced > 0 {
                    p { (unplaced) " labels or marks found no room in the drawing; the lists and schedules have all." }
                }
            }
        }
    }

    fn checked(&self) -> Markup {
        let report = self.report;
        let applied =
            |row: &&crownweir_evaluate::RuleSummary| row.satisfied + row.violated + row.undetermined > 0;
        let idle = report
            .summary
            .iter()
            .filter(|row| !applied(row) && row.on_site == 0);
        let idle: Vec<&str> = idle.map(|row| row.title.as_str()).collect();
        html! {
            section #checked aria-labelledby="checked-title" {
                h2 #checked-title { "What was checked" }
                @if !report.protected.is_empty() {
                    h3 { "How traps are protected" }
                    ul {
                        @for protected in &report.protected {
                            li {
                                (protected.traps)
                                @if protected.traps == 1 { " trap by " } @else { " traps by " }
                                (protected.arrangement)
                                " " span .cite { "(" (protected.citation) ")" }
                            }
                        }
                    }
                }
                h3 { "Rules" }
                div .scroll tabindex="0" role="region" aria-label="Rules that were run" {
                    table {
                        thead { tr {
                            th scope="col" { "Rule" }
                            th scope="col" { "Citation" }
                            th scope="col" .number { "Applied to" }
                            th scope="col" .number { "Held" }
                            th scope="col" .number { "Broken" }
                            th scope="col" .number { "Open" }
                        } }
                        tbody {
                            @for row in report.summary.iter().filter(applied) {
                                tr {
                                    th scope="row" { (row.title) }
                                    td .cite { (self.citation_of(&row.rule)) }
                                    td .number { (row.satisfied + row.violated + row.undetermined) }
                                    td .number { (row.satisfied) }
                                    td .number { (row.violated) }
                                    td .number { (row.undetermined) }
                                }
                            }
                        }
                    }
                }
                @if !idle.is_empty() {
                    p { "Not applicable to anything here: " (idle.join("; ")) "." }
                }
                @if !report.not_checked.is_empty() {
                    h3 { "In the code, and not checked by any rule" }
                    ul {
                        @for matter in &report.not_checked {
                            li { (plain(&matter.title)) " " span .cite { "(" (matter.citation) ")" } }
                        }
                    }
                }
            }
        }
    }

    fn citation_of(&self, rule: &str) -> String {
        let rules = self.measured.rules();
        let citation = match rules.rule(rule) {
            Some(rule) => Some(&rule.citation),
            None => {
                let arrangement = rules.arrangements.iter().find(|one| one.name == rule);
                let own = rules.protection.as_ref().filter(|own| own.rule == rule);
                own.map(|own| &own.citation)
                    .or(arrangement.map(|one| &one.citation))
            }
        };
        citation.map(ToString::to_string).unwrap_or_default()
    }

    /// What was checked against, and how it is known.
    fn provenance(&self) -> Markup {
        let rules = self.measured.rules();
        let basis = |basis: Basis| {
            let of_basis = rules.rules.iter().filter(|rule| rule.citation.basis == basis);
            of_basis.count()
        };
        html! {
            section #provenance aria-labelledby="provenance-title" {
                h2 #provenance-title { "Rules and sources" }
                p {
                    (rules.title) ": rule set " code { (plain(&rules.name)) } ", revision " (rules.revision)
                    ", re-expresses figures of " (rules.document) " " (rules.edition) ". It is not the code."
                }
                p {
                    "Of its " (rules.rules.len()) " rules, "
                    (basis(Basis::Published)) " were read in the document or in a page that quotes it, "
                    (basis(Basis::Memory)) " are from memory and are to be compared with the adopted book, "
                    (basis(Basis::CommonPractice)) " are common practice and not code."
                }
                @for note in &rules.notes { p { (note) } }
                h3 { "Amendments" }
                @if rules.layers.is_empty() {
                    p { "None was laid over the rule set. Ask the authority having jurisdiction which apply." }
                } @else {
                    ul { @for layer in &rules.layers { (amendment(layer)) } }
                }
                @if !rules.changes.is_empty() {
                    h3 { "What they change" }
                    ul { @for change in &rules.changes { li { (plain(&change.to_string())) } } }
                }
                p .cite { "Made by crownweir " (env!("CARGO_PKG_VERSION")) "." }
            }
        }
    }
}

fn amended(report: &Report) -> Markup {
    let names: Vec<String> = report
        .layers
        .iter()
        .filter(|layer| layer.standing == Standing::InForce)
        .map(|layer| plain(&layer.amendment.name))
        .collect();
    html! { @if !names.is_empty() { ", amended by " (names.join(", ")) } }
}

fn amendment(layer: &Layer) -> Markup {
    let one = &layer.amendment;
    html! {
        li {
            strong { (plain(&one.title)) } " (" code { (plain(&one.name)) } "): "
            (plain(&one.jurisdiction.join(", "))) ", " (plain(&one.document)) " " (plain(&one.edition))
            @if let Some(from) = one.from { ", from " (from.to_string()) }
            @if let Some(until) = one.until { ", until " (until.to_string()) }
            "; " (layer.standing.to_string())
            @if layer.void > 0 { "; " (layer.void) " of its changes do not hold" }
            @if one.origin == Origin::Invented { "; invented for a demonstration" }
            "."
        }
    }
}

fn cautions() -> Markup {
    html! {
        section #cautions aria-labelledby="cautions-title" {
            h2 #cautions-title { "Cautions" }
            ul { @for caution in CAUTIONS { li { (caution) } } }
        }
    }
}

/// Workings as nested lists.
fn steps(list: &[Step]) -> Markup {
    html! { ol .workings { @for line in crate::workings(list) { li { (plain(&line)) } } } }
}
