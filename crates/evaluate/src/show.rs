//! Values, elements and messages in words. All text of a finding that does not stand in the rule set is made
//! here.

use std::cmp::Ordering;

use crownweir_network::angles::{self, Fit};
use crownweir_network::{NodeId, PipeId, Position, RunId};
use crownweir_quantity::{Angle, Slope};
use crownweir_rulebook::{Fact, Grain, Message, Operand, Piece, Subject, Value};
use crownweir_vocabulary::{Cut, FixtureType, Role};

use crate::check::Decision;
use crate::evaluate::{Limit, operand_with};
use crate::measure::{Element, Gap, Got, Measured};
use crate::report::Missing;

/// An element in words.
pub(crate) struct Described {
    pub(crate) kind: String,
    pub(crate) name: String,
    pub(crate) storey: Option<String>,
    pub(crate) position: Position,
}

pub(crate) fn value(measured: &Measured<'_>, value: Value) -> String {
    value.in_words(&measured.rules.ladder, measured.network.notation())
}

pub(crate) fn value_to(measured: &Measured<'_>, value: Value, grain: Grain) -> String {
    value.in_words_to(grain, &measured.rules.ladder, measured.network.notation())
}

pub(crate) fn limit(measured: &Measured<'_>, limit: Limit) -> String {
    limit_to(measured, limit, Grain::Usual)
}

pub(crate) fn limit_to(measured: &Measured<'_>, limit: Limit, grain: Grain) -> String {
    match limit {
        Limit::Known(known) => value_to(measured, known, grain),
        Limit::Barred => "not permitted".to_owned(),
        Limit::Unlimited => "no limit".to_owned(),
        Limit::Absent => "none".to_owned(),
        Limit::Missing(missing) => gap(measured, missing).to_string(),
    }
}

/// A fact's value, or what would tell it.
pub(crate) fn got(measured: &Measured<'_>, got: Got) -> String {
    match got {
        Got::Missing(missing) => format!("needs {}", gap(measured, missing)),
        got => limit(measured, got.into()),
    }
}

/// What a fact comes to on an element; of a load that lies between two ends, these too.
pub(crate) fn fact(measured: &Measured<'_>, subject: Subject, number: u32, fact: Fact) -> String {
    let got = got(measured, measured.fact(subject, number, fact));
    match ends_of_load(measured, subject, number, fact) {
        Some(ends) => format!("{ends}; {got}"),
        None => got,
    }
}

/// What must be stated to close a gap.
pub(crate) fn gap(measured: &Measured<'_>, gap: Gap) -> Missing {
    let table = |table: u16| measured.rules.table(usize::from(table));
    if let Gap::NotStated {
        datum: "load",
        element: Element::Node(node),
    } = gap
        && let Some(behind) = measured.behind_load(node)
    {
        return self::gap(measured, behind);
    }
    Missing::Other(match gap {
        Gap::NotStated { datum, element } => {
            let Described { kind, name, .. } = element_in_words(measured, element);
            let datum = match element {
                // A file may not state it.
                Element::Node(node) if datum == "load" && !measured.states_load(node) => {
                    "load in the rule set"
                }
                _ => datum,
            };
            return Missing::OfElement { datum, kind, name };
        }
        Gap::NoRow { table: index } => {
            let name = table(index).map_or("", |table| table.name.as_str());
            format!("a row of the table `{name}` for this case")
        }
        Gap::Unfilled {
            table: index,
            row,
            column,
        } => {
            let found = table(index);
            let name = found.map_or("", |table| table.name.as_str());
            let column = found
                .and_then(|table| table.columns().get(usize::from(column)))
                .map_or("", |column| column.name.as_str());
            let keys = found
                .and_then(|table| table.rows().get(usize::from(row)))
                .map(|row| {
                    let keys = row.keys.iter().flatten().map(|key| value(measured, *key));
                    keys.collect::<Vec<_>>().join(", ")
                });
            // A row for any has no keys to tell.
            let keys = keys.filter(|keys| !keys.is_empty());
            let keys = keys.map(|keys| format!(" at {keys}")).unwrap_or_default();
            format!("the cell `{column}` of the table `{name}`{keys}, to be filled from its source")
        }
        Gap::NotInRuleSet { datum } => format!("{datum} in the rule set"),
        Gap::Overflow => "a figure within the range that can be reckoned with".to_owned(),
    })
}

