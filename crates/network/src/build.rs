//! From the file as written to the graph.
//!
//! Faults are collected with their places; a graph comes out only when there is none.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::sync::{Arc, OnceLock};

use crownweir_document::{Cursor, Diagnostic, Diagnostics, Document, Limits, nearest};
use crownweir_quantity::{Bearing, Length, Notation};
use crownweir_vocabulary::{Occupancy, Role, RunKind, Through};
use petgraph::visit::{EdgeRef, IntoEdgeReferences};

use crate::edit::History;
use crate::expand::{Occasion, Storeys};
use crate::framing::Framing;
use crate::geometry::{Denied, Given};
use crate::model::{
    Cleanout, Fixture, Graph, NearestOpening, Network, Node, NodeId, NodeKind, Passage, Position, Run, RunId,
    Site, StatedWay, Terminal, Test, Trap, Valve, floor,
};
use crate::order::Order;
use crate::plan::Plan;
use crate::refill::Unsettled;
use crate::stated::property_denied;
use crate::structure::Spot;
use crate::wire::{
    CleanoutFile, Coordinates, Defaults, FixtureFile, Name, NetworkFile, OpeningFile, RunFile, SignedLength,
    StepFile, TerminalFile, TrapFile, Units, ValveFile,
};
use crate::{elevation, geometry, structure};

/// The format's name and version, as the first key of a file states it.
pub(crate) const FORMAT: &str = "network/1";

impl Network {
    /// Reads a network from the text of a file, called `name` in messages.
    ///
    /// # Errors
    /// Everything that keeps the text from being a network, with its place.
    pub fn read(name: &str, text: &[u8], limits: &Limits) -> Result<Self, Diagnostics> {
        let document = Document::read(name, text, limits)?;
        Self::from_document(&document, limits)
    }

    /// Reads a network from a document.
    ///
    /// # Errors
    /// Everything that keeps the document from being a network, with its place.
    pub fn from_document(document: &Document, limits: &Limits) -> Result<Self, Diagnostics> {
        let mut problems = Diagnostics::keeping(limits.diagnostics);
        if !document.is_of_format(FORMAT, &mut problems) {
            return problems.or(None);
        }
        let decoded = document.decode_sound_parts::<NetworkFile>(&mut problems);
        // With a part left out, what refers to it would be told of as well.
        let Some(decoded) = decoded.filter(|decoded| decoded.is_whole) else {
            return problems.or(None);
        };
        let document = decoded.document.as_ref().unwrap_or(document);
        let file = &decoded.value;
        let top = document.top();
        let notation = notation(file.units, document);
        let storeys = Storeys::read(&file.storeys, top, limits.nodes, notation, &mut problems);
        let framing = Framing::read(&file.framing, top, &storeys, &mut problems);
        let mut builder = Builder {
            file,
            notation,
            top,
            storeys,
            framing,
            passed: Vec::new(),
            runs: Vec::new(),
            run_index: HashMap::new(),
            graph: Graph::default(),
            node_index: HashMap::new(),
            sources: Sources::default(),
            defined_in: Vec::new(),
            positions: Vec::new(),
            stated_ways: BTreeMap::new(),
            bearings: Vec::new(),
            fixtures: HashSet::new(),
            most: limits.nodes,
        };
        if builder.models_are_sound(&mut problems) {
            let instances = builder.instances(&mut problems);
            if let Some(runs) = builder.nodes(&instances, &mut problems) {
                builder.pipes(&instances, &runs, &mut problems);
            }
        }
        if !problems.is_empty() {
            return problems.or(None);
        }
        let network = builder.finish(document, &mut problems);
        problems.or(network)
    }
}

/// Where each node and pipe is defined, in the order of the graph's own indices.
#[derive(Default)]
pub(crate) struct Sources<'a> {
    pub(crate) nodes: Vec<Cursor<'a>>,
    pub(crate) pipes: Vec<Cursor<'a>>,
}

