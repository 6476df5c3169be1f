//! The network file as written. Only names and quantities are checked here, not what they mean together.

use std::collections::BTreeMap;
use std::fmt;

use crownweir_quantity::{
    Flow, Heading, Length, NominalSize, Period, Slope, StatedLoad, Temperature, Volume,
};
use crownweir_vocabulary::{
    BuildingUse, Cut, FittingPattern, FixtureType, FlushKind, Inlet, Material, MemberEdge, MemberKind,
    MemberMake, MemberRuns, Occupancy, RoofUse, RunKind, SystemType, TestMedium, Through, TrapKind,
    UrinalKind, ValveKind,
};
use serde::Deserialize;
use serde::de::{Deserializer, Error, Visitor};

use crate::open::{SizeFile, SlopeFile};
#[cfg(feature = "schema")]
use crate::schema;
use crate::stated::name_denied;

/// A name. Whole numbers are names too, so that storeys can be called 1, 2, 3.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Name(pub(crate) String);

impl<'de> Deserialize<'de> for Name {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct NameVisitor;
        impl Visitor<'_> for NameVisitor {
            type Value = Name;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a name, such as `WC-1`")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<Name, E> {
                if let Some((message, expected)) = name_denied(text) {
                    return Err(E::custom(format_args!("{message}, expected {expected}")));
                }
                Ok(Name(text.to_owned()))
            }
            fn visit_u64<E: Error>(self, number: u64) -> Result<Name, E> {
                Ok(Name(number.to_string()))
            }
            fn visit_i64<E: Error>(self, number: i64) -> Result<Name, E> {
                Ok(Name(number.to_string()))
            }
        }
        deserializer.deserialize_any(NameVisitor)
    }
}

/// A length that may lie below its datum.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SignedLength(pub(crate) Length);

impl<'de> Deserialize<'de> for SignedLength {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct SignedVisitor;
        impl Visitor<'_> for SignedVisitor {
            type Value = SignedLength;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a length with its unit, such as `42 in`, `-3 ft 6 in` or `1067 mm`")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<SignedLength, E> {
                Length::parse_signed(text).map(SignedLength).map_err(E::custom)
            }
        }
        deserializer.deserialize_any(SignedVisitor)
    }
}

/// A building's drains, wastes and vents, run by run.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a network: keys with values, such as `name: Heron Point`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "network", transform = schema::lists_may_be_empty))]
pub(crate) struct NetworkFile {
    /// What kind of file this is. Checked before the rest is decoded.
    #[serde(rename = "crownweir")]
    #[cfg_attr(feature = "schema", schemars(extend("const" = crate::build::FORMAT)))]
    pub(crate) _format: String,
    /// The name of the building, for reports.
    pub(crate) name: Name,
    /// How reports print lengths and slopes; the file itself may mix units. Where it is not said, in millimetres if all
    /// lengths of the file are metric, else in inches.
    pub(crate) units: Option<Units>,
    /// The rule set to check by, where the command names no other.
    pub(crate) rules: Option<Name>,
    /// The rule set to check by where pipes pass framing, where the command names no other; without it, shop sheets take
    /// the one that goes with the rule set for pipes.
    pub(crate) framing_rules: Option<Name>,
    /// Files of dimensions for its shop sheets, which go before those that come with the program; the last goes before
    /// the others.
    #[serde(default)]
    pub(crate) dimensions: Vec<Name>,
    /// What holds for the whole site.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "Option<SiteFile>"))]
    pub(crate) site: SiteFile,
    /// What holds for every pipe, cleanout and vent terminal that does not say otherwise.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "Option<Defaults>"))]
    pub(crate) defaults: Defaults,
    /// The storeys, the lowest first.
    #[serde(default)]
    pub(crate) storeys: Vec<StoreyFile>,
    /// Rows of framing members that are alike: the joists of a floor, the studs of a wall, a plate.
    #[serde(default)]
    pub(crate) framing: Vec<MembersFile>,
    /// Fixtures that occur more than once, each under a name that `model` refers to.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "BTreeMap<String, schema::Model>"))]
    pub(crate) models: BTreeMap<String, FixtureFile>,
    /// Runs that carry water, each read the way the water goes.
    #[serde(default)]
    pub(crate) drains: Vec<RunFile>,
    /// Runs that carry air only, each read from the drain to the open air.
    #[serde(default)]
    pub(crate) vents: Vec<RunFile>,
    /// Runs that are alike on several storeys, written once.
    #[serde(default)]
    pub(crate) repeat: Vec<RepeatFile>,
    /// Tests recorded or planned.
    #[serde(default)]
    pub(crate) tests: Vec<TestFile>,
}

