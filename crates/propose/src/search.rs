//! The search for the least material: best first, and exact.
//!
//! A *node* holds for each variable the choices that are left. Its cheapest assignment takes the first choice of each;
//! what that comes to bounds the whole node from below. If nothing is objected to there, it is the best of the node.
//! Otherwise an objection is *explained*: by the fewest open pipes whose choices bring it about, whatever the others
//! may be. Where the objection stays for every choice left to one of these pipes, that pipe has no part in it. If one
//! pipe remains, its choice is struck out; if several do, one of them has to change, and the node divides. Most rules
//! bind a pipe by itself or by what flows into it, so that few nodes ever divide: a drain that may not be smaller than
//! what enters it is raised to that size step by step, and no other way is tried.
//!
//! Nodes wait in the order of their bounds, so the first that is free of objections has the least material; those with
//! the same bound are looked at too, for the fewest sizes.

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

use crownweir_evaluate::UnknownSizes;
use crownweir_quantity::Slope;

use crate::objection::{Demand, Status, Trial};
use crate::variable::{Left, MOST_CHOICES};

#[derive(Clone)]
struct Node {
    left: Vec<Left>,
}

/// What came of a search.
pub(crate) enum Found {
    /// The best assignment: a choice for each variable.
    Best(Vec<usize>),
    /// There is none; these demands, and no others, were used to show it.
    None(BTreeSet<Demand>),
    /// The effort allowed was spent; the best assignment found until then.
    Spent(Option<Vec<usize>>),
}

/// An assignment with its material, and what tells it from others of the same.
type Ranked = (u128, Rank);

/// See [`Search::rank`].
type Rank = (usize, Vec<(bool, Option<Slope>)>, Vec<usize>);

/// Of how many variables at the most, and in how many ways, the choices are tried together.
const MOST_TOGETHER: usize = 6;
const MOST_WAYS: u32 = 400;
/// How many variables are left out of a reason at the most.
const MOST_FREE: usize = 2;

pub(crate) struct Search<'t, 'r> {
    pub(crate) trial: &'t mut Trial<'r>,
    /// Demands that no choice meets, as far as known.
    pub(crate) hopeless: BTreeSet<Demand>,
    pub(crate) most_evaluations: usize,
}

/// What has become of a node.
enum Step {
    Free(Vec<usize>),
    Dead,
    /// One of some variables has to change.
    Bound(Node, Why),
}

/// Why a node's cheapest assignment will not do.
#[derive(Default)]
struct Why {
    /// What is objected to; none where slopes deny heights.
    demand: Option<Demand>,
    /// The variables of which one has to change.
    reason: Vec<usize>,
    /// Variables that matter too, but of which no choice left helps by itself.
    free: Vec<usize>,
}

impl Search<'_, '_> {
    /// The best assignment that meets all demands, or some that meets those of `only`; the hopeless ones left out.
    pub(crate) fn best(&mut self, only: Option<&BTreeSet<Demand>>) -> Result<Found, UnknownSizes> {
        let mut used = BTreeSet::new();
        let root = self.whole();
        let mut best: Option<Ranked> = None;
        if only.is_none()
            && let Some(chosen) = self.dive(root.clone())?
        {
            best = Some((self.material(&chosen), self.rank(&chosen)));
        }
        let mut nodes = Vec::new();
        let mut waiting = BinaryHeap::new();
        let mut next = vec![root];
        loop {
            for node in next.drain(..) {
                if let Some(chosen) = cheapest(&node) {
                    waiting.push(Reverse((self.material(&chosen), nodes.len())));
                    nodes.push(Some(node));
                }
            }
            let Some(Reverse((bound, number))) = waiting.pop() else {
                break;
            };
            if best.as_ref().is_some_and(|(material, _)| bound > *material) {
                break;
            }
            let Some(node) = nodes.get_mut(number).and_then(Option::take) else {
                continue;
            };
            match self.settle(node, only, &mut used)? {
                None => return Ok(Found::Spent(best.map(|(_, (_, _, chosen))| chosen))),
                Some(Step::Dead) => {}
                Some(Step::Free(chosen)) => {
                    // With part of the demands left out, any answer will do.
                    if only.is_some() {
                        return Ok(Found::Best(chosen));
                    }
                    let found = (self.material(&chosen), self.rank(&chosen));
                    if best.as_ref().is_none_or(|kept| found < *kept) {
                        best = Some(found);
                    }
                }
                Some(Step::Bound(node, why)) => next = self.divide(&node, &why)?,
            }
        }
        Ok(match best {
            Some((_, (_, _, chosen))) => Found::Best(chosen),
            None => Found::None(used),
        })
    }

