//! The nearest values by which a rule would hold on an element.

use crownweir_evaluate::{Judgement, Limit, Measured, UnknownSizes};
use crownweir_network::{Network, PipeId};
use crownweir_rulebook::{Check, Grain, Rule, RuleSet, Subject, Value};

/// A value by which a rule would hold, all else as it is.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Passing {
    /// What would have it: a fact of the element, or the pipe's size.
    pub what: String,
    /// The value, and in which sense.
    pub value: String,
}

/// What a rule holds the element's facts to, and, for a pipe on which it does not hold, the nearest other size in which it
/// does, found by evaluating it in each.
///
/// # Errors
/// The sizes that the network uses and the rule set does not know.
///
/// ```
/// # use crownweir_evaluate::Measured;
/// # use crownweir_network::Network;
/// # use crownweir_propose::nearest_passing;
/// # use crownweir_rulebook::{RuleSet, Subject, published};
/// # let file = "
/// # crownweir: network/1
/// # name: drain
/// # drains:
/// #   - kind: building_drain
/// #     size: 3 in
/// #     slope: 1/4 in/ft
/// #     path:
/// #       - fixture: {name: load, type: connected_load, load: 100 dfu}
/// #       - pipe: {name: to the sewer, length: 9 ft}
/// #       - disposal: {name: sewer}
/// # ";
/// # let network = Network::read("n.yaml", file.as_bytes(), &Default::default())?;
/// # let text = published::text("ipc-2021").ok_or("no such rule set")?;
/// # let rules = RuleSet::read("ipc-2021", text.as_bytes(), &Default::default())?;
/// let rule = rules.rule("building-drain-capacity").ok_or("no such rule")?;
/// let passing = nearest_passing(&network, &rules, rule, 0)?;
/// let words: Vec<_> = passing.iter().map(|one| format!("{}: {}", one.what, one.value)).collect();
/// assert_eq!(words, ["drain.load: at most 42 dfu", "size of the pipe: 4 in"]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn nearest_passing(
    network: &Network,
    rules: &RuleSet,
    rule: &Rule,
    element: u32,
) -> Result<Vec<Passing>, UnknownSizes> {
    let measured = Measured::new(network, rules)?;
    let words = |value: Value| value.in_words(&rules.ladder, network.notation());
    let most = |check: &Check, limit: Value| match check {
        Check::Compare(order, _) => {
            limit.in_words_to(Grain::Limit(*order), &rules.ladder, network.notation())
        }
        _ => words(limit),
    };
    let mut passing = Vec::new();
    for (test, limit) in measured.limits(rule, element) {
        if let Limit::Known(limit) = limit {
            passing.push(Passing {
                what: test.fact.name().to_owned(),
                value: format!(
                    "{} {}",
                    test.check.order().replace('_', " "),
                    most(&test.check, limit)
                ),
            });
        }
    }
    let is_sought = matches!(rule.subject, Subject::Pipe | Subject::Drain | Subject::Vent)
        && measured.judgement(rule, element) != Judgement::Satisfied;
    let pipe = PipeId::new(element as usize);
    let own = network
        .graph()
        .edge_weight(pipe)
        .filter(|_| is_sought)
        .and_then(|pipe| pipe.size);
    let Some(own) = own.and_then(|size| rules.ladder.find(size)) else {
        return Ok(passing);
    };
    let mut sizes: Vec<_> = rules.pipe_sizes();
    sizes.retain(|&size| size != own);
    // The nearest first, and of two as near the larger.
    sizes.sort_by_key(|size| (size.0.abs_diff(own.0), size.0 < own.0));
    for size in sizes {
        let mut tried = network.clone();
        tried.set_size(pipe, rules.ladder.rung(size).map(|rung| rung.name));
        if Measured::new(&tried, rules)?.judgement(rule, element) == Judgement::Satisfied {
            passing.push(Passing {
                what: "size of the pipe".to_owned(),
                value: words(Value::Size(size)),
            });
            break;
        }
    }
    Ok(passing)
}
