//! Where a fact's value comes from: its parts are named, and come to the value.

use crownweir::{Derivation, Fact, Measured, Subject};
use crownweir_tests::{network, rules};

/// A kitchen sink and a lavatory whose vents meet on the way to the roof.
const TWO_VENTS: &str = "\
crownweir: network/1
name: two vents
site: {occupancy: private}
drains:
  - {size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: L, type: lavatory, trap: {size: 1-1/2 in}}}, {pipe: {name: arm 1, length: 3 ft}}, {fitting: {name: T1}}, {pipe: {length: 4 ft}}, {fitting: {name: J}}, {pipe: {name: out, length: 5 ft}}, {disposal: {name: sewer}}]}
  - {size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: K, type: kitchen_sink, trap: {size: 1-1/2 in}}}, {pipe: {name: arm 2, length: 2 ft}}, {fitting: {name: T2}}, {pipe: {name: branch, length: 1 ft}}, {at: J}]}
vents:
  - {size: 1-1/2 in, slope: vertical, path: [{at: T1}, {pipe: {name: short, length: 6 ft}}, {fitting: {name: V}}, {pipe: {name: middle, length: 2 ft}}, {fitting: {name: W}}, {pipe: {name: top, length: 3 ft}}, {terminal: {name: roof}}]}
  - {size: 1-1/2 in, path: [{at: T2}, {pipe: {name: long, length: 9 ft}}, {at: V}]}
";

fn lines(derivation: &Derivation, depth: usize, into: &mut Vec<String>) {
    let value = if derivation.value.is_empty() { "" } else { ": " };
    into.push(format!(
        "{}{}{value}{}",
        "  ".repeat(depth),
        derivation.what,
        derivation.value
    ));
    for part in &derivation.parts {
        lines(part, depth + 1, into);
    }
}

/// The lines of a derivation; an empty name is that of whatever there is one of.
fn told(text: &str, subject: Subject, name: &str, fact: Fact) -> Vec<String> {
    let (network, rules) = (network(text), rules("ipc-2021"));
    let measured = Measured::new(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
    let mut elements = measured.elements(subject).into_iter();
    let element = elements.find(|&one| name.is_empty() || measured.name_of(subject, one) == name);
    let element = element.unwrap_or_else(|| panic!("no {name}"));
    let mut told = Vec::new();
    lines(&measured.derivation(subject, element, fact), 0, &mut told);
    told
}

/// By the definition of the developed length: the longest way from a connection to open air that the pipe is part of.
#[test]
fn a_vents_length_is_that_of_its_longest_way() {
    let of = |name| told(TWO_VENTS, Subject::Vent, name, Fact::VentDevelopedLength);
    assert_eq!(
        of("short"),
        [
            "vent.developed_length: 11 ft",
            "  `short`: 6 ft (the longest up to it)",
            "  on from it `middle`: 2 ft",
            "  on from it `top`: 3 ft",
        ]
    );
    assert_eq!(
        of("top"),
        [
            "vent.developed_length: 14 ft",
            "  before it `long`: 9 ft (the longest up to it)",
            "  before it `middle`: 2 ft",
            "  `top`: 3 ft",
        ]
    );
    let longer = TWO_VENTS.replace("{name: short, length: 6 ft}", "{name: short, length: 12 ft}");
    assert_eq!(
        told(&longer, Subject::Vent, "top", Fact::VentDevelopedLength)[..2],
        [
            "vent.developed_length: 17 ft",
            "  before it `short`: 12 ft (the longest up to it)",
        ]
    );
    let unknown = TWO_VENTS.replace("{name: top, length: 3 ft}", "{name: top}");
    assert_eq!(
        told(&unknown, Subject::Vent, "middle", Fact::VentDevelopedLength)[1..],
        [
            "  before it `long`: 9 ft (the longest up to it)",
            "  `middle`: 2 ft",
            "  on from it `top`: length not stated",
        ]
    );
    // Which is the longest is not told where one is not stated, nor of one alone.
    let unknown = TWO_VENTS.replace("{name: middle, length: 2 ft}", "{name: middle}");
    assert_eq!(
        told(&unknown, Subject::Vent, "middle", Fact::VentDevelopedLength)[1..],
        [
            "  before it `long`: 9 ft",
            "  `middle`: length not stated",
            "  on from it `top`: 3 ft",
        ]
    );
    let alone = "\
crownweir: network/1
name: one vent
drains:
  - {size: 2 in, path: [{fixture: {name: L, type: lavatory}}, {pipe: {}}, {fitting: {name: T}}, {pipe: {}}, {disposal: {name: sewer}}]}
vents:
  - {size: 2 in, path: [{at: T}, {pipe: {name: alone, length: 12 ft}}, {terminal: {name: roof}}]}
";
    assert_eq!(
        told(alone, Subject::Vent, "alone", Fact::VentDevelopedLength),
        ["vent.developed_length: 12 ft", "  `alone`: 12 ft"]
    );
}

#[test]
fn a_load_is_that_of_the_fixtures_above() {
    assert_eq!(
        told(TWO_VENTS, Subject::Vent, "middle", Fact::VentServedLoad),
        [
            "vent.served_load: 3 dfu",
            "  what drains to `T1`, where the vent begins: 1 dfu",
            "    lavatory `L`: 1 dfu",
            "  what drains to `T2`, where the vent begins: 2 dfu",
            "    kitchen sink `K`: 2 dfu",
        ]
    );
    assert_eq!(
        told(TWO_VENTS, Subject::System, "", Fact::SystemLoad),
        [
            "system.load: 3 dfu",
            "  lavatory `L`: 1 dfu",
            "  kitchen sink `K`: 2 dfu",
        ]
    );
    assert_eq!(
        told(TWO_VENTS, Subject::Drain, "branch", Fact::DrainLoad),
        ["drain.load: 2 dfu", "  kitchen sink `K`: 2 dfu"]
    );
    assert_eq!(
        told(TWO_VENTS, Subject::Fixture, "L", Fact::FixtureLoad),
        [
            "fixture.load: 1 dfu",
            "  fixture.type: lavatory",
            "  fixture.occupancy: private",
            "  trap.size: 1-1/2 in",
        ]
    );
    let stack = "\
crownweir: network/1
name: stack
site: {occupancy: private}
drains:
  - {kind: stack, size: 3 in, slope: vertical, path: [{fitting: {name: J}}, {pipe: {name: stack, length: 9 ft}}, {fitting: {name: base}}, {pipe: {name: out, slope: 1/4 in/ft}}, {disposal: {name: sewer}}]}
  - {size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: L, type: lavatory}}, {pipe: {length: 3 ft}}, {at: J}]}
  - {size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: K, type: sink}}, {pipe: {length: 3 ft}}, {at: J}]}
