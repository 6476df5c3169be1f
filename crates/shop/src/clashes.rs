//! Pipes that run through each other.
//!
//! It looks only at pipes whose ends have places and whose outside diameters are known; what is not known to meet is not
//! told.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use crownweir_network::{NodeId, Pipe, PipeId, RunId};
use crownweir_quantity::Length;

use crate::cut::{End, Piece};
use crate::job::Job;
use crate::sheet::{on_tape, rounded};

/// How many pairs of pipes are looked at: of what does not lie heaped together, those of some hundred thousand pipes.
const MOST_PAIRS: u64 = 20_000_000;

/// How many pairs of runs are told of.
const MOST_TOLD: usize = 1_000;

/// Two pipes that run through each other.
pub(crate) struct Clash<'n> {
    /// The later one in the file.
    pub(crate) pipe: &'n Pipe,
    /// What is wrong, with the figures.
    pub(crate) message: String,
}

/// The pipes that run through each other, of each pair of runs those that do so the farthest; and whether all were looked
/// at.
pub(crate) fn clashes<'n>(job: &Job<'n>) -> (Vec<Clash<'n>>, bool) {
    let mut barrels = barrels(job);
    // Along the axis in which they are spread the widest, a pipe is compared with those that begin before it ends.
    let axis = widest(&barrels);
    let starts = |barrel: &Barrel<'_>| barrel.reach(axis)[0];
    barrels.sort_by(|one, other| starts(one).total_cmp(&starts(other)));
    let mut left = MOST_PAIRS;
    let mut found: HashMap<[RunId; 2], Meeting<'_, '_>> = HashMap::new();
    'all: for (index, one) in barrels.iter().enumerate() {
        let [_, end] = one.reach(axis);
        let later = barrels[index + 1..].iter();
        for other in later.take_while(|other| starts(other) < end) {
            if left == 0 || found.len() == MOST_TOLD {
                break 'all;
            }
            left -= 1;
            let Some(meeting) = meet(job, [one, other]) else {
                continue;
            };
            match found.entry(meeting.pipes.map(|barrel| barrel.pipe.run)) {
                Entry::Vacant(place) => {
                    place.insert(meeting);
                }
                Entry::Occupied(mut place) if place.get().short() < meeting.short() => {
                    place.insert(meeting);
                }
                Entry::Occupied(_) => {}
            }
        }
    }
    let all = left > 0 && found.len() < MOST_TOLD;
    let mut meetings: Vec<_> = found.into_values().collect();
    meetings.sort_by_key(|meeting| {
        let [_, Barrel { pipe, id, .. }] = meeting.pipes;
        (pipe.position.line, pipe.position.column, *id)
    });
    let clashes = meetings.iter().filter_map(|meeting| {
        let message = meeting.in_words(job)?;
        let pipe = meeting.pipes[1].pipe;
        Some(Clash { pipe, message })
    });
    (clashes.collect(), all)
}

/// The straight of a pipe between its fittings.
struct Barrel<'n> {
    id: PipeId,
    pipe: &'n Pipe,
    nodes: [NodeId; 2],
    /// The ends of its axis in metres: how far east, north and up.
    ends: [[f64; 3]; 2],
    /// Half its outside diameter.
    radius: Length,
}

impl Barrel<'_> {
    /// From where to where it reaches along an axis, in metres.
    fn reach(&self, axis: usize) -> [f64; 2] {
        let [one, other] = self.ends.map(|end| end[axis]);
        let radius = self.radius.as_metres_f64();
        [one.min(other) - radius, one.max(other) + radius]
    }
}

fn barrels<'n>(job: &Job<'n>) -> Vec<Barrel<'n>> {
    let graph = job.network.graph();
    let barrel = |pieces: &[Piece]| {
        let (first, last) = (pieces.first()?, pieces.last()?);
        let pipe = graph.edge_weight(first.pipe)?;
        let (from, to) = graph.edge_endpoints(first.pipe)?;
        let outside = job.dimensions.pipe(pipe.material?, pipe.size?)?.outside;
        let [start, end] = [from, to].map(|node| job.geometry.place(node).known());
        let ends = [start?, end?].map(|place| place.map(Length::as_metres_f64));
        // Of a fitting whose dimensions are not known, about as much as fittings take.
        let taken = [&first.ends[0], &last.ends[1]].map(|end| match end {
            End::NotStated(_) => outside,
            end => end.stop().unwrap_or_default(),
        });
        let whole = norm(less(ends[1], ends[0]));
        let [start, stop] = taken.map(|taken| taken.as_metres_f64() / whole);
        // Where fittings leave no room between them there is no pipe to run into.
        (start + stop < 1.0).then(|| Barrel {
            id: first.pipe,
            pipe,
            nodes: [from, to],
            ends: [along(ends, start), along(ends, 1.0 - stop)],
            radius: outside.checked_scale(1, 2).unwrap_or_default(),
        })
    };
    let of_one_pipe = job.pieces.chunk_by(|one, other| one.pipe == other.pipe);
    of_one_pipe.filter_map(barrel).collect()
}

