//! Remedies: changes of which evaluation has shown that they clear a finding and bring no other.

mod candidates;
mod change;
mod same;

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crownweir_document::{Diagnostics, Document};
use crownweir_evaluate::{Finding, Measured, Missing, UnknownSizes, Verdict};
use crownweir_network::{Limits, Network};
use crownweir_rulebook::{RuleSet, Subject};

use crate::error::{ChangeError, MendError};

pub use change::{Change, PropertyValue};

/// How much is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trials {
    /// Most networks that are evaluated for a finding.
    pub evaluations: usize,
    /// Most nodes and pipes that all these networks have for all findings: each finding has its share of what those before
    /// it leave.
    pub pieces: usize,
    /// Most remedies that are offered for a finding.
    pub remedies: usize,
    /// Most changes that follow from a first one: each clears what the one before it has brought.
    pub follow_ups: usize,
}

/// How many times the changes of another remedy one may take and still be worth reading of.
const MOST_TIMES_THE_WORK: usize = 4;

impl Default for Trials {
    fn default() -> Self {
        Self {
            evaluations: 160,
            pieces: 3_000_000,
            remedies: 3,
            follow_ups: 4,
        }
    }
}

/// A finding with what would clear it.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Mending {
    /// The finding.
    pub finding: Finding,
    /// The remedies, that which changes least first.
    pub remedies: Vec<Remedy>,
    /// Where there is none: a remedy of another finding that clears this one too, by the places of both, from zero.
    pub cleared_by: Option<(usize, usize)>,
    /// Where there is none: what comes nearest to one.
    pub nearest: Option<Hindered>,
    /// How many networks were evaluated.
    pub evaluations: usize,
    /// Whether none could be, for so many findings in so large a network.
    pub untried: bool,
}

/// Changes that together clear a finding and bring no other: evaluation has shown it. A new piece may lack what the file
/// does not state of others either.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Remedy {
    /// The changes, to be made in this order.
    pub changes: Vec<Change>,
    /// Each in words.
    pub words: Vec<String>,
    /// The most elements that one place of the file stands for at which a change is made: more than one on repeated
    /// storeys, which then all change.
    pub touches: usize,
    /// Further findings that it clears.
    pub clears_too: usize,
    /// All that it clears.
    clears: BTreeSet<Key>,
}

impl Remedy {
    /// Whether one of its changes states a fact of the site otherwise, which is for the site to bear out.
    #[must_use]
    pub fn is_of_site(&self) -> bool {
        self.changes.iter().any(Change::is_of_site)
    }

    /// Whether it rests on a fact of the site, how many changes it takes, how much of a building they move, and what else
    /// they clear.
    fn rank(&self) -> (bool, usize, u32, Reverse<usize>) {
        let weight = weight(&self.changes);
        (
            self.is_of_site(),
            self.changes.len(),
            weight,
            Reverse(self.clears_too),
        )
    }
}

/// Changes that would clear a finding and are no remedy, for they bring others that nothing tried upon them clears.
#[derive(Debug, Clone)]
pub struct Hindered {
    /// The changes.
    pub changes: Vec<Change>,
    /// Each in words.
    pub words: Vec<String>,
    /// What would then be found that is not found now, in the order of reports.
    pub brings: Vec<Finding>,
}

impl Hindered {
    /// How far it is from a remedy: the less, the nearer.
    fn distance(&self) -> (usize, usize, u32) {
        (self.brings.len(), self.changes.len(), weight(&self.changes))
    }
}

/// How much of a building changes move together.
fn weight(changes: &[Change]) -> u32 {
    changes.iter().map(Change::weight).sum()
}

/// A finding, and the place of the rule set that makes it among those that judge.
type Judged = (usize, Finding);

/// What a finding is known by from one evaluation to the next.
type Key = (usize, String, Subject, String, Option<String>, Verdict);

