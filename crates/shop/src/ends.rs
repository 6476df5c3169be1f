//! What a piece meets at its ends: by which opening it joins a fitting, and what that takes of its length.
//!
//! It infers no dimension: what is not in the data is named.

use crownweir_network::{Network, NodeId, NodeKind, PipeId, angles};
use crownweir_quantity::{Length, NominalSize};
use crownweir_vocabulary::{FittingPattern, Inlet, Material};
use petgraph::Direction::Incoming;

use crate::cut::End;
use crate::dimensions::{Basis, Dimensions, Ends, FittingSize, Part};
use crate::geometry::Geometry;

/// No fitting has more openings than two in its run and two branches.
const MOST_OPENINGS: usize = 4;

/// The openings of a fitting, as its dimensions tell them apart.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Opening {
    Outlet,
    Inlet,
    Branch,
}

/// What a pipe joins at its end, as far as the network tells.
pub(crate) struct Joined {
    pub(crate) material: Material,
    /// Of the pipe.
    pub(crate) size: NominalSize,
    pub(crate) part: Part,
    pub(crate) ends: Ends,
    /// The openings of the fitting and the pipes in them.
    openings: Vec<(PipeId, Opening)>,
    /// That of the pipe.
    opening: Option<Opening>,
}

impl Joined {
    /// What the pipes in its openings are made of, where that is stated.
    fn materials(&self, network: &Network) -> impl Iterator<Item = Material> {
        let pipes = self.openings.iter().map(|(pipe, _)| *pipe);
        pipes.filter_map(|pipe| network.graph().edge_weight(pipe)?.material)
    }

    /// How far short of the centre a pipe stops in that opening of the fitting.
    pub(crate) fn stop(&self, fitting: &FittingSize) -> Option<Length> {
        match self.opening? {
            Opening::Outlet => fitting.outlet,
            Opening::Inlet => fitting.inlet,
            Opening::Branch => fitting.branch,
        }
    }
}

/// What the end of a pipe at a node does.
pub(crate) fn end(
    network: &Network,
    geometry: &Geometry,
    dimensions: &Dimensions,
    pipe: PipeId,
    node: NodeId,
) -> End {
    let joined = match joined(network, geometry, dimensions, pipe, node) {
        Ok(joined) => joined,
        Err(end) => return end,
    };
    let Joined {
        material,
        size,
        part,
        ends,
        ..
    } = joined;
    let joint = dimensions.joint(material, size);
    let alone = joined.materials(network).all(|own| own == material);
    if part == Part::Fitting(FittingPattern::Coupling)
        && alone
        && dimensions.size(ends.outlet) == dimensions.size(ends.inlet)
        && joint.is_some_and(|joint| joint.gap.is_some())
    {
        return coupling(dimensions, material, size);
    }
    let missing = |what: &str| {
        End::NotStated(format!(
            "{what} of a {} {material} {part}",
            called(dimensions, ends, part, &joined.openings)
        ))
    };
    let Some(fitting) = dimensions.fitting(material, part, ends) else {
        return missing("dimensions");
    };
    // One fitting is of one material; where two share a line of the data, it is the same fitting.
    let another = joined.materials(network).find(|other| {
        *other != material
            && dimensions
                .fitting(*other, part, ends)
                .is_none_or(|other| !fitting.is(other))
    });
    if let Some(other) = another {
        let name = network.graph().node_weight(node).map_or("", |node| &*node.name);
        return End::NotStated(format!(
            "`{name}`: of which material it is, and how the other is joined to it, for its pipes are of {material} and {other}"
        ));
    }
    let (Some(stop), Some(joint)) = (joined.stop(fitting), joint) else {
        return missing(match joined.stop(fitting) {
            None => "the centre-to-stop",
            Some(_) => "the joint",
        });
    };
    let Some(stop) = stop.checked_add(joint.gap.unwrap_or_default()) else {
        return missing("a usable centre-to-stop");
    };
    End::Fitting {
        stop,
        engagement: joint.held(),
        basis: weaker(fitting.source.basis, joint.source.basis),
    }
}

