//! Where everything of a sheet stands, in the units of the drawing, however that was found.

use std::collections::HashMap;

use crate::riser::{self, Arranged, Drains, Level, Room, Spot};
use crate::scene::Point;
use crate::sheets::Parts;
use crate::vents::{self, Vents};
use crate::web::Web;

/// Height of a row of drains, and of a row in which vents run across.
const ROW: i32 = 46;
const HEADER: i32 = 28;
/// Above and below the rows of a storey.
const MARGIN: i32 = 22;
/// What a storey has room for above its highest row.
const STRIP: i32 = 14;

/// Where a node stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stand {
    pub(crate) at: Point,
    /// 1 where its label goes to the right, -1 where to the left.
    pub(crate) facing: i32,
}

/// The way of a pipe, from its upper end (of a vent, its lower) on.
#[derive(Debug, Clone)]
pub(crate) struct Route {
    pub(crate) pipe: u32,
    pub(crate) points: Vec<Point>,
}

/// Where a pipe leaves the sheet or comes in.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Flag {
    pub(crate) pipe: u32,
    pub(crate) at: Point,
    pub(crate) facing: i32,
    /// Whether water or air leaves here.
    pub(crate) leaves: bool,
}

/// A storey's strip of the sheet.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Band {
    pub(crate) storey: u32,
    pub(crate) bottom: i32,
}

#[derive(Debug, Default)]
pub(crate) struct Figure {
    pub(crate) stands: HashMap<u32, Stand>,
    pub(crate) routes: Vec<Route>,
    pub(crate) flags: Vec<Flag>,
    pub(crate) bands: Vec<Band>,
    /// Where vertical pipes pass the floor of a storey.
    pub(crate) ticks: Vec<(Point, u32)>,
}

/// Heights of rows.
struct Heights {
    /// Of each storey: its lower edge, and its highest row of drains.
    bands: HashMap<u32, (i32, i32)>,
}

impl Heights {
    fn new(laid: &Vents, bands: &mut Vec<Band>) -> Self {
        let mut storeys: Vec<u32> = laid.up_to.keys().copied().collect();
        storeys.sort_unstable();
        let mut bottom = 0;
        let mut heights = Self {
            bands: HashMap::new(),
        };
        for storey in storeys {
            let drains = laid.drains_up_to.get(&storey).copied().unwrap_or(0);
            let all = laid.up_to.get(&storey).copied().unwrap_or(0);
            heights.bands.insert(storey, (bottom, drains));
            bands.push(Band { storey, bottom });
            bottom -= (drains - 1).max(0) * ROW + (all - drains).max(0) * HEADER + 2 * MARGIN + STRIP;
        }
        heights
    }

    fn y(&self, level: Level) -> i32 {
        let (bottom, drains) = self.bands.get(&level.band).copied().unwrap_or((0, 0));
        let below = level.row.min(drains);
        bottom - MARGIN - (below - 1) * ROW - (level.row - below) * HEADER
    }

    fn point(&self, spot: Spot) -> Point {
        Point::new(spot.x, self.y(spot.level))
    }
}

/// Without points that follow themselves or lie between their neighbours on one line.
fn trimmed(points: &[Point]) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::with_capacity(points.len());
    for &point in points {
        if kept.last() == Some(&point) {
            continue;
        }
        if let [.., one, two] = kept.as_slice() {
            let (a, b) = ((two.x - one.x, two.y - one.y), (point.x - two.x, point.y - two.y));
            let turn = i64::from(a.0) * i64::from(b.1) - i64::from(a.1) * i64::from(b.0);
            if turn == 0 {
                kept.pop();
            }
        }
        kept.push(point);
    }
    kept
}

/// A schematic riser of one sheet.
pub(crate) fn schematic(
    web: &Web<'_>,
    parts: &Parts,
    arranged: &Arranged,
    sheet: u32,
    room: &dyn Room,
) -> Figure {
    let drains = riser::drains(web, parts, sheet, arranged);
    let laid = vents::vents(web, parts, sheet, &drains, room);
    let mut figure = Figure::default();
    let heights = Heights::new(&laid, &mut figure.bands);
    for (&node, &spot) in drains.spots.iter().chain(&laid.spots) {
        let stand = Stand {
            at: heights.point(spot),
            facing: spot.facing,
        };
        figure.stands.insert(node, stand);
    }
    figure.drain_routes(web, parts, sheet, &drains, &heights);
    figure.vent_routes(web, parts, sheet, &drains, &laid, &heights);
    figure.routes.sort_by_key(|route| route.pipe);
    figure.flags.sort_by_key(|flag| (flag.pipe, flag.at));
    figure
}

