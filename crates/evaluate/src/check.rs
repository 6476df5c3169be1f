//! Every rule on every subject it speaks about.

use std::collections::{BTreeMap, BTreeSet};

use crownweir_network::Network;
use crownweir_rulebook::{
    Check, Citation, Comparison, Condition, Content, Fact, FactTest, Grain, Message, Operand, Part, Rule,
    RuleSet, Severity, Subject, Value,
};
use crownweir_vocabulary::{Role, RunKind};

use crate::classes::Classes;
use crate::evaluate::{Limit, Outcome, condition, deciding_cells, operand, settled, test};
use crate::measure::{Class, Element, Gap, Got, Measured, Needed, UnknownSizes, index};
use crate::report::{
    Figure, Finding, Judgement, MOST_OF_A_RULE, Missing, OnSite, Protected, Report, RuleSummary, Verdict,
};
use crate::show;

/// How many names an on-site entry lists.
const EXAMPLES: usize = 5;

/// Checks `network` by `rules`.
///
/// # Errors
/// The sizes that the network uses and the rule set does not know.
pub fn check(network: &Network, rules: &RuleSet) -> Result<Report, UnknownSizes> {
    Ok(Measured::with(network, rules, None, Needed::by(rules))?.check())
}

/// Subjects whose elements have the same numbers are evaluated together.
pub(crate) const SWEEPS: &[&[Subject]] = &[
    &[
        Subject::Fixture,
        Subject::Trap,
        Subject::TrapArm,
        Subject::Fitting,
        Subject::Cleanout,
        Subject::Terminal,
        Subject::Valve,
    ],
    &[Subject::Pipe, Subject::Drain, Subject::Vent, Subject::Turn],
    &[Subject::Stack],
    &[Subject::BranchInterval],
    &[Subject::Passage],
    &[Subject::Test],
    &[Subject::System],
];

/// A rule that an element breaks or leaves open, before it is put into words.
pub(crate) struct Hit {
    pub(crate) verdict: Verdict,
    pub(crate) rule: usize,
    pub(crate) element: u32,
}

