//! The list of materials, sorted as a counter would pick it: pipe, then fittings, then what holds, shields and joins.

use std::collections::BTreeMap;

use crownweir_network::{NodeId, NodeKind, Pipe, angles};
use crownweir_quantity::{Length, NominalSize, SizeSystem};
use crownweir_vocabulary::{FittingPattern, Inlet, Material};
use petgraph::Direction::{Incoming, Outgoing};

use crate::cut::is_of_fixture;
use crate::job::Job;
use crate::practice::cited;
use crate::sheet::{Cell, Column, Holds, Sheet};
use crate::{straps, trial};

pub(crate) fn materials(job: &Job<'_>) -> Sheet {
    let mut rows = Vec::new();
    let mut notes: Vec<String> = job.contradictions("it is counted as the file has it").collect();
    let sizes = Sizes::of(job);
    pipe(job, &sizes, &mut rows, &mut notes);
    fittings(job, &sizes, &mut rows, &mut notes);
    supports(job, &sizes, &mut rows, &mut notes);
    plates(job, &mut rows);
    test_tees(job, &sizes, &mut rows, &mut notes);
    couplings(job, &sizes, &mut rows);
    cement(job, &sizes, &mut rows, &mut notes);
    Sheet {
        name: "materials",
        title: "materials to be picked".to_owned(),
        network: job.network.name().to_owned(),
        notation: job.network.notation(),
        columns: vec![
            Column::new("group", "group", Holds::Text),
            Column::new("material", "material", Holds::Text),
            Column::new("size", "size", Holds::Text),
            Column::new("item", "item", Holds::Text),
            Column::new("number", "number", Holds::Count),
            Column::new("length", "length in all", Holds::Length),
        ],
        headings: 1,
        rows,
        notes,
    }
}

fn group(
    name: &str,
    material: Option<Material>,
    size: Cell,
    item: impl Into<Cell>,
    number: Cell,
    length: Cell,
) -> Vec<Cell> {
    vec![
        Cell::from(name),
        material.map_or(Cell::Empty, |material| Cell::from(material.to_string())),
        size,
        item.into(),
        number,
        length,
    ]
}

/// A size's place in the order of sizes: by its first name, inches before millimetres.
type Rank = (u8, u32);
/// A size by its place, with its name.
type Named = (Rank, String);

/// The sizes of a network, each under the name that its file uses first.
struct Sizes<'a> {
    job: &'a Job<'a>,
    names: BTreeMap<Rank, NominalSize>,
}

impl<'a> Sizes<'a> {
    fn of(job: &'a Job<'a>) -> Self {
        let mut sizes = Self {
            job,
            names: BTreeMap::new(),
        };
        let mut pipes: Vec<_> = job.pipes().map(|(_, pipe)| pipe).collect();
        pipes.sort_by_key(|pipe| (pipe.position.line, pipe.position.column));
        for size in pipes.iter().filter_map(|pipe| pipe.size) {
            let rank = sizes.rank(size);
            sizes.names.entry(rank).or_insert(size);
        }
        sizes
    }

    fn rank(&self, size: NominalSize) -> Rank {
        let first = self.job.dimensions.size(size);
        let system = match first.system() {
            SizeSystem::Inch => 0,
            SizeSystem::Dn => 1,
            SizeSystem::Millimetre => 2,
        };
        (system, first.number())
    }

    /// A size's place and its name.
    fn get(&self, size: NominalSize) -> Named {
        let rank = self.rank(size);
        (rank, self.names.get(&rank).copied().unwrap_or(size).to_string())
    }
}

/// The pipes that are bought, which are not those that come with a fixture, and of how many pieces each is joined.
fn bought<'a>(job: &'a Job<'_>) -> impl Iterator<Item = (&'a Pipe, u64)> {
    let graph = job.network.graph();
    let pipes = job.pieces.iter().filter(|piece| !piece.is_coupled(0));
    pipes.filter_map(|piece| {
        let pipe = graph.edge_weight(piece.pipe)?;
        let by_length = by_length(job, pipe).filter(|_| piece.of == 1 && piece.lacks_an_end());
        Some((pipe, by_length.map_or(u64::from(piece.of), |(pieces, _)| pieces)))
    })
}

