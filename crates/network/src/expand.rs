//! Storeys by number and runs by storey: what one entry of the file stands for many times over.

use std::collections::HashMap;
use std::sync::Arc;

use crownweir_document::{Cursor, Diagnostics, nearest};
use crownweir_quantity::{Length, Notation};

use crate::elevation::differ;
use crate::model::Storey;
use crate::stated::name_denied;
use crate::wire::StoreyFile;

/// The storeys in order, and where each stands in it.
#[derive(Debug, Default)]
pub(crate) struct Storeys {
    pub(crate) list: Vec<Storey>,
    index: HashMap<Arc<str>, u32>,
}

impl Storeys {
    pub(crate) fn read(
        file: &[StoreyFile],
        top: Cursor<'_>,
        most: usize,
        notation: Notation,
        problems: &mut Diagnostics,
    ) -> Self {
        let mut storeys = Self::default();
        for (index, entry) in file.iter().enumerate() {
            let at = top.get("storeys").item(index);
            let names = match &entry.numbers {
                None => vec![entry.storey.0.clone()],
                Some(range) => match numbers(range, most) {
                    Some(numbers) if entry.storey.0.contains("{number}") => numbers
                        .map(|number| entry.storey.0.replace("{number}", &number.to_string()))
                        .collect(),
                    Some(_) => {
                        problems.push(
                            at.get("storey")
                                .problem("the name of a numbered storey has no `{number}` in it")
                                .expecting("a name such as `level {number}`"),
                        );
                        continue;
                    }
                    None => {
                        problems.push(
                            at.get("numbers")
                                .problem(format!("`{range}` is not a range of storey numbers"))
                                .expecting(format!("a range such as `1..12`, of at most {most}")),
                        );
                        continue;
                    }
                },
            };
            let mut stated = entry.elevation.map(|elevation| elevation.0);
            if let Some(stated) = stated
                && let Some((message, help)) = floor_denied(&storeys.list, stated, notation)
            {
                problems.push(at.get("elevation").problem(message).helped(help));
            }
            for name in names {
                if let Some((message, expected)) = name_denied(&name) {
                    problems.push(at.get("storey").problem(message).expecting(expected));
                }
                let name: Arc<str> = name.into();
                let number = u32::try_from(storeys.list.len()).unwrap_or(u32::MAX);
                if storeys.index.insert(Arc::clone(&name), number).is_some() {
                    problems.push(
                        at.get("storey")
                            .problem(format!("two storeys are called `{name}`"))
                            .expecting("a name of its own for each storey"),
                    );
                }
                let storey = Storey {
                    name,
                    elevation: stated.take(),
                    height: entry.height,
                };
                put_on_top(&mut storeys.list, storey);
            }
        }
        storeys
    }

    pub(crate) fn find(&self, name: &str) -> Option<u32> {
        self.index.get(name).copied()
    }

    pub(crate) fn name(&self, index: u32) -> Option<&str> {
        self.list.get(index as usize).map(|storey| &*storey.name)
    }

    pub(crate) fn nearest(&self, name: &str) -> Option<&str> {
        nearest(name, self.list.iter().map(|storey| &*storey.name))
    }

    /// What a storey's name may be, in words.
    pub(crate) fn expected(&self) -> String {
        /// Of more than so many storeys not all are named.
        const MOST_NAMED: usize = 8;
        let first = self.list.iter().take(MOST_NAMED).map(|storey| &*storey.name);
        let first = first.collect::<Vec<_>>().join(", ");
        match self.list.len() {
            0 => "it among `storeys`, such as `storeys: [{storey: ground}]`".to_owned(),
            count if count > MOST_NAMED => format!("one of the {count} under `storeys`: {first}, ..."),
            _ => format!("one of {first}"),
        }
    }

