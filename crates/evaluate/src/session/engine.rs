//! What has to be made again after an edit, and in which order.
//!
//! Every pass at every element is made once while what it reads is noted. A figure that comes out otherwise has those
//! made again that read it, in the order of the passes and of the flow, until nothing differs. Most read only what is
//! beside them: that is noted once for a pass, and what is further away for each element.

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap, HashMap, HashSet};

use crownweir_network::{Edited, NodeId};
use crownweir_vocabulary::RunKind;

use crate::measure::follow::{Alters, Asked, Goes, Members, Pass, field};
use crate::measure::seen::{By, Figure, unpack};
use crate::measure::{Measured, NONE, State};
use crate::session::kept::Kept;

/// A pass at an element that reads a figure of an element which is not beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Far {
    element: u32,
    figure: u8,
    pass: u8,
    at: u32,
}

/// Far readers in order, and where those of each element begin.
#[derive(Debug, Clone, Default)]
struct Sorted {
    list: Vec<Far>,
    first: Vec<u32>,
}

impl Sorted {
    fn of(mut list: Vec<Far>) -> Self {
        list.sort_unstable();
        list.dedup();
        list.shrink_to_fit();
        let elements = list.last().map_or(0, |far| far.element as usize + 1);
        let mut first = Vec::with_capacity(elements + 1);
        for (place, far) in (0..).zip(&list) {
            while first.len() <= far.element as usize {
                first.push(place);
            }
        }
        first.push(u32::try_from(list.len()).unwrap_or(NONE));
        Self { list, first }
    }

    fn add(&mut self, far: Vec<Far>) {
        if !far.is_empty() {
            let mut list = std::mem::take(&mut self.list);
            list.extend(far);
            *self = Self::of(list);
        }
    }

    /// Those that read a figure of an element.
    fn of_element(&self, figure: u8, element: u32) -> &[Far] {
        let bound = |at: usize| self.first.get(at).map(|&place| place as usize);
        let at = element as usize;
        let range = bound(at).zip(bound(at + 1)).map(|(start, end)| start..end);
        let own = range.and_then(|range| self.list.get(range)).unwrap_or_default();
        let start = own.partition_point(|far| far.figure < figure);
        let end = own.partition_point(|far| far.figure <= figure);
        own.get(start..end).unwrap_or_default()
    }
}

/// Passes at elements that are to be made.
#[derive(Debug, Clone, Default)]
struct Queue {
    /// By pass, in the order in which it goes.
    waiting: Vec<BinaryHeap<Reverse<(u64, u32)>>>,
    /// The passes that wait, one bit for each.
    passes: u64,
    /// What is being made.
    now: (u8, u64),
    /// Nodes that have no vent any more, at which what belongs to vents has to be told once more.
    unvented: HashSet<u32>,
    lost: bool,
}

/// What reads what.
#[derive(Debug, Clone)]
struct Readers {
    /// Of each figure, the passes that read it of elements beside their own, one bit for each.
    beside: Vec<u64>,
    /// The same of those that are far, in order, as it was in the beginning; and what has come to be read since.
    far: Sorted,
    /// What reads cells of the rule set, once one has been altered.
    cells: Option<Sorted>,
    more: HashMap<(u8, u32), BTreeSet<(u8, u32)>>,
    /// What reads too much for that to be kept.
    always: BTreeSet<(u8, u32)>,
}

/// Follows edits of a network.
#[derive(Debug, Clone)]
pub(crate) struct Engine {
    readers: Readers,
    queue: Queue,
    members: Members,
    pub(crate) kept: Kept,
    asked: Asked,
    noted: Vec<u64>,
    /// Since when nothing can be followed any more.
    lost: bool,
}

/// An edit is followed as long as it takes no more passes at elements than one for so many nodes of the network: after
/// that, to check the whole anew is as quick.
const SHARE: usize = 4;
/// So many passes at elements are made in any case: in a network with few nodes they take no time either way.
pub(super) const FEW: usize = 20_000;
/// A cell of the rule set is followed where no more than one element for so many nodes reads it: an element that reads it
/// is judged by some twenty rules, before and after, so that with more of them it takes less to judge all elements by the
/// one or two rules that look the cell up.
const MANY: usize = 40;

