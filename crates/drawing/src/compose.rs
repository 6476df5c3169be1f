//! Puts a sheet together: pipes, symbols, then labels and marks where there is room.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crownweir_evaluate::{Element, Measured};
use crownweir_network::NodeKind;
use crownweir_rulebook::{Fact, Subject};

use crate::figure::Figure;
use crate::place::{Taken, around, beside, centred};
use crate::riser::Room;
use crate::scene::{Area, Face, Ink, MARK, Point, Shape, Symbol, mark_half_width};
use crate::text::{shown, width};
use crate::web::{Web, number};
use crate::{Mark, Options, Sheet, symbols};

/// The longest a name is on a drawing.
const NAME: usize = 18;
/// How far labels stay clear of pipes.
const CLEARANCE: i32 = 2;
const MARGIN: i32 = 24;
/// The least width of a sheet, for its title and legend.
const LEAST_WIDTH: i32 = 640;

/// What is written on a network.
pub(crate) struct Words<'a> {
    pub(crate) web: &'a Web<'a>,
    pub(crate) measured: &'a Measured<'a>,
    pub(crate) options: Options,
    /// What each pipe is called as a piece, by its number in the graph; empty where that is not shown.
    pub(crate) pieces: &'a [String],
    /// The sheet, by its number from 1, on which each pipe that leaves a sheet goes on, and the one that it comes from.
    pub(crate) sheet_of: &'a [u32],
}

impl Words<'_> {
    /// The lines of the label of what stands at a node.
    fn label(&self, node: u32) -> Vec<(Face, String)> {
        let Some(weight) = self.web.node(node) else {
            return Vec::new();
        };
        let name = (Face::Name, shown(&weight.name, NAME));
        if matches!(weight.kind, NodeKind::Disposal) {
            return vec![name];
        }
        let Some((short, _)) = symbols::abbreviation(weight) else {
            return Vec::new();
        };
        let mut second = short.to_owned();
        let load = || {
            let element = self.web.node_id(node).map(|id| number(id.index()));
            let load = element.and_then(|element| {
                self.measured
                    .fact_in_words(Subject::Fixture, element, Fact::FixtureLoad)
            });
            load.map(|load| format!(" · {load}")).unwrap_or_default()
        };
        match &weight.kind {
            NodeKind::Fixture(_) if self.shows_loads() => second.push_str(&load()),
            NodeKind::Cleanout(cleanout) => {
                if let Some(size) = cleanout.size {
                    second.push_str(&format!(" {size}"));
                }
            }
            _ => {}
        }
        vec![name, (Face::Figure, second)]
    }

    /// The figures of a pipe.
    fn figures(&self, pipe: u32) -> Vec<String> {
        let (Some(id), Some(weight)) = (self.web.pipe_id(pipe), self.web.pipe(pipe)) else {
            return Vec::new();
        };
        let piece = self.pieces.get(id.index()).cloned();
        let size = weight.size.map(|size| size.to_string());
        let first: Vec<String> = piece.into_iter().chain(size).collect();
        let mut figures: Vec<String> = Vec::new();
        if !first.is_empty() {
            figures.push(first.join(" · "));
        }
        let notation = self.web.network.notation();
        if let (Some(slope), false) = (weight.slope, self.web.is_upright[pipe as usize]) {
            figures.push(slope.in_notation(notation).to_string());
        }
        if self.shows_loads() {
            let fact = match self.web.is_vent[pipe as usize] {
                true => (Subject::Vent, Fact::VentServedLoad),
                false => (Subject::Drain, Fact::DrainLoad),
            };
            figures.extend(self.measured.fact_in_words(fact.0, number(id.index()), fact.1));
        }
        figures
    }

    /// A rule set that counts no loads has none to show.
    fn shows_loads(&self) -> bool {
        self.options.loads && self.measured.rules().counts_loads()
    }

    fn flag(&self, pipe: u32, leaves: bool) -> String {
        let other = match leaves {
            true => self.web.to[pipe as usize],
            false => self.web.from[pipe as usize],
        };
        let sheet = self.sheet_of.get(other as usize).map_or(0, |sheet| sheet + 1);
        let name = shown(self.web.name(other), NAME);
        match leaves {
            true => format!("to {name}, sheet {sheet}"),
            false => format!("from {name}, sheet {sheet}"),
        }
    }
}