/// What the end of a pipe in a coupling to pipe of the same material and size does: where pipe is butted, the coupling
/// leaves the gap between the two.
pub(crate) fn coupling(dimensions: &Dimensions, material: Material, size: NominalSize) -> End {
    let part = Part::Fitting(FittingPattern::Coupling);
    let ends = Ends {
        outlet: size,
        inlet: size,
        branch: size,
    };
    let joint = dimensions.joint(material, size);
    let half = joint.and_then(|joint| joint.gap?.checked_scale(1, 2));
    let fitting = dimensions.fitting(material, part, ends);
    let stop = half.or(fitting.and_then(|fitting| fitting.outlet));
    match (joint, stop) {
        (Some(joint), Some(stop)) => End::Fitting {
            stop,
            engagement: joint.held(),
            basis: match fitting {
                Some(fitting) if half.is_none() => weaker(fitting.source.basis, joint.source.basis),
                _ => joint.source.basis,
            },
        },
        (None, Some(_)) => End::NotStated(format!("the joint of a {size} {material} {part}")),
        (_, None) => End::NotStated(format!("dimensions of a {size} {material} {part}")),
    }
}

/// What a pipe joins at a node; what its end does where that is no fitting, or is not told.
pub(crate) fn joined(
    network: &Network,
    geometry: &Geometry,
    dimensions: &Dimensions,
    pipe: PipeId,
    node: NodeId,
) -> Result<Joined, End> {
    let graph = network.graph();
    let (Some(own), Some(at)) = (graph.edge_weight(pipe), graph.node_weight(node)) else {
        return Err(End::Open);
    };
    let name = &at.name;
    let not_stated = |what: String| Err(End::NotStated(what));
    if geometry.denies(node) {
        return not_stated(format!("`{name}`: a pattern that agrees with its pipes"));
    }
    let part = match &at.kind {
        NodeKind::Fixture(_) => return Err(End::Trap),
        NodeKind::Terminal(_) | NodeKind::Disposal => return Err(End::Open),
        NodeKind::Cleanout(_) => Part::Cleanout,
        NodeKind::Valve(_) => Part::Valve,
        NodeKind::Fitting { pattern: None } => return not_stated(format!("`{name}`: its pattern")),
        NodeKind::Fitting {
            pattern: Some(pattern),
        } => Part::Fitting(*pattern),
    };
    let Some(material) = own.material else {
        return not_stated(format!("`{}`: its material", own.name));
    };
    let Some(size) = own.size else {
        return not_stated(format!("`{}`: its size", own.name));
    };
    let joined = graph.neighbors_undirected(node).take(MOST_OPENINGS + 1).count();
    if joined > MOST_OPENINGS {
        return not_stated(format!(
            "`{name}`: of which fittings it is made, for more than {MOST_OPENINGS} pipes"
        ));
    }
    let openings = openings(network, node, part);
    let size_of = |pipe: PipeId| graph.edge_weight(pipe).and_then(|pipe| pipe.size);
    // Every opening with a pipe in it tells which fitting it is: one of unknown size is not taken to be as wide as another.
    if let Some((pipe, _)) = openings.iter().find(|(pipe, _)| size_of(*pipe).is_none()) {
        let pipe = graph.edge_weight(*pipe).map_or("", |pipe| &*pipe.name);
        return not_stated(format!("`{name}`: the size of `{pipe}`, which is joined to it"));
    }
    let of = |wanted: Opening| {
        let mut sizes = openings
            .iter()
            .filter(|(_, opening)| *opening == wanted)
            .filter_map(|(pipe, _)| size_of(*pipe));
        (sizes.next(), sizes.next())
    };
    // A fitting at the upper end of a drain has the size of what it is joined to; an opening that no pipe is in that of its
    // outlet.
    let outlet = of(Opening::Outlet).0.unwrap_or(size);
    let known = |wanted: Opening| of(wanted).0.unwrap_or(outlet);
    let ends = Ends {
        outlet,
        inlet: known(Opening::Inlet),
        branch: known(Opening::Branch),
    };
    if let (Some(one), Some(other)) = of(Opening::Branch)
        && dimensions.size(one) != dimensions.size(other)
    {
        return not_stated(format!(
            "`{name}`: dimensions of a {part} with branches of two sizes"
        ));
    }
    let opening = openings
        .iter()
        .find(|(id, _)| *id == pipe)
        .map(|(_, opening)| *opening);
    Ok(Joined {
        material,
        size,
        part,
        ends,
        openings,
        opening,
    })
}

