//! Letters and signs that look like others, which nobody sees who reads what is wrong.

/// A letter or sign that looks like one of the keyboard's, and that one, where it stands among the keyboard's.
pub(crate) fn stranger(text: &str) -> Option<(char, char)> {
    let has_letters = text.contains(|letter: char| letter.is_ascii_alphabetic());
    let has_digits = text.contains(|letter: char| letter.is_ascii_digit());
    text.chars().find_map(|letter| {
        let own = looks_like(letter)?;
        let stands_out = has_letters || (has_digits && !letter.is_alphabetic());
        stands_out.then_some((letter, own))
    })
}

fn looks_like(letter: char) -> Option<char> {
    const LETTERS: [(&str, &str); 2] = [
        ("аеіјорсѕухАВЕЅІЈКМНОРСТУХ", "aeijopcsyxABESIJKMHOPCTYX"),
        ("αικνορχΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "aikvopxABEZHIKMNOPTYX"),
    ];
    match letter {
        '\u{ff01}'..='\u{ff5e}' => char::from_u32(u32::from(letter) - 0xfee0),
        '\u{2010}'..='\u{2015}' | '\u{2212}' => Some('-'),
        _ => LETTERS.iter().find_map(|(strange, own)| {
            let mut pairs = strange.chars().zip(own.chars());
            pairs.find(|(strange, _)| *strange == letter).map(|(_, own)| own)
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::stranger;

    #[test]
    fn what_looks_like_another_letter_is_found_among_those() {
        for (text, found) in [
            ("trаp-arms", Some(('а', 'a'))),
            ("５ ft", Some(('５', '5'))),
            ("1–1/2 in", Some(('–', '-'))),
            ("1−2", Some(('−', '-'))),
            ("trap-arms", None),
            // A word of its own alphabet.
            ("трап", None),
            ("трап 1", None),
            ("Küche 2", None),
        ] {
            assert_eq!(stranger(text), found, "{text}");
        }
    }
}
