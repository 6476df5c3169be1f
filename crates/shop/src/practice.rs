//! What the trade does where the code is silent: figures with their sources, never of this source code.
//!
//! It knows nothing of a network.

use crownweir_document::{Cursor, Diagnostics, Document, Limits};
use crownweir_quantity::{Length, NominalSize, Period};
use crownweir_vocabulary::Material;
use serde::Deserialize;

use crate::dimensions::Basis;
use crate::wire::CiteFile;

/// The format's name and version, as the first key of a file states it.
pub(crate) const FORMAT: &str = "practice/1";

/// The practice that comes with the library.
const PUBLISHED: &str = include_str!("../data/practice.yaml");

/// What the trade does where the code is silent.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a file of practice: keys with values, such as `title: Practice of our shop`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "practice")
)]
pub struct Practice {
    /// What kind of file this is. Checked before the rest is decoded.
    #[serde(rename = "crownweir")]
    #[cfg_attr(feature = "schema", schemars(extend("const" = FORMAT)))]
    _format: String,
    /// What it holds, in a few words.
    pub(crate) title: String,
    /// Where pipe is strapped.
    pub(crate) straps: Straps,
    /// How pipe is sawn; without it nothing is lost to the saw.
    pub(crate) sawing: Option<Sawing>,
    /// How the work is tested.
    pub(crate) tests: Tests,
    /// What is bought to make the joints.
    pub(crate) cements: Vec<Cement>,
}

/// Where pipe is strapped.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "where pipe is strapped, such as `{before_joining: {...}, held_by_fittings: {...}, ...}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "straps"))]
pub(crate) struct Straps {
    /// Which horizontal pieces are strapped before they are joined.
    pub(crate) before_joining: LongerThan,
    /// Which lines need no strap of their own.
    pub(crate) held_by_fittings: UpTo,
    /// How near a change of direction, the end of a branch or a trap the pipe is held.
    pub(crate) beside_fitting: Within,
    /// How far from the middle of a fitting a strap stays.
    pub(crate) clear_of_fitting: By,
    /// How near a coupling pipe that lies is held, and of which materials.
    pub(crate) beside_coupling: Beside,
    /// Where pipe that stands is held: at its foot, at floors and beside the bends that set it aside.
    pub(crate) standing: Standing,
}

/// Pieces longer than a length.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a length with its source, such as `{longer_than: 4 ft, cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "longer_than")
)]
pub(crate) struct LongerThan {
    /// The length.
    pub(crate) longer_than: Length,
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// Lines up to a length.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a length with its source, such as `{up_to: 1 ft, cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "up_to"))]
pub(crate) struct UpTo {
    /// The length.
    pub(crate) up_to: Length,
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// Within a distance.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a distance with its source, such as `{within: 1 ft, cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "within"))]
pub(crate) struct Within {
    /// The distance.
    pub(crate) within: Length,
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// Where pipe that stands is held, which has no figure of its own.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a source, such as `{cite: {...}}`")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "standing")
)]
pub(crate) struct Standing {
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// Within a distance, for pipe of some materials.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a distance with materials and its source, such as `{within: 18 in, materials: [cast_iron], cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "beside"))]
pub(crate) struct Beside {
    /// The distance.
    pub(crate) within: Length,
    /// The materials.
    pub(crate) materials: Vec<Material>,
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// By a distance.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a distance with its source, such as `{by: 3 in, cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "by"))]
pub(crate) struct By {
    /// The distance.
    pub(crate) by: Length,
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// How pipe is sawn.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "how pipe is sawn, such as `{each_cut: {loses: 1/16 in, cite: {...}}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "sawing"))]
pub(crate) struct Sawing {
    /// What each cut loses to the saw, where nobody states it.
    pub(crate) each_cut: Loses,
}

/// A length that is lost.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a length with its source, such as `{loses: 1/16 in, cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "loses"))]
pub(crate) struct Loses {
    /// The length.
    pub(crate) loses: Length,
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// How the work is tested.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "how the work is tested, such as `{most_head: {...}, never_with_air: {...}, wait: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "tests"))]
pub(crate) struct Tests {
    /// The most head that one section is given, where the rule set says nothing.
    pub(crate) most_head: Head,
    /// What is never tested with compressed air.
    pub(crate) never_with_air: Materials,
    /// How long the last joint waits before the test.
    pub(crate) wait: Wait,
}

/// A head of water.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a head of water with its source, such as `{head: 12 ft, cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "head"))]
pub(crate) struct Head {
    /// The head.
    pub(crate) head: Length,
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// Materials.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "materials with their source, such as `{materials: [pvc, abs], cite: {...}}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "materials")
)]
pub(crate) struct Materials {
    /// The materials.
    pub(crate) materials: Vec<Material>,
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// A time to wait.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a time to wait with its source, such as `{materials: [pvc], period: 1 h, cite: {...}}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "wait"))]
pub(crate) struct Wait {
    /// For joints of which materials.
    pub(crate) materials: Vec<Material>,
    /// How long.
    pub(crate) period: Period,
    /// Where it comes from.
    pub(crate) cite: CiteFile,
}

/// A cement or primer.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a cement or primer, such as `{name: cement, materials: [pvc], cite: {...}, joints_per_quart: [...]}`"
)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "cement"))]
pub(crate) struct Cement {
    /// What it is called, with its standard.
    pub(crate) name: String,
    /// For which pipe.
    pub(crate) materials: Vec<Material>,
    /// Where the figures come from.
    pub(crate) cite: CiteFile,
    /// How many joints of each size a quart makes.
    pub(crate) joints_per_quart: Vec<JointsFile>,
}

/// How many joints of a size a quart makes.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    deny_unknown_fields,
    expecting = "a size and how many joints of it, such as `{size: 2 in, joints: 60}`"
)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "joints_of_size")
)]
pub(crate) struct JointsFile {
    /// Nominal size.
    pub(crate) size: NominalSize,
    /// How many.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub(crate) joints: u32,
}

