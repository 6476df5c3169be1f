//! A fact's possible values in regions: absent, a single value, or everything between two values.
//!
//! No value is ever left out: regions of a domain together cover all that the fact can be.

use std::cmp::Ordering;

use crownweir_quantity::{Angle, Flow, Length, Load, Period, Ratio, Slope, Temperature, Velocity, Volume};

use crate::value::{Dimension, Value};

/// Values of a fact that a condition cannot tell apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Region {
    /// There is no such thing.
    Absent,
    /// Exactly this.
    Is(Value),
    /// Anything over the one and under the other; none is no bound.
    Between {
        over: Option<Value>,
        under: Option<Value>,
        /// A value in it, where one could be reckoned.
        inside: Option<Value>,
    },
}

/// How a value of one region can stand to a value of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Orders {
    pub(crate) less: bool,
    pub(crate) equal: bool,
    pub(crate) greater: bool,
}

impl Region {
    /// A value in the region.
    pub(crate) fn sample(self) -> Option<Value> {
        match self {
            Self::Absent => None,
            Self::Is(value) => Some(value),
            Self::Between { inside, .. } => inside,
        }
    }

    /// Whether the value lies strictly within an open stretch, so that it would split it.
    pub(crate) fn is_split_by(self, value: Value) -> bool {
        match self {
            Self::Between { over, under, .. } => is_below(over, Some(value)) && is_below(Some(value), under),
            _ => false,
        }
    }

    fn ends(self) -> Option<(Option<Value>, Option<Value>)> {
        match self {
            Self::Absent => None,
            Self::Is(value) => Some((Some(value), Some(value))),
            Self::Between { over, under, .. } => Some((over, under)),
        }
    }
}

/// Whether one end lies under another, an end that is none lying beyond everything.
fn is_below(low: Option<Value>, high: Option<Value>) -> bool {
    match (low, high) {
        (Some(low), Some(high)) => low.compare(high) == Some(Ordering::Less),
        _ => true,
    }
}

/// How values of two regions can stand to each other; words and truth values only are equal or not, which is
/// told as neither less nor greater.
pub(crate) fn orders(one: Region, other: Region) -> Orders {
    let none = Orders {
        less: false,
        equal: false,
        greater: false,
    };
    if let (Region::Is(one), Region::Is(other)) = (one, other) {
        let order = one.compare(other);
        return Orders {
            less: order == Some(Ordering::Less),
            equal: order == Some(Ordering::Equal),
            greater: order == Some(Ordering::Greater),
        };
    }
    let (Some((low, high)), Some((other_low, other_high))) = (one.ends(), other.ends()) else {
        return none;
    };
    let less = is_below(low, other_high);
    let greater = is_below(other_low, high);
    Orders {
        less,
        // At least one is an open stretch: they share a value where each begins before the other ends.
        equal: less && greater,
        greater,
    }
}

/// Makes a value of a number of small units.
type Make = fn(i64) -> Value;

/// Small whole units of a value, and how to make a value of them again; none where values lie dense or have a
/// finite list.
fn units(value: Value) -> Option<(i64, Make)> {
    Some(match value {
        Value::Length(length) => (length.nanometres(), |n| Value::Length(Length::from_nanometres(n))),
        Value::Angle(angle) => (angle.microdegrees(), |n| {
            Value::Angle(Angle::from_microdegrees(n))
        }),
        Value::Load(load) => (load.thousandths(), |n| Value::Load(Load::from_thousandths(n))),
        Value::Flow(flow) => (flow.picolitres_per_minute(), |n| {
            Value::Flow(Flow::from_picolitres_per_minute(n))
        }),
        Value::Volume(volume) => (volume.picolitres(), |n| Value::Volume(Volume::from_picolitres(n))),
        Value::Temperature(temperature) => (temperature.kelvin_900ths(), |n| {
            Value::Temperature(Temperature::from_kelvin_900ths(n))
        }),
        Value::Period(period) => (period.seconds(), |n| Value::Period(Period::from_seconds(n))),
        Value::Velocity(velocity) => (velocity.nanometres_per_second(), |n| {
            Value::Velocity(Velocity::from_nanometres_per_second(n))
        }),
        Value::Ratio(ratio) => (ratio.parts_of_720_million(), |n| {
            Value::Ratio(Ratio::from_parts_of_720_million(n))
        }),
        Value::Count(count) => (count, Value::Count),
        _ => return None,
    })
}

/// Nothing of a dimension in which nothing is less than nothing.
pub(crate) fn least(dimension: Dimension) -> Option<Value> {
    Some(match dimension {
        Dimension::Count => Value::Count(0),
        Dimension::Load => Value::Load(Load::default()),
        Dimension::Flow => Value::Flow(Flow::default()),
        Dimension::Volume => Value::Volume(Volume::default()),
        Dimension::Period => Value::Period(Period::default()),
        Dimension::Velocity => Value::Velocity(Velocity::default()),
        Dimension::Ratio => Value::Ratio(Ratio::default()),
        _ => return None,
    })
}

/// A value over `value`.
pub(crate) fn above(value: Value) -> Option<Value> {
    if let Value::Slope(slope) = value {
        let steeper = slope.rise().checked_add(slope.run().max(1))?;
        return (!slope.is_vertical())
            .then(|| Slope::new(steeper, slope.run()))
            .flatten()
            .map(Value::Slope);
    }
    let (count, make) = units(value)?;
    count.checked_add(1).map(make)
}

