//! Where vents come together that serve drains in common: each load counts once, by however many of them it is served.
//!
//! Water has one way to go, so that of two drains with all that lies upstream of them either one holds the other or they have
//! nothing in common; and no vent divides once it has left the drains.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use crownweir_vocabulary::Role;

use super::facts::{Element, load};
use super::{Got, Measured, NONE, Seen, at};
use crate::show;

/// The drains, told by the nodes that they end at, that count no more from some node of the vents on: what has come
/// there by another vent holds them. In order, by that node first.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Overlaps(Vec<(u32, u32)>);

impl Overlaps {
    /// The drains that count no more from a node on; one of them as often as it has been counted too much.
    pub(crate) fn at(&self, node: u32) -> impl Iterator<Item = u32> {
        let first = self.0.partition_point(|&(at, _)| at < node);
        let here = self.0.iter().skip(first).take_while(move |&&(at, _)| at == node);
        here.map(|&(_, drain)| drain)
    }

    /// The nodes from which on others count no more.
    pub(crate) fn differing(&self, other: &Self) -> BTreeSet<u32> {
        let mut nodes: BTreeSet<u32> = self.0.iter().chain(&other.0).map(|&(at, _)| at).collect();
        nodes.retain(|&node| !self.at(node).eq(other.at(node)));
        nodes
    }
}

/// Where each drain that is served begins and ends in an order in which it holds what lies upstream of it.
struct Spans {
    first: Vec<u32>,
    count: Vec<u32>,
}

impl Spans {
    /// None where no drain that is served lies upstream of another, and so nothing can count twice.
    fn of(measured: &Measured<'_>, served: &[u32]) -> Option<Self> {
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
        let below = |node: u32| {
            let pipe = measured.state.pipes.get(measured.state.next(node)? as usize)?;
            Some(pipe.to as usize)
        };
        for node in measured.drain_order() {
            if let Some(below) = below(node) {
                count[below] += count[node as usize];
            }
        }
        if ends.iter().all(|&end| count[end as usize] == 1) {
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
        Some(Self { first, count })
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

/// Drains none of which holds another. Most vents serve one.
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

/// Where vents come together that serve drains in common. Of what it reads only how far down vents are depended on is noted:
/// where pipes come or go it is made anyhow.
pub(crate) fn overlaps(measured: &Measured<'_>, served: &[u32]) -> Overlaps {
    measured.see(Seen::Ends, NONE);
    let state = &measured.state;
    let mut overlaps = Vec::new();
    let Some(spans) = Spans::of(measured, served) else {
        return Overlaps::default();
    };
    let mut sets: Vec<Option<Apart>> = vec![None; measured.node_bound()];
    for node in measured.vent_order() {
        // Where a vent ends, nobody asks.
        if state.vents_from(node).is_empty() {
            continue;
        }
        let mut all = served_from(measured, served, node).map(Apart::One);
        for &inlet in state.inlets(node, Role::Vent) {
            let Some(from) = state.pipes.get(inlet as usize).map(|inlet| inlet.from) else {
                continue;
            };
            let forks = state.vents_from(from).len() > 1;
            let from = &mut sets[from as usize];
            let more = if forks { from.clone() } else { from.take() };
            all = match (all, more) {
                (Some(all), Some(more)) => {
                    Some(all.with(more, &spans, &mut |drain| overlaps.push((node, drain))))
                }
                (all, more) => all.or(more),
            };
        }
        sets[node as usize] = all;
    }
    overlaps.sort_unstable();
    Overlaps(overlaps)
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
