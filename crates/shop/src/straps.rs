//! The strap schedule: where each pipe is held, and how high it lies there.
//!
//! How far apart comes from the network and from the rule set by which it is checked, whichever is less; what neither says
//! comes from practice.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crownweir_evaluate::{Got, Measured};
use crownweir_network::{Network, NodeId, NodeKind, PipeId, RunId};
use crownweir_quantity::{Length, Slope};
use crownweir_rulebook::{Fact, Subject, Value};
use crownweir_vocabulary::{FittingPattern, Inlet, Material, Orientation, Role};
use petgraph::Direction::{Incoming, Outgoing};

use crate::asked::{self, Asked};
use crate::cut::{Piece, is_of_fixture};
use crate::job::Job;
use crate::practice::{Practice, cited};
use crate::sheet::{Cell, Column, Holds, Sheet};

const PIPES: &[Subject] = &[Subject::Pipe, Subject::Drain, Subject::Vent];

/// One place where a pipe is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct Strap {
    /// The pipe.
    pub pipe: PipeId,
    /// How far along the pipe from its start.
    pub along: Length,
    /// What asks for it.
    pub reason: Reason,
}

/// Why a pipe is held at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Reason {
    /// It comes from a trap.
    Trap,
    /// It changes direction there.
    Turn,
    /// It ends or begins there.
    End,
    /// The foot of a vertical line.
    Foot,
    /// A vertical line passes a floor.
    Floor,
    /// A coupling of it is near.
    Coupling,
    /// The next strap would be too far away.
    Spacing,
    /// It is held sideways only, half-way between supports.
    Guide,
}

impl Reason {
    /// The reason in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Trap => "near the trap",
            Self::Turn => "change of direction",
            Self::End => "end of the line",
            Self::Foot => "foot of the line",
            Self::Floor => "at the floor",
            Self::Coupling => "beside the coupling",
            Self::Spacing => "spacing",
            Self::Guide => "guide, sideways only",
        }
    }
}

/// Pipes of one run, one after the other, that all lie or all stand.
struct Line {
    pipes: Vec<PipeId>,
    vertical: bool,
}

/// The straps of a network, and what cannot be told.
#[derive(Debug, Default)]
#[non_exhaustive]
pub struct Schedule {
    /// The straps, run by run in the order of the file.
    pub straps: Vec<Strap>,
    /// Pipes that are held along their whole length.
    pub continuous: Vec<PipeId>,
    /// Pipes at the feet of lines that come out of the ground, which bears them.
    pub bedded: Vec<PipeId>,
    /// Of each pipe that is left out, what is missing.
    pub open: Vec<(PipeId, String)>,
    /// What the spacings are and where they come from, in words.
    pub spacings: Vec<String>,
}

/// Where every pipe above ground is held that is cut to such pieces.
#[must_use]
pub fn schedule(
    network: &Network,
    measured: &Measured<'_>,
    practice: &Practice,
    pieces: &[Piece],
) -> Schedule {
    let mut schedule = Schedule::default();
    let couplings = couplings(pieces);
    let mut spacings = BTreeMap::new();
    for line in lines(network, measured, &mut schedule.open) {
        let mut limit: Option<Length> = None;
        let mut continuous = false;
        let mut guide = false;
        for &pipe in &line.pipes {
            let element = number(pipe);
            let (stated, guided) = network
                .graph()
                .edge_weight(pipe)
                .map_or((None, None), |pipe| (pipe.support_spacing, pipe.mid_storey_guide));
            let asked = asked::most(measured, PIPES, element, Fact::PipeSupportSpacing);
            continuous |= asked.is_some_and(|asked| asked.limit.is_none());
            let allowed = asked.and_then(|asked| asked.limit);
            limit = [limit, allowed, stated].into_iter().flatten().min();
            if asked.is_some() || stated.is_some() {
                let what = spacing_in_words(network, pipe, line.vertical);
                spacings.insert((what, stated), asked);
            } else if !line.vertical {
                let stated = network
                    .graph()
                    .edge_weight(pipe)
                    .is_some_and(|pipe| pipe.material.is_some());
                let missing = if stated {
                    "the rule set's spacing of supports for it"
                } else {
                    "its material"
                };
                schedule.open.push((pipe, missing.to_owned()));
            }
            guide |= guided == Some(true)
                || asked::wanted(measured, PIPES, element, Fact::PipeMidStoreyGuide).is_some();
        }
        if continuous {
            schedule.continuous.extend(&line.pipes);
            continue;
        }
        if !line.vertical && limit.is_none() {
            continue;
        }
        let Some(places) = Places::of(network, &line, &couplings) else {
            for &pipe in &line.pipes {
                if length_of(network, pipe).is_none() {
                    schedule.open.push((pipe, "its length".to_owned()));
                }
            }
            continue;
        };
        if line.vertical && ground(network, &line, places.total).is_some() {
            let is_downward = is_downward(network, &line);
            let foot = if is_downward {
                line.pipes.last()
            } else {
                line.pipes.first()
            };
            schedule.bedded.extend(foot);
        }
        let points = if line.vertical {
            vertical(network, &line, &places, limit, guide, practice)
        } else {
            limit.map_or_else(Vec::new, |limit| {
                horizontal(network, &line, &places, limit, practice)
            })
        };
        schedule
            .straps
            .extend(points.into_iter().filter_map(|(at, reason)| {
                let (pipe, along) = places.find(at)?;
                Some(Strap { pipe, along, reason })
            }));
    }
    let spacings = spacings.into_iter();
    schedule.spacings = spacings
        .map(|((what, stated), asked)| format!("{what}: {}", taken_in_words(network, stated, asked)))
        .collect();
    schedule
}

