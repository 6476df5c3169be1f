//! Vents that are added or led elsewhere, and what gives a trap its air.

use std::collections::{BTreeMap, BTreeSet};

use crownweir_evaluate::Arranged;
use crownweir_network::{NodeId, NodeKind, PipeId, angles};
use crownweir_quantity::{Length, NominalSize, Slope};
use crownweir_rulebook::{Condition, Fact, Subject, Value};
use crownweir_vocabulary::{FittingPattern, Role, RunKind};
use petgraph::Direction;
use petgraph::algo::dijkstra;
use petgraph::visit::UndirectedAdaptor;

use super::{BESIDE, Candidates, FITTINGS, JOINTS, JOINTS_BESIDE, SLOPES, whole};
use crate::mend::change::Change;

/// Two places in plan that are no further apart are tried as one.
const AT_ONE_PLACE: Length = Length::INCH;

/// Common practice: what a fixture stands on is close above the bend below it; between the two there is room for a fitting
/// only where the drop is so long.
const A_LONG_DROP: Length = Length::from_nanometres(24 * Length::INCH.nanometres());

/// By how many pipes a joint with an opening left may be further away than one without and go before it.
const FOR_AN_OPENING: usize = 2;

/// The openings of a fitting's run, and all openings of one with two branches: no pattern has more.
const OF_A_RUN: usize = 2;
const MOST_AT_A_FITTING: usize = 4;

/// How many joints of a place are tried before those of the next.
const AT_A_TURN: usize = 3;

/// Where a new vent is wanted.
struct Wanted {
    /// What puts the fitting there, where there is none yet.
    before: Option<Change>,
    /// The fitting.
    name: String,
    height: Option<Length>,
    place: [Option<Length>; 2],
}