impl Engine {
    /// Makes every pass at every element once, and notes what it reads.
    pub(crate) fn of(measured: &mut Measured<'_>) -> Self {
        let mut engine = Self {
            readers: Readers {
                beside: vec![0; Figure::ALL.len()],
                far: Sorted::default(),
                cells: None,
                more: HashMap::new(),
                always: BTreeSet::new(),
            },
            queue: Queue {
                waiting: Pass::ALL.iter().map(|_| BinaryHeap::new()).collect(),
                ..Queue::default()
            },
            members: Members::default(),
            kept: Kept::of(measured),
            asked: measured.asked(),
            noted: Vec::new(),
            lost: !measured.can_follow(),
        };
        if engine.lost {
            return engine;
        }
        measured.network().prepare_for_edits();
        // What rules ask for is reckoned when they first ask: before it is noted what that reads.
        drop(measured.check());
        measured.note_reads();
        engine.members = Members::of(measured);
        // Notes of that are no pass's.
        measured.reads_noted(&mut engine.noted);
        let mut far = Vec::new();
        for &pass in Pass::ALL {
            for at in engine.elements(measured, pass) {
                engine.make(measured, pass, at, &mut Silent);
                engine.note(measured, pass, at, Some(&mut far));
            }
        }
        engine.readers.far = Sorted::of(far);
        engine.asked = measured.asked();
        engine.kept.difference();
        engine
    }

    pub(crate) fn is_lost(&self) -> bool {
        self.lost
    }

    /// All elements that a pass goes by, in its order.
    fn elements(&self, measured: &Measured<'_>, pass: Pass) -> Vec<u32> {
        let nodes = || 0..u32::try_from(measured.node_bound()).unwrap_or(NONE);
        let stacks = || 0..u32::try_from(measured.state.stacks.list.len()).unwrap_or(NONE);
        let count = |number: usize| (0..u32::try_from(number).unwrap_or(NONE)).collect();
        match pass.goes() {
            Goes::Down => measured.drain_order().collect(),
            Goes::Up => measured.drain_order().rev().collect(),
            Goes::Out => measured.vent_order().collect(),
            Goes::In => measured.vent_order().rev().collect(),
            Goes::Fixtures => measured.all_fixtures().map(|fixture| fixture.node).collect(),
            Goes::Vented => nodes().filter(|&node| measured.vent_of(node).is_some()).collect(),
            Goes::Nodes => nodes().collect(),
            Goes::Pipes if pass == Pass::Below => Members::vent_stacks(measured).collect(),
            Goes::Pipes if pass == Pass::Relieved => self.members.relieving(),
            Goes::Pipes => count(measured.state.pipes.len()),
            Goes::Stacks => stacks().collect(),
            Goes::Numbered => match pass {
                Pass::JudgeInterval => count(measured.state.stacks.intervals.len()),
                Pass::JudgePassage => count(measured.network().passages().len()),
                Pass::JudgeTest => count(measured.network().tests().len()),
                _ => vec![0],
            },
            Goes::Once => vec![0],
        }
    }

    fn make(&mut self, measured: &mut Measured<'_>, pass: Pass, at: u32, alters: &mut impl Alters) {
        let sweep = match pass {
            Pass::JudgeNode => 0,
            Pass::JudgePipe => 1,
            Pass::JudgeStack => 2,
            Pass::JudgeInterval => 3,
            Pass::JudgePassage => 4,
            Pass::JudgeTest => 5,
            Pass::JudgeSystem => 6,
            _ => {
                let made = measured.make(pass, at, &mut self.members, alters);
                self.lost |= made.is_err();
                return;
            }
        };
        self.kept.judge(measured, sweep, at);
    }

