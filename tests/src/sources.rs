//! The texts that the sources have for what is wrong with an input, so that each can be asked for an example.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// A message as the sources have it, with what varies left open.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Template {
    /// The source file, below the crates.
    pub file: String,
    /// The text.
    pub text: String,
}

impl Template {
    /// Whether a message says this.
    #[must_use]
    pub fn is_said_by(&self, message: &str) -> bool {
        let mut rest = message;
        pieces(&self.text)
            .iter()
            .all(|piece| match rest.split_once(piece.as_str()) {
                Some((_, after)) => {
                    rest = after;
                    true
                }
                None => false,
            })
    }

    /// Whether it has words of its own; others hand a message on.
    fn has_words(&self) -> bool {
        pieces(&self.text).iter().any(|piece| piece.trim().len() > 3)
    }
}

/// What stands between the places of a template that vary.
fn pieces(text: &str) -> Vec<String> {
    let mut pieces = vec![String::new()];
    let mut depth = 0_u32;
    let mut letters = text.replace("{{", "\u{1}").replace("}}", "\u{2}");
    letters.retain(|letter| letter != '\n');
    for letter in letters.chars() {
        let own = match letter {
            '{' => {
                depth += 1;
                pieces.push(String::new());
                None
            }
            '}' => {
                depth = depth.saturating_sub(1);
                None
            }
            '\u{1}' => Some('{'),
            '\u{2}' => Some('}'),
            other => Some(other),
        };
        if let (0, Some(own), Some(last)) = (depth, own, pieces.last_mut()) {
            last.push(own);
        }
    }
    pieces.retain(|piece| !piece.trim().is_empty());
    pieces
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    for entry in entries.flatten() {
        let path = entry.path();
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|one| one == "rs") {
            found.push(path);
        }
    }
}

/// A string literal up to its end, its escapes undone, and how long it is in the source.
fn literal(rest: &str) -> (String, usize) {
    let mut text = String::new();
    let mut letters = rest.char_indices();
    while let Some((at, letter)) = letters.next() {
        match letter {
            '"' => return (text, at + 1),
            '\\' => match letters.next() {
                // The next line goes on after what it is indented by.
                Some((at, '\n')) => {
                    let skipped = rest.len() - rest[at..].trim_start().len();
                    let (more, length) = literal(&rest[skipped..]);
                    return (text + &more, skipped + length);
                }
                Some((_, 'n')) => text.push('\n'),
                Some((_, other)) => text.push(other),
                None => break,
            },
            other => text.push(other),
        }
    }
    (text, rest.len())
}

/// A part of a source that can be told apart from others.
enum Part {
    /// A comment, or an attribute that has no message.
    Aside,
    Literal(String),
    Other,
}

/// The part that a source begins with, and its length.
fn part(source: &str) -> (Part, usize) {
    let up_to = |end: &str| source.find(end).map_or(source.len(), |at| at + end.len());
    if source.starts_with("//") {
        return (Part::Aside, up_to("\n"));
    }
    if source.starts_with("r#\"") {
        return (Part::Other, up_to("\"#"));
    }
    let attribute = source.strip_prefix("#[").or(source.strip_prefix("#!["));
    if let Some(rest) = attribute.filter(|rest| !rest.starts_with("error(")) {
        let (_, length) = enclosed(rest, ['[', ']']);
        return (Part::Aside, source.len() - rest.len() + length);
    }
    if let Some(rest) = source.strip_prefix('"') {
        let (text, length) = literal(rest);
        return (Part::Literal(text), length + 1);
    }
    // A letter in quotes, or a lifetime.
    let mut letters = source.chars();
    let length = match (letters.next(), letters.next(), letters.next()) {
        (Some('\''), Some('\\'), Some(escaped)) => 2 + escaped.len_utf8() + up_to_quote(letters.as_str()),
        (Some('\''), Some(own), Some('\'')) => 2 + own.len_utf8(),
        (first, ..) => first.map_or(1, char::len_utf8),
    };
    (Part::Other, length)
}

fn up_to_quote(rest: &str) -> usize {
    rest.find('\'').map_or(rest.len(), |at| at + 1)
}

