//! Where vents come together that serve drains in common: each load counts once, by however many of them it is served, and
//! a bathroom group as one where they serve all of it.
//!
//! Water has one way to go, so that of two drains with all that lies upstream of them either one holds the other or they have
//! nothing in common; and no vent divides once it has left the drains.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use crownweir_vocabulary::Role;

use super::facts::{Element, load};
use super::loads::{Credit, WholeGroup};
use super::{Got, Measured, NONE, Seen, at};
use crate::show;

/// What counts otherwise from some node of the vents on, because vents have come together there. In order, by that node first.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Overlaps {
    /// The drains, told by the nodes that they end at, that count no more: what has come by another vent holds them.
    drains: Vec<(u32, u32)>,
    /// What bathroom groups take off the load, whose fixtures are served by several drains.
    credits: Vec<(u32, Turn, Credit)>,
}

/// What becomes of a bathroom group's credit where vents come together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Turn {
    /// All of the group is served from here on.
    Whole,
    /// It counts no more: another credit of the same group has come.
    Within,
}

impl Overlaps {
    /// The drains that count no more from a node on; one of them as often as it has been counted too much.
    pub(crate) fn at(&self, node: u32) -> impl Iterator<Item = u32> {
        let first = self.drains.partition_point(|&(at, _)| at < node);
        let here = self
            .drains
            .iter()
            .skip(first)
            .take_while(move |&&(at, _)| at == node);
        here.map(|&(_, drain)| drain)
    }

    /// The credits of bathroom groups that begin or cease to count at a node.
    pub(crate) fn credits_at(&self, node: u32) -> impl Iterator<Item = (Turn, Credit)> {
        let first = self.credits.partition_point(|&(at, ..)| at < node);
        let here = self
            .credits
            .iter()
            .skip(first)
            .take_while(move |&&(at, ..)| at == node);
        here.map(|&(_, turn, credit)| (turn, credit))
    }

    /// The nodes from which on others count no more.
    pub(crate) fn differing(&self, other: &Self) -> BTreeSet<u32> {
        let drains = self.drains.iter().chain(&other.drains).map(|&(at, _)| at);
        let credits = self.credits.iter().chain(&other.credits).map(|&(at, ..)| at);
        let mut nodes: BTreeSet<u32> = drains.chain(credits).collect();
        nodes.retain(|&node| {
            !self.at(node).eq(other.at(node)) || !self.credits_at(node).eq(other.credits_at(node))
        });
        nodes
    }
}

/// Where each drain that is served begins and ends in an order in which it holds what lies upstream of it.
struct Spans {
    first: Vec<u32>,
    count: Vec<u32>,
}

impl Spans {
    /// None where no drain that is served lies upstream of another and none serves a part of a group, and so nothing counts
    /// otherwise than by itself.
    fn of(measured: &Measured<'_>, served: &[u32]) -> Option<(Self, Parts)> {
        let mut count = vec![0_u32; measured.node_bound()];
        let mut ends = Vec::new();
        for node in measured.vent_order() {
            if let Some(end) = served_from(measured, served, node) {
                for _ in measured.state.vents_from(node) {
                    count[end as usize] += 1;
                    ends.push(end);
                }
            }
        }
        let below = |node: u32| below(measured, node).map(|below| below as usize);
        let parts = parts(measured, &count);
        for node in measured.drain_order() {
            if let Some(below) = below(node) {
                count[below] += count[node as usize];
            }
        }
        if parts.is_empty() && ends.iter().all(|&end| count[end as usize] == 1) {
            return None;
        }
        // What lies upstream of a node comes first in its span, its own vents last.
        let (mut first, mut free) = (vec![0; count.len()], vec![0; count.len()]);
        for node in measured.drain_order().rev() {
            let here = node as usize;
            if let Some(below) = below(node).filter(|_| count[here] > 0) {
                first[here] = free[below];
                free[here] = free[below];
                free[below] += count[here];
            }
        }
        Some((Self { first, count }, parts))
    }

