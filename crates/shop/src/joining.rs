//! Pipe that is longer than the stock it is cut from: where the couplings come that join it of several pieces.
//!
//! It takes the fewest pieces, keeps couplings out of wood that the pipe passes, and leaves each piece the room
//! that its ends need.

use crownweir_network::{Network, PipeId};
use crownweir_quantity::Length;

use crate::cut::End;
use crate::dimensions::Dimensions;
use crate::ends::coupling;
use crate::obstacles::half_of_wood;
use crate::sheet::grain;

/// How a pipe is joined of several pieces.
#[derive(Debug)]
pub(crate) struct Joined {
    /// From end to end, all pieces but the last.
    pub(crate) firsts: Vec<Length>,
    /// What the end of a piece at a coupling does.
    pub(crate) coupling: End,
}

impl Joined {
    /// What the couplings take of the pipe, between the ends in them.
    pub(crate) fn taken(&self) -> Length {
        let each = between(&self.coupling);
        let couplings = i64::try_from(self.firsts.len()).unwrap_or(i64::MAX);
        each.checked_scale(couplings, 1).unwrap_or_default()
    }
}

/// How far apart the ends are that a coupling holds.
fn between(coupling: &End) -> Length {
    let stop = coupling.stop().unwrap_or_default();
    stop.checked_scale(2, 1).unwrap_or_default()
}

/// The pieces of a pipe whose ends are so, of one piece so long from end to end; none where stock is long enough for it, or
/// the lengths of its stock are not stated.
pub(crate) fn joined(
    network: &Network,
    dimensions: &Dimensions,
    pipe: PipeId,
    ends: &[End; 2],
    whole: Length,
) -> Option<Joined> {
    let own = network.graph().edge_weight(pipe)?;
    let (material, size) = (own.material?, own.size?);
    let longest = *dimensions.stock(material).last()?;
    if whole <= longest {
        return None;
    }
    let grain = grain(network.notation()).nanometres();
    let floor =
        |length: Length| Length::from_nanometres(length.nanometres().div_euclid(grain).saturating_mul(grain));
    let longest = floor(longest);
    let coupling = coupling(dimensions, material, size);
    let (stop, engagement) = (coupling.stop().unwrap_or_default(), coupling.engagement());
    let between = between(&coupling);
    let reach = stop.checked_add(engagement)?;
    // Everything from here on is told by how far along the pipe it is from the end of the first piece in what is there.
    let start = ends[0].stop().ok()?;
    let mut kept: Vec<[Length; 2]> = network
        .passages()
        .iter()
        .filter(|passage| passage.pipe == pipe)
        .filter_map(|passage| {
            let middle = passage.along?.checked_sub(start)?;
            let off = half_of_wood(network, passage)?.checked_add(reach)?;
            Some([middle.checked_sub(off)?, middle.checked_add(off)?])
        })
        .collect();
    let least = |end: &End| end.engagement().checked_add(engagement);
    let first = least(&ends[0])?.checked_add(stop)?;
    let last = whole.checked_sub(least(&ends[1])?)?.checked_sub(stop)?;
    kept.push([last, whole.checked_add(longest)?]);
    let mut firsts = Vec::new();
    // Where the piece now to be cut begins.
    let mut from = Length::ZERO;
    let mut after = first;
    while whole.checked_sub(from)? > longest {
        let furthest = from.checked_add(longest)?.checked_add(stop)?;
        let at = clear(&kept, furthest)
            .filter(|at| *at >= after)
            .unwrap_or(furthest);
        let cut = floor(at.checked_sub(stop)?.checked_sub(from)?);
        if cut <= Length::ZERO {
            return None;
        }
        firsts.push(cut);
        from = from.checked_add(cut)?.checked_add(between)?;
        after = from.checked_add(engagement)?.checked_add(reach)?;
    }
    Some(Joined { firsts, coupling })
}

/// The furthest place up to one that lies in none of the ranges.
fn clear(ranges: &[[Length; 2]], mut at: Length) -> Option<Length> {
    // Each step leaves a range for good.
    for _ in 0..=ranges.len() {
        let inside = ranges.iter().find(|[least, most]| *least < at && at < *most);
        match inside {
            Some([least, _]) => at = *least,
            None => return Some(at),
        }
    }
    None
}
