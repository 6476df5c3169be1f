//! The smallest sizes that satisfy a rule set, or what keeps any from doing so.

use std::collections::BTreeSet;

use crownweir_evaluate::{Finding, Measured, Report, UnknownSizes, Verdict};
use crownweir_network::{Network, PipeId, Position};
use crownweir_quantity::{NominalSize, Slope};
use crownweir_rulebook::{Citation, RuleSet, Subject};

use crate::objection::{Demand, Status, Trial};
use crate::search::{Found, Search};
use crate::variable::{Variable, variables};

/// How much a search may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Most evaluations of the network. Where rules deny each other, all ways out take a few times as many more.
    pub evaluations: usize,
}

/// How many times the effort all ways out of conflicts may take together.
const MOST_FOR_WAYS_OUT: usize = 4;

impl Default for Effort {
    /// Enough for a building of some hundred open pipes, within seconds.
    fn default() -> Self {
        Self { evaluations: 75_000 }
    }
}

/// What came of sizing.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum Sizing {
    /// Sizes that satisfy the rule set as far as sizes can.
    Sized(Box<SizedNetwork>),
    /// No sizes do, for these rules deny each other.
    Conflict(Conflict),
    /// The effort allowed was spent before an answer was found.
    Spent {
        /// Evaluations made.
        evaluations: usize,
    },
}

/// Sizes that satisfy the rule set as far as sizes can.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct SizedNetwork {
    /// What was chosen, in the order of the file.
    pub chosen: Vec<Chosen>,
    /// The network with that filled in.
    pub network: Network,
    /// What checking that network gives. What it still finds was there whatever the sizes, asks for a terminal to be
    /// enlarged, is advice, or is open for want of a datum.
    pub report: Report,
    /// The findings that no choice of sizes clears, by their places in the report's list.
    pub whatever_size: Vec<usize>,
    /// Whether it is proven that no other choice has less material.
    pub proven: bool,
    /// Inside area times length of the pipes that were open, in cubic millimetres, by the diameters on the rule set's
    /// ladder and in whole numbers rounded down.
    pub material: u128,
    /// How many different sizes the pipes of the network have.
    pub sizes: usize,
    /// Evaluations made.
    pub evaluations: usize,
}

/// What was chosen for a pipe, or for all pipes that one line of the file stands for.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Chosen {
    /// The pipes.
    pub pipes: Vec<PipeId>,
    /// The name of the first.
    pub name: String,
    /// Where the file defines them.
    pub position: Position,
    /// The size, where that was open.
    pub size: Option<NominalSize>,
    /// The slope, where that was open.
    pub slope: Option<Slope>,
    /// Whether a length is not stated, and each such pipe counts as a metre long.
    pub length_open: bool,
}

/// Rules that deny each other: one of them has to give way.
///
/// Sizes are found for every way out: for each rule that may give way, and where the rest still deny each other, for each
/// of these with it. Pipes that come to the same by every way out are sized; the others remain open.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Conflict {
    /// The rules, each on its element.
    pub members: Vec<Objection>,
    /// Whether it is proven that each is necessary; not, where the effort was spent on the way.
    pub proven: bool,
    /// Rules that deny each other where one of the others gives way.
    pub further: Vec<Vec<Objection>>,
    /// What is chosen whichever of the rules gives way, in the order of the file.
    pub chosen: Vec<Chosen>,
    /// The pipes that remain open, in the order of the file.
    pub open: Vec<Open>,
    /// How many ways out have sizes; without any, no pipe is sized.
    pub ways: usize,
    /// Whether the effort was spent before every way out was searched. What a rule of a conflict turns on is then left
    /// open too, but a pipe that is sized may yet come to something else by a way that was not.
    pub cut_short: bool,
    /// Whether it is proven for each way out that no other choice has less material.
    pub least: bool,
    /// Evaluations made.
    pub evaluations: usize,
}

/// A pipe, or all that one line of the file stands for, of which a conflict leaves open what it is to be.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Open {
    /// The pipes.
    pub pipes: Vec<PipeId>,
    /// The name of the first.
    pub name: String,
    /// Where the file defines them.
    pub position: Position,
    /// The sizes and slopes that it comes to by the ways out, each once, from the least material up.
    pub either: Vec<(Option<NominalSize>, Option<Slope>)>,
}

