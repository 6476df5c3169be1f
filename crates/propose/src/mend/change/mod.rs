//! Changes of a network as data, in words, and as edits of its file.

mod edits;
mod words;

use crownweir_network::{NearestOpening, Network, Passage};
use crownweir_quantity::{Length, NominalSize, Slope};
use crownweir_rulebook::Ladder;
use crownweir_vocabulary::FittingPattern;

/// The properties that say what was found or bought, and not how pipes are laid.
const OF_SITE: [&str; 7] = [
    "trap.kind",
    "kind",
    "accessible",
    "clearance",
    "nearest_opening",
    "lot_line_distance",
    "height_above_ground",
];

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
    /// Lay a whole run in another size, save those of its pipes that state their own.
    SizeOfRun {
        /// One of its pipes that takes the run's size.
        pipe: String,
        /// The run's new size.
        size: NominalSize,
    },
    /// Lay a whole run at another slope, save those of its pipes that state their own.
    SlopeOfRun {
        /// One of its pipes that takes the run's slope.
        pipe: String,
        /// The run's new slope.
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
    /// Hold a plumb pipe sideways half-way up the storey.
    Guide {
        /// The pipe.
        pipe: String,
    },
    /// State otherwise what holds for every pipe that does not say otherwise.
    Default {
        /// One of the pipes for which it holds.
        pipe: String,
        /// What holds, as the file's `defaults` call it.
        property: &'static str,
        /// Its new value.
        value: PropertyValue,
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
        /// Its new value.
        value: PropertyValue,
    },
    /// Have a pipe pass framing otherwise: one member, or all that the file has passed alike with it.
    Passage {
        /// The pipe.
        pipe: String,
        /// The row of members.
        framing: String,
        /// Which of those that the pipe passes it is.
        number: u32,
        /// The property, as the file calls it.
        property: &'static str,
        /// Its new value.
        value: PropertyValue,
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
    /// Put a cleanout at the upper end of a drain, on a short pipe of its own.
    CleanoutAt {
        /// The fitting at which the drain begins.
        node: String,
        /// The cleanout's name.
        name: String,
        /// Its size, and that of its pipe.
        size: NominalSize,
        /// The slope of its pipe.
        slope: Slope,
        /// The length of its pipe.
        length: Length,
        /// Free space to be kept in front of it.
        clearance: Option<Length>,
    },
}

/// What a property is to be. A network file holds words and quantities as text, but neither yes and no nor counts.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum PropertyValue {
    /// A word, or a quantity with its unit, such as `deep_seal` or `3 in`.
    Text(String),
    /// Yes or no.
    Truth(bool),
    /// A number of things.
    Count(u32),
    /// The door, window or air intake nearest to a vent terminal.
    Opening(NearestOpening),
}

impl From<String> for PropertyValue {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<bool> for PropertyValue {
    fn from(truth: bool) -> Self {
        Self::Truth(truth)
    }
}

impl Change {
    /// How much of a building it moves, from the least.
    pub(crate) fn weight(&self) -> u32 {
        match self {
            Self::Property { .. } | Self::Test { .. } => 1,
            Self::Supports { .. } | Self::Guide { .. } | Self::Default { .. } | Self::Passage { .. } => 2,
            Self::Pattern { .. } => 3,
            Self::Size { .. } | Self::SizeOfRun { .. } => 4,
            Self::Slope { .. } | Self::SlopeOfRun { .. } => 5,
            Self::Length { .. } => 6,
            Self::VentFrom { .. } => 8,
            Self::Cleanout { .. } | Self::CleanoutAt { .. } => 9,
            Self::Fitting { .. } => 10,
            Self::Vent { .. } => 12,
        }
    }

    /// Whether it alters no pipework: it states otherwise what a trap or a valve is by its make, or what surrounds a piece.
    /// That is for the site to bear out.
    #[must_use]
    pub fn is_of_site(&self) -> bool {
        matches!(self, Self::Property { property, .. } if OF_SITE.contains(&property.as_str()))
    }

    /// Whether it lays or holds more pipes than one otherwise: a whole run, or all that the defaults hold for.
    pub(crate) fn is_of_several(&self) -> bool {
        matches!(
            self,
            Self::SizeOfRun { .. } | Self::SlopeOfRun { .. } | Self::Default { .. }
        )
    }

    /// Whether it states at what height a thing stands.
    pub(crate) fn is_height(&self) -> bool {
        const HEIGHTS: [&str; 4] = ["height", "weir_height", "rim_height", "standpipe_height"];
        matches!(self, Self::Property { property, .. } if HEIGHTS.contains(&property.as_str()))
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

    /// Whether it gives a value to the same property of the same element as another.
    pub(crate) fn sets_again(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Property { property, .. }, Self::Property { property: before, .. }) => {
                property == before && self.of() == other.of()
            }
            (
                Self::Passage {
                    framing,
                    number,
                    property,
                    ..
                },
                Self::Passage {
                    framing: row,
                    number: member,
                    property: before,
                    ..
                },
            ) => (framing, number, property) == (row, member, before) && self.of() == other.of(),
            (
                Self::Size { .. }
                | Self::Slope { .. }
                | Self::SizeOfRun { .. }
                | Self::SlopeOfRun { .. }
                | Self::Length { .. }
                | Self::Supports { .. }
                | Self::Guide { .. }
                | Self::Default { .. }
                | Self::Pattern { .. },
                _,
            ) => self.kind() == other.kind() && self.of() == other.of(),
            _ => false,
        }
    }