/// How reports print lengths and slopes.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "units"))]
pub(crate) enum Units {
    /// Feet and inches with fractions; fall in inches per foot.
    Inches,
    /// Millimetres and metres; fall in per cent.
    Millimetres,
}

/// What holds for the whole site.
#[derive(Debug, Default, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the facts of the site, such as `{occupancy: private}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "site"))]
pub(crate) struct SiteFile {
    /// Who uses the fixtures, where a fixture does not say otherwise.
    pub(crate) occupancy: Option<Occupancy>,
    /// The winter design temperature that a rule set's frost rule refers to.
    pub(crate) winter_design_temperature: Option<Temperature>,
    /// Dwelling units in the building.
    pub(crate) dwelling_units: Option<u32>,
    /// What the building is used for.
    #[serde(rename = "use")]
    pub(crate) building_use: Option<BuildingUse>,
    /// The type of system that its branches and stacks are laid out by.
    pub(crate) system_type: Option<SystemType>,
}

/// What holds for every pipe that does not say otherwise, nor its run, and for every cleanout and vent terminal that does
/// not.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, expecting = "defaults, such as `{material: pvc}`")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "defaults")
)]
pub(crate) struct Defaults {
    /// What pipes are made of.
    pub(crate) material: Option<Material>,
    /// Distance between the supports of horizontal pipes.
    pub(crate) horizontal_support_spacing: Option<Length>,
    /// Distance between the supports of vertical pipes.
    pub(crate) vertical_support_spacing: Option<Length>,
    /// Whether vertical pipes are held sideways half-way up the storey.
    pub(crate) mid_storey_guide: Option<bool>,
    /// What holds for every cleanout.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "Option<CleanoutDefaults>"))]
    pub(crate) cleanouts: CleanoutDefaults,
    /// What holds for every vent terminal.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(with = "Option<TerminalDefaults>"))]
    pub(crate) terminals: TerminalDefaults,
}

/// What holds for every cleanout that does not say otherwise.
#[derive(Debug, Default, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "defaults for cleanouts, such as `{accessible: true, clearance: 24 in}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "cleanout_defaults")
)]
pub(crate) struct CleanoutDefaults {
    /// Free space in front of the opening.
    pub(crate) clearance: Option<Length>,
    /// Whether it can be reached without breaking the building.
    pub(crate) accessible: Option<bool>,
}

/// What holds for every vent terminal that does not say otherwise. What tells of a roof holds for none through a wall.
#[derive(Debug, Default, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "defaults for vent terminals, such as `{through: roof, height_above_roof: 12 in}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "terminal_defaults")
)]
pub(crate) struct TerminalDefaults {
    /// Roof or wall.
    pub(crate) through: Option<Through>,
    /// Height of the opening above the roof.
    pub(crate) height_above_roof: Option<Length>,
    /// What the roof is used for.
    pub(crate) roof_use: Option<RoofUse>,
    /// The nearest door, openable window or air intake, or the word `none` where none is about.
    pub(crate) nearest_opening: Option<OpeningFile>,
}

impl Defaults {
    /// The distance between the supports of a pipe that lies so.
    pub(crate) fn support_spacing(&self, slope: Slope) -> Option<Length> {
        if slope.is_vertical() {
            self.vertical_support_spacing
        } else {
            self.horizontal_support_spacing
        }
    }
}

/// A storey, or several that are numbered.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a storey, such as `{storey: ground, height: 9 ft}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "storey"))]
pub(crate) struct StoreyFile {
    /// Its name. With `numbers`, the name has `{number}` in it.
    pub(crate) storey: Name,
    /// `1..40`: one storey for each number, `{number}` in the name.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = r"^\s*[-+]?[0-9]+\s*\.\.\s*[-+]?[0-9]+\s*$"), extend("examples" = ["1..40"])))]
    pub(crate) numbers: Option<String>,
    /// Height of its floor above the datum; without it, the floor lies on top of the storey before.
    pub(crate) elevation: Option<SignedLength>,
    /// Height from its floor to the next.
    pub(crate) height: Option<Length>,
}

