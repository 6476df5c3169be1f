//! Walks over conditions and operands: every test, look-up and fact in them.
//!
//! It visits and never judges. The depth of what it recurses over is bounded by the file's depth of nesting.

use crate::facts::Fact;
use crate::model::{Check, Condition, FactTest, Lookup, Operand};

/// Every test of a condition.
pub(crate) fn tests<'a>(condition: &'a Condition, visit: &mut dyn FnMut(&'a FactTest)) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts.iter().for_each(|part| tests(part, visit)),
        Condition::Not(inner) => tests(inner, visit),
        Condition::Test(test) => visit(test),
    }
}

/// An operand and every operand inside it.
pub(crate) fn operands<'a>(operand: &'a Operand, visit: &mut dyn FnMut(&'a Operand)) {
    visit(operand);
    for part in operand.parts() {
        operands(part, visit);
    }
}

/// Every operand of a condition, and every operand inside those.
pub(crate) fn operands_of<'a>(condition: &'a Condition, visit: &mut dyn FnMut(&'a Operand)) {
    tests(condition, &mut |test| {
        if let Check::Compare(_, operand) = &test.check {
            operands(operand, visit);
        }
    });
}

/// Every look-up of an operand.
pub(crate) fn lookup(operand: &Operand) -> Option<&Lookup> {
    match operand {
        Operand::Lookup(lookup) | Operand::SmallestSize { lookup, .. } => Some(lookup),
        _ => None,
    }
}

/// The facts of a condition, each once: those that operands read first, because limits hang on them.
pub(crate) fn facts(condition: &Condition) -> Vec<Fact> {
    let mut found = Vec::new();
    let mut add = |fact: Fact| {
        if !found.contains(&fact) {
            found.push(fact);
        }
    };
    operands_of(condition, &mut |operand| {
        if let Operand::Fact(fact) = operand {
            add(*fact);
        }
    });
    tests(condition, &mut |test| add(test.fact));
    found
}

/// The facts that an operand takes its measure from, other than by looking something up by them.
pub(crate) fn magnitudes(operand: &Operand, found: &mut Vec<Fact>) {
    match operand {
        Operand::Fact(fact) => found.push(*fact),
        Operand::SmallestSize { holds, .. } => magnitudes(holds, found),
        Operand::Times { of, .. }
        | Operand::Diameter(of)
        | Operand::SizeFor(of)
        | Operand::SizesUp(_, of)
        | Operand::FlowAsLoad { flow: of, .. } => magnitudes(of, found),
        Operand::Sum(parts) | Operand::LargerOf(parts) | Operand::SmallerOf(parts) => {
            parts.iter().for_each(|part| magnitudes(part, found));
        }
        Operand::Literal(_) | Operand::Lookup(_) => {}
    }
}
