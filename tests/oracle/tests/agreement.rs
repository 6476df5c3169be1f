//! The evaluator and the oracle say the same of thousands of networks: every fact that the oracle knows, and every rule
//! that rests on such facts alone.

use std::collections::{BTreeMap, BTreeSet};

use crownweir_evaluate::{Judgement, Measured};
use crownweir_network::{Network, NodeId};
use crownweir_oracle::{Arranged, Got, Oracle, Verdict, facts_of};
use crownweir_proof::Example;
use crownweir_rulebook::{Fact, Limits, RuleSet, Subject, Value, published};
use serde_yaml::Value as Yaml;

/// How many altered networks are compared; more where the variable `ORACLE_CASES` says so.
const CASES: usize = 4000;

fn rules(name: &str) -> RuleSet {
    let text = published::text(name).unwrap_or_else(|| panic!("no {name}"));
    RuleSet::read(name, text.as_bytes(), &Limits::rules()).unwrap_or_else(|problems| panic!("{problems}"))
}

/// The names and texts of the YAML files in a folder.
fn files(folder: &str) -> Vec<(String, String)> {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|error| panic!("{folder}: {error}"));
    let mut files: Vec<_> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    files.retain(|path| path.extension().is_some_and(|extension| extension == "yaml"));
    files.sort();
    let read = |path: &std::path::PathBuf| {
        let text = std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{error}"));
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
        (name.unwrap_or_default(), text)
    };
    files.iter().map(read).collect()
}

/// The texts of all demo networks and of the networks of all worked examples.
fn texts() -> Vec<(String, String)> {
    let root = format!("{}/../..", env!("CARGO_MANIFEST_DIR"));
    let demos = files(&format!("{root}/tests/networks")).into_iter();
    let mut texts: Vec<_> = demos.collect();
    let mut seen = BTreeSet::new();
    for name in published::names() {
        for (file, text) in files(&format!("{root}/rulesets/{name}/examples")) {
            let example = Example::read(&file, text.as_bytes(), &Limits::default());
            let example = example.unwrap_or_else(|problems| panic!("{problems}"));
            for case in &example.cases {
                let text = case.network_text();
                if seen.insert(text.trim_start().to_owned()) {
                    texts.push((format!("{name} {file}: {}", case.title), text));
                }
            }
        }
    }
    texts
}

#[derive(Default)]
struct Tally {
    networks: usize,
    facts: BTreeMap<&'static str, usize>,
    differences: BTreeMap<String, (usize, String)>,
    verdicts: usize,
    /// Traps whose arrangement was compared, and those that the oracle does not know enough of.
    traps: (usize, usize),
    rules: BTreeMap<String, BTreeSet<String>>,
}

/// What is known of an element is the same; of what is not known, that it is not. What both reckon in floating point, each
/// in its own way, may differ in the last digits.
fn same(fact: Fact, own: Got, other: crownweir_evaluate::Got) -> bool {
    let parts = |value: Value| match value {
        Value::Flow(flow) => Some(flow.picolitres_per_minute()),
        Value::Velocity(velocity) => Some(velocity.nanometres_per_second()),
        Value::Ratio(ratio) => Some(ratio.parts_of_720_million()),
        Value::Length(length) => Some(length.nanometres()),
        _ => None,
    };
    let close = |one: i64, other: i64| one.abs_diff(other) <= 2 + one.unsigned_abs() / 1_000_000_000;
    match (own, other) {
        (Got::Known(own), crownweir_evaluate::Got::Known(other))
            if own != other && IN_FLOATING_POINT.contains(&fact) =>
        {
            parts(own)
                .zip(parts(other))
                .is_some_and(|(own, other)| close(own, other))
        }
        (Got::Known(own), crownweir_evaluate::Got::Known(other)) => own == other,
        (Got::Absent, crownweir_evaluate::Got::Absent) => true,
        (Got::Missing, crownweir_evaluate::Got::Missing(_)) => true,
        _ => false,
    }
}