/// Runs that are alike on several storeys, written once.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a group of runs to repeat, such as `{storeys: 1..3, drains: [...]}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "repeat", transform = schema::lists_may_be_empty))]
pub(crate) struct RepeatFile {
    /// A storey, or `first..last` from the lower to the higher. Names in the runs have `{storey}`, `{above}`
    /// or `{below}` in them.
    #[cfg_attr(feature = "schema", schemars(extend("examples" = ["1..40", "level 2..level 9"])))]
    pub(crate) storeys: String,
    /// Runs that carry water.
    #[serde(default)]
    pub(crate) drains: Vec<RunFile>,
    /// Runs that carry air only.
    #[serde(default)]
    pub(crate) vents: Vec<RunFile>,
}

/// A line of pipes and fittings, read the way water goes; in a vent, the way to the open air.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a run of pipes and fittings, such as `{size: 2 in, slope: 1/4 in/ft, path: [...]}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "run", transform = schema::lists_may_be_empty))]
pub(crate) struct RunFile {
    /// Its name; a run may be continued under the same name.
    pub(crate) run: Option<Name>,
    /// What the run is to the building; without it, a branch or a branch vent.
    pub(crate) kind: Option<RunKind>,
    /// The storey of its nodes, where one does not name its own.
    pub(crate) storey: Option<Name>,
    /// Nominal size of its pipes, where one does not state its own; left out or `open`, it is still to be chosen.
    pub(crate) size: Option<SizeFile>,
    /// Fall of its pipes (rise, in a vent), where one does not state its own; of a drain also `at_least` and
    /// `at_most`, between which it is still to be chosen.
    pub(crate) slope: Option<SlopeFile>,
    /// Direction in plan in which it sets out: by the compass, or in degrees clockwise from north, which is whichever
    /// way the drawing takes for it. It holds along the path until a pipe states another.
    pub(crate) direction: Option<Heading>,
    /// What its pipes are made of, where one does not say otherwise.
    pub(crate) material: Option<Material>,
    /// Distance between the supports of its pipes, where one does not state its own.
    pub(crate) support_spacing: Option<Length>,
    /// Whether its vertical pipes are held sideways half-way up the storey.
    pub(crate) mid_storey_guide: Option<bool>,
    /// Whether its pipes lie in the ground.
    #[serde(default)]
    pub(crate) underground: bool,
    /// What water or air meets in order: a node, a pipe, a node, and so on, ending at a node. As long as there is no pipe, the
    /// point of disposal alone.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    pub(crate) path: Vec<StepFile>,
}

/// One step of a path: exactly one of the keys.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a step, such as `{pipe: {length: 3 ft}}`, or one with the key fixture, fitting, at, cleanout, terminal, valve or disposal"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "step", transform = schema::one_key))]
pub(crate) struct StepFile {
    /// A fixture with its trap.
    pub(crate) fixture: Option<Box<FixtureFile>>,
    /// A fitting.
    pub(crate) fitting: Option<Box<FittingFile>>,
    /// A cleanout.
    pub(crate) cleanout: Option<Box<CleanoutFile>>,
    /// A vent's opening to the air outside.
    pub(crate) terminal: Option<Box<TerminalFile>>,
    /// An air admittance valve.
    pub(crate) valve: Option<Box<ValveFile>>,
    /// The point of disposal.
    pub(crate) disposal: Option<Box<DisposalFile>>,
    /// The name of a node that stands elsewhere in the file, which the path begins at or joins.
    pub(crate) at: Option<Name>,
    /// A pipe to the next node.
    pub(crate) pipe: Option<Box<PipeFile>>,
}

/// A place: east, north and up, from an origin of your choice.
#[derive(Debug, Clone, Copy)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "coordinates")
)]
pub(crate) struct Coordinates([SignedLength; 3]);

impl Coordinates {
    pub(crate) fn xyz(self) -> [Length; 3] {
        self.0.map(|length| length.0)
    }
}

impl<'de> Deserialize<'de> for Coordinates {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        <[SignedLength; 3]>::deserialize(deserializer).map(Coordinates)
    }
}

