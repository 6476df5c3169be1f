//! Confirms or refuses each finding and pass of a report in JSON by judging its rule anew.
//!
//! No code of the evaluator has a part in it. Rules are read from their YAML, as `RuleSet::merged` gives it,
//! and so is what the network file states; names, kinds and storeys are those of the network as read. What
//! was measured is taken from a claim's steps; all else has to come out the same.
#![forbid(unsafe_code)]

mod figures;
mod place;
mod rules;

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use crownweir_document::{Document, Limits};
use crownweir_network::Network;
use crownweir_quantity::{LoadUnit, NominalSize, Notation};
use serde_json::{Value as Json, json};
use serde_yaml::Value as Yaml;

use figures::Got;
use rules::{At, Came, Outcome, Test, Walk};

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

struct Checker<'a> {
    rules: At<'a>,
    network: At<'a>,
    elements: Vec<place::Element>,
    /// Names and diameter of each size, the smallest first.
    ladder: Vec<(Vec<NominalSize>, i128)>,
    unit: LoadUnit,
    notation: Notation,
}

/// Judges every finding and pass of a report.
#[must_use]
pub fn judge(rules: &Document, network: &Document, report: &Json) -> Vec<Judged> {
    let known = Network::from_document(network, &Limits::default()).ok();
    let unit = rules.value()["loads"]["unit"].as_str().unwrap_or("dfu");
    let mut checker = Checker {
        rules: At(rules.value(), rules.top()),
        network: At(network.value(), network.top()),
        elements: known.as_ref().map(place::elements).unwrap_or_default(),
        ladder: Vec::new(),
        unit: LoadUnit::ALL.iter().find(|one| one.name() == unit).copied().unwrap_or_default(),
        notation: known.as_ref().map(Network::notation).unwrap_or_default(),
    };
    for size in list(&rules.value()["sizes"]) {
        let names = std::iter::once(&size["size"]).chain(list(&size["also"]));
        let names = names.filter_map(|name| text(name).parse().ok()).collect();
        let diameter =
            checker.literal(&size["diameter"], "length", &Yaml::Null).ok().and_then(|got| got.number);
        checker.ladder.push((names, diameter.unwrap_or_default().0));
    }
    let judged = |one: &Json, verdict: &str, prefix: &str| Judged {
        rule: format!("{prefix}{}", said(&one["rule"])),
        name: said(&one["name"]).to_owned(),
        refused: checker.claim(one, verdict).err(),
    };
    let listed = |key: &str| report[key].as_array().into_iter().flatten();
    let findings = listed("findings").map(|one| judged(one, said(&one["verdict"]), ""));
    findings.chain(listed("passes").map(|one| judged(one, "pass", "pass "))).collect()
}

impl Checker<'_> {
    /// Confirms what is claimed of an element, or says why not.
    fn claim(&self, claim: &Json, verdict: &str) -> Sound<()> {
        let (rules, name) = (self.rules.0, said(&claim["rule"]));
        let mut walk = Walk { checker: self, facts: BTreeMap::new(), steps: Vec::new() };
        walk.take_in(&claim["steps"]);
        let rule = named(&rules["rules"], "rule", name);
        let subject = rule.map_or("trap", |rule| text(&rule["subject"]));
        let mut own = match rule {
            Some(rule) => walk.rule(rule, claim)?,
            None => walk.protection(claim)?,
        };
        if own["verdict"] != verdict {
            return Err(format!("it comes to {}", own["verdict"]));
        }
        self.element(claim, subject, &walk.facts)?;
        own["steps"] = walk.steps.into();
        own["subject"] = subject.into();
        // A pass says no more than this.
        let is_said = |key: &str| verdict != "pass" || ["rule", "steps"].contains(&key);
        let section = claim["citation"]["section"].as_str();
        if !section.is_none_or(|section| mentions(rules, section)) {
            return Err(format!("the rule set does not cite {}", claim["citation"]["section"]));
        }
        let mut own = own.as_object().into_iter().flatten();
        let other = own.find(|(key, own)| is_said(key) && claim[key.as_str()] != **own);
        other.map_or(Ok(()), |(key, own)| Err(format!("`{key}` is {own}, not {}", claim[key.as_str()])))
    }
}