/// The element that a subject's own number stands for.
pub(crate) fn element_of(subject: Subject, number: u32) -> Element {
    match subject {
        Subject::Pipe | Subject::Drain | Subject::Vent | Subject::Turn => Element::Pipe(number),
        Subject::Stack => Element::Stack(number),
        Subject::BranchInterval => Element::Interval(number),
        Subject::Passage => Element::Passage(number),
        Subject::Test => Element::Test(number),
        Subject::System => Element::System,
        _ => Element::Node(number),
    }
}

/// Where the file has an element, or the node or pipe by which it is shown, and the name, by which those of repeated storeys
/// are told apart.
pub(crate) fn place_in_file<'a>(measured: &Measured<'a>, element: Element) -> (u32, u32, &'a str) {
    let found = match measured.place_of(element) {
        Element::Node(node) => measured.node(node).map(|node| (node.position, &node.name)),
        Element::Pipe(pipe) => measured.stated(pipe).map(|pipe| (pipe.position, &pipe.name)),
        _ => None,
    };
    found.map_or((0, 0, ""), |(position, name)| {
        (position.line, position.column, name)
    })
}

/// An element as the subject of a rule.
pub(crate) fn subject_in_words(measured: &Measured<'_>, subject: Subject, number: u32) -> Described {
    let mut described = element_in_words(measured, element_of(subject, number));
    match subject {
        Subject::Trap => described.kind = format!("trap of {}", described.kind),
        Subject::TrapArm => described.kind = format!("trap arm of {}", described.kind),
        Subject::Turn => {
            let fitting = measured.pipe(number).and_then(|pipe| measured.node(pipe.to));
            if let Some(fitting) = fitting {
                described.kind = "fitting".to_owned();
                described.name = fitting.name.to_string();
                described.position = fitting.position;
                described.storey = storey(measured, fitting.storey);
            }
        }
        _ => {}
    }
    described
}

fn storey(measured: &Measured<'_>, storey: Option<u32>) -> Option<String> {
    let storey = measured.network.storeys().get(storey? as usize)?;
    Some(storey.name.to_string())
}

pub(crate) fn element_in_words(measured: &Measured<'_>, element: Element) -> Described {
    let mut described = Described {
        kind: "network".to_owned(),
        name: measured.network.name().to_owned(),
        storey: None,
        position: Position { line: 1, column: 1 },
    };
    match element {
        Element::Node(node) => {
            if let Some(node) = measured.node(node) {
                described.kind = match &node.kind {
                    crownweir_network::NodeKind::Fixture(fixture) => fixture.fixture_type.to_string(),
                    other => other.word().to_owned(),
                };
                described.name = node.name.to_string();
                described.storey = storey(measured, node.storey);
                described.position = node.position;
            }
        }
        Element::Pipe(pipe) => {
            if let (Some(stated), Some(facts)) = (measured.stated(pipe), measured.pipe(pipe)) {
                described.kind = stated.role.to_string();
                described.name = stated.name.to_string();
                described.position = stated.position;
                described.storey = measured
                    .node(facts.from)
                    .and_then(|node| storey(measured, node.storey));
            }
        }
        Element::Stack(stack) => {
            if let Some(stack) = measured.stack_itself(stack) {
                described.kind = "stack".to_owned();
                let run = measured.network.run(RunId::new(stack.run));
                described.name = run.map_or_else(String::new, |run| run.name.to_string());
                let foot = stack.pipes.first().and_then(|&pipe| measured.stated(pipe));
                described.position = foot.map(|pipe| pipe.position).unwrap_or_default();
            }
        }
        Element::Interval(interval) => {
            if let Some(interval) = measured.interval(interval) {
                let node = element_in_words(measured, Element::Node(interval.node));
                let stack = element_in_words(measured, Element::Stack(interval.stack));
                described = node;
                described.kind = format!("branch interval of stack `{}` from", stack.name);
            }
        }
        Element::Passage(number) => {
            if let Some(passage) = measured.passage(number) {
                let pipe = measured.network.graph().edge_weight(passage.pipe);
                let (pipe, members) = (pipe.map_or("", |pipe| &*pipe.name), measured.members(passage));
                described.kind = match passage.cut {
                    Cut::Bored => "hole".to_owned(),
                    Cut::Notched | Cut::EndNotched => "notch".to_owned(),
                    _ => "passage".to_owned(),
                };
                described.name = format!(
                    "{pipe}, {} {}",
                    members.map_or("", |members| &*members.name),
                    passage.called()
                );
                described.storey = storey(measured, measured.network.storey_of(passage));
                described.position = passage.position;
            }
        }
        Element::Test(test) => {
            if let Some(test) = measured.network.tests().get(test as usize) {
                described.kind = "test".to_owned();
                described.name = test.section.to_string();
                described.position = test.position;
            }
        }
        Element::System => {}
    }
    described
}