/// Of how many pieces a pipe is joined by its length from centre to centre, where that is longer than its stock, and how long
/// that is.
fn by_length(job: &Job<'_>, pipe: &Pipe) -> Option<(u64, Length)> {
    let longest = *job.dimensions.stock(pipe.material?).last()?;
    let parts = [pipe.length?, longest].map(|length| u64::try_from(length.nanometres()).ok());
    let [Some(length), Some(stock)] = parts else {
        return None;
    };
    let pieces = length.checked_next_multiple_of(stock)? / stock;
    (pieces > 1).then_some((pieces, longest))
}

/// A note for each pipe whose pieces are counted by its length.
fn counted_by_length<'a>(job: &'a Job<'_>) -> impl Iterator<Item = String> + 'a {
    let lacking = job
        .pieces
        .iter()
        .filter(|piece| piece.of == 1 && piece.lacks_an_end());
    lacking.filter_map(|piece| {
        let pipe = job.network.graph().edge_weight(piece.pipe)?;
        let (pieces, longest) = by_length(job, pipe)?;
        Some(format!(
            "`{}` is longer than stock of {}: its {pieces} pieces, the couplings between them and their joints are counted by its \
             length from centre to centre, for what its ends take is not known.",
            pipe.name,
            longest.in_notation(job.network.notation()),
        ))
    })
}

/// Pipe by material and size.
fn pipe(job: &Job<'_>, sizes: &Sizes<'_>, rows: &mut Vec<Vec<Cell>>, notes: &mut Vec<String>) {
    let mut lengths: BTreeMap<(Material, Named), (u64, Option<Length>)> = BTreeMap::new();
    for (pipe, pieces) in bought(job) {
        let (Some(material), Some(size)) = (pipe.material, pipe.size) else {
            notes.push(format!(
                "`{}` is not counted: its size or material is not stated.",
                pipe.name
            ));
            continue;
        };
        let sum = lengths
            .entry((material, sizes.get(size)))
            .or_insert((0, Some(Length::ZERO)));
        sum.0 += pieces;
        match pipe.length {
            Some(length) => sum.1 = sum.1.and_then(|so_far| so_far.checked_add(length)),
            None => notes.push(format!(
                "`{}` is counted without its length, which is not stated.",
                pipe.name
            )),
        }
    }
    notes.extend(counted_by_length(job));
    for ((material, (_, size)), (number, length)) in lengths {
        rows.push(group(
            "pipe",
            Some(material),
            Cell::from(size),
            "pipe, pieces",
            Cell::Count(number),
            length.map_or(Cell::Empty, Cell::Length),
        ));
    }
    notes.push(
        "Lengths of pipe are from centre to centre of the fittings, without what these take off; the sheets of cuts and \
         stock have the pieces and how many lengths to buy."
            .to_owned(),
    );
}

/// The nominal sizes of a fitting's ends, as they are read out: the larger end of the run, the other, then branches.
fn ends(
    job: &Job<'_>,
    sizes: &Sizes<'_>,
    node: NodeId,
    pattern: Option<FittingPattern>,
) -> Option<Vec<String>> {
    let graph = job.network.graph();
    let upright = |pipe: &Pipe| pipe.slope.is_some_and(crownweir_quantity::Slope::is_vertical);
    let main_id = angles::outlet(job.network, node)?;
    let main = graph.edge_weight(main_id)?;
    let (mut run, mut branches) = (vec![main.size?], Vec::new());
    let others = angles::others(job.network, node, main_id);
    let mut others: Vec<_> = others
        .filter_map(|id| Some((graph.edge_weight(id)?, graph.edge_endpoints(id)?)))
        .collect();
    // What enters by the run comes first, then what lies as the main pipe does.
    others.sort_by_key(|(pipe, (_, to))| {
        let into = *to == node && pipe.enters == Inlet::Run;
        (upright(pipe) != upright(main), !into)
    });
    for (pipe, _) in others {
        let size = pipe.size?;
        let straight = !pattern.is_some_and(FittingPattern::has_branch) || upright(pipe) == upright(main);
        if run.len() < 2 && straight {
            run.push(size);
        } else {
            branches.push(size);
        }
    }
    run.sort_by_key(|size| std::cmp::Reverse(sizes.get(*size)));
    branches.sort_by_key(|size| std::cmp::Reverse(sizes.get(*size)));
    let mut sizes: Vec<_> = run
        .into_iter()
        .chain(branches)
        .map(|size| sizes.get(size).1)
        .collect();
    if sizes.iter().all(|size| Some(size) == sizes.first()) {
        sizes.truncate(1);
    }
    Some(sizes)
}

