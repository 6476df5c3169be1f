//! The guide for authors of amendments: its files are written, its commands run, and what they print is what it says.
//!
//! `RENEW_GUIDE=1 cargo test -p crownweir-cli --test guide` writes the printed answers into the guide anew.
#![expect(clippy::unwrap_used, reason = "a test that cannot be set up has failed")]

use std::path::Path;
use std::process::Command;

const GUIDE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../rulesets/README.md");
const NETWORK: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../../tests/networks/heron-point.yaml"
);

/// What a command of the guide prints, its errors included.
fn run(folder: &Path, command: &str) -> String {
    let cut = |command: &str, by: &str| -> Option<(String, usize)> {
        let (command, count) = command.split_once(by)?;
        Some((command.to_owned(), count.parse().unwrap()))
    };
    let (first_lines, last_lines) = (cut(command, " | head -n "), cut(command, " | tail -n "));
    let whole = (command.to_owned(), usize::MAX);
    let (command, _) = first_lines.as_ref().or(last_lines.as_ref()).unwrap_or(&whole);
    let arguments = command.strip_prefix("crownweir ").unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_crownweir"))
        .args(arguments.split(' '))
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    let mut printed = String::from_utf8(output.stdout).unwrap();
    printed.push_str(&String::from_utf8(output.stderr).unwrap());
    let printed = printed.trim_end();
    let lines: Vec<&str> = printed.lines().collect();
    let first = last_lines.map_or(0, |(_, count)| lines.len().saturating_sub(count));
    let end = first_lines.map_or(lines.len(), |(_, count)| count.min(lines.len()));
    lines[first..end].join("\n").trim_end().to_owned()
}

/// The guide with every command's answer as it is now.
fn played(guide: &str, folder: &Path) -> String {
    let mut out = String::new();
    let mut lines = guide.lines();
    while let Some(line) = lines.next() {
        out.push_str(line);
        out.push('\n');
        let Some(kind) = line.strip_prefix("```").filter(|kind| !kind.is_empty()) else {
            continue;
        };
        let block: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
        if let Some(name) = kind.strip_prefix("yaml title=") {
            let path = folder.join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, block.join("\n") + "\n").unwrap();
        }
        for line in &block {
            let command = line.strip_prefix("$ ");
            if kind != "console" || command.is_some() {
                out.push_str(line);
                out.push('\n');
            }
            if let Some(command) = command.filter(|_| kind == "console") {
                out.push_str(&run(folder, command));
                out.push('\n');
            }
        }
        out.push_str("```\n");
    }
    out
}

#[test]
fn the_guide_prints_what_the_program_prints() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(NETWORK, folder.path().join("boathouse.yaml")).unwrap();
    let guide = std::fs::read_to_string(GUIDE).unwrap();
    assert!(guide.matches("\n$ crownweir ").count() >= 6);
    let now = played(&guide, folder.path());
    if std::env::var_os("RENEW_GUIDE").is_some() {
        std::fs::write(GUIDE, &now).unwrap();
    }
    let differs = guide.lines().zip(now.lines()).find(|(one, other)| one != other);
    assert!(
        guide == now,
        "the guide is stale, first at {differs:?}; RENEW_GUIDE=1 writes it anew"
    );
}
