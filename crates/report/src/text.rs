//! The report as text, for a person at a terminal of eighty columns.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use crownweir_evaluate::{Finding, Missing, Report, Step, Verdict};
use crownweir_rulebook::{Basis, Citation, Origin, Severity};

use crate::listing::within;
use crate::plain::plain;

/// What every report closes with.
pub const CAUTIONS: &[&str] = &[
    "An aid to reading a drawing: not an approval, not engineering, not the code. The rule set re-expresses \
     figures; the adopted code with its local amendments, a licensed plumber and the authority having \
     jurisdiction decide. Built work may differ from what was modelled here.",
    "Never test plastic pipe with compressed air beyond what the code and the maker allow: it can burst. \
     Restrain test plugs and stand clear of them.",
    "Ventilate and keep flames away when solvent-cementing. Cap open ends against sewer gas.",
    "Do not cut, notch or bore joists, trusses or studs beyond what the code, the maker's hole chart or an \
     engineer allows.",
];

const WIDTH: usize = 80;
pub(crate) const NAMES: usize = 6;

pub(crate) const BOLD: Style = Style::new().bold();
const RED: Style = AnsiColor::Red.on_default().bold();
const YELLOW: Style = AnsiColor::Yellow.on_default().bold();
const GREEN: Style = AnsiColor::Green.on_default().bold();
const DIM: Style = Style::new().dimmed();

pub(crate) fn paint(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}

pub(crate) fn plural(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// A citation with its basis, which common practice is by itself.
pub(crate) fn cited(citation: &Citation) -> String {
    match citation.basis {
        Basis::CommonPractice => citation.to_string(),
        basis => format!("{citation} ({})", basis.name()),
    }
}

/// Where a finding comes from: the citation and the rule.
pub(crate) fn by_rule(finding: &Finding) -> String {
    format!("{} - rule {}", cited(&finding.citation), finding.rule)
}

pub(crate) fn wrapped(out: &mut String, first: &str, rest: &str, text: &str) {
    let options = textwrap::Options::new(WIDTH)
        .initial_indent(first)
        .subsequent_indent(rest)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .break_words(false);
    for line in textwrap::wrap(text, options) {
        out.push_str(&line);
        out.push('\n');
    }
}

/// A text of this crate without the escape codes that set its style, for what is no terminal.
///
/// ```
/// assert_eq!(crownweir_report::without_escapes("\u{1b}[1mThree-bath house\u{1b}[0m, 24 dfu"), "Three-bath house, 24 dfu");
/// ```
#[must_use]
pub fn without_escapes(text: &str) -> String {
    let mut parts = text.split("\u{1b}[");
    let mut plain = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        plain.push_str(part.split_once('m').map_or("", |(_, rest)| rest));
    }
    plain
}

/// The report with the escape codes of a terminal; for what is none, [`without_escapes`] takes them out.
/// `workings` gives the derivation to show under each finding.
#[must_use]
pub fn text(report: &Report, workings: &dyn Fn(&Finding) -> Option<Vec<Step>>) -> String {
    let mut out = String::new();
    head(&mut out, report);
    let mut number = 0;
    for (verdict, severity, title) in [
        (Verdict::Violated, Severity::Violation, "Violations"),
        (
            Verdict::Violated,
            Severity::NeedsApproval,
            "Allowed only with the authority's approval",
        ),
        (
            Verdict::Violated,
            Severity::Advice,
            "Advice: trade practice, not code",
        ),
    ] {
        let list = report
            .findings
            .iter()
            .filter(|one| (one.verdict, one.severity) == (verdict, severity));
        for (index, entry) in together(list, workings).into_iter().enumerate() {
            if index == 0 {
                let _ = writeln!(out, "{}\n", paint(BOLD, title));
            }
            one(&mut out, report, number + 1, &entry);
            number += 1 + entry.alike.len();
        }
    }
    undetermined(&mut out, report, workings);
    if report.omitted > 0 {
        let more = plural(report.omitted, "finding", "findings");
        let what = format!("{more} more of the same rules are not listed; the table below counts them.");
        wrapped(&mut out, "  ", "  ", &what);
        out.push('\n');
    }
    on_site(&mut out, report);
    summary(&mut out, report);
    let _ = writeln!(out, "{}\n", paint(BOLD, "Cautions"));
    for caution in CAUTIONS {
        wrapped(&mut out, "  - ", "    ", caution);
    }
    out
}

