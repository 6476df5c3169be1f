//! Changes that take out, narrow, gate, annotate or renumber what stands.

use crownweir_document::{Tree, nearest};
use serde_yaml::Value as Yaml;

use super::Part;
use super::apply::{Done, Hand, Target, amended, whole};
use super::spot::{
    ARRANGEMENTS, LISTS, MATTERS, Path, RULES, Shape, Step, at, at_mut, below, first_fact, flow, item, table,
    tests,
};
use super::wire::{DropFile, ExceptFile, GateFile, NoteFile, RenumberFile, RestrictFile};

impl Hand<'_, '_> {
    pub(super) fn drop(&mut self, file: &DropFile) -> Done {
        self.keys(&[
            "rule",
            "rule when",
            "rule exception",
            "arrangement",
            "arrangement condition",
            "table row",
            "matter",
            "section",
        ])?;
        self.cited()?;
        if let Some(rule) = &file.rule {
            return match (&file.when, &file.exception) {
                (Some(fact), _) => self.drop_when(rule, fact),
                (_, Some(name)) => self.drop_exception(rule, name),
                _ => {
                    let path = RULES.find(self.merge, rule, self.by("rule"))?;
                    self.drop_item(Part::Rule(rule.clone()), path)
                }
            };
        }
        if let Some(name) = &file.matter {
            let path = MATTERS.find(self.merge, name, self.by("matter"))?;
            return self.drop_item(Part::Matter(name.clone()), path);
        }
        match (&file.arrangement, &file.condition, &file.table, &file.section) {
            (Some(name), Some(fact), ..) => self.drop_condition(name, fact),
            (Some(name), ..) => {
                let path = ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?;
                self.drop_item(Part::Arrangement(name.clone()), path)
            }
            (_, _, Some(name), _) => self.drop_row(name, file),
            (_, _, _, Some(section)) => self.drop_section(section),
            _ => {
                let any = "one of `rule`, `arrangement`, `table` with `row`, `matter` and `section`";
                Err(self.one_of(any))
            }
        }
    }

    /// Takes an item out of a list, whole.
    fn drop_item(&mut self, part: Part, path: Path) -> Done {
        self.drop_at(whole(part, path), "dropped", None).map(|_| ())
    }

    /// Takes out what a target stands for, unless another amendment's text stands. Whether it did.
    fn drop_at(&mut self, target: Target, what: &str, was: Option<Yaml>) -> Done<bool> {
        if !self.goes_ahead(&target, None)? {
            return Ok(false);
        }
        let before = self.value_at(&target.path);
        self.touch_way(self.way_of(&target), before, true);
        self.take_out(&target.path);
        self.record(target.part, what, was, None, None);
        Ok(true)
    }

    fn take_out(&mut self, path: &[Step]) -> Option<Tree> {
        let (last, parent) = path.split_last()?;
        let parent = at_mut(&mut self.merge.tree, parent)?;
        match last {
            Step::Key(key) => parent.remove(key),
            Step::Item(index) => {
                let items = parent.items_mut()?;
                items.get(*index)?;
                Some(items.remove(*index))
            }
        }
    }

    fn drop_exception(&mut self, rule: &str, name: &str) -> Done {
        let owner = RULES.find(self.merge, rule, self.by("rule"))?;
        let list = below(&owner, &["exceptions"]);
        let items = self.items(&list);
        let names: Vec<&str> = items
            .iter()
            .filter_map(|one| one.get("exception").and_then(Tree::as_str))
            .collect();
        let Some(index) = names.iter().position(|own| *own == name) else {
            let problem = self.problem(
                "exception",
                format!("the rule `{rule}` has no exception `{name}`"),
            );
            return Err(problem
                .expecting(any_of(&names))
                .suggesting(nearest(name, names.iter().copied())));
        };
        let when = items.get(index).and_then(|one| one.get("when")).map(Tree::value);
        let target = whole(Part::Rule(rule.to_owned()), item(&list, index));
        self.drop_at(target, &format!("exception {name} dropped"), when)?;
        Ok(())
    }

    fn drop_condition(&mut self, name: &str, fact: &str) -> Done {
        let owner = ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?;
        let list = below(&owner, &["conditions"]);
        let items = self.items(&list);
        // A condition that speaks of several facts goes by the first of them.
        let firsts: Vec<String> = items
            .iter()
            .map(|one| one.get("require").and_then(first_fact).unwrap_or_default())
            .collect();
        let names: Vec<&str> = firsts.iter().map(String::as_str).collect();
        let fitting: Vec<usize> = (0..names.len())
            .filter(|&index| names.get(index) == Some(&fact))
            .collect();
        let [index] = fitting.as_slice() else {
            let count = fitting.len();
            let what = format!("{count} conditions of the arrangement `{name}` go by `{fact}`");
            let problem = self.problem("condition", what).expecting(any_of(&names));
            return Err(problem.suggesting(nearest(fact, names.iter().copied())));
        };
        self.drop_condition_at(Part::Arrangement(name.to_owned()), item(&list, *index))
    }