pub(crate) struct Builder<'a> {
    pub(crate) file: &'a NetworkFile,
    pub(crate) notation: Notation,
    pub(crate) top: Cursor<'a>,
    pub(crate) storeys: Storeys,
    pub(crate) framing: Framing,
    /// Framing that pipes pass, each with the name of its pipe: numbers are settled last.
    pub(crate) passed: Vec<(Arc<str>, Passage)>,
    pub(crate) runs: Vec<Run>,
    pub(crate) run_index: HashMap<Arc<str>, RunId>,
    pub(crate) graph: Graph,
    pub(crate) node_index: HashMap<Arc<str>, NodeId>,
    pub(crate) sources: Sources<'a>,
    /// The run that defines each node: what continues it goes straight through.
    pub(crate) defined_in: Vec<RunId>,
    pub(crate) positions: Vec<Option<Coordinates>>,
    /// The offsets and inverts of pipes that state them.
    pub(crate) stated_ways: BTreeMap<Arc<str>, StatedWay>,
    /// The direction in plan of each pipe, as stated.
    pub(crate) bearings: Vec<Option<Bearing>>,
    /// Every different fixture once: a tower repeats few.
    fixtures: HashSet<Arc<Fixture>>,
    pub(crate) most: usize,
}

/// A run on one occasion: once, or once for each storey of a repetition.
#[derive(Clone, Copy)]
pub(crate) struct Instance<'a> {
    pub(crate) run: &'a RunFile,
    pub(crate) role: Role,
    pub(crate) at: Cursor<'a>,
    pub(crate) storey: Option<u32>,
}

