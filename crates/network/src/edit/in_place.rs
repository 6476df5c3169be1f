//! Edits of properties, made where they stand.

use crownweir_document::{Diagnostic, Diagnostics, Limits};
use crownweir_quantity::Length;
use petgraph::graph::DiGraph;

use super::draft::strip_all;
use super::{Edit, Edited, NodeProperty, PipeProperty};
use crate::build::load_denied;
use crate::geometry::{self, Before};
use crate::model::{Network, Node, NodeId, NodeKind, Pipe, PipeId};
use crate::plan::Plan;
use crate::refill::{Unsettled, is_open};

/// What edits did to the nodes and pipes themselves, to be undone.
#[derive(Default)]
pub(super) struct Undo {
    pub(super) nodes: Vec<(NodeId, Node)>,
    pub(super) pipes: Vec<(PipeId, Pipe)>,
    heights: Vec<(NodeId, bool)>,
    lengths: Vec<(PipeId, bool)>,
    slopes: Vec<(PipeId, bool)>,
}

impl Network {
    pub(super) fn edit_in_place(&mut self, edits: &[Edit]) -> Result<Edited, Diagnostics> {
        let mut problems = Diagnostics::keeping(Limits::default().diagnostics);
        let mut undo = Undo::default();
        let mut around = Vec::new();
        for edit in edits {
            let problem = match edit {
                Edit::Pipe { pipe, set } => self
                    .edited_pipe(pipe)
                    .and_then(|id| self.set_pipe(id, *set, &mut undo, &mut around)),
                Edit::Node { node, set } => self
                    .edited_node(node)
                    .and_then(|id| self.set_node(id, set, &mut undo, &mut around)),
                _ => Ok(()),
            };
            problems.extend(problem.err().map(|problem| *problem));
        }
        let planned = !self.plan.is_empty();
        let mut whole: Option<(DiGraph<Node, Pipe, u32>, Plan)> = None;
        let mut before = Before::default();
        if problems.is_empty() && !around.is_empty() {
            let (notation, mut denied) = (self.notation, Vec::new());
            let mut deny = |pipe, message, help| denied.push((pipe, message, help));
            if planned {
                let old = self.graph.clone();
                strip_all(&mut self.graph, &self.given);
                let stated = self.given.plan.clone();
                let plan = geometry::derive(&mut self.graph, stated, self.disposal, notation, &mut deny);
                whole = Some((old, std::mem::replace(&mut self.plan, plan)));
            } else {
                around.sort_unstable();
                around.dedup();
                before = geometry::derive_around(&mut self.graph, &self.given, &around, notation, &mut deny);
            }
            for (pipe, message, help) in denied {
                problems.push(self.problem_at_pipe(pipe, message).helped(help));
            }
        }
        if !problems.is_empty() {
            if let Some((graph, plan)) = whole {
                (self.graph, self.plan) = (graph, plan);
            }
            self.put_back(before);
            self.undo(undo);
            return problems.or(None);
        }
        let mut edited = self.differing(&undo, &before);
        if whole.is_some() || self.framing.iter().any(|members| members.layout.is_some()) {
            edited.anew = true;
            self.passages.truncate(self.stated_passages);
            if let Err(message) = self.find_passages() {
                if let Some((graph, plan)) = whole {
                    (self.graph, self.plan) = (graph, plan);
                }
                self.put_back(before);
                self.undo(undo);
                self.passages.truncate(self.stated_passages);
                // They were found before, so that they are found again.
                let _found = self.find_passages();
                problems.push(self.problem(1, 1, message));
                return problems.or(None);
            }
        }
        let opens = |&id: &PipeId| self.graph.edge_weight(id).is_some_and(is_open);
        if self.unsettled.is_some() || edited.pipes.iter().any(opens) {
            self.unsettled = Unsettled::of(&self.graph);
        }
        Ok(edited)
    }

    pub(super) fn set_pipe(
        &mut self,
        id: PipeId,
        set: PipeProperty,
        undo: &mut Undo,
        around: &mut Vec<NodeId>,
    ) -> Result<(), Box<Diagnostic>> {
        if let PipeProperty::Length(Some(Length::ZERO)) = set {
            let name = self.graph.edge_weight(id).map_or("", |pipe| &*pipe.name);
            return Err(Box::new(
                self.problem_at_pipe(id, format!("the pipe `{name}` has no length"))
                    .expecting("a length above zero; leave it out where it is not known"),
            ));
        }
        let ends = self.graph.edge_endpoints(id);
        let Some(pipe) = self.graph.edge_weight_mut(id) else {
            return Ok(());
        };
        undo.pipes.push((id, pipe.clone()));
        let mut moves = false;
        match set {
            PipeProperty::Size(size) => pipe.size = size,
            PipeProperty::Length(length) => {
                pipe.length = length;
                note(&mut self.given.lengths, id.index(), length.is_some())
                    .into_iter()
                    .for_each(|old| undo.lengths.push((id, old)));
                moves = true;
            }
            PipeProperty::Slope(slope) => {
                (pipe.slope, pipe.slope_bounds) = (slope, None);
                note(&mut self.given.slopes, id.index(), slope.is_some())
                    .into_iter()
                    .for_each(|old| undo.slopes.push((id, old)));
                moves = true;
            }
            PipeProperty::Material(material) => pipe.material = material,
            PipeProperty::SupportSpacing(spacing) => pipe.support_spacing = spacing,
            PipeProperty::MidStoreyGuide(guide) => pipe.mid_storey_guide = guide,
            PipeProperty::Underground(underground) => pipe.underground = underground,
            PipeProperty::Enters(enters) => (pipe.enters, pipe.enters_stated) = (enters, true),
        }
        if moves && let Some((from, to)) = ends {
            around.extend([from, to]);
        }
        Ok(())
    }

