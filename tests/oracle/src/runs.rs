//! How drains run: branches as a whole, lengths of unbroken pipe, turns, and how far it is to where one can be opened.

use crownweir_network::{NodeId, PipeId};
use crownweir_quantity::{Angle, Length, Load};
use crownweir_rulebook::{Fact, Value};
use crownweir_vocabulary::{FixtureType, Inlet, RunKind};

use crate::{Got, Oracle, count, least, most, plus, truth};

/// Tenths of a degree; nothing where a pattern or slope is missing.
type Tenths = Option<i64>;

/// The least and the most of them; no most where a pattern is missing.
type Between = (i64, Tenths);

fn larger(one: Between, other: Between) -> Between {
    (
        one.0.max(other.0),
        one.1.zip(other.1).map(|(one, other)| one.max(other)),
    )
}

/// Whether one of these is so; nothing where none is known to be and one is not known.
fn any(parts: impl Iterator<Item = Option<bool>>) -> Option<bool> {
    let parts: Vec<_> = parts.collect();
    if parts.contains(&Some(true)) {
        return Some(true);
    }
    (!parts.contains(&None)).then_some(false)
}

fn angle(tenths: Tenths) -> Got {
    crate::known(tenths, |tenths| {
        Value::Angle(Angle::from_microdegrees(tenths * 100_000))
    })
}

/// How a drain's water goes on at its lower end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Turns,
    Straight,
    Joins,
    Unknown,
}