/// What is reckoned in floating point.
const IN_FLOATING_POINT: [Fact; 13] = [
    Fact::DrainProbableFlow,
    Fact::DrainDepthRatio,
    Fact::DrainVelocity,
    Fact::DrainCapacityFlow,
    Fact::DrainVelocityAtFilling,
    Fact::StackProbableFlow,
    Fact::StackTerminalFlow,
    Fact::StackTerminalFraction,
    Fact::SystemProbableFlow,
    Fact::ValveServedFlow,
    Fact::VentAirLoss,
    Fact::PassageHole,
    Fact::PassageNextCut,
];

/// Facts that rules with the subject can speak of and the oracle knows.
fn compare(name: &str, network: &Network, rules: &RuleSet, tally: &mut Tally) {
    let Ok(measured) = Measured::new(network, rules) else {
        return;
    };
    tally.networks += 1;
    let oracle = Oracle::new(network, rules);
    for &subject in Subject::ALL {
        let Some(elements) = oracle.elements(subject) else {
            continue;
        };
        if elements != measured.elements(subject) {
            let entry = tally
                .differences
                .entry(format!("elements of {}", subject.name()))
                .or_default();
            entry.0 += 1;
            entry.1 = name.to_owned();
            continue;
        }
        let mut unknown: BTreeSet<Fact> = BTreeSet::new();
        for fact in subject.facts() {
            for &element in &elements {
                let Some(own) = oracle.fact(subject, element, fact) else {
                    unknown.insert(fact);
                    break;
                };
                *tally.facts.entry(fact.name()).or_default() += 1;
                let other = measured.fact(subject, element, fact);
                if !same(fact, own, other) {
                    let what = format!("{} {}", rules.name, fact.name());
                    let entry = tally.differences.entry(what).or_default();
                    entry.0 += 1;
                    if entry.0 == 1 {
                        entry.1 = format!(
                            "{name}: {}: oracle {own:?}, evaluator {other:?}",
                            measured.name_of(subject, element)
                        );
                    }
                }
            }
        }
        if subject == Subject::Trap {
            arrangements(name, &oracle, &measured, &elements, tally);
        }
        for rule in rules.rules.iter().filter(|rule| rule.subject == subject) {
            let mut facts = Vec::new();
            facts_of(&rule.when, &mut facts);
            rule.require.iter().for_each(|require| facts_of(require, &mut facts));
            if elements.is_empty() || facts.iter().any(|fact| unknown.contains(fact)) {
                continue;
            }
            tally
                .rules
                .entry(rules.name.clone())
                .or_default()
                .insert(rule.name.clone());
            for &element in &elements {
                tally.verdicts += 1;
                let (own, other) = (oracle.verdict(rule, element), measured.judgement(rule, element));
                let agree = matches!(
                    (own, other),
                    (Verdict::NotApplicable, Judgement::NotApplicable)
                        | (Verdict::Satisfied, Judgement::Satisfied)
                        | (Verdict::Violated, Judgement::Violated)
                        | (Verdict::Undetermined, Judgement::Undetermined)
                        | (Verdict::OnSite, Judgement::OnSite)
                );
                if !agree {
                    let entry = tally
                        .differences
                        .entry(format!("{} rule {}", rules.name, rule.name))
                        .or_default();
                    entry.0 += 1;
                    entry.1 = format!(
                        "{name}: {}: oracle {own:?}, evaluator {other:?}",
                        measured.name_of(subject, element)
                    );
                }
            }
        }
    }
}

