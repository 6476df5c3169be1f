//! What the audit and the loader prove of conditions, against a model that simply tries every value.
//!
//! The model shares nothing with the reasoning: it has its own conditions and its own idea of when they hold.

use std::fmt::Write as _;

use crownweir::{Limits, MemoryCells, RemarkKind, RuleSet, audit};
use proptest::prelude::*;

/// The rule set around the rules that are made up: four sizes, one table.
const BASE: &str = r#"crownweir: ruleset/1
name: gull-lane
title: Rules of an invented town
document: Gull Lane
edition: "1"
revision: 1
sizes:
  - {size: 2 in, diameter: 2 in}
  - {size: 3 in, diameter: 3 in}
  - {size: 4 in, diameter: 4 in}
  - {size: 6 in, diameter: 6 in}
definitions:
  vertical: {most_from_vertical: 45 deg, cite: {basis: common_practice}}
  branch_interval: {counted_by: storey, cite: {basis: common_practice}}
  bathroom_group: {needs: [[lavatory]], cite: {basis: common_practice}}
  trap_arm: {measured_from: trap_weir, cite: {basis: common_practice}}
  vent_length: {measured_to: open_air, cite: {basis: common_practice}}
loads: {fixture: []}
tables:
  least:
    title: The least size of a drain
    cite: {basis: common_practice}
    keys: [{name: kind, of: pipe.kind, match: exact}]
    columns: [{name: size, of: size}]
    rows: [[branch, 3 in], [stack, none], [building_drain, unlimited]]
  most:
    title: The most fixtures on a drain
    cite: {basis: common_practice}
    keys: [{name: size, of: size, match: from}]
    columns: [{name: count, of: count}]
    rows: [[3 in, 2], [4 in, 5]]
protection: {rule: protected, title: Protected, cite: {basis: common_practice}, message: not protected}
arrangements: []
rules:
"#;

const SIZES: [&str; 4] = ["2 in", "3 in", "4 in", "6 in"];
/// Those that drains are of; no condition names the last.
const KINDS: [&str; 4] = ["branch", "stack", "building_drain", "building_sewer"];

/// One value for each fact; none where there is no such thing.
#[derive(Debug, Clone, Copy)]
struct Drain {
    /// Places in `SIZES`.
    size: Option<usize>,
    inlet: Option<usize>,
    /// A place in `KINDS`.
    kind: Option<usize>,
    fixtures: Option<i64>,
}

fn every_drain() -> Vec<Drain> {
    let sizes: Vec<Option<usize>> = std::iter::once(None).chain((0..SIZES.len()).map(Some)).collect();
    let kinds: Vec<Option<usize>> = std::iter::once(None).chain((0..KINDS.len()).map(Some)).collect();
    // Every count that is written anywhere lies well below the last.
    let counts: Vec<Option<i64>> = std::iter::once(None).chain((0..=9).map(Some)).collect();
    let mut drains = Vec::new();
    for size in &sizes {
        for inlet in &sizes {
            for kind in &kinds {
                drains.extend(counts.iter().map(|fixtures| Drain {
                    size: *size,
                    inlet: *inlet,
                    kind: *kind,
                    fixtures: *fixtures,
                }));
            }
        }
    }
    drains
}

/// Holds, fails, or stays open for want of a row.
type Outcome = Option<bool>;

#[derive(Debug, Clone)]
enum Made {
    All(Vec<Made>),
    Any(Vec<Made>),
    Not(Box<Made>),
    Size(Order, usize),
    Fixtures(Order, i64),
    KindIn(Vec<usize>, bool),
    InletPresent(bool),
    SizeOfInlet(Order),
    SizeByKind(Order),
    FixturesBySize(Order),
}

#[derive(Debug, Clone, Copy)]
enum Order {
    AtLeast,
    AtMost,
    MoreThan,
    LessThan,
    Is,
}

impl Order {
    fn word(self) -> &'static str {
        match self {
            Self::AtLeast => "at_least",
            Self::AtMost => "at_most",
            Self::MoreThan => "more_than",
            Self::LessThan => "less_than",
            Self::Is => "is",
        }
    }

    fn holds<T: PartialOrd>(self, one: T, other: T) -> bool {
        match self {
            Self::AtLeast => one >= other,
            Self::AtMost => one <= other,
            Self::MoreThan => one > other,
            Self::LessThan => one < other,
            Self::Is => one == other,
        }
    }
}

