//! What is to be said of an element: by a rule, or by the arrangements that may protect a trap.

use std::cmp::Reverse;
use std::collections::BTreeSet;

use crownweir_network::NodeKind;
use crownweir_quantity::Slope;
use crownweir_rulebook::{
    Arrangement, Check, Citation, Comparison, Fact, Grain, Message, Operand, Piece, Rule, Value,
};
use serde_json::{Value as Json, json};

use crate::walk::{By, Came, Walk};
use crate::{list, text};

/// What to say of something that fails, what would mend it, what to cite, and by which comparison it fails.
type Failed<'w> = (&'w Message, Option<&'w Message>, &'w Citation, Option<By<'w>>);

impl<'w> Walk<'w> {
    pub(crate) fn rule(&mut self, rule: &'w Rule) -> Json {
        let when = self.condition(&rule.when);
        let require = rule.require.as_ref().map(|one| self.condition(one));
        let mut own = finding(&rule.name, &rule.title, rule.severity.name());
        match (when, require) {
            (_, None) => own["verdict"] = "left to a visit".into(),
            (Came::Yes, Some(Came::Yes)) => own["verdict"] = "pass".into(),
            (Came::No(_), _) | (_, Some(Came::Yes)) => own["verdict"] = "no finding".into(),
            (Came::Yes, Some(Came::No(by))) => {
                let citation = by.as_ref().map(|by| rule.citation_of(by.0));
                let citation = citation.unwrap_or(&rule.citation);
                let failed = [(&rule.message, rule.advice.as_ref(), citation, by)];
                self.telling(|walk| walk.tell(&mut own, "", &failed, &rule.show));
                return own;
            }
            (Came::Open(gaps), Some(Came::Open(more))) => self.leave_open(&mut own, &(&gaps | &more)),
            (Came::Open(gaps), _) | (_, Some(Came::Open(gaps))) => self.leave_open(&mut own, &gaps),
        }
        self.cited.push(&rule.citation);
        own
    }

    pub(crate) fn protection(&mut self) -> Json {
        let Some(asked) = &self.rules.protection else {
            return json!({"verdict": "no finding"});
        };
        let arrangements = &self.rules.arrangements;
        let pattern = self.fact(Fact::ProtectionPattern);
        // Whether a trap is seen as part of a combination drain may hang on something that is not stated.
        let vented = Fact::CombinationVented;
        let may_combine = self.claim["steps"][1]["fact"] == vented.name();
        let open = may_combine.then(|| self.fact(vented)).and_then(Result::err);
        let open = open.filter(|none| none["is"] == "open");
        let open = open.map(|none| text(&none["text"]).to_owned());
        let patterns = &self.claim["steps"][1 + usize::from(may_combine)]["patterns"];
        let shapes: Vec<&str> = list(patterns).iter().map(text).collect();
        self.put(json!({"step": "shapes", "patterns": patterns}));
        let is_known = |shape: &&str| arrangements.iter().any(|one| one.pattern.name() == *shape);
        if !matches!(&shapes[..], [shapes @ .., "none"] if shapes.iter().all(is_known)) {
            return json!({"verdict": "of unknown shapes"});
        }
        let best = self.best(&shapes, open.as_deref());
        // Of which shape a trap is may hang on something that is not stated.
        let is_unseen =
            matches!(&pattern, Err(none) if none["is"] == "open") && shapes == ["none"] && open.is_none();
        let mut own = finding(&asked.rule, &asked.title, "violation");
        if let Some((by, failed, gaps)) = &best
            && failed.is_empty()
            && gaps.is_empty()
            && !is_unseen
        {
            own["verdict"] = "pass".into();
            if by.needs_approval {
                own = finding(&by.name, &by.title, "needs_approval");
                let title = &by.title;
                own["message"] =
                    format!("protected by {title}, which needs the authority's permission").into();
                self.cited.push(&by.citation);
            }
            return own;
        }
        self.telling(|walk| {
            own["advice"] = walk.say(asked.advice.as_ref(), &[], None);
            match best {
                _ if is_unseen => walk.leave_open(&mut own, &[walk.words(&pattern)].into()),
                Some((_, failed, gaps)) if failed.is_empty() => walk.leave_open(&mut own, &gaps),
                nearest => {
                    own["message"] = walk.say(Some(&asked.message), &[], None);
                    if let Some((by, failed, _)) = nearest {
                        let head = format!("not protected; the nearest arrangement is {}, but ", by.title);
                        return walk.tell(&mut own, &head, &failed, &[]);
                    }
                    // Whether a shape has air is a measurement that the steps do not tell.
                    let shape = walk.words(&pattern);
                    let vented =
                        format!("vented by the shape `{shape}`, which the rule set admits in no arrangement");
                    if shape != "none" && walk.claim["message"] == vented {
                        own["message"] = vented.into();
                    }
                }
            }
            walk.cited.push(&asked.citation);
        });
        own
    }

