//! Facts of passages: where a pipe goes through a framing member.

use std::collections::BTreeSet;

use crownweir_network::Passage;
use crownweir_quantity::Length;
use crownweir_rulebook::{Fact, Framing, Operand, Subject, Value};
use crownweir_vocabulary::{Cut, MemberEdge, MemberKind};

use crate::judge::Limit;
use crate::{Got, Oracle, known, minus};

impl Oracle<'_> {
    fn passage(&self, number: u32) -> &Passage {
        &self.network.passages()[number as usize]
    }

    /// A length that the rule set gives for the pipe.
    fn taken_up(&self, passage: &Passage, which: impl Fn(&Framing) -> &Operand) -> Got {
        let Some(framing) = &self.rules.framing else {
            return Got::Missing;
        };
        match self.operand(Subject::Pipe, passage.pipe.index() as u32, which(framing)) {
            Limit::Known(value) => Got::Known(value),
            Limit::Open => Got::Missing,
            _ => Got::Absent,
        }
    }

    /// The hole: as stated, or the rule set's, or where the pipe passes out of square what that takes.
    fn hole(&self, passage: &Passage) -> Got {
        if let Some(hole) = passage.hole {
            return Got::Known(Value::Length(hole));
        }
        if self.is_at_unknown_angle(passage) {
            return Got::Missing;
        }
        let own = self.taken_up(passage, |framing| &framing.hole);
        if self.network.slant(passage).is_none_or(|slant| slant.cosine >= 1.0) {
            return own;
        }
        // What passes two passes one.
        if let (Got::Known(Value::Length(hole)), Got::Known(Value::Length(two))) =
            (own, self.hole_through(passage, 2.0))
            && two <= hole
        {
            return own;
        }
        match (own, self.least_hole(passage)) {
            (Got::Known(Value::Length(hole)), Got::Known(Value::Length(least))) => {
                Got::Known(Value::Length(hole.max(least)))
            }
            (Got::Known(_), least) => least,
            (own, _) => own,
        }
    }

    /// Whether joists or rafters that are not laid out are passed at an angle in plan that differs from that of the first pipe
    /// that passes them; what the file states of the distance between them along the pipe tells the angle.
    fn is_at_unknown_angle(&self, passage: &Passage) -> bool {
        let members = &self.network.framing()[passage.members as usize];
        let on_edge = [MemberKind::Joist, MemberKind::Rafter].contains(&members.kind);
        if members.layout.is_some() || !on_edge || passage.spacing.is_some() {
            return false;
        }
        let ways = self.network.passages().iter();
        let ways = ways.filter(|one| one.members == passage.members && one.spacing.is_none());
        let first = ways.filter_map(|one| self.network.bearing(one.pipe)).next();
        let (Some(first), Some(own)) = (first, self.network.bearing(passage.pipe)) else {
            return false;
        };
        let [[east, north], [other_east, other_north]] = [first, own].map(|way| way.east_and_north());
        // The sine of the angle between both, against that of half a degree.
        (east * other_north - north * other_east).abs() > 0.5_f64.to_radians().sin()
    }

    /// What passes the pipe that far out of square, `d / cos t + b tan t`; `b` of both members where there are two.
    fn least_hole(&self, passage: &Passage) -> Got {
        if self.is_at_unknown_angle(passage) {
            return Got::Missing;
        }
        let members = &self.network.framing()[passage.members as usize];
        let nailed = matches!(members.kind, MemberKind::Joist | MemberKind::Rafter | MemberKind::Stud);
        let slants = self.network.slant(passage).is_some_and(|slant| !slant.by_fall_alone);
        match passage.doubled.or(members.doubled) {
            Some(true) if nailed => self.hole_through(passage, 2.0),
            None if nailed && slants => Got::Missing,
            _ => self.hole_through(passage, 1.0),
        }
    }

    fn hole_through(&self, passage: &Passage, number: f64) -> Got {
        let outside = self.taken_up(passage, |framing| &framing.outside_diameter);
        let members = &self.network.framing()[passage.members as usize];
        let Some(slant) = self.network.slant(passage).filter(|slant| slant.cosine < 1.0) else {
            return outside;
        };
        let thickness = match members.thickness {
            Some(thickness) => thickness.as_metres_f64() * number,
            None if slant.by_fall_alone => return outside,
            None => return Got::Missing,
        };
        let Got::Known(Value::Length(outside)) = outside else {
            return outside;
        };
        let angle = slant.cosine.acos();
        let needed = outside.as_metres_f64() / angle.cos() + thickness * angle.tan();
        known(Length::from_metres_f64(needed), Value::Length)
    }

    /// From the rim of a circle about the pipe's centre to the nearer edge of the member.
    fn beside(&self, passage: &Passage, diameter: Got) -> Got {
        let depth = self.network.framing()[passage.members as usize].depth;
        let (Some(depth), Some(centre)) = (depth, self.network.centre_of(passage)) else {
            return Got::Missing;
        };
        let Got::Known(Value::Length(diameter)) = diameter else {
            return diameter;
        };
        let twice = 2 * centre.nanometres().min(depth.nanometres() - centre.nanometres()) - diameter.nanometres();
        Got::Known(Value::Length(Length::from_nanometres(twice.div_euclid(2))))
    }

    /// From the edge that is notched, or the nearer one, past the pipe's centre to its far side.
    fn least_notch(&self, passage: &Passage) -> Got {
        let members = &self.network.framing()[passage.members as usize];
        let (Some(depth), Some(centre)) = (members.depth, self.network.centre_of(passage)) else {
            return Got::Missing;
        };
        let outside = match self.taken_up(passage, |framing| &framing.outside_diameter) {
            Got::Known(Value::Length(outside)) => outside.nanometres(),
            other => return other,
        };
        let on_edge = [MemberKind::Joist, MemberKind::Rafter].contains(&members.kind);
        let sides = [centre.nanometres(), depth.nanometres() - centre.nanometres()];
        let far = sides.map(|side| (2 * side + outside).div_euclid(2));
        let least = match passage.notch_edge {
            Some(MemberEdge::Bottom) if on_edge => far[0],
            Some(MemberEdge::Top) if on_edge => far[1],
            _ => far[0].min(far[1]),
        };
        Got::Known(Value::Length(Length::from_nanometres(least)))
    }

    /// Wood left to the nearest other hole in the member.
    fn next_cut(&self, number: u32) -> Got {
        let passage = self.passage(number);
        match passage.next_cut {
            Some(Some(next)) => return Got::Known(Value::Length(next)),
            Some(None) => return Got::Absent,
            None => {}
        }
        let all = self.network.passages();
        let row: Vec<_> = (0..all.len())
            .filter(|&other| all[other].members == passage.members)
            .collect();
        // The file has every pipe.
        let pipes: BTreeSet<_> = row.iter().map(|&other| all[other].pipe).collect();
        if pipes.len() == 1 {
            return Got::Absent;
        }
        if row
            .iter()
            .any(|&other| all[other].member.zip(all[other].along_member).is_none())
        {
            return Got::Missing;
        }
        let Got::Known(Value::Length(hole)) = self.hole(passage) else {
            return self.hole(passage);
        };
        let depth = self.network.framing()[passage.members as usize].depth;
        let apart = |other: &Passage| {
            let places = passage.along_member.zip(other.along_member);
            places.map_or(0.0, |(own, its)| (own.as_metres_f64() - its.as_metres_f64()).abs())
        };
        let others: Vec<(f64, Got)> = row
            .into_iter()
            .filter(|&other| other != number as usize && all[other].member == passage.member)
            .map(|other| (apart(&all[other]), self.wood_between(passage, &all[other])))
            .collect();
        let known = |got: &Got| match got {
            Got::Known(Value::Length(left)) => Some(*left),
            _ => None,
        };
        let nearest = others.iter().filter_map(|(_, left)| known(left)).min();
        // No hole is wider than the member is deep: what is further away along it cannot be nearer.
        let in_reach = |apart: f64| match (nearest, depth) {
            (Some(nearest), Some(depth)) => {
                apart <= nearest.as_metres_f64() + (depth.as_metres_f64() + hole.as_metres_f64()) / 2.0
            }
            _ => true,
        };
        let unknown = others
            .into_iter()
            .find(|(apart, left)| known(left).is_none() && in_reach(*apart));
        match (unknown, nearest) {
            (Some((_, unknown)), _) => unknown,
            (None, Some(nearest)) => Got::Known(Value::Length(nearest)),
            (None, None) => Got::Absent,
        }
    }

    fn wood_between(&self, one: &Passage, other: &Passage) -> Got {
        let bored = |passage: &Passage| {
            if passage.cut == Cut::Bored {
                self.hole(passage)
            } else {
                Got::Absent
            }
        };
        let (own, others) = (bored(one), bored(other));
        let (Got::Known(Value::Length(own)), Got::Known(Value::Length(others))) = (own, others) else {
            return if matches!(own, Got::Known(_)) { others } else { own };
        };
        let places = self.network.centre_of(one).zip(self.network.centre_of(other));
        let along = one.along_member.zip(other.along_member);
        let Some(((high, low), (here, there))) = places.zip(along) else {
            return Got::Missing;
        };
        let apart = here.as_metres_f64() - there.as_metres_f64();
        let centres = apart.hypot(high.as_metres_f64() - low.as_metres_f64());
        let left = centres - (own.as_metres_f64() + others.as_metres_f64()) / 2.0;
        let sign = if left < 0.0 { -1 } else { 1 };
        let left = Length::from_metres_f64(left.abs()).map(|left| Length::from_nanometres(sign * left.nanometres()));
        known(left, Value::Length)
    }

    pub(crate) fn passage_fact(&self, number: u32, fact: Fact) -> Option<Got> {
        use Fact as F;
        let passage = self.passage(number);
        let members = &self.network.framing()[passage.members as usize];
        let bored = passage.cut == Cut::Bored;
        let notched = matches!(passage.cut, Cut::Notched | Cut::EndNotched);
        let depth = known(members.depth, Value::Length);
        let if_so = |so: bool, got: Got| if so { got } else { Got::Absent };
        Some(match fact {
            F::PassageMember => Got::Known(Value::Word(members.kind.name())),
            F::PassageMake => known(members.make, |make| Value::Word(make.name())),
            F::PassageDepth => depth,
            F::PassageThickness => known(members.thickness, Value::Length),
            F::PassageBearing => known(members.bearing, Value::Truth),
            F::PassageSpan => known(members.span, Value::Length),
            F::PassageCut => Got::Known(Value::Word(passage.cut.name())),
            F::PassageHole if bored => self.hole(passage),
            F::PassageHole => Got::Absent,
            F::PassageNotchDepth => if_so(notched, known(passage.notch_depth, Value::Length)),
            F::PassageLeastNotch => if_so(notched, self.least_notch(passage)),
            F::PassageNotchLength => if_so(notched, known(passage.notch_length, Value::Length)),
            F::PassageNotchEdge => if_so(notched, known(passage.notch_edge, |edge| Value::Word(edge.name()))),
            F::PassageEdge if bored => self.beside(passage, self.hole(passage)),
            F::PassageCover if bored => {
                let outside = self.taken_up(passage, |framing| &framing.outside_diameter);
                self.beside(passage, outside)
            }
            F::PassageEdge | F::PassageCover => Got::Absent,
            F::PassageWoodLeft if bored => minus(depth, self.hole(passage)),
            F::PassageWoodLeft if notched => minus(depth, known(passage.notch_depth, Value::Length)),
            F::PassageWoodLeft => depth,
            F::PassageNextCut if bored || notched => self.next_cut(number),
            F::PassageNextCut => Got::Absent,
            F::PassageBearingDistance => known(self.network.bearing_distance(passage), Value::Length),
            F::PassageDoubled => known(passage.doubled.or(members.doubled), Value::Truth),
            F::PassageDoubledInRow => known(passage.doubled_in_row, |row| Value::Count(i64::from(row))),
            F::PassageOutside => self.taken_up(passage, |framing| &framing.outside_diameter),
            F::PassageLeastHole if bored => self.least_hole(passage),
            F::PassageLeastHole => Got::Absent,
            F::PassagePlate => known(passage.steel_plate, Value::Truth),
            F::PassageTie => known(passage.metal_tie, Value::Truth),
            _ => return None,
        })
    }
}
