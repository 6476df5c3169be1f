//! Loads and counts summed the way water flows, and what lies downstream of each pipe.

use std::cmp::Ordering;

use crownweir_quantity::Length;
use crownweir_rulebook::{BathroomGroup, MOST_PLACES, Size};
use crownweir_vocabulary::{FittingPattern, FixtureType, Receiver, Role, RunKind};

use super::loads::{FixtureLoad, More};
use super::{Distance, Measured, NONE, PipeFacts, Seen, both_storeys, index, keep_first, put};

/// What flows past a node, the node's own fixture included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Totals {
    /// Load in thousandths, whole bathroom groups at their group value.
    pub(crate) load: i64,
    /// Load in thousandths, each fixture at its own value.
    pub(crate) own_load: i64,
    /// What fixtures add to each of the two whose loads are not known.
    pub(crate) more: More,
    pub(crate) own_more: More,
    /// A fixture whose load is not known, and how many there are.
    pub(crate) gap: u32,
    pub(crate) unknown: u32,
    pub(crate) fixtures: u32,
    pub(crate) water_closets: u32,
    pub(crate) urinals: u32,
    /// One of the fixtures; the only one where `fixtures` is 1.
    pub(crate) a_fixture: u32,
    /// The lowest and highest storey among the fixtures.
    pub(crate) storeys: (u32, u32),
    /// One of the fixtures whose storey is not stated.
    pub(crate) storey_gap: u32,
    /// How many fixtures could take each place in a bathroom group.
    pub(crate) places: [u16; MOST_PLACES],
    /// Fixtures that no bathroom group has a place for.
    pub(crate) outsiders: u32,
}

/// What else flows past a node. Few rule sets ask, and all of it at every node would crowd the processor's cache.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Details {
    /// Load in thousandths of what is no water closet, each fixture at its own value.
    pub(crate) others_load: i64,
    /// One of these whose load is not known.
    pub(crate) others_gap: u32,
    /// The largest load of one fixture, in thousandths.
    pub(crate) heaviest: i64,
    /// The largest trap, and how many are as large.
    pub(crate) largest_trap: (Option<Size>, u32),
    /// A fixture whose trap's size is not stated.
    pub(crate) trap_gap: u32,
    pub(crate) sinks: u32,
    /// Fixtures whose water carries suds.
    pub(crate) suds: u32,
    /// Clothes washers.
    pub(crate) washers: u32,
    /// Stacks that end.
    pub(crate) stacks: u32,
}

impl Details {
    pub(super) const ZERO: Self = Self {
        others_load: 0,
        others_gap: NONE,
        heaviest: 0,
        largest_trap: (None, 0),
        trap_gap: NONE,
        sinks: 0,
        suds: 0,
        washers: 0,
        stacks: 0,
    };

    fn of_fixture(fixture: &super::FixtureFacts, load: Option<i64>) -> Self {
        let kind = fixture.fixture_type;
        let mut own = Self {
            sinks: u32::from(kind.is_sink()),
            suds: u32::from(kind.makes_suds()),
            washers: u32::from(kind == FixtureType::ClothesWasher),
            ..Self::ZERO
        };
        let is_closet = kind == FixtureType::WaterCloset;
        match load {
            Some(load) => {
                own.heaviest = load;
                own.others_load = if is_closet { 0 } else { load };
            }
            None if !is_closet => own.others_gap = fixture.node,
            None => {}
        }
        match (fixture.has_trap, fixture.trap) {
            (true, None) => own.trap_gap = fixture.node,
            (true, trap) => own.largest_trap = (trap, 1),
            (false, _) => {}
        }
        own
    }

    fn add(&mut self, other: &Self) {
        self.others_load = self.others_load.saturating_add(other.others_load);
        keep_first(&mut self.others_gap, other.others_gap);
        self.heaviest = self.heaviest.max(other.heaviest);
        self.largest_trap = match self.largest_trap.0.cmp(&other.largest_trap.0) {
            Ordering::Less => other.largest_trap,
            Ordering::Equal => (self.largest_trap.0, self.largest_trap.1 + other.largest_trap.1),
            Ordering::Greater => self.largest_trap,
        };
        keep_first(&mut self.trap_gap, other.trap_gap);
        self.sinks += other.sinks;
        self.suds += other.suds;
        self.washers += other.washers;
        self.stacks += other.stacks;
    }
}

/// What else flows past each node.
pub(crate) fn details(measured: &Measured<'_>) -> Vec<Details> {
    let mut details = vec![Details::ZERO; measured.node_bound()];
    for node in measured.drain_order() {
        details[node as usize] = details_at(measured, &details, node);
    }
    details
}

