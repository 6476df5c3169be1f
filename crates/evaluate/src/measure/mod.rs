//! Everything that can be measured on a network, computed once in passes over the graph that each take time in
//! proportion to its size.
//!
//! It judges nothing: what a code asks is the rule set's.

mod air;
mod bends;
mod branches;
mod circuits;
mod cleanouts;
mod combinations;
mod distance;
mod drains;
mod elements;
mod facts;
mod facts_of_ends;
mod facts_of_passages;
mod facts_of_pipes;
mod facts_of_protection;
mod fixture_drains;
mod flows;
pub(crate) mod follow;
mod loads;
mod loops;
mod needed;
mod overlaps;
mod patterns;
mod possible;
mod reliefs;
mod runs;
pub(crate) mod seen;
mod stack_reliefs;
mod stacks;
mod unknown;
mod valves;
mod vents;
mod ways;
mod wet_vents;

use crownweir_network::{Fixture, Network, Node, NodeId, NodeKind, Pipe, PipeId};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use crownweir_quantity::{NominalSize, Slope};
use crownweir_rulebook::RuleSet;
use crownweir_vocabulary::{FittingPattern, Material, Role, RunKind};
use petgraph::visit::{EdgeIndexable, EdgeRef, IntoEdgeReferences, IntoNodeReferences, NodeIndexable};

use crate::trace::{RulePart, Trace};

pub(crate) use distance::{Distance, Reach};
pub(crate) use elements::{Adjacency, FixtureFacts, PipeFacts, Slopes};
pub use facts::{Element, Gap, Got};
pub(crate) use needed::Needed;
pub(crate) use overlaps::Served;
pub(crate) use patterns::Chosen;
pub(crate) use seen::{Figure as Seen, Seen as Log};
pub use unknown::{UnknownSize, UnknownSizes};

/// No node, no pipe, no stack.
pub(crate) const NONE: u32 = u32::MAX;

/// What stands at a node, in one byte.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Class {
    Fixture,
    Fitting,
    Cleanout,
    Terminal,
    Valve,
    Disposal,
    /// Nothing any more.
    Gone,
}

impl Class {
    fn of(kind: &NodeKind) -> Self {
        match kind {
            NodeKind::Fixture(_) => Self::Fixture,
            NodeKind::Fitting { .. } => Self::Fitting,
            NodeKind::Cleanout(_) => Self::Cleanout,
            NodeKind::Terminal(_) => Self::Terminal,
            NodeKind::Valve(_) => Self::Valve,
            NodeKind::Disposal => Self::Disposal,
        }
    }
}

/// The size stated of what stands at a node.
pub(crate) fn size_at(kind: &NodeKind) -> Option<NominalSize> {
    match kind {
        NodeKind::Fixture(fixture) => fixture.trap.size,
        NodeKind::Cleanout(cleanout) => cleanout.size,
        NodeKind::Terminal(terminal) => terminal.enlarged_to,
        _ => None,
    }
}

/// A network measured under a rule set.
#[derive(Debug)]
pub struct Measured<'a> {
    pub(crate) network: &'a Network,
    pub(crate) rules: &'a RuleSet,
    /// Notes what is read of the rule set, where that is asked for.
    pub(crate) trace: Option<Trace>,
    pub(crate) state: State,
}

