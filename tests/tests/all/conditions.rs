//! Every arrangement of every published rule set in its worked examples: a trap that it protects, and for each of its
//! conditions a trap that this condition alone keeps from it.

use std::collections::BTreeSet;

use crownweir::rulebook::Piece;
use crownweir::{Arranged, Arrangement, Measured, Network, RuleSet, published};
use crownweir_tests::{examples, rules};

/// An arrangement that protects a trap, or a condition of one that alone is not met.
type Seen = (String, String);

/// In place of a condition: the arrangement protects a trap.
const PROTECTS: &str = "protects";

/// A condition by its message.
fn condition(arrangement: &Arrangement, number: usize) -> Seen {
    let message = arrangement
        .conditions
        .get(number)
        .map(|condition| &condition.message);
    let said = message
        .expect("a condition")
        .pieces
        .iter()
        .map(|piece| match piece {
            Piece::Text(text) => text.as_str(),
            _ => "…",
        });
    (arrangement.name.clone(), said.collect())
}

fn fixture(network: &Network, name: &str) -> u32 {
    let node = network
        .node_named(name)
        .unwrap_or_else(|| panic!("no fixture {name}"));
    u32::try_from(node.index()).expect("a node's number")
}

fn measured<'a>(network: &'a Network, rules: &'a RuleSet) -> Measured<'a> {
    Measured::new(network, rules).unwrap_or_else(|error| panic!("{error}"))
}

/// All that there is to show.
fn wanted(rules: &RuleSet) -> BTreeSet<Seen> {
    let each = rules.arrangements.iter().flat_map(|arrangement| {
        let conditions = (0..arrangement.conditions.len()).map(|number| condition(arrangement, number));
        conditions.chain([(arrangement.name.clone(), PROTECTS.to_owned())])
    });
    each.collect()
}

/// What the examples show of traps that they speak of.
fn shown(name: &str, rules: &RuleSet) -> BTreeSet<Seen> {
    let mut shown = BTreeSet::new();
    for example in examples(name) {
        for case in &example.cases {
            if case.traps().next().is_none() {
                continue;
            }
            let whole = measured(case.network(), rules);
            for (fixture_name, by) in case.traps() {
                let fixture = fixture(case.network(), fixture_name);
                match whole.arranged(fixture) {
                    Arranged::By(_, arrangement) if by == arrangement.name => {
                        shown.insert((arrangement.name.clone(), PROTECTS.to_owned()));
                    }
                    Arranged::Nearest(Some((nearest, failed))) if by == "none" && failed.len() == 1 => {
                        shown.insert(condition(nearest, failed[0]));
                    }
                    _ => {}
                }
                if by == "none" {
                    shown.extend(what_it_is_for(rules, case.network(), fixture));
                }
            }
        }
    }
    shown
}

/// A condition that tells what an arrangement is for makes it nearest for nothing else: it alone fails where the
/// arrangement would protect the trap without it.
fn what_it_is_for(rules: &RuleSet, network: &Network, fixture: u32) -> Vec<Seen> {
    let arrangements = (0..).zip(&rules.arrangements);
    let defining = arrangements.flat_map(|(number, arrangement)| {
        let conditions = (0..).zip(&arrangement.conditions);
        conditions
            .filter(|(_, one)| one.defining)
            .map(move |(index, _)| (number, index, arrangement))
    });
    defining
        .filter(|&(number, index, arrangement)| {
            let mut short = rules.clone();
            let number: usize = number;
            short.unchecked().arrangements[number].conditions.remove(index);
            let without = measured(network, &short);
            matches!(without.arranged(fixture), Arranged::By(_, by) if by.name == arrangement.name)
        })
        .map(|(_, index, arrangement)| condition(arrangement, index))
        .collect()
}

#[test]
fn each_condition_of_each_arrangement_is_seen_to_fail_alone() {
    let mut missing = Vec::new();
    for name in published::names() {
        let rules = rules(name);
        for (arrangement, what) in wanted(&rules).difference(&shown(name, &rules)) {
            missing.push(format!("no example of {name} shows: {arrangement}: {what}"));
        }
    }
    assert!(missing.is_empty(), "{}", missing.join("\n"));
}
