//! The pieces that pipes are cut to: centre to centre less what each fitting takes, into the sockets to their stops.
//!
//! A piece for which a figure is missing is not cut; the figure is named.

use crownweir_network::{Network, NodeId, NodeKind, PipeId};
use crownweir_quantity::Length;
use crownweir_vocabulary::{FittingPattern, TrapKind};

use crate::dimensions::{Basis, Dimensions};
use crate::ends::end;
use crate::geometry::Geometry;
use crate::laying::Laying;
use crate::remarks::{mind, mind_couplings};

/// The piece of pipe between two nodes.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Piece {
    /// The pipe of the network that it is.
    pub pipe: PipeId,
    /// Its number on sheets and drawings: `D` for drains and `V` for vents, counted as the file has them.
    pub mark: String,
    /// From centre to centre of the fittings at its ends, to the rounding of a tape.
    pub centres: Option<Length>,
    /// What the fittings at its start and its end take of that.
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
    /// Where it stands among the pieces: drains before vents, by number.
    pub(crate) fn number(&self) -> (char, u64) {
        let mut mark = self.mark.chars();
        let letter = mark.next().unwrap_or_default();
        (letter, mark.as_str().parse().unwrap_or(u64::MAX))
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

/// Every piece of a network, in the order in which water and air flow ([`Network::flow_order`]). A fixture's own outlet,
/// down to its flange, is none.
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
                centres: None,
                ends: [from, to].map(|node| end(network, geometry, dimensions, pipe, node)),
                cut: Cut::NotStated(Vec::new()),
                remarks: Vec::new(),
            })
        })
        .collect();
    let order = network.flow_order();
    Laying::new(network, geometry, &order).lay(&mut pieces);
    let mut pieces: Vec<Piece> = order
        .pipes
        .iter()
        .filter_map(|pipe| pieces.get_mut(pipe.index())?.take())
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
