//! Heights that stated inverts give once the inside diameters of pipes are known.
//!
//! It knows no diameter itself: a network file states nominal sizes.

use std::collections::HashMap;

use crownweir_document::{Diagnostic, Diagnostics, Limits};
use crownweir_quantity::Length;
use petgraph::visit::{EdgeRef, IntoEdgeReferences};

use crate::elevation;
use crate::geometry::{self, Denied};
use crate::model::{Network, NodeId, Pipe, PipeId, Position};

/// The height of a node as an invert gives it, half the inside diameter above.
struct Anchor {
    pipe: PipeId,
    height: Length,
    half: Length,
}

impl Network {
    /// Whether the file states inverts, so that heights may hang on inside diameters.
    #[must_use]
    pub fn states_inverts(&self) -> bool {
        self.stated_ways.values().any(|way| way.inverts.is_some())
    }

    /// The same network with the heights that its stated inverts give, carried along its pipes: the centre line lies half
    /// the inside diameter above an invert. `inside` tells the inside diameter of a pipe; where it is not known, its
    /// inverts give no height. Lengths and slopes that follow are filled in, and framing that pipes then pass is found.
    ///
    /// ```
    /// # let file = "
    /// # crownweir: network/1
    /// # name: drain
    /// # drains:
    /// #   - size: 3 in
    /// #     path:
    /// #       - {fitting: {name: a}}
    /// #       - {pipe: {name: p, length: 4 ft, inverts: [2 ft, 1 ft 11 in]}}
    /// #       - {disposal: {name: z}}
    /// # ";
    /// let network = crownweir_network::Network::read("n.yaml", file.as_bytes(), &Default::default())?;
    /// let network = network.anchored(&|_| "3 in".parse().ok())?;
    /// let start = network.node_named("a").ok_or("no node")?;
    /// assert_eq!(network.graph()[start].elevation, "2 ft 1-1/2 in".parse().ok());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// Inverts that deny one another or heights stated otherwise, with both figures. Inverts of pipes of two diameters at
    /// one fitting may be flush or have their centres in one line.
    pub fn anchored(&self, inside: &dyn Fn(&Pipe) -> Option<Length>) -> Result<Self, Diagnostics> {
        let mut problems = Diagnostics::keeping(Limits::default().diagnostics);
        let mut network = self.clone();
        let mut anchors: HashMap<NodeId, Anchor> = HashMap::new();
        for edge in self.graph.edge_references() {
            let (pipe, ends) = (edge.id(), [edge.source(), edge.target()]);
            let half = inside(edge.weight()).and_then(|inside| inside.checked_scale(1, 2));
            let Some((inverts, half)) = self.inverts(pipe).zip(half) else {
                continue;
            };
            for (node, invert) in ends.into_iter().zip(inverts) {
                let Some(height) = invert.checked_add(half) else {
                    continue;
                };
                let anchor = Anchor { pipe, height, half };
                match (anchors.get(&node), self.height(node)) {
                    (Some(known), _) => {
                        let flush = Length::from_nanometres(
                            (known.half.nanometres().saturating_sub(half.nanometres())).saturating_abs(),
                        );
                        let denied = [known.height.checked_add(flush), known.height.checked_sub(flush)]
                            .into_iter()
                            .chain([Some(known.height)])
                            .flatten()
                            .all(|known| elevation::differ(known, height));
                        if denied {
                            problems.push(self.denied(node, &anchor, known.height, Some(known.pipe)));
                        }
                    }
                    (None, Some(stated)) => {
                        if elevation::differ(stated, height) {
                            problems.push(self.denied(node, &anchor, stated, None));
                        }
                    }
                    (None, None) => {
                        if let Some(given) = network.given.heights.get_mut(node.index()) {
                            *given = true;
                        }
                        if let Some(node) = network.graph.node_weight_mut(node) {
                            node.elevation = Some(height);
                        }
                        anchors.insert(node, anchor);
                    }
                }
            }
        }
        if !problems.is_empty() {
            return problems.or(None);
        }
        let stated = network.given.plan.clone();
        network.plan = geometry::derive(
            &mut network.graph,
            stated,
            self.disposal,
            &self.storeys,
            self.notation,
            &mut |denied, message, help| {
                let problem = match denied {
                    Denied::Pipe(pipe) => self.at(pipe, message),
                    Denied::Node(node, _) => self.at_node(node, message),
                };
                problems.push(problem.helped(help));
            },
        );
        network.passages.truncate(network.stated_passages);
        if let Err(message) = network.find_passages() {
            problems.push(Diagnostic::at(&self.file, 1, 1, message));
        }
        for (number, (message, help)) in network.denied_passages() {
            if let Some(passage) = network.passages.get(number) {
                problems.push(self.at_place(passage.position, message).helped(help));
            }
        }
        problems.or(Some(network))
    }

    fn height(&self, node: NodeId) -> Option<Length> {
        self.graph.node_weight(node)?.elevation
    }

    fn at(&self, pipe: PipeId, message: String) -> Diagnostic {
        let place = self.graph.edge_weight(pipe).map(|pipe| pipe.position);
        self.at_place(place.unwrap_or_default(), message)
    }

