//! Amendments: local law laid over a rule set, change by change, in the order given.
//!
//! It never edits text: the base and its amendments are merged part by part, each part keeps the file and line that
//! it came from, and what comes out is read as any rule set is.

#![expect(
    clippy::result_large_err,
    reason = "a problem is made once for each bad change"
)]

mod apply;
mod narrow;
mod parts;
mod precedence;
mod spot;
mod values;
pub(crate) mod wire;

use std::fmt;
use std::sync::Arc;

use crownweir_document::{Cursor, Decoded, Diagnostics, Document, Limits, Merge, Place, Tree, nearest};
use serde::Deserialize;

use self::apply::Layering;
pub(crate) use self::spot::flow;
use self::wire::{AmendmentFile, ChangeFile};
use crate::day::Day;
use crate::load::{Head, rule_set};
use crate::model::RuleSet;

/// The format's name and version, as the first key of a file states it.
pub(crate) const FORMAT: &str = "amendment/1";

/// The most levels of nesting in a condition or limit that changes have been laid over.
const MOST_DEPTH: usize = 40;

/// The most cells that floors and caps are laid over.
const MOST_BOUNDED: usize = 20_000;

/// The most days for each of which the changes that then come into force are tried.
const MOST_DAYS: usize = 40;

/// The most changes that one amendment makes.
const MOST_CHANGES: usize = 1000;

/// An amendment, as its file's head describes it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub struct Amendment {
    /// Name by which networks and commands ask for it.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// Where it is law, from the widest to the narrowest.
    pub jurisdiction: Vec<String>,
    /// The ordinance, code or rule that makes the changes, as citations name it.
    pub document: String,
    /// Its edition, year or date.
    pub edition: String,
    /// Whether it is law.
    pub status: Status,
    /// The day from which it is in force, where that is known.
    pub from: Option<Day>,
    /// The first day on which it no longer is.
    pub until: Option<Day>,
    /// Which text stands where another amendment changes the same thing.
    pub precedence: Option<Precedence>,
    /// Who adopted it.
    pub authority: Option<String>,
    /// Where its text was read.
    pub read_in: Option<String>,
    /// Whether it is real law or made up for a demonstration.
    pub origin: Origin,
    /// What a reader should know before relying on it.
    pub notes: Vec<String>,
}

/// Whether an amendment is law.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "status"))]
pub enum Status {
    /// Adopted.
    InForce,
    /// Proposed, or adopted and not yet approved.
    Pending,
    /// No longer.
    Repealed,
}

/// Which text stands where two amendments change the same thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(rename = "precedence")
)]
pub enum Precedence {
    /// This amendment's own.
    LocalText,
    /// The one that asks more.
    MostRestrictive,
    /// That of the amendments before it, which come from a wider jurisdiction.
    StateFirst,
}

/// Where an amendment comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "origin"))]
pub enum Origin {
    /// Public law.
    Public,
    /// Made up for a demonstration.
    Invented,
}

/// An amendment laid over a rule set.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Layer {
    /// The amendment.
    pub amendment: Arc<Amendment>,
    /// Whether it is in force on the day asked for.
    pub standing: Standing,
    /// How many of its changes do not hold: not in force on that day, or another amendment's text stands.
    pub void: usize,
    /// What it has to say of no rule alone, as far as it is in force.
    pub notes: Vec<String>,
}

/// What an amendment is on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Standing {
    /// In force.
    InForce,
    /// Not law yet: proposed, or adopted and not yet approved.
    Pending,
    /// Not in force before the day given.
    NotBefore(Day),
    /// No longer in force from the day given, or repealed without one.
    Over(Option<Day>),
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::InForce => f.write_str("in force"),
            Self::Pending => f.write_str("pending, not applied"),
            Self::NotBefore(day) => write!(f, "not in force before {day}, not applied"),
            Self::Over(Some(day)) => write!(f, "no longer in force since {day}, not applied"),
            Self::Over(None) => f.write_str("repealed, not applied"),
        }
    }
}

