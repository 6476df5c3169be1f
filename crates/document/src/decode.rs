//! From a document to a `serde` type, with every problem reported at its place and not only the first.
//!
//! It never guesses a value: what could not be decoded is left out and the result withheld.

use std::borrow::Cow;

use serde::Deserialize;
use serde_path_to_error::Segment;
use serde_yaml::Value;

use crate::probe::{Fault, Probe, Step, listed, quoted, value_at};
use crate::read::{Children, Document, Node, Span};
use crate::{Cursor, Diagnostic, Diagnostics, Place, nearest};

/// Of so many missing keys at the most it is told what belongs under each.
const MOST_FORMS: usize = 4;

/// What people write for keys that have another name, tried where the one is not known and the other is.
const OTHER_NAMES: [(&str, &[&str]); 6] = [
    (
        "name",
        &[
            "run",
            "storey",
            "framing",
            "rule",
            "table",
            "arrangement",
            "exception",
            "example",
            "case",
        ],
    ),
    ("type", &["pattern", "kind"]),
    ("diameter", &["size"]),
    ("fall", &["slope"]),
    ("grade", &["slope"]),
    ("pitch", &["slope"]),
];

/// How many values are decoded again at the most.
const ROUNDS_BY_NODES: usize = 2_000_000;

/// A document in which faulty parts are cut out one by one, so that the next fault comes to light.
struct Trimmed<'a> {
    document: &'a Document,
    probe: Probe<'a>,
    value: Value,
    nodes: Cow<'a, [Node]>,
    /// The node of the value.
    top: usize,
    /// Fields cut out of a mapping: what they leave is not the author's omission.
    cut: Vec<(usize, String)>,
    /// The parts, two levels down, that something was cut out of.
    faulty: Vec<(String, Span)>,
    /// How many more times the whole may be decoded.
    rounds: usize,
    /// Whether nothing has been cut out.
    is_whole: bool,
}

/// What is wrong, to be put out of the way so that the next fault comes to light.
struct Cause {
    path: Vec<Step>,
    /// The key for which the last of the path is a slip: what stands under it is looked through as what it is meant for.
    meant: Option<String>,
}

/// What could be decoded of a document, the faulty parts cut out.
#[derive(Debug)]
pub struct Decoded<T> {
    /// The value.
    pub value: T,
    /// What it was decoded from: the document, if nothing was cut out of it.
    pub document: Option<Document>,
    faulty: Vec<(String, Span)>,
    /// Whether all of the document is in the value: at most keys were misspelt.
    pub is_whole: bool,
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
                    is_whole: true,
                });
            }
            Err(error) => Fault::of(&error),
        };
        let fault_of = |value: &Value| {
            let decoded = serde_path_to_error::deserialize::<_, T>(value);
            decoded.err().map(|error| Fault::of(&error))
        };
        let mut trimmed = Trimmed {
            document: self,
            probe: Probe::new(&fault_of),
            value: self.value().clone(),
            nodes: Cow::Borrowed(&self.nodes),
            top: self.nodes.len().saturating_sub(1),
            cut: Vec::new(),
            faulty: Vec::new(),
            // Each round cuts something out, so this ends; the bound keeps a hostile file from making it slow, for every
            // round decodes the whole.
            rounds: (ROUNDS_BY_NODES / self.nodes.len().max(1)).clamp(5, 100),
            is_whole: true,
        };
        let mut fault = first;
        while trimmed.rounds > 0 {
            trimmed.rounds -= 1;
            let cause = trimmed.report(fault.path, &fault.message, problems)?;
            let goes_on = match &cause.meant {
                Some(meant) => trimmed.rename(&cause.path, meant),
                None => trimmed.cut_out(&cause.path),
            };
            if !goes_on {
                return None;
            }
            match serde_path_to_error::deserialize::<_, T>(&trimmed.value) {
                Ok(value) => {
                    let document = Self {
                        sources: self.sources.clone(),
                        root: trimmed.value,
                        nodes: trimmed.nodes.into_owned(),
                    };
                    return Some(Decoded {
                        value,
                        document: Some(document),
                        faulty: trimmed.faulty,
                        is_whole: trimmed.is_whole,
                    });
                }
                Err(error) => fault = Fault::of(&error),
            }
        }
        None
    }
}

