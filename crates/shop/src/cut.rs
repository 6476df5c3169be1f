//! The pieces that pipes are cut to: centre to centre less what each fitting takes, into the sockets to their stops.
//!
//! A piece for which a figure is missing is not cut; the figure is named.

use crownweir_network::{Network, NodeId, NodeKind, PipeId};
use crownweir_quantity::Length;
use crownweir_vocabulary::{FittingPattern, TrapKind};

use crate::dimensions::{Basis, Dimensions};
use crate::ends::end;
use crate::geometry::Geometry;
use crate::joining::Joined;
use crate::laying::Laying;
use crate::remarks::{mind, mind_couplings};

/// The piece of pipe between two nodes.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Piece {
    /// The pipe of the network that it is.
    pub pipe: PipeId,
    /// Its number on sheets and drawings: `D` for drains and `V` for vents, counted as the file has them; of pipe that is
    /// joined of several pieces, with the number of the piece behind.
    pub mark: String,
    /// Which of the pieces that its pipe is joined of it is, counted from 1.
    pub number: u32,
    /// Of how many pieces its pipe is joined, with couplings between them: one where stock is long enough.
    pub of: u32,
    /// From centre to centre of the fittings at its ends, to the rounding of a tape.
    pub centres: Option<Length>,
    /// What the fittings at its start and its end take of that, or the couplings to the pieces beside it.
    pub ends: [End; 2],
    /// From end to end, ready to be cut.
    pub cut: Cut,
    /// What to mind.
    pub remarks: Vec<String>,
}

/// How long a piece is cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cut {
    /// So long.
    To(Length),
    /// There is no room for it: its fittings need so much from centre to centre.
    NoRoom(Length),
    /// What is missing to tell.
    NotStated(Vec<String>),
}

impl Piece {
    /// Whether it is not known how much one of its ends takes.
    pub(crate) fn lacks_an_end(&self) -> bool {
        self.ends.iter().any(|end| matches!(end, End::NotStated(_)))
    }

    /// Where it stands among the pieces: drains before vents, by number.
    pub(crate) fn order(&self) -> (char, u64, u32) {
        let mut mark = self.mark.chars();
        let letter = mark.next().unwrap_or_default();
        let pipe = mark.as_str().split('-').next().unwrap_or_default();
        (letter, pipe.parse().unwrap_or(u64::MAX), self.number)
    }

    /// Whether its start (0) or its end (1) is in a coupling to another piece of its pipe.
    pub(crate) fn is_coupled(&self, end: usize) -> bool {
        if end == 0 {
            self.number > 1
        } else {
            self.number < self.of
        }
    }

    /// The pieces that its pipe is joined of, from its start on.
    fn split(self, joined: &Joined) -> Vec<Self> {
        let of = u32::try_from(joined.firsts.len())
            .unwrap_or(u32::MAX)
            .saturating_add(1);
        let last = self.length().and_then(|whole| {
            let mut firsts = joined.firsts.iter();
            firsts.try_fold(whole, |left, first| left.checked_sub(*first))
        });
        let centres = |length: Length, ends: &[End; 2]| {
            let mut stops = ends.iter().map(|end| end.stop().unwrap_or_default());
            stops.try_fold(length, |sum, stop| sum.checked_add(stop))
        };
        let lengths = joined.firsts.iter().copied().map(Some).chain([last]);
        let pieces = (1..=of).zip(lengths).map(|(number, length)| {
            let at = |coupled: bool, own: &End| {
                if coupled {
                    joined.coupling.clone()
                } else {
                    own.clone()
                }
            };
            let ends = [at(number > 1, &self.ends[0]), at(number < of, &self.ends[1])];
            let mut missing: Vec<String> = ends.iter().filter_map(|end| end.stop().err()).collect();
            missing.dedup();
            let cut = match length {
                _ if !missing.is_empty() => Cut::NotStated(missing),
                Some(length) => Cut::To(length),
                None => self.cut.clone(),
            };
            Self {
                pipe: self.pipe,
                mark: format!("{}-{number}", self.mark),
                number,
                of,
                centres: length.and_then(|length| centres(length, &ends)),
                ends,
                cut,
                remarks: Vec::new(),
            }
        });
        pieces.collect()
    }

