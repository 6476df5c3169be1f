//! What rules say of a breach: no figure that the rule itself compares with stands in its text, where it would go on
//! being told after an amendment had changed it.

use crownweir::rulebook::{Check, Condition, Message, Operand, Piece};
use crownweir::{Content, RuleSet, Value, check, published};
use crownweir_tests::{checked, network, network_text, rules};

/// Every value that a condition compares with, those of the tables it reads included.
fn values(rules: &RuleSet, condition: &Condition, found: &mut Vec<Value>) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => {
            parts.iter().for_each(|part| values(rules, part, found));
        }
        Condition::Not(inner) => values(rules, inner, found),
        Condition::Test(test) => match &test.check {
            Check::Present(_) => {}
            Check::Among { values, .. } => found.extend(values),
            Check::Compare(_, limit) => values_of(rules, limit, found),
        },
    }
}

fn values_of(rules: &RuleSet, operand: &Operand, found: &mut Vec<Value>) {
    match operand {
        Operand::Literal(value) => found.push(*value),
        Operand::Fact(_) => {}
        Operand::Lookup(lookup) | Operand::SmallestSize { lookup, .. } => {
            let table = &rules.tables[lookup.table];
            let cells = table.rows().iter().map(|row| &row.cells[lookup.column]);
            found.extend(cells.filter_map(|cell| match cell.content {
                Content::Value(value) => Some(value),
                _ => None,
            }));
            lookup.keys.iter().for_each(|key| values_of(rules, key, found));
            if let Operand::SmallestSize { holds, .. } = operand {
                values_of(rules, holds, found);
            }
        }
        Operand::Times { of, .. }
        | Operand::Diameter(of)
        | Operand::SizeFor(of)
        | Operand::SizesUp(_, of)
        | Operand::FlowAsLoad { flow: of, .. } => values_of(rules, of, found),
        Operand::Sum(parts) | Operand::LargerOf(parts) | Operand::SmallerOf(parts) => {
            parts.iter().for_each(|part| values_of(rules, part, found));
        }
    }
}

/// The figures in a text: each word with a digit as a number by itself, and with the word before or after it as a
/// quantity or a size.
fn figures(rules: &RuleSet, text: &str) -> Vec<Value> {
    let words: Vec<_> = text
        .split_whitespace()
        .map(|word| word.trim_matches([',', ';', '.', ':']))
        .map(|word| if word.starts_with("degree") { "deg" } else { word })
        .collect();
    let with_digit = (0..words.len()).filter(|&at| words[at].contains(|c: char| c.is_ascii_digit()));
    with_digit
        .flat_map(|at| {
            let after = words.get(at + 1).copied().unwrap_or_default();
            let before = at.checked_sub(1).map_or("", |before| words[before]);
            let whole = quantity(rules, &format!("{} {after}", words[at]));
            let single = [
                quantity(rules, words[at]),
                quantity(rules, &format!("{before} {}", words[at])),
            ];
            let mut found: Vec<_> = whole.into_iter().chain(single.into_iter().flatten()).collect();
            if found.is_empty() {
                found.extend(words[at].parse().map(Value::Count));
            }
            found
        })
        .collect()
}

/// What a text may mean as a quantity: `2 in` is a length and a size.
fn quantity(rules: &RuleSet, text: &str) -> Vec<Value> {
    let size = text.parse().ok().and_then(|size| rules.ladder.find(size));
    let read = [
        text.parse().ok().map(Value::Length),
        text.parse().ok().map(Value::Slope),
        text.parse().ok().map(Value::Angle),
        text.parse().ok().map(Value::Load),
        text.parse().ok().map(Value::Flow),
        text.parse().ok().map(Value::Volume),
        text.parse().ok().map(Value::Temperature),
        text.parse().ok().map(Value::Period),
        text.parse().ok().map(Value::Velocity),
        size.map(Value::Size),
    ];
    read.into_iter().flatten().collect()
}

fn fixed(message: &Message) -> impl Iterator<Item = &str> {
    message.pieces.iter().filter_map(|piece| match piece {
        Piece::Text(text) => Some(text.as_str()),
        _ => None,
    })
}

