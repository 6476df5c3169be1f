//! What would be found by other rules, and with another content of a cell.
//!
//! What is measured by a rule set does not hang on its rules, nor on the tables that only these look into: as long as
//! nothing else differs, what was measured stands, and rules that differ are judged on it.

use std::sync::Arc;

use crownweir_network::Network;
use crownweir_rulebook::{CellError, Content, RuleSet};

use crate::check::check;
use crate::measure::{Measured, UnknownSizes};
use crate::report::Finding;
use crate::session::{Difference, Refused, Session, Stage, difference};

/// A rule set that stands in for a session's own, with whether both measure a network alike. The two are compared once;
/// then it serves every session that shares the own one.
#[derive(Debug, Clone)]
pub struct Substitute<'r> {
    rules: &'r RuleSet,
    own: Arc<RuleSet>,
    alike: bool,
}

impl<'r> Substitute<'r> {
    /// `rules` in the place of `own`.
    #[must_use]
    pub fn new(own: &Arc<RuleSet>, rules: &'r RuleSet) -> Self {
        Self {
            rules,
            own: Arc::clone(own),
            alike: own.measures_alike(rules),
        }
    }

    /// The rule set that stands in.
    #[must_use]
    pub fn rules(&self) -> &'r RuleSet {
        self.rules
    }

    /// Whether by both the same is measured.
    #[must_use]
    pub fn is_alike(&self) -> bool {
        self.alike
    }
}

