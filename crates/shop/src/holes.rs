//! The sheet of holes: where pipes pass joists, studs and plates, how high, how wide, and what the framing rules say.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crownweir_document::Diagnostic;
use crownweir_evaluate::{Element, Finding, Gap, Got, Judgement, Measured, Report, UnknownSizes, Verdict};
use crownweir_network::{Centre, Members, Network, Passage, PipeId, Position, RunId};
use crownweir_quantity::{Angle, Bearing, Length, Notation, Slope};
use crownweir_rulebook::{Fact, RuleSet, Subject, Value};
use crownweir_vocabulary::{Cut, MemberKind, MemberRuns};

use crate::asked;
use crate::cut::Piece;
use crate::job::Job;
use crate::obstacles::{self, Hubs};
use crate::sheet::{Cell, Column, Holds, Sheet, grain, on_tape, rounded};

/// The network as the sheet of holes has it: each hole, and where its centre lies, to the step of the tape to which the sheet
/// prints it, so that what is judged is what is bored; and a steel plate at every passage where the framing rules ask for
/// one and the file says nothing.
///
/// # Errors
/// The sizes that the network uses and the rule set does not know.
pub fn with_plates(network: &Network, rules: &RuleSet) -> Result<Network, UnknownSizes> {
    let printed = as_printed(network, rules)?;
    let stating = |plate: &dyn Fn(usize) -> Option<bool>| {
        changed(&printed, &|number, passage| {
            passage.steel_plate = passage.steel_plate.or_else(|| plate(number));
        })
    };
    let bare = stating(&|_| Some(false));
    let measured = Measured::new(&bare, rules)?;
    let needed: Vec<bool> = (0..)
        .zip(bare.passages())
        .map(|(number, _)| {
            let broken = asked::judged(&measured, Subject::Passage, number, Judgement::Violated);
            let mut plates = broken.filter_map(|rule| rule.require.as_ref());
            plates.any(|require| asked::asks(require, Fact::PassagePlate))
        })
        .collect();
    Ok(stating(&|number| {
        needed.get(number).copied().filter(|needed| *needed)
    }))
}

/// The network with its passages changed, each by its number.
fn changed(network: &Network, change: &dyn Fn(usize, &mut Passage)) -> Network {
    let mut planned = network.clone();
    let mut passages = network.passages().to_vec();
    for (number, passage) in passages.iter_mut().enumerate() {
        change(number, passage);
    }
    planned.set_passages(passages);
    planned
}

/// The network with its holes as wide as a bit is, and they and their places in the member as they are printed.
fn as_printed(network: &Network, rules: &RuleSet) -> Result<Network, UnknownSizes> {
    let notation = network.notation();
    let measured = Measured::new(network, rules)?;
    let holes: Vec<Option<Length>> = (0..)
        .zip(network.passages())
        .map(|(number, _)| length_of(&measured, number, Fact::PassageHole))
        .collect();
    Ok(changed(network, &|number, passage| {
        let bored = passage.cut == Cut::Bored;
        let hole = holes.get(number).copied().flatten().filter(|_| bored);
        passage.hole = hole.map(|hole| upward(hole, notation)).or(passage.hole);
        let centre = network.centre_of(passage).filter(|_| bored);
        passage.centre = centre
            .map(|centre| Centre::At(rounded(centre, notation)))
            .or(passage.centre);
        let bearings = bearings(network, passage);
        let start = bearings.map_or(Length::ZERO, |[start, _]| start);
        let from_start = passage.along_member.and_then(|own| own.checked_sub(start));
        let Some(from_start) = from_start.map(|along| rounded(along, notation)) else {
            return;
        };
        passage.along_member = from_start.checked_add(start);
        if let Some([start, end]) = bearings {
            let from_end = end
                .checked_sub(start)
                .and_then(|whole| whole.checked_sub(from_start));
            passage.bearing_distance = from_end.map(|from_end| from_end.min(from_start));
        }
    }))
}

