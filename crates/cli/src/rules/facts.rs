//! `crownweir rules facts`.

use std::fmt::Write as _;
use std::process::ExitCode;

use anstyle::Style;
use clap::Args;
use crownweir::rulebook::Dimension;
use crownweir::{Fact, Subject, nearest};

use crate::input::Trouble;
use crate::output;

const BOLD: Style = Style::new().bold();
const WIDTH: usize = 80;

#[derive(Args)]
pub(crate) struct Arguments {
    /// Only what a rule with this subject can speak of.
    #[arg(long, value_name = "SUBJECT")]
    subject: Option<String>,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let facts: Vec<Fact> = match &arguments.subject {
        None => Fact::ALL.to_vec(),
        Some(name) => subject(name)?.facts().collect(),
    };
    let mut text = String::new();
    let mut family = None;
    for fact in facts {
        if family.replace(fact.family()) != Some(fact.family()) {
            let _ = writeln!(
                text,
                "{}rules about: {}\n",
                if text.is_empty() { "" } else { "\n" },
                subjects(fact)
            );
        }
        let _ = writeln!(text, "{BOLD}{}{BOLD:#} ({})", fact.name(), kind(fact.dimension()));
        let options = textwrap::Options::new(WIDTH)
            .initial_indent("    ")
            .subsequent_indent("    ");
        let _ = writeln!(text, "{}", textwrap::fill(fact.measured(), &options));
        if let Dimension::Word(words) = fact.dimension() {
            let _ = writeln!(
                text,
                "{}",
                textwrap::fill(&format!("words: {}", words.join(", ")), &options)
            );
        }
    }
    output::print(&text)?;
    Ok(ExitCode::SUCCESS)
}

fn subject(name: &str) -> Result<Subject, Trouble> {
    name.parse().map_err(|_| {
        let near = nearest(name, Subject::NAMES.iter().copied());
        let near = near.map(|near| format!("did you mean `{near}`? "));
        Trouble::Plain(format!(
            "`{name}` is not a subject; {}subjects: {}",
            near.unwrap_or_default(),
            Subject::NAMES.join(", ")
        ))
    })
}

/// The subjects whose rules can speak of a fact.
fn subjects(fact: Fact) -> String {
    let all = Subject::ALL.iter().filter(|subject| subject.sees(fact.family()));
    all.map(|subject| subject.name()).collect::<Vec<_>>().join(", ")
}

fn kind(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Truth => "true or false",
        other => other.name(),
    }
}
