//! The element that a claim speaks of, found in the network file, and what stands there.

use std::collections::BTreeMap;

use crownweir_document::Document;
use serde_json::Value as Json;
use serde_yaml::Value as Yaml;

use crate::rules::At;
use crate::{Checker, Sound, list, pairs, plain, said, text};

/// Something of the network file, on one storey of those that it is repeated on.
pub(crate) struct Element<'a> {
    at: At<'a>,
    run: &'a Yaml,
    kind: String,
    name: String,
    storey: Option<String>,
    /// The nodes between which a pipe is: it is on the storey of the first.
    ends: Option<[String; 2]>,
}

/// What a pipe has from its run unless it states its own.
const OF_RUN: [&str; 5] = ["size", "slope", "material", "support_spacing", "mid_storey_guide"];

impl Checker<'_> {
    /// What a claim's element is called and on which storey it is, where the file has one of that name at that place,
    /// and states nothing else of it than the facts that were measured.
    pub(crate) fn element(
        &self,
        claim: &Json,
        subject: &str,
        facts: &BTreeMap<&str, &Json>,
    ) -> Sound<[Json; 2]> {
        let (name, kind) = (said(&claim["name"]), said(&claim["kind"]));
        let (line, column) = (&claim["line"], &claim["column"]);
        if subject == "system" {
            self.stated(&Yaml::Null, &Yaml::Null, facts)?;
            let is_network = plain(&self.network["name"]) == name && *line == 1 && *column == 1;
            return if is_network {
                Ok(["network".into(), Json::Null])
            } else {
                Err("that is no network".to_owned())
            };
        }
        let is_there = |one: &&Element<'_>| {
            let place = one.at.1.place();
            let rest = name.strip_prefix(&*one.name).filter(|rest| match subject {
                "passage" => rest.parse::<usize>().is_ok(),
                _ => rest.is_empty(),
            });
            let is_stack = one.kind == "stack";
            rest.is_some()
                && is_stack == (subject == "stack")
                && *line == place.line
                && *column == place.column
        };
        let found = self.elements.iter().find(is_there);
        let one = found.ok_or_else(|| format!("there is no {subject} `{name}` at {line}:{column}"))?;
        if !["stack", "branch_interval"].contains(&subject) {
            self.stated(one.at.0, one.run, facts)?;
        }
        let enters = |stack: &Element<'_>| {
            let is_end = stack.kind == "stack" && stack.ends.iter().flatten().any(|end| end == name);
            is_end && kind == format!("branch interval of stack `{}` from", stack.name)
        };
        let own = match subject {
            "trap" => format!("trap of {}", one.kind),
            "trap_arm" => format!("trap arm of {}", one.kind),
            "turn" => "fitting".to_owned(),
            "branch_interval" if self.elements.iter().any(enters) => kind.to_owned(),
            _ => one.kind.clone(),
        };
        let node = |[from, _]: &[String; 2]| {
            self.elements.iter().find(|one| one.ends.is_none() && one.name == *from)
        };
        let from = one.ends.as_ref().and_then(node).and_then(|node| node.storey.clone());
        let storey = if one.kind == "stack" { None } else { one.storey.clone().or(from) };
        Ok([own.into(), storey.into()])
    }

    /// Whether the facts are those that the file states outright.
    fn stated(&self, own: &Yaml, run: &Yaml, facts: &BTreeMap<&str, &Json>) -> Sound<()> {
        let site = &self.network["site"];
        let model = &self.network["models"][plain(&own["model"]).as_str()];
        for (fact, told) in facts {
            let (family, key) = fact.split_once('.').unwrap_or((fact, ""));
            let places = match family {
                "trap" => [&own["trap"][key], &model["trap"][key]],
                "fixture" => [&own[key], &model[key]],
                "pipe" if OF_RUN.contains(&key) => [&own[key], &run[key]],
                "pipe" | "fitting" | "cleanout" | "terminal" | "valve" | "passage" | "test" => [&own[key]; 2],
                "system" => [&site[if key == "type" { "system_type" } else { key }]; 2],
                _ => continue,
            };
            let Some(stated) = places.into_iter().find(|value| !value.is_null()) else { continue };
            let got = self.read(told)?;
            let literal = self.literal(stated, &got.is, &Yaml::Null);
            let is_open = got.is == "open" && !["", "open"].contains(&&*plain(stated));
            if is_open || got.is_value() && literal.is_ok_and(|own| own != got) {
                return Err(format!("`{fact}` is stated as {}, not {}", plain(stated), told["text"]));
            }
        }
        Ok(())
    }
}

