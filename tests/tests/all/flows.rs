//! Flows, depths, velocities and air losses as facts: a rule set's own load model and hydraulics carried through to
//! what rules read, against published tables and the rows of a general-purpose library.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a test stops at the first thing that is missing"
)]

use crownweir::hydraulics::{
    AIR_WEIGHT, FOOT, HydraulicsError, INCH, Resistance, US_GALLON, air_drawn, sheet_fraction_at_flow,
    stack_capacity, vent_air_loss,
};
use crownweir::quantity::{Flow, Ratio, Velocity};
use crownweir::{Fact, Gap, Got, Limits, Measured, RuleSet, Subject, Value, check};
use crownweir_tests::{network, rules};
use proptest::prelude::*;

const GPM: f64 = US_GALLON / 60.0;

/// IPC 2021 with a load model and hydraulics of the tests' own: what flows is stated as a continuous flow.
fn with_hydraulics(hydraulics: &str) -> RuleSet {
    let text = crownweir::published::text("ipc-2021").expect("the rule set");
    let text = text
        .replacen(
            "loads:\n",
            &format!("{hydraulics}\nloads:\n  probable_flow: 0 gpm\n"),
            1,
        )
        .replacen(
            "      load: {flow: fixture.flow, per: 1 gpm, load: 2 dfu}",
            "      flow: fixture.flow",
            1,
        );
    RuleSet::read("own", text.as_bytes(), &Limits::default()).unwrap_or_else(|problems| panic!("{problems}"))
}

/// Hydraulics by the Manning formula with the bore given for every pipe.
fn manning(bore: &str, roughness: &str) -> String {
    format!(
        "hydraulics:
  formula: manning
  bore: {bore}
  roughness: {roughness}
  filling: 50 %
  stack_filling: 7/24
  air_friction: 0.03
  cite: {{basis: common_practice}}"
    )
}

/// One drain that carries a flow.
fn drain(slope: &str, flow: &str) -> String {
    format!(
        "crownweir: network/1
name: drain
drains: [{{size: 3 in, slope: {slope}, path: [{{fixture: {{name: F, type: continuous_flow, flow: {flow}}}}}, {{pipe: {{name: drain, length: 10 ft}}}}, {{disposal: {{name: sewer}}}}]}}]
"
    )
}

#[track_caller]
fn fact(rules: &RuleSet, text: &str, subject: Subject, element: u32, fact: Fact) -> Got {
    let network = network(text);
    let measured = Measured::new(&network, rules).expect("sizes that are known");
    measured.fact(subject, element, fact)
}

fn velocity(got: Got) -> f64 {
    match got {
        Got::Known(Value::Velocity(velocity)) => velocity.nanometres_per_second() as f64 / 1e9,
        other => panic!("{other:?} is not a velocity"),
    }
}

fn ratio(got: Got) -> f64 {
    match got {
        Got::Known(Value::Ratio(ratio)) => ratio.as_f64(),
        other => panic!("{other:?} is not a ratio"),
    }
}

fn litres(got: Got) -> f64 {
    match got {
        Got::Known(Value::Flow(flow)) => flow.as_litres_per_second_f64(),
        other => panic!("{other:?} is not a flow"),
    }
}

#[track_caller]
fn close(got: f64, expected: f64, within: f64, what: &str) {
    assert!(
        (got - expected).abs() <= within * expected.abs(),
        "{what}: {got} is not {expected}"
    );
}

// tests/reference/manning-reference.csv: rows of the general-purpose library `fluids` 1.3.1, within 0.5 %.
#[test]
fn facts_agree_with_every_half_full_row_of_the_library() {
    let rows = include_str!("../../reference/manning-reference.csv");
    let mut seen = 0;
    for row in rows.lines().filter(|row| !row.starts_with('#')).skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        // id_mm, slope_in_per_ft, manning_n, fill, velocity_m_s, flow_l_s.
        let (bore, slope, roughness, fill) = (cells[3], cells[4], cells[6], cells[7]);
        if fill != "half" || cells[1] != "actual_ID_sch40_D2665" {
            continue;
        }
        // Loading a rule set for each roughness and bore is slow: a spread of them does.
        seen += 1;
        if seen % 7 != 0 {
            continue;
        }
        let rules = with_hydraulics(&manning(&format!("{bore} mm"), roughness));
        let expected = |cell: usize| cells[cell].parse::<f64>().expect("a figure");
        let text = drain(&format!("{slope} in/ft"), &format!("{:.9} L/s", expected(14)));
        let one = |one| fact(&rules, &text, Subject::Drain, 0, one);
        close(litres(one(Fact::DrainCapacityFlow)), expected(14), 0.005, row);
        close(
            velocity(one(Fact::DrainVelocityAtFilling)),
            expected(12),
            0.005,
            row,
        );
        // The inverse: at that flow the drain is half full again.
        close(ratio(one(Fact::DrainDepthRatio)), 0.5, 0.005, row);
        close(velocity(one(Fact::DrainVelocity)), expected(12), 0.005, row);
    }
    assert!(seen >= 100, "only {seen} rows");
}

