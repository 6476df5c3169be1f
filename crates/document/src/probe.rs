//! What a format takes at a place, found out by decoding small documents made for the question.
//!
//! It knows no format: all that it says, the type that a file is decoded to has said.

use serde_yaml::{Mapping, Value};

use crate::scalar;

/// Most places named where a key belongs in several.
const MOST_HOMES: usize = 6;

/// How often missing keys are decoded again with something put for those found, at the most.
const MOST_STAND_INS: usize = 400;

/// One step on the way to a value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Step {
    Key(String),
    Index(usize),
}

/// What keeps a value from being decoded, and where in it.
pub(crate) struct Fault {
    pub(crate) path: Vec<Step>,
    pub(crate) message: String,
}

/// Where a key belongs that is not known where it stands.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Home {
    /// Under one of these, or within a list under it.
    within: Vec<String>,
    /// Further out, where this key stands too.
    beside: Option<String>,
}

impl Home {
    /// The hint for a file's author.
    pub(crate) fn hint(&self, key: &str) -> String {
        let within: Vec<_> = self.within.iter().map(|home| format!("`{home}`")).collect();
        let within = listed(&within, "or");
        match &self.beside {
            None => format!("`{key}` belongs within {within}"),
            Some(other) if within.is_empty() => format!("`{key}` belongs further out, beside `{other}`"),
            Some(other) => {
                format!("`{key}` belongs within {within}, or further out, beside `{other}`")
            }
        }
    }
}

/// The words in backticks of a message, in order.
pub(crate) fn quoted(message: &str) -> impl Iterator<Item = &str> {
    message.split('`').skip(1).step_by(2)
}

/// Several as a sentence has them: `a, b and c`.
pub(crate) fn listed(items: &[String], last: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., end] => format!("{} {last} {end}", first.join(", ")),
    }
}

/// Decodes a value and says what is wrong with it first.
pub(crate) struct Probe<'a> {
    decode: &'a dyn Fn(&Value) -> Option<Fault>,
}

impl<'a> Probe<'a> {
    pub(crate) fn new(decode: &'a dyn Fn(&Value) -> Option<Fault>) -> Self {
        Self { decode }
    }

    pub(crate) fn fault(&self, value: &Value) -> Option<Fault> {
        (self.decode)(value)
    }

    /// The keys that are known in the mapping at `path`; none where it is no part with keys of its own.
    fn keys(&self, path: &[Step]) -> Vec<String> {
        let nameless = Value::Mapping(Mapping::from_iter([("".into(), Value::Null)]));
        let fault = self.fault(&around(path, nameless));
        let fault = fault.filter(|fault| {
            fault.message.starts_with("unknown field ``") && fault.path.starts_with(&firsts(path))
        });
        let words = fault.iter().flat_map(|fault| quoted(&fault.message).skip(1));
        words.map(str::to_owned).collect()
    }

    /// The part under a key of the part at `path`, or an item of the list that stands there: the way to it, and its keys.
    fn part(&self, path: &[Step], key: &str) -> (Vec<Step>, Vec<String>) {
        let mut path = path.to_vec();
        path.push(Step::Key(key.to_owned()));
        let keys = self.keys(&path);
        if !keys.is_empty() {
            return (path, keys);
        }
        path.push(Step::Index(0));
        let keys = self.keys(&path);
        (path, keys)
    }

    /// Those of the parts under `children` of the part at `path` that know `key`; where none does and `deeper`, those of
    /// the parts within them. None where they are so many that naming them is of no help.
    fn holders(&self, path: &[Step], children: &[String], key: &str, deeper: bool) -> Vec<String> {
        let parts: Vec<_> = children.iter().map(|child| self.part(path, child)).collect();
        let near = children.iter().zip(&parts);
        let near = near.filter(|(_, (_, keys))| keys.iter().any(|known| known == key));
        let mut found: Vec<String> = near.map(|(child, _)| child.clone()).collect();
        if found.is_empty() && deeper {
            let below = parts
                .iter()
                .map(|(path, keys)| self.holders(path, keys, key, false));
            found = below.flatten().collect();
        }
        if found.len() > MOST_HOMES {
            Vec::new()
        } else {
            found
        }
    }

