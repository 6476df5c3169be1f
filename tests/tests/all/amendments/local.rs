//! A town's law over a county's: what is to come, what is to blame for what comes of it, and where its changes are told.

use crownweir::rulebook::{Part, Standing};
use crownweir::{Limits, Place, RuleSet, changes};

use super::{amended, base, invented, named, refused};

/// Two bounds that leave nothing between them are told where the amendment has put one of them, whatever else it changes.
#[test]
fn bounds_that_cross_are_told_where_the_amendment_put_one() {
    let standpipe = |order: &str, was: &str, to: &str| {
        format!(
            "  - drop: {{rule: wet-vent-size}}\n  \
             - set: {{rule: standpipe-height, limit: fixture.standpipe_height, order: {order}, was: {was}, to: {to}}}"
        )
    };
    refused(
        &standpipe("at_least", "18 in", "48 in"),
        &[
            "town.yaml:13:101: nothing is at least 48 in and at most 42 in; expected `at_least` no more than 42 in",
            "`at_most` stands at base.yaml:",
        ],
    );
    refused(
        &standpipe("at_most", "42 in", "12 in"),
        &[
            "town.yaml:13:100: nothing is at least 18 in and at most 12 in; expected `at_most` no less than 18 in",
            "`at_least` stands at base.yaml:",
        ],
    );
    // Where it puts both, neither is the wrong one.
    refused(
        "  - add: {rule: pan, with: {title: t, subject: trap, require: {trap.seal: {at_least: 4 in, at_most: 2 in}}, severity: advice, message: m}}",
        &["nothing is at least 4 in and at most 2 in; expected `at_least` no more than `at_most`"],
    );
}

/// What becomes wrong in the base is laid to the change of what it names, before other changes.
#[test]
fn a_problem_in_the_base_is_laid_to_the_change_of_what_it_names() {
    let replace = "  - replace: {table: trap-arms, with: {title: t, keys: [{name: pipe, of: size, match: exact}], columns: [{name: length, of: length}], rows: [[2 in, 8 ft]]}}";
    let error = amended(
        &[(
            "town.yaml",
            &invented(&format!("  - drop: {{rule: crown-vent}}\n{replace}")),
        )],
        "2026-11-25",
    )
    .expect_err("a rule has lost its key");
    assert!(
        error.contains("this comes of the amendments: table `trap-arms` replaced (town.yaml:13)"),
        "{error}"
    );
    assert!(!error.contains("crown-vent"), "{error}");
}

