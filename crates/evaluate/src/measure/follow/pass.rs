//! The passes: in which order they are made, by what they go, and what they reckon and read.

use crate::measure::seen::{Figure, listed};

listed! {
    /// A pass, or a part of one, in the order in which they are made. What reads a figure comes after what reckons it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
    #[repr(u8)]
    pub(crate) enum Pass {
        Downstream,
        Branch,
        Kin,
        Alike,
        Load,
        Group,
        Totals,
        Head,
        Meets,
        Supply,
        Vented,
        Ends,
        Closets,
        Ways,
        Near,
        Member,
        Circuit,
        InLine,
        Line,
        Carries,
        Level,
        Loops,
        Stack,
        Cleanout,
        Junction,
        Below,
        VentStack,
        Rim,
        Behind,
        Ahead,
        Valves,
        Details,
        RunsAbove,
        RunsAhead,
        ReliefsBelow,
        Arms,
        VentCleanouts,
        BendsBehind,
        BendsAhead,
        Shares,
        Circulates,
        StackRelief,
        StoreysBeside,
        Cuts,
        Chosen,
        Reliance,
        WetEnd,
        Running,
        WetVents,
        WetStack,
        Relieves,
        Relieved,
        RelievedOn,
        Yokes,
        VentTraps,
        JudgeNode,
        JudgePipe,
        JudgeStack,
        JudgeInterval,
        JudgePassage,
        JudgeTest,
        JudgeSystem,
    }
}

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
    Circuit as CircuitPass, Circulates, Cleanout, Closets, Cuts, Details, Downstream, Ends, Group, Head,
    InLine, JudgeInterval, JudgeNode, JudgePassage, JudgePipe, JudgeStack, JudgeSystem, JudgeTest, Junction,
    Kin, Level, Line, Load, Loops, Meets, Member, Near, ReliefsBelow, Relieved, RelievedOn, Relieves,
    Running, RunsAbove, RunsAhead, Shares, Stack, StackRelief, StoreysBeside, Supply, Totals, Valves,
    VentCleanouts, VentStack, VentTraps, Ways, WetEnd, WetStack, WetVents, Yokes,
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

    /// The figures that it reckons, and may read of its own elements.
    pub(crate) fn own(self) -> &'static [Figure] {
        match self {
            Downstream => &[Figure::Downstream, Figure::Receiver],
            Load => &[Figure::Load],
            Group => &[Figure::Group],
            Totals => &[Figure::Totals],
            Head => &[Figure::Head],
            Meets => &[Figure::Meets],
            Supply => &[Figure::Supply],
            Self::Vented => &[Figure::Vented],
            Ends => &[Figure::Ends],
            Closets => &[Figure::Closets],
            Ways => &[Figure::Ways, Figure::ToAir],
            Near => &[Figure::Near],
            Line => &[Figure::Circuit],
            Carries => &[Figure::Carries],
            Level => &[Figure::Level],
            Loops => &[Figure::Loops],
            Stack => &[Figure::Stack],
            Cleanout => &[Figure::Cleanout, Figure::Base],
            Junction => &[Figure::Junction],
            Branch => &[Figure::Branch],
            VentStack => &[Figure::VentStack],
            Self::Rim => &[Figure::Rim],
            Behind => &[Figure::Vent, Figure::StackOfVent],
            Ahead => &[Figure::VentAhead, Figure::VentEnd],
            Valves => &[Figure::Valves],
            Details => &[Figure::Details],
            RunsAbove => &[Figure::RunAbove, Figure::VerticalAbove],
            RunsAhead => &[Figure::RunAhead, Figure::VerticalBelow],
            ReliefsBelow => &[Figure::ReliefsBelow],
            Arms => &[Figure::Arms],
            Alike => &[Figure::Alike],
            VentCleanouts => &[Figure::VentCleanouts],
            BendsBehind => &[Figure::BendBehind],
            BendsAhead => &[Figure::BendAhead],
            Shares => &[Figure::Shares],
            StackRelief => &[Figure::StackRelief],
            StoreysBeside => &[Figure::StoreysBeside],
            Cuts => &[Figure::Cuts],
            Chosen => &[Figure::Chosen],
            Running => &[Figure::Relied],
            WetVents => &[Figure::WetVents],
            WetStack => &[Figure::WetStack],
            Relieved | RelievedOn => &[Figure::Relieved],
            Yokes => &[Figure::Yoke],
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
