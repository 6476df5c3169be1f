//! A network and its findings, kept together while it is edited.
//!
//! What a session tells is what a check of its network by its rules tells, to the last letter.

mod engine;
mod kept;
mod what_if;

use std::cmp::Ordering;
use std::sync::Arc;

use crownweir_network::{Edit, EditError, Edited, Network, NodeProperty, PipeProperty};
use crownweir_quantity::NominalSize;
use crownweir_rulebook::{CellError, RuleSet};

use crate::measure::{Measured, State, UnknownSize, UnknownSizes, size_at};
use crate::report::{Finding, Report};
use engine::{Engine, FEW};
pub use what_if::Substitute;

/// A network with the findings of a check, which follow each edit.
///
/// A new session only measures its network; what each rule comes to is told when it is first asked for, and nothing is
/// made [ready](Self::make_ready) to follow edits before there are any. From then on an edit costs what depends on it:
/// of a property, and of pipes and nodes that come and go on branches, where the network is
/// [edited in place](Network::is_edited_in_place). Where much of a large network depends on it, where a stack, a
/// building drain or a vent stack takes another course, and where another rule set measures otherwise, the whole is
/// checked, a few times over before it is made ready to follow edits again, which takes several times as long.
///
/// What would be found by another rule set, by another content of a cell, or with an amendment, is told by
/// [`would_differ`](Self::would_differ), [`would_differ_by_cell`](Self::would_differ_by_cell) and
/// [`what_if`](Self::what_if); the session stays as it is. What would be found after other edits is told by a clone, which is
/// as ready as the session is and copies all that it holds.
///
/// ```
/// # let file = "
/// # crownweir: network/1
/// # name: house
/// # site: {occupancy: private}
/// # drains:
/// #   - slope: 1/4 in/ft
/// #     path:
/// #       - fixture: {name: L1, type: lavatory, trap: {size: 1-1/4 in}}
/// #       - pipe: {name: arm, size: 1-1/4 in, length: 3 ft}
/// #       - fitting: {name: T1, pattern: sanitary_tee}
/// #       - pipe: {name: drain, size: 1-1/4 in, length: 2 ft}
/// #       - disposal: {name: sewer}
/// # vents:
/// #   - {size: 1-1/4 in, slope: vertical, path: [{at: T1}, {pipe: {length: 12 ft}}, {terminal: {name: roof}}]}
/// # ";
/// # let text = crownweir_rulebook::published::text("ipc-2021").unwrap_or_default();
/// # let rules = crownweir_rulebook::RuleSet::read("ipc-2021", text.as_bytes(), &Default::default())?;
/// use crownweir_evaluate::Session;
/// use crownweir_network::{Edit, Network, PipeProperty};
///
/// let network = Network::read("house.yaml", file.as_bytes(), &Default::default())?;
/// let mut session = Session::new(network, rules)?;
/// let length = |length: &str| Edit::Pipe {
///     pipe: "arm".to_owned(),
///     set: PipeProperty::Length(length.parse().ok()),
/// };
/// let difference = session.edit(&[length("6 ft")])?;
/// assert!(difference.added.iter().any(|finding| finding.rule == "trap-arm-length"));
/// let difference = session.edit(&[length("3 ft")])?;
/// assert!(difference.removed.iter().any(|finding| finding.rule == "trap-arm-length"));
/// // What would be no network is refused, and changes nothing.
/// assert!(session.edit(&[Edit::RemovePipe("drain".to_owned())]).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Session {
    network: Arc<Network>,
    rules: Arc<RuleSet>,
    stage: Stage,
}

/// How far a session has come.
#[derive(Debug, Clone)]
enum Stage {
    /// Ready to follow edits: all that was measured, and what each rule came to, element by element.
    Followed(Box<(State, Engine)>),
    /// Measured, and judged once findings are asked for.
    Measured(Box<Plain>),
}

/// What is kept of a network whose edits are not followed.
#[derive(Debug, Clone)]
struct Plain {
    state: State,
    report: Option<Report>,
    /// How often the whole has been checked for an edit.
    checks: u32,
}

/// As many checks take about as long as it takes to be ready to follow edits: so often is a large network checked as a whole
/// first, for some are edited once or twice only, and an edit that alters much is often made again, as where something is
/// dragged.
const CHECKS: u32 = 3;

