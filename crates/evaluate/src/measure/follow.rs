//! The passes one element at a time, for a network that is edited: what they reckon is what the passes over the whole
//! network reckon, by the same functions.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::mem::take;
use std::sync::OnceLock;

use crownweir_network::{NodeId, NodeKind, PipeId};
use crownweir_rulebook::Size;
use crownweir_vocabulary::{Material, Role, RunKind};

use super::air::{Reach, Reliance, Vented, Way, deepen, reliance};
use super::circuits::{self, Circuit};
use super::seen::{Figure, Seen, listed};
use super::vents::Rim;
use super::{
    Class, FixtureFacts, Measured, NONE, PipeFacts, air, branches, cleanouts, combinations, drains,
    facts_of_passages, flows, index, loads, loops, patterns, reliefs, stack_reliefs, stacks, valves, vents,
    wet_vents,
};

listed! {
    /// A pass, or a part of one, in the order in which they are made. What reads a figure comes after what reckons it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
    #[repr(u8)]
    pub(crate) enum Pass {
        Downstream,
        Branch,
        Alike,
        Load,
        Group,
        Totals,
        Head,
        Meets,
        Supply,
        Vented,
        Ends,
        Closets,
        Ways,
        Near,
        Member,
        Circuit,
        InLine,
        Line,
        Carries,
        Level,
        Loops,
        Stack,
        Cleanout,
        Junction,
        Below,
        VentStack,
        Rim,
        Behind,
        Ahead,
        Valves,
        Details,
        RunsAbove,
        RunsAhead,
        ReliefsBelow,
        Arms,
        VentCleanouts,
        BendsBehind,
        BendsAhead,
        Shares,
        StackRelief,
        StoreysBeside,
        Cuts,
        Chosen,
        Reliance,
        WetEnd,
        Running,
        WetVents,
        Reliefs,
        VentTraps,
        JudgeNode,
        JudgePipe,
        JudgeStack,
        JudgeInterval,
        JudgePassage,
        JudgeTest,
        JudgeSystem,
    }
}

/// By what a pass goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Goes {
    /// By the nodes that drains touch, upstream first.
    Down,
    /// By the same, downstream first.
    Up,
    /// By the nodes that vents touch, upstream first.
    Out,
    /// By the same, downstream first.
    In,
    /// By the nodes of fixtures.
    Fixtures,
    /// By the nodes that vents leave.
    Vented,
    /// By nodes in any order.
    Nodes,
    /// By pipes.
    Pipes,
    /// By stacks.
    Stacks,
    /// By other elements that have numbers.
    Numbered,
    /// At once.
    Once,
}

use Pass::{
    Ahead, Alike, Arms, Behind, Below, BendsAhead, BendsBehind, Branch, Carries, Chosen,
    Circuit as CircuitPass, Cleanout, Closets, Cuts, Details, Downstream, Ends, Group, Head, InLine,
    JudgeInterval, JudgeNode, JudgePassage, JudgePipe, JudgeStack, JudgeSystem, JudgeTest, Junction, Level,
    Line, Load, Loops, Meets, Member, Near, Reliefs, ReliefsBelow, Running, RunsAbove, RunsAhead, Shares,
    Stack, StackRelief, StoreysBeside, Supply, Totals, Valves, VentCleanouts, VentStack, VentTraps, Ways,
    WetEnd, WetVents,
};

impl Pass {
    pub(crate) fn goes(self) -> Goes {
        match self {
            Totals | Head | Near | Carries | Cleanout | Running | Details | RunsAbove | BendsBehind => {
                Goes::Down
            }
            Downstream | Meets | Ways | Level | Branch | RunsAhead | BendsAhead => Goes::Up,
            Behind => Goes::Out,
            Ahead => Goes::In,
            Load | Supply | Member | Chosen | Self::Reliance => Goes::Fixtures,
            Self::Vented | Ends | Closets | CircuitPass | InLine | Line | Arms | Self::Rim | WetEnd => {
                Goes::Vented
            }
            JudgeNode => Goes::Nodes,
            JudgePipe | Below => Goes::Pipes,
            Stack | VentStack | StackRelief | JudgeStack => Goes::Stacks,
            JudgeInterval | JudgePassage | JudgeTest | JudgeSystem | Junction => Goes::Numbered,
            _ => Goes::Once,
        }
    }

    /// The figures that it reckons, and may read of its own elements.
    pub(crate) fn own(self) -> &'static [Figure] {
        match self {
            Downstream => &[Figure::Downstream, Figure::Receiver],
            Load => &[Figure::Load],
            Group => &[Figure::Group],
            Totals => &[Figure::Totals],
            Head => &[Figure::Head],
            Meets => &[Figure::Meets],
            Supply => &[Figure::Supply],
            Self::Vented => &[Figure::Vented],
            Ends => &[Figure::Ends],
            Closets => &[Figure::Closets],
            Ways => &[Figure::Ways, Figure::ToAir],
            Near => &[Figure::Near],
            Line => &[Figure::Circuit],
            Carries => &[Figure::Carries],
            Level => &[Figure::Level],
            Loops => &[Figure::Loops],
            Stack => &[Figure::Stack],
            Cleanout => &[Figure::Cleanout, Figure::Base],
            Junction => &[Figure::Junction],
            Branch => &[Figure::Branch],
            VentStack => &[Figure::VentStack],
            Self::Rim => &[Figure::Rim],
            Behind => &[Figure::Vent, Figure::StackOfVent],
            Ahead => &[Figure::VentAhead],
            Valves => &[Figure::Valves],
            Details => &[Figure::Details],
            RunsAbove => &[Figure::RunAbove, Figure::VerticalAbove],
            RunsAhead => &[Figure::RunAhead, Figure::VerticalBelow],
            ReliefsBelow => &[Figure::ReliefsBelow],
            Arms => &[Figure::Arms],
            Alike => &[Figure::Alike],
            VentCleanouts => &[Figure::VentCleanouts],
            BendsBehind => &[Figure::BendBehind],
            BendsAhead => &[Figure::BendAhead],
            Shares => &[Figure::Shares],
            StackRelief => &[Figure::StackRelief],
            StoreysBeside => &[Figure::StoreysBeside],
            Cuts => &[Figure::Cuts],
            Chosen => &[Figure::Chosen],
            Running => &[Figure::Relied],
            WetVents => &[Figure::WetVents],
            Reliefs => &[Figure::Reliefs],
            VentTraps => &[Figure::VentTraps],
            _ => &[],
        }
    }
}

