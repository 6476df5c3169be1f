//! Edits of what is not followed where it stands: the network is built from its parts anew.

use std::collections::HashMap;
use std::sync::OnceLock;

use super::error::Faults;
use super::make::Log;
use super::{Edit, EditError};
use crate::geometry;
use crate::model::{Network, PipeId};
use crate::order::Order;
use crate::plan::Plan;
use crate::refill::Unsettled;
use crate::structure::{self, Spot};

impl Network {
    /// The network with the edits made, built from its parts anew. Nodes and pipes are numbered the way water and air
    /// flow, without gaps.
    pub(super) fn rebuilt(&self, edits: &[Edit]) -> Result<Self, EditError> {
        let mut network = self.clone();
        network.passages.truncate(network.stated_passages);
        let mut faults = Faults::of(edits);
        // What is thrown away need not be undone.
        let mut log = Log::default();
        for (index, edit) in edits.iter().enumerate() {
            if let Err(problem) = network.make(edit, &mut log) {
                faults.at_edit(index, &network, *problem);
            }
        }
        if !faults.is_empty() {
            return faults.or(None);
        }
        let ends_in_sump = network.ends_in_sump;
        let orders = structure::check(&network.graph, ends_in_sump, &mut |spot, message, expected| {
            let problem = network.problem(message).expecting(expected);
            match spot {
                Spot::Network => faults.at_network(problem),
                Spot::Node(node) => faults.at_node(&network, node, problem),
            }
        });
        let Some(mut orders) = orders.filter(|_| faults.is_empty()) else {
            return faults.or(None);
        };
        network.given.strip_all(&mut network.graph);
        let graph = std::mem::take(&mut network.graph);
        let Some((graph, numbering)) = orders.renumber(graph) else {
            return faults.or(None);
        };
        network.graph = graph;
        network.given = std::mem::take(&mut network.given).renumbered(&numbering);
        // Of what has gone nothing is stated any more.
        if network.given.plan.states_nothing() {
            network.given.plan = Plan::default();
        }
        let mut denied = Vec::new();
        let stated = network.given.plan.clone();
        network.plan = geometry::derive(
            &mut network.graph,
            stated,
            orders.disposal,
            &network.storeys,
            network.notation,
            &mut |denier, message, help| denied.push((denier, message, help)),
        );
        for (denier, message, help) in denied {
            faults.at_denied(&network, denier, network.problem(message).helped(help));
        }
        if !faults.is_empty() {
            return faults.or(None);
        }
        network.names = OnceLock::new();
        network.disposal = orders.disposal;
        network.drain_order = Order::new(orders.drains);
        network.vent_order = Order::new(orders.vents);
        network.unsettled = Unsettled::of(&network.graph);
        let now: HashMap<PipeId, PipeId> = numbering
            .pipes
            .iter()
            .zip(network.graph.edge_indices())
            .map(|(old, new)| (*old, new))
            .collect();
        network
            .passages
            .retain_mut(|passage| match now.get(&passage.pipe) {
                Some(&pipe) => {
                    passage.pipe = pipe;
                    true
                }
                None => false,
            });
        network.stated_passages = network.passages.len();
        if let Err(message) = network.find_passages() {
            faults.at_network(network.problem(message));
        }
        faults.at_passages(&network);
        faults.or(Some(network))
    }
}