/// A fixture with its trap: the upper end of a drain.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a fixture, such as `{name: WC-1, type: water_closet}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "fixture", transform = schema::one_fixture))]
pub(crate) struct FixtureFile {
    /// Its name, which no other node has.
    #[cfg_attr(feature = "schema", schemars(with = "Name"))]
    pub(crate) name: Option<Name>,
    /// A name under `models`, whose properties it has unless it states its own.
    pub(crate) model: Option<Name>,
    /// What it is.
    #[serde(rename = "type")]
    pub(crate) fixture_type: Option<FixtureType>,
    /// The storey it is on; without one, that of the run.
    pub(crate) storey: Option<Name>,
    /// Who uses it; without it, as stated for the site.
    pub(crate) occupancy: Option<Occupancy>,
    /// By what a flush is let go, of a water closet or urinal.
    pub(crate) flush: Option<FlushKind>,
    /// Volume of one flush, of a water closet or urinal.
    pub(crate) flush_volume: Option<Volume>,
    /// Its shape, where it is a urinal.
    pub(crate) urinal: Option<UrinalKind>,
    /// How many heads it has, where it is a shower, or the showers over one drain have together.
    pub(crate) heads: Option<u32>,
    /// How many compartments drain to its trap, of a sink or tray; one, where nothing is said.
    pub(crate) compartments: Option<u32>,
    /// Whether its water is acid or otherwise corrosive; not, where nothing is said.
    pub(crate) acid_waste: Option<bool>,
    /// Rate of discharge: of a shower's heads together, of a pump, of equipment.
    pub(crate) flow: Option<Flow>,
    /// Its load, only for the types `connected_load`, `other` and `floor_sink`: that of the rest is the rule
    /// set's to give.
    pub(crate) load: Option<StatedLoad>,
    /// Height of the flood level rim above the floor.
    pub(crate) rim_height: Option<Length>,
    /// Height of the trap weir above the floor; negative below it.
    pub(crate) weir_height: Option<SignedLength>,
    /// Height of its standpipe above the trap weir.
    pub(crate) standpipe_height: Option<Length>,
    /// Whether a pump discharges into it, or it is one.
    pub(crate) pumped: Option<bool>,
    /// The bathroom group that it is counted in: a name that its fixtures share.
    pub(crate) group: Option<Name>,
    /// Its trap.
    pub(crate) trap: Option<TrapFile>,
    /// Its place, as three lengths: east, north, up. Lengths and falls follow from those of both ends.
    pub(crate) position: Option<Coordinates>,
}

/// A fixture's trap.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a trap, such as `{size: 2 in, kind: p}`")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "trap"))]
pub(crate) struct TrapFile {
    /// Nominal size.
    pub(crate) size: Option<NominalSize>,
    /// Depth of water between its dip and its weir.
    pub(crate) seal: Option<Length>,
    /// Its shape; a water closet's is `integral` where the file does not say otherwise.
    pub(crate) kind: Option<TrapKind>,
    /// Vertical distance from the fixture's outlet to the trap weir.
    pub(crate) outlet_drop: Option<Length>,
    /// Horizontal distance from the fixture's outlet to the trap's inlet, centre to centre.
    pub(crate) outlet_offset: Option<Length>,
    /// Whether it comes apart by hand, so that the drain can be rodded through it.
    pub(crate) removable: Option<bool>,
}

/// A fitting, or any joint that has a name.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a fitting, such as `{name: W-1, pattern: wye}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "fitting")
)]
pub(crate) struct FittingFile {
    /// Its name, which no other node has.
    pub(crate) name: Name,
    /// Its pattern.
    pub(crate) pattern: Option<FittingPattern>,
    /// The storey it is on; without one, that of the run.
    pub(crate) storey: Option<Name>,
    /// Height of the centre line above the storey's floor.
    pub(crate) height: Option<SignedLength>,
    /// Its place, as three lengths: east, north, up. Lengths and falls follow from those of both ends.
    pub(crate) position: Option<Coordinates>,
}

/// A cleanout: an opening for a rod or cable.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a cleanout, such as `{name: CO-1, size: 3 in}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "cleanout")
)]
pub(crate) struct CleanoutFile {
    /// Its name, which no other node has.
    pub(crate) name: Name,
    /// Nominal size of the opening.
    pub(crate) size: Option<NominalSize>,
    /// Free space in front of the opening.
    pub(crate) clearance: Option<Length>,
    /// Whether it can be reached without breaking the building.
    pub(crate) accessible: Option<bool>,
    /// Whether it is a manhole.
    #[serde(default)]
    pub(crate) manhole: bool,
    /// The storey it is on; without one, that of the run.
    pub(crate) storey: Option<Name>,
    /// Height of the centre line above the storey's floor.
    pub(crate) height: Option<SignedLength>,
    /// Its place, as three lengths: east, north, up. Lengths and falls follow from those of both ends.
    pub(crate) position: Option<Coordinates>,
}

