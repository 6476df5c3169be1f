//! A schematic riser for a network without coordinates: storeys as levels, stacks as columns, drains as trees that
//! take their room side by side so that no two cross.
//!
//! Nothing in it is to scale, and directions in plan are not shown: the network does not state them.

use std::collections::{BTreeMap, HashMap};

use crownweir_network::RunId;

use crate::sheets::Parts;
use crate::web::{NONE, Web};

/// The least length of a level pipe.
const LENGTH: i32 = 46;
/// Between what stands side by side.
const GAP: i32 = 12;
/// Between the ports of a node at which vents begin.
const PORT: i32 = 13;

/// How wide, and how many storeys high, the drains of a sheet may come to be: about what a page can show.
const WIDE: i32 = 1_400;
const HIGH: u32 = 5;
/// Fewer fixtures are not worth a sheet.
const LEAST: u32 = 3;

/// How much room things take.
pub(crate) trait Room {
    /// Of what stands at a node, from its point to the side that it faces.
    fn node(&self, node: u32) -> i32;
    /// The least length of a level pipe with its figures.
    fn pipe(&self, pipe: u32) -> i32;
    /// Of a flag that tells where a pipe goes on.
    fn flag(&self, pipe: u32) -> i32;
}

/// A drain that leads into a node, or the stub of one from another sheet.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kid {
    pub(crate) pipe: u32,
    /// The node at its upper end; none of a stub.
    pub(crate) node: Option<u32>,
    /// How far from the node below, on the side it is laid to.
    dx: i32,
    /// By how many rows it is lifted before it goes on.
    pub(crate) lane: i32,
    side: i32,
    lead: Lead,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lead {
    /// The line goes straight on.
    Straight,
    /// A vertical pipe from a level one.
    Up,
    /// From the side.
    Side,
}

/// What a node and all upstream of it take in each storey, from the node's point: back and outward.
#[derive(Debug, Clone, Default)]
struct Extent(BTreeMap<u32, (i32, i32)>);

impl Extent {
    fn widen(&mut self, storey: u32, back: i32, out: i32) {
        let taken = self.0.entry(storey).or_insert((back, out));
        *taken = (taken.0.max(back), taken.1.max(out));
    }

    /// How far out something must stand to keep clear of this.
    fn clear(&self, other: &Self) -> i32 {
        let both = other
            .0
            .iter()
            .filter_map(|(storey, (back, _))| Some(self.0.get(storey)?.1 + back + GAP));
        both.max().unwrap_or(0)
    }

    /// Takes in what stands that far out.
    fn add(&mut self, other: &Self, dx: i32) {
        for (&storey, &(back, out)) in &other.0 {
            self.widen(storey, back - dx, dx + out);
        }
    }

    /// The same, seen from the other side.
    fn turned(mut self) -> Self {
        for taken in self.0.values_mut() {
            *taken = (taken.1, taken.0);
        }
        self
    }

    /// From its leftmost to its rightmost point.
    fn width(&self) -> i32 {
        let back = self.0.values().map(|taken| taken.0).max().unwrap_or(0);
        back + self.widest()
    }

    /// How many storeys it reaches through.
    fn storeys(&self) -> u32 {
        let ends = self.0.first_key_value().zip(self.0.last_key_value());
        ends.map_or(0, |(lowest, highest)| highest.0 - lowest.0 + 1)
    }

    fn widest(&self) -> i32 {
        self.0.values().map(|taken| taken.1).max().unwrap_or(0)
    }
}

/// A place in rows: the storey, and the row within it, counted up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Level {
    pub(crate) band: u32,
    pub(crate) row: i32,
}

/// Where a node is before rows have heights.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spot {
    pub(crate) x: i32,
    pub(crate) level: Level,
    /// 1 where the line runs to the right, -1 where to the left.
    pub(crate) facing: i32,
}

/// How the drains of the whole network are laid beside one another, and where sheets end.
#[derive(Debug)]
pub(crate) struct Arranged {
    /// What leads into each node.
    kids: Vec<Vec<Kid>>,
    /// Where a vent begins beside its node, toward the side that the node faces.
    ports: HashMap<u32, i32>,
    /// The drains at which a sheet ends and another begins.
    pub(crate) is_cut: Vec<bool>,
}