/// How far along each pipe that is joined of several pieces its couplings come.
fn couplings(pieces: &[Piece]) -> HashMap<PipeId, Vec<Length>> {
    let mut found: HashMap<PipeId, Vec<Length>> = HashMap::new();
    for piece in pieces.iter().filter(|piece| piece.is_coupled(1)) {
        let own = found.entry(piece.pipe).or_default();
        let from = own.last().copied().unwrap_or_default();
        own.extend(piece.centres.and_then(|centres| from.checked_add(centres)));
    }
    found
}

fn number(pipe: PipeId) -> u32 {
    u32::try_from(pipe.index()).unwrap_or(u32::MAX)
}

/// Whether a pipe stands, as the rule set has it.
fn is_vertical(measured: &Measured<'_>, pipe: PipeId) -> Option<bool> {
    match measured.fact(Subject::Pipe, number(pipe), Fact::PipeOrientation) {
        Got::Known(Value::Word(word)) => Some(word == Orientation::Vertical.name()),
        _ => None,
    }
}

fn length_of(network: &Network, pipe: PipeId) -> Option<Length> {
    network.graph().edge_weight(pipe)?.length
}

fn spacing_in_words(network: &Network, pipe: PipeId, vertical: bool) -> String {
    let pipe = network.graph().edge_weight(pipe);
    let size = pipe
        .and_then(|pipe| pipe.size)
        .map_or_else(String::new, |size| format!(" of {size}"));
    let material = pipe.and_then(|pipe| pipe.material);
    let material = material.map_or_else(|| "pipe".to_owned(), |material| material.to_string());
    let lies = if vertical { "vertical" } else { "horizontal" };
    format!("{material}{size}, {lies}")
}

/// The spacing that straps are put at, and which of the two it is: the one that the file states, or the most that the
/// rules allow where that is less.
fn taken_in_words(
    network: &Network,
    stated: Option<Length>,
    asked: Option<Asked<'_, Option<Length>>>,
) -> String {
    let shown = |length: Length| length.in_notation(network.notation()).to_string();
    let Some(Asked { limit, rule }) = asked else {
        let stated = stated.map(shown).unwrap_or_default();
        return format!("{stated}, as the file states; no rule asks for a spacing");
    };
    let cited = &rule.citation;
    match (limit, stated) {
        (None, _) => format!("held along its whole length [{cited}]"),
        (Some(limit), None) => format!("at most {} [{cited}]", shown(limit)),
        (Some(limit), Some(stated)) if stated <= limit => {
            format!(
                "{}, as the file states; at most {} [{cited}]",
                shown(stated),
                shown(limit)
            )
        }
        (Some(limit), Some(stated)) => {
            format!(
                "at most {} [{cited}], though the file states {}",
                shown(limit),
                shown(stated)
            )
        }
    }
}