    /// The arrangement that protects a trap, or comes nearest to it, with what fails and what is not known of it; one of
    /// combination drains among them where it hangs on what is open whether the trap is seen as part of one.
    fn best(
        &mut self,
        shapes: &[&str],
        open: Option<&str>,
    ) -> Option<(&'w Arrangement, Vec<Failed<'w>>, BTreeSet<String>)> {
        let (mut best, mut least) = (None, None);
        for arrangement in &self.rules.arrangements {
            let is_seen = shapes.contains(&arrangement.pattern.name());
            let may_be = open.filter(|_| !is_seen && arrangement.pattern.name() == "combination");
            if !is_seen && may_be.is_none() {
                continue;
            }
            let (mut failed, mut gaps, mut steps) = (Vec::new(), BTreeSet::new(), Vec::new());
            let (mut first, mut is_for_others) = (None, false);
            for (index, one) in arrangement.conditions.iter().enumerate() {
                let (came, own) = self.apart(|walk| walk.condition(&one.require));
                steps.push(own);
                match came {
                    Came::Yes => {}
                    Came::Open(more) => gaps.extend(more),
                    Came::No(by) => {
                        first = first.or(Some(index));
                        is_for_others |= one.defining;
                        failed.push((&one.message, one.advice.as_ref(), &one.citation, by));
                    }
                }
            }
            let name = &arrangement.name;
            self.put(json!({"step": "arrangement", "arrangement": name, "conditions": steps}));
            // Of what it is not for it is no near miss, nor of what it may not be seen as.
            if is_for_others || (may_be.is_some() && !failed.is_empty()) {
                continue;
            }
            gaps.extend(may_be.map(str::to_owned));
            // Best is what protects, then with permission, then what needs the fewest data, then the nearest.
            let open = if failed.is_empty() { gaps.len() } else { 0 };
            let gated = arrangement.needs_approval && open == 0;
            let rank = (failed.len(), open, first == Some(0), gated, Reverse(first));
            if least.is_none_or(|least| rank < least) {
                least = Some(rank);
                best = Some((arrangement, failed, gaps));
            }
        }
        best
    }

    /// Says something, and puts down the steps of what is told in it.
    fn telling(&mut self, say: impl FnOnce(&mut Self)) {
        let ((), steps) = self.apart(say);
        if !steps.is_empty() {
            self.put(json!({"step": "told", "steps": steps}));
        }
    }

