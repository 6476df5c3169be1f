//! Framing and the pipes that pass it, as the file states them.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostic, Diagnostics, nearest};
use crownweir_quantity::{Length, NominalSize, SizeSystem, Slope};
use crownweir_vocabulary::{Cut, MemberKind, MemberRuns};

use crate::build::{Builder, Instance, position_of};
use crate::elevation;
use crate::expand::Storeys;
use crate::heights::apart;
use crate::model::{Centre, Layout, Members, Network, NodeId, Passage, Pipe, PipeId, floor};
use crate::wire::{MembersFile, PassageFile, PipeFile};

/// The rows of framing, and where each stands among them.
#[derive(Debug, Default)]
pub(crate) struct Framing {
    pub(crate) list: Vec<Members>,
    index: HashMap<Arc<str>, u32>,
}

impl Framing {
    pub(crate) fn read(
        file: &[MembersFile],
        top: Cursor<'_>,
        storeys: &Storeys,
        problems: &mut Diagnostics,
    ) -> Self {
        let mut framing = Self::default();
        for (index, members) in file.iter().enumerate() {
            let at = top.get("framing").item(index);
            let storey = members.storey.as_ref().and_then(|wanted| {
                let found = storeys.find(&wanted.0);
                if found.is_none() {
                    problems.push(
                        at.get("storey")
                            .problem(format!("there is no storey `{}`", wanted.0))
                            .expecting(storeys.expected())
                            .suggesting(storeys.nearest(&wanted.0)),
                    );
                }
                found
            });
            for (key, length) in [
                ("depth", members.depth),
                ("thickness", members.thickness),
                ("spacing", members.spacing),
                ("span", members.span),
            ] {
                if length == Some(Length::ZERO) {
                    let what = format!("a {key} of nothing");
                    problems.push(at.get(key).problem(what).expecting("a length above zero"));
                }
            }
            let name: Arc<str> = members.framing.0.as_str().into();
            let number = u32::try_from(framing.list.len()).unwrap_or(u32::MAX);
            if framing.index.insert(Arc::clone(&name), number).is_some() {
                problems.push(
                    at.get("framing")
                        .problem(format!("two rows of framing are called `{name}`"))
                        .expecting("a name of its own for each row"),
                );
            }
            framing.list.push(Members {
                name,
                kind: members.kind,
                make: members.make,
                depth: members.depth,
                thickness: members.thickness,
                spacing: members.spacing,
                span: members.span,
                storey,
                top: members.top.map(|top| top.0),
                bearing: members.bearing,
                doubled: members.doubled,
                layout: layout(members, at, problems),
                position: position_of(at),
            });
        }
        framing
    }
}

/// The most rows of framing that are laid out: every pipe is looked for in each.
const MOST_LAID_OUT: usize = 1000;

const MEND_LAID: &str = "correct a length, a direction, the layout or what is stated (`first`, `count`, `spacing`), or leave \
                         `passes` out where the layout gives it";

/// The most times that pipes pass one member of a row that is laid out, many more than it has room for: each hole is held to
/// those beside it.
const MOST_IN_A_MEMBER: usize = 500;