    /// Where `key` belongs, which is not known in the mapping at `path` of `root`: in a part that stands in it, in one that
    /// could, or further out; else, `beside_too`, in a part beside one of those that it stands in.
    pub(crate) fn home(&self, root: &Value, path: &[Step], key: &str, beside_too: bool) -> Option<Home> {
        // Which keys a mapping has, and which it could have.
        let children = |path: &[Step]| -> (Vec<String>, Vec<String>) {
            let here = value_at(root, path);
            let stands = |own: &String| here.is_some_and(|here| here.get(own.as_str()).is_some());
            self.keys(path).into_iter().partition(stands)
        };
        let (there, not_there) = children(path);
        let within = self.holders(path, &there, key, true);
        if !within.is_empty() {
            return Some(Home { within, beside: None });
        }
        let within = self.holders(path, &not_there, key, true);
        let outer: Vec<_> = (0..path.len())
            .rev()
            .filter_map(|end| match path.get(end) {
                Some(Step::Key(inner)) => Some((path.get(..end)?, inner)),
                _ => None,
            })
            .collect();
        let holder = outer
            .iter()
            .find(|(outer, _)| self.keys(outer).iter().any(|known| known == key));
        // At the head of a file stand names and titles: what has been said there is not what was meant.
        let is_said = holder.is_some_and(|(outer, _)| outer.is_empty()) && root.get(key).is_some();
        let beside = holder.filter(|_| !is_said).map(|(_, inner)| (*inner).clone());
        if !within.is_empty() || beside.is_some() {
            return Some(Home { within, beside });
        }
        if is_said || !beside_too {
            return None;
        }
        let within = outer.iter().find_map(|(outer, inner)| {
            let (there, not_there) = children(outer);
            let parts = [there, not_there].into_iter();
            let parts = parts.map(|mut parts| {
                parts.retain(|part| part != *inner);
                self.holders(outer, &parts, key, false)
            });
            parts.into_iter().find(|found| !found.is_empty())
        });
        within.map(|within| Home { within, beside: None })
    }

    /// What is expected of one item, where a list or keys with values belong at `path` and `value` stands there.
    fn of_an_item(&self, path: &[Step], step: Step, items: Value) -> Option<String> {
        let fault = self.fault(&around(path, items))?;
        let mut own = firsts(path);
        own.push(step);
        let expected = fault.message.split_once(", expected ")?.1;
        let is_of_the_item = fault.path == own && fault.message.starts_with("invalid type");
        is_of_the_item.then(|| expected.to_owned())
    }

    /// What is expected where a list belongs at `path` and `value` stands there.
    pub(crate) fn list_for(&self, path: &[Step], value: &Value) -> Option<String> {
        let items = Value::Sequence(vec![value.clone()]);
        if let Some(item) = self.of_an_item(path, Step::Index(0), items) {
            return Some(format!("a list; each item is {item}"));
        }
        if let Value::Mapping(keys) = value {
            let first = keys.iter().next()?.0.as_str()?;
            return Some(format!("a list, with a dash before each item: `- {first}: …`"));
        }
        Some(format!("a list, such as `[{}]`", short(value)?))
    }

    /// What is expected where a list of `count` values belongs at `path` and `value` stands there.
    pub(crate) fn list_of(&self, count: usize, path: &[Step], value: &Value) -> Option<String> {
        let items = Value::Sequence(vec![value.clone(); count.min(8)]);
        if let Some(item) = self.of_an_item(path, Step::Index(0), items) {
            return Some(format!("a list of {count} values, each {item}"));
        }
        let items = vec![short(value)?; count.min(8)];
        Some(format!(
            "a list of {count} values, such as `[{}]`",
            items.join(", ")
        ))
    }

    /// What is expected where keys with values belong at `path` and `value` stands there.
    pub(crate) fn keys_for(&self, path: &[Step], value: &Value) -> Option<String> {
        let item = value.get(0).unwrap_or(value).clone();
        let key = Step::Key("key".to_owned());
        let items = Value::Mapping(Mapping::from_iter([("key".into(), item)]));
        match self.of_an_item(path, key, items) {
            Some(item) => Some(format!("keys with values; each value is {item}")),
            None => Some(format!(
                "keys with values, such as `{{key: {}}}`",
                short(value.get(0).unwrap_or(value))?
            )),
        }
    }

    /// The words of which one belongs at `path`.
    pub(crate) fn words(&self, path: &[Step]) -> Option<String> {
        let fault = self.fault(&around(path, "".into()))?;
        let words = fault.message.strip_prefix("unknown variant ``, expected ")?;
        (fault.path == firsts(path)).then(|| words.to_owned())
    }

    /// What belongs at `path`: the words of which it is one, or what is said of nothing in its place.
    pub(crate) fn taken(&self, path: &[Step]) -> Option<String> {
        if let Some(words) = self.words(path) {
            return Some(words);
        }
        let fault = self.fault(&around(path, Value::Null))?;
        let expected = fault.message.split_once(", expected ")?.1;
        (fault.path == firsts(path)).then(|| expected.to_owned())
    }

