//! The sheet of offsets: lines moved aside by two bends of one angle, stated or found by their geometry.
//!
//! Where the file states set and roll, they are listed as stated. What is found is in floating point.

use std::collections::HashMap;

use crownweir_network::{Network, NodeId, NodeKind, Offset, PipeId, angles};
use crownweir_quantity::{Angle, Length, Slope};
use petgraph::visit::{EdgeRef, IntoEdgeReferences};

use crate::geometry::Geometry;
use crate::job::Job;
use crate::sheet::{Cell, Column, Holds, Sheet, heading};

/// An offset of a network, all figures from centre to centre.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct PipeOffset {
    /// The slanting pipe.
    pub pipe: PipeId,
    /// Whether the line that it moves aside is vertical.
    pub plumb: bool,
    /// Set, roll and fitting angle. In a level line the set is vertical; in a vertical one whose set and roll the file does
    /// not state, the whole is set, in the direction of the pipe.
    pub offset: Offset,
    /// The length of the slanting pipe.
    pub travel: Length,
    /// How far the line gets on meanwhile in its own direction.
    pub advance: Length,
}

/// Every offset of a network whose figures are known, in the order of the file.
///
/// One that the file does not state is a pipe between two fittings that turn it by one angle under a right one, away from a
/// line and back to the same direction. Its travel `t` is the way from one to the other; the advance is the part of `t`
/// along the line, and what is left the true offset, whose upward part in a level line is the set and whose level part the
/// roll. What the line itself falls over the travel is no set.
#[must_use]
pub fn pipe_offsets(network: &Network, geometry: &Geometry) -> Vec<PipeOffset> {
    let graph = network.graph();
    let mut pipes: Vec<_> = graph.edge_references().collect();
    pipes.sort_by_key(|pipe| {
        let position = pipe.weight().position;
        (position.line, position.column, &pipe.weight().name)
    });
    let of = |pipe: PipeId, from, to| match network.offset(pipe) {
        Some(offset) => stated(network, pipe, from, offset),
        None => by_geometry(network, geometry, pipe, (from, to)),
    };
    let found = pipes
        .iter()
        .filter_map(|pipe| of(pipe.id(), pipe.source(), pipe.target()));
    found.collect()
}

fn stated(network: &Network, pipe: PipeId, from: NodeId, offset: Offset) -> Option<PipeOffset> {
    let before = angles::others(network, from, pipe).next();
    let before = before.and_then(|before| network.graph().edge_weight(before)?.slope);
    Some(PipeOffset {
        pipe,
        plumb: before.is_some_and(Slope::is_vertical),
        offset,
        travel: offset.travel()?,
        advance: offset.advance()?,
    })
}

/// By how much a fitting turns, in degrees, where that is less than a right angle.
fn slant(network: &Network, node: NodeId) -> Option<(f64, bool)> {
    let NodeKind::Fitting {
        pattern: Some(pattern),
    } = network.graph().node_weight(node)?.kind
    else {
        return None;
    };
    let turn = angles::turn(pattern);
    (angles::PLAY < turn && turn < 90.0 - angles::PLAY).then_some((turn, pattern.has_branch()))
}

