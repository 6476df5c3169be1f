//! Choices put into the text of a network file, all else in it as it stands.

use std::collections::BTreeMap;

use crownweir_document::{Cursor, Document, TextEdit};

use crate::error::ChangeError;
use crate::sizing::Chosen;

/// The text of the file with sizes and slopes written where its pipes are defined.
///
/// # Errors
/// The pipes that have no place there, because the document is not the network's.
///
/// ```
/// # use crownweir_document::Document;
/// # use crownweir_network::Network;
/// # use crownweir_propose::{Effort, Sizing, size, with_sizes};
/// # use crownweir_rulebook::{RuleSet, published};
/// # let text = published::text("ipc-2021").ok_or("no such rule set")?;
/// # let rules = RuleSet::read("ipc-2021", text.as_bytes(), &Default::default())?;
/// let file = "
/// crownweir: network/1
/// name: drain
/// drains:
///   - kind: building_drain
///     slope: 1/4 in/ft
///     path:
///       - fixture: {name: load, type: connected_load, load: 100 dfu}
///       - pipe: {length: 9 ft}  # to the lot line
///       - disposal: {name: sewer}
/// ";
/// let document = Document::read("n.yaml", file.as_bytes(), &Default::default())?;
/// let network = Network::from_document(&document, &Default::default())?;
/// let Sizing::Sized(sized) = size(&network, &rules, Effort::default())? else {
///     return Err("no sizes".into());
/// };
/// let written = with_sizes(&document, &sized.chosen)?;
/// assert_eq!(written, file.replace("{length: 9 ft}  #", "{size: 4 in, length: 9 ft}  #"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn with_sizes(document: &Document, chosen: &[Chosen]) -> Result<String, ChangeError> {
    let no_place = |one: &Chosen| ChangeError::NoPlace {
        element: one.name.clone(),
    };
    let mut steps = pipe_steps(document);
    let mut edits: Vec<TextEdit> = Vec::new();
    for one in chosen {
        // Taken out, so that what is chosen twice is refused.
        let at = steps.remove(&(one.position.line as usize, one.position.column as usize));
        let size = one.size.map(|size| ("size", document.scalar(&size.to_string())));
        let slope = one
            .slope
            .map(|slope| ("slope", document.scalar(&slope.to_string())));
        let parts: Vec<(&str, String)> = size.into_iter().chain(slope).collect();
        let made = at.and_then(|at| document.put_all(at, &parts));
        edits.extend(made.ok_or_else(|| no_place(one))?);
    }
    match (document.edited(&edits), chosen.first()) {
        (Some(text), _) => Ok(text),
        (None, Some(one)) => Err(no_place(one)),
        (None, None) => Ok(document.text().to_owned()),
    }
}

/// The pipes of all runs by the line and column of each.
fn pipe_steps(document: &Document) -> BTreeMap<(usize, usize), Cursor<'_>> {
    let mut steps = BTreeMap::new();
    for run in runs(document) {
        let path = run.get("path");
        for index in 0..path.len() {
            let step = path.item(index);
            if step.has("pipe") {
                let at = step.get("pipe");
                let place = at.place();
                steps.insert((place.line, place.column), at);
            }
        }
    }
    steps
}

/// All runs, those that are repeated too.
pub(crate) fn runs(document: &Document) -> Vec<Cursor<'_>> {
    let top = document.top();
    let mut groups = vec![top];
    if top.has("repeat") {
        let repeat = top.get("repeat");
        groups.extend((0..repeat.len()).map(|index| repeat.item(index)));
    }
    let mut runs = Vec::new();
    for group in groups {
        for key in ["drains", "vents"] {
            if group.has(key) {
                let list = group.get(key);
                runs.extend((0..list.len()).map(|index| list.item(index)));
            }
        }
    }
    runs
}
