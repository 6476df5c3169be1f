//! What the lines, symbols, marks and abbreviations of a sheet mean.

use std::collections::BTreeSet;

use crate::compose::Used;
use crate::scene::{Area, Face, Ink, MarkKind, Point, Shape, Symbol};
use crate::text::width;

const ROW: i32 = 26;
/// Room for a sample.
const SAMPLE: i32 = 46;

/// The legend between two margins from a height on, and how far down it reaches.
pub(crate) fn legend(
    used: &Used,
    kinds: &BTreeSet<MarkKind>,
    left: i32,
    top: i32,
    right: i32,
) -> (Vec<Shape>, i32) {
    let mut legend = Legend {
        shapes: Vec::new(),
        at: Point::new(left, top + ROW / 2),
        left,
        right,
    };
    legend.line(Ink::Drain, "drain, arrow the way it flows");
    legend.line(Ink::Vent, "vent");
    for symbol in &used.symbols {
        let words = match symbol {
            Symbol::Trap => "fixture with trap",
            Symbol::Bowl => "fixture, trap inside",
            Symbol::Inflow => "flow from elsewhere",
            Symbol::Cleanout => "cleanout",
            Symbol::Terminal => "vent terminal",
            Symbol::Valve => "air admittance valve",
            Symbol::Disposal => "point of disposal",
            Symbol::Backwater => "backwater valve",
            Symbol::RunningTrap => "running trap",
            Symbol::Joint => "joint",
            Symbol::Flag => "goes on on another sheet",
        };
        legend.sample(words, |at| Shape::Symbol {
            symbol: *symbol,
            at,
            facing: 1,
        });
    }
    for kind in kinds {
        let words = match kind {
            MarkKind::Violation => "violation, by its number in the list",
            MarkKind::NeedsApproval => "needs approval",
            MarkKind::Advice => "advice: trade practice",
            MarkKind::Open => "undetermined",
        };
        legend.sample(words, |at| Shape::Mark {
            at,
            kind: *kind,
            number: "n".to_owned(),
            id: String::new(),
            target: String::new(),
            words: String::new(),
        });
    }
    for (short, word) in &used.words {
        legend.words(&format!("{short} {word}"));
    }
    (legend.shapes, legend.at.y + ROW / 2)
}

struct Legend {
    shapes: Vec<Shape>,
    at: Point,
    left: i32,
    right: i32,
}

impl Legend {
    /// Makes room in the row, or begins another.
    fn room(&mut self, wide: i32) {
        if self.at.x + wide > self.right && self.at.x > self.left {
            self.at = Point::new(self.left, self.at.y + ROW);
        }
    }

    fn line(&mut self, ink: Ink, words: &str) {
        self.room(SAMPLE + width(words, Face::Note.size()));
        let from = self.at;
        let to = Point::new(from.x + SAMPLE - 8, from.y);
        self.shapes.push(Shape::Line {
            ink,
            points: vec![from, to],
        });
        if ink == Ink::Drain {
            self.shapes.push(Shape::Arrow {
                at: Point::new(from.x + 24, from.y),
                towards: (1.0, 0.0),
            });
        }
        self.text(SAMPLE, words);
    }

    fn sample(&mut self, words: &str, shape: impl Fn(Point) -> Shape) {
        self.room(34 + width(words, Face::Note.size()));
        self.shapes.push(shape(Point::new(self.at.x + 14, self.at.y)));
        self.text(34, words);
    }

    fn words(&mut self, words: &str) {
        self.room(width(words, Face::Note.size()));
        self.text(0, words);
    }

    fn text(&mut self, indent: i32, words: &str) {
        let (left, wide) = (self.at.x + indent, width(words, Face::Note.size()));
        self.shapes.push(Shape::Text {
            area: Area::new(left, self.at.y - 7, left + wide, self.at.y + 6),
            face: Face::Note,
            text: words.to_owned(),
        });
        self.at.x = left + wide + 18;
    }
}
