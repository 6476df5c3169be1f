//! Where everything stands, which way every pipe goes, and how high the inside bottom of every drain lies.
//!
//! Positions and directions are settled when a network is read; here they are put together with the pipes' diameters.
//! What is not settled there stays unknown here.

use std::collections::HashSet;

use crownweir_network::{Network, NodeId, PipeId};
use crownweir_quantity::{Bearing, Length, Slope};
use petgraph::visit::{EdgeIndexable, NodeIndexable};

use crate::contradictions::{self, Contradiction};
use crate::dimensions::Dimensions;

/// The geometry of a network.
#[derive(Debug, Clone)]
pub struct Geometry {
    /// By the nodes' indices.
    places: Vec<Place>,
    /// By the pipes' indices.
    ways: Vec<Way>,
    contradictions: Vec<Contradiction>,
    /// Their fittings.
    denied: HashSet<NodeId>,
}

/// Where a node stands: on the centre lines of its pipes; a fixture at its trap weir.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Place {
    /// How far east of the origin in plan.
    pub east: Option<Length>,
    /// How far north of it.
    pub north: Option<Length>,
    /// How far above the datum.
    pub up: Option<Length>,
}

impl Place {
    /// East, north and up, where all three are known.
    #[must_use]
    pub fn known(self) -> Option<[Length; 3]> {
        Some([self.east?, self.north?, self.up?])
    }
}

/// How a pipe goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Way {
    /// Its direction in plan, the way it points; none where it is vertical or not known.
    pub bearing: Option<Bearing>,
    /// Fall of a drain, rise of a vent, over length.
    pub slope: Option<Slope>,
    /// From centre to centre of the fittings at its ends: between their places where these are known, else as stated.
    pub length: Option<Length>,
    /// Heights above the datum of the inside bottom at its start and its end.
    pub inverts: Option<[Length; 2]>,
}

impl Geometry {
    /// The geometry of a network whose pipes have these dimensions.
    #[must_use]
    pub fn resolve(network: &Network, dimensions: &Dimensions) -> Self {
        let graph = network.graph();
        // Of what is no more, nothing is known.
        let places: Vec<Place> = (0..graph.node_bound())
            .map(|index| {
                let id = NodeId::new(index);
                let [east, north] = network.place_in_plan(id);
                let up = graph.node_weight(id).and_then(|node| node.elevation);
                Place { east, north, up }
            })
            .collect();
        let contradictions = contradictions::contradictions(network);
        let mut geometry = Self {
            places,
            ways: Vec::new(),
            denied: contradictions.iter().map(|one| one.fitting).collect(),
            contradictions,
        };
        geometry.ways = (0..graph.edge_bound())
            .map(|index| {
                let way = geometry.way_of(network, dimensions, PipeId::new(index));
                way.unwrap_or_default()
            })
            .collect();
        geometry
    }

    fn way_of(&self, network: &Network, dimensions: &Dimensions, id: PipeId) -> Option<Way> {
        let pipe = network.graph().edge_weight(id)?;
        let (from, to) = network.graph().edge_endpoints(id)?;
        let ends = [self.place(from), self.place(to)];
        let bore = pipe
            .material
            .zip(pipe.size)
            .and_then(|(material, size)| dimensions.pipe(material, size))
            .map(|size| size.inside);
        let invert = |place: Place| place.up?.checked_sub(bore?.checked_scale(1, 2)?);
        let inverts = match ends.map(invert) {
            [Some(start), Some(end)] => Some([start, end]),
            _ => None,
        };
        Some(Way {
            bearing: network.bearing(id),
            slope: pipe.slope,
            length: between(ends).or(pipe.length),
            inverts,
        })
    }

    /// The fittings that their pipes deny, in the order of the file: nothing is cut to them.
    #[must_use]
    pub fn contradictions(&self) -> &[Contradiction] {
        &self.contradictions
    }

    /// Whether a node is a fitting that its pipes deny.
    pub(crate) fn denies(&self, node: NodeId) -> bool {
        self.denied.contains(&node)
    }

    /// Where a node stands.
    #[must_use]
    pub fn place(&self, node: NodeId) -> Place {
        self.places.get(node.index()).copied().unwrap_or_default()
    }

    /// How a pipe goes.
    #[must_use]
    pub fn way(&self, pipe: PipeId) -> Way {
        self.ways.get(pipe.index()).copied().unwrap_or_default()
    }
}

/// The distance between two known places. Floating point, rounded to the nanometre.
fn between([from, to]: [Place; 2]) -> Option<Length> {
    let (from, to) = (from.known()?, to.known()?);
    distance(from, to)
}

/// The distance between two points. Floating point, rounded to the nanometre, unless the two lie along one axis.
#[must_use]
pub fn distance(from: [Length; 3], to: [Length; 3]) -> Option<Length> {
    let mut apart = [0_i64; 3];
    for ((apart, to), from) in apart.iter_mut().zip(to).zip(from) {
        *apart = to.checked_sub(from)?.nanometres().checked_abs()?;
    }
    match apart {
        [along, 0, 0] | [0, along, 0] | [0, 0, along] => Some(Length::from_nanometres(along)),
        _ => {
            let [x, y, z] = apart.map(|apart| Length::from_nanometres(apart).as_metres_f64());
            Length::from_metres_f64(x.hypot(y).hypot(z))
        }
    }
}
