//! `crownweir mend`.

use std::process::ExitCode;

use clap::Args;
use crownweir::propose::{Change, MendError, Mending, Trials, Verified, changed, mend, needless, verified};
use crownweir::{Document, Limits, Measured, Network, RuleSet, report};

use crate::input::{self, Trouble};
use crate::output::{self, Format};

#[derive(Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    chosen: input::NetworkByRules,
    /// How to print the remedies.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Write remedies into the network file, all else in it as it stands: those of the findings of these numbers, such
    /// as `3` for the first remedy of finding 3 or `3.2` for its second; without numbers, the first of each that states no
    /// fact of the site.
    #[arg(long, value_name = "CHOICE", num_args = 0..)]
    write: Option<Vec<Choice>>,
}

/// A finding and one of its remedies, both counted from 1.
#[derive(Debug, Clone, Copy)]
struct Choice {
    finding: usize,
    remedy: usize,
}

impl std::str::FromStr for Choice {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (finding, remedy) = text.split_once('.').unwrap_or((text, "1"));
        let number = |text: &str| text.parse::<usize>().ok().filter(|number| *number > 0);
        match (number(finding), number(remedy)) {
            (Some(finding), Some(remedy)) => Ok(Self { finding, remedy }),
            _ => Err(
                "a choice is a finding's number, or that, a point and a remedy's number, such as `3.2`"
                    .to_owned(),
            ),
        }
    }
}

impl std::fmt::Display for Choice {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}.{}", self.finding, self.remedy)
    }
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let limits = Limits::default();
    let mut document = input::document(&arguments.chosen.network, &limits)?;
    let network = Network::from_document(&document, &limits).map_err(Trouble::InFile)?;
    let rules = arguments.chosen.rules_for(&network)?;
    let trouble = |error: MendError| match error {
        MendError::Network(problems) => Trouble::InFile(problems),
        MendError::Sizes(unknown) => input::unknown_sizes(&unknown, &rules),
        other => Trouble::Plain(other.to_string()),
    };
    let beside = beside(arguments, &network, &rules)?;
    let beside: Vec<&RuleSet> = beside.iter().collect();
    let mendings = mend(&document, &rules, &beside, &limits, Trials::default()).map_err(trouble)?;
    let printed = match arguments.format {
        Format::Text => report::mending_text(&network, &rules, &beside, &mendings),
        Format::Json => output::in_lines(report::mending_json(&network, &rules, &beside, &mendings))?,
    };
    output::print(&printed)?;
    let Some(choices) = &arguments.write else {
        return Ok(ExitCode::from(u8::from(!mendings.is_empty())));
    };
    let as_it_stood = document.clone();
    let mut written: Vec<(Choice, &Vec<Change>)> = Vec::new();
    for choice in chosen(choices, &mendings)? {
        let Some((mending, remedy)) = mendings
            .get(choice.finding - 1)
            .and_then(|mending| Some((mending, mending.remedies.get(choice.remedy - 1)?)))
        else {
            continue;
        };
        // Those before it may have cleared it, or stand in its way.
        let made: Vec<Change> = written
            .iter()
            .flat_map(|(_, changes)| *changes)
            .cloned()
            .collect();
        let (finding, changes) = (&mending.finding, &remedy.changes);
        match verified(&document, &rules, &beside, &limits, finding, changes, &made).map_err(trouble)? {
            Verified::Clears(text) => {
                document = Document::read(&arguments.chosen.network, text.as_bytes(), &limits)
                    .map_err(Trouble::InFile)?;
                written.push((choice, changes));
            }
            Verified::Undoes(place) => {
                let of = written
                    .iter()
                    .flat_map(|(choice, changes)| changes.iter().map(move |_| choice));
                let other = of
                    .into_iter()
                    .nth(place)
                    .map_or_else(String::new, ToString::to_string);
                output::warn(&format!(
                    "{choice}: not written, for it would undo a length of {other}; mend again to have it offered anew"
                ));
            }
            Verified::Unmakeable(error) => output::warn(&format!("{choice}: not written; {error}")),
            Verified::Cleared => warn_of_needless(choice),
            Verified::Fails => output::warn(&format!(
                "{choice}: not written, for beside the others it does not clear its finding or brings another; mend again to have others offered"
            )),
        }
    }
    // What came first may have become needless by what came after it.
    let made: Vec<&[Change]> = written.iter().map(|(_, changes)| changes.as_slice()).collect();
    let left_out = needless(&as_it_stood, &rules, &beside, &limits, &made).map_err(trouble)?;
    if !left_out.is_empty() {
        let mut kept = Vec::new();
        for (place, one) in written.into_iter().enumerate() {
            if left_out.contains(&place) {
                warn_of_needless(one.0);
            } else {
                kept.push(one);
            }
        }
        written = kept;
        let kept: Vec<Change> = written
            .iter()
            .flat_map(|(_, changes)| *changes)
            .cloned()
            .collect();
        let text =
            changed(&as_it_stood, &kept, &limits).map_err(|error| Trouble::Plain(error.to_string()))?;
        document =
            Document::read(&arguments.chosen.network, text.as_bytes(), &limits).map_err(Trouble::InFile)?;
    }
    output::write_file(&arguments.chosen.network, document.text())?;
    let network = Network::from_document(&document, &limits).map_err(Trouble::InFile)?;
    let left = Measured::new(&network, &rules)
        .map_err(|unknown| trouble(unknown.into()))?
        .check();
    let choices: Vec<String> = written.iter().map(|(choice, _)| choice.to_string()).collect();
    let choices = match choices.is_empty() {
        true => "nothing written".to_owned(),
        false => format!("written: {}", choices.join(", ")),
    };
    let what = match left.findings.len() + left.omitted {
        0 => format!("{choices}; nothing is found any more"),
        1 => format!("{choices}; 1 finding is left"),
        count => format!("{choices}; {count} findings are left"),
    };
    output::print(&format!("\n{what}\n"))?;
    Ok(ExitCode::from(u8::from(left.has_violations())))
}

