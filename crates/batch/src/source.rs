//! Where records come from.

use std::io::{self, BufRead, Read as _};

/// One network's text, as it came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record {
    /// Its number: that of its line, or of its file among the files, counted from 1.
    pub number: u64,
    /// The file that it was read from; none of a line.
    pub file: Option<String>,
    /// Its text, or why there is none.
    pub text: Result<Vec<u8>, String>,
}

impl Record {
    /// The CRC-32 (ISO/IEC/IEEE 8802-3) of its file's name and its text, by which a record is known again.
    #[must_use]
    pub fn checksum(&self) -> String {
        let mut sum = crc32fast::Hasher::new();
        for part in [self.file.as_deref().unwrap_or_default().as_bytes(), b"\0"] {
            sum.update(part);
        }
        match &self.text {
            Ok(text) => sum.update(text),
            Err(why) => sum.update(why.as_bytes()),
        }
        format!("{:08x}", sum.finalize())
    }
}

/// Something that gives records one after the other.
pub trait Source: Send {
    /// The next record; none after the last.
    ///
    /// # Errors
    /// What keeps any further record from being read. One record that cannot be read is a record with the reason.
    fn next_record(&mut self) -> io::Result<Option<Record>>;
}

/// Newline-delimited records, each of them bounded: of a line that is too long no more is kept than the bound.
#[derive(Debug)]
pub struct Lines<R> {
    reader: R,
    number: u64,
    most: usize,
}

impl<R: BufRead + Send> Lines<R> {
    /// The lines of a reader, each of at most so many bytes.
    pub fn new(reader: R, most: usize) -> Self {
        Self {
            reader,
            number: 0,
            most,
        }
    }
}

impl<R: BufRead + Send> Source for Lines<R> {
    fn next_record(&mut self) -> io::Result<Option<Record>> {
        loop {
            let mut line = Vec::new();
            // One byte more than the bound and the line's end: so it is known whether it was kept.
            let bound = u64::try_from(self.most).unwrap_or(u64::MAX).saturating_add(1);
            let taken = self.reader.by_ref().take(bound).read_until(b'\n', &mut line)?;
            if taken == 0 {
                return Ok(None);
            }
            self.number += 1;
            let ends = line.last() == Some(&b'\n');
            let text = if !ends && line.len() > self.most {
                drop(line);
                self.reader.skip_until(b'\n')?;
                Err(format!(
                    "the line is longer than {} bytes; no more are read",
                    self.most
                ))
            } else if line.iter().all(u8::is_ascii_whitespace) {
                // Nothing stands there.
                continue;
            } else {
                line.truncate(line.trim_ascii_end().len());
                Ok(line)
            };
            return Ok(Some(Record {
                number: self.number,
                file: None,
                text,
            }));
        }
    }
}