/// A county's law from May on, with a rule from June on, and a town's over it from July on.
fn county_and_town(town: &str) -> [(&'static str, String); 2] {
    let county = "  - set: {table: trap-arms, row: {trap: 1-1/2 in}, column: length, was: 6 ft, to: 5 ft}
  - add: {rule: seal, with: {title: t, subject: trap, require: {trap.seal: {at_least: 2 in}}, severity: advice, message: m}}
    from: 2026-06-01";
    let head = "from: 2026-07-01\nprecedence: local_text\n";
    [
        ("county.yaml", named("county", "from: 2026-05-01\n", county)),
        ("town.yaml", named("town", head, town)),
    ]
}

fn on_each_day(town: &str) -> Vec<Result<RuleSet, String>> {
    let texts = county_and_town(town);
    let texts: Vec<(&str, &str)> = texts.iter().map(|(name, text)| (*name, text.as_str())).collect();
    let days = ["2026-01-01", "2026-05-15", "2026-06-15", "2026-07-15"];
    days.iter().map(|day| amended(&texts, day)).collect()
}

/// What a town's law that is still to come expects of a county's is looked for as it will be on the day on which it comes,
/// whether the county's is in force by then or not yet.
#[test]
fn what_is_to_come_finds_what_will_be_in_force_before_it() {
    let told = on_each_day(
        "  - set: {table: trap-arms, row: {trap: 1-1/2 in}, column: length, was: 5 ft, to: 4 ft}\n  - drop: {rule: seal}",
    );
    let told: Vec<_> = told
        .into_iter()
        .map(|rules| {
            let rules = rules.unwrap_or_else(|problems| panic!("{problems}"));
            let void: Vec<_> = rules.layers.iter().map(|layer| layer.void).collect();
            (rules.rule("seal").is_some(), void)
        })
        .collect();
    let expected = [
        (false, vec![2, 2]),
        (false, vec![1, 2]),
        (true, vec![0, 2]),
        (false, vec![0, 0]),
    ];
    assert_eq!(told, expected);
}

/// What will be wrong with it then is told on every day before, and once.
#[test]
fn what_is_wrong_with_what_is_to_come_is_told_before_it_comes() {
    for told in on_each_day(
        "  - set: {table: trap-arms, row: {trap: 1-1/2 in}, column: length, was: 7 ft, to: 4 ft}\n  - drop: {rule: seals}",
    ) {
        let problems = told.expect_err("two changes find what they do not expect");
        assert!(
            problems.contains("town.yaml")
                && problems.contains("the change expects 7 ft, and the base has 5 ft"),
            "{problems}"
        );
        assert!(problems.contains("did you mean `seal`?"), "{problems}");
        assert_eq!(problems.lines().count(), 2, "{problems}");
    }
}

/// Proposals are tried over one another as if all were adopted.
#[test]
fn a_proposal_may_rest_on_a_proposal() {
    let pending =
        |name: &str, change: &str| named(name, "", change).replace("status: in_force", "status: pending");
    let county = pending(
        "county",
        "  - set: {table: trap-arms, row: {trap: 1-1/2 in}, column: length, was: 6 ft, to: 5 ft}",
    );
    let town = |was: &str| {
        pending(
            "town",
            &format!(
                "  - set: {{table: trap-arms, row: {{trap: 1-1/2 in}}, column: length, was: {was}, to: 4 ft}}"
            ),
        )
        .replace("changes:", "precedence: local_text\nchanges:")
    };
    let both = |was: &str| amended(&[("county", &county), ("town", &town(was))], "2026-11-25");
    assert!(both("5 ft").is_ok_and(|rules| {
        rules
            .layers
            .iter()
            .all(|layer| layer.standing == Standing::Pending)
    }));
    let problems = both("7 ft").expect_err("neither the base nor the county has it");
    assert!(problems.contains("the change expects 7 ft"), "{problems}");
}

/// Of changes that begin on very many days, those of the last days are tried together.
#[test]
fn changes_of_very_many_days_are_tried() {
    let change = |number: usize, text: &str| {
        let day = format!("2027-{:02}-{:02}", number / 28 + 1, number % 28 + 1);
        format!("  - note: {{text: {text} {number}}}\n    from: {day}\n")
    };
    let mut changes: String = (0..60).map(|number| change(number, "call")).collect();
    assert!(amended(&[("town", &invented(changes.trim_end()))], "2026-11-25").is_ok());
    changes.push_str("  - drop: {rule: crown-vents}\n    from: 2027-12-01");
    let problems = amended(&[("town", &invented(&changes))], "2026-11-25").expect_err("no such rule");
    assert!(problems.contains("did you mean `crown-vent`?"), "{problems}");
}

/// A town's `was` may speak of the code as printed or of what the county has made of it; of nothing else.
#[test]
fn a_town_over_a_county_may_speak_of_the_code_as_printed() {
    let told = |was: &str| {
        let change = format!(
            "  - set: {{table: trap-arms, row: {{trap: 1-1/2 in}}, column: length, was: {was}, to: 4 ft}}"
        );
        on_each_day(&change).pop().expect("the last day")
    };
    assert!(told("6 ft").is_ok());
    assert!(told("5 ft").is_ok());
    assert!(told("8 ft").is_err());
}

/// A base is a rule set, not what other amendments have made of it.
#[test]
fn a_base_is_the_rule_set_alone() {
    let town = invented("  - drop: {rule: crown-vent}").replace(
        "base: {rules: ipc-2021, document: IPC, edition: \"2021\"",
        "base: {rules: ipc-2021+county, document: Ordinance 12, edition: \"2026\"",
    );
    let problems = amended(&[("town", &town)], "2026-11-25").expect_err("another base");
    for expected in [
        "expected `ipc-2021`, of the rule set itself; a base is the rule set alone",
        "expected `IPC`, of the rule set itself",
        "expected `2021`, of the rule set itself",
    ] {
        assert!(problems.contains(expected), "{problems}");
    }
}

/// A condition that an amendment lays upon an arrangement is told where the amendment says so; one that it drops, where the
/// base has it.
#[test]
fn changes_of_arrangements_are_told_at_their_places() {
    let own = invented(
        "  - restrict: {arrangement: combination-drain-and-vent, to: {fixture.type: floor_drain}, message: only floor drains}\n  \
         - drop: {arrangement: circuit-vent, condition: protection.joins}\n  \
         - gate: {arrangement: common-vent}",
    );
    let after = amended(&[("town.yaml", &own)], "2026-11-25").unwrap_or_else(|problems| panic!("{problems}"));
    let before = RuleSet::read("base.yaml", base().bytes, &Limits::default()).expect("the base");
    let found = changes(&before, &after);
    let place = |place: &Option<Place>| place.as_ref().map(|place| (place.file.to_string(), place.line));
    let told = |name: &str| {
        let one = found.iter().find(|one| one.name == name).expect("a change");
        (place(&one.place_before), place(&one.place_after))
    };
    let of_town = |line| Some(("town.yaml".to_owned(), line));
    assert_eq!(told("combination-drain-and-vent"), (None, of_town(12)));
    let (dropped, by) = told("circuit-vent");
    assert_eq!(by, of_town(13));
    let (file, line) = dropped.expect("a place in the base");
    let text = std::str::from_utf8(base().bytes).expect("text");
    assert_eq!(file, "base.yaml");
    assert!(
        text.lines()
            .nth(line - 1)
            .is_some_and(|line| line.contains("protection.joins"))
    );
    assert_eq!(told("common-vent").1, of_town(14));
}

/// A note that goes with no rule stands with its amendment while it is in force.
#[test]
fn a_note_of_no_rule_goes_with_its_amendment() {
    let own = named(
        "town",
        "",
        "  - note: {text: call the inspector}\n  - note: {text: measure twice, rule: crown-vent}\n  \
         - note: {text: call the county}\n    from: 2027-01-01",
    );
    let notes = |on: &str| {
        let rules = amended(&[("town", &own)], on).unwrap_or_else(|problems| panic!("{problems}"));
        rules.layers[0].notes.clone()
    };
    assert_eq!(notes("2026-11-25"), ["call the inspector"]);
    assert_eq!(notes("2027-01-01"), ["call the inspector", "call the county"]);
}

/// Of a rule that is not there it is told which amendment adds it, and when, or has dropped it.
#[test]
fn why_a_rule_is_absent_is_told() {
    let own = named(
        "town",
        "",
        "  - drop: {rule: crown-vent}\n  \
         - add: {rule: seal, with: {title: t, subject: trap, require: {trap.seal: {at_least: 2 in}}, severity: advice, message: m}}\n    from: 2027-01-01",
    );
    let rules = amended(&[("town.yaml", &own)], "2026-11-25").unwrap_or_else(|problems| panic!("{problems}"));
    let why = |name: &str| rules.why_absent(&Part::Rule(name.to_owned()));
    assert_eq!(
        why("seal").as_deref(),
        Some("`town` adds it from 2027-01-01 on (Ordinance 2026, section 1; town.yaml:13)")
    );
    assert_eq!(
        why("crown-vent").as_deref(),
        Some("changed by town: dropped (Ordinance 2026, section 1; town.yaml:12)")
    );
    assert_eq!(why("trap-arm-length"), None);
    let pending = own.replace("status: in_force", "status: pending");
    let rules =
        amended(&[("town.yaml", &pending)], "2026-11-25").unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(
        rules.why_absent(&Part::Rule("seal".to_owned())).as_deref(),
        Some("`town` adds it, and is pending, not applied (Ordinance 2026, section 1; town.yaml:13)")
    );
}
