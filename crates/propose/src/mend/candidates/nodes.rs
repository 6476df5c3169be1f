//! Changes of a fitting, a fixture, a terminal or what else stands at a node.

use crownweir_evaluate::Got;
use crownweir_network::angles::{self, Fit};
use crownweir_network::{NearestOpening, NodeId, NodeKind, PipeId};
use crownweir_quantity::{Length, Slope};
use crownweir_rulebook::{Comparison, Fact, Subject, Value};
use crownweir_vocabulary::{FittingPattern, FixtureType, Inlet, Role, RunKind, TrapKind, ValveKind, VentEnd};
use petgraph::Direction;

use super::Candidates;
use crate::mend::change::{Change, PropertyValue, written};

/// Millionths of a degree in a tenth of one.
const MICRODEGREES: i64 = 100_000;

/// The angle, in degrees, between two pipes that are square to each other.
const SQUARE: f64 = 90.0;

/// How many pipes of a stack, and of its vent, are followed.
const MOST_OF_A_STACK: usize = 100;

impl Candidates<'_> {
    pub(super) fn of_fitting(&mut self, subject: Subject, element: u32) {
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
        if self.sets_fixture(node) || self.is_square_threefold(node) {
            return;
        }
        let own = *pattern;
        if !self.turns_in_plan(node) && self.turn_from_plumb(node).is_none() && self.runs_through(node) {
            self.push([Change::Pattern {
                fitting: self.node_name(node),
                pattern: FittingPattern::Coupling,
            }]);
            return;
        }
        let pipes = graph.edges_directed(node, Direction::Incoming).count() + graph.edges(node).count();
        let joined = pipes > 2;
        let patterns = FittingPattern::ALL.iter().copied();
        let mut patterns: Vec<FittingPattern> = patterns
            .filter(|&pattern| Some(pattern) != own && pattern.has_branch() == joined)
            // Nobody fits a double pattern to close an opening of it.
            .filter(|&pattern| pipes > 3 || !pattern.has_two_branches())
            .filter(|&pattern| self.is_of_use(pattern, node))
            .collect();
        // Between a plumb drain and one that is not, the slope tells the turn, which the nearest patterns make.
        if let Some(turn) = self.turn_from_plumb(node) {
            let apart = |pattern: FittingPattern| (pattern.turn_in_tenths() * MICRODEGREES).abs_diff(turn);
            let nearest = patterns.iter().map(|&pattern| apart(pattern)).min();
            if joined {
                // A wye does it too, with a bend before it.
                patterns.sort_by_key(|&pattern| apart(pattern) > nearest.unwrap_or_default());
            } else {
                patterns.retain(|&pattern| Some(apart(pattern)) == nearest);
            }
        } else if let Some(own) = own.filter(|_| !joined && !self.turns_in_plan(node)) {
            // What the pattern says of the turn is all that is known of it: one that turns less leads elsewhere.
            patterns.retain(|pattern| pattern.turn_in_tenths() == own.turn_in_tenths());
        }
        for pattern in patterns {
            self.push([Change::Pattern {
                fitting: self.node_name(node),
                pattern,
            }]);
        }
    }

    /// Whether what two pipes meet at is a fitting with a branch, and one comes to the other through its run.
    fn runs_through(&self, node: NodeId) -> bool {
        let graph = self.network.graph();
        let Some(NodeKind::Fitting { pattern: Some(own) }) = graph.node_weight(node).map(|node| &node.kind)
        else {
            return false;
        };
        let mut inlets = self.network.pipes_at(node, Direction::Incoming);
        let by_run = |pipe| angles::enters(self.network, pipe) == Inlet::Run;
        let alone = inlets.next().filter(|_| inlets.next().is_none());
        own.has_branch() && graph.edges(node).count() == 1 && alone.is_some_and(by_run)
    }

    /// The angle, in millionths of a degree, between a plumb drain and one that is not, where both meet at a node.
    fn turn_from_plumb(&self, node: NodeId) -> Option<i64> {
        let slopes = |direction| -> Vec<Slope> {
            let pipes = self.network.pipes_at(node, direction);
            let drains = pipes.filter(|&pipe| self.role(pipe) == Some(Role::Drain));
            let slope = |pipe| self.network.graph().edge_weight(pipe)?.slope;
            drains.filter_map(slope).collect()
        };
        let (above, below) = (slopes(Direction::Incoming), slopes(Direction::Outgoing));
        let is_plumb = |slope: &Slope| slope.is_vertical();
        let level = if above.iter().any(is_plumb) {
            below.into_iter().find(|slope| !is_plumb(slope))
        } else if below.iter().any(is_plumb) {
            above.into_iter().next()
        } else {
            None
        };
        level.map(|slope| slope.angle_from_vertical().microdegrees())
    }

    /// Whether the plan tells how the ways of a fitting's pipes turn there.
    pub(super) fn turns_in_plan(&self, node: NodeId) -> bool {
        let fit = |role| angles::fit(self.network, node, role);
        let is_told = |fit: Fit| matches!(fit, Fit::Joins | Fit::Denies(_));
        [Role::Drain, Role::Vent].into_iter().filter_map(fit).any(is_told)
    }

    /// Whether three pipes at a node are square to each other: no fitting has such openings.
    fn is_square_threefold(&self, node: NodeId) -> bool {
        let [into, out] = [Direction::Incoming, Direction::Outgoing]
            .map(|direction| self.network.pipes_at(node, direction));
        let ways: Vec<_> = into
            .chain(out)
            .filter_map(|pipe| angles::way_of(self.network, pipe))
            .collect();
        let is_square = |one: &angles::Way, other: &angles::Way| {
            let product: f64 = one.iter().zip(other).map(|(one, other)| one * other).sum();
            (product.clamp(-1.0, 1.0).acos().to_degrees() - SQUARE).abs() <= angles::PLAY
        };
        let mut firsts = ways.iter().enumerate();
        firsts.any(|(place, one)| {
            let square: Vec<_> = ways
                .iter()
                .skip(place + 1)
                .filter(|other| is_square(one, other))
                .collect();
            let mut pairs = square.iter().enumerate();
            pairs.any(|(place, other)| square.iter().skip(place + 1).any(|third| is_square(other, third)))
        })
    }

    /// Whether a pattern is made for what meets at a fitting: some are for vents alone, some for drains alone, and some do
    /// something else than to join pipes.
    fn is_of_use(&self, pattern: FittingPattern, node: NodeId) -> bool {
        let pipes = |role| {
            let [into, out] = [Direction::Incoming, Direction::Outgoing]
                .map(|direction| self.network.pipes_at(node, direction));
            into.chain(out).any(|pipe| self.role(pipe) == Some(role))
        };
        match pattern {
            FittingPattern::VentQuarterBend => !pipes(Role::Drain),
            FittingPattern::Tee => pipes(Role::Vent),
            FittingPattern::DoubleFixtureFitting => pipes(Role::Drain),
            FittingPattern::ClosetBend => self.takes_closet(node),
            FittingPattern::ClosetFlange | FittingPattern::RunningTrap | FittingPattern::BackwaterValve => {
                false
            }
            _ => true,
        }
    }

    /// Whether a water closet stands above a fitting, with no more than its flange between.
    fn takes_closet(&self, node: NodeId) -> bool {
        let graph = self.network.graph();
        let above = |node: NodeId| graph.neighbors_directed(node, Direction::Incoming);
        let is_closet = |node: NodeId| match graph.node_weight(node).map(|node| &node.kind) {
            Some(NodeKind::Fixture(fixture)) => fixture.fixture_type == FixtureType::WaterCloset,
            _ => false,
        };
        let is_flange = |node: NodeId| {
            let kind = graph.node_weight(node).map(|node| &node.kind);
            matches!(
                kind,
                Some(NodeKind::Fitting {
                    pattern: Some(FittingPattern::ClosetFlange)
                })
            )
        };
        above(node).any(|one| is_closet(one) || (is_flange(one) && above(one).any(is_closet)))
    }

    pub(super) fn property(&self, node: NodeId, property: &str, value: impl Into<PropertyValue>) -> Change {
        Change::Property {
            node: self.node_name(node),
            property: property.to_owned(),
            value: value.into(),
        }
    }

    /// A value that a property can have.
    fn value(&self, value: Value) -> Option<PropertyValue> {
        match value {
            Value::Truth(truth) => Some(truth.into()),
            Value::Count(count) => Some(PropertyValue::Count(u32::try_from(count).ok()?)),
            value => self.text(value).map(PropertyValue::Text),
        }
    }

    /// A word, or a quantity as a file writes it.
    pub(super) fn text(&self, value: Value) -> Option<String> {
        Some(match value {
            Value::Length(length) => written(length, self.network),
            Value::Size(size) => self.rules.ladder.rung(size)?.name.to_string(),
            Value::Word(word) => word.to_owned(),
            Value::Period(period) => period.to_string(),
            _ => return None,
        })
    }

    pub(super) fn of_node(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
        let property = match fact {
            Fact::CleanoutStubSize => {
                if let Some(&stub) = self.down(NodeId::new(element as usize)).first() {
                    self.enlarge(stub);
                }
                return;
            }
            Fact::CleanoutSize => "size",
            Fact::CleanoutClearance => "clearance",
            Fact::CleanoutAccessible | Fact::ValveAccessible => "accessible",
            Fact::ValveHeightAboveDrain | Fact::ValveHeightAboveRim => {
                if let Some(Value::Length(least)) = limit {
                    self.raise_valve(element, fact, least);
                }
                return;
            }
            Fact::ValveShape => "kind",
            _ => return,
        };
        if let Some(value) = limit.and_then(|limit| self.value(limit)) {
            self.push([self.property(NodeId::new(element as usize), property, value)]);
        }
    }

    /// A valve higher by as much as is wanting: its vent longer, and its height restated where the file states one.
    fn raise_valve(&mut self, element: u32, fact: Fact, least: Length) {
        let node = NodeId::new(element as usize);
        let Some(NodeKind::Valve(valve)) = self.network.graph().node_weight(node).map(|node| &node.kind)
        else {
            return;
        };
        let (property, stated) = match fact {
            Fact::ValveHeightAboveDrain => ("height_above_drain", valve.height_above_drain),
            _ => ("height_above_rim", valve.height_above_rim),
        };
        let Got::Known(Value::Length(now)) = self.measured.fact(Subject::Valve, element, fact) else {
            return;
        };
        let restated = stated
            .and_then(|_| self.text(Value::Length(least)))
            .map(|least| self.property(node, property, least));
        let mut vents = self.network.pipes_at(node, Direction::Incoming);
        let longer = vents.find(|&vent| !self.is_level(vent)).and_then(|vent| {
            let length = self.network.graph().edge_weight(vent)?.length?;
            Some(Change::Length {
                pipe: self.name(vent),
                length: length.checked_add(least.checked_sub(now)?)?,
            })
        });
        self.push(longer.into_iter().chain(restated));
    }

    pub(super) fn of_terminal(&mut self, element: u32, fact: Fact, limit: Option<Value>) {
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
            let opening = PropertyValue::Opening(NearestOpening { distance, above });
            self.push([self.property(node, "nearest_opening", opening)]);
        }
        if matches!(fact, Fact::TerminalSize | Fact::TerminalVentSize) {
            let vents = self.network.pipes_at(node, Direction::Incoming);
            for vent in vents.collect::<Vec<_>>() {
                self.enlarge(vent);
            }
        }
    }

    /// A standpipe of another height above its weir, and its rim with it where the file states that it is the standpipe's.
    fn standpipe(&mut self, node: NodeId, height: Length) {
        let Some(own) = self.network.graph().node_weight(node) else {
            return;
        };
        let NodeKind::Fixture(fixture) = &own.kind else {
            return;
        };
        let floor = || {
            self.network
                .storeys()
                .get(usize::try_from(own.storey?).ok()?)?
                .elevation
        };
        let weir = || own.elevation?.checked_sub(floor()?);
        let rim = fixture.rim_height.and_then(|rim| {
            let weir = weir()?;
            (weir.checked_add(fixture.standpipe_height?)? == rim).then(|| weir.checked_add(height))?
        });
        let standpipe = self.property(node, "standpipe_height", written(height, self.network));
        let rim = rim.map(|rim| self.property(node, "rim_height", written(rim, self.network)));
        self.push(std::iter::once(standpipe).chain(rim));
    }

    /// The drain from a trap longer or shorter by what is wanting.
    fn resize_drain(&mut self, node: NodeId, limit: Length, comparison: Option<Comparison>) {
        let element = u32::try_from(node.index()).unwrap_or(u32::MAX);
        let now = self
            .measured
            .fact(Subject::Fixture, element, Fact::FixtureDrainLength);
        let Got::Known(Value::Length(now)) = now else {
            return;
        };
        let level = self.down(node).into_iter().find(|&pipe| self.is_level(pipe));
        let Some(pipe) = level else { return };
        match comparison {
            Some(Comparison::AtLeast | Comparison::MoreThan) => {
                if let Some(by) = limit.checked_sub(now) {
                    self.shift(Some(pipe), None, by);
                }
            }
            _ => {
                if let Some(by) = now.checked_sub(limit) {
                    self.shorten(pipe, None, by);
                }
            }
        }
    }

    /// The valve at the end of the vent of the stack that a trap drains into, if a stack's is wanted there.
    pub(super) fn end_stack_vent(&mut self, subject: Subject, element: u32, wanted: Option<Value>) {
        if wanted != Some(Value::Word(VentEnd::StackValve.name())) || subject != Subject::Trap {
            return;
        }
        let graph = self.network.graph();
        let way = self.down(NodeId::new(element as usize));
        let mut top = way
            .into_iter()
            .find(|&pipe| self.kind(pipe) == Some(RunKind::Stack));
        let mut vent = None;
        for _ in 0..MOST_OF_A_STACK {
            let Some((from, _)) = top.and_then(|pipe| graph.edge_endpoints(pipe)) else {
                break;
            };
            let mut out = self.network.pipes_at(from, Direction::Outgoing);
            vent = out
                .find(|&pipe| self.role(pipe) == Some(Role::Vent) && self.is_main_vent(pipe))
                .or(vent);
            let mut above = self.network.pipes_at(from, Direction::Incoming);
            top = above.find(|&pipe| self.kind(pipe) == Some(RunKind::Stack));
        }
        let mut end = None;
        for _ in 0..MOST_OF_A_STACK {
            let Some(pipe) = vent else { break };
            end = graph.edge_endpoints(pipe).map(|(_, to)| to);
            vent = self.onward(pipe);
        }
        if let Some(node) = end
            && matches!(
                graph.node_weight(node).map(|node| &node.kind),
                Some(NodeKind::Valve(_))
            )
        {
            self.push([self.property(node, "kind", ValveKind::Stack.name().to_owned())]);
        }
    }

    pub(super) fn of_fixture(
        &mut self,
        element: u32,
        fact: Fact,
        limit: Option<Value>,
        comparison: Option<Comparison>,
    ) {
        let node = NodeId::new(element as usize);
        let property = match fact {
            Fact::TrapSize => "trap.size",
            Fact::TrapSeal => "trap.seal",
            Fact::TrapShape => "trap.kind",
            Fact::TrapOutletDrop => "trap.outlet_drop",
            Fact::TrapOutletOffset => "trap.outlet_offset",
            Fact::FixtureStandpipeHeight => {
                if let Some(Value::Length(height)) = limit {
                    self.standpipe(node, height);
                }
                return;
            }
            Fact::TrapDrainSize | Fact::TrapBranchLength | Fact::TrapBranchTurn | Fact::TrapBranchDrop => {
                if let Some(limit) = limit {
                    self.resize_arm(node, limit);
                }
                let branch = self.down(node);
                for pipe in branch.into_iter().take(3) {
                    self.enlarge(pipe);
                }
                // A branch that has a vent may be longer, and turn and fall more.
                if fact != Fact::TrapDrainSize {
                    self.vents(node);
                }
                return;
            }
            Fact::FixtureDrainLength => {
                if let Some(Value::Length(limit)) = limit {
                    self.resize_drain(node, limit, comparison);
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
            // Other shapes are for special cases, or come with the fixture.
            self.push([self.property(node, property, TrapKind::P.name().to_owned())]);
        }
    }
}
