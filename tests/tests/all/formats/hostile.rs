//! Names that try to act: none does in any format.

use crownweir::{Limits, Measured, Network, report};
use crownweir_tests::{network, rules};

use super::{is_sarif, records};

/// Names of an attacker, as they stand in double quotes in YAML.
pub const NAMES: [&str; 10] = [
    "<script>alert(1)</script>",
    "\\\"><img src=x onerror=alert(1)>",
    "--></style></svg><script>alert(1)</script>",
    "\\u202Egnp.exe\\u2066",
    "\\u200Fright to left\\u2067\\uFEFF",
    "=cmd|' /C calc'!A0",
    "@SUM(1+1)*cmd",
    "[click](javascript:alert(1)) {0} {{1}}",
    "\\\" ]; evil [label=\\\"x",
    "'; DROP TABLE pipes; -- ]]>&amp;",
];

/// A small faulty network in which everything that has a name bears a hostile one.
pub fn hostile(name: &str) -> String {
    format!(
        "crownweir: network/1
name: \"{name}\"
storeys: [{{storey: \"s {name}\", height: 9 ft}}]
drains:
  - run: \"r {name}\"
    storey: \"s {name}\"
    size: 2 in
    slope: 1/4 in/ft
    path:
      - fixture: {{name: \"f {name}\", type: lavatory, trap: {{size: 1-1/4 in}}, group: \"g {name}\"}}
      - pipe: {{name: \"p {name}\", length: 9 ft}}
      - fitting: {{name: \"t {name}\", pattern: sanitary_tee}}
      - pipe: {{length: 8 ft}}
      - cleanout: {{name: \"c {name}\"}}
      - pipe: {{length: 8 ft}}
      - disposal: {{name: \"d {name}\"}}
vents:
  - size: 2 in
    slope: vertical
    path: [{{at: \"t {name}\"}}, {{pipe: {{length: 12 ft}}}}, {{terminal: {{name: \"v {name}\"}}}}]
tests: [{{section: \"x {name}\", medium: air}}]
"
    )
}

/// Every hostile network: each name by itself, and one as long as names may be.
pub fn each(check: impl Fn(&str, &str)) {
    let long = "W".repeat(198);
    for name in NAMES.iter().copied().chain([long.as_str()]) {
        check(name, &hostile(name));
    }
}

/// Whether a character acts on a terminal, a reader of XML, or the direction of writing.
pub fn acts(letter: char) -> bool {
    (letter.is_control() && letter != '\n')
        || matches!(letter, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

#[test]
fn control_characters_are_refused_where_they_stand() {
    for name in ["bell\\a", "escape\\e[31m", "null\\0", "next line\\u0085"] {
        let refused = Network::read("network.yaml", hostile(name).as_bytes(), &Limits::default());
        assert!(refused.unwrap_err().to_string().contains("control character"));
    }
}

#[test]
fn names_of_ten_thousand_characters_are_refused() {
    let long = hostile(&"long ".repeat(2_000));
    let refused = Network::read("network.yaml", long.as_bytes(), &Limits::default());
    assert!(refused.unwrap_err().to_string().contains("longer than 200 bytes"));
}

#[test]
fn sarif_takes_hostile_names_as_text() {
    each(|name, text| {
        let (network, rules) = (network(text), rules("ipc-2021"));
        let found = crownweir::check(&network, &rules).unwrap();
        let log = is_sarif(&report::sarif(&found, &rules).unwrap());
        for result in log["runs"][0]["results"].as_array().unwrap() {
            let message = result["message"]["text"].as_str().unwrap();
            assert!(!message.replace("\\](", "").contains("]("), "a link: {message}");
            assert!(
                !message.replace("{{", "").contains('{'),
                "a placeholder: {message}"
            );
            assert_eq!(
                result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"], "network.yaml",
                "{name}"
            );
        }
    });
}

#[test]
fn schedules_hold_no_formula() {
    each(|_, text| {
        let (network, rules) = (network(text), rules("ipc-2021"));
        let measured = Measured::new(&network, &rules).unwrap();
        let found = measured.check();
        for csv in [
            report::fixtures_csv(&measured),
            report::pipes_csv(&measured),
            report::findings_csv(&found),
        ] {
            let records = records(&csv);
            assert!(records.len() > 1);
            for cell in records.iter().flatten() {
                assert!(!cell.starts_with(['=', '+', '@']), "a formula: {cell}");
                assert!(!cell.contains(acts), "{cell:?}");
            }
        }
    });
    let named = "=cmd|' /C calc'!A0";
    let text = hostile("x").replace("\"f x\"", &format!("\"{named}\""));
    let (network, rules) = (network(&text), rules("ipc-2021"));
    let measured = Measured::new(&network, &rules).unwrap();
    assert_eq!(
        records(&report::fixtures_csv(&measured))[1][0],
        format!("'{named}")
    );
}

/// Reads quoted strings as the grammar of DOT has them, and leaves the rest.
fn without_strings(text: &str) -> String {
    let mut rest = String::new();
    let mut letters = text.chars();
    let mut inside = false;
    while let Some(letter) = letters.next() {
        match (inside, letter) {
            (true, '\\') => drop(letters.next()),
            (_, '"') => inside = !inside,
            (false, _) => rest.push(letter),
            _ => {}
        }
    }
    assert!(!inside, "a string without an end");
    rest
}

#[test]
fn dot_holds_names_in_strings_only() {
    let plain = without_strings(&report::dot(&network(&hostile("x"))));
    each(|name, text| {
        let dot = report::dot(&network(text));
        assert_eq!(without_strings(&dot), plain, "{name}");
        assert!(!dot.contains(acts), "{dot}");
    });
}
