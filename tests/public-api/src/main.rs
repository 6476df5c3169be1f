//! Holds the public interface of every library crate to the list of it beside this program.
//!
//! `.ci/public-api` complains of what has changed; `.ci/public-api --renew` writes the lists anew. What a list loses
//! breaks programs that embed the library. It reads what rustdoc says in JSON, whose form is that of one toolchain, so
//! it is part of `.ci/run` and not of the tests that run with any.
#![forbid(unsafe_code)]

use std::collections::BTreeSet;
use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let lists = root.join("lists");
    let renew = std::env::args().any(|argument| argument == "--renew");
    let mut same = true;
    let mut names = BTreeSet::new();
    for folder in std::fs::read_dir(root.join("../../crates"))? {
        let folder = folder?.path();
        if !folder.join("src/lib.rs").is_file() {
            continue;
        }
        let name = match folder.file_name().unwrap_or_default().to_string_lossy() {
            facade if facade == "crownweir" => facade.into_owned(),
            part => format!("crownweir_{part}"),
        };
        let json = root.join("../../target/doc").join(&name).with_extension("json");
        let listed = public_api_of(json)?;
        let path = lists.join(&name).with_extension("txt");
        if renew {
            std::fs::write(path, listed)?;
        } else {
            let known = std::fs::read_to_string(&path).unwrap_or_default();
            same &= tell_differences(&known, &listed);
        }
        names.insert(name);
    }
    for list in std::fs::read_dir(lists)? {
        let list = list?.path();
        if !names.contains(&*list.file_stem().unwrap_or_default().to_string_lossy()) {
            eprintln!("{} is of no library", list.display());
            same = false;
        }
    }
    if !same {
        eprintln!("if that is meant: .ci/public-api --renew");
    }
    Ok(ExitCode::from(u8::from(!same)))
}

/// The public items of a crate, a line each, without what is implemented for them of itself.
fn public_api_of(json: PathBuf) -> Result<String, Box<dyn Error>> {
    let place = json.display().to_string();
    let api = public_api::Builder::from_rustdoc_json(json)
        .omit_blanket_impls(true)
        .omit_auto_trait_impls(true)
        .omit_auto_derived_impls(true)
        .build()
        .map_err(|error| format!("{place}: {error}"))?;
    Ok(api.to_string())
}

/// Whether both lists have the same lines; prints those that only one has.
fn tell_differences(known: &str, listed: &str) -> bool {
    let only_in = |lines: &str, others: &str, sign: char| {
        let others: BTreeSet<_> = others.lines().collect();
        let lines = lines.lines().filter(|line| !others.contains(line));
        lines.inspect(|line| eprintln!("{sign} {line}")).count()
    };
    only_in(known, listed, '-') + only_in(listed, known, '+') == 0
}
