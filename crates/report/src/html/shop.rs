//! The shop sheets of the page.

use crownweir_shop::{Cell, Holds, Sheet, on_tape};
use maud::{Markup, html};

use super::{Page, named};
use crate::plain::plain;

/// Rows past so many are left out of the page; a sheet of its own has them all.
const MOST_ROWS: usize = 2_000;

impl Page<'_> {
    pub(super) fn shop(&self) -> Markup {
        html! {
            @if !self.shop.is_empty() {
                section #shop aria-labelledby="shop-title" {
                    h2 #shop-title { "Shop sheets" }
                    @for sheet in self.shop { (table(sheet)) }
                }
            }
        }
    }
}

fn table(sheet: &Sheet) -> Markup {
    let more = sheet.rows.len().saturating_sub(MOST_ROWS);
    let number = |holds: Holds| !matches!(holds, Holds::Text);
    html! {
        h3 #{ "shop-" (sheet.name) } { (sheet.title) }
        div .scroll tabindex="0" role="region" aria-label={ "Shop sheet: " (sheet.title) } {
            table {
                thead { tr { @for column in &sheet.columns { th scope="col" .number[number(column.holds)] { (column.title) } } } }
                tbody {
                    @for row in sheet.rows.iter().take(MOST_ROWS) {
                        tr {
                            @for (cell, column) in row.iter().zip(&sheet.columns) {
                                td .number[number(column.holds)] { (written(cell, sheet)) }
                            }
                        }
                    }
                }
            }
        }
        @if more > 0 { p { (more) " more rows are left out here." } }
        @for note in &sheet.notes { p .note { (plain(note)) } }
    }
}

fn written(cell: &Cell, sheet: &Sheet) -> Markup {
    html! {
        @match cell {
            Cell::Text(text) => (named(text)),
            Cell::Length(length) => (on_tape(*length, sheet.notation)),
            Cell::Slope(slope) => (slope.in_notation(sheet.notation)),
            Cell::Count(count) => (count),
            Cell::List(list) => @for (place, one) in list.iter().enumerate() { @if place > 0 { ", " } (named(one)) },
            Cell::NotStated(missing) => em { "not stated: " (plain(&missing.join("; "))) },
            Cell::Line => "________",
            _ => "",
        }
    }
}
