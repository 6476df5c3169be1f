//! The cut list and how its pieces come out of stock lengths, as sheets.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use crownweir_quantity::Length;
use crownweir_vocabulary::Material;

use crate::cut::{Cut, End, Piece};
use crate::dimensions::Basis;
use crate::job::Job;
use crate::packing::{MOST_STEPS, pack};
use crate::sheet::{Cell, Column, Holds, Sheet, on_tape};

/// Pieces of one material and size.
struct Group<'p> {
    material: Option<Material>,
    /// The size as the network calls it; by every name, where it has several.
    size: String,
    /// In the order of their numbers.
    pieces: Vec<&'p Piece>,
}

/// The pieces by material and size, the larger sizes first.
fn grouped<'p>(job: &'p Job<'_>) -> Vec<Group<'p>> {
    let graph = job.network.graph();
    let mut groups: BTreeMap<_, (BTreeSet<String>, Vec<&Piece>)> = BTreeMap::new();
    for piece in &job.pieces {
        let Some(own) = graph.edge_weight(piece.pipe) else {
            continue;
        };
        let size = own.size.map(|size| job.dimensions.size(size));
        let order = Reverse(size.map(|size| (size.number(), size.to_string())));
        let (names, pieces) = groups.entry((own.material, order)).or_default();
        names.extend(own.size.map(|size| size.to_string()));
        pieces.push(piece);
    }
    let groups = groups.into_iter().map(|((material, _), (names, mut pieces))| {
        pieces.sort_by_key(|piece| piece.number());
        Group {
            material,
            size: names.into_iter().collect::<Vec<_>>().join(" or "),
            pieces,
        }
    });
    groups.collect()
}

/// What the heading of a group says: material and size.
fn heading(material: Option<Material>, size: &str) -> [Cell; 2] {
    [
        material.map_or_else(
            || Cell::from("material not stated"),
            |material| Cell::from(shown(material)),
        ),
        Cell::from(if size.is_empty() { "size not stated" } else { size }),
    ]
}

/// A material as it stands on a sheet: plastics by their letters.
pub(crate) fn shown(material: Material) -> String {
    let name = material.to_string();
    if name.len() <= 4 && material.is_plastic() {
        return name.to_uppercase();
    }
    name
}

/// The cut list.
pub(crate) fn cuts(job: &Job<'_>) -> Sheet {
    let network = job.network;
    let graph = network.graph();
    let notation = network.notation();
    let mut rows = Vec::new();
    for Group {
        material,
        size,
        pieces,
    } in grouped(job)
    {
        for piece in pieces {
            let name = |end: usize| {
                let ends = graph.edge_endpoints(piece.pipe).map(|(from, to)| [from, to]);
                let node = ends.and_then(|ends| graph.node_weight(*ends.get(end)?));
                node.map_or(Cell::Empty, |node| Cell::from(&*node.name))
            };
            let stop = |end: usize| match piece.ends.get(end) {
                Some(End::Fitting { stop, .. }) => Cell::Length(*stop),
                Some(End::NotStated(missing)) => Cell::not_stated(missing),
                _ => Cell::Empty,
            };
            let mut remarks = piece.remarks.clone();
            let cut = match &piece.cut {
                Cut::To(length) => Cell::Length(*length),
                Cut::NotStated(missing) => Cell::NotStated(missing.clone()),
                Cut::NoRoom(needed) => {
                    remarks.insert(
                        0,
                        format!(
                            "no room: its fittings need {} centre to centre",
                            on_tape(*needed, notation)
                        ),
                    );
                    Cell::Empty
                }
            };
            let mut row = Vec::from(heading(material, &size));
            row.extend([
                Cell::from(piece.mark.as_str()),
                cut,
                piece.centres.map_or(Cell::Empty, Cell::Length),
                name(0),
                stop(0),
                name(1),
                stop(1),
                Cell::List(remarks),
            ]);
            rows.push(row);
        }
    }
    let mut notes: Vec<String> = job.contradictions("nothing is cut to it").collect();
    notes.extend([
        "Cut is from end to end of the pipe: centre to centre less, at each end, what lies between the fitting's centre \
         and the stop of its socket. Mark the full depth of the socket on the pipe: a dry joint stands proud of its \
         stop, so a piece marked from a dry assembly comes out short."
            .to_owned(),
        format!(
            "Lengths are to {}; what one piece is over the next is under, so that nothing adds up along a line.",
            on_tape(crate::sheet::grain(notation), notation)
        ),
    ]);
    for (basis, note) in [
        (
            Basis::Memory,
            "Pieces by figures from memory: compare with the maker's sheet of the fittings in hand before cutting.",
        ),
        (
            Basis::Invented,
            "Some dimensions are invented for demonstration: do not cut by this sheet.",
        ),
    ] {
        if job.pieces.iter().any(|piece| piece.is_by(basis)) {
            notes.push(note.to_owned());
        }
    }
    notes.push(format!("Dimensions: {}.", job.dimensions.titles().join("; ")));
    Sheet {
        name: "cuts",
        title: "cut list".to_owned(),
        network: network.name().to_owned(),
        notation,
        columns: vec![
            Column::new("material", "material", Holds::Text),
            Column::new("size", "size", Holds::Text),
            Column::new("piece", "piece", Holds::Text),
            Column::new("cut", "cut", Holds::Length),
            Column::new("centre_to_centre", "c to c", Holds::Length),
            Column::new("from", "from", Holds::Text),
            Column::new("from_takes", "takes", Holds::Length),
            Column::new("to", "to", Holds::Text),
            Column::new("to_takes", "takes", Holds::Length),
            Column::new("remarks", "remarks", Holds::Text),
        ],
        headings: 2,
        rows,
        notes,
    }
}