/// The drains of a sheet, laid out in columns and rows.
#[derive(Debug)]
pub(crate) struct Drains<'a> {
    pub(crate) spots: HashMap<u32, Spot>,
    arranged: &'a Arranged,
    /// Stubs from other sheets: the pipe, and where it comes in.
    pub(crate) stubs: Vec<(u32, Spot)>,
}

impl Drains<'_> {
    pub(crate) fn kids(&self, node: u32) -> &[Kid] {
        self.arranged.kids.get(node as usize).map_or(&[], Vec::as_slice)
    }

    pub(crate) fn port(&self, node: u32) -> i32 {
        self.arranged.ports.get(&node).copied().unwrap_or(0)
    }
}

/// What is upstream is arranged first: how much room it takes decides how far apart the nodes below stand, and where a
/// sheet is full.
pub(crate) fn arrange(web: &Web<'_>, room: &dyn Room) -> Arranged {
    let mut arranging = Arranging {
        web,
        room,
        extents: HashMap::new(),
        fixtures: vec![0; web.down.len()],
        arranged: Arranged {
            kids: vec![Vec::new(); web.down.len()],
            ports: HashMap::new(),
            is_cut: vec![false; web.from.len()],
        },
    };
    for node in web.drain_order() {
        arranging.node(node);
    }
    arranging.arranged
}

pub(crate) fn drains<'a>(web: &Web<'_>, parts: &Parts, sheet: u32, arranged: &'a Arranged) -> Drains<'a> {
    let nodes = parts.drains.get(sheet as usize).map_or(&[][..], Vec::as_slice);
    let mut laid = Drains {
        spots: HashMap::with_capacity(nodes.len()),
        arranged,
        stubs: Vec::new(),
    };
    for &node in nodes {
        laid.settle(web, parts, sheet, node);
    }
    laid
}

struct Arranging<'a> {
    web: &'a Web<'a>,
    room: &'a dyn Room,
    extents: HashMap<u32, Extent>,
    /// Fixtures upstream of each node that are on its sheet.
    fixtures: Vec<u32>,
    arranged: Arranged,
}

