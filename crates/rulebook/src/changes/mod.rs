//! Two rule sets compared by what they mean: how values are spelt, the order of keys and rules, comments and
//! places make no difference.
//!
//! It says what differs, never which is right.

mod expressions;
mod flows;
mod tables;
mod texts;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use crownweir_document::Place;
use crownweir_quantity::{Length, NominalSize, Notation};

use crate::amend::Part;
use crate::canonical::Canonical;
use crate::model::{Arrangement, Citation, Definitions, Matter, Rule, RuleSet, RuleSetParts};
use crate::value::{Ladder, Rung, Size};
use crate::words::Words;

/// One difference between two rule sets.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Change {
    /// Which section of the rule set it is in.
    pub section: Section,
    /// The size, definition, table, rule or arrangement, by its name; empty in the head.
    pub name: String,
    /// In a table, the row by its keys: each key's name and value. Empty elsewhere.
    pub keys: Vec<(String, String)>,
    /// What of it: `when`, `require`, `citation`, a column; `all` where it is there on one side only.
    pub part: String,
    /// What the first rule set has, in words; none where it has nothing of the kind.
    pub before: Option<String>,
    /// What the second has.
    pub after: Option<String>,
    /// Where the first has it, as far as that is known.
    pub place_before: Option<Place>,
    /// Where the second has it.
    pub place_after: Option<Place>,
}

/// A section of a rule set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Section {
    /// Its name, title, document, edition, revision and notes.
    Head,
    /// The ladder of sizes.
    Sizes,
    /// What terms mean.
    Definitions,
    /// How loads are reckoned.
    Loads,
    /// How water flows in the pipes.
    Hydraulics,
    /// What pipes take up in framing.
    Framing,
    /// Tables.
    Tables,
    /// What is asked of a trap that nothing protects.
    Protection,
    /// Ways of protecting a trap.
    Arrangements,
    /// Rules.
    Rules,
    /// What is not checked.
    NotChecked,
}

impl Section {
    /// Every section, in the order of a report.
    pub const ALL: &'static [Self] = &[
        Self::Head,
        Self::Sizes,
        Self::Definitions,
        Self::Loads,
        Self::Hydraulics,
        Self::Framing,
        Self::Tables,
        Self::Protection,
        Self::Arrangements,
        Self::Rules,
        Self::NotChecked,
    ];

    /// The section's name, as rule files have it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Head => "head",
            Self::Sizes => "sizes",
            Self::Definitions => "definitions",
            Self::Loads => "loads",
            Self::Hydraulics => "hydraulics",
            Self::Framing => "framing",
            Self::Tables => "tables",
            Self::Protection => "protection",
            Self::Arrangements => "arrangements",
            Self::Rules => "rules",
            Self::NotChecked => "not_checked",
        }
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let keys = self.keys.iter().map(|(name, value)| format!("{name} {value}"));
        let what: Vec<_> = keys
            .chain((self.part != ALL).then(|| self.part.clone()))
            .collect();
        let what = what.join(", ");
        let colon = if what.is_empty() { "" } else { ": " };
        match (&self.before, &self.after) {
            (Some(before), Some(after)) => write!(f, "{what}{colon}was {before}, now {after}"),
            (Some(before), None) => write!(f, "{what}{colon}dropped: {before}"),
            (None, Some(after)) => write!(f, "{what}{colon}added: {after}"),
            (None, None) => f.write_str(&what),
        }
    }
}

/// The part that stands for the whole, where one side has nothing of the name.
const ALL: &str = "all";

/// Everything in which two rule sets differ, section by section and by name.
#[must_use]
pub fn changes(before: &RuleSet, after: &RuleSet) -> Vec<Change> {
    let names = SizeNames::of(&before.ladder, &after.ladder);
    let mut found = Vec::new();
    let sides = Sides {
        before: Side::of(before, &names.before),
        after: Side::of(after, &names.after),
    };
    sides.head(&mut found);
    sides.sizes(&mut found);
    sides.definitions(&mut found);
    sides.loads(&mut found);
    sides.model(&mut found);
    sides.hydraulics(&mut found);
    sides.framing(&mut found);
    sides.tables(&mut found);
    sides.protection(&mut found);
    sides.arrangements(&mut found);
    sides.rules(&mut found);
    sides.not_checked(&mut found);
    found
}