// hydraulics.md 1.3, part-full sample with n = 0.011 and actual bores: depth to 0.001, velocity to 0.01 ft/s.
#[test]
fn depth_and_velocity_at_a_flow() {
    for (bore, slope, flow, depth, feet) in [
        ("77.927 mm", "1/8 in/ft", "20 gpm", 0.436, 2.07),
        ("77.927 mm", "1/4 in/ft", "20 gpm", 0.361, 2.67),
        ("102.26 mm", "1/8 in/ft", "40 gpm", 0.428, 2.46),
        ("102.26 mm", "1/4 in/ft", "40 gpm", 0.355, 3.17),
        ("154.051 mm", "1/8 in/ft", "100 gpm", 0.389, 3.09),
        ("52.502 mm", "1/4 in/ft", "7.5 gpm", 0.375, 2.09),
    ] {
        let rules = with_hydraulics(&manning(bore, "0.011"));
        let text = drain(slope, flow);
        let depth_ratio = ratio(fact(&rules, &text, Subject::Drain, 0, Fact::DrainDepthRatio));
        assert!(
            (depth_ratio - depth).abs() <= 0.000_6,
            "{bore} {slope} {flow}: {depth_ratio}"
        );
        let moved = velocity(fact(&rules, &text, Subject::Drain, 0, Fact::DrainVelocity)) / FOOT;
        assert!((moved - feet).abs() <= 0.006, "{bore} {slope} {flow}: {moved}");
    }
}

#[test]
fn what_cannot_be_carried_is_absent_and_nothing_flows_at_no_velocity() {
    let rules = with_hydraulics(&manning("77.927 mm", "0.011"));
    let one = |slope: &str, flow: &str, one| fact(&rules, &drain(slope, flow), Subject::Drain, 0, one);
    assert_eq!(one("1/8 in/ft", "1000 gpm", Fact::DrainDepthRatio), Got::Absent);
    assert_eq!(one("1/8 in/ft", "1000 gpm", Fact::DrainVelocity), Got::Absent);
    assert_eq!(one("vertical", "20 gpm", Fact::DrainDepthRatio), Got::Absent);
    assert_eq!(one("vertical", "20 gpm", Fact::DrainCapacityFlow), Got::Absent);
    let nothing = one("1/8 in/ft", "0 gpm", Fact::DrainDepthRatio);
    assert_eq!(nothing, Got::Known(Value::Ratio(Ratio::default())));
    let still = one("1/8 in/ft", "0 gpm", Fact::DrainVelocity);
    assert_eq!(still, Got::Known(Value::Velocity(Velocity::default())));
}

/// A stack of one bore that carries a flow, with a stack vent.
fn stack(flow: &str, vent: &str) -> String {
    format!(
        "crownweir: network/1
name: stack
drains:
  - {{run: stack, kind: stack, size: 4 in, slope: vertical, path: [{{fixture: {{name: F, type: continuous_flow, flow: {flow}}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: T}}}}, {{pipe: {{length: 9 ft}}}}, {{disposal: {{name: sewer}}}}]}}
vents: [{{kind: stack_vent, size: 3 in, slope: vertical, path: [{{at: T}}, {{pipe: {{name: vent, length: {vent}}}}}, {{terminal: {{name: roof}}}}]}}]
"
    )
}

