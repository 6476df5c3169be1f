//! Changes as edits of a network's file.

use crownweir_document::{Cursor, Document, TextEdit};
use crownweir_network::{Network, Node, Pipe, PipeId, Position};
use crownweir_quantity::{Length, NominalSize, Slope};
use crownweir_vocabulary::Role;
use petgraph::Direction;

use super::{Change, PropertyValue, passage, written};

/// What a step of a path defines.
const KINDS: [&str; 7] = [
    "pipe", "fixture", "fitting", "cleanout", "terminal", "valve", "disposal",
];

/// What a part of a pipe that is put in above takes over from what the pipe itself states.
const KEPT_ABOVE: [&str; 7] = [
    "size",
    "slope",
    "direction",
    "material",
    "support_spacing",
    "mid_storey_guide",
    "underground",
];

impl Change {
    /// The edits of the file that make the change; none where it has no place there. What would put the same new thing
    /// in on every storey of a repetition has none.
    #[must_use]
    pub fn edits(&self, document: &Document, network: &Network) -> Option<Vec<TextEdit>> {
        let file = File { document, network };
        let adds = matches!(
            self,
            Self::Vent { .. }
                | Self::VentFrom { .. }
                | Self::Fitting { .. }
                | Self::Cleanout { .. }
                | Self::CleanoutAt { .. }
        );
        if adds && self.touches(network) != 1 {
            return None;
        }
        match self {
            Self::Size { pipe, size } => file.set_of_pipe(pipe, "size", &size.to_string()),
            Self::Slope { pipe, slope } => file.set_of_pipe(pipe, "slope", &slope.to_string()),
            Self::SizeOfRun { pipe, size } => file.set_of_run(pipe, "size", &size.to_string()),
            Self::SlopeOfRun { pipe, slope } => file.set_of_run(pipe, "slope", &slope.to_string()),
            Self::Length { pipe, length } => file.set_of_pipe(pipe, "length", &written(*length, network)),
            Self::Supports { pipe, spacing } => {
                file.set_of_pipe(pipe, "support_spacing", &written(*spacing, network))
            }
            Self::Guide { pipe } => {
                let at = file.step_of_pipe(pipe)?.1.at;
                let edit = document.put_under(at, "mid_storey_guide", "true");
                edit.map(|edit| vec![edit])
            }
            Self::Default {
                pipe,
                property,
                value,
            } => file.set_default(pipe, property, value),
            Self::Pattern { fitting, pattern } => {
                file.set(file.step_of_node(fitting)?.at, "pattern", pattern.name())
            }
            Self::Property {
                node,
                property,
                value,
            } => file.property(node, property, value),
            Self::Passage {
                pipe,
                framing,
                number,
                property,
                value,
            } => {
                let at = passage(network, pipe, framing, *number)?.position;
                let passes = file.step_of_pipe(pipe)?.1.at.get("passes");
                let is_there = |item: &Cursor<'_>| {
                    let place = item.place();
                    (place.line, place.column) == (at.line as usize, at.column as usize)
                };
                let item = (0..passes.len()).map(|index| passes.item(index)).find(is_there)?;
                let edit = document.put_under(item, property, &file.value(value));
                edit.map(|edit| vec![edit])
            }
            Self::Test {
                section,
                property,
                value,
            } => {
                let mut tests = network.tests().iter();
                let number = tests.position(|test| *test.section == **section)?;
                file.set(document.top().get("tests").item(number), property, value)
            }
            Self::Vent {
                at,
                joins,
                size,
                length,
            } => file.vent(at, joins, *size, *length),
            Self::VentFrom { vent, to } => {
                let step = file.step_of_pipe(vent)?.1;
                let first = step.path.item(step.index.checked_sub(1)?);
                first.has("at").then_some(())?;
                file.set(first, "at", to)
            }
            Self::Fitting {
                pipe,
                after,
                name,
                pattern,
            } => file.put_into(
                pipe,
                *after,
                "fitting",
                &[
                    ("name", document.scalar(name)),
                    ("pattern", document.scalar(pattern.name())),
                ],
            ),
            Self::Cleanout {
                pipe,
                after,
                name,
                size,
                clearance,
            } => file.put_into(pipe, *after, "cleanout", &file.cleanout(name, *size, *clearance)),
            Self::CleanoutAt {
                node,
                name,
                size,
                slope,
                length,
                clearance,
            } => {
                let cleanout = file.cleanout(name, *size, *clearance);
                file.cleanout_at(node, &cleanout, *size, *slope, *length)
            }
        }
    }
}

