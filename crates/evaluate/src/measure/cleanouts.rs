//! How far each point of the drains is from a cleanout, and branches from the bases of stacks.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

use crownweir_quantity::Length;
use crownweir_rulebook::Value;
use crownweir_vocabulary::{Inlet, Role, RunKind};

use super::facts::{length, stated};
use super::{Class, Distance, Element, Got, Measured, Reach, Seen, put};

#[derive(Debug, Clone, Default)]
pub(crate) struct Cleanouts {
    /// For each node, developed length up to the nearest cleanout, removable trap, or upper end.
    pub(crate) run: Vec<Distance>,
    /// For each node, developed length up to the nearest cleanout.
    pub(crate) plug: Vec<Reach>,
    /// For each node that a single fixture's water passes, the same with its trap, if that is not stated to stay put.
    pub(crate) rod: Vec<Reach>,
    /// For each node on the building drain or an offset, the pipe of a stack that comes down nearest upstream, as far as
    /// slopes tell.
    pub(crate) base: HashMap<u32, (Distance, u32)>,
    /// How far cleanouts are from the end of the building drain.
    pub(crate) junction: Junction,
}

/// How far the nearest cleanout is from the end of the building drain.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Junction {
    /// Upstream or down.
    pub(crate) nearest: Option<Walked>,
    /// There or upstream.
    pub(crate) above: Option<Walked>,
}

pub(crate) fn cleanouts(measured: &Measured<'_>) -> Cleanouts {
    let nodes = measured.node_bound();
    let mut found = Cleanouts {
        run: vec![Distance::ZERO; nodes],
        plug: vec![Reach::NONE; nodes],
        rod: vec![Reach::NONE; nodes],
        base: HashMap::new(),
        junction: Junction::default(),
    };
    for node in measured.drain_order() {
        let near = found.near_at(measured, node);
        found.set(node, near);
    }
    found.junction = junction(measured);
    found
}

/// What is near a node: the first three of [`Cleanouts`], and the nearest stack base.
pub(crate) type Near = (Distance, Reach, Reach, Option<(Distance, u32)>);

impl Cleanouts {
    /// Forgets what was told of a node, or makes room for one that has come.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.run, node, Distance::ZERO);
        put(&mut self.plug, node, Reach::NONE);
        put(&mut self.rod, node, Reach::NONE);
        self.base.remove(&node);
    }

    /// Notes what is near a node.
    pub(crate) fn set(&mut self, node: u32, (run, plug, rod, base): Near) {
        let here = node as usize;
        (self.run[here], self.plug[here], self.rod[here]) = (run, plug, rod);
        if let Some(base) = base {
            self.base.insert(node, base);
        }
    }

    /// What is near a node, where it is told of those above it.
    pub(crate) fn near_at(&self, measured: &Measured<'_>, node: u32) -> Near {
        let found = self;
        let is_cleanout = measured.is(node, Class::Cleanout);
        let fixture = measured.fixture_facts(node);
        let removable = fixture.is_some_and(|fixture| fixture.removable_trap == Some(true));
        let may_open = fixture.is_some_and(|fixture| fixture.removable_trap != Some(false));
        let mut nearest_plug: Option<Distance> = None;
        let mut nearest_rod: Option<Distance> = None;
        let mut nearest_base: Option<(Distance, u32)> = None;
        let mut straight: Option<Distance> = None;
        let mut any: Option<Distance> = None;
        let nearer = |own: Option<Distance>, other: Option<Distance>| match (own, other) {
            (Some(own), Some(other)) => Some(own.shorter(other)),
            (own, other) => own.or(other),
        };
        for inlet in measured.inlets(node, Role::Drain) {
            let Some(pipe) = measured.pipe(inlet) else {
                continue;
            };
            let from = pipe.from as usize;
            let further = |from: Reach| from.get().map(|from| from.plus(pipe.length));
            nearest_plug = nearer(nearest_plug, further(found.plug[from]));
            // A removable trap opens its own fixture's drain, not what that drain joins.
            let single = measured.flow(inlet).is_some_and(|flow| flow.fixtures == 1);
            nearest_rod = nearer(nearest_rod, if single { further(found.rod[from]) } else { None });
            if pipe.vertical != Some(true) {
                // Without a slope it is not known whether the horizontal drain ends here.
                let length = match pipe.vertical {
                    None => Distance::of(None, inlet),
                    _ => found.run[from].plus(pipe.length),
                };
                any = Some(any.map_or(length, |any| any.longer(length)));
                if pipe.enters == Inlet::Run {
                    straight = nearer(straight, Some(length));
                }
            }
            let candidate = base_by(measured, node, inlet, |above| found.base.get(&above).copied());
            nearest_base = match (nearest_base, candidate) {
                (Some(own), Some(other)) if measured.is_nearer(other, own) => Some(other),
                (own, other) => own.or(other),
            };
        }
        let run = if is_cleanout || removable {
            Distance::ZERO
        } else {
            straight.or(any).unwrap_or(Distance::ZERO)
        };
        // Nothing is nearer than what stands here.
        if is_cleanout {
            nearest_plug = Some(Distance::ZERO);
        }
        if is_cleanout || may_open {
            nearest_rod = Some(Distance::ZERO);
        }
        let rod = nearer(nearest_rod, nearest_plug);
        (run, Reach::to(nearest_plug), Reach::to(rod), nearest_base)
    }
}