// WE-36: q = 27.8 r^(5/3) d^(8/3) at r = 7/24 for d = 2, 3, 4 and 6 in; the figures are rounded to tenths.
#[test]
fn terminal_flow_of_a_stack_and_its_fraction() {
    for (bore, gallons) in [("2 in", 22.6), ("3 in", 66.8), ("4 in", 143.8), ("6 in", 423.9)] {
        let rules = with_hydraulics(&manning(bore, "0.011"));
        let text = stack(&format!("{} gpm", gallons / 2.0), "10 ft");
        let terminal = litres(fact(&rules, &text, Subject::Stack, 0, Fact::StackTerminalFlow));
        let terminal = terminal / 1000.0 / GPM;
        assert!((terminal - gallons).abs() <= 0.05, "{bore}: {terminal}");
        let fraction = ratio(fact(
            &rules,
            &text,
            Subject::Stack,
            0,
            Fact::StackTerminalFraction,
        ));
        close(fraction, 0.5, 0.003, bore);
    }
}

// hydraulics.md 3: a 4 in stack 7/24 full moves 349 gpm of air; with f = 0.03 it loses 1 in of water over 148 ft of
// 3 in vent and over 625 ft of 4 in vent, and 200 gpm over 59 ft of 2 in vent. The lengths are rounded to feet.
#[test]
fn air_lost_in_a_vent() {
    let air = air_drawn(
        stack_capacity(4.0 * INCH, 7.0 / 24.0).expect("a flow"),
        7.0 / 24.0,
    )
    .expect("air");
    close(air / GPM, 349.0, 0.002, "air");
    for (feet, inches, air) in [(148.0, 3.0, air), (625.0, 4.0, air), (59.0, 2.0, 200.0 * GPM)] {
        let head = vent_air_loss(feet * FOOT, inches * INCH, 0.03, air).expect("a head");
        close(head, INCH, 0.01, "head");
    }
    // The rule set's bore holds for every pipe of it: a 4 in vent on a 4 in stack.
    let rules = with_hydraulics(&manning("4 in", "0.011"));
    let text = stack("143.8 gpm", "625 ft");
    let network = network(&text);
    let measured = Measured::new(&network, &rules).expect("sizes that are known");
    let vent = network.pipe_named("vent").expect("the vent");
    let vent = u32::try_from(vent.index()).expect("a number");
    match measured.fact(Subject::Vent, vent, Fact::VentAirLoss) {
        Got::Known(Value::Length(head)) => close(head.as_metres_f64(), INCH, 0.01, "head"),
        other => panic!("{other:?}"),
    }
    // 0.075 lb of air in a cubic foot against 62.4 lb of water: 69.3 ft of air to an inch of water.
    close(1000.0 * 9.806_65 / AIR_WEIGHT * INCH / FOOT, 69.3, 0.001, "air");
}

#[test]
fn a_sheet_is_found_from_its_flow() {
    for sheet in [0.05, 0.25, 7.0 / 24.0, 1.0 / 3.0, 1.0] {
        let flow = stack_capacity(0.1, sheet).expect("a flow");
        close(
            sheet_fraction_at_flow(0.1, flow).expect("a sheet"),
            sheet,
            1e-9,
            "sheet",
        );
    }
    assert!(sheet_fraction_at_flow(0.1, 1.0).is_err());
    assert!(sheet_fraction_at_flow(0.1, f64::NAN).is_err());
    assert!(air_drawn(0.01, 1.0).is_err(), "no room is left for air");
    assert!(vent_air_loss(0.0, 0.1, 0.03, 0.01).is_err());
}

/// Without a load model or hydraulics nothing is assumed: the facts are open and say what the rule set lacks.
#[test]
fn rule_sets_that_say_nothing_of_flows_leave_them_open() {
    let rules = rules("ipc-2021");
    let text = drain("1/8 in/ft", "20 gpm");
    for (one, lacks) in [
        (Fact::DrainProbableFlow, "probable_flow"),
        (Fact::DrainDepthRatio, "hydraulics"),
        (Fact::DrainVelocity, "hydraulics"),
        (Fact::DrainCapacityFlow, "hydraulics"),
        (Fact::DrainVelocityAtFilling, "hydraulics"),
    ] {
        match fact(&rules, &text, Subject::Drain, 0, one) {
            Got::Missing(Gap::NotInRuleSet { datum }) => assert!(datum.contains(lacks), "{datum}"),
            other => panic!("{}: {other:?}", one.name()),
        }
    }
    // And without a filling degree only what hangs on it.
    let bare = manning("77.927 mm", "0.011").replace("  filling: 50 %\n", "");
    let rules = with_hydraulics(&bare);
    match fact(&rules, &text, Subject::Drain, 0, Fact::DrainCapacityFlow) {
        Got::Missing(Gap::NotInRuleSet { datum }) => assert!(datum.contains("filling"), "{datum}"),
        other => panic!("{other:?}"),
    }
    ratio(fact(&rules, &text, Subject::Drain, 0, Fact::DrainDepthRatio));
}