/// Which arrangement protects each trap, or comes nearest.
fn arrangements(name: &str, oracle: &Oracle<'_>, measured: &Measured<'_>, elements: &[u32], tally: &mut Tally) {
    let list = &measured.rules().arrangements;
    for &element in elements.iter().filter(|_| !list.is_empty()) {
        let own = match oracle.arranged(NodeId::new(element as usize)) {
            Arranged::Unknown => {
                tally.traps.1 += 1;
                continue;
            }
            Arranged::By(at) => format!("by {}", list[at].name),
            Arranged::Open => "open".to_owned(),
            Arranged::Nearest(at) => format!("not by {}", at.map_or("any", |at| &list[at].name)),
        };
        tally.traps.0 += 1;
        let other = match measured.arranged(element) {
            crownweir_evaluate::Arranged::By(_, by) => format!("by {}", by.name),
            crownweir_evaluate::Arranged::Open(_) => "open".to_owned(),
            crownweir_evaluate::Arranged::Nearest(near) => {
                format!("not by {}", near.map_or("any", |(near, _)| near.name.as_str()))
            }
        };
        if own != other {
            let entry = tally
                .differences
                .entry(format!("{} arrangement", measured.rules().name))
                .or_default();
            entry.0 += 1;
            if entry.0 == 1 {
                entry.1 = format!(
                    "{name}: {}: oracle {own}, evaluator {other}",
                    measured.name_of(Subject::Trap, element)
                );
            }
        }
    }
}

/// A plain generator of numbers, the same every time.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % sides.max(1) as u64).unwrap_or(0)
    }

    fn pick<'t, T>(&mut self, list: &'t [T]) -> &'t T {
        &list[self.roll(list.len())]
    }
}

/// Alters a network at one place: a property, a node, a run left out, a path led elsewhere.
fn alter(network: &mut Yaml, dice: &mut Dice) {
    if dice.roll(20) == 0 {
        let whole = *dice.pick(&["site", "defaults"]);
        if let Some(own) = network.get_mut(whole) {
            drop_one(own, dice);
        }
        return;
    }
    let role = *dice.pick(&["drains", "drains", "vents"]);
    let names: Vec<String> = ["drains", "vents"]
        .iter()
        .flat_map(|role| network[*role].as_sequence().into_iter().flatten())
        .flat_map(|run| run["path"].as_sequence().into_iter().flatten())
        .filter_map(|step| {
            ["fitting", "cleanout"]
                .iter()
                .find_map(|kind| Some(step[*kind]["name"].as_str()?.to_owned()))
        })
        .collect();
    let Some(runs) = network
        .get_mut(role)
        .and_then(Yaml::as_sequence_mut)
        .filter(|runs| !runs.is_empty())
    else {
        return;
    };
    let at = dice.roll(runs.len());
    if dice.roll(9) == 0 {
        runs.remove(at);
        return;
    }
    let run = &mut runs[at];
    let sizes = ["1-1/4 in", "1-1/2 in", "2 in", "2-1/2 in", "3 in", "4 in", "6 in"];
    let slopes = ["vertical", "1/4 in/ft", "1/8 in/ft", "1/2 in/ft", "1 in/ft", "45 deg"];
    let lengths = ["6 in", "2 ft", "5 ft", "9 ft", "30 ft"];
    match dice.roll(9) {
        8 => drop_one(run, dice),
        0 => run["size"] = (*dice.pick(&sizes)).into(),
        1 => run["slope"] = (*dice.pick(&slopes)).into(),
        2 => {
            let kinds: &[&str] = if role == "drains" {
                &["branch", "stack", "building_drain"]
            } else {
                &["branch_vent", "stack_vent", "vent_stack"]
            };
            run["kind"] = (*dice.pick(kinds)).into();
        }
        _ => {
            let Some(path) = run.get_mut("path").and_then(Yaml::as_sequence_mut) else {
                return;
            };
            let at = dice.roll(path.len());
            let Some((kind, own)) = path[at].as_mapping_mut().and_then(|step| step.iter_mut().next()) else {
                return;
            };
            match kind.as_str().unwrap_or_default() {
                "pipe" => match dice.roll(7) {
                    0 => own["size"] = (*dice.pick(&sizes)).into(),
                    1 | 2 => own["slope"] = (*dice.pick(&slopes)).into(),
                    3 | 4 => own["length"] = (*dice.pick(&lengths)).into(),
                    5 => own["enters"] = (*dice.pick(&["run", "branch"])).into(),
                    _ => drop_one(own, dice),
                },
                "fixture" => match dice.roll(4) {
                    0 => {
                        own["type"] = (*dice.pick(&[
                            "lavatory",
                            "water_closet",
                            "shower",
                            "kitchen_sink",
                            "floor_drain",
                            "urinal",
                            "emergency_floor_drain",
                            "clothes_washer",
                        ]))
                        .into()
                    }
                    1 => own["group"] = (*dice.pick(&["one", "two"])).into(),
                    2 => own["trap"]["size"] = (*dice.pick(&sizes)).into(),
                    _ => drop_one(own, dice),
                },
                "at" if !names.is_empty() => *own = dice.pick(&names).as_str().into(),
                "fitting" => match dice.roll(3) {
                    0 => drop_one(own, dice),
                    _ => {
                        own["pattern"] = (*dice.pick(&[
                            "wye",
                            "sanitary_tee",
                            "long_sweep",
                            "eighth_bend",
                            "combination_wye",
                            "double_sanitary_tee",
                        ]))
                        .into()
                    }
                },
                _ => drop_one(own, dice),
            }
        }
    }
}

