//! The sheet of levels: where every fitting stands, and the height of every drain at both ends.

use crownweir_network::{NodeId, NodeKind};
use crownweir_quantity::Slope;
use crownweir_vocabulary::Role;
use petgraph::Direction::Outgoing;
use petgraph::visit::EdgeRef;

use crate::clashes::clashes;
use crate::contradictions::strained_in_words;
use crate::job::Job;
use crate::sheet::{Cell, Column, Holds, Sheet, heading, rounded};

/// Where fittings and fixtures stand.
pub(crate) fn places(job: &Job<'_>) -> Sheet {
    let network = job.network;
    let mut rows = Vec::new();
    for id in job.nodes_in_order() {
        let Some(node) = network.graph().node_weight(id) else {
            continue;
        };
        let storey = node
            .storey
            .and_then(|storey| network.storeys().get(storey as usize));
        let floor = storey.and_then(|storey| storey.elevation);
        let place = job.geometry.place(id);
        let above_floor = place.up.zip(floor).and_then(|(up, floor)| up.checked_sub(floor));
        rows.push(vec![
            storey.map_or(Cell::Empty, |storey| Cell::from(&*storey.name)),
            Cell::from(&*node.name),
            Cell::from(what(&node.kind)),
            Cell::length_or(place.east, &missing(&node.name, "how far east it stands")),
            Cell::length_or(place.north, &missing(&node.name, "how far north it stands")),
            Cell::length_or(place.up, &missing(&node.name, "its height")),
            match (storey, place.up) {
                (None, _) | (_, None) => Cell::Empty,
                (Some(_), Some(_)) => {
                    Cell::length_or(above_floor, &missing(&node.name, "its floor's elevation"))
                }
            },
        ]);
    }
    let (clashes, all) = clashes(job);
    let mut notes: Vec<String> = clashes
        .into_iter()
        .map(|clash| format!("{}.", clash.message))
        .collect();
    if !all {
        notes.push(
            "So many pipes lie close together that not all were compared for running into each other."
                .to_owned(),
        );
    }
    notes.extend(strained_in_words(network));
    notes.push(
        "East and north are from the origin in plan; heights are of centre lines above the datum, those of fixtures of \
         their trap weirs."
            .to_owned(),
    );
    Sheet {
        name: "places",
        title: "where everything stands".to_owned(),
        network: network.name().to_owned(),
        notation: network.notation(),
        columns: vec![
            Column::new("storey", "storey", Holds::Text),
            Column::new("name", "name", Holds::Text),
            Column::new("what", "what", Holds::Text),
            Column::new("east", "east", Holds::Length),
            Column::new("north", "north", Holds::Length),
            Column::new("height", "height", Holds::Length),
            Column::new("above_floor", "above floor", Holds::Length),
        ],
        headings: 1,
        rows,
        notes,
    }
}

/// The heights of drains along their way down.
pub(crate) fn levels(job: &Job<'_>) -> Sheet {
    let network = job.network;
    let graph = network.graph();
    let mut rows = Vec::new();
    for from in job.nodes_in_order() {
        for edge in graph.edges_directed(from, Outgoing) {
            let pipe = edge.weight();
            if pipe.role != Role::Drain || pipe.slope.is_some_and(Slope::is_vertical) {
                continue;
            }
            let way = job.geometry.way(edge.id());
            let name = |id: NodeId| graph.node_weight(id).map_or("", |node| &*node.name);
            let run = network.run(pipe.run);
            let invert = |end: usize| {
                let known = way.inverts.and_then(|inverts| inverts.get(end).copied());
                Cell::length_or(known, &job.missing_invert(pipe))
            };
            // As the two heights beside it are read, so that the three come out even.
            let read = way
                .inverts
                .map(|inverts| inverts.map(|invert| rounded(invert, network.notation())));
            let fall = read.and_then(|[start, end]| start.checked_sub(end));
            rows.push(vec![
                run.map_or(Cell::Empty, |run| Cell::from(&*run.name)),
                Cell::from(name(edge.source())),
                Cell::from(name(edge.target())),
                pipe.size.map_or_else(
                    || Cell::not_stated(missing(&pipe.name, "its size")),
                    |size| Cell::from(size.to_string()),
                ),
                Cell::length_or(way.length, &missing(&pipe.name, "its length")),
                match way.slope {
                    Some(slope) => Cell::Slope(slope),
                    None => Cell::not_stated(missing(&pipe.name, "its slope")),
                },
                match way.bearing {
                    Some(bearing) => Cell::from(heading(bearing)),
                    None => Cell::not_stated(missing(&pipe.name, "its direction in plan")),
                },
                invert(0),
                invert(1),
                fall.map_or(Cell::Empty, Cell::Length),
            ]);
        }
    }
    Sheet {
        name: "levels",
        title: "falls and inverts of the drains".to_owned(),
        network: network.name().to_owned(),
        notation: network.notation(),
        columns: vec![
            Column::new("run", "run", Holds::Text),
            Column::new("from", "from", Holds::Text),
            Column::new("to", "to", Holds::Text),
            Column::new("size", "size", Holds::Text),
            Column::new("length", "centre to centre", Holds::Length),
            Column::new("slope", "slope", Holds::Slope),
            Column::new("direction", "direction", Holds::Text),
            Column::new("invert_at_start", "invert at start", Holds::Length),
            Column::new("invert_at_end", "invert at end", Holds::Length),
            Column::new("fall", "fall", Holds::Length),
        ],
        headings: 1,
        rows,
        notes: vec![
            "Inverts are heights of the inside bottom above the datum, half the inside diameter below the centre line. \
             Vertical pipes are left out."
                .to_owned(),
        ],
    }
}

/// `how far east it stands` of `T-1`.
pub(crate) fn missing(name: &str, what: &str) -> String {
    format!("`{name}`: {what}")
}

fn what(kind: &NodeKind) -> String {
    match kind {
        NodeKind::Fitting {
            pattern: Some(pattern),
        } => pattern.to_string(),
        NodeKind::Fixture(fixture) => fixture.fixture_type.to_string(),
        other => other.word().to_owned(),
    }
}
