//! What a rule set objects to in a network of which some sizes are known and others are not.
//!
//! Evaluation has three values, so an answer that is reached while sizes are open holds however they are filled in:
//! that is what the search rests on, and what the tests hold it to.

use std::collections::{BTreeMap, BTreeSet};

use crownweir_evaluate::{Arranged, Element, Gap, Judgement, Measured, UnknownSizes};
use crownweir_network::{Network, PipeId};
use crownweir_quantity::Slope;
use crownweir_rulebook::{Condition, Fact, Rule, RuleSet, Severity, Size, Subject};
use petgraph::visit::{EdgeIndexable, NodeIndexable};

use crate::variable::Variable;

/// Something that is asked of an element.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Demand {
    /// That an arrangement protects the trap of a fixture.
    Protection(Asked),
    /// What the rule at a place of the list asks of an element.
    Rule(usize, Asked),
}

/// An element of which something is asked. They are looked at in the order of their places, so that what is found does
/// not depend on how the network is numbered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Asked {
    /// Of a node or a pipe, its place in the order of flow; else its number.
    place: u32,
    /// Its number among the subject's own.
    pub(crate) number: u32,
}

/// The places of nodes and pipes in the order of flow, by their numbers.
struct Places {
    nodes: Vec<u32>,
    pipes: Vec<u32>,
}

impl Places {
    fn of(network: &Network) -> Self {
        let order = network.flow_order();
        let list = |numbers: &mut dyn Iterator<Item = usize>, bound: usize| {
            let mut places = vec![0; bound];
            for (place, number) in (0..).zip(numbers) {
                if let Some(own) = places.get_mut(number) {
                    *own = place;
                }
            }
            places
        };
        let graph = network.graph();
        Self {
            nodes: list(&mut order.nodes.iter().map(|id| id.index()), graph.node_bound()),
            pipes: list(&mut order.pipes.iter().map(|id| id.index()), graph.edge_bound()),
        }
    }

    fn asked(&self, subject: Subject, number: u32) -> Asked {
        let places = match subject {
            Subject::Fixture
            | Subject::Trap
            | Subject::TrapArm
            | Subject::Fitting
            | Subject::Cleanout
            | Subject::Terminal
            | Subject::Valve => self.nodes.as_slice(),
            Subject::Pipe | Subject::Drain | Subject::Vent | Subject::Turn => self.pipes.as_slice(),
            _ => &[],
        };
        Asked {
            place: places.get(number as usize).copied().unwrap_or(number),
            number,
        }
    }
}

/// What comes of a demand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Status {
    /// It is met, or does not apply.
    Met,
    /// It is not, or its table has no row for it, however what is open is filled in.
    Objected,
    /// That hangs on what is not known: the open pipes that are known to matter.
    Open(Vec<usize>),
}

/// A network whose open pipes can be filled in and judged.
pub(crate) struct Trial<'r> {
    network: Network,
    rules: &'r RuleSet,
    pub(crate) variables: Vec<Variable>,
    /// The variable of each open pipe.
    of_pipe: BTreeMap<u32, usize>,
    places: Places,
    /// What is filled in now.
    filled: Vec<Option<usize>>,
    slopes_open: bool,
    /// The sizes of the pipes that are not open.
    pub(crate) given_sizes: BTreeSet<Size>,
    pub(crate) evaluations: usize,
}

impl<'r> Trial<'r> {
    pub(crate) fn new(network: &Network, rules: &'r RuleSet, variables: Vec<Variable>) -> Self {
        let mut of_pipe = BTreeMap::new();
        for (number, variable) in variables.iter().enumerate() {
            for pipe in &variable.pipes {
                of_pipe.insert(pipe_number(*pipe), number);
            }
        }
        let slopes_open = variables
            .iter()
            .any(|one| one.choices.iter().any(|choice| choice.slope.is_some()));
        let pipes = network.graph().edge_weights();
        let given_sizes = pipes.filter_map(|pipe| rules.ladder.find(pipe.size?)).collect();
        Self {
            given_sizes,
            network: network.clone(),
            places: Places::of(network),
            rules,
            filled: vec![None; variables.len()],
            variables,
            of_pipe,
            slopes_open,
            evaluations: 0,
        }
    }

    /// Fills in the variables that have a choice, and leaves the others open. False where the slopes deny heights
    /// that are stated.
    fn fill(&mut self, chosen: &[Option<usize>]) -> bool {
        for (number, variable) in self.variables.iter().enumerate() {
            let choice = chosen.get(number).copied().flatten();
            if self.filled.get(number).copied().flatten() == choice {
                continue;
            }
            let sizes_open = variable.choices.iter().any(|choice| choice.size.is_some());
            let size = choice.and_then(|choice| variable.choices.get(choice)?.size);
            for &pipe in variable.pipes.iter().filter(|_| sizes_open) {
                self.network.set_size(pipe, size.map(|(_, name)| name));
            }
            if let Some(filled) = self.filled.get_mut(number) {
                *filled = choice;
            }
        }
        if !self.slopes_open {
            return true;
        }
        let mut slopes: Vec<(PipeId, Option<Slope>)> = Vec::new();
        for (variable, choice) in self.variables.iter().zip(&self.filled) {
            let slope = choice.and_then(|choice| variable.choices.get(choice)?.slope);
            slopes.extend(variable.pipes.iter().map(|&pipe| (pipe, slope)));
        }
        self.network.set_slopes(&slopes)
    }

