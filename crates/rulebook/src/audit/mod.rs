//! Static analysis of a rule set: what in it contradicts itself, is never reached, is missing, or is not yet known.
//!
//! It needs no network, changes nothing, and reports as a fault only what is proven.

mod cells;
mod order;
mod readers;
mod rows;
mod rows_never_asked;
mod rules;
mod series;
mod use_of;
mod words_without_row;

use std::collections::BTreeMap;
use std::ops::Range;

use crownweir_document::Place;

use crate::cases::Cases;
use crate::model::RuleSet;
use crate::table::Table;
use crate::value::Size;
use crate::words::Words;

/// Something that an author or reader of a rule set should know about it.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Remark {
    /// What kind of thing it is.
    pub kind: RemarkKind,
    /// Whether it has to be mended.
    pub weight: Weight,
    /// Where it is.
    pub place: Place,
    /// What is so, in one line.
    pub message: String,
    /// Which part of the message, in bytes, sets the remark apart from others that say the same of other words or facts.
    pub varies: Option<Range<usize>>,
    /// What to do about it.
    pub to_do: String,
}

/// How much a remark weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Weight {
    /// The rule set says something that it cannot mean.
    Fault,
    /// It may well be meant, and a reader should know it.
    Notice,
}

impl Weight {
    /// The weight in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Fault => "fault",
            Self::Notice => "notice",
        }
    }
}

/// Whether each cell that is known from memory alone is listed, or each table's are only counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MemoryCells {
    /// One remark for each table.
    #[default]
    Counted,
    /// One remark for each cell.
    Listed,
}

macro_rules! kinds {
    ($($(#[doc = $doc:literal])+ $kind:ident $name:literal $title:literal,)*) => {
        /// What kind of thing a remark is about.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum RemarkKind { $($(#[doc = $doc])+ $kind,)* }

        impl RemarkKind {
            /// Every kind, in the order of a report.
            pub const ALL: &'static [Self] = &[$(Self::$kind,)*];

            /// The name by which programs know it.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$kind => $name,)* }
            }

            /// The heading over remarks of the kind.
            #[must_use]
            pub const fn title(self) -> &'static str {
                match self { $(Self::$kind => $title,)* }
            }
        }
    };
}

kinds! {
    /// Two rules speak about the same things, and no thing can meet both.
    Contradiction "contradiction" "Rules that can never both hold",
    /// A rule's `when` cannot hold.
    NeverApplies "never_applies" "Rules that apply to nothing",
    /// Whatever a rule applies to breaks it, or whatever an arrangement is asked of fails it.
    NeverMet "never_met" "Rules that nothing can meet",
    /// Whatever a rule applies to meets it.
    AlwaysMet "always_met" "Rules that nothing can break",
    /// Two rules ask the same of the same things.
    SameRule "same_rule" "Rules that ask the same",
    /// Earlier cases take all that a case of the loads would.
    CaseNeverReached "case_never_reached" "Cases of a load that are never reached",
    /// A row that no look-up finds.
    RowNeverFound "row_never_found" "Rows that no look-up finds",
    /// Two rows match the same keys and neither is the more particular.
    RowsOverlap "rows_overlap" "Rows that overlap",
    /// A word that a rule looks up and no row has.
    WordWithoutRow "word_without_row" "Words without a row",
    /// Values beyond the bounds of all rows.
    BeyondRows "beyond_rows" "Values beyond the rows",
    /// Sizes that a table passes over or stops short of.
    SizesMissing "sizes_missing" "Sizes missing from a series",
    /// A value that goes against the order of its column.
    OutOfOrder "out_of_order" "Values out of order",
    /// A cell to be filled from its source.
    Unfilled "unfilled" "Cells to be filled",
    /// Cells for which nothing stands but memory.
    FromMemory "from_memory" "Cells from memory",
    /// A table that nothing reads.
    UnreadTable "unread_table" "Tables that nothing reads",
    /// A column that nothing reads.
    UnreadColumn "unread_column" "Columns that nothing reads",
    /// A fact that nothing in the rule set speaks of.
    UnusedFact "unused_fact" "Facts that no rule uses",
    /// Something too large to be looked into whole.
    NotExamined "not_examined" "Not looked into",
}