    fn whole(&self) -> Node {
        let variables = self.trial.variables.iter();
        Node {
            left: variables.map(|variable| full(variable.choices.len())).collect(),
        }
    }

    /// What the pipes of an assignment take of material.
    pub(crate) fn material(&self, chosen: &[usize]) -> u128 {
        let choices = self.trial.variables.iter().zip(chosen);
        let materials = choices.filter_map(|(variable, &choice)| variable.choices.get(choice));
        materials.fold(0, |sum, choice| sum.saturating_add(choice.material))
    }

    /// By what assignments of the same material are told apart: how many sizes they have, then the slopes, those
    /// that no one sets last, then the order of the choices.
    fn rank(&self, chosen: &[usize]) -> Rank {
        let choices = self.trial.variables.iter().zip(chosen);
        let choices: Vec<_> = choices
            .filter_map(|(variable, &choice)| variable.choices.get(choice))
            .collect();
        let mut sizes = self.trial.given_sizes.clone();
        sizes.extend(
            choices
                .iter()
                .filter_map(|choice| choice.size)
                .map(|(size, _)| size),
        );
        let slopes = choices
            .iter()
            .map(|choice| (choice.is_odd, choice.slope))
            .collect();
        (sizes.len(), slopes, chosen.to_vec())
    }

    /// Some assignment that is free of objections, found without looking back: where one of several pipes has to
    /// change, as few as do are made as much larger as need be. It bounds the search from above.
    fn dive(&mut self, mut node: Node) -> Result<Option<Vec<usize>>, UnknownSizes> {
        let mut used = BTreeSet::new();
        loop {
            match self.settle(node, None, &mut used)? {
                Some(Step::Free(chosen)) => return Ok(Some(chosen)),
                Some(Step::Bound(bound, why)) => {
                    node = match self.repaired(&bound, &why)? {
                        Some(next) => next,
                        // Raising does not help: then the part that may be cheapest.
                        None => {
                            let parts = self.divide(&bound, &why)?.into_iter();
                            let cost = |part: &Node| cheapest(part).map(|chosen| self.material(&chosen));
                            match parts.min_by_key(cost) {
                                Some(part) => part,
                                None => return Ok(None),
                            }
                        }
                    };
                }
                _ => return Ok(None),
            }
        }
    }

