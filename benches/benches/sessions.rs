//! How long a session takes to tell how the findings differ after an edit, beside a check of the whole network.
//!
//! `cargo bench -p crownweir-benches --bench sessions`; `STOREYS=1000` before it makes the tower lower. Nothing is
//! asserted: what is printed is the time of an edit at the median, at the 99th of a hundred, and at worst.

use std::hint::black_box;
use std::sync::Arc;
use std::time::{Duration, Instant};

use crownweir::vocabulary::FixtureType;
use crownweir::{
    Content, Edit, Limits, Network, NodeKind, NodeProperty, PipeProperty, Rule, RuleSet, Session, check,
    published,
};
use crownweir_benches::tower;

/// Edits, and those that take them back.
type There = [Vec<Edit>; 2];

/// How often each edit is made and taken back.
const TIMES: usize = 500;

fn rules(name: &str) -> RuleSet {
    let text = published::text(name).unwrap_or_default();
    RuleSet::read(name, text.as_bytes(), &Limits::default()).unwrap_or_else(|problems| panic!("{problems}"))
}

fn pipe(name: &str, set: PipeProperty) -> Edit {
    Edit::Pipe {
        pipe: name.to_owned(),
        set,
    }
}

/// A fixture altered, and as it was.
fn fixture(network: &Network, name: &str, alter: fn(&mut crownweir::network::Fixture)) -> There {
    let id = network.node_named(name).unwrap_or_else(|| panic!("no {name}"));
    let kind = network.graph()[id].kind.clone();
    let NodeKind::Fixture(before) = &kind else {
        panic!("{name} is no fixture");
    };
    let mut altered = (**before).clone();
    alter(&mut altered);
    let set = |kind| Edit::Node {
        node: name.to_owned(),
        set: NodeProperty::Stands(kind),
    };
    [NodeKind::Fixture(Arc::new(altered)), kind].map(|kind| vec![set(kind)])
}

/// A pipe altered, and as it was.
fn altered(network: &Network, name: &str, set: PipeProperty) -> There {
    let id = network.pipe_named(name).unwrap_or_else(|| panic!("no {name}"));
    let own = &network.graph()[id];
    let before = match set {
        PipeProperty::Size(_) => PipeProperty::Size(own.size),
        PipeProperty::Length(_) => PipeProperty::Length(own.length),
        PipeProperty::Slope(_) => PipeProperty::Slope(own.slope),
        PipeProperty::Material(_) => PipeProperty::Material(own.material),
        _ => PipeProperty::SupportSpacing(own.support_spacing),
    };
    [set, before].map(|set| vec![pipe(name, set)])
}

/// What stands at a node, what a pipe is, and between which nodes.
fn node_of(network: &Network, name: &str) -> Edit {
    let id = network.node_named(name).unwrap_or_else(|| panic!("no {name}"));
    Edit::AddNode(network.graph()[id].clone())
}

fn pipe_of(network: &Network, name: &str) -> Edit {
    let id = network.pipe_named(name).unwrap_or_else(|| panic!("no {name}"));
    let ends = network.graph().edge_endpoints(id);
    let (from, to) = ends.unwrap_or_else(|| panic!("{name} has no ends"));
    Edit::AddPipe {
        from: network.graph()[from].name.to_string(),
        to: network.graph()[to].name.to_string(),
        pipe: Box::new(network.graph()[id].clone()),
    }
}

/// A pipe with a coupling in its middle, and whole again.
fn split(network: &Network, name: &str) -> There {
    let Edit::AddPipe { from, to, pipe } = pipe_of(network, name) else {
        panic!("{name} is no pipe");
    };
    let coupling = "coupling".to_owned();
    let Edit::AddNode(like) = node_of(network, &from) else {
        panic!("{from} is no node");
    };
    let upper = "10 in".parse().ok();
    let lower = pipe
        .length
        .zip(upper)
        .and_then(|(whole, upper)| whole.checked_sub(upper));
    let part = |name: &str, from: &str, to: &str, length| Edit::AddPipe {
        from: from.to_owned(),
        to: to.to_owned(),
        pipe: Box::new(crownweir::Pipe {
            name: name.into(),
            length,
            ..(*pipe).clone()
        }),
    };
    let parted = vec![
        Edit::RemovePipe(name.to_owned()),
        Edit::AddNode(crownweir::Node {
            name: coupling.as_str().into(),
            elevation: None,
            kind: NodeKind::Fitting {
                pattern: Some(crownweir::vocabulary::FittingPattern::Coupling),
            },
            ..like
        }),
        part("upper part", &from, &coupling, upper),
        part("lower part", &coupling, &to, lower),
    ];
    let whole = vec![Edit::RemoveNode(coupling), pipe_of(network, name)];
    [parted, whole]
}