/// Where members stand, if all is stated that it takes to find pipes that pass them.
fn layout(members: &MembersFile, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<Layout> {
    let file = members.layout?;
    if !matches!(members.kind, MemberKind::Joist | MemberKind::Rafter) {
        // The depth of these is across their wall, where no height tells what passes them.
        problems.push(
            at.get("layout")
                .problem(format!(
                    "a layout goes with joists and rafters, not with a {}",
                    members.kind
                ))
                .helped("say at each pipe what it passes of them (`passes`)"),
        );
        return None;
    }
    let needed = [
        ("spacing", members.spacing.is_some()),
        ("depth", members.depth.is_some()),
        ("storey", members.storey.is_some()),
        ("top", members.top.is_some()),
    ];
    let missing = needed
        .iter()
        .filter(|(_, stated)| !stated)
        .map(|(key, _)| format!("`{key}`"));
    let missing: Vec<_> = missing.collect();
    if !missing.is_empty() {
        problems.push(
            at.get("layout")
                .problem("what stands in plan is to be found by its height too")
                .expecting(format!("{} beside the layout", missing.join(", "))),
        );
    }
    if file.count == 0 {
        problems.push(at.get("layout").get("count").problem("a row of no members"));
    }
    Some(Layout {
        runs: file.runs,
        first: file.first.0,
        count: file.count,
        bearings: file.bearings.map(|bearings| bearings.map(|bearing| bearing.0)),
    })
}

impl<'a> Builder<'a> {
    /// The framing that a pipe passes.
    pub(crate) fn passages(
        &mut self,
        instance: &Instance<'a>,
        file: &PipeFile,
        pipe: &Pipe,
        at: Cursor<'a>,
        problems: &mut Diagnostics,
    ) {
        // How many of each row the pipe has passed so far: each gets a number of its own.
        let mut numbers: HashMap<u32, u32> = HashMap::new();
        for (index, passes) in file.passes.iter().enumerate() {
            let at = at.get("passes").item(index);
            let name = self.fill(instance, &passes.framing, "path", problems);
            let Some(&members) = self.framing.index.get(name.as_str()) else {
                problems.push_with(|| {
                    let known = self.framing.index.keys().map(|known| &**known);
                    at.get("framing")
                        .problem(format!("there is no framing `{name}`"))
                        .suggesting(nearest(&name, known))
                });
                continue;
            };
            let own = self
                .framing
                .list
                .get(members as usize)
                .and_then(|row| row.spacing);
            let before = numbers.entry(members).or_default();
            self.passes(passes, (members, own, *before), pipe, at, problems);
            *before = before.saturating_add(passes.count.unwrap_or(1));
        }
    }

    fn passes(
        &mut self,
        file: &PassageFile,
        (members, own_spacing, before): (u32, Option<Length>, u32),
        pipe: &Pipe,
        at: Cursor<'a>,
        problems: &mut Diagnostics,
    ) {
        let count = file.count.unwrap_or(1);
        let room = self.most.saturating_sub(self.passed.len());
        if count == 0 || count as usize > room {
            let message = format!("{count} members; from 1 to {room} can be passed here");
            problems.push(at.get("count").problem(message));
            return;
        }
        let notched = matches!(file.cut, Some(Cut::Notched | Cut::EndNotched));
        let bored = matches!(file.cut, None | Some(Cut::Bored));
        for (key, stated, fits) in [
            ("hole", file.hole.is_some(), bored),
            ("notch_depth", file.notch_depth.is_some(), notched),
            ("notch_length", file.notch_length.is_some(), notched),
            ("notch_edge", file.notch_edge.is_some(), notched),
        ] {
            if stated && !fits {
                let what = format!("`{key}` does not go with this `cut`");
                problems.push(at.key(key).problem(what));
            }
        }
        let spacing = file.spacing.or(own_spacing);
        if count > 1 && spacing.is_none() && file.first.is_some() {
            problems.push(
                at.problem("how far it is from one member to the next is not stated")
                    .expecting("`spacing` here or under `framing`"),
            );
            return;
        }
        for step in 0..count {
            let along = match (file.first, spacing) {
                (Some(first), Some(spacing)) => spacing
                    .checked_scale(i64::from(step), 1)
                    .and_then(|further| first.checked_add(further)),
                (first, _) => first,
            };
            if file.first.is_some()
                && (along.is_none() || along.zip(pipe.length).is_some_and(|(x, length)| x > length))
            {
                problems.push(
                    at.problem(format!(
                        "member {} of {count} stands beyond the end of the pipe `{}`",
                        step + 1,
                        pipe.name
                    ))
                    .helped("correct `first`, `count` or `spacing`, or the length of the pipe"),
                );
                return;
            }
            self.passed.push((
                Arc::clone(&pipe.name),
                Passage {
                    pipe: PipeId::end(),
                    members,
                    number: before.saturating_add(step + 1),
                    along,
                    spacing: file.spacing,
                    member: None,
                    along_member: None,
                    cut: file.cut.unwrap_or(Cut::Bored),
                    hole: file.hole,
                    notch_depth: file.notch_depth,
                    notch_length: file.notch_length,
                    notch_edge: file.notch_edge,
                    centre: file
                        .centre
                        .map(|centre| centre.0.map_or(Centre::Middle, Centre::At)),
                    bearing_distance: file.bearing_distance,
                    next_cut: file.next_cut.map(|next| next.0),
                    doubled: file.doubled,
                    doubled_in_row: file.doubled_in_row,
                    steel_plate: file.steel_plate,
                    metal_tie: file.metal_tie,
                    position: position_of(at),
                },
            ));
        }
    }
}

impl Network {
    /// Adds the passages that follow from where pipes and members stand in plan. Of what a pipe is stated to pass of such a
    /// row it is found out which members they are; those that it passes besides are added.
    ///
    /// # Errors
    /// More members for pipes to pass than the limit that the network was read with, or more pipes through one of them than
    /// there is room for.
    pub(crate) fn find_passages(&mut self) -> Result<(), String> {
        self.find_passages_by(&|_| None)
    }

    /// The same network with its passages through members that are laid out found anew: by the outside diameters of its
    /// pipes, where `outside` tells them, and not by their nominal sizes.
    ///
    /// # Errors
    /// More members for pipes to pass than the limit that the network was read with.
    pub fn passing_by(&self, outside: &dyn Fn(&Pipe) -> Option<Length>) -> Result<Self, Diagnostics> {
        let mut network = self.clone();
        network.passages.truncate(network.stated_passages);
        if let Err(message) = network.find_passages_by(outside) {
            let mut problems = Diagnostics::keeping(1);
            problems.push(Diagnostic::at(&self.file, 1, 1, message));
            return problems.or(None);
        }
        Ok(network)
    }

    fn find_passages_by(&mut self, outside: &dyn Fn(&Pipe) -> Option<Length>) -> Result<(), String> {
        let most = self.most;
        let laid_out = self.framing.iter().filter(|members| members.layout.is_some());
        match laid_out.count() {
            0 => return Ok(()),
            count if count > MOST_LAID_OUT => {
                return Err(format!(
                    "{count} rows of framing are laid out; at most {MOST_LAID_OUT} are read"
                ));
            }
            _ => {}
        }
        let mut room = most.saturating_sub(self.passages.len());
        let mut found = Vec::new();
        let mut placed = Vec::new();
        let mut stated: HashMap<(PipeId, u32), Vec<usize>> = HashMap::new();
        for (index, passage) in self.passages.iter_mut().enumerate() {
            (passage.member, passage.along_member) = (None, None);
            let own = stated.entry((passage.pipe, passage.members)).or_default();
            own.push(index);
        }
        let mut pipes: Vec<PipeId> = self.graph.edge_indices().collect();
        pipes.sort_by_key(|&id| {
            let pipe = self.graph.edge_weight(id);
            pipe.map(|pipe| (pipe.position.line, pipe.position.column, id))
        });
        for (number, members) in (0..).zip(&self.framing) {
            let Some(layout) = &members.layout else { continue };
            let before = found.len();
            for &pipe in &pipes {
                let own = stated.get(&(pipe, number)).map_or(&[][..], Vec::as_slice);
                let Ok(crossings) = self.crossings(pipe, (members, layout), outside, own, &mut room) else {
                    return Err(format!(
                        "pipes pass more than {most} members; no more are looked at"
                    ));
                };
                let own_placed = self.placed(own, &crossings);
                let stated_too: HashSet<i128> = own_placed.iter().map(|(_, placed)| placed.index).collect();
                let others = crossings
                    .into_iter()
                    .filter(|one| one.touched && !stated_too.contains(&one.index));
                let others = (own.len() + 1..).zip(others);
                // Where what is stated is not what is laid out, that is told, and nothing is added to it.
                if own.len() == own_placed.len() {
                    found.extend(others.map(|(count, one)| self.passage((pipe, number), layout, count, one)));
                }
                placed.extend(own_placed);
            }
            let mut passed: Vec<Option<u32>> =
                found.iter().skip(before).map(|passage| passage.member).collect();
            passed.sort_unstable();
            let mut passed = passed.chunk_by(|one, other| one == other);
            if passed.any(|member| member.len() > MOST_IN_A_MEMBER) {
                return Err(format!(
                    "pipes pass one member of `{}` more than {MOST_IN_A_MEMBER} times",
                    members.name
                ));
            }
        }
        for (index, crossing) in placed {
            if let Some(passage) = self.passages.get_mut(index) {
                passage.member = u32::try_from(crossing.index).ok();
                passage.along_member = crossing.along_member;
            }
        }
        self.passages.append(&mut found);
        Ok(())
    }

    /// Where in plan one pipe crosses the members of a row that is laid out, along the pipe, and which of them it touches;
    /// an error where there is no room for more. All that it lies across take up room, whether or not it turns out to touch
    /// them. Of a pipe that touches none only those are looked for that it is stated to pass.
    fn crossings(
        &self,
        id: PipeId,
        (members, layout): (&Members, &Layout),
        outside: &dyn Fn(&Pipe) -> Option<Length>,
        stated: &[usize],
        room: &mut usize,
    ) -> Result<Vec<Crossing>, Full> {
        let heights = self.heights_of(id, members, outside);
        if heights.is_none() && stated.is_empty() {
            return Ok(Vec::new());
        }
        let Some(line) = self.line(id, members, layout) else {
            return Ok(Vec::new());
        };
        *room = room.checked_sub(line.across().ok_or(Full)?).ok_or(Full)?;
        let crossings = line.crossings(layout).map(|crossing| Crossing {
            touched: heights.is_some_and(|heights| self.touches(id, crossing.along, heights)),
            ..crossing
        });
        Ok(crossings.collect())
    }

    /// Which of the members that a pipe crosses in plan each of those is that it is stated to pass, by their place in the
    /// list of passages; those are left out that are none of them.
    fn placed(&self, stated: &[usize], crossings: &[Crossing]) -> Vec<(usize, Crossing)> {
        let along = stated
            .iter()
            .map(|&index| Some((index, self.passages.get(index)?.along?)));
        let Some(along) = along.collect::<Option<Vec<_>>>() else {
            // In what order they come is known, where all are stated.
            let touched: Vec<&Crossing> = crossings.iter().filter(|one| one.touched).collect();
            let all = if stated.len() == touched.len() {
                touched
            } else {
                crossings.iter().collect()
            };
            let fits = stated.len() == all.len();
            let pairs = stated.iter().copied().zip(all.into_iter().copied());
            return pairs.filter(|_| fits).collect();
        };
        let placed = along.into_iter().filter_map(|(index, along)| {
            let nearest = nearest_to(along, crossings)?;
            (!apart(along, nearest.along)).then_some((index, *nearest))
        });
        placed.collect()
    }

    /// The passage of a pipe through a member that it crosses, as the layout of the row gives it.
    fn passage(
        &self,
        (pipe, members): (PipeId, u32),
        layout: &Layout,
        count: usize,
        crossing: Crossing,
    ) -> Passage {
        let position = self.graph.edge_weight(pipe).map(|pipe| pipe.position);
        Passage {
            pipe,
            members,
            number: u32::try_from(count).unwrap_or(u32::MAX),
            along: Some(crossing.along),
            spacing: None,
            member: u32::try_from(crossing.index).ok(),
            along_member: crossing.along_member,
            cut: Cut::Bored,
            hole: None,
            notch_depth: None,
            notch_length: None,
            notch_edge: None,
            centre: None,
            bearing_distance: layout.off_bearing(crossing.along_member),
            next_cut: None,
            doubled: None,
            doubled_in_row: None,
            steel_plate: None,
            metal_tie: None,
            position: position.unwrap_or_default(),
        }
    }

    /// How a pipe is laid across the row that a passage of it is through, where that row is laid out and it is not known
    /// which member is passed there.
    fn laid_across(&self, passage: &Passage) -> Option<Across> {
        let members = self.framing.get(passage.members as usize)?;
        let layout = members.layout.as_ref()?;
        let line = self.line(passage.pipe, members, layout)?;
        if line.across()? > self.most {
            return None;
        }
        let stated = self.passages.iter().take(self.stated_passages);
        let of_both = |one: &&Passage| (one.pipe, one.members) == (passage.pipe, passage.members);
        Some(Across {
            runs_along: line.way == 0,
            crossings: line.crossings(layout).collect(),
            stated: stated.filter(of_both).count(),
        })
    }

    /// What is to be said of a member that a pipe is stated to pass, where the row is laid out and it is not there that the
    /// pipe crosses one, and what mends it. How pipes are laid across rows is kept in `across` from one passage to the next.
    pub(crate) fn denied_by_layout(
        &self,
        passage: &Passage,
        across: &mut HashMap<(PipeId, u32), Option<Across>>,
    ) -> Option<(String, &'static str)> {
        if passage.member.is_some() {
            return None;
        }
        let of_both = (passage.pipe, passage.members);
        let laid = across.entry(of_both).or_insert_with(|| self.laid_across(passage));
        let Across {
            runs_along,
            crossings,
            stated,
        } = laid.as_ref()?;
        let name = &self.graph.edge_weight(passage.pipe)?.name;
        let row = &self.framing.get(passage.members as usize)?.name;
        let message = match passage.along {
            _ if *runs_along => format!(
                "`{name}` is stated to pass number {} of `{row}`, but runs along them by where both are laid",
                passage.number
            ),
            _ if crossings.is_empty() => format!(
                "`{name}` is stated to pass number {} of `{row}`, but comes to none by where both are laid",
                passage.number
            ),
            Some(along) => {
                let nearest = nearest_to(along, crossings).filter(|nearest| apart(along, nearest.along))?;
                let shown = |length: Length| elevation::magnitude(length, self.notation);
                format!(
                    "`{name}` is stated to pass number {} of `{row}` {} along it, but comes to number {} of the row {} along \
                     it by where both are laid",
                    passage.number,
                    shown(along),
                    nearest.index + 1,
                    shown(nearest.along)
                )
            }
            None => format!(
                "`{name}` is stated to pass {stated} of `{row}`, but comes to {} by where both are laid",
                crossings.len()
            ),
        };
        Some((message, MEND_LAID))
    }

    /// Between which heights a pipe touches the members of a row, if it comes between them and both are known: the upper
    /// one first.
    fn heights_of(
        &self,
        id: PipeId,
        members: &Members,
        outside: &dyn Fn(&Pipe) -> Option<Length>,
    ) -> Option<[Length; 2]> {
        let pipe = self.graph.edge_weight(id)?;
        let (from, to) = self.graph.edge_endpoints(id)?;
        let upper = floor(&self.storeys, members.storey)?.checked_add(members.top?)?;
        let touch = match outside(pipe) {
            Some(outside) => outside.checked_scale(1, 2)?,
            None => half_of(pipe.size?).checked_add(TOUCH)?,
        };
        let (top, bottom) = (
            upper.checked_add(touch)?,
            upper.checked_sub(members.depth?)?.checked_sub(touch)?,
        );
        let height = |id: NodeId| self.graph.node_weight(id).and_then(|node| node.elevation);
        let (one, other) = (height(from)?, height(to)?);
        // A pipe is straight: with both ends over the members, or under them, it touches none.
        let meets = one.min(other) < top && bottom < one.max(other);
        meets.then_some([top, bottom])
    }

    /// How a pipe lies in plan to the members of a row; none where it stands or is in the ground, or where that is not known.
    fn line(&self, id: PipeId, members: &Members, layout: &Layout) -> Option<Line> {
        let pipe = self.graph.edge_weight(id)?;
        let (from, to) = self.graph.edge_endpoints(id)?;
        if pipe.underground || pipe.slope.is_some_and(Slope::is_vertical) {
            return None;
        }
        let (along, across) = match layout.runs {
            MemberRuns::EastWest => (0, 1),
            _ => (1, 0),
        };
        let place = |node: NodeId, axis: usize| self.place_in_plan(node).get(axis).copied().flatten();
        let (start, end) = (place(from, across)?.nanometres(), place(to, across)?.nanometres());
        let way = i128::from(end) - i128::from(start);
        let step = i128::from(members.spacing?.nanometres()).max(1);
        let origin = i128::from(layout.first.nanometres());
        // Of two pipes that meet in the middle of a member one passes it.
        let index = |at: i64| (i128::from(at) - origin).div_euclid(step);
        let (first, last) = ((index(start.min(end)) + 1).max(0), index(start.max(end)));
        let last = last.min(i128::from(layout.count) - 1);
        Some(Line {
            start: i128::from(start),
            way,
            origin,
            step,
            first,
            last: if way == 0 { first - 1 } else { last },
            length: pipe.length?,
            ends: place(from, along).zip(place(to, along)),
        })
    }

    /// Whether a pipe is so high at a distance along it that it touches a member.
    fn touches(&self, pipe: PipeId, at: Length, [top, bottom]: [Length; 2]) -> bool {
        let height = self.height_along(pipe, at);
        height.is_some_and(|height| bottom < height && height < top)
    }
}

impl Network {
    /// How thick the wood is that a pipe passes: two members where a second is nailed to the first, one where that is not
    /// stated ([`Network::goes_through_two`]).
    #[must_use]
    pub fn thickness_at(&self, passage: &Passage) -> Option<Length> {
        let members = self.framing.get(passage.members as usize)?;
        let doubled = self.goes_through_two(passage) == Some(true);
        members.thickness?.checked_scale(if doubled { 2 } else { 1 }, 1)
    }

    /// Whether a pipe passes two members that are nailed together, where that is stated. The thickness of plates is stated of
    /// all together.
    #[must_use]
    pub fn goes_through_two(&self, passage: &Passage) -> Option<bool> {
        let members = self.framing.get(passage.members as usize)?;
        match members.kind {
            MemberKind::TopPlate | MemberKind::SolePlate => Some(false),
            _ => passage.doubled.or(members.doubled),
        }
    }
}

impl Network {
    /// How far a passage is from the nearer bearing of its member: as stated, or as the layout of the row gives it.
    #[must_use]
    pub fn bearing_distance(&self, passage: &Passage) -> Option<Length> {
        let layout = self.framing.get(passage.members as usize)?.layout.as_ref();
        let laid_out = layout.and_then(|layout| layout.off_bearing(passage.along_member));
        passage.bearing_distance.or(laid_out)
    }
}

impl Network {
    /// Of each row the pipe by which it is taken which way joists or rafters run that are not laid out: they are taken to be
    /// square to the first that passes them and whose way in plan is known. What the file states of the distance from one to
    /// the next along a pipe tells its angle, whichever way they run.
    #[must_use]
    pub fn squared_to(&self) -> Vec<Option<PipeId>> {
        let mut squared_to = vec![None; self.framing.len()];
        for passage in self.passages.iter().filter(|one| one.spacing.is_none()) {
            let row = passage.members as usize;
            let is_open = self.framing.get(row).is_some_and(|row| {
                row.layout.is_none() && matches!(row.kind, MemberKind::Joist | MemberKind::Rafter)
            });
            if let Some(slot @ None) = squared_to.get_mut(row)
                && is_open
                && self.bearing(passage.pipe).is_some()
            {
                *slot = Some(passage.pipe);
            }
        }
        squared_to
    }

    /// Whether it is not known at which angle a pipe passes a member: it lies at another in plan than the pipe to which the
    /// row is taken to be square, by [`Network::squared_to`].
    #[must_use]
    pub fn passes_at_unknown_angle(&self, passage: &Passage, squared_to: &[Option<PipeId>]) -> bool {
        let first = squared_to.get(passage.members as usize).copied().flatten();
        let bearings = first
            .filter(|_| passage.spacing.is_none())
            .and_then(|first| self.bearing(first))
            .zip(self.bearing(passage.pipe));
        bearings.is_some_and(|(one, other)| {
            let [one, other] = [one, other].map(crownweir_quantity::Bearing::microdegrees);
            let apart = (one - other).rem_euclid(HALF_CIRCLE);
            apart.min(HALF_CIRCLE - apart) > SAME_WAY
        })
    }
}

/// In millionths of a degree: a pipe passes a row at the same angle whichever end it comes from.
const HALF_CIRCLE: i64 = 180_000_000;

/// Two bearings that differ by less, in millionths of a degree, are taken for one: half a degree is a rounding.
const SAME_WAY: i64 = 500_000;

/// How a pipe passes a member.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slant {
    /// The cosine of the angle between the pipe and the way square through the member; above 0, at most 1.
    pub cosine: f64,
    /// Whether nothing but the fall of a drain or the rise of a vent has it out of square, through what stands on edge or
    /// upright: next to nothing.
    pub by_fall_alone: bool,
}

