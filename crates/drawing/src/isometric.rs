//! An isometric view of a network whose every place is known: east and north at 30 degrees to either side, up straight.
//!
//! Along each axis short distances are drawn longer and long ones shorter than to scale, as on a sketch: what lies along
//! an axis stays along it, and what is east, north or above stays so.

use std::collections::HashMap;

use crownweir_quantity::Length;
use crownweir_vocabulary::RunKind;

use crate::figure::{Figure, Flag, Route, Stand};
use crate::scene::Point;
use crate::sheets::Parts;
use crate::web::{NONE, Web};

/// East, north and up, in metres.
pub(crate) type Place = [f64; 3];

/// Where every node is; none unless the network tells all of it.
pub(crate) fn places(web: &Web<'_>) -> Option<Vec<Place>> {
    let network = web.network;
    web.nodes()
        .iter()
        .map(|&id| {
            let [east, north] = network.place_in_plan(id);
            let up = network.graph().node_weight(id)?.elevation?;
            Some([east?, north?, up].map(Length::as_metres_f64))
        })
        .collect()
}

/// Units for a distance of a metre; others go with its root.
const METRE: f64 = 74.0;
/// From here down, falls among them, distances are drawn in proportion, in metres.
const SHORT: f64 = 0.12;
/// The longest that a distance between neighbours along an axis is drawn.
const LONGEST: f64 = 190.0;
/// A pipe that goes on on another sheet is drawn so far.
const STUB: f64 = 44.0;

fn drawn(distance: f64) -> f64 {
    let root = |distance: f64| METRE * distance.sqrt();
    if distance < SHORT {
        return root(SHORT) * distance / SHORT;
    }
    root(distance).min(LONGEST)
}

/// Where the values along an axis are drawn.
fn spread(mut values: Vec<f64>) -> Vec<(f64, f64)> {
    values.sort_by(f64::total_cmp);
    values.dedup();
    let mut at = 0.0;
    let mut before = values.first().copied().unwrap_or(0.0);
    values
        .into_iter()
        .map(|value| {
            at += drawn(value - before);
            before = value;
            (value, at)
        })
        .collect()
}

/// Between two values the place is in proportion.
fn along(axis: &[(f64, f64)], value: f64) -> f64 {
    let above = axis.partition_point(|(known, _)| *known < value);
    match (
        above.checked_sub(1).and_then(|below| axis.get(below)),
        axis.get(above),
    ) {
        (_, Some((known, at))) if *known <= value => *at,
        (Some((low, from)), Some((high, to))) => from + (to - from) * (value - low) / (high - low),
        (Some((_, at)), None) | (None, Some((_, at))) => *at,
        (None, None) => 0.0,
    }
}

struct View {
    axes: [Vec<(f64, f64)>; 3],
}

impl View {
    fn point(&self, place: Place) -> Point {
        let [east, north, up] = [0, 1, 2].map(|axis| along(&self.axes[axis], place[axis]));
        let (cosine, sine) = (3_f64.sqrt() / 2.0, 0.5);
        let x = (east + north) * cosine;
        let y = (east - north) * sine - up;
        Point::new(whole(x), whole(y))
    }
}

/// Coordinates are far smaller than what an integer holds, and a wild one only lands elsewhere.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a cast from floating point saturates"
)]
fn whole(value: f64) -> i32 {
    value.round().clamp(-1e6, 1e6) as i32
}

