//! Rules, arrangements, tables, rows, definitions and matters put in whole.

use crownweir_document::Tree;
use serde_yaml::Value as Yaml;

use super::Part;
use super::apply::{Done, Hand, amended, whole};
use super::spot::{ARRANGEMENTS, MATTERS, Path, RULES, Shape, at, at_mut, below, row_name, table};
use super::wire::{AddFile, ReplaceFile};

impl Hand<'_, '_> {
    /// The rule, table or arrangement that a change speaks of, and where it stands; none where the change names none.
    pub(super) fn named(
        &mut self,
        rule: &Option<String>,
        in_tables: &Option<String>,
        arrangement: &Option<String>,
    ) -> Done<Option<(Part, Path)>> {
        Ok(match (rule, in_tables, arrangement) {
            (Some(name), _, _) => Some((
                Part::Rule(name.clone()),
                RULES.find(self.merge, name, self.by("rule"))?,
            )),
            (_, Some(name), _) => Some((
                Part::Table(name.clone()),
                table(self.merge, name, self.by("table"))?,
            )),
            (_, _, Some(name)) => Some((
                Part::Arrangement(name.clone()),
                ARRANGEMENTS.find(self.merge, name, self.by("arrangement"))?,
            )),
            _ => None,
        })
    }

    pub(super) fn replace(&mut self, file: &ReplaceFile) -> Done {
        self.keys(&["rule with", "table with", "arrangement with"])?;
        let Some((part, path)) = self.named(&file.rule, &file.table, &file.arrangement)? else {
            return Err(self.one_of("one of `rule`, `table` and `arrangement`"));
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

    /// The rule, table, arrangement, definition or matter under `with`, with its name and citation.
    fn item(&self, part: &Part, old_cite: Option<&Tree>) -> Done<Tree> {
        let mut new = self.given("with")?;
        if !new.is_mapping() {
            return Err(self.problem("with", "keys with values belong here, as a rule set writes them"));
        }
        let key = match part {
            Part::Rule(_) => "rule",
            Part::Arrangement(_) => "arrangement",
            Part::Definition(_) => "definition",
            Part::Matter(_) => "matter",
            _ => "table",
        };
        let name = self.by(key).clone();
        if let Some(own) = new.get(key)
            && own.as_str() != name.as_str()
        {
            let what = format!("the {key} has another name here than the change gives it");
            let problem = self.merge.problem(own, what);
            return Err(problem.expecting(format!("no `{key}`, or the same")));
        }
        if matches!(part, Part::Rule(_) | Part::Arrangement(_) | Part::Matter(_)) {
            new.set(key, name);
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

    pub(super) fn add(&mut self, file: &AddFile) -> Done {
        self.keys(&[
            "rule with",
            "arrangement with",
            "table with",
            "table row",
            "definition with",
            "matter with",
        ])?;
        let (list, name) = match file {
            AddFile { rule: Some(name), .. } => (RULES, name),
            AddFile {
                arrangement: Some(name),
                ..
            } => (ARRANGEMENTS, name),
            AddFile {
                matter: Some(name), ..
            } => (MATTERS, name),
            AddFile {
                table: Some(name),
                row: Some(_),
                ..
            } => return self.add_row(name),
            AddFile {
                table: Some(name), ..
            } => return self.add_table(name),
            AddFile {
                definition: Some(name),
                ..
            } => return self.add_definition(name),
            _ => {
                let any = "one of `rule`, `arrangement`, `table`, `definition` and `matter`";
                return Err(self.one_of(any));
            }
        };
        let part = (list.part)(name.clone());
        if list.find(self.merge, name, self.body).is_ok() {
            return Err(self.stands_already(&part, &[list.key, name], list.name));
        }
        let new = self.item(&part, None)?;
        if self.begins(&part, &[list.key, name])? {
            self.push_to(&[], list.key, new);
            self.record(part, "added", None, None, None);
        }
        Ok(())
    }

    /// Whether what is not there yet is added, by the precedence that the amendment declares.
    pub(super) fn begins(&mut self, part: &Part, way: &[&str]) -> Done<bool> {
        let mut target = whole(part.clone(), below(&[], way));
        let way: Vec<String> = way.iter().map(|step| (*step).to_owned()).collect();
        target.way = Some(way.clone());
        let goes = self.goes_ahead(&target, None)?;
        if goes {
            self.touch_way(way, Yaml::Null, false);
        }
        Ok(goes)
    }

    /// What is to be added stands there: another amendment's, or the base's own.
    fn stands_already(&self, part: &Part, way: &[&str], key: &str) -> crownweir_document::Diagnostic {
        let way: Vec<String> = way.iter().map(|step| (*step).to_owned()).collect();
        let by = self.layering.touches.before(self.layering.layer, &way);
        let what = match by {
            Some(touch) => format!("the amendment `{}` has the {part} already", touch.by),
            None => format!("the base has the {part} already"),
        };
        self.problem(key, what).expecting("another name, or `replace`")
    }

    fn add_table(&mut self, name: &str) -> Done {
        let part = Part::Table(name.to_owned());
        if table(self.merge, name, self.body).is_ok() {
            return Err(self.stands_already(&part, &["tables", name], "table"));
        }
        self.add_named("tables", name, part)
    }

    fn add_definition(&mut self, name: &str) -> Done {
        let part = Part::Definition(name.to_owned());
        if at(&self.merge.tree, &below(&[], &["definitions", name])).is_some() {
            let problem = self.stands_already(&part, &["definitions", name], "definition");
            return Err(problem.expecting("`set` with what stands there"));
        }
        self.add_named("definitions", name, part)
    }

    /// Puts what is given under a name into the tables or the definitions, which have no such name yet.
    fn add_named(&mut self, section: &str, name: &str, part: Part) -> Done {
        let new = self.item(&part, None)?;
        if !self.begins(&part, &[section, name])? {
            return Ok(());
        }
        if let Some(named) = self.merge.tree.get_mut(section) {
            named.set(name, new);
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
        let tree = at(&self.merge.tree, &path).ok_or_else(|| self.one_of("a table"))?;
        let shape = Shape::of(tree).ok_or_else(|| self.one_of("a table that can be read"))?;
        let keys = row_name(&given, shape.keys());
        let way = ["tables", name, "rows", &keys];
        let part = Part::Table(name.to_owned());
        let place = shape.place_for(tree, &given, self.ladder());
        let cite = self.citation(tree.get("cite"))?;
        let Some(place) = place else {
            // Another amendment's row gives way, or stands, by precedence; the base's own is for `set`.
            let way = way.map(str::to_owned);
            if self.layering.touches.before(self.layering.layer, &way).is_some()
                && !self.begins(&part, &way.each_ref().map(String::as_str))?
            {
                return Ok(());
            }
            return Err(self
                .problem("row", format!("the table `{name}` has a row for {keys} already"))
                .expecting("`set` with the value that stands there"));
        };
        if !self.begins(&part, &way)? {
            return Ok(());
        }
        let now = given.value();
        let row = given.mapping_here([("row", given.clone()), ("cite", cite)]);
        if let Some(rows) = at_mut(&mut self.merge.tree, &below(&path, &["rows"])).and_then(Tree::items_mut) {
            rows.insert(place.min(rows.len()), row);
        }
        self.record(part, "a row added", None, Some(now), None);
        Ok(())
    }
}
