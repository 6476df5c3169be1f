//! The trade's words: fixtures, fittings, materials and the kinds of pipe, each with the one name that network
//! files, rule sets and messages use for it.
//!
//! It holds no figure from any code. The only numbers are angles that a fitting's own shape fixes.
#![forbid(unsafe_code)]

#[cfg(feature = "schema")]
pub mod schema;

/// A text that is no word of a vocabulary.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownWord {
    /// The text.
    pub name: String,
    /// What it was to be the name of, such as "a fixture".
    pub what: &'static str,
}

impl std::error::Error for UnknownWord {}

impl std::fmt::Display for UnknownWord {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "`{}` is not the name of {}", self.name, self.what)
    }
}

/// A word of a vocabulary is known to files by its name. What else the trade calls it is told to whoever writes that.
macro_rules! words {
    ($(#[doc = $doc:literal])* $name:ident, $what:literal {
        $($(#[doc = $variant_doc:literal])* $variant:ident = $word:literal $(also $($other:literal)|+)?),* $(,)?
    }) => {
        $(#[doc = $doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum $name {
            $($(#[doc = $variant_doc])* $variant),*
        }

        impl $name {
            /// Every word, in the order of the vocabulary.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];
            /// Every word's name, in the same order.
            pub const NAMES: &'static [&'static str] = &[$($word),*];

            /// The name in files.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }

            /// The word that is meant by what people write in its place: another name that the trade has for the
            /// thing, or its own in other letters. Files are not read by it; it is for hints.
            fn meant(written: &str) -> Option<Self> {
                let plain = written.trim().to_lowercase().replace([' ', '-'], "_");
                match &*plain {
                    $($word $($(| $other)+)? => Some(Self::$variant),)*
                    _ => None,
                }
            }
        }

        /// By the name in files.
        impl std::str::FromStr for $name {
            type Err = UnknownWord;
            fn from_str(name: &str) -> Result<Self, UnknownWord> {
                match name {
                    $($word => Ok(Self::$variant),)*
                    _ => Err(UnknownWord { name: name.to_owned(), what: $what }),
                }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(&self.name().replace('_', " "))
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                struct Visitor;
                impl serde::de::Visitor<'_> for Visitor {
                    type Value = $name;
                    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                        f.write_str(concat!("the name of ", $what, ", one of "))?;
                        f.write_str(&$name::NAMES.join(", "))
                    }
                    fn visit_str<E: serde::de::Error>(self, name: &str) -> Result<$name, E> {
                        name.parse().map_err(|_| match $name::meant(name) {
                            Some(word) => E::custom(format_args!("`{name}` is written `{}` here", word.name())),
                            None => E::custom(format_args!(
                                concat!("`{}` is not the name of ", $what, ", expected one of {}"),
                                name,
                                $name::NAMES.join(", ")
                            )),
                        })
                    }
                }
                deserializer.deserialize_str(Visitor)
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.name())
            }
        }

        #[cfg(feature = "schema")]
        impl schemars::JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                schema::plain_name(stringify!($name)).into()
            }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schema::words(concat!($($doc),*), &[$(($word, concat!($($variant_doc),*))),*])
            }
        }
    };
}