";
    assert_eq!(
        told(stack, Subject::Stack, "", Fact::StackLoad),
        ["stack.load: 3 dfu", "  lavatory `L`: 1 dfu", "  sink `K`: 2 dfu"]
    );
}

/// Air comes down the stack from its vent to the bathtub; the lavatory's vent returns there, and another comes from the
/// stack's foot: both serve what the stack has anyway, or the stack is part of what they serve.
#[test]
fn what_several_vents_serve_is_a_part_once() {
    let stack = "\
crownweir: network/1
name: stack
site: {occupancy: private}
storeys: [{storey: upper, height: 9 ft}]
drains:
  - {kind: stack, size: 3 in, slope: vertical, storey: upper, path: [{fitting: {name: T}}, {pipe: {length: 1 ft}}, {fitting: {name: B}}, {pipe: {length: 1 ft}}, {fitting: {name: C}}, {pipe: {length: 9 ft}}, {fitting: {name: foot}}, {pipe: {length: 1 ft}}, {disposal: {name: sewer}}]}
  - {size: 2 in, storey: upper, slope: 1/4 in/ft, path: [{fixture: {name: L1, type: lavatory}}, {pipe: {length: 2 ft}}, {at: T}]}
  - {size: 2 in, storey: upper, slope: 1/4 in/ft, path: [{fixture: {name: L2, type: lavatory}}, {pipe: {length: 2 ft}}, {fitting: {name: W}}, {pipe: {length: 2 ft}}, {at: B}]}
  - {size: 2 in, storey: upper, slope: 1/4 in/ft, path: [{fixture: {name: tub, type: bathtub}}, {pipe: {length: 2 ft}}, {at: C}]}
vents:
  - {kind: stack_vent, size: 3 in, slope: vertical, path: [{at: T}, {pipe: {length: 5 ft}}, {fitting: {name: V}}, {pipe: {name: above, length: 5 ft}}, {fitting: {name: X}}, {pipe: {name: top, length: 5 ft}}, {terminal: {name: roof}}]}
  - {size: 2 in, path: [{at: W}, {pipe: {}}, {at: V}]}
  - {size: 2 in, path: [{at: foot}, {pipe: {}}, {at: X}]}
";
    assert_eq!(
        told(stack, Subject::Vent, "above", Fact::VentServedLoad),
        [
            "vent.served_load: 4 dfu",
            "  what drains to `C`, as far as the vent from `T` serves: 4 dfu",
            "    lavatory `L1`: 1 dfu",
            "    lavatory `L2`: 1 dfu",
            "    bathtub `tub`: 2 dfu",
            "  not counted again: 1 dfu of what drains to `W`, where the vent begins: part of what drains to `C`",
        ]
    );
    assert_eq!(
        told(stack, Subject::Vent, "top", Fact::VentServedLoad),
        [
            "vent.served_load: 4 dfu",
            "  what drains to `foot`, where the vent begins: 4 dfu",
            "    lavatory `L1`: 1 dfu",
            "    lavatory `L2`: 1 dfu",
            "    bathtub `tub`: 2 dfu",
            "  not counted again: 4 dfu of what drains to `C`, as far as the vent from `T` serves: part of what drains to `foot`",
            "  not counted again: 1 dfu of what drains to `W`, where the vent begins: part of what drains to `foot`",
        ]
    );
}