/// A step of a path in a file.
#[derive(Clone, Copy)]
struct Step<'a> {
    run: Cursor<'a>,
    path: Cursor<'a>,
    index: usize,
    at: Cursor<'a>,
}

/// A file and the network that was read from it.
#[derive(Clone, Copy)]
struct File<'a> {
    document: &'a Document,
    network: &'a Network,
}

impl<'a> File<'a> {
    /// The step that defines the element at a position.
    fn step_at(self, position: Position) -> Option<Step<'a>> {
        for run in crate::write::runs(self.document) {
            let path = run.get("path");
            for index in 0..path.len() {
                let item = path.item(index);
                let Some(key) = KINDS.iter().find(|key| item.has(key)) else {
                    continue;
                };
                let at = item.get(key);
                let place = at.place();
                if (place.line, place.column) == (position.line as usize, position.column as usize) {
                    return Some(Step { run, path, index, at });
                }
            }
        }
        None
    }

    fn step_of_pipe(self, name: &str) -> Option<(&'a Pipe, Step<'a>)> {
        let pipe = self.network.graph().edge_weight(self.network.pipe_named(name)?)?;
        Some((pipe, self.step_at(pipe.position)?))
    }

    fn step_of_node(self, name: &str) -> Option<Step<'a>> {
        let node: &Node = self.network.graph().node_weight(self.network.node_named(name)?)?;
        self.step_at(node.position)
    }

    fn set(self, at: Cursor<'_>, key: &str, value: &str) -> Option<Vec<TextEdit>> {
        self.document.set(at, key, value).map(|edit| vec![edit])
    }

    fn set_of_pipe(self, pipe: &str, key: &str, value: &str) -> Option<Vec<TextEdit>> {
        self.set(self.step_of_pipe(pipe)?.1.at, key, value)
    }

    /// Sets what a pipe takes from its run; none where the pipe has its own.
    fn set_of_run(self, pipe: &str, key: &str, value: &str) -> Option<Vec<TextEdit>> {
        let step = self.step_of_pipe(pipe)?.1;
        (!step.at.has(key)).then(|| self.set(step.run, key, value))?
    }

    /// States otherwise what a pipe takes from the file's defaults; none where it, or its run, has its own.
    fn set_default(self, pipe: &str, property: &str, value: &PropertyValue) -> Option<Vec<TextEdit>> {
        let step = self.step_of_pipe(pipe)?.1;
        let own = match property {
            "horizontal_support_spacing" | "vertical_support_spacing" => "support_spacing",
            property => property,
        };
        let defaults = self.document.top().get("defaults");
        (defaults.has(property) && !step.at.has(own) && !step.run.has(own)).then_some(())?;
        let edit = self.document.put_under(defaults, property, &self.value(value));
        edit.map(|edit| vec![edit])
    }

    /// States a property of a node; the outer of `trap.seal` is a mapping that may not stand there yet.
    fn property(self, node: &str, property: &str, value: &PropertyValue) -> Option<Vec<TextEdit>> {
        let at = self.step_of_node(node)?.at;
        if matches!(property, "height" | "weir_height") && at.has("position") && !at.has(property) {
            return self.place_at_height(node, at.get("position"), at, value);
        }
        let value = self.value(value);
        let edit = match property.split_once('.') {
            Some((outer, inner)) if at.has(outer) => self.document.put_under(at.get(outer), inner, &value),
            Some((outer, inner)) => self
                .document
                .put_under(at, outer, &self.mapping(&[(inner, value)])),
            None => self.document.put_under(at, property, &value),
        };
        edit.map(|edit| vec![edit])
    }

    /// A place whose height, which it gives above the datum, is another above the floor.
    fn place_at_height(
        self,
        node: &str,
        position: Cursor<'_>,
        at: Cursor<'_>,
        height: &PropertyValue,
    ) -> Option<Vec<TextEdit>> {
        let PropertyValue::Text(text) = height else {
            return None;
        };
        let node = self.network.graph().node_weight(self.network.node_named(node)?)?;
        let floor = self.network.storeys().get(node.storey? as usize)?.elevation?;
        let height: Length = text.trim_start_matches('-').parse().ok()?;
        let up = if text.starts_with('-') {
            floor.checked_sub(height)?
        } else {
            floor.checked_add(height)?
        };
        let [east, north] = [0, 1].map(|axis| self.document.written(position.item(axis)));
        let place = format!("[{}, {}, {}]", east?, north?, self.length(up));
        let edit = self.document.put_under(at, "position", &place);
        edit.map(|edit| vec![edit])
    }

    /// A value so that it is read as what it is.
    fn value(self, value: &PropertyValue) -> String {
        match value {
            PropertyValue::Text(text) => self.document.scalar(text),
            PropertyValue::Truth(truth) => truth.to_string(),
            PropertyValue::Count(count) => count.to_string(),
            PropertyValue::Opening(opening) => self.mapping(&[
                ("distance", self.length(opening.distance)),
                ("above", self.length(opening.above)),
            ]),
        }
    }

    fn length(self, length: Length) -> String {
        self.document.scalar(&written(length, self.network))
    }

    /// A mapping on one line, of values as they are to be written.
    fn mapping(self, parts: &[(&str, String)]) -> String {
        let quote = if self.document.is_json() { "\"" } else { "" };
        let parts: Vec<String> = parts
            .iter()
            .map(|(key, value)| format!("{quote}{key}{quote}: {value}"))
            .collect();
        format!("{{{}}}", parts.join(", "))
    }

    /// A run of one pipe plumb up from a fitting to a joint of another vent.
    fn vent(self, at: &str, joins: &str, size: NominalSize, length: Option<Length>) -> Option<Vec<TextEdit>> {
        let document = self.document;
        let length: Vec<_> = length
            .map(|length| ("length", self.length(length)))
            .into_iter()
            .collect();
        let path = [
            self.mapping(&[("at", document.scalar(at))]),
            self.mapping(&[("pipe", self.mapping(&length))]),
            self.mapping(&[("at", document.scalar(joins))]),
        ];
        let mut parts = vec![
            ("run", document.scalar(&format!("{at} vent"))),
            ("size", document.scalar(&size.to_string())),
            ("slope", document.scalar("vertical")),
        ];
        parts.extend(self.like_neighbours(at, joins));
        parts.push(("path", format!("[{}]", path.join(", "))));
        self.add_run("vents", &self.mapping(&parts))
    }

    /// The properties of a new cleanout.
    fn cleanout(
        self,
        name: &str,
        size: NominalSize,
        clearance: Option<Length>,
    ) -> Vec<(&'static str, String)> {
        let mut parts = vec![
            ("name", self.document.scalar(name)),
            ("size", self.document.scalar(&size.to_string())),
        ];
        parts.extend(clearance.map(|room| ("clearance", self.length(room))));
        parts.push(("accessible", true.to_string()));
        parts
    }

    /// A run of one pipe from a cleanout down to the fitting at which a drain begins, laid and held as that drain is.
    fn cleanout_at(
        self,
        node: &str,
        cleanout: &[(&str, String)],
        size: NominalSize,
        slope: Slope,
        length: Length,
    ) -> Option<Vec<TextEdit>> {
        let document = self.document;
        let id = self.network.node_named(node)?;
        let graph = self.network.graph();
        let storey = graph.node_weight(id)?.storey;
        let storey = storey.and_then(|storey| self.network.storeys().get(storey as usize));
        let pipes = self.network.pipes_at(id, Direction::Outgoing);
        let drains: Vec<(PipeId, &Pipe)> = pipes
            .filter_map(|id| Some((id, graph.edge_weight(id)?)))
            .filter(|(_, pipe)| pipe.role == Role::Drain)
            .collect();
        // Straight on with the drain that it serves, where the plan tells which way that goes.
        let direction = drains.iter().find_map(|&(id, _)| self.network.bearing(id));
        let drains: Vec<&Pipe> = drains.into_iter().map(|(_, pipe)| pipe).collect();
        let path = [
            self.mapping(&[("cleanout", self.mapping(cleanout))]),
            self.mapping(&[("pipe", self.mapping(&[("length", self.length(length))]))]),
            self.mapping(&[("at", document.scalar(node))]),
        ];
        let mut parts = vec![
            ("size", document.scalar(&size.to_string())),
            ("slope", document.scalar(&slope.to_string())),
        ];
        parts.extend(storey.map(|storey| ("storey", document.scalar(&storey.name))));
        parts.extend(direction.map(|direction| ("direction", document.scalar(&direction.to_string()))));
        parts.extend(self.held_as(&drains, "horizontal_support_spacing"));
        if drains.iter().any(|drain| drain.underground) {
            parts.push(("underground", true.to_string()));
        }
        parts.push(("path", format!("[{}]", path.join(", "))));
        self.add_run("drains", &self.mapping(&parts))
    }

    /// Adds a run after the others of a list, which need not be there yet.
    fn add_run(self, list: &'static str, run: &str) -> Option<Vec<TextEdit>> {
        let (document, top) = (self.document, self.document.top());
        let edit = if top.has(list) && !top.get(list).is_empty() {
            document.insert(top.get(list), usize::MAX, run)
        } else if top.has(list) {
            document.put_under(top, list, &format!("[{run}]"))
        } else {
            document.append_list(list, run)
        };
        edit.map(|edit| vec![edit])
    }

    /// What a new vertical vent takes over from the vents at the joint that it leads to, and else from the drains that
    /// it rises from.
    fn like_neighbours(self, at: &str, joins: &str) -> Vec<(&'static str, String)> {
        let graph = self.network.graph();
        let around = |name: &str, role: Role| {
            let node = self.network.node_named(name);
            let pipes = node.into_iter().flat_map(|node| {
                let pipes = |direction| self.network.pipes_at(node, direction);
                let around = pipes(Direction::Incoming).chain(pipes(Direction::Outgoing));
                around.filter_map(|pipe| graph.edge_weight(pipe))
            });
            pipes.filter(move |pipe| pipe.role == role)
        };
        let mut pipes: Vec<&Pipe> = around(joins, Role::Vent).chain(around(at, Role::Drain)).collect();
        // Supports are further apart on what is plumb.
        let is_plumb = |pipe: &&Pipe| pipe.slope.is_some_and(Slope::is_vertical);
        pipes.sort_by_key(|pipe| !is_plumb(pipe));
        self.held_as(&pipes, "vertical_support_spacing")
    }

    /// What a new pipe takes over from others, the first that states it: what it is made of and how it is held. What holds
    /// for every pipe by the file's defaults, the spacing of supports by `default_spacing`, is not said again.
    fn held_as(self, pipes: &[&Pipe], default_spacing: &str) -> Vec<(&'static str, String)> {
        let defaults = self.document.top().get("defaults");
        let own = |key: &str, of: &dyn Fn(&Pipe) -> Option<String>| {
            (!defaults.has(key)).then(|| pipes.iter().find_map(|pipe| of(pipe)))?
        };
        let material = own("material", &|pipe| {
            Some(self.document.scalar(pipe.material?.name()))
        });
        let spacing = own(default_spacing, &|pipe| Some(self.length(pipe.support_spacing?)));
        let guide = own("mid_storey_guide", &|pipe| {
            Some(pipe.mid_storey_guide?.to_string())
        });
        let taken = [
            ("material", material),
            ("support_spacing", spacing),
            ("mid_storey_guide", guide),
        ];
        taken
            .into_iter()
            .filter_map(|(key, value)| Some((key, value?)))
            .collect()
    }

    /// Puts a node into a pipe, so much after its start: what is left below keeps the pipe's name and place.
    fn put_into(
        self,
        pipe: &str,
        after: Length,
        kind: &str,
        parts: &[(&str, String)],
    ) -> Option<Vec<TextEdit>> {
        let document = self.document;
        let (pipe, step) = self.step_of_pipe(pipe)?;
        let rest = pipe
            .length?
            .checked_sub(after)
            .filter(|rest| *rest > Length::ZERO)?;
        let mut upper = Vec::new();
        for key in KEPT_ABOVE.into_iter().filter(|key| step.at.has(key)) {
            upper.push((key, document.written(step.at.get(key))?.to_owned()));
        }
        upper.push(("length", self.length(after)));
        let mut own = vec![("length", self.length(rest))];
        if !step.at.has("name") {
            own.insert(0, ("name", document.scalar(&pipe.name)));
        }
        let above = self.mapping(&[("pipe", self.mapping(&upper))]);
        let new = self.mapping(&[(kind, self.mapping(parts))]);
        let mut edits = vec![
            document.insert(step.path, step.index, &above)?,
            document.insert(step.path, step.index, &new)?,
        ];
        edits.extend(document.put_all(step.at, &own)?);
        Some(edits)
    }
}