    fn of_drain(&self, end: u32) -> Range<u32> {
        let first = self.first[end as usize];
        first..first + self.count[end as usize]
    }

    /// Whether a drain is another, or holds it.
    fn holds(&self, one: u32, other: u32) -> bool {
        let (one, other) = (self.of_drain(one), self.of_drain(other));
        one.start <= other.start && other.end <= one.end
    }
}

/// Drains none of which lies upstream of another. Most vents serve one only.
#[derive(Debug, Clone)]
enum Apart {
    One(u32),
    /// By where each begins.
    Several(BTreeMap<u32, u32>),
}

impl Apart {
    fn len(&self) -> usize {
        match self {
            Self::One(_) => 1,
            Self::Several(all) => all.len(),
        }
    }

    fn iter(&self) -> impl Iterator<Item = u32> {
        let (one, several) = match self {
            Self::One(one) => (Some(*one), None),
            Self::Several(all) => (None, Some(all.values().copied())),
        };
        one.into_iter().chain(several.into_iter().flatten())
    }

    /// The only one of them that may hold what begins at a place.
    fn that_holds(&self, first: u32) -> Option<u32> {
        match self {
            Self::One(one) => Some(*one),
            Self::Several(all) => all.range(..=first).next_back().map(|(_, &drain)| drain),
        }
    }

    /// Both together, less what there is too much. The few are put to the many, so that each drain is moved no more often than
    /// their number can be doubled.
    fn with(self, other: Self, spans: &Spans, too_much: &mut impl FnMut(u32)) -> Self {
        let (many, few) = if self.len() < other.len() {
            (other, self)
        } else {
            (self, other)
        };
        let mut all = match (many, &few) {
            (Self::One(one), &Self::One(other)) if spans.holds(one, other) => {
                too_much(other);
                return Self::One(one);
            }
            (Self::One(one), _) => BTreeMap::from([(spans.of_drain(one).start, one)]),
            (Self::Several(all), _) => all,
        };
        match few {
            Self::One(one) => spans.add(&mut all, one, too_much),
            Self::Several(few) => few
                .into_values()
                .for_each(|one| spans.add(&mut all, one, too_much)),
        }
        Self::Several(all)
    }
}

impl Spans {
    /// Adds a drain to others, unless one of them holds it, and takes those out that it holds.
    fn add(&self, to: &mut BTreeMap<u32, u32>, end: u32, too_much: &mut impl FnMut(u32)) {
        let span = self.of_drain(end);
        let before = to.range(..=span.start).next_back();
        if before.is_some_and(|(_, &before)| self.holds(before, end)) {
            return too_much(end);
        }
        while let Some((&first, &held)) = to.range(span.clone()).next() {
            to.remove(&first);
            too_much(held);
        }
        to.insert(span.start, end);
    }
}

/// For the end of each drain that is served, the bathroom groups of which it has a part: by their place among the whole ones,
/// and which of their fixtures, one bit for each.
type Parts = BTreeMap<u32, Vec<(usize, u32)>>;

/// The most pipes from a fixture to where its bathroom group has met, many more than a bathroom has.
const MOST_TO_MEETING: u32 = 50;

/// The parts of groups that drains have which are served. A group of which the drains have some fixtures only, or that has met
/// in each of them, is left out: its load is told by what flows past. So is one of which some fixture is further than
/// [`MOST_TO_MEETING`] from the meeting: it counts by its fixtures, which is no less, and each drain has parts of few groups.
fn parts(measured: &Measured<'_>, ends: &[u32]) -> Parts {
    let mut parts = Parts::new();
    for (number, group) in measured.state.loads.whole.iter().enumerate() {
        let mut of_group = Vec::new();
        let each_has = group.members.iter().enumerate().all(|(place, &member)| {
            let Some(bit) = u32::try_from(place)
                .ok()
                .and_then(|place| 1_u32.checked_shl(place))
            else {
                return false;
            };
            if measured.depth(member) > measured.depth(group.meeting).saturating_add(MOST_TO_MEETING) {
                return false;
            }
            let before = of_group.len();
            let mut way = Some(member);
            while let Some(node) = way.filter(|&node| node != group.meeting) {
                if ends.get(node as usize).is_some_and(|&ends| ends > 0) {
                    of_group.push((node, bit));
                }
                way = below(measured, node);
            }
            of_group.len() > before
        });
        for (node, bit) in of_group.into_iter().filter(|_| each_has) {
            let at_end = parts.entry(node).or_default();
            match at_end.last_mut() {
                Some((last, bits)) if *last == number => *bits |= bit,
                _ => at_end.push((number, bit)),
            }
        }
    }
    parts
}