fn key((judge, finding): &Judged) -> Key {
    let entered_by = finding.entered_by.clone();
    let (rule, name) = (finding.rule.clone(), finding.name.clone());
    (*judge, rule, finding.subject, name, entered_by, finding.verdict)
}

fn keys(findings: &[Judged]) -> BTreeSet<Key> {
    findings.iter().map(key).collect()
}

/// What a finding that cannot be told asks for: the data that are not stated, whatever of.
type Question = (usize, String, Vec<&'static str>);

fn question((judge, finding): &Judged) -> Option<Question> {
    let datum = |missing: &Missing| match missing {
        Missing::OfElement { datum, .. } => Some(*datum),
        _ => None,
    };
    let data: Option<Vec<_>> = finding.missing.iter().map(datum).collect();
    let is_open = finding.verdict == Verdict::Undetermined;
    data.filter(|_| is_open)
        .map(|data| (*judge, finding.rule.clone(), data))
}

/// A network before it is changed, and what is found in it.
struct Base {
    found: BTreeSet<Key>,
    questions: BTreeSet<Question>,
    names: BTreeSet<Arc<str>>,
}

impl Base {
    fn of(network: &Network, findings: &[Judged]) -> Self {
        let graph = network.graph();
        let nodes = graph.node_weights().map(|node| Arc::clone(&node.name));
        let pipes = graph.edge_weights().map(|pipe| Arc::clone(&pipe.name));
        Self {
            found: keys(findings),
            questions: findings.iter().filter_map(question).collect(),
            names: nodes.chain(pipes).collect(),
        }
    }

    /// Whether what is found after a change that clears a finding was found before, or is no more than that a new piece
    /// lacks what the file does not state of others either.
    fn has(&self, cleared: &Key, one: &Judged) -> bool {
        let key = key(one);
        (key != *cleared && self.found.contains(&key))
            || !self.names.contains(one.1.name.as_str())
                && question(one).is_some_and(|question| self.questions.contains(&question))
    }
}

/// What rule sets find in a network, one after the other.
fn found(network: &Network, judges: &[&RuleSet]) -> Result<Vec<Judged>, UnknownSizes> {
    let mut found = Vec::new();
    for (judge, rules) in judges.iter().enumerate() {
        let findings = Measured::new(network, rules)?.check().findings;
        found.extend(findings.into_iter().map(|finding| (judge, finding)));
    }
    Ok(found)
}

/// The text of a network's file with changes made, each after those before it.
///
/// # Errors
/// A change that has no place in the file, or after which this holds no network; or the file holds none to begin with.
///
/// ```
/// # use crownweir_document::Document;
/// # use crownweir_propose::{Change, changed};
/// let file = "
/// crownweir: network/1
/// name: drain
/// drains:
///   - size: 3 in
///     slope: 1/4 in/ft
///     path:
///       - fitting: {name: a}
///       - pipe: {name: p, length: 9 ft}  # under the stairs
///       - disposal: {name: z}
/// ";
/// let document = Document::read("n.yaml", file.as_bytes(), &Default::default())?;
/// let enlarge = Change::Size { pipe: "p".to_owned(), size: "4 in".parse()? };
/// let text = changed(&document, &[enlarge], &Default::default())?;
/// assert_eq!(text, file.replace("{name: p, ", "{name: p, size: 4 in, "));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn changed(document: &Document, changes: &[Change], limits: &Limits) -> Result<String, ChangeError> {
    let mut state = State::new(document.clone(), limits)?;
    for together in made_together(changes) {
        state = state.with(together, limits)?;
    }
    Ok(state.document.text().to_owned())
}

/// A file as read, and the network in it.
struct State {
    document: Document,
    network: Network,
}

impl State {
    fn new(document: Document, limits: &Limits) -> Result<Self, Diagnostics> {
        let network = Network::from_document(&document, limits)?;
        Ok(Self { document, network })
    }

