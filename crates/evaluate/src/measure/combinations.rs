//! Drains beyond the fixture's own in which air stands above the water: where such a drain begins for each trap,
//! where it ends, and what lies between.
//!
//! It tells them by their shape alone; which of them are large enough to work is the rule set's to say.

use std::sync::OnceLock;

use crownweir_rulebook::Size;
use crownweir_vocabulary::{Role, RunKind};

use super::ways::Extremes;
use super::{Distance, FixtureFacts, Measured, NONE, Seen, both_storeys, put};

/// A trap's part in such a drain.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Part {
    /// From here on the drain is no longer the fixture's own: it is joined, or larger, or comes out of a drop. The fixture,
    /// where its own drain leads level to the building drain.
    pub(crate) start: u32,
    /// Where it meets a stack, the building drain, a vertical drain, or a drain of vented fixtures.
    pub(crate) end: u32,
    /// The end of the fixture drain, before any drop.
    pub(crate) arm_end: u32,
    /// Length of the vertical drains between the fixture drain and the start.
    pub(crate) drop: Distance,
    /// What is known of it.
    pub(crate) drop_known: i64,
    /// The steepest of them.
    pub(crate) steepest_drop: u32,
    /// The smallest of them, as far as their sizes are stated.
    pub(crate) narrowest_drop: Option<Size>,
    /// One whose size is not stated.
    pub(crate) drop_gap: u32,
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Combinations {
    /// For each drain, where the level drain ends that it is part of.
    pub(crate) end: Vec<u32>,
    /// For each drain, the last drain before that.
    pub(crate) last: Vec<u32>,
    /// For each drain, the drains from it to there.
    pub(crate) below: Vec<Extremes>,
    /// For each drain, whether it carries a vented fixture that has come by branches.
    pub(crate) carries: Vec<bool>,
    /// For each drain, the lowest and highest storey of the vented fixtures that it carries; only what joins a
    /// building drain asks.
    pub(crate) storeys: OnceLock<Vec<(u32, u32)>>,
}

pub(crate) fn combinations(measured: &Measured<'_>) -> Combinations {
    let mut found = Combinations {
        end: vec![NONE; measured.state.pipes.len()],
        last: vec![NONE; measured.state.pipes.len()],
        below: vec![Extremes::NONE; measured.state.pipes.len()],
        carries: vented(measured),
        storeys: OnceLock::new(),
    };
    for node in measured.drain_order().rev() {
        for inlet in measured.inlets(node, Role::Drain) {
            let (end, last, below) = found.level_at(measured, node, inlet);
            found.end[inlet as usize] = end;
            found.last[inlet as usize] = last;
            found.below[inlet as usize] = below;
        }
    }
    found
}

/// The fixtures whose own drains meet a dry vent of their own, each with where that stands.
fn vented_fixtures<'a>(measured: &'a Measured<'a>) -> impl Iterator<Item = (&'a FixtureFacts, u32)> {
    let fixtures = measured.all_fixtures();
    fixtures.filter_map(|fixture| Some((fixture, own_vent(measured, fixture.node)?)))
}

/// The dry vent that a fixture's own drain meets, where it does.
pub(crate) fn own_vent(measured: &Measured<'_>, fixture: u32) -> Option<u32> {
    let supply = measured.state.air.supply(measured, fixture)?;
    let alone = measured.flow(supply.arrival)?.fixtures == 1;
    (supply.brings == NONE && alone).then_some(supply.connection)
}

/// For each drain, whether it carries such a fixture, other than by a stack.
fn vented(measured: &Measured<'_>) -> Vec<bool> {
    let mut at_vent = vec![false; measured.node_bound()];
    for (_, vent) in vented_fixtures(measured) {
        at_vent[vent as usize] = true;
    }
    let mut carries = vec![false; measured.state.pipes.len()];
    for node in measured.drain_order() {
        if let Some(next) = measured.next(node) {
            carries[next as usize] = carries_at(measured, &carries, at_vent[node as usize], node);
        }
    }
    carries
}

/// Whether the drain that leads away from a node carries such a fixture, where it is told of those above it and
/// whether one meets its vent at the node.
pub(crate) fn carries_at(measured: &Measured<'_>, carries: &[bool], at_vent: bool, node: u32) -> bool {
    let by_branch = |inlet: &u32| {
        measured
            .pipe(*inlet)
            .is_some_and(|pipe| pipe.kind != RunKind::Stack)
    };
    let mut above = measured.inlets(node, Role::Drain).filter(by_branch);
    at_vent || above.any(|inlet| carries[inlet as usize])
}

