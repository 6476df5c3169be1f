//! Sizes and slopes that a file leaves to be chosen.
//!
//! It only reads what may be chosen; choosing is not this crate's.

use std::fmt;

use crownweir_quantity::{NominalSize, Slope};
use serde::Deserialize;
use serde::de::value::{MapAccessDeserializer, StrDeserializer};
use serde::de::{Deserializer, Error, MapAccess, Visitor};

use crate::model::SlopeBounds;
use crate::stated::bounds_denied;

/// A size, or the word by which a pipe within a run of a stated size leaves its own open.
#[derive(Debug, Clone, Copy)]
pub(crate) enum SizeFile {
    Open,
    Stated(NominalSize),
}

impl SizeFile {
    pub(crate) fn stated(self) -> Option<NominalSize> {
        match self {
            Self::Open => None,
            Self::Stated(size) => Some(size),
        }
    }
}

impl<'de> Deserialize<'de> for SizeFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct SizeVisitor;
        impl Visitor<'_> for SizeVisitor {
            type Value = SizeFile;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a nominal size such as `1-1/2 in` or `DN 50`, or the word `open`")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<SizeFile, E> {
                if text.trim() == "open" {
                    return Ok(SizeFile::Open);
                }
                NominalSize::deserialize(StrDeserializer::new(text)).map(SizeFile::Stated)
            }
            fn visit_i64<E: Error>(self, number: i64) -> Result<SizeFile, E> {
                self.visit_str(&number.to_string())
            }
            fn visit_u64<E: Error>(self, number: u64) -> Result<SizeFile, E> {
                self.visit_str(&number.to_string())
            }
            fn visit_f64<E: Error>(self, number: f64) -> Result<SizeFile, E> {
                self.visit_str(&number.to_string())
            }
        }
        deserializer.deserialize_any(SizeVisitor)
    }
}

/// A slope, or the bounds within which it is still to be chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum SlopeFile {
    Stated(Slope),
    Between(SlopeBounds),
}

impl SlopeFile {
    pub(crate) fn stated(self) -> Option<Slope> {
        match self {
            Self::Stated(slope) => Some(slope),
            Self::Between(_) => None,
        }
    }
}

impl<'de> Deserialize<'de> for SlopeFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct SlopeVisitor;
        impl<'de> Visitor<'de> for SlopeVisitor {
            type Value = SlopeFile;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(
                    "a slope such as `1/4 in/ft`, `2 %`, `1:50`, `20 mm/m`, `45 deg`, `level` or `vertical`, or the \
                     bounds `at_least` and `at_most` of one to be chosen",
                )
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<SlopeFile, E> {
                Slope::deserialize(StrDeserializer::new(text)).map(SlopeFile::Stated)
            }
            fn visit_i64<E: Error>(self, number: i64) -> Result<SlopeFile, E> {
                self.visit_str(&number.to_string())
            }
            fn visit_u64<E: Error>(self, number: u64) -> Result<SlopeFile, E> {
                self.visit_str(&number.to_string())
            }
            fn visit_f64<E: Error>(self, number: f64) -> Result<SlopeFile, E> {
                self.visit_str(&number.to_string())
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<SlopeFile, A::Error> {
                #[derive(Deserialize)]
                #[serde(deny_unknown_fields)]
                struct Fields {
                    at_least: Slope,
                    at_most: Slope,
                }
                let Fields { at_least, at_most } = Fields::deserialize(MapAccessDeserializer::new(map))?;
                let bounds = SlopeBounds { at_least, at_most };
                bounds_denied(bounds).map_or(Ok(SlopeFile::Between(bounds)), |message| {
                    Err(A::Error::custom(message))
                })
            }
        }
        deserializer.deserialize_any(SlopeVisitor)
    }
}