/// Where along a member that is laid out its bearings are, the southern or western first.
fn bearings(network: &Network, passage: &Passage) -> Option<[Length; 2]> {
    let mut bearings = network
        .framing()
        .get(passage.members as usize)?
        .layout?
        .bearings?;
    bearings.sort();
    Some(bearings)
}

fn length_of(measured: &Measured<'_>, number: u32, fact: Fact) -> Option<Length> {
    match measured.fact(Subject::Passage, number, fact) {
        Got::Known(Value::Length(length)) => Some(length),
        _ => None,
    }
}

/// The longest straight piece that can be laid between two members and fed along into holes in them.
///
/// Before it is fed in, the piece lies wholly between the facing sides of the two members, `clear` apart, along the
/// line of the holes, at `angle` from square to the members. A piece of length `L` and diameter `d` at the angle `t`
/// reaches across `L cos t + d sin t`, which is to be no more than `clear`: `L = (clear - d sin t) / cos t`. Plane
/// geometry, in floating point, rounded down to the nanometre; none where nothing goes in.
#[must_use]
pub fn longest_piece(clear: Length, outside_diameter: Length, angle: Angle) -> Option<Length> {
    let degrees = angle.microdegrees() as f64 / 1e6;
    let (sine, cosine) = degrees.to_radians().sin_cos();
    let longest = (clear.as_metres_f64() - outside_diameter.as_metres_f64() * sine) / cosine;
    let fits = cosine > 0.0 && sine >= 0.0 && longest > 0.0;
    // To the nearest nanometre, and one back where that is more.
    let rounded = Length::from_metres_f64(longest).filter(|_| fits)?;
    if rounded.as_metres_f64() > longest {
        return rounded.checked_sub(Length::from_nanometres(1));
    }
    Some(rounded)
}

/// What the rules say of the passages of a network, and what no pipe goes through whatever they say.
struct Judged {
    report: Report,
    /// The findings of each passage, as indices into those of the report.
    findings: BTreeMap<u32, Vec<usize>>,
    /// What is told of the hubs that stand in holes, or may, by passage.
    hubs: BTreeMap<u32, Hubs>,
    /// Passages whose holes are narrower than what passes them, or their notches shallower than what lies in them.
    too_small: BTreeSet<u32>,
}

fn judged(job: &Job<'_>, measured: &Measured<'_>) -> Judged {
    let network = measured.network();
    let report = measured.check();
    let mut findings: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (index, finding) in report.findings.iter().enumerate() {
        if let Element::Passage(number) = finding.element {
            findings.entry(number).or_default().push(index);
        }
    }
    let mut pieces_of: HashMap<PipeId, Vec<&Piece>> = HashMap::new();
    for piece in &job.pieces {
        pieces_of.entry(piece.pipe).or_default().push(piece);
    }
    let passages = (0..).zip(network.passages());
    let hubs = passages.map(|(number, passage)| {
        let pieces = pieces_of.get(&passage.pipe).map_or(&[][..], Vec::as_slice);
        (number, obstacles::hubs(job, network, passage, pieces))
    });
    let hubs: BTreeMap<u32, Hubs> = hubs.filter(|(_, hubs)| *hubs != Hubs::default()).collect();
    let numbers = (0..).zip(network.passages()).map(|(number, _)| number);
    Judged {
        report,
        findings,
        hubs,
        too_small: numbers.filter(|number| is_too_small(measured, *number)).collect(),
    }
}

impl Judged {
    fn findings(&self, number: u32) -> impl Iterator<Item = &Finding> {
        let own = self.findings.get(&number).into_iter().flatten();
        own.filter_map(|&index| self.report.findings.get(index))
    }

