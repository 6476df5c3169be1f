use crownweir::{Limits, Measured, Network, RuleSet, Subject, published};
use std::time::Instant;
fn main() {
    let n: u32 = std::env::args()
        .nth(1)
        .and_then(|t| t.parse().ok())
        .unwrap_or(1000);
    let rules = RuleSet::read(
        "r",
        published::text("ipc-2021").unwrap_or_default().as_bytes(),
        &Limits::default(),
    )
    .ok();
    let Some(rules) = rules else { return };
    let text = crownweir_benches::tower(n);
    let t = Instant::now();
    let Ok(network) = Network::read("t", text.as_bytes(), &Limits::default()) else {
        return;
    };
    println!("load {:?}", t.elapsed());
    for _ in 0..3 {
        let t = Instant::now();
        let Ok(m) = Measured::new(&network, &rules) else {
            return;
        };
        let a = t.elapsed();
        let t = Instant::now();
        let r = m.check();
        println!(
            "measure {a:?} check {:?} findings {}",
            t.elapsed(),
            r.findings.len()
        );
        let t = Instant::now();
        drop(r);
        println!("drop {:?}", t.elapsed());
    }
    let _ = Subject::ALL;
}
