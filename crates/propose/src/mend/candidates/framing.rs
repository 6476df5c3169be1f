//! Changes of where a pipe passes framing: plates and ties, wider holes, another centre, a run higher or lower.

use std::collections::{BTreeSet, VecDeque};

use crownweir_evaluate::{Got, Limit};
use crownweir_network::{NodeId, NodeKind, Passage, PipeId};
use crownweir_quantity::{Length, Notation, Slope};
use crownweir_rulebook::{Comparison, Fact, Subject, Value};
use crownweir_vocabulary::Role;
use petgraph::Direction;

use super::Candidates;
use crate::mend::change::{Change, PropertyValue, written};

/// How many fittings and fixtures a run that is moved has at the most.
const MOST_MOVED: usize = 200;

impl Candidates<'_> {
    pub(super) fn of_passage(
        &mut self,
        element: u32,
        fact: Fact,
        limit: Option<Value>,
        comparison: Option<Comparison>,
    ) {
        let Some(passage) = self.network.passages().get(element as usize) else {
            return;
        };
        match (fact, limit) {
            (Fact::PassagePlate, Some(Value::Truth(true))) => self.restate(passage, "steel_plate", true),
            (Fact::PassageTie, Some(Value::Truth(true))) => self.restate(passage, "metal_tie", true),
            (Fact::PassageDoubled, Some(Value::Truth(true))) => self.double(passage),
            (Fact::PassageHole, Some(Value::Length(least))) if comparison == Some(Comparison::AtLeast) => {
                self.bore_wider(element, passage, least);
            }
            (Fact::PassageHole, Some(Value::Length(most))) => {
                self.bore_narrower(element, passage, Some(most))
            }
            (Fact::PassageNextCut | Fact::PassageWoodLeft, _) => self.bore_narrower(element, passage, None),
            (Fact::PassageEdge | Fact::PassageCover, Some(Value::Length(least))) => {
                if fact == Fact::PassageEdge {
                    self.bore_narrower(element, passage, None);
                }
                self.further_from_edge(element, passage, fact, least);
            }
            _ => {}
        }
    }

    /// The hole that the rule set has for the pipe, or where it passes out of square, as much wider as that takes.
    fn usual_hole(&self, element: u32, passage: &Passage) -> Option<Length> {
        let framing = self.rules.framing.as_ref()?;
        let pipe = u32::try_from(passage.pipe.index()).ok()?;
        let Limit::Known(Value::Length(usual)) = self.measured.limit(Subject::Pipe, pipe, &framing.hole)
        else {
            return None;
        };
        match self
            .measured
            .fact(Subject::Passage, element, Fact::PassageLeastHole)
        {
            Got::Known(Value::Length(least)) => Some(usual.max(least)),
            _ => Some(usual),
        }
    }

    /// A wider hole in place of one that is stated.
    fn bore_wider(&mut self, element: u32, passage: &Passage, least: Length) {
        let holes = [self.usual_hole(element, passage), Some(least)];
        let holes = holes.map(|hole| self.stepped(hole?));
        self.bore(passage, holes, |now, hole| now < hole);
    }

    /// A narrower hole in place of one that is stated.
    fn bore_narrower(&mut self, element: u32, passage: &Passage, most: Option<Length>) {
        let usual = self.usual_hole(element, passage);
        let holes = [
            usual.and_then(|usual| self.stepped(usual)),
            most.and_then(|most| self.stepped_down(most)),
        ];
        self.bore(passage, holes, |now, hole| now > hole);
    }

    fn bore(&mut self, passage: &Passage, holes: [Option<Length>; 2], is_wanted: fn(Length, Length) -> bool) {
        for hole in holes.into_iter().flatten() {
            if passage.hole.is_some_and(|now| is_wanted(now, hole)) {
                self.restate(passage, "hole", written(hole, self.network));
            }
        }
    }

    /// A second member beside that which is passed, and with it how many of a row are so, which a rule may ask.
    fn double(&mut self, passage: &Passage) {
        self.restate(passage, "doubled", true);
        let passages = self.network.passages().iter();
        let alike = passages
            .filter(|other| (other.pipe, other.members) == (passage.pipe, passage.members))
            .count();
        let in_row = u32::try_from(alike).ok().map(PropertyValue::Count);
        let both = [
            self.restated(passage, "doubled", true.into()),
            in_row.and_then(|count| self.restated(passage, "doubled_in_row", count)),
        ];
        self.push(both.into_iter().flatten());
    }

    fn restate(&mut self, passage: &Passage, property: &'static str, value: impl Into<PropertyValue>) {
        self.push(self.restated(passage, property, value.into()));
    }

    fn restated(&self, passage: &Passage, property: &'static str, value: PropertyValue) -> Option<Change> {
        let members = self.network.framing().get(passage.members as usize)?;
        Some(Change::Passage {
            pipe: self.name(passage.pipe),
            framing: members.name.to_string(),
            number: passage.number,
            property,
            value,
        })
    }

    /// The step of a tape, in nanometres.
    fn step(&self) -> i64 {
        match self.network.notation() {
            Notation::Inches => Length::INCH.nanometres() / 16,
            Notation::Millimetres => Length::MILLIMETRE.nanometres(),
        }
    }

    /// A length to the next step of a tape, no more.
    fn stepped_down(&self, length: Length) -> Option<Length> {
        let step = self.step();
        let steps = length.nanometres().div_euclid(step);
        steps.checked_mul(step).map(Length::from_nanometres)
    }

    /// A length to the next step of a tape, no less.
    fn stepped(&self, length: Length) -> Option<Length> {
        let step = self.step();
        let steps = length.nanometres().checked_add(step - 1)?.div_euclid(step);
        steps.checked_mul(step).map(Length::from_nanometres)
    }

    /// The hole further from the edge that it is near: by as much as is wanting there, and as is wanting where the pipe lies
    /// nearest to it.
    fn further_from_edge(&mut self, element: u32, passage: &Passage, fact: Fact, least: Length) {
        let (network, measured) = (self.network, self.measured);
        let wanting = |number: u32, passage: &Passage| {
            let members = network.framing().get(passage.members as usize)?;
            let (centre, depth) = (network.centre_of(passage)?, members.depth?);
            let is_low = centre.checked_add(centre)? < depth;
            match measured.fact(Subject::Passage, number, fact) {
                Got::Known(Value::Length(now)) => Some((is_low, least.checked_sub(now)?)),
                _ => None,
            }
        };
        let Some((is_low, own)) = wanting(element, passage) else {
            return;
        };
        let row = (0..).zip(network.passages());
        let of_pipe = row.filter(|(_, other)| (other.pipe, other.members) == (passage.pipe, passage.members));
        let wantings = of_pipe.filter_map(|(number, other)| wanting(number, other));
        let most = wantings.filter(|(low, _)| *low == is_low).map(|(_, by)| by).max();
        let mut moves: Vec<Length> = [Some(own), most]
            .into_iter()
            .filter_map(|by| self.stepped(by?))
            .filter(|by| *by > Length::ZERO)
            .collect();
        moves.dedup();
        for by in moves {
            let up = if is_low {
                Some(by)
            } else {
                Length::ZERO.checked_sub(by)
            };
            let Some(up) = up else { continue };
            if passage.centre.is_some() {
                let centre = network
                    .centre_of(passage)
                    .and_then(|centre| centre.checked_add(up));
                if let Some(centre) = centre {
                    self.restate(passage, "centre", written(centre, network));
                }
            }
            self.raise_run(passage.pipe, up);
        }
    }

    /// All that lies on end with a pipe higher by so much, or lower: by the heights that are stated in it, by the lengths of
    /// what comes down to it or goes down from it, and by both.
    pub(super) fn raise_run(&mut self, pipe: PipeId, up: Length) {
        let Some((nodes, uprights)) = self.lies_with(pipe) else {
            return;
        };
        let network = self.network;
        let stated = nodes.iter().filter(|node| network.states_height(**node));
        let heights: Option<Vec<Change>> = stated.map(|node| self.higher(*node, up)).collect();
        let lengths: Vec<Change> = uprights
            .iter()
            .filter(|upright| network.states_length(**upright))
            .filter_map(|upright| self.longer(*upright, &nodes, up))
            .collect();
        if let Some(heights) = heights.filter(|heights| !heights.is_empty()) {
            self.push(heights.clone());
            if !lengths.is_empty() {
                self.push(heights.into_iter().chain(lengths.clone()));
            }
        }
        for length in lengths {
            self.push([length]);
        }
    }

    /// The nodes that pipes which do not stand join to a pipe, and the plumb pipes at them; none where there are too many.
    fn lies_with(&self, pipe: PipeId) -> Option<(BTreeSet<NodeId>, BTreeSet<PipeId>)> {
        let graph = self.network.graph();
        let (from, to) = graph.edge_endpoints(pipe)?;
        let mut nodes = BTreeSet::from([from, to]);
        let mut uprights = BTreeSet::new();
        let mut waiting = VecDeque::from([from, to]);
        while let Some(node) = waiting.pop_front() {
            for direction in [Direction::Incoming, Direction::Outgoing] {
                for next in self.network.pipes_at(node, direction) {
                    if graph.edge_weight(next)?.slope.is_some_and(Slope::is_vertical) {
                        uprights.insert(next);
                        continue;
                    }
                    let (from, to) = graph.edge_endpoints(next)?;
                    for end in [from, to] {
                        if nodes.insert(end) {
                            waiting.push_back(end);
                        }
                    }
                }
            }
            if nodes.len() > MOST_MOVED {
                return None;
            }
        }
        Some((nodes, uprights))
    }

    pub(super) fn above_floor(&self, node: NodeId) -> Option<Length> {
        let own = self.network.graph().node_weight(node)?;
        let floor = self.network.storeys().get(own.storey? as usize)?.elevation?;
        own.elevation?.checked_sub(floor)
    }

    /// What stands at a node, so much higher above its floor.
    pub(super) fn higher(&self, node: NodeId, up: Length) -> Option<Change> {
        let own = self.network.graph().node_weight(node)?;
        let height = self.above_floor(node)?.checked_add(up)?;
        let key = match own.kind {
            NodeKind::Fixture(_) => "weir_height",
            _ => "height",
        };
        Some(self.property(node, key, written(height, self.network)))
    }

    /// A plumb pipe as long as it is when what lies at one of its ends is so much higher.
    fn longer(&self, upright: PipeId, moved: &BTreeSet<NodeId>, up: Length) -> Option<Change> {
        let graph = self.network.graph();
        let (own, (from, to)) = (graph.edge_weight(upright)?, graph.edge_endpoints(upright)?);
        let upper = if own.role == Role::Vent { to } else { from };
        // With both ends moved it stays as it is.
        (moved.contains(&from) != moved.contains(&to)).then_some(())?;
        let length = if moved.contains(&upper) {
            own.length?.checked_add(up)?
        } else {
            own.length?.checked_sub(up)?
        };
        (length > Length::ZERO).then(|| Change::Length {
            pipe: self.name(upright),
            length,
        })
    }
}
