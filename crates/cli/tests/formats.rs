//! What `check` writes for other tools, and how it writes files.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test that cannot be set up has failed"
)]

use std::path::Path;
use std::process::{Command, Output};

const NETWORKS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/networks");
/// Every format, and what it begins with.
const FORMATS: [(&str, &str); 10] = [
    ("text", "Heron Point boathouse"),
    ("json", "{\n  \"crownweir\": \"report/1\""),
    ("sarif", "{"),
    ("junit", "<?xml"),
    ("dot", "digraph"),
    ("html", "<!DOCTYPE html>"),
    ("svg", "<svg "),
    ("findings-csv", "number,"),
    ("fixtures-csv", "fixture,"),
    ("pipes-csv", "pipe,"),
];

fn crownweir(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_crownweir"))
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn what_is_written_is_what_would_be_printed() {
    let network = format!("{NETWORKS}/heron-point-faulty.yaml");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("out");
    for (format, begins) in FORMATS {
        let printed = crownweir(&["check", &network, "--format", format]);
        assert_eq!(printed.status.code(), Some(1), "{format}");
        std::fs::write(&file, "what stood there before").unwrap();
        let written = crownweir(&[
            "check",
            &network,
            "--format",
            format,
            "--output",
            file.to_str().unwrap(),
        ]);
        assert_eq!(written.status.code(), Some(1), "{format}");
        assert!(written.stdout.is_empty(), "{format}");
        let written = std::fs::read(&file).unwrap();
        assert!(written == printed.stdout, "{format}");
        assert!(
            String::from_utf8(written).unwrap().starts_with(begins),
            "{format}"
        );
        assert_eq!(names_in(folder.path()), ["out"], "nothing is left behind");
    }
}

#[test]
fn a_file_that_cannot_be_written_is_told_and_left() {
    let network = format!("{NETWORKS}/heron-point.yaml");
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("no such folder/out.json");
    for output in [missing.to_str().unwrap(), folder.path().to_str().unwrap()] {
        let done = crownweir(&["check", &network, "--output", output]);
        assert_eq!(done.status.code(), Some(2), "{output}");
        let said = String::from_utf8(done.stderr).unwrap();
        assert!(
            said.contains("cannot write") && !said.contains("panicked"),
            "{said}"
        );
    }
    assert!(names_in(folder.path()).is_empty());
}

#[test]
fn the_network_is_not_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("network.yaml");
    let text = std::fs::read(format!("{NETWORKS}/heron-point.yaml")).unwrap();
    std::fs::write(&path, &text).unwrap();
    let path = path.to_str().unwrap();
    let roundabout = format!("{}/./network.yaml", folder.path().display());
    for output in [path, roundabout.as_str()] {
        let done = crownweir(&["check", path, "--output", output]);
        assert_eq!(done.status.code(), Some(2));
        assert!(std::fs::read(path).unwrap() == text);
    }
}

#[test]
fn an_unusable_network_leaves_the_old_file() {
    let folder = tempfile::tempdir().unwrap();
    let (bad, out) = (folder.path().join("bad.yaml"), folder.path().join("out.txt"));
    std::fs::write(&bad, "crownweir: network/1\n").unwrap();
    std::fs::write(&out, "before").unwrap();
    let done = crownweir(&["check", bad.to_str().unwrap(), "-o", out.to_str().unwrap()]);
    assert_eq!(done.status.code(), Some(2));
    assert_eq!(std::fs::read_to_string(&out).unwrap(), "before");
}

#[cfg(unix)]
#[test]
fn links_and_devices_stay_what_they_are() {
    let network = format!("{NETWORKS}/heron-point.yaml");
    let folder = tempfile::tempdir().unwrap();
    let (file, link) = (folder.path().join("file"), folder.path().join("link"));
    std::fs::write(&file, "before").unwrap();
    std::os::unix::fs::symlink(&file, &link).unwrap();
    assert!(
        crownweir(&["check", &network, "-o", link.to_str().unwrap()])
            .status
            .success()
    );
    assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
    assert!(std::fs::read_to_string(&file).unwrap().starts_with("Heron Point"));
    assert!(
        crownweir(&["check", &network, "-o", "/dev/null"])
            .status
            .success()
    );
    assert!(!std::fs::metadata("/dev/null").unwrap().is_file());
}

#[test]
fn a_sheet_is_asked_for_by_its_number() {
    let network = format!("{NETWORKS}/heron-point.yaml");
    let sheet = |number| crownweir(&["check", &network, "--format", "svg", "--sheet", number]);
    let second = String::from_utf8(sheet("2").stdout).unwrap();
    assert!(second.contains("sheet 2 of") && !second.contains(": sheet 1 of"));
    for (number, said) in [("0", "at least 1"), ("99", "no sheet")] {
        let none = sheet(number);
        assert_eq!(none.status.code(), Some(2));
        assert!(String::from_utf8(none.stderr).unwrap().contains(said));
    }
}

