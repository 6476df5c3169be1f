//! The schemas of conditions and operands, made from the catalogue of facts. Whether a rule's subject can see a
//! fact is left to the reader.

use std::borrow::Cow;

use crownweir_quantity::{
    Angle, Flow, Length, Load, NominalSize, Period, Ratio, Slope, Temperature, Velocity, Volume,
};
use crownweir_vocabulary::{
    BuildingUse, Cut, Direction, FittingPattern, FixtureType, FlushKind, Inlet, Material, MemberEdge,
    MemberKind, MemberMake, Occupancy, Orientation, Pattern, Receiver, Role, RoofUse, RunKind, SystemType,
    TestMedium, Through, TrapKind, UrinalKind, ValveKind, VentEnd,
};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use crate::facts::Fact;
use crate::value::Dimension;

/// A condition.
pub(crate) struct Condition;

impl JsonSchema for Condition {
    fn schema_name() -> Cow<'static, str> {
        "condition".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let condition = generator.subschema_for::<Self>();
        let list = |description: &str| json_schema!({"description": description, "type": "array", "items": condition});
        let mut properties = vec![
            ("all", list("All of these hold.")),
            ("any", list("At least one of these holds.")),
            ("not", describe(condition.clone(), "This does not hold.")),
        ];
        for fact in Fact::ALL {
            let tests = tests(fact.dimension(), generator);
            properties.push((fact.name(), describe(tests, fact.measured())));
        }
        json_schema!({
            "description": "Facts and what is asked of each; all of it must hold.",
            "type": ["object", "null"],
            "properties": object(properties),
            "additionalProperties": false,
            "examples": [{"pipe.size": {"at_least": "2 in"}}],
        })
    }
}

/// A way to come by a load.
pub(crate) struct LoadOperand;

impl JsonSchema for LoadOperand {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "load_operand".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        operand(Kind::Of(Dimension::Load), generator)
    }
}

macro_rules! operand_of {
    ($($(#[$doc:meta])* $type:ident $name:literal $dimension:expr;)*) => {
        $($(#[$doc])* pub(crate) struct $type;

        impl JsonSchema for $type {
            fn inline_schema() -> bool {
                true
            }

            fn schema_name() -> Cow<'static, str> {
                $name.into()
            }

            fn json_schema(generator: &mut SchemaGenerator) -> Schema {
                operand(Kind::Of($dimension), generator)
            }
        })*
    };
}

operand_of! {
    /// A flow, or how to come by it.
    FlowOperand "flow_operand" Dimension::Flow;
    /// A ratio, or how to come by it.
    RatioOperand "ratio_operand" Dimension::Ratio;
    /// A length, or how to come by it.
    LengthOperand "length_operand" Dimension::Length;
}

/// A way to come by a value of any kind.
pub(crate) struct Operand;

impl JsonSchema for Operand {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "operand".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        operand(Kind::Any, generator)
    }
}

/// A fact, by name.
pub(crate) struct AnyFact;

impl JsonSchema for AnyFact {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "fact".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        fact(Kind::Any, generator)
    }
}

/// What kind of value a place asks for, as far as a schema can know.
#[derive(Clone, Copy)]
enum Kind {
    /// Any: which one, a table's own keys and columns say.
    Any,
    /// A word of whichever vocabulary.
    Word,
    Of(Dimension),
}

impl Kind {
    /// What a value to compare a fact with is reckoned from; of words, one list does for all vocabularies.
    fn reckoning(dimension: Dimension) -> Self {
        match dimension {
            Dimension::Word(_) => Self::Word,
            other => Self::Of(other),
        }
    }

    fn is(self, one_of: &[Dimension]) -> bool {
        match self {
            Self::Any => true,
            Self::Word => false,
            Self::Of(dimension) => one_of.contains(&dimension),
        }
    }

    /// The definition's name: `operand`, or `length_operand`.
    fn named(self, what: &str) -> String {
        match self {
            Self::Any => what.to_owned(),
            Self::Word => format!("word_{what}"),
            Self::Of(dimension) => format!("{}_{what}", name(dimension)),
        }
    }
}

/// A vocabulary by its words: its schema and its schema's name.
type Vocabulary = (
    &'static [&'static str],
    fn(&mut SchemaGenerator) -> Schema,
    fn() -> Cow<'static, str>,
);

macro_rules! vocabularies {
    ($($name:ident),*) => {
        [$(($name::NAMES, SchemaGenerator::subschema_for::<$name>, <$name as JsonSchema>::schema_name)),*]
    };
}

