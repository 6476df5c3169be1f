//! What lies on the way of each trap's water to its vent: slopes, sizes, bends, drops; and where branches meet stacks.
//!
//! It measures what is drawn and judges nothing.

use crownweir_rulebook::Size;
use crownweir_vocabulary::{FittingPattern, Role, RunKind};

use super::drains::Prefix;
use super::{Distance, Measured, NONE, Seen, put};

/// The least and the most of a line of drains.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Extremes {
    /// The steepest and the gentlest of the horizontal drains.
    pub(crate) steepest: u32,
    pub(crate) gentlest: u32,
    /// A drain whose slope is not stated.
    pub(crate) slope_gap: u32,
    pub(crate) smallest: Option<Size>,
    pub(crate) largest: Option<Size>,
    /// A drain whose size is not stated.
    pub(crate) size_gap: u32,
}

impl Extremes {
    pub(crate) const NONE: Self = Self {
        steepest: NONE,
        gentlest: NONE,
        slope_gap: NONE,
        smallest: None,
        largest: None,
        size_gap: NONE,
    };

    /// With one drain more.
    pub(crate) fn with(mut self, measured: &Measured<'_>, drain: u32) -> Self {
        let Some(pipe) = measured.pipe(drain) else {
            return self;
        };
        match pipe.vertical {
            Some(true) => {}
            None => self.slope_gap = drain,
            Some(false) => {
                let slope = measured.slope(drain);
                if self.steepest == NONE || slope > measured.slope(self.steepest) {
                    self.steepest = drain;
                }
                if self.gentlest == NONE || slope < measured.slope(self.gentlest) {
                    self.gentlest = drain;
                }
            }
        }
        match pipe.size {
            None => self.size_gap = drain,
            Some(size) => {
                self.smallest = Some(self.smallest.map_or(size, |own| own.min(size)));
                self.largest = self.largest.max(Some(size));
            }
        }
        self
    }
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Ways {
    /// For each drain, the line from it down to the connection of the traps that it carries unvented.
    to_air: Vec<Extremes>,
    /// Bends between each node and the point of disposal, and fittings of unknown pattern.
    bends: Vec<(u32, u32)>,
    /// Length of the vertical drains between each node and the point of disposal.
    drop: Vec<Prefix>,
    /// For each node on a branch, where its water reaches a stack.
    stack_joint: Vec<u32>,
}

/// Whether a drain's water turns sharply where it ends, by the rule set's definition; two gentle turns in place of one
/// are none. Not known where the fitting's pattern is not. Whoever asks has a definition to go by.
pub(super) fn bends(measured: &Measured<'_>, drain: u32) -> Option<bool> {
    let pipe = measured.pipe(drain)?;
    if !measured.is(pipe.to, super::Class::Fitting) {
        return Some(false);
    }
    let pattern = measured.pattern_at(pipe.to)?;
    let straight = pattern.has_branch() && !measured.enters_by_branch(pipe);
    Some(!straight && is_sharp(measured, pattern))
}

/// Whether a fitting turns the water by more than the rule set's definition of a sharp turn.
fn is_sharp(measured: &Measured<'_>, pattern: FittingPattern) -> bool {
    let turn = pattern.turn_in_tenths().saturating_mul(100_000);
    let sharp = measured.rules.definitions.sharp_turn.as_ref();
    sharp.is_some_and(|sharp| turn > sharp.more_than.microdegrees())
}

pub(crate) fn ways(measured: &Measured<'_>) -> Ways {
    let nodes = measured.node_bound();
    let mut ways = Ways {
        to_air: vec![Extremes::NONE; measured.state.pipes.len()],
        bends: vec![(0, 0); nodes],
        drop: vec![Prefix::ZERO; nodes],
        stack_joint: vec![NONE; nodes],
    };
    for node in measured.drain_order().rev() {
        ways.step(measured, node);
    }
    ways
}

impl Ways {
    /// Forgets what was told of a node, or makes room for one that has come.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.bends, node, (0, 0));
        put(&mut self.drop, node, Prefix::ZERO);
        put(&mut self.stack_joint, node, NONE);
    }

