//! The rule sets and amendments that come with the library.

include!(concat!(env!("OUT_DIR"), "/published.rs"));

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
