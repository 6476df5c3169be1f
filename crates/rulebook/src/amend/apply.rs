//! The changes, made one after the other in the tree of the rule set.

use std::collections::BTreeMap;
use std::sync::Arc;

use crownweir_document::{Diagnostic, Diagnostics, Merge, Tree};
use serde_yaml::Value as Yaml;

use super::precedence::{Stricter, Touch};
use super::spot::{
    ARRANGEMENTS, Kind, Path, RULES, Shape, Step, at, at_mut, below, item, limit, order_of, same, table, way,
};
use super::wire::{AddFile, AmendmentFile, BoundFile, ChangeFile, FillFile, Order, ReplaceFile, SetFile};
use super::{Amendment, AppliedChange, MOST_DEPTH, Part, Precedence, Standing, standing};
use crate::day::Day;
use crate::model::RuleSet;
use crate::value::Ladder;

pub(super) type Done<T = ()> = Result<T, Diagnostic>;

/// Amendments being laid over a base.
pub(crate) struct Layering<'a> {
    pub(super) base: &'a RuleSet,
    on: Day,
    touches: Vec<Touch>,
    layer: usize,
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
    /// The amendment's citation for changes that have none.
    cite: Option<&'a Tree>,
}

impl<'a> Layering<'a> {
    pub(crate) fn over(base: &'a RuleSet, on: Day) -> Self {
        Self {
            base,
            on,
            touches: Vec::new(),
            layer: 0,
            changes: Vec::new(),
        }
    }

    /// Makes an amendment's changes. Those that cannot be made are problems; the rest are made all the same, so that
    /// all problems come at once.
    pub(crate) fn lay(
        &mut self,
        merge: &mut Merge,
        amendment: &Arc<Amendment>,
        file: &AmendmentFile,
        tree: &Tree,
        problems: &mut Diagnostics,
    ) {
        self.layer += 1;
        let changes = tree.get("changes").map(Tree::items).unwrap_or_default();
        for (change, whole) in file.changes.iter().zip(changes) {
            let verb = match verb(change, whole, merge) {
                Ok(verb) => verb,
                Err(problem) => {
                    problems.push(problem);
                    continue;
                }
            };
            let mut hand = Hand {
                merge,
                layering: self,
                amendment,
                whole,
                body: whole.get(verb).unwrap_or(whole),
                cite: tree.get("cite"),
            };
            if let Err(problem) = hand.make(change) {
                problems.push(problem);
            }
        }
    }
}

/// The one verb of a change.
fn verb(change: &ChangeFile, whole: &Tree, merge: &Merge) -> Done<&'static str> {
    let verbs = [
        (change.fill.is_some(), "fill"),
        (change.set.is_some(), "set"),
        (change.floor.is_some(), "floor"),
        (change.cap.is_some(), "cap"),
        (change.replace.is_some(), "replace"),
        (change.add.is_some(), "add"),
        (change.drop.is_some(), "drop"),
        (change.restrict.is_some(), "restrict"),
        (change.except.is_some(), "except"),
        (change.gate.is_some(), "gate"),
        (change.note.is_some(), "note"),
        (change.renumber.is_some(), "renumber"),
    ];
    let mut given = verbs.iter().filter(|(given, _)| *given).map(|(_, verb)| *verb);
    match (given.next(), given.next()) {
        (Some(verb), None) => Ok(verb),
        _ => Err(merge.problem(whole, "a change does one thing").expecting(format!(
            "exactly one of {}",
            verbs.map(|(_, verb)| verb).join(", ")
        ))),
    }
}

/// What a change speaks of, and in which words.
pub(super) struct Target {
    pub(super) part: Part,
    pub(super) path: Path,
    kind: Option<Kind>,
    pub(super) what: String,
    stricter: Option<Stricter>,
}

impl Hand<'_, '_> {
    fn make(&mut self, change: &ChangeFile) -> Done {
        let from = change.from.or(self.amendment.from);
        let until = change.until.or(self.amendment.until);
        match standing(from, until, self.layering.on) {
            Standing::InForce => {}
            other => {
                let (part, now) = (self.part_named(), self.body.get("to").map(Tree::value));
                self.record(part, "a change", None, now, Some(other.to_string()));
                return Ok(());
            }
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
        let rule = named("rule").map(Part::Rule);
        let table = || named("table").map(Part::Table);
        let arrangement = || named("arrangement").map(Part::Arrangement);
        let definition = || named("definition").map(Part::Definition);
        rule.or_else(table)
            .or_else(arrangement)
            .or_else(definition)
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

    fn value_at(&self, path: &[Step]) -> Yaml {
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
            was: was.as_ref().map(in_words),
            now: now.as_ref().map(in_words),
            place: self.merge.place(self.whole),
            void,
        });
    }