/// The axis in which barrels are spread the widest.
fn widest(barrels: &[Barrel<'_>]) -> usize {
    let spread = |axis: usize| {
        let starts = || barrels.iter().map(|barrel| barrel.ends[0][axis]);
        starts().fold(f64::MIN, f64::max) - starts().fold(f64::MAX, f64::min)
    };
    let by_spread = |one: &usize, other: &usize| spread(*one).total_cmp(&spread(*other));
    (0..3).max_by(by_spread).unwrap_or_default()
}

/// Two pipes whose axes come nearer than half the outside diameters of both.
struct Meeting<'b, 'n> {
    /// As the file has them.
    pipes: [&'b Barrel<'n>; 2],
    /// Where the axis of each is nearest to the other's.
    nearest: [[f64; 3]; 2],
    apart: Length,
    clear: Length,
}

impl Meeting<'_, '_> {
    /// By how much they are too near each other.
    fn short(&self) -> Option<Length> {
        self.clear.checked_sub(self.apart)
    }

    fn in_words(&self, job: &Job<'_>) -> Option<String> {
        let shown = |length: Length| on_tape(length, job.network.notation());
        let midway = along(self.nearest, 0.5);
        let towards = |axis: usize, words: [&str; 2]| {
            let word = words[usize::from(midway[axis] < 0.0)];
            let far = Length::from_metres_f64(midway[axis].abs())?;
            Some(format!("{} {word}", shown(far)))
        };
        let [one, other] = self.pipes.map(|barrel| &barrel.pipe.name);
        Some(format!(
            "`{other}` runs into `{one}` {}, {} and {}: their centre lines come within {}, and clear each other from {} on",
            towards(0, ["east", "west"])?,
            towards(1, ["north", "south"])?,
            towards(2, ["up", "down"])?,
            shown(self.apart),
            shown(self.clear)
        ))
    }
}

/// How two pipes run into each other; none of those that a fitting joins.
fn meet<'b, 'n>(job: &Job<'_>, mut pipes: [&'b Barrel<'n>; 2]) -> Option<Meeting<'b, 'n>> {
    let [one, other] = pipes;
    let is_apart = |axis| {
        let ([start, end], [from, to]) = (one.reach(axis), other.reach(axis));
        end < from || to < start
    };
    if (0..3).any(is_apart) || one.nodes.iter().any(|node| other.nodes.contains(node)) {
        return None;
    }
    pipes.sort_by_key(|barrel| (barrel.pipe.position.line, barrel.pipe.position.column, barrel.id));
    let clear = one.radius.checked_add(other.radius)?;
    let nearest = closest(pipes[0].ends, pipes[1].ends);
    let apart = Length::from_metres_f64(norm(less(nearest[0], nearest[1])))?;
    let tape = |length: Length| rounded(length, job.network.notation());
    (tape(apart) < tape(clear)).then_some(Meeting {
        pipes,
        nearest,
        apart,
        clear,
    })
}

/// The two points, one on each of two segments, that are nearest to each other: on the lines through both first, then as far
/// along each as it reaches.
///
/// Floating point, by C. Ericson, Real-Time Collision Detection (2005), section 5.1.9 (basis: memory).
fn closest(one: [[f64; 3]; 2], other: [[f64; 3]; 2]) -> [[f64; 3]; 2] {
    let (way, other_way) = (less(one[1], one[0]), less(other[1], other[0]));
    let between = less(one[0], other[0]);
    let (own, cross, others) = (dot(way, way), dot(way, other_way), dot(other_way, other_way));
    let (start, other_start) = (dot(way, between), dot(other_way, between));
    let squared_sine = own * others - cross * cross;
    let mut part = if squared_sine > 1e-12 * own * others {
        ((cross * other_start - start * others) / squared_sine).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let wanted = (cross * part + other_start) / others;
    let other_part = wanted.clamp(0.0, 1.0);
    if wanted != other_part {
        part = ((cross * other_part - start) / own).clamp(0.0, 1.0);
    }
    [along(one, part), along(other, other_part)]
}

/// The point at so great a part of a segment.
fn along([start, end]: [[f64; 3]; 2], part: f64) -> [f64; 3] {
    let way = less(end, start);
    [0, 1, 2].map(|axis| start[axis] + way[axis] * part)
}

fn less(one: [f64; 3], other: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|axis| one[axis] - other[axis])
}

fn dot(one: [f64; 3], other: [f64; 3]) -> f64 {
    (0..3).map(|axis| one[axis] * other[axis]).sum()
}

fn norm(vector: [f64; 3]) -> f64 {
    dot(vector, vector).sqrt()
}
