//! From the file as written to a rule set in which everything is resolved.
//!
//! Problems are collected; a rule set comes out only when there is none.

use std::collections::HashSet;
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostics, Document, FORMAT_KEY, Limits, nearest};
use serde_yaml::Value as Yaml;

use crate::amend::{self, Amendment};
use crate::day::Day;
use crate::expression::Scope;
use crate::facts::Subject;
use crate::message::message;
use crate::model::{
    Arrangement, ArrangementCondition, Basis, BathroomGroup, BranchInterval, Citation, Condition,
    Definitions, Exception, LimitCitation, Matter, Operand, Protection, Rule, RuleSet, RuleSetParts, SetBy,
    Severity, SharpTurn, TrapArmStart, VentLengthEnd, Vertical,
};
use crate::reach::Reach;
use crate::table::Table;
use crate::tables::tables;
use crate::value::{Dimension, Ladder, Rung};
use crate::walk;
use crate::wire::{
    ArrangementFile, CitationFile, CitedFile, CountedBy, DefinitionsFile, MatterFile, ProtectionFile,
    RuleFile, RuleSetFile, TrapArmPoint, VentPoint,
};

/// The format's name and version, as the first key of a file states it.
pub(crate) const FORMAT: &str = "ruleset/1";

impl RuleSet {
    /// Reads a rule set from the text of a file, called `name` in messages.
    ///
    /// # Errors
    /// Everything that keeps the text from being a rule set, with its place: unknown keys and facts, values
    /// without their unit, comparisons of unlike things, citations without a section.
    pub fn read(name: &str, text: &[u8], limits: &Limits) -> Result<Self, Diagnostics> {
        let document = Document::read(name, text, limits)?;
        let mut problems = Diagnostics::keeping(limits.diagnostics);
        if document.format() == Some(amend::FORMAT) {
            let base = document.text_under(&["base", "rules"]);
            let base = base.filter(|base| !base.contains(char::is_control));
            let after = format!("{}+{name}", base.unwrap_or("BASE"));
            let problem = document.top().get(FORMAT_KEY).problem("this is an amendment");
            problems.push(problem.expecting(format!(
                "the rule set that it amends, and the amendment after it: `{after}`"
            )));
            return problems.or(None);
        }
        if !document.is_of_format(FORMAT, &mut problems) {
            return problems.or(None);
        }
        let rule_set = rule_set(&document, Vec::new(), &mut problems);
        problems.or(rule_set)
    }
}

/// The rule set in a document; `amendments` are those whose texts follow the base's.
pub(crate) fn rule_set(
    document: &Document,
    amendments: Vec<Head>,
    problems: &mut Diagnostics,
) -> Option<RuleSet> {
    let mut decoded = document.decode_sound_parts::<RuleSetFile>(problems)?;
    if decoded.is_faulty("sizes") || decoded.is_faulty("tables") {
        // Rules look things up: with a size or table missing they would only repeat the problem.
        return None;
    }
    let trimmed = decoded.document.take();
    let top = trimmed.as_ref().unwrap_or(document).top();
    let mut found = problems.like();
    let rule_set = resolve(&decoded.value, top, amendments, &mut found);
    decoded.further(found, problems);
    rule_set.filter(|_| trimmed.is_none())
}

/// What the head of a file gives to the citations in it.
pub(crate) struct Head {
    pub(crate) document: Arc<str>,
    pub(crate) edition: Arc<str>,
    pub(crate) checked: Option<Arc<str>>,
    /// Other documents that citations may name.
    pub(crate) also_cites: Vec<CitedFile>,
    /// The amendment that the file is, if it is one.
    pub(crate) amendment: Option<Arc<Amendment>>,
}

impl Head {
    fn knows(&self, document: &str, edition: &str) -> bool {
        let listed = self.also_cites.iter().map(|one| (&*one.document, &*one.edition));
        let mut known = listed.chain([(&*self.document, &*self.edition)]);
        known.any(|known| known == (document, edition))
    }
}

