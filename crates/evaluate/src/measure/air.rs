//! How air reaches each trap: the first vent, or drain that brings air, on the water's way.
//!
//! Every trap has one connection: the first node downstream where a dry vent stands, or where its drain joins
//! one that brings air from a dry vent further up. Which shapes protect a trap is the rule set's to say.

use crownweir_vocabulary::{Inlet, Pattern, Role, RunKind};

use super::{FixtureFacts, Measured, NONE};

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
    const NONE: Self = Self {
        connection: NONE,
        arrival: NONE,
        dry_vent: NONE,
        brings: NONE,
    };
}

/// The traps whose own connection is a dry vent.
#[derive(Debug, Clone, Copy)]
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
    const NONE: Self = Self {
        traps: 0,
        a_fixture: NONE,
        storeys: (NONE, 0),
        storey_gap: NONE,
    };
}

#[derive(Debug, Default)]
pub(crate) struct Air {
    /// For each node, where the air comes from that its outgoing drain can bring.
    head: Vec<u32>,
    /// For each node, the two drains that bring air to it first.
    bringing: Vec<[u32; 2]>,
    /// For each drain, the connection of the traps upstream that have met none so far, and how they arrive.
    meets: Vec<(u32, u32)>,
    /// How the trap of each fixture gets its air, by fixture.
    supplies: Vec<Supply>,
    /// For each node, the traps whose own connection is its vent.
    vented: Vec<Vented>,
    /// For each node, if air goes on from its vent through a drain, the lowest connection that depends on it.
    served: Vec<u32>,
    /// For each node, if it is the dry vent of a horizontal wet vent, the lowest connection that depends on it.
    ends: Vec<u32>,
}

pub(crate) fn air(measured: &Measured<'_>) -> Air {
    let nodes = measured.network.graph().node_count();
    let mut air = Air {
        head: vec![NONE; nodes],
        bringing: vec![[NONE; 2]; nodes],
        meets: vec![(NONE, NONE); measured.pipes.len()],
        supplies: vec![Supply::NONE; measured.fixtures.len()],
        vented: vec![Vented::NONE; nodes],
        served: vec![NONE; nodes],
        ends: vec![NONE; nodes],
    };
    for node in measured.drain_order() {
        let here = node as usize;
        let mut bringing: [u32; 2] = [NONE; 2];
        for inlet in measured.inlets(node, Role::Drain) {
            if air.brought_by(measured, inlet).is_none() {
                continue;
            }
            if before(measured, &air, inlet, bringing[0]) {
                bringing = [inlet, bringing[0]];
            } else if before(measured, &air, inlet, bringing[1]) {
                bringing[1] = inlet;
            }
        }
        air.bringing[here] = bringing;
        let above = air.brought_by(measured, bringing[0]);
        // A further vent on a horizontal drain that already brings air relieves it; at the top of a vertical one
        // it is where that drain's air comes from.
        let falls = measured
            .next(node)
            .and_then(|next| measured.pipe(next))
            .is_some_and(|next| next.vertical == Some(true));
        air.head[here] = match (measured.vent_of(node), above) {
            (Some(_), above) if falls || above.is_none() => node,
            (_, above) => above.unwrap_or(NONE),
        };
    }
    for node in measured.drain_order().rev() {
        let onward = measured
            .next(node)
            .filter(|&next| {
                measured
                    .pipe(next)
                    .is_some_and(|next| next.kind == RunKind::Branch)
            })
            .and_then(|next| air.meets.get(next as usize).copied())
            .unwrap_or((NONE, NONE));
        let is_vented = measured.vent_of(node).is_some();
        for inlet in measured.inlets(node, Role::Drain) {
            let met = is_vented || air.other(node, inlet).is_some();
            air.meets[inlet as usize] = if met { (node, inlet) } else { onward };
        }
    }
    for (ordinal, fixture) in measured.fixtures.iter().enumerate() {
        let Some(supply) = air.find_supply(measured, fixture.node) else {
            continue;
        };
        air.supplies[ordinal] = supply;
        if supply.brings != NONE {
            continue;
        }
        let vented = &mut air.vented[supply.connection as usize];
        let other = measured.fixture_facts(vented.a_fixture);
        if vented.traps == 0 {
            vented.a_fixture = fixture.node;
        } else if other.is_none_or(|other| other.fixture_type != fixture.fixture_type) {
            vented.a_fixture = NONE;
        }
        vented.traps += 1;
        if fixture.storey == NONE {
            vented.storey_gap = fixture.node;
        } else {
            vented.storeys = (
                vented.storeys.0.min(fixture.storey),
                vented.storeys.1.max(fixture.storey),
            );
        }
    }
    let (ends, served) = find_ends(measured, &air);
    (air.ends, air.served) = (ends, served);
    air
}

