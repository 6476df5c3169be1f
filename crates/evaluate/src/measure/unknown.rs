//! Sizes that the rule set does not know.

use std::collections::BTreeMap;

use crownweir_network::Network;
use crownweir_quantity::NominalSize;
use crownweir_rulebook::RuleSet;

use super::size_at;

/// A size that a network uses and the rule set does not know.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}`{element}` is of the size {size}, which the rule set `{rules}` does not know", self.place())]
#[non_exhaustive]
pub struct UnknownSize {
    /// The size as the network states it.
    pub size: NominalSize,
    /// The first pipe, fixture, cleanout or terminal that the file gives it at this place.
    pub element: String,
    /// The rule set.
    pub rules: String,
    /// The network's file, as it was called when it was read.
    pub file: String,
    /// Line where the network defines the element; zero where it is not the file that says so, but an edit.
    pub line: u32,
    /// Column where the network defines the element.
    pub column: u32,
    /// Which of the edits asked for states the size, counted from one.
    pub edit: Option<usize>,
}

impl UnknownSize {
    fn place(&self) -> String {
        match (self.edit, self.line) {
            (Some(edit), _) => format!("edit {edit}: "),
            (None, 0) => String::new(),
            (None, line) => format!("{}:{line}:{}: ", self.file, self.column),
        }
    }
}

/// All the sizes that a network uses and the rule set does not know, in the order of the file.
#[derive(Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.lines())]
pub struct UnknownSizes(pub Vec<UnknownSize>);

/// As for people: a program whose `main` gives errors back prints them so.
impl std::fmt::Debug for UnknownSizes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        std::fmt::Display::fmt(self, f)
    }
}

impl UnknownSizes {
    fn lines(&self) -> String {
        let lines: Vec<String> = self.0.iter().map(UnknownSize::to_string).collect();
        lines.join("\n")
    }

    /// Those of `network`.
    pub(super) fn of(network: &Network, rules: &RuleSet) -> Self {
        let graph = network.graph();
        let pipes = graph
            .edge_weights()
            .map(|pipe| (pipe.size, &pipe.name, pipe.position));
        let nodes = graph
            .node_weights()
            .map(|node| (size_at(&node.kind), &node.name, node.position));
        // A repeated storey gives many elements one place in the file; each that an edit added is told by itself.
        let mut unknown = BTreeMap::new();
        for (size, name, position) in pipes.chain(nodes) {
            let Some(size) = size.filter(|&size| rules.ladder.find(size).is_none()) else {
                continue;
            };
            let added = (!position.is_in_file()).then_some(name);
            let first = unknown.entry((position, added)).or_insert((size, name));
            if name < first.1 {
                *first = (size, name);
            }
        }
        let unknown = unknown
            .into_iter()
            .map(|((position, _), (size, name))| UnknownSize {
                size,
                element: name.to_string(),
                rules: rules.name.clone(),
                file: network.file().to_owned(),
                line: position.line,
                column: position.column,
                edit: None,
            });
        Self(unknown.collect())
    }
}
