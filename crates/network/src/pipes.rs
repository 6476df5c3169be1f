//! The second pass of building: the pipes, now that every node is known.

use std::collections::HashMap;
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostic, Diagnostics, nearest};
use crownweir_quantity::{Length, Notation, Slope};
use crownweir_vocabulary::{Inlet, Role};

use crate::build::{Builder, Instance, position_of, step_name};
use crate::elevation;
use crate::model::{Node, NodeId, Pipe};
use crate::wire::{Defaults, PipeFile, StepFile};

impl<'a> Builder<'a> {
    /// Second pass: the pipes, now that every node is known.
    pub(crate) fn pipes(&mut self, instances: &[Instance<'a>], runs: &[u32], problems: &mut Diagnostics) {
        let mut names: HashMap<Arc<str>, u32> = HashMap::new();
        for (instance, &run) in instances.iter().zip(runs) {
            let mut from: Option<NodeId> = None;
            let mut pipe: Option<(&PipeFile, Cursor<'a>)> = None;
            let path = instance.at.get("path");
            for (index, step) in instance.run.path.iter().enumerate() {
                let at = path.item(index);
                if let Some(file) = &step.pipe {
                    if from.is_none() {
                        problems.push(at.problem("a path begins with a pipe").expecting(
                            "a node before it: a fixture, fitting, cleanout, or `at: NAME` of one defined elsewhere",
                        ));
                        return;
                    }
                    if pipe.is_some() {
                        problems.push(
                            at.problem("two pipes follow each other")
                                .expecting("a fitting between them, if only a coupling"),
                        );
                    }
                    pipe = Some((file, at.get("pipe")));
                    continue;
                }
                let Some(to) = self.step_node(instance, step, at, problems) else {
                    return;
                };
                match (from, pipe.take()) {
                    (None, _) => {}
                    (Some(from), Some((file, at))) => {
                        let ends = (from, to);
                        let pipe = self.pipe(instance, run, file, at, ends, problems);
                        self.passages(instance, file, &pipe, at, problems);
                        self.push_pipe(pipe, ends, at, &mut names, problems);
                    }
                    (Some(from), None) => {
                        let name = self.graph.node_weight(from).map(|node| Arc::clone(&node.name));
                        problems.push(
                            at.problem(format!(
                                "nothing joins this to `{}` before it",
                                name.as_deref().unwrap_or_default()
                            ))
                            .expecting("a pipe between two nodes"),
                        );
                    }
                }
                from = Some(to);
            }
            if pipe.is_some() {
                let last = path.item(instance.run.path.len().saturating_sub(1));
                problems.push(last.problem("the path ends with a pipe that leads nowhere").expecting(
                    "a node after it: a fitting, terminal, disposal, or `at: NAME` of one defined elsewhere",
                ));
            }
            if instance.run.path.len() < 2 {
                problems.push(
                    path.problem("a path of fewer than two steps joins nothing")
                        .expecting("a node, a pipe and a node at the least"),
                );
            }
        }
    }

    fn step_node(
        &self,
        instance: &Instance<'a>,
        step: &StepFile,
        at: Cursor<'a>,
        problems: &mut Diagnostics,
    ) -> Option<NodeId> {
        let (name, key) = step_name(step);
        let text = self.fill(instance, name?, "path", problems);
        let found = self.node_index.get(&*text).copied();
        if found.is_none() && key == "at" {
            problems.push(
                at.get("at")
                    .problem(format!("there is no node `{text}`"))
                    .suggesting(nearest(&text, self.node_index.keys().map(|name| &**name))),
            );
        }
        found
    }

    fn pipe(
        &self,
        instance: &Instance<'a>,
        run: u32,
        file: &PipeFile,
        at: Cursor<'a>,
        (from, to): (NodeId, NodeId),
        problems: &mut Diagnostics,
    ) -> Pipe {
        let defaults: &Defaults = &self.file.defaults;
        let name = match &file.name {
            Some(name) => self.fill(instance, name, "path", problems),
            None => {
                let end = |id| self.graph.node_weight(id).map_or("", |node: &Node| &*node.name);
                format!("{} to {}", end(from), end(to))
            }
        };
        let place = |id: NodeId| self.positions.get(id.index()).copied().flatten();
        let ends = place(from)
            .zip(place(to))
            .map(|(from, to)| (from.xyz(), to.xyz()));
        let measured = ends.and_then(|(from, to)| elevation::measure(from, to, instance.role));
        let length = file.length.or(measured.map(|(length, _)| length));
        if file.length == Some(Length::ZERO) {
            problems.push(
                at.get("length")
                    .problem(format!("the pipe `{name}` has no length"))
                    .expecting("a length above zero; leave it out where it is not known"),
            );
        }
        if let (Some(stated), Some((measured, _))) = (file.length, measured)
            && elevation::differ(stated, measured)
        {
            problems.push(contradiction(
                at.get("length"),
                "length",
                stated,
                measured,
                self.notation(),
                "the coordinates of its ends",
            ));
        }
        let from_inverts = file
            .inverts
            .as_ref()
            .zip(length)
            .and_then(|([start, end], length)| {
                let fall = match instance.role {
                    Role::Vent => end.0.checked_sub(start.0),
                    _ => start.0.checked_sub(end.0),
                };
                Slope::from_fall(fall?, length)
            });
        let derived = from_inverts.or(measured.map(|(_, slope)| slope));
        if let (Some(stated), Some(derived), Some(length)) = (file.slope, derived, length)
            && let (Some(stated), Some(derived)) = (stated.fall_over(length), derived.fall_over(length))
            && elevation::differ(stated, derived)
        {
            problems.push(contradiction(
                at.get("slope"),
                "fall",
                stated,
                derived,
                self.notation(),
                "the heights of its ends",
            ));
        }
        let slope = file.slope.or(derived).or(instance.run.slope);
        let horizontal = slope.map(|slope| !slope.is_vertical());
        let by_default = match horizontal {
            Some(true) => defaults.horizontal_support_spacing,
            Some(false) => defaults.vertical_support_spacing,
            None => None,
        };
        let straight = self
            .defined_in
            .get(to.index())
            .is_some_and(|&defined| defined == run);
        Pipe {
            name: name.into(),
            role: instance.role,
            run,
            size: file.size.or(instance.run.size),
            length,
            slope,
            material: file.material.or(instance.run.material).or(defaults.material),
            support_spacing: file
                .support_spacing
                .or(instance.run.support_spacing)
                .or(by_default),
            mid_storey_guide: file
                .mid_storey_guide
                .or(instance.run.mid_storey_guide)
                .or(defaults.mid_storey_guide),
            underground: file.underground.unwrap_or(instance.run.underground),
            enters: file
                .enters
                .unwrap_or(if straight { Inlet::Run } else { Inlet::Branch }),
            position: position_of(at),
        }
    }

    fn push_pipe(
        &mut self,
        pipe: Pipe,
        (from, to): (NodeId, NodeId),
        at: Cursor<'a>,
        names: &mut HashMap<Arc<str>, u32>,
        problems: &mut Diagnostics,
    ) {
        let line = pipe.position.line;
        if let Some(first) = names.insert(Arc::clone(&pipe.name), line) {
            problems.push(
                at.get("name")
                    .problem(format!("a second pipe is called `{}`", pipe.name))
                    .expecting(format!("a `name` of its own (the first stands in line {first})")),
            );
        }
        self.graph.add_edge(from, to, pipe);
        self.sources.pipes.push(at);
    }
}

fn contradiction(
    at: Cursor<'_>,
    what: &str,
    stated: Length,
    derived: Length,
    notation: Notation,
    from: &str,
) -> Diagnostic {
    at.problem(format!(
        "the {what} is stated as {}, but {from} give {}",
        stated.in_notation(notation),
        derived.in_notation(notation)
    ))
    .helped("correct one of the two")
}