words! {
    /// What discharges into the drains.
    FixtureType, "a fixture" {
        /// A bathtub, with or without a shower head over it.
        Bathtub = "bathtub" also "tub" | "bath" | "bath_tub",
        /// A bidet.
        Bidet = "bidet",
        /// A clothes washer's standpipe.
        ClothesWasher = "clothes_washer" also "washer" | "washing_machine" | "laundry_standpipe" | "standpipe",
        /// A sink and laundry tray in one.
        CombinationSinkAndTray = "combination_sink_and_tray",
        /// A load not drawn fixture by fixture: a stub for future work, an existing branch, a summed group.
        ConnectedLoad = "connected_load",
        /// A discharge stated as a rate of flow: a pump, a condensate drain, equipment. It has a trap where one is stated.
        ContinuousFlow = "continuous_flow",
        /// A lavatory in a dental surgery.
        DentalLavatory = "dental_lavatory",
        /// A dental unit or cuspidor.
        DentalUnit = "dental_unit",
        /// A dishwashing machine on a trap of its own.
        Dishwasher = "dishwasher",
        /// A drinking fountain.
        DrinkingFountain = "drinking_fountain" also "water_cooler",
        /// A floor drain that takes water only in an emergency.
        EmergencyFloorDrain = "emergency_floor_drain",
        /// A floor drain.
        FloorDrain = "floor_drain",
        /// A floor sink.
        FloorSink = "floor_sink" also "indirect_waste_receptor" | "receptor" | "hub_drain",
        /// A kitchen sink, with or without a dishwasher or a food waste disposer.
        KitchenSink = "kitchen_sink" also "kitchen",
        /// A laundry tray.
        LaundryTray = "laundry_tray" also "laundry_sink" | "laundry_tub",
        /// A lavatory.
        Lavatory = "lavatory" also "lav" | "basin" | "hand_basin" | "hand_sink" | "washbasin" | "wash_basin" | "wash_hand_basin" | "bathroom_sink" | "vanity",
        /// A fixture that the rule set's table does not list.
        Other = "other",
        /// A service sink.
        ServiceSink = "service_sink" also "mop_sink" | "mop_basin" | "slop_sink" | "janitor_sink",
        /// A shower.
        Shower = "shower",
        /// A sink that is not one of the others.
        Sink = "sink",
        /// A urinal.
        Urinal = "urinal",
        /// A wash sink with several sets of faucets.
        WashSink = "wash_sink" also "wash_fountain",
        /// A water closet.
        WaterCloset = "water_closet" also "wc" | "toilet" | "commode" | "closet",
    }
}

words! {
    /// Who uses a fixture.
    Occupancy, "an occupancy" {
        /// One household or its guests.
        Private = "private" also "residential" | "dwelling",
        /// Anyone.
        Public = "public" also "commercial",
        /// A crowd that uses the fixtures at once, as in the pauses of a game, a play or a service.
        Assembly = "assembly",
    }
}

words! {
    /// By what a flush is let go.
    FlushKind, "a kind of flush" {
        /// A tank at or near the fixture.
        Tank = "tank",
        /// A valve straight on the water supply.
        Valve = "valve",
    }
}

words! {
    /// What a building is used for, as far as it tells how often its fixtures discharge together.
    BuildingUse, "a use of a building" {
        /// Homes.
        Dwelling = "dwelling",
        /// A guesthouse.
        Guesthouse = "guesthouse",
        /// Offices.
        Office = "office",
        /// A hospital.
        Hospital = "hospital",
        /// A school.
        School = "school",
        /// A restaurant.
        Restaurant = "restaurant",
        /// A hotel.
        Hotel = "hotel",
        /// Toilets and showers open to the public.
        PublicToilets = "public_toilets",
        /// A laboratory.
        Laboratory = "laboratory",
    }
}

words! {
    /// The shape of a urinal.
    UrinalKind, "a kind of urinal" {
        /// A pedestal urinal, siphon jet or blow-out.
        Pedestal = "pedestal",
        /// A stall in the floor, washed out.
        Stall = "stall",
        /// On the wall, washed out.
        WallWashout = "wall_washout",
        /// Any other on the wall.
        Wall = "wall",
    }
}

words! {
    /// The system by which branches are filled and stacks are divided, where a code knows several.
    SystemType, "a type of system" {
        /// One stack for all, branches filled by half.
        One = "I",
        /// One stack for all, branches filled by more than half.
        Two = "II",
        /// One stack for all, branches filled to the full.
        Three = "III",
        /// Separate stacks for water closets and for the rest.
        Four = "IV",
    }
}

words! {
    /// The shape of a trap.
    TrapKind, "a kind of trap" {
        /// A P-trap.
        P = "p" also "p_trap",
        /// An S-trap.
        S = "s" also "s_trap",
        /// A trap that is part of the fixture.
        Integral = "integral",
        /// A bell trap.
        Bell = "bell",
        /// A drum trap.
        Drum = "drum",
        /// A bottle trap.
        Bottle = "bottle",
        /// A trap vented at its crown.
        CrownVented = "crown_vented",
        /// A trap whose seal needs a moving part.
        MovingPart = "moving_part",
        /// A running trap.
        Running = "running" also "house_trap",
    }
}

