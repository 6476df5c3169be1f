//! What the README lists of the vocabulary.

use crownweir::vocabulary::{FittingPattern, FixtureType, Material, Occupancy, RunKind, TrapKind};

#[test]
fn the_words_of_a_network_file_are_listed() {
    let lists = [
        ("a fixture's `type`", FixtureType::NAMES),
        ("a trap's `kind`", TrapKind::NAMES),
        ("a fitting's `pattern`", FittingPattern::NAMES),
        ("a run's `kind`", RunKind::NAMES),
        ("`material`", Material::NAMES),
        ("`occupancy`", Occupancy::NAMES),
    ];
    let rows = lists.map(|(key, names)| format!("| {key} | `{}` |\n", names.join("`, `")));
    for row in rows {
        assert!(
            include_str!("../../../README.md").contains(&row),
            "the README lacks\n{row}"
        );
    }
}