fn warn_of_needless(choice: Choice) {
    output::warn(&format!("{choice}: not needed any more, for others clear it too"));
}

/// What judges remedies beside the rule set that asks for them: of a network with framing, of the rules for its framing and
/// those for its pipes the other.
fn beside(arguments: &Arguments, network: &Network, rules: &RuleSet) -> Result<Option<RuleSet>, Trouble> {
    let on = arguments.chosen.on.day()?;
    let beside = match rules.speaks_of_framing() {
        true if network.rules().is_none() => None,
        true => Some(input::rules_for(network, None, on)?),
        false => input::framing_rules_for(network, None, Some(arguments.chosen.for_pipes(rules)), on)?,
    };
    let beside = beside.filter(|beside| beside.called() != rules.called());
    if let Some(beside) = &beside {
        Measured::new(network, beside).map_err(|unknown| input::unknown_sizes(&unknown, beside))?;
    }
    Ok(beside)
}

/// The choices asked for, or of every finding the first remedy that states no fact of the site: nobody has yet looked
/// whether it is one, and where there is no other remedy that is told.
fn chosen(choices: &[Choice], mendings: &[Mending]) -> Result<Vec<Choice>, Trouble> {
    if choices.is_empty() {
        let first = |(finding, mending): (usize, &Mending)| {
            let place = mending.remedies.iter().position(|remedy| !remedy.is_of_site());
            if place.is_none() && !mending.remedies.is_empty() {
                output::warn(&format!(
                    "{finding}: not written, for it is for the site to bear out; where one of its remedies is so, give its number"
                ));
            }
            Some(Choice {
                finding,
                remedy: 1 + place?,
            })
        };
        return Ok((1..).zip(mendings).filter_map(first).collect());
    }
    for choice in choices {
        let remedies = mendings
            .get(choice.finding - 1)
            .map_or(0, |mending| mending.remedies.len());
        if choice.remedy > remedies {
            return Err(Trouble::Plain(format!(
                "finding {} has no remedy {}; nothing is written",
                choice.finding, choice.remedy
            )));
        }
    }
    Ok(choices.to_vec())
}