/// A figure as a sentence takes it: a pipe that falls less than nothing falls the wrong way, one that is not permitted
/// takes none, and what is not stated is said not to be.
fn in_sentence(measured: &Measured<'_>, figure: Limit, grain: Grain) -> String {
    if figure == Limit::Barred {
        return "none".to_owned();
    }
    // What need not be known is told of without it.
    if let Limit::Missing(missing) = figure
        && let Missing::OfElement { datum, .. } = gap(measured, missing)
    {
        return format!("({datum} not stated)");
    }
    if let Limit::Known(Value::Slope(slope)) = figure
        && let Some(back) = slope.rise().checked_neg().filter(|rise| *rise > 0)
        && let Some(back) = Slope::new(back, slope.run())
    {
        return format!("{} the wrong way", value_to(measured, Value::Slope(back), grain));
    }
    limit_to(measured, figure, grain)
}

/// Between which ends a load lies that is not known; of a length, what it comes to at the least or at the most.
fn ends_in_words(measured: &Measured<'_>, subject: Subject, number: u32, fact: Fact) -> Option<String> {
    if let Some((words, end)) = measured.open_length(subject, number, fact) {
        return Some(format!("{words} {}", value(measured, end)));
    }
    ends_of_load(measured, subject, number, fact)
}

/// Between which ends a load lies that is not known.
pub(crate) fn ends_of_load(
    measured: &Measured<'_>,
    subject: Subject,
    number: u32,
    fact: Fact,
) -> Option<String> {
    let (least, most) = measured.open_load(subject, number, fact)?;
    let [least, most] = [least, most].map(|end| value(measured, end));
    Some(if least == most {
        most
    } else {
        format!("{least} to {most}")
    })
}

/// What an operand comes to, with the most of each load that is not known.
fn with_most_load(measured: &Measured<'_>, subject: Subject, number: u32, shown: &Operand) -> Limit {
    let facts = shown.facts().into_iter();
    let most: Vec<_> = facts
        .filter_map(|fact| Some((fact, measured.open_load(subject, number, fact)?.1)))
        .collect();
    operand_with(measured, subject, number, shown, &most)
}

/// A message with its figures.
pub(crate) fn message(
    measured: &Measured<'_>,
    subject: Subject,
    number: u32,
    text: &Message,
    show: &[(String, Operand)],
    decision: Option<&Decision<'_>>,
) -> String {
    let mut said = String::new();
    let grains = decision.map(|decision| decision.grains(measured));
    let (own, limits) = grains.unwrap_or((Grain::Usual, Grain::Usual));
    let mut last = String::new();
    for piece in &text.pieces {
        let (figure, grain) = match piece {
            Piece::Text(text) => {
                go_on_after(&mut said, &last, text);
                continue;
            }
            Piece::LeastOrMost => {
                let words = decision.map_or("", least_or_most);
                said.push_str(if said.ends_with("none is ") {
                    PERMITTED
                } else {
                    words
                });
                continue;
            }
            // That a group is none says nothing by itself.
            Piece::Fact(Fact::FixtureGroupComplete) => {
                said.push_str(&of_group(measured, number));
                continue;
            }
            // Nor that a fitting does not fit.
            Piece::Fact(fact @ (Fact::FittingDrainsFit | Fact::FittingVentsFit)) => {
                said.push_str(&of_fit(measured, subject, number, *fact));
                continue;
            }
            Piece::Fact(fact) => {
                let compared = decision.is_some_and(|decision| decision.test.fact == *fact);
                let grain = if compared { own } else { Grain::Usual };
                (Some(measured.fact(subject, number, *fact).into()), grain)
            }
            Piece::Shown(index) => {
                let shown = show.get(*index);
                let shown = shown.map(|(_, shown)| with_most_load(measured, subject, number, shown));
                (shown, Grain::Usual)
            }
            Piece::Measured => (decision.map(|decision| decision.measured.into()), own),
            Piece::Limit => (decision.map(|decision| decision.limit), limits),
        };
        let between = match piece {
            Piece::Fact(fact) => ends_in_words(measured, subject, number, *fact),
            Piece::Measured => {
                decision.and_then(|decision| ends_in_words(measured, subject, number, decision.test.fact))
            }
            _ => None,
        };
        if let Some(figure) = figure {
            last = between.unwrap_or_else(|| in_sentence(measured, figure, grain));
            go_on(&mut said, &last);
        }
    }
    said
}