    /// With changes that are made together.
    fn with(&self, changes: &[Change], limits: &Limits) -> Result<Self, ChangeError> {
        let element = || {
            changes
                .first()
                .map_or_else(String::new, |change| change.of().to_owned())
        };
        let edits = changes
            .iter()
            .map(|change| change.edits(&self.document, &self.network));
        let edits: Option<Vec<_>> = edits.collect();
        let text = edits.and_then(|edits| self.document.edited(&edits.concat()));
        let text = text.ok_or_else(|| ChangeError::NoPlace { element: element() })?;
        Document::read(self.document.name(), text.as_bytes(), limits)
            .and_then(|document| Self::new(document, limits))
            .map_err(|problems| ChangeError::Breaks {
                element: element(),
                problems,
            })
    }
}

/// Changes as they are made one after the other: heights that follow each other at once, for one without the next may deny
/// how the pipe between them lies, or how high a standpipe's rim is.
fn made_together(changes: &[Change]) -> impl Iterator<Item = &[Change]> {
    changes.chunk_by(|one, next| one.is_height() && next.is_height())
}

/// For each finding of a network the remedies that could be verified; for one that cannot be told, none: it wants a datum.
///
/// A remedy is offered only after the file with it has been read and evaluated anew: the finding is gone, and nothing is
/// found that was not found before, not even advice; neither by `rules` nor by those `beside` it, such as rules for framing
/// beside those for pipes, whose own findings are not mended. What is tried for a finding, and in which order, follows from the
/// facts that its failed comparisons read: the element's own property first, then sizes, slopes and lengths, then new
/// fittings, cleanouts and vents. Where a change brings a new finding, what would clear that is tried upon it, up to
/// `trials.follow_ups` deep. Remedies are ranked by the number of their changes, then by how much of the building these
/// move, then by what else they clear; those that state a fact of the site otherwise come after those that alter pipework
/// only. A change at a place that stands for several storeys changes them all, and says so; one that would put a new thing
/// in there is not offered.
/// Of remedies after which the same is built, only the one with the fewest changes is; and none that takes many times the
/// changes of another.
///
/// # Errors
/// What keeps the file from being a network, or the sizes that the network uses and a rule set does not know.
///
/// ```
/// use crownweir_document::Document;
/// use crownweir_propose::{Trials, changed, mend};
/// use crownweir_rulebook::{RuleSet, published};
///
/// let file = "
/// crownweir: network/1
/// name: drain
/// drains:
///   - kind: building_drain
///     size: 3 in
///     slope: 1/4 in/ft
///     path:
///       - fixture: {name: load, type: connected_load, load: 100 dfu}
///       - pipe: {name: to the sewer, length: 9 ft}
///       - disposal: {name: sewer}
/// ";
/// let limits = Default::default();
/// let document = Document::read("n.yaml", file.as_bytes(), &limits)?;
/// let rules = RuleSet::read("ipc-2021", published::text("ipc-2021").ok_or("no rules")?.as_bytes(), &limits)?;
/// let mendings = mend(&document, &rules, &[], &limits, Trials::default())?;
/// let overloaded = mendings.iter().find(|one| one.finding.rule == "building-drain-capacity").ok_or("not found")?;
/// let remedy = overloaded.remedies.first().ok_or("no remedy")?;
/// assert_eq!(remedy.words, ["lay `to the sewer` in 4 in instead of 3 in"]);
/// assert!(changed(&document, &remedy.changes, &limits)?.contains("size: 4 in"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn mend(
    document: &Document,
    rules: &RuleSet,
    beside: &[&RuleSet],
    limits: &Limits,
    trials: Trials,
) -> Result<Vec<Mending>, MendError> {
    let state = State::new(document.clone(), limits)?;
    let judges = [&[rules], beside].concat();
    let findings = found(&state.network, &judges)?;
    let base = Base::of(&state.network, &findings);
    let own: Vec<Judged> = findings.into_iter().filter(|(judge, _)| *judge == 0).collect();
    let pieces = state.network.graph().node_count() + state.network.graph().edge_count();
    let is_violated = |one: &&Judged| one.1.verdict == Verdict::Violated;
    let mut to_come = own.iter().filter(is_violated).count();
    let mut left = trials.pieces / pieces.max(1);
    let mut mendings: Vec<Mending> = Vec::new();
    let mut keys_of_own = Vec::new();
    for finding in own {
        let most = trials.evaluations.min(left / to_come.max(1));
        let mut healer = Healer {
            rules,
            judges: &judges,
            limits,
            trials: Trials {
                evaluations: most,
                ..trials
            },
            base: &base,
            cleared: key(&finding),
            evaluations: 0,
            bound: most,
            nearest: None,
        };
        // What cannot be told wants a datum, and no change.
        keys_of_own.push(key(&finding));
        let is_violated = finding.1.verdict == Verdict::Violated;
        let mut remedies: Vec<Remedy> = match is_violated && most > 0 {
            true => healer.of_finding(&state, &finding)?,
            false => Vec::new(),
        };
        to_come -= usize::from(is_violated);
        left = left.saturating_sub(healer.evaluations);
        remedies.sort_by_key(Remedy::rank);
        let of_pipes = remedies.iter().filter(|remedy| !remedy.is_of_site());
        if let Some(fewest) = of_pipes.map(|remedy| remedy.changes.len()).min() {
            remedies.retain(|remedy| remedy.changes.len() <= fewest.saturating_mul(MOST_TIMES_THE_WORK));
        }
        mendings.push(Mending {
            untried: is_violated && most == 0,
            finding: finding.1,
            cleared_by: None,
            nearest: healer.nearest.filter(|_| remedies.is_empty()),
            remedies,
            evaluations: healer.evaluations,
        });
    }
    let clears = |key: &Key| {
        let remedies = mendings.iter().enumerate().flat_map(|(place, mending)| {
            let remedies = mending.remedies.iter().enumerate();
            remedies.map(move |(choice, remedy)| ((place, choice), remedy))
        });
        let mut clearing = remedies.filter(|(_, remedy)| !remedy.is_of_site() && remedy.clears.contains(key));
        clearing.next().map(|(places, _)| places)
    };
    let cleared: Vec<_> = keys_of_own.iter().map(clears).collect();
    for (mending, cleared_by) in mendings.iter_mut().zip(cleared) {
        mending.cleared_by = cleared_by.filter(|_| mending.remedies.is_empty());
    }
    Ok(mendings)
}

