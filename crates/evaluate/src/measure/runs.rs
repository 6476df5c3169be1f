//! How drains run: the length of unbroken vertical and horizontal pipe, how far it turns, where it can be opened at
//! its upper end, and how near branches come to the turns of stacks.
//!
//! It judges nothing, and follows no pipe more than once in either direction.

use crownweir_quantity::Length;
use crownweir_rulebook::Fact;
use crownweir_vocabulary::{Inlet, Role, RunKind};

use super::facts::{Element, Got, angle, count, length, stated, storeys, truth};
use super::follow::differs;
use super::{Class, Distance, Measured, NONE, PipeFacts, Seen, put};

/// A sum of horizontal changes of direction.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Turned {
    /// The most that it may be, fittings of unknown pattern left out: where each pipe of unknown slope is horizontal.
    tenths: i64,
    /// How many fittings and pipes make it unknown: those of a pattern or slope that is not stated.
    unknown: u32,
    /// How many of them are fittings.
    fittings: u32,
    /// One of them.
    gap: Option<Element>,
}

/// A horizontal change of direction at one fitting, in tenths of a degree, and what makes it unknown.
type Turning = (i64, Option<Element>);

impl Turned {
    const ZERO: Self = Self {
        tenths: 0,
        unknown: 0,
        fittings: 0,
        gap: None,
    };

    fn plus(self, (tenths, gap): Turning) -> Self {
        let fitting = matches!(gap, Some(Element::Node(_)));
        Self {
            tenths: self.tenths.saturating_add(tenths),
            unknown: self.unknown + u32::from(gap.is_some()),
            fittings: self.fittings + u32::from(fitting),
            gap: gap.or(self.gap),
        }
    }

    /// The same, or nothing, as the slope of a pipe has it that is not stated.
    fn if_level(self, pipe: u32) -> Self {
        if self == Self::ZERO {
            return self;
        }
        self.plus((0, Some(Element::Pipe(pipe))))
    }

    /// The most that it may be, where that can be told.
    pub(crate) fn most(self) -> Option<Got> {
        (self.fittings == 0).then(|| angle(Ok(self.tenths)))
    }

