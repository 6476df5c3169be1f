//! What the sheets are made from.

use crownweir_document::Diagnostics;
use crownweir_network::{Network, NodeId, Pipe};
use crownweir_quantity::Length;

use crate::cut::{Piece, pieces};
use crate::dimensions::Dimensions;
use crate::geometry::Geometry;
use crate::sheet::Sheet;
use crate::{levels, stock};

/// A network and all that its sheets need beside it.
#[derive(Debug)]
#[non_exhaustive]
pub struct Job<'a> {
    /// The network.
    pub network: &'a Network,
    /// Dimensions of its pipes and fittings.
    pub dimensions: &'a Dimensions,
    /// Where everything stands.
    pub geometry: Geometry,
    /// The pieces that its pipes are cut to.
    pub pieces: Vec<Piece>,
    /// What each cut loses to the saw.
    pub kerf: Length,
}

/// A kind of sheet.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct Kind {
    /// The name by which it is asked for.
    pub name: &'static str,
    /// What it is for, in a few words.
    pub about: &'static str,
    make: for<'a, 'b> fn(&'a Job<'b>) -> Sheet,
}

/// Every kind of sheet, in the order in which they are wanted.
pub const ALL: &[Kind] = &[
    Kind {
        name: "places",
        about: "Where every fixture and fitting stands",
        make: levels::places,
    },
    Kind {
        name: "levels",
        about: "Fall, direction and inverts of every drain",
        make: levels::levels,
    },
    Kind {
        name: "cuts",
        about: "The pieces of pipe, each cut end to end",
        make: stock::cuts,
    },
    Kind {
        name: "stock",
        about: "Which pieces to cut out of each length of pipe",
        make: stock::stock,
    },
];

impl Kind {
    /// The kind of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        ALL.iter().find(|kind| kind.name == name)
    }

    /// The sheet for a job.
    #[must_use]
    pub fn sheet(&self, job: &Job<'_>) -> Sheet {
        (self.make)(job)
    }
}

impl<'a> Job<'a> {
    /// What the sheets of a network are made from. Nothing is lost to the saw until `kerf` says so.
    ///
    /// # Errors
    /// Whatever in the network's geometry contradicts itself.
    pub fn new(network: &'a Network, dimensions: &'a Dimensions) -> Result<Self, Diagnostics> {
        let geometry = Geometry::resolve(network, dimensions)?;
        let pieces = pieces(network, &geometry, dimensions);
        Ok(Self {
            network,
            dimensions,
            geometry,
            pieces,
            kerf: Length::ZERO,
        })
    }

    /// The nodes as the file has them: by line, then by column, then (repeated runs) by name.
    pub(crate) fn nodes_in_order(&self) -> Vec<NodeId> {
        let graph = self.network.graph();
        let mut nodes: Vec<_> = graph.node_indices().collect();
        nodes.sort_by_key(|&id| {
            graph
                .node_weight(id)
                .map(|node| (node.storey, node.position.line, node.position.column, &node.name))
        });
        nodes
    }

    /// What keeps the inverts of a pipe from being known.
    pub(crate) fn missing_invert(&self, pipe: &Pipe) -> String {
        let what = match (pipe.material, pipe.size) {
            (None, _) => "its material".to_owned(),
            (_, None) => "its size".to_owned(),
            (Some(material), Some(size)) if self.dimensions.pipe(material, size).is_none() => {
                format!("the inside diameter of {material} pipe of {size}")
            }
            _ => "the heights of its ends".to_owned(),
        };
        levels::missing(&pipe.name, &what)
    }
}
