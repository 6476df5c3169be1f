//! A network and its findings, kept together while it is edited.
//!
//! What a session tells is what a check of its network by its rules tells, to the last letter.

mod engine;
mod kept;

use std::cmp::Ordering;

use crownweir_network::{Diagnostics, Edit, Network, Node, NodeProperty, Pipe, PipeProperty, Position};
use crownweir_quantity::NominalSize;
use crownweir_rulebook::{Content, RuleSet};

use crate::check::check;
use crate::measure::{Measured, State, UnknownSize, UnknownSizes, size_at};
use crate::report::{Finding, Report};
use engine::{Engine, FEW};

/// A network with the findings of a check, which follow each edit.
///
/// An edit of a property costs what depends on it. Where that is much of a large network, where pipes or nodes come and
/// go, and where the rule set is another, the whole is checked, a few times over before it is made ready to follow
/// edits again, which takes several times as long.
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
#[derive(Debug)]
pub struct Session {
    network: Network,
    rules: RuleSet,
    kept: Kept,
}

/// What is kept of a network by its rules.
#[derive(Debug)]
enum Kept {
    /// All that was measured, and what each rule came to, to be followed element by element.
    Followed(Box<(State, Engine)>),
    /// What a check told, and how often the whole has been checked since edits were followed.
    Checked(Box<Report>, u32),
}

/// As many checks take about as long as it takes to have edits followed again: so often is a large network checked as a
/// whole first, for an edit that alters much is often made again, as where something is dragged.
const CHECKS: u32 = 3;

impl Kept {
    /// Ready to follow edits, where they can be followed.
    fn of(network: &Network, rules: &RuleSet) -> Result<Self, UnknownSizes> {
        let mut measured = Measured::new(network, rules)?;
        let engine = Engine::of(&mut measured);
        Ok(if engine.is_lost() {
            Self::Checked(Box::new(Measured::new(network, rules)?.check()), 0)
        } else {
            Self::Followed(Box::new((measured.into_state(), engine)))
        })
    }

    /// What takes the place of these after an edit that could not be followed.
    fn anew(&self, network: &Network, rules: &RuleSet) -> Result<Self, UnknownSizes> {
        let checks = match self {
            Self::Followed(_) => 0,
            Self::Checked(_, checks) => *checks,
        };
        if network.graph().node_count() < FEW || checks >= CHECKS {
            return Self::of(network, rules);
        }
        let report = check(network, rules)?;
        Ok(Self::Checked(Box::new(report), checks + 1))
    }
}