    /// A word for what the rules say of a passage; of one that no pipe goes through, they are not asked.
    fn verdict(&self, number: u32) -> &'static str {
        let breaks = |finding: &Finding| {
            finding.verdict == Verdict::Violated && finding.severity != crownweir_rulebook::Severity::Advice
        };
        let hubs = self.hubs.get(&number);
        let denied = hubs.is_some_and(|hubs| !hubs.in_wood.is_empty()) || self.too_small.contains(&number);
        if denied || self.findings(number).any(breaks) {
            NO
        } else if hubs.is_some_and(|hubs| !hubs.open.is_empty())
            || self
                .findings(number)
                .any(|finding| finding.verdict == Verdict::Undetermined)
        {
            "open"
        } else {
            "good"
        }
    }
}

/// What cannot be built where pipes come to framing: rows that a run cannot pass, fittings and pipes in their wood.
pub(crate) fn unbuildable(job: &Job<'_>) -> Vec<Diagnostic> {
    let Some(measured) = &job.framing else {
        return Vec::new();
    };
    let judged = judged(job, measured);
    let file = job.network.file();
    let told = |(position, message): (Position, String)| {
        let (line, column) = (position.line as usize, position.column as usize);
        Diagnostic::at(file, line, column, message.trim_end_matches('.').to_owned())
    };
    let crossings = crossings(measured.network());
    let passed = crossings.iter().filter_map(|crossing| {
        let (passage, message) = reach(job.network, crossing, &judged)?;
        Some(told((passage.position, message)).helped("the sheet of holes tells what is wrong with each"))
    });
    let found = obstacles::in_members(job).into_iter();
    let in_wood = found.filter_map(|one| Some(told((one.in_wood?, one.note))));
    passed.chain(in_wood).collect()
}

/// One row of members and one run that passes it.
struct Crossing<'a> {
    run: &'a str,
    members: &'a Members,
    /// The passages, along the run.
    passages: Vec<(u32, &'a Passage)>,
}

/// The rows of members that are passed, each with each run that passes it.
fn crossings(network: &Network) -> Vec<Crossing<'_>> {
    let mut found: BTreeMap<(RunId, u32), Crossing<'_>> = BTreeMap::new();
    for (number, passage) in (0..).zip(network.passages()) {
        let (Some(pipe), Some(members)) = (
            network.graph().edge_weight(passage.pipe),
            network.framing().get(passage.members as usize),
        ) else {
            continue;
        };
        let crossing = found.entry((pipe.run, passage.members)).or_insert(Crossing {
            run: network.run(pipe.run).map_or("", |run| &*run.name),
            members,
            passages: Vec::new(),
        });
        crossing.passages.push((number, passage));
    }
    let mut crossings: Vec<Crossing<'_>> = found.into_values().collect();
    for crossing in &mut crossings {
        // Those that the layout adds to what a pipe is stated to pass come behind that; each pipe stays where it first comes.
        let mut pipes = HashMap::new();
        for (place, (_, passage)) in crossing.passages.iter().enumerate() {
            pipes.entry(passage.pipe).or_insert(place);
        }
        let place = |passage: &Passage| pipes.get(&passage.pipe).copied();
        crossing
            .passages
            .sort_by_key(|(_, passage)| (place(passage), passage.along));
    }
    crossings
}

