//! The least and the most that a fact may come to which is not known, where what is known tells.

use crownweir_quantity::Load;
use crownweir_rulebook::{Fact, Subject, Value};
use crownweir_vocabulary::Role;

use super::{Got, Measured, NONE};

impl Measured<'_> {
    /// The two ends of what a fact may come to. A stack has no more branch intervals than places where something joins
    /// it, and within one no more enters than the whole stack carries; nothing stands on more storeys than there are.
    pub(crate) fn range(&self, subject: Subject, element: u32, fact: Fact) -> Option<(Value, Value)> {
        let counts = |least: u32, most: u32| (Value::Count(i64::from(least)), Value::Count(i64::from(most)));
        let of_pipe = || self.state.stacks.of_pipe(self, element);
        let stack = match (fact, subject) {
            (Fact::StackIntervals | Fact::StackUnrelieved, Subject::Stack) => Some(element),
            (Fact::StackIntervals | Fact::StackUnrelieved, Subject::Drain) => of_pipe(),
            (Fact::DrainOffsetIntervals, _) => of_pipe(),
            (Fact::ValveStackIntervals, _) => {
                let vents = self
                    .inlets(element, Role::Vent)
                    .filter_map(|vent| self.vent(vent));
                vents.map(|vent| vent.stack).find(|&stack| stack != NONE)
            }
            (Fact::IntervalLoad, _) => {
                let stack = self.interval(element)?.stack;
                let Got::Known(whole) = self.fact(Subject::Stack, stack, Fact::StackLoad) else {
                    return None;
                };
                return Some((Value::Load(Load::default()), whole));
            }
            (Fact::StackStoreys | Fact::VentStoreys, _) => {
                let storeys = super::index(self.network.storeys().len());
                return (storeys > 0).then(|| counts(1, storeys));
            }
            (Fact::CircuitFixtures, _) => {
                let supply = self.state.air.supply(self, element)?;
                let circuit = self.state.circuits.of(self, &supply)?;
                return Some(counts(
                    circuit.fixtures,
                    circuit.fixtures.saturating_add(circuit.open),
                ));
            }
            _ => None,
        };
        Some(counts(1, self.stack_itself(stack?)?.joints))
    }
}