/// The most rows that are compared with keys, in all look-ups of an audit together.
const MOST_COMPARED: usize = 50_000_000;

/// The most steps that reasoning over a rule set's conditions may take.
const MOST_STEPS: u64 = 20_000_000;

/// What every part of the audit works with.
pub(crate) struct Audit<'a> {
    pub(crate) rules: &'a RuleSet,
    pub(crate) words: Words<'a>,
    pub(crate) cases: Cases<'a>,
    /// How many more rows may be compared with keys.
    pub(crate) compares: usize,
    /// For each size, two of the tables at most that have rows for exactly it.
    pub(crate) tables_with: BTreeMap<Size, Vec<usize>>,
    remarks: Vec<Remark>,
}

impl Audit<'_> {
    pub(crate) fn fault(
        &mut self,
        kind: RemarkKind,
        place: &Place,
        message: String,
        to_do: impl Into<String>,
    ) {
        self.remark(kind, Weight::Fault, place, message, to_do);
    }

    pub(crate) fn notice(
        &mut self,
        kind: RemarkKind,
        place: &Place,
        message: String,
        to_do: impl Into<String>,
    ) {
        self.remark(kind, Weight::Notice, place, message, to_do);
    }

    pub(crate) fn remark(
        &mut self,
        kind: RemarkKind,
        weight: Weight,
        place: &Place,
        message: String,
        to_do: impl Into<String>,
    ) {
        self.remarks.push(Remark {
            kind,
            weight,
            place: place.clone(),
            message,
            varies: None,
            to_do: to_do.into(),
        });
    }

    /// Tells which words of the last remark set it apart from others that say the same.
    pub(crate) fn varying(&mut self, words: &str) {
        if let Some(remark) = self.remarks.last_mut() {
            let start = remark.message.find(words);
            remark.varies = start.map(|start| start..start + words.len());
        }
    }

    pub(crate) fn not_examined(&mut self, table: &Table, what: &str) {
        self.notice(
            RemarkKind::NotExamined,
            &table.place,
            format!(
                "the table `{}` is too large to be looked through for {what}",
                table.name
            ),
            "part it into smaller tables",
        );
    }
}

/// Where something else stands that is told of beside what stands at a place.
fn beside(place: &Place, other: &Place) -> String {
    if place.file == other.file {
        format!("in line {}", other.line)
    } else {
        format!("in {}:{}", other.file, other.line)
    }
}

/// Everything found, by file and place.
#[must_use]
pub fn audit(rules: &RuleSet, memory: MemoryCells) -> Vec<Remark> {
    let mut audit = Audit {
        rules,
        words: Words::of(rules),
        cases: Cases::new(&rules.ladder, &rules.tables, MOST_STEPS),
        compares: MOST_COMPARED,
        tables_with: series::tables_with(rules),
        remarks: Vec::new(),
    };
    for (index, table) in rules.tables.iter().enumerate() {
        rows::never_found(&mut audit, table);
        rows::overlaps(&mut audit, table);
        rows::beyond(&mut audit, table);
        series::sizes_missing(&mut audit, index);
        order::out_of_order(&mut audit, table);
        cells::unfilled(&mut audit, table);
        cells::from_memory(&mut audit, table, memory);
    }
    words_without_row::words_without_row(&mut audit);
    rows_never_asked::rows_never_asked(&mut audit);
    rules::single(&mut audit);
    rules::cases_of_loads(&mut audit);
    rules::arrangements(&mut audit);
    rules::same(&mut audit);
    rules::contradictions(&mut audit);
    use_of::tables(&mut audit);
    use_of::facts(&mut audit);
    if audit.cases.is_exhausted() {
        let message = "the rules are too many or too large to be reasoned over to the end".to_owned();
        let place = use_of::head(rules);
        audit.notice(RemarkKind::NotExamined, &place, message, "part the rule set");
    }
    let mut remarks = audit.remarks;
    let at = |remark: &Remark| (remark.place.file.clone(), remark.place.line, remark.place.column);
    remarks.sort_by(|one, other| {
        at(one)
            .cmp(&at(other))
            .then(one.kind.cmp(&other.kind))
            .then_with(|| one.message.cmp(&other.message))
    });
    remarks
}
