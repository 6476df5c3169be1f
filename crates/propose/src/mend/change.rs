//! Changes of a network as data, in words, and as edits of its file.

use crownweir_document::{Cursor, Document, Edit, scalar};
use crownweir_network::{Network, NodeId, Pipe, PipeId, Position};
use crownweir_quantity::{Length, NominalSize, Slope};
use crownweir_vocabulary::{FittingPattern, Role};
use petgraph::Direction;

/// One change of a network. Elements are named as the file names them, so that a change outlives others before it.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Change {
    /// Make a pipe another size.
    Size {
        /// The pipe.
        pipe: String,
        /// Its new size.
        size: NominalSize,
    },
    /// Lay a pipe at another slope.
    Slope {
        /// The pipe.
        pipe: String,
        /// Its new slope.
        slope: Slope,
    },
    /// Make a pipe shorter or longer, so that what stands at its end moves.
    Length {
        /// The pipe.
        pipe: String,
        /// Its new length.
        length: Length,
    },
    /// Support a pipe at another spacing.
    Supports {
        /// The pipe.
        pipe: String,
        /// The distance between supports.
        spacing: Length,
    },
    /// Put a fitting of another pattern in a fitting's place.
    Pattern {
        /// The fitting.
        fitting: String,
        /// The new pattern.
        pattern: FittingPattern,
    },
    /// State a property of a fixture, cleanout, terminal, valve or fitting otherwise.
    Property {
        /// The element.
        node: String,
        /// The property, as the file calls it; one of a trap after `trap.`.
        property: String,
        /// Its new value, as the file writes it.
        value: String,
    },
    /// Make a test otherwise.
    Test {
        /// What is tested.
        section: String,
        /// The property, as the file calls it.
        property: &'static str,
        /// Its new value, as the file writes it.
        value: String,
    },
    /// Add a vent: from a fitting on a drain plumb up to a joint of another vent.
    Vent {
        /// The fitting.
        at: String,
        /// The joint that it leads to.
        joins: String,
        /// Its size.
        size: NominalSize,
        /// Its length, where heights do not settle it.
        length: Option<Length>,
    },
    /// Move the beginning of a vent to another fitting.
    VentFrom {
        /// The vent's first pipe.
        vent: String,
        /// The fitting that it is to leave from.
        to: String,
    },
    /// Put a fitting into a pipe.
    Fitting {
        /// The pipe; what is left of it below keeps its name.
        pipe: String,
        /// Distance from its start.
        after: Length,
        /// The fitting's name.
        name: String,
        /// Its pattern.
        pattern: FittingPattern,
    },
    /// Put a cleanout into a pipe.
    Cleanout {
        /// The pipe; what is left of it below keeps its name.
        pipe: String,
        /// Distance from its start.
        after: Length,
        /// The cleanout's name.
        name: String,
        /// Its size.
        size: NominalSize,
        /// Free space to be kept in front of it.
        clearance: Option<Length>,
    },
}

/// A step of a path in a file.
#[derive(Clone, Copy)]
pub(crate) struct Step<'a> {
    pub(crate) path: Cursor<'a>,
    pub(crate) index: usize,
    pub(crate) at: Cursor<'a>,
}

const KINDS: [&str; 7] = [
    "pipe", "fixture", "fitting", "cleanout", "terminal", "valve", "disposal",
];

/// The step that defines an element.
pub(crate) fn step_at(document: &Document, position: Position) -> Option<Step<'_>> {
    for run in crate::write::runs(document) {
        let path = run.get("path");
        for index in 0..path.len() {
            let item = path.item(index);
            let Some(key) = KINDS.iter().find(|key| item.has(key)) else {
                continue;
            };
            let at = item.get(key);
            let place = at.place();
            if (place.line, place.column) == (position.line as usize, position.column as usize) {
                return Some(Step { path, index, at });
            }
        }
    }
    None
}

/// A slope as a file writes it exactly.
fn exact(slope: Slope) -> String {
    slope.to_string()
}

impl Change {
    /// How much of a building it moves, from the least.
    pub(crate) fn weight(&self) -> u32 {
        match self {
            Self::Property { .. } | Self::Test { .. } => 1,
            Self::Supports { .. } => 2,
            Self::Pattern { .. } => 3,
            Self::Size { .. } => 4,
            Self::Slope { .. } => 5,
            Self::Length { .. } => 6,
            Self::VentFrom { .. } => 8,
            Self::Cleanout { .. } => 9,
            Self::Fitting { .. } => 10,
            Self::Vent { .. } => 12,
        }
    }