/// What has come to a node by vents: drains none of which holds another, and the groups of which they have parts, by where
/// the meeting of each begins.
#[derive(Debug, Clone)]
struct Come {
    drains: Apart,
    groups: BTreeMap<(u32, usize), u32>,
}

/// Puts together what has come by several vents to one node.
struct Joining<'a> {
    node: u32,
    spans: &'a Spans,
    groups: &'a [WholeGroup],
    overlaps: &'a mut Overlaps,
}

impl Joining<'_> {
    fn join(&mut self, mut one: Come, mut other: Come) -> Come {
        self.drop_held(&mut one.groups, &other.drains);
        self.drop_held(&mut other.groups, &one.drains);
        let (node, drains) = (self.node, &mut self.overlaps.drains);
        let drains = one
            .drains
            .with(other.drains, self.spans, &mut |drain| drains.push((node, drain)));
        let (mut groups, few) = if one.groups.len() < other.groups.len() {
            (other.groups, one.groups)
        } else {
            (one.groups, other.groups)
        };
        for (key, more) in few {
            let part = groups.entry(key).or_default();
            let were = [*part, more].map(|part| self.is_whole(key.1, part));
            *part |= more;
            match were {
                [true, true] => self.turn(key.1, Turn::Within),
                [false, false] if self.is_whole(key.1, *part) => self.turn(key.1, Turn::Whole),
                _ => {}
            }
        }
        Come { drains, groups }
    }

    /// Takes out the groups that have met in one of some drains, where they count already.
    fn drop_held(&mut self, groups: &mut BTreeMap<(u32, usize), u32>, drains: &Apart) {
        let is_held = |number: usize, by: u32| {
            let group = self.groups.get(number);
            group.is_some_and(|group| self.spans.holds(by, group.meeting))
        };
        let held: Vec<(u32, usize)> = if drains.len() < groups.len() {
            let within = drains.iter().flat_map(|drain| {
                let span = self.spans.of_drain(drain);
                let within = groups.range((span.start, 0)..(span.end, 0));
                within
                    .map(|(&key, _)| key)
                    .filter(move |&(_, number)| is_held(number, drain))
            });
            within.collect()
        } else {
            let keys = groups.keys().copied();
            keys.filter(|&(first, number)| {
                let drain = drains.that_holds(first);
                drain.is_some_and(|drain| is_held(number, drain))
            })
            .collect()
        };
        for key in held {
            if groups.remove(&key).is_some_and(|part| self.is_whole(key.1, part)) {
                self.turn(key.1, Turn::Within);
            }
        }
    }

    fn is_whole(&self, number: usize, part: u32) -> bool {
        let group = self.groups.get(number);
        group.is_some_and(|group| part.count_ones() as usize == group.members.len())
    }

    fn turn(&mut self, number: usize, turn: Turn) {
        if let Some(group) = self.groups.get(number) {
            self.overlaps.credits.push((self.node, turn, group.credit));
        }
    }
}

