//! What each air admittance valve serves: fixtures, storeys, and where its branch joins a stack.
//!
//! It judges nothing: where a valve may stand is the rule set's to say.

use std::collections::{BTreeMap, BTreeSet};

use crownweir_vocabulary::RunKind;

use super::facts::Gap;
use super::{Class, FixtureFacts, Measured, NONE};

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
    /// What is missing without which they are not known.
    pub(crate) interval_gap: Option<Gap>,
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
        interval_gap: None,
        nodes: Vec::new(),
        relieved: true,
    };

    fn add(&mut self, fixture: &FixtureFacts) {
        self.fixtures += 1;
        fixture.note_storey(&mut self.storeys, &mut self.storey_gap);
    }
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
    let ends = |node: u32| -> BTreeSet<u32> {
        let vents = measured.vents_from(node);
        vents
            .filter_map(|vent| Some(measured.state.vents.of(vent)?.end))
            .collect()
    };
    for fixture in measured.all_fixtures() {
        let Some(supply) = measured.state.air.supply(measured, fixture.node) else {
            continue;
        };
        for end in ends(supply.dry_vent) {
            if let Some(served) = found.get_mut(&end) {
                served.add(fixture);
            }
        }
    }
    let open = open_below(measured, &ends);
    for node in measured.drain_order() {
        for end in ends(node) {
            let Some(served) = found.get_mut(&end) else {
                continue;
            };
            served.nodes.push(node);
            // What leaves the stack itself vents no branch.
            let joint = measured.state.ways.stack_joint(measured, node);
            let Some(joint) = joint.filter(|&joint| joint != node) else {
                continue;
            };
            served.relieved &= open.get(node as usize) == Some(&true);
            if let Some((above, gap)) = measured.state.stacks.intervals_above(measured, joint) {
                served.intervals_above = served.intervals_above.max(Some(above));
                served.interval_gap = served.interval_gap.or(gap);
            }
        }
    }
    found
}

/// For each node of a branch, whether a vent to open air stands on the branch further down.
fn open_below(measured: &Measured<'_>, ends: &impl Fn(u32) -> BTreeSet<u32>) -> Vec<bool> {
    let mut open = vec![false; measured.node_bound()];
    for node in measured.drain_order().rev() {
        let pipe = measured.next(node).and_then(|next| measured.pipe(next));
        let Some(pipe) = pipe.filter(|pipe| pipe.kind == RunKind::Branch) else {
            continue;
        };
        let onward = measured.next(pipe.to).and_then(|next| measured.pipe(next));
        if onward.is_some_and(|onward| onward.kind == RunKind::Branch) {
            let here = ends(pipe.to)
                .into_iter()
                .any(|end| measured.is(end, Class::Terminal));
            open[node as usize] = here || open[pipe.to as usize];
        }
    }
    open
}