fn head(out: &mut String, report: &Report) {
    let _ = writeln!(out, "{}", paint(BOLD, &report.network));
    let _ = writeln!(
        out,
        "by {} {}, rule set {} revision {}",
        report.document, report.edition, report.rules, report.revision
    );
    for layer in &report.layers {
        let (one, standing) = (&layer.amendment, layer.standing);
        let invented = if one.origin == Origin::Invented {
            ", invented"
        } else {
            ""
        };
        let void = match layer.void {
            0 => String::new(),
            void => format!(", without {void} of its changes"),
        };
        let from = one.from.map_or_else(String::new, |day| format!(" from {day}"));
        let what = format!(
            "amended by {}: {}, {} {}{from} ({standing}{void}{invented})",
            one.name,
            one.jurisdiction.join(", "),
            one.document,
            one.edition,
        );
        wrapped(out, "", "  ", &what);
        // A longer one is for the page.
        for note in layer.notes.iter().map(|note| format!("  note: {}", plain(note))) {
            if note.chars().count() <= WIDTH {
                let _ = writeln!(out, "{note}");
            }
        }
    }
    let load = match (report.counts_loads, &report.load) {
        (false, _) => String::new(),
        (true, Some(load)) => format!(", {load} at the point of disposal"),
        (true, None) => ", a load not known at the point of disposal".to_owned(),
    };
    let _ = writeln!(
        out,
        "{}, {}{load}\n",
        plural(report.fixtures, "fixture", "fixtures"),
        plural(report.pipes, "pipe", "pipes")
    );
    let violations = report.count(Verdict::Violated, Severity::Violation);
    let approvals = report.count(Verdict::Violated, Severity::NeedsApproval);
    let advice = report.count(Verdict::Violated, Severity::Advice);
    let open = undetermined_count(report);
    let (style, word) = match (violations, approvals + open) {
        (0, 0) => (GREEN, "No violation found"),
        (0, _) => (YELLOW, "No violation found, but not everything could be settled"),
        _ => (RED, "Not as the code asks"),
    };
    let _ = writeln!(out, "{}", paint(style, word));
    let counts = format!(
        "{}, {} approval, {} undetermined, {} of advice, {} to confirm on site",
        plural(violations, "violation", "violations"),
        plural(approvals, "needs", "need"),
        open,
        plural(advice, "piece", "pieces"),
        plural(report.on_site.len(), "matter", "matters")
    );
    wrapped(out, "", "", &counts);
    for unasked in unasked(report) {
        wrapped(out, "", "", &unasked);
    }
    out.push('\n');
}

/// What of the rules was asked of nothing, and of what no rule asked.
pub(crate) fn unasked(report: &Report) -> impl Iterator<Item = String> {
    let kinds = unnamed(report).into_iter().chain(unmarked(report));
    kinds.chain(unframed(report))
}

/// Says which drains look like a stack that is not marked as one.
fn unmarked(report: &Report) -> Option<String> {
    let first = report.unmarked_stacks.first()?;
    let (others, lead, them) = match report.unmarked_stacks.len() {
        1 => (String::new(), "leads", "it"),
        count => (format!(" and {} more", count - 1), "lead", "them"),
    };
    Some(format!(
        "`{}`{others} {lead} plumb from storey to storey in a run without a kind: the rules for stacks are not asked of {them}",
        plain(first)
    ))
}

/// Says that what the file states of framing is not checked, and by what it can be.
fn unframed(report: &Report) -> Option<String> {
    let passages = match report.passages_unasked {
        0 => return None,
        1 => "the passage through framing was".to_owned(),
        many => format!("the {many} passages through framing were"),
    };
    Some(match &report.framing_rules {
        Some(rules) => {
            format!(
                "{passages} not checked: the rule set `{}` does that",
                plain(rules)
            )
        }
        None => format!("{passages} not checked: this rule set has no rules for framing"),
    })
}