    /// The node without the choices by which a demand is not met, as few variables as do being raised: one that does by
    /// itself, the one that takes the least material, or else as few of all as need be.
    fn repaired(&mut self, node: &Node, why: &Why) -> Result<Option<Node>, UnknownSizes> {
        let mut node = node.clone();
        let (Some(low), Some(demand)) = (cheapest(&node), why.demand) else {
            return Ok(None);
        };
        let mut least: Option<(u128, usize, usize)> = None;
        for &number in why.reason.iter().chain(&why.free) {
            for choice in choices(node.left.get(number).copied().unwrap_or(0)) {
                let mut tried = low.clone();
                put(&mut tried, number, choice);
                let material = self.material(&tried);
                if least.is_some_and(|(least, ..)| least <= material) {
                    break;
                }
                if self.trial.judge(&some(&tried), demand)? == Status::Met {
                    least = Some((material, number, choice));
                    break;
                }
            }
        }
        if let Some((_, number, choice)) = least {
            raise(&mut node, number, choice);
            return Ok(Some(node));
        }
        let mut raised: Vec<usize> = why.reason.iter().chain(&why.free).copied().collect();
        let mut chosen = low.clone();
        for &number in &raised {
            if let Some(top) = node.left.get(number).and_then(|&left| last(left)) {
                put(&mut chosen, number, top);
            }
        }
        if self.trial.judge(&some(&chosen), demand)? != Status::Met {
            return Ok(None);
        }
        // Those that can stay as they are.
        let mut size = raised.len().div_ceil(2);
        while size > 0 {
            let mut at = 0;
            while at < raised.len() {
                let part: Vec<usize> = raised.iter().copied().skip(at).take(size).collect();
                let mut tried = chosen.clone();
                for &number in &part {
                    if let Some(&low) = low.get(number) {
                        put(&mut tried, number, low);
                    }
                }
                if self.trial.judge(&some(&tried), demand)? == Status::Met {
                    chosen = tried;
                    raised.retain(|number| !part.contains(number));
                } else {
                    at += size;
                }
            }
            size = if size == 1 { 0 } else { size.div_ceil(2) };
        }
        for number in raised {
            let left = node.left.get(number).copied().unwrap_or(0);
            for choice in choices(left) {
                let mut tried = chosen.clone();
                put(&mut tried, number, choice);
                if self.trial.judge(&some(&tried), demand)? == Status::Met {
                    chosen = tried;
                    break;
                }
            }
            if let Some(&choice) = chosen.get(number) {
                raise(&mut node, number, choice);
            }
        }
        Ok(Some(node))
    }

    /// Strikes choices out of a node until its cheapest assignment is free of objections, none is left, or it has to
    /// be divided. None where the effort is spent.
    fn settle(
        &mut self,
        mut node: Node,
        among: Option<&BTreeSet<Demand>>,
        used: &mut BTreeSet<Demand>,
    ) -> Result<Option<Step>, UnknownSizes> {
        loop {
            let Some(chosen) = cheapest(&node) else {
                return Ok(Some(Step::Dead));
            };
            let objections = match among {
                None => self.trial.objections(&some(&chosen))?,
                Some(among) => self.trial.objections_among(&some(&chosen), among)?,
            };
            let Some(objections) = objections else {
                // Slopes that deny heights are no rule's; one of them has to change.
                let reason = self.sloped();
                return Ok(Some(Step::Bound(
                    node,
                    Why {
                        reason,
                        ..Why::default()
                    },
                )));
            };
            let mut counted = objections
                .into_iter()
                .filter(|one| !self.hopeless.contains(one))
                .peekable();
            if counted.peek().is_none() {
                return Ok(Some(Step::Free(chosen)));
            }
            let mut struck = false;
            let mut several: Option<Why> = None;
            for demand in counted.collect::<Vec<_>>() {
                if self.trial.evaluations > self.most_evaluations {
                    return Ok(None);
                }
                let mut reason = self.explain(demand, &chosen)?;
                // A choice that another objection has struck out explains nothing any more.
                let stands = |number: &usize| {
                    let left = node.left.get(*number).copied().unwrap_or(0);
                    chosen.get(*number).copied() == first(left)
                };
                if !reason.iter().all(stands) {
                    continue;
                }
                let whole = reason.clone();
                let free = self.generalise(demand, &node, &chosen, &mut reason)?;
                if reason.is_empty() && self.is_hopeless(demand, &whole)? {
                    self.hopeless.insert(demand);
                    struck = true;
                    continue;
                }
                used.insert(demand);
                match reason.as_slice() {
                    [] => return Ok(Some(Step::Dead)),
                    [one] => {
                        if let (Some(left), Some(&choice)) = (node.left.get_mut(*one), chosen.get(*one)) {
                            *left &= !bit(choice);
                            struck = true;
                            if *left == 0 {
                                return Ok(Some(Step::Dead));
                            }
                        }
                    }
                    _ => {
                        let fewest = several.as_ref().map_or(usize::MAX, |kept| kept.reason.len());
                        if reason.len() < fewest {
                            several = Some(Why {
                                demand: Some(demand),
                                reason,
                                free,
                            });
                        }
                    }
                }
            }
            if let (Some(why), false) = (several, struck) {
                return Ok(Some(Step::Bound(node, why)));
            }
        }
    }