/// A vent's opening to the air outside.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a vent terminal, such as `{name: VT-1, through: roof}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "terminal")
)]
pub(crate) struct TerminalFile {
    /// Its name, which no other node has.
    pub(crate) name: Name,
    /// The storey it is on; without one, that of the run.
    pub(crate) storey: Option<Name>,
    /// Roof or wall.
    pub(crate) through: Option<Through>,
    /// Height of the opening above the roof.
    pub(crate) height_above_roof: Option<Length>,
    /// What the roof is used for.
    pub(crate) roof_use: Option<RoofUse>,
    /// The nearest door, openable window or air intake, or the word `none` where none is about.
    pub(crate) nearest_opening: Option<OpeningFile>,
    /// Horizontal distance to the lot line.
    pub(crate) lot_line_distance: Option<Length>,
    /// Height above average ground.
    pub(crate) height_above_ground: Option<Length>,
    /// Nominal size where it passes the roof or wall, if larger than the vent.
    pub(crate) enlarged_to: Option<NominalSize>,
    /// How far inside the thermal envelope the larger size begins.
    pub(crate) enlarged_inside: Option<Length>,
    /// Height of the centre line above the storey's floor.
    pub(crate) height: Option<SignedLength>,
    /// Its place, as three lengths: east, north, up. Lengths and falls follow from those of both ends.
    pub(crate) position: Option<Coordinates>,
}

/// The nearest door, window or intake, or the word `none`.
#[derive(Debug)]
pub(crate) enum OpeningFile {
    None,
    At { distance: Length, above: SignedLength },
}

impl<'de> Deserialize<'de> for OpeningFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct OpeningVisitor;
        impl<'de> Visitor<'de> for OpeningVisitor {
            type Value = OpeningFile;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("the word `none`, or the opening as `{distance: 12 ft, above: 2 ft}`")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<OpeningFile, E> {
                match text {
                    "none" => Ok(OpeningFile::None),
                    _ => Err(E::invalid_value(serde::de::Unexpected::Str(text), &self)),
                }
            }
            fn visit_map<A: serde::de::MapAccess<'de>>(self, map: A) -> Result<OpeningFile, A::Error> {
                #[derive(Deserialize)]
                #[serde(deny_unknown_fields)]
                struct Fields {
                    distance: Length,
                    above: SignedLength,
                }
                let fields = Fields::deserialize(serde::de::value::MapAccessDeserializer::new(map))?;
                Ok(OpeningFile::At {
                    distance: fields.distance,
                    above: fields.above,
                })
            }
        }
        deserializer.deserialize_any(OpeningVisitor)
    }
}

/// An air admittance valve.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "an air admittance valve, such as `{name: AV-1, kind: branch}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "valve"))]
pub(crate) struct ValveFile {
    /// Its name, which no other node has.
    pub(crate) name: Name,
    /// What it serves.
    pub(crate) kind: Option<ValveKind>,
    /// Height above the horizontal drain that it vents.
    pub(crate) height_above_drain: Option<Length>,
    /// Height above the flood level rim of the highest fixture that it serves; negative below it.
    pub(crate) height_above_rim: Option<SignedLength>,
    /// Whether it can be reached.
    pub(crate) accessible: Option<bool>,
    /// Rate at which it lets air in, as its maker states.
    pub(crate) air_flow: Option<Flow>,
    /// The storey it is on; without one, that of the run.
    pub(crate) storey: Option<Name>,
    /// Height of the centre line above the storey's floor.
    pub(crate) height: Option<SignedLength>,
    /// Its place, as three lengths: east, north, up. Lengths and falls follow from those of both ends.
    pub(crate) position: Option<Coordinates>,
}