/// All that is measured of a network by a rule set. It borrows neither, so that a session may hold all three.
#[derive(Debug, Clone, Default)]
pub(crate) struct State {
    pub(crate) pipes: Vec<PipeFacts>,
    pub(crate) slopes: Slopes,
    /// The pattern of the fitting at each node.
    patterns: Vec<Option<FittingPattern>>,
    /// The drain that leads away from each node.
    pub(crate) next: Vec<u32>,
    drains_in: Adjacency,
    vents_in: Adjacency,
    vents_out: Adjacency,
    /// What stands at each node.
    class: Vec<Class>,
    pub(crate) fixtures: Vec<FixtureFacts>,
    /// The place among the fixtures of each node that is one.
    ordinal: Vec<u32>,
    pub(crate) loads: loads::Loads,
    pub(crate) totals: Vec<drains::Totals>,
    pub(crate) downstream: drains::Downstream,
    pub(crate) air: air::Air,
    /// The water closets on each dry vent.
    pub(crate) closets_on: Vec<u32>,
    /// What drains bring air to; few rule sets ask.
    wet_vents: OnceLock<wet_vents::WetVents>,
    pub(crate) ways: ways::Ways,
    pub(crate) circuits: circuits::Circuits,
    pub(crate) combinations: combinations::Combinations,
    pub(crate) loops: loops::Loops,
    /// What protects the trap of each fixture, by fixture.
    chosen: Vec<Chosen>,
    pub(crate) relied: air::Relied,
    pub(crate) stacks: stacks::Stacks,
    pub(crate) vents: vents::Vents,
    /// What each valve serves, by its node.
    pub(crate) valves: BTreeMap<u32, valves::Served>,
    pub(crate) cleanouts: cleanouts::Cleanouts,
    /// The fixture drains of each circuit; few rule sets ask.
    circuit_arms: OnceLock<Vec<circuits::Arms>>,
    /// What relieves each branch further down; only circuits ask.
    reliefs_below: OnceLock<Vec<Option<reliefs::Relief>>>,
    /// Cleanouts on the vent from each node; only combination drains ask.
    vent_cleanouts: OnceLock<Vec<u32>>,
    /// Fixtures alike on one branch, by fixture; few rule sets ask.
    alike: OnceLock<Vec<u32>>,
    /// What relieves circuits and tall stacks; few rule sets ask.
    reliefs: OnceLock<reliefs::Reliefs>,
    /// Where drains turn sharply; few rule sets ask.
    bends: OnceLock<bends::Bends>,
    /// What relieves stacks; asked of tall ones and of offsets.
    stack_reliefs: OnceLock<stack_reliefs::StackReliefs>,
    /// The traps that get their air by each vent; few rule sets ask.
    vent_traps: OnceLock<Vec<vents::Traps>>,
    /// What else flows past each node; few rule sets ask.
    details: OnceLock<Vec<drains::Details>>,
    /// How runs turn and fall; few rule sets ask.
    runs: OnceLock<runs::Runs>,
    pub(crate) plastic: bool,
    /// The building drain's pipes.
    building_drain: Vec<u32>,
    /// The first vent whose size is not stated.
    unsized_vent: Option<u32>,
    /// Sums that only probable flows need.
    shares: OnceLock<flows::Shares>,
    /// Branches as a whole.
    branches: OnceLock<branches::Branches>,
    /// Of each row of framing, what is known of the cuts in it.
    cuts: OnceLock<Vec<facts_of_passages::Cuts>>,
    /// Of each row of framing, the pipe to which it is taken to be square. No edit that is followed alters it: where pipes pass
    /// framing, each is a check of the whole.
    squared_to: OnceLock<Vec<Option<PipeId>>>,
    /// Notes what is read of what was measured, where that is asked for.
    seen: Option<Log>,
}

impl State {
    /// The drain that leads away from a node, without a note of it.
    pub(crate) fn next(&self, node: u32) -> Option<u32> {
        at(&self.next, node)
    }

    /// The pipes of a role that enter a node, without a note of it.
    pub(crate) fn inlets(&self, node: u32, role: Role) -> &[u32] {
        match role {
            Role::Vent => self.vents_in.of(node),
            _ => self.drains_in.of(node),
        }
    }

    /// The vents that leave a node, without a note of it.
    pub(crate) fn vents_from(&self, node: u32) -> &[u32] {
        self.vents_out.of(node)
    }

