//! The catalogue of facts: everything that can be measured on a network, with its dimension, the family it
//! belongs to and how it is measured. Loading checks rules against it, evaluation fills it, documentation
//! prints it; none of them keeps a list of its own.

use crownweir_vocabulary::{
    BuildingUse, Cut, Direction, FittingPattern, FixtureType, FlushKind, Inlet, Material, MemberEdge,
    MemberKind, MemberMake, Occupancy, Orientation, Pattern, Receiver, Role, RoofUse, RunKind, SystemType,
    TestMedium, Through, TrapKind, UnknownWord, UrinalKind, ValveKind, VentEnd,
};

use crate::value::Dimension;

/// What facts are about. A fact's name begins with its family's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Family {
    /// A fixture.
    Fixture,
    /// A fixture's trap.
    Trap,
    /// The drain from a trap's weir to its vent.
    TrapArm,
    /// How a trap is protected.
    Protection,
    /// The branch below a dry vent that takes several traps.
    Circuit,
    /// The drain with air above its water that a trap's fixture drain leads into.
    Combination,
    /// The loop by which an island's trap is vented.
    Island,
    /// A drain or vent pipe.
    Pipe,
    /// A drain pipe.
    Drain,
    /// A vent pipe.
    Vent,
    /// The way of one pipe's water through a fitting.
    Turn,
    /// A fitting.
    Fitting,
    /// A cleanout.
    Cleanout,
    /// A vent terminal.
    Terminal,
    /// An air admittance valve.
    Valve,
    /// A stack.
    Stack,
    /// A branch interval of a stack.
    Interval,
    /// Where a pipe passes a framing member.
    Passage,
    /// A test.
    Test,
    /// The whole network.
    System,
}

macro_rules! facts {
    ($($family:ident { $($fact:ident $name:literal $dimension:expr, $measured:literal;)* })*) => {
        /// Something that can be measured on a network.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum Fact { $($(#[doc = $measured] $fact,)*)* }

        impl Fact {
            /// Every fact, family by family.
            pub const ALL: &'static [Self] = &[$($(Self::$fact,)*)*];
            /// Every fact's name, in the same order.
            pub const NAMES: &'static [&'static str] = &[$($($name,)*)*];

            /// The name in rule files.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $($(Self::$fact => $name,)*)* }
            }

            /// What kind of thing it is.
            #[must_use]
            pub const fn dimension(self) -> Dimension {
                match self { $($(Self::$fact => $dimension,)*)* }
            }

            /// What it is about.
            #[must_use]
            #[inline]
            pub const fn family(self) -> Family {
                match self { $($(Self::$fact => Family::$family,)*)* }
            }

            /// How it is measured.
            #[must_use]
            pub const fn measured(self) -> &'static str {
                match self { $($(Self::$fact => $measured,)*)* }
            }
        }

        /// By the name in rule files.
        impl std::str::FromStr for Fact {
            type Err = UnknownWord;
            fn from_str(name: &str) -> Result<Self, UnknownWord> {
                match name {
                    $($($name => Ok(Self::$fact),)*)*
                    _ => Err(UnknownWord { name: name.to_owned(), what: "a fact" }),
                }
            }
        }
    };
}

macro_rules! subjects {
    ($(#[doc = $doc:literal] $subject:ident $name:literal [$($family:ident),*],)*) => {
        /// What a rule speaks about.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum Subject { $(#[doc = $doc] $subject,)* }

        impl Subject {
            /// Every subject.
            pub const ALL: &'static [Self] = &[$(Self::$subject,)*];
            /// Every subject's name, in the same order.
            pub const NAMES: &'static [&'static str] = &[$($name,)*];

            /// The name in rule files.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$subject => $name,)* }
            }

            /// Whether a rule with this subject can speak of a family's facts.
            #[must_use]
            pub const fn sees(self, family: Family) -> bool {
                match self { $(Self::$subject => matches!(family, $(Family::$family)|*),)* }
            }
        }

        /// By the name in rule files.
        impl std::str::FromStr for Subject {
            type Err = UnknownWord;
            fn from_str(name: &str) -> Result<Self, UnknownWord> {
                match name {
                    $($name => Ok(Self::$subject),)*
                    _ => Err(UnknownWord { name: name.to_owned(), what: "a subject" }),
                }
            }
        }

        #[cfg(feature = "schema")]
        impl schemars::JsonSchema for Subject {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                "subject".into()
            }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                crownweir_vocabulary::schema::words("What a rule speaks about.", &[$(($name, $doc)),*])
            }
        }
    };
}

use Dimension::{
    Angle, Count, Flow, Length, Load, Period, Ratio, Size, Slope, Temperature, Truth, Velocity, Volume, Word,
};