    /// Whether the change goes ahead, by the precedence that its amendment declares, where an earlier one has
    /// touched the same thing.
    pub(super) fn goes_ahead(&mut self, target: &Target, new: Option<&Yaml>) -> Done<bool> {
        let layer = self.layering.layer;
        let way = way(&self.merge.tree, &target.path);
        let mut earlier = self.layering.touches.iter().rev();
        let Some(touch) = earlier.find(|touch| touch.layer < layer && touch.concerns(&way)) else {
            return Ok(true);
        };
        let by = touch.by.clone();
        let old = self.value_at(&target.path);
        let goes = match self.amendment.precedence {
            Some(Precedence::LocalText) => true,
            Some(Precedence::StateFirst) => false,
            Some(Precedence::MostRestrictive) => {
                let value = |yaml: &Yaml| {
                    let kind = target.kind.as_ref()?;
                    kind.read(yaml, self.ladder()).ok()
                };
                let values = new.and_then(value).zip(value(plain(&old)));
                let more = target
                    .stricter
                    .zip(values)
                    .and_then(|(stricter, (new, old))| stricter.is_more(new, old));
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
                    .expecting("`precedence: local_text`, `most_restrictive` or `state_first` in one of them, the later")
                    .helped("which text stands is itself law, and has to be said"));
            }
        };
        if !goes {
            let void = Some(format!("`{by}` stands"));
            let (part, what) = (target.part.clone(), target.what.clone());
            self.record(part, &what, Some(plain(&old).clone()), new.cloned(), void);
        }
        Ok(goes)
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
        self.layering.touches.push(Touch {
            way: way(&self.merge.tree, path),
            layer: self.layering.layer,
            by: self.amendment.name.clone(),
            before,
        });
    }

    /// The change's citation, over the one that stood there.
    pub(super) fn citation(&self, old: Option<&Tree>) -> Done<Tree> {
        let own = self.whole.get("cite").or(self.cite);
        let Some(own) = own else {
            return Err(self
                .merge
                .problem(self.whole, "the change does not say where it comes from")
                .expecting("`cite: {section: ..., basis: ...}` here or at the head of the amendment"));
        };
        // The citation stands where the change does, even if its words stand at the head of the amendment.
        let mut cite = self
            .whole
            .mapping_here(own.entries().map(|(key, tree)| (key, tree.clone())));
        if let Some(old) = amended(old, self.whole) {
            cite.set("amends", old.clone());
        }
        Ok(cite)
    }

    /// Puts the change's citation over that of the item at `path`.
    pub(super) fn cite(&mut self, path: &[Step]) -> Done {
        let cite = self.citation(at(&self.merge.tree, &below(path, &["cite"])))?;
        if let Some(item) = at_mut(&mut self.merge.tree, path) {
            item.set("cite", cite);
        }
        Ok(())
    }

    /// Checks that what stands at `path` is what the change expects, or what stood there before amendments.
    fn expect(&self, target: &Target, was: &Yaml) -> Done {
        let now = self.value_at(&target.path);
        let kind = target.kind.as_ref();
        let fits = |stood: &Yaml| same(was, plain(stood), kind, self.ladder());
        let way = way(&self.merge.tree, &target.path);
        let earlier = |touch: &Touch| touch.way == way && fits(&touch.before);
        if fits(&now) || self.layering.touches.iter().any(earlier) {
            return Ok(());
        }
        let place = at(&self.merge.tree, &target.path).map(|tree| self.merge.place(tree));
        let unit = kind.and_then(|kind| kind.unit.as_deref());
        let told = match (plain(&now), unit) {
            (Yaml::Number(number), Some(unit)) => format!("{number} {unit}"),
            (now, _) => in_words(now),
        };
        Err(self
            .problem(
                "was",
                format!("the change expects {}, and the base has {told}", in_words(was)),
            )
            .expecting(&told)
            .helped(match place {
                Some(place) => {
                    format!("the base has it at {place}; compare the change with the adopted text")
                }
                None => "compare the change with the adopted text".to_owned(),
            }))
    }

    fn fill(&mut self, file: &FillFile) -> Done {
        let target = match (&file.table, &file.rule, &file.limit) {
            (Some(table), None, None) => self.cell(table, &file.row, file.column.as_deref())?,
            (None, Some(rule), Some(fact)) => {
                let path = RULES.find(self.merge, rule, self.by("rule"))?;
                if self.value_at(&below(&path, &["left_to_adopter"])) != Yaml::Bool(true) {
                    return Err(self
                        .problem("rule", format!("the rule `{rule}` leaves nothing to the adopter"))
                        .expecting("`set` with the value that stands there"));
                }
                self.limit(rule, "require", fact, file.order)?
            }
            _ => return Err(self.one_of("`table` with `row`, or `rule` with `limit`")),
        };
        let old = self.value_at(&target.path);
        if file.table.is_some() && plain(&old).as_str() != Some("unfilled") {
            return Err(self
                .problem(
                    "row",
                    format!("the cell is filled already, with {}", in_words(&old)),
                )
                .expecting("`set` with the value that stands there"));
        }
        self.put(target, &file.to, "to")
    }

    fn set(&mut self, file: &SetFile) -> Done {
        let target = match (&file.table, &file.rule, &file.definition) {
            (Some(table), None, None) => self.cell(table, &file.row, file.column.as_deref())?,
            (None, Some(rule), None) => match (&file.limit, &file.when) {
                (Some(fact), None) => self.limit(rule, "require", fact, file.order)?,
                (None, Some(fact)) => self.limit(rule, "when", fact, file.order)?,
                _ => return Err(self.one_of("`limit` or `when` with a fact's name")),
            },
            (None, None, Some(name)) => return self.define(name, file),
            _ => {
                return Err(self.one_of("`table` with `row`, `rule` with `limit` or `when`, or `definition`"));
            }
        };
        self.expect(&target, &file.was)?;
        self.put(target, &file.to, "to")
    }

    pub(super) fn one_of(&self, wanted: &str) -> Diagnostic {
        self.merge
            .problem(self.body, "what the change speaks of is not clear")
            .expecting(wanted)
    }

    /// Puts a value where another stands.
    fn put(&mut self, target: Target, new: &Yaml, key: &str) -> Done {
        let old = self.value_at(&target.path);
        if same(new, plain(&old), target.kind.as_ref(), self.ladder()) {
            return Err(self.problem(
                key,
                format!("the change changes nothing: {} stands there", in_words(new)),
            ));
        }
        if !self.goes_ahead(&target, Some(new))? {
            return Ok(());
        }
        let given = self.given(key)?;
        self.touch(&target.path);
        self.put_tree(&target, given)?;
        self.record(
            target.part,
            &target.what,
            Some(plain(&old).clone()),
            Some(new.clone()),
            None,
        );
        Ok(())
    }

    fn put_tree(&mut self, target: &Target, given: Tree) -> Done {
        let Part::Table(name) = &target.part else {
            // The limit of a rule: the rule's citation changes with it.
            let owner = target.path.get(..2).unwrap_or_default().to_vec();
            if let Some(spot) = at_mut(&mut self.merge.tree, &target.path) {
                *spot = given;
            }
            return self.cite(&owner);
        };
        // A cell: cited by itself, over the row's or the table's citation.
        let row = target.path.get(..4).unwrap_or_default();
        let cell = at(&self.merge.tree, &target.path);
        let old = cell
            .and_then(|cell| cell.get("cite"))
            .or_else(|| at(&self.merge.tree, row)?.get("cite"))
            .or_else(|| at(&self.merge.tree, &below(&[], &["tables", name, "cite"])));
        let cite = self.citation(old)?;
        let cell = given.mapping_here([("value", given.clone()), ("cite", cite)]);
        if let Some(spot) = at_mut(&mut self.merge.tree, &target.path) {
            *spot = cell;
        }
        Ok(())
    }

    fn limit(&self, rule: &str, part: &str, fact: &str, order: Option<Order>) -> Done<Target> {
        let path = RULES.find(self.merge, rule, self.by("rule"))?;
        let key = if part == "when" { "when" } else { "limit" };
        let path = limit(self.merge, &below(&path, &[part]), fact, order, self.by(key))?;
        let order = order_of(&path);
        Ok(Target {
            part: Part::Rule(rule.to_owned()),
            path,
            kind: Kind::of_fact(fact),
            what: format!(
                "{} `{fact}` {}",
                if part == "when" { "applies by" } else { "limit of" },
                order.name()
            ),
            stricter: if part == "when" {
                None
            } else {
                Stricter::of_limit(order)
            },
        })
    }

    fn cell(&self, name: &str, row: &BTreeMap<String, Yaml>, column: Option<&str>) -> Done<Target> {
        let cells = self.cells(name, row, column)?;
        match cells.as_slice() {
            [(path, kind)] => Ok(Target {
                part: Part::Table(name.to_owned()),
                path: path.clone(),
                kind: Some(kind.clone()),
                what: cell_in_words(row, column),
                stricter: Stricter::of_column(self.layering.base, name, column),
            }),
            [] => Err(self
                .problem("row", format!("the table `{name}` has no such row"))
                .expecting("each of the row's keys, with the value that stands there")),
            several => Err(self
                .problem(
                    "row",
                    format!("{} cells of the table `{name}` fit", several.len()),
                )
                .expecting("every key of one row")),
        }
    }

    fn cells(
        &self,
        name: &str,
        row: &BTreeMap<String, Yaml>,
        column: Option<&str>,
    ) -> Done<Vec<(Path, Kind)>> {
        let path = table(self.merge, name, self.by("table"))?;
        let tree = at(&self.merge.tree, &path).ok_or_else(|| self.one_of("a table"))?;
        let shape = Shape::of(tree).ok_or_else(|| self.one_of("a table that can be read"))?;
        let cells = shape
            .cells(tree, row, column, self.ladder())
            .map_err(|expected| self.one_of(&expected))?;
        let rows = below(&path, &["rows"]);
        Ok(cells
            .into_iter()
            .map(|(row, entry, kind)| (self.entry(&rows, row, entry), kind))
            .collect())
    }

    /// The path of a row's entry, the row having a citation of its own or not.
    fn entry(&self, rows: &[Step], row: usize, entry: usize) -> Path {
        let row = item(rows, row);
        let has_own = at(&self.merge.tree, &row).is_some_and(Tree::is_mapping);
        let entries = if has_own { below(&row, &["row"]) } else { row };
        item(&entries, entry)
    }

    fn define(&mut self, name: &str, file: &SetFile) -> Done {
        let path = below(&[], &["definitions", name]);
        let Some(own) = at(&self.merge.tree, &path) else {
            let definitions = self.merge.tree.get("definitions");
            let known = definitions
                .iter()
                .flat_map(|all| all.entries())
                .map(|(name, _)| name);
            return Err(self
                .problem("definition", format!("there is no definition of `{name}`"))
                .suggesting(crownweir_document::nearest(name, known)));
        };
        let without_cite = |value: Yaml| match value {
            Yaml::Mapping(mut map) => {
                map.remove("cite");
                Yaml::Mapping(map)
            }
            other => other,
        };
        let old = without_cite(own.value());
        let target = Target {
            part: Part::Definition(name.to_owned()),
            path: path.clone(),
            kind: None,
            what: "what it means".to_owned(),
            stricter: None,
        };
        let way = way(&self.merge.tree, &path);
        let earlier = |touch: &Touch| touch.way == way && without_cite(touch.before.clone()) == file.was;
        if file.was != old && !self.layering.touches.iter().any(earlier) {
            return Err(self
                .problem(
                    "was",
                    format!(
                        "the change expects {}, and the base has {}",
                        in_words(&file.was),
                        in_words(&old)
                    ),
                )
                .expecting(in_words(&old)));
        }
        if file.to == old {
            return Err(self.problem("to", "the change changes nothing"));
        }
        if !self.goes_ahead(&target, None)? {
            return Ok(());
        }
        let mut given = self.given("to")?;
        if !given.is_mapping() {
            return Err(self
                .problem("to", "a definition is a mapping")
                .expecting(in_words(&old)));
        }
        self.touch(&path);
        let cite = self.citation(at(&self.merge.tree, &below(&path, &["cite"])))?;
        given.set("cite", cite);
        if let Some(spot) = at_mut(&mut self.merge.tree, &path) {
            *spot = given;
        }
        self.record(target.part, &target.what, Some(old), Some(file.to.clone()), None);
        Ok(())
    }

    /// A floor under values, or a cap over them.
    fn bound(&mut self, file: &BoundFile, is_floor: bool) -> Done {
        match (&file.table, &file.rule, &file.limit) {
            (Some(table), None, None) => self.bound_cells(table, file, is_floor),
            (None, Some(rule), Some(fact)) => {
                let target = self.limit(rule, "require", fact, file.order)?;
                if !self.goes_ahead(&target, Some(&file.at))? {
                    return Ok(());
                }
                self.has_room(&target.path)?;
                let at_value = self.given("at")?;
                let old = at(&self.merge.tree, &target.path)
                    .cloned()
                    .unwrap_or_else(|| at_value.clone());
                let form = if is_floor { "larger_of" } else { "smaller_of" };
                let both = at_value.sequence_here(vec![old, at_value.clone()]);
                let bounded = at_value.mapping_here([(form, both)]);
                self.touch(&target.path);
                self.put_tree(&target, bounded)?;
                let what = format!(
                    "{} {}",
                    if is_floor {
                        "floor under the"
                    } else {
                        "cap over the"
                    },
                    target.what
                );
                self.record(target.part, &what, None, Some(file.at.clone()), None);
                Ok(())
            }
            _ => Err(self.one_of("`table`, or `rule` with `limit`")),
        }
    }

    fn bound_cells(&mut self, name: &str, file: &BoundFile, is_floor: bool) -> Done {
        let mut changed = 0;
        for (path, kind) in self.cells(name, &file.row, file.column.as_deref())? {
            let bound = kind
                .read(&file.at, self.ladder())
                .map_err(|misread| misread.tell(self.problem("at", misread.message())))?;
            let old = self.value_at(&path);
            let is_beyond = match plain(&old).as_str() {
                Some("unlimited") => !is_floor,
                Some("none" | "unfilled") => false,
                _ => {
                    let stricter = if is_floor {
                        Stricter::Larger
                    } else {
                        Stricter::Smaller
                    };
                    let old = kind.read(plain(&old), self.ladder()).ok();
                    old.and_then(|old| stricter.is_more(bound, old)).unwrap_or(false)
                }
            };
            if !is_beyond {
                continue;
            }
            let target = Target {
                part: Part::Table(name.to_owned()),
                path,
                kind: Some(kind),
                what: String::new(),
                stricter: Stricter::of_column(self.layering.base, name, file.column.as_deref()),
            };
            changed += 1;
            if self.goes_ahead(&target, Some(&file.at))? {
                let given = self.given("at")?;
                self.touch(&target.path);
                self.put_tree(&target, given)?;
            }
        }
        if changed == 0 {
            return Err(self.problem("at", "the change changes nothing: no value is beyond it"));
        }
        let what = format!(
            "{} {}, {changed} cells",
            if is_floor { "floor under" } else { "cap over" },
            file.column.as_deref().unwrap_or("all")
        );
        self.record(
            Part::Table(name.to_owned()),
            &what,
            None,
            Some(file.at.clone()),
            None,
        );
        Ok(())
    }

    fn replace(&mut self, file: &ReplaceFile) -> Done {
        let (part, path) = match (&file.rule, &file.table, &file.arrangement) {
            (Some(name), None, None) => (
                Part::Rule(name.clone()),
                RULES.find(self.merge, name, self.by("rule"))?,
            ),
            (None, Some(name), None) => (
                Part::Table(name.clone()),
                table(self.merge, name, self.by("table"))?,
            ),
            (None, None, Some(name)) => (
                Part::Arrangement(name.clone()),
                ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?,
            ),
            _ => return Err(self.one_of("one of `rule`, `table` and `arrangement`")),
        };
        let target = whole(part, path);
        if !self.goes_ahead(&target, None)? {
            return Ok(());
        }
        let old_cite = at(&self.merge.tree, &below(&target.path, &["cite"])).cloned();
        let new = self.item(&target.part, old_cite.as_ref())?;
        self.touch(&target.path);
        if let Some(spot) = at_mut(&mut self.merge.tree, &target.path) {
            *spot = new;
        }
        self.record(target.part, "replaced", None, None, None);
        Ok(())
    }

    /// The rule, table or arrangement under `with`, with its name and citation.
    fn item(&self, part: &Part, old_cite: Option<&Tree>) -> Done<Tree> {
        let mut new = self.given("with")?;
        if !new.is_mapping() {
            return Err(self.problem("with", "a mapping belongs here, as a rule set writes it"));
        }
        let name = |key: &str| self.by(key).clone();
        match part {
            Part::Rule(_) => new.set("rule", name("rule")),
            Part::Arrangement(_) => new.set("arrangement", name("arrangement")),
            _ => {}
        }
        let mut cite = match new.get("cite") {
            Some(own) => own.clone(),
            None => self.citation(None)?,
        };
        if let Some(old) = amended(old_cite, self.whole) {
            cite.set("amends", old.clone());
        }
        new.set("cite", cite);
        Ok(new)
    }

    fn add(&mut self, file: &AddFile) -> Done {
        let (list, name) = match (&file.rule, &file.arrangement, &file.table) {
            (Some(name), None, None) => (RULES, name),
            (None, Some(name), None) => (ARRANGEMENTS, name),
            (None, None, Some(name)) if file.row.is_some() => return self.add_row(name),
            (None, None, Some(name)) => return self.add_table(name),
            _ => return Err(self.one_of("one of `rule`, `arrangement` and `table`")),
        };
        if list.find(self.merge, name, self.body).is_ok() {
            return Err(self
                .problem(
                    list.name,
                    format!("the base has the {} `{name}` already", list.name),
                )
                .expecting("another name, or `replace`"));
        }
        let part = if list.key == RULES.key {
            Part::Rule(name.clone())
        } else {
            Part::Arrangement(name.clone())
        };
        let new = self.item(&part, None)?;
        self.push(&below(&[], &[list.key]), new);
        self.record(part, "added", None, None, None);
        Ok(())
    }

    pub(super) fn push(&mut self, path: &[Step], new: Tree) {
        if let Some(items) = at_mut(&mut self.merge.tree, path).and_then(Tree::items_mut) {
            items.push(new);
        }
    }

    fn add_table(&mut self, name: &str) -> Done {
        if table(self.merge, name, self.body).is_ok() {
            return Err(self
                .problem("table", format!("the base has the table `{name}` already"))
                .expecting("another name, `row`, or `replace`"));
        }
        let part = Part::Table(name.to_owned());
        let new = self.item(&part, None)?;
        if let Some(tables) = self.merge.tree.get_mut("tables") {
            tables.set(name, new);
        }
        self.record(part, "added", None, None, None);
        Ok(())
    }

    fn add_row(&mut self, name: &str) -> Done {
        let path = table(self.merge, name, self.by("table"))?;
        let given = self.given("row")?;
        if given.items().is_empty() {
            return Err(self
                .problem("row", "a new row is a list")
                .expecting("`[key, value]`"));
        }
        let cite = self.citation(at(&self.merge.tree, &below(&path, &["cite"])))?;
        let catches_all = given.items().iter().any(|entry| entry.as_str() == Some("any"));
        let row = given.mapping_here([("row", given.clone()), ("cite", cite)]);
        if let Some(rows) = at_mut(&mut self.merge.tree, &below(&path, &["rows"])).and_then(Tree::items_mut) {
            // Of rows that match alike the first counts: one for a single case before one for all the others.
            let place = if catches_all { rows.len() } else { 0 };
            rows.insert(place, row);
        }
        self.record(
            Part::Table(name.to_owned()),
            "a row added",
            None,
            Some(given.value()),
            None,
        );
        Ok(())
    }
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
        kind: None,
        what: "the whole".to_owned(),
        stricter: None,
    }
}

