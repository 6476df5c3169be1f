//! The engine beside what someone would otherwise use, on the same work in one run, each answer compared:
//!
//! - a program in Python with networkx (`tower.py`): loads, sizes and trap arms of a tower;
//! - three interpreters of general-purpose expressions, asked the same three conditions element by element, with the
//!   facts already reckoned;
//! - one pass over as many bytes as the network and all that is measured of it take, which is what memory allows.
//!
//! `cargo run --release --manifest-path benches/peers/Cargo.toml -- [STOREYS]`, with networkx installed for `python3`.
#![forbid(unsafe_code)]

mod interpreters;
mod tables;

use std::alloc::System;
use std::collections::BTreeMap;
use std::error::Error;
use std::hint::black_box;
use std::process::Command;
use std::time::{Duration, Instant};

use crownweir::vocabulary::Role;
use crownweir::{
    Fact, Got, Judgement, Limits, Measured, Network, NodeKind, RuleSet, Subject, Value, check, published,
};
use serde_json::json;
use stats_alloc::{INSTRUMENTED_SYSTEM, Region, StatsAlloc};
use tables::Tables;

#[global_allocator]
static MEMORY: &StatsAlloc<System> = &INSTRUMENTED_SYSTEM;

const RULES: &str = include_str!("../rules.yaml");

/// How often each thing is measured; the best time counts.
const TIMES: u32 = 9;

/// One element as one rule sees it: what all judges are asked.
pub struct Asked {
    pub rule: usize,
    element: u32,
    /// The kind of the run, or the type of the fixture.
    pub kind: &'static str,
    pub orientation: &'static str,
    pub size: String,
    /// A load in thousandths or a length in nanometres.
    pub measured: i64,
    /// Whether the rule speaks of it at all.
    applies: bool,
    /// Whether it keeps the rule; what the rule does not speak of does.
    pub holds: bool,
    pub name: String,
}

fn main() -> Result<(), Box<dyn Error>> {
    let storeys = std::env::args()
        .nth(1)
        .map_or(Ok(1_000), |storeys| storeys.parse())?;
    let limits = Limits::default();
    let three = RuleSet::read("rules.yaml", RULES.as_bytes(), &limits)?;
    let ipc = published::text("ipc-2021").ok_or("no rule set")?;
    let ipc = RuleSet::read("ipc-2021", ipc.as_bytes(), &limits)?;
    let text = crownweir_benches::tower(storeys);

    let region = Region::new(MEMORY);
    let network = Network::read("tower", text.as_bytes(), &limits)?;
    let of_network = held(&region);
    let region = Region::new(MEMORY);
    let measured = Measured::new(&network, &three)?;
    let report = measured.check();
    let of_measures = held(&region);
    let elements = network.graph().node_count() + network.graph().edge_count();
    let fixtures = report.fixtures;
    println!("tower of {storeys} storeys, {fixtures} fixtures, {elements} nodes and pipes");
    println!(
        "{} bytes an element in the network, {} in what is measured",
        of_network / elements,
        of_measures / elements
    );

    let asked = asked(&three, &measured)?;
    let failing = asked.iter().filter(|asked| !asked.holds).count();
    println!("{} questions, of which {failing} are answered no", asked.len());

    let of_three = best(|| check(&network, &three))?;
    let of_ipc = best(|| check(&network, &ipc))?;
    let judged = best(|| Ok::<_, Box<dyn Error>>(black_box(&measured).check()))?;
    let alone = best(|| {
        let judged = three.rules.iter().map(|rule| black_box(&measured).judgements(rule));
        let kept = judged.flatten().filter(|(_, judgement)| {
            matches!(judgement, Judgement::Satisfied | Judgement::NotApplicable)
        });
        let kept = kept.count();
        if kept == asked.len() - failing {
            Ok(kept)
        } else {
            Err(format!("{kept} answered yes"))
        }
    })?;
    let tables = Tables::read(RULES)?;
    let needed = needed(&report);
    let python = python(&network, &tables, &asked, &needed)?;
    // The same bytes: the network's, and all that a check takes while it goes.
    let region = Region::new(MEMORY);
    black_box(check(&network, &three)?);
    let swept = swept(of_network + region.change().bytes_allocated);

    println!("\n| the same work | time | against Crownweir |\n| --- | ---: | ---: |");
    row("Crownweir: loads, sizes and trap arms", of_three, of_three);
    row("Python with networkx", python, of_three);
    row(
        "one pass over the bytes of the network and of a check",
        swept,
        of_three,
    );
    row("Crownweir: all of IPC 2021", of_ipc, of_three);
    let questions = u32::try_from(asked.len())?;
    println!("\n| one condition of one element | time | against Crownweir |\n| --- | ---: | ---: |");
    row("Crownweir", alone / questions, alone / questions);
    row(
        "Crownweir, all findings and the summary with it",
        judged / questions,
        alone / questions,
    );
    for (name, answer) in interpreters::ALL {
        let mut answers = Vec::new();
        let taken = best(|| {
            answers = answer(&tables, &asked)?;
            Ok::<_, Box<dyn Error>>(())
        })?;
        let differs = asked
            .iter()
            .zip(&answers)
            .find(|(asked, holds)| asked.holds != **holds);
        if let Some((asked, _)) = differs {
            return Err(format!("{name} says otherwise of {}", asked.name).into());
        }
        row(name, taken / questions, alone / questions);
    }
    Ok(())
}