    /// Notes what a pass has just read: `far` takes what is far away where that is to be sorted later.
    fn note(&mut self, measured: &Measured<'_>, pass: Pass, at: u32, far: Option<&mut Vec<Far>>) {
        let (figures, complete) = measured.reads_noted(&mut self.noted);
        let own = pass.goes();
        if own == Goes::Once {
            // Whether it is made for pipes that come or go is told where these are taken over.
            let figures = figures & !(1 << Figure::Joints as u8 | 1 << Figure::VentEnd as u8);
            for (number, passes) in self.readers.beside.iter_mut().enumerate() {
                *passes |= (figures >> number & 1) << pass as u8;
            }
            return;
        }
        if !complete {
            self.readers.always.insert((pass as u8, at));
        }
        for figure in pass.hands_on() {
            if let Some(passes) = self.readers.beside.get_mut(*figure as usize) {
                *passes |= 1 << pass as u8;
            }
        }
        self.noted.sort_unstable();
        self.noted.dedup();
        let mut far = far;
        for &noted in &self.noted {
            let (number, element) = unpack(noted);
            let Some(figure) = Figure::ALL.get(usize::from(number)).copied() else {
                continue;
            };
            // Where there is no element, nothing can come to differ.
            if element == NONE {
                continue;
            }
            if is_beside(measured, own, at, figure, element) {
                if let Some(passes) = self.readers.beside.get_mut(usize::from(number)) {
                    *passes |= 1 << pass as u8;
                }
                continue;
            }
            match &mut far {
                Some(far) => far.push(Far {
                    element,
                    figure: number,
                    pass: pass as u8,
                    at,
                }),
                None => self.readers.add(number, element, pass as u8, at),
            }
        }
    }

    /// Follows edits that have been made to the network in place; false where that cannot be done, and the whole has
    /// to be checked anew.
    pub(crate) fn follow(&mut self, measured: &mut Measured<'_>, edited: &Edited) -> bool {
        self.queue.lost = false;
        self.queue.now = (0, 0);
        let mut altered = Altered::default();
        measured.reads_noted(&mut self.noted);
        if !(edited.added_pipes.is_empty() && edited.removed_pipes.is_empty())
            && self.restructure(measured, edited, &mut altered).is_none()
        {
            return false;
        }
        if edited
            .nodes
            .iter()
            .any(|&node| measured.heads_a_main_otherwise(node))
        {
            return false;
        }
        for &node in &edited.nodes {
            let moved = edited.moved.binary_search(&node).is_ok();
            measured.reread_node(node, moved, &mut self.members, &mut altered);
        }
        for &pipe in &edited.pipes {
            let number = u32::try_from(pipe.index()).unwrap_or(NONE);
            let fields = measured.reread_pipe(pipe, &mut self.members, &mut altered);
            if fields & field::VERTICAL != 0 && measured.is_of_a_main(number) {
                return false;
            }
            if fields != 0 {
                altered.pipes.push((number, fields));
            }
        }
        self.settle(measured, altered)
    }

    /// Takes over which pipes and nodes have come and gone; nothing where that cannot be followed.
    fn restructure(
        &mut self,
        measured: &mut Measured<'_>,
        edited: &Edited,
        altered: &mut Altered,
    ) -> Option<()> {
        let touched = measured.look_around(edited, &self.members, altered).ok()?;
        // What reads what has gone was beside it.
        self.queue.alter(measured, &self.readers, altered);
        let unvented = measured
            .restructure(edited, &touched, &mut self.members, altered)
            .ok()?;
        self.queue.unvented = unvented;
        self.kept.make_room(measured);
        Some(())
    }

    /// Follows a cell of the rule set that reads otherwise; false as with [`follow`](Self::follow).
    pub(crate) fn follow_cell(&mut self, measured: &mut Measured<'_>, cell: (usize, usize, usize)) -> bool {
        self.queue.lost = false;
        self.queue.now = (0, 0);
        let mut altered = Altered::default();
        if let Some(cell) = measured.cell(cell) {
            altered.figures.push((Figure::Cell, cell));
        }
        self.settle(measured, altered)
    }