words! {
    /// The pattern of a fitting.
    FittingPattern, "a fitting pattern" {
        /// A bend of 90 degrees, short pattern.
        QuarterBend = "quarter_bend" also "elbow" | "ell",
        /// A bend of 90 degrees, wider than a quarter bend.
        ShortSweep = "short_sweep",
        /// A bend of 90 degrees, long radius.
        LongSweep = "long_sweep" also "long_sweep_bend" | "long_turn_elbow",
        /// A bend of 72 degrees.
        FifthBend = "fifth_bend",
        /// A bend of 60 degrees.
        SixthBend = "sixth_bend",
        /// A bend of 45 degrees.
        EighthBend = "eighth_bend",
        /// A bend of 22.5 degrees.
        SixteenthBend = "sixteenth_bend",
        /// A tee whose branch is swept in the direction of flow.
        SanitaryTee = "sanitary_tee" also "san_tee" | "santee",
        /// A sanitary tee with two opposite branches.
        DoubleSanitaryTee = "double_sanitary_tee" also "sanitary_cross",
        /// A fitting for two fixtures back to back.
        DoubleFixtureFitting = "double_fixture_fitting" also "double_fixture" | "fixture_cross",
        /// A branch at 45 degrees.
        Wye = "wye" also "y",
        /// Two branches at 45 degrees.
        DoubleWye = "double_wye" also "double_y",
        /// A wye and an eighth bend in one.
        CombinationWye = "combination_wye" also "combo" | "wye_combo" | "wye_and_eighth_bend" | "combination" | "tee_wye" | "combo_wye",
        /// A combination wye with two branches.
        DoubleCombinationWye = "double_combination_wye",
        /// A plain tee, for vents.
        Tee = "tee",
        /// A tight bend of 90 degrees, for vents.
        VentQuarterBend = "vent_quarter_bend",
        /// A coupling.
        Coupling = "coupling",
        /// A fitting to a smaller size.
        Reducer = "reducer",
        /// A fitting to a larger size.
        Increaser = "increaser",
        /// The bend below a water closet.
        ClosetBend = "closet_bend",
        /// The flange a water closet stands on.
        ClosetFlange = "closet_flange" also "flange" | "toilet_flange",
        /// A trap in the line, other than a fixture's own.
        RunningTrap = "running_trap",
        /// A backwater valve.
        BackwaterValve = "backwater_valve",
    }
}

impl FixtureType {
    /// Whether a file states its load; the load of any other is the rule set's to give.
    #[must_use]
    pub const fn states_load(self) -> bool {
        matches!(self, Self::ConnectedLoad | Self::Other | Self::FloorSink)
    }

    /// Whether it is a sink of some kind; a lavatory is none.
    #[must_use]
    pub const fn is_sink(self) -> bool {
        matches!(
            self,
            Self::CombinationSinkAndTray
                | Self::KitchenSink
                | Self::LaundryTray
                | Self::ServiceSink
                | Self::Sink
                | Self::WashSink
        )
    }

    /// Whether its water carries suds.
    #[must_use]
    pub const fn makes_suds(self) -> bool {
        matches!(
            self,
            Self::Bathtub
                | Self::ClothesWasher
                | Self::CombinationSinkAndTray
                | Self::Dishwasher
                | Self::KitchenSink
                | Self::LaundryTray
        )
    }

    /// The kind of its trap where the fixture is made with one: a water closet's is part of the bowl.
    #[must_use]
    pub const fn made_with(self) -> Option<TrapKind> {
        match self {
            Self::WaterCloset => Some(TrapKind::Integral),
            _ => None,
        }
    }

    /// Whether it has a trap of its own. A connected load's fixtures have theirs elsewhere; a continuous flow has one
    /// where the file states one, as of a condensate drain, and none where it does not, as of a pump.
    #[must_use]
    pub const fn has_trap(self, states_one: bool) -> bool {
        match self {
            Self::ConnectedLoad => false,
            Self::ContinuousFlow => states_one,
            _ => true,
        }
    }
}

