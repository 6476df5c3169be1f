//! A slow, plain reckoning of what the catalogue of facts says, to hold the evaluator to.
//!
//! It shares no code with the evaluator: for each fact of each element it walks the graph anew. It says openly which
//! facts it knows: [`Oracle::fact`] gives nothing for the rest.
#![forbid(unsafe_code)]

mod air;
mod angles;
mod drains;
mod flows;
mod judge;
mod passages;
mod ranges;
mod runs;
mod shapes;
mod stacks;
mod stated;
mod vents;
mod wet;

pub use judge::{Limit, Outcome, Verdict, facts_of};
pub use shapes::Arranged;

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::rc::Rc;

use crownweir_network::{Fixture, Network, Node, NodeId, NodeKind, Pipe, PipeId};
use crownweir_quantity::{Angle, Length};
use crownweir_rulebook::{Fact, Family, RuleSet, Size, Subject, Value};
use crownweir_vocabulary::{FittingPattern, FixtureType, Role, RunKind};
use petgraph::Direction;
use petgraph::visit::EdgeRef;

/// A fact's value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Got {
    /// The value.
    Known(Value),
    /// There is no such thing here.
    Absent,
    /// It is not stated.
    Missing,
}

pub(crate) fn known<T>(value: Option<T>, make: impl Fn(T) -> Value) -> Got {
    value.map_or(Got::Missing, |value| Got::Known(make(value)))
}

pub(crate) fn some<T>(value: Option<T>, make: impl Fn(T) -> Value) -> Got {
    value.map_or(Got::Absent, |value| Got::Known(make(value)))
}

pub(crate) fn count(number: usize) -> Got {
    Got::Known(Value::Count(i64::try_from(number).unwrap_or(i64::MAX)))
}

pub(crate) fn truth(truth: bool) -> Got {
    Got::Known(Value::Truth(truth))
}

fn of_both(one: Got, other: Got, of: impl Fn(Value, Value) -> Option<Value>) -> Got {
    match (one, other) {
        (Got::Known(one), Got::Known(other)) => of(one, other).map_or(Got::Missing, Got::Known),
        (Got::Absent, _) | (_, Got::Absent) => Got::Absent,
        _ => Got::Missing,
    }
}

/// The sum; absent where one of the two is.
pub(crate) fn plus(one: Got, other: Got) -> Got {
    of_both(one, other, Value::plus)
}

/// What is left; absent where one of the two is.
pub(crate) fn minus(one: Got, other: Got) -> Got {
    of_both(one, other, Value::minus)
}

/// The least of some values; absent where there are none, not known where one is not.
pub(crate) fn least(values: impl IntoIterator<Item = Got>) -> Got {
    let smaller = |one: Value, other: Value| Some(if other.compare(one)?.is_lt() { other } else { one });
    let both = |one, other| of_both(one, other, smaller);
    values.into_iter().reduce(both).unwrap_or(Got::Absent)
}

/// The greatest of them, likewise.
pub(crate) fn most(values: impl IntoIterator<Item = Got>) -> Got {
    let larger = |one: Value, other: Value| Some(if other.compare(one)?.is_gt() { other } else { one });
    let both = |one, other| of_both(one, other, larger);
    values.into_iter().reduce(both).unwrap_or(Got::Absent)
}

/// A network measured by a rule set, fact by fact.
pub struct Oracle<'a> {
    pub(crate) network: &'a Network,
    pub(crate) rules: &'a RuleSet,
    /// What has been reckoned once is kept.
    kept: Kept,
    /// At which end loads are taken to be that are not known, while that is asked.
    pub(crate) supposed: Cell<Option<ranges::End>>,
}

