//! Dimensions of pipes and fittings: data with its sources, never a figure of this source code.
//!
//! It infers nothing: no outside diameter from a nominal size, no take-off from a diameter.

use std::collections::HashMap;
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostics, Document, Limits, Place};
use crownweir_quantity::{Length, NominalSize};
use crownweir_vocabulary::{FittingPattern, Material};

use crate::wire::{CiteFile, DimensionsFile, FittingFile};

/// The format's name and version, as the first key of a file states it.
pub(crate) const FORMAT: &str = "dimensions/1";

/// The dimensions that come with the library.
const PUBLISHED: &str = include_str!("../data/dimensions.yaml");

/// Dimensions of pipes and fittings by material, size and pattern.
#[derive(Debug, Clone, Default)]
pub struct Dimensions {
    /// The titles of the files that they come from, the first to go by before the others.
    titles: Vec<String>,
    /// The first name of each size that has several.
    aliases: HashMap<NominalSize, NominalSize>,
    pipes: HashMap<(Material, NominalSize), PipeSize>,
    stock: HashMap<Material, Vec<Length>>,
    joints: HashMap<(Material, NominalSize), Joint>,
    fittings: HashMap<(Material, Part, Ends), FittingSize>,
}

/// How a dimension is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "basis"))]
#[non_exhaustive]
pub enum Basis {
    /// Read in the document cited or in one that quotes it.
    Published,
    /// Read in the maker's sheet of the very pipe or fitting, or measured on it.
    Maker,
    /// What the trade does; no document says so.
    CommonPractice,
    /// Written from memory; to be compared with the maker's sheet before pipe is cut by it.
    Memory,
    /// Made up for demonstration.
    Invented,
}

/// Where a figure comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Source {
    /// The standard that the thing is made to.
    pub standard: Arc<str>,
    /// The document that the figure was read in; none for common practice.
    pub document: Option<Arc<str>>,
    /// How it is known.
    pub basis: Basis,
    /// The day it was last compared with its source, as year-month-day.
    pub checked: Option<Arc<str>>,
    /// Anything a reader should know.
    pub note: Option<Arc<str>>,
    /// Where the file gives it.
    pub place: Place,
}

/// A pipe of one size.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct PipeSize {
    /// Outside diameter.
    pub outside: Length,
    /// Inside diameter.
    pub inside: Length,
    /// Where it comes from.
    pub source: Arc<Source>,
}

/// How a pipe of one size is joined to a fitting.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Joint {
    /// How far the pipe goes in, from the face to the stop; none where it is butted or not known.
    pub engagement: Option<Length>,
    /// The gap left where it is butted.
    pub gap: Option<Length>,
    /// Length of the coupling that holds the two together there.
    pub coupling: Option<Length>,
    /// The length of a coupling without a stop.
    pub repair_coupling: Option<Length>,
    /// Where it comes from.
    pub source: Arc<Source>,
}

impl Joint {
    /// How far the pipe is inside of what holds it. A coupling is as far on the pipe as on the fitting.
    pub(crate) fn held(&self) -> Option<Length> {
        let held = |coupling: Length| {
            coupling
                .checked_sub(self.gap.unwrap_or_default())?
                .checked_scale(1, 2)
        };
        self.engagement.or_else(|| self.coupling.and_then(held))
    }
}

/// A fitting of one pattern and size: from its centre to where the pipe stops, at each end.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct FittingSize {
    /// At the outlet.
    pub outlet: Option<Length>,
    /// At the inlet straight through.
    pub inlet: Option<Length>,
    /// At the branch.
    pub branch: Option<Length>,
    /// Where it comes from.
    pub source: Arc<Source>,
}

impl FittingSize {
    /// Whether both come from the same line of the data.
    pub(crate) fn is(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.source, &other.source)
            && (self.outlet, self.inlet, self.branch) == (other.outlet, other.inlet, other.branch)
    }
}

