//! Quantities as text in files: always with a unit, never a bare number.

/// Gives a quantity type `Deserialize` from its notation and `Serialize` to it.
macro_rules! as_text {
    ($name:ident) => {
        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                struct Visitor;
                impl serde::de::Visitor<'_> for Visitor {
                    type Value = $name;
                    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                        f.write_str($name::EXPECTED)
                    }
                    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<$name, E> {
                        text.parse().map_err(E::custom)
                    }
                    fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<$name, E> {
                        self.visit_str(&number.to_string())
                    }
                    fn visit_u64<E: serde::de::Error>(self, number: u64) -> Result<$name, E> {
                        self.visit_str(&number.to_string())
                    }
                    fn visit_f64<E: serde::de::Error>(self, number: f64) -> Result<$name, E> {
                        self.visit_str(&number.to_string())
                    }
                }
                deserializer.deserialize_any(Visitor)
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }
    };
}
pub(crate) use as_text;

/// Whether a character acts on the text around it, or on what shows it, rather than being read: controls, marks and
/// overrides of the direction of writing, ends of line and paragraph, a byte order mark, and what is no character in XML.
/// A text from a file that is shown in one line has something else in its place.
#[must_use]
pub fn acts_on_text(letter: char) -> bool {
    letter.is_control()
        || matches!(
            letter,
            '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}'
                | '\u{FEFF}' | '\u{FFFE}' | '\u{FFFF}'
        )
}
