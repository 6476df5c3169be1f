//! Loading and checking towers of growing height, and loading the rule set.
//!
//! `cargo bench -p crownweir-benches`

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use crownweir::{Limits, Network, RuleSet, check, published};
use crownweir_benches::tower;

fn rules() -> RuleSet {
    let text = published::text("ipc-2021").unwrap_or_default();
    RuleSet::read("ipc-2021", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"))
}

fn network(storeys: u32) -> Network {
    let text = tower(storeys);
    Network::read("tower", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}"))
}

fn benches(criterion: &mut Criterion) {
    criterion.bench_function("load the rule set ipc-2021", |bencher| {
        bencher.iter(|| black_box(rules()))
    });
    let rules = rules();
    let mut group = criterion.benchmark_group("check a loaded tower");
    group.sample_size(10);
    for storeys in [10, 100, 1_000, 10_000] {
        let network = network(storeys);
        let elements = network.graph().node_count() + network.graph().edge_count();
        group.throughput(Throughput::Elements(elements as u64));
        group.bench_with_input(
            BenchmarkId::from_parameter(storeys),
            &network,
            |bencher, network| {
                bencher.iter(|| black_box(check(network, &rules)));
            },
        );
    }
    group.finish();
    let mut group = criterion.benchmark_group("load a tower");
    group.sample_size(10);
    for storeys in [10, 100, 1_000, 10_000] {
        let text = tower(storeys);
        group.throughput(Throughput::Elements(u64::from(storeys) * 8));
        group.bench_with_input(BenchmarkId::from_parameter(storeys), &text, |bencher, text| {
            bencher.iter(|| black_box(Network::read("tower", text.as_bytes(), &Limits::default())));
        });
    }
    group.finish();
}

criterion_group!(towers, benches);
criterion_main!(towers);
