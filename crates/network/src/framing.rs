//! Framing and the pipes that pass it, as the file states them.

use std::collections::HashMap;
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostics, nearest};
use crownweir_quantity::Length;
use crownweir_vocabulary::Cut;

use crate::build::{Builder, Instance, position_of};
use crate::expand::Storeys;
use crate::model::{Centre, Members, Passage, Pipe};
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
                position: position_of(at),
            });
        }
        framing
    }
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
                let known = self.framing.index.keys().map(|known| &**known);
                problems.push(
                    at.get("framing")
                        .problem(format!("there is no framing `{name}`"))
                        .suggesting(nearest(&name, known)),
                );
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
                    pipe: crate::model::PipeId::end(),
                    members,
                    number: before.saturating_add(step + 1),
                    along,
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
