//! Conditions, operands and tables as the rule files have them, walked with the facts that a claim tells;
//! each step of the walk is put down as the claim has to have it.

use std::collections::{BTreeMap, BTreeSet};

use crownweir_document::Cursor;
use crownweir_rulebook::Fact;
use serde_json::{Value as Json, json};
use serde_yaml::Value as Yaml;

use crate::figures::Got;
use crate::{Checker, Sound, list, pairs, text};

/// A part of a document with its place.
#[derive(Clone, Copy)]
pub(crate) struct At<'a>(pub(crate) &'a Yaml, pub(crate) Cursor<'a>);

impl<'a> At<'a> {
    pub(crate) fn get(self, key: &str) -> Self {
        Self(&self.0[key], self.1.get(key))
    }

    pub(crate) fn items(self) -> impl DoubleEndedIterator<Item = Self> {
        list(self.0).iter().enumerate().map(move |(index, item)| Self(item, self.1.item(index)))
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Outcome {
    No,
    Open,
    Yes,
}

/// What a condition comes to.
pub(crate) struct Came {
    pub(crate) outcome: Outcome,
    /// The fewest data that would settle it.
    pub(crate) gaps: BTreeSet<String>,
    /// The comparison by which it fails.
    pub(crate) by: Option<Test>,
}

pub(crate) struct Test {
    pub(crate) order: String,
    pub(crate) measured: Got,
    pub(crate) limit: Got,
    /// Whether it compares figures, not words.
    pub(crate) is_ordered: bool,
    is_held_to_a_limit: bool,
}

impl Came {
    pub(crate) fn all(parts: Vec<Self>) -> Self {
        let outcome = parts.iter().map(|part| part.outcome).min().unwrap_or(Outcome::Yes);
        let open = parts.iter().filter(|_| outcome == Outcome::Open);
        let gaps = open.flat_map(|part| part.gaps.clone()).collect();
        let by = parts.into_iter().find(|part| part.outcome == Outcome::No).and_then(|part| part.by);
        Self { outcome, gaps, by }
    }

    fn any(parts: Vec<Self>) -> Self {
        let outcome = parts.iter().map(|part| part.outcome).max().unwrap_or(Outcome::No);
        let open = parts.iter().filter(|part| outcome == Outcome::Open && !part.gaps.is_empty());
        let gaps = open.map(|part| part.gaps.clone()).min_by_key(BTreeSet::len).unwrap_or_default();
        // Of alternatives that all fail, one with a figure says by how much.
        let mut failed: Vec<Test> = parts.into_iter().filter_map(|part| part.by).collect();
        let first = failed.iter().position(|test| test.is_held_to_a_limit && test.is_ordered).unwrap_or(0);
        let by = (first < failed.len()).then(|| failed.swap_remove(first));
        Self { outcome, gaps, by }
    }

    fn not(self) -> Self {
        let outcome = match self.outcome {
            Outcome::No => Outcome::Yes,
            Outcome::Open => Outcome::Open,
            Outcome::Yes => Outcome::No,
        };
        Self { outcome, by: None, ..self }
    }
}

/// A walk through a rule for one element.
pub(crate) struct Walk<'w> {
    pub(crate) checker: &'w Checker<'w>,
    /// What the claim tells of each fact.
    pub(crate) facts: BTreeMap<&'w str, &'w Json>,
    pub(crate) steps: Vec<Json>,
}

impl<'w> Walk<'w> {
    /// Takes in the facts that the steps of a claim tell.
    pub(crate) fn take_in(&mut self, steps: &'w Json) {
        if let Some(fact) = steps["fact"].as_str() {
            self.facts.entry(fact).or_insert(&steps["value"]);
        }
        let within = ["steps", "conditions"].into_iter().filter_map(|key| steps.get(key));
        within.chain(steps.as_array().into_iter().flatten()).for_each(|inner| self.take_in(inner));
    }