    /// Makes every pass at every element again, and notes which cells of the rule set it reads; once, before the first
    /// of them is altered.
    pub(crate) fn note_cells(&mut self, measured: &mut Measured<'_>) {
        if self.readers.cells.is_some() {
            return;
        }
        measured.note_cells();
        let mut cells = Vec::new();
        for &pass in Pass::ALL {
            for at in self.elements(measured, pass) {
                self.make(measured, pass, at, &mut Silent);
                let (figures, _) = measured.reads_noted(&mut self.noted);
                let reads = figures >> Figure::Cell as u8 & 1;
                if pass.goes() == Goes::Once {
                    if let Some(passes) = self.readers.beside.get_mut(Figure::Cell as usize) {
                        *passes |= reads << pass as u8;
                    }
                } else if reads == 1 {
                    self.noted.sort_unstable();
                    self.noted.dedup();
                    let noted = self.noted.iter().map(|&noted| unpack(noted));
                    let noted =
                        noted.filter(|(figure, element)| *figure == Figure::Cell as u8 && *element != NONE);
                    cells.extend(noted.map(|(figure, element)| Far {
                        element,
                        figure,
                        pass: pass as u8,
                        at,
                    }));
                }
            }
        }
        self.readers.cells = Some(Sorted::of(cells));
    }

    /// Whether a cell of the rule set is read by so few elements that to judge them again takes less than to judge all by
    /// a rule; not known before cells have been noted.
    pub(crate) fn few_read(&self, measured: &Measured<'_>, cell: (usize, usize, usize)) -> bool {
        let Some(cell) = self.readers.cells.as_ref().and_then(|_| measured.cell(cell)) else {
            return false;
        };
        let figure = Figure::Cell as u8;
        let more = self.readers.more.get(&(figure, cell)).map_or(0, BTreeSet::len);
        let readers = self.readers.far_of(figure, cell).len() + more;
        readers < measured.node_bound() / MANY
    }

    /// Goes on with other rules, by which the same is measured; `own` tells of each the place of the one so far that is
    /// the same. False as with [`follow`](Self::follow).
    pub(crate) fn follow_rules(&mut self, measured: &mut Measured<'_>, own: &[Option<usize>]) -> bool {
        measured.forget_cells();
        self.readers.cells = None;
        self.readers
            .more
            .retain(|(figure, _), _| *figure != Figure::Cell as u8);
        measured.reads_noted(&mut self.noted);
        let mut far = Vec::new();
        for (sweep, rules) in self.kept.renew(measured, own).into_iter().enumerate() {
            let pass = Pass::ALL.get(Pass::JudgeNode as usize + sweep).copied();
            let Some(pass) = pass.filter(|_| !rules.is_empty()) else {
                continue;
            };
            for at in self.elements(measured, pass) {
                self.kept.judge_by(measured, sweep, at, rules.iter().copied());
                self.note(measured, pass, at, Some(&mut far));
            }
        }
        // Of the other rules there is nothing to be told, for whoever asked knows all findings that there were.
        self.kept.difference();
        self.readers.far.add(far);
        !self.lost && measured.asked() == self.asked
    }

    /// Forgets what has been asked for since the network was made ready, which nothing follows.
    pub(crate) fn forget(&self, state: &mut State) {
        state.forget_but(&self.asked);
    }

    /// Makes all again that reads what is altered, until nothing more is.
    fn settle(&mut self, measured: &mut Measured<'_>, mut altered: Altered) -> bool {
        measured.reads_noted(&mut self.noted);
        for &(pass, at) in &self.readers.always {
            self.queue.push_at(measured, pass, at);
        }
        self.queue.alter(measured, &self.readers, &mut altered);
        let limit = FEW.max(measured.node_bound() / SHARE);
        let mut made = 0_usize;
        loop {
            while let Some((pass, at)) = self.queue.pop() {
                self.make(measured, pass, at, &mut altered);
                self.note(measured, pass, at, None);
                self.queue.alter(measured, &self.readers, &mut altered);
                made += 1;
                if self.lost || self.queue.lost || made > limit {
                    return false;
                }
            }
            let next = self.kept.to_be_shown();
            if next.is_empty() {
                break;
            }
            self.queue.now = (0, 0);
            for (sweep, at) in next {
                let pass = Pass::JudgeNode as usize + sweep;
                self.queue.push_at(measured, pass as u8, at);
            }
        }
        self.queue.unvented.clear();
        // What is asked for the first time from now on has to be followed too.
        measured.asked() == self.asked
    }
}