    /// What holds of each pipe and node by itself, and which pipes meet; nothing is measured along them yet.
    pub(crate) fn of_elements(network: &Network, rules: &RuleSet) -> Result<Self, UnknownSizes> {
        let graph = network.graph();
        // Sizes are looked up as they are met, and told of together only where one is unknown.
        let mut is_unknown = false;
        let mut pipes = vec![PipeFacts::GONE; graph.edge_bound()];
        let (mut plastic, mut unsized_vent) = (false, None);
        let mut slopes = Slopes::default();
        for edge in graph.edge_references() {
            let pipe = edge.weight();
            let number = index(edge.id().index());
            plastic |= pipe.material.is_some_and(Material::is_plastic);
            let ends = (index(edge.source().index()), index(edge.target().index()));
            let facts = PipeFacts::new(network, rules, number, ends, pipe, &mut slopes);
            is_unknown |= pipe.size.is_some() && facts.size.is_none();
            if facts.kind.role() == Role::Vent && pipe.size.is_none() {
                unsized_vent = unsized_vent.or(Some(number));
            }
            pipes[number as usize] = facts;
        }
        let nodes = graph.node_bound();
        let mut class = vec![Class::Gone; nodes];
        let mut patterns = vec![None; nodes];
        let mut fixtures = Vec::new();
        let mut ordinal = vec![NONE; nodes];
        for (id, node) in graph.node_references() {
            let number = index(id.index());
            match &node.kind {
                NodeKind::Fixture(fixture) => {
                    ordinal[number as usize] = index(fixtures.len());
                    fixtures.push(FixtureFacts::new(network, rules, number, node, fixture));
                }
                NodeKind::Fitting { pattern } => patterns[number as usize] = *pattern,
                _ => {}
            }
            class[number as usize] = Class::of(&node.kind);
            is_unknown |= size_at(&node.kind).is_some_and(|size| rules.ladder.find(size).is_none());
        }
        if is_unknown {
            return Err(UnknownSizes::of(network, rules));
        }
        let mut next = vec![NONE; nodes];
        for (number, pipe) in (0..).zip(&pipes) {
            if pipe.is_there() && pipe.kind.role() == Role::Drain {
                next[pipe.from as usize] = number;
            }
        }
        let drains_in = Adjacency::new(nodes, &pipes, Role::Drain, |pipe| pipe.to);
        let vents_in = Adjacency::new(nodes, &pipes, Role::Vent, |pipe| pipe.to);
        let vents_out = Adjacency::new(nodes, &pipes, Role::Vent, |pipe| pipe.from);
        Ok(Self {
            pipes,
            slopes,
            patterns,
            next,
            drains_in,
            vents_in,
            vents_out,
            class,
            fixtures,
            ordinal,
            plastic,
            unsized_vent,
            ..Self::default()
        })
    }

    /// Puts what was measured together again with its network and its rules, and hands both over for a while.
    pub(crate) fn lent<R>(
        &mut self,
        network: &Network,
        rules: &RuleSet,
        use_it: impl FnOnce(&mut Measured<'_>) -> R,
    ) -> R {
        let mut loan = Loan {
            measured: Measured {
                network,
                rules,
                trace: None,
                state: std::mem::take(self),
            },
            back: self,
        };
        use_it(&mut loan.measured)
    }
}

/// Hands back what was measured, even where whoever uses it panics.
struct Loan<'s, 'a> {
    measured: Measured<'a>,
    back: &'s mut State,
}

impl Drop for Loan<'_, '_> {
    fn drop(&mut self) {
        std::mem::swap(self.back, &mut self.measured.state);
    }
}

impl<'a> Measured<'a> {
    /// Measures `network` by the definitions, sizes and loads of `rules`.
    ///
    /// # Errors
    /// The sizes that the network uses and the rule set does not know.
    pub fn new(network: &'a Network, rules: &'a RuleSet) -> Result<Self, UnknownSizes> {
        Self::with(network, rules, None, Needed::All)
    }

    /// Measures `network` by `rules`, and notes from then on what is read of the rule set.
    ///
    /// # Errors
    /// The sizes that the network uses and the rule set does not know.
    pub fn tracing(network: &'a Network, rules: &'a RuleSet) -> Result<Self, UnknownSizes> {
        Self::with(network, rules, Some(Trace::default()), Needed::All)
    }

    /// What has been read of the rule set so far; nothing unless the network was measured with
    /// [`tracing`](Self::tracing).
    #[must_use]
    pub fn reads(&self) -> BTreeSet<RulePart> {
        self.trace.as_ref().map(Trace::so_far).unwrap_or_default()
    }

