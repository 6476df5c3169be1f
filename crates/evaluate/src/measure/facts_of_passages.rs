//! The facts of passages: where a pipe goes through a joist, a stud or a plate.

use std::collections::BTreeMap;

use crownweir_network::{Members, Passage};
use crownweir_quantity::Length;
use crownweir_rulebook::{Fact, Framing, Operand, Subject, Value};
use crownweir_vocabulary::{Cut, MemberEdge, MemberKind};

use super::facts::{Element, Gap, Got, reckoned, stated, word};
use super::{Measured, Seen, index};
use crate::evaluate::operand;

/// What tells which way the members of a row run.
const LAYOUT: &str = "layout of the framing";

/// What is known of the cuts in each row of members.
pub(crate) fn cuts(measured: &Measured<'_>) -> Vec<Cuts> {
    let mut rows: Vec<Vec<(u32, &Passage)>> = vec![Vec::new(); measured.network.framing().len()];
    for (number, passage) in (0..).zip(measured.network.passages()) {
        if let Some(row) = rows.get_mut(passage.members as usize) {
            row.push((number, passage));
        }
    }
    rows.iter().map(|row| Cuts::of(measured, row)).collect()
}

impl<'a> Measured<'a> {
    pub(crate) fn passage(&self, number: u32) -> Option<&'a Passage> {
        self.network.passages().get(number as usize)
    }

    /// The members that a pipe passes there.
    pub(crate) fn members(&self, passage: &Passage) -> Option<&'a Members> {
        self.network.framing().get(passage.members as usize)
    }

    pub(super) fn passage_fact(&self, number: u32, fact: Fact) -> Got {
        let Some((passage, members)) = self
            .passage(number)
            .and_then(|passage| Some((passage, self.members(passage)?)))
        else {
            return Got::Absent;
        };
        let here = Element::Passage(number);
        let length = |stating: Option<Length>, datum| stated(stating.map(Value::Length), datum, here);
        let truth = |stating: Option<bool>, datum| stated(stating.map(Value::Truth), datum, here);
        let notched = matches!(passage.cut, Cut::Notched | Cut::EndNotched);
        let bored = passage.cut == Cut::Bored;
        match fact {
            Fact::PassageMember => word(Some(members.kind.name())),
            Fact::PassageMake => stated(
                members.make.map(|make| Value::Word(make.name())),
                "make of the framing",
                here,
            ),
            Fact::PassageDepth => length(members.depth, "depth of the framing"),
            Fact::PassageThickness => length(members.thickness, "thickness of the framing"),
            Fact::PassageBearing => truth(members.bearing, "bearing of the framing"),
            Fact::PassageSpan => length(members.span, "span of the framing"),
            Fact::PassageCut => word(Some(passage.cut.name())),
            Fact::PassageHole if bored => match passage.hole {
                Some(hole) => Got::Known(Value::Length(hole)),
                None => self.bored_for(passage, here),
            },
            Fact::PassageLeastHole if bored => self.passed_by(passage, here),
            Fact::PassageNotchDepth if notched => length(passage.notch_depth, "notch_depth"),
            Fact::PassageLeastNotch if notched => self.held_by_notch(number, passage, members),
            Fact::PassageNotchLength if notched => length(passage.notch_length, "notch_length"),
            Fact::PassageNotchEdge if notched => stated(
                passage.notch_edge.map(|edge| Value::Word(edge.name())),
                "notch_edge",
                here,
            ),
            Fact::PassageEdge if bored => self.beside(number, Fact::PassageHole),
            Fact::PassageCover if bored => self.beside(number, Fact::PassageOutside),
            Fact::PassageWoodLeft if bored => self.left(number, Fact::PassageHole),
            Fact::PassageWoodLeft if notched => self.left(number, Fact::PassageNotchDepth),
            Fact::PassageWoodLeft => length(members.depth, "depth of the framing"),
            Fact::PassageNextCut if bored || notched => match passage.next_cut {
                Some(Some(next)) => Got::Known(Value::Length(next)),
                Some(None) => Got::Absent,
                // The file has every pipe: where no other passes these members, there is no other cut for one.
                None => match self.cuts(passage.members) {
                    Cuts::OfOnePipe => Got::Absent,
                    Cuts::Placed(cuts) => self.next_cut(number, passage, cuts),
                    Cuts::NotPlaced => stated(None, "next_cut", here),
                },
            },
            Fact::PassageBearingDistance => {
                length(self.network.bearing_distance(passage), "bearing_distance")
            }
            Fact::PassageDoubled => truth(passage.doubled.or(members.doubled), "doubled"),
            Fact::PassageDoubledInRow => stated(
                passage.doubled_in_row.map(|count| Value::Count(i64::from(count))),
                "doubled_in_row",
                here,
            ),
            Fact::PassageOutside => self.taken_up(passage, |framing| &framing.outside_diameter),
            Fact::PassagePlate => truth(passage.steel_plate, "steel_plate"),
            Fact::PassageTie => truth(passage.metal_tie, "metal_tie"),
            _ => Got::Absent,
        }
    }

    /// The hole that a pipe is bored for: what the rule set gives for it, or where it passes the member so far out of square
    /// that it needs more, that. What the rule set's hole has over the pipe's own diameter takes up a slant as far as it
    /// goes.
    fn bored_for(&self, passage: &Passage, here: Element) -> Got {
        if self.passes_at_unknown_angle(passage) {
            return stated(None, LAYOUT, here);
        }
        let hole = self.taken_up(passage, |framing| &framing.hole);
        let slants = self
            .network
            .slant(passage)
            .is_some_and(|slant| slant.cosine < 1.0);
        if !slants {
            return hole;
        }
        match (hole, self.passed_by(passage, here)) {
            (Got::Known(Value::Length(own)), Got::Known(Value::Length(least))) => {
                Got::Known(Value::Length(own.max(least)))
            }
            // Where the rule set's hole is wide enough for two members, it does not matter whether there are two.
            (Got::Known(Value::Length(own)), missing) => match self.through(passage, 2, here) {
                Got::Known(Value::Length(least)) if least <= own => hole,
                _ => missing,
            },
            (hole, _) => hole,
        }
    }

    /// The least hole, bored square through the member, that the pipe passes.
    ///
    /// A pipe of diameter `d` at the angle `t` from square shows in each face of the member as an ellipse `d / cos t` long;
    /// through a thickness `b` the two are `b tan t` apart, so that it is `d / cos t + b tan t`. Plane geometry, in
    /// floating point.
    fn passed_by(&self, passage: &Passage, here: Element) -> Got {
        if self.passes_at_unknown_angle(passage) {
            return stated(None, LAYOUT, here);
        }
        let members = match self.network.goes_through_two(passage) {
            Some(true) => 2,
            Some(false) => 1,
            // By its fall alone a pipe is next to square, and the hole's own clearance is for that.
            None if self
                .network
                .slant(passage)
                .is_none_or(|slant| slant.by_fall_alone) =>
            {
                1
            }
            None => {
                return match self.through(passage, 1, here) {
                    Got::Known(_) => stated(None, "doubled", here),
                    missing => missing,
                };
            }
        };
        self.through(passage, members, here)
    }

    /// The same where there are so many members, one beside the other.
    fn through(&self, passage: &Passage, members: i64, here: Element) -> Got {
        let outside = self.taken_up(passage, |framing| &framing.outside_diameter);
        let Some(slant) = self.network.slant(passage).filter(|slant| slant.cosine < 1.0) else {
            return outside;
        };
        let one = self.members(passage).and_then(|members| members.thickness);
        let thickness = match one.and_then(|one| one.checked_scale(members, 1)) {
            Some(thickness) => thickness,
            // By its fall alone a pipe is next to square, and the hole's own clearance is for that.
            None if slant.by_fall_alone => return outside,
            None => return stated(None, "thickness of the framing", here),
        };
        let Got::Known(Value::Length(outside)) = outside else {
            return outside;
        };
        let tangent = (1.0 - slant.cosine * slant.cosine).sqrt() / slant.cosine;
        let needed = outside.as_metres_f64() / slant.cosine + thickness.as_metres_f64() * tangent;
        reckoned(Length::from_metres_f64(needed).map(Value::Length))
    }

    /// A length that the rule set gives for the pipe.
    fn taken_up(&self, passage: &Passage, which: impl Fn(&Framing) -> &Operand) -> Got {
        let Some(framing) = &self.rules.framing else {
            return Got::Missing(Gap::NotInRuleSet {
                datum: "what a pipe takes up where it passes framing (`framing`)",
            });
        };
        operand(self, Subject::Pipe, index(passage.pipe.index()), which(framing)).got()
    }

    /// Distance from the rim of a circle of that diameter about the pipe's centre to the nearer edge of the member.
    fn beside(&self, number: u32, diameter: Fact) -> Got {
        self.of_circle(number, diameter, beside)
    }

    /// What follows from the depth of a member, where in it the pipe's centre lies, and the diameter of a circle about that.
    fn of_circle(
        &self,
        number: u32,
        diameter: Fact,
        reckon: impl Fn(Length, Length, Length) -> Option<Length>,
    ) -> Got {
        let depth = self.passage_fact(number, Fact::PassageDepth);
        let centre = self
            .passage(number)
            .and_then(|passage| self.network.centre_of(passage));
        let centre = stated(centre.map(Value::Length), "centre", Element::Passage(number));
        match (depth, centre, self.passage_fact(number, diameter)) {
            (
                Got::Known(Value::Length(depth)),
                Got::Known(Value::Length(centre)),
                Got::Known(Value::Length(diameter)),
            ) => reckoned(reckon(depth, centre, diameter).map(Value::Length)),
            (Got::Known(_), Got::Known(_), other) | (Got::Known(_), other, _) | (other, _, _) => other,
        }
    }

    /// The least depth of a notch that holds the whole pipe: what its centre lies away from the notched edge, and half its
    /// outside diameter.
    fn held_by_notch(&self, number: u32, passage: &Passage, members: &Members) -> Got {
        let edge = notched_edge(passage, members);
        self.of_circle(number, Fact::PassageOutside, |depth, centre, outside| {
            held_by_notch(depth, centre, outside, edge)
        })
    }

    /// Depth of the member less that of the cut.
    fn left(&self, number: u32, cut: Fact) -> Got {
        match (
            self.passage_fact(number, Fact::PassageDepth),
            self.passage_fact(number, cut),
        ) {
            (Got::Known(depth), Got::Known(cut)) => reckoned(depth.minus(cut)),
            (Got::Known(_), other) | (other, _) => other,
        }
    }

    fn passes_at_unknown_angle(&self, passage: &Passage) -> bool {
        let squared_to = self.state.squared_to.get_or_init(|| self.network.squared_to());
        self.network.passes_at_unknown_angle(passage, squared_to)
    }

    /// What is known of the cuts in a row of members.
    fn cuts(&self, members: u32) -> &Cuts {
        self.see(Seen::Cuts, 0);
        let all = self.state.cuts.get_or_init(|| cuts(self));
        all.get(members as usize).unwrap_or(&Cuts::NotPlaced)
    }

    /// Wood left to the nearest other hole in the same member. From centre to centre it is the hypotenuse of how far
    /// they are apart along the member and in height, in floating point, rounded down to the nanometre; the halves of
    /// both diameters are taken off.
    ///
    /// A hole that is further away along the member than another that is known to be nearer, by more than both can reach,
    /// is not asked after: none is wider than the member is deep.
    fn next_cut(&self, number: u32, passage: &Passage, cuts: &BTreeMap<u32, Vec<Placed>>) -> Got {
        let here = Element::Passage(number);
        let beside = passage.member.and_then(|member| cuts.get(&member));
        let Some((beside, own)) = beside.zip(passage.along_member) else {
            return stated(None, "next_cut", here);
        };
        let at = beside.partition_point(|one| (one.along, one.number) < (own, number));
        let (before, after) = beside.split_at(at);
        let Some((bored, after)) = after.split_first() else {
            return stated(None, "next_cut", here);
        };
        let hole = match bored.hole {
            Got::Known(Value::Length(hole)) => hole,
            missing => return missing,
        };
        let depth = self.members(passage).and_then(|members| members.depth);
        let reach = depth.map(|depth| (depth.as_metres_f64() + hole.as_metres_f64()) / 2.0);
        let apart = |other: &Placed| (other.along.as_metres_f64() - own.as_metres_f64()).abs();
        let is_out_of_reach = |other: &Placed, least: Option<Length>| {
            reach
                .zip(least)
                .is_some_and(|(reach, least)| apart(other) > least.as_metres_f64() + reach)
        };
        let (mut least, mut missing): (Option<Length>, Vec<(&Placed, Got)>) = (None, Vec::new());
        let sides: [&mut dyn Iterator<Item = &Placed>; 2] = [&mut before.iter().rev(), &mut after.iter()];
        for side in sides {
            for other in side {
                if is_out_of_reach(other, least) {
                    break;
                }
                match wood_between((bored, hole), other) {
                    Got::Known(Value::Length(left)) => {
                        least = Some(least.map_or(left, |least| least.min(left)));
                    }
                    unknown => missing.push((other, unknown)),
                }
            }
        }
        let nearer = missing
            .into_iter()
            .find(|(other, _)| !is_out_of_reach(other, least));
        match (nearer, least) {
            (Some((_, unknown)), _) => unknown,
            (None, Some(least)) => Got::Known(Value::Length(least)),
            (None, None) => Got::Absent,
        }
    }
}

