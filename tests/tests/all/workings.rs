//! The workings are complete: a checker that shares no code with the evaluator redoes every step of every finding and
//! pass, and refuses what has been altered.

use crownweir::{Content, Day, Document, Limits, Measured, Network, RuleSet, Text, published, report};
use crownweir_tests::{examples, network_text};
use crownweir_workings_checker::judge;
use serde_json::Value as Json;

/// What is claimed of a network, and what it is checked against.
struct Claimed<'a> {
    rules: &'a RuleSet,
    network: Network,
    file: Document,
    report: Json,
}

impl Claimed<'_> {
    fn judged(&self, report: &Json) -> Vec<(String, Result<(), String>)> {
        judge(self.rules, &self.network, &self.file, report)
    }
}

fn rules(base: &str, amendments: &[&str]) -> RuleSet {
    let text = |name, text: Option<&'static str>| Text {
        name,
        bytes: text.unwrap_or_else(|| panic!("no {name}")).as_bytes(),
    };
    let base = text(base, published::text(base));
    let laid: Vec<_> = amendments
        .iter()
        .map(|&name| text(name, published::amendment(name)))
        .collect();
    let on: Day = "2026-11-25".parse().unwrap_or_else(|_| panic!("a day"));
    let read = RuleSet::amended(base, &laid, on, &Limits::rules());
    read.unwrap_or_else(|problems| panic!("{problems}"))
}

/// None where the rule set does not know the network's sizes.
fn claimed<'a>(network: &str, rules: &'a RuleSet) -> Option<Claimed<'a>> {
    let file = Document::read("network.yaml", network.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"));
    let network =
        Network::from_document(&file, &Limits::default()).unwrap_or_else(|problems| panic!("{problems}"));
    let measured = Measured::new(&network, rules).ok()?;
    let workings = |finding: &crownweir::Finding| Some(measured.workings_of(finding));
    let json = report::json(&measured.check(), &workings, Some(&measured)).expect("JSON");
    let report = serde_json::from_str(&json).expect("JSON");
    Some(Claimed {
        rules,
        network,
        file,
        report,
    })
}

/// How many claims are confirmed.
///
/// # Panics
/// When one is refused.
fn confirmed(what: &str, claimed: &Claimed<'_>) -> usize {
    let judged = claimed.judged(&claimed.report);
    for (claim, sound) in &judged {
        assert_eq!(*sound, Ok(()), "{what}: {claim}");
    }
    judged.len()
}

fn networks() -> Vec<String> {
    let folder = format!("{}/networks", env!("CARGO_MANIFEST_DIR"));
    let entries = std::fs::read_dir(folder).expect("the networks");
    let names = entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
    let mut names: Vec<_> = names.filter(|name| name.ends_with(".yaml")).collect();
    names.sort();
    names
}

#[test]
fn the_demos_are_confirmed_under_every_rule_set() {
    let mut claims = 0;
    for name in published::names() {
        let rules = rules(name, &[]);
        for network in networks() {
            if let Some(claimed) = claimed(&network_text(&network), &rules) {
                claims += confirmed(&format!("{network} by {name}"), &claimed);
            }
        }
    }
    assert!(claims > 25_000, "{claims}");
}

#[test]
fn the_demos_are_confirmed_under_every_amendment() {
    let mut claims = 0;
    for amendment in published::amendments() {
        let text = published::amendment(amendment).unwrap_or_default();
        let base = text
            .split("base: {rules: ")
            .nth(1)
            .and_then(|rest| rest.split(',').next());
        let base = base.unwrap_or_else(|| panic!("{amendment} has no base"));
        // A township's rules lie over those of its county.
        let laid: &[&str] = match amendment {
            "heron-point-township" => &["heron-county", amendment],
            _ => &[amendment],
        };
        let rules = rules(base, laid);
        let demos = match base {
            "upc-2021" => ["heron-point-upc-faulty.yaml", "larch-terrace-upc-faulty.yaml"],
            "npc-2020" => ["heron-point-npc-faulty.yaml", "larch-terrace-npc-faulty.yaml"],
            "en-12056-2" => ["heron-point-en-faulty.yaml", "larch-terrace-en-faulty.yaml"],
            _ => ["heron-point-faulty.yaml", "larch-terrace.yaml"],
        };
        for demo in demos {
            let claimed = claimed(&network_text(demo), &rules);
            let claimed = claimed.unwrap_or_else(|| panic!("{demo} has other sizes"));
            claims += confirmed(&format!("{demo} by {base}+{amendment}"), &claimed);
        }
    }
    assert!(claims > 15_000, "{claims}");
}

