//! The changes, made one after the other in the tree of the rule set.

use std::ops::RangeInclusive;
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostic, Diagnostics, Merge, Tree};
use serde_yaml::Value as Yaml;

use super::precedence::{Stricter, Touch, Touches};
use super::spot::{Kind, Path, Step, at, flow, way as way_along};
use super::wire::ChangeFile;
use super::{Amendment, AppliedChange, Coming, Given, MOST_DEPTH, Part, Precedence, Standing};
use crate::day::Day;
use crate::model::RuleSet;
use crate::value::Ladder;

pub(super) type Done<T = ()> = Result<T, Diagnostic>;

/// Amendments being laid over a base.
pub(crate) struct Layering<'a> {
    pub(super) base: &'a RuleSet,
    pub(super) on: Day,
    pub(super) touches: Touches,
    pub(super) layer: usize,
    /// How many cells floors and caps have been laid over.
    pub(super) bounded: usize,
    pub(crate) changes: Vec<AppliedChange>,
}

/// One change being made.
pub(super) struct Hand<'a, 'l> {
    pub(super) merge: &'a mut Merge,
    pub(super) layering: &'a mut Layering<'l>,
    amendment: &'a Arc<Amendment>,
    /// The change as written, and below it the verb's own part.
    pub(super) whole: &'a Tree,
    pub(super) body: &'a Tree,
    /// The verb's own part in the amendment's file, where keys have places too.
    pub(super) own: Cursor<'a>,
    /// The amendment's citation for changes that have none.
    cite: Option<&'a Tree>,
}

impl<'a> Layering<'a> {
    pub(crate) fn over(base: &'a RuleSet, on: Day) -> Self {
        Self {
            base,
            on,
            touches: Touches::default(),
            layer: 0,
            bounded: 0,
            changes: Vec::new(),
        }
    }

    /// Makes an amendment's changes. Those that cannot be made are problems; the rest are made all the same, so that
    /// all problems come at once. What is not in force is noted only.
    pub(super) fn lay(&mut self, merge: &mut Merge, given: &Given, problems: &mut Diagnostics) {
        self.layer += 1;
        for (change, whole) in given.changes() {
            let over = (&mut *merge, &given.amendment, &given.tree);
            let made = match given.standing_of(change, self.on) {
                Standing::InForce => self.make(over, change, whole),
                standing => self.pass_over(over, change, whole, standing),
            };
            problems.extend(made.err());
        }
    }

    /// Makes the changes of an amendment that come into force when `comes` says, seen from the day `today`, and those
    /// that are then in force. Only what comes is told of: the rest has its own day.
    pub(super) fn try_out(
        &mut self,
        merge: &mut Merge,
        given: &Given,
        comes: &RangeInclusive<Coming>,
        today: Day,
        problems: &mut Diagnostics,
    ) {
        self.layer += 1;
        for (change, whole) in given.changes() {
            let over = (&mut *merge, &given.amendment, &given.tree);
            if given
                .coming(change, today)
                .is_some_and(|coming| comes.contains(&coming))
            {
                problems.extend(self.make(over, change, whole).err());
            } else if given.standing_of(change, self.on) == Standing::InForce {
                // What is wrong with it is told where it comes itself.
                let _ = self.make(over, change, whole);
            }
        }
    }

    /// Which changes a problem in the base's own text comes of: those to what it names, else those to the part that it is
    /// in, else all that took something out of the base or put another in its place.
    pub(crate) fn cause_of(&self, problem: &Diagnostic, part: Option<&Part>) -> Option<String> {
        let standing = || self.changes.iter().filter(|change| change.void.is_none());
        let named: Vec<_> = standing()
            .filter(|change| change.part != Part::Whole && problem.message.contains(&change.part.to_string()))
            .collect();
        let own: Vec<_> = standing().filter(|change| Some(&change.part) == part).collect();
        let is_out = |change: &&AppliedChange| change.what.contains("dropped") || change.what == "replaced";
        let taken_out: Vec<_> = standing().filter(is_out).collect();
        let causes = [named, own, taken_out]
            .into_iter()
            .find(|causes| !causes.is_empty())?;
        let told: Vec<String> = causes
            .iter()
            .take(3)
            .map(|change| {
                format!(
                    "{} {} ({}:{})",
                    change.part, change.what, change.place.file, change.place.line
                )
            })
            .collect();
        let more = if causes.len() > told.len() {
            ", and more"
        } else {
            ""
        };
        Some(format!("this comes of the amendments: {}{more}", told.join("; ")))
    }