/// What is left between a hole of known diameter and another in the same member; less than nothing where they run into each
/// other.
fn wood_between((one, own): (&Placed, Length), other: &Placed) -> Got {
    let Got::Known(Value::Length(hole)) = other.hole else {
        return other.hole;
    };
    let Some((high, low)) = one.centre.zip(other.centre) else {
        return stated(None, "centre", Element::Passage(other.number));
    };
    let apart = one.along.as_metres_f64() - other.along.as_metres_f64();
    let centres = apart.hypot(high.as_metres_f64() - low.as_metres_f64());
    let left = centres - own.as_metres_f64() / 2.0 - hole.as_metres_f64() / 2.0;
    let is_negative = centres * 2.0 < own.as_metres_f64() + hole.as_metres_f64();
    let left = Length::from_metres_f64(left.abs()).map(Length::nanometres);
    let left = left.map(|left| if is_negative { -left } else { left });
    reckoned(left.map(|left| Value::Length(Length::from_nanometres(left))))
}

/// A hole, by where it stands along its member.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Placed {
    along: Length,
    number: u32,
    hole: Got,
    /// How high its centre is above the member's lower edge, where that is known.
    centre: Option<Length>,
}

/// What is known of the cuts in a row of members.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Cuts {
    /// One pipe passes them: the file has every pipe, and so there is no other cut for one in any of them.
    OfOnePipe,
    /// By member, where along it each stands, in order.
    Placed(BTreeMap<u32, Vec<Placed>>),
    /// It is not known where some of them stand.
    NotPlaced,
}

