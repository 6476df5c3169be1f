//! From text to a value tree and the place of every node in it, in one bounded pass.
//!
//! It never recurses and never looks at what a value means.

use std::borrow::Cow;
use std::collections::HashSet;
use std::ops::Range;
use std::sync::Arc;

use saphyr_parser::{Event, Parser, ScalarStyle};
use serde_yaml::{Mapping, Value};

use crate::{Cursor, Diagnostic, Diagnostics, Place};

/// How large an input may be. The defaults suit files that people write; an embedder may set others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most bytes of text.
    pub bytes: usize,
    /// Most levels of nesting.
    pub depth: usize,
    /// Most keys and values.
    pub nodes: usize,
    /// Most problems reported for one file.
    pub diagnostics: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            bytes: 16 << 20,
            depth: 32,
            nodes: 2_000_000,
            diagnostics: 50,
        }
    }
}

impl Limits {
    /// Limits for rule sets, amendments and worked examples, which are far smaller than networks may be.
    #[must_use]
    pub fn rules() -> Self {
        Self {
            bytes: 4 << 20,
            nodes: 250_000,
            ..Self::default()
        }
    }
}

/// An input: its values, and in which text and where in it each stands.
#[derive(Debug, Clone)]
pub struct Document {
    /// The text that was read; of a merged document the base's, then those merged into it.
    pub(crate) sources: Vec<Source>,
    pub(crate) root: Value,
    /// Every value below the values that hold it, the one at the top last.
    pub(crate) nodes: Vec<Node>,
}

/// A file's name and text, able to turn byte ranges into places.
#[derive(Debug, Clone)]
pub(crate) struct Source {
    name: Arc<str>,
    text: Arc<str>,
    line_starts: Arc<[usize]>,
    /// How many characters come before every [`BLOCK`]th byte; none where each byte is one.
    characters: Option<Arc<[usize]>>,
}

/// So many bytes are counted through at the most to tell in which column something stands, however long its line.
const BLOCK: usize = 1024;

/// A stretch of one of a document's texts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Span {
    pub(crate) source: u32,
    pub(crate) bytes: Range<usize>,
}

impl Span {
    /// A stretch of the first text.
    fn first(bytes: Range<usize>) -> Self {
        Self { source: 0, bytes }
    }
}

/// Where a value stands, and the nodes below it.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    pub(crate) span: Span,
    pub(crate) children: Children,
}

#[derive(Debug, Clone)]
pub(crate) enum Children {
    None,
    Items(Vec<usize>),
    Entries(Entries),
}

/// The entries of a mapping, in the order of the file.
#[derive(Debug, Clone)]
pub(crate) struct Entries {
    list: Vec<Entry>,
    /// Their numbers in the order of their keys, where they are more than a [`FEW`].
    by_key: Vec<usize>,
}

/// So many entries are looked through for a key one by one.
const FEW: usize = 16;

impl Entries {
    pub(crate) fn of(list: Vec<Entry>) -> Self {
        let mut by_key = Vec::new();
        if list.len() > FEW {
            by_key.extend(0..list.len());
            by_key.sort_by(|&one, &other| {
                list.get(one)
                    .map(|entry| &entry.key)
                    .cmp(&list.get(other).map(|entry| &entry.key))
            });
        }
        Self { list, by_key }
    }

    /// Takes out the entry with a key. Those that are left are looked through one by one.
    pub(crate) fn remove(&mut self, key: &str) {
        self.list.retain(|entry| entry.key != key);
        self.by_key.clear();
    }

    /// Gives the entry with a key another. All are looked through one by one from then on.
    pub(crate) fn rename(&mut self, key: &str, new: &str) {
        for entry in self.list.iter_mut().filter(|entry| entry.key == key) {
            new.clone_into(&mut entry.key);
        }
        self.by_key.clear();
    }

    /// The number of the entry with a key.
    pub(crate) fn find(&self, key: &str) -> Option<usize> {
        if self.by_key.is_empty() {
            return self.list.iter().position(|entry| entry.key == key);
        }
        let key_of = |number: usize| self.list.get(number).map_or("", |entry| entry.key.as_str());
        let found = self.by_key.binary_search_by(|&number| key_of(number).cmp(key));
        found.ok().and_then(|at| self.by_key.get(at)).copied()
    }
}

impl std::ops::Deref for Entries {
    type Target = [Entry];

    fn deref(&self) -> &[Entry] {
        &self.list
    }
}