    /// The fewest variables, none of which can be left out, whose choices bring an objection about whatever the
    /// others may be.
    fn explain(&mut self, demand: Demand, chosen: &[usize]) -> Result<Vec<usize>, UnknownSizes> {
        let mut known: Vec<usize> = Vec::new();
        // What is missing is named, and filled in until nothing that matters is.
        loop {
            let before = known.len();
            match self.trial.judge(&only(chosen, &known), demand)? {
                Status::Objected => break,
                Status::Open(open) => {
                    known.extend(open);
                    known.sort_unstable();
                    known.dedup();
                }
                Status::Met => {}
            }
            if known.len() == before {
                known = (0..chosen.len()).collect();
                break;
            }
        }
        let mut size = known.len().div_ceil(2);
        while size > 0 {
            let mut at = 0;
            while at < known.len() {
                let places = at..at + size;
                let without: Vec<usize> = known
                    .iter()
                    .enumerate()
                    .filter(|(place, _)| !places.contains(place))
                    .map(|(_, &number)| number)
                    .collect();
                if self.trial.judge(&only(chosen, &without), demand)? == Status::Objected {
                    known = without;
                } else {
                    at += size;
                }
            }
            size = if size == 1 { 0 } else { size.div_ceil(2) };
        }
        Ok(known)
    }

    /// Leaves out of a reason each variable for which the objection stands with every choice left to it, and tells
    /// which these are.
    fn generalise(
        &mut self,
        demand: Demand,
        node: &Node,
        chosen: &[usize],
        reason: &mut Vec<usize>,
    ) -> Result<Vec<usize>, UnknownSizes> {
        let mut at = 0;
        let mut free: Vec<usize> = Vec::new();
        // What was left out before is tried in every way together with the next.
        while at < reason.len() && free.len() < MOST_FREE {
            let mut rest = reason.clone();
            free.push(rest.remove(at));
            if self.stands(demand, node, &only(chosen, &rest), &free)? {
                *reason = rest;
            } else {
                free.pop();
                at += 1;
            }
        }
        Ok(free)
    }

