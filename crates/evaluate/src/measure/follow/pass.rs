//! The passes: in which order they are made, by what they go, and what they reckon and read.

use crate::measure::seen::{Figure, listed};

listed! {
    /// A pass, or a part of one, in the order in which they are made. What reads a figure comes after what reckons it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
    #[repr(u8)]
    pub(crate) enum Pass {
        /// What lies between a node and the point of disposal.
        Downstream,
        /// What lies between a node and the end of its branch.
        Branch,
        /// Which fixtures are alike.
        Kin,
        /// How many fixtures are like a fixture.
        Alike,
        /// A fixture's own load.
        Load,
        /// Which bathroom groups are complete, and their credits.
        Group,
        /// Loads and counts of all that drains through a node.
        Totals,
        /// Where the air in a drain comes from.
        Head,
        /// The connection of the traps that a drain brings unvented.
        Meets,
        /// Where the air of a fixture's trap comes from.
        Supply,
        /// Which traps have their connection at a node.
        Vented,
        /// How far down a dry vent is depended on.
        Ends,
        /// How many water closets get their air by a dry vent and the drains that it wets.
        Closets,
        /// What lies on the way of a trap's water to its connection.
        Ways,
        /// The nearest dry vent further up a branch.
        Near,
        /// Of which dry vent's branch a fixture is.
        Member,
        /// The branch below a dry vent, by itself.
        Circuit,
        /// Which such branch another goes on from.
        InLine,
        /// The same branch, with those before and after it.
        Line,
        /// Whether a drain carries a vented fixture that has come by branches.
        Carries,
        /// The level drain that a drain is part of.
        Level,
        /// Dry vents that drain back at a foot.
        Loops,
        /// A stack and its branch intervals.
        Stack,
        /// How far a node is from a cleanout, and from the base of a stack.
        Cleanout,
        /// How far the end of the building drain is from the nearest cleanout.
        Junction,
        /// Which stack a vent stack leaves.
        Below,
        /// The vent stack of a stack.
        VentStack,
        /// The flood rims that depend on a dry vent.
        Rim,
        /// Where vents come together that serve drains in common.
        Overlaps,
        /// What a vent serves, and what is behind it.
        Behind,
        /// What is ahead of a vent, up to where it ends.
        Ahead,
        /// What air admittance valves serve.
        Valves,
        /// Further counts of all that drains through a node.
        Details,
        /// What of its run lies above a node.
        RunsAbove,
        /// What of its run lies ahead of a node.
        RunsAhead,
        /// Reliefs further down a branch.
        ReliefsBelow,
        /// The drains of the traps on a circuit's branch.
        Arms,
        /// The cleanouts on the vent from each node.
        VentCleanouts,
        /// The last sharp turn before a node.
        BendsBehind,
        /// The next sharp turn after a node.
        BendsAhead,
        /// The sums that flows need beside loads.
        Shares,
        /// Through which vents air goes both ways.
        Circulates,
        /// What relieves a stack.
        StackRelief,
        /// The storeys of the vented fixtures that each drain carries.
        StoreysBeside,
        /// What is cut out of framing.
        Cuts,
        /// The arrangement that a trap goes by.
        Chosen,
        /// On which drains a trap relies for its air, by the arrangement that was chosen.
        Reliance,
        /// Where the wet vent of a dry vent ends.
        WetEnd,
        /// How many wet vents run through a drain.
        Running,
        /// What a drain that brings air brings it to.
        WetVents,
        /// Whether a trap gets its air through a stack.
        WetStack,
        /// What relieves a circuit.
        Relieves,
        /// Which circuits a vent or drain relieves.
        Relieved,
        /// The same, handed on along the vents ahead.
        RelievedOn,
        /// Which vents tie a stack to its vent stack.
        Yokes,
        /// Which traps get their air by a vent.
        VentTraps,
        /// The rules of what goes by nodes: fixtures, traps, fittings and the like; each pass further down, of what its name says.
        JudgeNode,
        JudgePipe,
        JudgeStack,
        JudgeInterval,
        JudgePassage,
        JudgeTest,
        JudgeSystem,
    }
}

// A set of passes is kept as bits.
const _: () = assert!(Pass::ALL.len() <= u64::BITS as usize);

/// By what a pass goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Goes {
    /// By the nodes that drains touch, upstream first.
    Down,
    /// By the same, downstream first.
    Up,
    /// By the nodes that vents touch, upstream first.
    Out,
    /// By the same, downstream first.
    In,
    /// By the nodes of fixtures.
    Fixtures,
    /// By the nodes that vents leave.
    Vented,
    /// By nodes in any order.
    Nodes,
    /// By pipes.
    Pipes,
    /// By stacks.
    Stacks,
    /// By other elements that have numbers.
    Numbered,
    /// At once.
    Once,
}