    /// Does something of which the steps are kept apart.
    pub(crate) fn apart<T>(&mut self, inner: impl FnOnce(&mut Self) -> Sound<T>) -> Sound<(T, Vec<Json>)> {
        let before = std::mem::take(&mut self.steps);
        let came = inner(self)?;
        Ok((came, std::mem::replace(&mut self.steps, before)))
    }

    pub(crate) fn condition(&mut self, yaml: &Yaml) -> Sound<Came> {
        let mut all = Vec::new();
        for (key, value) in pairs(yaml) {
            match key {
                "all" => all.extend(self.each(value)?),
                "any" => {
                    let (parts, steps) = self.apart(|walk| walk.each(value))?;
                    self.steps.push(json!({"step": "parts", "how": "any of", "steps": steps}));
                    all.push(Came::any(parts));
                }
                "not" => all.push(self.none(value)?),
                fact if value.is_mapping() => {
                    for (order, asked) in pairs(value) {
                        all.push(self.test(fact, order, asked)?);
                    }
                }
                fact => all.push(self.test(fact, "is", value)?),
            }
        }
        Ok(Came::all(all))
    }

    fn each(&mut self, yaml: &Yaml) -> Sound<Vec<Came>> {
        list(yaml).iter().map(|part| self.condition(part)).collect()
    }

    pub(crate) fn none(&mut self, yaml: &Yaml) -> Sound<Came> {
        let (came, steps) = self.apart(|walk| walk.condition(yaml))?;
        self.steps.push(json!({"step": "parts", "how": "not", "steps": steps}));
        Ok(came.not())
    }

    fn test(&mut self, fact: &str, order: &str, asked: &Yaml) -> Sound<Came> {
        let of = Fact::from_name(fact).ok_or_else(|| format!("there is no fact `{fact}`"))?.dimension();
        let is_among = ["one_of", "none_of", "is_not"].contains(&order)
            || order == "is" && !of.is_ordered() && !asked.is_mapping();
        let measured = self.fact(fact)?;
        let mut limit = Got::new("absent", "");
        let holds = if order == "present" {
            measured.is_value() == (asked.as_bool() == Some(true))
        } else if is_among {
            let values = if asked.is_sequence() { list(asked) } else { std::slice::from_ref(asked) };
            let values = values.iter().map(|value| self.checker.literal(value, of.name(), &Yaml::Null));
            let values = values.collect::<Sound<Vec<_>>>()?;
            let wanted = order == "is" || order == "one_of";
            if let ([value], true) = (&*values, wanted) {
                limit = value.clone();
            }
            measured.is_value() && values.contains(&measured) == wanted
        } else {
            limit = self.operand(asked, of.name())?;
            limit.bounds(&measured, order)
        };
        // What is absent fails, whatever the limit.
        let gap = [&measured, &limit].into_iter().find(|got| got.is == "open" && measured.is != "absent");
        let (outcome, said) = match (gap, holds) {
            (Some(_), _) => (Outcome::Open, "open"),
            (None, true) => (Outcome::Yes, "yes"),
            (None, false) => (Outcome::No, "no"),
        };
        let is_held_to_a_limit = order != "present" && !is_among;
        let shown = is_held_to_a_limit.then(|| self.checker.shown(&limit));
        self.steps.push(json!({"step": "compared", "limit": shown, "outcome": said}));
        let gaps = gap.map(|gap| gap.word.clone()).into_iter().collect();
        let test = Test {
            order: order.to_owned(),
            measured,
            limit,
            is_ordered: of.is_ordered(),
            is_held_to_a_limit,
        };
        Ok(Came { outcome, gaps, by: Some(test).filter(|_| outcome == Outcome::No) })
    }

    pub(crate) fn fact(&mut self, name: &str) -> Sound<Got> {
        let told = self.facts.get(name).ok_or_else(|| format!("the steps do not tell `{name}`"))?;
        let got = self.checker.read(told)?;
        self.steps.push(json!({"step": "fact", "fact": name, "value": self.checker.shown(&got)}));
        Ok(got)
    }

