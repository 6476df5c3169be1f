//! What the examples expect against what the engine gives.
//!
//! An expectation that is not met is told with what came in its place; none is ever left out silently.

use std::collections::BTreeSet;
use std::sync::Arc;

use crownweir_document::{Diagnostics, Place};
use crownweir_evaluate::{Judgement, Measured, RulePart, Session, Substitute, UnknownSizes};
use crownweir_network::Network;
use crownweir_quantity::NominalSize;
use crownweir_rulebook::RuleSet;

use crate::example::{Case, Example, Origin};
use crate::expect::{Came, Met, judged, met, of};
use crate::expected::What;

/// What came of a case.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Outcome {
    /// The example's title.
    pub example: String,
    /// The example's file.
    pub file: Arc<str>,
    /// The case's title, or the values put.
    pub case: String,
    /// Where the case stands.
    pub place: Place,
    /// Where its answer comes from.
    pub origin: Arc<Origin>,
    /// How many things it expects.
    pub expected: usize,
    /// Those that did not come.
    pub unmet: Vec<Unmet>,
}

/// An expectation that is not met.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Unmet {
    /// Where it stands.
    pub place: Place,
    /// What was expected, in words.
    pub expected: String,
    /// What came instead, in words.
    pub came: String,
}

/// Runs every case of `examples` under `rules`.
#[must_use]
pub fn prove(rules: &RuleSet, examples: &[Example]) -> Vec<Outcome> {
    let cases = examples
        .iter()
        .flat_map(|example| example.cases.iter().map(move |case| (example, case)));
    cases
        .map(|(example, case)| {
            let ready = Ready::new(rules, case);
            outcome(example, case, ready.unmet(&mut Measuring::Anew(rules)))
        })
        .collect()
}

pub(crate) fn outcome(example: &Example, case: &Case, unmet: Vec<Unmet>) -> Outcome {
    Outcome {
        example: example.title.clone(),
        file: Arc::clone(&example.file),
        case: case.title.clone(),
        place: case.place.clone(),
        origin: Arc::clone(&case.origin),
        expected: case.expected.len(),
        unmet,
    }
}

/// A network for each smaller size of a `sizes` expectation, and for the size itself.
type Rungs = Vec<(NominalSize, Result<Arc<Network>, Diagnostics>)>;

/// A case with all its networks, ready to run under any rule set with the same sizes.
#[derive(Debug)]
pub(crate) struct Ready<'a> {
    pub(crate) case: &'a Case,
    /// For each expectation of a size, in order.
    rungs: Vec<Rungs>,
}

