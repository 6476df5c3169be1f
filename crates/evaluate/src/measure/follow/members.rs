//! Which elements belong together.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use crownweir_rulebook::Size;
use crownweir_vocabulary::{Material, Role, RunKind};

use crate::measure::air::{Reliance, reliance};
use crate::measure::branches::{Kin, kin};
use crate::measure::circuits::Circuit;
use crate::measure::reliefs::{self, Relieves};
use crate::measure::{Measured, index};

/// Which elements belong together where the passes over a whole network need only go on from one to the other.
#[derive(Debug, Clone, Default)]
pub(crate) struct Members {
    /// Fixtures by the node where their drains meet air, in order.
    pub(super) connection: HashMap<u32, Vec<u32>>,
    /// Fixtures by the dry vent that their air comes from, in order.
    pub(super) vent: HashMap<u32, Vec<u32>>,
    /// Fixtures by the dry vent next up their branch, in order; and the other way.
    pub(super) branch: HashMap<u32, Vec<u32>>,
    pub(super) branch_of: HashMap<u32, u32>,
    /// Circuits by their dry vent, before it is known which follow others.
    pub(super) circuits: HashMap<u32, Circuit>,
    /// The dry vent of the circuit that another follows, and the other way.
    pub(super) before: HashMap<u32, u32>,
    pub(super) after: HashMap<u32, BTreeSet<u32>>,
    /// The stack of each vent stack that leaves the drains, and the other way.
    pub(super) stack_of: HashMap<u32, u32>,
    pub(super) below: HashMap<u32, BTreeSet<u32>>,
    /// What each fixture relies on, where it is anything.
    pub(super) reliances: HashMap<u32, Reliance>,
    /// What relieves each circuit, by its dry vent; and the circuits, by what relieves
    /// them, in order.
    pub(super) relieves: HashMap<u32, Relieves>,
    pub(super) relieved: HashMap<u32, Vec<u32>>,
    /// Fixtures alike, and the other way.
    pub(super) kindred: HashMap<Kin, BTreeSet<u32>>,
    pub(super) kin_of: HashMap<u32, Kin>,
    /// Fixtures that the author counts in a bathroom group, and whether there were others before.
    pub(super) grouped: BTreeSet<u32>,
    pub(super) regrouped: bool,
    /// Vents whose size is not stated, and how many pipes are of plastic.
    pub(super) unsized_vents: BTreeSet<u32>,
    pub(super) plastic: usize,
    /// How many vents that leave drains keep a size all the way to the open air.
    pub(super) open_sizes: BTreeMap<Size, u32>,
    /// The stacks and building drains that are written from a fixture on, by their runs.
    pub(super) headed: HashSet<u32>,
    /// Whether several vents leave a node: which of them goes first hangs on where they lead.
    pub(super) forked: bool,
    /// Where the intervals of each stack begin among all.
    pub(super) first_interval: Vec<u32>,
}

pub(super) fn insert(lists: &mut HashMap<u32, Vec<u32>>, key: u32, member: u32) {
    let list = lists.entry(key).or_default();
    if let Err(at) = list.binary_search(&member) {
        list.insert(at, member);
    }
}

pub(super) fn remove(lists: &mut HashMap<u32, Vec<u32>>, key: u32, member: u32) {
    if let Some(list) = lists.get_mut(&key)
        && let Ok(at) = list.binary_search(&member)
    {
        list.remove(at);
        if list.is_empty() {
            lists.remove(&key);
        }
    }
}

