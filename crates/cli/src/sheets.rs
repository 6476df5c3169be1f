//! The shop sheets of a network, for `crownweir shop` and for the page of `crownweir check`.

use crownweir::quantity::Length;
use crownweir::shop::{self, Dimensions, Job, Practice, Sheet, SheetKind};
use crownweir::{Day, Diagnostic, Limits, Measured, Network, RuleSet};

use crate::input::{self, ForPipes, Trouble};

/// What sheets need beside the network.
pub(crate) struct Beside<'a> {
    pub(crate) dimensions: Dimensions,
    pub(crate) practice: Practice,
    /// What each cut loses to the saw, where that is stated.
    pub(crate) kerf: Option<Length>,
    /// The rule set for pipes; without it no straps and no test are planned.
    pub(crate) rules: Option<&'a RuleSet>,
    /// The rule set for holes in framing.
    pub(crate) framing_rules: Option<RuleSet>,
}

impl<'a> Beside<'a> {
    /// What comes with the program, and what the network names.
    pub(crate) fn published(network: &Network, pipes: ForPipes<'a>, on: Day) -> Result<Self, Trouble> {
        Ok(Self {
            dimensions: dimensions(network, &[])?,
            practice: practice(None)?,
            kerf: None,
            rules: Some(pipes.rules),
            framing_rules: input::framing_rules_for(network, None, Some(pipes), on)?,
        })
    }
}

/// Sheets, and what of the network cannot be built.
pub(crate) struct Made {
    pub(crate) sheets: Vec<Sheet>,
    /// Told on the sheets that depend on it.
    pub(crate) unbuildable: Vec<Diagnostic>,
    /// The fittings whose dimensions are missing, as a file to be filled in.
    pub(crate) form: Option<String>,
}

/// Makes sheets of the kinds wanted.
pub(crate) fn made<'k>(
    network: &Network,
    beside: &Beside<'_>,
    kinds: impl Iterator<Item = &'k SheetKind>,
) -> Result<Made, Trouble> {
    let network = &*shop::anchored(network, &beside.dimensions).map_err(Trouble::InFile)?;
    let plain = |error: crownweir::UnknownSizes| Trouble::Plain(error.to_string());
    let framing_rules = beside.framing_rules.as_ref();
    let planned = framing_rules.map(|rules| shop::with_plates(network, rules));
    let planned = planned.transpose().map_err(plain)?;
    let framing = planned.as_ref().zip(framing_rules);
    let framing = framing.map(|(planned, rules)| Measured::new(planned, rules));
    let plumbing = beside.rules.map(|rules| Measured::new(network, rules));
    let mut job = Job::new(network, &beside.dimensions).with_practice(&beside.practice);
    if let Some(kerf) = beside.kerf {
        job = job.with_kerf(kerf);
    }
    if let Some(measured) = plumbing.transpose().map_err(plain)? {
        job = job.with_plumbing(measured);
    }
    if let Some(measured) = framing.transpose().map_err(plain)? {
        job = job.with_framing(measured);
    }
    Ok(Made {
        unbuildable: job.unbuildable(),
        sheets: kinds.map(|kind| kind.sheet(&job)).collect(),
        form: shop::form(&job),
    })
}

/// The practice of a file, or else the one that comes with the program.
pub(crate) fn practice(file: Option<&str>) -> Result<Practice, Trouble> {
    let limits = Limits::rules();
    let practice = match file {
        None => Practice::published(),
        Some(file) => Practice::read(file, &input::bytes(file, &limits)?, &limits),
    };
    practice.map_err(Trouble::InFile)
}

/// The most files of dimensions that a network may name.
const MOST_FILES: usize = 20;

/// The dimensions that come with the program, before them those of the files that the network names, and before these
/// those of further files.
pub(crate) fn dimensions(network: &Network, files: &[String]) -> Result<Dimensions, Trouble> {
    let limits = Limits::rules();
    let mut dimensions = Dimensions::published().map_err(Trouble::InFile)?;
    if network.dimensions().count() > MOST_FILES {
        return Err(Trouble::Plain(format!(
            "the network names more than {MOST_FILES} files under `dimensions`"
        )));
    }
    let own = network.dimensions().map(|file| {
        let file = input::beside(network, file);
        let bytes = input::bytes(&file, &limits).map_err(|trouble| {
            Trouble::Plain(format!(
                "{}; the network names it under `dimensions`",
                trouble.first()
            ))
        });
        (file, bytes)
    });
    let further = files
        .iter()
        .map(|file| (file.clone(), input::bytes(file, &limits)));
    for (file, bytes) in own.chain(further) {
        dimensions = dimensions
            .with(&file, &bytes?, &limits)
            .map_err(Trouble::InFile)?;
    }
    Ok(dimensions)
}
