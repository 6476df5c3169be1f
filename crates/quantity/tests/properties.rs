//! What must hold of every quantity: it prints so that it reads back, it compares as exact arithmetic does, and
//! no text whatever makes it panic.

use crownweir_quantity::{
    Angle, Flow, Length, Load, LoadUnit, NominalSize, Notation, Period, QuantityError, Ratio, Slope,
    StatedLoad, Temperature, Velocity, Viscosity, Volume,
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
    fn signed_slopes_of_any_size_read_back(rise in any::<i64>(), run in 0_i64..=i64::MAX) {
        if let Some(slope) = Slope::new(rise, run) {
            prop_assert_eq!(Slope::parse_signed(&slope.to_string()), Ok(slope));
            prop_assert_eq!(slope.to_string().parse::<Slope>().is_ok(), rise >= 0);
            let _ = (slope.angle_from_horizontal(), slope.angle_from_vertical(), slope.as_f64());
        } else {
            prop_assert!(run == 0 && rise <= 0);
        }
    }

    #[test]
    fn equal_slopes_are_those_that_compare_equal(a in -50_i64..50, b in 0_i64..50, c in -50_i64..50, d in 0_i64..50) {
        if let (Some(one), Some(other)) = (Slope::new(a, b), Slope::new(c, d)) {
            prop_assert_eq!(one == other, one.cmp(&other).is_eq());
            prop_assert_eq!(one.cmp(&other), other.cmp(&one).reverse());
        }
    }

    #[test]
    fn slopes_for_people_are_within_half_a_grain(rise in -10_000_i64..10_000, run in 1_i64..10_000) {
        let slope = Slope::new(rise, run);
        let Some(slope) = slope else { return Err(TestCaseError::fail("a ratio is a slope")) };
        for (notation, per_one) in [(Notation::Inches, 12 * 64), (Notation::Millimetres, 10_000)] {
            let printed = slope.in_notation(notation).to_string();
            let text = printed.strip_prefix("about ").unwrap_or(&printed);
            let read = Slope::parse_signed(text).map_err(|error| TestCaseError::fail(format!("{printed}: {error}")))?;
            // |read - slope| <= 1 / (2 x per_one), multiplied out.
            let apart = i128::from(read.rise()) * i128::from(slope.run()) - i128::from(slope.rise()) * i128::from(read.run());
            prop_assert!(apart.abs() * 2 * per_one <= i128::from(read.run()) * i128::from(slope.run()), "{}", printed);
            prop_assert_eq!(apart != 0, printed.starts_with("about "));
        }
    }

    #[test]
    fn lengths_add_scale_and_compare_as_whole_numbers_do(a in any::<i64>(), b in any::<i64>(), over in any::<i64>()) {
        let (one, other) = (Length::from_nanometres(a), Length::from_nanometres(b));
        prop_assert_eq!(one.cmp(&other), a.cmp(&b));
        let held = |exact: i128| i64::try_from(exact).ok().map(Length::from_nanometres);
        prop_assert_eq!(one.checked_add(other), held(i128::from(a) + i128::from(b)));
        prop_assert_eq!(one.checked_sub(other), held(i128::from(a) - i128::from(b)));
        prop_assert_eq!(Length::parse_signed(&one.to_string()), Ok(one));
        if let Some(scaled) = one.checked_scale(b, over) {
            // |scaled - a x b / over| <= 1/2, multiplied out.
            let apart = i128::from(scaled.nanometres()) * i128::from(over) - i128::from(a) * i128::from(b);
            prop_assert!(apart.unsigned_abs() * 2 <= u128::from(over.unsigned_abs()));
        }
    }

    #[test]
    fn no_figures_make_a_slope_panic(rise in any::<i64>(), run in any::<i64>(), length in any::<i64>()) {
        let length = Length::from_nanometres(length);
        if let Some(slope) = Slope::new(rise, run) {
            let _ = slope.fall_over(length);
            for notation in [Notation::Inches, Notation::Millimetres] {
                let _ = (slope.in_notation(notation).to_string(), length.in_notation(notation).to_string());
            }
        }
        if let Some(slope) = Slope::from_fall(Length::from_nanometres(rise), length) {
            prop_assert_eq!(slope.is_vertical(), rise == length.nanometres());
        }
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
        prop_assert_eq!(Load::from_thousandths(count).to_string().parse(), Ok(Load::from_thousandths(count)));
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
    fn velocities_ratios_and_loads_read_back(count in 0_i64..=i64::MAX, near in 0_i64..10_000_000_000) {
        for count in [count, near] {
            let velocity = Velocity::from_nanometres_per_second(count);
            prop_assert_eq!(velocity.to_string().parse(), Ok(velocity));
            let ratio = Ratio::from_parts_of_720_million(count);
            prop_assert_eq!(ratio.to_string().parse(), Ok(ratio));
            let viscosity = Viscosity::from_square_micrometres_per_second(count);
            prop_assert_eq!(viscosity.to_string().parse(), Ok(viscosity));
            for unit in LoadUnit::ALL {
                let stated = StatedLoad { load: Load::from_thousandths(count), unit: *unit };
                prop_assert_eq!(stated.to_string().parse(), Ok(stated));
            }
        }
    }

    #[test]
    fn fractions_of_thirds_and_sixty_fourths_are_held(over in 0_i64..1000, under in prop_oneof![Just(3_i64), Just(9), Just(24), Just(64), Just(100), Just(10_000_000)]) {
        let read = format!("{over}/{under}").parse::<Ratio>();
        prop_assert_eq!(read.map(Ratio::parts_of_720_million), Ok(over * (720_000_000 / under)));
    }

    #[test]
    fn velocities_and_ratios_for_people_are_within_half_a_grain(count in 0_i64..i64::MAX / 1000) {
        let velocity = Velocity::from_nanometres_per_second(count);
        for (notation, grain) in [(Notation::Inches, 3_048_000), (Notation::Millimetres, 10_000_000)] {
            let printed = velocity.in_notation(notation);
            let text = printed.strip_prefix("about ").unwrap_or(&printed);
            let read: Velocity = text.parse().map_err(|error| TestCaseError::fail(format!("{printed}: {error}")))?;
            let apart = read.nanometres_per_second().abs_diff(count);
            prop_assert!(apart <= grain / 2, "{} printed as {}", velocity, printed);
            prop_assert_eq!(apart != 0, printed.starts_with("about "));
        }
        let flow = Flow::from_picolitres_per_minute(count);
        let printed = flow.in_litres_per_second();
        let text = printed.strip_prefix("about ").unwrap_or(&printed);
        let read: Flow = text.parse().map_err(|error| TestCaseError::fail(format!("{printed}: {error}")))?;
        let apart = read.picolitres_per_minute().abs_diff(count);
        prop_assert!(apart <= 30_000_000_000, "{} printed as {}", flow, printed);
        let ratio = Ratio::from_parts_of_720_million(count);
        let printed = ratio.for_people();
        let text = printed.strip_prefix("about ").unwrap_or(&printed);
        let read: Ratio = text.parse().map_err(|error| TestCaseError::fail(format!("{printed}: {error}")))?;
        let apart = read.parts_of_720_million().abs_diff(count);
        prop_assert!(apart <= 360_000, "{} printed as {}", ratio, printed);
        prop_assert_eq!(apart != 0, printed.starts_with("about "));
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
    fn every_temperature_reads_back(count in 0_i64..=i64::MAX, near in 0_i64..1_000_000) {
        for count in [count, near] {
            let temperature = Temperature::from_kelvin_900ths(count);
            prop_assert_eq!(temperature.to_string().parse(), Ok(temperature));
        }
        let _ = Temperature::from_kelvin_900ths(-count).to_string();
    }

    #[test]
    fn a_message_is_one_short_line(text in any::<String>()) {
        let errors: [Option<QuantityError>; 4] = [
            text.parse::<Length>().err(),
            text.parse::<Slope>().err(),
            text.parse::<NominalSize>().err(),
            text.parse::<Temperature>().err(),
        ];
        for error in errors.into_iter().flatten() {
            let message = error.to_string();
            prop_assert!(!message.contains(char::is_control), "{:?}", message);
            prop_assert!(message.chars().count() < 250, "{:?}", message);
            prop_assert!(message.contains(error.expected()));
        }
    }

    #[test]
    fn no_text_makes_a_quantity_panic(text in "\\PC{0,40}", near in "[-0-9./ ]{0,12}(in|ft|'|\"|mm|%|:|deg|dfu|DU|gpm|m/s|mm2/s|F|DN)?[-0-9./ ]{0,8}(in|ft)?") {
        for text in [&text, &near] {
            let _ = text.parse::<Length>();
            let _ = Length::parse_signed(text);
            let _ = text.parse::<Slope>();
            let _ = Slope::parse_signed(text);
            let _ = text.parse::<Angle>();
            let _ = text.parse::<NominalSize>();
            let _ = text.parse::<Load>();
            let _ = text.parse::<Flow>();
            let _ = text.parse::<Volume>();
            let _ = text.parse::<Temperature>();
            let _ = text.parse::<Period>();
            let _ = text.parse::<Velocity>();
            let _ = text.parse::<Ratio>();
            let _ = text.parse::<Viscosity>();
            let _ = text.parse::<StatedLoad>();
        }
    }
}
