//! What stands in a pipe's way where it comes to framing: wood that it comes down or runs along in, and hubs in holes.
//!
//! It looks only where members are laid out and pipes have places; what is not known to meet is not told.

use std::collections::{HashMap, HashSet};

use crownweir_network::{Layout, Members, Network, NodeId, Passage, Pipe, PipeId, Position};
use crownweir_quantity::Length;
use crownweir_vocabulary::{Cut, MemberRuns};
use petgraph::Direction::{Incoming, Outgoing};

use crate::cut::{End, Piece};
use crate::job::Job;
use crate::sheet::{on_tape, rounded};

/// What is told of the hubs beside the wood that a pipe passes.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Hubs {
    /// Of those that reach into it.
    pub(crate) in_wood: Vec<String>,
    /// Of those of which it is not known.
    pub(crate) open: Vec<String>,
}

/// So many times the outside diameter of its pipe no fitting reaches from its centre: what is further away is not asked for
/// its dimensions.
const FURTHEST_REACH: i64 = 4;

/// What is to be said of each end of the pipe at a bored passage whose fitting reaches into the wood, or may do so: a hole
/// passes pipe, not hubs.
///
/// A fitting reaches as far from its centre as the pipe's stop and what the pipe is inside. The faces of the member are half
/// its thickness over the cosine of the slant from its middle.
///
/// `pieces` are those of the pipe.
pub(crate) fn hubs(job: &Job<'_>, network: &Network, passage: &Passage, pieces: &[&Piece]) -> Hubs {
    let graph = network.graph();
    let mut told = Hubs::default();
    let (Some(along), Cut::Bored, Some(half)) = (passage.along, passage.cut, half_of_wood(network, passage))
    else {
        return told;
    };
    let (Some(length), Some((from, to)), Some(pipe), Some(members)) = (
        job.geometry.way(passage.pipe).length,
        graph.edge_endpoints(passage.pipe),
        graph.edge_weight(passage.pipe),
        network.framing().get(passage.members as usize),
    ) else {
        return told;
    };
    let name = |node| {
        graph
            .node_weight(node)
            .map_or_else(String::new, |node| format!("`{}`", node.name))
    };
    // The ends of pieces, what they are in, and how far its middle is from that of the member.
    let mut found = Vec::new();
    let mut place = Some(Length::ZERO);
    for piece in pieces {
        if !piece.is_coupled(0) {
            found.push((&piece.ends[0], name(from), Some(along)));
        }
        place = place
            .zip(piece.centres)
            .and_then(|(place, centres)| place.checked_add(centres));
        if piece.is_coupled(1) {
            let off = place
                .map(|place| Length::from_nanometres(place.nanometres().abs_diff(along.nanometres()) as i64));
            found.push((
                &piece.ends[1],
                format!("the coupling of {} and the next", piece.mark),
                off,
            ));
        } else {
            found.push((&piece.ends[1], name(to), length.checked_sub(along)));
        }
    }
    let outside = pipe.material.zip(pipe.size);
    let outside = outside.and_then(|(material, size)| Some(job.dimensions.pipe(material, size)?.outside));
    let furthest = outside.and_then(|outside| outside.checked_scale(FURTHEST_REACH, 1));
    let tape = |length: Length| rounded(length, network.notation());
    let shown = |length: Length| on_tape(length, network.notation());
    for (end, what, middle) in found {
        let (reach, missing) = match end {
            End::Fitting { stop, engagement, .. } => {
                let reach = stop.checked_add(engagement.unwrap_or_default());
                let thick = format!("the thickness of `{}`", members.name);
                (
                    reach,
                    Some(thick).filter(|_| network.thickness_at(passage).is_none()),
                )
            }
            End::NotStated(missing) => (Some(Length::ZERO), Some(missing.clone())),
            End::Trap => (Some(Length::ZERO), None),
            End::Open => continue,
        };
        let (Some(reach), Some(face)) = (reach, middle.and_then(|middle| middle.checked_sub(half))) else {
            continue;
        };
        let called = format!("`{}, {} {}`", pipe.name, members.name, passage.called());
        if tape(face) >= tape(reach) {
            let near = furthest.is_none_or(|furthest| face < furthest);
            told.open.extend(missing.filter(|_| near).map(|missing| {
                format!(
                    "open, {called}: whether {what} stands clear of the wood, {} from its centre, for this is not stated: \
                     {missing}. A hole passes pipe, not hubs.",
                    shown(face)
                )
            }));
            continue;
        }
        let stands = if face > Length::ZERO {
            format!(
                "begins {} from its centre, and its hub reaches {}",
                shown(face),
                shown(reach)
            )
        } else {
            "is where its centre stands".to_owned()
        };
        told.in_wood.push(format!(
            "{called}: {what} stands too near, for the wood {stands}. A hole passes pipe, not hubs."
        ));
    }
    told
}