impl Cursor<'_> {
    /// Decodes `value`, which stands here. What is wrong with it first goes to `problems`; then nothing comes back.
    pub fn decode<T: for<'de> Deserialize<'de>>(
        self,
        value: &Value,
        problems: &mut Diagnostics,
    ) -> Option<T> {
        let fault_of = |value: &Value| {
            let decoded = serde_path_to_error::deserialize::<_, T>(value);
            decoded.err().map(|error| Fault::of(&error))
        };
        let fault = match serde_path_to_error::deserialize::<_, T>(value) {
            Ok(value) => return Some(value),
            Err(error) => Fault::of(&error),
        };
        let document = self.document();
        let mut faulty = Trimmed {
            document,
            probe: Probe::new(&fault_of),
            value: value.clone(),
            nodes: Cow::Borrowed(&document.nodes),
            top: self.node_number(),
            cut: Vec::new(),
            faulty: Vec::new(),
            rounds: 0,
            is_whole: true,
        };
        faulty.report(fault.path, &fault.message, problems);
        None
    }
}

impl Fault {
    fn of(error: &serde_path_to_error::Error<serde_yaml::Error>) -> Self {
        Self {
            path: steps(error.path()),
            message: error.inner().to_string(),
        }
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

/// The one of some words that another is short for, as `mm` is for `millimetres`.
fn in_full<'a>(short: &str, words: &[&'a str]) -> Option<&'a str> {
    let is_short_for = |word: &str| {
        let mut letters = word.chars();
        word.chars().next() == short.chars().next()
            && short.chars().all(|wanted| letters.any(|letter| letter == wanted))
    };
    let mut fitting = words.iter().filter(|word| short.len() > 1 && is_short_for(word));
    match (fitting.next(), fitting.next()) {
        (Some(word), None) => Some(word),
        _ => None,
    }
}

/// What was found, in words that are no programmer's.
fn found(what: &str) -> String {
    if let Some(word) = what.strip_prefix("unknown variant ") {
        return format!("{word} is not a word that is known here");
    }
    if let Some(count) = what.strip_prefix("invalid length ") {
        return match count {
            "1" => "1 value stands here".to_owned(),
            _ => format!("{count} values stand here"),
        };
    }
    let kind = what.strip_prefix("invalid type: ");
    let Some(kind) = kind.or_else(|| what.strip_prefix("invalid value: ")) else {
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
        "u8" | "u16" | "u32" | "u64" | "usize" => "a whole number of 0 or more",
        "i32" | "i64" | "i128" => "a whole number",
        "f32" | "f64" => "a number",
        other => other,
    }
    .to_owned()
}

