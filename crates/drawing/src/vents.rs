//! Where vents run in a schematic riser: up from their drains, across above all drains of the storey, then to the roof.
//!
//! A vent may cross a drain; it never runs along one, and never through what stands at a drain's end.

use std::collections::HashMap;

use crownweir_network::NodeKind;
use crownweir_vocabulary::Through;

use crate::riser::{Drains, Level, Room, Spot};
use crate::sheets::Parts;
use crate::web::{NONE, Web};

/// Sheets with more than this are too full to weigh where vents cross.
const MOST_WEIGHED: usize = 3_000;
/// How far a vent may be moved to the side to cross less, in steps.
const STEPS: i32 = 60;
const STEP: i32 = 10;
/// What it costs to cross a drain, and to run along one or through a label, in units of distance.
const CROSSING: i32 = 40;
const CLASH: i32 = 5_000;
/// Between vents that run across at one height.
const CLEAR: i32 = 12;
/// How many rows are tried for a vent that runs across.
const ROWS: i32 = 200;

/// Where a vent's way turns across before it goes up, where that is not at its upper end.
pub(crate) type Bends = HashMap<u32, Level>;

/// The vents of a sheet.
#[derive(Debug, Default)]
pub(crate) struct Vents {
    pub(crate) spots: HashMap<u32, Spot>,
    pub(crate) bends: Bends,
    /// Pipes that go on on another sheet: where the flag stands.
    pub(crate) flags: Vec<(u32, Spot)>,
    /// The highest row of drains in each storey.
    pub(crate) drains_up_to: HashMap<u32, i32>,
    /// The highest row of anything in each storey.
    pub(crate) up_to: HashMap<u32, i32>,
}

/// A line across, at a level.
struct Across {
    level: Level,
    from: i32,
    to: i32,
    /// Of what a vent may not run through.
    solid: bool,
}

/// A line up.
struct Upward {
    x: i32,
    from: Level,
    to: Level,
}

struct Laying<'a> {
    web: &'a Web<'a>,
    parts: &'a Parts,
    sheet: u32,
    drains: &'a Drains<'a>,
    across: Vec<Across>,
    upward: Vec<Upward>,
    taken: HashMap<Level, Vec<(i32, i32)>>,
    laid: Vents,
    roof: u32,
}

pub(crate) fn vents(web: &Web<'_>, parts: &Parts, sheet: u32, drains: &Drains<'_>, room: &dyn Room) -> Vents {
    let storeys = web.network.storeys().len().max(1);
    let mut laying = Laying {
        web,
        parts,
        sheet,
        drains,
        across: Vec::new(),
        upward: Vec::new(),
        taken: HashMap::new(),
        laid: Vents::default(),
        roof: u32::try_from(storeys).unwrap_or(NONE),
    };
    laying.note_drains(room);
    let nodes = parts.vents.get(sheet as usize).map_or(&[][..], Vec::as_slice);
    for &node in nodes {
        laying.node(node);
    }
    laying.ends_elsewhere(nodes);
    laying.laid
}

