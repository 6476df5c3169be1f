//! The bytes that fuzzing kept: each is read or refused, and what is read can be used to its end.

use std::path::Path;

use crownweir_tests::fuzzed::TARGETS;

#[test]
fn what_fuzzing_kept_is_read_or_refused() {
    for (name, target) in TARGETS {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("fuzz/corpus")
            .join(name);
        let entries =
            std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
        let mut count = 0;
        for entry in entries {
            let path = entry.unwrap_or_else(|error| panic!("{error}")).path();
            let bytes = std::fs::read(&path).unwrap_or_else(|error| panic!("{error}"));
            // So that a panic tells which file it was.
            println!("{}", path.display());
            target(&bytes);
            count += 1;
        }
        assert!(count > 20, "{name}: {count}");
    }
}