facts! {
    Fixture {
        FixtureKind "fixture.type" Word(FixtureType::NAMES), "What the fixture is.";
        FixtureOccupancy "fixture.occupancy" Word(Occupancy::NAMES), "Who uses it, stated for the fixture or the site.";
        FixtureFlushVolume "fixture.flush_volume" Volume, "Volume of one flush.";
        FixtureFlow "fixture.flow" Flow, "Rate of discharge: of a shower's heads together, of a pump, of equipment.";
        FixtureLoad "fixture.load" Load, "Its load by the rule set, or as stated.";
        FixturePumped "fixture.pumped" Truth, "Whether a pump discharges into it, or it is one.";
        FixtureStandpipeHeight "fixture.standpipe_height" Length, "Height of its standpipe above the trap weir.";
        FixtureGroupComplete "fixture.group_complete" Truth, "Whether the fixtures that the file puts into one bathroom group with it make up a group by the definition; absent where it belongs to none. A message names the group, with what it lacks or has too many.";
        FixtureReceivingSize "fixture.receiving_size" Size, "Size of the first drain downstream that carries more than this fixture, or is not a branch.";
        FixtureFlush "fixture.flush" Word(FlushKind::NAMES), "By what a flush is let go: a tank or a valve.";
        FixtureUrinal "fixture.urinal" Word(UrinalKind::NAMES), "Shape of a urinal.";
        FixtureHeads "fixture.heads" Count, "Shower heads that discharge to it.";
        FixtureCompartments "fixture.compartments" Count, "Compartments of a sink or tray that drain to its trap; one where the file does not say.";
        FixtureAcidWaste "fixture.acid_waste" Truth, "Whether the file says that its water is acid or otherwise corrosive.";
        FixtureDrainLength "fixture.drain_length" Length, "Developed length from its trap to the first drain that carries more than this fixture, or is not a branch.";
        FixtureDrainFall "fixture.drain_fall" Length, "Fall over that length.";
        FixtureAlike "fixture.alike_on_branch" Count, "Fixtures of its type on its storey that discharge to a stack or building drain by the same branch, this one among them.";
    }
    Trap {
        TrapSize "trap.size" Size, "Nominal size of the trap.";
        TrapSeal "trap.seal" Length, "Depth of water that the trap holds between its dip and its weir.";
        TrapShape "trap.kind" Word(TrapKind::NAMES), "Shape of the trap.";
        TrapOutletDrop "trap.outlet_drop" Length, "Vertical distance from the fixture's outlet to the trap weir.";
        TrapOutletOffset "trap.outlet_offset" Length, "Horizontal distance from the fixture's outlet to the trap's inlet, centre to centre.";
        TrapFurtherTraps "trap.further_traps" Count, "Traps that the water meets after this one before the point of disposal.";
        TrapDrainSize "trap.drain_size" Size, "Size of the pipe that the trap discharges into.";
        TrapHeight "trap.height" Length, "Height of the trap weir above the floor of its storey.";
        TrapOutletPipe "trap.outlet_pipe" Length, "Developed length of the pipe from the fixture's outlet to the trap: the drop and the offset together.";
        TrapBranchLength "trap.branch_length" Length, "Developed length from the trap weir down its branch to the stack or building drain.";
        TrapBranchDrop "trap.branch_drop" Length, "Height that the vertical pipes in that branch come down by, the fixture's own first pipe among them.";
        TrapBranchTurn "trap.branch_turn" Angle, "Sum of the angles turned by bends in that branch, the first fitting below the fixture left out.";
        TrapBranchVented "trap.branch_vented" Truth, "Whether a vent leaves that branch before its end, on the trap's own way or on a drain that joins it.";
        TrapReceiver "trap.discharges_to" Word(Receiver::NAMES), "The first stack, building drain or point of disposal that its water comes to.";
    }
    TrapArm {
        TrapArmLength "trap_arm.length" Length, "Developed length from the trap weir to the fitting where the vent, or the wet vent, is met.";
        TrapArmFromFlange "trap_arm.length_from_flange" Length, "Developed length from the first fitting on the drain that is stated to be a closet flange, before water of another fixture comes to it, to that end; where there is none, from the trap weir.";
        TrapArmFall "trap_arm.fall" Length, "Fall over that length.";
        TrapArmSize "trap_arm.size" Size, "Smallest size of pipe in it.";
        TrapArmEndsAtDryVent "trap_arm.ends_at_dry_vent" Truth, "Whether a dry vent stands at its end, rather than a wet vent.";
        TrapArmTurn "trap_arm.turn" Angle, "Sum of the angles that the bends in it turn through; the branch of a wye or tee is not counted, nor is the fitting at its end.";
        TrapArmHorizontalLength "trap_arm.horizontal_length" Length, "Developed length of its horizontal pipes, and how far those that stand aslant lead aside.";
        TrapArmSteepest "trap_arm.steepest_slope" Slope, "Steepest slope of the horizontal drains in it.";
        TrapArmGentlest "trap_arm.least_slope" Slope, "Least slope of the horizontal drains in it.";
        TrapArmSmallest "trap_arm.smallest_size" Size, "Smallest size of the drains from the trap to its end.";
        TrapArmBends "trap_arm.bends" Count, "Fittings in it that turn the water sharply, by the rule set's definition, the joint at its end left out.";
        TrapArmDrop "trap_arm.drop" Length, "Height that the vertical drains in it come down by.";
        TrapArmHorizontalTurn "trap_arm.horizontal_turn" Angle, "Sum of the horizontal changes of direction in it, those at its two ends not among them; absent where a cleanout stands in it.";
        TrapArmOnwardSize "trap_arm.onward_size" Size, "Size of the drain that leads on from its end.";
    }
    Protection {
        ProtectionPattern "protection.pattern" Word(Pattern::NAMES), "The shape by which air reaches the trap.";
        ProtectionTurnsDown "protection.turns_down" Truth, "Whether the drain turns vertical before it meets a vent.";
        ProtectionFixturesAtVent "protection.fixtures_at_vent" Count, "Traps whose drains meet no vent before the one that stands where this one's air comes from.";
        ProtectionFixturesOnDrain "protection.fixtures_on_drain" Count, "Fixtures that share the drain by which this one reaches its vent or wet vent.";
        ProtectionSameStorey "protection.same_storey" Truth, "Whether the fixtures that share the vent, or the vented fixtures of the building drain that gives the air, are all on one storey with it.";
        ProtectionUpperFixture "protection.upper_fixture" Word(FixtureType::NAMES), "The fixture whose drain joins the vertical pipe above.";
        ProtectionStraightDown "protection.straight_down" Truth, "Whether every pipe between the dry vent and this connection is vertical.";
        ProtectionUpperClosets "protection.upper_water_closets" Count, "Water closets upstream on the pipe that brings the air.";
        ProtectionUpperLoad "protection.upper_load" Load, "Load that the pipe between vent and connection carries past this trap.";
        ProtectionUpperSize "protection.upper_size" Size, "Size of the pipe that brings the air, where it arrives.";
        ProtectionGroups "protection.bathroom_groups" Count, "The fewest bathroom groups that hold the fixtures of the wet vent.";
        ProtectionOutsiders "protection.fixtures_outside_groups" Count, "Fixtures on the wet vent that belong to no bathroom group.";
        ProtectionVentFixture "protection.dry_vent_fixture" Word(FixtureType::NAMES), "The type of the fixtures that discharge where the dry vent of a wet vent stands; absent where they are of several.";
        ProtectionUpperHeaviest "protection.upper_heaviest" Load, "Largest load of one fixture upstream on the pipe that brings the air.";
        ProtectionWetLength "protection.wet_length" Length, "Developed length of the drain that brings the air, from the dry vent to this connection.";
        ProtectionFixturesServed "protection.fixtures_served" Count, "Fixtures whose water reaches this connection, this one among them.";
        ProtectionVentFixtures "protection.dry_vent_fixtures" Count, "Traps that the dry vent of a wet vent serves at its own connection: those of one fixture, or of a common vent.";
        ProtectionClosetsOnVent "protection.closets_on_vent" Count, "Water closets that get their air from the same dry vent, each through a drain.";
        ProtectionBy "protection.arrangement" Word(Pattern::NAMES), "The shape of the arrangement that protects the trap, `none` where none does. An arrangement's own conditions cannot ask for it.";
        ProtectionJoins "protection.joins" Word(Orientation::NAMES), "How the drain lies by which the trap's water reaches its vent, wet vent or stack.";
        ProtectionLevel "protection.stays_horizontal" Truth, "Whether every pipe between the dry vent and this connection is horizontal; absent where the dry vent stands at the connection.";
        ProtectionDrainLoad "protection.drain_load" Load, "Load of the drain by which the trap's water reaches its vent, wet vent or stack, each fixture at its own value.";
        ProtectionDrainSize "protection.drain_size" Size, "Size of that drain where it arrives.";
        ProtectionVentEnd "protection.vent_ends_in" Word(VentEnd::NAMES), "Where the vent ends that stands where the trap's air comes from.";
    }
    Circuit {
        CircuitFixtures "circuit.fixtures" Count, "Traps that depend on the branch's dry vent: those that meet it first, and those whose drains join below it.";
        CircuitTypes "circuit.fixture_types" Count, "How many types of fixture these are.";
        CircuitAbove "circuit.fixtures_above_vent" Count, "Those of them that meet the dry vent first, or the foot of the vertical drain below it from upstream.";
        CircuitJoints "circuit.drains_at_vent" Count, "Drains that enter the fitting where the dry vent stands, or the foot of the vertical drain below it beside that drain; more than one where it stands at a joint rather than between two.";
        CircuitLevel "circuit.stays_horizontal" Truth, "Whether every drain from the dry vent to the lowest joint is horizontal.";
        CircuitLevelBelow "circuit.stays_horizontal_below" Truth, "Whether every drain is, from there or, where the dry vent stands on a vertical drain above the branch, from that drain's foot.";
        CircuitSteepest "circuit.steepest_slope" Slope, "Steepest slope of the branch from the highest joint to the lowest.";
        CircuitGentlest "circuit.least_slope" Slope, "Least slope of that part.";
        CircuitSmallest "circuit.smallest_size" Size, "Smallest size of that part.";
        CircuitLargest "circuit.largest_size" Size, "Largest size of that part.";
        CircuitLoad "circuit.load" Load, "Load of the branch below the lowest joint.";
        CircuitClosets "circuit.water_closets" Count, "Water closets that the branch takes, down to the lowest joint.";
        CircuitStackFromAbove "circuit.stack_takes_from_above" Truth, "Whether the branch discharges to a stack that brings water from above.";
        CircuitRelief "circuit.relief_load" Load, "Load of what relieves the branch between the lowest joint and the stack: none of a dry vent to open air, of a vented drain that joins there its own; absent where nothing does.";
        CircuitReliefSize "circuit.relief_size" Size, "Size of the dry vent that relieves it there, the largest of several; absent where none does.";
        CircuitVentSize "circuit.vent_size" Size, "Size of the branch's dry vent where it leaves the branch, the largest of several.";
        CircuitStacks "circuit.stacks_above" Count, "Stacks whose water the branch takes, down to the lowest joint.";
        CircuitSameStorey "circuit.same_storey" Truth, "Whether the fixtures are all on one storey whose water the branch takes by where it first drops below the lowest joint, a stack joins it, or it ends.";
        CircuitTurn "circuit.turn" Angle, "Sum of the horizontal changes of direction of the branch from its dry vent to the next vent, or vented drain that joins, below the lowest joint; to that joint where there is none.";
        CircuitSmallestArm "circuit.smallest_fixture_drain" Size, "Smallest size among the drains of the fixtures that depend on the dry vent.";
        CircuitLargestArm "circuit.largest_fixture_drain" Size, "Largest size among them.";
        CircuitRiserFixtures "circuit.riser_fixtures" Count, "Fixtures on the vertical drain below the dry vent; none where the vent stands on the branch itself.";
        CircuitRiserHeaviest "circuit.riser_heaviest" Load, "Largest load of one of them.";
        CircuitRiserPattern "circuit.riser_pattern" Word(FittingPattern::NAMES), "Pattern of the fitting from which the dry vent rises on such a drain; absent where there is none.";
        CircuitRiserSize "circuit.riser_size" Size, "Size of such a drain at its foot; absent where there is none.";
    }
    Combination {
        CombinationArm "combination.fixture_drain_length" Length, "Developed length from the trap weir to where the drain is joined, is enlarged, drops or joins the building drain.";
        CombinationDrop "combination.drop" Length, "Length of the vertical drain between that and the horizontal one.";
        CombinationDropSlope "combination.drop_slope" Slope, "Steepest slope of that vertical drain; absent where there is none.";
        CombinationDropSize "combination.drop_size" Size, "Smallest size of that vertical drain; absent where there is none.";
        CombinationSteepest "combination.steepest_slope" Slope, "Steepest slope from there to where the drain meets a stack, the building drain, a vertical drain, or a drain of vented fixtures.";
        CombinationSmallest "combination.smallest_size" Size, "Smallest size of that part.";
        CombinationLoad "combination.load" Load, "Load of its last drain, each fixture at its own value.";
        CombinationVented "combination.vented" Truth, "Whether a dry vent stands on it, or it joins a horizontal drain that brings air, or a building drain to which branches bring vented fixtures.";
        CombinationProtects "combination.protects_traps" Truth, "Whether its last drain is part of a combination drain and vent that protects a trap, this one or another. An arrangement's own conditions cannot ask for it.";
        CombinationVentSize "combination.vent_size" Size, "Size of the dry vent that its air comes from, where that leaves the drains, the largest of several.";
        CombinationVentedSize "combination.vented_drain_size" Size, "Largest size among the drains where that vent stands.";
        CombinationVentCleanouts "combination.vent_cleanouts" Count, "Cleanouts on that vent, up to where it joins another or ends.";
    }
    Island {
        IslandTurn "island.turn_above_outlet" Length, "Height above the fixture's outlet at which the vent first turns from plumb.";
        IslandTop "island.rise_above_rim" Length, "Height above the highest flood level rim served that the vent from the foot reaches by where it joins another.";
        IslandVentSize "island.vent_size" Size, "Size of the vent that comes down to the foot.";
        IslandReturnSize "island.return_size" Size, "Size of the drain that leads back from the foot.";
        IslandReturnJoins "island.return_joins" Word(Orientation::NAMES), "How the drain lies that it joins.";
        IslandReturnFitting "island.return_fitting" Word(FittingPattern::NAMES), "Pattern of the fitting where it joins.";
        IslandReturnFixtures "island.fixtures_at_return" Count, "Fixtures whose water reaches that fitting.";
        IslandFootSlope "island.foot_vent_slope" Slope, "Least slope of the horizontal vents from the foot to where the vent first stands upright or joins another; absent where there is none.";
        IslandReturnArrives "island.return_arrives" Word(Orientation::NAMES), "How it lies itself where it joins.";
        IslandReturnBelow "island.return_downstream" Truth, "Whether it joins the fixture's own drain, below where the vent leaves that.";
        IslandCleanouts "island.cleanouts" Count, "Cleanouts on the loop and on the vent from its foot, to where that joins another.";
    }
    Pipe {
        PipeRole "pipe.role" Word(Role::NAMES), "Drain or vent.";
        PipeKind "pipe.kind" Word(RunKind::NAMES), "What the run that the pipe belongs to is to the building. Where a trap stands at the head of a stack or building drain, the drains from it to the first node where a vent or another drain joins, or where a stack first drops, are branches.";
        PipeSize "pipe.size" Size, "Nominal size.";
        PipeLength "pipe.length" Length, "Developed length along the centre line.";
        PipeSlope "pipe.slope" Slope, "Fall over length of a drain, rise over length of a vent.";
        PipeOrientation "pipe.orientation" Word(Orientation::NAMES), "Vertical or horizontal, by the rule set's definition.";
        PipeMaterial "pipe.material" Word(Material::NAMES), "Material.";
        PipeSupportSpacing "pipe.support_spacing" Length, "Distance between supports.";
        PipeMidStoreyGuide "pipe.mid_storey_guide" Truth, "Whether a vertical pipe is held sideways half-way up the storey.";
        PipeUnderground "pipe.underground" Truth, "Whether the file says that it lies in the ground.";
    }
    Drain {
        DrainLoad "drain.load" Load, "Load of all fixtures upstream, whole bathroom groups at their group value.";
        DrainFixtures "drain.fixtures" Count, "Fixtures upstream.";
        DrainWaterClosets "drain.water_closets" Count, "Water closets upstream.";
        DrainSinks "drain.sinks" Count, "Sinks of any kind upstream: kitchen and bar sinks, laundry trays, service, wash and other sinks; lavatories are none.";
        DrainUrinals "drain.urinals" Count, "Urinals upstream.";
        DrainClothesWashers "drain.clothes_washers" Count, "Clothes washers upstream.";
        DrainLargestTrap "drain.largest_trap" Size, "Largest trap among the fixtures upstream, water closets among them; absent where none has one.";
        DrainLargestTraps "drain.largest_traps" Count, "Fixtures upstream whose trap is of that size.";
        DrainInTrapArm "drain.in_trap_arm" Truth, "Whether it lies between a trap and its vent and carries that fixture alone.";
        DrainReceiver "drain.discharges_to" Word(Receiver::NAMES), "The first stack, building drain or point of disposal downstream of a branch; of other drains, what they are.";
        DrainLargestInlet "drain.largest_inlet_size" Size, "Largest size among the drains that discharge into it directly.";
        DrainInletFitting "drain.inlet_fitting" Word(FittingPattern::NAMES), "Pattern of the fitting at its upper end.";
        DrainRises "drain.rises" Truth, "Whether it leads up to a higher storey, other than from a pump; no where the heights of its ends say otherwise, and absent where the storey of an end is not stated.";
        DrainAboveLowestFloor "drain.above_lowest_floor" Truth, "Whether its upper end lies above the floor of the lowest storey. Where its height is not stated, one of a higher storey does.";
        DrainPumped "drain.pumped" Truth, "Whether it carries nothing but what a fixture discharges that says it is pumped and has no trap.";
        DrainDeadEnd "drain.dead_end" Truth, "Whether its upper end is closed: no fixture and no cleanout stands there, and no pipe comes or goes there beside it.";
        DrainIsWetVent "drain.is_wet_vent" Truth, "Whether a trap downstream or at its end gets its air through it.";
        DrainOffsetIntervals "drain.offset_intervals_above" Count, "Of a horizontal piece of a stack that goes down again further on: the branch intervals above it; absent elsewhere.";
        DrainOffsetAbove "drain.offset_vented_above" Truth, "Of a horizontal piece of a stack that goes down again further on: whether a vent relieves the stack between the lowest joint above it and itself.";
        DrainOffsetBelow "drain.offset_vented_below" Truth, "Of a horizontal piece of a stack that goes down again further on: whether a vent relieves the stack between itself and the next joint below, or at that.";
        DrainIsCircuit "drain.is_circuit" Truth, "Whether it is part of a circuit-vented branch that protects a trap.";
        DrainIsCombination "drain.is_combination" Truth, "Whether it is part of a combination drain and vent that protects a trap.";
        DrainWetLoad "drain.wet_load" Load, "Load of the fixtures upstream, each at its own value.";
        DrainCleanoutDistance "drain.cleanout_distance" Length, "Developed length from its lower end straight up the run to the nearest cleanout, removable trap, or upper end of horizontal drain.";
        DrainBaseDistance "drain.stack_base_distance" Length, "Where a branch, or another stack, joins a horizontal drain below the base of a stack, be it the building drain, an offset or a branch: developed length down from the nearest such base to the joint.";
        DrainBaseStackSize "drain.stack_base_size" Size, "Size of the stack where it comes down to that base.";
        DrainBaseStackLoad "drain.stack_base_load" Load, "Load of the stack at that base.";
        DrainBaseStackIntervals "drain.stack_base_intervals" Count, "Branch intervals of the stack above that base.";
        DrainVentsTraps "drain.vents_traps" Count, "Traps further down that get their air through it, whatever they belong to and however it lies.";
        DrainVentsCloset "drain.vents_water_closet" Truth, "Whether a water closet is among them.";
        DrainLoadWithoutClosets "drain.load_without_closets" Load, "Load of the fixtures upstream, each at its own value, water closets left out.";
        DrainSeparateLoad "drain.separate_load" Load, "Where traps get their air through it: load of the fixtures upstream whose air comes from another dry vent than theirs, each at its own value; absent elsewhere.";
        DrainSeparateInterval "drain.separate_load_of_interval" Load, "Where traps get their air through a stack's drain: of that load, what enters the stack within the branch interval of the nearest joint above; absent elsewhere.";
        DrainOffsetLength "drain.offset_length" Length, "Of a stack's horizontal offset: developed length of all its pipes; absent elsewhere.";
        DrainOffsetInlets "drain.offset_inlets" Count, "Of a stack's horizontal offset: drains that join between its ends; absent elsewhere.";
        DrainVented "drain.vented" Truth, "Whether a vent leaves the branch that it is part of, anywhere upstream of the last drain before the stack or building drain.";
        DrainProbableFlow "drain.probable_flow" Flow, "Probable peak flow by the rule set's load model.";
        DrainDepthRatio "drain.depth_ratio" Ratio, "Depth of that flow over the bore, by the rule set's hydraulics; absent in a vertical drain and where the drain cannot carry the flow.";
        DrainVelocity "drain.velocity" Velocity, "Mean velocity of that flow; absent likewise.";
        DrainCapacityFlow "drain.capacity_flow" Flow, "Flow when filled to the filling degree that the rule set's hydraulics allow; absent in a vertical drain.";
        DrainVelocityAtFilling "drain.velocity_at_filling" Velocity, "Mean velocity when filled to that degree, to be held against the one that keeps a drain clean; absent likewise.";
        DrainVerticalLength "drain.vertical_length" Length, "Developed length of the unbroken vertical pipe of its size that it is part of, on its longest way; absent where it is horizontal.";
        DrainHorizontalRun "drain.horizontal_run" Length, "Where a horizontal drain begins, trap arms left out: developed length from there to where it turns vertical or joins what comes straight through from the side; absent elsewhere.";
        DrainOpensAbove "drain.opens_at_upper_end" Truth, "Whether a cleanout stands at its upper end, enters the fitting there by a branch, stands on vertical pipe that falls into it, or on or behind a trap arm that comes straight through to it.";
        DrainHorizontalTurn "drain.horizontal_turn" Angle, "Sum of the horizontal changes of direction from the last cleanout, or from where the horizontal drain begins, to its upper end; trap arms left out.";
        DrainTurnDistance "drain.stack_turn_distance" Length, "Where a branch joins a stack or the building drain: developed length between the joint and the nearest turn of a stack from vertical to horizontal, up or down; absent elsewhere.";
        DrainTurnSuds "drain.stack_turn_suds" Count, "Fixtures on the stack above that turn whose water carries suds: bathtubs, clothes washers, dishwashers, kitchen sinks, laundry trays.";
        DrainTurnStoreys "drain.stack_turn_storeys" Count, "Storeys from the lowest to the highest of the fixtures on the stack above that turn, both counted.";
        DrainOnwardSize "drain.onward_size" Size, "Size of the drain that leads on from its lower end; absent at the point of disposal.";
        DrainOnwardVents "drain.onward_protects_traps" Count, "Traps further down that are protected by air which comes through the drain that leads on from its lower end.";
        DrainEmergencyJoints "drain.emergency_floor_drains_joining" Count, "Emergency floor drains whose own drains join at its lower end.";
        DrainReliefSmallest "drain.relief_smallest_size" Size, "Where it is the vented drain that relieves a circuit-vented branch: smallest size of the drains from its dry vent to there; absent elsewhere.";
        DrainRelievedSize "drain.relieved_circuit_vent_size" Size, "Where it is the vented drain that relieves a circuit-vented branch: size of the branch's dry vent; absent elsewhere.";
        DrainOffsetReliefSize "drain.offset_relief_size" Size, "Of a horizontal piece of a stack that goes down again further on: the smaller of the vents that relieve it above and below, of several on one side the largest; absent where neither does.";
        DrainBendAhead "drain.bend_ahead" Length, "Where it joins another drain from the side: developed length on from the joint, along the drain joined, to where that next turns its water sharply into a horizontal drain, be it at its own end, by the rule set's definition; absent elsewhere.";
        DrainBendAheadWashers "drain.bend_ahead_washers" Count, "Clothes washers whose water comes to that turn.";
        DrainBendBehind "drain.bend_behind" Length, "Where it joins another drain from the side: developed length back from the joint, up the drain joined, to where its water last turned sharply into a horizontal drain, or water of clothes washers came into it from the side with such a turn, by the rule set's definition; absent elsewhere.";
        DrainBendBehindWashers "drain.bend_behind_washers" Count, "Clothes washers whose water came to that turn.";
    }
    Vent {
        VentServedLoad "vent.served_load" Load, "Load of the drains that the vent serves, and those that join it: of a wet vent, the whole wet-vented system. Each fixture counts once, by however many of these vents it is served, and a whole bathroom group at its group value where all of it is served.";
        VentServesWaterCloset "vent.serves_water_closet" Truth, "Whether a water closet is among the fixtures served.";
        VentServedSize "vent.served_size" Size, "Largest size among the drains where the vent connects.";
        VentDevelopedLength "vent.developed_length" Length, "From the farthest drain connection that feeds it to where the vent ends by the rule set's definition.";
        VentHorizontalLength "vent.horizontal_length" Length, "Sum of the horizontal pipes from the drain connection for which it is greatest to where the vent ends by the rule set's definition.";
        VentLengthToAir "vent.length_to_air" Length, "From the farthest connection of its own run to the open air.";
        VentRiseAboveRim "vent.height_above_rim" Length, "Height of its lower end above the highest flood level rim among the fixtures served.";
        VentJointAboveRim "vent.joint_height_above_rim" Length, "Height of its upper end above the highest flood level rim among the fixtures served, where it joins a stack vent or vent stack; absent elsewhere.";
        VentMeetingRise "vent.meeting_height_above_rim" Length, "Height of its upper end above the highest flood level rim among the fixtures served, where it joins another branch vent; absent elsewhere.";
        VentLowerFitting "vent.lower_fitting" Word(FittingPattern::NAMES), "Pattern of the fitting at its lower end.";
        VentHoldsWater "vent.holds_water" Truth, "Whether it falls toward its end, by its slope or where it is plumb by the heights of its ends, to where what condenses in it stays: no other vent rises to there, none falls on from there and no drain begins there.";
        VentGrade "vent.grade" Slope, "Slope at which what condenses in it runs back to a drain: its rise toward its end; where it falls toward its end, that fall if a vent rises to there, one falls on from there or a drain begins there, and else less than level by as much.";
        VentTakeOff "vent.take_off" Angle, "Angle above the horizontal at which it leaves a horizontal drain; absent elsewhere.";
        VentDry "vent.leaves_drain" Truth, "Whether it is the first pipe from a drain.";
        VentStackSize "vent.stack_size" Size, "Largest size of the stack that a stack vent or vent stack serves; where those of several have come together, of the largest of these.";
        VentStackBaseDistance "vent.stack_base_distance" Length, "Where a vent stack leaves the building drain: developed length down from the stack's base to there; absent elsewhere.";
        VentStackLoad "vent.stack_load" Load, "Load of that stack; of several as large, the greatest.";
        VentDrainSize "vent.drain_size" Size, "Size of the drain that leads away from where it leaves the drains; absent where it begins elsewhere.";
        VentLargestInlet "vent.largest_inlet_size" Size, "Largest size among the vents that join it at its lower end; absent where none does.";
        VentTraps "vent.traps" Count, "Traps that get their air by it.";
        VentWetTraps "vent.wet_traps" Count, "Those of them that get it through a drain.";
        VentTrapLoad "vent.trap_load" Load, "Load of their fixtures, each at its own value.";
        VentLargestTrap "vent.largest_trap" Size, "Largest size among them; absent where it serves none.";
        VentConnections "vent.connections" Count, "Points where it, or a vent that joins it, leaves the drains.";
        VentStoreys "vent.storeys" Count, "Storeys from the lowest to the highest of the fixtures whose traps it serves, those between included; absent where it serves none.";
        VentAirLoss "vent.air_loss" Length, "Head of water that friction takes from the air which that stack's probable flow draws, over the vent's way to the open air at its bore.";
        VentStacks "vent.stacks" Count, "Stacks whose vents have come together in it, each counted once.";
        VentHeaderLoad "vent.stacks_load" Load, "Load of these stacks together.";
        VentHeaderSize "vent.stacks_largest_size" Size, "Largest size of these stacks.";
        VentHeaderLength "vent.length_from_stack_base" Length, "From the base of the farthest of these stacks, along the stack and the vents, to the open air.";
        VentEnds "vent.ends_in" Word(VentEnd::NAMES), "Where the vent ends: in open air, or at a valve.";
        VentInLoop "vent.in_loop" Truth, "Whether it is part of a loop: on its way down to a foot, or from the foot to the next vent that it joins.";
        VentDrainLies "vent.drain_orientation" Word(Orientation::NAMES), "How the drain lies that leads away from where it leaves the drains; absent where it begins elsewhere.";
        VentRelievedSize "vent.relieved_circuit_vent_size" Size, "Where it relieves a circuit-vented branch, or is an additional vent of one: size of the branch's dry vent before it; absent elsewhere.";
        VentRelievedCircuits "vent.circuits_relieved" Count, "Circuit-vented branches that it relieves.";
        VentYokeRise "vent.yoke_rise" Length, "Where it leads from a stack to that stack's vent stack: height of where it joins that, above the floor of the nearest joint on the stack at or above where it leaves; absent elsewhere.";
        VentYokeSize "vent.yoke_smaller_size" Size, "Where it does: the smaller of the stack where it leaves and the vent stack where it joins; absent elsewhere.";
        VentYokeBranchSize "vent.yoke_branch_size" Size, "Where it does: largest size among the branches that enter the stack at that joint; absent elsewhere.";
        VentFootLoad "vent.foot_load" Load, "Where a vent stack rises from the top of a branch: load of that branch where it meets a stack or the building drain; absent elsewhere.";
    }
    Turn {
        TurnPattern "turn.pattern" Word(FittingPattern::NAMES), "Pattern of the fitting.";
        TurnDirection "turn.direction" Word(Direction::NAMES), "How the flow changes between horizontal and vertical.";
        TurnAngle "turn.angle" Angle, "Angle turned in the horizontal; the fitting's own angle, or none straight through a run.";
        TurnInlet "turn.inlet" Word(Inlet::NAMES), "By which opening the pipe enters.";
        TurnSize "turn.size" Size, "Size of the pipe that leads away.";
        TurnFixtures "turn.fixtures" Count, "Fixtures upstream of the pipe that enters.";
        TurnClosets "turn.water_closets" Count, "Water closets upstream of the pipe that enters.";
        TurnInTrapArm "turn.in_trap_arm" Truth, "Whether the pipe that enters lies between a trap and its vent and carries that fixture alone.";
        TurnCleanoutDistance "turn.cleanout_distance" Length, "Developed length up the drain that enters to the nearest cleanout, or to the removable trap of the one fixture that it serves; absent where there is none.";
        TurnCleanoutTrap "turn.cleanout_trap_size" Size, "Size of the removable trap that alone opens the drain that enters, upstream of the turn; absent where a cleanout does, and where nothing does.";
    }
    Fitting {
        FittingShape "fitting.pattern" Word(FittingPattern::NAMES), "Pattern.";
        FittingPipes "fitting.pipes" Count, "Pipes that meet at it, drains and vents.";
        FittingOpen "fitting.open_openings" Count, "Openings of its run and branches that no pipe joins; absent where its pattern has no branch or is not stated, as that of a vent's bend need not be.";
        FittingOpposedWaterClosets "fitting.opposed_water_closets" Count, "Water closets whose own drains enter by its branches.";
        FittingOpposedPumped "fitting.opposed_pumped" Count, "Pumped fixtures whose own drains enter by its branches.";
        FittingClosetRun "fitting.shortest_closet_run" Length, "Shortest developed length of the horizontal pipes from a water closet to it, how far those that stand aslant lead aside among it.";
        FittingBranchSize "fitting.largest_branch_size" Size, "Largest size among the drains that enter by its branches; absent where none does.";
        FittingRunKind "fitting.kind" Word(RunKind::NAMES), "What the run that the drain leading away belongs to is to the building; absent where only vents meet.";
        FittingRunSize "fitting.size" Size, "Size of the drain that leads away; absent where only vents meet.";
        FittingDrainsFit "fitting.drains_fit" Truth, "Whether its pattern joins the drains that enter it to the one that leads away, at the angles at which they come in plan and elevation, within 6 degrees, half of the least by which two bends differ; where of none of these the direction in plan is known, absent, save that a pattern without a branch is held to the angle between a plumb drain and another, which slopes tell alone. A message names the drain that it does not join.";
        FittingVentsFit "fitting.vents_fit" Truth, "Whether its pattern joins its vents likewise: those that enter it to the one that leads away, and those that leave a drain to that drain; no bend is asked about the vents of a drain.";
    }
    Cleanout {
        CleanoutSize "cleanout.size" Size, "Size of the opening.";
        CleanoutPipeSize "cleanout.pipe_size" Size, "Size of the pipe that it serves: where it stands at the upper end of a stub, of the drain that the stub joins.";
        CleanoutStubSize "cleanout.stub_size" Size, "Smallest size of the pipes between it and the drain that it serves; absent where it stands in that drain.";
        CleanoutClearance "cleanout.clearance" Length, "Free space in front of the opening.";
        CleanoutAccessible "cleanout.accessible" Truth, "Whether it can be reached without breaking the building.";
        CleanoutManhole "cleanout.manhole" Truth, "Whether the file says that it is a manhole.";
        CleanoutRunKind "cleanout.kind" Word(RunKind::NAMES), "What the run of the pipe that it serves is to the building.";
    }
    Terminal {
        TerminalThrough "terminal.through" Word(Through::NAMES), "Roof or wall; the roof where the file does not say, but tells how high above a roof it ends or of what use that roof is.";
        TerminalHeight "terminal.height_above_roof" Length, "Height of the opening above the roof.";
        TerminalRoofUse "terminal.roof_use" Word(RoofUse::NAMES), "What the roof is used for.";
        TerminalOpeningDistance "terminal.opening_distance" Length, "Horizontal distance to the nearest door, openable window or air intake; absent where none is about.";
        TerminalOpeningRise "terminal.height_above_opening" Length, "Height above the top of that opening, negative below it.";
        TerminalLotLine "terminal.lot_line_distance" Length, "Horizontal distance to the lot line.";
        TerminalGround "terminal.height_above_ground" Length, "Height above average ground.";
        TerminalSize "terminal.size" Size, "Size of the vent where it passes the roof or wall.";
        TerminalEnlargedInside "terminal.enlarged_inside" Length, "How far inside the thermal envelope the vent is enlarged; absent where it is not.";
        TerminalVentSize "terminal.vent_size" Size, "Size of the vent before any enlargement.";
    }
    Valve {
        ValveShape "valve.kind" Word(ValveKind::NAMES), "What the valve serves.";
        ValveHeightAboveDrain "valve.height_above_drain" Length, "Height above the horizontal drain vented; where the file does not state it, above the highest of the places where its vents leave the drains, if heights settle it.";
        ValveHeightAboveRim "valve.height_above_rim" Length, "Height above the highest flood level rim served; where the file does not state it, by the heights of both, if these settle it.";
        ValveFixtures "valve.fixtures" Count, "Traps whose air comes through it.";
        ValveSameStorey "valve.same_storey" Truth, "Whether these are all on one storey.";
        ValveIntervalsAbove "valve.intervals_above" Count, "Branch intervals of the stack above the joint of the branch that it vents, the most where it vents several; absent where none joins a stack.";
        ValveRelief "valve.branch_relieved" Truth, "Whether each of these branches has a vent to open air between the valve's and the stack.";
        ValveStackIntervals "valve.stack_branch_intervals" Count, "Branch intervals of the stack whose stack vent or vent stack it ends; absent where it ends neither.";
        ValveAirFlow "valve.air_flow" Flow, "Rate at which it lets air in, as its maker states.";
        ValveServedFlow "valve.served_flow" Flow, "Probable flow of what it gives air: of the stacks whose stack vents it ends and of the branches whose vents it ends, those of several together; absent where it ends none.";
        ValveAccessible "valve.accessible" Truth, "Whether it can be reached.";
    }
    Stack {
        StackLoad "stack.load" Load, "Load at its base.";
        StackIntervals "stack.branch_intervals" Count, "Branch intervals, by the rule set's definition.";
        StackLargestSize "stack.largest_size" Size, "Largest size of its vertical pipes.";
        StackSmallestSize "stack.smallest_size" Size, "Smallest size of its vertical pipes.";
        StackHasStackVent "stack.has_stack_vent" Truth, "Whether a vent continues it upward from its top.";
        StackHasVentStack "stack.has_vent_stack" Truth, "Whether a vent stack rises from it at or below its lowest joint, from the building drain next to its base, or from a branch that joins it there.";
        StackWaterClosets "stack.water_closets" Count, "Water closets upstream of its base.";
        StackStoreys "stack.storeys" Count, "Storeys from the lowest to the highest of its own fittings and of the fixtures that it drains; those between count, whether or not something joins there.";
        StackFixtureStoreys "stack.fixture_storeys" Count, "Storeys from the lowest to the highest of the fixtures that it drains; those between count, and those that it passes alone do not.";
        StackLowestStorey "stack.lowest_storey" Count, "The lowest storey of the fixtures that it drains, counted up from the lowest that the file lists, which is 1.";
        StackHighestStorey "stack.highest_storey" Count, "The highest storey of the fixtures that it drains, counted likewise.";
        StackIsWetVent "stack.is_wet_vent" Truth, "Whether a trap gets its air through it.";
        StackLevelOffsets "stack.horizontal_offsets" Count, "Horizontal offsets, each of one or more pipes in a row.";
        StackCleanoutDistance "stack.cleanout_distance" Length, "Developed length from its foot, before what of its run goes on level below it, up to the nearest cleanout on it, or on a stub that joins it or its foot; absent where there is none.";
        StackPlainTeeEntries "stack.plain_tee_entries" Count, "Drains that enter it by a plain tee, which has no sweep; not known where the pattern of a fitting by which one enters is not.";
        StackProbableFlow "stack.probable_flow" Flow, "Probable peak flow at its base by the rule set's load model.";
        StackTerminalFlow "stack.terminal_flow" Flow, "Flow at terminal velocity when the sheet of water fills the share of the bore that the rule set's hydraulics allow.";
        StackTerminalFraction "stack.terminal_fraction" Ratio, "Its probable flow over that flow.";
        StackUnrelieved "stack.intervals_between_reliefs" Count, "Most branch intervals in a row, counted from the top, that no vent relieves at or below their lowest joint. A vent relieves a stack that leaves it, other than to continue it upward, and reaches open air by itself or by a vent stack, not by a stack vent and not at a valve.";
        StackStoreysUnrelieved "stack.storeys_between_reliefs" Count, "Most storeys in a row, counted from the highest joint down, that no such vent relieves at or below their lowest joint; those between that nothing joins count too.";
        StackReliefSize "stack.smallest_relief_size" Size, "Smallest vent that relieves the stack, vent stacks left out; absent where there is none.";
        StackReliefJoint "stack.relief_joint_height" Length, "Least height above the floor at which a vent that leaves the stack, other than its stack vent, joins a vent stack; absent where none does.";
        StackVentStackRise "stack.vent_stack_height" Length, "Developed length from where its vent stack leaves it down to its base, none where it leaves the building drain; absent where there is none.";
        StackSuds "stack.suds" Count, "Fixtures upstream of its base whose water carries suds: bathtubs, clothes washers, dishwashers, kitchen sinks, laundry trays.";
        StackVentStackSize "stack.vent_stack_size" Size, "Size of its vent stack where that begins, however high; absent where there is none.";
        StackFixtures "stack.fixtures" Count, "Fixtures upstream of its base.";
        StackUrinals "stack.urinals" Count, "Urinals upstream of its base.";
        StackOffsets "stack.offsets" Count, "Pieces out of plumb between its highest and its lowest joint.";
        StackIntervalLoad "stack.largest_interval_load" Load, "Largest load that enters within one branch interval.";
        StackVentSize "stack.vent_size" Size, "Smallest size of the stack vent, from the stack to where it ends; absent where there is none.";
        StackVentTurn "stack.vent_turn_above_rim" Length, "Height above the highest flood level rim served at which the stack vent first turns from plumb; absent where it does not.";
        StackVentEnd "stack.vent_ends_in" Word(VentEnd::NAMES), "Where the stack vent ends; absent where there is none.";
    }
    Interval {
        IntervalLoad "interval.load" Load, "Load of the branches that enter the stack within the interval.";
        IntervalStackSize "interval.stack_size" Size, "Size of the stack below the interval's last connection.";
        IntervalVentsTraps "interval.vents_traps" Count, "Traps further down that get their air through the stack below the interval's last connection.";
    }
    Passage {
        PassageMember "passage.member" Word(MemberKind::NAMES), "What kind of framing member the pipe passes.";
        PassageMake "passage.make" Word(MemberMake::NAMES), "What the member is made as.";
        PassageDepth "passage.depth" Length, "Actual depth of the member: of a joist or rafter from edge to edge, of a stud or plate across the wall.";
        PassageThickness "passage.thickness" Length, "Actual thickness of the member.";
        PassageBearing "passage.bearing" Truth, "Whether the member belongs to an outside or bearing wall.";
        PassageSpan "passage.span" Length, "Clear length of the member between its bearings.";
        PassageCut "passage.cut" Word(Cut::NAMES), "How the member is cut for the pipe.";
        PassageHole "passage.hole" Length, "Diameter of the hole: as stated, or by the rule set, or where the pipe passes so far out of square that it needs a wider one, the least that passes it; absent where none is bored.";
        PassageLeastHole "passage.least_hole" Length, "Least diameter of a hole, bored square through the member, that the pipe passes: its outside diameter by the rule set, or where it passes out of square, what that takes; absent where none is bored.";
        PassageNotchDepth "passage.notch_depth" Length, "Depth of the notch; absent where there is none.";
        PassageLeastNotch "passage.least_notch" Length, "Least depth of a notch that holds the whole pipe: from the notched edge of a joist or rafter, or where that is not stated, and of studs and plates, from the nearer one, to the far side of the pipe; absent where there is no notch.";
        PassageNotchLength "passage.notch_length" Length, "Length of the notch along the member; absent where there is none.";
        PassageNotchEdge "passage.notch_edge" Word(MemberEdge::NAMES), "Edge that is notched; absent where there is no notch.";
        PassageEdge "passage.edge_distance" Length, "Wood left between the hole and the nearer edge of the member, negative where the hole runs out of it; absent where none is bored.";
        PassageWoodLeft "passage.wood_left" Length, "Depth of the member less the hole or notch.";
        PassageNextCut "passage.next_cut" Length, "Wood left to the nearest other hole or notch in the member; absent where there is none.";
        PassageBearingDistance "passage.bearing_distance" Length, "Distance along the member from the middle of the hole or notch to the nearest bearing.";
        PassageDoubled "passage.doubled" Truth, "Whether a second member like it is nailed to its side.";
        PassageDoubledInRow "passage.doubled_in_row" Count, "Members one after the other that are doubled for the pipe.";
        PassageOutside "passage.outside_diameter" Length, "Outside diameter of the pipe, by the rule set.";
        PassageCover "passage.cover" Length, "Distance from the outside of the pipe to the nearer edge of the member; absent where nothing is bored.";
        PassagePlate "passage.steel_plate" Truth, "Whether a steel plate shields the pipe there.";
        PassageTie "passage.metal_tie" Truth, "Whether a metal tie bridges the cut plate.";
    }
    Test {
        TestWith "test.medium" Word(TestMedium::NAMES), "What the test is made with.";
        TestHead "test.head" Length, "Head of water; of a test with air or smoke its pressure, as a head of water.";
        TestHeight "test.height" Length, "Height of the part under test, from its lowest joint to the water.";
        TestDuration "test.duration" Period, "How long it is held.";
        TestPlastic "test.plastic" Truth, "Whether any pipe of the network is plastic.";
    }
    System {
        SystemLoad "system.load" Load, "Load at the point of disposal.";
        SystemProbableFlow "system.probable_flow" Flow, "Probable peak flow at the point of disposal by the rule set's load model.";
        SystemUse "system.use" Word(BuildingUse::NAMES), "What the building is used for.";
        SystemKind "system.type" Word(SystemType::NAMES), "Type of system by which branches are filled and stacks divided.";
        SystemWaterClosets "system.water_closets" Count, "Water closets in the network.";
        SystemOpenVents "system.open_air_vents" Count, "Vent terminals in open air.";
        SystemOpenVentsWithoutLoops "system.open_vents_without_loops" Count, "Vent terminals in open air, those left out to which nothing leads but the vent from the foot of a loop.";
        SystemStacks "system.stacks" Count, "Stacks of the building.";
        SystemOpenStackVents "system.open_stack_vents" Count, "Stack vents and vent stacks that end in open air.";
        SystemValves "system.air_admittance_valves" Count, "Air admittance valves.";
        SystemLargestVent "system.largest_open_vent" Size, "Largest size that a vent keeps all the way from a drain to open air.";
        SystemVentDiameter "system.open_vent_diameter" Length, "Diameter of one circle as large as all vents together where they reach open air, each counted with no more than the vents that feed it, in whole nanometres.";
        SystemDrainSize "system.building_drain_size" Size, "Largest size of the building drain.";
        SystemDrainSlope "system.building_drain_slope" Slope, "Least slope of the building drain.";
        SystemJunctionCleanout "system.junction_cleanout_distance" Length, "Developed length between the end of the building drain and the nearest cleanout on the building drain, a stack or the sewer; absent where there is none.";
        SystemJunctionAbove "system.junction_cleanout_upstream" Length, "Developed length up from the end of the building drain to the nearest cleanout there, on the building drain or on a stack; absent where there is none.";
        SystemTemperature "system.winter_design_temperature" Temperature, "Winter design temperature of the site.";
        SystemStoreys "system.storeys" Count, "Storeys that the file lists; not known where it lists none.";
        SystemDwellings "system.dwelling_units" Count, "Dwelling units in the building.";
        SystemTests "system.tests" Count, "Tests recorded or planned.";
        SystemSump "system.ends_in_sump" Truth, "Whether the file says that the point of disposal is a closed sump or tank that a pump empties.";
        SystemSumpVent "system.sump_vent_size" Size, "Smallest size of the vent that rises from that sump, on its way to where it ends; absent where there is none.";
        SystemSumpDrain "system.sump_drain_size" Size, "Largest size among the drains that discharge into the point of disposal.";
    }
}

