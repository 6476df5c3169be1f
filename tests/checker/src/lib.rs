//! Confirms or refuses each finding and pass of a report in JSON by redoing its steps from the rules and the network.
//!
//! It shares no code with the evaluator: it reads the YAML by itself, and takes from the workings only what facts were
//! measured. Rules come as `RuleSet::merged` gives them, each part with its place in the file that it came from.
#![forbid(unsafe_code)]

mod figures;
mod place;

use std::cmp::Reverse;
use std::collections::BTreeSet;

use crownweir_document::{Cursor, Document};
use crownweir_quantity::{LoadUnit, NominalSize, Notation};
use serde_json::Value as Json;
use serde_yaml::Value as Yaml;

use figures::Got;

/// What was asked about a finding or pass, and why it is refused, if it is.
pub struct Judged {
    /// The rule's name, with `pass` before it where it is one.
    pub rule: String,
    /// The element's name.
    pub name: String,
    /// Why it is refused.
    pub refused: Option<String>,
}

type Sound<T> = Result<T, String>;
type Steps<'s> = std::slice::Iter<'s, Json>;

pub(crate) struct Checker<'a> {
    rules: &'a Yaml,
    rules_at: Cursor<'a>,
    network: &'a Document,
    /// Names and diameter of each size, the smallest first.
    ladder: Vec<(Vec<NominalSize>, i128)>,
    unit: LoadUnit,
    notation: Notation,
    things: Vec<(Cursor<'a>, place::Place<'a>)>,
}

#[derive(Clone, Copy, PartialEq)]
enum Outcome {
    Yes,
    No,
    Open,
}

/// A condition as judged anew.
enum Node {
    All(Vec<Node>),
    Any(Vec<Node>),
    Not(Box<Node>),
    Test(Test),
}

struct Test {
    outcome: Outcome,
    order: String,
    measured: Got,
    limit: Option<Got>,
    /// The dimension of what was compared, as far as it is known.
    of: String,
}

/// Judges every finding and pass of a report.
#[must_use]
pub fn judge(rules: &Document, network: &Document, report: &Json) -> Vec<Judged> {
    let checker = Checker::new(rules, network);
    let listed = |key: &str| report[key].as_array().cloned().unwrap_or_default();
    let judged = |one: &Json, is_pass: bool| Judged {
        rule: format!("{}{}", if is_pass { "pass " } else { "" }, text(&one["rule"])),
        name: text(&one["name"]).to_owned(),
        refused: checker.claim(one, is_pass).err(),
    };
    let findings = listed("findings").into_iter().map(|one| judged(&one, false));
    findings.chain(listed("passes").iter().map(|one| judged(one, true))).collect()
}

impl<'a> Checker<'a> {
    fn new(rules: &'a Document, network: &'a Document) -> Self {
        let sizes = rules.value()["sizes"].as_sequence().into_iter().flatten();
        let rung = |size: &Yaml| {
            let also = size["also"].as_sequence().into_iter().flatten();
            let names = std::iter::once(&size["size"]).chain(also);
            let names = names.filter_map(|name| name.as_str()?.parse().ok()).collect();
            (names, figures::nanometres(&size["diameter"]))
        };
        let unit = rules.value()["loads"]["unit"].as_str().unwrap_or("dfu");
        let inches = network.value()["units"].as_str().is_none_or(|units| units == "inches");
        Self {
            things: place::things(network),
            rules: rules.value(),
            rules_at: rules.top(),
            network,
            ladder: sizes.map(rung).collect(),
            unit: *LoadUnit::ALL.iter().find(|one| one.name() == unit).unwrap_or(&LoadUnit::ALL[0]),
            notation: if inches { Notation::Inches } else { Notation::Millimetres },
        }
    }