/// What of a pipe itself differs after an edit, one bit for each.
pub(crate) mod field {
    pub(crate) const SIZE: u8 = 1;
    pub(crate) const LENGTH: u8 = 2;
    pub(crate) const SLOPE: u8 = 4;
    pub(crate) const ENTERS: u8 = 8;
    pub(crate) const VERTICAL: u8 = 16;
    pub(crate) const OTHER: u8 = 32;
}

impl Pass {
    /// Which of a pipe's own properties it asks for, directly or by what it calls.
    pub(crate) fn fields(self) -> u8 {
        use field::{ENTERS, LENGTH, SIZE, SLOPE, VERTICAL};
        match self {
            Totals
            | Meets
            | Supply
            | Self::Vented
            | Closets
            | Near
            | Member
            | InLine
            | Carries
            | Self::Rim
            | Running
            | WetEnd
            | Below
            | VentStack
            | Details
            | Alike
            | VentCleanouts
            | StoreysBeside
            | WetVents
            | VentTraps
            | Valves
            | Cuts => 0,
            ReliefsBelow | Reliefs => SIZE,
            BendsBehind | BendsAhead => LENGTH | VERTICAL | ENTERS,
            RunsAbove | RunsAhead => SIZE | LENGTH | VERTICAL | ENTERS,
            Arms => SIZE | VERTICAL,
            Ends => SLOPE,
            Downstream => LENGTH | SLOPE,
            Head => SIZE | LENGTH | SLOPE | ENTERS,
            Ways => SIZE | LENGTH | SLOPE | ENTERS,
            CircuitPass => VERTICAL,
            Line | Level => SIZE | SLOPE,
            Cleanout => LENGTH | VERTICAL | ENTERS,
            Junction => LENGTH,
            Branch => LENGTH | SLOPE,
            Stack | Behind | Ahead => SIZE | LENGTH | SLOPE,
            StackRelief => SIZE | SLOPE,
            _ => u8::MAX,
        }
    }
}

/// Which elements belong together where the passes over a whole network need only go on from one to the other.
#[derive(Debug, Default)]
pub(crate) struct Members {
    /// Fixtures by the node where their drains meet air, in order.
    connection: HashMap<u32, Vec<u32>>,
    /// Fixtures by the dry vent that their air comes from, in order.
    vent: HashMap<u32, Vec<u32>>,
    /// Fixtures by the dry vent next up their branch, in order; and the other way.
    branch: HashMap<u32, Vec<u32>>,
    branch_of: HashMap<u32, u32>,
    /// Circuits by their dry vent, before it is known which follow others.
    circuits: HashMap<u32, Circuit>,
    /// The dry vent of the circuit that another follows, and the other way.
    before: HashMap<u32, u32>,
    after: HashMap<u32, BTreeSet<u32>>,
    /// The stack of each vent stack that leaves the drains, and the other way.
    stack_of: HashMap<u32, u32>,
    below: HashMap<u32, BTreeSet<u32>>,
    /// What each fixture relies on, where it is anything.
    reliances: HashMap<u32, Reliance>,
    /// Fixtures that the author counts in a bathroom group, and whether there were others before.
    grouped: BTreeSet<u32>,
    regrouped: bool,
    /// Vents whose size is not stated, and how many pipes are of plastic.
    unsized_vents: BTreeSet<u32>,
    plastic: usize,
    /// How many vents that leave drains keep a size all the way to the open air.
    open_sizes: BTreeMap<Size, u32>,
    /// Where the intervals of each stack begin among all.
    first_interval: Vec<u32>,
}

/// Why an edit cannot be followed element by element.
#[derive(Debug)]
pub(crate) struct Lost;

/// Takes notes of what an edit alters.
pub(crate) trait Alters {
    /// A figure of an element differs.
    fn figure(&mut self, figure: Figure, element: u32);
    /// A pass has to be made at an element for what belongs together.
    fn again(&mut self, pass: Pass, element: u32);
}

fn insert(lists: &mut HashMap<u32, Vec<u32>>, key: u32, member: u32) {
    let list = lists.entry(key).or_default();
    if let Err(at) = list.binary_search(&member) {
        list.insert(at, member);
    }
}

fn remove(lists: &mut HashMap<u32, Vec<u32>>, key: u32, member: u32) {
    if let Some(list) = lists.get_mut(&key)
        && let Ok(at) = list.binary_search(&member)
    {
        list.remove(at);
        if list.is_empty() {
            lists.remove(&key);
        }
    }
}

/// Puts a value in the place of another, and says whether they differ.
pub(crate) fn differs<T: PartialEq>(slot: Option<&mut T>, value: T) -> bool {
    slot.is_some_and(|slot| {
        let differs = *slot != value;
        *slot = value;
        differs
    })
}

