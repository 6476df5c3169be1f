//! A rule is judged for all elements that are alike at once, as far as what they share settles it. Here every element's
//! judgement is compared with the one that it gets by itself.

use crownweir::{Judgement, Measured, Network, RuleSet, check};
use crownweir_tests::{network, network_text, rules};
use proptest::prelude::*;

use crate::codes::CODES;

/// Enough storeys that pipes are classed by size, material and slope too.
const STOREYS: u32 = 40;

/// Compares every judgement, and what a whole check counts. Gives how many were neither pass nor out of question.
fn compare(network: &Network, rules: &RuleSet) -> usize {
    let measured = Measured::new(network, rules).unwrap_or_else(|error| panic!("{error}"));
    let report = check(network, rules).unwrap_or_else(|error| panic!("{error}"));
    let mut found = 0;
    for rule in &rules.rules {
        let elements = measured.elements(rule.subject).into_iter();
        let alone: Vec<_> = elements
            .map(|element| (element, measured.judgement(rule, element)))
            .collect();
        assert_eq!(measured.judgements(rule), alone, "{}", rule.name);
        let row = report.summary.iter().find(|row| row.rule == rule.name);
        let row = row.unwrap_or_else(|| panic!("no row for {}", rule.name));
        let counted = |wanted| alone.iter().filter(|(_, judgement)| *judgement == wanted).count();
        for (wanted, count) in [
            (Judgement::NotApplicable, row.not_applicable),
            (Judgement::Satisfied, row.satisfied),
            (Judgement::Violated, row.violated),
            (Judgement::Undetermined, row.undetermined),
            (Judgement::OnSite, row.on_site),
        ] {
            assert_eq!(counted(wanted), count, "{}: {wanted:?}", rule.name);
        }
        found += counted(Judgement::Violated) + counted(Judgement::Undetermined);
    }
    found
}

/// A line of the tower altered so that its pipes are like no others, or state less. No key comes twice, however often a
/// line is altered: what is put in parts the words that an alteration looks for.
fn altered(line: &str, how: usize) -> String {
    match how {
        0 => line.replace("size: 2 in, ", ""),
        1 => line.replace("1-1/2 in", "1-1/4 in"),
        2 => line.replace("slope: 1/4 in/ft", "slope: 1/8 in/ft"),
        3 => line.replace("slope: 1/4 in/ft, path", "material: cast_iron, path"),
        4 => line.replace(
            "slope: 1/4 in/ft, path",
            "slope: 1/4 in/ft, underground: true, path",
        ),
        5 => line.replace("pattern: wye", "pattern: sanitary_tee"),
        6 => line.replace(", pattern: sanitary_tee", ""),
        _ => line.to_owned(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    #[test]
    fn what_a_class_settles_is_what_each_element_comes_to(
        code in 0..2_usize,
        changes in proptest::collection::vec((any::<proptest::sample::Index>(), 0..7_usize), 0..30),
        slopes in 0..40_u32,
    ) {
        // UPC 2021 knows no pipe as large as the tower's last.
        let text = crownweir_benches::tower(STOREYS).replace("15 in", "12 in");
        let mut lines: Vec<String> = text.lines().map(ToOwned::to_owned).collect();
        for (line, how) in &changes {
            let line = line.get_mut(&mut lines);
            *line = altered(line, *how);
        }
        // So many slopes that pipes are no longer classed by them.
        for (line, number) in lines.iter_mut().filter(|line| line.contains("VT-")).zip(0..slopes) {
            *line = line.replace("slope: vertical", &format!("slope: {}%", 100 + number));
        }
        let text = lines.join("\n");
        let network = network(&text);
        prop_assert!(network.graph().edge_count() > 1_000);
        compare(&network, &rules(["ipc-2021", "upc-2021"][code]));
    }
}

#[test]
fn a_line_altered_twice_holds_each_key_once() {
    let text = crownweir_benches::tower(2);
    for how in 0..7 {
        let lines = text.lines().map(|line| altered(&altered(line, how), how));
        let altered = network(&lines.collect::<Vec<_>>().join("\n"));
        assert!(altered.graph().edge_count() > 50);
    }
}

#[test]
fn what_a_class_settles_in_a_house_is_what_each_element_comes_to() {
    for code in CODES.iter() {
        for name in ["heron-point", "larch-terrace"] {
            let suffix = code.rules.name.split_once('-').map_or("", |(suffix, _)| suffix);
            let suffix = if suffix == "ipc" {
                String::new()
            } else {
                format!("-{suffix}")
            };
            let faulty = network(&network_text(&format!("{name}{suffix}-faulty.yaml")));
            assert!(compare(&faulty, &code.rules) > 0, "{name} {}", code.rules.name);
        }
    }
}
