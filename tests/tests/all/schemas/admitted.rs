//! What loads is never marked as wrong, however it is spelt.

use crownweir::quantity::{Angle, Flow, Length, Load, NominalSize, Period, Slope, Temperature, Volume};
use crownweir_tests::network_text;
use proptest::strategy::{Strategy, ValueTree};
use serde_json::{Value, json};

use super::{as_loaded, complies, definition, loads, schema, validator};

/// The path of every value in a file.
fn places(value: &Value, at: String, found: &mut Vec<String>) {
    match value {
        Value::Object(entries) => {
            for (key, value) in entries {
                let key = key.replace('~', "~0").replace('/', "~1");
                places(value, format!("{at}/{key}"), found);
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                places(item, format!("{at}/{index}"), found);
            }
        }
        _ => {}
    }
    found.push(at);
}

/// A file with the value at a place put in place of another, or taken out.
fn altered(file: &Value, place: &str, other: Option<Value>) -> Value {
    let mut file = file.clone();
    if let Some(other) = other {
        *file.pointer_mut(place).expect("the place") = other;
        return file;
    }
    let (parent, last) = place.rsplit_once('/').unwrap_or(("", ""));
    match file.pointer_mut(parent).expect("the parent") {
        Value::Object(entries) => {
            entries.remove(&last.replace("~1", "/").replace("~0", "~"));
        }
        Value::Array(items) => {
            items.remove(last.parse().expect("an index"));
        }
        _ => {}
    }
    file
}

/// What a value may be replaced by: nothing, something of another kind, or another spelling.
fn replacements(value: &Value) -> Vec<Option<Value>> {
    let mut others = vec![
        None,
        Some(json!(null)),
        Some(json!(3)),
        Some(json!([])),
        Some(json!({})),
        Some(json!(true)),
    ];
    if let Value::String(text) = value {
        others.push(Some(json!(format!(" {text} "))));
        others.push(Some(json!(format!("-{text}"))));
        others.push(Some(json!(text.replace(' ', ""))));
        others.push(Some(json!(text.replace('-', " "))));
        others.push(Some(json!({"fact": text})));
    }
    if let Value::Number(number) = value {
        others.push(Some(json!(number.to_string())));
    }
    others
}

/// Alters a file in every way at every so many places: whatever still loads has to comply.
fn of_one_mind(format: &str, text: &str, every: usize, least: usize) {
    let schema = validator(&schema(format));
    let file = as_loaded(text);
    let mut found = Vec::new();
    places(&file, String::new(), &mut found);
    let mut loaded = 0;
    for place in found.iter().filter(|place| !place.is_empty()).step_by(every) {
        let value = file.pointer(place).expect("the place");
        for other in replacements(value) {
            let what = format!("{place}: {other:?}");
            let altered = altered(&file, place, other);
            if loads(format, &altered.to_string()) {
                loaded += 1;
                complies(&schema, &altered, &what);
            }
        }
    }
    assert!(loaded > least, "{loaded}");
}

#[test]
fn no_network_that_loads_is_marked_as_wrong() {
    of_one_mind("network", &network_text("larch-terrace.yaml"), 2, 500);
}

#[test]
fn no_rule_set_that_loads_is_marked_as_wrong() {
    let text = crownweir::published::text("ipc-2021").expect("the rule set");
    of_one_mind("ruleset", text, 41, 100);
}

#[test]
fn no_amendment_that_fits_its_base_is_marked_as_wrong() {
    let path = super::project().join("rulesets/amendments/heron-county.yaml");
    let text = std::fs::read_to_string(path).expect("the amendment");
    assert!(loads("amendment", &text));
    of_one_mind("amendment", &text, 5, 40);
    // What no rule set that it amends lacks.
    let add = "changes:\n  - add: {definition: sharp_turn, with: {more_than: 45 deg}}\n    cite: {section: \"1\", basis: published}\n";
    let text = text.replacen("changes:\n", add, 1);
    assert!(loads("amendment", &text));
    let schema = validator(&schema("amendment"));
    assert!(schema.is_valid(&as_loaded(&text)));
}

#[test]
fn no_example_that_is_read_is_marked_as_wrong() {
    for (name, every) in [("bathroom-groups", 1), ("office-stack", 3)] {
        let path = super::project().join(format!("rulesets/ipc-2021/examples/{name}.yaml"));
        let text = std::fs::read_to_string(path).expect("the examples");
        of_one_mind("example", &text, every, 50);
    }
}

/// A number, a unit and what people put around them, more often right than wrong.
fn notation() -> impl Strategy<Value = String> {
    let number = "(-|\u{2212})?( )?([0-9]{1,2}|[0-9]{0,2}\\.[0-9]{1,2}|[1-9]/[1-9]|[0-9](-|\u{2212}| {1,2})[1-9]/[1-9])";
    let unit = "(in|inch|inches|\"|ft|foot|feet|'|mm|cm|m|in/ft|in per ft|\"/ft|\" per foot|%|mm/m|deg|degrees|\u{b0}|:|in |dfu|FU|\
        fixture units|gpm|gal/min|L/s|l/min|gal|gpf|L|Lpf|mL|s|seconds|min|h|hours|F|\u{b0}C)";
    let part = format!("{number}( ){{0,2}}{unit}( |-)?");
    let text = format!("( )?{part}( )?|{part}{part}|{part}{number}|(DN|dn|Dn)( )?{number}|level| vertical ");
    proptest::string::string_regex(&text).expect("a pattern")
}

#[test]
fn no_quantity_that_is_read_is_marked_as_wrong() {
    type Reader = fn(&str) -> bool;
    let kinds: [(&str, Reader); 9] = [
        ("length", |text| text.parse::<Length>().is_ok()),
        ("slope", |text| text.parse::<Slope>().is_ok()),
        ("angle", |text| text.parse::<Angle>().is_ok()),
        ("nominal_size", |text| text.parse::<NominalSize>().is_ok()),
        ("load", |text| text.parse::<Load>().is_ok()),
        ("flow", |text| text.parse::<Flow>().is_ok()),
        ("volume", |text| text.parse::<Volume>().is_ok()),
        ("time", |text| text.parse::<Period>().is_ok()),
        ("temperature", |text| text.parse::<Temperature>().is_ok()),
    ];
    let mut kinds: Vec<_> = kinds
        .into_iter()
        .map(|(name, read)| (name, definition("ruleset", name), read, 0_u32))
        .collect();
    let signed: Reader = |text| Length::parse_signed(text).is_ok();
    kinds.push((
        "length_or_below",
        definition("network", "length_or_below"),
        signed,
        0,
    ));
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let notation = notation();
    for _ in 0..20_000 {
        let text = notation.new_tree(&mut runner).expect("a text").current();
        for (name, schema, read, count) in &mut kinds {
            if read(&text) {
                *count += 1;
                assert!(schema.is_valid(&json!(text)), "{name}: {text:?}");
            } else if !text.bytes().any(|byte| byte.is_ascii_digit()) {
                assert!(!schema.is_valid(&json!(text)), "{name}: {text:?}");
            }
        }
    }
    for (name, schema, _, count) in &kinds {
        assert!(*count > 50, "{name} {count}");
        for wrong in ["", "42", "in", "4 4 in", "2 furlongs", "about 2 in", "1e3 mm"] {
            assert!(!schema.is_valid(&json!(wrong)), "{name}: {wrong}");
        }
        for wrong in [json!(42), json!(null), json!(true), json!(["2 in"])] {
            assert!(!schema.is_valid(&wrong), "{name}: {wrong}");
        }
    }
}
