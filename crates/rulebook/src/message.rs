//! Messages with places for figures: `{fact.name}`, `{measured}`, `{limit}`, or a name under the rule's `show`; and
//! `{least_or_most}`, which is what the limit is.

use crownweir_document::{Cursor, Diagnostics, nearest};

use crate::expression::Scope;
use crate::facts::Fact;
use crate::model::{Message, Operand, Piece};

pub(crate) fn message(
    text: &str,
    at: Cursor<'_>,
    scope: &Scope<'_>,
    show: &[(String, Operand)],
    problems: &mut Diagnostics,
) -> Message {
    let subject = scope.subject;
    let mut pieces = Vec::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        if !before.is_empty() {
            pieces.push(Piece::Text(before.to_owned()));
        }
        let Some((name, after)) = after.split_once('}') else {
            problems.push(
                at.problem("a `{` in the message is never closed")
                    .expecting("`{name}`"),
            );
            return Message { pieces };
        };
        rest = after;
        let piece = match name {
            "measured" => Some(Piece::Measured),
            "limit" => Some(Piece::Limit),
            "least_or_most" => Some(Piece::LeastOrMost),
            _ => match show.iter().position(|(shown, _)| shown == name) {
                Some(index) => Some(Piece::Shown(index)),
                None => name
                    .parse()
                    .ok()
                    .filter(|fact: &Fact| subject.sees(fact.family()))
                    .map(Piece::Fact),
            },
        };
        if let Some(Piece::Fact(fact)) = piece
            && !scope.can_measure(fact, at, problems)
        {
            continue;
        }
        match piece {
            Some(piece) => pieces.push(piece),
            None => {
                let known = subject
                    .facts()
                    .map(|fact| -> &str { fact.name() })
                    .chain(show.iter().map(|(name, _)| name.as_str()))
                    .chain(["measured", "limit", "least_or_most"]);
                problems.push(
                    at.problem(format!("the message speaks of `{name}`, which is not known here"))
                        .expecting(format!(
                            "`measured`, `limit`, `least_or_most`, a name under `show`, or a fact that a rule about \
                             {} can see",
                            subject.name()
                        ))
                        .suggesting(nearest(name, known)),
                );
            }
        }
    }
    if !rest.is_empty() {
        pieces.push(Piece::Text(rest.to_owned()));
    }
    Message { pieces }
}