    /// Confirms what is claimed of an element, or says why not.
    fn claim(&self, claim: &Json, is_pass: bool) -> Sound<()> {
        let (name, steps) = (text(&claim["rule"]), claim["steps"].as_array().ok_or("there are no steps")?);
        let protection = &self.rules["protection"];
        let arrangement = named(&self.rules["arrangements"], "arrangement", name);
        if protection["rule"].as_str() == Some(name) || arrangement.is_some() {
            self.place(claim, "trap", steps)?;
            return self.protection(claim, arrangement, is_pass, steps);
        }
        let rule = named(&self.rules["rules"], "rule", name).ok_or("there is no such rule")?;
        self.place(claim, rule["subject"].as_str().unwrap_or_default(), steps)?;
        let steps = &mut steps.iter();
        let mut when = vec![self.condition(&rule["when"], steps)?];
        for exception in rule["exceptions"].as_sequence().into_iter().flatten() {
            let mut inner = parts("not", steps)?;
            when.push(Node::Not(Box::new(self.condition(&exception["when"], &mut inner)?)));
            done(&inner)?;
        }
        let (when, require) = (Node::All(when), self.condition(&rule["require"], steps)?);
        done(steps)?;
        let verdict = match (when.outcome(), require.outcome()) {
            (Outcome::Yes, Outcome::Yes) => "pass",
            (Outcome::Yes, Outcome::No) => "violated",
            (Outcome::No, _) | (_, Outcome::Yes) => "no finding",
            _ => "undetermined",
        };
        if is_pass {
            return agree("verdict", "pass", verdict);
        }
        agree("verdict", text(&claim["verdict"]), verdict)?;
        self.head(claim, rule, rule["severity"].as_str().unwrap_or("violation"), rule["subject"].as_str())?;
        let missing = when.gaps().into_iter().chain(require.gaps()).collect();
        match verdict {
            "violated" => self.figures(claim, require.decide().into_iter()),
            _ => missing_are(claim, &missing),
        }
    }

    fn protection(&self, claim: &Json, by: Option<&Yaml>, is_pass: bool, steps: &[Json]) -> Sound<()> {
        let steps = &mut steps.iter();
        let (pattern, _) = self.fact("protection.pattern", steps)?;
        let shapes = next("shapes", steps)?;
        let shapes: Vec<_> = shapes["patterns"].as_array().into_iter().flatten().map(text).collect();
        let (last, rest) = shapes.split_last().unwrap_or((&"", &[]));
        agree("last shape", last, "none")?;
        if let (Got::Open(gap), []) = (pattern, rest) {
            return missing_are(claim, &BTreeSet::from([gap]));
        }
        if let Some(other) = rest.iter().find(|shape| named(&self.rules["arrangements"], "pattern", shape).is_none()) {
            return Err(format!("no arrangement has the shape `{other}`"));
        }
        let (mut protects, mut permitted, mut open, mut nearest) = (None, None, None::<BTreeSet<String>>, None);
        for arrangement in self.rules["arrangements"].as_sequence().into_iter().flatten() {
            let text_of = |key: &str| arrangement[key].as_str().unwrap_or_default();
            if !shapes.contains(&text_of("pattern")) {
                continue;
            }
            let step = next("arrangement", steps)?;
            agree("arrangement", text(&step["arrangement"]), text_of("arrangement"))?;
            let mut of_condition = step["conditions"].as_array().into_iter().flatten();
            let mut nodes = Vec::new();
            for condition in arrangement["conditions"].as_sequence().into_iter().flatten() {
                let steps = of_condition.next().and_then(Json::as_array).ok_or("a condition was not judged")?;
                let steps = &mut steps.iter();
                nodes.push(self.condition(&condition["require"], steps)?);
                done(steps)?;
            }
            let gated = arrangement["needs_approval"].as_bool() == Some(true);
            let first = nodes.iter().position(|node| node.outcome() == Outcome::No);
            let gaps: BTreeSet<_> = nodes.iter().flat_map(Node::gaps).collect();
            let failed = nodes.iter().filter(|node| node.outcome() == Outcome::No).count();
            match (first, gaps.is_empty()) {
                (Some(0), _) if text_of("pattern") == "none" => {}
                (None, true) if gated => permitted = permitted.or(Some(text_of("arrangement").to_owned())),
                (None, true) => protects = protects.or(Some(())),
                (None, false) if open.as_ref().is_none_or(|kept| gaps.len() < kept.len()) => open = Some(gaps),
                (None, false) => {}
                (Some(_), _) => {
                    let rank = (failed, first == Some(0), gated, Reverse(first));
                    if nearest.as_ref().is_none_or(|(kept, _)| rank < *kept) {
                        nearest = Some((rank, nodes));
                    }
                }
            }
        }
        done(steps)?;
        let verdict = match (protects, &permitted, &open) {
            (Some(()), ..) => "pass",
            (None, None, Some(_)) => "undetermined",
            _ => "violated",
        };
        agree("verdict", if is_pass { "pass" } else { text(&claim["verdict"]) }, verdict)?;
        let own = by.map(|by| by["arrangement"].as_str().unwrap_or_default());
        agree("arrangement by permission", own.unwrap_or("none"), permitted.as_deref().unwrap_or("none"))
            .or(if verdict == "pass" { Ok(()) } else { Err("it is not protected by that".to_owned()) })?;
        if is_pass {
            return Ok(());
        }
        let severity = if by.is_some() { "needs_approval" } else { "violation" };
        self.head(claim, by.unwrap_or(&self.rules["protection"]), severity, Some("trap"))?;
        let failed = nearest.iter().flat_map(|(_, nodes)| nodes.iter().filter_map(Node::decide));
        match (by, open) {
            (None, Some(gaps)) => missing_are(claim, &gaps),
            (None, None) => self.figures(claim, failed),
            _ => self.figures(claim, std::iter::empty()),
        }
    }