fn drop_one(own: &mut Yaml, dice: &mut Dice) {
    let Some(map) = own.as_mapping_mut() else { return };
    let keys: Vec<_> = map.keys().filter(|key| key.as_str() != Some("name")).cloned().collect();
    if !keys.is_empty() {
        map.remove(dice.pick(&keys));
    }
}

fn told(tally: &Tally) {
    for (name, known) in &tally.rules {
        println!("{name}: {} rules", known.len());
    }
    let values: usize = tally.facts.values().sum();
    println!(
        "{} networks, {} facts, {values} values, {} verdicts",
        tally.networks,
        tally.facts.len(),
        tally.verdicts
    );
    println!("{} traps, and {} not told", tally.traps.0, tally.traps.1);
    let told: Vec<_> = tally
        .differences
        .iter()
        .map(|(what, (times, first))| format!("{what}: {times} times, {first}"))
        .collect();
    assert!(told.is_empty(), "{} differences\n{}", told.len(), told.join("\n"));
}

/// Networks on which the two once differed, each with a word on what it showed.
#[test]
fn the_kept_networks_are_judged_alike() {
    let (mut tally, sets) = (Tally::default(), every_rule_set());
    let folder = format!("{}/kept", env!("CARGO_MANIFEST_DIR"));
    let texts = files(&folder);
    assert!(!texts.is_empty(), "{folder} holds no network");
    for (name, text) in texts {
        let network = Network::read(&name, text.as_bytes(), &Limits::default());
        let network = network.unwrap_or_else(|problems| panic!("{name}: {problems}"));
        for rules in &sets {
            compare(&name, &network, rules, &mut tally);
        }
    }
    told(&tally);
}

fn every_rule_set() -> Vec<RuleSet> {
    published::names().map(rules).collect()
}

#[test]
fn the_networks_of_the_repository_are_judged_alike() {
    let mut tally = Tally::default();
    let sets = every_rule_set();
    for (name, text) in texts() {
        let network = Network::read("network.yaml", text.as_bytes(), &Limits::default());
        let network = network.unwrap_or_else(|problems| panic!("{name}: {problems}"));
        // A demo is judged by the rule set that it names, an example by all.
        let asked = network.rules().map(str::to_owned);
        for rules in sets
            .iter()
            .filter(|rules| asked.as_ref().is_none_or(|asked| *asked == rules.name))
        {
            compare(&name, &network, rules, &mut tally);
        }
    }
    told(&tally);
    // What the oracle knows does not shrink.
    for (rules, least) in KNOWN {
        let known = tally.rules.get(rules).map_or(0, BTreeSet::len);
        assert!(known >= least, "{rules}: {known} rules are compared");
    }
    assert!(
        tally.facts.len() >= KNOWN_FACTS,
        "{} facts are compared",
        tally.facts.len()
    );
    assert!(
        tally.traps.0 >= KNOWN_TRAPS,
        "the arrangements of {} traps are compared",
        tally.traps.0
    );
}

/// How many rules of each rule set rest on facts that the oracle knows, and facts and traps that it knows.
const KNOWN: [(&str, usize); 6] = [
    ("ipc-2021", 92),
    ("upc-2021", 94),
    ("npc-2020", 116),
    ("en-12056-2", 34),
    ("framing-irc-2021", 24),
    ("framing-nbc-2020", 16),
];
const KNOWN_FACTS: usize = 332;
const KNOWN_TRAPS: usize = 12_149;

