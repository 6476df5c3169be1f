//! The published rule sets' worked examples: every answer is reached, and hardly a figure can change unnoticed.

use crownweir::proof::{Example, PinReport, Pins, Tried, prove};
use crownweir::{RuleSet, published};
use crownweir_tests::{examples, rules};

fn pins(rules: &RuleSet, examples: &[Example]) -> PinReport {
    let pins = Pins::new(rules, examples).expect("every answer is reached");
    let mut worker = pins.worker();
    let tried: Vec<Tried> = (0..pins.pieces())
        .filter_map(|piece| worker.try_piece(piece))
        .collect();
    pins.report(&tried)
}

#[test]
fn every_published_answer_is_reached() {
    for name in published::names() {
        let outcomes = prove(&rules(name), &examples(name));
        let mut unmet = Vec::new();
        for outcome in &outcomes {
            for one in &outcome.unmet {
                unmet.push(format!(
                    "{} expected {}, but {}",
                    one.place, one.expected, one.came
                ));
            }
        }
        assert!(unmet.is_empty(), "{}", unmet.join("\n"));
        assert!(!outcomes.is_empty(), "{name} has no worked example");
    }
}

/// Whoever leaves a rule or an arrangement out of a published rule set is told so by its examples.
#[test]
fn nothing_can_be_left_out_unnoticed() {
    for name in published::names() {
        let (whole, examples) = (rules(name), examples(name));
        let fails = |rules: &RuleSet| {
            let mut each = examples.chunks(1).flat_map(|example| prove(rules, example));
            each.any(|outcome| !outcome.unmet.is_empty())
        };
        for number in 0..whole.rules.len() {
            let mut short = whole.clone();
            let rule = short.rules.remove(number);
            assert!(
                fails(&short),
                "without `{}` every answer is still reached",
                rule.name
            );
        }
        for number in 0..whole.arrangements.len() {
            let mut short = whole.clone();
            let arrangement = short.arrangements.remove(number);
            assert!(
                fails(&short),
                "without `{}` every answer is still reached",
                arrangement.name
            );
        }
    }
}

/// Four cells in five are pinned, of the Uniform code nearly all; and of its arrangements some example fails each
/// condition alone, for it holds when the condition is left out.
#[test]
fn hardly_a_cell_can_be_altered_unnoticed() {
    let least = [
        ("en-12056-2", 200, 800),
        ("framing-irc-2021", 70, 800),
        ("framing-nbc-2020", 70, 980),
        ("ipc-2021", 600, 800),
        ("npc-2020", 180, 800),
        ("upc-2021", 220, 980),
    ];
    for (name, least, share) in least {
        let (rules, examples) = (rules(name), examples(name));
        let report = pins(&rules, &examples);
        let cells = report.cells();
        assert!(cells.all > least, "{name}: {cells:?}");
        assert!(cells.per_mille() >= share, "{name}: {cells:?}");
        let loose = report.others.iter().flat_map(|held| &held.unpinned);
        let loose: Vec<_> = loose.filter(|one| one.name.starts_with("condition")).collect();
        assert!(name != "upc-2021" || loose.is_empty(), "{name}: {loose:?}");
        for rule in &report.each_rule {
            assert_eq!(rule.parts.pinned(), 1, "{name}: `{}` can be left out", rule.name);
        }
    }
}
