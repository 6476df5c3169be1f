//! Stacks: their branch intervals, what vents and relieves them, and their horizontal pieces.

use std::collections::BTreeSet;
use std::rc::Rc;

use crownweir_network::{NodeId, NodeKind, PipeId};
use crownweir_quantity::Load;
use crownweir_rulebook::{Fact, Subject, Value};
use crownweir_vocabulary::{FittingPattern, FixtureType, RunKind};

use crate::{Got, Oracle, count, kept, least, most, plus, truth};

/// A stack: its pipes, the highest first.
pub(crate) type Stack = Rc<Vec<PipeId>>;

/// A branch interval: the nodes where branches join within it, the highest first.
pub(crate) type Interval = Vec<NodeId>;

impl Oracle<'_> {
    fn stack_above(&self, pipe: PipeId) -> Option<PipeId> {
        let inlets = self.inlets(self.from(pipe)).into_iter();
        let mut stacks: Vec<_> = inlets.filter(|&inlet| self.kind(inlet) == RunKind::Stack).collect();
        let own = stacks
            .iter()
            .find(|&&inlet| self.pipe(inlet).run == self.pipe(pipe).run);
        if own.is_some() || !self.is_fitting(self.from(pipe)) {
            return own.copied();
        }
        // A run may go on under another name.
        stacks.sort_by_key(|&inlet| (self.enters(inlet), self.pipe(inlet).name.clone()));
        stacks.first().copied()
    }

    fn top_of(&self, pipe: PipeId) -> PipeId {
        let mut top = pipe;
        while let Some(above) = self.stack_above(top) {
            top = above;
        }
        top
    }

    /// The stack that a pipe is part of.
    pub(crate) fn stack_of(&self, pipe: PipeId) -> Stack {
        let top = self.top_of(pipe);
        kept(&self.kept.stacks, self.from(top), || {
            let way = self.downstream(self.from(top)).into_iter();
            Rc::new(
                way.take_while(|&pipe| self.kind(pipe) == RunKind::Stack && self.top_of(pipe) == top)
                    .collect(),
            )
        })
    }

    /// All stacks, in the order of where they begin.
    pub(crate) fn stacks(&self) -> Vec<Stack> {
        let pipes = self.network.graph().edge_indices();
        let tops = pipes.filter(|&pipe| self.kind(pipe) == RunKind::Stack && self.top_of(pipe) == pipe);
        let mut stacks: Vec<_> = tops.map(|top| self.stack_of(top)).collect();
        stacks.sort_by_key(|stack| self.from(stack[0]));
        stacks
    }

    /// The stack of a node where a trap's water meets its air, of a drain, of a vent, of an interval.
    pub(crate) fn stack_for(&self, subject: Subject, element: u32) -> Option<Stack> {
        let of = |pipe: PipeId| (self.kind(pipe) == RunKind::Stack).then(|| self.stack_of(pipe));
        let (node, pipe) = (NodeId::new(element as usize), PipeId::new(element as usize));
        match subject {
            Subject::Drain => of(pipe),
            Subject::Vent => self.governing(pipe).or_else(|| self.next(self.from(pipe)).and_then(of)),
            Subject::Trap | Subject::TrapArm => self.next(self.supply(node)?.connection).and_then(of),
            Subject::BranchInterval => Some(self.all_intervals().get(element as usize)?.0.clone()),
            _ => self.stacks().get(element as usize).cloned(),
        }
    }

    pub(crate) fn foot(&self, stack: &Stack) -> PipeId {
        stack[stack.len() - 1]
    }

    /// The nodes of a stack, its base left out.
    pub(crate) fn nodes_of(&self, stack: &Stack) -> Vec<NodeId> {
        stack.iter().map(|&pipe| self.from(pipe)).collect()
    }

    /// Whether something beside the stack discharges to it at one of its nodes.
    pub(crate) fn is_joint(&self, stack: &Stack, node: NodeId) -> bool {
        self.fixture(node).is_some() || self.inlets(node).iter().any(|inlet| !stack.contains(inlet))
    }

    pub(crate) fn joints(&self, stack: &Stack) -> Vec<NodeId> {
        let nodes = self.nodes_of(stack).into_iter();
        nodes.filter(|&node| self.is_joint(stack, node)).collect()
    }

    /// The one storey of all fixtures that drain to a joint of a stack by its branches, else that of the joint.
    fn storey_served(&self, stack: &Stack, joint: NodeId) -> Option<u32> {
        let mut fixtures: Vec<NodeId> = self.fixture(joint).map(|_| joint).into_iter().collect();
        for inlet in self.inlets(joint).into_iter().filter(|inlet| !stack.contains(inlet)) {
            fixtures.extend(self.fixtures_above(self.from(inlet)).iter());
        }
        let mut storeys: Vec<Option<u32>> = fixtures.iter().map(|&one| self.node(one).storey).collect();
        storeys.sort_unstable();
        storeys.dedup();
        match storeys.as_slice() {
            [Some(storey)] => Some(*storey),
            _ => self.node(joint).storey,
        }
    }

    /// The branch intervals of a stack from the top, and whether it is known which joints each has.
    ///
    /// A joint opens the next where it is far enough below the one that opened the last, or on another storey.
    pub(crate) fn intervals(&self, stack: &Stack) -> (Vec<Interval>, bool) {
        let (mut intervals, mut is_known): (Vec<Interval>, bool) = (Vec::new(), true);
        for joint in self.joints(stack) {
            let Some(interval) = intervals.last_mut() else {
                intervals.push(vec![joint]);
                continue;
            };
            let opened = interval[0];
            let anew = match self.rules.definitions.branch_interval.least {
                Some(least) => match self.length(&self.way(opened, joint)) {
                    Got::Known(Value::Length(length)) => length >= least,
                    _ => {
                        is_known = false;
                        false
                    }
                },
                None => {
                    let storeys = [opened, joint].map(|node| self.storey_served(stack, node));
                    is_known &= !storeys.contains(&None);
                    storeys[0] != storeys[1]
                }
            };
            if anew {
                intervals.push(vec![joint]);
            } else {
                interval.push(joint);
            }
        }
        (intervals, is_known)
    }

    /// All branch intervals, each with its stack.
    pub(crate) fn all_intervals(&self) -> Vec<(Stack, Interval)> {
        let of = |stack: Stack| {
            let intervals = self.intervals(&stack).0.into_iter();
            intervals.map(|interval| (stack.clone(), interval)).collect::<Vec<_>>()
        };
        self.stacks().into_iter().flat_map(of).collect()
    }

    /// How many branch intervals of a stack lie above a joint.
    pub(crate) fn intervals_above(&self, stack: &Stack, joint: NodeId) -> Got {
        match self.intervals(stack) {
            (_, false) => Got::Missing,
            (intervals, true) => {
                let at = intervals.iter().position(|interval| interval.contains(&joint));
                at.map_or(Got::Absent, count)
            }
        }
    }

    /// Load of the branches that enter a stack within an interval.
    fn load_within(&self, stack: &Stack, interval: &Interval) -> Got {
        let mut sum = 0;
        for &joint in interval {
            let above = self.inlets(joint).into_iter().find(|inlet| stack.contains(inlet));
            let above = above.map_or(Got::Known(Value::Load(Load::default())), |inlet| {
                self.load_at(self.from(inlet))
            });
            match (self.load_at(joint), above) {
                (Got::Known(Value::Load(all)), Got::Known(Value::Load(above))) => {
                    sum += all.thousandths() - above.thousandths();
                }
                _ => return Got::Missing,
            }
        }
        Got::Known(Value::Load(Load::from_thousandths(sum)))
    }

    pub(crate) fn interval_fact(&self, element: u32, fact: Fact) -> Option<Got> {
        let all = self.all_intervals();
        let (stack, interval) = all.get(element as usize)?;
        let last = interval[interval.len() - 1];
        Some(match fact {
            Fact::IntervalLoad if !self.intervals(stack).1 => Got::Missing,
            Fact::IntervalLoad => self.load_within(stack, interval),
            Fact::IntervalStackSize => self.next(last).map_or(Got::Absent, |pipe| self.size_of(pipe)),
            Fact::IntervalVentsTraps => match self.next(last) {
                Some(pipe) => count(self.airs(pipe)?.len()),
                None => Got::Absent,
            },
            _ => return None,
        })
    }

    /// The vent that continues a stack upward.
    pub(crate) fn stack_vent(&self, stack: &Stack) -> Option<PipeId> {
        let vents = self.nodes_of(stack).into_iter().flat_map(|node| self.vents_from(node));
        vents.into_iter().find(|&vent| self.kind(vent) == RunKind::StackVent)
    }

    /// The upright pipe of a stack that comes down nearest up the building drain or an offset from a node, and how far
    /// its foot is.
    pub(crate) fn foot_above(&self, node: NodeId) -> Option<(Got, PipeId)> {
        self.foot_beside(node, None)
    }

    /// The same, all but what one of the drains brings that come there.
    pub(crate) fn foot_beside(&self, node: NodeId, but: Option<PipeId>) -> Option<(Got, PipeId)> {
        let mut found: Vec<(Got, PipeId)> = Vec::new();
        let goes_on = self.next(node).is_some_and(|next| self.vertical(next) == Some(true));
        for inlet in self.inlets(node) {
            if Some(inlet) == but {
                continue;
            }
            match (self.kind(inlet), self.vertical(inlet)) {
                (RunKind::Stack, Some(true)) if !goes_on => {
                    found.push((self.length(&[]), inlet));
                }
                (RunKind::Stack, None) if !goes_on => found.push((Got::Missing, inlet)),
                (RunKind::BuildingDrain, _) | (RunKind::Stack | RunKind::Branch, Some(false)) => {
                    let above = self.foot_above(self.from(inlet));
                    found.extend(above.map(|(far, foot)| (plus(far, self.length(&[inlet])), foot)));
                }
                (RunKind::Branch, None) => {
                    let above = self.foot_above(self.from(inlet));
                    found.extend(above.map(|(_, foot)| (Got::Missing, foot)));
                }
                _ => {}
            }
        }
        self.nearest(found)
    }

    /// The stack that it belongs to.
    pub(crate) fn base_above(&self, node: NodeId) -> Option<(Got, Stack)> {
        let (far, foot) = self.foot_above(node)?;
        Some((far, self.stack_of(foot)))
    }

    /// The nearest of drains; of two as near that with more fixtures, then the name decides. One may be nearer that is
    /// not known how far.
    pub(crate) fn nearest(&self, drains: Vec<(Got, PipeId)>) -> Option<(Got, PipeId)> {
        let nearest = least(drains.iter().map(|(far, _)| *far));
        let as_near = drains.into_iter().filter(|(far, _)| *far == nearest);
        as_near.min_by_key(|&(_, pipe)| {
            let fixtures = self.fixtures_above(self.from(pipe)).len();
            (std::cmp::Reverse(fixtures), self.pipe(pipe).name.clone())
        })
    }

    /// The last drain of the branch that leads away from a node.
    pub(crate) fn branch_end(&self, node: NodeId) -> Option<PipeId> {
        let way = self.downstream(node).into_iter();
        way.take_while(|&pipe| self.kind(pipe) == RunKind::Branch).last()
    }

    /// The stack that the branch which leads away from a node meets at its lowest interval, or at or below its base.
    pub(crate) fn stack_below(&self, node: NodeId) -> Option<Stack> {
        let joint = self.to(self.branch_end(node)?);
        let onward = self.next(joint).filter(|&next| self.kind(next) == RunKind::Stack);
        let Some(onward) = onward else {
            return self.base_above(joint).map(|(_, stack)| stack);
        };
        let stack = self.stack_of(onward);
        let lowest = self.intervals(&stack).0.pop().is_some_and(|last| last.contains(&joint));
        lowest.then_some(stack)
    }

    /// The vent stacks of a stack: from it (unless they count wherever they rise, at or below its lowest joint), from its
    /// base, from the drain below that, or from a branch that joins it there.
    pub(crate) fn vent_stacks(&self, stack: &Stack, wherever: bool) -> Vec<PipeId> {
        let mut nodes = self.nodes_of(stack);
        let lowest = self
            .joints(stack)
            .last()
            .and_then(|last| nodes.iter().position(|node| node == last));
        nodes.drain(..lowest.filter(|_| !wherever).unwrap_or(0));
        nodes.push(self.to(self.foot(stack)));
        let is_main = |&vent: &PipeId| self.kind(vent) == RunKind::VentStack;
        let own = nodes.into_iter().flat_map(|node| self.vents_from(node)).filter(is_main);
        let mut found: Vec<_> = own.collect();
        for vent in self.network.graph().edge_indices().filter(is_main) {
            let from = self.from(vent);
            if self.next(from).is_none() || found.contains(&vent) {
                continue;
            }
            let of = self.base_above(from).map(|(_, stack)| stack);
            if of.or_else(|| self.stack_below(from)).as_ref() == Some(stack) {
                found.push(vent);
            }
        }
        found
    }

    fn is_open(&self, vent: PipeId) -> bool {
        matches!(self.node(self.vent_end(vent)).kind, NodeKind::Terminal(_))
    }

    /// Whether air goes both ways through a vent: it comes to open air by itself or by a vent stack.
    fn circulates(&self, vent: PipeId) -> bool {
        let mut at = vent;
        loop {
            match self.kind(at) {
                RunKind::VentStack => return self.is_open(at),
                RunKind::StackVent => return false,
                _ => {}
            }
            match self.vents_from(self.to(at)).first() {
                Some(&next) => at = next,
                None => return self.is_open(at),
            }
        }
    }

    /// The vents that relieve a stack at one of its nodes.
    fn reliefs(&self, stack: &Stack, node: NodeId) -> Vec<PipeId> {
        // Without a stack vent, what leaves the top continues the stack.
        let continues = node == self.from(stack[0]) && self.stack_vent(stack).is_none();
        let mut reliefs = self.vents_from(node);
        reliefs.retain(|&vent| {
            let is_relief = match self.kind(vent) {
                RunKind::VentStack => true,
                RunKind::StackVent => false,
                _ => !continues,
            };
            is_relief && self.circulates(vent)
        });
        reliefs
    }

    /// The joints of a stack between one relief and the next, each group with where the relief above it stands.
    fn between_reliefs(&self, stack: &Stack) -> Vec<(Option<NodeId>, Vec<NodeId>)> {
        let mut groups = vec![(None, Vec::new())];
        for node in self.nodes_of(stack) {
            if let Some((_, group)) = groups.last_mut().filter(|_| self.is_joint(stack, node)) {
                group.push(node);
            }
            if !self.reliefs(stack, node).is_empty() {
                groups.push((Some(node), Vec::new()));
            }
        }
        groups.retain(|(_, joints)| !joints.is_empty());
        groups
    }

    fn storeys_in_a_row(&self, stack: &Stack) -> Got {
        let mut rows = vec![count(0)];
        for (relief, joints) in self.between_reliefs(stack) {
            let storey = |node: NodeId| self.node(node).storey.map(i64::from);
            let first = storey(joints[0]);
            let highest = match relief {
                None => first,
                // What joins below the relief on its own storey begins anew there.
                Some(relief) => first.zip(storey(relief)).map(|(first, relief)| first.max(relief - 1)),
            };
            rows.extend(joints.iter().map(|&joint| match highest.zip(storey(joint)) {
                Some((highest, here)) => Got::Known(Value::Count((highest - here).max(0) + 1)),
                None => Got::Missing,
            }));
        }
        most(rows)
    }

    fn span(&self, storeys: &[Option<u32>]) -> Got {
        let Some(known) = storeys.iter().copied().collect::<Option<Vec<_>>>() else {
            return Got::Missing;
        };
        match (known.iter().min(), known.iter().max()) {
            (Some(lowest), Some(highest)) => count((highest - lowest + 1) as usize),
            _ => Got::Absent,
        }
    }

    /// Storeys from the lowest to the highest of some nodes.
    pub(crate) fn storeys_of(&self, nodes: &[NodeId]) -> Got {
        let storeys: Vec<_> = nodes.iter().map(|&node| self.node(node).storey).collect();
        self.span(&storeys)
    }

    pub(crate) fn suds(&self, pipe: PipeId) -> Got {
        let fixtures = self.fixtures_above(self.from(pipe));
        let suds = fixtures.iter().filter_map(|&one| Some(self.fixture(one)?.fixture_type));
        use FixtureType as F;
        let makes = |one: &FixtureType| {
            matches!(
                one,
                F::Bathtub
                    | F::ClothesWasher
                    | F::Dishwasher
                    | F::KitchenSink
                    | F::LaundryTray
                    | F::CombinationSinkAndTray
            )
        };
        count(suds.filter(makes).count())
    }

    /// The sizes of a stack's vertical pipes.
    fn upright_sizes(&self, stack: &Stack, largest: bool) -> Got {
        if stack.iter().any(|&pipe| self.vertical(pipe).is_none()) {
            return Got::Missing;
        }
        let upright: Vec<_> = stack
            .iter()
            .copied()
            .filter(|&pipe| self.vertical(pipe) == Some(true))
            .collect();
        self.extreme(&upright, largest)
    }

    pub(crate) fn stack_fact(&self, stack: Option<&Stack>, fact: Fact) -> Option<Got> {
        use Fact as F;
        let Some(stack) = stack else {
            return Some(Got::Absent);
        };
        let foot = self.foot(stack);
        let above = self.fixtures_above(self.from(foot));
        let of = |kind: FixtureType| count(above.iter().filter(|&&one| self.is(one, kind)).count());
        let (intervals, is_known) = self.intervals(stack);
        let nodes = self.nodes_of(stack);
        Some(match fact {
            F::StackLoad => self.load_at(self.from(foot)),
            F::StackIntervals | F::StackUnrelieved | F::StackIntervalLoad if !is_known => Got::Missing,
            F::StackIntervals => count(intervals.len()),
            F::StackLargestSize => self.upright_sizes(stack, true),
            F::StackSmallestSize => self.upright_sizes(stack, false),
            F::StackHasStackVent => truth(self.stack_vent(stack).is_some()),
            F::StackHasVentStack => truth(!self.vent_stacks(stack, false).is_empty()),
            F::StackWaterClosets => of(FixtureType::WaterCloset),
            F::StackUrinals => of(FixtureType::Urinal),
            F::StackFixtures => count(above.len()),
            F::StackStoreys => {
                let mut all = nodes;
                all.push(self.to(foot));
                // A fitting between two storeys may be on none.
                all.retain(|&node| self.node(node).storey.is_some());
                all.extend(above.iter().copied());
                self.storeys_of(&all)
            }
            F::StackFixtureStoreys => self.storeys_of(&above),
            F::StackLowestStorey | F::StackHighestStorey => {
                let storeys = above.iter().map(|&one| match self.node(one).storey {
                    Some(storey) => count(storey as usize + 1),
                    None => Got::Missing,
                });
                if fact == F::StackLowestStorey {
                    least(storeys)
                } else {
                    most(storeys)
                }
            }
            F::StackIsWetVent => {
                let airs = stack.iter().map(|&pipe| self.airs(pipe)).collect::<Option<Vec<_>>>()?;
                truth(airs.iter().any(|traps| !traps.is_empty()))
            }
            F::StackLevelOffsets => {
                let level: Vec<_> = stack.iter().map(|&pipe| self.vertical(pipe) == Some(false)).collect();
                let begins = (0..level.len()).filter(|&at| level[at] && (at == 0 || !level[at - 1]));
                match stack.iter().any(|&pipe| self.vertical(pipe).is_none()) {
                    true => Got::Missing,
                    false => count(begins.count()),
                }
            }
            F::StackCleanoutDistance => {
                // What goes on level below the foot is left out, unless all of it is level.
                let standing = stack.iter().rposition(|&pipe| self.vertical(pipe) != Some(false));
                let foot = self.to(standing.map_or(foot, |last| stack[last]));
                let mut places = nodes;
                places.truncate(standing.map_or(places.len(), |last| last + 1));
                places.push(foot);
                let ways = places.into_iter().flat_map(|node| {
                    let way = self.way(node, foot);
                    let own = self.is_cleanout(node).then(|| way.clone());
                    let stubs = self.inlets(node).into_iter().filter(|&stub| {
                        self.kind(stub) != RunKind::Stack
                            && self.is_cleanout(self.from(stub))
                            && self.inlets(self.from(stub)).is_empty()
                    });
                    let stubs = stubs.map(|stub| [vec![stub], way.clone()].concat()).collect::<Vec<_>>();
                    stubs.into_iter().chain(own)
                });
                self.shortest(&ways.collect::<Vec<_>>())
            }
            F::StackPlainTeeEntries => {
                let entries: Vec<_> = nodes
                    .into_iter()
                    .filter(|&node| self.is_fitting(node))
                    .flat_map(|node| self.inlets(node).to_vec())
                    .filter(|&inlet| self.kind(inlet) != RunKind::Stack)
                    .map(|inlet| self.pattern(self.to(inlet)))
                    .collect();
                if entries.contains(&None) {
                    Got::Missing
                } else {
                    count(entries.iter().filter(|&&one| one == Some(FittingPattern::Tee)).count())
                }
            }
            F::StackUnrelieved => {
                let number = |joint: &NodeId| intervals.iter().position(|interval| interval.contains(joint));
                let groups = self.between_reliefs(stack).into_iter();
                let rows = groups.map(|(_, joints)| joints.iter().filter_map(number).collect::<BTreeSet<_>>().len());
                count(rows.max().unwrap_or(0))
            }
            F::StackStoreysUnrelieved => self.storeys_in_a_row(stack),
            F::StackReliefSize => {
                let reliefs = nodes.into_iter().flat_map(|node| self.reliefs(stack, node));
                let reliefs: Vec<_> = reliefs.filter(|&vent| self.kind(vent) != RunKind::VentStack).collect();
                self.extreme(&reliefs, false)
            }
            F::StackReliefJoint => {
                let vents = nodes.into_iter().flat_map(|node| self.vents_from(node));
                let branch_vents = vents.filter(|&vent| self.kind(vent) == RunKind::BranchVent);
                let joints = branch_vents.filter_map(|vent| Some(self.meets_vent_stack(vent)?.0));
                least(joints.map(|joint| self.height_above_floor(joint)))
            }
            F::StackVentStackRise | F::StackVentStackSize => match self.vent_stacks(stack, true)[..] {
                [] => Got::Absent,
                [vent] if fact == F::StackVentStackSize => self.size_of(vent),
                [vent] if nodes.contains(&self.from(vent)) => self.length(&self.way(self.from(vent), self.to(foot))),
                [_] => self.length(&[]),
                // Which of several is meant is not said.
                _ => return None,
            },
            F::StackSuds => self.suds(foot),
            F::StackOffsets => {
                let joints = self.joints(stack);
                let (Some(&first), Some(&last)) = (joints.first(), joints.last()) else {
                    return Some(count(0));
                };
                let between = self.way(first, last);
                let slopes: Option<Vec<_>> = between.iter().map(|&pipe| self.pipe(pipe).slope).collect();
                match slopes {
                    Some(slopes) => count(slopes.iter().filter(|slope| !slope.is_vertical()).count()),
                    None => Got::Missing,
                }
            }
            F::StackIntervalLoad => {
                let loads = intervals.iter().map(|interval| self.load_within(stack, interval));
                most(loads.chain([Got::Known(Value::Load(Load::default()))]))
            }
            F::StackVentSize => match self.stack_vent(stack) {
                None => Got::Absent,
                Some(vent) => self.extreme(&self.vents_on(vent), false),
            },
            F::StackVentTurn => match self.stack_vent(stack) {
                None => Got::Absent,
                Some(vent) => self.turn_above_rim(vent),
            },
            F::StackVentEnd => match self.stack_vent(stack) {
                None => Got::Absent,
                Some(vent) => return self.vent_fact(vent, Fact::VentEnds),
            },
            F::StackProbableFlow => self.probable_flow(foot),
            F::StackTerminalFlow => self.terminal_flow(foot),
            F::StackTerminalFraction => self.terminal_fraction(foot),
            _ => return None,
        })
    }

    /// Height above the floor of its storey.
    pub(crate) fn height_above_floor(&self, node: NodeId) -> Got {
        let own = self.node(node);
        let floor = own
            .storey
            .and_then(|storey| self.network.storeys()[storey as usize].elevation);
        let height = own
            .elevation
            .zip(floor)
            .and_then(|(height, floor)| height.checked_sub(floor));
        crate::known(height, Value::Length)
    }

    /// Where a vent meets a vent stack, and that vent stack's pipe there; no other main vent lies between.
    pub(crate) fn meets_vent_stack(&self, vent: PipeId) -> Option<(NodeId, PipeId)> {
        let mut at = vent;
        loop {
            let next = *self.vents_from(self.to(at)).first()?;
            match self.kind(next) {
                RunKind::VentStack => return Some((self.to(at), next)),
                RunKind::BranchVent => at = next,
                _ => return None,
            }
        }
    }

    /// What is told of a horizontal piece of a stack.
    pub(crate) fn offset_fact(&self, pipe: PipeId, fact: Fact) -> Option<Got> {
        use Fact as F;
        let is_level = |pipe: PipeId| self.vertical(pipe) == Some(false);
        if self.kind(pipe) == RunKind::Stack && self.vertical(pipe).is_none() {
            return Some(Got::Missing);
        }
        if self.kind(pipe) != RunKind::Stack || !is_level(pipe) {
            return Some(Got::Absent);
        }
        let stack = self.stack_of(pipe);
        let at = stack.iter().position(|&one| one == pipe)?;
        let asks_length = matches!(fact, F::DrainOffsetLength | F::DrainOffsetInlets);
        if !asks_length && stack[at..].iter().all(|&one| is_level(one)) {
            return Some(Got::Absent);
        }
        let nodes = self.nodes_of(&stack);
        // Up to the lowest joint above, that among them; down to the next joint below, likewise.
        let mut above = Vec::new();
        for &node in nodes[..=at].iter().rev() {
            above.extend(self.reliefs(&stack, node));
            if self.is_joint(&stack, node) {
                break;
            }
        }
        let mut below = Vec::new();
        for &node in &nodes[at + 1..] {
            below.extend(self.reliefs(&stack, node));
            if self.is_joint(&stack, node) {
                break;
            }
        }
        Some(match fact {
            F::DrainOffsetIntervals => {
                let joint = nodes[..=at].iter().rev().find(|&&node| self.is_joint(&stack, node));
                match joint.map(|&joint| self.intervals_above(&stack, joint)) {
                    None => count(0),
                    Some(Got::Known(Value::Count(above))) => Got::Known(Value::Count(above + 1)),
                    Some(other) => other,
                }
            }
            F::DrainOffsetAbove => truth(!above.is_empty()),
            F::DrainOffsetBelow => truth(!below.is_empty()),
            F::DrainOffsetReliefSize => {
                let sides = [self.extreme(&above, true), self.extreme(&below, true)];
                least(sides.into_iter().filter(|size| *size != Got::Absent))
            }
            F::DrainOffsetLength | F::DrainOffsetInlets => {
                let first = (0..=at)
                    .rev()
                    .take_while(|&one| is_level(stack[one]))
                    .last()
                    .unwrap_or(at);
                let piece: Vec<_> = stack[first..]
                    .iter()
                    .copied()
                    .take_while(|&one| is_level(one))
                    .collect();
                if fact == F::DrainOffsetLength {
                    let mut beside = vec![stack.get(first + piece.len())];
                    beside.push(first.checked_sub(1).and_then(|before| stack.get(before)));
                    let is_open = |pipe: &PipeId| self.vertical(*pipe).is_none();
                    let goes_on = beside.into_iter().flatten().any(is_open);
                    return Some(if goes_on { Got::Missing } else { self.length(&piece) });
                }
                let between = piece.iter().skip(1).map(|&one| self.inlets(self.from(one)).len() - 1);
                count(between.sum())
            }
            _ => return None,
        })
    }
}
