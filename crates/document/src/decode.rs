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
        };
        let mut error = first;
        // Each round cuts something out, so this ends; the bound keeps a hostile file from making it slow, for every
        // round decodes the whole.
        let rounds = (ROUNDS_BY_NODES / self.nodes.len().max(1)).clamp(5, 100);
        for _ in 0..rounds {
            let path = steps(error.path());
            let message = error.inner().to_string();
            if !trimmed.report_and_cut(path, &message, problems) {
                return None;
            }
            match serde_path_to_error::deserialize::<_, T>(&trimmed.value) {
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

/// The words in backticks of a message, in order.
fn quoted(message: &str) -> impl Iterator<Item = &str> {
    message.split('`').skip(1).step_by(2)
}

impl Trimmed<'_> {
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
                    .problem_at(&span, what)
                    .expecting(expected)
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
