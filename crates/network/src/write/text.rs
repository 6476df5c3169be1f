//! The text as a whole: what holds for all, then run by run, a line for each thing.

use std::collections::{HashMap, HashSet};
use std::fmt::{Display, Write as _};

use crownweir_document::scalar;
use crownweir_quantity::{Bearing, Length, Notation, Slope};
use crownweir_vocabulary::{Role, RunKind};
use petgraph::visit::NodeIndexable;

use super::braces::{Braces, slope};
use super::error::{Faults, WriteFault};
use super::figures::Figures;
use super::hoist::{Defaults, OfRun};
use super::lines;
use super::passages;
use super::paths::{Paths, RunPaths, get, set};
use crate::build::FORMAT;
use crate::model::{Network, NodeId, Passage, PipeId, Run, RunId};
use crate::open::SlopeFile;
use crate::stated::{LONGEST_NAME, name_denied};

pub(super) fn write(network: &Network, paths: &Paths, figures: &Figures, faults: &mut Faults) -> String {
    let mut passages: HashMap<PipeId, Vec<&Passage>> = HashMap::new();
    for passage in network.passages.iter().take(network.stated_passages) {
        passages.entry(passage.pipe).or_default().push(passage);
    }
    let mut writer = Writer {
        network,
        paths,
        figures,
        defaults: Defaults::of(network, paths, figures),
        passages,
        out: String::new(),
    };
    writer.head();
    writer.runs(faults);
    writer.tests(faults);
    writer.out
}

/// What the text is made of.
pub(super) struct Writer<'n> {
    pub(super) network: &'n Network,
    paths: &'n Paths,
    pub(super) figures: &'n Figures,
    pub(super) defaults: Defaults,
    /// The passages that are stated, by pipe.
    passages: HashMap<PipeId, Vec<&'n Passage>>,
    out: String,
}

/// The names of runs that are written.
struct Names<'n> {
    /// Those of all runs.
    all: HashSet<&'n str>,
    /// Those that runs are written under, each with the number that was put behind it last. In a file, runs of one name
    /// are one run.
    given: HashMap<String, u32>,
}

impl<'n> Names<'n> {
    fn of(network: &'n Network) -> Self {
        Self {
            all: network.runs().map(|(_, run)| &*run.name).collect(),
            given: HashMap::new(),
        }
    }

    /// The name to write a run under: its own, or with a number behind it where another run has that.
    fn of_run(&mut self, run: &Run) -> String {
        let own = run.name.to_string();
        let Some(mut number) = self.given.get(&own).copied() else {
            self.given.insert(own.clone(), 1);
            return own;
        };
        let name = loop {
            number = number.saturating_add(1);
            let name = numbered(&own, number);
            if number == u32::MAX || !self.all.contains(&*name) && !self.given.contains_key(&name) {
                break name;
            }
        };
        self.given.insert(own, number);
        self.given.insert(name.clone(), 1);
        name
    }
}

/// A name with a number behind it, no longer than a name may be.
fn numbered(name: &str, number: u32) -> String {
    let number = format!(" {number}");
    let room = LONGEST_NAME.saturating_sub(number.len());
    let ends = name.char_indices().map(|(at, letter)| at + letter.len_utf8());
    let end = ends.take_while(|&end| end <= room).last().unwrap_or_default();
    format!("{}{number}", name.get(..end).unwrap_or_default())
}

/// A path, or a part of one, that stands in the file as a run.
struct Part {
    steps: Vec<Step>,
    of_run: OfRun,
}

/// A pipe, and the direction that it states.
pub(super) struct Step {
    pub(super) pipe: PipeId,
    pub(super) direction: Option<Bearing>,
}

impl<'n> Writer<'n> {
    fn line(&mut self, line: impl Display) {
        // Text always takes more.
        let _ = writeln!(self.out, "{line}");
    }

    /// A key of the whole file with what stands in braces; nothing where that is empty.
    fn mapping(&mut self, key: &str, braces: Braces) {
        if !braces.is_empty() {
            self.line(format_args!("{key}: {}", braces.close()));
        }
    }

    /// A list, each item on a line; nothing where there is none.
    fn list(&mut self, key: &str, items: impl IntoIterator<Item = Braces>) {
        let mut items = items.into_iter().peekable();
        if items.peek().is_some() {
            self.line(format_args!("{key}:"));
        }
        for item in items {
            self.line(format_args!("  - {}", item.close()));
        }
    }

    pub(super) fn braces(&self) -> Braces {
        Braces::new(self.network.notation)
    }

