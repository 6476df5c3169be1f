//! How air reaches each trap: the first vent, or drain that brings air, on the water's way.
//!
//! Every trap has one connection: the first node downstream where a dry vent stands, or where its drain joins
//! one that brings air from a dry vent further up. Which shapes protect a trap is the rule set's to say.

use crownweir_vocabulary::{Inlet, Pattern, Role, RunKind};

use super::{Chosen, FixtureFacts, Measured, NONE, Seen, put};

/// How a trap gets its air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Supply {
    /// Where the trap's drain meets the vent or the drain that brings air.
    pub(crate) connection: u32,
    /// The pipe by which it arrives there.
    pub(crate) arrival: u32,
    /// Where the dry vent stands that the air comes from.
    pub(crate) dry_vent: u32,
    /// The drain that brings the air, where that is not the dry vent itself.
    pub(crate) brings: u32,
}

impl Supply {
    pub(crate) const NONE: Self = Self {
        connection: NONE,
        arrival: NONE,
        dry_vent: NONE,
        brings: NONE,
    };
}

/// The traps whose own connection is a dry vent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Vented {
    pub(crate) traps: u32,
    /// One of the fixtures, where they are all of one type.
    pub(crate) a_fixture: u32,
    /// The lowest and highest storey among them.
    pub(crate) storeys: (u32, u32),
    /// One whose storey is not stated.
    pub(crate) storey_gap: u32,
}

impl Vented {
    pub(crate) const NONE: Self = Self {
        traps: 0,
        a_fixture: NONE,
        storeys: (NONE, 0),
        storey_gap: NONE,
    };

    /// Counts a trap whose supply has its connection here, if that is a dry vent.
    pub(crate) fn add(&mut self, measured: &Measured<'_>, fixture: &FixtureFacts, supply: &Supply) {
        if supply.brings != NONE {
            return;
        }
        let other = measured.fixture_facts(self.a_fixture);
        if self.traps == 0 {
            self.a_fixture = fixture.node;
        } else if other.is_none_or(|other| other.fixture_type != fixture.fixture_type) {
            self.a_fixture = NONE;
        }
        self.traps += 1;
        fixture.note_storey(&mut self.storeys, &mut self.storey_gap);
    }
}

/// How far down a dry vent is depended on: the lowest connection of its horizontal wet vent, and of all that get air
/// from it through a drain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Reach {
    pub(crate) end: u32,
    pub(crate) served: u32,
    /// The lowest connection of those that may depend on it, by storeys that are not stated, and whose that is.
    pub(crate) doubt: (u32, u32),
}

impl Reach {
    pub(crate) const NONE: Self = Self {
        end: NONE,
        served: NONE,
        doubt: (NONE, NONE),
    };

