//! Dry vents that turn down again, drain back at a foot, and go on from there to the open air.
//!
//! It finds them by the foot, where a vent arrives and a drain begins, and judges nothing.

use std::collections::BTreeMap;

use crownweir_quantity::Length;
use crownweir_vocabulary::{Role, RunKind};

use super::{Class, Measured, NONE};

#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Loops {
    /// For each node, the foot that the vent which leaves it comes down to.
    foot: Vec<u32>,
    /// For each node, where the vent which leaves it first turns from plumb.
    turn: Vec<u32>,
    /// For each node of a loop, the cleanouts further along its vent, up to the foot, or to where it joins another or ends.
    cleanouts: Vec<u32>,
    /// For each node, the highest that the vent reaches which leaves it, to where it joins another; and a node whose
    /// height is not known.
    top: Vec<(i64, u32)>,
    /// For each node, whether the vent that leaves it comes from a foot and has met no other since.
    past_foot: Vec<bool>,
    /// For each foot, how its drain leads back.
    returns: BTreeMap<u32, Return>,
}

/// How the drain of a loop's foot leads back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Return {
    /// Where it joins another drain.
    pub(crate) joint: u32,
    /// The drain by which it arrives there.
    pub(crate) arrival: u32,
    /// The drain that it joins.
    pub(crate) joined: u32,
}

pub(crate) fn loops(measured: &Measured<'_>) -> Loops {
    let mut loops = Loops::default();
    let feet = measured.vent_order().any(|node| is_foot(measured, node));
    if !feet {
        return loops;
    }
    let nodes = measured.node_bound();
    loops = Loops {
        foot: vec![NONE; nodes],
        turn: vec![NONE; nodes],
        cleanouts: vec![0; nodes],
        top: vec![(i64::MIN, NONE); nodes],
        past_foot: vec![false; nodes],
        returns: BTreeMap::new(),
    };
    let height = |node: u32| match measured.node(node).and_then(|node| node.elevation) {
        Some(height) => (Length::nanometres(height), NONE),
        None => (i64::MIN, node),
    };
    for node in measured.vent_order().rev() {
        let here = node as usize;
        let own = height(node);
        loops.turn[here] = node;
        loops.top[here] = own;
        let Some(pipe) = measured.vent_of(node).and_then(|vent| measured.pipe(vent)) else {
            continue;
        };
        let to = pipe.to as usize;
        let arrives = is_foot(measured, pipe.to);
        loops.foot[here] = if arrives { pipe.to } else { loops.foot[to] };
        let joins = measured.inlets(pipe.to, Role::Vent).nth(1).is_some();
        let leaves_loop = joins && loops.foot[here] == NONE;
        let plugs = if arrives || leaves_loop {
            0
        } else {
            loops.cleanouts[to]
        };
        loops.cleanouts[here] = plugs + u32::from(measured.is(node, Class::Cleanout));
        if pipe.vertical == Some(true) && !arrives {
            loops.turn[here] = loops.turn[to];
        }
        let onward = if joins { height(pipe.to) } else { loops.top[to] };
        let gap = if own.1 == NONE { onward.1 } else { own.1 };
        loops.top[here] = (own.0.max(onward.0), gap);
    }
    for node in measured.vent_order() {
        let mut above = measured.inlets(node, Role::Vent);
        let (first, second) = (above.next(), above.next());
        let from = first.and_then(|vent| measured.pipe(vent)).map(|pipe| pipe.from);
        if is_foot(measured, node) {
            loops
                .returns
                .extend(way_back(measured, node).map(|back| (node, back)));
        }
        loops.past_foot[node as usize] = is_foot(measured, node)
            || (second.is_none() && from.is_some_and(|from| loops.past_foot[from as usize]));
    }
    loops
}

/// A vent arrives, another leaves, and a drain begins.
pub(crate) fn is_foot(measured: &Measured<'_>, node: u32) -> bool {
    measured.next(node).is_some()
        && measured.vent_of(node).is_some()
        && measured.inlets(node, Role::Vent).next().is_some()
}

impl Loops {
    /// Whether there is any.
    pub(crate) fn any(&self) -> bool {
        !self.foot.is_empty()
    }

    /// The foot of the loop whose vent leaves a drain at `node`.
    pub(crate) fn foot(&self, node: u32) -> Option<u32> {
        super::at(&self.foot, node)
    }

    /// Whether nothing comes to a node of the vents but the vent from a foot.
    pub(crate) fn is_past_foot(&self, node: u32) -> bool {
        self.past_foot.get(node as usize) == Some(&true)
    }

    /// Where that vent first turns from plumb.
    pub(crate) fn turn(&self, node: u32) -> Option<u32> {
        super::at(&self.turn, node)
    }

    /// Cleanouts on the loop and on the vent from its foot.
    pub(crate) fn cleanouts(&self, node: u32) -> u32 {
        let count = |node: u32| self.cleanouts.get(node as usize).copied().unwrap_or(0);
        count(node) + self.foot(node).map_or(0, count)
    }

    /// How the drain of a foot leads back.
    pub(crate) fn way_back(&self, foot: u32) -> Option<Return> {
        self.returns.get(&foot).copied()
    }

    /// The gentlest of the horizontal vents from a foot to where the vent first stands upright or joins another, and
    /// no pipe where there is none; or a vent whose slope is not stated.
    pub(crate) fn foot_vent(&self, measured: &Measured<'_>, foot: u32) -> Result<u32, u32> {
        let mut gentlest = NONE;
        let mut next = measured.vent_of(foot);
        while let Some((vent, pipe)) = next.and_then(|vent| Some((vent, measured.pipe(vent)?))) {
            match pipe.vertical {
                None => return Err(vent),
                Some(true) => break,
                Some(false) => {
                    if gentlest == NONE || measured.slope(vent) < measured.slope(gentlest) {
                        gentlest = vent;
                    }
                }
            }
            let joins = measured.inlets(pipe.to, Role::Vent).nth(1).is_some();
            next = if joins { None } else { measured.vent_of(pipe.to) };
        }
        Ok(gentlest)
    }

    /// The highest point of the vent from the foot before it joins another, or a node whose height is not known.
    pub(crate) fn top(&self, foot: u32) -> Result<i64, u32> {
        match self.top.get(foot as usize) {
            Some(&(top, NONE)) => Ok(top),
            Some(&(_, gap)) => Err(gap),
            None => Err(foot),
        }
    }

    /// Whether a vent is part of a loop: on its way down to a foot, or from there to the next vent it joins.
    pub(crate) fn holds(&self, measured: &Measured<'_>, vent: u32) -> bool {
        !self.foot.is_empty()
            && measured.pipe(vent).is_some_and(|pipe| {
                let to = pipe.to as usize;
                is_foot(measured, pipe.to)
                    || self.foot.get(to).is_some_and(|&foot| foot != NONE)
                    || self.is_past_foot(pipe.from)
            })
    }
}

/// Follows the drain from a foot, which nothing else enters, to where it joins another.
fn way_back(measured: &Measured<'_>, foot: u32) -> Option<Return> {
    let mut arrival = measured.next(foot)?;
    loop {
        let joint = measured.pipe(arrival)?.to;
        let joined = measured.next(joint)?;
        let enters = measured.inlets(joint, Role::Drain).nth(1).is_some();
        if enters || measured.pipe(joined)?.kind != RunKind::Branch {
            return Some(Return {
                joint,
                arrival,
                joined,
            });
        }
        arrival = joined;
    }
}