/// A sum of fixture units with a curve read from a table, as a rule set may give one.
/// Flows that count in full add up down a drain; of those that are not stated the nearest to the top is asked for.
#[test]
fn a_flow_that_is_not_stated_is_asked_for_by_its_fixture() {
    let missing = |flows: [&str; 3]| -> Vec<String> {
        let network = network(&format!(
            "crownweir: network/1
name: n
units: millimetres
site: {{use: dwelling, system_type: I}}
drains:
  - {{size: DN 100, slope: 2 %, path: [{{fixture: {{name: a, type: continuous_flow{}}}}}, {{pipe: {{length: 1 m}}}}, {{fitting: {{name: J}}}}, {{pipe: {{name: down, length: 1 m}}}}, {{fitting: {{name: K}}}}, {{pipe: {{name: out, length: 1 m}}}}, {{disposal: {{name: sewer}}}}]}}
  - {{size: DN 100, slope: 2 %, path: [{{fixture: {{name: b, type: continuous_flow{}}}}}, {{pipe: {{length: 1 m}}}}, {{at: J}}]}}
  - {{size: DN 100, slope: 2 %, path: [{{fixture: {{name: c, type: continuous_flow{}}}}}, {{pipe: {{length: 1 m}}}}, {{at: K}}]}}
",
            flows[0], flows[1], flows[2]
        ));
        let rules = rules("en-12056-2");
        let measured = Measured::new(&network, &rules).expect("known sizes");
        let mut drains = measured.elements(Subject::Drain).into_iter();
        let out = drains.find(|&drain| measured.name_of(Subject::Drain, drain) == "out");
        match measured.fact(Subject::Drain, out.expect("a drain"), Fact::DrainProbableFlow) {
            Got::Known(Value::Flow(flow)) => vec![flow.to_string()],
            Got::Missing(Gap::NotStated {
                datum,
                element: crownweir::Element::Node(node),
            }) => {
                vec![datum.to_owned(), measured.name_of(Subject::Fixture, node)]
            }
            other => panic!("{other:?}"),
        }
    };
    let stated = ", flow: 1 L/s";
    // Three times 60 L/min.
    assert_eq!(missing([stated; 3]), ["180 L/min"]);
    for (place, name) in [(0, "a"), (1, "b"), (2, "c")] {
        let mut flows = [stated; 3];
        flows[place] = "";
        assert_eq!(missing(flows), ["flow", name]);
    }
}

#[test]
fn a_summed_load_may_have_a_curve() {
    let text = crownweir::published::text("ipc-2021").expect("the rule set");
    let curve = "tables:
  probable-flows:
    title: Probable flow of a sum of loads
    cite: {basis: common_practice}
    keys: [{name: load, of: load, match: up_to, unit: dfu}]
    columns: [{name: flow, of: flow, unit: gpm}]
    rows:
      - [10, 14.6]
      - [20, 19.6]
";
    let text = text.replacen("tables:\n", curve, 1).replacen(
        "loads:\n",
        "loads:\n  model: sum\n  probable_flow: {table: probable-flows, column: flow, keys: {load: drain.load}}\n",
        1,
    );
    let rules = RuleSet::read("own", text.as_bytes(), &Limits::default()).expect("a rule set");
    let of = |load: &str| {
        let text = drain("1/8 in/ft", "1 gpm").replace(
            "type: continuous_flow, flow: 1 gpm",
            &format!("type: connected_load, load: {load}"),
        );
        (
            fact(&rules, &text, Subject::Drain, 0, Fact::DrainProbableFlow),
            fact(&rules, &text, Subject::System, 0, Fact::SystemProbableFlow),
        )
    };
    let flow = |text: &str| Got::Known(Value::Flow(text.parse::<Flow>().expect("a flow")));
    assert_eq!(of("10 dfu"), (flow("14.6 gpm"), flow("14.6 gpm")));
    assert_eq!(of("11 dfu"), (flow("19.6 gpm"), flow("19.6 gpm")));
    assert!(matches!(of("21 dfu").0, Got::Missing(Gap::NoRow { .. })));
}