/// What a pass has altered.
#[derive(Default)]
struct Altered {
    figures: Vec<(Figure, u32)>,
    pipes: Vec<(u32, u8)>,
    again: Vec<(Pass, u32)>,
}

impl Alters for Altered {
    fn figure(&mut self, figure: Figure, element: u32) {
        self.figures.push((figure, element));
    }

    fn again(&mut self, pass: Pass, element: u32) {
        self.again.push((pass, element));
    }
}

/// Takes no notes: nothing is altered.
struct Silent;

impl Alters for Silent {
    fn figure(&mut self, figure: Figure, element: u32) {
        debug_assert!(
            false,
            "{figure:?} of {element} comes out otherwise element by element"
        );
    }

    fn again(&mut self, _: Pass, _: u32) {}
}

impl Readers {
    fn add(&mut self, figure: u8, element: u32, pass: u8, at: u32) {
        let own = self.far_of(figure, element);
        let known = own.binary_search_by(|far| (far.pass, far.at).cmp(&(pass, at)));
        if known.is_err() {
            self.more.entry((figure, element)).or_default().insert((pass, at));
        }
    }

    fn far_of(&self, figure: u8, element: u32) -> &[Far] {
        match &self.cells {
            Some(cells) if figure == Figure::Cell as u8 => cells.of_element(figure, element),
            _ => self.far.of_element(figure, element),
        }
    }
}

impl Queue {
    fn pop(&mut self) -> Option<(Pass, u32)> {
        while self.passes != 0 {
            let pass = self.passes.trailing_zeros() as usize;
            let waiting = self.waiting.get_mut(pass)?;
            let Some(Reverse((place, at))) = waiting.pop() else {
                self.passes &= !(1 << pass);
                continue;
            };
            // It may wait several times over.
            while waiting.peek() == Some(&Reverse((place, at))) {
                waiting.pop();
            }
            self.now = (pass as u8, place);
            return Some((*Pass::ALL.get(pass)?, at));
        }
        None
    }

    /// Has a pass made at an element, unless it does not go there.
    fn push_at(&mut self, measured: &Measured<'_>, pass: u8, at: u32) {
        let Some(own) = Pass::ALL.get(usize::from(pass)) else {
            return;
        };
        let network = measured.network();
        let node = NodeId::new(at as usize);
        let goes = own.goes();
        let place = match goes {
            Goes::Down => network.drain_rank(node),
            Goes::Up => network.drain_rank(node).map(|rank| u64::MAX - rank),
            Goes::Out => network.vent_rank(node),
            Goes::In => network.vent_rank(node).map(|rank| u64::MAX - rank),
            Goes::Fixtures if !measured.is_fixture(at) => None,
            Goes::Vented if measured.state.vents_from(at).is_empty() && !self.unvented.contains(&at) => None,
            Goes::Pipes if *own == Pass::Below && !is_vent_stack(measured, at) => None,
            _ => Some(u64::from(at)),
        };
        let Some(place) = place else { return };
        if pass < self.now.0 {
            self.lost = true;
            return;
        }
        // What comes before in a pass reads nothing of what comes after.
        let in_order = matches!(goes, Goes::Down | Goes::Up | Goes::Out | Goes::In);
        if pass == self.now.0 && in_order && place <= self.now.1 && self.now != (0, 0) {
            return;
        }
        if let Some(waiting) = self.waiting.get_mut(usize::from(pass)) {
            waiting.push(Reverse((place, at)));
            self.passes |= 1 << pass;
        }
    }

    /// Has all made that read what is altered.
    fn alter(&mut self, measured: &Measured<'_>, readers: &Readers, altered: &mut Altered) {
        for (pass, at) in altered.again.drain(..) {
            self.push_at(measured, pass as u8, at);
        }
        for (figure, element) in altered.figures.drain(..) {
            self.read(measured, readers, figure, element, u8::MAX);
        }
        for (pipe, fields) in altered.pipes.drain(..) {
            self.read(measured, readers, Figure::Pipe, pipe, fields);
        }
    }

