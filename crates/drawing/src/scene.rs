//! What is on a sheet, in whole units: lines, symbols, text, marks. It knows nothing of networks or of SVG.

/// A point; x to the right, y downward.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Point {
    /// To the right.
    pub x: i32,
    /// Downward.
    pub y: i32,
}

impl Point {
    pub(crate) const fn new(x: i32, y: i32) -> Self {
        Self { x, y }
    }
}

/// A box with its sides along the axes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Area {
    /// Upper left corner.
    pub from: Point,
    /// Lower right corner.
    pub to: Point,
}

impl Area {
    pub(crate) const fn new(left: i32, top: i32, right: i32, bottom: i32) -> Self {
        Self {
            from: Point::new(left, top),
            to: Point::new(right, bottom),
        }
    }

    pub(crate) fn around(points: &[Point], margin: i32) -> Option<Self> {
        let first = *points.first()?;
        let mut area = Self {
            from: first,
            to: first,
        };
        for point in points {
            area = area.with(Self {
                from: *point,
                to: *point,
            });
        }
        Some(area.grown(margin))
    }

    pub(crate) const fn grown(self, by: i32) -> Self {
        Self::new(self.from.x - by, self.from.y - by, self.to.x + by, self.to.y + by)
    }

    pub(crate) fn with(self, other: Self) -> Self {
        Self::new(
            self.from.x.min(other.from.x),
            self.from.y.min(other.from.y),
            self.to.x.max(other.to.x),
            self.to.y.max(other.to.y),
        )
    }

    /// Whether two boxes have more than an edge in common.
    #[must_use]
    pub const fn overlaps(&self, other: &Self) -> bool {
        self.from.x < other.to.x
            && other.from.x < self.to.x
            && self.from.y < other.to.y
            && other.from.y < self.to.y
    }

    /// Whether a straight line passes through the box.
    #[must_use]
    pub fn is_crossed_by(&self, from: Point, to: Point) -> bool {
        // The line is cut to the box, side by side (the method of Liang and Barsky), in exact fractions.
        let (dx, dy) = (i64::from(to.x - from.x), i64::from(to.y - from.y));
        let sides = [
            (-dx, i64::from(from.x - self.from.x)),
            (dx, i64::from(self.to.x - from.x)),
            (-dy, i64::from(from.y - self.from.y)),
            (dy, i64::from(self.to.y - from.y)),
        ];
        // Bounds of the part within, as fractions of the line.
        let (mut enter, mut leave) = ((0_i64, 1_i64), (1_i64, 1_i64));
        for (direction, distance) in sides {
            if direction == 0 {
                if distance <= 0 {
                    return false;
                }
            } else if direction < 0 {
                let at = (-distance, -direction);
                if at.0 * enter.1 > enter.0 * at.1 {
                    enter = at;
                }
            } else {
                let at = (distance, direction);
                if at.0 * leave.1 < leave.0 * at.1 {
                    leave = at;
                }
            }
        }
        enter.0 * leave.1 < leave.0 * enter.1
    }
}

/// How a line is drawn. The pattern carries the meaning; colour is never needed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ink {
    /// A drain: solid.
    Drain,
    /// A vent: dashed.
    Vent,
    /// Between storeys: thin, dash and dot.
    Storey,
    /// From a label or mark to what it speaks of: thin.
    Leader,
}

/// What a text is, which decides its size and weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Face {
    /// The name of a fixture, cleanout or terminal.
    Name,
    /// A figure on a pipe, or the kind of a fixture.
    Figure,
    /// A storey, a note.
    Note,
    /// The title of the sheet.
    Title,
}

impl Face {
    pub(crate) const fn size(self) -> i32 {
        match self {
            Self::Name | Self::Note => 11,
            Self::Figure => 10,
            Self::Title => 16,
        }
    }
}

