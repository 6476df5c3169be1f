//! Cutting pieces out of stock lengths: never more lengths than first-fit decreasing takes, fewer where a bounded
//! search finds a way, and a lower bound beside the answer.
//!
//! It knows nothing of pipe. Lengths are whole numbers of any unit.

/// How pieces are cut out of lengths of stock.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Packing {
    /// For each length of stock, the pieces cut out of it, as indices into what was asked for; the longest first.
    pub lengths: Vec<Vec<usize>>,
    /// No way of cutting takes fewer lengths than this.
    pub at_least: usize,
}

/// At how many lengths of stock the search looks at the most before it is content with what it has.
pub const MOST_STEPS: u32 = 2_000_000;
/// Above so many pieces the search is not begun: first-fit decreasing is then within a few per cent.
const MOST_SEARCHED: usize = 200;

/// Cuts pieces of the lengths given out of stock of one length, `kerf` being lost between two pieces. None where a
/// piece is longer than the stock, or a length is not above zero.
///
/// First-fit decreasing takes at most 11/9 of the fewest lengths and 6/9 (D. S. Johnson 1973; G. Dósa 2007).
#[must_use]
pub fn pack(pieces: &[u64], stock: u64, kerf: u64, steps: u32) -> Option<Packing> {
    // A piece takes its length and one kerf, out of a length with one kerf more: the last piece needs no cut behind it.
    let capacity = stock.checked_add(kerf)?;
    let mut sized = Vec::with_capacity(pieces.len());
    for (index, &piece) in pieces.iter().enumerate() {
        let size = piece.checked_add(kerf)?;
        if piece == 0 || piece > stock {
            return None;
        }
        sized.push((size, index));
    }
    // The longest first; of equal ones the first asked for.
    sized.sort_by_key(|&(size, index)| (std::cmp::Reverse(size), index));
    let sizes: Vec<u64> = sized.iter().map(|&(size, _)| size).collect();
    let at_least = lower_bound(&sizes, capacity);
    let mut bins = first_fit(&sizes, capacity);
    if sizes.len() <= MOST_SEARCHED {
        let mut left = steps;
        while bins.len() > at_least {
            match search(&sizes, capacity, bins.len() - 1, &mut left) {
                Some(better) => bins = better,
                None => break,
            }
        }
    }
    let lengths = bins
        .into_iter()
        .map(|bin| bin.into_iter().filter_map(|at| Some(sized.get(at)?.1)).collect());
    Some(Packing {
        lengths: lengths.collect(),
        at_least,
    })
}

/// A number of bins that no packing undercuts, for sizes in falling order (S. Martello and P. Toth, Knapsack Problems,
/// 1990, section 8.3: their bound L2).
fn lower_bound(sizes: &[u64], capacity: u64) -> usize {
    // Sums from the front, in a type that holds them all.
    let mut sums = vec![0_u128];
    for &size in sizes {
        sums.push(sums.last().copied().unwrap_or(0) + u128::from(size));
    }
    let sum = |from: usize, to: usize| sums.get(to).zip(sums.get(from)).map_or(0, |(to, from)| to - from);
    let whole = u128::from(capacity);
    let first_not_above = |limit: u64| sizes.partition_point(|&size| size > limit);
    let half = first_not_above(capacity / 2);
    let mut best = usize::try_from(sum(0, sizes.len()).div_ceil(whole.max(1))).unwrap_or(usize::MAX);
    best = best.max(half);
    // Each size up to half of the capacity is a threshold below which sizes are left out of account.
    for &least in sizes.get(half..).unwrap_or_default() {
        // Alone in their bins: what leaves no room for the threshold.
        let alone = first_not_above(capacity - least);
        let counted = sizes.partition_point(|&size| size >= least);
        let room = (half - alone.min(half)) as u128 * whole - sum(alone.min(half), half);
        let small = sum(half, counted);
        let more = usize::try_from(small.saturating_sub(room).div_ceil(whole.max(1))).unwrap_or(0);
        best = best.max(half + more);
    }
    best
}

/// First-fit of sizes in falling order: each into the first bin that has room. A tree over the bins gives for every
/// part of them the most room that one has, so that a bin is found in few steps however many there are.
fn first_fit(sizes: &[u64], capacity: u64) -> Vec<Vec<usize>> {
    let leaves = sizes.len().next_power_of_two().max(1);
    let mut room = vec![capacity; 2 * leaves];
    let mut bins: Vec<Vec<usize>> = Vec::new();
    for (at, &size) in sizes.iter().enumerate() {
        let mut node = 1;
        while node < leaves {
            node *= 2;
            if room[node] < size {
                node += 1;
            }
        }
        let bin = node - leaves;
        room[node] -= size;
        while node > 1 {
            node /= 2;
            room[node] = room[2 * node].max(room[2 * node + 1]);
        }
        if bin == bins.len() {
            bins.push(Vec::new());
        }
        bins[bin].push(at);
    }
    bins
}

/// A packing into so many bins, by trying each size in each bin in turn and stepping back from what cannot lead there.
/// None where there is none, or where the steps run out. It does not recurse.
fn search(sizes: &[u64], capacity: u64, bins: usize, steps: &mut u32) -> Option<Vec<Vec<usize>>> {
    let total: u128 = sizes.iter().map(|&size| u128::from(size)).sum();
    // What may be left over in all bins together.
    let spare = (bins as u128 * u128::from(capacity)).checked_sub(total)?;
    let smallest = sizes.last().copied().unwrap_or(0);
    let mut room = vec![capacity; bins];
    // Where each size is, and from which bin on to try next.
    let mut placed: Vec<usize> = Vec::with_capacity(sizes.len());
    let mut next = 0;
    loop {
        let at = placed.len();
        let Some(&size) = sizes.get(at) else {
            let mut found = vec![Vec::new(); bins];
            for (at, &bin) in placed.iter().enumerate() {
                found[bin].push(at);
            }
            found.retain(|bin| !bin.is_empty());
            return Some(found);
        };
        *steps = steps.checked_sub(u32::try_from(bins).ok()?)?;
        // Equal sizes go into bins in order, or the same packing would be met again and again.
        let from = match at.checked_sub(1) {
            Some(before) if sizes[before] == size => next.max(placed[before]),
            _ => next,
        };
        // A bin with as much room as one before it leads to nothing new.
        let bin = (from..bins).find(|&bin| room[bin] >= size && !room[..bin].contains(&room[bin]));
        match bin {
            Some(bin) => {
                room[bin] -= size;
                placed.push(bin);
                // Room that no size fits into is lost.
                let lost: u128 = room
                    .iter()
                    .filter(|&&room| room < smallest)
                    .map(|&room| u128::from(room))
                    .sum();
                if lost > spare {
                    placed.pop();
                    room[bin] += size;
                    next = bin + 1;
                } else {
                    next = 0;
                }
            }
            None => {
                let bin = placed.pop()?;
                room[bin] += sizes[placed.len()];
                next = bin + 1;
            }
        }
    }
}
