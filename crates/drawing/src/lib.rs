//! Single-line drawings of a drain-waste-vent network: fixtures, sizes, falls, vents, cleanouts, storeys, and findings
//! marked where they are.
//!
//! It judges nothing and measures nothing; it draws what the network states and the check found.
#![forbid(unsafe_code)]

mod compose;
mod figure;
mod isometric;
mod legend;
mod place;
mod riser;
mod scene;
mod sheets;
mod svg;
mod symbols;
mod text;
mod vents;
mod web;

use std::collections::{BTreeMap, HashMap};

use crownweir_evaluate::{Element, Measured};

use compose::{Heading, Words};
use scene::Shape;
use sheets::Parts;
use web::Web;

pub use scene::{Area, MarkKind, Point};
pub use svg::STYLE;

/// What a drawing shows beside the pipes.
#[derive(Debug, Clone, Copy, Default)]
pub struct Options {
    /// The load at each fixture and pipe.
    pub loads: bool,
    /// The number of each piece of pipe, as in the cut list.
    pub pieces: bool,
}

/// A mark on the drawing, at the element that a finding is about.
#[derive(Debug, Clone)]
pub struct Mark {
    /// What stands in it: the finding's number in the list.
    pub number: String,
    /// Its shape.
    pub kind: MarkKind,
    /// Where it goes.
    pub element: Element,
    /// Its own anchor, such as `mark-3`.
    pub id: String,
    /// What it leads to, such as `#finding-3`; empty where it leads nowhere.
    pub target: String,
    /// What it says to who cannot see it.
    pub words: String,
}

/// All sheets of a network.
#[derive(Debug)]
pub struct Drawing {
    /// The sheets; the first has the point of disposal.
    pub sheets: Vec<Sheet>,
}

impl Drawing {
    /// All sheets below one another as an SVG file.
    #[must_use]
    pub fn svg(&self) -> String {
        svg::file(&self.sheets.iter().collect::<Vec<_>>())
    }
}

/// One sheet.
#[derive(Debug)]
pub struct Sheet {
    title: String,
    width: i32,
    height: i32,
    shapes: Vec<Shape>,
    /// So many of them are the drawing itself; title and legend follow.
    drawn: usize,
    places: BTreeMap<String, Point>,
    unplaced: usize,
}

impl Sheet {
    /// What the sheet shows, in words.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.title
    }

    /// Width and height in units of a hundredth of an inch or so: text is ten or eleven units high.
    #[must_use]
    pub const fn size(&self) -> (i32, i32) {
        (self.width, self.height)
    }

    /// The box of every text, with the text.
    pub fn texts(&self) -> impl Iterator<Item = (Area, &str)> {
        self.shapes.iter().filter_map(|shape| match shape {
            Shape::Text { area, text, .. } => Some((*area, text.as_str())),
            _ => None,
        })
    }

    /// The box of every mark, with its number.
    pub fn marks(&self) -> impl Iterator<Item = (Area, &str)> {
        self.shapes.iter().filter_map(|shape| match shape {
            Shape::Mark { number, .. } => Some((shape.area(), number.as_str())),
            _ => None,
        })
    }

    /// The sheet as an SVG file of its own.
    #[must_use]
    pub fn svg(&self) -> String {
        svg::file(&[self])
    }

    /// Every straight piece of a pipe.
    pub fn pieces(&self) -> impl Iterator<Item = (Point, Point)> {
        // The legend has samples of lines too.
        let drawn = self.shapes.iter().take(self.drawn);
        let lines = drawn.filter_map(|shape| match shape {
            Shape::Line {
                ink: scene::Ink::Drain | scene::Ink::Vent,
                points,
            } => Some(points),
            _ => None,
        });
        lines.flat_map(|points| {
            let next = points.iter().skip(1);
            points.iter().zip(next).map(|(from, to)| (*from, *to))
        })
    }

    /// The anchors of the marks on this sheet.
    pub fn mark_ids(&self) -> impl Iterator<Item = &str> {
        self.places.keys().map(String::as_str)
    }

    /// How many labels and marks found no room, and stand in the schedules and the list only.
    #[must_use]
    pub const fn unplaced(&self) -> usize {
        self.unplaced
    }
}

/// Draws a network, with marks at what findings are about.
#[must_use]
pub fn draw(measured: &Measured<'_>, marks: &[Mark], options: Options) -> Drawing {
    let network = measured.network();
    let web = Web::new(network);
    let pieces = if options.pieces {
        network.piece_numbers()
    } else {
        Vec::new()
    };
    let mut words = Words {
        web: &web,
        measured,
        options,
        pieces: &pieces,
        sheet_of: &[],
    };
    let arranged = riser::arrange(&web, &words);
    let parts = Parts::new(&web, &arranged.is_cut);
    words.sheet_of = &parts.sheet_of;
    let mut marks_of: HashMap<u32, Vec<&Mark>> = HashMap::new();
    for mark in marks {
        let node = match measured.place_of(mark.element) {
            Element::Node(node) => web.node_numbered(node),
            Element::Pipe(pipe) => web
                .pipe_numbered(pipe)
                .and_then(|pipe| web.from.get(pipe as usize).copied()),
            _ => None,
        };
        let sheet = node.and_then(|node| parts.sheet_of.get(node as usize));
        if let Some(sheet) = sheet {
            marks_of.entry(*sheet).or_default().push(mark);
        }
    }
    let places = isometric::places(&web);
    let how = match places {
        Some(_) => "Single-line isometric, not to scale: east is down to the right, north up to the right.",
        None => "Single-line riser, schematic: not to scale, and directions in plan are not shown.",
    };
    let count = parts.roots.len();
    let sheets = (0..).zip(&parts.roots).map(|(sheet, &root)| {
        let figure = match &places {
            Some(places) => isometric::isometric(&web, &parts, sheet, places),
            None => figure::schematic(&web, &parts, &arranged, sheet, &words),
        };
        let name = text::shown(network.name(), 60);
        let what = match web.down.get(root as usize).copied() {
            _ if count == 1 => String::new(),
            Some(pipe) if sheet > 0 => match network.run(web.run[pipe as usize]) {
                Some(run) => format!(
                    ", {} from `{}` up",
                    text::shown(&run.name, 40),
                    text::shown(web.name(root), 18)
                ),
                None => String::new(),
            },
            _ => ", to the point of disposal".to_owned(),
        };
        let title = match count {
            1 => name,
            _ => format!("{name}: sheet {} of {count}{what}", sheet + 1),
        };
        let heading = Heading {
            title,
            lines: vec![format!("{how} Figures on pipes: nominal size, fall.")],
        };
        let own = marks_of.get(&sheet).map_or(&[][..], Vec::as_slice);
        compose::sheet(&words, &figure, own, heading)
    });
    Drawing {
        sheets: sheets.collect(),
    }
}
