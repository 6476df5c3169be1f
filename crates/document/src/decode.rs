//! From a document to a `serde` type, with every problem reported at its place and not only the first.
//!
//! It never guesses a value: what could not be decoded is left out and the result withheld.

use serde::Deserialize;
use serde_path_to_error::Segment;
use serde_yaml::Value;

use crate::read::{Children, Document, Node, Span};
use crate::{Diagnostic, Diagnostics, Place, nearest};

/// How many values are decoded again at the most.
const ROUNDS_BY_NODES: usize = 2_000_000;

/// A document in which faulty parts are cut out one by one, so that the next fault comes to light.
struct Trimmed<'a> {
    document: &'a Document,
    value: Value,
    nodes: Vec<Node>,
    /// Fields cut out of a mapping: what they leave is not the author's omission.
    cut: Vec<(usize, String)>,
    /// The parts, two levels down, that something was cut out of.
    faulty: Vec<(String, Span)>,
    /// What stands in for keys that the head of the file lacks, so that all of them come to light.
    stand_ins: Vec<StandIn>,
}

/// A value put where a key is missing, of no meaning: nothing that is decoded with it comes back.
struct StandIn {
    path: Vec<String>,
    /// Which of the values was put last.
    tried: usize,
}

/// What could be decoded of a document, the faulty parts cut out.
#[derive(Debug)]
pub struct Decoded<T> {
    /// The value.
    pub value: T,
    /// What it was decoded from: the document, if nothing was cut out of it.
    pub document: Option<Document>,
    faulty: Vec<(String, Span)>,
}

impl<T> Decoded<T> {
    /// Whether something was cut out of the part of the file under `key`.
    #[must_use]
    pub fn is_faulty(&self, key: &str) -> bool {
        self.faulty.iter().any(|(own, _)| own == key)
    }

    /// Adds further problems, less those within faulty parts: what is said of them has been said.
    pub fn further(&self, found: Diagnostics, problems: &mut Diagnostics) {
        let within = |place: &Place| {
            let holds = |span: &Span| span.bytes.contains(&place.bytes.start);
            self.faulty.iter().any(|(_, span)| holds(span))
        };
        problems.omitted += found.omitted;
        for problem in found.list {
            if !within(&problem.place) {
                problems.push(problem);
            }
        }
    }
}

enum Step {
    Key(String),
    Index(usize),
}

impl Document {
    /// Decodes the whole document. Every problem that can be told apart goes to `problems`; with any, nothing
    /// comes back.
    pub fn decode<T: for<'de> Deserialize<'de>>(&self, problems: &mut Diagnostics) -> Option<T> {
        let decoded = self.decode_sound_parts(problems)?;
        decoded.document.is_none().then_some(decoded.value)
    }

    /// Decodes what can be decoded, so that its further problems can be told together with those that go to
    /// `problems` here. Nothing comes back where what is left is no whole.
    pub fn decode_sound_parts<T: for<'de> Deserialize<'de>>(
        &self,
        problems: &mut Diagnostics,
    ) -> Option<Decoded<T>> {
        let first = match serde_path_to_error::deserialize::<_, T>(self.value()) {
            Ok(value) => {
                return Some(Decoded {
                    value,
                    document: None,
                    faulty: Vec::new(),
                });
            }
            Err(error) => error,
        };
        let mut trimmed = Trimmed {
            document: self,
            value: self.value().clone(),
            nodes: self.nodes.clone(),
            cut: Vec::new(),
            faulty: Vec::new(),
            stand_ins: Vec::new(),
        };
        let mut error = first;
        // Each round cuts something out, so this ends; the bound keeps a hostile file from making it slow, for every
        // round decodes the whole.
        let rounds = (ROUNDS_BY_NODES / self.nodes.len().max(1)).clamp(5, 100);
        for _ in 0..rounds {
            let path = steps(error.path());
            let message = error.inner().to_string();
            let goes_on =
                trimmed.stands_in(&path, &message) || trimmed.report_and_cut(path, &message, problems);
            if !goes_on {
                return None;
            }
            match serde_path_to_error::deserialize::<_, T>(&trimmed.value) {
                Ok(_) if !trimmed.stand_ins.is_empty() => return None,
                Ok(value) => {
                    let document = Self {
                        sources: self.sources.clone(),
                        root: trimmed.value,
                        nodes: trimmed.nodes,
                    };
                    return Some(Decoded {
                        value,
                        document: Some(document),
                        faulty: trimmed.faulty,
                    });
                }
                Err(next) => error = next,
            }
        }
        None
    }
}

fn steps(path: &serde_path_to_error::Path) -> Vec<Step> {
    path.iter()
        .filter_map(|segment| match segment {
            Segment::Seq { index } => Some(Step::Index(*index)),
            Segment::Map { key } => Some(Step::Key(key.clone())),
            _ => None,
        })
        .collect()
}

