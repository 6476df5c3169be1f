//! `crownweir batch`: a line for each record, in order, whatever the number of threads, the faults and the interruptions.
#![expect(clippy::unwrap_used, reason = "a test that cannot be set up has failed")]

use std::io::{self, Write as _};
use std::num::NonZeroUsize;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::Duration;

use crownweir::batch::{Lines, Source as _, in_order};
use crownweir_benches::house;
use serde_json::Value;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");

fn batch(arguments: &[&str], input: &[u8]) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_crownweir"))
        .arg("batch")
        .args(arguments)
        .args(["--on", "2026-11-25"])
        .current_dir(ROOT)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let input = input.to_owned();
    // A program that refuses its arguments does not read.
    let feeding = std::thread::spawn(move || stdin.write_all(&input));
    let output = child.wait_with_output().unwrap();
    let _ = feeding.join().unwrap();
    output
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn houses(count: u64) -> Vec<u8> {
    let lines: String = (1..=count).map(|number| house(1, number) + "\n").collect();
    lines.into_bytes()
}

/// Houses with what can go wrong in their midst: no JSON, no network, a faulty one, an empty line, one that is too long.
fn mixed() -> Vec<u8> {
    let mut lines = houses(40);
    lines.extend(b"{\"crownweir\": \"network/1\", \n");
    lines.extend(b"[1, 2, 3]\n\n");
    lines.extend(
        house(1, 41)
            .replace("\"at\":\"BD-1\"", "\"at\":\"BD-99\"")
            .as_bytes(),
    );
    lines.push(b'\n');
    lines.push(b'"');
    lines.extend(std::iter::repeat_n(b'x', 17 << 20));
    lines.extend(b"\"\n");
    lines.extend(house(1, 42).as_bytes());
    lines
}

fn lines(output: &Output) -> Vec<Value> {
    let text = text(&output.stdout);
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

#[test]
fn results_are_the_same_on_any_number_of_threads() {
    let input = mixed();
    let one = batch(&["--rules", "ipc-2021", "--threads", "1"], &input);
    assert_eq!(one.status.code(), Some(1), "{}", text(&one.stderr));
    assert_eq!(text(&one.stderr), "", "no progress where there is no terminal");
    for threads in ["2", "7"] {
        let more = batch(&["--rules", "ipc-2021", "--threads", threads], &input);
        assert!(more.stdout == one.stdout, "{threads} threads");
    }
    let lines = lines(&one);
    assert_eq!(lines.len(), 1 + 45);
    assert_eq!(lines[0]["crownweir"], "batch/1");
    let numbers: Vec<u64> = lines[1..]
        .iter()
        .map(|line| line["record"].as_u64().unwrap())
        .collect();
    // Line 43 is empty.
    assert_eq!(numbers, (1..=42).chain(44..=46).collect::<Vec<_>>());
    let outcomes: Vec<&str> = lines[1..]
        .iter()
        .map(|line| line["outcome"].as_str().unwrap())
        .collect();
    assert_eq!(&outcomes[40..44], ["unusable"; 4]);
    assert_ne!(outcomes[44], "unusable");
    let problem = |at: usize| text_of(&lines[at]["problems"][0]["message"]);
    assert!(
        problem(43).contains("there is no node `BD-99`"),
        "{}",
        problem(43)
    );
    assert!(
        problem(44).contains("longer than 16777216 bytes"),
        "{}",
        problem(44)
    );
    assert!(
        outcomes[..40].contains(&"violation"),
        "some houses are faulty: {outcomes:?}"
    );
    assert!(
        outcomes[..40].iter().any(|outcome| *outcome != "violation"),
        "{outcomes:?}"
    );
}

fn text_of(value: &Value) -> String {
    value.as_str().unwrap().to_owned()
}

/// Each line says what `crownweir check` says of the same network.
#[test]
fn a_line_says_what_a_check_says() {
    let folder = tempfile::tempdir().unwrap();
    let found = batch(&["--rules", "ipc-2021"], &houses(12));
    for (number, line) in (1..).zip(&lines(&found)[1..]) {
        let file = folder.path().join("house.json");
        std::fs::write(&file, house(1, number)).unwrap();
        let check = Command::new(env!("CARGO_BIN_EXE_crownweir"))
            .args([
                "check",
                file.to_str().unwrap(),
                "--rules",
                "ipc-2021",
                "--format",
                "json",
            ])
            .output()
            .unwrap();
        let report: Value = serde_json::from_slice(&check.stdout).unwrap();
        for count in [
            "violations",
            "needs_approval",
            "advice",
            "undetermined",
            "fixtures",
        ] {
            assert_eq!(line[count], report["totals"][count], "house {number}: {count}");
        }
        let named = |findings: &Value| {
            let findings = findings.as_array().unwrap().iter();
            findings
                .map(|finding| (text_of(&finding["rule"]), text_of(&finding["message"])))
                .collect::<Vec<_>>()
        };
        assert_eq!(
            named(&line["findings"]),
            named(&report["findings"]),
            "house {number}"
        );
    }
}

#[test]
fn an_interrupted_batch_goes_on_to_the_same_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let input = mixed();
    let (whole, cut) = (path("whole.jsonl"), path("cut.jsonl"));
    let rules = ["--rules", "ipc-2021", "--output"];
    let first = batch(&[&rules[..], &[&whole]].concat(), &input);
    assert_eq!(first.status.code(), Some(1), "{}", text(&first.stderr));
    assert_eq!(text(&first.stdout), "");
    let results = std::fs::read(&whole).unwrap();
    let ends: Vec<usize> = (0..results.len()).filter(|at| results[*at] == b'\n').collect();
    for kept in [
        0,
        5,
        ends[0],
        ends[0] + 1,
        ends[20] + 17,
        ends[42] + 1,
        results.len() - 1,
        results.len(),
    ] {
        std::fs::write(&cut, &results[..kept]).unwrap();
        let resumed = batch(&[&rules[..], &[&cut, "--resume"]].concat(), &input);
        assert_eq!(
            resumed.status.code(),
            Some(1),
            "{kept}: {}",
            text(&resumed.stderr)
        );
        assert!(std::fs::read(&cut).unwrap() == results, "cut after {kept} bytes");
    }
}

