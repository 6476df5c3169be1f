//! What carries pressure off rather than air to a trap: reliefs of branches, ties between a stack and its vent stack.
//!
//! It measures what is drawn; where a relief is needed, and of what size, is the rule set's to say.

use std::collections::HashMap;

use crownweir_vocabulary::{Role, RunKind};

use super::circuits::Circuit;
use super::drains::by_size;
use super::facts::{Element, Got, above, lesser, stated};
use super::follow::where_differ;
use super::{Measured, NONE, Seen, put};

/// What relieves a branch below a node, before its stack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Relief {
    /// Load in thousandths: none of a dry vent, of a vented drain its own.
    pub(crate) load: i64,
    /// A fixture whose load is not known.
    pub(crate) gap: u32,
    /// The vent, or the drain.
    pub(crate) by: u32,
    /// Where the nearest of all that relieve the branch there stands.
    pub(crate) at: u32,
    /// The largest dry vent among all that relieve the branch there.
    pub(crate) vent: u32,
}

/// For each node of a branch, the lightest of what joins it further down and brings air; of two alike the nearer.
pub(crate) fn below(measured: &Measured<'_>) -> Vec<Option<Relief>> {
    let mut relief: Vec<Option<Relief>> = vec![None; measured.node_bound()];
    for node in measured.drain_order().rev() {
        relief[node as usize] = below_at(measured, &relief, node);
    }
    relief
}

/// The same for one node, where it is told of what the node leads to.
pub(crate) fn below_at(measured: &Measured<'_>, relief: &[Option<Relief>], node: u32) -> Option<Relief> {
    let number = measured.next(node)?;
    let pipe = measured.pipe(number)?;
    let onward = measured.next(pipe.to).and_then(|next| measured.pipe(next));
    if pipe.kind != RunKind::Branch || onward.is_none_or(|next| next.kind != RunKind::Branch) {
        return None;
    }
    let at = pipe.to;
    let joined = measured
        .inlets(at, Role::Drain)
        .filter(|&inlet| inlet != number && measured.state.air.brought_by(measured, inlet).is_some());
    let joined = joined.filter_map(|by| {
        let flow = measured.flow(by).filter(|flow| flow.fixtures > 0)?;
        Some((flow.own_load, flow.gap, by))
    });
    let mut joined = joined.peekable();
    // A vent that ends at a valve lets air in and relieves nothing.
    let open = measured.vents_from(at).filter(|&vent| measured.is_open(vent));
    let dry = open.max_by_key(|&vent| by_size(measured, vent));
    let below = relief.get(at as usize).copied().flatten();
    let further = below.map(|below| below.vent).filter(|&vent| vent != NONE);
    let vents = dry.into_iter().chain(further);
    let largest = vents.max_by_key(|&vent| by_size(measured, vent));
    let stands = dry.is_some() || joined.peek().is_some();
    let nearest = below.filter(|_| !stands).map_or(at, |below| below.at);
    let here = dry.map(|by| (0, NONE, by)).into_iter().chain(joined);
    let here = here.map(|(load, gap, by)| Relief {
        load,
        gap,
        by,
        at,
        vent: NONE,
    });
    let lightest = here
        .chain(below)
        .min_by_key(|relief| (relief.load, relief.gap != NONE));
    lightest.map(|relief| Relief {
        at: nearest,
        vent: largest.unwrap_or(NONE),
        ..relief
    })
}

/// The circuit-vented branches that a vent or drain relieves.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Relieved {
    pub(crate) circuits: u32,
    /// The largest of their dry vents.
    pub(crate) vent: u32,
    /// A trap of which it cannot be told whether a further one protects it.
    pub(crate) open: Option<u32>,
}

impl Relieved {
    /// Reckons with a circuit.
    pub(crate) fn add(&mut self, measured: &Measured<'_>, circuit: Relieves) {
        if circuit.open.is_some() {
            self.open = self.open.or(circuit.open);
            return;
        }
        if self.circuits == 0 || by_size(measured, self.vent) < by_size(measured, circuit.vent) {
            self.vent = circuit.vent;
        }
        self.circuits += 1;
    }
}

/// What relieves the branch of a circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Relieves {
    /// The vent, or the drain.
    pub(crate) by: u32,
    /// The largest of the circuit's dry vents.
    vent: u32,
    /// A trap of which it cannot be told whether the circuit protects it, where it protects none for certain.
    open: Option<u32>,
}