impl Candidates<'_> {
    pub(super) fn of_protection(&mut self, fixture: u32) {
        let arranged = self.measured.arranged(fixture);
        let mut open: Vec<Condition> = Vec::new();
        if let Arranged::Nearest(Some((arrangement, failed))) = arranged {
            let conditions = failed
                .iter()
                .filter_map(|&index| arrangement.conditions.get(index));
            open.extend(conditions.map(|one| one.require.clone()));
        }
        for condition in open {
            self.of_condition(Subject::Trap, fixture, &condition);
        }
        let fixture = NodeId::new(fixture as usize);
        self.vents(fixture);
        self.vents_beside(fixture);
    }

    pub(super) fn of_air(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
        let fixture = NodeId::new(element as usize);
        match (fact, limit) {
            (Fact::CircuitRelief | Fact::CircuitReliefSize, _) => self.relieve(fixture),
            (Fact::CircuitSteepest | Fact::CombinationSteepest, Some(Value::Slope(most))) => {
                self.lay_flatter(fixture, most);
            }
            (Fact::IslandTurn, Some(Value::Length(least))) => {
                self.raise_loop(fixture, element, least);
            }
            (Fact::IslandCleanouts, _) => self.open_loop(fixture),
            _ => {}
        }
        let arm = self.arm(fixture);
        if fact == Fact::ProtectionTurnsDown {
            // Laid at the slope of what follows it, the drain does not turn down.
            let slope = arm
                .iter()
                .filter_map(|&pipe| self.network.graph().edge_weight(pipe)?.slope)
                .find(|slope| !slope.is_vertical());
            let plumb: Vec<Change> = arm
                .iter()
                .filter(|&&pipe| !self.is_level(pipe))
                .filter_map(|&pipe| {
                    Some(Change::Slope {
                        pipe: self.name(pipe),
                        slope: slope?,
                    })
                })
                .collect();
            self.push(plumb);
        }
        if fact.dimension() == Fact::PipeSize.dimension() {
            for pipe in self.down(fixture).into_iter().take(4) {
                self.enlarge(pipe);
            }
        }
    }

    /// A vent further down the branch that a trap drains into, from the last of its fittings back.
    fn relieve(&mut self, fixture: NodeId) {
        let graph = self.network.graph();
        let way = self.down(fixture).into_iter();
        let ends = way
            .take_while(|&pipe| self.kind(pipe) == Some(RunKind::Branch))
            .filter_map(|pipe| Some(graph.edge_endpoints(pipe)?.1));
        let mut ends: Vec<NodeId> = ends
            .filter(|&node| self.is_fitting(node) && !self.is_vented(node) && self.takes_vent(node))
            .collect();
        ends.reverse();
        let wanted = ends
            .into_iter()
            .take(FITTINGS)
            .map(|node| self.at(node))
            .collect();
        let steps = self.steps_from(fixture);
        self.lead_up(wanted, fixture, &steps, JOINTS);
    }

    /// The drains of the branch that a trap drains into which fall more than a limit: as others of their run do, and at the
    /// limit.
    fn lay_flatter(&mut self, fixture: NodeId, most: Slope) {
        let graph = self.network.graph();
        let own = self.down(fixture).into_iter();
        let runs: BTreeSet<_> = own
            .filter(|&pipe| self.kind(pipe) == Some(RunKind::Branch))
            .filter_map(|pipe| Some(graph.edge_weight(pipe)?.run))
            .collect();
        let level: Vec<(PipeId, Slope)> = graph
            .edge_indices()
            .filter_map(|id| {
                let pipe = graph.edge_weight(id)?;
                let slope = pipe.slope.filter(|slope| !slope.is_vertical())?;
                (pipe.role == Role::Drain && runs.contains(&pipe.run)).then_some((id, slope))
            })
            .collect();
        let mut slopes: Vec<Slope> = level.iter().map(|(_, slope)| *slope).collect();
        slopes.retain(|slope| *slope > Slope::LEVEL && *slope <= most);
        slopes.push(most);
        slopes.dedup();
        for slope in slopes.into_iter().take(SLOPES) {
            let steep = level.iter().filter(|(_, own)| *own > most);
            let flatter = steep.map(|&(pipe, own)| Change::Slope {
                pipe: self.name(pipe),
                slope: self.settable(slope, own),
            });
            self.push(flatter.collect::<Vec<_>>());
        }
    }

    /// A vent of its own for a trap: at a fitting on its drain, or at a new one.
    pub(super) fn vents(&mut self, fixture: NodeId) {
        let graph = self.network.graph();
        let steps = self.steps_from(fixture);
        let way = self.down(fixture);
        let mut wanted: Vec<Wanted> = way
            .iter()
            .take(FITTINGS)
            .filter(|&&pipe| self.kind(pipe) == Some(RunKind::Branch))
            .filter_map(|&pipe| graph.edge_endpoints(pipe))
            .filter(|&(_, to)| !self.is_vented(to) && self.takes_vent(to))
            .map(|(_, to)| self.at(to))
            .collect();
        // Beyond what the fixture is set on, unless it is the long drop to that which is to be broken.
        let is_of_drop = self.about.contains(&Fact::TrapArmDrop);
        let first = way.iter().find(|&&pipe| {
            let to = graph.edge_endpoints(pipe).map(|(_, to)| to);
            let length = graph.edge_weight(pipe).and_then(|pipe| pipe.length);
            let is_long = length.is_some_and(|length| length >= A_LONG_DROP);
            !to.is_some_and(|to| self.sets_fixture(to)) || is_of_drop && is_long
        });
        if let Some(&pipe) = first {
            for (name, put) in self.vent_fittings(fixture, pipe) {
                wanted.push(Wanted {
                    before: Some(put),
                    name,
                    // Where it stands in plan is known once it is there.
                    place: [None; 2],
                    ..self.at(fixture)
                });
            }
        }
        self.lead_up(wanted, fixture, &steps, JOINTS);
    }

    /// New fittings in a drain for a trap's vent, by the middle and each third, with their names.
    pub(super) fn vent_fittings(&self, fixture: NodeId, pipe: PipeId) -> Vec<(String, Change)> {
        let length = self
            .network
            .graph()
            .edge_weight(pipe)
            .and_then(|pipe| pipe.length);
        let name = self.fresh(&format!("{} vent tee", self.node_name(fixture)));
        // The branch of a tee in a plumb drain lies on end; that of a wye rises.
        let patterns = [FittingPattern::SanitaryTee, FittingPattern::Wye];
        let patterns = patterns.into_iter().skip(usize::from(!self.is_level(pipe)));
        let parts = [(1, 2), (1, 3), (2, 3)].into_iter();
        let places =
            parts.filter_map(|(numerator, denominator)| whole(length?, numerator, denominator, self.network));
        let put = |after: Length, pattern: FittingPattern| Change::Fitting {
            pipe: self.name(pipe),
            after,
            name: name.clone(),
            pattern,
        };
        places
            .flat_map(|after| patterns.clone().map(move |pattern| (after, pattern)))
            .map(|(after, pattern)| (name.clone(), put(after, pattern)))
            .collect()
    }

    /// Vents at the fittings of the branch that a trap drains into, its own way aside: what vents a neighbour may vent it too.
    pub(super) fn vents_beside(&mut self, fixture: NodeId) {
        let graph = self.network.graph();
        let steps = self.steps_from(fixture);
        let own: Vec<NodeId> = self
            .down(fixture)
            .into_iter()
            .take_while(|&pipe| self.kind(pipe) == Some(RunKind::Branch))
            .filter_map(|pipe| Some(graph.edge_endpoints(pipe)?.1))
            .collect();
        let mut beside: Vec<NodeId> = graph
            .edge_indices()
            .filter(|&pipe| self.kind(pipe) == Some(RunKind::Branch))
            .filter_map(|pipe| Some(graph.edge_endpoints(pipe)?.1))
            .filter(|node| self.is_fitting(*node) && !own.contains(node) && !self.is_vented(*node))
            .filter(|node| self.takes_vent(*node))
            .filter(|node| self.storey(*node) == self.storey(fixture) && self.meets_above(*node, &own))
            .collect();
        // Common practice: a vent rises where a fixture's own drain ends.
        let takes_fixture = |node: NodeId| {
            let mut above = graph.neighbors_directed(node, Direction::Incoming);
            above.any(|node| {
                let kind = graph.node_weight(node).map(|node| &node.kind);
                matches!(kind, Some(NodeKind::Fixture(_)))
            })
        };
        beside.sort_by_key(|&node| (!takes_fixture(node), steps.get(&node).copied(), node));
        beside.dedup();
        let wanted = beside
            .into_iter()
            .take(BESIDE)
            .map(|node| self.at(node))
            .collect();
        self.lead_up(wanted, fixture, &steps, JOINTS_BESIDE);
    }

    /// Whether a vent is one that a stack needs itself: of such a kind, or from an end of a stack.
    pub(super) fn is_main_vent(&self, vent: PipeId) -> bool {
        if matches!(self.kind(vent), Some(RunKind::StackVent | RunKind::VentStack)) {
            return true;
        }
        let from = self.network.graph().edge_endpoints(vent).map(|(from, _)| from);
        from.is_some_and(|node| {
            let has_stack = |direction| {
                let mut pipes = self.network.pipes_at(node, direction);
                pipes.any(|pipe| self.kind(pipe) == Some(RunKind::Stack))
            };
            has_stack(Direction::Incoming) != has_stack(Direction::Outgoing)
        })
    }

    /// Whether a plumb vent may rise from a fitting: one that no fixture is set on, and where no three drains meet on end. Of
    /// double patterns, which alone take a fourth pipe, both branches lie in one plane, so that the vent would lie on end
    /// too.
    pub(super) fn takes_vent(&self, node: NodeId) -> bool {
        let [into, out] = [Direction::Incoming, Direction::Outgoing].map(|direction| {
            let pipes = self.network.pipes_at(node, direction);
            pipes
                .filter(|&pipe| self.role(pipe) == Some(Role::Drain) && self.is_level(pipe))
                .count()
        });
        into + out < OF_A_RUN + 1 && !self.turns_on_end(node) && !self.sets_fixture(node)
    }

    /// Whether drains that lie on end turn at a fitting, by the plan or else by a pattern without a branch: a plumb vent
    /// would stand square to both, which no fitting has openings for.
    fn turns_on_end(&self, node: NodeId) -> bool {
        let level = |direction| {
            let mut pipes = self.network.pipes_at(node, direction);
            pipes.find(|&pipe| self.role(pipe) == Some(Role::Drain) && self.is_level(pipe))
        };
        let (Some(above), Some(below)) = (level(Direction::Incoming), level(Direction::Outgoing)) else {
            return false;
        };
        match angles::angle(self.network, node, above, below) {
            Some(angle) => angle > angles::PLAY,
            None => self
                .pattern(node)
                .is_some_and(|pattern| !pattern.has_branch() && pattern.turn_in_tenths() > 0),
        }
    }

    /// Whether a fixture is set on a fitting, a flange or the bend below it, so that no other can stand there.
    pub(super) fn sets_fixture(&self, node: NodeId) -> bool {
        let is_fixture = |node: &NodeId| {
            let kind = self.network.graph().node_weight(*node).map(|node| &node.kind);
            matches!(kind, Some(NodeKind::Fixture(_)))
        };
        let above = |node| {
            let graph = self.network.graph();
            graph.neighbors_directed(node, Direction::Incoming)
        };
        let is_flange = |node: &NodeId| self.pattern(*node) == Some(FittingPattern::ClosetFlange);
        match self.pattern(node) {
            Some(FittingPattern::ClosetFlange) => above(node).any(|node| is_fixture(&node)),
            Some(FittingPattern::ClosetBend) => above(node)
                .any(|one| is_fixture(&one) || is_flange(&one) && above(one).any(|node| is_fixture(&node))),
            _ => false,
        }
    }

    /// Whether the drain from a node comes to one of others within a few pipes, all of them branches.
    fn meets_above(&self, node: NodeId, others: &[NodeId]) -> bool {
        let way = self.down(node).into_iter().take(FITTINGS);
        let branches = way.take_while(|&pipe| self.kind(pipe) == Some(RunKind::Branch));
        let mut ends = branches.filter_map(|pipe| self.network.graph().edge_endpoints(pipe));
        ends.any(|(_, to)| others.contains(&to))
    }

    /// Vents from where they are wanted up to the joints of vents on a fixture's storey, the nearest first.
    fn lead_up(
        &mut self,
        wanted: Vec<Wanted>,
        fixture: NodeId,
        steps: &BTreeMap<NodeId, usize>,
        most: usize,
    ) {
        let graph = self.network.graph();
        let mut joints: Vec<NodeId> = graph
            .node_indices()
            .filter(|&node| self.is_fitting(node) && self.storey(node) == self.storey(fixture))
            .filter(|&node| {
                let around = graph
                    .edges_directed(node, Direction::Incoming)
                    .chain(graph.edges(node));
                around
                    .map(|edge| edge.weight().role)
                    .all(|role| role == Role::Vent)
            })
            .collect();
        joints.retain(|&node| self.pipes_at(node) < MOST_AT_A_FITTING);
        // A fitting without an opening left has to be another: one with stands in for it from a little further away.
        let farness = |node: NodeId| {
            let further = if self.is_full(node) { FOR_AN_OPENING } else { 0 };
            let steps = steps.get(&node).copied().unwrap_or(usize::MAX);
            (steps.saturating_add(further), node)
        };
        joints.sort_by_key(|&node| farness(node));
        let sizes: Vec<NominalSize> = self
            .rules
            .pipe_sizes()
            .into_iter()
            .take(4)
            .filter_map(|size| self.rules.ladder.rung(size))
            .map(|rung| rung.name)
            .collect();
        let height = |node: NodeId| graph.node_weight(node).and_then(|node| node.elevation);
        // The new vent is plumb: a joint that is known to stand elsewhere in plan is not above.
        let is_above = |joint: NodeId, at: &Wanted| {
            let there = self.network.place_in_plan(joint);
            let mut axes = at.place.into_iter().zip(there);
            let is_apart = axes.any(|(here, there)| match (here, there) {
                (Some(here), Some(there)) => {
                    here.nanometres().abs_diff(there.nanometres()) > AT_ONE_PLACE.nanometres().unsigned_abs()
                }
                _ => false,
            });
            height(joint).is_some() && height(joint) > at.height && !is_apart
        };
        let above = |at: &Wanted| -> Vec<NodeId> {
            let above = joints.iter().copied().filter(|&joint| is_above(joint, at));
            above.take(most).collect()
        };
        let joints: Vec<Vec<NodeId>> = wanted.iter().map(above).collect();
        // By turns, so that the last place wanted is tried before the furthest joints.
        for turn in 0..most.div_ceil(AT_A_TURN) {
            for (at, joints) in wanted.iter().zip(&joints) {
                for &joint in joints.iter().skip(turn * AT_A_TURN).take(AT_A_TURN) {
                    for &size in &sizes {
                        let vent = Change::Vent {
                            at: at.name.clone(),
                            joins: self.node_name(joint),
                            size,
                            length: None,
                        };
                        let opened = self.opened(joint);
                        self.push(at.before.iter().cloned().chain([vent]).chain(opened));
                    }
                }
            }
        }
    }

    pub(super) fn pattern(&self, node: NodeId) -> Option<FittingPattern> {
        match self.network.graph().node_weight(node)?.kind {
            NodeKind::Fitting { pattern } => pattern,
            _ => None,
        }
    }

    fn pipes_at(&self, node: NodeId) -> usize {
        let [into, out] = [Direction::Incoming, Direction::Outgoing];
        self.network.pipes_at(node, into).count() + self.network.pipes_at(node, out).count()
    }

    /// Whether a fitting is of a pattern that takes no pipe more.
    fn is_full(&self, node: NodeId) -> bool {
        self.pattern(node).is_some_and(|pattern| {
            let branches = if pattern.has_two_branches() {
                2
            } else {
                usize::from(pattern.has_branch())
            };
            self.pipes_at(node) >= OF_A_RUN + branches
        })
    }

    /// The pattern that a fitting where vents meet has to be to take one more; none where it may stay what it is. Where the
    /// plan tells how its pipes turn, that follows from what is then found.
    fn opened(&self, node: NodeId) -> Option<Change> {
        if self.turns_in_plan(node) {
            return None;
        }
        let pattern = match self.pattern(node) {
            None if self.pipes_at(node) == OF_A_RUN => FittingPattern::Tee,
            Some(own) if self.is_full(node) => match own {
                own if !own.has_branch() => FittingPattern::Tee,
                FittingPattern::Wye => FittingPattern::DoubleWye,
                FittingPattern::CombinationWye => FittingPattern::DoubleCombinationWye,
                _ => FittingPattern::DoubleSanitaryTee,
            },
            _ => return None,
        };
        let fitting = self.node_name(node);
        Some(Change::Pattern { fitting, pattern })
    }

    /// How many pipes away from a node each other is, whichever way water and air go.
    fn steps_from(&self, node: NodeId) -> BTreeMap<NodeId, usize> {
        let graph = UndirectedAdaptor(self.network.graph());
        dijkstra(graph, node, None, |_| 1).into_iter().collect()
    }

    fn at(&self, node: NodeId) -> Wanted {
        let height = self.network.graph().node_weight(node);
        Wanted {
            before: None,
            name: self.node_name(node),
            height: height.and_then(|node| node.elevation),
            place: self.network.place_in_plan(node),
        }
    }

    fn is_fitting(&self, node: NodeId) -> bool {
        let node = self.network.graph().node_weight(node);
        node.is_some_and(|node| matches!(node.kind, NodeKind::Fitting { .. }))
    }

    fn is_vented(&self, node: NodeId) -> bool {
        let mut leaving = self.network.graph().edges(node);
        leaving.any(|pipe| pipe.weight().role == Role::Vent)
    }

    fn storey(&self, node: NodeId) -> Option<u32> {
        self.network
            .graph()
            .node_weight(node)
            .and_then(|node| node.storey)
    }

    /// A name that nothing has.
    pub(super) fn fresh(&self, wanted: &str) -> String {
        let taken = |name: &str| self.network.node_named(name).is_some();
        let numbered = (2..100).map(|number| format!("{wanted} {number}"));
        let mut names = std::iter::once(wanted.to_owned()).chain(numbered);
        names
            .find(|name| !taken(name))
            .unwrap_or_else(|| wanted.to_owned())
    }
}
