//! Pipes and nodes that come and go.
//!
//! What hangs on the course of a stack, a building drain or a loop as a whole, or on which of several vents goes first, is not
//! followed: the network is then checked anew.

use std::collections::{BTreeSet, HashSet};

use crownweir_network::{Edited, NodeId, NodeKind, PipeId};
use crownweir_vocabulary::Role;

use super::members::{Members, remove};
use super::pass::{
    Goes,
    Pass::{
        self, Alike, Circuit, Circulates, Cuts, Group, Junction, Loops, Valves, VentCleanouts, WetEnd, Yokes,
    },
};
use super::reread::is_main;
use super::{Alters, Lost, differs};
use crate::measure::air::{Reliance, Supply};
use crate::measure::drains::{Details, Totals};
use crate::measure::loads::FixtureLoad;
use crate::measure::seen::{By, Figure};
use crate::measure::{Chosen, Class, FixtureFacts, Measured, NONE, PipeFacts, index, loops, put, vents};

/// Where pipes come or go.
#[derive(Debug)]
pub(crate) struct Touched {
    /// The nodes, in order, and how they stood.
    nodes: Vec<(u32, Standing)>,
    /// Whether some of the pipes are vents.
    vents: bool,
}

/// What decides by which passes a node goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Standing {
    class: Class,
    leads_on: bool,
    is_vented: bool,
}

fn node_number(id: NodeId) -> u32 {
    index(id.index())
}

fn pipe_number(id: PipeId) -> u32 {
    index(id.index())
}