/// Everything that can be at a place of a network file.
pub(crate) fn elements(network: &Document) -> Vec<Element<'_>> {
    let top = At(network.value(), network.top());
    let storeys = storeys(&top.0["storeys"]);
    let mut elements = Vec::new();
    for at in top.get("tests").items() {
        elements.push(Element { kind: "test".to_owned(), name: plain(&at.0["section"]), ..Element::new(at) });
    }
    runs(top, top.0, &|yaml| plain(yaml), &mut elements);
    for group in top.get("repeat").items() {
        let range = plain(&group.0["storeys"]);
        let (first, last) = range.split_once("..").unwrap_or((&range, &range));
        let at = |name: &str| storeys.iter().position(|storey| storey == name.trim());
        for own in at(first).zip(at(last)).map(|(first, last)| first..=last).into_iter().flatten() {
            let marks =
                [("{storey}", Some(own)), ("{above}", own.checked_add(1)), ("{below}", own.checked_sub(1))];
            let fill = |yaml: &Yaml| {
                // What states no storey is on that of the occasion.
                let text = if yaml.is_null() { "{storey}".to_owned() } else { plain(yaml) };
                marks.iter().fold(text, |text, (mark, at)| match at.and_then(|at| storeys.get(at)) {
                    Some(storey) => text.replace(mark, storey),
                    None => text,
                })
            };
            runs(group, top.0, &fill, &mut elements);
        }
    }
    elements
}

fn storeys(listed: &Yaml) -> Vec<String> {
    let number = |text: &str| text.trim().parse::<i64>().ok();
    let names = list(listed).iter().flat_map(|storey| {
        let name = plain(&storey["storey"]);
        let range = text(&storey["numbers"]).split_once("..");
        let range = range.and_then(|(first, last)| Some(number(first)?..=number(last)?)).unwrap_or(0..=0);
        range.map(move |number| name.replace("{number}", &number.to_string()))
    });
    names.collect()
}

impl<'a> Element<'a> {
    fn new(at: At<'a>) -> Self {
        Self { at, run: &Yaml::Null, kind: String::new(), name: String::new(), storey: None, ends: None }
    }
}

/// What the runs of a group define, names and storeys filled in.
fn runs<'a>(group: At<'a>, top: &'a Yaml, fill: &dyn Fn(&Yaml) -> String, elements: &mut Vec<Element<'a>>) {
    let runs = ["drain", "vent"].into_iter().flat_map(|role| {
        let runs = group.get(if role == "drain" { "drains" } else { "vents" }).items();
        runs.map(move |run| (role, run))
    });
    for (role, run) in runs {
        let steps = run.get("path").items().filter_map(|step| Some((pairs(step.0).next()?.0, step)));
        let path: Vec<(&str, At<'a>)> = steps.map(|(key, step)| (key, step.get(key))).collect();
        let own_name = |at: &At<'_>| if at.0.is_mapping() { at.0["name"].clone() } else { at.0.clone() };
        let name = |index: usize| path.get(index).map_or(Yaml::Null, |(_, at)| own_name(at));
        let of_run =
            [&run.0["run"], &name(0)].into_iter().find(|name| !name.is_null()).map_or_else(String::new, fill);
        for (index, (key, at)) in path.iter().enumerate() {
            let element = Element::new(*at);
            if *key == "pipe" {
                let ends = [fill(&name(index.wrapping_sub(1))), fill(&name(index + 1))];
                let pipe = if name(index).is_null() { ends.join(" to ") } else { fill(&name(index)) };
                for (passage, row, cut) in passages(*at, top) {
                    let kind = match cut {
                        "" | "bored" => "hole",
                        "uncut" => "passage",
                        _ => "notch",
                    };
                    let storey = Some(&row["storey"]).filter(|storey| !storey.is_null()).map(plain);
                    let name = format!("{pipe}, {} ", plain(&row["framing"]));
                    let kind = kind.to_owned();
                    elements.push(Element {
                        kind,
                        name,
                        storey,
                        ends: Some(ends.clone()),
                        ..Element::new(passage)
                    });
                }
                let ends = Some(ends);
                let name = of_run.clone();
                elements.push(Element {
                    kind: "stack".to_owned(),
                    name,
                    ends: ends.clone(),
                    ..Element::new(*at)
                });
                elements.push(Element { run: run.0, kind: role.to_owned(), name: pipe, ends, ..element });
            } else if *key != "at" {
                let model = &top["models"][plain(&at.0["model"]).as_str()];
                let kind = match *key {
                    "fixture" => plain(if at.0["type"].is_null() { &model["type"] } else { &at.0["type"] }),
                    "terminal" => "vent terminal".to_owned(),
                    "valve" => "air admittance valve".to_owned(),
                    "disposal" => "point of disposal".to_owned(),
                    key => key.to_owned(),
                };
                let storey = [&at.0["storey"], &run.0["storey"]].into_iter().find(|storey| !storey.is_null());
                let storey = Some(fill(storey.unwrap_or(&Yaml::Null))).filter(|storey| !storey.is_empty());
                elements.push(Element {
                    kind: kind.replace('_', " "),
                    name: fill(&name(index)),
                    storey,
                    ..element
                });
            }
        }
    }
}

/// The framing that a pipe states that it passes, and rows that are laid out, which it may pass.
fn passages<'a>(pipe: At<'a>, top: &'a Yaml) -> Vec<(At<'a>, &'a Yaml, &'a str)> {
    let rows = list(&top["framing"]);
    let mut passages = Vec::new();
    for passage in pipe.get("passes").items() {
        let row = rows.iter().find(|row| row["framing"] == passage.0["framing"]);
        passages.extend(row.map(|row| (passage, row, text(&passage.0["cut"]))));
    }
    passages.extend(rows.iter().filter(|row| !row["layout"].is_null()).map(|row| (pipe, row, "")));
    passages
}
