//! Files and rule sets by name, and what to say of one that cannot be used.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io::Read;
use std::num::NonZeroUsize;
use std::path::Path;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use clap::{Args, ValueEnum};
use crownweir::{
    Day, Diagnostic, Diagnostics, Document, Limits, Network, RuleSet, Text, UnknownSizes, nearest, published,
};

use crate::output;

/// The width to which diagnostics are laid out.
const WIDTH: usize = 100;

/// Why an input cannot be used.
pub(crate) enum Trouble {
    /// In one line.
    Plain(String),
    /// Problems in files.
    InFile(Diagnostics),
}

impl Trouble {
    /// The first of what is wrong, in one line.
    pub(crate) fn first(&self) -> &str {
        match self {
            Self::Plain(message) => message,
            Self::InFile(problems) => problems.list.first().map_or("", |first| &first.message),
        }
    }

    pub(crate) fn print(&self) {
        match self {
            Self::Plain(message) => output::warn(&format!("error: {message}")),
            Self::InFile(problems) => {
                show(&problems.list);
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

/// Shows problems in their lines.
pub(crate) fn show(problems: &[Diagnostic]) {
    let renderer = Renderer::styled().term_width(WIDTH);
    for problem in problems {
        output::warn(&format!("{}\n", renderer.render(&report(problem))));
    }
}

fn report(problem: &Diagnostic) -> Vec<annotate_snippets::Group<'_>> {
    let place = &problem.place;
    let line = problem.line.as_str();
    // Columns count characters.
    let start = line
        .char_indices()
        .nth(place.column.saturating_sub(1))
        .map_or(line.len(), |(at, _)| at);
    // Only the first line: a mapping's range runs on to whatever follows it.
    let longest = line.get(start..).unwrap_or("").trim_end().len();
    let end = start + place.bytes.len().min(longest);
    let title = Level::ERROR.primary_title(&problem.message);
    let label = problem
        .expected
        .as_ref()
        .map(|expected| format!("expected {expected}"));
    let mut group = if line.is_empty() {
        let origin = annotate_snippets::Origin::path(&*place.file)
            .line(place.line)
            .char_column(place.column);
        annotate_snippets::Group::with_title(title).element(origin)
    } else {
        let mut annotation = AnnotationKind::Primary.span(start..end);
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

/// A network's file with the place of everything in it.
pub(crate) fn document(path: &str, limits: &Limits) -> Result<Document, Trouble> {
    Document::read(path, &bytes(path, limits)?, limits).map_err(Trouble::InFile)
}

pub(crate) fn network(path: &str) -> Result<Network, Trouble> {
    let limits = Limits::default();
    let bytes = bytes(path, &limits)?;
    Network::read(path, &bytes, &limits).map_err(|mut problems| {
        with_lines(&mut problems.list, path);
        Trouble::InFile(problems)
    })
}

/// Sizes that a network uses and the rule set does not know, each where it comes first, with those that it knows.
pub(crate) fn unknown_sizes(unknown: &UnknownSizes, rules: &RuleSet) -> Trouble {
    let ladder = &rules.ladder;
    let known = ladder.sizes().filter_map(|size| ladder.rung(size));
    let known: Vec<String> = known.map(|rung| rung.name.to_string()).collect();
    let mut problems = Diagnostics::keeping(Limits::default().diagnostics);
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for one in &unknown.0 {
        *counts.entry(one.size.to_string()).or_default() += 1;
    }
    for one in &unknown.0 {
        let (size, rules) = (one.size, &one.rules);
        // Where it comes again it has been told.
        let Some(count) = counts.remove(&size.to_string()) else {
            continue;
        };
        let others = match count.saturating_sub(1) {
            0 => String::new(),
            others => format!(" and {others} more"),
        };
        let message = format!(
            "the rule set `{rules}` knows no size {size}, that of `{}`{others}",
            one.element
        );
        let problem = Diagnostic::at(&one.file, one.line as usize, one.column as usize, message);
        problems.push(problem.expecting(format!("one of {}", known.join(", "))));
    }
    if let Some(first) = unknown.0.first() {
        with_lines(&mut problems.list, &first.file);
    }
    Trouble::InFile(problems)
}

/// A longer line shows nobody where a problem is, and is repeated with each of them.
const LONGEST_QUOTED: usize = 400;

/// Gives problems found in what was read from a file the lines of the file that they stand in, where they have none.
pub(crate) fn with_lines(problems: &mut [Diagnostic], path: &str) {
    if let Ok(bytes) = bytes(path, &Limits::default()) {
        let text = String::from_utf8_lossy(&bytes);
        let lines: Vec<&str> = text.lines().collect();
        let is_bare = |problem: &&mut Diagnostic| problem.line.is_empty() && problem.place.line > 0;
        for problem in problems.iter_mut().filter(is_bare) {
            let line = lines.get(problem.place.line.saturating_sub(1));
            let line = line.copied().filter(|line| line.len() <= LONGEST_QUOTED);
            problem.line = line.unwrap_or_default().to_owned();
            // As far as the line goes.
            problem.place.bytes = 0..problem.line.len();
        }
    }
}

/// A text that was asked for by the name of a published one or by its file.
struct Asked<'a> {
    name: &'a str,
    bytes: Cow<'static, [u8]>,
}

impl<'a> Asked<'a> {
    fn read(name: &'a str, folder: &Path, limits: &Limits, published: Published) -> Result<Self, Trouble> {
        if let Some(text) = (published.text)(name) {
            let bytes = Cow::Borrowed(text.as_bytes());
            return Ok(Self { name, bytes });
        }
        let path = folder.join(name);
        if !path.exists() {
            let near = nearest(name, published.names.iter().copied());
            let near = near.map(|near| format!("; did you mean `{near}`?"));
            return Err(Trouble::Plain(format!(
                "there is no {what} and no file `{name}`{}; published {what}s: {}",
                near.unwrap_or_default(),
                published.names.join(", "),
                what = published.what,
            )));
        }
        let bytes = Cow::Owned(bytes(&path.to_string_lossy(), limits)?);
        Ok(Self { name, bytes })
    }

    fn text(&self) -> Text<'_> {
        Text {
            name: self.name,
            bytes: &self.bytes,
        }
    }
}

/// What comes with the library under a name.
struct Published {
    what: &'static str,
    text: fn(&str) -> Option<&'static str>,
    names: Vec<&'static str>,
}

/// Whether a reference names a published rule set and published amendments only, so that it opens no file.
pub(crate) fn is_published(reference: &str) -> bool {
    let mut parts = reference.split('+');
    let base = parts.next().and_then(published::text);
    base.is_some() && parts.all(|name| published::amendment(name).is_some())
}

/// The rule set in a reference to one with amendments. A file's name may have a plus sign in it.
pub(crate) fn base_of(reference: &str) -> &str {
    in_folder(reference, Path::new(""))
}

fn in_folder<'r>(reference: &'r str, folder: &Path) -> &'r str {
    if folder.join(reference).exists() {
        return reference;
    }
    reference.split('+').next().unwrap_or(reference)
}

/// A rule set, by the name of a published one or by its file, and the amendments laid over it: `NAME+NAME+FILE`.
pub(crate) fn rules(reference: &str, on: Day) -> Result<RuleSet, Trouble> {
    rules_in(Path::new(""), reference, on)
}

/// The same with the CRC-32 of its texts, by which it is known again.
pub(crate) fn rules_with_checksum(reference: &str, on: Day) -> Result<(RuleSet, String), Trouble> {
    let (base, amendments) = texts_in(Path::new(""), reference, &Limits::rules())?;
    let mut sum = crc32fast::Hasher::new();
    for text in std::iter::once(&base).chain(&amendments) {
        sum.update(&text.bytes);
    }
    Ok((read(&base, &amendments, on)?, format!("{:08x}", sum.finalize())))
}

/// The same, files being looked for in a folder.
fn rules_in(folder: &Path, reference: &str, on: Day) -> Result<RuleSet, Trouble> {
    let (base, amendments) = texts_in(folder, reference, &Limits::rules())?;
    read(&base, &amendments, on)
}

/// The texts that a reference names: of the rule set, and of the amendments to it.
fn texts_in<'r>(
    folder: &Path,
    reference: &'r str,
    limits: &Limits,
) -> Result<(Asked<'r>, Vec<Asked<'r>>), Trouble> {
    let own = in_folder(reference, folder);
    let parts = reference.strip_prefix(own).unwrap_or_default().split('+').skip(1);
    let base = Published {
        what: "rule set",
        text: published::text,
        names: published::names().collect(),
    };
    let base = Asked::read(own, folder, limits, base)?;
    let mut amendments = Vec::new();
    for name in parts {
        let amendment = Published {
            what: "amendment",
            text: published::amendment,
            names: published::amendments().collect(),
        };
        amendments.push(Asked::read(name, folder, limits, amendment)?);
    }
    Ok((base, amendments))
}

