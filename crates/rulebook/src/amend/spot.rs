//! Finding what a change speaks of in the tree of a rule set as written.

use std::collections::BTreeMap;

use crownweir_document::{Diagnostic, Merge, Place, Tree, nearest};
use serde_yaml::Value as Yaml;

use super::Part;
use super::wire::Order;
use crate::facts::Fact;
use crate::literal::{Misread, read};
use crate::operand::looks_like_a_fact;
use crate::table::Content;
use crate::tables::dimension_named;
use crate::value::{Dimension, Ladder, Value};

/// A step down a tree.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Step {
    Key(String),
    Item(usize),
}

pub(crate) type Path = Vec<Step>;

/// The path with further keys.
pub(crate) fn below(path: &[Step], keys: &[&str]) -> Path {
    let keys = keys.iter().map(|key| Step::Key((*key).to_owned()));
    path.iter().cloned().chain(keys).collect()
}

pub(crate) fn item(path: &[Step], index: usize) -> Path {
    path.iter().cloned().chain([Step::Item(index)]).collect()
}

pub(crate) fn at<'t>(tree: &'t Tree, path: &[Step]) -> Option<&'t Tree> {
    path.iter().try_fold(tree, |tree, step| match step {
        Step::Key(key) => tree.get(key),
        Step::Item(index) => tree.items().get(*index),
    })
}

pub(crate) fn at_mut<'t>(tree: &'t mut Tree, path: &[Step]) -> Option<&'t mut Tree> {
    path.iter().try_fold(tree, |tree, step| match step {
        Step::Key(key) => tree.get_mut(key),
        Step::Item(index) => tree.items_mut()?.get_mut(*index),
    })
}

/// So many names at the most are listed where none is near.
const MOST_LISTED: usize = 16;

/// What is named in a list of the rule set: a rule, an arrangement or a matter that is not checked.
#[derive(Clone, Copy)]
pub(crate) struct List {
    /// The list's key.
    pub(crate) key: &'static str,
    /// The key of an item's name, which is also the word for an item.
    pub(crate) name: &'static str,
    /// The part that an item of a name is.
    pub(crate) part: fn(String) -> Part,
}

pub(crate) const RULES: List = List {
    key: "rules",
    name: "rule",
    part: Part::Rule,
};

pub(crate) const ARRANGEMENTS: List = List {
    key: "arrangements",
    name: "arrangement",
    part: Part::Arrangement,
};

pub(crate) const MATTERS: List = List {
    key: "not_checked",
    name: "matter",
    part: Part::Matter,
};

pub(crate) const LISTS: [List; 3] = [RULES, ARRANGEMENTS, MATTERS];

impl List {
    /// The path of the item called `name`; `by` is where the change says so.
    pub(crate) fn find(self, merge: &Merge, name: &str, by: &Tree) -> Result<Path, Diagnostic> {
        let items = merge.tree.get(self.key).map(Tree::items).unwrap_or_default();
        let names = || {
            items
                .iter()
                .map(|one| one.get(self.name).and_then(Tree::as_str).unwrap_or(""))
        };
        match names().position(|own| own == name) {
            Some(index) => Ok(item(&below(&[], &[self.key]), index)),
            None => {
                let protection = merge.tree.get("protection").and_then(|own| own.get("rule"));
                if self.key == RULES.key && protection.and_then(Tree::as_str) == Some(name) {
                    let what = format!("`{name}` asks for one of the arrangements, and is no rule to amend");
                    let problem = merge.problem(by, what);
                    return Err(problem.expecting("an arrangement, under `arrangement`"));
                }
                let problem = merge.problem(by, format!("the base has no {} `{name}`", self.name));
                let near = nearest(name, names());
                let problem = if near.is_none() && items.len() <= MOST_LISTED {
                    problem.expecting(format!("one of {}", names().collect::<Vec<_>>().join(", ")))
                } else {
                    problem
                };
                Err(problem.suggesting(near))
            }
        }
    }
}

