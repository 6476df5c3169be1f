//! Small houses checked one after the other: how many in a second on one thread and on two.
//!
//! `cargo bench -p crownweir-benches --bench batch`

use std::num::NonZeroUsize;
use std::sync::Arc;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use crownweir::batch::{self, Lines, Record, Source as _};
use crownweir::{Limits, Network, RuleSet, published};
use crownweir_benches::house;

/// How many houses a batch has.
const HOUSES: u64 = 2_000;

fn benches(criterion: &mut Criterion) {
    let text = published::text("ipc-2021").unwrap_or_default();
    let rules = RuleSet::read("ipc-2021", text.as_bytes(), &Limits::rules());
    let rules = Arc::new(rules.unwrap_or_else(|problems| panic!("{problems}")));
    let houses: String = (1..=HOUSES).map(|number| house(1, number) + "\n").collect();
    let limits = Limits::default();
    let chosen = |_: &Network| Ok(Arc::clone(&rules));
    let mut group = criterion.benchmark_group("check houses from lines of JSON to lines of JSON");
    group.sample_size(10);
    group.throughput(Throughput::Elements(HOUSES));
    for threads in [1, 2] {
        let number = NonZeroUsize::new(threads).unwrap_or(NonZeroUsize::MIN);
        group.bench_function(BenchmarkId::new("threads", threads), |bencher| {
            bencher.iter(|| {
                let mut lines = Lines::new(houses.as_bytes(), limits.bytes);
                let mut written = 0;
                let done = batch::in_order(
                    number,
                    &mut || lines.next_record(),
                    &|record: Record| batch::result(&record, &chosen, &limits),
                    &mut |result: &batch::ResultLine| {
                        written += result.line.len();
                        Ok(())
                    },
                );
                done.unwrap_or_else(|error| panic!("{error}"));
                written
            });
        });
    }
    group.finish();
}

criterion_group!(houses, benches);
criterion_main!(houses);
