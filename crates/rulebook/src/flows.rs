//! From a rule file's loads, hydraulics and framing, as written, to what evaluation reckons by.
//!
//! It knows no load and no roughness: they are the rule set's.

use crownweir_document::{Cursor, Diagnostics};
use crownweir_quantity::Flow;
use serde_yaml::Value as Yaml;

use crate::facts::{Fact, Subject};
use crate::load::Loader;
use crate::model::{FlowFormula, Framing, Hydraulics, LoadCase, LoadModel, Loads, Operand};
use crate::table::Content;
use crate::value::Dimension;
use crate::walk;
use crate::wire::{FormulaFile, FramingFile, HydraulicsFile, LoadCaseFile, LoadsFile, ModelFile};

/// Facts that are reckoned from the load model or the hydraulics, which therefore cannot be reckoned from them.
const RECKONED: [Fact; 10] = [
    Fact::DrainProbableFlow,
    Fact::DrainDepthRatio,
    Fact::DrainVelocity,
    Fact::DrainCapacityFlow,
    Fact::DrainVelocityAtFilling,
    Fact::VentAirLoss,
    Fact::StackProbableFlow,
    Fact::StackTerminalFlow,
    Fact::StackTerminalFraction,
    Fact::SystemProbableFlow,
];

impl Loader<'_> {
    pub(crate) fn loads(
        &self,
        file: &LoadsFile,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Loads> {
        let cases: Vec<_> = file
            .fixture
            .iter()
            .enumerate()
            .map(|(index, case)| self.load_case(case, at.get("fixture").item(index), problems))
            .collect();
        let group = match &file.group {
            None => None,
            Some(group) => {
                let of = (Subject::Fixture, Dimension::Load);
                Some(self.reckoned(group, at.get("group"), of, problems)?)
            }
        };
        let model = self.model(file, at, problems);
        let citation = match &file.cite {
            None => None,
            Some(cite) => Some(self.citer.citation(cite, at.get("cite"), problems)?),
        };
        Some(Loads {
            unit: file.unit,
            model: model?,
            citation,
            fixture: cases.into_iter().collect::<Option<_>>()?,
            group,
        })
    }

    fn load_case(&self, file: &LoadCaseFile, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<LoadCase> {
        let scope = self.scope(Subject::Fixture);
        let when = scope.condition(&file.when, at.get("when"), problems);
        let (given, key, dimension) = match (&file.load, &file.flow) {
            (Some(load), None) => (load, "load", Dimension::Load),
            (None, Some(flow)) => (flow, "flow", Dimension::Flow),
            _ => {
                problems.push(
                    at.problem("this case gives no load, or gives one both ways")
                        .expecting("either `load`, or `flow` where the flow counts in full"),
                );
                return None;
            }
        };
        let of = (Subject::Fixture, dimension);
        let load = self.reckoned(given, at.get(key), of, problems);
        if let Some(table) = load.as_ref().and_then(|load| self.gives_unlimited(load)) {
            let what =
                format!("the table `{table}` has an `unlimited` cell here, and what discharges has a {key}");
            problems.push(
                at.get(key)
                    .problem(what)
                    .expecting("values, `none` and `unfilled` only"),
            );
        }
        let when = when?;
        let circular = walk::facts(&when)
            .into_iter()
            .find(|fact| RECKONED.contains(fact));
        if let Some(fact) = circular {
            problems.push(at.get("when").problem(circle(fact)));
            return None;
        }
        Some(LoadCase {
            when,
            load: load?,
            in_full: file.flow.is_some(),
            place: at.place(),
        })
    }

    /// The first table with an unlimited cell among the columns that an operand reads.
    fn gives_unlimited(&self, operand: &Operand) -> Option<&str> {
        let mut found = None;
        walk::operands(operand, &mut |operand| {
            let Some(lookup) = walk::lookup(operand) else {
                return;
            };
            let table = self.tables.get(lookup.table);
            let unlimited = table.filter(|table| {
                let mut cells = table.rows.iter().filter_map(|row| row.cells.get(lookup.column));
                cells.any(|cell| cell.content == Content::Unlimited)
            });
            found = found.or(unlimited.map(|table| table.name.as_str()));
        });
        found
    }

    fn model(&self, file: &LoadsFile, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<LoadModel> {
        let given = [
            ("probable_flow", file.probable_flow.is_some(), ModelFile::Sum),
            ("factor", file.factor.is_some(), ModelFile::RootSum),
            ("unit_flow", file.unit_flow.is_some(), ModelFile::RootSum),
        ];
        let model = file.model;
        let strays: Vec<_> = given
            .iter()
            .filter(|(_, given, of)| *given && *of != model)
            .collect();
        for (key, _, of) in &strays {
            let of = if *of == ModelFile::Sum { "sum" } else { "root_sum" };
            let what = format!("`{key}` goes with `model: {of}`, and only with that");
            problems.push(at.key(key).problem(what));
        }
        if !strays.is_empty() {
            return None;
        }
        match model {
            ModelFile::Sum => Some(LoadModel::Sum {
                probable_flow: match &file.probable_flow {
                    None => None,
                    Some(flow) => Some(self.reckoned(
                        flow,
                        at.get("probable_flow"),
                        (Subject::Drain, Dimension::Flow),
                        problems,
                    )?),
                },
            }),
            ModelFile::RootSum => {
                let (Some(factor), Some(unit_flow)) = (&file.factor, file.unit_flow) else {
                    problems.push(
                        at.get("model")
                            .problem("the root of a sum of loads is not a flow yet")
                            .expecting("`factor`, and `unit_flow` with the flow that a load of 1 stands for"),
                    );
                    return None;
                };
                if unit_flow == Flow::default() {
                    problems.push(at.get("unit_flow").problem("a flow of nothing"));
                    return None;
                }
                let of = (Subject::System, Dimension::Ratio);
                Some(LoadModel::RootSum {
                    factor: self.reckoned(factor, at.get("factor"), of, problems)?,
                    unit_flow,
                })
            }
        }
    }

    pub(crate) fn hydraulics(
        &self,
        file: &HydraulicsFile,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Hydraulics> {
        let formula = match (file.formula, file.viscosity) {
            (FormulaFile::Manning, None) => Some(FlowFormula::Manning),
            (FormulaFile::ColebrookWhite, Some(viscosity)) => Some(FlowFormula::ColebrookWhite { viscosity }),
            _ => {
                problems.push(
                    at.get("formula")
                        .problem("`viscosity` goes with `formula: colebrook_white`, and only with that"),
                );
                None
            }
        };
        let roughness = match file.formula {
            FormulaFile::Manning => Dimension::Ratio,
            FormulaFile::ColebrookWhite => Dimension::Length,
        };
        let mut of = |yaml: &Yaml, key: &str, dimension: Dimension| {
            self.reckoned(yaml, at.get(key), (Subject::Pipe, dimension), problems)
        };
        let mut ratio = |yaml: &Option<Yaml>, key: &str| match yaml {
            None => Some(None),
            Some(yaml) => of(yaml, key, Dimension::Ratio).map(Some),
        };
        let filling = ratio(&file.filling, "filling");
        let stack_filling = ratio(&file.stack_filling, "stack_filling");
        let air_friction = ratio(&file.air_friction, "air_friction");
        let bore = of(&file.bore, "bore", Dimension::Length);
        let roughness = of(&file.roughness, "roughness", roughness);
        Some(Hydraulics {
            formula: formula?,
            bore: bore?,
            roughness: roughness?,
            filling: filling?,
            capacity_step: file.capacity_step,
            stack_filling: stack_filling?,
            air_friction: air_friction?,
            citation: self.citer.citation(&file.cite, at.get("cite"), problems)?,
        })
    }

    pub(crate) fn framing(
        &self,
        file: &FramingFile,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<Framing> {
        let mut length = |yaml: &Yaml, key: &str| {
            self.reckoned(yaml, at.get(key), (Subject::Pipe, Dimension::Length), problems)
        };
        let outside_diameter = length(&file.outside_diameter, "outside_diameter");
        let hole = length(&file.hole, "hole");
        Some(Framing {
            outside_diameter: outside_diameter?,
            hole: hole?,
            citation: self.citer.citation(&file.cite, at.get("cite"), problems)?,
        })
    }

    /// An operand that speaks of nothing that is reckoned by it.
    fn reckoned(
        &self,
        yaml: &Yaml,
        at: Cursor<'_>,
        (subject, dimension): (Subject, Dimension),
        problems: &mut Diagnostics,
    ) -> Option<Operand> {
        let operand = self.scope(subject).operand(yaml, at, dimension, problems)?;
        let mut circular = None;
        walk::operands(&operand, &mut |one| {
            if let Operand::Fact(fact) = one
                && RECKONED.contains(fact)
            {
                circular = Some(*fact);
            }
        });
        match circular {
            None => Some(operand),
            Some(fact) => {
                problems.push(at.problem(circle(fact)));
                None
            }
        }
    }
}

fn circle(fact: Fact) -> String {
    format!("`{}` is reckoned from this, and not this from it", fact.name())
}