impl Arranging<'_> {
    /// Arranges what leads into a node; while that makes a sheet too large, something of it goes on one of its own.
    fn node(&mut self, node: u32) {
        let web = self.web;
        let inlets = &web.drains_in[node as usize];
        let (mut kids, mut extent) = self.arrange(node);
        while let Some(pipe) = self.to_cut(node, &extent) {
            self.arranged.is_cut[pipe as usize] = true;
            (kids, extent) = self.arrange(node);
        }
        let mut fixtures = u32::from(inlets.is_empty());
        for &pipe in inlets {
            let from = web.from[pipe as usize];
            self.extents.remove(&from);
            if !self.arranged.is_cut[pipe as usize] {
                fixtures += self.fixtures[from as usize];
            }
        }
        self.fixtures[node as usize] = fixtures;
        self.extents.insert(node, extent);
        self.arranged.kids[node as usize] = kids;
    }

    /// What should leave the sheet that has come to be so large: a branch rather than what goes straight on, then the
    /// widest.
    fn to_cut(&self, node: u32, extent: &Extent) -> Option<u32> {
        let web = self.web;
        let too_wide = extent.width() > WIDE;
        let too_high = extent.storeys() > HIGH;
        if !too_wide && !too_high {
            return None;
        }
        let run = web.run.get(web.down[node as usize] as usize);
        let inlets = web.drains_in[node as usize].iter().copied();
        let cuttable = inlets.filter(|&pipe| {
            let from = web.from[pipe as usize];
            let enough = self.fixtures[from as usize] >= LEAST;
            let between = web.storey[from as usize] != web.storey[node as usize];
            !self.arranged.is_cut[pipe as usize] && enough && (too_wide || between)
        });
        cuttable.max_by_key(|&pipe| {
            let own = self.extents.get(&web.from[pipe as usize]);
            let size = own.map_or((0, 0), |own| match too_high {
                true => (own.storeys(), 0),
                false => (0, own.width()),
            });
            (web.run.get(pipe as usize) != run || too_high, size)
        })
    }

    fn arrange(&mut self, node: u32) -> (Vec<Kid>, Extent) {
        let web = self.web;
        let mut level = Vec::new();
        let mut upright = Vec::new();
        for &pipe in &web.drains_in[node as usize] {
            let from = web.from[pipe as usize];
            let kid = Kid {
                pipe,
                node: (!self.arranged.is_cut[pipe as usize]).then_some(from),
                dx: 0,
                lane: 0,
                side: 1,
                lead: Lead::Side,
            };
            match web.is_upright[pipe as usize] {
                true => upright.push(kid),
                false => level.push(kid),
            }
        }
        let down = web.down[node as usize];
        let own = self.room.node(node);
        if down != NONE && web.is_upright[down as usize] {
            self.on_a_riser(node, down, own, level, upright)
        } else {
            self.on_a_branch(node, down, own, level, upright)
        }
    }

    /// What a kid takes from its own point.
    fn takes(&self, kid: &Kid) -> Extent {
        match kid.node {
            Some(node) => self.extents.get(&node).cloned().unwrap_or_default(),
            None => {
                let mut extent = Extent::default();
                let storey = self.web.storey[self.web.to[kid.pipe as usize] as usize];
                extent.widen(storey, GAP, self.room.flag(kid.pipe));
                extent
            }
        }
    }

    /// The widest, so that it goes straight on; one of the same run before all others.
    fn take_widest(&self, kids: &mut Vec<Kid>, run: Option<RunId>) -> Option<Kid> {
        let rank = |kid: &Kid| {
            let wide = kid.node.and_then(|node| self.extents.get(&node));
            (
                Some(self.web.run[kid.pipe as usize]) == run,
                wide.map_or(0, Extent::widest),
            )
        };
        let (place, _) = kids.iter().enumerate().max_by_key(|(_, kid)| rank(kid))?;
        Some(kids.remove(place))
    }

    /// A pipe that goes up passes all storeys up to that of its upper end.
    fn pass(&self, extent: &mut Extent, from: u32, kid: &Kid) {
        let to = kid.node.map_or(from, |node| self.web.storey[node as usize]);
        // A stack with nothing on it for very many storeys goes on on another sheet.
        for storey in from..=to.min(from.saturating_add(100)) {
            extent.widen(storey, GAP, GAP);
        }
    }

    fn on_a_branch(
        &mut self,
        node: u32,
        down: u32,
        own: i32,
        mut level: Vec<Kid>,
        mut upright: Vec<Kid>,
    ) -> (Vec<Kid>, Extent) {
        let storey = self.web.storey[node as usize];
        let run = self.web.run.get(down as usize).copied();
        let mut kids = Vec::new();
        let mut taken = Extent::default();
        taken.widen(storey, GAP, if level.is_empty() { own } else { 0 });
        let mut port = 0;
        if let Some(mut up) = self.take_widest(&mut upright, None) {
            let extent = self.takes(&up);
            taken.add(&extent, 0);
            self.pass(&mut taken, storey, &up);
            port = taken.0.get(&storey).map_or(0, |taken| taken.1) + 4;
            up.lead = Lead::Up;
            kids.push(up);
        }
        let vents = &self.web.vents_out[node as usize];
        if !vents.is_empty() {
            self.arranged.ports.insert(node, port);
            let count = i32::try_from(vents.len()).unwrap_or(1);
            taken.widen(storey, GAP, port + PORT * count - PORT);
        }
        let straight = self.take_widest(&mut level, run);
        let mut side: Vec<Kid> = level.into_iter().chain(upright).collect();
        // The nearest is lifted highest, so that those further out pass below it.
        let count = i32::try_from(side.len()).unwrap_or(i32::MAX);
        for (kid, lane) in side.iter_mut().zip((1..=count).rev()) {
            let extent = self.takes(kid);
            kid.dx = taken.clear(&extent).max(LENGTH);
            kid.lane = lane;
            taken.add(&extent, kid.dx);
        }
        kids.extend(side);
        if let Some(mut kid) = straight {
            let extent = self.takes(&kid);
            kid.dx = taken.clear(&extent).max(self.room.pipe(kid.pipe));
            kid.lead = Lead::Straight;
            taken.add(&extent, kid.dx);
            kids.push(kid);
        }
        (kids, taken)
    }

    fn on_a_riser(
        &mut self,
        node: u32,
        down: u32,
        own: i32,
        level: Vec<Kid>,
        mut upright: Vec<Kid>,
    ) -> (Vec<Kid>, Extent) {
        let is_stack = self.web.kind_of(down) == Some(crownweir_vocabulary::RunKind::Stack);
        let storey = self.web.storey[node as usize];
        let mut kids = Vec::new();
        let mut taken = Extent::default();
        let vents = i32::try_from(self.web.vents_out[node as usize].len()).unwrap_or(1);
        let is_end = level.is_empty() && upright.is_empty();
        let straight = self.take_widest(&mut upright, self.web.run.get(down as usize).copied());
        let mut least = if is_end { own } else { GAP };
        let mut port = 0;
        if let Some(mut kid) = straight {
            kid.lead = Lead::Straight;
            taken = self.takes(&kid);
            self.pass(&mut taken, storey, &kid);
            port = PORT;
            kids.push(kid);
        }
        if vents > 0 {
            self.arranged.ports.insert(node, port);
            least = least.max(port + PORT * vents - PORT + 4);
        }
        taken.widen(storey, GAP, least);
        let mut sides: [Vec<Kid>; 2] = [Vec::new(), Vec::new()];
        for mut kid in level.into_iter().chain(upright) {
            let extent = self.takes(&kid);
            let (out, back) = (taken.clear(&extent), taken.clone().turned().clear(&extent));
            let turns = match is_stack {
                true => back < out,
                false => !sides[0].is_empty() && sides[1].is_empty(),
            };
            let least = self.room.pipe(kid.pipe);
            if turns {
                kid.side = -1;
                kid.dx = back.max(least);
                taken = taken.turned();
                taken.add(&extent, kid.dx);
                taken = taken.turned();
            } else {
                kid.dx = out.max(least);
                taken.add(&extent, kid.dx);
            }
            sides[usize::from(turns)].push(kid);
        }
        for side in sides {
            let count = i32::try_from(side.len()).unwrap_or(i32::MAX);
            for (mut kid, lane) in side.into_iter().zip((0..count).rev()) {
                kid.lane = lane;
                kids.push(kid);
            }
        }
        (kids, taken)
    }
}

