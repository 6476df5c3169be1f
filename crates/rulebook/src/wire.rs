//! The rule file as written. Conditions, operands and rows stay as they are here; `load` reads them.

use std::collections::BTreeMap;
use std::fmt;

use crownweir_quantity::{Angle, Flow, Length, LoadUnit, NominalSize, Viscosity};
use crownweir_vocabulary::{FixtureType, Pattern};
use serde::Deserialize;
use serde::de::{Deserializer, Error, Visitor};
use serde_yaml::Value;

use crate::facts::Subject;
use crate::model::{Basis, Severity};
use crate::table::Match;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a rule set")]
pub(crate) struct RuleSetFile {
    /// Checked before the rest is decoded; stands here so that it is a known key.
    #[serde(rename = "crownweir")]
    pub(crate) _format: String,
    pub(crate) name: String,
    pub(crate) title: String,
    pub(crate) document: String,
    pub(crate) edition: String,
    pub(crate) revision: u32,
    pub(crate) checked: Option<String>,
    /// Other documents that citations may name.
    #[serde(default)]
    pub(crate) also_cites: Vec<CitedFile>,
    #[serde(default)]
    pub(crate) notes: Vec<String>,
    pub(crate) sizes: Vec<SizeFile>,
    pub(crate) definitions: DefinitionsFile,
    pub(crate) loads: LoadsFile,
    pub(crate) hydraulics: Option<HydraulicsFile>,
    pub(crate) tables: BTreeMap<String, TableFile>,
    pub(crate) protection: ProtectionFile,
    pub(crate) arrangements: Vec<ArrangementFile>,
    pub(crate) rules: Vec<RuleFile>,
}

/// A document that citations may name beside the file's own.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a document with its edition")]
pub(crate) struct CitedFile {
    pub(crate) document: String,
    pub(crate) edition: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a citation")]
pub(crate) struct CitationFile {
    pub(crate) document: Option<String>,
    pub(crate) edition: Option<String>,
    pub(crate) section: Option<String>,
    pub(crate) basis: Basis,
    pub(crate) checked: Option<String>,
    pub(crate) note: Option<String>,
    /// What it stands in place of.
    pub(crate) amends: Option<Box<CitationFile>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a nominal size")]
pub(crate) struct SizeFile {
    pub(crate) size: NominalSize,
    #[serde(default)]
    pub(crate) also: Vec<NominalSize>,
    pub(crate) diameter: Length,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "definitions")]
pub(crate) struct DefinitionsFile {
    pub(crate) vertical: VerticalFile,
    pub(crate) branch_interval: BranchIntervalFile,
    pub(crate) bathroom_group: BathroomGroupFile,
    pub(crate) trap_arm: TrapArmStartFile,
    pub(crate) vent_length: VentLengthEndFile,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "the definition of vertical")]
pub(crate) struct VerticalFile {
    pub(crate) most_from_vertical: Angle,
    pub(crate) cite: CitationFile,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "the definition of a branch interval")]
pub(crate) struct BranchIntervalFile {
    pub(crate) counted_by: CountedBy,
    pub(crate) least: Option<Length>,
    pub(crate) cite: CitationFile,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum CountedBy {
    Distance,
    Storey,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "the definition of a bathroom group")]
pub(crate) struct BathroomGroupFile {
    pub(crate) needs: Vec<Vec<FixtureType>>,
    #[serde(default)]
    pub(crate) may_have: Vec<Vec<FixtureType>>,
    pub(crate) cite: CitationFile,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "the definition of a trap arm's length")]
pub(crate) struct TrapArmStartFile {
    pub(crate) measured_from: TrapArmPoint,
    pub(crate) cite: CitationFile,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum TrapArmPoint {
    TrapWeir,
    FixtureOutlet,
}

#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "the definition of a vent's developed length"
)]
pub(crate) struct VentLengthEndFile {
    pub(crate) measured_to: VentPoint,
    pub(crate) cite: CitationFile,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum VentPoint {
    MainVent,
    OpenAir,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "how loads are reckoned")]
pub(crate) struct LoadsFile {
    #[serde(default)]
    pub(crate) unit: LoadUnit,
    #[serde(default)]
    pub(crate) model: ModelFile,
    /// With `sum`: a drain's probable flow.
    pub(crate) probable_flow: Option<Value>,
    /// With `root_sum`: what the root of the sum is multiplied by.
    pub(crate) factor: Option<Value>,
    /// With `root_sum`: the flow that a load of 1 stands for.
    pub(crate) unit_flow: Option<Flow>,
    /// Where the model is said.
    pub(crate) cite: Option<CitationFile>,
    pub(crate) fixture: Vec<LoadCaseFile>,
    pub(crate) group: Option<Value>,
}

/// How a flow follows from loads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ModelFile {
    #[default]
    Sum,
    RootSum,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "how water flows in the pipes")]