use Pass::{
    Ahead, Alike, Arms, Behind, Below, BendsAhead, BendsBehind, Branch, Carries, Chosen,
    Circuit as CircuitPass, Circulates, Cleanout, Closets, Cuts, Details, Downstream, Ends, Head, InLine,
    JudgeInterval, JudgeNode, JudgePassage, JudgePipe, JudgeStack, JudgeSystem, JudgeTest, Junction, Kin,
    Level, Line, Load, Meets, Member, Near, Overlaps, ReliefsBelow, Relieved, RelievedOn, Relieves, Running,
    RunsAbove, RunsAhead, Stack, StackRelief, StoreysBeside, Supply, Totals, Valves, VentCleanouts,
    VentStack, VentTraps, Ways, WetEnd, WetStack, WetVents, Yokes,
};

impl Pass {
    pub(crate) fn goes(self) -> Goes {
        match self {
            Totals | Head | Near | Carries | Cleanout | Running | Details | RunsAbove | BendsBehind
            | WetVents => Goes::Down,
            Downstream | Meets | Ways | Level | Branch | RunsAhead | BendsAhead | ReliefsBelow => Goes::Up,
            Behind | RelievedOn | VentTraps => Goes::Out,
            Ahead => Goes::In,
            Kin | Alike | Load | Supply | Member | Chosen | Self::Reliance => Goes::Fixtures,
            Self::Vented
            | Ends
            | Closets
            | CircuitPass
            | InLine
            | Line
            | Arms
            | Self::Rim
            | WetEnd
            | Relieves => Goes::Vented,
            JudgeNode => Goes::Nodes,
            JudgePipe | Below | Relieved => Goes::Pipes,
            Stack | VentStack | StackRelief | WetStack | Yokes | JudgeStack => Goes::Stacks,
            JudgeInterval | JudgePassage | JudgeTest | JudgeSystem | Junction => Goes::Numbered,
            _ => Goes::Once,
        }
    }

    /// The figures that it hands on from one element to the next along the flow.
    pub(crate) fn hands_on(self) -> &'static [Figure] {
        match self {
            Downstream => &[Figure::Downstream, Figure::Receiver],
            Totals => &[Figure::Totals],
            Head => &[Figure::Head],
            Meets => &[Figure::Meets],
            Ways => &[Figure::Ways, Figure::ToAir],
            Near => &[Figure::Near],
            Carries => &[Figure::Carries],
            Level => &[Figure::Level],
            Cleanout => &[Figure::Cleanout, Figure::Base],
            Branch => &[Figure::Branch],
            Behind => &[Figure::Vent, Figure::StackOfVent],
            Ahead => &[Figure::VentAhead, Figure::VentEnd],
            Details => &[Figure::Details],
            RunsAbove => &[Figure::RunAbove, Figure::VerticalAbove],
            RunsAhead => &[Figure::RunAhead, Figure::VerticalBelow],
            ReliefsBelow => &[Figure::ReliefsBelow],
            BendsBehind => &[Figure::BendBehind],
            BendsAhead => &[Figure::BendAhead],
            Running => &[Figure::Relied],
            WetVents => &[Figure::WetVents],
            RelievedOn => &[Figure::Relieved],
            VentTraps => &[Figure::VentTraps],
            _ => &[],
        }
    }
}

/// What of a pipe itself differs after an edit, one bit for each.
pub(crate) mod field {
    pub(crate) const SIZE: u8 = 1;
    pub(crate) const LENGTH: u8 = 2;
    pub(crate) const SLOPE: u8 = 4;
    pub(crate) const ENTERS: u8 = 8;
    pub(crate) const VERTICAL: u8 = 16;
    pub(crate) const OTHER: u8 = 32;
}

impl Pass {
    /// Which of a pipe's own properties it asks for, directly or by what it calls.
    pub(crate) fn fields(self) -> u8 {
        use field::{ENTERS, LENGTH, SIZE, SLOPE, VERTICAL};
        match self {
            Totals
            | Meets
            | Supply
            | Self::Vented
            | Closets
            | Near
            | Member
            | InLine
            | Carries
            | Self::Rim
            | Running
            | WetEnd
            | Below
            | VentStack
            | Details
            | Kin
            | Alike
            | VentCleanouts
            | StoreysBeside
            | WetVents
            | WetStack
            | VentTraps
            | RelievedOn
            | Yokes
            | Valves
            | Circulates
            | Overlaps
            | Cuts => 0,
            ReliefsBelow | Relieves | Relieved => SIZE,
            BendsBehind | BendsAhead => LENGTH | VERTICAL | ENTERS,
            RunsAbove | RunsAhead => SIZE | LENGTH | VERTICAL | ENTERS,
            Arms => SIZE | VERTICAL,
            Ends => SLOPE,
            Downstream => LENGTH | SLOPE,
            Head => SIZE | LENGTH | SLOPE | ENTERS,
            Ways => SIZE | LENGTH | SLOPE | ENTERS,
            CircuitPass => VERTICAL,
            Line | Level => SIZE | SLOPE,
            Cleanout => LENGTH | VERTICAL | ENTERS,
            Junction => LENGTH,
            Branch => LENGTH | SLOPE,
            Stack | Behind | Ahead => SIZE | LENGTH | SLOPE,
            StackRelief => SIZE | SLOPE,
            _ => u8::MAX,
        }
    }
}