/// How far the wood of the member that a pipe passes reaches along the pipe from its middle.
pub(crate) fn half_of_wood(network: &Network, passage: &Passage) -> Option<Length> {
    let cosine = network.slant(passage).map_or(1.0, |slant| slant.cosine);
    let thickness = network.thickness_at(passage).unwrap_or_default();
    Length::from_metres_f64(thickness.as_metres_f64() / 2.0 / cosine)
}

/// A row of members that are laid out, between two heights.
struct Row<'n> {
    /// Its place among all rows.
    number: u32,
    members: &'n Members,
    layout: &'n Layout,
    top: Length,
    bottom: Length,
}

impl Row<'_> {
    /// The axes across its members and along them: east is 0, north 1.
    fn axes(&self) -> (usize, usize) {
        match self.layout.runs {
            MemberRuns::EastWest => (1, 0),
            _ => (0, 1),
        }
    }

    /// Whether anything between two places along its members is between their bearings.
    fn bears_over(&self, [one, other]: [Length; 2]) -> bool {
        self.layout
            .bearings
            .is_none_or(|[start, end]| one.min(other) <= start.max(end) && start.min(end) <= one.max(other))
    }
}

/// What is told of a pipe or a fitting and a row of members that is laid out.
pub(crate) struct Told {
    pub(crate) note: String,
    /// Where the file has what stands in wood that is to be whole.
    pub(crate) in_wood: Option<Position>,
}

/// A note for each pipe that stands or runs along in the wood of a member that is laid out, for each that ends in it, and for
/// each that falls out of a row below it.
pub(crate) fn in_members(job: &Job<'_>) -> Vec<Told> {
    let network = job.network;
    let rows = (0..).zip(network.framing());
    let rows: Vec<Row<'_>> = rows
        .filter_map(|(number, members)| row(network, number, members))
        .collect();
    let mut notes = Vec::new();
    if rows.is_empty() {
        return notes;
    }
    let mut pieces: HashMap<PipeId, [Option<&End>; 2]> = HashMap::new();
    for piece in &job.pieces {
        let own = pieces.entry(piece.pipe).or_default();
        for (index, (own, end)) in own.iter_mut().zip(&piece.ends).enumerate() {
            if !piece.is_coupled(index) {
                *own = Some(end);
            }
        }
    }
    let passed = network.passages().iter();
    let passed: HashSet<(PipeId, u32, i64)> = passed
        .filter_map(|passage| Some((passage.pipe, passage.members, i64::from(passage.member?))))
        .collect();
    let mut told = HashSet::new();
    for (id, pipe) in job.pipes() {
        let Some(laid) = laid(job, id, pipe).filter(|_| !pipe.underground) else {
            continue;
        };
        for row in &rows {
            let in_row = in_row(network, &laid, row);
            told.extend(in_row.iter().map(|one| one.note.clone()));
            if in_row.is_none() {
                let ends = pieces.get(&id).copied().unwrap_or_default();
                let beside = hubs_beside(network, &laid, row, ends).into_iter();
                notes.extend(beside.filter(|one| told.insert(one.note.clone())));
            }
            notes.extend(in_row);
            let at_ends = at_ends(job, &laid, row, &passed).into_iter();
            notes.extend(at_ends.filter(|one| told.insert(one.note.clone())));
        }
    }
    notes
}

/// A pipe whose diameter is known.
struct Laid<'n> {
    pipe: &'n Pipe,
    ends: [NodeId; 2],
    /// Where its ends are, as far as that is known.
    places: [Option<[Length; 3]>; 2],
    /// Half its outside diameter.
    radius: Length,
}

fn laid<'n>(job: &Job<'_>, id: PipeId, pipe: &'n Pipe) -> Option<Laid<'n>> {
    let (from, to) = job.network.graph().edge_endpoints(id)?;
    let outside = job.dimensions.pipe(pipe.material?, pipe.size?)?.outside;
    Some(Laid {
        pipe,
        ends: [from, to],
        places: [from, to].map(|node| job.geometry.place(node).known()),
        radius: outside.checked_scale(1, 2)?,
    })
}

