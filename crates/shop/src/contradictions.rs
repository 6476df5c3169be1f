//! Fittings that do not turn as their pipes do, in words.

use crownweir_document::Diagnostic;
use crownweir_network::angles::{
    Mismatch, angle, entered, in_tenths, mismatch, others, outlet, strained, turn,
};
use crownweir_network::{Network, Node, NodeId, NodeKind, Position};
use crownweir_quantity::Length;
use crownweir_vocabulary::{FittingPattern, Inlet};

use crate::sheet::on_tape;

/// A fitting that its pipes deny.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Contradiction {
    /// The fitting.
    pub fitting: NodeId,
    /// What denies it, with both figures and the place in the file.
    pub problem: Diagnostic,
}

/// Every fitting that turns otherwise than its pipes do, or that a pipe is stated to enter by another opening than its
/// angle tells; the first that is wrong with each, in the order of the file.
pub(crate) fn contradictions(network: &Network) -> Vec<Contradiction> {
    let mut found = Vec::new();
    for (id, node, pattern) in fittings(network) {
        let wrong = wrong_angle(network, id, pattern)
            .map(|message| {
                (
                    node.position,
                    message,
                    "correct the pattern, a direction or a slope",
                )
            })
            .or_else(|| {
                let (position, message) = wrong_opening(network, id, pattern)?;
                Some((position, message, "correct `enters`, or a direction or a slope"))
            });
        if let Some((position, message, help)) = wrong {
            let (line, column) = (position.line as usize, position.column as usize);
            let problem = Diagnostic::at(network.file(), line, column, message).helped(help);
            found.push(Contradiction { fitting: id, problem });
        }
    }
    found.sort_by_key(|one: &Contradiction| (one.problem.place.line, one.problem.place.column));
    found
}

/// The fittings of known pattern, along the flow.
fn fittings(network: &Network) -> impl Iterator<Item = (NodeId, &Node, FittingPattern)> {
    network.flow_order().nodes.into_iter().filter_map(|id| {
        let node = network.graph().node_weight(id)?;
        match node.kind {
            NodeKind::Fitting { pattern } => Some((id, node, pattern?)),
            _ => None,
        }
    })
}

/// A pipe that is stated to enter a fitting by one opening and does by another.
fn wrong_opening(network: &Network, node: NodeId, pattern: FittingPattern) -> Option<(Position, String)> {
    if !pattern.has_branch() {
        return None;
    }
    let graph = network.graph();
    let name = &graph.node_weight(node)?.name;
    let outlet = outlet(network, node)?;
    others(network, node, outlet).find_map(|pipe| {
        let own = graph.edge_weight(pipe).filter(|own| own.enters_stated)?;
        let comes_in = graph.edge_endpoints(pipe).is_some_and(|(_, to)| to == node);
        let angle = angle(network, node, pipe, outlet).filter(|_| comes_in)?;
        let enters = entered(pattern, angle);
        let opening = |inlet: Inlet| match inlet {
            Inlet::Branch => "branch",
            _ => "run",
        };
        (enters != own.enters).then(|| {
            let message = format!(
                "`{}` is stated to enter `{name}` ({pattern}) by its {}, but at {} to `{}` it comes in by its {}",
                own.name,
                opening(own.enters),
                in_tenths(angle),
                graph.edge_weight(outlet).map_or("", |outlet| &*outlet.name),
                opening(enters),
            );
            (own.position, message)
        })
    })
}

/// A note for each pipe that is out of its fitting's angle by more than falls come to, if not so far that the fitting is
/// denied; with how far that puts the far end of the longer of the two pipes aside: `2 l sin(t / 2)`.
pub(crate) fn strained_in_words(network: &Network) -> Vec<String> {
    let graph = network.graph();
    let mut notes = Vec::new();
    for (id, _, pattern) in fittings(network) {
        for (found, off) in strained(network, id, pattern) {
            let both = [found.outlet, found.pipe].map(|pipe| graph.edge_weight(pipe));
            let longer = both.into_iter().flatten().max_by_key(|pipe| pipe.length);
            let aside = longer.and_then(|pipe| {
                let length = pipe.length?;
                let aside = 2.0 * length.as_metres_f64() * (off.to_radians() / 2.0).sin();
                let shown = |length| on_tape(length, network.notation());
                let aside = shown(Length::from_metres_f64(aside)?);
                Some(format!(
                    ": {aside} aside over the {} of `{}`",
                    shown(length),
                    pipe.name
                ))
            });
            notes.push(format!(
                "{}, {} off{}. The places are by the directions and slopes of the file, not by the fitting.",
                turns_otherwise(network, id, pattern, found),
                in_tenths(off),
                aside.unwrap_or_default()
            ));
        }
    }
    notes
}

fn wrong_angle(network: &Network, node: NodeId, pattern: FittingPattern) -> Option<String> {
    let found = mismatch(network, node, pattern)?;
    Some(turns_otherwise(network, node, pattern, found))
}

/// How a fitting turns, and how the pipes at it do.
fn turns_otherwise(network: &Network, node: NodeId, pattern: FittingPattern, found: Mismatch) -> String {
    let graph = network.graph();
    let called = |pipe| graph.edge_weight(pipe).map_or("", |pipe| &*pipe.name);
    let turn = turn(pattern);
    let has = match (pattern.has_branch(), turn == 0.0) {
        (true, _) => format!("has a branch at {}", in_tenths(turn)),
        (false, true) => "goes straight on".to_owned(),
        (false, false) => format!("turns {}", in_tenths(turn)),
    };
    format!(
        "`{}` ({pattern}) {has}, but `{}` is at {} to `{}`",
        graph.node_weight(node).map_or("", |node| &*node.name),
        called(found.pipe),
        found.in_tenths(),
        called(found.outlet),
    )
}