/// Completes citations with what the head of their file says.
pub(crate) struct Citer {
    /// By the number of the text.
    pub(crate) heads: Vec<Head>,
}

impl Citer {
    pub(crate) fn citation(
        &self,
        file: &CitationFile,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Citation> {
        if file.section.is_none() && file.basis != Basis::CommonPractice {
            problems.push(
                at.problem("this citation names no section")
                    .expecting("`section: ...`, or `basis: common_practice` where no document says it"),
            );
            return None;
        }
        if file.document.is_some() != file.edition.is_some() {
            problems.push(
                at.problem(
                    "this citation names a document without an edition, or an edition without a document",
                )
                .expecting("both, or neither where they are the file's own"),
            );
            return None;
        }
        let head = self.heads.get(at.text_number()).or(self.heads.first())?;
        if let (Some(document), Some(edition)) = (&file.document, &file.edition)
            && !head.knows(document, edition)
        {
            let known = head.also_cites.iter().map(|known| known.document.as_str());
            problems.push(
                at.get("document")
                    .problem(format!(
                        "the file does not list `{document}` of edition `{edition}`"
                    ))
                    .expecting("a document and edition listed under `also_cites` at the head of the file")
                    .suggesting(nearest(document, known.chain([&*head.document]))),
            );
            return None;
        }
        let text = |own: &Option<String>| own.as_deref().map(Arc::from);
        let amends = match &file.amends {
            None => None,
            Some(amends) => Some(Box::new(self.citation(amends, at.get("amends"), problems)?)),
        };
        Some(Citation {
            document: text(&file.document).unwrap_or_else(|| Arc::clone(&head.document)),
            edition: text(&file.edition).unwrap_or_else(|| Arc::clone(&head.edition)),
            section: text(&file.section),
            basis: file.basis,
            checked: text(&file.checked).or_else(|| head.checked.clone()),
            note: text(&file.note),
            set_by: head.amendment.clone().map(|amendment| SetBy {
                amendment,
                place: at.place(),
            }),
            since: file.since,
            amends,
        })
    }

    /// The citation of a single row or cell.
    pub(crate) fn own(&self, yaml: &Yaml, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<Citation> {
        let file: CitationFile = at.decode(yaml, problems)?;
        self.citation(&file, at, problems)
    }
}

fn resolve(
    file: &RuleSetFile,
    top: Cursor<'_>,
    amendments: Vec<Head>,
    problems: &mut Diagnostics,
) -> Option<RuleSet> {
    if let Some(checked) = &file.checked
        && checked.parse::<Day>().is_err()
    {
        let at = top.get("checked");
        problems.push(
            at.problem(format!("`{checked}` is not a day"))
                .expecting("a day such as `2026-11-25`"),
        );
    }
    if let Some(framing) = &file.framing_rules
        && (framing.trim().is_empty() || *framing == file.name)
    {
        let at = top.get("framing_rules");
        problems.push(
            at.problem(format!("`{framing}` is no other rule set"))
                .expecting("the name or file of a rule set for framing, such as `framing-irc-2021`"),
        );
    }
    let mut heads = vec![Head {
        document: file.document.as_str().into(),
        edition: file.edition.as_str().into(),
        checked: file.checked.as_deref().map(Arc::from),
        also_cites: file.also_cites.clone(),
        amendment: None,
    }];
    heads.extend(amendments);
    let citer = Citer { heads };
    let ladder = ladder(file, top.get("sizes"), problems);
    let tables = tables(&file.tables, top.get("tables"), &ladder, &citer, problems);
    if !problems.is_empty() {
        // Rules look things up in the tables: with a table missing they would only repeat the problem.
        return None;
    }
    let loader = Loader {
        ladder: &ladder,
        tables: &tables,
        citer: &citer,
        says_sharp_turn: file.definitions.sharp_turn.is_some(),
    };
    let definitions = loader.definitions(&file.definitions, top.get("definitions"), problems);
    let loads = loader.loads(&file.loads, top.get("loads"), problems);
    let hydraulics = match &file.hydraulics {
        None => None,
        Some(file) => Some(loader.hydraulics(file, top.get("hydraulics"), problems)?),
    };
    let framing = match &file.framing {
        None => None,
        Some(file) => Some(loader.framing(file, top.get("framing"), problems)?),
    };
    let protection = match &file.protection {
        None => None,
        Some(file) => Some(loader.protection(file, top.get("protection"), problems)?),
    };
    if file.protection.is_none() && !file.arrangements.is_empty() {
        problems.push(
            top.get("arrangements")
                .problem("ways of protecting a trap, where nothing asks for its protection")
                .expecting("`protection`, with what to say of a trap that none of them protects"),
        );
    }
    let at = top.get("arrangements");
    let arrangements: Vec<_> = file
        .arrangements
        .iter()
        .enumerate()
        .filter_map(|(index, arrangement)| loader.arrangement(arrangement, at.item(index), problems))
        .collect();
    let mut reach = Reach::new(&ladder, &tables);
    if let Some(loads) = &loads {
        let at = top.get("loads").get("fixture");
        for (index, case) in loads.fixture.iter().enumerate() {
            reach.check(&case.when, at.item(index).get("when"), problems);
        }
    }
    let at = top.get("rules");
    let mut names = HashSet::new();
    let mut rules = Vec::with_capacity(file.rules.len());
    for (index, rule) in file.rules.iter().enumerate() {
        let at = at.item(index);
        if !names.insert(rule.rule.as_str())
            || file.protection.as_ref().is_some_and(|own| rule.rule == own.rule)
        {
            let what = format!("a second rule is called `{}`", rule.rule);
            problems.push(
                at.get("rule")
                    .problem(what)
                    .expecting("a name of its own for each rule"),
            );
        }
        let read = loader.rule(rule, at, problems);
        if let Some(read) = &read {
            reach.rule(read, at, problems);
        }
        rules.extend(read);
    }
    let not_checked = matters(&file.not_checked, top.get("not_checked"), &citer, problems);
    let parts = RuleSetParts {
        definitions: definitions?,
        loads: loads?,
        hydraulics,
        framing,
        protection,
        name: file.name.clone(),
        title: file.title.clone(),
        document: file.document.clone(),
        edition: file.edition.clone(),
        revision: file.revision,
        framing_rules: file.framing_rules.clone(),
        notes: file.notes.clone(),
        ladder,
        tables,
        rules,
        not_checked,
        arrangements,
        layers: Vec::new(),
        changes: Vec::new(),
    };
    Some(RuleSet { parts })
}

fn matters(file: &[MatterFile], at: Cursor<'_>, citer: &Citer, problems: &mut Diagnostics) -> Vec<Matter> {
    let mut names = HashSet::new();
    let mut matters = Vec::with_capacity(file.len());
    for (index, own) in file.iter().enumerate() {
        let at = at.item(index);
        if !names.insert(own.matter.as_str()) {
            problems.push(
                at.get("matter")
                    .problem(format!("a second matter is called `{}`", own.matter))
                    .expecting("a name of its own for each matter"),
            );
        }
        let citation = citer.citation(&own.cite, at.get("cite"), problems);
        matters.extend(citation.map(|citation| Matter {
            name: own.matter.clone(),
            title: own.title.clone(),
            citation,
            place: at.place(),
        }));
    }
    matters
}

/// The most sizes that a ladder may have: a smallest size is looked for among them one by one, for every element, and
/// sizing keeps them as bits. No code knows a fifth of it.
pub const MOST_SIZES: usize = 128;

/// The most places that a bathroom group may have: how many fixtures fill each is summed along all drains.
pub const MOST_PLACES: usize = 8;

fn ladder(file: &RuleSetFile, at: Cursor<'_>, problems: &mut Diagnostics) -> Ladder {
    let mut ladder = Ladder {
        load_unit: Some(file.loads.unit),
        ..Ladder::default()
    };
    if file.sizes.len() > MOST_SIZES {
        problems.push(
            at.problem(format!("the ladder has {} sizes", file.sizes.len()))
                .expecting(format!("at most {MOST_SIZES}")),
        );
        return ladder;
    }
    for (index, size) in file.sizes.iter().enumerate() {
        let at = at.item(index);
        for name in std::iter::once(&size.size).chain(&size.also) {
            if ladder.find(*name).is_some() {
                problems.push(at.problem(format!("the size `{name}` stands on the ladder already")));
            }
        }
        if ladder
            .rungs
            .last()
            .is_some_and(|below| below.diameter >= size.diameter)
        {
            problems.push(
                at.get("diameter")
                    .problem("the sizes do not grow")
                    .expecting("a diameter above the last"),
            );
        }
        ladder.rungs.push(Rung {
            name: size.size,
            also: size.also.clone(),
            diameter: size.diameter,
        });
    }
    ladder
}

pub(crate) struct Loader<'a> {
    ladder: &'a Ladder,
    pub(crate) tables: &'a [Table],
    pub(crate) citer: &'a Citer,
    says_sharp_turn: bool,
}

impl<'a> Loader<'a> {
    pub(crate) fn scope(&self, subject: Subject) -> Scope<'a> {
        Scope {
            subject,
            ladder: self.ladder,
            tables: self.tables,
            says_sharp_turn: self.says_sharp_turn,
        }
    }

