//! Lists the worked examples of the published rule sets, so that the program carries them with it.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default()).join("rulesets");
    println!("cargo::rerun-if-changed={}", root.display());
    let mut source = String::from("&[\n");
    for rules in entries(&root)? {
        let examples = rules.join("examples");
        if !examples.is_dir() {
            continue;
        }
        println!("cargo::rerun-if-changed={}", examples.display());
        let _ = writeln!(source, "({:?}, &[", name(&rules));
        for example in entries(&examples)? {
            if example.extension().is_some_and(|extension| extension == "yaml") {
                let path = fs::canonicalize(&example)?;
                let _ = writeln!(source, "({:?}, include_str!({path:?})),", name(&example));
            }
        }
        source.push_str("] as &[(&str, &str)]),\n");
    }
    source.push_str("]\n");
    let output = PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default()).join("examples.rs");
    fs::write(output, source)
}

fn entries(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut paths = Vec::new();
    for entry in fs::read_dir(folder)? {
        paths.push(entry?.path());
    }
    paths.sort();
    Ok(paths)
}

fn name(path: &Path) -> String {
    path.file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned()
}