    /// The same of a pipe.
    pub(crate) fn clear_pipe(&mut self, pipe: u32) {
        put(&mut self.to_air, pipe, Extremes::NONE);
    }

    /// Tells what lies on the way from a node, where it is told of what the node leads to.
    pub(crate) fn step(&mut self, measured: &Measured<'_>, node: u32) {
        let ways = self;
        let Some((number, pipe)) = measured
            .next(node)
            .and_then(|number| Some((number, measured.pipe(number)?)))
        else {
            return;
        };
        let (here, to) = (node as usize, pipe.to as usize);
        let bend = bends(measured, number);
        ways.bends[here] = (
            ways.bends[to].0 + u32::from(bend == Some(true)),
            ways.bends[to].1 + u32::from(bend.is_none()),
        );
        ways.drop[here] = ways.drop[to].behind(match pipe.vertical {
            Some(true) => pipe.fall,
            Some(false) => Distance::ZERO,
            None => Distance::of(None, number),
        });
        ways.stack_joint[here] = match pipe.kind {
            RunKind::Stack => node,
            RunKind::Branch => ways.stack_joint[to],
            _ => NONE,
        };
        ways.to_air[number as usize] = match measured.state.air.meets(measured, number) {
            None => Extremes::NONE,
            Some((connection, _)) => {
                let below = measured
                    .next(pipe.to)
                    .filter(|_| pipe.to != connection)
                    .and_then(|next| ways.to_air.get(next as usize).copied())
                    .unwrap_or(Extremes::NONE);
                below.with(measured, number)
            }
        };
    }

    /// What is told of a node: by itself, and of the drain that leads away from it.
    pub(crate) fn told(
        &self,
        measured: &Measured<'_>,
        node: u32,
    ) -> ((u32, u32), Prefix, u32, Option<Extremes>) {
        let here = node as usize;
        let line = measured.next(node).map(|pipe| self.to_air[pipe as usize]);
        (self.bends[here], self.drop[here], self.stack_joint[here], line)
    }

    /// The line of drains from a trap to its connection.
    pub(crate) fn to_air(&self, measured: &Measured<'_>, fixture: u32) -> Option<&Extremes> {
        let first = measured.next(fixture)?;
        measured.see(Seen::ToAir, first);
        self.to_air.get(first as usize)
    }

    /// Bends between a trap and its connection, the joint there left out, and fittings whose pattern is not stated.
    pub(crate) fn bends(&self, measured: &Measured<'_>, fixture: u32, arrival: u32) -> (u32, u32) {
        let count = |node: u32| self.bends.get(node as usize).copied().unwrap_or((0, 0));
        let last = measured.pipe(arrival).map_or(fixture, |pipe| pipe.from);
        measured.see(Seen::Ways, fixture);
        measured.see(Seen::Ways, last);
        (
            count(fixture).0.saturating_sub(count(last).0),
            count(fixture).1.saturating_sub(count(last).1),
        )
    }

    /// How far the vertical drains between a node and one downstream of it come down.
    pub(crate) fn drop(&self, measured: &Measured<'_>, from: u32, to: u32) -> Distance {
        measured.see(Seen::Ways, from);
        measured.see(Seen::Ways, to);
        Prefix::between(&self.drop, from, to)
    }

    /// Where a branch's water reaches a stack.
    pub(crate) fn stack_joint(&self, measured: &Measured<'_>, node: u32) -> Option<u32> {
        measured.see(Seen::Ways, node);
        super::at(&self.stack_joint, node)
    }
}

impl Measured<'_> {
    /// Whether a stack brings water from above to one of its nodes.
    pub(crate) fn takes_from_above(&self, node: u32) -> bool {
        self.inlets(node, Role::Drain).any(|inlet| {
            self.pipe(inlet).is_some_and(|pipe| pipe.kind == RunKind::Stack)
                && self.flow(inlet).is_some_and(|flow| flow.fixtures > 0)
        })
    }
}