/// A rule that takes part in a conflict, on the element by which it does.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Objection {
    /// The rule's name, or that of the rule that every trap be protected.
    pub rule: String,
    /// The rule's title.
    pub title: String,
    /// What the rule speaks about.
    pub subject: Subject,
    /// The element's number among the subject's own.
    pub number: u32,
    /// The element's name.
    pub name: String,
    /// Where the rule comes from.
    pub citation: Citation,
}

/// Chooses the open sizes and slopes of `network` by `rules`.
///
/// A pipe is open where the file states no size for it, neither its own nor its run's, or says `open`; a drain's
/// slope is open where the file gives bounds for it. Of all choices that no rule objects to, and in which every trap
/// is protected, it takes the one with the least material, reckoned as inside area times length; of several such the
/// one with the fewest different sizes, then that with the least slopes, before any that no one sets: a slope of the
/// rule set that is neither a bound nor a whole number of sixteenths of an inch per foot, or of half per cents by the
/// network's units. Slopes are sought among the bounds and all those that the rule set names between them. What a
/// rule finds whatever the sizes hinders no choice: it is left in the report. Advice hinders none either, nor what is
/// asked of a vent's size where it passes a roof or wall, since it may be enlarged just there. Where rules deny each
/// other, what is chosen whichever of them gives way is told all the same, and the pipes that depend on which does
/// remain open.
///
/// The search is exact, and bounded by `effort`: where that is spent, an answer may still be found, in which no single
/// pipe can be made smaller, but it is not proven to be the least. Each evaluation takes time in proportion to the
/// network; their number grows with the open pipes and sizes where rules bind a pipe by itself or to its neighbours,
/// and in the worst case exponentially with the pipes that are bound to each other both ways.
///
/// # Errors
/// The sizes that the network uses and the rule set does not know.
///
/// ```
/// use crownweir_network::Network;
/// use crownweir_propose::{Effort, Sizing, size};
/// use crownweir_rulebook::{RuleSet, published};
///
/// let file = "
/// crownweir: network/1
/// name: one closet
/// drains:
///   - slope: 1/4 in/ft
///     path:
///       - fixture: {name: WC, type: water_closet, flush_volume: 1.6 gal, trap: {size: 3 in, kind: integral}}
///       - pipe: {name: branch, length: 3 ft}
///       - fitting: {name: tee, pattern: wye}
///       - pipe: {name: drain, length: 9 ft}
///       - disposal: {name: sewer}
/// vents:
///   - {slope: vertical, path: [{at: tee}, {pipe: {name: vent, length: 12 ft}}, {terminal: {name: roof}}]}
/// ";
/// let network = Network::read("n.yaml", file.as_bytes(), &Default::default())?;
/// let text = published::text("ipc-2021").ok_or("no such rule set")?;
/// let rules = RuleSet::read("ipc-2021", text.as_bytes(), &Default::default())?;
/// let Sizing::Sized(sized) = size(&network, &rules, Effort::default())? else {
///     return Err("no sizes".into());
/// };
/// let of = |name: &str| {
///     let chosen = sized.chosen.iter().find(|one| one.name == name);
///     chosen.and_then(|one| one.size).map(|size| size.to_string())
/// };
/// assert_eq!(of("drain").as_deref(), Some("3 in"));
/// assert_eq!(of("vent").as_deref(), Some("1-1/2 in"));
/// assert!(sized.proven && !sized.report.has_violations());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn size(network: &Network, rules: &RuleSet, effort: Effort) -> Result<Sizing, UnknownSizes> {
    let mut trial = Trial::new(network, rules, variables(network, rules));
    let mut search = Search {
        trial: &mut trial,
        hopeless: BTreeSet::new(),
        most_evaluations: effort.evaluations,
    };
    let (best, proven) = loop {
        match search.best(None)? {
            Found::Best(chosen) => break (chosen, true),
            Found::Spent(Some(chosen)) => break (chosen, false),
            Found::Spent(None) => {
                return Ok(Sizing::Spent {
                    evaluations: search.trial.evaluations,
                });
            }
            Found::None(used) => {
                let (members, proven) = least_conflict(&mut search, used)?;
                match members.iter().next() {
                    // What no choice meets even by itself hinders none.
                    Some(&alone) if members.len() == 1 && search.hopeless.insert(alone) => {}
                    _ => {
                        let ways = ways_out(&mut search, members, effort)?;
                        return conflict(&mut search, network, rules, &ways, proven).map(Sizing::Conflict);
                    }
                }
            }
        }
    };
    let (chosen, lowered) = lowest(&mut search, best)?;
    let material = search.material(&chosen);
    let hopeless = std::mem::take(&mut search.hopeless);
    sized(
        &mut trial,
        rules,
        &chosen,
        &hopeless,
        material,
        proven && !lowered,
    )
    .map(|sized| Sizing::Sized(Box::new(sized)))
}

