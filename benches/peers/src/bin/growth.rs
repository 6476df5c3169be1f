//! How time and memory grow with a tower: loading and checking it, from a thousand nodes and pipes to ten million.
//!
//! `cargo run --release --manifest-path benches/peers/Cargo.toml --bin growth -- [MOST]`, where the largest tower has
//! about so many nodes and pipes; ten million take some 12 GB of memory while the file is read.
#![forbid(unsafe_code)]

use std::alloc::System;
use std::error::Error;
use std::hint::black_box;
use std::time::{Duration, Instant};

use crownweir::{Limits, Measured, Network, RuleSet, published};
use stats_alloc::{INSTRUMENTED_SYSTEM, Region, StatsAlloc};

#[global_allocator]
static MEMORY: &StatsAlloc<System> = &INSTRUMENTED_SYSTEM;

/// A small network is checked so often that the clock does not matter; the shortest time counts.
const LEAST: Duration = Duration::from_secs(2);

fn main() -> Result<(), Box<dyn Error>> {
    let most: usize = std::env::args()
        .nth(1)
        .map_or(Ok(10_000_000), |most| most.parse())?;
    let limits = Limits {
        bytes: usize::MAX,
        nodes: usize::MAX,
        ..Limits::default()
    };
    let text = published::text("ipc-2021").ok_or("no rule set")?;
    let rules = RuleSet::read("ipc-2021", text.as_bytes(), &Limits::rules())?;
    println!(
        "| nodes and pipes | read, ns each | measured | judged | of a rule and subject | bytes each in the network | in what is measured |\n\
         | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
    );
    let mut storeys = 14;
    loop {
        let text = crownweir_benches::tower(storeys);
        let region = Region::new(MEMORY);
        let start = Instant::now();
        let network = Network::read("tower", text.as_bytes(), &limits)?;
        let read = start.elapsed();
        drop(text);
        let of_network = held(&region);
        let elements = network.graph().node_count() + network.graph().edge_count();

        let region = Region::new(MEMORY);
        let measured = Measured::new(&network, &rules)?;
        let report = measured.check();
        let of_measures = held(&region);
        let questions: usize = report.summary.iter().map(|rule| rule.subjects).sum();
        drop((measured, report));

        let (mut measuring, mut judging) = (Duration::MAX, Duration::MAX);
        let began = Instant::now();
        loop {
            let start = Instant::now();
            let measured = Measured::new(&network, &rules)?;
            measuring = measuring.min(start.elapsed());
            let start = Instant::now();
            black_box(measured.check());
            judging = judging.min(start.elapsed());
            if began.elapsed() > LEAST {
                break;
            }
        }
        let each = |time: Duration, count: usize| time.as_secs_f64() * 1e9 / count as f64;
        println!(
            "| {elements} | {:.0} | {:.0} | {:.0} | {:.1} | {} | {} |",
            each(read, elements),
            each(measuring, elements),
            each(judging, elements),
            each(judging, questions),
            of_network / elements,
            of_measures / elements,
        );
        if elements * 2 > most {
            return Ok(());
        }
        storeys *= 10;
    }
}

/// Bytes that were allocated since the region began and still are.
fn held(region: &Region<'_, System>) -> usize {
    let change = region.change();
    change.bytes_allocated.saturating_sub(change.bytes_deallocated)
}
