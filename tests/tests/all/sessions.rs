//! A session always tells what a check of its network by its rules tells, to the last letter, whatever was edited.

mod begun;
mod structure;
mod undo;
mod whole;

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, LazyLock};

use crate::codes::CODES;
use crownweir::network::{Cleanout, Run, Terminal, Valve};
use crownweir::quantity::Angle;
use crownweir::rulebook::{Condition, Message};
use crownweir::vocabulary::{
    FittingPattern, FixtureType, Inlet, Material, Occupancy, Role, RunKind, TrapKind,
};
use crownweir::{
    Content, Difference, Edit, Finding, Fixture, Limits, MOST_OF_A_RULE, Network, Node, NodeKind,
    NodeProperty, Pipe, PipeProperty, Refused, RuleSet, RunId, Session, Size, Substitute, Value, check,
    published,
};
use crownweir_tests::{examples, network, rules};
use proptest::prelude::*;
use proptest::sample::Index;

/// Every demo network, towers, stacks that are written from a fixture on, and vents that serve drains in common.
pub static NETWORKS: LazyLock<Vec<Network>> = LazyLock::new(|| {
    let folder = format!("{}/networks", env!("CARGO_MANIFEST_DIR"));
    let entries = std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{folder}: {error}"));
    let mut paths: Vec<_> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    paths.sort();
    let read = |name: &str, text: &[u8]| {
        Network::read(name, text, &Limits::default()).unwrap_or_else(|problems| panic!("{problems}"))
    };
    let demos = paths.iter().map(|path| {
        let text = std::fs::read(path).unwrap_or_else(|error| panic!("{error}"));
        read(&path.display().to_string(), &text)
    });
    let towers = [1, 2, 4, 12].map(|storeys| read("tower", crownweir_benches::tower(storeys).as_bytes()));
    let mains = include_bytes!("../../oracle/kept/stacks-from-fixtures.yaml");
    let vents = include_bytes!("../../oracle/kept/two-wet-vents-on-a-stack.yaml");
    let kept = [read("mains", mains), read("vents", vents)];
    demos.chain(towers).chain(kept).collect()
});

/// The networks of the published codes' worked examples: small, and of every shape that a rule speaks of.
pub static EXAMPLES: LazyLock<Vec<Network>> = LazyLock::new(|| {
    let all = published::names().flat_map(examples);
    let cases = all.flat_map(|example| example.cases);
    cases.map(|case| case.network().clone()).collect()
});

/// Every published code, and those for framing.
pub static RULES: LazyLock<Vec<RuleSet>> = LazyLock::new(|| {
    let codes = CODES.iter().map(|code| code.rules.clone());
    codes
        .chain(["framing-irc-2021", "framing-nbc-2020"].map(rules))
        .collect()
});

/// The steps from which on parts of the network come and go.
const STRUCTURE: u8 = 29;

/// One step: what is edited, of which element, and to what.
pub type Step = (u8, Index, Index, Index);

const SIZES: [&str; 8] = [
    "1-1/4 in", "1-1/2 in", "2 in", "3 in", "4 in", "DN 50", "DN 70", "DN 100",
];
const LENGTHS: [&str; 7] = ["1 in", "10 in", "3 ft", "9 ft", "700 mm", "4 m", "60 ft"];
const SLOPES: [&str; 7] = [
    "vertical",
    "1/16 in/ft",
    "1/8 in/ft",
    "1/4 in/ft",
    "1/2 in/ft",
    "45 deg",
    "2 %",
];
const PATTERNS: [FittingPattern; 6] = [
    FittingPattern::Tee,
    FittingPattern::SanitaryTee,
    FittingPattern::Wye,
    FittingPattern::LongSweep,
    FittingPattern::QuarterBend,
    FittingPattern::RunningTrap,
];

/// One of some values, or that it is not stated.
fn one<T: std::str::FromStr>(from: &[&str], at: Index) -> Option<T> {
    match at.index(from.len() + 1) {
        0 => None,
        at => from.get(at - 1)?.parse().ok(),
    }
}

fn some_pipe(network: &Network, at: Index) -> (String, Pipe) {
    let graph = network.graph();
    let mut pipes = graph.edge_weights();
    let pipe = pipes.nth(at.index(graph.edge_count())).expect("a pipe").clone();
    (pipe.name.to_string(), pipe)
}

fn some_node(network: &Network, at: Index) -> Node {
    let graph = network.graph();
    let mut nodes = graph.node_weights();
    nodes.nth(at.index(graph.node_count())).expect("a node").clone()
}

fn pipe_property(kind: u8, value: Index) -> PipeProperty {
    let truth = value.index(2) == 0;
    let maybe = [None, Some(true), Some(false)][value.index(3)];
    match kind {
        0 | 1 => PipeProperty::Size(one(&SIZES, value)),
        2 | 3 => PipeProperty::Length(one(&LENGTHS, value)),
        4 | 5 => PipeProperty::Slope(one(&SLOPES, value)),
        6 => PipeProperty::Material([None, Some(Material::Pvc), Some(Material::CastIron)][value.index(3)]),
        7 => PipeProperty::SupportSpacing(one(&LENGTHS, value)),
        8 => PipeProperty::MidStoreyGuide(maybe),
        9 => PipeProperty::Underground(truth),
        _ => PipeProperty::Enters(if truth { Inlet::Run } else { Inlet::Branch }),
    }
}