/// The lines of a network, in the order of the file; pipes in the ground are left out.
fn lines(network: &Network, measured: &Measured<'_>, open: &mut Vec<(PipeId, String)>) -> Vec<Line> {
    let graph = network.graph();
    let mut pipes: Vec<_> = network
        .flow_order()
        .pipes
        .into_iter()
        .filter_map(|id| graph.edge_weight(id).map(|pipe| (id, pipe)))
        .filter(|(_, pipe)| !pipe.underground)
        .filter(|(id, _)| {
            let ends = graph.edge_endpoints(*id);
            !ends.is_some_and(|(from, to)| is_of_fixture(network, from, to))
        })
        .collect();
    pipes.sort_by_key(|(_, pipe)| (pipe.position.line, pipe.position.column, pipe.run));
    // Pipes of repeated runs share their place in the file: run by run they are in order again.
    pipes.sort_by_key(|(_, pipe)| pipe.run);
    let mut lines: Vec<Line> = Vec::new();
    let mut last: Option<(RunId, NodeId)> = None;
    for (id, pipe) in pipes {
        let Some(vertical) = is_vertical(measured, id) else {
            open.push((id, "its slope".to_owned()));
            last = None;
            continue;
        };
        let Some((from, to)) = graph.edge_endpoints(id) else {
            continue;
        };
        let goes_on = last == Some((pipe.run, from));
        match lines
            .last_mut()
            .filter(|line| goes_on && line.vertical == vertical)
        {
            Some(line) => line.pipes.push(id),
            None => lines.push(Line {
                pipes: vec![id],
                vertical,
            }),
        }
        last = Some((pipe.run, to));
    }
    lines
}

/// Distances along a line.
struct Places {
    /// Each pipe with the distance at which it starts.
    starts: Vec<(PipeId, Length)>,
    /// Those of the couplings in it, with the pipe behind each.
    couplings: Vec<(PipeId, Length)>,
    total: Length,
}

impl Places {
    fn of(network: &Network, line: &Line, coupled: &HashMap<PipeId, Vec<Length>>) -> Option<Self> {
        let mut total = Length::ZERO;
        let mut starts = Vec::with_capacity(line.pipes.len());
        let mut couplings = Vec::new();
        for &pipe in &line.pipes {
            let from = network.graph().edge_endpoints(pipe).map(|(from, _)| from);
            if !starts.is_empty() && from.is_some_and(|from| is_coupling(network, from)) {
                couplings.push((pipe, total));
            }
            starts.push((pipe, total));
            for along in coupled.get(&pipe).into_iter().flatten() {
                couplings.push((pipe, total.checked_add(*along)?));
            }
            total = total.checked_add(length_of(network, pipe)?)?;
        }
        Some(Self {
            starts,
            couplings,
            total,
        })
    }

    /// The middles of its fittings, its ends and the couplings in it.
    fn fittings(&self) -> impl Iterator<Item = Length> {
        let starts = self.starts.iter().map(|(_, start)| *start);
        let couplings = self.couplings.iter().map(|(_, at)| *at);
        starts.chain(couplings).chain([self.total])
    }

    /// The pipe at a distance along the line, and how far along the pipe that is.
    fn find(&self, at: Length) -> Option<(PipeId, Length)> {
        let before = self.starts.partition_point(|(_, start)| *start <= at);
        let (pipe, start) = self.starts.get(before.checked_sub(1)?)?;
        Some((*pipe, at.checked_sub(*start)?))
    }
}

fn is_coupling(network: &Network, node: NodeId) -> bool {
    let coupling = NodeKind::Fitting {
        pattern: Some(FittingPattern::Coupling),
    };
    network
        .graph()
        .node_weight(node)
        .is_some_and(|node| node.kind == coupling)
}

/// Whether the water or air turns between two pipes of a line, one after the other.
fn turns(network: &Network, node: NodeId, enters: Inlet) -> bool {
    match network.graph().node_weight(node).map(|node| &node.kind) {
        Some(NodeKind::Fitting {
            pattern: Some(pattern),
        }) => pattern.turn_in_tenths() > 0 && (!pattern.has_branch() || enters == Inlet::Branch),
        _ => false,
    }
}

