//! What might clear a finding, by the facts that its failed comparisons read. Nothing here is offered before it has
//! been evaluated, so that a guess may be wrong; nothing here knows a rule.

use crownweir_evaluate::{Arranged, Finding, Limit, Measured};
use crownweir_network::{Network, NodeId, NodeKind, PipeId};
use crownweir_quantity::{Length, NominalSize, Slope};
use crownweir_rulebook::{
    Check, Comparison, Condition, Fact, Family, Operand, RuleSet, Subject, Test, Value,
};
use crownweir_vocabulary::{FittingPattern, Role, RunKind, TestMedium, TrapKind};
use petgraph::Direction;
use petgraph::visit::EdgeRef;

use super::change::{Change, written};

/// How many sizes above its own a pipe is tried in.
const SIZES_UP: u16 = 4;
/// How many joints a new vent is led to, by turns.
const JOINTS: usize = 8;
/// How many fittings below a trap a new vent is set on, by turns.
const FITTINGS: usize = 4;

pub(crate) struct Candidates<'a> {
    network: &'a Network,
    rules: &'a RuleSet,
    measured: &'a Measured<'a>,
    found: Vec<Vec<Change>>,
}

/// Everything to be tried for a finding, the likeliest first, each once.
pub(crate) fn candidates(measured: &Measured<'_>, finding: &Finding) -> Vec<Vec<Change>> {
    let mut own = Candidates {
        network: measured.network(),
        rules: measured.rules(),
        measured,
        found: Vec::new(),
    };
    let number = finding.number();
    match own.rules.rule(&finding.rule) {
        Some(rule) => {
            if let Some(require) = &rule.require {
                own.of_condition(rule.subject, number, require);
            }
        }
        None => own.of_protection(number),
    }
    let mut list: Vec<Vec<Change>> = Vec::new();
    for one in own.found {
        if !one.is_empty() && !list.contains(&one) {
            list.push(one);
        }
    }
    list
}