/// The rule, arrangement, matter or table of the base in whose text a place is: the last that begins no later.
pub(crate) fn part_at(merge: &Merge, place: &Place) -> Option<Part> {
    let listed = LISTS.into_iter().flat_map(|list| {
        let items = merge.tree.get(list.key).map(Tree::items).unwrap_or_default();
        items
            .iter()
            .filter_map(move |one| Some((one, (list.part)(one.get(list.name)?.as_str()?.to_owned()))))
    });
    let tables = merge.tree.get("tables").into_iter().flat_map(Tree::entries);
    let tables = tables.map(|(name, one)| (one, Part::Table(name.to_owned())));
    let begun = listed.chain(tables).filter_map(|(one, part)| {
        let own = merge.place(one);
        (own.file == place.file && own.bytes.start <= place.bytes.start).then_some((own.bytes.start, part))
    });
    begun.max_by_key(|(start, _)| *start).map(|(_, part)| part)
}

/// The path of a table.
pub(crate) fn table(merge: &Merge, name: &str, by: &Tree) -> Result<Path, Diagnostic> {
    let tables = merge.tree.get("tables");
    if tables.and_then(|tables| tables.get(name)).is_some() {
        return Ok(below(&[], &["tables", name]));
    }
    let names = tables
        .iter()
        .flat_map(|tables| tables.entries())
        .map(|(name, _)| name);
    Err(merge
        .problem(by, format!("the base has no table `{name}`"))
        .suggesting(nearest(name, names)))
}

/// The path of what a fact is compared with, in the condition at `path`.
pub(crate) fn limit(
    merge: &Merge,
    path: &[Step],
    fact: &str,
    order: Option<Order>,
    by: &Tree,
) -> Result<Path, Diagnostic> {
    let mut found = Vec::new();
    let mut facts = Vec::new();
    if let Some(tree) = at(&merge.tree, path) {
        tests(tree, path, &mut |own, tree, path| {
            facts.push(own.to_owned());
            if own == fact {
                found.extend(comparisons(tree, path));
            }
        });
    }
    if let Some(order) = order {
        found.retain(|(own, _)| *own == order);
    }
    match found.as_slice() {
        [(_, path)] => Ok(path.clone()),
        [] => Err(merge
            .problem(by, format!("`{fact}` is not compared there"))
            .expecting(format!("one of {}", facts.join(", ")))
            .suggesting(nearest(fact, facts.iter().map(String::as_str)))),
        several => {
            let orders: Vec<_> = several.iter().map(|(order, _)| order.name()).collect();
            Err(merge
                .problem(by, format!("`{fact}` is compared there more than once"))
                .expecting(format!("`order`, one of {}", orders.join(", "))))
        }
    }
}

/// Each fact that a condition as written asks something of, with what is asked and the path to it.
pub(crate) fn tests<'t>(tree: &'t Tree, path: &[Step], found: &mut impl FnMut(&'t str, &'t Tree, &[Step])) {
    for (key, inner) in tree.entries() {
        let path = below(path, &[key]);
        match key {
            "all" | "any" => {
                for (index, part) in inner.items().iter().enumerate() {
                    tests(part, &item(&path, index), found);
                }
            }
            "not" => tests(inner, &path, found),
            fact => found(fact, inner, &path),
        }
    }
}

/// The comparisons in what is asked of a fact, and the paths to what it is compared with.
fn comparisons(tree: &Tree, path: &[Step]) -> Vec<(Order, Path)> {
    if !tree.is_mapping() {
        return vec![(Order::Is, path.to_vec())];
    }
    let named = tree.entries().filter_map(|(key, _)| {
        let order = Order::ALL.into_iter().find(|order| order.name() == key)?;
        Some((order, below(path, &[key])))
    });
    let named: Vec<_> = named.collect();
    if named.is_empty() {
        // A look-up or another way to come by a value, which the fact has to equal.
        return vec![(Order::Is, path.to_vec())];
    }
    named
}

/// The order in which the last step of a path compares.
pub(crate) fn order_of(path: &[Step]) -> Order {
    match path.last() {
        Some(Step::Key(key)) => Order::ALL
            .into_iter()
            .find(|order| order.name() == key)
            .unwrap_or(Order::Is),
        _ => Order::Is,
    }
}

/// What kind of value stands somewhere, and the unit of a bare number there.
#[derive(Clone)]
pub(crate) struct Kind {
    pub(crate) dimension: Dimension,
    pub(crate) unit: Option<String>,
}

impl Kind {
    pub(crate) fn of_fact(fact: &str) -> Option<Self> {
        Some(Self {
            dimension: fact.parse::<Fact>().ok()?.dimension(),
            unit: None,
        })
    }