    pub(super) fn set_node(
        &mut self,
        id: NodeId,
        set: &NodeProperty,
        undo: &mut Undo,
        around: &mut Vec<NodeId>,
    ) -> Result<(), Box<Diagnostic>> {
        match set {
            NodeProperty::Stands(NodeKind::Fixture(fixture)) => {
                if let Some((message, expected)) = load_denied(fixture) {
                    return Err(Box::new(self.problem_at_node(id, message).expecting(expected)));
                }
            }
            NodeProperty::Storey(Some(storey)) if *storey as usize >= self.storeys.len() => {
                return Err(Box::new(
                    self.problem_at_node(id, format!("there is no storey number {storey}")),
                ));
            }
            _ => {}
        }
        let Some(node) = self.graph.node_weight_mut(id) else {
            return Ok(());
        };
        undo.nodes.push((id, node.clone()));
        match set {
            NodeProperty::Stands(kind) => node.kind = kind.clone(),
            NodeProperty::Storey(storey) => node.storey = *storey,
            NodeProperty::Height(height) => {
                node.elevation = *height;
                note(&mut self.given.heights, id.index(), height.is_some())
                    .into_iter()
                    .for_each(|old| undo.heights.push((id, old)));
                around.push(id);
                around.extend(self.graph.neighbors_undirected(id));
            }
        }
        Ok(())
    }

    fn put_back(&mut self, before: Before) {
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
    }

    /// The last edit first, so that what was there before all of them comes back.
    fn undo(&mut self, undo: Undo) {
        for (id, node) in undo.nodes.into_iter().rev() {
            if let Some(own) = self.graph.node_weight_mut(id) {
                *own = node;
            }
        }
        for (id, pipe) in undo.pipes.into_iter().rev() {
            if let Some(own) = self.graph.edge_weight_mut(id) {
                *own = pipe;
            }
        }
        for (id, old) in undo.heights.into_iter().rev() {
            note(&mut self.given.heights, id.index(), old);
        }
        for (id, old) in undo.lengths.into_iter().rev() {
            note(&mut self.given.lengths, id.index(), old);
        }
        for (id, old) in undo.slopes.into_iter().rev() {
            note(&mut self.given.slopes, id.index(), old);
        }
    }

    /// The nodes and pipes that were edited, and those of which something else follows now.
    fn differing(&self, undo: &Undo, before: &Before) -> Edited {
        let moved = before.nodes.iter().filter(|(id, elevation)| {
            self.graph
                .node_weight(*id)
                .is_some_and(|node| node.elevation != *elevation)
        });
        let other = before.pipes.iter().filter(|(id, length, slope)| {
            self.graph
                .edge_weight(*id)
                .is_some_and(|pipe| (pipe.length, pipe.slope) != (*length, *slope))
        });
        let placed = undo.nodes.iter().filter(|(id, before)| {
            self.graph
                .node_weight(*id)
                .is_some_and(|node| (node.storey, node.elevation) != (before.storey, before.elevation))
        });
        let mut moved: Vec<NodeId> = moved
            .map(|(id, _)| *id)
            .chain(placed.map(|(id, _)| *id))
            .collect();
        moved.sort_unstable();
        moved.dedup();
        let mut nodes: Vec<NodeId> = undo.nodes.iter().map(|(id, _)| *id).collect();
        nodes.extend(&moved);
        let mut pipes: Vec<PipeId> = undo.pipes.iter().map(|(id, _)| *id).collect();
        pipes.extend(other.map(|(id, ..)| *id));
        nodes.sort_unstable();
        nodes.dedup();
        pipes.sort_unstable();
        pipes.dedup();
        Edited {
            nodes,
            pipes,
            moved,
            anew: false,
        }
    }
}

/// Notes whether something is given, and gives what was noted before.
fn note(list: &mut [bool], at: usize, given: bool) -> Option<bool> {
    list.get_mut(at).map(|slot| std::mem::replace(slot, given))
}