    /// What an operand comes to; `of` is the dimension of its literals.
    pub(crate) fn operand(&mut self, yaml: &Yaml, of: &str) -> Sound<Got> {
        let is_fact = |text: &&str| Fact::from_name(text).is_some();
        if let Some(name) = yaml["fact"].as_str().or_else(|| yaml.as_str().filter(is_fact)) {
            return self.fact(name);
        }
        let ladder = &self.checker.ladder;
        let number = |yaml: &Yaml, of| {
            let literal = self.checker.literal(yaml, of, &Yaml::Null)?;
            literal.number.map(|number| number.0).ok_or_else(|| format!("no {of}"))
        };
        let own =
            match pairs(yaml).map(|(key, _)| key).find(|key| !["of", "per", "load", "keys"].contains(key)) {
                None => return self.checker.literal(yaml, of, &Yaml::Null),
                Some("times") => {
                    let (by, one) = (number(&yaml["times"], "ratio")?, number(&"1".into(), "ratio")?);
                    // Rounded half to even.
                    self.operand(&yaml["of"], of)?.map(of, |number| {
                        let twice = 2 * number * by + one;
                        let (up, rest) = (twice.div_euclid(2 * one), twice.rem_euclid(2 * one));
                        Some(up - i128::from(rest == 0 && up % 2 != 0))
                    })
                }
                Some("diameter") => self
                    .operand(&yaml["diameter"], "size")?
                    .map("length", |size| Some(ladder.get(size as usize)?.1)),
                Some("size_for") => self.operand(&yaml["size_for"], "length")?.map("size", |length| {
                    ladder.iter().position(|(_, diameter)| *diameter >= length).map(|at| at as i128)
                }),
                Some("sizes_up") => {
                    let up = number(&yaml["sizes_up"], "count")?;
                    let fits = |size: &i128| *size < ladder.len() as i128;
                    self.operand(&yaml["of"], "size")?.map("size", |size| Some(size + up).filter(fits))
                }
                Some("flow") => {
                    let (per, load) = (number(&yaml["per"], "flow")?, number(&yaml["load"], "load")?);
                    let flow = self.operand(&yaml["flow"], "flow")?;
                    flow.map("load", |flow| Some((flow * load + per - 1).div_euclid(per)))
                }
                Some(how @ ("sum" | "larger_of" | "smaller_of")) => {
                    let parts = list(&yaml[how]).iter().map(|part| self.operand(part, of));
                    let parts = parts.collect::<Sound<Vec<_>>>()?.into_iter();
                    let folded = parts.reduce(|one, other| match (how, one.over(&other)) {
                        ("sum", Some(_)) => one.map(of, |one| Some(one + other.number?.0)),
                        ("larger_of", Some(0..)) | ("smaller_of", Some(..=0)) => one,
                        (_, None) if !one.is_value() => one,
                        _ => other,
                    });
                    folded.ok_or("nothing is summed up")?
                }
                _ => match self.look_up(yaml)? {
                    (own, true) => own,
                    (own, false) => return Ok(own),
                },
            };
        self.steps.push(json!({"step": "reckoned", "value": self.checker.shown(&own)}));
        Ok(own)
    }