/// What a line of dimensions is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    /// A fitting of a pattern.
    Fitting(FittingPattern),
    /// A cleanout, at the end of a pipe or in line.
    Cleanout,
    /// The adapter of an air admittance valve.
    Valve,
}

impl Part {
    /// The words that are no fitting patterns.
    pub(crate) const OTHERS: [(&'static str, Self); 2] =
        [("cleanout", Self::Cleanout), ("valve", Self::Valve)];

    /// The word for it in files.
    pub(crate) fn key(self) -> &'static str {
        match self {
            Self::Fitting(pattern) => pattern.name(),
            Self::Cleanout => "cleanout",
            Self::Valve => "valve",
        }
    }

    /// Whether it has a branch beside its run.
    #[must_use]
    pub const fn has_branch(self) -> bool {
        match self {
            Self::Fitting(pattern) => pattern.has_branch(),
            Self::Cleanout | Self::Valve => false,
        }
    }
}

impl std::fmt::Display for Part {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Fitting(pattern) => pattern.fmt(f),
            Self::Cleanout => f.write_str("cleanout"),
            Self::Valve => f.write_str("air admittance valve"),
        }
    }
}

impl<'de> serde::Deserialize<'de> for Part {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let word = String::deserialize(deserializer)?;
        let other = Self::OTHERS.iter().find(|(name, _)| *name == word);
        match (word.parse(), other) {
            (Ok(pattern), _) => Ok(Self::Fitting(pattern)),
            (Err(_), Some((_, part))) => Ok(*part),
            (Err(_), None) => Err(serde::de::Error::custom(format_args!(
                "`{word}` is not the name of a fitting pattern, expected one of {}, cleanout, valve",
                FittingPattern::NAMES.join(", ")
            ))),
        }
    }
}

/// The nominal sizes of a fitting's ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Ends {
    /// Of the outlet.
    pub outlet: NominalSize,
    /// Of the inlet straight through.
    pub inlet: NominalSize,
    /// Of the branch; of a fitting without one, that of the outlet.
    pub branch: NominalSize,
}

impl Dimensions {
    /// The dimensions that come with the library.
    ///
    /// # Errors
    /// None, as a test shows.
    pub fn published() -> Result<Self, Diagnostics> {
        Self::read("dimensions.yaml", PUBLISHED.as_bytes(), &Limits::rules())
    }

    /// Reads a file of dimensions, called `name` in messages.
    ///
    /// # Errors
    /// Everything that keeps the text from being one, with its place.
    pub fn read(name: &str, text: &[u8], limits: &Limits) -> Result<Self, Diagnostics> {
        Self::default().with(name, text, limits)
    }

    /// These dimensions with those of a file before them, called `name` in messages: what the file gives goes before
    /// what stands here.
    ///
    /// # Errors
    /// Everything that keeps the text from being a file of dimensions, with its place.
    pub fn with(self, name: &str, text: &[u8], limits: &Limits) -> Result<Self, Diagnostics> {
        let mut problems = Diagnostics::keeping(limits.diagnostics);
        let document = Document::read(name, text, limits)?;
        if !document.is_of_format(FORMAT, &mut problems) {
            return problems.or(None);
        }
        let Some(file) = document.decode::<DimensionsFile>(&mut problems) else {
            return problems.or(None);
        };
        let mut own = Self {
            aliases: self.aliases,
            ..Self::default()
        };
        own.fill(&file, document.top(), &mut problems);
        let mut all = Self {
            titles: std::iter::once(file.title).chain(self.titles).collect(),
            aliases: own.aliases,
            pipes: self.pipes,
            stock: self.stock,
            joints: self.joints,
            fittings: self.fittings,
        };
        all.pipes.extend(own.pipes);
        all.stock.extend(own.stock);
        all.joints.extend(own.joints);
        all.fittings.extend(own.fittings);
        problems.or(Some(all))
    }

