//! Where drains turn their water sharply into horizontal ones, and how near to that others join them.
//!
//! Beyond such a turn, and before it, suds stand in the pipe. It follows no pipe more than once in either direction.

use crownweir_rulebook::Fact;
use crownweir_vocabulary::Role;

use super::facts::{Element, Got, NO_SHARP_TURN, count, length, stated};
use super::ways;
use super::{Class, Distance, Measured, NONE, Seen, put};

/// A turn on a drain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Turn {
    distance: Distance,
    /// The drain whose water turns at its end.
    drain: u32,
    /// A fitting on the way whose pattern is not stated, so that the water may turn there already.
    gap: u32,
}

impl Turn {
    const NONE: Self = Self {
        distance: Distance::ZERO,
        drain: NONE,
        gap: NONE,
    };

    fn farther(self, by: Distance) -> Self {
        Self {
            distance: self.distance.plus(by),
            ..self
        }
    }
}

/// How a drain's water goes on where it ends.
enum End {
    /// Sharply, into a drain that is not known to be vertical.
    Turns,
    Straight,
    /// It joins another drain from the side without one.
    Joins,
    /// The fitting's pattern is not stated.
    Unknown,
}

/// The nearest turns to each node.
#[derive(Debug, Clone, Default)]
pub(crate) struct Bends {
    /// Downstream.
    pub(crate) ahead: Vec<Turn>,
    /// Upstream.
    pub(crate) behind: Vec<Turn>,
}

pub(crate) fn bends(measured: &Measured<'_>) -> Bends {
    let nodes = measured.node_bound();
    let mut bends = Bends {
        ahead: vec![Turn::NONE; nodes],
        behind: vec![Turn::NONE; nodes],
    };
    for node in measured.drain_order() {
        bends.behind[node as usize] = bends.behind_at(measured, node);
    }
    for node in measured.drain_order().rev() {
        bends.ahead[node as usize] = bends.ahead_at(measured, node);
    }
    bends
}

impl Bends {
    /// Forgets what was told of a node, or makes room for one that has come.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.ahead, node, Turn::NONE);
        put(&mut self.behind, node, Turn::NONE);
    }

    /// The nearest turn upstream of a node, where that of the nodes above it is known.
    pub(crate) fn behind_at(&self, measured: &Measured<'_>, node: u32) -> Turn {
        let Some(pipe) = measured.main_inlet(node).and_then(|main| measured.pipe(main)) else {
            return Turn::NONE;
        };
        let further = || self.behind.get(pipe.from as usize).copied().unwrap_or(Turn::NONE);
        let turned = match measured.turned_into(pipe.from) {
            Ok(None) => further(),
            Ok(Some(drain)) => Turn {
                distance: Distance::ZERO,
                drain,
                gap: NONE,
            },
            Err(gap) => Turn { gap, ..further() },
        };
        turned.farther(pipe.length)
    }

    /// The nearest turn downstream of a node, where that of the node below it is known.
    pub(crate) fn ahead_at(&self, measured: &Measured<'_>, node: u32) -> Turn {
        let Some((drain, pipe)) = measured
            .next(node)
            .and_then(|next| Some((next, measured.pipe(next)?)))
        else {
            return Turn::NONE;
        };
        let further = || self.ahead.get(pipe.to as usize).copied().unwrap_or(Turn::NONE);
        let turn = match measured.ends(drain) {
            End::Joins => return Turn::NONE,
            End::Turns => Turn {
                distance: Distance::ZERO,
                drain,
                gap: NONE,
            },
            End::Unknown => Turn {
                gap: pipe.to,
                ..further()
            },
            End::Straight => further(),
        };
        turn.farther(pipe.length)
    }
}

impl Measured<'_> {
    /// Whether any fixture's water runs in a drain.
    fn carries(&self, drain: u32) -> bool {
        self.flow(drain).is_some_and(|flow| flow.fixtures > 0)
    }

    /// The drain that goes straight on through a node; where none does, the one that brings most fixtures' water.
    fn main_inlet(&self, node: u32) -> Option<u32> {
        let key = |&inlet: &u32| {
            let straight = self
                .pipe(inlet)
                .is_some_and(|inlet| !self.enters_by_branch(inlet));
            let flow = self.flow(inlet).map(|flow| (flow.fixtures, flow.own_load));
            (straight, flow, std::cmp::Reverse(inlet))
        };
        let inlets = self.inlets(node, Role::Drain);
        inlets.filter(|&inlet| self.carries(inlet)).max_by_key(key)
    }

    /// The drain whose water turns sharply into the one that leaves a node: that which goes straight on through the node, or
    /// one that brings water of clothes washers from the side. The node, where its pattern is not stated.
    fn turned_into(&self, node: u32) -> Result<Option<u32>, u32> {
        let main = self.main_inlet(node);
        let washers = |inlet| self.details(inlet).washers;
        let turning = self.inlets(node, Role::Drain).filter(|&inlet| {
            self.carries(inlet)
                && (Some(inlet) == main || washers(inlet) > 0)
                && matches!(self.ends(inlet), End::Turns)
        });
        let key = |&inlet: &u32| (washers(inlet), Some(inlet) == main, std::cmp::Reverse(inlet));
        match (turning.max_by_key(key), main.map(|main| self.ends(main))) {
            (None, Some(End::Unknown)) => Err(node),
            (turning, _) => Ok(turning),
        }
    }

    /// How a drain's water goes on where the drain ends.
    fn ends(&self, drain: u32) -> End {
        let Some(pipe) = self.pipe(drain) else {
            return End::Straight;
        };
        let joins = self.main_inlet(pipe.to).is_some_and(|main| main != drain);
        let onward = self.next(pipe.to).and_then(|next| self.pipe(next));
        let alone = self.inlets(pipe.to, Role::Drain).nth(1).is_none();
        // Where water goes down plumb, suds fall away from the turn.
        let onward = onward.filter(|onward| onward.vertical != Some(true));
        match (ways::bends(self, drain), onward) {
            (Some(true), Some(_)) => End::Turns,
            (None, Some(onward)) if onward.vertical != pipe.vertical => End::Turns,
            _ if joins => End::Joins,
            (None, Some(_)) if alone && self.is(pipe.to, Class::Fitting) => End::Unknown,
            _ => End::Straight,
        }
    }

    /// Where a drain joins another from the side, the nearest sharp turn of that on either side of the joint.
    pub(super) fn bend_fact(&self, drain: u32, fact: Fact) -> Got {
        let Some(pipe) = self.pipe(drain) else {
            return Got::Absent;
        };
        let joins = self.enters_by_branch(pipe) && self.main_inlet(pipe.to) != Some(drain);
        if !joins || !self.carries(drain) {
            return Got::Absent;
        }
        if self.rules.definitions.sharp_turn.is_none() {
            return Got::Missing(NO_SHARP_TURN);
        }
        let (turns, figure) = match fact {
            Fact::DrainBendAhead | Fact::DrainBendAheadWashers => (&self.all_bends().ahead, Seen::BendAhead),
            _ => (&self.all_bends().behind, Seen::BendBehind),
        };
        self.see(figure, pipe.to);
        let Some(turn) = turns.get(pipe.to as usize).filter(|turn| turn.drain != NONE) else {
            return Got::Absent;
        };
        match fact {
            Fact::DrainBendAheadWashers | Fact::DrainBendBehindWashers => {
                count(self.details(turn.drain).washers)
            }
            _ if turn.gap != NONE => stated(None, "pattern", Element::Node(turn.gap)),
            _ => length(turn.distance, "length"),
        }
    }
}