    fn definitions(
        &self,
        file: &DefinitionsFile,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Definitions> {
        let mut cite =
            |cite: &CitationFile, key: &str| self.citer.citation(cite, at.get(key).get("cite"), problems);
        let vertical = cite(&file.vertical.cite, "vertical");
        let interval = cite(&file.branch_interval.cite, "branch_interval");
        let group = cite(&file.bathroom_group.cite, "bathroom_group");
        let arm = cite(&file.trap_arm.cite, "trap_arm");
        let vent = cite(&file.vent_length.cite, "vent_length");
        let sharp = file
            .sharp_turn
            .as_ref()
            .map(|sharp| (sharp.more_than, cite(&sharp.cite, "sharp_turn")));
        let by_distance = file.branch_interval.counted_by == CountedBy::Distance;
        if by_distance != file.branch_interval.least.is_some() {
            problems.push(
                at.get("branch_interval")
                    .problem("`least` goes with `counted_by: distance`, and only with that"),
            );
        }
        let places = file.bathroom_group.needs.len() + file.bathroom_group.may_have.len();
        if places > MOST_PLACES {
            problems.push(
                at.get("bathroom_group")
                    .problem(format!("the bathroom group has {places} places"))
                    .expecting(format!(
                        "at most {MOST_PLACES} in `needs` and `may_have` together"
                    )),
            );
        }
        if file.bathroom_group.needs.iter().any(Vec::is_empty) {
            problems.push(
                at.get("bathroom_group")
                    .get("needs")
                    .problem("a place in the group that nothing can fill"),
            );
        }
        Some(Definitions {
            vertical: Vertical {
                most_from_vertical: file.vertical.most_from_vertical,
                citation: vertical?,
            },
            branch_interval: BranchInterval {
                least: file.branch_interval.least,
                citation: interval?,
            },
            bathroom_group: BathroomGroup {
                needs: file.bathroom_group.needs.clone(),
                may_have: file.bathroom_group.may_have.clone(),
                citation: group?,
            },
            trap_arm: TrapArmStart {
                from_outlet: file.trap_arm.measured_from == TrapArmPoint::FixtureOutlet,
                citation: arm?,
            },
            vent_length: VentLengthEnd {
                at_main_vent: file.vent_length.measured_to == VentPoint::MainVent,
                citation: vent?,
            },
            sharp_turn: match sharp {
                None => None,
                Some((more_than, citation)) => Some(SharpTurn {
                    more_than,
                    citation: citation?,
                }),
            },
        })
    }

    fn protection(
        &self,
        file: &ProtectionFile,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Protection> {
        let scope = self.scope(Subject::Trap);
        let text = |text: &str, key: &str, problems: &mut Diagnostics| {
            message(text, at.get(key), &scope, &[], problems)
        };
        Some(Protection {
            rule: file.rule.clone(),
            title: file.title.clone(),
            citation: self.citer.citation(&file.cite, at.get("cite"), problems)?,
            message: text(&file.message, "message", problems),
            advice: file
                .advice
                .as_ref()
                .map(|advice| text(advice, "advice", problems)),
            place: at.place(),
        })
    }

    fn arrangement(
        &self,
        file: &ArrangementFile,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Arrangement> {
        let scope = self.scope(Subject::Trap);
        let conditions: Vec<_> = file
            .conditions
            .iter()
            .enumerate()
            .map(|(index, condition)| {
                let at = at.get("conditions").item(index);
                let require = scope.condition(&condition.require, at.get("require"), problems);
                let facts = require.as_ref().map(walk::facts).unwrap_or_default();
                if let Some(fact) = facts.iter().find(|fact| fact.hangs_on_arrangements()) {
                    problems.push(
                        at.get("require")
                            .problem(format!(
                                "`{}` hangs on these conditions, and they cannot ask for it",
                                fact.name()
                            ))
                            .expecting("`protection.pattern`, or a fact of the shape"),
                    );
                }
                let citation = self.citer.citation(&condition.cite, at.get("cite"), problems);
                let text = |text: &str, key: &str, problems: &mut Diagnostics| {
                    message(text, at.get(key), &scope, &[], problems)
                };
                let said = text(&condition.message, "message", problems);
                let advice = condition
                    .advice
                    .as_ref()
                    .map(|advice| text(advice, "advice", problems));
                Some(ArrangementCondition {
                    require: require?,
                    citation: citation?,
                    message: said,
                    advice,
                    defining: condition.defining,
                    place: at.place(),
                })
            })
            .collect();
        Some(Arrangement {
            name: file.arrangement.clone(),
            title: file.title.clone(),
            pattern: file.pattern,
            citation: self.citer.citation(&file.cite, at.get("cite"), problems)?,
            conditions: conditions.into_iter().collect::<Option<_>>()?,
            needs_approval: file.needs_approval,
            place: at.place(),
        })
    }

    fn rule(&self, file: &RuleFile, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<Rule> {
        let subject = file.subject.0;
        let scope = self.scope(subject);
        let when = scope.condition(&file.when, at.get("when"), problems);
        let exceptions = self.exceptions(file, &scope, at, problems);
        let limit_citations = self.limit_citations(file, &scope, at, problems);
        let require = file
            .require
            .as_ref()
            .map(|require| scope.condition(require, at.get("require"), problems));
        let citation = self.citer.citation(&file.cite, at.get("cite"), problems);
        if file.require.is_some() == file.confirm_on_site {
            problems.push(
                at.get("rule")
                    .problem(format!(
                        "the rule `{}` asks nothing, or asks both ways",
                        file.rule
                    ))
                    .expecting(
                        "either `require`, or `confirm_on_site: true` where only a visit can settle it",
                    ),
            );
        }
        let severity = match (file.severity, citation.as_ref().map(|citation| citation.basis)) {
            (Some(Severity::Violation | Severity::NeedsApproval), Some(Basis::CommonPractice))
                if !file.confirm_on_site =>
            {
                problems.push(
                    at.get("severity")
                        .problem("common practice is not code, and cannot be violated")
                        .expecting("`advice`"),
                );
                None
            }
            (Some(severity), _) => Some(severity),
            (None, _) if file.confirm_on_site => Some(Severity::Violation),
            (None, _) => {
                problems.push(
                    at.get("rule")
                        .problem(format!(
                            "the rule `{}` does not say how serious a breach is",
                            file.rule
                        ))
                        .expecting("`severity: violation`, `needs_approval` or `advice`"),
                );
                None
            }
        };
        let show = self.show(file, &scope, at, problems);
        let text = |text: &str, key: &str, problems: &mut Diagnostics| {
            message(text, at.get(key), &scope, &show, problems)
        };
        let said = text(&file.message, "message", problems);
        let advice = file
            .advice
            .as_ref()
            .map(|advice| text(advice, "advice", problems));
        Some(Rule {
            name: file.rule.clone(),
            title: file.title.clone(),
            subject,
            when: without(when?, exceptions.as_deref()?),
            require: match require {
                None => None,
                Some(require) => Some(require?),
            },
            severity: severity?,
            citation: citation?,
            message: said,
            advice,
            show,
            limit_citations: limit_citations?,
            exceptions: exceptions?,
            notes: file.notes.clone(),
            place: at.place(),
        })
    }

    fn limit_citations(
        &self,
        file: &RuleFile,
        scope: &Scope<'_>,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Vec<LimitCitation>> {
        let at = at.get("limit_cites");
        let read: Vec<_> = file
            .limit_cites
            .iter()
            .enumerate()
            .map(|(index, own)| {
                let at = at.item(index);
                let citation = self.citer.citation(&own.cite, at.get("cite"), problems);
                Some(LimitCitation {
                    fact: scope.fact(&own.limit, at.get("limit"), problems)?,
                    order: own.order.name(),
                    citation: citation?,
                })
            })
            .collect();
        read.into_iter().collect()
    }

    fn exceptions(
        &self,
        file: &RuleFile,
        scope: &Scope<'_>,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Vec<Exception>> {
        let mut names = HashSet::new();
        let read: Vec<_> = file
            .exceptions
            .iter()
            .enumerate()
            .map(|(index, exception)| {
                let at = at.get("exceptions").item(index);
                if !names.insert(&exception.exception) {
                    let what = format!("a second exception is called `{}`", exception.exception);
                    problems.push(at.get("exception").problem(what));
                }
                let when = scope.condition(&exception.when, at.get("when"), problems);
                let citation = self.citer.citation(&exception.cite, at.get("cite"), problems);
                Some(Exception {
                    name: exception.exception.clone(),
                    when: when?,
                    citation: citation?,
                    place: at.get("exception").place(),
                })
            })
            .collect();
        read.into_iter().collect()
    }

    /// The figures under `show`. Nothing asks for a dimension there, so their form tells it: a size where one is sought
    /// (`smallest`, `size_for`, `sizes_up`), that of the column where a table is looked up, else a length.
    fn show(
        &self,
        file: &RuleFile,
        scope: &Scope<'_>,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Vec<(String, Operand)> {
        let mut shown = Vec::new();
        for (name, yaml) in &file.show {
            let at = at.get("show").get(name);
            let is_size = yaml.get("smallest").is_some()
                || yaml.get("size_for").is_some()
                || yaml.get("sizes_up").is_some();
            let dimension = if is_size {
                Dimension::Size
            } else {
                let column = yaml.get("table").and_then(Yaml::as_str).and_then(|name| {
                    let table = self.tables.iter().find(|table| table.name == name)?;
                    let column = yaml.get("column").and_then(Yaml::as_str);
                    let found = table
                        .columns
                        .iter()
                        .find(|one| column.is_none_or(|name| one.name == name));
                    found.map(|column| column.dimension)
                });
                column.unwrap_or(Dimension::Length)
            };
            shown.extend(
                scope
                    .operand(yaml, at, dimension, problems)
                    .map(|operand| (name.clone(), operand)),
            );
        }
        shown
    }
}

/// What a rule applies to, less what its exceptions take out.
fn without(when: Condition, exceptions: &[Exception]) -> Condition {
    if exceptions.is_empty() {
        return when;
    }
    let less = exceptions
        .iter()
        .map(|exception| Condition::Not(Box::new(exception.when.clone())));
    Condition::All(std::iter::once(when).chain(less).collect())
}