    /// `first..last` by name, or a single name.
    pub(crate) fn range(&self, text: &str) -> Result<std::ops::RangeInclusive<u32>, String> {
        if let Some(one) = self.find(text) {
            return Ok(one..=one);
        }
        let (first, last) = text.split_once("..").unwrap_or((text, text));
        let find = |name: &str| {
            self.find(name.trim())
                .ok_or_else(|| format!("there is no storey `{}`", name.trim()))
        };
        let (first, last) = (find(first)?, find(last)?);
        if first > last {
            return Err(format!("`{text}` runs downward"));
        }
        Ok(first..=last)
    }
}

/// Puts a storey on top of others: where its floor is not stated, it lies on the last of them.
pub(crate) fn put_on_top(storeys: &mut Vec<Storey>, mut storey: Storey) {
    storey.elevation = storey.elevation.or_else(|| top(storeys));
    if let Some(below) = storeys.last_mut() {
        let between = storey.elevation.zip(below.elevation);
        let between = between.and_then(|(above, own)| above.checked_sub(own));
        below.height = between.or(below.height);
    }
    storeys.push(storey);
}

/// How high above the datum the last of some storeys reaches up, where that is known. The floor of the lowest is the datum
/// unless it is stated otherwise.
fn top(storeys: &[Storey]) -> Option<Length> {
    let Some(last) = storeys.last() else {
        return Some(Length::ZERO);
    };
    last.elevation?.checked_add(last.height?)
}

/// What is wrong with a floor stated at a height on top of some storeys, and how to mend it.
pub(crate) fn floor_denied(
    storeys: &[Storey],
    stated: Length,
    notation: Notation,
) -> Option<(String, &'static str)> {
    let last = storeys.last()?;
    let shown = |length: Length| length.in_notation(notation);
    if let Some(top) = top(storeys) {
        return differ(top, stated).then(|| {
            let message = format!(
                "the floor is stated at {}, but `{}` below it reaches up to {} by its height",
                shown(stated),
                last.name,
                shown(top)
            );
            (
                message,
                "correct the elevation, or the height of the storey below",
            )
        });
    }
    let below = last.elevation.filter(|&below| stated < below)?;
    let message = format!(
        "the floor is stated at {}, but that of `{}` before it at {}",
        shown(stated),
        last.name,
        shown(below)
    );
    Some((message, "storeys stand in the order from the lowest up"))
}

/// `1..12`, both ends included, of at most `most` numbers.
fn numbers(text: &str, most: usize) -> Option<std::ops::RangeInclusive<i32>> {
    let (first, last) = text.split_once("..")?;
    let (first, last): (i32, i32) = (first.trim().parse().ok()?, last.trim().parse().ok()?);
    let count = usize::try_from(i64::from(last) - i64::from(first) + 1).ok()?;
    (count >= 1 && count <= most).then_some(first..=last)
}

/// What the placeholders of a repeated run stand for; outside a repetition there are none.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Occasion<'a> {
    pub(crate) storey: Option<(&'a Storeys, u32)>,
}

impl Occasion<'_> {
    /// The name with its placeholders filled in.
    pub(crate) fn name(&self, text: &str) -> Result<String, String> {
        let Some((storeys, storey)) = self.storey else {
            return Ok(text.to_owned());
        };
        if !text.contains('{') {
            return Ok(text.to_owned());
        }
        let mut filled = text.to_owned();
        for (placeholder, index) in [
            ("{storey}", Some(storey)),
            ("{above}", storey.checked_add(1)),
            ("{below}", storey.checked_sub(1)),
        ] {
            if !filled.contains(placeholder) {
                continue;
            }
            let Some(name) = index.and_then(|index| storeys.name(index)) else {
                let own = storeys.name(storey).unwrap_or_default();
                return Err(format!(
                    "`{text}`: there is no storey {} `{own}`",
                    &placeholder[1..6]
                ));
            };
            filled = filled.replace(placeholder, name);
        }
        match name_denied(&filled) {
            Some((message, _)) => Err(message),
            None => Ok(filled),
        }
    }

    /// Whether a name in a repeated run differs from storey to storey.
    pub(crate) fn distinguishes(&self, text: &str) -> bool {
        self.storey.is_none()
            || text.contains("{storey}")
            || text.contains("{above}")
            || text.contains("{below}")
    }
}
