//! How drains run: the length of unbroken vertical and horizontal pipe, how far it turns, where it can be opened at
//! its upper end, and how near branches come to the turns of stacks.
//!
//! It judges nothing, and follows no pipe more than once in either direction.

use crownweir_rulebook::Fact;
use crownweir_vocabulary::{Inlet, Role, RunKind};

use super::facts::{Element, Got, angle, count, length, stated, storeys, truth};
use super::{Class, Distance, Measured, NONE, PipeFacts, Seen};

/// A sum of horizontal changes of direction.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Turned {
    tenths: i64,
    /// How many fittings on the way are of a pattern that is not stated.
    unknown: u32,
    /// One of them.
    gap: u32,
}

impl Turned {
    const ZERO: Self = Self {
        tenths: 0,
        unknown: 0,
        gap: NONE,
    };

    fn plus(self, tenths: Result<i64, u32>) -> Self {
        match tenths {
            Ok(tenths) => Self {
                tenths: self.tenths.saturating_add(tenths),
                ..self
            },
            Err(node) => Self {
                unknown: self.unknown + 1,
                gap: node,
                ..self
            },
        }
    }

    /// What is left of it where the turns of a part of its way are taken out.
    fn less(self, part: Self) -> Self {
        let unknown = self.unknown.saturating_sub(part.unknown);
        Self {
            tenths: self.tenths.saturating_sub(part.tenths),
            unknown,
            gap: if unknown == 0 { NONE } else { self.gap },
        }
    }

    /// In tenths of a degree, or a fitting whose pattern is not stated.
    pub(crate) fn tenths(self) -> Result<i64, u32> {
        match self.unknown {
            0 => Ok(self.tenths),
            _ => Err(self.gap),
        }
    }

    /// The larger of two; what is not known wins, since it may be larger still.
    fn larger(self, other: Self) -> Self {
        match (self.unknown, other.unknown) {
            (0, 0) if self.tenths >= other.tenths => self,
            (0, _) => other,
            _ => self,
        }
    }
}

/// How drains run.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Runs {
    /// For each drain that is vertical, the length of vertical pipe of its size: above it with itself, and below it.
    pub(crate) vertical: Vec<(Distance, Distance)>,
    /// For each node, the length of horizontal drain from it on.
    below: Vec<Distance>,
    /// For each node, whether it can be opened there.
    opens: Vec<bool>,
    /// For each node, the turns from the last cleanout or the beginning of the horizontal drain.
    since: Vec<Turned>,
    /// For each node, the turns from it to the point of disposal, and the cleanouts in line.
    ahead: Vec<(Turned, u32)>,
    /// For each node, the nearest turn of a stack to horizontal downstream on the stack: how far, and the last
    /// vertical pipe before it.
    foot_below: Vec<(Distance, u32)>,
    /// The same upstream, on the building drain or an offset.
    foot_above: Vec<(Distance, u32)>,
}

pub(crate) fn runs(measured: &Measured<'_>) -> Runs {
    let nodes = measured.network.graph().node_count();
    let mut runs = Runs {
        vertical: vec![(Distance::ZERO, Distance::ZERO); measured.pipes.len()],
        below: vec![Distance::ZERO; nodes],
        opens: vec![false; nodes],
        since: vec![Turned::ZERO; nodes],
        ahead: vec![(Turned::ZERO, 0); nodes],
        foot_below: vec![(Distance::ZERO, NONE); nodes],
        foot_above: vec![(Distance::ZERO, NONE); nodes],
    };
    for node in measured.drain_order() {
        let here = node as usize;
        runs.opens[here] = opens(measured, &runs, node);
        runs.since[here] = turned_since(measured, &runs, node);
        runs.foot_above[here] = foot_above(measured, &runs, node);
        if let Some(next) = measured.next(node) {
            runs.vertical[next as usize].0 = vertical_down_to(measured, &runs, node, next);
        }
    }
    for node in measured.drain_order().rev() {
        let Some(next) = measured.next(node) else { continue };
        let Some(pipe) = measured.pipe(next) else { continue };
        let (here, to) = (node as usize, pipe.to as usize);
        let (turned, cleanouts) = runs.ahead[to];
        let cleanout = u32::from(measured.is(pipe.to, Class::Cleanout));
        runs.ahead[here] = (turned.plus(turn(measured, next)), cleanouts + cleanout);
        if pipe.vertical == Some(false) {
            let on = pipe.enters == Inlet::Run;
            let further = if on { runs.below[to] } else { Distance::ZERO };
            runs.below[here] = pipe.length.plus(further);
        }
        if pipe.kind == RunKind::Stack && pipe.vertical == Some(true) {
            let (further, foot) = match is_foot(measured, pipe) {
                true => (Distance::ZERO, next),
                false => runs.foot_below[to],
            };
            runs.foot_below[here] = (further.plus(pipe.length), foot);
        }
        if let Some(onward) = measured
            .next(pipe.to)
            .filter(|&onward| alike(measured, next, onward))
        {
            let length = measured
                .pipe(onward)
                .map_or(Distance::ZERO, |onward| onward.length);
            runs.vertical[next as usize].1 = length.plus(runs.vertical[onward as usize].1);
        }
    }
    runs
}

