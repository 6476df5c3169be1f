//! The findings of the page: what is broken, what is open, what only a visit can settle.

use crownweir_evaluate::{Finding, Verdict};
use crownweir_rulebook::{Citation, Severity};
use maud::{Markup, PreEscaped, html};

use super::{Page, named, steps};
use crate::marks::{Numbered, OpenGroup, broken_mark, open_mark};
use crate::plain::plain;
use crate::text::headroom;

/// Size of the picture beside a finding.
const PICTURE: (i32, i32) = (340, 200);
/// Findings past so many have no picture: the drawing has them all.
const MOST_PICTURES: usize = 150;
/// How many names, or missing data, of one rule are listed.
const MOST_NAMES: usize = 40;

impl Page<'_> {
    pub(super) fn findings(&self) -> Markup {
        let of = |severity| {
            let of_severity = move |one: &&Numbered<'_>| one.finding.severity == severity;
            self.broken.iter().filter(of_severity)
        };
        html! {
            section #findings aria-labelledby="findings-title" {
                h2 #findings-title { "Findings" }
                @if self.broken.is_empty() { p { "No rule was found broken." } }
                @for (severity, title) in [
                    (Severity::Violation, "Violations"),
                    (Severity::NeedsApproval, "Allowed only with the authority's approval"),
                    (Severity::Advice, "Advice: trade practice, not code"),
                ] {
                    @if of(severity).next().is_some() {
                        h3 { (title) " (" (self.report.count(Verdict::Violated, severity)) ")" }
                        @for numbered in of(severity) { (self.finding(numbered)) }
                    }
                }
                @if self.report.omitted > 0 {
                    p {
                        (self.report.omitted)
                        " more findings of the same rules are not listed; the table of what was checked counts them."
                    }
                }
            }
        }
    }

    fn finding(&self, numbered: &Numbered<'_>) -> Markup {
        let Numbered { number, finding } = *numbered;
        let (class, word) = match finding.severity {
            Severity::NeedsApproval => ("approval", "Needs approval"),
            Severity::Advice => ("advice", "Advice"),
            _ => ("violation", "Violation"),
        };
        let mark = broken_mark(number);
        html! {
            article #{ "finding-" (number) } .finding .(class) tabindex="-1" aria-labelledby={ "finding-title-" (number) } {
                h4 #{ "finding-title-" (number) } {
                    span .number-mark { (number) }
                    " " (finding.kind) " " (named(&finding.name))
                    @if let Some(storey) = &finding.storey { ", storey " (named(storey)) }
                }
                p .severity { (word) ": " (plain(&finding.title)) }
                @if number <= MOST_PICTURES { (self.picture(&mark)) }
                p .message { (plain(&finding.message)) }
                (figures(finding))
                @if let Some(advice) = &finding.advice { p .todo { strong { "To do: " } (plain(advice)) } }
                (cited(&finding.citation))
                p .cite { "Rule " code { (plain(&finding.rule)) } ", " (self.place(finding)) (self.link(&mark)) }
                @for change in &finding.changes { p .cite { (plain(change)) } }
                @for note in &finding.notes { p .note { "Note: " (plain(note)) } }
                h5 { "How it was reached" }
                (steps(&self.measured.workings_of(finding)))
            }
        }
    }

    fn picture(&self, mark: &str) -> Markup {
        let sheet = self
            .sheet_of
            .get(mark)
            .and_then(|&sheet| self.drawing.sheets.get(sheet));
        let picture = sheet.and_then(|sheet| sheet.picture(mark, PICTURE.0, PICTURE.1));
        html! {
            @if let Some(picture) = picture {
                a .picture href={ "#" (mark) } tabindex="-1" aria-hidden="true" { (PreEscaped(picture)) }
            }
        }
    }

    fn link(&self, mark: &str) -> Markup {
        html! {
            @if let Some(sheet) = self.sheet_of.get(mark) {
                ". " a href={ "#" (mark) } { "Show in the drawing" @if self.drawing.sheets.len() > 1 { ", sheet " (sheet + 1) } }
            }
        }
    }

    fn place(&self, finding: &Finding) -> String {
        let position = finding.position;
        format!("line {} column {} of the file", position.line, position.column)
    }

    pub(super) fn undetermined(&self) -> Markup {
        html! {
            @if !self.open.is_empty() {
                section #undetermined aria-labelledby="undetermined-title" {
                    h2 #undetermined-title { "Undetermined" }
                    p { "The network or the rule set does not state enough to tell. Undetermined never counts as passed." }
                    @for group in self.open { (self.open_group(group)) }
                    @let elsewhere = crate::text::needed(self.report.missing_elsewhere.iter(), MOST_NAMES);
                    @if !elsewhere.is_empty() {
                        p { (crate::text::ELSEWHERE) }
                        ul { @for datum in &elsewhere { li { (plain(datum)) } } }
                    }
                }
            }
        }
    }

    fn open_group(&self, group: &OpenGroup<'_>) -> Markup {
        let Some(first) = group.findings.first() else {
            return html! {};
        };
        let number = group.number;
        let missing = group.findings.iter().flat_map(|finding| &finding.missing);
        let needed = crate::text::needed(missing, MOST_NAMES);
        html! {
            article #{ "open-" (number) } .finding .open tabindex="-1" aria-labelledby={ "open-title-" (number) } {
                h3 #{ "open-title-" (number) } { span .number-mark { "?" (number) } " " (plain(&first.title)) }
                p {
                    "For "
                    @for (place, finding) in group.findings.iter().take(MOST_NAMES).enumerate() {
                        @if place > 0 { ", " }
                        @let mark = open_mark(number, place);
                        @if self.sheet_of.contains_key(mark.as_str()) {
                            a href={ "#" (mark) } { (named(&finding.name)) }
                        } @else { (named(&finding.name)) }
                    }
                    (more(group.findings.len()))
                    "."
                }
                p .todo { strong { "Needed:" } }
                ul {
                    @for datum in needed.iter().take(MOST_NAMES) { li { (plain(datum)) } }
                    @if needed.len() > MOST_NAMES { li { (needed.len() - MOST_NAMES) " more" } }
                }
                (cited(&first.citation))
                p .cite { "Rule " code { (plain(&first.rule)) } }
                h5 { "How far it was reached" @if group.findings.len() > 1 { ", for the first" } }
                (steps(&self.measured.workings_of(first)))
            }
        }
    }

    pub(super) fn on_site(&self) -> Markup {
        let list = &self.report.on_site;
        html! {
            @if !list.is_empty() {
                section #on-site aria-labelledby="on-site-title" {
                    h2 #on-site-title { "To confirm on site" }
                    p { "No file can settle these." }
                    ul .tick {
                        @for visit in list {
                            li {
                                (plain(&visit.message))
                                @if !visit.examples.is_empty() {
                                    " ("
                                    @for (place, name) in visit.examples.iter().enumerate() {
                                        @if place > 0 { ", " } (named(name))
                                    }
                                    @if visit.count > visit.examples.len() { " and " (visit.count - visit.examples.len()) " more" }
                                    ")"
                                }
                                " " span .cite { (visit.citation) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn more(count: usize) -> Markup {
    html! { @if count > MOST_NAMES { " and " (count - MOST_NAMES) " more" } }
}

/// Measured value, limit, and what lies between.
fn figures(finding: &Finding) -> Markup {
    html! {
        @if let (Some(measured), Some(limit)) = (&finding.measured, &finding.limit) {
            dl .figures {
                div { dt { "Measured" } dd { (plain(&measured.text)) } }
                div { dt { "Limit" } dd { (plain(&limit.text)) } }
                @if let Some((word, amount)) = headroom(finding) { div { dt { (word) } dd { (plain(&amount)) } } }
            }
        }
    }
}

fn cited(citation: &Citation) -> Markup {
    html! {
        p .cite {
            (plain(&crate::text::cited(citation)))
            @if let Some(set_by) = &citation.set_by {
                "; set by " (plain(&set_by.amendment.name)) ", " (named(&set_by.place.file)) " line " (set_by.place.line)
            }
            @if let Some(amended) = &citation.amends { "; before: " (plain(&amended.to_string())) }
        }
    }
}