/// Two that write to one file would each keep what it found there and write on under it. One that was killed holds nothing.
#[test]
fn results_that_are_being_written_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("results.jsonl");
    let path = file.to_str().unwrap();
    let begin = ["--rules", "ipc-2021", "--output", path];
    let resume = [&begin[..], &["--resume"]].concat();
    let size = || std::fs::metadata(&file).map_or(0, |file| file.len());
    let all = houses(600);
    for (arguments, fed) in [(&begin[..], houses(200)), (&resume, houses(400))] {
        let before = size();
        let mut running = Command::new(env!("CARGO_BIN_EXE_crownweir"))
            .arg("batch")
            .args(arguments)
            .args(["--on", "2026-11-25"])
            .current_dir(ROOT)
            .stdin(Stdio::piped())
            .spawn()
            .unwrap();
        // It waits for more, and has the file until it ends.
        let mut stdin = running.stdin.take().unwrap();
        stdin.write_all(&fed).unwrap();
        while size() <= before {
            assert!(running.try_wait().unwrap().is_none());
            std::thread::sleep(Duration::from_millis(5));
        }
        let second = batch(&resume, &all);
        let told = text(&second.stderr);
        assert_eq!(second.status.code(), Some(2), "{told}");
        assert!(told.contains("another program is writing to it"), "{told}");
        running.kill().unwrap();
        running.wait().unwrap();
    }
    let resumed = batch(&resume, &all);
    assert_ne!(resumed.status.code(), Some(2), "{}", text(&resumed.stderr));
    let whole = text(&batch(&["--rules", "ipc-2021"], &all).stdout);
    assert!(std::fs::read_to_string(&file).unwrap() == whole);
}

#[test]
fn results_of_something_else_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("results.jsonl");
    let path = file.to_str().unwrap();
    let input = houses(6);
    let made = batch(&["--rules", "ipc-2021", "--output", path], &input);
    assert!(made.stderr.is_empty(), "{}", text(&made.stderr));
    let results = std::fs::read(&file).unwrap();
    let refused = |arguments: &[&str], input: &[u8], why: &str| {
        let output = batch(arguments, input);
        let error = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{error}");
        assert!(error.contains(why), "{error}");
    };
    let resume = ["--rules", "ipc-2021", "--output", path, "--resume"];
    refused(
        &["--rules", "ipc-2021", "--output", path],
        &input,
        "`--resume` goes on with it",
    );
    refused(
        &["--rules", "upc-2021", "--output", path, "--resume"],
        &input,
        "its results were made with rules `ipc-2021`, now it is `upc-2021`",
    );
    refused(
        &resume,
        &houses(3),
        "line 5 is the result of a record that the input does not have",
    );
    let mut other = houses(6);
    let at = other.iter().rposition(|byte| *byte == b'4').unwrap();
    other[at] = b'5';
    refused(&resume, &other, "is of another record than number");
    assert!(std::fs::read(&file).unwrap() == results, "nothing was touched");
    std::fs::write(&file, "something else\n").unwrap();
    refused(&resume, &input, "not the head of batch results");
    assert_eq!(std::fs::read(&file).unwrap(), b"something else\n");
    std::fs::write(&file, "something without an end of line").unwrap();
    refused(&resume, &input, "not the head of batch results");
    assert_eq!(std::fs::read(&file).unwrap(), b"something without an end of line");
    refused(&["--output", path, "--resume"], &input, "--rules");
    // The same name with other rules behind it.
    let rules = folder.path().join("rules.yaml");
    let own = std::fs::read_to_string(Path::new(ROOT).join("rulesets/ipc-2021/ruleset.yaml")).unwrap();
    std::fs::write(&rules, &own).unwrap();
    std::fs::remove_file(&file).unwrap();
    let own_rules = ["--rules", rules.to_str().unwrap(), "--output", path];
    assert!(batch(&own_rules, &input).stderr.is_empty());
    std::fs::write(&rules, own + "\n# another comment\n").unwrap();
    refused(
        &[&own_rules[..], &["--resume"]].concat(),
        &input,
        "rules of the checksum",
    );
}

