//! Remedies: each clears its finding and brings nothing new; applied in turn they leave nothing; and only what they
//! change changes in the file.
#![expect(clippy::expect_used, reason = "a test that cannot be set up has failed")]

use std::collections::BTreeSet;

use common::{network_text, rules};
use crownweir_document::Document;
use crownweir_evaluate::{Report, Verdict, check};
use crownweir_network::{NearestOpening, Network, NodeKind};
use crownweir_propose::{
    Change, ChangeError, MendError, Mending, PropertyValue, Trials, Verified, changed, mend, needless,
    verified,
};
use crownweir_quantity::Length;
use crownweir_rulebook::{RuleSet, published};
use crownweir_vocabulary::FittingPattern;

mod common;

fn document(text: &str) -> Document {
    Document::read("network.yaml", text.as_bytes(), &Default::default())
        .unwrap_or_else(|problems| panic!("{problems}"))
}

fn mended(text: &str, rules: &RuleSet) -> Vec<Mending> {
    let found = mend(
        &document(text),
        rules,
        &[],
        &Default::default(),
        Trials::default(),
    );
    found.expect("a network of known sizes")
}

fn report(text: &str, rules: &RuleSet) -> Report {
    let network = Network::from_document(&document(text), &Default::default());
    check(&network.unwrap_or_else(|problems| panic!("{problems}")), rules).expect("known sizes")
}

/// What comes of changes that were offered for a finding, in a text in which others were made.
fn beside(text: &str, rules: &RuleSet, mending: &Mending, changes: &[Change], made: &[Change]) -> Verified {
    let limits = Default::default();
    verified(
        &document(text),
        rules,
        &[],
        &limits,
        &mending.finding,
        changes,
        made,
    )
    .expect("known sizes")
}

/// Every remedy as it is offered does what it says, and none takes many times the work of another.
fn each_holds(text: &str, rules: &RuleSet, mendings: &[Mending]) {
    for mending in mendings {
        let of_pipes = mending.remedies.iter().filter(|remedy| !remedy.is_of_site());
        let counts: Vec<usize> = of_pipes.map(|remedy| remedy.changes.len()).collect();
        let (fewest, most) = (counts.iter().min(), counts.iter().max());
        assert!(most <= fewest.map(|fewest| fewest * 4).as_ref(), "{counts:?}");
        for remedy in &mending.remedies {
            let done = beside(text, rules, mending, &remedy.changes, &[]);
            assert!(matches!(done, Verified::Clears(_)), "{:?}", remedy.words);
            assert_eq!(does_without(text, rules, &remedy.changes), Vec::<Change>::new());
        }
    }
}

/// Those of several changes without which the others do the same; but one length that makes up for another is in its place.
fn does_without(text: &str, rules: &RuleSet, changes: &[Change]) -> Vec<Change> {
    let each: Vec<&[Change]> = changes.iter().map(std::slice::from_ref).collect();
    let needless = needless(&document(text), rules, &[], &Default::default(), &each);
    let needless = needless.expect("known sizes").into_iter();
    let changes = needless.filter_map(|place| changes.get(place).cloned());
    changes
        .filter(|change| !matches!(change, Change::Length { .. }))
        .collect()
}

/// The text after the first remedy of each finding in turn, each found anew; with the findings that had none.
fn all_applied(text: &str, rules: &RuleSet) -> (String, Vec<String>) {
    let mut text = text.to_owned();
    let (mut left, mut made) = (Vec::new(), Vec::new());
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
        let Verified::Clears(next) = beside(&text, rules, &mending, &remedy.changes, &made) else {
            panic!("{name}: {:?}", remedy.words);
        };
        text = next;
        made.extend(remedy.changes.clone());
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
    assert_eq!((with, mendings.len()), (25, 25));
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

/// Three drains with a tee or wye of which an opening is free: where two pipes meet straight a coupling closes it, where they
/// turn a bend of that angle; and a tee whose vent is taken off elsewhere becomes a bend too.
#[test]
fn an_opening_that_nothing_joins_is_closed_by_another_fitting() {
    let text = "
crownweir: network/1
name: open
site: {occupancy: private, winter_design_temperature: 20 F}
defaults: {material: pvc, cleanouts: {accessible: true, clearance: 24 in}}
storeys: [{storey: g, height: 9 ft}]
drains:
  - run: kitchen
    storey: g
    size: 2 in
    slope: 1/4 in/ft
    path:
      - fixture: {name: KS, type: kitchen_sink, weir_height: 16 in, trap: {size: 1-1/2 in, kind: p, seal: 2 in}}
      - pipe: {length: $ARM, size: 1-1/2 in}
      - fitting: {name: T, pattern: sanitary_tee}
      - pipe: {slope: vertical, length: 20 in}
      - fitting: {name: E, pattern: long_sweep}
      - pipe: {length: 10 ft}
      - fitting: {name: W, pattern: $PATTERN}
      - pipe: {length: 2 ft}
      - disposal: {name: sewer}
$VENTS
";
    let rules = rules("ipc-2021");
    let patterns = |text: &str, rule: &str| -> Vec<(String, FittingPattern)> {
        let mendings = mended(text, &rules);
        each_holds(text, &rules, &mendings);
        let of_rule = mendings.iter().filter(|one| one.finding.rule == rule);
        let changes = of_rule
            .flat_map(|one| &one.remedies)
            .flat_map(|remedy| &remedy.changes);
        let patterns = changes.filter_map(|change| match change {
            Change::Pattern { fitting, pattern } => Some((fitting.to_string(), *pattern)),
            _ => None,
        });
        patterns.collect()
    };
    let forgotten = text
        .replace("$ARM", "2 ft")
        .replace("$PATTERN", "double_wye")
        .replace("$VENTS", "");
    let of = |fitting: &str, pattern| (fitting.to_owned(), pattern);
    assert_eq!(
        patterns(&forgotten, "open-fitting"),
        [
            of("T", FittingPattern::QuarterBend),
            of("T", FittingPattern::ShortSweep),
            of("T", FittingPattern::LongSweep),
            of("W", FittingPattern::Coupling),
        ]
    );
    let vent = "vents: [{storey: g, size: 1-1/2 in, slope: vertical, path: [{at: T}, {pipe: {length: 12 ft}}, {terminal: {name: roof}}]}]";
    let long = text
        .replace("$ARM", "7 ft")
        .replace("$PATTERN", "coupling")
        .replace("$VENTS", vent);
    let bent = patterns(&long, "trap-arm-fall");
    assert!(bent.contains(&of("T", FittingPattern::QuarterBend)), "{bent:?}");
}

/// Where directions are stated the stub goes straight on with the drain that it serves: without one the angle at the fitting
/// would be open.
#[test]
fn the_stub_of_a_cleanout_has_a_direction_where_its_drain_has_one() {
    let text = "
crownweir: network/1
name: cleanout at the upper end
site: {occupancy: private, winter_design_temperature: 20 F}
defaults: {material: pvc, horizontal_support_spacing: 4 ft, vertical_support_spacing: 8 ft, mid_storey_guide: true, cleanouts: {accessible: true, clearance: 24 in}}
storeys: [{storey: g, height: 9 ft}]
drains:
  - run: kitchen
    storey: g
    size: 2 in
    slope: 1/4 in/ft
    direction: east
    path:
      - fixture: {name: KS, type: kitchen_sink, rim_height: 36 in, weir_height: 16 in, trap: {size: 1-1/2 in, kind: p, seal: 2 in, outlet_drop: 11 in, removable: true}}
      - pipe: {length: 2 ft, size: 1-1/2 in}
      - fitting: {name: T, pattern: sanitary_tee}
      - pipe: {slope: vertical, length: 20 in}
      - fitting: {name: E, pattern: combination_wye}
      - pipe: {length: 10 ft, underground: true}
      - disposal: {name: sewer}
vents:
  - {run: v, storey: g, size: 1-1/2 in, slope: vertical, path: [{at: T}, {pipe: {length: 12 ft}}, {terminal: {name: roof, through: roof, height_above_roof: 12 in, roof_use: weather, nearest_opening: none, lot_line_distance: 20 ft}}]}
";
    let rules = rules("upc-2021");
    let mendings = mended(text, &rules);
    each_holds(text, &rules, &mendings);
    let of_rule = mendings
        .iter()
        .find(|one| one.finding.rule == "cleanout-at-upper-end");
    let remedies = &of_rule.expect("found").remedies;
    let is_of_cleanout = |change: &Change| matches!(change, Change::CleanoutAt { node, .. } if node == "E");
    assert!(
        remedies.iter().any(|one| one.changes.iter().any(is_of_cleanout)),
        "{remedies:?}"
    );
}

/// A vent that is cut from one fitting leaves others on the branch without air too: it is offered for each of them.
#[test]
fn many_findings_of_a_large_network_share_what_is_tried() {
    let (text, rules) = (network_text("heron-point-faulty.yaml"), rules("ipc-2021"));
    let network = Network::from_document(&document(&text), &Default::default()).expect("a network");
    let pieces = network.graph().node_count() + network.graph().edge_count();
    let tried = |networks: usize| {
        let trials = Trials {
            pieces: networks * pieces,
            ..Trials::default()
        };
        let found = mend(&document(&text), &rules, &[], &Default::default(), trials).expect("known sizes");
        let violated = found
            .iter()
            .filter(|one| one.finding.verdict == Verdict::Violated);
        let violated: Vec<Mending> = violated.cloned().collect();
        let (untried, evaluations) = (
            violated.iter().filter(|one| one.untried).count(),
            violated.iter().map(|one| one.evaluations).sum::<usize>(),
        );
        (violated.len(), untried, evaluations)
    };
    let (findings, untried, none) = tried(0);
    assert_eq!((untried, none), (findings, 0));
    // With one network less than there are findings, the first has no share and leaves the others one each.
    let (_, untried, few) = tried(findings - 1);
    assert!((1..findings).contains(&untried), "{untried} of {findings}");
    assert!((1..=2 * findings).contains(&few), "{few} for {findings}");
    let (_, untried, more) = tried(4 * findings);
    assert!(untried == 0 && more > findings, "{untried} of {findings}, {more}");
}

#[test]
fn what_lost_its_air_by_a_neighbours_vent_has_that_vent_offered() {
    let rules = rules("ipc-2021");
    let text = network_text("heron-point.yaml");
    let vent = "  - {run: passage vent, size: 1-1/2 in, slope: vertical, path: [{at: DF-1}, {pipe: {name: passage vent}}, {at: BV-B}]}\n";
    assert_eq!(text.matches(vent).count(), 1);
    let text = text.replace(vent, "");
    let mendings = mended(&text, &rules);
    each_holds(&text, &rules, &mendings);
    let of_rule = |rule: &str| -> Vec<&Mending> {
        let mendings = mendings.iter().filter(|one| one.finding.rule == rule);
        mendings.collect()
    };
    let names = |mendings: &[&Mending]| -> Vec<String> {
        mendings.iter().map(|one| one.finding.name.clone()).collect()
    };
    let without_air = of_rule("trap-protection");
    assert_eq!(names(&without_air), ["WC-2", "SHO-1", "LAV-3", "LAV-4"]);
    // Both fittings that the vent joined are left open: it clears these too.
    assert_eq!(names(&of_rule("open-fitting")), ["DF-1", "BV-B"]);
    assert_eq!(mendings.len(), 6);
    for mending in without_air {
        let vented = mending.remedies.iter().any(|remedy| {
            let [Change::Vent { at, joins, .. }] = &remedy.changes[..] else {
                return false;
            };
            (&**at, &**joins, remedy.clears_too) == ("DF-1", "BV-B", 5)
        });
        assert!(vented, "{}: {:?}", mending.finding.name, mending.remedies);
    }
}

/// Where no plan says what stands above what, a new vent goes to what is near along the pipes: the urinal's to the vents
/// of the room that it stands in.
#[test]
fn without_a_plan_a_new_vent_goes_to_the_nearest_vents() {
    let mendings = mended(&network_text("heron-point-faulty.yaml"), &rules("ipc-2021"));
    let urinal = mendings.iter().find(|one| one.finding.name == "UR-1");
    let remedies = &urinal.expect("found").remedies;
    assert!(!remedies.is_empty());
    for remedy in remedies {
        // Where all openings of the joint are taken, it is made another.
        let [Change::Vent { at, joins, .. }, rest @ ..] = &remedy.changes[..] else {
            panic!("{:?}", remedy.words);
        };
        let of_joint =
            |change: &Change| matches!(change, Change::Pattern { fitting, .. } if fitting == joins);
        assert!(rest.iter().all(of_joint), "{:?}", remedy.words);
        assert!(at == "T-UR-1" && joins.starts_with("MV-"), "{:?}", remedy.words);
    }
}

/// What only the site can bear out is worded so, and comes after what alters pipework.
#[test]
fn facts_of_the_site_are_no_edits_to_be_made_at_will() {
    let rules = rules("ipc-2021");
    let mendings = mended(&network_text("heron-point-faulty.yaml"), &rules);
    let first = |name: &str| {
        let of_name = mendings.iter().find(|one| one.finding.name == name);
        of_name.expect("found").remedies[0].words.join("; ")
    };
    assert_eq!(
        first("CO-4"),
        "if it is or is made so on site, state it: clearance of `CO-4`: 1 ft 6 in"
    );
    assert_eq!(first("CO-1"), "size of `CO-1`: 4 in");
    for mending in &mendings {
        let of_site = mending
            .remedies
            .iter()
            .map(|remedy| remedy.changes.iter().any(Change::is_of_site));
        assert!(of_site.is_sorted(), "{:?}", mending.remedies);
    }
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
            for remedy in &mending.remedies {
                // Nothing is set to one value and then to another.
                let set = remedy.changes.iter().map(|change| match change {
                    Change::Property { node, property, .. } => (change.kind(), &**node, &**property),
                    Change::Test {
                        section, property, ..
                    } => (change.kind(), &**section, *property),
                    change => (change.kind(), change.of(), ""),
                });
                let once: BTreeSet<_> = set.collect();
                assert_eq!(once.len(), remedy.changes.len(), "{name}: {:?}", remedy.words);
            }
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
            // Three pipes get no fitting for four, and a plumb pipe and a level one a quarter turn.
            let fitted = |name: &str| of(&mendings, "fitting-for-turn", name);
            assert_eq!(
                fitted("M-B"),
                ["fit a wye at `M-B`", "fit a combination wye at `M-B`"]
            );
            assert_eq!(
                fitted("S1-C"),
                ["fit a short sweep at `S1-C`", "fit a long sweep at `S1-C`"]
            );
            // What a size does, a larger one is not offered for.
            let larger = of(&mendings, "branch-capacity", "G-A to S2-A");
            assert_eq!(larger, ["lay `G-A to S2-A` in 2 in instead of 1-1/2 in"]);
        }
    }
}