/// The sheet of holes.
pub(crate) fn holes(job: &Job<'_>) -> Sheet {
    let Some(measured) = &job.framing else {
        let notes = vec![not_planned(job)];
        return sheet(job, Vec::new(), notes);
    };
    let network = measured.network();
    let judged = judged(job, measured);
    let mut rows = Vec::new();
    let mut notes = Vec::new();
    for (number, passage) in (0..).zip(network.passages()) {
        let Some(members) = network.framing().get(passage.members as usize) else {
            continue;
        };
        let verdict = judged.verdict(number);
        rows.push(row(job, measured, (number, passage, members), verdict));
        // Several rules may want the same datum, in the same words.
        let mut own: Vec<String> = judged.findings(number).map(note).collect();
        own.dedup();
        notes.extend(own);
        if let Some(hubs) = judged.hubs.get(&number) {
            notes.extend(hubs.in_wood.iter().chain(&hubs.open).cloned());
        }
    }
    let crossings = crossings(network);
    for crossing in &crossings {
        notes.extend(reach(job.network, crossing, &judged).map(|(_, note)| note));
    }
    notes.extend(obstacles::in_members(job).into_iter().map(|one| one.note));
    let squared_to = network.squared_to();
    let mut pieces = BTreeMap::new();
    for crossing in &crossings {
        for pair in crossing.passages.windows(2) {
            pieces.extend(piece(job, measured, crossing.members, pair, &squared_to));
        }
    }
    notes.extend(pieces.into_keys());
    notes.extend(taken_to_run(network, &squared_to));
    if network.passages().iter().any(|passage| passage.member.is_some()) {
        notes.push(
            "Of members that are laid out the number is that in the row, counted from its first one, the southernmost or \
             westernmost, and `in member` is how far along it the hole is; of others it is which of them the pipe passes, \
             counted along the pipe."
                .to_owned(),
        );
    } else {
        notes.push("Members are numbered as the pipe passes them.".to_owned());
    }
    notes.push(
        "`along` is from the centre of the fitting at the pipe's upper end (of a vent at its lower end) to the middle of \
         the member; `centre` is above the lower edge of a joist or rafter, or from one face of a stud or plate."
            .to_owned(),
    );
    let hole = measured
        .rules()
        .framing
        .as_ref()
        .map(|framing| framing.citation.to_string());
    if let Some(cited) = hole {
        notes.push(format!("Holes that the file does not state are those of the rule set ({cited}). They pass pipe, not hubs."));
    }
    notes.push(format!(
        "Holes are to the next {}, as bits come, and where they are in a member to the nearest; the verdict is of the hole so \
         bored.",
        on_tape(grain(network.notation()), network.notation())
    ));
    if job.network.passages().iter().any(|passage| {
        let slant = job.network.slant(passage);
        passage.hole.is_none() && slant.is_some_and(|slant| !slant.by_fall_alone)
    }) {
        notes.push(
            "Where a pipe passes a member at a slant, its hole is no less than its diameter over the cosine of the angle from \
             square and the member's thickness times the tangent: bored square, it then touches, and is reamed to suit."
                .to_owned(),
        );
    }
    notes.push(format!(
        "Checked by {} {}{}. Before boring: look for wires, pipes and other trades' holes in the member. The maker's chart \
         governs engineered joists and trusses; an engineer or the authority decides in doubt.",
        judged.report.document,
        judged.report.edition,
        goes_with(job, &judged.report.rules)
    ));
    sheet(job, rows, notes)
}

/// Why no holes are listed.
fn not_planned(job: &Job<'_>) -> String {
    if job.network.framing().is_empty() {
        return "The network lists no framing.".to_owned();
    }
    let none = "No rule set for framing is given: the network names none (`framing_rules`)";
    match &job.plumbing {
        Some(measured) => format!("{none}, and none goes with `{}`.", measured.rules().name),
        None => format!("{none}, nor one for its pipes (`rules`) that another might go with."),
    }
}

/// The name of the rule set for framing, and by what it was chosen where nobody asked for it.
fn goes_with(job: &Job<'_>, framing: &str) -> String {
    let pipes = job.plumbing.as_ref().map(Measured::rules);
    let own = |rules: &&RuleSet| rules.framing_rules.as_deref() == Some(framing);
    match (job.network.framing_rules(), pipes.filter(own)) {
        (None, Some(rules)) => format!(" (`{framing}`, which goes with `{}`)", rules.name),
        _ => format!(" (`{framing}`)"),
    }
}