/// Some nodes gone with all their pipes, and there again.
fn gone(network: &Network, nodes: &[&str], pipes: &[&str]) -> There {
    let without = nodes.iter().map(|name| Edit::RemoveNode((*name).to_owned()));
    let nodes = nodes.iter().map(|name| node_of(network, name));
    let there = nodes.chain(pipes.iter().map(|name| pipe_of(network, name)));
    [without.collect(), there.collect()]
}

fn sampled(session: &mut Session, what: &str, there_and_back: &There) -> Vec<Duration> {
    session.make_ready();
    let mut times = Vec::with_capacity(2 * TIMES);
    let mut findings = 0;
    let least = Instant::now();
    for round in 0..TIMES {
        for edits in there_and_back {
            let start = Instant::now();
            let difference = session
                .edit(edits)
                .unwrap_or_else(|error| panic!("{what}: {error}"));
            times.push(start.elapsed());
            findings = findings.max(difference.added.len());
            black_box(&difference);
        }
        // What takes long need not be made often.
        if round >= 4 && least.elapsed() > Duration::from_secs(4) {
            break;
        }
    }
    times.sort_unstable();
    let at = |part: usize| times[(times.len() - 1) * part / 100];
    println!(
        "  {what:<44} {:>10.1?} {:>10.1?} {:>10.1?}   up to {findings} new findings",
        at(50),
        at(99),
        at(100)
    );
    times
}

/// How long it takes to tell what another rule set would find, and to go on with it.
fn rules_altered(session: &mut Session) {
    let own = Arc::new(session.rules().clone());
    let of_loads = own.measuring_tables();
    // A rule with a table of its own.
    let own_table = |rule: &Rule| rule.tables().difference(&of_loads).next().copied();
    let mut rules = own.rules.iter().enumerate();
    let limited = rules.find_map(|(place, rule)| Some((place, own_table(rule)?)));
    let (rule, table) = limited.unwrap_or_else(|| panic!("no rule has a table"));
    let mut without = (*own).clone();
    without.unchecked().rules.remove(rule);
    let mut barred = (*own).clone();
    let could = barred.set_cell((table, 0, 0), Content::Barred);
    could.unwrap_or_else(|error| panic!("{error}"));
    let mut loads = (*own).clone();
    let table = of_loads.first().unwrap_or_else(|| panic!("no table of loads"));
    loads.unchecked().tables[*table].title.push(' ');
    println!("  {:<44} {:>10} {:>10}", "another rule set", "preview", "swap");
    for (what, other) in [
        ("one rule less", without),
        ("a cell of one rule's table altered", barred),
        ("a table of loads under another title", loads),
    ] {
        let start = Instant::now();
        let differ = session.would_differ(&other);
        let preview = start.elapsed();
        let start = Instant::now();
        let swapped = session.set_rules(other);
        println!("  {what:<44} {preview:>10.1?} {:>10.1?}", start.elapsed());
        drop(black_box((differ, swapped)));
        session
            .set_rules(Arc::clone(&own))
            .unwrap_or_else(|error| panic!("{error}"));
        session.make_ready();
    }
}