/// Where vents come together that serve drains in common, or parts of one bathroom group. Of what it reads only how far down
/// vents are depended on is noted: where pipes come or go, or other groups are whole, it is made anyhow.
pub(crate) fn overlaps(measured: &Measured<'_>, served: &[u32]) -> Overlaps {
    measured.see(Seen::Ends, NONE);
    let state = &measured.state;
    let mut overlaps = Overlaps::default();
    let Some((spans, parts)) = Spans::of(measured, served) else {
        return overlaps;
    };
    let groups = &state.loads.whole;
    let key = |number: usize| {
        let group = groups.get(number);
        (
            group.map_or(0, |group| spans.of_drain(group.meeting).start),
            number,
        )
    };
    let mut sets: Vec<Option<Come>> = vec![None; measured.node_bound()];
    for node in measured.vent_order() {
        // Where a vent ends, nobody asks.
        if state.vents_from(node).is_empty() {
            continue;
        }
        let mut all = served_from(measured, served, node).map(|end| Come {
            drains: Apart::One(end),
            groups: parts.get(&end).map_or_else(BTreeMap::new, |parts| {
                parts.iter().map(|&(number, part)| (key(number), part)).collect()
            }),
        });
        let mut joining = Joining {
            node,
            spans: &spans,
            groups,
            overlaps: &mut overlaps,
        };
        for &inlet in state.inlets(node, Role::Vent) {
            let Some(from) = state.pipes.get(inlet as usize).map(|inlet| inlet.from) else {
                continue;
            };
            let forks = state.vents_from(from).len() > 1;
            let from = &mut sets[from as usize];
            let more = if forks { from.clone() } else { from.take() };
            all = match (all, more) {
                (Some(all), Some(more)) => Some(joining.join(all, more)),
                (all, more) => all.or(more),
            };
        }
        sets[node as usize] = all;
    }
    overlaps.drains.sort_unstable();
    overlaps.credits.sort_by_key(|&(at, ..)| at);
    overlaps
}

/// Where the drain that leads on from a node ends, without a note of it.
fn below(measured: &Measured<'_>, node: u32) -> Option<u32> {
    let next = measured.state.next(node)?;
    Some(measured.state.pipes.get(next as usize)?.to)
}

/// The end of the drains that a vent serves which leaves them at a node, without a note of it.
fn served_from(measured: &Measured<'_>, served: &[u32], node: u32) -> Option<u32> {
    measured.state.next(node)?;
    Some(at(served, node).unwrap_or(node))
}

/// Drains that a vent serves.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Served {
    /// Where the vent, or one that joins it, leaves them.
    pub(crate) from: u32,
    /// Where they end.
    pub(crate) end: u32,
    /// The end of others that it serves and of which these are part.
    pub(crate) within: Option<u32>,
    pub(crate) load: Got,
}

impl Measured<'_> {
    /// The drains that a vent serves, in the order of the file where it leaves them.
    pub(crate) fn served_drains(&self, vent: u32) -> Vec<Served> {
        let relied = &self.state.relied;
        let served = if relied.differs {
            &relied.served
        } else {
            self.state.air.served()
        };
        let (mut open, mut ends) = (vec![vent], BTreeMap::new());
        while let Some(own) = open.pop().and_then(|pipe| self.pipe(pipe)) {
            if let Some(end) = served_from(self, served, own.from) {
                ends.insert(own.from, end);
            }
            open.extend(self.inlets(own.from, Role::Vent));
        }
        // Of the ends below each node the lowest.
        let mut lowest = vec![NONE; self.node_bound()];
        let are_ends: BTreeSet<u32> = ends.values().copied().collect();
        for node in self.drain_order().rev() {
            let below = self.next(node).and_then(|next| self.pipe(next));
            let below = below.and_then(|pipe| at(&lowest, pipe.to));
            if let Some(slot) = lowest.get_mut(node as usize) {
                *slot = below
                    .or(Some(node).filter(|node| are_ends.contains(node)))
                    .unwrap_or(NONE);
            }
        }
        let mut told = BTreeSet::new();
        let mut all: Vec<(u32, u32)> = ends.into_iter().collect();
        all.sort_by_key(|&(from, _)| show::place_in_file(self, Element::Node(from)));
        let served = all.into_iter().map(|(from, end)| {
            let totals = self.totals_at(end);
            Served {
                from,
                end,
                within: at(&lowest, end).filter(|&lowest| lowest != end || !told.insert(end)),
                load: totals.map_or(Got::Absent, |totals| load(totals.own_load, totals.gap)),
            }
        });
        served.collect()
    }
}
