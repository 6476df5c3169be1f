//! Sheets as SVG. Lines of one kind go into one path, so that a tower's sheets stay small.

use std::fmt::Write as _;

use crate::Sheet;
use crate::scene::{Area, Face, Ink, MARK, MarkKind, Point, Shape, Symbol, mark_half_width};
use crate::text::escape;

/// The style that drawings are made for; a page that holds some carries it once.
///
/// Everything reads in black and white: lines differ by pattern, marks by shape. The colours of marks are apart for
/// every common kind of colour blindness (blue, vermilion and their lightness).
pub const STYLE: &str = "\
.dwg{background:#fff;font-family:Arial,Helvetica,'Liberation Sans',sans-serif}\
.dwg path{fill:none;stroke:#000;stroke-width:1.3;stroke-linejoin:round;stroke-linecap:butt}\
.dwg .d{stroke-width:2.4}\
.dwg .v{stroke-width:1.6;stroke-dasharray:7 4}\
.dwg .s{stroke:#767676;stroke-width:.8;stroke-dasharray:14 4 2 4}\
.dwg .l{stroke:#555;stroke-width:.7}\
.dwg .f{fill:#000;stroke:none}\
.dwg .w{fill:#fff}\
.dwg text{text-anchor:middle;fill:#000}\
.dwg .to text,.dwg .tt text{text-anchor:start}\
.dwg .tn{font-size:11px;font-weight:bold}\
.dwg .tf{font-size:10px}\
.dwg .to{font-size:11px;fill:#333}\
.dwg .tt{font-size:16px;font-weight:bold}\
.dwg .m text{font-size:10px;font-weight:bold}\
.dwg .m path{stroke-width:1.4}\
.dwg .mv path{fill:#a32b00;stroke:#a32b00}.dwg .mv text,.dwg .ma text{fill:#fff}\
.dwg .ma path{fill:#00507f;stroke:#00507f}\
.dwg .mt path{fill:#fff}\
.dwg .mo path{fill:#fff;stroke-dasharray:3 2}\
.dwg .m:target path,.dwg .m:focus path{stroke:#000;stroke-width:5;paint-order:stroke}";

/// Sheets below one another as an SVG file of its own.
pub(crate) fn file(sheets: &[&Sheet]) -> String {
    let width = sheets.iter().map(|sheet| sheet.width).max().unwrap_or(0);
    let height: i32 = sheets.iter().map(|sheet| sheet.height).sum();
    let title = sheets.first().map_or("", |sheet| &sheet.title);
    let mut out = String::new();
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"dwg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\"><title>"
    );
    escape(&mut out, title);
    let _ = write!(
        out,
        "</title><style>{STYLE}</style><rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>"
    );
    let mut top = 0;
    for sheet in sheets {
        let _ = write!(out, "<g transform=\"translate(0 {top})\">");
        sheet.content(&mut out, None);
        out.push_str("</g>");
        top += sheet.height;
    }
    out.push_str("</svg>\n");
    out
}

impl Sheet {
    /// The sheet to stand in a page that has [`STYLE`].
    #[must_use]
    pub fn inline(&self) -> String {
        let mut out = String::new();
        let _ = write!(
            out,
            "<svg class=\"dwg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" role=\"group\" aria-label=\"",
            w = self.width,
            h = self.height
        );
        escape(&mut out, &self.title);
        out.push_str("\">");
        self.content(&mut out, None);
        out.push_str("</svg>");
        out
    }

    /// What is about a mark, as a picture of the size given to stand in a page that has [`STYLE`]; none where the mark
    /// is not on this sheet.
    #[must_use]
    pub fn picture(&self, id: &str, width: i32, height: i32) -> Option<String> {
        let at = self.places.get(id)?;
        let (width, height) = (width.min(self.width), height.min(self.height));
        let left = (at.x - width / 2).clamp(0, self.width - width);
        let top = (at.y - height / 2).clamp(0, self.height - height);
        let mut out = String::new();
        let _ = write!(
            out,
            "<svg class=\"dwg\" width=\"{width}\" height=\"{height}\" viewBox=\"{left} {top} {width} {height}\" aria-hidden=\"true\">"
        );
        let window = Area::new(left, top, left + width, top + height);
        self.content(&mut out, Some((window, id)));
        out.push_str("</svg>");
        Some(out)
    }