    fn make(&mut self, over: Over<'_>, change: &ChangeFile, whole: Whole<'_>) -> Done {
        let verb = verb(change, whole.0, over.0)?;
        let mut hand = self.hand(over, whole, Some(verb));
        hand.dates(change)?;
        hand.make(change)
    }

    /// Notes a change that is not in force.
    fn pass_over(
        &mut self,
        over: Over<'_>,
        change: &ChangeFile,
        whole: Whole<'_>,
        standing: Standing,
    ) -> Done {
        let verb = whole
            .0
            .entries()
            .map(|(key, _)| key)
            .find(|key| VERBS.contains(key));
        let mut hand = self.hand(over, whole, verb);
        // What is still to come is checked whole, apart from this.
        if matches!(standing, Standing::Over(_)) {
            hand.dates(change)?;
        }
        let (part, now) = (hand.part_named(), hand.body.get("to").map(Tree::value));
        hand.record(
            part,
            verb.unwrap_or("a change"),
            None,
            now,
            Some(standing.to_string()),
        );
        if let Some(noted) = self.changes.last_mut() {
            noted.standing = standing;
        }
        Ok(())
    }

    fn hand<'h>(
        &'h mut self,
        (merge, amendment, tree): Over<'h>,
        (whole, at): Whole<'h>,
        verb: Option<&str>,
    ) -> Hand<'h, 'a> {
        Hand {
            merge,
            layering: self,
            amendment,
            whole,
            body: verb.and_then(|verb| whole.get(verb)).unwrap_or(whole),
            own: verb.map_or(at, |verb| at.get(verb)),
            cite: tree.get("cite"),
        }
    }
}

/// The rule set as merged so far, the amendment that is being laid over it, and its file.
type Over<'h> = (&'h mut Merge, &'h Arc<Amendment>, &'h Tree);

/// A change as written, and where its file has it.
type Whole<'h> = (&'h Tree, Cursor<'h>);

const VERBS: [&str; 12] = [
    "fill", "set", "floor", "cap", "replace", "add", "drop", "restrict", "except", "gate", "note", "renumber",
];

/// What is expected where an amendment changes a thing twice.
pub(super) const ONE_CHANGE: &str = "one change to each thing";

/// The one verb of a change.
fn verb(change: &ChangeFile, whole: &Tree, merge: &Merge) -> Done<&'static str> {
    let given = [
        change.fill.is_some(),
        change.set.is_some(),
        change.floor.is_some(),
        change.cap.is_some(),
        change.replace.is_some(),
        change.add.is_some(),
        change.drop.is_some(),
        change.restrict.is_some(),
        change.except.is_some(),
        change.gate.is_some(),
        change.note.is_some(),
        change.renumber.is_some(),
    ];
    let mut given = VERBS.iter().zip(given).filter(|(_, given)| *given);
    match (given.next(), given.next()) {
        (Some((verb, _)), None) => Ok(verb),
        (first, second) => {
            let both = first.zip(second);
            let both = both.map(|((one, _), (other, _))| format!(", and this one `{one}` and `{other}`"));
            let message = format!("a change does one thing{}", both.unwrap_or_default());
            Err(merge
                .problem(whole, message)
                .expecting(format!("exactly one of {}", VERBS.join(", "))))
        }
    }
}

/// What a change speaks of, and in which words.
pub(super) struct Target {
    pub(super) part: Part,
    pub(super) path: Path,
    /// The way to it, where nothing stands there yet.
    pub(super) way: Option<Vec<String>>,
    pub(super) kind: Option<Kind>,
    pub(super) what: String,
    pub(super) stricter: Option<Stricter>,
}

