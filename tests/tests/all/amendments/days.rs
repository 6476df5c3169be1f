//! On which day which changes are in force.

use crownweir::published;
use crownweir::rulebook::{Part, Standing};

use super::{amended, day, invented, named, refused, with};

#[test]
fn what_is_in_force_depends_on_the_day() {
    let text = published::amendment("heron-county").expect("a text");
    let height = |on: &str| {
        let rules = amended(&[("heron-county", text)], on).expect("a rule set");
        let standing = rules.layers[0].standing;
        let changed = rules
            .changes_to(&Part::Rule("standpipe-height".to_owned()))
            .filter(|change| change.void.is_none())
            .count();
        (
            standing,
            rules
                .changes
                .iter()
                .filter(|change| change.void.is_none())
                .count()
                > 0,
            changed,
        )
    };
    assert_eq!(
        height("2025-06-30"),
        (Standing::NotBefore(day("2025-07-01")), false, 0)
    );
    assert_eq!(height("2025-07-01"), (Standing::InForce, true, 0));
    assert_eq!(height("2027-01-01"), (Standing::InForce, true, 1));
    let pending = with(&["lake-zurich-illinois"]);
    assert_eq!(pending.layers[0].standing, Standing::Pending);
    assert!(pending.rule("cleanout-outside-wall").is_none());
    assert!(pending.changes.iter().all(|change| change.void.is_some()));
    let change = "  - set: {rule: trap-outlet-drop, limit: trap.outlet_drop, was: 24 in, to: 20 in}";
    let ended = named("old", "from: 2020-01-01\nuntil: 2021-01-01\n", change).replace("in_force", "repealed");
    let over = |on: &str| amended(&[("old", &ended)], on).expect("a rule set").layers[0].standing;
    assert_eq!(over("2020-06-01"), Standing::InForce);
    assert_eq!(over("2021-01-01"), Standing::Over(Some(day("2021-01-01"))));
}

#[test]
fn what_is_not_in_force_yet_is_checked_before_its_day() {
    for (head, change) in [
        ("from: 2027-01-01\n", "  - drop: {rule: trap-seel}"),
        ("", "  - drop: {rule: trap-seel}\n    from: 2027-01-01"),
    ] {
        let error = amended(&[("town.yaml", &named("town", head, change))], "2026-11-25").expect_err(change);
        assert!(error.contains("did you mean `trap-seal`?"), "{error}");
    }
    let pending = invented("  - drop: {rule: trap-seel}").replace("in_force", "pending");
    assert!(amended(&[("town.yaml", &pending)], "2026-11-25").is_err());
    let late = named(
        "town",
        "from: 2026-05-01\n",
        "  - drop: {rule: crown-vent}\n    from: 2026-04-01",
    );
    let error = amended(&[("town.yaml", &late)], "2026-11-25").expect_err("before the amendment itself");
    assert!(error.contains("do not lie in order"), "{error}");
}

/// A change may begin on the day on which its amendment does, and not before it.
#[test]
fn a_change_begins_no_earlier_than_its_amendment() {
    let change = |from: &str| {
        named(
            "town",
            "from: 2026-05-01\n",
            &format!("  - drop: {{rule: crown-vent}}\n    from: {from}"),
        )
    };
    let laid = |from: &str| amended(&[("town", &change(from))], "2026-11-25");
    assert!(laid("2026-05-01").is_ok_and(|rules| rules.rule("crown-vent").is_none()));
    assert!(laid("2026-04-30").is_err());
}

/// What is over is not looked into any more, but for its own dates.
#[test]
fn what_is_over_is_not_checked_any_more() {
    let missing = "  - drop: {rule: trap-seel}";
    let over = named("town", "", &format!("{missing}\n    until: 2026-01-01"));
    let rules = amended(&[("town", &over)], "2026-11-25").unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(rules.layers[0].void, 1);
    refused(
        &format!("{missing}\n    from: 2026-01-01\n    until: 2025-01-01"),
        &["do not lie in order"],
    );
    let ended = named("town", "until: 2026-01-01\n", missing);
    let rules = amended(&[("town", &ended)], "2026-11-25").unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(rules.changes, []);
}
