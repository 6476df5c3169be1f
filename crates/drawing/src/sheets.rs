//! Which part of a network goes on which sheet.

use crate::web::{NONE, Web, number};

/// The parts, each a tree of drains with its vents.
#[derive(Debug)]
pub(crate) struct Parts {
    /// The sheet of each node.
    pub(crate) sheet_of: Vec<u32>,
    /// The node at which each sheet's drains come together. The first sheet has the point of disposal.
    pub(crate) roots: Vec<u32>,
    /// The drain nodes of each sheet, downstream first.
    pub(crate) drains: Vec<Vec<u32>>,
    /// The nodes of each sheet that only vents touch, in the order in which air flows.
    pub(crate) vents: Vec<Vec<u32>>,
}

impl Parts {
    /// Parts the network where drains are cut.
    pub(crate) fn new(web: &Web<'_>, is_cut: &[bool]) -> Self {
        let nodes = web.down.len();
        let mut sheet_of = vec![NONE; nodes];
        let mut roots = Vec::new();
        let mut drains: Vec<Vec<u32>> = Vec::new();
        for node in web.drain_order().rev() {
            let down = web.down[node as usize];
            let below = match down {
                NONE => NONE,
                pipe => sheet_of[web.to[pipe as usize] as usize],
            };
            let sheet = if below == NONE || is_cut[down as usize] {
                roots.push(node);
                drains.push(Vec::new());
                number(roots.len() - 1)
            } else {
                below
            };
            sheet_of[node as usize] = sheet;
            drains[sheet as usize].push(node);
        }
        let mut vents = vec![Vec::new(); roots.len()];
        for node in web.vent_order() {
            if sheet_of[node as usize] != NONE {
                continue;
            }
            // A vent stays with what joins it in its storey, else with what it goes on from.
            let first = web.vents_in[node as usize].iter().max_by_key(|&&pipe| {
                let next = web.vents_out[node as usize].first();
                let own_run = next.is_some_and(|&next| web.run[next as usize] == web.run[pipe as usize]);
                let from = web.from[pipe as usize] as usize;
                let own_storey = web.storey[from] == web.storey[node as usize];
                (own_storey, own_run, std::cmp::Reverse(pipe))
            });
            let sheet = first.map_or(0, |&pipe| sheet_of[web.from[pipe as usize] as usize]);
            let sheet = if sheet == NONE { 0 } else { sheet };
            sheet_of[node as usize] = sheet;
            vents[sheet as usize].push(node);
        }
        Self {
            sheet_of,
            roots,
            drains,
            vents,
        }
    }
}
