//! What of the network itself is another after an edit.

use crownweir_network::{Fixture, NodeId, NodeKind, PipeId, RunId};
use crownweir_vocabulary::{Material, Role, RunKind};

use super::pass::Pass::Group;
use super::{Alters, Members, differs, field};
use crate::measure::seen::Figure;
use crate::measure::{FixtureFacts, Measured, PipeFacts, index};

impl Measured<'_> {
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
        // Where its kind may be another, the network is checked anew.
        let new = PipeFacts {
            kind: slot.kind,
            ..new
        };
        let old = std::mem::replace(slot, new);
        self.count_pipe(number, (old, new), own, alters);
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

    /// Whether a pipe belongs to a run that is called more than a branch, and so may have to be called otherwise where
    /// the fixture that it is written from, or how it lies, is another.
    pub(crate) fn is_of_a_main(&self, pipe: u32) -> bool {
        self.run_of_a_main(pipe).is_some()
    }

    /// That run.
    pub(crate) fn run_of_a_main(&self, pipe: u32) -> Option<u32> {
        let run = self.state.pipes.get(pipe as usize)?.run;
        let kind = self.network.kind_of_run(RunId::new(run))?;
        is_main(kind).then_some(run)
    }

    /// Counts what of a pipe holds of the network as a whole, in place of what did before.
    pub(super) fn count_pipe(
        &mut self,
        number: u32,
        (before, now): (PipeFacts, PipeFacts),
        own: &mut Members,
        alters: &mut impl Alters,
    ) {
        let plastic = |pipe: PipeFacts| usize::from(pipe.material.is_some_and(Material::is_plastic));
        own.plastic = own.plastic + plastic(now) - plastic(before);
        if now.kind.role() == Role::Vent && now.size.is_none() {
            own.unsized_vents.insert(number);
        } else {
            own.unsized_vents.remove(&number);
        }
        let whole = (own.plastic > 0, own.unsized_vents.first().copied());
        if whole != (self.state.plastic, self.state.unsized_vent) {
            (self.state.plastic, self.state.unsized_vent) = whole;
            alters.figure(Figure::System, 0);
        }
    }

    /// Whether the fixture at a node has come to have a trap, or to have none, and a main is written from it.
    pub(crate) fn heads_a_main_otherwise(&self, node: NodeId) -> bool {
        let number = index(node.index());
        let was = self.fixture_facts(number).map(|fixture| fixture.has_trap);
        let is = self.fixture(number).map(Fixture::has_trap);
        was != is && self.next(number).is_some_and(|drain| self.is_of_a_main(drain))
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
            .and_then(|ordinal| self.state.fixtures.get(ordinal).copied());
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
                let kind = |fixture: &FixtureFacts| (fixture.fixture_type, fixture.has_trap, fixture.storey);
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
}

/// Whether a run is called more than a branch.
pub(super) fn is_main(kind: RunKind) -> bool {
    !matches!(kind, RunKind::Branch | RunKind::BranchVent)
}
