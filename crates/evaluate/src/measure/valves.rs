//! What each air admittance valve serves: fixtures, storeys, and where its branch joins a stack.
//!
//! It judges nothing: where a valve may stand is the rule set's to say.

use std::collections::BTreeMap;

use crownweir_vocabulary::RunKind;

use super::{Class, Measured, NONE};

/// What a valve serves.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Served {
    pub(crate) fixtures: u32,
    /// The lowest and highest storey among them.
    pub(crate) storeys: (u32, u32),
    /// One whose storey is not stated.
    pub(crate) storey_gap: u32,
    /// The most branch intervals above the joint of a branch that it vents.
    pub(crate) intervals_above: Option<u32>,
    /// A stack whose intervals are not known.
    pub(crate) interval_gap: u32,
    /// Where the vents that it ends leave the drains.
    pub(crate) nodes: Vec<u32>,
    /// Whether each branch that it vents has a vent to open air further down before the stack.
    pub(crate) relieved: bool,
}

impl Served {
    const NOTHING: Self = Self {
        fixtures: 0,
        storeys: (NONE, 0),
        storey_gap: NONE,
        intervals_above: None,
        interval_gap: NONE,
        nodes: Vec::new(),
        relieved: true,
    };
}

/// What each valve serves, by its node.
pub(crate) fn valves(measured: &Measured<'_>) -> BTreeMap<u32, Served> {
    let mut found: BTreeMap<u32, Served> = measured
        .nodes(Class::Valve)
        .map(|valve| (valve, Served::NOTHING))
        .collect();
    if found.is_empty() {
        return found;
    }
    let end = |dry_vent: u32| {
        let vent = measured.state.vents.of(measured.vent_of(dry_vent)?)?;
        Some(vent.end)
    };
    for fixture in measured.all_fixtures() {
        let supply = measured.state.air.supply(measured, fixture.node);
        let valve = supply.and_then(|supply| end(supply.dry_vent));
        let Some(served) = valve.and_then(|valve| found.get_mut(&valve)) else {
            continue;
        };
        served.fixtures += 1;
        if fixture.storey == NONE {
            served.storey_gap = fixture.node;
        } else {
            served.storeys = (
                served.storeys.0.min(fixture.storey),
                served.storeys.1.max(fixture.storey),
            );
        }
    }
    let open = open_below(measured, &end);
    for node in measured.drain_order() {
        let Some(served) = end(node).and_then(|valve| found.get_mut(&valve)) else {
            continue;
        };
        served.nodes.push(node);
        let Some(joint) = measured.state.ways.stack_joint(measured, node) else {
            continue;
        };
        served.relieved &= open.get(node as usize) == Some(&true);
        if let Some((above, gap)) = measured.state.stacks.intervals_above(measured, joint) {
            served.intervals_above = served.intervals_above.max(Some(above));
            if gap != NONE {
                served.interval_gap = gap;
            }
        }
    }
    found
}

/// For each node of a branch, whether a vent to open air stands on the branch further down.
fn open_below(measured: &Measured<'_>, end: &impl Fn(u32) -> Option<u32>) -> Vec<bool> {
    let mut open = vec![false; measured.network.graph().node_count()];
    for node in measured.drain_order().rev() {
        let pipe = measured.next(node).and_then(|next| measured.pipe(next));
        let Some(pipe) = pipe.filter(|pipe| pipe.kind == RunKind::Branch) else {
            continue;
        };
        let onward = measured.next(pipe.to).and_then(|next| measured.pipe(next));
        if onward.is_some_and(|onward| onward.kind == RunKind::Branch) {
            let here = end(pipe.to).is_some_and(|end| measured.is(end, Class::Terminal));
            open[node as usize] = here || open[pipe.to as usize];
        }
    }
    open
}