/// Fittings by material, size and pattern, cleanouts, valves, terminals and traps with them.
fn fittings(job: &Job<'_>, sizes: &Sizes<'_>, rows: &mut Vec<Vec<Cell>>, notes: &mut Vec<String>) {
    let graph = job.network.graph();
    let mut counts: BTreeMap<(&str, Option<Material>, Rank, String, String), u64> = BTreeMap::new();
    let mut left_open = Vec::new();
    for &id in &job.order.nodes {
        let Some(node) = graph.node_weight(id) else {
            continue;
        };
        let pipes = |direction| job.network.pipes_at(id, direction);
        let away = pipes(Outgoing).chain(pipes(Incoming)).next();
        let material = away.and_then(|pipe| graph.edge_weight(pipe)?.material);
        let mut joined = pipes(Outgoing).chain(pipes(Incoming));
        // Both of cast iron differ in the lengths that they are sold in.
        let iron = |of: Option<Material>| matches!(of, Some(Material::CastIron | Material::CastIronLong));
        let differs = |own: &Material| Some(*own) != material && !(iron(Some(*own)) && iron(material));
        let another = joined.find_map(|pipe| graph.edge_weight(pipe)?.material.filter(differs));
        if let (Some(own), Some(other), NodeKind::Fitting { .. }) = (material, another, &node.kind) {
            notes.push(format!(
                "`{}` joins pipes of {own} and {other}: it is counted as {own}, without what makes the joint with {other}.",
                node.name
            ));
        }
        let (kind, what, size) = match &node.kind {
            NodeKind::Fitting { pattern } => {
                let meet = pipes(Outgoing).chain(pipes(Incoming)).count();
                match pattern.and_then(|pattern| pattern.openings_left(meet)) {
                    None | Some(0) => {}
                    Some(1) => left_open.push(format!("`{}`", node.name)),
                    Some(openings) => left_open.push(format!("`{}` ({openings})", node.name)),
                }
                let Some(sizes) = ends(job, sizes, id, *pattern) else {
                    notes.push(format!(
                        "`{}` is not counted: the size of a pipe at it is not stated.",
                        node.name
                    ));
                    continue;
                };
                let what = pattern.map_or_else(
                    || "joint whose pattern is not stated".to_owned(),
                    |one| one.to_string(),
                );
                ("fittings", what, sizes)
            }
            NodeKind::Cleanout(cleanout) => {
                let size = cleanout.size.map(|size| sizes.get(size).1);
                ("fittings", "cleanout".to_owned(), size.into_iter().collect())
            }
            NodeKind::Terminal(_) => (
                "fittings",
                "flashing of a vent".to_owned(),
                ends_of_pipe(job, sizes, id),
            ),
            NodeKind::Valve(_) => (
                "fittings",
                "air admittance valve".to_owned(),
                ends_of_pipe(job, sizes, id),
            ),
            NodeKind::Fixture(fixture) => {
                let Some(kind) = fixture
                    .trap
                    .kind
                    .filter(|kind| *kind != crownweir_vocabulary::TrapKind::Integral)
                else {
                    continue;
                };
                let size = fixture.trap.size.map(|size| sizes.get(size).1);
                ("traps", format!("{kind} trap"), size.into_iter().collect())
            }
            NodeKind::Disposal => continue,
        };
        let first = size.first().and_then(|size: &String| size.parse().ok());
        let order = first.map_or((0, 0), |size: NominalSize| sizes.rank(size));
        let material = if kind == "traps" { None } else { material };
        *counts
            .entry((kind, material, order, size.join(" x "), what))
            .or_default() += 1;
    }
    if !left_open.is_empty() {
        notes.push(format!(
            "Openings that no pipe joins are left open, and no plug for them is counted: {}.",
            left_open.join(", ")
        ));
    }
    let mut joined = false;
    for (pipe, pieces) in bought(job).filter(|(_, pieces)| *pieces > 1) {
        let Some(size) = pipe.size else { continue };
        let (rank, size) = sizes.get(size);
        let what = FittingPattern::Coupling.to_string();
        *counts
            .entry(("fittings", pipe.material, rank, size, what))
            .or_default() += pieces - 1;
        joined = true;
    }
    for ((kind, material, _, size, what), number) in counts {
        rows.push(group(
            kind,
            material,
            Cell::from(size),
            what.as_str(),
            Cell::Count(number),
            Cell::Empty,
        ));
    }
    notes.push("Sizes of a fitting are read run, run, branch.".to_owned());
    if joined {
        notes.push("Couplings that join pipe for which no stock is long enough are among them.".to_owned());
    }
}