fn row<'n>(network: &Network, number: u32, members: &'n Members) -> Option<Row<'n>> {
    let layout = members.layout.as_ref()?;
    let floor = network.storeys().get(members.storey? as usize)?.elevation?;
    let top = floor.checked_add(members.top?)?;
    Some(Row {
        number,
        members,
        layout,
        top,
        bottom: top.checked_sub(members.depth?)?,
    })
}

fn in_row(network: &Network, laid: &Laid<'_>, row: &Row<'_>) -> Option<Told> {
    let (pipe, radius) = (laid.pipe, laid.radius);
    let [Some(start), Some(end)] = laid.places else {
        return None;
    };
    let (across, own) = row.axes();
    let (low, high) = (start[2].min(end[2]), start[2].max(end[2]));
    // What is plumb ends where it turns, what lies is as high as it is wide.
    let plumb = pipe.slope.is_some_and(crownweir_quantity::Slope::is_vertical);
    let beside = if plumb { Length::ZERO } else { radius };
    let meets = low < row.top.checked_add(beside)? && row.bottom.checked_sub(beside)? < high;
    if !meets || !row.bears_over([start[own], end[own]]) {
        return None;
    }
    if start[across] != end[across] {
        let note = falls_out(
            row,
            &pipe.name,
            [start, end].map(|[east, north, up]| [[east, north][across], up]),
            radius,
        )?;
        return Some(Told { note, in_wood: None });
    }
    let found = in_wood(row, start[across], radius)?;
    let does = if plumb { "stands" } else { "runs along" };
    Some(Told {
        note: found.told(network, row, &pipe.name, does),
        in_wood: Some(pipe.position),
    })
}

/// A note for each hub of a plumb pipe that stands beside a member: how wide hubs are no data tell, only that they are wider
/// than the pipe, and none is half as wide again.
fn hubs_beside(network: &Network, laid: &Laid<'_>, row: &Row<'_>, ends: [Option<&End>; 2]) -> Vec<Told> {
    let [Some(start), Some(end)] = laid.places else {
        return Vec::new();
    };
    let (across, own) = row.axes();
    let plumb = laid
        .pipe
        .slope
        .is_some_and(crownweir_quantity::Slope::is_vertical);
    let hub = laid.radius.checked_scale(3, 2);
    let near = hub.and_then(|hub| in_wood(row, start[across], hub));
    let Some(found) = near.filter(|_| plumb && row.bears_over([start[own], end[own]])) else {
        return Vec::new();
    };
    let wider = hub.and_then(|hub| hub.checked_sub(laid.radius));
    let pipe_clear = wider.and_then(|wider| found.clear.checked_sub(wider));
    let reach = |end: &End| match end {
        End::Fitting { stop, engagement, .. } => stop.checked_add(engagement.unwrap_or_default()),
        End::NotStated(_) => laid.radius.checked_scale(2 * FURTHEST_REACH, 1),
        End::Trap | End::Open => None,
    };
    let shown = |length: Length| on_tape(length, network.notation());
    let heights = [[start[2], end[2]], [end[2], start[2]]];
    let hubs = laid.ends.into_iter().zip(ends).zip(heights);
    let notes = hubs.filter_map(|((node, end), [at, other])| {
        let reach = reach(end?)?;
        let towards = if other < at { at.checked_sub(reach) } else { at.checked_add(reach) }?;
        let is_beside = at.min(towards) < row.top && row.bottom < at.max(towards);
        let name = &network.graph().node_weight(node)?.name;
        is_beside.then(|| Told {
            note: format!(
                "open, `{}`: whether the hub of `{name}` stands clear of a member of `{}`, for how wide it is is not stated: the \
                 pipe is {} off the middle of number {} of the row, and clear of its wood from {} on.",
                laid.pipe.name,
                row.members.name,
                shown(found.off),
                found.number + 1,
                shown(pipe_clear.unwrap_or(found.clear))
            ),
            in_wood: None,
        })
    });
    notes.collect()
}

