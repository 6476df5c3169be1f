//! What the program says of a command that it cannot carry out: each message with a command that brings it about, and the
//! place in a file that it is told at.
//!
//! `RENEW_DIAGNOSTICS=1 cargo test --release -p crownweir-cli --test errors` writes the inventory anew from the cases.
#![expect(clippy::expect_used, reason = "a test that cannot be set up has failed")]

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use crownweir_tests::network_text;
use crownweir_tests::sources::{phrases, sources};
use serde::Deserialize;

/// A command that cannot be carried out as it was given. In its folder lie `boathouse.yaml`, the demo of that name, and
/// `faulty.yaml`, the same with its faults.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    /// The arguments, parted by spaces.
    run: String,
    /// Further files in the folder, by their names; `<small rule set>` is one that can be used.
    #[serde(default)]
    files: BTreeMap<String, String>,
    /// What `<repeated>` in these files and in the input stands for, and how many times over.
    repeated: Option<(String, usize)>,
    /// What comes in by standard input.
    #[serde(default)]
    input: String,
    /// A command that is run before, and what comes in to it.
    first: Option<String>,
    #[serde(default)]
    first_input: String,
    /// What is then put at the end of files.
    #[serde(default)]
    appended: BTreeMap<String, String>,
    /// Where standard output goes, if it is not read.
    to: Option<String>,
    /// Where in which file the first problem is, if it is in one: `FILE:LINE:COLUMN`.
    at: Option<String>,
    /// The exit code, where it is told and the work done all the same.
    #[serde(default = "not_carried_out")]
    exit: i32,
    /// Whether the message is part of what is printed: that of a record of a batch.
    #[serde(default)]
    printed: bool,
}

const SMALL: &str = include_str!("../../../benches/peers/rules.yaml");
const DIMENSIONS: &str = "../dimensions/demonstration.yaml";

fn not_carried_out() -> i32 {
    2
}

fn project() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn text(bytes: Vec<u8>) -> String {
    String::from_utf8(bytes).expect("text")
}

/// Runs the program in a folder.
fn run(folder: &Path, arguments: &str, input: &str, to: Stdio) -> Output {
    let mut program = Command::new(env!("CARGO_BIN_EXE_crownweir"))
        .args(arguments.split_whitespace())
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .stdin(Stdio::piped())
        .stdout(to)
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut own = program.stdin.take().expect("its input");
    // It may have ended before it read all of it.
    let _ = own.write_all(input.as_bytes());
    drop(own);
    program.wait_with_output().expect("it ends")
}

impl Case {
    /// Text with what is repeated in its place.
    fn whole(&self, text: &str) -> String {
        let repeated = self.repeated.as_ref().map(|(what, times)| what.repeat(*times));
        text.replace("<repeated>", &repeated.unwrap_or_default())
    }

    /// What the program tells, and its exit code.
    fn told(&self) -> (String, Option<i32>) {
        let folder = tempfile::tempdir().expect("a folder");
        let networks = folder.path().join("networks");
        let write = |name: &str, text: &str| {
            let path = networks.join(name);
            let text = text.replace("<small rule set>", SMALL);
            fs::create_dir_all(path.parent().expect("its folder")).expect("made");
            fs::write(path, text).expect("written");
        };
        write("boathouse.yaml", &network_text("heron-point.yaml"));
        write("faulty.yaml", &network_text("heron-point-faulty.yaml"));
        // Which both name.
        write(DIMENSIONS, &network_text(DIMENSIONS));
        for (name, text) in &self.files {
            write(name, &self.whole(text));
        }
        if let Some(first) = &self.first {
            let before = run(&networks, first, &self.first_input, Stdio::piped());
            assert!(before.stderr.is_empty(), "{}", text(before.stderr));
        }
        for (name, text) in &self.appended {
            let path = networks.join(name);
            let mut file = File::options().append(true).open(path).expect("opened");
            file.write_all(text.as_bytes()).expect("written");
        }
        let to = match &self.to {
            Some(path) => Stdio::from(File::options().write(true).open(path).expect("opened")),
            None => Stdio::piped(),
        };
        let output = run(&networks, &self.run, &self.whole(&self.input), to);
        let told = match self.printed {
            false => text(output.stderr),
            // The last record's.
            true => text(output.stdout).lines().last().unwrap_or_default().to_owned(),
        };
        (told, output.status.code())
    }

    fn entry(&self) -> String {
        let indented = |text: &str| {
            text.trim_end()
                .replace('\n', "\n    ")
                .replace("\n    \n", "\n\n")
        };
        let mut entry = format!("    $ crownweir {}\n", self.run);
        if let Some(first) = &self.first {
            entry = format!("    $ crownweir {first}\n{entry}");
        }
        if let Some(path) = &self.to {
            entry = entry.trim_end().to_owned() + " > " + path + "\n";
        }
        for (name, text) in &self.files {
            entry.push_str(&format!("\nwith {name}\n\n    {}\n", indented(text)));
        }
        for (name, text) in &self.appended {
            entry.push_str(&format!(
                "\nwhere {name} then goes on\n\n    {}\n",
                indented(text.trim_start())
            ));
        }
        for (to, input) in [(" to the first", &self.first_input), ("", &self.input)] {
            if !input.is_empty() {
                entry.push_str(&format!("\nfrom standard input{to}\n\n    {}\n", indented(input)));
            }
        }
        if let Some((what, times)) = &self.repeated {
            let what = what.escape_debug();
            entry.push_str(&format!("\nwhere `<repeated>` is `{what}`, {times} times over\n"));
        }
        let (told, code) = self.told();
        assert_eq!(code, Some(self.exit), "{entry}\n{told}");
        assert!(!told.trim().is_empty(), "nothing is told of:\n{entry}");
        assert!(!told.contains("panicked"), "{entry}\n{told}");
        let place = told
            .lines()
            .find_map(|line| line.trim_start().strip_prefix("--> "));
        assert_eq!(place, self.at.as_deref(), "{entry}\n{told}");
        let told = told
            .trim_end()
            .replace('\n', "\n    ")
            .replace("\n    \n", "\n\n");
        let code = match self.exit {
            2 => String::new(),
            other => format!(" (exit code {other})"),
        };
        entry.push_str(&format!("\ntells{code}\n\n    {told}\n"));
        entry
    }
}