impl Members {
    /// Of a measured network.
    pub(crate) fn of(measured: &Measured<'_>) -> Self {
        let mut own = Self::default();
        for fixture in &measured.fixtures {
            let node = fixture.node;
            if let Some(supply) = measured.air.supply(measured, node) {
                insert(&mut own.connection, supply.connection, node);
                insert(&mut own.vent, supply.dry_vent, node);
            }
            if let Some((vent, _)) = measured.circuits.member(measured, node) {
                insert(&mut own.branch, vent, node);
                own.branch_of.insert(node, vent);
            }
            let reliance = reliance(measured, fixture);
            if reliance.way.is_some() {
                own.reliances.insert(node, reliance);
            }
        }
        let vents: Vec<u32> = own.branch.keys().copied().collect();
        for vent in vents {
            if let Some(circuit) = own.circuit(measured, vent) {
                own.circuits.insert(vent, circuit);
            }
        }
        for &vent in own.circuits.keys() {
            if let Some(before) = own.follows(measured, vent) {
                own.before.insert(vent, before);
                own.after.entry(before).or_default().insert(vent);
            }
        }
        for (stack, vent) in measured.vent_stacks_below() {
            own.stack_of.insert(vent, stack);
            own.below.entry(stack).or_default().insert(vent);
        }
        let grouped = measured.fixtures.iter().map(|fixture| fixture.node);
        own.grouped = grouped.filter(|&node| measured.is_grouped(node)).collect();
        for (number, pipe) in (0..).zip(&measured.pipes) {
            own.plastic += usize::from(pipe.material.is_some_and(Material::is_plastic));
            if pipe.kind.role() == Role::Vent && pipe.size.is_none() {
                own.unsized_vents.insert(number);
            }
            if pipe.kind.role() == Role::Vent
                && measured.leaves_drain(number)
                && let Some(size) = measured.vents.of(number).and_then(|vent| vent.clear_size)
            {
                *own.open_sizes.entry(size).or_default() += 1;
            }
        }
        let mut first = 0;
        for stack in &measured.stacks.list {
            own.first_interval.push(first);
            first += stack.intervals;
        }
        own
    }

    fn at(lists: &HashMap<u32, Vec<u32>>, key: u32) -> &[u32] {
        lists.get(&key).map_or(&[], Vec::as_slice)
    }

    /// The circuit of a dry vent by itself.
    fn circuit(&self, measured: &Measured<'_>, vent: u32) -> Option<Circuit> {
        let mut circuit = None;
        let members = || {
            let fixtures = Self::at(&self.branch, vent).iter();
            fixtures.filter_map(|&node| {
                let fixture = measured.fixture_facts(node)?;
                Some((fixture, measured.air.supply(measured, node)?))
            })
        };
        for (fixture, supply) in members() {
            Circuit::take_level(&mut circuit, measured, vent, fixture, &supply);
        }
        if let Some(circuit) = &mut circuit {
            for (fixture, supply) in members() {
                circuit.take_above(measured, fixture, &supply);
            }
        }
        circuit
    }

    /// The dry vent of the circuit that one follows, if its first trap is the other's last.
    fn follows(&self, measured: &Measured<'_>, vent: u32) -> Option<u32> {
        let alone = self.circuits.get(&vent).is_some_and(|one| one.above == 0);
        let before = measured.circuits.before(measured, vent).filter(|_| alone)?;
        self.circuits.contains_key(&before).then_some(before)
    }

    /// The pipes by which vent stacks leave the drains.
    pub(crate) fn vent_stacks(measured: &Measured<'_>) -> impl Iterator<Item = u32> {
        let numbered = (0..).zip(&measured.pipes);
        numbered
            .filter(|(_, pipe)| pipe.kind == RunKind::VentStack && measured.next(pipe.from).is_some())
            .map(|(number, _)| number)
    }
}

/// Which figures that are reckoned only when a rule asks have been asked for.
pub(crate) type Asked = [bool; 15];

