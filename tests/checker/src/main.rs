//! `crownweir-workings-checker RULES... NETWORK FINDINGS.json [DAY]`: confirms or refuses what a report in
//! JSON says, with the workings that `crownweir check --format json --workings=all` adds.

use std::error::Error;
use std::process::ExitCode;

use crownweir_document::{Document, Limits};
use crownweir_network::Network;
use crownweir_rulebook::{Day, RuleSet, Text, published};
use crownweir_workings_checker::judge;

fn main() -> ExitCode {
    let done = run(std::env::args().skip(1).collect());
    done.unwrap_or_else(|problem| {
        eprintln!("{problem}");
        ExitCode::from(2)
    })
}

fn run(mut files: Vec<String>) -> Result<ExitCode, Box<dyn Error>> {
    let day = files.pop_if(|last| last.parse::<Day>().is_ok());
    let on: Day = day.as_deref().unwrap_or("0001-01-01").parse()?;
    let mut texts = Vec::new();
    for name in &files {
        let published = published::text(name).or_else(|| published::amendment(name));
        texts.push(match published {
            Some(text) => text.as_bytes().to_vec(),
            None => std::fs::read(name).map_err(|error| format!("{name}: {error}"))?,
        });
    }
    let texts = files.iter().zip(&texts);
    let texts: Vec<_> = texts.map(|(name, bytes)| Text { name, bytes }).collect();
    let [base, amendments @ .., network, report] = &*texts else {
        return Err("usage: RULES... NETWORK FINDINGS.json [DAY]".into());
    };
    let rules = RuleSet::amended(*base, amendments, on, &Limits::rules())?;
    let file = Document::read(network.name, network.bytes, &Limits::default())?;
    let network = Network::from_document(&file, &Limits::default())?;
    let judged = judge(&rules, &network, &file, &serde_json::from_slice(report.bytes)?);
    for (what, sound) in &judged {
        match sound {
            Ok(()) => println!("{what}: confirmed"),
            Err(why) => println!("{what}: REFUSED: {why}"),
        }
    }
    let refused = judged.iter().filter(|(_, sound)| sound.is_err()).count();
    println!("{} confirmed, {refused} refused", judged.len() - refused);
    Ok(ExitCode::from(u8::from(refused > 0)))
}