impl FittingPattern {
    /// The angle, in whole tenths of a degree, that water turns through when it enters by the branch (of a
    /// wye or tee) or follows the bend; none where the pattern does not turn it.
    #[must_use]
    pub const fn turn_in_tenths(self) -> i64 {
        match self {
            Self::QuarterBend
            | Self::ShortSweep
            | Self::LongSweep
            | Self::VentQuarterBend
            | Self::ClosetBend
            | Self::SanitaryTee
            | Self::DoubleSanitaryTee
            | Self::DoubleFixtureFitting
            | Self::CombinationWye
            | Self::DoubleCombinationWye
            | Self::Tee => 900,
            Self::FifthBend => 720,
            Self::SixthBend => 600,
            Self::EighthBend | Self::Wye | Self::DoubleWye => 450,
            Self::SixteenthBend => 225,
            Self::Coupling
            | Self::Reducer
            | Self::Increaser
            | Self::ClosetFlange
            | Self::RunningTrap
            | Self::BackwaterValve => 0,
        }
    }

    /// How many openings the fitting has, without side or heel inlets: those of its run, and its branches.
    #[must_use]
    pub const fn openings(self) -> usize {
        match self {
            Self::SanitaryTee | Self::Wye | Self::CombinationWye | Self::Tee => 3,
            Self::DoubleSanitaryTee
            | Self::DoubleFixtureFitting
            | Self::DoubleWye
            | Self::DoubleCombinationWye => 4,
            _ => 2,
        }
    }

    /// How many of its openings are left where so many pipes meet at it; none of a fitting without a branch.
    #[must_use]
    pub const fn openings_left(self, pipes: usize) -> Option<usize> {
        if self.has_branch() {
            Some(self.openings().saturating_sub(pipes))
        } else {
            None
        }
    }

    /// Whether the fitting has a branch beside its run, so that what passes straight through does not turn.
    #[must_use]
    pub const fn has_branch(self) -> bool {
        matches!(
            self,
            Self::SanitaryTee
                | Self::DoubleSanitaryTee
                | Self::DoubleFixtureFitting
                | Self::Wye
                | Self::DoubleWye
                | Self::CombinationWye
                | Self::DoubleCombinationWye
                | Self::Tee
        )
    }

    /// Whether the fitting takes two branches, one from either side.
    #[must_use]
    pub const fn has_two_branches(self) -> bool {
        matches!(
            self,
            Self::DoubleSanitaryTee
                | Self::DoubleFixtureFitting
                | Self::DoubleWye
                | Self::DoubleCombinationWye
        )
    }
}

words! {
    /// What a pipe is made of.
    Material, "a pipe material" {
        /// Acrylonitrile butadiene styrene plastic.
        Abs = "abs",
        /// Polyvinyl chloride plastic.
        Pvc = "pvc",
        /// Chlorinated polyvinyl chloride plastic.
        Cpvc = "cpvc",
        /// Polypropylene plastic.
        Polypropylene = "polypropylene",
        /// Cast iron in lengths of 5 feet, hub or hubless.
        CastIron = "cast_iron",
        /// Cast iron in lengths of 10 feet.
        CastIronLong = "cast_iron_long",
        /// Copper or copper-alloy tube.
        CopperTube = "copper_tube",
        /// Copper or copper-alloy pipe.
        CopperPipe = "copper_pipe",
        /// Stainless steel drainage pipe.
        StainlessSteel = "stainless_steel",
        /// Galvanized steel pipe.
        Steel = "steel",
        /// Lead.
        Lead = "lead",
    }
}

impl Material {
    /// Whether the material is a plastic.
    #[must_use]
    pub const fn is_plastic(self) -> bool {
        matches!(self, Self::Abs | Self::Pvc | Self::Cpvc | Self::Polypropylene)
    }
}

words! {
    /// What a pipe carries.
    Role, "a role of pipe" {
        /// Water, toward the point of disposal.
        Drain = "drain",
        /// Air only, toward the open air.
        Vent = "vent",
    }
}

