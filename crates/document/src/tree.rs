//! Documents taken apart and put together anew, with every part's place in the text that it came from.
//!
//! It knows nothing of what the parts mean.

use serde_yaml::{Mapping, Value};

use crate::read::{Children, Entries, Entry, Node, Span};
use crate::{Diagnostic, Document, Place};

/// A value of a document with everything below it and the place of each.
#[derive(Debug, Clone)]
pub struct Tree {
    span: Span,
    form: Form,
}

#[derive(Debug, Clone)]
enum Form {
    Scalar(Value),
    Sequence(Vec<Tree>),
    Mapping(Vec<Branch>),
}

#[derive(Debug, Clone)]
struct Branch {
    key: String,
    span: Span,
    tree: Tree,
}

impl Tree {
    /// A single value that stands where this does.
    #[must_use]
    pub fn scalar_here(&self, value: Value) -> Self {
        Self {
            span: self.span.clone(),
            form: Form::Scalar(value),
        }
    }

    /// A list that stands where this does.
    #[must_use]
    pub fn sequence_here(&self, items: Vec<Self>) -> Self {
        Self {
            span: self.span.clone(),
            form: Form::Sequence(items),
        }
    }

    /// A mapping that stands where this does; each key stands where its value does.
    #[must_use]
    pub fn mapping_here<'k>(&self, entries: impl IntoIterator<Item = (&'k str, Self)>) -> Self {
        let mut tree = Self {
            span: self.span.clone(),
            form: Form::Mapping(Vec::new()),
        };
        for (key, value) in entries {
            tree.set(key, value);
        }
        tree
    }

    /// The value under `key` of a mapping.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&Self> {
        self.entries().find(|(own, _)| *own == key).map(|(_, tree)| tree)
    }

    /// The value under `key` of a mapping, to be changed.
    pub fn get_mut(&mut self, key: &str) -> Option<&mut Self> {
        match &mut self.form {
            Form::Mapping(branches) => branches
                .iter_mut()
                .find(|branch| branch.key == key)
                .map(|branch| &mut branch.tree),
            _ => None,
        }
    }

    /// The keys and values of a mapping.
    pub fn entries(&self) -> impl Iterator<Item = (&str, &Self)> {
        let branches = match &self.form {
            Form::Mapping(branches) => branches.as_slice(),
            _ => &[],
        };
        branches.iter().map(|branch| (branch.key.as_str(), &branch.tree))
    }

    /// The keys and values of a mapping, the values to be changed.
    pub fn entries_mut(&mut self) -> impl Iterator<Item = (&str, &mut Self)> {
        let branches = match &mut self.form {
            Form::Mapping(branches) => branches.as_mut_slice(),
            _ => &mut [],
        };
        branches
            .iter_mut()
            .map(|branch| (branch.key.as_str(), &mut branch.tree))
    }

    /// The items of a list.
    #[must_use]
    pub fn items(&self) -> &[Self] {
        match &self.form {
            Form::Sequence(items) => items,
            _ => &[],
        }
    }

    /// The items of a list, to be changed; none where this is no list.
    pub fn items_mut(&mut self) -> Option<&mut Vec<Self>> {
        match &mut self.form {
            Form::Sequence(items) => Some(items),
            _ => None,
        }
    }

    /// The text of a single value that is text.
    #[must_use]
    pub fn as_str(&self) -> Option<&str> {
        match &self.form {
            Form::Scalar(value) => value.as_str(),
            _ => None,
        }
    }

    /// Whether this stands in the same text as another.
    #[must_use]
    pub fn is_beside(&self, other: &Self) -> bool {
        self.span.source == other.span.source
    }

    /// Which of a merged document's texts this stands in: 0 for the base, and on in the order of merging.
    #[must_use]
    pub fn text_number(&self) -> usize {
        self.span.source as usize
    }

    /// How many levels of nesting there are.
    #[must_use]
    pub fn depth(&self) -> usize {
        let below = self.items().iter().chain(self.entries().map(|(_, tree)| tree));
        below.map(Self::depth).max().map_or(0, |deepest| deepest + 1)
    }

    /// Whether this is a mapping.
    #[must_use]
    pub fn is_mapping(&self) -> bool {
        matches!(self.form, Form::Mapping(_))
    }

    /// Puts a value under `key` of a mapping, in place of the one there if there is one.
    pub fn set(&mut self, key: &str, value: Self) {
        let Form::Mapping(branches) = &mut self.form else {
            return;
        };
        match branches.iter_mut().find(|branch| branch.key == key) {
            Some(branch) => branch.tree = value,
            None => branches.push(Branch {
                key: key.to_owned(),
                span: value.span.clone(),
                tree: value,
            }),
        }
    }

    /// Takes the value under `key` out of a mapping.
    pub fn remove(&mut self, key: &str) -> Option<Self> {
        let Form::Mapping(branches) = &mut self.form else {
            return None;
        };
        let at = branches.iter().position(|branch| branch.key == key)?;
        Some(branches.remove(at).tree)
    }

    /// The value without places.
    #[must_use]
    pub fn value(&self) -> Value {
        match &self.form {
            Form::Scalar(value) => value.clone(),
            Form::Sequence(items) => Value::Sequence(items.iter().map(Self::value).collect()),
            Form::Mapping(_) => {
                let entries = self.entries();
                let entries = entries.map(|(key, tree)| (Value::String(key.to_owned()), tree.value()));
                Value::Mapping(entries.collect())
            }
        }
    }

    fn of(document: &Document, node: usize, value: &Value, offset: u32) -> Option<Self> {
        let moved = |span: &Span| Span {
            source: span.source + offset,
            bytes: span.bytes.clone(),
        };
        let own = document.nodes.get(node)?;
        let form = match (&own.children, value) {
            (Children::Items(nodes), Value::Sequence(values)) => Form::Sequence(
                nodes
                    .iter()
                    .zip(values)
                    .filter_map(|(&node, value)| Self::of(document, node, value, offset))
                    .collect(),
            ),
            (Children::Entries(entries), Value::Mapping(values)) => {
                let branches = entries.iter().filter_map(|entry| {
                    let value = values.get(entry.key.as_str())?;
                    Some(Branch {
                        key: entry.key.clone(),
                        span: moved(&entry.span),
                        tree: Self::of(document, entry.node, value, offset)?,
                    })
                });
                Form::Mapping(branches.collect())
            }
            (_, value) => Form::Scalar(value.clone()),
        };
        Some(Self {
            span: moved(&own.span),
            form,
        })
    }

    fn lay_out(self, nodes: &mut Vec<Node>) -> (Value, usize) {
        let (value, children) = match self.form {
            Form::Scalar(value) => (value, Children::None),
            Form::Sequence(items) => {
                let (values, below) = items.into_iter().map(|item| item.lay_out(nodes)).unzip();
                (Value::Sequence(values), Children::Items(below))
            }
            Form::Mapping(branches) => {
                let mut values = Mapping::with_capacity(branches.len());
                let mut entries = Vec::with_capacity(branches.len());
                for branch in branches {
                    let (value, node) = branch.tree.lay_out(nodes);
                    values.insert(Value::String(branch.key.clone()), value);
                    entries.push(Entry {
                        key: branch.key,
                        span: branch.span,
                        node,
                    });
                }
                (Value::Mapping(values), Children::Entries(Entries::of(entries)))
            }
        };
        nodes.push(Node {
            span: self.span,
            children,
        });
        (value, nodes.len() - 1)
    }
}

