//! What stands in the line of each node, pipe and row of framing.

use super::braces::{Braces, slope};
use super::figures::Height;
use super::hoist::OfRun;
use super::text::{Step, Writer};
use crate::model::{
    Cleanout, Fixture, Members, Network, Node, NodeId, NodeKind, Pipe, Terminal, Trap, Valve,
};
use crate::offset::Side;
use crownweir_quantity::Length;
use crownweir_vocabulary::Occupancy;

/// A row of framing.
pub(super) fn members(network: &Network, row: &Members) -> Braces {
    let mut own = Braces::new(network.notation);
    own.text("framing", &row.name);
    own.put("kind", row.kind.name());
    own.maybe("make", row.make.map(|word| word.name()));
    own.length("depth", row.depth);
    own.length("thickness", row.thickness);
    own.length("spacing", row.spacing);
    own.length("span", row.span);
    let storey = row.storey.and_then(|storey| network.storeys.get(storey as usize));
    if let Some(storey) = storey {
        own.text("storey", &storey.name);
    }
    own.length("top", row.top);
    own.maybe("bearing", row.bearing);
    own.maybe("doubled", row.doubled);
    if let Some(layout) = row.layout {
        let mut of_layout = Braces::new(network.notation);
        of_layout.put("runs", layout.runs.name());
        of_layout.length("first", Some(layout.first));
        of_layout.put("count", layout.count);
        if let Some(bearings) = layout.bearings {
            of_layout.lengths("bearings", &bearings);
        }
        own.put("layout", of_layout.close());
    }
    own
}

/// What stands at a node: the key of its step, and its properties.
pub(super) fn node(writer: &Writer<'_>, id: NodeId, node: &Node, of_run: &OfRun) -> (&'static str, Braces) {
    let mut own = writer.braces();
    own.text("name", &node.name);
    let mut height = "height";
    let key = match &node.kind {
        NodeKind::Fixture(of) => {
            height = "weir_height";
            fixture(&mut own, of, writer.defaults.occupancy);
            "fixture"
        }
        NodeKind::Fitting { pattern } => {
            own.maybe("pattern", pattern.map(|word| word.name()));
            "fitting"
        }
        NodeKind::Cleanout(of) => {
            cleanout(&mut own, of);
            "cleanout"
        }
        NodeKind::Terminal(of) => {
            terminal(&mut own, of, writer.braces());
            "terminal"
        }
        NodeKind::Valve(of) => {
            valve(&mut own, of);
            "valve"
        }
        NodeKind::Disposal => {
            own.flag("sump", writer.network.ends_in_sump);
            "disposal"
        }
    };
    if node.storey != of_run.storey {
        own.maybe("storey", writer.storey(node.storey));
    }
    match writer.figures.height(id) {
        Height::NotStated => {}
        Height::AboveFloor(above) => own.length(height, Some(above)),
        Height::Place(place) => own.lengths("position", &place),
    }
    if let NodeKind::Fixture(fixture) = &node.kind {
        let trap = trap(&fixture.trap, writer.braces());
        if !trap.is_empty() {
            own.put("trap", trap.close());
        }
    }
    (key, own)
}

fn fixture(own: &mut Braces, fixture: &Fixture, by_default: Option<Occupancy>) {
    own.put("type", fixture.fixture_type.name());
    let occupancy = fixture.occupancy.filter(|_| fixture.occupancy != by_default);
    own.maybe("occupancy", occupancy.map(|word| word.name()));
    own.maybe("flush", fixture.flush.map(|word| word.name()));
    own.maybe("flush_volume", fixture.flush_volume);
    own.maybe("urinal", fixture.urinal.map(|word| word.name()));
    own.maybe("heads", fixture.heads);
    own.maybe(
        "compartments",
        Some(fixture.compartments).filter(|&count| count != 1),
    );
    own.flag("acid_waste", fixture.acid_waste);
    own.maybe("flow", fixture.flow);
    own.maybe("load", fixture.load);
    own.length("rim_height", fixture.rim_height);
    own.length("standpipe_height", fixture.standpipe_height);
    own.flag("pumped", fixture.pumped);
    if let Some(group) = &fixture.group {
        own.text("group", group);
    }
}