/// As many fixtures as are named, and two more.
#[test]
fn more_fixtures_than_are_named_are_counted() {
    let of = |count: u32| {
        let mut text = "\
crownweir: network/1
name: many
drains:
  - {size: 4 in, path: [{fitting: {name: J}}, {pipe: {name: out}}, {disposal: {name: sewer}}]}
"
        .to_owned();
        for number in 1..=count {
            text.push_str(&format!("  - {{size: 2 in, path: [{{fixture: {{name: F{number}, type: connected_load, load: 1 dfu}}}}, {{pipe: {{}}}}, {{at: J}}]}}\n"));
        }
        told(&text, Subject::System, "", Fact::SystemLoad)
    };
    let all = of(60);
    assert_eq!((all.len(), &*all[60]), (61, "  connected load `F60`: 1 dfu"));
    let more = of(62);
    assert_eq!((more.len(), &*more[61]), (62, "  2 fixtures more"));
}

/// Vents that return to the stack's own vent serve what it has anyway; of more than are named the others are counted.
#[test]
fn more_drains_that_are_part_of_others_than_are_named_are_counted() {
    let of = |count: u32| {
        let mut drains = String::new();
        let mut stack =
            "  - {kind: stack, size: 4 in, slope: vertical, path: [{fitting: {name: T}}".to_owned();
        let mut vents = "vents:\n  - {kind: stack_vent, size: 4 in, slope: vertical, path: [{at: T}, {pipe: {}}, {fitting: {name: V}}, {pipe: {name: top}}, {terminal: {name: roof}}]}\n".to_owned();
        for number in 1..=count {
            stack.push_str(&format!(
                ", {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: B{number}}}}}"
            ));
            drains.push_str(&format!("  - {{size: 2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: F{number}, type: connected_load, load: 1 dfu}}}}, {{pipe: {{length: 2 ft}}}}, {{fitting: {{name: W{number}}}}}, {{pipe: {{length: 2 ft}}}}, {{at: B{number}}}]}}\n"));
            vents.push_str(&format!(
                "  - {{size: 2 in, path: [{{at: W{number}}}, {{pipe: {{}}}}, {{at: V}}]}}\n"
            ));
        }
        vents.push_str("  - {size: 2 in, path: [{at: foot}, {pipe: {}}, {at: V}]}\n");
        let head = "crownweir: network/1\nname: many\nsite: {occupancy: private}\ndrains:\n";
        let end = ", {pipe: {length: 1 ft}}, {fitting: {name: foot}}, {pipe: {length: 9 ft}}, {disposal: {name: sewer}}]}\n";
        told(
            &format!("{head}{stack}{end}{drains}{vents}"),
            Subject::Vent,
            "top",
            Fact::VentServedLoad,
        )
    };
    let again = |told: &[String]| {
        told.iter()
            .filter(|line| line.starts_with("  not counted again"))
            .count()
    };
    // The stack's own vent serves none that is not among those either.
    let all = of(59);
    assert_eq!(again(&all), 60);
    assert!(all[all.len() - 1].contains(" of what drains to `"), "{all:?}");
    for (count, told) in [(60, "1 drain more"), (62, "3 drains more")] {
        let more = of(count);
        assert_eq!(again(&more), 61);
        assert_eq!(more[more.len() - 1], format!("  not counted again: {told}"));
    }
}

