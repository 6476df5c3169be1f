//! Sheets as one workbook for spreadsheet programs, after the open standard ISO/IEC 29500.
//!
//! Numbers are numbers, with their unit in the heading; words are never taken for formulas. The same sheets give the same
//! bytes: no clock is asked.

use crownweir_document::Unwritable;
use crownweir_quantity::{Notation, Slope};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError};

use crate::sheet::{Cell, Column, Holds, Sheet};

/// How wide a column may become, in pixels, before its words are broken into lines.
const WIDEST: u32 = 360;

/// The bytes of a workbook with a page for each sheet, its notes below it.
///
/// # Errors
/// A sheet that is larger than a workbook's pages can be.
pub fn workbook(sheets: &[Sheet]) -> Result<Vec<u8>, Unwritable> {
    written(sheets).map_err(Unwritable::new)
}

fn written(sheets: &[Sheet]) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    // The first day that the container's own time stamps know stands for none.
    let no_day = ExcelDateTime::from_ymd(1980, 1, 1)?;
    workbook.set_properties(&DocProperties::new().set_creation_datetime(&no_day));
    let styles = Styles::new();
    for sheet in sheets {
        page(workbook.add_worksheet(), sheet, &styles)?;
    }
    workbook.save_to_buffer()
}

/// How cells look.
struct Styles {
    title: Format,
    heading: Format,
    text: Format,
    missing: Format,
    line: Format,
    count: Format,
    /// Inches and inches per foot, with their fractions.
    fraction: Format,
    millimetres: Format,
    percent: Format,
}

impl Styles {
    fn new() -> Self {
        let top = || Format::new().set_align(FormatAlign::Top);
        Self {
            title: Format::new().set_bold().set_font_size(14),
            heading: top()
                .set_bold()
                .set_border_bottom(rust_xlsxwriter::FormatBorder::Thin),
            text: top().set_text_wrap(),
            missing: top().set_italic(),
            line: top().set_border_bottom(rust_xlsxwriter::FormatBorder::Thin),
            count: top().set_num_format("0"),
            fraction: top().set_num_format("# ??/??"),
            millimetres: top().set_num_format("0"),
            percent: top().set_num_format("0.0##"),
        }
    }
}

/// The row of the headings, under the title and an empty row.
const HEADINGS: u32 = 2;

fn page(page: &mut Worksheet, sheet: &Sheet, styles: &Styles) -> Result<(), XlsxError> {
    page.set_name(sheet.name)?;
    let mut at = HEADINGS;
    for (place, column) in (0..).zip(&sheet.columns) {
        let title = match unit(sheet, *column) {
            Some(unit) => format!("{} ({unit})", column.title),
            None => column.title.to_owned(),
        };
        page.write_string_with_format(at, place, title, &styles.heading)?;
    }
    for row in &sheet.rows {
        at += 1;
        for (place, cell) in (0..).zip(row) {
            write(page, (at, place), sheet, cell, styles)?;
        }
    }
    let last = u16::try_from(sheet.columns.len().saturating_sub(1)).unwrap_or(u16::MAX);
    page.autofilter(HEADINGS, 0, at, last)?;
    // Title and notes are long, and run over the columns: they are written when the widths are settled.
    page.set_autofit_max_width(WIDEST);
    page.autofit();
    page.write_string_with_format(0, 0, format!("{}: {}", sheet.network, sheet.title), &styles.title)?;
    let missing = sheet.missing();
    let missing = missing.iter().map(|missing| format!("Not stated: {missing}"));
    for note in missing.chain(sheet.notes.iter().cloned()) {
        at += 1;
        page.write_string(at + 1, 0, note)?;
    }
    page.set_freeze_panes(HEADINGS + 1, 0)?;
    page.set_landscape().set_print_fit_to_pages(1, 0);
    page.set_repeat_rows(HEADINGS, HEADINGS)?;
    page.set_footer("&L&A&RPage &P of &N");
    Ok(())
}

/// The unit of a column's numbers.
fn unit(sheet: &Sheet, column: Column) -> Option<&'static str> {
    match (column.holds, sheet.notation) {
        (Holds::Slope, Notation::Inches) => Some("in/ft"),
        (Holds::Slope, Notation::Millimetres) => Some("%"),
        _ => sheet.unit(column),
    }
}

fn write(
    page: &mut Worksheet,
    (row, column): (u32, u16),
    sheet: &Sheet,
    cell: &Cell,
    styles: &Styles,
) -> Result<(), XlsxError> {
    let metric = sheet.notation == Notation::Millimetres;
    match cell {
        Cell::Empty => {}
        Cell::Text(_) | Cell::List(_) => {
            page.write_string_with_format(row, column, sheet.shown(cell), &styles.text)?;
        }
        Cell::NotStated(_) => {
            page.write_string_with_format(row, column, sheet.shown(cell), &styles.missing)?;
        }
        Cell::Line => {
            page.write_blank(row, column, &styles.line)?;
        }
        Cell::Count(count) => {
            page.write_number_with_format(row, column, *count as f64, &styles.count)?;
        }
        Cell::Length(length) => {
            let style = if metric {
                &styles.millimetres
            } else {
                &styles.fraction
            };
            // What is printed is a decimal number: whole millimetres, or sixteenths of an inch.
            let number: f64 = sheet.number(*length).parse().unwrap_or(f64::NAN);
            page.write_number_with_format(row, column, number, style)?;
        }
        Cell::Slope(slope) => match rate(*slope, metric) {
            Some(rate) => {
                let style = if metric { &styles.percent } else { &styles.fraction };
                page.write_number_with_format(row, column, rate, style)?;
            }
            None => {
                page.write_string_with_format(row, column, sheet.shown(cell), &styles.text)?;
            }
        },
    }
    Ok(())
}

/// A slope in hundredths, or in inches per foot; none of one that is vertical.
fn rate(slope: Slope, metric: bool) -> Option<f64> {
    let slope = slope.as_f64().filter(|_| !slope.is_vertical())?;
    Some(slope * if metric { 100.0 } else { 12.0 })
}
