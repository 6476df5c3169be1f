//! What other tools read: held to their published schemas, grammars and to general-purpose readers of them.
#![expect(clippy::unwrap_used, reason = "a test that cannot be set up has failed")]

mod drawings;
mod hostile;

use crownweir::{Measured, Network, Report, RuleSet, Verdict, report};
use crownweir_tests::{network, network_text, rules};
use serde_json::Value;

const DEMOS: [(&str, &str); 4] = [
    ("heron-point.yaml", "ipc-2021"),
    ("heron-point-faulty.yaml", "ipc-2021"),
    ("larch-terrace.yaml", "ipc-2021"),
    ("larch-terrace-en-faulty.yaml", "en-12056-2"),
];

/// The schema of SARIF 2.1.0 as OASIS publishes it, with errata 01. It may be copied unaltered; see its own notice.
fn sarif_schema() -> jsonschema::Validator {
    let published = include_str!("sarif-2.1.0.json");
    // A pattern that it has twice has a bracket too many, and is no regular expression to a strict reader.
    let faulty = "-[a-zA-Z]{2}]?$";
    assert_eq!(published.matches(faulty).count(), 2);
    let schema: Value = serde_json::from_str(&published.replace(faulty, "-[a-zA-Z]{2}?$")).unwrap();
    jsonschema::validator_for(&schema).unwrap()
}

fn each_demo(check: impl Fn(&str, &Network, &RuleSet, &Measured<'_>, &Report)) {
    for (file, by) in DEMOS {
        let network = network(&network_text(file));
        let rules = rules(by);
        let measured = Measured::new(&network, &rules).unwrap();
        check(file, &network, &rules, &measured, &measured.check());
    }
}

/// Complains of whatever in a SARIF log its schema does not admit.
pub fn is_sarif(log: &str) -> Value {
    let log: Value = serde_json::from_str(log).unwrap();
    let faults: Vec<String> = sarif_schema()
        .iter_errors(&log)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(faults.is_empty(), "{faults:#?}");
    log
}

#[test]
fn sarif_complies_with_its_published_schema() {
    each_demo(|file, _, rules, _, found| {
        let log = is_sarif(&report::sarif(found, rules).unwrap());
        let results = log["runs"][0]["results"].as_array().unwrap();
        assert_eq!(
            results.len(),
            found.findings.len() + found.on_site.len(),
            "{file}"
        );
        for (result, finding) in results.iter().zip(&found.findings) {
            let region = &result["locations"][0]["physicalLocation"]["region"];
            assert_eq!(region["startLine"], finding.position.line);
            assert_eq!(region["startColumn"], finding.position.column);
            assert_eq!(result["ruleId"], finding.rule.as_str());
            let descriptor =
                &log["runs"][0]["tool"]["driver"]["rules"][result["ruleIndex"].as_u64().unwrap() as usize];
            assert_eq!(descriptor["id"], result["ruleId"]);
            let failed = finding.verdict == Verdict::Violated;
            assert_eq!(result["kind"], if failed { "fail" } else { "open" });
        }
    });
}

#[test]
fn the_schema_does_refuse() {
    let network = network(&network_text("heron-point-faulty.yaml"));
    let rules = rules("ipc-2021");
    let found = crownweir::check(&network, &rules).unwrap();
    let mut log: Value = serde_json::from_str(&report::sarif(&found, &rules).unwrap()).unwrap();
    log["runs"][0]["results"][0]["level"] = "serious".into();
    assert!(!sarif_schema().is_valid(&log));
}

pub fn records(text: &str) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().from_reader(text.as_bytes());
    let head: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let mut all = vec![head];
    for record in reader.records() {
        all.push(record.unwrap().iter().map(str::to_owned).collect());
    }
    all
}

fn column(records: &[Vec<String>], name: &str) -> Vec<String> {
    let at = records[0].iter().position(|head| head == name).unwrap();
    records[1..].iter().map(|record| record[at].clone()).collect()
}

#[test]
fn schedules_read_back() {
    each_demo(|file, network, _, measured, found| {
        let fixtures = records(&report::fixtures_csv(measured));
        assert_eq!(fixtures.len(), found.fixtures + 1, "{file}");
        let pipes = records(&report::pipes_csv(measured));
        assert_eq!(pipes.len(), network.graph().edge_count() + 1, "{file}");
        let findings = records(&report::findings_csv(found));
        assert_eq!(findings.len(), found.findings.len() + 1, "{file}");
        let messages: Vec<_> = found.findings.iter().map(|one| one.message.clone()).collect();
        assert_eq!(column(&findings, "message"), messages, "{file}");
    });
}

#[test]
fn the_fixture_schedule_has_the_loads_of_the_table() {
    let network = network(&network_text("heron-point.yaml"));
    let rules = rules("ipc-2021");
    let measured = Measured::new(&network, &rules).unwrap();
    let records = records(&report::fixtures_csv(&measured));
    let names = column(&records, "fixture");
    let load = |name: &str| {
        let place = names.iter().position(|one| one == name).unwrap();
        column(&records, "load")[place].clone()
    };
    // IPC 2021, table 709.1: a lavatory counts 1, a public water closet of 1.6 gallons 4.
    assert_eq!(load("LAV-8"), "1 dfu");
    assert_eq!(load("WC-6"), "4 dfu");
}

#[test]
fn dot_has_every_node_and_pipe_once() {
    each_demo(|file, network, _, _, _| {
        let text = report::dot(network);
        let count = |what: &str| text.lines().filter(|line| line.contains(what)).count();
        assert_eq!(count(" -> "), network.graph().edge_count(), "{file}");
        assert_eq!(count("shape="), network.graph().node_count(), "{file}");
        assert_eq!(text.matches('{').count(), 1);
        assert!(text.ends_with("}\n"));
    });
}

/// Three hangers that are too far apart by one default, and a fourth pipe that says so itself: one entry, with every pipe by
/// its place. What is shown with its workings stands by itself.
#[test]
fn what_is_said_of_several_alike_is_said_once() {
    let text = "crownweir: network/1
name: hung
defaults: {material: pvc, horizontal_support_spacing: 5 ft}
drains:
  - size: 3 in
    slope: 1/4 in/ft
    path:
      - fixture: {name: load, type: connected_load, load: 2 dfu}
      - pipe: {name: a, length: 9 ft}
      - fitting: {name: f}
      - pipe: {name: b, length: 9 ft, support_spacing: 6 ft}
      - fitting: {name: g}
      - pipe: {name: c, length: 9 ft, support_spacing: 5 ft}
      - fitting: {name: h}
      - pipe: {name: d, length: 9 ft}
      - disposal: {name: sewer}
";
    let network = network(text);
    let rules = rules("ipc-2021");
    let measured = Measured::new(&network, &rules).unwrap();
    let mut found = measured.check();
    found.findings.retain(|one| one.rule == "horizontal-supports");
    assert_eq!(found.findings.len(), 4);
    let told = |workings: bool| {
        let shown = report::text(&found, &|finding| workings.then(|| measured.workings_of(finding)));
        report::without_escapes(&shown)
    };
    let text = told(false);
    assert_eq!(text.matches("the supports are 5 ft apart").count(), 1, "{text}");
    assert!(
        text.contains("\n     and 2 to 3: `c` (13:15), `d` (15:15)\n"),
        "{text}"
    );
    assert!(text.contains("\n  4. drain `b`"), "{text}");
    let text = told(true);
    assert_eq!(text.matches("the supports are 5 ft apart").count(), 3, "{text}");
}