impl Hand<'_, '_> {
    /// Checks a change's own dates.
    fn dates(&self, change: &ChangeFile) -> Done {
        let after =
            |day: Option<Day>, other: Option<Day>| day.zip(other).is_some_and(|(day, other)| day > other);
        let (from, until) = (change.from, change.until);
        if after(self.amendment.from, from) || after(from.or(self.amendment.from), until) {
            let key = if after(self.amendment.from, from) {
                "from"
            } else {
                "until"
            };
            let at = self.whole.get(key).unwrap_or(self.whole);
            return Err(self
                .merge
                .problem(
                    at,
                    "the change's dates do not lie in order within the amendment's",
                )
                .expecting("`from` no earlier than the amendment's, `until` after `from`"));
        }
        Ok(())
    }

    fn make(&mut self, change: &ChangeFile) -> Done {
        if self.is_of_what_was_dropped()? {
            return Ok(());
        }
        match change {
            ChangeFile { fill: Some(one), .. } => self.fill(one),
            ChangeFile { set: Some(one), .. } => self.set(one),
            ChangeFile { floor: Some(one), .. } => self.bound(one, true),
            ChangeFile { cap: Some(one), .. } => self.bound(one, false),
            ChangeFile {
                replace: Some(one), ..
            } => self.replace(one),
            ChangeFile { add: Some(one), .. } => self.add(one),
            ChangeFile { drop: Some(one), .. } => self.drop(one),
            ChangeFile {
                restrict: Some(one), ..
            } => self.restrict(one),
            ChangeFile {
                except: Some(one), ..
            } => self.except(one),
            ChangeFile { gate: Some(one), .. } => self.gate(one),
            ChangeFile { note: Some(one), .. } => self.note(one),
            ChangeFile {
                renumber: Some(one), ..
            } => self.renumber(one),
            _ => Ok(()),
        }
    }

    /// The part of the rule set that the change names.
    fn part_named(&self) -> Part {
        let named = |key: &str| self.body.get(key).and_then(Tree::as_str).map(str::to_owned);
        let rule = named("rule").or_else(|| named("severity")).map(Part::Rule);
        let table = || named("table").map(Part::Table);
        let arrangement = || named("arrangement").map(Part::Arrangement);
        let definition = || named("definition").map(Part::Definition);
        let matter = || named("matter").map(Part::Matter);
        rule.or_else(table)
            .or_else(arrangement)
            .or_else(definition)
            .or_else(matter)
            .unwrap_or(Part::Whole)
    }

    pub(super) fn ladder(&self) -> &Ladder {
        &self.layering.base.ladder
    }

    /// The place of a key of the change, or of the change where it has none.
    pub(super) fn by(&self, key: &str) -> &Tree {
        self.body.get(key).unwrap_or(self.body)
    }

    pub(super) fn problem(&self, key: &str, message: impl Into<String>) -> Diagnostic {
        self.merge.problem(self.by(key), message)
    }

    /// A value that a change puts in, as its file has it.
    pub(super) fn given(&self, key: &str) -> Done<Tree> {
        let given = self.body.get(key).cloned();
        given.ok_or_else(|| self.problem(key, format!("`{key}` is missing here")))
    }

    pub(super) fn value_at(&self, path: &[Step]) -> Yaml {
        at(&self.merge.tree, path).map_or(Yaml::Null, Tree::value)
    }

    pub(super) fn record(
        &mut self,
        part: Part,
        what: &str,
        was: Option<Yaml>,
        now: Option<Yaml>,
        void: Option<String>,
    ) {
        self.layering.changes.push(AppliedChange {
            amendment: Arc::clone(self.amendment),
            part,
            what: what.to_owned(),
            was: was.as_ref().map(flow),
            now: now.as_ref().map(flow),
            citation: self.cite_in_words(),
            place: self.merge.place(self.whole),
            void,
            standing: Standing::InForce,
        });
    }

    /// Where the change comes from, in words.
    fn cite_in_words(&self) -> Option<String> {
        let section = self.whole.get("cite").or(self.cite)?.get("section")?.value();
        let (document, edition) = (&self.amendment.document, &self.amendment.edition);
        Some(format!("{document} {edition}, section {}", flow(&section)))
    }