/// Whether two drains are vertical and of one size.
fn alike(measured: &Measured<'_>, one: u32, other: u32) -> bool {
    let (Some(one), Some(other)) = (measured.pipe(one), measured.pipe(other)) else {
        return false;
    };
    one.vertical == Some(true) && other.vertical == Some(true) && one.size == other.size
}

/// The length of vertical pipe of a drain's size from its highest upper end to the drain's lower end.
fn vertical_down_to(measured: &Measured<'_>, runs: &Runs, node: u32, drain: u32) -> Distance {
    let above = measured
        .inlets(node, Role::Drain)
        .filter(|&inlet| alike(measured, inlet, drain))
        .filter_map(|inlet| runs.vertical.get(inlet as usize).map(|vertical| vertical.0))
        .fold(Distance::ZERO, Distance::longer);
    measured.pipe(drain).map_or(above, |pipe| above.plus(pipe.length))
}

/// The horizontal change of direction, in tenths of a degree, of a drain's water at the fitting at its end; the
/// fitting where its pattern is not stated.
fn turn(measured: &Measured<'_>, drain: u32) -> Result<i64, u32> {
    let Some(pipe) = measured.pipe(drain) else {
        return Ok(0);
    };
    let onward = measured.next(pipe.to).and_then(|next| measured.pipe(next));
    let flat = |pipe: &PipeFacts| pipe.vertical == Some(false);
    if !flat(pipe) || !onward.is_some_and(flat) || !measured.is(pipe.to, Class::Fitting) {
        return Ok(0);
    }
    let pattern = measured.pattern_at(pipe.to);
    // Where something joins from the side the fitting has a branch, whatever its pattern.
    let joined =
        || measured.inlets(pipe.to, Role::Drain).nth(1).is_some() || measured.vent_of(pipe.to).is_some();
    if pipe.enters == Inlet::Run && pattern.map_or_else(joined, |pattern| pattern.has_branch()) {
        return Ok(0);
    }
    Ok(pattern.ok_or(pipe.to)?.turn_in_tenths())
}

/// Whether a drain can be opened where it begins: by a cleanout there, beside it, or on vertical pipe above.
fn opens(measured: &Measured<'_>, runs: &Runs, node: u32) -> bool {
    measured.is(node, Class::Cleanout)
        || measured.inlets(node, Role::Drain).any(|inlet| {
            measured.pipe(inlet).is_some_and(|pipe| {
                let falls = pipe.vertical == Some(true);
                (pipe.enters == Inlet::Branch && measured.is(pipe.from, Class::Cleanout))
                    || (falls && runs.opens.get(pipe.from as usize) == Some(&true))
            })
        })
}

fn turned_since(measured: &Measured<'_>, runs: &Runs, node: u32) -> Turned {
    if runs.opens.get(node as usize) == Some(&true) {
        return Turned::ZERO;
    }
    let (mut straight, mut any) = (None, None);
    for inlet in measured.inlets(node, Role::Drain) {
        let Some(pipe) = measured.pipe(inlet).filter(|pipe| pipe.vertical == Some(false)) else {
            continue;
        };
        let so_far = match measured.is_in_trap_arm(inlet) {
            true => Turned::ZERO,
            false => {
                let above = runs.since.get(pipe.from as usize).copied();
                above.unwrap_or(Turned::ZERO).plus(turn(measured, inlet))
            }
        };
        let slot = if pipe.enters == Inlet::Run {
            &mut straight
        } else {
            &mut any
        };
        *slot = Some(slot.map_or(so_far, |other: Turned| other.larger(so_far)));
    }
    straight.or(any).unwrap_or(Turned::ZERO)
}

/// Whether a vertical drain turns horizontal at its end.
fn is_foot(measured: &Measured<'_>, pipe: &PipeFacts) -> bool {
    let onward = measured.next(pipe.to).and_then(|next| measured.pipe(next));
    onward.is_some_and(|onward| onward.vertical == Some(false))
}

fn foot_above(measured: &Measured<'_>, runs: &Runs, node: u32) -> (Distance, u32) {
    let mut nearest = (Distance::ZERO, NONE);
    for inlet in measured.inlets(node, Role::Drain) {
        let Some(pipe) = measured.pipe(inlet) else {
            continue;
        };
        let found = match (pipe.kind, pipe.vertical) {
            (RunKind::Stack, Some(true)) if is_foot(measured, pipe) => (Distance::ZERO, inlet),
            (RunKind::BuildingDrain, _) | (RunKind::Stack, Some(false)) => {
                let above = runs.foot_above.get(pipe.from as usize).copied();
                let (distance, foot) = above.unwrap_or((Distance::ZERO, NONE));
                (distance.plus(pipe.length), foot)
            }
            _ => continue,
        };
        nearest = nearer(nearest, found);
    }
    nearest
}