fn trap(trap: &Trap, mut own: Braces) -> Braces {
    own.maybe("size", trap.size);
    own.maybe("kind", trap.kind.map(|word| word.name()));
    own.length("seal", trap.seal);
    own.length("outlet_drop", trap.outlet_drop);
    own.length("outlet_offset", trap.outlet_offset);
    own.maybe("removable", trap.removable);
    own
}

fn cleanout(own: &mut Braces, cleanout: &Cleanout) {
    own.maybe("size", cleanout.size);
    own.length("clearance", cleanout.clearance);
    own.maybe("accessible", cleanout.accessible);
    own.flag("manhole", cleanout.manhole);
}

fn terminal(own: &mut Braces, terminal: &Terminal, mut of_opening: Braces) {
    own.maybe("through", terminal.through.map(|word| word.name()));
    own.length("height_above_roof", terminal.height_above_roof);
    own.maybe("roof_use", terminal.roof_use.map(|word| word.name()));
    match terminal.nearest_opening {
        None => {}
        Some(None) => own.put("nearest_opening", "none"),
        Some(Some(opening)) => {
            of_opening.length("distance", Some(opening.distance));
            of_opening.length("above", Some(opening.above));
            own.put("nearest_opening", of_opening.close());
        }
    }
    own.length("lot_line_distance", terminal.lot_line_distance);
    own.length("height_above_ground", terminal.height_above_ground);
    own.maybe("enlarged_to", terminal.enlarged_to);
    own.length("enlarged_inside", terminal.enlarged_inside);
}

fn valve(own: &mut Braces, valve: &Valve) {
    own.maybe("kind", valve.kind.map(|word| word.name()));
    own.length("height_above_drain", valve.height_above_drain);
    own.length("height_above_rim", valve.height_above_rim);
    own.maybe("accessible", valve.accessible);
    own.maybe("air_flow", valve.air_flow);
}

/// A pipe, without what it passes and by which opening it enters its fitting.
pub(super) fn pipe(writer: &Writer<'_>, step: &Step, of_run: &OfRun) -> Braces {
    let mut own = writer.braces();
    let (network, graph) = (writer.network, &writer.network.graph);
    let Some((pipe, (from, to))) = graph.edge_weight(step.pipe).zip(graph.edge_endpoints(step.pipe)) else {
        return own;
    };
    let pipe: &Pipe = pipe;
    let ends = [from, to].map(|id| graph.node_weight(id).map_or("", |node| &*node.name));
    if !pipe.is_called_after(ends) {
        own.text("name", &pipe.name);
    }
    match pipe.size {
        Some(_) if pipe.size == of_run.size => {}
        Some(size) => own.put("size", size),
        None if of_run.size.is_some() => own.put("size", "open"),
        None => {}
    }
    let figures = writer.figures.pipe(step.pipe);
    own.length("length", pipe.length.filter(|_| figures.states_length));
    if figures.slope != of_run.slope || figures.has_own_slope {
        own.maybe("slope", figures.slope.map(|own| slope(own, network.notation)));
    }
    own.maybe("direction", step.direction);
    if let Some((offset, line)) = figures.offset {
        let mut of_offset = writer.braces();
        // One without a set lies at the slope of the run.
        let set = Some(offset.set).filter(|&set| set != Length::ZERO || line.grade.is_none());
        of_offset.length("set", set);
        let side = match line.side {
            Side::Left => "left",
            Side::Right => "right",
        };
        of_offset.length(side, Some(offset.roll).filter(|&roll| roll != Length::ZERO));
        own.put("offset", of_offset.close());
    }
    if let Some(inverts) = figures.inverts {
        own.lengths("inverts", &inverts);
    }
    let by_default = &writer.defaults;
    let material = of_run.material.or(by_default.material);
    own.maybe(
        "material",
        pipe.material
            .filter(|_| pipe.material != material)
            .map(|word| word.name()),
    );
    let spacing = of_run.support_spacing;
    let spacing = spacing.or_else(|| by_default.support_spacing(writer.network, writer.figures, step.pipe));
    own.length(
        "support_spacing",
        pipe.support_spacing.filter(|_| pipe.support_spacing != spacing),
    );
    let guide = of_run.mid_storey_guide.or(by_default.mid_storey_guide);
    own.maybe(
        "mid_storey_guide",
        pipe.mid_storey_guide.filter(|_| pipe.mid_storey_guide != guide),
    );
    if pipe.underground != of_run.underground {
        own.put("underground", pipe.underground);
    }
    own
}
