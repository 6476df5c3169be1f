//! Remedies: each clears its finding and brings nothing new; applied in turn they leave nothing; and only what they
//! change changes in the file.
#![expect(clippy::expect_used, reason = "a test that cannot be set up has failed")]

use std::collections::BTreeSet;

use common::{network_text, rules};
use crownweir_document::Document;
use crownweir_evaluate::{Report, check};
use crownweir_network::{Network, NodeKind};
use crownweir_propose::{Mending, Trials, changed, mend, verified};
use crownweir_rulebook::RuleSet;

mod common;

fn document(text: &str) -> Document {
    Document::read("network.yaml", text.as_bytes(), &Default::default())
        .unwrap_or_else(|problems| panic!("{problems}"))
}

fn mended(text: &str, rules: &RuleSet) -> Vec<Mending> {
    let found = mend(&document(text), rules, &Default::default(), Trials::default());
    found.expect("known sizes").expect("a network")
}

fn report(text: &str, rules: &RuleSet) -> Report {
    let network = Network::from_document(&document(text), &Default::default());
    check(&network.unwrap_or_else(|problems| panic!("{problems}")), rules).expect("known sizes")
}

/// Every remedy as it is offered does what it says.
fn each_holds(text: &str, rules: &RuleSet, mendings: &[Mending]) {
    for mending in mendings {
        for remedy in &mending.remedies {
            let done = verified(
                &document(text),
                rules,
                &Default::default(),
                &mending.finding,
                &remedy.changes,
            );
            assert!(done.expect("known sizes").is_some(), "{:?}", remedy.words);
        }
    }
}

/// The text after the first remedy of each finding in turn, each found anew; with the findings that had none.
fn all_applied(text: &str, rules: &RuleSet) -> (String, Vec<String>) {
    let mut text = text.to_owned();
    let mut left = Vec::new();
    for mending in mended(&text, rules) {
        let name = format!("{} {}", mending.finding.rule, mending.finding.name);
        let Some(remedy) = mending.remedies.first() else {
            left.push(name);
            continue;
        };
        let still = report(&text, rules)
            .findings
            .iter()
            .any(|one| one.rule == mending.finding.rule && one.name == mending.finding.name);
        if !still {
            continue;
        }
        let next = verified(
            &document(&text),
            rules,
            &Default::default(),
            &mending.finding,
            &remedy.changes,
        );
        text = next
            .expect("known sizes")
            .unwrap_or_else(|| panic!("{name}: {:?}", remedy.words));
    }
    (text, left)
}

#[test]
fn the_boathouse_is_mended_whole() {
    let rules = rules("ipc-2021");
    let text = network_text("heron-point-faulty.yaml");
    let mendings = mended(&text, &rules);
    each_holds(&text, &rules, &mendings);
    let with = mendings.iter().filter(|one| !one.remedies.is_empty()).count();
    assert_eq!((with, mendings.len()), (24, 24));
    let (whole, left) = all_applied(&text, &rules);
    assert_eq!(left, Vec::<String>::new());
    let clean = report(&whole, &rules);
    assert!(clean.findings.is_empty(), "{:?}", clean.findings);
    // Comments stay, and lines that no remedy touches stay as they are.
    let comments = |text: &str| {
        text.lines()
            .filter(|line| line.trim_start().starts_with('#'))
            .count()
    };
    assert_eq!(comments(&whole), comments(&text));
    let kept = text
        .lines()
        .filter(|line| whole.lines().any(|own| own == *line))
        .count();
    assert!(text.lines().count() - kept <= 40, "{kept}");
}

/// What is built, apart from how the file says it and from the room before cleanouts.
fn built(text: &str) -> BTreeSet<String> {
    let network = Network::from_document(&document(text), &Default::default());
    let network = network.unwrap_or_else(|problems| panic!("{problems}"));
    let graph = network.graph();
    let nodes = graph.node_weights().map(|node| match &node.kind {
        NodeKind::Cleanout(cleanout) => format!("{} {:?} {:?}", node.name, cleanout.size, node.elevation),
        kind => format!("{} {kind:?} {:?}", node.name, node.elevation),
    });
    let pipes = graph.edge_indices().map(|id| {
        let (pipe, (from, to)) = (&graph[id], graph.edge_endpoints(id).expect("ends"));
        let (size, length, slope) = (pipe.size, pipe.length, pipe.slope);
        let (from, to) = (&graph[from].name, &graph[to].name);
        format!(
            "{} {from} {to} {size:?} {length:?} {slope:?} {:?}",
            pipe.name, pipe.support_spacing
        )
    });
    let tests = network
        .tests()
        .iter()
        .map(|test| format!("{} {:?} {:?}", test.section, test.medium, test.head));
    nodes.chain(pipes).chain(tests).collect()
}

