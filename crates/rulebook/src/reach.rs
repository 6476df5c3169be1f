//! Refuses a `when` that nothing can meet, naming the parts that contradict each other.
//!
//! It refuses only what is proven; what would take too long to settle is let pass.

use crownweir_document::{Cursor, Diagnostics};

use crate::cases::{self, Cases};
use crate::model::Condition;
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

    pub(crate) fn check(&mut self, when: &Condition, at: Cursor<'_>, problems: &mut Diagnostics) {
        let parts = cases::contradiction(&mut self.cases, when);
        let parts: Vec<_> = parts
            .iter()
            .map(|part| format!("`{}`", self.words.in_line(part)))
            .collect();
        let why = match &parts[..] {
            [] => return,
            [only] => format!("nothing meets {only}"),
            [one, other] => format!("{one} contradicts {other}"),
            many => format!("{} cannot all be", many.join(", ")),
        };
        problems.push(
            at.problem(format!("this `when` can never hold: {why}"))
                .expecting("a condition that something can meet")
                .helped("loosen one of these, or write them as alternatives under `any`"),
        );
    }
}
