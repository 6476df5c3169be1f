//! Values put in place of others: blanks filled, limits and cells set, floors and caps, definitions.

use std::collections::BTreeMap;

use crownweir_document::{Diagnostic, Tree, nearest};
use crownweir_quantity::{Angle, Length};
use serde_yaml::Value as Yaml;

use super::apply::{Done, Hand, ONE_CHANGE, Target, plain, whole};
use super::precedence::Stricter;
use super::spot::{
    Kind, Misnamed, Path, RULES, Shape, Step, at, at_mut, below, flow, item, limit, order_of, same, table,
};
use super::wire::{BoundFile, FillFile, Order, SetFile};
use super::{MOST_BOUNDED, Part};
use crate::expression::add_sharp_turn;
use crate::literal::read;
use crate::table::Content;
use crate::value::Dimension;

impl Hand<'_, '_> {
    /// Checks that what stands at `path` is what the change expects, or what stood there before amendments.
    fn expect(&self, target: &Target, was: &Yaml) -> Done {
        self.has_unit(target.kind.as_ref(), was, "was")?;
        let now = self.value_at(&target.path);
        let kind = target.kind.as_ref();
        let fits = |stood: &Yaml| same(was, plain(stood), kind, self.ladder());
        let layer = self.layering.layer;
        let touches = self.layering.touches.at(&self.way_of(target));
        let mut earlier = touches.iter().filter(|touch| touch.layer < layer);
        if fits(&now) || earlier.any(|touch| fits(&touch.before)) {
            return Ok(());
        }
        let key = |key: &str| now.get(key).and_then(Yaml::as_str);
        if let Some(table) = key("table").filter(|_| !was.is_mapping()) {
            let column = key("column").map_or_else(String::new, |column| format!("column: {column}, "));
            return Err(self
                .problem(
                    "was",
                    format!("the rule takes this figure from the table `{table}`"),
                )
                .expecting(format!(
                    "a change of that table: `set: {{table: {table}, row: ..., {column}was: ..., to: ...}}`"
                )));
        }
        if let Some(Err(misread)) = kind.map(|kind| kind.can_stand(was, self.ladder())) {
            return Err(misread.tell(self.problem("was", misread.message())));
        }
        let place = at(&self.merge.tree, &target.path).map(|tree| self.merge.place(tree));
        let told = flow(&in_full(plain(&now), kind));
        Err(self
            .problem(
                "was",
                format!("the change expects {}, and the base has {told}", flow(was)),
            )
            .expecting(&told)
            .helped(match place {
                Some(place) => {
                    format!("the base has it at {place}; compare the change with the adopted text")
                }
                None => "compare the change with the adopted text".to_owned(),
            }))
    }

    /// Checks that a figure which the change gives under `key` has its unit.
    fn has_unit(&self, kind: Option<&Kind>, given: &Yaml, key: &str) -> Done {
        match kind.and_then(|kind| kind.lacks_unit(given, self.ladder())) {
            Some(misread) => Err(misread.tell(self.problem(key, misread.message()))),
            None => Ok(()),
        }
    }

