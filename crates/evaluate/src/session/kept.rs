//! What each rule came to on each element, and the findings that are told of it, kept while elements are judged anew.

use std::collections::{BTreeMap, BTreeSet};

use crownweir_rulebook::{Severity, Subject};

use crate::check::{Hit, SWEEPS, blank};
use crate::measure::Measured;
use crate::protection::Arranged;
use crate::report::{Finding, Judgement, MOST_OF_A_RULE, Report, RuleSummary, Verdict};
use crate::session::Difference;

/// What stands for an element that a rule does not speak of.
const SILENT: u8 = u8::MAX;

const JUDGEMENTS: [Judgement; 5] = [
    Judgement::NotApplicable,
    Judgement::Satisfied,
    Judgement::Violated,
    Judgement::Undetermined,
    Judgement::OnSite,
];

/// The rules of the subjects whose elements have the same numbers.
#[derive(Debug)]
struct Sweep {
    /// Subjects with their rules, by their places in the rule set.
    rules: Vec<(Subject, usize)>,
    /// What each came to on each element, element by element.
    judged: Vec<u8>,
}

/// The elements of which one finding each is told, the first of all that there are.
#[derive(Debug, Default)]
struct Listed {
    shown: BTreeMap<u32, Finding>,
    further: BTreeSet<u32>,
}

/// What each rule came to.
#[derive(Debug)]
pub(crate) struct Kept {
    sweeps: Vec<Sweep>,
    /// Of each rule, then of the protection of traps, then of each arrangement that needs permission.
    summary: Vec<RuleSummary>,
    violated: Vec<Listed>,
    undetermined: Vec<Listed>,
    /// The arrangements that need permission.
    gated: Vec<usize>,
    /// How each trap is arranged: by an arrangement, or else open or not at all.
    arranged: BTreeMap<u32, Trapped>,
    /// How many traps each arrangement protects.
    count: BTreeMap<usize, usize>,
    difference: Difference,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Trapped {
    By(usize),
    Open,
    Not,
}

impl Kept {
    /// Of a network of which nothing is judged yet.
    pub(crate) fn of(measured: &Measured<'_>) -> Self {
        let rules = &measured.rules.rules;
        let sweeps = SWEEPS.iter().map(|subjects| {
            let own: Vec<(Subject, usize)> = subjects
                .iter()
                .flat_map(|&subject| {
                    let own = rules.iter().enumerate();
                    own.filter(move |(_, rule)| rule.subject == subject)
                        .map(move |(number, _)| (subject, number))
                })
                .collect();
            let extent = subjects.first().map_or(0, |&first| measured.extent(first)) as usize;
            Sweep {
                judged: vec![SILENT; extent * own.len()],
                rules: own,
            }
        });
        let mut summary: Vec<RuleSummary> = rules
            .iter()
            .map(|rule| blank(&rule.name, &rule.title, rule.severity))
            .collect();
        let mut gated = Vec::new();
        if let Some(asked) = &measured.rules.protection {
            summary.push(blank(&asked.rule, &asked.title, Severity::Violation));
            for (number, one) in measured.rules.arrangements.iter().enumerate() {
                if one.needs_approval {
                    gated.push(number);
                    summary.push(blank(&one.name, &one.title, Severity::NeedsApproval));
                }
            }
        }
        let lists = || summary.iter().map(|_| Listed::default()).collect();
        Self {
            sweeps: sweeps.collect(),
            violated: lists(),
            undetermined: lists(),
            summary,
            gated,
            arranged: BTreeMap::new(),
            count: BTreeMap::new(),
            difference: Difference::default(),
        }
    }

    /// Judges an element by all rules of a sweep, by its place among [`SWEEPS`].
    pub(crate) fn judge(&mut self, measured: &Measured<'_>, sweep: usize, element: u32) {
        let Some(own) = self.sweeps.get_mut(sweep) else {
            return;
        };
        let width = own.rules.len();
        let start = element as usize * width;
        let Some(judged) = own.judged.get_mut(start..start + width) else {
            return;
        };
        let mut spoken: Option<(Subject, bool)> = None;
        for ((subject, number), slot) in own.rules.iter().zip(judged) {
            let speaks = match spoken {
                Some((known, speaks)) if known == *subject => speaks,
                _ => {
                    let speaks = measured.speaks_of(*subject, element);
                    spoken = Some((*subject, speaks));
                    speaks
                }
            };
            let rule = measured.rules.rules.get(*number).filter(|_| speaks);
            let now = rule.map(|rule| measured.judgement(rule, element));
            let before = JUDGEMENTS.get(usize::from(*slot)).copied();
            *slot = now.map_or(SILENT, |now| now as u8);
            let Some(row) = self.summary.get_mut(*number) else {
                continue;
            };
            if before != now {
                if let Some(before) = before {
                    row.subjects -= 1;
                    *row.row(before) -= 1;
                }
                if let Some(now) = now {
                    row.subjects += 1;
                    row.count(now);
                }
            }
            for (verdict, judgement, lists) in [
                (Verdict::Violated, Judgement::Violated, &mut self.violated),
                (
                    Verdict::Undetermined,
                    Judgement::Undetermined,
                    &mut self.undetermined,
                ),
            ] {
                let Some(list) = lists.get_mut(*number) else {
                    continue;
                };
                let find = |element: u32| {
                    measured.finding(&Hit {
                        verdict,
                        rule: *number,
                        element,
                    })
                };
                if now == Some(judgement) {
                    list.put(element, find, &mut self.difference);
                } else if before == Some(judgement) {
                    list.take(element, &mut self.difference);
                }
            }
        }
        if sweep == 0 {
            self.protect(measured, element);
        }
    }

