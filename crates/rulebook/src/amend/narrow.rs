//! Changes that take out, narrow, gate, annotate or renumber what stands.

use crownweir_document::Tree;
use serde_yaml::Value as Yaml;

use super::Part;
use super::apply::{Done, Hand, amended, in_words, whole};
use super::spot::{ARRANGEMENTS, List, Path, RULES, Shape, Step, at, at_mut, below, item, table, tests};
use super::wire::{DropFile, ExceptFile, GateFile, NoteFile, RenumberFile, RestrictFile};

impl Hand<'_, '_> {
    pub(super) fn drop(&mut self, file: &DropFile) -> Done {
        match file {
            DropFile {
                rule: Some(rule),
                when: Some(fact),
                exception: None,
                ..
            } => self.drop_when(rule, fact),
            DropFile {
                rule: Some(rule),
                when: None,
                exception: Some(name),
                ..
            } => {
                let path = RULES.find(self.merge, rule, self.by("rule"))?;
                let list = List {
                    key: "exceptions",
                    name: "exception",
                };
                let part = Part::Rule(rule.clone());
                self.drop_below(
                    part,
                    &path,
                    list,
                    &|one| one.get("exception").and_then(Tree::as_str) == Some(name),
                    "exception",
                )
            }
            DropFile { rule: Some(rule), .. } => {
                let path = RULES.find(self.merge, rule, self.by("rule"))?;
                self.drop_item(Part::Rule(rule.clone()), path)
            }
            DropFile {
                arrangement: Some(name),
                condition: Some(fact),
                ..
            } => {
                let path = ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?;
                let list = List {
                    key: "conditions",
                    name: "condition",
                };
                let speaks = |one: &Tree| one.get("require").is_some_and(|require| speaks_of(require, fact));
                self.drop_below(Part::Arrangement(name.clone()), &path, list, &speaks, "condition")
            }
            DropFile {
                arrangement: Some(name),
                ..
            } => {
                let path = ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?;
                self.drop_item(Part::Arrangement(name.clone()), path)
            }
            DropFile {
                table: Some(name), ..
            } => self.drop_row(name, file),
            DropFile {
                section: Some(section),
                ..
            } => self.drop_section(section),
            _ => Err(self.one_of("one of `rule`, `arrangement`, `table` with `row`, and `section`")),
        }
    }

    /// Takes an item out of a list, whole.
    fn drop_item(&mut self, part: Part, path: Path) -> Done {
        let target = whole(part, path);
        if !self.goes_ahead(&target, None)? {
            return Ok(());
        }
        self.touch(&target.path);
        self.take_out(&target.path);
        self.record(target.part, "dropped", None, None, None);
        Ok(())
    }

    fn take_out(&mut self, path: &[Step]) -> Option<Tree> {
        let (last, parent) = path.split_last()?;
        let parent = at_mut(&mut self.merge.tree, parent)?;
        match last {
            Step::Key(key) => parent.remove(key),
            Step::Item(index) => {
                let items = parent.items_mut()?;
                (*index < items.len()).then(|| items.remove(*index))
            }
        }
    }

    /// Takes the one item that fits out of a list of a rule or arrangement.
    fn drop_below(
        &mut self,
        part: Part,
        owner: &[Step],
        list: List,
        fits: &dyn Fn(&Tree) -> bool,
        key: &str,
    ) -> Done {
        let path = below(owner, &[list.key]);
        let items = at(&self.merge.tree, &path).map(Tree::items).unwrap_or_default();
        let found: Vec<usize> = items
            .iter()
            .enumerate()
            .filter(|(_, one)| fits(one))
            .map(|(index, _)| index)
            .collect();
        let [index] = found.as_slice() else {
            let what = format!("{} such {}s of the {part}", found.len(), list.name);
            return Err(self.problem(key, what).expecting("what fits exactly one of them"));
        };
        let target = whole(part, item(&path, *index));
        if !self.goes_ahead(&target, None)? {
            return Ok(());
        }
        let was =
            at(&self.merge.tree, &target.path).map(|one| match one.get("require").or(one.get("when")) {
                Some(inner) => inner.value(),
                None => one.value(),
            });
        self.touch(&target.path);
        self.take_out(&target.path);
        self.cite(owner)?;
        self.record(target.part, &format!("{} dropped", list.name), was, None, None);
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
        let [path] = found.as_slice() else {
            let what = format!("the rule `{rule}` applies by `{fact}` in {} places", found.len());
            let expected = format!("one of {}", facts.join(", "));
            return Err(self.problem("when", what).expecting(expected).suggesting(
                crownweir_document::nearest(fact, facts.iter().map(String::as_str)),
            ));
        };
        let target = whole(Part::Rule(rule.to_owned()), path.clone());
        if !self.goes_ahead(&target, None)? {
            return Ok(());
        }
        let was = at(&self.merge.tree, path).map(Tree::value);
        self.touch(path);
        self.take_out(path);
        self.prune(path);
        self.cite(&owner)?;
        self.record(
            target.part,
            &format!("applies whatever `{fact}` is"),
            was,
            None,
            None,
        );
        Ok(())
    }