/// What counts as a sharp turn is the rule set's to say: by one that counts every turn, one between the turns of two
/// bends, one that counts none, and one that does not say.
#[test]
fn turns_that_are_sharp_by_another_definition_are_judged_alike() {
    let npc = published::text("npc-2020").unwrap_or_default();
    let sharp = "more_than: 45 deg";
    assert_eq!(npc.matches(sharp).count(), 1);
    let read = |text: &str| {
        let rules = RuleSet::read("npc.yaml", text.as_bytes(), &Limits::rules());
        rules.unwrap_or_else(|problems| panic!("{problems}"))
    };
    let otherwise = ["0 deg", "60 deg", "90 deg"].map(|more| npc.replace(sharp, &format!("more_than: {more}")));
    let mut sets: Vec<_> = otherwise.iter().map(|text| read(text)).collect();
    sets.push(rules("ipc-2021"));
    let mut tally = Tally::default();
    let mut said = BTreeSet::new();
    let own = |name: &str| name.starts_with("npc-2020") || name.starts_with("upc-2021 trap-arms");
    let texts: Vec<_> = texts().into_iter().filter(|(name, _)| own(name)).collect();
    for (name, text) in &texts {
        let network = Network::read("network.yaml", text.as_bytes(), &Limits::default());
        let network = network.unwrap_or_else(|problems| panic!("{name}: {problems}"));
        for (number, rules) in sets.iter().enumerate() {
            compare(name, &network, rules, &mut tally);
            // A size that the rule set does not know; the other networks are enough.
            let Ok(measured) = Measured::new(&network, rules) else {
                continue;
            };
            for (subject, fact) in [
                (Subject::Drain, Fact::DrainBendAhead),
                (Subject::TrapArm, Fact::TrapArmBends),
            ] {
                let got = measured
                    .elements(subject)
                    .into_iter()
                    .map(|one| measured.fact(subject, one, fact));
                said.insert((fact, number, format!("{:?}", got.collect::<Vec<_>>())));
            }
        }
    }
    told(&tally);
    // Each of them tells something of these networks that the others do not.
    for fact in [Fact::DrainBendAhead, Fact::TrapArmBends] {
        let by = |number: usize| -> BTreeSet<_> {
            let own = said.iter().filter(|(one, by, _)| (*one, *by) == (fact, number));
            own.map(|(_, _, said)| said).collect()
        };
        let all: BTreeSet<_> = (0..sets.len()).map(by).collect();
        assert_eq!(all.len(), sets.len(), "{}", fact.name());
    }
}

#[test]
fn altered_networks_are_judged_alike() {
    let cases = std::env::var("ORACLE_CASES")
        .ok()
        .and_then(|cases| cases.parse().ok())
        .unwrap_or(CASES);
    let seed = std::env::var("ORACLE_SEED")
        .ok()
        .and_then(|seed| seed.parse().ok())
        .unwrap_or(1);
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15 ^ seed);
    let (texts, sets) = (texts(), every_rule_set());
    let mut tally = Tally::default();
    let mut made = 0;
    while made < cases {
        let (name, text) = dice.pick(&texts);
        let mut network: Yaml = serde_yaml::from_str(text).unwrap_or_else(|error| panic!("{name}: {error}"));
        for _ in 0..=dice.roll(4) {
            alter(&mut network, &mut dice);
        }
        let text = serde_yaml::to_string(&network).unwrap_or_default();
        let Ok(read) = Network::read("network.yaml", text.as_bytes(), &Limits::default()) else {
            continue;
        };
        made += 1;
        let rules = dice.pick(&sets);
        let before = tally.differences.len();
        compare(name, &read, rules, &mut tally);
        if tally.differences.len() > before
            && let Ok(folder) = std::env::var("ORACLE_KEEP")
        {
            std::fs::write(format!("{folder}/{made}.yaml"), &text).unwrap_or_else(|error| panic!("{error}"));
        }
    }
    told(&tally);
}