/// What else flows past a node, where that of the nodes above it is known.
pub(crate) fn details_at(measured: &Measured<'_>, details: &[Details], node: u32) -> Details {
    let own = measured.fixture_facts(node);
    let mut sum = own.map_or(Details::ZERO, |fixture| {
        Details::of_fixture(fixture, measured.state.loads.of(measured, node).known())
    });
    let is_stack = |pipe: &PipeFacts| pipe.kind == RunKind::Stack;
    let goes_on = measured.next(node).and_then(|next| measured.pipe(next));
    let goes_on = goes_on.is_some_and(is_stack);
    for inlet in measured.inlets(node, Role::Drain) {
        let Some(pipe) = measured.pipe(inlet) else {
            continue;
        };
        if let Some(above) = details.get(pipe.from as usize) {
            sum.add(above);
        }
        sum.stacks += u32::from(is_stack(pipe) && !goes_on);
    }
    sum
}

impl Totals {
    pub(crate) const ZERO: Self = Self {
        load: 0,
        own_load: 0,
        more: More::NOTHING,
        own_more: More::NOTHING,
        gap: NONE,
        unknown: 0,
        fixtures: 0,
        water_closets: 0,
        urinals: 0,
        a_fixture: NONE,
        storeys: (NONE, 0),
        storey_gap: NONE,
        places: [0; MOST_PLACES],
        outsiders: 0,
    };

    /// What one fixture adds.
    fn of_fixture(fixture: &super::FixtureFacts, load: FixtureLoad) -> Self {
        let kind = fixture.fixture_type;
        let mut own = Self {
            fixtures: 1,
            a_fixture: fixture.node,
            water_closets: u32::from(kind == FixtureType::WaterCloset),
            urinals: u32::from(kind == FixtureType::Urinal),
            ..Self::ZERO
        };
        match load.known() {
            Some(load) => (own.load, own.own_load) = (load, load),
            None => (own.gap, own.unknown) = (fixture.node, 1),
        }
        (own.more, own.own_more) = (More::of(load), More::of(load));
        match fixture.storey {
            NONE => own.storey_gap = fixture.node,
            storey => own.storeys = (storey, storey),
        }
        match fixture
            .group_place
            .and_then(|place| own.places.get_mut(usize::from(place)))
        {
            Some(place) => *place = 1,
            None => own.outsiders = 1,
        }
        own
    }

    fn add(&mut self, other: &Self) {
        self.load = self.load.saturating_add(other.load);
        self.own_load = self.own_load.saturating_add(other.own_load);
        self.more.add(other.more);
        self.own_more.add(other.own_more);
        keep_first(&mut self.gap, other.gap);
        self.unknown += other.unknown;
        self.fixtures += other.fixtures;
        self.water_closets += other.water_closets;
        self.urinals += other.urinals;
        keep_first(&mut self.a_fixture, other.a_fixture);
        self.storeys = both_storeys(self.storeys, other.storeys);
        keep_first(&mut self.storey_gap, other.storey_gap);
        for (own, other) in self.places.iter_mut().zip(other.places) {
            *own = own.saturating_add(other);
        }
        self.outsiders += other.outsiders;
    }

    /// The least and the most load, whole bathroom groups at their group value.
    pub(crate) fn ends(&self) -> Option<(i64, i64)> {
        self.more.ends(self.load)
    }

    /// The least and the most load, each fixture at its own value.
    pub(crate) fn own_ends(&self) -> Option<(i64, i64)> {
        self.own_more.ends(self.own_load)
    }

    /// The fewest bathroom groups with room for all the fixtures that have a place in one. A group may have several
    /// places alike: fixtures are counted at the first of them.
    pub(crate) fn groups(&self, group: &BathroomGroup) -> u16 {
        let alike = |place: &Vec<FixtureType>| group.places().filter(|other| *other == place).count();
        let needed = self
            .places
            .into_iter()
            .zip(group.places())
            .map(|(fixtures, place)| {
                let room = u16::try_from(alike(place)).unwrap_or(u16::MAX);
                fixtures.div_ceil(room.max(1))
            });
        needed.max().unwrap_or(0)
    }
}

/// What flows past each node.
pub(crate) fn totals(measured: &Measured<'_>) -> Vec<Totals> {
    let mut totals = vec![Totals::ZERO; measured.node_bound()];
    for node in measured.drain_order() {
        let sum = totals_at(measured, &totals, node);
        if let Some(slot) = totals.get_mut(node as usize) {
            *slot = sum;
        }
    }
    totals
}

