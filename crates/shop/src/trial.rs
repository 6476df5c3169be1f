//! The test sheet: how high the water stands over each level, what it presses, what is tested by itself, and lines for
//! who saw it.
//!
//! What a test has to be is read from the rules that a stated test is held to: a test is put to them as it is planned.

use std::f64::consts::PI;

use crownweir_evaluate::{Judgement, Measured, hydraulics};
use crownweir_network::{Network, NodeKind, PipeId, Position, Test};
use crownweir_quantity::{Length, Notation};
use crownweir_rulebook::{Fact, RuleSet, Subject};
use crownweir_vocabulary::{Material, Role, TestMedium};
use petgraph::visit::{EdgeRef, IntoEdgeReferences};

use crate::asked;
use crate::cut::is_of_fixture;
use crate::job::Job;
use crate::practice::{Practice, cited};
use crate::sheet::{Cell, Column, Holds, Sheet, on_tape};

const TEST: &[Subject] = &[Subject::Test];

/// Pressure of a head of water, in pascals: `w h`, with the weight `w` of a cubic metre of water.
#[must_use]
pub fn pressure(head: Length) -> f64 {
    hydraulics::WATER_WEIGHT * head.as_metres_f64()
}

/// Pascals in a pound on a square inch, by the definitions of pound, inch and standard gravity.
const PSI: f64 = 6_894.757_293;
/// Pounds of force in a newton, likewise.
const POUNDS: f64 = 0.224_808_943;
/// Litres in a US gallon.
const GALLON: f64 = 3.785_411_784;

/// A part of the system that is tested by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Section {
    /// Height of its lowest joint, or of the plug at its foot.
    pub bottom: Length,
    /// Height of the water.
    pub top: Length,
}

/// More sections than that are no plan of a test.
const MOST_SECTIONS: usize = 10_000;

/// The sections in which a system from `bottom` to `top` is tested, from below: none is filled higher than `most` over
/// its foot, and each but the lowest begins `overlap` below the water level of the one before, so that every joint is
/// once under a head of `overlap` save those at the very top.
///
/// None where `overlap` is less than nothing or leaves nothing of `most`, where `top` is under `bottom`, and where there
/// would be more than ten thousand.
#[must_use]
pub fn sections(bottom: Length, top: Length, most: Length, overlap: Length) -> Option<Vec<Section>> {
    if most <= overlap || overlap < Length::ZERO || top < bottom {
        return None;
    }
    let mut found = Vec::new();
    let mut foot = bottom;
    loop {
        let reach = foot.checked_add(most)?;
        let level = reach.min(top);
        found.push(Section {
            bottom: foot,
            top: level,
        });
        if level == top {
            return Some(found);
        }
        if found.len() >= MOST_SECTIONS {
            return None;
        }
        foot = level.checked_sub(overlap)?;
    }
}

/// What the rules ask of a test, as it is planned.
struct Plan {
    /// The least head, and where that is said.
    head: Option<(Length, String)>,
    /// How long it is held, and where that is said.
    held: Option<(String, String)>,
    /// The most height of a section, and where that is said.
    most: Option<(Length, String)>,
    /// What speaks against air; empty where nothing does.
    against_air: Vec<String>,
}

fn planned(network: &Network, medium: TestMedium) -> Network {
    let mut planned = network.clone();
    planned.set_tests(vec![Test {
        section: "as planned".into(),
        medium,
        head: None,
        height: None,
        duration: None,
        position: Position::default(),
    }]);
    planned
}