/// The isometric view of one sheet.
pub(crate) fn isometric(web: &Web<'_>, parts: &Parts, sheet: u32, places: &[Place]) -> Figure {
    let here = [&parts.drains, &parts.vents];
    let here = here.iter().filter_map(|list| list.get(sheet as usize));
    let nodes: Vec<u32> = here.flatten().copied().collect();
    let place = |node: u32| places.get(node as usize).copied().unwrap_or_default();
    let view = View {
        axes: [0, 1, 2].map(|axis| spread(nodes.iter().map(|&node| place(node)[axis]).collect())),
    };
    let points: HashMap<u32, Point> = nodes
        .iter()
        .map(|&node| (node, view.point(place(node))))
        .collect();
    let mut figure = Figure::default();
    for &node in &nodes {
        let Some(&at) = points.get(&node) else { continue };
        let next = match web.down[node as usize] {
            NONE => web.vents_in[node as usize].first().copied(),
            down => Some(down),
        };
        let other = next.map(|pipe| {
            let ends = [web.from[pipe as usize], web.to[pipe as usize]];
            if ends[0] == node { ends[1] } else { ends[0] }
        });
        let leads = other.and_then(|other| points.get(&other));
        let facing = if leads.is_some_and(|other| other.x > at.x) {
            -1
        } else {
            1
        };
        figure.stands.insert(node, Stand { at, facing });
        let inlets = [&web.drains_in[node as usize], &web.vents_in[node as usize]];
        let outlets = web.vents_out[node as usize].iter().copied();
        let down = web.down[node as usize];
        let outlets = outlets.chain((down != NONE).then_some(down));
        for pipe in outlets {
            let to = web.to[pipe as usize];
            match points.get(&to) {
                Some(&end) => figure.routes.push(Route {
                    pipe,
                    points: vec![at, end],
                }),
                None => figure.stub(pipe, at, [place(node), place(to)], true),
            }
        }
        for &pipe in inlets.into_iter().flatten() {
            let from = web.from[pipe as usize];
            if !points.contains_key(&from) {
                figure.stub(pipe, at, [place(node), place(from)], false);
            }
        }
    }
    figure.routes.sort_by_key(|route| route.pipe);
    figure.flags.sort_by_key(|flag| (flag.pipe, flag.at));
    figure.ticks(web, parts, sheet, &view, places);
    figure
}

impl Figure {
    /// The beginning of a pipe that goes on on another sheet.
    fn stub(&mut self, pipe: u32, at: Point, [own, other]: [Place; 2], leaves: bool) {
        let apart: Vec<f64> = own.iter().zip(other).map(|(own, other)| other - own).collect();
        let length = apart.iter().map(|part| part * part).sum::<f64>().sqrt();
        let scale = if length > 0.0 { STUB / length } else { 0.0 };
        let [east, north, up] = [0, 1, 2].map(|axis| apart[axis] * scale);
        let (cosine, sine) = (3_f64.sqrt() / 2.0, 0.5);
        let end = Point::new(
            at.x + whole((east + north) * cosine),
            at.y + whole((east - north) * sine - up),
        );
        self.flags.push(Flag {
            pipe,
            at: end,
            facing: if end.x < at.x { -1 } else { 1 },
            leaves,
        });
        let points = if leaves { vec![at, end] } else { vec![end, at] };
        self.routes.push(Route { pipe, points });
    }

    /// Where stacks and their vents pass the floor of a storey; where none does, one other vertical pipe that does.
    fn ticks(&mut self, web: &Web<'_>, parts: &Parts, sheet: u32, view: &View, places: &[Place]) {
        let storeys = (0..).zip(web.network.storeys());
        let floors: Vec<(u32, f64)> = storeys
            .filter_map(|(number, storey)| Some((number, storey.elevation?.as_metres_f64())))
            .collect();
        let mut others = Vec::new();
        for pipe in self.routes.iter().map(|route| route.pipe) {
            let [from, to] = [web.from[pipe as usize], web.to[pipe as usize]];
            let inside = [from, to].map(|node| parts.sheet_of.get(node as usize) == Some(&sheet));
            if !web.is_upright[pipe as usize] || inside != [true, true] {
                continue;
            }
            let [Some(from), Some(to)] = [from, to].map(|node| places.get(node as usize)) else {
                continue;
            };
            let is_stack = matches!(
                web.kind_of(pipe),
                Some(RunKind::Stack | RunKind::StackVent | RunKind::VentStack)
            );
            let (low, high) = (from[2].min(to[2]), from[2].max(to[2]));
            for &(storey, floor) in &floors {
                if low < floor && floor < high {
                    let share = (floor - from[2]) / (to[2] - from[2]);
                    let at = [0, 1, 2].map(|axis| from[axis] + (to[axis] - from[axis]) * share);
                    let list = if is_stack { &mut self.ticks } else { &mut others };
                    list.push((view.point(at), storey));
                }
            }
        }
        others.sort_unstable();
        for (at, storey) in others {
            if self.ticks.iter().all(|(_, known)| *known != storey) {
                self.ticks.push((at, storey));
            }
        }
        self.ticks.sort_unstable();
    }
}