impl<'a> Builder<'a> {
    fn occasion(&self, storey: Option<u32>) -> Occasion<'_> {
        Occasion {
            storey: storey.map(|storey| (&self.storeys, storey)),
        }
    }

    /// Every run as often as it stands for.
    fn instances(&self, problems: &mut Diagnostics) -> Vec<Instance<'a>> {
        let mut instances = Vec::new();
        let file = self.file;
        let mut add = |drains: &'a [RunFile], vents: &'a [RunFile], at: Cursor<'a>, storey: Option<u32>| {
            for (key, runs, role) in [("drains", drains, Role::Drain), ("vents", vents, Role::Vent)] {
                for (index, run) in runs.iter().enumerate() {
                    let at = at.get(key).item(index);
                    instances.push(Instance {
                        run,
                        role,
                        at,
                        storey,
                    });
                }
            }
        };
        add(&file.drains, &file.vents, self.top, None);
        for (index, repeat) in file.repeat.iter().enumerate() {
            let at = self.top.get("repeat").item(index);
            match self.storeys.range(&repeat.storeys) {
                Ok(range) => {
                    for storey in range {
                        add(&repeat.drains, &repeat.vents, at, Some(storey));
                    }
                }
                Err(message) => problems.push(
                    at.get("storeys")
                        .problem(message)
                        .expecting("a storey, or `first..last` from the lower to the higher"),
                ),
            }
        }
        instances
    }

    fn models_are_sound(&self, problems: &mut Diagnostics) -> bool {
        let mut sound = true;
        for (name, model) in &self.file.models {
            let at = self.top.get("models").get(name);
            for (key, stated) in [
                ("name", model.name.is_some()),
                ("group", model.group.is_some()),
                ("model", model.model.is_some()),
                ("storey", model.storey.is_some()),
                ("position", model.position.is_some()),
            ] {
                if stated {
                    sound = false;
                    problems.push(at.key(key).problem(format!(
                        "`{key}` belongs to one fixture, not to a model of several"
                    )));
                }
            }
        }
        sound
    }

    /// First pass: every node that a path defines. Gives each instance's run; none when the file stands for
    /// too much.
    fn nodes(&mut self, instances: &[Instance<'a>], problems: &mut Diagnostics) -> Option<Vec<RunId>> {
        let elements: usize = instances.iter().map(|one| one.run.path.len()).sum();
        if elements > self.most {
            let message = format!(
                "the file stands for {elements} nodes and pipes; at most {} are read",
                self.most
            );
            problems.push(self.top.get("repeat").problem(message));
            return None;
        }
        let mut runs = Vec::with_capacity(instances.len());
        for instance in instances {
            let run = self.run(instance, problems);
            runs.push(run);
            for (index, step) in instance.run.path.iter().enumerate() {
                self.node(instance, run, step, index, problems);
            }
        }
        Some(runs)
    }

    /// The run's index, made when it is met first; a run written in several parts is one run.
    fn run(&mut self, instance: &Instance<'a>, problems: &mut Diagnostics) -> RunId {
        let file = instance.run;
        let kind = file.kind.unwrap_or(match instance.role {
            Role::Vent => RunKind::BranchVent,
            _ => RunKind::Branch,
        });
        if kind.role() != instance.role {
            problems.push(
                instance
                    .at
                    .get("kind")
                    .problem(format!("`{}` is not a kind of {}", kind.name(), instance.role))
                    .expecting(match instance.role {
                        Role::Vent => "one of branch_vent, stack_vent, vent_stack",
                        _ => "one of branch, stack, building_drain, building_sewer",
                    }),
            );
        }
        let named = file
            .run
            .as_ref()
            .map(|name| self.fill(instance, name, "run", problems));
        let number = RunId::new(u32::try_from(self.runs.len()).unwrap_or(u32::MAX));
        let name: Arc<str> = match named {
            Some(name) => {
                let name: Arc<str> = name.into();
                if let Some(&known) = self.run_index.get(&name) {
                    if self.runs.get(known.index()).is_some_and(|run| run.kind != kind) {
                        problems.push(instance.at.get("run").problem(format!(
                            "the run `{name}` is continued here as another kind of run"
                        )));
                    }
                    return known;
                }
                self.run_index.insert(Arc::clone(&name), number);
                name
            }
            None => {
                let first = file.path.first().map(|step| step_name(step).0);
                let first = first.flatten().map(|name| name.0.clone()).unwrap_or_default();
                self.occasion(instance.storey)
                    .name(&first)
                    .unwrap_or(first)
                    .into()
            }
        };
        self.runs.push(Run { name, kind });
        number
    }

    /// A name with its placeholders filled in; a problem where one has nothing to stand for.
    pub(crate) fn fill(
        &self,
        instance: &Instance<'a>,
        name: &Name,
        key: &str,
        problems: &mut Diagnostics,
    ) -> String {
        match self.occasion(instance.storey).name(&name.0) {
            Ok(name) => name,
            Err(message) => {
                problems.push(instance.at.get(key).problem(message));
                name.0.clone()
            }
        }
    }

    fn node(
        &mut self,
        instance: &Instance<'a>,
        run: RunId,
        step: &'a StepFile,
        index: usize,
        problems: &mut Diagnostics,
    ) {
        let at = instance.at.get("path").item(index);
        let (name, key) = step_name(step);
        if key.is_empty() {
            problems.push(faulty_step(at));
            return;
        }
        if matches!(key, "pipe" | "at") {
            return;
        }
        let at = at.get(key);
        let Some(name) = name else {
            problems.push(at.problem(format!("this {key} has no `name`")));
            return;
        };
        if !self.occasion(instance.storey).distinguishes(&name.0) {
            problems.push(
                at.get("name")
                    .problem(format!("`{}` would be defined again on every storey", name.0))
                    .expecting("a name with `{storey}` in it"),
            );
            return;
        }
        let text = self.fill(instance, name, "path", problems);
        let Some(contents) = self.contents(step, &at, self.occasion(instance.storey), problems) else {
            return;
        };
        let position = contents.position;
        let storey = self.storey_of(instance, contents.storey, at, problems);
        let elevation = self.elevation_of(&text, storey, &contents, at, problems);
        let kind = match contents.kind {
            NodeKind::Fixture(fixture) => NodeKind::Fixture(self.shared(fixture)),
            other => other,
        };
        let name: Arc<str> = text.into();
        let id = self.graph.add_node(Node {
            name: Arc::clone(&name),
            storey,
            elevation,
            kind,
            position: position_of(at),
        });
        self.sources.nodes.push(at);
        self.defined_in.push(run);
        self.positions.push(position);
        if let Some(first) = self.node_index.insert(Arc::clone(&name), id) {
            let place = self
                .sources
                .nodes
                .get(first.index())
                .map(|first| first.place().line);
            problems.push(
                at.get("name")
                    .problem(format!("a second node is called `{name}`"))
                    .expecting(format!(
                        "another name (the first stands in line {}), or `at: {name}` to join it",
                        place.unwrap_or_default()
                    )),
            );
        }
    }

    /// The storey that a node stands on: its own, else its run's, else that of the repetition.
    fn storey_of(
        &self,
        instance: &Instance<'a>,
        own: Option<&Name>,
        at: Cursor<'a>,
        problems: &mut Diagnostics,
    ) -> Option<u32> {
        let Some(storey) = own.or(instance.run.storey.as_ref()) else {
            return instance.storey;
        };
        let wanted = self.fill(instance, storey, "storey", problems);
        let found = self.storeys.find(&wanted);
        if found.is_none() {
            let at = if own.is_some() { at } else { instance.at };
            problems.push_with(|| {
                at.get("storey")
                    .problem(format!("there is no storey `{wanted}`"))
                    .expecting(self.storeys.expected())
                    .suggesting(self.storeys.nearest(&wanted))
            });
        }
        found
    }

    /// How high a node stands above the datum, by its place or its height above the floor; a problem where the two differ,
    /// or where it is not known how high the floor is.
    fn elevation_of(
        &self,
        name: &str,
        storey: Option<u32>,
        contents: &Contents<'_>,
        at: Cursor<'a>,
        problems: &mut Diagnostics,
    ) -> Option<Length> {
        let height_at = || match contents.kind {
            NodeKind::Fixture(_) => at.get("weir_height"),
            _ => at.get("height"),
        };
        let floor = floor(&self.storeys.list, storey);
        let by_height = floor
            .zip(contents.height)
            .and_then(|(floor, height)| floor.checked_add(height.0));
        if let Some(position) = contents.position {
            let placed = position.xyz()[2];
            if let Some(stated) = by_height.filter(|&stated| elevation::differ(stated, placed)) {
                let message = format!(
                    "`{name}` is placed {} above the datum, but stands {} above it by its height above the floor",
                    placed.in_notation(self.notation),
                    stated.in_notation(self.notation)
                );
                problems.push(height_at().problem(message).helped("correct one of the two"));
            }
            return Some(placed);
        }
        if contents.height.is_some() && floor.is_none() {
            problems.push(
                height_at()
                    .problem("a height is measured from a floor, and the floor's elevation is not known")
                    .helped("name the storey, and give `height` for each storey below it"),
            );
        }
        by_height
    }

    /// The same fixture as one that there is already, where there is one like it.
    fn shared(&mut self, fixture: Arc<Fixture>) -> Arc<Fixture> {
        if let Some(known) = self.fixtures.get(&fixture) {
            return Arc::clone(known);
        }
        self.fixtures.insert(Arc::clone(&fixture));
        fixture
    }

    /// What a step defines; none, with a problem, where that cannot be told.
    fn contents(
        &self,
        step: &'a StepFile,
        at: &Cursor<'a>,
        occasion: Occasion<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Contents<'a>> {
        if let Some(file) = &step.fixture {
            return self.fixture_contents(file, at, occasion, problems);
        }
        let (kind, storey, height, position) = if let Some(file) = &step.fitting {
            let pattern = file.pattern;
            let kind = NodeKind::Fitting { pattern };
            (kind, &file.storey, file.height, file.position)
        } else if let Some(file) = &step.cleanout {
            let kind = NodeKind::Cleanout(Box::new(cleanout(file, &self.file.defaults)));
            (kind, &file.storey, file.height, file.position)
        } else if let Some(file) = &step.terminal {
            let kind = NodeKind::Terminal(Box::new(terminal(file, &self.file.defaults)));
            (kind, &file.storey, file.height, file.position)
        } else if let Some(file) = &step.valve {
            let kind = NodeKind::Valve(Box::new(valve(file)));
            (kind, &file.storey, file.height, file.position)
        } else {
            let file = step.disposal.as_ref()?;
            (NodeKind::Disposal, &file.storey, file.height, file.position)
        };
        Some(Contents {
            kind,
            storey: storey.as_ref(),
            height,
            position,
        })
    }

    fn fixture_contents(
        &self,
        file: &'a FixtureFile,
        at: &Cursor<'a>,
        occasion: Occasion<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Contents<'a>> {
        let model = match &file.model {
            None => FixtureFile::default(),
            Some(model) => match self.file.models.get(&model.0) {
                Some(model) => model.clone(),
                None => {
                    problems.push_with(|| {
                        let known = nearest(&model.0, self.file.models.keys().map(String::as_str));
                        let problem = at.get("model");
                        problem
                            .problem(format!("there is no model `{}`", model.0))
                            .suggesting(known)
                    });
                    return None;
                }
            },
        };
        let fixture = fixture(file, model, self.file.site.occupancy);
        if fixture.is_none() {
            problems.push(
                at.problem("this fixture has no `type`")
                    .expecting("a type such as `lavatory`, or a model that has one"),
            );
        }
        let (mut fixture, weir) = fixture?;
        if let Some((key, (message, expected))) = property_denied(&fixture) {
            problems.push(at.get(key).problem(message).expecting(expected));
        }
        if let Some(group) = &file.group {
            match occasion.name(&group.0) {
                Ok(group) => fixture.group = Some(group.into()),
                Err(message) => problems.push(at.get("group").problem(message)),
            }
        }
        Some(Contents {
            kind: NodeKind::Fixture(Arc::new(fixture)),
            storey: file.storey.as_ref(),
            height: weir,
            position: file.position,
        })
    }

    /// What the file states in plan; nothing, at no cost, where it says nothing of it.
    fn stated_plan(&mut self) -> Plan {
        let places = self.positions.iter().flatten().count();
        if places == 0 && self.bearings.iter().flatten().count() == 0 {
            return Plan::default();
        }
        let positions = self.positions.iter().map(|place| {
            place.map_or([None; 2], |place| {
                let [east, north, _] = place.xyz();
                [Some(east), Some(north)]
            })
        });
        Plan {
            positions: positions.collect(),
            bearings: std::mem::take(&mut self.bearings),
        }
    }

    fn finish(mut self, document: &Document, problems: &mut Diagnostics) -> Option<Network> {
        let ends_in_sump = ends_in_sump(self.file);
        let (sources, top) = (std::mem::take(&mut self.sources), self.top);
        let mut orders = structure::check(&self.graph, ends_in_sump, &mut |spot, message, expected| {
            let at = match spot {
                Spot::Network => Some(top),
                Spot::Node(node) => sources.nodes.get(node.index()).copied(),
            };
            problems.extend(at.map(|at| at.problem(message).expecting(expected)));
        })?;
        let notation = self.notation;
        let stated_plan = self.stated_plan();
        // What follows is derived in the order of flow, as after an edit.
        let (mut graph, numbering) = orders.renumber(self.graph)?;
        let given = Given::of(&graph, stated_plan.renumbered(&numbering));
        let plan = geometry::derive(
            &mut graph,
            given.plan.clone(),
            orders.disposal,
            &self.storeys.list,
            notation,
            &mut |denied, message, help| {
                let at = match denied {
                    Denied::Pipe(pipe) => {
                        let pipe = numbering.pipes.get(pipe.index());
                        pipe.and_then(|pipe| sources.pipes.get(pipe.index())).copied()
                    }
                    Denied::Node(node, keys) => {
                        let node = numbering.nodes.get(node.index());
                        let at = node.and_then(|node| sources.nodes.get(node.index()));
                        at.map(|at| {
                            let key = keys.iter().find(|key| at.has(key));
                            key.map_or(*at, |key| at.get(key))
                        })
                    }
                };
                problems.extend(at.map(|at| at.problem(message).helped(help)));
            },
        );
        if !problems.is_empty() {
            return None;
        }
        let file = self.file;
        // Not before: how a pipe lies may be known by heights alone.
        for pipe in graph.edge_weights_mut() {
            let laid = pipe.slope.or(pipe.slope_bounds.map(|bounds| bounds.at_most));
            let by_default = laid.and_then(|slope| file.defaults.support_spacing(slope));
            pipe.support_spacing = pipe.support_spacing.or(by_default);
        }
        let passages = numbered(self.passed, &graph);
        let tests = file.tests.iter().enumerate().map(|(index, test)| Test {
            section: test.section.0.as_str().into(),
            medium: test.medium,
            head: test.head,
            height: test.height,
            duration: test.duration,
            position: position_of(self.top.get("tests").item(index)),
        });
        let unsettled = Unsettled::of(&graph);
        let mut network = Network {
            name: file.name.0.clone(),
            rules: file.rules.as_ref().map(|name| name.0.clone()),
            framing_rules: file.framing_rules.as_ref().map(|name| name.0.clone()),
            dimensions: file.dimensions.iter().map(|name| name.0.clone()).collect(),
            notation,
            site: Site {
                winter_design_temperature: file.site.winter_design_temperature,
                dwelling_units: file.site.dwelling_units,
                building_use: file.site.building_use,
                system_type: file.site.system_type,
            },
            storeys: self.storeys.list,
            runs: self.runs,
            gone_runs: BTreeSet::new(),
            graph,
            plan,
            disposal: orders.disposal,
            ends_in_sump,
            drain_order: Order::new(orders.drains),
            vent_order: Order::new(orders.vents),
            tests: tests.collect(),
            framing: self.framing.list,
            stated_passages: passages.len(),
            most: self.most,
            passages,
            stated_ways: self.stated_ways,
            file: document.name().into(),
            unsettled,
            given,
            names: OnceLock::new(),
            history: History::default(),
        };
        if let Err(message) = network.find_passages() {
            problems.push(self.top.get("framing").problem(message));
        }
        for (number, (message, help)) in network.denied_passages() {
            if let Some(passage) = network.passages.get(number) {
                let (line, column) = (passage.position.line as usize, passage.position.column as usize);
                problems.push(Diagnostic::at(document.name(), line, column, message).helped(help));
            }
        }
        Some(network)
    }
}