impl Stage {
    /// Measured, and no more.
    fn measured(network: &Network, rules: &RuleSet) -> Result<Self, UnknownSizes> {
        Ok(Self::Measured(Box::new(Plain {
            state: Measured::new(network, rules)?.into_state(),
            report: None,
            checks: 0,
        })))
    }

    /// Ready to follow edits, where they can be followed.
    fn ready(network: &Network, rules: &RuleSet) -> Result<Self, UnknownSizes> {
        let mut measured = Measured::new(network, rules)?;
        let engine = Engine::of(&mut measured);
        if engine.is_lost() {
            return Self::measured(network, rules);
        }
        Ok(Self::Followed(Box::new((measured.into_state(), engine))))
    }

    /// What takes the place of this after an edit that could not be followed.
    fn anew(&self, network: &Network, rules: &RuleSet) -> Result<Self, UnknownSizes> {
        let checks = match self {
            Self::Followed(_) => 0,
            Self::Measured(plain) => plain.checks,
        };
        if is_small(network) || checks >= CHECKS {
            return Self::ready(network, rules);
        }
        let mut anew = Self::measured(network, rules)?;
        if let Self::Measured(plain) = &mut anew {
            plain.checks = checks + 1;
        }
        Ok(anew)
    }

    /// The findings, in the order of reports.
    fn findings(&mut self, network: &Network, rules: &RuleSet) -> Vec<Finding> {
        match self {
            Self::Followed(kept) => kept.1.kept.findings(),
            Self::Measured(plain) => plain.report(network, rules).findings.clone(),
        }
    }

    /// The findings that there were when it was last asked how they differ: by the last edit, where it could not be
    /// followed to the end.
    fn before(&mut self) -> Vec<Finding> {
        match self {
            Self::Followed(kept) => kept.1.kept.before(),
            Self::Measured(plain) => plain
                .report
                .take()
                .map(|report| report.findings)
                .unwrap_or_default(),
        }
    }
}

impl Plain {
    fn report(&mut self, network: &Network, rules: &RuleSet) -> &Report {
        let Self { state, report, .. } = self;
        report.get_or_insert_with(|| state.lent(network, rules, |measured| measured.check()))
    }
}

/// Whether neither an edit nor a check takes long.
fn is_small(network: &Network) -> bool {
    network.graph().node_count() < FEW
}

/// How the findings differ after an edit.
#[derive(Debug, Clone, Default, PartialEq)]
#[non_exhaustive]
pub struct Difference {
    /// Findings that there are no more, in the order in which they were reported.
    pub removed: Vec<Finding>,
    /// Findings that there were not, in the order in which they are reported.
    pub added: Vec<Finding>,
}