/// How the pieces are cut out of stock lengths.
pub(crate) fn stock(job: &Job<'_>) -> Sheet {
    let network = job.network;
    let notation = network.notation();
    let mut rows = Vec::new();
    let mut notes: Vec<String> = job
        .contradictions("the pieces that join it are left out")
        .collect();
    for Group {
        material,
        size,
        pieces,
    } in grouped(job)
    {
        let heading = heading(material, &size);
        let name = match material {
            Some(material) => format!("{size} {}", shown(material)),
            None => format!("{size} of a material not stated"),
        };
        // A piece above the longest stock is joined of several; every other is cut out of one.
        let available = material.map_or(&[][..], |material| job.dimensions.stock(material));
        let mut cut: Vec<(&str, Length)> = Vec::new();
        let (mut unknown, mut long) = (0_usize, Vec::new());
        for piece in pieces {
            match (piece.length(), available.last()) {
                (None, _) => unknown += 1,
                (Some(length), Some(longest)) if length > *longest => long.push(piece.mark.as_str()),
                (Some(length), _) => cut.push((&piece.mark, length)),
            }
        }
        if unknown > 0 {
            notes.push(format!(
                "{name}: {unknown} pieces are not among these, for their length is not known."
            ));
        }
        if !long.is_empty() {
            notes.push(format!(
                "{name}: {} longer than any stock and not among these; join them with couplings.",
                if long.len() == 1 {
                    format!("{} is", long[0])
                } else {
                    format!("{} are", long.join(", "))
                }
            ));
        }
        let longest = cut.iter().map(|(_, length)| *length).max();
        let (Some(longest), true) = (longest, !available.is_empty()) else {
            if !cut.is_empty() {
                notes.push(format!("{name}: the lengths in which it is sold are not stated."));
            }
            continue;
        };
        // The shortest stock that holds the longest piece.
        let Some(&stock) = available.iter().find(|stock| **stock >= longest) else {
            continue;
        };
        let count = |length: Length| u64::try_from(length.nanometres()).unwrap_or(0);
        let lengths: Vec<u64> = cut.iter().map(|(_, length)| count(*length)).collect();
        let Some(packing) = pack(&lengths, count(stock), count(job.kerf), MOST_STEPS) else {
            continue;
        };
        for (number, bin) in packing.lengths.iter().enumerate() {
            let pieces = bin.iter().filter_map(|&at| cut.get(at));
            let listed: Vec<_> = pieces
                .clone()
                .map(|(mark, length)| format!("{mark} {}", on_tape(*length, notation)))
                .collect();
            let used = pieces.fold(0_i64, |sum, (_, length)| sum.saturating_add(length.nanometres()));
            let cuts = i64::try_from(bin.len()).unwrap_or(i64::MAX);
            let lost = job.kerf.nanometres().saturating_mul(cuts);
            let over = stock
                .nanometres()
                .saturating_sub(used)
                .saturating_sub(lost)
                .max(0);
            let mut row = Vec::from(heading.clone());
            row.extend([
                Cell::Count(number as u64 + 1),
                Cell::Length(stock),
                Cell::List(listed),
                Cell::Length(Length::from_nanometres(over)),
            ]);
            rows.push(row);
        }
        let taken = packing.lengths.len();
        notes.push(if taken == packing.at_least {
            format!(
                "{name}: {taken} of {}, the fewest that will do.",
                on_tape(stock, notation)
            )
        } else {
            format!(
                "{name}: {taken} of {}; fewer than {} cannot do.",
                on_tape(stock, notation),
                packing.at_least
            )
        });
    }
    if job.kerf == Length::ZERO {
        notes.push("Nothing is lost to the saw: the width of its cut is not stated.".to_owned());
    } else {
        notes.push(format!("Each cut loses {}.", job.kerf.in_notation(notation)));
    }
    Sheet {
        name: "stock",
        title: "what to cut out of each length of pipe".to_owned(),
        network: network.name().to_owned(),
        notation,
        columns: vec![
            Column::new("material", "material", Holds::Text),
            Column::new("size", "size", Holds::Text),
            Column::new("length", "no.", Holds::Count),
            Column::new("stock", "stock", Holds::Length),
            Column::new("pieces", "pieces", Holds::Text),
            Column::new("left_over", "left over", Holds::Length),
        ],
        headings: 2,
        rows,
        notes,
    }
}