/// A vent from a stack to that stack's vent stack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Yoke {
    /// The nearest joint on the stack at or above where it leaves.
    joint: u32,
    /// The stack's pipe there.
    stack: u32,
    /// Where it joins the vent stack, and the vent stack's pipe that leads on.
    at: u32,
    vent_stack: u32,
}

/// What relieves circuits, and what ties stacks to their vent stacks; told once it is settled what protects traps.
#[derive(Debug, Clone)]
pub(crate) struct Reliefs {
    pub(crate) relieved: HashMap<u32, Relieved>,
    pub(crate) yokes: HashMap<u32, Yoke>,
    /// Where each branch vent first meets a vent stack, and the vent stack's pipe that leads on.
    meets: Vec<(u32, u32)>,
}

pub(crate) fn reliefs(measured: &Measured<'_>) -> Reliefs {
    let mut found = Reliefs {
        relieved: HashMap::new(),
        yokes: HashMap::new(),
        meets: meets(measured),
    };
    for stack in 0..super::index(measured.state.stacks.list.len()) {
        let yokes = found.yokes_of(measured, stack);
        found.yokes.extend(yokes);
    }
    for circuit in measured.state.circuits.list() {
        if let Some(relieves) = relieves(measured, circuit) {
            let relieved = found.relieved.entry(relieves.by).or_default();
            relieved.add(measured, relieves);
        }
    }
    for node in measured.vent_order() {
        if let Some(relieved) = found.passed_on(measured, node) {
            let vents = measured.vents_from(node);
            found.relieved.extend(vents.map(|vent| (vent, relieved)));
        }
    }
    found
}

/// What relieves the branch of a circuit that protects traps, or may.
pub(crate) fn relieves(measured: &Measured<'_>, circuit: &Circuit) -> Option<Relieves> {
    let vent = measured.largest_vent(circuit.vent)?;
    let first = measured.next(circuit.vent)?;
    let by = measured.relief(circuit.last)?.by;
    let open = match measured.state.relied.is_circuit(measured, first) {
        true => None,
        false => Some(measured.state.relied.may_be_circuit(measured, first)?),
    };
    Some(Relieves { by, vent, open })
}

/// Where each branch vent first meets a vent stack.
fn meets(measured: &Measured<'_>) -> Vec<(u32, u32)> {
    let mut meets = vec![(NONE, NONE); measured.state.pipes.len()];
    for node in measured.vent_order().rev() {
        let Some(onward) = measured.vent_of(node) else {
            continue;
        };
        let met = match measured.pipe(onward).map(|onward| onward.kind) {
            Some(RunKind::VentStack) => (node, onward),
            Some(RunKind::BranchVent) => meets[onward as usize],
            _ => continue,
        };
        for inlet in measured.inlets(node, Role::Vent) {
            if measured
                .pipe(inlet)
                .is_some_and(|inlet| inlet.kind == RunKind::BranchVent)
            {
                meets[inlet as usize] = met;
            }
        }
    }
    meets
}

impl Reliefs {
    /// Forgets what was told of a pipe, or makes room for one that has come.
    pub(crate) fn clear_pipe(&mut self, pipe: u32) {
        self.relieved.remove(&pipe);
        self.yokes.remove(&pipe);
        put(&mut self.meets, pipe, (NONE, NONE));
    }

    /// Tells again where branch vents meet vent stacks, and of which vents that differs.
    pub(crate) fn meet_again(&mut self, measured: &Measured<'_>) -> Vec<u32> {
        let before = std::mem::replace(&mut self.meets, meets(measured));
        where_differ(&before, &self.meets).collect()
    }

    /// What the vents from a node relieve where that is told of the one vent that enters it: a relief vent of several
    /// pipes is one as far as another joins it.
    pub(crate) fn passed_on(&self, measured: &Measured<'_>, node: u32) -> Option<Relieved> {
        if measured.next(node).is_some() {
            return None;
        }
        let mut inlets = measured.inlets(node, Role::Vent);
        match (inlets.next(), inlets.next()) {
            (Some(inlet), None) => self.relieved.get(&inlet).copied(),
            _ => None,
        }
    }