/// A place at which a line is to be held, and between which it may be put instead where a fitting stands there.
struct Wanted {
    at: Length,
    between: [Length; 2],
    reason: Reason,
}

/// What is wanted of a horizontal line: it is held near its ends and before its turns.
fn wanted(network: &Network, line: &Line, places: &Places, practice: &Practice) -> Vec<Wanted> {
    let total = places.total;
    let graph = network.graph();
    let within = practice.straps.beside_fitting.within;
    let beside = within.min(half(total));
    let less = |one: Length, other: Length| one.checked_sub(other).unwrap_or_default().max(Length::ZERO);
    let more = |one: Length, other: Length| one.checked_add(other).unwrap_or(total).min(total);
    let first = line.pipes.first().and_then(|pipe| graph.edge_endpoints(*pipe));
    let from_trap = first.is_some_and(|(from, _)| {
        let start = graph.node_weight(from).map(|node| &node.kind);
        matches!(start, Some(NodeKind::Fixture(_)))
    });
    let mut wanted = vec![Wanted {
        at: beside,
        between: [Length::ZERO, within],
        reason: if from_trap { Reason::Trap } else { Reason::End },
    }];
    for (index, (pipe, start)) in places.starts.iter().enumerate().skip(1) {
        let enters = places
            .starts
            .get(index - 1)
            .and_then(|(before, _)| graph.edge_weight(*before));
        let (Some((node, _)), Some(before)) = (graph.edge_endpoints(*pipe), enters) else {
            continue;
        };
        if turns(network, node, before.enters) {
            let own = before.length.map_or(beside, |length| half(length).min(beside));
            wanted.push(Wanted {
                at: less(*start, own),
                between: [less(*start, within), more(*start, within)],
                reason: Reason::Turn,
            });
        }
    }
    let coupling = &practice.straps.beside_coupling;
    for (pipe, at) in &places.couplings {
        let material = graph.edge_weight(*pipe).and_then(|pipe| pipe.material);
        if material.is_some_and(|material| coupling.materials.contains(&material)) {
            wanted.push(Wanted {
                at: *at,
                between: [less(*at, coupling.within), more(*at, coupling.within)],
                reason: Reason::Coupling,
            });
        }
    }
    wanted.push(Wanted {
        at: less(total, beside),
        between: [less(total, within), total],
        reason: Reason::End,
    });
    wanted
}

/// The places at which a horizontal line is held: near its ends and turns, and so that no two are further apart than
/// `limit`. Each is taken from the one before, so that nothing adds up.
fn horizontal(
    network: &Network,
    line: &Line,
    places: &Places,
    limit: Length,
    practice: &Practice,
) -> Vec<(Length, Reason)> {
    let total = places.total;
    if total <= practice.straps.held_by_fittings.up_to {
        return Vec::new();
    }
    let beside = practice.straps.beside_fitting.within.min(half(total));
    let fittings = Fittings::of(places.fittings(), practice.straps.clear_of_fitting.by);
    let (free, moved): (Vec<_>, Vec<_>) = wanted(network, line, places, practice)
        .into_iter()
        .partition(|wanted| fittings.are_clear_of(wanted.at));
    let mut held: Vec<(Length, Reason)> = free.iter().map(|wanted| (wanted.at, wanted.reason)).collect();
    let mut taken: BTreeSet<Length> = held.iter().map(|(at, _)| *at).collect();
    for wanted in moved {
        // Where there is no room for one of its own, another that is near enough will do.
        if !is_any_within(&taken, wanted.between) {
            let at = fittings.beside(wanted.at, wanted.between).unwrap_or(wanted.at);
            taken.insert(at);
            held.push((at, wanted.reason));
        }
    }
    held.sort_by_key(|(at, _)| *at);
    let mut placed: Vec<(Length, Reason)> = Vec::new();
    for (at, reason) in held {
        while let Some((last, _)) = placed.last().copied()
            && let Some(furthest) = last.checked_add(limit)
            && furthest < at
        {
            let next = next(last, furthest, at, beside);
            placed.push((fittings.after(last, next), Reason::Spacing));
        }
        if placed.last().is_none_or(|(last, _)| *last < at) {
            placed.push((at, reason));
        }
    }
    placed
}