#[test]
fn a_run_at_fault_is_laid_otherwise_as_one() {
    let run = |second: &str| {
        format!(
            "
crownweir: network/1
name: run at fault
storeys: [{{storey: ground}}]
drains:
  - run: main
    kind: building_drain
    size: 3 in
    slope: 1/16 in/ft
    storey: ground
    path:
      - fixture: {{name: load, type: connected_load, load: 30 dfu}}
      - pipe: {{name: first, length: 9 ft}}
      - cleanout: {{name: opening}}
      - pipe: {{name: second, length: 9 ft{second}}}
      - disposal: {{name: sewer}}
"
        )
    };
    let rules = rules("ipc-2021");
    let words = |text: &str, pipe: &str| -> Vec<String> {
        let mendings = mended(text, &rules);
        each_holds(text, &rules, &mendings);
        let of_pipe = mendings
            .iter()
            .find(|one| one.finding.rule == "drain-slope" && one.finding.name == pipe);
        let remedies = &of_pipe.expect("a slope that is too gentle").remedies;
        remedies.iter().map(|remedy| remedy.words.join("; ")).collect()
    };
    let both = run("");
    let whole = "lay the whole run `main` at 1/8 in/ft instead of 1/16 in/ft";
    for pipe in ["first", "second"] {
        assert_eq!(words(&both, pipe)[0], whole);
    }
    let (text, _) = all_applied(&both, &rules);
    assert_eq!(text, both.replace("1/16", "1/8"));
    // Where the other pipe is laid otherwise by itself, the run is of no more use than the pipe.
    let one = run(", slope: 1/8 in/ft");
    assert_eq!(
        words(&one, "first")[0],
        "lay `first` at 1/8 in/ft instead of 1/16 in/ft"
    );
}