    /// The titles of the files that they come from, the first to go by before the others.
    #[must_use]
    pub fn titles(&self) -> &[String] {
        &self.titles
    }

    /// The first of the names of a size.
    #[must_use]
    pub fn size(&self, size: NominalSize) -> NominalSize {
        self.aliases.get(&size).copied().unwrap_or(size)
    }

    /// A pipe of a material and size.
    #[must_use]
    pub fn pipe(&self, material: Material, size: NominalSize) -> Option<&PipeSize> {
        self.pipes.get(&(material, self.size(size)))
    }

    /// The lengths in which pipe of a material is sold, the shortest first.
    #[must_use]
    pub fn stock(&self, material: Material) -> &[Length] {
        self.stock.get(&material).map_or(&[], Vec::as_slice)
    }

    /// How pipe of a material and size is joined to a fitting.
    #[must_use]
    pub fn joint(&self, material: Material, size: NominalSize) -> Option<&Joint> {
        self.joints.get(&(material, self.size(size)))
    }

    /// A fitting of a material, of which part and of what sizes.
    #[must_use]
    pub fn fitting(&self, material: Material, part: Part, ends: Ends) -> Option<&FittingSize> {
        let ends = Ends {
            outlet: self.size(ends.outlet),
            inlet: self.size(ends.inlet),
            branch: self.size(ends.branch),
        };
        self.fittings.get(&(material, part, ends))
    }

    fn fill(&mut self, file: &DimensionsFile, top: Cursor<'_>, problems: &mut Diagnostics) {
        for (index, names) in file.sizes.iter().enumerate() {
            let at = top.get("sizes").item(index);
            let Some((first, others)) = names.split_first() else {
                problems.push(at.problem("a size without a name"));
                continue;
            };
            for (number, other) in others.iter().enumerate() {
                let before = self.aliases.insert(*other, *first);
                if before.is_some_and(|before| before != *first) || self.aliases.contains_key(first) {
                    problems.push(at.item(number + 1).problem(format!(
                        "`{other}` or `{first}` stands among the names of two sizes"
                    )));
                }
            }
        }
        for (index, group) in file.pipes.iter().enumerate() {
            let at = top.get("pipes").item(index);
            let cite = Cite::new(&group.standard, &group.cite, at, problems);
            for length in &group.stock {
                if *length <= Length::ZERO {
                    problems.push(at.get("stock").problem("a pipe is sold in lengths above zero"));
                }
            }
            for (number, row) in group.rows.iter().enumerate() {
                let at = at.get("rows").item(number);
                if !(Length::ZERO < row.inside && row.inside < row.outside) {
                    problems.push(at.problem(format!(
                        "the inside diameter {} is not between zero and the outside diameter {}",
                        row.inside, row.outside
                    )));
                }
                let source = cite.of(row.cite.as_ref(), at, problems);
                for material in &group.materials {
                    let size = PipeSize {
                        outside: row.outside,
                        inside: row.inside,
                        source: Arc::clone(&source),
                    };
                    let before = self.pipes.insert((*material, self.size(row.size)), size);
                    if before.is_some() {
                        problems
                            .push(at.problem(format!("a second line for {material} pipe of {}", row.size)));
                    }
                }
            }
            for material in &group.materials {
                if !group.stock.is_empty() {
                    let stock = self.stock.entry(*material).or_default();
                    stock.extend(&group.stock);
                    stock.sort_unstable();
                    stock.dedup();
                }
            }
        }
        for (index, group) in file.fittings.iter().enumerate() {
            let at = top.get("fittings").item(index);
            let cite = Cite::new(&group.standard, &group.cite, at, problems);
            for (number, row) in group.joints.iter().enumerate() {
                let at = at.get("joints").item(number);
                if row.engagement.is_some() && row.gap.is_some() {
                    problems.push(
                        at.problem("a pipe goes into a fitting or is butted against it")
                            .expecting("one of `engagement` and `gap`"),
                    );
                }
                let gap = row.gap.unwrap_or_default();
                if row
                    .coupling
                    .is_some_and(|coupling| row.gap.is_none() || coupling <= gap)
                {
                    problems.push(
                        at.get("coupling")
                            .problem("a coupling holds what is butted, and is longer than the gap there")
                            .expecting("a `gap` beside it, and a longer coupling"),
                    );
                }
                let source = cite.of(row.cite.as_ref(), at, problems);
                for material in &group.materials {
                    let joint = Joint {
                        engagement: row.engagement,
                        gap: row.gap,
                        coupling: row.coupling,
                        repair_coupling: row.repair_coupling,
                        source: Arc::clone(&source),
                    };
                    let before = self.joints.insert((*material, self.size(row.size)), joint);
                    if before.is_some() {
                        problems.push(at.problem(format!(
                            "a second line for the joints of {material} pipe of {}",
                            row.size
                        )));
                    }
                }
            }
            for (number, row) in group.rows.iter().enumerate() {
                let at = at.get("rows").item(number);
                let source = cite.of(row.cite.as_ref(), at, problems);
                let Some(ends) = self.ends(row, at, problems) else {
                    continue;
                };
                for material in &group.materials {
                    let size = FittingSize {
                        outlet: row.outlet.or(row.centre_to_stop),
                        inlet: row.inlet.or(row.centre_to_stop),
                        branch: row.branch.or(row.centre_to_stop),
                        source: Arc::clone(&source),
                    };
                    let before = self.fittings.insert((*material, row.pattern, ends), size);
                    if before.is_some() {
                        problems.push(at.problem(format!(
                            "a second line for this {material} {} of the same size",
                            row.pattern
                        )));
                    }
                }
            }
        }
    }