/// Says of which runs the file has none, for their rules were asked of nothing.
fn unnamed(report: &Report) -> Option<String> {
    let kinds: Vec<String> = report
        .unnamed
        .iter()
        .map(|kind| format!("`{}`", kind.name()))
        .collect();
    (!kinds.is_empty()).then(|| {
        let rules = if kinds.len() == 1 {
            "its rules were"
        } else {
            "their rules were"
        };
        format!(
            "no run is of the kind {}: {rules} asked of nothing",
            kinds.join(" or ")
        )
    })
}

fn undetermined_count(report: &Report) -> usize {
    report.summary.iter().map(|row| row.undetermined).sum()
}

/// What a finding is about, with its storey.
pub(crate) fn subject(finding: &Finding) -> String {
    match &finding.storey {
        Some(storey) => format!("{} `{}`, storey {storey}", finding.kind, finding.name),
        None => format!("{} `{}`", finding.kind, finding.name),
    }
}

/// A finding, with the later ones of which the same is said. How each was reached is another matter, so that what is shown
/// with its workings stands by itself.
struct Entry<'f> {
    finding: &'f Finding,
    alike: Vec<&'f Finding>,
    steps: Option<Vec<Step>>,
}

/// Findings in their order, those of which the same is said together.
fn together<'f>(
    findings: impl Iterator<Item = &'f Finding>,
    workings: &dyn Fn(&Finding) -> Option<Vec<Step>>,
) -> Vec<Entry<'f>> {
    let mut list: Vec<Entry<'_>> = Vec::new();
    let mut told: BTreeMap<(&str, String), usize> = BTreeMap::new();
    for finding in findings {
        let said = (finding.kind.as_str(), said(finding));
        match told.get(&said).and_then(|&first| list.get_mut(first)) {
            Some(entry) => entry.alike.push(finding),
            None => {
                let steps = workings(finding);
                if steps.is_none() {
                    told.insert(said, list.len());
                }
                list.push(Entry {
                    finding,
                    alike: Vec::new(),
                    steps,
                });
            }
        }
    }
    list
}

/// What is said of the element that a finding is about.
fn said(finding: &Finding) -> String {
    let mut out = String::new();
    wrapped(&mut out, "     ", "     ", &finding.message);
    if let (Some(measured), Some(limit)) = (&finding.measured, &finding.limit) {
        let mut line = format!("measured {}, limit {}", measured.text, limit.text);
        if let Some((word, amount)) = headroom(finding) {
            let _ = write!(line, ", {} {amount}", word.to_lowercase());
        }
        wrapped(&mut out, "     ", "     ", &line);
    }
    if let Some(advice) = &finding.advice {
        wrapped(&mut out, "     to do: ", "     ", advice);
    }
    wrapped(&mut out, "     ", "     ", &by_rule(finding));
    if let Some(set_by) = &finding.citation.set_by {
        let what = format!(
            "{}, {}:{}",
            set_by.amendment.name, set_by.place.file, set_by.place.line
        );
        wrapped(&mut out, "     set by ", "     ", &what);
    }
    for change in &finding.changes {
        wrapped(&mut out, "     ", "     ", change);
    }
    for note in &finding.notes {
        wrapped(&mut out, "     note: ", "     ", note);
    }
    out
}