impl Room for Words<'_> {
    fn node(&self, node: u32) -> i32 {
        let label = self.label(node);
        let widest = label.iter().map(|(face, text)| width(text, face.size())).max();
        widest.map_or(8, |widest| widest + 24)
    }

    fn pipe(&self, pipe: u32) -> i32 {
        let widest = self.figures(pipe).iter().map(|text| width(text, 10)).max();
        (widest.unwrap_or(0) + 16).max(46)
    }

    fn flag(&self, pipe: u32) -> i32 {
        width(&Words::flag(self, pipe, false), 10) + 24
    }
}

struct Composing<'a> {
    words: &'a Words<'a>,
    figure: &'a Figure,
    taken: Taken,
    shapes: Vec<Shape>,
    unplaced: usize,
}

pub(crate) fn sheet(words: &Words<'_>, figure: &Figure, marks: &[&Mark], heading: Heading) -> Sheet {
    let mut composing = Composing {
        words,
        figure,
        taken: Taken::default(),
        shapes: Vec::new(),
        unplaced: 0,
    };
    composing.keep_storeys_clear();
    composing.pipes();
    let used = composing.nodes();
    composing.flags();
    composing.ticks();
    composing.figures();
    let places = composing.marks(marks);
    composing.storeys();
    composing.close(used, marks, heading, places)
}

/// What stands above a sheet.
pub(crate) struct Heading {
    pub(crate) title: String,
    pub(crate) lines: Vec<String>,
}

fn middle(from: Point, to: Point) -> Point {
    Point::new(from.x.midpoint(to.x), from.y.midpoint(to.y))
}

/// The longest straight piece of a pipe.
fn longest(points: &[Point]) -> Option<(Point, Point)> {
    let length = |pair: &(Point, Point)| {
        let (dx, dy) = (i64::from(pair.1.x - pair.0.x), i64::from(pair.1.y - pair.0.y));
        dx * dx + dy * dy
    };
    let pairs = points.iter().zip(points.iter().skip(1));
    pairs.map(|(from, to)| (*from, *to)).max_by_key(length)
}