    /// Judges one demand. Slopes that deny stated heights are objected to by every demand.
    pub(crate) fn judge(&mut self, chosen: &[Option<usize>], demand: Demand) -> Result<Status, UnknownSizes> {
        self.evaluations += 1;
        if !self.fill(chosen) {
            return Ok(Status::Objected);
        }
        let measured = Measured::new(&self.network, self.rules)?;
        Ok(self.status(&measured, demand))
    }

    /// All demands that are objected to.
    pub(crate) fn objections(
        &mut self,
        chosen: &[Option<usize>],
    ) -> Result<Option<Vec<Demand>>, UnknownSizes> {
        self.evaluations += 1;
        if !self.fill(chosen) {
            return Ok(None);
        }
        let measured = Measured::new(&self.network, self.rules)?;
        let all = demands(&measured, &self.places);
        let mut objected: Vec<Demand> = all
            .filter(|&demand| self.status(&measured, demand) == Status::Objected)
            .collect();
        objected.sort_unstable();
        Ok(Some(objected))
    }

    /// Those of some demands that are objected to.
    pub(crate) fn objections_among(
        &mut self,
        chosen: &[Option<usize>],
        among: &BTreeSet<Demand>,
    ) -> Result<Option<Vec<Demand>>, UnknownSizes> {
        self.evaluations += 1;
        if !self.fill(chosen) {
            return Ok(None);
        }
        let measured = Measured::new(&self.network, self.rules)?;
        let objected = |demand: &Demand| self.status(&measured, *demand) == Status::Objected;
        Ok(Some(among.iter().copied().filter(objected).collect()))
    }

    /// The network with these choices filled in.
    pub(crate) fn filled(&mut self, chosen: &[Option<usize>]) -> Network {
        self.fill(chosen);
        self.network.clone()
    }

    fn status(&self, measured: &Measured<'_>, demand: Demand) -> Status {
        let gaps = match demand {
            Demand::Protection(fixture) => match measured.arranged(fixture.number) {
                Arranged::By(..) => return Status::Met,
                Arranged::Nearest(_) => return Status::Objected,
                Arranged::Open(gaps) => gaps,
            },
            Demand::Rule(rule, element) => {
                let Some(rule) = self.rules.rules.get(rule) else {
                    return Status::Met;
                };
                match measured.judgement(rule, element.number) {
                    Judgement::Violated => return Status::Objected,
                    Judgement::Undetermined => measured.missing(rule, element.number),
                    _ => return Status::Met,
                }
            }
        };
        // A size for which the code's own table has no row is none to choose. What the network does not state, or an
        // adopter has not filled in, hinders none.
        let lacks = |gap: &Gap| matches!(gap, Gap::NoRow { .. });
        if !gaps.is_empty() && gaps.iter().all(lacks) {
            return Status::Objected;
        }
        let open = gaps.iter().filter_map(|gap| match gap {
            Gap::NotStated {
                element: Element::Pipe(pipe),
                ..
            } => self.of_pipe.get(pipe).copied(),
            _ => None,
        });
        Status::Open(open.collect())
    }
}

/// Whether a rule asks no more than how large a vent passes a roof or wall. It may be enlarged just there, so that this is
/// no reason for a size of the vent.
fn is_of_passing(rule: &Rule) -> bool {
    let tests = rule.require.as_ref().map(Condition::tests).unwrap_or_default();
    !tests.is_empty() && tests.iter().all(|test| test.fact == Fact::TerminalSize)
}

/// Everything that violations and matters of approval are made of, save what a terminal can answer for.
fn demands<'m>(measured: &'m Measured<'_>, places: &'m Places) -> impl Iterator<Item = Demand> + 'm {
    // Not every rule set asks for it.
    let traps = measured.rules().protection.iter();
    let traps = traps
        .flat_map(|_| measured.elements(Subject::Trap))
        .map(|fixture| Demand::Protection(places.asked(Subject::Trap, fixture)));
    let rules = measured.rules().rules.iter().enumerate();
    let of_rules = rules
        .filter(|(_, rule)| rule.severity != Severity::Advice && rule.require.is_some())
        .filter(|(_, rule)| !is_of_passing(rule))
        .flat_map(move |(number, rule)| {
            let elements = measured.elements(rule.subject).into_iter();
            elements.map(move |element| Demand::Rule(number, places.asked(rule.subject, element)))
        });
    traps.chain(of_rules)
}

pub(crate) fn pipe_number(pipe: PipeId) -> u32 {
    u32::try_from(pipe.index()).unwrap_or(u32::MAX)
}