fn vocabulary(words: &[&str]) -> Option<Vocabulary> {
    let known: [Vocabulary; 25] = vocabularies![
        BuildingUse,
        Cut,
        Direction,
        FittingPattern,
        FixtureType,
        FlushKind,
        Inlet,
        Material,
        MemberEdge,
        MemberKind,
        MemberMake,
        Occupancy,
        Orientation,
        Pattern,
        Receiver,
        Role,
        RoofUse,
        RunKind,
        SystemType,
        TestMedium,
        Through,
        TrapKind,
        UrinalKind,
        ValveKind,
        VentEnd
    ];
    known.into_iter().find(|(names, ..)| *names == words)
}

fn name(dimension: Dimension) -> Cow<'static, str> {
    match dimension {
        Dimension::Word(words) => vocabulary(words).map_or("word".into(), |(_, _, name)| name()),
        other => other.name().into(),
    }
}

/// A value of a dimension as it stands.
fn literal(dimension: Dimension, generator: &mut SchemaGenerator) -> Schema {
    match dimension {
        Dimension::Length => generator.subschema_for::<Length>(),
        Dimension::Slope => generator.subschema_for::<Slope>(),
        Dimension::Angle => generator.subschema_for::<Angle>(),
        Dimension::Size => generator.subschema_for::<NominalSize>(),
        Dimension::Load => generator.subschema_for::<Load>(),
        Dimension::Flow => generator.subschema_for::<Flow>(),
        Dimension::Volume => generator.subschema_for::<Volume>(),
        Dimension::Temperature => generator.subschema_for::<Temperature>(),
        Dimension::Period => generator.subschema_for::<Period>(),
        Dimension::Velocity => generator.subschema_for::<Velocity>(),
        Dimension::Ratio => generator.subschema_for::<Ratio>(),
        Dimension::Count => json_schema!({
            "type": ["integer", "string"],
            "pattern": "^[-+]?[0-9]+$",
        }),
        Dimension::Truth => json_schema!({"type": "boolean"}),
        Dimension::Word(words) => match vocabulary(words) {
            Some((_, schema, _)) => schema(generator),
            None => json_schema!({"enum": words}),
        },
    }
}

/// What may stand for a value of any kind: a fact is told from a word by the dot in its name.
fn any_literal() -> Schema {
    json_schema!({
        "type": ["string", "number", "boolean"],
        "not": {"type": "string", "pattern": r"^[a-z][^ ]*\.[^ ]*$"},
    })
}

/// What is asked of a fact of a dimension. Nothing below a key's own description has another: an editor would show
/// the innermost.
fn tests(dimension: Dimension, generator: &mut SchemaGenerator) -> Schema {
    defined(Kind::Of(dimension).named("tests"), generator, |generator| {
        let value = literal(dimension, generator);
        let list = json_schema!({"type": "array", "items": value});
        let forms = forms(Kind::reckoning(dimension), generator);
        let mut properties = vec![
            (
                "is",
                describe(json_schema!({"anyOf": [value, forms]}), "It is this."),
            ),
            ("is_not", describe(value.clone(), "It is anything but this.")),
            ("one_of", describe(list.clone(), "It is one of these.")),
            ("none_of", describe(list, "It is none of these.")),
        ];
        if dimension.is_ordered() {
            let limit = operand(Kind::Of(dimension), generator);
            properties.extend([
                ("at_least", describe(limit.clone(), "It is this or more.")),
                ("at_most", describe(limit.clone(), "It is this or less.")),
                ("more_than", describe(limit.clone(), "It is more than this.")),
                ("less_than", describe(limit, "It is less than this.")),
            ]);
        }
        let present = json_schema!({
            "description": "Whether there is such a thing at all.",
            "type": "boolean",
        });
        properties.push(("present", present));
        json_schema!({
            "anyOf": [
                value,
                {
                    "type": "object",
                    "properties": object(properties),
                    "additionalProperties": false,
                    "minProperties": 1,
                },
            ],
        })
    })
}

/// A value, a fact's name, or a mapping that says how to come by a value.
fn operand(kind: Kind, generator: &mut SchemaGenerator) -> Schema {
    defined(kind.named("operand"), generator, |generator| {
        let value = match kind {
            Kind::Any => any_literal(),
            Kind::Word => json_schema!({"type": "string"}),
            Kind::Of(dimension) => literal(dimension, generator),
        };
        json_schema!({"anyOf": [value, fact(kind, generator), forms(kind, generator)]})
    })
}

/// A fact of a kind, by name.
fn fact(kind: Kind, generator: &mut SchemaGenerator) -> Schema {
    defined(kind.named("fact"), generator, |_| {
        let known = Fact::ALL.iter().filter(|fact| match kind {
            Kind::Any => true,
            Kind::Word => matches!(fact.dimension(), Dimension::Word(_)),
            Kind::Of(dimension) => fact.dimension() == dimension,
        });
        let names: Vec<_> = known.map(|fact| fact.name()).collect();
        json_schema!({"enum": names})
    })
}