struct Healer<'a> {
    rules: &'a RuleSet,
    /// That rule set, and those beside it.
    judges: &'a [&'a RuleSet],
    limits: &'a Limits,
    trials: Trials,
    base: &'a Base,
    /// The finding that is to be cleared.
    cleared: Key,
    evaluations: usize,
    /// How many may have been by the end of what is being tried.
    bound: usize,
    /// What has come nearest to a remedy of the finding itself.
    nearest: Option<Hindered>,
}

impl Healer<'_> {
    /// Remedies of the finding itself. Each kind of change has a share of the trials, a kind being the change that moves
    /// most, so that what comes after many of another kind is tried too; what is left over is for those put off.
    fn of_finding(&mut self, state: &State, finding: &Judged) -> Result<Vec<Remedy>, UnknownSizes> {
        let kind = |changes: &[Change]| changes.iter().map(Change::weight).max();
        let candidates = self.candidates(state, finding)?;
        let kinds: BTreeSet<_> = candidates.iter().map(|changes| kind(changes)).collect();
        let share = self.trials.evaluations / kinds.len().max(1);
        let mut shares: BTreeMap<_, _> = kinds.into_iter().map(|kind| (kind, share)).collect();
        let mut remedies = Vec::new();
        let mut put_off = Vec::new();
        for changes in candidates {
            let share = shares.entry(kind(&changes)).or_default();
            let (before, found) = (self.evaluations, remedies.len());
            self.bound = before + *share;
            if self.goes_on(&remedies, self.trials.remedies) {
                self.attempt(
                    state,
                    finding,
                    &[],
                    &changes,
                    self.trials.follow_ups,
                    &mut remedies,
                )?;
            }
            *share = self.bound.saturating_sub(self.evaluations);
            if *share == 0 && remedies.len() == found {
                put_off.push(changes);
            }
        }
        self.bound = self.trials.evaluations;
        for changes in put_off {
            if self.goes_on(&remedies, self.trials.remedies) {
                self.attempt(
                    state,
                    finding,
                    &[],
                    &changes,
                    self.trials.follow_ups,
                    &mut remedies,
                )?;
            }
        }
        let plain = |(remedy, built)| self.with_vents_of_their_last_sizes(state, remedy, &built);
        Ok(remedies.into_iter().map(plain).collect())
    }

    /// What may clear a finding by the rule set that makes it.
    fn candidates(&self, state: &State, (judge, finding): &Judged) -> Result<Vec<Vec<Change>>, UnknownSizes> {
        let Some(rules) = self.judges.get(*judge) else {
            return Ok(Vec::new());
        };
        let measured = Measured::new(&state.network, rules)?;
        Ok(candidates::candidates(&measured, finding))
    }

    /// A remedy whose new vents are of the sizes that they come to, rather than made and then laid in another, if the same
    /// is built.
    fn with_vents_of_their_last_sizes(&self, state: &State, remedy: Remedy, built: &Network) -> Remedy {
        let mut plain: Vec<Change> = Vec::with_capacity(remedy.changes.len());
        for change in &remedy.changes {
            if !plain.iter_mut().any(|made| made.takes_size_of(change)) {
                plain.push(change.clone());
            }
        }
        if plain.len() == remedy.changes.len() {
            return remedy;
        }
        match self.made(state, &plain) {
            Some((made, plain)) if same::is_same(&made.network, built) => Remedy {
                clears_too: remedy.clears_too,
                clears: remedy.clears,
                ..plain
            },
            _ => remedy,
        }
    }

    /// A remedy of what changes have brought, which takes none of them back.
    fn of_new(
        &mut self,
        state: &State,
        finding: &Judged,
        made: &[Change],
        follow_ups: usize,
    ) -> Result<Option<(Remedy, Network)>, UnknownSizes> {
        let mut remedies = Vec::new();
        let takes_back = |change: &Change| made.iter().any(|made| change.sets_again(made));
        let mut candidates = self.candidates(state, finding)?;
        candidates.retain(|changes| !changes.iter().any(takes_back));
        // After a whole run is laid otherwise, what it brings falls on all of its pipes.
        let is_of_several = |changes: &[Change]| changes.iter().any(Change::is_of_several);
        if is_of_several(made) {
            candidates.sort_by_key(|changes| !is_of_several(changes));
        }
        for changes in candidates {
            if !self.goes_on(&remedies, 1) {
                break;
            }
            self.attempt(state, finding, made, &changes, follow_ups, &mut remedies)?;
        }
        Ok(remedies.pop())
    }

    fn goes_on(&self, remedies: &[(Remedy, Network)], most: usize) -> bool {
        remedies.len() < most && self.evaluations < self.bound
    }

    /// Makes changes after those that led here, and keeps them with what follows from them where they are a remedy.
    fn attempt(
        &mut self,
        state: &State,
        finding: &Judged,
        before: &[Change],
        changes: &[Change],
        follow_ups: usize,
        remedies: &mut Vec<(Remedy, Network)>,
    ) -> Result<(), UnknownSizes> {
        let Some((next, mut remedy)) = self.made(state, changes) else {
            return Ok(());
        };
        self.evaluations += 1;
        let Ok(findings) = found(&next.network, self.judges) else {
            return Ok(());
        };
        let found = keys(&findings);
        if found.contains(&key(finding)) {
            return Ok(());
        }
        let is_new = |one: &Judged| !self.base.has(&self.cleared, one);
        let brings: Vec<Judged> = findings.into_iter().filter(is_new).collect();
        let built = match brings.first() {
            None => {
                remedy.clears_too = self.base.found.len().saturating_sub(found.len() + 1);
                remedy.clears = self.base.found.difference(&found).cloned().collect();
                next.network
            }
            Some(new) => {
                let further = match follow_ups {
                    0 => None,
                    _ => self.of_new(&next, new, &[before, changes].concat(), follow_ups - 1)?,
                };
                let Some((further, built)) = further else {
                    if follow_ups == self.trials.follow_ups {
                        self.note(remedy, brings);
                    }
                    return Ok(());
                };
                // What follows may do without what it followed from.
                if let Some((alone, built)) = self.does_alone(state, &further.changes) {
                    remedy = alone;
                    built
                } else {
                    remedy.changes.extend(further.changes);
                    remedy.words.extend(further.words);
                    remedy.touches = remedy.touches.max(further.touches);
                    remedy.clears_too = further.clears_too;
                    remedy.clears = further.clears;
                    built
                }
            }
        };
        // What does with some of the changes, or with smaller pipe, is better; but one length that makes up for another keeps
        // what stands beyond it where it is; and a whole run that is laid otherwise may clear more than one pipe of it.
        let ladder = &self.rules.ladder;
        let does_with = |less: &Remedy, more: &Remedy| {
            let is_kept = |more: &Change| less.changes.iter().any(|less| less.does_for(more, ladder));
            let is_needed = |less: &Change| more.changes.iter().any(|more| less.does_for(more, ladder));
            let mut further = more.changes.iter().filter(|more| !is_kept(more));
            let is_of_several = more.changes.iter().any(Change::is_of_several);
            (!is_of_several || less.clears_too >= more.clears_too)
                && less.changes.iter().all(is_needed)
                && !further.any(|one| matches!(one, Change::Length { .. }))
        };
        if remedies.iter().any(|(kept, _)| does_with(kept, &remedy)) {
            return Ok(());
        }
        remedies.retain(|(kept, _)| !does_with(&remedy, kept));
        match remedies
            .iter_mut()
            .find(|(_, other)| same::is_same(other, &built))
        {
            Some(kept) if remedy.changes.len() < kept.0.changes.len() => *kept = (remedy, built),
            Some(_) => {}
            None => remedies.push((remedy, built)),
        }
        Ok(())
    }

    /// Changes as a remedy, if they are one.
    fn does_alone(&mut self, state: &State, changes: &[Change]) -> Option<(Remedy, Network)> {
        let (made, mut remedy) = self.made(state, changes)?;
        self.evaluations += 1;
        let findings = found(&made.network, self.judges).ok()?;
        remedy.clears_too = self.base.found.len().saturating_sub(findings.len() + 1);
        remedy.clears = self.base.found.difference(&keys(&findings)).cloned().collect();
        let is_remedy = findings.iter().all(|one| self.base.has(&self.cleared, one));
        is_remedy.then_some((remedy, made.network))
    }

    /// Keeps in mind what clears the finding and brings others, if it is the nearest so far.
    fn note(&mut self, remedy: Remedy, brings: Vec<Judged>) {
        let hindered = Hindered {
            changes: remedy.changes,
            words: remedy.words,
            brings: brings.into_iter().map(|(_, finding)| finding).collect(),
        };
        let nearest = self.nearest.as_ref().map(Hindered::distance);
        if nearest.is_none_or(|nearest| hindered.distance() < nearest) {
            self.nearest = Some(hindered);
        }
    }

    /// The state with changes made, and these as a remedy that is still to be verified.
    fn made(&self, state: &State, changes: &[Change]) -> Option<(State, Remedy)> {
        let mut remedy = Remedy {
            changes: changes.to_vec(),
            words: Vec::new(),
            touches: 1,
            clears_too: 0,
            clears: BTreeSet::new(),
        };
        let mut now: Option<State> = None;
        for together in made_together(changes) {
            let before = now.as_ref().unwrap_or(state);
            for change in together {
                remedy.words.push(change.in_words(&before.network));
                remedy.touches = remedy.touches.max(change.touches(&before.network));
            }
            now = Some(before.with(together, self.limits).ok()?);
        }
        Some((now?, remedy))
    }
}

