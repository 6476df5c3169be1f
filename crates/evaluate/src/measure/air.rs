//! How air reaches each trap: the first vent, or drain that brings air, on the water's way.
//!
//! Every trap has one connection: the first node downstream where a dry vent stands, or where its drain joins
//! one that brings air from a dry vent further up. Which shapes protect a trap is the rule set's to say.

use crownweir_vocabulary::{Pattern, Role, RunKind};

use super::{Measured, NONE};

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

#[derive(Debug, Default)]
pub(crate) struct Air {
    /// For each node, where the air comes from that its outgoing drain can bring.
    head: Vec<u32>,
    /// For each drain, the connection of the traps upstream that have met none so far, and how they arrive.
    meets: Vec<(u32, u32)>,
    /// How the trap of each fixture gets its air, by fixture.
    supplies: Vec<Supply>,
    /// For each node, if it is the dry vent of a wet vent, the lowest connection that depends on it.
    ends: Vec<u32>,
    /// For each node, how many wet vents run through its outgoing drain.
    wet: Vec<u32>,
}

pub(crate) fn air(measured: &Measured<'_>) -> Air {
    let nodes = measured.network.graph().node_count();
    let mut air = Air {
        head: vec![NONE; nodes],
        meets: vec![(NONE, NONE); measured.pipes.len()],
        supplies: vec![Supply::NONE; measured.fixtures.len()],
        ends: vec![NONE; nodes],
        wet: vec![0; nodes],
    };
    for node in measured.drain_order() {
        air.head[node as usize] = match measured.vent_of(node) {
            Some(_) => node,
            None => measured
                .inlets(node, Role::Drain)
                .find_map(|inlet| air.brought_by(measured, inlet))
                .unwrap_or(NONE),
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
        let is_joint = measured.inlets(node, Role::Drain).nth(1).is_some();
        let brings = |air: &Air, inlet| usize::from(air.brought_by(measured, inlet).is_some());
        let all: usize = match is_joint && !is_vented {
            true => measured
                .inlets(node, Role::Drain)
                .map(|inlet| brings(&air, inlet))
                .sum(),
            false => 0,
        };
        for inlet in measured.inlets(node, Role::Drain) {
            let met = is_vented || (all > 0 && all > brings(&air, inlet));
            air.meets[inlet as usize] = if met { (node, inlet) } else { onward };
        }
    }
    for (ordinal, facts) in measured.fixtures.iter().enumerate() {
        let fixture = facts.node;
        let Some(supply) = air.find_supply(measured, fixture) else {
            continue;
        };
        air.supplies[ordinal] = supply;
        if !matches!(
            air.patterns(measured, &supply),
            [Some(Pattern::WetHorizontal | Pattern::WetVertical), _]
        ) {
            continue;
        }
        // A fixture that no bathroom group has a place for does not lengthen the wet vent by being joined to it.
        if facts.group_place.is_none() {
            continue;
        }
        let depth = |node: u32| measured.downstream.depth.get(node as usize).copied().unwrap_or(0);
        let end = &mut air.ends[supply.dry_vent as usize];
        if *end == NONE || depth(supply.connection) < depth(*end) {
            *end = supply.connection;
        }
    }
    // A wet vent runs from its dry vent to its lowest connection: one begins, one ends, and between them the
    // count says that a drain is part of it.
    let mut ending = vec![0_u32; nodes];
    for (from, &to) in air.ends.iter().enumerate() {
        if to != NONE {
            air.wet[from] += 1;
            ending[to as usize] += 1;
        }
    }
    for node in measured.drain_order() {
        let running = air.wet[node as usize].saturating_sub(ending[node as usize]);
        air.wet[node as usize] = running;
        let below = measured.next(node).and_then(|pipe| measured.pipe(pipe));
        if let Some(slot) = below.and_then(|pipe| air.wet.get_mut(pipe.to as usize)) {
            *slot += running;
        }
    }
    air
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
        let other = measured
            .inlets(connection, Role::Drain)
            .filter(|&inlet| inlet != arrival)
            .find_map(|inlet| Some((inlet, self.brought_by(measured, inlet)?)));
        let fixtures = measured
            .totals
            .get(connection as usize)
            .map_or(0, |totals| totals.fixtures);
        let dry = Supply {
            connection,
            arrival,
            dry_vent: connection,
            brings: NONE,
        };
        match (measured.vent_of(connection), other) {
            (Some(_), None) => Some(dry),
            (Some(_), Some(_)) if fixtures <= 2 => Some(dry),
            (_, Some((brings, dry_vent))) => Some(Supply {
                connection,
                arrival,
                dry_vent,
                brings,
            }),
            (None, None) => None,
        }
    }

    /// The shapes that a supply has; two where it can be seen in two ways. None when a slope is not stated.
    pub(crate) fn patterns(&self, measured: &Measured<'_>, supply: &Supply) -> [Option<Pattern>; 2] {
        if supply.brings == NONE {
            let fixtures = measured
                .totals
                .get(supply.connection as usize)
                .map_or(0, |totals| totals.fixtures);
            return [
                Some(if fixtures > 1 {
                    Pattern::Common
                } else {
                    Pattern::Individual
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

    /// Whether a drain is part of a wet vent.
    pub(crate) fn is_wet_vent(&self, measured: &Measured<'_>, drain: u32) -> bool {
        measured.pipe(drain).is_some_and(|pipe| {
            self.wet
                .get(pipe.from as usize)
                .is_some_and(|&running| running > 0)
        })
    }

    /// The lowest connection that depends on a dry vent through a drain.
    pub(crate) fn end_of(&self, dry_vent: u32) -> Option<u32> {
        super::at(&self.ends, dry_vent)
    }
}