/// What none is, rather than the least or the most.
const PERMITTED: &str = "permitted";

/// Puts the words of a message behind a figure: in the singular or the plural; what is less than nothing above lies below,
/// and none is permitted where none is the most.
fn go_on_after(said: &mut String, figure: &str, words: &str) {
    let mut words = words.replace("(s)", if figure == "1" { "" } else { "s" });
    if figure == "none" {
        for limit in [" is the most", " is the least"] {
            if let Some(rest) = words.strip_prefix(limit) {
                words = format!(" is {PERMITTED}{rest}");
                break;
            }
        }
    }
    // At most so much less than nothing above is at least so much below.
    let turned = [
        ("-", ""),
        ("about -", "about "),
        ("at most -", "at least "),
        ("at least -", "at most "),
    ];
    let depth = turned
        .iter()
        .find_map(|(is, turned)| Some(format!("{turned}{}", figure.strip_prefix(is)?)));
    if let Some(depth) = depth
        && let Some(rest) = words.strip_prefix(" above")
        && said.ends_with(figure)
    {
        said.truncate(said.len() - figure.len());
        said.push_str(&depth);
        said.push_str(" below");
        said.push_str(rest);
    } else {
        said.push_str(&words);
    }
}

/// The most faults of a bathroom group that a message tells, which each fixture put into it tells again.
const MOST_FAULTS: usize = 20;

/// The bathroom group that a fixture is put into, with what keeps it from being one.
fn of_group(measured: &Measured<'_>, fixture: u32) -> String {
    let group = measured
        .fixture(fixture)
        .and_then(|fixture| fixture.group.as_deref());
    let mut said = format!("group `{}`", group.unwrap_or_default());
    let Some(shortfall) = measured.state.loads.shortfall(measured, fixture) else {
        return said;
    };
    let definition = &measured.rules.definitions.bathroom_group;
    let lacking = shortfall
        .lacks
        .iter()
        .filter_map(|&place| definition.needs.get(place));
    let lacking = lacking.map(|place| {
        let types: Vec<String> = place.iter().map(ToString::to_string).collect();
        let mut one = "a ".to_owned();
        go_on(&mut one, &types.join(" or "));
        one
    });
    let lacking: Vec<String> = lacking.collect();
    let called = |&(node, fixture_type): &(u32, FixtureType)| {
        let name = measured.node(node).map_or("", |node| &*node.name);
        format!("{fixture_type} `{name}`")
    };
    let (taken, foreign): (Vec<_>, Vec<_>) = shortfall
        .without_place
        .iter()
        .partition(|(_, fixture_type)| definition.places().any(|place| place.contains(fixture_type)));
    let lacks = (!lacking.is_empty()).then(|| format!("lacks {}", lacking.join(" and ")));
    let taken = taken
        .into_iter()
        .map(|one| format!("has {} too many", called(one)));
    let foreign = foreign
        .into_iter()
        .map(|one| format!("has no place for {}", called(one)));
    let elsewhere = shortfall.elsewhere.iter();
    let elsewhere = elsewhere.map(|one| format!("has {} on another storey", called(one)));
    let all = lacks.iter().len() + taken.len() + foreign.len() + elsewhere.len();
    let faults = lacks.into_iter().chain(taken).chain(foreign).chain(elsewhere);
    let mut faults: Vec<String> = faults.take(MOST_FAULTS).collect();
    if all > MOST_FAULTS {
        faults.push(format!("and {} more", all - MOST_FAULTS));
    }
    if !faults.is_empty() {
        said.push(' ');
        said.push_str(&faults.join(", "));
    }
    said
}

