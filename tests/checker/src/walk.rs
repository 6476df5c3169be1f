//! Conditions, operands and tables, walked with what a claim tells of each fact. Each step is put down as it has to be.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

use crownweir_network::Network;
use crownweir_quantity::Load;
use crownweir_rulebook::{Check, Citation, Comparison, Condition, Content, Dimension, Fact, Grain};
use crownweir_rulebook::{FactTest, Place, RuleSet, Value};
use crownweir_rulebook::{Lookup, Operand};
use serde_json::{Value as Json, json};

use crate::{list, text};

/// A value, or what a report shows where there is none.
pub(crate) type Got<T = Value> = Result<T, Json>;

fn none(is: &str, text: &str) -> Got {
    Err(json!({"text": text, "is": is, "exact": null}))
}

/// A comparison that fails, what was measured, and the limit.
pub(crate) type By<'w> = (&'w FactTest, Got, Got);

/// What a condition comes to.
pub(crate) enum Came<'w> {
    Yes,
    No(Option<By<'w>>),
    /// The fewest data that would settle it.
    Open(BTreeSet<String>),
}

/// What is said after the ends of a fact which may also be absent.
const OR_ABSENT: &str = " or absent";

impl Came<'_> {
    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::No(by), _) | (_, Self::No(by)) => Self::No(by),
            (Self::Open(one), Self::Open(other)) => Self::Open(&one | &other),
            (Self::Open(gaps), _) | (_, Self::Open(gaps)) => Self::Open(gaps),
            (Self::Yes, Self::Yes) => Self::Yes,
        }
    }

    fn or(self, other: Self) -> Self {
        match (self, other) {
            (Self::Yes, _) | (_, Self::Yes) => Self::Yes,
            (Self::Open(one), Self::Open(other)) if other.len() < one.len() => Self::Open(other),
            (Self::Open(gaps), _) | (_, Self::Open(gaps)) => Self::Open(gaps),
            // Of alternatives that all fail, one with figures says by how much.
            (Self::No(one), Self::No(other)) if has_figures(&other) > has_figures(&one) => Self::No(other),
            (Self::No(by), Self::No(_)) => Self::No(by),
        }
    }

    fn not(self) -> Self {
        match self {
            Self::Yes => Self::No(None),
            Self::No(_) => Self::Yes,
            open => open,
        }
    }
}

fn has_figures(by: &Option<By<'_>>) -> Option<bool> {
    let (test, ..) = by.as_ref()?;
    Some(matches!(test.check, Check::Compare(..)) && test.fact.dimension().is_ordered())
}

/// A walk through a rule for the element that a claim is about.
pub(crate) struct Walk<'w> {
    pub(crate) rules: &'w RuleSet,
    pub(crate) network: &'w Network,
    pub(crate) claim: &'w Json,
    /// What the claim tells of each fact.
    pub(crate) facts: BTreeMap<Fact, Got>,
    pub(crate) steps: Vec<Json>,
    /// What may be cited.
    pub(crate) cited: Vec<&'w Citation>,
}

impl<'w> Walk<'w> {
    pub(crate) fn new(rules: &'w RuleSet, network: &'w Network, claim: &'w Json) -> Self {
        let mut walk = Self {
            rules,
            network,
            claim,
            facts: BTreeMap::new(),
            steps: Vec::new(),
            cited: Vec::new(),
        };
        walk.take_in(&claim["steps"]);
        walk
    }

    /// Takes in what steps tell of facts.
    fn take_in(&mut self, steps: &Json) {
        if let Ok(fact) = text(&steps["fact"]).parse::<Fact>() {
            let (told, dimension) = (&steps["value"], fact.dimension());
            let got = match text(&told["is"]) {
                "absent" => none("absent", "none"),
                "open" => Err(json!({"text": told["text"], "is": "open", "exact": told["exact"]})),
                _ => {
                    let value = dimension.read_exact(text(&told["exact"]), &self.rules.ladder);
                    // What cannot be read is never shown as it is told.
                    value.ok_or_else(|| json!({"unreadable": told}))
                }
            };
            self.facts.entry(fact).or_insert(got);
        }
        for part in [steps, &steps["steps"], &steps["conditions"]] {
            list(part).iter().for_each(|step| self.take_in(step));
        }
    }

    pub(crate) fn put(&mut self, step: Json) {
        self.steps.push(step);
    }

    /// Does something of which the steps are kept apart.
    pub(crate) fn apart<T>(&mut self, inner: impl FnOnce(&mut Self) -> T) -> (T, Vec<Json>) {
        let before = std::mem::take(&mut self.steps);
        let came = inner(self);
        (came, std::mem::replace(&mut self.steps, before))
    }