/// The nearest stack base up a drain that enters a node, where it is told of those above the drain.
fn base_by(
    measured: &Measured<'_>,
    node: u32,
    inlet: u32,
    above: impl Fn(u32) -> Option<(Distance, u32)>,
) -> Option<(Distance, u32)> {
    let pipe = measured.pipe(inlet)?;
    match (pipe.kind, pipe.vertical) {
        (RunKind::Stack, Some(true)) if !continues_vertical(measured, node) => Some((Distance::ZERO, inlet)),
        // Its stack may come down here, or further up.
        (RunKind::Stack, None) if !continues_vertical(measured, node) => {
            Some((Distance::of(None, inlet), inlet))
        }
        (RunKind::BuildingDrain, _) | (RunKind::Stack | RunKind::Branch, Some(false)) => {
            let (from, foot) = above(pipe.from)?;
            Some((from.plus(pipe.length), foot))
        }
        // Below a branch that drops its base is no longer near.
        (RunKind::Branch, None) => {
            let (from, foot) = above(pipe.from)?;
            Some((from.plus(Distance::of(None, inlet)), foot))
        }
        _ => None,
    }
}

/// Whether the drain below a node is vertical.
fn continues_vertical(measured: &Measured<'_>, node: u32) -> bool {
    measured
        .next(node)
        .and_then(|pipe| measured.pipe(pipe))
        .is_some_and(|pipe| pipe.vertical == Some(true))
}

/// From where the building drain ends, down the sewer and up the building drain and its stacks to the nearest cleanout;
/// one on a stub that joins them counts too.
pub(crate) fn junction(measured: &Measured<'_>) -> Junction {
    let Some(end) = building_drain_end(measured) else {
        return Junction::default();
    };
    let above = nearest_above(measured, end);
    let (mut node, mut walked, mut below) = (end, Walked::ZERO, None);
    while let Some(pipe) = measured.next(node).and_then(|pipe| measured.pipe(pipe)) {
        walked = walked.plus(pipe.length);
        node = pipe.to;
        if measured.is(node, Class::Cleanout) {
            below = Some(walked);
            break;
        }
    }
    Junction {
        nearest: above.into_iter().chain(below).min(),
        above,
    }
}

/// From a node up the building drain and its stacks to the nearest cleanout.
fn nearest_above(measured: &Measured<'_>, node: u32) -> Option<Walked> {
    let mut open = BinaryHeap::from([Reverse((Walked::ZERO, node))]);
    while let Some(Reverse((walked, node))) = open.pop() {
        if measured.is(node, Class::Cleanout) {
            return Some(walked);
        }
        for inlet in measured.inlets(node, Role::Drain) {
            let Some(pipe) = measured.pipe(inlet) else {
                continue;
            };
            let is_main = matches!(
                pipe.kind,
                RunKind::BuildingDrain | RunKind::BuildingSewer | RunKind::Stack
            );
            // A cleanout in line with a fixture's drain reaches the main only through that drain.
            let is_stub = measured.is(pipe.from, Class::Cleanout)
                && measured.inlets(pipe.from, Role::Drain).next().is_none();
            if is_main || is_stub {
                open.push(Reverse((walked.plus(pipe.length), pipe.from)));
            }
        }
    }
    None
}

/// A way along pipes: how long it is at the least, and how long where all their lengths are stated. The first of several in
/// order may be the shortest, and is if its length is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Walked {
    least: i64,
    rank: (bool, i64),
}