    pub(crate) fn note(&self, read: RulePart) {
        if let (Some(seen), RulePart::Cell(table, row, column)) = (&self.state.seen, read)
            && let Some(cell) = seen.cell(table, row, column)
        {
            seen.note(Seen::Cell, cell);
        }
        if let Some(trace) = &self.trace {
            trace.note(read);
        }
    }

    /// Measures as much of a network as is needed; what is left out reads as if there were none of it.
    pub(crate) fn with(
        network: &'a Network,
        rules: &'a RuleSet,
        trace: Option<Trace>,
        needed: Needed,
    ) -> Result<Self, UnknownSizes> {
        let state = State::of_elements(network, rules)?;
        let mut measured = Self {
            network,
            rules,
            trace,
            state,
        };
        measured.settle_kinds();
        measured.sort_vents();
        measured.state.downstream = drains::downstream(&measured);
        measured.state.loads = loads::loads(&measured);
        measured.state.totals = drains::totals(&measured);
        if needed == Needed::Flow {
            return Ok(measured);
        }
        measured.state.air = air::air(&measured);
        if needed == Needed::Air {
            return Ok(measured);
        }
        measured.state.closets_on = wet_vents::closets(&measured);
        measured.state.ways = ways::ways(&measured);
        measured.state.circuits = circuits::circuits(&measured);
        measured.state.combinations = combinations::combinations(&measured);
        measured.state.loops = loops::loops(&measured);
        measured.state.stacks = stacks::stacks(&measured);
        measured.state.cleanouts = cleanouts::cleanouts(&measured);
        let below = measured.vent_stacks_below();
        measured.state.stacks.note_vent_stacks_below(&below);
        measured.state.vents = vents::vents(&measured, measured.state.air.served());
        measured.state.valves = valves::valves(&measured);
        // Which arrangement protects a trap settles which drains it relies on, and so what its vent serves.
        measured.state.chosen = patterns::chosen(&measured);
        measured.state.relied = air::relied(&measured);
        if measured.state.relied.differs {
            measured.state.vents = vents::vents(&measured, &measured.state.relied.served);
        }
        Ok(measured)
    }

    /// What was measured, without its network and its rules.
    pub(crate) fn into_state(self) -> State {
        self.state
    }

    /// The network that was measured.
    #[must_use]
    pub fn network(&self) -> &'a Network {
        self.network
    }