impl Made {
    fn written(&self) -> String {
        let list = |parts: &[Self]| {
            let parts: Vec<_> = parts.iter().map(Self::written).collect();
            parts.join(", ")
        };
        match self {
            Self::All(parts) => format!("{{all: [{}]}}", list(parts)),
            Self::Any(parts) => format!("{{any: [{}]}}", list(parts)),
            Self::Not(part) => format!("{{not: {}}}", part.written()),
            Self::Size(order, size) => format!("{{pipe.size: {{{}: {}}}}}", order.word(), SIZES[*size]),
            Self::Fixtures(order, count) => format!("{{drain.fixtures: {{{}: {count}}}}}", order.word()),
            Self::KindIn(kinds, wanted) => {
                let kinds: Vec<_> = kinds.iter().map(|kind| KINDS[*kind]).collect();
                let how = if *wanted { "one_of" } else { "none_of" };
                format!("{{pipe.kind: {{{how}: [{}]}}}}", kinds.join(", "))
            }
            Self::InletPresent(wanted) => format!("{{drain.largest_inlet_size: {{present: {wanted}}}}}"),
            Self::SizeOfInlet(order) => {
                format!(
                    "{{pipe.size: {{{}: {{fact: drain.largest_inlet_size}}}}}}",
                    order.word()
                )
            }
            Self::SizeByKind(order) => format!(
                "{{pipe.size: {{{}: {{table: least, keys: {{kind: pipe.kind}}}}}}}}",
                order.word()
            ),
            Self::FixturesBySize(order) => format!(
                "{{drain.fixtures: {{{}: {{table: most, keys: {{size: pipe.size}}}}}}}}",
                order.word()
            ),
        }
    }

    fn of(&self, drain: Drain) -> Outcome {
        match self {
            Self::All(parts) => {
                let outcomes: Vec<_> = parts.iter().map(|part| part.of(drain)).collect();
                if outcomes.contains(&Some(false)) {
                    return Some(false);
                }
                (!outcomes.contains(&None)).then_some(true)
            }
            Self::Any(parts) => {
                let outcomes: Vec<_> = parts.iter().map(|part| part.of(drain)).collect();
                if outcomes.contains(&Some(true)) {
                    return Some(true);
                }
                (!outcomes.contains(&None)).then_some(false)
            }
            Self::Not(part) => part.of(drain).map(|holds| !holds),
            Self::Size(order, limit) => Some(drain.size.is_some_and(|size| order.holds(size, *limit))),
            Self::Fixtures(order, limit) => {
                Some(drain.fixtures.is_some_and(|count| order.holds(count, *limit)))
            }
            Self::KindIn(kinds, wanted) => {
                Some(drain.kind.is_some_and(|kind| kinds.contains(&kind) == *wanted))
            }
            Self::InletPresent(wanted) => Some(drain.inlet.is_some() == *wanted),
            Self::SizeOfInlet(order) => {
                let both = drain.size.zip(drain.inlet);
                Some(both.is_some_and(|(size, inlet)| order.holds(size, inlet)))
            }
            Self::SizeByKind(order) => {
                let Some((size, kind)) = drain.size.zip(drain.kind) else {
                    return Some(false);
                };
                match KINDS[kind] {
                    "branch" => Some(order.holds(size, 1)),
                    "stack" => Some(false),
                    "building_drain" => Some(matches!(order, Order::AtMost | Order::LessThan)),
                    _ => None,
                }
            }
            Self::FixturesBySize(order) => {
                let Some((count, size)) = drain.fixtures.zip(drain.size) else {
                    return Some(false);
                };
                match size {
                    0 => None,
                    1 => Some(order.holds(count, 2)),
                    _ => Some(order.holds(count, 5)),
                }
            }
        }
    }
}

fn order() -> impl Strategy<Value = Order> {
    prop_oneof![
        Just(Order::AtLeast),
        Just(Order::AtMost),
        Just(Order::MoreThan),
        Just(Order::LessThan),
        Just(Order::Is),
    ]
}

fn condition() -> impl Strategy<Value = Made> {
    let test = prop_oneof![
        (order(), 0..SIZES.len()).prop_map(|(order, size)| Made::Size(order, size)),
        (order(), 0..7_i64).prop_map(|(order, count)| Made::Fixtures(order, count)),
        (prop::collection::vec(0..KINDS.len() - 1, 1..3), any::<bool>())
            .prop_map(|(kinds, wanted)| Made::KindIn(kinds, wanted)),
        any::<bool>().prop_map(Made::InletPresent),
        order().prop_map(Made::SizeOfInlet),
        order().prop_map(Made::SizeByKind),
        order().prop_map(Made::FixturesBySize),
    ];
    test.prop_recursive(3, 12, 4, |inner| {
        prop_oneof![
            3 => prop::collection::vec(inner.clone(), 1..5).prop_map(Made::All),
            1 => prop::collection::vec(inner.clone(), 1..4).prop_map(Made::Any),
            1 => inner.prop_map(|part| Made::Not(Box::new(part))),
        ]
    })
}

