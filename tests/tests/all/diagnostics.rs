//! An inventory of what the program says of a faulty file: each message with an input that brings it about, and the
//! place that it is told at.
//!
//! `RENEW_DIAGNOSTICS=1 cargo test --release -p crownweir-tests --test all diagnostics` writes it anew from the cases.

use std::path::{Path, PathBuf};

use crownweir::proof::Example;
use crownweir::shop::{Dimensions, Practice};
use crownweir::{Day, Diagnostics, Limits, Network, RuleSet, Text, published};
use serde::Deserialize;

use crownweir_tests::sources::{Template, phrases, sources, texts_given_to};

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

/// What programs are told that edit or write a network, edit a table or ask for a published rule set; no file brings it
/// about.
const OF_NO_FILE: [&str; 4] = [
    "network/src/edit/",
    "network/src/write/",
    "rulebook/src/cells.rs",
    "rulebook/src/published.rs",
];

/// What a message is given to in the sources.
const GIVEN_TO: [&str; 5] = [
    "problem(",
    "problem_at(",
    "Diagnostic::at(",
    "#[error(",
    "::custom(",
];

/// Variables in which messages are handed on.
const HANDED_ON: [&str; 4] = ["message", "what", "&misread", "circle("];

/// Files in which messages are put together.
const PUT_TOGETHER: [&str; 29] = [
    "document/src/cursor.rs",
    "document/src/decode.rs",
    "document/src/read.rs",
    "document/src/tree.rs",
    "network/src/build.rs",
    "network/src/expand.rs",
    "network/src/framing.rs",
    "network/src/geometry.rs",
    "network/src/heights.rs",
    "network/src/open.rs",
    "network/src/pipes.rs",
    "network/src/plan.rs",
    "network/src/stated.rs",
    "network/src/structure.rs",
    "proof/src/example.rs",
    "proof/src/expected.rs",
    "rulebook/src/amend/apply.rs",
    "rulebook/src/amend/mod.rs",
    "rulebook/src/amend/narrow.rs",
    "rulebook/src/amend/parts.rs",
    "rulebook/src/amend/spot.rs",
    "rulebook/src/amend/values.rs",
    "rulebook/src/flows.rs",
    "rulebook/src/literal.rs",
    "rulebook/src/load.rs",
    "rulebook/src/message.rs",
    "rulebook/src/operand.rs",
    "rulebook/src/reach.rs",
    "rulebook/src/tables.rs",
];

/// Files whose messages are told with the sheets of a network that can be read; the tests of the sheets have them.
const TOLD_ELSEWHERE: [&str; 2] = ["network/src/anchor.rs", "shop/src/angles.rs"];

/// Texts of these files that are part of no problem: what an amendment has changed, keys that go together, and what
/// problems of others are known by.
const NO_PROBLEM: &[&str] = &[
    ", and more",
    "{document} {edition}, section {}",
    "`{by}` has dropped it",
    "pending, not applied",
    "not in force before {day}, not applied",
    "no longer in force since {day}, not applied",
    "repealed, not applied",
    "the whole rule set",
    ", from {was} to {now}",
    ", before {was}",
    "exception {name} dropped",
    "applies whatever `{fact}` is",
    "arrangement to message",
    "applies only where",
    "a further condition",
    "a condition dropped",
    "a row dropped",
    "`{by}` adds it from {day} on",
    "`{by}` adds it, and is {standing}",
    "does not apply where",
    "only with the authority's permission",
    "`{by}` says the same",
    "rule was to",
    "table was to",
    "arrangement was to",
    "a row added",
    "table row column? to",
    "rule limit order? to",
    "table row column? was to",
    "rule limit order? was to",
    "rule when order? was to",
    "definition was to",
    "severity was to",
    "`{}` says the same",
    "what it means",
    "table row? column? at",
    "rule limit order? at",
    "a flow mapping",
    "parsing a block",
    "floor under the",
    "cap over the",
    "{side} {column}, {count} of its cells",
    "invalid type: integer",
    "invalid type: floating point",
    "expected a string",
    "an array of length ",
    "a Value::Tagged enum",
];