/// Where all drains end: public sewer, septic tank, sump or the like. There is one.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a point of disposal, such as `{name: sewer}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "disposal")
)]
pub(crate) struct DisposalFile {
    /// Its name, which no other node has.
    pub(crate) name: Name,
    /// Whether it is a closed sump or tank that a pump empties; a vent may then rise from its top.
    #[serde(default)]
    pub(crate) sump: bool,
    /// The storey it is on; without one, that of the run.
    pub(crate) storey: Option<Name>,
    /// Height of the centre line above the storey's floor.
    pub(crate) height: Option<SignedLength>,
    /// Its place, as three lengths: east, north, up. Lengths and falls follow from those of both ends.
    pub(crate) position: Option<Coordinates>,
}

/// A pipe between two nodes of the path.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a pipe, such as `{length: 3 ft}`")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "pipe", transform = schema::lists_may_be_empty))]
pub(crate) struct PipeFile {
    /// Its name; without one it is called after its ends.
    pub(crate) name: Option<Name>,
    /// Nominal size; without it, that of the run; `open` where it is still to be chosen whatever the run's.
    pub(crate) size: Option<SizeFile>,
    /// Developed length along the centre line. It may be left out where heights or coordinates of both ends
    /// settle it.
    pub(crate) length: Option<Length>,
    /// Fall over length of a drain, rise over length of a vent; without it, that of the run. Of a drain also
    /// `at_least` and `at_most`, between which it is still to be chosen.
    pub(crate) slope: Option<SlopeFile>,
    /// Direction in plan of this pipe and of those after it until one states another: by the compass, in degrees
    /// clockwise from north, or as a turn from the direction before. A vertical pipe has none.
    pub(crate) direction: Option<Heading>,
    /// How far this pipe moves the line aside between two bends; length, slope and direction follow from it.
    pub(crate) offset: Option<OffsetFile>,
    /// Heights of the inside bottom above the datum, at the start and at the end of the pipe.
    pub(crate) inverts: Option<[SignedLength; 2]>,
    /// What it is made of; without it, as for the run or the whole file.
    pub(crate) material: Option<Material>,
    /// Distance between its supports; without it, as for the run or the whole file.
    pub(crate) support_spacing: Option<Length>,
    /// Whether a vertical pipe is held sideways half-way up the storey.
    pub(crate) mid_storey_guide: Option<bool>,
    /// Whether it lies in the ground; without it, as for the run.
    pub(crate) underground: Option<bool>,
    /// By which opening it enters the fitting at its end; without it, by the run where that fitting belongs
    /// to the same run, else by the branch.
    pub(crate) enters: Option<Inlet>,
    /// Framing that it passes, in its own direction.
    #[serde(default)]
    pub(crate) passes: Vec<PassageFile>,
}

/// A row of framing members that are alike.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a row of framing members, such as `{framing: floor joists, kind: joist}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "framing")
)]
pub(crate) struct MembersFile {
    /// Its name, which `passes` refers to.
    pub(crate) framing: Name,
    /// What the members are.
    pub(crate) kind: MemberKind,
    /// What they are made as.
    pub(crate) make: Option<MemberMake>,
    /// Actual depth: of a joist or rafter from edge to edge, of a stud or plate across the wall.
    pub(crate) depth: Option<Length>,
    /// Actual thickness; of plates nailed on one another, of all together.
    pub(crate) thickness: Option<Length>,
    /// From the middle of one to the middle of the next.
    pub(crate) spacing: Option<Length>,
    /// Clear length between bearings.
    pub(crate) span: Option<Length>,
    /// The storey from whose floor `top` is measured; without one, that of the node where the pipe begins.
    pub(crate) storey: Option<Name>,
    /// Height of the upper edge above that floor; of joists under a subfloor, below it.
    pub(crate) top: Option<SignedLength>,
    /// Whether they belong to an outside or bearing wall.
    pub(crate) bearing: Option<bool>,
    /// Whether each is doubled.
    pub(crate) doubled: Option<bool>,
    /// Where joists or rafters stand in plan: pipes whose places are known are then found to pass them, and need no
    /// `passes`.
    pub(crate) layout: Option<LayoutFile>,
}

/// Where the members of a row stand in plan.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "where members stand in plan, such as `{runs: north_south, first: 16 in, count: 12}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "layout"))]
pub(crate) struct LayoutFile {
    /// Which way they run.
    pub(crate) runs: MemberRuns,
    /// How far north the middle of the first stands where they run east and west; else how far east. Each further one
    /// stands a `spacing` further north or east.
    pub(crate) first: SignedLength,
    /// How many there are.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub(crate) count: u32,
    /// How far east their two bearings are where they run east and west; else how far north. What lies beyond them is
    /// not passed.
    pub(crate) bearings: Option<[SignedLength; 2]>,
}