/// Nobody writes into the pipe, so that reading it would never end.
#[cfg(unix)]
#[test]
fn what_is_no_file_stops_none_of_the_others() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("a.yaml");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status().unwrap();
    assert!(made.success());
    std::fs::write(folder.path().join("b.json"), house(1, 1)).unwrap();
    let lines = lines(&batch(&[folder.path().to_str().unwrap()], b""));
    assert_eq!(lines[1]["outcome"], "unusable");
    assert!(text_of(&lines[1]["problems"][0]["message"]).ends_with("a.yaml`: it is no file"));
    assert_ne!(lines[2]["outcome"], "unusable");
}

#[test]
fn a_folder_s_files_are_checked_by_their_names() {
    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("b");
    std::fs::create_dir(&inner).unwrap();
    std::fs::write(folder.path().join("c.json"), house(1, 1)).unwrap();
    std::fs::write(inner.join("z.yaml"), house(1, 2)).unwrap();
    std::fs::write(folder.path().join("a.YML"), "crownweir: network/1\nname: none\n").unwrap();
    std::fs::write(folder.path().join("notes.txt"), "no network").unwrap();
    // A file may name rules that lie beside it; a line opens no file.
    let own = std::fs::read_to_string(Path::new(ROOT).join("rulesets/upc-2021/ruleset.yaml")).unwrap();
    std::fs::write(inner.join("own-rules.txt"), own).unwrap();
    let by_own = house(1, 3).replace("\"rules\":\"ipc-2021\"", "\"rules\":\"own-rules.txt\"");
    std::fs::write(inner.join("own.json"), &by_own).unwrap();
    let line = batch(&[], by_own.as_bytes());
    let problem = text_of(&lines(&line)[1]["problems"][0]["message"]);
    assert!(
        problem.contains("`own-rules.txt` is no published rule set"),
        "{problem}"
    );
    let output = batch(&[folder.path().to_str().unwrap()], b"");
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
    let lines = lines(&output);
    let files: Vec<String> = lines[1..]
        .iter()
        .map(|line| {
            let file = text_of(&line["file"]);
            file.strip_prefix(folder.path().to_str().unwrap())
                .unwrap()
                .to_owned()
        })
        .collect();
    assert_eq!(files, ["/a.YML", "/b/own.json", "/b/z.yaml", "/c.json"]);
    assert_eq!(lines[2]["rules"], "upc-2021");
    assert_eq!(lines[1]["outcome"], "unusable");
    assert_eq!(lines[0]["rules"], Value::Null);
    assert_eq!(lines[3]["rules"], "ipc-2021", "the network's own");
    let none = batch(&["no/such/folder"], b"");
    assert_eq!(none.status.code(), Some(2));
    assert!(text(&none.stderr).contains("cannot read the folder `no/such/folder`"));
    let empty = tempfile::tempdir().unwrap();
    let nothing = batch(&[empty.path().to_str().unwrap()], b"");
    assert_eq!(nothing.status.code(), Some(0));
    assert!(text(&nothing.stderr).contains("is named .yaml, .yml or .json; nothing was checked"));
}

/// More rule sets than are kept are read again, by whichever thread needs them.
#[test]
fn networks_may_name_any_number_of_rule_sets() {
    let folder = tempfile::tempdir().unwrap();
    let own = std::fs::read_to_string(Path::new(ROOT).join("rulesets/ipc-2021/ruleset.yaml")).unwrap();
    for number in 10..70 {
        let write = |name: String, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
        let rules = format!("\"rules\":\"own-{number}.txt\"");
        let network = house(1, 3).replace("\"rules\":\"ipc-2021\"", &rules);
        write(format!("{number}.json"), &network);
        if number % 2 == 0 {
            write(format!("own-{number}.txt"), &own);
        }
    }
    for threads in ["1", "4"] {
        let output = batch(&["--threads", threads, folder.path().to_str().unwrap()], b"");
        let lines = lines(&output);
        assert_eq!(lines.len(), 61);
        for (at, line) in lines[1..].iter().enumerate() {
            let usable = line["outcome"] != "unusable";
            assert_eq!(usable, at % 2 == 0, "{line}");
        }
    }
}

