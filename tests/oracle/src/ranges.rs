//! Between which ends a load lies that is not known: whatever a fixture is that the file does not say, the rule set gives it
//! one of a few loads.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use crownweir_network::{NodeId, PipeId};
use crownweir_quantity::Load;
use crownweir_rulebook::{Dimension, Fact, Lookup, Match, Operand, Subject, Value};

use crate::judge::{Limit, Outcome, operand_facts};
use crate::{Got, Oracle};

/// One end of what may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum End {
    Least,
    Most,
}

impl Oracle<'_> {
    /// The least and the most load that a fact may come to which is not known.
    pub(crate) fn load_between(&self, subject: Subject, element: u32, fact: Fact) -> Option<[Value; 2]> {
        let of = |reckon: &dyn Fn() -> Option<Got>| {
            // What else is reckoned on the way does not hang on what is supposed of loads.
            reckon();
            let at = |end| match self.supposing(end, reckon)? {
                Got::Known(value) => Some(value),
                _ => None,
            };
            Some([at(End::Least)?, at(End::Most)?])
        };
        match fact {
            Fact::FixtureLoad
            | Fact::DrainLoad
            | Fact::DrainWetLoad
            | Fact::StackLoad
            | Fact::SystemLoad
            | Fact::VentServedLoad
            | Fact::VentTrapLoad => of(&|| self.reckon(subject, element, fact)),
            Fact::IntervalLoad => {
                let stack = self.stack_for(subject, element)?;
                let thousandths = |at: NodeId| match of(&|| Some(self.load_at(at)))? {
                    [Value::Load(least), Value::Load(most)] => Some([least.thousandths(), most.thousandths()]),
                    _ => None,
                };
                let load = |thousandths| Value::Load(Load::from_thousandths(thousandths));
                // What comes from above may be at its most where all together is at its least.
                let entering = |joint: &NodeId| {
                    let all = thousandths(*joint)?;
                    let above = self.inlets(*joint).into_iter().find(|inlet| stack.contains(inlet));
                    let above = above.map_or(Some([0, 0]), |inlet| thousandths(self.from(inlet)))?;
                    Some([(all[0] - above[1]).max(0), all[1] - above[0]])
                };
                let all = self.all_intervals();
                let own = all.get(element as usize).filter(|_| self.intervals(&stack).1);
                let sum = own.and_then(|(_, joints)| {
                    joints.iter().map(entering).try_fold([0, 0], |sum, one| {
                        let one = one?;
                        Some([sum[0] + one[0], sum[1] + one[1]])
                    })
                });
                if let Some(ends) = sum {
                    return Some(ends.map(load));
                }
                let [_, most] = of(&|| self.stack_fact(Some(&stack), Fact::StackLoad))?;
                Some([Value::Load(Load::default()), most])
            }
            Fact::VentStackLoad => {
                let stack = self.governing(PipeId::new(element as usize))?;
                of(&|| self.stack_fact(Some(&stack), Fact::StackLoad))
            }
            _ => None,
        }
    }

    fn supposing<T>(&self, end: End, reckon: impl Fn() -> T) -> T {
        self.supposed.set(Some(end));
        let came = reckon();
        self.supposed.set(None);
        came
    }

    /// A fixture's load at the end that is supposed, by all cases of the rule set that may hold of it.
    pub(crate) fn load_at_end(&self, node: NodeId) -> Got {
        let ends = self.ends_of_fixture(node);
        let Some((end, ends)) = self.supposed.get().zip(ends) else {
            return Got::Missing;
        };
        self.one_end(end, &ends).map_or(Got::Missing, Got::Known)
    }

    pub(crate) fn one_end(&self, end: End, loads: &BTreeSet<i64>) -> Option<Value> {
        let load = match end {
            End::Least => loads.first(),
            End::Most => loads.last(),
        };
        load.map(|load| Value::Load(Load::from_thousandths(*load)))
    }

    fn ends_of_fixture(&self, node: NodeId) -> Option<BTreeSet<i64>> {
        if self.fixture(node)?.load.is_some() {
            return None;
        }
        let element = node.index() as u32;
        let mut loads = BTreeSet::new();
        for case in &self.rules.loads.fixture {
            let outcome = self.condition(Subject::Fixture, element, &case.when);
            if outcome == Outcome::Fails {
                continue;
            }
            if case.in_full {
                loads.insert(0);
            } else {
                loads.extend(self.loads_of(node, &case.load, &[])?);
            }
            if outcome == Outcome::Holds {
                return Some(loads);
            }
        }
        None
    }

    /// Every load that an operand comes to of a fixture with some facts taken to be so, each other fact that is not known
    /// with each value that makes a difference.
    pub(crate) fn loads_of(&self, node: NodeId, operand: &Operand, taken: &[(Fact, Value)]) -> Option<BTreeSet<i64>> {
        let element = node.index() as u32;
        let mut facts = Vec::new();
        operand_facts(operand, &mut facts);
        let is_open = |fact: &&Fact| self.fact_where(Subject::Fixture, element, **fact, taken) == Some(Got::Missing);
        let Some(&open) = facts.iter().find(is_open) else {
            return match self.operand_where(Subject::Fixture, element, operand, taken) {
                Limit::Known(Value::Load(load)) => Some(BTreeSet::from([load.thousandths()])),
                _ => None,
            };
        };
        let values = match open.dimension() {
            Dimension::Size => self.rules.ladder.sizes().map(Value::Size).collect(),
            Dimension::Word(words) => words.iter().map(|word| Value::Word(word)).collect(),
            Dimension::Truth => [true, false].map(Value::Truth).to_vec(),
            Dimension::Volume => self.volumes(operand, open)?,
            _ => return None,
        };
        let mut loads = BTreeSet::new();
        for value in values {
            let taken = [taken, &[(open, value)]].concat();
            loads.extend(self.loads_of(node, operand, &taken)?);
        }
        Some(loads)
    }

    /// Of a look-up that goes up to each row's volume and beyond the last: one volume for each row.
    fn volumes(&self, operand: &Operand, fact: Fact) -> Option<Vec<Value>> {
        let Operand::Lookup(Lookup { table, keys, .. }) = operand else {
            return None;
        };
        let at = keys.iter().position(|key| *key == Operand::Fact(fact))?;
        let table = self.rules.table(*table)?;
        if table.keys()[at].matching != Match::UpTo {
            return None;
        }
        let (rows, last): (Vec<_>, Vec<_>) = table.rows().iter().map(|row| row.keys[at]).partition(Option::is_some);
        if last.is_empty() {
            return None;
        }
        let mut rows: Vec<Value> = rows.into_iter().flatten().collect();
        rows.sort_by(|one, other| one.compare(*other).unwrap_or(Ordering::Equal));
        let beyond = rows.last()?.scaled(2, 1)?;
        rows.push(beyond);
        Some(rows)
    }

    /// The loads by which an operand looks something up by a fact, and those next to them.
    pub(crate) fn loads_of_rows(&self, operand: &Operand, fact: Fact) -> BTreeSet<i64> {
        let mut found = BTreeSet::new();
        if let Operand::Lookup(lookup) | Operand::SmallestSize { lookup, .. } = operand {
            for (at, key) in lookup.keys.iter().enumerate() {
                let rows = self.rules.table(lookup.table).map_or(&[][..], |table| table.rows());
                for row in rows.iter().filter(|_| *key == Operand::Fact(fact)) {
                    if let Some(Value::Load(load)) = row.keys[at] {
                        let load = load.thousandths();
                        found.extend([load.saturating_sub(1), load, load.saturating_add(1)]);
                    }
                }
            }
        }
        for part in operand.parts() {
            found.extend(self.loads_of_rows(part, fact));
        }
        found
    }
}