/// Bytes that were allocated since the region began and still are.
fn held(region: &Region<'_, System>) -> usize {
    let change = region.change();
    change.bytes_allocated.saturating_sub(change.bytes_deallocated)
}

fn best<T, E>(mut work: impl FnMut() -> Result<T, E>) -> Result<Duration, E> {
    let mut best = Duration::MAX;
    for _ in 0..TIMES {
        let start = Instant::now();
        let done = work()?;
        best = best.min(start.elapsed());
        drop(black_box(done));
    }
    Ok(best)
}

fn row(name: &str, time: Duration, own: Duration) {
    println!(
        "| {name} | {time:.3?} | {:.2} |",
        time.as_secs_f64() / own.as_secs_f64()
    );
}

/// The time to read so many bytes once, in words of eight.
fn swept(bytes: usize) -> Duration {
    let words: Vec<u64> = (0..bytes as u64 / 8).collect();
    let sum = |words: &[u64]| words.iter().fold(0, |sum: u64, word| sum.wrapping_add(*word));
    best(|| Ok::<_, ()>(black_box(sum(black_box(&words))))).unwrap_or_default()
}

/// Every question that the three rules ask of the network, with the engine's own answer.
fn asked(rules: &RuleSet, measured: &Measured<'_>) -> Result<Vec<Asked>, Box<dyn Error>> {
    let word = |subject, element, fact| match measured.fact(subject, element, fact) {
        Got::Known(Value::Word(word)) => word,
        _ => "",
    };
    let mut all = Vec::new();
    for (number, rule) in rules.rules.iter().enumerate() {
        let subject = rule.subject;
        let (kind, size, of) = match subject {
            Subject::TrapArm => (Fact::FixtureKind, Fact::TrapSize, Fact::TrapArmLength),
            _ => (Fact::PipeKind, Fact::PipeSize, Fact::DrainLoad),
        };
        for element in measured.elements(subject) {
            let (applies, holds) = match measured.judgement(rule, element) {
                Judgement::NotApplicable => (false, true),
                Judgement::Satisfied => (true, true),
                Judgement::Violated => (true, false),
                other => return Err(format!("{other:?}").into()),
            };
            let value = match measured.fact(subject, element, of) {
                Got::Known(Value::Length(length)) => length.nanometres(),
                Got::Known(Value::Load(load)) => load.thousandths(),
                _ => return Err("not known".into()),
            };
            let size = match measured.fact(subject, element, size) {
                Got::Known(Value::Size(size)) => rules.ladder.rung(size).ok_or("no rung")?.name.to_string(),
                _ => return Err("no size".into()),
            };
            let orientation = match subject {
                Subject::TrapArm => "",
                _ => word(subject, element, Fact::PipeOrientation),
            };
            let kind = word(subject, element, kind);
            let name = measured.name_of(subject, element);
            all.push(Asked {
                rule: number,
                element,
                kind,
                orientation,
                size,
                measured: value,
                applies,
                holds,
                name,
            });
        }
    }
    Ok(all)
}