/// What was found, in words that are no programmer's.
fn found(what: &str) -> String {
    if let Some(word) = what.strip_prefix("unknown variant ") {
        return format!("{word} is not a word that is known here");
    }
    let Some(kind) = what.strip_prefix("invalid type: ") else {
        return what.to_owned();
    };
    match kind {
        "map" => "keys with values do not belong here".to_owned(),
        "sequence" => "a list does not belong here".to_owned(),
        "unit value" => "nothing stands here".to_owned(),
        _ => {
            let value = kind
                .split_once(['"', '`'])
                .map(|(_, rest)| rest.trim_end_matches(['"', '`']));
            let kind = match kind.split(' ').next() {
                Some("string") => "the text",
                Some("boolean") => "the answer",
                Some("integer" | "floating") => "the number",
                _ => "the value",
            };
            format!("{kind} `{}` does not belong here", value.unwrap_or_default())
        }
    }
}

/// What would have been accepted, likewise.
fn wanted(expected: &str) -> String {
    if let Some(count) = expected.strip_prefix("an array of length ") {
        return format!("a list of {count} values");
    }
    match expected {
        "a sequence" => "a list, such as `[one, two]`",
        "a map" => "keys with values, such as `{key: value}`",
        "a string" => "a text",
        "a boolean" => "`true` or `false`",
        "u8" | "u16" | "u32" | "u64" | "usize" | "i32" | "i64" | "i128" => "a whole number",
        "f32" | "f64" => "a number",
        other => other,
    }
    .to_owned()
}

/// The words in backticks of a message, in order.
fn quoted(message: &str) -> impl Iterator<Item = &str> {
    message.split('`').skip(1).step_by(2)
}

/// The values that stand in for one whose type is not known, in the order in which they are tried.
fn stand_in(number: usize) -> Option<Value> {
    let values = [
        Value::String("x".to_owned()),
        Value::Sequence(Vec::new()),
        Value::Mapping(serde_yaml::Mapping::new()),
        Value::Number(1.into()),
        Value::Bool(true),
    ];
    values.into_iter().nth(number)
}

