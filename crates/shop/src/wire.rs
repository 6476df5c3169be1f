//! The dimensions file as written.

use crownweir_quantity::{Length, NominalSize};
use crownweir_vocabulary::Material;
use serde::Deserialize;

use crate::dimensions::{Basis, Part};

#[cfg(feature = "schema")]
use crownweir_document::schema::lists_may_be_empty;

/// Dimensions of pipes and fittings.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a file of dimensions: keys with values, such as `title: Fittings in hand`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "dimensions", transform = lists_may_be_empty))]
pub(crate) struct DimensionsFile {
    /// What kind of file this is. Checked before the rest is decoded.
    #[serde(rename = "crownweir")]
    #[cfg_attr(feature = "schema", schemars(extend("const" = crate::dimensions::FORMAT)))]
    pub(crate) _format: String,
    /// What it holds, in a few words.
    pub(crate) title: String,
    /// Names of one and the same size, such as `1-1/2 in` and `DN 40`: what is given for one is given for all.
    #[serde(default)]
    pub(crate) sizes: Vec<Vec<NominalSize>>,
    /// Pipes, by material.
    #[serde(default)]
    pub(crate) pipes: Vec<PipesFile>,
    /// Fittings, by material.
    #[serde(default)]
    pub(crate) fittings: Vec<FittingsFile>,
}

/// Where figures come from, and how they are known.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a citation, such as `{document: sheet of the maker, basis: published}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "citation")
)]
pub(crate) struct CiteFile {
    /// The document, with its table or page; what is published has one.
    pub(crate) document: Option<String>,
    /// How the figures are known.
    pub(crate) basis: Basis,
    /// The day on which they were last compared with their source, as year-month-day.
    pub(crate) checked: Option<String>,
    /// What a reader should know: what corroborates them, which sources disagree and why this one was taken.
    pub(crate) note: Option<String>,
}

/// Pipes of one standard.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "pipes of one standard, such as `{standard: ..., materials: [pvc], cite: {...}, rows: [...]}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "pipes", transform = lists_may_be_empty))]
pub(crate) struct PipesFile {
    /// The standard that they are made to.
    pub(crate) standard: String,
    /// The materials that it holds for.
    pub(crate) materials: Vec<Material>,
    /// Where the figures come from.
    pub(crate) cite: CiteFile,
    /// The lengths in which they are sold.
    #[serde(default)]
    pub(crate) stock: Vec<Length>,
    /// A line for each size.
    pub(crate) rows: Vec<PipeFile>,
}

/// A pipe of one size.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a pipe of one size, such as `{size: 2 in, outside: ..., inside: ...}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "pipe_size")
)]
pub(crate) struct PipeFile {
    /// Nominal size.
    pub(crate) size: NominalSize,
    /// Outside diameter.
    pub(crate) outside: Length,
    /// Inside diameter.
    pub(crate) inside: Length,
    /// Where this line comes from, if elsewhere than the rest.
    pub(crate) cite: Option<CiteFile>,
}

/// Fittings of one standard.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "fittings of one standard, such as `{standard: ..., materials: [pvc], cite: {...}, rows: [...]}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "fittings", transform = lists_may_be_empty))]
pub(crate) struct FittingsFile {
    /// The standard that they are made to.
    pub(crate) standard: String,
    /// The materials that it holds for.
    pub(crate) materials: Vec<Material>,
    /// Where the figures come from.
    pub(crate) cite: CiteFile,
    /// How far a pipe goes into a fitting, by size: to the stop of the socket. A fitting that is butted against its
    /// pipe has none.
    #[serde(default)]
    pub(crate) joints: Vec<JointFile>,
    /// A line for each pattern and size.
    #[serde(default)]
    pub(crate) rows: Vec<FittingFile>,
}

/// How a pipe of one size is joined.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a joint of one size, such as `{size: 2 in, engagement: 3/4 in}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "joint"))]
pub(crate) struct JointFile {
    /// Nominal size.
    pub(crate) size: NominalSize,
    /// How far the pipe goes in, from the face of the fitting to the stop.
    pub(crate) engagement: Option<Length>,
    /// The gap that is left between the pipe and the end of a fitting that it is butted against.
    pub(crate) gap: Option<Length>,
    /// How long the coupling is that holds the two together there: half of what it has over the gap is on the pipe.
    pub(crate) coupling: Option<Length>,
    /// The length of a coupling without a stop, for repairs.
    pub(crate) repair_coupling: Option<Length>,
    /// Where this line comes from, if elsewhere than the rest.
    pub(crate) cite: Option<CiteFile>,
}

/// A fitting of one pattern and size. What is left out is not known, and a piece that needs it is not cut.
#[derive(Debug, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a fitting of one pattern and size, such as `{pattern: wye, size: 2 in, branch: 3 in}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "fitting_size")
)]
pub(crate) struct FittingFile {
    /// Its pattern, or `cleanout` or `valve` for what holds a plug or an air admittance valve.
    #[cfg_attr(feature = "schema", schemars(with = "crate::schema::PartName"))]
    pub(crate) pattern: Part,
    /// Nominal size of all ends; or of the outlet, the inlet and the branch, in this order, where they differ.
    #[serde(deserialize_with = "one_or_more")]
    #[cfg_attr(feature = "schema", schemars(with = "crate::schema::Sizes"))]
    pub(crate) size: Vec<NominalSize>,
    /// From its centre to the stop of every end that has no figure of its own: of a fitting that is butted, to the end.
    pub(crate) centre_to_stop: Option<Length>,
    /// From its centre to the stop of the outlet.
    pub(crate) outlet: Option<Length>,
    /// From its centre to the stop of the inlet, straight through from the outlet.
    pub(crate) inlet: Option<Length>,
    /// From its centre to the stop of the branch.
    pub(crate) branch: Option<Length>,
    /// Where this line comes from, if elsewhere than the rest.
    pub(crate) cite: Option<CiteFile>,
}

/// A size, or a list of them.
fn one_or_more<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Vec<NominalSize>, D::Error> {
    struct Visitor;
    impl<'de> serde::de::Visitor<'de> for Visitor {
        type Value = Vec<NominalSize>;
        fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            f.write_str("a nominal size such as `2 in`, or those of outlet, inlet and branch as a list")
        }
        fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Self::Value, E> {
            text.parse().map(|size| vec![size]).map_err(E::custom)
        }
        fn visit_seq<A: serde::de::SeqAccess<'de>>(self, mut list: A) -> Result<Self::Value, A::Error> {
            let mut sizes = Vec::new();
            while let Some(size) = list.next_element()? {
                sizes.push(size);
            }
            if !(2..=3).contains(&sizes.len()) {
                return Err(serde::de::Error::invalid_length(sizes.len(), &self));
            }
            Ok(sizes)
        }
    }
    deserializer.deserialize_any(Visitor)
}