/// The next place after `last`: as far on as may be, or where that would all but meet the one that is held anyway at `at`,
/// half-way there.
fn next(last: Length, furthest: Length, at: Length, near: Length) -> Length {
    let meets = at.checked_sub(furthest).is_some_and(|left| left < near);
    let halved = at.checked_sub(last).and_then(|left| last.checked_add(half(left)));
    halved.filter(|_| meets).unwrap_or(furthest)
}

fn half(length: Length) -> Length {
    Length::from_nanometres(length.nanometres() / 2)
}

/// Whether any of some places lies between two.
fn is_any_within(places: &BTreeSet<Length>, [least, most]: [Length; 2]) -> bool {
    places.range(least..).next().is_some_and(|at| *at <= most)
}

/// The middles of the fittings of a line, in order, and how far a strap stays from them.
struct Fittings {
    at: Vec<Length>,
    clear: Length,
}

impl Fittings {
    fn of(at: impl Iterator<Item = Length>, clear: Length) -> Self {
        let mut at: Vec<Length> = at.collect();
        at.sort_unstable();
        Self { at, clear }
    }

    /// Those nowhere more than `clear` beyond two places.
    fn about(&self, least: Length, most: Length) -> impl Iterator<Item = Length> {
        let off = |own: Length, from: Length| own.nanometres().saturating_sub(from.nanometres());
        let clear = self.clear.nanometres();
        let first = self.at.partition_point(|own| off(*own, least) < -clear);
        let about = self.at.iter().skip(first).copied();
        about.take_while(move |own| off(*own, most) <= clear)
    }

    fn are_clear_of(&self, at: Length) -> bool {
        let near =
            |own: Length| own.nanometres().abs_diff(at.nanometres()) < self.clear.nanometres().unsigned_abs();
        !self.about(at, at).any(near)
    }

    /// The place itself, or the nearest between two others that is clear of all fittings; of two as near that before it.
    fn beside(&self, at: Length, [least, most]: [Length; 2]) -> Option<Length> {
        if self.are_clear_of(at) {
            return Some(at);
        }
        let beside = |own: Length| [own.checked_sub(self.clear), own.checked_add(self.clear)];
        let places = self.about(least, most).flat_map(beside).flatten();
        places
            .filter(|own| least <= *own && *own <= most && self.are_clear_of(*own))
            .min_by_key(|own| (own.nanometres().abs_diff(at.nanometres()), *own))
    }

    /// The place `next`, or the nearest before it, after `last`, that is clear of all fittings; itself where there is none.
    fn after(&self, last: Length, next: Length) -> Length {
        let clear = self.beside(next, [last, next]);
        clear.filter(|clear| *clear > last).unwrap_or(next)
    }
}