    /// The rule set by which it was measured.
    #[must_use]
    pub fn rules(&self) -> &'a RuleSet {
        self.rules
    }

    /// Notes that a figure of an element is read.
    #[inline]
    pub(crate) fn see(&self, figure: Seen, element: u32) {
        if let Some(seen) = &self.state.seen {
            seen.note(figure, element);
        }
    }

    pub(crate) fn pipe(&self, pipe: u32) -> Option<&PipeFacts> {
        self.see(Seen::Pipe, pipe);
        self.state.pipes.get(pipe as usize)
    }

    pub(crate) fn stated(&self, pipe: u32) -> Option<&'a Pipe> {
        self.network.graph().edge_weight(PipeId::new(pipe as usize))
    }

    pub(crate) fn node(&self, node: u32) -> Option<&'a Node> {
        self.see(Seen::Node, node);
        self.network.graph().node_weight(NodeId::new(node as usize))
    }

    pub(crate) fn fixture(&self, node: u32) -> Option<&'a Fixture> {
        self.see(Seen::Fixture, node);
        match &self.network.graph().node_weight(NodeId::new(node as usize))?.kind {
            NodeKind::Fixture(fixture) => Some(fixture),
            _ => None,
        }
    }

    /// What the passes need of every fixture.
    pub(crate) fn all_fixtures(&self) -> impl Iterator<Item = &FixtureFacts> {
        self.see(Seen::Fixture, NONE);
        let fixtures = self.state.fixtures.iter();
        fixtures.filter(|fixture| fixture.is_there)
    }

    /// The place of a node among the fixtures.
    pub(crate) fn ordinal(&self, node: u32) -> Option<usize> {
        at(&self.state.ordinal, node).map(|ordinal| ordinal as usize)
    }

    /// What the passes need of the fixture at a node.
    pub(crate) fn fixture_facts(&self, node: u32) -> Option<&FixtureFacts> {
        self.see(Seen::Fixture, node);
        self.state.fixtures.get(self.ordinal(node)?)
    }

    /// A pipe's slope.
    pub(crate) fn slope(&self, pipe: u32) -> Option<Slope> {
        let pipe = self.pipe(pipe)?;
        self.state
            .slopes
            .list
            .get(pipe.slope as usize)
            .map(|known| known.0)
    }

    /// The pattern of the fitting at a node.
    pub(crate) fn pattern_at(&self, node: u32) -> Option<FittingPattern> {
        self.see(Seen::Pattern, node);
        self.state.patterns.get(node as usize).copied().flatten()
    }

    /// Whether a node is of a class.
    pub(crate) fn is(&self, node: u32, class: Class) -> bool {
        self.state.class.get(node as usize) == Some(&class)
    }

    /// How many numbers there are among which those of nodes lie.
    pub(crate) fn node_bound(&self) -> usize {
        self.state.class.len()
    }

    /// The nodes of a class.
    pub(crate) fn nodes(&self, class: Class) -> impl Iterator<Item = u32> {
        let all = (0..).zip(&self.state.class);
        all.filter(move |(_, own)| **own == class).map(|(node, _)| node)
    }

    /// The drain that leads away from a node.
    pub(crate) fn next(&self, node: u32) -> Option<u32> {
        self.see(Seen::Joints, node);
        self.state.next(node)
    }

    /// The vent that leaves a node; of several the most direct (`vents::directness`).
    pub(crate) fn vent_of(&self, node: u32) -> Option<u32> {
        self.vents_from(node).next()
    }

    /// The pipes of a role that enter a node.
    pub(crate) fn inlets(&self, node: u32, role: Role) -> impl DoubleEndedIterator<Item = u32> {
        self.see(Seen::Joints, node);
        self.state.inlets(node, role).iter().copied()
    }

    /// The vents that leave a node.
    pub(crate) fn vents_from(&self, node: u32) -> impl Iterator<Item = u32> {
        self.see(Seen::Joints, node);
        self.state.vents_from(node).iter().copied()
    }

    /// What a pipe is to the building: what its run is called, but a branch where it is the own drain of a fixture that
    /// a stack or a building drain is written from.
    #[must_use]
    pub fn kind_of(&self, pipe: PipeId) -> Option<RunKind> {
        self.state.pipes.get(pipe.index()).map(|pipe| pipe.kind)
    }

    /// Takes the drains of single fixtures out of stacks and building drains that are written from them on.
    fn settle_kinds(&mut self) {
        for drain in fixture_drains::fixture_drains(self) {
            if let Some(pipe) = self.state.pipes.get_mut(drain as usize) {
                pipe.kind = RunKind::Branch;
            }
        }
        let pipes = (0..).zip(&self.state.pipes);
        let building_drain = pipes.filter(|(_, pipe)| pipe.kind == RunKind::BuildingDrain);
        self.state.building_drain = building_drain.map(|(number, _)| number).collect();
    }

    /// Puts the most direct first of the vents that leave one node; the name decides between twins, so that the order of
    /// the file does not matter.
    fn sort_vents(&mut self) {
        let ways = vents::directness(self);
        let mut vents_out = std::mem::take(&mut self.state.vents_out);
        let key = |vent: u32| (ways.get(vent as usize), self.stated(vent).map(|pipe| &*pipe.name));
        vents_out.sort(|one, other| key(one).cmp(&key(other)));
        self.state.vents_out = vents_out;
    }

    /// The nodes that drains touch, upstream first.
    pub(crate) fn drain_order(&self) -> impl DoubleEndedIterator<Item = u32> + use<'a> {
        self.network.drain_order().iter().map(|id| index(id.index()))
    }

    /// The nodes that vents touch, upstream first.
    pub(crate) fn vent_order(&self) -> impl DoubleEndedIterator<Item = u32> + use<'a> {
        self.network.vent_order().iter().map(|id| index(id.index()))
    }
}