/// What comes of changes beside others that were made before them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verified {
    /// They clear the finding and bring no other; the text that then stands.
    Clears(String),
    /// They would take back one of the changes made before, by its place among these: mending the file as it now stands
    /// offers them anew.
    Undoes(usize),
    /// They cannot be made in the file as it now stands.
    Unmakeable(ChangeError),
    /// There is nothing to be cleared: the finding went with the changes before.
    Cleared,
    /// They do not clear the finding in the file as it now stands, or bring something new.
    Fails,
}

/// Whether changes that were offered for a finding still clear it, and bring no other, in a file that holds `made`, other
/// changes that were offered beside them.
///
/// A new length was reckoned from the network as it was when it was offered. Where another remedy has given that pipe
/// another length, or has put something into it, it would be undone without anything being found.
///
/// # Errors
/// What keeps the file from being a network, or the sizes that the network uses, as it stands or with the changes, and
/// a rule set does not know.
pub fn verified(
    document: &Document,
    rules: &RuleSet,
    beside: &[&RuleSet],
    limits: &Limits,
    finding: &Finding,
    changes: &[Change],
    made: &[Change],
) -> Result<Verified, MendError> {
    let mut state = State::new(document.clone(), limits)?;
    let judges = [&[rules], beside].concat();
    let base = Base::of(&state.network, &found(&state.network, &judges)?);
    let cleared = key(&(0, finding.clone()));
    if !base.found.contains(&cleared) {
        return Ok(Verified::Cleared);
    }
    if let Some(undone) = made
        .iter()
        .position(|made| changes.iter().any(|change| change.undoes(made)))
    {
        return Ok(Verified::Undoes(undone));
    }
    for together in made_together(changes) {
        state = match state.with(together, limits) {
            Ok(state) => state,
            Err(error) => return Ok(Verified::Unmakeable(error)),
        };
    }
    let found = found(&state.network, &judges)?;
    Ok(if found.iter().all(|one| base.has(&cleared, one)) {
        Verified::Clears(state.document.text().to_owned())
    } else {
        Verified::Fails
    })
}

