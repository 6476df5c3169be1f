//! How far each point of the drains is from a cleanout, and branches from the bases of stacks.

use crownweir_network::NodeKind;
use crownweir_vocabulary::{Inlet, Role, RunKind};

use super::{Distance, Measured, NONE};

#[derive(Debug, Default)]
pub(crate) struct Cleanouts {
    /// For each node, developed length up to the nearest cleanout, removable trap, or upper end.
    pub(crate) run: Vec<Distance>,
    /// For each node, developed length up to the nearest cleanout or removable trap.
    pub(crate) rod: Vec<Option<Distance>>,
    /// For each node on the building drain or an offset, the nearest stack base upstream.
    pub(crate) base: Vec<Option<(Distance, u32)>>,
    /// Between the end of the building drain and the nearest cleanout.
    pub(crate) junction: Option<Distance>,
}

pub(crate) fn cleanouts(measured: &Measured<'_>) -> Cleanouts {
    let nodes = measured.network.graph().node_count();
    let mut found = Cleanouts {
        run: vec![Distance::ZERO; nodes],
        rod: vec![None; nodes],
        base: vec![None; nodes],
        junction: None,
    };
    // Cleanouts proper, without removable traps: only they count where the building drain ends.
    let mut plug: Vec<Option<Distance>> = vec![None; nodes];
    for node in measured.drain_order() {
        let here = node as usize;
        let is_cleanout = matches!(
            measured.node(node).map(|node| &node.kind),
            Some(NodeKind::Cleanout(_))
        );
        let removable = measured
            .fixture(node)
            .is_some_and(|fixture| fixture.trap.removable);
        if is_cleanout {
            plug[here] = Some(Distance::ZERO);
        }
        if is_cleanout || removable {
            found.rod[here] = Some(Distance::ZERO);
        }
        let mut straight: Option<Distance> = None;
        let mut any: Option<Distance> = None;
        for inlet in measured.inlets(node, Role::Drain) {
            let (Some(pipe), Some(stated)) = (measured.pipe(inlet), measured.stated(inlet)) else {
                continue;
            };
            let further = |from: Option<Distance>| from.map(|from| from.plus(pipe.length));
            let nearer = |own: Option<Distance>, other: Option<Distance>| match (own, other) {
                (Some(own), Some(other)) => Some(own.shorter(other)),
                (own, other) => own.or(other),
            };
            plug[here] = nearer(plug[here], further(plug[pipe.from as usize]));
            found.rod[here] = nearer(found.rod[here], further(found.rod[pipe.from as usize]));
            if pipe.vertical != Some(true) {
                let length = found.run[pipe.from as usize].plus(pipe.length);
                any = Some(any.map_or(length, |any| any.longer(length)));
                if stated.enters == Inlet::Run {
                    straight = nearer(straight, Some(length));
                }
            }
            let candidate = match (pipe.kind, pipe.vertical) {
                (RunKind::Stack, Some(true)) if !continues_vertical(measured, node) => measured
                    .stacks
                    .of_pipe(measured, inlet)
                    .map(|stack| (Distance::ZERO, stack)),
                (RunKind::BuildingDrain, _) | (RunKind::Stack, Some(false)) => {
                    found.base[pipe.from as usize].map(|(from, stack)| (from.plus(pipe.length), stack))
                }
                _ => None,
            };
            found.base[here] = match (found.base[here], candidate) {
                (Some(own), Some(other)) if own.0.shorter(other.0) == own.0 => Some(own),
                (own, other) => other.or(own),
            };
        }
        if !is_cleanout && !removable {
            found.run[here] = straight.or(any).unwrap_or(Distance::ZERO);
        }
    }
    found.junction = junction(measured, &plug);
    found
}

/// Whether the drain below a node is vertical.
fn continues_vertical(measured: &Measured<'_>, node: u32) -> bool {
    measured
        .next(node)
        .and_then(|pipe| measured.pipe(pipe))
        .is_some_and(|pipe| pipe.vertical == Some(true))
}

/// From where the building drain ends, up or down to the nearest cleanout.
fn junction(measured: &Measured<'_>, plug: &[Option<Distance>]) -> Option<Distance> {
    let kind = |pipe: u32| measured.pipe(pipe).map(|pipe| pipe.kind);
    let end = measured.drain_order().find(|&node| {
        let ends = measured
            .inlets(node, Role::Drain)
            .any(|inlet| kind(inlet) == Some(RunKind::BuildingDrain));
        ends && measured.next(node).and_then(kind) != Some(RunKind::BuildingDrain)
    })?;
    let above = plug.get(end as usize).copied().flatten();
    let mut below = None;
    let (mut node, mut walked) = (end, Distance::ZERO);
    while let Some(pipe) = measured.next(node).and_then(|pipe| measured.pipe(pipe)) {
        walked = walked.plus(pipe.length);
        node = pipe.to;
        if matches!(
            measured.node(node).map(|node| &node.kind),
            Some(NodeKind::Cleanout(_))
        ) {
            below = Some(walked);
            break;
        }
    }
    match (above, below) {
        (Some(above), Some(below)) => Some(above.shorter(below)),
        (above, below) => above.or(below),
    }
}

impl Measured<'_> {
    /// Where a branch joins the building drain or an offset, how far below which stack's base that is.
    pub(crate) fn base_distance(&self, branch: u32) -> Option<(Distance, u32)> {
        let pipe = self.pipe(branch)?;
        if pipe.kind != RunKind::Branch || pipe.vertical == Some(true) {
            return None;
        }
        let joined = self.next(pipe.to).and_then(|next| self.pipe(next))?;
        let main = joined.kind == RunKind::BuildingDrain
            || (joined.kind == RunKind::Stack && joined.vertical == Some(false));
        let found = self.cleanouts.base.get(pipe.to as usize).copied().flatten()?;
        (main && found.1 != NONE).then_some(found)
    }
}