/// The places at which a vertical line is held: its foot, the bends by which it is set aside, each floor that it passes, and so that no two supports are
/// further apart than the limit where there is one; half-way between supports where a rule asks for a guide.
fn vertical(
    network: &Network,
    line: &Line,
    places: &Places,
    limit: Option<Length>,
    guide: bool,
    practice: &Practice,
) -> Vec<(Length, Reason)> {
    let total = places.total;
    // What is in the ground is borne by it, and held by nothing else.
    let ground = ground(network, line, total);
    let above_ground = total.checked_sub(ground.unwrap_or_default()).unwrap_or(total);
    if above_ground <= practice.straps.held_by_fittings.up_to {
        return Vec::new();
    }
    // Distances are taken from the foot up, and turned round at the end where the line points down.
    let downward = is_downward(network, line);
    let clear = practice.straps.clear_of_fitting.by;
    let starts = places.fittings();
    let from_foot_up = starts.filter_map(|start| {
        if downward {
            total.checked_sub(start)
        } else {
            Some(start)
        }
    });
    let fittings = Fittings::of(from_foot_up, clear);
    let near = practice.straps.beside_fitting.within;
    let foot = ground.unwrap_or_else(|| clear.min(half(total)));
    let is_in_ground = |at: Length| ground.is_some_and(|ground| at <= ground);
    let mut fixed = vec![(foot, Reason::Foot)];
    for storey in network.storeys() {
        let above = storey
            .elevation
            .and_then(|floor| from_foot(network, line, downward, floor));
        let inside = |above: &Length| {
            !is_in_ground(*above)
                && *above > practice.straps.beside_fitting.within
                && above.checked_add(clear).is_some_and(|reach| reach < total)
        };
        if let Some(above) = above.filter(inside) {
            let around = [above.checked_sub(near), above.checked_add(near)].map(Option::unwrap_or_default);
            fixed.push((fittings.beside(above, around).unwrap_or(above), Reason::Floor));
        }
    }
    let mut taken: BTreeSet<Length> = fixed.iter().map(|(at, _)| *at).collect();
    for (at, beside) in bends(network, line, places, clear) {
        let up = |at: Length| if downward { total.checked_sub(at) } else { Some(at) };
        let (Some(at), Some(beside)) = (up(at), up(beside)) else {
            continue;
        };
        let near = [at.checked_sub(near), at.checked_add(near)].map(Option::unwrap_or_default);
        if !is_in_ground(at) && !is_any_within(&taken, near) {
            let at = fittings.beside(beside, near).unwrap_or(beside);
            taken.insert(at);
            fixed.push((at, Reason::Turn));
        }
    }
    fixed.sort_by_key(|(at, _)| *at);
    fixed.push((total, Reason::End));
    let mut held: Vec<(Length, Reason)> = Vec::new();
    for (at, reason) in fixed {
        // A floor or the upper end holds the line: no other strap comes close to it.
        while let Some(limit) = limit
            && let Some((last, _)) = held.last().copied()
            && let Some(furthest) = last.checked_add(limit)
            && furthest < at
        {
            let next = next(last, furthest, at, near);
            held.push((fittings.after(last, next), Reason::Spacing));
        }
        // The upper end is held by what the line joins there.
        if reason != Reason::End {
            held.push((at, reason));
        }
    }
    let mut all = held.clone();
    if guide {
        let tops = held.iter().skip(1).map(|(at, _)| *at).chain([total]);
        for ((low, _), high) in held.iter().zip(tops) {
            let between = high.checked_sub(*low).map(half);
            let apart = between.filter(|half| *half > practice.straps.beside_fitting.within);
            let middle = apart.and_then(|half| low.checked_add(half));
            all.extend(middle.map(|at| (fittings.beside(at, [*low, high]).unwrap_or(at), Reason::Guide)));
        }
        all.sort_by_key(|(at, _)| *at);
    }
    if ground.is_some() {
        all.retain(|(at, reason)| (*at, *reason) != (foot, Reason::Foot));
    }
    if downward {
        all = all
            .into_iter()
            .filter_map(|(at, reason)| Some((total.checked_sub(at)?, reason)))
            .collect();
        all.reverse();
    }
    all
}

/// Whether a line that stands is listed from its upper end down.
fn is_downward(network: &Network, line: &Line) -> bool {
    let graph = network.graph();
    let height = |node: NodeId| graph.node_weight(node).and_then(|node| node.elevation);
    let start = line.pipes.first().and_then(|pipe| graph.edge_endpoints(*pipe));
    let end = line.pipes.last().and_then(|pipe| graph.edge_endpoints(*pipe));
    let heights = start
        .zip(end)
        .and_then(|((from, _), (_, to))| Some((height(from)?, height(to)?)));
    heights.map_or_else(
        || {
            line.pipes
                .first()
                .and_then(|pipe| graph.edge_weight(*pipe))
                .is_some_and(|pipe| pipe.role == Role::Drain)
        },
        |(start, end)| end < start,
    )
}

/// How far up from its foot a line that stands is in the ground: to the lowest floor above where it joins a pipe in the
/// ground. None where it joins none there; nothing where no floor is known.
fn ground(network: &Network, line: &Line, total: Length) -> Option<Length> {
    let graph = network.graph();
    let downward = is_downward(network, line);
    let pipe = if downward {
        line.pipes.last()
    } else {
        line.pipes.first()
    };
    let (from, to) = graph.edge_endpoints(*pipe?)?;
    let foot = if downward { to } else { from };
    let mut joined = graph
        .edges_directed(foot, Incoming)
        .chain(graph.edges_directed(foot, Outgoing));
    if !joined.any(|pipe| pipe.weight().underground) {
        return None;
    }
    let height = graph.node_weight(foot).and_then(|node| node.elevation);
    let floors = network.storeys().iter().filter_map(|storey| storey.elevation);
    let floor = height.and_then(|height| floors.filter(|floor| *floor > height).min());
    let Some(floor) = floor else {
        return Some(Length::ZERO);
    };
    Some(from_foot(network, line, downward, floor).unwrap_or(total))
}