/// The same kind of thing with one property otherwise.
fn altered(kind: &NodeKind, what: Index, value: Index) -> NodeKind {
    let maybe = [None, Some(true), Some(false)][value.index(3)];
    match kind {
        NodeKind::Fixture(fixture) => {
            let mut fixture = (**fixture).clone();
            match what.index(9) {
                0 | 1 => {
                    let all = FixtureType::ALL;
                    fixture.fixture_type = all[value.index(all.len())];
                }
                2 | 3 => fixture.trap.size = one(&SIZES, value),
                4 => fixture.trap.removable = [None, Some(false), Some(true)][value.index(3)],
                5 => fixture.rim_height = one(&LENGTHS, value),
                6 => fixture.trap.kind = [None, Some(TrapKind::P), Some(TrapKind::S)][value.index(3)],
                7 => fixture.flush_volume = one(&["1.6 gal", "6 L", "9 L"], value),
                _ => fixture.load = one(&["3 dfu", "2 DU"], value),
            }
            NodeKind::Fixture(Arc::new(fixture))
        }
        NodeKind::Fitting { .. } => NodeKind::Fitting {
            pattern: PATTERNS.get(value.index(PATTERNS.len() + 1)).copied(),
        },
        NodeKind::Cleanout(cleanout) => NodeKind::Cleanout(Box::new(Cleanout {
            size: one(&SIZES, value),
            accessible: maybe,
            ..(**cleanout).clone()
        })),
        NodeKind::Terminal(terminal) => NodeKind::Terminal(Box::new(Terminal {
            height_above_roof: one(&LENGTHS, value),
            ..(**terminal).clone()
        })),
        NodeKind::Valve(valve) => NodeKind::Valve(Box::new(Valve {
            accessible: maybe,
            height_above_drain: one(&LENGTHS, value),
            ..(**valve).clone()
        })),
        NodeKind::Disposal => NodeKind::Disposal,
    }
}

fn fixture(name: &str, kind: FixtureType) -> Node {
    let mut fixture = Fixture::new(kind);
    fixture.trap.size = "1-1/2 in".parse().ok();
    Node::new(name, fixture)
}

/// Edits of one step: of properties, or of what there is.
pub fn edits(network: &Network, step: &Step, count: usize) -> Vec<Edit> {
    let (kind, element, what, value) = step;
    if *kind >= STRUCTURE {
        return structure::edits(network, kind - STRUCTURE, (*element, *what, *value), count);
    }
    match kind % 24 {
        kind @ 0..=10 => {
            let (pipe, _) = some_pipe(network, *element);
            let set = pipe_property(kind, *value);
            vec![Edit::Pipe { pipe, set }]
        }
        11..=16 => {
            let node = some_node(network, *element);
            let set = NodeProperty::Stands(altered(&node.kind, *what, *value));
            let node = node.name.to_string();
            vec![Edit::Node { node, set }]
        }
        17 => {
            let storeys = network.storeys().len() + 1;
            let storey = u32::try_from(value.index(storeys)).ok();
            let set = NodeProperty::Storey(storey.filter(|&storey| storey as usize + 1 < storeys));
            let node = some_node(network, *element).name.to_string();
            vec![Edit::Node { node, set }]
        }
        18 => {
            let node = some_node(network, *element);
            let moved = node.elevation.zip(one(&LENGTHS, *value));
            let height = moved.and_then(|(height, by)| height.checked_sub(by));
            let set = NodeProperty::Elevation(height);
            vec![Edit::Node {
                node: node.name.to_string(),
                set,
            }]
        }
        // A fitting in the middle of a pipe.
        19 => {
            let (name, pipe) = some_pipe(network, *element);
            let id = network.pipe_named(&name).expect("the pipe");
            let (from, to) = network.graph().edge_endpoints(id).expect("its ends");
            let [from, to] = [from, to].map(|id| network.graph()[id].name.to_string());
            let fitting = format!("added fitting {count}");
            let node = Node {
                name: fitting.as_str().into(),
                kind: NodeKind::Fitting {
                    pattern: Some(FittingPattern::Coupling),
                },
                ..some_node(network, *what)
            };
            let upper = Pipe {
                name: format!("added pipe {count}").into(),
                enters: Inlet::Run,
                ..pipe.clone()
            };
            let lower = Pipe {
                length: one(&LENGTHS, *value),
                ..pipe
            };
            vec![
                Edit::RemovePipe(name),
                Edit::AddNode(Node {
                    elevation: None,
                    ..node
                }),
                Edit::AddPipe {
                    from,
                    to: fitting.clone(),
                    pipe: Box::new(upper),
                },
                Edit::AddPipe {
                    from: fitting,
                    to,
                    pipe: Box::new(lower),
                },
            ]
        }
        // A fixture more, on a drain of its own.
        20 => {
            let to = some_node(network, *element).name.to_string();
            let name = format!("added fixture {count}");
            let kinds = [
                FixtureType::Lavatory,
                FixtureType::WaterCloset,
                FixtureType::FloorDrain,
            ];
            let node = Node {
                name: name.as_str().into(),
                ..fixture("added", kinds[what.index(3)])
            };
            let run = network.next_run();
            let (_, like) = some_pipe(network, *value);
            let pipe = Pipe {
                name: format!("added drain {count}").into(),
                role: Role::Drain,
                run,
                enters: Inlet::Branch,
                ..like
            };
            vec![
                Edit::AddRun(Run {
                    name: name.as_str().into(),
                    kind: RunKind::Branch,
                }),
                Edit::AddNode(node),
                Edit::AddPipe {
                    from: name,
                    to,
                    pipe: Box::new(pipe),
                },
            ]
        }
        21 => {
            let node = some_node(network, *element);
            vec![Edit::RemoveNode(node.name.to_string())]
        }
        22 => {
            let (pipe, _) = some_pipe(network, *element);
            vec![Edit::RemovePipe(pipe)]
        }
        _ => {
            let runs: Vec<RunId> = network.runs().map(|(id, _)| id).collect();
            let run = runs[element.index(runs.len())];
            let kinds = [
                RunKind::Branch,
                RunKind::Stack,
                RunKind::BranchVent,
                RunKind::StackVent,
                RunKind::VentStack,
            ];
            let kind = kinds[value.index(kinds.len())];
            vec![Edit::RunKind { run, kind }]
        }
    }
}

