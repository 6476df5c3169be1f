//! What to mind before a piece is cut: too little room for a repair, needless couplings.
//!
//! Remarks change no length.

use std::collections::HashMap;

use crownweir_network::{Network, NodeKind, PipeId};
use crownweir_quantity::Length;
use crownweir_vocabulary::FittingPattern;
use petgraph::Direction::Outgoing;

use crate::cut::{Cut, End, Piece};
use crate::dimensions::{Basis, Dimensions};
use crate::sheet::on_tape;

/// Notes what a plumber would want to know before cutting.
pub(crate) fn mind(network: &Network, dimensions: &Dimensions, piece: &mut Piece) {
    let (Some(own), Cut::To(cut), notation) = (
        network.graph().edge_weight(piece.pipe),
        &piece.cut,
        network.notation(),
    ) else {
        return;
    };
    let cut = *cut;
    let (Some(material), Some(size)) = (own.material, own.size) else {
        return;
    };
    if piece.ends.contains(&End::Trap) {
        piece
            .remarks
            .push("to the trap weir: trim to the trap".to_owned());
    }
    if piece.is_by(Basis::Memory) {
        piece.remarks.push("by figures from memory".to_owned());
    }
    if let [
        End::Fitting {
            engagement: Some(start),
            ..
        },
        End::Fitting {
            engagement: Some(end),
            ..
        },
    ] = &piece.ends
    {
        // A coupling without a stop is at least as long as the two ends that it holds.
        let coupling = dimensions
            .joint(material, size)
            .and_then(|joint| joint.repair_coupling.or(joint.coupling));
        let coupling = coupling.or_else(|| start.checked_add(*end));
        let clear = cut.checked_sub(*start).and_then(|cut| cut.checked_sub(*end));
        if let (Some(coupling), Some(clear)) = (coupling, clear)
            && clear < coupling
        {
            piece.remarks.push(format!(
                "{} clear: too close for a repair coupling of {}",
                on_tape(clear, notation),
                on_tape(coupling, notation)
            ));
        }
    }
}

/// Notes the couplings between two pieces that one longer piece would do without.
pub(crate) fn mind_couplings(network: &Network, dimensions: &Dimensions, pieces: &mut [Piece]) {
    let graph = network.graph();
    let by_pipe: HashMap<PipeId, usize> = pieces
        .iter()
        .enumerate()
        .filter(|(_, piece)| !piece.is_coupled(0))
        .map(|(index, piece)| (piece.pipe, index))
        .collect();
    let mut remarks = Vec::new();
    let last = |(_, piece): &(usize, &Piece)| !piece.is_coupled(1);
    for (index, piece) in pieces.iter().enumerate().filter(last) {
        let Some((_, node)) = graph.edge_endpoints(piece.pipe) else {
            continue;
        };
        let coupling = matches!(
            graph.node_weight(node).map(|node| &node.kind),
            Some(NodeKind::Fitting {
                pattern: Some(FittingPattern::Coupling)
            })
        );
        let next = network.pipes_at(node, Outgoing).next();
        let next = next.and_then(|next| by_pipe.get(&next));
        let Some(next) = next.and_then(|next| pieces.get(*next)).filter(|_| coupling) else {
            continue;
        };
        let of = |piece: &Piece| {
            graph
                .edge_weight(piece.pipe)
                .and_then(|own| own.material.zip(own.size))
        };
        let (Some((material, size)), true) = (of(piece), of(piece) == of(next)) else {
            continue;
        };
        let Some(stop) = piece.ends[1].stop().ok().zip(next.ends[0].stop().ok()) else {
            continue;
        };
        let parts = [piece.length(), next.length(), Some(stop.0), Some(stop.1)];
        let whole = parts
            .into_iter()
            .try_fold(Length::ZERO, |sum, part| sum.checked_add(part?));
        if let (Some(whole), Some(&longest)) = (whole, dimensions.stock(material).last())
            && whole <= longest
        {
            let whole = on_tape(whole, network.notation());
            remarks.push((
                index,
                format!(
                    "one piece of {whole} would do for this and {} ({size}), without the coupling",
                    next.mark
                ),
            ));
        }
    }
    for (index, remark) in remarks {
        if let Some(piece) = pieces.get_mut(index) {
            piece.remarks.push(remark);
        }
    }
}