    /// Whether a finding's head is that of its rule, and its citation one of those that the rule set has.
    fn head(&self, claim: &Json, rule: &Yaml, severity: &str, subject: Option<&str>) -> Sound<()> {
        agree("title", text(&claim["title"]), rule["title"].as_str().unwrap_or_default())?;
        agree("severity", text(&claim["severity"]), severity)?;
        agree("subject", text(&claim["subject"]), subject.unwrap_or_default())?;
        let section = claim["citation"]["section"].as_str();
        match section.is_none_or(|section| mentions(self.rules, section)) {
            true => Ok(()),
            false => Err(format!("the rule set does not cite {}", section.unwrap_or_default())),
        }
    }

    /// Whether a finding shows the figures of the comparison that decides, and the headroom between them.
    fn figures<'t>(&self, claim: &Json, decisions: impl Iterator<Item = &'t Test>) -> Sound<()> {
        let mut shown = [None, None, None];
        for test in decisions.filter(|test| test.is_ordered()) {
            if shown[0].is_some() {
                break;
            }
            let words = |got: &Got| got.is_value().then(|| self.words(&test.of, got)).flatten();
            if let Some(measured) = words(&test.measured) {
                shown[0] = Some(measured);
            }
            let Some(limit) = &test.limit else { continue };
            shown[1] = words(limit).or(shown[1].take());
            let room = match &*test.order {
                "at_most" | "less_than" => limit.less(&test.measured),
                "at_least" | "more_than" => test.measured.less(limit),
                _ => None,
            };
            let adds_up = ["length", "load", "flow", "velocity", "ratio", "count"].contains(&&*test.of);
            shown[2] = room.filter(|_| adds_up).and_then(|room| self.words(&test.of, &room)).or(shown[2].take());
        }
        missing_are(claim, &BTreeSet::new())?;
        for (key, own) in ["measured", "limit", "headroom"].into_iter().zip(shown) {
            agree(key, claim[key].as_str().unwrap_or("none"), own.as_deref().unwrap_or("none"))?;
        }
        Ok(())
    }

    fn condition(&self, yaml: &Yaml, steps: &mut Steps<'_>) -> Sound<Node> {
        let list = |yaml: &Yaml, steps: &mut Steps<'_>| {
            let parts = yaml.as_sequence().into_iter().flatten();
            parts.map(|part| self.condition(part, steps)).collect::<Sound<Vec<_>>>()
        };
        let mut all = Vec::new();
        for (key, value) in yaml.as_mapping().into_iter().flatten() {
            match key.as_str().unwrap_or_default() {
                "all" => all.push(Node::All(list(value, steps)?)),
                how @ ("any" | "not") => {
                    let mut inner = parts(if how == "any" { "any of" } else { how }, steps)?;
                    all.push(match how {
                        "any" => Node::Any(list(value, &mut inner)?),
                        _ => Node::Not(Box::new(self.condition(value, &mut inner)?)),
                    });
                    done(&inner)?;
                }
                fact => match value.as_mapping() {
                    Some(orders) => {
                        for (order, asked) in orders {
                            let order = order.as_str().unwrap_or_default();
                            all.push(Node::Test(self.test(fact, order, asked, steps)?));
                        }
                    }
                    None => all.push(Node::Test(self.test(fact, "is", value, steps)?)),
                },
            }
        }
        Ok(Node::All(all))
    }

    fn test(&self, fact: &str, order: &str, asked: &Yaml, steps: &mut Steps<'_>) -> Sound<Test> {
        let measured = self.fact(fact, steps)?;
        let compared = steps.as_slice().iter().find(|step| step["step"] == "compared");
        let compared = compared.ok_or("a comparison is missing")?;
        let is_value = |shown: &Json| !shown["exact"].is_null();
        let known = [&measured.1["value"], &compared["limit"]].into_iter().find(|shown| is_value(shown));
        if is_value(&measured.1["value"]) && is_value(&compared["limit"]) {
            agree("the limit's dimension", text(&compared["limit"]["is"]), text(&measured.1["value"]["is"]))?;
        }
        let (of, measured) = (known.map_or("", |shown| text(&shown["is"])).to_owned(), measured.0);
        let literal = |yaml: &Yaml| self.literal(yaml, &of, None);
        let mut limit = None;
        let among = |list: &Yaml| {
            let items = list.as_sequence().into_iter().flatten();
            items.map(literal).any(|one| one.is_ok_and(|one| one.same(&measured)))
        };
        let asks = match order {
            "present" => measured.is_value() == (asked.as_bool() == Some(true)),
            "one_of" => among(asked),
            "none_of" => measured.is_value() && !among(asked),
            "is_not" => measured.is_value() && !literal(asked)?.same(&measured),
            _ => {
                let own = self.operand(asked, &of, steps)?;
                let holds = own.bounds(&measured, order);
                limit = Some(own);
                holds
            }
        };
        let open = [Some(&measured), limit.as_ref()].into_iter().flatten().any(|got| matches!(got, Got::Open(_)));
        // What is absent fails, whatever the limit.
        let outcome = match (open && measured != Got::Absent, asks) {
            (true, _) => Outcome::Open,
            (false, true) => Outcome::Yes,
            (false, false) => Outcome::No,
        };
        let step = next("compared", steps)?;
        let said = ["yes", "no", "open"][outcome as usize];
        agree(&format!("whether `{fact}` {order}"), text(&step["outcome"]), said)?;
        match &limit {
            Some(own) if !step["limit"].is_null() => agree_got("limit", &self.shown(&step["limit"])?, own)?,
            Some(_) if order != "is" => return Err(format!("the limit of `{fact}` is missing")),
            None if !step["limit"].is_null() => return Err(format!("`{fact}` {order} has no limit")),
            _ => {}
        }
        let order = order.to_owned();
        Ok(Test { outcome, order, measured, limit, of })
    }

    fn fact<'s>(&self, name: &str, steps: &mut Steps<'s>) -> Sound<(Got, &'s Json)> {
        let step = next("fact", steps)?;
        agree("fact", text(&step["fact"]), name)?;
        Ok((self.shown(&step["value"])?, step))
    }

    /// What an operand comes to; `of` is the dimension of its literals.
    fn operand(&self, yaml: &Yaml, of: &str, steps: &mut Steps<'_>) -> Sound<Got> {
        let is_fact = |text: &&str| {
            text.starts_with(|first: char| first.is_ascii_lowercase()) && text.contains('.') && !text.contains(' ')
        };
        let name = yaml["fact"].as_str().or_else(|| yaml.as_str().filter(is_fact));
        if let Some(name) = name {
            return Ok(self.fact(name, steps)?.0);
        }
        if !yaml.is_mapping() {
            return self.literal(yaml, of, None);
        }
        let own = if yaml["table"].is_string() {
            match self.look_up(yaml, steps)? {
                (own, true) => own,
                (own, false) => return Ok(own),
            }
        } else if !yaml["times"].is_null() {
            self.operand(&yaml["of"], of, steps)?.times(&yaml["times"])
        } else if let Some((how, list)) =
            ["sum", "larger_of", "smaller_of"].iter().find_map(|how| Some((*how, yaml[*how].as_sequence()?)))
        {
            let parts: Vec<_> = list.iter().map(|part| self.operand(part, of, steps)).collect::<Sound<_>>()?;
            let folded = parts.into_iter().reduce(|one, other| if one.is_value() { one.with(other, how) } else { one });
            folded.unwrap_or(Got::Absent)
        } else if !yaml["diameter"].is_null() {
            self.operand(&yaml["diameter"], "size", steps)?.map(|size| Some(self.ladder.get(size as usize)?.1))
        } else if !yaml["size_for"].is_null() {
            let at_least =
                |length| self.ladder.iter().position(|(_, diameter)| *diameter >= length).map(|at| at as i128);
            self.operand(&yaml["size_for"], "length", steps)?.map(at_least)
        } else if let Some(up) = yaml["sizes_up"].as_i64() {
            let up = |size| Some(size + i128::from(up)).filter(|up| (*up as usize) < self.ladder.len());
            self.operand(&yaml["of"], "size", steps)?.map(up)
        } else {
            let (per, load) = (self.literal(&yaml["per"], "flow", None)?, self.literal(&yaml["load"], "load", None)?);
            let (Got::Number(per, _), Got::Number(load, _)) = (per, load) else { return Err("no rate".to_owned()) };
            self.operand(&yaml["flow"], "flow", steps)?.map(|flow| Some((flow * load + per - 1).div_euclid(per)))
        };
        agree_got("what was reckoned", &self.shown(&next("reckoned", steps)?["value"])?, &own)?;
        Ok(own)
    }

    /// What a table gives, and whether that was searched for rather than read in a cell.
    fn look_up(&self, yaml: &Yaml, steps: &mut Steps<'_>) -> Sound<(Got, bool)> {
        let name = yaml["table"].as_str().unwrap_or_default();
        let table = &self.rules["tables"][name];
        let mut keys: Vec<&Yaml> = table["keys"].as_sequence().into_iter().flatten().collect();
        keys.extend(Some(&table["across"]).filter(|across| across.is_mapping()));
        let sought = yaml["smallest"].as_str();
        let mut values = Vec::new();
        for key in &keys {
            let (own, of) = (key["name"].as_str().unwrap_or_default(), key["of"].as_str().unwrap_or_default());
            values.push(match sought == Some(own) {
                true => Got::Absent,
                false => self.operand(&yaml["keys"][own], of, steps)?,
            });
        }
        let across = table["across"]["gives"].is_mapping();
        let columns = if across {
            std::slice::from_ref(&table["across"]["gives"])
        } else {
            table["columns"].as_sequence().map_or(&[][..], Vec::as_slice)
        };
        let column = yaml["column"].as_str().or_else(|| columns.first()?["name"].as_str()).unwrap_or_default();
        let number = columns.iter().position(|one| one["name"].as_str() == Some(column)).ok_or("no such column")?;
        let table = figures::Table { name, yaml: table, keys: &keys, column: &columns[number], number };
        if let Some(sought) = sought {
            let holds = self.operand(&yaml["holds"], columns[number]["of"].as_str().unwrap_or_default(), steps)?;
            if !holds.is_value() {
                return Ok((holds, true));
            }
            let at = keys.iter().position(|key| key["name"].as_str() == Some(sought)).ok_or("no such key")?;
            for size in 0..self.ladder.len() {
                values[at] = Got::Number(size as i128, 1);
                match table.find(self, &values)?.map(|found| found.content) {
                    Some(Got::Open(gap)) => return Ok((Got::Open(gap), true)),
                    Some(most) if most == Got::Unlimited || holds.bounds(&most, "at_least") => {
                        return Ok((values[at].clone(), true));
                    }
                    _ => {}
                }
            }
            return Ok((Got::Barred, true));
        }
        if let Some(other) = values.iter().find(|value| !value.is_value()) {
            return Ok((other.clone(), false));
        }
        let Some(found) = table.find(self, &values)? else {
            return Ok((Got::Open(format!("a row of the table `{name}` for this case")), false));
        };
        let step = next("cell", steps)?;
        agree("table", text(&step["table"]), name)?;
        agree("column", text(&step["column"]), column)?;
        for (key, value) in keys.iter().zip(&values) {
            let key = key["name"].as_str().unwrap_or_default();
            agree_got(&format!("key `{key}`"), &self.shown(&step["keys"][key])?, value)?;
        }
        let at = self.rules_at.get("tables").get(name).get("rows").item(found.row);
        let at = if at.has("row") { at.get("row") } else { at }.item(found.item);
        let place = if at.has("value") { at.get("value") } else { at }.place();
        let written = format!("{}:{}:{}", place.file, place.line, place.column);
        let said = &step["place"];
        agree("the cell's place", &format!("{}:{}:{}", text(&said["file"]), said["line"], said["column"]), &written)?;
        agree_got("what the cell says", &self.shown(&step["value"])?, &found.content)?;
        Ok((found.content, false))
    }
}

