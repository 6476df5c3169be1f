//! The facts of passages: where a pipe goes through a joist, a stud or a plate.

use crownweir_network::{Members, Passage};
use crownweir_quantity::Length;
use crownweir_rulebook::{Fact, Framing, Operand, Subject, Value};
use crownweir_vocabulary::Cut;

use super::facts::{Element, Gap, Got, stated, word};
use super::{Measured, index};
use crate::evaluate::operand;

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
                None => self.taken_up(passage, |framing| &framing.hole),
            },
            Fact::PassageNotchDepth if notched => length(passage.notch_depth, "notch_depth"),
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
                None if !self.passed_by_several(passage.members) => Got::Absent,
                None => stated(None, "next_cut", here),
            },
            Fact::PassageBearingDistance => length(passage.bearing_distance, "bearing_distance"),
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
            ) => beside(depth, centre, diameter).map_or(Got::Missing(Gap::Overflow), |left| {
                Got::Known(Value::Length(left))
            }),
            (Got::Known(_), Got::Known(_), other) | (Got::Known(_), other, _) | (other, _, _) => other,
        }
    }

    /// Depth of the member less that of the cut.
    fn left(&self, number: u32, cut: Fact) -> Got {
        match (
            self.passage_fact(number, Fact::PassageDepth),
            self.passage_fact(number, cut),
        ) {
            (Got::Known(depth), Got::Known(cut)) => {
                depth.minus(cut).map_or(Got::Missing(Gap::Overflow), Got::Known)
            }
            (Got::Known(_), other) | (other, _) => other,
        }
    }

    /// Whether more than one pipe passes these members.
    fn passed_by_several(&self, members: u32) -> bool {
        let all = self.several.get_or_init(|| {
            let mut first = vec![None; self.network.framing().len()];
            let mut several = vec![false; first.len()];
            for passage in self.network.passages() {
                let members = passage.members as usize;
                if let (Some(first), Some(several)) = (first.get_mut(members), several.get_mut(members)) {
                    *several |= *first.get_or_insert(passage.pipe) != passage.pipe;
                }
            }
            several
        });
        all.get(members as usize).copied().unwrap_or(false)
    }
}

/// What is left beside a circle: of a member of depth `D`, a centre `c` above one edge and a diameter `d`, the lesser
/// of `c` and `D - c`, less `d / 2`; negative where the circle runs out of the member.
fn beside(depth: Length, centre: Length, diameter: Length) -> Option<Length> {
    let nearer = centre.min(depth.checked_sub(centre)?);
    // Twice the distance is exact; half a nanometre is dropped.
    let twice = nearer.checked_add(nearer)?.checked_sub(diameter)?;
    Some(Length::from_nanometres(twice.nanometres().div_euclid(2)))
}
