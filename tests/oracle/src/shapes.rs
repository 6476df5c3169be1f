//! The shapes in which a trap can be seen, what is to be told of them, and which arrangement protects it.

use std::collections::BTreeSet;
use std::rc::Rc;

use crownweir_network::{NodeId, NodeKind, PipeId};
use crownweir_quantity::Load;
use crownweir_rulebook::{Fact, Subject, Value};
use crownweir_vocabulary::{FixtureType, Pattern, Role, RunKind};

use crate::air::Supply;
use crate::judge::{Outcome, facts_of};
use crate::{Got, Oracle, count, kept, known, least, some, truth};

/// What protects a trap.
#[derive(Debug, Clone, PartialEq)]
pub enum Arranged {
    /// The arrangement at that place in the rule set's list.
    By(usize),
    /// It cannot be told.
    Open,
    /// None; the nearest, by its place.
    Nearest(Option<usize>),
    /// It rests on facts that the oracle does not know.
    Unknown,
}

/// The part of a branch that one dry vent serves.
#[derive(Debug, Clone)]
pub(crate) struct Circuit {
    vent: NodeId,
    /// Where the branch has its air, and the last pipe of the vertical drain that leads there from the vent.
    foot: NodeId,
    riser: Option<PipeId>,
    /// Traps whose drains join below, and those that meet the vent or the foot from above.
    below: Vec<NodeId>,
    above: Vec<NodeId>,
    /// Those that do if the drain that brings them air is horizontal, of which it is not stated how it lies.
    open: Vec<NodeId>,
    /// The lowest joint.
    last: NodeId,
}

/// What relieves a branch: where it stands, its load, and the dry vent or vented drain that it is.
struct Relief {
    at: NodeId,
    load: Got,
    by: PipeId,
}

/// A trap's part in a drain with air above its water.
#[derive(Debug, Clone)]
pub(crate) struct Part {
    pub(crate) arm: Vec<PipeId>,
    pub(crate) drop: Vec<PipeId>,
    pub(crate) line: Vec<PipeId>,
    pub(crate) end: NodeId,
}