fn junit(network: &str, rules: &str) -> quick_junit::Report {
    let output = crownweir(&["check", network, "--rules", rules, "--format", "junit"]);
    let text = String::from_utf8(output.stdout).unwrap();
    quick_junit::Report::deserialize_from_str(&text).unwrap_or_else(|error| panic!("{error}\n{text}"))
}

#[test]
fn junit_fails_what_violates_the_code() {
    let report = junit(&format!("{NETWORKS}/heron-point-faulty.yaml"), "ipc-2021");
    assert_eq!(report.failures, 24);
    assert_eq!(report.errors, 0);
    let arms = report
        .test_suites
        .iter()
        .find(|suite| suite.name.as_str() == "trap-arm-length")
        .unwrap();
    let cases: Vec<_> = arms
        .test_cases
        .iter()
        .map(|case| (case.name.as_str(), case.classname.as_ref().unwrap().as_str()))
        .collect();
    assert!(
        cases.iter().any(|(name, place)| {
            *name == "trap arm of lavatory LAV-8" && place.ends_with("heron-point-faulty.yaml:414:18")
        }),
        "{cases:?}"
    );
    assert_eq!(
        report.name.as_ref().unwrap().as_str(),
        "crownweir check by ipc-2021"
    );
    let sound = junit(&format!("{NETWORKS}/heron-point.yaml"), "ipc-2021");
    let amended = junit(&format!("{NETWORKS}/heron-point.yaml"), "ipc-2021+chicago-frost");
    assert_eq!(
        amended.name.as_ref().unwrap().as_str(),
        "crownweir check by ipc-2021+chicago-frost"
    );
    assert_eq!(sound.failures, 0);
    assert!(sound.tests > 50);
}

#[test]
fn junit_takes_hostile_names_as_text() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("network.yaml");
    let good = std::fs::read_to_string(format!("{NETWORKS}/heron-point-faulty.yaml")).unwrap();
    for name in [
        "<script>alert(1)</script>",
        "]]>&amp;\\\"'",
        "\\u202Eright to left\\uFEFF",
        &"W".repeat(200),
    ] {
        std::fs::write(&path, good.replace("name: LAV-8,", &format!("name: \"{name}\","))).unwrap();
        let report = junit(path.to_str().unwrap(), "ipc-2021");
        assert_eq!(report.failures, 24, "{name}");
    }
}

/// What a check of the boathouse by a rule set prints in a format.
fn printed(rules: &str, format: &str, options: &[&str]) -> String {
    let network = format!("{NETWORKS}/heron-point.yaml");
    let chosen = ["check", &network, "--rules", rules, "--format", format];
    let output = crownweir(&[&chosen, options].concat());
    assert_eq!(output.status.code(), Some(0), "{rules} {format}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn a_code_of_framing_has_nothing_to_say_of_loads() {
    const PLUMBING: &str = "ipc-2021";
    for framing in ["framing-irc-2021", "framing-nbc-2020"] {
        for (format, of_plumbing) in [
            ("text", "60 dfu at the point of disposal"),
            ("json", "\"load\": \"60 dfu\""),
            ("html", "Load at the point of disposal"),
            ("html", "<th scope=\"col\">Load</th>"),
            ("html", "Fixture-unit schedule"),
            ("fixtures-csv", ",load,"),
            ("fixtures-csv", "trap protected by"),
            ("pipes-csv", ",load,"),
            ("pipes-csv", " dfu"),
        ] {
            assert!(printed(PLUMBING, format, &[]).contains(of_plumbing), "{format}");
            let by_framing = printed(framing, format, &[]);
            assert!(!by_framing.contains(of_plumbing), "{framing} {format}");
            // What a network or a sheet of the shop says beside it is no load of the building.
            let report = by_framing.split("Shop sheets</h2>").next().unwrap();
            for word in ["dfu", "load not known", "\"load\""] {
                assert!(!report.contains(word), "{framing} {format} {word}");
            }
        }
    }
    let columns = |text: &str| -> Vec<usize> { text.lines().map(|line| line.matches(',').count()).collect() };
    let fixtures = printed("framing-irc-2021", "fixtures-csv", &[]);
    assert!(fixtures.starts_with("fixture,type,storey,bathroom group,trap size,trap arm\r\n"));
    assert!(fixtures.contains("\r\nLAV-1,lavatory,upper,bath 1,1-1/4 in,1 ft 8 in\r\n"));
    assert!(columns(&fixtures).iter().all(|count| *count == 5), "{fixtures}");
}

#[test]
fn a_load_that_is_counted_and_not_known_is_told_so() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("open.yaml");
    let path = file.to_str().unwrap();
    let open = [
        ("text", "a load not known at the point of disposal"),
        ("json", "\"load\": null"),
        ("html", "<dd>not known</dd>"),
    ];
    // By IPC 2021, table 709.1 (from memory), a private water closet counts 3 dfu up to 1.6 gal a flush and 4 above.
    let between = [
        ("text", ", 3 dfu to 4 dfu at the point of disposal"),
        ("json", "\"load\": \"3 dfu to 4 dfu\""),
        ("html", "<dd>3 dfu to 4 dfu</dd>"),
    ];
    for (fixture, expected) in [("other", open), ("water_closet, occupancy: private", between)] {
        let text = format!(
            "crownweir: network/1\nname: open\ndrains:\n  - path: [{{fixture: {{name: S, type: {fixture}}}}}, \
             {{pipe: {{size: 3 in}}}}, {{disposal: {{name: sewer}}}}]\n"
        );
        std::fs::write(&file, text).unwrap();
        for (format, told) in expected {
            let output = crownweir(&[
                "check",
                path,
                "--rules",
                "ipc-2021",
                "--format",
                format,
                "--fail-on",
                "never",
            ]);
            let output = String::from_utf8(output.stdout).unwrap();
            assert!(output.contains(told), "{format}: {told}\n{output}");
        }
    }
}