impl Trimmed<'_> {
    /// Whether what is wrong lies in a value that stands in for another, and the next has been put there.
    fn stands_in(&mut self, path: &[Step], message: &str) -> bool {
        let keys: Option<Vec<&str>> = path
            .iter()
            .map(|step| match step {
                Step::Key(key) => Some(key.as_str()),
                Step::Index(_) => None,
            })
            .collect();
        let Some(keys) = keys else { return false };
        let own = self
            .stand_ins
            .iter()
            .rposition(|one| keys.len() >= one.path.len() && one.path.iter().zip(&keys).all(|(a, b)| a == b));
        let Some(own) = own else { return false };
        if message.starts_with("missing field") {
            let mut below: Vec<String> = keys.into_iter().map(str::to_owned).collect();
            below.extend(quoted(message).next().map(str::to_owned));
            return self.put_stand_in(below);
        }
        // Of an unknown word the message names those that are known.
        let word = message
            .starts_with("unknown variant")
            .then(|| quoted(message).nth(1))
            .flatten();
        let Some(one) = self.stand_ins.get_mut(own) else {
            return false;
        };
        one.tried += 1;
        let value = word.map_or_else(
            || stand_in(one.tried),
            |word| Some(Value::String(word.to_owned())),
        );
        let path = one.path.clone();
        value.is_some_and(|value| self.put(&path, value))
    }

    fn put_stand_in(&mut self, path: Vec<String>) -> bool {
        let put = stand_in(0).is_some_and(|value| self.put(&path, value));
        self.stand_ins.push(StandIn { path, tried: 0 });
        put
    }

    /// Puts a value under keys, all but the last of which are there.
    fn put(&mut self, path: &[String], value: Value) -> bool {
        let Some((last, parents)) = path.split_last() else {
            return false;
        };
        let mut within = &mut self.value;
        for key in parents {
            match within.get_mut(key.as_str()) {
                Some(next) => within = next,
                None => return false,
            }
        }
        let Value::Mapping(values) = within else {
            return false;
        };
        values.insert(Value::String(last.clone()), value);
        true
    }

    /// Reports the problem at `path` and cuts its cause out. False when nothing is left to go on with.
    fn report_and_cut(&mut self, mut path: Vec<Step>, message: &str, problems: &mut Diagnostics) -> bool {
        // The path of an unknown key may lead to its value; what is wrong is the key.
        if message.starts_with("unknown field")
            && let (Some(Step::Key(last)), Some(key)) = (path.last(), quoted(message).next())
            && last == key
        {
            path.pop();
        }
        let Some(node) = self.node(&path) else {
            return false;
        };
        if let Some(Step::Key(section)) = path.first()
            && let Some(part) = self.node(path.get(..2).unwrap_or(&path))
        {
            self.faulty.push((section.clone(), self.span(part)));
        }
        if message.starts_with("unknown field") {
            let mut words = quoted(message);
            let Some(key) = words.next().map(str::to_owned) else {
                return false;
            };
            let known: Vec<&str> = words.collect();
            problems.push(self.unknown_key(node, &key, &known));
            path.push(Step::Key(key));
        } else if message.starts_with("missing field") {
            let Some(key) = quoted(message).next() else {
                return false;
            };
            if !self.cut.iter().any(|(at, name)| *at == node && name == key) {
                problems.push(
                    self.problem(node, format!("`{key}` is missing here"))
                        .expecting(format!("`{key}: …`")),
                );
            }
            if path.is_empty() {
                return self.put_stand_in(vec![key.to_owned()]);
            }
        } else {
            problems.push(self.problem(node, message.to_owned()));
        }
        self.cut_out(&path)
    }

    fn unknown_key(&self, node: usize, key: &str, known: &[&str]) -> Diagnostic {
        let span = match self.nodes.get(node).map(|node| &node.children) {
            Some(Children::Entries(entries)) => entries
                .iter()
                .find(|entry| entry.key == key)
                .map(|entry| entry.span.clone()),
            _ => None,
        };
        let span = span.unwrap_or_else(|| self.span(node));
        let problem = self
            .document
            .problem_at(&span, format!("`{key}` is not a key that is known here"));
        if key.contains(' ') {
            // What follows a comma within braces is read as the next key.
            return problem.helped("text that has a comma or a colon in it stands in quotes");
        }
        let listed: Vec<String> = known.iter().map(|word| format!("`{word}`")).collect();
        problem
            .expecting(format!("one of {}", listed.join(", ")))
            .suggesting(nearest(key, known.iter().copied()))
    }

    fn problem(&self, node: usize, message: String) -> Diagnostic {
        let span = self.span(node);
        if message.starts_with("invalid type: integer") || message.starts_with("invalid type: floating point")
        {
            let number = quoted(&message).next().unwrap_or_default();
            if message.ends_with("expected a string") {
                return self
                    .document
                    .problem_at(
                        &span,
                        format!("`{number}` is read as a number, and a text belongs here"),
                    )
                    .expecting(format!("it in quotes: `\"{number}\"`"));
            }
        }
        match message.split_once(", expected ") {
            Some((what, expected)) => {
                // What is not one of a list of words has no nearest one.
                let words = expected.strip_prefix("one of ").into_iter();
                let words = words.flat_map(|words| words.split(", ").map(|word| word.trim_matches('`')));
                let near = quoted(what).next().and_then(|word| nearest(word, words));
                self.document
                    .problem_at(&span, found(what))
                    .expecting(wanted(expected))
                    .suggesting(near)
            }
            None => self.document.problem_at(&span, message),
        }
    }

    fn span(&self, node: usize) -> Span {
        let nowhere = || Span {
            source: 0,
            bytes: 0..0,
        };
        self.nodes
            .get(node)
            .map_or_else(nowhere, |node| node.span.clone())
    }

    fn node(&self, path: &[Step]) -> Option<usize> {
        let mut node = self.nodes.len().checked_sub(1)?;
        for step in path {
            node = match (&self.nodes.get(node)?.children, step) {
                (Children::Items(items), Step::Index(index)) => *items.get(*index)?,
                (Children::Entries(entries), Step::Key(key)) => {
                    entries.iter().find(|entry| entry.key == *key)?.node
                }
                _ => return Some(node),
            };
        }
        Some(node)
    }

    fn cut_out(&mut self, path: &[Step]) -> bool {
        let Some((last, parents)) = path.split_last() else {
            return false;
        };
        let Some(parent) = self.node(parents) else {
            return false;
        };
        let mut value = &mut self.value;
        for step in parents {
            let next = match step {
                Step::Key(key) => value.get_mut(key.as_str()),
                Step::Index(index) => value.get_mut(*index),
            };
            match next {
                Some(next) => value = next,
                None => return false,
            }
        }
        let Some(node) = self.nodes.get_mut(parent) else {
            return false;
        };
        match (last, value, &mut node.children) {
            (Step::Key(key), Value::Mapping(values), Children::Entries(entries)) => {
                entries.retain(|entry| entry.key != *key);
                self.cut.push((parent, key.clone()));
                values.remove(key.as_str()).is_some()
            }
            (Step::Index(index), Value::Sequence(values), Children::Items(items))
                if *index < values.len() =>
            {
                values.remove(*index);
                if *index < items.len() {
                    items.remove(*index);
                }
                true
            }
            _ => false,
        }
    }
}