/// By which rule set a case's networks are measured, and how.
pub(crate) enum Measuring<'m, 'r> {
    /// Each anew.
    Anew(&'r RuleSet),
    /// Each anew, with a note of what is read of the rule set.
    Tracing(&'r RuleSet, &'m mut BTreeSet<RulePart>),
    /// By a rule set that stands in for another, each in its session by the other.
    InSessions(&'m Substitute<'r>, &'m mut Sessions),
}

/// A session for each network of a case by the rule set that others stand in for, made when it is first needed.
#[derive(Debug)]
pub(crate) struct Sessions {
    pub(crate) rules: Arc<RuleSet>,
    list: Vec<Option<Session>>,
}

impl Sessions {
    pub(crate) fn new(rules: &Arc<RuleSet>, ready: &Ready<'_>) -> Self {
        let networks = 1 + ready.rungs.iter().map(Vec::len).sum::<usize>();
        Self {
            rules: Arc::clone(rules),
            list: (0..networks).map(|_| None).collect(),
        }
    }

    /// The session of the network with that number.
    fn of(&mut self, number: usize, network: &Arc<Network>) -> Result<Option<&mut Session>, UnknownSizes> {
        let Some(slot) = self.list.get_mut(number) else {
            return Ok(None);
        };
        if slot.is_none() {
            *slot = Some(Session::new(Arc::clone(network), Arc::clone(&self.rules))?);
        }
        Ok(slot.as_mut())
    }
}

impl Measuring<'_, '_> {
    /// Asks about the network with that number: the case's own is the first.
    fn ask<R>(
        &mut self,
        number: usize,
        network: &Arc<Network>,
        ask: impl FnOnce(&Measured<'_>) -> R,
    ) -> Result<R, UnknownSizes> {
        match self {
            Self::Anew(rules) => Measured::new(network, rules).map(|measured| ask(&measured)),
            Self::Tracing(rules, reads) => {
                let measured = Measured::tracing(network, rules)?;
                let told = ask(&measured);
                reads.extend(measured.reads());
                Ok(told)
            }
            Self::InSessions(substitute, sessions) => {
                // What is measured otherwise is of no use to a session.
                if substitute.is_alike()
                    && let Some(session) = sessions.of(number, network)?
                {
                    return session.what_if(substitute, ask);
                }
                Measured::new(network, substitute.rules()).map(|measured| ask(&measured))
            }
        }
    }
}

impl<'a> Ready<'a> {
    pub(crate) fn new(rules: &RuleSet, case: &'a Case) -> Self {
        let rungs = case.expected.iter().filter_map(|expected| match &expected.what {
            What::Size { put, is, .. } => Some(rungs(rules, case, put, *is)),
            _ => None,
        });
        Self {
            case,
            rungs: rungs.collect(),
        }
    }

    /// Everything that is not met.
    pub(crate) fn unmet(&self, measuring: &mut Measuring<'_, '_>) -> Vec<Unmet> {
        let expected = &self.case.expected;
        let of_network = measuring.ask(0, &self.case.network, |measured| {
            let met = |what: &What| match what {
                What::Size { .. } => Ok(()),
                what => met(measured, what),
            };
            expected.iter().map(|one| met(&one.what)).collect::<Vec<_>>()
        });
        let mut met = match of_network {
            Ok(met) => met,
            Err(unknown) => return vec![self.not_measured(&unknown)],
        };
        let sizes = expected.iter().zip(&mut met);
        let sizes = sizes.filter(|(one, _)| matches!(one.what, What::Size { .. }));
        let mut number = 1;
        for ((one, met), rungs) in sizes.zip(&self.rungs) {
            *met = smallest(measuring, number, rungs, &one.what);
            number += rungs.len();
        }
        let unmet = expected.iter().zip(met).filter_map(|(one, met)| {
            let Came { expected, came } = met.err()?;
            Some(Unmet {
                place: one.place.clone(),
                expected,
                came,
            })
        });
        unmet.collect()
    }

    /// Whether anything is not met; it stops at the first.
    pub(crate) fn fails(&self, measuring: &mut Measuring<'_, '_>) -> bool {
        let expected = &self.case.expected;
        let of_network = measuring.ask(0, &self.case.network, |measured| {
            expected.iter().any(|one| met(measured, &one.what).is_err())
        });
        if of_network.unwrap_or(true) {
            return true;
        }
        let sizes = expected
            .iter()
            .filter(|one| matches!(one.what, What::Size { .. }));
        let mut number = 1;
        sizes.zip(&self.rungs).any(|(one, rungs)| {
            let met = smallest(measuring, number, rungs, &one.what);
            number += rungs.len();
            met.is_err()
        })
    }

    fn not_measured(&self, unknown: &UnknownSizes) -> Unmet {
        Unmet {
            place: self.case.place.clone(),
            expected: "a network that can be measured".to_owned(),
            came: unknown.to_string(),
        }
    }
}

/// The network at every size up to `is`.
fn rungs(rules: &RuleSet, case: &Case, put: &str, is: NominalSize) -> Rungs {
    let mut rungs = Vec::new();
    let Some(top) = rules.ladder.find(is) else {
        return rungs;
    };
    for size in rules.ladder.sizes().take_while(|&size| size <= top) {
        let Some(rung) = rules.ladder.rung(size) else {
            continue;
        };
        let mut puts = case.puts.clone();
        puts.insert(put.to_owned(), rung.name.to_string());
        // All that the template names was put when the case was read.
        let Ok(filled) = case.template.filled(&puts) else {
            continue;
        };
        let mut problems = Diagnostics::keeping(1);
        let network = case
            .template
            .network(&filled, &puts, &case.limits, &mut problems)
            .map(Arc::new);
        rungs.push((rung.name, network.ok_or(problems)));
    }
    rungs
}

/// Whether a rule holds at the last of the sizes and at none before, as is expected of a size; `number` is that of the
/// first of their networks.
fn smallest(
    measuring: &mut Measuring<'_, '_>,
    number: usize,
    rungs: &[(NominalSize, Result<Arc<Network>, Diagnostics>)],
    what: &What,
) -> Met {
    let What::Size { rule, on, is, .. } = what else {
        return Ok(());
    };
    let on = on.as_deref();
    let came = |came: String| {
        Err(Came {
            expected: format!("{is} is the smallest size at which `{rule}` holds{}", of(on)),
            came,
        })
    };
    let Some((last, _)) = rungs.split_last() else {
        return came(format!("{is} is not among the rule set's sizes"));
    };
    for (number, (size, network)) in (number..).zip(rungs) {
        let network = match network {
            Ok(network) => network,
            Err(problems) => return came(format!("with {size} the network cannot be read: {problems}")),
        };
        let held = measuring.ask(number, network, |measured| {
            judged(measured, rule, on, Judgement::Satisfied, None)
        });
        match (held, *size == last.0) {
            (Err(unknown), _) => return came(unknown.to_string()),
            (Ok(Ok(())), false) => return came(format!("it holds at {size} too")),
            (Ok(Err(failed)), true) => return came(format!("at {size}: {}", failed.came)),
            _ => {}
        }
    }
    Ok(())
}