impl Measured<'_> {
    /// What else flows through a drain.
    pub(crate) fn details(&self, pipe: u32) -> drains::Details {
        self.pipe(pipe)
            .map_or(drains::Details::ZERO, |pipe| self.details_at(pipe.from))
    }

    /// What else flows past a node.
    pub(crate) fn details_at(&self, node: u32) -> drains::Details {
        self.see(Seen::Details, node);
        let all = self.state.details.get_or_init(|| drains::details(self));
        all.get(node as usize).copied().unwrap_or(drains::Details::ZERO)
    }

    pub(crate) fn all_loops(&self) -> &loops::Loops {
        self.see(Seen::Loops, 0);
        &self.state.loops
    }

    /// The fixture drains of the circuit at a place in the list.
    pub(crate) fn circuit_arms(&self, place: u32) -> Option<&circuits::Arms> {
        let circuit = self.state.circuits.list.get(place as usize)?;
        self.see(Seen::Arms, circuit.vent);
        let all = self.state.circuit_arms.get_or_init(|| circuits::arms(self));
        all.get(place as usize)
    }

    pub(crate) fn reliefs_below(&self) -> &[Option<reliefs::Relief>] {
        self.state.reliefs_below.get_or_init(|| reliefs::below(self))
    }

    pub(crate) fn all_reliefs(&self) -> &reliefs::Reliefs {
        self.state.reliefs.get_or_init(|| reliefs::reliefs(self))
    }

    pub(crate) fn all_bends(&self) -> &bends::Bends {
        self.state.bends.get_or_init(|| bends::bends(self))
    }

    pub(crate) fn all_vent_cleanouts(&self) -> &[u32] {
        self.state.vent_cleanouts.get_or_init(|| vents::cleanouts(self))
    }

    pub(crate) fn all_alike(&self) -> &[u32] {
        self.state.alike.get_or_init(|| branches::alike(self))
    }

    pub(crate) fn stack_reliefs(&self) -> &stack_reliefs::StackReliefs {
        self.state
            .stack_reliefs
            .get_or_init(|| stack_reliefs::stack_reliefs(self))
    }

    pub(crate) fn all_vent_traps(&self) -> &[vents::Traps] {
        self.state.vent_traps.get_or_init(|| vents::traps(self))
    }

    /// How runs turn and fall, of which is read what some nodes are told by those above them.
    pub(crate) fn runs<const N: usize>(&self, nodes: [u32; N]) -> &runs::Runs {
        for node in nodes {
            self.see(Seen::RunAbove, node);
        }
        self.state.runs.get_or_init(|| runs::runs(self))
    }

    /// The same, of which is read what some nodes are told by those below them.
    pub(crate) fn runs_ahead<const N: usize>(&self, nodes: [u32; N]) -> &runs::Runs {
        for node in nodes {
            self.see(Seen::RunAhead, node);
        }
        self.runs([])
    }

    /// What drains bring air to, of which that of a node is read.
    pub(crate) fn wet_vents(&self, node: u32) -> &wet_vents::WetVents {
        self.see(Seen::WetVents, node);
        self.state.wet_vents.get_or_init(|| wet_vents::wet_vents(self))
    }
}

/// Graph indices are 32 bits wide by the graph's own type.
pub(crate) fn index(wide: usize) -> u32 {
    u32::try_from(wide).unwrap_or(NONE)
}

/// Puts an entry in its place in a list, which may not reach so far yet.
pub(crate) fn put<T: Clone>(list: &mut Vec<T>, at: u32, entry: T) {
    let at = at as usize;
    if list.len() <= at {
        list.resize(at + 1, entry.clone());
    }
    if let Some(slot) = list.get_mut(at) {
        *slot = entry;
    }
}

/// Puts the number of an element in the place of none.
pub(crate) fn keep_first(own: &mut u32, other: u32) {
    if *own == NONE {
        *own = other;
    }
}

/// The lowest and the highest storey of two groups together; of a group without any they are [`NONE`] and 0.
pub(crate) fn both_storeys(one: (u32, u32), other: (u32, u32)) -> (u32, u32) {
    (one.0.min(other.0), one.1.max(other.1))
}

/// An entry of a table of indices, where there is one.
fn at(table: &[u32], entry: u32) -> Option<u32> {
    table.get(entry as usize).copied().filter(|&found| found != NONE)
}