impl Cuts {
    fn of(measured: &Measured<'_>, row: &[(u32, &Passage)]) -> Self {
        let mut pipes = row.iter().map(|(_, passage)| passage.pipe);
        let first = pipes.next();
        if pipes.all(|pipe| Some(pipe) == first) {
            return Self::OfOnePipe;
        }
        let mut members: BTreeMap<u32, Vec<Placed>> = BTreeMap::new();
        for &(number, passage) in row {
            let Some((member, along)) = passage.member.zip(passage.along_member) else {
                return Self::NotPlaced;
            };
            members.entry(member).or_default().push(Placed {
                along,
                number,
                hole: measured.passage_fact(number, Fact::PassageHole),
                centre: measured.network.centre_of(passage),
            });
        }
        for placed in members.values_mut() {
            placed.sort_by_key(|one| (one.along, one.number));
        }
        Self::Placed(members)
    }
}

/// The edge that is notched, where that tells from where the pipe's centre is measured: of a stud or a plate it is one of its
/// faces.
fn notched_edge(passage: &Passage, members: &Members) -> Option<MemberEdge> {
    let lies_on_edge = matches!(members.kind, MemberKind::Joist | MemberKind::Rafter);
    passage.notch_edge.filter(|_| lies_on_edge)
}

/// How far the far side of a circle of diameter `d` lies from the notched edge of a member of depth `D`, its centre `c` above
/// the lower one: from that `c + d / 2`, from the upper one `D - c + d / 2`, else the lesser of both.
fn held_by_notch(
    depth: Length,
    centre: Length,
    diameter: Length,
    edge: Option<MemberEdge>,
) -> Option<Length> {
    let from_upper = depth.checked_sub(centre)?;
    let from_edge = match edge {
        Some(MemberEdge::Top) => from_upper,
        Some(MemberEdge::Bottom) => centre,
        _ => centre.min(from_upper),
    };
    let twice = from_edge.checked_add(from_edge)?.checked_add(diameter)?;
    Some(Length::from_nanometres(twice.nanometres().div_euclid(2)))
}

/// What is left beside a circle: of a member of depth `D`, a centre `c` above one edge and a diameter `d`, the lesser
/// of `c` and `D - c`, less `d / 2`; negative where the circle runs out of the member.
fn beside(depth: Length, centre: Length, diameter: Length) -> Option<Length> {
    let nearer = centre.min(depth.checked_sub(centre)?);
    // Twice the distance is exact; half a nanometre is dropped.
    let twice = nearer.checked_add(nearer)?.checked_sub(diameter)?;
    Some(Length::from_nanometres(twice.nanometres().div_euclid(2)))
}