/// A key of a mapping: its text, its place, and the node of its value.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    pub(crate) key: String,
    pub(crate) span: Span,
    pub(crate) node: usize,
}

impl Source {
    fn new(name: &str, text: &str) -> Self {
        let line_starts = std::iter::once(0)
            .chain(text.match_indices('\n').map(|(at, _)| at + 1))
            .collect();
        let characters = (!text.is_ascii()).then(|| {
            let blocks = text.as_bytes().chunks(BLOCK).scan(0, |before, block| {
                let own = *before;
                *before += characters_in(block);
                Some(own)
            });
            blocks.collect()
        });
        Self {
            name: name.into(),
            text: text.into(),
            line_starts,
            characters,
        }
    }

    /// How many characters come before a byte.
    fn characters_before(&self, at: usize) -> usize {
        let at = at.min(self.text.len());
        let Some(characters) = &self.characters else {
            return at;
        };
        // The end of the text may be the beginning of a block that there is not.
        let block = (at / BLOCK).min(characters.len().saturating_sub(1));
        let rest = self.text.as_bytes().get(block * BLOCK..at).unwrap_or_default();
        characters.get(block).copied().unwrap_or(0) + characters_in(rest)
    }

    pub(crate) fn place(&self, bytes: Range<usize>) -> Place {
        let line = self.line_starts.partition_point(|&start| start <= bytes.start);
        let start = self.line_starts.get(line.saturating_sub(1)).copied().unwrap_or(0);
        Place {
            file: Arc::clone(&self.name),
            line: line.max(1),
            column: self.characters_before(bytes.start) - self.characters_before(start) + 1,
            bytes,
        }
    }

    /// The whole line around a byte, unless it is too long to be shown.
    fn line_at(&self, at: usize) -> String {
        let line = self.line_starts.partition_point(|&start| start <= at);
        let start = self.line_starts.get(line.saturating_sub(1)).copied().unwrap_or(0);
        let end = self.line_starts.get(line).copied().unwrap_or(self.text.len());
        // Of one that is too long in any case, the end is not looked for.
        let whole = self.text.get(start..end);
        let whole = whole.filter(|line| line.len() <= LONGEST_LINE + "\r\n".len());
        let line = whole.and_then(|line| line.lines().next());
        line.filter(|line| line.len() <= LONGEST_LINE)
            .unwrap_or("")
            .to_owned()
    }

    pub(crate) fn diagnostic(&self, bytes: Range<usize>, message: impl Into<String>) -> Diagnostic {
        let text = self.text.get(bytes.clone()).unwrap_or("");
        let line = text.chars().take_while(|&letter| letter != '\n');
        let mut offending: String = line.take(80).collect();
        offending.truncate(offending.trim_end().len());
        Diagnostic {
            message: message.into(),
            line: self.line_at(bytes.start),
            place: self.place(bytes),
            offending,
            expected: None,
            help: None,
        }
    }
}

/// How many characters begin among some bytes of a text.
fn characters_in(bytes: &[u8]) -> usize {
    // The further bytes of a character in UTF-8 all begin with the bits 10.
    bytes.iter().filter(|&&byte| byte & 0xC0 != 0x80).count()
}

/// Lines above this length, in bytes, are not kept with a problem.
const LONGEST_LINE: usize = 400;

/// The key by which a file says what it is.
pub const FORMAT_KEY: &str = "crownweir";

impl Document {
    /// Reads `text`, calling it `name` in messages.
    ///
    /// # Errors
    /// What keeps the text from being read: not UTF-8, not YAML, empty, larger or deeper than `limits`, a
    /// duplicate key, an anchor, a tag, several documents.
    pub fn read(name: &str, text: &[u8], limits: &Limits) -> Result<Self, Diagnostics> {
        let mut problems = Diagnostics::keeping(limits.diagnostics);
        if text.len() > limits.bytes {
            // Whoever reads files stops beyond the limit, and does not know how much more there is.
            let message = format!(
                "the file holds more than the {} bytes that are read",
                limits.bytes
            );
            problems.push(Source::new(name, "").diagnostic(0..0, message));
            return Err(problems);
        }
        let text = match std::str::from_utf8(text) {
            Ok(text) => text.strip_prefix('\u{feff}').unwrap_or(text),
            Err(error) => {
                let valid = text.get(..error.valid_up_to()).unwrap_or_default();
                let source = Source::new(name, &String::from_utf8_lossy(valid));
                let at = valid.len();
                problems.push(
                    source
                        .diagnostic(at..at, "the file is not UTF-8 text from here on")
                        .helped("save it as UTF-8"),
                );
                return Err(problems);
            }
        };
        let source = Source::new(name, text);
        let tree = Builder::new(&source, limits).build(&mut problems);
        problems.or(tree.map(|(root, nodes)| Self {
            sources: vec![source],
            root,
            nodes,
        }))
    }

