//! `crownweir shop`: what the README shows is what it prints, and files are written whole or not at all.
#![expect(clippy::unwrap_used, reason = "a test that cannot be set up has failed")]

use std::path::Path;
use std::process::{Command, Output};

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");
const DEMONSTRATION: [&str; 4] = [
    "shop",
    "tests/networks/heron-point.yaml",
    "--fittings",
    "tests/dimensions/demonstration.yaml",
];

fn crownweir(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_crownweir"))
        .args(arguments)
        .current_dir(ROOT)
        .env("NO_COLOR", "1")
        .output()
        .unwrap()
}

fn with(more: &[&str]) -> Output {
    crownweir(&[&DEMONSTRATION[..], more].concat())
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn the_readme_shows_what_is_printed() {
    let readme = std::fs::read_to_string(Path::new(ROOT).join("README.md")).unwrap();
    let (_, section) = readme.split_once("## Shop sheets\n").unwrap();
    let (section, _) = section.split_once("\n## ").unwrap();
    let blocks: Vec<&str> = section
        .split("```text\n")
        .skip(1)
        .filter_map(|block| block.split_once("```"))
        .map(|(block, _)| block)
        .collect();
    let [command, sample] = blocks[..] else {
        panic!("{blocks:?}");
    };
    let arguments = command.trim().strip_prefix("cargo run --release -- ").unwrap();
    let output = crownweir(&arguments.split(' ').collect::<Vec<_>>());
    let printed = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(sample.lines().count() > 5);
    assert!(
        printed.contains(sample),
        "the README's sample is not in\n{printed}"
    );
}

#[test]
fn a_folder_gets_a_file_for_each_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().to_str().unwrap();
    let output = with(&["--format", "csv", "--output", path]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let cuts = std::fs::read_to_string(folder.path().join("cuts.csv")).unwrap();
    assert!(
        cuts.starts_with("material,size,piece,cut (in),c to c (in),from,takes (in),to,takes (in),remarks\n"),
        "{cuts}"
    );
    assert!(
        cuts.contains("\nPVC,4 in,D57,31.375,36,M-A,0.875,M-B,3.75,\n"),
        "{cuts}"
    );
    for sheet in ["places", "levels", "stock"] {
        assert!(folder.path().join(format!("{sheet}.csv")).is_file(), "{sheet}");
    }
}

#[test]
fn json_and_text_go_to_one_file() {
    let folder = tempfile::tempdir().unwrap();
    for (format, begins) in [
        ("json", "{\n  \"crownweir\": \"sheets/1\""),
        ("text", "Heron Point boathouse: cut list\n"),
    ] {
        let path = folder.path().join(format);
        std::fs::write(&path, "old").unwrap();
        let output = with(&[
            "--sheet",
            "cuts",
            "--format",
            format,
            "--output",
            path.to_str().unwrap(),
        ]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        assert!(
            std::fs::read_to_string(&path).unwrap().starts_with(begins),
            "{format}"
        );
    }
    assert_eq!(
        std::fs::read_dir(folder.path()).unwrap().count(),
        2,
        "nothing else is left behind"
    );
}

#[test]
fn what_cannot_be_done_is_told() {
    for (more, said) in [
        (
            &["--format", "csv"][..],
            "CSV holds one table: name one with `--sheet`",
        ),
        (
            &["--output", "no/such/folder/cuts.txt"],
            "cannot write `no/such/folder/cuts.txt`",
        ),
        (
            &["--fittings", "no such file.yaml"],
            "cannot read `no such file.yaml`",
        ),
        (
            &["--fittings", "tests/networks/heron-point.yaml"],
            "this is a file of the format `network/1`",
        ),
        (&["--sheet", "cutz"], "invalid value 'cutz'"),
        (&["--kerf", "1/8"], "`1/8` has no unit"),
    ] {
        let output = with(more);
        let error = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{error}");
        assert_eq!(text(&output.stdout), "");
        assert!(error.contains(said), "{error}");
    }
}

/// By hand: two eighth bends of 3 in with sockets of 1-1/2 in take 1-3/4 in and hold as much pipe as the socket is deep, each.
#[test]
fn fittings_without_room_between_them_are_refused_with_what_is_short() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("network.yaml");
    let network = "crownweir: network/1
name: short
units: inches
drains:
  - size: 3 in
    material: pvc
    slope: level
    direction: east
    path:
      - fixture: {name: F, type: connected_load, load: 4 dfu}
      - pipe: {length: 4 ft}
      - fitting: {name: A, pattern: eighth_bend}
      - pipe: {name: between, length: 5 in, direction: north-east}
      - fitting: {name: B, pattern: eighth_bend}
      - pipe: {length: 4 ft, direction: east}
      - disposal: {name: Z}
";
    std::fs::write(&path, network).unwrap();
    let output = crownweir(&["shop", path.to_str().unwrap(), "--sheet", "cuts"]);
    let error = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{error}");
    assert!(
        error.contains("`between` is 5 in from centre to centre, and its fittings take 6-1/2 in")
            && error.contains("lengthen it by 1-1/2 in"),
        "{error}"
    );
    // One end alone may take more than there is, though the other's dimensions are not known.
    let half = network.replace("{name: B, pattern: eighth_bend}", "{name: B, pattern: wye}");
    for (length, code) in [("3 in", 1), ("3-1/4 in", 0)] {
        std::fs::write(&path, half.replace("length: 5 in", &format!("length: {length}"))).unwrap();
        let output = crownweir(&["shop", path.to_str().unwrap(), "--sheet", "cuts"]);
        let error = text(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{length}: {error}");
        assert!(
            code == 0
                || error.contains(
                    "`between` is 3 in from centre to centre, and its fittings take at least 3-1/4 in"
                ) && error.contains("lengthen it by at least 1/4 in"),
            "{error}"
        );
    }
    std::fs::write(&path, network.replace("5 in", "6-1/2 in")).unwrap();
    let output = crownweir(&["shop", path.to_str().unwrap(), "--sheet", "cuts"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
}

/// Joists of 9-1/4 in may be bored by a third (IRC R502.8.1), which is less than the 4-9/16 in that 4 in pipe takes.
#[test]
fn framing_that_may_not_be_bored_and_what_stands_in_it_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("network.yaml");
    let network = "crownweir: network/1
name: bored
units: inches
rules: ipc-2021
framing_rules: framing-irc-2021
storeys: [{storey: ground, elevation: 0 in, height: 9 ft}, {storey: upper, height: 9 ft}]
framing:
  - {framing: joists, kind: joist, make: sawn, depth: 9-1/4 in, thickness: 1-1/2 in, doubled: false, spacing: 16 in, storey: upper, top: 0 in, layout: {runs: north_south, first: 0 in, count: 8}}
drains:
  - storey: upper
    size: 4 in
    material: pvc
    slope: 1/8 in/ft
    direction: east
    path:
      - fitting: {name: A, pattern: coupling, position: [8 in, 0 in, 104 in]}
      - pipe: {name: through, length: 16 in}
      - fitting: {name: B, pattern: long_sweep}
      - pipe: {name: down, slope: vertical, length: 6 ft}
      - disposal: {name: Z}
";
    let told = |network: &str, sheet: &str| {
        std::fs::write(&path, network).unwrap();
        let output = crownweir(&["shop", path.to_str().unwrap(), "--sheet", sheet]);
        (output.status.code(), text(&output.stderr))
    };
    // The fault is told whichever sheet is asked for.
    for sheet in ["holes", "cuts"] {
        let (code, error) = told(network, sheet);
        assert_eq!(code, Some(1), "{error}");
        assert!(
            error.contains("can pass none of 1 `joists`: not number 2") && error.contains("network.yaml:17:"),
            "{error}"
        );
    }
    let narrow = network.replace("size: 4 in", "size: 2 in");
    let (code, error) = told(&narrow, "holes");
    assert_eq!(code, Some(0), "{error}");
    let (code, error) = told(&narrow.replace("length: 16 in", "length: 24-1/2 in"), "holes");
    assert_eq!(code, Some(1), "{error}");
    assert!(error.contains("`down` stands in a member of `joists`"), "{error}");
}

#[test]
fn a_fitting_that_does_not_match_its_pipes_is_shown_in_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("network.yaml");
    let network = std::fs::read_to_string(Path::new(ROOT).join("tests/networks/heron-point.yaml")).unwrap();
    let good = "{name: B1-A, pattern: wye}";
    assert_eq!(network.matches(good).count(), 1);
    std::fs::write(
        &path,
        network
            .replace(good, "{name: B1-A, pattern: sanitary_tee}")
            .replace("dimensions: [../dimensions/demonstration.yaml]\n", ""),
    )
    .unwrap();
    let output = crownweir(&["shop", path.to_str().unwrap()]);
    let error = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{error}");
    assert!(
        error.contains("`B1-A` (sanitary tee) has a branch at 90 deg, but `E-LAV-1 to B1-A` is at 45 deg")
            && error.contains("- fitting: {name: B1-A, pattern: sanitary_tee}"),
        "{error}"
    );
    let printed = text(&output.stdout);
    assert!(
        printed.contains("Heron Point boathouse: where pipe is strapped")
            && printed.contains("Contradiction: `B1-A` (sanitary tee) has a branch at 90 deg"),
        "{printed}"
    );
}

#[test]
fn a_kerf_is_reckoned_with() {
    let lengths = |more: &[&str]| text(&with(&[&["--sheet", "stock"], more].concat()).stdout);
    let usual = lengths(&[]);
    assert!(
        usual.contains(
            "Each cut loses 1/8 in, for the width of the saw's cut is not stated (common practice;"
        ),
        "{usual}"
    );
    let whole = lengths(&["--kerf", "0 in"]);
    assert!(
        whole.contains("Nothing is lost to the saw, as is stated."),
        "{whole}"
    );
    let sawn = lengths(&["--kerf", "1/4 in"]);
    assert!(sawn.contains("Each cut loses 1/4 in."), "{sawn}");
    // The usual cut is reckoned with, not only told.
    let plan = |text: &str| text.split("Each cut loses").next().map(str::to_owned);
    assert_eq!(plan(&usual), plan(&lengths(&["--kerf", "1/8 in"])));
    assert_ne!(plan(&usual), plan(&whole));
    let metric = ["shop", "tests/networks/larch-terrace.yaml", "--sheet", "stock"];
    let metric = text(&crownweir(&metric).stdout);
    assert!(metric.contains("Each cut loses 3 mm, for"), "{metric}");
}

#[test]
fn a_workbook_holds_all_sheets() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("boathouse.xlsx");
    let output = with(&["--format", "spreadsheet", "--output", file.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let bytes = std::fs::read(&file).unwrap();
    assert!(bytes.starts_with(b"PK"), "a zip file");
    let output = with(&[
        "--format",
        "spreadsheet",
        "--output",
        folder.path().to_str().unwrap(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_eq!(std::fs::read(folder.path().join("sheets.xlsx")).unwrap(), bytes);
    let output = with(&["--format", "spreadsheet"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("a workbook is not text"));
}

#[test]
fn the_page_and_the_command_make_the_same_sheets() {
    for network in ["heron-point", "heron-point-faulty"] {
        let file = format!("tests/networks/{network}.yaml");
        let sheets = text(&crownweir(&["shop", &file, "--format", "json"]).stdout);
        let page = text(&crownweir(&["check", &file, "--format", "html"]).stdout);
        let sheets: serde_json::Value = serde_json::from_str(&sheets).unwrap();
        let sheets = sheets["sheets"].as_array().unwrap();
        assert!(sheets.len() > 8);
        for sheet in sheets {
            for note in sheet["notes"].as_array().unwrap() {
                let note = note
                    .as_str()
                    .unwrap()
                    .replace('&', "&amp;")
                    .replace('<', "&lt;")
                    .replace('>', "&gt;");
                let quoted = note.replace('"', "&quot;");
                assert!(
                    page.contains(&note) || page.contains(&quoted),
                    "{network}, {}: {note}",
                    sheet["sheet"]
                );
            }
        }
    }
}

#[test]
fn a_file_of_dimensions_lies_beside_the_network_that_names_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("network.yaml");
    std::fs::copy(Path::new(ROOT).join("tests/networks/heron-point.yaml"), &path).unwrap();
    let output = crownweir(&["shop", path.to_str().unwrap()]);
    let error = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{error}");
    assert!(
        error.contains("demonstration.yaml") && error.contains("the network names it under `dimensions`"),
        "{error}"
    );
    let page = crownweir(&["check", path.to_str().unwrap(), "--format", "html"]);
    assert_eq!(page.status.code(), Some(0));
    assert!(text(&page.stderr).contains("the page is without shop sheets: cannot read"));
}

#[test]
fn a_form_of_what_is_missing_is_filled_in_and_cuts_everything() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("network.yaml");
    let own = std::fs::read_to_string(Path::new(ROOT).join("tests/networks/heron-point.yaml")).unwrap();
    std::fs::write(
        &path,
        own.replace("dimensions: [../dimensions/demonstration.yaml]\n", ""),
    )
    .unwrap();
    let (network, form) = (path.to_str().unwrap(), folder.path().join("form.yaml"));
    let form = form.to_str().unwrap();
    let cuts =
        |more: &[&str]| text(&crownweir(&[&["shop", network, "--sheet", "cuts"], more].concat()).stdout);
    let before = cuts(&["--form", form]);
    let rows = std::fs::read_to_string(form).unwrap();
    assert!(
        rows.contains("- {pattern: wye, size: [4 in, 3 in, 2 in], outlet: ~, inlet: ~, branch: ~}"),
        "{rows}"
    );
    assert!(
        !rows.contains("{pattern: quarter_bend, size: 2 in"),
        "the program has that one: {rows}"
    );
    // As it is written it says that nothing is known.
    assert_eq!(
        cuts(&["--fittings", form]).matches("not stated").count(),
        before.matches("not stated").count()
    );
    assert!(before.contains("not stated"));
    std::fs::write(form, rows.replace('~', "1 in")).unwrap();
    let after = cuts(&["--fittings", form]);
    assert!(!after.contains("not stated"), "{after}");
    // Nothing is missing then, and no form is written over the one that is filled in.
    let again = crownweir(&[
        "shop",
        network,
        "--sheet",
        "cuts",
        "--fittings",
        form,
        "--form",
        form,
    ]);
    assert!(
        text(&again.stderr).contains("no form is written"),
        "{}",
        text(&again.stderr)
    );
    assert!(std::fs::read_to_string(form).unwrap().contains("1 in"));
}

/// The last note of the sheet of holes.
fn last_note(arguments: &[&str]) -> String {
    let output = crownweir(&[&["shop", "--sheet", "holes", "--format", "json"], arguments].concat());
    let sheets: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let notes = sheets["sheets"][0]["notes"].as_array().unwrap();
    notes.last().unwrap().as_str().unwrap().to_owned()
}

#[test]
fn framing_goes_by_the_rule_set_that_goes_with_that_for_pipes() {
    let folder = tempfile::tempdir().unwrap();
    let stated = std::fs::read_to_string(Path::new(ROOT).join("tests/networks/larch-terrace.yaml")).unwrap();
    let named = "rules: ipc-2021\n";
    assert_eq!(stated.matches(named).count(), 1);
    let network = |rules: &str| {
        let path = folder.path().join("network.yaml");
        let text = stated.replace("../dimensions/", &format!("{ROOT}/tests/dimensions/"));
        std::fs::write(&path, text.replace(named, rules)).unwrap();
        path.to_str().unwrap().to_owned()
    };
    // Which the network names by itself goes before any other, and what the command names before that.
    for (rules, more, checked_by) in [
        (
            "rules: ipc-2021",
            "",
            "IRC 2021 (`framing-irc-2021`, which goes with `ipc-2021`)",
        ),
        (
            "rules: upc-2021",
            "",
            "IRC 2021 (`framing-irc-2021`, which goes with `upc-2021`)",
        ),
        (
            "rules: npc-2020",
            "",
            "NBC 2020 (`framing-nbc-2020`, which goes with `npc-2020`)",
        ),
        (
            "rules: npc-2020+npc-2020-vent-tables",
            "",
            "NBC 2020 (`framing-nbc-2020`, which goes with `npc-2020`)",
        ),
        (
            "rules: npc-2020\nframing_rules: framing-irc-2021",
            "",
            "IRC 2021 (`framing-irc-2021`)",
        ),
        (
            "rules: en-12056-2\nframing_rules: framing-irc-2021",
            "",
            "IRC 2021 (`framing-irc-2021`)",
        ),
        (
            "framing_rules: framing-nbc-2020",
            "",
            "NBC 2020 (`framing-nbc-2020`)",
        ),
        (
            "rules: npc-2020\nframing_rules: framing-nbc-2020",
            "--framing-rules framing-irc-2021",
            "IRC 2021 (`framing-irc-2021`)",
        ),
        (
            "rules: ipc-2021",
            "--rules npc-2020",
            "NBC 2020 (`framing-nbc-2020`, which goes with `npc-2020`)",
        ),
        (
            "framing_rules: framing-irc-2021",
            "--rules framing-nbc-2020",
            "NBC 2020 (`framing-nbc-2020`)",
        ),
    ] {
        let file = network(&format!("{rules}\n"));
        let more = more.split_whitespace().collect::<Vec<_>>();
        let note = last_note(&[&[file.as_str()], &more[..]].concat());
        assert!(
            note.starts_with(&format!("Checked by {checked_by}. ")),
            "{rules} {more:?}: {note}"
        );
    }
    let none = "No rule set for framing is given: the network names none (`framing_rules`)";
    let by = |rules: &str| last_note(&[&network(rules)]);
    assert_eq!(
        by("rules: en-12056-2\n"),
        format!("{none}, and none goes with `en-12056-2`.")
    );
    assert_eq!(
        by(""),
        format!("{none}, nor one for its pipes (`rules`) that another might go with.")
    );
}

#[test]
fn the_page_checks_holes_by_what_it_was_asked_for() {
    for (rules, checked_by) in [
        ("framing-nbc-2020", "Checked by NBC 2020"),
        ("npc-2020", "Checked by IRC 2021"),
    ] {
        let demo = "tests/networks/heron-point.yaml";
        let page = text(&crownweir(&["check", demo, "--rules", rules, "--format", "html"]).stdout);
        assert!(
            page.contains(checked_by),
            "{rules}: the boathouse names the IRC for its framing"
        );
    }
}

#[test]
fn a_rule_set_of_ones_own_names_one_for_framing_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let read = |path: &str| std::fs::read_to_string(Path::new(ROOT).join(path)).unwrap();
    let ours = read("rulesets/npc-2020/ruleset.yaml").replace("framing-nbc-2020", "frames.yaml");
    let ours = write("ours.yaml", &ours);
    let network = read("tests/networks/larch-terrace.yaml");
    let network = network.replace("../dimensions/", &format!("{ROOT}/tests/dimensions/"));
    let network = write(
        "network.yaml",
        &network.replace("rules: ipc-2021", "rules: ours.yaml"),
    );
    let told =
        |more: &[&str]| text(&crownweir(&[&["shop", &network, "--sheet", "holes"], more].concat()).stderr);
    for more in [&[][..], &["--rules", &ours]] {
        let lacking = told(more);
        assert!(
            lacking.contains("there is no rule set and no file `frames.yaml`")
                && lacking.contains("; the rule set `npc-2020` names it under `framing_rules`"),
            "{lacking}"
        );
    }
    write("frames.yaml", &read("rulesets/upc-2021/ruleset.yaml"));
    assert!(
        told(&[]).contains(
            "the rule set `frames.yaml` has no rules for framing; the rule set `npc-2020` names it"
        ),
        "{}",
        told(&[])
    );
    write("frames.yaml", &read("rulesets/framing-irc-2021/ruleset.yaml"));
    for more in [&[][..], &["--rules", &ours]] {
        let note = last_note(&[&[network.as_str()], more].concat());
        assert!(
            note.starts_with("Checked by IRC 2021 (`framing-irc-2021`)"),
            "{note}"
        );
    }
}
