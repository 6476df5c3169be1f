//! The three conditions, put to interpreters of general-purpose expressions.
//!
//! Each compiles its expressions once and keeps what its documentation says to keep from one evaluation to the next; what
//! is timed is handing over the facts of an element and evaluating the condition that is asked of it.

use std::collections::HashMap;
use std::error::Error;
use std::hint::black_box;
use std::sync::Arc;

use datalogic_rs::bumpalo::Bump;
use datalogic_rs::{DataValue, Engine};
use serde_json::{Value as Json, json};
use zen_expression::variable::{Variable, VariableMap};

use crate::Asked;
use crate::tables::Tables;

type Answer = fn(&Tables, &[Asked]) -> Result<Vec<bool>, Box<dyn Error>>;

pub const ALL: [(&str, Answer); 3] = [
    ("CEL (cel 0.15)", cel),
    ("zen-expression 2.1", zen),
    ("JSON logic (datalogic-rs 5.4)", json_logic),
];

/// No limit, to those that have no word for it.
const UNLIMITED: i64 = i64::MAX / 1_000_000;

fn limits(tables: &Tables) -> [(&'static str, HashMap<String, i64>); 3] {
    let map = |limits: &[(String, Option<i64>)]| {
        limits
            .iter()
            .map(|(size, limit)| (size.clone(), limit.unwrap_or(UNLIMITED)))
            .collect()
    };
    [
        ("branch", map(&tables.branch)),
        ("stack", map(&tables.stack)),
        ("arms", map(&tables.arms)),
    ]
}

fn cel(tables: &Tables, asked: &[Asked]) -> Result<Vec<bool>, Box<dyn Error>> {
    let env = Arc::new(cel::Env::stdlib());
    let programs = [
        "kind == 'branch' && orientation == 'horizontal' ? measured <= branch[size] : true",
        "kind == 'stack' && orientation == 'vertical' ? measured <= stack[size] : true",
        "kind != 'water_closet' ? measured <= arms[size] : true",
    ]
    .map(|source| env.compile(source));
    let mut context = cel::Context::with_env(env);
    for (name, limits) in limits(tables) {
        context.add_variable_from_value(name, limits);
    }
    let mut answers = Vec::with_capacity(asked.len());
    for asked in asked {
        let mut element = context.new_inner_scope();
        element.add_variable_from_value("kind", asked.kind);
        element.add_variable_from_value("size", asked.size.as_str());
        element.add_variable_from_value("measured", asked.measured);
        if !asked.orientation.is_empty() {
            element.add_variable_from_value("orientation", asked.orientation);
        }
        let program = programs[asked.rule].as_ref().map_err(|error| error.to_string())?;
        let holds = program.execute(&element)?;
        answers.push(black_box(holds) == cel::Value::Bool(true));
    }
    Ok(answers)
}

fn zen(tables: &Tables, asked: &[Asked]) -> Result<Vec<bool>, Box<dyn Error>> {
    let programs = [
        "kind == 'branch' and orientation == 'horizontal' ? measured <= branch[size] : true",
        "kind == 'stack' and orientation == 'vertical' ? measured <= stack[size] : true",
        "kind != 'water_closet' ? measured <= arms[size] : true",
    ]
    .map(zen_expression::compile_expression);
    let limits = limits(tables).map(|(name, limits)| (Variable::key(name), Variable::from(json!(limits))));
    let [kind, size, measured, orientation] = ["kind", "size", "measured", "orientation"].map(Variable::key);
    let text = |text: &str| Variable::String(Variable::key(text));
    let mut machine = zen_expression::vm::VM::new();
    let mut answers = Vec::with_capacity(asked.len());
    for asked in asked {
        let mut element = VariableMap::with_capacity(8);
        for (name, limits) in &limits {
            element.insert(name.clone(), limits.shallow_clone());
        }
        element.insert(kind.clone(), text(asked.kind));
        element.insert(size.clone(), text(&asked.size));
        element.insert(measured.clone(), Variable::Number(asked.measured.into()));
        element.insert(orientation.clone(), text(asked.orientation));
        let program = programs[asked.rule].as_ref().map_err(|error| error.to_string())?;
        let holds = program.evaluate_with(Variable::from_object(element), &mut machine)?;
        answers.push(matches!(black_box(holds), Variable::Bool(true)));
    }
    Ok(answers)
}

/// It has no way to look a key up that is itself a value, so that a table is a chain of conditions.
fn json_logic(tables: &Tables, asked: &[Asked]) -> Result<Vec<bool>, Box<dyn Error>> {
    let table = |limits: &HashMap<String, i64>| {
        let cases = limits
            .iter()
            .flat_map(|(size, limit)| [json!({"==": [{"var": "size"}, size]}), json!(limit)]);
        json!({"if": cases.collect::<Vec<_>>()})
    };
    let [branch, stack, arms] =
        limits(tables).map(|(_, limits)| json!({"<=": [{"var": "measured"}, table(&limits)]}));
    let is = |name: &str, word: &str| json!({"==": [{"var": name}, word]});
    let rule = |when: Json, holds: Json| json!({"if": [when, holds, true]}).to_string();
    let engine = Engine::new();
    let programs = [
        rule(
            json!({"and": [is("kind", "branch"), is("orientation", "horizontal")]}),
            branch,
        ),
        rule(
            json!({"and": [is("kind", "stack"), is("orientation", "vertical")]}),
            stack,
        ),
        rule(json!({"!=": [{"var": "kind"}, "water_closet"]}), arms),
    ]
    .map(|source| engine.compile(source.as_str()));
    let mut memory = Bump::new();
    let mut answers = Vec::with_capacity(asked.len());
    for asked in asked {
        memory.reset();
        let element = memory.alloc([
            ("kind", DataValue::String(asked.kind)),
            ("size", DataValue::String(&asked.size)),
            ("measured", DataValue::from_i64(asked.measured)),
            ("orientation", DataValue::String(asked.orientation)),
        ]);
        let element = memory.alloc(DataValue::Object(element));
        let program = programs[asked.rule].as_ref().map_err(|error| error.to_string())?;
        let holds = engine
            .evaluate(program, *element, &memory)
            .map_err(|error| error.to_string())?;
        answers.push(black_box(holds).as_bool() == Some(true));
    }
    Ok(answers)
}