#[derive(Default)]
struct Kept {
    above: RefCell<BTreeMap<NodeId, Rc<Vec<NodeId>>>>,
    loads: RefCell<BTreeMap<NodeId, Got>>,
    air: RefCell<BTreeMap<NodeId, Option<NodeId>>>,
    supplies: RefCell<BTreeMap<NodeId, Option<air::Supply>>>,
    arranged: RefCell<BTreeMap<NodeId, Arranged>>,
    stacks: RefCell<BTreeMap<NodeId, stacks::Stack>>,
    own: RefCell<BTreeMap<PipeId, bool>>,
    facts: RefCell<BTreeMap<(Subject, u32, Fact), Option<Got>>>,
}

/// The value kept under a key, or what is reckoned now.
pub(crate) fn kept<K: Ord, T: Clone>(cell: &RefCell<BTreeMap<K, T>>, key: K, reckon: impl FnOnce() -> T) -> T {
    if let Some(known) = cell.borrow().get(&key) {
        return known.clone();
    }
    let value = reckon();
    cell.borrow_mut().insert(key, value.clone());
    value
}

impl<'a> Oracle<'a> {
    /// Nothing is reckoned until it is asked for.
    #[must_use]
    pub fn new(network: &'a Network, rules: &'a RuleSet) -> Self {
        Self {
            network,
            rules,
            kept: Kept::default(),
            supposed: Cell::new(None),
        }
    }

    /// The elements that rules with a subject speak of.
    #[must_use]
    pub fn elements(&self, subject: Subject) -> Option<Vec<u32>> {
        let numbered = |number: usize| (0..number as u32).collect();
        let nodes = |wanted: &dyn Fn(NodeId) -> bool| {
            let all = self.network.graph().node_indices();
            all.filter(|&node| wanted(node))
                .map(|node| node.index() as u32)
                .collect()
        };
        let pipes = |wanted: &dyn Fn(PipeId) -> bool| {
            let all = self.network.graph().edge_indices();
            all.filter(|&pipe| wanted(pipe))
                .map(|pipe| pipe.index() as u32)
                .collect()
        };
        let is_fitting = |node: NodeId| self.is_fitting(node);
        Some(match subject {
            Subject::Fixture => nodes(&|node| self.fixture(node).is_some()),
            Subject::Trap | Subject::TrapArm => nodes(&|node| self.has_trap(node)),
            Subject::Pipe => pipes(&|_| true),
            Subject::Drain => pipes(&|pipe| self.pipe(pipe).role == Role::Drain),
            Subject::Vent => pipes(&|pipe| self.pipe(pipe).role == Role::Vent),
            Subject::Turn => pipes(&|pipe| self.pipe(pipe).role == Role::Drain && is_fitting(self.to(pipe))),
            Subject::Fitting => {
                nodes(&|node| is_fitting(node) && (self.next(node).is_some() || !self.vents_from(node).is_empty()))
            }
            Subject::Cleanout => nodes(&|node| matches!(self.node(node).kind, NodeKind::Cleanout(_))),
            Subject::Terminal => nodes(&|node| matches!(self.node(node).kind, NodeKind::Terminal(_))),
            Subject::Valve => nodes(&|node| matches!(self.node(node).kind, NodeKind::Valve(_))),
            Subject::System => vec![0],
            Subject::Test => numbered(self.network.tests().len()),
            Subject::Stack => numbered(self.stacks().len()),
            Subject::BranchInterval => numbered(self.all_intervals().len()),
            Subject::Passage => numbered(self.network.passages().len()),
            _ => return None,
        })
    }

    /// A fact's value, where the oracle knows the fact.
    #[must_use]
    pub fn fact(&self, subject: Subject, element: u32, fact: Fact) -> Option<Got> {
        kept(&self.kept.facts, (subject, element, fact), || {
            self.reckon(subject, element, fact)
        })
    }

