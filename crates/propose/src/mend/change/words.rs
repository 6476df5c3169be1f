//! Changes in words.

use crownweir_network::Network;

use super::{Change, PropertyValue};

impl Change {
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
                let value = match value {
                    PropertyValue::Text(text) => text.clone(),
                    PropertyValue::Truth(truth) => truth.to_string(),
                    PropertyValue::Count(count) => count.to_string(),
                    PropertyValue::Opening(opening) => format!(
                        "distance {}, above {}",
                        opening.distance.in_notation(notation),
                        opening.above.in_notation(notation)
                    ),
                };
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
}