    fn ends(&self, row: &FittingFile, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<Ends> {
        let mut sizes = row.size.iter().map(|size| self.size(*size));
        let outlet = sizes.next()?;
        let inlet = sizes.next().unwrap_or(outlet);
        let branch = sizes.next().unwrap_or(outlet);
        if !row.pattern.has_branch() && (row.size.len() > 2 || row.branch.is_some()) {
            problems.push(at.problem(format!("the pattern {} has no branch", row.pattern)));
            return None;
        }
        if row.pattern.has_branch() && row.size.len() == 2 {
            problems.push(
                at.get("size")
                    .problem(format!(
                        "the pattern {} has a branch, whose size is left out",
                        row.pattern
                    ))
                    .expecting("the sizes of outlet, inlet and branch"),
            );
            return None;
        }
        Some(Ends {
            outlet,
            inlet,
            branch,
        })
    }
}

/// The citation of a group, and what its lines have in common.
struct Cite {
    standard: Arc<str>,
    whole: Arc<Source>,
}

impl Cite {
    fn new(standard: &str, file: &CiteFile, at: Cursor<'_>, problems: &mut Diagnostics) -> Self {
        let standard: Arc<str> = standard.into();
        let whole = source(&standard, file, at.get("cite"), problems);
        Self { standard, whole }
    }

    fn of(&self, own: Option<&CiteFile>, at: Cursor<'_>, problems: &mut Diagnostics) -> Arc<Source> {
        own.map_or_else(
            || Arc::clone(&self.whole),
            |own| source(&self.standard, own, at.get("cite"), problems),
        )
    }
}

fn source(standard: &Arc<str>, file: &CiteFile, at: Cursor<'_>, problems: &mut Diagnostics) -> Arc<Source> {
    if file.document.is_none() && file.basis == Basis::Published {
        problems.push(
            at.problem("what is published has a document that it was read in")
                .expecting("`document: …`"),
        );
    }
    let text = |text: &Option<String>| text.as_deref().map(Arc::from);
    Arc::new(Source {
        standard: Arc::clone(standard),
        document: text(&file.document),
        basis: file.basis,
        checked: text(&file.checked),
        note: text(&file.note),
        place: at.place(),
    })
}