impl Walked {
    pub(super) const ZERO: Self = Self {
        least: 0,
        rank: (false, 0),
    };

    pub(super) fn plus(self, length: Distance) -> Self {
        Self {
            least: self.least.saturating_add(length.nanometres()),
            rank: self.distance().plus(length).rank(),
        }
    }

    /// What it comes to at the least.
    pub(super) fn least(self) -> Length {
        Length::from_nanometres(self.least)
    }

    pub(super) fn distance(self) -> Distance {
        Distance::ranked(self.rank)
    }
}

/// The last node on the way to the point of disposal that the building drain comes to.
fn building_drain_end(measured: &Measured<'_>) -> Option<u32> {
    let mut pipe = *measured.state.building_drain.first()?;
    let mut end = None;
    loop {
        let own = measured.pipe(pipe)?;
        if own.kind == RunKind::BuildingDrain {
            end = Some(own.to);
        }
        match measured.next(own.to) {
            Some(next) => pipe = next,
            None => return end,
        }
    }
}

/// How far up a drain can be opened, at its fixture's trap if that comes apart, or only at a cleanout.
#[derive(Debug, Clone, Copy)]
pub(crate) struct EitherOpening {
    fixture: u32,
    pub(crate) by_trap: Distance,
    /// None where there is none.
    pub(crate) with_cleanouts: Option<Distance>,
}