/// Why an edit is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Refused {
    /// An edit cannot be made, or the network would be none.
    #[error(transparent)]
    Network(#[from] EditError),
    /// The rule set does not know a size.
    #[error(transparent)]
    Sizes(#[from] UnknownSizes),
    /// The content cannot stand in the cell.
    #[error(transparent)]
    Cell(#[from] CellError),
}

impl Session {
    /// Measures `network` by `rules`, and keeps both. It is checked when its findings are first asked for.
    ///
    /// # Errors
    /// The sizes that the network uses and the rule set does not know.
    pub fn new(
        network: impl Into<Arc<Network>>,
        rules: impl Into<Arc<RuleSet>>,
    ) -> Result<Self, UnknownSizes> {
        let (network, rules) = (network.into(), rules.into());
        let stage = Stage::measured(&network, &rules)?;
        Ok(Self {
            network,
            rules,
            stage,
        })
    }

    /// Makes the session ready to follow edits, unless it is; false where this network's edits cannot be followed, and the
    /// whole is checked for each.
    ///
    /// It takes a few checks. Of a small network that is too little to be noticed, and its first edit does it. Of a large
    /// one (20 000 nodes) the first edits are answered by a check each: an editor calls this while nobody waits.
    pub fn make_ready(&mut self) -> bool {
        let Stage::Measured(plain) = &mut self.stage else {
            return true;
        };
        let engine = plain.state.lent(&self.network, &self.rules, |measured| {
            measured.can_follow().then(|| Engine::of(measured))
        });
        let Some(engine) = engine else {
            return false;
        };
        if engine.is_lost() {
            // What was noted is of no use.
            if let Ok(Stage::Measured(anew)) = Stage::measured(&self.network, &self.rules) {
                plain.state = anew.state;
            }
            return false;
        }
        let state = std::mem::take(&mut plain.state);
        self.stage = Stage::Followed(Box::new((state, engine)));
        true
    }

    /// Whether the session is ready to follow edits. Of a large network it no longer is after an edit that could not be
    /// followed, which checked the whole.
    #[must_use]
    pub fn is_ready(&self) -> bool {
        matches!(self.stage, Stage::Followed(_))
    }

    /// The network as it stands.
    #[must_use]
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// The rule set by which it is checked.
    #[must_use]
    pub fn rules(&self) -> &RuleSet {
        &self.rules
    }

    /// What a check tells.
    #[must_use]
    pub fn report(&mut self) -> Report {
        match &mut self.stage {
            Stage::Measured(plain) => plain.report(&self.network, &self.rules).clone(),
            Stage::Followed(kept) => {
                let (state, engine) = &mut **kept;
                state.lent(&self.network, &self.rules, |measured| {
                    engine.kept.report(measured)
                })
            }
        }
    }

    /// The findings, in the order of reports.
    #[must_use]
    pub fn findings(&mut self) -> Vec<Finding> {
        self.stage.findings(&self.network, &self.rules)
    }

    /// Makes some edits, all of them or none, and tells how the findings differ.
    ///
    /// # Errors
    /// Which edits cannot be made, what would be wrong with the network, or sizes that the rule set does not know; all is
    /// then as it was.
    pub fn edit(&mut self, edits: &[Edit]) -> Result<Difference, Refused> {
        self.sizes_are_known(edits)?;
        if is_small(&self.network) && self.network.is_edited_in_place(edits) {
            self.make_ready();
        }
        if let Stage::Measured(plain) = &mut self.stage {
            plain.report(&self.network, &self.rules);
        }
        let edited = Arc::make_mut(&mut self.network).edit(edits)?;
        Ok(self.after(&edited)?)
    }

    /// Takes back the edits of the last [`edit`](Self::edit) that has not been taken back, and tells how the findings differ;
    /// none where there is no more to be taken back: the last hundred can be ([`Network::undo`]). The network is as it was
    /// before; the rule set stays
    /// what it is now.
    ///
    /// # Errors
    /// The sizes that the network used then and the rule set does not know; all is then as it was.
    ///
    /// ```
    /// # let file = "
    /// # crownweir: network/1
    /// # name: house
    /// # drains:
    /// #   - {slope: 1/4 in/ft, path: [{fitting: {name: a}}, {pipe: {name: p, size: 2 in}}, {disposal: {name: z}}]}
    /// # ";
    /// # let text = crownweir_rulebook::published::text("ipc-2021").unwrap_or_default();
    /// # let rules = crownweir_rulebook::RuleSet::read("ipc-2021", text.as_bytes(), &Default::default())?;
    /// use crownweir_evaluate::Session;
    /// use crownweir_network::{Edit, Network, PipeProperty};
    ///
    /// let network = Network::read("house.yaml", file.as_bytes(), &Default::default())?;
    /// let mut session = Session::new(network, rules)?;
    /// let before = session.report();
    /// session.edit(&[Edit::Pipe { pipe: "p".to_owned(), set: PipeProperty::Size("3 in".parse().ok()) }])?;
    /// assert!(session.undo()?.is_some());
    /// assert_eq!(session.report(), before);
    /// assert!(session.undo()?.is_none());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn undo(&mut self) -> Result<Option<Difference>, UnknownSizes> {
        let mut network = Network::clone(&self.network);
        let Some(edited) = network.undo() else {
            return Ok(None);
        };
        State::of_elements(&network, &self.rules)?;
        if let Stage::Measured(plain) = &mut self.stage {
            plain.report(&self.network, &self.rules);
        }
        self.network = Arc::new(network);
        Ok(Some(self.after(&edited)?))
    }

    /// How the findings differ after edits of the network.
    fn after(&mut self, edited: &Edited) -> Result<Difference, UnknownSizes> {
        if !edited.anew
            && self.is_ready_and(|engine, measured| engine.follow(measured, edited))
            && let Some(difference) = self.followed()
        {
            return Ok(difference);
        }
        let stage = self.stage.anew(&self.network, &self.rules)?;
        Ok(self.renew(stage))
    }

    /// Checks by another rule set from now on, and tells how the findings differ. Where by both the same is measured
    /// ([`RuleSet::measures_alike`]), only the rules that differ are judged, each on all elements that it speaks of.
    ///
    /// # Errors
    /// The sizes that the network uses and the rule set does not know; all is then as it was.
    pub fn set_rules(&mut self, rules: impl Into<Arc<RuleSet>>) -> Result<Difference, UnknownSizes> {
        let rules = rules.into();
        let before = self.findings();
        if self.rules.measures_alike(&rules) {
            let own = rules.rules_alike(&self.rules);
            self.rules = rules;
            self.judge_anew(&own)?;
        } else {
            self.stage = match &self.stage {
                Stage::Followed(_) => self.stage.anew(&self.network, &rules)?,
                Stage::Measured(_) => Stage::measured(&self.network, &rules)?,
            };
            self.rules = rules;
        }
        Ok(difference(before, &self.findings()))
    }

    /// Judges by other rules, by which the same is measured; `own` tells of each the place of the one so far that is the
    /// same.
    fn judge_anew(&mut self, own: &[Option<usize>]) -> Result<(), UnknownSizes> {
        match &mut self.stage {
            Stage::Measured(plain) => plain.report = None,
            Stage::Followed(kept) => {
                let (state, engine) = &mut **kept;
                let followed = state.lent(&self.network, &self.rules, |measured| {
                    engine.follow_rules(measured, own)
                });
                if !followed {
                    self.stage = self.stage.anew(&self.network, &self.rules)?;
                }
            }
        }
        Ok(())
    }

    /// Puts what was measured and judged anew in the place of what was.
    fn renew(&mut self, stage: Stage) -> Difference {
        let before = std::mem::replace(&mut self.stage, stage).before();
        difference(before, &self.findings())
    }

    /// Has the engine do something with what was measured; false where the session is not ready to follow edits.
    fn is_ready_and(&mut self, follow: impl FnOnce(&mut Engine, &mut Measured<'_>) -> bool) -> bool {
        let Stage::Followed(kept) = &mut self.stage else {
            return false;
        };
        let (state, engine) = &mut **kept;
        state.lent(&self.network, &self.rules, |measured| follow(engine, measured))
    }

    /// How the findings differ after what has been followed.
    fn followed(&mut self) -> Option<Difference> {
        match &mut self.stage {
            Stage::Followed(kept) => Some(kept.1.kept.difference()),
            Stage::Measured(_) => None,
        }
    }

    /// Looks up each size that edits state before anything is edited.
    fn sizes_are_known(&self, edits: &[Edit]) -> Result<(), UnknownSizes> {
        let unknown = edits.iter().enumerate().filter_map(|(index, edit)| {
            let (size, name) = match edit {
                Edit::Pipe {
                    pipe,
                    set: PipeProperty::Size(size),
                } => ((*size)?, pipe.as_str()),
                Edit::Node {
                    node,
                    set: NodeProperty::Stands(kind),
                } => (size_at(kind)?, node.as_str()),
                Edit::AddNode(node) => (size_at(&node.kind)?, &*node.name),
                Edit::AddPipe { pipe, .. } => (pipe.size?, &*pipe.name),
                _ => return None,
            };
            self.is_unknown(size).then(|| UnknownSize {
                size,
                element: name.to_owned(),
                rules: self.rules.name.clone(),
                file: self.network.file().to_owned(),
                line: 0,
                column: 0,
                edit: Some(index + 1),
            })
        });
        let unknown: Vec<UnknownSize> = unknown.collect();
        if unknown.is_empty() {
            Ok(())
        } else {
            Err(UnknownSizes(unknown))
        }
    }

    fn is_unknown(&self, size: NominalSize) -> bool {
        self.rules.ladder.find(size).is_none()
    }
}

/// How one list of findings differs from another, both in the order of reports. Numbers of elements may have changed.
fn difference(before: Vec<Finding>, now: &[Finding]) -> Difference {
    let mut differ = Difference::default();
    let mut now = now.iter().peekable();
    for finding in before {
        // What comes before it in order is new.
        while let Some(next) = now.next_if(|next| next.cmp_in_report(&finding) == Ordering::Less) {
            differ.added.push(next.clone());
        }
        if now.next_if(|next| next.says_the_same(&finding)).is_none() {
            differ.removed.push(finding);
        }
    }
    differ.added.extend(now.cloned());
    differ
}
