//! Which rules can apply to which elements. Most rules speak of some kinds of pipe or fixture only and say so in their
//! first condition: that is settled once for each kind that occurs, and not for each element.

use crownweir_rulebook::{Check, Comparison, Condition, Fact, FactTest, Operand, Rule, Subject};

use crate::evaluate::{Outcome, condition, test};
use crate::measure::Measured;
use crate::report::Judgement;

/// Elements of one subject that are of one kind, and the rules that may apply to them.
#[derive(Debug)]
pub(crate) struct Class<'r> {
    /// How many there are.
    pub(crate) elements: usize,
    pub(crate) rules: Vec<OfClass<'r>>,
    /// Numbers of those that apply to no such element.
    pub(crate) others: Vec<usize>,
}

/// A rule that may apply to a class.
#[derive(Debug)]
pub(crate) struct OfClass<'r> {
    pub(crate) number: usize,
    subject: Subject,
    when: Left<'r>,
    require: Option<Left<'r>>,
}

impl OfClass<'_> {
    /// What the rule comes to on an element of the class.
    pub(crate) fn judgement(&self, measured: &Measured<'_>, element: u32) -> Judgement {
        let of = |left: &Left<'_>| left.outcome(measured, self.subject, element);
        Judgement::of(
            of(&self.when),
            self.require.as_ref().map(|require| || of(require)),
        )
    }
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
                let left = |condition| Left::of(measured, subject, element, condition);
                let (mut of_class, mut others) = (Vec::new(), Vec::new());
                for &(number, rule) in rules {
                    match left(&rule.when) {
                        Left::Settled(false) => others.push(number),
                        when => of_class.push(OfClass {
                            number,
                            subject,
                            when,
                            require: rule.require.as_ref().map(left),
                        }),
                    }
                }
                Class {
                    elements: 0,
                    rules: of_class,
                    others,
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
    /// A number that elements of a subject share if the facts are alike by which [`goes_by_kind`] goes.
    fn kind(&self, subject: Subject, element: u32) -> usize {
        match subject {
            Subject::Pipe | Subject::Drain | Subject::Vent | Subject::Turn => {
                self.pipe(element).map_or(0, |pipe| {
                    let kind = 3 * pipe.kind as usize + pipe.vertical.map_or(2, usize::from);
                    2 * kind + usize::from(pipe.underground)
                })
            }
            Subject::Fixture | Subject::Trap | Subject::TrapArm => self
                .fixture_facts(element)
                .map_or(0, |fixture| fixture.fixture_type as usize),
            _ => 0,
        }
    }
}

/// What is left of a condition for elements of one kind, where what their kind settles is left out.
#[derive(Debug)]
pub(crate) enum Left<'r> {
    /// Nothing: it holds of all of them, or of none.
    Settled(bool),
    Whole(&'r Condition),
    All(Vec<Left<'r>>),
    Any(Vec<Left<'r>>),
    Not(Box<Left<'r>>),
}

impl<'r> Left<'r> {
    /// Of a condition, for an element and all that are of its kind.
    fn of(measured: &Measured<'_>, subject: Subject, element: u32, condition: &'r Condition) -> Self {
        let left = |part| Self::of(measured, subject, element, part);
        match condition {
            Condition::All(parts) => Self::open_parts(parts.iter().map(left), true)
                .map_or_else(Self::Settled, |parts| Self::one_or(parts, Self::All)),
            Condition::Any(parts) => Self::open_parts(parts.iter().map(left), false)
                .map_or_else(Self::Settled, |parts| Self::one_or(parts, Self::Any)),
            Condition::Not(inner) => match left(inner) {
                Self::Settled(holds) => Self::Settled(!holds),
                Self::Whole(_) => Self::Whole(condition),
                inner => Self::Not(Box::new(inner)),
            },
            Condition::Test(one) if goes_by_kind(subject, one) => {
                match test(measured, subject, element, one) {
                    Outcome::Satisfied => Self::Settled(true),
                    Outcome::Violated => Self::Settled(false),
                    Outcome::Undetermined(_) => Self::Whole(condition),
                }
            }
            Condition::Test(_) => Self::Whole(condition),
        }
    }

    /// The parts that are not settled; or how all come out together, where those that are settle it: by one that is
    /// not as all would have to be, or because none is left.
    fn open_parts(parts: impl Iterator<Item = Self>, all: bool) -> Result<Vec<Self>, bool> {
        let mut open = Vec::new();
        for part in parts {
            match part {
                Self::Settled(holds) if holds == all => {}
                Self::Settled(holds) => return Err(holds),
                part => open.push(part),
            }
        }
        if open.is_empty() { Err(all) } else { Ok(open) }
    }

    fn one_or(mut parts: Vec<Self>, several: fn(Vec<Self>) -> Self) -> Self {
        match parts.pop() {
            Some(only) if parts.is_empty() => only,
            last => {
                parts.extend(last);
                several(parts)
            }
        }
    }

    /// What the condition comes to on an element of the kind.
    fn outcome(&self, measured: &Measured<'_>, subject: Subject, element: u32) -> Outcome {
        let of = |part: &Self| part.outcome(measured, subject, element);
        match self {
            Self::Settled(holds) => Outcome::of(*holds),
            Self::Whole(whole) => condition(measured, subject, element, whole),
            Self::All(parts) => Outcome::of_all(parts.iter().map(of)),
            Self::Any(parts) => Outcome::of_any(parts.iter().map(of)),
            Self::Not(inner) => of(inner).reversed(),
        }
    }
}

/// Whether a comparison comes out alike for elements of one kind.
fn goes_by_kind(subject: Subject, test: &FactTest) -> bool {
    let by_kind = match test.fact {
        Fact::PipeKind | Fact::PipeOrientation | Fact::PipeUnderground => {
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