    pub(crate) fn read(&self, yaml: &Yaml, ladder: &Ladder) -> Result<Value, Misread> {
        read(yaml, self.dimension, self.unit.as_deref(), ladder)
    }

    /// That a figure lacks its unit: only in a table's own rows, under the head that states it, may a bare number stand.
    pub(crate) fn lacks_unit(&self, yaml: &Yaml, ladder: &Ladder) -> Option<Misread> {
        let unit = self.unit.as_deref()?;
        self.read(yaml, ladder).ok()?;
        let misread = read(yaml, self.dimension, None, ladder).err()?;
        Some(misread.expecting(format!("a unit, such as `{} {unit}`", flow(yaml))))
    }

    /// Whether something as written could stand there at all: a fact's name and what says how to come by a value could.
    pub(crate) fn can_stand(&self, yaml: &Yaml, ladder: &Ladder) -> Result<(), Misread> {
        let is_single = matches!(yaml, Yaml::String(_) | Yaml::Number(_) | Yaml::Bool(_));
        if !is_single || yaml.as_str().is_some_and(looks_like_a_fact) || self.content(yaml, ladder).is_some()
        {
            return Ok(());
        }
        self.read(yaml, ladder).map(|_| ())
    }

    /// What a cell says.
    pub(crate) fn content(&self, yaml: &Yaml, ladder: &Ladder) -> Option<Content> {
        match yaml.as_str() {
            Some("none") => Some(Content::Barred),
            Some("unlimited") => Some(Content::Unlimited),
            Some("unfilled") => Some(Content::Unfilled),
            _ => self.read(yaml, ladder).ok().map(Content::Value),
        }
    }
}

/// Whether two values as written are the same.
pub(crate) fn same(one: &Yaml, other: &Yaml, kind: Option<&Kind>, ladder: &Ladder) -> bool {
    if one == other {
        return true;
    }
    let value = |yaml: &Yaml| kind.and_then(|kind| kind.read(yaml, ladder).ok());
    value(one).is_some_and(|one| value(other) == Some(one))
}

/// Why what a change says of a table names no cell of it, with the names that would.
pub(crate) enum Misnamed {
    /// The table has several columns, and none is named.
    NoColumn(Vec<String>),
    /// No column has the name.
    Column(String, Vec<String>),
    /// No key has the name.
    Key(String, Vec<String>),
    /// What is given for a key is no value of it.
    Misread(String, Misread),
    /// No row has what is given for a key; those that rows have.
    Value {
        key: String,
        given: String,
        known: Vec<String>,
    },
}

/// The head of a table as written.
pub(crate) struct Shape {
    keys: Vec<(String, Kind)>,
    /// The key across the head, and its values.
    across: Option<(String, Kind, Vec<Yaml>)>,
    columns: Vec<(String, Kind)>,
}

impl Shape {
    pub(crate) fn of(table: &Tree) -> Option<Self> {
        let kind = |tree: &Tree| {
            Some(Kind {
                dimension: dimension_named(tree.get("of")?.as_str()?)?,
                unit: tree.get("unit").and_then(Tree::as_str).map(str::to_owned),
            })
        };
        let named = |tree: &Tree| Some((tree.get("name")?.as_str()?.to_owned(), kind(tree)?));
        let list = |key: &str| {
            let items = table.get(key).map(Tree::items).unwrap_or_default();
            items.iter().map(named).collect::<Option<Vec<_>>>()
        };
        let (across, columns) = match table.get("across") {
            None => (None, list("columns")?),
            Some(across) => {
                let (name, kind) = named(across)?;
                let at = across.get("at").map(Tree::items).unwrap_or_default();
                let at = at.iter().map(Tree::value).collect();
                (Some((name, kind, at)), vec![named(across.get("gives")?)?])
            }
        };
        Some(Self {
            keys: list("keys")?,
            across,
            columns,
        })
    }

