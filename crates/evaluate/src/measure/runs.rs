//! How drains run: the length of unbroken vertical and horizontal pipe, how far it turns, where it can be opened at
//! its upper end, and how near branches come to the turns of stacks.
//!
//! It judges nothing, and follows no pipe more than once in either direction.

use crownweir_rulebook::Fact;
use crownweir_vocabulary::{Inlet, Role, RunKind};

use super::facts::{Element, Got, angle, count, length, stated, storeys, truth};
use super::follow::differs;
use super::{Class, Distance, Measured, NONE, PipeFacts, Seen, put};

/// A sum of horizontal changes of direction.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Turned {
    tenths: i64,
    /// How many fittings on the way may turn it and are of a pattern that is not stated, or lie beside a pipe of unknown
    /// slope.
    unknown: u32,
    /// One of them, or that pipe.
    gap: Option<Element>,
}

impl Turned {
    const ZERO: Self = Self {
        tenths: 0,
        unknown: 0,
        gap: None,
    };

    fn plus(self, tenths: Result<i64, Element>) -> Self {
        match tenths {
            Ok(tenths) => Self {
                tenths: self.tenths.saturating_add(tenths),
                ..self
            },
            Err(gap) => Self {
                unknown: self.unknown + 1,
                gap: Some(gap),
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
            gap: self.gap.filter(|_| unknown > 0),
        }
    }

    /// As an angle.
    pub(crate) fn angle(self) -> Got {
        match self.gap {
            None => angle(Ok(self.tenths)),
            Some(gap @ Element::Pipe(_)) => stated(None, "slope", gap),
            Some(gap) => stated(None, "pattern", gap),
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
#[derive(Debug, Default)]
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
    let nodes = measured.node_bound();
    let mut runs = Runs {
        vertical: vec![(Distance::ZERO, Distance::ZERO); measured.state.pipes.len()],
        below: vec![Distance::ZERO; nodes],
        opens: vec![false; nodes],
        since: vec![Turned::ZERO; nodes],
        ahead: vec![(Turned::ZERO, 0); nodes],
        foot_below: vec![(Distance::ZERO, NONE); nodes],
        foot_above: vec![(Distance::ZERO, NONE); nodes],
    };
    for node in measured.drain_order() {
        let above = runs.above_at(measured, node);
        runs.set_above(measured, node, above);
    }
    for node in measured.drain_order().rev() {
        let ahead = runs.ahead_at(measured, node);
        runs.set_ahead(measured, node, ahead);
    }
    runs
}

/// What of [`Runs`] is told of a node by those above it: `opens`, `since`, `foot_above`, and the vertical pipe above the
/// end of the drain that leaves it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Above {
    opens: bool,
    since: Turned,
    foot: (Distance, u32),
    vertical: Distance,
}

/// What is told of a node by the one below it: `below`, `ahead`, `foot_below`, and the vertical pipe below the end of
/// the drain that leaves it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ahead {
    below: Distance,
    ahead: (Turned, u32),
    foot: (Distance, u32),
    vertical: Distance,
}

/// Whether something of a node, and something of the drain that leaves it, differs.
pub(crate) type Differ = (bool, bool);

impl Runs {
    /// What is told of a node by those above it.
    pub(crate) fn above_at(&self, measured: &Measured<'_>, node: u32) -> Above {
        let opens = opens(measured, self, node);
        let next = measured.next(node);
        Above {
            opens,
            since: if opens {
                Turned::ZERO
            } else {
                turned_since(measured, self, node)
            },
            foot: foot_above(measured, self, node),
            vertical: next.map_or(Distance::ZERO, |next| {
                vertical_down_to(measured, self, node, next)
            }),
        }
    }