#[test]
fn no_two_remedies_build_the_same() {
    let of = |mendings: &[Mending], rule: &str, name: &str| {
        let mut found = mendings.iter();
        let found = found.find(|one| one.finding.rule == rule && one.finding.name.starts_with(name));
        let remedies = found.expect("found").remedies.iter();
        remedies.map(|remedy| remedy.words.join("; ")).collect::<Vec<_>>()
    };
    for (name, by) in [
        ("heron-point-faulty.yaml", "ipc-2021"),
        ("heron-point-upc-faulty.yaml", "upc-2021"),
        ("larch-terrace-npc-faulty.yaml", "npc-2020"),
    ] {
        let text = network_text(name);
        let mendings = mended(&text, &rules(by));
        for mending in &mendings {
            let after = mending.remedies.iter().map(|remedy| {
                let text = changed(&document(&text), &remedy.changes, &Default::default());
                built(&text.expect("a place"))
            });
            let after: BTreeSet<_> = after.collect();
            let words: Vec<_> = mending.remedies.iter().map(|remedy| &remedy.words).collect();
            assert_eq!(after.len(), words.len(), "{name}: {words:?}");
        }
        if by == "ipc-2021" {
            // In one edit rather than two, and with the least room that will do.
            let cleanouts = of(&mendings, "cleanout-at-junction", "Heron Point");
            let same: Vec<_> = cleanouts
                .iter()
                .filter(|one| one.contains("2 ft 8 in from its start"))
                .collect();
            assert_eq!(same.len(), 1, "{cleanouts:?}");
            assert!(same[0].ends_with("with 1 ft 6 in clear before it"), "{same:?}");
            // A pipe that is of the size already is not laid in it.
            assert_eq!(of(&mendings, "trap-size", "CW-2"), ["trap size of `CW-2`: 2 in"]);
        }
    }
}

#[test]
fn other_buildings_are_mended_as_far_as_shown() {
    for (name, by, least) in [
        ("heron-point-upc-faulty.yaml", "upc-2021", 7),
        ("heron-point-npc-faulty.yaml", "npc-2020", 6),
        ("larch-terrace-upc-faulty.yaml", "upc-2021", 8),
        ("larch-terrace-npc-faulty.yaml", "npc-2020", 6),
        ("larch-terrace-en-faulty.yaml", "en-12056-2", 10),
    ] {
        let rules = rules(by);
        let text = network_text(name);
        let mendings = mended(&text, &rules);
        each_holds(&text, &rules, &mendings);
        let broken = mendings.iter().filter(|one| one.finding.missing.is_empty());
        let with = broken.clone().filter(|one| !one.remedies.is_empty()).count();
        let without: Vec<String> = broken
            .filter(|one| one.remedies.is_empty())
            .map(|one| format!("{} {}", one.finding.rule, one.finding.name))
            .collect();
        eprintln!("{name}: {with} with, without {without:?}");
        assert!(with >= least, "{name}: {with}, without {without:?}");
    }
}

#[test]
fn a_change_on_repeated_storeys_says_so_and_new_things_are_refused_there() {
    let rules = rules("ipc-2021");
    let text = "crownweir: network/1
name: two floors
storeys: [{storey: '1', height: 9 ft}, {storey: '2', height: 9 ft}]
drains:
  - {kind: building_drain, size: 4 in, slope: 1/4 in/ft, path: [{fitting: {name: foot}}, {pipe: {length: 9 ft}}, {disposal: {name: sewer}}]}
  - {kind: stack, run: S, size: 4 in, slope: vertical, path: [{fitting: {name: S-2, pattern: sanitary_tee}}, {pipe: {length: 9 ft}}, {fitting: {name: S-1, pattern: sanitary_tee}}, {pipe: {length: 9 ft}}, {at: foot}]}
repeat:
  - storeys: 1..2
    drains:
      - {size: 1-1/2 in, slope: 1/16 in/ft, path: [{fixture: {name: 'load {storey}', type: connected_load, load: 2 dfu}}, {pipe: {name: 'branch {storey}', length: 5 ft}}, {at: 'S-{storey}'}]}
";
    let mendings = mended(text, &rules);
    let slope = mendings
        .iter()
        .find(|one| one.finding.rule == "drain-slope" && one.finding.name == "branch 1")
        .expect("too flat");
    let remedy = slope.remedies.first().expect("a remedy");
    assert_eq!(remedy.touches, 2, "{remedy:?}");
    let whole = changed(&document(text), &remedy.changes, &Default::default()).expect("a place");
    let left = report(&whole, &rules);
    assert!(left.findings.iter().all(|one| one.rule != "drain-slope"));
    for remedy in mendings.iter().flat_map(|one| &one.remedies) {
        let adds = remedy
            .changes
            .iter()
            .any(|one| matches!(one.kind(), "vent" | "fitting" | "cleanout"));
        assert!(!adds || remedy.touches == 1, "{remedy:?}");
    }
}
