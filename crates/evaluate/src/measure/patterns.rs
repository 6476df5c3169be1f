//! The shapes in which each trap can be seen, and which arrangement of the rule set takes one of them.
//!
//! It finds shapes; under what conditions they protect is the rule set's to say.

use crownweir_vocabulary::Pattern;

use super::air::Supply;
use super::combinations::Part;
use super::{Element, Gap, Measured, NONE, Seen};
use crate::protection::Arranged;

/// What protects a trap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Chosen {
    /// The arrangement at that place in the rule set's list.
    By(usize),
    /// It cannot be told; the first thing that is missing.
    Open(Gap),
    /// Nothing.
    None,
}

pub(crate) fn chosen(measured: &Measured<'_>) -> Vec<Chosen> {
    let fixtures = measured.state.fixtures.iter();
    fixtures.map(|fixture| choose(measured, fixture.node)).collect()
}

/// What protects the trap of a fixture, if it has one.
pub(crate) fn choose(measured: &Measured<'_>, fixture: u32) -> Chosen {
    if measured.fixture_facts(fixture).is_none_or(|one| !one.has_trap) {
        return Chosen::None;
    }
    match measured.arranged(fixture) {
        Arranged::By(number, _) => Chosen::By(number),
        Arranged::Open(gaps) => gaps.first().map_or(Chosen::None, |&gap| Chosen::Open(gap)),
        Arranged::Nearest(_) => Chosen::None,
    }
}

impl Measured<'_> {
    /// What protects a fixture's trap; nothing while that is not settled yet.
    pub(crate) fn chosen(&self, fixture: u32) -> Option<Chosen> {
        self.see(Seen::Chosen, fixture);
        self.state.chosen.get(self.ordinal(fixture)?).copied()
    }

    /// What is missing first where it cannot be told what protects a fixture's trap.
    pub(crate) fn open_choice(&self, fixture: u32) -> Option<Gap> {
        match self.chosen(fixture)? {
            Chosen::Open(gap) => Some(gap),
            _ => None,
        }
    }

    /// The shape of the arrangement that protects a fixture's trap.
    pub(crate) fn chosen_pattern(&self, fixture: u32) -> Option<Pattern> {
        match self.chosen(fixture)? {
            Chosen::By(number) => Some(self.rules.arrangements.get(number)?.pattern),
            _ => None,
        }
    }

    /// The shapes in which a trap can be seen, the plainest first. None when a slope is not stated, or no air reaches
    /// it.
    pub(crate) fn patterns(&self, fixture: u32) -> Vec<Pattern> {
        match self.state.air.supply(self, fixture) {
            Some(supply) => self.patterns_by(fixture, &supply),
            None => {
                let part = self.state.combinations.part(self, fixture);
                let beside = part.filter(|part| self.has_air(part, None) == Ok(true));
                beside.into_iter().map(|_| Pattern::Combination).collect()
            }
        }
    }

    /// What is not stated where it hangs on that whether a trap is seen as part of a combination drain: the size of a
    /// drain of its own, or the slope of the building drain that it joins.
    pub(crate) fn open_combination(&self, fixture: u32) -> Option<Gap> {
        let supply = self.state.air.supply(self, fixture);
        let not_stated = |datum, drain| Gap::NotStated {
            datum,
            element: Element::Pipe(drain),
        };
        match self.state.combinations.seen(self, fixture)? {
            Ok(part) => {
                let drain = self.has_air(&part, supply.as_ref()).err()?;
                Some(not_stated("slope", drain))
            }
            Err(drain) => {
                let either = self.state.combinations.either(self, fixture);
                let mut either = either.iter().flatten();
                let may_have_air = either.any(|part| self.has_air(part, supply.as_ref()) != Ok(false));
                may_have_air.then(|| not_stated("size", drain))
            }
        }
    }

    fn patterns_by(&self, fixture: u32, supply: &Supply) -> Vec<Pattern> {
        let plain = self.state.air.shapes(self, supply);
        let mut patterns: Vec<Pattern> = plain.into_iter().flatten().collect();
        let Some(&first) = patterns.first() else {
            return patterns;
        };
        let at_dry_vent = matches!(first, Pattern::Individual | Pattern::Common);
        if at_dry_vent && self.all_loops().foot(supply.connection).is_some() {
            patterns = vec![Pattern::Island];
        }
        if self.state.circuits.of(self, supply).is_some() {
            patterns.push(Pattern::Circuit);
        }
        let stack = self.stack_of_trap(fixture);
        let stack = stack.and_then(|stack| self.stack_itself(stack));
        if stack.is_some_and(|stack| stack.has_stack_vent) {
            patterns.push(Pattern::Stack);
        }
        let part = self.state.combinations.part(self, fixture);
        if part.is_some_and(|part| self.has_air(&part, Some(supply)) == Ok(true)) {
            patterns.push(Pattern::Combination);
        }
        patterns
    }

    /// Whether a dry vent stands on a trap's part of a level drain, or the drain that it ends at brings air or serves
    /// vented fixtures; a building drain on whose slope that hangs.
    pub(crate) fn has_air(&self, part: &Part, supply: Option<&Supply>) -> Result<bool, u32> {
        let Some(supply) = supply else {
            return self.state.combinations.joins_vented_building_drain(self, part);
        };
        let level = |pipe: Option<u32>| {
            pipe.and_then(|pipe| self.pipe(pipe))
                .is_some_and(|pipe| pipe.vertical == Some(false))
        };
        let brings = (supply.brings != NONE).then_some(supply.brings);
        let lies_level = brings.is_none() || level(brings) || level(self.next(supply.connection));
        Ok(lies_level && self.depth(part.end) <= self.depth(supply.connection))
    }
}