/// The drains that are part of a wet vent or of a combination drain and vent, and how far down each dry vent is
/// depended on; told once it is known which arrangement protects each trap.
#[derive(Debug, Default)]
pub(crate) struct Relied {
    /// For each node, how many wet vents run through its outgoing drain.
    wet: Vec<u32>,
    /// For each node, how many traps' circuits run through its outgoing drain.
    circuit: Vec<u32>,
    /// For each node, how many traps' combination drains run through its outgoing drain.
    combination: Vec<u32>,
    /// For each node, if air goes on from its vent through a drain, the lowest connection that depends on it.
    pub(crate) served: Vec<u32>,
    /// Whether an arrangement makes that differ from what the shapes alone say.
    pub(crate) differs: bool,
}

pub(crate) fn relied(measured: &Measured<'_>) -> Relied {
    let nodes = measured.network.graph().node_count();
    let air = &measured.air;
    let mut relied = Relied {
        served: air.served.clone(),
        ..Relied::default()
    };
    let depth = |node: u32| measured.downstream.depth.get(node as usize).copied().unwrap_or(0);
    // What another arrangement protects is on no wet vent.
    let mut ends = vec![NONE; nodes];
    let (mut circuits, mut combinations) = (Vec::new(), Vec::new());
    for (ordinal, fixture) in measured.fixtures.iter().enumerate() {
        let supply = air.supplies[ordinal];
        let chosen = measured.chosen_pattern(fixture.node);
        if supply.connection == NONE {
            // What joins a vented building drain has no dry vent that it could serve.
            if let (Some(Pattern::Combination), Some(part)) =
                (chosen, measured.combinations.part(measured, fixture.node))
            {
                combinations.push((part.start, part.end));
            }
            continue;
        }
        let (mut vent, mut reach) = (supply.dry_vent, NONE);
        match chosen {
            Some(Pattern::Combination) => {
                if let Some(part) = measured.combinations.part(measured, fixture.node) {
                    combinations.push((part.start, part.end));
                    reach = part.end;
                }
            }
            Some(Pattern::Circuit) => {
                vent = measured.circuits.vent(measured, &supply).unwrap_or(vent);
                reach = supply.connection;
                circuits.push((vent, reach));
            }
            Some(Pattern::None) => relied.differs = true,
            None | Some(Pattern::WetHorizontal) if air.lengthens(measured, fixture, &supply) => {
                deepen(&depth, &mut ends[supply.dry_vent as usize], supply.connection);
            }
            _ => {}
        }
        if reach != NONE {
            relied.differs = true;
            deepen(&depth, &mut relied.served[vent as usize], reach);
        }
    }
    let wet = ends
        .iter()
        .zip(0..)
        .filter(|(to, _)| **to != NONE)
        .map(|(&to, from)| (from, to));
    relied.wet = running(measured, wet);
    relied.circuit = running(measured, circuits.into_iter());
    relied.combination = running(measured, combinations.into_iter());
    relied
}

fn deepen(depth: &impl Fn(u32) -> u32, end: &mut u32, connection: u32) {
    if *end == NONE || depth(connection) < depth(*end) {
        *end = connection;
    }
}

/// How many of the ways, each from one node down to another, run through each node's outgoing drain: one begins, one
/// ends, and between them the count says so.
fn running(measured: &Measured<'_>, ways: impl Iterator<Item = (u32, u32)>) -> Vec<u32> {
    let nodes = measured.network.graph().node_count();
    let mut count = vec![0_u32; nodes];
    let mut ending = vec![0_u32; nodes];
    for (from, to) in ways {
        count[from as usize] += 1;
        ending[to as usize] += 1;
    }
    for node in measured.drain_order() {
        let running = count[node as usize].saturating_sub(ending[node as usize]);
        count[node as usize] = running;
        let below = measured.next(node).and_then(|pipe| measured.pipe(pipe));
        if let Some(slot) = below.and_then(|pipe| count.get_mut(pipe.to as usize)) {
            *slot += running;
        }
    }
    count
}

