//! What holds of pipes and fixtures by themselves, and which pipes meet at a node.

use std::cmp::Ordering;
use std::collections::HashMap;

use crownweir_network::{Fixture, Network, Node, Pipe, PipeId, angles};
use crownweir_quantity::{Angle, Length, Slope};
use crownweir_rulebook::{RuleSet, Size};
use crownweir_vocabulary::{FixtureType, Inlet, Material, Role, RunKind};

use super::{Distance, NONE, Reach, both_storeys, index};

/// What holds of a pipe by itself. All that rules ask of it, so that they need not follow it into the network.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct PipeFacts {
    pub(crate) from: u32,
    pub(crate) to: u32,
    pub(crate) size: Option<Size>,
    pub(crate) run: u32,
    pub(crate) kind: RunKind,
    pub(crate) enters: Inlet,
    /// Vertical by the rule set's definition; not known without a slope.
    pub(crate) vertical: Option<bool>,
    pub(crate) length: Distance,
    /// Fall of a drain, rise of a vent.
    pub(crate) fall: Distance,
    pub(crate) support_spacing: Reach,
    /// The place of its slope among the slopes.
    pub(crate) slope: u32,
    pub(crate) material: Option<Material>,
    pub(crate) mid_storey_guide: Option<bool>,
    pub(crate) underground: bool,
}

impl PipeFacts {
    /// What stands in the place of a pipe that there is no more.
    pub(crate) const GONE: Self = Self {
        from: NONE,
        to: NONE,
        size: None,
        run: NONE,
        kind: RunKind::Branch,
        enters: Inlet::Run,
        vertical: None,
        length: Distance::ZERO,
        fall: Distance::ZERO,
        support_spacing: Reach::NONE,
        slope: NONE,
        material: None,
        mid_storey_guide: None,
        underground: false,
    };

    pub(crate) fn is_there(&self) -> bool {
        self.from != NONE
    }

    pub(crate) fn new(
        network: &Network,
        rules: &RuleSet,
        number: u32,
        (from, to): (u32, u32),
        pipe: &Pipe,
        slopes: &mut Slopes,
    ) -> Self {
        let least_angle = rules.definitions.vertical.most_from_vertical;
        let slope = pipe.slope.map_or(NONE, |slope| slopes.place(slope, least_angle));
        let fall = pipe.slope.zip(pipe.length);
        // A slope that is still to be chosen may be level or vertical between its bounds, or only one of them.
        let within = || {
            let bounds = pipe.slope_bounds?;
            let [least, most] =
                [bounds.at_least, bounds.at_most].map(|slope| is_vertical(slope, least_angle));
            (least == most).then_some(least)
        };
        Self {
            from,
            to,
            size: pipe.size.and_then(|size| rules.ladder.find(size)),
            run: index(pipe.run.index()),
            kind: run_kind(network, pipe),
            enters: angles::enters(network, PipeId::new(number as usize)),
            vertical: slopes
                .list
                .get(slope as usize)
                .map(|known| known.1)
                .or_else(within),
            length: Distance::of(pipe.length, number),
            fall: Distance::of(fall.and_then(|(slope, length)| slope.fall_over(length)), number),
            support_spacing: Reach::to(
                pipe.support_spacing
                    .map(|spacing| Distance::known(spacing.nanometres())),
            ),
            slope,
            material: pipe.material,
            mid_storey_guide: pipe.mid_storey_guide,
            underground: pipe.underground,
        }
    }
}

/// For each node the pipes of a role that enter it, or leave it, one list after the other.
#[derive(Debug, Clone, Default)]
pub(crate) struct Adjacency {
    pub(crate) start: Vec<u32>,
    pub(crate) pipes: Vec<u32>,
    /// The lists of nodes where pipes have come or gone since.
    altered: HashMap<u32, Vec<u32>>,
}

impl Adjacency {
    /// Lists the pipes of `role` by the node that `end` names, in the order of their numbers.
    pub(crate) fn new(nodes: usize, pipes: &[PipeFacts], role: Role, end: fn(&PipeFacts) -> u32) -> Self {
        let wanted = || {
            let numbered = (0..index(pipes.len())).zip(pipes);
            numbered.filter(|(_, pipe)| pipe.is_there() && pipe.kind.role() == role)
        };
        let mut start = vec![0_u32; nodes + 1];
        for (_, pipe) in wanted() {
            start[end(pipe) as usize] += 1;
        }
        let mut sum = 0;
        for count in &mut start {
            sum += *count;
            *count = sum;
        }
        // Each list is filled from its end, which moves its bound to its beginning.
        let mut list = vec![0; sum as usize];
        for (number, pipe) in wanted().rev() {
            let bound = &mut start[end(pipe) as usize];
            *bound -= 1;
            list[*bound as usize] = number;
        }
        Self {
            start,
            pipes: list,
            altered: HashMap::new(),
        }
    }