impl Walk<'_> {
    /// What is to be said of an element by a rule.
    fn rule(&mut self, rule: &Yaml, claim: &Json) -> Sound<Json> {
        let mut when = vec![self.condition(&rule["when"])?];
        for exception in list(&rule["exceptions"]) {
            when.push(self.none(&exception["when"])?);
        }
        let (when, require) = (Came::all(when), self.condition(&rule["require"])?);
        let mut own = finding(&rule["rule"], rule, rule["severity"].as_str().unwrap_or("violation"));
        match (when.outcome, require.outcome) {
            (Outcome::Yes, Outcome::Yes) => own["verdict"] = "pass".into(),
            (Outcome::No, _) | (_, Outcome::Yes) => own["verdict"] = "no finding".into(),
            (Outcome::Yes, Outcome::No) => {
                let by = require.by.as_ref();
                self.figures(&mut own, by);
                self.told(|walk| {
                    own["message"] = walk.say(&rule["message"], &rule["show"], by)?;
                    own["advice"] = walk.say(&rule["advice"], &rule["show"], by)?;
                    Ok(())
                })?;
            }
            _ => leave_open(&mut own, when.gaps.into_iter().chain(require.gaps).collect(), claim),
        }
        Ok(own)
    }

    /// What is to be said of a trap by the arrangements that may protect it.
    fn protection(&mut self, claim: &Json) -> Sound<Json> {
        let rules = self.checker.rules.0;
        let (asked, arrangements) = (&rules["protection"], list(&rules["arrangements"]));
        let pattern = self.fact("protection.pattern")?;
        let patterns = &claim["steps"][1]["patterns"];
        let shapes: Vec<&str> = patterns.as_array().into_iter().flatten().map(said).collect();
        let is_known = |shape: &&str| arrangements.iter().any(|one| one["pattern"] == **shape);
        if shapes.last() != Some(&"none") || !shapes.iter().rev().skip(1).all(is_known) {
            return Err(format!("the shapes are {shapes:?}"));
        }
        self.steps.push(json!({"step": "shapes", "patterns": patterns}));
        let (mut protects, mut permitted, mut open) = (false, None, None::<BTreeSet<String>>);
        let mut nearest: Option<(_, &Yaml, Vec<(&Yaml, Came)>)> = None;
        for arrangement in arrangements.iter().filter(|one| shapes.contains(&text(&one["pattern"]))) {
            let (mut came, mut steps) = (Vec::new(), Vec::new());
            for condition in list(&arrangement["conditions"]) {
                let (one, own) = self.apart(|walk| walk.condition(&condition["require"]))?;
                came.push((condition, one));
                steps.push(own);
            }
            let name = &arrangement["arrangement"];
            self.steps.push(json!({"step": "arrangement", "arrangement": name, "conditions": steps}));
            let gated = arrangement["needs_approval"] == true;
            let first = came.iter().position(|(_, one)| one.outcome == Outcome::No);
            let gaps: BTreeSet<_> = came.iter().flat_map(|(_, one)| one.gaps.clone()).collect();
            came.retain(|(_, one)| one.outcome == Outcome::No);
            let rank = (came.len(), first == Some(0), gated, Reverse(first));
            match (first, gaps.is_empty()) {
                // The first condition says for which fixtures that is.
                (Some(0), _) if arrangement["pattern"] == "none" => {}
                (None, true) if gated => permitted = permitted.or(Some(arrangement)),
                (None, true) => protects = true,
                (None, false) if open.as_ref().is_none_or(|kept| gaps.len() < kept.len()) => {
                    open = Some(gaps)
                }
                (Some(_), _) if nearest.as_ref().is_none_or(|(kept, ..)| rank < *kept) => {
                    nearest = Some((rank, arrangement, came));
                }
                _ => {}
            }
        }
        if shapes.len() == 1 && pattern.is == "open" {
            (protects, permitted, open) = (false, None, Some(BTreeSet::from([pattern.word.clone()])));
        }
        let mut own = finding(&asked["rule"], asked, "violation");
        if protects {
            own["verdict"] = "pass".into();
            return Ok(own);
        } else if let Some(by) = permitted {
            own = finding(&by["arrangement"], by, "needs_approval");
            own["message"] =
                format!("protected by {}, which needs the authority's permission", text(&by["title"])).into();
            return Ok(own);
        }
        self.told(|walk| {
            own["advice"] = walk.say(&asked["advice"], &Yaml::Null, None)?;
            if let Some(gaps) = open {
                leave_open(&mut own, gaps, claim);
                return Ok(own);
            }
            own["message"] = walk.say(&asked["message"], &Yaml::Null, None)?;
            let Some((_, arrangement, failed)) = nearest else {
                // Whether that shape has air is a measurement that the steps do not tell.
                let shape = walk.checker.words(&pattern);
                let vented =
                    format!("vented by the shape `{shape}`, which the rule set admits in no arrangement");
                if pattern.word != "none" && claim["message"] == vented {
                    own["message"] = vented.into();
                }
                return Ok(own);
            };
            let (mut reasons, mut to_do) = (Vec::new(), Vec::new());
            for (condition, one) in &failed {
                let by = one.by.as_ref();
                reasons.push(walk.say(&condition["message"], &Yaml::Null, by)?);
                to_do.push(walk.say(&condition["advice"], &Yaml::Null, by)?);
                if own["measured"].is_null() {
                    walk.figures(&mut own, by);
                }
            }
            let joined = |parts: &[Json]| parts.iter().map(said).collect::<Vec<_>>().join("; ");
            let (title, reasons) = (text(&arrangement["title"]), joined(&reasons));
            own["message"] =
                format!("not protected; the nearest arrangement is {title}, but {reasons}").into();
            // Half of what would make it hold is no advice.
            if !to_do.contains(&Json::Null) {
                to_do.dedup();
                own["advice"] = joined(&to_do).into();
            }
            Ok(own)
        })
    }

    /// Says something, and puts down the steps of what is told in it.
    fn told<T>(&mut self, say: impl FnOnce(&mut Self) -> Sound<T>) -> Sound<T> {
        let (own, steps) = self.apart(say)?;
        if !steps.is_empty() {
            self.steps.push(json!({"step": "told", "steps": steps}));
        }
        Ok(own)
    }

    /// A message with its figures.
    fn say(&mut self, message: &Yaml, show: &Yaml, by: Option<&Test>) -> Sound<Json> {
        let Some(mut rest) = message.as_str() else { return Ok(Json::Null) };
        let mut own = String::new();
        while let Some((before, after)) = rest.split_once('{') {
            let (name, after) = after.split_once('}').ok_or("a `{` is never closed")?;
            let got = match (name, by) {
                ("measured", Some(by)) => by.measured.clone(),
                ("limit", Some(by)) => by.limit.clone(),
                _ if show[name].is_null() => self.fact(name)?,
                _ => self.operand(&show[name], "")?,
            };
            let words = match (&*got.is, got.number) {
                ("not_permitted", _) => "none".to_owned(),
                // A pipe that falls less than nothing falls the wrong way.
                ("slope", Some((above, below))) if above < 0 => {
                    let back = Got { number: Some((-above, below)), ..got };
                    self.checker.words(&back) + " the wrong way"
                }
                _ => self.checker.words(&got),
            };
            own = own + before + &words;
            rest = after;
        }
        Ok(Json::from(own + rest))
    }

    /// Puts down the figures of the comparison that decides, and the headroom between them.
    fn figures(&self, own: &mut Json, by: Option<&Test>) {
        let Some(test) = by.filter(|test| test.is_ordered) else { return };
        let words = |got: &Got| got.is_value().then(|| Json::from(self.checker.words(got)));
        own["measured"] = words(&test.measured).unwrap_or_default();
        let Some(limit) = words(&test.limit) else { return };
        own["limit"] = limit;
        let room = match &*test.order {
            "at_most" | "less_than" => test.limit.over(&test.measured),
            "at_least" | "more_than" => test.measured.over(&test.limit),
            _ => None,
        };
        let adds_up = ["length", "load", "flow", "velocity", "ratio", "count"].contains(&&*test.limit.is);
        if let Some(room) = room.filter(|_| adds_up) {
            own["headroom"] = self.checker.words(&Got::whole(&test.limit.is, room)).into();
        }
    }
}

