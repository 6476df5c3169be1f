//! The rule sets' worked examples.

use crownweir::Limits;
use crownweir::proof::{Example, prove};
use crownweir_tests::rules;

fn examples(name: &str) -> Vec<Example> {
    let folder = format!("{}/../rulesets/{name}/examples", env!("CARGO_MANIFEST_DIR"));
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .expect("the examples")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    files.sort();
    files
        .iter()
        .map(|path| {
            let name = path.file_name().and_then(|name| name.to_str()).expect("a name");
            let text = std::fs::read(path).expect("a file");
            Example::read(name, &text, &Limits::default()).unwrap_or_else(|problems| panic!("{problems}"))
        })
        .collect()
}

#[test]
fn published_answers_are_reached() {
    let outcomes = prove(&rules("ipc-2021"), &examples("ipc-2021"));
    for outcome in &outcomes {
        for unmet in &outcome.unmet {
            println!("{} [{}] expected {}; {}", unmet.place, outcome.case, unmet.expected, unmet.came);
        }
    }
    println!("{} cases", outcomes.len());
    assert!(outcomes.iter().all(|outcome| outcome.unmet.is_empty()));
}