    /// Tells of what fails, with the figures of the first comparison that has any.
    fn tell(&mut self, own: &mut Json, head: &str, all: &[Failed<'w>], show: &[(String, Operand)]) {
        let (mut messages, mut advice) = (Vec::new(), Vec::new());
        for (message, mend, citation, by) in all {
            messages.push(self.say(Some(message), show, by.as_ref()));
            advice.push(self.say(*mend, show, by.as_ref()));
            if own["measured"].is_null() {
                self.cited.push(citation);
                self.figures(own, by.as_ref());
            }
        }
        let joined = |all: &[Json]| all.iter().map(text).collect::<Vec<_>>().join("; ");
        own["message"] = format!("{head}{}", joined(&messages)).into();
        // Half of what would mend it is no advice.
        if !advice.contains(&Json::Null) {
            advice.dedup();
            own["advice"] = joined(&advice).into();
        }
    }

    /// Puts down the figures of a comparison that has any, and the headroom between them.
    fn figures(&self, own: &mut Json, by: Option<&By<'w>>) {
        let Some((test, measured, limit)) = by.filter(|by| by.0.fact.dimension().is_ordered()) else {
            return;
        };
        let (own_grain, grain) = self.grains(test, measured, limit);
        let (measured, limit) = (measured.as_ref().ok(), limit.as_ref().ok());
        let room = |(measured, limit): (&Value, &Value)| match test.check {
            Check::Compare(Comparison::AtMost | Comparison::LessThan, _) => limit.minus(*measured),
            Check::Compare(Comparison::AtLeast | Comparison::MoreThan, _) => measured.minus(*limit),
            _ => None,
        };
        let room = measured.zip(limit).and_then(room);
        let words = |value: &Value, grain| self.words_to(&Ok(*value), grain);
        own["measured"] = measured.map(|value| words(value, own_grain)).into();
        own["limit"] = limit.map(|value| words(value, grain)).into();
        // Room that there is does not read as none.
        let of_room = |room: &Value| {
            let none = room.minus(*room).map(|none| words(&none, Grain::Usual));
            let usual = words(room, Grain::Usual);
            let is_some = Some(*room) != room.minus(*room);
            let alike = none.is_some_and(|none| usual.strip_prefix("about ") == Some(none.as_str()));
            if is_some && alike {
                words(room, Grain::Exact)
            } else {
                usual
            }
        };
        own["headroom"] = room.as_ref().map(of_room).into();
    }

    /// The bathroom group of the claim's fixture, with all that keeps it from being one.
    fn group(&self) -> String {
        let fixtures = || {
            let nodes = self.network.graph().node_weights();
            nodes.filter_map(|node| match &node.kind {
                NodeKind::Fixture(fixture) => Some((node, fixture)),
                _ => None,
            })
        };
        let own = fixtures().find(|(node, _)| self.claim["name"] == *node.name);
        let Some(group) = own.and_then(|(_, fixture)| fixture.group.as_deref()) else {
            return String::new();
        };
        let definition = &self.rules.definitions.bathroom_group;
        let mut needed: Vec<_> = definition.needs.iter().collect();
        let mut allowed: Vec<_> = definition.may_have.iter().collect();
        let (mut taken, mut foreign, mut elsewhere) = (Vec::new(), Vec::new(), Vec::new());
        let mut storey = None;
        let mut members: Vec<_> = fixtures()
            .filter(|(_, one)| one.group.as_deref() == Some(group))
            .collect();
        members.sort_by_key(|(node, one)| {
            let place = (node.position.line, node.position.column, &node.name);
            (one.fixture_type.name(), node.storey, place)
        });
        for (node, fixture) in members {
            let (kind, called) = (
                fixture.fixture_type,
                format!("{} `{}`", fixture.fixture_type, node.name),
            );
            let is_for = |place: &&Vec<_>| place.contains(&kind);
            if let Some(place) = needed.iter().position(is_for) {
                needed.remove(place);
            } else if let Some(place) = allowed.iter().position(is_for) {
                allowed.remove(place);
            } else if definition.places().any(|place| is_for(&place)) {
                taken.push(format!("has {called} too many"));
            } else {
                foreign.push(format!("has no place for {called}"));
            }
            if *storey.get_or_insert(node.storey) != node.storey {
                elsewhere.push(format!("has {called} on another storey"));
            }
        }
        let lacking = needed.iter().map(|place| {
            let kinds: Vec<_> = place.iter().map(|kind| kind.name().replace('_', " ")).collect();
            let article = if kinds[0].starts_with(['a', 'e', 'i', 'o']) {
                "an"
            } else {
                "a"
            };
            format!("{article} {}", kinds.join(" or "))
        });
        let lacking: Vec<_> = lacking.collect();
        let lacks = (!lacking.is_empty()).then(|| format!("lacks {}", lacking.join(" and ")));
        let mut faults: Vec<_> = lacks
            .into_iter()
            .chain(taken)
            .chain(foreign)
            .chain(elsewhere)
            .collect();
        // No more are told by any message.
        if let Some(more @ 1..) = faults.len().checked_sub(20) {
            faults.truncate(20);
            faults.push(format!("and {more} more"));
        }
        format!("group `{group}` {}", faults.join(", "))
    }

    /// The ends between which a load is told to lie that is not known.
    fn ends(&self, fact: Fact) -> Option<[Value; 2]> {
        self.told_ends(fact)
            .filter(|ends| matches!(ends, [Value::Load(_), _]))
    }

    /// The one end that is told of a length that is not known and has no other.
    fn one_end(&self, fact: Fact) -> Option<(&'static str, Value)> {
        match self.told_ends(fact)? {
            [least, Value::Length(most)] if most.nanometres() == i64::MAX => Some(("least", least)),
            [Value::Length(least), most] if least.nanometres() == -i64::MAX => Some(("most", most)),
            _ => None,
        }
    }

    fn told_ends(&self, fact: Fact) -> Option<[Value; 2]> {
        let told = self.facts.get(&fact)?.as_ref().err()?;
        let (least, most) = text(&told["exact"]).split_once(" to ")?;
        let end = |told| fact.dimension().read_exact(told, &self.rules.ladder);
        Some([end(least)?, end(most)?])
    }

    /// What an operand comes to with the most of each such load, where it reads any.
    fn with_most(&mut self, operand: &Operand) -> Option<crate::walk::Got> {
        let facts = operand.facts().into_iter();
        let most: Vec<_> = facts
            .filter_map(|fact| Some((fact, self.ends(fact)?[1])))
            .collect();
        if most.is_empty() {
            return None;
        }
        let kept = self.facts.clone();
        self.facts
            .extend(most.into_iter().map(|(fact, most)| (fact, Ok(most))));
        let (got, _) = self.apart(|walk| walk.operand(operand));
        self.facts = kept;
        Some(got)
    }

    /// A message with its figures.
    fn say(&mut self, message: Option<&Message>, show: &[(String, Operand)], by: Option<&By<'w>>) -> Json {
        let Some(message) = message else {
            return Json::Null;
        };
        let mut said = String::new();
        let (mut below, mut one, mut is_none) = (String::new(), false, false);
        let usual = (Grain::Usual, Grain::Usual);
        let (own, limits) = by.map_or(usual, |(test, measured, limit)| {
            self.grains(test, measured, limit)
        });
        for piece in &message.pieces {
            let grain = match (piece, by) {
                (Piece::Fact(fact), Some((test, ..))) if test.fact == *fact => own,
                (Piece::Measured, _) => own,
                (Piece::Limit, _) => limits,
                _ => Grain::Usual,
            };
            let got = match (piece, by) {
                (Piece::Text(text), _) => {
                    let mut text = text.replace("(s)", if one { "" } else { "s" });
                    // Of what none is permitted there is neither a least nor a most.
                    let limits = [" is the most", " is the least"];
                    let rest = limits.iter().find_map(|limit| text.strip_prefix(limit));
                    if let Some(rest) = rest.filter(|_| is_none) {
                        text = format!(" is permitted{rest}");
                    }
                    said += &text;
                    // Less than nothing above is below, and at most so much less at least so much.
                    let above = format!("-{below} above");
                    if !below.is_empty() && said.contains(&above) {
                        said =
                            said.replacen(&format!("at most {above}"), &format!("at least {below} below"), 1);
                        said = said.replacen(&above, &format!("{below} below"), 1);
                    }
                    continue;
                }
                (Piece::LeastOrMost, by) => {
                    said += match by.map(|(test, ..)| &test.check) {
                        None => "",
                        Some(_) if said.ends_with("none is ") => "permitted",
                        Some(Check::Compare(Comparison::AtLeast | Comparison::MoreThan, _)) => "the least",
                        Some(_) => "the most",
                    };
                    continue;
                }
                (Piece::Fact(Fact::FixtureGroupComplete), _) => {
                    let _ = self.fact(Fact::FixtureGroupComplete);
                    said += &self.group();
                    continue;
                }
                (Piece::Fact(fact @ (Fact::FittingDrainsFit | Fact::FittingVentsFit)), _) => {
                    let _ = self.fact(*fact);
                    said += &self.fit(*fact);
                    continue;
                }
                (Piece::Fact(fact), _) => self.fact(*fact),
                (Piece::Shown(number), _) => {
                    let shown = &show[*number].1;
                    let got = self.operand(shown);
                    self.with_most(shown).unwrap_or(got)
                }
                (Piece::Measured, Some((_, measured, _))) => measured.clone(),
                (Piece::Limit, Some((.., limit))) => limit.clone(),
                (Piece::Measured | Piece::Limit, None) => continue,
            };
            let between = match (piece, by) {
                (Piece::Fact(fact), _) => self.ends(*fact),
                (Piece::Measured, Some((test, ..))) => self.ends(test.fact),
                _ => None,
            };
            let one_end = match (piece, by) {
                (Piece::Fact(fact), _) => self.one_end(*fact),
                (Piece::Measured, Some((test, ..))) => self.one_end(test.fact),
                _ => None,
            };
            let figure = match got {
                Err(_) if between.is_some() => {
                    let ends = between.into_iter().flatten().map(|end| self.words(&Ok(end)));
                    let mut ends: Vec<_> = ends.collect();
                    ends.dedup();
                    ends.join(" to ")
                }
                Err(_) if one_end.is_some() => {
                    let told = one_end.map(|(end, value)| format!("at {end} {}", self.words(&Ok(value))));
                    told.unwrap_or_default()
                }
                Err(none) if none["is"] == "not_permitted" => "none".to_owned(),
                // A datum that need not be known: `size` of drain `b`.
                Err(none) if none["is"] == "open" && text(&none["text"]).starts_with('`') => {
                    let datum = text(&none["text"]).split('`').nth(1).unwrap_or_default();
                    format!("({datum} not stated)")
                }
                // A pipe that falls less than nothing falls the wrong way.
                Ok(Value::Slope(slope)) if slope.rise() < 0 => {
                    let back = Slope::new(slope.rise().saturating_neg(), slope.run());
                    self.words_to(&Ok(Value::Slope(back.unwrap_or(slope))), grain) + " the wrong way"
                }
                _ => self.words_to(&got, grain),
            };
            // `falls level` is no English, nor is `a eighth bend` or `a 8 in drain`.
            let words: Vec<&str> = said.split(' ').collect();
            if let [before @ .., "falls", ""] = &words[..]
                && figure == "level"
            {
                said = [before, &["lies", ""]].concat().join(" ");
            }
            let number: String = figure.chars().take_while(char::is_ascii_digit).collect();
            let is_spoken_with_vowel = match number.parse::<u64>() {
                Ok(number) => {
                    let first = std::iter::successors(Some(number), |left| {
                        Some(left / 1000).filter(|left| *left > 0)
                    })
                    .last();
                    matches!(first, Some(8 | 11 | 18 | 80..=89 | 800..=899))
                }
                Err(_) => "aeio".contains(figure.chars().next().unwrap_or(' ')),
            };
            if is_spoken_with_vowel && (said == "a " || said.ends_with(" a ") || said.ends_with("(a ")) {
                said.insert(said.len() - 1, 'n');
            }
            said += &figure;
            one = figure == "1";
            is_none = figure == "none";
            let end = figure.strip_prefix("at most ").unwrap_or(&figure);
            below = end.strip_prefix('-').unwrap_or_default().to_owned();
        }
        said.into()
    }

    /// The data that are missing, in the order in which a claim has them.
    fn leave_open(&self, own: &mut Json, gaps: &BTreeSet<String>) {
        let claimed: Vec<&str> = list(&self.claim["missing"]).iter().map(text).collect();
        let is_told = |gap: &&String| !gaps.iter().any(|of| is_part(gap, of));
        let gaps: BTreeSet<&str> = gaps.iter().filter(is_told).map(String::as_str).collect();
        // Two data that go by the same words are missing twice.
        let is_all = gaps == claimed.iter().copied().collect();
        own["verdict"] = "undetermined".into();
        own["missing"] = if is_all { json!(claimed) } else { json!(gaps) };
        own["message"] = format!("cannot be told: {} needed", claimed.join(" and ")).into();
    }
}

/// Whether a datum goes without saying where another is missing: the `length` of a drain beside its `length and slope`.
fn is_part(gap: &str, of: &str) -> bool {
    fn datum(gap: &str) -> Option<(&str, &str)> {
        gap.strip_prefix('`')?.split_once('`')
    }
    datum(gap)
        .zip(datum(of))
        .is_some_and(|((part, one), (whole, other))| {
            one == other && part != whole && whole.split(" and ").any(|datum| datum == part)
        })
}

/// A finding of which nothing is said yet.
fn finding(rule: &str, title: &str, severity: &str) -> Json {
    json!({
        "rule": rule, "title": title, "verdict": "violated", "severity": severity.replace(' ', "_"),
        "message": null, "advice": null, "measured": null, "limit": null, "headroom": null, "missing": [],
    })
}