/// For each drain, the lowest and highest storey of the vented fixtures that it carries, other than by a stack. A
/// storey that is not stated is above all.
pub(crate) fn storeys(measured: &Measured<'_>) -> Vec<(u32, u32)> {
    let none = (NONE, 0);
    let mut at_vent = vec![none; measured.node_bound()];
    for (fixture, vent) in vented_fixtures(measured) {
        let slot = &mut at_vent[vent as usize];
        *slot = both_storeys(*slot, (fixture.storey, fixture.storey));
    }
    let mut carried = vec![none; measured.state.pipes.len()];
    for node in measured.drain_order() {
        let Some(next) = measured.next(node) else { continue };
        let above = measured.inlets(node, Role::Drain).filter(|&inlet| {
            measured
                .pipe(inlet)
                .is_some_and(|pipe| pipe.kind != RunKind::Stack)
        });
        let above = above.map(|inlet| carried[inlet as usize]);
        carried[next as usize] = above.fold(at_vent[node as usize], both_storeys);
    }
    carried
}

impl Combinations {
    /// Forgets what was told of a pipe, or makes room for one that has come.
    pub(crate) fn clear_pipe(&mut self, pipe: u32) {
        put(&mut self.end, pipe, NONE);
        put(&mut self.last, pipe, NONE);
        put(&mut self.below, pipe, Extremes::NONE);
        put(&mut self.carries, pipe, false);
    }

    /// Where the level drain ends that a drain is part of which enters a node, the last drain before that, and all
    /// drains to there.
    pub(crate) fn level_at(&self, measured: &Measured<'_>, node: u32, inlet: u32) -> (u32, u32, Extremes) {
        let onward = measured.next(node).filter(|&next| {
            measured
                .pipe(next)
                .is_some_and(|next| next.kind == RunKind::Branch && next.vertical != Some(true))
        });
        let joins_vented = measured.state.air.bringing(measured, node).any(|other| {
            let lies = measured.pipe(other).map(|other| other.vertical);
            measured.see(Seen::Carries, other);
            other != inlet && self.carries[other as usize] && (onward.is_some() || lies == Some(Some(false)))
        });
        let ends = joins_vented || measured.vent_of(node).is_some();
        let (end, last, below) = match onward.filter(|_| !ends).map(|onward| onward as usize) {
            Some(onward) => (self.end[onward], self.last[onward], self.below[onward]),
            None => (node, inlet, Extremes::NONE),
        };
        (end, last, below.with(measured, inlet))
    }

