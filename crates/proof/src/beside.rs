//! The values next to a value: a step of its unit up and down, or a rung of the ladder.
//!
//! The steps are steps of units, not figures of a code.

use crownweir_quantity::{Angle, Flow, Length, Load, Period, Ratio, Slope, Temperature, Velocity, Volume};
use crownweir_rulebook::{Dimension, Ladder, Size, Value};

/// The values next to one, above and below: a step of the unit away, or a rung of the ladder.
pub(crate) fn beside(value: Value, dimension: Dimension, ladder: &Ladder) -> Vec<Value> {
    let rungs = u16::try_from(ladder.sizes().count()).unwrap_or(u16::MAX);
    let around = |own: i64, step: i64, least: i64, make: fn(i64) -> Value| {
        let up = own.checked_add(step).map(make);
        let down = own.checked_sub(step).filter(|down| *down >= least).map(make);
        up.into_iter().chain(down).collect()
    };
    match value {
        Value::Length(length) => {
            let own = length.nanometres();
            let inch = Length::INCH.nanometres();
            let step = match own % inch {
                0 => inch,
                _ => Length::MILLIMETRE.nanometres(),
            };
            around(own, step, i64::MIN, |own| {
                Value::Length(Length::from_nanometres(own))
            })
        }
        Value::Load(load) => {
            let own = load.thousandths();
            let step = if own == 0 {
                UNIT
            } else {
                UNIT.min((own / 2).max(1))
            };
            around(own, step, 0, |own| Value::Load(Load::from_thousandths(own)))
        }
        Value::Slope(slope) => {
            let thousand = |part: i64| slope.rise().checked_mul(1000)?.checked_add(part);
            let shifted = [slope.run(), -slope.run()].into_iter().filter_map(|by| {
                let run = slope.run().checked_mul(1000)?;
                Slope::new(thousand(by)?, run)
            });
            if slope.is_vertical() {
                Vec::new()
            } else {
                shifted.map(Value::Slope).collect()
            }
        }
        Value::Angle(angle) => around(angle.microdegrees(), 1_000_000, i64::MIN, |own| {
            Value::Angle(Angle::from_microdegrees(own))
        }),
        Value::Size(size) => {
            let up = size.0.checked_add(1).filter(|up| *up < rungs);
            let down = size.0.checked_sub(1);
            up.into_iter()
                .chain(down)
                .map(|rung| Value::Size(Size(rung)))
                .collect()
        }
        Value::Count(count) => around(count, 1, i64::MIN, Value::Count),
        Value::Flow(flow) => {
            let own = flow.picolitres_per_minute();
            around(own, tenth(own), 0, |own| {
                Value::Flow(Flow::from_picolitres_per_minute(own))
            })
        }
        Value::Volume(volume) => {
            let own = volume.picolitres();
            let step = if own == 0 { LITRE } else { tenth(own) };
            around(own, step, 0, |own| Value::Volume(Volume::from_picolitres(own)))
        }
        Value::Temperature(temperature) => {
            let own = temperature.kelvin_900ths();
            around(own, FAHRENHEIT, 0, |own| {
                Value::Temperature(Temperature::from_kelvin_900ths(own))
            })
        }
        Value::Period(period) => {
            let own = period.seconds();
            around(own, 60, 0, |own| Value::Period(Period::from_seconds(own)))
        }
        Value::Velocity(velocity) => {
            let own = velocity.nanometres_per_second();
            around(own, tenth(own), 0, |own| {
                Value::Velocity(Velocity::from_nanometres_per_second(own))
            })
        }
        Value::Ratio(ratio) => {
            let own = ratio.parts_of_720_million();
            around(own, tenth(own), 0, |own| {
                Value::Ratio(Ratio::from_parts_of_720_million(own))
            })
        }
        Value::Truth(truth) => vec![Value::Truth(!truth)],
        Value::Word(own) => match dimension {
            Dimension::Word(words) => {
                let other = words.iter().find(|word| **word != own);
                other.map(|word| Value::Word(word)).into_iter().collect()
            }
            _ => Vec::new(),
        },
        _ => Vec::new(),
    }
}

/// A litre, in picolitres.
const LITRE: i64 = 1_000_000_000_000;
/// A degree Fahrenheit, in 900ths of a kelvin.
const FAHRENHEIT: i64 = 500;
/// One fixture unit, in thousandths.
const UNIT: i64 = 1000;

/// A tenth of a figure; of nothing, a thousand of its smallest units.
fn tenth(own: i64) -> i64 {
    if own == 0 { 1000 } else { (own / 10).max(1) }
}
