//! Prints a tower's network file: `cargo run -p crownweir-benches --example tower -- 40`.
fn main() {
    let storeys = std::env::args()
        .nth(1)
        .and_then(|text| text.parse().ok())
        .unwrap_or(10);
    print!("{}", crownweir_benches::tower(storeys));
}