    /// The name that messages call the file by.
    #[must_use]
    pub fn name(&self) -> &str {
        self.sources.first().map_or("", |source| &source.name)
    }

    /// The text as read; of a merged document, the base's.
    #[must_use]
    pub fn text(&self) -> &str {
        self.sources.first().map_or("", |source| &source.text)
    }

    /// The value at the top.
    pub(crate) fn value(&self) -> &Value {
        &self.root
    }

    /// The top of the file, to walk from.
    #[must_use]
    pub fn top(&self) -> Cursor<'_> {
        Cursor::at(self, self.nodes.len().saturating_sub(1))
    }

    /// The format that the file says by its key `crownweir` that it is of.
    #[must_use]
    pub fn format(&self) -> Option<&str> {
        self.text_under(&[FORMAT_KEY])
    }

    /// The text that stands under keys, each within what the one before it holds; none where nothing does, or a value
    /// that is no text.
    #[must_use]
    pub fn text_under(&self, keys: &[&str]) -> Option<&str> {
        let value = keys.iter().try_fold(&self.root, |value, key| value.get(key));
        value?.as_str()
    }

    /// Every value that is text, with the key that it stands under, whatever holds it; those of lists with the list's key.
    pub fn texts(&self) -> impl Iterator<Item = (&str, &str)> {
        let mut left = vec![("", &self.root)];
        std::iter::from_fn(move || {
            while let Some((key, value)) = left.pop() {
                match value {
                    Value::String(text) => return Some((key, text.as_str())),
                    Value::Sequence(items) => left.extend(items.iter().map(|item| (key, item))),
                    Value::Mapping(entries) => left.extend(
                        entries
                            .iter()
                            .filter_map(|(key, value)| Some((key.as_str()?, value))),
                    ),
                    _ => {}
                }
            }
            None
        })
    }

    /// Whether the file says by its key `crownweir` that it is of `format`. If not, that is a problem, and the only
    /// one worth reporting: every key of another kind of file would be another.
    pub fn is_of_format(&self, format: &str, problems: &mut Diagnostics) -> bool {
        let stated = self.root.get(FORMAT_KEY);
        // What is not even a mapping is better told by decoding.
        if !self.root.is_mapping() || stated.and_then(Value::as_str) == Some(format) {
            return true;
        }
        let at = self.top();
        let problem = match stated {
            None => at
                .problem("the file does not say what it is")
                .expecting(format!("`{FORMAT_KEY}: {format}`")),
            Some(Value::String(other)) => at
                .get(FORMAT_KEY)
                .problem(format!("this is a file of the format `{other}`"))
                .expecting(format!("`{format}`")),
            Some(_) => at
                .get(FORMAT_KEY)
                .problem("the format is a word")
                .expecting(format!("`{format}`")),
        };
        problems.push(problem);
        false
    }

    pub(crate) fn place_of(&self, span: &Span) -> Place {
        match self.sources.get(span.source as usize) {
            Some(source) => source.place(span.bytes.clone()),
            None => Source::new("", "").place(0..0),
        }
    }

    /// Where a range of bytes of the base's text stands.
    #[must_use]
    pub fn place(&self, bytes: Range<usize>) -> Place {
        self.place_of(&Span::first(bytes))
    }

    /// A problem at a range of bytes of the base's text.
    #[must_use]
    pub fn problem(&self, bytes: Range<usize>, message: impl Into<String>) -> Diagnostic {
        self.problem_at(&Span::first(bytes), message)
    }

    pub(crate) fn problem_at(&self, span: &Span, message: impl Into<String>) -> Diagnostic {
        match self.sources.get(span.source as usize) {
            Some(source) => source.diagnostic(span.bytes.clone(), message),
            None => Source::new("", "").diagnostic(0..0, message),
        }
    }
}

/// An open mapping or sequence.
enum Frame {
    Mapping {
        start: usize,
        values: Mapping,
        entries: Vec<Entry>,
        seen: HashSet<String>,
        key: Option<(String, Range<usize>)>,
    },
    Sequence {
        start: usize,
        values: Vec<Value>,
        items: Vec<usize>,
    },
}