    /// Reckons with a trap that gets its air from here.
    pub(crate) fn add(
        &mut self,
        measured: &Measured<'_>,
        air: &Air,
        fixture: &FixtureFacts,
        supply: &Supply,
    ) {
        if supply.brings == NONE {
            return;
        }
        let pattern = air.shapes(measured, supply)[0];
        let belongs = air.belongs(measured, fixture, supply);
        if belongs == Some(true) || pattern == Some(Pattern::CommonLevels) {
            deepen(measured, &mut self.served, supply.connection);
        } else if belongs.is_none() {
            let own = (supply.connection, fixture.node);
            let rank = |(connection, fixture): (u32, u32)| (measured.depth(connection), fixture);
            if self.doubt.0 == NONE || rank(own) < rank(self.doubt) {
                self.doubt = own;
            }
        }
        if air.lengthens(measured, fixture, supply) {
            deepen(measured, &mut self.end, supply.connection);
        }
    }
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Air {
    /// For each node, where the air comes from that its outgoing drain can bring.
    pub(crate) head: Vec<u32>,
    /// For each node, the two drains that bring air to it first.
    pub(crate) bringing: Vec<[u32; 2]>,
    /// For each drain, the connection of the traps upstream that have met none so far, and how they arrive.
    pub(crate) meets: Vec<(u32, u32)>,
    /// How the trap of each fixture gets its air, by fixture.
    pub(crate) supplies: Vec<Supply>,
    /// For each node, the traps whose own connection is its vent.
    pub(crate) vented: Vec<Vented>,
    /// For each node, if air goes on from its vent through a drain, the lowest connection that depends on it.
    pub(crate) served: Vec<u32>,
    /// For each node, the same of what may depend on it, by storeys that are not stated, and the fixture that does.
    pub(crate) doubt: Vec<(u32, u32)>,
    /// For each node, if it is the dry vent of a horizontal wet vent, the lowest connection that depends on it.
    pub(crate) ends: Vec<u32>,
}

pub(crate) fn air(measured: &Measured<'_>) -> Air {
    let nodes = measured.node_bound();
    let mut air = Air {
        head: vec![NONE; nodes],
        bringing: vec![[NONE; 2]; nodes],
        meets: vec![(NONE, NONE); measured.state.pipes.len()],
        supplies: vec![Supply::NONE; measured.state.fixtures.len()],
        vented: vec![Vented::NONE; nodes],
        served: vec![NONE; nodes],
        doubt: vec![(NONE, NONE); nodes],
        ends: vec![NONE; nodes],
    };
    for node in measured.drain_order() {
        let here = node as usize;
        (air.head[here], air.bringing[here]) = air.brought_to(measured, node);
    }
    for node in measured.drain_order().rev() {
        for inlet in measured.inlets(node, Role::Drain) {
            air.meets[inlet as usize] = air.met(measured, node, inlet);
        }
    }
    for (ordinal, fixture) in measured.state.fixtures.iter().enumerate() {
        let supply = air.find_supply(measured, fixture.node);
        air.supplies[ordinal] = supply;
        if supply.connection != NONE {
            air.vented[supply.connection as usize].add(measured, fixture, &supply);
        }
    }
    for (ordinal, fixture) in measured.state.fixtures.iter().enumerate() {
        let supply = air.supplies[ordinal];
        if supply.connection != NONE {
            let vent = supply.dry_vent as usize;
            let mut reach = Reach {
                end: air.ends[vent],
                served: air.served[vent],
                doubt: air.doubt[vent],
            };
            reach.add(measured, &air, fixture, &supply);
            (air.ends[vent], air.served[vent]) = (reach.end, reach.served);
            air.doubt[vent] = reach.doubt;
        }
    }
    air
}

/// The drains that are part of a wet vent or of a combination drain and vent, and how far down each dry vent is
/// depended on; told once it is known which arrangement protects each trap.
#[derive(Debug, Clone, Default)]
pub(crate) struct Relied {
    /// For each node, how many wet vents run through its outgoing drain.
    pub(crate) wet: Vec<u32>,
    /// For each dry vent of a wet vent, where that ends.
    pub(crate) wet_end: Vec<u32>,
    /// For each node, how many wet vents end there.
    pub(crate) wet_ending: Vec<u32>,
    /// For each node, how many traps' circuits run through its outgoing drain.
    circuit: Vec<u32>,
    /// For each node, how many traps' combination drains run through its outgoing drain.
    combination: Vec<u32>,
    /// For each node, where the lowest circuit and the lowest combination drain end that may run through its outgoing
    /// drain, and the trap of which it cannot be told what protects it.
    open: Vec<[(u32, u32); 2]>,
    /// For each node, if air goes on from its vent through a drain, the lowest connection that depends on it.
    pub(crate) served: Vec<u32>,
    /// Whether an arrangement makes that differ from what the shapes alone say.
    pub(crate) differs: bool,
}

pub(crate) fn relied(measured: &Measured<'_>) -> Relied {
    let nodes = measured.node_bound();
    let air = &measured.state.air;
    let mut relied = Relied {
        served: air.served.clone(),
        // What another arrangement protects is on no wet vent.
        wet_end: vec![NONE; nodes],
        wet_ending: vec![0; nodes],
        ..Relied::default()
    };
    let (mut circuits, mut combinations) = (Vec::new(), Vec::new());
    relied.open = vec![[(NONE, NONE); 2]; nodes];
    for fixture in measured.all_fixtures() {
        let reliance = reliance(measured, fixture);
        relied.differs |= reliance.differs;
        for (kind, way) in reliance.open.into_iter().enumerate() {
            if let Some((from, to)) = way {
                let slot = &mut relied.open[from as usize][kind];
                *slot = lower(measured, *slot, (to, fixture.node));
            }
        }
        match reliance.way {
            None => {}
            Some((Way::Wet, from, to)) => deepen(measured, &mut relied.wet_end[from as usize], to),
            Some((Way::Circuit, from, to)) => circuits.push((from, to)),
            Some((Way::Combination, from, to)) => combinations.push((from, to)),
        }
        if let Some((vent, reach)) = reliance.reach {
            deepen(measured, &mut relied.served[vent as usize], reach);
        }
    }
    let mut beginning = vec![0_u32; nodes];
    for (&to, begins) in relied.wet_end.iter().zip(&mut beginning) {
        if to != NONE {
            *begins = 1;
            relied.wet_ending[to as usize] += 1;
        }
    }
    relied.wet = running(measured, beginning, &relied.wet_ending);
    for (ways, slot) in [
        (circuits, &mut relied.circuit),
        (combinations, &mut relied.combination),
    ] {
        let (mut beginning, mut ending) = (vec![0_u32; nodes], vec![0_u32; nodes]);
        for (from, to) in ways {
            beginning[from as usize] += 1;
            ending[to as usize] += 1;
        }
        *slot = running(measured, beginning, &ending);
    }
    for node in measured.drain_order() {
        for inlet in measured.inlets(node, Role::Drain) {
            let Some(above) = measured.pipe(inlet).map(|pipe| relied.open[pipe.from as usize]) else {
                continue;
            };
            let own = &mut relied.open[node as usize];
            for (own, above) in own.iter_mut().zip(above) {
                if above.0 != NONE && measured.depth(above.0) < measured.depth(node) {
                    *own = lower(measured, *own, above);
                }
            }
        }
    }
    relied
}

/// Of two ways that may be, the one that ends further down.
fn lower(measured: &Measured<'_>, one: (u32, u32), other: (u32, u32)) -> (u32, u32) {
    let is_lower = one.0 == NONE || measured.depth(other.0) < measured.depth(one.0);
    if is_lower { other } else { one }
}

/// By which kind of drain a trap's air comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    Wet,
    Circuit,
    Combination,
}