    /// Whether it takes back another that was made since it was reckoned: it gives a pipe another length than that has
    /// left of it.
    pub(crate) fn undoes(&self, made: &Self) -> bool {
        match (self, made) {
            (Self::Length { pipe, .. }, Self::Length { pipe: other, .. }) => pipe == other && self != made,
            (
                Self::Length { pipe, .. },
                Self::Fitting { pipe: other, .. } | Self::Cleanout { pipe: other, .. },
            ) => pipe == other,
            _ => false,
        }
    }

    /// The change's name in reports for programs.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Size { .. } => "size",
            Self::Slope { .. } => "slope",
            Self::Length { .. } => "length",
            Self::Supports { .. } => "supports",
            Self::Pattern { .. } => "pattern",
            Self::Property { .. } => "property",
            Self::Test { .. } => "test",
            Self::Vent { .. } => "vent",
            Self::VentFrom { .. } => "vent_from",
            Self::Fitting { .. } => "fitting",
            Self::Cleanout { .. } => "cleanout",
        }
    }

    /// The element that it changes, or begins at.
    #[must_use]
    pub fn of(&self) -> &str {
        match self {
            Self::Size { pipe, .. }
            | Self::Slope { pipe, .. }
            | Self::Length { pipe, .. }
            | Self::Supports { pipe, .. }
            | Self::Fitting { pipe, .. }
            | Self::Cleanout { pipe, .. } => pipe,
            Self::Pattern { fitting, .. } => fitting,
            Self::Property { node, .. } => node,
            Self::Test { section, .. } => section,
            Self::Vent { at, .. } => at,
            Self::VentFrom { vent, .. } => vent,
        }
    }

    /// The change in words, in the network's notation; `network` as it is before the change.
    #[must_use]
    pub fn in_words(&self, network: &Network) -> String {
        let notation = network.notation();
        let pipe = |name: &str| {
            network
                .pipe_named(name)
                .and_then(|id| network.graph().edge_weight(id))
        };
        match self {
            Self::Size { pipe: name, size } => match pipe(name).and_then(|pipe| pipe.size) {
                Some(was) => format!("lay `{name}` in {size} instead of {was}"),
                None => format!("lay `{name}` in {size}"),
            },
            Self::Slope { pipe: name, slope } => {
                let slope = slope.in_notation(notation);
                match pipe(name).and_then(|pipe| pipe.slope) {
                    Some(was) => format!("lay `{name}` at {slope} instead of {}", was.in_notation(notation)),
                    None => format!("lay `{name}` at {slope}"),
                }
            }
            Self::Length { pipe: name, length } => {
                let length_in = length.in_notation(notation);
                match pipe(name).and_then(|pipe| pipe.length) {
                    Some(was) if was > *length => {
                        format!(
                            "shorten `{name}` from {} to {length_in}",
                            was.in_notation(notation)
                        )
                    }
                    Some(was) => format!(
                        "lengthen `{name}` from {} to {length_in}",
                        was.in_notation(notation)
                    ),
                    None => format!("make `{name}` {length_in} long"),
                }
            }
            Self::Supports { pipe, spacing } => {
                format!("support `{pipe}` every {}", spacing.in_notation(notation))
            }
            Self::Pattern { fitting, pattern } => format!("fit a {pattern} at `{fitting}`"),
            Self::Property {
                node,
                property,
                value,
            } => {
                format!("{} of `{node}`: {value}", property.replace(['_', '.'], " "))
            }
            Self::Test {
                section,
                property,
                value,
            } => {
                format!(
                    "{} of the test of `{section}`: {value}",
                    property.replace('_', " ")
                )
            }
            Self::Vent { at, joins, size, .. } => format!("vent `{at}` by a {size} vent up to `{joins}`"),
            Self::VentFrom { vent, to } => format!("take the vent `{vent}` off at `{to}`"),
            Self::Fitting {
                pipe,
                after,
                name,
                pattern,
            } => format!(
                "put a {pattern} `{name}` into `{pipe}`, {} from its start",
                after.in_notation(notation)
            ),
            Self::Cleanout {
                pipe,
                after,
                name,
                size,
                clearance,
            } => {
                let room = clearance
                    .map(|clearance| format!(", with {} clear before it", clearance.in_notation(notation)));
                format!(
                    "put a {size} cleanout `{name}` into `{pipe}`, {} from its start{}",
                    after.in_notation(notation),
                    room.unwrap_or_default()
                )
            }
        }
    }

    /// How many elements the place in the file stands for that the change is made at: more than one on repeated
    /// storeys, which then all change.
    #[must_use]
    pub fn touches(&self, network: &Network) -> usize {
        let graph = network.graph();
        let at = match self {
            Self::Test { .. } => return 1,
            Self::Pattern { .. } | Self::Property { .. } => node(network, self.of())
                .and_then(|id| graph.node_weight(id))
                .map(|node| node.position),
            Self::Vent { at, .. } => node(network, at)
                .and_then(|id| graph.node_weight(id))
                .map(|node| node.position),
            _ => network
                .pipe_named(self.of())
                .and_then(|id| graph.edge_weight(id))
                .map(|pipe| pipe.position),
        };
        let Some(at) = at else { return 0 };
        let nodes = graph.node_weights().filter(|node| node.position == at).count();
        nodes + graph.edge_weights().filter(|pipe| pipe.position == at).count()
    }

    /// The edits of the file that make the change; none where it has no place there. What would put the same new thing
    /// in on every storey of a repetition has none.
    #[must_use]
    pub fn edits(&self, document: &Document, network: &Network) -> Option<Vec<Edit>> {
        let graph = network.graph();
        let pipe = |name: &str| -> Option<(PipeId, Step<'_>)> {
            let id = network.pipe_named(name)?;
            Some((id, step_at(document, graph.edge_weight(id)?.position)?))
        };
        let node_step = |name: &str| step_at(document, graph.node_weight(node(network, name)?)?.position);
        let set = |at: Cursor<'_>, key: &str, value: &str| {
            document
                .put_under(at, key, &document.scalar(value))
                .map(|edit| vec![edit])
        };
        let alone = || self.touches(network) == 1;
        match self {
            Self::Size { pipe: name, size } => set(pipe(name)?.1.at, "size", &size.to_string()),
            Self::Slope { pipe: name, slope } => set(pipe(name)?.1.at, "slope", &exact(*slope)),
            Self::Length { pipe: name, length } => {
                set(pipe(name)?.1.at, "length", &written(*length, network))
            }
            Self::Supports { pipe: name, spacing } => {
                set(pipe(name)?.1.at, "support_spacing", &written(*spacing, network))
            }
            Self::Pattern { fitting, pattern } => set(node_step(fitting)?.at, "pattern", pattern.name()),
            Self::Property {
                node,
                property,
                value,
            } => {
                let at = node_step(node)?.at;
                let raw = if value.starts_with('{') || value == "true" {
                    value.clone()
                } else {
                    document.scalar(value)
                };
                match property.split_once('.') {
                    Some((outer, inner)) if at.has(outer) => document
                        .put_under(at.get(outer), inner, &raw)
                        .map(|edit| vec![edit]),
                    Some((outer, inner)) => {
                        let inner = document.scalar(inner);
                        document
                            .put_under(at, outer, &format!("{{{inner}: {raw}}}"))
                            .map(|edit| vec![edit])
                    }
                    None => document.put_under(at, property, &raw).map(|edit| vec![edit]),
                }
            }
            Self::Test {
                section,
                property,
                value,
            } => {
                let number = network
                    .tests()
                    .iter()
                    .position(|test| &*test.section == section.as_str())?;
                set(document.top().get("tests").item(number), property, value)
            }
            Self::Vent {
                at,
                joins,
                size,
                length,
            } if alone() => {
                let name = |text: &str| {
                    if document.is_json() {
                        document.scalar(text)
                    } else {
                        scalar(text)
                    }
                };
                let key = |text: &str| {
                    if document.is_json() {
                        format!("\"{text}\"")
                    } else {
                        text.to_owned()
                    }
                };
                let length =
                    length.map(|length| format!("{}: {}", key("length"), name(&written(length, network))));
                let like = like_neighbours(document, network, at, joins)
                    .into_iter()
                    .map(|(of, value)| match value.as_str() {
                        "true" | "false" => format!("{}: {value}, ", key(of)),
                        _ => format!("{}: {}, ", key(of), name(&value)),
                    });
                let run = format!(
                    "{{{}: {}, {}: {}, {}: {}, {}{}: [{{{}: {}}}, {{{}: {{{}}}}}, {{{}: {}}}]}}",
                    key("run"),
                    name(&format!("{at} vent")),
                    key("size"),
                    name(&size.to_string()),
                    key("slope"),
                    name("vertical"),
                    like.collect::<String>(),
                    key("path"),
                    key("at"),
                    name(at),
                    key("pipe"),
                    length.unwrap_or_default(),
                    key("at"),
                    name(joins),
                );
                let vents = document.top();
                let edit = if vents.has("vents") && !vents.get("vents").is_empty() {
                    document.insert(vents.get("vents"), usize::MAX, &run)
                } else if vents.has("vents") {
                    document.put_under(vents, "vents", &format!("[{run}]"))
                } else {
                    document.append_list("vents", &run)
                };
                edit.map(|edit| vec![edit])
            }
            Self::VentFrom { vent, to } if alone() => {
                let step = pipe(vent)?.1;
                let first = step.path.item(step.index.checked_sub(1)?);
                first.has("at").then_some(())?;
                set(first, "at", to)
            }
            Self::Fitting {
                pipe: name,
                after,
                name: new,
                pattern,
            } if alone() => {
                let (key, value) = (
                    "fitting",
                    format!("{{name: {}, pattern: {}}}", scalar(new), pattern.name()),
                );
                split(document, network, pipe(name)?, *after, key, &value)
            }
            Self::Cleanout {
                pipe: name,
                after,
                name: new,
                size,
                clearance,
            } if alone() => {
                let room = clearance.map(|room| format!(", clearance: {}", scalar(&written(room, network))));
                let value = format!(
                    "{{name: {}, size: {}{}, accessible: true}}",
                    scalar(new),
                    scalar(&size.to_string()),
                    room.unwrap_or_default()
                );
                split(document, network, pipe(name)?, *after, "cleanout", &value)
            }
            _ => None,
        }
    }
}