fn plan(network: &Network, rules: &RuleSet) -> Option<Plan> {
    let water = planned(network, TestMedium::Water);
    let water = Measured::new(&water, rules).ok()?;
    let head = asked::least_length(&water, TEST, 0, Fact::TestHead);
    let held = asked::least_period(&water, TEST, 0, Fact::TestDuration);
    let most = asked::most(&water, TEST, 0, Fact::TestHeight);
    let air = planned(network, TestMedium::Air);
    let air = Measured::new(&air, rules).ok()?;
    let against = asked::judged(&air, Subject::Test, 0, Judgement::Violated);
    let against = against.filter(|rule| {
        rule.require
            .as_ref()
            .is_some_and(|own| asked::asks(own, Fact::TestWith))
    });
    Some(Plan {
        head: head.map(|asked| (asked.limit, asked.rule.citation.to_string())),
        held: held.map(|asked| (asked.limit.to_string(), asked.rule.citation.to_string())),
        most: most.and_then(|asked| Some((asked.limit?, asked.rule.citation.to_string()))),
        against_air: against
            .map(|rule| format!("{} [{}]", rule.title, rule.citation))
            .collect(),
    })
}

/// The test sheet.
pub(crate) fn test(job: &Job<'_>) -> Sheet {
    let network = job.network;
    let only = |note: &str| sheet(job, Vec::new(), vec![note.to_owned()]);
    let measured = job.plumbing.as_ref();
    let plan = measured.and_then(|measured| plan(network, measured.rules()));
    let (Some(plan), Some(practice)) = (plan, job.practice) else {
        return only("No rule set is given that says how to test.");
    };
    let Some(whole) = whole(network) else {
        return only("No height is stated, and so no head of water.");
    };
    let mut notes = Vec::new();
    let nodes = network.graph().node_weights();
    let unknown = nodes.filter(|node| node.elevation.is_none()).count();
    if unknown > 0 {
        notes.push(format!(
            "The heights of {unknown} fixtures and fittings are not stated; the lowest may be among them."
        ));
    }
    let sections = in_sections(job, whole, &plan, practice, &mut notes);
    notes.extend(tees_in_words(job, &tees_of(job, &sections)));
    let mut rows = Vec::new();
    let count = sections.len();
    let in_ground = groundwork(network, &plan);
    let in_ground = in_ground.map(|section| ("groundwork, before it is covered".to_owned(), section));
    let above = (1..).zip(&sections).map(|(number, section)| {
        let name = if count == 1 {
            "the whole, one section".to_owned()
        } else {
            format!("section {number} of {count}, from below")
        };
        (name, *section)
    });
    if let Some((_, section)) = &in_ground {
        notes.push(format!(
            "The groundwork is tested by itself before the slab is poured or the trench filled, with a standpipe up to {} above the \
             datum, {} over its highest joint; all its other openings are plugged.",
            on_tape(section.top, network.notation()),
            on_tape(head_of(&plan), network.notation())
        ));
    }
    for (name, section) in in_ground.into_iter().chain(above) {
        levels(job, &name, section, &mut rows);
        rows.extend(TO_BE_WRITTEN.map(|line| {
            vec![
                Cell::from(name.as_str()),
                Cell::from(line),
                Cell::Empty,
                Cell::Empty,
                Cell::Empty,
                Cell::Line,
            ]
        }));
    }
    if let Some((head, cited)) = &plan.head {
        notes.push(format!(
            "With water: at least {} over every joint but those in the top of the system [{cited}].",
            head.in_notation(network.notation())
        ));
    }
    if let Some((held, cited)) = &plan.held {
        notes.push(format!("Held for {held} without a drop or a leak [{cited}]."));
    }
    air(job, practice, &plan, &mut notes);
    cautions(job, practice, &sections, &mut notes);
    sheet(job, rows, notes)
}

/// What is filled in by hand for each section.
const TO_BE_WRITTEN: [&str; 8] = [
    "date",
    "filled at",
    "read at",
    "level at start",
    "level at end",
    "leaks found",
    "tester",
    "inspector",
];

/// The head that is asked for; none where no rule speaks of one.
fn head_of(plan: &Plan) -> Length {
    plan.head.as_ref().map_or(Length::ZERO, |(head, _)| *head)
}