impl Practice {
    /// The practice that comes with the library.
    ///
    /// # Errors
    /// None, as a test shows.
    pub fn published() -> Result<Self, Diagnostics> {
        Self::read("practice.yaml", PUBLISHED.as_bytes(), &Limits::rules())
    }

    /// Reads a file of practice, called `name` in messages.
    ///
    /// # Errors
    /// Everything that keeps the text from being one, with its place.
    pub fn read(name: &str, text: &[u8], limits: &Limits) -> Result<Self, Diagnostics> {
        let mut problems = Diagnostics::keeping(limits.diagnostics);
        let document = Document::read(name, text, limits)?;
        if !document.is_of_format(FORMAT, &mut problems) {
            return problems.or(None);
        }
        let practice = document.decode::<Self>(&mut problems);
        if let Some(practice) = &practice {
            practice.check(document.top(), &mut problems);
        }
        problems.or(practice)
    }

    /// What the file is called.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.title
    }

    fn check(&self, top: Cursor<'_>, problems: &mut Diagnostics) {
        let straps = top.get("straps");
        let tests = top.get("tests");
        let mut cites = vec![
            (&self.straps.before_joining.cite, straps.get("before_joining")),
            (&self.straps.held_by_fittings.cite, straps.get("held_by_fittings")),
            (&self.straps.beside_fitting.cite, straps.get("beside_fitting")),
            (&self.straps.clear_of_fitting.cite, straps.get("clear_of_fitting")),
            (&self.straps.beside_coupling.cite, straps.get("beside_coupling")),
            (&self.straps.standing.cite, straps.get("standing")),
            (&self.tests.most_head.cite, tests.get("most_head")),
            (&self.tests.never_with_air.cite, tests.get("never_with_air")),
            (&self.tests.wait.cite, tests.get("wait")),
        ];
        if let Some(sawing) = &self.sawing {
            cites.push((&sawing.each_cut.cite, top.get("sawing").get("each_cut")));
        }
        for (index, cement) in self.cements.iter().enumerate() {
            let at = top.get("cements").item(index);
            cites.push((&cement.cite, at));
            for (number, row) in cement.joints_per_quart.iter().enumerate() {
                if row.joints == 0 {
                    let at = at.get("joints_per_quart").item(number).get("joints");
                    problems.push(at.problem("a quart that makes no joint"));
                }
            }
        }
        for (cite, at) in cites {
            if cite.document.is_none() && cite.basis == Basis::Published {
                problems.push(
                    at.get("cite")
                        .problem("what is published has a document that it was read in")
                        .expecting("`document: …`"),
                );
            }
        }
    }
}

fn known(basis: Basis) -> &'static str {
    match basis {
        Basis::Published => "published",
        Basis::Maker => "the maker's own",
        Basis::CommonPractice => "common practice",
        Basis::Memory => "from memory, to be checked",
        Basis::Invented => "invented",
    }
}

/// Where a figure comes from, in a few words.
pub(crate) fn cited(cite: &CiteFile) -> String {
    let from = match (&cite.document, cite.basis) {
        (Some(document), Basis::Published) => document.clone(),
        (Some(document), basis) => format!("{document}; {}", known(basis)),
        (None, basis) => known(basis).to_owned(),
    };
    match &cite.note {
        Some(note) => format!("{from}; {note}"),
        None => from,
    }
}
