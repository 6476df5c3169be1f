//! Which arrangement protects each trap, and what to say of a trap that none does.

use std::collections::BTreeMap;

use crownweir_rulebook::{Arrangement, Fact, Message, Part, Protection, Severity, Subject};
use crownweir_vocabulary::Pattern;

use crate::check::{Decision, blank};
use crate::evaluate::{Outcome, condition};
use crate::measure::{Chosen, Gap, Got, Measured};
use crate::report::{Finding, Protected, RuleSummary, Verdict};
use crate::show;
use crate::trace::RulePart;

/// How a trap is arranged.
#[derive(Debug, Clone)]
pub enum Arranged<'a> {
    /// By the arrangement at that place in the rule set's list.
    By(usize, &'a Arrangement),
    /// It cannot be told.
    Open(Vec<Gap>),
    /// By none; the nearest, and the places of the conditions that fail.
    Nearest(Option<(&'a Arrangement, Vec<usize>)>),
}

impl Measured<'_> {
    /// Which arrangement protects each trap, and a finding for each that none does.
    pub(crate) fn protection(&self) -> (Vec<Protected>, Vec<Finding>, Vec<RuleSummary>) {
        let Some(asked) = &self.rules.protection else {
            return (Vec::new(), Vec::new(), Vec::new());
        };
        let mut row = blank(&asked.rule, &asked.title, Severity::Violation);
        let mut count: BTreeMap<usize, usize> = BTreeMap::new();
        let mut findings = Vec::new();
        let gated = (0..)
            .zip(&self.rules.arrangements)
            .filter(|(_, one)| one.needs_approval);
        let mut gated: BTreeMap<usize, (&Arrangement, RuleSummary)> = gated
            .map(|(number, one)| {
                (
                    number,
                    (one, blank(&one.name, &one.title, Severity::NeedsApproval)),
                )
            })
            .collect();
        for fixture in self.elements(Subject::Trap) {
            row.subjects += 1;
            match self.arranged_now(fixture) {
                Arranged::By(arrangement, _) => {
                    row.satisfied += 1;
                    *count.entry(arrangement).or_default() += 1;
                    if let Some((gated, summary)) = gated.get_mut(&arrangement) {
                        summary.subjects += 1;
                        summary.violated += 1;
                        if summary.has_room(Verdict::Violated) {
                            findings.push(self.by_permission(asked, fixture, gated));
                        }
                    }
                }
                Arranged::Open(gaps) => {
                    row.undetermined += 1;
                    if row.has_room(Verdict::Undetermined) {
                        findings.push(self.left_open(asked, fixture, gaps));
                    }
                }
                Arranged::Nearest(nearest) => {
                    row.violated += 1;
                    if row.has_room(Verdict::Violated) {
                        findings.push(self.unprotected(asked, fixture, Verdict::Violated, nearest));
                    }
                }
            }
        }
        let rows = std::iter::once(row).chain(gated.into_values().map(|(_, row)| row));
        let rows = rows.collect();
        (self.protected(count), findings, rows)
    }

    /// How many traps each arrangement protects, by their places in the list.
    pub(crate) fn protected(&self, count: impl IntoIterator<Item = (usize, usize)>) -> Vec<Protected> {
        count
            .into_iter()
            .filter_map(|(arrangement, traps)| {
                let arrangement = self.rules.arrangements.get(arrangement)?;
                Some(Protected {
                    arrangement: arrangement.title.clone(),
                    traps,
                    citation: arrangement.citation.clone(),
                })
            })
            .collect()
    }

    /// How a trap is arranged, once that is settled for all.
    pub(crate) fn arranged_now(&self, fixture: u32) -> Arranged<'_> {
        match self.chosen(fixture) {
            Some(Chosen::By(number)) => {
                let by = self.rules.arrangements.get(number);
                by.map_or(Arranged::Nearest(None), |by| Arranged::By(number, by))
            }
            _ => self.arranged(fixture),
        }
    }

    /// What to say of a trap of which it cannot be told what protects it.
    pub(crate) fn left_open(&self, asked: &Protection, fixture: u32, gaps: Vec<Gap>) -> Finding {
        let mut finding = self.unprotected(asked, fixture, Verdict::Undetermined, None);
        self.leave_open(&mut finding, gaps);
        finding
    }

    /// What to say of a trap that only an arrangement protects which needs the authority's permission.
    pub(crate) fn by_permission(
        &self,
        asked: &Protection,
        fixture: u32,
        arrangement: &Arrangement,
    ) -> Finding {
        let mut finding = self.unprotected(asked, fixture, Verdict::Violated, None);
        finding.rule.clone_from(&arrangement.name);
        finding.title.clone_from(&arrangement.title);
        finding.severity = Severity::NeedsApproval;
        finding.message = format!(
            "protected by {}, which needs the authority's permission",
            arrangement.title
        );
        finding.citation = arrangement.citation.clone();
        finding.changes = self.changes_to(&Part::Arrangement(arrangement.name.clone()));
        finding.advice = None;
        finding
    }

    /// The arrangement that protects the trap of the fixture with that number, or the one that comes nearest with
    /// what keeps it from applying.
    #[must_use]
    pub fn arranged(&self, fixture: u32) -> Arranged<'_> {
        let mut patterns = self.patterns(fixture);
        if self.state.air.supply(self, fixture).is_some() && patterns.is_empty() {
            let open = match self.fact(Subject::Trap, fixture, Fact::ProtectionPattern) {
                Got::Missing(gap) => vec![gap],
                _ => Vec::new(),
            };
            return Arranged::Open(open);
        }
        // Where a rule set lets a trap do without a vent, it may have one all the same.
        patterns.push(Pattern::None);
        let mut nearest: Option<(&Arrangement, Vec<usize>)> = None;
        let mut open: Option<Vec<Gap>> = None;
        let mut by_permission = None;
        for (number, arrangement) in self.rules.arrangements.iter().enumerate() {
            let seen = patterns.contains(&arrangement.pattern);
            // It may not be told whether the trap is seen as part of a combination drain.
            let may_be = match arrangement.pattern {
                Pattern::Combination if !seen => self.open_combination(fixture),
                _ => None,
            };
            if !seen && may_be.is_none() {
                continue;
            }
            self.note(RulePart::Arrangement(number));
            let (failed, mut gaps) = self.failed_and_open(fixture, arrangement);
            if may_be.is_some() && !failed.is_empty() {
                continue;
            }
            gaps.extend(may_be);
            // What the arrangement is not for is no near miss of it.
            let mut unmet = failed
                .iter()
                .filter_map(|&index| arrangement.conditions.get(index));
            if unmet.any(|one| one.defining) {
                continue;
            }
            if failed.is_empty() && gaps.is_empty() {
                if !arrangement.needs_approval {
                    return Arranged::By(number, arrangement);
                }
                by_permission = by_permission.or(Some((number, arrangement)));
                continue;
            }
            if failed.is_empty() {
                gaps.sort_unstable();
                gaps.dedup();
                if open.as_ref().is_none_or(|kept| gaps.len() < kept.len()) {
                    open = Some(gaps);
                }
            } else if nearest
                .as_ref()
                .is_none_or(|(kept, other)| is_nearer((arrangement, &failed), (kept, other)))
            {
                nearest = Some((arrangement, failed));
            }
        }
        match (by_permission, open) {
            (Some((number, arrangement)), _) => Arranged::By(number, arrangement),
            (None, Some(gaps)) => Arranged::Open(gaps),
            (None, None) => Arranged::Nearest(nearest),
        }
    }

    /// The places of an arrangement's conditions that fail for a trap, and what is missing to tell of others.
    fn failed_and_open(&self, fixture: u32, arrangement: &Arrangement) -> (Vec<usize>, Vec<Gap>) {
        let (mut failed, mut gaps) = (Vec::new(), Vec::new());
        for (place, one) in arrangement.conditions.iter().enumerate() {
            match condition(self, Subject::Trap, fixture, &one.require) {
                Outcome::Satisfied => {}
                Outcome::Violated => failed.push(place),
                Outcome::Undetermined(_) => gaps.extend(self.gaps(Subject::Trap, fixture, &one.require)),
            }
        }
        (failed, gaps)
    }

    /// Whether an arrangement of a shape may be what protects a trap of which that cannot be told.
    pub(crate) fn may_be(&self, fixture: u32, pattern: Pattern) -> bool {
        let patterns = self.patterns(fixture);
        let hangs_on_slope = patterns.is_empty() && self.state.air.supply(self, fixture).is_some();
        let is_seen = patterns.contains(&pattern)
            || (pattern == Pattern::Combination && self.open_combination(fixture).is_some());
        let mut arrangements = self.rules.arrangements.iter();
        arrangements.any(|one| {
            let fails = |require| condition(self, Subject::Trap, fixture, require) == Outcome::Violated;
            let mut conditions = one.conditions.iter();
            one.pattern == pattern
                && (hangs_on_slope || (is_seen && !conditions.any(|one| fails(&one.require))))
        })
    }

    /// A finding on the protection of a trap: that no arrangement protects it, and what keeps the nearest from applying.
    /// Where it is to say something else, the caller puts that in place of the message.
    pub(crate) fn unprotected(
        &self,
        asked: &Protection,
        fixture: u32,
        verdict: Verdict,
        nearest: Option<(&Arrangement, Vec<usize>)>,
    ) -> Finding {
        let say = |text: &Message, decision: Option<&Decision<'_>>| {
            show::message(self, Subject::Trap, fixture, text, &[], decision)
        };
        let mut finding = self.bare_finding(Subject::Trap, fixture, verdict, &asked.citation);
        finding.rule.clone_from(&asked.rule);
        finding.title.clone_from(&asked.title);
        finding.message = say(&asked.message, None);
        finding.advice = asked.advice.as_ref().map(|advice| say(advice, None));
        if let (Verdict::Violated, None, Some(_)) = (verdict, &nearest, self.state.air.supply(self, fixture))
            && let Some(pattern) = self.patterns(fixture).first()
        {
            let pattern = pattern.name().replace('_', " ");
            finding.message =
                format!("vented by the shape `{pattern}`, which the rule set admits in no arrangement");
        }
        if let Some((arrangement, failed)) = nearest {
            let (mut reasons, mut to_do) = (Vec::new(), Vec::new());
            for condition in failed
                .iter()
                .filter_map(|&index| arrangement.conditions.get(index))
            {
                let decision = self.decide(Subject::Trap, fixture, &condition.require);
                let told = decision.as_ref();
                reasons.push(say(&condition.message, told));
                to_do.extend(condition.advice.as_ref().map(|advice| say(advice, told)));
                if finding.measured.is_none() {
                    let amended =
                        decision.and_then(|decision| self.amended_cell(Subject::Trap, fixture, &decision));
                    self.figures(&mut finding, decision);
                    finding.citation = amended.unwrap_or_else(|| condition.citation.clone());
                }
            }
            finding.changes = self.changes_to(&Part::Arrangement(arrangement.name.clone()));
            finding.message = format!(
                "not protected; the nearest arrangement is {}, but {}",
                arrangement.title,
                reasons.join("; ")
            );
            // Half of what would make it hold is no advice.
            if to_do.len() == reasons.len() {
                to_do.dedup();
                finding.advice = Some(to_do.join("; "));
            }
        }
        finding
    }
}

/// Whether the conditions that fail keep one arrangement from applying less than another: fewer of them; or as many
/// that do not begin with the first of its list, for the lists begin with what an arrangement is for; or where it
/// needs no permission; or of which the first stands further down the list.
fn is_nearer(one: (&Arrangement, &[usize]), other: (&Arrangement, &[usize])) -> bool {
    let key = |(arrangement, failed): (&Arrangement, &[usize])| {
        let first = failed.first().copied();
        (
            failed.len(),
            first == Some(0),
            arrangement.needs_approval,
            std::cmp::Reverse(first),
        )
    };
    key(one) < key(other)
}
