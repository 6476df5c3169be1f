//! Remedies for what a check found, as text and as JSON.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use crownweir_document::Unwritable;
use crownweir_evaluate::{Finding, Verdict};
use crownweir_network::Network;
use crownweir_propose::{Change, Mending};
use crownweir_rulebook::RuleSet;
use serde::Serialize;

use crate::json::written;
use crate::text::{BOLD, CAUTIONS, NAMES, by_rule, cited, needed, paint, plural, subject, wrapped};

const GREEN: Style = AnsiColor::Green.on_default().bold();
const YELLOW: Style = AnsiColor::Yellow.on_default().bold();

/// How many are shown of what would then be found.
const SHOWN: usize = 3;

/// A finding that a change would bring, in a line.
fn brought(new: &Finding) -> String {
    let what = match new.verdict {
        Verdict::Violated => new.message.clone(),
        Verdict::Undetermined => {
            let needed = needed(new.missing.iter(), NAMES).join("; ");
            format!("{} cannot be told; needed: {needed}", new.title)
        }
    };
    format!("{} `{}`: {what}", new.kind, new.name)
}

/// The remedy at the places of its finding and among that's remedies, as it is chosen.
fn chosen_by((finding, remedy): (usize, usize)) -> String {
    format!("{}.{}", finding + 1, remedy + 1)
}

/// The remedies for a person at a terminal, with its escape codes, finding by finding; `beside` are the rule sets by which
/// they were judged too.
#[must_use]
pub fn mending_text(network: &Network, rules: &RuleSet, beside: &[&RuleSet], mendings: &[Mending]) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", paint(BOLD, network.name()));
    let _ = writeln!(
        out,
        "remedies by {} {}, rule set {}\n",
        rules.document,
        rules.edition,
        rules.called()
    );
    let is_clearable = |one: &&Mending| !one.remedies.is_empty() || one.cleared_by.is_some();
    let with = mendings.iter().filter(is_clearable).count();
    let what = match mendings.len() {
        0 => "Nothing is found, so nothing is to be mended.".to_owned(),
        all => format!(
            "{with} of {} can be cleared by what is listed. Each remedy has been evaluated: it clears its finding and \
             brings nothing that is not open already.",
            plural(all, "finding", "findings")
        ),
    };
    wrapped(&mut out, "", "", &what);
    let others: Vec<String> = beside.iter().map(|rules| rules.called()).collect();
    let speaks_of_framing_alone = rules.speaks_of_framing() && rules.protection.is_none();
    if with > 0 && !others.is_empty() {
        let judged = format!("Nor does any bring a finding by {}.", others.join(" or "));
        wrapped(&mut out, "", "", &judged);
    } else if with > 0 && speaks_of_framing_alone {
        // What suits the framing may not suit the code for plumbing, which these rules do not know.
        let elsewhere = "These rules speak of framing alone: check the file by its plumbing rules too, once it is mended.";
        wrapped(&mut out, "", "", elsewhere);
    }
    let stated =
        |mending: &Mending| mending.finding.verdict == Verdict::Violated || !mending.remedies.is_empty();
    for (number, mending) in (1..).zip(mendings).filter(|(_, mending)| stated(mending)) {
        let finding = &mending.finding;
        let head = format!(
            "{number:>3}. {} ({}:{})",
            subject(finding),
            network.file(),
            finding.position.line
        );
        let _ = writeln!(out, "\n{}", paint(BOLD, &head));
        wrapped(&mut out, "     ", "     ", &finding.message);
        wrapped(&mut out, "     ", "     ", &by_rule(finding));
        if let Some(places) = mending.cleared_by {
            let also = format!("cleared by {}", chosen_by(places));
            let _ = writeln!(out, "     {}", paint(GREEN, &also));
        } else if mending.remedies.is_empty() {
            let none = match mending.evaluations {
                0 if mending.untried => "not tried: too many findings in so large a network".to_owned(),
                0 => "no remedy of these kinds to try".to_owned(),
                _ => format!(
                    "no remedy among {}",
                    plural(mending.evaluations, "trial", "trials")
                ),
            };
            let _ = writeln!(out, "     {}", paint(YELLOW, &none));
            if let Some(advice) = &finding.advice {
                wrapped(&mut out, "     to do: ", "     ", advice);
            }
        }
        if let Some(nearest) = mending.nearest.as_ref().filter(|_| mending.cleared_by.is_none()) {
            let would = format!(
                "the nearest would clear it: {}; but then:",
                nearest.words.join("; ")
            );
            wrapped(&mut out, "     ", "     ", &would);
            for new in nearest.brings.iter().take(SHOWN) {
                wrapped(&mut out, "     - ", "       ", &brought(new));
            }
            if let more @ 1.. = nearest.brings.len().saturating_sub(SHOWN) {
                let _ = writeln!(out, "     - and {more} more");
            }
        }
        for (choice, remedy) in (1..).zip(&mending.remedies) {
            let mut line = remedy.words.join("; ");
            if remedy.touches > 1 {
                let _ = write!(line, " (written once for {} alike: all change)", remedy.touches);
            }
            if remedy.clears_too > 0 {
                let further = plural(remedy.clears_too, "further finding", "further findings");
                let _ = write!(line, " (clears {further})");
            }
            let mut block = String::new();
            let mark = format!("{number}.{choice}");
            wrapped(&mut block, &format!("     {mark} "), "         ", &line);
            out.push_str(&block.replacen(&mark, &paint(GREEN, &mark), 1));
        }
    }
    let open = mendings.iter().filter(|mending| !stated(mending));
    let missing = open.flat_map(|mending| &mending.finding.missing);
    let needed = needed(missing, NAMES);
    if !needed.is_empty() {
        let _ = writeln!(
            out,
            "\n{}\n",
            paint(BOLD, "To be stated before the rest can be told")
        );
        for needed in needed {
            wrapped(&mut out, "  - ", "    ", &needed);
        }
    }
    let _ = writeln!(out, "\n{}\n", paint(BOLD, "Cautions"));
    for caution in CAUTIONS {
        wrapped(&mut out, "  - ", "    ", caution);
    }
    out
}