/// Of changes that were made one after the other for findings, the places of those that the others make needless: without
/// them nothing is found that is not found with all. Each is left out in turn, from the first, and comes back where it is
/// needed.
///
/// # Errors
/// What keeps the file from being a network, or the sizes that the network uses, as it stands or with the changes, and
/// a rule set does not know.
pub fn needless(
    document: &Document,
    rules: &RuleSet,
    beside: &[&RuleSet],
    limits: &Limits,
    made: &[&[Change]],
) -> Result<Vec<usize>, MendError> {
    let state = State::new(document.clone(), limits)?;
    let judges = [&[rules], beside].concat();
    let found_without = |left_out: &[usize]| -> Result<Option<BTreeSet<Key>>, UnknownSizes> {
        let places = made.iter().enumerate();
        let kept = places.filter(|(place, _)| !left_out.contains(place));
        let mut now: Option<State> = None;
        for together in kept.flat_map(|(_, changes)| made_together(changes)) {
            match now.as_ref().unwrap_or(&state).with(together, limits) {
                Ok(next) => now = Some(next),
                Err(_) => return Ok(None),
            }
        }
        let network = &now.as_ref().unwrap_or(&state).network;
        found(network, &judges).map(|findings| Some(keys(&findings)))
    };
    let mut left_out = Vec::new();
    let Some(with_all) = found_without(&left_out)? else {
        return Ok(left_out);
    };
    for place in 0..made.len() {
        left_out.push(place);
        let is_needless = found_without(&left_out)?.is_some_and(|found| found.is_subset(&with_all));
        if !is_needless {
            left_out.pop();
        }
    }
    Ok(left_out)
}
