//! Refuses a `when` that nothing can meet, naming the parts that contradict each other, and an exception that leaves nothing
//! of its rule.
//!
//! It refuses only what is proven; what would take too long to settle is let pass.

use crownweir_document::{Cursor, Diagnostics};

use crate::cases::{self, Cases};
use crate::model::{Condition, Rule};
use crate::table::Table;
use crate::value::Ladder;
use crate::words::Words;

/// The most steps for all of a file's conditions together.
const MOST_STEPS: u64 = 2_000_000;

pub(crate) struct Reach<'a> {
    cases: Cases<'a>,
    words: Words<'a>,
}

impl<'a> Reach<'a> {
    pub(crate) fn new(ladder: &'a Ladder, tables: &'a [Table]) -> Self {
        Self {
            cases: Cases::new(ladder, tables, MOST_STEPS),
            words: Words::from_parts(ladder, tables),
        }
    }

    /// Whether something can meet a `when`, or nothing says that it cannot.
    pub(crate) fn check(&mut self, when: &Condition, at: Cursor<'_>, problems: &mut Diagnostics) -> bool {
        let Some(why) = self.contradiction(when) else {
            return true;
        };
        problems.push(
            at.problem(format!("this `when` can never hold: {why}"))
                .expecting("a condition that something can meet")
                .helped("loosen one of these, or write them as alternatives under `any`"),
        );
        false
    }

    /// What a rule applies to, and its exceptions.
    pub(crate) fn rule(&mut self, rule: &Rule, at: Cursor<'_>, problems: &mut Diagnostics) {
        let (own, less) = rule.when_and_less();
        if !self.check(own, at.get("when"), problems) {
            return;
        }
        let denied = cases::denied(&mut self.cases, rule.subject, own);
        if !denied.is_empty() {
            let denied: Vec<_> = denied.iter().map(|part| self.quoted(part)).collect();
            let subject = rule.subject.name().replace('_', " ");
            let what = format!(
                "this `when` can never hold of a {subject}: {}",
                denied.join(" and ")
            );
            let problem = at.get("when").problem(what);
            problems.push(problem.expecting("a condition that something can meet"));
            return;
        }
        let mut left = vec![own.clone()];
        for (index, less) in less.iter().enumerate() {
            left.push(less.clone());
            if let Some(why) = self.contradiction(&Condition::All(left.clone())) {
                let at = at.get("exceptions").item(index).get("when");
                let what = format!("this exception leaves nothing of the rule `{}`: {why}", rule.name);
                problems.push(at.problem(what).expecting("a part of what the rule applies to"));
                return;
            }
        }
    }

    /// Why nothing can meet a condition, where that is proven.
    fn contradiction(&mut self, condition: &Condition) -> Option<String> {
        let parts = cases::contradiction(&mut self.cases, condition);
        let parts: Vec<_> = parts.iter().map(|part| self.quoted(part)).collect();
        match &parts[..] {
            [] => None,
            [only] => Some(format!("nothing meets {only}")),
            [one, other] => Some(format!("{one} contradicts {other}")),
            many => Some(format!("{} cannot all be", many.join(", "))),
        }
    }

    fn quoted(&self, part: &Condition) -> String {
        format!("`{}`", self.words.in_line(part))
    }
}