/// The weaker of two ways of knowing.
fn weaker(one: Basis, other: Basis) -> Basis {
    let weak = [
        Basis::Invented,
        Basis::Memory,
        Basis::CommonPractice,
        Basis::Published,
    ];
    let found = weak.into_iter().find(|weak| [one, other].contains(weak));
    found.unwrap_or(Basis::Maker)
}

/// The sizes of a fitting as the trade reads them, the run before the branch.
fn called(dimensions: &Dimensions, ends: Ends, part: Part, openings: &[(PipeId, Opening)]) -> String {
    let has = |wanted: Opening| openings.iter().any(|(_, opening)| *opening == wanted);
    let differs = |size: NominalSize| dimensions.size(size) != dimensions.size(ends.outlet);
    let mut sizes: Vec<NominalSize> = vec![ends.outlet];
    if has(Opening::Inlet) && differs(ends.inlet) || part.has_branch() && differs(ends.branch) {
        sizes.push(ends.inlet);
    }
    if part.has_branch() && sizes.len() > 1 {
        sizes.push(ends.branch);
    }
    let sizes: Vec<_> = sizes.iter().map(NominalSize::to_string).collect();
    sizes.join(" x ")
}

/// By which opening of a fitting each of its pipes is joined to it: as its angle tells, and where that is not known, as
/// stated of what comes in, a vent taking what is left free.
fn openings(network: &Network, node: NodeId, part: Part) -> Vec<(PipeId, Opening)> {
    let Some(outlet) = angles::outlet(network, node) else {
        // The lower end of everything: a fitting there has one opening.
        let pipes = network.pipes_at(node, Incoming);
        return pipes.map(|pipe| (pipe, Opening::Outlet)).collect();
    };
    let branching = match part {
        Part::Fitting(pattern) => Some(pattern).filter(|pattern| pattern.has_branch()),
        Part::Cleanout | Part::Valve => None,
    };
    let mut openings = vec![(outlet, Opening::Outlet)];
    for pipe in angles::others(network, node, outlet) {
        let opening = match (branching, angles::angle(network, node, pipe, outlet)) {
            (None, _) => Opening::Inlet,
            (Some(pattern), Some(angle)) => match angles::entered(pattern, angle) {
                Inlet::Branch => Opening::Branch,
                _ => Opening::Inlet,
            },
            (Some(_), None) => stated(network, node, pipe, &openings),
        };
        openings.push((pipe, opening));
    }
    openings
}

/// The opening of a fitting with a branch that a pipe is stated to be joined to.
fn stated(network: &Network, node: NodeId, pipe: PipeId, taken: &[(PipeId, Opening)]) -> Opening {
    let graph = network.graph();
    let leaves = graph.edge_endpoints(pipe).is_some_and(|(from, _)| from == node);
    let branch = if leaves {
        taken.iter().any(|(_, opening)| *opening == Opening::Inlet)
    } else {
        graph
            .edge_weight(pipe)
            .is_some_and(|pipe| pipe.enters == Inlet::Branch)
    };
    if branch { Opening::Branch } else { Opening::Inlet }
}
