//! Changes in words.

use crownweir_network::{Network, Passage};
use crownweir_quantity::{Length, Notation};

use super::{Change, PropertyValue, passage};

impl Change {
    /// The change in words, in the network's notation; `network` as it is before the change.
    #[must_use]
    pub fn in_words(&self, network: &Network) -> String {
        let notation = network.notation();
        let shown = |length: Length| length.in_notation(notation).to_string();
        let room = |clearance: Option<Length>| {
            clearance.map_or_else(String::new, |room| {
                format!(", with {} clear before it", shown(room))
            })
        };
        let pipe = |name: &str| {
            network
                .pipe_named(name)
                .and_then(|id| network.graph().edge_weight(id))
        };
        match self {
            Self::Size { pipe: name, size } | Self::SizeOfRun { pipe: name, size } => {
                let laid = self.laid(network);
                match pipe(name).and_then(|pipe| pipe.size) {
                    Some(was) => format!("lay {laid} in {size} instead of {was}"),
                    None => format!("lay {laid} in {size}"),
                }
            }
            Self::Slope { pipe: name, slope } | Self::SlopeOfRun { pipe: name, slope } => {
                let (laid, slope) = (self.laid(network), slope.in_notation(notation));
                match pipe(name).and_then(|pipe| pipe.slope) {
                    Some(was) => format!("lay {laid} at {slope} instead of {}", was.in_notation(notation)),
                    None => format!("lay {laid} at {slope}"),
                }
            }
            Self::Length { pipe: name, length } => match pipe(name).and_then(|pipe| pipe.length) {
                Some(was) if was > *length => {
                    format!("shorten `{name}` from {} to {}", shown(was), shown(*length))
                }
                Some(was) => format!("lengthen `{name}` from {} to {}", shown(was), shown(*length)),
                None => format!("make `{name}` {} long", shown(*length)),
            },
            Self::Supports { pipe, spacing } => {
                format!("support `{pipe}` every {}", shown(*spacing))
            }
            Self::Pattern { fitting, pattern } => {
                let pattern = pattern.to_string();
                let article = if pattern.starts_with('e') { "an" } else { "a" };
                format!("fit {article} {pattern} at `{fitting}`")
            }
            Self::Guide { pipe } => format!("hold `{pipe}` sideways half-way up the storey"),
            Self::Default { property, value, .. } => format!(
                "{} by the file's defaults: {}",
                property.replace('_', " "),
                value.in_words(notation)
            ),
            Self::Property {
                node,
                property,
                value,
            } => {
                let value = value.in_words(notation);
                let stated = format!("{} of `{node}`: {value}", property.replace(['_', '.'], " "));
                if self.is_of_site() {
                    format!("if it is or is made so on site, state it: {stated}")
                } else {
                    stated
                }
            }
            Self::Passage {
                pipe,
                framing,
                number,
                property,
                value,
            } => {
                let own = passage(network, pipe, framing, *number);
                let alike = |one: &&Passage| {
                    own.is_some_and(|own| own.position == one.position && own.pipe == one.pipe)
                };
                let others = match network.passages().iter().filter(alike).count() {
                    0 | 1 => "",
                    _ => " and of those passed alike",
                };
                let number = own.map_or(*number, Passage::called);
                let here = format!("`{pipe}, {framing} {number}`{others}");
                let member = own
                    .and_then(|own| network.framing().get(own.members as usize))
                    .map_or("member", |members| members.kind.name());
                match (*property, value) {
                    ("hole", hole) => format!("bore {here} {} wide", hole.in_words(notation)),
                    ("doubled", PropertyValue::Truth(true)) => {
                        format!("nail a second {member} beside that of {here}")
                    }
                    ("doubled_in_row", count) => {
                        format!(
                            "so that of {framing} {} in a row are doubled",
                            count.in_words(notation)
                        )
                    }
                    ("steel_plate", PropertyValue::Truth(true)) => {
                        format!("shield the pipe at {here} with a steel plate")
                    }
                    ("metal_tie", PropertyValue::Truth(true)) => {
                        format!("bridge the cut {member} at {here} with a metal tie")
                    }
                    (property, value) => format!(
                        "{} of {here}: {}",
                        property.replace('_', " "),
                        value.in_words(notation)
                    ),
                }
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
                shown(*after)
            ),
            Self::Cleanout {
                pipe,
                after,
                name,
                size,
                clearance,
            } => format!(
                "put a {size} cleanout `{name}` into `{pipe}`, {} from its start{}",
                shown(*after),
                room(*clearance)
            ),
            Self::CleanoutAt {
                node,
                name,
                size,
                slope,
                length,
                clearance,
            } => format!(
                "put a {size} cleanout `{name}` before `{node}`, on {} of pipe at {}{}",
                shown(*length),
                slope.in_notation(notation),
                room(*clearance)
            ),
        }
    }
}

impl Change {
    /// What is laid otherwise: a pipe, or the run that it belongs to.
    fn laid(&self, network: &Network) -> String {
        let run = || {
            let pipe = network.graph().edge_weight(network.pipe_named(self.of())?)?;
            network.run(pipe.run)
        };
        match self {
            Self::SizeOfRun { .. } | Self::SlopeOfRun { .. } => {
                run().map_or_else(String::new, |run| format!("the whole run `{}`", run.name))
            }
            _ => format!("`{}`", self.of()),
        }
    }
}

impl PropertyValue {
    fn in_words(&self, notation: Notation) -> String {
        match self {
            Self::Text(text) => text.clone(),
            Self::Truth(truth) => truth.to_string(),
            Self::Count(count) => count.to_string(),
            Self::Opening(opening) => format!(
                "distance {}, above {}",
                opening.distance.in_notation(notation),
                opening.above.in_notation(notation)
            ),
        }
    }
}