    fn at_node(&self, node: NodeId, message: String) -> Diagnostic {
        let place = self.graph.node_weight(node).map(|node| node.position);
        self.at_place(place.unwrap_or_default(), message)
    }

    fn at_place(&self, place: Position, message: String) -> Diagnostic {
        Diagnostic::at(&self.file, place.line as usize, place.column as usize, message)
    }

    /// That a height by a pipe's invert is not the one known.
    fn denied(&self, node: NodeId, anchor: &Anchor, known: Length, by: Option<PipeId>) -> Diagnostic {
        let pipe = |id| self.graph.edge_weight(id).map_or("", |pipe: &Pipe| &*pipe.name);
        let name = self.graph.node_weight(node).map_or("", |node| &*node.name);
        let shown = |height: Length| height.in_notation(self.notation);
        let other = by.map_or_else(
            || "by the heights stated elsewhere".to_owned(),
            |by| format!("by that of `{}`", pipe(by)),
        );
        let message = format!(
            "`{name}` stands {} above the datum by the invert of `{}`, but {} {other}",
            shown(anchor.height),
            pipe(anchor.pipe),
            shown(known),
        );
        self.at(anchor.pipe, message)
            .helped("correct an invert or a height")
    }
}

#[cfg(test)]
mod tests {
    use crate::{Edit, Limits, Network, PipeProperty};

    const FILE: &str = "
crownweir: network/1
name: drain
drains:
  - size: 3 in
    direction: north
    path:
      - fitting: {name: a}
      - pipe: {name: falls, length: 4 ft, inverts: [2 ft, 1 ft 11 in]}
      - fitting: {name: b, pattern: eighth_bend}
      - pipe: {name: moves, offset: {set: 8 in, left: 12 in}}
      - fitting: {name: c, pattern: eighth_bend}
      - pipe: {name: on, length: 1 ft, slope: 1/4 in/ft}
      - disposal: {name: z}
";

    /// What a pipe stated of its way holds until an edit states its length or slope otherwise, whatever becomes of others.
    #[test]
    fn what_a_pipe_states_of_its_way_goes_with_its_length_and_slope() {
        let read = || Network::read("n.yaml", FILE.as_bytes(), &Limits::default()).ok();
        let stated = |network: &Network| {
            let pipe = |name| network.pipe_named(name);
            let offset = pipe("moves").and_then(|pipe| network.offset(pipe));
            let inverts = pipe("falls").and_then(|pipe| network.inverts(pipe));
            (offset.is_some(), inverts.is_some())
        };
        let edited = |edit: Edit| {
            let mut network = read()?;
            network.edit(&[edit]).ok()?;
            Some(stated(&network))
        };
        let length = |pipe: &str, length: &str| Edit::Pipe {
            pipe: pipe.to_owned(),
            set: PipeProperty::Length(length.parse().ok()),
        };
        assert_eq!(read().as_ref().map(stated), Some((true, true)));
        assert_eq!(edited(length("on", "2 ft")), Some((true, true)));
        assert_eq!(edited(length("moves", "3 ft")), Some((false, true)));
        assert_eq!(edited(length("falls", "5 ft")), Some((true, false)));
        assert_eq!(edited(Edit::RemoveNode("a".to_owned())), Some((true, false)));
    }

    /// A pipe that is taken out leaves nothing to another that comes to be called so; one that may not be taken out keeps all.
    #[test]
    fn what_a_pipe_states_of_its_way_goes_with_the_pipe() {
        // The second is edited where it stands, for nothing of it is known in plan.
        let plain = FILE.replace("    direction: north\n", "").replace(
            "offset: {set: 8 in, left: 12 in}",
            "length: 1 ft, slope: 1/4 in/ft",
        );
        for file in [FILE.to_owned(), plain] {
            let read = || Network::read("n.yaml", file.as_bytes(), &Limits::default()).ok();
            let Some(mut network) = read() else {
                panic!("no network");
            };
            let inverts = |network: &Network| {
                let pipe = network.pipe_named("falls");
                pipe.and_then(|pipe| network.inverts(pipe)).is_some()
            };
            let taken = Edit::RemovePipe("falls".to_owned());
            assert!(network.edit(std::slice::from_ref(&taken)).is_err());
            assert!(inverts(&network) && network.states_inverts());
            let pipe = network
                .pipe_named("falls")
                .and_then(|pipe| network.graph().edge_weight(pipe).cloned());
            let added = pipe.map(|pipe| Edit::AddPipe {
                from: "a".to_owned(),
                to: "b".to_owned(),
                pipe: Box::new(pipe),
            });
            let edits: Vec<Edit> = [Some(taken), added].into_iter().flatten().collect();
            assert!(network.edit(&edits).is_ok());
            assert!(!inverts(&network) && !network.states_inverts());
        }
    }

    #[test]
    fn inverts_give_no_height_without_an_inside_diameter() {
        let anchored = Network::read("n.yaml", FILE.as_bytes(), &Limits::default())
            .and_then(|network| network.anchored(&|_| None));
        let height = |network: &Network| network.height(network.node_named("a")?);
        assert_eq!(anchored.ok().as_ref().and_then(height), None);
    }
}
