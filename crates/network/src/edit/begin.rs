//! A network begun from nothing: its storeys and its point of disposal, to which edits add the rest.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::OnceLock;

use crownweir_document::{Diagnostic, Limits};
use crownweir_quantity::Notation;

use super::History;
use super::make::Log;
use crate::geometry::Given;
use crate::model::{Graph, Network, Node, NodeId, NodeKind, Site, Storey};
use crate::order::Order;
use crate::plan::Plan;
use crate::stated::{name_denied, one_to_a_line};

/// What a network is begun with, before there is any pipe.
#[derive(Debug, Clone, PartialEq)]
pub struct Beginning {
    /// The name of the building.
    pub name: String,
    /// What reports call the file that the network is going to be saved in.
    pub file: String,
    /// The rule set that the network asks for.
    pub rules: Option<String>,
    /// The notation in which reports print lengths and slopes.
    pub notation: Notation,
    /// What holds for the whole site.
    pub site: Site,
    /// The storeys, from the lowest up.
    pub storeys: Vec<Storey>,
    /// Where all drains are going to end.
    pub disposal: Node,
    /// Whether that is a closed sump or tank that a pump empties.
    pub ends_in_sump: bool,
}

impl Beginning {
    /// A building of that name, whose drains end there. Lengths are printed in inches, the file is called as the building
    /// is, and nothing else is stated; what is to be is set afterwards.
    #[must_use]
    pub fn new(name: impl Into<String>, disposal: Node) -> Self {
        let name = name.into();
        Self {
            file: name.clone(),
            name,
            rules: None,
            notation: Notation::Inches,
            site: Site::default(),
            storeys: Vec::new(),
            disposal,
            ends_in_sump: false,
        }
    }
}

/// Why a network cannot be begun.
#[derive(Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub struct BeginError {
    /// What no file may state: one thing at the least, and as many as [`Limits::default`] has told of a file at the most.
    pub faults: Vec<BeginFault>,
    /// How many more there were.
    pub omitted: usize,
}

/// One thing with which no network can be begun. The places of problems are line 0, none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum BeginFault {
    /// Nothing can be called so.
    #[error("the name of the building: {0}")]
    Name(Diagnostic),
    /// No rule set can be called so.
    #[error("the name of the rule set: {0}")]
    Rules(Diagnostic),
    /// A storey cannot stand on those before it.
    #[error("storey {number}: {problem}")]
    Storey {
        /// Which of the storeys it is, counted from one.
        number: usize,
        /// What is wrong.
        problem: Diagnostic,
    },
    /// It is none, or may not be stated so.
    #[error("the point of disposal: {0}")]
    Disposal(Diagnostic),
}

/// As for people: a program whose `main` gives errors back prints them so.
impl fmt::Debug for BeginError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Display for BeginError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        one_to_a_line(f, &self.faults, self.omitted)
    }
}

impl Network {
    /// Begins a network: its point of disposal alone, to which [edits](Self::edit) add runs, nodes and pipes. It is as if it
    /// had been read from a file.
    ///
    /// ```
    /// use crownweir_network::{Beginning, Edit, Network, Node, NodeKind, Pipe, Run, Storey};
    /// use crownweir_vocabulary::{FittingPattern, Role, RunKind};
    ///
    /// let mut network = Network::begin(Beginning {
    ///     storeys: vec![Storey::new("ground", "9 ft".parse().ok())],
    ///     ..Beginning::new("boathouse", Node::new("sewer", NodeKind::Disposal))
    /// })?;
    /// let run = network.next_run();
    /// network.edit(&[
    ///     Edit::AddRun(Run { name: "drain".into(), kind: RunKind::BuildingDrain }),
    ///     Edit::AddNode(Node::new("wye", FittingPattern::Wye)),
    ///     Edit::AddPipe {
    ///         from: "wye".to_owned(),
    ///         to: "sewer".to_owned(),
    ///         pipe: Box::new(Pipe {
    ///             length: "12 ft".parse().ok(),
    ///             ..Pipe::new("to the sewer", Role::Drain, run)
    ///         }),
    ///     },
    /// ])?;
    /// assert!(network.to_yaml()?.contains("- pipe: {name: to the sewer, length: 12 ft"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// What no file may state of the building, its storeys or the point of disposal.
    pub fn begin(beginning: Beginning) -> Result<Self, BeginError> {
        let mut network = Self::of_nothing(&beginning);
        let mut faults = Vec::new();
        let names = [
            (
                Some(&beginning.name),
                BeginFault::Name as fn(Diagnostic) -> BeginFault,
            ),
            (beginning.rules.as_ref(), BeginFault::Rules),
        ];
        for (name, fault) in names {
            let denied = network.allow(name.and_then(|name| name_denied(name)));
            faults.extend(denied.err().map(|problem| fault(*problem)));
        }
        let mut log = Log::default();
        for (index, storey) in beginning.storeys.iter().enumerate() {
            if let Err(problem) = network.add_storey(storey, &mut log) {
                faults.push(BeginFault::Storey {
                    number: index + 1,
                    problem: *problem,
                });
            }
        }
        let disposal = &beginning.disposal;
        if disposal.kind != NodeKind::Disposal {
            let (word, name) = (disposal.kind.word(), &disposal.name);
            let message = format!("the {word} `{name}` is no point of disposal");
            faults.push(BeginFault::Disposal(network.problem(message)));
        }
        // Of a faulty storey it has been told.
        let is_whole = network.storeys.len() == beginning.storeys.len();
        if is_whole && let Err(problem) = network.add_node(disposal, &mut log) {
            faults.push(BeginFault::Disposal(*problem));
        }
        if faults.is_empty() {
            return Ok(network);
        }
        let omitted = faults.len().saturating_sub(Limits::default().diagnostics);
        faults.truncate(Limits::default().diagnostics);
        Err(BeginError { faults, omitted })
    }

    /// Without storeys, and without the point of disposal, which is going to be the first of its nodes.
    fn of_nothing(beginning: &Beginning) -> Self {
        let graph = Graph::default();
        Self {
            name: beginning.name.clone(),
            rules: beginning.rules.clone(),
            framing_rules: None,
            dimensions: Vec::new(),
            notation: beginning.notation,
            site: beginning.site.clone(),
            storeys: Vec::new(),
            runs: Vec::new(),
            gone_runs: BTreeSet::new(),
            given: Given::of(&graph, Plan::default()),
            graph,
            plan: Plan::default(),
            disposal: NodeId::new(0),
            ends_in_sump: beginning.ends_in_sump,
            drain_order: Order::new(vec![NodeId::new(0)]),
            vent_order: Order::default(),
            tests: Vec::new(),
            framing: Vec::new(),
            passages: Vec::new(),
            stated_ways: BTreeMap::new(),
            file: beginning.file.as_str().into(),
            unsettled: None,
            stated_passages: 0,
            most: Limits::default().nodes,
            names: OnceLock::new(),
            history: History::default(),
        }
    }
}