/// Passages with the numbers that their pipes have in the graph.
fn numbered(passed: Vec<(Arc<str>, Passage)>, graph: &Graph) -> Vec<Passage> {
    if passed.is_empty() {
        return Vec::new();
    }
    let pipes = graph
        .edge_references()
        .map(|edge| (&*edge.weight().name, edge.id()));
    let pipes: HashMap<&str, _> = pipes.collect();
    let passages = passed.into_iter().filter_map(|(name, mut passage)| {
        passage.pipe = *pipes.get(&*name)?;
        Some(passage)
    });
    passages.collect()
}

/// How reports print lengths: as the file says, else in millimetres where all its lengths are metric. Sizes go by names,
/// which tell nothing of that.
fn notation(units: Option<Units>, document: &Document) -> Notation {
    match units {
        Some(Units::Inches) => Notation::Inches,
        Some(Units::Millimetres) => Notation::Millimetres,
        None => {
            let of_lengths = document.texts().filter(|(key, _)| !IS_A_SIZE.contains(key));
            let mut metric = of_lengths
                .filter_map(|(_, text)| Length::is_metric(text))
                .peekable();
            match metric.peek().is_some() && metric.all(|is_metric| is_metric) {
                true => Notation::Millimetres,
                false => Notation::Inches,
            }
        }
    }
}