#[test]
fn other_buildings_are_mended_as_far_as_shown() {
    for (name, by, least) in [
        ("heron-point-upc-faulty.yaml", "upc-2021", 10),
        ("heron-point-npc-faulty.yaml", "npc-2020", 8),
        ("larch-terrace-upc-faulty.yaml", "upc-2021", 11),
        ("larch-terrace-npc-faulty.yaml", "npc-2020", 8),
        ("larch-terrace-en-faulty.yaml", "en-12056-2", 12),
        ("heron-point-en-faulty.yaml", "en-12056-2", 13),
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

/// By UPC 2021, section 707.4, a horizontal drain begins at a cleanout, and by 1003.3 an arm is of its trap's size.
#[test]
fn a_cleanout_is_put_where_a_drain_begins_and_an_arm_is_laid_in_its_traps_size() {
    let rules = rules("upc-2021");
    let text = "crownweir: network/1
name: laundry
site: {occupancy: private}
storeys: [{storey: cellar, height: 8 ft}]
defaults: {material: pvc, horizontal_support_spacing: 4 ft, vertical_support_spacing: 10 ft, mid_storey_guide: true}
drains:
  - kind: building_drain
    size: 3 in
    slope: 1/4 in/ft
    storey: cellar
    path:
      - cleanout: {name: CO, size: 3 in, clearance: 24 in, accessible: true}
      - pipe: {length: 6 in}
      - fitting: {name: W1, pattern: wye}
      - pipe: {length: 9 ft}
      - disposal: {name: sewer}
  - size: 2 in
    slope: 1/4 in/ft
    storey: cellar
    path:
      - fixture: {name: LT, type: laundry_tray, trap: {size: 1-1/2 in, kind: p, seal: 2 in}}
      - pipe: {name: arm, length: 2 ft}
      - fitting: {name: tee, pattern: sanitary_tee}
      - pipe: {slope: vertical, length: 2 ft}
      - fitting: {name: turn, pattern: long_sweep}
      - pipe: {name: branch, length: 8 ft}
      - at: W1
vents:
  - {size: 2 in, slope: vertical, path: [{at: tee}, {pipe: {length: 12 ft}}, {terminal: {name: roof}}]}
";
    let mendings = mended(text, &rules);
    each_holds(text, &rules, &mendings);
    let offered = |rule: &str| -> Vec<&[String]> {
        let mut found = mendings.iter().filter(|one| one.finding.rule == rule);
        let found = found.next().unwrap_or_else(|| panic!("{rule}"));
        found.remedies.iter().map(|remedy| &*remedy.words).collect()
    };
    assert_eq!(
        offered("trap-and-arm"),
        [
            ["trap size of `LT`: 2 in"],
            ["lay `arm` in 1-1/2 in instead of 2 in"]
        ]
    );
    assert_eq!(
        offered("cleanout-at-upper-end")
            .first()
            .copied()
            .unwrap_or_default(),
        [
            "put a 2 in cleanout `turn cleanout` before `turn`, on 6 in of pipe at 1/4 in/ft, with 1 ft 6 in clear before it",
            "fit a combination wye at `turn`",
        ]
    );
}

#[test]
fn vents_are_tried_too_where_much_else_can_be() {
    let mendings = mended(&network_text("larch-terrace-upc-faulty.yaml"), &rules("upc-2021"));
    let arm = mendings.iter().find(|one| one.finding.rule == "trap-arm-length");
    let remedies = &arm.expect("an arm that is too long").remedies;
    let has_vent = |changes: &[Change]| changes.iter().any(|one| matches!(one, Change::Vent { .. }));
    assert!(remedies.iter().any(|remedy| has_vent(&remedy.changes)));
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

/// A sink that drops too far below its trap arm to be vented from further down, beside a lavatory with a vent.
/// `$DROP` and `$VENT` are what is said of the plumb pipes.
const SINK: &str = "crownweir: network/1
name: sink
site: {occupancy: private, winter_design_temperature: 20 F}
storeys: [{storey: ground, height: 9 ft}]
drains:
  - size: 2 in
    slope: 1/4 in/ft
    storey: ground
    material: pvc
    support_spacing: 4 ft
    path:
      - fixture: {name: LAV, type: lavatory, rim_height: 31 in, weir_height: 18 in, trap: {size: 1-1/4 in, kind: p, seal: 2 in, outlet_drop: 6 in, outlet_offset: 0 in}}
      - pipe: {length: 3 ft, size: 1-1/2 in}
      - fitting: {name: T1, pattern: sanitary_tee}
      - pipe: {slope: vertical, length: 9 ft, $DROP}
      - fitting: {name: turn, pattern: long_sweep}
      - pipe: {length: 3 ft}
      - fitting: {name: J, pattern: wye}
      - pipe: {length: 3 ft, size: 3 in}
      - disposal: {name: sewer}
  - size: 1-1/2 in
    slope: 1/4 in/ft
    storey: ground
    material: pvc
    support_spacing: 4 ft
    path:
      - fixture: {name: SINK, type: sink, rim_height: 36 in, weir_height: 18 in, trap: {size: 1-1/2 in, kind: p, seal: 2 in, outlet_drop: 6 in, outlet_offset: 0 in}}
      - pipe: {length: 3 ft}
      - fitting: {name: T2, pattern: sanitary_tee}
      - pipe: {slope: vertical, length: 9 ft, $DROP}
      - fitting: {name: turn 2, pattern: long_sweep}
      - pipe: {length: 2 ft}
      - at: J
vents:
  - {size: 3 in, storey: ground, slope: vertical, $VENT, path: [{at: T1}, {pipe: {}}, {fitting: {name: V, pattern: sanitary_tee, height: 5 ft}}, {pipe: {length: 9 ft}}, {terminal: {name: roof, through: roof, height_above_roof: 12 in, roof_use: weather, nearest_opening: none}}]}
";

fn sink(drop: &str, vent: &str) -> String {
    SINK.replace("$DROP", drop).replace("$VENT", vent)
}

fn of_the_sink(mendings: &[Mending]) -> &Mending {
    let mut own = mendings.iter().filter(|one| one.finding.name == "SINK");
    own.find(|one| one.finding.rule == "trap-protection")
        .expect("not protected")
}

#[test]
fn a_new_vent_is_made_and_held_as_those_beside_it() {
    let rules = rules("ipc-2021");
    let text = sink(
        "support_spacing: 5 ft, mid_storey_guide: true",
        "material: pvc, support_spacing: 8 ft, mid_storey_guide: true",
    );
    let mendings = mended(&text, &rules);
    let mending = of_the_sink(&mendings);
    let remedy = mending.remedies.first().expect("a remedy");
    assert_eq!(remedy.words, ["vent `T2` by a 1-1/4 in vent up to `V`"]);
    assert!(mending.nearest.is_none());
    let whole = changed(&document(&text), &remedy.changes, &Default::default()).expect("a place");
    let added = whole
        .lines()
        .find(|line| line.contains("T2 vent"))
        .expect("a vent");
    let like = "slope: vertical, material: pvc, support_spacing: 8 ft, mid_storey_guide: true, path";
    assert!(added.contains(like), "{added}");
    // The drains that it rises from tell where the vents do not.
    let text = sink(
        "support_spacing: 5 ft, mid_storey_guide: true",
        "material: cast_iron",
    );
    let mendings = mended(&text, &rules);
    let remedy = of_the_sink(&mendings).remedies.first().expect("a remedy");
    let whole = changed(&document(&text), &remedy.changes, &Default::default()).expect("a place");
    let added = whole
        .lines()
        .find(|line| line.contains("T2 vent"))
        .expect("a vent");
    let like = "material: cast_iron, support_spacing: 5 ft, mid_storey_guide: true, path";
    assert!(added.contains(like), "{added}");
    // What holds by default is not said again.
    let defaults =
        "defaults: {material: pvc, vertical_support_spacing: 10 ft, mid_storey_guide: true}\ndrains:";
    let text = sink("size: 1-1/2 in", "kind: branch_vent").replace("drains:", defaults);
    let mendings = mended(&text, &rules);
    let remedy = of_the_sink(&mendings).remedies.first().expect("a remedy");
    assert_eq!(remedy.words.len(), 1, "{:?}", remedy.words);
}

/// What no vent of the file states, a new one need not state either: it is open of all alike.
#[test]
fn a_new_vent_may_lack_what_the_others_do() {
    let rules = rules("ipc-2021");
    let text = sink("support_spacing: 5 ft", "mid_storey_guide: true").replace("    material: pvc\n", "");
    let open = |text: &str| {
        let findings = report(text, &rules).findings.into_iter();
        let supports = findings.filter(|one| one.rule == "vertical-supports");
        supports
            .map(|one| (one.name.clone(), one.needed().len()))
            .collect::<Vec<_>>()
    };
    assert!(open(&text).iter().all(|(name, _)| name != "T2 to V"));
    let mendings = mended(&text, &rules);
    each_holds(&text, &rules, &mendings);
    let remedy = of_the_sink(&mendings).remedies.first().expect("a remedy");
    assert_eq!(remedy.words, ["vent `T2` by a 1-1/4 in vent up to `V`"]);
    let whole = changed(&document(&text), &remedy.changes, &Default::default()).expect("a place");
    let (before, after) = (open(&text), open(&whole));
    assert_eq!(after.len(), before.len() + 1);
    assert!(after.iter().any(|(name, _)| name == "T2 to V"), "{after:?}");
}

#[test]
fn where_nothing_is_offered_the_nearest_says_what_it_would_bring() {
    let mendings = mended(
        &corner(", direction: north", ", direction: east"),
        &rules("ipc-2021"),
    );
    let own = mendings.iter().find(|one| one.finding.rule == "cleanout-at-turn");
    let mending = own.expect("a corner without a cleanout");
    assert!(mending.remedies.is_empty(), "{:?}", mending.remedies);
    let nearest = mending.nearest.as_ref().expect("a bend is near");
    assert_eq!(nearest.words, ["fit an eighth bend at `corner`"]);
    let brings: Vec<_> = nearest
        .brings
        .iter()
        .map(|new| (&*new.rule, &*new.name))
        .collect();
    assert_eq!(brings, [("fitting-angle", "corner")]);
}

/// A drain round a corner, with what its two pipes state.
fn corner(before: &str, after: &str) -> String {
    format!(
        "crownweir: network/1
name: corner
drains:
  - size: 3 in
    slope: 1/4 in/ft
    path:
      - fixture: {{name: load, type: connected_load, load: 2 dfu}}
      - pipe: {{name: before{before}}}
      - fitting: {{name: corner, pattern: long_sweep}}
      - pipe: {{name: after{after}}}
      - disposal: {{name: sewer}}
"
    )
}

#[test]
fn what_is_made_is_changed_only_where_the_finding_is_about_it() {
    for (name, code) in [
        ("heron-point-faulty.yaml", "ipc-2021"),
        ("larch-terrace-upc-faulty.yaml", "upc-2021"),
    ] {
        for mending in mended(&network_text(name), &rules(code)) {
            for change in mending.remedies.iter().flat_map(|remedy| &remedy.changes) {
                if let Change::Property { property, .. } = change {
                    let own = match property.as_str() {
                        "trap.kind" => "prohibited-trap",
                        "trap.seal" => "trap-seal",
                        _ => continue,
                    };
                    assert_eq!(mending.finding.rule, own, "{change:?}");
                }
            }
        }
    }
    // A trap that is not allowed is replaced, and not by one that comes with the fixture.
    let text = sink("support_spacing: 5 ft", "material: pvc").replace(
        "weir_height: 18 in, trap: {size: 1-1/2 in, kind: p",
        "weir_height: 18 in, trap: {size: 1-1/2 in, kind: s",
    );
    let mendings = mended(&text, &rules("ipc-2021"));
    let trap = mendings
        .iter()
        .find(|one| one.finding.rule == "prohibited-trap")
        .expect("an S trap");
    let words: Vec<_> = trap.remedies.iter().map(|remedy| &*remedy.words[0]).collect();
    assert_eq!(
        words.first(),
        Some(&"if it is or is made so on site, state it: trap kind of `SINK`: p")
    );
    assert!(
        !words.iter().any(|words| words.ends_with("`SINK`: integral")),
        "{words:?}"
    );
}

#[test]
fn a_remedy_that_undoes_another_is_told() {
    let rules = rules("ipc-2021");
    let text = network_text("heron-point-faulty.yaml");
    let mendings = mended(&text, &rules);
    let of = |change: &Change| matches!(change, Change::Length { .. });
    let (mending, remedy) = mendings
        .iter()
        .find_map(|one| {
            Some((
                one,
                one.remedies.iter().find(|remedy| remedy.changes.iter().any(of))?,
            ))
        })
        .expect("a length");
    let Some(Change::Length { pipe, .. }) = remedy.changes.iter().find(|change| of(change)) else {
        panic!("no length");
    };
    let other = Change::Length {
        pipe: pipe.clone(),
        length: "7 in".parse().expect("a length"),
    };
    let elsewhere = Change::Slope {
        pipe: pipe.clone(),
        slope: "1/4 in/ft".parse().expect("a slope"),
    };
    let divided = Change::Fitting {
        pipe: pipe.clone(),
        after: "7 in".parse().expect("a length"),
        name: "new".to_owned(),
        pattern: crownweir_vocabulary::FittingPattern::Tee,
    };
    let come = |made: &[Change]| beside(&text, &rules, mending, &remedy.changes, made);
    assert_eq!(come(&[elsewhere.clone(), other]), Verified::Undoes(1));
    assert_eq!(come(&[divided]), Verified::Undoes(0));
    assert!(matches!(come(&[elsewhere]), Verified::Clears(_)));
    // Made once already, there is nothing to be cleared any more.
    let Verified::Clears(after) = come(&[]) else {
        panic!("it holds")
    };
    assert!(beside(&after, &rules, mending, &[], &[]) == Verified::Cleared);
}

/// A shower, a cleanout and a vent's terminal that state something of every kind.
const STATED: &str = "crownweir: network/1
name: stated
drains:
  - size: 2 in
    slope: 1/4 in/ft
    path:
      - fixture: {name: SH, type: shower, heads: 1, trap: {size: 2 in, kind: p}}
      - pipe: {name: arm, length: 3 ft, material: pvc}
      - cleanout: {name: CO, size: 2 in, accessible: true}
      - pipe: {name: drain, length: 9 ft}
      - disposal: {name: sewer}
vents:
  - {size: 2 in, slope: vertical, path: [{at: CO}, {pipe: {length: 9 ft}}, {terminal: {name: roof, through: roof, nearest_opening: none}}]}
";

/// The same as JSON.
fn as_json(text: &str) -> String {
    let value: serde_json::Value = serde_yaml::from_str(text).expect("plain YAML");
    value.to_string()
}

fn property(node: &str, property: &str, value: impl Into<PropertyValue>) -> Change {
    Change::Property {
        node: node.to_owned(),
        property: property.to_owned(),
        value: value.into(),
    }
}

/// What a node is, in a text with a change made.
fn node_with(text: &str, change: &Change, node: &str) -> NodeKind {
    let whole = changed(&document(text), std::slice::from_ref(change), &Default::default());
    let whole = whole.unwrap_or_else(|error| panic!("{change:?}: {error}"));
    let network = Network::from_document(&document(&whole), &Default::default());
    let network = network.unwrap_or_else(|problems| panic!("{problems}\n{whole}"));
    let id = network.node_named(node).expect("a node");
    network.graph()[id].kind.clone()
}

#[test]
fn properties_are_read_back_as_what_they_were_made() {
    for text in [STATED.to_owned(), as_json(STATED)] {
        for truth in [false, true] {
            let accessible = property("CO", "accessible", truth);
            let NodeKind::Cleanout(cleanout) = node_with(&text, &accessible, "CO") else {
                panic!("no cleanout");
            };
            assert_eq!(cleanout.accessible, Some(truth));
            let removable = property("SH", "trap.removable", truth);
            let NodeKind::Fixture(fixture) = node_with(&text, &removable, "SH") else {
                panic!("no fixture");
            };
            let trap = &fixture.trap;
            assert_eq!(trap.removable, Some(truth));
            assert_eq!(trap.size, "2 in".parse().ok());
        }
        let heads = property("SH", "heads", PropertyValue::Count(3));
        let NodeKind::Fixture(fixture) = node_with(&text, &heads, "SH") else {
            panic!("no fixture");
        };
        assert_eq!(fixture.heads, Some(3));
        let seal = property("SH", "trap.seal", "4 in".to_owned());
        let NodeKind::Fixture(fixture) = node_with(&text, &seal, "SH") else {
            panic!("no fixture");
        };
        assert_eq!(fixture.trap.seal, "4 in".parse().ok());
        for above in ["2 ft", "-3 ft 6 in", "-1 mm"] {
            let opening = NearestOpening {
                distance: "12 ft".parse().expect("a length"),
                above: Length::parse_signed(above).expect("a length"),
            };
            let change = property("roof", "nearest_opening", PropertyValue::Opening(opening));
            let NodeKind::Terminal(terminal) = node_with(&text, &change, "roof") else {
                panic!("no terminal");
            };
            assert_eq!(terminal.nearest_opening, Some(Some(opening)));
        }
    }
}

#[test]
fn names_that_look_like_other_values_remain_names() {
    for name in ["12", "1.5", "true", "null", "yes", "~", "1-1/2", "a: b"] {
        for text in [STATED.to_owned(), as_json(STATED)] {
            let fitting = Change::Fitting {
                pipe: "drain".to_owned(),
                after: "3 ft".parse().expect("a length"),
                name: name.to_owned(),
                pattern: FittingPattern::Wye,
            };
            let found = node_with(&text, &fitting, name);
            assert!(matches!(
                found,
                NodeKind::Fitting {
                    pattern: Some(FittingPattern::Wye)
                }
            ));
        }
    }
}

#[test]
fn it_is_told_why_a_change_cannot_be_made() {
    let limits = Default::default();
    let made = |change: Change| changed(&document(STATED), &[change], &limits);
    let size = |pipe: &str| Change::Size {
        pipe: pipe.to_owned(),
        size: "3 in".parse().expect("a size"),
    };
    let no_place = Err(ChangeError::NoPlace {
        element: "riser".to_owned(),
    });
    assert_eq!(made(size("riser")), no_place);
    let Err(ChangeError::Breaks { element, problems }) =
        made(property("CO", "accessible", "now and then".to_owned()))
    else {
        panic!("made");
    };
    assert_eq!(element, "CO");
    let [problem] = &*problems.list else {
        panic!("{problems}");
    };
    assert_eq!((problem.place.line, &*problem.offending), (9, "now and then"));
    // What is no network to begin with says what is wrong with it.
    let broken = document(&STATED.replace("type: shower", "type: shouter"));
    let expected = Network::from_document(&broken, &limits).expect_err("no such fixture");
    let rules = rules("ipc-2021");
    let network = Err(ChangeError::Network(expected.clone()));
    assert_eq!(changed(&broken, &[size("drain")], &limits), network);
    let Err(MendError::Network(problems)) = mend(&broken, &rules, &[], &limits, Trials::default()) else {
        panic!("mended");
    };
    assert_eq!(problems, expected);
    let mendings = mended(STATED, &rules);
    let mending = mendings.first().expect("a finding");
    let again = verified(
        &broken,
        &rules,
        &[],
        &limits,
        &mending.finding,
        &[size("drain")],
        &[],
    );
    assert_eq!(again, Err(MendError::Network(expected)));
    let unmakeable = beside(STATED, &rules, mending, &[size("riser")], &[]);
    assert_eq!(
        unmakeable,
        Verified::Unmakeable(ChangeError::NoPlace {
            element: "riser".to_owned()
        })
    );
}

/// Where no cleanout in the drain at fault does, one in the drain that comes to it may, and one is enough.
#[test]
fn one_cleanout_is_put_where_it_does_for_all_that_lies_behind() {
    let rules = rules("ipc-2021");
    let of_short = |long: &str| -> Vec<Vec<String>> {
        let text = format!(
            "crownweir: network/1
name: behind
site: {{occupancy: private}}
storeys: [{{storey: g}}]
defaults: {{material: pvc, horizontal_support_spacing: 4 ft, cleanouts: {{accessible: true, clearance: 3 ft}}}}
drains:
  - {{storey: g, size: 4 in, slope: 1/4 in/ft, path: [{{fixture: {{name: A, type: connected_load, load: 4 dfu}}}}, {{pipe: {{length: 3 ft}}}}, {{at: J}}]}}
  - {{kind: building_drain, storey: g, size: 4 in, slope: 1/4 in/ft, path: [{{cleanout: {{name: C, size: 4 in}}}}, {{pipe: {{name: long, length: {long}}}}}, {{fitting: {{name: J, pattern: wye}}}}, {{pipe: {{name: short, length: 9 ft}}}}, {{cleanout: {{name: D, size: 4 in}}}}, {{pipe: {{length: 3 ft}}}}, {{disposal: {{name: sewer}}}}]}}
"
        );
        let mendings = mended(&text, &rules);
        each_holds(&text, &rules, &mendings);
        words(&mendings, "short")
    };
    let alone = |after: &str| {
        let into = format!("put a 4 in cleanout `long cleanout` into `long`, {after} from its start");
        vec![format!("{into}, with 1 ft 6 in clear before it")]
    };
    assert_eq!(of_short("100 ft"), ["90 ft", "50 ft", "10 ft"].map(alone));
    // Of three stretches of at most 100 ft the lowest is as long as it may be.
    let first = "put a 4 in cleanout `long cleanout` into `long`, 159 ft from its start";
    let of_long = of_short("250 ft");
    assert!(
        of_long[0][0].starts_with(first) && of_long[0].len() == 2,
        "{of_long:?}"
    );
}

#[test]
fn cleanouts_in_two_pipes_are_not_in_each_other_s_way() {
    let rules = rules("ipc-2021");
    let pipe = |name: &str| {
        format!("{{pipe: {{name: {name}, length: 120 ft, support_spacing: 4 ft, material: pvc}}}}")
    };
    let cleanout =
        |name: &str| format!("{{cleanout: {{name: {name}, size: 4 in, accessible: true, clearance: 3 ft}}}}");
    let text = format!(
        "crownweir: network/1
name: two
site: {{occupancy: private}}
storeys: [{{storey: g}}]
drains:
  - {{storey: g, size: 4 in, slope: 1/4 in/ft, kind: building_drain, path: [{}, {}, {}, {}, {}, {{pipe: {{length: 3 ft}}}}, {{disposal: {{name: sewer}}}}]}}
",
        cleanout("C"),
        pipe("upper"),
        cleanout("D"),
        pipe("lower"),
        cleanout("E")
    );
    let mendings = mended(&text, &rules);
    let remedy_of = |pipe: &str| {
        let mending = mendings
            .iter()
            .find(|one| one.finding.name == pipe && !one.remedies.is_empty());
        let mending = mending.expect("a finding with a remedy");
        (mending, &mending.remedies[0])
    };
    let (of_upper, upper) = remedy_of("upper");
    let (of_lower, lower) = remedy_of("lower");
    assert!(upper.changes.iter().all(|change| change.kind() == "cleanout"));
    let Verified::Clears(whole) = beside(&text, &rules, of_upper, &upper.changes, &[]) else {
        panic!("{:?}", upper.words);
    };
    let both = beside(&whole, &rules, of_lower, &lower.changes, &upper.changes);
    let Verified::Clears(whole) = both else {
        panic!("{both:?}");
    };
    assert!(whole.contains("upper cleanout") && whole.contains("lower cleanout"));
}

/// The patterns that are offered for a finding at the fitting `X` between two drains, the second of which goes on `on`.
fn patterns_at_turn(pattern: &str, on: &str, rule: &str) -> Vec<FittingPattern> {
    let text = format!(
        "crownweir: network/1
name: turn
drains:
  - size: 3 in
    slope: 1/4 in/ft
    path:
      - cleanout: {{name: CO, size: 3 in, clearance: 24 in, accessible: true}}
      - pipe: {{length: 1 ft, direction: north}}
      - fitting: {{name: W, pattern: wye}}
      - pipe: {{length: 2 ft}}
      - fitting: {{name: X, pattern: {pattern}}}
      - pipe: {{length: 3 ft, direction: {on}}}
      - disposal: {{name: sewer}}
  - {{size: 3 in, slope: 1/4 in/ft, path: [{{fixture: {{name: load, type: connected_load, load: 2 dfu}}}}, {{pipe: {{length: 1 ft}}}}, {{at: W}}]}}
"
    );
    let text = match on {
        "unknown" => text
            .replace(", direction: north", "")
            .replace(", direction: unknown", ""),
        _ => text,
    };
    let trials = Trials {
        remedies: 99,
        ..Trials::default()
    };
    let found = mend(
        &document(&text),
        &rules("ipc-2021"),
        &[],
        &Default::default(),
        trials,
    )
    .expect("known sizes");
    let finding = found
        .into_iter()
        .find(|one| one.finding.rule == rule && one.finding.name == "X");
    let remedies = finding.map(|one| one.remedies).expect("a finding");
    let pattern = |remedy: &crownweir_propose::Remedy| match remedy.changes[..] {
        [Change::Pattern { pattern, .. }] => pattern,
        ref other => panic!("{other:?}"),
    };
    remedies.iter().map(pattern).collect()
}

/// A bend that the plan denies would clear the finding, and is no remedy.
#[test]
fn bends_that_the_plan_denies_are_not_offered() {
    use FittingPattern::LongSweep;
    let by = |on: &str| patterns_at_turn("quarter_bend", on, "fitting-for-turn");
    assert_eq!(by("unknown"), [LongSweep]);
    assert_eq!(by("east"), [LongSweep]);
}

/// What does not go with its pipes is mended by what does, if the code lets it serve there.
#[test]
fn a_fitting_for_the_angle_is_offered() {
    use FittingPattern::{EighthBend, LongSweep};
    let by = |pattern: &str, on: &str| patterns_at_turn(pattern, on, "fitting-angle");
    assert_eq!(by("coupling", "east"), [LongSweep]);
    assert_eq!(by("long_sweep", "north-east"), [EighthBend]);
}

/// A run of 3 in PVC at 1/8 in/ft across joists, 16 in apart and 8 in along it on, their edges 3/4 in and 12 in below the
/// floor; with what is put for the trap weir's height, the first joist's passage and the stack below.
fn across(weir: &str, passes: &str, down: &str) -> String {
    format!(
        "
crownweir: network/1
name: across
units: inches
storeys: [{{storey: lower, height: 9 ft}}, {{storey: upper, height: 9 ft}}]
framing:
  - {{framing: j, kind: joist, make: sawn, depth: 11-1/4 in, thickness: 1-1/2 in, spacing: 16 in, storey: upper, top: -3/4 in}}
  - {{framing: studs, kind: stud, make: sawn, depth: 5-1/2 in, thickness: 1-1/2 in, storey: upper, bearing: false}}
drains:
  - size: 3 in
    material: pvc
    slope: 1/8 in/ft
    storey: upper
    path:
      - fixture: {{name: F, type: sink{weir}}}
      - pipe: {{name: p, length: 20 ft, passes: [{passes}]}}
      - fitting: {{name: S, pattern: quarter_bend}}
      - pipe: {{name: down, slope: vertical{down}}}
      - disposal: {{name: sewer}}
"
    )
}

fn words(mendings: &[Mending], finding: &str) -> Vec<Vec<String>> {
    let of = mendings
        .iter()
        .find(|one| one.finding.name == finding)
        .expect(finding);
    of.remedies.iter().map(|remedy| remedy.words.clone()).collect()
}

/// By hand: a hole of 3-5/8 in with 2 in of wood on both sides has its centre from 3-13/16 to 7-7/16 in above the lower edge.
/// With the weir 3 in below the floor it lies 8-11/12 in above it at the first joist and 2-1/6 in lower at the fourteenth:
/// 1-23/48 in lower, 1-1/2 in on a tape, all are within; 8 in below the floor it has to come up by 2-1/16 in, for the last.
#[test]
fn a_run_is_raised_or_lowered_until_its_holes_keep_clear_of_edges() {
    let rules = rules("framing-irc-2021");
    let all = "{framing: j, first: 8 in, count: 14}";
    for (weir, name, remedy) in [
        ("-3 in", "p, j 1", "weir height of `F`: -4-1/2 in"),
        ("-8 in", "p, j 14", "weir height of `F`: -5-15/16 in"),
    ] {
        let text = across(&format!(", weir_height: {weir}"), all, ", length: 2 ft");
        let mendings = mended(&text, &rules);
        each_holds(&text, &rules, &mendings);
        assert_eq!(words(&mendings, name)[0], [remedy], "{weir}");
        // A plate that is not stated where the pipe is near an edge is not asked for any more.
        let (whole, _) = all_applied(&text, &rules);
        assert!(report(&whole, &rules).findings.is_empty());
    }
    // A run that hangs on the length of what goes down from it.
    let below = across("", all, ", length: 101 in").replace(
        "disposal: {name: sewer}",
        "disposal: {name: sewer, storey: lower, height: 1-1/2 in}",
    );
    let mendings = mended(&below, &rules);
    each_holds(&below, &rules, &mendings);
    assert_eq!(
        words(&mendings, "p, j 1")[0],
        ["shorten `down` from 8 ft 5 in to 8 ft 3-1/2 in"]
    );
    // One that hangs on a place, whose height is above the datum.
    let placed = across("", all, "").replace("pattern: quarter_bend", "position: [1 ft, 2 ft, 102-1/2 in]");
    let mendings = mended(&placed, &rules);
    each_holds(&placed, &rules, &mendings);
    assert_eq!(words(&mendings, "p, j 1")[0], ["height of `S`: -7 in"]);
    let (whole, _) = all_applied(&placed, &rules);
    assert!(whole.contains("position: [1 ft, 2 ft, 8 ft 5 in]"), "{whole}");
    // Of 1/4 in/ft a fall of 4-1/3 in has no room within 3-5/8 in: what is nearest is told with what it brings.
    let steep = across(", weir_height: -4 in", all, "").replace("1/8 in/ft", "1/4 in/ft");
    let mendings = mended(&steep, &rules);
    assert!(
        mendings
            .iter()
            .all(|one| one.remedies.is_empty() && one.nearest.is_some())
    );
}

/// By hand: 2 in pipe in holes of 2-9/16 in has its centre from 3-9/32 to 7-31/32 in above the lower edge. Laid at the
/// 1/4 in/ft that it wants, from a weir 6 in below the floor, it is 10-1/2 in below the floor at the last joist, 1-1/2 in
/// above the edge: 1-25/32 in too low, which on a tape brings the weir to 4-3/16 in below the floor.
#[test]
fn what_suits_the_pipes_suits_the_framing_too() {
    let (pipes, framing) = (rules("ipc-2021"), rules("framing-irc-2021"));
    let all = "{framing: j, first: 8 in, count: 14}";
    let text = across(", weir_height: -6 in", all, ", length: 2 ft").replace("size: 3 in", "size: 2 in");
    let by = |beside: &[&RuleSet]| {
        let mendings = mend(
            &document(&text),
            &pipes,
            beside,
            &Default::default(),
            Trials::default(),
        );
        let mendings = mendings.expect("known sizes");
        let own = mendings.into_iter().find(|one| one.finding.rule == "drain-slope");
        own.expect("too flat").remedies.swap_remove(0)
    };
    let steeper = "lay `p` at 1/4 in/ft instead of 1/8 in/ft";
    let left_after = |changes: &[Change]| {
        let text = changed(&document(&text), changes, &Default::default()).expect("made before");
        report(&text, &framing).findings.len()
    };
    let (alone, together) = (by(&[]), by(&[&framing]));
    assert_eq!(left_after(&[]), 0);
    assert_eq!(alone.words, [steeper]);
    assert!(left_after(&alone.changes) > 0);
    assert_eq!(together.words, [steeper, "weir height of `F`: -4-3/16 in"]);
    assert_eq!(left_after(&together.changes), 0);
}

/// By hand: in a stud of 5-1/2 in a hole of 2-9/16 in for 2 in pipe with 5/8 in of wood beside it has its centre 1-29/32 in
/// from the face, 1-15/16 in on a tape; a hole of 2-7/16 in is tight on pipe of 2-3/8 in, which
/// wants 2-1/2 in. In a stud of 5-1/2 in, 60 % is 3.3 in, 3-1/4 in on a tape; the rule set bores 2-9/16 in for 2 in pipe.
#[test]
fn a_hole_a_plate_and_a_centre_are_restated_where_they_stand() {
    let rules = rules("framing-irc-2021");
    let studs = |passes: &str| across("", passes, "").replace("size: 3 in", "size: 2 in");
    for (passes, rule, remedy) in [
        (
            "{framing: studs, centre: 1-3/4 in, steel_plate: true}",
            "stud-hole-edge",
            "centre of `p, studs 1`: 1-15/16 in",
        ),
        (
            "{framing: studs, centre: 2 in, steel_plate: false}",
            "steel-plate",
            "shield the pipe at `p, studs 1` with a steel plate",
        ),
        (
            "{framing: studs, centre: middle, hole: 2-7/16 in, steel_plate: true}",
            "hole-clears-pipe",
            "bore `p, studs 1` 2-1/2 in wide",
        ),
        (
            "{framing: studs, centre: middle, hole: 3-1/2 in, steel_plate: true}",
            "stud-hole",
            "bore `p, studs 1` 2-9/16 in wide",
        ),
        (
            "{framing: studs, centre: middle, hole: 3-1/2 in, steel_plate: true}",
            "stud-hole",
            "bore `p, studs 1` 3-1/4 in wide",
        ),
        (
            "{framing: studs, centre: 2 in, hole: 3-1/4 in, steel_plate: true}",
            "stud-hole-edge",
            "bore `p, studs 1` 2-9/16 in wide",
        ),
    ] {
        let text = studs(passes);
        let mendings = mended(&text, &rules);
        each_holds(&text, &rules, &mendings);
        let own = mendings.iter().find(|one| one.finding.rule == rule).expect(rule);
        assert!(
            own.remedies.iter().any(|one| one.words == [remedy]),
            "{rule}: {:?}",
            own.remedies
        );
    }
}

/// By IPC 2021 a closet bend turns the flow to the horizontal in 3 in and 4 in pipe, not in 2 in (section 706.3), which is too
/// small for a water closet too: there is no other bend to try, but what enlarges the drain clears both.
#[test]
fn what_another_remedy_clears_points_to_it() {
    let rules = rules("ipc-2021");
    let text = "crownweir: network/1
name: bath
site: {occupancy: private}
storeys: [{storey: ground, height: 9 ft}, {storey: upper, height: 9 ft}]
drains:
  - {run: bath, storey: upper, size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: WC, type: water_closet, flush_volume: 1.6 gal, trap: {size: 3 in, kind: integral}}}, {pipe: {slope: vertical, length: 1 ft}}, {fitting: {name: CB, pattern: closet_bend}}, {pipe: {length: 2 ft}}, {at: ST}]}
  - {kind: stack, size: 3 in, slope: vertical, path: [{fitting: {name: ST, pattern: sanitary_tee, storey: upper}}, {pipe: {length: 9 ft}}, {disposal: {name: sewer}}]}
vents:
  - {kind: stack_vent, size: 3 in, slope: vertical, path: [{at: ST}, {pipe: {length: 14 ft}}, {terminal: {name: roof}}]}
";
    let mendings = mended(text, &rules);
    each_holds(text, &rules, &mendings);
    let bend = mendings.iter().find(|one| one.finding.rule == "fitting-for-turn");
    let bend = bend.expect("turned by a closet bend of 2 in");
    let (finding, choice) = bend.cleared_by.expect("cleared by what enlarges the drain");
    let remedy = &mendings[finding].remedies[choice];
    let text = changed(&document(text), &remedy.changes, &Default::default()).expect("offered");
    let left = report(&text, &rules).findings;
    assert!(bend.remedies.is_empty() && left.iter().all(|one| one.rule != bend.finding.rule));
    assert!(
        mendings
            .iter()
            .all(|one| one.remedies.is_empty() || one.cleared_by.is_none())
    );
}