impl Network {
    /// How far out of square a pipe passes a member. Through a plate, which lies, the way square is plumb. Through what
    /// stands on edge or upright, the pipe's direction in plan tells where the members are laid out; else what the file
    /// states of the distance from one to the next along the pipe, over their own; a pipe of which neither is stated passes
    /// square to them in plan. None where it runs along them or its slope is not known. Floating point.
    #[must_use]
    pub fn slant(&self, passage: &Passage) -> Option<Slant> {
        let pipe = self.graph.edge_weight(passage.pipe)?;
        let members = self.framing.get(passage.members as usize)?;
        let slope = pipe.slope?;
        let lies = matches!(members.kind, MemberKind::TopPlate | MemberKind::SolePlate);
        if slope.is_vertical() {
            return lies.then_some(Slant {
                cosine: 1.0,
                by_fall_alone: true,
            });
        }
        let (plumb, level) = slope.as_f64()?.atan().sin_cos();
        if lies {
            return (plumb > ALONG).then_some(Slant {
                cosine: plumb,
                by_fall_alone: false,
            });
        }
        let across = match (
            &members.layout,
            self.bearing(passage.pipe),
            passage.spacing,
            members.spacing,
        ) {
            (Some(layout), Some(bearing), ..) => {
                let [east, north] = bearing.east_and_north();
                match layout.runs {
                    MemberRuns::EastWest => north.abs(),
                    _ => east.abs(),
                }
            }
            // Along the pipe, whose fall is in it already.
            (_, _, Some(along), Some(own)) => own.as_metres_f64() / along.as_metres_f64() / level,
            _ => 1.0,
        };
        let across = across.min(1.0);
        let cosine = across * level;
        (cosine > ALONG).then_some(Slant {
            cosine,
            // An angle of a thousandth of a degree is a rounding.
            by_fall_alone: across >= 1.0 - 1e-9,
        })
    }
}