subjects! {
    /// A fixture.
    Fixture "fixture" [Fixture, Trap, TrapArm, Protection, System],
    /// A fixture's trap.
    Trap "trap" [Fixture, Trap, TrapArm, Protection, Circuit, Combination, Island, Stack, System],
    /// The drain from a trap's weir to its vent.
    TrapArm "trap_arm" [Fixture, Trap, TrapArm, Protection, Circuit, Combination, Island, Stack, System],
    /// Any pipe.
    Pipe "pipe" [Pipe, System],
    /// A drain pipe.
    Drain "drain" [Pipe, Drain, Stack, System],
    /// A vent pipe.
    Vent "vent" [Pipe, Vent, Stack, System],
    /// The way of one pipe's water through a fitting.
    Turn "turn" [Turn, Fitting, System],
    /// A fitting.
    Fitting "fitting" [Fitting, System],
    /// A cleanout.
    Cleanout "cleanout" [Cleanout, System],
    /// A vent terminal.
    Terminal "terminal" [Terminal, System],
    /// An air admittance valve.
    Valve "valve" [Valve, System],
    /// A stack.
    Stack "stack" [Stack, System],
    /// A branch interval of a stack.
    BranchInterval "branch_interval" [Interval, Stack, System],
    /// Where a pipe passes a framing member.
    Passage "passage" [Passage, Pipe, System],
    /// A test.
    Test "test" [Test, System],
    /// The whole network.
    System "system" [System],
}

