//! What each rule came to on each element, and the findings that are told of it, kept while elements are judged anew.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crownweir_rulebook::{Rule, Severity, Subject};

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
#[derive(Debug, Clone)]
struct Sweep {
    /// Subjects with their rules, by their places in the rule set.
    rules: Vec<(Subject, usize)>,
    /// What each came to on each element, element by element.
    judged: Vec<u8>,
}

/// The elements of which one finding each is told, the first of all that there are.
#[derive(Debug, Clone, Default)]
struct Listed {
    shown: BTreeMap<u32, Finding>,
    further: BTreeSet<u32>,
}

/// A finding with the sweep of its rule, its element, and the place of the rule in the sweep.
type Told<'f> = ((usize, u32, usize), Cow<'f, Finding>);

/// What each rule came to.
#[derive(Debug, Clone)]
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
            let own = of_sweep(rules, subjects);
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

    /// Makes room for elements that have come.
    pub(crate) fn make_room(&mut self, measured: &Measured<'_>) {
        for (own, subjects) in self.sweeps.iter_mut().zip(SWEEPS) {
            let extent = subjects.first().map_or(0, |&first| measured.extent(first)) as usize;
            let places = extent * own.rules.len();
            if own.judged.len() < places {
                own.judged.resize(places, SILENT);
            }
        }
    }

    /// Judges an element by all rules of a sweep, by its place among [`SWEEPS`].
    pub(crate) fn judge(&mut self, measured: &Measured<'_>, sweep: usize, element: u32) {
        let rules = self.sweeps.get(sweep).map_or(0, |own| own.rules.len());
        self.judge_by(measured, sweep, element, 0..rules);
        if sweep == 0 {
            self.protect(measured, element);
        }
    }

    /// Judges an element by some rules of a sweep, by their places in it.
    pub(crate) fn judge_by(
        &mut self,
        measured: &Measured<'_>,
        sweep: usize,
        element: u32,
        rules: impl IntoIterator<Item = usize>,
    ) {
        let Some(own) = self.sweeps.get_mut(sweep) else {
            return;
        };
        let width = own.rules.len();
        let start = element as usize * width;
        let Some(judged) = own.judged.get_mut(start..start + width) else {
            return;
        };
        let mut spoken: Option<(Subject, bool)> = None;
        for place in rules {
            let Some(((subject, number), slot)) = own.rules.get(place).zip(judged.get_mut(place)) else {
                continue;
            };
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
            let find = |verdict: Verdict| {
                move |element: u32| {
                    measured.finding(&Hit {
                        verdict,
                        rule: *number,
                        element,
                    })
                }
            };
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
                if now == Some(judgement) {
                    list.put(element, find(verdict), &mut self.difference);
                } else if before == Some(judgement) {
                    list.take(element, &mut self.difference);
                }
            }
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
        let places = places(self.sweeps.iter().map(|own| &*own.rules), self.summary.len());
        let mut findings = Vec::new();
        for lists in [&self.violated, &self.undetermined] {
            for (list, place) in lists.iter().zip(&places) {
                list.told(*place, &mut findings);
            }
        }
        in_order(findings)
    }

    /// How many rules there are: behind their rows stands what is told of the protection of traps.
    fn rules(&self) -> usize {
        self.sweeps.iter().map(|own| own.rules.len()).sum()
    }

    /// The findings by other rules, by which the same is measured: of each rule that is one of those so far, by its place
    /// among these, what is known of that; of the others what they come to.
    pub(crate) fn findings_by(&self, measured: &Measured<'_>, own: &[Option<usize>]) -> Vec<Finding> {
        let rules = &measured.rules.rules;
        let sweeps: Vec<_> = SWEEPS.iter().map(|subjects| of_sweep(rules, subjects)).collect();
        let protection = self.summary.len() - self.rules();
        let places = places(sweeps.iter().map(|own| &**own), rules.len() + protection);
        let mut findings = Vec::new();
        for lists in [&self.violated, &self.undetermined] {
            let rows = own.iter().copied();
            let rows = rows.chain((self.rules()..self.summary.len()).map(Some));
            for (row, place) in rows.zip(&places) {
                if let Some(list) = row.and_then(|row| lists.get(row)) {
                    list.told(*place, &mut findings);
                }
            }
        }
        for ((number, rule), place) in (0..).zip(rules).zip(&places) {
            if own.get(number).copied().flatten().is_some() {
                continue;
            }
            let (mut violated, mut undetermined) = (0, 0);
            for element in 0..measured.extent(rule.subject) {
                if !measured.speaks_of(rule.subject, element) {
                    continue;
                }
                let (verdict, count) = match measured.judgement(rule, element) {
                    Judgement::Violated => (Verdict::Violated, &mut violated),
                    Judgement::Undetermined => (Verdict::Undetermined, &mut undetermined),
                    _ => continue,
                };
                *count += 1;
                if *count <= MOST_OF_A_RULE {
                    let hit = Hit {
                        verdict,
                        rule: number,
                        element,
                    };
                    let finding = measured.finding(&hit);
                    let finding = finding.map(Cow::Owned);
                    findings.extend(finding.map(|finding| ((place.0, element, place.1), finding)));
                }
            }
        }
        in_order(findings)
    }

    /// Puts other rules in the place of those so far, by which the same is measured, with what is known of each that is
    /// one of those, by its place among these. Comes back with the others, which are to be judged: by sweep, their
    /// places in it.
    pub(crate) fn renew(&mut self, measured: &Measured<'_>, own: &[Option<usize>]) -> Vec<Vec<usize>> {
        let renewed = Self::of(measured);
        let mut before = std::mem::replace(self, renewed);
        let rows = own.iter().copied();
        let rows = rows.chain((before.rules()..before.summary.len()).map(Some));
        for (number, row) in rows.enumerate() {
            let Some(row) = row else { continue };
            if let Some((slot, row)) = self.summary.get_mut(number).zip(before.summary.get_mut(row)) {
                std::mem::swap(slot, row);
            }
            for (lists, before) in [
                (&mut self.violated, &mut before.violated),
                (&mut self.undetermined, &mut before.undetermined),
            ] {
                if let Some((slot, list)) = lists.get_mut(number).zip(before.get_mut(row)) {
                    std::mem::swap(slot, list);
                }
            }
        }
        (self.arranged, self.count) = (before.arranged, before.count);
        let sweeps = self.sweeps.iter_mut().zip(&before.sweeps);
        let others = sweeps.map(|(now, before)| {
            let (width, width_before) = (now.rules.len(), before.rules.len());
            let mut others = Vec::new();
            for (place, (_, number)) in now.rules.iter().enumerate() {
                let known = own.get(*number).copied().flatten();
                let known = known.and_then(|known| before.rules.iter().position(|(_, own)| *own == known));
                let Some(known) = known else {
                    others.push(place);
                    continue;
                };
                let from = before.judged.iter().skip(known).step_by(width_before.max(1));
                let to = now.judged.iter_mut().skip(place).step_by(width.max(1));
                to.zip(from).for_each(|(to, from)| *to = *from);
            }
            others
        });
        others.collect()
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

/// The rules that speak of some subjects, subject by subject, by their places in the rule set.
fn of_sweep(rules: &[Rule], subjects: &[Subject]) -> Vec<(Subject, usize)> {
    let of_subject = |&subject: &Subject| {
        let own = rules.iter().enumerate();
        let own = own.filter(move |(_, rule)| rule.subject == subject);
        own.map(move |(number, _)| (subject, number))
    };
    subjects.iter().flat_map(of_subject).collect()
}

/// For each rule, the place of its sweep and its own in that: in this order a check comes to them, element by element.
fn places<'s>(sweeps: impl Iterator<Item = &'s [(Subject, usize)]>, rows: usize) -> Vec<(usize, usize)> {
    let mut places = vec![(SWEEPS.len(), usize::MAX); rows];
    for (sweep, rules) in sweeps.enumerate() {
        for (at, (_, number)) in rules.iter().enumerate() {
            if let Some(place) = places.get_mut(*number) {
                *place = (sweep, at);
            }
        }
    }
    places
}

/// Findings in the order of reports; those that are alike in all that sorts them as a check comes to them.
fn in_order(mut findings: Vec<Told<'_>>) -> Vec<Finding> {
    findings.sort_by(|(one_at, one), (other_at, other)| {
        one.cmp_in_report(other).then_with(|| one_at.cmp(other_at))
    });
    let findings = findings.into_iter();
    findings.map(|(_, finding)| finding.into_owned()).collect()
}

impl Listed {
    fn told<'f>(&'f self, (sweep, at): (usize, usize), told: &mut Vec<Told<'f>>) {
        let shown = self.shown.iter();
        told.extend(shown.map(|(element, finding)| ((sweep, *element, at), Cow::Borrowed(finding))));
    }

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
