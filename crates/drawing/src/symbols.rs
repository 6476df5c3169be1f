//! Symbols and words by which the trade's drawings are read (common practice, no source); the legend on every sheet
//! explains those that it shows.

use crownweir_network::{Node, NodeKind};
use crownweir_vocabulary::{FittingPattern, FixtureType, Through, TrapKind};

use crate::scene::Symbol;

/// The symbol of what stands at a node; `meet` is how many pipes do.
pub(crate) fn of(node: &Node, meet: usize) -> Option<Symbol> {
    Some(match &node.kind {
        NodeKind::Fixture(fixture) if !fixture.has_trap() => Symbol::Inflow,
        NodeKind::Fixture(fixture) if fixture.trap.kind == Some(TrapKind::Integral) => Symbol::Bowl,
        NodeKind::Fixture(_) => Symbol::Trap,
        NodeKind::Cleanout(_) => Symbol::Cleanout,
        NodeKind::Terminal(_) => Symbol::Terminal,
        NodeKind::Valve(_) => Symbol::Valve,
        NodeKind::Disposal => Symbol::Disposal,
        NodeKind::Fitting {
            pattern: Some(FittingPattern::BackwaterValve),
        } => Symbol::Backwater,
        NodeKind::Fitting {
            pattern: Some(FittingPattern::RunningTrap),
        } => Symbol::RunningTrap,
        NodeKind::Fitting { .. } if meet > 2 => Symbol::Joint,
        NodeKind::Fitting { .. } => return None,
    })
}

/// The abbreviation that stands under what is drawn, and what it stands for.
pub(crate) fn abbreviation(node: &Node) -> Option<(&'static str, String)> {
    let short = match &node.kind {
        NodeKind::Fixture(fixture) => fixture_abbreviation(fixture.fixture_type),
        NodeKind::Cleanout(_) => "CO",
        NodeKind::Terminal(terminal) => {
            let (short, word) = match terminal.through {
                Some(Through::Roof) => ("VTR", "vent through roof"),
                Some(Through::Wall) => ("VTW", "vent through wall"),
                _ => ("VT", "vent terminal"),
            };
            return Some((short, word.to_owned()));
        }
        NodeKind::Valve(_) => "AAV",
        NodeKind::Disposal => return None,
        NodeKind::Fitting {
            pattern: Some(FittingPattern::BackwaterValve),
        } => return Some(("BWV", FittingPattern::BackwaterValve.to_string())),
        NodeKind::Fitting {
            pattern: Some(FittingPattern::RunningTrap),
        } => return Some(("RT", FittingPattern::RunningTrap.to_string())),
        NodeKind::Fitting { .. } => return None,
    };
    let word = match &node.kind {
        NodeKind::Fixture(fixture) => fixture.fixture_type.to_string(),
        other => other.word().to_owned(),
    };
    Some((short, word))
}

fn fixture_abbreviation(fixture: FixtureType) -> &'static str {
    match fixture {
        FixtureType::Bathtub => "BT",
        FixtureType::Bidet => "BID",
        FixtureType::ClothesWasher => "CW",
        FixtureType::Dishwasher => "DW",
        FixtureType::FloorDrain => "FD",
        FixtureType::FloorSink => "FS",
        FixtureType::KitchenSink => "KS",
        FixtureType::LaundryTray => "LT",
        FixtureType::Lavatory => "LAV",
        FixtureType::ServiceSink => "SS",
        FixtureType::Shower => "SH",
        FixtureType::Sink => "S",
        FixtureType::Urinal => "UR",
        FixtureType::WashSink => "WS",
        FixtureType::WaterCloset => "WC",
        FixtureType::CombinationSinkAndTray => "CST",
        FixtureType::DrinkingFountain => "DF",
        FixtureType::DentalLavatory => "DL",
        FixtureType::DentalUnit => "DU",
        FixtureType::EmergencyFloorDrain => "EFD",
        FixtureType::ConnectedLoad => "LOAD",
        FixtureType::ContinuousFlow => "FLOW",
        _ => "FIX",
    }
}