    /// Everything, or what is seen through a window, of whose marks only one is shown.
    fn content(&self, out: &mut String, through: Option<(Area, &str)>) {
        let count = if through.is_some() {
            self.drawn
        } else {
            self.shapes.len()
        };
        let seen: Vec<&Shape> = self
            .shapes
            .iter()
            .take(count)
            .filter(|shape| match (through, shape) {
                (None, _) => true,
                (Some((_, id)), Shape::Mark { id: own, .. }) => own == id,
                (Some((window, _)), shape) => shape.area().overlaps(&window),
            })
            .collect();
        for (ink, class) in [
            (Ink::Storey, "s"),
            (Ink::Leader, "l"),
            (Ink::Drain, "d"),
            (Ink::Vent, "v"),
        ] {
            let mut path = String::new();
            for shape in &seen {
                if let Shape::Line { ink: own, points } = shape
                    && *own == ink
                {
                    line(&mut path, points);
                }
            }
            write_path(out, class, &path);
        }
        let (mut open, mut white, mut full) = (String::new(), String::new(), String::new());
        for shape in &seen {
            match shape {
                Shape::Arrow { at, towards } => arrow(&mut full, *at, *towards),
                Shape::Symbol { symbol, at, facing } => {
                    draw(*symbol, *at, *facing, &mut open, &mut white, &mut full);
                }
                _ => {}
            }
        }
        write_path(out, "w", &white);
        write_path(out, "o", &open);
        write_path(out, "f", &full);
        texts(out, &seen);
        for shape in &seen {
            if let Shape::Mark { .. } = shape {
                mark(out, shape, through.is_none());
            }
        }
    }
}

fn write_path(out: &mut String, class: &str, path: &str) {
    if !path.is_empty() {
        let _ = write!(out, "<path class=\"{class}\" d=\"{path}\"/>");
    }
}

fn line(path: &mut String, points: &[Point]) {
    let mut before: Option<Point> = None;
    for point in points {
        let _ = match before {
            None => write!(path, "M{} {}", point.x, point.y),
            Some(before) if before.y == point.y => write!(path, "H{}", point.x),
            Some(before) if before.x == point.x => write!(path, "V{}", point.y),
            Some(_) => write!(path, "L{} {}", point.x, point.y),
        };
        before = Some(*point);
    }
}

fn arrow(path: &mut String, at: Point, towards: (f64, f64)) {
    let (x, y) = towards;
    let corner = |along: f64, across: f64| {
        (
            f64::from(at.x) + along * x - across * y,
            f64::from(at.y) + along * y + across * x,
        )
    };
    let (tip, one, other) = (corner(5.0, 0.0), corner(-4.0, 3.6), corner(-4.0, -3.6));
    let _ = write!(
        path,
        "M{:.1} {:.1}L{:.1} {:.1}L{:.1} {:.1}Z",
        tip.0, tip.1, one.0, one.1, other.0, other.1
    );
}