/// The values that a text tells although what it speaks of compares with them.
fn told(rules: &RuleSet, conditions: &[&Condition], texts: &[&Message]) -> Vec<String> {
    let mut compared = Vec::new();
    for condition in conditions {
        values(rules, condition, &mut compared);
    }
    let texts = texts.iter().flat_map(|text| fixed(text));
    texts
        .flat_map(|text| figures(rules, text))
        .filter(|figure| {
            let same = |value: &Value| value.compare(*figure) == Some(std::cmp::Ordering::Equal);
            compared.iter().any(same)
        })
        .map(|figure| figure.in_words(&rules.ladder, rules.ladder.notation()))
        .collect()
}

#[test]
fn no_text_holds_a_figure_that_its_rule_compares_with() {
    let mut told_of = Vec::new();
    for name in published::names() {
        let rules = rules(name);
        let mut note = |of: &str, figures: Vec<String>| {
            if !figures.is_empty() {
                told_of.push(format!("{name}: {of} tells {}", figures.join(", ")));
            }
        };
        for rule in &rules.rules {
            let Some(require) = &rule.require else { continue };
            let texts: Vec<_> = std::iter::once(&rule.message).chain(&rule.advice).collect();
            note(&rule.name, told(&rules, &[&rule.when, require], &texts));
        }
        for arrangement in &rules.arrangements {
            for condition in &arrangement.conditions {
                let texts: Vec<_> = std::iter::once(&condition.message)
                    .chain(&condition.advice)
                    .collect();
                note(&arrangement.name, told(&rules, &[&condition.require], &texts));
            }
        }
    }
    assert!(told_of.is_empty(), "{}", told_of.join("\n"));
}

/// The test above sees what it should.
#[test]
fn figures_are_read_out_of_texts() {
    let rules = rules("ipc-2021");
    let told = |text: &str| {
        let figures = figures(&rules, text).into_iter();
        figures
            .map(|figure| figure.in_words(&rules.ladder, rules.ladder.notation()))
            .collect::<Vec<_>>()
    };
    assert_eq!(told("the rim; 6 in is the least"), ["6 in", "6 in"]);
    assert_eq!(told("leaves at 45 degrees or plumb"), ["12 in/ft", "45 deg"]);
    assert_eq!(told("are wet vented and 2 may be"), ["2"]);
    assert_eq!(told("takes more at 1/4 in/ft"), ["1/4 in/ft"]);
    assert_eq!(told("no figure, and no section"), [""; 0]);
}

/// The bathroom group of a fixture and its every fault, whichever of its fixtures is told of.
#[test]
fn a_group_that_is_none_is_named_with_what_it_lacks_and_has_too_many() {
    let good = network_text("heron-point.yaml");
    let faulty = |changes: &[(&str, &str)]| {
        changes.iter().fold(good.clone(), |text, (from, to)| {
            assert_eq!(text.matches(from).count(), 1, "{from}");
            text.replace(from, to)
        })
    };
    let shower = (
        "{name: SHO-1, model: shower, group: bath 2}",
        "{name: SHO-1, model: shower}",
    );
    let basin = (
        "{name: LAV-2, model: basin, group: bath 2}",
        "{name: LAV-2, model: basin, group: bath 1}",
    );
    let closet = (
        "{name: WC-2, model: closet, group: bath 2}",
        "{name: WC-2, model: closet}",
    );
    let said = |text: &str| -> Vec<String> {
        let found = checked(text).findings.into_iter();
        let of_groups = found.filter(|finding| finding.rule == "bathroom-group");
        let mut said: Vec<_> = of_groups.map(|finding| finding.message).collect();
        said.dedup();
        let end = "; that is no bathroom group by the definition, and its fixtures were counted singly";
        let heads = said
            .iter()
            .map(|said| said.strip_suffix(end).unwrap_or_else(|| panic!("{said}")));
        heads.map(str::to_owned).collect()
    };
    assert_eq!(said(&good), [""; 0]);
    assert_eq!(
        said(&faulty(&[shower])),
        ["group `bath 2` lacks a bathtub or shower"]
    );
    assert_eq!(
        said(&faulty(&[basin, closet])),
        [
            "group `bath 1` has lavatory `LAV-2` too many",
            "group `bath 2` lacks a water closet and a lavatory"
        ]
    );
    let other = shower.0.replace(
        "model: shower",
        "type: drinking_fountain, trap: {size: 2 in, kind: p, seal: 2 in}",
    );
    assert_eq!(
        said(&faulty(&[(shower.0, &other)])),
        ["group `bath 2` lacks a bathtub or shower, has no place for drinking fountain `SHO-1`"]
    );
}