    pub(crate) fn of(&self, node: u32) -> &[u32] {
        if !self.altered.is_empty()
            && let Some(altered) = self.altered.get(&node)
        {
            return altered;
        }
        let bound = |node: usize| self.start.get(node).map_or(0, |&at| at as usize);
        self.pipes
            .get(bound(node as usize)..bound(node as usize + 1))
            .unwrap_or_default()
    }

    /// Has a pipe join those of a node, in the order of their numbers.
    pub(crate) fn join(&mut self, node: u32, pipe: u32) {
        let mut pipes = self.of(node).to_vec();
        if let Err(at) = pipes.binary_search(&pipe) {
            pipes.insert(at, pipe);
        }
        self.altered.insert(node, pipes);
    }

    /// Has a pipe leave those of a node.
    pub(crate) fn part(&mut self, node: u32, pipe: u32) {
        let mut pipes = self.of(node).to_vec();
        pipes.retain(|&own| own != pipe);
        self.altered.insert(node, pipes);
    }

    /// Orders the pipes at each node that has several.
    pub(crate) fn sort(&mut self, mut order: impl FnMut(u32, u32) -> Ordering) {
        for bounds in self.start.windows(2) {
            let of_node = self.pipes.get_mut(bounds[0] as usize..bounds[1] as usize);
            if let Some(several @ [_, _, ..]) = of_node {
                several.sort_by(|one, other| order(*one, *other));
            }
        }
    }
}

/// What the passes need of a fixture, so that they need not follow it into the network.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct FixtureFacts {
    pub(crate) node: u32,
    pub(crate) storey: u32,
    pub(crate) fixture_type: FixtureType,
    /// The place in a bathroom group that it could take.
    pub(crate) group_place: Option<u8>,
    pub(crate) has_trap: bool,
    /// Whether its trap comes apart by hand; what has none has none that does.
    pub(crate) removable_trap: Option<bool>,
    /// Whether it is there still; what has gone leaves its place in the list.
    pub(crate) is_there: bool,
    /// The size of its trap.
    pub(crate) trap: Option<Size>,
    /// Height of the flood level rim above the datum, in nanometres.
    pub(crate) rim: Option<i64>,
    /// Height of its trap weir, which no rim lies below.
    pub(crate) weir: Option<i64>,
}

impl FixtureFacts {
    /// Lets its storey count among the lowest and the highest of several, or notes that it states none.
    pub(super) fn note_storey(&self, storeys: &mut (u32, u32), gap: &mut u32) {
        if self.storey == NONE {
            *gap = self.node;
        } else {
            *storeys = both_storeys(*storeys, (self.storey, self.storey));
        }
    }

    pub(crate) fn new(
        network: &Network,
        rules: &RuleSet,
        number: u32,
        node: &Node,
        fixture: &Fixture,
    ) -> Self {
        let floor = node
            .storey
            .and_then(|storey| network.storeys().get(storey as usize))
            .and_then(|storey| storey.elevation);
        let rim = floor
            .zip(fixture.rim_height)
            .and_then(|(floor, height)| floor.checked_add(height));
        let mut places = rules.definitions.bathroom_group.places();
        let place = places.position(|place| place.contains(&fixture.fixture_type));
        Self {
            node: number,
            storey: node.storey.unwrap_or(NONE),
            fixture_type: fixture.fixture_type,
            group_place: place.and_then(|place| u8::try_from(place).ok()),
            has_trap: fixture.has_trap(),
            removable_trap: fixture.trap.removable.or((!fixture.has_trap()).then_some(false)),
            is_there: true,
            trap: fixture.trap.size.and_then(|size| rules.ladder.find(size)),
            rim: rim.map(Length::nanometres),
            weir: node.elevation.map(Length::nanometres),
        }
    }
}

/// Each slope that occurs, and whether it is vertical by the rule set's definition: most pipes share a few slopes, and
/// an arc tangent is slow.
#[derive(Debug, Clone, Default)]
pub(crate) struct Slopes {
    pub(crate) list: Vec<(Slope, bool)>,
    pub(crate) index: HashMap<Slope, u32>,
    pub(crate) last: u32,
}

impl Slopes {
    /// The place of a slope in the list.
    pub(crate) fn place(&mut self, slope: Slope, least_angle: Angle) -> u32 {
        if self
            .list
            .get(self.last as usize)
            .is_none_or(|known| known.0 != slope)
        {
            let list = &mut self.list;
            self.last = *self.index.entry(slope).or_insert_with(|| {
                list.push((slope, is_vertical(slope, least_angle)));
                index(list.len() - 1)
            });
        }
        self.last
    }
}

/// By the rule set's own definition of vertical.
fn is_vertical(slope: Slope, most_from_vertical: Angle) -> bool {
    slope.angle_from_vertical() <= most_from_vertical
}

fn run_kind(network: &Network, pipe: &Pipe) -> RunKind {
    network.run(pipe.run).map_or(RunKind::Branch, |run| run.kind)
}