fn row(
    job: &Job<'_>,
    measured: &Measured<'_>,
    (number, passage, members): (u32, &Passage, &Members),
    verdict: &'static str,
) -> Vec<Cell> {
    let network = measured.network();
    let pipe = network.graph().edge_weight(passage.pipe);
    let name = pipe.map_or("", |pipe| &*pipe.name);
    let missing = |what: &str| format!("`{name}`: {what}");
    let height = passage
        .along
        .and_then(|along| network.height_along(passage.pipe, along));
    let storey = network
        .storey_of(passage)
        .and_then(|storey| network.storeys().get(storey as usize));
    let floor = storey.and_then(|storey| storey.elevation);
    let above = height
        .zip(floor)
        .and_then(|(height, floor)| height.checked_sub(floor));
    let run = pipe.and_then(|pipe| network.run(pipe.run));
    let start = bearings(network, passage).map(|[start, _]| start);
    let in_member = passage
        .along_member
        .and_then(|own| own.checked_sub(start.unwrap_or_default()));
    let (in_member, from) = match (in_member, members.layout) {
        (Some(along), Some(layout)) => (Cell::Length(along), Cell::from(counted_from(layout.runs, start))),
        _ => (Cell::Empty, Cell::Empty),
    };
    let lies = |kind: MemberKind| matches!(kind, MemberKind::Joist | MemberKind::Rafter);
    vec![
        run.map_or(Cell::Empty, |run| Cell::from(&*run.name)),
        Cell::from(name),
        pipe.and_then(|pipe| job.pipe_in_words(pipe)).map_or_else(
            || Cell::length_or(None, &missing("its size or material")),
            Cell::from,
        ),
        Cell::from(format!("{} {}", members.name, passage.called())),
        in_member,
        from,
        Cell::length_or(
            passage.along,
            &missing("how far along it the member stands (`first`)"),
        ),
        match passage.cut {
            Cut::Bored => match measured.fact(Subject::Passage, number, Fact::PassageHole) {
                Got::Known(Value::Length(hole)) => Cell::Length(hole),
                Got::Missing(Gap::NotStated { datum, .. }) => {
                    Cell::not_stated(missing(&format!("`{datum}`")))
                }
                _ => Cell::not_stated(missing("the hole for it")),
            },
            Cut::Notched | Cut::EndNotched => match passage.notch_depth {
                Some(depth) => Cell::from(notch_in_words(passage, members, depth, network.notation())),
                None => Cell::not_stated(missing("`notch_depth`")),
            },
            _ => Cell::Empty,
        },
        match (passage.cut, network.centre_of(passage)) {
            (Cut::Bored, centre) => Cell::length_or(centre, &missing("where its centre lies (`centre`)")),
            (_, centre) => centre.map_or(Cell::Empty, Cell::Length),
        },
        match above {
            Some(above) => Cell::Length(above),
            None if lies(members.kind) => Cell::length_or(None, &missing("the heights of its ends")),
            None => Cell::Empty,
        },
        storey.map_or(Cell::Empty, |storey| Cell::from(&*storey.name)),
        if passage.steel_plate == Some(true) {
            Cell::from("yes")
        } else {
            Cell::Empty
        },
        Cell::from(verdict),
    ]
}

/// From where it is told how far along a member a hole is.
fn counted_from(runs: MemberRuns, bearing: Option<Length>) -> &'static str {
    match (runs, bearing.is_some()) {
        (MemberRuns::EastWest, true) => "its west bearing",
        (MemberRuns::EastWest, false) => "the origin, east",
        (_, true) => "its south bearing",
        (_, false) => "the origin, north",
    }
}

/// A hole to the next step of the tape, in which bits come: never less than what it has to pass.
fn upward(hole: Length, notation: Notation) -> Length {
    let step = grain(notation).nanometres();
    let steps = hole.nanometres().saturating_add(step - 1).div_euclid(step);
    Length::from_nanometres(steps.saturating_mul(step))
}