fn one(out: &mut String, report: &Report, number: usize, entry: &Entry<'_>) {
    let Entry {
        finding,
        alike,
        steps,
    } = entry;
    let style = match finding.severity {
        Severity::Violation => RED,
        _ => YELLOW,
    };
    let place = format!(
        "{}:{}:{}",
        report.file, finding.position.line, finding.position.column
    );
    let what = subject(finding);
    let gap = WIDTH.saturating_sub(5 + what.chars().count() + place.chars().count());
    if gap > 0 {
        let _ = writeln!(
            out,
            "{} {}{}{}",
            paint(style, &format!("{number:>3}.")),
            paint(BOLD, &what),
            " ".repeat(gap),
            paint(DIM, &place)
        );
    } else {
        let _ = writeln!(
            out,
            "{} {}\n     {}",
            paint(style, &format!("{number:>3}.")),
            paint(BOLD, &what),
            paint(DIM, &place)
        );
    }
    if let Some(last) = alike.len().checked_sub(1) {
        let numbers = match last {
            0 => format!("{}", number + 1),
            _ => format!("{} to {}", number + 1, number + alike.len()),
        };
        let others = alike.iter().map(|other| {
            format!(
                "`{}` ({}:{})",
                other.name, other.position.line, other.position.column
            )
        });
        let others = others.collect::<Vec<_>>().join(", ");
        wrapped(out, "     ", "     ", &format!("and {numbers}: {others}"));
    }
    out.push_str(&said(finding));
    for line in steps.iter().flat_map(|steps| crate::workings(steps)) {
        wrapped(out, "       | ", "       |   ", &line);
    }
    out.push('\n');
}

/// How far the figure measured is from the limit, and to which side.
pub(crate) fn headroom(finding: &Finding) -> Option<(&'static str, String)> {
    let (measured, limit) = (finding.measured.as_ref()?, finding.limit.as_ref()?);
    let headroom = finding.headroom.as_ref()?;
    let under = measured.value.compare(limit.value) == Some(std::cmp::Ordering::Less);
    let (about, amount) = match headroom.text.strip_prefix("about ") {
        Some(amount) => ("about ", amount),
        None => ("", headroom.text.as_str()),
    };
    Some(match amount.strip_prefix('-') {
        Some(amount) if under => ("Short by", format!("{about}{amount}")),
        Some(amount) => ("Over by", format!("{about}{amount}")),
        None => ("Headroom", headroom.text.clone()),
    })
}

fn names(list: &[&str], count: usize) -> String {
    let shown: Vec<_> = list.iter().take(NAMES).map(|name| format!("`{name}`")).collect();
    match count.saturating_sub(shown.len()) {
        0 => shown.join(", "),
        more => format!("{} and {more} more", shown.join(", ")),
    }
}

/// What is missing, what is missing of many elements of a kind told at once, with as many names as are to be shown.
pub(crate) fn needed<'m>(missing: impl Iterator<Item = &'m Missing>, most: usize) -> Vec<String> {
    let mut missing: Vec<&Missing> = missing.collect();
    missing.sort_unstable();
    missing.dedup();
    let alike = |a: &&Missing, b: &&Missing| match (a, b) {
        (
            Missing::OfElement { datum, kind, .. },
            Missing::OfElement {
                datum: other_datum,
                kind: other_kind,
                ..
            },
        ) => (datum, kind) == (other_datum, other_kind),
        _ => false,
    };
    let group = |group: &[&Missing]| {
        let first = group.first().map(ToString::to_string).unwrap_or_default();
        let further = group.get(1..most.min(group.len())).unwrap_or_default();
        let further = further.iter().filter_map(|one| match one {
            Missing::OfElement { name, .. } => Some(format!(", `{name}`")),
            _ => None,
        });
        let more = match group.len().saturating_sub(most) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        format!("{first}{}{more}", further.collect::<String>())
    };
    missing.chunk_by(alike).map(group).collect()
}