impl Measured<'_> {
    /// Evaluates every rule on every subject.
    #[must_use]
    pub fn check(&self) -> Report {
        let rules = &self.rules.rules;
        let mut summary: Vec<RuleSummary> = rules
            .iter()
            .map(|rule| blank(&rule.name, &rule.title, rule.severity))
            .collect();
        let mut on_site: Vec<Vec<u32>> = vec![Vec::new(); rules.len()];
        let mut hits = Vec::new();
        for subjects in SWEEPS {
            let mut by_subject: Vec<Classes<'_>> = subjects
                .iter()
                .map(|&subject| Classes::new(subject, rules.iter().enumerate()))
                .filter(|classes| !classes.is_empty())
                .collect();
            let extent = subjects.first().map_or(0, |&first| self.extent(first));
            // Element by element, so that what a rule has just read is at hand for the next.
            for element in 0..extent {
                for classes in &mut by_subject {
                    if !self.speaks_of(classes.subject, element) {
                        continue;
                    }
                    let Some(class) = classes.of(self, element) else {
                        continue;
                    };
                    class.elements += 1;
                    for rule in &class.rules {
                        let number = rule.number;
                        let Some(row) = summary.get_mut(number) else {
                            continue;
                        };
                        row.subjects += 1;
                        let judgement = rule.judgement(self, element);
                        row.count(judgement);
                        match judgement {
                            Judgement::OnSite => on_site
                                .get_mut(number)
                                .into_iter()
                                .for_each(|list| list.push(element)),
                            Judgement::Violated if row.has_room(Verdict::Violated) => hits.push(Hit {
                                verdict: Verdict::Violated,
                                rule: number,
                                element,
                            }),
                            Judgement::Undetermined if row.has_room(Verdict::Undetermined) => {
                                hits.push(Hit {
                                    verdict: Verdict::Undetermined,
                                    rule: number,
                                    element,
                                });
                            }
                            _ => {}
                        }
                    }
                }
            }
            for class in by_subject.into_iter().flat_map(Classes::into_list) {
                for number in class.others {
                    if let Some(row) = summary.get_mut(number) {
                        row.subjects += class.elements;
                        row.not_applicable += class.elements;
                    }
                }
            }
        }
        let mut findings: Vec<Finding> = hits.iter().filter_map(|hit| self.finding(hit)).collect();
        let (protected, unprotected, rows) = self.protection();
        findings.extend(unprotected);
        summary.splice(0..0, rows);
        findings.sort_by(Finding::cmp_in_report);
        self.report(findings, summary, &on_site, protected)
    }

    /// What a check tells: sorted findings, what each rule came to, the elements for which each rule is to be looked at
    /// on site, and how many traps each arrangement protects.
    pub(crate) fn report(
        &self,
        findings: Vec<Finding>,
        summary: Vec<RuleSummary>,
        on_site: &[Vec<u32>],
        protected: Vec<Protected>,
    ) -> Report {
        let all: usize = summary.iter().map(|row| row.violated + row.undetermined).sum();
        let omitted = all.saturating_sub(findings.len());
        let rules = &self.rules.rules;
        let on_site = rules
            .iter()
            .zip(on_site)
            .filter(|(_, elements)| !elements.is_empty())
            .map(|(rule, elements)| self.visit(rule, elements))
            .collect();
        let missing_elsewhere = self.missing_elsewhere(&findings);
        let unnamed = self.unnamed();
        let counts_loads = self.rules.counts_loads();
        let load = counts_loads.then(|| self.fact_in_words(Subject::System, 0, Fact::SystemLoad));
        Report {
            network: self.network.name().to_owned(),
            file: self.network.file().to_owned(),
            rules: self.rules.name.clone(),
            document: self.rules.document.clone(),
            edition: self.rules.edition.clone(),
            revision: self.rules.revision,
            layers: self.rules.layers.clone(),
            findings,
            omitted,
            on_site,
            protected,
            summary,
            not_checked: self.rules.not_checked.clone(),
            counts_loads,
            load: load.flatten(),
            missing_elsewhere,
            fixtures: self.all_fixtures().count(),
            pipes: self.network.graph().edge_count(),
            unmarked_stacks: self.unmarked_stacks(&unnamed),
            unnamed,
            passages_unasked: match self.rules.speaks_of_framing() {
                true => 0,
                false => self.network.passages().len(),
            },
            framing_rules: (self.network.framing_rules().map(str::to_owned))
                .or_else(|| self.rules.framing_rules.clone()),
        }
    }

    /// The kinds of run without which a building has no drainage, and by which the file calls none.
    fn unnamed(&self) -> Vec<RunKind> {
        if !self.speaks_of_drains() {
            return Vec::new();
        }
        let is_named = |kind: &RunKind| self.state.pipes.iter().any(|pipe| pipe.kind == *kind);
        let kinds = [RunKind::Stack, RunKind::BuildingDrain];
        kinds.into_iter().filter(|kind| !is_named(kind)).collect()
    }

    fn speaks_of_drains(&self) -> bool {
        self.rules.rules.iter().any(|rule| rule.subject == Subject::Drain)
    }

    /// Drains that look like a stack whose run is not marked as one, where others are.
    fn unmarked_stacks(&self, unnamed: &[RunKind]) -> Vec<String> {
        if unnamed.contains(&RunKind::Stack) || !self.speaks_of_drains() {
            return Vec::new();
        }
        let storey = |node| self.node(node).and_then(|node| node.storey);
        let drops = self.elements(Subject::Drain).into_iter().filter(|&drain| {
            let pipe = self.pipe(drain).filter(|pipe| pipe.kind == RunKind::Branch);
            let plumb = pipe.filter(|pipe| pipe.vertical == Some(true));
            let storeys = plumb.and_then(|pipe| storey(pipe.from).zip(storey(pipe.to)));
            storeys.is_some_and(|(from, to)| to < from)
        });
        let drops = drops.take(MOST_OF_A_RULE);
        drops.map(|drain| self.name_of(Subject::Drain, drain)).collect()
    }

    /// What findings ask for of some elements, of the others that do not state it either.
    fn missing_elsewhere(&self, findings: &[Finding]) -> Vec<Missing> {
        let mut asked: BTreeMap<&'static str, BTreeSet<&str>> = BTreeMap::new();
        for missing in findings.iter().flat_map(|finding| &finding.missing) {
            if let Missing::OfElement { datum, name, .. } = missing {
                asked.entry(datum).or_default().insert(name);
            }
        }
        if asked.is_empty() {
            return Vec::new();
        }
        let of_fixtures = self.all_fixtures().flat_map(|fixture| {
            let rim = fixture.rim.is_none().then(|| self.rim_not_stated(fixture.node));
            [
                rim,
                Some(self.fact(Subject::Fixture, fixture.node, Fact::FixtureLoad)),
            ]
        });
        let of_pipes = self.elements(Subject::Pipe).into_iter().flat_map(|pipe| {
            let facts = [Fact::PipeLength, Fact::PipeSlope, Fact::PipeSize];
            facts.map(|fact| Some(self.fact(Subject::Pipe, pipe, fact)))
        });
        let mut count: BTreeMap<&'static str, usize> = BTreeMap::new();
        // Only what may be told is put into words; behind a load that is not known there is another datum.
        let is_asked = |datum: &str| datum == "load" || asked.contains_key(datum);
        let missing = of_fixtures.chain(of_pipes).filter_map(|got| match got? {
            Got::Missing(gap @ Gap::NotStated { datum, .. }) if is_asked(datum) => Some(show::gap(self, gap)),
            _ => None,
        });
        let mut elsewhere: Vec<Missing> = missing
            .filter(|missing| {
                let Missing::OfElement { datum, name, .. } = missing else {
                    return false;
                };
                let count = count.entry(datum).or_default();
                let is_elsewhere = asked
                    .get(datum)
                    .is_some_and(|names| !names.contains(name.as_str()));
                *count += usize::from(is_elsewhere);
                is_elsewhere && *count <= MOST_OF_A_RULE
            })
            .collect();
        elsewhere.sort_unstable();
        elsewhere
    }

    /// The elements that rules with a subject speak about, by the numbers that [`Measured::fact`] takes.
    #[must_use]
    pub fn elements(&self, subject: Subject) -> Vec<u32> {
        let all = 0..self.extent(subject);
        all.filter(|&element| self.speaks_of(subject, element)).collect()
    }

    /// How many numbers there are among which a subject's elements lie.
    pub(crate) fn extent(&self, subject: Subject) -> u32 {
        index(match subject {
            Subject::Pipe | Subject::Drain | Subject::Vent | Subject::Turn => self.state.pipes.len(),
            Subject::Stack => self.state.stacks.list.len(),
            Subject::BranchInterval => self.state.stacks.intervals.len(),
            Subject::Passage => self.network.passages().len(),
            Subject::Test => self.network.tests().len(),
            Subject::System => 1,
            _ => self.node_bound(),
        })
    }

    /// Whether rules with a subject speak about an element.
    pub(crate) fn speaks_of(&self, subject: Subject, element: u32) -> bool {
        let pipe = || self.pipe(element).filter(|pipe| pipe.is_there());
        let role = || pipe().map(|pipe| pipe.kind.role());
        match subject {
            Subject::Pipe => pipe().is_some(),
            Subject::Fixture => self.is(element, Class::Fixture),
            // Neither a load that is not drawn fixture by fixture nor a pump has a trap to speak of.
            Subject::Trap | Subject::TrapArm => self
                .fixture_facts(element)
                .is_some_and(|fixture| fixture.has_trap),
            Subject::Drain => role() == Some(Role::Drain),
            Subject::Vent => role() == Some(Role::Vent),
            Subject::Turn => {
                pipe().is_some_and(|pipe| pipe.kind.role() == Role::Drain && self.is(pipe.to, Class::Fitting))
            }
            Subject::Fitting => {
                self.is(element, Class::Fitting)
                    && (self.next(element).is_some() || self.vent_of(element).is_some())
            }
            Subject::Cleanout => self.is(element, Class::Cleanout),
            Subject::Terminal => self.is(element, Class::Terminal),
            Subject::Valve => self.is(element, Class::Valve),
            _ => true,
        }
    }

    /// The name that findings call an element by.
    #[must_use]
    pub fn name_of(&self, subject: Subject, element: u32) -> String {
        show::subject_in_words(self, subject, element).name
    }

    /// The node or pipe by which an element is shown on a drawing: of a stack its uppermost pipe, of a branch interval
    /// its first connection. What has no place, such as a test, comes back as it is.
    #[must_use]
    pub fn place_of(&self, element: Element) -> Element {
        let place = match element {
            Element::Stack(stack) => {
                let stack = self.stack_itself(stack);
                stack
                    .and_then(|stack| stack.pipes.first().copied())
                    .map(Element::Pipe)
            }
            Element::Interval(interval) => {
                let interval = self.interval(interval);
                interval.map(|interval| Element::Node(interval.node))
            }
            _ => None,
        };
        place.unwrap_or(element)
    }

    /// Whether a rule applies to an element that it speaks of.
    #[must_use]
    pub fn applies(&self, rule: &Rule, element: u32) -> Outcome {
        condition(self, rule.subject, element, &rule.when)
    }

    /// A fact's value on an element in the network's notation, if it is known and there is such a thing; of a load that
    /// hangs on what is not stated, between which ends it lies, such as `7 dfu to 9 dfu`, where these are known.
    #[must_use]
    pub fn fact_in_words(&self, subject: Subject, element: u32, fact: Fact) -> Option<String> {
        match self.fact(subject, element, fact) {
            Got::Known(value) => Some(show::value(self, value)),
            Got::Missing(_) => show::ends_of_load(self, subject, element, fact),
            _ => None,
        }
    }

    /// What a rule comes to on the element with that number among its subject's own.
    #[must_use]
    pub fn judgement(&self, rule: &Rule, element: u32) -> Judgement {
        let of = |condition| self::condition(self, rule.subject, element, condition);
        Judgement::of(
            of(&rule.when),
            rule.require.as_ref().map(|require| || of(require)),
        )
    }

    /// What a rule comes to on each element that it speaks of, in order: quicker than asking for one after the other.
    #[must_use]
    pub fn judgements(&self, rule: &Rule) -> Vec<(u32, Judgement)> {
        let mut classes = Classes::new(rule.subject, [(0, rule)].into_iter());
        let elements = 0..self.extent(rule.subject);
        let elements = elements.filter(|&element| self.speaks_of(rule.subject, element));
        let judged = elements.map(|element| {
            let class = classes.of(self, element);
            let rule = class.and_then(|class| class.rules.first());
            let judgement = rule.map(|rule| rule.judgement(self, element));
            (element, judgement.unwrap_or(Judgement::NotApplicable))
        });
        judged.collect()
    }

    /// What has to be known before a rule can be told on an element: the smallest set of gaps that would settle it.
    #[must_use]
    pub fn missing(&self, rule: &Rule, element: u32) -> Vec<Gap> {
        let mut gaps = self.gaps(rule.subject, element, &rule.when);
        if let Some(require) = &rule.require {
            gaps.extend(self.gaps(rule.subject, element, require));
        }
        gaps.sort_unstable();
        gaps.dedup();
        gaps
    }

    /// The value of an operand for an element of a subject.
    #[must_use]
    pub fn limit(&self, subject: Subject, element: u32, operand: &Operand) -> Limit {
        self::operand(self, subject, element, operand)
    }

    /// The comparisons of what a rule asks, each with the limit that it reads for an element.
    #[must_use]
    pub fn limits<'r>(&self, rule: &'r Rule, element: u32) -> Vec<(&'r FactTest, Limit)> {
        self.limits_asked(rule.subject, element, &rule.require)
    }

    /// The comparisons of a few conditions, each with the limit that it reads for an element.
    #[must_use]
    pub fn limits_asked<'r>(
        &self,
        subject: Subject,
        element: u32,
        conditions: impl IntoIterator<Item = &'r Condition>,
    ) -> Vec<(&'r FactTest, Limit)> {
        let mut open: Vec<&Condition> = conditions.into_iter().collect();
        let mut limits = Vec::new();
        while let Some(one) = open.pop() {
            match one {
                Condition::All(parts) | Condition::Any(parts) => open.extend(parts.iter().rev()),
                Condition::Not(inner) => open.push(inner),
                Condition::Test(test) => {
                    if let Check::Compare(_, limit) = &test.check {
                        limits.push((test, self.told_limit(subject, element, test, limit)));
                    }
                }
            }
        }
        limits
    }

    /// The limits that a rule holds facts to, in the network's notation, to the last digit: two that differ read so.
    #[must_use]
    pub fn limits_in_words(&self, rule: &Rule, element: u32) -> Vec<(String, String)> {
        let limits = self.limits(rule, element).into_iter();
        let told = limits.map(|(test, limit)| {
            let what = format!(
                "limit of {} {}",
                test.fact.name(),
                test.check.order().replace('_', " ")
            );
            (what, show::limit_to(self, limit, Grain::Exact))
        });
        told.collect()
    }

    /// What a cell of a table of the rule set holds, likewise; none where it holds no value, or there is no such cell.
    #[must_use]
    pub fn cell_in_words(&self, table: &str, row: usize, column: &str) -> Option<String> {
        let table = self.rules.tables.iter().find(|own| own.name == table)?;
        let column = table.columns().iter().position(|own| own.name == column)?;
        match table.rows().get(row)?.cells.get(column)?.content {
            Content::Value(value) => Some(show::value_to(self, value, Grain::Exact)),
            _ => None,
        }
    }

    /// A rule that an element breaks or leaves open, in words.
    pub(crate) fn finding(&self, hit: &Hit) -> Option<Finding> {
        let rule = self.rules.rules.get(hit.rule)?;
        let (subject, element) = (rule.subject, hit.element);
        let mut finding = self.bare_finding(subject, element, hit.verdict, &rule.citation);
        finding.rule.clone_from(&rule.name);
        finding.title.clone_from(&rule.title);
        finding.severity = rule.severity;
        finding.notes.clone_from(&rule.notes);
        finding.changes = self.changes_to(&Part::Rule(rule.name.clone()));
        if subject == Subject::Turn {
            finding.entered_by = self.stated(element).map(|pipe| pipe.name.to_string());
        }
        match hit.verdict {
            Verdict::Violated => {
                let decision = rule
                    .require
                    .as_ref()
                    .and_then(|require| self.decide(subject, element, require));
                if let Some(decision) = &decision {
                    let own = || rule.citation_of(decision.test).clone();
                    finding.citation = self.amended_cell(subject, element, decision).unwrap_or_else(own);
                }
                self.figures(&mut finding, decision);
                let told = decision.as_ref();
                let say = |text: &Message| show::message(self, subject, element, text, &rule.show, told);
                finding.message = say(&rule.message);
                if let Some(advice) = &rule.advice {
                    finding.advice = Some(say(advice));
                }
            }
            Verdict::Undetermined => {
                self.leave_open(&mut finding, self.missing(rule, element));
            }
        }
        Some(finding)
    }

    /// A finding that says of which element it is and where it comes from, and nothing more so far.
    pub(crate) fn bare_finding(
        &self,
        subject: Subject,
        element: u32,
        verdict: Verdict,
        citation: &Citation,
    ) -> Finding {
        let described = show::subject_in_words(self, subject, element);
        Finding {
            rule: String::new(),
            title: String::new(),
            verdict,
            severity: Severity::Violation,
            subject,
            element: show::element_of(subject, element),
            kind: described.kind,
            name: described.name,
            entered_by: None,
            storey: described.storey,
            position: described.position,
            message: String::new(),
            measured: None,
            limit: None,
            headroom: None,
            missing: Vec::new(),
            citation: citation.clone(),
            advice: None,
            notes: Vec::new(),
            changes: Vec::new(),
        }
    }

    /// What amendments have changed in a part of the rule set.
    pub(crate) fn changes_to(&self, part: &Part) -> Vec<String> {
        let changes = self.rules.changes_to(part).filter(|change| change.void.is_none());
        changes.map(ToString::to_string).collect()
    }

    /// Has a finding say that it cannot be told, and what is needed for that.
    pub(crate) fn leave_open(&self, finding: &mut Finding, gaps: Vec<Gap>) {
        let told = gaps
            .iter()
            .filter(|gap| !gaps.iter().any(|other| gap.is_part_of(*other)));
        finding.missing = told.map(|&gap| show::gap(self, gap)).collect();
        finding.message = format!("cannot be told: {} needed", finding.needed().join(" and "));
    }

    /// Puts into a finding what was measured, the limit, and how far the one is from the other.
    pub(crate) fn figures(&self, finding: &mut Finding, decision: Option<Decision<'_>>) {
        let Some(decision) = decision else { return };
        // Words and truth values are no figures: the message says all there is to say of them.
        if !decision.test.fact.dimension().is_ordered() {
            return;
        }
        let figure = |value: Value, grain: Grain| Figure {
            value,
            text: show::value_to(self, value, grain),
        };
        let (own, limits) = decision.grains(self);
        if let Got::Known(value) = decision.measured {
            finding.measured = Some(figure(value, own));
        }
        let Limit::Known(limit) = decision.limit else {
            return;
        };
        finding.limit = Some(figure(limit, limits));
        if let Got::Known(value) = decision.measured {
            finding.headroom = match decision.test.check {
                Check::Compare(Comparison::AtMost | Comparison::LessThan, _) => limit.minus(value),
                Check::Compare(Comparison::AtLeast | Comparison::MoreThan, _) => value.minus(limit),
                _ => None,
            }
            .map(|room| {
                figure(
                    room,
                    room.grain_of_room(&self.rules.ladder, self.network.notation()),
                )
            });
        }
    }

    /// The citation of a cell that decides a limit, where an amendment has set it or its table.
    pub(crate) fn amended_cell(
        &self,
        subject: Subject,
        element: u32,
        decision: &Decision<'_>,
    ) -> Option<Citation> {
        let Check::Compare(_, limit) = &decision.test.check else {
            return None;
        };
        let cells = deciding_cells(self, subject, element, limit);
        let citations = cells.into_iter().filter_map(|(lookup, row)| {
            let table = self.rules.table(lookup.table)?;
            let own = table.rows().get(row)?.cells.get(lookup.column)?.citation.as_ref();
            Some(own.unwrap_or(&table.citation))
        });
        let mut amended = citations.filter(|citation| citation.set_by.is_some());
        amended.next().cloned()
    }

    /// The comparison by which a condition fails: the first that does, of alternatives the first with a figure.
    pub(crate) fn decide<'c>(
        &self,
        subject: Subject,
        element: u32,
        failed: &'c Condition,
    ) -> Option<Decision<'c>> {
        match failed {
            Condition::All(parts) => parts
                .iter()
                .find(|part| condition(self, subject, element, part) == Outcome::Violated)
                .and_then(|part| self.decide(subject, element, part)),
            Condition::Any(parts) => {
                let mut failed = parts
                    .iter()
                    .filter(|part| condition(self, subject, element, part) == Outcome::Violated)
                    .filter_map(|part| self.decide(subject, element, part));
                let first = failed.next();
                // Of alternatives that all fail, one with a figure says by how much.
                first
                    .filter(Decision::has_figure)
                    .or_else(|| failed.find(Decision::has_figure))
                    .or(first)
            }
            Condition::Not(_) => None,
            Condition::Test(test) => Some(Decision {
                test,
                measured: self.fact(subject, element, test.fact),
                limit: match &test.check {
                    Check::Compare(_, limit) => self.told_limit(subject, element, test, limit),
                    Check::Among { values, wanted: true } if values.len() == 1 => {
                        values.first().map_or(Limit::Absent, |value| Limit::Known(*value))
                    }
                    _ => Limit::Absent,
                },
            }),
        }
    }

    /// The limit of a comparison; where it is not known, and need not be, the easiest of those that there may be.
    pub(crate) fn told_limit(
        &self,
        subject: Subject,
        element: u32,
        test: &FactTest,
        limit: &Operand,
    ) -> Limit {
        match operand(self, subject, element, limit) {
            Limit::Missing(gap) => {
                settled(self, subject, element, test).map_or(Limit::Missing(gap), |(_, limit)| limit)
            }
            known => known,
        }
    }

    /// The smallest set of gaps whose closing would settle a condition; none where it is settled.
    pub(crate) fn gaps(&self, subject: Subject, element: u32, open: &Condition) -> Vec<Gap> {
        if !matches!(condition(self, subject, element, open), Outcome::Undetermined(_)) {
            return Vec::new();
        }
        match open {
            Condition::Test(one) => match test(self, subject, element, one) {
                Outcome::Undetermined(gap) => vec![gap],
                _ => Vec::new(),
            },
            Condition::Not(inner) => self.gaps(subject, element, inner),
            Condition::All(parts) => {
                let mut gaps: Vec<Gap> = parts
                    .iter()
                    .flat_map(|part| self.gaps(subject, element, part))
                    .collect();
                gaps.sort_unstable();
                gaps.dedup();
                gaps
            }
            Condition::Any(parts) => parts
                .iter()
                .map(|part| self.gaps(subject, element, part))
                .filter(|gaps| !gaps.is_empty())
                .min_by_key(Vec::len)
                .unwrap_or_default(),
        }
    }

    fn visit(&self, rule: &Rule, elements: &[u32]) -> OnSite {
        let name = |&element: &u32| show::subject_in_words(self, rule.subject, element).name;
        let examples = self.first_in_file(rule.subject, elements);
        let first = examples.first().copied().unwrap_or(0);
        OnSite {
            rule: rule.name.clone(),
            message: show::message(self, rule.subject, first, &rule.message, &rule.show, None),
            count: elements.len(),
            examples: match rule.subject {
                Subject::System => Vec::new(),
                _ => examples.iter().map(name).collect(),
            },
            citation: rule.citation.clone(),
        }
    }

    /// The few elements that the file gives first.
    fn first_in_file(&self, subject: Subject, elements: &[u32]) -> Vec<u32> {
        let mut first = Vec::with_capacity(EXAMPLES + 1);
        for &element in elements {
            let place = show::place_in_file(self, show::element_of(subject, element));
            // Most come after those kept, and are let be at one comparison.
            if first.len() == EXAMPLES && first.last().is_some_and(|(last, _)| *last <= place) {
                continue;
            }
            let at = first.partition_point(|(kept, _)| *kept <= place);
            first.insert(at, (place, element));
            first.truncate(EXAMPLES);
        }
        first.into_iter().map(|(_, element)| element).collect()
    }
}