impl Laying<'_> {
    fn note_drains(&mut self, room: &dyn Room) {
        let spots = self.drains.spots.iter();
        let stubs = self.drains.stubs.iter().map(|(_, spot)| spot);
        for spot in spots.map(|(_, spot)| spot).chain(stubs) {
            let row = self.laid.drains_up_to.entry(spot.level.band).or_insert(0);
            *row = (*row).max(spot.level.row);
        }
        self.laid.up_to.clone_from(&self.laid.drains_up_to);
        for (&node, below) in &self.drains.spots {
            let kids = self.drains.kids(node);
            if kids.is_empty() {
                let reach = below.x + below.facing * room.node(node);
                for row in [0, 1] {
                    self.across.push(Across {
                        level: Level {
                            row: below.level.row + row,
                            ..below.level
                        },
                        from: (below.x - below.facing * 8).min(reach),
                        to: (below.x - below.facing * 8).max(reach),
                        solid: true,
                    });
                }
            }
            for kid in kids {
                let Some(above) = kid.node.and_then(|node| self.drains.spots.get(&node)) else {
                    continue;
                };
                if above.x == below.x {
                    self.upward.push(Upward {
                        x: below.x,
                        from: below.level,
                        to: above.level,
                    });
                } else {
                    self.across.push(Across {
                        level: Level {
                            row: above.level.row.max(below.level.row),
                            ..above.level
                        },
                        from: below.x.min(above.x),
                        to: below.x.max(above.x),
                        solid: false,
                    });
                }
            }
        }
    }

    fn is_here(&self, node: u32) -> bool {
        self.parts.sheet_of.get(node as usize) == Some(&self.sheet)
    }

    fn spot(&self, node: u32) -> Option<Spot> {
        self.laid
            .spots
            .get(&node)
            .or_else(|| self.drains.spots.get(&node))
            .copied()
    }

    /// Where a vent leaves its lower end.
    fn start(&self, pipe: u32) -> Option<Spot> {
        let from = self.web.from[pipe as usize];
        let mut spot = self.spot(from)?;
        if self.drains.spots.contains_key(&from) {
            let port = self.drains.port(from);
            let place = self.web.vents_out[from as usize]
                .iter()
                .position(|&own| own == pipe);
            let place = i32::try_from(place.unwrap_or(0)).unwrap_or(0);
            spot.x += spot.facing * (port + place * 13);
        }
        Some(spot)
    }

    /// The vent that a node goes on from: one from below, of the same run if there is one, else one from the side.
    fn before(&self, node: u32) -> Option<u32> {
        let next = self.web.vents_out[node as usize].first();
        let run = next.map(|&next| self.web.run[next as usize]);
        self.web.vents_in[node as usize]
            .iter()
            .copied()
            .filter(|&pipe| self.is_here(self.web.from[pipe as usize]))
            .max_by_key(|&pipe| {
                (
                    self.web.is_upright[pipe as usize],
                    Some(self.web.run[pipe as usize]) == run,
                    std::cmp::Reverse(pipe),
                )
            })
    }

    fn band(&self, node: u32) -> u32 {
        match self.web.node(node).map(|node| &node.kind) {
            Some(NodeKind::Terminal(terminal)) if terminal.through != Some(Through::Wall) => self.roof,
            _ => self.web.storey[node as usize],
        }
    }

    fn header(&self, band: u32) -> Level {
        let row = self.laid.drains_up_to.get(&band).copied().unwrap_or(0) + 1;
        Level { band, row }
    }

    fn reserve(&mut self, level: Level, from: i32, to: i32) -> Level {
        let (from, to) = (from.min(to), from.max(to));
        let mut level = level;
        for _ in 0..ROWS {
            let taken = self.taken.entry(level).or_default();
            // What ends where the other begins joins it there.
            let clear = |other: &(i32, i32)| {
                other.1 + CLEAR < from || to + CLEAR < other.0 || other.1 == from || to == other.0
            };
            if taken.iter().all(clear) {
                taken.push((from, to));
                break;
            }
            level.row += 1;
        }
        self.used(level);
        level
    }

    fn used(&mut self, level: Level) {
        let row = self.laid.up_to.entry(level.band).or_insert(0);
        *row = (*row).max(level.row);
    }

    fn node(&mut self, node: u32) {
        let before = self.before(node);
        let start = before.and_then(|pipe| self.start(pipe));
        let mut band = self.band(node);
        for &pipe in &self.web.vents_in[node as usize] {
            if let Some(spot) = self.spot(self.web.from[pipe as usize]) {
                band = band.max(spot.level.band);
            }
        }
        let mut level = self.header(band);
        let Some((before, start)) = before.zip(start) else {
            // All that joins here comes from other sheets.
            self.laid.spots.insert(
                node,
                Spot {
                    x: 0,
                    level,
                    facing: 1,
                },
            );
            self.used(level);
            return;
        };
        let from = self.web.from[before as usize];
        let from_vent = !self.drains.spots.contains_key(&from);
        let is_upright = self.web.is_upright[before as usize];
        let starts_line = !from_vent || !is_upright || !self.came_up(from);
        let x = if starts_line {
            let at = if is_upright {
                start.x
            } else {
                start.x + start.facing * 40
            };
            self.best_x(at, start.level, self.top(node, band))
        } else {
            start.x
        };
        if from_vent && start.level.band == band {
            level.row = level.row.max(start.level.row + i32::from(is_upright));
        }
        if x != start.x && is_upright {
            level = self.turn_aside(before, start, x, level);
        }
        let mut sides: Vec<(u32, Spot)> = self.web.vents_in[node as usize]
            .iter()
            .filter(|&&pipe| pipe != before || !is_upright)
            .filter_map(|&pipe| Some((pipe, self.start(pipe)?)))
            .collect();
        sides.sort_by_key(|(pipe, side)| ((side.x - x).abs(), *pipe));
        // None comes from above.
        for (_, side) in &sides {
            if side.level.band == level.band {
                level.row = level.row.max(side.level.row);
            }
        }
        // The nearest from either side comes straight; those from further out pass above it and slant in.
        let mut straight = [None, None];
        for (pipe, side) in sides {
            let from_right = usize::from(side.x > x);
            match straight[from_right] {
                None => {
                    level = self.reserve(level, side.x, x);
                    straight[from_right] = Some(pipe);
                }
                Some(_) => {
                    let above = Level {
                        row: level.row + 1,
                        ..level
                    };
                    let bend = self.reserve(above, side.x, x);
                    self.laid.bends.insert(pipe, bend);
                }
            }
        }
        self.used(level);
        self.upward.push(Upward {
            x,
            from: start.level,
            to: level,
        });
        let spot = Spot {
            x,
            level,
            facing: start.facing,
        };
        self.laid.spots.insert(node, spot);
        // An elbow whose vent runs across stands at that height.
        for &pipe in &self.web.vents_in[node as usize] {
            let from = self.web.from[pipe as usize];
            if pipe == before && is_upright {
                continue;
            }
            let is_elbow = self.web.vents_in[from as usize].len() == 1;
            if let Some(elbow) = self.laid.spots.get_mut(&from)
                && is_elbow
                && elbow.level.band == band
            {
                elbow.level.row = elbow.level.row.max(level.row);
            }
        }
    }

    /// Whether the line through a vent's lower end came up to it.
    fn came_up(&self, node: u32) -> bool {
        self.before(node)
            .is_some_and(|pipe| self.web.is_upright[pipe as usize])
    }

    /// How far up the line through a node goes.
    fn top(&self, node: u32, band: u32) -> Level {
        let (mut at, mut band) = (node, band);
        for _ in 0..self.web.from.len() {
            let Some(&next) = self.web.vents_out[at as usize].first() else {
                break;
            };
            let to = self.web.to[next as usize];
            if !self.web.is_upright[next as usize] || !self.is_here(to) || self.before(to) != Some(next) {
                break;
            }
            at = to;
            band = band.max(self.band(at));
        }
        Level {
            band,
            row: i32::MAX / 2,
        }
    }

    /// Brings a line to another column: by a short slant, or across above the drains of its storey.
    fn turn_aside(&mut self, pipe: u32, start: Spot, x: i32, level: Level) -> Level {
        if (x - start.x).abs() <= 2 * STEP {
            return level;
        }
        let header = self.header(start.level.band);
        let from = Level {
            row: header.row.max(start.level.row),
            ..header
        };
        let bend = self.reserve(from, start.x, x);
        self.laid.bends.insert(pipe, bend);
        match bend.band == level.band {
            true => level.max(Level {
                row: bend.row + 1,
                ..bend
            }),
            false => level,
        }
    }

    /// The column near `at` in which a line from one level to another costs least.
    fn best_x(&self, at: i32, from: Level, to: Level) -> i32 {
        if self.across.len() + self.upward.len() > MOST_WEIGHED {
            return at;
        }
        let mut best = (self.cost(at, from, to), at);
        for step in 1..=STEPS {
            for offset in [step * STEP, -step * STEP] {
                let away = offset.abs() / 2 + 20;
                if away < best.0 {
                    let cost = self.cost(at + offset, from, to) + away;
                    best = best.min((cost, at + offset));
                }
            }
        }
        best.1
    }

    fn cost(&self, x: i32, from: Level, to: Level) -> i32 {
        let across = self
            .across
            .iter()
            .filter(|line| from < line.level && line.level < to && line.from - 4 < x && x < line.to + 4);
        let crossings: i32 = across.map(|line| if line.solid { CLASH } else { CROSSING }).sum();
        let along = self
            .upward
            .iter()
            .filter(|line| (line.x - x).abs() < 10 && line.from < to && from < line.to);
        let along = i32::try_from(along.count()).unwrap_or(i32::MAX);
        crossings.saturating_add(along.saturating_mul(CLASH))
    }

    /// Flags where a vent goes on on another sheet, or comes from one.
    fn ends_elsewhere(&mut self, nodes: &[u32]) {
        let drains = self.parts.drains.get(self.sheet as usize);
        let here = drains.into_iter().flatten().chain(nodes).copied();
        let here: Vec<u32> = here.collect();
        for node in here {
            for &pipe in &self.web.vents_out[node as usize] {
                let to = self.web.to[pipe as usize];
                if self.is_here(to) {
                    continue;
                }
                if let Some(start) = self.start(pipe) {
                    let mut header = self.header(start.level.band);
                    header.row = header.row.max(start.level.row + 1);
                    let level = self.reserve(header, start.x - 10, start.x + 90);
                    self.laid.flags.push((pipe, Spot { level, ..start }));
                }
            }
            for &pipe in &self.web.vents_in[node as usize] {
                let from = self.web.from[pipe as usize];
                if self.is_here(from) {
                    continue;
                }
                if let Some(end) = self.spot(node) {
                    let level = self.reserve(end.level, end.x + 20, end.x + 120);
                    let spot = Spot {
                        x: end.x + 28,
                        level,
                        facing: 1,
                    };
                    self.laid.flags.push((pipe, spot));
                }
            }
        }
    }
}
