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

/// By which elements a figure goes.
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
        /// By node.
        Downstream,
        /// By pipe.
        Receiver,
        /// By a fixture's node.
        Load,
        /// Credits, and whether groups are complete; by node.
        Group,
        /// By node.
        Totals,
        /// Where a drain's air comes from; by node.
        Head,
        /// By pipe.
        Meets,
        /// By a fixture's node.
        Supply,
        /// By node.
        Vented,
        /// How far down a vent is depended on; by node.
        Ends,
        /// By node.
        Closets,
        /// The line of drains to the air; by pipe.
        ToAir,
        /// By node.
        Ways,
        /// The nearest dry vent up a branch; by node.
        Near,
        /// By the node of its dry vent.
        Circuit,
        /// By pipe.
        Carries,
        /// The level drain that a drain is part of; by pipe.
        Level,
        /// All of them.
        Loops,
        /// By stack.
        Stack,
        /// The vent stack of a stack; by stack.
        VentStack,
        /// By node.
        Cleanout,
        /// The nearest base of a stack; by node.
        Base,
        /// The one of the network.
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
        /// All of them.
        Valves,
        /// By a fixture's node.
        Chosen,
        /// By node.
        Relied,
        /// What holds of the network as a whole.
        System,
        /// By node.
        Details,
        /// What of its run a node is told by those above it; by node.
        RunAbove,
        /// What of its run a node is told by the one below it; by node.
        RunAhead,
        /// How much vertical pipe there is above the end of a drain; by pipe.
        VerticalAbove,
        /// How much vertical pipe there is below it; by pipe.
        VerticalBelow,
        /// By the node of its circuit's dry vent.
        Arms,
        /// By node.
        ReliefsBelow,
        /// The circuits that a vent or drain relieves; by pipe.
        Relieved,
        /// What a vent ties; by pipe.
        Yoke,
        /// By node.
        VentCleanouts,
        /// By a fixture's node.
        Alike,
        /// By node.
        BendBehind,
        /// By node.
        BendAhead,
        /// By stack.
        StackRelief,
        /// By pipe.
        VentTraps,
        /// By node.
        WetVents,
        /// Whether a trap gets air through a stack; by stack.
        WetStack,
        /// By node.
        Shares,
        /// All of them.
        Cuts,
        /// Of combination drains; all of them.
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
