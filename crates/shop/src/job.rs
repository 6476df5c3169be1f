//! What the sheets are made from.

use std::borrow::Cow;

use crownweir_document::{Diagnostic, Diagnostics};
use crownweir_evaluate::Measured;
use crownweir_network::{FlowOrder, Network, Node, NodeId, Pipe, PipeId, Storey};
use crownweir_quantity::{Length, Slope};

use crate::clashes::clashes;
use crate::cut::{Cut, Piece, pieces};
use crate::dimensions::Dimensions;
use crate::geometry::Geometry;
use crate::practice::Practice;
use crate::sheet::{Sheet, on_tape, rounded};
use crate::{holes, levels, materials, offsets, stock, straps, trial};

/// A network and all that its sheets need beside it.
#[derive(Debug)]
pub struct Job<'a> {
    pub(crate) network: &'a Network,
    pub(crate) dimensions: &'a Dimensions,
    pub(crate) geometry: Geometry,
    pub(crate) pieces: Vec<Piece>,
    /// Its nodes and pipes, whatever their numbers.
    pub(crate) order: FlowOrder,
    /// What each cut loses to the saw, where that is stated.
    pub(crate) kerf: Option<Length>,
    pub(crate) plumbing: Option<Measured<'a>>,
    pub(crate) framing: Option<Measured<'a>>,
    pub(crate) practice: Option<&'a Practice>,
}

/// A kind of sheet.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct SheetKind {
    /// The name by which it is asked for.
    pub name: &'static str,
    /// What it is for, in a few words.
    pub about: &'static str,
    make: for<'a, 'b> fn(&'a Job<'b>) -> Sheet,
}

impl SheetKind {
    /// Every kind of sheet, in the order in which they are wanted.
    pub const ALL: &'static [Self] = &[
        Self {
            name: "places",
            about: "Where every fixture and fitting stands",
            make: levels::places,
        },
        Self {
            name: "levels",
            about: "Fall, direction and inverts of every drain",
            make: levels::levels,
        },
        Self {
            name: "offsets",
            about: "Set, roll, travel and advance of every offset",
            make: offsets::offsets,
        },
        Self {
            name: "cuts",
            about: "The pieces of pipe, each cut end to end",
            make: stock::cuts,
        },
        Self {
            name: "stock",
            about: "Which pieces to cut out of each length of pipe",
            make: stock::stock,
        },
        Self {
            name: "holes",
            about: "Where pipes pass joists, studs and plates",
            make: holes::holes,
        },
        Self {
            name: "straps",
            about: "Where each pipe is strapped, and how high",
            make: straps::straps,
        },
        Self {
            name: "materials",
            about: "What to pick at the counter",
            make: materials::materials,
        },
        Self {
            name: "test",
            about: "Heads and pressures of the test, and lines to sign",
            make: trial::test,
        },
    ];

    /// The kind of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        Self::ALL.iter().find(|kind| kind.name == name)
    }

    /// The sheet for a job.
    #[must_use]
    pub fn sheet(&self, job: &Job<'_>) -> Sheet {
        (self.make)(job)
    }
}

/// A network with the heights that its stated inverts give by the inside diameters of its pipes, and the members that are
/// laid out passed where their outside diameters touch them; itself where it states neither.
///
/// # Errors
/// Inverts that deny one another or heights stated otherwise, with both figures; more members for pipes to pass than the limit
/// that the network was read with.
pub fn anchored<'n>(network: &'n Network, dimensions: &Dimensions) -> Result<Cow<'n, Network>, Diagnostics> {
    let size = |pipe: &Pipe| dimensions.pipe(pipe.material?, pipe.size?);
    let mut anchored = Cow::Borrowed(network);
    if network.states_inverts() {
        let inside = |pipe: &Pipe| Some(size(pipe)?.inside);
        anchored = Cow::Owned(network.anchored(&inside)?);
    }
    if network.framing().iter().any(|members| members.layout.is_some()) {
        let outside = |pipe: &Pipe| Some(size(pipe)?.outside);
        anchored = Cow::Owned(anchored.passing_by(&outside)?);
    }
    Ok(anchored)
}

impl<'a> Job<'a> {
    /// What the sheets of a network are made from. What the geometry denies ([`Geometry::contradictions`]) is told on
    /// every sheet that depends on it.
    #[must_use]
    pub fn new(network: &'a Network, dimensions: &'a Dimensions) -> Self {
        let geometry = Geometry::resolve(network, dimensions);
        let pieces = pieces(network, &geometry, dimensions);
        Self {
            network,
            dimensions,
            geometry,
            pieces,
            order: network.flow_order(),
            kerf: None,
            plumbing: None,
            framing: None,
            practice: None,
        }
    }

    /// The same where each cut loses so much to the saw; until this is said, as much as is usual in practice, and without
    /// practice nothing.
    #[must_use]
    pub fn with_kerf(mut self, kerf: Length) -> Self {
        self.kerf = Some(kerf);
        self
    }

    /// The same with what the trade does where rule sets are silent; without it no straps, no test and no cement are
    /// planned.
    #[must_use]
    pub fn with_practice(mut self, practice: &'a Practice) -> Self {
        self.practice = Some(practice);
        self
    }

