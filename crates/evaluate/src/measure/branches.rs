//! Branches as a whole: from each trap to the stack or building drain that its water reaches, and whether air does.
//!
//! One pass up and one down, made when a rule first asks.

use std::collections::HashMap;

use crownweir_rulebook::Fact;
use crownweir_vocabulary::{FixtureType, Role, RunKind};

use super::facts::{Element, Got, angle, length, stated, truth};
use super::follow::differs;
use super::{Class, Distance, FixtureFacts, Measured, NONE, Seen, put};

/// What lies between a node and the end of its branch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Below {
    length: Distance,
    /// How far its vertical pipes come down.
    drop: Distance,
    /// Sum of the angles turned by bends, in tenths of a degree, the node itself included.
    turn: i64,
    /// A fitting whose pattern is not stated.
    gap: u32,
    /// The branch's last pipe.
    end: u32,
    /// The last of the pipes that lead level from the node before a stack joins, by what is stated, and if those of unknown
    /// slope lie level too; none where the first does not.
    level: [u32; 2],
}

impl Below {
    const ZERO: Self = Self {
        length: Distance::ZERO,
        drop: Distance::ZERO,
        turn: 0,
        gap: NONE,
        end: NONE,
        level: [NONE; 2],
    };
}

/// What holds of branches, by node.
#[derive(Debug, Clone)]
pub(crate) struct Branches {
    pub(crate) below: Vec<Below>,
    /// Whether a vent leaves the node or one upstream.
    vented: Vec<bool>,
}

/// For each fixture, how many of its type and storey share the branch by which it reaches a stack or building drain.
pub(crate) fn alike(measured: &Measured<'_>) -> Vec<u32> {
    let mut count: HashMap<Kin, u32> = HashMap::new();
    for fixture in measured.all_fixtures() {
        *count.entry(kin(measured, fixture)).or_default() += 1;
    }
    let of = |fixture| count.get(&kin(measured, fixture)).copied().unwrap_or(0);
    measured.state.fixtures.iter().map(of).collect()
}

/// The end of a fixture's branch, its storey and its type: by these fixtures are alike.
pub(crate) type Kin = (u32, u32, FixtureType);

pub(crate) fn kin(measured: &Measured<'_>, fixture: &FixtureFacts) -> Kin {
    measured.see(Seen::FixtureKind, fixture.node);
    let end = measured.below(fixture.node).end;
    (end, fixture.storey, fixture.fixture_type)
}

fn branches(measured: &Measured<'_>) -> Branches {
    let nodes = measured.node_bound();
    let mut branches = Branches {
        below: vec![Below::ZERO; nodes],
        vented: vec![false; nodes],
    };
    for node in measured.drain_order() {
        branches.vented[node as usize] |= measured.vent_of(node).is_some();
        if let Some(pipe) = measured.branch_from(node).and_then(|pipe| measured.pipe(pipe)) {
            let vented = branches.vented[node as usize];
            branches.vented[pipe.to as usize] |= vented;
        }
    }
    for node in measured.drain_order().rev() {
        branches.below[node as usize] = branches.below_at(measured, node);
    }
    branches
}

impl Branches {
    /// Forgets what was told of a node, or makes room for one that has come. Whether it is vented is told again by what
    /// is above it, and those below it have to learn of it.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.below, node, Below::ZERO);
        self.vented.resize(self.below.len(), false);
    }

    /// Tells again whether a vent leaves a node of a branch or one upstream, where it is told of those above it, and says
    /// whether that differs.
    pub(crate) fn vent_again(&mut self, measured: &Measured<'_>, node: u32) -> bool {
        let above = measured.state.inlets(node, Role::Drain).iter();
        let mut above = above.filter_map(|&inlet| measured.state.pipes.get(inlet as usize));
        let vented = !measured.state.vents_from(node).is_empty()
            || above.any(|pipe| {
                pipe.kind == RunKind::Branch && self.vented.get(pipe.from as usize) == Some(&true)
            });
        differs(self.vented.get_mut(node as usize), vented)
    }

    /// What lies between a node and the end of its branch, where it is told of what the node leads to.
    pub(crate) fn below_at(&self, measured: &Measured<'_>, node: u32) -> Below {
        let Some((number, pipe)) = measured
            .branch_from(node)
            .and_then(|number| Some((number, measured.pipe(number)?)))
        else {
            return Below::ZERO;
        };
        let mut own = self.below[pipe.to as usize];
        own.length = pipe.length.plus(own.length);
        own.drop = match pipe.vertical {
            Some(true) => pipe.fall.plus(own.drop),
            Some(false) => own.drop,
            None => Distance::of(None, number),
        };
        match measured.pattern_at(node) {
            Some(pattern) if !pattern.has_branch() => own.turn += pattern.turn_in_tenths(),
            None if measured.is(node, Class::Fitting) => own.gap = node,
            _ => {}
        }
        if own.end == NONE {
            own.end = number;
        }
        let may_lie = [pipe.vertical == Some(false), pipe.vertical != Some(true)];
        for (last, lies) in own.level.iter_mut().zip(may_lie) {
            if !lies {
                *last = NONE;
            } else if *last == NONE || measured.takes_stack(pipe.to) {
                *last = number;
            }
        }
        own
    }
}

