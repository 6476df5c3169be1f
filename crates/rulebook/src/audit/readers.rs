//! All places of a rule set where conditions and operands stand, and when each is read.

use crate::cases::Goal;
use crate::facts::{Fact, Subject};
use crate::model::{
    Check, Comparison, Condition, FactTest, FlowFormula, LoadModel, Message, Operand, Piece, RuleSet,
};

/// A condition that is read where other conditions came out so and so.
pub(super) struct Reader<'a> {
    /// Who reads it, as part of a sentence.
    pub(super) name: String,
    /// About what it is read.
    pub(super) subject: Subject,
    /// What has to be so for it to be read.
    pub(super) when: Vec<Goal<'a>>,
    /// What is read.
    pub(super) reads: Condition,
}

/// A figure that stands by itself as something that is asked of a fact of its dimension, so that it can be
/// reasoned over.
fn asked(fact: Fact, figure: &Operand) -> Condition {
    Condition::Test(FactTest {
        fact,
        check: Check::Compare(Comparison::AtLeast, figure.clone()),
    })
}

pub(super) fn readers(rules: &RuleSet) -> Vec<Reader<'_>> {
    let mut readers = Vec::new();
    for rule in &rules.rules {
        readers.push(Reader {
            name: format!("the rule `{}`", rule.name),
            subject: rule.subject,
            when: Vec::new(),
            reads: rule.when.clone(),
        });
        readers.extend(rule.require.iter().map(|require| Reader {
            name: format!("the rule `{}`", rule.name),
            subject: rule.subject,
            when: vec![Goal::holds(&rule.when)],
            reads: require.clone(),
        }));
    }
    for arrangement in &rules.arrangements {
        readers.extend(arrangement.conditions.iter().map(|condition| Reader {
            name: format!("the arrangement `{}`", arrangement.name),
            subject: Subject::Trap,
            when: Vec::new(),
            reads: condition.require.clone(),
        }));
    }
    for (index, case) in rules.loads.fixture.iter().enumerate() {
        let earlier = rules.loads.fixture.iter().take(index);
        let mut when: Vec<_> = earlier.map(|case| Goal::fails(&case.when)).collect();
        when.push(Goal::holds(&case.when));
        readers.push(Reader {
            name: "the load of a fixture".to_owned(),
            subject: Subject::Fixture,
            when,
            reads: asked(
                if case.in_full {
                    Fact::FixtureFlow
                } else {
                    Fact::FixtureLoad
                },
                &case.load,
            ),
        });
    }
    readers.extend(rules.loads.group.iter().map(|load| Reader {
        name: "the load of a bathroom group".to_owned(),
        subject: Subject::Fixture,
        when: Vec::new(),
        reads: asked(Fact::FixtureLoad, load),
    }));
    let model = match &rules.loads.model {
        LoadModel::Sum { probable_flow } => probable_flow
            .as_ref()
            .map(|flow| (Subject::Drain, asked(Fact::DrainProbableFlow, flow))),
        LoadModel::RootSum { factor, .. } => Some((Subject::System, asked(RATIO, factor))),
    };
    readers.extend(model.map(|(subject, reads)| Reader {
        name: "the probable flow".to_owned(),
        subject,
        when: Vec::new(),
        reads,
    }));
    readers.extend(rules.hydraulics.iter().flat_map(|hydraulics| {
        let roughness = match hydraulics.formula {
            FlowFormula::Manning => RATIO,
            FlowFormula::ColebrookWhite { .. } => Fact::PipeLength,
        };
        let facts = [Fact::PipeLength, roughness].into_iter();
        let facts = facts.chain(std::iter::repeat(RATIO));
        facts.zip(hydraulics.operands()).map(|(fact, figure)| Reader {
            name: "the hydraulics".to_owned(),
            subject: Subject::Pipe,
            when: Vec::new(),
            reads: asked(fact, figure),
        })
    }));
    readers.extend(rules.framing.iter().flat_map(|framing| {
        framing.operands().map(|figure| Reader {
            name: "what a pipe takes up in framing".to_owned(),
            subject: Subject::Pipe,
            when: Vec::new(),
            reads: asked(Fact::PipeLength, figure),
        })
    }));
    readers
}

/// A fact that is a ratio.
const RATIO: Fact = Fact::DrainDepthRatio;

/// Every condition of the rule set.
pub(super) fn conditions(rules: &RuleSet) -> impl Iterator<Item = &Condition> {
    let own = rules
        .rules
        .iter()
        .flat_map(|rule| std::iter::once(&rule.when).chain(&rule.require));
    let arrangements = rules
        .arrangements
        .iter()
        .flat_map(|arrangement| &arrangement.conditions);
    own.chain(arrangements.map(|condition| &condition.require))
        .chain(rules.loads.fixture.iter().map(|case| &case.when))
}

/// Every operand that stands by itself, outside conditions.
pub(super) fn operands(rules: &RuleSet) -> impl Iterator<Item = &Operand> {
    let shown = rules
        .rules
        .iter()
        .flat_map(|rule| rule.show.iter().map(|(_, operand)| operand));
    let loads = rules.loads.fixture.iter().map(|case| &case.load);
    let flows = rules.hydraulics.iter().flat_map(|own| own.operands());
    let loads = loads.chain(&rules.loads.group).chain(rules.loads.model.operand());
    let framing = rules.framing.iter().flat_map(|own| own.operands());
    shown.chain(loads).chain(flows).chain(framing)
}

/// Every fact that a message shows.
pub(super) fn shown(rules: &RuleSet) -> impl Iterator<Item = Fact> {
    let messages = rules
        .rules
        .iter()
        .flat_map(|rule| std::iter::once(&rule.message).chain(&rule.advice));
    let arrangements = rules
        .arrangements
        .iter()
        .flat_map(|arrangement| &arrangement.conditions);
    messages
        .chain(arrangements.map(|condition| &condition.message))
        .chain(rules.protection.iter().map(|own| &own.message))
        .chain(rules.protection.iter().filter_map(|own| own.advice.as_ref()))
        .flat_map(|message: &Message| &message.pieces)
        .filter_map(|piece| match piece {
            Piece::Fact(fact) => Some(*fact),
            _ => None,
        })
}
