//! Networks whose open sizes and slopes are filled in, one way after the other, without the file being read anew.

use std::sync::Arc;

use crownweir_quantity::{Length, NominalSize, Slope};
use petgraph::stable_graph::StableDiGraph;

use crate::edit::History;
use crate::elevation::{self, Sources};
use crate::geometry;
use crate::model::{Graph, Network, Pipe, PipeId};

/// The heights of nodes, and the lengths and slopes of pipes, as far as they are settled while slopes are open: what is
/// settled then holds with every slope.
#[derive(Debug)]
pub(crate) struct Unsettled(StableDiGraph<Option<Length>, (Option<Length>, Option<Slope>), u32>);

impl Unsettled {
    /// What is settled so far, where a slope is still to be chosen.
    pub(crate) fn of(graph: &Graph) -> Option<Arc<Self>> {
        let any = graph.edge_weights().any(is_open);
        any.then(|| {
            let settled = graph.map(|_, node| node.elevation, |_, pipe| (pipe.length, pipe.slope));
            Arc::new(Self(settled))
        })
    }
}

impl Network {
    /// Whether a pipe's slope was chosen within bounds: it follows from nothing else.
    pub(crate) fn is_chosen(&self, id: PipeId) -> bool {
        let settled = self
            .unsettled
            .as_ref()
            .and_then(|settled| settled.0.edge_weight(id));
        let is_open = settled.is_some_and(|(_, slope)| slope.is_none());
        let own = self.graph.edge_weight(id);
        is_open && own.is_some_and(|pipe| pipe.slope.is_some() && pipe.slope_bounds.is_some())
    }
}

/// Whether a pipe's slope is still to be chosen within bounds.
pub(crate) fn is_open(pipe: &Pipe) -> bool {
    pipe.slope.is_none() && pipe.slope_bounds.is_some()
}

impl Network {
    /// What is settled after an edit, whatever slopes have been chosen.
    pub(crate) fn settled_by_what_is_given(&self) -> Option<Arc<Unsettled>> {
        let has_both = |pipe: &Pipe| pipe.slope.is_some() && pipe.slope_bounds.is_some();
        if !self.graph.edge_weights().any(has_both) {
            return Unsettled::of(&self.graph);
        }
        let mut graph = self.graph.clone();
        self.given.strip_all(&mut graph);
        let stated = self.given.plan.clone();
        // What heights deny with the slopes that have been chosen is no matter here.
        geometry::derive(
            &mut graph,
            stated,
            self.disposal,
            &self.storeys,
            self.notation,
            &mut |_, _, _| (),
        );
        Unsettled::of(&graph)
    }

    /// Gives a pipe a size, or leaves it open. A pipe that is not of this network is let be.
    ///
    /// ```
    /// # let file = "
    /// # crownweir: network/1
    /// # name: drain
    /// # drains:
    /// #   - {slope: 1/4 in/ft, path: [{fitting: {name: a}}, {pipe: {name: p, length: 3 ft}}, {disposal: {name: z}}]}
    /// # ";
    /// let mut network = crownweir_network::Network::read("n.yaml", file.as_bytes(), &Default::default())?;
    /// let pipe = network.pipe_named("p").ok_or("no pipe")?;
    /// network.set_size(pipe, "3 in".parse().ok());
    /// assert_eq!(network.graph()[pipe].size, "3 in".parse().ok());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn set_size(&mut self, pipe: PipeId, size: Option<NominalSize>) {
        self.history = History::default();
        if let Some(pipe) = self.graph.edge_weight_mut(pipe) {
            pipe.size = size;
        }
    }

    /// Gives each of some pipes, whose slopes the file leaves to be chosen within bounds, a slope or none, and all
    /// others of that kind none; the heights that follow are carried anew, places in plan are not. False where the slopes
    /// deny heights that the file states. Bounds are not looked at.
    ///
    /// Of chosen slopes an [edit](Self::edit) gives up those on which the heights hang that follow anew by it, and one by
    /// which the network is built anew gives up all.
    ///
    /// ```
    /// # let file = "
    /// # crownweir: network/1
    /// # name: drain
    /// # drains:
    /// #   - size: 3 in
    /// #     slope: {at_least: 1/8 in/ft, at_most: 1/2 in/ft}
    /// #     path: [{fitting: {name: a}}, {pipe: {name: p, length: 4 ft}}, {disposal: {name: z, height: -1 ft}}]
    /// #     storey: ground
    /// # storeys: [{storey: ground}]
    /// # ";
    /// let mut network = crownweir_network::Network::read("n.yaml", file.as_bytes(), &Default::default())?;
    /// let pipe = network.pipe_named("p").ok_or("no pipe")?;
    /// let start = network.node_named("a").ok_or("no node")?;
    /// assert_eq!(network.graph()[start].elevation, None);
    /// assert!(network.set_slopes(&[(pipe, "1/4 in/ft".parse().ok())]));
    /// assert_eq!(network.graph()[start].elevation.map(|height| height.to_string()), Some("-11 in".to_owned()));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn set_slopes(&mut self, slopes: &[(PipeId, Option<Slope>)]) -> bool {
        let Some(unsettled) = self.unsettled.clone() else {
            return slopes.is_empty();
        };
        self.history = History::default();
        for (id, elevation) in unsettled.0.node_indices().zip(unsettled.0.node_weights()) {
            if let Some(node) = self.graph.node_weight_mut(id) {
                node.elevation = *elevation;
            }
        }
        for (id, (length, slope)) in unsettled.0.edge_indices().zip(unsettled.0.edge_weights()) {
            if let Some(pipe) = self.graph.edge_weight_mut(id) {
                (pipe.length, pipe.slope) = (*length, *slope);
            }
        }
        for (id, slope) in slopes {
            if let Some(pipe) = self.graph.edge_weight_mut(*id)
                && pipe.slope.is_none()
            {
                pipe.slope = *slope;
            }
        }
        let mut sound = true;
        let filled = elevation::settle(&mut self.graph);
        let all = self.graph.edge_indices();
        let sources = Sources {
            given: &|_| false,
            filled: &filled,
        };
        elevation::check(&self.graph, all, &sources, self.notation, &mut |_, _| {
            sound = false
        });
        let nodes = self.graph.node_indices();
        self.levels().check(nodes, &mut |_, _, _| sound = false);
        sound
    }
}