/// The bends by which a line that stands is set aside, by how far along it they are, each with a place so far from it on the
/// pipe that goes on plumb: there what bears on the bend is held.
fn bends(network: &Network, line: &Line, places: &Places, clear: Length) -> Vec<(Length, Length)> {
    let graph = network.graph();
    let plumb = |pipe: &PipeId| {
        let pipe = graph.edge_weight(*pipe);
        pipe.is_some_and(|pipe| pipe.slope.is_some_and(Slope::is_vertical))
    };
    let joints = line.pipes.windows(2).zip(places.starts.iter().skip(1));
    let bends = joints.filter_map(|(pair, (_, at))| {
        let beside = match (plumb(pair.first()?), plumb(pair.last()?)) {
            (true, false) => at.checked_sub(clear)?,
            (false, true) => at.checked_add(clear)?,
            _ => return None,
        };
        Some((*at, beside))
    });
    bends.collect()
}

/// How far along a vertical line from its foot a height lies, which the line passes once; an offset in it is longer than it
/// is high.
fn from_foot(network: &Network, line: &Line, downward: bool, height: Length) -> Option<Length> {
    let graph = network.graph();
    let mut below = Length::ZERO;
    for step in 0..line.pipes.len() {
        let index = if downward {
            line.pipes.len() - 1 - step
        } else {
            step
        };
        let pipe = *line.pipes.get(index)?;
        let (from, to) = graph.edge_endpoints(pipe)?;
        let (low, high) = if downward { (to, from) } else { (from, to) };
        let at = |node: NodeId| graph.node_weight(node)?.elevation;
        let (low, high, length) = (at(low)?, at(high)?, length_of(network, pipe)?);
        if low <= height && height < high {
            let (up, whole) = (height.checked_sub(low)?, high.checked_sub(low)?);
            let along = length.checked_scale(up.nanometres(), whole.nanometres())?;
            return below.checked_add(along);
        }
        below = below.checked_add(length)?;
    }
    None
}