impl Trimmed<'_> {
    /// Reports the problem at `path`; its cause, where something is left to go on with.
    fn report(&mut self, mut path: Vec<Step>, message: &str, problems: &mut Diagnostics) -> Option<Cause> {
        // The path of an unknown key may lead to its value; what is wrong is the key.
        if message.starts_with("unknown field")
            && let (Some(Step::Key(last)), Some(key)) = (path.last(), quoted(message).next())
            && last == key
        {
            path.pop();
        }
        let node = self.node(&path)?;
        if let Some(Step::Key(section)) = path.first()
            && let Some(part) = self.node(path.get(..2).unwrap_or(&path))
        {
            self.faulty.push((section.clone(), self.span(part)));
            // Of a part put together from several files, each is faulty.
            if let Some(Children::Entries(entries)) = self.nodes.get(part).map(|node| &node.children) {
                let spans = entries
                    .iter()
                    .map(|entry| (section.clone(), self.span(entry.node)));
                let spans: Vec<_> = spans.collect();
                self.faulty.extend(spans);
            }
        }
        let mut meant = None;
        if message.starts_with("unknown field") {
            let mut words = quoted(message);
            let key = words.next()?;
            let known: Vec<&str> = words.collect();
            let (problem, slip_for) = self.unknown_key(node, &path, key, &known);
            problems.push(problem);
            meant = slip_for;
            path.push(Step::Key(key.to_owned()));
        } else if message.starts_with("missing field") {
            problems.extend(self.missing(node, &path, quoted(message).next()?));
            if path.is_empty() {
                // All that is there has been decoded before a key is missed.
                return None;
            }
        } else {
            problems.push(self.problem(node, &path, message));
        }
        Some(Cause { path, meant })
    }

    /// The keys that a mapping lacks, less what was cut out of it.
    fn missing(&self, node: usize, path: &[Step], first: &str) -> Option<Diagnostic> {
        let rounds = (ROUNDS_BY_NODES / self.nodes.len().max(1)).max(5);
        let mapping = value_at(&self.value, path)?;
        let mut missing = self.probe.missing(path, mapping, first, rounds);
        missing.retain(|key| !self.cut.iter().any(|(at, name)| *at == node && name == key));
        let problem = |verb: &str| {
            let keys: Vec<_> = missing.iter().map(|key| format!("`{key}`")).collect();
            let message = format!("{} {verb} missing here", listed(&keys, "and"));
            self.document.problem_at(&self.span(node), message)
        };
        // Which words, or what kind of thing, belongs under a key.
        let form = |key: &str| {
            let path = [path, &[Step::Key(key.to_owned())]].concat();
            let taken = self.probe.taken(&path)?;
            Some(format!("`{key}: …`, {}", wanted(&taken)))
        };
        match &missing[..] {
            [] => None,
            [key] => Some(problem("is").expecting(form(key).unwrap_or_else(|| format!("`{key}: …`")))),
            several => {
                let few = several.iter().filter(|_| several.len() <= MOST_FORMS);
                let forms: Vec<_> = few.filter_map(|key| form(key)).collect();
                Some(match forms.as_slice() {
                    [] => problem("are"),
                    forms => problem("are").expecting(forms.join("; ")),
                })
            }
        }
    }

    /// What is said of a key that is none, and the key for which it is a slip.
    fn unknown_key(
        &self,
        node: usize,
        path: &[Step],
        key: &str,
        known: &[&str],
    ) -> (Diagnostic, Option<String>) {
        let span = match self.nodes.get(node).map(|node| &node.children) {
            Some(Children::Entries(entries)) => entries
                .find(key)
                .and_then(|number| entries.get(number))
                .map(|entry| entry.span.clone()),
            _ => None,
        };
        let span = span.unwrap_or_else(|| self.span(node));
        let problem = self
            .document
            .problem_at(&span, format!("`{key}` is not a key that is known here"));
        if key.contains(' ') {
            // What follows a comma within braces is read as the next key.
            let problem = problem.helped("text that has a comma or a colon in it stands in quotes");
            return (problem, None);
        }
        let listed: Vec<String> = known.iter().map(|word| format!("`{word}`")).collect();
        let problem = problem.expecting(format!("one of {}", listed.join(", ")));
        let stands = |own: &str| value_at(&self.value, path).is_some_and(|here| here.get(own).is_some());
        let mut other = OTHER_NAMES
            .iter()
            .filter(|(name, _)| *name == key)
            .flat_map(|(_, others)| *others);
        if let Some(other) = other.find(|other| known.contains(other) && !stands(other)) {
            return (problem.suggesting(Some(other)), None);
        }
        let near = nearest(key, known.iter().copied());
        match self.probe.home(&self.value, path, key, near.is_none()) {
            Some(home) => (problem.helped(home.hint(key)), None),
            None => {
                let slip_for = near.filter(|near| !stands(near)).map(str::to_owned);
                (problem.suggesting(near), slip_for)
            }
        }
    }

    fn problem(&self, node: usize, path: &[Step], message: &str) -> Diagnostic {
        let span = self.span(node);
        let is_number = message.starts_with("invalid type: integer")
            || message.starts_with("invalid type: floating point");
        if is_number && message.ends_with("expected a string") {
            let number = quoted(message).next().unwrap_or_default();
            return self
                .document
                .problem_at(
                    &span,
                    format!("`{number}` is read as a number, and a text belongs here"),
                )
                .expecting(format!("it in quotes: `\"{number}\"`"));
        }
        match message.split_once(", expected ") {
            Some((what, expected)) => {
                // What is not one of a list of words has no nearest one.
                let words: Vec<&str> = match expected.strip_prefix("one of ") {
                    Some(words) => words.split(", ").map(|word| word.trim_matches('`')).collect(),
                    // Of two words serde says `one` or `other`.
                    None if what.starts_with("unknown variant ") => quoted(expected).collect(),
                    None => Vec::new(),
                };
                let near = quoted(what)
                    .next()
                    .and_then(|word| nearest(word, words.iter().copied()).or_else(|| in_full(word, &words)));
                let shape = value_at(&self.value, path).and_then(|value| self.shape(path, value, expected));
                self.document
                    .problem_at(&span, found(what))
                    .expecting(shape.unwrap_or_else(|| wanted(expected)))
                    .suggesting(near)
            }
            None => self.document.problem_at(&span, message.to_owned()),
        }
    }

    /// What would have been accepted in place of `value`, where it is of another shape.
    fn shape(&self, path: &[Step], value: &Value, expected: &str) -> Option<String> {
        if let Some(count) = expected.strip_prefix("an array of length ") {
            let is_list = value.is_sequence();
            return if is_list {
                None
            } else {
                self.probe.list_of(count.parse().ok()?, path, value)
            };
        }
        match expected {
            "a sequence" => self.probe.list_for(path, value),
            "a map" => self.probe.keys_for(path, value),
            // What serde says of a word in whose place stands something else.
            "a Value::Tagged enum" => self.probe.words(path),
            _ => None,
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
        let mut node = self.top;
        for step in path {
            node = match (&self.nodes.get(node)?.children, step) {
                (Children::Items(items), Step::Index(index)) => *items.get(*index)?,
                (Children::Entries(entries), Step::Key(key)) => entries.get(entries.find(key)?)?.node,
                _ => return Some(node),
            };
        }
        Some(node)
    }

    fn cut_out(&mut self, path: &[Step]) -> bool {
        self.is_whole = false;
        let Some((last, parents)) = path.split_last() else {
            return false;
        };
        let Some((parent, value, children)) = self.at(parents) else {
            return false;
        };
        match (last, value, children) {
            (Step::Key(key), Value::Mapping(values), Children::Entries(entries)) => {
                entries.remove(key);
                let was_there = values.remove(key.as_str()).is_some();
                self.cut.push((parent, key.clone()));
                was_there
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

    /// Gives the key at the end of a path the name that is meant.
    fn rename(&mut self, path: &[Step], meant: &str) -> bool {
        let Some((Step::Key(key), parents)) = path.split_last() else {
            return false;
        };
        match self.at(parents) {
            Some((_, Value::Mapping(values), Children::Entries(entries))) => {
                entries.rename(key, meant);
                let value = values.remove(key.as_str());
                value.is_some_and(|value| values.insert(meant.into(), value).is_none())
            }
            _ => false,
        }
    }

    /// The node at a path, with its value and what it consists of.
    fn at(&mut self, path: &[Step]) -> Option<(usize, &mut Value, &mut Children)> {
        let number = self.node(path)?;
        let value = path.iter().try_fold(&mut self.value, |value, step| match step {
            Step::Key(key) => value.get_mut(key.as_str()),
            Step::Index(index) => value.get_mut(*index),
        })?;
        Some((number, value, &mut self.nodes.to_mut().get_mut(number)?.children))
    }
}