impl Fact {
    /// Whether it hangs on which arrangements protect traps, so that no arrangement's condition can ask for it.
    pub(crate) const fn hangs_on_arrangements(self) -> bool {
        matches!(self, Self::ProtectionBy | Self::CombinationProtects)
    }

    /// Whether it hangs on what the rule set calls a sharp turn.
    pub(crate) const fn tells_of_sharp_turns(self) -> bool {
        matches!(
            self,
            Self::TrapArmBends
                | Self::DrainBendAhead
                | Self::DrainBendAheadWashers
                | Self::DrainBendBehind
                | Self::DrainBendBehindWashers
        )
    }
}

impl Subject {
    /// Words that a fact never is for this subject: only what has a trap is asked about its trap, and a drain is no vent.
    #[must_use]
    pub const fn never(self) -> &'static [(Fact, &'static str)] {
        const WITHOUT_TRAP: &[(Fact, &str)] = &[(Fact::FixtureKind, FixtureType::ConnectedLoad.name())];
        const OF_VENTS: &[(Fact, &str)] = &[
            (Fact::PipeRole, Role::Vent.name()),
            (Fact::PipeKind, RunKind::BranchVent.name()),
            (Fact::PipeKind, RunKind::StackVent.name()),
            (Fact::PipeKind, RunKind::VentStack.name()),
        ];
        const OF_DRAINS: &[(Fact, &str)] = &[
            (Fact::PipeRole, Role::Drain.name()),
            (Fact::PipeKind, RunKind::Branch.name()),
            (Fact::PipeKind, RunKind::Stack.name()),
            (Fact::PipeKind, RunKind::BuildingDrain.name()),
            (Fact::PipeKind, RunKind::BuildingSewer.name()),
        ];
        match self {
            Self::Trap | Self::TrapArm => WITHOUT_TRAP,
            Self::Drain => OF_VENTS,
            Self::Vent => OF_DRAINS,
            _ => &[],
        }
    }

    /// The facts that a rule with this subject can speak of.
    pub fn facts(self) -> impl Iterator<Item = Fact> {
        Fact::ALL
            .iter()
            .copied()
            .filter(move |fact| self.sees(fact.family()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fact_is_named_after_its_family_and_seen_by_a_subject() {
        for fact in Fact::ALL {
            let family = format!("{:?}", fact.family()).to_lowercase();
            let prefix = fact.name().split('.').next().unwrap_or_default().replace('_', "");
            assert_eq!(family, prefix, "{}", fact.name());
            assert_eq!(fact.name().parse(), Ok(*fact));
            assert!(fact.measured().ends_with('.'));
            assert!(Subject::ALL.iter().any(|subject| subject.sees(fact.family())));
        }
    }
}