/// The strap schedule as a sheet.
pub(crate) fn straps(job: &Job<'_>) -> Sheet {
    let network = job.network;
    let graph = network.graph();
    let mut notes = Vec::new();
    let mut rows = Vec::new();
    let (Some(measured), Some(practice)) = (&job.plumbing, job.practice) else {
        return sheet(
            job,
            rows,
            vec!["No rule set is given, and so no spacing of supports.".to_owned()],
        );
    };
    let schedule = schedule(network, measured, practice, &job.pieces);
    let before = &practice.straps.before_joining;
    for (number, strap) in (1..).zip(&schedule.straps) {
        let Some(pipe) = graph.edge_weight(strap.pipe) else {
            continue;
        };
        let run = network.run(pipe.run);
        let horizontal = is_vertical(measured, strap.pipe) == Some(false);
        let first = horizontal && pipe.length.is_some_and(|length| length > before.longer_than);
        let height = network.height_along(strap.pipe, strap.along);
        let storey = job.storey_at(strap.pipe, height);
        let above = |height: Option<Length>| {
            let floor = storey.and_then(|storey| storey.elevation);
            height
                .zip(floor)
                .and_then(|(height, floor)| height.checked_sub(floor))
        };
        let outside = pipe.material.zip(pipe.size);
        let outside = outside.and_then(|(material, size)| job.dimensions.pipe(material, size));
        let underside = height.zip(outside).and_then(|(height, size)| {
            // Straight below the centre of a pipe that lies at a slope, its outside is half its diameter over the cosine.
            let slope = pipe.slope?.as_f64()?;
            height.checked_sub(Length::from_metres_f64(
                size.outside.as_metres_f64() / 2.0 * slope.hypot(1.0),
            )?)
        });
        let missing = |what: &str| format!("`{}`: {what}", pipe.name);
        rows.push(vec![
            run.map_or(Cell::Empty, |run| Cell::from(&*run.name)),
            Cell::Count(number),
            Cell::from(&*pipe.name),
            job.pipe_in_words(pipe).map_or_else(
                || Cell::length_or(None, &missing("its size or material")),
                Cell::from,
            ),
            Cell::Length(strap.along),
            Cell::length_or(above(height), &missing("the heights of its ends")),
            if horizontal {
                Cell::length_or(
                    above(underside),
                    &missing("the heights of its ends, or its outside diameter"),
                )
            } else {
                Cell::Empty
            },
            storey.map_or(Cell::Empty, |storey| Cell::from(&*storey.name)),
            Cell::from(strap.reason.name()),
            if first { Cell::from("yes") } else { Cell::Empty },
        ]);
    }
    for &pipe in &schedule.continuous {
        if let Some(pipe) = graph.edge_weight(pipe) {
            notes.push(format!("`{}` is held along its whole length.", pipe.name));
        }
    }
    let bedded = schedule.bedded.iter().filter_map(|pipe| graph.edge_weight(*pipe));
    let bedded: Vec<String> = bedded.map(|pipe| format!("`{}`", pipe.name)).collect();
    if !bedded.is_empty() {
        notes.push(format!(
            "What comes out of the ground is borne by it: the foot of {} is bedded on firm ground or concrete, and is held from \
             the floor up.",
            bedded.join(", ")
        ));
    }
    for (pipe, missing) in &schedule.open {
        if let Some(pipe) = graph.edge_weight(*pipe) {
            notes.push(format!("No straps for `{}`: {missing} is not stated.", pipe.name));
        }
    }
    notes.extend(schedule.spacings);
    let straps = &practice.straps;
    let shown = |length: Length| length.in_notation(network.notation()).to_string();
    notes.push(
        "Distances along a pipe are from the centre of the fitting at its upper end, of a vent at its lower end. Heights \
         are of the centre line and the underside, above the floor of the storey named; minus is below it."
            .to_owned(),
    );
    notes.push(format!(
        "`strap first`: a horizontal piece longer than {} is set to grade and strapped before it is joined ({}).",
        shown(before.longer_than),
        cited(&before.cite)
    ));
    notes.push(format!(
        "What lies is held within {} of turns, ends and traps ({}); straps are kept {} clear of the middle of fittings ({}); lines up to {} are \
         held by their fittings ({}).",
        shown(straps.beside_fitting.within),
        cited(&straps.beside_fitting.cite),
        shown(straps.clear_of_fitting.by),
        cited(&straps.clear_of_fitting.cite),
        shown(straps.held_by_fittings.up_to),
        cited(&straps.held_by_fittings.cite)
    ));
    notes.push(format!(
        "What stands is held at its foot, at the floors that it passes, and beside the bends that set it aside ({}).",
        cited(&straps.standing.cite)
    ));
    let coupling = &straps.beside_coupling;
    let coupled = |material: Option<Material>| material.is_some_and(|own| coupling.materials.contains(&own));
    if job.pipes().any(|(_, pipe)| coupled(pipe.material)) {
        let materials: Vec<_> = coupling.materials.iter().map(ToString::to_string).collect();
        notes.push(format!(
            "Of {}, what lies is held within {} of its couplings ({}).",
            materials.join(" and "),
            shown(coupling.within),
            cited(&coupling.cite)
        ));
    }
    notes.push(
        "Hangers wide enough not to cut or squeeze plastic pipe, and loose enough to let it slide; a firestop device is no \
         support."
            .to_owned(),
    );
    sheet(job, rows, notes)
}

fn sheet(job: &Job<'_>, rows: Vec<Vec<Cell>>, notes: Vec<String>) -> Sheet {
    Sheet {
        name: "straps",
        title: "where pipe is strapped".to_owned(),
        network: job.network.name().to_owned(),
        notation: job.network.notation(),
        columns: vec![
            Column::new("run", "run", Holds::Text),
            Column::new("number", "no.", Holds::Count),
            Column::new("pipe", "pipe", Holds::Text),
            Column::new("kind", "kind", Holds::Text),
            Column::new("along", "along", Holds::Length),
            Column::new("height", "centre", Holds::Length),
            Column::new("underside", "underside", Holds::Length),
            Column::new("storey", "above floor of", Holds::Text),
            Column::new("reason", "for", Holds::Text),
            Column::new("first", "strap first", Holds::Text),
        ],
        headings: 1,
        rows,
        notes,
    }
}