impl Measured<'_> {
    fn standing(&self, node: u32) -> Standing {
        Standing {
            class: self
                .state
                .class
                .get(node as usize)
                .copied()
                .unwrap_or(Class::Gone),
            leads_on: self.state.next(node).is_some(),
            is_vented: !self.state.vents_from(node).is_empty(),
        }
    }

    /// Looks at what an edit of the network has let come and go, before any of it is taken over: where, and whether it can be
    /// followed. Tells of all that has gone.
    pub(crate) fn look_around(
        &self,
        edited: &Edited,
        own: &Members,
        alters: &mut impl Alters,
    ) -> Result<Touched, Lost> {
        let graph = self.network.graph();
        let removed = || edited.removed_pipes.iter().copied().map(pipe_number);
        let added = || {
            edited
                .added_pipes
                .iter()
                .filter_map(|&pipe| graph.edge_weight(pipe))
        };
        let added_main = added().any(|pipe| {
            let run = self.network.run(pipe.run);
            run.is_none_or(|run| is_main(run.kind))
        });
        let reordered = edited
            .reordered
            .iter()
            .filter_map(|&node| self.state.next(node_number(node)));
        let of_mains = removed().chain(reordered).any(|pipe| self.is_of_a_main(pipe));
        // By which pipes a combination drain runs is told of all its traps together.
        let of_combinations = removed().any(|pipe| self.state.relied.is_combination(self, pipe));
        // So it is of what may be one, or a circuit.
        let is_open = own.reliances.values().any(Reliance::is_open);
        let is_vent = |pipe: u32| {
            let pipe = self.state.pipes.get(pipe as usize);
            pipe.is_some_and(|pipe| pipe.kind.role() == Role::Vent)
        };
        let vents = added().any(|pipe| pipe.role == Role::Vent) || removed().any(is_vent);
        if added_main
            || of_mains
            || of_combinations
            || is_open
            || (vents && own.forked)
            || self.state.loops.any()
        {
            return Err(Lost);
        }
        let mut nodes: BTreeSet<u32> = removed()
            .filter_map(|pipe| self.both_ends(pipe))
            .flatten()
            .collect();
        for &pipe in &edited.added_pipes {
            if let Some((from, to)) = graph.edge_endpoints(pipe) {
                nodes.extend([from, to].map(node_number));
            }
        }
        nodes.extend(edited.removed_nodes.iter().copied().map(node_number));
        nodes.extend(edited.added_nodes.iter().copied().map(node_number));
        for pipe in removed() {
            alters.all_of(By::Pipe, pipe);
        }
        for &node in &edited.removed_nodes {
            alters.all_of(By::Node, node_number(node));
        }
        for &node in &nodes {
            alters.figure(Figure::Joints, node);
        }
        let standing = nodes.into_iter().map(|node| (node, self.standing(node)));
        Ok(Touched {
            nodes: standing.collect(),
            vents,
        })
    }

    /// Takes over what an edit of the network has let come and go. Gives the nodes at which every pass is made anew, those
    /// among them that are for vented nodes too.
    pub(crate) fn restructure(
        &mut self,
        edited: &Edited,
        touched: &Touched,
        own: &mut Members,
        alters: &mut impl Alters,
    ) -> Result<HashSet<u32>, Lost> {
        let nodes = || touched.nodes.iter().map(|(node, _)| *node);
        for node in nodes() {
            self.count_open_vents(node, false, own);
        }
        for &pipe in &edited.removed_pipes {
            self.unlink(pipe_number(pipe), own, alters);
        }
        for &node in &edited.removed_nodes {
            self.leave(node_number(node), own, alters);
        }
        self.state
            .stacks
            .of_run
            .resize(self.network.next_run().index(), NONE);
        for &node in &edited.added_nodes {
            self.enter(node, own);
        }
        for &pipe in &edited.added_pipes {
            self.link(pipe, own, alters)?;
        }
        let has_come = |node: u32| {
            let id = NodeId::new(node as usize);
            edited.added_nodes.binary_search(&id).is_ok() || edited.removed_nodes.binary_search(&id).is_ok()
        };
        let mut anew = HashSet::new();
        for &(node, before) in &touched.nodes {
            let otherwise = before != self.standing(node);
            let forks = self.state.vents_from(node).len() > 1;
            if forks || self.is_on_a_headed_main(node, own) || (otherwise && self.is_on_a_main(node)) {
                return Err(Lost);
            }
            if otherwise || has_come(node) {
                self.clear_node(node);
                alters.all_of(By::Node, node);
                anew.insert(node);
            }
        }
        for node in nodes() {
            self.count_open_vents(node, true, own);
            alters.figure(Figure::Joints, node);
        }
        let largest = own.open_sizes.last_key_value().map(|(size, _)| *size);
        let ends = [Class::Terminal, Class::Valve];
        let counted = touched.nodes.iter().any(|&(node, before)| {
            let now = self.standing(node).class;
            now != before.class && (ends.contains(&now) || ends.contains(&before.class))
        });
        if counted {
            self.ends_differ(touched, alters);
        }
        if differs(Some(&mut self.state.vents.largest_open), largest) || counted {
            alters.figure(Figure::System, 0);
        }
        for &pipe in &edited.added_pipes {
            alters.all_of(By::Pipe, pipe_number(pipe));
        }
        self.vent_branches(nodes(), alters);
        if touched.vents {
            self.vents_meet_again(alters);
        }
        self.make_all(edited, (touched, &anew), counted, own, alters);
        Ok(anew)
    }

    /// Tells of the vents that end at nodes which have come or gone: another node may have the number of the one before.
    fn ends_differ(&self, touched: &Touched, alters: &mut impl Alters) {
        let ends_there = |vent: u32| {
            let end = self.state.vents.of(vent).map(|vent| vent.end);
            end.is_some_and(|end| {
                touched
                    .nodes
                    .binary_search_by_key(&end, |(node, _)| *node)
                    .is_ok()
            })
        };
        for vent in (0..index(self.state.pipes.len())).filter(|&vent| ends_there(vent)) {
            alters.figure(Figure::VentEnd, vent);
            alters.figure(Figure::VentAhead, vent);
        }
    }

    /// Has the passes made that what has come or gone bears on without their having read of it: all at pipes that came or
    /// went and at nodes that stand otherwise, and those of the whole network.
    fn make_all(
        &self,
        edited: &Edited,
        (touched, anew): (&Touched, &HashSet<u32>),
        counted: bool,
        own: &Members,
        alters: &mut impl Alters,
    ) {
        for &pass in Pass::ALL {
            match pass.goes() {
                Goes::Once if self.hangs_on(pass, touched, own) => alters.again(pass, 0),
                Goes::Once => {}
                Goes::Pipes => {
                    let pipes = edited.added_pipes.iter().chain(&edited.removed_pipes);
                    pipes.for_each(|&pipe| alters.again(pass, pipe_number(pipe)));
                }
                Goes::Numbered if pass == Junction => alters.again(pass, 0),
                Goes::Numbered if pass == Pass::JudgeSystem && (touched.vents || counted) => {
                    alters.again(pass, 0);
                }
                Goes::Numbered if pass == Pass::JudgeTest => {
                    let tests = 0..index(self.network.tests().len());
                    tests.for_each(|test| alters.again(pass, test));
                }
                Goes::Numbered | Goes::Stacks => {}
                _ => anew.iter().for_each(|&node| alters.again(pass, node)),
            }
        }
    }

    /// Whether what is told of the whole network at once may be otherwise after pipes have come or gone.
    fn hangs_on(&self, pass: Pass, touched: &Touched, own: &Members) -> bool {
        match pass {
            Group => !own.grouped.is_empty() || own.regrouped,
            Circulates | VentCleanouts => touched.vents,
            Loops => touched.vents || touched.nodes.iter().any(|(node, _)| loops::is_foot(self, *node)),
            Valves => {
                let is_valve = |standing: &Standing| standing.class == Class::Valve;
                let mut nodes = touched.nodes.iter();
                !self.state.valves.is_empty()
                    || nodes.any(|(node, before)| is_valve(before) || is_valve(&self.standing(*node)))
            }
            Cuts => false,
            _ => true,
        }
    }

    /// Whether a pipe that touches a node belongs to a run that is called more than a branch.
    fn is_on_a_main(&self, node: u32) -> bool {
        self.touching(node).any(|pipe| self.is_of_a_main(pipe))
    }

    /// Whether a node is beside a run that is written from a fixture on: what joins there may settle where that fixture's own
    /// drain ends. What leads to a cleanout only joins nothing.
    fn is_on_a_headed_main(&self, node: u32, own: &Members) -> bool {
        let below = self.state.next(node).and_then(|pipe| self.both_ends(pipe));
        let nodes = [Some(node), below.map(|[_, to]| to)];
        let pipes = nodes.into_iter().flatten().flat_map(|node| self.touching(node));
        let mut runs = pipes.filter_map(|pipe| self.run_of_a_main(pipe));
        runs.any(|run| own.headed.contains(&run))
    }

    /// Counts, or counts no more, the sizes that vents from a drain keep to the open air.
    fn count_open_vents(&self, node: u32, now: bool, own: &mut Members) {
        if self.state.next(node).is_none() {
            return;
        }
        for &vent in self.state.vents_from(node) {
            let size = self.state.vents.of(vent).and_then(|vent| vent.clear_size);
            match now {
                true => own.open(None, size),
                false => own.open(size, None),
            }
        }
    }

    fn link(&mut self, id: PipeId, own: &mut Members, alters: &mut impl Alters) -> Result<(), Lost> {
        let (network, rules, graph) = (self.network, self.rules, self.network.graph());
        let (stated, (from, to)) = graph.edge_weight(id).zip(graph.edge_endpoints(id)).ok_or(Lost)?;
        let (pipe, ends) = (pipe_number(id), (node_number(from), node_number(to)));
        let facts = PipeFacts::new(network, rules, pipe, ends, stated, &mut self.state.slopes);
        self.clear_pipe(pipe);
        let state = &mut self.state;
        put(&mut state.pipes, pipe, PipeFacts::GONE);
        set(&mut state.pipes, pipe, facts);
        if facts.kind.role() == Role::Vent {
            state.vents_in.join(facts.to, pipe);
            state.vents_out.join(facts.from, pipe);
            let place = state.vents.join(pipe);
            if let Some(traps) = state.vent_traps.get_mut() {
                put(traps, place, vents::Traps::NONE);
            }
        } else {
            state.drains_in.join(facts.to, pipe);
            set(&mut state.next, facts.from, pipe);
        }
        self.count_pipe(pipe, (PipeFacts::GONE, facts), own, alters);
        Ok(())
    }

    fn unlink(&mut self, pipe: u32, own: &mut Members, alters: &mut impl Alters) {
        let Some(slot) = self.state.pipes.get_mut(pipe as usize) else {
            return;
        };
        let facts = std::mem::replace(slot, PipeFacts::GONE);
        let state = &mut self.state;
        if facts.kind.role() == Role::Vent {
            state.vents_in.part(facts.to, pipe);
            state.vents_out.part(facts.from, pipe);
        } else {
            state.drains_in.part(facts.to, pipe);
            set(&mut state.next, facts.from, NONE);
        }
        self.clear_pipe(pipe);
        self.count_pipe(pipe, (facts, PipeFacts::GONE), own, alters);
    }

    fn clear_pipe(&mut self, pipe: u32) {
        let state = &mut self.state;
        state.downstream.clear_pipe(pipe);
        state.air.clear_pipe(pipe);
        state.ways.clear_pipe(pipe);
        state.combinations.clear_pipe(pipe);
        state.vents.clear_pipe(pipe);
        if let Some(runs) = state.runs.get_mut() {
            runs.clear_pipe(pipe);
        }
        if let Some(reliefs) = state.reliefs.get_mut() {
            reliefs.clear_pipe(pipe);
        }
        if let Some(reliefs) = state.stack_reliefs.get_mut() {
            reliefs.clear_pipe(pipe);
        }
    }

    fn clear_node(&mut self, node: u32) {
        let state = &mut self.state;
        put(&mut state.totals, node, Totals::ZERO);
        put(&mut state.closets_on, node, 0);
        state.downstream.clear_node(node);
        state.air.clear_node(node);
        state.ways.clear_node(node);
        state.circuits.clear_node(node);
        state.relied.clear_node(node);
        state.cleanouts.clear_node(node);
        if let Some(wet_vents) = state.wet_vents.get_mut() {
            wet_vents.clear_node(node);
        }
        if let Some(below) = state.reliefs_below.get_mut() {
            put(below, node, None);
        }
        if let Some(bends) = state.bends.get_mut() {
            bends.clear_node(node);
        }
        if let Some(details) = state.details.get_mut() {
            put(details, node, Details::ZERO);
        }
        if let Some(runs) = state.runs.get_mut() {
            runs.clear_node(node);
        }
        if let Some(branches) = state.branches.get_mut() {
            branches.clear_node(node);
        }
    }

    /// Takes over a node that has come.
    fn enter(&mut self, id: NodeId, own: &mut Members) {
        let node = node_number(id);
        let Some(stated) = self.network.graph().node_weight(id) else {
            return;
        };
        let pattern = match &stated.kind {
            NodeKind::Fitting { pattern } => *pattern,
            _ => None,
        };
        let state = &mut self.state;
        for list in [&mut state.next, &mut state.ordinal] {
            put(list, node, NONE);
        }
        put(&mut state.patterns, node, None);
        put(&mut state.class, node, Class::Gone);
        set(&mut state.patterns, node, pattern);
        set(&mut state.class, node, Class::of(&stated.kind));
        if let NodeKind::Fixture(fixture) = &stated.kind {
            let facts = FixtureFacts::new(self.network, self.rules, node, stated, fixture);
            self.seat(facts);
            if fixture.group.is_some() {
                own.grouped.insert(node);
            }
        }
    }

    /// Gives a fixture its place among all, in the order of their nodes.
    fn seat(&mut self, facts: FixtureFacts) {
        let state = &mut self.state;
        let place = state
            .fixtures
            .binary_search_by_key(&facts.node, |fixture| fixture.node);
        let place = match place {
            Ok(place) => place,
            Err(place) => {
                state.fixtures.insert(place, facts);
                state.loads.make_room(place);
                state.chosen.insert(place, Chosen::None);
                state.air.supplies.insert(place, Supply::NONE);
                if let Some(alike) = state.alike.get_mut() {
                    alike.insert(place, 0);
                }
                for fixture in state.fixtures.iter().skip(place + 1).filter(|one| one.is_there) {
                    if let Some(ordinal) = state.ordinal.get_mut(fixture.node as usize) {
                        *ordinal += 1;
                    }
                }
                place
            }
        };
        set(&mut state.fixtures, index(place), facts);
        set(&mut state.ordinal, facts.node, index(place));
    }

    /// Takes out a node that has gone, after its pipes.
    fn leave(&mut self, node: u32, own: &mut Members, alters: &mut impl Alters) {
        if let Some(place) = self.ordinal(node) {
            self.put_supply(node, Supply::NONE, own, alters);
            if let Some(vent) = own.branch_of.remove(&node) {
                remove(&mut own.branch, vent, node);
                alters.again(Circuit, vent);
            }
            if let Some(kin) = own.kin_of.get(&node).copied() {
                own.part(kin, node);
                let kindred = own.kindred.get(&kin).into_iter().flatten();
                kindred.for_each(|&fixture| alters.again(Alike, fixture));
            }
            let reliance = own.reliances.remove(&node);
            if let Some((_, vent, _)) = reliance.and_then(|reliance| reliance.way) {
                alters.again(WetEnd, vent);
            }
            if own.grouped.remove(&node) {
                own.regrouped = true;
                alters.again(Group, 0);
            }
            let state = &mut self.state;
            if let Some(fixture) = state.fixtures.get_mut(place) {
                fixture.is_there = false;
            }
            if let Some(load) = state.loads.own_mut(place) {
                *load = FixtureLoad::Unknown;
            }
            set(&mut state.chosen, index(place), Chosen::None);
            if let Some(alike) = state.alike.get_mut().and_then(|alike| alike.get_mut(place)) {
                *alike = 0;
            }
        }
        set(&mut self.state.ordinal, node, NONE);
        set(&mut self.state.class, node, Class::Gone);
        set(&mut self.state.patterns, node, None);
    }

    /// Tells again on which branches a vent stands, from some nodes on down.
    fn vent_branches(&mut self, nodes: impl Iterator<Item = u32>, alters: &mut impl Alters) {
        let Some(mut branches) = self.state.branches.take() else {
            return;
        };
        let placed = |node: u32| {
            let rank = self.network.drain_rank(NodeId::new(node as usize));
            rank.map(|rank| (rank, node))
        };
        let mut open: BTreeSet<(u64, u32)> = nodes.filter_map(placed).collect();
        while let Some((_, node)) = open.pop_first() {
            if branches.vent_again(self, node) {
                alters.figure(Figure::Branch, node);
                let below = self.state.next(node).and_then(|pipe| self.both_ends(pipe));
                open.extend(below.and_then(|[_, to]| placed(to)));
            }
        }
        self.state.branches = branches.into();
    }

    /// Tells again which vents meet a vent stack.
    fn vents_meet_again(&mut self, alters: &mut impl Alters) {
        let Some(mut reliefs) = self.state.reliefs.take() else {
            return;
        };
        for vent in reliefs.meet_again(self) {
            let stack = self.stack_where_leaves(vent);
            stack.into_iter().for_each(|stack| alters.again(Yokes, stack));
        }
        self.state.reliefs = reliefs.into();
    }
}

/// Alters an entry of a list.
fn set<T>(list: &mut [T], at: u32, entry: T) {
    if let Some(slot) = list.get_mut(at as usize) {
        *slot = entry;
    }
}