/// The longest text up to where brackets close that open before `rest`, and how far that is.
fn enclosed(rest: &str, [open, close]: [char; 2]) -> (Option<String>, usize) {
    let (mut depth, mut at) = (1_u32, 0);
    let mut longest: Option<String> = None;
    while let Some(own) = rest.get(at..).filter(|own| depth > 0 && !own.is_empty()) {
        let (part, length) = part(own);
        match part {
            Part::Literal(text) if longest.as_ref().is_none_or(|kept| text.len() > kept.len()) => {
                longest = Some(text);
            }
            Part::Other if own.starts_with(open) => depth += 1,
            Part::Other if own.starts_with(close) => depth -= 1,
            _ => {}
        }
        at += length;
    }
    (longest, at)
}

/// The sources of crates, each by its name below the crates and without its tests.
#[must_use]
pub fn sources(crates: &[&str]) -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    let mut found = Vec::new();
    for name in crates {
        let mut paths = Vec::new();
        files(&root.join(name).join("src"), &mut paths);
        paths.sort();
        for path in paths.into_iter().filter(|path| !path.ends_with("tests.rs")) {
            let whole =
                std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
            let source = whole.split("#[cfg(test)]").next().unwrap_or_default();
            let file = path.strip_prefix(&root).unwrap_or(&path);
            found.push((file.to_string_lossy().into_owned(), source.to_owned()));
        }
    }
    found
}

/// Of each call of one of these functions the longest text that it is given.
#[must_use]
pub fn texts_given_to(functions: &[&str], sources: &[(String, String)]) -> BTreeSet<Template> {
    let mut found = BTreeSet::new();
    for (file, source) in sources {
        for before in functions {
            for (at, _) in source.match_indices(before) {
                let start = source[..at].rfind('\n').map_or(0, |line| line + 1);
                let is_function = source[start..at].trim_end().ends_with("fn");
                let is_comment = source[start..].trim_start().starts_with("//");
                let (text, _) = enclosed(&source[at + before.len()..], ['(', ')']);
                let file = file.clone();
                let template = text.map(|text| Template { file, text });
                if let (false, false, Some(template)) = (is_function, is_comment, template) {
                    found.insert(template);
                }
            }
        }
    }
    found.retain(Template::has_words);
    found
}

/// Every text of three words or more.
#[must_use]
pub fn phrases(sources: &[(String, String)]) -> BTreeSet<Template> {
    let mut found = BTreeSet::new();
    for (file, source) in sources {
        let mut at = 0;
        while let Some(rest) = source.get(at..).filter(|rest| !rest.is_empty()) {
            let (part, length) = part(rest);
            if let Part::Literal(text) = part
                && text.split_whitespace().count() > 2
            {
                let file = file.clone();
                found.insert(Template { file, text });
            }
            at += length;
        }
    }
    found.retain(Template::has_words);
    found
}

#[cfg(test)]
mod tests {
    use super::{Template, phrases, texts_given_to};

    const SOURCE: &str = r##"
        #![expect(clippy::all, reason = "not a message of anything either")]
        // a comment with "three words here"
        #[expect(dead_code, reason = "not a message of anything")]
        const QUOTE: char = '"';
        fn problem(text: &str) {}
        fn one<'a>() {
            problem(&format!("the {thing} is `{}` \
                and no more", other("x")));
            let message = "a \"message\" that is handed on";
            problem(message);
        }
        #[error("it has {0} sides")]
        "##;

    fn texts(found: impl IntoIterator<Item = Template>) -> Vec<String> {
        found.into_iter().map(|one| one.text).collect()
    }

    #[test]
    fn texts_are_found_in_code_only() {
        let sources = [("file".to_owned(), SOURCE.to_owned())];
        let whole = "the {thing} is `{}` and no more";
        assert_eq!(texts(texts_given_to(&["problem("], &sources)), [whole]);
        assert_eq!(
            texts(phrases(&sources)),
            ["a \"message\" that is handed on", "it has {0} sides", whole]
        );
    }

    #[test]
    fn what_varies_may_be_anything() {
        let template = Template {
            file: String::new(),
            text: "the {thing} is `{}` and {{no}} more".to_owned(),
        };
        assert!(template.is_said_by("error: the trap is `2 in` and {no} more than that"));
        assert!(!template.is_said_by("error: the trap is `2 in` and no more than that"));
        assert!(!template.is_said_by("the trap is `2 in`"));
    }
}