    /// The drains that bring vented fixtures to where a trap's part joins a building drain, however that lies; none of
    /// one that takes only stacks, or of a part that ends elsewhere.
    fn beside<'a>(&'a self, measured: &'a Measured<'_>, part: &Part) -> impl Iterator<Item = u32> + 'a {
        let end = part.end;
        let joins = measured
            .next(end)
            .and_then(|next| measured.pipe(next))
            .is_some_and(|next| next.kind == RunKind::BuildingDrain);
        let inlets = measured.inlets(end, Role::Drain).filter(move |_| joins);
        // The part itself carries none, or it would end where that joins.
        inlets.filter(move |&inlet| {
            let by_stack = measured
                .pipe(inlet)
                .is_some_and(|pipe| pipe.kind == RunKind::Stack);
            measured.see(Seen::Carries, inlet);
            !by_stack && self.carries.get(inlet as usize) == Some(&true)
        })
    }

    /// Whether a trap's part joins a horizontal building drain that serves vented fixtures there, other than by stacks;
    /// the building drain where its slope is not stated and it hangs on that.
    pub(crate) fn joins_vented_building_drain(
        &self,
        measured: &Measured<'_>,
        part: &Part,
    ) -> Result<bool, u32> {
        if self.beside(measured, part).next().is_none() {
            return Ok(false);
        }
        let next = measured.next(part.end).unwrap_or(NONE);
        let vertical = measured.pipe(next).and_then(|next| next.vertical);
        vertical.map(|vertical| !vertical).ok_or(next)
    }

    /// The lowest and highest storey of those fixtures.
    pub(crate) fn storeys_beside(&self, measured: &Measured<'_>, part: &Part) -> (u32, u32) {
        measured.see(Seen::StoreysBeside, 0);
        let storeys = self.storeys.get_or_init(|| storeys(measured));
        let each = self.beside(measured, part);
        each.filter_map(|drain| storeys.get(drain as usize).copied())
            .fold((NONE, 0), both_storeys)
    }

    /// A trap's part in a drain with air above its water, if there is any such drain between the fixture's own and
    /// what it ends at, as far as the sizes tell.
    pub(crate) fn part(&self, measured: &Measured<'_>, fixture: u32) -> Option<Part> {
        self.seen(measured, fixture)?.ok()
    }

    /// The same, or the drain without a size on which it hangs where the part begins.
    pub(crate) fn seen(&self, measured: &Measured<'_>, fixture: u32) -> Option<Result<Part, u32>> {
        self.walk(measured, fixture, None)
    }

    /// The parts that come of drains without a size being larger than the fixture's own or not.
    pub(crate) fn either(&self, measured: &Measured<'_>, fixture: u32) -> [Option<Part>; 2] {
        [true, false].map(|larger| self.walk(measured, fixture, Some(larger))?.ok())
    }

    /// The part; the drain without a size on which that hangs, unless it is told whether such drains are larger.
    fn walk(&self, measured: &Measured<'_>, fixture: u32, larger: Option<bool>) -> Option<Result<Part, u32>> {
        let first = measured.next(fixture)?;
        let own_size = measured.pipe(first)?.size;
        let (mut node, mut drain) = (fixture, first);
        let mut part = Part {
            start: NONE,
            end: NONE,
            arm_end: NONE,
            drop: Distance::ZERO,
            drop_known: 0,
            steepest_drop: NONE,
            narrowest_drop: None,
            drop_gap: NONE,
        };
        // Only drains of a single fixture are walked, so that all traps together take one pass.
        loop {
            let pipe = measured.pipe(drain).filter(|pipe| pipe.kind == RunKind::Branch)?;
            let shared = measured.flow(drain).is_none_or(|flow| flow.fixtures > 1);
            let vertical = pipe.vertical == Some(true);
            if vertical && shared {
                return None;
            }
            if !vertical && (shared || part.arm_end != NONE) {
                part.start = node;
                break;
            }
            if !vertical && drain != first {
                let known = own_size.zip(pipe.size).map(|(own, size)| size > own);
                match known.or(larger) {
                    Some(true) => {
                        part.start = node;
                        break;
                    }
                    Some(false) => {}
                    None if own_size.is_none() => return Some(Err(first)),
                    None => return Some(Err(drain)),
                }
            }
            if vertical {
                if part.arm_end == NONE {
                    part.arm_end = node;
                }
                part.drop = part.drop.plus(pipe.length);
                part.drop_known = part.drop_known.saturating_add(pipe.length.nanometres());
                let steepest = measured.slope(part.steepest_drop);
                if part.steepest_drop == NONE || measured.slope(drain) > steepest {
                    part.steepest_drop = drain;
                }
                match pipe.size {
                    None => part.drop_gap = drain,
                    Some(size) => {
                        part.narrowest_drop = Some(part.narrowest_drop.map_or(size, |own| own.min(size)));
                    }
                }
            }
            node = pipe.to;
            let onward = measured.next(node)?;
            let drops = measured
                .pipe(onward)
                .is_some_and(|pipe| pipe.vertical == Some(true));
            measured.see(Seen::Level, drain);
            // What is vented before the drain is level again has no part in it.
            if measured.vent_of(node).is_some() && (drops || !vertical) {
                return None;
            }
            if super::at(&self.end, drain)? == node && !vertical && !drops {
                let joined = measured.pipe(onward)?;
                if joined.kind != RunKind::BuildingDrain {
                    return None;
                }
                (part.start, part.arm_end) = (fixture, node);
                break;
            }
            drain = onward;
        }
        if part.arm_end == NONE {
            part.arm_end = part.start;
        }
        measured.see(Seen::Level, drain);
        part.end = super::at(&self.end, drain)?;
        Some(Ok(part))
    }

    /// The last drain of a part.
    pub(crate) fn last(&self, measured: &Measured<'_>, part: &Part) -> Option<u32> {
        let first = measured.next(part.start)?;
        measured.see(Seen::Level, first);
        super::at(&self.last, first)
    }

    /// The drains of a part, the least and the most of them.
    pub(crate) fn line(&self, measured: &Measured<'_>, part: &Part) -> Option<&Extremes> {
        let first = measured.next(part.start)?;
        measured.see(Seen::Level, first);
        self.below.get(first as usize)
    }
}

impl Part {
    /// Developed length of the fixture drain.
    pub(crate) fn arm(&self, measured: &Measured<'_>, fixture: u32) -> Distance {
        measured.distance(fixture, self.arm_end)
    }
}