/// How a notch is cut: its depth and its length, and which edge of a joist or rafter it is in.
fn notch_in_words(passage: &Passage, members: &Members, depth: Length, notation: Notation) -> String {
    let what = match passage.cut {
        Cut::EndNotched => "end notch",
        _ => "notch",
    };
    let long = passage.notch_length.map_or_else(
        || "length not stated".to_owned(),
        |length| format!("{} long", on_tape(length, notation)),
    );
    let edge = match (members.kind, passage.notch_edge) {
        (MemberKind::Joist | MemberKind::Rafter, None) => ", edge not stated".to_owned(),
        (MemberKind::Joist | MemberKind::Rafter, Some(edge)) => format!(", in the {edge} edge"),
        _ => String::new(),
    };
    format!("{what} {} deep, {long}{edge}", on_tape(depth, notation))
}

/// Whether a hole that the file states is narrower than what passes it, or a notch shallower than what lies in it.
fn is_too_small(measured: &Measured<'_>, number: u32) -> bool {
    let pairs = [
        (Fact::PassageHole, Fact::PassageLeastHole),
        (Fact::PassageNotchDepth, Fact::PassageLeastNotch),
    ];
    let lengths =
        pairs.map(|(cut, least)| length_of(measured, number, cut).zip(length_of(measured, number, least)));
    lengths.into_iter().flatten().any(|(cut, least)| cut < least)
}

/// The verdict on what is not to be built so.
const NO: &str = "NO";

fn note(finding: &Finding) -> String {
    let word = match finding.verdict {
        Verdict::Violated => finding.severity.name(),
        Verdict::Undetermined => "open",
    };
    let advice = finding
        .advice
        .as_ref()
        .filter(|_| finding.verdict == Verdict::Violated);
    let advice = advice.map_or_else(String::new, |advice| format!(" To do: {advice}."));
    format!(
        "{word}, `{}`: {} [{}].{advice}",
        finding.name, finding.message, finding.citation
    )
}

/// How many of a row of members a run can pass, where it cannot pass all, with the first that it cannot.
fn reach<'a>(network: &Network, crossing: &Crossing<'a>, judged: &Judged) -> Option<(&'a Passage, String)> {
    let run = crossing.run;
    let passes = |number: u32| judged.verdict(number) != NO;
    let all = crossing.passages.len();
    let first = crossing
        .passages
        .iter()
        .position(|(number, _)| !passes(*number))?;
    let (_, passage) = *crossing.passages.get(first)?;
    let good = crossing
        .passages
        .iter()
        .filter(|(number, _)| passes(*number))
        .count();
    let centre = network.centre_of(passage).zip(crossing.members.depth);
    let where_it_lies = centre.map_or("", |(centre, depth)| {
        let twice = Length::from_nanometres(centre.nanometres().saturating_mul(2));
        match twice.cmp(&depth) {
            std::cmp::Ordering::Less => ", where it lies in the lower half",
            std::cmp::Ordering::Greater => ", where it lies in the upper half",
            std::cmp::Ordering::Equal => ", where it lies in the middle",
        }
    });
    if good == 0 {
        let note = format!(
            "`{run}` can pass none of {all} `{}`: not number {}{where_it_lies}.",
            crossing.members.name,
            passage.called()
        );
        return Some((passage, note));
    }
    let note = format!(
        "`{run}` can pass {good} of {all} `{}`: {first} one after the other, then not number {}{where_it_lies}.",
        crossing.members.name,
        passage.called()
    );
    Some((passage, note))
}