impl Figure {
    fn drain_routes(
        &mut self,
        web: &Web<'_>,
        parts: &Parts,
        sheet: u32,
        drains: &Drains<'_>,
        heights: &Heights,
    ) {
        for (&node, below) in &drains.spots {
            for kid in drains.kids(node) {
                let Some(above) = kid.node.and_then(|node| drains.spots.get(&node)) else {
                    continue;
                };
                let points = way(heights.point(*above), heights.point(*below));
                self.routes.push(Route {
                    pipe: kid.pipe,
                    points,
                });
            }
        }
        for &(pipe, spot) in &drains.stubs {
            let node = web.to[pipe as usize];
            let Some(below) = drains.spots.get(&node) else {
                continue;
            };
            let mut from = heights.point(spot);
            let to = heights.point(*below);
            if from == to {
                from.y -= ROW / 2;
            }
            self.flags.push(Flag {
                pipe,
                at: from,
                facing: spot.facing,
                leaves: false,
            });
            self.routes.push(Route {
                pipe,
                points: way(from, to),
            });
        }
        let root = parts.roots.get(sheet as usize).copied();
        let Some((root, down)) = root.and_then(|root| Some((root, *web.down.get(root as usize)?))) else {
            return;
        };
        if let (Some(spot), true) = (drains.spots.get(&root), (down as usize) < web.from.len()) {
            let from = heights.point(*spot);
            let at = match web.is_upright[down as usize] {
                true => Point::new(from.x, from.y + ROW),
                false => Point::new(from.x - ROW, from.y),
            };
            self.flags.push(Flag {
                pipe: down,
                at,
                facing: if web.is_upright[down as usize] { 1 } else { -1 },
                leaves: true,
            });
            self.routes.push(Route {
                pipe: down,
                points: vec![from, at],
            });
        }
    }

    fn vent_routes(
        &mut self,
        web: &Web<'_>,
        parts: &Parts,
        sheet: u32,
        drains: &Drains<'_>,
        laid: &Vents,
        heights: &Heights,
    ) {
        let here = [&parts.drains, &parts.vents];
        let here = here.iter().filter_map(|list| list.get(sheet as usize));
        for &node in here.flatten() {
            for (place, &pipe) in (0..).zip(&web.vents_out[node as usize]) {
                let to = web.to[pipe as usize];
                let Some(stand) = self.stands.get(&node).copied() else {
                    continue;
                };
                // A vent that does not begin at the node's own point leaves it by a short slant.
                let port = match drains.spots.contains_key(&node) {
                    true => drains.port(node) + place * 13,
                    false => 0,
                };
                let start = Point::new(stand.at.x + stand.facing * port, stand.at.y - port.min(20));
                let flag = laid.flags.iter().find(|(own, _)| *own == pipe);
                let end = match (self.stands.get(&to), flag) {
                    (Some(end), _) => end.at,
                    (None, Some((_, spot))) => heights.point(*spot),
                    (None, None) => continue,
                };
                if parts.sheet_of.get(to as usize) != Some(&sheet) {
                    self.flags.push(Flag {
                        pipe,
                        at: end,
                        facing: 1,
                        leaves: true,
                    });
                }
                let mut points = vec![stand.at, start];
                let aside = end.x - start.x;
                if drains.spots.contains_key(&to) {
                    // Down to the foot of a loop, beside what stands there.
                    points.extend([
                        Point::new(end.x + 10, start.y),
                        Point::new(end.x + 10, end.y - 10),
                    ]);
                } else if let Some(bend) = laid.bends.get(&pipe) {
                    let y = heights.y(*bend);
                    // A vent from the side slants down into the joint.
                    let slant = (end.y - y).clamp(0, aside.abs()) * aside.signum();
                    points.extend([Point::new(start.x, y), Point::new(end.x - slant, y)]);
                } else if aside != 0 && aside.abs() <= 20 && web.is_upright[pipe as usize] {
                    points.push(Point::new(end.x, start.y - aside.abs()));
                } else if aside != 0 {
                    points.push(Point::new(start.x, end.y));
                }
                points.push(end);
                self.routes.push(Route {
                    pipe,
                    points: trimmed(&points),
                });
            }
        }
        for &(pipe, spot) in &laid.flags {
            let to = web.to[pipe as usize];
            if parts.sheet_of.get(to as usize) != Some(&sheet) {
                continue;
            }
            let Some(end) = self.stands.get(&to).map(|stand| stand.at) else {
                continue;
            };
            let at = heights.point(spot);
            let points = trimmed(&[at, Point::new(end.x + 10, at.y), end]);
            self.flags.push(Flag {
                pipe,
                at,
                facing: 1,
                leaves: false,
            });
            self.routes.push(Route { pipe, points });
        }
    }
}

/// A drain's way down: straight; or across at its own height and down a slant of 45 degrees into what it joins.
fn way(from: Point, to: Point) -> Vec<Point> {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    if dx == 0 || dy == 0 {
        return vec![from, to];
    }
    if dx.abs() <= dy.abs() {
        let slant = Point::new(from.x, to.y - dx.abs());
        return trimmed(&[from, slant, to]);
    }
    let slant = Point::new(to.x - dx.signum() * dy.abs(), from.y);
    trimmed(&[from, slant, to])
}
