//! Pieces and fittings laid end to end, each piece cut to the tape.
//!
//! Directions are in floating point; what is cut is whole steps of the tape.

use std::collections::{HashMap, VecDeque};

use crownweir_network::{FlowOrder, Network, NodeId, PipeId};
use crownweir_quantity::Length;
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::visit::{EdgeIndexable, EdgeRef, NodeIndexable};

use crate::cut::{Cut, End, Piece};
use crate::dimensions::Dimensions;
use crate::geometry::Geometry;
use crate::joining::{Joined, joined};
use crate::sheet::rounded;

/// So many couplings are put into the pipes of a network that are longer than their stock, and no more: enough for any
/// building.
const MOST_COUPLINGS: usize = 100_000;

/// Lays pieces and fittings end to end from the point of disposal on, each piece cut to the tape so that the next
/// fitting comes to stand where it belongs: what one piece is too long the next is shorter, and nothing adds up.
pub(crate) struct Laying<'a> {
    network: &'a Network,
    geometry: &'a Geometry,
    dimensions: &'a Dimensions,
    /// How far each node as laid is from where it belongs, in nanometres; east, north, up.
    off: Vec<Option<[f64; 3]>>,
    order: &'a FlowOrder,
    /// How those pipes are joined for which no stock is long enough, and how many more couplings may be put in.
    joined: HashMap<PipeId, Joined>,
    couplings: usize,
}

impl<'a> Laying<'a> {
    pub(crate) fn new(
        network: &'a Network,
        geometry: &'a Geometry,
        dimensions: &'a Dimensions,
        order: &'a FlowOrder,
    ) -> Self {
        Self {
            network,
            geometry,
            dimensions,
            off: vec![None; network.graph().node_bound()],
            order,
            joined: HashMap::new(),
            couplings: MOST_COUPLINGS,
        }
    }

    /// Cuts all pieces, which stand by the indices of their pipes, each whole; gives how those are joined for which no stock
    /// is long enough.
    pub(crate) fn lay(&mut self, pieces: &mut [Option<Piece>]) -> HashMap<PipeId, Joined> {
        let graph = self.network.graph();
        let mut cut = vec![false; graph.edge_bound()];
        let mut places = vec![usize::MAX; graph.edge_bound()];
        for (place, pipe) in self.order.pipes.iter().enumerate() {
            if let Some(own) = places.get_mut(pipe.index()) {
                *own = place;
            }
        }
        let starts = std::iter::once(self.network.disposal()).chain(self.order.nodes.iter().copied());
        for start in starts {
            if self.off.get(start.index()).copied().flatten().is_some() {
                continue;
            }
            self.set(start, [0.0; 3]);
            let mut waiting = VecDeque::from([start]);
            while let Some(node) = waiting.pop_front() {
                // Drains before vents, which are fitted in last.
                let mut pipes: Vec<_> = [Incoming, Outgoing]
                    .into_iter()
                    .flat_map(|direction| graph.edges_directed(node, direction))
                    .collect();
                pipes.sort_unstable_by_key(|pipe| (pipe.weight().role, places.get(pipe.id().index())));
                for pipe in pipes {
                    let (id, from, to) = (pipe.id(), pipe.source(), pipe.target());
                    if cut
                        .get_mut(id.index())
                        .is_none_or(|cut| std::mem::replace(cut, true))
                    {
                        continue;
                    }
                    let other = if from == node { to } else { from };
                    let fresh = self.off.get(other.index()).copied().flatten().is_none();
                    let off = self.cut(id, node, other, pieces);
                    if fresh {
                        self.set(other, off);
                        waiting.push_back(other);
                    }
                }
            }
        }
        std::mem::take(&mut self.joined)
    }

    fn set(&mut self, node: NodeId, off: [f64; 3]) {
        if let Some(place) = self.off.get_mut(node.index()) {
            *place = Some(off);
        }
    }

    fn off(&self, node: NodeId) -> [f64; 3] {
        self.off.get(node.index()).copied().flatten().unwrap_or_default()
    }