/// One name for each size of either ladder, the same where the ladders share a name.
struct SizeNames {
    before: Vec<String>,
    after: Vec<String>,
}

impl SizeNames {
    fn of(before: &Ladder, after: &Ladder) -> Self {
        let mut taken = BTreeSet::new();
        let mut take = |names: &[NominalSize]| {
            let known = names.iter().find_map(|name| before.find(*name));
            let known = known.filter(|size| taken.insert(*size))?;
            before.rung(known).map(|rung| rung.name.to_string())
        };
        // Main names first: another size may list one of them beside its own.
        let main: Vec<_> = after.rungs.iter().map(|rung| take(&[rung.name])).collect();
        let pairs = after.rungs.iter().zip(main);
        Self {
            before: before.rungs.iter().map(|rung| rung.name.to_string()).collect(),
            after: pairs
                .map(|(rung, main)| {
                    main.or_else(|| take(&rung.also))
                        .unwrap_or_else(|| rung.name.to_string())
                })
                .collect(),
        }
    }
}

/// One of the rule sets compared.
struct Side<'a> {
    rules: &'a RuleSet,
    words: Words<'a>,
    sizes: &'a [String],
}

impl<'a> Side<'a> {
    /// Where a part is written, or the last amendment that has changed it.
    fn place_of(&self, part: &Part, written: &'a Place) -> &'a Place {
        let changes = self.rules.changes_to(part).filter(|change| change.void.is_none());
        changes.last().map_or(written, |change| &change.place)
    }

    fn place_of_rule(&self, rule: &'a Rule) -> &'a Place {
        self.place_of(&Part::Rule(rule.name.clone()), &rule.place)
    }

    fn place_of_arrangement(&self, arrangement: &'a Arrangement) -> &'a Place {
        self.place_of(&Part::Arrangement(arrangement.name.clone()), &arrangement.place)
    }

    fn of(rules: &'a RuleSet, sizes: &'a [String]) -> Self {
        Self {
            rules,
            words: Words::of(rules),
            sizes,
        }
    }

    fn size(&self, size: Size) -> String {
        self.sizes.get(usize::from(size.0)).cloned().unwrap_or_default()
    }

    /// What `with` makes of the spelling in which both sides' equal conditions read the same.
    fn canonical<T>(&self, with: impl FnOnce(&Canonical<'_>) -> T) -> T {
        with(&Canonical {
            tables: &self.rules.tables,
            size: &|size| self.size(size),
        })
    }
}

/// Both rule sets.
struct Sides<'a> {
    before: Side<'a>,
    after: Side<'a>,
}

/// What both sides have, as text.
type Pair = (Option<String>, Option<String>);

/// Where a change is: section, name, keys, and the places on both sides.
#[derive(Clone)]
struct At<'a> {
    section: Section,
    name: &'a str,
    keys: Vec<(String, String)>,
    before: Option<&'a Place>,
    after: Option<&'a Place>,
}

impl<'a> At<'a> {
    const fn new(section: Section, name: &'a str) -> Self {
        Self {
            section,
            name,
            keys: Vec::new(),
            before: None,
            after: None,
        }
    }

    const fn placed(mut self, before: Option<&'a Place>, after: Option<&'a Place>) -> Self {
        self.before = before;
        self.after = after;
        self
    }

    fn change(&self, part: &str, before: Option<String>, after: Option<String>) -> Change {
        Change {
            section: self.section,
            name: self.name.to_owned(),
            keys: self.keys.clone(),
            part: part.to_owned(),
            before,
            after,
            place_before: self.before.cloned(),
            place_after: self.after.cloned(),
        }
    }

    /// A change in words, or exactly where words round the difference away.
    fn told(&self, part: &str, words: Pair, exact: Pair) -> Change {
        let (before, after) = if words.0 == words.1 { exact } else { words };
        self.change(part, before, after)
    }

    /// A change if the two texts differ.
    fn text(&self, part: &str, before: String, after: String, found: &mut Vec<Change>) {
        if before != after {
            found.push(self.change(part, Some(before), Some(after)));
        }
    }

    /// A change if the two citations say something else.
    fn citation(&self, part: &str, before: &Citation, after: &Citation, found: &mut Vec<Change>) {
        self.text(part, texts::citation(before), texts::citation(after), found);
    }

    /// The same for what may be left out.
    fn optional(&self, part: &str, before: Option<String>, after: Option<String>, found: &mut Vec<Change>) {
        if before != after {
            found.push(self.change(part, before, after));
        }
    }
}

/// Things of both sides by name, in the order of the names.
type Paired<'a, T> = BTreeMap<&'a str, (Option<&'a T>, Option<&'a T>)>;

fn paired<'a, T>(before: &'a [T], after: &'a [T], name: impl Fn(&'a T) -> &'a str) -> Paired<'a, T> {
    let mut pairs: Paired<'a, T> = BTreeMap::new();
    for one in before {
        pairs.entry(name(one)).or_default().0 = Some(one);
    }
    for one in after {
        pairs.entry(name(one)).or_default().1 = Some(one);
    }
    pairs
}

impl Sides<'_> {
    fn head(&self, found: &mut Vec<Change>) {
        let at = At::new(Section::Head, "");
        let parts = |rules: &RuleSet| {
            // Every field by name: a further one has to be given its place here.
            let RuleSetParts {
                name,
                title,
                document,
                edition,
                revision,
                framing_rules: _,
                notes: _,
                ladder: _,
                definitions: _,
                loads: _,
                hydraulics: _,
                framing: _,
                tables: _,
                rules: _,
                not_checked: _,
                arrangements: _,
                protection: _,
                layers: _,
                // What amendments do is told by what comes of it.
                changes: _,
            } = &**rules;
            [
                ("name", name.clone()),
                ("title", title.clone()),
                ("document", document.clone()),
                ("edition", edition.clone()),
                ("revision", revision.to_string()),
            ]
        };
        for ((part, before), (_, after)) in parts(self.before.rules).into_iter().zip(parts(self.after.rules))
        {
            at.text(part, before, after, found);
        }
        at.optional(
            "framing_rules",
            self.before.rules.framing_rules.clone(),
            self.after.rules.framing_rules.clone(),
            found,
        );
        let layers = |rules: &RuleSet| {
            let layers = rules.layers.iter();
            let told: Vec<_> = layers
                .map(|layer| format!("{} ({})", layer.amendment.name, layer.standing))
                .collect();
            (!told.is_empty()).then(|| told.join(", "))
        };
        at.optional(
            "amendments",
            layers(self.before.rules),
            layers(self.after.rules),
            found,
        );
        let (before, after) = (&self.before.rules.notes, &self.after.rules.notes);
        let gone = before.iter().filter(|note| !after.contains(note));
        found.extend(gone.map(|note| at.change("note", Some(note.clone()), None)));
        let new = after.iter().filter(|note| !before.contains(note));
        found.extend(new.map(|note| at.change("note", None, Some(note.clone()))));
    }

