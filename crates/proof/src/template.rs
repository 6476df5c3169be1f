//! A network with placeholders, as it stands in an example file, and the networks that come of filling it.
//!
//! The text is filled where it stands, so that every problem is told at its line and column in the example file.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostics, Document, Limits, nearest};
use crownweir_network::Network;

/// What stands for each placeholder.
pub(crate) type Puts = BTreeMap<String, String>;

/// A placeholder: where its `$` stands, and its name.
fn placeholders(text: &str) -> impl Iterator<Item = (Range<usize>, &str)> {
    text.match_indices('$').filter_map(|(at, _)| {
        let rest = text.get(at + 1..)?;
        if !rest.starts_with(|first: char| first.is_ascii_uppercase()) {
            return None;
        }
        let is_part = |byte: u8| byte.is_ascii_uppercase() || byte.is_ascii_digit() || byte == b'_';
        let length = rest.bytes().take_while(|&byte| is_part(byte)).count();
        Some((at..at + 1 + length, rest.get(..length)?))
    })
}

/// `text` with every placeholder filled; the name of one that nothing is put for otherwise. Either way all names in it
/// count as `used`.
pub(crate) fn fill(text: &str, puts: &Puts, used: &mut BTreeSet<String>) -> Result<String, String> {
    let mut filled = String::with_capacity(text.len());
    let mut done = 0;
    used.extend(placeholders(text).map(|(_, name)| name.to_owned()));
    for (bytes, name) in placeholders(text) {
        let put = puts.get(name).ok_or_else(|| name.to_owned())?;
        filled.push_str(text.get(done..bytes.start).unwrap_or_default());
        filled.push_str(put);
        done = bytes.end;
    }
    filled.push_str(text.get(done..).unwrap_or_default());
    Ok(filled)
}

/// A network with placeholders.
#[derive(Debug, Clone)]
pub(crate) struct Template {
    document: Arc<Document>,
    bytes: Range<usize>,
    line: usize,
    column: usize,
}

/// A placeholder that nothing is put for.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Lacking {
    pub(crate) name: String,
    /// A name that is put and is spelled much like it.
    pub(crate) near: Option<String>,
    /// Where it stands first.
    pub(crate) bytes: Range<usize>,
}

/// A stretch of filled text, and where in the file it comes from.
pub(crate) struct Origin {
    filled: usize,
    file: usize,
    /// Whether it is the file's own text, and not what was put there.
    own: bool,
}

impl Template {
    /// The mapping at `at`, a key's value in `document`.
    pub(crate) fn at(document: &Arc<Document>, at: Cursor<'_>) -> Self {
        let place = at.place();
        let mut bytes = place.bytes.clone();
        let text = document.text();
        // The closing brace is not counted in.
        if text.get(bytes.clone()).is_some_and(|own| own.starts_with('{')) {
            bytes.end = text.len().min(bytes.end + 1);
        }
        Self {
            document: Arc::clone(document),
            bytes,
            line: place.line,
            column: place.column,
        }
    }

    /// The names of its placeholders.
    pub(crate) fn names(&self) -> Vec<&str> {
        let text = self.document.text().get(self.bytes.clone()).unwrap_or_default();
        placeholders(text).map(|(_, name)| name).collect()
    }

    /// The text filled, standing at the same line and column as in the file.
    ///
    /// # Errors
    /// The placeholders that nothing is put for.
    pub(crate) fn filled(&self, puts: &Puts) -> Result<(String, Vec<Origin>), Vec<Lacking>> {
        let text = self.document.text().get(self.bytes.clone()).unwrap_or_default();
        let mut filled = "\n".repeat(self.line - 1);
        filled.extend(std::iter::repeat_n(' ', self.column - 1));
        let mut origins = Vec::new();
        let mut lacking: Vec<Lacking> = Vec::new();
        let mut done = 0;
        let own = |filled: &mut String, origins: &mut Vec<Origin>, from: usize, to: usize| {
            origins.push(Origin {
                filled: filled.len(),
                file: self.bytes.start + from,
                own: true,
            });
            filled.push_str(text.get(from..to).unwrap_or_default());
        };
        for (bytes, name) in placeholders(text) {
            own(&mut filled, &mut origins, done, bytes.start);
            let at = self.bytes.start + bytes.start..self.bytes.start + bytes.end;
            let Some(put) = puts.get(name) else {
                if !lacking.iter().any(|one| one.name == name) {
                    let known = puts.keys().map(String::as_str);
                    lacking.push(Lacking {
                        name: name.to_owned(),
                        near: nearest(name, known).map(str::to_owned),
                        bytes: at,
                    });
                }
                continue;
            };
            origins.push(Origin {
                filled: filled.len(),
                file: at.start,
                own: false,
            });
            filled.push_str(put);
            done = bytes.end;
        }
        own(&mut filled, &mut origins, done, text.len());
        if lacking.is_empty() {
            Ok((filled, origins))
        } else {
            Err(lacking)
        }
    }

    /// The network that comes of the text filled.
    pub(crate) fn network(
        &self,
        (text, origins): &(String, Vec<Origin>),
        puts: &Puts,
        limits: &Limits,
        problems: &mut Diagnostics,
    ) -> Option<Network> {
        let found = match Network::read(self.document.name(), text.as_bytes(), limits) {
            Ok(network) => return Some(network),
            Err(found) => found,
        };
        for mut problem in found.list {
            let back = |byte: usize| {
                let before = origins.partition_point(|origin| origin.filled <= byte);
                match before.checked_sub(1).and_then(|last| origins.get(last)) {
                    Some(origin) if origin.own => origin.file + (byte - origin.filled),
                    Some(origin) => origin.file,
                    None => self.bytes.start,
                }
            };
            let start = back(problem.place.bytes.start);
            let end = back(problem.place.bytes.end).max(start);
            problem.place = self.document.place(start..end);
            if problem.help.is_none() && !puts.is_empty() {
                let values: Vec<_> = puts.iter().map(|(name, put)| format!("{name} {put}")).collect();
                problem.help = Some(format!("so it is with {}", values.join(", ")));
            }
            problems.push(problem);
        }
        problems.omitted += found.omitted;
        None
    }
}