/// What flows past a node, where it is told already of those above it.
pub(crate) fn totals_at(measured: &Measured<'_>, totals: &[Totals], node: u32) -> Totals {
    let mut sum = Totals::ZERO;
    for inlet in measured.inlets(node, Role::Drain) {
        let above = measured
            .pipe(inlet)
            .and_then(|pipe| totals.get(pipe.from as usize));
        if let Some(above) = above {
            sum.add(above);
        }
    }
    if let Some(fixture) = measured.fixture_facts(node) {
        sum.add(&Totals::of_fixture(
            fixture,
            measured.state.loads.of(measured, node),
        ));
    }
    let credit = measured.state.loads.credit(measured, node);
    sum.load = sum.load.saturating_sub(credit.load);
    sum.more.add(credit.more);
    sum
}

/// A sum along the way to the point of disposal; differences of two are sums along a part of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Prefix {
    /// The sum of what is known, in nanometres.
    sum: i64,
    /// How many pipes there are where it is not.
    unknown: u32,
    /// The nearest of them downstream.
    gap: u32,
}

impl Prefix {
    pub(super) const ZERO: Self = Self {
        sum: 0,
        unknown: 0,
        gap: NONE,
    };

    pub(super) fn behind(self, part: Distance) -> Self {
        Self {
            sum: self.sum.saturating_add(part.nanometres()),
            unknown: self.unknown + u32::from(!part.is_known()),
            gap: part.gap().unwrap_or(self.gap),
        }
    }

    /// The part of the sum that is known between two nodes.
    fn known_down_to(self, lower: Self) -> i64 {
        self.sum.saturating_sub(lower.sum)
    }

    fn down_to(self, lower: Self) -> Distance {
        if self.unknown == lower.unknown {
            return Distance::known(self.known_down_to(lower));
        }
        Distance::of(None, self.gap)
    }
}

/// What lies downstream, told from the point of disposal up.
#[derive(Debug, Clone, Default)]
pub(crate) struct Downstream {
    /// Pipes between each node and the point of disposal.
    pub(crate) depth: Vec<u32>,
    /// Nodes further down, to jump to when two ways meet; each node's own parent first.
    jump: Vec<u32>,
    /// Length from each node to the point of disposal.
    length: Vec<Prefix>,
    /// Fall from each node to the point of disposal.
    fall: Vec<Prefix>,
    /// Length of the horizontal pipes from each node to the point of disposal.
    level: Vec<Prefix>,
    /// Tenths of degrees that the bends from each node to the point of disposal turn through; a gap is a node.
    turn: Vec<Prefix>,
    /// Vertical pipes, and pipes of unknown orientation, between each node and the point of disposal.
    vertical: Vec<(u32, u32)>,
    /// Traps that stand in the line below each node.
    pub(crate) traps: Vec<u32>,
    /// Where each branch's water goes, by pipe.
    pub(crate) receiver: Vec<Receiver>,
}

pub(crate) fn downstream(measured: &Measured<'_>) -> Downstream {
    let nodes = measured.node_bound();
    let mut down = Downstream {
        depth: vec![0; nodes],
        jump: (0..nodes).map(index).collect(),
        length: vec![Prefix::ZERO; nodes],
        fall: vec![Prefix::ZERO; nodes],
        level: vec![Prefix::ZERO; nodes],
        turn: vec![Prefix::ZERO; nodes],
        vertical: vec![(0, 0); nodes],
        traps: vec![0; nodes],
        receiver: vec![Receiver::Disposal; measured.state.pipes.len()],
    };
    for node in measured.drain_order().rev() {
        down.step(measured, node);
    }
    down
}

/// What lies downstream of one node.
type Below = ([Prefix; 4], (u32, u32), u32, Option<Receiver>);

