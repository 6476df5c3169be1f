//! The network file as written. Only names and quantities are checked here, not what they mean together.

use std::collections::BTreeMap;
use std::fmt;

use crownweir_quantity::{Flow, Length, NominalSize, Period, Slope, StatedLoad, Temperature, Volume};
use crownweir_vocabulary::{
    BuildingUse, FittingPattern, FixtureType, Inlet, Material, Occupancy, RoofUse, RunKind, SystemType,
    TestMedium, Through, TrapKind, ValveKind,
};
use serde::Deserialize;
use serde::de::{Deserializer, Error, Visitor};

/// A name. Whole numbers are names too, so that storeys can be called 1, 2, 3.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Name(pub(crate) String);

impl<'de> Deserialize<'de> for Name {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct NameVisitor;
        impl Visitor<'_> for NameVisitor {
            type Value = Name;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a name")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<Name, E> {
                if text.trim().is_empty() {
                    return Err(E::custom(
                        "the name is empty, expected at least one letter or digit",
                    ));
                }
                if text.len() > 200 {
                    return Err(E::custom(
                        "the name is longer than 200 bytes, expected a shorter one",
                    ));
                }
                if text.chars().any(char::is_control) {
                    return Err(E::custom(
                        "the name holds a control character, expected plain text",
                    ));
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

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a network")]
pub(crate) struct NetworkFile {
    /// Checked before the rest is decoded; stands here so that it is a known key.
    #[serde(rename = "crownweir")]
    pub(crate) _format: String,
    pub(crate) name: Name,
    #[serde(default)]
    pub(crate) units: Units,
    pub(crate) rules: Option<Name>,
    #[serde(default)]
    pub(crate) site: SiteFile,
    #[serde(default)]
    pub(crate) defaults: Defaults,
    #[serde(default)]
    pub(crate) storeys: Vec<StoreyFile>,
    #[serde(default)]
    pub(crate) models: BTreeMap<String, FixtureFile>,
    #[serde(default)]
    pub(crate) drains: Vec<RunFile>,
    #[serde(default)]
    pub(crate) vents: Vec<RunFile>,
    #[serde(default)]
    pub(crate) repeat: Vec<RepeatFile>,
    #[serde(default)]
    pub(crate) tests: Vec<TestFile>,
}

#[derive(Debug, Clone, Copy, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Units {
    #[default]
    Inches,
    Millimetres,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, expecting = "the facts of the site")]
pub(crate) struct SiteFile {
    pub(crate) occupancy: Option<Occupancy>,
    pub(crate) winter_design_temperature: Option<Temperature>,
    /// Dwelling units in the building.
    pub(crate) dwelling_units: Option<u32>,
    /// What the building is used for.
    #[serde(rename = "use")]
    pub(crate) building_use: Option<BuildingUse>,
    pub(crate) system_type: Option<SystemType>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, expecting = "defaults for pipes")]