/// The longest piece that goes in between two members that one pipe passes one after the other.
fn piece(
    job: &Job<'_>,
    measured: &Measured<'_>,
    members: &Members,
    pair: &[(u32, &Passage)],
    squared_to: &[Option<PipeId>],
) -> Option<(String, ())> {
    let [(number, one), (_, other)] = pair else {
        return None;
    };
    let network = measured.network();
    let pipe = network.graph().edge_weight(one.pipe)?;
    if network.passes_at_unknown_angle(one, squared_to)
        || one.pipe != other.pipe
        || pipe.slope.is_some_and(Slope::is_vertical)
    {
        return None;
    }
    let Got::Known(Value::Length(outside)) = measured.fact(Subject::Passage, *number, Fact::PassageOutside)
    else {
        return None;
    };
    let (spacing, thickness) = members.spacing.zip(network.thickness_at(one))?;
    let slant = network.slant(one)?;
    let degrees = slant.cosine.acos().to_degrees();
    let angle = Angle::from_microdegrees((degrees * 1e6).round() as i64);
    let longest = longest_piece(spacing.checked_sub(thickness)?, outside, angle)?;
    let skew = if slant.by_fall_alone {
        "square to them".to_owned()
    } else {
        format!("at {degrees:.0} degrees from square")
    };
    let single = match network.goes_through_two(one) {
        Some(_) => "",
        None => "single ",
    };
    let note = format!(
        "Pieces of {} up to {} go in between two {single}`{}` {skew}; longer ones are fed in from the end of the row.",
        job.pipe_in_words(pipe)?,
        on_tape(longest, network.notation()),
        members.name
    );
    Some((note, ()))
}

/// Which way rows that are not laid out are taken to run, where pipes pass them at several angles, or out of the cardinal points.
fn taken_to_run(network: &Network, squared_to: &[Option<PipeId>]) -> Vec<String> {
    let name = |pipe: PipeId| network.graph().edge_weight(pipe).map_or("", |pipe| &*pipe.name);
    let mut others: BTreeMap<usize, Vec<PipeId>> = BTreeMap::new();
    for passage in network.passages() {
        if network.passes_at_unknown_angle(passage, squared_to) {
            others
                .entry(passage.members as usize)
                .or_default()
                .push(passage.pipe);
        }
    }
    let told = |(row, (members, first)): (usize, (&Members, &Option<PipeId>))| {
        let first = (*first)?;
        let bearing = network.bearing(first)?;
        let runs = Bearing::from_microdegrees((bearing.microdegrees() + RIGHT_ANGLE) % (2 * RIGHT_ANGLE));
        let open = match others.remove(&row) {
            None if bearing.microdegrees() % RIGHT_ANGLE == 0 => return None,
            None => String::new(),
            Some(mut others) => {
                others.dedup();
                let others: Vec<String> = others
                    .into_iter()
                    .map(|pipe| format!("`{}`", name(pipe)))
                    .collect();
                format!(
                    " The holes of {} are open: they pass it at another angle.",
                    others.join(", ")
                )
            }
        };
        Some(format!(
            "`{}` is taken to run {runs}, square to `{}`, for no `layout` of it is stated.{open}",
            members.name,
            name(first)
        ))
    };
    let rows = network.framing().iter().zip(squared_to);
    rows.enumerate().filter_map(told).collect()
}

/// In millionths of a degree.
const RIGHT_ANGLE: i64 = 90_000_000;

fn sheet(job: &Job<'_>, rows: Vec<Vec<Cell>>, notes: Vec<String>) -> Sheet {
    Sheet {
        name: "holes",
        title: "holes and notches in framing".to_owned(),
        network: job.network.name().to_owned(),
        notation: job.network.notation(),
        columns: vec![
            Column::new("run", "run", Holds::Text),
            Column::new("pipe", "pipe", Holds::Text),
            Column::new("kind", "kind", Holds::Text),
            Column::new("member", "member", Holds::Text),
            Column::new("in_member", "in member", Holds::Length),
            Column::new("from", "from", Holds::Text),
            Column::new("along", "along", Holds::Length),
            Column::new("hole", "hole", Holds::Length),
            Column::new("centre", "centre", Holds::Length),
            Column::new("height", "height", Holds::Length),
            Column::new("storey", "above floor of", Holds::Text),
            Column::new("steel_plate", "steel plate", Holds::Text),
            Column::new("verdict", "verdict", Holds::Text),
        ],
        headings: 1,
        rows,
        notes,
    }
}
