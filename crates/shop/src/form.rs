//! A form to be filled in: the fittings of a network whose dimensions are missing, as a file of dimensions.
//!
//! It holds no figure.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use crownweir_quantity::NominalSize;
use crownweir_vocabulary::{FittingPattern, Material};

use crate::cut::End;
use crate::dimensions::{FORMAT, Part};
use crate::ends::joined;
use crate::job::Job;

/// A size by its number, which puts it in order, and its name.
type Named = (u32, String);

/// The rows of one material.
#[derive(Default)]
struct Rows {
    joints: BTreeSet<Named>,
    fittings: BTreeSet<(Part, Vec<Named>)>,
}

/// A file of dimensions with a row for every fitting and joint of the network that has none, its figures left open; none
/// where nothing is missing. Filled in, it makes every piece whose length is known be cut; as it is, it reads as a file in
/// which nothing is known.
#[must_use]
pub fn form(job: &Job<'_>) -> Option<String> {
    let graph = job.network.graph();
    let mut rows: BTreeMap<Material, Rows> = BTreeMap::new();
    for piece in &job.pieces {
        let Some((from, to)) = graph.edge_endpoints(piece.pipe) else {
            continue;
        };
        let first = |size: NominalSize| {
            let size = job.dimensions.size(size);
            (size.number(), size.to_string())
        };
        for (index, node) in [from, to].into_iter().enumerate() {
            if matches!(piece.ends.get(index), Some(End::Fitting { .. })) {
                continue;
            }
            if piece.is_coupled(index) {
                let own = graph.edge_weight(piece.pipe);
                if let Some((material, size)) = own.and_then(|own| own.material.zip(own.size)) {
                    let rows = rows.entry(material).or_default();
                    if job.dimensions.joint(material, size).is_none() {
                        rows.joints.insert(first(size));
                    }
                    let coupling = Part::Fitting(FittingPattern::Coupling);
                    rows.fittings.insert((coupling, vec![first(size)]));
                }
                continue;
            }
            let Ok(found) = joined(job.network, &job.geometry, job.dimensions, piece.pipe, node) else {
                continue;
            };
            if job.dimensions.joint(found.material, found.size).is_none() {
                let joints = &mut rows.entry(found.material).or_default().joints;
                joints.insert(first(found.size));
            }
            let known = job.dimensions.fitting(found.material, found.part, found.ends);
            if known.is_some_and(|known| found.stop(known).is_some()) {
                continue;
            }
            let [outlet, inlet, branch] = [found.ends.outlet, found.ends.inlet, found.ends.branch].map(first);
            let sizes = match found.part.has_branch() {
                true if inlet != outlet || branch != outlet => vec![outlet, inlet, branch],
                false if inlet != outlet => vec![outlet, inlet],
                _ => vec![outlet],
            };
            let fittings = &mut rows.entry(found.material).or_default().fittings;
            fittings.insert((found.part, sizes));
        }
    }
    (!rows.is_empty()).then(|| written(job, &rows))
}

fn written(job: &Job<'_>, rows: &BTreeMap<Material, Rows>) -> String {
    let mut text = format!(
        "# Fittings of {} whose dimensions are not known. Put a length such as `2-5/16 in` or `59 mm` in the place of each `~`,
# from the maker's sheet or as measured: from the centre of the fitting to the stop of the socket (of one that is butted,
# to its end), and how far a pipe goes in. What stays `~` is not known, and nothing is cut by it.
crownweir: {FORMAT}
title: {}
fittings:
",
        quoted(job.network.name()),
        quoted(&format!("fittings of {}", job.network.name())),
    );
    for (material, rows) in rows {
        let _ = write!(
            text,
            "  - standard: that of the fittings in hand
    materials: [{}]
    cite: {{basis: maker, document: the maker's sheet}}
",
            material.name()
        );
        if !rows.joints.is_empty() {
            text.push_str("    joints:\n");
        }
        for (_, size) in &rows.joints {
            let _ = writeln!(text, "      - {{size: {size}, engagement: ~}}");
        }
        if !rows.fittings.is_empty() {
            text.push_str("    rows:\n");
        }
        for (part, sizes) in &rows.fittings {
            let names: Vec<&str> = sizes.iter().map(|(_, size)| size.as_str()).collect();
            let size = match names.as_slice() {
                [one] => (*one).to_owned(),
                several => format!("[{}]", several.join(", ")),
            };
            let figures = if part.has_branch() {
                "outlet: ~, inlet: ~, branch: ~"
            } else if sizes.len() > 1 {
                "outlet: ~, inlet: ~"
            } else {
                "centre_to_stop: ~"
            };
            let _ = writeln!(
                text,
                "      - {{pattern: {}, size: {size}, {figures}}}",
                part.key()
            );
        }
    }
    text
}

/// A text between quotation marks: as JSON, which is YAML too.
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}