    /// Cuts the piece between a node that is laid and another; gives how far off the other then is.
    fn cut(&mut self, pipe: PipeId, laid: NodeId, other: NodeId, pieces: &mut [Option<Piece>]) -> [f64; 3] {
        let notation = self.network.notation();
        let off = self.off(laid);
        let Some(length) = self.geometry.way(pipe).length else {
            if let Some(Some(piece)) = pieces.get_mut(pipe.index()) {
                let name = self
                    .network
                    .graph()
                    .edge_weight(pipe)
                    .map_or("", |pipe| &*pipe.name);
                let mut missing = vec![format!("`{name}`: its length")];
                missing.extend(piece.ends.iter().filter_map(|end| end.stop().err()));
                missing.dedup();
                piece.cut = Cut::NotStated(missing);
            }
            return off;
        };
        // Its direction in space, from the node that is laid; without one it is cut by its length alone.
        let way = self.way(laid, other);
        let ahead = way.map_or(0.0, |way| dot(off, way));
        let behind = match (way, self.off.get(other.index()).copied().flatten()) {
            (Some(way), Some(off)) => dot(off, way),
            _ => 0.0,
        };
        // What floating point does not hold to the nanometre is longer than any pipe.
        let wanted =
            Length::from_metres_f64((length.nanometres() as f64 - ahead + behind) / 1e9).unwrap_or(length);
        let stops = pieces
            .get(pipe.index())
            .and_then(Option::as_ref)
            .map_or([Ok(Length::ZERO), Ok(Length::ZERO)], |piece| {
                [piece.ends[0].stop(), piece.ends[1].stop()]
            });
        let mut missing: Vec<String> = stops.iter().filter_map(|stop| stop.clone().err()).collect();
        missing.dedup();
        let mut taken = stops
            .iter()
            .filter_map(|stop| stop.as_ref().ok())
            .try_fold(Length::ZERO, |sum, stop| sum.checked_add(*stop))
            .unwrap_or_default();
        // Pipe without a seam between its fittings is cut first, for its length tells whether it needs couplings.
        let whole = rounded(wanted.checked_sub(taken).unwrap_or_default(), notation);
        if let Some(piece) = pieces.get(pipe.index()).and_then(Option::as_ref)
            && missing.is_empty()
        {
            match joined(
                self.network,
                self.dimensions,
                pipe,
                &piece.ends,
                whole,
                self.couplings,
            ) {
                Ok(Some(joined)) => {
                    taken = taken.checked_add(joined.taken()).unwrap_or(taken);
                    self.couplings = self.couplings.saturating_sub(joined.firsts.len());
                    self.joined.insert(pipe, joined);
                }
                Ok(None) => {}
                Err(lacking) => missing.push(lacking),
            }
        }
        let cut = rounded(wanted.checked_sub(taken).unwrap_or_default(), notation);
        let centres = cut.checked_add(taken).unwrap_or(length);
        if let Some(Some(piece)) = pieces.get_mut(pipe.index()) {
            piece.centres = Some(centres);
            // What is known of its ends may be more than there is, whatever else is missing.
            piece.cut = match room(piece, cut, taken) {
                Cut::To(_) if !missing.is_empty() => Cut::NotStated(missing),
                found => found,
            };
        }
        let grown = (centres.nanometres() - wanted.nanometres()) as f64 - ahead + behind;
        way.map_or(off, |way| {
            let mut off = off;
            for (off, way) in off.iter_mut().zip(way) {
                *off += grown * way;
            }
            off
        })
    }

    /// The way from one node to another, of length one; none where a place is not known.
    fn way(&self, from: NodeId, to: NodeId) -> Option<[f64; 3]> {
        let (from, to) = (
            self.geometry.place(from).known()?,
            self.geometry.place(to).known()?,
        );
        let mut way = [0.0; 3];
        for ((way, to), from) in way.iter_mut().zip(to).zip(from) {
            *way = to.checked_sub(from)?.nanometres() as f64;
        }
        let length = dot(way, way).sqrt();
        (length > 0.0).then(|| way.map(|part| part / length))
    }
}

/// The cut of a piece, if there is room for one: fittings do not go into each other.
fn room(piece: &Piece, cut: Length, taken: Length) -> Cut {
    let inside = piece.ends.iter().map(End::engagement);
    let inside = inside.fold(Length::ZERO, |sum, end| sum.checked_add(end).unwrap_or(sum));
    if cut < inside || cut <= Length::ZERO {
        return Cut::NoRoom(taken.checked_add(inside).unwrap_or(taken));
    }
    Cut::To(cut)
}

fn dot(one: [f64; 3], other: [f64; 3]) -> f64 {
    one.iter().zip(other).map(|(one, other)| one * other).sum()
}
