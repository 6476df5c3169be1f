//! Changes of a document's text that leave everything else in it as it stands: comments, order, spacing, notation.
//!
//! It knows nothing of what the parts mean, and never writes a file.

use std::ops::Range;

use crate::read::{Children, Document, Node, plain_value};
use crate::{Cursor, Place};

/// Some bytes of a text and what is to stand in their place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct TextEdit {
    start: usize,
    end: usize,
    put: String,
}

impl TextEdit {
    /// The bytes that are replaced; none where something is only put in.
    #[must_use]
    pub fn bytes(&self) -> Range<usize> {
        self.start..self.end
    }

    /// What is put in their place.
    #[must_use]
    pub fn put(&self) -> &str {
        &self.put
    }
}

/// A single value as it has to be written so that it is read as the text given.
///
/// ```
/// use crownweir_document::scalar;
/// assert_eq!(scalar("1-1/2 in"), "1-1/2 in");
/// assert_eq!(scalar("tee {storey}"), "\"tee {storey}\"");
/// assert_eq!(scalar("3"), "\"3\"");
/// ```
#[must_use]
pub fn scalar(text: &str) -> String {
    let is_safe = |character: char| character.is_ascii_alphanumeric() || " -/.%()+'_:".contains(character);
    let is_plain = text.starts_with(|first: char| first.is_ascii_alphanumeric())
        && text.chars().all(is_safe)
        && !text.contains(": ")
        && !text.ends_with([':', ' '])
        && plain_value(text.into()).is_string()
        // What older YAML takes for yes or no.
        && !matches!(text, "yes" | "no" | "on" | "off");
    if is_plain {
        return text.to_owned();
    }
    quoted(text)
}

fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for character in text.chars() {
        match character {
            '"' | '\\' => out.extend(['\\', character]),
            other if other.is_control() => out.push_str(&format!("\\u{:04x}", u32::from(other))),
            other => out.push(other),
        }
    }
    out.push('"');
    out
}