    /// Puts it in its place.
    pub(crate) fn set_above(&mut self, measured: &Measured<'_>, node: u32, above: Above) -> Differ {
        let here = node as usize;
        let mut differ = differs(self.opens.get_mut(here), above.opens);
        differ |= differs(self.since.get_mut(here), above.since);
        differ |= differs(self.foot_above.get_mut(here), above.foot);
        let drain = measured
            .next(node)
            .and_then(|next| self.vertical.get_mut(next as usize));
        (differ, differs(drain.map(|drain| &mut drain.0), above.vertical))
    }

    /// Forgets what was told of a node, or makes room for one that has come.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.below, node, Distance::ZERO);
        put(&mut self.opens, node, false);
        put(&mut self.since, node, Turned::ZERO);
        put(&mut self.ahead, node, (Turned::ZERO, 0));
        for feet in [&mut self.foot_below, &mut self.foot_above] {
            put(feet, node, (Distance::ZERO, NONE));
        }
    }

    /// The same of a pipe.
    pub(crate) fn clear_pipe(&mut self, pipe: u32) {
        put(&mut self.vertical, pipe, (Distance::ZERO, Distance::ZERO));
    }

    /// What is told of a node by the one below it.
    pub(crate) fn ahead_at(&self, measured: &Measured<'_>, node: u32) -> Ahead {
        let mut own = Ahead {
            below: Distance::ZERO,
            ahead: (Turned::ZERO, 0),
            foot: (Distance::ZERO, NONE),
            vertical: Distance::ZERO,
        };
        let Some((next, pipe)) = measured
            .next(node)
            .and_then(|next| Some((next, measured.pipe(next)?)))
        else {
            return own;
        };
        let to = pipe.to as usize;
        let (turned, cleanouts) = self.ahead[to];
        let cleanout = u32::from(measured.is(pipe.to, Class::Cleanout));
        own.ahead = (turned.plus(turn(measured, next)), cleanouts + cleanout);
        if pipe.vertical == Some(false) {
            // What enters from the side, where nothing comes straight through, joins nothing.
            let on = pipe.enters == Inlet::Run || !has_run(measured, pipe.to);
            let further = if on { self.below[to] } else { Distance::ZERO };
            own.below = pipe.length.plus(further);
        }
        if pipe.kind == RunKind::Stack && pipe.vertical == Some(true) {
            let (further, foot) = match is_foot(measured, pipe) {
                true => (Distance::ZERO, next),
                false => self.foot_below[to],
            };
            own.foot = (further.plus(pipe.length), foot);
        }
        if let Some(onward) = measured.next(pipe.to) {
            let length = measured
                .pipe(onward)
                .map_or(Distance::ZERO, |onward| onward.length);
            own.vertical = match alike(measured, next, onward) {
                Some(true) => length.plus(self.vertical[onward as usize].1),
                Some(false) => Distance::ZERO,
                None => Distance::of(None, onward),
            };
        }
        own
    }

    /// Puts it in its place.
    pub(crate) fn set_ahead(&mut self, measured: &Measured<'_>, node: u32, ahead: Ahead) -> Differ {
        let here = node as usize;
        let mut differ = differs(self.below.get_mut(here), ahead.below);
        differ |= differs(self.ahead.get_mut(here), ahead.ahead);
        differ |= differs(self.foot_below.get_mut(here), ahead.foot);
        let drain = measured
            .next(node)
            .and_then(|next| self.vertical.get_mut(next as usize));
        (differ, differs(drain.map(|drain| &mut drain.1), ahead.vertical))
    }
}

/// Whether a drain comes straight through a node.
fn has_run(measured: &Measured<'_>, node: u32) -> bool {
    let mut inlets = measured.inlets(node, Role::Drain);
    inlets.any(|inlet| {
        measured
            .pipe(inlet)
            .is_some_and(|inlet| inlet.enters == Inlet::Run)
    })
}