fn is_free(search: &mut Search<'_, '_>, chosen: &[usize]) -> Result<bool, UnknownSizes> {
    let filled: Vec<Option<usize>> = chosen.iter().map(|&choice| Some(choice)).collect();
    let objections = search.trial.objections(&filled)?;
    Ok(objections.is_some_and(|list| list.iter().all(|one| search.hopeless.contains(one))))
}

/// The same with every pipe as small as the others allow, and whether any was made smaller: after an exact search none
/// is, which evaluation confirms here.
fn lowest(search: &mut Search<'_, '_>, mut chosen: Vec<usize>) -> Result<(Vec<usize>, bool), UnknownSizes> {
    let mut lowered = false;
    loop {
        let mut again = false;
        for number in 0..chosen.len() {
            let now = chosen.get(number).copied().unwrap_or(0);
            for smaller in 0..now {
                let mut tried = chosen.clone();
                if let Some(slot) = tried.get_mut(number) {
                    *slot = smaller;
                }
                if search.material(&tried) < search.material(&chosen) && is_free(search, &tried)? {
                    chosen = tried;
                    (again, lowered) = (true, true);
                    break;
                }
            }
        }
        if !again {
            return Ok((chosen, lowered));
        }
    }
}

/// Of demands that deny each other a least part that still does, and whether that is proven: each is left out in turn,
/// and stays out where the rest can be met no more without it.
fn least_conflict(
    search: &mut Search<'_, '_>,
    mut members: BTreeSet<Demand>,
) -> Result<(BTreeSet<Demand>, bool), UnknownSizes> {
    let mut proven = true;
    let mut size = members.len().div_ceil(2);
    while size > 0 {
        let order: Vec<Demand> = members.iter().copied().collect();
        for part in order.chunks(size) {
            let rest: BTreeSet<Demand> = members
                .iter()
                .copied()
                .filter(|one| !part.contains(one))
                .collect();
            if rest.is_empty() || part.iter().all(|one| !members.contains(one)) {
                continue;
            }
            match search.best(Some(&rest))? {
                // What was not needed to show it either is left out too.
                Found::None(used) => members = used,
                Found::Best(_) => {}
                Found::Spent(_) => proven = false,
            }
        }
        size = if size == 1 { 0 } else { size.div_ceil(2) };
    }
    Ok((members, proven))
}

/// The ways out of rules that deny each other.
struct WaysOut {
    /// Demands that deny each other, as they were come upon.
    conflicts: Vec<BTreeSet<Demand>>,
    /// What is chosen by each way.
    answers: Vec<Vec<usize>>,
    least: bool,
    cut_short: bool,
}

/// Has each demand of a conflict give way in turn, and where the rest still deny each other, each of those too: the
/// tree of hitting sets (R. Reiter, A theory of diagnosis from first principles, 1987), depth first.
fn ways_out(
    search: &mut Search<'_, '_>,
    first: BTreeSet<Demand>,
    effort: Effort,
) -> Result<WaysOut, UnknownSizes> {
    let mut ways = WaysOut {
        conflicts: vec![first],
        answers: Vec::new(),
        least: true,
        cut_short: false,
    };
    let mut seen = BTreeSet::new();
    let mut waiting = vec![BTreeSet::new()];
    let mut hopeless = std::mem::take(&mut search.hopeless);
    let most = search
        .trial
        .evaluations
        .saturating_add(effort.evaluations.saturating_mul(MOST_FOR_WAYS_OUT));
    while let Some(yielding) = waiting.pop() {
        if !seen.insert(yielding.clone()) {
            continue;
        }
        let with = |one: &Demand| {
            let mut more = yielding.clone();
            more.insert(*one);
            more
        };
        // What is known to deny each other need not be found once more.
        if let Some(stands) = ways.conflicts.iter().find(|one| one.is_disjoint(&yielding)) {
            waiting.extend(stands.iter().rev().map(with));
            continue;
        }
        if search.trial.evaluations > most {
            ways.cut_short = true;
            break;
        }
        search.hopeless = &hopeless | &yielding;
        search.most_evaluations = search.trial.evaluations.saturating_add(effort.evaluations);
        match search.best(None)? {
            Found::Spent(None) => ways.cut_short = true,
            Found::Best(chosen) => ways.answers.push(lowest(search, chosen)?.0),
            Found::Spent(Some(chosen)) => {
                ways.answers.push(lowest(search, chosen)?.0);
                ways.least = false;
            }
            Found::None(used) => match least_conflict(search, used)? {
                // What no choice meets even by itself hinders none.
                (members, _) if members.len() == 1 => {
                    hopeless.extend(&members);
                    seen.remove(&yielding);
                    waiting.push(yielding.clone());
                }
                (members, true) => {
                    waiting.extend(members.iter().rev().map(with));
                    ways.conflicts.push(members);
                }
                // Too many to have each give way.
                (_, false) => ways.cut_short = true,
            },
        }
        // What no choice meets by itself was found to be so for good.
        hopeless.extend(search.hopeless.difference(&yielding));
    }
    search.hopeless = hopeless;
    Ok(ways)
}