/// A pipe that is so nearly along the members that it does not pass them: the cosine of 89 degrees and a half.
const ALONG: f64 = 0.0087;

/// There is no room for more passages.
struct Full;

/// A pipe that lies across members.
struct Line {
    /// Where it starts, measured across the members, and how far it goes that way.
    start: i128,
    way: i128,
    /// Where the first member stands, how far it is to the next, and which of them stand between the pipe's ends.
    origin: i128,
    step: i128,
    first: i128,
    last: i128,
    length: Length,
    /// Where the pipe starts and ends along the members.
    ends: Option<(Length, Length)>,
}

/// How a pipe is laid across a row of members.
pub(crate) struct Across {
    /// Whether it runs along them.
    runs_along: bool,
    /// Those that it crosses, in the order along the pipe.
    crossings: Vec<Crossing>,
    /// How many of them the file states that it passes.
    stated: usize,
}

/// Where a pipe crosses a member in plan.
#[derive(Clone, Copy)]
struct Crossing {
    /// Of the member in its row, counted from 0.
    index: i128,
    /// How far along the pipe that is, and where along the member.
    along: Length,
    along_member: Option<Length>,
    /// Whether the pipe is known to be so high there that it touches the member.
    touched: bool,
}

/// The crossing that is nearest to a place along the pipe, of several in their order along it.
fn nearest_to(along: Length, crossings: &[Crossing]) -> Option<&Crossing> {
    let off = |one: &&Crossing| one.along.nanometres().abs_diff(along.nanometres());
    let (before, from) = crossings.split_at(crossings.partition_point(|one| one.along < along));
    before.last().into_iter().chain(from.first()).min_by_key(off)
}

