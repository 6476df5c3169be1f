//! The rule set's worked examples: published answers, each with its source, against what the engine gives.

use std::collections::BTreeMap;
use std::path::Path;

use crownweir::quantity::FixtureUnits;
use crownweir::{Fact, Got, Limits, Measured, Network, RuleSet, Subject, Value, Verdict};
use crownweir_tests::rules;
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Example {
    example: String,
    source: String,
    confidence: String,
    note: Option<String>,
    network: String,
    cases: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    /// What stands for `$NAME` in the network.
    #[serde(default)]
    put: BTreeMap<String, String>,
    #[serde(default)]
    loads: BTreeMap<String, FixtureUnits>,
    #[serde(default)]
    held: Vec<Expected>,
    #[serde(default)]
    violated: Vec<Expected>,
    #[serde(default)]
    not_applicable: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Expected {
    rule: String,
    on: String,
    limit: Option<String>,
}

fn run(file: &str, example: &Example, case: &Case, rules: &RuleSet) {
    let mut text = example.network.clone();
    // The longest names first, so that `$SIZES` is not taken for `$SIZE`.
    for (name, value) in case.put.iter().rev() {
        text = text.replace(&format!("${name}"), value);
    }
    let what = format!("{file}, {}, {:?}", example.example, case.put);
    let network = Network::read(file, text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{what}\n{problems}"));
    let measured = Measured::new(&network, rules).unwrap_or_else(|error| panic!("{what}: {error}"));
    let report = measured.check();
    for (pipe, load) in &case.loads {
        let id = network
            .pipe_named(pipe)
            .unwrap_or_else(|| panic!("{what}: no pipe {pipe}"));
        let number = u32::try_from(id.index()).expect("an index");
        let got = measured.fact(Subject::Drain, number, Fact::DrainLoad);
        assert_eq!(got, Got::Known(Value::Load(*load)), "{what}: load of {pipe}");
    }
    for expected in &case.violated {
        let found = report.findings.iter().find(|finding| {
            finding.rule == expected.rule
                && finding.name == expected.on
                && finding.verdict == Verdict::Violated
        });
        let found = found.unwrap_or_else(|| panic!("{what}: {} holds for {}", expected.rule, expected.on));
        if let Some(limit) = &expected.limit {
            let given = found.limit.as_ref().map(|figure| figure.text.as_str());
            assert_eq!(given, Some(limit.as_str()), "{what}: limit of {}", expected.rule);
        }
    }
    for expected in &case.held {
        let rule = rules
            .rule(&expected.rule)
            .unwrap_or_else(|| panic!("{what}: no rule {}", expected.rule));
        let held = measured.passes(rule).any(|pass| pass.name == expected.on);
        assert!(
            held,
            "{what}: {} does not hold for {}",
            expected.rule, expected.on
        );
    }
    for rule in &case.not_applicable {
        let row = report
            .summary
            .iter()
            .find(|row| row.rule == *rule)
            .expect("a rule");
        assert_eq!(row.not_applicable, row.subjects, "{what}: {rule} applies");
    }
}

#[test]
fn published_answers_are_reached() {
    let folder = Path::new(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../rulesets/ipc-2021/examples"
    ));
    let rules = rules("ipc-2021");
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .expect("the examples")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    files.sort();
    let mut cases = 0;
    for path in &files {
        let name = path.file_name().and_then(|name| name.to_str()).expect("a name");
        let text = std::fs::read_to_string(path).expect("a file");
        let example: Example = serde_yaml::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(!example.source.is_empty(), "{name} names no source");
        assert!(["H", "M", "L"].contains(&example.confidence.as_str()), "{name}");
        // A source of low confidence counts only where our own reckoning agrees, and the note has to say so.
        let agrees = example
            .note
            .as_deref()
            .is_some_and(|note| note.to_lowercase().contains("our own"));
        assert!(
            example.confidence != "L" || agrees,
            "{name}: low confidence without our own reckoning"
        );
        for case in &example.cases {
            let asked = case.loads.len() + case.held.len() + case.violated.len() + case.not_applicable.len();
            assert!(asked > 0, "{name} has a case that expects nothing");
            run(name, &example, case, &rules);
            cases += 1;
        }
    }
    assert!(files.len() >= 15, "{} examples", files.len());
    assert!(cases >= 40, "{cases} cases");
}