    /// Takes out what the removal of a condition has left empty: an empty alternative would hold always.
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
            .map_err(|expected| self.one_of(&expected))?;
        let [row] = rows.as_slice() else {
            let what = format!("{} rows of the table `{name}` fit", rows.len());
            return Err(self.problem("row", what).expecting("every key of one row"));
        };
        let target = whole(Part::Table(name.to_owned()), item(&below(&path, &["rows"]), *row));
        if !self.goes_ahead(&target, None)? {
            return Ok(());
        }
        let was = at(&self.merge.tree, &target.path).map(Tree::value);
        self.touch(&target.path);
        self.take_out(&target.path);
        self.record(target.part, "a row dropped", was, None, None);
        Ok(())
    }

    /// Takes out all that cites a section or a part of it.
    fn drop_section(&mut self, section: &str) -> Done {
        let mut dropped = 0;
        for list in [RULES, ARRANGEMENTS] {
            let path = below(&[], &[list.key]);
            let count = at(&self.merge.tree, &path).map_or(0, |tree| tree.items().len());
            for index in (0..count).rev() {
                let own = item(&path, index);
                let Some(tree) = at(&self.merge.tree, &own) else {
                    continue;
                };
                let name = tree
                    .get(list.name)
                    .and_then(Tree::as_str)
                    .unwrap_or_default()
                    .to_owned();
                let part = if list.key == RULES.key {
                    Part::Rule(name)
                } else {
                    Part::Arrangement(name)
                };
                if is_within(tree, section) {
                    self.drop_item(part, own)?;
                    dropped += 1;
                    continue;
                }
                let conditions = tree.get("conditions").map(Tree::items).unwrap_or_default();
                let within: Vec<usize> = (0..conditions.len())
                    .filter(|&at| conditions.get(at).is_some_and(|one| is_within(one, section)))
                    .collect();
                for at in within.into_iter().rev() {
                    self.drop_item(part.clone(), item(&below(&own, &["conditions"]), at))?;
                    dropped += 1;
                }
            }
        }
        if dropped == 0 {
            let sections = self.sections();
            return Err(self
                .problem("section", format!("nothing in the base cites section {section}"))
                .suggesting(crownweir_document::nearest(
                    section,
                    sections.iter().map(String::as_str),
                )));
        }
        Ok(())
    }

    /// The sections that the base cites.
    fn sections(&self) -> Vec<String> {
        let mut found = Vec::new();
        collect_sections(&self.merge.tree, &mut found);
        found.sort();
        found.dedup();
        found
    }

    pub(super) fn restrict(&mut self, file: &RestrictFile) -> Done {
        let further = self.given("to")?;
        match (&file.rule, &file.arrangement) {
            (Some(rule), None) => {
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
                self.cite(&path)?;
                self.record(
                    target.part,
                    "applies only where",
                    None,
                    Some(file.to.clone()),
                    None,
                );
                Ok(())
            }
            (None, Some(name)) => {
                let path = ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?;
                let message = self.body.get("message").cloned();
                let message = message.ok_or_else(|| {
                    self.problem("message", "what to say where the condition fails is missing")
                        .expecting("`message: ...`")
                })?;
                let cite = self.citation(None)?;
                let condition = further.mapping_here([
                    ("require", further.clone()),
                    ("cite", cite),
                    ("message", message),
                ]);
                let list = below(&path, &["conditions"]);
                if at(&self.merge.tree, &list).is_none()
                    && let Some(owner) = at_mut(&mut self.merge.tree, &path)
                {
                    owner.set("conditions", further.sequence_here(Vec::new()));
                }
                self.push(&list, condition);
                let part = Part::Arrangement(name.clone());
                self.record(part, "a further condition", None, Some(file.to.clone()), None);
                Ok(())
            }
            _ => Err(self.one_of("`rule` or `arrangement`")),
        }
    }

    pub(super) fn except(&mut self, file: &ExceptFile) -> Done {
        let path = RULES.find(self.merge, &file.rule, self.by("rule"))?;
        let list = below(&path, &["exceptions"]);
        let name = self.given("exception")?;
        let taken = at(&self.merge.tree, &list).map(Tree::items).unwrap_or_default();
        if taken
            .iter()
            .any(|one| one.get("exception").and_then(Tree::as_str) == Some(&file.exception))
        {
            return Err(self.problem(
                "exception",
                format!("the rule has the exception `{}` already", file.exception),
            ));
        }
        let when = self.given("when")?;
        let cite = self.citation(None)?;
        let exception = name.mapping_here([("exception", name.clone()), ("when", when), ("cite", cite)]);
        if at(&self.merge.tree, &list).is_none()
            && let Some(owner) = at_mut(&mut self.merge.tree, &path)
        {
            owner.set("exceptions", name.sequence_here(Vec::new()));
        }
        self.push(&list, exception);
        let part = Part::Rule(file.rule.clone());
        self.record(part, "does not apply where", None, Some(file.when.clone()), None);
        Ok(())
    }

    pub(super) fn gate(&mut self, file: &GateFile) -> Done {
        let (part, path, key, value) = match (&file.rule, &file.arrangement) {
            (Some(rule), None) => {
                let path = RULES.find(self.merge, rule, self.by("rule"))?;
                (
                    Part::Rule(rule.clone()),
                    path,
                    "severity",
                    Yaml::from("needs_approval"),
                )
            }
            (None, Some(name)) => {
                let path = ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?;
                (
                    Part::Arrangement(name.clone()),
                    path,
                    "needs_approval",
                    Yaml::Bool(true),
                )
            }
            _ => return Err(self.one_of("`rule` or `arrangement`")),
        };
        let target = whole(part, below(&path, &[key]));
        let old = at(&self.merge.tree, &target.path).map(Tree::value);
        if old.as_ref() == Some(&value) {
            return Err(self.one_of("what does not need approval yet"));
        }
        if !self.goes_ahead(&target, None)? {
            return Ok(());
        }
        self.touch(&target.path);
        let tree = self.body.scalar_here(value);
        if let Some(owner) = at_mut(&mut self.merge.tree, &path) {
            owner.set(key, tree);
        }
        self.cite(&path)?;
        self.record(
            target.part,
            "only with the authority's permission",
            old,
            None,
            None,
        );
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
        let list = below(&path, &["notes"]);
        if at(&self.merge.tree, &list).is_none()
            && let Some(owner) = at_mut(&mut self.merge.tree, &path)
        {
            owner.set("notes", text.sequence_here(Vec::new()));
        }
        self.push(&list, text);
        self.record(part, "a note", None, Some(Yaml::from(file.text.as_str())), None);
        Ok(())
    }

    pub(super) fn renumber(&mut self, file: &RenumberFile) -> Done {
        let one = match (&file.rule, &file.table, &file.arrangement) {
            (Some(name), None, None) => Some((
                Part::Rule(name.clone()),
                RULES.find(self.merge, name, self.by("rule"))?,
            )),
            (None, Some(name), None) => Some((
                Part::Table(name.clone()),
                table(self.merge, name, self.by("table"))?,
            )),
            (None, None, Some(name)) => Some((
                Part::Arrangement(name.clone()),
                ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?,
            )),
            (None, None, None) => None,
            _ => return Err(self.one_of("at most one of `rule`, `table` and `arrangement`")),
        };
        if file.was == file.to {
            return Err(self.problem("to", "the change changes nothing"));
        }
        let to = self.given("to")?;
        let (part, path) = one.unwrap_or((Part::Whole, Path::new()));
        let own = self.whole.get("cite").cloned();
        let only_here = part != Part::Whole;
        let Some(tree) = at_mut(&mut self.merge.tree, &path) else {
            return Ok(());
        };
        let count = renumber(tree, &file.was, &to, own.as_ref(), only_here);
        if count == 0 {
            let sections = self.sections();
            return Err(self
                .problem("was", format!("the {part} does not cite section {}", file.was))
                .suggesting(crownweir_document::nearest(
                    &file.was,
                    sections.iter().map(String::as_str),
                )));
        }
        let (was, now) = (Yaml::from(file.was.as_str()), Yaml::from(file.to.as_str()));
        self.record(part, "section", Some(was), Some(now), None);
        Ok(())
    }
}