impl Document {
    /// The text with `edits` made; none where two of them touch the same bytes, or one goes beyond the text.
    ///
    /// ```
    /// use crownweir_document::{Document, Limits};
    /// let text = "drain: # the long one\n  {length: 3 ft, size: 2 in}\n";
    /// let document = Document::read("n.yaml", text.as_bytes(), &Limits::default())?;
    /// let edit = document.set(document.top().get("drain"), "size", "3 in").ok_or("no mapping")?;
    /// let edited = document.edited(&[edit]).ok_or("edits overlap")?;
    /// assert_eq!(edited, "drain: # the long one\n  {length: 3 ft, size: 3 in}\n");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn edited(&self, edits: &[TextEdit]) -> Option<String> {
        let text = self.text();
        let mut ordered: Vec<&TextEdit> = edits.iter().collect();
        ordered.sort_by_key(|edit| (edit.start, edit.end));
        ordered.dedup();
        let mut out = String::with_capacity(text.len() + 64 * edits.len());
        let mut at = 0;
        for edit in ordered {
            out.push_str(text.get(at..edit.start)?);
            text.get(edit.start..edit.end)?;
            out.push_str(&edit.put);
            at = edit.end;
        }
        out.push_str(text.get(at..)?);
        Some(out)
    }

    /// The edit by which a mapping has a single value under `key`, in place of the one there if there is one; none
    /// where the cursor does not stand at a mapping, or the key holds more than a single value.
    #[must_use]
    pub fn set(&self, mapping: Cursor<'_>, key: &str, value: &str) -> Option<TextEdit> {
        self.put_under(mapping, key, &self.scalar(value))
    }

    /// The same with a part of several values, written in braces or brackets; what stands there is not kept.
    #[must_use]
    pub fn put_under(&self, mapping: Cursor<'_>, key: &str, part: &str) -> Option<TextEdit> {
        let mut edits = self.put_all(mapping, &[(key, part.to_owned())])?;
        edits.pop()
    }

    /// The edits by which a mapping gets several keys, each with its part as it is to be written; none where the cursor
    /// does not stand at a mapping.
    #[must_use]
    pub fn put_all(&self, mapping: Cursor<'_>, parts: &[(&str, String)]) -> Option<Vec<TextEdit>> {
        let node = self.own_node(mapping)?;
        let Children::Entries(entries) = &node.children else {
            return None;
        };
        let mut edits = Vec::new();
        let mut missing = Vec::new();
        for (key, part) in parts {
            let Some(entry) = entries.iter().find(|entry| entry.key == *key) else {
                let key = if self.is_json() {
                    quoted(key)
                } else {
                    (*key).to_owned()
                };
                missing.push(format!("{key}: {part}"));
                continue;
            };
            let value = self.nodes.get(entry.node)?;
            if !matches!(value.children, Children::None) && !self.is_flow(value) {
                return None;
            }
            let (start, end) = (value.span.bytes.start, self.end_of(entry.node)?);
            let lead = if start == end { " " } else { "" };
            edits.push(TextEdit {
                start,
                end,
                put: format!("{lead}{part}"),
            });
        }
        if missing.is_empty() {
            return Some(edits);
        }
        let start = node.span.bytes.start;
        edits.push(if !self.is_flow(node) {
            let indent = self.indent_at(start)?;
            let lines: Vec<String> = missing.iter().map(|line| format!("{line}\n{indent}")).collect();
            put_in(start, lines.concat())
        } else if let Some(first) = entries.first().filter(|first| first.key == "name") {
            // After the name, which files give first.
            put_in(self.end_of(first.node)?, format!(", {}", missing.join(", ")))
        } else {
            let rest = if entries.is_empty() { "" } else { ", " };
            put_in(start + 1, format!("{}{rest}", missing.join(", ")))
        });
        Some(edits)
    }

    /// The edit that takes a key with its value out of a mapping; none where there is no such key, or no other beside
    /// it.
    #[must_use]
    pub fn take_out(&self, mapping: Cursor<'_>, key: &str) -> Option<TextEdit> {
        let node = self.own_node(mapping)?;
        let Children::Entries(entries) = &node.children else {
            return None;
        };
        let at = entries.iter().position(|entry| entry.key == key)?;
        let own = entries.get(at)?;
        let (start, end) = match (
            entries.get(at + 1),
            at.checked_sub(1).and_then(|at| entries.get(at)),
        ) {
            (Some(next), _) => (own.span.bytes.start, next.span.bytes.start),
            (None, Some(before)) => (self.end_of(before.node)?, self.end_of(own.node)?),
            (None, None) => return None,
        };
        Some(TextEdit {
            start,
            end,
            put: String::new(),
        })
    }

    /// The edit that puts an item, written on one line, into a list, before the item that is now at `index` or after
    /// the last; none where the cursor does not stand at a list that has an item.
    #[must_use]
    pub fn insert(&self, list: Cursor<'_>, index: usize, item: &str) -> Option<TextEdit> {
        let node = self.own_node(list)?;
        let Children::Items(items) = &node.children else {
            return None;
        };
        let last = *items.last()?;
        let flow = self.is_flow(node);
        if let Some(&next) = items.get(index) {
            let start = self.nodes.get(next)?.span.bytes.start;
            if flow {
                return Some(put_in(start, format!("{item}, ")));
            }
            let line = self.line_start(start);
            let lead = self.text().get(line..start)?;
            return Some(put_in(line, format!("{lead}{item}\n")));
        }
        let end = self.end_of(last)?;
        if flow {
            return Some(put_in(end, format!(", {item}")));
        }
        let first = self.nodes.get(*items.first()?)?.span.bytes.start;
        let lead = self.text().get(self.line_start(first)..first)?;
        // A comment behind the last item stays with it.
        let rest = self.text().get(end..)?;
        let line_end = end + rest.find('\n').unwrap_or(rest.len());
        Some(put_in(line_end, format!("\n{lead}{item}")))
    }

    /// The edit that takes a range of items out of a list of lines, the comments behind them too; none where the list
    /// is not written so, or nothing would be left.
    #[must_use]
    pub fn remove_items(&self, list: Cursor<'_>, range: Range<usize>) -> Option<TextEdit> {
        let node = self.own_node(list)?;
        let Children::Items(items) = &node.children else {
            return None;
        };
        let (first, last) = (*items.get(range.start)?, *items.get(range.end.checked_sub(1)?)?);
        if range.len() >= items.len() {
            return None;
        }
        let start = self.nodes.get(first)?.span.bytes.start;
        let end = self.end_of(last)?;
        if self.is_flow(node) {
            return match items.get(range.end) {
                Some(&next) => Some(TextEdit {
                    start,
                    end: self.nodes.get(next)?.span.bytes.start,
                    put: String::new(),
                }),
                None => Some(TextEdit {
                    start: self.end_of(*items.get(range.start.checked_sub(1)?)?)?,
                    end,
                    put: String::new(),
                }),
            };
        }
        let rest = self.text().get(end..)?;
        Some(TextEdit {
            start: self.line_start(start),
            end: end + rest.find('\n').map_or(rest.len(), |at| at + 1),
            put: String::new(),
        })
    }

    /// The edit that adds a key with a list of one item at the end of the file; for a mapping at the top only.
    #[must_use]
    pub fn append_list(&self, key: &str, item: &str) -> Option<TextEdit> {
        let top = self.nodes.last()?;
        let text = self.text();
        if self.is_flow(top) {
            let end = top.span.bytes.end;
            let key = if self.is_json() {
                quoted(key)
            } else {
                key.to_owned()
            };
            return Some(put_in(end, format!(", {key}: [{item}]")));
        }
        let line = if text.ends_with('\n') { "" } else { "\n" };
        Some(put_in(text.len(), format!("{line}{key}:\n  - {item}\n")))
    }

    /// A single value as this document writes one.
    #[must_use]
    pub fn scalar(&self, value: &str) -> String {
        if self.is_json() {
            quoted(value)
        } else {
            scalar(value)
        }
    }

    /// Whether the whole is written in braces, as JSON is: then keys are quoted too.
    #[must_use]
    pub fn is_json(&self) -> bool {
        self.text().trim_start().starts_with('{')
    }

    /// The text of the value at a cursor, as it is written.
    #[must_use]
    pub fn written(&self, at: Cursor<'_>) -> Option<&str> {
        let number = at.node_number();
        let start = self.own_node(at)?.span.bytes.start;
        self.text().get(start..self.end_of(number)?)
    }

    /// A value's node, where it stands in the first text.
    fn own_node(&self, at: Cursor<'_>) -> Option<&Node> {
        self.nodes
            .get(at.node_number())
            .filter(|node| node.span.source == 0)
    }

    fn is_flow(&self, node: &Node) -> bool {
        let first = self.text().as_bytes().get(node.span.bytes.start);
        match node.children {
            Children::None => false,
            Children::Items(_) => first == Some(&b'['),
            Children::Entries(_) => first == Some(&b'{'),
        }
    }

    /// Where a value ends, its closing brace or bracket included.
    fn end_of(&self, number: usize) -> Option<usize> {
        let mut number = number;
        loop {
            let node = self.nodes.get(number)?;
            let bytes = &node.span.bytes;
            if self.is_flow(node) {
                return Some(bytes.end + 1);
            }
            let below = match &node.children {
                Children::None => None,
                Children::Items(items) => items.last().copied(),
                Children::Entries(entries) => entries.last().map(|entry| entry.node),
            };
            match below {
                Some(below) => number = below,
                None => {
                    let text = self.text().get(bytes.clone())?;
                    return Some(bytes.start + text.trim_end().len());
                }
            }
        }
    }

    fn line_start(&self, at: usize) -> usize {
        let before = self.text().get(..at).unwrap_or_default();
        before.rfind('\n').map_or(0, |at| at + 1)
    }

    /// Blanks as wide as what stands before a place in its line.
    fn indent_at(&self, at: usize) -> Option<String> {
        let Place { column, .. } = self.place(at..at);
        Some(" ".repeat(column.checked_sub(1)?))
    }
}

