//! JSON Schemas of quantities: text with a unit. A pattern admits all that the parser reads, so that an editor
//! never marks as wrong what loads.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use crate::{
    Angle, Flow, Heading, Length, Load, LoadUnit, NominalSize, Period, Ratio, Slope, StatedLoad, Temperature,
    Velocity, Viscosity, Volume,
};

/// A number as [`crate::number`] reads it.
const NUMBER: &str = r"(?:(?:[0-9]+(?:[-−]|\s+))?[0-9]+/[0-9]+|[0-9]*\.[0-9]+|[0-9]+)";
const MINUS: &str = r"(?:[-−]\s*)?";
/// Units of load.
const LOADS: &str = "dfu|DFU|fu|FU|fixture units?|DU|du|discharge units?";
const INCHES: &str = "(?:inch|inches|in|\")";
const FEET: &str = "(?:foot|feet|ft|')";

/// A number and one of the units.
fn counted(units: &str) -> String {
    format!(r"{NUMBER}\s*(?:{units})")
}

/// Feet, feet and inches, or another unit of length.
fn length() -> String {
    let feet = counted(FEET);
    let inches = counted(INCHES);
    let metric = counted("mm|cm|m");
    format!(r"(?:{feet}(?:\s*[-−]?\s*{inches})?|{inches}|{metric})")
}

fn slope() -> String {
    let graded = counted("(?:in|\")(?:/| per )(?:ft|foot)|%|mm/m|deg|degree|degrees|°");
    format!(r"(?:level|vertical|{graded}|{NUMBER}\s*(?::|in\s)\s*{NUMBER})")
}

fn size() -> String {
    let named = counted("inch|inches|in|\"|mm");
    format!(r"(?:(?:DN|Dn|dn)\s*{NUMBER}|{named})")
}

fn heading() -> String {
    let angle = counted("deg|degree|degrees|°");
    format!(
        r"(?:(?:north|south)(?:-east|-west)?|east|west|straight on|{angle}|(?:left|right)(?:\s*{angle})?)"
    )
}

/// Without a description: an editor would show it in place of that of the key.
fn text(title: &str, expected: &str, pattern: &str, examples: &[&str]) -> Schema {
    json_schema!({
        "title": title,
        "type": "string",
        "pattern": format!(r"^\s*{pattern}\s*$"),
        // What editors say instead of `expected a string`, or of the pattern.
        "errorMessage": format!("expected {expected}"),
        "examples": examples,
    })
}

/// The schema of a length that may lie below its datum.
#[must_use]
pub fn signed_length() -> Schema {
    let expected = "a length such as `42 in`, `-3 ft 6 in` or `1067 mm`";
    let pattern = format!("{MINUS}{}", length());
    text(
        "Length, or length below",
        expected,
        &pattern,
        &["42 in", "-3 ft 6 in", "1067 mm"],
    )
}

macro_rules! schema {
    ($($type:ident $name:literal $title:literal $pattern:expr, $examples:expr;)*) => {
        $(impl JsonSchema for $type {
            fn schema_name() -> Cow<'static, str> {
                $name.into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                text($title, Self::EXPECTED, &$pattern, &$examples)
            }
        })*
    };
}

schema! {
    Length "length" "Length" length(), ["42 in", "7 ft 6-1/2 in", "1067 mm", "2.4 m"];
    Slope "slope" "Slope" slope(), ["1/4 in/ft", "2 %", "1:50", "20 mm/m", "level", "vertical"];
    Angle "angle" "Angle" counted("deg|degree|degrees|°"), ["45 deg", "22.5 deg"];
    Heading "direction" "Direction in plan" heading(), ["east", "south-west", "30 deg", "left", "right 45 deg", "straight on"];
    NominalSize "nominal_size" "Nominal size" size(), ["1-1/2 in", "2 in", "DN 50", "110 mm"];
    Load "load" "Load" counted(LOADS), ["3 dfu", "0.5 DU"];
    StatedLoad "stated_load" "Load" counted(LOADS), ["3 dfu", "0.5 DU"];
    Velocity "velocity" "Velocity" counted("ft/s|fps|m/s|mm/s"), ["2 ft/s", "0.7 m/s"];
    Viscosity "viscosity" "Kinematic viscosity" counted("mm2/s|mm²/s|cSt"), ["1.31 mm2/s"];
    Flow "flow" "Rate of flow" counted("gpm|gal/min|[Ll]/s|[Ll]/min"), ["2 gpm", "0.5 L/s", "30 L/min"];
    Volume "volume" "Volume" counted("gal|gpf|gallons?|L|l|Lpf|mL|ml"), ["1.6 gal", "6 L"];
    Period "time" "Time" counted("s|sec|seconds?|min|minutes?|h|hours?"), ["15 min", "24 h"];
    Temperature "temperature" "Temperature" format!("{MINUS}{}", counted("°?F|°?C")), ["20 F", "-18 C"];
}

impl JsonSchema for Ratio {
    fn schema_name() -> Cow<'static, str> {
        "ratio".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let pattern = format!(r"{NUMBER}\s*%?");
        let mut schema = text("Ratio", Self::EXPECTED, &pattern, &["50 %", "7/24"]);
        // The one quantity without a unit.
        schema.insert(
            "type".to_owned(),
            vec!["string".to_owned(), "number".to_owned()].into(),
        );
        schema.insert("minimum".to_owned(), 0.into());
        schema
    }
}

impl JsonSchema for LoadUnit {
    fn schema_name() -> Cow<'static, str> {
        "load_unit".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let names: Vec<_> = Self::ALL.iter().map(|unit| unit.name()).collect();
        json_schema!({"title": "Unit of load", "enum": names})
    }
}