/// The ways to come by a value, as keys of a mapping.
fn forms(kind: Kind, generator: &mut SchemaGenerator) -> Schema {
    defined(kind.named("reckoned"), generator, |generator| {
        let own = operand(kind, generator);
        let any = operand(Kind::Any, generator);
        let size = Kind::Of(Dimension::Size);
        let list = json_schema!({"type": "array", "items": own});
        let text = |description: &str| json_schema!({"description": description, "type": "string"});
        let maybe =
            |description: &str| json_schema!({"description": description, "type": ["string", "null"]});
        let mut ways: Vec<&[&str]> = vec![&["fact"], &["table"], &["sum"], &["larger_of"], &["smaller_of"]];
        let mut properties = vec![
            (
                "fact",
                describe(fact(kind, generator), "Another fact of the same subject."),
            ),
            ("table", text("The name of a table to look the value up in.")),
            (
                "column",
                maybe("Which of the table's columns; not needed where it has one."),
            ),
            (
                "keys",
                json_schema!({
                    "description": "A value for each of the table's keys, under the key's name.",
                    "type": ["object", "null"],
                    "additionalProperties": any,
                }),
            ),
            ("sum", describe(list.clone(), "The sum of all of these.")),
            ("larger_of", describe(list.clone(), "The largest of these.")),
            ("smaller_of", describe(list, "The smallest of these.")),
        ];
        if kind.is(&[
            Dimension::Length,
            Dimension::Load,
            Dimension::Flow,
            Dimension::Count,
        ]) {
            ways.push(&["times", "of"]);
            properties.push(("times", multiple()));
            properties.push(("of", describe(own, "Of what.")));
        }
        if kind.is(&[Dimension::Length]) {
            ways.push(&["diameter"]);
            let of = operand(size, generator);
            properties.push(("diameter", describe(of, "The diameter of this size.")));
        }
        if kind.is(&[Dimension::Size]) {
            ways.extend([&["size_for"] as &[&str], &["sizes_up", "of"]]);
            let diameter = operand(Kind::Of(Dimension::Length), generator);
            let steps = json_schema!({
                "description": "A size so many steps further up the ladder of sizes.",
                "type": "integer",
                "minimum": 0,
            });
            let sought =
                "The table's key that is the size sought: the smallest whose cell is not under `holds`.";
            properties.extend([
                ("smallest", maybe(sought)),
                ("holds", describe(any, "What the cell must hold.")),
                (
                    "size_for",
                    describe(diameter, "The smallest size of at least this diameter."),
                ),
                ("sizes_up", steps),
            ]);
            if matches!(kind, Kind::Of(_)) {
                properties.push(("of", describe(operand(size, generator), "Of what size.")));
            }
        }
        if kind.is(&[Dimension::Load]) {
            ways.push(&["flow", "per", "load"]);
            let flow = operand(Kind::Of(Dimension::Flow), generator);
            let (per, load) = (
                literal(Dimension::Flow, generator),
                literal(Dimension::Load, generator),
            );
            properties.extend([
                ("flow", describe(flow, "This flow as a load:")),
                ("per", describe(per, "for each so much flow,")),
                ("load", describe(load, "so much load.")),
            ]);
        }
        let ways: Vec<_> = ways.iter().map(|way| json_schema!({"required": way})).collect();
        json_schema!({
            "type": "object",
            "properties": object(properties),
            "additionalProperties": false,
            "oneOf": ways,
        })
    })
}

fn multiple() -> Schema {
    json_schema!({
        "description": "So many times: a number or a fraction.",
        "type": ["number", "string"],
        "minimum": 0,
        "pattern": "[0-9]",
        "examples": [10, "1/2"],
    })
}

/// A schema with a definition of its own, made when it is first met; a reference to it comes back.
fn defined(
    name: String,
    generator: &mut SchemaGenerator,
    make: impl FnOnce(&mut SchemaGenerator) -> Schema,
) -> Schema {
    if !generator.definitions().contains_key(&name) {
        // Its own parts may refer to it.
        generator.definitions_mut().insert(name.clone(), true.into());
        let made = make(generator);
        generator.definitions_mut().insert(name.clone(), made.into());
    }
    Schema::new_ref(format!("#/$defs/{name}"))
}

fn describe(mut schema: Schema, description: &str) -> Schema {
    schema.insert("description".to_owned(), description.into());
    schema
}

/// An object of schemas, in their order.
fn object(properties: Vec<(&str, Schema)>) -> Schema {
    let mut object = json_schema!({});
    for (name, schema) in properties {
        object.insert(name.to_owned(), schema.to_value());
    }
    object
}