    /// Takes over the size in which a new vent is laid by a later change; whether that is what this one does. A new vent is
    /// one pipe, which goes by its ends.
    pub(crate) fn takes_size_of(&mut self, later: &Self) -> bool {
        match (self, later) {
            (Self::Vent { at, joins, size, .. }, Self::Size { pipe, size: last })
                if *pipe == format!("{at} to {joins}") =>
            {
                *size = *last;
                true
            }
            _ => false,
        }
    }

    /// Whether it is the same change as another, or the same in smaller pipe, or of one pipe and not of all its run.
    pub(crate) fn does_for(&self, other: &Self, ladder: &Ladder) -> bool {
        let is_smaller = |own: NominalSize, other: NominalSize| {
            let sizes = ladder.find(own).zip(ladder.find(other));
            sizes.is_some_and(|(own, other)| own < other)
        };
        match (self, other) {
            (
                Self::Size { pipe, size },
                Self::Size {
                    pipe: same,
                    size: larger,
                }
                | Self::SizeOfRun {
                    pipe: same,
                    size: larger,
                },
            )
            | (
                Self::SizeOfRun { pipe, size },
                Self::SizeOfRun {
                    pipe: same,
                    size: larger,
                },
            ) if pipe == same => size == larger || is_smaller(*size, *larger),
            (
                Self::Slope { pipe, slope },
                Self::SlopeOfRun {
                    pipe: same,
                    slope: as_laid,
                },
            ) => (pipe, slope) == (same, as_laid),
            (
                Self::Vent { at, joins, size, .. },
                Self::Vent {
                    at: same,
                    joins: to,
                    size: larger,
                    ..
                },
            ) if (at, joins) == (same, to) => size == larger || is_smaller(*size, *larger),
            (Self::Supports { pipe, .. } | Self::Guide { pipe }, Self::Default { pipe: same, .. }) => {
                pipe == same
            }
            _ => self == other,
        }
    }

    /// The change's name in reports for programs.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Size { .. } => "size",
            Self::Slope { .. } => "slope",
            Self::SizeOfRun { .. } => "size_of_run",
            Self::SlopeOfRun { .. } => "slope_of_run",
            Self::Length { .. } => "length",
            Self::Supports { .. } => "supports",
            Self::Guide { .. } => "guide",
            Self::Default { .. } => "default",
            Self::Pattern { .. } => "pattern",
            Self::Property { .. } => "property",
            Self::Passage { .. } => "passage",
            Self::Test { .. } => "test",
            Self::Vent { .. } => "vent",
            Self::VentFrom { .. } => "vent_from",
            Self::Fitting { .. } => "fitting",
            Self::Cleanout { .. } => "cleanout",
            Self::CleanoutAt { .. } => "cleanout_at",
        }
    }

    /// The element that it changes, or begins at.
    #[must_use]
    pub fn of(&self) -> &str {
        match self {
            Self::Size { pipe, .. }
            | Self::Slope { pipe, .. }
            | Self::SizeOfRun { pipe, .. }
            | Self::SlopeOfRun { pipe, .. }
            | Self::Length { pipe, .. }
            | Self::Supports { pipe, .. }
            | Self::Guide { pipe }
            | Self::Default { pipe, .. }
            | Self::Passage { pipe, .. }
            | Self::Fitting { pipe, .. }
            | Self::Cleanout { pipe, .. } => pipe,
            Self::Pattern { fitting, .. } => fitting,
            Self::Property { node, .. } | Self::CleanoutAt { node, .. } => node,
            Self::Test { section, .. } => section,
            Self::Vent { at, .. } => at,
            Self::VentFrom { vent, .. } => vent,
        }
    }

    /// How many elements the place in the file stands for that the change is made at: more than one on repeated
    /// storeys, which then all change.
    #[must_use]
    pub fn touches(&self, network: &Network) -> usize {
        let graph = network.graph();
        let at = match self {
            Self::Test { .. } | Self::Default { .. } => return 1,
            Self::Pattern { .. } | Self::Property { .. } | Self::Vent { .. } | Self::CleanoutAt { .. } => {
                network
                    .node_named(self.of())
                    .and_then(|id| graph.node_weight(id))
                    .map(|node| node.position)
            }
            _ => network
                .pipe_named(self.of())
                .and_then(|id| graph.edge_weight(id))
                .map(|pipe| pipe.position),
        };
        let Some(at) = at else { return 0 };
        let nodes = graph.node_weights().filter(|node| node.position == at).count();
        nodes + graph.edge_weights().filter(|pipe| pipe.position == at).count()
    }
}

/// The place of a pipe's passage of a member in the network.
pub(crate) fn passage<'n>(
    network: &'n Network,
    pipe: &str,
    framing: &str,
    number: u32,
) -> Option<&'n Passage> {
    let pipe = network.pipe_named(pipe)?;
    let of_row = |passage: &Passage| {
        let members = network.framing().get(passage.members as usize);
        members.is_some_and(|members| &*members.name == framing)
    };
    let mut passages = network.passages().iter();
    passages.find(|passage| passage.pipe == pipe && passage.number == number && of_row(passage))
}

/// A length as a person would write it, where that is exact.
pub(crate) fn written(length: Length, network: &Network) -> String {
    if length < Length::ZERO {
        let below = Length::from_nanometres(length.nanometres().saturating_neg());
        return format!("-{}", written(below, network));
    }
    let text = length.in_notation(network.notation()).to_string();
    if text.parse() == Ok(length) {
        text
    } else {
        length.to_string()
    }
}
