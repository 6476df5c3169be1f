//! What is wrong with an input, and where. Text for people is made by the caller.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use crate::look::stranger;

/// A stretch of an input file.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Place {
    /// The file's name as the caller gave it.
    pub file: Arc<str>,
    /// Line of the first character, counted from 1; 0 where something is of no place in the file.
    pub line: usize,
    /// Column of the first character, in characters, counted from 1.
    pub column: usize,
    /// Byte range in the text.
    pub bytes: Range<usize>,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.file, self.line, self.column)
    }
}

/// One problem in an input file.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Diagnostic {
    /// What is wrong, in one line.
    pub message: String,
    /// Where it is.
    pub place: Place,
    /// The line that the place begins in; empty where it is too long to be shown.
    pub line: String,
    /// The text at that place, cut to one line.
    pub offending: String,
    /// What would have been accepted there.
    pub expected: Option<String>,
    /// How to mend it, where that can be said.
    pub help: Option<String>,
}

impl Diagnostic {
    /// A problem at a line and column of a file, for those who have not its text.
    #[must_use]
    pub fn at(file: &str, line: usize, column: usize, message: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            place: Place {
                file: file.into(),
                line,
                column,
                bytes: 0..0,
            },
            line: String::new(),
            offending: String::new(),
            expected: None,
            help: None,
        }
    }

    /// The same problem with what would have been accepted. `one of` a single thing is that thing.
    #[must_use]
    pub fn expecting(mut self, expected: impl Into<String>) -> Self {
        let expected = expected.into();
        let single = expected.strip_prefix("one of ");
        let single = single.filter(|words| !words.contains([',', ' ']));
        self.expected = Some(single.map_or(expected.clone(), str::to_owned));
        self
    }

    /// The same problem with a way to mend it.
    #[must_use]
    pub fn helped(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// The same problem with a hint at the nearest accepted word, if there is one.
    #[must_use]
    pub fn suggesting(self, nearest: Option<&str>) -> Self {
        match nearest {
            Some(word) => self.helped(format!("did you mean `{word}`?")),
            None => self,
        }
    }
}

impl Diagnostic {
    /// The same problem, told of a letter in what it speaks of that only looks like another.
    fn unmasked(self) -> Self {
        let quoted = self.message.split('`').skip(1).step_by(2);
        let found = quoted.filter_map(stranger).next();
        let Some((strange, own)) = found else { return self };
        let told = format!(
            "`{strange}` (U+{:04X}) only looks like `{own}`",
            u32::from(strange)
        );
        let help = match &self.help {
            Some(help) if help.ends_with(&told) => return self,
            Some(help) => format!("{help} {told}"),
            None => told,
        };
        self.helped(help)
    }
}

impl std::error::Error for Diagnostic {}

impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.place.line > 0 {
            write!(f, "{}: ", self.place)?;
        }
        f.write_str(&self.message)?;
        if let Some(expected) = &self.expected {
            write!(f, "; expected {expected}")?;
        }
        if let Some(help) = &self.help {
            write!(f, "; {help}")?;
        }
        Ok(())
    }
}

/// The problems of an input, in the order of the text. At most a stated number is kept; the rest is counted.
#[derive(Clone, PartialEq, Eq, thiserror::Error)]
pub struct Diagnostics {
    /// The problems kept.
    pub list: Vec<Diagnostic>,
    /// How many more there were.
    pub omitted: usize,
    most: usize,
}

impl Diagnostics {
    /// An empty collection that keeps at most `most` problems.
    #[must_use]
    pub fn keeping(most: usize) -> Self {
        Self {
            list: Vec::new(),
            omitted: 0,
            most: most.max(1),
        }
    }

    /// An empty collection that keeps as many.
    #[must_use]
    pub fn like(&self) -> Self {
        Self::keeping(self.most)
    }

    /// Adds a problem, unless the same has been told of the same place: a run is read for each of its steps.
    pub fn push(&mut self, diagnostic: Diagnostic) {
        let diagnostic = diagnostic.unmasked();
        if self.list.len() >= self.most {
            self.omitted += 1;
        } else if !self.list.contains(&diagnostic) {
            self.list.push(diagnostic);
        }
    }

    /// Adds a problem, or counts it where there is no room for more: then it is not made, which matters where names are
    /// looked for that it may have been meant for.
    pub fn push_with(&mut self, diagnostic: impl FnOnce() -> Diagnostic) {
        if self.list.len() >= self.most {
            self.omitted += 1;
        } else {
            self.push(diagnostic());
        }
    }

    /// Adds a problem, if there is one.
    pub fn extend(&mut self, diagnostic: Option<Diagnostic>) {
        if let Some(diagnostic) = diagnostic {
            self.push(diagnostic);
        }
    }

    /// Adds another input's problems.
    pub fn append(&mut self, other: Self) {
        self.omitted += other.omitted;
        for diagnostic in other.list {
            self.push(diagnostic);
        }
    }

    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// The problems in the order of the text, or `value` if there are none.
    ///
    /// # Errors
    /// The problems, if there are any.
    pub fn or<T>(mut self, value: Option<T>) -> Result<T, Self> {
        match value {
            Some(value) if self.is_empty() => Ok(value),
            _ => {
                self.list
                    .sort_by_cached_key(|one| (Arc::clone(&one.place.file), one.place.bytes.start));
                Err(self)
            }
        }
    }
}

impl IntoIterator for Diagnostics {
    type Item = Diagnostic;
    type IntoIter = std::vec::IntoIter<Diagnostic>;

    fn into_iter(self) -> Self::IntoIter {
        self.list.into_iter()
    }
}

impl<'a> IntoIterator for &'a Diagnostics {
    type Item = &'a Diagnostic;
    type IntoIter = std::slice::Iter<'a, Diagnostic>;

    fn into_iter(self) -> Self::IntoIter {
        self.list.iter()
    }
}

/// As for people: a program whose `main` gives errors back prints them so.
impl fmt::Debug for Diagnostics {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Display for Diagnostics {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, diagnostic) in self.list.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{diagnostic}")?;
        }
        if self.omitted > 0 {
            write!(f, "\nand {} more", self.omitted)?;
        }
        Ok(())
    }
}