/// Framing that a pipe passes: one member, or several one after the other that it passes alike.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "framing that a pipe passes, such as `{framing: floor joists, first: 10 in}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "passage")
)]
pub(crate) struct PassageFile {
    /// The row of members, by its name under `framing`.
    pub(crate) framing: Name,
    /// Distance along the pipe from its start to the middle of the first member.
    pub(crate) first: Option<Length>,
    /// How many members; without it, one.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub(crate) count: Option<u32>,
    /// From one to the next along the pipe; without it, as the members are spaced, which a pipe square to them keeps.
    pub(crate) spacing: Option<Length>,
    /// How each is cut; without it, bored.
    pub(crate) cut: Option<Cut>,
    /// Diameter of the hole; without it, as the rule set has it for the pipe.
    pub(crate) hole: Option<Length>,
    /// Depth of the notch.
    pub(crate) notch_depth: Option<Length>,
    /// Length of the notch along the member.
    pub(crate) notch_length: Option<Length>,
    /// Edge that is notched.
    pub(crate) notch_edge: Option<MemberEdge>,
    /// Distance of the pipe's centre from the lower edge of a joist or rafter, or from one face of a stud or plate, or
    /// the word `middle`. In joists it is left out where heights settle it: one that denies them is refused.
    pub(crate) centre: Option<CentreFile>,
    /// Distance along the member to its nearest bearing.
    pub(crate) bearing_distance: Option<Length>,
    /// Wood left to the nearest other hole or notch in the member, or the word `none`.
    pub(crate) next_cut: Option<NextCutFile>,
    /// Whether the member is doubled there; without it, as for the whole row.
    pub(crate) doubled: Option<bool>,
    /// How many members one after the other are doubled for the pipe.
    pub(crate) doubled_in_row: Option<u32>,
    /// Whether a steel plate shields the pipe.
    pub(crate) steel_plate: Option<bool>,
    /// Whether a metal tie bridges the cut plate.
    pub(crate) metal_tie: Option<bool>,
}

/// A distance, or a word in its place.
struct LengthOr(&'static str);

impl Visitor<'_> for LengthOr {
    type Value = Option<Length>;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "a length with its unit, such as `42 in` or `1067 mm`, or the word `{}`",
            self.0
        )
    }
    fn visit_str<E: Error>(self, text: &str) -> Result<Option<Length>, E> {
        if text == self.0 {
            return Ok(None);
        }
        text.parse().map(Some).map_err(E::custom)
    }
}

/// Where a hole's centre lies: a distance, or the word `middle`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CentreFile(pub(crate) Option<Length>);

impl<'de> Deserialize<'de> for CentreFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(LengthOr("middle")).map(CentreFile)
    }
}

/// How far the next cut is: a distance, or the word `none`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct NextCutFile(pub(crate) Option<Length>);

impl<'de> Deserialize<'de> for NextCutFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(LengthOr("none")).map(NextCutFile)
    }
}

/// An offset by two bends of one angle: one pipe between them, after which the line goes on as before. With a set and
/// a roll it is a rolling offset.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "an offset, such as `{set: 8 in, left: 12 in}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "offset"))]
pub(crate) struct OffsetFile {
    /// In a horizontal line, how much lower it goes on (a vent: higher); in a vertical line, how far in the pipe's
    /// `direction`.
    pub(crate) set: Option<Length>,
    /// How far to the left of the line, or of the `direction`, seen from above.
    pub(crate) left: Option<Length>,
    /// How far to the right of the line, or of the `direction`, seen from above.
    pub(crate) right: Option<Length>,
}

/// A test, recorded or planned.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a test, such as `{section: drains, medium: water}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "test"))]
pub(crate) struct TestFile {
    /// What is tested.
    pub(crate) section: Name,
    /// With what.
    pub(crate) medium: TestMedium,
    /// Head of water; of a test with air or smoke its pressure, as a head of water.
    pub(crate) head: Option<Length>,
    /// Height of the part under test, from its lowest joint to the water.
    pub(crate) height: Option<Length>,
    /// How long it is held.
    pub(crate) duration: Option<Period>,
}