    /// Whether the change speaks of what an earlier amendment has dropped, and gives way to it.
    fn is_of_what_was_dropped(&mut self) -> Done<bool> {
        let part = self.part_named();
        let way = match &part {
            Part::Rule(name) => ["rules", name.as_str()],
            Part::Arrangement(name) => ["arrangements", name.as_str()],
            Part::Matter(name) => ["not_checked", name.as_str()],
            _ => return Ok(false),
        };
        let way = way.map(str::to_owned);
        let touch = self.layering.touches.at(&way).last();
        let Some(touch) = touch.filter(|touch| touch.dropped) else {
            return Ok(false);
        };
        if touch.layer == self.layering.layer {
            if self.body.get("with").is_some() {
                return Ok(false);
            }
            let message = format!("the amendment has dropped the {part} itself");
            return Err(self.merge.problem(self.body, message).expecting(ONE_CHANGE));
        }
        let by = touch.by.clone();
        if self.amendment.precedence == Some(Precedence::StateFirst) {
            self.record(
                part,
                "a change",
                None,
                None,
                Some(format!("`{by}` has dropped it")),
            );
            return Ok(true);
        }
        // What is added anew is decided where it is added.
        if self.body.get("with").is_some() {
            return Ok(false);
        }
        Err(self
            .merge
            .problem(self.body, format!("the amendment `{by}` has dropped the {part}"))
            .expecting("`precedence: state_first` in this file, or `add` with the whole of it"))
    }

    /// Whether the change goes ahead, by the precedence that its amendment declares, where an earlier one has
    /// touched the same thing.
    pub(super) fn goes_ahead(&mut self, target: &Target, new: Option<&Yaml>) -> Done<bool> {
        let layer = self.layering.layer;
        let way = self.way_of(target);
        let Some(touch) = self.layering.touches.before(layer, &way) else {
            return Ok(true);
        };
        let by = touch.by.clone();
        let old = self.value_at(&target.path);
        let goes = match self.amendment.precedence {
            Some(Precedence::LocalText) => true,
            Some(Precedence::StateFirst) => false,
            Some(Precedence::MostRestrictive) => {
                let content = |yaml: &Yaml| target.kind.as_ref()?.content(yaml, self.ladder());
                let contents = new.and_then(content).zip(content(plain(&old)));
                let more = target
                    .stricter
                    .zip(contents)
                    .and_then(|(stricter, (new, old))| stricter.is_more_of_cells(new, old));
                more.ok_or_else(|| {
                    self.merge
                        .problem(
                            self.body,
                            format!("which asks more, this or `{by}`, cannot be told"),
                        )
                        .expecting("`precedence: local_text` or `state_first`, or one value against another")
                })?
            }
            None => {
                return Err(self
                    .merge
                    .problem(self.body, format!("the amendment `{by}` changes this too"))
                    .expecting("`precedence: local_text`, `most_restrictive` or `state_first` in this file")
                    .helped("which text stands is itself law, and has to be said"));
            }
        };
        if !goes && !target.what.is_empty() {
            self.give_way(target, &by, new);
        }
        Ok(goes)
    }

    fn give_way(&mut self, target: &Target, by: &str, new: Option<&Yaml>) {
        let old = self.value_at(&target.path);
        let was = (old != Yaml::Null)
            .then(|| plain(&old).clone())
            .filter(|old| !old.is_mapping());
        let void = Some(format!("`{by}` stands"));
        self.record(target.part.clone(), &target.what, was, new.cloned(), void);
    }

    pub(super) fn way_of(&self, target: &Target) -> Vec<String> {
        let way = target.way.clone();
        way.unwrap_or_else(|| way_along(&self.merge.tree, &target.path))
    }

    /// Refuses to lay one more bound or condition over many: they nest, and a hostile file lays thousands.
    pub(super) fn has_room(&self, path: &[Step]) -> Done {
        if at(&self.merge.tree, path).is_some_and(|tree| tree.depth() > MOST_DEPTH) {
            return Err(self
                .merge
                .problem(
                    self.body,
                    format!("the changes pile up more than {MOST_DEPTH} deep"),
                )
                .expecting("one change in place of several to the same thing"));
        }
        Ok(())
    }