/// A finding of which nothing is said yet.
fn finding(rule: &Yaml, head: &Yaml, severity: &str) -> Json {
    json!({
        "rule": rule, "title": head["title"], "verdict": "violated", "severity": severity, "message": null,
        "advice": null, "measured": null, "limit": null, "headroom": null, "missing": [],
    })
}

/// The data that are missing, in the order in which a claim has them.
fn leave_open(own: &mut Json, gaps: BTreeSet<String>, claim: &Json) {
    let claimed: Vec<&str> = claim["missing"].as_array().into_iter().flatten().map(said).collect();
    let is_same = gaps.iter().map(|gap| &**gap).eq(BTreeSet::from_iter(claimed.iter().copied()));
    own["verdict"] = "undetermined".into();
    own["missing"] = if is_same { claim["missing"].clone() } else { json!(gaps) };
    own["message"] = format!("cannot be told: {} needed", claimed.join(" and ")).into();
}

fn mentions(yaml: &Yaml, section: &str) -> bool {
    let below = pairs(yaml).map(|(_, value)| value).chain(list(yaml));
    yaml["section"] == section || { below }.any(|part| mentions(part, section))
}

fn named<'y>(yaml: &'y Yaml, key: &str, name: &str) -> Option<&'y Yaml> {
    list(yaml).iter().find(|one| one[key] == name)
}

fn list(yaml: &Yaml) -> &[Yaml] {
    yaml.as_sequence().map_or(&[], Vec::as_slice)
}

fn pairs(yaml: &Yaml) -> impl Iterator<Item = (&str, &Yaml)> {
    yaml.as_mapping().into_iter().flatten().map(|(key, value)| (text(key), value))
}

fn text(yaml: &Yaml) -> &str {
    yaml.as_str().unwrap_or_default()
}

fn said(json: &Json) -> &str {
    json.as_str().unwrap_or_default()
}

/// A scalar as it stands.
fn plain(yaml: &Yaml) -> String {
    match yaml {
        Yaml::Number(number) => number.to_string(),
        Yaml::Bool(truth) => truth.to_string(),
        _ => text(yaml).to_owned(),
    }
}
