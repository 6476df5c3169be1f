//! What the program prints, and what happens when nobody can read it.

use std::io::{ErrorKind, Write};

use crate::input::Trouble;

/// Prints to standard output. A reader that has gone away has read what it wanted; any other failure is trouble.
pub(crate) fn print(text: &str) -> Result<(), Trouble> {
    let mut output = anstream::stdout();
    match output.write_all(text.as_bytes()).and_then(|()| output.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(Trouble::Plain(format!("cannot write the report: {error}")))
        }
        _ => Ok(()),
    }
}

/// Prints to standard error; when that fails, there is nowhere left to say so.
pub(crate) fn warn(text: &str) {
    let _ = writeln!(anstream::stderr(), "{text}");
}