impl Downstream {
    /// Tells what lies downstream of a node, where it is told of what the node leads to.
    pub(crate) fn step(&mut self, measured: &Measured<'_>, node: u32) {
        let down = self;
        let Some((number, pipe)) = measured
            .next(node)
            .and_then(|pipe| Some((pipe, measured.pipe(pipe)?)))
        else {
            return;
        };
        let (here, to) = (node as usize, pipe.to as usize);
        down.depth[here] = down.depth[to] + 1;
        let far = down.jump[to] as usize;
        let farther = down.jump[far] as usize;
        let level = down.depth[to] - down.depth[far] == down.depth[far] - down.depth[farther];
        down.jump[here] = if level { down.jump[far] } else { pipe.to };
        down.length[here] = down.length[to].behind(pipe.length);
        down.fall[here] = down.fall[to].behind(pipe.fall);
        down.level[here] = down.level[to].behind(match (pipe.vertical, measured.slope(number)) {
            (Some(true), Some(slope)) if slope.is_vertical() => Distance::ZERO,
            (Some(true), slope) => {
                let length = Length::from_nanometres(pipe.length.nanometres());
                let slope = slope.filter(|_| pipe.length.is_known());
                Distance::of(slope.and_then(|slope| slope.run_over(length)), number)
            }
            (Some(false), _) => pipe.length,
            (None, _) => Distance::of(None, number),
        });
        down.turn[here] = down.turn[to].behind(bend(measured, node));
        let (vertical, unknown) = down.vertical[to];
        down.vertical[here] = (
            vertical + u32::from(pipe.vertical == Some(true)),
            unknown + u32::from(pipe.vertical.is_none()),
        );
        let is_trap = measured.pattern_at(pipe.to) == Some(FittingPattern::RunningTrap);
        down.traps[here] = down.traps[to] + u32::from(is_trap);
        down.receiver[number as usize] = match pipe.kind {
            RunKind::Stack => Receiver::Stack,
            RunKind::BuildingDrain | RunKind::BuildingSewer => Receiver::BuildingDrain,
            _ => match measured.next(pipe.to) {
                Some(next) => down.receiver[next as usize],
                None => Receiver::Disposal,
            },
        };
    }

    /// Forgets what was told of a node, or makes room for one that has come.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.depth, node, 0);
        put(&mut self.jump, node, node);
        for prefixes in [&mut self.length, &mut self.fall, &mut self.level, &mut self.turn] {
            put(prefixes, node, Prefix::ZERO);
        }
        put(&mut self.vertical, node, (0, 0));
        put(&mut self.traps, node, 0);
    }

    /// The same of a pipe.
    pub(crate) fn clear_pipe(&mut self, pipe: u32) {
        put(&mut self.receiver, pipe, Receiver::Disposal);
    }

    /// How far down a node is, and where to jump to from it.
    pub(crate) fn steps(&self, node: u32) -> (Option<u32>, Option<u32>) {
        let here = node as usize;
        (self.depth.get(here).copied(), self.jump.get(here).copied())
    }

    /// All that may change while pipes stay where they are.
    pub(crate) fn below(&self, measured: &Measured<'_>, node: u32) -> Below {
        let here = node as usize;
        let receiver = measured.next(node);
        (
            [&self.length, &self.fall, &self.level, &self.turn].map(|prefixes| prefixes[here]),
            self.vertical[here],
            self.traps[here],
            receiver.map(|pipe| self.receiver[pipe as usize]),
        )
    }
}

/// What a bend at a node turns its water through, in tenths of degrees; nothing where it has a branch or is none.
fn bend(measured: &Measured<'_>, node: u32) -> Distance {
    match measured.pattern_at(node) {
        Some(pattern) if pattern.has_branch() => Distance::ZERO,
        Some(pattern) => Distance::known(pattern.turn_in_tenths()),
        None if measured.is(node, super::Class::Fitting) => Distance::of(None, node),
        None => Distance::ZERO,
    }
}

impl Downstream {
    /// The first node that both nodes' water passes.
    pub(crate) fn meeting(&self, next: impl Fn(u32) -> Option<u32>, one: u32, other: u32) -> u32 {
        let depth = |node: u32| self.depth.get(node as usize).copied().unwrap_or(0);
        let jump = |node: u32| self.jump.get(node as usize).copied().unwrap_or(node);
        let step = |node: u32, target: u32| {
            if depth(jump(node)) >= target {
                jump(node)
            } else {
                next(node).unwrap_or(node)
            }
        };
        let (mut one, mut other) = (one, other);
        while depth(one) != depth(other) {
            if depth(one) > depth(other) {
                one = step(one, depth(other));
            } else {
                other = step(other, depth(one));
            }
        }
        while one != other {
            let (a, b) = (jump(one), jump(other));
            if a == b || a == one || b == other {
                let (a, b) = (next(one), next(other));
                match (a, b) {
                    (Some(a), Some(b)) => (one, other) = (a, b),
                    _ => return one,
                }
            } else {
                (one, other) = (a, b);
            }
        }
        one
    }
}