/// A cell of some table, and what stands in another cell of its column.
fn some_cell(rules: &RuleSet, step: &Step) -> Option<((usize, usize, usize), Content)> {
    let (_, table, row, other) = step;
    let at = table.index(rules.tables.len().max(1));
    let own = rules.tables.get(at)?;
    let column = table.index(own.columns().len().max(1));
    let row = row.index(own.rows().len().max(1));
    let content = own
        .rows()
        .get(other.index(own.rows().len().max(1)))?
        .cells
        .get(column)?
        .content;
    Some(((at, row, column), content))
}

/// What stands in some cell of any table: mostly nothing that another table's column could hold.
fn stray_content(rules: &RuleSet, (_, row, _, table): &Step) -> Content {
    let table = &rules.tables[table.index(rules.tables.len())];
    table.rows()[row.index(table.rows().len())].cells[0].content
}

/// Another rule set: of another code, or this one with something in it altered, as by an amendment.
fn other_rules(own: &RuleSet, step: &Step) -> RuleSet {
    let (_, what, at, value) = step;
    let mut rules = own.clone();
    let some = at.index(rules.rules.len());
    match what.index(8) {
        0 | 1 => return RULES[value.index(RULES.len())].clone(),
        2 => drop(rules.unchecked().rules.remove(some)),
        3 => {
            // What it asks for is the same for all, or asked for where it does not apply.
            let rule = &mut rules.unchecked().rules[some];
            rule.when = Condition::All(Vec::new());
        }
        4 => {
            let rule = rules.unchecked().rules.remove(some);
            let mut more = rule.clone();
            more.name.push_str("-once-more");
            more.message = Message::default();
            rules.unchecked().rules.insert(0, rule);
            rules.unchecked().rules.push(more);
        }
        5 => rules.unchecked().rules.reverse(),
        6 if !rules.arrangements.is_empty() => {
            let at = at.index(rules.arrangements.len());
            drop(rules.unchecked().arrangements.remove(at));
        }
        _ => {
            // A rule of another code, where that looks into no table.
            let others = &RULES[value.index(RULES.len())].rules;
            let mut rule = others[what.index(others.len())].clone();
            if rule.tables().is_empty() {
                rule.name.push_str("-of-another");
                rules.unchecked().rules.insert(some, rule);
            }
            for _ in 0..value.index(4) {
                if let Some(((table, row, column), content)) = some_cell(&rules, step) {
                    let could = rules.set_cell((table, row, column), content);
                    could.unwrap_or_else(|error| panic!("{error}"));
                }
            }
        }
    }
    rules
}

/// Whether two differences tell of the same, in whichever order those stand that are alike in all that sorts them.
fn differ_alike(one: &Difference, other: &Difference) -> bool {
    let all = |one: &[Finding], other: &[Finding]| {
        one.len() == other.len() && one.iter().all(|finding| other.contains(finding))
    };
    all(&one.removed, &other.removed) && all(&one.added, &other.added)
}

/// The findings that there were, with the difference made.
fn made(mut before: Vec<Finding>, difference: &Difference) -> Vec<Finding> {
    for removed in &difference.removed {
        let at = before.iter().position(|one| same(one, removed));
        before.remove(at.unwrap_or_else(|| panic!("never reported: {removed:#?}")));
    }
    before.extend(difference.added.iter().cloned());
    before
}

/// Whether two findings say the same; numbers of elements may have changed.
fn same(one: &Finding, other: &Finding) -> bool {
    let mut numbered = one.clone();
    numbered.element = other.element;
    numbered == *other
}

/// Whether every pipe leads onward in the orders of flow, and these hold each node that pipes of their role touch once, and
/// that of drains the point of disposal.
fn are_in_order(network: &Network) {
    let graph = network.graph();
    for (role, order) in [
        (Role::Drain, network.drain_order()),
        (Role::Vent, network.vent_order()),
    ] {
        let place: HashMap<_, _> = order.iter().copied().zip(0..).collect();
        assert_eq!(
            place.len(),
            order.len(),
            "a node is in the order of {role}s twice"
        );
        let mut touched = HashSet::new();
        // Even while no drain leads there.
        touched.extend((role == Role::Drain).then(|| network.disposal()));
        for id in graph.edge_indices().filter(|&id| graph[id].role == role) {
            let (from, to) = graph.edge_endpoints(id).expect("its ends");
            assert!(place[&from] < place[&to], "`{}` leads backward", graph[id].name);
            touched.extend([from, to]);
        }
        assert_eq!(
            touched.len(),
            order.len(),
            "the order of {role}s holds other nodes"
        );
        let rank = |node| match role {
            Role::Vent => network.vent_rank(node),
            _ => network.drain_rank(node),
        };
        assert!(order.is_sorted_by_key(|&node| rank(node)), "ranks of {role}s");
    }
}

