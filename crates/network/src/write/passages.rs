//! The framing that a pipe is stated to pass.

use std::collections::HashMap;

use crownweir_quantity::Length;
use crownweir_vocabulary::Cut;

use super::braces::{Braces, in_file};
use crate::model::{Centre, Network, Passage};

/// The passages of a pipe as a list in brackets, those that follow one another alike in one. None where a file cannot say so
/// of them. `length` is the pipe's, as far as it is known when it is read.
pub(super) fn of_pipe(network: &Network, length: Option<Length>, passages: &[&Passage]) -> Option<String> {
    let mut items = Vec::new();
    let mut numbers: HashMap<u32, u32> = HashMap::new();
    let mut rest = passages;
    while let Some((first, others)) = rest.split_first() {
        let alike = others
            .iter()
            .zip(1..)
            .take_while(|(other, step)| goes_on(network, first, other, *step));
        let count = alike.count() + 1;
        let (these, after) = rest.split_at(count);
        rest = after;
        for passage in these {
            let number = numbers.entry(passage.members).or_default();
            *number = number.checked_add(1)?;
            if passage.number != *number || !can_be_stated(network, passage, length) {
                return None;
            }
        }
        items.push(item(network, first, count)?.close());
    }
    Some(format!("[{}]", items.join(", ")))
}

/// Whether a passage is to another, so many steps before it, as a count of members has it.
fn goes_on(network: &Network, first: &Passage, other: &Passage, step: i64) -> bool {
    let row = network.framing.get(first.members as usize);
    let spacing = first.spacing.or_else(|| row.and_then(|row| row.spacing));
    let along = match first.along {
        None => None,
        Some(along) => {
            let further = spacing.and_then(|spacing| spacing.checked_scale(step, 1));
            let Some(along) = further.and_then(|further| along.checked_add(further)) else {
                return false;
            };
            Some(along)
        }
    };
    let alike = Passage {
        number: other.number,
        position: other.position,
        member: other.member,
        along_member: other.along_member,
        along,
        ..first.clone()
    };
    alike == *other
}

/// Whether a file may say so of a passage.
fn can_be_stated(network: &Network, passage: &Passage, length: Option<Length>) -> bool {
    let row = network.framing.get(passage.members as usize);
    let is_laid_out = row.is_some_and(|row| row.layout.is_some());
    let is_bored = passage.cut == Cut::Bored;
    let notch = [passage.notch_depth, passage.notch_length];
    let has_notch = notch.iter().any(Option::is_some) || passage.notch_edge.is_some();
    let is_notched = matches!(passage.cut, Cut::Notched | Cut::EndNotched);
    let centre = match passage.centre {
        Some(Centre::At(centre)) => Some(centre),
        _ => None,
    };
    let lengths = [
        passage.along,
        passage.spacing,
        passage.hole,
        centre,
        passage.bearing_distance,
        passage.next_cut.flatten(),
    ];
    let mut lengths = lengths.into_iter().chain(notch).flatten();
    let is_beyond = passage
        .along
        .zip(length)
        .is_some_and(|(along, length)| along > length);
    // Which member of a row that is laid out it is, its place along the pipe tells.
    (is_laid_out || passage.member.is_none() && passage.along_member.is_none())
        && (is_bored || passage.hole.is_none())
        && (is_notched || !has_notch)
        && lengths.all(|length| length >= Length::ZERO)
        && !is_beyond
}

fn item(network: &Network, passage: &Passage, count: usize) -> Option<Braces> {
    let row = network.framing.get(passage.members as usize)?;
    let mut own = Braces::new(network.notation);
    own.text("framing", &row.name);
    own.length("first", passage.along);
    own.maybe("count", Some(count).filter(|&count| count > 1));
    own.length("spacing", passage.spacing);
    own.maybe(
        "cut",
        Some(passage.cut)
            .filter(|&cut| cut != Cut::Bored)
            .map(|word| word.name()),
    );
    own.length("hole", passage.hole);
    own.length("notch_depth", passage.notch_depth);
    own.length("notch_length", passage.notch_length);
    own.maybe("notch_edge", passage.notch_edge.map(|word| word.name()));
    match passage.centre {
        None => {}
        Some(Centre::Middle) => own.put("centre", "middle"),
        Some(Centre::At(centre)) => own.length("centre", Some(centre)),
    }
    own.length("bearing_distance", passage.bearing_distance);
    let next = passage.next_cut;
    let next = next.map(|next| {
        next.map_or_else(
            || "none".to_owned(),
            |next| in_file(next, network.notation).to_string(),
        )
    });
    own.maybe("next_cut", next);
    own.maybe("doubled", passage.doubled);
    own.maybe("doubled_in_row", passage.doubled_in_row);
    own.maybe("steel_plate", passage.steel_plate);
    own.maybe("metal_tie", passage.metal_tie);
    Some(own)
}