#[derive(Serialize)]
struct MendingsJson<'a> {
    crownweir: &'static str,
    network: &'a str,
    rules: &'a str,
    /// The rule sets by which no remedy brings a finding either.
    beside: Vec<&'a str>,
    findings: Vec<MendingJson<'a>>,
    cautions: &'static [&'static str],
}

#[derive(Serialize)]
struct MendingJson<'a> {
    rule: &'a str,
    kind: &'a str,
    name: &'a str,
    storey: Option<&'a str>,
    message: &'a str,
    /// Where the rule comes from, as the text has it.
    citation: String,
    line: u32,
    column: u32,
    trials: usize,
    /// Whether there were none, for so many findings in so large a network.
    untried: bool,
    remedies: Vec<RemedyJson<'a>>,
    /// Where there is no remedy: that of another finding which clears this one too, as it is chosen.
    cleared_by: Option<String>,
    /// Where there is no remedy: what comes nearest to one.
    nearest: Option<NearestJson<'a>>,
}

#[derive(Serialize)]
struct NearestJson<'a> {
    changes: Vec<ChangeJson<'a>>,
    brings: Vec<BroughtJson<'a>>,
}

#[derive(Serialize)]
struct BroughtJson<'a> {
    rule: &'a str,
    kind: &'a str,
    name: &'a str,
    verdict: &'static str,
    message: String,
}

#[derive(Serialize)]
struct RemedyJson<'a> {
    changes: Vec<ChangeJson<'a>>,
    elements_touched: usize,
    clears_further_findings: usize,
}

#[derive(Serialize)]
struct ChangeJson<'a> {
    change: &'static str,
    of: &'a str,
    words: &'a str,
    /// Whether it alters no pipework, and is only to be stated where the site is so.
    fact_of_site: bool,
}

fn changes<'a>(changes: &'a [Change], words: &'a [String]) -> Vec<ChangeJson<'a>> {
    let of = |(change, words): (&'a Change, &'a String)| ChangeJson {
        change: change.kind(),
        of: change.of(),
        words,
        fact_of_site: change.is_of_site(),
    };
    changes.iter().zip(words).map(of).collect()
}

impl<'a> BroughtJson<'a> {
    fn of(new: &'a Finding) -> Self {
        Self {
            rule: &new.rule,
            kind: &new.kind,
            name: &new.name,
            verdict: match new.verdict {
                Verdict::Violated => "violated",
                Verdict::Undetermined => "undetermined",
            },
            message: new.message.clone(),
        }
    }
}

/// The same for programs. Later versions may add keys, and take none away.
///
/// # Errors
/// None that is known of; the serializer's are passed on.
pub fn mending_json(
    network: &Network,
    rules: &RuleSet,
    beside: &[&RuleSet],
    mendings: &[Mending],
) -> Result<String, Unwritable> {
    let findings = mendings.iter().map(|mending| MendingJson {
        rule: &mending.finding.rule,
        kind: &mending.finding.kind,
        name: &mending.finding.name,
        storey: mending.finding.storey.as_deref(),
        message: &mending.finding.message,
        citation: cited(&mending.finding.citation),
        line: mending.finding.position.line,
        column: mending.finding.position.column,
        trials: mending.evaluations,
        untried: mending.untried,
        remedies: mending
            .remedies
            .iter()
            .map(|remedy| RemedyJson {
                changes: changes(&remedy.changes, &remedy.words),
                elements_touched: remedy.touches,
                clears_further_findings: remedy.clears_too,
            })
            .collect(),
        cleared_by: mending.cleared_by.map(chosen_by),
        nearest: mending.nearest.as_ref().map(|nearest| NearestJson {
            changes: changes(&nearest.changes, &nearest.words),
            brings: nearest.brings.iter().map(BroughtJson::of).collect(),
        }),
    });
    written(&MendingsJson {
        crownweir: "remedies/1",
        network: network.name(),
        rules: &rules.name,
        beside: beside.iter().map(|rules| &*rules.name).collect(),
        findings: findings.collect(),
        cautions: CAUTIONS,
    })
}