/// A value under `value`.
pub(crate) fn below(value: Value) -> Option<Value> {
    if let Value::Slope(slope) = value {
        let gentler = slope.rise().checked_sub(slope.run().max(1))?;
        let run = slope.run().max(1);
        return Slope::new(gentler, run).map(Value::Slope);
    }
    let (count, make) = units(value)?;
    count.checked_sub(1).map(make)
}

/// The open stretch between two values; none where no value lies in it.
pub(crate) fn between(over: Option<Value>, under: Option<Value>) -> Option<Region> {
    let inside = match (over, under) {
        (Some(over), Some(under)) => match (over, under) {
            (Value::Slope(low), Value::Slope(high)) => low
                .rise()
                .checked_add(high.rise())
                .zip(low.run().checked_add(high.run()))
                .and_then(|(rise, run)| Slope::new(rise, run))
                .map(Value::Slope),
            _ => {
                let (low, make) = units(over)?;
                let (high, _) = units(under)?;
                if high.saturating_sub(low) < 2 {
                    return None;
                }
                Some(make(low + (high.saturating_sub(low)) / 2))
            }
        },
        (Some(Value::Slope(slope)), None) if slope.is_vertical() => return None,
        // A stretch is left out only where it is empty: a slope may merely be beyond what can be held.
        (Some(slope @ Value::Slope(_)), None) => above(slope),
        (None, Some(slope @ Value::Slope(_))) => below(slope),
        (Some(over), None) => Some(above(over)?),
        (None, Some(under)) => Some(below(under)?),
        (None, None) => None,
    };
    Some(Region::Between { over, under, inside })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slope(rise: i64, run: i64) -> Value {
        Value::Slope(Slope::new(rise, run).unwrap_or(Slope::LEVEL))
    }

    #[test]
    fn a_stretch_is_empty_only_where_no_value_lies_in_it() {
        let count = |low, high| between(Some(Value::Count(low)), Some(Value::Count(high)));
        assert_eq!(count(2, 3), None);
        assert!(count(2, 4).is_some_and(|region| region.sample() == Some(Value::Count(3))));
        assert_eq!(between(Some(Value::Slope(Slope::VERTICAL)), None), None);
        assert_eq!(between(Some(Value::Count(i64::MAX)), None), None);
    }

    #[test]
    fn a_sample_lies_strictly_inside() {
        let steep = Value::Slope(Slope::VERTICAL);
        for (low, high) in [
            (slope(1, 48), slope(1, 50)),
            (slope(-1, 4), slope(0, 1)),
            (slope(1, 4), steep),
        ] {
            let (low, high) = if is_over(low, high) {
                (high, low)
            } else {
                (low, high)
            };
            let inside = between(Some(low), Some(high)).and_then(Region::sample);
            assert!(inside.is_some_and(|inside| is_over(inside, low) && is_over(high, inside)));
        }
        for value in [slope(1, 48), slope(0, 1), slope(-2, 3), Value::Count(0)] {
            assert!(above(value).is_some_and(|above| is_over(above, value)));
            assert!(below(value).is_some_and(|below| is_over(value, below)));
        }
    }

    #[test]
    fn what_is_measured_has_values_next_to_it_and_amounts_have_a_least() {
        let amounts = [
            Value::Load(Load::from_thousandths(5)),
            Value::Flow(Flow::from_picolitres_per_minute(5)),
            Value::Volume(Volume::from_picolitres(5)),
            Value::Period(Period::from_seconds(5)),
            Value::Velocity(Velocity::from_nanometres_per_second(5)),
            Value::Ratio(Ratio::from_parts_of_720_million(5)),
            Value::Count(5),
        ];
        let others = [
            Value::Length(Length::from_nanometres(5)),
            Value::Angle(Angle::from_microdegrees(5)),
            Value::Temperature(Temperature::from_kelvin_900ths(5)),
        ];
        for value in amounts.into_iter().chain(others) {
            assert!(
                above(value).is_some_and(|above| is_over(above, value)),
                "{value:?}"
            );
            assert!(
                below(value).is_some_and(|below| is_over(value, below)),
                "{value:?}"
            );
        }
        let of = [
            Dimension::Load,
            Dimension::Flow,
            Dimension::Volume,
            Dimension::Period,
            Dimension::Velocity,
            Dimension::Ratio,
            Dimension::Count,
        ];
        for (dimension, value) in of.into_iter().zip(amounts) {
            assert!(
                least(dimension).is_some_and(|least| is_over(value, least)),
                "{value:?}"
            );
        }
        assert_eq!(least(Dimension::Length), None);
    }

    fn is_over(one: Value, other: Value) -> bool {
        one.compare(other) == Some(Ordering::Greater)
    }

    #[test]
    fn stretches_stand_to_each_other_as_their_values_can() {
        let over = |value| between(Some(Value::Count(value)), None).unwrap_or(Region::Absent);
        let is = |value| Region::Is(Value::Count(value));
        let all = |less, equal, greater| Orders { less, equal, greater };
        assert_eq!(orders(over(3), is(3)), all(false, false, true));
        assert_eq!(orders(over(3), is(5)), all(true, true, true));
        assert_eq!(orders(is(3), over(3)), all(true, false, false));
        assert_eq!(orders(over(3), over(9)), all(true, true, true));
        assert_eq!(orders(Region::Absent, is(3)), all(false, false, false));
    }
}