    fn not_checked(&self, found: &mut Vec<Change>) {
        let (before, after) = (&self.before.rules.not_checked, &self.after.rules.not_checked);
        for (name, (old, new)) in paired(before, after, |matter| &matter.name) {
            let at = At::new(Section::NotChecked, name)
                .placed(old.map(|old| &old.place), new.map(|new| &new.place));
            let told = |matter: &Matter| format!("{} [{}]", matter.title, matter.citation);
            at.optional(ALL, old.map(told), new.map(told), found);
        }
    }

    fn sizes(&self, found: &mut Vec<Change>) {
        let diameter = |rung: &Rung| Some(length(rung.diameter));
        let (old, new) = (&self.before.rules.ladder.rungs, &self.after.rules.ladder.rungs);
        for (name, rung) in self.after.sizes.iter().zip(new) {
            let at = At::new(Section::Sizes, name);
            let known = self.before.sizes.iter().position(|known| known == name);
            let Some(known) = known.and_then(|known| old.get(known)) else {
                found.push(at.change(ALL, None, diameter(rung)));
                continue;
            };
            if known.diameter != rung.diameter {
                let exact = (Some(known.diameter.to_string()), Some(rung.diameter.to_string()));
                found.push(at.told("diameter", (diameter(known), diameter(rung)), exact));
            }
            let names = |rung: &Rung| {
                let mut names: Vec<_> = std::iter::once(&rung.name)
                    .chain(&rung.also)
                    .map(ToString::to_string)
                    .collect();
                names.sort();
                names.join(", ")
            };
            at.text("names", names(known), names(rung), found);
        }
        let gone = self.before.sizes.iter().zip(old);
        for (name, rung) in gone.filter(|(name, _)| !self.after.sizes.contains(name)) {
            let at = At::new(Section::Sizes, name);
            found.push(at.change(ALL, diameter(rung), None));
        }
    }

