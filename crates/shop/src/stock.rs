//! The cut list and how its pieces come out of stock lengths, as sheets.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, HashMap};

use crownweir_network::PipeId;
use crownweir_quantity::Length;
use crownweir_vocabulary::Material;

use crate::cut::{Cut, End, Piece};
use crate::dimensions::Basis;
use crate::job::Job;
use crate::packing::{MOST_STEPS, pack};
use crate::practice::cited;
use crate::sheet::{Cell, Column, Holds, Sheet, on_tape};
use crate::trial;

/// Pieces of one material and size.
struct Group<'p> {
    material: Option<Material>,
    /// The size as the network calls it; by every name, where it has several.
    size: String,
    /// In the order of their numbers.
    pieces: Vec<&'p Piece>,
}

impl Group<'_> {
    /// Whether nothing says how long the pipe is that it is cut from.
    fn is_of_unknown_stock(&self, job: &Job<'_>) -> bool {
        self.material
            .is_some_and(|material| job.dimensions.stock(material).is_empty())
    }

    /// Its size and material, as notes tell it.
    fn in_words(&self) -> String {
        match self.material {
            Some(material) => format!("{} {}", self.size, shown(material)),
            None => format!("{} of a material not stated", self.size),
        }
    }
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
        pieces.sort_by_key(|piece| piece.order());
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
    let notation = network.notation();
    let mut rows = Vec::new();
    let groups = grouped(job);
    let mut divided = divided(job);
    for group in &groups {
        let heading = heading(group.material, &group.size);
        let pieces = group.pieces.iter();
        rows.extend(pieces.map(|piece| {
            let tees = divided.remove(&(piece.pipe, piece.number)).unwrap_or_default();
            [&heading[..], &cut_row(job, piece, tees)].concat()
        }));
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
    if job.pieces.iter().any(|piece| piece.of > 1) {
        notes.push(
            "Pieces with a number behind the mark of their pipe make it up from its start on, with a coupling between each \
             and the next: no stock is long enough for it in one. The couplings stand clear of wood that the pipe passes, \
             wherever there is such a place within reach."
                .to_owned(),
        );
    }
    notes.extend(groups.iter().filter(|group| group.is_of_unknown_stock(job)).map(|group| {
        format!(
            "{}: the lengths in which it is sold are not stated, and so no pipe of it is joined of several pieces.",
            group.in_words()
        )
    }));
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

/// What is to be said of pieces that are divided for test tees, by pipe and number.
fn divided(job: &Job<'_>) -> HashMap<(PipeId, u32), Vec<String>> {
    let mut pieces: HashMap<PipeId, Vec<&Piece>> = HashMap::new();
    for piece in &job.pieces {
        pieces.entry(piece.pipe).or_default().push(piece);
    }
    let mut found: HashMap<_, Vec<String>> = HashMap::new();
    for tee in trial::tees(job) {
        let own = pieces.get(&tee.pipe).map_or(&[][..], Vec::as_slice);
        let mut reached = Some(Length::ZERO);
        let there = own.iter().find(|piece| {
            reached = reached
                .zip(piece.centres)
                .and_then(|(reached, centres)| reached.checked_add(centres));
            reached.is_none_or(|reached| tee.along <= reached)
        });
        if let Some(piece) = there.or(own.last()) {
            let height = on_tape(tee.height, job.network.notation());
            found.entry((tee.pipe, piece.number)).or_default().push(format!(
                "divide for the test tee at {height} above the datum, by the tee in hand; the cut is without it"
            ));
        }
    }
    found
}

/// A piece in the cut list, from its mark on.
fn cut_row(job: &Job<'_>, piece: &Piece, tees: Vec<String>) -> Vec<Cell> {
    let graph = job.network.graph();
    let name = |end: usize| {
        if piece.is_coupled(end) {
            return Cell::from("coupling");
        }
        let ends = graph.edge_endpoints(piece.pipe).map(|(from, to)| [from, to]);
        let node = ends.and_then(|ends| graph.node_weight(*ends.get(end)?));
        node.map_or(Cell::Empty, |node| Cell::from(&*node.name))
    };
    let stop = |end: usize| match piece.ends.get(end) {
        Some(End::Fitting { stop, .. }) => Cell::Length(*stop),
        Some(End::NotStated(missing)) => Cell::not_stated(missing),
        _ => Cell::Empty,
    };
    let mut remarks = [piece.remarks.clone(), tees].concat();
    let cut = match &piece.cut {
        Cut::To(length) => Cell::Length(*length),
        Cut::NotStated(missing) => Cell::NotStated(missing.clone()),
        Cut::NoRoom(needed) => {
            let shown = |length: Length| on_tape(length, job.network.notation());
            let short = piece.centres.and_then(|centres| needed.checked_sub(centres));
            let short = short.map_or_else(String::new, |short| {
                format!(", {} more than there is", shown(short))
            });
            let least = if piece.lacks_an_end() { "at least " } else { "" };
            let needed = format!("{least}{}", shown(*needed));
            remarks.insert(
                0,
                format!("no room: its fittings need {needed} centre to centre{short}"),
            );
            Cell::Empty
        }
    };
    vec![
        Cell::from(piece.mark.as_str()),
        cut,
        piece.centres.map_or(Cell::Empty, Cell::Length),
        name(0),
        stop(0),
        name(1),
        stop(1),
        Cell::List(remarks),
    ]
}

/// How the pieces are cut out of stock lengths.
pub(crate) fn stock(job: &Job<'_>) -> Sheet {
    let network = job.network;
    let notation = network.notation();
    let mut rows = Vec::new();
    let mut notes: Vec<String> = job
        .contradictions("the pieces that join it are left out")
        .collect();
    for group in grouped(job) {
        rows.extend(from_stock(job, &group, &mut notes));
    }
    let usual = job.practice.and_then(|practice| practice.sawing.as_ref());
    notes.push(match (job.kerf, usual) {
        (None, Some(sawing)) => format!(
            "Each cut loses {}, for the width of the saw's cut is not stated ({}).",
            job.kerf().in_notation(notation),
            cited(&sawing.each_cut.cite)
        ),
        (None, None) => "Nothing is lost to the saw: the width of its cut is not stated.".to_owned(),
        (Some(Length::ZERO), _) => "Nothing is lost to the saw, as is stated.".to_owned(),
        (Some(kerf), _) => format!("Each cut loses {}.", kerf.in_notation(notation)),
    });
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

/// The lengths that a group is cut out of, a row for each.
fn from_stock(job: &Job<'_>, group: &Group<'_>, notes: &mut Vec<String>) -> Vec<Vec<Cell>> {
    let notation = job.network.notation();
    let name = group.in_words();
    let available = group
        .material
        .map_or(&[][..], |material| job.dimensions.stock(material));
    let to_cut = to_be_cut(group, notes);
    let Some(longest) = to_cut.iter().map(|(_, length)| *length).max() else {
        return Vec::new();
    };
    if available.is_empty() {
        notes.push(format!("{name}: the lengths in which it is sold are not stated."));
        return Vec::new();
    }
    // The shortest stock that holds the longest piece.
    let Some(&stock) = available.iter().find(|stock| **stock >= longest) else {
        return Vec::new();
    };
    let count = |length: Length| u64::try_from(length.nanometres()).unwrap_or(0);
    let lengths: Vec<u64> = to_cut.iter().map(|(_, length)| count(*length)).collect();
    let Some(packing) = pack(&lengths, count(stock), count(job.kerf()), MOST_STEPS) else {
        return Vec::new();
    };
    let taken = packing.lengths.len();
    let each = on_tape(stock, notation);
    notes.push(if taken == packing.at_least {
        format!("{name}: {taken} of {each}, the fewest that will do.")
    } else {
        format!(
            "{name}: {taken} of {each}; fewer than {} cannot do.",
            packing.at_least
        )
    });
    let heading = heading(group.material, &group.size);
    let rows = (1..).zip(&packing.lengths).map(|(number, bin)| {
        let pieces: Vec<_> = bin.iter().filter_map(|&at| to_cut.get(at)).collect();
        let listed = pieces
            .iter()
            .map(|(mark, length)| format!("{mark} {}", on_tape(*length, notation)));
        let used = pieces
            .iter()
            .fold(0_i64, |sum, (_, length)| sum.saturating_add(length.nanometres()));
        let cuts = i64::try_from(bin.len()).unwrap_or(i64::MAX);
        let lost = job.kerf().nanometres().saturating_mul(cuts);
        let over = stock.nanometres().saturating_sub(used).saturating_sub(lost);
        let own = [
            Cell::Count(number),
            Cell::Length(stock),
            Cell::List(listed.collect()),
            Cell::Length(Length::from_nanometres(over.max(0))),
        ];
        [&heading[..], &own].concat()
    });
    rows.collect()
}

/// The pieces of a group that are cut out of one stock length each, with their marks; what has no known length is told apart.
fn to_be_cut<'p>(group: &Group<'p>, notes: &mut Vec<String>) -> Vec<(&'p str, Length)> {
    let name = group.in_words();
    let mut cut = Vec::new();
    let (mut unknown, mut no_room) = (0_usize, Vec::new());
    for &piece in &group.pieces {
        match piece.cut {
            Cut::NotStated(_) => unknown += 1,
            Cut::NoRoom(_) => no_room.push(&*piece.mark),
            Cut::To(length) => cut.push((&*piece.mark, length)),
        }
    }
    match unknown {
        0 => {}
        1 => notes.push(format!(
            "{name}: 1 piece is not among these, for its length is not known."
        )),
        _ => notes.push(format!(
            "{name}: {unknown} pieces are not among these, for their length is not known."
        )),
    }
    if !no_room.is_empty() {
        let are = if no_room.len() == 1 { "is" } else { "are" };
        notes.push(format!(
            "{name}: {} {are} not among these, for there is no room between the fittings.",
            no_room.join(", ")
        ));
    }
    cut
}