impl Candidates<'_> {
    fn of_condition(&mut self, subject: Subject, element: u32, condition: &Condition) {
        for test in condition.tests() {
            let limit = match &test.check {
                Check::Compare(_, operand) => self.measured.limit(subject, element, operand),
                Check::Among { values, wanted: true } => {
                    values.first().map_or(Limit::Absent, |value| Limit::Known(*value))
                }
                _ => Limit::Absent,
            };
            self.of_test(subject, element, test, limit);
        }
    }

    fn of_test(&mut self, subject: Subject, element: u32, test: &Test, limit: Limit) {
        let value = match limit {
            Limit::Known(value) => Some(value),
            _ => None,
        };
        let comparison = match &test.check {
            Check::Compare(comparison, _) => Some(*comparison),
            _ => None,
        };
        self.of_fact(subject, element, test.fact, value, comparison);
        if let Check::Among { values, wanted: true } = &test.check {
            for value in values {
                self.of_fact(subject, element, test.fact, Some(*value), None);
            }
        }
        // The limit itself may hang on what can be changed.
        if let Check::Compare(_, operand) = &test.check {
            for fact in operand.facts() {
                self.of_fact(subject, element, fact, None, None);
            }
        }
    }

    fn of_fact(
        &mut self,
        subject: Subject,
        element: u32,
        fact: Fact,
        limit: Option<Value>,
        comparison: Option<Comparison>,
    ) {
        match fact.family() {
            Family::Pipe | Family::Drain | Family::Vent => self.of_pipe(element, fact, limit),
            Family::Turn | Family::Fitting => self.of_fitting(subject, element),
            Family::Trap | Family::Fixture => self.of_fixture(element, fact, limit),
            Family::TrapArm => self.of_trap_arm(element, fact, limit, comparison),
            Family::Protection | Family::Combination | Family::Circuit | Family::Island => {
                self.of_air(element, fact);
            }
            Family::Cleanout => self.of_node(element, fact, limit),
            Family::Terminal => self.of_terminal(element, fact, limit),
            Family::Valve => self.of_node(element, fact, limit),
            Family::Test => self.of_a_test(element, fact, limit),
            Family::System => self.of_system(fact, limit),
            Family::Stack | Family::Interval => self.of_stack(subject, element, fact),
            _ => {}
        }
    }

    fn push(&mut self, changes: impl IntoIterator<Item = Change>) {
        self.found.push(changes.into_iter().collect());
    }

    fn name(&self, pipe: PipeId) -> String {
        let pipe = self.network.graph().edge_weight(pipe);
        pipe.map_or_else(String::new, |pipe| pipe.name.to_string())
    }

    fn node_name(&self, node: NodeId) -> String {
        let node = self.network.graph().node_weight(node);
        node.map_or_else(String::new, |node| node.name.to_string())
    }

    fn role(&self, pipe: PipeId) -> Option<Role> {
        self.network.graph().edge_weight(pipe).map(|pipe| pipe.role)
    }

    fn kind(&self, pipe: PipeId) -> Option<RunKind> {
        let run = self.network.graph().edge_weight(pipe)?.run;
        self.network.runs().get(run as usize).map(|run| run.kind)
    }

    /// The pipe of the same role that leads on.
    fn onward(&self, pipe: PipeId) -> Option<PipeId> {
        let (_, to) = self.network.graph().edge_endpoints(pipe)?;
        let role = self.role(pipe)?;
        let next = self
            .network
            .graph()
            .edges(to)
            .find(|next| next.weight().role == role);
        next.map(|next| next.id())
    }

    /// The drains from a node down.
    fn down(&self, node: NodeId) -> Vec<PipeId> {
        let first = self
            .network
            .graph()
            .edges(node)
            .find(|next| next.weight().role == Role::Drain);
        let mut way = Vec::new();
        let mut next = first.map(|next| next.id());
        while let Some(pipe) = next.filter(|_| way.len() < 40) {
            way.push(pipe);
            next = self.onward(pipe);
        }
        way
    }

    /// The sizes above that of a pipe.
    fn larger(&self, pipe: PipeId) -> Vec<NominalSize> {
        let own = self.network.graph().edge_weight(pipe).and_then(|pipe| pipe.size);
        let Some(own) = own.and_then(|size| self.rules.ladder.find(size)) else {
            return Vec::new();
        };
        let up = (1..=SIZES_UP).filter_map(|steps| self.rules.ladder.up(own, steps));
        up.filter_map(|size| self.rules.ladder.rung(size))
            .map(|rung| rung.name)
            .collect()
    }

    /// A pipe in larger sizes: alone, and with what leads on from it so that nothing is narrower.
    fn enlarge(&mut self, pipe: PipeId) {
        for size in self.larger(pipe) {
            let alone = Change::Size {
                pipe: self.name(pipe),
                size,
            };
            let wanted = self.rules.ladder.find(size);
            let mut all = vec![alone.clone()];
            let mut next = self.onward(pipe);
            while let Some(on) = next.filter(|_| all.len() < 12) {
                let own = self.network.graph().edge_weight(on).and_then(|pipe| pipe.size);
                if own.and_then(|own| self.rules.ladder.find(own)) >= wanted {
                    break;
                }
                all.push(Change::Size {
                    pipe: self.name(on),
                    size,
                });
                next = self.onward(on);
            }
            self.push([alone]);
            self.push(all);
        }
    }

    fn of_pipe(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
        let id = PipeId::new(element as usize);
        let Some(pipe) = self.network.graph().edge_weight(id) else {
            return;
        };
        let name = pipe.name.to_string();
        match (fact, limit) {
            (Fact::PipeSupportSpacing, Some(Value::Length(spacing))) => {
                self.push([Change::Supports { pipe: name, spacing }]);
            }
            (Fact::VentTakeOff, _) => self.push([Change::Slope {
                pipe: name,
                slope: Slope::VERTICAL,
            }]),
            (Fact::PipeSlope, Some(Value::Slope(slope))) => {
                self.push([Change::Slope { pipe: name, slope }]);
                self.steeper(id);
            }
            (Fact::PipeSize, Some(Value::Size(size))) => {
                if let Some(rung) = self.rules.ladder.rung(size) {
                    self.push([Change::Size {
                        pipe: name,
                        size: rung.name,
                    }]);
                }
                self.enlarge(id);
            }
            (Fact::DrainBaseDistance | Fact::DrainTurnDistance, Some(Value::Length(least))) => {
                self.further_from_base(id, element, fact, least);
            }
            (
                Fact::DrainCleanoutDistance
                | Fact::DrainHorizontalRun
                | Fact::DrainOpensAbove
                | Fact::DrainHorizontalTurn,
                _,
            ) => self.cleanouts(id),
            (
                Fact::VentRiseAboveRim | Fact::VentJointAboveRim | Fact::StackVentTurn,
                Some(Value::Length(least)),
            ) => self.raise(id, element, fact, least),
            (
                Fact::DrainVelocity
                | Fact::DrainVelocityAtFilling
                | Fact::DrainCapacityFlow
                | Fact::DrainProbableFlow
                | Fact::DrainDepthRatio,
                _,
            ) => {
                self.steeper(id);
                self.enlarge(id);
            }
            (Fact::PipeRole | Fact::PipeKind | Fact::PipeMaterial | Fact::PipeUnderground, _) => {}
            (Fact::PipeSlope, None) => self.steeper(id),
            _ => self.enlarge(id),
        }
    }

    /// A drain at the steeper slopes that the rule set names, and at multiples of its own.
    fn steeper(&mut self, pipe: PipeId) {
        let Some(own) = self.network.graph().edge_weight(pipe).and_then(|pipe| pipe.slope) else {
            return;
        };
        let mut slopes: Vec<Slope> = self.rules.named_slopes();
        for (numerator, denominator) in [(5, 4), (3, 2), (2, 1), (3, 1)] {
            let times = own
                .rise()
                .checked_mul(numerator)
                .zip(own.run().checked_mul(denominator));
            slopes.extend(times.and_then(|(rise, run)| Slope::new(rise, run)));
        }
        slopes.retain(|slope| *slope > own && !slope.is_vertical());
        slopes.sort_unstable();
        slopes.dedup();
        for slope in slopes.into_iter().take(6) {
            self.push([Change::Slope {
                pipe: self.name(pipe),
                slope,
            }]);
        }
    }

    /// The joint of a branch further down the drain that it joins: the drain above it longer, that below shorter.
    fn further_from_base(&mut self, branch: PipeId, element: u32, fact: Fact, least: Length) {
        let Some((_, joint)) = self.network.graph().edge_endpoints(branch) else {
            return;
        };
        let now = match self.measured.fact(Subject::Drain, element, fact) {
            crownweir_evaluate::Got::Known(Value::Length(now)) => now,
            _ => return,
        };
        let Some(by) = least.checked_sub(now) else { return };
        let entering = self.network.graph().edges_directed(joint, Direction::Incoming);
        let above: Vec<PipeId> = entering
            .map(|edge| edge.id())
            .filter(|&id| id != branch)
            .collect();
        let below = self.onward(branch);
        for above in above {
            self.shift(Some(above), below, by);
        }
    }

    /// One pipe longer and another shorter by as much; where there is no other, the one alone.
    fn shift(&mut self, longer: Option<PipeId>, shorter: Option<PipeId>, by: Length) {
        let length = |id: PipeId| self.network.graph().edge_weight(id).and_then(|pipe| pipe.length);
        let Some((grows, was)) = longer.and_then(|id| Some((id, length(id)?))) else {
            return;
        };
        let Some(longer) = was.checked_add(by) else { return };
        let first = Change::Length {
            pipe: self.name(grows),
            length: longer,
        };
        let rest = shorter.and_then(|id| Some((id, length(id)?.checked_sub(by)?)));
        if let Some((shrinks, rest)) = rest.filter(|(_, rest)| *rest > Length::ZERO) {
            let second = Change::Length {
                pipe: self.name(shrinks),
                length: rest,
            };
            self.push([first.clone(), second]);
        }
        self.push([first]);
    }

    /// What stands at the beginning of a vent higher by as much as is wanting.
    fn raise(&mut self, pipe: PipeId, element: u32, fact: Fact, least: Length) {
        let now = match self.measured.fact(Subject::Vent, element, fact) {
            crownweir_evaluate::Got::Known(Value::Length(now)) => now,
            _ => return,
        };
        let Some(by) = least.checked_sub(now) else { return };
        let Some((from, to)) = self.network.graph().edge_endpoints(pipe) else {
            return;
        };
        for node in [from, to] {
            let Some(found) = self.network.graph().node_weight(node) else {
                continue;
            };
            let floor = found
                .storey
                .and_then(|storey| self.network.storeys().get(storey as usize)?.elevation);
            let height = found
                .elevation
                .zip(floor)
                .and_then(|(height, floor)| height.checked_sub(floor)?.checked_add(by));
            if let Some(height) = height {
                self.push([self.property(node, "height", written(height, self.network))]);
            }
        }
    }

    fn of_fitting(&mut self, subject: Subject, element: u32) {
        let graph = self.network.graph();
        let node = match subject {
            Subject::Turn => graph
                .edge_endpoints(PipeId::new(element as usize))
                .map(|(_, to)| to),
            _ => Some(NodeId::new(element as usize)),
        };
        let Some(node) = node else { return };
        let Some(NodeKind::Fitting { pattern }) = graph.node_weight(node).map(|node| &node.kind) else {
            return;
        };
        let own = *pattern;
        let joined = graph.edges_directed(node, Direction::Incoming).count() + graph.edges(node).count() > 2;
        for &pattern in FittingPattern::ALL {
            if Some(pattern) != own && joins(pattern) == joined {
                self.push([Change::Pattern {
                    fitting: self.node_name(node),
                    pattern,
                }]);
            }
        }
    }

    fn property(&self, node: NodeId, property: &str, value: String) -> Change {
        Change::Property {
            node: self.node_name(node),
            property: property.to_owned(),
            value,
        }
    }

    /// A value as a file writes it.
    fn value(&self, value: Value) -> Option<String> {
        Some(match value {
            Value::Length(length) => written(length, self.network),
            Value::Size(size) => self.rules.ladder.rung(size)?.name.to_string(),
            Value::Word(word) => word.to_owned(),
            Value::Truth(truth) => truth.to_string(),
            Value::Period(period) => period.to_string(),
            _ => return None,
        })
    }

    fn of_node(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
        let property = match fact {
            Fact::CleanoutSize => "size",
            Fact::CleanoutClearance => "clearance",
            Fact::CleanoutAccessible | Fact::ValveAccessible => "accessible",
            Fact::ValveHeightAboveDrain => "height_above_drain",
            Fact::ValveHeightAboveRim => "height_above_rim",
            Fact::ValveShape => "kind",
            _ => return,
        };
        if let Some(value) = limit.and_then(|limit| self.value(limit)) {
            self.push([self.property(NodeId::new(element as usize), property, value)]);
        }
    }

    fn of_terminal(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
        let node = NodeId::new(element as usize);
        let Some(NodeKind::Terminal(terminal)) =
            self.network.graph().node_weight(node).map(|node| &node.kind)
        else {
            return;
        };
        let opening = terminal.nearest_opening.flatten();
        let value = limit.and_then(|limit| self.value(limit));
        let simple = match fact {
            Fact::TerminalHeight => Some("height_above_roof"),
            Fact::TerminalLotLine => Some("lot_line_distance"),
            Fact::TerminalGround => Some("height_above_ground"),
            Fact::TerminalEnlargedInside => Some("enlarged_inside"),
            Fact::TerminalSize => Some("enlarged_to"),
            _ => None,
        };
        if let (Some(property), Some(value)) = (simple, &value) {
            self.push([self.property(node, property, value.clone())]);
        }
        if let (Some(opening), Some(Value::Length(limit))) = (opening, limit) {
            let (distance, above) = match fact {
                Fact::TerminalOpeningDistance => (limit, opening.above),
                Fact::TerminalOpeningRise => (opening.distance, limit),
                _ => return,
            };
            let both = format!(
                "{{distance: {}, above: {}}}",
                written(distance, self.network),
                written(above, self.network)
            );
            self.push([self.property(node, "nearest_opening", both)]);
        }
        if matches!(fact, Fact::TerminalSize | Fact::TerminalVentSize) {
            let vents = self.network.graph().edges_directed(node, Direction::Incoming);
            for vent in vents.map(|vent| vent.id()).collect::<Vec<_>>() {
                self.enlarge(vent);
            }
        }
    }

    fn of_fixture(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
        let node = NodeId::new(element as usize);
        let property = match fact {
            Fact::TrapSize => "trap.size",
            Fact::TrapSeal => "trap.seal",
            Fact::TrapShape => "trap.kind",
            Fact::TrapOutletDrop => "trap.outlet_drop",
            Fact::TrapOutletOffset => "trap.outlet_offset",
            Fact::FixtureStandpipeHeight => "standpipe_height",
            Fact::TrapDrainSize | Fact::TrapBranchLength | Fact::TrapBranchTurn | Fact::TrapBranchDrop => {
                let branch = self.down(node);
                for pipe in branch.into_iter().take(3) {
                    self.enlarge(pipe);
                }
                return;
            }
            Fact::FixtureReceivingSize => {
                for pipe in self.down(node).into_iter().take(6) {
                    self.enlarge(pipe);
                }
                return;
            }
            _ => return,
        };
        let value = limit.and_then(|limit| self.value(limit));
        if let Some(value) = value {
            // A trap and its arm grow together.
            let first = self.down(node).first().copied();
            let size = self
                .rules
                .ladder
                .sizes()
                .find(|size| self.value(Value::Size(*size)).as_ref() == Some(&value));
            let own = self.property(node, property, value);
            self.push([own.clone()]);
            let name = size
                .and_then(|size| self.rules.ladder.rung(size))
                .map(|rung| rung.name);
            if let (Fact::TrapSize, Some(pipe), Some(size)) = (fact, first, name) {
                self.push([
                    own,
                    Change::Size {
                        pipe: self.name(pipe),
                        size,
                    },
                ]);
            }
        }
        if fact == Fact::TrapShape {
            for kind in TrapKind::NAMES {
                self.push([self.property(node, property, (*kind).to_owned())]);
            }
        }
    }

    /// The drains from a trap to the first fitting that a vent leaves.
    fn arm(&self, fixture: NodeId) -> Vec<PipeId> {
        let mut arm = Vec::new();
        for pipe in self.down(fixture) {
            arm.push(pipe);
            let Some((_, to)) = self.network.graph().edge_endpoints(pipe) else {
                break;
            };
            if self
                .network
                .graph()
                .edges(to)
                .any(|next| next.weight().role == Role::Vent)
            {
                break;
            }
        }
        arm
    }

    fn is_level(&self, pipe: PipeId) -> bool {
        let slope = self.network.graph().edge_weight(pipe).and_then(|pipe| pipe.slope);
        slope.is_some_and(|slope| !slope.is_vertical())
    }

    fn of_trap_arm(
        &mut self,
        element: u32,
        fact: Fact,
        limit: Option<Value>,
        comparison: Option<Comparison>,
    ) {
        let fixture = NodeId::new(element as usize);
        let arm = self.arm(fixture);
        let own = self.measured.fact(Subject::TrapArm, element, fact);
        if let (Fact::TrapArmLength | Fact::TrapArmHorizontalLength, Some(Value::Length(limit))) =
            (fact, limit)
            && let crownweir_evaluate::Got::Known(Value::Length(now)) = own
        {
            // What the arm loses the drain beyond the vent gains, for fixture and joint stay where they are.
            let further = self
                .down(fixture)
                .into_iter()
                .skip(arm.len())
                .find(|&pipe| self.is_level(pipe));
            let level: Vec<PipeId> = arm.iter().copied().filter(|&pipe| self.is_level(pipe)).collect();
            for pipe in level {
                let by = match comparison {
                    Some(Comparison::AtLeast | Comparison::MoreThan) => limit.checked_sub(now),
                    _ => now.checked_sub(limit),
                };
                let Some(by) = by.filter(|by| *by > Length::ZERO) else {
                    continue;
                };
                if matches!(comparison, Some(Comparison::AtLeast | Comparison::MoreThan)) {
                    self.shift(Some(pipe), further, by);
                } else {
                    self.shorten(pipe, further, by);
                }
            }
        }
        // A vent may be taken off further up.
        let last = arm
            .last()
            .and_then(|&pipe| self.network.graph().edge_endpoints(pipe))
            .map(|(_, to)| to);
        let vent = last.and_then(|node| {
            let mut vents = self
                .network
                .graph()
                .edges(node)
                .filter(|next| next.weight().role == Role::Vent);
            vents.next().map(|vent| vent.id())
        });
        if let Some(vent) = vent {
            let fittings: Vec<NodeId> = arm
                .iter()
                .filter_map(|&pipe| self.network.graph().edge_endpoints(pipe))
                .map(|(_, to)| to)
                .filter(|node| Some(*node) != last)
                .collect();
            for node in fittings {
                self.push([Change::VentFrom {
                    vent: self.name(vent),
                    to: self.node_name(node),
                }]);
            }
        }
        for &pipe in &arm {
            self.enlarge(pipe);
        }
        self.vents(fixture);
    }

    fn shorten(&mut self, pipe: PipeId, further: Option<PipeId>, by: Length) {
        let length = |id: PipeId| self.network.graph().edge_weight(id).and_then(|pipe| pipe.length);
        let rest = length(pipe)
            .and_then(|was| was.checked_sub(by))
            .filter(|rest| *rest > Length::ZERO);
        let Some(rest) = rest else { return };
        let first = Change::Length {
            pipe: self.name(pipe),
            length: rest,
        };
        if let Some((further, longer)) = further.and_then(|id| Some((id, length(id)?.checked_add(by)?))) {
            let second = Change::Length {
                pipe: self.name(further),
                length: longer,
            };
            self.push([first, second]);
        } else {
            self.push([first]);
        }
    }

    fn of_protection(&mut self, fixture: u32) {
        let arranged = self.measured.arranged(fixture);
        let mut open: Vec<Condition> = Vec::new();
        if let Arranged::Nearest(Some((arrangement, failed))) = arranged {
            let conditions = failed
                .iter()
                .filter_map(|&index| arrangement.conditions.get(index));
            open.extend(conditions.map(|one| one.require.clone()));
        }
        for condition in open {
            self.of_condition(Subject::Trap, fixture, &condition);
        }
        self.vents(NodeId::new(fixture as usize));
    }

    fn of_air(&mut self, element: u32, fact: Fact) {
        let fixture = NodeId::new(element as usize);
        let arm = self.arm(fixture);
        if fact == Fact::ProtectionTurnsDown {
            // Laid at the slope of what follows it, the drain does not turn down.
            let slope = arm
                .iter()
                .filter_map(|&pipe| self.network.graph().edge_weight(pipe)?.slope)
                .find(|slope| !slope.is_vertical());
            let plumb: Vec<Change> = arm
                .iter()
                .filter(|&&pipe| !self.is_level(pipe))
                .filter_map(|&pipe| {
                    Some(Change::Slope {
                        pipe: self.name(pipe),
                        slope: slope?,
                    })
                })
                .collect();
            self.push(plumb);
        }
        if fact.dimension() == Fact::PipeSize.dimension() {
            for pipe in self.down(fixture).into_iter().take(4) {
                self.enlarge(pipe);
            }
        }
    }

    /// A vent of its own for a trap: at a fitting on its drain, or at a new one.
    fn vents(&mut self, fixture: NodeId) {
        let graph = self.network.graph();
        let storey = graph.node_weight(fixture).and_then(|node| node.storey);
        let joints: Vec<NodeId> = graph
            .node_indices()
            .filter(|&node| {
                let is_fitting = matches!(
                    graph.node_weight(node).map(|node| &node.kind),
                    Some(NodeKind::Fitting { .. })
                );
                let around = graph
                    .edges_directed(node, Direction::Incoming)
                    .chain(graph.edges(node));
                is_fitting
                    && around
                        .map(|edge| edge.weight().role)
                        .all(|role| role == Role::Vent)
            })
            .filter(|&node| {
                graph
                    .node_weight(node)
                    .is_some_and(|node| node.storey == storey && node.elevation.is_some())
            })
            .collect();
        let sizes: Vec<NominalSize> = self
            .rules
            .ladder
            .sizes()
            .take(4)
            .filter_map(|size| self.rules.ladder.rung(size))
            .map(|rung| rung.name)
            .collect();
        let height = |node: NodeId| graph.node_weight(node).and_then(|node| node.elevation);
        let way = self.down(fixture);
        let mut wanted: Vec<(Vec<Change>, String, Option<Length>)> = Vec::new();
        for &pipe in way.iter().take(FITTINGS) {
            let Some((_, to)) = graph.edge_endpoints(pipe) else {
                continue;
            };
            let vented = graph.edges(to).any(|next| next.weight().role == Role::Vent);
            if !vented && matches!(self.kind(pipe), Some(RunKind::Branch)) {
                wanted.push((Vec::new(), self.node_name(to), height(to)));
            }
        }
        if let Some(&pipe) = way.first()
            && let Some(length) = graph.edge_weight(pipe).and_then(|pipe| pipe.length)
        {
            for (numerator, denominator) in [(1, 2), (1, 3), (2, 3)] {
                let Some(after) = whole(length, numerator, denominator, self.network) else {
                    continue;
                };
                let name = self.fresh(&format!("{} vent tee", self.node_name(fixture)));
                for pattern in [FittingPattern::SanitaryTee, FittingPattern::Wye] {
                    let put = Change::Fitting {
                        pipe: self.name(pipe),
                        after,
                        name: name.clone(),
                        pattern,
                    };
                    wanted.push((vec![put], name.clone(), height(fixture)));
                }
            }
        }
        for (before, at, from) in wanted {
            let above = joints.iter().filter(|&&joint| height(joint) > from);
            for &joint in above.take(JOINTS) {
                for &size in &sizes {
                    let vent = Change::Vent {
                        at: at.clone(),
                        joins: self.node_name(joint),
                        size,
                        length: None,
                    };
                    self.push(before.iter().cloned().chain([vent]));
                }
            }
        }
    }

    /// A name that nothing has.
    fn fresh(&self, wanted: &str) -> String {
        let taken = |name: &str| self.network.node_named(name).is_some();
        let numbered = (2..100).map(|number| format!("{wanted} {number}"));
        let mut names = std::iter::once(wanted.to_owned()).chain(numbered);
        names
            .find(|name| !taken(name))
            .unwrap_or_else(|| wanted.to_owned())
    }

    /// A cleanout in a pipe, near its end, in its middle and near its start.
    fn cleanouts(&mut self, pipe: PipeId) {
        let Some(own) = self.network.graph().edge_weight(pipe) else {
            return;
        };
        let (Some(length), Some(size)) = (own.length, own.size) else {
            return;
        };
        let name = self.fresh("new cleanout");
        let mut rooms: Vec<Option<Length>> = self.named_lengths(Fact::CleanoutClearance);
        rooms.push(None);
        for (numerator, denominator) in [(9, 10), (1, 2), (1, 10)] {
            let Some(after) = whole(length, numerator, denominator, self.network) else {
                continue;
            };
            for clearance in &rooms {
                let pipe = self.name(pipe);
                let (name, clearance) = (name.clone(), *clearance);
                self.push([Change::Cleanout {
                    pipe,
                    after,
                    name,
                    size,
                    clearance,
                }]);
            }
        }
    }

    /// The lengths that rules compare a fact with, the least first.
    fn named_lengths(&self, fact: Fact) -> Vec<Option<Length>> {
        let tests = self
            .rules
            .rules
            .iter()
            .filter_map(|rule| rule.require.as_ref())
            .flat_map(Condition::tests);
        let mut lengths: Vec<Length> = tests
            .filter(|test| test.fact == fact)
            .filter_map(|test| match &test.check {
                Check::Compare(_, Operand::Literal(Value::Length(length))) => Some(*length),
                _ => None,
            })
            .collect();
        lengths.sort_unstable();
        lengths.dedup();
        lengths.into_iter().map(Some).collect()
    }

    fn of_system(&mut self, fact: Fact, _limit: Option<Value>) {
        let graph = self.network.graph();
        let of_kind = |kind: RunKind| -> Vec<PipeId> {
            graph
                .edge_indices()
                .filter(|&pipe| self.kind(pipe) == Some(kind))
                .collect()
        };
        match fact {
            Fact::SystemJunctionCleanout => {
                let mut drains = of_kind(RunKind::BuildingDrain);
                drains.reverse();
                for pipe in drains.into_iter().take(3) {
                    self.cleanouts(pipe);
                }
            }
            Fact::SystemLargestVent | Fact::SystemVentDiameter => {
                let terminals = graph.node_indices().filter(|&node| {
                    matches!(
                        graph.node_weight(node).map(|node| &node.kind),
                        Some(NodeKind::Terminal(_))
                    )
                });
                let into: Vec<PipeId> = terminals
                    .flat_map(|node| {
                        graph
                            .edges_directed(node, Direction::Incoming)
                            .map(|edge| edge.id())
                    })
                    .collect();
                for last in into {
                    let mut way = vec![last];
                    // Back to the drains by the main vent.
                    while let Some((from, _)) = way.last().and_then(|&pipe| graph.edge_endpoints(pipe)) {
                        let mut entering = graph.edges_directed(from, Direction::Incoming);
                        let run = graph.edge_weight(last).map(|pipe| pipe.run);
                        let next = entering
                            .find(|edge| Some(edge.weight().run) == run && edge.weight().role == Role::Vent);
                        match next.filter(|_| way.len() < 12) {
                            Some(next) => way.push(next.id()),
                            None => break,
                        }
                    }
                    for size in self.larger(last) {
                        let all = way.iter().map(|&pipe| Change::Size {
                            pipe: self.name(pipe),
                            size,
                        });
                        let all: Vec<Change> = all.collect();
                        self.push([Change::Size {
                            pipe: self.name(last),
                            size,
                        }]);
                        self.push(all);
                    }
                }
            }
            _ => {}
        }
    }

    fn of_stack(&mut self, subject: Subject, element: u32, fact: Fact) {
        let graph = self.network.graph();
        let stack = match subject {
            Subject::Stack => self.measured.name_of(Subject::Stack, element),
            _ => return,
        };
        let runs = self.network.runs();
        let pipes: Vec<PipeId> = graph
            .edge_indices()
            .filter(|&pipe| {
                let run = graph
                    .edge_weight(pipe)
                    .and_then(|pipe| runs.get(pipe.run as usize));
                run.is_some_and(|run| *run.name == *stack && run.kind == RunKind::Stack)
            })
            .collect();
        if fact == Fact::StackCleanoutDistance {
            if let Some(&foot) = pipes.last() {
                self.cleanouts(foot);
            }
            return;
        }
        let Some(&first) = pipes.first() else { return };
        for size in self.larger(first) {
            let all: Vec<Change> = pipes
                .iter()
                .map(|&pipe| Change::Size {
                    pipe: self.name(pipe),
                    size,
                })
                .collect();
            self.push(all);
        }
    }

    fn of_a_test(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
        let Some(test) = self.network.tests().get(element as usize) else {
            return;
        };
        let section = test.section.to_string();
        let value = limit.and_then(|limit| self.value(limit));
        let (property, values) = match fact {
            Fact::TestWith => {
                let media = TestMedium::NAMES.iter().map(|name| (*name).to_owned());
                (
                    "medium",
                    media.filter(|name| *name != test.medium.name()).collect(),
                )
            }
            Fact::TestHead => ("head", value.into_iter().collect()),
            Fact::TestDuration => ("duration", value.into_iter().collect()),
            _ => ("", Vec::new()),
        };
        for value in values {
            self.push([Change::Test {
                section: section.clone(),
                property,
                value,
            }]);
        }
    }
}

/// Whether a fitting of a pattern joins pipes, rather than only turning or coupling one.
fn joins(pattern: FittingPattern) -> bool {
    matches!(
        pattern,
        FittingPattern::SanitaryTee
            | FittingPattern::DoubleSanitaryTee
            | FittingPattern::DoubleFixtureFitting
            | FittingPattern::Wye
            | FittingPattern::DoubleWye
            | FittingPattern::CombinationWye
            | FittingPattern::DoubleCombinationWye
            | FittingPattern::Tee
    )
}

/// A part of a length in whole inches or centimetres, as the network's notation has it; none where nothing is left.
fn whole(length: Length, numerator: i64, denominator: i64, network: &Network) -> Option<Length> {
    let unit = match network.notation() {
        crownweir_quantity::Notation::Inches => 25_400_000,
        crownweir_quantity::Notation::Millimetres => 10_000_000,
    };
    let part = length.checked_scale(numerator, denominator)?.nanometres() / unit * unit;
    (part > 0 && part < length.nanometres()).then(|| Length::from_nanometres(part))
}