/// A document into which others are being merged.
#[derive(Debug, Clone)]
pub struct Merge {
    /// The values of the document that is to come out.
    pub tree: Tree,
    /// Holds the texts only.
    texts: Document,
}

impl Merge {
    /// A merge that begins as `base` is.
    #[must_use]
    pub fn over(base: &Document) -> Self {
        let top = base.nodes.len().saturating_sub(1);
        let nothing = || Tree {
            span: Span {
                source: 0,
                bytes: 0..0,
            },
            form: Form::Scalar(Value::Null),
        };
        Self {
            tree: Tree::of(base, top, &base.root, 0).unwrap_or_else(nothing),
            texts: Document {
                sources: base.sources.clone(),
                root: Value::Null,
                nodes: Vec::new(),
            },
        }
    }

    /// Takes another document's texts in and gives its values, to be put into the tree.
    #[must_use]
    pub fn take_in(&mut self, other: &Document) -> Option<Tree> {
        let offset = u32::try_from(self.texts.sources.len()).ok()?;
        self.texts.sources.extend(other.sources.iter().cloned());
        Tree::of(other, other.nodes.len().checked_sub(1)?, &other.root, offset)
    }

    /// How many texts have been taken in, the base's included.
    #[must_use]
    pub fn texts(&self) -> usize {
        self.texts.sources.len()
    }

    /// Where a value stands.
    #[must_use]
    pub fn place(&self, tree: &Tree) -> Place {
        self.texts.place_of(&tree.span)
    }

    /// A problem with a value.
    #[must_use]
    pub fn problem(&self, tree: &Tree, message: impl Into<String>) -> Diagnostic {
        self.texts.problem_at(&tree.span, message)
    }

    /// The document as merged so far.
    #[must_use]
    pub fn document(&self) -> Document {
        let mut nodes = Vec::new();
        let (root, _) = self.tree.clone().lay_out(&mut nodes);
        Document {
            sources: self.texts.sources.clone(),
            root,
            nodes,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Limits;

    fn read(name: &str, text: &str) -> Document {
        Document::read(name, text.as_bytes(), &Limits::default())
            .unwrap_or_else(|problems| panic!("{problems}"))
    }

    #[test]
    fn what_is_put_in_keeps_its_own_place() {
        let base = read("base", "a: 1\nb: [2, 3]\n");
        let mut merge = Merge::over(&base);
        let other = merge.take_in(&read("other", "\n\nc: {d: 4}\n"));
        let Some(part) = other.as_ref().and_then(|other| other.get("c")) else {
            panic!("no part");
        };
        let part = part.clone();
        merge.tree.set("b", part);
        assert!(merge.tree.remove("a").is_some());
        let merged = merge.document();
        assert_eq!(merged.value(), read("", "b: {d: 4}").value());
        let place = merged.top().get("b").get("d").place();
        assert_eq!((&*place.file, place.line, place.column), ("other", 3, 8));
        assert_eq!(merged.top().get("b").text_number(), 1);
        assert_eq!(merged.top().text_number(), 0);
    }
}
