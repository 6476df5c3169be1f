//! What must hold of every network by every code: loads add up as a plain sum says, the order of the file does not
//! matter, and no file makes the library panic.

use std::collections::BTreeMap;

use crate::codes::{CODES, Code};

use crownweir::quantity::{Angle, Load, Notation};
use crownweir::rulebook::Ladder;
use crownweir::{Fact, Got, Limits, Measured, Network, RuleSet, Subject, Text, Value, check, published};
use crownweir_tests::{network, network_text};
use proptest::prelude::*;

/// A tree of drains: each node drains to an earlier one, and the leaves carry loads.
fn tree() -> impl Strategy<Value = Vec<(usize, u32)>> {
    proptest::collection::vec((any::<proptest::sample::Index>(), 0_u32..40), 1..40).prop_map(|nodes| {
        nodes
            .iter()
            .enumerate()
            .map(|(number, (parent, load))| (parent.index(number + 1), *load))
            .collect()
    })
}

/// The network of a tree, its runs in the order of `order`. Node 0 is the point of disposal; node `n + 1` drains to
/// the node that entry `n` names, with a load of its own beside it.
fn text_of(code: &Code, tree: &[(usize, u32)], order: impl Iterator<Item = usize>) -> String {
    let (site, unit, [.., three, four]) = (code.site, code.unit, code.sizes);
    let mut text = format!(
        "crownweir: network/1\nname: tree\nsite: {{{site}}}\ndrains:\n  - {{size: {four}, slope: 1/4 in/ft, path: [{{fitting: {{name: N0}}}}, {{pipe: {{name: last, length: 1 ft}}}}, {{disposal: {{name: sewer}}}}]}}\n",
    );
    for number in order {
        let (parent, load) = tree[number];
        let own = number + 1;
        text.push_str(&format!("  - {{size: {four}, slope: 1/4 in/ft, path: [{{fitting: {{name: N{own}}}}}, {{pipe: {{name: P{own}, length: {own} in}}}}, {{at: N{parent}}}]}}\n"));
        text.push_str(&format!("  - {{size: {three}, slope: 1/4 in/ft, path: [{{fixture: {{name: F{own}, type: connected_load, load: {load} {unit}}}}}, {{pipe: {{length: 1 ft}}}}, {{at: N{own}}}]}}\n"));
    }
    text
}

/// The text with `put` in place of some of it.
fn edited(text: &str, at: usize, length: usize, put: &str) -> String {
    let boundary = |mut at: usize| {
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let from = boundary(at);
    let to = boundary((from + length).min(text.len())).max(from);
    format!("{}{put}{}", &text[..from], &text[to..])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn every_drain_carries_the_sum_of_what_lies_upstream(code in 0..4_usize, tree in tree()) {
        let code = &CODES[code];
        let network = network(&text_of(code, &tree, 0..tree.len()));
        let measured = Measured::new(&network, &code.rules).map_err(|error| TestCaseError::fail(error.to_string()))?;
        // The plain way: walk down from every load and add it to each drain that is passed.
        let mut sums: BTreeMap<usize, i64> = BTreeMap::new();
        for (number, (_, load)) in tree.iter().enumerate() {
            let mut node = number + 1;
            while node != 0 {
                *sums.entry(node).or_default() += i64::from(*load);
                node = tree[node - 1].0;
            }
        }
        for (node, sum) in sums {
            let pipe = network.pipe_named(&format!("P{node}")).map(|pipe| u32::try_from(pipe.index()));
            let Some(Ok(pipe)) = pipe else { return Err(TestCaseError::fail("no pipe")) };
            let got = measured.fact(Subject::Drain, pipe, Fact::DrainLoad);
            prop_assert_eq!(got, Got::Known(Value::Load(Load::from_thousandths(sum * 1000))));
        }
    }

    #[test]
    fn the_order_of_runs_does_not_matter(code in 0..4_usize, tree in tree(), seed in any::<u64>()) {
        let code = &CODES[code];
        let mut order: Vec<usize> = (0..tree.len()).collect();
        // Any fixed shuffle will do.
        let mut state = seed | 1;
        for at in (1..order.len()).rev() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            order.swap(at, usize::try_from(state >> 33).unwrap_or(0) % (at + 1));
        }
        let found = |text: &str| {
            let report = check(&network(text), &code.rules).map_err(|error| TestCaseError::fail(error.to_string()))?;
            let mut found: Vec<_> = report.findings.iter().map(|one| (one.rule.clone(), one.name.clone(), one.message.clone())).collect();
            found.sort();
            Ok::<_, TestCaseError>(found)
        };
        prop_assert_eq!(found(&text_of(code, &tree, 0..tree.len()))?, found(&text_of(code, &tree, order.into_iter()))?);
    }

    #[test]
    fn no_network_file_makes_anything_panic(at in any::<proptest::sample::Index>(), length in 0_usize..30, put in "\\PC{0,12}|: |\\[|\\]|\\{|\\}|- |none|0 in|9999999 ft|vertical|level") {
        let text = network_text("larch-terrace.yaml");
        let changed = edited(&text, at.index(text.len()), length, &put);
        if let Ok(network) = Network::read("changed.yaml", changed.as_bytes(), &Limits::default()) {
            for code in CODES.iter() {
                let _ = check(&network, &code.rules);
            }
        }
    }

    #[test]
    fn no_rule_file_makes_anything_panic(which in 0..4_usize, at in any::<proptest::sample::Index>(), length in 0_usize..30, put in "\\PC{0,12}|: |\\[|\\]|\\{|\\}|- |none|any|unfilled|0 dfu|9999999 ft") {
        let text = published::text(&CODES[which].rules.name).unwrap_or_default();
        let changed = edited(text, at.index(text.len()), length, &put);
        if let Ok(rules) = RuleSet::read("changed.yaml", changed.as_bytes(), &Limits::default()) {
            let network = network(&network_text("larch-terrace.yaml"));
            let _ = check(&network, &rules);
        }
    }

    #[test]
    fn no_amendment_makes_anything_panic(which in any::<proptest::sample::Index>(), at in any::<proptest::sample::Index>(), length in 0_usize..40, put in "\\PC{0,12}|: |\\[|\\]|\\{|\\}|- |none|any|drop|set|trap-arms|to: |was: 6|2 in") {
        let names: Vec<_> = published::amendments().collect();
        let name = names[which.index(names.len())];
        let text = published::amendment(name).unwrap_or_default();
        let edited = edited(text, at.index(text.len()), length, &put);
        let base = Text { name: "base", bytes: published::text("ipc-2021").unwrap_or_default().as_bytes() };
        let amendment = Text { name, bytes: edited.as_bytes() };
        let on = "2026-11-25".parse().map_err(|_| TestCaseError::fail("no day"))?;
        if let Err(problems) = RuleSet::amended(base, &[amendment], on, &Limits::default()) {
            prop_assert!(!problems.is_empty());
        }
    }

    #[test]
    fn no_bytes_make_the_reader_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let _ = Network::read("bytes", &bytes, &Limits::default());
        let _ = RuleSet::read("bytes", &bytes, &Limits::default());
    }
}

#[test]
fn the_least_numbers_that_there_are_overflow_without_panic() {
    let least = Value::Count(i64::MIN);
    assert_eq!(least.scaled(1, -1), None);
    assert_eq!(least.scaled(1, 0), None);
    assert_eq!(least.scaled(1, 2), Some(Value::Count(i64::MIN / 2)));
    let words =
        Value::Angle(Angle::from_microdegrees(i64::MIN)).in_words(&Ladder::default(), Notation::Inches);
    assert!(words.ends_with("deg"), "{words}");
}
