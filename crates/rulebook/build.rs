//! Lists the rule sets and amendments of the repository, to be carried in the library.

use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

fn main() -> Result<(), Box<dyn Error>> {
    let root = Path::new(&std::env::var("CARGO_MANIFEST_DIR")?).join("rulesets");
    println!("cargo::rerun-if-changed={}", root.display());
    let mut rule_sets = Vec::new();
    for folder in sorted(&root)? {
        let file = folder.join("ruleset.yaml");
        if file.is_file() {
            rule_sets.push((name(&folder), file));
        }
    }
    let amendments = sorted(&root.join("amendments"))?
        .into_iter()
        .filter(|file| file.extension().is_some_and(|extension| extension == "yaml"));
    let amendments: Vec<_> = amendments.map(|file| (name(&file), file)).collect();
    let mut code = String::new();
    for (list, entries) in [("RULE_SETS", rule_sets), ("AMENDMENTS", amendments)] {
        writeln!(code, "static {list}: &[(&str, &str)] = &[")?;
        for (name, file) in entries {
            println!("cargo::rerun-if-changed={}", file.display());
            writeln!(
                code,
                "    ({name:?}, include_str!({:?})),",
                file.display().to_string()
            )?;
        }
        writeln!(code, "];")?;
    }
    std::fs::write(Path::new(&std::env::var("OUT_DIR")?).join("published.rs"), code)?;
    Ok(())
}

fn sorted(folder: &Path) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        paths.push(entry?.path());
    }
    paths.sort();
    Ok(paths)
}

fn name(path: &Path) -> String {
    path.file_stem()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned()
}