impl Amendment {
    /// What it is on a day.
    #[must_use]
    pub fn on(&self, day: Day) -> Standing {
        match (self.status, self.until) {
            (Status::Pending, _) => Standing::Pending,
            (Status::Repealed, None) => Standing::Over(None),
            (_, until) => standing(self.from, until, day),
        }
    }
}

/// What stands from one day until another is on a day.
fn standing(from: Option<Day>, until: Option<Day>, day: Day) -> Standing {
    match (from, until) {
        (Some(from), _) if day < from => Standing::NotBefore(from),
        (_, Some(until)) if day >= until => Standing::Over(Some(until)),
        _ => Standing::InForce,
    }
}

/// The part of a rule set that a change concerns.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Part {
    /// A rule, by its name.
    Rule(String),
    /// A table, by its name.
    Table(String),
    /// An arrangement, by its name.
    Arrangement(String),
    /// A definition, by its name.
    Definition(String),
    /// A matter that is not checked, by its name.
    Matter(String),
    /// The rule set as a whole.
    Whole,
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rule(name) => write!(f, "rule `{name}`"),
            Self::Table(name) => write!(f, "table `{name}`"),
            Self::Arrangement(name) => write!(f, "arrangement `{name}`"),
            Self::Definition(name) => write!(f, "definition of `{name}`"),
            Self::Matter(name) => write!(f, "matter `{name}`"),
            Self::Whole => f.write_str("the whole rule set"),
        }
    }
}

/// A change that an amendment makes, or would make.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct AppliedChange {
    /// The amendment.
    pub amendment: Arc<Amendment>,
    /// What it concerns.
    pub part: Part,
    /// What is done to it, in a few words.
    pub what: String,
    /// What stood there before, as written.
    pub was: Option<String>,
    /// What stands there now, as written.
    pub now: Option<String>,
    /// Where the amendment has it from, as citations name it.
    pub citation: Option<String>,
    /// Where the amendment says so.
    pub place: Place,
    /// Why the change does not hold after all, if it does not.
    pub void: Option<String>,
    /// Whether it is in force on the day asked for.
    pub standing: Standing,
}

impl fmt::Display for AppliedChange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let verb = if self.void.is_none() {
            "changed"
        } else {
            "not changed"
        };
        write!(f, "{verb} by {}: {}", self.amendment.name, self.what)?;
        match (&self.was, &self.now) {
            (Some(was), Some(now)) => write!(f, ", from {was} to {now}")?,
            (None, Some(now)) => write!(f, ": {now}")?,
            (Some(was), None) => write!(f, ", before {was}")?,
            (None, None) => {}
        }
        if let Some(void) = &self.void {
            write!(f, "; {void}")?;
        }
        write!(f, " ({})", self.source())
    }
}

impl AppliedChange {
    /// Where the amendment has it from, and where it says so.
    fn source(&self) -> String {
        let citation = self.citation.as_deref().unwrap_or("no citation");
        format!("{citation}; {}:{}", self.place.file, self.place.line)
    }
}

/// A text, and the name that messages call it by.
#[derive(Debug, Clone, Copy)]
pub struct Text<'a> {
    /// The name.
    pub name: &'a str,
    /// The bytes of the text.
    pub bytes: &'a [u8],
}

impl Amendment {
    /// Reads what the head of an amendment's file says of it.
    ///
    /// # Errors
    /// Everything that keeps the text from being an amendment, with its place. Whether its changes fit a base is told
    /// by [`RuleSet::amended`].
    pub fn read(text: Text<'_>, limits: &Limits) -> Result<Self, Diagnostics> {
        let mut problems = Diagnostics::keeping(limits.diagnostics);
        let document = Document::read(text.name, text.bytes, limits)?;
        let file = decode(&document, &mut problems);
        problems.or(file.map(|decoded| head(&decoded.value)))
    }
}

