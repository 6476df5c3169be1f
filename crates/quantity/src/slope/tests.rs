//! Slopes checked against exact ratios and published conversions.

use super::*;

fn slope(text: &str) -> Option<Slope> {
    text.parse().ok()
}

#[test]
fn every_notation_gives_its_exact_ratio() {
    for (text, rise, run) in [
        ("1/4 in/ft", 1, 48),
        ("1/4 in per ft", 1, 48),
        ("1/4\"/ft", 1, 48),
        ("1/4\" per foot", 1, 48),
        ("2 %", 1, 50),
        ("1:50", 1, 50),
        ("1 in 50", 1, 50),
        ("20 mm/m", 1, 50),
        ("1/8 in/ft", 1, 96),
        ("45 deg", 1, 1),
    ] {
        assert_eq!(slope(text), Slope::new(rise, run), "{text}");
    }
    assert_ne!(slope("1/4 in/ft"), slope("2 %"));
    assert_eq!(slope("vertical"), Some(Slope::VERTICAL));
    assert_eq!(slope("level"), Some(Slope::LEVEL));
}

#[test]
fn a_slope_upside_down_is_told_the_right_way_up() {
    let said = |text: &str| text.parse::<Slope>().err().map(|error| error.to_string());
    for (text, unit, right) in [
        ("1/4 ft/in", "ft/in", "1/4 in/ft"),
        ("1/4 foot per in", "foot per in", "1/4 in/ft"),
        ("20 m/mm", "m/mm", "20 mm/m"),
    ] {
        let expected = format!(
            "`{text}` has the unknown unit `{unit}`, expected the fall over the run, as in `{right}`"
        );
        assert_eq!(said(text), Some(expected));
        assert!(right.parse::<Slope>().is_ok());
    }
}

#[test]
fn fall_and_length_agree_with_published_conversions() {
    let length = |text: &str| text.parse::<Length>().ok();
    // 0.30 m in 24 m is 1:80, and 1:80 over 50 m falls 0.625 m: surveying exercise on gradients (worked
    // example WE-32 of the project's reference list, confidence high).
    assert_eq!(
        Slope::from_fall(
            Length::from_nanometres(300_000_000),
            Length::from_nanometres(24_000_000_000)
        ),
        slope("1:80")
    );
    // The sides of the triangle of 3, 4 and 5.
    assert_eq!(
        slope("3:4").and_then(|slope| slope.run_over(length("5 m")?)),
        length("4 m")
    );
    assert_eq!(
        slope("vertical").and_then(|slope| slope.run_over(length("5 m")?)),
        length("0 m")
    );
    assert_eq!(
        slope("1:80").and_then(|slope| slope.fall_over(length("50 m")?)),
        length("625 mm")
    );
    // A textbook run of 9-1/2 ft at 1/4 in/ft falls 2-3/8 in (plumbing textbook 2022, page 325).
    assert_eq!(
        slope("1/4 in/ft").and_then(|slope| slope.fall_over(length("9 ft 6 in")?)),
        length("2-3/8 in")
    );
    assert_eq!(
        Slope::from_fall(Length::from_nanometres(5), Length::from_nanometres(5)),
        Some(Slope::VERTICAL)
    );
    assert_eq!(
        Slope::from_fall(Length::from_nanometres(6), Length::from_nanometres(5)),
        None
    );
}

#[test]
fn angles_are_exact_where_they_matter() {
    let angle = |text: &str| slope(text).map(|slope| slope.angle_from_vertical().microdegrees());
    assert_eq!(angle("45 deg"), Some(45_000_000));
    assert_eq!(angle("vertical"), Some(0));
    assert_eq!(angle("level"), Some(90_000_000));
    assert_eq!(angle("18 deg"), Some(72_000_000));
}

#[test]
fn a_back_graded_slope_is_read_only_where_asked_for() {
    for (text, rise, run) in [
        ("-1/4 in/ft", -1, 48),
        ("-2 %", -1, 50),
        ("-1:70", -1, 70),
        ("-45 deg", -1, 1),
        ("1:70", 1, 70),
    ] {
        assert_eq!(Slope::parse_signed(text).ok(), Slope::new(rise, run), "{text}");
        assert_eq!(text.parse::<Slope>().is_err(), rise < 0, "{text}");
    }
    for text in ["-", "-level", "-vertical", "-90 deg", "--1 %", "-1"] {
        assert!(Slope::parse_signed(text).is_err(), "{text}");
    }
    assert!(Slope::new(-1, 50) < Some(Slope::LEVEL));
    assert_eq!(
        Slope::new(i64::MIN, 1).map(|slope| Slope::parse_signed(&slope.to_string()).ok()),
        Some(Slope::new(i64::MIN, 1))
    );
}