    pub(crate) fn reckon(&self, subject: Subject, element: u32, fact: Fact) -> Option<Got> {
        let (node, pipe) = (NodeId::new(element as usize), PipeId::new(element as usize));
        match fact.family() {
            Family::Fixture => self.fixture_fact(node, fact),
            Family::Trap => self.trap_fact(node, fact),
            Family::TrapArm => self.trap_arm_fact(node, fact),
            Family::Protection => self.protection_fact(node, fact).or_else(|| self.shape_fact(node, fact)),
            Family::Circuit => self.circuit_fact(node, fact),
            Family::Combination => self.combination_fact(node, fact),
            Family::Island => self.island_fact(node, fact),
            Family::Pipe if subject == Subject::Passage => {
                self.pipe_fact(self.network.passages()[element as usize].pipe, fact)
            }
            Family::Pipe => self.pipe_fact(pipe, fact),
            Family::Stack => self.stack_fact(self.stack_for(subject, element).as_ref(), fact),
            Family::Interval => self.interval_fact(element, fact),
            Family::Passage => self.passage_fact(element, fact),
            Family::Drain => self.drain_fact(pipe, fact),
            Family::Vent => self.vent_fact(pipe, fact),
            Family::Turn => self.turn_fact(pipe, fact),
            Family::Fitting if subject == Subject::Turn => self.fitting_fact(self.to(pipe), fact),
            Family::Fitting => self.fitting_fact(node, fact),
            Family::Cleanout | Family::Terminal | Family::Valve => self.end_fact(node, fact),
            Family::Test => self.test_fact(element, fact),
            Family::System => self.system_fact(fact),
            _ => None,
        }
    }

