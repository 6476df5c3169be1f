//! What the examples expect against what the engine gives.
//!
//! An expectation that is not met is told with what came in its place; none is ever left out silently.

use std::collections::BTreeSet;
use std::sync::Arc;

use crownweir_document::{Diagnostics, Place};
use crownweir_evaluate::{Judgement, Measured, Read};
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
        .map(|(example, case)| outcome(example, case, Ready::new(rules, case).run(rules)))
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
type Rungs = Vec<(NominalSize, Result<Network, Diagnostics>)>;

/// A case with all its networks, ready to run under any rule set with the same sizes.
#[derive(Debug)]
pub(crate) struct Ready<'a> {
    pub(crate) case: &'a Case,
    /// For each expectation of a size, in order.
    rungs: Vec<Rungs>,
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
    pub(crate) fn run(&self, rules: &RuleSet) -> Vec<Unmet> {
        self.unmet(rules, false, None)
    }

    /// Everything that is not met; `reads` takes what was read of the rule set.
    pub(crate) fn run_tracing(&self, rules: &RuleSet, reads: &mut BTreeSet<Read>) -> Vec<Unmet> {
        self.unmet(rules, false, Some(reads))
    }

    /// Whether anything is not met; it stops at the first.
    pub(crate) fn fails(&self, rules: &RuleSet) -> bool {
        !self.unmet(rules, true, None).is_empty()
    }

    fn unmet(&self, rules: &RuleSet, first_only: bool, mut reads: Option<&mut BTreeSet<Read>>) -> Vec<Unmet> {
        let measured = match measure(&self.case.network, rules, reads.is_some()) {
            Ok(measured) => measured,
            Err(unknown) => {
                return vec![Unmet {
                    place: self.case.place.clone(),
                    expected: "a network that can be measured".to_owned(),
                    came: unknown.to_string(),
                }];
            }
        };
        let mut unmet = Vec::new();
        let mut rungs = self.rungs.iter();
        for one in &self.case.expected {
            let came = match &one.what {
                What::Size { rule, on, is, .. } => {
                    let rungs = rungs.next().map_or(&[][..], Vec::as_slice);
                    smallest(rules, rungs, rule, on.as_deref(), *is, reads.as_deref_mut())
                }
                what => met(&measured, what),
            };
            if let Err(Came { expected, came }) = came {
                unmet.push(Unmet {
                    place: one.place.clone(),
                    expected,
                    came,
                });
                if first_only {
                    break;
                }
            }
        }
        if let Some(reads) = reads {
            reads.extend(measured.reads());
        }
        unmet
    }
}

fn measure<'a>(
    network: &'a Network,
    rules: &'a RuleSet,
    tracing: bool,
) -> Result<Measured<'a>, crownweir_evaluate::UnknownSizes> {
    if tracing {
        Measured::tracing(network, rules)
    } else {
        Measured::new(network, rules)
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
        let mut problems = Diagnostics::keeping(1);
        let network = case
            .template
            .network(&puts, &case.limits, &mut BTreeSet::new(), &mut problems);
        rungs.push((rung.name, network.map(|(network, _)| network).ok_or(problems)));
    }
    rungs
}

/// Whether a rule holds at the last of the sizes and at none before.
fn smallest(
    rules: &RuleSet,
    rungs: &[(NominalSize, Result<Network, Diagnostics>)],
    rule: &str,
    on: Option<&str>,
    is: NominalSize,
    mut reads: Option<&mut BTreeSet<Read>>,
) -> Met {
    let expected = || format!("{is} is the smallest size at which `{rule}` holds{}", of(on));
    let came = |came: String| {
        Err(Came {
            expected: expected(),
            came,
        })
    };
    let Some((last, smaller)) = rungs.split_last() else {
        return came(format!("{is} is not among the rule set's sizes"));
    };
    for (size, network) in smaller.iter().chain([last]) {
        let network = match network {
            Ok(network) => network,
            Err(problems) => return came(format!("with {size} the network cannot be read: {problems}")),
        };
        let measured = match measure(network, rules, reads.is_some()) {
            Ok(measured) => measured,
            Err(unknown) => return came(unknown.to_string()),
        };
        let held = judged(&measured, rule, on, Judgement::Satisfied, None);
        if let Some(reads) = reads.as_deref_mut() {
            reads.extend(measured.reads());
        }
        match (held, *size == last.0) {
            (Ok(()), false) => return came(format!("it holds at {size} too")),
            (Err(failed), true) => return came(format!("at {size}: {}", failed.came)),
            _ => {}
        }
    }
    Ok(())
}