fn rules(made: &[(&Made, Option<&Made>)]) -> Result<RuleSet, String> {
    let mut text = BASE.to_owned();
    for (index, (when, require)) in made.iter().enumerate() {
        let _ = writeln!(
            text,
            "  - rule: rule-{index}\n    title: Made up\n    subject: drain"
        );
        let _ = writeln!(text, "    when: {}", when.written());
        let _ = match require {
            Some(require) => writeln!(text, "    require: {}\n    severity: advice", require.written()),
            None => writeln!(text, "    confirm_on_site: true"),
        };
        let _ = writeln!(text, "    cite: {{basis: common_practice}}\n    message: made up");
    }
    RuleSet::read("gull-lane.yaml", text.as_bytes(), &Limits::default())
        .map_err(|problems| problems.to_string())
}

fn remarks(rules: &RuleSet, kind: RemarkKind) -> Vec<String> {
    let all = audit(rules, MemoryCells::Counted).into_iter();
    all.filter(|remark| remark.kind == kind)
        .map(|remark| remark.message)
        .collect()
}

fn exists(with: impl Fn(Drain) -> bool) -> bool {
    every_drain().into_iter().any(with)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn a_when_is_refused_exactly_if_nothing_meets_it(when in condition()) {
        let can_hold = exists(|drain| when.of(drain) == Some(true));
        match rules(&[(&when, None)]) {
            Ok(_) => prop_assert!(can_hold, "let pass: {}", when.written()),
            Err(said) => {
                prop_assert!(said.contains("can never hold"), "{said}");
                prop_assert!(!can_hold, "refused: {}: {said}", when.written());
            }
        }
    }

    #[test]
    fn a_rule_is_told_of_exactly_if_nothing_meets_it(when in condition(), require in condition()) {
        let Ok(read) = rules(&[(&when, Some(&require))]) else { return Ok(()) };
        let can_be_met = exists(|drain| when.of(drain) == Some(true) && require.of(drain) == Some(true));
        let found = remarks(&read, RemarkKind::NeverMet);
        prop_assert_eq!(found.is_empty(), can_be_met, "{} / {}: {:?}", when.written(), require.written(), found);
        let can_be_broken = exists(|drain| when.of(drain) == Some(true) && require.of(drain) != Some(true));
        let found = remarks(&read, RemarkKind::AlwaysMet);
        // Absence may break a rule that no value breaks, and is then not held against it.
        let is_whole = |drain: Drain| drain.size.is_some() && drain.inlet.is_some() && drain.kind.is_some() && drain.fixtures.is_some();
        let broken_whole = exists(|drain| is_whole(drain) && when.of(drain) == Some(true) && require.of(drain) != Some(true));
        prop_assert!(!broken_whole || found.is_empty(), "{} / {}", when.written(), require.written());
        prop_assert!(can_be_broken || !found.is_empty() || !can_be_met, "{} / {}", when.written(), require.written());
    }

    #[test]
    fn rules_told_of_as_denying_each_other_do(
        (when, require) in (condition(), condition()),
        (other_when, other_require) in (condition(), condition()),
    ) {
        let Ok(read) = rules(&[(&when, Some(&require)), (&other_when, Some(&other_require))]) else { return Ok(()) };
        let found = remarks(&read, RemarkKind::Contradiction);
        let both_apply = |drain| when.of(drain) == Some(true) && other_when.of(drain) == Some(true);
        let (one, other) = (|drain| require.of(drain) == Some(true), |drain| other_require.of(drain) == Some(true));
        let deny = exists(|drain| both_apply(drain) && one(drain))
            && exists(|drain| both_apply(drain) && other(drain))
            && !exists(|drain| both_apply(drain) && one(drain) && other(drain));
        let always = found.iter().any(|message| !message.contains("never both hold where"));
        prop_assert!(!always || deny, "{found:?}");
        // Requirements that share no fact are not looked into.
        let facts = ["pipe.size", "pipe.kind", "drain.fixtures", "drain.largest_inlet_size"];
        let shared = facts.iter().any(|fact| require.written().contains(fact) && other_require.written().contains(fact));
        prop_assert!(always || !deny || !shared, "{} / {} and {} / {}", when.written(), require.written(), other_when.written(), other_require.written());
    }
}