pub(crate) struct HydraulicsFile {
    pub(crate) formula: FormulaFile,
    /// A pipe's true bore.
    pub(crate) bore: Value,
    /// A ratio with `manning`, a length with `colebrook_white`.
    pub(crate) roughness: Value,
    /// With `colebrook_white`: the kinematic viscosity of the water.
    pub(crate) viscosity: Option<Viscosity>,
    /// How far a drain may be filled, as depth over bore.
    pub(crate) filling: Option<Value>,
    /// What share of a stack's bore the sheet of water may fill.
    pub(crate) stack_filling: Option<Value>,
    /// The friction factor of air in vents, in the form in which the loss is `f L/D V^2/2g`.
    pub(crate) air_friction: Option<Value>,
    pub(crate) cite: CitationFile,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum FormulaFile {
    Manning,
    ColebrookWhite,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a case of a fixture's load")]
pub(crate) struct LoadCaseFile {
    #[serde(default)]
    pub(crate) when: Value,
    pub(crate) load: Option<Value>,
    /// In place of a load: a flow that adds to the probable flow in full.
    pub(crate) flow: Option<Value>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a table")]
pub(crate) struct TableFile {
    pub(crate) title: String,
    pub(crate) cite: CitationFile,
    pub(crate) keys: Vec<KeyFile>,
    pub(crate) across: Option<AcrossFile>,
    #[serde(default)]
    pub(crate) columns: Vec<ColumnFile>,
    pub(crate) rows: Vec<Value>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a key of a table")]
pub(crate) struct KeyFile {
    pub(crate) name: String,
    pub(crate) of: DimensionFile,
    #[serde(rename = "match")]
    pub(crate) matching: Match,
    pub(crate) unit: Option<String>,
}

/// A key whose values stand across the head of the table.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "the key that runs across a table's head")]
pub(crate) struct AcrossFile {
    pub(crate) name: String,
    pub(crate) of: DimensionFile,
    #[serde(rename = "match")]
    pub(crate) matching: Match,
    pub(crate) at: Vec<Value>,
    pub(crate) gives: ColumnFile,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a column of a table")]
pub(crate) struct ColumnFile {
    pub(crate) name: String,
    pub(crate) of: DimensionFile,
    pub(crate) unit: Option<String>,
}

/// The name of a dimension, or the name of a fact whose words the column holds.
#[derive(Debug, Clone)]
pub(crate) struct DimensionFile(pub(crate) String);

impl<'de> Deserialize<'de> for DimensionFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(DimensionFile)
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "the rule for a trap that nothing protects")]
pub(crate) struct ProtectionFile {
    pub(crate) rule: String,
    pub(crate) title: String,
    pub(crate) cite: CitationFile,
    pub(crate) message: String,
    pub(crate) advice: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "an arrangement")]
pub(crate) struct ArrangementFile {
    pub(crate) arrangement: String,
    pub(crate) title: String,
    pub(crate) pattern: Pattern,
    pub(crate) cite: CitationFile,
    #[serde(default)]
    pub(crate) conditions: Vec<ArrangementConditionFile>,
    /// Whether it protects a trap only with the authority's permission.
    #[serde(default)]
    pub(crate) needs_approval: bool,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a condition of an arrangement")]
pub(crate) struct ArrangementConditionFile {
    pub(crate) require: Value,
    pub(crate) cite: CitationFile,
    pub(crate) message: String,
    /// What would make it hold.
    pub(crate) advice: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a rule")]
pub(crate) struct RuleFile {
    pub(crate) rule: String,
    pub(crate) title: String,
    pub(crate) subject: SubjectFile,
    #[serde(default)]
    pub(crate) when: Value,
    pub(crate) require: Option<Value>,
    #[serde(default)]
    pub(crate) confirm_on_site: bool,
    pub(crate) severity: Option<Severity>,
    pub(crate) cite: CitationFile,
    pub(crate) message: String,
    pub(crate) advice: Option<String>,
    #[serde(default)]
    pub(crate) show: BTreeMap<String, Value>,
    /// Where it does not apply after all.
    #[serde(default)]
    pub(crate) exceptions: Vec<ExceptionFile>,
    /// Whether the code leaves its limit to the adopting authority.
    #[serde(default)]
    #[expect(dead_code, reason = "asked for by amendments, which see the file as written")]
    pub(crate) left_to_adopter: bool,
    /// What a reader of its findings should know and no network can show.
    #[serde(default)]
    pub(crate) notes: Vec<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, expecting = "an exception to a rule")]
pub(crate) struct ExceptionFile {
    /// Its name, unique within the rule.
    pub(crate) exception: String,
    /// When it holds.
    pub(crate) when: Value,
    pub(crate) cite: CitationFile,
}

#[derive(Debug, Clone, Copy)]
pub(crate) struct SubjectFile(pub(crate) Subject);

impl<'de> Deserialize<'de> for SubjectFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct SubjectVisitor;
        impl Visitor<'_> for SubjectVisitor {
            type Value = SubjectFile;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "a subject, one of {}", Subject::NAMES.join(", "))
            }
            fn visit_str<E: Error>(self, name: &str) -> Result<SubjectFile, E> {
                Subject::from_name(name).map(SubjectFile).ok_or_else(|| {
                    E::custom(format_args!(
                        "`{name}` is not a subject, expected one of {}",
                        Subject::NAMES.join(", ")
                    ))
                })
            }
        }
        deserializer.deserialize_str(SubjectVisitor)
    }
}