fn is_as_checked_afresh(session: &mut Session) {
    are_in_order(session.network());
    let fresh = check(session.network(), session.rules()).unwrap_or_else(|error| panic!("{error}"));
    let kept = session.report();
    if kept != fresh {
        // Two lists that are not too long to be read.
        let only = |one: &[Finding], other: &[Finding]| -> Vec<String> {
            let only = one.iter().filter(|finding| !other.contains(finding));
            only.map(|finding| format!("{finding:?}")).collect()
        };
        let rows = kept
            .summary
            .iter()
            .zip(&fresh.summary)
            .filter(|(one, other)| one != other);
        panic!(
            "kept: {:#?}\nfresh: {:#?}\nrows: {:#?}\nand {:?}",
            only(&kept.findings, &fresh.findings),
            only(&fresh.findings, &kept.findings),
            rows.collect::<Vec<_>>(),
            (
                kept.omitted == fresh.omitted,
                kept.on_site == fresh.on_site,
                kept.protected == fresh.protected,
                kept.load == fresh.load
            )
        );
    }
}

fn go(network: &Network, own: usize, steps: &[Step]) {
    let rules = &RULES[own % RULES.len()];
    let Ok(mut session) = Session::new(network.clone(), rules.clone()) else {
        return;
    };
    // Some are asked before they are ready, some after.
    if steps.first().is_some_and(|step| step.1.index(2) == 0) {
        session.make_ready();
    }
    is_as_checked_afresh(&mut session);
    for (count, step) in steps.iter().enumerate() {
        // Nothing is left to edit.
        if session.network().graph().edge_count() == 0 {
            return;
        }
        let before = session.report();
        let done = if step.0 >= STRUCTURE {
            session.edit(&edits(session.network(), step, count))
        } else if step.0 >= 26 {
            let told = some_cell(session.rules(), step).map(|(cell, content)| {
                let is_stray = step.0 == 28;
                let content = if is_stray {
                    stray_content(session.rules(), step)
                } else {
                    content
                };
                let would = session.would_differ_by_cell(cell, content);
                assert_eq!(session.report(), before, "a preview changes nothing");
                let did = session.set_cell(cell, content);
                match (&would, &did) {
                    (Ok(would), Ok(did)) => assert!(differ_alike(would, did), "{would:#?} {did:#?}"),
                    _ => assert!(is_stray && would == did, "{would:#?} {did:#?}"),
                }
                did
            });
            told.unwrap_or(Ok(Difference::default()))
        } else if step.0 >= 24 {
            let other = Arc::new(other_rules(session.rules(), step));
            let would = session.would_differ(&other);
            assert_eq!(session.report(), before, "a preview changes nothing");
            let own = Arc::new(session.rules().clone());
            let lent = session.what_if(&Substitute::new(&own, &other), |measured| measured.check());
            assert_eq!(session.report(), before, "what is lent changes nothing");
            let did = session.set_rules(other);
            assert_eq!(would, did, "a preview tells what comes of it");
            if let Ok(lent) = lent {
                assert_eq!(session.report(), lent, "what is lent tells what comes of it");
            }
            did.map_err(Refused::from)
        } else {
            let edits = edits(session.network(), step, count);
            session.edit(&edits)
        };
        match done {
            Ok(difference) => {
                is_as_checked_afresh(&mut session);
                let now = session.report().findings;
                let mut then = made(before.findings, &difference);
                assert_eq!(then.len(), now.len(), "{difference:#?}");
                for finding in &now {
                    let at = then.iter().position(|one| same(one, finding));
                    then.swap_remove(at.unwrap_or_else(|| panic!("not told of: {finding:#?}")));
                }
            }
            Err(_) => {
                assert_eq!(
                    session.report(),
                    before,
                    "an edit that is refused changes nothing"
                );
                is_as_checked_afresh(&mut session);
            }
        }
    }
}

/// Edits by rules some of which were laid on a session that followed the others.
fn come_later(network: &Network, own: usize, later: &[bool], steps: &[Step]) {
    let rules = &RULES[own];
    let mut fewer = rules.clone();
    let mut later = later.iter().cycle();
    fewer.unchecked().rules.retain(|_| later.next() == Some(&false));
    let Ok(mut session) = Session::new(network.clone(), fewer) else {
        return;
    };
    session.make_ready();
    session.set_rules(rules.clone()).expect("known sizes");
    is_as_checked_afresh(&mut session);
    for (count, step) in steps.iter().enumerate() {
        if session.network().graph().edge_count() > 0
            && session.edit(&edits(session.network(), step, count)).is_ok()
        {
            is_as_checked_afresh(&mut session);
        }
    }
}

pub fn steps() -> impl Strategy<Value = Vec<Step>> {
    let step = (
        0_u8..STRUCTURE + structure::KINDS,
        any::<Index>(),
        any::<Index>(),
        any::<Index>(),
    );
    proptest::collection::vec(step, 1..10)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2500, max_shrink_iters: 400, ..ProptestConfig::default() })]

    #[test]
    fn whatever_is_edited_a_session_tells_what_a_check_tells(
        network in any::<Index>(),
        rules in 0_usize..5,
        steps in steps(),
    ) {
        go(&NETWORKS[network.index(NETWORKS.len())], rules, &steps);
    }

    #[test]
    fn whatever_is_edited_in_a_worked_example_a_session_tells_what_a_check_tells(
        network in any::<Index>(),
        rules in 0_usize..5,
        steps in steps(),
    ) {
        go(&EXAMPLES[network.index(EXAMPLES.len())], rules, &steps);
    }

    #[test]
    fn rules_that_come_later_are_followed_as_those_that_were_there(
        network in any::<Index>(),
        rules in 0_usize..5,
        later in proptest::collection::vec(any::<bool>(), 1..200),
        steps in proptest::collection::vec((0_u8..24, any::<Index>(), any::<Index>(), any::<Index>()), 1..6),
    ) {
        come_later(&EXAMPLES[network.index(EXAMPLES.len())], rules, &later, &steps);
    }
}