    /// The keys that the mapping at `path` lacks, the first of them `first`; at most `rounds` times it is tried with
    /// something put for those that are known to be missing.
    pub(crate) fn missing(&self, path: &[Step], mapping: &Value, first: &str, rounds: usize) -> Vec<String> {
        let mut trial = around(path, mapping.clone());
        let path = firsts(path);
        let mut missing = vec![first.to_owned()];
        let mut put: Vec<StandIn> = Vec::new();
        put.extend(StandIn::put(
            &mut trial,
            [&path[..], &[Step::Key(first.to_owned())]].concat(),
        ));
        for _ in 0..rounds.min(MOST_STAND_INS) {
            let Some(fault) = self.fault(&trial) else { break };
            let lacks = fault.message.strip_prefix("missing field ");
            let lacks = lacks.and_then(|_| quoted(&fault.message).next());
            if let Some(key) = lacks {
                let is_own = fault.path == path;
                if is_own && missing.iter().any(|own| own == key) {
                    // Nothing can be put there.
                    break;
                }
                if is_own {
                    missing.push(key.to_owned());
                }
                if !is_own && !put.iter().any(|one| fault.path.starts_with(&one.path)) {
                    break;
                }
                let mut below = fault.path;
                below.push(Step::Key(key.to_owned()));
                put.extend(StandIn::put(&mut trial, below));
                continue;
            }
            let own = put.iter_mut().rfind(|one| fault.path.starts_with(&one.path));
            let Some(own) = own else { break };
            if !own.put_another(&mut trial, &fault.message) {
                break;
            }
        }
        missing
    }
}

/// A value put where a key is missing, of no meaning, so that the next that is missing comes to light.
struct StandIn {
    path: Vec<Step>,
    tried: usize,
}

impl StandIn {
    fn put(within: &mut Value, path: Vec<Step>) -> Option<Self> {
        put_at(within, &path, Value::String("x".to_owned())).then_some(Self { path, tried: 0 })
    }

    /// Puts another value where the one put before is not taken; `message` says what would be.
    fn put_another(&mut self, within: &mut Value, message: &str) -> bool {
        self.tried += 1;
        let expected = message
            .split_once(", expected ")
            .map_or("", |(_, expected)| expected);
        let word = quoted(expected).next();
        let word = word.or_else(|| expected.split_once("one of ")?.1.split(", ").next());
        let value = match self.tried {
            1 => Value::String(word.unwrap_or("x").to_owned()),
            2 => Value::Sequence(Vec::new()),
            3 => Value::Mapping(Mapping::new()),
            4 => Value::Number(1.into()),
            5 => Value::Bool(true),
            _ => return false,
        };
        put_at(within, &self.path, value)
    }
}

/// A document that holds `value` at the place that `path` leads to in another, and nothing else: of each list the one
/// item.
fn around(path: &[Step], value: Value) -> Value {
    path.iter().rev().fold(value, |value, step| match step {
        Step::Key(key) => Value::Mapping(Mapping::from_iter([(key.as_str().into(), value)])),
        Step::Index(_) => Value::Sequence(vec![value]),
    })
}

/// The way to that value.
fn firsts(path: &[Step]) -> Vec<Step> {
    let first = |step: &Step| match step {
        Step::Key(key) => Step::Key(key.clone()),
        Step::Index(_) => Step::Index(0),
    };
    path.iter().map(first).collect()
}

pub(crate) fn value_at<'a>(root: &'a Value, path: &[Step]) -> Option<&'a Value> {
    path.iter().try_fold(root, |value, step| match step {
        Step::Key(key) => value.get(key.as_str()),
        Step::Index(index) => value.get(*index),
    })
}

/// Puts a value under a key; false where the mapping is not there.
fn put_at(root: &mut Value, path: &[Step], value: Value) -> bool {
    let Some((Step::Key(last), parents)) = path.split_last() else {
        return false;
    };
    let mut within = root;
    for step in parents {
        let next = match step {
            Step::Key(key) => within.get_mut(key.as_str()),
            Step::Index(index) => within.get_mut(*index),
        };
        match next {
            Some(next) => within = next,
            None => return false,
        }
    }
    let Value::Mapping(values) = within else {
        return false;
    };
    values.insert(last.as_str().into(), value);
    true
}

/// A single value as it is written, where it is short enough to be an example.
fn short(value: &Value) -> Option<String> {
    let text = match value {
        Value::String(text) => scalar(text),
        Value::Number(number) => number.to_string(),
        Value::Bool(truth) => truth.to_string(),
        _ => return None,
    };
    (text.chars().count() <= 40).then_some(text)
}
