//! A network and its findings, kept together while it is edited.
//!
//! What a session tells is what a check of its network by its rules tells, to the last letter.

use std::cmp::Ordering;

use crownweir_network::{Diagnostics, Edit, Network, Node, NodeProperty, Pipe, PipeProperty, Position};
use crownweir_quantity::NominalSize;
use crownweir_rulebook::RuleSet;

use crate::measure::{Measured, UnknownSize, UnknownSizes, size_at};
use crate::report::{Finding, Report};

/// A network with the findings of a check, which follow each edit.
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
    report: Report,
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
        let report = Measured::new(&network, &rules)?.check();
        Ok(Self {
            network,
            rules,
            report,
        })
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
    pub fn report(&self) -> Report {
        self.report.clone()
    }

    /// Makes some edits, all of them or none, and tells how the findings differ.
    ///
    /// # Errors
    /// What would be wrong with the network; all is then as it was.
    pub fn edit(&mut self, edits: &[Edit]) -> Result<Difference, Refused> {
        self.sizes_are_known(edits)?;
        self.network.edit(edits)?;
        Ok(self.check_anew()?)
    }

    /// Checks by another rule set from now on, and tells how the findings differ.
    ///
    /// # Errors
    /// The sizes that the network uses and the rule set does not know; all is then as it was.
    pub fn set_rules(&mut self, rules: RuleSet) -> Result<Difference, UnknownSizes> {
        let report = Measured::new(&self.network, &rules)?.check();
        self.rules = rules;
        Ok(self.replace(report))
    }

    fn check_anew(&mut self) -> Result<Difference, UnknownSizes> {
        let report = Measured::new(&self.network, &self.rules)?.check();
        Ok(self.replace(report))
    }

    fn replace(&mut self, report: Report) -> Difference {
        let before = std::mem::replace(&mut self.report, report);
        difference(before.findings, &self.report.findings)
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