    pub(super) fn fill(&mut self, file: &FillFile) -> Done {
        self.keys(&["table row column? to", "rule limit order? to"])?;
        let target = match (&file.table, &file.rule, &file.limit) {
            (Some(table), _, _) => self.cell(table, &file.row, file.column.as_deref())?,
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
        let is_filled = file.table.is_some() && plain(&old).as_str() != Some("unfilled");
        if is_filled && self.layering.touches.at(&self.way_of(&target)).is_empty() {
            return Err(self
                .problem(
                    "row",
                    format!("the cell is filled already, with {}", flow(plain(&old))),
                )
                .expecting("`set` with the value that stands there"));
        }
        self.put(target, &file.to, "to")
    }

    pub(super) fn set(&mut self, file: &SetFile) -> Done {
        self.keys(&[
            "table row column? was to",
            "rule limit order? was to",
            "rule when order? was to",
            "severity was to",
            "definition was to",
        ])?;
        let target = match (&file.table, &file.rule, &file.severity, &file.definition) {
            (Some(table), ..) => self.cell(table, &file.row, file.column.as_deref())?,
            (_, Some(rule), ..) => match (&file.limit, &file.when) {
                (Some(fact), _) => self.limit(rule, "require", fact, file.order)?,
                (None, Some(fact)) => self.limit(rule, "when", fact, file.order)?,
                _ => return Err(self.one_of("`limit` or `when` with a fact's name")),
            },
            (_, _, Some(rule), _) => self.severity(rule)?,
            (.., Some(name)) => return self.define(name, file),
            _ => return Err(self.one_of("`table`, `rule`, `severity` or `definition`")),
        };
        self.changed_once(&target)?;
        self.expect(&target, &file.was)?;
        self.put(target, &file.to, "to")
    }

    /// Checks that the amendment has not changed the same thing before.
    fn changed_once(&self, target: &Target) -> Done {
        let touch = self.layering.touches.at(&self.way_of(target)).last();
        if touch.is_some_and(|touch| touch.layer == self.layering.layer) {
            let problem = self
                .merge
                .problem(self.body, "the amendment has changed this already");
            return Err(problem.expecting(ONE_CHANGE));
        }
        Ok(())
    }

    /// Puts a value where another stands.
    fn put(&mut self, target: Target, new: &Yaml, key: &str) -> Done {
        self.has_unit(target.kind.as_ref(), new, key)?;
        let old = self.value_at(&target.path);
        let way = self.way_of(&target);
        self.changed_once(&target)?;
        let last = self.layering.touches.at(&way).last().cloned();
        if same(new, plain(&old), target.kind.as_ref(), self.ladder()) {
            if let Some(touch) = last {
                let void = Some(format!("`{}` says the same", touch.by));
                self.record(target.part, &target.what, None, Some(new.clone()), void);
                return Ok(());
            }
            return Err(self.problem(
                key,
                format!("the change changes nothing: {} stands there", flow(new)),
            ));
        }
        if !self.goes_ahead(&target, Some(new))? {
            return Ok(());
        }
        let given = self.given(key)?;
        self.touch(&target.path);
        self.put_tree(&target, given)?;
        let was = Some(in_full(plain(&old), target.kind.as_ref()));
        self.record(target.part, &target.what, was, Some(new.clone()), None);
        Ok(())
    }

    fn put_tree(&mut self, target: &Target, given: Tree) -> Done {
        let Part::Table(name) = &target.part else {
            self.cite_limit(&target.path)?;
            self.cite_severity(&target.path)?;
            if let Some(spot) = at_mut(&mut self.merge.tree, &target.path) {
                *spot = given;
            }
            return Ok(());
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

    /// Gives a limit of a rule a citation of its own: the rule's other limits are not the amendment's.
    fn cite_limit(&mut self, path: &[Step]) -> Done {
        let (Some(Step::Key(part)), Some(owner)) = (path.get(2), path.get(..2)) else {
            return Ok(());
        };
        let order = order_of(path);
        let named = path.iter().rev().find_map(|step| match step {
            Step::Key(key) if key.contains('.') => Some(key.clone()),
            _ => None,
        });
        let (true, Some(fact)) = (part == "require", named) else {
            return Ok(());
        };
        let list = below(owner, &["limit_cites"]);
        let entries = at(&self.merge.tree, &list).map(Tree::items).unwrap_or_default();
        let is_own = |entry: &Tree| {
            entry.get("limit").and_then(Tree::as_str) == Some(&fact)
                && entry.get("order").and_then(Tree::as_str) == Some(order.name())
        };
        let known = entries.iter().position(is_own);
        let old = known
            .and_then(|known| entries.get(known))
            .and_then(|entry| entry.get("cite"));
        let old = old.or_else(|| at(&self.merge.tree, &below(owner, &["cite"])));
        let cite = self.citation(old)?;
        let scalar = |text: &str| self.whole.scalar_here(Yaml::from(text));
        let entry = self.whole.mapping_here([
            ("limit", scalar(&fact)),
            ("order", scalar(order.name())),
            ("cite", cite),
        ]);
        let Some(owner) = at_mut(&mut self.merge.tree, owner) else {
            return Ok(());
        };
        if owner.get("limit_cites").is_none() {
            owner.set("limit_cites", self.whole.sequence_here(Vec::new()));
        }
        if let Some(entries) = owner.get_mut("limit_cites").and_then(Tree::items_mut) {
            match known.and_then(|known| entries.get_mut(known)) {
                Some(known) => *known = entry,
                None => entries.push(entry),
            }
        }
        Ok(())
    }

    /// Cites a rule by the change that says how serious a breach of it is.
    fn cite_severity(&mut self, path: &[Step]) -> Done {
        let Some((Step::Key(key), owner)) = path.split_last() else {
            return Ok(());
        };
        if key == "severity" {
            let cite = self.citation(at(&self.merge.tree, &below(owner, &["cite"])))?;
            if let Some(owner) = at_mut(&mut self.merge.tree, owner) {
                owner.set("cite", cite);
            }
        }
        Ok(())
    }

    /// Where a rule that stands there says how serious a breach is.
    pub(super) fn severity_at(&self, owner: &[Step], rule: &str, key: &str) -> Done<Path> {
        let path = below(owner, &["severity"]);
        if at(&self.merge.tree, &path).is_none() {
            let what =
                format!("the rule `{rule}` is left to a visit, and says of no breach how serious it is");
            return Err(self.problem(key, what));
        }
        Ok(path)
    }

    /// How serious a breach of a rule is.
    fn severity(&self, rule: &str) -> Done<Target> {
        let owner = RULES.find(self.merge, rule, self.by("severity"))?;
        let path = self.severity_at(&owner, rule, "severity")?;
        Ok(Target {
            what: "how serious a breach is".to_owned(),
            ..whole(Part::Rule(rule.to_owned()), path)
        })
    }

    fn limit(&self, rule: &str, part: &str, fact: &str, order: Option<Order>) -> Done<Target> {
        let path = RULES.find(self.merge, rule, self.by("rule"))?;
        let key = if part == "when" { "when" } else { "limit" };
        let path = limit(self.merge, &below(&path, &[part]), fact, order, self.by(key))?;
        let order = order_of(&path);
        Ok(Target {
            part: Part::Rule(rule.to_owned()),
            path,
            way: None,
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
                way: None,
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
            .map_err(|misnamed| self.misnamed(name, &misnamed))?;
        let rows = below(&path, &["rows"]);
        Ok(cells
            .into_iter()
            .map(|(row, entry, kind)| (self.entry(&rows, row, entry), kind))
            .collect())
    }

    /// What is wrong with the names by which the change speaks of a table's cells.
    pub(super) fn misnamed(&self, table: &str, misnamed: &Misnamed) -> Diagnostic {
        let (problem, name, known) = match misnamed {
            Misnamed::NoColumn(known) => {
                return self.one_of(&format!("`column`, one of {}", known.join(", ")));
            }
            Misnamed::Column(name, known) => {
                let what = format!("the table `{table}` has no column `{name}`");
                (self.problem("column", what), name, known)
            }
            Misnamed::Key(name, known) => {
                let what = format!("the table `{table}` has no key `{name}`");
                (self.own.get("row").key(name).problem(what), name, known)
            }
            Misnamed::Misread(key, misread) => {
                return misread.tell(self.own.get("row").get(key).problem(misread.message()));
            }
            Misnamed::Value { key, given, known } => {
                let what = format!("the table `{table}` has no `{key}` {given}");
                let problem = self.own.get("row").get(key).problem(what);
                return problem.expecting(format!("one of {}", known.join(", ")));
            }
        };
        problem
            .expecting(format!("one of {}", known.join(", ")))
            .suggesting(nearest(name, known.iter().map(String::as_str)))
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
            let known = definitions.iter().flat_map(|all| all.entries());
            let known: Vec<&str> = known.map(|(name, _)| name).collect();
            // The one definition that a rule set may do without.
            let all = known.iter().copied().chain(["sharp_turn"]);
            let problem = self.problem("definition", format!("the base has no definition of `{name}`"));
            return Err(match nearest(name, all) {
                Some("sharp_turn") if !known.contains(&"sharp_turn") => {
                    problem.expecting(format!("`{}`", add_sharp_turn()))
                }
                meant => problem
                    .expecting(format!("one of {}", known.join(", ")))
                    .suggesting(meant),
            });
        };
        let old = without_cite(own.value());
        let target = whole(Part::Definition(name.to_owned()), path.clone());
        let touches = self.layering.touches.at(&self.way_of(&target));
        let mut earlier = touches.iter().filter(|touch| touch.layer < self.layering.layer);
        let expected = alike(&file.was, &old)
            || earlier.any(|touch| alike(&file.was, &without_cite(touch.before.clone())));
        if !expected {
            self.reads_as(&file.was, &old)?;
            let what = format!(
                "the change expects {}, and the base has {}",
                flow(&file.was),
                flow(&old)
            );
            return Err(self.problem("was", what).expecting(flow(&old)));
        }
        if alike(&file.to, &old) {
            return Err(self.problem("to", "the change changes nothing"));
        }
        if !self.goes_ahead(&target, None)? {
            return Ok(());
        }
        let mut given = self.given("to")?;
        if !given.is_mapping() {
            let problem = self.problem("to", "a definition is keys with values");
            return Err(problem.expecting(flow(&old)));
        }
        self.touch(&path);
        let cite = self.citation(at(&self.merge.tree, &below(&path, &["cite"])))?;
        given.set("cite", cite);
        if let Some(spot) = at_mut(&mut self.merge.tree, &path) {
            *spot = given;
        }
        self.record(
            target.part,
            "what it means",
            Some(old),
            Some(file.to.clone()),
            None,
        );
        Ok(())
    }

    /// Checks that what a change expects of a definition can be read wherever an angle or a length stands.
    fn reads_as(&self, was: &Yaml, old: &Yaml) -> Done {
        for (key, value) in was.as_mapping().into_iter().flatten() {
            let Some((key, old)) = key.as_str().zip(old.get(key)) else {
                continue;
            };
            for dimension in [Dimension::Angle, Dimension::Length] {
                let read = |yaml: &Yaml| read(yaml, dimension, None, self.ladder());
                if let (Ok(_), Err(misread)) = (read(old), read(value)) {
                    let at = self.own.get("was").get(key);
                    return Err(misread.tell(at.problem(misread.message())));
                }
            }
        }
        Ok(())
    }

    /// A floor under values, or a cap over them.
    pub(super) fn bound(&mut self, file: &BoundFile, is_floor: bool) -> Done {
        self.keys(&["table row? column? at", "rule limit order? at"])?;
        match (&file.table, &file.rule, &file.limit) {
            (Some(table), _, _) => self.bound_cells(table, file, is_floor),
            (_, Some(rule), Some(fact)) => self.bound_limit(rule, fact, file, is_floor),
            _ => Err(self.one_of("`table`, or `rule` with `limit`")),
        }
    }

    fn bound_limit(&mut self, rule: &str, fact: &str, file: &BoundFile, is_floor: bool) -> Done {
        let mut target = self.limit(rule, "require", fact, file.order)?;
        target.what = format!(
            "{} {}",
            if is_floor {
                "floor under the"
            } else {
                "cap over the"
            },
            target.what
        );
        let old = self.value_at(&target.path);
        let value = |yaml: &Yaml| target.kind.as_ref()?.read(yaml, self.ladder()).ok();
        if let Some((bound, old)) = value(&file.at).zip(value(&old))
            && side(is_floor).is_more(bound, old) == Some(false)
        {
            return Err(self.problem("at", "the change changes nothing: the limit is not beyond it"));
        }
        if !self.goes_ahead(&target, Some(&file.at))? {
            return Ok(());
        }
        self.has_room(&target.path)?;
        let at_value = self.given("at")?;
        let Some(old) = at(&self.merge.tree, &target.path).cloned() else {
            return Ok(());
        };
        let form = if is_floor { "larger_of" } else { "smaller_of" };
        let both = at_value.sequence_here(vec![old, at_value.clone()]);
        let bounded = at_value.mapping_here([(form, both)]);
        self.touch(&target.path);
        self.put_tree(&target, bounded)?;
        self.record(target.part, &target.what, None, Some(file.at.clone()), None);
        Ok(())
    }

    fn bound_cells(&mut self, name: &str, file: &BoundFile, is_floor: bool) -> Done {
        let cells = self.cells(name, &file.row, file.column.as_deref())?;
        if cells.is_empty() {
            return Err(self.problem("row", format!("the table `{name}` has no such row")));
        }
        self.layering.bounded += cells.len();
        if self.layering.bounded > MOST_BOUNDED {
            let what = format!("floors and caps are laid over more than {MOST_BOUNDED} cells");
            return Err(self.merge.problem(self.body, what));
        }
        let stricter = Stricter::of_column(self.layering.base, name, file.column.as_deref());
        let (mut beyond, mut changed, mut stands) = (0, 0, None);
        for (path, kind) in cells {
            self.has_unit(Some(&kind), &file.at, "at")?;
            let bound = kind
                .read(&file.at, self.ladder())
                .map_err(|misread| misread.tell(self.problem("at", misread.message())))?;
            let old = kind.content(plain(&self.value_at(&path)), self.ladder());
            let is_beyond = match old {
                Some(Content::Unlimited) => !is_floor,
                Some(Content::Value(old)) => side(is_floor).is_more(bound, old) == Some(true),
                _ => false,
            };
            if !is_beyond {
                continue;
            }
            let target = Target {
                part: Part::Table(name.to_owned()),
                path,
                way: None,
                kind: Some(kind),
                what: String::new(),
                stricter,
            };
            beyond += 1;
            if self.goes_ahead(&target, Some(&file.at))? {
                let given = self.given("at")?;
                self.touch(&target.path);
                self.put_tree(&target, given)?;
                changed += 1;
            } else if stands.is_none() {
                let touch = self
                    .layering
                    .touches
                    .before(self.layering.layer, &self.way_of(&target));
                stands = touch.map(|touch| touch.by.clone());
            }
        }
        if beyond == 0 {
            return Err(self.problem("at", "the change changes nothing: no value is beyond it"));
        }
        let side = if is_floor { "floor under" } else { "cap over" };
        let column = file.column.as_deref().unwrap_or("the values");
        for (count, void) in [
            (changed, None),
            (beyond - changed, stands.map(|by| format!("`{by}` stands"))),
        ] {
            if count > 0 {
                let what = format!("{side} {column}, {count} of its cells");
                self.record(
                    Part::Table(name.to_owned()),
                    &what,
                    None,
                    Some(file.at.clone()),
                    void,
                );
            }
        }
        Ok(())
    }
}

/// The direction in which a bound moves values.
fn side(is_floor: bool) -> Stricter {
    if is_floor {
        Stricter::Larger
    } else {
        Stricter::Smaller
    }
}

/// A value of the base with the unit that the head of its table states.
fn in_full(value: &Yaml, kind: Option<&Kind>) -> Yaml {
    match (value, kind.and_then(|kind| kind.unit.as_deref())) {
        (Yaml::Number(number), Some(unit)) => format!("{number} {unit}").into(),
        _ => value.clone(),
    }
}

fn without_cite(value: Yaml) -> Yaml {
    match value {
        Yaml::Mapping(mut map) => {
            map.remove("cite");
            Yaml::Mapping(map)
        }
        other => other,
    }
}

/// Whether two definitions as written say the same.
fn alike(one: &Yaml, other: &Yaml) -> bool {
    let (Yaml::Mapping(one), Yaml::Mapping(other)) = (one, other) else {
        return one == other;
    };
    let same = |one: &Yaml, other: &Yaml| {
        let written = one.as_str().zip(other.as_str());
        let angle = written.map(|(one, other)| (one.parse::<Angle>(), other.parse::<Angle>()));
        let length = written.map(|(one, other)| (one.parse::<Length>(), other.parse::<Length>()));
        one == other
            || angle.is_some_and(|(one, other)| one.is_ok() && one == other)
            || length.is_some_and(|(one, other)| one.is_ok() && one == other)
    };
    one.len() == other.len()
        && one
            .iter()
            .all(|(key, value)| other.get(key).is_some_and(|other| same(value, other)))
}

fn cell_in_words(row: &BTreeMap<String, Yaml>, column: Option<&str>) -> String {
    let keys: Vec<_> = row
        .iter()
        .map(|(key, value)| format!("{key} {}", flow(value)))
        .collect();
    let column = column.map(|column| format!("{column} at ")).unwrap_or_default();
    format!("{column}{}", keys.join(", "))
}