impl RuleSet {
    /// Reads a rule set and lays amendments over it, in the order given: those in force on the day `on`.
    ///
    /// # Errors
    /// Everything that keeps a text from being what it should be, and every change that does not fit what it finds:
    /// a base at another edition or revision, a part that is not there, a value other than `was` says, a change that
    /// changes nothing, two amendments that change the same thing without saying which stands.
    pub fn amended(
        base: Text<'_>,
        amendments: &[Text<'_>],
        on: Day,
        limits: &Limits,
    ) -> Result<Self, Diagnostics> {
        let plain = Self::read(base.name, base.bytes, limits)?;
        if amendments.is_empty() {
            return Ok(plain);
        }
        let mut problems = Diagnostics::keeping(limits.diagnostics);
        let laid = Laid::over(&plain, base, amendments, on, limits, &mut problems)?;
        let mut found = problems.like();
        let mut merged = rule_set(&laid.merge.document(), laid.heads, &mut found);
        // The base is sound by itself: what is wrong in it now comes of the amendments.
        for problem in &mut found.list {
            if *problem.place.file == *base.name && problem.help.is_none() {
                let part = spot::part_at(&laid.merge, &problem.place);
                problem.help = laid.layering.cause_of(problem, part.as_ref());
            }
        }
        problems.append(found);
        if let Some(merged) = &mut merged {
            merged.parts.layers = laid.layers;
            merged.parts.changes = laid.layering.changes;
        }
        problems.or(merged)
    }

    /// Why there is no such rule, arrangement or table, where the amendments tell: one has dropped it, or adds it on another
    /// day.
    #[must_use]
    pub fn why_absent(&self, part: &Part) -> Option<String> {
        let adds = |change: &&AppliedChange| change.what == "add";
        let change = self.changes_to(part).filter(adds).last();
        let change = change.or_else(|| self.changes_to(part).last())?;
        let by = &change.amendment.name;
        let told = match change.standing {
            Standing::InForce => return Some(change.to_string()),
            Standing::NotBefore(day) => format!("`{by}` adds it from {day} on"),
            standing => format!("`{by}` adds it, and is {standing}"),
        };
        Some(format!("{told} ({})", change.source()))
    }

    /// The changes that concern a part, those that do not hold too.
    pub fn changes_to(&self, part: &Part) -> impl Iterator<Item = &AppliedChange> {
        self.changes.iter().filter(move |change| change.part == *part)
    }
}

/// Amendments laid over a rule set, before what comes of it is read.
struct Laid<'a> {
    merge: Merge,
    heads: Vec<Head>,
    layers: Vec<Layer>,
    layering: Layering<'a>,
}

impl<'a> Laid<'a> {
    fn over(
        plain: &'a RuleSet,
        base: Text<'_>,
        amendments: &[Text<'_>],
        on: Day,
        limits: &Limits,
        problems: &mut Diagnostics,
    ) -> Result<Self, Diagnostics> {
        let mut merge = Merge::over(&Document::read(base.name, base.bytes, limits)?);
        let mut heads = Vec::new();
        let mut given: Vec<Given> = Vec::new();
        for text in amendments {
            let Some(one) = Given::read(*text, &mut merge, limits, problems) else {
                continue;
            };
            let (amendment, file) = (&one.amendment, &one.decoded.value);
            if given.iter().any(|other| other.amendment.name == amendment.name) {
                let what = format!("the amendment `{}` is given twice", amendment.name);
                problems.push(one.document.top().get("name").problem(what));
                continue;
            }
            heads.push(Head {
                document: file.document.as_str().into(),
                edition: file.edition.as_str().into(),
                checked: file.checked.map(|day| day.to_string().into()),
                also_cites: file.also_cites.clone(),
                amendment: Some(Arc::clone(amendment)),
            });
            given.push(one);
        }
        let mut found: Vec<Diagnostics> = given.iter().map(|_| problems.like()).collect();
        for (one, found) in given.iter_mut().zip(&mut found) {
            one.is_laid = is_over(&one.decoded.value, plain, one.document.top(), found)
                && !matches!(one.amendment.on(on), Standing::Over(_));
        }
        let mut layering = Layering::over(plain, on);
        foresee(&layering, &merge, &given, &mut found);
        for (one, found) in given.iter().zip(&mut found).filter(|(one, _)| one.is_laid) {
            layering.lay(&mut merge, one, found);
        }
        for (one, found) in given.iter().zip(found) {
            one.decoded.further(found, problems);
        }
        let layers = given.into_iter().map(|one| {
            let own = |change: &&AppliedChange| change.amendment == one.amendment && change.void.is_some();
            let standing = one
                .changes()
                .filter(|(change, _)| one.standing_of(change, on) == Standing::InForce);
            let notes = standing.filter_map(|(change, _)| change.note.as_ref());
            let notes = notes
                .filter(|note| note.rule.is_none())
                .map(|note| note.text.clone());
            Layer {
                standing: one.amendment.on(on),
                void: layering.changes.iter().filter(own).count(),
                notes: notes.collect(),
                amendment: one.amendment,
            }
        });
        Ok(Self {
            layers: layers.collect(),
            merge,
            heads,
            layering,
        })
    }
}

/// An amendment as read, to be laid over a base.
struct Given {
    amendment: Arc<Amendment>,
    decoded: Decoded<AmendmentFile>,
    document: Document,
    /// Its file, with the places that its parts keep in the merge.
    tree: Tree,
    /// Whether its changes are made at all: it was written for this code, and is not over.
    is_laid: bool,
}

impl Given {
    fn read(text: Text<'_>, merge: &mut Merge, limits: &Limits, problems: &mut Diagnostics) -> Option<Self> {
        let document = match Document::read(text.name, text.bytes, limits) {
            Ok(document) => document,
            Err(found) => {
                problems.append(found);
                return None;
            }
        };
        let mut decoded = decode(&document, problems)?;
        let document = decoded.document.take().unwrap_or(document);
        Some(Self {
            amendment: Arc::new(head(&decoded.value)),
            tree: merge.take_in(&document)?,
            decoded,
            document,
            is_laid: false,
        })
    }