/// What is the same by all ways out, a choice for each variable or none. Where some way was not looked at, what a rule of
/// a conflict turns on is left open too; and so is all by which a rule would be broken, whatever the rest may be.
fn in_common(search: &mut Search<'_, '_>, ways: &WaysOut) -> Result<Vec<Option<usize>>, UnknownSizes> {
    let Some((first, others)) = ways.answers.split_first() else {
        return Ok(vec![None; search.trial.variables.len()]);
    };
    let mut common: Vec<Option<usize>> = first.iter().copied().map(Some).collect();
    for other in others {
        for (own, other) in common.iter_mut().zip(other) {
            *own = own.filter(|own| own == other);
        }
    }
    if ways.cut_short {
        for demand in ways.conflicts.iter().flatten() {
            for answer in &ways.answers {
                let whole: Vec<Option<usize>> = answer.iter().copied().map(Some).collect();
                leave_open(search, *demand, &whole, &mut common, |status| {
                    matches!(status, Status::Open(_))
                })?;
            }
        }
    }
    loop {
        let objections = search.trial.objections(&common)?.unwrap_or_default();
        let Some(&demand) = objections.iter().find(|one| !search.hopeless.contains(one)) else {
            return Ok(common);
        };
        let before = common.clone();
        leave_open(search, demand, &before, &mut common, |status| {
            *status != Status::Objected
        })?;
        if common == before {
            return Ok(vec![None; common.len()]);
        }
    }
}

/// Leaves open each variable without which a demand comes to what is asked for.
fn leave_open(
    search: &mut Search<'_, '_>,
    demand: Demand,
    filled: &[Option<usize>],
    common: &mut [Option<usize>],
    asked: impl Fn(&Status) -> bool,
) -> Result<(), UnknownSizes> {
    for (number, own) in common.iter_mut().enumerate().filter(|(_, own)| own.is_some()) {
        let mut without = filled.to_vec();
        if let Some(slot) = without.get_mut(number) {
            *slot = None;
        }
        if asked(&search.trial.judge(&without, demand)?) {
            *own = None;
        }
    }
    Ok(())
}

fn conflict(
    search: &mut Search<'_, '_>,
    network: &Network,
    rules: &RuleSet,
    ways: &WaysOut,
    proven: bool,
) -> Result<Conflict, UnknownSizes> {
    let common = in_common(search, ways)?;
    let trial = &*search.trial;
    let measured = Measured::new(network, rules)?;
    let mut conflicts = ways.conflicts.iter().map(|members| {
        let members = members.iter();
        members
            .filter_map(|demand| objection(*demand, &measured, rules))
            .collect()
    });
    let members = conflicts.next().unwrap_or_default();
    let further = conflicts.collect();
    let (mut chosen, mut open) = (Vec::new(), Vec::new());
    for (number, (variable, common)) in trial.variables.iter().zip(common).enumerate() {
        if let Some(choice) = common {
            chosen.extend(chosen_of(variable, choice, network));
            continue;
        }
        let either = ways.answers.iter().filter_map(|answer| answer.get(number));
        let either: BTreeSet<usize> = either.copied().collect();
        let either = either.iter().filter_map(|&choice| variable.choices.get(choice));
        let either = either.map(|one| (one.size.map(|(_, name)| name), one.slope));
        open.extend(first_of(variable, network).map(|name| Open {
            pipes: variable.pipes.clone(),
            name,
            position: variable.position,
            either: either.collect(),
        }));
    }
    chosen.sort_by_key(|one| (one.position.line, one.position.column));
    open.sort_by_key(|one| (one.position.line, one.position.column));
    Ok(Conflict {
        members,
        proven,
        further,
        chosen,
        open,
        ways: ways.answers.len(),
        cut_short: ways.cut_short,
        least: ways.least,
        evaluations: trial.evaluations,
    })
}

