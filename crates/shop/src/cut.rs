//! The pieces that pipes are cut to: centre to centre less what each fitting takes, into the sockets to their stops.
//!
//! A piece for which a figure is missing is not cut; the figure is named.

use std::collections::{HashMap, VecDeque};

use crownweir_network::{Network, NodeId, NodeKind, PipeId};
use crownweir_quantity::{Length, NominalSize};
use crownweir_vocabulary::{FittingPattern, Inlet, Role, TrapKind};
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::visit::EdgeRef;

use crate::angles;
use crate::dimensions::{Basis, Dimensions, Ends, Part};
use crate::geometry::Geometry;
use crate::sheet::{on_tape, rounded};

/// The piece of pipe between two nodes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// The pipe of the network that it is.
    pub pipe: PipeId,
    /// Its number on sheets and drawings: `D` for drains and `V` for vents, counted as the file has them.
    pub mark: String,
    /// From centre to centre of the fittings at its ends, to the rounding of a tape.
    pub centres: Option<Length>,
    /// What the fittings at its start and its end take of that.
    pub ends: [End; 2],
    /// From end to end, ready to be cut.
    pub cut: Cut,
    /// What to mind.
    pub remarks: Vec<String>,
}

/// How long a piece is cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cut {
    /// So long.
    To(Length),
    /// There is no room for it: its fittings need so much from centre to centre.
    NoRoom(Length),
    /// What is missing to tell.
    NotStated(Vec<String>),
}

impl Piece {
    /// Where it stands among the pieces: drains before vents, by number.
    pub(crate) fn number(&self) -> (char, u64) {
        let mut mark = self.mark.chars();
        let letter = mark.next().unwrap_or_default();
        (letter, mark.as_str().parse().unwrap_or(u64::MAX))
    }

    /// Whether it is cut by figures that are known in such a way.
    pub(crate) fn is_by(&self, basis: Basis) -> bool {
        let by = |end: &End| matches!(end, End::Fitting { basis: own, .. } if *own == basis);
        self.length().is_some() && self.ends.iter().any(by)
    }

    /// From end to end, where it is cut.
    #[must_use]
    pub fn length(&self) -> Option<Length> {
        match self.cut {
            Cut::To(length) => Some(length),
            Cut::NoRoom(_) | Cut::NotStated(_) => None,
        }
    }
}

/// What the end of a piece does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum End {
    /// It goes into a fitting: so far from its centre the pipe stops, and so far it is inside.
    Fitting {
        /// From the centre to the stop of the socket, or to the end that the pipe is butted against and the gap there.
        stop: Length,
        /// How far the pipe is inside.
        engagement: Option<Length>,
        /// How the figures are known, the weaker of fitting and joint.
        basis: Basis,
    },
    /// It ends at the trap weir and is trimmed to the trap on site.
    Trap,
    /// It ends here: a terminal, the point of disposal.
    Open,
    /// What is missing.
    NotStated(String),
}

impl End {
    /// How far the pipe is inside of what is at its end.
    fn engagement(&self) -> Length {
        match self {
            Self::Fitting { engagement, .. } => engagement.unwrap_or_default(),
            _ => Length::ZERO,
        }
    }

    /// How far short of the centre the pipe stops.
    fn stop(&self) -> Result<Length, String> {
        match self {
            Self::Fitting { stop, .. } => Ok(*stop),
            Self::Trap | Self::Open => Ok(Length::ZERO),
            Self::NotStated(missing) => Err(missing.clone()),
        }
    }
}

/// The numbers of all pipes, by their indices.
#[must_use]
pub fn marks(network: &Network) -> Vec<String> {
    let graph = network.graph();
    let mut order: Vec<_> = graph.edge_references().collect();
    order.sort_by_key(|pipe| {
        let storey = graph.node_weight(pipe.source()).and_then(|node| node.storey);
        let own = pipe.weight();
        (own.position.line, own.position.column, storey, pipe.id())
    });
    let mut marks = vec![String::new(); graph.edge_count()];
    let (mut drains, mut vents) = (0, 0);
    for pipe in order {
        let (letter, count) = match pipe.weight().role {
            Role::Vent => ('V', &mut vents),
            _ => ('D', &mut drains),
        };
        *count += 1;
        if let Some(mark) = marks.get_mut(pipe.id().index()) {
            *mark = format!("{letter}{count}");
        }
    }
    marks
}