/// What is in the ground of the drains, up to the head that is asked for over its highest joint; none where nothing is, or no
/// height of it is known.
fn groundwork(network: &Network, plan: &Plan) -> Option<Section> {
    let graph = network.graph();
    let own = graph
        .edge_references()
        .filter(|pipe| pipe.weight().underground && pipe.weight().role == Role::Drain);
    let heights: Vec<Length> = own
        .flat_map(|pipe| [pipe.source(), pipe.target()])
        .filter_map(|node| graph.node_weight(node)?.elevation)
        .collect();
    Some(Section {
        bottom: heights.iter().min().copied()?,
        top: heights.iter().max()?.checked_add(head_of(plan))?,
    })
}

/// From the lowest height that is known to the highest.
fn whole(network: &Network) -> Option<Section> {
    let heights = || network.graph().node_weights().filter_map(|node| node.elevation);
    Some(Section {
        bottom: heights().min()?,
        top: heights().max()?,
    })
}

/// A test tee in a pipe.
pub(crate) struct Tee {
    pub(crate) pipe: PipeId,
    /// How high it stands above the datum.
    pub(crate) height: Length,
    /// How far along the pipe that is from its start.
    pub(crate) along: Length,
}

/// The test tees of a job: one in each pipe that passes the foot of a section, from below.
pub(crate) fn tees(job: &Job<'_>) -> Vec<Tee> {
    let rules = job.plumbing.as_ref().map(Measured::rules);
    let (Some(plan), Some(practice), Some(whole)) = (
        rules.and_then(|rules| plan(job.network, rules)),
        job.practice,
        whole(job.network),
    ) else {
        return Vec::new();
    };
    tees_of(job, &in_sections(job, whole, &plan, practice, &mut Vec::new()))
}

fn tees_of(job: &Job<'_>, sections: &[Section]) -> Vec<Tee> {
    let graph = job.network.graph();
    let feet: Vec<Length> = sections.iter().skip(1).map(|section| section.bottom).collect();
    let mut found = Vec::new();
    for (pipe, own) in job.pipes() {
        let Some((from, to)) = graph.edge_endpoints(pipe) else {
            continue;
        };
        let height = |node| graph.node_weight(node)?.elevation;
        let (Some(start), Some(end), Some(length)) = (height(from), height(to), own.length) else {
            continue;
        };
        if is_of_fixture(job.network, from, to) {
            continue;
        }
        let (low, high) = (start.min(end), start.max(end));
        let passed = feet.iter().filter(|foot| low < **foot && **foot <= high);
        found.extend(passed.filter_map(|&foot| {
            let apart =
                |one: Length, other: Length| i64::try_from(one.nanometres().abs_diff(other.nanometres()));
            let along = length.checked_scale(apart(start, foot).ok()?, apart(high, low).ok()?)?;
            Some(Tee {
                pipe,
                height: foot,
                along,
            })
        }));
    }
    found.sort_by_key(|tee| tee.height);
    found
}

/// Where test tees go in, a note for each foot of a section.
fn tees_in_words(job: &Job<'_>, tees: &[Tee]) -> Vec<String> {
    let by_height = tees.chunk_by(|one, next| one.height == next.height);
    let notes = by_height.filter_map(|tees| {
        let height = on_tape(tees.first()?.height, job.network.notation());
        let pipes = tees
            .iter()
            .filter_map(|tee| job.network.graph().edge_weight(tee.pipe));
        let pipes: Vec<_> = pipes.map(|pipe| format!("`{}`", pipe.name)).collect();
        Some(format!("Test tees at {height}: in {}.", pipes.join(", ")))
    });
    notes.collect()
}

