//! What might clear a finding, by the facts that its failed comparisons read. Nothing here is offered before it has
//! been evaluated, so that a guess may be wrong; nothing here knows a rule.

use crownweir_evaluate::{Finding, Got, Limit, Measured};
use crownweir_network::{Network, NodeId, PipeId};
use crownweir_quantity::{Length, Notation};
use crownweir_rulebook::{
    Check, Comparison, Condition, Fact, FactTest, Family, Operand, RuleSet, Subject, Value,
};
use crownweir_vocabulary::{Role, RunKind};
use petgraph::Direction;

use super::change::Change;

mod arms;
mod framing;
mod loops;
mod nodes;
mod pipes;
mod vents;
mod whole;

/// How many sizes above its own a pipe is tried in.
const SIZES_UP: usize = 4;
/// How many slopes a drain is tried at.
const SLOPES: usize = 6;
/// How many joints a new vent is led to, by turns.
const JOINTS: usize = 8;
/// How many fittings below a trap a new vent is set on, by turns.
const FITTINGS: usize = 4;
/// How many fittings beside the way from a trap a new vent is set on, and how many joints each is then led to, by turns.
const BESIDE: usize = 6;
const JOINTS_BESIDE: usize = 2;

pub(crate) struct Candidates<'a> {
    network: &'a Network,
    rules: &'a RuleSet,
    measured: &'a Measured<'a>,
    /// The facts that the finding itself is about.
    about: Vec<Fact>,
    found: Vec<Vec<Change>>,
}

/// Everything to be tried for a finding, the likeliest first, each once.
pub(crate) fn candidates(measured: &Measured<'_>, finding: &Finding) -> Vec<Vec<Change>> {
    let mut own = Candidates {
        network: measured.network(),
        rules: measured.rules(),
        measured,
        about: Vec::new(),
        found: Vec::new(),
    };
    let number = finding.number();
    match own.rules.rule(&finding.rule) {
        Some(rule) => {
            if let Some(require) = &rule.require {
                own.about = require.tests().iter().map(|test| test.fact).collect();
                own.of_condition(rule.subject, number, require);
            }
            own.out_of(rule.subject, number, &rule.when);
        }
        None => own.of_protection(number),
    }
    let mut list: Vec<Vec<Change>> = Vec::new();
    for one in own.found {
        if !one.is_empty() && !list.contains(&one) {
            list.push(one);
        }
    }
    list
}

