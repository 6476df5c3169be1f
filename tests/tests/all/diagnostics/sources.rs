//! The messages that the sources give to what is wrong with an input, as far as they stand there as text.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The crates that read files and values.
const CRATES: [&str; 7] = [
    "document",
    "network",
    "proof",
    "quantity",
    "rulebook",
    "shop",
    "vocabulary",
];

/// What programs that edit a network are told; no file brings it about.
const OF_NO_FILE: &str = "network/src/edit.rs";

/// What a message follows in the sources.
const BEFORE: [&str; 5] = [
    "problem(",
    "problem_at(",
    "Diagnostic::at(",
    "#[error(",
    "::custom(",
];

/// A message as the sources have it, with what varies left open.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Template {
    /// The source file, below the crates.
    pub(super) file: String,
    /// The text.
    pub(super) text: String,
}

impl Template {
    /// Whether a message says this.
    pub(super) fn is_said_by(&self, message: &str) -> bool {
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
}

/// What stands between the places of a template that vary.
fn pieces(text: &str) -> Vec<String> {
    let mut pieces = vec![String::new()];
    let mut depth = 0_u32;
    let mut letters = text.replace("{{", "\u{1}").replace("}}", "\u{2}");
    letters.retain(|letter| letter != '\n');
    for letter in letters.chars() {
        match letter {
            '{' => {
                depth += 1;
                pieces.push(String::new());
            }
            '}' => depth = depth.saturating_sub(1),
            '\u{1}' if depth == 0 => pieces.last_mut().expect("one").push('{'),
            '\u{2}' if depth == 0 => pieces.last_mut().expect("one").push('}'),
            other if depth == 0 => pieces.last_mut().expect("one").push(other),
            _ => {}
        }
    }
    pieces.retain(|piece| !piece.trim().is_empty());
    pieces
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|one| one == "rs") {
            found.push(path);
        }
    }
}

/// The longest text within the parentheses that open before `rest`.
fn message(rest: &str) -> Option<String> {
    let mut depth = 1_i32;
    let mut longest: Option<String> = None;
    let mut at = 0;
    while depth > 0 {
        let letter = rest.get(at..)?.chars().next()?;
        at += letter.len_utf8();
        match letter {
            '(' => depth += 1,
            ')' => depth -= 1,
            '"' => {
                let (text, length) = literal(rest.get(at..)?);
                at += length;
                if longest.as_ref().is_none_or(|kept| text.len() > kept.len()) {
                    longest = Some(text);
                }
            }
            _ => {}
        }
    }
    longest
}

/// A string literal up to its end, its escapes undone, and how long it is in the source.
fn literal(rest: &str) -> (String, usize) {
    let mut text = String::new();
    let mut letters = rest.char_indices();
    while let Some((at, letter)) = letters.next() {
        match letter {
            '"' => return (text, at + 1),
            '\\' => match letters.next() {
                Some((_, '\n')) => text.push(' '),
                Some((_, other)) => text.push(other),
                None => break,
            },
            other => text.push(other),
        }
    }
    (text, rest.len())
}

/// All of them.
pub(super) fn templates() -> BTreeSet<Template> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    let mut found = BTreeSet::new();
    for name in CRATES {
        let mut paths = Vec::new();
        files(&root.join(name).join("src"), &mut paths);
        for path in paths {
            let whole = std::fs::read_to_string(&path).expect("a source");
            let source = whole.split("#[cfg(test)]").next().unwrap_or_default();
            let file = path
                .strip_prefix(&root)
                .expect("below")
                .to_string_lossy()
                .into_owned();
            if file == OF_NO_FILE {
                continue;
            }
            for before in BEFORE {
                for (at, _) in source.match_indices(before) {
                    let start = source[..at].rfind('\n').map_or(0, |line| line + 1);
                    let is_function = source[start..at].trim_end().ends_with("fn");
                    let is_comment = source[start..].trim_start().starts_with("//");
                    let text = message(&source[at + before.len()..]);
                    // What has words of its own; others hand a message on.
                    let text = text.filter(|text| pieces(text).iter().any(|piece| piece.trim().len() > 3));
                    if let (false, false, Some(text)) = (is_function, is_comment, text) {
                        found.insert(Template {
                            file: file.clone(),
                            text,
                        });
                    }
                }
            }
        }
    }
    found
}
