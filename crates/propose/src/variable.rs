//! What is still to be chosen: the open sizes and slopes of a network, and what each may be.

use std::collections::BTreeMap;

use crownweir_network::{Network, Pipe, PipeId, Position};
use crownweir_quantity::{Length, NominalSize, Notation, Rounding, Slope};
use crownweir_rulebook::{RuleSet, Size};

/// One thing that a pipe may be, with what it costs.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Choice {
    /// The size, where that is open.
    pub(crate) size: Option<(Size, NominalSize)>,
    /// The slope, where that is open.
    pub(crate) slope: Option<Slope>,
    /// Whether no one sets that slope: it is no mark of a level, and the file does not name it.
    pub(crate) is_odd: bool,
    /// Its material; for a pipe whose size is given, none.
    pub(crate) material: u128,
}

/// A pipe that is open, or all the pipes that one line of the file stands for.
#[derive(Debug, Clone)]
pub(crate) struct Variable {
    /// As water and air flow through them.
    pub(crate) pipes: Vec<PipeId>,
    pub(crate) position: Position,
    /// From the least material up, and of one size from the least slope up, those that no one sets last.
    pub(crate) choices: Vec<Choice>,
    /// Whether the length of some of its pipes is not stated.
    pub(crate) length_open: bool,
}

/// What of the choices of a variable is left, one bit for each.
pub(crate) type Left = u128;

/// As many choices as [`Left`] holds, which is no less than a ladder may have sizes.
pub(crate) const MOST_CHOICES: usize = Left::BITS as usize;
const _: () = assert!(crownweir_rulebook::MOST_SIZES <= MOST_CHOICES);

/// What a pipe without a stated length counts as, so that it too is made no larger than need be.
const LENGTH_NOT_STATED: Length = Length::METRE;

/// The open pipes, drains before vents and each after all that leads into it.
pub(crate) fn variables(network: &Network, rules: &RuleSet) -> Vec<Variable> {
    let graph = network.graph();
    let slopes = rules.named_slopes();
    let mut variables: Vec<Variable> = Vec::new();
    let mut by_line: BTreeMap<Position, usize> = BTreeMap::new();
    for id in network.flow_order().pipes {
        let Some(pipe) = graph.edge_weight(id) else {
            continue;
        };
        let bounds = pipe.slope_bounds.filter(|_| pipe.slope.is_none());
        if pipe.size.is_some() && bounds.is_none() {
            continue;
        }
        let next = variables.len();
        // What an edit has added stands in no line, and is chosen by itself.
        let number = if pipe.position.is_in_file() {
            *by_line.entry(pipe.position).or_insert(next)
        } else {
            next
        };
        match variables.get_mut(number) {
            Some(one) => one.pipes.push(id),
            None => variables.push(Variable {
                pipes: vec![id],
                position: pipe.position,
                choices: Vec::new(),
                length_open: false,
            }),
        }
    }
    for one in &mut variables {
        let pipes = || one.pipes.iter().filter_map(|&id| graph.edge_weight(id));
        one.length_open = pipes().any(|pipe| pipe.length.is_none());
        let length: u128 = pipes()
            .map(|pipe| {
                pipe.length
                    .unwrap_or(LENGTH_NOT_STATED)
                    .nanometres()
                    .unsigned_abs()
            })
            .map(u128::from)
            .sum();
        let Some(first) = pipes().next() else { continue };
        let sizes: Vec<Option<(Size, NominalSize)>> = match first.size {
            Some(_) => vec![None],
            None => rules
                .pipe_sizes()
                .into_iter()
                .filter_map(|size| Some(Some((size, rules.ladder.rung(size)?.name))))
                .collect(),
        };
        let slopes: Vec<Option<Slope>> = match first.slope_bounds.filter(|_| first.slope.is_none()) {
            None => vec![None],
            Some(bounds) => {
                let between = slopes
                    .iter()
                    .filter(|slope| (bounds.at_least..=bounds.at_most).contains(slope));
                let mut list: Vec<Slope> = between.copied().collect();
                list.extend([bounds.at_least, bounds.at_most]);
                list.sort_unstable();
                list.dedup();
                // Where there are more than can be kept, the steepest stays.
                let most = (MOST_CHOICES / sizes.len().max(1)).max(1);
                if list.len() > most {
                    list.truncate(most - 1);
                    list.push(bounds.at_most);
                }
                list.into_iter().map(Some).collect()
            }
        };
        for size in &sizes {
            let material = size.map_or(0, |(size, _)| {
                let diameter = rules
                    .ladder
                    .rung(size)
                    .map_or(0, |rung| rung.diameter.nanometres());
                area(diameter).saturating_mul(length)
            });
            one.choices.extend(slopes.iter().map(|slope| Choice {
                size: *size,
                slope: *slope,
                is_odd: slope.is_some_and(|slope| !is_set(slope, first, network.notation())),
                material,
            }));
        }
        one.choices.sort_by_key(|choice| {
            let size = choice.size.map(|size| size.0);
            (choice.material, size, choice.is_odd, choice.slope)
        });
    }
    variables
}

/// Whether a plumber sets a drain to a slope: one that the file names, or a whole number of sixteenths of an inch per foot,
/// or of half per cents, as the network's lengths are in inches or in millimetres (common practice: so levels are marked).
fn is_set(slope: Slope, pipe: &Pipe, notation: Notation) -> bool {
    let bounds = pipe.slope_bounds;
    at_mark(slope, notation, Rounding::Down) == slope
        || bounds.is_some_and(|bounds| [bounds.at_least, bounds.at_most].contains(&slope))
}

/// The slope at the next mark of a level to one side, itself where it stands at one; as it is where none can be told.
pub(crate) fn at_mark(slope: Slope, notation: Notation, rounding: Rounding) -> Slope {
    let marks: i64 = match notation {
        Notation::Inches => 12 * 16,
        Notation::Millimetres => 100 * 2,
    };
    let (scaled, run) = (
        i128::from(slope.rise()) * i128::from(marks),
        i128::from(slope.run()),
    );
    let (Some(down), Some(over)) = (scaled.checked_div_euclid(run), scaled.checked_rem_euclid(run)) else {
        return slope;
    };
    let count = match rounding {
        Rounding::Down => down,
        Rounding::Up => down + i128::from(over != 0),
    };
    let count = i64::try_from(count).ok();
    count.and_then(|count| Slope::new(count, marks)).unwrap_or(slope)
}

/// The square of a diameter: the area of the circle, save for a factor that is the same for all.
fn area(diameter: i64) -> u128 {
    let diameter = u128::from(diameter.unsigned_abs());
    diameter.saturating_mul(diameter)
}