#[test]
fn the_exit_code_is_for_what_was_asked() {
    let clear = |arguments: &[&str], input: &[u8]| batch(arguments, input).status.code();
    let of = |outcome: &str| {
        let all = batch(&["--rules", "ipc-2021"], &houses(60));
        let found = lines(&all)[1..]
            .iter()
            .position(|line| line["outcome"] == outcome)
            .unwrap();
        house(1, found as u64 + 1).into_bytes()
    };
    let rules = ["--rules", "ipc-2021"];
    assert_eq!(clear(&rules, b""), Some(0));
    assert_eq!(clear(&rules, &of("violation")), Some(1));
    let open = of("undetermined");
    assert_eq!(clear(&rules, &open), Some(0));
    assert_eq!(
        clear(&[&rules[..], &["--fail-on", "undetermined"]].concat(), &open),
        Some(1)
    );
    assert_eq!(clear(&rules, b"{}\n"), Some(1), "a record that cannot be used");
    assert_eq!(
        clear(&[&rules[..], &["--fail-on", "never"]].concat(), b"{}\n"),
        Some(0)
    );
    assert_eq!(clear(&["--rules", "no-such-rules"], b""), Some(2));
}

/// Threads that finish in any order give out in the order in which they took.
#[test]
fn what_is_taken_first_is_delivered_first() {
    let threads = NonZeroUsize::new(4).unwrap();
    let mut left = 0..300_u64;
    let mut delivered = Vec::new();
    let done = in_order(
        threads,
        &mut || Ok(left.next()),
        &|number: u64| {
            // One in fifty takes as long as several hundred others.
            std::thread::sleep(Duration::from_micros(if number.is_multiple_of(50) {
                20_000
            } else {
                50
            }));
            number
        },
        &mut |number: &u64| {
            delivered.push(*number);
            Ok(())
        },
    );
    done.unwrap();
    assert_eq!(delivered, (0..300).collect::<Vec<_>>());
}

#[test]
fn the_first_trouble_stops_all_threads() {
    let threads = NonZeroUsize::new(3).unwrap();
    let mut left = 0..u64::MAX;
    let mut delivered = 0;
    let gone = in_order(
        threads,
        &mut || Ok(left.next()),
        &|number: u64| number,
        &mut |_: &u64| {
            delivered += 1;
            if delivered == 100 {
                Err(io::Error::from(io::ErrorKind::BrokenPipe))
            } else {
                Ok(())
            }
        },
    );
    assert_eq!(gone.unwrap_err().kind(), io::ErrorKind::BrokenPipe);
    assert_eq!(delivered, 100);
    let mut left = 0..50_u64;
    let mut delivered = 0;
    let unread = in_order(
        threads,
        &mut || left.next().map(Some).ok_or_else(|| io::Error::other("unplugged")),
        &|number: u64| number,
        &mut |_: &u64| {
            delivered += 1;
            Ok(())
        },
    );
    assert_eq!(unread.unwrap_err().to_string(), "unplugged");
    assert_eq!(delivered, 50, "what was taken before is delivered");
}

/// The others would wait for the result that never comes.
#[test]
fn a_panic_stops_all_threads() {
    let threads = NonZeroUsize::new(3).unwrap();
    let stopped = std::panic::catch_unwind(|| {
        let mut numbers = 0..100_000;
        in_order(
            threads,
            &mut || Ok(numbers.next()),
            &|number: u32| assert!(number != 5, "one that cannot be worked on"),
            &mut |()| Ok(()),
        )
    });
    assert!(stopped.is_err());
}

#[test]
fn a_line_is_kept_up_to_its_bound() {
    let read = |text: &str| {
        let mut lines = Lines::new(io::Cursor::new(text.to_owned()), 5);
        let mut found = Vec::new();
        while let Some(record) = lines.next_record().unwrap() {
            found.push((
                record.number,
                record
                    .text
                    .map(|text| String::from_utf8_lossy(&text).into_owned())
                    .ok(),
            ));
        }
        found
    };
    let kept = |number, text: &str| (number, Some(text.to_owned()));
    assert_eq!(
        read("12345\n123456\n1\r\n\n  \n2"),
        [kept(1, "12345"), (2, None), kept(3, "1"), kept(6, "2")]
    );
    assert_eq!(read("12345"), [kept(1, "12345")]);
    assert_eq!(read("123456"), [(1, None)]);
    assert_eq!(read(""), []);
}