impl Measured<'_> {
    /// What flows through a drain.
    pub(crate) fn flow(&self, pipe: u32) -> Option<&Totals> {
        self.totals_at(self.pipe(pipe)?.from)
    }

    /// What flows past a node.
    pub(crate) fn totals_at(&self, node: u32) -> Option<&Totals> {
        let found = self.state.totals.get(node as usize);
        // While loads are reckoned there are none yet.
        if found.is_some() {
            self.see(Seen::Totals, node);
        }
        found
    }

    /// Pipes between a node and the point of disposal.
    pub(crate) fn depth(&self, node: u32) -> u32 {
        self.state
            .downstream
            .depth
            .get(node as usize)
            .copied()
            .unwrap_or(0)
    }

    /// Traps that stand in the line below a node.
    pub(crate) fn traps_below(&self, node: u32) -> u32 {
        self.see(Seen::Downstream, node);
        self.state
            .downstream
            .traps
            .get(node as usize)
            .copied()
            .unwrap_or(0)
    }

    /// Developed length between a node and one downstream of it.
    pub(crate) fn distance(&self, from: u32, to: u32) -> Distance {
        self.between(&self.state.downstream.length, from, to)
    }

    /// Fall between a node and one downstream of it.
    pub(crate) fn fall(&self, from: u32, to: u32) -> Distance {
        self.between(&self.state.downstream.fall, from, to)
    }

    /// Length of the horizontal pipes between a node and one downstream of it, and how far those that stand aslant lead aside.
    pub(crate) fn horizontal_length(&self, from: u32, to: u32) -> Distance {
        self.between(&self.state.downstream.level, from, to)
    }

    /// What is known of the developed length between a node and one downstream of it, and of its horizontal length.
    pub(crate) fn known_distances(&self, from: u32, to: u32) -> [i64; 2] {
        let down = &self.state.downstream;
        self.see(Seen::Downstream, from);
        self.see(Seen::Downstream, to);
        [&down.length, &down.level].map(|prefixes| {
            let prefix = |node: u32| prefixes.get(node as usize).copied().unwrap_or(Prefix::ZERO);
            prefix(from).known_down_to(prefix(to))
        })
    }

    /// Tenths of degrees that the bends between a node and one downstream of it turn through, or one whose pattern
    /// is not stated.
    pub(crate) fn bends(&self, from: u32, to: u32) -> Result<i64, u32> {
        let tenths = self.between(&self.state.downstream.turn, from, to);
        tenths.gap().map_or(Ok(tenths.nanometres()), Err)
    }

    fn between(&self, prefixes: &[Prefix], from: u32, to: u32) -> Distance {
        self.see(Seen::Downstream, from);
        self.see(Seen::Downstream, to);
        Prefix::between(prefixes, from, to)
    }
}

impl Prefix {
    /// The part of a sum between a node and one downstream of it.
    pub(super) fn between(prefixes: &[Self], from: u32, to: u32) -> Distance {
        let prefix = |node: u32| prefixes.get(node as usize).copied().unwrap_or(Self::ZERO);
        prefix(from).down_to(prefix(to))
    }
}

impl Measured<'_> {
    /// How many pipes between a node and one downstream of it are vertical, and how many may be.
    pub(crate) fn verticals(&self, from: u32, to: u32) -> (u32, u32) {
        let count = |node: u32| {
            self.see(Seen::Downstream, node);
            self.state
                .downstream
                .vertical
                .get(node as usize)
                .copied()
                .unwrap_or((0, 0))
        };
        let (upper, lower) = (count(from), count(to));
        (upper.0.saturating_sub(lower.0), upper.1.saturating_sub(lower.1))
    }

    /// Where a fixture's own drain ends: at the first drain that carries more, or is not a branch.
    pub(crate) fn own_drain_end(&self, fixture: u32) -> u32 {
        let mut node = fixture;
        while let Some((number, pipe)) = self.next(node).and_then(|next| Some((next, self.pipe(next)?))) {
            let shared = self.flow(number).is_some_and(|flow| flow.fixtures > 1);
            if shared || pipe.kind != RunKind::Branch {
                break;
            }
            node = pipe.to;
        }
        node
    }

    /// The size of the first drain below a fixture that is more than its own.
    pub(crate) fn receiving_size(&self, fixture: u32) -> Result<Option<Size>, u32> {
        let next = self.next(self.own_drain_end(fixture));
        let Some((number, pipe)) = next.and_then(|next| Some((next, self.pipe(next)?))) else {
            return Ok(None);
        };
        pipe.size.map(Some).ok_or(number)
    }
}

/// Orders pipes by size, those of unstated size last.
pub(crate) fn by_size(measured: &Measured<'_>, pipe: u32) -> (bool, Option<Size>, std::cmp::Reverse<u32>) {
    let size = measured.pipe(pipe).and_then(|pipe| pipe.size);
    (size.is_none(), size, std::cmp::Reverse(pipe))
}