/// What a column cannot hold is refused, whether the session follows cells, follows edits, or has only measured, and
/// nothing is altered: neither the findings nor the rule set, which others may hold too.
#[test]
fn content_that_a_column_does_not_hold_is_refused() {
    let shared = Arc::new(rules("ipc-2021"));
    let table = |name: &str| {
        shared
            .tables
            .iter()
            .position(|table| table.name == name)
            .expect(name)
    };
    let value = |value: Value| Content::Value(value);
    let load = value(Value::Load("3 dfu".parse().expect("a load")));
    let column = |name: &str, column: &str| {
        let own = &shared.tables[table(name)];
        own.columns()
            .iter()
            .position(|one| one.name == column)
            .expect(column)
    };
    let arms = (table("trap-arms"), 0, column("trap-arms", "length"));
    let loads = (table("fixture-loads"), 0, column("fixture-loads", "load"));
    let sizes = (table("trap-sizes"), 0, column("trap-sizes", "size"));
    let cases = [
        (
            arms,
            load,
            "the column `length` of the table `trap-arms` holds a length, and a load was given",
        ),
        (
            loads,
            value(Value::Angle(Angle::from_microdegrees(1))),
            "the column `load` of the table `fixture-loads` holds a load, and an angle was given",
        ),
        (
            loads,
            Content::Unlimited,
            "the column `load` of the table `fixture-loads` holds the load of a fixture, which is never unlimited",
        ),
        (
            arms,
            value(Value::Length(crownweir::quantity::Length::from_nanometres(-1))),
            "what the column `length` of the table `trap-arms` holds is never negative",
        ),
        (
            sizes,
            value(Value::Size(Size(99))),
            "the column `size` of the table `trap-sizes` holds a size, and the ladder has none at the place 99 that was given",
        ),
        (
            sizes,
            value(Value::Word("p")),
            "holds a size, and a word was given",
        ),
        (
            (arms.0, 99, 0),
            load,
            "the rule set has no table {arms} with a row 99 and a column 0, counted from 0",
        ),
        (
            (999, 0, 0),
            load,
            "the rule set has no table 999 with a row 0 and a column 0, counted from 0",
        ),
        ((arms.0, 0, 9), load, "and a column 9, counted from 0"),
    ];
    let tower = network(&crownweir_benches::tower(2));
    for stage in 0..3 {
        let mut session =
            Session::new(tower.clone(), Arc::clone(&shared)).unwrap_or_else(|error| panic!("{error}"));
        if stage > 0 {
            assert!(session.make_ready());
        }
        if stage > 1 {
            let own = shared.cell(arms).expect("a cell").content;
            assert_eq!(session.set_cell(arms, own), Ok(Difference::default()));
        }
        let before = session.report();
        for (cell, content, said) in cases {
            let said = said.replace("{arms}", &arms.0.to_string());
            let would = session.would_differ_by_cell(cell, content).expect_err(&said);
            let did = session.set_cell(cell, content).expect_err(&said);
            assert!(matches!(did, Refused::Cell(_)) && did == would, "{did}");
            assert!(did.to_string().ends_with(&said), "{did}");
            assert_eq!(session.rules().tables, shared.tables);
            assert_eq!(session.report(), before);
        }
    }
}

// A tower of some thirty thousand nodes: what alters nearly all of it is checked as a whole, and edits are followed again
// after a while.
#[test]
fn a_tower_tells_what_a_check_tells_while_it_is_not_followed_and_after() {
    let network = network(&crownweir_benches::tower(900));
    assert!(network.graph().node_count() > 20_000);
    let rules = rules("ipc-2021");
    let mut session = Session::new(network, rules).unwrap_or_else(|error| panic!("{error}"));
    assert!(session.make_ready());
    let length = |pipe: &str, length: &str| Edit::Pipe {
        pipe: pipe.to_owned(),
        set: PipeProperty::Length(length.parse().ok()),
    };
    let mut told = 0;
    for round in 0..6 {
        for edit in [
            length("C1-1 to BD-1", ["5 ft", "6 ft"][round % 2]),
            length("LAV-A-900 to T-A-900", ["8 ft", "3 ft"][round % 2]),
        ] {
            let before = session.findings();
            let difference = session.edit(&[edit]).unwrap_or_else(|error| panic!("{error}"));
            let fresh = check(session.network(), session.rules()).unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(session.findings().len(), fresh.findings.len());
            assert_eq!(session.report(), fresh);
            assert_eq!(
                before.len() + difference.added.len(),
                fresh.findings.len() + difference.removed.len()
            );
            told += difference.added.len() + difference.removed.len();
        }
    }
    assert!(told > 0, "no edit altered a finding");
}

