//! What a network holds, in words, so that two may be compared: one that was read or edited, and what is read from its text.

use std::collections::BTreeMap;
use std::fmt::Debug;

use crownweir::network::{Members, Passage, Test, WriteError};
use crownweir::petgraph::visit::{EdgeRef, IntoEdgeReferences};
use crownweir::{Element, Finding, Limits, Network, Node, Pipe, Position, Report, RunId};

/// Files of any size.
pub const ANY: Limits = Limits {
    bytes: usize::MAX,
    depth: 32,
    nodes: usize::MAX,
    diagnostics: 50,
};

/// All that a network holds, save numbers and places in the file. With `written`, what a file has no words for is left out:
/// the bounds of a slope that was chosen, whether an opening is stated or follows, and the number behind a run's name.
#[must_use]
pub fn content(network: &Network, written: bool) -> Vec<String> {
    let graph = network.graph();
    let mut all = vec![
        format!("name {} {:?}", network.name(), network.notation()),
        format!("rules {:?} {:?}", network.rules(), network.framing_rules()),
        format!("dimensions {:?}", network.dimensions().collect::<Vec<_>>()),
        format!("site {:?}", network.site()),
        format!("storeys {:?}", network.storeys()),
        format!(
            "ends at {} {}",
            graph[network.disposal()].name,
            network.ends_in_sump()
        ),
    ];
    let members = network.framing().iter().map(|row| Members {
        position: Position::default(),
        ..row.clone()
    });
    all.push(debug("framing", &members.collect::<Vec<_>>()));
    let tests = network.tests().iter().map(|test| Test {
        position: Position::default(),
        ..test.clone()
    });
    all.push(debug("tests", &tests.collect::<Vec<_>>()));
    for (id, node) in graph.node_indices().zip(graph.node_weights()) {
        let plain = Node {
            position: Position::default(),
            ..node.clone()
        };
        all.push(debug("node", &(plain, network.place_in_plan(id))));
    }
    let mut runs: BTreeMap<RunId, Vec<&str>> = BTreeMap::new();
    for edge in graph.edge_references() {
        let own = edge.weight();
        runs.entry(own.run).or_default().push(&own.name);
        let [from, to] = [edge.source(), edge.target()].map(|id| &graph[id].name);
        let mut plain = Pipe {
            position: Position::default(),
            run: RunId::default(),
            ..own.clone()
        };
        if written {
            plain.enters_stated = false;
            plain.slope_bounds = plain.slope_bounds.filter(|_| plain.slope.is_none());
        }
        let ways = (
            network.bearing(edge.id()),
            network.offset(edge.id()),
            network.inverts(edge.id()),
        );
        all.push(debug(
            "pipe",
            &(from, to, plain, ways, network.goes_up(edge.id())),
        ));
    }
    for (run, mut pipes) in runs {
        pipes.sort_unstable();
        let run = network.run(run).expect("its run");
        let name = if written {
            run.name
                .trim_end_matches(|letter: char| letter == ' ' || letter.is_ascii_digit())
        } else {
            &*run.name
        };
        all.push(format!("run {name} {:?} {pipes:?}", run.kind));
    }
    for passage in network.passages() {
        let pipe = &graph[passage.pipe].name;
        let plain = Passage {
            position: Position::default(),
            pipe: Default::default(),
            ..passage.clone()
        };
        all.push(debug("passage", &(pipe, plain, network.centre_of(passage))));
    }
    all.sort_unstable();
    all
}

fn debug(what: &str, value: &dyn Debug) -> String {
    format!("{what} {value:?}")
}

/// What a check tells, in no order, save numbers and places in the file; and, where what was edited comes in another order, the
/// words.
#[must_use]
pub fn told(report: &Report, is_edited: bool) -> Vec<String> {
    let findings = report.findings.iter().map(|finding| {
        let mut plain: Finding = finding.clone();
        (plain.position, plain.element) = (Position::default(), Element::System);
        // Which of several data is named hangs on the order in which they are come upon.
        if !plain.missing.is_empty() || is_edited {
            (plain.message, plain.missing) = (String::new(), Vec::new());
        }
        format!("{plain:?}")
    });
    let mut all: Vec<_> = findings.collect();
    all.extend(report.summary.iter().map(|row| format!("{row:?}")));
    let on_site = report.on_site.iter();
    all.extend(on_site.map(|one| format!("{} {} {}", one.rule, one.message, one.count)));
    all.push(format!(
        "{:?} {:?} {:?}",
        report.protected, report.load, report.unnamed
    ));
    all.sort_unstable();
    all
}

/// The network in the text that is written of another; which reads as the same and, written again, is the same text.
///
/// # Errors
/// Why it does not go into a file.
///
/// # Panics
/// Where any of it is otherwise.
pub fn again(network: &Network, is_edited: bool) -> Result<Network, WriteError> {
    let text = network.to_yaml()?;
    let read = Network::read("again.yaml", text.as_bytes(), &ANY)
        .unwrap_or_else(|problems| panic!("{problems}\n{text}"));
    let (one, other) = (content(network, is_edited), content(&read, is_edited));
    if one != other {
        let only = |one: &[String], other: &[String]| -> Vec<String> {
            let only = one.iter().filter(|line| !other.contains(line));
            only.take(10).cloned().collect()
        };
        panic!("{:#?}\n{:#?}\n{text}", only(&one, &other), only(&other, &one));
    }
    let twice = read.to_yaml();
    assert_eq!(twice.as_deref().ok(), Some(&*text), "{twice:?}");
    Ok(read)
}