#[test]
fn there_is_one_vertical_and_one_level() {
    assert_eq!(Slope::new(7, 0), Some(Slope::VERTICAL));
    assert_eq!(Slope::new(-7, 0), None);
    assert_eq!(Slope::new(0, 0), None);
    assert_eq!(Slope::new(1, -1), None);
    assert_eq!(Slope::new(0, 7), Some(Slope::LEVEL));
    assert!(Slope::LEVEL.is_level() && !Slope::LEVEL.is_vertical());
    assert!(Slope::VERTICAL.is_vertical() && !Slope::VERTICAL.is_level());
    assert!(Slope::new(i64::MAX, 1) < Some(Slope::VERTICAL));
}

#[test]
fn a_steep_fall_takes_the_run_of_its_triangle() {
    let slope =
        |fall, length| Slope::from_fall(Length::from_nanometres(fall), Length::from_nanometres(length));
    // The right triangles 3-4-5 and 5-12-13.
    assert_eq!(slope(3, 5), Slope::new(3, 4));
    assert_eq!(slope(-3, 5), Slope::new(-3, 4));
    assert_eq!(slope(5_000_000, 13_000_000), Slope::new(5, 12));
    // 1 in 4 is still the trade's fall over length.
    assert_eq!(slope(1, 4), Slope::new(1, 4));
    // At the end of the range only equal figures are vertical.
    assert!(slope(i64::MAX - 1, i64::MAX).is_some_and(|slope| !slope.is_vertical()));
    assert_eq!(slope(i64::MAX, i64::MAX), Some(Slope::VERTICAL));
    assert_eq!(slope(i64::MIN, i64::MAX), None);
    assert_eq!(slope(0, 0), None);
    assert_eq!(slope(-5, 5), None);
}

#[test]
fn people_read_sixty_fourths_and_hundredths_of_a_per_cent() {
    let show =
        |rise, run, notation| Slope::new(rise, run).map(|slope| slope.in_notation(notation).to_string());
    for (rise, run, inches, per_cent) in [
        (1, 48, "1/4 in/ft", "about 2.08 %"),
        (1, 50, "about 15/64 in/ft", "2 %"),
        (-1, 48, "-1/4 in/ft", "about -2.08 %"),
        (0, 1, "level", "level"),
        (1, 0, "vertical", "vertical"),
        // Past what can be counted in 64ths it prints as it is, not as nothing.
        (i64::MAX, 1, "9223372036854775807:1", "9223372036854775807:1"),
    ] {
        assert_eq!(show(rise, run, Notation::Inches).as_deref(), Some(inches));
        assert_eq!(show(rise, run, Notation::Millimetres).as_deref(), Some(per_cent));
    }
}

#[test]
fn what_is_not_a_slope_is_refused() {
    for text in [
        "1/4",
        "2",
        "1:0",
        "nan %",
        "-1 %",
        "1/4 furlong",
        "100 deg",
        "",
        "1:50 x",
        "99999999999999999999 %",
    ] {
        assert!(text.parse::<Slope>().is_err(), "{text}");
    }
}

#[test]
fn printed_slopes_read_back() {
    for text in [
        "1/4 in/ft",
        "2 %",
        "1:70",
        "vertical",
        "level",
        "1/64 in/ft",
        "18 deg",
        "22.55 deg",
    ] {
        let read = slope(text);
        assert_eq!(
            read.map(|slope| slope.to_string()).as_deref().and_then(slope),
            read,
            "{text}"
        );
    }
    assert_eq!(slope("2 %").map(|s| s.to_string()).as_deref(), Some("2 %"));
    assert_eq!(slope("1:48").map(|s| s.to_string()).as_deref(), Some("1/4 in/ft"));
    assert_eq!(slope("18 deg").map(|s| s.to_string()).as_deref(), Some("18 deg"));
}