/// What a trap relies on by the arrangement that protects it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Reliance {
    /// The kind of drain, where it begins, and how far down.
    pub(crate) way: Option<(Way, u32, u32)>,
    /// Where a circuit and a combination drain begin and end that may be what protects it.
    pub(crate) open: [Option<(u32, u32)>; 2],
    /// A dry vent, and how far down it is depended on because of the arrangement.
    pub(crate) reach: Option<(u32, u32)>,
    /// Whether that may differ from what the shapes alone say.
    pub(crate) differs: bool,
}

impl Reliance {
    /// Whether something may be what protects the trap.
    pub(crate) fn is_open(&self) -> bool {
        self.open.iter().any(Option::is_some)
    }
}

pub(crate) fn reliance(measured: &Measured<'_>, fixture: &FixtureFacts) -> Reliance {
    let air = &measured.state.air;
    let chosen = measured.chosen_pattern(fixture.node);
    let part = || measured.state.combinations.part(measured, fixture.node);
    let mut reliance = Reliance {
        way: None,
        open: open_ways(measured, fixture.node),
        reach: None,
        differs: false,
    };
    let Some(supply) = air.supply(measured, fixture.node) else {
        // What joins a vented building drain has no dry vent that it could serve.
        if let (Some(Pattern::Combination), Some(part)) = (chosen, part()) {
            reliance.way = Some((Way::Combination, part.start, part.end));
        }
        return reliance;
    };
    match chosen {
        Some(Pattern::Combination) => {
            if let Some(part) = part() {
                reliance.way = Some((Way::Combination, part.start, part.end));
                reliance.reach = Some((supply.dry_vent, part.end));
            }
        }
        Some(Pattern::Circuit) => {
            let vent = measured.state.circuits.vent(measured, &supply);
            let vent = vent.unwrap_or(supply.dry_vent);
            reliance.way = Some((Way::Circuit, vent, supply.connection));
            reliance.reach = Some((vent, supply.connection));
        }
        Some(Pattern::None) => reliance.differs = true,
        None | Some(Pattern::WetHorizontal) if air.lengthens(measured, fixture, &supply) => {
            reliance.way = Some((Way::Wet, supply.dry_vent, supply.connection));
        }
        _ => {}
    }
    reliance.differs |= reliance.reach.is_some();
    reliance
}