/// What the pipes at a fitting do that it does not join, and what it is made for.
fn of_fit(measured: &Measured<'_>, subject: Subject, number: u32, fact: Fact) -> String {
    let node = match subject {
        Subject::Turn => measured.pipe(number).map(|pipe| pipe.to),
        _ => Some(number),
    };
    let role = match fact {
        Fact::FittingVentsFit => Role::Vent,
        _ => Role::Drain,
    };
    let fit = node.and_then(|node| angles::fit(measured.network, NodeId::new(node as usize), role));
    let pattern = node.and_then(|node| measured.pattern_at(node));
    let Some((Fit::Denies(found), pattern)) = fit.zip(pattern) else {
        return limit(measured, measured.fact(subject, number, fact).into());
    };
    let called = |pipe: PipeId| {
        measured
            .network
            .graph()
            .edge_weight(pipe)
            .map_or("", |pipe| &*pipe.name)
    };
    let turn = Angle::from_microdegrees(pattern.turn_in_tenths().saturating_mul(100_000));
    let made = match (pattern.has_branch(), pattern.turn_in_tenths()) {
        (true, _) => format!("is made to go straight on or to join at {turn}"),
        (false, 0) => "is made to go straight on".to_owned(),
        (false, _) => format!("is made to turn {turn}"),
    };
    let mut said = format!(
        "between `{}` and `{}` the way turns {}; a ",
        called(found.pipe),
        called(found.outlet),
        found.in_tenths(),
    );
    go_on(&mut said, &format!("{pattern} {made}"));
    said
}

/// What a limit is that a value does not keep to.
fn least_or_most(decision: &Decision<'_>) -> &'static str {
    match (decision.measured, decision.limit) {
        (Got::Known(value), Limit::Known(limit)) if value.compare(limit) == Some(Ordering::Less) => {
            "the least"
        }
        _ => "the most",
    }
}

/// Goes on with a figure in a sentence: the article before it is as it is spoken, and what falls by nothing lies level.
fn go_on(said: &mut String, figure: &str) {
    let ends_with = |word: &str| {
        let before = said.strip_suffix(word);
        before.is_some_and(|before| before.is_empty() || before.ends_with([' ', '(']))
    };
    if figure == "level" && ends_with("falls ") {
        said.truncate(said.len() - "falls ".len());
        said.push_str("lies ");
    } else if ends_with("a ") && begins_with_vowel(figure) {
        said.pop();
        said.push_str("n ");
    }
    said.push_str(figure);
}

/// Whether a figure or word of the vocabulary begins with a vowel where it is spoken: `eight`, `eleven`, `eighth bend`, and
/// not `urinal`.
fn begins_with_vowel(figure: &str) -> bool {
    let digits = figure.bytes().take_while(u8::is_ascii_digit).count();
    let number = figure.get(..digits).unwrap_or_default();
    let is_eleven = (number.starts_with("11") || number.starts_with("18")) && digits % 3 == 2;
    number.starts_with('8') || is_eleven || figure.starts_with(['a', 'e', 'i', 'o'])
}

#[cfg(test)]
mod tests {
    use super::go_on;

    #[test]
    fn figures_are_put_into_the_grammar_of_their_sentence() {
        for (before, figure, said) in [
            ("the drain falls ", "level", "the drain lies level"),
            ("the drain falls ", "1/8 in/ft", "the drain falls 1/8 in/ft"),
            ("the water falls and is ", "level", "the water falls and is level"),
            ("a ", "eighth bend", "an eighth bend"),
            ("a ", "urinal", "a urinal"),
            ("a ", "lavatory", "a lavatory"),
            ("on a ", "8 in", "on an 8 in"),
            ("on a ", "18 in", "on an 18 in"),
            ("on a ", "1-1/8 in", "on a 1-1/8 in"),
            ("on a ", "110 mm", "on a 110 mm"),
            ("on a ", "DN 80", "on a DN 80"),
            ("the extra ", "8 in", "the extra 8 in"),
        ] {
            let mut sentence = before.to_owned();
            go_on(&mut sentence, figure);
            assert_eq!(sentence, said);
        }
    }
}