fn read(base: &Asked<'_>, amendments: &[Asked<'_>], on: Day) -> Result<RuleSet, Trouble> {
    let texts: Vec<_> = amendments.iter().map(Asked::text).collect();
    RuleSet::amended(base.text(), &texts, on, &Limits::rules()).map_err(Trouble::InFile)
}

/// A network, and by what rule set it is asked about.
#[derive(Args)]
pub(crate) struct NetworkByRules {
    /// The network file, in YAML or JSON.
    pub(crate) network: String,
    /// A published rule set by name, or a rule set's file, and amendments after it, each with a plus sign before it;
    /// without it, the one that the network names.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]")]
    rules: Option<String>,
    #[command(flatten)]
    pub(crate) on: On,
}

impl NetworkByRules {
    /// The rule set for the network, which is read already.
    pub(crate) fn rules_for(&self, network: &Network) -> Result<RuleSet, Trouble> {
        rules_for(network, self.rules.as_deref(), self.on.day()?)
    }

    /// That rule set, with what it was asked for by.
    pub(crate) fn for_pipes<'a>(&'a self, rules: &'a RuleSet) -> ForPipes<'a> {
        let asked = self.rules.as_deref();
        ForPipes { rules, asked }
    }
}

/// The folder of a network's file: what the network names lies beside it, whoever reads it from where.
pub(crate) fn folder_of(network: &Network) -> &Path {
    Path::new(network.file()).parent().unwrap_or(Path::new(""))
}