impl Layout {
    /// How far a place along a member is from the nearer of its bearings.
    fn off_bearing(&self, along_member: Option<Length>) -> Option<Length> {
        let (bearings, own) = self.bearings.zip(along_member)?;
        let [one, other] = bearings.map(|bearing| own.nanometres().abs_diff(bearing.nanometres()));
        i64::try_from(one.min(other)).ok().map(Length::from_nanometres)
    }
}

impl Line {
    /// How many members it lies across.
    fn across(&self) -> Option<usize> {
        usize::try_from(self.last.checked_sub(self.first)?.checked_add(1)?.max(0)).ok()
    }

    /// Where it crosses the members between their bearings, in the direction of the pipe.
    fn crossings(&self, layout: &Layout) -> impl Iterator<Item = Crossing> {
        let within = |[one, other]: [Length; 2], own: Length| one.min(other) <= own && own <= one.max(other);
        (self.first..=self.last)
            .enumerate()
            .filter_map(move |(step, index)| {
                let index = if self.way > 0 {
                    index
                } else {
                    self.last.checked_sub(i128::try_from(step).ok()?)?
                };
                let (along, along_member) = self.at(index)?;
                let ends = layout.bearings.zip(along_member);
                ends.is_none_or(|(bearings, own)| within(bearings, own))
                    .then_some(Crossing {
                        index,
                        along,
                        along_member,
                        touched: false,
                    })
            })
    }