#[test]
fn the_worked_examples_are_confirmed() {
    let mut claims = 0;
    for name in published::names() {
        let rules = rules(name, &[]);
        let mut last = String::new();
        for example in examples(name) {
            for case in &example.cases {
                let text = case.network_text();
                if text == last {
                    continue;
                }
                let claimed = claimed(&text, &rules).unwrap_or_else(|| panic!("{}: sizes", case.title));
                claims += confirmed(&format!("{}: {}", example.file, case.title), &claimed);
                last = text;
            }
        }
    }
    assert!(claims > 30_000, "{claims}");
}

/// Every way to alter one value below `json`, as paths and what stands there instead.
fn alterations(json: &Json, path: &str, list: &mut Vec<(String, Json)>) {
    match json {
        Json::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                alterations(item, &format!("{path}/{index}"), list);
            }
            let shorter = items.split_last().map(|(_, rest)| rest.to_vec());
            list.extend(shorter.map(|shorter| (path.to_owned(), Json::Array(shorter))));
        }
        Json::Object(entries) => {
            for (key, value) in entries {
                alterations(value, &format!("{path}/{key}"), list);
                // What may be left out where there is none says nothing.
                if !value.is_null() {
                    let mut fewer = entries.clone();
                    fewer.remove(key);
                    list.push((path.to_owned(), Json::Object(fewer)));
                }
            }
        }
        Json::String(text) => {
            // The first digit: the last may be less than what is printed.
            let digit = text.find(|one: char| one.is_ascii_digit());
            let other = match digit {
                Some(at) => {
                    let digit = if text[at..].starts_with('1') { "2" } else { "1" };
                    format!("{}{digit}{}", &text[..at], &text[at + 1..])
                }
                None => format!("{text}x"),
            };
            list.push((path.to_owned(), other.into()));
        }
        Json::Number(number) => list.push((path.to_owned(), (number.as_u64().unwrap_or(0) + 1).into())),
        Json::Bool(truth) => list.push((path.to_owned(), (!truth).into())),
        Json::Null => list.push((path.to_owned(), "1".into())),
    }
}

#[test]
fn whatever_is_altered_is_refused() {
    let parts = [
        "rule", "title", "verdict", "severity", "subject", "kind", "name", "storey", "line", "column",
        "message", "measured", "limit", "headroom", "missing", "citation", "advice", "steps",
    ];
    let mut kinds = std::collections::BTreeMap::<String, usize>::new();
    for (demo, base, laid) in [
        ("heron-point-faulty.yaml", "ipc-2021", vec!["heron-county"]),
        ("heron-point-en-faulty.yaml", "en-12056-2", vec![]),
        ("larch-terrace-npc-faulty.yaml", "npc-2020", vec![]),
    ] {
        let rules = rules(base, &laid);
        let claimed = claimed(&network_text(demo), &rules).expect("claims");
        let mut seen = std::collections::BTreeSet::new();
        for key in ["findings", "passes"] {
            for claim in claimed.report[key].as_array().into_iter().flatten() {
                // Of each rule the first finding and the first pass.
                if !seen.insert((key, claim["rule"].to_string())) {
                    continue;
                }
                let mut list = Vec::new();
                for part in parts.iter().filter(|part| claim.get(part).is_some()) {
                    alterations(&claim[*part], &format!("/{part}"), &mut list);
                }
                let altered = list.iter().map(|(path, other)| {
                    let mut altered = claim.clone();
                    *altered.pointer_mut(path).expect("a place") = other.clone();
                    altered
                });
                let report = serde_json::json!({key: altered.collect::<Vec<_>>()});
                let judged = claimed.judged(&report);
                assert_eq!(judged.len(), list.len());
                for ((_, sound), (path, other)) in judged.iter().zip(&list) {
                    let kind = path.rsplit('/').find(|part| part.parse::<usize>().is_err());
                    *kinds.entry(kind.unwrap_or_default().to_owned()).or_default() += 1;
                    assert!(
                        sound.is_err(),
                        "{demo}: {} `{}` is confirmed with {path} {other} in place of {}",
                        claim["rule"],
                        claim["name"],
                        claim.pointer(path).unwrap_or(&Json::Null)
                    );
                }
            }
        }
    }
    let altered = "advice arrangement basis checked citation column conditions exact fact file headroom how is kind limit line measured \
                   message missing name outcome patterns rule severity step steps storey subject table text \
                   title verdict";
    for kind in altered.split_whitespace() {
        assert!(kinds.contains_key(kind), "no `{kind}` was altered: {kinds:?}");
    }
}