    /// Whether it is cut by figures that are known in such a way.
    pub(crate) fn is_by(&self, basis: Basis) -> bool {
        let by = |end: &End| matches!(end, End::Fitting { basis: own, .. } if *own == basis);
        self.length().is_some() && self.ends.iter().any(by)
    }

    /// From end to end, where it is cut.
    #[must_use]
    pub fn length(&self) -> Option<Length> {
        match self.cut {
            Cut::To(length) => Some(length),
            Cut::NoRoom(_) | Cut::NotStated(_) => None,
        }
    }
}

/// What the end of a piece does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum End {
    /// It goes into a fitting: so far from its centre the pipe stops, and so far it is inside.
    Fitting {
        /// From the centre to the stop of the socket, or to the end that the pipe is butted against and the gap there.
        stop: Length,
        /// How far the pipe is inside.
        engagement: Option<Length>,
        /// How the figures are known, the weaker of fitting and joint.
        basis: Basis,
    },
    /// It ends at the trap weir and is trimmed to the trap on site.
    Trap,
    /// It ends here: a terminal, the point of disposal.
    Open,
    /// What is missing.
    NotStated(String),
}

impl End {
    /// How far the pipe is inside of what is at its end.
    pub(crate) fn engagement(&self) -> Length {
        match self {
            Self::Fitting { engagement, .. } => engagement.unwrap_or_default(),
            _ => Length::ZERO,
        }
    }

    /// How far short of the centre the pipe stops.
    pub(crate) fn stop(&self) -> Result<Length, String> {
        match self {
            Self::Fitting { stop, .. } => Ok(*stop),
            Self::Trap | Self::Open => Ok(Length::ZERO),
            Self::NotStated(missing) => Err(missing.clone()),
        }
    }
}

/// Every piece of a network, in the order in which water and air flow ([`Network::flow_order`]); a pipe that is longer than
/// its stock is joined of several. A fixture's own outlet, down to its flange, is none.
#[must_use]
pub fn pieces(network: &Network, geometry: &Geometry, dimensions: &Dimensions) -> Vec<Piece> {
    let graph = network.graph();
    let marks = network.piece_numbers().into_iter();
    let mut pieces: Vec<Option<Piece>> = marks
        .enumerate()
        .map(|(index, mark)| {
            let pipe = PipeId::new(index);
            let (from, to) = graph.edge_endpoints(pipe)?;
            if is_of_fixture(network, from, to) {
                return None;
            }
            Some(Piece {
                pipe,
                mark,
                number: 1,
                of: 1,
                centres: None,
                ends: [from, to].map(|node| end(network, geometry, dimensions, pipe, node)),
                cut: Cut::NotStated(Vec::new()),
                remarks: Vec::new(),
            })
        })
        .collect();
    let order = network.flow_order();
    let mut joined = Laying::new(network, geometry, dimensions, &order).lay(&mut pieces);
    let mut pieces: Vec<Piece> = order
        .pipes
        .iter()
        .filter_map(|pipe| pieces.get_mut(pipe.index())?.take())
        .flat_map(|piece| match joined.remove(&piece.pipe) {
            Some(joined) => piece.split(&joined),
            None => vec![piece],
        })
        .collect();
    for piece in &mut pieces {
        mind(network, dimensions, piece);
    }
    mind_couplings(network, dimensions, &mut pieces);
    pieces
}

/// Whether a pipe is a fixture's own outlet, which comes with it: that of a water closet down to its flange.
pub(crate) fn is_of_fixture(network: &Network, from: NodeId, to: NodeId) -> bool {
    let graph = network.graph();
    let integral = matches!(
        graph.node_weight(from).map(|node| &node.kind),
        Some(NodeKind::Fixture(fixture)) if fixture.trap.kind == Some(TrapKind::Integral)
    );
    let flange = matches!(
        graph.node_weight(to).map(|node| &node.kind),
        Some(NodeKind::Fitting {
            pattern: Some(FittingPattern::ClosetFlange)
        })
    );
    integral && flange
}