/// The size that each finding says would carry the load, by the name of its drain; a report holds so many of a rule.
fn needed(report: &crownweir::Report) -> BTreeMap<&str, &str> {
    let told = report.findings.iter().filter_map(|finding| {
        let needed = finding.message.strip_suffix(" carries it")?.rsplit_once("; ")?.1;
        Some((finding.name.as_str(), needed))
    });
    told.collect()
}

/// The time that the program in Python takes; complains if it answers anything otherwise.
fn python(
    network: &Network,
    tables: &Tables,
    asked: &[Asked],
    needed: &BTreeMap<&str, &str>,
) -> Result<Duration, Box<dyn Error>> {
    let graph = network.graph();
    let nodes: Vec<_> = graph
        .node_indices()
        .map(|node| match &graph[node].kind {
            NodeKind::Fixture(fixture) => json!({
                "id": node.index(),
                "type": fixture.fixture_type.name(),
                "trap": fixture.trap.size.map(|size| size.to_string()),
            }),
            _ => json!({"id": node.index()}),
        })
        .collect();
    let mut pipes = Vec::new();
    for pipe in graph.edge_indices() {
        let (from, to) = graph.edge_endpoints(pipe).ok_or("no ends")?;
        let of = &graph[pipe];
        pipes.push(json!({
            "id": pipe.index(),
            "from": from.index(),
            "to": to.index(),
            "drain": of.role == Role::Drain,
            "kind": network.run(of.run).map(|run| run.kind.name()),
            "vertical": of.slope.is_some_and(|slope| slope.is_vertical()),
            "size": of.size.map(|size| size.to_string()),
            "length": of.length.map(|length| length.nanometres()),
        }));
    }
    let mut file = tempfile::NamedTempFile::new()?;
    serde_json::to_writer(
        &mut file,
        &json!({"nodes": nodes, "pipes": pipes, "tables": tables.json()}),
    )?;
    let program = concat!(env!("CARGO_MANIFEST_DIR"), "/tower.py");
    let output = Command::new("python3")
        .arg(program)
        .arg(file.path())
        .arg(TIMES.to_string())
        .output()?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).into());
    }
    let printed = String::from_utf8(output.stdout)?;
    let mut lines = printed.lines();
    let seconds: f64 = lines.next().ok_or("nothing printed")?.parse()?;
    let answers: Vec<&str> = lines.collect();
    let asked: Vec<_> = asked.iter().filter(|asked| asked.applies).collect();
    if answers.len() != asked.len() {
        return Err(format!("Python gives {} answers, not {}", answers.len(), asked.len()).into());
    }
    for (asked, answer) in asked.into_iter().zip(answers) {
        let own = format!(
            "{} {} {} {} ",
            asked.rule,
            asked.element,
            asked.measured,
            u8::from(asked.holds)
        );
        let size = answer.strip_prefix(own.as_str());
        let other = needed
            .get(asked.name.as_str())
            .is_some_and(|needed| size != Some(*needed));
        if size.is_none() || (!asked.holds && asked.rule < 2 && other) {
            return Err(format!("Python says `{answer}` of {}, not `{own}`", asked.name).into());
        }
    }
    Ok(Duration::from_secs_f64(seconds))
}