impl Members {
    /// Of a measured network.
    pub(crate) fn of(measured: &Measured<'_>) -> Self {
        let mut own = Self::default();
        for fixture in &measured.state.fixtures {
            let node = fixture.node;
            if let Some(supply) = measured.state.air.supply(measured, node) {
                insert(&mut own.connection, supply.connection, node);
                insert(&mut own.vent, supply.dry_vent, node);
            }
            if let Some((vent, _)) = measured.state.circuits.member(measured, node) {
                insert(&mut own.branch, vent, node);
                own.branch_of.insert(node, vent);
            }
            let reliance = reliance(measured, fixture);
            if reliance.way.is_some() || reliance.is_open() {
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
        if measured.state.reliefs.get().is_some() {
            for circuit in measured.state.circuits.list() {
                if let Some(relieves) = reliefs::relieves(measured, circuit) {
                    own.relieves.insert(circuit.vent, relieves);
                    insert(&mut own.relieved, relieves.by, circuit.vent);
                }
            }
        }
        if measured.state.alike.get().is_some() {
            for fixture in &measured.state.fixtures {
                own.join(kin(measured, fixture), fixture.node);
            }
        }
        for (stack, vent) in measured.vent_stacks_below() {
            own.stack_of.insert(vent, stack);
            own.below.entry(stack).or_default().insert(vent);
        }
        let grouped = measured.state.fixtures.iter().map(|fixture| fixture.node);
        own.grouped = grouped.filter(|&node| measured.is_grouped(node)).collect();
        for (number, pipe) in (0..).zip(&measured.state.pipes) {
            own.plastic += usize::from(pipe.material.is_some_and(Material::is_plastic));
            if pipe.kind.role() == Role::Vent && pipe.size.is_none() {
                own.unsized_vents.insert(number);
            }
            if pipe.kind.role() == Role::Vent
                && measured.leaves_drain(number)
                && let Some(size) = measured.state.vents.of(number).and_then(|vent| vent.clear_size)
            {
                *own.open_sizes.entry(size).or_default() += 1;
            }
        }
        let heads = measured.state.fixtures.iter().filter_map(|fixture| {
            let drain = measured.next(fixture.node)?;
            measured.run_of_a_main(drain)
        });
        own.headed = heads.collect();
        let nodes = 0..index(measured.node_bound());
        own.forked = nodes
            .into_iter()
            .any(|node| measured.state.vents_from(node).len() > 1);
        let mut first = 0;
        for stack in &measured.state.stacks.list {
            own.first_interval.push(first);
            first += stack.intervals;
        }
        own
    }

    pub(super) fn at(lists: &HashMap<u32, Vec<u32>>, key: u32) -> &[u32] {
        lists.get(&key).map_or(&[], Vec::as_slice)
    }

    /// The circuit of a dry vent by itself.
    pub(super) fn circuit(&self, measured: &Measured<'_>, vent: u32) -> Option<Circuit> {
        let mut circuit = None;
        let members = || {
            let fixtures = Self::at(&self.branch, vent).iter();
            fixtures.filter_map(|&node| {
                let fixture = measured.fixture_facts(node)?;
                Some((fixture, measured.state.air.supply(measured, node)?))
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
    pub(super) fn follows(&self, measured: &Measured<'_>, vent: u32) -> Option<u32> {
        let alone = self.circuits.get(&vent).is_some_and(|one| one.above == 0);
        let before = measured.state.circuits.before(measured, vent).filter(|_| alone)?;
        self.circuits.contains_key(&before).then_some(before)
    }

    /// The pipes by which vent stacks leave the drains.
    pub(crate) fn vent_stacks(measured: &Measured<'_>) -> impl Iterator<Item = u32> {
        let numbered = (0..).zip(&measured.state.pipes);
        numbered
            .filter(|(_, pipe)| pipe.kind == RunKind::VentStack && measured.next(pipe.from).is_some())
            .map(|(number, _)| number)
    }
}

impl Members {
    /// Counts a fixture among its kindred.
    pub(super) fn join(&mut self, kin: Kin, fixture: u32) {
        self.kindred.entry(kin).or_default().insert(fixture);
        self.kin_of.insert(fixture, kin);
    }

    /// Counts a fixture among its kindred no more.
    pub(super) fn part(&mut self, kin: Kin, fixture: u32) {
        if let Some(kindred) = self.kindred.get_mut(&kin) {
            kindred.remove(&fixture);
            if kindred.is_empty() {
                self.kindred.remove(&kin);
            }
        }
        self.kin_of.remove(&fixture);
    }

    /// The drains and vents that relieve circuits.
    pub(crate) fn relieving(&self) -> Vec<u32> {
        let mut pipes: Vec<u32> = self.relieved.keys().copied().collect();
        pipes.sort_unstable();
        pipes
    }

    /// Notes that a vent from a drain keeps another size to the open air.
    pub(super) fn open(&mut self, before: Option<Size>, now: Option<Size>) {
        if let Some(count) = before.and_then(|before| self.open_sizes.get_mut(&before)) {
            *count -= 1;
        }
        if let Some(now) = now {
            *self.open_sizes.entry(now).or_default() += 1;
        }
        self.open_sizes.retain(|_, count| *count > 0);
    }
}