    /// Tells what protects the trap at a node.
    fn protect(&mut self, measured: &Measured<'_>, node: u32) {
        let Some(asked) = &measured.rules.protection else {
            return;
        };
        let own = measured.rules.rules.len();
        let now = measured
            .speaks_of(Subject::Trap, node)
            .then(|| measured.arranged_now(node));
        let told = now.as_ref().map(|now| match now {
            Arranged::By(number, _) => Trapped::By(*number),
            Arranged::Open(_) => Trapped::Open,
            Arranged::Nearest(_) => Trapped::Not,
        });
        let before = match told {
            Some(told) => self.arranged.insert(node, told),
            None => self.arranged.remove(&node),
        };
        if before != told {
            self.count_trap(own, before, false);
            self.count_trap(own, told, true);
        }
        // Whatever else comes to be shown is told of its own trap.
        let find = |node: u32| match measured.arranged_now(node) {
            Arranged::By(_, by) => measured.by_permission(asked, node, by),
            Arranged::Open(gaps) => measured.left_open(asked, node, gaps),
            Arranged::Nearest(nearest) => measured.unprotected(asked, node, Verdict::Violated, nearest),
        };
        let mut lists = vec![
            (&mut self.violated, own, Trapped::Not),
            (&mut self.undetermined, own, Trapped::Open),
        ];
        for (lists, row, trapped) in lists.drain(..) {
            let Some(list) = lists.get_mut(row) else { continue };
            if told == Some(trapped) {
                list.put(node, |node| Some(find(node)), &mut self.difference);
            } else if before == Some(trapped) {
                list.take(node, &mut self.difference);
            }
        }
        for (place, &gated) in self.gated.iter().enumerate() {
            let Some(list) = self.violated.get_mut(own + 1 + place) else {
                continue;
            };
            if told == Some(Trapped::By(gated)) {
                list.put(node, |node| Some(find(node)), &mut self.difference);
            } else if before == Some(Trapped::By(gated)) {
                list.take(node, &mut self.difference);
            }
        }
    }

    /// Elements that have to be judged again for their findings to be told, now that others are told no more; each
    /// with its sweep.
    pub(crate) fn to_be_shown(&self) -> Vec<(usize, u32)> {
        let mut elements = Vec::new();
        for lists in [&self.violated, &self.undetermined] {
            for (row, list) in lists.iter().enumerate() {
                if list.further.is_empty() || list.shown.len() >= MOST_OF_A_RULE {
                    continue;
                }
                let sweep = self
                    .sweeps
                    .iter()
                    .position(|own| own.rules.iter().any(|(_, number)| *number == row));
                elements.extend(list.next().map(|element| (sweep.unwrap_or(0), element)));
            }
        }
        elements
    }

    fn count_trap(&mut self, own: usize, trapped: Option<Trapped>, comes: bool) {
        let step = |count: &mut usize| {
            *count = if comes {
                *count + 1
            } else {
                count.saturating_sub(1)
            };
        };
        let Some(trapped) = trapped else { return };
        let mut rows = self.summary.iter_mut().skip(own);
        let Some(row) = rows.next() else { return };
        step(&mut row.subjects);
        match trapped {
            Trapped::Open => step(&mut row.undetermined),
            Trapped::Not => step(&mut row.violated),
            Trapped::By(number) => {
                step(&mut row.satisfied);
                let count = self.count.entry(number).or_default();
                step(count);
                if *count == 0 {
                    self.count.remove(&number);
                }
                if let Some((_, row)) = self.gated.iter().zip(rows).find(|(gated, _)| **gated == number) {
                    step(&mut row.subjects);
                    step(&mut row.violated);
                }
            }
        }
    }