    fn read(&mut self, measured: &Measured<'_>, readers: &Readers, figure: Figure, element: u32, fields: u8) {
        let asks = |pass: u8| {
            let pass = Pass::ALL.get(usize::from(pass));
            figure != Figure::Pipe || pass.is_some_and(|pass| pass.fields() & fields != 0)
        };
        let mut passes = readers.beside.get(figure as usize).copied().unwrap_or(0);
        while passes != 0 {
            let pass = passes.trailing_zeros() as u8;
            passes &= passes - 1;
            if !asks(pass) {
                continue;
            }
            match Pass::ALL.get(usize::from(pass)).map(|pass| pass.goes()) {
                Some(Goes::Once) => self.push_at(measured, pass, 0),
                Some(Goes::Pipes) => {
                    pipes_beside(measured, figure, element, &mut |pipe| {
                        self.push_at(measured, pass, pipe);
                    });
                }
                Some(Goes::Stacks | Goes::Numbered) => self.push_at(measured, pass, element),
                Some(_) => nodes_beside(measured, figure, element, &mut |node| {
                    self.push_at(measured, pass, node);
                }),
                None => {}
            }
        }
        for far in readers.far_of(figure as u8, element) {
            if asks(far.pass) {
                self.push_at(measured, far.pass, far.at);
            }
        }
        for &(pass, at) in readers.more.get(&(figure as u8, element)).into_iter().flatten() {
            if asks(pass) {
                self.push_at(measured, pass, at);
            }
        }
    }
}

fn is_vent_stack(measured: &Measured<'_>, pipe: u32) -> bool {
    let own = measured.state.pipes.get(pipe as usize);
    own.is_some_and(|own| own.kind == RunKind::VentStack && measured.state.next(own.from).is_some())
}

/// The other end of each pipe that touches a node.
fn neighbours<'m>(measured: &'m Measured<'_>, node: u32) -> impl Iterator<Item = u32> + use<'m> {
    let ends = measured
        .touching(node)
        .filter_map(|pipe| measured.both_ends(pipe));
    ends.map(move |[from, to]| if from == node { to } else { from })
}

/// The nodes that an element is beside: itself and its neighbours, or the ends of a pipe and theirs.
fn nodes_beside(measured: &Measured<'_>, figure: Figure, element: u32, each: &mut impl FnMut(u32)) {
    let mut with_neighbours = |node: u32| {
        each(node);
        neighbours(measured, node).for_each(&mut *each);
    };
    match figure.by() {
        By::Node => with_neighbours(element),
        By::Pipe => {
            let ends = measured.both_ends(element);
            ends.into_iter().flatten().for_each(with_neighbours);
        }
        By::Stack | By::Whole => {}
    }
}

/// The pipes that an element is beside: those that touch a node, or either end of a pipe.
fn pipes_beside(measured: &Measured<'_>, figure: Figure, element: u32, each: &mut impl FnMut(u32)) {
    match figure.by() {
        By::Node => measured.touching(element).for_each(each),
        By::Pipe => {
            let ends = measured.both_ends(element);
            let ends = ends.into_iter().flatten();
            ends.flat_map(|end| measured.touching(end)).for_each(each);
        }
        By::Stack | By::Whole => {}
    }
}

/// Whether an element is beside another, as [`nodes_beside`] and [`pipes_beside`] go.
fn is_beside(measured: &Measured<'_>, goes: Goes, at: u32, figure: Figure, element: u32) -> bool {
    let near = |node: u32| node == at || neighbours(measured, at).any(|other| other == node);
    match (goes, figure.by()) {
        (Goes::Once, _) | (_, By::Whole) => false,
        (Goes::Stacks, By::Stack) => at == element,
        (Goes::Stacks | Goes::Numbered, _) | (_, By::Stack) => false,
        (Goes::Pipes, By::Node) => {
            let ends = measured.both_ends(at);
            ends.is_some_and(|ends| ends.contains(&element))
        }
        (Goes::Pipes, By::Pipe) => {
            let (own, other) = (measured.both_ends(at), measured.both_ends(element));
            let (Some(own), Some(other)) = (own, other) else {
                return false;
            };
            own.iter().any(|end| other.contains(end))
        }
        (_, By::Node) => near(element),
        (_, By::Pipe) => {
            let ends = measured.both_ends(element);
            ends.is_some_and(|ends| ends.into_iter().any(near))
        }
    }
}
