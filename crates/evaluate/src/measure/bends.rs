//! Where drains turn their water sharply, and how near to that others join them.
//!
//! Beyond such a turn, and before it, suds stand in the pipe. It follows no pipe more than once in either direction.

use crownweir_rulebook::Fact;
use crownweir_vocabulary::{Inlet, Role};

use super::facts::{Element, Got, count, length, stated};
use super::ways;
use super::{Class, Distance, Measured, NONE, Seen};

/// A turn on a drain.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Turn {
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

impl Bends {
    /// Tells at which nodes they differ.
    pub(crate) fn where_differ(&self, other: &Self, mut each: impl FnMut(u32)) {
        let both = self.ahead.iter().zip(&self.behind);
        let others = other.ahead.iter().zip(&other.behind);
        let differing = (0..)
            .zip(both.zip(others))
            .filter(|(_, (one, other))| one != other);
        differing.for_each(|(node, _)| each(node));
    }
}

/// How a drain's water goes on where it ends.
enum End {
    Turns,
    Straight,
    /// It joins another drain from the side.
    Joins,
    /// The fitting's pattern is not stated.
    Unknown,
}

/// The nearest turns to each node.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Bends {
    /// Downstream.
    ahead: Vec<Turn>,
    /// Upstream.
    behind: Vec<Turn>,
}

pub(crate) fn bends(measured: &Measured<'_>) -> Bends {
    let nodes = measured.network.graph().node_count();
    let mut bends = Bends {
        ahead: vec![Turn::NONE; nodes],
        behind: vec![Turn::NONE; nodes],
    };
    for node in measured.drain_order() {
        let Some((main, pipe)) = measured
            .main_inlet(node)
            .and_then(|main| Some((main, measured.pipe(main)?)))
        else {
            continue;
        };
        let before = measured.main_inlet(pipe.from);
        let further = bends.behind[pipe.from as usize];
        let turned = match before.map(|before| measured.ends(before)) {
            Some(End::Turns | End::Joins) => Turn {
                distance: Distance::ZERO,
                drain: before.unwrap_or(main),
                gap: NONE,
            },
            Some(End::Unknown) => Turn {
                gap: pipe.from,
                ..further
            },
            _ => further,
        };
        bends.behind[node as usize] = turned.farther(pipe.length);
    }
    for node in measured.drain_order().rev() {
        let Some((drain, pipe)) = measured
            .next(node)
            .and_then(|next| Some((next, measured.pipe(next)?)))
        else {
            continue;
        };
        let further = bends.ahead[pipe.to as usize];
        let turn = match measured.ends(drain) {
            End::Joins => continue,
            End::Turns => Turn {
                distance: Distance::ZERO,
                drain,
                gap: NONE,
            },
            End::Unknown => Turn {
                gap: pipe.to,
                ..further
            },
            End::Straight => further,
        };
        bends.ahead[node as usize] = turn.farther(pipe.length);
    }
    bends
}

impl Measured<'_> {
    fn carries(&self, drain: u32) -> bool {
        self.flow(drain).is_some_and(|flow| flow.fixtures > 0)
    }

    /// The drain that goes straight on through a node; where none does, the one that brings most fixtures' water.
    fn main_inlet(&self, node: u32) -> Option<u32> {
        let key = |&inlet: &u32| {
            let straight = self.pipe(inlet).is_some_and(|inlet| inlet.enters == Inlet::Run);
            let flow = self.flow(inlet).map(|flow| (flow.fixtures, flow.own_load));
            (straight, flow, std::cmp::Reverse(inlet))
        };
        let inlets = self.inlets(node, Role::Drain);
        inlets.filter(|&inlet| self.carries(inlet)).max_by_key(key)
    }

    fn ends(&self, drain: u32) -> End {
        let Some(pipe) = self.pipe(drain) else {
            return End::Straight;
        };
        if self.main_inlet(pipe.to).is_some_and(|main| main != drain) {
            return End::Joins;
        }
        let Some(onward) = self.next(pipe.to).and_then(|next| self.pipe(next)) else {
            return End::Straight;
        };
        let alone = self.inlets(pipe.to, Role::Drain).nth(1).is_none();
        match ways::bends(self, drain) {
            Some(true) => End::Turns,
            Some(false) => End::Straight,
            None if onward.vertical != pipe.vertical => End::Turns,
            None if alone && self.is(pipe.to, Class::Fitting) => End::Unknown,
            None => End::Straight,
        }
    }

    /// Where a drain joins another from the side, the nearest sharp turn of that on either side of the joint.
    pub(super) fn bend_fact(&self, drain: u32, fact: Fact) -> Got {
        let Some(pipe) = self.pipe(drain) else {
            return Got::Absent;
        };
        let joins = pipe.enters == Inlet::Branch && matches!(self.ends(drain), End::Joins);
        if !joins || !self.carries(drain) {
            return Got::Absent;
        }
        let turns = match fact {
            Fact::DrainBendAhead | Fact::DrainBendAheadWashers => &self.all_bends().ahead,
            _ => &self.all_bends().behind,
        };
        self.see(Seen::Bends, pipe.to);
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