impl Relied {
    fn runs(count: &[u32], measured: &Measured<'_>, drain: u32) -> bool {
        measured
            .pipe(drain)
            .is_some_and(|pipe| count.get(pipe.from as usize).is_some_and(|&running| running > 0))
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

/// How far down the wet vent of each dry vent reaches, and how far down it is depended on at all.
fn find_ends(measured: &Measured<'_>, air: &Air) -> (Vec<u32>, Vec<u32>) {
    let depth = |node: u32| measured.downstream.depth.get(node as usize).copied().unwrap_or(0);
    let (mut ends, mut served) = (air.ends.clone(), air.served.clone());
    for (ordinal, fixture) in measured.fixtures.iter().enumerate() {
        let supply = air.supplies[ordinal];
        if supply.connection == NONE || supply.brings == NONE {
            continue;
        }
        let pattern = air.shapes(measured, &supply)[0];
        if air.belongs(fixture, &supply) || pattern == Some(Pattern::CommonLevels) {
            deepen(&depth, &mut served[supply.dry_vent as usize], supply.connection);
        }
        if air.lengthens(measured, fixture, &supply) {
            deepen(&depth, &mut ends[supply.dry_vent as usize], supply.connection);
        }
    }
    (ends, served)
}

impl Air {
    /// The dry vent whose air a drain brings along.
    fn brought_by(&self, measured: &Measured<'_>, drain: u32) -> Option<u32> {
        let pipe = measured.pipe(drain)?;
        if matches!(pipe.kind, RunKind::BuildingDrain | RunKind::BuildingSewer) {
            return None;
        }
        super::at(&self.head, pipe.from)
    }

    /// The dry vent whose air a node's outgoing drain brings along.
    pub(crate) fn head_of(&self, node: u32) -> Option<u32> {
        super::at(&self.head, node)
    }

    /// The node that a node's outgoing drain has its air from, where it has it from another.
    pub(crate) fn brought_from(&self, measured: &Measured<'_>, node: u32) -> Option<u32> {
        let head = self.head_of(node).filter(|&head| head != node)?;
        let first = self.bringing.get(node as usize)?[0];
        let above = measured.pipe(first)?.from;
        (self.head_of(above) == Some(head)).then_some(above)
    }

    /// The drain other than `arrival` that brings air to a node.
    fn other(&self, node: u32, arrival: u32) -> Option<u32> {
        let bringing = self.bringing.get(node as usize)?;
        bringing
            .iter()
            .copied()
            .find(|&drain| drain != NONE && drain != arrival)
    }

    /// How a fixture's trap gets its air, if it does.
    pub(crate) fn supply(&self, measured: &Measured<'_>, fixture: u32) -> Option<Supply> {
        self.supplies
            .get(measured.ordinal(fixture)?)
            .copied()
            .filter(|supply| supply.connection != NONE)
    }

    fn find_supply(&self, measured: &Measured<'_>, fixture: u32) -> Option<Supply> {
        let first = measured.next(fixture)?;
        let &(connection, arrival) = self.meets.get(first as usize)?;
        if connection == NONE {
            return None;
        }
        let dry = Supply {
            connection,
            arrival,
            dry_vent: connection,
            brings: NONE,
        };
        if measured.vent_of(connection).is_some() {
            return Some(dry);
        }
        let brings = self.other(connection, arrival)?;
        Some(Supply {
            dry_vent: self.brought_by(measured, brings)?,
            brings,
            ..dry
        })
    }

    /// The traps whose own connection is the vent at a node.
    pub(crate) fn vented(&self, node: u32) -> Option<&Vented> {
        self.vented.get(node as usize)
    }

    /// Whether a fixture belongs on a wet vent. What does not, does not lengthen it by being joined to it: a fixture
    /// that no bathroom group has a place for, or one of another storey.
    fn belongs(&self, fixture: &FixtureFacts<'_>, supply: &Supply) -> bool {
        let storeys = self
            .vented(supply.dry_vent)
            .map_or((NONE, 0), |vented| vented.storeys);
        fixture.group_place.is_some() && storeys.0 <= fixture.storey && fixture.storey <= storeys.1
    }

    /// Whether a fixture lengthens the horizontal wet vent that it joins.
    fn lengthens(&self, measured: &Measured<'_>, fixture: &FixtureFacts<'_>, supply: &Supply) -> bool {
        supply.brings != NONE
            && self.belongs(fixture, supply)
            && self.shapes(measured, supply)[0] == Some(Pattern::WetHorizontal)
    }

    /// The drain by which air first reaches a node.
    pub(crate) fn bringing(&self, node: u32) -> impl Iterator<Item = u32> {
        let bringing = self.bringing.get(node as usize).copied().unwrap_or([NONE; 2]);
        bringing.into_iter().filter(|&drain| drain != NONE)
    }

    /// The connection of the traps upstream of a drain that have met no vent so far, and how they arrive.
    pub(crate) fn meets(&self, drain: u32) -> Option<(u32, u32)> {
        self.meets
            .get(drain as usize)
            .copied()
            .filter(|meets| meets.0 != NONE)
    }

    /// The plain shapes that a supply has; two where it can be seen in two ways. None when a slope is not stated.
    pub(crate) fn shapes(&self, measured: &Measured<'_>, supply: &Supply) -> [Option<Pattern>; 2] {
        if supply.brings == NONE {
            let alone = self
                .vented(supply.connection)
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
    pub(crate) fn end_of(&self, dry_vent: u32) -> Option<u32> {
        super::at(&self.ends, dry_vent)
    }

    /// The lowest connection that depends on a dry vent through a drain, horizontal or vertical.
    pub(crate) fn served(&self) -> &[u32] {
        &self.served
    }
}