impl Session {
    /// Lends what was measured by the session's own rule set.
    pub fn measured<R>(&mut self, ask: impl FnOnce(&Measured<'_>) -> R) -> R {
        self.stage.lend(&self.network, &self.rules, ask)
    }

    /// Lends what is measured by another rule set: what is there already, where by both the same is measured; else it is
    /// measured anew.
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
    /// use std::sync::Arc;
    /// use crownweir_evaluate::{Judgement, Session, Substitute};
    ///
    /// let rules = Arc::new(rules);
    /// let mut session = Session::new(network, Arc::clone(&rules))?;
    /// // A rule set of one rule only measures as the whole does.
    /// let mut one = (*rules).clone();
    /// one.unchecked().rules.retain(|rule| rule.name == "trap-arm-length");
    /// let substitute = Substitute::new(&rules, &one);
    /// let judged = session.what_if(&substitute, |measured| {
    ///     let arms = measured.elements(crownweir_rulebook::Subject::TrapArm);
    ///     arms.iter().map(|&arm| measured.judgement(&one.rules[0], arm)).collect::<Vec<_>>()
    /// })?;
    /// assert_eq!(judged, [Judgement::Satisfied]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// The sizes that the network uses and the other rule set does not know.
    pub fn what_if<R>(
        &mut self,
        substitute: &Substitute<'_>,
        ask: impl FnOnce(&Measured<'_>) -> R,
    ) -> Result<R, UnknownSizes> {
        let Substitute { rules, own, alike } = substitute;
        let alike = if Arc::ptr_eq(own, &self.rules) {
            *alike
        } else {
            self.rules.measures_alike(rules)
        };
        if alike {
            Ok(self.stage.lend(&self.network, rules, ask))
        } else {
            Measured::new(&self.network, rules).map(|measured| ask(&measured))
        }
    }

    /// How the findings would differ by another rule set, such as this one with an amendment. Where by both the same is
    /// measured and the session is ready to follow edits, only the rules that differ are judged; else all are.
    ///
    /// # Errors
    /// The sizes that the network uses and the other rule set does not know.
    pub fn would_differ(&mut self, rules: &RuleSet) -> Result<Difference, UnknownSizes> {
        let before = self.findings();
        let now = if self.rules.measures_alike(rules) {
            let own = rules.rules_alike(&self.rules);
            self.stage.findings_by(&self.network, rules, &own)
        } else {
            check(&self.network, rules)?.findings
        };
        Ok(difference(before, &now))
    }

    /// Puts other content in a cell of the rule set's tables, by the numbers of table, row and column, and tells how the
    /// findings differ. Only what has read the cell is judged again, where the session is ready to follow edits.
    ///
    /// # Errors
    /// There is no such cell, or its column holds nothing of that kind ([`RuleSet::could_hold`]); all is then as it was.
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
    /// let shorter = Content::Value(Value::Length("3 ft".parse()?));
    /// let before = session.findings();
    /// let difference = session.would_differ_by_cell(cell, shorter)?;
    /// assert_eq!(difference.added.len(), 1);
    /// assert_eq!(session.findings(), before);
    /// // And so it shall be.
    /// assert_eq!(session.set_cell(cell, shorter), Ok(difference));
    /// assert_eq!(session.findings().len(), before.len() + 1);
    /// // A load is no length.
    /// assert!(session.set_cell(cell, Content::Value(Value::Load("3 dfu".parse()?))).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn set_cell(&mut self, cell: (usize, usize, usize), content: Content) -> Result<Difference, Refused> {
        self.rules.could_hold(cell, content)?;
        if let Stage::Followed(kept) = &mut self.stage {
            let (state, engine) = &mut **kept;
            state.lent(&self.network, &self.rules, |measured| engine.note_cells(measured));
            self.put(cell, content)?;
            if self.follow_cell(cell)
                && let Some(told) = self.followed()
            {
                return Ok(told);
            }
            let stage = self.stage.anew(&self.network, &self.rules)?;
            return Ok(self.renew(stage));
        }
        let before = self.findings();
        let is_measured_by = self.rules.measuring_tables().contains(&cell.0);
        self.put(cell, content)?;
        match &mut self.stage {
            Stage::Measured(plain) if !is_measured_by => plain.report = None,
            // The sizes are those that the rule set knew before.
            stage => *stage = Stage::measured(&self.network, &self.rules)?,
        }
        Ok(difference(before, &self.findings()))
    }

    /// How the findings would differ by other content of a cell. The whole is judged by the rules that look into the cell's
    /// table, or where only few elements have read the cell and the session follows cells already
    /// ([`set_cell`](Self::set_cell)), these are judged there and back. Of a table that measuring looks into, such as that
    /// of the loads, all is measured and judged.
    ///
    /// # Errors
    /// There is no such cell, or its column holds nothing of that kind ([`RuleSet::could_hold`]).
    pub fn would_differ_by_cell(
        &mut self,
        cell: (usize, usize, usize),
        content: Content,
    ) -> Result<Difference, Refused> {
        self.rules.could_hold(cell, content)?;
        let is_measured_by = self.rules.measuring_tables().contains(&cell.0);
        if !is_measured_by && self.few_read(cell) {
            let own_content = self.put(cell, content)?;
            if self.follow_cell(cell) {
                let told = self.followed();
                self.put(cell, own_content)?;
                if self.follow_cell(cell)
                    && let Some(told) = told
                {
                    // There and back, all is as it was.
                    self.followed();
                    return Ok(told);
                }
            }
            self.put(cell, own_content)?;
            self.stage = self.stage.anew(&self.network, &self.rules)?;
        }
        let before = self.findings();
        let rules = self.rules.rules.iter().enumerate();
        let looks = rules.map(|(place, rule)| (!rule.tables().contains(&cell.0)).then_some(place));
        let own: Vec<Option<usize>> = looks.collect();
        let own_content = self.put(cell, content)?;
        let now = if is_measured_by {
            check(&self.network, &self.rules).map(|report| report.findings)
        } else {
            Ok(self.stage.findings_by(&self.network, &self.rules, &own))
        };
        self.put(cell, own_content)?;
        Ok(difference(before, &now?))
    }

    /// Puts content in a cell of the rule set, and judges nothing; what stood there comes back.
    fn put(&mut self, cell: (usize, usize, usize), content: Content) -> Result<Content, CellError> {
        Arc::make_mut(&mut self.rules).set_cell(cell, content)
    }

    /// Follows a cell whose content is another; false where the session is not ready, or that cannot be done.
    fn follow_cell(&mut self, cell: (usize, usize, usize)) -> bool {
        self.is_ready_and(|engine, measured| engine.follow_cell(measured, cell))
    }

    fn few_read(&mut self, cell: (usize, usize, usize)) -> bool {
        self.is_ready_and(|engine, measured| engine.few_read(measured, cell))
    }
}

impl Stage {
    /// Lends what was measured to be judged by a rule set by which the same is measured.
    fn lend<R>(&mut self, network: &Network, rules: &RuleSet, ask: impl FnOnce(&Measured<'_>) -> R) -> R {
        match self {
            Self::Measured(plain) => plain.state.lent(network, rules, |measured| ask(measured)),
            Self::Followed(kept) => {
                let (state, engine) = &mut **kept;
                let told = state.lent(network, rules, |measured| ask(measured));
                engine.forget(state);
                told
            }
        }
    }

    /// The findings by other rules, by which the same is measured; `own` tells of each the place of the one so far that
    /// is the same.
    fn findings_by(&mut self, network: &Network, rules: &RuleSet, own: &[Option<usize>]) -> Vec<Finding> {
        match self {
            Self::Measured(_) => self.lend(network, rules, |measured| measured.check().findings),
            Self::Followed(kept) => {
                let (state, engine) = &mut **kept;
                let found = state.lent(network, rules, |measured| engine.kept.findings_by(measured, own));
                engine.forget(state);
                found
            }
        }
    }
}