/// By NPC 2020, 2.4.7.1., a cleanout stands at the bottom of a stack or up to 3 m above: on the upright pipe, not on what the
/// run goes on by.
#[test]
fn the_cleanout_of_a_stack_that_goes_on_level_is_put_where_it_stands() {
    let rules = rules("npc-2020");
    let text = "crownweir: network/1
name: goes on
drains:
  - {kind: stack, size: DN 75, slope: vertical, path: [{fixture: {name: F, type: connected_load, load: 1 dfu}}, {pipe: {name: down, length: 3 m}}, {fitting: {name: foot, pattern: long_sweep}}, {pipe: {name: out, slope: 1:50, length: 4 m}}, {disposal: {name: sewer}}]}
";
    let mendings = mended(text, &rules);
    each_holds(text, &rules, &mendings);
    let own = mendings.iter().find(|one| one.finding.rule == "stack-cleanout");
    let remedies = &own.expect("no cleanout").remedies;
    let is_in_it = |words: &[String]| words.iter().any(|words| words.contains("into `down`"));
    assert!(!remedies.is_empty() && remedies.iter().all(|remedy| is_in_it(&remedy.words)));
}

/// A drain that goes round a corner goes round it after every remedy: no fitting that turns less is put there, where no
/// direction says that it may be. IPC 2021, section 708.1.4, asks for a cleanout (here as far from the turn as it allows).
#[test]
fn a_corner_stays_one_where_no_direction_is_stated() {
    let text = corner(", length: 4 ft", ", length: 4 ft");
    let rules = rules("ipc-2021");
    let mendings = mended(&text, &rules);
    each_holds(&text, &rules, &mendings);
    let own = mendings.iter().find(|one| one.finding.rule == "cleanout-at-turn");
    let own = own.expect("a corner without a cleanout");
    assert!(!own.remedies.is_empty());
    for change in own.remedies.iter().flat_map(|remedy| &remedy.changes) {
        assert!(matches!(change, Change::Cleanout { .. }), "{change:?}");
    }
}

