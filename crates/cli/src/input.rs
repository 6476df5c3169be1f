//! Files and rule sets by name, and what to say of one that cannot be used.

use std::io::Read;
use std::path::Path;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use crownweir::{Diagnostics, Limits, Network, RuleSet, published};

use crate::output;

/// The width to which diagnostics are laid out.
const WIDTH: usize = 100;

/// Why an input cannot be used.
pub(crate) enum Trouble {
    /// In one line.
    Plain(String),
    /// Problems in a file, with the file's text to show them in.
    InFile { text: String, problems: Diagnostics },
}

impl Trouble {
    pub(crate) fn print(&self) {
        match self {
            Self::Plain(message) => output::warn(&format!("error: {message}")),
            Self::InFile { text, problems } => {
                let renderer = Renderer::styled().term_width(WIDTH);
                for problem in &problems.list {
                    output::warn(&format!("{}\n", renderer.render(&report(text, problem))));
                }
                let count = problems.list.len() + problems.omitted;
                let plural = if count == 1 { "problem" } else { "problems" };
                let omitted = match problems.omitted {
                    0 => String::new(),
                    omitted => format!(", {omitted} of them not shown"),
                };
                output::warn(&format!(
                    "error: {count} {plural} in the input{omitted}; nothing was checked"
                ));
            }
        }
    }
}

fn report<'a>(text: &'a str, problem: &'a crownweir::Diagnostic) -> Vec<annotate_snippets::Group<'a>> {
    let place = &problem.place;
    let start = place.bytes.start.min(text.len());
    // Only the first line: a mapping's range runs on to whatever follows it.
    let first = text
        .get(start..)
        .unwrap_or("")
        .lines()
        .next()
        .unwrap_or("")
        .trim_end()
        .len();
    let end = place.bytes.end.clamp(start, start + first);
    // Only the lines around: a file may be large, and one line may be.
    let from = text
        .get(..start)
        .and_then(|before| before.rfind('\n'))
        .map_or(0, |at| at + 1);
    let line = text.get(from..).unwrap_or("").lines().next().unwrap_or("");
    let title = Level::ERROR.primary_title(&problem.message);
    let label = problem
        .expected
        .as_ref()
        .map(|expected| format!("expected {expected}"));
    let mut group = if line.len() > 400 || text.is_empty() {
        let origin = annotate_snippets::Origin::path(&*place.file)
            .line(place.line)
            .char_column(place.column);
        annotate_snippets::Group::with_title(title).element(origin)
    } else {
        let mut annotation = AnnotationKind::Primary.span(start - from..end - from);
        if let Some(label) = label.filter(|label| label.len() < 120) {
            annotation = annotation.label(label);
        }
        let snippet = Snippet::source(line)
            .line_start(place.line)
            .path(&*place.file)
            .annotation(annotation);
        title.element(snippet)
    };
    if let Some(expected) = problem.expected.as_ref().filter(|expected| expected.len() >= 110) {
        group = group.element(Level::NOTE.message(format!("expected {expected}")));
    }
    if let Some(help) = &problem.help {
        group = group.element(Level::HELP.message(help));
    }
    vec![group]
}

/// The bytes of a file, but no more of them than will be read anyway.
pub(crate) fn bytes(path: &str, limits: &Limits) -> Result<Vec<u8>, Trouble> {
    let cannot = |error: std::io::Error| Trouble::Plain(format!("cannot read `{path}`: {error}"));
    let file = std::fs::File::open(path).map_err(cannot)?;
    if file.metadata().is_ok_and(|about| about.is_dir()) {
        return Err(Trouble::Plain(format!("cannot read `{path}`: it is a folder")));
    }
    let mut bytes = Vec::new();
    // One byte more than the limit, so that a larger file is known to be larger.
    let most = u64::try_from(limits.bytes).unwrap_or(u64::MAX).saturating_add(1);
    file.take(most).read_to_end(&mut bytes).map_err(cannot)?;
    Ok(bytes)
}

pub(crate) fn in_file(bytes: &[u8], problems: Diagnostics) -> Trouble {
    let text = String::from_utf8_lossy(bytes);
    // Places count from after a byte order mark.
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text).to_owned();
    Trouble::InFile { text, problems }
}

pub(crate) fn network(path: &str) -> Result<Network, Trouble> {
    let limits = Limits::default();
    let bytes = bytes(path, &limits)?;
    Network::read(path, &bytes, &limits).map_err(|problems| in_file(&bytes, problems))
}

/// A rule set by the name of a published one, or by its file.
pub(crate) fn rules(name: &str) -> Result<RuleSet, Trouble> {
    let limits = Limits::default();
    if let Some(text) = published::text(name) {
        return RuleSet::read(name, text.as_bytes(), &limits)
            .map_err(|problems| in_file(text.as_bytes(), problems));
    }
    if !Path::new(name).exists() {
        return Err(Trouble::Plain(format!(
            "there is no rule set and no file `{name}`; published rule sets: {}",
            published::NAMES.join(", ")
        )));
    }
    let bytes = bytes(name, &limits)?;
    RuleSet::read(name, &bytes, &limits).map_err(|problems| in_file(&bytes, problems))
}

/// The rule set asked for, or else the one that the network names.
pub(crate) fn rules_for(network: &Network, asked: Option<&str>) -> Result<RuleSet, Trouble> {
    match asked.or(network.rules()) {
        Some(name) => rules(name),
        None => Err(Trouble::Plain(format!(
            "the network names no rule set; add `rules: NAME` to it or give `--rules NAME-OR-FILE` (published: {})",
            published::NAMES.join(", ")
        ))),
    }
}