    pub(crate) fn condition(&mut self, condition: &'w Condition) -> Came<'w> {
        let (how, (came, steps)) = match condition {
            Condition::Test(test) => return self.test(test),
            Condition::All(parts) => return self.each(parts).fold(Came::Yes, Came::and),
            Condition::Any(parts) => {
                let any = |walk: &mut Self| walk.each(parts).fold(Came::No(None), Came::or);
                ("any of", self.apart(any))
            }
            Condition::Not(part) => ("not", self.apart(|walk| walk.condition(part).not())),
        };
        self.put(json!({"step": "parts", "how": how, "steps": steps}));
        came
    }

    fn each(&mut self, parts: &'w [Condition]) -> impl Iterator<Item = Came<'w>> {
        parts.iter().map(|part| self.condition(part))
    }

    fn test(&mut self, test: &'w FactTest) -> Came<'w> {
        let measured = self.fact(test.fact);
        let limit = match &test.check {
            Check::Compare(_, operand) => self.operand(operand),
            Check::Among { values, wanted: true } if values.len() == 1 => Ok(values[0]),
            _ => none("absent", "none"),
        };
        let holds = match (&test.check, &measured) {
            (Check::Present(wanted), _) => measured.is_ok() == *wanted,
            (Check::Among { values, wanted }, Ok(measured)) => values.contains(measured) == *wanted,
            (Check::Compare(order, _), Ok(measured)) => holds(*measured, *order, &limit),
            (_, Err(_)) => false,
        };
        let is_compared = matches!(test.check, Check::Compare(..));
        // Where nothing is measured, the limit does not matter.
        let unknown = measured.as_ref().and(limit.as_ref()).err().cloned();
        let unknown = unknown.filter(|none| none["is"] == "open");
        let any = unknown.as_ref().and_then(|_| self.in_any_case(test));
        let (unknown, holds, limit) = match any {
            Some((holds, easiest)) => (None, holds, if limit.is_ok() { limit } else { easiest }),
            None => (unknown, holds, limit),
        };
        let (_, grain) = self.grains(test, &measured, &limit);
        let shown = is_compared.then(|| self.shown_to(&limit, grain));
        let (outcome, came) = match unknown {
            Some(open) => ("open", Came::Open([text(&open["text"]).to_owned()].into())),
            None if holds => ("yes", Came::Yes),
            None => ("no", Came::No(Some((test, measured, limit)))),
        };
        self.put(json!({"step": "compared", "limit": shown, "outcome": outcome}));
        came
    }

    /// What a comparison comes to with every value of the facts that are open, where that is the same with all, and the
    /// limit among theirs that is kept the most easily.
    fn in_any_case(&mut self, test: &'w FactTest) -> Option<(bool, Got)> {
        let (order, operand) = match &test.check {
            Check::Compare(order, operand) => (order, operand),
            // What lies between two ends is there.
            Check::Present(wanted) => {
                let told = self.facts.get(&test.fact)?.as_ref().err()?;
                let exact = text(&told["exact"]);
                let is_between = exact.contains(" to ") && !exact.ends_with(OR_ABSENT);
                return is_between.then(|| (*wanted, none("absent", "none")));
            }
            Check::Among { .. } => return None,
        };
        let mut facts = operand.facts();
        facts.push(test.fact);
        let is_open = |fact: &Fact| matches!(self.facts.get(fact), Some(Err(none)) if none["is"] == "open");
        let open: Vec<Fact> = facts.into_iter().filter(is_open).collect();
        let values = open
            .iter()
            .find_map(|&open| Some((open, self.values_of(test, *order, operand, open)?)));
        let Some((open, values)) = values else {
            let (limit, _) = self.apart(|walk| walk.operand(operand));
            let measured = self.facts.get(&test.fact)?.clone();
            if matches!(&limit, Err(none) if none["is"] == "open") {
                // What is asked may be more than is known of it, never less.
                let (measured, least) = (measured.ok()?, self.least_of(operand)?);
                let is_least = matches!(order, Comparison::AtLeast | Comparison::MoreThan);
                let fails = is_least && !holds(measured, *order, &Ok(least));
                return fails.then_some((false, Ok(least)));
            }
            if matches!(&measured, Err(none) if none["is"] == "open") {
                return None;
            }
            return Some((
                measured.is_ok_and(|measured| holds(measured, *order, &limit)),
                limit,
            ));
        };
        let told = self.facts.get(&open).cloned();
        let came: Option<Vec<_>> = values
            .into_iter()
            .map(|value| {
                self.facts.insert(open, Ok(value));
                self.in_any_case(test)
            })
            .collect();
        self.facts.extend(told.map(|told| (open, told)));
        let easier = |one: Got, other: Got| match (&one, &other) {
            (Ok(first), Ok(second)) => {
                let most = matches!(order, Comparison::AtMost | Comparison::LessThan);
                let swap = if most {
                    Comparison::MoreThan
                } else {
                    Comparison::LessThan
                };
                if holds(*second, swap, &one) && first != second {
                    other
                } else {
                    one
                }
            }
            (Err(none), _) if none["is"] != "no_limit" => other,
            _ => one,
        };
        came?
            .into_iter()
            .try_fold(None, |kept: Option<(bool, Got)>, (now, limit)| match kept {
                None => Some(Some((now, limit))),
                Some((before, kept)) if before == now => Some(Some((now, easier(kept, limit)))),
                Some(_) => None,
            })?
    }

    /// The values with which a comparison is gone through of a fact that is open; none where it may come to any.
    fn values_of(
        &self,
        test: &FactTest,
        order: Comparison,
        operand: &Operand,
        open: Fact,
    ) -> Option<Vec<Value>> {
        Some(match open.dimension() {
            Dimension::Size => self.rules.ladder.sizes().map(Value::Size).collect(),
            Dimension::Word(words) => words.iter().map(|word| Value::Word(word)).collect(),
            Dimension::Truth => [false, true].map(Value::Truth).to_vec(),
            Dimension::Load if order == Comparison::Is => return None,
            Dimension::Load if open == test.fact && operand.facts().contains(&open) => return None,
            Dimension::Length | Dimension::Angle
                if operand.facts().contains(&open) || order == Comparison::Is =>
            {
                return None;
            }
            dimension @ (Dimension::Count | Dimension::Load | Dimension::Length | Dimension::Angle) => {
                let told = self.facts.get(&open)?.as_ref().err()?;
                let exact = text(&told["exact"]);
                let is_most = matches!(order, Comparison::AtMost | Comparison::LessThan);
                let ends = match exact.strip_suffix(OR_ABSENT) {
                    // What is absent is at most nothing, and at least nothing.
                    Some(_) if !is_most => return None,
                    Some(ends) => ends,
                    None => exact,
                };
                let (least, most) = ends.split_once(" to ")?;
                let end = |told| dimension.read_exact(told, &self.rules.ladder);
                match (end(least)?, end(most)?) {
                    (Value::Count(least), Value::Count(most)) if most <= 100 => {
                        (least..=most).map(Value::Count).collect()
                    }
                    // A figure between two others is judged as they are, if they are judged alike; what is looked up by
                    // it, as by the keys between and those next to them.
                    (Value::Load(least), Value::Load(most)) => {
                        let (least, most) = (least.thousandths(), most.thousandths());
                        let mut loads = self.loads_of_rows(operand, open);
                        loads.retain(|load| (least..=most).contains(load));
                        loads.extend([least, most]);
                        let load = |load| Value::Load(Load::from_thousandths(load));
                        loads.into_iter().map(load).collect()
                    }
                    (least @ (Value::Length(_) | Value::Angle(_)), most) => {
                        vec![least, most]
                    }
                    _ => return None,
                }
            }
            _ => return None,
        })
    }

    /// What an operand comes to at the least, by those parts of the larger of several that are known.
    fn least_of(&mut self, operand: &'w Operand) -> Option<Value> {
        let ladder = &self.rules.ladder;
        match operand {
            Operand::LargerOf(parts) => {
                let mut least: Option<Value> = None;
                for part in parts {
                    let known = self.least_of(part);
                    let larger = known.filter(|known| {
                        least.is_none_or(|least| holds(*known, Comparison::MoreThan, &Ok(least)))
                    });
                    least = larger.or(least);
                }
                least
            }
            Operand::Times {
                numerator,
                denominator,
                of,
            } if *numerator > 0 && *denominator > 0 => self.least_of(of)?.scaled(*numerator, *denominator),
            Operand::Diameter(of) => match self.least_of(of)? {
                Value::Size(size) => Some(Value::Length(ladder.rung(size)?.diameter)),
                _ => None,
            },
            Operand::SizeFor(of) => match self.least_of(of)? {
                Value::Length(diameter) => Some(Value::Size(ladder.at_least(diameter)?)),
                _ => None,
            },
            Operand::SizesUp(steps, of) => match self.least_of(of)? {
                Value::Size(size) => Some(Value::Size(ladder.up(size, *steps)?)),
                _ => None,
            },
            _ => self.apart(|walk| walk.operand(operand)).0.ok(),
        }
    }

    /// The loads by which an operand looks things up by a fact, and those next to them.
    fn loads_of_rows(&self, operand: &Operand, fact: Fact) -> BTreeSet<i64> {
        let parts = operand.parts().into_iter();
        let mut loads: BTreeSet<i64> = parts.flat_map(|part| self.loads_of_rows(part, fact)).collect();
        if let Operand::Lookup(lookup) | Operand::SmallestSize { lookup, .. } = operand {
            let by_fact = |(_, key): &(usize, &Operand)| **key == Operand::Fact(fact);
            for (at, _) in lookup.keys.iter().enumerate().filter(by_fact) {
                for row in self.rules.tables[lookup.table].rows() {
                    if let Some(Value::Load(load)) = row.keys[at] {
                        loads.extend((-1..=1).map(|step| load.thousandths().saturating_add(step)));
                    }
                }
            }
        }
        loads
    }

    pub(crate) fn fact(&mut self, fact: Fact) -> Got {
        let told = self.facts.get(&fact).cloned();
        let got = told.unwrap_or_else(|| none("untold", ""));
        let shown = self.shown(&got);
        self.put(json!({"step": "fact", "fact": fact.name(), "value": shown}));
        // Between which ends it lies is told with the fact alone.
        got.map_err(|mut none| {
            none["exact"] = Json::Null;
            none
        })
    }

    pub(crate) fn operand(&mut self, operand: &Operand) -> Got {
        if let Operand::Fact(fact) = operand {
            return self.fact(*fact);
        }
        let parts = operand.parts().into_iter();
        let mut parts: Vec<Got> = parts.map(|part| self.operand(part)).collect();
        // Of a smallest size, what the cell must hold comes before what the table is looked up by.
        if matches!(operand, Operand::SmallestSize { .. }) {
            parts.rotate_right(1);
        }
        let values: Got<Vec<Value>> = parts.into_iter().collect();
        let got = values.and_then(|values| self.reckoned(operand, &values));
        if !matches!(operand, Operand::Literal(_) | Operand::Lookup(_)) {
            let shown = self.shown(&got);
            self.put(json!({"step": "reckoned", "value": shown}));
        }
        got
    }

    /// What an operand comes to where its parts come to `values`.
    fn reckoned(&mut self, operand: &Operand, values: &[Value]) -> Got {
        let ladder = &self.rules.ladder;
        let order = |one: &&Value, other: &&Value| one.compare(**other).unwrap_or(Ordering::Equal);
        let made = match (operand, values) {
            (Operand::Literal(value), _) => Some(*value),
            (Operand::Lookup(lookup), _) => return self.look_up(lookup, values),
            (Operand::SmallestSize { lookup, size_key, .. }, [least, keys @ ..]) => {
                return self.smallest(lookup, *size_key, keys.to_vec(), *least);
            }
            (Operand::Sum(_), [first, rest @ ..]) => {
                rest.iter().try_fold(*first, |sum, part| sum.plus(*part))
            }
            (Operand::LargerOf(_), _) => values.iter().max_by(order).copied(),
            (Operand::SmallerOf(_), _) => values.iter().min_by(order).copied(),
            (
                Operand::Times {
                    numerator,
                    denominator,
                    ..
                },
                [value],
            ) => value.scaled(*numerator, *denominator),
            (Operand::FlowAsLoad { per, load, .. }, [Value::Flow(flow)]) => {
                let per = i128::from(per.picolitres_per_minute());
                let product = i128::from(flow.picolitres_per_minute()) * i128::from(load.thousandths());
                let rounded_up = i64::try_from((product + per - 1) / per).ok();
                rounded_up.map(|load| Value::Load(Load::from_thousandths(load)))
            }
            (Operand::Diameter(_), [Value::Size(size)]) => {
                let rung = ladder.rung(*size);
                rung.map(|rung| Value::Length(rung.diameter))
            }
            (Operand::SizeFor(_), [Value::Length(length)]) => ladder.at_least(*length).map(Value::Size),
            (Operand::SizesUp(steps, _), [Value::Size(size)]) => ladder.up(*size, *steps).map(Value::Size),
            _ => None,
        };
        match (made, operand) {
            (Some(value), _) => Ok(value),
            (None, Operand::SizeFor(_) | Operand::SizesUp(..)) => none("not_permitted", "not permitted"),
            (None, _) => none("open", "a figure within the range that can be reckoned with"),
        }
    }

    fn look_up(&mut self, lookup: &Lookup, keys: &[Value]) -> Got {
        let table = &self.rules.tables[lookup.table];
        let Some((got, place)) = self.cell(lookup, keys) else {
            let row = format!("a row of the table `{}` for this case", table.name);
            return none("open", &row);
        };
        let mut shown = BTreeMap::new();
        for (key, value) in table.keys().iter().zip(keys) {
            shown.insert(&key.name, self.shown(&Ok(*value)));
        }
        self.put(json!({
            "step": "cell", "table": table.name, "keys": shown,
            "column": table.columns()[lookup.column].name, "value": self.shown(&got),
            "place": {"file": &*place.file, "line": place.line, "column": place.column},
        }));
        got
    }

    /// The smallest size for which the cell of a table is not under a value.
    fn smallest(&mut self, lookup: &Lookup, size_key: usize, mut keys: Vec<Value>, least: Value) -> Got {
        for size in self.rules.ladder.sizes() {
            keys[size_key] = Value::Size(size);
            match self.cell(lookup, &keys) {
                Some((Err(none), _)) if none["is"] == "open" => return Err(none),
                Some((most, _)) if holds(least, Comparison::AtMost, &most) => return Ok(keys[size_key]),
                _ => {}
            }
        }
        none("not_permitted", "not permitted")
    }

    /// What a table says for its keys, and where.
    fn cell(&mut self, lookup: &Lookup, keys: &[Value]) -> Option<(Got, &'w Place)> {
        let table = &self.rules.tables[lookup.table];
        let row = &table.rows()[table.find(keys)?];
        let cell = &row.cells[lookup.column];
        // Of what the code says, the rule has the citation.
        let citation = cell.citation.as_ref().unwrap_or(&table.citation);
        self.cited.extend(citation.set_by.is_some().then_some(citation));
        let got = match cell.content {
            Content::Value(value) => Ok(value),
            Content::Barred => none("not_permitted", "not permitted"),
            Content::Unlimited => none("no_limit", "no limit"),
            Content::Unfilled => {
                let (table, column) = (&table.name, &table.columns()[lookup.column].name);
                let keys = row.keys.iter().flatten().map(|key| self.words(&Ok(*key)));
                let mut at = keys.collect::<Vec<_>>().join(", ");
                if !at.is_empty() {
                    at.insert_str(0, " at ");
                }
                let cell = format!("the cell `{column}` of the table `{table}`{at}");
                none("open", &format!("{cell}, to be filled from its source"))
            }
        };
        Some((got, &cell.place))
    }

    pub(crate) fn words(&self, got: &Got) -> String {
        self.words_to(got, Grain::Usual)
    }

    pub(crate) fn words_to(&self, got: &Got, grain: Grain) -> String {
        text(&self.shown_to(got, grain)["text"]).to_owned()
    }

    /// How finely what is measured and its limit are written: the limit to the side on which it is kept, both exactly where
    /// they would else read alike.
    pub(crate) fn grains(&self, test: &FactTest, measured: &Got, limit: &Got) -> (Grain, Grain) {
        let Check::Compare(order, _) = test.check else {
            return (Grain::Usual, Grain::Usual);
        };
        let usual = (Grain::Usual, Grain::Limit(order));
        let figure = |got: &Got, grain| {
            let words = self.words_to(got, grain);
            words
                .strip_prefix("about ")
                .map(ToOwned::to_owned)
                .unwrap_or(words)
        };
        match (measured, limit) {
            (Ok(own), Ok(other)) if own != other && figure(measured, usual.0) == figure(limit, usual.1) => {
                (Grain::Exact, Grain::Exact)
            }
            _ => usual,
        }
    }

    fn shown(&self, got: &Got) -> Json {
        self.shown_to(got, Grain::Usual)
    }

    fn shown_to(&self, got: &Got, grain: Grain) -> Json {
        let value = match got {
            Ok(value) => value,
            Err(none) => return none.clone(),
        };
        let words = value.in_words_to(grain, &self.rules.ladder, self.network.notation());
        let (is, exact) = value.exact(&self.rules.ladder);
        json!({"text": words, "is": is, "exact": exact})
    }
}

fn holds(measured: Value, order: Comparison, limit: &Got) -> bool {
    let way = match limit {
        Ok(limit) => measured.compare(*limit),
        Err(none) if none["is"] == "no_limit" => Some(Ordering::Less),
        Err(_) => None,
    };
    match order {
        Comparison::Is => way == Some(Ordering::Equal),
        Comparison::AtLeast => way.is_some_and(Ordering::is_ge),
        Comparison::AtMost => way.is_some_and(Ordering::is_le),
        Comparison::MoreThan => way == Some(Ordering::Greater),
        Comparison::LessThan => way == Some(Ordering::Less),
    }
}