#[test]
fn a_vent_that_comes_to_a_bend_has_a_tee_fitted_there() {
    let text = "
crownweir: network/1
name: two basins
storeys: [{storey: ground, elevation: 0 in}]
site: {occupancy: private}
drains:
  - kind: building_drain
    storey: ground
    size: 3 in
    slope: 1/4 in/ft
    path:
      - fixture: {name: L1, type: lavatory, weir_height: 18 in, trap: {size: 1-1/4 in, kind: p, seal: 2 in}}
      - pipe: {name: a1, size: 1-1/2 in, length: 2 ft}
      - fitting: {name: T1, pattern: sanitary_tee}
      - pipe: {name: d1, size: 1-1/2 in, slope: vertical, length: 2 ft}
      - fitting: {name: B1, pattern: long_sweep}
      - pipe: {name: m1, size: 3 in, length: 6 ft}
      - fitting: {name: W2, pattern: wye}
      - pipe: {name: m2, length: 6 ft}
      - disposal: {name: sewer}
  - storey: ground
    size: 1-1/2 in
    slope: 1/4 in/ft
    path:
      - fixture: {name: L2, type: lavatory, weir_height: 18 in, trap: {size: 1-1/4 in, kind: p, seal: 2 in}}
      - pipe: {name: a2, length: 2 ft}
      - fitting: {name: T2, pattern: sanitary_tee}
      - pipe: {name: d2, slope: vertical}
      - fitting: {name: B2, pattern: long_sweep}
      - pipe: {name: m3, length: 2 ft}
      - at: W2
vents:
  - storey: ground
    size: 1-1/2 in
    path:
      - at: T1
      - pipe: {name: v1, slope: vertical, length: 4 ft}
      - fitting: {name: V1, pattern: vent_quarter_bend}
      - pipe: {name: v2, slope: 1/4 in/ft, length: 5 ft}
      - fitting: {name: V2, pattern: vent_quarter_bend}
      - pipe: {name: v3, slope: vertical, length: 10 ft}
      - terminal: {name: roof, through: roof, height_above_roof: 12 in}
";
    let mendings = mended(text, &rules("ipc-2021"));
    each_holds(text, &rules("ipc-2021"), &mendings);
    let offered = words(&mendings, "L2");
    assert!(!offered.is_empty());
    for remedy in offered {
        let to_bend = |words: &String| words.ends_with("up to `V1`") || words.ends_with("up to `V2`");
        let fits = |words: &String| words.starts_with("fit a ") && words.contains("tee at `V");
        assert!(
            remedy.iter().any(to_bend) && remedy.iter().any(fits),
            "{remedy:?}"
        );
    }
}

/// By the code's own figures: 2 in and 3 in together are less than the 4 in of the building drain, and each vent alone serves
/// a load that asks for 4 in.
const TWO_VENTS: &str = "
crownweir: network/1
name: vents of a building
drains:
  - kind: building_drain
    size: 4 in
    slope: 1/4 in/ft
    path:
      - fixture: {name: load, type: connected_load, load: 100 dfu}
      - pipe: {name: d1, length: 3 ft}
      - fitting: {name: A, pattern: wye}
      - pipe: {name: d2, length: 3 ft}
      - fitting: {name: B, pattern: wye}
      - pipe: {name: d3, length: 3 ft}
      - disposal: {name: sewer}
vents:
  - {size: 3 in, slope: vertical, path: [{at: A}, {pipe: {name: large, length: 12 ft}}, {terminal: {name: R1}}]}
  - {size: 2 in, slope: vertical, path: [{at: B}, {pipe: {name: small, length: 12 ft}}, {terminal: {name: R2}}]}
";

/// 3-1/2 in stands on the ladder, for openings of cleanouts; no table of pipes has it.
#[test]
fn no_pipe_is_offered_in_a_size_that_no_table_is_looked_up_by() {
    let rules = rules("upc-2021");
    let size = |text: &str| {
        rules
            .ladder
            .find(text.parse().expect("a size"))
            .expect("on the ladder")
    };
    assert!(
        !rules.pipe_sizes().contains(&size("3-1/2 in")) && rules.pipe_sizes().contains(&size("2-1/2 in"))
    );
    let mendings = mended(TWO_VENTS, &rules);
    let area = mendings
        .iter()
        .find(|one| one.finding.rule == "building-vent-area");
    let words: Vec<_> = area
        .expect("found")
        .remedies
        .iter()
        .map(|one| &one.words)
        .collect();
    assert!(
        words.contains(&&vec!["lay `large` in 4 in instead of 3 in".to_owned()]),
        "{words:?}"
    );
}

#[test]
fn what_later_remedies_make_needless_is_told() {
    let rules = rules("upc-2021");
    let mendings = mended(TWO_VENTS, &rules);
    let first = |rule: &str, name: &str| {
        let mut all = mendings.iter();
        let one = all.find(|one| one.finding.rule == rule && one.finding.name == name);
        &*one.expect(name).remedies.first().expect(name).changes
    };
    let area = first("building-vent-area", "vents of a building");
    let (large, small) = (first("vent-size", "large"), first("vent-size", "small"));
    let of = |made: &[&[Change]]| {
        let limits = Default::default();
        needless(&document(TWO_VENTS), &rules, &[], &limits, made).expect("known sizes")
    };
    assert_eq!(of(&[area, large, small]), [0]);
    assert_eq!(of(&[large, small]), [0; 0]);
    assert_eq!(of(&[area]), [0; 0]);
}

