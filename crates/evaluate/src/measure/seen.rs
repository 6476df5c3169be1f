//! What a measurement reads of what was measured before it, noted where that is asked for.
//!
//! It is how a session knows what an edit can alter: it changes no figure, and a check by itself notes nothing.

use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};

/// An enum with the list of its variants.
macro_rules! listed {
    ($(#[$of:meta])* $visible:vis enum $name:ident { $($(#[$of_one:meta])* $one:ident,)* }) => {
        $(#[$of])*
        $visible enum $name { $($(#[$of_one])* $one,)* }

        impl $name {
            /// All of them, in order.
            pub(crate) const ALL: &'static [Self] = &[$(Self::$one,)*];
        }
    };
}
pub(crate) use listed;

/// Of which elements a figure is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum By {
    Node,
    Pipe,
    Stack,
    /// One for the network.
    Whole,
}

impl Figure {
    pub(crate) const fn by(self) -> By {
        match self {
            Self::Pipe
            | Self::Receiver
            | Self::Meets
            | Self::ToAir
            | Self::Carries
            | Self::Level
            | Self::Vent
            | Self::VentAhead
            | Self::VentEnd
            | Self::StackOfVent
            | Self::VerticalAbove
            | Self::VerticalBelow
            | Self::VentTraps
            | Self::Relieved
            | Self::Yoke => By::Pipe,
            Self::Stack | Self::VentStack | Self::StackRelief | Self::WetStack => By::Stack,
            Self::Loops
            | Self::Junction
            | Self::Valves
            | Self::System
            | Self::Cuts
            | Self::StoreysBeside
            | Self::Cell => By::Whole,
            _ => By::Node,
        }
    }
}

listed! {
    /// A figure that is measured of each element of a kind: what is read is one of these of one element.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
    #[repr(u8)]
    pub(crate) enum Figure {
        /// What holds of a pipe by itself; by pipe.
        Pipe,
        /// What is stated of a node; by node.
        Node,
        /// Which pipes meet at a node; by node.
        Joints,
        /// The pattern of a fitting; by node.
        Pattern,
        /// A fixture; by node.
        Fixture,
        /// The type and the storey of a fixture; by node.
        FixtureKind,
        /// What lies between a node and the point of disposal; by node.
        Downstream,
        /// Where the water of a branch goes; by pipe.
        Receiver,
        /// The load of a fixture; by its node.
        Load,
        /// Credits, and whether groups are complete; by node.
        Group,
        /// Loads and counts of all that flows past a node; by node.
        Totals,
        /// Where a drain's air comes from; by node.
        Head,
        /// Where the traps that a drain brings unvented meet air; by pipe.
        Meets,
        /// How the trap of a fixture gets its air; by the fixture's node.
        Supply,
        /// The traps whose own connection is the vent at a node; by node.
        Vented,
        /// How far down a vent is depended on; by node.
        Ends,
        /// The water closets that get their air through drains from a dry vent; by node.
        Closets,
        /// The line of drains to the air; by pipe.
        ToAir,
        /// Bends and drops between a node and the point of disposal, and where its branch meets a stack; by node.
        Ways,
        /// The nearest dry vent up a branch; by node.
        Near,
        /// A circuit; by the node of its dry vent.
        Circuit,
        /// Whether a drain carries a vented fixture that has come by branches; by pipe.
        Carries,
        /// The level drain that a drain is part of; by pipe.
        Level,
        /// The vents that turn down to a foot; all of them.
        Loops,
        /// A stack and its branch intervals; by stack.
        Stack,
        /// The vent stack of a stack; by stack.
        VentStack,
        /// How far a node is from a cleanout; by node.
        Cleanout,
        /// The nearest base of a stack; by node.
        Base,
        /// How far the end of the building drain is from a cleanout; one for the network.
        Junction,
        /// What lies between a node and the end of its branch; by node.
        Branch,
        /// What a vent serves, and what is behind it; by pipe.
        Vent,
        /// What is ahead of a vent; by pipe.
        VentAhead,
        /// Where a vent ends; by pipe.
        VentEnd,
        /// The stack that a stack vent or vent stack serves; by pipe.
        StackOfVent,
        /// The rims that depend on a dry vent; by node.
        Rim,
        /// What air admittance valves serve; all of them.
        Valves,
        /// What protects the trap of a fixture; by the fixture's node.
        Chosen,
        /// Which wet vents, circuits and combination drains run through the drain that leaves a node; by node.
        Relied,
        /// What holds of the network as a whole.
        System,
        /// Further counts of what flows past a node; by node.
        Details,
        /// What of its run a node is told by those above it; by node.
        RunAbove,
        /// What of its run a node is told by the one below it; by node.
        RunAhead,
        /// How much vertical pipe there is above the end of a drain; by pipe.
        VerticalAbove,
        /// How much vertical pipe there is below it; by pipe.
        VerticalBelow,
        /// The drains of the fixtures on a circuit; by the node of its dry vent.
        Arms,
        /// What relieves a branch further down; by node.
        ReliefsBelow,
        /// The circuits that a vent or drain relieves; by pipe.
        Relieved,
        /// What a vent ties; by pipe.
        Yoke,
        /// The cleanouts on the vent that leaves a node; by node.
        VentCleanouts,
        /// How many fixtures are like one on its branch; by the fixture's node.
        Alike,
        /// The nearest sharp turn upstream of a node; by node.
        BendBehind,
        /// The nearest sharp turn downstream of a node; by node.
        BendAhead,
        /// What relieves a stack, and its offsets; by stack.
        StackRelief,
        /// The traps that get their air by a vent; by pipe.
        VentTraps,
        /// What the drain that leaves a node brings air to; by node.
        WetVents,
        /// Whether a trap gets air through a stack; by stack.
        WetStack,
        /// What probable flows need beside loads; by node.
        Shares,
        /// What is cut out of each row of framing; all of them.
        Cuts,
        /// The storeys of the vented fixtures beside combination drains; all of them.
        StoreysBeside,
        /// A cell of the rule set's tables, counted from the first of all.
        Cell,
    }
}

// A set of figures is kept as bits.
const _: () = assert!(Figure::ALL.len() <= u64::BITS as usize);

/// How many notes are kept from one reading of them to the next: so many for each element of the network, but no fewer
/// than the least, for small networks, and no more than the most, for the memory that they take.
const NOTES_PER_ELEMENT: usize = 4;
const LEAST_NOTES: usize = 1 << 12;
const MOST_NOTES: usize = 1 << 20;

/// What has been read since it was last asked.
#[derive(Debug)]
pub(crate) struct Seen {
    figures: AtomicU64,
    count: AtomicUsize,
    list: Box<[AtomicU64]>,
    /// Of each table, its first cell among those of all, and its columns, where cells are noted too.
    tables: Vec<(u32, u32)>,
}

impl Clone for Seen {
    fn clone(&self) -> Self {
        let same = |noted: &AtomicU64| AtomicU64::new(noted.load(Ordering::Relaxed));
        Self {
            figures: same(&self.figures),
            count: AtomicUsize::new(self.count.load(Ordering::Relaxed)),
            list: self.list.iter().map(same).collect(),
            tables: self.tables.clone(),
        }
    }
}

impl Seen {
    /// Room for the reads of one element's rules, or of a fact of the whole, in a network of so many elements.
    pub(crate) fn new(elements: usize) -> Self {
        let most = elements
            .saturating_mul(NOTES_PER_ELEMENT)
            .clamp(LEAST_NOTES, MOST_NOTES);
        Self {
            figures: AtomicU64::new(0),
            count: AtomicUsize::new(0),
            list: (0..most).map(|_| AtomicU64::new(0)).collect(),
            tables: Vec::new(),
        }
    }

    /// Has the cells noted from now on that are read of tables with so many rows and columns.
    pub(crate) fn note_cells(&mut self, tables: impl Iterator<Item = (usize, usize)>) {
        let mut first = 0_u32;
        self.tables = tables
            .map(|(rows, columns)| {
                let here = first;
                first = first.saturating_add(u32::try_from(rows * columns).unwrap_or(u32::MAX));
                (here, u32::try_from(columns).unwrap_or(u32::MAX))
            })
            .collect();
    }

    /// The place of a cell among those of all tables, where cells are noted.
    pub(crate) fn cell(&self, table: usize, row: usize, column: usize) -> Option<u32> {
        let &(first, columns) = self.tables.get(table)?;
        let (row, column) = (u32::try_from(row).ok()?, u32::try_from(column).ok()?);
        first.checked_add(row.checked_mul(columns)?)?.checked_add(column)
    }

    pub(crate) fn note(&self, figure: Figure, element: u32) {
        // One session reads and writes it, from one thread at a time.
        let figures = self.figures.load(Ordering::Relaxed) | 1 << figure as u8;
        self.figures.store(figures, Ordering::Relaxed);
        let count = self.count.load(Ordering::Relaxed);
        if let Some(slot) = self.list.get(count) {
            slot.store(pack(figure, element), Ordering::Relaxed);
        }
        self.count.store(count.saturating_add(1), Ordering::Relaxed);
    }

    /// Forgets what was noted, and hands it over: of which figures, one bit for each, and what of each element, unless
    /// that was too much to be kept.
    pub(crate) fn take(&self, into: &mut Vec<u64>) -> (u64, bool) {
        into.clear();
        let count = self.count.swap(0, Ordering::Relaxed);
        let kept = self.list.iter().take(count);
        into.extend(kept.map(|noted| noted.load(Ordering::Relaxed)));
        let figures = self.figures.swap(0, Ordering::Relaxed);
        (figures, count <= self.list.len())
    }
}

/// The figure and the element of a note.
pub(crate) fn unpack(noted: u64) -> (u8, u32) {
    ((noted >> 32) as u8, noted as u32)
}

fn pack(figure: Figure, element: u32) -> u64 {
    (figure as u64) << 32 | u64::from(element)
}