    /// Notes that a path has been changed, with what stood there.
    pub(super) fn touch(&mut self, path: &[Step]) {
        let before = self.value_at(path);
        self.touch_way(way_along(&self.merge.tree, path), before, false);
    }

    pub(super) fn touch_way(&mut self, way: Vec<String>, before: Yaml, dropped: bool) {
        let touch = Touch {
            layer: self.layering.layer,
            by: self.amendment.name.clone(),
            before,
            dropped,
        };
        self.layering.touches.note(way, touch);
    }

    /// Where the change says that it comes from.
    pub(super) fn cited(&self) -> Done<&Tree> {
        self.whole.get("cite").or(self.cite).ok_or_else(|| {
            self.merge
                .problem(self.whole, "the change does not say where it comes from")
                .expecting("`cite: {section: ..., basis: ...}` here or at the head of the amendment")
        })
    }

    /// The change's citation, over the one that stood there.
    pub(super) fn citation(&self, old: Option<&Tree>) -> Done<Tree> {
        let own = self.cited()?;
        // The citation stands where the change does, even if its words stand at the head of the amendment.
        let mut cite = self
            .whole
            .mapping_here(own.entries().map(|(key, tree)| (key, tree.clone())));
        if let Some(since) = self.whole.get("from") {
            cite.set("since", since.clone());
        }
        if let Some(old) = amended(old, self.whole) {
            cite.set("amends", old.clone());
        }
        Ok(cite)
    }

    /// Checks that the keys of the change go together: one of the sets of keys allowed, those with a question mark
    /// at will.
    pub(super) fn keys(&self, allowed: &[&str]) -> Done {
        let has_given = |set: &&&str| {
            let known = |given: &str| set.split(' ').any(|key| key.trim_end_matches('?') == given);
            self.body.entries().all(|(key, _)| known(key))
        };
        let lacking = |set: &str| {
            let mut needed = set.split(' ').filter(|key| !key.ends_with('?'));
            needed.find(|key| self.body.get(key).is_none()).map(str::to_owned)
        };
        let mut begun = allowed.iter().filter(has_given);
        if begun.clone().any(|set| lacking(set).is_none()) {
            return Ok(());
        }
        if let (Some(set), None) = (begun.next(), begun.next())
            && let Some(missing) = lacking(set)
        {
            return Err(self
                .merge
                .problem(self.body, format!("`{missing}` is missing here"))
                .expecting(in_words(set)));
        }
        let given: Vec<String> = self.body.entries().map(|(key, _)| format!("`{key}`")).collect();
        let sets = allowed.iter().map(|set| in_words(set));
        let what = match given.as_slice() {
            [] => "nothing is named here".to_owned(),
            given => format!("what the change speaks of is not clear from {}", given.join(", ")),
        };
        Err(self
            .merge
            .problem(self.body, what)
            .expecting(sets.collect::<Vec<_>>().join("; or ")))
    }

    pub(super) fn one_of(&self, wanted: &str) -> Diagnostic {
        self.merge
            .problem(self.body, "what the change speaks of is not clear")
            .expecting(wanted)
    }
}

/// A set of keys that go together, those with a question mark at will.
fn in_words(set: &str) -> String {
    let keys = set.split(' ').map(|key| match key.strip_suffix('?') {
        Some(key) => format!("perhaps `{key}`"),
        None => format!("`{key}`"),
    });
    keys.collect::<Vec<_>>().join(", ")
}

/// The citation that a change stands over: of what its own amendment has changed before, the one below that.
pub(super) fn amended<'t>(old: Option<&'t Tree>, change: &Tree) -> Option<&'t Tree> {
    match old {
        Some(old) if old.is_beside(change) => old.get("amends"),
        other => other,
    }
}

/// A change to the whole of a part.
pub(super) fn whole(part: Part, path: Path) -> Target {
    Target {
        part,
        path,
        way: None,
        kind: None,
        what: "the whole".to_owned(),
        stricter: None,
    }
}

/// A cell's value, without the citation that it may have.
pub(super) fn plain(cell: &Yaml) -> &Yaml {
    cell.get("value").unwrap_or(cell)
}
