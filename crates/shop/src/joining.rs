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

/// The pieces of a pipe whose ends are so, of one piece so long from end to end, with no more than `left` couplings; none
/// where stock is long enough for it, or the lengths of its stock are not stated.
///
/// # Errors
/// Longer stock, where it takes more couplings.
pub(crate) fn joined(
    network: &Network,
    dimensions: &Dimensions,
    pipe: PipeId,
    ends: &[End; 2],
    whole: Length,
    left: usize,
) -> Result<Option<Joined>, String> {
    let Some(own) = network.graph().edge_weight(pipe) else {
        return Ok(None);
    };
    let longest = own
        .material
        .and_then(|material| dimensions.stock(material).last());
    let (Some(material), Some(size), Some(&longest)) = (own.material, own.size, longest) else {
        return Ok(None);
    };
    if whole <= longest {
        return Ok(None);
    }
    let coupling = coupling(dimensions, material, size);
    let stock = floor(longest, grain(network.notation()));
    let firsts = Run {
        network,
        pipe,
        ends,
        whole,
        stock,
    };
    match firsts.firsts(&coupling, left) {
        Some(firsts) => Ok(Some(Joined { firsts, coupling })),
        None => Err(format!(
            "`{}`: stock long enough to join it of fewer pieces",
            own.name
        )),
    }
}

/// A length to the step of the tape below.
fn floor(length: Length, grain: Length) -> Length {
    let grain = grain.nanometres();
    Length::from_nanometres(length.nanometres().div_euclid(grain).saturating_mul(grain))
}

/// A pipe that is longer than its stock, by how long it would be in one piece.
struct Run<'a> {
    network: &'a Network,
    pipe: PipeId,
    ends: &'a [End; 2],
    whole: Length,
    stock: Length,
}

impl Run<'_> {
    /// All its pieces but the last, each as long as may be.
    fn firsts(&self, coupling: &End, left: usize) -> Option<Vec<Length>> {
        let (stop, engagement) = (coupling.stop().unwrap_or_default(), coupling.engagement());
        let between = between(coupling);
        let reach = stop.checked_add(engagement)?;
        // Everything is told by how far along the pipe it is from the end of the first piece in what is there.
        let ends = self.ends.each_ref();
        let [first, last] = ends.map(|end| end.engagement().checked_add(reach));
        let kept = self.kept(reach, self.whole.checked_sub(last?)?)?;
        let mut firsts = Vec::new();
        // Where the piece now to be cut begins, and the first place for the coupling at its end.
        let (mut from, mut least) = (Length::ZERO, first?);
        while self.whole.checked_sub(from)? > self.stock {
            let furthest = from.checked_add(self.stock)?.checked_add(stop)?;
            let at = Some(clear(&kept, furthest)).filter(|at| *at >= least);
            let at = at.unwrap_or(furthest).checked_sub(stop)?;
            let cut = floor(at.checked_sub(from)?, grain(self.network.notation()));
            if cut <= Length::ZERO || firsts.len() >= left {
                return None;
            }
            firsts.push(cut);
            from = from.checked_add(cut)?.checked_add(between)?;
            least = from.checked_add(engagement)?.checked_add(reach)?;
        }
        Some(firsts)
    }

    /// Between which places no coupling is to stand, in order and apart from one another: in the wood that the pipe passes,
    /// and so near its end that the last piece would be too short.
    fn kept(&self, reach: Length, last: Length) -> Option<Vec<[Length; 2]>> {
        let start = self.ends[0].stop().ok()?;
        let passages = self.network.passages().iter();
        let own = passages.filter(|passage| passage.pipe == self.pipe);
        let wood = own.filter_map(|passage| {
            let middle = passage.along?.checked_sub(start)?;
            let off = half_of_wood(self.network, passage)?.checked_add(reach)?;
            Some([middle.checked_sub(off)?, middle.checked_add(off)?])
        });
        let end = [last, self.whole.checked_add(self.stock)?];
        let mut ranges: Vec<[Length; 2]> = wood.chain([end]).collect();
        ranges.sort_unstable();
        let mut apart: Vec<[Length; 2]> = Vec::new();
        for range in ranges {
            match apart.last_mut() {
                Some(before) if range[0] < before[1] => before[1] = before[1].max(range[1]),
                _ => apart.push(range),
            }
        }
        Some(apart)
    }
}

/// The furthest place up to one that lies inside none of the ranges.
fn clear(ranges: &[[Length; 2]], at: Length) -> Length {
    let before = ranges.partition_point(|[least, _]| *least < at);
    let inside = before.checked_sub(1).and_then(|index| ranges.get(index));
    inside
        .filter(|[_, most]| at < *most)
        .map_or(at, |[least, _]| *least)
}
