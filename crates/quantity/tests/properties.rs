//! What must hold of every quantity: it prints so that it reads back, it compares as exact arithmetic does, and
//! no text whatever makes it panic.

use crownweir_quantity::{
    Angle, FixtureUnits, Flow, Length, NominalSize, Notation, Period, Slope, Temperature, Volume,
};
use proptest::prelude::*;

/// Sixty-fourths of an inch and millimetres are what the trade writes; the rest must round-trip all the same.
fn lengths() -> impl Strategy<Value = Length> {
    prop_oneof![
        (0_i64..1_000_000).prop_map(|count| Length::from_nanometres(count * 396_875)),
        (0_i64..100_000_000).prop_map(|count| Length::from_nanometres(count * 1_000_000)),
        (0_i64..i64::MAX).prop_map(Length::from_nanometres),
    ]
}

proptest! {
    #[test]
    fn lengths_read_back(length in lengths()) {
        prop_assert_eq!(length.to_string().parse(), Ok(length));
        let below = Length::ZERO.checked_sub(length);
        prop_assert_eq!(below.map(|below| Length::parse_signed(&below.to_string())), below.map(Ok));
    }

    #[test]
    fn what_people_read_is_within_half_a_grain(length in lengths()) {
        for (notation, grain) in [(Notation::Inches, 1_587_500), (Notation::Millimetres, 1_000_000)] {
            let printed = length.in_notation(notation).to_string();
            let text = printed.strip_prefix("about ").unwrap_or(&printed);
            let read: Length = text.parse().map_err(|error| TestCaseError::fail(format!("{printed}: {error}")))?;
            let apart = read.nanometres().abs_diff(length.nanometres());
            prop_assert!(apart <= grain / 2, "{} printed as {}", length, printed);
            prop_assert_eq!(apart != 0, printed.starts_with("about "));
        }
    }

    #[test]
    fn slopes_read_back_and_compare_exactly(a in 0_i64..100_000, b in 1_i64..100_000, c in 0_i64..100_000, d in 1_i64..100_000) {
        let (one, other) = (Slope::new(a, b), Slope::new(c, d));
        let (Some(one), Some(other)) = (one, other) else { return Err(TestCaseError::fail("a ratio is a slope")) };
        prop_assert_eq!(one.to_string().parse(), Ok(one));
        prop_assert_eq!(one.cmp(&other), (a * d).cmp(&(c * b)));
        prop_assert!(one < Slope::VERTICAL);
    }

    #[test]
    fn fall_and_slope_agree(rise in 0_i64..200, run in 1000_i64..2000, length in 1_i64..100_000) {
        // Up to 1 in 4, where the trade's fall over length is exact but for the last nanometre.
        let slope = Slope::new(rise, run);
        let length = Length::from_nanometres(length * 1_000_000);
        let fall = slope.and_then(|slope| slope.fall_over(length)).map(Length::nanometres);
        let exact = i128::from(length.nanometres()) * i128::from(rise);
        let Some(fall) = fall else { return Err(TestCaseError::fail("a fall")) };
        prop_assert!((i128::from(fall) * i128::from(run) - exact).abs() * 2 <= i128::from(run));
    }

    #[test]
    fn the_rest_reads_back(count in 0_i64..i64::MAX / 2, small in 1_u32..100_000) {
        prop_assert_eq!(FixtureUnits::from_thousandths(count).to_string().parse(), Ok(FixtureUnits::from_thousandths(count)));
        prop_assert_eq!(Flow::from_picolitres_per_minute(count).to_string().parse(), Ok(Flow::from_picolitres_per_minute(count)));
        prop_assert_eq!(Volume::from_picolitres(count).to_string().parse(), Ok(Volume::from_picolitres(count)));
        prop_assert_eq!(Period::from_seconds(i64::from(small)).to_string().parse(), Ok(Period::from_seconds(i64::from(small))));
        prop_assert_eq!(Angle::from_microdegrees(count).to_string().parse(), Ok(Angle::from_microdegrees(count)));
        for text in [format!("{small} mm"), format!("DN {small}"), format!("{small}/64 in")] {
            let size: Result<NominalSize, _> = text.parse();
            prop_assert!(size.is_ok(), "{}", text);
            let size = size.map(|size| size.to_string());
            prop_assert_eq!(size.as_deref().map(str::parse::<NominalSize>), Ok(text.parse()));
        }
    }

    #[test]
    fn temperatures_read_back(hundredths in -20_000_i32..200_000) {
        for text in [format!("{}.{:02} F", hundredths / 100, hundredths.abs() % 100), format!("{}.{:02} C", hundredths / 100, hundredths.abs() % 100)] {
            if let Ok(read) = text.parse::<Temperature>() {
                prop_assert_eq!(read.to_string().parse(), Ok(read), "{}", text);
            }
        }
    }

    #[test]
    fn no_text_makes_a_quantity_panic(text in "\\PC{0,40}", near in "[-0-9./ ]{0,12}(in|ft|'|\"|mm|%|:|deg|dfu|gpm|F|DN)?[-0-9./ ]{0,8}(in|ft)?") {
        for text in [&text, &near] {
            let _ = text.parse::<Length>();
            let _ = Length::parse_signed(text);
            let _ = text.parse::<Slope>();
            let _ = text.parse::<Angle>();
            let _ = text.parse::<NominalSize>();
            let _ = text.parse::<FixtureUnits>();
            let _ = text.parse::<Flow>();
            let _ = text.parse::<Volume>();
            let _ = text.parse::<Temperature>();
            let _ = text.parse::<Period>();
        }
    }
}