fn objection(demand: Demand, measured: &Measured<'_>, rules: &RuleSet) -> Option<Objection> {
    let (rule, title, citation, subject, number) = match demand {
        Demand::Protection(fixture) => {
            let asked = rules.protection.as_ref()?;
            (
                &asked.rule,
                &asked.title,
                &asked.citation,
                Subject::Trap,
                fixture.number,
            )
        }
        Demand::Rule(rule, element) => {
            let rule = rules.rules.get(rule)?;
            (
                &rule.name,
                &rule.title,
                &rule.citation,
                rule.subject,
                element.number,
            )
        }
    };
    Some(Objection {
        rule: rule.clone(),
        title: title.clone(),
        subject,
        number,
        name: measured.name_of(subject, number),
        citation: citation.clone(),
    })
}

/// The name of the first pipe that a variable stands for.
fn first_of(variable: &Variable, network: &Network) -> Option<String> {
    let first = variable.pipes.first()?;
    Some(network.graph().edge_weight(*first)?.name.to_string())
}

fn chosen_of(variable: &Variable, choice: usize, network: &Network) -> Option<Chosen> {
    let choice = variable.choices.get(choice)?;
    Some(Chosen {
        pipes: variable.pipes.clone(),
        name: first_of(variable, network)?,
        position: variable.position,
        size: choice.size.map(|(_, name)| name),
        slope: choice.slope,
        length_open: variable.length_open,
    })
}

fn sized(
    trial: &mut Trial<'_>,
    rules: &RuleSet,
    choices: &[usize],
    hopeless: &BTreeSet<Demand>,
    material: u128,
    proven: bool,
) -> Result<SizedNetwork, UnknownSizes> {
    let filled: Vec<Option<usize>> = choices.iter().map(|&choice| Some(choice)).collect();
    let network = trial.filled(&filled);
    let report = Measured::new(&network, rules)?.check();
    let is_hopeless = |finding: &Finding| {
        hopeless.iter().any(|demand| match *demand {
            Demand::Protection(fixture) => {
                let asked = rules.protection.as_ref().map(|asked| &asked.rule);
                asked == Some(&finding.rule) && finding.number() == fixture.number
            }
            Demand::Rule(rule, element) => {
                let rule = rules.rules.get(rule).map(|rule| &rule.name);
                rule == Some(&finding.rule) && finding.number() == element.number
            }
        })
    };
    let whatever_size = report.findings.iter().enumerate();
    let whatever_size = whatever_size
        .filter(|(_, finding)| finding.verdict == Verdict::Violated || !finding.missing.is_empty())
        .filter(|(_, finding)| is_hopeless(finding))
        .map(|(number, _)| number)
        .collect();
    let graph = network.graph();
    let mut chosen: Vec<Chosen> = trial
        .variables
        .iter()
        .zip(choices)
        .filter_map(|(variable, &choice)| chosen_of(variable, choice, &network))
        .collect();
    chosen.sort_by_key(|one| (one.position.line, one.position.column));
    let mut sizes = trial.given_sizes.clone();
    sizes.extend(
        graph
            .edge_weights()
            .filter_map(|pipe| rules.ladder.find(pipe.size?)),
    );
    Ok(SizedNetwork {
        chosen,
        report,
        whatever_size,
        proven,
        material: circle(material),
        sizes: sizes.len(),
        evaluations: trial.evaluations,
        network,
    })
}

/// The area of circles from the squares of their diameters, and cubic millimetres from cubic nanometres.
fn circle(square: u128) -> u128 {
    // Pi over four to nine places is far within the rounding.
    let millionths = square / 1_000_000_000;
    millionths.saturating_mul(785_398_163) / 1_000_000_000 / 1_000_000_000
}