    fn definitions(&self, found: &mut Vec<Change>) {
        let (before, after) = (&self.before.rules.definitions, &self.after.rules.definitions);
        for ((name, old), (_, new)) in defined(before).into_iter().zip(defined(after)) {
            let at = At::new(Section::Definitions, name);
            let (old, old_citation) = old.unzip();
            let (new, new_citation) = new.unzip();
            at.optional("meaning", old, new, found);
            at.optional(
                "citation",
                old_citation.map(texts::citation),
                new_citation.map(texts::citation),
                found,
            );
        }
    }
}

fn length(length: Length) -> String {
    length.in_notation(Notation::Inches).to_string()
}

/// Each definition in words, with its citation; nothing for what is left out.
fn defined(definitions: &Definitions) -> [(&'static str, Option<(String, &crate::model::Citation)>); 6] {
    let Definitions {
        vertical,
        branch_interval,
        bathroom_group,
        trap_arm,
        vent_length,
        sharp_turn,
    } = definitions;
    let interval = branch_interval.least.map_or_else(
        || "each storey with a connection".to_owned(),
        |least| format!("at least {least} between connections"),
    );
    let places = |places: &[Vec<crownweir_vocabulary::FixtureType>]| {
        let places = places.iter().map(|fixtures| {
            let mut names: Vec<_> = fixtures.iter().map(|fixture| fixture.name()).collect();
            names.sort_unstable();
            names.join(" or ")
        });
        places.collect::<Vec<_>>().join(", ")
    };
    let said = |meaning: &str, citation| Some((meaning.to_owned(), citation));
    [
        (
            "vertical",
            Some((
                format!("at most {} from plumb", vertical.most_from_vertical),
                &vertical.citation,
            )),
        ),
        ("branch_interval", Some((interval, &branch_interval.citation))),
        (
            "bathroom_group",
            Some((
                format!(
                    "needs {}; may have {}",
                    places(&bathroom_group.needs),
                    places(&bathroom_group.may_have)
                ),
                &bathroom_group.citation,
            )),
        ),
        (
            "trap_arm",
            if trap_arm.from_outlet {
                said("measured from the fixture outlet", &trap_arm.citation)
            } else {
                said("measured from the trap weir", &trap_arm.citation)
            },
        ),
        (
            "vent_length",
            if vent_length.at_main_vent {
                said("measured to the stack vent or vent stack", &vent_length.citation)
            } else {
                said("measured to open air", &vent_length.citation)
            },
        ),
        (
            "sharp_turn",
            sharp_turn
                .as_ref()
                .map(|turn| (format!("more than {}", turn.more_than), &turn.citation)),
        ),
    ]
}