/// Whether a condition as written asks something of a fact.
fn speaks_of(condition: &Tree, fact: &str) -> bool {
    let mut found = false;
    tests(condition, &[], &mut |own, _, _| found |= own == fact);
    found
}

/// Whether an item cites a section or a part of it.
fn is_within(item: &Tree, section: &str) -> bool {
    let own = item
        .get("cite")
        .and_then(|cite| cite.get("section"))
        .map(Tree::value);
    let own = own.map(|own| in_words(&own)).unwrap_or_default();
    own.strip_prefix(section)
        .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

fn collect_sections(tree: &Tree, found: &mut Vec<String>) {
    for (key, inner) in tree.entries() {
        if key == "section" {
            found.push(in_words(&inner.value()));
        }
        collect_sections(inner, found);
    }
    for inner in tree.items() {
        collect_sections(inner, found);
    }
}

/// Puts another number in every citation of a section. The citation becomes the amendment's, over the one that stood
/// there. Gives how many there were.
fn renumber(tree: &mut Tree, was: &str, to: &Tree, own: Option<&Tree>, only_here: bool) -> usize {
    let mut count = 0;
    if let Some(cite) = tree.get("cite")
        && cite
            .get("section")
            .is_some_and(|section| in_words(&section.value()) == was)
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
        count += 1;
    }
    if only_here {
        return count;
    }
    for (key, inner) in tree.entries_mut() {
        if key != "cite" {
            count += renumber(inner, was, to, own, false);
        }
    }
    if let Some(items) = tree.items_mut() {
        for inner in items {
            count += renumber(inner, was, to, own, false);
        }
    }
    count
}