/// Problems without a case.
const NOT_BROUGHT_ABOUT: &[&str] = &[
    // The tests give texts, not bytes; those of the command line have it.
    "the file is not UTF-8 text from here on",
    "save it as UTF-8",
    // The tests of network files have it.
    "{pipes} pipes meet at the {word} `{name}`; at most {MOST_PIPES_AT_A_NODE} may",
    "a fitting for each joint",
    // Those of framing have it.
    "pipes pass one member of `{}` more than {MOST_IN_A_MEMBER} times",
    // Inputs of that size take longer than all others together.
    "{count} rows of framing are laid out; at most {MOST_LAID_OUT} are read",
    "pipes pass more than {most} members; no more are looked at",
    "floors and caps are laid over more than {MOST_BOUNDED} cells",
    // Decoding or the check of keys meets it first.
    "nothing stands here",
    "nothing is connected to the {word} `{name}`",
    "a path that passes it",
    "one of `rule`, `arrangement`, `table` with `row`, `matter` and `section`",
    "`rule` or `arrangement`",
    "a table that can be read",
    "one of `rule`, `table` and `arrangement`",
    "one of `rule`, `arrangement`, `table`, `definition` and `matter`",
    "`limit` or `when` with a fact's name",
    "`table`, `rule`, `severity` or `definition`",
    "`table`, or `rule` with `limit`",
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

/// What is told of the inputs of all cases. What would have been accepted is set off otherwise in a text than in a
/// problem.
fn said() -> Vec<String> {
    let inventory = inventory().replace("; expected ", ", expected ");
    let lines = inventory.lines().filter(|line| line.starts_with("- "));
    lines.map(str::to_owned).collect()
}

fn without_case(templates: impl IntoIterator<Item = Template>) -> Vec<String> {
    let said = said();
    let open = templates
        .into_iter()
        .filter(|template| !said.iter().any(|line| template.is_said_by(line)));
    open.map(|template| format!("{}: {}", template.file, template.text))
        .collect()
}

fn is_of_no_file(file: &str) -> bool {
    OF_NO_FILE.iter().any(|own| file.starts_with(own))
}

/// Each message that stands as text in the sources, which may vary in part, is said of some case.
#[test]
fn every_message_of_the_sources_has_an_example() {
    let mut sources = sources(&CRATES);
    sources.retain(|(file, _)| !is_of_no_file(file));
    let templates = texts_given_to(&GIVEN_TO, &sources);
    assert!(templates.len() > 170, "{}", templates.len());
    let open = without_case(templates);
    assert!(open.is_empty(), "no case in cases.yaml brings about:\n{open:#?}");
}

/// Where a message is put together before it is given to what tells it, every text of the file is asked for.
#[test]
fn every_text_of_files_that_put_messages_together_has_an_example() {
    let sources = sources(&CRATES);
    let calls_without_text = |source: &str| {
        let calls = GIVEN_TO.iter().flat_map(|call| source.match_indices(call));
        let mut calls = calls.map(|(at, call)| &source[at + call.len()..]);
        calls.any(|rest| HANDED_ON.iter().any(|name| rest.starts_with(name)))
    };
    let known = |file: &str| PUT_TOGETHER.contains(&file) || TOLD_ELSEWHERE.contains(&file);
    let unknown: Vec<_> = sources
        .iter()
        .filter(|(file, source)| !known(file) && !is_of_no_file(file) && calls_without_text(source))
        .map(|(file, _)| file)
        .collect();
    assert!(
        unknown.is_empty(),
        "these hand messages on and are to be listed: {unknown:?}"
    );
    let mut texts = phrases(&sources);
    texts.retain(|text| PUT_TOGETHER.contains(&text.file.as_str()));
    assert!(texts.len() > 250, "{}", texts.len());
    let is_known = |text: &Template| {
        NO_PROBLEM
            .iter()
            .chain(NOT_BROUGHT_ABOUT)
            .any(|one| *one == text.text)
    };
    let (known, texts): (Vec<_>, Vec<_>) = texts.into_iter().partition(is_known);
    let gone: Vec<_> = NO_PROBLEM
        .iter()
        .chain(NOT_BROUGHT_ABOUT)
        .filter(|one| !known.iter().any(|text| text.text == **one))
        .collect();
    assert!(gone.is_empty(), "these stand in no source any more: {gone:?}");
    let open = without_case(texts);
    assert!(open.is_empty(), "no case in cases.yaml brings about:\n{open:#?}");
}

/// The values that a problem shows as examples of what would have been accepted; of one with dots in it the rest is left
/// to its author.
fn examples(expected: &str) -> Vec<&str> {
    let Some((_, examples)) = expected.split_once("such as `") else {
        return Vec::new();
    };
    let Some((example, _)) = examples.split_once('`') else {
        return Vec::new();
    };
    let is_whole = !example.contains("...") && !example.contains('…') && example != "[one, two]";
    is_whole.then_some(example).into_iter().collect()
}

/// What is shown in place of a value of the wrong shape is of the right one.
#[test]
fn examples_of_values_are_taken() {
    let mut tried = 0;
    for case in cases() {
        let (name, whole) = case.whole();
        let problems = case.read.problems(&name, &whole, case.after.as_deref());
        for problem in &problems.list {
            let of_shape = problem.message.ends_with("does not belong here")
                || problem.message.ends_with("do not belong here")
                || problem.message.ends_with("has no unit");
            let Some(expected) = problem.expected.as_deref().filter(|_| of_shape) else {
                continue;
            };
            if expected.starts_with("a list; ")
                || expected.starts_with("keys with values; ")
                || *problem.place.file != *name
            {
                continue;
            }
            for example in examples(expected) {
                tried += 1;
                let mut bytes = problem.place.bytes.clone();
                // A value in brackets ends before the last of them.
                if whole[bytes.clone()].starts_with(['[', '{']) && whole[bytes.end..].starts_with([']', '}'])
                {
                    bytes.end += 1;
                }
                let mended = format!("{}{example}{}", &whole[..bytes.start], &whole[bytes.end..]);
                let left = case.read.problems(&name, &mended, case.after.as_deref());
                let again = left.list.iter().find(|one| {
                    one.place.line == problem.place.line
                        && one.place.column == problem.place.column
                        && one.expected == problem.expected
                });
                let is_read = !left.to_string().contains("not readable");
                assert!(
                    is_read && again.is_none(),
                    "{problem} is told of {example} too:\n{mended}"
                );
            }
        }
    }
    assert!(tried > 60, "{tried}");
}

/// A file that says nothing but what it is is told of every key that its schema asks for.
#[test]
fn every_key_that_the_head_of_a_file_lacks_is_told() {
    let kinds = [
        (Kind::Network, "network"),
        (Kind::Ruleset, "ruleset"),
        (Kind::Amendment, "amendment"),
        (Kind::Example, "example"),
        (Kind::Dimensions, "dimensions"),
        (Kind::Practice, "practice"),
    ];
    for (kind, name) in kinds {
        let format = crownweir::schema::Format::named(name).expect("a schema");
        let schema: serde_json::Value = serde_json::from_str(&format.text()).expect("JSON");
        let needed = schema["required"].as_array().expect("required keys");
        let needed: Vec<_> = needed.iter().filter_map(|key| key.as_str()).collect();
        let problems = kind.problems("input.yaml", &format!("crownweir: {name}/1\n"), None);
        let [problem] = &problems.list[..] else {
            panic!("{name}: {problems}");
        };
        let told: Vec<_> = problem.message.split('`').skip(1).step_by(2).collect();
        let mut expected: Vec<_> = needed.into_iter().filter(|key| *key != "crownweir").collect();
        expected.sort_by_key(|key| told.iter().position(|one| one == key));
        assert_eq!(told, expected, "{name}");
    }
}