    /// The vents from a stack that tie it to its vent stack.
    pub(crate) fn yokes_of(&self, measured: &Measured<'_>, number: u32) -> Vec<(u32, Yoke)> {
        let mut yokes = Vec::new();
        let Some(stack) = measured.stack_itself(number) else {
            return yokes;
        };
        let mut joint = NONE;
        for &pipe in &stack.pipes {
            let Some([node, _]) = measured.both_ends(pipe) else {
                continue;
            };
            if measured.state.stacks.is_joint(node) {
                joint = node;
            }
            for vent in measured.vents_from(node) {
                let (at, vent_stack) = self.meets.get(vent as usize).copied().unwrap_or((NONE, NONE));
                let own = measured.served_stack(vent_stack) == Some(number);
                if own && joint != NONE {
                    let yoke = Yoke {
                        joint,
                        stack: pipe,
                        at,
                        vent_stack,
                    };
                    yokes.push((vent, yoke));
                }
            }
        }
        yokes
    }
}

impl Measured<'_> {
    /// What relieves the branch below a node, before its stack.
    pub(crate) fn relief(&self, node: u32) -> Option<Relief> {
        self.see(Seen::ReliefsBelow, node);
        self.reliefs_below().get(node as usize).copied().flatten()
    }

    /// The circuit-vented branches that a vent or drain relieves.
    pub(super) fn relieved(&self, pipe: u32) -> Option<Relieved> {
        self.see(Seen::Relieved, pipe);
        self.all_reliefs().relieved.get(&pipe).copied()
    }

    /// Size of the dry vent of the circuit-vented branch that a vent or drain relieves.
    pub(super) fn relieved_vent_size(&self, pipe: u32) -> Got {
        self.relieved(pipe).map_or(Got::Absent, |relieved| {
            self.open_relief(relieved)
                .unwrap_or_else(|| self.size_of(relieved.vent))
        })
    }

    /// What is missing where it cannot be told whether all that something relieves protects traps.
    fn open_relief(&self, relieved: Relieved) -> Option<Got> {
        Some(Got::Missing(self.open_choice(relieved.open?)?))
    }

    /// Smallest size of the drains by which a drain that relieves a circuit has its own air.
    pub(super) fn smallest_of_relief(&self, drain: u32) -> Got {
        let Some(relieved) = self.relieved(drain) else {
            return Got::Absent;
        };
        if let Some(open) = self.open_relief(relieved).filter(|_| relieved.circuits == 0) {
            return open;
        }
        let mut at = self.state.air.brought_by(self, drain);
        let mut smallest = self.size_of(drain);
        while let Some(own) = at.and_then(|node| self.next(node)).filter(|&own| own != drain) {
            smallest = lesser(smallest, self.size_of(own));
            at = self.pipe(own).map(|own| own.to);
        }
        smallest
    }

    /// What a yoke vent ties.
    fn yoke(&self, vent: u32) -> Option<&Yoke> {
        self.see(Seen::Yoke, vent);
        self.all_reliefs().yokes.get(&vent)
    }

    /// Height of a yoke vent's upper end above the floor that it relieves.
    pub(super) fn yoke_rise(&self, vent: u32) -> Got {
        let Some(yoke) = self.yoke(vent) else {
            return Got::Absent;
        };
        let Some(floor) = self.floor_of(yoke.joint) else {
            return stated(None, "storey", Element::Node(yoke.joint));
        };
        above(self.height_of(yoke.at), floor)
    }

    /// The smaller of the stack and the vent stack that a yoke vent ties.
    pub(super) fn yoke_smaller_size(&self, vent: u32) -> Got {
        let Some(yoke) = self.yoke(vent) else {
            return Got::Absent;
        };
        lesser(self.size_of(yoke.stack), self.size_of(yoke.vent_stack))
    }

    /// Largest size among the branches at the joint that a yoke vent stands at or below.
    pub(super) fn yoke_branch_size(&self, vent: u32) -> Got {
        let Some(yoke) = self.yoke(vent) else {
            return Got::Absent;
        };
        let is_branch = |&inlet: &u32| self.pipe(inlet).is_some_and(|inlet| inlet.kind != RunKind::Stack);
        self.largest_size(self.inlets(yoke.joint, Role::Drain).filter(is_branch))
    }
}
