//! Amendments: every form of change, the answers that the shipped ones are known by, and everything that is refused.
//!
//! The worked rows are read in the amendments' own sources, which each file names; the rest is invented.

mod days;
mod local;
mod narrowed;
mod refused;
mod shipped;
mod stacks;
mod stricter;
mod values;

use crownweir::{Day, Limits, Report, RuleSet, Text, check, published};
use crownweir_tests::network;

const BASE: &str = "ipc-2021";

fn day(text: &str) -> Day {
    text.parse().unwrap_or_else(|error| panic!("{error}"))
}

fn base() -> Text<'static> {
    let text = published::text(BASE).expect("the base");
    Text {
        name: "base.yaml",
        bytes: text.as_bytes(),
    }
}

/// The published rule set that an amendment changes.
fn own_base(amendment: &str) -> Text<'static> {
    let named = amendment
        .split_once("base: {rules: ")
        .map_or("", |(_, rest)| rest);
    let name = named.split_once(',').map_or("", |(name, _)| name);
    let text = published::text(name).unwrap_or_else(|| panic!("no rule set `{name}`"));
    Text {
        name: "base.yaml",
        bytes: text.as_bytes(),
    }
}

fn amended(texts: &[(&str, &str)], on: &str) -> Result<RuleSet, String> {
    let texts: Vec<_> = texts
        .iter()
        .map(|(name, text)| Text {
            name,
            bytes: text.as_bytes(),
        })
        .collect();
    RuleSet::amended(base(), &texts, day(on), &Limits::default()).map_err(|problems| problems.to_string())
}

fn with(names: &[&str]) -> RuleSet {
    let texts: Vec<_> = names
        .iter()
        .map(|name| {
            (
                *name,
                published::amendment(name).unwrap_or_else(|| panic!("no amendment {name}")),
            )
        })
        .collect();
    // Each is laid over the rule set that it names.
    let named = |text: &str| {
        let (_, after) = text.split_once("base: {rules: ")?;
        published::names().find(|name| after.split(',').next() == Some(name))
    };
    let base = texts.first().and_then(|(_, text)| named(text)).unwrap_or(BASE);
    let text = published::text(base).expect("the base");
    let base = Text {
        name: "base.yaml",
        bytes: text.as_bytes(),
    };
    let texts: Vec<_> = texts
        .iter()
        .map(|(name, text)| Text {
            name,
            bytes: text.as_bytes(),
        })
        .collect();
    RuleSet::amended(base, &texts, day("2026-11-25"), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"))
}

/// An invented amendment with the changes given, one line each.
fn invented(changes: &str) -> String {
    named("town", "", changes)
}

fn named(name: &str, head: &str, changes: &str) -> String {
    format!(
        "crownweir: amendment/1
name: {name}
title: An invented amendment
jurisdiction: [Invented]
document: Ordinance
edition: \"2026\"
base: {{rules: ipc-2021, document: IPC, edition: \"2021\", from_revision: 1}}
status: in_force
origin: invented
cite: {{section: \"1\", basis: published}}
{head}changes:
{changes}
"
    )
}

#[track_caller]
fn refused(changes: &str, said: &[&str]) {
    let error = amended(&[("town.yaml", &invented(changes))], "2026-11-25").expect_err(changes);
    for said in said {
        assert!(error.contains(said), "{error}\ndoes not say: {said}");
    }
}

fn run(rules: &RuleSet, text: &str) -> Report {
    check(&network(text), rules).unwrap_or_else(|error| panic!("{error}"))
}

fn violated(rules: &RuleSet, text: &str, rule: &str) -> bool {
    let report = run(rules, text);
    let row = report.summary.iter().find(|row| row.rule == rule);
    row.unwrap_or_else(|| panic!("no rule {rule}")).violated > 0
}

/// A lavatory on its arm, with the pipes, terminal and building sewer as given.
fn house(arm: &str, branch: &str, terminal: &str, sewer: &str) -> String {
    format!(
        "crownweir: network/1
name: house
site: {{occupancy: private, winter_design_temperature: 40 F}}
storeys: [{{storey: ground, height: 9 ft}}]
defaults: {{material: pvc}}
drains:
  - {{kind: building_sewer, size: {sewer}, slope: 1/4 in/ft, path: [{{fitting: {{name: J, pattern: wye}}}}, {{pipe: {{name: sewer, length: 30 ft}}}}, {{disposal: {{name: main}}}}]}}
  - {{storey: ground, size: 1-1/2 in, slope: 1/4 in/ft, path: [{{fixture: {{name: L, type: lavatory, trap: {{size: 1-1/2 in, kind: p, seal: 2 in}}}}}}, {{pipe: {{name: arm, {arm}}}}}, {{fitting: {{name: T, pattern: sanitary_tee}}}}, {{pipe: {{slope: vertical, length: 2 ft}}}}, {{fitting: {{name: E, pattern: long_sweep}}}}, {{pipe: {{name: branch, length: 5 ft{branch}}}}}, {{at: J}}]}}
vents:
  - {{size: 3 in, slope: vertical, path: [{{at: T}}, {{pipe: {{length: 12 ft}}}}, {{terminal: {{name: roof, through: roof, roof_use: weather, {terminal}}}}}]}}
"
    )
}

fn plain_house() -> String {
    house("length: 3 ft", "", "height_above_roof: 8 in", "4 in")
}