/// The keys under which names of sizes stand, some of which read like lengths.
const IS_A_SIZE: [&str; 2] = ["size", "enlarged_to"];

/// Whether the point of disposal is a sump; it may be defined where a vent rises from it.
fn ends_in_sump(file: &NetworkFile) -> bool {
    let repeated = file
        .repeat
        .iter()
        .flat_map(|repeat| repeat.drains.iter().chain(&repeat.vents));
    let runs = file.drains.iter().chain(&file.vents).chain(repeated);
    runs.flat_map(|run| &run.path)
        .filter_map(|step| step.disposal.as_ref())
        .any(|disposal| disposal.sump)
}

pub(crate) fn position_of(at: Cursor<'_>) -> Position {
    let place = at.place();
    Position {
        line: u32::try_from(place.line).unwrap_or(u32::MAX),
        column: u32::try_from(place.column).unwrap_or(u32::MAX),
    }
}

/// The keys of a step.
const STEPS: [&str; 8] = [
    "fixture", "fitting", "pipe", "at", "cleanout", "terminal", "valve", "disposal",
];

/// What is wrong with a step that has no key, several, or one with nothing under it.
fn faulty_step(at: Cursor<'_>) -> Diagnostic {
    let mut keys = STEPS.into_iter().filter(|step| at.has(step));
    let (Some(key), None) = (keys.next(), keys.next()) else {
        return at
            .problem("a step says what stands here with exactly one key")
            .expecting(format!("one of {}", STEPS.join(", ")));
    };
    at.key(key)
        .problem(format!("nothing stands under `{key}`"))
        .expecting(match key {
            "pipe" => "`pipe: {length: 3 ft}`, or `pipe: {}` where nothing is known of it".to_owned(),
            "at" => "`at: NAME`".to_owned(),
            _ => format!("`{key}: {{name: NAME}}`"),
        })
}