    /// Whether an objection stands with the choices of `base`, whatever is chosen of what is left for `free`.
    fn stands(
        &mut self,
        demand: Demand,
        node: &Node,
        base: &[Option<usize>],
        free: &[usize],
    ) -> Result<bool, UnknownSizes> {
        let mut ways = vec![base.to_vec()];
        for &number in free {
            // The largest first, for that is what most often helps.
            let choices: Vec<usize> = choices(node.left.get(number).copied().unwrap_or(0))
                .rev()
                .collect();
            let further = ways.iter().flat_map(|way| {
                choices.iter().map(|&choice| {
                    let mut way = way.clone();
                    put(&mut way, number, Some(choice));
                    way
                })
            });
            ways = further.collect();
        }
        for way in ways {
            if self.trial.judge(&way, demand)? != Status::Objected {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Whether nothing that could ever be chosen for these variables meets a demand.
    fn is_hopeless(&mut self, demand: Demand, reason: &[usize]) -> Result<bool, UnknownSizes> {
        let whole = self.whole();
        Ok(
            reason.len() <= MOST_FREE
                && self.stands(demand, &whole, &vec![None; whole.left.len()], reason)?,
        )
    }

    /// The parts of a node in which not all variables of a reason keep the choices by which they bring an objection
    /// about: together they hold all its other assignments, and each of those once.
    fn divide(&mut self, node: &Node, why: &Why) -> Result<Vec<Node>, UnknownSizes> {
        let Some(chosen) = cheapest(node) else {
            return Ok(Vec::new());
        };
        let own = |number: &usize| chosen.get(*number).copied().map_or(0, bit);
        let blocked = match self.blocked(node, &chosen, why)? {
            Some(wider) => wider,
            None => why.reason.iter().map(own).collect(),
        };
        let mut parts = Vec::new();
        let mut kept = node.clone();
        for (&number, blocked) in why.reason.iter().zip(blocked) {
            let left = kept.left.get(number).copied().unwrap_or(0);
            if left & !blocked != 0 {
                let mut part = kept.clone();
                put(&mut part.left, number, left & !blocked);
                parts.push(part);
            }
            put(&mut kept.left, number, left & blocked);
        }
        Ok(parts)
    }

    /// For each variable of a reason the choices by which, however they are put together, the objection stands; none
    /// where that is too much to try, or does not hold.
    fn blocked(
        &mut self,
        node: &Node,
        chosen: &[usize],
        why: &Why,
    ) -> Result<Option<Vec<Left>>, UnknownSizes> {
        let Some(demand) = why.demand.filter(|_| why.reason.len() <= MOST_TOGETHER) else {
            return Ok(None);
        };
        let mut narrowed = node.clone();
        let mut sets = Vec::new();
        for &number in &why.reason {
            let mut set = 0;
            for choice in choices(node.left.get(number).copied().unwrap_or(0)) {
                let mut way = only(chosen, &why.reason);
                put(&mut way, number, Some(choice));
                if self.stands(demand, node, &way, &why.free)? {
                    set |= bit(choice);
                }
            }
            put(&mut narrowed.left, number, set);
            sets.push(set);
        }
        let all: Vec<usize> = why.reason.iter().chain(&why.free).copied().collect();
        let ways = all.iter().try_fold(1_u32, |ways, &number| {
            ways.checked_mul(narrowed.left.get(number)?.count_ones())
        });
        let few = ways.is_some_and(|ways| ways <= MOST_WAYS);
        let holds = few && self.stands(demand, &narrowed, &vec![None; chosen.len()], &all)?;
        Ok(holds.then_some(sets))
    }

    fn sloped(&self) -> Vec<usize> {
        let variables = self.trial.variables.iter().enumerate();
        let sloped = variables.filter(|(_, one)| one.choices.iter().any(|choice| choice.slope.is_some()));
        sloped.map(|(number, _)| number).collect()
    }
}

fn put<T>(list: &mut [T], number: usize, value: T) {
    if let Some(slot) = list.get_mut(number) {
        *slot = value;
    }
}

fn bit(choice: usize) -> Left {
    u32::try_from(choice)
        .ok()
        .and_then(|choice| Left::from(1_u8).checked_shl(choice))
        .unwrap_or(0)
}

fn full(choices: usize) -> Left {
    if choices >= MOST_CHOICES {
        Left::MAX
    } else {
        bit(choices) - 1
    }
}

fn first(left: Left) -> Option<usize> {
    (left != 0).then(|| left.trailing_zeros() as usize)
}

fn last(left: Left) -> Option<usize> {
    left.checked_ilog2().map(|choice| choice as usize)
}

/// Strikes out all choices of a variable before one.
fn raise(node: &mut Node, number: usize, choice: usize) {
    if let Some(left) = node.left.get_mut(number) {
        *left &= !(bit(choice) - 1);
    }
}

fn choices(left: Left) -> impl DoubleEndedIterator<Item = usize> {
    (0..MOST_CHOICES).filter(move |&choice| left & bit(choice) != 0)
}

fn cheapest(node: &Node) -> Option<Vec<usize>> {
    node.left.iter().map(|&left| first(left)).collect()
}

fn some(chosen: &[usize]) -> Vec<Option<usize>> {
    chosen.iter().map(|&choice| Some(choice)).collect()
}

/// The choices of some variables, the others open.
fn only(chosen: &[usize], of: &[usize]) -> Vec<Option<usize>> {
    let mut filled = vec![None; chosen.len()];
    for &number in of {
        put(&mut filled, number, chosen.get(number).copied());
    }
    filled
}
