//! What the program prints or writes, and what happens when nobody can read it.

use std::fs;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use clap::ValueEnum;

use crate::input::Trouble;

/// How to print what was found.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For a person at a terminal.
    Text,
    /// For programs.
    Json,
}

/// JSON with the line end that a file has.
pub(crate) fn in_lines<E: std::fmt::Display>(json: Result<String, E>) -> Result<String, Trouble> {
    let mut json = json.map_err(|error| Trouble::Plain(error.to_string()))?;
    json.push('\n');
    Ok(json)
}

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

/// Prints, or writes to a file where one is named: whole, or not at all. `input` is a file that must not be lost.
pub(crate) fn deliver(text: &str, file: Option<&Path>, input: &str) -> Result<(), Trouble> {
    match file {
        None => print(text),
        Some(file) => save(&[(file.to_owned(), plain(text))], input),
    }
}

/// A text for a file: escape codes are for terminals.
pub(crate) fn plain(text: &str) -> Vec<u8> {
    anstream::adapter::strip_str(text).to_string().into_bytes()
}

/// Writes files, each whole or not at all: no old one is touched before every new one is on the disk. `input` is a
/// file that must not be lost.
pub(crate) fn save(files: &[(PathBuf, Vec<u8>)], input: &str) -> Result<(), Trouble> {
    let input = fs::canonicalize(input).ok();
    let mut ready = Vec::new();
    for (file, bytes) in files {
        let cannot = |error: std::io::Error| cannot(file, &error);
        // A link is followed, so that what it leads to is replaced, not the link.
        let target = fs::canonicalize(file).unwrap_or_else(|_| file.to_owned());
        if input.as_ref() == Some(&target) {
            return Err(Trouble::Plain(format!(
                "`{}` is the network itself; it would be lost",
                file.display()
            )));
        }
        // A device or a pipe takes what it is given; it cannot be replaced.
        if fs::metadata(&target).is_ok_and(|about| !about.is_file() && !about.is_dir()) {
            fs::write(&target, bytes).map_err(cannot)?;
            continue;
        }
        let half = beside(&target, bytes, None).map_err(cannot)?;
        ready.push((file, target, half));
    }
    for (file, target, half) in ready {
        half.persist(&target)
            .map_err(|error| cannot(file, &error.error))?;
    }
    Ok(())
}

/// Puts a text in a file's place: the whole of it, or, where that fails, nothing. The file keeps its permissions.
pub(crate) fn write_file(path: &str, text: &str) -> Result<(), Trouble> {
    let cannot = |error: std::io::Error| cannot(Path::new(path), &error);
    // Where the name is a link, what it leads to is written.
    let target = fs::canonicalize(path).map_err(cannot)?;
    let permissions = fs::metadata(&target).map_err(cannot)?.permissions();
    let half = beside(&target, text.as_bytes(), Some(permissions)).map_err(cannot)?;
    half.persist(&target).map_err(|error| cannot(error.error))?;
    Ok(())
}

/// Bytes on the disk beside a file whose place it is to take.
fn beside(
    target: &Path,
    bytes: &[u8],
    permissions: Option<fs::Permissions>,
) -> std::io::Result<tempfile::NamedTempFile> {
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // As any new file, less what the user's mask takes away.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    fs::metadata(folder)?;
    // The error tells a path that nobody knows.
    let half = builder.tempfile_in(folder);
    let mut half = half.map_err(|error| std::io::Error::from(error.kind()))?;
    half.write_all(bytes)?;
    if let Some(permissions) = permissions {
        half.as_file().set_permissions(permissions)?;
    }
    half.as_file().sync_all()?;
    Ok(half)
}

fn cannot(file: &Path, error: &std::io::Error) -> Trouble {
    Trouble::Plain(format!("cannot write `{}`: {error}", file.display()))
}