    fn drop_condition_at(&mut self, part: Part, path: Path) -> Done {
        let own = at(&self.merge.tree, &path);
        let was = own.and_then(|one| one.get("require")).map(Tree::value);
        self.drop_at(whole(part, path), "a condition dropped", was)?;
        Ok(())
    }

    /// Takes out what a rule asks of a fact before it applies.
    fn drop_when(&mut self, rule: &str, fact: &str) -> Done {
        let owner = RULES.find(self.merge, rule, self.by("rule"))?;
        let path = below(&owner, &["when"]);
        let mut found: Vec<Path> = Vec::new();
        let mut facts = Vec::new();
        if let Some(when) = at(&self.merge.tree, &path) {
            tests(when, &path, &mut |own, _, path| {
                facts.push(own.to_owned());
                if own == fact {
                    found.push(path.to_vec());
                }
            });
        }
        let names: Vec<&str> = facts.iter().map(String::as_str).collect();
        let [path] = found.as_slice() else {
            let what = format!("the rule `{rule}` applies by `{fact}` in {} places", found.len());
            let problem = self.problem("when", what).expecting(any_of(&names));
            return Err(problem.suggesting(nearest(fact, names.iter().copied())));
        };
        let is_alternative = |step: &Step| matches!(step, Step::Key(key) if key == "any" || key == "not");
        if path.iter().any(is_alternative) {
            // One alternative less would narrow the rule, not widen it.
            let what = format!("`{fact}` is one of several alternatives there, or is denied");
            return Err(self
                .problem("when", what)
                .expecting("`replace` with the whole rule"));
        }
        let target = whole(Part::Rule(rule.to_owned()), path.clone());
        let was = at(&self.merge.tree, path).map(Tree::value);
        if self.drop_at(target, &format!("applies whatever `{fact}` is"), was)? {
            self.prune(path);
        }
        Ok(())
    }

    /// Takes out what the removal of a condition has left empty.
    fn prune(&mut self, path: &[Step]) {
        let mut parent = path;
        while let Some((_, above)) = parent.split_last() {
            parent = above;
            let is_empty = at(&self.merge.tree, parent)
                .is_some_and(|tree| tree.items().is_empty() && tree.entries().next().is_none());
            let is_whole = matches!(parent.last(), Some(Step::Key(key)) if key == "when");
            if !is_empty || is_whole {
                return;
            }
            self.take_out(parent);
        }
    }

    fn drop_row(&mut self, name: &str, file: &DropFile) -> Done {
        let path = table(self.merge, name, self.by("table"))?;
        let rows = at(&self.merge.tree, &path).and_then(|tree| {
            let shape = Shape::of(tree)?;
            Some(shape.rows(tree, &file.row, self.ladder()))
        });
        let rows = rows
            .ok_or_else(|| self.one_of("a table that can be read"))?
            .map_err(|misnamed| self.misnamed(name, &misnamed))?;
        let [row] = rows.as_slice() else {
            let what = format!("{} rows of the table `{name}` fit", rows.len());
            return Err(self.problem("row", what).expecting("every key of one row"));
        };
        let path = item(&below(&path, &["rows"]), *row);
        let was = at(&self.merge.tree, &path).map(|row| row.get("row").unwrap_or(row).value());
        self.drop_at(whole(Part::Table(name.to_owned()), path), "a row dropped", was)?;
        Ok(())
    }

    /// Takes out all that cites a section of the base or a part of it.
    fn drop_section(&mut self, section: &str) -> Done {
        let mut dropped = false;
        for list in LISTS {
            let path = below(&[], &[list.key]);
            for index in (0..self.items(&path).len()).rev() {
                let own = item(&path, index);
                let Some(tree) = at(&self.merge.tree, &own) else {
                    continue;
                };
                let name = tree.get(list.name).and_then(Tree::as_str);
                let part = (list.part)(name.unwrap_or_default().to_owned());
                if is_within(tree, section) {
                    self.drop_item(part, own)?;
                    dropped = true;
                    continue;
                }
                let conditions = below(&own, &["conditions"]);
                for index in (0..self.items(&conditions).len()).rev() {
                    let within = |one: &Tree| is_within(one, section);
                    if self.items(&conditions).get(index).is_some_and(within) {
                        self.drop_condition_at(part.clone(), item(&conditions, index))?;
                        dropped = true;
                    }
                }
            }
        }
        if !dropped {
            return Err(self.no_such_section("section", "no rule, arrangement or matter cites", section));
        }
        Ok(())
    }