/// The sections in which the whole is tested, with what notes tell of them.
fn in_sections(
    job: &Job<'_>,
    whole: Section,
    plan: &Plan,
    practice: &Practice,
    notes: &mut Vec<String>,
) -> Vec<Section> {
    let network = job.network;
    let shown = |length: Length| length.in_notation(network.notation()).to_string();
    let usual = &practice.tests.most_head;
    let planned = plan.most.clone();
    let (most, most_from) = planned.unwrap_or_else(|| (usual.head, cited(&usual.cite)));
    let overlap = head_of(plan);
    let sections = sections(whole.bottom, whole.top, most, overlap).unwrap_or_else(|| {
        notes.push(format!(
            "A section of {} leaves nothing beyond the head of {} that is asked for: the whole is one section.",
            shown(most),
            shown(overlap)
        ));
        vec![whole]
    });
    let at_top = job.nodes().find(|node| node.elevation == Some(whole.top));
    notes.push(format!(
        "Heights are above the datum. The system is filled to `{}`, its highest opening; all others are plugged.",
        at_top.map_or("", |node| &*node.name)
    ));
    if sections.len() > 1 {
        notes.push(format!(
            "Filled in one piece the head would be {}; {} is the most for a section ({most_from}). A test tee and a plug \
             stand at the foot of each section but the lowest; each takes in the upper {} of the one below again.",
            shown(whole.top.checked_sub(whole.bottom).unwrap_or(Length::ZERO)),
            shown(most),
            shown(overlap),
        ));
    } else {
        notes.push(format!(
            "One section: no head is more than {} ({most_from}).",
            shown(most)
        ));
    }
    sections
}

/// The levels of a section from its water level down: what stands there, the head and the pressure.
fn levels(job: &Job<'_>, name: &str, section: Section, rows: &mut Vec<Vec<Cell>>) {
    let network = job.network;
    let mut levels = vec![(section.top, "water level".to_owned())];
    for storey in network.storeys() {
        if let Some(floor) = storey
            .elevation
            .filter(|floor| *floor > section.bottom && *floor < section.top)
        {
            levels.push((floor, format!("floor of {}", storey.name)));
        }
    }
    let lowest = job.nodes().find(|node| node.elevation == Some(section.bottom));
    levels.push((
        section.bottom,
        lowest.map_or_else(
            || "plug at the foot".to_owned(),
            |node| format!("lowest joint, {}", node.name),
        ),
    ));
    levels.sort_by_key(|(height, _)| std::cmp::Reverse(*height));
    for (height, what) in levels {
        let head = section.top.checked_sub(height).unwrap_or(Length::ZERO);
        rows.push(vec![
            Cell::from(name),
            Cell::from(what),
            Cell::Length(height),
            Cell::Length(head),
            Cell::from(pressure_in_words(head, network.notation())),
            Cell::Empty,
        ]);
    }
}

fn pressure_in_words(head: Length, notation: Notation) -> String {
    let pascals = pressure(head);
    match notation {
        Notation::Inches => format!("{:.1} psi", pascals / PSI),
        Notation::Millimetres => format!("{:.0} kPa", pascals / 1000.0),
    }
}