struct Builder<'a> {
    source: &'a Source,
    limits: &'a Limits,
    /// Byte offset of every character, only where the text is not plain ASCII.
    offsets: Option<Vec<u32>>,
    nodes: Vec<Node>,
    frames: Vec<Frame>,
    root: Option<Value>,
}

impl<'a> Builder<'a> {
    fn new(source: &'a Source, limits: &'a Limits) -> Self {
        let text = &source.text;
        let offsets = (!text.is_ascii()).then(|| {
            text.char_indices()
                .map(|(at, _)| u32::try_from(at).unwrap_or(u32::MAX))
                .collect()
        });
        Self {
            source,
            limits,
            offsets,
            nodes: Vec::new(),
            frames: Vec::new(),
            root: None,
        }
    }

    /// The scanner counts characters; everything here counts bytes.
    fn byte(&self, character: usize) -> usize {
        match &self.offsets {
            None => character.min(self.source.text.len()),
            Some(offsets) => offsets
                .get(character)
                .map_or(self.source.text.len(), |&at| at as usize),
        }
    }

    fn bytes(&self, span: saphyr_parser::Span) -> Range<usize> {
        let start = self.byte(span.start.index());
        start..self.byte(span.end.index()).max(start)
    }

    /// Whether a line is set in with a tab.
    fn has_tab_before_words(&self) -> bool {
        self.source
            .text
            .lines()
            .any(|line| line.trim_start_matches(' ').starts_with('\t') && !line.trim().is_empty())
    }