fn ends_of_pipe(job: &Job<'_>, sizes: &Sizes<'_>, node: NodeId) -> Vec<String> {
    let pipe = job.network.pipes_at(node, Incoming).next();
    let size = pipe.and_then(|pipe| job.network.graph().edge_weight(pipe)?.size);
    size.map(|size| sizes.get(size).1).into_iter().collect()
}

/// Straps and guides by size.
fn supports(job: &Job<'_>, sizes: &Sizes<'_>, rows: &mut Vec<Vec<Cell>>, notes: &mut Vec<String>) {
    let (Some(measured), Some(practice)) = (&job.plumbing, job.practice) else {
        return;
    };
    let schedule = straps::schedule(job.network, measured, practice, &job.pieces);
    let mut counts: BTreeMap<(bool, Option<(Rank, String)>), u64> = BTreeMap::new();
    for strap in &schedule.straps {
        let pipe = job.network.graph().edge_weight(strap.pipe);
        let size = pipe.and_then(|pipe| pipe.size).map(|size| sizes.get(size));
        *counts
            .entry((strap.reason == straps::Reason::Guide, size))
            .or_default() += 1;
    }
    for ((guide, size), number) in counts {
        let item = if guide { "guide, loose" } else { "strap or hanger" };
        let size = size.map_or(Cell::Empty, |(_, size)| Cell::from(size));
        rows.push(group(
            "straps",
            None,
            size,
            item,
            Cell::Count(number),
            Cell::Empty,
        ));
    }
    if !schedule.open.is_empty() {
        notes.push(format!(
            "{} pipes are left out of the count of straps; the strap schedule says why.",
            schedule.open.len()
        ));
    }
}

/// Steel plates and metal ties.
fn plates(job: &Job<'_>, rows: &mut Vec<Vec<Cell>>) {
    let passages = job
        .framing
        .as_ref()
        .map_or(&[][..], |measured| measured.network().passages());
    let count = |wanted: &dyn Fn(&crownweir_network::Passage) -> bool| {
        u64::try_from(passages.iter().filter(|passage| wanted(passage)).count()).unwrap_or(u64::MAX)
    };
    let steel = count(&|passage| passage.steel_plate == Some(true));
    let ties = count(&|passage| passage.metal_tie == Some(true));
    for (item, number) in [
        ("steel plate, both faces where both are near", steel),
        ("metal tie across a top plate", ties),
    ] {
        if number > 0 {
            rows.push(group(
                "plates",
                None,
                Cell::Empty,
                item,
                Cell::Count(number),
                Cell::Empty,
            ));
        }
    }
}