pub(crate) struct Defaults {
    pub(crate) material: Option<Material>,
    pub(crate) horizontal_support_spacing: Option<Length>,
    pub(crate) vertical_support_spacing: Option<Length>,
    pub(crate) mid_storey_guide: Option<bool>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a storey")]
pub(crate) struct StoreyFile {
    pub(crate) storey: Name,
    /// `1..40`: one storey for each number, `{number}` in the name.
    pub(crate) numbers: Option<String>,
    pub(crate) elevation: Option<SignedLength>,
    pub(crate) height: Option<Length>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a group of runs to repeat")]
pub(crate) struct RepeatFile {
    pub(crate) storeys: String,
    #[serde(default)]
    pub(crate) drains: Vec<RunFile>,
    #[serde(default)]
    pub(crate) vents: Vec<RunFile>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a run of pipes and fittings")]
pub(crate) struct RunFile {
    pub(crate) run: Option<Name>,
    pub(crate) kind: Option<RunKind>,
    pub(crate) storey: Option<Name>,
    pub(crate) size: Option<NominalSize>,
    pub(crate) slope: Option<Slope>,
    pub(crate) material: Option<Material>,
    pub(crate) support_spacing: Option<Length>,
    pub(crate) mid_storey_guide: Option<bool>,
    #[serde(default)]
    pub(crate) underground: bool,
    pub(crate) path: Vec<StepFile>,
}

/// One step of a path: exactly one of the keys.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a step: one of fixture, fitting, pipe, at, cleanout, terminal, valve, disposal"
)]
pub(crate) struct StepFile {
    pub(crate) fixture: Option<Box<FixtureFile>>,
    pub(crate) fitting: Option<Box<FittingFile>>,
    pub(crate) cleanout: Option<Box<CleanoutFile>>,
    pub(crate) terminal: Option<Box<TerminalFile>>,
    pub(crate) valve: Option<Box<ValveFile>>,
    pub(crate) disposal: Option<Box<DisposalFile>>,
    pub(crate) at: Option<Name>,
    pub(crate) pipe: Option<Box<PipeFile>>,
}

/// Where a node is: all optional.
#[derive(Debug, Clone, Copy)]
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

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a fixture")]
pub(crate) struct FixtureFile {
    pub(crate) name: Option<Name>,
    pub(crate) model: Option<Name>,
    #[serde(rename = "type")]
    pub(crate) fixture_type: Option<FixtureType>,
    pub(crate) storey: Option<Name>,
    pub(crate) occupancy: Option<Occupancy>,
    pub(crate) flush_volume: Option<Volume>,
    pub(crate) flow: Option<Flow>,
    pub(crate) load: Option<StatedLoad>,
    pub(crate) rim_height: Option<Length>,
    pub(crate) weir_height: Option<SignedLength>,
    pub(crate) standpipe_height: Option<Length>,
    pub(crate) pumped: Option<bool>,
    pub(crate) group: Option<Name>,
    pub(crate) trap: Option<TrapFile>,
    pub(crate) position: Option<Coordinates>,
}

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a trap")]
pub(crate) struct TrapFile {
    pub(crate) size: Option<NominalSize>,
    pub(crate) seal: Option<Length>,
    pub(crate) kind: Option<TrapKind>,
    pub(crate) outlet_drop: Option<Length>,
    pub(crate) outlet_offset: Option<Length>,
    pub(crate) removable: Option<bool>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a fitting")]
pub(crate) struct FittingFile {
    pub(crate) name: Name,
    pub(crate) pattern: Option<FittingPattern>,
    pub(crate) storey: Option<Name>,
    pub(crate) height: Option<SignedLength>,
    pub(crate) position: Option<Coordinates>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a cleanout")]
pub(crate) struct CleanoutFile {
    pub(crate) name: Name,
    pub(crate) size: Option<NominalSize>,
    pub(crate) clearance: Option<Length>,
    pub(crate) accessible: Option<bool>,
    pub(crate) storey: Option<Name>,
    pub(crate) height: Option<SignedLength>,
    pub(crate) position: Option<Coordinates>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a vent terminal")]
pub(crate) struct TerminalFile {
    pub(crate) name: Name,
    pub(crate) storey: Option<Name>,
    pub(crate) through: Option<Through>,
    pub(crate) height_above_roof: Option<Length>,
    pub(crate) roof_use: Option<RoofUse>,
    pub(crate) nearest_opening: Option<OpeningFile>,
    pub(crate) lot_line_distance: Option<Length>,
    pub(crate) height_above_ground: Option<Length>,
    pub(crate) enlarged_to: Option<NominalSize>,
    pub(crate) enlarged_inside: Option<Length>,
    pub(crate) height: Option<SignedLength>,
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
                f.write_str("the word `none`, or the opening's `distance` and `above`")
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

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "an air admittance valve")]
pub(crate) struct ValveFile {
    pub(crate) name: Name,
    pub(crate) kind: Option<ValveKind>,
    pub(crate) height_above_drain: Option<Length>,
    pub(crate) height_above_rim: Option<SignedLength>,
    pub(crate) accessible: Option<bool>,
    pub(crate) storey: Option<Name>,
    pub(crate) height: Option<SignedLength>,
    pub(crate) position: Option<Coordinates>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a point of disposal")]
pub(crate) struct DisposalFile {
    pub(crate) name: Name,
    pub(crate) storey: Option<Name>,
    pub(crate) height: Option<SignedLength>,
    pub(crate) position: Option<Coordinates>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a pipe")]
pub(crate) struct PipeFile {
    pub(crate) name: Option<Name>,
    pub(crate) size: Option<NominalSize>,
    pub(crate) length: Option<Length>,
    pub(crate) slope: Option<Slope>,
    /// Heights of the inside bottom above the datum, at the start and at the end of the pipe.
    pub(crate) inverts: Option<[SignedLength; 2]>,
    pub(crate) material: Option<Material>,
    pub(crate) support_spacing: Option<Length>,
    pub(crate) mid_storey_guide: Option<bool>,
    pub(crate) underground: Option<bool>,
    pub(crate) enters: Option<Inlet>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a test")]
pub(crate) struct TestFile {
    pub(crate) section: Name,
    pub(crate) medium: TestMedium,
    pub(crate) head: Option<Length>,
    pub(crate) duration: Option<Period>,
}