fn nearer(one: (Distance, u32), other: (Distance, u32)) -> (Distance, u32) {
    match (one.1, other.1) {
        (NONE, _) => other,
        (_, NONE) => one,
        _ if one.0.shorter(other.0) == one.0 => one,
        _ => other,
    }
}

impl Runs {
    /// Tells at which nodes they differ.
    pub(crate) fn where_differ(&self, other: &Self, mut each: impl FnMut(u32)) {
        let at = |runs: &Self, node: usize| {
            Some((
                *runs.below.get(node)?,
                *runs.opens.get(node)?,
                *runs.since.get(node)?,
                *runs.ahead.get(node)?,
                *runs.foot_below.get(node)?,
                *runs.foot_above.get(node)?,
            ))
        };
        let nodes = (0..self.below.len()).filter(|&node| at(self, node) != at(other, node));
        nodes.for_each(|node| each(super::index(node)));
    }

    /// The turns between a node and one downstream of it, those at the lower one left out.
    pub(crate) fn turned(&self, from: u32, to: u32) -> Turned {
        let ahead = |node: u32| {
            self.ahead
                .get(node as usize)
                .map_or(Turned::ZERO, |ahead| ahead.0)
        };
        ahead(from).less(ahead(to))
    }

    /// The turns between a node and one downstream of it, those at the lower one left out; none where a cleanout
    /// stands in line between them.
    pub(crate) fn turned_between(&self, from: u32, to: u32) -> Option<Turned> {
        let ahead = |node: u32| {
            let found = self.ahead.get(node as usize).copied();
            found.unwrap_or((Turned::ZERO, 0))
        };
        let ((upper, above), (lower, below)) = (ahead(from), ahead(to));
        (above == below).then(|| upper.less(lower))
    }
}

impl Measured<'_> {
    pub(super) fn run_fact(&self, drain: u32, fact: Fact) -> Got {
        let Some(pipe) = self.pipe(drain) else {
            return Got::Absent;
        };
        if pipe.vertical.is_none() {
            return stated(None, "slope", Element::Pipe(drain));
        }
        let vertical = pipe.vertical == Some(true);
        let from = pipe.from as usize;
        match fact {
            Fact::DrainVerticalLength if vertical => {
                self.see(Seen::RunOfPipe, drain);
                let parts = self.runs([]).vertical.get(drain as usize);
                let whole = parts.map_or(pipe.length, |(above, below)| above.plus(*below));
                length(whole, "length")
            }
            Fact::DrainHorizontalRun if !vertical && self.begins(drain, pipe) => {
                let below = self.runs([pipe.from]).below.get(from).copied();
                length(below.unwrap_or(pipe.length), "length")
            }
            Fact::DrainOpensAbove => truth(self.runs([pipe.from]).opens.get(from) == Some(&true)),
            Fact::DrainHorizontalTurn if !vertical => {
                let since = self.runs([pipe.from]).since.get(from).copied();
                angle(since.unwrap_or(Turned::ZERO).tenths())
            }
            Fact::DrainTurnDistance => self
                .stack_turn(pipe)
                .map_or(Got::Absent, |(distance, _)| length(distance, "length")),
            Fact::DrainTurnSuds => self
                .stack_turn(pipe)
                .map_or(Got::Absent, |(_, foot)| count(self.details(foot).suds)),
            Fact::DrainTurnStoreys => {
                let flow = self.stack_turn(pipe).and_then(|(_, foot)| self.flow(foot));
                flow.map_or(Got::Absent, |flow| storeys(flow.storeys, flow.storey_gap))
            }
            _ => Got::Absent,
        }
    }

    /// Whether a horizontal drain begins here: no other comes straight through, save a trap arm.
    fn begins(&self, drain: u32, pipe: &PipeFacts) -> bool {
        if self.is_in_trap_arm(drain) {
            return false;
        }
        let (mut run, mut beside) = (false, false);
        for inlet in self.inlets(pipe.from, Role::Drain) {
            let Some(own) = self.pipe(inlet) else { continue };
            let continues = own.vertical == Some(false) && !self.is_in_trap_arm(inlet);
            match own.enters {
                Inlet::Run if continues => return false,
                Inlet::Run => run = true,
                _ => beside |= continues,
            }
        }
        run || !beside
    }

    /// Where a branch joins a stack or the building drain, the nearest turn of a stack to horizontal.
    fn stack_turn(&self, branch: &PipeFacts) -> Option<(Distance, u32)> {
        let joined = self.next(branch.to).and_then(|next| self.pipe(next))?;
        let main = matches!(joined.kind, RunKind::Stack | RunKind::BuildingDrain);
        let carries = self
            .totals_at(branch.from)
            .is_some_and(|totals| totals.fixtures > 0);
        if !main || branch.kind != RunKind::Branch || !carries {
            return None;
        }
        let of = |feet: &[(Distance, u32)]| feet.get(branch.to as usize).copied();
        let below = of(&self.runs([branch.to]).foot_below)?;
        let nearest = nearer(below, of(&self.runs([]).foot_above)?);
        (nearest.1 != NONE).then_some(nearest)
    }
}
