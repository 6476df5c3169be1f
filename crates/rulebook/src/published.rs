//! The rule sets and amendments that come with the library.

use crownweir_document::{Diagnostics, Limits, nearest};

use crate::model::RuleSet;

include!(concat!(env!("OUT_DIR"), "/published.rs"));

/// Why a published rule set cannot be had.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PublishedError {
    /// None has that name.
    #[error("no rule set `{name}` is published{}", .near.map_or(String::new(), |near| format!("; did you mean `{near}`?")))]
    Unknown {
        /// The name asked for.
        name: String,
        /// The one of most like spelling.
        near: Option<&'static str>,
    },
    /// Its text is no rule set.
    #[error(transparent)]
    Faulty(#[from] Diagnostics),
}

/// The rule set of that name.
///
/// # Errors
/// That none has that name. No published text is faulty.
///
/// ```
/// use crownweir_rulebook::published;
///
/// assert_eq!(published::rule_set("ipc-2021")?.edition, "2021");
/// let unknown = published::rule_set("ipc-2012").err().map(|error| error.to_string());
/// assert_eq!(unknown.as_deref(), Some("no rule set `ipc-2012` is published; did you mean `ipc-2021`?"));
/// # Ok::<(), published::PublishedError>(())
/// ```
pub fn rule_set(name: &str) -> Result<RuleSet, PublishedError> {
    let text = text(name).ok_or_else(|| PublishedError::Unknown {
        name: name.to_owned(),
        near: nearest(name, names()),
    })?;
    Ok(RuleSet::read(name, text.as_bytes(), &Limits::rules())?)
}

/// The text of the rule set of that name.
#[must_use]
pub fn text(name: &str) -> Option<&'static str> {
    find(RULE_SETS, name)
}

/// The text of the amendment of that name.
#[must_use]
pub fn amendment(name: &str) -> Option<&'static str> {
    find(AMENDMENTS, name)
}

/// The names of all rule sets, in order.
pub fn names() -> impl Iterator<Item = &'static str> {
    RULE_SETS.iter().map(|(name, _)| *name)
}

/// The names of all amendments, in order.
pub fn amendments() -> impl Iterator<Item = &'static str> {
    AMENDMENTS.iter().map(|(name, _)| *name)
}

fn find(list: &[(&str, &'static str)], name: &str) -> Option<&'static str> {
    list.iter().find(|(own, _)| *own == name).map(|(_, text)| *text)
}
