//! A rule set's worked examples: those that the program carries for a published one, or a folder's.

use std::path::{Path, PathBuf};

use clap::Args;
use crownweir::proof::Example;
use crownweir::{Limits, RuleSet, published};

use crate::input::{self, Trouble};

/// The examples of each published rule set: file name and text.
const PUBLISHED: &[(&str, &[(&str, &str)])] = include!(concat!(env!("OUT_DIR"), "/examples.rs"));

#[derive(Args)]
pub(crate) struct Chosen {
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it.
    #[arg(value_name = "NAME-OR-FILE[+AMENDMENT...]", default_value = "ipc-2021")]
    rules: String,
    /// The folder of worked examples; without it, those published with the rule set, or the folder `examples`
    /// beside its file: an amendment's own have to be asked for.
    #[arg(long, value_name = "FOLDER")]
    examples: Option<PathBuf>,
    #[command(flatten)]
    on: input::On,
}

impl Chosen {
    /// The rule set without its amendments.
    pub(crate) fn base(&self) -> Result<RuleSet, Trouble> {
        input::rules(input::base_of(&self.rules), self.on.day()?)
    }

    /// The rule set and its examples.
    pub(crate) fn read(&self) -> Result<(RuleSet, Vec<Example>), Trouble> {
        let rules = input::rules(&self.rules, self.on.day()?)?;
        let base = input::base_of(&self.rules);
        let examples = match &self.examples {
            Some(folder) => of_folder(folder)?,
            None if published::text(base).is_some() => of_published(base)?,
            None => {
                let beside = Path::new(base)
                    .parent()
                    .unwrap_or(Path::new("."))
                    .join("examples");
                if !beside.is_dir() {
                    return Err(Trouble::Plain(format!(
                        "`{base}` has no worked examples: there is no folder `{}` beside it, and `--examples` names none",
                        beside.display()
                    )));
                }
                of_folder(&beside)?
            }
        };
        Ok((rules, examples))
    }
}

fn read(name: &str, text: &[u8], limits: &Limits) -> Result<Example, Trouble> {
    Example::read(name, text, limits).map_err(Trouble::InFile)
}

fn of_published(rules: &str) -> Result<Vec<Example>, Trouble> {
    let found = PUBLISHED.iter().find(|(name, _)| *name == rules);
    let files = found.map(|(_, files)| *files).unwrap_or_default();
    let limits = Limits::default();
    files
        .iter()
        .map(|(name, text)| read(&format!("{rules}/examples/{name}"), text.as_bytes(), &limits))
        .collect()
}

fn of_folder(folder: &Path) -> Result<Vec<Example>, Trouble> {
    let cannot =
        |error: std::io::Error| Trouble::Plain(format!("cannot read `{}`: {error}", folder.display()));
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(cannot)? {
        let path = entry.map_err(cannot)?.path();
        if path
            .extension()
            .is_some_and(|extension| extension == "yaml" || extension == "json")
        {
            paths.push(path);
        }
    }
    paths.sort();
    if paths.is_empty() {
        return Err(Trouble::Plain(format!(
            "there is no worked example in `{}`; expected files that end in `.yaml`",
            folder.display()
        )));
    }
    let limits = Limits::default();
    paths
        .iter()
        .map(|path| {
            let name = path.display().to_string();
            read(&name, &input::bytes(&name, &limits)?, &limits)
        })
        .collect()
}