fn cases() -> Vec<Case> {
    let path = project().join("tests/diagnostics/commands.yaml");
    let text = fs::read_to_string(path).expect("the cases");
    serde_yaml::from_str(&text).unwrap_or_else(|error| panic!("{error}"))
}

const HEAD: &str = "# What is said of commands that cannot be carried out

Made from `commands.yaml`: each command, and what it tells; the exit code is 2 where none is given. In the folder lie
`boathouse.yaml` and `faulty.yaml`, the demos `heron-point.yaml` and `heron-point-faulty.yaml`.
";

/// Files whose texts are parts of a report, save one that another file has too.
const REPORTS: [&str; 4] = [
    "cli/src/junit.rs",
    "cli/src/rules/audit.rs",
    "cli/src/rules/pins.rs",
    "cli/src/rules/prove.rs",
];

/// Texts that are parts of a report.
const REPORTED: [(&str, &str); 10] = [
    ("cli/src/batch.rs", "r{}{of} checked, {each_second:.0} a second"),
    ("cli/src/explain.rs", "\non `{name}` it {judgement}"),
    ("cli/src/explain.rs", "cannot be told"),
    ("cli/src/explain.rs", "does not apply"),
    ("cli/src/explain.rs", "is to be confirmed on site"),
    ("cli/src/mend.rs", "{choices}; 1 finding is left"),
    ("cli/src/mend.rs", "{choices}; nothing is found any more"),
    ("cli/src/mend.rs", "{choices}; {count} findings are left"),
    ("cli/src/rules/facts.rs", "true or false"),
    ("cli/src/rules/facts.rs", "{}rules about: {}\n"),
];

/// Texts of trouble that no command brings about.
const WITHOUT_CASE: [(&str, &str); 10] = [
    // A fault of the program, were it ever told.
    ("batch/src/order.rs", "a thread has panicked"),
    // It takes two at once; the tests of the batch have it.
    (
        "cli/src/batch.rs",
        "cannot write `{}`: another program is writing to it",
    ),
    // What is no file is made by the system alone; the tests of the batch have it.
    ("cli/src/batch.rs", "cannot read `{path}`: it is no file"),
    // A file system that knows no locks.
    (
        "cli/src/batch.rs",
        "note: `{}` cannot be locked ({error}); see to it that no other program writes to it meanwhile",
    ),
    // A fault of the program, were it ever told.
    (
        "batch/src/line.rs",
        "the program failed on this record; this is a fault of the program",
    ),
    // A disk that fails while it is read.
    ("batch/src/standing.rs", "cannot read the results: {0}"),
    // A clock that is thousands of years off.
    ("cli/src/input.rs", "the clock says {today}; give `--on DATE`"),
    // What remedies put in is named by its pipe or fixture, and which take back others is told before.
    ("cli/src/mend.rs", "{choice}: not written; {error}"),
    // The names are checked with the arguments.
    ("cli/src/schema.rs", "there is no schema `{}`"),
    // What is written there stays in memory.
    ("cli/src/shop.rs", "cannot write the sheets: {error}"),
];

#[test]
fn each_command_tells_what_the_inventory_has() {
    let path = project().join("tests/diagnostics/commands.md");
    let mut inventory = HEAD.to_owned();
    for (number, case) in cases().iter().enumerate() {
        inventory.push_str(&format!("\n## {}\n\n{}", number + 1, case.entry()));
    }
    if std::env::var_os("RENEW_DIAGNOSTICS").is_some() {
        fs::write(&path, &inventory).expect("written");
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    let differs = kept
        .lines()
        .zip(inventory.lines())
        .find(|(one, other)| one != other);
    assert!(
        kept == inventory,
        "the inventory differs, first at {differs:?}; RENEW_DIAGNOSTICS=1 writes it anew"
    );
}

/// Each text of the program's sources is said in the inventory, or stands here as one that tells of no trouble.
#[test]
fn every_text_of_the_program_has_an_example() {
    let path = project().join("tests/diagnostics/commands.md");
    let inventory = fs::read_to_string(path).expect("the inventory");
    let said: Vec<&str> = inventory
        .split("\ntells")
        .skip(1)
        .flat_map(|part| part.split("\n## ").next().unwrap_or_default().lines())
        .collect();
    let known: Vec<_> = REPORTED.iter().chain(&WITHOUT_CASE).collect();
    let (other, texts): (Vec<_>, Vec<_>) = phrases(&sources(&["cli", "batch"]))
        .into_iter()
        .filter(|one| !REPORTS.contains(&one.file.as_str()))
        .partition(|one| known.contains(&&(one.file.as_str(), one.text.as_str())));
    assert_eq!(
        other.len(),
        known.len(),
        "of those that stand here only {other:#?} are left"
    );
    assert!(texts.len() > 40, "{}", texts.len());
    let open: Vec<_> = texts
        .into_iter()
        .filter(|text| !said.iter().any(|line| text.is_said_by(line)))
        .map(|text| (text.file, text.text))
        .collect();
    assert!(
        open.is_empty(),
        "no case in commands.yaml brings about:\n{open:?}"
    );
}