fn main() {
    let storeys = std::env::var("STOREYS")
        .ok()
        .and_then(|storeys| storeys.parse().ok());
    let storeys: u32 = storeys.unwrap_or(10_000);
    let read = |text: String| {
        Network::read("tower", text.as_bytes(), &Limits::default())
            .unwrap_or_else(|problems| panic!("{problems}"))
    };
    let network = read(tower(storeys));
    let zone = storeys.div_ceil(10);
    let names = ["ipc-2021", "npc-2020"];
    for name in names {
        let rules = rules(name);
        let start = Instant::now();
        let checked = check(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
        let whole = start.elapsed();
        let start = Instant::now();
        let mut session = Session::new(network.clone(), rules).unwrap_or_else(|error| panic!("{error}"));
        let opened = start.elapsed();
        let start = Instant::now();
        session.make_ready();
        println!(
            "{name}, {} fixtures: a check takes {whole:.1?}, a session is made in {opened:.1?}, and ready in {:.1?}",
            checked.fixtures,
            start.elapsed()
        );
        rules_altered(&mut session);
        println!(
            "  {:<44} {:>10} {:>10} {:>10}",
            "an edit", "median", "99 of 100", "worst"
        );
        let size = |text: &str| PipeProperty::Size(text.parse().ok());
        let length = |text: &str| PipeProperty::Length(text.parse().ok());
        let slope = |text: &str| PipeProperty::Slope(text.parse().ok());
        let top = storeys;
        let edits = [
            (
                "trap size of the top lavatory",
                fixture(&network, &format!("LAV-A-{top}"), |one| {
                    one.trap.size = "1-1/2 in".parse().ok()
                }),
            ),
            (
                "rim of the top lavatory",
                fixture(&network, &format!("LAV-A-{top}"), |one| {
                    one.rim_height = "34 in".parse().ok()
                }),
            ),
            (
                "size of the top trap arm",
                altered(&network, &format!("LAV-A-{top} to T-A-{top}"), size("1-1/4 in")),
            ),
            (
                "length of the top trap arm",
                altered(&network, &format!("LAV-A-{top} to T-A-{top}"), length("8 ft")),
            ),
            (
                "slope of the top trap arm",
                altered(&network, &format!("LAV-A-{top} to T-A-{top}"), slope("1/8 in/ft")),
            ),
            (
                "size of the top bathroom branch",
                altered(&network, &format!("W1-A-{top} to W2-A-{top}"), size("2 in")),
            ),
            (
                "length of the top bathroom branch",
                altered(&network, &format!("W2-A-{top} to S1-A-{top}"), length("5 ft")),
            ),
            (
                "size of the top stack pipe",
                altered(&network, &format!("S1-A-{top} to S1-B-{top}"), size("3 in")),
            ),
            (
                "material of the top stack pipe",
                altered(
                    &network,
                    &format!("S1-A-{top} to S1-B-{top}"),
                    PipeProperty::Material(None),
                ),
            ),
            (
                "size of the top branch vent",
                altered(&network, &format!("T-A-{top} to V-T-A-{top}"), size("1-1/4 in")),
            ),
            (
                "type of the top lavatory (load to the bottom)",
                fixture(&network, &format!("LAV-A-{top}"), |one| {
                    one.fixture_type = FixtureType::KitchenSink
                }),
            ),
            (
                "a coupling in the top trap arm",
                split(&network, &format!("LAV-A-{top} to T-A-{top}")),
            ),
            (
                "a coupling in the top bathroom branch",
                split(&network, &format!("W2-A-{top} to S1-A-{top}")),
            ),
            (
                "the top tub gone",
                gone(
                    &network,
                    &[&format!("tub-A-{top}")],
                    &[&format!("tub-A-{top} to W2-A-{top}")],
                ),
            ),
            (
                "a coupling in the top branch vent",
                split(&network, &format!("V-T-A-{top} to VS1-{top}")),
            ),
            (
                "the vent of the top lavatory gone",
                gone(
                    &network,
                    &[&format!("V-T-A-{top}")],
                    &[
                        &format!("T-A-{top} to V-T-A-{top}"),
                        &format!("V-T-A-{top} to VS1-{top}"),
                    ],
                ),
            ),
            (
                "length of the lowest collector pipe",
                altered(&network, "C1-1 to BD-1", length("5 ft")),
            ),
            (
                "size of the lowest collector pipe",
                altered(&network, "C1-1 to BD-1", size("12 in")),
            ),
        ];
        let mut of_top = Vec::new();
        for (number, (what, edits)) in edits.iter().enumerate() {
            let times = sampled(&mut session, what, edits);
            if number < 10 {
                of_top.extend(times);
            }
        }
        of_top.sort_unstable();
        let at = |part: usize| of_top[(of_top.len() - 1) * part / 100];
        println!(
            "  all edits at the top whose path is short: median {:.1?}, 99 of 100 {:.1?}; a check takes {:.0} times the median (zone {zone})",
            at(50),
            at(99),
            whole.as_secs_f64() / at(50).as_secs_f64()
        );
    }
}