    fn head(&mut self) {
        let network = self.network;
        self.line(format_args!("crownweir: {FORMAT}"));
        self.line(format_args!("name: {}", scalar(&network.name)));
        self.line(match network.notation {
            Notation::Inches => "units: inches",
            Notation::Millimetres => "units: millimetres",
        });
        for (key, name) in [
            ("rules", &network.rules),
            ("framing_rules", &network.framing_rules),
        ] {
            if let Some(name) = name {
                self.line(format_args!("{key}: {}", scalar(name)));
            }
        }
        if !network.dimensions.is_empty() {
            let files: Vec<_> = network.dimensions.iter().map(|file| scalar(file)).collect();
            self.line(format_args!("dimensions: [{}]", files.join(", ")));
        }
        let mut site = self.braces();
        site.maybe("occupancy", self.defaults.occupancy.map(|word| word.name()));
        site.maybe(
            "winter_design_temperature",
            network.site.winter_design_temperature,
        );
        site.maybe("dwelling_units", network.site.dwelling_units);
        site.maybe("use", network.site.building_use.map(|word| word.name()));
        site.maybe("system_type", network.site.system_type.map(|word| word.name()));
        self.mapping("site", site);
        let mut defaults = self.braces();
        defaults.maybe("material", self.defaults.material.map(|word| word.name()));
        defaults.length(
            "horizontal_support_spacing",
            self.defaults.horizontal_support_spacing,
        );
        defaults.length("vertical_support_spacing", self.defaults.vertical_support_spacing);
        defaults.maybe("mid_storey_guide", self.defaults.mid_storey_guide);
        self.mapping("defaults", defaults);
        self.storeys();
        let rows = network.framing.iter().map(|row| lines::members(network, row));
        self.list("framing", rows);
    }

    fn storeys(&mut self) {
        let storeys = &self.network.storeys;
        // The floor of the lowest lies at the datum where nothing is said.
        let mut floor = Some(Length::ZERO);
        let mut items = Vec::with_capacity(storeys.len());
        for (index, storey) in storeys.iter().enumerate() {
            let mut item = self.braces();
            item.text("storey", &storey.name);
            item.length("elevation", storey.elevation.filter(|own| Some(*own) != floor));
            let height = storey.height.filter(|height| *height >= Length::ZERO);
            let above = storeys.get(index + 1).and_then(|above| above.elevation);
            floor = height.and(storey.elevation).and(above);
            item.length("height", height);
            items.push(item);
        }
        self.list("storeys", items);
    }

    fn runs(&mut self, faults: &mut Faults) {
        let bound = self.network.graph.node_bound();
        let (mut defined, mut written) = (vec![false; bound], vec![false; bound]);
        if self.paths.runs.is_empty() {
            self.line("drains:\n  - path:");
            self.node(
                RunId::default(),
                self.network.disposal,
                &OfRun::default(),
                &mut written,
            );
        }
        let mut names = Names::of(self.network);
        let mut role = None;
        for run in &self.paths.runs {
            let own: Option<&'n Run> = self.network.run(run.run);
            let Some(own) = own else { continue };
            if role != Some(run.role) {
                self.line(match run.role {
                    Role::Vent => "vents:",
                    _ => "drains:",
                });
                role = Some(run.role);
            }
            let paths = run.paths.iter();
            let parts: Vec<Part> = paths
                .flat_map(|path| self.parts(run, path, &mut defined))
                .collect();
            let is_named = parts.len() > 1 || self.first_node(&parts) != Some(&*own.name);
            let name = is_named.then(|| names.of_run(own));
            for part in &parts {
                self.part((run, own.kind, name.as_deref()), part, &mut written, faults);
            }
        }
    }

    /// The name of the node that a run begins at.
    fn first_node(&self, parts: &[Part]) -> Option<&str> {
        let first = parts.first()?.steps.first()?.pipe;
        let (from, _) = self.network.graph.edge_endpoints(first)?;
        Some(&*self.network.graph.node_weight(from)?.name)
    }

    /// A path in as many parts as it takes. A direction holds until another is stated, so that a pipe of which none is known
    /// begins another part; and so does an offset in a line that is not as the part before it has it.
    fn parts(&self, run: &RunPaths, path: &[PipeId], defined: &mut [bool]) -> Vec<Part> {
        let nodes = self.paths.nodes_of(&self.network.graph, run.run, path, defined);
        let of_run = OfRun::of(self.network, self.figures, &self.defaults, path, &nodes);
        let grade = of_run.slope.and_then(SlopeFile::stated);
        let new = |of_run: OfRun| Part {
            steps: Vec::new(),
            of_run,
        };
        let mut parts: Vec<Part> = Vec::new();
        let mut part = new(of_run);
        let sets_out = (None, grade.is_some_and(Slope::is_vertical));
        let (mut bearing, mut plumb): (Option<Bearing>, bool) = sets_out;
        for &pipe in path {
            let figures = self.figures.pipe(pipe);
            let goes_on = match figures.offset {
                Some((_, line)) => plumb == line.plumb && (line.grade.is_none() || line.grade == grade),
                None => bearing.is_none() || figures.heading.is_some() || figures.is_plumb(),
            };
            if !goes_on {
                parts.push(std::mem::replace(&mut part, new(of_run)));
                (bearing, plumb) = sets_out;
            }
            part.steps.push(Step {
                pipe,
                direction: figures.heading.filter(|_| figures.heading != bearing),
            });
            bearing = figures.heading.or(bearing);
            match figures.offset {
                Some((_, line)) if !goes_on => {
                    let slope = if line.plumb {
                        Some(Slope::VERTICAL)
                    } else {
                        line.grade
                    };
                    part.of_run.slope = slope.map(SlopeFile::Stated);
                    parts.push(std::mem::replace(&mut part, new(of_run)));
                    (bearing, plumb) = sets_out;
                }
                Some(_) => {}
                None => plumb = figures.is_plumb(),
            }
        }
        parts.push(part);
        parts.retain(|part| !part.steps.is_empty());
        parts
    }

