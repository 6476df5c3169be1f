//! The schedules of the page. They are long in a tower, so rows leave out the tags that HTML lets be left out.

use std::fmt::Write;

use maud::{Escaper, Markup, PreEscaped, html};

use super::Page;
use crate::plain::plain;
use crate::schedules::{fixtures, pipes};

/// A row: the first cell names it, and what is none is of a column that is left out.
fn row<const CELLS: usize>(out: &mut String, cells: [Option<&str>; CELLS]) {
    out.push_str("<tr>");
    for (number, cell) in cells.into_iter().flatten().enumerate() {
        out.push_str(if number == 0 { "<th scope=row>" } else { "<td>" });
        // A string takes all that is written to it.
        let _written = Escaper::new(out).write_str(&plain(cell));
    }
}

fn table<const CELLS: usize>(label: &str, head: [Option<&str>; CELLS], rows: String) -> Markup {
    html! {
        div .scroll tabindex="0" role="region" aria-label=(label) {
            table {
                thead { tr { @for cell in head.into_iter().flatten() { th scope="col" { (cell) } } } }
                tbody { (PreEscaped(rows)) }
            }
        }
    }
}

impl Page<'_> {
    pub(super) fn fixtures(&self) -> Markup {
        let rules = self.measured.rules();
        let (loads, traps) = (rules.counts_loads(), rules.protection.is_some());
        let mut rows = String::new();
        for one in fixtures(self.measured) {
            let protected = if one.protected_by.is_empty() {
                "–"
            } else {
                &one.protected_by
            };
            row(
                &mut rows,
                [
                    Some(&one.name),
                    Some(&one.fixture),
                    Some(&one.storey),
                    Some(&one.trap),
                    loads.then_some(&one.load),
                    Some(&one.arm),
                    traps.then_some(protected),
                ],
            );
        }
        let head = [
            Some("Fixture"),
            Some("Kind"),
            Some("Storey"),
            Some("Trap"),
            loads.then_some("Load"),
            Some("Trap arm"),
            traps.then_some("Trap protected by"),
        ];
        let title = match loads {
            true => "Fixture-unit schedule",
            false => "Fixtures",
        };
        html! {
            section #fixtures aria-labelledby="fixtures-title" {
                h2 #fixtures-title { (title) }
                (table(title, head, rows))
                @if let Some(load) = &self.report.load { p { "Load at the point of disposal: " strong { (load) } } }
            }
        }
    }

    pub(super) fn pipes(&self) -> Markup {
        let loads = self.measured.rules().counts_loads();
        let mut rows = String::new();
        for one in pipes(self.measured) {
            row(
                &mut rows,
                [
                    Some(&one.name),
                    Some(&one.kind),
                    Some(&one.storey),
                    Some(&one.size),
                    Some(&one.length),
                    Some(&one.slope),
                    loads.then_some(&one.load),
                    Some(&one.developed),
                ],
            );
        }
        let head = [
            Some("Pipe"),
            Some("Kind"),
            Some("Storey"),
            Some("Size"),
            Some("Length"),
            Some("Fall or rise"),
            loads.then_some("Load"),
            Some("Developed length of vent"),
        ];
        html! {
            section #pipes aria-labelledby="pipes-title" {
                h2 #pipes-title { "Sizing schedule" }
                @if loads { p { "The load of a drain is that of all fixtures upstream; of a vent, that of the drains it serves." } }
                (table("Sizing schedule", head, rows))
            }
        }
    }
}
