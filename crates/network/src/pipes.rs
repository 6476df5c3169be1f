//! The second pass of building: the pipes, now that every node is known.

use std::collections::HashMap;
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostic, Diagnostics, nearest};
use crownweir_quantity::{Angle, Bearing, Heading, Length, Notation, Slope};
use crownweir_vocabulary::Inlet;

use crate::build::{Builder, Instance, position_of, step_name};
use crate::elevation;
use crate::model::{Node, NodeId, Pipe, RunId, SlopeBounds, StatedWay};
use crate::offset::{Line, Offset, Side, Solved};
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

/// A pipe of a file, with the run that it is in and the nodes that it joins.
#[derive(Clone, Copy)]
struct Piece<'i, 'a> {
    instance: &'i Instance<'a>,
    run: RunId,
    file: &'i PipeFile,
    at: Cursor<'a>,
    ends: (NodeId, NodeId),
}

/// What geometry gives of a pipe, and by what.
#[derive(Clone, Copy)]
struct Measured {
    length: Length,
    slope: Slope,
    by: &'static str,
}

impl<'a> Builder<'a> {
    /// Second pass: the pipes, now that every node is known.
    pub(crate) fn pipes(&mut self, instances: &[Instance<'a>], runs: &[RunId], problems: &mut Diagnostics) {
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
                        let piece = Piece {
                            instance,
                            run,
                            file,
                            at,
                            ends,
                        };
                        let (pipe, bearing, offset) = self.pipe(piece, &mut way, problems);
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
            // A network that has no pipe yet.
            let ends_there = matches!(&instance.run.path[..], [only] if only.disposal.is_some());
            if instance.run.path.len() < 2 && !ends_there {
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

    /// The pipe, the direction in plan in which it goes on, and the offset that it is, with the line that is moved aside.
    fn pipe(
        &self,
        piece: Piece<'_, 'a>,
        way: &mut Way,
        problems: &mut Diagnostics,
    ) -> (Pipe, Option<Bearing>, Option<(Offset, Line)>) {
        let Piece {
            instance,
            run,
            file,
            at,
            ends: (_, to),
        } = piece;
        let name = self.pipe_name(piece, problems);
        let heading = self.heading(file, at, way, problems);
        let stated = file.offset.as_ref();
        let (offset, solved) = stated
            .and_then(|offset| self.offset(offset, piece, way, heading, problems))
            .unzip();
        let measured = match solved {
            Some(solved) => Some(Measured {
                length: solved.length,
                slope: solved.slope,
                by: "the offset and its bends give",
            }),
            None => self.between_places(piece),
        };
        let length = self.length(piece, &name, measured, problems);
        let (slope, slope_bounds) = self.slope(piece, length, measured, solved.is_some(), problems);
        let plumb = slope.is_some_and(Slope::is_vertical);
        if plumb && file.direction.is_some() && stated.is_none() {
            problems.push(
                at.get("direction")
                    .problem(format!(
                        "the pipe `{name}` is vertical and has no direction in plan"
                    ))
                    .helped("state the direction at the next pipe that is not vertical"),
            );
        }
        if stated.is_none() {
            way.plumb = plumb;
        }
        let bearing = solved.map_or(heading.filter(|_| !plumb), |solved| solved.bearing);

        let (of_run, defaults): (_, &Defaults) = (instance.run, &self.file.defaults);
        let straight = self
            .defined_in
            .get(to.index())
            .is_some_and(|&defined| defined == run);
        let enters = if straight { Inlet::Run } else { Inlet::Branch };
        let pipe = Pipe {
            name: name.into(),
            role: instance.role,
            run,
            size: file.size.or(of_run.size).and_then(SizeFile::stated),
            length,
            slope,
            slope_bounds,
            material: file.material.or(of_run.material).or(defaults.material),
            support_spacing: file.support_spacing.or(of_run.support_spacing),
            mid_storey_guide: file
                .mid_storey_guide
                .or(of_run.mid_storey_guide)
                .or(defaults.mid_storey_guide),
            underground: file.underground.unwrap_or(of_run.underground),
            enters: file.enters.unwrap_or(enters),
            enters_stated: file.enters.is_some(),
            position: position_of(at),
        };
        (pipe, bearing, offset)
    }

    /// The name that a pipe states, or that of both its ends.
    fn pipe_name(&self, piece: Piece<'_, 'a>, problems: &mut Diagnostics) -> String {
        if let Some(name) = &piece.file.name {
            return self.fill(piece.instance, name, "path", problems);
        }
        let end = |id| self.graph.node_weight(id).map_or("", |node: &Node| &*node.name);
        let (from, to) = piece.ends;
        format!("{} to {}", end(from), end(to))
    }

    /// What the coordinates of a pipe's ends give of it, where both are stated.
    fn between_places(&self, piece: Piece<'_, 'a>) -> Option<Measured> {
        let place = |id: NodeId| self.positions.get(id.index()).copied().flatten();
        let (from, to) = piece.ends;
        let (from, to) = (place(from)?, place(to)?);
        let (length, slope) = elevation::measure(from.xyz(), to.xyz(), piece.instance.role)?;
        let by = "the coordinates of its ends give";
        Some(Measured { length, slope, by })
    }

    /// The length of a pipe: as stated, held to what is measured, or as measured.
    fn length(
        &self,
        piece: Piece<'_, 'a>,
        name: &str,
        measured: Option<Measured>,
        problems: &mut Diagnostics,
    ) -> Option<Length> {
        let (stated, at) = (piece.file.length, piece.at.get("length"));
        if let Some((message, expected)) = length_denied(name, stated) {
            problems.push(at.problem(message).expecting(expected));
        }
        if let (Some(stated), Some(measured)) = (stated, measured)
            && elevation::differ(stated, measured.length)
        {
            let notation = self.notation;
            problems.push(contradiction(
                at,
                "length",
                stated,
                measured.length,
                notation,
                measured.by,
            ));
        }
        stated.or(measured.map(|measured| measured.length))
    }

    /// The slope of a pipe, or the bounds in which it is to be chosen.
    fn slope(
        &self,
        piece: Piece<'_, 'a>,
        length: Option<Length>,
        measured: Option<Measured>,
        is_offset: bool,
        problems: &mut Diagnostics,
    ) -> (Option<Slope>, Option<SlopeBounds>) {
        let (file, role, at) = (piece.file, piece.instance.role, piece.at.get("slope"));
        let from_inverts = file
            .inverts
            .as_ref()
            .filter(|_| !is_offset)
            .and_then(|[start, end]| elevation::between(start.0, end.0, length?, role));
        let derived = from_inverts.or(measured.map(|measured| measured.slope));
        if let (Some(stated), Some(derived), Some(length)) =
            (file.slope.and_then(SlopeFile::stated), derived, length)
            && let (Some(stated), Some(derived)) = (stated.fall_over(length), derived.fall_over(length))
            && elevation::differ(stated, derived)
        {
            let by = match measured {
                Some(measured) if is_offset => measured.by,
                _ => "the heights of its ends give",
            };
            problems.push(contradiction(at, "fall", stated, derived, self.notation, by));
        }
        // What a pipe says of its slope goes before what its run says, and what geometry gives lies between.
        let (slope, bounds) = match (file.slope, derived, piece.instance.run.slope) {
            (Some(SlopeFile::Between(bounds)), None, _) | (None, None, Some(SlopeFile::Between(bounds))) => {
                (None, Some(bounds))
            }
            (own, derived, of_run) => {
                let of_run = of_run.and_then(SlopeFile::stated);
                (own.and_then(SlopeFile::stated).or(derived).or(of_run), None)
            }
        };
        if let Some((message, expected)) = choice_denied(role, bounds) {
            problems.push(at.problem(message).expecting(expected));
        }
        (slope, bounds)
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
    fn offset(
        &self,
        file: &OffsetFile,
        piece: Piece<'_, 'a>,
        way: &Way,
        heading: Option<Bearing>,
        problems: &mut Diagnostics,
    ) -> Option<((Offset, Line), Solved)> {
        let at = piece.at.get("offset");
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
        let angle = self.bends_alike(piece.ends, at, problems)?;
        let offset = Offset {
            set: file.set.unwrap_or_default(),
            roll: roll.0,
            angle,
        };
        let of_run = piece.instance.run.slope.and_then(SlopeFile::stated);
        let line = Line {
            bearing,
            plumb: way.plumb,
            grade: of_run.filter(|_| file.set.is_none() && !way.plumb),
            side: roll.1,
        };
        let solved = offset.solve(line);
        if solved.is_none() {
            problems.push(at.problem("this offset is too large to be reckoned with"));
        }
        Some(((offset, line), solved?))
    }

    /// By how much both fittings at the ends of an offset turn.
    fn bends_alike(
        &self,
        (from, to): (NodeId, NodeId),
        at: Cursor<'a>,
        problems: &mut Diagnostics,
    ) -> Option<Angle> {
        let turn = |id: NodeId| self.graph.node_weight(id).and_then(|node| node.kind.turn());
        let tell = |id: NodeId| {
            let name = self.graph.node_weight(id).map_or("", |node| &*node.name);
            match turn(id) {
                None => format!("`{name}` is not known to turn"),
                Some(turn) => format!("`{name}` turns {turn}"),
            }
        };
        match (turn(from), turn(to)) {
            (one, other) if one == other && one.is_some() => one,
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