/// The name a step gives or refers to, and its one key; an empty key when it has none or several.
pub(crate) fn step_name(step: &StepFile) -> (Option<&Name>, &'static str) {
    let mut found = [
        step.fixture.as_ref().map(|one| (one.name.as_ref(), "fixture")),
        step.fitting.as_ref().map(|one| (Some(&one.name), "fitting")),
        step.cleanout.as_ref().map(|one| (Some(&one.name), "cleanout")),
        step.terminal.as_ref().map(|one| (Some(&one.name), "terminal")),
        step.valve.as_ref().map(|one| (Some(&one.name), "valve")),
        step.disposal.as_ref().map(|one| (Some(&one.name), "disposal")),
        step.at.as_ref().map(|one| (Some(one), "at")),
        step.pipe.as_ref().map(|one| (one.name.as_ref(), "pipe")),
    ]
    .into_iter()
    .flatten();
    match (found.next(), found.next()) {
        (Some(one), None) => one,
        _ => (None, ""),
    }
}

/// What a step of a path defines.
struct Contents<'a> {
    kind: NodeKind,
    /// Its own storey, if it states one.
    storey: Option<&'a Name>,
    /// How high it stands above the floor; of a fixture, its trap weir.
    height: Option<SignedLength>,
    position: Option<Coordinates>,
}

