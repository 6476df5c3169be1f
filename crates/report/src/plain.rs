//! Text from a file, made fit to stand in a line of any format.

use crownweir_quantity::acts_on_text;

/// What stands for a character that would act rather than be read.
const REPLACEMENT: char = '\u{FFFD}';

/// `text` in one line, each character that acts on a terminal, an XML reader or the direction of writing replaced.
/// Escaping for the format is still its writer's business.
pub(crate) fn plain(text: &str) -> String {
    text.chars()
        .map(|letter| match letter {
            '\t' | '\n' | '\r' => ' ',
            _ if acts_on_text(letter) => REPLACEMENT,
            _ => letter,
        })
        .collect()
}

/// The same, and no longer than `most` characters.
pub(crate) fn shortened(text: &str, most: usize) -> String {
    if text.chars().nth(most).is_none() {
        return plain(text);
    }
    let mut short: String = text.chars().take(most.saturating_sub(1)).collect();
    short.push('…');
    plain(&short)
}

#[cfg(test)]
mod tests {
    use super::{plain, shortened};

    #[test]
    fn what_acts_is_replaced() {
        assert_eq!(plain("a\u{7}b\u{202E}c\nd\u{1b}[31m"), "a�b�c d�[31m");
        assert_eq!(plain("WC-1 é 漢"), "WC-1 é 漢");
    }

    #[test]
    fn what_is_too_long_ends_in_an_ellipsis() {
        assert_eq!(shortened("12345", 5), "12345");
        assert_eq!(shortened("123456", 5), "1234…");
    }
}