/// The ways of a circuit and a combination drain of which it cannot be told whether one of them protects a trap.
fn open_ways(measured: &Measured<'_>, fixture: u32) -> [Option<(u32, u32)>; 2] {
    if !matches!(measured.chosen(fixture), Some(Chosen::Open(_))) {
        return [None; 2];
    }
    let circuit = || {
        let supply = measured.state.air.supply(measured, fixture)?;
        let vent = measured.state.circuits.vent(measured, &supply)?;
        Some((vent, supply.connection))
    };
    let combination = || {
        let combinations = &measured.state.combinations;
        let part = match combinations.seen(measured, fixture)? {
            Ok(part) => Some(part),
            Err(_) => combinations
                .either(measured, fixture)
                .into_iter()
                .flatten()
                .next(),
        };
        part.map(|part| (part.start, part.end))
    };
    let may_be = |pattern| measured.may_be(fixture, pattern);
    [
        may_be(Pattern::Circuit).then(circuit).flatten(),
        may_be(Pattern::Combination).then(combination).flatten(),
    ]
}

pub(crate) fn deepen(measured: &Measured<'_>, end: &mut u32, connection: u32) {
    if *end == NONE || measured.depth(connection) < measured.depth(*end) {
        *end = connection;
    }
}

/// How many of the ways, each from one node down to another, run through each node's outgoing drain: one begins, one
/// ends, and between them the count says so.
fn running(measured: &Measured<'_>, beginning: Vec<u32>, ending: &[u32]) -> Vec<u32> {
    let mut count = beginning;
    for node in measured.drain_order() {
        let here = node as usize;
        count[here] = running_at(measured, &count, (count[here], ending[here]), node);
    }
    count
}

/// The same of a node of which is known how many begin and end there, where it is told of those above it.
pub(crate) fn running_at(
    measured: &Measured<'_>,
    count: &[u32],
    (beginning, ending): (u32, u32),
    node: u32,
) -> u32 {
    let above = measured
        .inlets(node, Role::Drain)
        .filter_map(|inlet| count.get(measured.pipe(inlet)?.from as usize));
    (beginning + above.sum::<u32>()).saturating_sub(ending)
}