/// A note for each end of a pipe that crosses a row which stands in the wood of a member beyond it: no pipe there passes that
/// member, so that its hole does not tell.
fn at_ends(job: &Job<'_>, laid: &Laid<'_>, row: &Row<'_>, passed: &HashSet<(PipeId, u32, i64)>) -> Vec<Told> {
    let network = job.network;
    let graph = network.graph();
    let (across, own) = row.axes();
    let mut notes = Vec::new();
    for (node, at) in laid.ends.into_iter().zip(laid.places) {
        let place = |node| job.geometry.place(node).known();
        let (Some(at), Some(named)) = (at, graph.node_weight(node)) else {
            continue;
        };
        let inside = row.bottom < at[2] && at[2] < row.top && row.bears_over([at[own], at[own]]);
        let Some(found) = in_wood(row, at[across], laid.radius).filter(|_| inside) else {
            continue;
        };
        // What stands or runs along there, or passes that member, tells it by itself.
        let told = |pipe: PipeId| {
            let ends = graph
                .edge_endpoints(pipe)
                .map(|(from, to)| [place(from), place(to)]);
            let along = match ends {
                Some([Some(one), Some(other)]) => one[across] == other[across],
                _ => true,
            };
            along || passed.contains(&(pipe, row.number, found.number))
        };
        let mut pipes = [Incoming, Outgoing]
            .into_iter()
            .flat_map(|way| network.pipes_at(node, way));
        if !pipes.any(told) {
            notes.push(Told {
                note: found.told(network, row, &named.name, "stands"),
                in_wood: Some(named.position),
            });
        }
    }
    notes
}

/// What is in the wood of a member.
struct InWood {
    /// Of the member in its row, counted from 0.
    number: i64,
    /// From the middle of the member.
    off: Length,
    /// How far off it would be clear.
    clear: Length,
}

impl InWood {
    fn told(&self, network: &Network, row: &Row<'_>, what: &str, does: &str) -> String {
        let shown = |length: Length| on_tape(length, network.notation());
        format!(
            "`{what}` {does} in a member of `{}`: it is {} off the middle of number {} of the row, and clear of its wood from \
             {} on. Move it, or have the member headed off.",
            row.members.name,
            shown(self.off),
            self.number + 1,
            shown(self.clear)
        )
    }
}

/// The member that a pipe of that radius is in, so far across the row.
fn in_wood(row: &Row<'_>, across: Length, radius: Length) -> Option<InWood> {
    let spacing = row.members.spacing?;
    let number = nearest(across.checked_sub(row.layout.first)?, spacing, row.layout.count)?;
    let middle = spacing.checked_scale(number, 1)?.checked_add(row.layout.first)?;
    let off = Length::from_nanometres(across.checked_sub(middle)?.nanometres().saturating_abs());
    let twice = if row.members.doubled == Some(true) { 2 } else { 1 };
    let half = row.members.thickness?.checked_scale(twice, 2)?;
    let clear = half.checked_add(radius)?;
    (off < clear).then_some(InWood { number, off, clear })
}

/// The member, counted from 0, whose middle is nearest to so far from the first.
fn nearest(from_first: Length, spacing: Length, count: u32) -> Option<i64> {
    let (from, step) = (
        i128::from(from_first.nanometres()),
        i128::from(spacing.nanometres()),
    );
    let number = (2 * from + step).checked_div_euclid(2 * step)?;
    i64::try_from(number.clamp(0, i128::from(count) - 1)).ok()
}

/// What is to be said of a pipe that passes some members of a row and hangs below others; its ends are told by how far
/// across the members and how high they are.
fn falls_out(row: &Row<'_>, pipe: &str, ends: [[Length; 2]; 2], radius: Length) -> Option<String> {
    let spacing = i128::from(row.members.spacing?.nanometres()).max(1);
    let first = i128::from(row.layout.first.nanometres());
    let wide = |length: Length| i128::from(length.nanometres());
    let [[start, high], [end, low]] = ends.map(|end| end.map(wide));
    let bottom = wide(row.bottom) - wide(radius);
    // Where it has fallen clear of the lower edges, in floating point.
    let part = (bottom - high) as f64 / (low - high) as f64;
    let out = start + ((end - start) as f64 * part) as i128;
    let crossed = |[one, other]: [i128; 2]| {
        let (least, most) = (one.min(other), one.max(other));
        let from = ((least - first).div_euclid(spacing) + 1).max(0);
        let to = (most - first)
            .div_euclid(spacing)
            .min(i128::from(row.layout.count) - 1);
        (to - from + 1).max(0)
    };
    let (all, under) = (crossed([start, end]), crossed([out, end]));
    (high > bottom && bottom > low && 0 < under && under < all).then(|| {
        format!(
            "`{pipe}` comes out below `{}`: of the {all} that it crosses in plan it passes under {under}, and hangs in the \
             room below.",
            row.members.name
        )
    })
}
