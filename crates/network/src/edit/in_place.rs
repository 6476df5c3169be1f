//! Edits made where they stand: only what is around them is looked at.

use std::collections::BTreeSet;

use crownweir_vocabulary::Role;

use super::error::Faults;
use super::make::{Log, Step};
use super::{Edit, EditError, Edited, NodeProperty};
use crate::geometry::{self, Before};
use crate::model::{Graph, Network, NodeId, NodeKind, PipeId};
use crate::order::Differ;
use crate::plan::Plan;
use crate::refill::is_open;
use crate::structure::{Degree, fault};

/// How many edits by which pipes and nodes come and go are made where they stand: each may move much of the orders of
/// flow.
const MOST: usize = 256;

/// What came and went, of what there was before and of what there is now. A number may have been given again.
#[derive(Default)]
struct Passed {
    nodes: Vec<NodeId>,
    pipes: Vec<PipeId>,
    added_nodes: BTreeSet<NodeId>,
    added_pipes: BTreeSet<PipeId>,
}

impl Passed {
    fn of(log: &Log) -> Self {
        let mut own = Self::default();
        for step in &log.steps {
            match step {
                Step::AddedNode(id) => drop(own.added_nodes.insert(*id)),
                Step::AddedPipe(id) => drop(own.added_pipes.insert(*id)),
                Step::TookNode(id, _) => {
                    let was_added = own.added_nodes.remove(id);
                    own.nodes.extend((!was_added).then_some(*id));
                }
                Step::TookPipe(id, ..) => {
                    let was_added = own.added_pipes.remove(id);
                    own.pipes.extend((!was_added).then_some(*id));
                }
                _ => {}
            }
        }
        own
    }

    fn is_empty(&self) -> bool {
        self.nodes.is_empty()
            && self.pipes.is_empty()
            && self.added_nodes.is_empty()
            && self.added_pipes.is_empty()
    }
}

impl Network {
    /// Whether edits can be made where they stand, so that numbers stay, as far as that can be told before they are made: not
    /// where they make a run, or what stands at a node, one of another kind, and of a network of which places in plan or
    /// passages through framing are known only where no pipe or node comes or goes.
    #[must_use]
    pub fn is_edited_in_place(&self, edits: &[Edit]) -> bool {
        let each_stands = edits.iter().all(|edit| match edit {
            Edit::Node {
                node,
                set: NodeProperty::Stands(kind),
            } => {
                let known = self.edited_node(node).ok();
                let own = known.and_then(|id| self.graph.node_weight(id));
                own.is_none_or(|own| std::mem::discriminant(&own.kind) == std::mem::discriminant(kind))
            }
            Edit::RunKind { .. } => false,
            _ => true,
        });
        let come_or_go = |edit: &&Edit| !matches!(edit, Edit::Pipe { .. } | Edit::Node { .. });
        let coming_and_going = edits.iter().filter(come_or_go).count();
        let only_piped = || self.plan.is_empty() && self.passages.is_empty() && !self.lays_out_framing();
        each_stands && (coming_and_going == 0 || coming_and_going <= MOST && only_piped())
    }

    fn lays_out_framing(&self) -> bool {
        self.framing.iter().any(|members| members.layout.is_some())
    }

    /// Makes edits where they stand. None, with all as it was, where that cannot be done.
    pub(super) fn edit_in_place(&mut self, edits: &[Edit]) -> Result<Option<Edited>, EditError> {
        let mut faults = Faults::of(edits);
        let mut log = Log::default();
        for (index, edit) in edits.iter().enumerate() {
            if let Err(problem) = self.make(edit, &mut log) {
                faults.at_edit(index, self, *problem);
            }
        }
        let passed = Passed::of(&log);
        if !faults.is_empty() {
            self.undo(log);
            return faults.or(None);
        }
        let mut touched = std::mem::take(&mut log.around);
        touched.sort_unstable();
        touched.dedup();
        touched.retain(|&node| self.graph.contains_node(node));
        if !passed.is_empty() && !self.is_sound_at(&touched, &passed) {
            self.undo(log);
            return Ok(None);
        }
        let mut whole: Option<(Graph, Plan)> = None;
        let mut before = Before::default();
        let (notation, mut denied) = (self.notation, Vec::new());
        let mut deny = |denier, message, help| denied.push((denier, message, help));
        if !touched.is_empty() {
            if self.plan.is_empty() {
                before = geometry::derive_around(&mut self.graph, &self.given, &touched, notation, &mut deny);
            } else {
                let old = self.graph.clone();
                self.given.strip_all(&mut self.graph);
                let stated = self.given.plan.clone();
                let plan = geometry::derive(
                    &mut self.graph,
                    stated,
                    self.disposal,
                    &self.storeys,
                    notation,
                    &mut deny,
                );
                whole = Some((old, std::mem::replace(&mut self.plan, plan)));
            }
        }
        if whole.is_none() {
            let derived = before.nodes.iter().map(|(node, _)| *node);
            let own = log.standing.iter().copied();
            let levels = self.levels();
            let held = levels.held_with(touched.iter().copied().chain(derived).chain(own));
            levels.check(held.into_iter(), &mut deny);
        }
        for (denier, message, help) in denied {
            faults.at_denied(self, denier, self.problem(message).helped(help));
        }
        faults.at_centres(self);
        if !faults.is_empty() {
            self.put_back(whole, before, log);
            return faults.or(None);
        }
        let mut edited = self.differing(&log, &before, passed);
        // Where a pipe lies in what it passes hangs on heights further away than those that are followed.
        edited.anew |= !self.passages.is_empty();
        if whole.is_some() || self.lays_out_framing() {
            edited.anew = true;
            self.passages.truncate(self.stated_passages);
            if let Err(message) = self.find_passages() {
                self.put_back(whole, before, log);
                self.passages.truncate(self.stated_passages);
                // They were found before, so that they are found again.
                let _found = self.find_passages();
                faults.at_network(self.problem(message));
                return faults.or(None);
            }
        }
        match self.reordered(&touched, &edited) {
            Some(reordered) => edited.reordered = reordered,
            None => {
                self.put_back(whole, before, log);
                return Ok(None);
            }
        }
        let opens = |&id: &PipeId| self.graph.edge_weight(id).is_some_and(is_open);
        if self.unsettled.is_some() || edited.pipes.iter().chain(&edited.added_pipes).any(opens) {
            self.unsettled = self.settled_by_what_is_given();
        }
        Ok(Some(edited))
    }

