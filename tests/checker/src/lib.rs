//! Confirms or refuses each finding and pass of a report in JSON by judging its rule anew.
//!
//! No code of the evaluator has a part in it. What was measured is taken from a claim's steps, and held to the network
//! file where that states it; all else has to come out the same.
#![forbid(unsafe_code)]

mod fit;
mod place;
mod verdict;
mod walk;

use crownweir_document::Document;
use crownweir_network::Network;
use crownweir_rulebook::{Citation, RuleSet, Subject};
use serde_json::{Value as Json, json};

use walk::Walk;

/// Judges every finding and pass of a report on the network in `file`: by which rule and of what element it is, and why it
/// is refused, if it is.
#[must_use]
pub fn judge(
    rules: &RuleSet,
    network: &Network,
    file: &Document,
    report: &Json,
) -> Vec<(String, Result<(), String>)> {
    let mut judged = Vec::new();
    for key in ["findings", "passes"] {
        for claim in list(&report[key]) {
            let what = format!("{} `{}`", text(&claim["rule"]), text(&claim["name"]));
            let walk = Walk::new(rules, network, claim);
            judged.push((what, confirm(walk, key == "passes", file)));
        }
    }
    judged
}

/// Compares what is claimed with what has to be said.
fn confirm(mut walk: Walk<'_>, is_pass: bool, file: &Document) -> Result<(), String> {
    let claim = walk.claim;
    let (subject, mut own) = match walk.rules.rule(text(&claim["rule"])) {
        Some(rule) => (rule.subject, walk.rule(rule)),
        None => (Subject::Trap, walk.protection()),
    };
    let verdicts: &[&str] = if is_pass {
        &["pass"]
    } else {
        &["violated", "undetermined"]
    };
    if !verdicts.contains(&text(&own["verdict"])) {
        return Err(format!("it comes to {}", own["verdict"]));
    }
    own["subject"] = subject.name().into();
    own["steps"] = std::mem::take(&mut walk.steps).into();
    for (key, own) in own.as_object().into_iter().flatten() {
        // A pass says no more than this.
        let is_said = !is_pass || key == "rule" || key == "steps";
        if is_said && claim[key] != *own {
            return Err(format!("`{key}` is {own}, not {}", claim[key]));
        }
    }
    let cited = &claim["citation"];
    if !is_pass && !walk.cited.iter().any(|citation| is_of(cited, citation)) {
        return Err(format!("{} is not what applies", cited["text"]));
    }
    if !walk.is_there(subject) {
        return Err(format!("there is no such {}", subject.name()));
    }
    walk.stated(file)
}

/// Whether a citation is what is cited.
fn is_of(cited: &Json, citation: &Citation) -> bool {
    let set_by = citation.set_by.as_ref().map(|by| {
        let (file, line) = (&*by.place.file, by.place.line);
        json!({"amendment": by.amendment.name, "file": file, "line": line})
    });
    let own = json!({
        "text": citation.to_string(), "document": &*citation.document, "edition": &*citation.edition,
        "section": citation.section.as_deref(), "basis": citation.basis.name(),
        "checked": citation.checked.as_deref(), "note": citation.note.as_deref(),
        "set_by": set_by, "amends": citation.amends.as_ref().map(ToString::to_string),
    });
    let mut own = own.as_object().into_iter().flatten();
    own.all(|(key, own)| cited[key] == *own)
}

fn list(json: &Json) -> &[Json] {
    json.as_array().map_or(&[], Vec::as_slice)
}

fn text(json: &Json) -> &str {
    json.as_str().unwrap_or_default()
}
