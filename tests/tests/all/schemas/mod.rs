//! The JSON Schemas: fresh, explained, and of one mind with the loaders about the shipped files and broken ones.

mod admitted;
mod broken;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crownweir::proof::Example;
use crownweir::rulebook::Text;
use crownweir::schema::Format;
use crownweir::shop::{self, Dimensions, Job, Practice};
use crownweir::{Diagnostics, Document, Fact, Limits, Network, RuleSet, Subject, report};
use crownweir_tests::{checked, network, network_text, rules};
use jsonschema::Validator;
use serde_json::{Value, json};

fn project() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn schema(name: &str) -> Value {
    read(Format::named(name).expect("a format"))
}

fn read(format: &Format) -> Value {
    serde_json::from_str(&format.text()).expect("JSON")
}

fn validator(schema: &Value) -> Validator {
    jsonschema::draft202012::new(schema).unwrap_or_else(|error| panic!("{error}"))
}

/// A definition of a schema, to check parts of a file by.
fn definition(format: &str, name: &str) -> Validator {
    let mut schema = schema(format);
    assert!(schema["$defs"][name].is_object(), "{name}");
    let whole = schema.as_object_mut().expect("an object");
    whole.retain(|key, _| key == "$defs");
    whole.insert("$ref".to_owned(), format!("#/$defs/{name}").into());
    validator(&schema)
}

/// A file as the loader reads it.
fn as_loaded(text: &str) -> Value {
    let document = Document::read("file", text.as_bytes(), &Limits::default());
    let document = document.unwrap_or_else(|problems| panic!("{problems}"));
    let value = document.decode::<Value>(&mut Diagnostics::keeping(1));
    value.expect("values")
}

fn part<'a>(name: &'a str, text: &'a str) -> Text<'a> {
    let bytes = text.as_bytes();
    Text { name, bytes }
}

fn loads(format: &str, text: &str) -> bool {
    let limits = Limits::default();
    match format {
        "network" => Network::read("file", text.as_bytes(), &limits).is_ok(),
        "example" => Example::read("file", text.as_bytes(), &limits).is_ok(),
        "dimensions" => Dimensions::read("file", text.as_bytes(), &limits).is_ok(),
        "practice" => Practice::read("file", text.as_bytes(), &limits).is_ok(),
        "amendment" => {
            let base = crownweir::published::text("ipc-2021").expect("the base");
            let (base, text) = (part("base", base), part("file", text));
            // A day on which everything in the shipped amendments is in force.
            let on = "2027-06-01".parse().expect("a day");
            RuleSet::amended(base, &[text], on, &limits).is_ok()
        }
        _ => RuleSet::read("file", text.as_bytes(), &limits).is_ok(),
    }
}

/// Every shipped file with the schema that it is written by.
fn shipped() -> Vec<(PathBuf, &'static str)> {
    let in_folder = |folder: &str| {
        let folder = std::fs::read_dir(project().join(folder)).expect("the folder");
        let mut paths: Vec<_> = folder.map(|entry| entry.expect("an entry").path()).collect();
        paths.sort();
        paths
    };
    let rule_sets = in_folder("rulesets")
        .into_iter()
        .map(|folder| folder.join("ruleset.yaml"));
    let rule_sets = rule_sets
        .filter(|path| path.exists())
        .map(|path| (path, "ruleset"));
    let amendments = in_folder("rulesets/amendments").into_iter();
    let amendments = amendments.filter(|path| path.extension().is_some_and(|extension| extension == "yaml"));
    let amendments = amendments.map(|path| (path, "amendment"));
    let examples = in_folder("rulesets/ipc-2021/examples").into_iter();
    let examples = examples.map(|path| (path, "example"));
    let networks = in_folder("tests/networks")
        .into_iter()
        .map(|path| (path, "network"));
    let dimensions = in_folder("crates/shop/data").into_iter();
    let dimensions = dimensions.chain(in_folder("tests/dimensions"));
    let dimensions = dimensions.map(|path| {
        let practice = path.file_stem().is_some_and(|name| name == "practice");
        (path, if practice { "practice" } else { "dimensions" })
    });
    let files: Vec<_> = rule_sets
        .chain(amendments)
        .chain(examples)
        .chain(networks)
        .chain(dimensions)
        .collect();
    assert!(files.len() >= 16);
    files
}

#[track_caller]
fn complies(schema: &Validator, value: &Value, what: &str) {
    let problems: Vec<_> = schema
        .iter_errors(value)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(problems.is_empty(), "{what}:\n{}", problems.join("\n"));
}