// The same tower: what comes and goes on its branches is followed, and the whole is never checked.
#[test]
fn a_tower_follows_what_comes_and_goes_on_its_branches() {
    let network = network(&crownweir_benches::tower(900));
    let mut session = Session::new(network, rules("ipc-2021")).unwrap_or_else(|error| panic!("{error}"));
    assert!(session.make_ready());
    let arm = |from: &str, to: &str, like: &Pipe| Edit::AddPipe {
        from: from.to_owned(),
        to: to.to_owned(),
        pipe: Box::new(like.clone()),
    };
    let mut told = 0;
    for storey in [900, 450, 2] {
        let graph = session.network().graph();
        let name = format!("LAV-A-{storey} to T-A-{storey}");
        let id = session.network().pipe_named(&name).expect("the arm");
        let (from, to) = graph.edge_endpoints(id).expect("its ends");
        let (pipe, basin, tee) = (graph[id].clone(), graph[from].clone(), graph[to].clone());
        let second = Node {
            name: format!("second basin {storey}").as_str().into(),
            elevation: None,
            ..basin.clone()
        };
        let other = Pipe {
            name: format!("second arm {storey}").as_str().into(),
            length: "12 ft".parse().ok(),
            enters: Inlet::Branch,
            ..pipe.clone()
        };
        let (second_name, basin_name) = (second.name.to_string(), basin.name.to_string());
        for edits in [
            // A second basin on an arm that is too long, and gone again.
            vec![Edit::AddNode(second), arm(&second_name, &tee.name, &other)],
            vec![Edit::RemoveNode(second_name)],
            // The first gone, and there again.
            vec![Edit::RemoveNode(basin_name.clone())],
            vec![Edit::AddNode(basin), arm(&basin_name, &tee.name, &pipe)],
        ] {
            let difference = session.edit(&edits).unwrap_or_else(|error| panic!("{error}"));
            assert!(session.is_ready(), "{edits:?} is not followed");
            let fresh = check(session.network(), session.rules()).unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(session.report(), fresh);
            told += difference.added.len() + difference.removed.len();
        }
    }
    assert!(told > 0, "no edit altered a finding");
}

/// The same tower: whatever is altered on a branch is followed and taken back, and so are cells and rules; the whole is
/// never checked.
#[test]
fn a_tower_follows_what_is_altered_on_its_branches() {
    let own = Arc::new(rules("ipc-2021"));
    let tower = network(&crownweir_benches::tower(900));
    let mut session = Session::new(tower, Arc::clone(&own)).unwrap_or_else(|error| panic!("{error}"));
    assert!(session.make_ready());
    let before = session.report();
    let pipe = |pipe: &str, set: PipeProperty| Edit::Pipe {
        pipe: pipe.to_owned(),
        set,
    };
    let of_arm = |set| pipe("LAV-A-450 to T-A-450", set);
    let node = |node: &str, set: NodeProperty| Edit::Node {
        node: node.to_owned(),
        set,
    };
    let stands = |name: &str, kind: NodeKind| node(name, NodeProperty::Stands(kind));
    let other = |name: &str, alter: &dyn Fn(&mut Fixture)| {
        let graph = session.network().graph();
        let id = session.network().node_named(name).expect("the fixture");
        let NodeKind::Fixture(own) = &graph[id].kind else {
            panic!("{name} is no fixture")
        };
        let mut other = (**own).clone();
        alter(&mut other);
        stands(name, NodeKind::Fixture(Arc::new(other)))
    };
    let edits = [
        of_arm(PipeProperty::Size("2 in".parse().ok())),
        of_arm(PipeProperty::Length("9 ft".parse().ok())),
        of_arm(PipeProperty::Slope("1/2 in/ft".parse().ok())),
        of_arm(PipeProperty::Material(Some(Material::CastIron))),
        of_arm(PipeProperty::SupportSpacing("9 ft".parse().ok())),
        of_arm(PipeProperty::Underground(true)),
        of_arm(PipeProperty::Enters(Inlet::Branch)),
        pipe("S1-A-450 to S1-B-450", PipeProperty::Size("3 in".parse().ok())),
        pipe(
            "V-T-A-450 to VS1-450",
            PipeProperty::Size("1-1/4 in".parse().ok()),
        ),
        stands(
            "T-A-450",
            NodeKind::Fitting {
                pattern: Some(FittingPattern::Wye),
            },
        ),
        other("LAV-A-450", &|fixture| {
            fixture.fixture_type = FixtureType::WaterCloset
        }),
        other("LAV-A-450", &|fixture| fixture.group = Some("group".into())),
        other("LAV-A-450", &|fixture| fixture.trap.size = None),
        stands("ST-1-45", NodeKind::Terminal(Box::default())),
        node("CB-A-450", NodeProperty::Storey(None)),
    ];
    for edit in edits {
        session
            .edit(std::slice::from_ref(&edit))
            .unwrap_or_else(|error| panic!("{edit:?}: {error}"));
        assert!(session.is_ready(), "{edit:?} is not followed");
        assert!(session.undo().expect("known sizes").is_some());
        assert!(session.is_ready(), "that {edit:?} is taken back is not followed");
    }
    assert_eq!(session.report(), before);
    // What few read, the most load of the building drain, and what many do, the longest arm of a basin's trap.
    let load = Content::Value(Value::Load("8300 dfu".parse().expect("a load")));
    let length = Content::Value(Value::Length("5 ft".parse().expect("a length")));
    for (name, least, is) in [
        (
            "building-drains",
            Value::Load("1 dfu".parse().expect("a load")),
            load,
        ),
        (
            "trap-arms",
            Value::Length("1 in".parse().expect("a length")),
            length,
        ),
    ] {
        let table = own
            .tables
            .iter()
            .position(|table| table.name == name)
            .expect(name);
        let mut rows = own.tables[table].rows().iter();
        let row = rows.position(|row| row.cells[0].content == is).expect(name);
        let (cell, content) = ((table, row, 0), Content::Value(least));
        let would = session.would_differ_by_cell(cell, content).expect(name);
        let did = session.set_cell(cell, content).expect(name);
        assert!(differ_alike(&would, &did), "{would:#?} {did:#?}");
        assert!(!did.added.is_empty(), "nothing reads the cell of {name}");
        let would = session.would_differ_by_cell(cell, is).expect(name);
        let did = session.set_cell(cell, is).expect(name);
        assert!(differ_alike(&would, &did), "{would:#?} {did:#?}");
        assert!(session.is_ready(), "{name} is not followed");
    }
    assert_eq!(session.report(), before);
    let mut fewer = (*own).clone();
    fewer.unchecked().rules.retain(|rule| rule.name != "trap-size");
    assert!(fewer.rules.len() < own.rules.len());
    let fewer = Arc::new(fewer);
    for rules in [&fewer, &own] {
        let would = session.would_differ(rules).expect("known sizes");
        let did = session.set_rules(Arc::clone(rules)).expect("known sizes");
        assert_eq!(would, did);
        assert!(session.is_ready(), "other rules are not followed");
    }
    assert_eq!(session.report(), before);
    let edit = of_arm(PipeProperty::Length("9 ft".parse().ok()));
    session.edit(&[edit]).expect("a length");
    assert!(session.is_ready(), "an edit after other rules is not followed");
}