/// Every piece of a network, in the order of the pipes' indices. A fixture's own outlet, down to its flange, is none.
#[must_use]
pub fn pieces(network: &Network, geometry: &Geometry, dimensions: &Dimensions) -> Vec<Piece> {
    let graph = network.graph();
    let mut marks = marks(network).into_iter();
    let mut pieces: Vec<Option<Piece>> = graph
        .edge_references()
        .map(|edge| {
            let mark = marks.next().unwrap_or_default();
            if is_of_fixture(network, edge.source(), edge.target()) {
                return None;
            }
            let ends = [edge.source(), edge.target()].map(|node| end(network, dimensions, edge.id(), node));
            Some(Piece {
                pipe: edge.id(),
                mark,
                centres: None,
                ends,
                cut: Cut::NotStated(Vec::new()),
                remarks: Vec::new(),
            })
        })
        .collect();
    Laying::new(network, geometry).lay(&mut pieces);
    let mut pieces: Vec<Piece> = pieces.into_iter().flatten().collect();
    for piece in &mut pieces {
        mind(network, dimensions, piece);
    }
    mind_couplings(network, dimensions, &mut pieces);
    pieces
}

/// Whether a pipe is a fixture's own outlet, which comes with it: that of a water closet down to its flange.
pub(crate) fn is_of_fixture(network: &Network, from: NodeId, to: NodeId) -> bool {
    let graph = network.graph();
    let integral = matches!(
        graph.node_weight(from).map(|node| &node.kind),
        Some(NodeKind::Fixture(fixture)) if fixture.trap.kind == Some(TrapKind::Integral)
    );
    let flange = matches!(
        graph.node_weight(to).map(|node| &node.kind),
        Some(NodeKind::Fitting {
            pattern: Some(FittingPattern::ClosetFlange)
        })
    );
    integral && flange
}

/// No fitting has more openings than two in its run and two branches.
const MOST_OPENINGS: usize = 4;

/// The openings of a fitting, as its dimensions tell them apart.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Opening {
    Outlet,
    Inlet,
    Branch,
}