    fn part(
        &mut self,
        (run, kind, name): (&RunPaths, RunKind, Option<&str>),
        part: &Part,
        written: &mut [bool],
        faults: &mut Faults,
    ) {
        let of_run = &part.of_run;
        let notation = self.network.notation;
        let spacing = of_run.support_spacing;
        let is_plain = matches!(kind, RunKind::Branch | RunKind::BranchVent);
        let keys = [
            ("run", name.map(scalar)),
            ("kind", (!is_plain).then(|| kind.name().to_owned())),
            ("storey", self.storey(of_run.storey)),
            ("size", of_run.size.map(|size| size.to_string())),
            ("slope", of_run.slope.map(|own| slope(own, notation))),
            ("material", of_run.material.map(|word| word.name().to_owned())),
            (
                "support_spacing",
                spacing.map(|own| super::braces::in_file(own, notation).to_string()),
            ),
            (
                "mid_storey_guide",
                of_run.mid_storey_guide.map(|is| is.to_string()),
            ),
            ("underground", of_run.underground.then(|| "true".to_owned())),
        ];
        let mut lead = "  - ";
        for (key, value) in keys {
            if let Some(value) = value {
                self.line(format_args!("{lead}{key}: {value}"));
                lead = "    ";
            }
        }
        self.line(format_args!("{lead}path:"));
        for (index, step) in part.steps.iter().enumerate() {
            let Some((from, to)) = self.network.graph.edge_endpoints(step.pipe) else {
                continue;
            };
            if index == 0 {
                self.node(run.run, from, of_run, written);
            }
            let mut pipe = lines::pipe(self, step, of_run);
            let enters = self.paths.states_enters(step.pipe);
            let weight = self.network.graph.edge_weight(step.pipe);
            pipe.maybe("enters", weight.filter(|_| enters).map(|pipe| pipe.enters.name()));
            if let Some(own) = self.passages.get(&step.pipe) {
                match passages::of_pipe(self.network, self.figures.pipe(step.pipe).length, own) {
                    Some(passes) => pipe.put("passes", passes),
                    None => faults.push(WriteFault::Passage {
                        pipe: weight.map_or_else(String::new, |pipe| pipe.name.to_string()),
                    }),
                }
            }
            self.line(format_args!("      - pipe: {}", pipe.close()));
            self.node(run.run, to, of_run, written);
        }
    }

    /// A node where its run first meets it, or its name.
    fn node(&mut self, run: RunId, id: NodeId, of_run: &OfRun, written: &mut [bool]) {
        let Some(node) = self.network.graph.node_weight(id) else {
            return;
        };
        if !self.paths.defines(run, id) || get(written, id.index()) {
            self.line(format_args!("      - at: {}", scalar(&node.name)));
            return;
        }
        set(written, id.index(), true);
        let (key, braces) = lines::node(self, id, node, of_run);
        self.line(format_args!("      - {key}: {}", braces.close()));
    }

    /// The name of a storey as it is written.
    pub(super) fn storey(&self, storey: Option<u32>) -> Option<String> {
        let storey = self.network.storeys.get(storey? as usize)?;
        Some(scalar(&storey.name))
    }

    fn tests(&mut self, faults: &mut Faults) {
        let mut items = Vec::with_capacity(self.network.tests.len());
        for test in &self.network.tests {
            let lengths = [test.head, test.height].into_iter().flatten();
            let is_negative = lengths
                .map(Length::nanometres)
                .chain(test.duration.map(|time| time.seconds()));
            let is_negative = is_negative.into_iter().any(|count| count < 0);
            if is_negative || name_denied(&test.section).is_some() {
                let section = test.section.to_string();
                faults.push(WriteFault::Test { section });
            }
            let mut item = self.braces();
            item.text("section", &test.section);
            item.put("medium", test.medium.name());
            item.length("head", test.head);
            item.length("height", test.height);
            item.maybe("duration", test.duration);
            items.push(item);
        }
        self.list("tests", items);
    }
}
