//! The element that a claim speaks of: found in the network, and held to what its file states.

use crownweir_document::{Cursor, Diagnostics, Document};
use crownweir_network::{NodeKind, Position};
use crownweir_rulebook::{Family, Subject, Value};
use crownweir_vocabulary::{Cut, RunKind};
use serde_json::Value as Json;
use serde_yaml::Value as Yaml;

use crate::walk::{Got, Walk};

impl Walk<'_> {
    /// Whether the network has the claim's element.
    pub(crate) fn is_there(&self, subject: Subject) -> bool {
        let network = self.network;
        let graph = network.graph();
        let is_claimed = |kind: &str, name: &str, storey: Option<u32>, at: Position| {
            let storey = storey.map(|number| &*network.storeys()[number as usize].name);
            let claim = self.claim;
            let is_place = claim["line"] == at.line && claim["column"] == at.column;
            // A pass does not tell the storey.
            let is_storey = claim["verdict"].is_null() || claim["storey"] == Json::from(storey);
            is_place && is_storey && claim["kind"] == kind && claim["name"] == name
        };
        match subject {
            Subject::System => is_claimed("network", network.name(), None, Position { line: 1, column: 1 }),
            Subject::Test => {
                let mut tests = network.tests().iter();
                tests.any(|test| is_claimed("test", &test.section, None, test.position))
            }
            Subject::Passage => network.passages().iter().any(|passage| {
                let kind = match passage.cut {
                    Cut::Bored => "hole",
                    Cut::Uncut => "passage",
                    _ => "notch",
                };
                let (pipe, members) = (&graph[passage.pipe], &network.framing()[passage.members as usize]);
                let name = format!("{}, {} {}", pipe.name, members.name, passage.called());
                is_claimed(kind, &name, network.storey_of(passage), passage.position)
            }),
            Subject::Stack | Subject::BranchInterval | Subject::Pipe | Subject::Drain | Subject::Vent => {
                graph.edge_indices().any(|id| {
                    let Some((from, to)) = graph.edge_endpoints(id) else {
                        return false;
                    };
                    let (pipe, from, to) = (&graph[id], &graph[from], &graph[to]);
                    let run = network.run(pipe.run).map_or("", |run| &*run.name);
                    let interval = format!("branch interval of stack `{run}` from");
                    match subject {
                        Subject::Stack => is_claimed("stack", run, None, pipe.position),
                        Subject::BranchInterval => [from, to]
                            .iter()
                            .any(|node| is_claimed(&interval, &node.name, node.storey, node.position)),
                        _ => is_claimed(pipe.role.name(), &pipe.name, from.storey, pipe.position),
                    }
                })
            }
            _ => graph.node_weights().any(|node| {
                let kind = match (&node.kind, subject) {
                    (_, Subject::Turn) => "fitting".to_owned(),
                    (NodeKind::Fixture(one), Subject::Trap) => format!("trap of {}", one.fixture_type),
                    (NodeKind::Fixture(one), Subject::TrapArm) => format!("trap arm of {}", one.fixture_type),
                    (NodeKind::Fixture(one), _) => one.fixture_type.to_string(),
                    (other, _) => other.word().to_owned(),
                };
                is_claimed(&kind, &node.name, node.storey, node.position)
            }),
        }
    }

    /// Whether each fact is what the file states outright, where it does.
    pub(crate) fn stated(&self, file: &Document) -> Result<(), String> {
        let mut problems = Diagnostics::keeping(1);
        let Some(top) = file.decode::<Yaml>(&mut problems) else {
            return Err(problems.to_string());
        };
        let nowhere = (&Yaml::Null, &Yaml::Null);
        let (own, run) = self.written(&top, file.top(), nowhere.1).unwrap_or(nowhere);
        let model = &top["models"][plain(&own["model"]).as_str()];
        for (fact, told) in &self.facts {
            let key = fact.name().split_once('.').map_or("", |(_, key)| key);
            let [own, other] = match fact.family() {
                Family::Fixture => [&own[key], &model[key]],
                Family::Trap => [&own["trap"][key], &model["trap"][key]],
                // Of a run that is written from a fixture on, the first pipes may be that fixture's own, and branches.
                Family::Pipe if key == "kind" && !run["path"][0]["fixture"].is_null() && is_branch(told) => {
                    continue;
                }
                // A passage is in a pipe, and states nothing of it.
                Family::Pipe if own["framing"].is_null() => [&own[key], &run[key]],
                Family::System if key == "type" => [&top["site"]["system_type"]; 2],
                Family::System => [&top["site"][key]; 2],
                Family::Fitting | Family::Cleanout | Family::Terminal => [&own[key]; 2],
                Family::Valve | Family::Passage | Family::Test => [&own[key]; 2],
                _ => continue,
            };
            let stated = plain(if own.is_null() { other } else { own });
            let read = fact.dimension().read(&stated, &self.rules.ladder);
            let differs = match (told, read) {
                (Ok(told), Ok(stated)) => *told != stated,
                (Err(none), _) => none["is"] == "open" && !["", "open"].contains(&&*stated),
                _ => false,
            };
            if differs {
                return Err(format!("`{}` is stated as {stated}", fact.name()));
            }
        }
        Ok(())
    }

    /// What stands in the network file at the place of the claim, and the run that it is in.
    fn written<'a>(&self, part: &'a Yaml, at: Cursor<'_>, run: &'a Yaml) -> Option<(&'a Yaml, &'a Yaml)> {
        let is_run = part["path"].is_sequence();
        let run = if is_run { part } else { run };
        let (line, column) = (&self.claim["line"], &self.claim["column"]);
        if part.is_mapping() && !is_run && *line == at.place().line && *column == at.place().column {
            return Some((part, run));
        }
        let mut items = part.as_sequence().into_iter().flatten().enumerate();
        let mut entries = part.as_mapping().into_iter().flatten();
        let item = items.find_map(|(index, item)| self.written(item, at.item(index), run));
        item.or_else(|| entries.find_map(|(key, part)| self.written(part, at.get(key.as_str()?), run)))
    }
}

fn is_branch(told: &Got) -> bool {
    *told == Ok(Value::Word(RunKind::Branch.name()))
}

/// A scalar as it stands.
fn plain(yaml: &Yaml) -> String {
    match yaml {
        Yaml::Number(number) => number.to_string(),
        Yaml::Bool(truth) => truth.to_string(),
        _ => yaml.as_str().unwrap_or_default().to_owned(),
    }
}