    /// How far along the pipe a member stands, and where along the member: each to the nearest nanometre.
    fn at(&self, index: i128) -> Option<(Length, Option<Length>)> {
        let member = self.origin.checked_add(index.checked_mul(self.step)?)?;
        let share = |whole: i64| {
            let part = i128::from(whole).checked_mul(member.checked_sub(self.start)?)?;
            let (part, way) = if self.way < 0 {
                (part.checked_neg()?, -self.way)
            } else {
                (part, self.way)
            };
            let twice = part.checked_mul(2)?.checked_add(way)?;
            let share = i64::try_from(twice.div_euclid(way.checked_mul(2)?)).ok()?;
            Some(Length::from_nanometres(share))
        };
        let own = self.ends.and_then(|(one, other)| {
            let further = share(other.checked_sub(one)?.nanometres())?;
            one.checked_add(further)
        });
        Some((share(self.length.nanometres())?, own))
    }
}

/// Half the number in a size's name, as a length: pipe by that name is about half an inch wider.
pub(crate) fn half_of(size: NominalSize) -> Length {
    let number = i64::from(size.number());
    Length::from_nanometres(match size.system() {
        SizeSystem::Inch => number.saturating_mul(Length::INCH.nanometres()) / 128,
        _ => number.saturating_mul(500_000),
    })
}

/// How much further than half its nominal size a pipe may reach from its centre: within that it touches a member.
pub(crate) const TOUCH: Length = Length::from_nanometres(Length::INCH.nanometres() / 4);
