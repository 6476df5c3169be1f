//! What carries pressure off rather than air to a trap: reliefs of branches, ties between a stack and its vent stack.
//!
//! It measures what is drawn; where a relief is needed, and of what size, is the rule set's to say.

use std::collections::HashMap;

use crownweir_rulebook::Value;
use crownweir_vocabulary::{Role, RunKind};

use super::facts::{Element, Gap, Got, stated};
use super::{Measured, NONE, Seen};

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
    let mut relief: Vec<Option<Relief>> = vec![None; measured.network.graph().node_count()];
    for node in measured.drain_order().rev() {
        let Some((number, pipe)) = measured
            .next(node)
            .and_then(|number| Some((number, measured.pipe(number)?)))
        else {
            continue;
        };
        let onward = measured.next(pipe.to).and_then(|next| measured.pipe(next));
        if pipe.kind != RunKind::Branch || onward.is_none_or(|next| next.kind != RunKind::Branch) {
            continue;
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
        let dry = open.max_by_key(|&vent| super::drains::by_size(measured, vent));
        let below = relief[at as usize];
        let further = below.map(|below| below.vent).filter(|&vent| vent != NONE);
        let vents = dry.into_iter().chain(further);
        let largest = vents.max_by_key(|&vent| super::drains::by_size(measured, vent));
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
        relief[node as usize] = lightest.map(|relief| Relief {
            at: nearest,
            vent: largest.unwrap_or(NONE),
            ..relief
        });
    }
    relief
}

/// The circuit-vented branches that a vent or drain relieves.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Relieved {
    pub(crate) circuits: u32,
    /// The largest of their dry vents.
    pub(crate) vent: u32,
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
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Reliefs {
    relieved: HashMap<u32, Relieved>,
    yokes: HashMap<u32, Yoke>,
}

pub(crate) fn reliefs(measured: &Measured<'_>) -> Reliefs {
    let mut found = Reliefs {
        relieved: HashMap::new(),
        yokes: yokes(measured),
    };
    measured.see(Seen::Circuit, NONE);
    for circuit in measured.state.circuits.list() {
        let (Some(vent), Some(first)) = (measured.largest_vent(circuit.vent), measured.next(circuit.vent))
        else {
            continue;
        };
        let Some(relief) = measured.relief(circuit.last) else {
            continue;
        };
        if !measured.state.relied.is_circuit(measured, first) {
            continue;
        }
        let by_size = |vent: u32| super::drains::by_size(measured, vent);
        let slot = found.relieved.entry(relief.by).or_default();
        if slot.circuits == 0 || by_size(slot.vent) < by_size(vent) {
            slot.vent = vent;
        }
        slot.circuits += 1;
    }
    // A relief vent of several pipes is one as far as another joins it.
    for node in measured
        .vent_order()
        .filter(|&node| measured.next(node).is_none())
    {
        let mut inlets = measured.inlets(node, Role::Vent);
        if let (Some(inlet), None) = (inlets.next(), inlets.next())
            && let Some(&relieved) = found.relieved.get(&inlet)
        {
            found
                .relieved
                .extend(measured.vents_from(node).map(|vent| (vent, relieved)));
        }
    }
    found
}

fn yokes(measured: &Measured<'_>) -> HashMap<u32, Yoke> {
    // Where each branch vent first meets a vent stack.
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
    let mut yokes = HashMap::new();
    for (number, stack) in (0..).zip(&measured.state.stacks.list) {
        let mut joint = NONE;
        for &pipe in &stack.pipes {
            let Some(node) = measured.pipe(pipe).map(|pipe| pipe.from) else {
                continue;
            };
            if measured.state.stacks.is_joint(node) {
                joint = node;
            }
            for vent in measured.vents_from(node) {
                let (at, vent_stack) = meets.get(vent as usize).copied().unwrap_or((NONE, NONE));
                let own = measured.served_stack(vent_stack) == Some(number);
                if own && joint != NONE {
                    let yoke = Yoke {
                        joint,
                        stack: pipe,
                        at,
                        vent_stack,
                    };
                    yokes.insert(vent, yoke);
                }
            }
        }
    }
    yokes
}

impl Measured<'_> {
    /// What relieves the branch below a node, before its stack.
    pub(crate) fn relief(&self, node: u32) -> Option<Relief> {
        self.see(Seen::ReliefsBelow, node);
        self.reliefs_below().get(node as usize).copied().flatten()
    }

    /// The circuit-vented branches that a vent or drain relieves.
    pub(super) fn relieved(&self, pipe: u32) -> Option<Relieved> {
        self.all_reliefs().relieved.get(&pipe).copied()
    }

    /// Size of the dry vent of the circuit-vented branch that a vent or drain relieves.
    pub(super) fn relieved_vent_size(&self, pipe: u32) -> Got {
        self.relieved(pipe)
            .map_or(Got::Absent, |relieved| self.size_of(relieved.vent))
    }

    /// Height of a yoke vent's upper end above the floor that it relieves.
    pub(super) fn yoke_rise(&self, vent: u32) -> Got {
        let Some(yoke) = self.all_reliefs().yokes.get(&vent) else {
            return Got::Absent;
        };
        let storey = self.node(yoke.joint).and_then(|joint| joint.storey);
        let storey = storey.and_then(|storey| self.network.storeys().get(storey as usize));
        let Some(floor) = storey.and_then(|storey| storey.elevation) else {
            return stated(None, "storey and its height", Element::Node(yoke.joint));
        };
        let Some(height) = self.node(yoke.at).and_then(|at| at.elevation) else {
            return stated(None, "height", Element::Node(yoke.at));
        };
        height
            .checked_sub(floor)
            .map_or(Got::Missing(Gap::Overflow), |rise| {
                Got::Known(Value::Length(rise))
            })
    }

    /// The smaller of the stack and the vent stack that a yoke vent ties.
    pub(super) fn yoke_smaller_size(&self, vent: u32) -> Got {
        let Some(yoke) = self.all_reliefs().yokes.get(&vent) else {
            return Got::Absent;
        };
        match (self.size_of(yoke.stack), self.size_of(yoke.vent_stack)) {
            (Got::Known(Value::Size(stack)), Got::Known(Value::Size(vent))) => {
                Got::Known(Value::Size(stack.min(vent)))
            }
            (Got::Known(_), missing) => missing,
            (missing, _) => missing,
        }
    }

    /// Largest size among the branches at the joint that a yoke vent stands at or below.
    pub(super) fn yoke_branch_size(&self, vent: u32) -> Got {
        let Some(yoke) = self.all_reliefs().yokes.get(&vent) else {
            return Got::Absent;
        };
        let is_branch = |&inlet: &u32| self.pipe(inlet).is_some_and(|inlet| inlet.kind != RunKind::Stack);
        self.inlets(yoke.joint, Role::Drain)
            .filter(is_branch)
            .max_by_key(|&inlet| super::drains::by_size(self, inlet))
            .map_or(Got::Absent, |inlet| self.size_of(inlet))
    }
}