impl Node {
    fn outcome(&self) -> Outcome {
        let any = |nodes: &[Self], outcome| nodes.iter().any(|node| node.outcome() == outcome);
        match self {
            Self::All(parts) if any(parts, Outcome::No) => Outcome::No,
            Self::Any(parts) if any(parts, Outcome::Yes) => Outcome::Yes,
            Self::All(parts) | Self::Any(parts) if any(parts, Outcome::Open) => Outcome::Open,
            Self::All(_) => Outcome::Yes,
            Self::Any(_) => Outcome::No,
            Self::Not(inner) => match inner.outcome() {
                Outcome::Yes => Outcome::No,
                Outcome::No => Outcome::Yes,
                Outcome::Open => Outcome::Open,
            },
            Self::Test(test) => test.outcome,
        }
    }

    /// The fewest data that would settle it.
    fn gaps(&self) -> BTreeSet<String> {
        match self {
            _ if self.outcome() != Outcome::Open => BTreeSet::new(),
            Self::Test(test) => {
                let open = [Some(&test.measured), test.limit.as_ref()].into_iter().flatten();
                open.filter_map(|got| if let Got::Open(gap) = got { Some(gap.clone()) } else { None }).take(1).collect()
            }
            Self::Not(inner) => inner.gaps(),
            Self::All(parts) => parts.iter().flat_map(Self::gaps).collect(),
            Self::Any(parts) => {
                let open = parts.iter().map(Self::gaps).filter(|gaps| !gaps.is_empty());
                open.min_by_key(BTreeSet::len).unwrap_or_default()
            }
        }
    }