fn end(network: &Network, dimensions: &Dimensions, pipe: PipeId, node: NodeId) -> End {
    let graph = network.graph();
    let (Some(own), Some(at)) = (graph.edge_weight(pipe), graph.node_weight(node)) else {
        return End::Open;
    };
    let name = &at.name;
    let part = match &at.kind {
        NodeKind::Fixture(_) => return End::Trap,
        NodeKind::Terminal(_) | NodeKind::Disposal => return End::Open,
        NodeKind::Cleanout(_) => Part::Cleanout,
        NodeKind::Valve(_) => Part::Valve,
        NodeKind::Fitting { pattern: None } => return End::NotStated(format!("`{name}`: its pattern")),
        NodeKind::Fitting {
            pattern: Some(pattern),
        } => Part::Fitting(*pattern),
    };
    let Some(material) = own.material else {
        return End::NotStated(format!("`{}`: its material", own.name));
    };
    let Some(size) = own.size else {
        return End::NotStated(format!("`{}`: its size", own.name));
    };
    let joined = graph.neighbors_undirected(node).take(MOST_OPENINGS + 1).count();
    if joined > MOST_OPENINGS {
        return End::NotStated(format!(
            "`{name}`: of which fittings it is made, for more than {MOST_OPENINGS} pipes"
        ));
    }
    let openings = openings(network, node, part);
    let of = |wanted: Opening| {
        let mut sizes = openings
            .iter()
            .filter(|(_, opening)| *opening == wanted)
            .map(|(pipe, _)| graph.edge_weight(*pipe).and_then(|pipe| pipe.size));
        (sizes.next(), sizes.next())
    };
    let outlet = match of(Opening::Outlet).0 {
        Some(Some(size)) => size,
        // A fitting at the upper end of a drain has the size of what it is joined to.
        _ => size,
    };
    let known = |wanted: Opening| of(wanted).0.flatten().unwrap_or(outlet);
    let ends = Ends {
        outlet,
        inlet: known(Opening::Inlet),
        branch: known(Opening::Branch),
    };
    if let (Some(one), Some(other)) = of(Opening::Branch)
        && one.map(|size| dimensions.size(size)) != other.map(|size| dimensions.size(size))
    {
        return End::NotStated(format!(
            "`{name}`: dimensions of a {part} with branches of two sizes"
        ));
    }
    let opening = openings
        .iter()
        .find(|(id, _)| *id == pipe)
        .map(|(_, opening)| *opening);
    let missing = |what: &str| {
        End::NotStated(format!(
            "{what} of a {} {material} {part}",
            called(dimensions, ends, part, &openings)
        ))
    };
    let Some(fitting) = dimensions.fitting(material, part, ends) else {
        return missing("dimensions");
    };
    let stop = match opening {
        Some(Opening::Outlet) => fitting.outlet,
        Some(Opening::Inlet) => fitting.inlet,
        Some(Opening::Branch) => fitting.branch,
        None => None,
    };
    let (Some(stop), Some(joint)) = (stop, dimensions.joint(material, size)) else {
        return missing(match stop {
            None => "the centre-to-stop",
            Some(_) => "the joint",
        });
    };
    let Some(stop) = stop.checked_add(joint.gap.unwrap_or_default()) else {
        return missing("a usable centre-to-stop");
    };
    End::Fitting {
        stop,
        engagement: joint.engagement,
        basis: weaker(fitting.source.basis, joint.source.basis),
    }
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
    let graph = network.graph();
    let Some(outlet) = angles::outlet(network, node) else {
        // The lower end of everything: a fitting there has one opening.
        let pipes = graph.edges_directed(node, Incoming);
        return pipes.map(|pipe| (pipe.id(), Opening::Outlet)).collect();
    };
    let turn = match part {
        Part::Fitting(pattern) if pattern.has_branch() => Some(angles::turn(pattern)),
        _ => None,
    };
    let mut openings = vec![(outlet, Opening::Outlet)];
    for pipe in angles::others(network, node, outlet) {
        let opening = match (turn, angles::angle(network, node, pipe, outlet)) {
            (None, _) => Opening::Inlet,
            (Some(turn), Some(angle)) if (angle - turn).abs() < angle => Opening::Branch,
            (Some(_), Some(_)) => Opening::Inlet,
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

/// Lays pieces and fittings end to end from the point of disposal on, each piece cut to the tape so that the next
/// fitting comes to stand where it belongs: what one piece is too long the next is shorter, and nothing adds up.
struct Laying<'a> {
    network: &'a Network,
    geometry: &'a Geometry,
    /// How far each node as laid is from where it belongs, in nanometres; east, north, up.
    off: Vec<Option<[f64; 3]>>,
}

impl<'a> Laying<'a> {
    fn new(network: &'a Network, geometry: &'a Geometry) -> Self {
        Self {
            network,
            geometry,
            off: vec![None; network.graph().node_count()],
        }
    }

    fn lay(&mut self, pieces: &mut [Option<Piece>]) {
        let graph = self.network.graph();
        let mut cut = vec![false; graph.edge_count()];
        let starts = std::iter::once(self.network.disposal()).chain(graph.node_indices());
        for start in starts {
            if self.off.get(start.index()).copied().flatten().is_some() {
                continue;
            }
            self.set(start, [0.0; 3]);
            let mut waiting = VecDeque::from([start]);
            while let Some(node) = waiting.pop_front() {
                // Drains before vents, which are fitted in last.
                let mut pipes: Vec<_> = [Incoming, Outgoing]
                    .into_iter()
                    .flat_map(|direction| graph.edges_directed(node, direction))
                    .map(|pipe| (pipe.weight().role, pipe.id(), pipe.source(), pipe.target()))
                    .collect();
                pipes.sort_unstable();
                for (_, id, from, to) in pipes {
                    if cut
                        .get_mut(id.index())
                        .is_none_or(|cut| std::mem::replace(cut, true))
                    {
                        continue;
                    }
                    let other = if from == node { to } else { from };
                    let fresh = self.off.get(other.index()).copied().flatten().is_none();
                    let off = self.cut(id, node, other, pieces);
                    if fresh {
                        self.set(other, off);
                        waiting.push_back(other);
                    }
                }
            }
        }
    }

    fn set(&mut self, node: NodeId, off: [f64; 3]) {
        if let Some(place) = self.off.get_mut(node.index()) {
            *place = Some(off);
        }
    }

    fn off(&self, node: NodeId) -> [f64; 3] {
        self.off.get(node.index()).copied().flatten().unwrap_or_default()
    }

    /// Cuts the piece between a node that is laid and another; gives how far off the other then is.
    fn cut(&self, pipe: PipeId, laid: NodeId, other: NodeId, pieces: &mut [Option<Piece>]) -> [f64; 3] {
        let notation = self.network.notation();
        let off = self.off(laid);
        let Some(length) = self.geometry.way(pipe).length else {
            if let Some(Some(piece)) = pieces.get_mut(pipe.index()) {
                let name = self
                    .network
                    .graph()
                    .edge_weight(pipe)
                    .map_or("", |pipe| &*pipe.name);
                let mut missing = vec![format!("`{name}`: its length")];
                missing.extend(piece.ends.iter().filter_map(|end| end.stop().err()));
                missing.dedup();
                piece.cut = Cut::NotStated(missing);
            }
            return off;
        };
        // Its direction in space, from the node that is laid; without one it is cut by its length alone.
        let way = self.way(laid, other);
        let ahead = way.map_or(0.0, |way| dot(off, way));
        let behind = match (way, self.off.get(other.index()).copied().flatten()) {
            (Some(way), Some(off)) => dot(off, way),
            _ => 0.0,
        };
        let wanted = nanometres(length.nanometres() as f64 - ahead + behind);
        let stops = pieces
            .get(pipe.index())
            .and_then(Option::as_ref)
            .map_or([Ok(Length::ZERO), Ok(Length::ZERO)], |piece| {
                [piece.ends[0].stop(), piece.ends[1].stop()]
            });
        let mut missing: Vec<String> = stops.iter().filter_map(|stop| stop.clone().err()).collect();
        missing.dedup();
        let taken = stops
            .iter()
            .filter_map(|stop| stop.as_ref().ok())
            .try_fold(Length::ZERO, |sum, stop| sum.checked_add(*stop))
            .unwrap_or_default();
        let cut = rounded(wanted.checked_sub(taken).unwrap_or_default(), notation);
        let centres = cut.checked_add(taken).unwrap_or(length);
        if let Some(Some(piece)) = pieces.get_mut(pipe.index()) {
            piece.centres = Some(centres);
            piece.cut = if missing.is_empty() {
                room(piece, cut, taken)
            } else {
                Cut::NotStated(missing)
            };
        }
        let grown = (centres.nanometres() - wanted.nanometres()) as f64 - ahead + behind;
        way.map_or(off, |way| {
            let mut off = off;
            for (off, way) in off.iter_mut().zip(way) {
                *off += grown * way;
            }
            off
        })
    }

    /// The way from one node to another, of length one; none where a place is not known.
    fn way(&self, from: NodeId, to: NodeId) -> Option<[f64; 3]> {
        let (from, to) = (
            self.geometry.place(from).known()?,
            self.geometry.place(to).known()?,
        );
        let mut way = [0.0; 3];
        for ((way, to), from) in way.iter_mut().zip(to).zip(from) {
            *way = to.checked_sub(from)?.nanometres() as f64;
        }
        let length = dot(way, way).sqrt();
        (length > 0.0).then(|| way.map(|part| part / length))
    }
}

/// The cut of a piece, if there is room for one: fittings do not go into each other.
fn room(piece: &Piece, cut: Length, taken: Length) -> Cut {
    let inside = piece.ends.iter().map(End::engagement);
    let inside = inside.fold(Length::ZERO, |sum, end| sum.checked_add(end).unwrap_or(sum));
    if cut < inside || cut <= Length::ZERO {
        return Cut::NoRoom(taken.checked_add(inside).unwrap_or(taken));
    }
    Cut::To(cut)
}

/// Notes what a plumber would want to know before cutting.
fn mind(network: &Network, dimensions: &Dimensions, piece: &mut Piece) {
    let (Some(own), Cut::To(cut), notation) = (
        network.graph().edge_weight(piece.pipe),
        &piece.cut,
        network.notation(),
    ) else {
        return;
    };
    let cut = *cut;
    let (Some(material), Some(size)) = (own.material, own.size) else {
        return;
    };
    if piece.ends.contains(&End::Trap) {
        piece
            .remarks
            .push("to the trap weir: trim to the trap".to_owned());
    }
    if piece.is_by(Basis::Memory) {
        piece.remarks.push("by figures from memory".to_owned());
    }
    if let [
        End::Fitting {
            engagement: Some(start),
            ..
        },
        End::Fitting {
            engagement: Some(end),
            ..
        },
    ] = &piece.ends
    {
        // A coupling without a stop is at least as long as the two ends that it holds.
        let coupling = dimensions
            .joint(material, size)
            .and_then(|joint| joint.repair_coupling);
        let coupling = coupling.or_else(|| start.checked_add(*end));
        let clear = cut.checked_sub(*start).and_then(|cut| cut.checked_sub(*end));
        if let (Some(coupling), Some(clear)) = (coupling, clear)
            && clear < coupling
        {
            piece.remarks.push(format!(
                "{} clear: too close for a repair coupling of {}",
                on_tape(clear, notation),
                on_tape(coupling, notation)
            ));
        }
    }
    if let Some(&longest) = dimensions.stock(material).last()
        && cut > longest
    {
        piece.remarks.push(format!(
            "longer than stock of {}: join with couplings",
            on_tape(longest, notation)
        ));
    }
}

/// Notes the couplings between two pieces that one longer piece would do without.
fn mind_couplings(network: &Network, dimensions: &Dimensions, pieces: &mut [Piece]) {
    let graph = network.graph();
    let by_pipe: HashMap<PipeId, usize> = pieces
        .iter()
        .enumerate()
        .map(|(index, piece)| (piece.pipe, index))
        .collect();
    let mut remarks = Vec::new();
    for (index, piece) in pieces.iter().enumerate() {
        let Some((_, node)) = graph.edge_endpoints(piece.pipe) else {
            continue;
        };
        let coupling = matches!(
            graph.node_weight(node).map(|node| &node.kind),
            Some(NodeKind::Fitting {
                pattern: Some(FittingPattern::Coupling)
            })
        );
        let next = graph.edges(node).next().and_then(|next| by_pipe.get(&next.id()));
        let Some(next) = next.and_then(|next| pieces.get(*next)).filter(|_| coupling) else {
            continue;
        };
        let of = |piece: &Piece| {
            graph
                .edge_weight(piece.pipe)
                .and_then(|own| own.material.zip(own.size))
        };
        let (Some((material, size)), true) = (of(piece), of(piece) == of(next)) else {
            continue;
        };
        let Some(stop) = piece.ends[1].stop().ok().zip(next.ends[0].stop().ok()) else {
            continue;
        };
        let parts = [piece.length(), next.length(), Some(stop.0), Some(stop.1)];
        let whole = parts
            .into_iter()
            .try_fold(Length::ZERO, |sum, part| sum.checked_add(part?));
        if let (Some(whole), Some(&longest)) = (whole, dimensions.stock(material).last())
            && whole <= longest
        {
            let whole = on_tape(whole, network.notation());
            remarks.push((
                index,
                format!(
                    "one piece of {whole} would do for this and {} ({size}), without the coupling",
                    next.mark
                ),
            ));
        }
    }
    for (index, remark) in remarks {
        if let Some(piece) = pieces.get_mut(index) {
            piece.remarks.push(remark);
        }
    }
}

fn dot(one: [f64; 3], other: [f64; 3]) -> f64 {
    one.iter().zip(other).map(|(one, other)| one * other).sum()
}

fn nanometres(figure: f64) -> Length {
    Length::from_metres_f64(figure / 1e9).unwrap_or_default()
}
