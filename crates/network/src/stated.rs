//! What may be stated of one node or pipe by itself, whether a file states it or an edit.
//!
//! It never looks at what stands beside.

use crownweir_quantity::Length;
use crownweir_vocabulary::Role;

use crate::model::{Fixture, SlopeBounds};

/// What is wrong, and what would be right.
pub(crate) type Denied = (String, &'static str);

/// So many bytes a name has at the most. What is made of names, as that of a pipe after its ends, may be longer.
pub(crate) const LONGEST_NAME: usize = 200;

/// Of a name.
pub(crate) fn name_denied(name: &str) -> Option<Denied> {
    if name.trim().is_empty() {
        return Some(("the name is empty".to_owned(), "at least one letter or digit"));
    }
    if name.chars().any(char::is_control) {
        return Some(("the name holds a control character".to_owned(), "plain text"));
    }
    (name.len() > LONGEST_NAME).then(|| {
        let message = format!("the name is longer than {LONGEST_NAME} bytes");
        (message, "a shorter one")
    })
}

/// Of a property that fixtures of the type do not have, with its key: a load would be reckoned without it.
pub(crate) fn property_denied(fixture: &Fixture) -> Option<(&'static str, Denied)> {
    let own = fixture.fixture_type;
    let denied = |key, message: String, expected| Some((key, (message, expected)));
    if fixture.load.is_some() && !own.states_load() {
        return denied(
            "load",
            format!("the load of the type `{}` is the rule set's to give", own.name()),
            "`load` only with the types connected_load, other and floor_sink; what the rule set does not list is of the type other",
        );
    }
    if fixture.compartments != 1 && !own.is_sink() {
        let expected = "`compartments` only with sinks and trays; what else shares a trap is of the type other, with a `load`";
        let message = format!("a fixture of the type `{}` has no compartments", own.name());
        return denied("compartments", message, expected);
    }
    None
}

/// Of the length of a pipe.
pub(crate) fn length_denied(pipe: &str, length: Option<Length>) -> Option<Denied> {
    (length == Some(Length::ZERO)).then(|| {
        (
            format!("the pipe `{pipe}` has no length"),
            "a length above zero; leave it out where it is not known",
        )
    })
}

/// Of bounds within which a slope is to be chosen.
pub(crate) fn bounds_denied(SlopeBounds { at_least, at_most }: SlopeBounds) -> Option<String> {
    (at_least > at_most).then(|| format!("the least slope, {at_least}, is steeper than the most, {at_most}"))
}

/// Of bounds, by what the pipe carries.
pub(crate) fn choice_denied(role: Role, bounds: Option<SlopeBounds>) -> Option<Denied> {
    (bounds.is_some() && role == Role::Vent).then(|| {
        (
            "only the slope of a drain is chosen within bounds".to_owned(),
            "a slope such as `1/4 in/ft` or `vertical`",
        )
    })
}

/// Writes faults as people read them: one to a line, and how many more there were.
pub(crate) fn one_to_a_line(
    f: &mut std::fmt::Formatter<'_>,
    faults: &[impl std::fmt::Display],
    omitted: usize,
) -> std::fmt::Result {
    for (index, fault) in faults.iter().enumerate() {
        let line = if index > 0 { "\n" } else { "" };
        write!(f, "{line}{fault}")?;
    }
    if omitted > 0 {
        write!(f, "\nand {omitted} more")?;
    }
    Ok(())
}