impl Relied {
    /// Forgets what was told of a node, or makes room for one that has come. Where wet vents end is told by the traps on
    /// them, which have others once their vent has gone.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.wet, node, 0);
        let nodes = self.wet.len();
        self.wet_end.resize(nodes, NONE);
        self.wet_ending.resize(nodes, 0);
        put(&mut self.open, node, [(NONE, NONE); 2]);
    }

    fn open(&self, measured: &Measured<'_>, drain: u32, kind: usize) -> Option<u32> {
        let pipe = measured.pipe(drain)?;
        measured.see(Seen::Relied, pipe.from);
        let (_, fixture) = *self.open.get(pipe.from as usize)?.get(kind)?;
        (fixture != NONE).then_some(fixture)
    }

    /// The trap whose circuit a drain may be part of.
    pub(crate) fn may_be_circuit(&self, measured: &Measured<'_>, drain: u32) -> Option<u32> {
        self.open(measured, drain, 0)
    }

    /// The trap whose combination drain a drain may be part of.
    pub(crate) fn may_be_combination(&self, measured: &Measured<'_>, drain: u32) -> Option<u32> {
        self.open(measured, drain, 1)
    }

    fn runs(count: &[u32], measured: &Measured<'_>, drain: u32) -> bool {
        measured.pipe(drain).is_some_and(|pipe| {
            measured.see(Seen::Relied, pipe.from);
            count.get(pipe.from as usize).is_some_and(|&running| running > 0)
        })
    }

    /// Whether a drain is part of a wet vent.
    pub(crate) fn is_wet_vent(&self, measured: &Measured<'_>, drain: u32) -> bool {
        Self::runs(&self.wet, measured, drain)
    }

    /// Whether a drain is part of a circuit-vented branch that protects a trap.
    pub(crate) fn is_circuit(&self, measured: &Measured<'_>, drain: u32) -> bool {
        Self::runs(&self.circuit, measured, drain)
    }

    /// Whether a drain is part of a combination drain and vent that protects a trap.
    pub(crate) fn is_combination(&self, measured: &Measured<'_>, drain: u32) -> bool {
        Self::runs(&self.combination, measured, drain)
    }
}

/// Whether a drain comes before another as the one to bring air: straight through the run before a branch, the nearer
/// vent, the lighter load. Only between twins does the name decide, so that the order of the file does not matter.
fn before(measured: &Measured<'_>, air: &Air, one: u32, other: u32) -> bool {
    let key = |pipe: u32| {
        let facts = measured.pipe(pipe)?;
        let way = air.brought_by(measured, pipe).map(|vent| {
            let way = measured.distance(vent, facts.to);
            (way.gap().is_some(), way.nanometres())
        });
        let flow = measured.flow(pipe).map(|flow| (flow.fixtures, flow.own_load));
        let length = facts.length;
        let own = (length.gap().is_some(), length.nanometres(), facts.size);
        Some((facts.enters == Inlet::Branch, way, flow, own))
    };
    let name = |pipe: u32| measured.stated(pipe).map(|pipe| &*pipe.name);
    other == NONE
        || key(one)
            .cmp(&key(other))
            .then_with(|| name(one).cmp(&name(other)))
            .is_lt()
}

impl Air {
    /// Forgets what was told of a node, or makes room for one that has come.
    pub(crate) fn clear_node(&mut self, node: u32) {
        put(&mut self.head, node, NONE);
        put(&mut self.bringing, node, [NONE; 2]);
        put(&mut self.vented, node, Vented::NONE);
        put(&mut self.served, node, NONE);
        put(&mut self.doubt, node, (NONE, NONE));
        put(&mut self.ends, node, NONE);
    }

    /// The same of a pipe.
    pub(crate) fn clear_pipe(&mut self, pipe: u32) {
        put(&mut self.meets, pipe, (NONE, NONE));
    }

    /// Where the air comes from that a node's outgoing drain can bring, and the drains that bring air to the node.
    pub(crate) fn brought_to(&self, measured: &Measured<'_>, node: u32) -> (u32, [u32; 2]) {
        let mut bringing: [u32; 2] = [NONE; 2];
        for inlet in measured.inlets(node, Role::Drain) {
            if self.brought_by(measured, inlet).is_none() {
                continue;
            }
            if before(measured, self, inlet, bringing[0]) {
                bringing = [inlet, bringing[0]];
            } else if before(measured, self, inlet, bringing[1]) {
                bringing[1] = inlet;
            }
        }
        let above = self.brought_by(measured, bringing[0]);
        // A further vent on a horizontal drain that already brings air relieves it; at the top of a vertical one
        // it is where that drain's air comes from. A stack falls unless it is said to be offset.
        let falls = measured
            .next(node)
            .and_then(|next| measured.pipe(next))
            .is_some_and(|next| next.vertical.unwrap_or(next.kind == RunKind::Stack));
        let head = match (measured.vent_of(node), above) {
            (Some(_), above) if falls || above.is_none() => node,
            (_, above) => above.unwrap_or(NONE),
        };
        (head, bringing)
    }