#[test]
fn what_was_measured_is_held_to_what_the_file_states() {
    let network = |size: &str, trap: &str| {
        format!(
            "crownweir: network/1\nname: n\ndrains:\n  - size: {size}\n    slope: 1/4 in/ft\n    path:\n      - fixture: \
             {{name: a, type: lavatory, trap: {{size: {trap}}}}}\n      - pipe: {{name: p, length: 2 ft}}\n\
             \x20     - disposal: {{name: s}}\n"
        )
    };
    let rules = rules("ipc-2021", &[]);
    let own = claimed(&network("2 in", "1-1/2 in"), &rules).expect("claims");
    assert!(confirmed("n", &own) > 5);
    // Every claim fits the network that was read; the file of another does not bear it out.
    for (size, trap, stated) in [
        ("3 in", "1-1/2 in", "`pipe.size` is stated as 3 in"),
        ("2 in", "2 in", "`trap.size` is stated as 2 in"),
    ] {
        let other = claimed(&network(size, trap), &rules).expect("claims");
        let judged = judge(&rules, &own.network, &other.file, &own.report);
        let refused: Vec<_> = judged.into_iter().filter_map(|(_, sound)| sound.err()).collect();
        assert!(!refused.is_empty(), "{stated}");
        assert!(refused.iter().all(|why| why == stated), "{refused:?}");
    }
}

#[test]
fn values_are_read_back_as_workings_have_them() {
    let mut seen = std::collections::BTreeMap::<&str, usize>::new();
    for name in published::names() {
        let rules = rules(name, &[]);
        for table in &rules.tables {
            let keys = table.keys().iter().map(|key| key.dimension);
            let columns = table.columns().iter().map(|column| column.dimension);
            let dimensions: Vec<_> = keys.chain(columns).collect();
            for dimension in &dimensions {
                // A value is written in one way.
                for text in ["", "+1", "01", "2/96", "1/-48", "many"] {
                    assert_eq!(
                        dimension.read_exact(text, &rules.ladder),
                        None,
                        "{dimension:?} {text}"
                    );
                }
            }
            for row in table.rows() {
                let cells = row.cells.iter().map(|cell| match cell.content {
                    Content::Value(value) => Some(value),
                    _ => None,
                });
                for (value, dimension) in row.keys.iter().copied().chain(cells).zip(&dimensions) {
                    let Some(value) = value else { continue };
                    let (is, exact) = value.exact(&rules.ladder);
                    assert_eq!(is, dimension.name());
                    assert_eq!(
                        dimension.read_exact(&exact, &rules.ladder),
                        Some(value),
                        "{exact}"
                    );
                    *seen.entry(is).or_default() += 1;
                }
            }
        }
    }
    for is in [
        "count", "flow", "length", "load", "ratio", "size", "slope", "truth", "word",
    ] {
        assert!(seen.contains_key(is), "no {is}: {seen:?}");
    }
}

// A datum that only an alternative needs, where another alternative holds, settles nothing.
#[test]
fn what_is_settled_lacks_nothing() {
    let text = published::text("ipc-2021").unwrap_or_default();
    let made = r#"
  - rule: made
    title: made
    subject: drain
    severity: violation
    require:
      any: [{pipe.material: pvc}, {pipe.size: {at_least: 1-1/4 in}}]
      pipe.support_spacing: {at_most: 4 ft}
    cite: {section: "1", basis: memory}
    message: made
"#;
    let text = text.replacen("\nrules:\n", &format!("\nrules:{made}"), 1);
    let rules = RuleSet::read("made", text.as_bytes(), &Limits::rules())
        .unwrap_or_else(|problems| panic!("{problems}"));
    let network = crownweir_tests::network(
        "crownweir: network/1\nname: n\ndrains:\n  - {size: 2 in, slope: 1/4 in/ft, path: [{fixture: {name: a, type: \
         lavatory}}, {pipe: {name: p, length: 2 ft}}, {disposal: {name: s}}]}\n",
    );
    let found = crownweir::check(&network, &rules).expect("sizes").findings;
    let made = found.iter().find(|one| one.rule == "made").expect("a finding");
    assert_eq!(made.needed(), ["`support_spacing` of drain `p`"]);
}