    /// Its changes, each with what its file has.
    fn changes(&self) -> impl Iterator<Item = (&ChangeFile, (&Tree, Cursor<'_>))> {
        let trees = self.tree.get("changes").map(Tree::items).unwrap_or_default();
        let at = self.document.top().get("changes");
        let places = (0..trees.len()).map(move |index| at.item(index));
        self.decoded.value.changes.iter().zip(trees.iter().zip(places))
    }

    /// What a change is on a day, by the amendment's dates and its own.
    fn standing_of(&self, change: &ChangeFile, day: Day) -> Standing {
        match self.amendment.on(day) {
            Standing::InForce => standing(
                change.from.or(self.amendment.from),
                change.until.or(self.amendment.until),
                day,
            ),
            other => other,
        }
    }

    /// When a change that does not stand on a day will.
    fn coming(&self, change: &ChangeFile, day: Day) -> Option<Coming> {
        match self.standing_of(change, day) {
            Standing::NotBefore(_) => change.from.max(self.amendment.from).map(Coming::On),
            Standing::Pending => Some(Coming::Adopted),
            Standing::InForce | Standing::Over(_) => None,
        }
    }
}

/// When a change comes into force.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Coming {
    /// On a day.
    On(Day),
    /// Nobody knows when, if ever.
    Adopted,
}

/// Makes each change that is not in force yet on a copy, over those that will be in force when it comes, so that its
/// problems come to light before the day does.
fn foresee(layering: &Layering<'_>, merge: &Merge, given: &[Given], found: &mut [Diagnostics]) {
    let laid = || given.iter().filter(|one| one.is_laid);
    let coming = laid().flat_map(|one| {
        one.changes()
            .filter_map(|(change, _)| one.coming(change, layering.on))
    });
    let mut coming: Vec<Coming> = coming.collect();
    coming.sort_unstable();
    coming.dedup();
    // Of very many days the later ones are taken for one: each means laying all anew.
    let later = coming.split_off(coming.len().min(MOST_DAYS));
    let single = coming.into_iter().map(|one| one..=one);
    let rest = later
        .first()
        .zip(later.last())
        .map(|(first, last)| *first..=*last);
    let mut last = layering.on;
    for comes in single.chain(rest) {
        if let Coming::On(day) = *comes.end() {
            last = day;
        }
        let mut trial = Layering::over(layering.base, last);
        let mut copy = merge.clone();
        for (one, found) in given.iter().zip(&mut *found).filter(|(one, _)| one.is_laid) {
            trial.try_out(&mut copy, one, &comes, layering.on, found);
        }
    }
}

fn decode(document: &Document, problems: &mut Diagnostics) -> Option<Decoded<AmendmentFile>> {
    if !document.is_of_format(FORMAT, problems) {
        return None;
    }
    let decoded = document.decode_sound_parts::<AmendmentFile>(problems)?;
    let (file, at) = (&decoded.value, document.top());
    if file.changes.len() > MOST_CHANGES {
        let what = format!("the amendment makes {} changes", file.changes.len());
        let problem = at.get("changes").problem(what);
        problems.push(problem.expecting(format!("at most {MOST_CHANGES}")));
        return None;
    }
    let taken = if file.name.contains('+') {
        Some((
            "`+` stands between a rule set and its amendments",
            "a name without it",
        ))
    } else if file.name == file.base.rules {
        Some(("the rule set that it amends has that name", "a name of its own"))
    } else {
        None
    };
    if let Some((what, expected)) = taken {
        problems.push(at.get("name").problem(what).expecting(expected));
    }
    if file
        .from
        .zip(file.until)
        .is_some_and(|(from, until)| until <= from)
    {
        let problem = at.get("until").problem("it ends before it begins");
        problems.push(problem.expecting("a day after `from`"));
    }
    Some(decoded)
}

fn head(file: &AmendmentFile) -> Amendment {
    Amendment {
        name: file.name.clone(),
        title: file.title.clone(),
        jurisdiction: file.jurisdiction.clone(),
        document: file.document.clone(),
        edition: file.edition.clone(),
        status: file.status,
        from: file.from,
        until: file.until,
        precedence: file.precedence,
        authority: file.authority.clone(),
        read_in: file.source.as_ref().map(|source| match source.on {
            Some(day) => format!("{}, {day}", source.read_in),
            None => source.read_in.clone(),
        }),
        origin: file.origin,
        notes: file.notes.clone(),
    }
}

/// Whether an amendment's changes can be judged over a base: it is the rule set that they were written for, by its name or
/// by its document and edition. What else of the base is otherwise is told too, and keeps them from standing.
fn is_over(file: &AmendmentFile, base: &RuleSet, at: Cursor<'_>, problems: &mut Diagnostics) -> bool {
    let at = at.get("base");
    let stated = [
        ("rules", &file.base.rules, &base.name),
        ("document", &file.base.document, &base.document),
        ("edition", &file.base.edition, &base.edition),
    ];
    // With the one right, the other is misspelt.
    let is_same_code = file.base.rules == base.name
        || (file.base.document == base.document && file.base.edition == base.edition);
    // A base of several names other amendments too, and the document and edition of one of them.
    let names_amendments = file
        .base
        .rules
        .split_once('+')
        .is_some_and(|(first, _)| first == base.name);
    for (key, stated, own) in stated {
        if stated != own {
            let what =
                format!("the amendment was written for the {key} `{stated}`, and the base is of `{own}`");
            let problem = at.get(key).problem(what);
            problems.push(if names_amendments {
                problem.expecting(format!("`{own}`, of the rule set itself")).helped(
                    "a base is the rule set alone, whatever other amendments are laid over it before this one",
                )
            } else if is_same_code {
                // Of two editions neither is a slip for the other.
                let meant = nearest(stated, [own.as_str()]).filter(|_| key != "edition");
                problem
                    .expecting(format!("`{own}`, the base that stands below"))
                    .suggesting(meant)
            } else {
                problem.expecting(format!("a base of `{stated}`"))
            });
        }
    }
    let (first, last) = (file.base.from_revision, file.base.to_revision);
    if base.revision < first || last.is_some_and(|last| base.revision > last) {
        let key = if base.revision < first {
            "from_revision"
        } else {
            "to_revision"
        };
        let written = match last {
            Some(last) => format!("revisions {first} to {last}"),
            None => format!("revision {first} and later ones"),
        };
        let what = format!(
            "the amendment was written for {written}, and the base is at revision {}",
            base.revision
        );
        problems.push(
            at.get(key)
                .problem(what)
                .helped("compare each change with the base as it is now, then widen the range"),
        );
    }
    is_same_code
}