    /// Whether nothing is wrong at nodes where pipes came or went, and the point of disposal is still the one.
    fn is_sound_at(&self, touched: &[NodeId], passed: &Passed) -> bool {
        let node = |id: NodeId| self.graph.node_weight(id);
        let another_disposal = passed
            .added_nodes
            .iter()
            .any(|&id| node(id).is_some_and(|node| matches!(node.kind, NodeKind::Disposal)));
        let stays = !passed.nodes.contains(&self.disposal) && !another_disposal;
        stays
            && touched.iter().all(|&id| {
                let degree = Degree::of(&self.graph, id);
                node(id).is_none_or(|node| fault(node, &degree, self.ends_in_sump).is_none())
            })
    }

    /// Has nodes join and leave the orders of flow, and tells which of the others moved; none, with all as it was, where they
    /// cannot.
    fn reordered(&mut self, touched: &[NodeId], edited: &Edited) -> Option<Vec<NodeId>> {
        let mut moved = Vec::new();
        if edited.added_pipes.is_empty() && edited.removed_pipes.is_empty() {
            return Some(moved);
        }
        let differ = Differ {
            removed: &edited.removed_nodes,
            touched,
            added: &edited.added_pipes,
        };
        let drains = self
            .drain_order
            .renew(&self.graph, Role::Drain, &differ, &mut moved)?;
        let vents = self
            .vent_order
            .renew(&self.graph, Role::Vent, &differ, &mut moved);
        if vents.is_none() {
            self.drain_order.revert(drains);
            return None;
        }
        moved.sort_unstable();
        moved.dedup();
        Some(moved)
    }

    fn put_back(&mut self, whole: Option<(Graph, Plan)>, before: Before, log: Log) {
        if let Some((graph, plan)) = whole {
            (self.graph, self.plan) = (graph, plan);
        }
        for (id, elevation) in before.nodes {
            if let Some(node) = self.graph.node_weight_mut(id) {
                node.elevation = elevation;
            }
        }
        for (id, length, slope) in before.pipes {
            if let Some(pipe) = self.graph.edge_weight_mut(id) {
                (pipe.length, pipe.slope) = (length, slope);
            }
        }
        self.undo(log);
    }

    /// The nodes and pipes that were edited, and those of which something else follows now.
    fn differing(&self, log: &Log, before: &Before, passed: Passed) -> Edited {
        let stays = |id: &NodeId| self.graph.contains_node(*id) && !passed.added_nodes.contains(id);
        let pipe_stays =
            |id: &PipeId| self.graph.edge_weight(*id).is_some() && !passed.added_pipes.contains(id);
        let (mut nodes, mut moved, mut pipes) = (Vec::new(), Vec::new(), Vec::new());
        for (id, elevation) in &before.nodes {
            let node = self.graph.node_weight(*id);
            if node.is_some_and(|node| node.elevation != *elevation) {
                moved.push(*id);
            }
        }
        for (id, length, slope) in &before.pipes {
            let pipe = self.graph.edge_weight(*id);
            if pipe.is_some_and(|pipe| (pipe.length, pipe.slope) != (*length, *slope)) {
                pipes.push(*id);
            }
        }
        for step in &log.steps {
            match step {
                Step::SetNode(id, before) => {
                    nodes.push(*id);
                    let node = self.graph.node_weight(*id);
                    if node.is_some_and(|node| {
                        (node.storey, node.elevation) != (before.storey, before.elevation)
                    }) {
                        moved.push(*id);
                    }
                }
                Step::SetPipe(id, _) => pipes.push(*id),
                _ => {}
            }
        }
        moved.retain(stays);
        nodes.retain(stays);
        pipes.retain(pipe_stays);
        moved.sort_unstable();
        moved.dedup();
        nodes.extend(&moved);
        nodes.sort_unstable();
        nodes.dedup();
        pipes.sort_unstable();
        pipes.dedup();
        let (mut removed_nodes, mut removed_pipes) = (passed.nodes, passed.pipes);
        removed_nodes.sort_unstable();
        removed_pipes.sort_unstable();
        Edited {
            nodes,
            pipes,
            moved,
            anew: false,
            added_nodes: passed.added_nodes.into_iter().collect(),
            added_pipes: passed.added_pipes.into_iter().collect(),
            removed_nodes,
            removed_pipes,
            reordered: Vec::new(),
        }
    }
}