    /// How findings differ from when that was last asked.
    pub(crate) fn difference(&mut self) -> Difference {
        let mut difference = std::mem::take(&mut self.difference);
        difference.removed.sort_by(Finding::cmp_in_report);
        difference.added.sort_by(Finding::cmp_in_report);
        // What went and came back is no difference.
        let mut removed = Vec::new();
        for finding in difference.removed {
            match difference.added.iter().position(|added| *added == finding) {
                Some(at) => drop(difference.added.remove(at)),
                None => removed.push(finding),
            }
        }
        difference.removed = removed;
        difference
    }

    /// All findings, in the order of reports.
    pub(crate) fn findings(&self) -> Vec<Finding> {
        // In the order in which a check comes to them, for those that are alike in all that sorts them.
        let mut places = vec![(SWEEPS.len(), usize::MAX); self.summary.len()];
        for (sweep, own) in self.sweeps.iter().enumerate() {
            for (at, (_, number)) in own.rules.iter().enumerate() {
                if let Some(place) = places.get_mut(*number) {
                    *place = (sweep, at);
                }
            }
        }
        let mut findings = Vec::new();
        for lists in [&self.violated, &self.undetermined] {
            for (list, (sweep, at)) in lists.iter().zip(&places) {
                let shown = list.shown.iter();
                findings.extend(shown.map(|(element, finding)| ((*sweep, *element, *at), finding)));
            }
        }
        findings.sort_by(|(one_at, one), (other_at, other)| {
            one.cmp_in_report(other).then_with(|| one_at.cmp(other_at))
        });
        findings.into_iter().map(|(_, finding)| finding.clone()).collect()
    }

    /// The findings that there were when it was last asked how they differ.
    pub(crate) fn before(&mut self) -> Vec<Finding> {
        let difference = self.difference();
        let mut findings = self.findings();
        for added in &difference.added {
            if let Some(at) = findings.iter().position(|finding| finding == added) {
                findings.remove(at);
            }
        }
        findings.extend(difference.removed);
        findings.sort_by(Finding::cmp_in_report);
        findings
    }

    /// What a check tells.
    pub(crate) fn report(&self, measured: &Measured<'_>) -> Report {
        let rules = measured.rules.rules.len();
        let findings = self.findings();
        let mut summary = self.summary.clone();
        let protection = summary.split_off(rules);
        summary.splice(0..0, protection);
        let mut on_site: Vec<Vec<u32>> = vec![Vec::new(); rules];
        for sweep in &self.sweeps {
            for (at, (_, number)) in sweep.rules.iter().enumerate() {
                let Some(list) = on_site.get_mut(*number) else {
                    continue;
                };
                if self.summary.get(*number).is_some_and(|row| row.on_site > 0) {
                    let own = (0..).zip(sweep.judged.iter().skip(at).step_by(sweep.rules.len()));
                    let own = own.filter(|(_, judged)| **judged == Judgement::OnSite as u8);
                    list.extend(own.map(|(element, _)| element));
                }
            }
        }
        let protected = measured.protected(self.count.iter().map(|(one, traps)| (*one, *traps)));
        measured.report(findings, summary, &on_site, protected)
    }
}

impl Listed {
    /// Tells of an element that belongs here; `find` makes findings.
    fn put(&mut self, element: u32, find: impl Fn(u32) -> Option<Finding>, difference: &mut Difference) {
        if let Some(shown) = self.shown.get_mut(&element) {
            if let Some(now) = find(element).filter(|now| now != shown) {
                difference.added.push(now.clone());
                difference.removed.push(std::mem::replace(shown, now));
            }
            return;
        }
        if self.further.first().is_some_and(|&first| first < element) {
            self.further.insert(element);
            return;
        }
        if self.shown.len() >= MOST_OF_A_RULE {
            match self.shown.last_entry() {
                Some(last) if *last.key() > element => {
                    let (last, finding) = last.remove_entry();
                    self.further.insert(last);
                    difference.removed.push(finding);
                }
                _ => {
                    self.further.insert(element);
                    return;
                }
            }
        }
        self.further.remove(&element);
        if let Some(finding) = find(element) {
            difference.added.push(finding.clone());
            self.shown.insert(element, finding);
        }
    }

    /// Tells no more of an element.
    fn take(&mut self, element: u32, difference: &mut Difference) {
        self.further.remove(&element);
        difference.removed.extend(self.shown.remove(&element));
    }

    /// Further elements that have come to be among the first.
    fn next(&self) -> impl Iterator<Item = u32> {
        let room = MOST_OF_A_RULE.saturating_sub(self.shown.len());
        self.further.iter().copied().take(room)
    }
}