/// Of a rule that more elements break than are told of, the first are told; others come to be among them as these are
/// mended, and go as they are broken again.
#[test]
fn of_more_than_are_told_others_come_and_go() {
    let count = MOST_OF_A_RULE + 6;
    let mut main = "{fitting: {name: J0}}".to_owned();
    let mut branches = String::new();
    for number in 1..=count {
        let joint = number / 20;
        if number % 20 == 0 {
            main.push_str(&format!(", {{pipe: {{}}}}, {{fitting: {{name: J{joint}}}}}"));
        }
        branches.push_str(&format!(
            "  - {{size: 1-1/4 in, slope: 1/16 in/ft, path: [{{fixture: {{name: F{number}, type: lavatory}}}}, {{pipe: {{name: P{number}}}}}, {{at: J{joint}}}]}}\n"
        ));
    }
    let text = format!(
        "crownweir: network/1\nname: many\ndrains:\n  - {{size: 4 in, slope: 1/4 in/ft, path: [{main}, {{pipe: {{}}}}, {{disposal: {{name: sewer}}}}]}}\n{branches}"
    );
    let mut own = rules("ipc-2021");
    let few = ["drain-slope", "trap-seal"];
    own.unchecked().rules.retain(|rule| few.contains(&&*rule.name));
    let own = Arc::new(own);
    let mut session =
        Session::new(network(&text), Arc::clone(&own)).unwrap_or_else(|error| panic!("{error}"));
    assert!(session.make_ready());
    let told = |session: &mut Session, rule: &str| {
        let findings = session.findings();
        findings.iter().filter(|one| one.rule == rule).count()
    };
    for rule in ["drain-slope", "trap-seal", "trap-protection"] {
        assert_eq!(told(&mut session, rule), MOST_OF_A_RULE, "{rule}");
    }
    let slope = |number: usize, slope: &str| Edit::Pipe {
        pipe: format!("P{number}"),
        set: PipeProperty::Slope(slope.parse().ok()),
    };
    let becomes = |number: usize, kind: FixtureType| {
        let (node, fixture) = (format!("F{number}"), Fixture::new(kind));
        let set = NodeProperty::Stands(NodeKind::Fixture(Arc::new(fixture)));
        Edit::Node { node, set }
    };
    let first_and_last = [1, 2, 3, 500, count - 6, count - 5, count - 1, count];
    let all = |edit: &dyn Fn(usize) -> Edit| first_and_last.map(edit).to_vec();
    let mut steps = Vec::new();
    for number in first_and_last {
        steps.push(vec![slope(number, "1/4 in/ft")]);
        steps.push(vec![becomes(number, FixtureType::ConnectedLoad)]);
    }
    for number in first_and_last.into_iter().rev() {
        steps.push(vec![slope(number, "1/16 in/ft")]);
        steps.push(vec![becomes(number, FixtureType::Lavatory)]);
    }
    // One that is mended makes room for the next, not for the one that is broken along with it.
    steps.push(vec![slope(count, "1/4 in/ft")]);
    steps.push(vec![slope(1, "1/4 in/ft"), slope(count, "1/16 in/ft")]);
    steps.push(vec![slope(1, "1/16 in/ft")]);
    steps.push(all(&|number| slope(number, "")));
    steps.push(all(&|number| slope(number, "1/4 in/ft")));
    steps.push(all(&|number| slope(number, "1/16 in/ft")));
    steps.push(all(&|number| becomes(number, FixtureType::ConnectedLoad)));
    steps.push(all(&|number| becomes(number, FixtureType::Lavatory)));
    for step in &steps {
        let mut before = session.findings();
        let difference = session.edit(step).unwrap_or_else(|error| panic!("{error}"));
        is_as_checked_afresh(&mut session);
        let mut now = session.findings();
        let (counted, removed) = (before.len(), difference.removed.len());
        before.retain(|finding| !difference.removed.contains(finding));
        assert_eq!(before.len() + removed, counted);
        let (counted, added) = (now.len(), difference.added.len());
        now.retain(|finding| !difference.added.contains(finding));
        assert_eq!(now.len() + added, counted);
        assert!(before == now, "what is neither gone nor new is as it was");
    }
    let mut fewer = (*own).clone();
    fewer.unchecked().rules.retain(|rule| rule.name != "drain-slope");
    let fewer = Arc::new(fewer);
    for rules in [&fewer, &own] {
        let would = session.would_differ(rules).expect("known sizes");
        let did = session.set_rules(Arc::clone(rules)).expect("known sizes");
        assert_eq!(would, did);
        is_as_checked_afresh(&mut session);
    }
}

