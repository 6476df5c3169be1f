//! Load models, hydraulics and framing compared.
//!
//! It says what differs, never which is right.

use super::{ALL, At, Change, Section, Sides, texts};
use crate::model::{FlowFormula, Framing, Hydraulics, LoadModel, Loads, Operand};

impl Sides<'_> {
    pub(super) fn model(&self, found: &mut Vec<Change>) {
        let (old, new) = (&self.before.rules.loads, &self.after.rules.loads);
        let at = At::new(Section::Loads, "model");
        at.text(
            "unit",
            old.unit.name().to_owned(),
            new.unit.name().to_owned(),
            found,
        );
        at.text("model", model(old), model(new), found);
        let part = match &new.model {
            LoadModel::Sum { .. } => "probable flow",
            LoadModel::RootSum { .. } => "factor",
        };
        self.operand(&at, part, old.model.operand(), new.model.operand(), found);
        at.optional("citation", cited(old), cited(new), found);
    }

    pub(super) fn hydraulics(&self, found: &mut Vec<Change>) {
        let at = At::new(Section::Hydraulics, "");
        let (old, new) = (&self.before.rules.hydraulics, &self.after.rules.hydraulics);
        let (old, new) = match (old, new) {
            (None, None) => return,
            (None, Some(new)) => return found.push(at.change(ALL, None, Some(formula(new)))),
            (Some(old), None) => return found.push(at.change(ALL, Some(formula(old)), None)),
            (Some(old), Some(new)) => (old, new),
        };
        at.text("formula", formula(old), formula(new), found);
        let step = |one: &Hydraulics| one.capacity_step.map(|step| step.to_string());
        at.optional("capacity step", step(old), step(new), found);
        for ((part, old), (_, new)) in parts(old).into_iter().zip(parts(new)) {
            self.operand(&at, part, old, new, found);
        }
        at.citation("citation", &old.citation, &new.citation, found);
    }

    pub(super) fn framing(&self, found: &mut Vec<Change>) {
        let at = At::new(Section::Framing, "");
        let (old, new) = (&self.before.rules.framing, &self.after.rules.framing);
        let told = |framing: &Framing| Some(texts::citation(&framing.citation));
        let (old, new) = match (old, new) {
            (None, None) => return,
            (None, Some(new)) => return found.push(at.change(ALL, None, told(new))),
            (Some(old), None) => return found.push(at.change(ALL, told(old), None)),
            (Some(old), Some(new)) => (old, new),
        };
        let diameters = (&old.outside_diameter, &new.outside_diameter);
        self.operand(
            &at,
            "outside diameter",
            Some(diameters.0),
            Some(diameters.1),
            found,
        );
        self.operand(&at, "hole", Some(&old.hole), Some(&new.hole), found);
        at.optional("citation", told(old), told(new), found);
    }
}

fn model(loads: &Loads) -> String {
    match &loads.model {
        LoadModel::Sum { .. } => "loads are summed".to_owned(),
        LoadModel::RootSum { unit_flow, .. } => {
            format!("the root of the sum of loads, where a load of 1 stands for {unit_flow}")
        }
    }
}

fn cited(loads: &Loads) -> Option<String> {
    loads.citation.as_ref().map(texts::citation)
}

fn formula(hydraulics: &Hydraulics) -> String {
    match hydraulics.formula {
        FlowFormula::Manning => "the Manning formula".to_owned(),
        FlowFormula::ColebrookWhite { viscosity } => {
            format!("the formula of Colebrook and White at a viscosity of {viscosity}")
        }
    }
}

/// Each operand with its name.
fn parts(hydraulics: &Hydraulics) -> [(&'static str, Option<&Operand>); 5] {
    let Hydraulics {
        formula: _,
        capacity_step: _,
        bore,
        roughness,
        filling,
        stack_filling,
        air_friction,
        citation: _,
    } = hydraulics;
    [
        ("bore", Some(bore)),
        ("roughness", Some(roughness)),
        ("filling", filling.as_ref()),
        ("stack filling", stack_filling.as_ref()),
        ("air friction", air_friction.as_ref()),
    ]
}