    /// The comparison by which it fails: the first, of alternatives the first with a figure.
    fn decide(&self) -> Option<&Test> {
        let failed = |parts: &'_ [Self]| parts.iter().position(|part| part.outcome() == Outcome::No);
        match self {
            Self::All(parts) => parts.get(failed(parts)?)?.decide(),
            Self::Any(parts) => {
                let of_parts = || parts.iter().filter(|part| part.outcome() == Outcome::No).filter_map(Self::decide);
                of_parts().find(|test| test.limit.is_some() && test.is_ordered()).or_else(|| of_parts().next())
            }
            Self::Not(_) => None,
            Self::Test(test) => Some(test),
        }
    }
}

impl Test {
    fn is_ordered(&self) -> bool {
        self.order.contains("_least")
            || self.order.contains("_most")
            || self.order.contains("_than")
            || !["", "word", "truth"].contains(&&*self.of)
    }
}

fn named<'y>(list: &'y Yaml, key: &str, name: &str) -> Option<&'y Yaml> {
    list.as_sequence()?.iter().find(|one| one[key].as_str() == Some(name))
}

fn mentions(yaml: &Yaml, section: &str) -> bool {
    let below = yaml.as_mapping().into_iter().flatten().map(|(_, value)| value);
    let items = yaml.as_sequence().into_iter().flatten();
    yaml["section"].as_str() == Some(section) || below.chain(items).any(|part| mentions(part, section))
}