    /// What mends a text that the scanner gives up at a byte, where that can be guessed.
    fn advice(&self, given_up: &str, at: usize) -> Option<&'static str> {
        let at_brace = || {
            let (before, after) = self.source.text.split_at_checked(at)?;
            Some(before.trim_end().ends_with('}') || after.starts_with('{'))
        };
        if self.has_tab_before_words() {
            Some("lines begin with spaces in YAML, not with tabs")
        } else if given_up.contains("a flow mapping") && at_brace() == Some(true) {
            Some("a text with braces in it stands in quotation marks, as in `name: \"WC {storey}\"`")
        } else if given_up.contains("parsing a block") {
            Some(
                "what belongs together begins in the same column: the keys of a mapping, the `-` of a list's items",
            )
        } else {
            None
        }
    }

    fn build(mut self, problems: &mut Diagnostics) -> Option<(Value, Vec<Node>)> {
        let text = Arc::clone(&self.source.text);
        let mut documents = 0;
        for event in Parser::new_from_str(&text) {
            let (event, span) = match event {
                Ok(event) => event,
                Err(error) => {
                    let at = self.byte(error.marker().index());
                    let end = text.get(at..).and_then(|rest| rest.chars().next());
                    let bytes = at..at + end.map_or(0, char::len_utf8);
                    // The scanner has a limit of its own for brackets, and may meet it first.
                    let message = if error.info().contains("recursion limit") {
                        format!("nested more than {} deep", self.limits.depth)
                    } else {
                        format!("not readable as YAML: {}", error.info())
                    };
                    let problem = self.source.diagnostic(bytes, message);
                    problems.push(match self.advice(error.info(), at) {
                        Some(advice) => problem.helped(advice),
                        None => problem,
                    });
                    return None;
                }
            };
            if matches!(event, Event::DocumentStart(_)) {
                documents += 1;
            }
            let refused = if documents > 1 {
                Some("a second document starts here; a file holds one".to_owned())
            } else {
                self.take(event, span, problems)
            };
            if let Some(message) = refused {
                problems.push(self.source.diagnostic(self.bytes(span), message));
                return None;
            }
        }
        if self.root.as_ref().is_none_or(Value::is_null) {
            problems.push(self.source.diagnostic(0..0, "the file is empty"));
            return None;
        }
        self.root.map(|root| (root, self.nodes))
    }

    /// Takes one event in; a reason to stop comes back.
    fn take(
        &mut self,
        event: Event<'_>,
        span: saphyr_parser::Span,
        problems: &mut Diagnostics,
    ) -> Option<String> {
        let bytes = self.bytes(span);
        if self.nodes.len() >= self.limits.nodes {
            return Some(format!("the file holds more than {} values", self.limits.nodes));
        }
        match event {
            Event::Scalar(_, _, anchor, _)
            | Event::SequenceStart(anchor, _)
            | Event::MappingStart(anchor, _)
                if anchor != 0 =>
            {
                return Some("anchors and aliases are not read in these files".to_owned());
            }
            Event::Alias(_) => return Some("anchors and aliases are not read in these files".to_owned()),
            Event::Scalar(_, _, _, Some(_))
            | Event::SequenceStart(_, Some(_))
            | Event::MappingStart(_, Some(_)) => {
                return Some("tags (`!...`) are not read in these files".to_owned());
            }
            Event::SequenceStart(..) | Event::MappingStart(..) if self.frames.len() >= self.limits.depth => {
                return Some(format!("nested more than {} deep", self.limits.depth));
            }
            Event::Scalar(text, style, ..) => return self.scalar(text, style, bytes, problems),
            Event::MappingStart(..) => {
                if self.key_is_due() {
                    return Some("a key is a single word or phrase, not keys with values".to_owned());
                }
                self.frames.push(Frame::Mapping {
                    start: bytes.start,
                    values: Mapping::new(),
                    entries: Vec::new(),
                    seen: HashSet::new(),
                    key: None,
                });
            }
            Event::SequenceStart(..) => {
                if self.key_is_due() {
                    return Some("a key is a single word or phrase, not a list".to_owned());
                }
                self.frames.push(Frame::Sequence {
                    start: bytes.start,
                    values: Vec::new(),
                    items: Vec::new(),
                });
            }
            Event::MappingEnd | Event::SequenceEnd => match self.frames.pop() {
                Some(Frame::Mapping {
                    start,
                    values,
                    entries,
                    ..
                }) => self.put(
                    Value::Mapping(values),
                    start..bytes.start.max(start),
                    Children::Entries(Entries::of(entries)),
                ),
                Some(Frame::Sequence { start, values, items }) => self.put(
                    Value::Sequence(values),
                    start..bytes.start.max(start),
                    Children::Items(items),
                ),
                None => {}
            },
            _ => {}
        }
        None
    }

    fn key_is_due(&self) -> bool {
        matches!(self.frames.last(), Some(Frame::Mapping { key: None, .. }))
    }

    fn scalar(
        &mut self,
        text: Cow<'_, str>,
        style: ScalarStyle,
        bytes: Range<usize>,
        problems: &mut Diagnostics,
    ) -> Option<String> {
        if let Some(Frame::Mapping {
            key: key @ None,
            seen,
            ..
        }) = self.frames.last_mut()
        {
            if !seen.insert(text.to_string()) {
                let message = format!("the key `{text}` stands here a second time");
                problems.push(self.source.diagnostic(bytes.clone(), message));
            }
            *key = Some((text.into_owned(), bytes));
            return None;
        }
        let value = if matches!(style, ScalarStyle::Plain) {
            plain_value(text)
        } else {
            Value::String(text.into_owned())
        };
        self.put(value, bytes, Children::None);
        None
    }

    fn put(&mut self, value: Value, bytes: Range<usize>, children: Children) {
        let node = self.nodes.len();
        self.nodes.push(Node {
            span: Span::first(bytes),
            children,
        });
        match self.frames.last_mut() {
            None => self.root = Some(value),
            Some(Frame::Sequence { values, items, .. }) => {
                values.push(value);
                items.push(node);
            }
            Some(Frame::Mapping {
                values, entries, key, ..
            }) => {
                if let Some((key, bytes)) = key.take() {
                    values.insert(Value::String(key.clone()), value);
                    entries.push(Entry {
                        key,
                        span: Span::first(bytes),
                        node,
                    });
                }
            }
        }
    }
}

/// An unquoted scalar: only what reads the same in every YAML version becomes a number, a truth value or
/// nothing; the rest (`07`, `1_000`, `1.10`, `yes`, `.nan`) stays text, digit for digit.
pub(crate) fn plain_value(text: Cow<'_, str>) -> Value {
    match text.as_ref() {
        "" | "~" | "null" => return Value::Null,
        "true" => return Value::Bool(true),
        "false" => return Value::Bool(false),
        _ => {}
    }
    if let Ok(whole) = text.parse::<i64>()
        && whole.to_string() == text
    {
        return Value::Number(whole.into());
    }
    if text
        .bytes()
        .all(|byte| byte.is_ascii_digit() || byte == b'.' || byte == b'-')
        && let Ok(number) = text.parse::<f64>()
        && number.to_string() == text
    {
        return Value::Number(number.into());
    }
    Value::String(text.into_owned())
}
