//! How wide text is, so that its place can be kept free, and what of it may be drawn.
//!
//! It knows no font file: widths are those of the common sans-serif faces, taken a little too large.

use crownweir_quantity::acts_on_text;

/// What stands for a character that would act rather than be read.
const REPLACEMENT: char = '\u{FFFD}';

/// Width of `text` in whole units at a font size, rounded up.
pub(crate) fn width(text: &str, size: i32) -> i32 {
    let thousandths: i32 = text.chars().map(advance).sum();
    (thousandths * size).div_euclid(1000) + 2
}

/// Thousandths of the font size.
fn advance(letter: char) -> i32 {
    match letter {
        'i' | 'j' | 'l' | '\'' | '|' => 250,
        ' ' | '!' | ',' | '.' | '/' | ':' | ';' | 'I' | 'f' | 't' | '·' | '[' | ']' | '(' | ')' => 310,
        '-' | 'r' | '"' | '`' => 360,
        'm' | 'M' | 'W' | '%' | '@' => 930,
        'w' | 'C' | 'D' | 'G' | 'H' | 'N' | 'O' | 'Q' | 'R' | 'U' => 780,
        'a'..='z' | '0'..='9' => 580,
        'A'..='Z' => 700,
        _ if letter.is_ascii() => 620,
        // Ideographs fill a square; combining marks take less, which does no harm.
        _ => 1050,
    }
}

/// `text` in one line of at most `most` characters, each that acts on a reader or on the direction of writing replaced.
pub(crate) fn shown(text: &str, most: usize) -> String {
    let too_long = text.chars().nth(most).is_some();
    let keep = if too_long { most.saturating_sub(1) } else { most };
    let mut shown: String = text
        .chars()
        .take(keep)
        .map(|letter| match letter {
            '\t' | '\n' | '\r' => ' ',
            _ if acts_on_text(letter) => REPLACEMENT,
            _ => letter,
        })
        .collect();
    if too_long {
        shown.push('…');
    }
    shown
}

/// Adds `text` with what XML would read as markup escaped.
pub(crate) fn escape(out: &mut String, text: &str) {
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            _ => out.push(letter),
        }
    }
}
