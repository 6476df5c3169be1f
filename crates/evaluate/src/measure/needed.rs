//! How much of a network has to be measured for the rules that are asked of it.

use crownweir_rulebook::{Condition, Fact, Family, Message, Piece, Rule, RuleSet, Subject};

/// How far the passes have to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Needed {
    /// Pipes, fixtures and what flows past each node.
    Flow,
    /// Where the air of traps comes from, too.
    Air,
    /// Everything.
    All,
}

impl Needed {
    /// By a rule set: what its rules and their messages ask for.
    pub(crate) fn by(rules: &RuleSet) -> Self {
        // Where nothing asks for the protection of traps there are no arrangements either.
        if rules.protection.is_some() {
            return Self::All;
        }
        rules.rules.iter().map(Self::by_rule).max().unwrap_or(Self::Flow)
    }

    fn by_rule(rule: &Rule) -> Self {
        if matches!(rule.subject, Subject::Stack | Subject::BranchInterval) {
            return Self::All;
        }
        let conditions = std::iter::once(&rule.when).chain(&rule.require);
        let messages = std::iter::once(&rule.message).chain(&rule.advice);
        let told = messages.flat_map(|Message { pieces, .. }| pieces);
        let told = told.filter_map(|piece| match piece {
            Piece::Fact(fact) => Some(*fact),
            _ => None,
        });
        let shown = rule.show.iter().flat_map(|(_, operand)| operand.facts());
        let facts = conditions.flat_map(Condition::facts).chain(told).chain(shown);
        facts.map(Self::by_fact).max().unwrap_or(Self::Flow)
    }

    /// By a fact; by all that are not known to do with less.
    fn by_fact(fact: Fact) -> Self {
        match (fact.family(), fact) {
            (Family::Pipe | Family::Passage, _)
            | (
                _,
                Fact::FixtureKind
                | Fact::FixtureOccupancy
                | Fact::FixtureFlushVolume
                | Fact::FixtureFlow
                | Fact::FixtureLoad
                | Fact::TrapSize
                | Fact::TrapSeal
                | Fact::TrapShape
                | Fact::TrapOutletDrop
                | Fact::TrapOutletOffset
                | Fact::TrapOutletPipe
                | Fact::TrapHeight
                | Fact::TrapDrainSize
                | Fact::DrainLoad
                | Fact::DrainWetLoad
                | Fact::DrainFixtures
                | Fact::DrainWaterClosets
                | Fact::DrainUrinals
                | Fact::DrainSinks
                | Fact::DrainClothesWashers
                | Fact::DrainReceiver
                | Fact::DrainLargestInlet
                | Fact::DrainInletFitting
                | Fact::DrainOnwardSize,
            ) => Self::Flow,
            (
                _,
                Fact::TrapArmLength | Fact::TrapArmFall | Fact::TrapArmEndsAtDryVent | Fact::DrainInTrapArm,
            ) => Self::Air,
            _ => Self::All,
        }
    }
}
