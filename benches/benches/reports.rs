//! Making the report of a checked network as a page: drawing, schedules and all.
//!
//! `cargo bench -p crownweir-benches --bench reports`

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use crownweir::drawing::Options;
use crownweir::{Limits, Measured, Network, RuleSet, published, report};
use crownweir_benches::tower;

const BOATHOUSE: &str = include_str!("../../tests/networks/heron-point-faulty.yaml");
/// Storeys of eight fixtures for ten thousand.
const STOREYS: u32 = 1_250;

fn benches(criterion: &mut Criterion) {
    let text = published::text("ipc-2021").unwrap_or_default();
    let rules = RuleSet::read("ipc-2021", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"));
    let mut group = criterion.benchmark_group("page of a checked network");
    group.sample_size(10);
    for (name, text) in [
        ("boathouse", BOATHOUSE.to_owned()),
        ("tower of 10000 fixtures", tower(STOREYS)),
    ] {
        let network = Network::read(name, text.as_bytes(), &Limits::default())
            .unwrap_or_else(|problems| panic!("{problems}"));
        let measured = Measured::new(&network, &rules).unwrap_or_else(|error| panic!("{error}"));
        let found = measured.check();
        let page = || report::page(&measured, &found, &[], Options::default());
        // Bytes of the page, so that a throughput tells its size too.
        group.throughput(Throughput::Bytes(page().len() as u64));
        group.bench_function(name, |bencher| bencher.iter(|| black_box(page())));
    }
    group.finish();
}

criterion_group!(reports, benches);
criterion_main!(reports);