    /// What is left of it where the turns of a part of its way are taken out.
    fn less(self, part: Self) -> Self {
        let unknown = self.unknown.saturating_sub(part.unknown);
        Self {
            tenths: self.tenths.saturating_sub(part.tenths),
            unknown,
            fittings: self.fittings.saturating_sub(part.fittings),
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

    /// The larger of two; what is not known wins where it may be larger.
    fn larger(self, other: Self) -> Self {
        let rank = |one: Self| (one.tenths, one.unknown == 0);
        let (most, least) = if rank(self) >= rank(other) {
            (self, other)
        } else {
            (other, self)
        };
        if most.fittings == 0 && least.fittings > 0 {
            Self {
                tenths: most.tenths,
                ..least
            }
        } else {
            most
        }
    }
}

/// Whether drains can be opened at a node.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
enum Opens {
    #[default]
    No,
    Yes,
    /// If this pipe, whose slope is not stated, is vertical.
    If(u32),
}

/// The most pipes that are followed from one element to tell the least and the most that a fact may come to which is not
/// known; with more, neither is told.
pub(super) const MOST_FOLLOWED: usize = 100;

fn known_length(pipe: &PipeFacts) -> Option<Length> {
    let known = pipe.length.is_known();
    known.then(|| Length::from_nanometres(pipe.length.nanometres()))
}

/// How drains run.
#[derive(Debug, Clone, Default)]
pub(crate) struct Runs {
    /// For each drain that is vertical, the length of vertical pipe of its size: above it with itself, and below it.
    pub(crate) vertical: Vec<(Distance, Distance)>,
    /// For each node, the length of horizontal drain from it on.
    below: Vec<Distance>,
    /// For each node, whether it can be opened there.
    opens: Vec<Opens>,
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
        opens: vec![Opens::No; nodes],
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
    opens: Opens,
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
            since: match opens {
                Opens::Yes => Turned::ZERO,
                Opens::No => turned_since(measured, self, node),
                Opens::If(pipe) => turned_since(measured, self, node).if_level(pipe),
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
        put(&mut self.opens, node, Opens::No);
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
        own.below = match pipe.vertical {
            Some(true) => Distance::ZERO,
            // Without a slope it is not known whether the horizontal drain has ended.
            None => Distance::of(None, next),
            Some(false) => {
                // What enters from the side, where nothing comes straight through, joins nothing.
                let on = pipe.enters == Inlet::Run || !has_run(measured, pipe.to);
                let further = if on { self.below[to] } else { Distance::ZERO };
                pipe.length.plus(further)
            }
        };
        if pipe.kind == RunKind::Stack && pipe.vertical != Some(false) {
            let (further, foot) = match is_foot(measured, pipe) {
                Ok(true) => (Distance::ZERO, next),
                Ok(false) => self.foot_below[to],
                Err(onward) => (Distance::of(None, onward), next),
            };
            own.foot = match pipe.vertical {
                None if foot != NONE => (Distance::of(None, next), foot),
                _ => (further.plus(pipe.length), foot),
            };
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

/// The horizontal change of direction of a drain's water at the fitting at its end. It is not known where the fitting's
/// pattern is not stated, nor where the fitting turns the water if a pipe of unknown slope beside it is horizontal.
fn turn(measured: &Measured<'_>, drain: u32) -> Turning {
    let Some(pipe) = measured.pipe(drain) else {
        return (0, None);
    };
    let next = measured
        .next(pipe.to)
        .filter(|_| measured.is(pipe.to, Class::Fitting));
    let Some((next, onward)) = next.and_then(|next| Some((next, measured.pipe(next)?))) else {
        return (0, None);
    };
    if pipe.vertical == Some(true) || onward.vertical == Some(true) {
        return (0, None);
    }
    if pipe.enters == Inlet::Run && measured.has_branch(pipe.to) {
        return (0, None);
    }
    let Some(pattern) = measured.pattern_at(pipe.to) else {
        return (0, Some(Element::Node(pipe.to)));
    };
    let tenths = pattern.turn_in_tenths();
    let gap = match (pipe.vertical, onward.vertical) {
        (None, _) => Some(Element::Pipe(drain)),
        (_, None) => Some(Element::Pipe(next)),
        _ => None,
    };
    (tenths, gap.filter(|_| tenths != 0))
}

/// Whether a drain can be opened where it begins: by a cleanout there, beside it, or on vertical pipe above.
fn opens(measured: &Measured<'_>, runs: &Runs, node: u32) -> Opens {
    if measured.is(node, Class::Cleanout) {
        return Opens::Yes;
    }
    let mut found = Opens::No;
    for inlet in measured.inlets(node, Role::Drain) {
        let Some(pipe) = measured.pipe(inlet) else {
            continue;
        };
        let above = runs.opens.get(pipe.from as usize).copied().unwrap_or_default();
        let beside = pipe.enters == Inlet::Branch && measured.is(pipe.from, Class::Cleanout);
        match (pipe.vertical, above) {
            _ if beside => return Opens::Yes,
            (Some(false), _) | (_, Opens::No) => {}
            (Some(true), Opens::Yes) => return Opens::Yes,
            (Some(true), above) => found = above,
            (None, _) => found = Opens::If(inlet),
        }
    }
    found
}

fn turned_since(measured: &Measured<'_>, runs: &Runs, node: u32) -> Turned {
    let (mut straight, mut any) = (None, None);
    // Whether anything comes straight through may hang on this pipe.
    let mut maybe_straight = None;
    for inlet in measured.inlets(node, Role::Drain) {
        let Some(pipe) = measured.pipe(inlet).filter(|pipe| pipe.vertical != Some(true)) else {
            continue;
        };
        let mut so_far = match measured.is_in_trap_arm(inlet) {
            true => Turned::ZERO,
            false => {
                let above = runs.since.get(pipe.from as usize).copied();
                above.unwrap_or(Turned::ZERO).plus(turn(measured, inlet))
            }
        };
        if pipe.vertical.is_none() {
            so_far = so_far.if_level(inlet);
            maybe_straight = maybe_straight.or((pipe.enters == Inlet::Run).then_some(inlet));
        }
        let slot = if pipe.enters == Inlet::Run {
            &mut straight
        } else {
            &mut any
        };
        *slot = Some(slot.map_or(so_far, |other: Turned| other.larger(so_far)));
    }
    match (straight, any, maybe_straight) {
        (Some(straight), Some(any), Some(pipe)) => straight.larger(any.if_level(pipe)),
        _ => straight.or(any).unwrap_or(Turned::ZERO),
    }
}

/// Whether a vertical drain turns horizontal at its end; the pipe after it where its slope is not stated.
fn is_foot(measured: &Measured<'_>, pipe: &PipeFacts) -> Result<bool, u32> {
    let Some(next) = measured.next(pipe.to) else {
        return Ok(false);
    };
    let level = measured
        .pipe(next)
        .map_or(Some(false), |onward| onward.vertical.map(|vertical| !vertical));
    level.ok_or(next)
}

fn foot_above(measured: &Measured<'_>, runs: &Runs, node: u32) -> (Distance, u32) {
    let mut nearest = (Distance::ZERO, NONE);
    for inlet in measured.inlets(node, Role::Drain) {
        let Some(pipe) = measured.pipe(inlet) else {
            continue;
        };
        let found = match (pipe.kind, pipe.vertical, is_foot(measured, pipe)) {
            (RunKind::Stack, Some(true), Ok(true)) => (Distance::ZERO, inlet),
            (RunKind::Stack, Some(true), Err(onward)) => (Distance::of(None, onward), inlet),
            (RunKind::Stack, None, Ok(true) | Err(_)) => (Distance::of(None, inlet), inlet),
            (RunKind::BuildingDrain, ..) | (RunKind::Stack, Some(false) | None, _) => {
                let above = runs.foot_above.get(pipe.from as usize).copied();
                let (distance, foot) = above.unwrap_or((Distance::ZERO, NONE));
                let own = match (pipe.kind, pipe.vertical) {
                    (RunKind::Stack, None) => Distance::of(None, inlet),
                    _ => pipe.length,
                };
                (distance.plus(own), foot)
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
        let slope_of = |pipe: u32| stated(None, "slope", Element::Pipe(pipe));
        let from = pipe.from as usize;
        match fact {
            Fact::DrainOpensAbove => {
                let here = self.runs([pipe.from]).opens.get(from).copied();
                let behind = match here {
                    Some(Opens::Yes) => Opens::No,
                    _ => self.opens_behind_trap_arm(pipe.from),
                };
                return match (here.unwrap_or_default(), behind) {
                    (Opens::Yes, _) | (_, Opens::Yes) => truth(true),
                    (Opens::If(slope), _) | (_, Opens::If(slope)) => slope_of(slope),
                    (Opens::No, Opens::No) => truth(false),
                };
            }
            Fact::DrainTurnDistance => {
                return self
                    .stack_turn(pipe)
                    .map_or(Got::Absent, |(distance, _)| self.run_length(distance));
            }
            Fact::DrainTurnSuds => {
                return self.at_stack_turn(pipe, |foot| count(self.details(foot).suds));
            }
            Fact::DrainTurnStoreys => {
                return self.at_stack_turn(pipe, |foot| {
                    self.flow(foot)
                        .map_or(Got::Absent, |flow| storeys(flow.storeys, flow.storey_gap))
                });
            }
            _ => {}
        }
        match (fact, pipe.vertical) {
            (_, None) => slope_of(drain),
            (Fact::DrainVerticalLength, Some(true)) => {
                self.see(Seen::VerticalAbove, drain);
                self.see(Seen::VerticalBelow, drain);
                let parts = self.runs([]).vertical.get(drain as usize);
                self.run_length(parts.map_or(pipe.length, |(above, below)| above.plus(*below)))
            }
            (Fact::DrainHorizontalRun, Some(false)) => match self.begins(drain, pipe) {
                Ok(false) => Got::Absent,
                Err(unknown) => slope_of(unknown),
                Ok(true) => {
                    let below = self.runs_ahead([pipe.from]).below.get(from).copied();
                    self.run_length(below.unwrap_or(pipe.length))
                }
            },
            (Fact::DrainHorizontalTurn, Some(false)) => self.turned_to(pipe.from).angle(),
            _ => Got::Absent,
        }
    }

    /// Whether the drain that begins at a node can be opened through a trap arm that comes straight through there: a drain's
    /// own begins below the arm, but what is pushed in behind the arm comes to it.
    fn opens_behind_trap_arm(&self, node: u32) -> Opens {
        let mut found = Opens::No;
        for inlet in self.inlets(node, Role::Drain) {
            let arm = self.pipe(inlet).filter(|arm| arm.enters == Inlet::Run);
            let Some(arm) = arm.filter(|_| self.is_in_trap_arm(inlet)) else {
                continue;
            };
            match arm.vertical {
                Some(false) if self.has_cleanout_above(arm.from) => return Opens::Yes,
                None if self.has_cleanout_above(arm.from) => found = Opens::If(inlet),
                _ => {}
            }
        }
        found
    }

    /// The turns of the horizontal drains down to a node, since the last cleanout.
    pub(crate) fn turned_to(&self, node: u32) -> Turned {
        let since = self.runs([node]).since.get(node as usize).copied();
        since.unwrap_or(Turned::ZERO)
    }

    /// A length along drains, which may lack the slope or size of one of them.
    fn run_length(&self, whole: Distance) -> Got {
        let datum = match whole.gap().and_then(|gap| self.pipe(gap)) {
            Some(lacking) if lacking.length.gap().is_some() => "length",
            Some(lacking) if lacking.vertical.is_none() => "slope",
            _ => "size",
        };
        length(whole, datum)
    }

    /// Whether a horizontal drain begins here: no other comes straight through, save a trap arm. That may hang on a pipe
    /// whose slope is not stated.
    pub(super) fn begins(&self, drain: u32, pipe: &PipeFacts) -> Result<bool, u32> {
        if self.is_in_trap_arm(drain) {
            return Ok(false);
        }
        let (mut run, mut beside) = (false, Ok(false));
        let mut straight = None;
        for inlet in self.inlets(pipe.from, Role::Drain) {
            let Some(own) = self.pipe(inlet) else { continue };
            let level = own.vertical.map(|vertical| !vertical);
            let continues = match self.is_in_trap_arm(inlet) {
                true => Ok(false),
                false => level.ok_or(inlet),
            };
            match (own.enters, continues) {
                (Inlet::Run, Ok(true)) => return Ok(false),
                (Inlet::Run, continues) => {
                    run = true;
                    straight = straight.or(continues.err());
                }
                (_, Ok(true)) => beside = Ok(true),
                (_, Err(unknown)) if beside == Ok(false) => beside = Err(unknown),
                _ => {}
            }
        }
        match (straight, run) {
            (Some(unknown), _) => Err(unknown),
            (None, true) => Ok(true),
            (None, false) => beside.map(|beside| !beside),
        }
    }

    /// How much of a drain and those after it is known to be one horizontal drain.
    pub(super) fn level_from(&self, drain: u32) -> Option<Length> {
        let mut sum = Length::from_nanometres(0);
        let mut at = Some(drain);
        for _ in 0..MOST_FOLLOWED {
            let Some(pipe) = at
                .and_then(|at| self.pipe(at))
                .filter(|pipe| pipe.vertical == Some(false))
            else {
                break;
            };
            sum = sum.checked_add(Length::from_nanometres(pipe.length.nanometres()))?;
            let on = pipe.enters == Inlet::Run || !has_run(self, pipe.to);
            at = self.next(pipe.to).filter(|_| on);
        }
        Some(sum)
    }

    /// A pipe's length and the most that vertical pipe of its size may be long above it; none where that is far.
    pub(super) fn upright_above(&self, drain: u32, left: usize) -> Option<Length> {
        let pipe = self.pipe(drain)?;
        let mut longest = Length::from_nanometres(0);
        for inlet in self.inlets(pipe.from, Role::Drain) {
            if alike(self, inlet, drain) != Some(false) {
                longest = longest.max(self.upright_above(inlet, left.checked_sub(1)?)?);
            }
        }
        longest.checked_add(known_length(pipe)?)
    }

    /// The most that vertical pipe of a drain's size may be long below it; none where that is far.
    pub(super) fn upright_below(&self, drain: u32) -> Option<Length> {
        let (mut sum, mut at) = (Length::from_nanometres(0), drain);
        for _ in 0..MOST_FOLLOWED {
            let next = self.next(self.pipe(at)?.to);
            let Some(next) = next.filter(|&next| alike(self, at, next) != Some(false)) else {
                return Some(sum);
            };
            sum = sum.checked_add(known_length(self.pipe(next)?)?)?;
            at = next;
        }
        None
    }

    /// What is told of a stack where it turns to horizontal near a branch. Where a slope is missing that would tell whether
    /// it does there, what holds there and at the stack's last pipe alike.
    fn at_stack_turn(&self, branch: &PipeFacts, of: impl Fn(u32) -> Got) -> Got {
        let Some((distance, foot)) = self.stack_turn(branch) else {
            return Got::Absent;
        };
        let here = of(foot);
        let turns = |pipe: &PipeFacts| pipe.vertical == Some(true) && is_foot(self, pipe) == Ok(true);
        if self.pipe(foot).is_none_or(turns) {
            return here;
        }
        let mut last = foot;
        for _ in 0..MOST_FOLLOWED {
            let next = self.pipe(last).and_then(|pipe| self.next(pipe.to));
            let is_stack = |&next: &u32| self.pipe(next).is_some_and(|next| next.kind == RunKind::Stack);
            match next.filter(is_stack) {
                Some(next) => last = next,
                None if of(last) == here => return here,
                None => break,
            }
        }
        self.run_length(distance)
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