#[test]
fn the_schemas_in_the_tree_are_fresh() {
    let folder = project().join("schemas");
    for format in Format::ALL {
        let name = format.name;
        let text = std::fs::read_to_string(folder.join(format!("{name}.json"))).unwrap_or_default();
        assert!(
            text == format.text(),
            "schemas/{name}.json is stale; renew it with `cargo run -- schema {name} > schemas/{name}.json`"
        );
    }
    let known: BTreeSet<_> = Format::ALL
        .iter()
        .map(|format| format!("{}.json", format.name))
        .collect();
    let there = std::fs::read_dir(folder).expect("the folder");
    let there = there.map(|entry| entry.expect("an entry").file_name().into_string().expect("UTF-8"));
    assert_eq!(there.collect::<BTreeSet<_>>(), known);
}

#[test]
fn the_schemas_are_schemas() {
    for format in Format::ALL {
        let schema = read(format);
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
        assert!(jsonschema::meta::is_valid(&schema), "{}", format.name);
    }
    let broken = json!({"$schema": "https://json-schema.org/draft/2020-12/schema", "type": "text"});
    assert!(!jsonschema::meta::is_valid(&broken));
}

/// Calls `see` with every property of every object in a schema.
fn each_property(schema: &Value, see: &mut impl FnMut(&str, &Value)) {
    match schema {
        Value::Object(keywords) => {
            for (keyword, value) in keywords {
                match value {
                    // Under `if` and its like stands what tells cases apart, not what explains a key.
                    _ if matches!(keyword.as_str(), "if" | "then" | "else" | "oneOf") => {}
                    _ if *schema == json!({"required": schema["required"], "properties": value}) => {}
                    Value::Object(properties) if keyword == "properties" => {
                        for (key, property) in properties {
                            see(key, property);
                            each_property(property, see);
                        }
                    }
                    _ => each_property(value, see),
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| each_property(item, see)),
        _ => {}
    }
}

#[test]
fn every_key_and_definition_is_explained() {
    for format in Format::ALL {
        let schema = read(format);
        let definitions = schema["$defs"].as_object().expect("definitions");
        let mut count = 0;
        each_property(&schema, &mut |key, property| {
            count += 1;
            // A reference to a definition that explains itself will do.
            let referred = property["$ref"]
                .as_str()
                .and_then(|path| path.strip_prefix("#/$defs/"));
            let referred = referred.map(|name| &definitions[name]["description"]);
            let described = property["description"]
                .as_str()
                .or(referred.and_then(Value::as_str));
            assert!(
                described.is_some_and(|text| text.len() > 3),
                "{}: {key}: {property}",
                format.name
            );
        });
        // The smallest format has a dozen.
        assert!(count >= 12, "{}: {count}", format.name);
        for (name, definition) in definitions {
            assert!(definition["title"].is_string(), "{name}");
            assert!(
                name.chars()
                    .all(|letter| letter.is_ascii_lowercase() || letter == '_'),
                "{name}"
            );
        }
    }
}

#[test]
fn every_fact_and_subject_is_offered() {
    let schema = schema("ruleset");
    let condition = schema["$defs"]["condition"]["properties"]
        .as_object()
        .expect("facts");
    for fact in Fact::ALL {
        assert_eq!(condition[fact.name()]["description"], fact.measured());
    }
    assert_eq!(condition.len(), Fact::ALL.len() + 3);
    let subjects = schema["$defs"]["subject"]["oneOf"].as_array().expect("subjects");
    let subjects: Vec<_> = subjects
        .iter()
        .filter_map(|subject| subject["const"].as_str())
        .collect();
    assert_eq!(subjects, Subject::NAMES);
}

#[test]
fn every_shipped_file_complies_and_points_at_its_schema() {
    for (path, format) in shipped() {
        let text = std::fs::read_to_string(&path).expect("the file");
        let what = path.display().to_string();
        let schema = validator(&schema(format));
        complies(&schema, &as_loaded(&text), &what);
        // An editor reads it by the rules of YAML alone.
        let plain: Value = serde_yaml::from_str(&text).expect("YAML");
        complies(&schema, &plain, &what);
        let first = text.lines().next().unwrap_or_default();
        let pointer = first.strip_prefix("# yaml-language-server: $schema=");
        let pointer = pointer.unwrap_or_else(|| panic!("{what}: {first}"));
        let target = path.parent().expect("a folder").join(pointer).canonicalize();
        let wanted = project().join(format!("schemas/{format}.json")).canonicalize();
        assert_eq!(target.expect(pointer), wanted.expect("the schema"), "{what}");
    }
}

#[test]
fn the_readme_s_network_complies() {
    let readme = std::fs::read_to_string(project().join("README.md")).expect("the README");
    let (_, rest) = readme.split_once("```yaml\n").expect("a network");
    let (text, _) = rest.split_once("```").expect("its end");
    complies(&validator(&schema("network")), &as_loaded(text), "README.md");
}

#[test]
fn shop_sheets_comply() {
    let schema = validator(&schema("sheets"));
    let dimensions = Dimensions::published().expect("dimensions");
    for name in ["heron-point.yaml", "larch-terrace.yaml"] {
        let network = network(&network_text(name));
        let job = Job::new(&network, &dimensions);
        let sheets: Vec<_> = shop::SheetKind::ALL.iter().map(|kind| kind.sheet(&job)).collect();
        let printed: Value = serde_json::from_str(&shop::json(&sheets).expect("JSON")).expect("JSON");
        complies(&schema, &printed, name);
        let mut broken = printed.clone();
        broken["sheets"][0]
            .as_object_mut()
            .expect("a sheet")
            .remove("rows");
        assert!(!schema.is_valid(&broken));
    }
}

/// Of the houses that a generator makes, some with faults, and of what is no network.
#[test]
fn lines_of_batch_results_comply() {
    use crownweir::batch::{Header, Record, result};
    let schema = validator(&schema("results"));
    let rules = std::sync::Arc::new(rules("ipc-2021"));
    let chosen = |_: &Network| Ok(std::sync::Arc::clone(&rules));
    let head = Header::new(
        "0.1.0",
        Some(("ipc-2021".to_owned(), "0".to_owned())),
        "2026-11-25".to_owned(),
    );
    let texts = (1..30).map(|number| crownweir_benches::house(1, number));
    let texts = texts.chain(["{}".to_owned(), "crownweir: network/1\nname: [".to_owned()]);
    let mut lines = vec![head.line().expect("JSON")];
    lines.extend((1..).zip(texts).map(|(number, text)| {
        let text = Ok(text.into_bytes());
        let file = (number % 2 == 0).then(|| "house.json".to_owned());
        result(&Record { number, file, text }, &chosen, &Limits::default()).line
    }));
    let lines: Vec<Value> = lines
        .iter()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    for line in &lines {
        complies(&schema, line, "a line");
        for key in line
            .as_object()
            .expect("an object")
            .keys()
            .filter(|key| *key != "file")
        {
            let mut broken = line.clone();
            broken.as_object_mut().expect("an object").remove(key);
            assert!(!schema.is_valid(&broken), "{key} of {line}");
        }
    }
    let outcomes: std::collections::BTreeSet<_> =
        lines.iter().filter_map(|line| line["outcome"].as_str()).collect();
    assert!(outcomes.len() >= 3, "{outcomes:?}");
}

#[test]
fn what_a_check_finds_complies() {
    let schema = validator(&schema("findings"));
    for name in [
        "heron-point.yaml",
        "heron-point-faulty.yaml",
        "larch-terrace.yaml",
    ] {
        let found = checked(&network_text(name));
        let short = report::json(&found, &|_| None, None).expect("JSON");
        let short: Value = serde_json::from_str(&short).expect("JSON");
        complies(&schema, &short, name);
        let (network, rules) = (network(&network_text(name)), rules("ipc-2021"));
        let measured = crownweir::Measured::new(&network, &rules).expect("measured");
        let full = report::json(
            &found,
            &|finding| Some(measured.workings_of(finding)),
            Some(&measured),
        );
        let full: Value = serde_json::from_str(&full.expect("JSON")).expect("JSON");
        complies(&schema, &full, name);
        // Each key that is promised is missed, and no finding says what none can.
        for key in short.as_object().expect("an object").keys() {
            let mut broken = short.clone();
            broken.as_object_mut().expect("an object").remove(key);
            assert!(!schema.is_valid(&broken), "{key}");
        }
    }
    let mut broken: Value = serde_json::from_str(
        &report::json(
            &checked(&network_text("heron-point-faulty.yaml")),
            &|_| None,
            None,
        )
        .expect("JSON"),
    )
    .expect("JSON");
    broken["findings"][0]["verdict"] = "satisfied".into();
    assert!(!schema.is_valid(&broken));
}
