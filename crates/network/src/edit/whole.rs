//! Edits of what holds for the whole: the site and the storeys.

use crownweir_document::Diagnostic;
use crownweir_quantity::Length;

use super::make::{Log, Step, negative_length};
use super::{Edit, SiteProperty};
use crate::expand::{floor_denied, put_on_top};
use crate::model::{Network, NodeId, Storey};
use crate::stated::name_denied;

impl Edit {
    /// Whether it is of the site or the storeys, and of no node or pipe.
    pub(super) fn is_of_whole(&self) -> bool {
        matches!(
            self,
            Self::Site(_) | Self::StoreyHeight { .. } | Self::AddStorey(_)
        )
    }
}

impl Network {
    pub(super) fn no_storey(&self, storey: u32) -> Box<Diagnostic> {
        Box::new(self.problem(format!("there is no storey number {storey}")))
    }

    pub(super) fn set_site(&mut self, set: SiteProperty, log: &mut Log) {
        log.steps.push(Step::SetSite(self.site.clone()));
        let site = &mut self.site;
        match set {
            SiteProperty::WinterDesignTemperature(temperature) => {
                site.winter_design_temperature = temperature;
            }
            SiteProperty::DwellingUnits(units) => site.dwelling_units = units,
            SiteProperty::BuildingUse(building_use) => site.building_use = building_use,
            SiteProperty::SystemType(system_type) => site.system_type = system_type,
        }
    }

    pub(super) fn add_storey(&mut self, storey: &Storey, log: &mut Log) -> Result<(), Box<Diagnostic>> {
        self.allow(name_denied(&storey.name))?;
        if self.storeys.iter().any(|other| other.name == storey.name) {
            let message = format!("two storeys are called `{}`", storey.name);
            let problem = self.problem(message);
            return Err(Box::new(problem.expecting("a name of its own for each storey")));
        }
        self.allow(negative_length(
            ("storey", &storey.name),
            [("height", storey.height)],
        ))?;
        let floor = storey
            .elevation
            .and_then(|stated| floor_denied(&self.storeys, stated, self.notation));
        if let Some((message, help)) = floor {
            return Err(Box::new(self.problem(message).helped(help)));
        }
        let below = self.storeys.last().and_then(|below| below.height);
        log.steps.push(Step::AddedStorey(below));
        put_on_top(&mut self.storeys, storey.clone());
        Ok(())
    }

    /// Nothing that it alters is noted: the network is built anew.
    pub(super) fn set_storey_height(&mut self, storey: u32, height: Length) -> Result<(), Box<Diagnostic>> {
        let mut storeys = self.storeys.clone();
        let Some(own) = storeys.get_mut(storey as usize) else {
            return Err(self.no_storey(storey));
        };
        self.allow(negative_length(("storey", &own.name), [("height", Some(height))]))?;
        own.height = Some(height);
        let Some(rises) = raise_above(&mut storeys, storey as usize) else {
            let problem = self.problem("a floor above would be higher than can be told".to_owned());
            return Err(Box::new(problem));
        };
        let nodes: Vec<NodeId> = self.graph.node_indices().collect();
        for node in nodes {
            let is_placed = self.given.plan.positions.get(node.index());
            let is_placed = is_placed.is_some_and(|place| place.iter().any(Option::is_some));
            if is_placed || !self.given.height(node) {
                continue;
            }
            if let Some(own) = self.graph.node_weight_mut(node)
                && let Some(&rise) = own.storey.and_then(|storey| rises.get(storey as usize))
            {
                own.elevation = own.elevation.and_then(|height| height.checked_add(rise));
            }
        }
        self.storeys = storeys;
        Ok(())
    }
}

/// Has the floors above a storey lie as high as it reaches up now, and those above them as far from one another as before.
/// Gives by how much each floor rises that was known; none where one would lie out of range.
fn raise_above(storeys: &mut [Storey], storey: usize) -> Option<Vec<Length>> {
    let mut rises = vec![Length::ZERO; storeys.len()];
    let mut rise = Length::ZERO;
    for above in storey + 1..storeys.len() {
        let below = storeys.get(above - 1)?;
        let top = below.elevation.zip(below.height);
        let floor = storeys.get_mut(above)?;
        let before = floor.elevation;
        floor.elevation = match (top, before) {
            (Some((floor, height)), _) => Some(floor.checked_add(height)?),
            (None, Some(before)) => Some(before.checked_add(rise)?),
            (None, None) => None,
        };
        if let Some((now, before)) = floor.elevation.zip(before) {
            rise = now.checked_sub(before)?;
            *rises.get_mut(above)? = rise;
        }
    }
    Some(rises)
}
