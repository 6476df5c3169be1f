//! What most of the pipes of a path, or of all, have in common: it is stated once for them.
//!
//! A pipe of which something is not stated does not let it be stated for all, for then it would have it too; only a size
//! can be said to be open.

use std::collections::HashMap;
use std::hash::Hash;

use crownweir_quantity::{Length, NominalSize};
use crownweir_vocabulary::{Material, Occupancy};
use petgraph::visit::IntoNodeReferences;

use super::figures::Figures;
use super::paths::Paths;
use crate::model::{Network, NodeId, NodeKind, Pipe, PipeId};
use crate::open::SlopeFile;

/// What holds for the whole file.
#[derive(Default)]
pub(super) struct Defaults {
    pub(super) occupancy: Option<Occupancy>,
    pub(super) material: Option<Material>,
    pub(super) horizontal_support_spacing: Option<Length>,
    pub(super) vertical_support_spacing: Option<Length>,
    pub(super) mid_storey_guide: Option<bool>,
}

impl Defaults {
    pub(super) fn of(network: &Network, paths: &Paths, figures: &Figures) -> Self {
        let pipes = || {
            paths
                .pipes()
                .filter_map(|id| Some((id, network.graph.edge_weight(id)?)))
        };
        let spacing = |horizontal: bool| {
            let of_kind =
                pipes().filter(move |(id, _)| is_horizontal(network, figures, *id) == Some(horizontal));
            shared(of_kind.map(|(_, pipe)| pipe.support_spacing))
        };
        let fixtures = network.graph.node_references();
        let occupancies = fixtures.filter_map(|(_, node)| match &node.kind {
            NodeKind::Fixture(fixture) => Some(fixture.occupancy),
            _ => None,
        });
        Self {
            occupancy: shared(occupancies),
            material: shared(pipes().map(|(_, pipe)| pipe.material)),
            horizontal_support_spacing: spacing(true),
            vertical_support_spacing: spacing(false),
            mid_storey_guide: shared(pipes().map(|(_, pipe)| pipe.mid_storey_guide)),
        }
    }

    /// The distance between supports of a pipe that states none.
    pub(super) fn support_spacing(
        &self,
        network: &Network,
        figures: &Figures,
        pipe: PipeId,
    ) -> Option<Length> {
        match is_horizontal(network, figures, pipe)? {
            true => self.horizontal_support_spacing,
            false => self.vertical_support_spacing,
        }
    }
}

/// Whether a pipe is horizontal, by what is stated of it or by what follows.
fn is_horizontal(network: &Network, figures: &Figures, pipe: PipeId) -> Option<bool> {
    let follows = || network.graph.edge_weight(pipe)?.slope;
    let stated = figures.pipe(pipe).is_horizontal();
    stated.or_else(|| follows().map(|slope| !slope.is_vertical()))
}

/// What holds for a run, as far as its path goes.
#[derive(Clone, Copy, Default)]
pub(super) struct OfRun {
    pub(super) storey: Option<u32>,
    pub(super) size: Option<NominalSize>,
    pub(super) slope: Option<SlopeFile>,
    pub(super) material: Option<Material>,
    pub(super) support_spacing: Option<Length>,
    pub(super) mid_storey_guide: Option<bool>,
    pub(super) underground: bool,
}

impl OfRun {
    /// Of a path and the nodes that it defines.
    pub(super) fn of(
        network: &Network,
        figures: &Figures,
        defaults: &Defaults,
        path: &[PipeId],
        nodes: &[NodeId],
    ) -> Self {
        let pipes = || {
            path.iter()
                .filter_map(|&id| Some((id, network.graph.edge_weight(id)?)))
        };
        let of_pipes = |of: fn(&Pipe) -> Option<bool>| pipes().map(move |(_, pipe)| of(pipe));
        let storeys = nodes.iter().filter_map(|&id| network.graph.node_weight(id));
        let sizes = || pipes().map(|(_, pipe)| pipe.size);
        let open = sizes().filter(Option::is_none).count();
        let sloped = pipes()
            .map(|(id, _)| figures.pipe(id))
            .filter(|pipe| !pipe.has_own_slope);
        let is_buried = pipes().filter(|(_, pipe)| pipe.underground).count();
        let by_default = |id: PipeId| defaults.support_spacing(network, figures, id);
        Self {
            storey: shared(storeys.map(|node| node.storey)),
            size: most(sizes().flatten()).and_then(|(size, count)| (count > open).then_some(size)),
            slope: shared(sloped.map(|pipe| pipe.slope)),
            material: other_than(pipes().map(|(_, pipe)| (pipe.material, defaults.material))),
            support_spacing: other_than(pipes().map(|(id, pipe)| (pipe.support_spacing, by_default(id)))),
            mid_storey_guide: other_than(
                of_pipes(|pipe| pipe.mid_storey_guide).map(|guide| (guide, defaults.mid_storey_guide)),
            ),
            underground: 2 * is_buried > path.len(),
        }
    }
}

/// What is stated most often, of several as often the first; none where one states nothing.
fn shared<T: Copy + Eq + Hash>(stated: impl Iterator<Item = Option<T>>) -> Option<T> {
    let stated: Option<Vec<T>> = stated.collect();
    most(stated?.into_iter()).map(|(value, _)| value)
}

/// The value that comes most often, of several as often the first, and how often it does.
fn most<T: Copy + Eq + Hash>(values: impl Iterator<Item = T>) -> Option<(T, usize)> {
    let mut counts: HashMap<T, (usize, usize)> = HashMap::new();
    for (index, value) in values.enumerate() {
        counts.entry(value).or_insert((0, index)).0 += 1;
    }
    let most = counts
        .into_iter()
        .max_by_key(|(_, (count, first))| (*count, usize::MAX - first));
    most.map(|(value, (count, _))| (value, count))
}

/// The one value that all state, where that is for some of them another than by default.
fn other_than<T: Copy + Eq>(stated: impl Iterator<Item = (Option<T>, Option<T>)>) -> Option<T> {
    let (mut all, mut is_other) = (None, false);
    for (own, by_default) in stated {
        let own = own?;
        if *all.get_or_insert(own) != own {
            return None;
        }
        is_other |= by_default != Some(own);
    }
    all.filter(|_| is_other)
}