/// Whether two drains are vertical and of one size; not known where a slope or size is not that matters.
fn alike(measured: &Measured<'_>, one: u32, other: u32) -> Option<bool> {
    let (one, other) = (measured.pipe(one)?, measured.pipe(other)?);
    match (one.vertical, other.vertical) {
        (Some(false), _) | (_, Some(false)) => Some(false),
        (Some(true), Some(true)) => Some(one.size? == other.size?),
        _ => None,
    }
}

/// The length of vertical pipe of a drain's size from its highest upper end to the drain's lower end.
fn vertical_down_to(measured: &Measured<'_>, runs: &Runs, node: u32, drain: u32) -> Distance {
    let above = measured
        .inlets(node, Role::Drain)
        .filter_map(|inlet| match alike(measured, inlet, drain) {
            Some(true) => runs.vertical.get(inlet as usize).map(|vertical| vertical.0),
            Some(false) => None,
            None => Some(Distance::of(None, inlet)),
        })
        .fold(Distance::ZERO, Distance::longer);
    measured.pipe(drain).map_or(above, |pipe| above.plus(pipe.length))
}

/// The horizontal change of direction, in tenths of a degree, of a drain's water at the fitting at its end; the
/// fitting where its pattern is not stated, or the pipe of unknown slope where the fitting turns it if that is
/// horizontal.
fn turn(measured: &Measured<'_>, drain: u32) -> Result<i64, Element> {
    let Some(pipe) = measured.pipe(drain) else {
        return Ok(0);
    };
    let next = measured
        .next(pipe.to)
        .filter(|_| measured.is(pipe.to, Class::Fitting));
    let Some((next, onward)) = next.and_then(|next| Some((next, measured.pipe(next)?))) else {
        return Ok(0);
    };
    if pipe.vertical == Some(true) || onward.vertical == Some(true) {
        return Ok(0);
    }
    if pipe.enters == Inlet::Run && measured.has_branch(pipe.to) {
        return Ok(0);
    }
    let tenths = measured
        .pattern_at(pipe.to)
        .ok_or(Element::Node(pipe.to))?
        .turn_in_tenths();
    match (pipe.vertical, onward.vertical) {
        (None, _) if tenths != 0 => Err(Element::Pipe(drain)),
        (_, None) if tenths != 0 => Err(Element::Pipe(next)),
        _ => Ok(tenths),
    }
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
        nearest = nearer(measured, nearest, found);
    }
    nearest
}

fn nearer(measured: &Measured<'_>, one: (Distance, u32), other: (Distance, u32)) -> (Distance, u32) {
    match (one.1, other.1) {
        (NONE, _) => other,
        (_, NONE) => one,
        _ if measured.is_nearer(other, one) => other,
        _ => one,
    }
}

impl Runs {
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
                self.see(Seen::VerticalAbove, drain);
                self.see(Seen::VerticalBelow, drain);
                let parts = self.runs([]).vertical.get(drain as usize);
                let whole = parts.map_or(pipe.length, |(above, below)| above.plus(*below));
                let datum = match whole.gap().and_then(|gap| self.pipe(gap)) {
                    Some(lacking) if lacking.length.gap().is_some() => "length",
                    Some(lacking) if lacking.vertical.is_none() => "slope",
                    _ => "size",
                };
                length(whole, datum)
            }
            Fact::DrainHorizontalRun if !vertical && self.begins(drain, pipe) => {
                let below = self.runs_ahead([pipe.from]).below.get(from).copied();
                length(below.unwrap_or(pipe.length), "length")
            }
            Fact::DrainOpensAbove => truth(self.runs([pipe.from]).opens.get(from) == Some(&true)),
            Fact::DrainHorizontalTurn if !vertical => {
                let since = self.runs([pipe.from]).since.get(from).copied();
                since.unwrap_or(Turned::ZERO).angle()
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
        let below = of(&self.runs_ahead([branch.to]).foot_below)?;
        let nearest = nearer(self, below, of(&self.runs([branch.to]).foot_above)?);
        (nearest.1 != NONE).then_some(nearest)
    }
}
