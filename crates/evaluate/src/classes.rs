//! Which rules can apply to which elements. Most rules speak of some kinds of pipe or fixture only and say so in their
//! first condition: that is settled once for each kind that occurs, and not for each element.

use crownweir_rulebook::{Check, Comparison, Condition, Fact, Operand, Rule, Subject, Test};

use crate::evaluate::{Outcome, test};
use crate::measure::Measured;

/// Elements of one subject that are of one kind, and the rules that may apply to them.
#[derive(Debug)]
pub(crate) struct Class<'r> {
    /// How many there are.
    pub(crate) elements: usize,
    /// By their numbers.
    pub(crate) rules: Vec<(usize, &'r Rule)>,
    /// Numbers of those that apply to no such element.
    pub(crate) others: Vec<usize>,
}

/// The classes of a subject's elements.
#[derive(Debug)]
pub(crate) struct Classes<'r> {
    pub(crate) subject: Subject,
    rules: Vec<(usize, &'r Rule)>,
    list: Vec<Option<Class<'r>>>,
}

impl<'r> Classes<'r> {
    pub(crate) fn new(subject: Subject, rules: &'r [Rule]) -> Self {
        let rules = rules.iter().enumerate();
        Self {
            subject,
            rules: rules.filter(|(_, rule)| rule.subject == subject).collect(),
            list: Vec::new(),
        }
    }

    /// Whether no rule speaks of the subject.
    pub(crate) fn is_empty(&self) -> bool {
        self.rules.is_empty()
    }

    /// The class of an element that the subject's rules speak of.
    pub(crate) fn of(&mut self, measured: &Measured<'_>, element: u32) -> Option<&mut Class<'r>> {
        let kind = measured.kind(self.subject, element);
        if self.list.len() <= kind {
            self.list.resize_with(kind + 1, || None);
        }
        let (subject, rules) = (self.subject, &self.rules);
        self.list.get_mut(kind).map(|class| {
            class.get_or_insert_with(|| {
                let other = |(_, rule): &(usize, &Rule)| {
                    settled(measured, subject, element, &rule.when) == Some(false)
                };
                let (others, rules): (Vec<_>, Vec<_>) = rules.iter().copied().partition(other);
                Class {
                    elements: 0,
                    rules,
                    others: others.into_iter().map(|(number, _)| number).collect(),
                }
            })
        })
    }

    /// Those that occur.
    pub(crate) fn into_list(self) -> impl Iterator<Item = Class<'r>> {
        self.list.into_iter().flatten()
    }
}

impl Measured<'_> {
    /// A number that elements of a subject share if the facts by which [`settled`] goes are alike.
    fn kind(&self, subject: Subject, element: u32) -> usize {
        match subject {
            Subject::Pipe | Subject::Drain | Subject::Vent | Subject::Turn => {
                self.pipe(element).map_or(0, |pipe| {
                    3 * pipe.kind as usize + pipe.vertical.map_or(2, usize::from)
                })
            }
            Subject::Fixture | Subject::Trap | Subject::TrapArm => self
                .fixture_facts(element)
                .map_or(0, |fixture| fixture.fixture_type as usize),
            _ => 0,
        }
    }
}

/// Whether a condition holds of an element and all that are of its kind; nothing if that depends on more.
fn settled(measured: &Measured<'_>, subject: Subject, element: u32, condition: &Condition) -> Option<bool> {
    let settled = |part| settled(measured, subject, element, part);
    match condition {
        Condition::All(parts) => all(parts.iter().map(settled)),
        Condition::Any(parts) => {
            all(parts.iter().map(|part| settled(part).map(|holds| !holds))).map(|none| !none)
        }
        Condition::Not(inner) => settled(inner).map(|holds| !holds),
        Condition::Test(one) if goes_by_kind(subject, one) => match test(measured, subject, element, one) {
            Outcome::Satisfied => Some(true),
            Outcome::Violated => Some(false),
            Outcome::Undetermined(_) => None,
        },
        Condition::Test(_) => None,
    }
}

/// Whether all hold; one that does not decides.
fn all(parts: impl Iterator<Item = Option<bool>>) -> Option<bool> {
    let mut holds = Some(true);
    for part in parts {
        match part {
            Some(false) => return Some(false),
            Some(true) => {}
            None => holds = None,
        }
    }
    holds
}

/// Whether a comparison comes out alike for elements of one kind.
fn goes_by_kind(subject: Subject, test: &Test) -> bool {
    let by_kind = match test.fact {
        Fact::PipeKind | Fact::PipeOrientation => {
            matches!(
                subject,
                Subject::Pipe | Subject::Drain | Subject::Vent | Subject::Turn
            )
        }
        Fact::FixtureKind => matches!(subject, Subject::Fixture | Subject::Trap | Subject::TrapArm),
        _ => false,
    };
    by_kind
        && match &test.check {
            Check::Among { .. } => true,
            Check::Compare(comparison, limit) => {
                matches!((comparison, limit), (Comparison::Is, Operand::Literal(_)))
            }
            Check::Present(_) => false,
        }
}