/// How the findings differ after an edit.
#[derive(Debug, Clone, Default, PartialEq)]
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
    /// The network would be none.
    #[error(transparent)]
    Network(#[from] Diagnostics),
    /// The rule set does not know a size.
    #[error(transparent)]
    Sizes(#[from] UnknownSizes),
}

impl Session {
    /// Checks `network` by `rules`, and keeps both.
    ///
    /// # Errors
    /// The sizes that the network uses and the rule set does not know.
    pub fn new(network: Network, rules: RuleSet) -> Result<Self, UnknownSizes> {
        let kept = Kept::of(&network, &rules)?;
        Ok(Self { network, rules, kept })
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
        match &mut self.kept {
            Kept::Checked(report, _) => (**report).clone(),
            Kept::Followed(kept) => {
                let (state, engine) = &mut **kept;
                state.lent(&self.network, &self.rules, |measured| {
                    engine.kept.report(measured)
                })
            }
        }
    }

    /// Makes some edits, all of them or none, and tells how the findings differ.
    ///
    /// # Errors
    /// What would be wrong with the network; all is then as it was.
    pub fn edit(&mut self, edits: &[Edit]) -> Result<Difference, Refused> {
        self.sizes_are_known(edits)?;
        let edited = self.network.edit(edits)?;
        if let Kept::Followed(kept) = &mut self.kept
            && !edited.anew
        {
            let (state, engine) = &mut **kept;
            let followed = state.lent(&self.network, &self.rules, |measured| {
                engine.follow(measured, &edited)
            });
            if followed {
                return Ok(engine.kept.difference());
            }
        }
        let kept = self.kept.anew(&self.network, &self.rules)?;
        Ok(self.renew(kept))
    }

    /// Checks by another rule set from now on, and tells how the findings differ.
    ///
    /// # Errors
    /// The sizes that the network uses and the rule set does not know; all is then as it was.
    pub fn set_rules(&mut self, rules: RuleSet) -> Result<Difference, UnknownSizes> {
        let kept = self.kept.anew(&self.network, &rules)?;
        self.rules = rules;
        Ok(self.renew(kept))
    }

    /// Puts other content in a cell of the rule set's tables, by the numbers of table, row and column, and tells how the
    /// findings differ; none where there is no such cell. Only what has read the cell is judged again.
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
    /// #       - pipe: {name: arm, size: 1-1/4 in, length: 4 ft}
    /// #       - fitting: {name: T1, pattern: sanitary_tee}
    /// #       - pipe: {name: drain, size: 1-1/4 in, length: 2 ft}
    /// #       - disposal: {name: sewer}
    /// # vents:
    /// #   - {size: 1-1/4 in, slope: vertical, path: [{at: T1}, {pipe: {length: 12 ft}}, {terminal: {name: roof}}]}
    /// # ";
    /// # let text = crownweir_rulebook::published::text("ipc-2021").unwrap_or_default();
    /// # let rules = crownweir_rulebook::RuleSet::read("ipc-2021", text.as_bytes(), &Default::default())?;
    /// # let network = crownweir_network::Network::read("house.yaml", file.as_bytes(), &Default::default())?;
    /// # let mut session = crownweir_evaluate::Session::new(network, rules)?;
    /// use crownweir_rulebook::{Content, Value};
    ///
    /// // What if a trap arm of that size could be 3 ft long at the most?
    /// let arms = session.rules().tables.iter().position(|table| table.name == "trap-arms");
    /// let cell = (arms.ok_or("no such table")?, 0, 0);
    /// let before = session.rules().tables[cell.0].rows[cell.1].cells[cell.2].content;
    /// let shorter = Content::Value(Value::Length("3 ft".parse()?));
    /// let difference = session.set_cell(cell, shorter).ok_or("no such cell")?;
    /// assert_eq!(difference.added.len(), 1);
    /// session.set_cell(cell, before);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn set_cell(&mut self, cell: (usize, usize, usize), content: Content) -> Option<Difference> {
        let (table, row, column) = cell;
        let slot = |rules: &mut RuleSet, content| {
            let row = rules.tables.get_mut(table)?.rows.get_mut(row)?;
            let slot = &mut row.cells.get_mut(column)?.content;
            Some(std::mem::replace(slot, content))
        };
        if let Kept::Followed(kept) = &mut self.kept {
            let (state, engine) = &mut **kept;
            state.lent(&self.network, &self.rules, |measured| engine.note_cells(measured));
        }
        slot(&mut self.rules, content)?;
        if let Kept::Followed(kept) = &mut self.kept {
            let (state, engine) = &mut **kept;
            let followed = state.lent(&self.network, &self.rules, |measured| {
                engine.follow_cell(measured, cell)
            });
            if followed {
                return Some(engine.kept.difference());
            }
        }
        // The sizes are those that the rule set knew before.
        let kept = self.kept.anew(&self.network, &self.rules).ok()?;
        Some(self.renew(kept))
    }

    /// How the findings would differ by another rule set, such as this one with an amendment.
    ///
    /// # Errors
    /// The sizes that the network uses and the other rule set does not know.
    pub fn would_differ(&self, rules: &RuleSet) -> Result<Difference, UnknownSizes> {
        // The whole is checked, and what is kept stays as it is. To follow what differs and be followed back takes less
        // only where few elements read it: of cells that many trap arms are held to it takes about as long, of loads
        // several times as long; and most amendments alter rules, by which every element of a kind is judged.
        let report = check(&self.network, rules)?;
        Ok(difference(self.findings(), &report.findings))
    }

    /// The findings, in the order of reports.
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        match &self.kept {
            Kept::Followed(kept) => kept.1.kept.findings(),
            Kept::Checked(report, _) => report.findings.clone(),
        }
    }

    /// Puts what is kept in the place of what was.
    fn renew(&mut self, kept: Kept) -> Difference {
        let before = match std::mem::replace(&mut self.kept, kept) {
            Kept::Followed(mut before) => before.1.kept.before(),
            Kept::Checked(before, _) => before.findings,
        };
        match &self.kept {
            Kept::Followed(kept) => difference(before, &kept.1.kept.findings()),
            Kept::Checked(report, _) => difference(before, &report.findings),
        }
    }

    /// Looks up each size that edits state before anything is edited.
    fn sizes_are_known(&self, edits: &[Edit]) -> Result<(), UnknownSizes> {
        let unknown = edits.iter().filter_map(|edit| {
            let (size, name, position) = match edit {
                Edit::Pipe {
                    pipe,
                    set: PipeProperty::Size(size),
                } => ((*size)?, pipe.as_str(), Position::default()),
                Edit::Node {
                    node,
                    set: NodeProperty::Stands(kind),
                } => (size_at(kind)?, node.as_str(), Position::default()),
                Edit::AddNode(Node {
                    name, kind, position, ..
                }) => (size_at(kind)?, &**name, *position),
                Edit::AddPipe { pipe, .. } => {
                    let Pipe {
                        name, size, position, ..
                    } = &**pipe;
                    ((*size)?, &**name, *position)
                }
                _ => return None,
            };
            self.is_unknown(size).then(|| UnknownSize {
                size,
                element: name.to_owned(),
                rules: self.rules.name.clone(),
                file: self.network.file().to_owned(),
                line: position.line,
                column: position.column,
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
