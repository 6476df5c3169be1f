//! Where a stack or a building drain is written from a fixture on: which of its drains are that fixture's own.
//!
//! It tells by what joins alone, and leaves alone what no run calls more than a branch.

use crownweir_vocabulary::{Role, RunKind};

use super::{Class, Measured, PipeFacts};

/// The drains of such runs that are a fixture's own: from its trap to the first node where a vent or another drain
/// joins, or, in a stack, where what was not vertical turns so. Where nothing of that comes on the run, it has no
/// fitting to begin at and is what it is called.
pub(crate) fn fixture_drains(measured: &Measured<'_>) -> Vec<u32> {
    let fixtures = measured.all_fixtures();
    let traps = fixtures.filter(|fixture| fixture.has_trap);
    traps
        .filter_map(|fixture| own_drains(measured, fixture.node))
        .flatten()
        .collect()
}

fn own_drains(measured: &Measured<'_>, fixture: u32) -> Option<Vec<u32>> {
    let drain = |node: u32| {
        let number = measured.next(node)?;
        Some((number, measured.pipe(number)?))
    };
    let (_, first) = drain(fixture)?;
    if first.kind == RunKind::Branch {
        return None;
    }
    let (mut own, mut was_level, mut node) = (Vec::new(), false, fixture);
    while let Some((number, pipe)) = drain(node).filter(|(_, pipe)| pipe.run == first.run) {
        if pipe.kind == RunKind::Stack && was_level && pipe.vertical == Some(true) {
            return Some(own);
        }
        own.push(number);
        if is_joined(measured, pipe) {
            return Some(own);
        }
        was_level |= pipe.vertical != Some(true);
        node = pipe.to;
    }
    None
}

/// Whether a vent or another drain joins at a drain's end; what only leads to a cleanout is none.
fn is_joined(measured: &Measured<'_>, drain: &PipeFacts) -> bool {
    let only_opens = |inlet: u32| {
        let stub = measured.pipe(inlet);
        stub.is_some_and(|stub| {
            measured.is(stub.from, Class::Cleanout)
                && measured.inlets(stub.from, Role::Drain).next().is_none()
        })
    };
    let mut drains = measured
        .inlets(drain.to, Role::Drain)
        .filter(|&inlet| !only_opens(inlet));
    drains.nth(1).is_some()
        || measured.vent_of(drain.to).is_some()
        || measured.inlets(drain.to, Role::Vent).next().is_some()
}
