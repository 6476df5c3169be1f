//! Cells to be filled, and cells that rest on memory.

use super::{Audit, MemoryCells, RemarkKind};
use crate::model::Basis;
use crate::table::{Cell, Content, Row, Table};

/// A cell by its keys and column, as a reader would call it.
pub(super) fn called(audit: &Audit<'_>, table: &Table, row: &Row, column: usize) -> String {
    let keys = table.keys.iter().zip(&row.keys);
    let keys: Vec<_> = keys
        .map(|(key, value)| format!("{} {}", key.name, audit.words.key(*value)))
        .collect();
    let column = table
        .columns
        .get(column)
        .map_or("", |column| column.name.as_str());
    format!("`{column}` of the table `{}` for {}", table.name, keys.join(", "))
}

fn each(table: &Table) -> impl Iterator<Item = (&Row, usize, &Cell)> {
    let rows = table.rows.iter();
    rows.flat_map(|row| {
        row.cells
            .iter()
            .enumerate()
            .map(move |(column, cell)| (row, column, cell))
    })
}

pub(super) fn unfilled(audit: &mut Audit<'_>, table: &Table) {
    for (row, column, cell) in each(table) {
        if cell.content == Content::Unfilled {
            let message = format!("{} is not filled", called(audit, table, row, column));
            let to_do = "fill it from its source; until then rules that read it stay open";
            audit.notice(RemarkKind::Unfilled, &cell.place, message, to_do);
        }
    }
}

pub(super) fn from_memory(audit: &mut Audit<'_>, table: &Table, memory: MemoryCells) {
    let basis = |cell: &Cell| cell.citation.as_ref().unwrap_or(&table.citation).basis;
    let known = |cell: &Cell| cell.content != Content::Unfilled;
    let to_do = "compare with the adopted book and cite what was read";
    let cells: Vec<_> = each(table)
        .filter(|(_, _, cell)| known(cell) && basis(cell) == Basis::Memory)
        .collect();
    if cells.is_empty() {
        return;
    }
    if memory == MemoryCells::Counted {
        let all = each(table).filter(|(_, _, cell)| known(cell)).count();
        let message = format!(
            "{} of the {all} cells of the table `{}` rest on memory alone",
            cells.len(),
            table.name
        );
        audit.notice(RemarkKind::FromMemory, &table.place, message, to_do);
        return;
    }
    for (row, column, cell) in cells {
        let message = format!(
            "{} is {}, from memory",
            called(audit, table, row, column),
            audit.words.content(cell.content)
        );
        audit.notice(RemarkKind::FromMemory, &cell.place, message, to_do);
    }
}
