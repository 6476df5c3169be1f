//! `crownweir shop`.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::builder::{PossibleValue, PossibleValuesParser};
use clap::{Args, ValueEnum};
use crownweir::quantity::Length;
use crownweir::shop::{self, Sheet, SheetKind};

use crate::input::{self, ForPipes, Trouble};
use crate::output;
use crate::sheets::{self, Beside, Made};

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
    /// Write a file of the fittings whose dimensions are missing, to be filled in and given with `--fittings`.
    #[arg(long, value_name = "FILE")]
    form: Option<PathBuf>,
    /// What each cut loses to the saw, such as `1/16 in`, or `0 in` for nothing; without it, what is usual in practice.
    #[arg(long, value_name = "LENGTH")]
    kerf: Option<Length>,
    /// The rule set for its pipes, and amendments after it, as for `check`; without it, the one that the network names.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]")]
    rules: Option<String>,
    /// The rule set for holes in framing, likewise; without it, the one that the network names, or that goes with the rule
    /// set for its pipes.
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
    /// For a spreadsheet, as plain text: one table to a file.
    Csv,
    /// For a spreadsheet, all sheets in one workbook (ISO/IEC 29500).
    Spreadsheet,
    /// For programs.
    Json,
}

impl Format {
    fn extension(self) -> &'static str {
        match self {
            Self::Text => "txt",
            Self::Csv => "csv",
            Self::Spreadsheet => "xlsx",
            Self::Json => "json",
        }
    }
}

fn names() -> Vec<PossibleValue> {
    let names = SheetKind::ALL
        .iter()
        .map(|kind| PossibleValue::new(kind.name).help(kind.about));
    names.collect()
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let output = arguments.output.as_deref().map(Path::new);
    if output.is_some() && output == arguments.form.as_deref() {
        let message = "`--form` and `--output` name the same file; one would be lost";
        return Err(Trouble::Plain(message.to_owned()));
    }
    let network = input::network(&arguments.network)?;
    let on = arguments.on.day()?;
    let rules = match (&arguments.rules, network.rules()) {
        (None, None) => None,
        (asked, _) => Some(input::rules_for(&network, asked.as_deref(), on)?),
    };
    let pipes = rules.as_ref().map(|rules| ForPipes {
        rules,
        asked: arguments.rules.as_deref(),
    });
    let beside = Beside {
        dimensions: sheets::dimensions(&network, &arguments.fittings)?,
        practice: sheets::practice(arguments.practice.as_deref())?,
        kerf: arguments.kerf,
        rules: rules.as_ref(),
        framing_rules: input::framing_rules_for(&network, arguments.framing_rules.as_deref(), pipes, on)?,
    };
    let kinds: Vec<&SheetKind> = match arguments.sheets.as_slice() {
        [] => SheetKind::ALL.iter().collect(),
        names => names.iter().filter_map(|name| SheetKind::named(name)).collect(),
    };
    let Made {
        sheets,
        mut unbuildable,
        form,
    } = sheets::made(&network, &beside, kinds.into_iter())?;
    if let Some(file) = &arguments.form {
        match form {
            Some(form) => output::deliver(&form, Some(file), &arguments.network)?,
            None => output::warn("no dimension of a fitting is missing: no form is written"),
        }
    }
    let format = arguments.format;
    match output {
        _ if format == Format::Spreadsheet => {
            let file = match output {
                Some(folder) if folder.is_dir() => folder.join(format!("sheets.{}", format.extension())),
                Some(file) => file.to_owned(),
                None => {
                    let message = "a workbook is not text: name a file or a folder for it with `--output`";
                    return Err(Trouble::Plain(message.to_owned()));
                }
            };
            let bytes = shop::workbook(&sheets).map_err(|error| cannot(&error))?;
            output::save(&[(file, bytes)], &arguments.network)?;
        }
        Some(folder) if folder.is_dir() => {
            let mut files = Vec::new();
            for sheet in &sheets {
                let name = format!("{}.{}", sheet.name, format.extension());
                let text = written(std::slice::from_ref(sheet), format)?;
                files.push((folder.join(name), output::plain(&text)));
            }
            output::save(&files, &arguments.network)?;
        }
        file => output::deliver(&written(&sheets, format)?, file, &arguments.network)?,
    }
    input::with_lines(&mut unbuildable, &arguments.network);
    input::show(&unbuildable);
    Ok(ExitCode::from(u8::from(!unbuildable.is_empty())))
}

fn cannot(error: &dyn std::fmt::Display) -> Trouble {
    Trouble::Plain(format!("cannot write the sheets: {error}"))
}

/// Sheets as text.
fn written(sheets: &[Sheet], format: Format) -> Result<String, Trouble> {
    match (format, sheets) {
        (Format::Json, _) => output::in_lines(shop::json(sheets)),
        (Format::Csv, [sheet]) => sheet.csv().map_err(|error| cannot(&error)),
        (Format::Csv, _) => Err(Trouble::Plain(
            "CSV holds one table: name one with `--sheet`, or a folder that exists with `--output`"
                .to_owned(),
        )),
        (Format::Text | Format::Spreadsheet, _) => Ok(shop::text(sheets)),
    }
}