impl Measured<'_> {
    /// Whether the end of a drain is nearer than that of another; of two as near that with more fixtures, then the name
    /// decides.
    pub(crate) fn is_nearer(&self, one: (Distance, u32), other: (Distance, u32)) -> bool {
        let key = |(far, foot): (Distance, u32)| {
            let far = far.is_known().then_some(far.nanometres());
            let fixtures = self.flow(foot).map_or(0, |flow| flow.fixtures);
            let name = self.stated(foot).map(|pipe| &*pipe.name);
            // What is not known comes first, since it may be nearer.
            (far, Reverse(fixtures), name)
        };
        key(one) < key(other)
    }

    /// The vertical pipe of a stack that comes down nearest upstream of a node on the building drain or an offset, and
    /// how far its foot is.
    fn foot_above(&self, node: u32) -> Option<(Distance, u32)> {
        self.see(Seen::Base, node);
        self.state.cleanouts.base.get(&node).copied()
    }

    /// The stack that it belongs to.
    pub(crate) fn base_above(&self, node: u32) -> Option<(Distance, u32)> {
        let (far, foot) = self.foot_above(node)?;
        Some((far, self.state.stacks.of_pipe(self, foot)?))
    }

    /// How far up from its lower end a drain can be opened: at a cleanout, at the removable trap of the one fixture
    /// that it serves, or at a cleanout that enters the same fitting.
    pub(super) fn turn_cleanout(&self, drain: u32) -> Got {
        match self.openings_above(drain) {
            Ok(opening) => opening.map_or(Got::Absent, |distance| length(distance, "length")),
            Err(either) => stated(None, "trap removable", Element::Node(either.fixture)),
        }
    }

    /// The same, or both that there may be, where they are not alike and it is not stated whether the trap comes apart.
    pub(crate) fn openings_above(&self, drain: u32) -> Result<Option<Distance>, EitherOpening> {
        let fixture = self.flow(drain).filter(|flow| flow.fixtures == 1);
        let Some(fixture) = fixture.map(|flow| flow.a_fixture) else {
            return Ok(self.opening_above(drain, &self.state.cleanouts.plug));
        };
        let nearest = self.opening_above(drain, &self.state.cleanouts.rod);
        let removable = self.fixture_facts(fixture).and_then(|one| one.removable_trap);
        if removable.is_some() {
            return Ok(nearest);
        }
        let with_cleanouts = self.opening_above(drain, &self.state.cleanouts.plug);
        match nearest {
            Some(by_trap) if nearest != with_cleanouts => Err(EitherOpening {
                fixture,
                by_trap,
                with_cleanouts,
            }),
            _ => Ok(nearest),
        }
    }

    /// The size of the removable trap that alone opens a drain upstream of its lower end.
    pub(super) fn turn_cleanout_trap(&self, drain: u32) -> Got {
        let with_cleanouts = self.opening_above(drain, &self.state.cleanouts.plug);
        let fixture = self.flow(drain).filter(|flow| flow.fixtures == 1);
        let Some(fixture) = fixture
            .map(|flow| flow.a_fixture)
            .filter(|_| with_cleanouts.is_none())
        else {
            return Got::Absent;
        };
        match self.openings_above(drain) {
            Ok(None) => Got::Absent,
            Ok(Some(_)) => {
                let size = self.fixture_facts(fixture).and_then(|one| one.trap);
                stated(size.map(Value::Size), "trap size", Element::Node(fixture))
            }
            Err(either) => stated(None, "trap removable", Element::Node(either.fixture)),
        }
    }

    fn opening_above(&self, drain: u32, reach: &[Reach]) -> Option<Distance> {
        let pipe = self.pipe(drain)?;
        self.see(Seen::Cleanout, pipe.from);
        let behind = reach.get(pipe.from as usize).and_then(|reach| reach.get());
        let beside = self
            .inlets(pipe.to, Role::Drain)
            .filter_map(|inlet| self.pipe(inlet))
            .filter(|inlet| self.is(inlet.from, Class::Cleanout))
            .map(|inlet| inlet.length);
        behind
            .map(|behind| behind.plus(pipe.length))
            .into_iter()
            .chain(beside)
            .reduce(Distance::shorter)
    }

    /// The pipes from a cleanout to the joint at which they meet the drain that it serves; none where water passes the
    /// cleanout itself, and where nothing joins below it.
    pub(crate) fn stub(&self, cleanout: u32) -> Vec<u32> {
        let mut stub = Vec::new();
        let mut node = cleanout;
        while self.fixture(node).is_none() && self.inlets(node, Role::Drain).count() == stub.len().min(1) {
            let Some(pipe) = self.next(node) else {
                return Vec::new();
            };
            stub.push(pipe);
            node = self.pipe(pipe).map_or(node, |pipe| pipe.to);
        }
        stub
    }

    /// The pipe that a cleanout serves: the drain that its stub joins, else the drain or vent that leaves it.
    pub(crate) fn served_by_cleanout(&self, cleanout: u32) -> Option<u32> {
        let joint = self.stub(cleanout).pop().and_then(|last| self.pipe(last));
        joint
            .and_then(|last| self.next(last.to))
            .or_else(|| self.next(cleanout))
            .or_else(|| self.vent_of(cleanout))
    }

    /// The stacks whose vent stack leaves the building drain below their base, each with that vent.
    pub(crate) fn vent_stacks_below(&self) -> Vec<(u32, u32)> {
        let mains = (0..)
            .zip(&self.state.pipes)
            .filter(|(_, pipe)| pipe.kind == RunKind::VentStack);
        let from_drains = mains.filter(|(_, pipe)| self.next(pipe.from).is_some());
        from_drains
            .filter_map(|(vent, pipe)| Some((self.stack_above_vent(pipe.from)?, vent)))
            .collect()
    }

    /// The stack whose vent stack leaves the drains at a node.
    pub(crate) fn stack_above_vent(&self, node: u32) -> Option<u32> {
        let base = self.base_above(node).map(|(_, stack)| stack);
        base.or_else(|| self.stack_below(node))
    }

    /// How far cleanouts are from the end of the building drain.
    pub(crate) fn junction(&self) -> Junction {
        self.see(Seen::Junction, 0);
        self.state.cleanouts.junction
    }

    /// Whether a cleanout stands at a node or upstream of it.
    pub(super) fn has_cleanout_above(&self, node: u32) -> bool {
        self.see(Seen::Cleanout, node);
        let reach = self.state.cleanouts.plug.get(node as usize);
        reach.is_some_and(|reach| reach.get().is_some())
    }

    /// Developed length up from a node to the nearest cleanout, removable trap, or upper end.
    pub(crate) fn cleanout_run(&self, node: u32) -> Distance {
        self.see(Seen::Cleanout, node);
        self.state
            .cleanouts
            .run
            .get(node as usize)
            .copied()
            .unwrap_or(Distance::ZERO)
    }

    /// The least and the most that the same may come to for the drain below the node, where slopes or lengths are not stated;
    /// no most where it may be any. `left` is how many drains may still be looked at.
    pub(super) fn ends_of_run(&self, drain: u32, left: &mut usize) -> Option<(i64, Option<i64>)> {
        *left = left.checked_sub(1)?;
        let pipe = self.pipe(drain)?;
        let own = |(least, most): (i64, Option<i64>)| {
            let length = pipe.length.nanometres();
            let most = most.filter(|_| pipe.length.is_known());
            (
                least.saturating_add(length),
                most.map(|most| most.saturating_add(length)),
            )
        };
        let removable = self
            .fixture_facts(pipe.from)
            .is_some_and(|fixture| fixture.removable_trap == Some(true));
        if removable || self.is(pipe.from, Class::Cleanout) {
            return Some(own((0, Some(0))));
        }
        let (mut straight, mut all, mut is_told) = (Vec::new(), Vec::new(), true);
        for inlet in self.inlets(pipe.from, Role::Drain) {
            let above = self.pipe(inlet)?;
            if above.vertical == Some(true) {
                continue;
            }
            let ends = self.ends_of_run(inlet, left)?;
            is_told &= above.vertical.is_some();
            all.push(ends);
            if above.enters == Inlet::Run {
                straight.push(ends);
            }
        }
        // Without all slopes it is not known which drains count: as many may as lie longest.
        let longest = || {
            let most = all
                .iter()
                .map(|ends| ends.1)
                .try_fold(0, |longest, most| Some(longest.max(most?)));
            (all.iter().map(|ends| ends.0).max().unwrap_or(0), most)
        };
        Some(own(match (is_told, straight.is_empty()) {
            (true, true) => longest(),
            (true, false) => (
                straight.iter().map(|ends| ends.0).min().unwrap_or(0),
                straight.iter().filter_map(|ends| ends.1).min(),
            ),
            (false, _) => (0, longest().1),
        }))
    }

    /// The stack that the branch which leads away from a node meets at its lowest branch interval, or at or below its
    /// base.
    pub(crate) fn stack_below(&self, node: u32) -> Option<u32> {
        let joint = self.pipe(self.branch_end(node)?)?.to;
        let Some(stack) = self
            .next(joint)
            .and_then(|next| self.state.stacks.of_pipe(self, next))
        else {
            return self.base_above(joint).map(|(_, stack)| stack);
        };
        let (above, _) = self.state.stacks.intervals_above(self, joint)?;
        let intervals = self.stack_itself(stack)?.intervals;
        (above + 1 >= intervals).then_some(stack)
    }

    /// Where a branch, or another stack, joins a horizontal drain below the foot of a stack: how far below the foot of which
    /// vertical pipe of it; or the drain on whose slope it hangs whether it does.
    pub(crate) fn base_distance(&self, joining: u32) -> Option<Result<(Distance, u32), u32>> {
        let pipe = self.pipe(joining)?;
        let next = self.next(pipe.to)?;
        let joined = self.pipe(next)?;
        let hangs = match (joined.kind, joined.vertical) {
            (RunKind::BuildingDrain, _) | (RunKind::Stack | RunKind::Branch, Some(false)) => false,
            (RunKind::Stack | RunKind::Branch, None) => true,
            _ => return None,
        };
        let stack_of = |pipe| self.state.stacks.of_pipe(self, pipe);
        let joins = match pipe.kind {
            RunKind::Branch => true,
            RunKind::Stack => stack_of(joining) != stack_of(next),
            _ => false,
        };
        let above = joins.then(|| self.foot_beside(joining, pipe.to)).flatten()?;
        Some(if hangs { Err(next) } else { Ok(above) })
    }

    /// The vertical pipe of a stack that comes down nearest up the drains that one drain meets at its end, and how far its
    /// foot is: that of a stack which joins itself is none that it joins below.
    fn foot_beside(&self, joining: u32, node: u32) -> Option<(Distance, u32)> {
        let others = self.inlets(node, Role::Drain).filter(|&inlet| inlet != joining);
        let feet = others.filter_map(|inlet| base_by(self, node, inlet, |above| self.foot_above(above)));
        feet.reduce(|own, other| if self.is_nearer(other, own) { other } else { own })
    }

    /// How far a stack's base is, which may lack a length, or the slope by which its stack comes down or a branch lies.
    pub(crate) fn base_length(&self, distance: Distance) -> Got {
        let lacking = distance.gap().and_then(|gap| self.pipe(gap));
        let by_slope = lacking.is_some_and(|pipe| {
            matches!(pipe.kind, RunKind::Stack | RunKind::Branch) && pipe.vertical.is_none()
        });
        length(distance, if by_slope { "slope" } else { "length" })
    }
}