/// What stands at a node.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Symbol {
    /// A trap of its own below the fixture.
    Trap,
    /// A fixture with its trap inside.
    Bowl,
    /// Water that comes from elsewhere.
    Inflow,
    Cleanout,
    Terminal,
    Valve,
    Disposal,
    Backwater,
    RunningTrap,
    /// Where three pipes or more meet.
    Joint,
    /// Where a pipe goes on on another sheet.
    Flag,
}

impl Symbol {
    /// How far it reaches from its point to all sides.
    pub(crate) const fn reach(self) -> i32 {
        match self {
            Self::Joint => 3,
            Self::RunningTrap | Self::Trap => 9,
            _ => 8,
        }
    }
}

/// How serious what a mark stands for is. Each has a shape of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum MarkKind {
    /// Against the code: a full disc.
    Violation,
    /// Allowed only with permission: a full hexagon.
    NeedsApproval,
    /// Trade practice: an open box.
    Advice,
    /// Not known: an open disc, dashed.
    Open,
}

/// One thing on a sheet.
#[derive(Debug, Clone)]
pub(crate) enum Shape {
    Line {
        ink: Ink,
        points: Vec<Point>,
    },
    /// The direction of flow, as a unit step along each axis.
    Arrow {
        at: Point,
        towards: (f64, f64),
    },
    Symbol {
        symbol: Symbol,
        at: Point,
        /// 1 where it faces right, -1 where it faces left.
        facing: i32,
    },
    Text {
        area: Area,
        face: Face,
        text: String,
    },
    Mark {
        at: Point,
        kind: MarkKind,
        number: String,
        /// Its own anchor, empty where it needs none.
        id: String,
        /// What the mark leads to.
        target: String,
        /// What it says to who cannot see it.
        words: String,
    },
}

/// Half the height of a mark.
pub(crate) const MARK: i32 = 9;

/// Half the width of a mark with that number in it.
pub(crate) fn mark_half_width(number: &str) -> i32 {
    MARK.max(crate::text::width(number, 10) / 2 + 4)
}

impl Shape {
    pub(crate) fn area(&self) -> Area {
        match self {
            Self::Line { points, .. } => Area::around(points, 2).unwrap_or(Area::new(0, 0, 0, 0)),
            Self::Arrow { at, .. } => Area::new(at.x - 5, at.y - 5, at.x + 5, at.y + 5),
            Self::Symbol { symbol, at, .. } => {
                let reach = symbol.reach() + 6;
                Area::new(at.x - reach, at.y - reach, at.x + reach, at.y + reach)
            }
            Self::Text { area, .. } => *area,
            Self::Mark { at, number, .. } => {
                let half = mark_half_width(number);
                Area::new(at.x - half, at.y - MARK, at.x + half, at.y + MARK)
            }
        }
    }

    pub(crate) fn moved(&mut self, x: i32, y: i32) {
        let shift = |point: &mut Point| {
            point.x += x;
            point.y += y;
        };
        match self {
            Self::Line { points, .. } => points.iter_mut().for_each(shift),
            Self::Arrow { at, .. } | Self::Symbol { at, .. } | Self::Mark { at, .. } => shift(at),
            Self::Text { area, .. } => {
                shift(&mut area.from);
                shift(&mut area.to);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Area, Point};

    #[test]
    fn lines_cross_boxes() {
        let area = Area::new(10, 10, 20, 20);
        let crossed = |x1, y1, x2, y2| area.is_crossed_by(Point::new(x1, y1), Point::new(x2, y2));
        assert!(crossed(0, 15, 30, 15));
        assert!(crossed(15, 0, 15, 12));
        assert!(crossed(0, 0, 30, 30));
        assert!(crossed(12, 12, 13, 13));
        assert!(!crossed(0, 9, 30, 9));
        assert!(!crossed(0, 10, 30, 10), "along an edge");
        assert!(!crossed(0, 25, 15, 40));
        assert!(!crossed(0, 12, 9, 12));
        assert!(!crossed(0, 19, 11, 30), "past a corner");
    }
}