impl Candidates<'_> {
    fn of_condition(&mut self, subject: Subject, element: u32, condition: &Condition) {
        let tests = condition.tests();
        for &test in &tests {
            let of_fact = || tests.iter().filter(|other| other.fact == test.fact);
            let is_met = |test: &FactTest| self.is_met(subject, element, test);
            // Within the limit on the one side, what is wrong is the other.
            if is_met(test) && of_fact().any(|other| !is_met(other)) {
                continue;
            }
            let limit = match &test.check {
                Check::Compare(_, operand) => self.measured.limit(subject, element, operand),
                Check::Among { values, wanted: true } => {
                    values.first().map_or(Limit::Absent, |value| Limit::Known(*value))
                }
                _ => Limit::Absent,
            };
            self.of_test(subject, element, test, limit);
        }
    }

    /// What takes a drain out of a rule for those laid flat: the least slope that the rule does not ask of, where the drain
    /// is laid nearly so; and a member out of one for those that stand alone.
    fn out_of(&mut self, subject: Subject, element: u32, when: &Condition) {
        for test in when.tests() {
            match (subject, test.fact, &test.check) {
                (
                    Subject::Pipe | Subject::Drain,
                    Fact::PipeSlope,
                    Check::Compare(Comparison::LessThan, operand),
                ) => {
                    if let Limit::Known(Value::Slope(slope)) = self.measured.limit(subject, element, operand)
                    {
                        self.steeper_to(PipeId::new(element as usize), slope);
                    }
                }
                (Subject::Passage, Fact::PassageDoubled, Check::Among { values, wanted: true })
                    if values.contains(&Value::Truth(false)) =>
                {
                    self.of_passage(element, test.fact, Some(Value::Truth(true)), None);
                }
                _ => {}
            }
        }
    }

    /// Whether a fact is known to keep a limit.
    fn is_met(&self, subject: Subject, element: u32, test: &FactTest) -> bool {
        let Check::Compare(comparison, operand) = &test.check else {
            return false;
        };
        let (Got::Known(own), Limit::Known(limit)) = (
            self.measured.fact(subject, element, test.fact),
            self.measured.limit(subject, element, operand),
        ) else {
            return false;
        };
        comparison.holds(own, limit)
    }

    fn of_test(&mut self, subject: Subject, element: u32, test: &FactTest, limit: Limit) {
        let value = match limit {
            Limit::Known(value) => Some(value),
            _ => None,
        };
        let comparison = match &test.check {
            Check::Compare(comparison, _) => Some(*comparison),
            _ => None,
        };
        self.of_fact(subject, element, test.fact, value, comparison);
        if let Check::Among { values, wanted: true } = &test.check {
            for value in values {
                self.of_fact(subject, element, test.fact, Some(*value), None);
            }
        }
        // The limit itself may hang on what can be changed; but nobody lays larger pipe to be spared a cleanout.
        let is_of_cleanouts = matches!(
            test.fact,
            Fact::DrainCleanoutDistance | Fact::StackCleanoutDistance
        );
        if let Check::Compare(_, operand) = &test.check
            && !is_of_cleanouts
        {
            let own = match (operand, self.measured.fact(subject, element, test.fact)) {
                (Operand::Fact(_), Got::Known(own)) => Some(own),
                _ => None,
            };
            let flipped = comparison
                .filter(|_| own.is_some())
                .map(|comparison| match comparison {
                    Comparison::AtLeast => Comparison::AtMost,
                    Comparison::AtMost => Comparison::AtLeast,
                    Comparison::MoreThan => Comparison::LessThan,
                    Comparison::LessThan => Comparison::MoreThan,
                    other => other,
                });
            for fact in operand.facts() {
                self.of_fact(subject, element, fact, own, flipped);
            }
        }
    }

    fn of_fact(
        &mut self,
        subject: Subject,
        element: u32,
        fact: Fact,
        limit: Option<Value>,
        comparison: Option<Comparison>,
    ) {
        // What a trap or a valve is by its make, the file states; it is another where that is what the finding is about.
        let is_made = matches!(fact, Fact::TrapShape | Fact::TrapSeal | Fact::ValveShape);
        if is_made && !self.about.contains(&fact) {
            return;
        }
        let limit = limit.and_then(|limit| self.within(limit, comparison));
        match fact.family() {
            Family::Pipe | Family::Drain | Family::Vent => self.of_pipe(element, fact, limit),
            Family::Turn | Family::Fitting => {
                if matches!(fact, Fact::TurnCleanoutDistance | Fact::TurnCleanoutTrap) {
                    self.cleanouts(PipeId::new(element as usize));
                }
                self.of_fitting(subject, element);
            }
            Family::Trap | Family::Fixture => self.of_fixture(element, fact, limit, comparison),
            Family::TrapArm => self.of_trap_arm(element, fact, limit, comparison),
            Family::Protection | Family::Combination | Family::Circuit | Family::Island => {
                self.of_air(element, fact, limit);
            }
            Family::Cleanout => self.of_node(element, fact, limit),
            Family::Terminal => self.of_terminal(element, fact, limit),
            Family::Valve => self.of_node(element, fact, limit),
            Family::Test => self.of_a_test(element, fact, limit),
            Family::System => self.of_system(fact, limit),
            Family::Passage => self.of_passage(element, fact, limit, comparison),
            Family::Stack if fact == Fact::StackVentEnd => self.end_stack_vent(subject, element, limit),
            Family::Stack | Family::Interval => self.of_stack(subject, element, fact),
            _ => {}
        }
    }

    /// A value that keeps a limit: a length that has to be more or less than another differs by a step.
    fn within(&self, limit: Value, comparison: Option<Comparison>) -> Option<Value> {
        let step = Length::from_nanometres(step(self.network));
        match (limit, comparison) {
            (Value::Length(limit), Some(Comparison::MoreThan)) => limit.checked_add(step).map(Value::Length),
            (Value::Length(limit), Some(Comparison::LessThan)) => limit.checked_sub(step).map(Value::Length),
            _ => Some(limit),
        }
    }

    fn push(&mut self, changes: impl IntoIterator<Item = Change>) {
        self.found.push(changes.into_iter().collect());
    }

    fn name(&self, pipe: PipeId) -> String {
        let pipe = self.network.graph().edge_weight(pipe);
        pipe.map_or_else(String::new, |pipe| pipe.name.to_string())
    }

    fn node_name(&self, node: NodeId) -> String {
        let node = self.network.graph().node_weight(node);
        node.map_or_else(String::new, |node| node.name.to_string())
    }

    fn role(&self, pipe: PipeId) -> Option<Role> {
        self.network.graph().edge_weight(pipe).map(|pipe| pipe.role)
    }

    fn kind(&self, pipe: PipeId) -> Option<RunKind> {
        self.measured.kind_of(pipe)
    }

    /// The pipe of the same role that leads on.
    fn onward(&self, pipe: PipeId) -> Option<PipeId> {
        let (_, to) = self.network.graph().edge_endpoints(pipe)?;
        let role = self.role(pipe)?;
        let mut next = self.network.pipes_at(to, Direction::Outgoing);
        next.find(|&next| self.role(next) == Some(role))
    }

    /// The drains from a node down.
    fn down(&self, node: NodeId) -> Vec<PipeId> {
        let mut first = self.network.pipes_at(node, Direction::Outgoing);
        let mut way = Vec::new();
        let mut next = first.find(|&pipe| self.role(pipe) == Some(Role::Drain));
        while let Some(pipe) = next.filter(|_| way.len() < 40) {
            way.push(pipe);
            next = self.onward(pipe);
        }
        way
    }
}

/// A whole inch or centimetre, as the network's notation has it.
fn step(network: &Network) -> i64 {
    match network.notation() {
        Notation::Inches => Length::INCH.nanometres(),
        Notation::Millimetres => 10 * Length::MILLIMETRE.nanometres(),
    }
}

/// A part of a length in whole steps; none where nothing is left.
fn whole(length: Length, numerator: i64, denominator: i64, network: &Network) -> Option<Length> {
    let step = step(network);
    let part = length.checked_scale(numerator, denominator)?.nanometres() / step * step;
    (part > 0 && part < length.nanometres()).then(|| Length::from_nanometres(part))
}

/// A length of no less in whole steps.
fn rounded_up(length: Length, network: &Network) -> Option<Length> {
    let step = step(network);
    let steps = length.nanometres().checked_add(step - 1)?.div_euclid(step);
    steps.checked_mul(step).map(Length::from_nanometres)
}
