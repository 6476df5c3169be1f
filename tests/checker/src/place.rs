//! The element that a claim speaks of, found in the network file at the place given, and what stands there.

use crownweir_document::{Cursor, Document};
use serde_json::Value as Json;
use serde_yaml::Value as Yaml;

use crate::figures::{Got, plain};
use crate::{Checker, Sound, text};

/// A thing of the network file at the place sought, with the run that it is in and the names before and after it.
pub(crate) struct Place<'a> {
    own: &'a Yaml,
    run: &'a Yaml,
    ends: [String; 2],
}

/// What a pipe has from its run unless it states its own.
const OF_RUN: [&str; 5] = ["size", "slope", "material", "support_spacing", "mid_storey_guide"];

impl Checker<'_> {
    /// Whether an element of that name stands where the claim says, and the steps give what it states outright.
    pub(crate) fn place(&self, claim: &Json, subject: &str, steps: &[Json]) -> Sound<()> {
        let (at, name) = ((&claim["line"], &claim["column"]), text(&claim["name"]));
        let top = self.network.value();
        if subject == "system" {
            let fits = plain(&top["name"]) == name && *at.0 == 1 && *at.1 == 1;
            return if fits {
                self.stated(&top["site"], &Yaml::Null, steps)
            } else {
                Err("that is no network here".to_owned())
            };
        }
        let is_here = |cursor: Cursor<'_>| *at.0 == cursor.place().line && *at.1 == cursor.place().column;
        let found = self.things.iter().filter(|(cursor, _)| is_here(*cursor));
        let mut found = found.filter(|(_, place)| match subject {
            "stack" => {
                fills(&plain(&place.run["run"]), name) || fills(&place.ends[0], name) || place.run["run"].is_null()
            }
            "passage" => true,
            "test" => plain(&place.own["section"]) == name,
            _ if place.own["name"].is_null() => fills(&format!("{} to {}", place.ends[0], place.ends[1]), name),
            _ => fills(&plain(&place.own["name"]), name),
        });
        let (_, place) = found.next().ok_or_else(|| format!("there is no {subject} `{name}` at {}:{}", at.0, at.1))?;
        if subject == "stack" || subject == "branch_interval" {
            return Ok(());
        }
        self.stated(place.own, place.run, steps)
    }

    /// Whether the facts in the steps are those that the file states, where it does.
    fn stated(&self, own: &Yaml, run: &Yaml, steps: &[Json]) -> Sound<()> {
        let model = &self.network.value()["models"][plain(&own["model"]).as_str()];
        for step in steps {
            self.stated(own, run, step["steps"].as_array().map_or(&[], Vec::as_slice))?;
            for condition in step["conditions"].as_array().into_iter().flatten() {
                self.stated(own, run, condition.as_array().map_or(&[], Vec::as_slice))?;
            }
            let Some((family, key)) = step["fact"].as_str().and_then(|fact| fact.split_once('.')) else { continue };
            let places = match family {
                "trap" => [&own["trap"][key], &model["trap"][key]],
                "fixture" => [&own[key], &model[key]],
                "pipe" if OF_RUN.contains(&key) => [&own[key], &run[key]],
                "pipe" | "fitting" | "cleanout" | "terminal" | "valve" | "passage" | "test" => [&own[key]; 2],
                "system" => [&self.network.value()["site"][if key == "type" { "system_type" } else { key }]; 2],
                _ => continue,
            };
            let Some(stated) = places.into_iter().find(|value| !value.is_null()) else { continue };
            let of = text(&step["value"]["is"]);
            let (Ok(stated), got) = (self.literal(stated, of, None), self.shown(&step["value"])?) else { continue };
            if got.is_value() && !stated.same(&got) {
                return Err(format!("`{family}.{key}` is stated as {stated:?}, not {got:?}"));
            }
            if matches!(got, Got::Open(_)) && !matches!(&stated, Got::Word(word) if word.is_empty() || word == "open") {
                return Err(format!("`{family}.{key}` is stated as {stated:?}"));
            }
        }
        Ok(())
    }
}

/// Whether a name is what a template makes; in a repeated run it has a storey in braces.
fn fills(template: &str, name: &str) -> bool {
    let mut rest = name;
    for (index, part) in template.split(['{', '}']).enumerate().filter(|(index, _)| index % 2 == 0) {
        match rest.find(part) {
            Some(at) if index > 0 || at == 0 => rest = &rest[at + part.len()..],
            _ => return false,
        }
    }
    rest.is_empty() || template.ends_with('}')
}

/// Everything that can be at a place: steps of paths, what pipes pass, rows of members, tests.
pub(crate) fn things(network: &Document) -> Vec<(Cursor<'_>, Place<'_>)> {
    let (value, top) = (network.value(), network.top());
    let mut groups = vec![(value, top)];
    let repeats = value["repeat"].as_sequence().into_iter().flatten().enumerate();
    groups.extend(repeats.map(|(index, group)| (group, top.get("repeat").item(index))));
    let mut things = Vec::new();
    let alone = |own| Place { own, run: &Yaml::Null, ends: Default::default() };
    for key in ["tests", "framing"] {
        let listed = value[key].as_sequence().into_iter().flatten().enumerate();
        things.extend(listed.map(|(index, own)| (top.get(key).item(index), alone(own))));
    }
    for (group, at) in groups {
        for role in ["drains", "vents"] {
            for (number, run) in group[role].as_sequence().into_iter().flatten().enumerate() {
                let at = at.get(role).item(number).get("path");
                let path = run["path"].as_sequence().map_or(&[][..], Vec::as_slice);
                for (index, step) in path.iter().enumerate() {
                    let Some((kind, own)) = step.as_mapping().and_then(|step| step.iter().next()) else { continue };
                    let kind = kind.as_str().unwrap_or_default();
                    let is_pipe = kind == "pipe";
                    let end = |index: Option<usize>| {
                        let step = index.and_then(|index| path.get(index)?.as_mapping()?.values().next());
                        step.map_or_else(String::new, |step| {
                            plain(if step.is_mapping() { &step["name"] } else { step })
                        })
                    };
                    let ends = if is_pipe {
                        [end(index.checked_sub(1)), end(Some(index + 1))]
                    } else {
                        [end(Some(0)), String::new()]
                    };
                    let run = if is_pipe { run } else { &Yaml::Null };
                    let here = at.item(index).get(kind);
                    things.push((here, Place { own, run, ends }));
                    let passes = own["passes"].as_sequence().into_iter().flatten().enumerate();
                    things.extend(passes.map(|(index, own)| (here.get("passes").item(index), alone(own))));
                }
            }
        }
    }
    things
}
