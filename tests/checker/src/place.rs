//! The element that a claim speaks of, found in the network, and what its file states of it.

use std::collections::BTreeMap;

use crownweir_network::{Network, NodeKind, Position};
use crownweir_vocabulary::Cut;
use serde_json::Value as Json;
use serde_yaml::Value as Yaml;

use crate::rules::At;
use crate::{Checker, Sound, pairs, plain, said};

/// What a claim can speak of: its place, what it is, its name and storey.
pub(crate) type Element = (Position, String, String, Option<String>);

pub(crate) fn elements(network: &Network) -> Vec<Element> {
    let mut elements = Vec::new();
    let mut add = |position, kind: &str, name: &str, storey: Option<u32>| {
        let storey = storey.and_then(|number| network.storeys().get(number as usize));
        let storey = storey.map(|storey| storey.name.to_string());
        elements.push((position, kind.to_owned(), name.to_owned(), storey));
    };
    let graph = network.graph();
    add(Position { line: 1, column: 1 }, "network", network.name(), None);
    for node in graph.node_weights() {
        let kind = match &node.kind {
            NodeKind::Fixture(fixture) => &*fixture.fixture_type.to_string(),
            other => other.word(),
        };
        add(node.position, kind, &node.name, node.storey);
    }
    for (pipe, ends) in graph.edge_weights().zip(graph.edge_indices().map(|pipe| graph.edge_endpoints(pipe)))
    {
        let ends = ends.map(|(from, to)| [&graph[from], &graph[to]]).into_iter().flatten();
        let run = &network.runs()[pipe.run as usize].name;
        add(pipe.position, "stack", run, None);
        for (end, node) in ends.enumerate() {
            add(node.position, &format!("branch interval of stack `{run}` from"), &node.name, node.storey);
            if end == 0 {
                add(pipe.position, &pipe.role.to_string(), &pipe.name, node.storey);
            }
        }
    }
    for passage in network.passages() {
        let kind = match passage.cut {
            Cut::Bored => "hole",
            Cut::Uncut => "passage",
            _ => "notch",
        };
        let members = &network.framing()[passage.members as usize].name;
        let name = format!("{}, {members} {}", graph[passage.pipe].name, passage.number);
        add(passage.position, kind, &name, network.storey_of(passage));
    }
    for test in network.tests() {
        add(test.position, "test", &test.section, None);
    }
    elements
}

/// What a pipe has from its run unless it states its own.
const OF_RUN: [&str; 5] = ["size", "slope", "material", "support_spacing", "mid_storey_guide"];

impl Checker<'_> {
    /// Whether the network has a claim's element at that place, and states of it only what was measured.
    pub(crate) fn element(&self, claim: &Json, subject: &str, facts: &BTreeMap<&str, &Json>) -> Sound<()> {
        let (line, column, name) = (&claim["line"], &claim["column"], said(&claim["name"]));
        let prefix = match subject {
            "trap" => "trap of ",
            "trap_arm" => "trap arm of ",
            _ => "",
        };
        let is_claimed = |(at, kind, own, storey): &&Element| {
            let kind = if subject == "turn" { "fitting" } else { kind };
            let is_stack = (kind == "stack") == (subject == "stack");
            let is_here = *line == at.line && *column == at.column && own == name && is_stack;
            let is_there = claim["verdict"].is_null() || claim["storey"].as_str() == storey.as_deref();
            is_here && is_there && said(&claim["kind"]).strip_prefix(prefix) == Some(kind)
        };
        if !self.elements.iter().any(|one| is_claimed(&one)) {
            return Err(format!("there is no such {subject} at {line}:{column}"));
        }
        let mut found = (&Yaml::Null, &Yaml::Null);
        if !["system", "stack", "branch_interval"].contains(&subject) {
            found = written(self.network, (line, column), &Yaml::Null).unwrap_or(found);
        }
        facts.iter().try_for_each(|(fact, told)| self.stated(found, fact, told))
    }

    /// Whether a fact is what the file states outright, where it does.
    fn stated(&self, (own, run): (&Yaml, &Yaml), fact: &str, told: &Json) -> Sound<()> {
        let (family, key) = fact.split_once('.').unwrap_or((fact, ""));
        let site = &self.network.0["site"];
        let model = &self.network.0["models"][plain(&own["model"]).as_str()];
        let places = match family {
            "trap" => [&own["trap"][key], &model["trap"][key]],
            "fixture" => [&own[key], &model[key]],
            "pipe" if OF_RUN.contains(&key) => [&own[key], &run[key]],
            "pipe" | "fitting" | "cleanout" | "terminal" | "valve" | "passage" | "test" => [&own[key]; 2],
            "system" => [&site[if key == "type" { "system_type" } else { key }]; 2],
            _ => return Ok(()),
        };
        let Some(stated) = places.into_iter().find(|value| !value.is_null()) else { return Ok(()) };
        let got = self.read(told)?;
        let is_open = got.is == "open" && !["", "open"].contains(&&*plain(stated));
        let literal = self.literal(stated, &got.is, &Yaml::Null);
        if is_open || got.is_value() && literal.is_ok_and(|own| own != got) {
            return Err(format!("`{fact}` is stated as {}, not {}", plain(stated), told["text"]));
        }
        Ok(())
    }
}

/// What stands at a place of the network file, with the run that it is in.
fn written<'a>(at: At<'a>, place: (&Json, &Json), run: &'a Yaml) -> Option<(&'a Yaml, &'a Yaml)> {
    let own = at.1.place();
    if *place.0 == own.line && *place.1 == own.column && !at.0["path"].is_sequence() && at.0.is_mapping() {
        return Some((at.0, run));
    }
    let run = if at.0["path"].is_sequence() { at.0 } else { run };
    let mut below = pairs(at.0).map(|(key, _)| at.get(key)).chain(at.items());
    below.find_map(|below| written(below, place, run))
}
