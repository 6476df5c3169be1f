//! Finds room for labels and marks: no label on a pipe, a symbol or another label.

use std::collections::HashMap;

use crate::scene::{Area, Point};

/// The side of a cell of the index.
const CELL: i32 = 48;

/// What is taken already, by the cells that it touches.
#[derive(Debug, Default)]
pub(crate) struct Taken {
    areas: Vec<Area>,
    lines: Vec<(Point, Point)>,
    cells: HashMap<(i32, i32), Vec<Entry>>,
}

#[derive(Debug, Clone, Copy)]
enum Entry {
    Area(usize),
    Line(usize),
}

fn cells(area: Area) -> impl Iterator<Item = (i32, i32)> {
    let columns = area.from.x.div_euclid(CELL)..=area.to.x.div_euclid(CELL);
    let rows = area.from.y.div_euclid(CELL)..=area.to.y.div_euclid(CELL);
    columns.flat_map(move |column| rows.clone().map(move |row| (column, row)))
}

impl Taken {
    pub(crate) fn area(&mut self, area: Area) {
        let entry = Entry::Area(self.areas.len());
        self.areas.push(area);
        for cell in cells(area) {
            self.cells.entry(cell).or_default().push(entry);
        }
    }

    pub(crate) fn line(&mut self, from: Point, to: Point) {
        let entry = Entry::Line(self.lines.len());
        self.lines.push((from, to));
        let Some(area) = Area::around(&[from, to], 0) else {
            return;
        };
        for (column, row) in cells(area) {
            let (left, top) = (column * CELL, row * CELL);
            // Of a slanting line only the cells that it passes.
            let cell = Area::new(left, top, left + CELL, top + CELL).grown(1);
            if cell.is_crossed_by(from, to) {
                self.cells.entry((column, row)).or_default().push(entry);
            }
        }
    }

    pub(crate) fn lines(&mut self, points: &[Point]) {
        for pair in points.windows(2) {
            if let [from, to] = pair {
                self.line(*from, *to);
            }
        }
    }

    /// Whether nothing is there, lines being kept clear of by `clearance`.
    pub(crate) fn is_free(&self, area: Area, clearance: i32) -> bool {
        let wide = area.grown(clearance);
        cells(wide).all(|cell| {
            let entries = self.cells.get(&cell).map_or(&[][..], Vec::as_slice);
            entries.iter().all(|entry| match *entry {
                Entry::Area(index) => self.areas.get(index).is_none_or(|other| !other.overlaps(&area)),
                Entry::Line(index) => self
                    .lines
                    .get(index)
                    .is_none_or(|line| !wide.is_crossed_by(line.0, line.1)),
            })
        })
    }

    /// The first place of those offered that is free; it is then taken.
    pub(crate) fn first(
        &mut self,
        candidates: impl IntoIterator<Item = Area>,
        clearance: i32,
    ) -> Option<Area> {
        let found = candidates
            .into_iter()
            .find(|&area| self.is_free(area, clearance))?;
        self.area(found);
        Some(found)
    }
}

/// Boxes of a size about a point, nearest first: first close to it, then ever further away.
pub(crate) fn around(at: Point, width: i32, height: i32, nearest: i32) -> impl Iterator<Item = Area> {
    const STEPS: [(i32, i32); 16] = [
        (2, -2),
        (2, 2),
        (-2, -2),
        (-2, 2),
        (2, 0),
        (-2, 0),
        (0, -2),
        (0, 2),
        (2, -1),
        (2, 1),
        (-2, -1),
        (-2, 1),
        (1, -2),
        (1, 2),
        (-1, -2),
        (-1, 2),
    ];
    (0..14).flat_map(move |ring| {
        STEPS.iter().map(move |&(x, y)| {
            let distance = nearest + ring * 8;
            let centre = Point::new(
                at.x + x * (distance + width / 2) / 2,
                at.y + y * (distance + height / 2) / 2,
            );
            centred(centre, width, height)
        })
    })
}

pub(crate) const fn centred(at: Point, width: i32, height: i32) -> Area {
    let (left, top) = (at.x - width / 2, at.y - height / 2);
    Area::new(left, top, left + width, top + height)
}

/// Boxes beside a line, close to its middle first, then toward its ends, then further from it.
pub(crate) fn beside(from: Point, to: Point, width: i32, height: i32) -> Vec<Area> {
    const ALONG: [i32; 9] = [50, 40, 60, 30, 70, 20, 80, 10, 90];
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let mut boxes = Vec::with_capacity(ALONG.len() * 8);
    for gap in [4, 8, 14, 22] {
        for along in ALONG {
            let at = Point::new(from.x + dx * along / 100, from.y + dy * along / 100);
            let (right, left) = (at.x + gap, at.x - gap - width);
            let (above, below) = (at.y - gap - height, at.y + gap);
            let middle_x = at.x - width / 2;
            let middle_y = at.y - height / 2;
            let corners = if dy == 0 {
                vec![(middle_x, above), (middle_x, below)]
            } else if dx == 0 {
                vec![(right, middle_y), (left, middle_y)]
            } else if (dx > 0) == (dy > 0) {
                vec![(right, above), (left, below), (right, middle_y), (left, middle_y)]
            } else {
                vec![(right, below), (left, above), (right, middle_y), (left, middle_y)]
            };
            boxes.extend(
                corners
                    .into_iter()
                    .map(|(left, top)| Area::new(left, top, left + width, top + height)),
            );
        }
    }
    boxes
}
