//! `crownweir-workings-checker RULES... NETWORK FINDINGS.json [DAY]`: confirms or refuses what a report in
//! JSON says, with the workings that `crownweir check --format json --workings=all` adds.

use std::process::ExitCode;

use crownweir_document::{Document, Limits};
use crownweir_rulebook::{Day, RuleSet, Text, published};
use crownweir_workings_checker::judge;

fn main() -> ExitCode {
    match run(std::env::args().skip(1).collect()) {
        Ok(refused) => ExitCode::from(u8::from(refused > 0)),
        Err(problem) => {
            eprintln!("{problem}");
            ExitCode::from(2)
        }
    }
}

fn run(mut files: Vec<String>) -> Result<usize, String> {
    let on: Option<Day> = files.pop_if(|last| last.parse::<Day>().is_ok()).and_then(|last| last.parse().ok());
    let [rules @ .., network, report] = &*files else {
        return Err("usage: RULES... NETWORK FINDINGS.json [DAY]".to_owned());
    };
    let read = |path: &String| std::fs::read(path).map_err(|error| format!("{path}: {error}"));
    let text = |name: &String| match published::text(name).or_else(|| published::amendment(name)) {
        Some(text) => Ok(text.as_bytes().to_vec()),
        None => read(name),
    };
    let texts = rules.iter().map(|name| Ok((name, text(name)?))).collect::<Result<Vec<_>, String>>()?;
    let texts: Vec<_> = texts.iter().map(|(name, bytes)| Text { name, bytes }).collect();
    let (base, amendments) = texts.split_first().ok_or("no rule set is named")?;
    let on = on.or_else(|| "0001-01-01".parse().ok()).ok_or("no day")?;
    let merged = RuleSet::merged(*base, amendments, on, &Limits::rules());
    let merged = merged.map_err(|problems| problems.to_string())?;
    let network = Document::read(network, &read(network)?, &Limits::default());
    let network = network.map_err(|problems| problems.to_string())?;
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
