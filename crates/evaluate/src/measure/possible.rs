//! The least and the most that a fact may come to which is not known, where what is known tells.

use crownweir_quantity::{Angle, Length, Load};
use crownweir_rulebook::{Dimension, Fact, Subject, Value};
use crownweir_vocabulary::Role;

use super::runs::MOST_FOLLOWED;
use super::{Distance, Got, Measured, NONE};

impl Measured<'_> {
    /// The two ends of what a fact may come to. Of loads, each fixture's has the ends of what the rule set gives it in any
    /// case. A stack has no more branch intervals than places where something joins it, and where these are not told, within
    /// one no more enters than the whole stack carries; nothing stands on more storeys than there are.
    pub(crate) fn range(&self, subject: Subject, element: u32, fact: Fact) -> Option<(Value, Value)> {
        if fact.dimension() == Dimension::Load {
            let (least, most) = self.ends_of(subject, element, fact)?;
            let load = |thousandths| Value::Load(Load::from_thousandths(thousandths));
            return Some((load(least), load(most)));
        }
        if let Some(ends) = self.range_of_run(element, fact) {
            return Some(ends);
        }
        if let Some(least) = self.least_way(element, fact) {
            let most = Length::from_nanometres(i64::MAX);
            return Some((Value::Length(least), Value::Length(most)));
        }
        if fact == Fact::TurnCleanoutDistance {
            let either = self.openings_above(element).err()?;
            // Where there may be none, no length is as far.
            let most = either.with_cleanouts.filter(|most| most.is_known());
            let most = most.map_or(i64::MAX, Distance::nanometres);
            let least = Some(either.by_trap).filter(|least| least.is_known())?;
            let length = |nanometres| Value::Length(Length::from_nanometres(nanometres));
            return Some((length(least.nanometres()), length(most)));
        }
        if let Some(ends) = self.range_of_length(subject, element, fact) {
            return Some(ends);
        }
        let counts = |least: u32, most: u32| (Value::Count(i64::from(least)), Value::Count(i64::from(most)));
        let of_pipe = || self.state.stacks.of_pipe(self, element);
        let stack = match (fact, subject) {
            (Fact::StackIntervals | Fact::StackUnrelieved, Subject::Stack) => Some(element),
            (Fact::StackIntervals | Fact::StackUnrelieved, Subject::Drain) => of_pipe(),
            (Fact::DrainOffsetIntervals, _) => of_pipe(),
            (Fact::ValveStackIntervals, _) => {
                let vents = self
                    .inlets(element, Role::Vent)
                    .filter_map(|vent| self.vent(vent));
                vents.map(|vent| vent.stack).find(|&stack| stack != NONE)
            }
            (Fact::StackStoreys | Fact::StackFixtureStoreys | Fact::VentStoreys, _) => {
                let storeys = super::index(self.network.storeys().len());
                return (storeys > 0).then(|| counts(1, storeys));
            }
            (Fact::CircuitFixtures, _) => {
                let supply = self.state.air.supply(self, element)?;
                let circuit = self.state.circuits.of(self, &supply)?;
                return Some(counts(
                    circuit.fixtures,
                    circuit.fixtures.saturating_add(circuit.open),
                ));
            }
            _ => None,
        };
        Some(counts(1, self.stack_itself(stack?)?.joints))
    }

    /// Whether there is such a thing as a fact that is not known: what lies between two ends is there.
    pub(crate) fn is_there(&self, subject: Subject, element: u32, fact: Fact) -> bool {
        self.range(subject, element, fact).is_some() && !self.may_be_absent(element, fact)
    }

    /// Whether there may be no such thing as a fact that is not known, though it has ends.
    pub(crate) fn may_be_absent(&self, element: u32, fact: Fact) -> bool {
        fact == Fact::TurnCleanoutDistance
            && self
                .openings_above(element)
                .is_err_and(|either| either.with_cleanouts.is_none())
    }

    /// The same of how a drain runs that is known to run so: it turns no further and its vertical part is no longer than
    /// if every pipe of unknown slope or size were as it is, and a horizontal drain is at least as long as what is known of
    /// it.
    fn range_of_run(&self, drain: u32, fact: Fact) -> Option<(Value, Value)> {
        let pipe = self.pipe(drain)?;
        let lengths = |least: Length, most: Length| Some((Value::Length(least), Value::Length(most)));
        match (fact, pipe.vertical) {
            (Fact::DrainHorizontalTurn, Some(false)) => match self.turned_to(pipe.from).most()? {
                Got::Known(most) => Some((Value::Angle(Angle::from_microdegrees(0)), most)),
                _ => None,
            },
            (Fact::DrainHorizontalRun, Some(false)) if self.begins(drain, pipe) == Ok(true) => {
                lengths(self.level_from(drain)?, Length::from_nanometres(i64::MAX))
            }
            (Fact::DrainVerticalLength, Some(true)) => {
                let above = self.upright_above(drain, MOST_FOLLOWED)?;
                lengths(
                    Length::from_nanometres(0),
                    above.checked_add(self.upright_below(drain)?)?,
                )
            }
            (Fact::DrainLargestTraps, _) => {
                let fixtures = self.flow(drain)?.fixtures;
                Some((Value::Count(1), Value::Count(i64::from(fixtures))))
            }
            _ => None,
        }
    }

    /// The same of lengths that are measured along vents and to cleanouts, and of heights above rims.
    fn range_of_length(&self, subject: Subject, element: u32, fact: Fact) -> Option<(Value, Value)> {
        let ends = |least: Length, most: Length| Some((Value::Length(least), Value::Length(most)));
        let at_least = |least: Length| ends(least, Length::from_nanometres(i64::MAX));
        let at_most = |most: Length| ends(Length::from_nanometres(-i64::MAX), most);
        match (fact, subject) {
            (
                Fact::VentDevelopedLength | Fact::VentHorizontalLength | Fact::VentLengthToAir,
                Subject::Vent,
            ) => at_least(Length::from_nanometres(self.known_vent_length(element, fact)?)),
            (Fact::VentRiseAboveRim | Fact::VentJointAboveRim | Fact::VentMeetingRise, Subject::Vent) => {
                at_most(self.most_above_rim(element, fact)?)
            }
            (Fact::ValveHeightAboveRim, _) => at_most(self.most_of_valve(element)?.0),
            (Fact::DrainCleanoutDistance, Subject::Drain) => {
                let mut left = MOST_FOLLOWED;
                let (least, most) = self.ends_of_run(element, &mut left)?;
                let [least, most] = [least, most.unwrap_or(i64::MAX)].map(Length::from_nanometres);
                ends(least, most)
            }
            (Fact::SystemJunctionCleanout, _) => at_least(self.junction().nearest?.least()),
            (Fact::SystemJunctionAbove, _) => at_least(self.junction().above?.least()),
            (Fact::CombinationDrop, _) => {
                let part = self.state.combinations.part(self, element)?;
                at_least(Length::from_nanometres(part.drop_known))
            }
            _ => None,
        }
    }

    /// The least that a length may come to along the drain of a trap: what is known of it, for no length is less than none.
    fn least_way(&self, trap: u32, fact: Fact) -> Option<Length> {
        let supply = || self.state.air.supply(self, trap);
        let known = match fact {
            Fact::TrapArmLength => {
                let [arm, _] = self.known_distances(trap, supply()?.connection);
                let parts = [Fact::TrapOutletDrop, Fact::TrapOutletOffset];
                let from_outlet = self.rules.definitions.trap_arm.from_outlet;
                let parts = parts.into_iter().filter(|_| from_outlet);
                parts.fold(arm, |sum, part| match self.trap_fact(trap, part) {
                    Got::Known(Value::Length(part)) => sum.saturating_add(part.nanometres()),
                    _ => sum,
                })
            }
            Fact::TrapArmFromFlange => {
                let end = supply()?.connection;
                self.known_distances(self.closet_flange(trap, end).unwrap_or(trap), end)[0]
            }
            Fact::TrapArmHorizontalLength => self.known_distances(trap, supply()?.connection)[1],
            Fact::ProtectionWetLength => {
                let supply = supply().filter(|supply| supply.brings != NONE)?;
                self.known_distances(supply.dry_vent, supply.connection)[0]
            }
            Fact::CombinationArm => {
                let part = self.state.combinations.part(self, trap)?;
                self.known_distances(trap, part.arm_end)[0]
            }
            _ => return None,
        };
        Some(Length::from_nanometres(known))
    }

    /// The least and the most load that a fact may come to which is not known.
    pub(crate) fn open_load(&self, subject: Subject, element: u32, fact: Fact) -> Option<(Value, Value)> {
        let is_open = fact.dimension() == Dimension::Load
            && matches!(self.fact(subject, element, fact), Got::Missing(_));
        is_open.then(|| self.range(subject, element, fact))?
    }

    /// The one end of a length that is not known and has no other, with the words that it is told by.
    pub(crate) fn open_length(
        &self,
        subject: Subject,
        element: u32,
        fact: Fact,
    ) -> Option<(&'static str, Value)> {
        if !matches!(self.fact(subject, element, fact), Got::Missing(_)) {
            return None;
        }
        match self.range(subject, element, fact)? {
            (least @ Value::Length(_), Value::Length(most)) if most.nanometres() == i64::MAX => {
                Some(("at least", least))
            }
            (Value::Length(least), most @ Value::Length(_)) if least.nanometres() == -i64::MAX => {
                Some(("at most", most))
            }
            _ => None,
        }
    }

    /// The least and the most load that a fact may come to, in thousandths.
    fn ends_of(&self, subject: Subject, element: u32, fact: Fact) -> Option<(i64, i64)> {
        match fact {
            Fact::FixtureLoad => self.state.loads.of(self, element).ends(),
            Fact::DrainLoad => self.flow(element)?.ends(),
            Fact::DrainWetLoad => self.flow(element)?.own_ends(),
            Fact::StackLoad => self.stack_ends(self.stack_seen_from(subject, element)?),
            Fact::IntervalLoad => {
                let interval = self.interval(element)?;
                let is_told = self.stack_itself(interval.stack)?.gap.is_none();
                let own = interval.ends.filter(|_| is_told);
                let whole = || self.stack_ends(interval.stack).map(|(_, most)| (0, most));
                own.or_else(whole)
            }
            Fact::VentServedLoad => {
                let vent = self.vent(element)?;
                let ends = vent.more.ends(vent.load);
                ends.filter(|_| vent.storey_gap == NONE)
            }
            Fact::VentTrapLoad => {
                let traps = self.vent_traps(element);
                traps.more.ends(traps.load)
            }
            Fact::VentStackLoad => self.stack_ends(self.vent(element)?.stack),
            Fact::SystemLoad => self
                .totals_at(super::index(self.network.disposal().index()))?
                .ends(),
            _ => None,
        }
    }

    fn stack_ends(&self, stack: u32) -> Option<(i64, i64)> {
        self.flow(*self.stack(stack)?.pipes.last()?)?.ends()
    }
}