words! {
    /// What a run of pipe is to the building.
    RunKind, "a kind of run" {
        /// A drain that is none of the others: fixture drain, fixture branch, horizontal branch.
        Branch = "branch" also "horizontal_branch" | "fixture_branch",
        /// A vertical drain through storeys, with its offsets.
        Stack = "stack" also "soil_stack" | "waste_stack" | "drainage_stack",
        /// The lowest drain inside the building, which takes the stacks.
        BuildingDrain = "building_drain" also "house_drain",
        /// The drain outside, from the building drain on.
        BuildingSewer = "building_sewer" also "house_sewer",
        /// A vent that is neither a stack vent nor a vent stack.
        BranchVent = "branch_vent",
        /// The dry extension of a stack above its highest drain connection.
        StackVent = "stack_vent",
        /// A vertical vent that runs beside a stack.
        VentStack = "vent_stack",
    }
}

impl RunKind {
    /// What pipes of this kind carry.
    #[must_use]
    pub const fn role(self) -> Role {
        match self {
            Self::Branch | Self::Stack | Self::BuildingDrain | Self::BuildingSewer => Role::Drain,
            Self::BranchVent | Self::StackVent | Self::VentStack => Role::Vent,
        }
    }
}

words! {
    /// How a pipe lies, by the rule set's own definition of vertical.
    Orientation, "an orientation" {
        /// Near enough to plumb.
        Vertical = "vertical",
        /// Everything else.
        Horizontal = "horizontal",
    }
}

words! {
    /// How the flow changes its direction at a fitting.
    Direction, "a change of direction" {
        /// From a horizontal pipe into a vertical one.
        HorizontalToVertical = "horizontal_to_vertical",
        /// From a vertical pipe into a horizontal one.
        VerticalToHorizontal = "vertical_to_horizontal",
        /// Between two horizontal pipes.
        HorizontalToHorizontal = "horizontal_to_horizontal",
        /// Between two vertical pipes.
        VerticalToVertical = "vertical_to_vertical",
    }
}

words! {
    /// By which opening a pipe enters a fitting.
    Inlet, "an inlet of a fitting" {
        /// The run, straight through.
        Run = "run",
        /// The branch at the side.
        Branch = "branch",
    }
}

words! {
    /// The shape in the graph by which a trap may be protected.
    Pattern, "a shape of trap protection" {
        /// One trap, and a dry vent on its own drain.
        Individual = "individual",
        /// Two or more traps whose drains meet at, or upstream of, one dry vent.
        Common = "common",
        /// A vertical drain with its vent at the top, and a second trap that joins it lower down.
        CommonLevels = "common_levels",
        /// A horizontal drain that also brings air from a dry vent upstream.
        WetHorizontal = "wet_horizontal",
        /// A vertical drain that also brings air from a dry vent above.
        WetVertical = "wet_vertical",
        /// A horizontal branch that takes several drains below a dry vent of its own.
        Circuit = "circuit",
        /// A drain that meets, without a vent before it, a stack with a stack vent, whatever that stack takes.
        Stack = "stack" also "single_stack" | "waste_stack",
        /// A drain beyond the fixture's own that carries water below and air above.
        Combination = "combination",
        /// A dry vent that turns down again and drains back before it goes on to open air.
        Island = "island",
        /// No vent is reached before the drain joins one that brings no air.
        None = "none",
    }
}

words! {
    /// Where a drain's water goes next, or where it ends.
    Receiver, "a receiving drain" {
        /// A stack.
        Stack = "stack",
        /// The building drain or the building sewer.
        BuildingDrain = "building_drain",
        /// The point of disposal itself.
        Disposal = "disposal",
    }
}

words! {
    /// What a vent terminal passes through.
    Through, "what a terminal passes through" {
        /// The roof.
        Roof = "roof",
        /// An outside wall.
        Wall = "wall",
    }
}

words! {
    /// What a roof is used for.
    RoofUse, "a use of a roof" {
        /// Keeping the weather out.
        Weather = "weather",
        /// People: a deck, a terrace, a sun roof.
        Occupied = "occupied",
    }
}

