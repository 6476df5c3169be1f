//! Results that stand already: which of them hold, so that the rest can be written on under them.

use std::io::{self, BufRead};

use serde::Deserialize;

use crate::line::{Header, Outcome};
use crate::source::{Record, Source};

/// Why results cannot be written on.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Differs {
    /// They cannot be read.
    #[error("cannot read the results: {0}")]
    Unreadable(#[from] io::Error),
    /// The first line is not the head of results.
    #[error("its first line is not the head of batch results")]
    NoHead,
    /// They were made otherwise.
    #[error("its results were made with {what} `{there}`, now it is `{here}`")]
    Otherwise {
        /// What differs.
        what: &'static str,
        /// As it stands in the results.
        there: String,
        /// As it is now.
        here: String,
    },
    /// A line is not a result.
    #[error("line {line} is not the result of a record")]
    NoResult {
        /// The line.
        line: u64,
    },
    /// A record is not the one whose result stands there.
    #[error("the result in line {line} is of another record than number {record} of the input")]
    OtherRecord {
        /// The line.
        line: u64,
        /// The record.
        record: u64,
    },
    /// There are more results than records.
    #[error("line {line} is the result of a record that the input does not have")]
    NoRecord {
        /// The line.
        line: u64,
    },
}

/// What stands of the results.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Standing {
    /// The bytes of all whole lines that stand; nothing stands where there is not even a whole head.
    pub bytes: u64,
    /// How many results they hold.
    pub results: u64,
    /// The worst of their outcomes.
    pub worst: Option<Outcome>,
}

#[derive(Deserialize)]
struct Kept {
    record: u64,
    checksum: String,
    outcome: Outcome,
}

impl Standing {
    /// Reads results and takes the record of each from the source: after that, the source stands where the results end. A
    /// last line without its end was cut off, and does not stand.
    ///
    /// # Errors
    /// Results that are not those of these records under this head.
    pub fn of(mut results: impl BufRead, header: &Header, records: &mut dyn Source) -> Result<Self, Differs> {
        let mut standing = Self::default();
        let mut line = Vec::new();
        let mut number = 0;
        loop {
            line.clear();
            let length = results.read_until(b'\n', &mut line)?;
            if length == 0 || line.last() != Some(&b'\n') {
                // A head that was cut off is made anew; anything else without a line's end is not ours to lose.
                let head = header.line().unwrap_or_default();
                if number == 0 && !head.as_bytes().starts_with(&line) {
                    return Err(Differs::NoHead);
                }
                return Ok(standing);
            }
            number += 1;
            if number == 1 {
                compared(&line, header)?;
            } else {
                let kept: Kept =
                    serde_json::from_slice(&line).map_err(|_| Differs::NoResult { line: number })?;
                let record = records.next_record()?.ok_or(Differs::NoRecord { line: number })?;
                if record.number != kept.record || record.checksum() != kept.checksum {
                    return Err(other(number, &record));
                }
                standing.results += 1;
                standing.worst = standing.worst.max(Some(kept.outcome));
            }
            standing.bytes += length as u64;
        }
    }
}

fn other(line: u64, record: &Record) -> Differs {
    Differs::OtherRecord {
        line,
        record: record.number,
    }
}

fn compared(line: &[u8], here: &Header) -> Result<(), Differs> {
    let there: Header = serde_json::from_slice(line).map_err(|_| Differs::NoHead)?;
    let shown = |stated: &Option<String>| stated.clone().unwrap_or_else(|| "each network's own".to_owned());
    let parts = [
        ("version", there.program.clone(), here.program.clone()),
        ("rules", shown(&there.rules), shown(&here.rules)),
        (
            "rules of the checksum",
            shown(&there.rules_checksum),
            shown(&here.rules_checksum),
        ),
        ("the law of", there.on.clone(), here.on.clone()),
    ];
    for (what, there, here) in parts {
        if there != here {
            return Err(Differs::Otherwise { what, there, here });
        }
    }
    if there == *here {
        Ok(())
    } else {
        Err(Differs::NoHead)
    }
}
