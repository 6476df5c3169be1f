//! A pass at an element: what it reckons there is put in the place of what was reckoned before, and told where they differ.

mod air;
mod circuits;
mod drains;
mod stacks;
mod vents;
mod whole;

use super::{Alters, Lost, Members, Pass};
use crate::measure::Measured;

impl Measured<'_> {
    /// Makes a pass at an element.
    ///
    /// # Errors
    /// When the network has come to be of a kind that is not followed element by element.
    pub(crate) fn make(
        &mut self,
        pass: Pass,
        at: u32,
        own: &mut Members,
        alters: &mut impl Alters,
    ) -> Result<(), Lost> {
        match pass {
            Pass::Downstream => self.make_downstream(at, alters),
            Pass::Load => self.make_load(at, alters),
            Pass::Group => self.make_groups(own, alters),
            Pass::Totals => self.make_totals(at, alters),
            Pass::Head => self.make_head(at, alters),
            Pass::Meets => self.make_meets(at, alters),
            Pass::Kin => self.make_kin(at, own, alters),
            Pass::Alike => self.make_alike(at, own, alters),
            Pass::Supply => self.make_supply(at, own, alters),
            Pass::Vented => self.make_vented(at, own, alters),
            Pass::Ends => self.make_ends(at, own, alters),
            Pass::Closets => self.make_closets(at, own, alters),
            Pass::Ways => self.make_ways(at, alters),
            Pass::Near => self.make_near(at, alters),
            Pass::Member => self.make_member(at, own, alters),
            Pass::Circuit => self.make_circuit(at, own, alters),
            Pass::InLine => self.make_in_line(at, own, alters),
            Pass::Line => self.make_line(at, own, alters),
            Pass::Carries => self.make_carries(at, own, alters),
            Pass::Level => self.make_level(at, alters),
            Pass::Loops => self.make_loops(alters),
            Pass::Stack => return self.make_stack(at, own, alters),
            Pass::Cleanout => self.make_cleanout(at, alters),
            Pass::Junction => self.make_junction(alters),
            Pass::Branch => self.make_branch(at, alters),
            Pass::Details => self.make_details(at, alters),
            Pass::Arms => self.make_arms(at, own, alters),
            Pass::RunsAbove => self.make_runs_above(at, alters),
            Pass::RunsAhead => self.make_runs_ahead(at, alters),
            Pass::ReliefsBelow => self.make_reliefs_below(at, alters),
            Pass::BendsBehind => self.make_bends_behind(at, alters),
            Pass::BendsAhead => self.make_bends_ahead(at, alters),
            Pass::Below => self.make_below(at, own, alters),
            Pass::VentStack => self.make_vent_stack(at, own, alters),
            Pass::Rim => self.make_rim(at, own, alters),
            Pass::Overlaps => self.make_overlaps(alters),
            Pass::Behind => self.make_behind(at, alters),
            Pass::Ahead => self.make_ahead(at, own, alters),
            Pass::Valves => self.make_valves(alters),
            Pass::Circulates => self.make_circulates(alters),
            Pass::StackRelief => self.make_stack_relief(at, alters),
            Pass::Chosen => self.make_chosen(at, alters),
            Pass::Reliance => return self.make_reliance(at, own, alters),
            Pass::WetEnd => self.make_wet_end(at, own, alters),
            Pass::Running => self.make_running(at, alters),
            Pass::WetVents => self.make_wet_vents(at, own, alters),
            Pass::WetStack => self.make_wet_stack(at, alters),
            Pass::Relieves => self.make_relieves(at, own, alters),
            Pass::Relieved => self.make_relieved(at, own, alters),
            Pass::RelievedOn => self.make_relieved_on(at, alters),
            Pass::Yokes => self.make_yokes(at, alters),
            Pass::VentTraps => self.make_vent_traps(at, own, alters),
            _ => self.make_whole(pass, alters),
        }
        Ok(())
    }
}