impl Oracle<'_> {
    fn place_in_group(&self, node: NodeId) -> bool {
        let own = self.fixture(node).map(|fixture| fixture.fixture_type);
        own.is_some_and(|own| {
            self.rules
                .definitions
                .bathroom_group
                .places()
                .any(|place| place.contains(&own))
        })
    }

    pub(crate) fn below(&self, one: NodeId, other: NodeId) -> bool {
        self.downstream(other).into_iter().any(|pipe| self.to(pipe) == one)
    }

    fn all_fixtures(&self) -> Vec<NodeId> {
        self.network
            .graph()
            .node_indices()
            .filter(|&node| self.fixture(node).is_some())
            .collect()
    }

    /// Whether a fixture lengthens the horizontal wet vent that it joins: a bathroom group has a place for it, and it
    /// is on the storey of the vent's own fixtures.
    pub(crate) fn lengthens(&self, node: NodeId, supply: &Supply) -> bool {
        let horizontal = self.plain_shapes(supply).first() == Some(&Pattern::WetHorizontal);
        supply.brings.is_some() && horizontal && self.belongs(node, supply) == Some(true)
    }

    /// Whether a fixture belongs on the wet vent that it joins; nothing where that hangs on a storey not stated.
    pub(crate) fn belongs(&self, node: NodeId, supply: &Supply) -> Option<bool> {
        let at_vent = self.at_vent(supply.vent);
        let storeys: Vec<_> = at_vent.iter().filter_map(|&one| self.node(one).storey).collect();
        if at_vent.is_empty() || !self.place_in_group(node) {
            return Some(false);
        }
        let own = self.node(node).storey?;
        let stands = storeys.iter().min() <= Some(&own) && storeys.iter().max() >= Some(&own);
        (stands || storeys.len() == at_vent.len()).then_some(stands)
    }

    /// The fixtures that share a trap's vent or wet vent. Of a wet vent, all down to its end, unless this one joins it
    /// further down.
    fn sharing(&self, supply: &Supply) -> Rc<Vec<NodeId>> {
        let mut end = supply.connection;
        if supply.brings.is_some() {
            for node in self.all_fixtures() {
                let Some(other) = self.supply(node).filter(|other| other.vent == supply.vent) else {
                    continue;
                };
                if self.lengthens(node, &other) && self.below(other.connection, end) {
                    end = other.connection;
                }
            }
        }
        self.fixtures_above(end)
    }

    /// The fewest bathroom groups that hold these fixtures: of each place there is one to a group.
    fn fewest_groups(&self, fixtures: &[NodeId]) -> usize {
        let places: Vec<_> = self.rules.definitions.bathroom_group.places().collect();
        let own: Vec<FixtureType> = fixtures
            .iter()
            .filter(|&&one| self.place_in_group(one))
            .filter_map(|&one| Some(self.fixture(one)?.fixture_type))
            .collect();
        // Each fixture is given a place of some group in turn, moving others where that helps.
        fn seat(
            at: usize,
            fits: &dyn Fn(usize, usize) -> bool,
            seats: &mut [Option<usize>],
            tried: &mut BTreeSet<usize>,
        ) -> bool {
            for one in 0..seats.len() {
                if fits(at, one) && tried.insert(one) && (seats[one].is_none_or(|sits| seat(sits, fits, seats, tried)))
                {
                    seats[one] = Some(at);
                    return true;
                }
            }
            false
        }
        (0..)
            .find(|&groups| {
                let mut seats = vec![None; groups * places.len()];
                let fits = |at: usize, one: usize| places[one % places.len()].contains(&own[at]);
                (0..own.len()).all(|at| seat(at, &fits, &mut seats, &mut BTreeSet::new()))
            })
            .unwrap_or(0)
    }

    /// The shapes of a trap, the plainest first; nothing where it cannot be told.
    pub(crate) fn shapes(&self, node: NodeId) -> Option<Vec<Pattern>> {
        let part = self.part(node);
        let Some(supply) = self.supply(node) else {
            if self.may_combine(node) {
                return None;
            }
            let beside = part.is_some_and(|part| self.joins_vented_building_drain(&part) == Some(true));
            return Some(if beside { vec![Pattern::Combination] } else { Vec::new() });
        };
        let mut shapes = self.plain_shapes(&supply);
        if shapes.is_empty() {
            return None;
        }
        if supply.brings.is_none() && self.in_loop(supply.connection) {
            shapes = vec![Pattern::Island];
        }
        if self.circuit_of(&supply).is_some() {
            shapes.push(Pattern::Circuit);
        }
        let on_stack = self
            .next(supply.connection)
            .filter(|&next| self.kind(next) == RunKind::Stack);
        if let Some(pipes) = on_stack.map(|pipe| self.stack_of(pipe)) {
            let vented = pipes.iter().any(|&pipe| {
                self.vents_from(self.from(pipe))
                    .iter()
                    .any(|&vent| self.kind(vent) == RunKind::StackVent)
            });
            if vented {
                shapes.push(Pattern::Stack);
            }
        }
        if part.is_some_and(|part| self.has_air(&part, Some(&supply)) == Some(true)) {
            shapes.push(Pattern::Combination);
        }
        Some(shapes)
    }

    /// Whether a trap's part in a level drain has air: a dry vent on it or at its end, or what it joins brings it.
    /// Nothing where it cannot be told how that lies.
    fn has_air(&self, part: &Part, supply: Option<&Supply>) -> Option<bool> {
        let Some(supply) = supply else {
            return self.joins_vented_building_drain(part);
        };
        let level = |pipe: Option<PipeId>| pipe.and_then(|pipe| self.vertical(pipe)) == Some(false);
        let lies = supply.brings.is_none() || level(supply.brings) || level(self.next(supply.connection));
        Some(lies && !self.below(supply.connection, part.end))
    }

    /// Whether every vent that leaves a drain comes down to a foot.
    fn in_loop(&self, node: NodeId) -> bool {
        let vents = self.vents_from(node);
        !vents.is_empty() && vents.into_iter().all(|vent| self.comes_to_foot(vent).is_some())
    }

    /// The nearest dry vent up a branch.
    fn nearest_vent(&self, node: NodeId) -> Option<NodeId> {
        let mut at = node;
        loop {
            if !self.vents_from(at).is_empty() {
                return Some(at);
            }
            at = self.from(*self.bringing(at).first()?);
        }
    }

    pub(crate) fn circuit_vent(&self, supply: &Supply) -> Option<NodeId> {
        match supply.brings {
            None => Some(supply.connection),
            Some(brings) => self.nearest_vent(self.from(brings)),
        }
    }

    /// What depends on the dry vent at a node through a horizontal branch, if anything does.
    fn circuit_at(&self, vent: NodeId) -> Option<Circuit> {
        let (mut foot, mut riser) = (vent, None);
        while let Some(next) = self.next(foot) {
            if self.vertical(next) != Some(true)
                || self.kind(next) != RunKind::Branch
                || !self.vents_from(self.to(next)).is_empty()
            {
                break;
            }
            (foot, riser) = (self.to(next), Some(next));
        }
        let mut circuit = Circuit {
            vent,
            foot,
            riser,
            below: Vec::new(),
            above: Vec::new(),
            open: Vec::new(),
            last: vent,
        };
        for node in self.all_fixtures() {
            let Some(supply) = self
                .supply(node)
                .filter(|supply| self.circuit_vent(supply) == Some(vent))
            else {
                continue;
            };
            let level = supply.brings.is_some_and(|brings| self.vertical(brings) == Some(false));
            if level {
                if circuit.below.is_empty() || self.below(supply.connection, circuit.last) {
                    circuit.last = supply.connection;
                }
                circuit.below.push(node);
            }
            if self.takes_above(&circuit, &supply) {
                circuit.above.push(node);
            }
            if supply.brings.is_some_and(|brings| self.vertical(brings).is_none()) {
                circuit.open.push(node);
            }
        }
        (!circuit.below.is_empty()).then_some(circuit)
    }

    fn takes_above(&self, circuit: &Circuit, supply: &Supply) -> bool {
        let plumb = supply.brings.is_none_or(|brings| self.vertical(brings) == Some(true));
        plumb && supply.connection == circuit.foot && Some(supply.arrival) != circuit.riser
    }

    fn circuit_of(&self, supply: &Supply) -> Option<Circuit> {
        let circuit = self.circuit_at(self.circuit_vent(supply)?)?;
        let level = match supply.brings {
            Some(brings) => self.vertical(brings) == Some(false),
            None => circuit.foot == circuit.vent,
        };
        (level || self.takes_above(&circuit, supply)).then_some(circuit)
    }

    /// The highest joint above the foot, where it is one, to the lowest.
    fn circuit_line(&self, circuit: &Circuit) -> Vec<PipeId> {
        let beside = self
            .inlets(circuit.foot)
            .into_iter()
            .filter(|&inlet| Some(inlet) != circuit.riser);
        let mut line: Vec<_> = beside
            .filter(|&inlet| self.inlets(self.from(inlet)).len() > 1)
            .collect();
        line.extend(self.way(circuit.foot, circuit.last));
        line
    }

    /// The circuit up the branch that another one's vent follows, where no trap meets that vent itself.
    fn follows(&self, circuit: &Circuit) -> Option<Circuit> {
        let above = self.from(*self.bringing(circuit.vent).first()?);
        self.circuit_at(self.nearest_vent(above)?)
            .filter(|_| circuit.above.is_empty())
    }

    /// How many traps are known to depend on the dry vent. Where one circuit follows another, the last trap of the one
    /// is the first of the next.
    fn members(&self, circuit: &Circuit) -> usize {
        let first = usize::from(self.follows(circuit).is_some());
        let others = self
            .all_fixtures()
            .into_iter()
            .filter_map(|one| self.circuit_vent(&self.supply(one)?))
            .collect::<BTreeSet<_>>();
        let taken = others
            .into_iter()
            .filter_map(|vent| self.circuit_at(vent))
            .filter(|other| self.follows(other).is_some_and(|one| one.vent == circuit.vent))
            .count();
        circuit.below.len() + circuit.above.len() + first - taken
    }

    /// The fewest and the most traps that may depend on the dry vent of a trap's circuit.
    pub(crate) fn fewest_and_most(&self, node: NodeId) -> Option<(usize, usize)> {
        let circuit = self.circuit_of(&self.supply(node)?)?;
        let least = self.members(&circuit);
        Some((least, least + circuit.open.len()))
    }

    pub(crate) fn circuit_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        use Fact as F;
        let is_known = matches!(
            fact,
            F::CircuitFixtures
                | F::CircuitAbove
                | F::CircuitJoints
                | F::CircuitLevel
                | F::CircuitLevelBelow
                | F::CircuitSteepest
                | F::CircuitGentlest
                | F::CircuitSmallest
                | F::CircuitLargest
                | F::CircuitLoad
                | F::CircuitClosets
                | F::CircuitVentSize
                | F::CircuitRiserFixtures
                | F::CircuitRiserHeaviest
                | F::CircuitRiserPattern
                | F::CircuitRiserSize
                | F::CircuitSmallestArm
                | F::CircuitLargestArm
                | F::CircuitTypes
                | F::CircuitStackFromAbove
                | F::CircuitRelief
                | F::CircuitReliefSize
                | F::CircuitStacks
                | F::CircuitSameStorey
                | F::CircuitTurn
        );
        if !is_known {
            return None;
        }
        let Some(circuit) = self.supply(node).and_then(|supply| self.circuit_of(&supply)) else {
            return Some(Got::Absent);
        };
        let line = self.circuit_line(&circuit);
        let on_riser = circuit.riser.map(|riser| self.fixtures_above(self.from(riser)));
        let own: Vec<_> = circuit.below.iter().chain(&circuit.above).copied().collect();
        let arms: Vec<_> = own.iter().filter_map(|&one| self.next(one)).collect();
        Some(match fact {
            F::CircuitFixtures if !circuit.open.is_empty() => Got::Missing,
            F::CircuitFixtures => count(self.members(&circuit)),
            F::CircuitAbove => count(if self.follows(&circuit).is_some() {
                1
            } else {
                circuit.above.len()
            }),
            F::CircuitTypes => count(
                own.iter()
                    .filter_map(|&one| Some(self.fixture(one)?.fixture_type))
                    .collect::<BTreeSet<_>>()
                    .len(),
            ),
            F::CircuitJoints => count(
                self.inlets(circuit.foot)
                    .into_iter()
                    .filter(|&inlet| Some(inlet) != circuit.riser)
                    .count(),
            ),
            F::CircuitLevel => self.all_lie(&self.way(circuit.vent, circuit.last), false),
            F::CircuitLevelBelow => self.all_lie(&self.way(circuit.foot, circuit.last), false),
            F::CircuitSteepest => self.slopes(&line, true),
            F::CircuitGentlest => self.slopes(&line, false),
            F::CircuitSmallest => self.extreme(&line, false),
            F::CircuitLargest => self.extreme(&line, true),
            F::CircuitLoad => self.load_at(circuit.last),
            F::CircuitClosets => count(self.closets_above(circuit.last)),
            F::CircuitVentSize => self.extreme(&self.vents_from(circuit.vent), true),
            F::CircuitRiserFixtures => count(on_riser.map_or(0, |on| on.len())),
            F::CircuitRiserHeaviest => {
                on_riser.map_or(Got::Known(Value::Load(Load::default())), |on| self.heaviest(&on))
            }
            F::CircuitRiserPattern if circuit.riser.is_some() => {
                known(self.pattern(circuit.vent), |pattern| Value::Word(pattern.name()))
            }
            F::CircuitRiserSize => circuit.riser.map_or(Got::Absent, |riser| self.size_of(riser)),
            F::CircuitStackFromAbove => {
                let joint = self.stack_joint(circuit.last);
                truth(joint.is_some_and(|joint| {
                    self.inlets(joint).into_iter().any(|inlet| {
                        self.kind(inlet) == RunKind::Stack && !self.fixtures_above(self.from(inlet)).is_empty()
                    })
                }))
            }
            F::CircuitRelief => {
                let reliefs = self.reliefs_below(circuit.last);
                let known = least(reliefs.iter().map(|one| one.load).filter(|load| *load != Got::Missing));
                // One of unknown load carries at least what is known of it.
                let may_be_lighter = reliefs.iter().filter(|one| one.load == Got::Missing).any(|one| {
                    let above = self.fixtures_above(self.from(one.by));
                    let loads = above.iter().filter_map(|&fixture| match self.fixture_load(fixture) {
                        Got::Known(Value::Load(load)) => Some(load.thousandths()),
                        _ => None,
                    });
                    let carries = loads.sum::<i64>();
                    !matches!(known, Got::Known(Value::Load(known)) if known.thousandths() <= carries)
                });
                if may_be_lighter { Got::Missing } else { known }
            }
            F::CircuitReliefSize => {
                let reliefs = self.reliefs_below(circuit.last);
                let by = reliefs.iter().map(|relief| relief.by);
                let vents: Vec<_> = by.filter(|&by| self.pipe(by).role == Role::Vent).collect();
                self.extreme(&vents, true)
            }
            F::CircuitTurn => {
                let end = self
                    .reliefs_below(circuit.last)
                    .first()
                    .map_or(circuit.last, |relief| relief.at);
                self.turns(&self.way(circuit.foot, end))
            }
            F::CircuitSameStorey => self.same_storey_by_drop(circuit.last),
            F::CircuitStacks => {
                let ends = |pipe: PipeId| {
                    self.kind(pipe) == RunKind::Stack
                        && self
                            .next(self.to(pipe))
                            .is_none_or(|next| self.kind(next) != RunKind::Stack)
                        && (self.to(pipe) == circuit.last || self.below(circuit.last, self.to(pipe)))
                };
                count(self.network.graph().edge_indices().filter(|&pipe| ends(pipe)).count())
            }
            F::CircuitSmallestArm => self.extreme(&arms, false),
            F::CircuitLargestArm => self.extreme(&arms, true),
            _ => Got::Absent,
        })
    }

    /// Whether the fixtures of a branch are on one storey, down to where it drops, a stack joins it, or it ends.
    fn same_storey_by_drop(&self, node: NodeId) -> Got {
        let line = self.downstream(node).into_iter().skip(1);
        let line: Vec<_> = self
            .next(node)
            .into_iter()
            .chain(line)
            .take_while(|&pipe| self.kind(pipe) == RunKind::Branch)
            .collect();
        let takes_stack = |node: NodeId| {
            let mut pipes = self.network.graph().edge_indices();
            pipes.any(|pipe| self.to(pipe) == node && self.kind(pipe) == RunKind::Stack)
        };
        let told = |may_lie: fn(Option<bool>) -> bool| {
            let mut end = node;
            for &pipe in line.iter().take_while(|&&pipe| may_lie(self.vertical(pipe))) {
                end = self.from(pipe);
                if takes_stack(self.to(pipe)) {
                    break;
                }
            }
            let above = self.fixtures_above(end);
            let storeys: Vec<_> = above.iter().map(|&one| self.node(one).storey).collect();
            match storeys.len() > 1 && storeys.contains(&None) {
                true => Got::Missing,
                false => truth(storeys.windows(2).all(|two| two[0] == two[1])),
            }
        };
        let (least, most) = (told(|lies| lies == Some(false)), told(|lies| lies != Some(true)));
        match least == most || least == truth(false) {
            true => least,
            false => Got::Missing,
        }
    }

    /// What relieves a branch below a node, before its stack, the nearest first. A vent that ends at a valve lets air in
    /// and relieves nothing.
    fn reliefs_below(&self, node: NodeId) -> Vec<Relief> {
        let mut found = Vec::new();
        for two in self.downstream(node).windows(2) {
            if two.iter().any(|&pipe| self.kind(pipe) != RunKind::Branch) {
                break;
            }
            let at = self.to(two[0]);
            let open = self.vents_from(at).into_iter();
            let open = open.filter(|&vent| matches!(self.node(self.vent_end(vent)).kind, NodeKind::Terminal(_)));
            let load = Got::Known(Value::Load(Load::default()));
            found.extend(open.map(|by| Relief { at, load, by }));
            let joined = self.bringing(at).into_iter().filter(|&inlet| inlet != two[0]);
            for by in joined {
                let above = self.fixtures_above(self.from(by));
                if !above.is_empty() {
                    let load = self.sum_of_loads(&above);
                    found.push(Relief { at, load, by });
                }
            }
        }
        found
    }

    /// What is known of a drain that relieves circuit-vented branches; it is not told which does where a load is not known.
    pub(crate) fn relief_fact(&self, drain: PipeId, fact: Fact) -> Option<Got> {
        let (mut vents, mut may_relieve) = (Vec::new(), false);
        for circuit in self
            .network
            .graph()
            .node_indices()
            .filter_map(|node| self.circuit_at(node))
        {
            let Some(first) = self.next(circuit.vent) else {
                continue;
            };
            let protects = self.wet_fact(first, Fact::DrainIsCircuit)?;
            if protects == truth(false) {
                continue;
            }
            let reliefs = self.reliefs_below(circuit.last);
            if reliefs.len() > 1 && reliefs.iter().any(|relief| relief.load == Got::Missing) {
                return None;
            }
            let load = |relief: &Relief| match relief.load {
                Got::Known(Value::Load(load)) => load.thousandths(),
                _ => 0,
            };
            // Of two alike the nearer comes first.
            let lightest = reliefs.iter().min_by_key(|relief| load(relief));
            // Of two alike at one joint either may be meant.
            let alike = |one: &&Relief| {
                lightest.is_some_and(|relief| (relief.at, load(relief)) == (one.at, load(one)) && load(one) > 0)
            };
            if reliefs.iter().filter(alike).count() > 1 {
                return None;
            }
            if lightest.is_some_and(|relief| relief.by == drain) {
                match protects {
                    Got::Missing => may_relieve = true,
                    _ => vents.extend(self.vents_from(circuit.vent)),
                }
            }
        }
        let air = self.brought_by(drain);
        let way = air.map(|air| self.way(air, self.to(drain)));
        Some(match fact {
            Fact::DrainRelievedSize if may_relieve => Got::Missing,
            _ if vents.is_empty() && may_relieve => Got::Missing,
            _ if vents.is_empty() => Got::Absent,
            Fact::DrainReliefSmallest => self.extreme(&way?, false),
            _ => self.extreme(&vents, true),
        })
    }

    /// Whether a drain carries a fixture, other than by a stack, whose own drain meets a dry vent of its own.
    fn carries_vented(&self, pipe: PipeId) -> bool {
        self.fixtures_above(self.from(pipe)).iter().any(|&node| {
            let Some(supply) = self.supply(node).filter(|supply| supply.brings.is_none()) else {
                return false;
            };
            let alone = self.fixtures_above(self.from(supply.arrival)).len() == 1;
            let way = self.way(supply.connection, self.from(pipe));
            let comes = supply.connection == self.from(pipe) || self.below(self.from(pipe), supply.connection);
            alone && comes && way.iter().all(|&drain| self.kind(drain) != RunKind::Stack)
        })
    }

    fn onward_level(&self, node: NodeId) -> Option<PipeId> {
        self.next(node)
            .filter(|&next| self.kind(next) == RunKind::Branch && self.vertical(next) != Some(true))
    }

    /// Where the level drain ends that a drain is part of, and the drains down to there.
    fn level_end(&self, drain: PipeId) -> (NodeId, Vec<PipeId>) {
        let mut line = vec![drain];
        let mut at = drain;
        loop {
            let node = self.to(at);
            let onward = self.onward_level(node);
            let joins = self.bringing(node).into_iter().take(2).any(|other| {
                other != at && self.carries_vented(other) && (onward.is_some() || self.vertical(other) == Some(false))
            });
            match onward.filter(|_| !joins && self.vents_from(node).is_empty()) {
                Some(next) => {
                    line.push(next);
                    at = next;
                }
                None => return (node, line),
            }
        }
    }

    fn joins_vented_building_drain(&self, part: &Part) -> Option<bool> {
        let next = self
            .next(part.end)
            .filter(|&next| self.kind(next) == RunKind::BuildingDrain);
        let brings = |inlet: &PipeId| self.kind(*inlet) != RunKind::Stack && self.carries_vented(*inlet);
        match next {
            Some(next) if self.inlets(part.end).iter().any(brings) => Some(!self.vertical(next)?),
            _ => Some(false),
        }
    }

    /// A trap's part in a level drain beyond its own: that ends where it is joined, or enlarged, or has dropped. Its own,
    /// where that leads level to the building drain. None where it cannot be told.
    pub(crate) fn part(&self, fixture: NodeId) -> Option<Part> {
        match self.parts(fixture).as_slice() {
            [one] => one.clone(),
            _ => None,
        }
    }

    /// All that a trap's part may be: for each drain that may or may not be larger than the trap's first, what comes of
    /// its being the first that is, and what comes of none being larger.
    pub(crate) fn parts(&self, fixture: NodeId) -> Vec<Option<Part>> {
        let mut parts = Vec::new();
        loop {
            let mut undecided = 0;
            parts.push(self.part_where(fixture, |_| {
                undecided += 1;
                undecided > parts.len()
            }));
            if undecided < parts.len() {
                return parts;
            }
        }
    }

    /// The part, where it is said of each drain whether it is larger that the file does not tell of.
    fn part_where(&self, fixture: NodeId, mut larger: impl FnMut(PipeId) -> bool) -> Option<Part> {
        let own_size = self.size(self.next(fixture)?);
        let (mut arm, mut drop) = (Vec::new(), Vec::new());
        for drain in self.downstream(fixture) {
            if self.kind(drain) != RunKind::Branch {
                return None;
            }
            let node = self.from(drain);
            let shared = self.fixtures_above(node).len() > 1;
            let plumb = self.vertical(drain) == Some(true);
            if node != fixture && !self.vents_from(node).is_empty() {
                // What is vented before the drain is level again has no part in it, save at the foot of a drop.
                let came_plumb = drop.last().is_some_and(|&last| self.to(last) == node);
                if plumb || !came_plumb {
                    return None;
                }
            }
            let mut enlarged = || match (own_size, self.size(drain)) {
                _ if node == fixture => false,
                (Some(own), Some(size)) => size > own,
                _ => larger(drain),
            };
            if plumb {
                if shared {
                    return None;
                }
                drop.push(drain);
            } else if shared || !drop.is_empty() || enlarged() {
                let (end, line) = self.level_end(drain);
                return Some(Part { arm, drop, line, end });
            } else {
                arm.push(drain);
            }
            let (end, _) = self.level_end(drain);
            let drops = self
                .next(self.to(drain))
                .is_some_and(|next| self.vertical(next) == Some(true));
            if end == self.to(drain) && !plumb && !drops {
                if !self.vents_from(end).is_empty() || self.kind(self.next(end)?) != RunKind::BuildingDrain {
                    return None;
                }
                let (end, line) = self.level_end(self.next(fixture)?);
                return Some(Part { arm, drop, line, end });
            }
        }
        None
    }

    /// Whether it cannot be told if a trap is seen as part of a combination drain.
    fn may_combine(&self, node: NodeId) -> bool {
        let (parts, supply) = (self.parts(node), self.supply(node));
        let air = parts.iter().flatten().map(|part| self.has_air(part, supply.as_ref()));
        let (air, only) = (air.collect::<Vec<_>>(), parts.len() == 1);
        air.contains(&None) || !only && air.contains(&Some(true))
    }

    pub(crate) fn combination_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        use Fact as F;
        let is_known = matches!(
            fact,
            F::CombinationArm
                | F::CombinationDrop
                | F::CombinationDropSlope
                | F::CombinationDropSize
                | F::CombinationSteepest
                | F::CombinationSmallest
                | F::CombinationLoad
                | F::CombinationVented
                | F::CombinationProtects
                | F::CombinationVentSize
                | F::CombinationVentedSize
                | F::CombinationVentCleanouts
        );
        if !is_known {
            return None;
        }
        if self.parts(node).len() > 1 {
            return Some(Got::Missing);
        }
        let Some(part) = self.part(node) else {
            return Some(Got::Absent);
        };
        Some(match fact {
            F::CombinationArm => self.length(&part.arm),
            F::CombinationDrop => self.length(&part.drop),
            F::CombinationDropSlope => some(
                part.drop.iter().filter_map(|&pipe| self.pipe(pipe).slope).max(),
                Value::Slope,
            ),
            F::CombinationDropSize => self.extreme(&part.drop, false),
            F::CombinationProtects => {
                let last = part.line.last().copied();
                return last.map_or(Some(Got::Absent), |last| self.wet_fact(last, F::DrainIsCombination));
            }
            F::CombinationVented => known(self.has_air(&part, self.supply(node).as_ref()), Value::Truth),
            F::CombinationVentSize | F::CombinationVentedSize | F::CombinationVentCleanouts => {
                let Some(vent) = self.supply(node).map(|supply| supply.vent) else {
                    return Some(Got::Absent);
                };
                match fact {
                    F::CombinationVentSize => self.extreme(&self.vents_from(vent), true),
                    F::CombinationVentedSize => {
                        let drains = self.inlets(vent).into_iter().chain(self.next(vent));
                        self.extreme(&drains.collect::<Vec<_>>(), true)
                    }
                    _ => {
                        let way = self.air_way(vent).into_iter().map(|pipe| self.from(pipe));
                        let way = way.take_while(|&node| node == vent || self.vents_to(node).len() < 2);
                        count(way.filter(|&node| self.is_cleanout(node)).count())
                    }
                }
            }
            F::CombinationSteepest => self.slopes(&part.line, true),
            F::CombinationSmallest => self.extreme(&part.line, false),
            _ => part.line.last().map_or(Got::Absent, |&last| {
                self.sum_of_loads(&self.fixtures_above(self.from(last)))
            }),
        })
    }

    pub(crate) fn shape_fact(&self, node: NodeId, fact: Fact) -> Option<Got> {
        let supply = self.supply(node);
        match fact {
            Fact::ProtectionPattern => Some(match self.shapes(node) {
                None => Got::Missing,
                Some(shapes) => Got::Known(Value::Word(shapes.first().unwrap_or(&Pattern::None).name())),
            }),
            Fact::ProtectionSameStorey => {
                let shared = match &supply {
                    None => {
                        let part = self.part(node);
                        let beside = part.is_some_and(|part| self.joins_vented_building_drain(&part) == Some(true));
                        return match self.may_combine(node) {
                            true => Some(Got::Missing),
                            false if beside => None,
                            false => Some(Got::Absent),
                        };
                    }
                    Some(supply) if supply.brings.is_none() => Rc::new(self.at_vent(supply.vent)),
                    Some(supply) => self.sharing(supply),
                };
                let storeys: Vec<_> = shared.iter().map(|&one| self.node(one).storey).collect();
                Some(match storeys.len() > 1 && storeys.contains(&None) {
                    true => Got::Missing,
                    false => truth(storeys.windows(2).all(|two| two[0] == two[1])),
                })
            }
            Fact::ProtectionGroups => {
                Some(supply.map_or(Got::Absent, |supply| count(self.fewest_groups(&self.sharing(&supply)))))
            }
            Fact::ProtectionOutsiders => Some(supply.map_or(Got::Absent, |supply| {
                count(
                    self.sharing(&supply)
                        .iter()
                        .filter(|&&one| !self.place_in_group(one))
                        .count(),
                )
            })),
            Fact::ProtectionBy => match self.arranged(node) {
                Arranged::Unknown => None,
                Arranged::Open => Some(Got::Missing),
                Arranged::By(at) => Some(Got::Known(Value::Word(self.rules.arrangements[at].pattern.name()))),
                Arranged::Nearest(_) => Some(Got::Known(Value::Word(Pattern::None.name()))),
            },
            _ => None,
        }
    }

    pub(crate) fn heaviest(&self, fixtures: &[NodeId]) -> Got {
        let loads: Vec<_> = fixtures.iter().map(|&one| self.fixture_load(one)).collect();
        let heaviest = loads.iter().filter_map(|load| {
            if let Got::Known(Value::Load(load)) = load {
                Some(*load)
            } else {
                None
            }
        });
        match loads.iter().all(|load| matches!(load, Got::Known(_))) {
            true => Got::Known(Value::Load(heaviest.max().unwrap_or_default())),
            false => Got::Missing,
        }
    }

    /// Which arrangement protects a trap: the first whose conditions all hold, one that needs permission after the
    /// others; it cannot be told where one may hold; else none, and the nearest is that of which least fails.
    #[must_use]
    pub fn arranged(&self, node: NodeId) -> Arranged {
        kept(&self.kept.arranged, node, || self.find_arrangement(node))
    }

    /// Whether an arrangement of a shape may protect a trap, as far as its conditions go; nothing where the oracle cannot
    /// tell.
    pub(crate) fn may_be(&self, node: NodeId, pattern: Pattern) -> Option<bool> {
        let of_shape = self.rules.arrangements.iter().filter(|one| one.pattern == pattern);
        let shapes = self.shapes(node);
        if shapes.is_none() && self.supply(node).is_some() {
            return Some(of_shape.count() > 0);
        }
        let combines = pattern == Pattern::Combination && self.may_combine(node);
        if !combines && !shapes.is_some_and(|shapes| shapes.contains(&pattern)) {
            return Some(false);
        }
        let element = node.index() as u32;
        let mut may_be = false;
        for arrangement in of_shape {
            let mut facts = Vec::new();
            let requires = arrangement.conditions.iter().map(|one| &one.require);
            requires.clone().for_each(|one| facts_of(one, &mut facts));
            for fact in facts {
                self.fact(Subject::Trap, element, fact)?;
            }
            let mut outcomes = requires.map(|one| self.condition(Subject::Trap, element, one));
            may_be |= outcomes.all(|outcome| outcome != Outcome::Fails);
        }
        Some(may_be)
    }

    fn find_arrangement(&self, node: NodeId) -> Arranged {
        let mut shapes = match (self.shapes(node), self.supply(node)) {
            (Some(shapes), _) => shapes,
            (None, Some(_)) => return Arranged::Open,
            (None, None) => Vec::new(),
        };
        let may_combine = self.may_combine(node);
        shapes.push(Pattern::None);
        let element = node.index() as u32;
        let (mut permitted, mut open, mut nearest, mut unknown) = (None, false, None, false);
        for (at, arrangement) in self.rules.arrangements.iter().enumerate() {
            let may_be = may_combine && arrangement.pattern == Pattern::Combination;
            if !may_be && !shapes.contains(&arrangement.pattern) {
                continue;
            }
            let mut facts = Vec::new();
            arrangement
                .conditions
                .iter()
                .for_each(|one| facts_of(&one.require, &mut facts));
            if facts
                .iter()
                .any(|&fact| self.fact(Subject::Trap, element, fact).is_none())
            {
                unknown = true;
                continue;
            }
            let outcomes: Vec<_> = arrangement
                .conditions
                .iter()
                .map(|one| self.condition(Subject::Trap, element, &one.require))
                .collect();
            let failed: Vec<_> = (0..outcomes.len())
                .filter(|&at| outcomes[at] == Outcome::Fails)
                .collect();
            if failed.iter().any(|&at| arrangement.conditions[at].defining) {
                continue;
            }
            if may_be {
                open |= failed.is_empty();
                continue;
            }
            if let Some(&first) = failed.first() {
                let rank = (
                    failed.len(),
                    first == 0,
                    arrangement.needs_approval,
                    std::cmp::Reverse(first),
                );
                if nearest.as_ref().is_none_or(|(kept, _)| rank < *kept) {
                    nearest = Some((rank, at));
                }
            } else if outcomes.contains(&Outcome::Open) {
                open = true;
            } else if !arrangement.needs_approval {
                return if unknown { Arranged::Unknown } else { Arranged::By(at) };
            } else {
                permitted = permitted.or(Some(at));
            }
        }
        match (unknown, permitted, open) {
            (true, ..) => Arranged::Unknown,
            (_, Some(at), _) => Arranged::By(at),
            (_, None, true) => Arranged::Open,
            _ => Arranged::Nearest(nearest.map(|(_, at)| at)),
        }
    }
}