/// A cleanout, with what the file states for all.
fn cleanout(file: &CleanoutFile, defaults: &Defaults) -> Cleanout {
    let defaults = &defaults.cleanouts;
    Cleanout {
        size: file.size,
        clearance: file.clearance.or(defaults.clearance),
        accessible: file.accessible.or(defaults.accessible),
        manhole: file.manhole,
    }
}

/// A vent terminal, with what the file states for all; what that says of roofs is not for one through a wall.
fn terminal(file: &TerminalFile, defaults: &Defaults) -> Terminal {
    let defaults = &defaults.terminals;
    let through = file.through.or(defaults.through);
    let is_of_roof = through != Some(Through::Wall);
    let opening = file
        .nearest_opening
        .as_ref()
        .or(defaults.nearest_opening.as_ref());
    Terminal {
        through,
        height_above_roof: file
            .height_above_roof
            .or(defaults.height_above_roof.filter(|_| is_of_roof)),
        roof_use: file.roof_use.or(defaults.roof_use.filter(|_| is_of_roof)),
        nearest_opening: opening.map(|opening| match opening {
            OpeningFile::None => None,
            OpeningFile::At { distance, above } => Some(NearestOpening {
                distance: *distance,
                above: above.0,
            }),
        }),
        lot_line_distance: file.lot_line_distance,
        height_above_ground: file.height_above_ground,
        enlarged_to: file.enlarged_to,
        enlarged_inside: file.enlarged_inside,
    }
}

fn valve(file: &ValveFile) -> Valve {
    Valve {
        kind: file.kind,
        height_above_drain: file.height_above_drain,
        height_above_rim: file.height_above_rim.map(|height| height.0),
        accessible: file.accessible,
        air_flow: file.air_flow,
    }
}

/// A fixture's own properties over its model's, and its trap weir's height above the floor.
fn fixture(
    own: &FixtureFile,
    model: FixtureFile,
    site: Option<Occupancy>,
) -> Option<(Fixture, Option<SignedLength>)> {
    let trap = |file: Option<TrapFile>| file.unwrap_or_default();
    let (own_trap, model_trap) = (trap(own.trap.clone()), trap(model.trap));
    let fixture_type = own.fixture_type.or(model.fixture_type)?;
    let fixture = Fixture {
        fixture_type,
        occupancy: own.occupancy.or(model.occupancy).or(site),
        flush: own.flush.or(model.flush),
        flush_volume: own.flush_volume.or(model.flush_volume),
        urinal: own.urinal.or(model.urinal),
        heads: own.heads.or(model.heads),
        compartments: own.compartments.or(model.compartments).unwrap_or(1),
        acid_waste: own.acid_waste.or(model.acid_waste).unwrap_or(false),
        flow: own.flow.or(model.flow),
        load: own.load.or(model.load),
        rim_height: own.rim_height.or(model.rim_height),
        standpipe_height: own.standpipe_height.or(model.standpipe_height),
        pumped: own.pumped.or(model.pumped).unwrap_or(false),
        group: None,
        trap: Trap {
            size: own_trap.size.or(model_trap.size),
            seal: own_trap.seal.or(model_trap.seal),
            kind: own_trap.kind.or(model_trap.kind).or(fixture_type.made_with()),
            outlet_drop: own_trap.outlet_drop.or(model_trap.outlet_drop),
            outlet_offset: own_trap.outlet_offset.or(model_trap.outlet_offset),
            removable: own_trap.removable.or(model_trap.removable),
        },
    };
    Some((fixture, own.weir_height.or(model.weir_height)))
}