/// Adds a symbol to the paths of open lines, of white figures and of full ones.
fn draw(symbol: Symbol, at: Point, facing: i32, open: &mut String, white: &mut String, full: &mut String) {
    let (x, y) = (at.x, at.y);
    let circle = |path: &mut String, radius: i32| {
        let _ = write!(
            path,
            "M{} {y}a{radius} {radius} 0 1 0 {} 0a{radius} {radius} 0 1 0 {} 0Z",
            x - radius,
            2 * radius,
            -2 * radius
        );
    };
    let _ = match symbol {
        // The dip of the trap, then up to the outlet.
        Symbol::Trap => write!(open, "M{x} {y}c0 11 {b} 11 {b} 0v-8m-4 0h8", b = 9 * facing),
        Symbol::Bowl => write!(full, "M{} {}h14a7 7 0 0 1 -14 0Z", x - 7, y - 6),
        Symbol::Inflow => write!(full, "M{x} {y}l{b} -5v10Z", b = 9 * facing),
        Symbol::Cleanout => {
            circle(white, 6);
            write!(open, "M{} {}l6 6m-6 0l6 -6", x - 3, y - 3)
        }
        Symbol::Terminal => write!(open, "M{} {}l6 -7l6 7", x - 6, y + 2),
        Symbol::Valve => {
            circle(white, 6);
            write!(open, "M{} {y}h12", x - 6)
        }
        Symbol::Disposal => write!(white, "M{} {}h12v12h-12Z", x - 6, y - 6),
        Symbol::Backwater => write!(white, "M{} {}l12 12v-12l-12 12Z", x - 6, y - 6),
        Symbol::RunningTrap => write!(open, "M{} {y}c0 12 16 12 16 0", x - 8),
        Symbol::Joint => {
            circle(full, 3);
            Ok(())
        }
        Symbol::Flag => write!(white, "M{x} {}l7 7l-7 7l-7 -7Z", y - 7),
    };
}

fn texts(out: &mut String, seen: &[&Shape]) {
    for (face, class) in [
        (Face::Title, "tt"),
        (Face::Note, "to"),
        (Face::Name, "tn"),
        (Face::Figure, "tf"),
    ] {
        let mut opened = false;
        for shape in seen {
            let Shape::Text {
                area,
                face: own,
                text,
            } = shape
            else {
                continue;
            };
            if *own != face {
                continue;
            }
            if !opened {
                let _ = write!(out, "<g class=\"{class}\">");
                opened = true;
            }
            let _ = write!(
                out,
                "<text x=\"{}\" y=\"{}\">",
                match face {
                    Face::Title | Face::Note => area.from.x,
                    _ => area.from.x.midpoint(area.to.x),
                },
                area.to.y - 3
            );
            escape(out, text);
            out.push_str("</text>");
        }
        if opened {
            out.push_str("</g>");
        }
    }
}

/// A mark, as a link where it leads anywhere.
fn mark(out: &mut String, shape: &Shape, is_link: bool) {
    let Shape::Mark {
        at,
        kind,
        number,
        id,
        target,
        words,
    } = shape
    else {
        return;
    };
    let class = match kind {
        MarkKind::Violation => "mv",
        MarkKind::NeedsApproval => "ma",
        MarkKind::Advice => "mt",
        MarkKind::Open => "mo",
    };
    let is_link = is_link && !target.is_empty();
    if is_link {
        let _ = write!(out, "<a class=\"m {class}\" id=\"");
        escape(out, id);
        out.push_str("\" href=\"");
        escape(out, target);
        out.push_str("\" aria-label=\"");
        escape(out, words);
        out.push_str("\">");
    } else {
        let _ = write!(out, "<g class=\"m {class}\">");
    }
    let (x, y, half) = (at.x, at.y, mark_half_width(number));
    let _ = match kind {
        MarkKind::Violation | MarkKind::Open => write!(
            out,
            "<path d=\"M{} {}h{s}a{MARK} {MARK} 0 0 1 0 {h}h-{s}a{MARK} {MARK} 0 0 1 0 -{h}Z\"/>",
            x - half + MARK,
            y - MARK,
            s = 2 * (half - MARK),
            h = 2 * MARK
        ),
        MarkKind::NeedsApproval => write!(
            out,
            "<path d=\"M{} {y}l5 -{MARK}h{s}l5 {MARK}l-5 {MARK}h-{s}Z\"/>",
            x - half - 2,
            s = 2 * half - 6
        ),
        MarkKind::Advice => write!(
            out,
            "<path d=\"M{} {}h{}v{h}h-{}Z\"/>",
            x - half,
            y - MARK,
            2 * half,
            2 * half,
            h = 2 * MARK
        ),
    };
    let _ = write!(out, "<text x=\"{x}\" y=\"{}\">", y + 4);
    escape(out, number);
    out.push_str("</text>");
    out.push_str(if is_link { "</a>" } else { "</g>" });
}
