//! `crownweir shop`.

use std::path::Path;
use std::process::ExitCode;

use clap::builder::{PossibleValue, PossibleValuesParser};
use clap::{Args, ValueEnum};
use crownweir::quantity::Length;
use crownweir::shop::{self, ALL, Dimensions, Job, Kind, Practice, Sheet};
use crownweir::{Limits, Measured, Network, RuleSet};

use crate::input::{self, Trouble};
use crate::output;

#[derive(Args)]
pub(crate) struct Arguments {
    /// The network file, in YAML or JSON.
    network: String,
    /// The sheets wanted; without it, all of them.
    #[arg(long = "sheet", value_name = "NAME", value_parser = PossibleValuesParser::new(names()))]
    sheets: Vec<String>,
    /// A file of dimensions that go before those that come with the program; may be given several times, the last
    /// goes before the others.
    #[arg(long, value_name = "FILE")]
    fittings: Vec<String>,
    /// What each cut loses to the saw, such as `1/8 in`.
    #[arg(long, value_name = "LENGTH", default_value = "0 in")]
    kerf: Length,
    /// The rule set for its pipes, and amendments after it, as for `check`; without it, the one that the network names.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]")]
    rules: Option<String>,
    /// The rule set for holes in framing, likewise; without it, the one that the network names, or `framing-irc-2021`.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]")]
    framing_rules: Option<String>,
    /// A file of practice in place of the one that comes with the program.
    #[arg(long, value_name = "FILE")]
    practice: Option<String>,
    #[command(flatten)]
    on: input::On,
    /// How to write the sheets.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// A file to write to, or a folder, in which each sheet gets a file of its own.
    #[arg(long, value_name = "FILE-OR-FOLDER")]
    output: Option<String>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For a person, on paper or at a terminal.
    Text,
    /// For a spreadsheet: one table to a file.
    Csv,
    /// For programs.
    Json,
}

impl Format {
    fn extension(self) -> &'static str {
        match self {
            Self::Text => "txt",
            Self::Csv => "csv",
            Self::Json => "json",
        }
    }
}

fn names() -> Vec<PossibleValue> {
    let names = ALL
        .iter()
        .map(|kind| PossibleValue::new(kind.name).help(kind.about));
    names.collect()
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let network = input::network(&arguments.network)?;
    let dimensions = dimensions(&arguments.fittings)?;
    let mut job = Job::new(&network, &dimensions)
        .map_err(|problems| input::with_lines(problems, &arguments.network))?;
    job.kerf = arguments.kerf;
    let practice = practice(arguments.practice.as_deref())?;
    job.practice = Some(&practice);
    let on = arguments.on.day()?;
    let rules = match (&arguments.rules, network.rules()) {
        (None, None) => None,
        (asked, _) => Some(input::rules_for(&network, asked.as_deref(), on)?),
    };
    let framing_rules = input::framing_rules_for(&network, arguments.framing_rules.as_deref(), on)?;
    let planned = framing_rules
        .as_ref()
        .map(|rules| shop::with_plates(&network, rules));
    let planned = planned
        .transpose()
        .map_err(|error| Trouble::Plain(error.to_string()))?;
    job.plumbing = measured(&network, rules.as_ref())?;
    job.framing = match &planned {
        Some(planned) => measured(planned, framing_rules.as_ref())?,
        None => None,
    };
    let kinds: Vec<&Kind> = match arguments.sheets.as_slice() {
        [] => ALL.iter().collect(),
        names => names.iter().filter_map(|name| Kind::named(name)).collect(),
    };
    let sheets: Vec<Sheet> = kinds.iter().map(|kind| kind.sheet(&job)).collect();
    let format = arguments.format;
    match &arguments.output {
        None => output::print(&written(&sheets, format)?)?,
        Some(path) if Path::new(path).is_dir() => {
            let mut files = Vec::new();
            for sheet in &sheets {
                let name = format!("{}.{}", sheet.name, format.extension());
                files.push((
                    Path::new(path).join(name),
                    written(std::slice::from_ref(sheet), format)?,
                ));
            }
            output::save(&files, &arguments.network)?;
        }
        Some(path) => output::deliver(
            &written(&sheets, format)?,
            Some(Path::new(path)),
            &arguments.network,
        )?,
    }
    Ok(ExitCode::SUCCESS)
}

fn measured<'a>(network: &'a Network, rules: Option<&'a RuleSet>) -> Result<Option<Measured<'a>>, Trouble> {
    let measured = rules.map(|rules| Measured::new(network, rules));
    measured
        .transpose()
        .map_err(|error| Trouble::Plain(error.to_string()))
}

/// The practice of a file, or else the one that comes with the program.
fn practice(file: Option<&str>) -> Result<Practice, Trouble> {
    let limits = Limits::rules();
    let practice = match file {
        None => Practice::published(),
        Some(file) => Practice::read(file, &input::bytes(file, &limits)?, &limits),
    };
    practice.map_err(Trouble::InFile)
}

/// The dimensions that come with the program, and before them those of files.
fn dimensions(files: &[String]) -> Result<Dimensions, Trouble> {
    let limits = Limits::rules();
    let mut dimensions = Dimensions::published().map_err(Trouble::InFile)?;
    for file in files {
        let bytes = input::bytes(file, &limits)?;
        dimensions = dimensions.with(file, &bytes, &limits).map_err(Trouble::InFile)?;
    }
    Ok(dimensions)
}

fn written(sheets: &[Sheet], format: Format) -> Result<String, Trouble> {
    let failed = |error: String| Trouble::Plain(format!("cannot write the sheets: {error}"));
    match (format, sheets) {
        (Format::Text, _) => Ok(shop::text(sheets)),
        (Format::Json, _) => shop::json(sheets)
            .map(|json| json + "\n")
            .map_err(|error| failed(error.to_string())),
        (Format::Csv, [sheet]) => sheet.csv().map_err(|error| failed(error.to_string())),
        (Format::Csv, _) => Err(Trouble::Plain(
            "CSV holds one table: name one with `--sheet`, or a folder that exists with `--output`"
                .to_owned(),
        )),
    }
}
