//! `crownweir-workings-checker RULES... NETWORK FINDINGS.json [DAY]`: confirms or refuses what a report in JSON says, with
//! the workings that `crownweir check --format json --workings=all` adds.

use std::process::ExitCode;

use crownweir_document::{Document, Limits};
use crownweir_rulebook::{RuleSet, Text, published};
use crownweir_workings_checker::judge;

fn main() -> ExitCode {
    match run(&std::env::args().skip(1).collect::<Vec<_>>()) {
        Ok(refused) => ExitCode::from(u8::from(refused > 0)),
        Err(problem) => {
            eprintln!("{problem}");
            ExitCode::from(2)
        }
    }
}

fn run(arguments: &[String]) -> Result<usize, String> {
    let (on, files) = match arguments.split_last() {
        Some((last, before)) if last.parse::<crownweir_rulebook::Day>().is_ok() => (last.as_str(), before),
        _ => ("0001-01-01", arguments),
    };
    let [base, amendments @ .., network, report] = files else {
        return Err(
            "usage: RULES... NETWORK FINDINGS.json [DAY]; with amendments, the day of the check".to_owned()
        );
    };
    let read = |path: &String| std::fs::read(path).map_err(|error| format!("{path}: {error}"));
    let rules = |name: &String| match published::text(name).or_else(|| published::amendment(name)) {
        Some(text) => Ok(text.as_bytes().to_vec()),
        None => read(name),
    };
    let texts = amendments.iter().map(|name| Ok((name, rules(name)?))).collect::<Result<Vec<_>, String>>()?;
    let texts: Vec<_> = texts.iter().map(|(name, bytes)| Text { name, bytes }).collect();
    let (base, bytes) = (base, rules(base)?);
    let on = on.parse().map_err(|_| "no day".to_owned())?;
    let merged = RuleSet::merged(Text { name: base, bytes: &bytes }, &texts, on, &Limits::rules());
    let merged = merged.map_err(|problems| problems.to_string())?;
    let network = Document::read(network, &read(network)?, &Limits::default())
        .map_err(|problems| problems.to_string())?;
    let report = serde_json::from_slice(&read(report)?).map_err(|error| format!("{report}: {error}"))?;
    let judged = judge(&merged, &network, &report);
    let refused = judged.iter().filter(|one| one.refused.is_some()).count();
    for one in &judged {
        let why =
            one.refused.as_ref().map_or_else(|| "confirmed".to_owned(), |why| format!("REFUSED: {why}"));
        println!("{} `{}`: {why}", one.rule, one.name);
    }
    println!("{} confirmed, {refused} refused", judged.len() - refused);
    Ok(refused)
}
