//! A position in a document, to walk down from and to report problems at.

use crate::read::{Children, Document, Span};
use crate::{Diagnostic, Place};

/// A place in a document. Walking to what is not there stays at the nearest place that is.
#[derive(Debug, Clone, Copy)]
pub struct Cursor<'a> {
    document: &'a Document,
    node: usize,
    /// Set when the cursor points at a key rather than at its value: the mapping's node and the entry.
    key: Option<(usize, usize)>,
}

impl<'a> Cursor<'a> {
    pub(crate) fn at(document: &'a Document, node: usize) -> Self {
        Self {
            document,
            node,
            key: None,
        }
    }

    /// The value under `key` of a mapping.
    #[must_use]
    pub fn get(self, key: &str) -> Self {
        self.find(key)
            .map_or(self, |(_, node)| Self::at(self.document, node))
    }

    /// The key itself, for problems with its name.
    #[must_use]
    pub fn key(self, key: &str) -> Self {
        self.find(key).map_or(self, |(entry, node)| Self {
            document: self.document,
            node,
            key: Some((self.node, entry)),
        })
    }

    /// Whether a mapping has `key`.
    #[must_use]
    pub fn has(self, key: &str) -> bool {
        self.find(key).is_some()
    }

    /// The item at `index` of a sequence.
    #[must_use]
    pub fn item(self, index: usize) -> Self {
        match self.document.nodes.get(self.node).map(|node| &node.children) {
            Some(Children::Items(items)) => items
                .get(index)
                .map_or(self, |&node| Self::at(self.document, node)),
            _ => self,
        }
    }

    fn find(self, key: &str) -> Option<(usize, usize)> {
        match &self.document.nodes.get(self.node)?.children {
            Children::Entries(entries) => {
                let number = entries.find(key)?;
                Some((number, entries.get(number)?.node))
            }
            _ => None,
        }
    }

    pub(crate) fn document(self) -> &'a Document {
        self.document
    }

    /// The number of the value's node in the document.
    pub(crate) fn node_number(self) -> usize {
        self.node
    }

    /// How many items a list has; none where this is no list.
    #[must_use]
    pub fn len(self) -> usize {
        match self.document.nodes.get(self.node).map(|node| &node.children) {
            Some(Children::Items(items)) => items.len(),
            _ => 0,
        }
    }

    /// Whether this is no list, or an empty one.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.len() == 0
    }

    fn span(self) -> &'a Span {
        const NOWHERE: &Span = &Span {
            source: 0,
            bytes: 0..0,
        };
        let nodes = &self.document.nodes;
        if let Some((mapping, entry)) = self.key
            && let Some(Children::Entries(entries)) = nodes.get(mapping).map(|node| &node.children)
            && let Some(entry) = entries.get(entry)
        {
            return &entry.span;
        }
        nodes.get(self.node).map_or(NOWHERE, |node| &node.span)
    }

    /// Which of a merged document's texts this stands in: 0 for the base, and on in the order of merging.
    #[must_use]
    pub fn text_number(self) -> usize {
        self.span().source as usize
    }

    /// Where this is in the file.
    #[must_use]
    pub fn place(self) -> Place {
        self.document.place_of(self.span())
    }

    /// A problem at this place.
    #[must_use]
    pub fn problem(self, message: impl Into<String>) -> Diagnostic {
        self.document.problem_at(self.span(), message)
    }
}