/// What cannot be told, one entry for each rule: the same datum is often missing in many places.
fn undetermined(out: &mut String, report: &Report, workings: &dyn Fn(&Finding) -> Option<Vec<Step>>) {
    let open: Vec<&Finding> = report
        .findings
        .iter()
        .filter(|one| one.verdict == Verdict::Undetermined)
        .collect();
    if open.is_empty() {
        return;
    }
    let _ = writeln!(
        out,
        "{}\n",
        paint(
            BOLD,
            "Undetermined: the network or the rule set does not state enough"
        )
    );
    let mut rules: Vec<&str> = open.iter().map(|one| one.rule.as_str()).collect();
    rules.sort_unstable();
    rules.dedup();
    for rule in rules {
        let of_rule: Vec<&&Finding> = open.iter().filter(|one| one.rule == rule).collect();
        let Some(first) = of_rule.first() else { continue };
        let mut subjects: Vec<&str> = of_rule.iter().map(|one| one.name.as_str()).collect();
        subjects.dedup();
        let _ = writeln!(out, "  {} {}", paint(YELLOW, "?"), paint(BOLD, &first.title));
        wrapped(out, "     for ", "     ", &names(&subjects, subjects.len()));
        let missing = of_rule.iter().flat_map(|one| &one.missing);
        let needed = needed(missing, NAMES).join("; ");
        wrapped(out, "     needed: ", "     ", &needed);
        wrapped(
            out,
            "     ",
            "     ",
            &format!("{} - rule {rule}", first.citation),
        );
        for line in workings(first).iter().flat_map(|steps| crate::workings(steps)) {
            wrapped(out, "       | ", "       |   ", &line);
        }
        out.push('\n');
    }
    let elsewhere = needed(report.missing_elsewhere.iter(), NAMES);
    if !elsewhere.is_empty() {
        let line = format!("{ELSEWHERE} {}", elsewhere.join("; "));
        wrapped(out, "  ", "  ", &line);
        out.push('\n');
    }
}

/// Says of data that are missing elsewhere, too, when they are asked for.
pub(crate) const ELSEWHERE: &str = "Not stated either, and may be asked for once those above are:";

fn on_site(out: &mut String, report: &Report) {
    if report.on_site.is_empty() {
        return;
    }
    let _ = writeln!(
        out,
        "{}\n",
        paint(BOLD, "To confirm on site: no file can settle these")
    );
    for visit in &report.on_site {
        let examples: Vec<&str> = visit.examples.iter().map(String::as_str).collect();
        let mut line = visit.message.clone();
        if !examples.is_empty() {
            let _ = write!(line, " ({})", names(&examples, visit.count));
        }
        wrapped(out, "  [ ] ", "      ", &line);
        wrapped(out, "      ", "      ", &visit.citation.to_string());
    }
    out.push('\n');
}

fn summary(out: &mut String, report: &Report) {
    let _ = writeln!(out, "{}\n", paint(BOLD, "What was checked"));
    for protected in &report.protected {
        let traps = plural(protected.traps, "trap is", "traps are");
        wrapped(
            out,
            "  ",
            "    ",
            &format!(
                "{traps} protected by {} ({})",
                protected.arrangement, protected.citation
            ),
        );
    }
    if !report.protected.is_empty() {
        out.push('\n');
    }
    let _ = writeln!(
        out,
        "  {:<36} {:>8} {:>8} {:>8} {:>8}",
        "rule", "applied", "held", "broken", "open"
    );
    let mut idle = Vec::new();
    for row in &report.summary {
        let applied = row.satisfied + row.violated + row.undetermined;
        if row.on_site > 0 {
            continue;
        }
        if applied == 0 {
            idle.push(row.rule.as_str());
            continue;
        }
        let _ = writeln!(
            out,
            "  {:<36} {applied:>8} {:>8} {:>8} {:>8}",
            row.rule, row.satisfied, row.violated, row.undetermined
        );
    }
    out.push('\n');
    if !idle.is_empty() {
        let what = format!("not applicable to anything here: {}", idle.join(", "));
        wrapped(out, "  ", "    ", &what);
        out.push('\n');
    }
    let not_checked = report.not_checked.iter();
    let not_checked: Vec<String> = not_checked
        .map(|matter| {
            format!(
                "{} ({})",
                plain(&matter.title),
                within(&report.document, &matter.citation)
            )
        })
        .collect();
    if !not_checked.is_empty() {
        let what = format!(
            "in the code, and not checked by any rule: {}",
            not_checked.join("; ")
        );
        wrapped(out, "  ", "    ", &what);
        out.push('\n');
    }
}
