//! What rules come to for all elements that are alike. Most conditions speak of a kind, a size, a material or a slope, which
//! many elements share, and most limits are looked up by these: that is settled once for each class of elements that are
//! alike in it, and what is left is asked of each element.

use crownweir_rulebook::{Check, Comparison, Condition, Fact, FactTest, Operand, Rule, Subject};

use crate::evaluate::{Limit, Outcome, condition, held_to, operand, test};
use crate::measure::{Measured, NONE};
use crate::report::Judgement;

/// Elements of one subject that are alike in the facts by which [`Measured::is_shared`] goes, and the rules that may apply
/// to them.
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
    /// By the likeness of their elements.
    list: Vec<(u64, Class<'r>)>,
    /// The place of the one that was asked for last: elements that are alike often follow each other.
    last: usize,
}

impl<'r> Classes<'r> {
    pub(crate) fn new(subject: Subject, rules: impl Iterator<Item = (usize, &'r Rule)>) -> Self {
        Self {
            subject,
            rules: rules.filter(|(_, rule)| rule.subject == subject).collect(),
            list: Vec::new(),
            last: 0,
        }
    }

    /// Whether no rule speaks of the subject.
    pub(crate) fn is_empty(&self) -> bool {
        self.rules.is_empty()
    }

    /// The class of an element that the subject's rules speak of.
    pub(crate) fn of(&mut self, measured: &Measured<'_>, element: u32) -> Option<&mut Class<'r>> {
        let likeness = measured.likeness(self.subject, element);
        if self.list.get(self.last).is_none_or(|(own, _)| *own != likeness) {
            self.last = match self.list.binary_search_by_key(&likeness, |(own, _)| *own) {
                Ok(place) => place,
                Err(place) => {
                    self.list.insert(place, (likeness, self.class(measured, element)));
                    place
                }
            };
        }
        self.list.get_mut(self.last).map(|(_, class)| class)
    }

    /// The class of an element, with no element in it yet.
    fn class(&self, measured: &Measured<'_>, element: u32) -> Class<'r> {
        let left = |condition| Left::of(measured, self.subject, element, condition);
        let (mut rules, mut others) = (Vec::new(), Vec::new());
        for &(number, rule) in &self.rules {
            match left(&rule.when) {
                Left::Settled(false) => others.push(number),
                when => rules.push(OfClass {
                    number,
                    subject: self.subject,
                    when,
                    require: rule.require.as_ref().map(left),
                }),
            }
        }
        Class {
            elements: 0,
            rules,
            others,
        }
    }

    /// Those that occur.
    pub(crate) fn into_list(self) -> impl Iterator<Item = Class<'r>> {
        self.list.into_iter().map(|(_, class)| class)
    }
}

/// The fewest pipes for which classes by size and material pay: making a class costs what judging several elements does.
const LEAST_PIPES: usize = 1_000;

/// The most slopes for which classes by slope pay.
const MOST_SLOPES: usize = 16;

impl Measured<'_> {
    /// A number that elements of a subject share if they are alike in the facts by which [`is_shared`](Self::is_shared)
    /// goes.
    fn likeness(&self, subject: Subject, element: u32) -> u64 {
        let digit = |stated: Option<u64>| stated.map_or(0, |stated| stated.saturating_add(1));
        let mut likeness = 0_u64;
        let mut add = |bits: u32, digit: u64| likeness = (likeness << bits) | digit;
        match subject {
            Subject::Pipe | Subject::Drain | Subject::Vent | Subject::Turn => {
                if let Some(pipe) = self.pipe(element) {
                    add(8, pipe.kind as u64);
                    add(2, digit(pipe.vertical.map(u64::from)));
                    add(1, u64::from(pipe.underground));
                    if self.are_sizes_shared() {
                        add(8, digit(pipe.material.map(|material| material as u64)));
                        add(17, digit(pipe.size.map(|size| u64::from(size.0))));
                    }
                    if self.are_slopes_shared() {
                        add(8, digit((pipe.slope != NONE).then_some(u64::from(pipe.slope))));
                    }
                }
            }
            Subject::Fixture | Subject::Trap | Subject::TrapArm => {
                if let Some(fixture) = self.fixture_facts(element) {
                    add(8, fixture.fixture_type as u64);
                    if self.are_sizes_shared() {
                        add(17, digit(fixture.trap.map(|size| u64::from(size.0))));
                    }
                }
            }
            Subject::Fitting if self.are_sizes_shared() => {
                add(8, digit(self.pattern_at(element).map(|pattern| pattern as u64)));
            }
            _ => {}
        }
        likeness
    }

    fn are_sizes_shared(&self) -> bool {
        self.state.pipes.len() >= LEAST_PIPES
    }

    fn are_slopes_shared(&self) -> bool {
        self.are_sizes_shared() && self.state.slopes.list.len() <= MOST_SLOPES
    }

    /// Whether a fact comes to the same for elements that are alike.
    fn is_shared(&self, subject: Subject, fact: Fact) -> bool {
        match subject {
            Subject::Pipe | Subject::Drain | Subject::Vent | Subject::Turn => match fact {
                Fact::PipeKind | Fact::PipeOrientation | Fact::PipeUnderground => true,
                Fact::PipeMaterial | Fact::PipeSize => self.are_sizes_shared(),
                Fact::PipeSlope => self.are_slopes_shared(),
                _ => false,
            },
            Subject::Fixture | Subject::Trap | Subject::TrapArm => match fact {
                Fact::FixtureKind => true,
                Fact::TrapSize => self.are_sizes_shared(),
                _ => false,
            },
            Subject::Fitting => fact == Fact::FittingShape && self.are_sizes_shared(),
            _ => false,
        }
    }
}

/// What is left of a condition for elements that are alike, where what they share settles the rest.
#[derive(Debug)]
pub(crate) enum Left<'r> {
    /// Nothing: it holds of all of them, or of none.
    Settled(bool),
    /// A comparison with a limit that they share.
    Compared(&'r FactTest, Comparison, Limit),
    Whole(&'r Condition),
    All(Vec<Left<'r>>),
    Any(Vec<Left<'r>>),
    Not(Box<Left<'r>>),
}

impl<'r> Left<'r> {
    /// Of a condition, for an element and all that are like it.
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
            Condition::Test(one) => {
                Self::of_test(measured, subject, element, one).unwrap_or(Self::Whole(condition))
            }
        }
    }

    /// Of a comparison, where it is less than the whole. What is not known is not known of each element by itself.
    fn of_test(measured: &Measured<'_>, subject: Subject, element: u32, one: &'r FactTest) -> Option<Self> {
        // Of what is traced, no more may be read than is asked of some element.
        if measured.trace.is_some() {
            return None;
        }
        let is_shared = |fact| measured.is_shared(subject, fact);
        match &one.check {
            Check::Compare(_, limit) if !is_limit_shared(limit, &is_shared) => None,
            _ if is_shared(one.fact) => match test(measured, subject, element, one) {
                Outcome::Satisfied => Some(Self::Settled(true)),
                Outcome::Violated => Some(Self::Settled(false)),
                Outcome::Undetermined(_) => None,
            },
            Check::Compare(comparison, limit) => match operand(measured, subject, element, limit) {
                Limit::Missing(_) => None,
                limit => Some(Self::Compared(one, *comparison, limit)),
            },
            _ => None,
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

    /// What the condition comes to on an element of the class.
    fn outcome(&self, measured: &Measured<'_>, subject: Subject, element: u32) -> Outcome {
        let of = |part: &Self| part.outcome(measured, subject, element);
        match self {
            Self::Settled(holds) => Outcome::of(*holds),
            Self::Compared(one, comparison, limit) => {
                held_to(measured, subject, element, one, *comparison, *limit)
            }
            Self::Whole(whole) => condition(measured, subject, element, whole),
            Self::All(parts) => Outcome::of_all(parts.iter().map(of)),
            Self::Any(parts) => Outcome::of_any(parts.iter().map(of)),
            Self::Not(inner) => of(inner).reversed(),
        }
    }
}

/// Whether all that an operand reads is shared.
fn is_limit_shared(operand: &Operand, is_shared: &impl Fn(Fact) -> bool) -> bool {
    let is_part_shared = |part: &Operand| is_limit_shared(part, is_shared);
    match operand {
        Operand::Literal(_) => true,
        Operand::Fact(fact) => is_shared(*fact),
        Operand::Lookup(lookup) => lookup.keys.iter().all(is_part_shared),
        other => other.parts().into_iter().all(is_part_shared),
    }
}
