//! Where a fact's value comes from, as a short tree: which fixtures make a load, which pipes a length, which conditions
//! an arrangement.
//!
//! It adds nothing to what was measured; it only names the parts.

use crownweir_rulebook::{Dimension, Fact, Family, Subject, Value};
use crownweir_vocabulary::Role;

use crate::evaluate::{Outcome, condition};
use crate::measure::{Got, Measured, Served};
use crate::show;

/// How many parts of one kind are named.
const MOST_PARTS: usize = 60;

/// A value, and what it is made of.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Derivation {
    /// What has the value.
    pub what: String,
    /// The value in the network's notation; empty where the parts say all.
    pub value: String,
    /// What it comes from.
    pub parts: Vec<Derivation>,
}

/// How many parts of a kind are not named.
fn more(count: usize, kind: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {kind}{plural} more")
}

fn in_a_word(outcome: Outcome, [yes, no]: [&'static str; 2]) -> &'static str {
    match outcome {
        Outcome::Satisfied => yes,
        Outcome::Violated => no,
        Outcome::Undetermined(_) => "cannot be told",
    }
}

impl Derivation {
    fn of(what: impl Into<String>, value: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            value: value.into(),
            parts: Vec::new(),
        }
    }
}

impl Measured<'_> {
    /// Where the value of a fact on an element comes from; the element by its number among the subject's own, as
    /// [`elements`](Self::elements) gives them.
    ///
    /// ```
    /// # use crownweir_evaluate::Measured;
    /// # use crownweir_network::Network;
    /// # use crownweir_rulebook::{Fact, RuleSet, Subject, published};
    /// # let file = "
    /// # crownweir: network/1
    /// # name: drain
    /// # drains:
    /// #   - size: 3 in
    /// #     path:
    /// #       - fixture: {name: A, type: connected_load, load: 2 dfu}
    /// #       - pipe: {length: 3 ft}
    /// #       - fitting: {name: wye}
    /// #       - pipe: {name: drain, length: 9 ft}
    /// #       - disposal: {name: sewer}
    /// #   - {size: 3 in, path: [{fixture: {name: B, type: connected_load, load: 5 dfu}}, {pipe: {length: 2 ft}}, {at: wye}]}
    /// # ";
    /// # let network = Network::read("n.yaml", file.as_bytes(), &Default::default())?;
    /// # let text = published::text("ipc-2021").ok_or("no such rule set")?;
    /// # let rules = RuleSet::read("ipc-2021", text.as_bytes(), &Default::default())?;
    /// let measured = Measured::new(&network, &rules)?;
    /// let drain = measured
    ///     .elements(Subject::Drain)
    ///     .into_iter()
    ///     .find(|&drain| measured.name_of(Subject::Drain, drain) == "drain")
    ///     .ok_or("no drain")?;
    /// let load = measured.derivation(Subject::Drain, drain, Fact::DrainLoad);
    /// assert_eq!(load.value, "7 dfu");
    /// let parts: Vec<_> = load.parts.iter().map(|part| format!("{}: {}", part.what, part.value)).collect();
    /// assert_eq!(parts, ["connected load `A`: 2 dfu", "connected load `B`: 5 dfu"]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn derivation(&self, subject: Subject, element: u32, fact: Fact) -> Derivation {
        let got = self.fact(subject, element, fact);
        let mut own = Derivation::of(fact.name(), show::fact(self, subject, element, fact));
        own.parts = match (fact.family(), fact.dimension()) {
            (Family::Drain | Family::Stack | Family::System | Family::Interval, Dimension::Load) => {
                self.load_parts(subject, element, got)
            }
            (Family::TrapArm, _) => self.arm_parts(element),
            (Family::Vent, Dimension::Length) => self.vent_parts(element),
            (Family::Vent, _) if fact == Fact::VentServedLoad => self.served_parts(element, got),
            (Family::Vent, _) if fact == Fact::VentStackLoad => {
                let stack = self.served_stack(element);
                stack.map_or_else(Vec::new, |stack| self.load_parts(Subject::Stack, stack, got))
            }
            (Family::Protection | Family::Circuit | Family::Combination | Family::Island, _) => {
                self.protection_parts(element)
            }
            (Family::Fixture, Dimension::Load) => self.fixture_parts(element),
            _ => Vec::new(),
        };
        if own.parts.is_empty() {
            own.parts.push(Derivation::of(fact.measured(), ""));
        }
        own
    }

    /// The fixtures whose water passes, each with its load, and what bathroom groups are less than their fixtures.
    fn load_parts(&self, subject: Subject, element: u32, got: Got) -> Vec<Derivation> {
        let from = match subject {
            Subject::Drain | Subject::Pipe => self.pipe(element).map(|pipe| pipe.from),
            Subject::Stack => {
                let stack = self.stack_itself(element);
                let foot = stack
                    .and_then(|stack| stack.pipes.last())
                    .and_then(|&pipe| self.pipe(pipe));
                foot.map(|pipe| pipe.from)
            }
            Subject::System => u32::try_from(self.network.disposal().index()).ok(),
            _ => None,
        };
        from.map_or_else(Vec::new, |from| self.fixtures_above(from, Some(got)))
    }

    fn fixtures_above(&self, from: u32, got: Option<Got>) -> Vec<Derivation> {
        let mut open = vec![from];
        let mut fixtures = Vec::new();
        while let Some(node) = open.pop() {
            if self.fixture(node).is_some() {
                fixtures.push(node);
            }
            let inlets = self
                .inlets(node, Role::Drain)
                .filter_map(|inlet| self.pipe(inlet));
            open.extend(inlets.map(|inlet| inlet.from));
        }
        fixtures.sort_by_key(|&node| show::place_in_file(self, crate::Element::Node(node)));
        let mut sum: Option<Value> = None;
        let mut parts = Vec::new();
        for &node in &fixtures {
            let load = self.fact(Subject::Fixture, node, Fact::FixtureLoad);
            if let Got::Known(load) = load {
                sum = sum.map_or(Some(load), |sum| sum.plus(load));
            }
            if parts.len() < MOST_PARTS {
                let described = show::element_in_words(self, crate::Element::Node(node));
                parts.push(Derivation::of(
                    format!("{} `{}`", described.kind, described.name),
                    show::fact(self, Subject::Fixture, node, Fact::FixtureLoad),
                ));
            }
        }
        if fixtures.len() > MOST_PARTS {
            parts.push(Derivation::of(more(fixtures.len() - MOST_PARTS, "fixture"), ""));
        }
        parts.extend(got.and_then(|got| self.less_by_groups(sum, got)));
        parts
    }

    /// What bathroom groups are less than the sum of their fixtures.
    fn less_by_groups(&self, sum: Option<Value>, got: Got) -> Option<Derivation> {
        let (Some(sum), Got::Known(whole)) = (sum, got) else {
            return None;
        };
        let less = sum.minus(whole).filter(|_| sum != whole)?;
        Some(Derivation::of(
            "less, because whole bathroom groups count at their own value",
            show::value(self, less),
        ))
    }

    fn fixture_parts(&self, fixture: u32) -> Vec<Derivation> {
        let facts = [
            Fact::FixtureKind,
            Fact::FixtureOccupancy,
            Fact::FixtureFlushVolume,
            Fact::FixtureFlow,
            Fact::TrapSize,
        ];
        let known = facts.into_iter().filter_map(|fact| {
            let value = self.fact_in_words(Subject::Fixture, fixture, fact)?;
            Some(Derivation::of(fact.name(), value))
        });
        known.collect()
    }

    fn pipe_part(&self, pipe: u32, lead: &str) -> Derivation {
        let length = self.stated(pipe).and_then(|pipe| pipe.length).map(Value::Length);
        let value = length.map_or_else(
            || "length not stated".to_owned(),
            |length| show::value(self, length),
        );
        let described = show::element_in_words(self, crate::Element::Pipe(pipe));
        Derivation::of(format!("{lead}`{}`", described.name), value)
    }

    /// The pipes from a trap to where it meets its vent.
    fn arm_parts(&self, fixture: u32) -> Vec<Derivation> {
        let Some(supply) = self.state.air.supply(self, fixture) else {
            return vec![Derivation::of("no vent is met", "")];
        };
        let mut parts = Vec::new();
        let mut node = fixture;
        while node != supply.connection && parts.len() < MOST_PARTS {
            let Some(pipe) = self.next(node) else { break };
            let mut part = self.pipe_part(pipe, "");
            if let Some(size) = self.fact_in_words(Subject::Drain, pipe, Fact::PipeSize) {
                part.value = format!("{}, size {size}", part.value);
            }
            parts.push(part);
            let Some(below) = self.pipe(pipe) else { break };
            node = below.to;
        }
        let ends = show::element_in_words(self, crate::Element::Node(supply.connection));
        let by = if supply.connection == supply.dry_vent {
            "where a dry vent stands".to_owned()
        } else {
            let dry = show::element_in_words(self, crate::Element::Node(supply.dry_vent));
            format!("where a drain brings air from the dry vent at `{}`", dry.name)
        };
        parts.push(Derivation::of(format!("ends at `{}`, {by}", ends.name), ""));
        parts
    }

    /// The pipes of a vent's way: from the farthest connection to the pipe, the pipe itself, and on to where it ends.
    fn vent_parts(&self, vent: u32) -> Vec<Derivation> {
        let mut before = Vec::new();
        let mut at = vent;
        while let Some(own) = self.pipe(at).filter(|_| before.len() < MOST_PARTS) {
            // Of the vents that come in, the one by which the way is longest.
            let entering = self
                .inlets(own.from, Role::Vent)
                .filter(|&inlet| self.pipe(inlet).is_some_and(|inlet| inlet.kind == own.kind));
            let longest = entering.max_by_key(|&inlet| (self.length_before(inlet), std::cmp::Reverse(inlet)));
            let Some(longest) = longest else { break };
            before.push(longest);
            at = longest;
        }
        before.reverse();
        let mut parts: Vec<Derivation> = before
            .iter()
            .map(|&pipe| self.pipe_part(pipe, "before it "))
            .collect();
        parts.push(self.pipe_part(vent, ""));
        let mut at = vent;
        let mut steps = 0;
        while let Some(next) = self
            .pipe(at)
            .and_then(|own| self.vent_of(own.to))
            .filter(|_| steps < MOST_PARTS)
        {
            parts.push(self.pipe_part(next, "on from it "));
            at = next;
            steps += 1;
        }
        // Where a length is not stated, it may be that of the longest.
        let up_to_it = before.iter().copied().chain([vent]);
        let lengths: Option<Vec<_>> = up_to_it.map(|pipe| self.stated(pipe)?.length).collect();
        let longest =
            lengths.and_then(|lengths| (0..lengths.len()).max_by_key(|&number| lengths.get(number)));
        if parts.len() > 1
            && let Some(part) = longest.and_then(|number| parts.get_mut(number))
        {
            part.value.push_str(" (the longest up to it)");
        }
        parts
    }

    fn length_before(&self, vent: u32) -> i64 {
        match self.fact(Subject::Vent, vent, Fact::VentDevelopedLength) {
            Got::Known(Value::Length(length)) => length.nanometres(),
            _ => 0,
        }
    }

    /// The drains that a vent serves, each with its load and its fixtures; last those that are part of others.
    fn served_parts(&self, vent: u32, got: Got) -> Vec<Derivation> {
        let served = self.served_drains(vent);
        let name = |node: u32| show::element_in_words(self, crate::Element::Node(node)).name;
        let what = |served: &Served| {
            let (from, end) = (name(served.from), name(served.end));
            match served.from == served.end {
                true => format!("what drains to `{end}`, where the vent begins"),
                false => format!("what drains to `{end}`, as far as the vent from `{from}` serves"),
            }
        };
        let (within, apart): (Vec<_>, Vec<_>) = served.iter().partition(|served| served.within.is_some());
        let mut parts = Vec::new();
        for own in apart.iter().take(MOST_PARTS) {
            let mut part = Derivation::of(what(own), show::got(self, own.load));
            part.parts = self.fixtures_above(own.end, None);
            parts.push(part);
        }
        let sum_of = |drains: &[Served]| {
            let loads = drains.iter().filter_map(|own| match own.load {
                Got::Known(load) => Some(load),
                _ => None,
            });
            loads.reduce(|sum, load| sum.plus(load).unwrap_or(sum))
        };
        if let Some(more) = apart.get(MOST_PARTS..).filter(|more| !more.is_empty()) {
            let sum = sum_of(more).map_or_else(String::new, |sum| show::value(self, sum));
            parts.push(Derivation::of(self::more(more.len(), "drain"), sum));
        }
        for own in within.iter().take(MOST_PARTS) {
            let holder = own.within.map(name).unwrap_or_default();
            let load = show::got(self, own.load);
            parts.push(Derivation::of(
                format!("not counted again: {load} of {}", what(own)),
                format!("part of what drains to `{holder}`"),
            ));
        }
        if within.len() > MOST_PARTS {
            let more = more(within.len() - MOST_PARTS, "drain");
            parts.push(Derivation::of(format!("not counted again: {more}"), ""));
        }
        parts.extend(self.less_by_groups(sum_of(&apart), got));
        parts
    }

    /// The shape by which air reaches a trap, and how each arrangement of that shape was judged.
    fn protection_parts(&self, fixture: u32) -> Vec<Derivation> {
        let mut parts = match self.state.air.supply(self, fixture) {
            Some(_) => self.arm_parts(fixture),
            None => vec![Derivation::of("no vent is met on the way down", "")],
        };
        let patterns = self.patterns(fixture);
        for arrangement in &self.rules.arrangements {
            if !patterns.contains(&arrangement.pattern) {
                continue;
            }
            let mut whole = Vec::new();
            let mut part = Derivation::of(arrangement.title.clone(), "");
            for one in &arrangement.conditions {
                let outcome = condition(self, Subject::Trap, fixture, &one.require);
                let facts = one.require.facts().into_iter().map(|fact| {
                    let got = self.fact(Subject::Trap, fixture, fact);
                    format!("{} {}", fact.name(), show::got(self, got))
                });
                let facts = facts.collect::<Vec<_>>().join(", ");
                part.parts
                    .push(Derivation::of(facts, in_a_word(outcome, ["yes", "no"])));
                whole.push(outcome);
            }
            let whole = Outcome::of_all(whole.into_iter());
            part.value = in_a_word(whole, ["holds", "does not hold"]).to_owned();
            parts.push(part);
        }
        parts
    }
}