/// The tees by which the test is parted into sections, with their plugs.
fn test_tees(job: &Job<'_>, sizes: &Sizes<'_>, rows: &mut Vec<Vec<Cell>>, notes: &mut Vec<String>) {
    let graph = job.network.graph();
    let mut counts: BTreeMap<(Option<Material>, Option<Named>), u64> = BTreeMap::new();
    for tee in trial::tees(job) {
        if let Some(pipe) = graph.edge_weight(tee.pipe) {
            let size = pipe.size.map(|size| sizes.get(size));
            *counts.entry((pipe.material, size)).or_default() += 1;
        }
    }
    if counts.is_empty() {
        return;
    }
    for ((material, size), number) in counts {
        let size = size.map_or_else(
            || Cell::not_stated("the size of a pipe with a test tee"),
            |(_, size)| Cell::from(size),
        );
        for (material, item) in [(material, "test tee"), (None, "test plug")] {
            rows.push(group(
                "tests",
                material,
                size.clone(),
                item,
                Cell::Count(number),
                Cell::Empty,
            ));
        }
    }
    notes.push(
        "Test tees and plugs are those at the feet of the sections that the sheet of the test has; what closes all other \
         openings is not counted."
            .to_owned(),
    );
}

/// What holds pipe that is butted to its fittings, one at each end in a fitting; where two pipes are coupled, the coupling is
/// counted with the fittings.
fn couplings(job: &Job<'_>, sizes: &Sizes<'_>, rows: &mut Vec<Vec<Cell>>) {
    let graph = job.network.graph();
    let mut counts: BTreeMap<(Material, Named), u64> = BTreeMap::new();
    let is_fitting = |id: NodeId| {
        let kind = graph.node_weight(id).map(|node| &node.kind);
        match kind {
            Some(NodeKind::Fitting { pattern }) => *pattern != Some(FittingPattern::Coupling),
            Some(NodeKind::Cleanout(_) | NodeKind::Valve(_)) => true,
            _ => false,
        }
    };
    for (id, pipe) in job.pipes() {
        let (Some(material), Some(size), Some((from, to))) =
            (pipe.material, pipe.size, graph.edge_endpoints(id))
        else {
            continue;
        };
        let butted = job
            .dimensions
            .joint(material, size)
            .is_some_and(|joint| joint.gap.is_some());
        if butted && !is_of_fixture(job.network, from, to) {
            let ends = u64::from(is_fitting(from)) + u64::from(is_fitting(to));
            *counts.entry((material, sizes.get(size))).or_default() += ends;
        }
    }
    for ((material, (_, size)), number) in counts {
        if number > 0 {
            rows.push(group(
                "couplings",
                Some(material),
                Cell::from(size),
                "coupling of pipe and fitting",
                Cell::Count(number),
                Cell::Empty,
            ));
        }
    }
}

/// Cement and primer by the joints that they make.
fn cement(job: &Job<'_>, sizes: &Sizes<'_>, rows: &mut Vec<Vec<Cell>>, notes: &mut Vec<String>) {
    for cement in job.practice.iter().flat_map(|practice| &practice.cements) {
        let mut joints: BTreeMap<(Rank, String), u64> = BTreeMap::new();
        for (pipe, pieces) in bought(job) {
            if let (Some(material), Some(size)) = (pipe.material, pipe.size)
                && cement.materials.contains(&material)
            {
                // Two ends of each piece, each in a socket.
                *joints.entry(sizes.get(size)).or_default() += 2 * pieces;
            }
        }
        if joints.is_empty() {
            continue;
        }
        // In millionths of a quart, each size rounded up.
        let mut quarts: u64 = 0;
        for ((_, size), number) in &joints {
            let row = cement
                .joints_per_quart
                .iter()
                .find(|row| sizes.get(row.size).1 == *size);
            match row {
                Some(row) => {
                    quarts = quarts
                        .saturating_add(number.saturating_mul(1_000_000).div_ceil(u64::from(row.joints)))
                }
                None => notes.push(format!(
                    "{}: how many joints of {size} a quart makes is not stated; {number} joints.",
                    cement.name
                )),
            }
        }
        let cans = quarts.div_ceil(1_000_000);
        rows.push(group(
            "cement",
            None,
            Cell::from("quart"),
            cement.name.as_str(),
            Cell::Count(cans),
            Cell::Empty,
        ));
        let total: u64 = joints.values().sum();
        notes.push(format!(
            "{}: {total} joints, two to each piece of pipe ({}).",
            cement.name,
            cited(&cement.cite)
        ));
    }
}