impl Oracle<'_> {
    /// The branch from a node to the stack or building drain.
    pub(crate) fn branch_from(&self, node: NodeId) -> Vec<PipeId> {
        let way = self.downstream(node).into_iter();
        way.take_while(|&pipe| self.kind(pipe) == RunKind::Branch).collect()
    }

    /// Whether a vent leaves the branch that ends with this, on the way or on a drain that joins it, before its end.
    fn branch_vented(&self, branch: &[PipeId]) -> Got {
        let Some(&last) = branch.last() else {
            return Got::Absent;
        };
        let mut open = vec![self.from(last)];
        while let Some(node) = open.pop() {
            if !self.vents_from(node).is_empty() {
                return truth(true);
            }
            let branches = self.inlets(node).into_iter();
            open.extend(
                branches
                    .filter(|&inlet| self.kind(inlet) == RunKind::Branch)
                    .map(|inlet| self.from(inlet)),
            );
        }
        truth(false)
    }

    pub(crate) fn branch_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        let branch = self.branch_from(node);
        if branch.is_empty() {
            return Some(Got::Absent);
        }
        Some(match fact {
            Fact::TrapBranchLength => self.length(&branch),
            Fact::TrapBranchDrop => self.drop(&branch),
            Fact::TrapBranchTurn => {
                let nodes = branch.iter().skip(2).map(|&pipe| self.from(pipe));
                angle(
                    nodes
                        .filter(|&node| self.is_fitting(node))
                        .map(|node| {
                            let pattern = self.pattern(node)?;
                            Some(if pattern.has_branch() {
                                0
                            } else {
                                pattern.turn_in_tenths()
                            })
                        })
                        .sum(),
                )
            }
            Fact::TrapBranchVented => self.branch_vented(&branch),
            _ => return None,
        })
    }

    pub(crate) fn drain_vented(&self, pipe: PipeId) -> Got {
        self.branch_vented(&self.branch_from(self.from(pipe)))
    }

    /// Whether a drain enters by a branch: as stated, or where its water turns from level to plumb, or from plumb to level,
    /// at a fitting that has one.
    pub(crate) fn by_branch(&self, pipe: PipeId) -> bool {
        let node = self.to(pipe);
        let ways = [Some(pipe), self.next(node)].map(|pipe| pipe.and_then(|pipe| self.vertical(pipe)));
        let turns = ways == [Some(false), Some(true)] || ways == [Some(true), Some(false)];
        (turns && self.has_branch(node)) || self.enters(pipe) == Inlet::Branch
    }

    /// By which opening a drain enters: as stated, or as its path has it, save that a lone drain at a fitting with a
    /// branch comes in as the directions in the file tell.
    pub(crate) fn enters(&self, pipe: PipeId) -> Inlet {
        let own = self.pipe(pipe);
        let node = self.to(pipe);
        let told = self.next(node).and_then(|next| {
            self.network.bearing(pipe).zip(self.network.bearing(next))?;
            let pattern = self.pattern(node).filter(|pattern| pattern.has_branch())?;
            let angle = self.turned(pipe, next).filter(|_| self.inlets(node) == [pipe])?;
            // It comes in by the branch where its angle is nearer to that of the branch than to none.
            let by_branch = angle > pattern.turn_in_tenths() as f64 / 20.0;
            Some(if by_branch { Inlet::Branch } else { Inlet::Run })
        });
        told.filter(|_| !own.enters_stated).unwrap_or(own.enters)
    }

    /// Whether a fitting has a branch; where its pattern is not stated, it has where something joins.
    fn has_branch(&self, node: NodeId) -> bool {
        let joined = self.inlets(node).len() > 1 || !self.vents_from(node).is_empty();
        self.pattern(node).map_or(joined, |pattern| pattern.has_branch())
    }

    /// Whether the water of a drain turns sharply at its lower end, by a rule set that says what that is.
    pub(crate) fn bends(&self, pipe: PipeId) -> Option<bool> {
        if !self.is_fitting(self.to(pipe)) {
            return Some(false);
        }
        let pattern = self.pattern(self.to(pipe))?;
        let straight = pattern.has_branch() && !self.by_branch(pipe);
        let sharp = self.rules.definitions.sharp_turn.as_ref()?;
        let turn = Angle::from_microdegrees(pattern.turn_in_tenths() * 100_000);
        Some(!straight && turn > sharp.more_than)
    }

    /// The horizontal change of direction of a drain's water at its lower end.
    pub(crate) fn turn(&self, pipe: PipeId) -> Tenths {
        let node = self.to(pipe);
        let next = self.next(node).filter(|_| self.is_fitting(node));
        let Some(next) = next else { return Some(0) };
        if self.vertical(pipe) == Some(true) || self.vertical(next) == Some(true) {
            return Some(0);
        }
        let tenths = if self.has_branch(node) && self.enters(pipe) == Inlet::Run {
            0
        } else {
            self.pattern(node)?.turn_in_tenths()
        };
        let level = self.vertical(pipe).zip(self.vertical(next)).is_some();
        (level || tenths == 0).then_some(tenths)
    }

    pub(crate) fn turns(&self, pipes: &[PipeId]) -> Got {
        angle(pipes.iter().map(|&pipe| self.turn(pipe)).sum())
    }

    /// Developed length up from a node to the nearest cleanout, removable trap, or upper end of horizontal drain.
    fn up_to_opening(&self, node: NodeId) -> Got {
        let removable = self.fixture(node).and_then(|fixture| fixture.trap.removable);
        if self.is_cleanout(node) || removable == Some(true) {
            return self.length(&[]);
        }
        let inlets = self.inlets(node).into_iter();
        let level: Vec<_> = inlets.filter(|&inlet| self.vertical(inlet) != Some(true)).collect();
        let far = |inlets: Vec<PipeId>| -> Vec<Got> {
            let up = inlets.into_iter().map(|inlet| match self.vertical(inlet) {
                None => Got::Missing,
                _ => plus(self.up_to_opening(self.from(inlet)), self.length(&[inlet])),
            });
            up.collect()
        };
        let straight: Vec<_> = level
            .iter()
            .copied()
            .filter(|&inlet| self.enters(inlet) == Inlet::Run)
            .collect();
        if !straight.is_empty() {
            return least(far(straight));
        }
        if level.is_empty() {
            return self.length(&[]);
        }
        most(far(level))
    }

    /// How far up a node's drains the nearest place is where they can be opened; at a removable trap only where the
    /// drain carries that fixture alone.
    fn opening_above(&self, node: NodeId, traps_too: bool) -> Got {
        if self.is_cleanout(node) || (traps_too && self.fixture(node).is_some()) {
            return self.length(&[]);
        }
        let up = self.inlets(node).into_iter();
        let up = up.map(|inlet| plus(self.opening_above(self.from(inlet), traps_too), self.length(&[inlet])));
        least(up.filter(|far| *far != Got::Absent))
    }

    pub(crate) fn turn_cleanout(&self, drain: PipeId) -> Got {
        let [by_trap, without] = self.turn_cleanouts(drain);
        if by_trap == without { by_trap } else { Got::Missing }
    }

    /// How far the nearest place is if the trap of a drain's one fixture comes apart as far as the file tells, and if it does
    /// not.
    pub(crate) fn turn_cleanouts(&self, drain: PipeId) -> [Got; 2] {
        let fixtures = self.fixtures_above(self.from(drain));
        let removable = match fixtures[..] {
            [only] => {
                let stated = self.fixture(only).and_then(|fixture| fixture.trap.removable);
                stated.or((!self.has_trap(only)).then_some(false))
            }
            _ => Some(false),
        };
        [removable != Some(false), removable == Some(true)].map(|trap| self.turn_opening(drain, trap))
    }

    /// The size of the removable trap that alone opens a drain upstream of its lower end.
    pub(crate) fn turn_cleanout_trap(&self, drain: PipeId) -> Got {
        let fixtures = self.fixtures_above(self.from(drain));
        let has_cleanout = self.turn_opening(drain, false) != Got::Absent;
        match fixtures[..] {
            [only] if !has_cleanout && self.has_trap(only) => {
                match self.fixture(only).and_then(|fixture| fixture.trap.removable) {
                    Some(true) => self.trap_fact(only, Fact::TrapSize).unwrap_or(Got::Absent),
                    Some(false) => Got::Absent,
                    None => Got::Missing,
                }
            }
            _ => Got::Absent,
        }
    }

    fn turn_opening(&self, drain: PipeId, at_trap: bool) -> Got {
        let behind = plus(self.opening_above(self.from(drain), at_trap), self.length(&[drain]));
        let beside = self.inlets(self.to(drain)).into_iter();
        let beside = beside
            .filter(|&inlet| self.is_cleanout(self.from(inlet)))
            .map(|inlet| self.length(&[inlet]));
        least(beside.chain([behind]).filter(|far| *far != Got::Absent))
    }

    /// Whether a cleanout stands at a node, enters it by a branch, or stands on vertical pipe that falls into it; nothing
    /// where that hangs on a slope which is not stated.
    fn opens(&self, node: NodeId) -> Option<bool> {
        let beside = |&inlet: &PipeId| self.enters(inlet) == Inlet::Branch && self.is_cleanout(self.from(inlet));
        if self.is_cleanout(node) || self.inlets(node).iter().any(beside) {
            return Some(true);
        }
        let falling =
            self.inlets(node)
                .into_iter()
                .map(|inlet| match (self.vertical(inlet), self.opens(self.from(inlet))) {
                    (Some(false), _) | (_, Some(false)) => Some(false),
                    (Some(true), Some(true)) => Some(true),
                    _ => None,
                });
        any(falling)
    }

    /// The same, or a cleanout stands on or behind a horizontal trap arm that comes straight through.
    fn opens_or_behind(&self, node: NodeId) -> Option<bool> {
        let behind = self.inlets(node).into_iter().map(|inlet| {
            let through = self.enters(inlet) == Inlet::Run && self.in_trap_arm(inlet);
            if through && self.is_opened_above(self.from(inlet)) {
                self.vertical(inlet).map(|vertical| !vertical)
            } else {
                Some(false)
            }
        });
        any(behind.chain([self.opens(node)]))
    }

    fn is_opened_above(&self, node: NodeId) -> bool {
        let above = |inlet: PipeId| self.is_opened_above(self.from(inlet));
        self.is_cleanout(node) || self.inlets(node).into_iter().any(above)
    }

    fn is_level(&self, pipe: PipeId) -> bool {
        self.vertical(pipe) == Some(false)
    }

    /// Whether a horizontal drain goes on at a node, trap arms left out: straight through, or from the side where nothing
    /// comes straight through.
    fn goes_on(&self, node: NodeId) -> Option<bool> {
        let inlets = self.inlets(node);
        let by_run = |&&inlet: &&PipeId| self.enters(inlet) == Inlet::Run;
        let through: Vec<_> = inlets.iter().filter(by_run).copied().collect();
        let from = if through.is_empty() { inlets } else { through };
        any(from.into_iter().map(|inlet| {
            if self.in_trap_arm(inlet) {
                Some(false)
            } else {
                self.vertical(inlet).map(|vertical| !vertical)
            }
        }))
    }

    /// The horizontal drain from a pipe to where it turns vertical or joins another from the side, and whether its end is
    /// known.
    fn level_way(&self, pipe: PipeId) -> (Vec<PipeId>, bool) {
        let mut way = vec![pipe];
        let mut at = pipe;
        while let Some(next) = self.next(self.to(at)) {
            let by_run = |&inlet: &PipeId| self.enters(inlet) == Inlet::Run;
            let joins = self.enters(at) == Inlet::Branch && self.inlets(self.to(at)).iter().any(by_run);
            match self.vertical(next) {
                _ if joins => break,
                Some(true) => break,
                None => return (way, false),
                Some(false) => way.push(next),
            }
            at = next;
        }
        (way, true)
    }

    fn level_below(&self, pipe: PipeId) -> Got {
        match self.level_way(pipe) {
            (way, true) => self.length(&way),
            (_, false) => Got::Missing,
        }
    }

    /// The least and the most that the changes of direction may be from the last cleanout, or from where the horizontal
    /// drain begins, to a node.
    fn turned_since(&self, node: NodeId) -> Between {
        let opens = self.opens(node);
        if opens == Some(true) {
            return (0, Some(0));
        }
        let of = |inlets: &[PipeId]| {
            let each = inlets.iter().map(|&inlet| {
                if self.in_trap_arm(inlet) {
                    return (0, Some(0));
                }
                let (least, most) = self.turned_since(self.from(inlet));
                let at_most = self.turn_if_level(inlet);
                let turn = self.turn(inlet).unwrap_or(0);
                let least = if self.is_level(inlet) { least + turn } else { 0 };
                (least, most.zip(at_most).map(|(one, other)| one + other))
            });
            each.reduce(larger)
        };
        let inlets = self.inlets(node);
        let level = inlets.into_iter().filter(|&inlet| self.vertical(inlet) != Some(true));
        let (straight, beside): (Vec<_>, Vec<_>) = level.partition(|&inlet| self.enters(inlet) == Inlet::Run);
        let certain = straight.iter().all(|&inlet| self.is_level(inlet));
        let turned = match (of(&straight), of(&beside)) {
            // It counts if what is not known to come straight through does not.
            (Some(straight), Some((_, most))) if !certain => larger(straight, (0, most)),
            (straight, beside) => straight.or(beside).unwrap_or((0, Some(0))),
        };
        match opens {
            None => (0, turned.1),
            _ => turned,
        }
    }

    /// How far a drain's water turns at its lower end if the pipes there are horizontal, where the pattern tells.
    fn turn_if_level(&self, pipe: PipeId) -> Tenths {
        let node = self.to(pipe);
        let next = self.next(node).filter(|_| self.is_fitting(node));
        let falls = |pipe: PipeId| self.vertical(pipe) == Some(true);
        match next {
            None => Some(0),
            Some(next) if falls(pipe) || falls(next) => Some(0),
            Some(_) if self.has_branch(node) && self.enters(pipe) == Inlet::Run => Some(0),
            Some(_) => Some(self.pattern(node)?.turn_in_tenths()),
        }
    }

    /// The ends of what a fact of a drain may come to that is not known, of a drain that is known to have it.
    pub(crate) fn ends_of_run(&self, drain: PipeId, fact: Fact) -> Option<(Value, Value)> {
        let none = Length::from_nanometres(0);
        let stated = |pipes: &[PipeId]| {
            let lengths = pipes.iter().filter_map(|&pipe| self.pipe(pipe).length);
            lengths.fold(none, |sum, length| sum.checked_add(length).unwrap_or(sum))
        };
        match fact {
            Fact::DrainHorizontalTurn if self.is_level(drain) => {
                let most = self.turned_since(self.from(drain)).1?;
                let turned = |tenths: i64| Value::Angle(Angle::from_microdegrees(tenths * 100_000));
                Some((turned(0), turned(most)))
            }
            Fact::DrainHorizontalRun
                if self.is_level(drain)
                    && !self.in_trap_arm(drain)
                    && self.goes_on(self.from(drain)) == Some(false) =>
            {
                let least = stated(&self.level_way(drain).0);
                Some((Value::Length(least), Value::Length(Length::from_nanometres(i64::MAX))))
            }
            Fact::DrainVerticalLength if self.vertical(drain) == Some(true) => {
                // Unless it is known not to be, what follows on is taken to be vertical pipe of its size.
                let may_go_on = |one: PipeId, other: PipeId| match (self.vertical(one), self.vertical(other)) {
                    (Some(false), _) | (_, Some(false)) => Some(false),
                    (Some(true), Some(true)) => {
                        let sizes = self.size(one).zip(self.size(other));
                        Some(sizes.is_none_or(|(one, other)| one == other))
                    }
                    _ => Some(true),
                };
                let mut below = self.length(&[]);
                let mut at = drain;
                while let Some(next) = self.next(self.to(at)).filter(|&next| may_go_on(at, next) == Some(true)) {
                    below = plus(below, self.length(&[next]));
                    at = next;
                }
                let above = self.vertical_above(drain, &may_go_on);
                match plus(plus(above, self.length(&[drain])), below) {
                    Got::Known(most) => Some((Value::Length(none), most)),
                    _ => None,
                }
            }
            _ => None,
        }
    }

    /// The length of unbroken vertical pipe of a drain's size.
    fn vertical_length(&self, pipe: PipeId) -> Got {
        let alike = |one: PipeId, other: PipeId| -> Option<bool> {
            if self.vertical(other)? {
                Some(self.size(one)? == self.size(other)?)
            } else {
                Some(false)
            }
        };
        let mut sum = self.length(&[pipe]);
        let mut at = pipe;
        while let Some(next) = self.next(self.to(at)) {
            match alike(at, next) {
                None => return Got::Missing,
                Some(false) => break,
                Some(true) => sum = plus(sum, self.length(&[next])),
            }
            at = next;
        }
        plus(sum, self.vertical_above(pipe, &alike))
    }

    fn vertical_above(&self, pipe: PipeId, alike: &dyn Fn(PipeId, PipeId) -> Option<bool>) -> Got {
        let up = self.inlets(self.from(pipe)).into_iter();
        let up = up.filter_map(|inlet| match alike(pipe, inlet) {
            None => Some(Got::Missing),
            Some(false) => None,
            Some(true) => Some(plus(self.vertical_above(inlet, alike), self.length(&[inlet]))),
        });
        most(up.chain([self.length(&[])]))
    }

    fn is_foot_of_stack(&self, pipe: PipeId) -> bool {
        self.kind(pipe) == RunKind::Stack
            && self.vertical(pipe) == Some(true)
            && self.next(self.to(pipe)).is_some_and(|next| self.is_level(next))
    }

    /// Whether a pipe of a stack may be the last before it turns to horizontal, by the slopes that are stated.
    fn may_be_foot(&self, pipe: PipeId) -> bool {
        self.kind(pipe) == RunKind::Stack
            && self.vertical(pipe) != Some(false)
            && self
                .next(self.to(pipe))
                .is_some_and(|next| self.vertical(next) != Some(true))
    }

    /// The turns of stacks to horizontal that are upstream of a node, on the building drain or an offset. One that may be
    /// such a turn, or that a pipe of unknown slope may lead to, is not known to be near.
    fn feet_above(&self, node: NodeId) -> Vec<(Got, PipeId)> {
        let mut found = Vec::new();
        for inlet in self.inlets(node) {
            match (self.kind(inlet), self.vertical(inlet)) {
                _ if self.is_foot_of_stack(inlet) => found.push((self.length(&[]), inlet)),
                _ if self.may_be_foot(inlet) => found.push((Got::Missing, inlet)),
                (RunKind::Stack, None) => {
                    let above = self.feet_above(self.from(inlet)).into_iter();
                    found.extend(above.map(|(_, foot)| (Got::Missing, foot)));
                }
                (RunKind::BuildingDrain, _) | (RunKind::Stack, Some(false)) => {
                    let above = self.feet_above(self.from(inlet)).into_iter();
                    found.extend(above.map(|(far, foot)| (plus(far, self.length(&[inlet])), foot)));
                }
                _ => {}
            }
        }
        found
    }

    fn foot_below(&self, node: NodeId) -> Option<(Got, PipeId)> {
        let mut way = Vec::new();
        for pipe in self.downstream(node) {
            if self.kind(pipe) != RunKind::Stack || self.vertical(pipe) == Some(false) {
                return None;
            }
            way.push(pipe);
            if self.may_be_foot(pipe) {
                let falls = way.iter().all(|&pipe| self.vertical(pipe) == Some(true));
                let sure = falls && self.is_foot_of_stack(pipe);
                return Some((if sure { self.length(&way) } else { Got::Missing }, pipe));
            }
        }
        None
    }

    /// What is told of a stack where it turns; if that is not sure, what is told alike of its last pipe.
    fn at_stack_turn(&self, branch: PipeId, of: impl Fn(PipeId) -> Got) -> Got {
        let Some((_, foot)) = self.stack_turn(branch) else {
            return Got::Absent;
        };
        let further = self.downstream(self.from(foot)).into_iter();
        let last = further.take_while(|&pipe| self.kind(pipe) == RunKind::Stack).last();
        let sure = self.is_foot_of_stack(foot) || last.is_none_or(|last| of(last) == of(foot));
        if sure { of(foot) } else { Got::Missing }
    }

    /// The nearest turn of a stack to where a branch joins a stack or the building drain.
    fn stack_turn(&self, branch: PipeId) -> Option<(Got, PipeId)> {
        let joint = self.to(branch);
        let joined = self.next(joint)?;
        let main = matches!(self.kind(joined), RunKind::Stack | RunKind::BuildingDrain);
        let carries = !self.fixtures_above(self.from(branch)).is_empty();
        if !main || self.kind(branch) != RunKind::Branch || !carries {
            return None;
        }
        let feet = self.foot_below(joint).into_iter().chain(self.feet_above(joint));
        self.nearest(feet.collect())
    }

    pub(crate) fn run_fact(&self, drain: PipeId, fact: Fact) -> Option<Got> {
        use Fact as F;
        let from = self.from(drain);
        let level = self.is_level(drain);
        Some(match fact {
            F::DrainOpensAbove => crate::known(self.opens_or_behind(from), Value::Truth),
            F::DrainTurnDistance => self.stack_turn(drain).map_or(Got::Absent, |(far, _)| far),
            F::DrainTurnSuds => self.at_stack_turn(drain, |foot| self.suds(foot)),
            F::DrainTurnStoreys => {
                self.at_stack_turn(drain, |foot| self.storeys_of(&self.fixtures_above(self.from(foot))))
            }
            _ if self.vertical(drain).is_none() => Got::Missing,
            F::DrainVerticalLength if level => Got::Absent,
            F::DrainVerticalLength => self.vertical_length(drain),
            F::DrainHorizontalRun => {
                if !level || self.in_trap_arm(drain) {
                    return Some(Got::Absent);
                }
                match self.goes_on(from) {
                    Some(true) => Got::Absent,
                    Some(false) => self.level_below(drain),
                    None => Got::Missing,
                }
            }
            F::DrainHorizontalTurn if level => {
                let (least, most) = self.turned_since(from);
                angle(most.filter(|&most| most == least))
            }
            F::DrainHorizontalTurn => Got::Absent,
            _ => return None,
        })
    }

    /// Where a branch, or another stack, joins the building drain or an offset: how far below the foot of which upright pipe
    /// of a stack; and whether it is sure by the slopes that it does.
    fn base_of(&self, drain: PipeId) -> Option<(Got, PipeId, bool)> {
        let node = self.to(drain);
        let joined = self.next(node)?;
        let joins = match self.kind(joined) {
            RunKind::BuildingDrain => Some(true),
            RunKind::Stack | RunKind::Branch => self.vertical(joined).map(|vertical| !vertical),
            _ => Some(false),
        };
        let is_own = self.kind(joined) == RunKind::Stack && self.stack_of(joined).contains(&drain);
        if joins == Some(false) || is_own {
            return None;
        }
        // The foot of a stack that joins is none that it joins below.
        if !matches!(self.kind(drain), RunKind::Branch | RunKind::Stack) {
            return None;
        }
        let (far, foot) = self.foot_beside(node, Some(drain))?;
        Some((far, foot, joins.is_some()))
    }

    pub(crate) fn base_fact(&self, branch: PipeId, fact: Fact) -> Option<Got> {
        let Some((far, foot, sure)) = self.base_of(branch) else {
            return Some(Got::Absent);
        };
        if !sure {
            return Some(Got::Missing);
        }
        if fact == Fact::DrainBaseDistance {
            return Some(far);
        }
        // Each drain of the stack by which it may come down: up to the first that is known to be upright.
        let stack = self.stack_of(foot);
        let mut may_be = Vec::new();
        for &pipe in stack.iter().rev().skip_while(|&&pipe| pipe != foot) {
            may_be.push(self.of_foot(pipe, fact)?);
            if self.vertical(pipe) == Some(true) {
                let alike = may_be.iter().all(|one| *one == may_be[0]);
                return Some(if alike { may_be[0] } else { Got::Missing });
            }
        }
        Some(Got::Missing)
    }

    fn of_foot(&self, foot: PipeId, fact: Fact) -> Option<Got> {
        match fact {
            Fact::DrainBaseStackSize => Some(crate::known(self.size(foot), Value::Size)),
            Fact::DrainBaseStackLoad => self.drain_fact(foot, Fact::DrainLoad),
            // The intervals of the joints from the top down to there.
            Fact::DrainBaseStackIntervals => {
                let stack = self.stack_of(foot);
                let nodes = self.nodes_of(&stack);
                let above = nodes.into_iter().take_while(|&node| node != self.to(foot));
                let joint = above.filter(|&node| self.is_joint(&stack, node)).last();
                Some(match joint.map(|joint| self.intervals_above(&stack, joint)) {
                    None => count(0),
                    Some(Got::Known(Value::Count(above))) => count(usize::try_from(above + 1).unwrap_or(0)),
                    Some(other) => other,
                })
            }
            _ => None,
        }
    }

    pub(crate) fn cleanout_distance(&self, drain: PipeId) -> Got {
        plus(self.up_to_opening(self.from(drain)), self.length(&[drain]))
    }

    /// Between which lengths that lies, however the drains lie of which that is not known: one that may be any way may lie
    /// level or not, and one whose length is not stated is at least nothing. No most where it may be any.
    pub(crate) fn ends_of_cleanout_distance(&self, drain: PipeId) -> (i64, Option<i64>) {
        let own = self.pipe(drain).length.map(Length::nanometres);
        let with = |(least, most): (i64, Option<i64>)| {
            let most = most.zip(own).map(|(most, own)| most + own);
            (least + own.unwrap_or(0), most)
        };
        let node = self.from(drain);
        if self.is_cleanout(node)
            || self
                .fixture(node)
                .is_some_and(|fixture| fixture.trap.removable == Some(true))
        {
            return with((0, Some(0)));
        }
        let level: Vec<_> = self
            .inlets(node)
            .into_iter()
            .filter(|&inlet| self.vertical(inlet) != Some(true))
            .collect();
        let of = |inlets: &[PipeId]| -> Vec<_> {
            inlets
                .iter()
                .map(|&inlet| self.ends_of_cleanout_distance(inlet))
                .collect()
        };
        let all = of(&level);
        // None counts for more than the longest of all.
        let longest = all.iter().map(|ends| ends.1).collect::<Option<Vec<_>>>();
        let longest = longest.map(|all| all.into_iter().max().unwrap_or(0));
        if level.iter().any(|&inlet| self.vertical(inlet).is_none()) {
            return with((0, longest));
        }
        let straight: Vec<_> = level
            .iter()
            .copied()
            .filter(|&inlet| self.enters(inlet) == Inlet::Run)
            .collect();
        if straight.is_empty() {
            return with((all.iter().map(|ends| ends.0).max().unwrap_or(0), longest));
        }
        let straight = of(&straight);
        with((
            straight.iter().map(|ends| ends.0).min().unwrap_or(0),
            straight.iter().filter_map(|ends| ends.1).min(),
        ))
    }

    /// Between the end of the building drain and the nearest cleanout on it, a stack or the sewer.
    pub(crate) fn junction(&self, below_too: bool) -> Got {
        self.shortest(&self.ways_to_cleanouts(below_too))
    }

    /// What that comes to at the least.
    pub(crate) fn least_junction(&self, below_too: bool) -> Option<Length> {
        let stated = |way: &Vec<PipeId>| {
            let lengths = way.iter().filter_map(|&pipe| self.pipe(pipe).length);
            lengths.map(Length::nanometres).sum()
        };
        self.ways_to_cleanouts(below_too)
            .iter()
            .map(stated)
            .min()
            .map(Length::from_nanometres)
    }

    fn ways_to_cleanouts(&self, below_too: bool) -> Vec<Vec<PipeId>> {
        let main = |pipe: &PipeId| self.kind(*pipe) == RunKind::BuildingDrain;
        // The last node on the way to the point of disposal that the building drain comes to.
        let first = self.network.graph().edge_indices().find(main);
        let way = first.map(|first| self.downstream(self.from(first))).unwrap_or_default();
        let ends = way.into_iter().filter(main).last().map(|last| self.to(last));
        let Some(end) = ends else { return Vec::new() };
        let mut found: Vec<Vec<PipeId>> = Vec::new();
        let mut open = vec![(end, Vec::new())];
        while let Some((node, way)) = open.pop() {
            if self.is_cleanout(node) {
                found.push(way);
                continue;
            }
            for inlet in self.inlets(node) {
                let is_main = !matches!(self.kind(inlet), RunKind::Branch);
                let stub = self.is_cleanout(self.from(inlet)) && self.inlets(self.from(inlet)).is_empty();
                if is_main || stub {
                    open.push((self.from(inlet), [way.clone(), vec![inlet]].concat()));
                }
            }
        }
        let down = self.downstream(end);
        let first = down.iter().position(|&pipe| self.is_cleanout(self.to(pipe)));
        found.extend(first.filter(|_| below_too).map(|at| down[..=at].to_vec()));
        found
    }

    fn carries(&self, drain: PipeId) -> bool {
        !self.fixtures_above(self.from(drain)).is_empty()
    }

    /// The drain that goes straight on through a node; where none does, the one that brings most fixtures' water.
    fn main_inlet(&self, node: NodeId) -> Option<PipeId> {
        let key = |&inlet: &PipeId| {
            let above = self.fixtures_above(self.from(inlet));
            let mut load = Load::default();
            for &one in above.iter() {
                if let Got::Known(Value::Load(own)) = self.fixture_load(one) {
                    load = load.checked_add(own).unwrap_or(load);
                }
            }
            let straight = !self.by_branch(inlet);
            (straight, above.len(), load, std::cmp::Reverse(inlet))
        };
        let inlets = self.inlets(node).into_iter();
        inlets.filter(|&inlet| self.carries(inlet)).max_by_key(key)
    }

    fn ends(&self, drain: PipeId) -> End {
        let node = self.to(drain);
        let joins = self.main_inlet(node).is_some_and(|main| main != drain);
        let Some(next) = self.next(node) else {
            return if joins { End::Joins } else { End::Straight };
        };
        // Water that goes on plumb takes its suds along.
        if self.vertical(next) == Some(true) {
            return if joins { End::Joins } else { End::Straight };
        }
        let is_sharp = self.bends(drain);
        if is_sharp.unwrap_or(self.vertical(drain) != self.vertical(next)) {
            return End::Turns;
        }
        match is_sharp {
            _ if joins => End::Joins,
            None if self.inlets(node).len() == 1 => End::Unknown,
            _ => End::Straight,
        }
    }

    fn washers(&self, drain: PipeId) -> usize {
        let above = self.fixtures_above(self.from(drain));
        let washers = above.iter().filter(|&&one| self.is(one, FixtureType::ClothesWasher));
        washers.count()
    }

    /// The nearest turn of the drain that another joins at a node: how far it is, and by which drain it is reached. Water of
    /// washers that comes to that drain from the side turns there, too.
    fn bend_from(&self, node: NodeId, ahead: bool) -> Option<(Got, PipeId)> {
        let (mut far, mut at) = (self.length(&[]), node);
        loop {
            let pipe = if ahead { self.next(at)? } else { self.main_inlet(at)? };
            far = plus(far, self.length(&[pipe]));
            let onto = if ahead { self.to(pipe) } else { self.from(pipe) };
            let mut turning = vec![pipe];
            if !ahead {
                let main = self.main_inlet(onto)?;
                turning = vec![main];
                let aside = self.inlets(onto).into_iter();
                turning.extend(aside.filter(|&aside| aside != main && self.washers(aside) > 0));
                // Of several the one with the most washers, the drain itself before others.
                turning.sort_by_key(|&one| (std::cmp::Reverse(self.washers(one)), one != main, one));
            }
            if let Some(&turns) = turning.iter().find(|&&one| self.ends(one) == End::Turns) {
                return Some((far, turns));
            }
            let own = if ahead { pipe } else { self.main_inlet(onto)? };
            match self.ends(own) {
                End::Joins if ahead => return None,
                End::Unknown => far = Got::Missing,
                _ => {}
            }
            at = onto;
        }
    }

    pub(crate) fn bend_fact(&self, drain: PipeId, fact: Fact) -> Option<Got> {
        let joins = self.by_branch(drain) && self.main_inlet(self.to(drain)) != Some(drain);
        let ahead = matches!(fact, Fact::DrainBendAhead | Fact::DrainBendAheadWashers);
        let found = (joins && self.carries(drain))
            .then(|| self.bend_from(self.to(drain), ahead))
            .flatten();
        if joins && self.carries(drain) && self.rules.definitions.sharp_turn.is_none() {
            return Some(Got::Missing);
        }
        let Some((far, turning)) = found else {
            return Some(Got::Absent);
        };
        Some(match fact {
            Fact::DrainBendAhead | Fact::DrainBendBehind => far,
            _ => count(self.washers(turning)),
        })
    }
}
