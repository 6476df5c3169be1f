//! An inventory of what the program says of a faulty file: each message with an input that brings it about, and the
//! place that it is told at.
//!
//! `RENEW_DIAGNOSTICS=1 cargo test --release -p crownweir-tests --test all diagnostics` writes it anew from the cases.

use std::path::{Path, PathBuf};

use crownweir::proof::Example;
use crownweir::shop::{Dimensions, Practice};
use crownweir::{Day, Diagnostics, Limits, Network, RuleSet, Text, published};
use serde::Deserialize;

use crownweir_tests::sources::{sources, texts_given_to};

/// The crates that read files and values.
const CRATES: [&str; 7] = [
    "document",
    "network",
    "proof",
    "quantity",
    "rulebook",
    "shop",
    "vocabulary",
];

/// What programs that edit a network are told; no file brings it about.
const OF_NO_FILE: &str = "network/src/edit.rs";

/// What a message is given to in the sources.
const GIVEN_TO: [&str; 5] = [
    "problem(",
    "problem_at(",
    "Diagnostic::at(",
    "#[error(",
    "::custom(",
];

/// An input with something wrong in it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    /// As what it is read.
    read: Kind,
    /// The shipped file that it is made from; without one the text is given whole.
    of: Option<String>,
    /// A line of that file, without what it is indented by; the first that is alike.
    line: Option<String>,
    /// What stands in its place, or the whole text.
    text: String,
    /// What `<repeated>` in the text stands for, and how many times over.
    repeated: Option<(String, usize)>,
    /// An amendment that is laid over the base before.
    after: Option<String>,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Network,
    Ruleset,
    Amendment,
    Example,
    Dimensions,
    Practice,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("diagnostics")
}

fn project(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

impl Kind {
    /// What is wrong with a text.
    fn problems(self, name: &str, text: &str, after: Option<&str>) -> Diagnostics {
        let (bytes, limits) = (text.as_bytes(), Limits::default());
        let read = match self {
            Self::Network => Network::read(name, bytes, &limits).map(|_| ()),
            Self::Ruleset => RuleSet::read(name, bytes, &limits).map(|_| ()),
            Self::Example => Example::read(name, bytes, &limits).map(|_| ()),
            Self::Dimensions => Dimensions::read(name, bytes, &limits).map(|_| ()),
            Self::Practice => Practice::read(name, bytes, &limits).map(|_| ()),
            Self::Amendment => {
                let base = Text {
                    name: "ipc-2021",
                    bytes: published::text("ipc-2021").expect("the base").as_bytes(),
                };
                let day: Day = "2026-11-25".parse().expect("a day");
                let mut texts = vec![Text { name, bytes }];
                if let Some(first) = after {
                    let bytes = first.as_bytes();
                    texts.insert(
                        0,
                        Text {
                            name: "first.yaml",
                            bytes,
                        },
                    );
                }
                RuleSet::amended(base, &texts, day, &limits).map(|_| ())
            }
        };
        read.err().unwrap_or_else(|| Diagnostics::keeping(1))
    }
}

impl Case {
    /// The file's name and the whole text.
    fn whole(&self) -> (String, String) {
        let (Some(of), Some(line)) = (&self.of, &self.line) else {
            let repeated = self.repeated.as_ref().map(|(what, times)| what.repeat(*times));
            let text = self.text.replace("<repeated>", &repeated.unwrap_or_default());
            return ("input.yaml".to_owned(), text);
        };
        let text = project(of);
        let mut found = false;
        let mut lines = Vec::new();
        for own in text.lines() {
            if !found && own.trim_start() == line {
                found = true;
                let indent = own.len() - own.trim_start().len();
                lines.extend(self.text.lines().map(|line| format!("{}{line}", &own[..indent])));
            } else {
                lines.push(own.to_owned());
            }
        }
        assert!(found, "{of} has no line `{line}`");
        let name = of.rsplit('/').next().unwrap_or_default().to_owned();
        (name, lines.join("\n") + "\n")
    }

    fn entry(&self) -> String {
        let (name, whole) = self.whole();
        let problems = self.read.problems(&name, &whole, self.after.as_deref());
        let mut entry = match (&self.of, &self.line) {
            (Some(of), Some(line)) if self.text.is_empty() => {
                format!("{of} without the line\n\n    {line}\n")
            }
            (Some(of), Some(line)) => format!(
                "{of} with\n\n    {}\n\nin place of\n\n    {line}\n",
                self.text.replace('\n', "\n    ")
            ),
            _ => format!(
                "{:?}\n\n    {}\n",
                self.read,
                self.text.trim_end().replace('\n', "\n    ")
            ),
        };
        if let Some((what, times)) = &self.repeated {
            entry.push_str(&format!(
                "\nwhere `<repeated>` is `{}`, {times} times over\n",
                what.escape_debug()
            ));
        }
        if let Some(first) = &self.after {
            entry.push_str(&format!(
                "\nafter first.yaml\n\n    {}\n",
                first.trim_end().replace('\n', "\n    ")
            ));
        }
        entry.push('\n');
        for problem in &problems.list {
            entry.push_str(&format!("- {problem}\n"));
        }
        assert!(!problems.list.is_empty(), "nothing is wrong with: {entry}");
        entry
    }
}

fn cases() -> Vec<Case> {
    let path = folder().join("cases.yaml");
    let text = std::fs::read_to_string(path).expect("the cases");
    serde_yaml::from_str(&text).unwrap_or_else(|error| panic!("{error}"))
}

fn inventory() -> String {
    let mut text = "# What is said of faulty files\n\nMade from `cases.yaml`: each input, and what is told of it, with file, line and column. An amendment is laid over\n`ipc-2021`.\n".to_owned();
    for (number, case) in cases().iter().enumerate() {
        text.push_str(&format!("\n## {}\n\n{}", number + 1, case.entry()));
    }
    text
}

#[test]
fn each_problem_is_told_as_the_inventory_has_it() {
    let path = folder().join("inventory.md");
    let inventory = inventory();
    if std::env::var_os("RENEW_DIAGNOSTICS").is_some() {
        std::fs::write(&path, &inventory).expect("written");
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    let differs = kept
        .lines()
        .zip(inventory.lines())
        .find(|(one, other)| one != other);
    assert!(
        kept == inventory,
        "the inventory differs, first at {differs:?}; RENEW_DIAGNOSTICS=1 writes it anew"
    );
}

/// Each message that stands as text in the sources, which may vary in part, is said of some case.
#[test]
fn every_message_of_the_sources_has_an_example() {
    // What would have been accepted is set off otherwise in a text than in a problem.
    let said = inventory().replace("; expected ", ", expected ");
    let said: Vec<&str> = said.lines().filter(|line| line.starts_with("- ")).collect();
    let mut sources = sources(&CRATES);
    sources.retain(|(file, _)| file != OF_NO_FILE);
    let templates = texts_given_to(&GIVEN_TO, &sources);
    assert!(templates.len() > 170, "{}", templates.len());
    let open: Vec<String> = templates
        .into_iter()
        .filter(|template| !said.iter().any(|line| template.is_said_by(line)))
        .map(|template| format!("{}: {}", template.file, template.text))
        .collect();
    assert!(open.is_empty(), "no case in cases.yaml brings about:\n{open:#?}");
}