impl RuleSummary {
    pub(crate) fn count(&mut self, judgement: Judgement) {
        *self.row(judgement) += 1;
    }

    /// How many elements it came to that for.
    pub(crate) fn row(&mut self, judgement: Judgement) -> &mut usize {
        match judgement {
            Judgement::NotApplicable => &mut self.not_applicable,
            Judgement::Satisfied => &mut self.satisfied,
            Judgement::Violated => &mut self.violated,
            Judgement::Undetermined => &mut self.undetermined,
            Judgement::OnSite => &mut self.on_site,
        }
    }

    /// Whether the element just counted is among those that findings are made of.
    pub(crate) fn has_room(&self, verdict: Verdict) -> bool {
        let count = match verdict {
            Verdict::Violated => self.violated,
            Verdict::Undetermined => self.undetermined,
        };
        count <= MOST_OF_A_RULE
    }
}

/// The comparison by which a condition fails, with what was compared.
#[derive(Clone, Copy)]
pub(crate) struct Decision<'c> {
    pub(crate) test: &'c FactTest,
    pub(crate) measured: Got,
    pub(crate) limit: Limit,
}

impl Decision<'_> {
    /// Whether it compares a figure with another.
    fn has_figure(&self) -> bool {
        matches!(self.test.check, Check::Compare(..)) && self.test.fact.dimension().is_ordered()
    }

    /// How finely what is measured and the limit are written.
    pub(crate) fn grains(&self, by: &Measured<'_>) -> (Grain, Grain) {
        let Check::Compare(order, _) = self.test.check else {
            return (Grain::Usual, Grain::Usual);
        };
        match (self.measured, self.limit) {
            (Got::Known(value), Limit::Known(limit)) => {
                value.grains(order, limit, &by.rules.ladder, by.network.notation())
            }
            _ => (Grain::Usual, Grain::Limit(order)),
        }
    }
}

/// What a rule came to before any element is judged by it.
pub(crate) fn blank(name: &str, title: &str, severity: Severity) -> RuleSummary {
    RuleSummary {
        rule: name.to_owned(),
        title: title.to_owned(),
        severity,
        subjects: 0,
        not_applicable: 0,
        satisfied: 0,
        violated: 0,
        undetermined: 0,
        on_site: 0,
    }
}
