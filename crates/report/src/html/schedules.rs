//! The schedules of the page. They are long in a tower, so rows leave out the tags that HTML lets be left out.

use std::fmt::Write;

use maud::{Escaper, Markup, PreEscaped, html};

use super::Page;
use crate::plain::plain;
use crate::schedules::{fixtures, pipes};

/// A row: the first cell names it.
fn row<const CELLS: usize>(out: &mut String, cells: [&str; CELLS]) {
    out.push_str("<tr>");
    for (number, cell) in cells.iter().enumerate() {
        out.push_str(if number == 0 { "<th scope=row>" } else { "<td>" });
        // A string takes all that is written to it.
        let _written = Escaper::new(out).write_str(&plain(cell));
    }
}

fn table<const CELLS: usize>(label: &str, head: [&str; CELLS], rows: String) -> Markup {
    html! {
        div .scroll tabindex="0" role="region" aria-label=(label) {
            table {
                thead { tr { @for cell in head { th scope="col" { (cell) } } } }
                tbody { (PreEscaped(rows)) }
            }
        }
    }
}

impl Page<'_> {
    pub(super) fn fixtures(&self) -> Markup {
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
                    &one.name,
                    &one.fixture,
                    &one.storey,
                    &one.trap,
                    &one.load,
                    &one.arm,
                    protected,
                ],
            );
        }
        let head = [
            "Fixture",
            "Kind",
            "Storey",
            "Trap",
            "Load",
            "Trap arm",
            "Trap protected by",
        ];
        html! {
            section #fixtures aria-labelledby="fixtures-title" {
                h2 #fixtures-title { "Fixture-unit schedule" }
                (table("Fixture-unit schedule", head, rows))
                @if let Some(load) = &self.report.load { p { "Load at the point of disposal: " strong { (load) } } }
            }
        }
    }

    pub(super) fn pipes(&self) -> Markup {
        let mut rows = String::new();
        for one in pipes(self.measured) {
            row(
                &mut rows,
                [
                    &one.name,
                    &one.kind,
                    &one.storey,
                    &one.size,
                    &one.length,
                    &one.slope,
                    &one.load,
                    &one.developed,
                ],
            );
        }
        let head = [
            "Pipe",
            "Kind",
            "Storey",
            "Size",
            "Length",
            "Fall or rise",
            "Load",
            "Developed length of vent",
        ];
        html! {
            section #pipes aria-labelledby="pipes-title" {
                h2 #pipes-title { "Sizing schedule" }
                p { "The load of a drain is that of all fixtures upstream; of a vent, that of the drains it serves." }
                (table("Sizing schedule", head, rows))
            }
        }
    }
}