fn put_in(at: usize, put: String) -> TextEdit {
    TextEdit {
        start: at,
        end: at,
        put,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Limits;

    fn read(text: &str) -> Document {
        Document::read("n", text.as_bytes(), &Limits::default())
            .unwrap_or_else(|problems| panic!("{problems}"))
    }

    const TEXT: &str = "a:\n  # first\n  - pipe: {}  # bare\n  - pipe: {name: p, length: 3 ft}\n  - pipe:\n      length: 3 ft  # long\n      slope: level\n    more: [1, {b: 2}]\n\nz: {k: v}\n";

    fn changed(edit: impl Fn(&Document) -> Option<TextEdit>, from: &str, to: &str) {
        let document = read(TEXT);
        let edited = edit(&document).and_then(|edit| document.edited(&[edit]));
        let Some(edited) = edited else {
            panic!("no edit: {from}")
        };
        assert_eq!(TEXT.matches(from).count(), 1);
        assert_eq!(edited, TEXT.replace(from, to));
        read(&edited);
    }

    #[test]
    fn keys_are_set_in_every_style() {
        let pipe = |index: usize, key: &'static str, value: &'static str| {
            move |document: &Document| {
                document.set(document.top().get("a").item(index).get("pipe"), key, value)
            }
        };
        changed(pipe(0, "size", "2 in"), "{}", "{size: 2 in}");
        changed(pipe(1, "size", "2 in"), "name: p, ", "name: p, size: 2 in, ");
        changed(pipe(1, "name", "a, b"), "name: p,", "name: \"a, b\",");
        changed(
            pipe(2, "size", "2 in"),
            "      length: 3 ft  #",
            "      size: 2 in\n      length: 3 ft  #",
        );
        changed(pipe(2, "length", "4 ft"), "length: 3 ft  #", "length: 4 ft  #");
        changed(
            |document| document.set(document.top().get("z"), "j", "v"),
            "{k",
            "{j: v, k",
        );
    }

    #[test]
    fn items_are_put_in_and_taken_out() {
        let list = |document: &Document| document.top().get("a").place();
        assert_eq!(list(&read(TEXT)).line, 3);
        let at =
            |index: usize| move |document: &Document| document.insert(document.top().get("a"), index, "x");
        changed(at(1), "  - pipe: {name", "  - x\n  - pipe: {name");
        changed(at(3), "2}]\n", "2}]\n  - x\n");
        let inner = |document: &Document| document.top().get("a").item(2).get("more").place().line;
        assert_eq!(inner(&read(TEXT)), 8);
        changed(
            |document| document.insert(document.top().get("a").item(2).get("more"), 2, "x"),
            "2}]",
            "2}, x]",
        );
        changed(
            |document| document.remove_items(document.top().get("a"), 0..1),
            "  - pipe: {}  # bare\n",
            "",
        );
        changed(
            |document| document.append_list("w", "x"),
            "{k: v}\n",
            "{k: v}\nw:\n  - x\n",
        );
        changed(
            |document| document.take_out(document.top().get("a").item(1).get("pipe"), "name"),
            "name: p, ",
            "",
        );
        changed(
            |document| document.take_out(document.top().get("a").item(1).get("pipe"), "length"),
            ", length: 3 ft}",
            "}",
        );
    }

    #[test]
    fn json_stays_json() {
        let text = "{\"a\": {\"b\": \"c\"}, \"l\": [1]}";
        let document = read(text);
        let edits: Vec<TextEdit> = [
            document.set(document.top().get("a"), "d", "2 in"),
            document.set(document.top().get("a"), "b", "x"),
            document.append_list("v", "1"),
        ]
        .into_iter()
        .flatten()
        .collect();
        let edited = document.edited(&edits).unwrap_or_default();
        assert_eq!(
            edited,
            "{\"a\": {\"d\": \"2 in\", \"b\": \"x\"}, \"l\": [1], \"v\": [1]}"
        );
    }

    #[test]
    fn edits_that_overlap_are_refused() {
        let document = read(TEXT);
        let long = TextEdit {
            start: 0,
            end: 9,
            put: String::new(),
        };
        let short = TextEdit {
            start: 5,
            end: 6,
            put: String::new(),
        };
        assert_eq!(document.edited(&[long, short]), None);
    }
}
