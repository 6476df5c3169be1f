//! The second pass of building: the pipes, now that every node is known.

use std::collections::HashMap;
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostic, Diagnostics, nearest};
use crownweir_quantity::{Angle, Bearing, Heading, Length, Notation, Slope};
use crownweir_vocabulary::{Inlet, Role};

use crate::build::{Builder, Instance, position_of, step_name};
use crate::elevation;
use crate::model::{Node, NodeId, NodeKind, Pipe, StatedWay};
use crate::offset::{Offset, Side, Solved};
use crate::open::{SizeFile, SlopeFile};
use crate::stated::{choice_denied, length_denied};
use crate::wire::{Defaults, OffsetFile, PipeFile, StepFile};

/// The way a path goes, as far as it is followed.
struct Way {
    /// Its direction in plan, as last stated.
    bearing: Option<Bearing>,
    /// Whether the line is vertical here.
    plumb: bool,
}

impl<'a> Builder<'a> {
    /// Second pass: the pipes, now that every node is known.
    pub(crate) fn pipes(&mut self, instances: &[Instance<'a>], runs: &[u32], problems: &mut Diagnostics) {
        let mut names: HashMap<Arc<str>, u32> = HashMap::new();
        'instances: for (instance, &run) in instances.iter().zip(runs) {
            let mut from: Option<NodeId> = None;
            let mut pipe: Option<(&PipeFile, Cursor<'a>)> = None;
            let path = instance.at.get("path");
            let mut way = self.sets_out(instance, problems);
            for (index, step) in instance.run.path.iter().enumerate() {
                let at = path.item(index);
                if let Some(file) = &step.pipe {
                    if from.is_none() {
                        problems.push(at.problem("a path begins with a pipe").expecting(
                            "a node before it: a fixture, fitting, cleanout, or `at: NAME` of one defined elsewhere",
                        ));
                        continue 'instances;
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
                    continue 'instances;
                };
                match (from, pipe.take()) {
                    (None, _) => {}
                    (Some(from), Some((file, at))) => {
                        let ends = (from, to);
                        let (pipe, bearing, offset) =
                            self.pipe(instance, run, file, at, ends, &mut way, problems);
                        self.bearings.push(bearing);
                        self.passages(instance, file, &pipe, at, problems);
                        let inverts = file.inverts.map(|inverts| inverts.map(|invert| invert.0));
                        if offset.is_some() || inverts.is_some() {
                            let stated = StatedWay {
                                length: pipe.length,
                                slope: pipe.slope,
                                offset,
                                inverts,
                            };
                            self.stated_ways.insert(Arc::clone(&pipe.name), stated);
                        }
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
                    "a node after it: a fitting, terminal, disposal, or `at: NAME` of one defined elsewhere, as in \
                     `[{fixture: …}, {pipe: …}, {fitting: …}, {pipe: …}, {at: NAME}]`",
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
            problems.push_with(|| {
                at.get("at")
                    .problem(format!("there is no node `{text}`"))
                    .suggesting(nearest(&text, self.node_index.keys().map(|name| &**name)))
            });
        }
        found
    }

    #[expect(clippy::too_many_arguments, reason = "what a pipe is made from, in one place")]
    fn pipe(
        &self,
        instance: &Instance<'a>,
        run: u32,
        file: &PipeFile,
        at: Cursor<'a>,
        (from, to): (NodeId, NodeId),
        way: &mut Way,
        problems: &mut Diagnostics,
    ) -> (Pipe, Option<Bearing>, Option<Offset>) {
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
        let heading = self.heading(file, at, way, problems);
        let stated_offset = file.offset.as_ref().and_then(|offset| {
            let at = at.get("offset");
            self.offset(offset, instance, way, heading, (from, to), at, problems)
        });
        let offset = stated_offset.map(|(_, solved)| solved);
        let measured = offset.map(|offset| (offset.length, offset.slope)).or(measured);
        let derived_from = if offset.is_some() {
            "the offset and its bends give"
        } else {
            "the coordinates of its ends give"
        };
        let length = file.length.or(measured.map(|(length, _)| length));
        if let Some((message, expected)) = length_denied(&name, file.length) {
            problems.push(at.get("length").problem(message).expecting(expected));
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
                derived_from,
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
        let from_inverts = from_inverts.filter(|_| offset.is_none());
        let derived = from_inverts.or(measured.map(|(_, slope)| slope));
        let own_slope = file.slope.and_then(SlopeFile::stated);
        if let (Some(stated), Some(derived), Some(length)) = (own_slope, derived, length)
            && let (Some(stated), Some(derived)) = (stated.fall_over(length), derived.fall_over(length))
            && elevation::differ(stated, derived)
        {
            problems.push(contradiction(
                at.get("slope"),
                "fall",
                stated,
                derived,
                self.notation(),
                if offset.is_some() {
                    derived_from
                } else {
                    "the heights of its ends give"
                },
            ));
        }
        // What a pipe says of its slope goes before what its run says, and what geometry gives lies between.
        let (slope, slope_bounds) = match (file.slope, derived, instance.run.slope) {
            (Some(SlopeFile::Between(bounds)), None, _) | (None, None, Some(SlopeFile::Between(bounds))) => {
                (None, Some(bounds))
            }
            (own, derived, of_run) => {
                let of_run = of_run.and_then(SlopeFile::stated);
                (own.and_then(SlopeFile::stated).or(derived).or(of_run), None)
            }
        };
        if let Some((message, expected)) = choice_denied(instance.role, slope_bounds) {
            problems.push(at.get("slope").problem(message).expecting(expected));
        }
        let plumb = slope.is_some_and(Slope::is_vertical);
        if plumb && file.direction.is_some() && file.offset.is_none() {
            problems.push(
                at.get("direction")
                    .problem(format!(
                        "the pipe `{name}` is vertical and has no direction in plan"
                    ))
                    .helped("state the direction at the next pipe that is not vertical"),
            );
        }
        if file.offset.is_none() {
            way.plumb = plumb;
        }
        let bearing = offset.map_or(heading.filter(|_| !plumb), |offset| offset.bearing);
        let laid = slope.or(slope_bounds.map(|bounds| bounds.at_most));
        let horizontal = laid.map(|slope| !slope.is_vertical());
        let by_default = match horizontal {
            Some(true) => defaults.horizontal_support_spacing,
            Some(false) => defaults.vertical_support_spacing,
            None => None,
        };
        let straight = self
            .defined_in
            .get(to.index())
            .is_some_and(|&defined| defined == run);
        let pipe = Pipe {
            name: name.into(),
            role: instance.role,
            run,
            size: file.size.or(instance.run.size).and_then(SizeFile::stated),
            length,
            slope,
            slope_bounds,
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
            enters_stated: file.enters.is_some(),
            position: position_of(at),
        };
        (pipe, bearing, stated_offset.map(|(offset, _)| offset))
    }

    /// The way a path sets out.
    fn sets_out(&self, instance: &Instance<'a>, problems: &mut Diagnostics) -> Way {
        let bearing = match instance.run.direction {
            Some(Heading::Bearing(bearing)) => Some(bearing),
            None => None,
            Some(Heading::Turn(_)) => {
                problems.push(
                    instance
                        .at
                        .get("direction")
                        .problem("a run sets out in a direction; there is nothing to turn from")
                        .expecting("a direction such as `east`, `south-west` or `30 deg`"),
                );
                None
            }
        };
        Way {
            bearing,
            plumb: instance
                .run
                .slope
                .and_then(SlopeFile::stated)
                .is_some_and(Slope::is_vertical),
        }
    }

    /// The direction in plan from this pipe on.
    fn heading(
        &self,
        file: &PipeFile,
        at: Cursor<'a>,
        way: &mut Way,
        problems: &mut Diagnostics,
    ) -> Option<Bearing> {
        match (file.direction, way.bearing) {
            (None, _) => {}
            (Some(Heading::Bearing(bearing)), _) => way.bearing = Some(bearing),
            (Some(Heading::Turn(turn)), Some(before)) => way.bearing = Some(before.after(turn)),
            (Some(Heading::Turn(_)), None) => problems.push(
                at.get("direction")
                    .problem("this turns from a direction that is not stated before it on this path")
                    .expecting("a direction such as `east`, or one for the run"),
            ),
        }
        way.bearing
    }

    /// Solves an offset; none, with a problem, where something that it needs is not there.
    #[expect(
        clippy::too_many_arguments,
        reason = "what an offset is solved from, in one place"
    )]
    fn offset(
        &self,
        file: &OffsetFile,
        instance: &Instance<'a>,
        way: &Way,
        heading: Option<Bearing>,
        (from, to): (NodeId, NodeId),
        at: Cursor<'a>,
        problems: &mut Diagnostics,
    ) -> Option<(Offset, Solved)> {
        let roll = match (file.left, file.right) {
            (Some(_), Some(_)) => {
                problems.push(
                    at.problem("an offset goes to the left or to the right")
                        .expecting("one of `left` and `right`"),
                );
                return None;
            }
            (Some(left), None) => (left, Side::Left),
            (None, right) => (right.unwrap_or_default(), Side::Right),
        };
        if file.set.unwrap_or_default() == Length::ZERO && roll.0 == Length::ZERO {
            problems.push(
                at.problem("this offset moves the line nowhere")
                    .expecting("`set`, `left` or `right` above zero"),
            );
            return None;
        }
        let Some(bearing) = heading else {
            problems.push(
                at.problem("an offset needs the direction in plan of the line, which is not stated")
                    .expecting("`direction` beside it, or for the run"),
            );
            return None;
        };
        let angle = self.bends_alike((from, to), at, problems)?;
        let offset = Offset {
            set: file.set.unwrap_or_default(),
            roll: roll.0,
            angle,
        };
        let solved = if way.plumb {
            offset.in_plumb_line(bearing, roll.1)
        } else {
            let grade = instance
                .run
                .slope
                .and_then(SlopeFile::stated)
                .filter(|_| file.set.is_none());
            offset.in_level_line(bearing, roll.1, grade)
        };
        if solved.is_none() {
            problems.push(at.problem("this offset is too large to be reckoned with"));
        }
        Some((offset, solved?))
    }

    /// By how much both fittings at the ends of an offset turn.
    fn bends_alike(
        &self,
        (from, to): (NodeId, NodeId),
        at: Cursor<'a>,
        problems: &mut Diagnostics,
    ) -> Option<Angle> {
        let turn = |id: NodeId| match self.graph.node_weight(id).map(|node| &node.kind) {
            Some(NodeKind::Fitting { pattern }) => pattern.map_or(0, |pattern| pattern.turn_in_tenths()),
            _ => 0,
        };
        let tell = |id: NodeId| {
            let name = self.graph.node_weight(id).map_or("", |node| &*node.name);
            match turn(id) {
                0 => format!("`{name}` is not known to turn"),
                turn => format!("`{name}` turns {}", Angle::from_microdegrees(turn * 100_000)),
            }
        };
        match (turn(from), turn(to)) {
            (one, other) if one == other && one != 0 => Some(Angle::from_microdegrees(one * 100_000)),
            _ => {
                problems.push(
                    at.problem(format!(
                        "an offset is made with two bends of one angle, but {} and {}",
                        tell(from),
                        tell(to)
                    ))
                    .expecting("bends of the same pattern at both ends"),
                );
                None
            }
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
        self.sources.pipes.push(at);
        self.graph.add_edge(from, to, pipe);
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
        "the {what} is stated as {}, but {from} {}",
        stated.in_notation(notation),
        derived.in_notation(notation)
    ))
    .helped("correct one of the two")
}