pub(crate) fn text(json: &Json) -> &str {
    json.as_str().unwrap_or_default()
}

fn next<'s>(kind: &str, steps: &mut Steps<'s>) -> Sound<&'s Json> {
    let step = steps.next().ok_or_else(|| format!("a step `{kind}` is missing"))?;
    agree("step", text(&step["step"]), kind)?;
    Ok(step)
}

fn parts<'s>(how: &str, steps: &mut Steps<'s>) -> Sound<Steps<'s>> {
    let step = next("parts", steps)?;
    agree("parts", text(&step["how"]), how)?;
    Ok(step["steps"].as_array().map_or([].iter(), |steps| steps.iter()))
}

fn done(steps: &Steps<'_>) -> Sound<()> {
    steps.as_slice().first().map_or(Ok(()), |more| Err(format!("the rules know no such step: {more}")))
}

fn missing_are(claim: &Json, own: &BTreeSet<String>) -> Sound<()> {
    let said: BTreeSet<_> = claim["missing"].as_array().into_iter().flatten().map(|one| text(one).to_owned()).collect();
    let figures = ["measured", "limit", "headroom"].iter().any(|key| !claim[key].is_null());
    let fits = said == *own && (own.is_empty() || !figures);
    if fits { Ok(()) } else { Err(format!("missing is {own:?}, not {said:?}")) }
}

pub(crate) fn agree(what: &str, said: &str, own: &str) -> Sound<()> {
    if said == own { Ok(()) } else { Err(format!("{what} is `{own}`, not `{said}`")) }
}

fn agree_got(what: &str, said: &Got, own: &Got) -> Sound<()> {
    if said.same(own) { Ok(()) } else { Err(format!("{what} is {own:?}, not {said:?}")) }
}