    fn items(&self, path: &[Step]) -> &[Tree] {
        at(&self.merge.tree, path).map(Tree::items).unwrap_or_default()
    }

    /// That nothing, or not the part named, cites a section of the base.
    fn no_such_section(&self, key: &str, what: &str, section: &str) -> crownweir_document::Diagnostic {
        let mut found = Vec::new();
        collect_sections(&self.merge.tree, &mut found);
        found.sort();
        found.dedup();
        let others = found.iter().map(String::as_str).filter(|own| *own != section);
        self.problem(key, format!("{what} section {section} of the base"))
            .suggesting(nearest(section, others))
    }

    pub(super) fn restrict(&mut self, file: &RestrictFile) -> Done {
        self.keys(&["rule to", "arrangement to message"])?;
        let further = self.given("to")?;
        match (&file.rule, &file.arrangement) {
            (Some(rule), _) => {
                let path = RULES.find(self.merge, rule, self.by("rule"))?;
                let target = whole(Part::Rule(rule.clone()), below(&path, &["when"]));
                if !self.goes_ahead(&target, None)? {
                    return Ok(());
                }
                self.has_room(&target.path)?;
                self.touch(&target.path);
                let when = match at(&self.merge.tree, &target.path).cloned() {
                    Some(old) => {
                        further.mapping_here([("all", further.sequence_here(vec![old, further.clone()]))])
                    }
                    None => further,
                };
                if let Some(owner) = at_mut(&mut self.merge.tree, &path) {
                    owner.set("when", when);
                }
                let now = Some(file.to.clone());
                self.record(target.part, "applies only where", None, now, None);
                Ok(())
            }
            (_, Some(name)) => {
                let path = ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?;
                let condition = further.mapping_here([
                    ("require", further.clone()),
                    ("cite", self.citation(None)?),
                    ("message", self.given("message")?),
                ]);
                let part = Part::Arrangement(name.clone());
                let way = [ARRANGEMENTS.key, name, "conditions", &flow(&file.to)];
                if self.begins(&part, &way)? {
                    self.push_to(&path, "conditions", condition);
                    let now = Some(file.to.clone());
                    self.record(part, "a further condition", None, now, None);
                }
                Ok(())
            }
            _ => Err(self.one_of("`rule` or `arrangement`")),
        }
    }

    /// Puts an item into a list that the owner may not have yet.
    pub(super) fn push_to(&mut self, owner: &[Step], key: &str, new: Tree) {
        let Some(owner) = at_mut(&mut self.merge.tree, owner) else {
            return;
        };
        if owner.get(key).is_none() {
            owner.set(key, new.sequence_here(Vec::new()));
        }
        if let Some(items) = owner.get_mut(key).and_then(Tree::items_mut) {
            items.push(new);
        }
    }

    pub(super) fn except(&mut self, file: &ExceptFile) -> Done {
        let path = RULES.find(self.merge, &file.rule, self.by("rule"))?;
        let name = self.given("exception")?;
        let is_own = |one: &Tree| one.get("exception").and_then(Tree::as_str) == Some(&file.exception);
        if self.items(&below(&path, &["exceptions"])).iter().any(is_own) {
            let what = format!("the rule has the exception `{}` already", file.exception);
            return Err(self.problem("exception", what));
        }
        let exception = name.mapping_here([
            ("exception", name.clone()),
            ("when", self.given("when")?),
            ("cite", self.citation(None)?),
        ]);
        let part = Part::Rule(file.rule.clone());
        let way = [RULES.key, &file.rule, "exceptions", &file.exception];
        if self.begins(&part, &way)? {
            self.push_to(&path, "exceptions", exception);
            let now = Some(file.when.clone());
            self.record(part, "does not apply where", None, now, None);
        }
        Ok(())
    }

    pub(super) fn gate(&mut self, file: &GateFile) -> Done {
        self.keys(&["rule", "arrangement"])?;
        let (part, path, key, value) = match (&file.rule, &file.arrangement) {
            (Some(rule), _) => {
                let path = RULES.find(self.merge, rule, self.by("rule"))?;
                self.severity_at(&path, rule, "rule")?;
                let value = Yaml::from("needs_approval");
                (Part::Rule(rule.clone()), path, "severity", value)
            }
            (_, Some(name)) => {
                let path = ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?;
                let part = Part::Arrangement(name.clone());
                (part, path, "needs_approval", Yaml::Bool(true))
            }
            _ => return Err(self.one_of("`rule` or `arrangement`")),
        };
        let target = whole(part, below(&path, &[key]));
        let what = "only with the authority's permission";
        let old = at(&self.merge.tree, &target.path).map(Tree::value);
        if old.as_ref() == Some(&value) {
            let way = self.way_of(&target);
            let by = self.layering.touches.before(self.layering.layer, &way);
            let Some(by) = by.map(|touch| touch.by.clone()) else {
                return Err(self
                    .merge
                    .problem(self.body, format!("the {} needs permission already", target.part)));
            };
            self.record(
                target.part,
                what,
                None,
                None,
                Some(format!("`{by}` says the same")),
            );
            return Ok(());
        }
        if !self.goes_ahead(&target, None)? {
            return Ok(());
        }
        self.touch(&target.path);
        let tree = self.body.scalar_here(value);
        if let Some(owner) = at_mut(&mut self.merge.tree, &path) {
            owner.set(key, tree);
        }
        self.record(target.part, what, old, None, None);
        Ok(())
    }

