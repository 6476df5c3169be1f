//! The graph in the DOT language of Graphviz: drains solid, vents dashed, both the way they flow.
//!
//! It is the bare graph; the drawing for people is the isometric one. Nodes are numbered as water and air flow, whatever
//! their numbers in the network.

use std::collections::HashMap;
use std::fmt::Write as _;

use crownweir_network::{Network, Node, NodeKind, Pipe};
use crownweir_vocabulary::Role;

use crate::plain::shortened;

/// The longest a name is written out.
const NAME: usize = 80;

/// The network as a directed graph.
#[must_use]
pub fn dot(network: &Network) -> String {
    let graph = network.graph();
    let mut out = format!("digraph {} {{\n  rankdir=BT\n", quoted(&[network.name()]));
    let order = network.flow_order();
    let mut places = HashMap::with_capacity(order.nodes.len());
    for (place, &id) in order.nodes.iter().enumerate() {
        places.insert(id, place);
        if let Some(node) = graph.node_weight(id) {
            let _ = writeln!(out, "  n{place} [{}]", node_attributes(network, node));
        }
    }
    for &id in &order.pipes {
        let ends = graph.edge_endpoints(id);
        let ends = ends.and_then(|(from, to)| Some((places.get(&from)?, places.get(&to)?)));
        if let (Some((from, to)), Some(pipe)) = (ends, graph.edge_weight(id)) {
            let attributes = pipe_attributes(network, pipe);
            let _ = writeln!(out, "  n{from} -> n{to} [{attributes}]");
        }
    }
    out.push_str("}\n");
    out
}

fn node_attributes(network: &Network, node: &Node) -> String {
    let (shape, what) = match &node.kind {
        NodeKind::Fixture(fixture) => ("box", fixture.fixture_type.to_string()),
        NodeKind::Fitting {
            pattern: Some(pattern),
        } => ("plain", pattern.to_string()),
        NodeKind::Fitting { pattern: None } => ("point", String::new()),
        NodeKind::Cleanout(_) => ("diamond", node.kind.word().to_owned()),
        NodeKind::Terminal(_) => ("triangle", node.kind.word().to_owned()),
        NodeKind::Valve(_) => ("invtriangle", node.kind.word().to_owned()),
        NodeKind::Disposal => ("doublecircle", node.kind.word().to_owned()),
    };
    let storey = node
        .storey
        .and_then(|storey| network.storeys().get(storey as usize))
        .map_or("", |storey| &storey.name);
    format!("shape={shape}, label={}", quoted(&[&node.name, &what, storey]))
}

fn pipe_attributes(network: &Network, pipe: &Pipe) -> String {
    let style = match pipe.role {
        Role::Vent => "dashed",
        _ => "solid",
    };
    let notation = network.notation();
    let size = pipe.size.map_or_else(String::new, |size| size.to_string());
    let slope = pipe
        .slope
        .map_or_else(String::new, |slope| slope.in_notation(notation).to_string());
    let length = pipe
        .length
        .map_or_else(String::new, |length| length.in_notation(notation).to_string());
    format!("style={style}, label={}", quoted(&[&size, &slope, &length]))
}

/// Lines of a label as a quoted string.
fn quoted(lines: &[&str]) -> String {
    let mut out = String::from("\"");
    let lines = lines.iter().filter(|line| !line.is_empty());
    for (number, line) in lines.enumerate() {
        if number > 0 {
            out.push_str("\\n");
        }
        for letter in shortened(line, NAME).chars() {
            if matches!(letter, '"' | '\\') {
                out.push('\\');
            }
            out.push(letter);
        }
    }
    out.push('"');
    out
}