#[test]
fn what_protects_a_trap_is_its_arm_and_each_arrangement_of_its_shape() {
    let of = |text: &str| told(text, Subject::Trap, "L", Fact::ProtectionPattern);
    assert_eq!(
        of(TWO_VENTS),
        [
            "protection.pattern: individual",
            "  `arm 1`: 3 ft, size 2 in",
            "  ends at `T1`, where a dry vent stands",
            "  an individual vent: holds",
            "    protection.turns_down no, fixture.type lavatory: yes",
        ]
    );
    let down = TWO_VENTS.replace(
        "{name: arm 1, length: 3 ft}",
        "{name: arm 1, slope: vertical, length: 3 ft}",
    );
    assert_eq!(
        of(&down)[3..5],
        [
            "  an individual vent: does not hold",
            "    protection.turns_down yes, fixture.type lavatory: no",
        ]
    );
    let open = TWO_VENTS.replace(
        "{size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: L,",
        "{size: 2 in, path: [{fixture: {name: L,",
    );
    assert_eq!(
        of(&open)[3..],
        [
            "  an individual vent: cannot be told",
            "    protection.turns_down needs `slope` of drain `arm 1`, fixture.type lavatory: cannot be told",
        ]
    );
    let none = TWO_VENTS.split("vents:").next().expect("drains");
    assert_eq!(
        of(none),
        ["protection.pattern: none", "  no vent is met on the way down"]
    );
}

/// Of more drains than are named, the others are told together: the parts come to the value all the same.
#[test]
fn more_drains_than_are_named_are_told_together() {
    let mut stack = "\
crownweir: network/1
name: stack
drains:
  - {kind: stack, size: 3 in, slope: vertical, path: [{fitting: {name: J}}, {pipe: {length: 9 ft}}, {disposal: {name: sewer}}]}
".to_owned();
    let mut vents = "vents:\n  - {size: 3 in, path: [{fitting: {name: V}}, {pipe: {name: all}}, {terminal: {name: roof}}]}\n".to_owned();
    for number in 1..=62 {
        stack.push_str(&format!("  - {{size: 2 in, path: [{{fixture: {{name: F{number}, type: connected_load, load: {number} dfu}}}}, {{pipe: {{}}}}, {{fitting: {{name: T{number}}}}}, {{pipe: {{}}}}, {{at: J}}]}}\n"));
        vents.push_str(&format!(
            "  - {{size: 2 in, path: [{{at: T{number}}}, {{pipe: {{}}}}, {{at: V}}]}}\n"
        ));
    }
    let told = told(&(stack + &vents), Subject::Vent, "all", Fact::VentServedLoad);
    // 1 to 62; the last two are 61 and 62.
    assert_eq!(
        told.first().map(String::as_str),
        Some("vent.served_load: 1953 dfu")
    );
    assert_eq!(told.last().map(String::as_str), Some("  2 drains more: 123 dfu"));
}

#[test]
fn an_arm_is_its_pipes_to_where_it_meets_its_vent() {
    assert_eq!(
        told(TWO_VENTS, Subject::TrapArm, "K", Fact::TrapArmLength),
        [
            "trap_arm.length: 2 ft",
            "  `arm 2`: 2 ft, size 2 in",
            "  ends at `T2`, where a dry vent stands",
        ]
    );
}

/// By IPC 2021, table 709.1 (from memory), a private water closet counts 3 dfu up to 1.6 gal a flush and 4 above.
#[test]
fn a_load_that_hangs_on_a_flush_is_told_between_its_ends() {
    let drain = "\
crownweir: network/1
name: closet
site: {occupancy: private}
drains:
  - {size: 3 in, path: [{fixture: {name: WC, type: water_closet}}, {pipe: {name: arm}}, {disposal: {name: sewer}}]}
";
    assert_eq!(
        told(drain, Subject::Drain, "arm", Fact::DrainLoad),
        [
            "drain.load: 3 dfu to 4 dfu; needs `flush_volume` of water closet `WC`",
            "  water closet `WC`: 3 dfu to 4 dfu; needs `flush_volume` of water closet `WC`",
        ]
    );
}