    pub(super) fn note(&mut self, file: &NoteFile) -> Done {
        let text = self.given("text")?;
        let (part, path) = match &file.rule {
            Some(rule) => (
                Part::Rule(rule.clone()),
                RULES.find(self.merge, rule, self.by("rule"))?,
            ),
            None => (Part::Whole, Path::new()),
        };
        self.push_to(&path, "notes", text);
        self.record(part, "a note", None, Some(Yaml::from(file.text.as_str())), None);
        Ok(())
    }

    pub(super) fn renumber(&mut self, file: &RenumberFile) -> Done {
        self.keys(&["was to", "rule was to", "table was to", "arrangement was to"])?;
        let named = self.named(&file.rule, &file.table, &file.arrangement)?;
        let (part, path) = named.unwrap_or((Part::Whole, Path::new()));
        if file.was == file.to {
            return Err(self.problem("to", "the change changes nothing"));
        }
        let mut target = whole(part.clone(), below(&path, &["cite"]));
        "section".clone_into(&mut target.what);
        if part == Part::Whole {
            target.way = Some(vec!["sections".to_owned(), file.was.clone()]);
        }
        if !self.goes_ahead(&target, Some(&Yaml::from(file.to.as_str())))? {
            return Ok(());
        }
        self.touch_way(self.way_of(&target), Yaml::Null, false);
        let to = self.given("to")?;
        let own = self.whole.get("cite").cloned();
        let Some(tree) = at_mut(&mut self.merge.tree, &path) else {
            return Ok(());
        };
        if !renumber(tree, &file.was, &to, own.as_ref(), part != Part::Whole) {
            let what = match &part {
                Part::Whole => "nothing cites".to_owned(),
                part => format!("the {part} does not cite"),
            };
            return Err(self.no_such_section("was", &what, &file.was));
        }
        let (was, now) = (Yaml::from(file.was.as_str()), Yaml::from(file.to.as_str()));
        self.record(part, "section", Some(was), Some(now), None);
        Ok(())
    }
}

fn any_of(names: &[&str]) -> String {
    match names {
        [] => "nothing: there is none".to_owned(),
        names => format!("one of {}", names.join(", ")),
    }
}

/// The section of the base that a citation rests on, below what amendments have put over it.
fn base_section(cite: &Tree) -> Option<String> {
    let lowest = std::iter::successors(Some(cite), |cite| cite.get("amends")).last()?;
    let is_base = lowest.text_number() == 0;
    lowest
        .get("section")
        .filter(|_| is_base)
        .map(|section| flow(&section.value()))
}

/// Whether an item cites a section of the base or a part of it.
fn is_within(item: &Tree, section: &str) -> bool {
    let own = item.get("cite").and_then(base_section).unwrap_or_default();
    own.strip_prefix(section)
        .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

fn collect_sections(tree: &Tree, found: &mut Vec<String>) {
    for (key, inner) in tree.entries() {
        match key {
            "cite" => found.extend(base_section(inner)),
            _ => collect_sections(inner, found),
        }
    }
    for inner in tree.items() {
        collect_sections(inner, found);
    }
}

/// Puts another number in every citation of a section of the base. The citation becomes the amendment's, over the one
/// that stood there. Whether there was any.
fn renumber(tree: &mut Tree, was: &str, to: &Tree, own: Option<&Tree>, only_here: bool) -> bool {
    let mut found = false;
    if let Some(cite) = tree.get("cite")
        && base_section(cite).as_deref() == Some(was)
    {
        let basis = cite.get("basis").cloned();
        let mut new = own.cloned().unwrap_or_else(|| to.mapping_here([]));
        new.set("section", to.clone());
        if let Some(basis) = basis.filter(|_| new.get("basis").is_none()) {
            new.set("basis", basis);
        }
        if let Some(old) = amended(Some(cite), to) {
            new.set("amends", old.clone());
        }
        tree.set("cite", new);
        found = true;
    }
    if only_here {
        return found;
    }
    for (key, inner) in tree.entries_mut() {
        if key != "cite" {
            found |= renumber(inner, was, to, own, false);
        }
    }
    if let Some(items) = tree.items_mut() {
        for inner in items {
            found |= renumber(inner, was, to, own, false);
        }
    }
    found
}