    pub(crate) fn node(&self, node: NodeId) -> &'a Node {
        &self.network.graph()[node]
    }

    pub(crate) fn pipe(&self, pipe: PipeId) -> &'a Pipe {
        &self.network.graph()[pipe]
    }

    pub(crate) fn from(&self, pipe: PipeId) -> NodeId {
        self.network
            .graph()
            .edge_endpoints(pipe)
            .map_or_else(NodeId::end, |ends| ends.0)
    }

    pub(crate) fn to(&self, pipe: PipeId) -> NodeId {
        self.network
            .graph()
            .edge_endpoints(pipe)
            .map_or_else(NodeId::end, |ends| ends.1)
    }

    /// What a pipe is to the building: what its run is called, but a branch where it is a fixture's own drain.
    pub(crate) fn kind(&self, pipe: PipeId) -> RunKind {
        match self.called(pipe) {
            RunKind::Stack | RunKind::BuildingDrain | RunKind::BuildingSewer
                if kept(&self.kept.own, pipe, || self.is_fixtures_own(pipe)) =>
            {
                RunKind::Branch
            }
            kind => kind,
        }
    }

    fn called(&self, pipe: PipeId) -> RunKind {
        let run = self.network.run(self.pipe(pipe).run);
        run.map_or(RunKind::Branch, |run| run.kind)
    }

    /// Whether a vent or another drain comes to a node, or a vent leaves it. What only leads to a cleanout is no drain.
    fn is_joined(&self, node: NodeId) -> bool {
        let leads_to_cleanout =
            |pipe: PipeId| self.is_cleanout(self.from(pipe)) && self.inlets(self.from(pipe)).is_empty();
        let vents = !self.pipes_at(node, Direction::Outgoing, Role::Vent).is_empty() || !self.vents_to(node).is_empty();
        let drains = self.inlets(node).into_iter().filter(|&pipe| !leads_to_cleanout(pipe));
        vents || drains.count() > 1
    }

    /// Whether a pipe of a stack or a building drain that is written from a fixture on is that fixture's own drain: the
    /// run has not been joined above it, is further down, and, being a stack, has not dropped yet.
    fn is_fixtures_own(&self, pipe: PipeId) -> bool {
        let run = self.pipe(pipe).run;
        let of_run = |other: &PipeId| self.pipe(*other).run == run;
        let mut fixtures = self.network.graph().node_indices();
        let Some(fixture) = fixtures.find(|&node| {
            let begins = self.next(node).as_ref().is_some_and(of_run);
            self.has_trap(node) && begins && self.downstream(node).contains(&pipe)
        }) else {
            return false;
        };
        let way: Vec<_> = self.downstream(fixture).into_iter().take_while(of_run).collect();
        let drops = |pair: &[PipeId]| {
            let levels = pair[..pair.len() - 1]
                .iter()
                .any(|&above| self.vertical(above) != Some(true));
            self.called(pipe) == RunKind::Stack && levels && self.vertical(pair[pair.len() - 1]) == Some(true)
        };
        // The first of the run's pipes that is no more the fixture's own.
        let first =
            (1..=way.len()).find(|&at| self.is_joined(self.to(way[at - 1])) || way.get(..=at).is_some_and(drops));
        first.is_some_and(|first| way[..first].contains(&pipe))
    }

    fn pipes_at(&self, node: NodeId, way: Direction, role: Role) -> Vec<PipeId> {
        let pipes = self.network.graph().edges_directed(node, way);
        pipes
            .filter(|pipe| pipe.weight().role == role)
            .map(|pipe| pipe.id())
            .collect()
    }

    /// The drains that enter a node.
    pub(crate) fn inlets(&self, node: NodeId) -> Vec<PipeId> {
        self.pipes_at(node, Direction::Incoming, Role::Drain)
    }

    /// The drain that leads on from a node.
    pub(crate) fn next(&self, node: NodeId) -> Option<PipeId> {
        self.pipes_at(node, Direction::Outgoing, Role::Drain).first().copied()
    }

    /// The vents that begin at a node, the most direct first: to open air before to a valve, what comes down to the foot
    /// of a loop last; the name between twins.
    pub(crate) fn vents_from(&self, node: NodeId) -> Vec<PipeId> {
        let mut vents = self.pipes_at(node, Direction::Outgoing, Role::Vent);
        if vents.len() > 1 {
            let way = |vent: PipeId| {
                let comes_down = self.is_foot(self.to(vent)) || self.comes_to_foot(vent).is_some();
                let by_valve = matches!(self.node(self.vent_end(vent)).kind, NodeKind::Valve(_));
                (comes_down, by_valve && !comes_down, self.pipe(vent).name.clone())
            };
            vents.sort_by_key(|&vent| way(vent));
        }
        vents
    }

    /// The foot of a loop: a vent arrives, a drain begins, and a vent goes on.
    pub(crate) fn is_foot(&self, node: NodeId) -> bool {
        self.next(node).is_some() && !self.vents_to(node).is_empty()
    }

    /// The foot that a vent comes down to, at its end or further on.
    pub(crate) fn comes_to_foot(&self, vent: PipeId) -> Option<NodeId> {
        let way = self.vents_on(vent).into_iter();
        way.map(|pipe| self.to(pipe)).find(|&node| self.is_foot(node))
    }

    pub(crate) fn is_cleanout(&self, node: NodeId) -> bool {
        matches!(self.node(node).kind, NodeKind::Cleanout(_))
    }

    /// The vents that come to a node.
    pub(crate) fn vents_to(&self, node: NodeId) -> Vec<PipeId> {
        self.pipes_at(node, Direction::Incoming, Role::Vent)
    }

    pub(crate) fn fixture(&self, node: NodeId) -> Option<&'a Fixture> {
        match &self.node(node).kind {
            NodeKind::Fixture(fixture) => Some(fixture),
            _ => None,
        }
    }

    pub(crate) fn has_trap(&self, node: NodeId) -> bool {
        self.fixture(node).is_some_and(|fixture| match fixture.fixture_type {
            FixtureType::ConnectedLoad => false,
            FixtureType::ContinuousFlow => {
                let trap = &fixture.trap;
                trap.size.is_some() || trap.seal.is_some() || trap.kind.is_some()
            }
            _ => true,
        })
    }

    pub(crate) fn is_fitting(&self, node: NodeId) -> bool {
        matches!(self.node(node).kind, NodeKind::Fitting { .. })
    }

    pub(crate) fn pattern(&self, node: NodeId) -> Option<FittingPattern> {
        match &self.node(node).kind {
            NodeKind::Fitting { pattern } => *pattern,
            _ => None,
        }
    }

    /// The pattern of the fitting at a node, if there is a fitting.
    pub(crate) fn fitting_at(&self, node: NodeId) -> Got {
        match &self.node(node).kind {
            NodeKind::Fitting { pattern } => known(*pattern, |one| Value::Word(one.name())),
            _ => Got::Absent,
        }
    }

    pub(crate) fn size(&self, pipe: PipeId) -> Option<Size> {
        self.pipe(pipe).size.and_then(|name| self.rules.ladder.find(name))
    }

    pub(crate) fn size_of(&self, pipe: PipeId) -> Got {
        known(self.size(pipe), Value::Size)
    }

    /// Whether a pipe is vertical by the rule set's definition.
    pub(crate) fn vertical(&self, pipe: PipeId) -> Option<bool> {
        let most: Angle = self.rules.definitions.vertical.most_from_vertical;
        self.pipe(pipe).slope.map(|slope| slope.angle_from_vertical() <= most)
    }

    /// The nodes from one on, the way the water goes, to the point of disposal.
    pub(crate) fn downstream(&self, node: NodeId) -> Vec<PipeId> {
        let mut way = Vec::new();
        let mut at = node;
        while let Some(pipe) = self.next(at) {
            way.push(pipe);
            at = self.to(pipe);
        }
        way
    }

    /// The drains from a node down to another; all to the point of disposal where that does not lie on the way.
    pub(crate) fn way(&self, from: NodeId, to: NodeId) -> Vec<PipeId> {
        let mut way = Vec::new();
        for pipe in self.downstream(from) {
            if self.from(pipe) == to {
                break;
            }
            way.push(pipe);
        }
        way
    }

    /// The fixtures whose water reaches a node, that at the node itself among them.
    pub(crate) fn fixtures_above(&self, node: NodeId) -> Rc<Vec<NodeId>> {
        kept(&self.kept.above, node, || {
            let mut found = Vec::new();
            let mut open = vec![node];
            while let Some(node) = open.pop() {
                if self.fixture(node).is_some() {
                    found.push(node);
                }
                open.extend(self.inlets(node).into_iter().map(|pipe| self.from(pipe)));
            }
            found.sort();
            Rc::new(found)
        })
    }

    /// The length of the shortest of some ways; not known where one of unstated length may be that.
    pub(crate) fn shortest(&self, ways: &[Vec<PipeId>]) -> Got {
        let known = ways
            .iter()
            .map(|way| self.length(way))
            .filter(|far| *far != Got::Missing);
        let known = least(known);
        let of_known = |way: &Vec<PipeId>| {
            let stated: Vec<_> = way
                .iter()
                .copied()
                .filter(|&pipe| self.pipe(pipe).length.is_some())
                .collect();
            self.length(&stated)
        };
        let open = ways.iter().filter(|way| self.length(way) == Got::Missing);
        let may_be_shorter = |way| match (known, of_known(way)) {
            (Got::Known(known), Got::Known(least)) => least.compare(known).is_none_or(|order| order.is_lt()),
            _ => true,
        };
        if open.into_iter().any(may_be_shorter) {
            Got::Missing
        } else {
            known
        }
    }

    /// The sum of the lengths of pipes.
    pub(crate) fn length(&self, pipes: &[PipeId]) -> Got {
        let mut sum = Length::from_nanometres(0);
        for &pipe in pipes {
            let Some(length) = self.pipe(pipe).length else {
                return Got::Missing;
            };
            sum = sum.checked_add(length).unwrap_or(Length::from_nanometres(i64::MAX));
        }
        Got::Known(Value::Length(sum))
    }
}
