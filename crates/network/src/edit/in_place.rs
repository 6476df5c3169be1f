//! Edits made where they stand: only what is around them is looked at.

use std::collections::BTreeSet;
use std::sync::Arc;

use crownweir_vocabulary::Role;

use super::error::Faults;
use super::make::{Log, Step};
use super::{Edit, EditError, Edited, NodeProperty};
use crate::geometry::{self, Before};
use crate::model::{Graph, Network, NodeId, NodeKind, PipeId};
use crate::order::{Change, Differ};
use crate::plan::Plan;
use crate::refill::{Unsettled, is_open};
use crate::structure::{Degree, fault};

/// How many edits by which pipes and nodes come and go are made where they stand: each may move much of the orders of
/// flow.
const MOST: usize = 256;

/// Edits that were made where they stand, with what was there before.
#[derive(Debug)]
pub(super) struct Made {
    log: Log,
    before: Before,
    /// The graph, before what follows of the edits was derived, and the plan, where that was derived as a whole.
    whole: Option<Box<(Graph, Plan)>>,
    unsettled: Option<Arc<Unsettled>>,
    /// What they changed in the orders of the drains and of the vents.
    orders: [Vec<Change>; 2],
    edited: Edited,
}

impl Made {
    /// How many nodes are kept for it.
    pub(super) fn held(&self) -> usize {
        self.whole.as_ref().map_or(0, |whole| whole.0.node_count())
    }
}

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
    /// where they make a run, or what stands at a node, one of another kind, or a storey of another height, and of a network
    /// of which places in plan or passages through framing are known only where no pipe or node comes or goes.
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
            Edit::RunKind { .. } | Edit::StoreyHeight { .. } => false,
            _ => true,
        });
        let come_or_go = |edit: &&Edit| {
            let stays = matches!(edit, Edit::Pipe { .. } | Edit::Node { .. });
            !stays && !edit.is_of_whole()
        };
        let coming_and_going = edits.iter().filter(come_or_go).count();
        let only_piped = || self.plan.is_empty() && self.passages.is_empty() && !self.lays_out_framing();
        each_stands && (coming_and_going == 0 || coming_and_going <= MOST && only_piped())
    }

    fn lays_out_framing(&self) -> bool {
        self.framing.iter().any(|members| members.layout.is_some())
    }

    /// Makes edits where they stand. None, with all as it was, where that cannot be done.
    pub(super) fn edit_in_place(&mut self, edits: &[Edit]) -> Result<Option<(Edited, Made)>, EditError> {
        let mut faults = Faults::of(edits);
        let mut log = Log::default();
        for (index, edit) in edits.iter().enumerate() {
            if let Err(problem) = self.make(edit, &mut log) {
                faults.at_edit(index, self, *problem);
            }
        }
        let passed = Passed::of(&log);
        if !faults.is_empty() {
            self.unmake(&log);
            return faults.or(None);
        }
        log.around.sort_unstable();
        log.around.dedup();
        let touched = self.still_there(&log.around);
        if !passed.is_empty() && !self.is_sound_at(&touched, &passed) {
            self.unmake(&log);
            return Ok(None);
        }
        let mut whole: Option<Box<(Graph, Plan)>> = None;
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
                whole = Some(Box::new((old, std::mem::replace(&mut self.plan, plan))));
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
        faults.at_passages(self);
        if !faults.is_empty() {
            self.put_back(whole, &before, &log);
            return faults.or(None);
        }
        let mut edited = self.differing(&log, &before, passed);
        // Where a pipe lies in what it passes hangs on heights further away than those that are followed.
        edited.anew |= !self.passages.is_empty();
        edited.anew |= edits.iter().any(Edit::is_of_whole);
        // By which opening a drain enters a fitting hangs on its pattern, where directions in plan are known.
        let of_fitting = |edit: &Edit| {
            matches!(
                edit,
                Edit::Node {
                    set: NodeProperty::Stands(NodeKind::Fitting { .. }),
                    ..
                }
            )
        };
        edited.anew |= !self.plan.bearings.is_empty() && edits.iter().any(of_fitting);
        if whole.is_some() || self.lays_out_framing() {
            edited.anew = true;
            self.passages.truncate(self.stated_passages);
            if let Err(message) = self.find_passages() {
                self.put_back(whole, &before, &log);
                self.passages.truncate(self.stated_passages);
                // They were found before, so that they are found again.
                let _found = self.find_passages();
                faults.at_network(self.problem(message));
                return faults.or(None);
            }
        }
        let orders;
        match self.reordered(&touched, &edited) {
            Some((reordered, changes)) => (edited.reordered, orders) = (reordered, changes),
            None => {
                self.put_back(whole, &before, &log);
                return Ok(None);
            }
        }
        let unsettled = self.unsettled.clone();
        let opens = |&id: &PipeId| self.graph.edge_weight(id).is_some_and(is_open);
        if unsettled.is_some() || edited.pipes.iter().chain(&edited.added_pipes).any(opens) {
            self.unsettled = self.settled_by_what_is_given();
        }
        let made = Made {
            log,
            before,
            whole,
            unsettled,
            orders,
            edited: edited.clone(),
        };
        Ok(Some((edited, made)))
    }

    /// Takes back edits that were made where they stand, the last that were made.
    pub(super) fn take_back(&mut self, made: &Made) -> Edited {
        let whole = made.whole.clone();
        let found_passages = whole.is_some() || self.lays_out_framing();
        self.put_back(whole, &made.before, &made.log);
        self.unsettled.clone_from(&made.unsettled);
        if found_passages {
            self.passages.truncate(self.stated_passages);
            // They were found before, so that they are found again.
            let _found = self.find_passages();
        }
        let [drains, vents] = &made.orders;
        self.drain_order.revert(drains);
        self.vent_order.revert(vents);
        let forth = &made.edited;
        Edited {
            added_nodes: forth.removed_nodes.clone(),
            added_pipes: forth.removed_pipes.clone(),
            removed_nodes: forth.added_nodes.clone(),
            removed_pipes: forth.added_pipes.clone(),
            reordered: self.still_there(&forth.reordered),
            ..forth.clone()
        }
    }

    fn still_there(&self, nodes: &[NodeId]) -> Vec<NodeId> {
        let there = nodes.iter().copied();
        there.filter(|&node| self.graph.contains_node(node)).collect()
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
    fn reordered(&mut self, touched: &[NodeId], edited: &Edited) -> Option<(Vec<NodeId>, [Vec<Change>; 2])> {
        let mut moved = Vec::new();
        if edited.added_pipes.is_empty() && edited.removed_pipes.is_empty() {
            return Some((moved, Default::default()));
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
        let Some(vents) = vents else {
            self.drain_order.revert(&drains);
            return None;
        };
        moved.sort_unstable();
        moved.dedup();
        Some((moved, [drains, vents]))
    }

    fn put_back(&mut self, whole: Option<Box<(Graph, Plan)>>, before: &Before, log: &Log) {
        if let Some(whole) = whole {
            (self.graph, self.plan) = *whole;
        }
        for &(id, elevation) in &before.nodes {
            if let Some(node) = self.graph.node_weight_mut(id) {
                node.elevation = elevation;
            }
        }
        for &(id, length, slope) in &before.pipes {
            if let Some(pipe) = self.graph.edge_weight_mut(id) {
                (pipe.length, pipe.slope) = (length, slope);
            }
        }
        self.unmake(log);
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