    /// The same with the network measured by the rule set for its pipes; without it no straps and no test are planned.
    #[must_use]
    pub fn with_plumbing(mut self, plumbing: Measured<'a>) -> Self {
        self.plumbing = Some(plumbing);
        self
    }

    /// The same with the network, its steel plates as [`with_plates`](crate::with_plates) plans them, measured by the
    /// rule set for framing; without it no holes are listed.
    #[must_use]
    pub fn with_framing(mut self, framing: Measured<'a>) -> Self {
        self.framing = Some(framing);
        self
    }

    /// What each cut loses to the saw: as stated, or as is usual, to the step of the tape.
    pub(crate) fn kerf(&self) -> Length {
        let usual = || Some(self.practice?.sawing.as_ref()?.each_cut.loses);
        let usual = || usual().map(|kerf| rounded(kerf, self.network.notation()));
        self.kerf.or_else(usual).unwrap_or_default()
    }

    /// Where everything stands.
    #[must_use]
    pub fn geometry(&self) -> &Geometry {
        &self.geometry
    }

    /// The pieces that the pipes are cut to.
    #[must_use]
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// What cannot be built, in the order of the file: fittings that their pipes deny ([`Geometry::contradictions`]), those
    /// between which there is no room for pipe, pipes that run through each other, framing that may not be bored or notched
    /// as it would be, and what stands in its wood.
    #[must_use]
    pub fn unbuildable(&self) -> Vec<Diagnostic> {
        let denied = self.geometry.contradictions().iter();
        let mut problems: Vec<Diagnostic> = denied.map(|one| one.problem.clone()).collect();
        problems.extend(self.pieces.iter().filter_map(|piece| self.without_room(piece)));
        problems.extend(clashes(self).0.into_iter().map(|clash| {
            let (line, column) = (
                clash.pipe.position.line as usize,
                clash.pipe.position.column as usize,
            );
            let problem = Diagnostic::at(self.network.file(), line, column, clash.message);
            problem.helped("lead one of them round the other, or over or under it")
        }));
        problems.extend(holes::unbuildable(self));
        problems.sort_by_key(|one| (one.place.line, one.place.column));
        problems
    }

    fn without_room(&self, piece: &Piece) -> Option<Diagnostic> {
        let Cut::NoRoom(needed) = &piece.cut else {
            return None;
        };
        let pipe = self.network.graph().edge_weight(piece.pipe)?;
        let centres = piece.centres?;
        let least = if piece.lacks_an_end() { "at least " } else { "" };
        let shown = |length: Length| format!("{least}{}", on_tape(length, self.network.notation()));
        let message = format!(
            "`{}` is {} from centre to centre, and its fittings take {}",
            pipe.name,
            on_tape(centres, self.network.notation()),
            shown(*needed)
        );
        let help = format!(
            "there is no room for pipe between them: lengthen it by {}",
            shown(needed.checked_sub(centres)?)
        );
        let (line, column) = (pipe.position.line as usize, pipe.position.column as usize);
        Some(Diagnostic::at(self.network.file(), line, column, message).helped(help))
    }

    /// A note for each fitting that its pipes deny, ending in what follows for a sheet.
    pub(crate) fn contradictions(&self, so: &str) -> impl Iterator<Item = String> {
        let found = self.geometry.contradictions().iter();
        found.map(move |one| format!("Contradiction: {}; {so}.", one.problem.message))
    }

    /// What stands at the nodes, as water and air flow.
    pub(crate) fn nodes(&self) -> impl Iterator<Item = &'a Node> {
        let graph = self.network.graph();
        self.order.nodes.iter().filter_map(|&id| graph.node_weight(id))
    }

    /// The pipes, as water and air flow through them.
    pub(crate) fn pipes(&self) -> impl Iterator<Item = (PipeId, &'a Pipe)> {
        let graph = self.network.graph();
        let pipes = self.order.pipes.iter();
        pipes.filter_map(|&id| Some((id, graph.edge_weight(id)?)))
    }

    /// The nodes as the file has them: storey by storey, by line, then by column, then (repeated runs) by name.
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

    /// Size and material of a pipe, as a counter is asked for it.
    pub(crate) fn pipe_in_words(&self, pipe: &Pipe) -> Option<String> {
        Some(format!("{} {}", pipe.size?, pipe.material?))
    }

    /// The storey by whose floor a height on a pipe is told: of a pipe that lies, that of its start; of one that
    /// stands, the highest whose floor is not above the height.
    pub(crate) fn storey_at(&self, pipe: PipeId, height: Option<Length>) -> Option<&Storey> {
        let graph = self.network.graph();
        let storeys = self.network.storeys();
        let upright = graph.edge_weight(pipe)?.slope.is_some_and(Slope::is_vertical);
        let (start, _) = graph.edge_endpoints(pipe)?;
        let own = graph.node_weight(start).and_then(|node| node.storey);
        if !upright && let Some(own) = own {
            return storeys.get(own as usize);
        }
        let height = height?;
        let below = storeys
            .iter()
            .filter(|storey| storey.elevation.is_some_and(|floor| floor <= height));
        // What lies below every floor is told by the lowest.
        let lowest = storeys.iter().filter(|storey| storey.elevation.is_some());
        below
            .max_by_key(|storey| storey.elevation)
            .or_else(|| lowest.min_by_key(|storey| storey.elevation))
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