fn by_geometry(
    network: &Network,
    geometry: &Geometry,
    pipe: PipeId,
    (from, to): (NodeId, NodeId),
) -> Option<PipeOffset> {
    let ((turn, branch), (other, _)) = (slant(network, from)?, slant(network, to)?);
    if branch || (turn - other).abs() > f64::EPSILON || angles::outlet(network, from)? != pipe {
        return None;
    }
    let (before, after) = (
        angles::others(network, from, pipe).next()?,
        angles::outlet(network, to)?,
    );
    let turns = [
        angles::angle(network, from, before, pipe)?,
        angles::angle(network, to, pipe, after)?,
    ];
    let goes_on = angles::turned(network, before, after)?;
    if goes_on > angles::PLAY || turns.iter().any(|own| (own - turn).abs() > angles::PLAY) {
        return None;
    }
    let length = geometry.way(pipe).length?;
    let (line, way) = (angles::way_of(network, before)?, angles::way_of(network, pipe)?);
    let travel = length.as_metres_f64();
    let dot: f64 = line.iter().zip(way).map(|(line, way)| line * way).sum();
    let advance = travel * dot;
    let aside: Vec<f64> = line
        .iter()
        .zip(way)
        .map(|(line, way)| travel * way - advance * line)
        .collect();
    let [east, north, up] = *aside.as_slice() else {
        return None;
    };
    let plumb = network.graph().edge_weight(before)?.slope?.is_vertical();
    let own_fall = (travel * line[2]).abs();
    let (set, roll) = match plumb {
        true => (east.hypot(north), 0.0),
        false if up.abs() <= own_fall => (0.0, east.hypot(north)),
        false => (up.abs(), east.hypot(north)),
    };
    Some(PipeOffset {
        pipe,
        plumb,
        offset: Offset {
            set: Length::from_metres_f64(set)?,
            roll: Length::from_metres_f64(roll)?,
            angle: Angle::from_microdegrees((turn * 1e6).round() as i64),
        },
        travel: length,
        advance: Length::from_metres_f64(advance)?,
    })
}

/// The sheet of offsets.
pub(crate) fn offsets(job: &Job<'_>) -> Sheet {
    let network = job.network;
    let graph = network.graph();
    let marks: HashMap<PipeId, &str> = job
        .pieces
        .iter()
        .map(|piece| (piece.pipe, piece.mark.as_str()))
        .collect();
    let rows = pipe_offsets(network, &job.geometry)
        .into_iter()
        .filter_map(|found| {
            let pipe = graph.edge_weight(found.pipe)?;
            let (from, to) = graph.edge_endpoints(found.pipe)?;
            let name = |id: NodeId| {
                graph
                    .node_weight(id)
                    .map_or(Cell::Empty, |node| Cell::from(&*node.name))
            };
            let run = network.run(pipe.run);
            let known = |length: Length| match length {
                Length::ZERO => Cell::Empty,
                length => Cell::Length(length),
            };
            Some(vec![
                run.map_or(Cell::Empty, |run| Cell::from(&*run.name)),
                marks
                    .get(&found.pipe)
                    .map_or(Cell::Empty, |mark| Cell::from(*mark)),
                name(from),
                name(to),
                Cell::from(if found.plumb { "vertical" } else { "level" }),
                Cell::from(found.offset.angle.to_string()),
                known(found.offset.set),
                known(found.offset.roll),
                found.offset.true_offset().map_or(Cell::Empty, Cell::Length),
                Cell::Length(found.travel),
                Cell::Length(found.advance),
                match network.bearing(found.pipe) {
                    Some(bearing) => Cell::from(heading(bearing)),
                    None => Cell::Empty,
                },
            ])
        });
    let mut notes: Vec<String> = job.contradictions("no offset at it is listed").collect();
    notes.push(
        "All from centre to centre; the cut list has the pieces from end to end. In a level line the set is vertical and the \
         roll level. The true offset is the root of the sum of their squares; over the sine of the fitting angle it is the \
         travel, over its tangent the advance."
            .to_owned(),
    );
    Sheet {
        name: "offsets",
        title: "offsets".to_owned(),
        network: network.name().to_owned(),
        notation: network.notation(),
        columns: vec![
            Column::new("run", "run", Holds::Text),
            Column::new("piece", "piece", Holds::Text),
            Column::new("from", "from", Holds::Text),
            Column::new("to", "to", Holds::Text),
            Column::new("line", "line", Holds::Text),
            Column::new("fitting_angle", "fitting angle", Holds::Text),
            Column::new("set", "set", Holds::Length),
            Column::new("roll", "roll", Holds::Length),
            Column::new("true_offset", "true offset", Holds::Length),
            Column::new("travel", "travel", Holds::Length),
            Column::new("advance", "advance", Holds::Length),
            Column::new("direction", "travel goes", Holds::Text),
        ],
        headings: 1,
        rows: rows.collect(),
        notes,
    }
}