words! {
    /// What an air admittance valve serves.
    ValveKind, "a kind of air admittance valve" {
        /// One trap, or a branch of several.
        Branch = "branch",
        /// A whole stack.
        Stack = "stack",
    }
}

words! {
    /// Where a vent ends.
    VentEnd, "an end of a vent" {
        /// In open air.
        OpenAir = "open_air",
        /// At an air admittance valve for a trap or a branch.
        BranchValve = "branch_valve",
        /// At an air admittance valve for a stack.
        StackValve = "stack_valve",
    }
}

words! {
    /// What a test is made with.
    TestMedium, "a test medium" {
        /// Water.
        Water = "water",
        /// Compressed air.
        Air = "air",
        /// A vacuum.
        Vacuum = "vacuum",
        /// Smoke.
        Smoke = "smoke",
    }
}

words! {
    /// A kind of framing member.
    MemberKind, "a framing member" {
        /// A floor or ceiling joist.
        Joist = "joist",
        /// A rafter.
        Rafter = "rafter",
        /// A stud of a wall.
        Stud = "stud",
        /// The plate, single or doubled, on top of a wall's studs.
        TopPlate = "top_plate",
        /// The plate that a wall's studs stand on.
        SolePlate = "sole_plate" also "bottom_plate" | "base_plate",
    }
}

words! {
    /// What a framing member is made as.
    MemberMake, "a make of framing member" {
        /// Sawn lumber.
        Sawn = "sawn",
        /// A wood I-joist: two flanges and a web.
        IJoist = "i_joist",
        /// Glued of layers or strips, such as laminated veneer lumber.
        Laminated = "laminated",
        /// A truss: two chords, with open spaces between its webs.
        Truss = "truss",
    }
}

words! {
    /// How a framing member is cut for a pipe.
    Cut, "a cut for a pipe" {
        /// A round hole.
        Bored = "bored" also "drilled" | "hole",
        /// A notch between the ends of the member.
        Notched = "notched",
        /// A notch at the member's end, over its bearing.
        EndNotched = "end_notched",
        /// The pipe passes between chords and webs, and nothing is cut.
        Uncut = "uncut",
    }
}

words! {
    /// How members lie in plan.
    MemberRuns, "the way that members run" {
        /// From east to west.
        EastWest = "east_west",
        /// From north to south.
        NorthSouth = "north_south",
    }
}

words! {
    /// An edge of a joist or rafter.
    MemberEdge, "an edge of a member" {
        /// The upper edge.
        Top = "top",
        /// The lower edge, which is in tension between bearings.
        Bottom = "bottom",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_leads_back_to_its_word() {
        for word in FixtureType::ALL {
            assert_eq!(word.name().parse(), Ok(*word));
        }
        for word in FittingPattern::ALL {
            assert_eq!(word.name().parse(), Ok(*word));
        }
        assert_eq!(FixtureType::ALL.len(), FixtureType::NAMES.len());
    }

    #[test]
    fn another_name_is_told_and_not_read() {
        for (written, meant) in [
            ("toilet", FixtureType::WaterCloset),
            ("WC", FixtureType::WaterCloset),
            ("Wash Basin", FixtureType::Lavatory),
            ("kitchen-sink", FixtureType::KitchenSink),
            ("commode", FixtureType::WaterCloset),
        ] {
            let unknown = written
                .parse::<FixtureType>()
                .map_err(|unknown| unknown.to_string());
            assert_eq!(unknown, Err(format!("`{written}` is not the name of a fixture")));
            assert_eq!(FixtureType::meant(written), Some(meant));
        }
        assert_eq!(FixtureType::meant("boiler"), None);
        assert_eq!(Occupancy::meant("residential"), Some(Occupancy::Private));
        assert_eq!(Material::meant("PVC"), Some(Material::Pvc));
        assert_eq!(MemberKind::meant("bottom plate"), Some(MemberKind::SolePlate));
        assert_eq!(Cut::meant("drilled"), Some(Cut::Bored));
        assert_eq!(
            FittingPattern::meant("san tee"),
            Some(FittingPattern::SanitaryTee)
        );
    }
}