/// A cell's value, without the citation that it may have.
fn plain(cell: &Yaml) -> &Yaml {
    cell.get("value").unwrap_or(cell)
}

fn cell_in_words(row: &BTreeMap<String, Yaml>, column: Option<&str>) -> String {
    let keys: Vec<_> = row
        .iter()
        .map(|(key, value)| format!("{key} {}", in_words(value)))
        .collect();
    let column = column.map(|column| format!("{column} at ")).unwrap_or_default();
    format!("{column}{}", keys.join(", "))
}

/// A value as a file would write it in one line.
pub(super) fn in_words(value: &Yaml) -> String {
    match value {
        Yaml::Null => "nothing".to_owned(),
        Yaml::Bool(truth) => truth.to_string(),
        Yaml::Number(number) => number.to_string(),
        Yaml::String(text) => text.clone(),
        Yaml::Sequence(items) => format!("[{}]", items.iter().map(in_words).collect::<Vec<_>>().join(", ")),
        Yaml::Mapping(map) => {
            let entries = map
                .iter()
                .map(|(key, value)| format!("{}: {}", in_words(key), in_words(value)));
            format!("{{{}}}", entries.collect::<Vec<_>>().join(", "))
        }
        Yaml::Tagged(tagged) => in_words(&tagged.value),
    }
}