impl Measured<'_> {
    /// The drain that leads away from a node, where it is a branch.
    fn branch_from(&self, node: u32) -> Option<u32> {
        let pipe = self.next(node)?;
        (self.pipe(pipe)?.kind == RunKind::Branch).then_some(pipe)
    }

    pub(crate) fn branches(&self) -> &Branches {
        self.state.branches.get_or_init(|| branches(self))
    }

    fn below(&self, node: u32) -> Below {
        self.see(Seen::Branch, node);
        let below = self.branches().below.get(node as usize).copied();
        below.unwrap_or(Below::ZERO)
    }

    /// The last pipe of the branch whose first leads away from a node.
    pub(super) fn branch_end(&self, node: u32) -> Option<u32> {
        Some(self.below(node).end).filter(|&end| end != NONE)
    }

    /// Whether a stack joins a node.
    fn takes_stack(&self, node: u32) -> bool {
        self.inlets(node, Role::Drain)
            .filter_map(|inlet| self.pipe(inlet))
            .any(|pipe| pipe.kind == RunKind::Stack)
    }

    /// Whether all fixtures are on one storey whose water a branch takes by where it first drops below a node, a stack joins
    /// it, or it ends.
    pub(super) fn same_storey_by_drop(&self, node: u32) -> Got {
        let level = self.below(node).level;
        let [least, most] = level.map(|last| {
            let Some(totals) = self.totals_at(self.pipe(last).map_or(node, |last| last.from)) else {
                return Got::Absent;
            };
            match totals.storey_gap {
                gap if gap != NONE && totals.fixtures > 1 => stated(None, "storey", Element::Node(gap)),
                _ => truth(totals.fixtures < 2 || totals.storeys.0 == totals.storeys.1),
            }
        });
        if least == most || least == truth(false) {
            return least;
        }
        // The further end takes the fixtures of another storey, if what lies between lies level.
        let last = self.pipe(level[0]).map_or(node, |last| last.to);
        self.next(last).map_or(least, |open| self.lies(open))
    }

    /// Whether a vent leaves the branch that a drain belongs to, anywhere.
    pub(super) fn drain_vented(&self, pipe: u32) -> Got {
        let Some(from) = self.pipe(pipe).map(|pipe| pipe.from) else {
            return Got::Absent;
        };
        let Some(end) = self.pipe(self.below(from).end) else {
            return Got::Absent;
        };
        self.see(Seen::Branch, end.from);
        let vented = self.branches().vented.get(end.from as usize).copied();
        truth(vented.unwrap_or(false))
    }

    pub(super) fn branch_fact(&self, trap: u32, fact: Fact) -> Got {
        let Some(first) = self.branch_from(trap) else {
            return Got::Absent;
        };
        match fact {
            Fact::TrapBranchLength => length(self.below(trap).length, "length"),
            Fact::TrapBranchDrop => self.by_fall(self.below(trap).drop),
            Fact::TrapBranchTurn => {
                // The fixture's own bend belongs to its connection.
                let after = self.pipe(first).map_or(trap, |first| first.to);
                let second = self.branch_from(after).and_then(|second| self.pipe(second));
                let below = second.map_or(Below::ZERO, |second| self.below(second.to));
                angle(match below.gap {
                    NONE => Ok(below.turn),
                    fitting => Err(fitting),
                })
            }
            Fact::TrapBranchVented => self.drain_vented(first),
            _ => Got::Absent,
        }
    }
}