impl Composing<'_> {
    /// Lines between storeys go through no label.
    fn keep_storeys_clear(&mut self) {
        let stands: Vec<Point> = self.figure.stands.values().map(|stand| stand.at).collect();
        let Some(area) = Area::around(&stands, 300) else {
            return;
        };
        for band in self.figure.bands.iter().skip(1) {
            let ends = [area.from.x, area.to.x].map(|x| Point::new(x, band.bottom));
            self.taken.line(ends[0], ends[1]);
        }
    }

    fn pipes(&mut self) {
        for route in &self.figure.routes {
            self.taken.lines(&route.points);
            let is_vent = self.words.web.is_vent[route.pipe as usize];
            self.shapes.push(Shape::Line {
                ink: if is_vent { Ink::Vent } else { Ink::Drain },
                points: route.points.clone(),
            });
            let Some((from, to)) = longest(&route.points).filter(|_| !is_vent) else {
                continue;
            };
            let (dx, dy) = (f64::from(to.x - from.x), f64::from(to.y - from.y));
            let length = dx.hypot(dy);
            if length < 24.0 {
                continue;
            }
            // Past the middle, so that the figures stand beside the middle.
            let along = |from: i32, to: i32| from + (to - from) * 7 / 10;
            let at = Point::new(along(from.x, to.x), along(from.y, to.y));
            self.taken.area(centred(at, 8, 8));
            self.shapes.push(Shape::Arrow {
                at,
                towards: (dx / length, dy / length),
            });
        }
    }

    /// Symbols and labels of nodes; which symbols and abbreviations were used.
    fn nodes(&mut self) -> Used {
        let mut used = Used::default();
        if !self.words.pieces.is_empty() {
            used.words.insert(
                "D, V",
                "pieces of drain and vent, numbered as in the cut list".to_owned(),
            );
        }
        let web = self.words.web;
        let mut nodes: Vec<_> = self.figure.stands.iter().collect();
        nodes.sort_by_key(|(node, _)| **node);
        for (node, stand) in &nodes {
            let node = **node;
            let Some(weight) = web.node(node) else {
                continue;
            };
            let place = node as usize;
            let meet = web.drains_in[place].len()
                + web.vents_in[place].len()
                + web.vents_out[place].len()
                + usize::from(web.down[place] != crate::web::NONE);
            let Some(symbol) = symbols::of(weight, meet) else {
                continue;
            };
            used.symbols.insert(symbol);
            if let Some((short, word)) = symbols::abbreviation(weight) {
                used.words.insert(short, word);
            }
            let reach = symbol.reach();
            self.taken.area(centred(stand.at, 2 * reach, 2 * reach));
            self.shapes.push(Shape::Symbol {
                symbol,
                at: stand.at,
                facing: stand.facing,
            });
        }
        for (&node, stand) in nodes {
            let lines = self.words.label(node);
            if lines.is_empty() {
                continue;
            }
            let reserved = |wide: i32, high: i32| {
                let left = match stand.facing {
                    1 => stand.at.x + 18,
                    _ => stand.at.x - 18 - wide,
                };
                let area = |top| Area::new(left, top, left + wide, top + high);
                [
                    area(stand.at.y - high / 2),
                    area(stand.at.y - high - 2),
                    area(stand.at.y + 4),
                ]
            };
            self.block(&lines, stand.at, reserved);
        }
        used
    }

    /// Several lines of text as one block.
    fn block<Boxes: IntoIterator<Item = Area>>(
        &mut self,
        lines: &[(Face, String)],
        at: Point,
        first: impl Fn(i32, i32) -> Boxes,
    ) {
        let wide = lines
            .iter()
            .map(|(face, text)| width(text, face.size()))
            .max()
            .unwrap_or(0);
        let high: i32 = lines.iter().map(|(face, _)| face.size() + 2).sum();
        let candidates = first(wide, high).into_iter().chain(around(at, wide, high, 12));
        let Some(area) = self.taken.first(candidates, CLEARANCE) else {
            self.unplaced += 1;
            return;
        };
        let mut top = area.from.y;
        for (face, text) in lines {
            let bottom = top + face.size() + 2;
            self.shapes.push(Shape::Text {
                area: Area::new(area.from.x, top, area.to.x, bottom),
                face: *face,
                text: text.clone(),
            });
            top = bottom;
        }
        self.leader(at, area, 26);
    }

    /// A thin line from what is spoken of to the words, where they stand far from it.
    fn leader(&mut self, at: Point, area: Area, far: i32) {
        let nearest = Point::new(
            at.x.clamp(area.from.x, area.to.x),
            at.y.clamp(area.from.y, area.to.y),
        );
        if (nearest.x - at.x).abs().max((nearest.y - at.y).abs()) > far {
            self.shapes.push(Shape::Line {
                ink: Ink::Leader,
                points: vec![at, nearest],
            });
        }
    }

    fn flags(&mut self) {
        for flag in &self.figure.flags {
            let text = self.words.flag(flag.pipe, flag.leaves);
            self.taken.area(centred(flag.at, 14, 14));
            self.shapes.push(Shape::Symbol {
                symbol: Symbol::Flag,
                at: flag.at,
                facing: flag.facing,
            });
            let facing = flag.facing;
            self.block(&[(Face::Figure, text)], flag.at, |wide, high| {
                let left = if facing == 1 {
                    flag.at.x + 12
                } else {
                    flag.at.x - 12 - wide
                };
                let top = flag.at.y - high / 2;
                [Area::new(left, top, left + wide, top + high)]
            });
        }
    }

    /// Storeys by name where vertical pipes pass their floors.
    fn ticks(&mut self) {
        for &(at, storey) in &self.figure.ticks {
            let Some(storey) = self.words.web.network.storeys().get(storey as usize) else {
                continue;
            };
            let ends = [Point::new(at.x - 9, at.y), Point::new(at.x + 9, at.y)];
            self.taken.line(ends[0], ends[1]);
            self.shapes.push(Shape::Line {
                ink: Ink::Storey,
                points: ends.to_vec(),
            });
            let text = format!("floor of {}", shown(&storey.name, NAME));
            self.block(&[(Face::Figure, text)], at, |_, _| []);
        }
    }

    fn figures(&mut self) {
        for route in &self.figure.routes {
            let Some((from, to)) = longest(&route.points) else {
                continue;
            };
            for text in self.words.figures(route.pipe) {
                let face = Face::Figure;
                let (wide, high) = (width(&text, face.size()), face.size() + 2);
                let at = middle(from, to);
                let candidates = beside(from, to, wide, high)
                    .into_iter()
                    .chain(around(at, wide, high, 12));
                match self.taken.first(candidates, CLEARANCE) {
                    Some(area) => {
                        self.shapes.push(Shape::Text { area, face, text });
                        self.leader(
                            at,
                            area,
                            (to.x - from.x).abs().max((to.y - from.y).abs()) / 2 + 16,
                        );
                    }
                    None => self.unplaced += 1,
                }
            }
        }
    }

    /// Where on the sheet an element is.
    fn place(&self, element: Element) -> Option<Point> {
        match self.words.measured.place_of(element) {
            Element::Node(node) => {
                let node = self.words.web.node_numbered(node)?;
                self.figure.stands.get(&node).map(|stand| stand.at)
            }
            Element::Pipe(pipe) => {
                let pipe = self.words.web.pipe_numbered(pipe)?;
                let place = self
                    .figure
                    .routes
                    .binary_search_by_key(&pipe, |route| route.pipe)
                    .ok()?;
                let (from, to) = longest(&self.figure.routes.get(place)?.points)?;
                Some(middle(from, to))
            }
            _ => None,
        }
    }

    fn marks(&mut self, marks: &[&Mark]) -> HashMap<String, Point> {
        let mut places = HashMap::new();
        for mark in marks {
            let Some(at) = self.place(mark.element) else {
                continue;
            };
            let half = mark_half_width(&mark.number);
            let (wide, high) = (2 * half + 2, 2 * MARK + 2);
            let candidates = around(at, wide, high, 8);
            let Some(area) = self.taken.first(candidates, 1) else {
                self.unplaced += 1;
                continue;
            };
            self.leader(at, area, 2);
            self.shapes.push(Shape::Mark {
                at: middle(area.from, area.to),
                kind: mark.kind,
                number: mark.number.clone(),
                id: mark.id.clone(),
                target: mark.target.clone(),
                words: mark.words.clone(),
            });
            places.insert(mark.id.clone(), at);
        }
        places
    }

    fn bounds(&self) -> Area {
        let mut areas = self.shapes.iter().map(Shape::area);
        let first = areas.next().unwrap_or(Area::new(0, 0, 0, 0));
        areas.fold(first, Area::with)
    }

    fn storeys(&mut self) {
        let bounds = self.bounds();
        let right = bounds.to.x;
        for (number, band) in self.figure.bands.iter().enumerate() {
            let name = match self.words.web.network.storeys().get(band.storey as usize) {
                Some(storey) => shown(&storey.name, NAME),
                None if band.storey == 0 => continue,
                None => "roof".to_owned(),
            };
            let face = Face::Note;
            let wide = width(&name, face.size());
            let left = bounds.from.x - wide - 16;
            if number > 0 {
                self.shapes.push(Shape::Line {
                    ink: Ink::Storey,
                    points: vec![Point::new(left, band.bottom), Point::new(right, band.bottom)],
                });
            }
            self.shapes.push(Shape::Text {
                area: Area::new(left, band.bottom - face.size() - 6, left + wide, band.bottom - 4),
                face,
                text: name,
            });
        }
    }

    /// Adds title and legend, and moves all so that it begins in the corner.
    fn close(
        mut self,
        used: Used,
        marks: &[&Mark],
        heading: Heading,
        places: HashMap<String, Point>,
    ) -> Sheet {
        let bounds = self.bounds();
        let wide = (bounds.to.x - bounds.from.x)
            .max(LEAST_WIDTH)
            .max(width(&heading.title, Face::Title.size()));
        let mut top = MARGIN;
        let mut above = Vec::new();
        let heads = heading.lines.iter().map(|line| (Face::Note, line));
        for (face, text) in std::iter::once((Face::Title, &heading.title)).chain(heads) {
            let bottom = top + face.size() + 4;
            let right = MARGIN + width(text, face.size());
            above.push(Shape::Text {
                area: Area::new(MARGIN, top, right, bottom),
                face,
                text: text.clone(),
            });
            top = bottom;
        }
        let (x, y) = (MARGIN - bounds.from.x, top + 12 - bounds.from.y);
        for shape in &mut self.shapes {
            shape.moved(x, y);
        }
        let kinds: BTreeSet<_> = marks.iter().map(|mark| mark.kind).collect();
        let below = top + 12 + bounds.to.y - bounds.from.y + 20;
        let (legend, bottom) = crate::legend::legend(&used, &kinds, MARGIN, below, wide + MARGIN);
        let drawn = self.shapes.len();
        self.shapes.extend(above);
        self.shapes.extend(legend);
        let places = places
            .into_iter()
            .map(|(id, at)| (id, Point::new(at.x + x, at.y + y)))
            .collect::<BTreeMap<_, _>>();
        Sheet {
            title: heading.title,
            width: wide + 2 * MARGIN,
            height: bottom + MARGIN,
            shapes: self.shapes,
            drawn,
            places,
            unplaced: self.unplaced,
        }
    }
}

/// What of symbols and abbreviations a sheet shows.
#[derive(Debug, Default)]
pub(crate) struct Used {
    pub(crate) symbols: BTreeSet<Symbol>,
    pub(crate) words: BTreeMap<&'static str, String>,
}