/// What is told of several tests of the network hangs on the pipes that there are: each is judged again when the first of
/// plastic comes.
#[test]
fn every_test_of_the_network_is_judged_again() {
    let file = "
crownweir: network/1
name: two tests
drains:
  - {size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: L, type: lavatory}}, {pipe: {name: arm, length: 3 ft, material: cast_iron}}, {disposal: {name: sewer}}]}
tests:
  - {section: first, medium: air, head: 12 ft, duration: 15 min}
  - {section: second, medium: air, head: 12 ft, duration: 15 min}
";
    let mut session =
        Session::new(network(file), rules("ipc-2021")).unwrap_or_else(|error| panic!("{error}"));
    assert!(session.make_ready());
    let material = |material| Edit::Pipe {
        pipe: "arm".to_owned(),
        set: PipeProperty::Material(Some(material)),
    };
    let told = session.edit(&[material(Material::Pvc)]).expect("a material");
    let burst = told.added.iter().filter(|one| one.rule == "air-test-of-plastic");
    assert_eq!(burst.count(), 2);
    is_as_checked_afresh(&mut session);
    session.edit(&[material(Material::CastIron)]).expect("a material");
    is_as_checked_afresh(&mut session);
}

/// A stack vent whose stack holds what a returning vent serves: what is edited alters now the load that they serve in common,
/// now which of them serves it, and each time is followed.
#[test]
fn what_vents_serve_in_common_is_followed() {
    let text = include_str!("../../oracle/kept/two-wet-vents-on-a-stack.yaml");
    let small = text.replace("kind: stack_vent, size: 3 in", "kind: stack_vent, size: 1-1/4 in");
    let mut session =
        Session::new(network(&small), rules("upc-2021")).unwrap_or_else(|error| panic!("{error}"));
    assert!(session.make_ready());
    let becomes = |name: &str, kind: FixtureType, load: Option<&str>| {
        let mut fixture = Fixture::new(kind);
        fixture.occupancy = Some(Occupancy::Private);
        fixture.load = load.and_then(|load| load.parse().ok());
        let (node, set) = (
            name.to_owned(),
            NodeProperty::Stands(NodeKind::Fixture(Arc::new(fixture))),
        );
        vec![Edit::Node { node, set }]
    };
    let id = session
        .network()
        .pipe_named("E to V")
        .expect("the vent that returns");
    let returning = Box::new(session.network().graph()[id].clone());
    let back_to = |to: &str| {
        let (from, to, pipe) = ("E".to_owned(), to.to_owned(), returning.clone());
        let remove = Edit::RemovePipe(pipe.name.to_string());
        vec![remove, Edit::AddPipe { from, to, pipe }]
    };
    let other = FixtureType::ConnectedLoad;
    for (edits, served) in [
        // A closet on the branch that both serve makes way for a bathtub.
        (becomes("lav-2", FixtureType::Lavatory, None), "11 dfu"),
        (becomes("wc-2", FixtureType::Bathtub, None), "10 dfu"),
        // Nothing relies any more on the stack's air so far down: what the stack vent serves ends higher up.
        (becomes("tub", other, Some("2 dfu")), "4 dfu"),
        (becomes("tub", FixtureType::Bathtub, None), "10 dfu"),
        // The vent ends by itself, and returns again.
        (back_to("roof"), "10 dfu"),
        (back_to("V"), "10 dfu"),
        (becomes("wc-3", other, Some("9 dfu")), "16 dfu"),
    ] {
        session.edit(&edits).unwrap_or_else(|error| panic!("{error}"));
        assert!(session.is_ready(), "{edits:?} is not followed");
        is_as_checked_afresh(&mut session);
        let findings = session.report().findings;
        let mut above = findings
            .iter()
            .filter(|one| one.rule == "vent-size" && one.name == "above");
        let told = above.next().map(|one| one.message.clone()).unwrap_or_default();
        assert!(told.contains(&format!("serves {served};")), "{edits:?}: {told}");
    }
}

#[test]
fn a_pipe_of_less_than_no_length_is_refused() {
    let network = network(&crownweir_benches::tower(1));
    let mut session = Session::new(network, rules("ipc-2021")).unwrap_or_else(|error| panic!("{error}"));
    let before = session.report();
    let less = crownweir::quantity::Length::from_nanometres(-1);
    for (set, told) in [
        (PipeProperty::Length(Some(less)), "the length of the pipe"),
        (
            PipeProperty::SupportSpacing(Some(less)),
            "the support spacing of the pipe",
        ),
    ] {
        let pipe = "LAV-A-1 to T-A-1".to_owned();
        let refused = session
            .edit(&[Edit::Pipe { pipe, set }])
            .expect_err(told)
            .to_string();
        assert!(
            refused.contains(told) && refused.contains("is negative"),
            "{refused}"
        );
    }
    assert_eq!(session.report(), before);
}