    /// What a table gives, and whether that was searched for rather than read in a cell.
    fn look_up(&mut self, yaml: &Yaml) -> Sound<(Got, bool)> {
        let checker = self.checker;
        let name = text(&yaml["table"]);
        let table = checker.rules.get("tables").get(name);
        let across = &table.0["across"];
        let head = Some(across).filter(|across| across.is_mapping());
        let keys: Vec<&Yaml> = list(&table.0["keys"]).iter().chain(head).collect();
        let gives = Some(&across["gives"]).filter(|gives| gives.is_mapping());
        let columns = gives.map_or(list(&table.0["columns"]), std::slice::from_ref);
        let column =
            yaml["column"].as_str().or_else(|| columns.first()?["name"].as_str()).unwrap_or_default();
        let number = columns.iter().position(|one| one["name"] == column).ok_or("no such column")?;
        let table = Table { name, at: table, keys, column: &columns[number], number };
        let sought = table.keys.iter().position(|key| key["name"] == yaml["smallest"]);
        let mut values = Vec::new();
        for (index, key) in table.keys.iter().enumerate() {
            values.push(match sought == Some(index) {
                true => Got::new("absent", ""),
                false => self.operand(&yaml["keys"][&key["name"]], text(&key["of"]))?,
            });
        }
        if let Some(sought) = sought {
            let holds = self.operand(&yaml["holds"], text(&table.column["of"]))?;
            if !holds.is_value() {
                return Ok((holds, true));
            }
            for size in 0..checker.ladder.len() {
                values[sought] = Got::whole("size", size as i128);
                match table.find(checker, &values)? {
                    Some((_, most)) if most.is == "open" => return Ok((most, true)),
                    Some((_, most)) if most.is == "no_limit" || holds.bounds(&most, "at_least") => {
                        return Ok((values.swap_remove(sought), true));
                    }
                    _ => {}
                }
            }
            return Ok((Got::new("not_permitted", ""), true));
        }
        if let Some(other) = values.iter().find(|value| !value.is_value()) {
            return Ok((other.clone(), false));
        }
        let Some((cell, content)) = table.find(checker, &values)? else {
            return Ok((Got::new("open", &format!("a row of the table `{name}` for this case")), false));
        };
        let keys =
            table.keys.iter().zip(&values).map(|(key, value)| (text(&key["name"]), checker.shown(value)));
        let place = cell.1.place();
        self.steps.push(json!({
            "step": "cell", "table": name, "keys": keys.collect::<BTreeMap<_, _>>(), "column": column,
            "value": checker.shown(&content),
            "place": {"file": &*place.file, "line": place.line, "column": place.column},
        }));
        Ok((content, false))
    }
}

struct Table<'a> {
    name: &'a str,
    at: At<'a>,
    keys: Vec<&'a Yaml>,
    column: &'a Yaml,
    number: usize,
}

impl<'a> Table<'a> {
    /// The cell in the first row, or below the head, that fits the keys; of bounds, by the nearest.
    fn find(&self, checker: &Checker<'_>, values: &[Got]) -> Sound<Option<(At<'a>, Got)>> {
        let (head, own) = (list(&self.at.0["across"]["at"]), list(&self.at.0["keys"]).len());
        let mut best: Option<(Option<Got>, At<'_>, String)> = None;
        for row in self.at.get("rows").items() {
            let row = if row.0.is_sequence() { row } else { row.get("row") };
            for across in 0..head.len().max(1) {
                let written = list(row.0).iter().take(own).chain(head.get(across));
                let (mut fits, mut nearest, mut closer, mut words) = (true, None, best.is_none(), Vec::new());
                for ((key, written), value) in self.keys.iter().zip(written).zip(values) {
                    if written == "any" {
                        continue;
                    }
                    let bound = checker.literal(written, text(&key["of"]), &key["unit"])?;
                    fits &= bound.bounds(value, text(&key["match"]));
                    words.push(checker.words(&bound));
                    if key["match"] != "exact" {
                        let kept =
                            best.as_ref().and_then(|(kept, ..)| kept.as_ref()?.over(&bound)).unwrap_or(0);
                        closer |= if key["match"] == "up_to" { kept > 0 } else { kept < 0 };
                        nearest = Some(bound);
                    }
                }
                if fits && closer {
                    let item = own + if head.is_empty() { self.number } else { across };
                    best =
                        Some((nearest, row.items().nth(item).ok_or("a row is too short")?, words.join(", ")));
                }
            }
        }
        let Some((_, cell, keys)) = best else { return Ok(None) };
        let cell = if cell.0.is_mapping() { cell.get("value") } else { cell };
        let content = match text(cell.0) {
            "none" => Got::new("not_permitted", ""),
            "unlimited" => Got::new("no_limit", ""),
            "unfilled" => {
                let (column, table) = (text(&self.column["name"]), self.name);
                let cell = format!("the cell `{column}` of the table `{table}` at {keys}");
                Got::new("open", &format!("{cell}, to be filled from its source"))
            }
            _ => checker.literal(cell.0, text(&self.column["of"]), &self.column["unit"])?,
        };
        Ok(Some((cell, content)))
    }
}