#[test]
fn a_comparison_tells_loads_only_by_the_rule_sets_that_count_them() {
    let network = format!("{NETWORKS}/heron-point.yaml");
    let compared = |rules: [&str; 2], format: &str| {
        let chosen = [
            "compare", &network, "--rules", rules[0], "--rules", rules[1], "--format", format,
        ];
        String::from_utf8(crownweir(&chosen).stdout).unwrap()
    };
    let both = compared(["framing-irc-2021", "framing-nbc-2020"], "text");
    assert!(both.contains("undetermined") && !both.contains("load"), "{both}");
    let one = compared(["ipc-2021", "framing-irc-2021"], "text");
    assert!(
        one.contains("  load at the point of disposal      60 dfu          -\n"),
        "{one}"
    );
    // Nor is a drain without fixtures said to bear another load by the one than by the other.
    assert!(!one.contains("load of drains"), "{one}");
    let json: serde_json::Value =
        serde_json::from_str(&compared(["ipc-2021", "framing-irc-2021"], "json")).unwrap();
    assert_eq!(json["rules"][0]["load"], "60 dfu");
    assert!(json["rules"][1].get("load").is_none(), "{json}");
}

/// Where an amendment changes to what a rule applies, its citation stays that of the model code: what made it so is told
/// beside it, whatever the format.
#[test]
fn what_an_amendment_has_changed_is_told_in_every_format() {
    let folder = tempfile::tempdir().unwrap();
    let houses = folder.path().join("houses");
    std::fs::create_dir(&houses).unwrap();
    let network = houses.join("house.yaml");
    let text = std::fs::read_to_string(format!("{NETWORKS}/heron-point.yaml")).unwrap();
    std::fs::write(
        &network,
        text.replacen("dimensions: [../dimensions/demonstration.yaml]\n", "", 1),
    )
    .unwrap();
    let amendment = folder.path().join("frost.yaml");
    std::fs::write(
        &amendment,
        "crownweir: amendment/1
name: frost
title: Frost
jurisdiction: [Test County]
document: Test Ordinance
edition: \"2026\"
base: {rules: ipc-2021, document: IPC, edition: \"2021\", from_revision: 1}
status: in_force
from: 2026-01-01
precedence: local_text
origin: invented
cite: {section: \"1\", basis: published}
changes:
  - set: {rule: frost-closure, when: system.winter_design_temperature, was: 0 F, to: 100 F}
",
    )
    .unwrap();
    let (network, rules) = (
        network.to_str().unwrap(),
        format!("ipc-2021+{}", amendment.to_str().unwrap()),
    );
    let on = ["--on", "2026-11-25"];
    let told = |arguments: &[&str]| {
        let output = crownweir(&[arguments, &on[..]].concat());
        let words = String::from_utf8(output.stdout).unwrap();
        let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            words.contains(
                "changed by frost: applies by `system.winter_design_temperature` at_most, from 0 F to 100 F"
            ),
            "{arguments:?}: {words}"
        );
    };
    for format in ["text", "json", "sarif", "junit", "html", "findings-csv"] {
        told(&["check", network, "--rules", &rules, "--format", format]);
    }
    for format in ["text", "json"] {
        told(&[
            "compare", network, "--rules", "ipc-2021", "--rules", &rules, "--format", format,
        ]);
    }
    told(&["batch", houses.to_str().unwrap(), "--rules", &rules]);
}