fn materials(network: &Network) -> Vec<Material> {
    let mut all: Vec<_> = network
        .graph()
        .edge_weights()
        .filter_map(|pipe| pipe.material)
        .collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// Whether air may be used in place of water.
fn air(job: &Job<'_>, practice: &Practice, plan: &Plan, notes: &mut Vec<String>) {
    let never = &practice.tests.never_with_air;
    let barred: Vec<_> = materials(job.network)
        .into_iter()
        .filter(|material| never.materials.contains(material))
        .map(|material| material.to_string())
        .collect();
    let unknown = job
        .network
        .graph()
        .edge_weights()
        .any(|pipe| pipe.material.is_none());
    if !plan.against_air.is_empty() {
        notes.push(format!("Air, by the rule set: {}.", plan.against_air.join("; ")));
    }
    if !barred.is_empty() {
        notes.push(format!(
            "No air test of {}: their makers forbid it, whatever the code allows ({}). Air stores energy, and what bursts \
             flies.",
            barred.join(", "),
            cited(&never.cite)
        ));
    } else if unknown {
        notes.push("No air test while the material of a pipe is not stated.".to_owned());
    } else if plan.against_air.is_empty() {
        notes.push(
            "An air test is not ruled out by the rule set or the materials: by the code's own pressure, with a regulator, a \
             relief valve and a gauge, plugs restrained and people away; ask the maker first."
                .to_owned(),
        );
    }
}

/// What the usual cautions are, with the figures of this job.
fn cautions(job: &Job<'_>, practice: &Practice, sections: &[Section], notes: &mut Vec<String>) {
    let network = job.network;
    let tests = &practice.tests;
    if materials(network)
        .iter()
        .any(|material| tests.wait.materials.contains(material))
    {
        notes.push(format!(
            "Cemented joints wait {} after the last one before they are put under water ({}).",
            tests.wait.period,
            cited(&tests.wait.cite)
        ));
    }
    notes.extend(thrust(job, sections));
    if let Some(litres) = water(job) {
        let amount = match network.notation() {
            Notation::Inches => format!("{:.0} gal", litres / GALLON),
            Notation::Millimetres => format!("{litres:.0} L"),
        };
        notes.push(format!(
            "All pipes together hold {amount} of water; do not let it freeze in them."
        ));
    }
    if network
        .graph()
        .node_weights()
        .any(|node| matches!(node.kind, NodeKind::Valve(_)))
    {
        notes.push("Air admittance valves are fitted after the test.".to_owned());
    }
    notes.push(
        "The inspector sees the test before anything is covered. A licensed plumber and the authority decide; local rules \
         go before this sheet."
            .to_owned(),
    );
}

/// How hard the water pushes the plug of the widest drain at the foot of the highest section.
fn thrust(job: &Job<'_>, sections: &[Section]) -> Option<String> {
    let heads = sections.iter();
    let head = heads
        .filter_map(|section| section.top.checked_sub(section.bottom))
        .max()?;
    let pipes = job.pipes().map(|(_, pipe)| pipe);
    let bores = pipes.filter(|pipe| pipe.role == Role::Drain).filter_map(|pipe| {
        let size = pipe.size?;
        Some((size, job.dimensions.pipe(pipe.material?, size)?.inside))
    });
    let (size, bore) = bores.max_by_key(|(_, bore)| *bore)?;
    // Pressure on the circle of the bore.
    let thrust = pressure(head) * PI / 4.0 * bore.as_metres_f64().powi(2);
    let thrust = match job.network.notation() {
        Notation::Inches => format!("{:.0} lb", thrust * POUNDS),
        Notation::Millimetres => format!("{thrust:.0} N"),
    };
    Some(format!(
        "The water pushes a plug in {size} pipe at the foot with {thrust}: restrain plugs, stand clear of them, and drain \
         the system before taking one out."
    ))
}

/// The water that all pipes hold, in litres; none where a length, size or material is not stated.
fn water(job: &Job<'_>) -> Option<f64> {
    job.pipes().try_fold(0.0, |sum, (_, pipe)| {
        let bore = job
            .dimensions
            .pipe(pipe.material?, pipe.size?)?
            .inside
            .as_metres_f64();
        Some(sum + PI / 4.0 * bore * bore * pipe.length?.as_metres_f64() * 1000.0)
    })
}

fn sheet(job: &Job<'_>, rows: Vec<Vec<Cell>>, notes: Vec<String>) -> Sheet {
    Sheet {
        name: "test",
        title: "test before anything is covered".to_owned(),
        network: job.network.name().to_owned(),
        notation: job.network.notation(),
        columns: vec![
            Column::new("section", "section", Holds::Text),
            Column::new("level", "level", Holds::Text),
            Column::new("height", "height", Holds::Length),
            Column::new("head", "head", Holds::Length),
            Column::new("pressure", "pressure", Holds::Text),
            Column::new("written", "to be written", Holds::Text),
        ],
        headings: 1,
        rows,
        notes,
    }
}