/// What a new vertical vent takes over from the vents at the joint that it leads to, and else from the drains that it
/// rises from: what it is made of and how it is held. What holds for every pipe by the file's defaults is not said again.
fn like_neighbours(
    document: &Document,
    network: &Network,
    at: &str,
    joins: &str,
) -> Vec<(&'static str, String)> {
    let graph = network.graph();
    let around = |name: &str, role: Role| {
        let node = node(network, name);
        let pipes = node.into_iter().flat_map(|node| {
            let pipes = |direction| network.pipes_at(node, direction);
            let around = pipes(Direction::Incoming).chain(pipes(Direction::Outgoing));
            around.filter_map(|pipe| graph.edge_weight(pipe))
        });
        pipes.filter(move |pipe| pipe.role == role)
    };
    let mut pipes: Vec<&Pipe> = around(joins, Role::Vent).chain(around(at, Role::Drain)).collect();
    // Supports are further apart on what is plumb.
    let is_plumb = |pipe: &&Pipe| pipe.slope.is_some_and(Slope::is_vertical);
    pipes.sort_by_key(|pipe| !is_plumb(pipe));
    let defaults = document.top().get("defaults");
    let own = |key: &str, of: &dyn Fn(&Pipe) -> Option<String>| {
        (!defaults.has(key)).then(|| pipes.iter().find_map(|pipe| of(pipe)))?
    };
    let material = own("material", &|pipe| Some(pipe.material?.name().to_owned()));
    let spacing = own("vertical_support_spacing", &|pipe| {
        Some(written(pipe.support_spacing?, network))
    });
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

/// A length as a person would write it, where that is exact.
pub(crate) fn written(length: Length, network: &Network) -> String {
    let text = length.in_notation(network.notation()).to_string();
    if text.parse() == Ok(length) {
        text
    } else {
        length.to_string()
    }
}

pub(crate) fn node(network: &Network, name: &str) -> Option<NodeId> {
    network.node_named(name)
}

/// Puts a step into a pipe, so much after its start: what is left below keeps the pipe's name and place.
fn split(
    document: &Document,
    network: &Network,
    (id, step): (PipeId, Step<'_>),
    after: Length,
    key: &str,
    value: &str,
) -> Option<Vec<Edit>> {
    if document.is_json() {
        return None;
    }
    let pipe = network.graph().edge_weight(id)?;
    let rest = pipe
        .length?
        .checked_sub(after)
        .filter(|rest| *rest > Length::ZERO)?;
    let mut upper = Vec::new();
    for key in [
        "size",
        "slope",
        "material",
        "support_spacing",
        "mid_storey_guide",
        "underground",
    ] {
        if step.at.has(key) {
            upper.push(format!("{key}: {}", document.written(step.at.get(key))?));
        }
    }
    upper.push(format!("length: {}", scalar(&written(after, network))));
    let mut own = vec![("length", scalar(&written(rest, network)))];
    if !step.at.has("name") {
        own.insert(0, ("name", scalar(&pipe.name)));
    }
    let mut edits = vec![
        document.insert(
            step.path,
            step.index,
            &format!("{{pipe: {{{}}}}}", upper.join(", ")),
        )?,
        document.insert(step.path, step.index, &format!("{{{key}: {value}}}"))?,
    ];
    edits.extend(document.put_all(step.at, &own)?);
    Some(edits)
}