impl Drains<'_> {
    /// Gives the kids of a node their places from its own.
    fn settle(&mut self, web: &Web<'_>, parts: &Parts, sheet: u32, node: u32) {
        let is_root = parts.roots.get(sheet as usize) == Some(&node);
        if is_root {
            let level = Level {
                band: web.storey[node as usize],
                row: 1,
            };
            self.spots.insert(
                node,
                Spot {
                    x: 0,
                    level,
                    facing: 1,
                },
            );
        }
        let Some(&own) = self.spots.get(&node) else {
            return;
        };
        let kids = self
            .arranged
            .kids
            .get(node as usize)
            .map_or(&[][..], Vec::as_slice);
        let highest = kids.iter().map(|kid| kid.lane).max().unwrap_or(0);
        let down = web.down[node as usize];
        let on_riser = down != NONE && web.is_upright[down as usize];
        for kid in kids {
            let is_upright = web.is_upright[kid.pipe as usize];
            let row = match (kid.lead, on_riser) {
                (Lead::Straight, true) => own.level.row + 1 + highest,
                (Lead::Straight, false) => own.level.row,
                (Lead::Up, _) => own.level.row + 1,
                (Lead::Side, _) => own.level.row + kid.lane,
            };
            let mut level = Level { row, ..own.level };
            let above = kid.node.map_or(own.level.band, |node| web.storey[node as usize]);
            if is_upright && above > own.level.band {
                level = Level { band: above, row: 1 };
            }
            let spot = Spot {
                x: own.x + own.facing * kid.side * kid.dx,
                level,
                facing: own.facing * kid.side,
            };
            match kid.node {
                Some(node) => drop(self.spots.insert(node, spot)),
                None => self.stubs.push((kid.pipe, spot)),
            }
        }
    }
}