/// What an arm loses, the fixture's own drain beyond the vent gains. A drain that others join stays as long as it is.
#[test]
fn an_arm_is_shortened_without_a_change_beyond_where_others_join() {
    let arm = |joins: &str| {
        let text = format!(
            "crownweir: network/1
name: arm
storeys: [{{storey: low, height: 9 ft}}]
drains:
  - {{size: 1-1/2 in, storey: low, slope: 1/4 in/ft, path: [{{fixture: {{name: tub, type: bathtub, trap: {{size: 1-1/2 in}}}}}}, {{pipe: {{name: arm, size: 2 in, length: 7 ft}}}}, {{fitting: {{name: V}}}}, {{pipe: {{name: beyond, size: 2 in, length: 3 ft}}}}, {{fitting: {{name: W}}}}, {{pipe: {{name: after, size: 2 in, length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}
  - {{size: 2 in, storey: low, slope: 1/4 in/ft, path: [{{fixture: {{name: tray, type: laundry_tray, trap: {{size: 1-1/2 in}}}}}}, {{pipe: {{length: 1 ft}}}}, {{at: {joins}}}]}}
vents:
  - {{size: 1-1/2 in, storey: low, slope: vertical, path: [{{at: V}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: roof}}}}]}}
"
        );
        let mendings = mended(&text, &rules("ipc-2021"));
        let mut found = mendings.iter();
        let found = found.find(|one| one.finding.rule == "trap-arm-length" && one.finding.name == "tub");
        let remedies = found.expect("too long").remedies.iter();
        let shorter = remedies.map(|remedy| remedy.words.join("; "));
        shorter
            .filter(|words| words.starts_with("shorten"))
            .collect::<Vec<_>>()
    };
    assert_eq!(
        arm("W"),
        ["shorten `arm` from 7 ft to 6 ft; lengthen `beyond` from 3 ft to 4 ft"]
    );
    assert_eq!(arm("V"), ["shorten `arm` from 7 ft to 6 ft"]);
}

/// By IPC 2021, section 918.4, a valve stands no less than 4 in above the drain that it vents. What is stated of it has to
/// go with its vent, as far as the vent tells.
#[test]
fn a_low_valve_is_raised_by_its_vent() {
    let words = |vent: &str, valve: &str| {
        let text = format!(
            "crownweir: network/1
name: valve
storeys: [{{storey: low, height: 9 ft}}]
drains:
  - {{size: 1-1/2 in, storey: low, slope: 1/4 in/ft, path: [{{fixture: {{name: basin, type: lavatory, trap: {{size: 1-1/4 in}}}}}}, {{pipe: {{length: 3 ft}}}}, {{fitting: {{name: T, height: 18 in}}}}, {{pipe: {{length: 3 ft}}}}, {{disposal: {{name: sewer}}}}]}}
vents:
  - {{size: 1-1/2 in, storey: low, slope: vertical, path: [{{at: T}}, {{pipe: {{name: up{vent}}}}}, {{valve: {{name: V, kind: branch{valve}}}}}]}}
"
        );
        let mendings = mended(&text, &rules("ipc-2021"));
        let low = mendings.iter().find(|one| one.finding.rule == "valve-height");
        let remedies = low.expect("too low").remedies.iter();
        let words: Vec<_> = remedies.map(|remedy| remedy.words.join("; ")).collect();
        words
    };
    assert_eq!(words(", length: 2 in", ""), ["lengthen `up` from 2 in to 4 in"]);
    assert_eq!(
        words(", length: 2 in", ", height_above_drain: 2 in"),
        ["lengthen `up` from 2 in to 4 in; height above drain of `V`: 4 in"]
    );
    assert_eq!(
        words("", ", height_above_drain: 2 in"),
        ["height above drain of `V`: 4 in"]
    );
}

/// By IPC 2021, section 909.2, an arm falls no more than its own diameter before its vent: 3 ft of 1-1/2 in at 3/4 in/ft fall
/// 2-1/4 in, at 1/2 in/ft as much as is allowed.
#[test]
fn an_arm_that_is_too_steep_is_laid_at_a_gentler_slope() {
    let text = "crownweir: network/1
name: arm
storeys: [{storey: low, height: 9 ft}]
drains:
  - {size: 1-1/2 in, storey: low, slope: 1/4 in/ft, path: [{fixture: {name: basin, type: lavatory, trap: {size: 1-1/4 in}}}, {pipe: {name: first, length: 1 ft}}, {fitting: {name: bend}}, {pipe: {name: second, length: 3 ft, slope: 3/4 in/ft}}, {fitting: {name: T}}, {pipe: {length: 3 ft}}, {disposal: {name: sewer}}]}
vents:
  - {size: 1-1/2 in, storey: low, slope: vertical, path: [{at: T}, {pipe: {length: 20 ft}}, {terminal: {name: roof}}]}
";
    let mendings = mended(text, &rules("ipc-2021"));
    let steep = mendings.iter().find(|one| one.finding.rule == "trap-arm-fall");
    let remedies = &steep.expect("too steep").remedies;
    let words: Vec<_> = remedies.iter().map(|remedy| remedy.words.join("; ")).collect();
    // At 1/2 in/ft it falls 1-3/4 in with what the first pipe falls, which stays as it is.
    assert_eq!(
        words.first().map(String::as_str),
        Some("lay `second` at 1/4 in/ft instead of 3/4 in/ft"),
        "{words:?}"
    );
}

/// By UPC 2021, section 1003.3, trap and arm are of one size: either may come to be that of the other.
#[test]
fn a_trap_is_offered_in_the_size_of_its_arm() {
    let text = "crownweir: network/1
name: arm
storeys: [{storey: low, height: 9 ft}]
drains:
  - {size: 1-1/2 in, storey: low, slope: 1/4 in/ft, path: [{fixture: {name: basin, type: lavatory, trap: {size: 1-1/4 in, kind: p}}}, {pipe: {name: arm, length: 2 ft}}, {fitting: {name: T}}, {pipe: {length: 3 ft}}, {disposal: {name: sewer}}]}
vents:
  - {size: 1-1/2 in, storey: low, slope: vertical, path: [{at: T}, {pipe: {length: 20 ft}}, {terminal: {name: roof}}]}
";
    let mendings = mended(text, &rules("upc-2021"));
    let unlike = mendings.iter().find(|one| one.finding.rule == "trap-and-arm");
    let remedies = unlike.expect("of two sizes").remedies.iter();
    let words: Vec<_> = remedies.map(|remedy| remedy.words.join("; ")).collect();
    assert_eq!(
        words,
        [
            "trap size of `basin`: 1-1/2 in",
            "lay `arm` in 1-1/4 in instead of 1-1/2 in"
        ]
    );
}

/// By IPC 2021, Table 909.1, the arm of a 1-1/4 in trap reaches 5 ft. What stands at the head of the stack is the stack's own
/// vent, whatever the file calls it: it stays there, and the basin has another.
#[test]
fn the_vent_of_a_stack_is_never_hung_on_a_fixture() {
    let rules = rules("ipc-2021");
    for kind in ["stack_vent", "branch_vent"] {
        let text = format!(
            "crownweir: network/1
name: high basin
storeys: [{{storey: low, height: 9 ft}}, {{storey: high, height: 9 ft}}]
defaults: {{material: pvc, horizontal_support_spacing: 4 ft, vertical_support_spacing: 10 ft, mid_storey_guide: true}}
drains:
  - run: basin
    size: 1-1/4 in
    storey: high
    slope: 1/4 in/ft
    path:
      - fixture: {{name: B, type: lavatory, weir_height: 18 in, trap: {{size: 1-1/4 in, kind: p, seal: 2 in}}}}
      - pipe: {{name: first, length: 2 ft}}
      - fitting: {{name: bend, pattern: long_sweep}}
      - pipe: {{name: second, length: 5 ft}}
      - at: head
  - run: stack
    kind: stack
    size: 3 in
    slope: vertical
    path:
      - fitting: {{name: head, pattern: sanitary_tee, storey: high}}
      - pipe: {{name: down}}
      - fitting: {{name: foot, pattern: long_sweep, storey: low, height: -12 in}}
      - pipe: {{name: out, length: 6 ft, slope: 1/4 in/ft}}
      - disposal: {{name: sewer}}
vents:
  - run: main vent
    kind: {kind}
    size: 3 in
    slope: vertical
    path:
      - at: head
      - pipe: {{name: main 1}}
      - fitting: {{name: J, pattern: tee, storey: high, height: 7 ft}}
      - pipe: {{name: main 2, length: 8 ft}}
      - terminal: {{name: roof, through: roof, height_above_roof: 12 in}}
"
        );
        let mendings = mended(&text, &rules);
        each_holds(&text, &rules, &mendings);
        let long = mendings.iter().find(|one| one.finding.rule == "trap-arm-length");
        let remedies = &long.expect("an arm that is too long").remedies;
        assert!(!remedies.is_empty());
        for change in remedies.iter().flat_map(|remedy| &remedy.changes) {
            assert!(!matches!(change, Change::VentFrom { .. }), "{kind}: {change:?}");
        }
    }
}

/// A closet is set on its flange, and its bend carries that: neither becomes a tee, and the vent rises beyond them. Nor does
/// one rise from the wye at which three drains lie on end: both branches of a double wye do so too.
#[test]
fn a_closets_vent_rises_between_its_bend_and_the_branch() {
    let rules = rules("upc-2021");
    let high = "crownweir: network/1
name: two closets
storeys: [{storey: low, height: 9 ft}]
defaults: {material: pvc, horizontal_support_spacing: 4 ft, vertical_support_spacing: 10 ft, mid_storey_guide: true}
models:
  closet: {type: water_closet, flush_volume: 1.28 gal, rim_height: 15 in, weir_height: 8 in, trap: {size: 3 in, kind: integral}}
drains:
  - run: branch
    size: 4 in
    storey: low
    slope: 1/4 in/ft
    path:
      - cleanout: {name: CO, size: 4 in, clearance: 24 in, accessible: true}
      - pipe: {length: 2 ft}
      - fitting: {name: W, pattern: wye}
      - pipe: {length: 9 ft}
      - fitting: {name: W1, pattern: wye}
      - pipe: {length: 3 ft}
      - disposal: {name: sewer}
  - run: first closet
    size: 3 in
    storey: low
    slope: 1/4 in/ft
    path:
      - fixture: {name: C1, model: closet}
      - pipe: {slope: vertical}
      - fitting: {name: F1, pattern: closet_flange, height: 0 in}
      - pipe: {slope: vertical}
      - fitting: {name: B1, pattern: closet_bend, height: -16 in}
      - pipe: {name: beyond 1, length: 2 ft}
      - fitting: {name: T1, pattern: sanitary_tee}
      - pipe: {length: 3 ft}
      - at: W1
  - run: second closet
    size: 3 in
    storey: low
    slope: 1/4 in/ft
    path:
      - fixture: {name: C2, model: closet}
      - pipe: {slope: vertical}
      - fitting: {name: F2, pattern: closet_flange, height: 0 in}
      - pipe: {slope: vertical}
      - fitting: {name: B2, pattern: closet_bend}
      - pipe: {name: beyond 2, length: 2 ft}
      - at: W
vents:
  - run: vent
    size: 2 in
    storey: low
    slope: vertical
    path:
      - at: T1
      - pipe: {}
      - fitting: {name: J, pattern: tee, height: 7 ft}
      - pipe: {length: 8 ft}
      - terminal: {name: roof, through: roof, height_above_roof: 12 in}
";
    // However far the bend lies below what the closet is set on.
    let low = high.replace("height: -16 in", "height: -40 in");
    for text in [high, &low] {
        let mendings = mended(text, &rules);
        each_holds(text, &rules, &mendings);
        let far = mendings.iter().find(|one| one.finding.name == "C2");
        let remedies = &far.expect("a closet far from a vent").remedies;
        assert!(!remedies.is_empty());
        for remedy in remedies {
            let [Change::Fitting { pipe, .. }, Change::Vent { .. }] = &remedy.changes[..] else {
                panic!("{:?}", remedy.words);
            };
            assert_eq!(pipe, "beyond 2");
        }
    }
}

/// By UPC 2021, section 708.1, a drain of 3 in falls 2 per cent, 0.24 in/ft; on a level stands 1/4 in/ft.
#[test]
fn a_slope_is_offered_as_a_level_shows_it() {
    let rules = rules("upc-2021");
    let words = |units: &str, slope: &str| {
        let text = format!(
            "crownweir: network/1
name: flat
units: {units}
drains:
  - {{size: 3 in, slope: {slope}, path: [{{fixture: {{name: load, type: connected_load, load: 30 dfu}}}}, {{pipe: {{name: p, length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}
"
        );
        let mendings = mended(&text, &rules);
        each_holds(&text, &rules, &mendings);
        let flat = mendings.iter().find(|one| one.finding.rule == "drain-slope");
        let remedies = &flat.expect("too flat").remedies;
        remedies[0].words.join("; ")
    };
    assert_eq!(
        words("inches", "1/16 in/ft"),
        "lay `p` at 1/4 in/ft instead of 1/16 in/ft"
    );
    assert_eq!(words("millimetres", "1%"), "lay `p` at 2 % instead of 1 %");
}

/// By IPC 2021, Table 308.5, PVC lies on supports no more than 4 ft apart, stands in ones no more than 10 ft apart, and
/// small pipe is held half-way up the storey. Where the file says so for all pipes, it is put right for all.
#[test]
fn a_default_at_fault_is_put_right_as_one() {
    let rules = rules("ipc-2021");
    let text = |defaults: &str, own: &str| {
        format!(
            "crownweir: network/1
name: held
storeys: [{{storey: low, height: 9 ft}}]
defaults: {{material: pvc, {defaults}}}
drains:
  - size: 2 in
    storey: low
    slope: 1/4 in/ft
    path:
      - fixture: {{name: F, type: floor_drain, trap: {{size: 2 in, kind: p, seal: 2 in}}}}
      - pipe: {{name: first, length: 3 ft{own}}}
      - fitting: {{name: T, pattern: sanitary_tee}}
      - pipe: {{name: second, length: 3 ft}}
      - disposal: {{name: sewer}}
vents:
  - {{size: 2 in, slope: vertical, storey: low, path: [{{at: T}}, {{pipe: {{name: vent, length: 15 ft}}}}, {{terminal: {{name: roof}}}}]}}
"
        )
    };
    let first = |text: &str, name: &str| {
        let mendings = mended(text, &rules);
        each_holds(text, &rules, &mendings);
        let own = mendings.iter().find(|one| {
            one.finding.name == name
                && (one.finding.rule.contains("support") || one.finding.rule.contains("guide"))
        });
        let remedies = &own.expect(name).remedies;
        remedies
            .iter()
            .map(|remedy| remedy.words.join("; "))
            .collect::<Vec<_>>()
    };
    let wide = "horizontal_support_spacing: 6 ft, vertical_support_spacing: 12 ft, mid_storey_guide: true";
    let both = text(wide, "");
    assert_eq!(
        first(&both, "first"),
        [
            "horizontal support spacing by the file's defaults: 4 ft",
            "support `first` every 4 ft"
        ]
    );
    // Of one pipe alone the pipe says so.
    assert_eq!(first(&both, "vent"), ["support `vent` every 10 ft"]);
    let one = text(wide, ", support_spacing: 5 ft");
    assert_eq!(first(&one, "first"), ["support `first` every 4 ft"]);
    let loose = text(
        "horizontal_support_spacing: 4 ft, vertical_support_spacing: 10 ft, mid_storey_guide: false",
        "",
    );
    assert_eq!(
        first(&loose, "vent"),
        ["hold `vent` sideways half-way up the storey"]
    );
    let (held, _) = all_applied(&both, &rules);
    let wanted = both.replace(
        "horizontal_support_spacing: 6 ft",
        "horizontal_support_spacing: 4 ft",
    );
    let wanted = wanted.replace("name: vent, length", "name: vent, support_spacing: 10 ft, length");
    assert_eq!(held, wanted);
}

/// By IPC 2021, section 802.4.3, a standpipe stands 18 in to 42 in above its weir. Its rim is where it ends.
#[test]
fn a_standpipe_is_brought_to_the_nearer_limit_with_its_rim() {
    let rules = rules("ipc-2021");
    let words = |stated: &str| {
        let text = format!(
            "crownweir: network/1
name: laundry
storeys: [{{storey: low, height: 9 ft}}]
drains:
  - {{size: 2 in, storey: low, slope: 1/4 in/ft, path: [{{fixture: {{name: CW, type: clothes_washer, {stated}, trap: {{size: 2 in}}}}}}, {{pipe: {{length: 3 ft}}}}, {{fitting: {{name: T}}}}, {{pipe: {{length: 3 ft}}}}, {{disposal: {{name: sewer}}}}]}}
vents:
  - {{size: 2 in, storey: low, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 15 ft}}}}, {{terminal: {{name: roof}}}}]}}
"
        );
        let mendings = mended(&text, &rules);
        each_holds(&text, &rules, &mendings);
        let own = mendings.iter().find(|one| one.finding.rule == "standpipe-height");
        let remedies = own.expect("no standpipe for it").remedies.iter();
        remedies.map(|remedy| remedy.words.join("; ")).collect::<Vec<_>>()
    };
    assert_eq!(
        words("weir_height: 12 in, standpipe_height: 50 in"),
        ["standpipe height of `CW`: 3 ft 6 in"]
    );
    assert_eq!(
        words("weir_height: 12 in, rim_height: 62 in, standpipe_height: 50 in"),
        ["standpipe height of `CW`: 3 ft 6 in; rim height of `CW`: 4 ft 6 in"]
    );
    assert_eq!(
        words("weir_height: 12 in, rim_height: 28 in, standpipe_height: 16 in"),
        ["standpipe height of `CW`: 1 ft 6 in; rim height of `CW`: 2 ft 6 in"]
    );
}

/// By IPC 2021, section 704.5, no drain ends blind.
#[test]
fn a_drain_that_ends_blind_ends_in_a_cleanout() {
    let text = "crownweir: network/1
name: blind
storeys: [{storey: low, height: 9 ft}]
drains:
  - {size: 3 in, storey: low, slope: 1/4 in/ft, path: [{fitting: {name: end, pattern: coupling}}, {pipe: {length: 3 ft}}, {fitting: {name: W, pattern: wye}}, {pipe: {length: 3 ft}}, {disposal: {name: sewer}}]}
  - {size: 2 in, storey: low, slope: 1/4 in/ft, path: [{fixture: {name: load, type: connected_load, load: 3 dfu}}, {pipe: {length: 3 ft}}, {at: W}]}
";
    let rules = rules("ipc-2021");
    let mendings = mended(text, &rules);
    each_holds(text, &rules, &mendings);
    let blind = mendings.iter().find(|one| one.finding.rule == "dead-end");
    let remedies = &blind.expect("a blind end").remedies;
    let Some([Change::CleanoutAt { node, .. }]) = remedies.first().map(|remedy| &*remedy.changes) else {
        panic!("{remedies:?}");
    };
    assert_eq!(node, "end");
}

/// A circuit of four closets that joins a stack which brings water from above.
fn circuit(steep: &str, relief: &str) -> String {
    let mut closets = String::new();
    for closet in 2..=4 {
        closets += &format!(
            "  - {{size: 3 in, storey: low, slope: 1/4 in/ft, path: [{{fixture: {{name: C{closet}, model: closet}}}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: B{closet}, pattern: closet_bend}}}}, {{pipe: {{length: 2 ft}}}}, {{at: Y{closet}}}]}}\n"
        );
    }
    format!(
        "crownweir: network/1
name: circuit
storeys: [{{storey: low, height: 9 ft}}, {{storey: high, height: 9 ft}}]
defaults: {{material: pvc, horizontal_support_spacing: 4 ft, vertical_support_spacing: 9 ft, mid_storey_guide: true}}
models:
  closet: {{type: water_closet, flush_volume: 1.28 gal, rim_height: 15 in, weir_height: 8 in, trap: {{size: 3 in, kind: integral}}}}
drains:
  - run: circuit
    size: 4 in
    storey: low
    slope: 1/4 in/ft
    path:
      - fixture: {{name: C1, model: closet}}
      - pipe: {{slope: vertical}}
      - fitting: {{name: B1, pattern: closet_bend}}
      - pipe: {{length: 2 ft}}
      - fitting: {{name: YV, pattern: combination_wye}}
      - pipe: {{length: 2 ft}}
      - fitting: {{name: Y2, pattern: wye}}
      - pipe: {{length: 3 ft}}
      - fitting: {{name: Y3, pattern: wye}}
      - pipe: {{name: third, length: 3 ft{steep}}}
      - fitting: {{name: Y4, pattern: wye}}
      - pipe: {{length: 2 ft}}
      - fitting: {{name: YR, pattern: combination_wye}}
      - pipe: {{length: 2 ft}}
      - at: S
{closets}  - {{size: 4 in, storey: high, slope: 1/4 in/ft, path: [{{fixture: {{name: load, type: connected_load, load: 20 dfu}}}}, {{pipe: {{length: 3 ft}}}}, {{at: top}}]}}
  - run: stack
    kind: stack
    size: 4 in
    slope: vertical
    path:
      - fitting: {{name: top, pattern: sanitary_tee, storey: high, height: -18 in}}
      - pipe: {{}}
      - fitting: {{name: S, pattern: combination_wye, storey: low, height: -30 in}}
      - pipe: {{length: 4 ft}}
      - disposal: {{name: sewer}}
vents:
  - {{run: stack vent, kind: stack_vent, size: 4 in, slope: vertical, path: [{{at: top}}, {{pipe: {{length: 20 ft}}}}, {{terminal: {{name: roof 1}}}}]}}
  - {{run: circuit vent, size: 2 in, storey: low, slope: vertical, path: [{{at: YV}}, {{pipe: {{}}}}, {{fitting: {{name: J, pattern: sanitary_tee, height: 7 ft}}}}, {{pipe: {{length: 12 ft}}}}, {{terminal: {{name: roof 2}}}}]}}
{relief}"
    )
}

/// By IPC 2021, sections 914.3 and 914.4, a circuit falls no more than 1 in/ft, and one of more than three closets that joins
/// a stack with water from above is relieved before it does.
#[test]
fn a_circuit_is_relieved_or_laid_flatter() {
    let rules = rules("ipc-2021");
    let vent = "  - {size: 2 in, slope: vertical, storey: low, path: [{at: YR}, {pipe: {}}, {at: J}]}\n";
    let first = |text: &str| {
        let mendings = mended(text, &rules);
        each_holds(text, &rules, &mendings);
        let own = mendings
            .iter()
            .find(|one| one.finding.rule == "trap-protection" && one.finding.name == "C2");
        let remedy = own.expect("a closet without air").remedies.first();
        let remedy = remedy.expect("a remedy");
        (remedy.words.clone(), remedy.clears_too)
    };
    let (words, clears) = first(&circuit("", ""));
    assert!(
        words[0].starts_with("vent `YR` by a ") && words[0].ends_with(" in vent up to `J`"),
        "{words:?}"
    );
    // Two other closets, and the openings of `YR` and `J`.
    assert_eq!(clears, 4);
    let (words, _) = first(&circuit(", slope: 1-1/4 in/ft", vent));
    assert_eq!(words, ["lay `third` at 1/4 in/ft instead of 1-1/4 in/ft"]);
}

/// By IPC 2021, sections 916.2 and 916.3, the loop of an island rises above the sink's outlet, and opens for a rod.
#[test]
fn the_loop_of_an_island_is_raised_and_opened() {
    let rules = rules("ipc-2021");
    let first = |height: &str, rod: &str| {
        let text = format!(
            "crownweir: network/1
name: island
storeys: [{{storey: low, height: 9 ft}}]
defaults: {{material: pvc, horizontal_support_spacing: 4 ft, vertical_support_spacing: 9 ft, mid_storey_guide: true}}
drains:
  - size: 2 in
    storey: low
    slope: 1/4 in/ft
    path:
      - fixture: {{name: IS, type: kitchen_sink, rim_height: 36 in, weir_height: 16 in, trap: {{size: 1-1/2 in, kind: p, seal: 2 in, outlet_drop: 12 in, outlet_offset: 6 in}}}}
      - pipe: {{length: 12 in, size: 1-1/2 in}}
      - fitting: {{name: T, pattern: sanitary_tee}}
      - pipe: {{slope: vertical}}
      - fitting: {{name: back, pattern: combination_wye, height: 2 in}}
      - pipe: {{slope: vertical, length: 2 ft}}
      - fitting: {{name: E, pattern: long_sweep}}
      - pipe: {{length: 10 ft}}
      - disposal: {{name: sewer}}
  - {{size: 2 in, slope: 1/4 in/ft, storey: low, path: [{{at: foot}}, {{pipe: {{length: 1 ft}}}}, {{at: back}}]}}
vents:
  - size: 2 in
    storey: low
    path:
      - at: T
      - pipe: {{slope: vertical}}
      - fitting: {{name: up, pattern: vent_quarter_bend, height: {height}}}
      - pipe: {{slope: level, length: 6 in}}
      - fitting: {{name: down, pattern: vent_quarter_bend, height: {height}}}
      - pipe: {{slope: vertical}}
      - fitting: {{name: foot, pattern: combination_wye}}
      - pipe: {{name: below, slope: 1/4 in/ft, length: 6 ft}}
      - {rod}
      - pipe: {{slope: vertical, length: 20 ft}}
      - terminal: {{name: roof}}
"
        );
        let mendings = mended(&text, &rules);
        each_holds(&text, &rules, &mendings);
        let own = mendings.iter().find(|one| one.finding.rule == "trap-protection");
        let remedies = &own.expect("a sink without air").remedies;
        remedies.first().expect("a remedy").words.clone()
    };
    assert_eq!(
        first("20 in", "cleanout: {name: rod, size: 2 in}"),
        ["height of `up`: 2 ft 5 in", "height of `down`: 2 ft 5 in"]
    );
    let opened = first("34 in", "fitting: {name: rod, pattern: long_sweep}");
    assert!(
        opened[0].starts_with("put a 2 in cleanout `below cleanout` into `below`"),
        "{opened:?}"
    );
}

/// By IPC 2021, section 905.4, a vent turns horizontal 6 in above the highest rim that it serves. Where the height is stated
/// at the other end of what lies level with it, that is raised.
#[test]
fn a_low_vent_is_raised_where_its_height_is_stated() {
    let text = "crownweir: network/1
name: low vent
storeys: [{storey: low, height: 9 ft}]
drains:
  - {size: 2 in, storey: low, slope: 1/4 in/ft, path: [{fixture: {name: low sink, type: sink, rim_height: 20 in, weir_height: 10 in, trap: {size: 1-1/2 in}}}, {pipe: {length: 2 ft}}, {fitting: {name: T1}}, {pipe: {length: 3 ft}}, {fitting: {name: W}}, {pipe: {length: 3 ft}}, {disposal: {name: sewer}}]}
  - {size: 2 in, storey: low, slope: 1/4 in/ft, path: [{fixture: {name: high sink, type: sink, rim_height: 36 in, weir_height: 18 in, trap: {size: 1-1/2 in}}}, {pipe: {length: 2 ft}}, {fitting: {name: T2}}, {pipe: {slope: vertical}}, {fitting: {name: E}}, {pipe: {length: 2 ft}}, {at: W}]}
vents:
  - {size: 2 in, storey: low, slope: 1/4 in/ft, path: [{at: T1}, {pipe: {slope: vertical}}, {fitting: {name: V1, height: 32 in}}, {pipe: {length: 4 ft}}, {fitting: {name: V2}}, {pipe: {name: level, length: 2 ft}}, {fitting: {name: V3}}, {pipe: {slope: vertical, length: 20 ft}}, {terminal: {name: roof}}]}
  - {size: 2 in, storey: low, slope: vertical, path: [{at: T2}, {pipe: {}}, {at: V2}]}
";
    let rules = rules("ipc-2021");
    let mendings = mended(text, &rules);
    each_holds(text, &rules, &mendings);
    let low = mendings.iter().find(|one| one.finding.name == "level");
    let low = low.expect("a vent below a rim");
    let now = low.finding.rule.as_str();
    assert_eq!(now, "vent-turned-too-low");
    // 42 in are wanted at V2, which is 1 in above V1.
    assert_eq!(words(&mendings, "level")[0], ["height of `V1`: 3 ft 5 in"]);
}

/// Where an arm turns on end, a plumb vent would stand square to both of its pipes: it is taken off in a straight piece.
#[test]
fn a_vent_is_taken_off_where_the_arm_goes_straight_on() {
    let rules = rules("npc-2020");
    let arm = |east: &str, north: &str| {
        format!(
            "crownweir: network/1
name: arm that turns twice
units: millimetres
storeys: [{{storey: ground, height: 2750 mm}}]
drains:
  - storey: ground
    size: DN 50
    slope: 1:50
    path:
      - fixture: {{name: S, type: sink, rim_height: 900 mm, weir_height: 500 mm, trap: {{size: DN 40, kind: p, seal: 50 mm, outlet_drop: 200 mm, outlet_offset: 0 mm}}}}
      - pipe: {{name: arm 1, {east}length: 300 mm}}
      - fitting: {{name: q1, pattern: long_sweep}}
      - pipe: {{name: arm 2, {north}length: 300 mm}}
      - fitting: {{name: q2, pattern: long_sweep}}
      - pipe: {{name: arm 3, {east}length: 300 mm}}
      - fitting: {{name: T, pattern: sanitary_tee}}
      - pipe: {{slope: vertical, length: 800 mm}}
      - fitting: {{name: B, pattern: long_sweep}}
      - pipe: {{length: 1 m}}
      - disposal: {{name: out}}
vents:
  - {{storey: ground, size: DN 40, slope: vertical, path: [{{at: T}}, {{pipe: {{name: vent, length: 5 m}}}}, {{terminal: {{name: roof}}}}]}}
"
        )
    };
    for text in [arm("", ""), arm("direction: east, ", "direction: north, ")] {
        let mendings = mended(&text, &rules);
        each_holds(&text, &rules, &mendings);
        let own = mendings.iter().find(|one| one.finding.rule == "trap-arm-turn");
        let remedies = &own.expect("an arm that turns too much").remedies;
        assert!(!remedies.is_empty());
        for remedy in remedies {
            // The tee that the vent leaves becomes a bend, so that no opening of it is left.
            let [
                Change::Fitting { pipe, name, .. },
                Change::VentFrom { to, .. },
                Change::Pattern { fitting, pattern },
            ] = &remedy.changes[..]
            else {
                panic!("{:?}", remedy.words);
            };
            assert_eq!((pipe.as_str(), name), ("arm 2", to));
            assert!(fitting == "T" && !pattern.has_branch(), "{:?}", remedy.words);
        }
    }
}

/// The patterns that are offered for the fitting `J`, where several pipes come from what is given.
fn patterns_at_joint(rules: &str, runs: &str) -> Vec<String> {
    let text = format!("crownweir: network/1\nname: joint\nunits: millimetres\n{runs}");
    let trials = Trials {
        remedies: 99,
        ..Trials::default()
    };
    let rules = self::rules(rules);
    let found = mend(&document(&text), &rules, &[], &Default::default(), trials).expect("known sizes");
    let own = found
        .iter()
        .find(|one| one.finding.name == "J" && one.finding.verdict == Verdict::Violated);
    let remedies = own.expect("a finding").remedies.iter();
    remedies.map(|remedy| remedy.words.join("; ")).collect()
}

#[test]
fn no_pattern_is_offered_where_three_pipes_are_square_to_each_other() {
    let corner = |on: &str| {
        patterns_at_joint(
            "npc-2020",
            &format!(
                "drains:
  - {{size: DN 50, slope: 1:50, path: [{{fixture: {{name: L, type: connected_load, load: 2 dfu}}}}, {{pipe: {{length: 1 m, direction: east}}}}, {{fitting: {{name: J, pattern: coupling}}}}, {{pipe: {{length: 1 m, direction: {on}}}}}, {{disposal: {{name: sewer}}}}]}}
vents:
  - {{size: DN 40, slope: vertical, path: [{{at: J}}, {{pipe: {{length: 5 m}}}}, {{terminal: {{name: roof}}}}]}}
"
            ),
        )
    };
    assert!(corner("east").contains(&"fit a sanitary tee at `J`".to_owned()));
    assert_eq!(corner("north"), Vec::<String>::new());
}

#[test]
fn patterns_for_vents_are_not_offered_for_drains_nor_those_for_drains_for_vents() {
    let of_drain = "drains:
  - {size: DN 50, slope: vertical, path: [{fixture: {name: L, type: connected_load, load: 2 dfu}}, {pipe: {length: 1 m}}, {fitting: {name: J, pattern: quarter_bend}}, {pipe: {slope: 1:50, length: 1 m}}, {disposal: {name: sewer}}]}
";
    assert_eq!(
        patterns_at_joint("npc-2020", of_drain),
        ["fit a short sweep at `J`", "fit a long sweep at `J`"]
    );
    let of_vents = "drains:
  - {size: DN 50, slope: 1:50, path: [{fixture: {name: L, type: connected_load, load: 2 dfu}}, {pipe: {length: 1 m}}, {fitting: {name: A}}, {pipe: {length: 1 m}}, {fitting: {name: B}}, {pipe: {length: 1 m}}, {fitting: {name: C}}, {pipe: {length: 1 m}}, {disposal: {name: sewer}}]}
vents:
  - {size: DN 40, slope: vertical, path: [{at: A}, {pipe: {length: 2 m}}, {fitting: {name: J, pattern: tee}}, {pipe: {length: 5 m}}, {terminal: {name: roof}}]}
  - {size: DN 40, slope: 1:50, path: [{at: B}, {pipe: {}}, {at: J}]}
  - {size: DN 40, slope: 1:50, path: [{at: C}, {pipe: {}}, {at: J}]}
";
    let offered = patterns_at_joint("npc-2020", of_vents);
    assert!(
        offered.contains(&"fit a double sanitary tee at `J`".to_owned()),
        "{offered:?}"
    );
    assert!(!offered.contains(&"fit a double fixture fitting at `J`".to_owned()));
}

/// A sink whose vent lies level at a height to be stated before it joins another.
fn level_vent(rules: &str, joint: &str) -> Vec<Vec<String>> {
    let text = format!(
        "crownweir: network/1
name: low joint
units: millimetres
site: {{occupancy: private}}
storeys: [{{storey: ground, height: 2750 mm}}]
drains:
  - {{storey: ground, size: DN 50, slope: 1:50, path: [{{fixture: {{name: S, type: sink, rim_height: 900 mm, weir_height: 500 mm, trap: {{size: DN 50, kind: p, seal: 50 mm}}}}}}, {{pipe: {{length: 500 mm}}}}, {{fitting: {{name: T}}}}, {{pipe: {{slope: vertical, length: 800 mm}}}}, {{fitting: {{name: B}}}}, {{pipe: {{length: 1 m}}}}, {{fitting: {{name: foot}}}}, {{pipe: {{length: 1 m}}}}, {{disposal: {{name: end}}}}]}}
vents:
  - {{storey: ground, size: DN 40, path: [{{at: T}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: V}}}}, {{pipe: {{name: flat, slope: 1:96, length: 1500 mm}}}}, {{at: J}}]}}
  - {{kind: stack_vent, storey: ground, size: DN 50, slope: vertical, path: [{{at: foot}}, {{pipe: {{}}}}, {{fitting: {{name: J, height: {joint}}}}}, {{pipe: {{length: 5 m}}}}, {{terminal: {{name: roof}}}}]}}
"
    );
    let rules = self::rules(rules);
    let mendings = mended(&text, &rules);
    each_holds(&text, &rules, &mendings);
    let of_flat = mendings
        .into_iter()
        .filter(|one| one.finding.name == "flat" && one.finding.verdict == Verdict::Violated);
    of_flat
        .map(|one| one.remedies.first().expect("a remedy").words.clone())
        .collect()
}

/// What has to lie more than nothing above a rim lies a step above it; what has to lie at a rim before it falls to a joint
/// is put at a height that can be set.
#[test]
fn a_height_is_one_that_keeps_the_limit_and_can_be_set() {
    let [joint, turn] = &level_vent("npc-2020", "800 mm")[..] else {
        panic!("not the two findings");
    };
    assert_eq!(joint[..], ["height of `J`: 910 mm"]);
    assert_eq!(turn[..], ["height of `J`: 920 mm"]);
}

#[test]
fn a_floor_drain_that_is_too_short_to_need_no_vent_is_made_longer() {
    let text = "crownweir: network/1
name: floor drain
units: millimetres
site: {occupancy: private}
storeys: [{storey: ground, height: 2750 mm}]
drains:
  - {storey: ground, size: DN 75, slope: 1:50, path: [{fixture: {name: FD, type: floor_drain, rim_height: 0 mm, trap: {size: DN 75, kind: p, seal: 75 mm, outlet_drop: 250 mm, outlet_offset: 0 mm}}}, {pipe: {name: own drain, length: 400 mm}}, {at: J}]}
  - {storey: ground, kind: building_drain, size: DN 100, slope: 1:50, path: [{cleanout: {name: C, size: DN 100}}, {pipe: {length: 1 m}}, {fitting: {name: J, pattern: wye}}, {pipe: {length: 1 m}}, {disposal: {name: end}}]}
";
    let rules = rules("npc-2020");
    let mendings = mended(text, &rules);
    each_holds(text, &rules, &mendings);
    assert_eq!(
        words(&mendings, "FD")[0],
        ["lengthen `own drain` from 400 mm to 450 mm"]
    );
}

#[test]
fn a_stud_is_doubled() {
    let text = "crownweir: network/1
name: stud
units: millimetres
storeys: [{storey: ground, height: 2750 mm}]
framing:
  - {framing: studs, kind: stud, make: sawn, depth: 140 mm, thickness: 38 mm, spacing: 406 mm, storey: ground, bearing: true}
drains:
  - {storey: ground, size: DN 40, slope: 1:48, path: [{fixture: {name: L, type: connected_load, load: 2 dfu}}, {pipe: {name: arm, material: abs, length: 800 mm, passes: [{framing: studs, first: 400 mm, hole: 54 mm, centre: middle, doubled: false}]}}, {disposal: {name: end}}]}
";
    for rule_set in ["framing-nbc-2020", "framing-irc-2021"] {
        let rules = rules(rule_set);
        let deep = text.replace("hole: 54 mm", "hole: 60 mm");
        let mendings = mended(&deep, &rules);
        each_holds(&deep, &rules, &mendings);
        let remedies = words(&mendings, "arm, studs 1");
        let doubled = "nail a second stud beside that of `arm, studs 1`".to_owned();
        assert!(
            remedies.iter().any(|words| words[0] == doubled),
            "{rule_set}: {remedies:?}"
        );
    }
}

/// A rule for drains laid flat is not asked of one that is laid at the slope at which it ends.
#[test]
fn a_drain_is_laid_out_of_a_rule_for_flat_ones() {
    let text = "crownweir: network/1
name: flat
units: millimetres
drains:
  - {kind: building_drain, size: DN 150, slope: 1:150, path: [{fixture: {name: L, type: connected_load, load: 2 dfu}}, {pipe: {name: drain, length: 4 m}}, {disposal: {name: end}}]}
";
    let rule = "
rules:
  - rule: flat-drain
    title: Water closets on a flat drain
    subject: drain
    when: {pipe.size: {at_least: 6 in}, pipe.slope: {less_than: \"1:80\"}}
    require: {drain.water_closets: {at_least: 5}}
    severity: advice
    cite: {basis: common_practice}
    message: so flat a drain takes 5 water closets at the least
";
    let base = published::text("ipc-2021").expect("the rule set");
    assert!(base.contains("\nrules:\n"));
    let rules = RuleSet::read(
        "flat.yaml",
        base.replacen("\nrules:\n", rule, 1).as_bytes(),
        &Default::default(),
    );
    let rules = rules.unwrap_or_else(|problems| panic!("{problems}"));
    let mendings = mended(text, &rules);
    each_holds(text, &rules, &mendings);
    let own = mendings.iter().find(|one| one.finding.rule == "flat-drain");
    let remedies = own.expect("a flat drain").remedies.iter();
    let words: Vec<_> = remedies.map(|remedy| remedy.words.join("; ")).collect();
    assert_eq!(words, ["lay `drain` at 1.25 % instead of about 0.67 %"]);
}

#[test]
fn a_stack_that_ends_at_a_branchs_valve_has_a_stacks_named() {
    let text = "crownweir: network/1
name: valve
units: millimetres
site: {occupancy: private, use: dwelling, system_type: III}
storeys: [{storey: ground, height: 2750 mm}]
drains:
  - {storey: ground, size: DN 50, slope: 1:50, path: [{fixture: {name: S, type: kitchen_sink, rim_height: 900 mm, weir_height: 500 mm, trap: {size: DN 50, kind: p, seal: 75 mm}}}, {pipe: {length: 1 m}}, {at: A}]}
  - {kind: stack, storey: ground, size: DN 80, slope: vertical, path: [{fitting: {name: A}}, {pipe: {length: 1 m}}, {at: foot}]}
  - {kind: building_drain, storey: ground, size: DN 100, slope: 1:50, path: [{fitting: {name: foot}}, {pipe: {length: 1 m}}, {disposal: {name: end}}]}
vents:
  - {kind: stack_vent, size: DN 80, slope: vertical, storey: ground, path: [{at: A}, {pipe: {length: 1500 mm}}, {valve: {name: V, kind: branch, accessible: true, air_flow: 16 L/s}}]}
";
    let rules = rules("en-12056-2");
    let mendings = mended(text, &rules);
    each_holds(text, &rules, &mendings);
    let protection = mendings.iter().find(|one| one.finding.rule == "trap-protection");
    let remedy = &protection.expect("a trap without air").remedies[0];
    assert_eq!(
        remedy.words,
        ["if it is or is made so on site, state it: kind of `V`: stack"]
    );
    assert!(remedy.is_of_site());
}

/// An arm may fall more in larger pipe; but nobody lays all that follows in it to be spared a gentler slope.
#[test]
fn what_takes_many_times_the_work_of_another_is_not_offered() {
    let text = "crownweir: network/1
name: steep arm
units: millimetres
storeys: [{storey: ground, height: 2750 mm}]
drains:
  - {storey: ground, size: DN 50, slope: 1:50, path: [{fixture: {name: S, type: sink, rim_height: 900 mm, weir_height: 500 mm, trap: {size: DN 40, kind: p, seal: 50 mm}}}, {pipe: {name: arm, size: DN 50, slope: 10 %, length: 800 mm}}, {fitting: {name: T, pattern: sanitary_tee}}, {pipe: {size: DN 50, slope: vertical, length: 800 mm}}, {fitting: {name: B, pattern: long_sweep}}, {pipe: {size: DN 50, length: 1 m}}, {cleanout: {name: C, size: DN 100, accessible: true}}, {pipe: {size: DN 50, length: 1 m}}, {fitting: {name: D, pattern: coupling}}, {pipe: {size: DN 50, length: 1 m}}, {disposal: {name: out}}]}
vents:
  - {storey: ground, size: DN 40, slope: vertical, path: [{at: T}, {pipe: {name: vent, length: 5 m}}, {terminal: {name: roof}}]}
";
    let rules = rules("npc-2020");
    let trials = Trials {
        remedies: 8,
        ..Default::default()
    };
    let mendings = mend(&document(text), &rules, &[], &Default::default(), trials).expect("known sizes");
    each_holds(text, &rules, &mendings);
    let own = mendings.iter().find(|one| one.finding.rule == "trap-arm-fall");
    let remedies = &own.expect("a steep arm").remedies;
    let counts: Vec<_> = remedies.iter().map(|remedy| remedy.changes.len()).collect();
    assert_eq!(counts, [1, 1, 3, 3, 3, 3], "gentler, or the vent nearer");
}