    /// The connection of the traps that a drain which enters a node brings unvented, and how they arrive.
    pub(crate) fn met(&self, measured: &Measured<'_>, node: u32, inlet: u32) -> (u32, u32) {
        if measured.vent_of(node).is_some() || self.other(measured, node, inlet).is_some() {
            return (node, inlet);
        }
        let onward = measured.next(node).filter(|&next| {
            measured
                .pipe(next)
                .is_some_and(|next| next.kind == RunKind::Branch)
        });
        onward
            .and_then(|next| self.meets.get(next as usize).copied())
            .unwrap_or((NONE, NONE))
    }

    /// The dry vent whose air a drain brings along.
    pub(crate) fn brought_by(&self, measured: &Measured<'_>, drain: u32) -> Option<u32> {
        let pipe = measured.pipe(drain)?;
        if matches!(pipe.kind, RunKind::BuildingDrain | RunKind::BuildingSewer) {
            return None;
        }
        measured.see(Seen::Head, pipe.from);
        super::at(&self.head, pipe.from)
    }

    /// The dry vent whose air a node's outgoing drain brings along.
    pub(crate) fn head_of(&self, measured: &Measured<'_>, node: u32) -> Option<u32> {
        measured.see(Seen::Head, node);
        super::at(&self.head, node)
    }

    /// The node that a node's outgoing drain has its air from, where it has it from another.
    pub(crate) fn brought_from(&self, measured: &Measured<'_>, node: u32) -> Option<u32> {
        let head = self.head_of(measured, node).filter(|&head| head != node)?;
        measured.see(Seen::Head, node);
        let first = self.bringing.get(node as usize)?[0];
        let above = measured.pipe(first)?.from;
        (self.head_of(measured, above) == Some(head)).then_some(above)
    }

    /// The drain other than `arrival` that brings air to a node.
    fn other(&self, measured: &Measured<'_>, node: u32, arrival: u32) -> Option<u32> {
        measured.see(Seen::Head, node);
        let bringing = self.bringing.get(node as usize)?;
        bringing
            .iter()
            .copied()
            .find(|&drain| drain != NONE && drain != arrival)
    }

    /// How a fixture's trap gets its air, if it does.
    pub(crate) fn supply(&self, measured: &Measured<'_>, fixture: u32) -> Option<Supply> {
        measured.see(Seen::Supply, fixture);
        self.supplies
            .get(measured.ordinal(fixture)?)
            .copied()
            .filter(|supply| supply.connection != NONE)
    }

    pub(crate) fn find_supply(&self, measured: &Measured<'_>, fixture: u32) -> Supply {
        self.find(measured, fixture).unwrap_or(Supply::NONE)
    }

    /// What has no trap needs no air for one.
    fn find(&self, measured: &Measured<'_>, fixture: u32) -> Option<Supply> {
        measured.fixture_facts(fixture).filter(|one| one.has_trap)?;
        let (connection, arrival) = self.meets(measured, measured.next(fixture)?)?;
        let dry = Supply {
            connection,
            arrival,
            dry_vent: connection,
            brings: NONE,
        };
        if measured.vent_of(connection).is_some() {
            return Some(dry);
        }
        let brings = self.other(measured, connection, arrival)?;
        Some(Supply {
            dry_vent: self.brought_by(measured, brings)?,
            brings,
            ..dry
        })
    }

    /// The traps whose own connection is the vent at a node.
    pub(crate) fn vented(&self, measured: &Measured<'_>, node: u32) -> Option<&Vented> {
        measured.see(Seen::Vented, node);
        self.vented.get(node as usize)
    }