    /// The places of the cells that keys and a column name: row and entry, and what kind of value stands there.
    pub(crate) fn cells(
        &self,
        table: &Tree,
        chosen: &BTreeMap<String, Yaml>,
        column: Option<&str>,
        ladder: &Ladder,
    ) -> Result<Vec<(usize, usize, Kind)>, Misnamed> {
        self.known(chosen, ladder)?;
        let names = || self.columns.iter().map(|(name, _)| name.clone()).collect();
        if let Some(column) = column.filter(|column| self.columns.iter().all(|(name, _)| name != column)) {
            return Err(Misnamed::Column(column.to_owned(), names()));
        }
        let entries: Vec<(usize, Kind)> = match &self.across {
            Some((name, kind, heads)) => {
                let wanted = chosen.get(name);
                let gives = self.columns.first().map(|(_, kind)| kind.clone());
                let fits = |head: &Yaml| wanted.is_none_or(|wanted| same(wanted, head, Some(kind), ladder));
                in_use(name, kind, chosen, heads.iter().cloned(), ladder)?;
                let all = heads.iter().enumerate().filter(|(_, head)| fits(head));
                all.filter_map(|(index, _)| Some((self.keys.len() + index, gives.clone()?)))
                    .collect()
            }
            None => {
                let named = self.columns.iter().enumerate();
                let fitting = named.filter(|(_, (name, _))| column.is_none_or(|column| column == name));
                fitting
                    .map(|(index, (_, kind))| (self.keys.len() + index, kind.clone()))
                    .collect()
            }
        };
        if self.across.is_none() && (entries.is_empty() || (column.is_none() && self.columns.len() > 1)) {
            return Err(Misnamed::NoColumn(names()));
        }
        let rows = self.rows(table, chosen, ladder)?;
        Ok(rows
            .into_iter()
            .flat_map(|row| {
                entries
                    .iter()
                    .map(move |(entry, kind)| (row, *entry, kind.clone()))
            })
            .collect())
    }

    /// The rows that keys name.
    pub(crate) fn rows(
        &self,
        table: &Tree,
        chosen: &BTreeMap<String, Yaml>,
        ladder: &Ladder,
    ) -> Result<Vec<usize>, Misnamed> {
        self.known(chosen, ladder)?;
        let rows = table.get("rows").map(Tree::items).unwrap_or_default();
        let fits = |row: &Tree| {
            let entries = entries_of(row);
            self.keys.iter().enumerate().all(|(index, (name, kind))| {
                let own = entries.get(index).map(Tree::value);
                match (chosen.get(name), own) {
                    (None, _) => true,
                    (Some(wanted), Some(own)) => same(wanted, &own, Some(kind), ladder),
                    _ => false,
                }
            })
        };
        let found = rows.iter().enumerate().filter(|(_, row)| fits(row));
        let found: Vec<usize> = found.map(|(index, _)| index).collect();
        if found.is_empty() {
            for (index, (name, kind)) in self.keys.iter().enumerate() {
                let known = rows.iter().filter_map(|row| entries_of(row).get(index));
                in_use(name, kind, chosen, known.map(Tree::value), ladder)?;
            }
        }
        Ok(found)
    }

    /// Where a new row belongs among a table's: of rows that match alike the first counts, so one for fewer cases
    /// stands before one that takes them all. None where a row with the same keys stands there already.
    pub(crate) fn place_for(&self, table: &Tree, row: &Tree, ladder: &Ladder) -> Option<usize> {
        let rows = table.get("rows").map(Tree::items).unwrap_or_default();
        let new = entries_of(row);
        let takes = |own: &Tree, any_too: bool| {
            let own = entries_of(own);
            self.keys.iter().enumerate().all(|(index, (_, kind))| {
                let (Some(own), Some(new)) = (own.get(index), new.get(index)) else {
                    return false;
                };
                let all = any_too && own.as_str() == Some("any");
                all || same(&own.value(), &new.value(), Some(kind), ladder)
            })
        };
        if rows.iter().any(|row| takes(row, false)) {
            return None;
        }
        Some(rows.iter().position(|row| takes(row, true)).unwrap_or(rows.len()))
    }

    /// How many keys stand at the beginning of a row.
    pub(crate) fn keys(&self) -> usize {
        self.keys.len()
    }