#[track_caller]
fn refused(from: &str, to: &str, said: &str) {
    let text = crownweir::published::text("en-12056-2").expect("the rule set");
    assert!(text.contains(from), "{from}");
    let text = text.replacen(from, to, 1);
    let error = RuleSet::read("own", text.as_bytes(), &Limits::default())
        .expect_err(to)
        .to_string();
    assert!(error.contains(said), "{error}\ndoes not say: {said}");
}

#[test]
fn models_that_make_no_sense_are_refused() {
    refused(
        "  model: root_sum\n",
        "  model: sum\n",
        "goes with `model: root_sum`",
    );
    refused("  unit_flow: 1 L/s\n", "", "not a flow yet");
    refused(
        "  unit_flow: 1 L/s\n",
        "  unit_flow: 0 L/s\n",
        "a flow of nothing",
    );
    refused("  unit: DU\n", "  unit: stone\n", "not a unit of load");
    refused("  unit: DU\n", "", "not in the rule set's unit of load");
    refused(
        "  formula: colebrook_white\n",
        "  formula: manning\n",
        "`viscosity` goes with `formula: colebrook_white`",
    );
    refused("  viscosity: 1.31 mm2/s\n", "", "`viscosity` goes with");
    refused(
        "      flow: fixture.flow\n",
        "      flow: fixture.flow\n      load: 1 DU\n",
        "gives one both ways",
    );
    refused(
        "      flow: fixture.flow\n",
        "      flow: system.probable_flow\n",
        "is reckoned from this",
    );
    refused(
        "    - when: {fixture.type: continuous_flow}\n",
        "    - when: {system.probable_flow: {at_least: 1 L/s}}\n",
        "is reckoned from this",
    );
    refused("  roughness: 1 mm\n", "  roughness: 0.011\n", "length");
}

proptest! {
    /// The root is found between empty and the deepest fill, and leads back to the flow.
    #[test]
    fn a_depth_leads_back_to_its_flow(bore in 0.02_f64..0.6, slope in 0.001_f64..0.2, depth in 0.02_f64..0.93, rough in 0.008_f64..0.02) {
        for resistance in [
            Resistance::Manning { roughness: rough },
            Resistance::ColebrookWhite { wall_roughness: rough / 10.0, kinematic_viscosity: 1.31e-6 },
        ] {
            let Ok(flow) = resistance.flow(bore, slope, depth) else { continue };
            match resistance.depth_ratio_at_flow(bore, slope, flow) {
                Ok(found) => prop_assert!((found - depth).abs() < 1e-6, "{found}"),
                // In a very rough bore the flow is greatest a little short of the deepest fill, and more than there.
                Err(HydraulicsError::ExceedsCapacity { capacity }) => {
                    prop_assert!(depth > 0.9 && flow > capacity && flow < 1.001 * capacity, "{flow} {capacity}");
                }
                Err(other) => prop_assert!(false, "{other}"),
            }
        }
    }

    /// More load never gives less flow, and no figures make it panic.
    #[test]
    fn more_load_never_flows_less(one in 0_u32..2_000_000, more in 0_u32..2_000_000) {
        let rules = rules("en-12056-2");
        let flow = |thousandths: u32| {
            let text = format!(
                "crownweir: network/1
name: drain
site: {{system_type: I, use: dwelling}}
drains: [{{size: DN 100, slope: 2 %, path: [{{fixture: {{name: F, type: connected_load, load: {}.{:03} DU}}}}, {{pipe: {{name: drain, length: 3 m}}}}, {{disposal: {{name: sewer}}}}]}}]
", thousandths / 1000, thousandths % 1000);
            litres(fact(&rules, &text, Subject::Drain, 0, Fact::DrainProbableFlow))
        };
        prop_assert!(flow(one) <= flow(one + more));
        // And Q = 0.5 sqrt(DU), rounded to the quantity's smallest unit.
        let expected = 0.5 * (f64::from(one) / 1000.0).sqrt();
        prop_assert!((flow(one) - expected).abs() < 1e-9);
    }
}

#[test]
fn a_check_with_flows_is_deterministic_and_can_be_shared() {
    fn shared<T: Send + Sync>(_: &T) {}
    let rules = rules("en-12056-2");
    let network = network(&crownweir_tests::network_text("larch-terrace-en.yaml"));
    let measured = Measured::new(&network, &rules).expect("sizes that are known");
    shared(&measured);
    let one = check(&network, &rules).expect("a report");
    let other = check(&network, &rules).expect("a report");
    assert_eq!(format!("{one:?}"), format!("{other:?}"));
}
