//! Rules, arrangements, loads and protection compared: conditions by their meaning, messages by their text.

use std::collections::BTreeMap;

use super::{ALL, At, Section, Side, Sides, paired, texts};
use crate::changes::Change;
use crate::model::{Arrangement, ArrangementCondition, Condition, LoadCase, Operand, Protection, Rule};

impl Side<'_> {
    fn spelling(&self, condition: &Condition) -> String {
        self.canonical(|canonical| canonical.condition(condition))
    }
}

impl Sides<'_> {
    /// A condition, or an operand, in one spelling for comparing and in words for people.
    fn condition(
        &self,
        at: &At<'_>,
        part: &str,
        before: Option<&Condition>,
        after: Option<&Condition>,
        found: &mut Vec<Change>,
    ) {
        let old = before.map(|condition| self.before.spelling(condition));
        let new = after.map(|condition| self.after.spelling(condition));
        if old != new {
            let before = before.map(|condition| self.before.words.in_line(condition));
            let after = after.map(|condition| self.after.words.in_line(condition));
            found.push(at.told(part, (before, after), (old, new)));
        }
    }

    pub(super) fn operand(
        &self,
        at: &At<'_>,
        part: &str,
        before: Option<&Operand>,
        after: Option<&Operand>,
        found: &mut Vec<Change>,
    ) {
        let old = before.map(|operand| self.before.canonical(|canonical| canonical.operand(operand)));
        let new = after.map(|operand| self.after.canonical(|canonical| canonical.operand(operand)));
        if old != new {
            let before = before.map(|operand| self.before.words.operand(operand));
            let after = after.map(|operand| self.after.words.operand(operand));
            found.push(at.told(part, (before, after), (old, new)));
        }
    }

    pub(super) fn rules(&self, found: &mut Vec<Change>) {
        let (before, after) = (&self.before.rules.rules, &self.after.rules.rules);
        for (name, pair) in paired(before, after, |rule| &rule.name) {
            let at = At::new(Section::Rules, name);
            let told = |rule: &Rule| Some(format!("{} [{}]", rule.title, rule.citation));
            match pair {
                (Some(old), Some(new)) => {
                    let (before, after) = (self.before.place_of_rule(old), self.after.place_of_rule(new));
                    self.rule(&at.placed(Some(before), Some(after)), old, new, found);
                }
                (Some(old), None) => {
                    found.push(at.placed(Some(&old.place), None).change(ALL, told(old), None))
                }
                (None, Some(new)) => {
                    found.push(at.placed(None, Some(&new.place)).change(ALL, None, told(new)))
                }
                (None, None) => {}
            }
        }
    }

    fn rule(&self, at: &At<'_>, old: &Rule, new: &Rule, found: &mut Vec<Change>) {
        at.text("title", old.title.clone(), new.title.clone(), found);
        at.text(
            "subject",
            old.subject.name().to_owned(),
            new.subject.name().to_owned(),
            found,
        );
        self.condition(at, "when", Some(&old.when), Some(&new.when), found);
        self.condition(at, "require", old.require.as_ref(), new.require.as_ref(), found);
        at.text(
            "severity",
            old.severity.name().to_owned(),
            new.severity.name().to_owned(),
            found,
        );
        at.citation("citation", &old.citation, &new.citation, found);
        let limits = |rule: &Rule| {
            let told: Vec<_> = rule
                .limit_citations
                .iter()
                .map(|own| {
                    format!(
                        "{} {}: {}",
                        own.fact.name(),
                        own.order,
                        texts::citation(&own.citation)
                    )
                })
                .collect();
            (!told.is_empty()).then(|| told.join("; "))
        };
        at.optional("citation of limits", limits(old), limits(new), found);
        let message = |rule: &Rule| texts::message(&rule.message, Some(rule));
        at.text("message", message(old), message(new), found);
        let advice = |rule: &Rule| {
            rule.advice
                .as_ref()
                .map(|advice| texts::message(advice, Some(rule)))
        };
        at.optional("advice", advice(old), advice(new), found);
        let notes = |rule: &Rule| (!rule.notes.is_empty()).then(|| rule.notes.join("; "));
        at.optional("notes", notes(old), notes(new), found);
        let mut shown: BTreeMap<&str, (Option<&Operand>, Option<&Operand>)> = BTreeMap::new();
        for (name, operand) in &old.show {
            shown.entry(name).or_default().0 = Some(operand);
        }
        for (name, operand) in &new.show {
            shown.entry(name).or_default().1 = Some(operand);
        }
        for (name, (before, after)) in shown {
            self.operand(at, &format!("show {name}"), before, after, found);
        }
    }

    pub(super) fn protection(&self, found: &mut Vec<Change>) {
        let (old, new) = (&self.before.rules.protection, &self.after.rules.protection);
        let told = |one: &Protection| Some(format!("{} [{}]", one.title, one.citation));
        let (old, new) = match (old, new) {
            (None, None) => return,
            (None, Some(new)) => {
                let at = At::new(Section::Protection, &new.rule).placed(None, Some(&new.place));
                return found.push(at.change(ALL, None, told(new)));
            }
            (Some(old), None) => {
                let at = At::new(Section::Protection, &old.rule).placed(Some(&old.place), None);
                return found.push(at.change(ALL, told(old), None));
            }
            (Some(old), Some(new)) => (old, new),
        };
        let at = At::new(Section::Protection, &new.rule).placed(Some(&old.place), Some(&new.place));
        at.text("rule", old.rule.clone(), new.rule.clone(), found);
        at.text("title", old.title.clone(), new.title.clone(), found);
        at.citation("citation", &old.citation, &new.citation, found);
        at.text(
            "message",
            texts::message(&old.message, None),
            texts::message(&new.message, None),
            found,
        );
        let advice = |advice: &Option<_>| advice.as_ref().map(|advice| texts::message(advice, None));
        at.optional("advice", advice(&old.advice), advice(&new.advice), found);
    }

    pub(super) fn arrangements(&self, found: &mut Vec<Change>) {
        let (before, after) = (&self.before.rules.arrangements, &self.after.rules.arrangements);
        for (name, pair) in paired(before, after, |arrangement| &arrangement.name) {
            let at = At::new(Section::Arrangements, name);
            let told = |one: &Arrangement| Some(format!("{} [{}]", one.title, one.citation));
            match pair {
                (Some(old), Some(new)) => {
                    let (before, after) = (
                        self.before.place_of_arrangement(old),
                        self.after.place_of_arrangement(new),
                    );
                    self.arrangement(&at.placed(Some(before), Some(after)), old, new, found);
                }
                (Some(old), None) => {
                    found.push(at.placed(Some(&old.place), None).change(ALL, told(old), None))
                }
                (None, Some(new)) => {
                    found.push(at.placed(None, Some(&new.place)).change(ALL, None, told(new)))
                }
                (None, None) => {}
            }
        }
    }

    fn arrangement(&self, at: &At<'_>, old: &Arrangement, new: &Arrangement, found: &mut Vec<Change>) {
        at.text("title", old.title.clone(), new.title.clone(), found);
        at.text(
            "pattern",
            old.pattern.name().to_owned(),
            new.pattern.name().to_owned(),
            found,
        );
        at.citation("citation", &old.citation, &new.citation, found);
        let approval = |one: &Arrangement| {
            if one.needs_approval {
                "asked for"
            } else {
                "not asked for"
            }
        };
        at.text(
            "approval",
            approval(old).to_owned(),
            approval(new).to_owned(),
            found,
        );
        let message = |one: &ArrangementCondition| texts::message(&one.message, None);
        let advice =
            |one: &ArrangementCondition| one.advice.as_ref().map(|advice| texts::message(advice, None));
        let failing = |one: &ArrangementCondition| {
            if one.defining {
                "keeps it from being the nearest"
            } else {
                "leaves it among the nearest"
            }
            .to_owned()
        };
        let old_conditions = old.conditions.iter();
        let mut gone: Vec<(String, &ArrangementCondition)> = old_conditions
            .map(|one| (self.before.spelling(&one.require), one))
            .collect();
        let mut fresh = Vec::new();
        for one in &new.conditions {
            let asks = self.after.spelling(&one.require);
            let known = gone.iter().position(|(asked, _)| *asked == asks);
            let Some((_, known)) = known.map(|known| gone.remove(known)) else {
                fresh.push(one);
                continue;
            };
            let at = at.clone().placed(Some(&known.place), Some(&one.place));
            let asked = self.after.words.in_line(&one.require);
            let part = |what: &str| format!("{what} of the condition that {asked}");
            at.citation(&part("citation"), &known.citation, &one.citation, found);
            at.text(&part("message"), message(known), message(one), found);
            at.optional(&part("advice"), advice(known), advice(one), found);
            at.text(&part("failure"), failing(known), failing(one), found);
        }
        // A condition that still says the same when it fails is the same condition, asking something else.
        let mut gone: Vec<(String, &ArrangementCondition)> =
            gone.into_iter().map(|(_, one)| (message(one), one)).collect();
        fresh.retain(|one| {
            let says = message(one);
            let Some(known) = gone.iter().position(|(said, _)| *said == says) else {
                return true;
            };
            let (_, known) = gone.remove(known);
            let at = &at.clone().placed(Some(&known.place), Some(&one.place));
            self.condition(at, "condition", Some(&known.require), Some(&one.require), found);
            at.optional("advice of a condition", advice(known), advice(one), found);
            at.text("failure of a condition", failing(known), failing(one), found);
            at.citation("citation of a condition", &known.citation, &one.citation, found);
            false
        });
        let told = |side: &Side<'_>, one: &ArrangementCondition| {
            Some(format!("{} [{}]", side.words.in_line(&one.require), one.citation))
        };
        found.extend(gone.iter().map(|(_, one)| {
            let at = at.clone().placed(Some(&one.place), at.after);
            at.change("condition", told(&self.before, one), None)
        }));
        found.extend(fresh.iter().map(|one| {
            let at = at.clone().placed(None, Some(&one.place));
            at.change("condition", None, told(&self.after, one))
        }));
    }

    /// Cases of a fixture's load, and the load of a group.
    pub(super) fn loads(&self, found: &mut Vec<Change>) {
        let (old, new) = (&self.before.rules.loads, &self.after.rules.loads);
        let at = At::new(Section::Loads, "fixture");
        let mut gone: BTreeMap<String, (usize, &LoadCase)> = BTreeMap::new();
        for (index, case) in old.fixture.iter().enumerate() {
            // Of two cases for the same, only the first is ever taken.
            gone.entry(self.before.spelling(&case.when))
                .or_insert((index, case));
        }
        let told = |side: &Side<'_>, case: &LoadCase| {
            let load = side.words.operand(&case.load);
            let in_full = if case.in_full { " in full" } else { "" };
            Some(format!(
                "{load}{in_full} where {}",
                side.words.in_line(&case.when)
            ))
        };
        let mut kept = Vec::new();
        for case in &new.fixture {
            let at = at.clone().placed(None, Some(&case.place));
            let Some((index, known)) = gone.remove(&self.after.spelling(&case.when)) else {
                found.push(at.change(ALL, None, told(&self.after, case)));
                continue;
            };
            kept.push((index, known));
            let at = at.placed(Some(&known.place), Some(&case.place));
            let part = format!("load where {}", self.after.words.in_line(&case.when));
            if known.in_full != case.in_full {
                found.push(at.change(&part, told(&self.before, known), told(&self.after, case)));
                continue;
            }
            self.operand(&at, &part, Some(&known.load), Some(&case.load), found);
        }
        let mut left: Vec<_> = gone.into_values().collect();
        left.sort_by_key(|(index, _)| *index);
        for (_, case) in left {
            let at = at.clone().placed(Some(&case.place), None);
            found.push(at.change(ALL, told(&self.before, case), None));
        }
        if !kept.is_sorted_by_key(|(index, _)| *index) {
            let said = |cases: &[(usize, &LoadCase)]| {
                let cases = cases
                    .iter()
                    .map(|(_, case)| self.before.words.in_line(&case.when));
                Some(cases.collect::<Vec<_>>().join("; "))
            };
            let after = said(&kept);
            kept.sort_by_key(|(index, _)| *index);
            found.push(at.change("order of cases", said(&kept), after));
        }
        let at = At::new(Section::Loads, "group");
        self.operand(&at, "load", old.group.as_ref(), new.group.as_ref(), found);
    }
}