#[test]
fn what_is_counted_is_told_in_the_singular_and_the_plural() {
    let closets = |count: usize| {
        let closets = (0..count).map(|number| {
            format!("  - {{size: 3 in, path: [{{fixture: {{name: W{number}, type: water_closet}}}}, {{pipe: {{}}}}, {{at: A}}]}}\n")
        });
        let closets: String = closets.collect();
        let report = checked(&format!(
            "crownweir: network/1\nname: n\nrules: ipc-2021\ndrains:\n{closets}  - {{size: 2 in, slope: 1/4 in/ft, path: \
             [{{fitting: {{name: A}}}}, {{pipe: {{name: B}}}}, {{disposal: {{name: Z}}}}]}}\n"
        ));
        let messages = report.findings.into_iter().filter(|one| one.name == "B");
        messages.map(|one| one.message).collect::<Vec<_>>().join("\n")
    };
    let (one, two) = (closets(1), closets(2));
    assert!(one.contains("takes 1 water closet in 2 in;"), "{one}");
    assert!(two.contains("takes 2 water closets in 2 in;"), "{two}");
}

#[test]
fn what_lies_less_than_nothing_above_lies_below_however_exactly_it_is_told() {
    let text = "crownweir: network/1
name: low
units: millimetres
storeys: [{storey: ground, height: 2750 mm}]
drains:
  - {storey: ground, size: DN 50, slope: 1:50, path: [{fixture: {name: S, type: sink, rim_height: 900 mm, weir_height: 500 mm, trap: {size: DN 50}}}, {pipe: {length: 500 mm}}, {fitting: {name: T}}, {pipe: {length: 1 m}}, {fitting: {name: foot}}, {pipe: {length: 1 m}}, {disposal: {name: end}}]}
vents:
  - {storey: ground, size: DN 40, path: [{at: T}, {pipe: {slope: vertical}}, {fitting: {name: V}}, {pipe: {name: flat, slope: 1:96, length: 1500 mm}}, {at: J}]}
  - {storey: ground, size: DN 50, slope: vertical, path: [{at: foot}, {pipe: {}}, {fitting: {name: J, height: 800 mm}}, {pipe: {length: 5 m}}, {terminal: {name: roof}}]}
";
    let report = check(&network(text), &rules("npc-2020")).unwrap_or_else(|error| panic!("{error}"));
    let of_flat = report.findings.iter().filter(|one| one.name == "flat");
    let told: Vec<&str> = of_flat.map(|one| one.message.as_str()).collect();
    let starts = |start: &str| told.iter().any(|message| message.starts_with(start));
    assert!(
        starts("the vent turns horizontal about 116 mm below the highest flood level rim"),
        "{told:?}"
    );
    assert!(
        starts("the joint lies 100 mm below the highest flood level rim"),
        "{told:?}"
    );
}

#[test]
fn a_finding_is_told_in_one_line_with_its_place_and_citation() {
    let text = "
crownweir: network/1
name: house
drains:
  - slope: 1/4 in/ft
    path:
      - fixture: {name: L1, type: lavatory, trap: {size: 1-1/4 in}}
      - pipe: {name: arm, size: 1-1/4 in, length: 6 ft}
      - fitting: {name: T1, pattern: sanitary_tee}
      - pipe: {name: drain, size: 1-1/4 in, length: 2 ft}
      - disposal: {name: sewer}
vents:
  - {size: 1-1/4 in, slope: vertical, path: [{at: T1}, {pipe: {length: 12 ft}}, {terminal: {name: roof}}]}
";
    let found = checked(text).findings.into_iter();
    let mut told: Vec<_> = found
        .filter(|finding| finding.rule == "trap-arm-length")
        .collect();
    let [finding] = &mut told[..] else {
        panic!("{told:?}");
    };
    let told = "trap arm of lavatory `L1`: the trap arm is 6 ft long; 5 ft is the most for a 1-1/4 in trap [IPC 2021, section 909.1]";
    assert_eq!(finding.to_string(), format!("7:18: {told}"));
    // What an edit has added stands nowhere.
    finding.position = Default::default();
    assert_eq!(finding.to_string(), told);
}