    /// Whether a fixture belongs on a wet vent. What does not, does not lengthen it by being joined to it: a fixture
    /// that no bathroom group has a place for, or one of another storey. None where a storey is not stated.
    fn belongs(&self, measured: &Measured<'_>, fixture: &FixtureFacts, supply: &Supply) -> Option<bool> {
        let vented = self.vented(measured, supply.dry_vent).copied();
        let vented = vented.unwrap_or(Vented::NONE);
        let (lowest, highest) = vented.storeys;
        if fixture.group_place.is_none() || vented.traps == 0 {
            return Some(false);
        }
        if fixture.storey == NONE {
            return None;
        }
        let among = lowest <= fixture.storey && fixture.storey <= highest;
        (among || vented.storey_gap == NONE).then_some(among)
    }

    /// What may depend on a dry vent further down than is known, and whose storey would tell.
    pub(crate) fn in_doubt(&self, measured: &Measured<'_>, node: u32, served: u32) -> u32 {
        let (connection, fixture) = self.doubt.get(node as usize).copied().unwrap_or((NONE, NONE));
        let further = connection != NONE && measured.depth(connection) < measured.depth(served);
        if further { fixture } else { NONE }
    }

    /// Whether a fixture lengthens the horizontal wet vent that it joins.
    fn lengthens(&self, measured: &Measured<'_>, fixture: &FixtureFacts, supply: &Supply) -> bool {
        supply.brings != NONE
            && self.belongs(measured, fixture, supply) == Some(true)
            && self.shapes(measured, supply)[0] == Some(Pattern::WetHorizontal)
    }

    /// The drain by which air first reaches a node.
    pub(crate) fn bringing(&self, measured: &Measured<'_>, node: u32) -> impl Iterator<Item = u32> + use<> {
        measured.see(Seen::Head, node);
        let bringing = self.bringing.get(node as usize).copied().unwrap_or([NONE; 2]);
        bringing.into_iter().filter(|&drain| drain != NONE)
    }

    /// The connection of the traps upstream of a drain that have met no vent so far, and how they arrive.
    pub(crate) fn meets(&self, measured: &Measured<'_>, drain: u32) -> Option<(u32, u32)> {
        measured.see(Seen::Meets, drain);
        self.meets
            .get(drain as usize)
            .copied()
            .filter(|meets| meets.0 != NONE)
    }

    /// The plain shapes that a supply has; two where it can be seen in two ways. None when a slope is not stated.
    pub(crate) fn shapes(&self, measured: &Measured<'_>, supply: &Supply) -> [Option<Pattern>; 2] {
        if supply.brings == NONE {
            let alone = self
                .vented(measured, supply.connection)
                .is_none_or(|vented| vented.traps < 2);
            return [
                Some(if alone {
                    Pattern::Individual
                } else {
                    Pattern::Common
                }),
                None,
            ];
        }
        match measured.pipe(supply.brings).and_then(|pipe| pipe.vertical) {
            None => [None, None],
            Some(false) => [Some(Pattern::WetHorizontal), None],
            Some(true)
                if measured
                    .flow(supply.brings)
                    .is_some_and(|flow| flow.fixtures == 1) =>
            {
                [Some(Pattern::CommonLevels), Some(Pattern::WetVertical)]
            }
            Some(true) => [Some(Pattern::WetVertical), None],
        }
    }

    /// The lowest connection of the horizontal wet vent that begins at a dry vent.
    pub(crate) fn end_of(&self, measured: &Measured<'_>, dry_vent: u32) -> Option<u32> {
        measured.see(Seen::Ends, dry_vent);
        super::at(&self.ends, dry_vent)
    }

    /// The lowest connection that depends on a dry vent through a drain, horizontal or vertical.
    pub(crate) fn served(&self) -> &[u32] {
        &self.served
    }
}