impl Measured<'_> {
    /// Whether nothing keeps an edit of the network from being followed.
    pub(crate) fn can_follow(&self) -> bool {
        // What arrangements make vents serve is reckoned of all of them together.
        !self.relied.differs
    }

    pub(crate) fn note_reads(&mut self) {
        let elements = self.pipes.len() + self.class.len();
        self.state.seen = Some(Seen::new(elements));
    }

    /// Has the cells of the rule set noted too that are read.
    pub(crate) fn note_cells(&mut self) {
        let tables = self.rules.tables.iter();
        let tables = tables.map(|table| (table.rows.len(), table.columns.len()));
        if let Some(seen) = &mut self.state.seen {
            seen.note_cells(tables);
        }
    }

    /// The place of a cell among those of all tables, where they are noted.
    pub(crate) fn cell(&self, (table, row, column): (usize, usize, usize)) -> Option<u32> {
        self.seen.as_ref()?.cell(table, row, column)
    }

    pub(crate) fn reads_noted(&self, into: &mut Vec<u64>) -> (u64, bool) {
        self.seen.as_ref().map_or((0, true), |seen| seen.take(into))
    }

    /// What only some rule sets ask for, and has been asked for.
    pub(crate) fn asked(&self) -> Asked {
        [
            self.branches.get().is_some(),
            self.details.get().is_some(),
            self.runs.get().is_some(),
            self.reliefs_below.get().is_some(),
            self.circuit_arms.get().is_some(),
            self.alike.get().is_some(),
            self.vent_cleanouts.get().is_some(),
            self.bends.get().is_some(),
            self.shares.get().is_some(),
            self.stack_reliefs.get().is_some(),
            self.combinations.storeys.get().is_some(),
            self.cuts.get().is_some(),
            self.wet_vents.get().is_some(),
            self.reliefs.get().is_some(),
            self.vent_traps.get().is_some(),
        ]
    }

    /// Whether a fixture is counted in a bathroom group.
    fn is_grouped(&self, node: u32) -> bool {
        self.fixture(node).is_some_and(|fixture| fixture.group.is_some())
    }

    /// Reads a pipe anew from the network, and tells what of it differs.
    pub(crate) fn reread_pipe(&mut self, pipe: PipeId, own: &mut Members, alters: &mut impl Alters) -> u8 {
        let number = index(pipe.index());
        let graph = self.network.graph();
        let Some((stated, (from, to))) = graph.edge_weight(pipe).zip(graph.edge_endpoints(pipe)) else {
            return 0;
        };
        let ends = (index(from.index()), index(to.index()));
        let (network, rules) = (self.network, self.rules);
        let new = PipeFacts::new(network, rules, number, ends, stated, &mut self.state.slopes);
        let Some(slot) = self.state.pipes.get_mut(number as usize) else {
            return 0;
        };
        let old = std::mem::replace(slot, new);
        let plastic = |pipe: &PipeFacts| usize::from(pipe.material.is_some_and(Material::is_plastic));
        own.plastic = own.plastic + plastic(&new) - plastic(&old);
        if new.kind.role() == Role::Vent {
            if new.size.is_none() {
                own.unsized_vents.insert(number);
            } else {
                own.unsized_vents.remove(&number);
            }
        }
        let whole = (own.plastic > 0, own.unsized_vents.first().copied());
        if whole != (self.plastic, self.unsized_vent) {
            (self.state.plastic, self.state.unsized_vent) = whole;
            alters.figure(Figure::System, 0);
        }
        let bit = |differs: bool, bit: u8| if differs { bit } else { 0 };
        let other = PipeFacts {
            size: new.size,
            length: new.length,
            fall: new.fall,
            slope: new.slope,
            vertical: new.vertical,
            enters: new.enters,
            ..old
        };
        bit(old.size != new.size, field::SIZE)
            | bit(old.length != new.length, field::LENGTH)
            | bit(
                (old.slope, old.vertical, old.fall) != (new.slope, new.vertical, new.fall),
                field::SLOPE,
            )
            | bit(old.vertical != new.vertical, field::VERTICAL)
            | bit(old.enters != new.enters, field::ENTERS)
            | bit(other != new, field::OTHER)
    }

    /// Reads a node anew from the network; its storey or its height is another if it has moved.
    pub(crate) fn reread_node(
        &mut self,
        node: NodeId,
        moved: bool,
        own: &mut Members,
        alters: &mut impl Alters,
    ) {
        let number = index(node.index());
        let Some(stated) = self.network.graph().node_weight(node) else {
            return;
        };
        let before = self
            .ordinal(number)
            .and_then(|ordinal| self.fixtures.get(ordinal).copied());
        let is_called_as_before = match &stated.kind {
            NodeKind::Fixture(fixture) => {
                before.is_some_and(|before| before.fixture_type == fixture.fixture_type)
            }
            NodeKind::Fitting { .. } => true,
            _ => false,
        };
        if moved || !is_called_as_before {
            alters.figure(Figure::Node, number);
        }
        match &stated.kind {
            NodeKind::Fixture(fixture) => {
                let new = FixtureFacts::new(self.network, self.rules, number, stated, fixture);
                let ordinal = self.ordinal(number);
                if let Some(slot) = ordinal.and_then(|ordinal| self.state.fixtures.get_mut(ordinal)) {
                    *slot = new;
                }
                alters.figure(Figure::Fixture, number);
                let kind = |fixture: &FixtureFacts| (fixture.fixture_type, fixture.storey);
                if before.is_some_and(|before| kind(&before) != kind(&new)) {
                    alters.figure(Figure::FixtureKind, number);
                }
                let grouped = fixture.group.is_some();
                if grouped {
                    own.grouped.insert(number);
                }
                if grouped || own.grouped.remove(&number) {
                    own.regrouped = true;
                    alters.again(Group, 0);
                }
            }
            NodeKind::Fitting { pattern }
                if differs(self.state.patterns.get_mut(number as usize), *pattern) =>
            {
                alters.figure(Figure::Pattern, number);
            }
            _ => {}
        }
    }

    fn supplied<'m>(
        &'m self,
        lists: &'m HashMap<u32, Vec<u32>>,
        key: u32,
    ) -> impl Iterator<Item = (&'m FixtureFacts, air::Supply)> + 'm {
        Members::at(lists, key)
            .iter()
            .filter_map(|&node| Some((self.fixture_facts(node)?, self.air.supply(self, node)?)))
    }

    /// Makes a pass at an element.
    ///
    /// # Errors
    /// When the network has come to be of a kind that is not followed element by element.
    pub(crate) fn make(
        &mut self,
        pass: Pass,
        at: u32,
        own: &mut Members,
        alters: &mut impl Alters,
    ) -> Result<(), Lost> {
        let here = at as usize;
        match pass {
            Downstream => {
                let before = self.downstream.below(self, at);
                let mut downstream = take(&mut self.state.downstream);
                downstream.step(self, at);
                self.state.downstream = downstream;
                let now = self.downstream.below(self, at);
                if before != now {
                    alters.figure(Figure::Downstream, at);
                    if let Some(next) = self.next(at) {
                        alters.figure(Figure::Receiver, next);
                    }
                }
            }
            Load => {
                // Loads are reckoned before anything that rests on them is known.
                let (loads, totals) = (take(&mut self.state.loads), take(&mut self.state.totals));
                let load = loads::own(self, at);
                (self.state.loads, self.state.totals) = (loads, totals);
                let slot = self.ordinal(at);
                if differs(slot.and_then(|slot| self.state.loads.own_mut(slot)), load) {
                    alters.figure(Figure::Load, at);
                }
            }
            Group => {
                if own.grouped.is_empty() && !own.regrouped {
                    return Ok(());
                }
                own.regrouped = false;
                let mut now = take(&mut self.state.loads);
                let before = now.without_groups();
                loads::group(self, &mut now);
                let nodes = now.groups_differ(&before);
                self.state.loads = now;
                nodes
                    .into_iter()
                    .for_each(|node| alters.figure(Figure::Group, node));
            }
            Totals => {
                let totals = drains::totals_at(self, &self.totals, at);
                if differs(self.state.totals.get_mut(here), totals) {
                    alters.figure(Figure::Totals, at);
                }
            }
            Head => {
                let (head, bringing) = self.air.brought_to(self, at);
                let air = &mut self.state.air;
                let differ = differs(air.head.get_mut(here), head);
                if differs(air.bringing.get_mut(here), bringing) || differ {
                    alters.figure(Figure::Head, at);
                }
            }
            Meets => {
                let inlets: Vec<u32> = self.inlets(at, Role::Drain).collect();
                for inlet in inlets {
                    let met = self.air.met(self, at, inlet);
                    if differs(self.state.air.meets.get_mut(inlet as usize), met) {
                        alters.figure(Figure::Meets, inlet);
                    }
                }
            }
            Supply => self.make_supply(at, own, alters),
            Pass::Vented => {
                let mut vented = Vented::NONE;
                for (fixture, supply) in self.supplied(&own.connection, at) {
                    vented.add(self, fixture, &supply);
                }
                if differs(self.state.air.vented.get_mut(here), vented) {
                    alters.figure(Figure::Vented, at);
                }
            }
            Ends => {
                let mut reach = Reach::NONE;
                for (fixture, supply) in self.supplied(&own.vent, at) {
                    reach.add(self, &self.air, fixture, &supply);
                }
                let air = &mut self.state.air;
                let differ = differs(air.ends.get_mut(here), reach.end);
                if differs(air.served.get_mut(here), reach.served) || differ {
                    alters.figure(Figure::Ends, at);
                }
            }
            Closets => {
                let members = self.supplied(&own.vent, at);
                let closets = members
                    .map(|(fixture, supply)| wet_vents::wet_closet(fixture, &supply))
                    .sum();
                if differs(self.state.closets_on.get_mut(here), closets) {
                    alters.figure(Figure::Closets, at);
                }
            }
            Ways => {
                let before = self.ways.told(self, at);
                let mut ways = take(&mut self.state.ways);
                ways.step(self, at);
                self.state.ways = ways;
                let now = self.ways.told(self, at);
                if before != now {
                    alters.figure(Figure::Ways, at);
                    if let Some(next) = self.next(at) {
                        alters.figure(Figure::ToAir, next);
                    }
                }
            }
            Near => {
                let near = self.circuits.near_at(self, at);
                if differs(self.state.circuits.near.get_mut(here), near) {
                    alters.figure(Figure::Near, at);
                }
            }
            Member => {
                let vent = self.circuits.member(self, at).map(|(vent, _)| vent);
                let before = own.branch_of.get(&at).copied();
                if vent != before {
                    if let Some(before) = before {
                        remove(&mut own.branch, before, at);
                        own.branch_of.remove(&at);
                        alters.again(CircuitPass, before);
                    }
                    if let Some(vent) = vent {
                        insert(&mut own.branch, vent, at);
                        own.branch_of.insert(at, vent);
                        alters.again(CircuitPass, vent);
                    }
                }
            }
            CircuitPass => {
                let circuit = own.circuit(self, at);
                let before = own.circuits.get(&at).copied();
                if circuit != before {
                    match circuit {
                        Some(circuit) => drop(own.circuits.insert(at, circuit)),
                        None => drop(own.circuits.remove(&at)),
                    }
                    alters.again(InLine, at);
                    // Whether there is one above them decides for those that come next.
                    let next = own.branch.keys().copied().filter(|&vent| {
                        circuit.is_some() != before.is_some()
                            && vent != at
                            && own.circuits.contains_key(&vent)
                    });
                    next.for_each(|vent| alters.again(InLine, vent));
                }
            }
            InLine => {
                let before = own.before.get(&at).copied();
                let now = own.follows(self, at);
                if before != now {
                    if let Some(before) = before {
                        own.before.remove(&at);
                        own.after.entry(before).or_default().remove(&at);
                        alters.again(Line, before);
                    }
                    if let Some(now) = now {
                        own.before.insert(at, now);
                        own.after.entry(now).or_default().insert(at);
                        alters.again(Line, now);
                    }
                }
                alters.again(Line, at);
            }
            Line => {
                let mut circuit = own.circuits.get(&at).copied();
                if let Some(circuit) = &mut circuit {
                    circuit.line = circuits::line(self, circuit);
                    if own.before.contains_key(&at) {
                        (circuit.fixtures, circuit.above) = (circuit.fixtures + 1, 1);
                    }
                    let followers = own.after.get(&at).map_or(0, BTreeSet::len);
                    circuit.fixtures = circuit.fixtures.saturating_sub(index(followers));
                }
                if self.state.circuits.put(at, circuit) {
                    alters.figure(Figure::Circuit, at);
                }
            }
            Carries => {
                let Some(next) = self.next(at) else { return Ok(()) };
                let at_vent = Members::at(&own.connection, at)
                    .iter()
                    .any(|&fixture| combinations::own_vent(self, fixture) == Some(at));
                let carries = combinations::carries_at(self, &self.combinations.carries, at_vent, at);
                if differs(self.state.combinations.carries.get_mut(next as usize), carries) {
                    alters.figure(Figure::Carries, next);
                }
            }
            Level => {
                let inlets: Vec<u32> = self.inlets(at, Role::Drain).collect();
                for inlet in inlets {
                    let (end, last, below) = self.combinations.level_at(self, at, inlet);
                    let combinations = &mut self.state.combinations;
                    let mut differ = differs(combinations.end.get_mut(inlet as usize), end);
                    differ |= differs(combinations.last.get_mut(inlet as usize), last);
                    if differs(combinations.below.get_mut(inlet as usize), below) || differ {
                        alters.figure(Figure::Level, inlet);
                    }
                }
            }
            Loops => {
                let loops = loops::loops(self);
                if differs(Some(&mut self.state.loops), loops) {
                    alters.figure(Figure::Loops, 0);
                }
            }
            Stack => return self.make_stack(at, own, alters),
            Cleanout => {
                let (run, plug, rod, base) = self.cleanouts.near_at(self, at);
                let found = &mut self.state.cleanouts;
                let mut differ = differs(found.run.get_mut(here), run);
                differ |= differs(found.plug.get_mut(here), plug);
                if differs(found.rod.get_mut(here), rod) || differ {
                    alters.figure(Figure::Cleanout, at);
                }
                let before = match base {
                    Some(base) => found.base.insert(at, base),
                    None => found.base.remove(&at),
                };
                if before != base {
                    alters.figure(Figure::Base, at);
                }
            }
            Junction => {
                let junction = cleanouts::junction(self);
                if differs(Some(&mut self.state.cleanouts.junction), junction) {
                    alters.figure(Figure::Junction, 0);
                }
            }
            Branch => {
                let Some(branches) = self.branches.get() else {
                    return Ok(());
                };
                let below = branches.below_at(self, at);
                let branches = self.state.branches.get_mut();
                if differs(branches.and_then(|branches| branches.below.get_mut(here)), below) {
                    alters.figure(Figure::Branch, at);
                }
            }
            Details => {
                let Some(details) = self.details.get() else {
                    return Ok(());
                };
                let now = drains::details_at(self, details, at);
                let details = self.state.details.get_mut();
                if differs(details.and_then(|details| details.get_mut(here)), now) {
                    alters.figure(Figure::Details, at);
                }
            }
            Arms => {
                let Some(place) = super::at(&self.circuits.place, at) else {
                    return Ok(());
                };
                let Some(mut all) = self.state.circuit_arms.take() else {
                    return Ok(());
                };
                let mut arms = circuits::Arms::NONE;
                for &fixture in Members::at(&own.branch, at) {
                    if let Some((_, drain)) = circuits::arm(self, fixture).filter(|arm| arm.0 == place) {
                        arms.add(self, drain);
                    }
                }
                all.resize(self.circuits.list.len(), circuits::Arms::NONE);
                let differ = differs(all.get_mut(place as usize), arms);
                self.state.circuit_arms = OnceLock::from(all);
                if differ {
                    alters.figure(Figure::Arms, at);
                }
            }
            RunsAbove | RunsAhead => {
                let Some(mut runs) = self.state.runs.take() else {
                    return Ok(());
                };
                let (node, pipe);
                let (differs, vertical) = if pass == RunsAbove {
                    (node, pipe) = (Figure::RunAbove, Figure::VerticalAbove);
                    let above = runs.above_at(self, at);
                    runs.set_above(self, at, above)
                } else {
                    (node, pipe) = (Figure::RunAhead, Figure::VerticalBelow);
                    let ahead = runs.ahead_at(self, at);
                    runs.set_ahead(self, at, ahead)
                };
                self.state.runs = OnceLock::from(runs);
                if differs {
                    alters.figure(node, at);
                }
                if vertical && let Some(next) = self.next(at) {
                    alters.figure(pipe, next);
                }
            }
            BendsBehind => {
                let Some(bends) = self.bends.get() else {
                    return Ok(());
                };
                let turn = bends.behind_at(self, at);
                let bends = self.state.bends.get_mut();
                if differs(bends.and_then(|bends| bends.behind.get_mut(here)), turn) {
                    alters.figure(Figure::BendBehind, at);
                }
            }
            BendsAhead => {
                let Some(bends) = self.bends.get() else {
                    return Ok(());
                };
                let turn = bends.ahead_at(self, at);
                let bends = self.state.bends.get_mut();
                if differs(bends.and_then(|bends| bends.ahead.get_mut(here)), turn) {
                    alters.figure(Figure::BendAhead, at);
                }
            }
            Below => {
                let from = self.pipe(at).map(|pipe| pipe.from);
                let now = from.and_then(|from| self.stack_above_vent(from));
                let before = own.stack_of.get(&at).copied();
                if now != before {
                    if let Some(before) = before {
                        own.stack_of.remove(&at);
                        own.below.entry(before).or_default().remove(&at);
                        alters.again(VentStack, before);
                    }
                    if let Some(now) = now {
                        own.stack_of.insert(at, now);
                        own.below.entry(now).or_default().insert(at);
                        alters.again(VentStack, now);
                    }
                }
            }
            VentStack => {
                let below = own.below.get(&at).and_then(|vents| vents.last().copied());
                let of = |stacks: &stacks::Stacks| {
                    let stack = stacks.list.get(here);
                    stack.map(|stack| (stack.has_vent_stack, stack.vent_stack))
                };
                let before = of(&self.stacks);
                self.state.stacks.set_vent_stack(at, below);
                if before != of(&self.stacks) {
                    alters.figure(Figure::VentStack, at);
                }
            }
            Pass::Rim => {
                let mut rim = Rim::NONE;
                for (fixture, _) in self.supplied(&own.vent, at) {
                    rim.add(fixture);
                }
                let vent = self.vent_of(at);
                if differs(vent.and_then(|vent| self.state.vents.rim_mut(vent)), rim) {
                    alters.figure(Figure::Rim, at);
                }
            }
            Behind => {
                let pipes: Vec<u32> = self.vents_from(at).collect();
                for pipe in pipes {
                    let facts = self.vents.behind(self, &self.air.served, at, pipe);
                    let (Some(facts), Some(slot)) = (facts, self.state.vents.of_mut(pipe)) else {
                        continue;
                    };
                    let stack = slot.stack;
                    if differs(Some(slot), facts) {
                        alters.figure(Figure::Vent, pipe);
                    }
                    if stack != facts.stack {
                        alters.figure(Figure::StackOfVent, pipe);
                    }
                }
            }
            Ahead => {
                let pipes: Vec<u32> = self.inlets(at, Role::Vent).collect();
                for pipe in pipes {
                    let Some(ahead) = self.vents.ahead_of(self, at, pipe) else {
                        continue;
                    };
                    let leaves_drain = self.leaves_drain(pipe);
                    let Some(slot) = self.state.vents.of_mut(pipe) else {
                        continue;
                    };
                    let before = slot.ahead();
                    if before == ahead {
                        continue;
                    }
                    slot.set_ahead(ahead);
                    alters.figure(Figure::VentAhead, pipe);
                    if leaves_drain && before.clear_size != ahead.clear_size {
                        own.open(before.clear_size, ahead.clear_size);
                        let largest = own.open_sizes.last_key_value().map(|(size, _)| *size);
                        if differs(Some(&mut self.state.vents.largest_open), largest) {
                            alters.figure(Figure::System, 0);
                        }
                    }
                }
            }
            Valves => {
                let valves = valves::valves(self);
                if differs(Some(&mut self.state.valves), valves) {
                    alters.figure(Figure::Valves, 0);
                }
            }
            StackRelief => self.make_stack_relief(at, alters),
            Chosen => {
                let chosen = patterns::choose(self, at);
                let slot = self.ordinal(at);
                if differs(slot.and_then(|slot| self.state.chosen.get_mut(slot)), chosen) {
                    alters.figure(Figure::Chosen, at);
                }
            }
            Pass::Reliance => {
                let Some(fixture) = self.fixture_facts(at) else {
                    return Ok(());
                };
                let now = reliance(self, fixture);
                let plain = matches!(now.way, None | Some((Way::Wet, ..))) && !now.differs;
                let before = own.reliances.get(&at).copied();
                let was_plain = before.is_none_or(|before| matches!(before.way, Some((Way::Wet, ..))));
                if before == Some(now) {
                    return Ok(());
                }
                if !(plain && was_plain) {
                    return Err(Lost);
                }
                if let Some((_, vent, _)) = before.and_then(|before| before.way) {
                    alters.again(WetEnd, vent);
                }
                match now.way {
                    Some((_, vent, _)) => {
                        own.reliances.insert(at, now);
                        alters.again(WetEnd, vent);
                    }
                    None => drop(own.reliances.remove(&at)),
                }
            }
            WetEnd => {
                let mut end = NONE;
                for fixture in Members::at(&own.vent, at) {
                    if let Some(Some((Way::Wet, _, to))) = own.reliances.get(fixture).map(|one| one.way) {
                        deepen(self, &mut end, to);
                    }
                }
                let before = self.relied.wet_end.get(here).copied().unwrap_or(NONE);
                if before != end {
                    let relied = &mut self.state.relied;
                    if let Some(slot) = relied.wet_end.get_mut(here) {
                        *slot = end;
                    }
                    if let Some(slot) = relied.wet_ending.get_mut(before as usize) {
                        *slot -= 1;
                    }
                    if let Some(slot) = relied.wet_ending.get_mut(end as usize) {
                        *slot += 1;
                    }
                    for node in [at, before, end].into_iter().filter(|&node| node != NONE) {
                        alters.again(Running, node);
                    }
                }
            }
            Running => {
                let relied = &self.relied;
                let begins = u32::from(relied.wet_end.get(here).is_some_and(|&end| end != NONE));
                let ending = relied.wet_ending.get(here).copied().unwrap_or(0);
                let running = air::running_at(self, &relied.wet, (begins, ending), at);
                if differs(self.state.relied.wet.get_mut(here), running) {
                    alters.figure(Figure::Relied, at);
                }
            }
            _ => self.make_whole(pass, alters),
        }
        Ok(())
    }

    fn make_supply(&mut self, at: u32, own: &mut Members, alters: &mut impl Alters) {
        let supply = self.air.find_supply(self, at);
        let slot = self.ordinal(at);
        let before = slot.and_then(|slot| self.air.supplies.get(slot).copied());
        let before = before.filter(|before| before.connection != NONE);
        if !differs(
            slot.and_then(|slot| self.state.air.supplies.get_mut(slot)),
            supply,
        ) {
            return;
        }
        alters.figure(Figure::Supply, at);
        if let Some(before) = before {
            remove(&mut own.connection, before.connection, at);
            remove(&mut own.vent, before.dry_vent, at);
        }
        if supply.connection != NONE {
            insert(&mut own.connection, supply.connection, at);
            insert(&mut own.vent, supply.dry_vent, at);
        }
        let supplies = [before, Some(supply).filter(|supply| supply.connection != NONE)];
        for supply in supplies.into_iter().flatten() {
            for pass in [Pass::Vented, Carries] {
                alters.again(pass, supply.connection);
            }
            for pass in [Ends, Closets, Pass::Rim, WetEnd] {
                alters.again(pass, supply.dry_vent);
            }
        }
    }

    fn make_stack(&mut self, at: u32, own: &Members, alters: &mut impl Alters) -> Result<(), Lost> {
        let Some(before) = self.stacks.list.get(at as usize).cloned() else {
            return Ok(());
        };
        let mut stack = before.clone();
        let vent_stack = (before.has_vent_stack, before.vent_stack);
        let told = stacks::tell(self, &self.stacks.of_run, at, &mut stack);
        // With more or fewer intervals, all further ones have other numbers.
        if stack.intervals != before.intervals {
            return Err(Lost);
        }
        let found = &mut self.state.stacks;
        let first = own.first_interval.get(at as usize).copied().unwrap_or(0) as usize;
        let mut differ = false;
        for (interval, slot) in told
            .intervals
            .into_iter()
            .zip(found.intervals.iter_mut().skip(first))
        {
            differ |= differs(Some(slot), interval);
        }
        for (node, ordinal) in told.ordinals {
            differ |= found.ordinal.insert(node, ordinal) != Some(ordinal);
        }
        let mut offsets: HashMap<u32, _> = HashMap::new();
        for pipe in &stack.pipes {
            if let Some(offset) = found.level_offsets.remove(pipe) {
                offsets.insert(*pipe, offset);
            }
        }
        let now: HashMap<u32, _> = told.offsets.into_iter().collect();
        differ |= now != offsets;
        found.level_offsets.extend(now);
        let mut plain = before;
        plain.set_own(&stack);
        differ |= plain != stack;
        if let Some(slot) = found.list.get_mut(at as usize) {
            *slot = stack;
        }
        if differ {
            alters.figure(Figure::Stack, at);
        }
        // The vent stack is told again from what is its own and what is below.
        let below = own.below.get(&at).and_then(|vents| vents.last().copied());
        self.state.stacks.set_vent_stack(at, below);
        let now = self.stacks.list.get(at as usize);
        if now.is_some_and(|now| (now.has_vent_stack, now.vent_stack) != vent_stack) {
            alters.figure(Figure::VentStack, at);
        }
        Ok(())
    }

    fn make_stack_relief(&mut self, at: u32, alters: &mut impl Alters) {
        let Some(mut found) = self.state.stack_reliefs.take() else {
            return;
        };
        let mut offsets = HashMap::new();
        let relieved = stack_reliefs::down(self, at, &found.circulates, &mut offsets);
        let mut differ = differs(found.stacks.get_mut(at as usize), relieved);
        let mut before = HashMap::new();
        if let Some(stack) = self.stack_itself(at) {
            for pipe in &stack.pipes {
                if let Some(offset) = found.offsets.remove(pipe) {
                    before.insert(*pipe, offset);
                }
            }
        }
        differ |= before != offsets;
        found.offsets.extend(offsets);
        self.state.stack_reliefs = OnceLock::from(found);
        if differ {
            alters.figure(Figure::StackRelief, at);
        }
    }

    /// Makes a pass over the whole network, if it has been asked for.
    fn make_whole(&mut self, pass: Pass, alters: &mut impl Alters) {
        fn anew<T: PartialEq>(slot: &mut OnceLock<T>, now: T) -> Option<(T, &T)> {
            let before = slot.take();
            let now = slot.get_or_init(|| now);
            before.filter(|before| before != now).map(|before| (before, now))
        }
        /// Where two lists differ.
        fn where_differ<'l, T: PartialEq>(before: &'l [T], now: &'l [T]) -> impl Iterator<Item = u32> + 'l {
            let both = (0..).zip(before.iter().zip(now));
            both.filter(|(_, (before, now))| before != now).map(|(at, _)| at)
        }
        macro_rules! whole {
            ($slot:ident, $make:expr, $figure:expr) => {
                if self.state.$slot.get().is_some() {
                    let now = $make(&*self);
                    if anew(&mut self.state.$slot, now).is_some() {
                        alters.figure($figure, 0);
                    }
                }
            };
        }
        macro_rules! each {
            ($slot:ident, $make:expr, $figure:expr) => {
                if self.state.$slot.get().is_some() {
                    let now = $make(&*self);
                    if let Some((before, now)) = anew(&mut self.state.$slot, now) {
                        where_differ(&before, now).for_each(|at| alters.figure($figure, at));
                    }
                }
            };
        }
        match pass {
            ReliefsBelow => each!(reliefs_below, reliefs::below, Figure::ReliefsBelow),
            VentCleanouts => each!(vent_cleanouts, vents::cleanouts, Figure::VentCleanouts),
            Shares if self.shares.get().is_some() => {
                let now = flows::shares(self);
                if let Some((before, now)) = anew(&mut self.state.shares, now) {
                    where_differ(&before.0, &now.0).for_each(|at| alters.figure(Figure::Shares, at));
                }
            }
            WetVents if self.wet_vents.get().is_some() => {
                let now = wet_vents::wet_vents(self);
                if let Some((before, now)) = anew(&mut self.state.wet_vents, now) {
                    now.where_differ(&before, |at| alters.figure(Figure::WetVents, at));
                    where_differ(&before.stacks, &now.stacks)
                        .for_each(|at| alters.figure(Figure::WetStack, at));
                }
            }
            Alike if self.alike.get().is_some() => {
                let now = branches::alike(self);
                if let Some((before, now)) = anew(&mut self.state.alike, now) {
                    let fixtures = where_differ(&before, now).collect::<Vec<_>>();
                    let nodes = fixtures.iter().filter_map(|&at| self.fixtures.get(at as usize));
                    nodes.for_each(|fixture| alters.figure(Figure::Alike, fixture.node));
                }
            }
            VentTraps if self.vent_traps.get().is_some() => {
                let now = vents::traps(self);
                if let Some((before, now)) = anew(&mut self.state.vent_traps, now) {
                    let places = where_differ(&before, now).collect::<BTreeSet<_>>();
                    let place = |pipe| self.vents.place_of(pipe);
                    (0..index(self.pipes.len()))
                        .filter(|&pipe| place(pipe).is_some_and(|at| places.contains(&at)))
                        .for_each(|pipe| alters.figure(Figure::VentTraps, pipe));
                }
            }
            Cuts => whole!(cuts, facts_of_passages::cuts, Figure::Cuts),
            Reliefs => whole!(reliefs, reliefs::reliefs, Figure::Reliefs),
            StoreysBeside if self.combinations.storeys.get().is_some() => {
                let now = combinations::storeys(self);
                if anew(&mut self.state.combinations.storeys, now).is_some() {
                    alters.figure(Figure::StoreysBeside, 0);
                }
            }
            _ => {}
        }
    }

    /// Whether a node has a part in the passes along drains, or along vents.
    pub(crate) fn touches(&self, node: u32, role: Role) -> bool {
        match role {
            Role::Vent => self.vent_of(node).is_some() || self.inlets(node, role).next().is_some(),
            _ => self.next(node).is_some() || self.inlets(node, role).next().is_some(),
        }
    }

    /// All pipes that touch a node.
    pub(crate) fn touching(&self, node: u32) -> impl Iterator<Item = u32> + use<'_> {
        let drains = self.inlets(node, Role::Drain).chain(self.next(node));
        drains
            .chain(self.inlets(node, Role::Vent))
            .chain(self.vents_from(node))
    }

    /// The ends of a pipe, without a note of it.
    pub(crate) fn both_ends(&self, pipe: u32) -> Option<[u32; 2]> {
        let pipe = self.pipes.get(pipe as usize)?;
        Some([pipe.from, pipe.to])
    }

    pub(crate) fn is_fixture(&self, node: u32) -> bool {
        self.is(node, Class::Fixture)
    }
}

impl Members {
    /// Notes that a vent from a drain keeps another size to the open air.
    fn open(&mut self, before: Option<Size>, now: Option<Size>) {
        if let Some(count) = before.and_then(|before| self.open_sizes.get_mut(&before)) {
            *count -= 1;
        }
        if let Some(now) = now {
            *self.open_sizes.entry(now).or_default() += 1;
        }
        self.open_sizes.retain(|_, count| *count > 0);
    }
}
