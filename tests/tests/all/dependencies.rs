//! What the libraries and the program are made of: licences that MIT goes together with, one version of each package,
//! and none that asks for a newer Rust than the project states. It asks `cargo metadata`, without the network.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use serde_json::Value;

/// Licences that ask for no more than that their notice goes along.
const LICENCES: &[&str] = &["Apache-2.0", "MIT", "Unicode-3.0", "Zlib"];

/// Packages of which two versions are built, each with the two that ask for them.
const TWICE: &[(&str, &str)] = &[
    ("foldhash", "hashbrown 0.15 of petgraph, indexmap of serde_json"),
    ("hashbrown", "petgraph, indexmap"),
    ("syn", "derive macros of two generations"),
];

fn metadata() -> Value {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--offline", "--locked"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).expect("JSON")
}

fn text<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or_default()
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().map_or(&[], Vec::as_slice)
}

/// The packages that the libraries and the program are built from: what only tests and benches need is left out.
fn packages(metadata: &Value) -> Vec<&Value> {
    let by_id: BTreeMap<_, _> = list(metadata, "packages")
        .iter()
        .map(|package| (text(package, "id"), package))
        .collect();
    let nodes = list(&metadata["resolve"], "nodes").iter();
    let needs: BTreeMap<_, _> = nodes.map(|node| (text(node, "id"), list(node, "deps"))).collect();
    let own = by_id.iter().filter(|(_, package)| {
        package["source"].is_null()
            && package["publish"].is_null()
            && text(package, "name").starts_with("crownweir")
    });
    let mut open: Vec<&str> = own.map(|(id, _)| *id).collect();
    assert!(open.len() > 10, "{open:?}");
    let mut seen = BTreeSet::new();
    while let Some(id) = open.pop() {
        if seen.insert(id) {
            let built = needs[id]
                .iter()
                .filter(|need| list(need, "dep_kinds").iter().any(|kind| kind["kind"] != "dev"));
            open.extend(built.map(|need| text(need, "pkg")));
        }
    }
    seen.into_iter().map(|id| by_id[id]).collect()
}

#[test]
fn licences_go_together_with_mit() {
    let metadata = metadata();
    for package in packages(&metadata) {
        let (name, licence) = (text(package, "name"), text(package, "license"));
        // Older packages write `/` for `OR`.
        let licence = spdx::Expression::parse_mode(licence, spdx::ParseMode::LAX).expect(name);
        let admitted = licence.evaluate(|asked| {
            asked.license.id().is_some_and(|id| LICENCES.contains(&id.name)) && asked.addition.is_none()
        });
        assert!(admitted, "{name}: {licence}");
    }
}

#[test]
fn no_package_is_built_in_two_versions_unless_it_is_said_why() {
    let metadata = metadata();
    let mut versions: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for package in packages(&metadata) {
        versions
            .entry(text(package, "name"))
            .or_default()
            .insert(text(package, "version"));
    }
    versions.retain(|_, versions| versions.len() > 1);
    let twice: Vec<_> = versions.keys().copied().collect();
    let explained: Vec<_> = TWICE.iter().map(|(name, _)| *name).collect();
    assert_eq!(twice, explained, "{versions:?}");
}

#[test]
fn no_package_asks_for_a_newer_rust_than_is_stated() {
    let number =
        |version: &str| -> Vec<u32> { version.split('.').filter_map(|part| part.parse().ok()).collect() };
    let metadata = metadata();
    let packages = packages(&metadata);
    let own = packages
        .iter()
        .find(|package| text(package, "name") == "crownweir")
        .expect("the facade");
    let stated = text(own, "rust_version");
    assert!(
        include_str!("../../../README.md").contains(&format!("With Rust {stated} or newer")),
        "the read-me says otherwise than {stated}"
    );
    for package in &packages {
        let asked = text(package, "rust_version");
        let asked = number(asked).into_iter().take(2);
        assert!(
            asked.le(number(stated)),
            "{} asks for {}",
            text(package, "name"),
            text(package, "rust_version")
        );
    }
}