/// The path of a file that a network names.
pub(crate) fn beside(network: &Network, file: &str) -> String {
    folder_of(network).join(file).to_string_lossy().into_owned()
}

/// The rule set asked for, or else the one that the network names.
pub(crate) fn rules_for(network: &Network, asked: Option<&str>, on: Day) -> Result<RuleSet, Trouble> {
    match (asked, network.rules()) {
        (Some(reference), _) => rules(reference, on),
        (None, Some(reference)) => rules_in(folder_of(network), reference, on),
        (None, None) => Err(Trouble::Plain(format!(
            "the network names no rule set; add `rules: NAME` to it or give `--rules NAME-OR-FILE` (published: {})",
            published::names().collect::<Vec<_>>().join(", ")
        ))),
    }
}

/// The value of an option that counts from 1.
pub(crate) fn number(text: &str) -> Result<NonZeroUsize, &'static str> {
    text.parse().map_err(|_| "a whole number of at least 1 is wanted")
}

/// At what to end with exit code 1.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum FailOn {
    /// A rule of the code is broken.
    Violation,
    /// That, or a rule that could not be settled.
    Undetermined,
    /// Nothing.
    Never,
}

/// The rule set for a network's pipes, and by what it was asked for, if not by the network.
#[derive(Clone, Copy)]
pub(crate) struct ForPipes<'a> {
    pub(crate) rules: &'a RuleSet,
    pub(crate) asked: Option<&'a str>,
}

/// The rule set for a network's framing: the one asked for, or that asked for its pipes where it speaks of framing itself,
/// or the one that the network names, or where it states framing the one that goes with the rule set for its pipes.
pub(crate) fn framing_rules_for(
    network: &Network,
    asked: Option<&str>,
    pipes: Option<ForPipes<'_>>,
    on: Day,
) -> Result<Option<RuleSet>, Trouble> {
    let here = Path::new("");
    let (folder, reference, named_by) = match (asked, pipes, network.framing_rules()) {
        (Some(reference), ..) => (here.to_owned(), reference, None),
        (None, Some(pipes), _) if pipes.asked.is_some() && pipes.rules.speaks_of_framing() => {
            return Ok(Some(pipes.rules.clone()));
        }
        (None, _, Some(reference)) => (
            folder_of(network).to_owned(),
            reference,
            Some("the network".to_owned()),
        ),
        (None, None, None) => return Ok(None),
        (None, Some(_), None) if network.framing().is_empty() => return Ok(None),
        (None, Some(ForPipes { rules, asked }), None) => {
            let Some(reference) = &rules.framing_rules else {
                return Ok(rules.speaks_of_framing().then(|| rules.clone()));
            };
            let (folder, own) = match asked {
                Some(own) => (here, own),
                None => (folder_of(network), network.rules().unwrap_or_default()),
            };
            let file = folder.join(in_folder(own, folder));
            let named_by = format!("the rule set `{}`", rules.name);
            (
                file.parent().unwrap_or(here).to_owned(),
                reference.as_str(),
                Some(named_by),
            )
        }
    };
    let told = |message: &str| {
        let named_by = named_by
            .as_ref()
            .map(|named_by| format!("; {named_by} names it under `framing_rules`"));
        Trouble::Plain(format!("{message}{}", named_by.unwrap_or_default()))
    };
    let rules = rules_in(&folder, reference, on).map_err(|trouble| match trouble {
        Trouble::Plain(message) => told(&message),
        in_file @ Trouble::InFile(_) => in_file,
    })?;
    if !rules.speaks_of_framing() {
        return Err(told(&format!(
            "the rule set `{reference}` has no rules for framing"
        )));
    }
    Ok(Some(rules))
}

/// The day on which the law is asked for: the one given, or today.
#[derive(Args)]
pub(crate) struct On {
    /// The day whose law applies, such as 2026-11-25; without it, today.
    #[arg(long, value_name = "DATE")]
    on: Option<Day>,
}

impl On {
    pub(crate) fn day(&self) -> Result<Day, Trouble> {
        if let Some(day) = self.on {
            return Ok(day);
        }
        let today = jiff::Zoned::now().date().to_string();
        today
            .parse()
            .map_err(|_| Trouble::Plain(format!("the clock says {today}; give `--on DATE`")))
    }
}