    /// Checks that what is chosen by are keys of the table, each figure with its unit.
    fn known(&self, chosen: &BTreeMap<String, Yaml>, ladder: &Ladder) -> Result<(), Misnamed> {
        let across = self.across.iter().map(|(name, kind, _)| (name, kind));
        let keys = self.keys.iter().map(|(name, kind)| (name, kind));
        let keys: Vec<(&String, &Kind)> = keys.chain(across).collect();
        for (name, given) in chosen {
            let Some((_, kind)) = keys.iter().find(|(own, _)| *own == name) else {
                let names = keys.iter().map(|(own, _)| (*own).clone()).collect();
                return Err(Misnamed::Key(name.clone(), names));
            };
            if let Some(misread) = kind.lacks_unit(given, ladder) {
                return Err(Misnamed::Misread(name.clone(), misread));
            }
        }
        Ok(())
    }
}

/// Checks that what is given for a key, if anything is, is among the values in use.
fn in_use(
    name: &str,
    kind: &Kind,
    chosen: &BTreeMap<String, Yaml>,
    values: impl Iterator<Item = Yaml>,
    ladder: &Ladder,
) -> Result<(), Misnamed> {
    let Some(given) = chosen.get(name) else {
        return Ok(());
    };
    let mut known = Vec::new();
    for value in values {
        if same(given, &value, Some(kind), ladder) {
            return Ok(());
        }
        let value = flow(&value);
        if !known.contains(&value) {
            known.push(value);
        }
    }
    match kind.read(given, ladder) {
        // In a row, `any` is no value either.
        Err(misread) if given.as_str() != Some("any") => Err(Misnamed::Misread(name.to_owned(), misread)),
        _ => Err(Misnamed::Value {
            key: name.to_owned(),
            given: flow(given),
            known,
        }),
    }
}

/// The entries of a row, with or without a citation of its own.
pub(crate) fn entries_of(row: &Tree) -> &[Tree] {
    row.get("row").unwrap_or(row).items()
}

/// The way along a path, list items by the names that they have.
pub(crate) fn way(root: &Tree, path: &[Step]) -> Vec<String> {
    let mut way = Vec::with_capacity(path.len());
    for (depth, step) in path.iter().enumerate() {
        way.push(match step {
            Step::Key(key) => key.clone(),
            Step::Item(index) => {
                let own = path.get(..=depth).and_then(|path| at(root, path));
                own.and_then(|own| name_of(root, path, depth, own))
                    .unwrap_or_else(|| index.to_string())
            }
        });
    }
    way
}

fn name_of(root: &Tree, path: &[Step], depth: usize, own: &Tree) -> Option<String> {
    let name = |key: &str| own.get(key).and_then(Tree::as_str).map(str::to_owned);
    match depth {
        1 => LISTS.iter().find_map(|list| name(list.name)),
        // A row, by its keys.
        3 if path.first() == Some(&Step::Key("tables".to_owned())) => {
            let keys = at(root, path.get(..2)?)?.get("keys")?.items().len();
            Some(row_name(own, keys))
        }
        // An exception by its name, a condition of an arrangement by what it asks, a part of a condition by the fact
        // that it speaks of, whatever its value is.
        _ if path.first() == Some(&Step::Key("tables".to_owned())) => None,
        _ => name("exception")
            .or_else(|| own.get("require").map(|require| flow(&require.value())))
            .or_else(|| first_fact(own)),
    }
}

/// The first fact that a condition as written asks something of.
pub(crate) fn first_fact(condition: &Tree) -> Option<String> {
    let mut first = None;
    tests(condition, &[], &mut |own, _, _| {
        first.get_or_insert_with(|| own.to_owned());
    });
    first
}

/// A row by its keys.
pub(crate) fn row_name(row: &Tree, keys: usize) -> String {
    let keys = entries_of(row).iter().take(keys).map(|key| flow(&key.value()));
    keys.collect::<Vec<_>>().join(", ")
}

/// A value as a file would write it in one line.
pub(crate) fn flow(value: &Yaml) -> String {
    match value {
        Yaml::Null => "nothing".to_owned(),
        Yaml::Bool(truth) => truth.to_string(),
        Yaml::Number(number) => number.to_string(),
        Yaml::String(text) => text.clone(),
        Yaml::Sequence(items) => format!("[{}]", items.iter().map(flow).collect::<Vec<_>>().join(", ")),
        Yaml::Mapping(map) => {
            let entries = map
                .iter()
                .map(|(key, value)| format!("{}: {}", flow(key), flow(value)));
            format!("{{{}}}", entries.collect::<Vec<_>>().join(", "))
        }
        Yaml::Tagged(tagged) => flow(&tagged.value),
    }
}
