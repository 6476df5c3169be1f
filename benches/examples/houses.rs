//! Prints small houses, each a line of JSON: `cargo run --release -p crownweir-benches --example houses -- 100000`. A second
//! number is the seed.

use std::io::{BufWriter, Write as _};

fn main() -> std::io::Result<()> {
    let mut numbers = std::env::args().skip(1).map(|text| text.parse::<u64>().ok());
    let count = numbers.next().flatten().unwrap_or(10);
    let seed = numbers.next().flatten().unwrap_or(1);
    let mut output = BufWriter::new(std::io::stdout().lock());
    for number in 1..=count {
        writeln!(output, "{}", crownweir_benches::house(seed, number))?;
    }
    output.flush()
}
