//! The tables of `rules.yaml`, as the peers are given them: thousandths of a fixture unit, nanometres.

use std::error::Error;

use crownweir::quantity::Length;
use serde_json::{Value as Json, json};

/// By name of size; none where there is no limit.
type Limits = Vec<(String, Option<i64>)>;

pub struct Tables {
    pub loads: Vec<(String, i64)>,
    pub branch: Limits,
    pub stack: Limits,
    pub arms: Limits,
}

impl Tables {
    pub fn read(text: &str) -> Result<Self, Box<dyn Error>> {
        let file: Json = serde_yaml::from_str(text)?;
        let column = |table: &str, column: usize| -> Result<Limits, Box<dyn Error>> {
            let rows = file["tables"][table]["rows"].as_array().ok_or("no rows")?.iter();
            rows.map(|row| {
                let value = match &row[column] {
                    Json::Number(load) => load.as_i64().map(|load| load * 1_000),
                    text => match text.as_str().ok_or("no value")? {
                        "unlimited" => None,
                        length => Some(length.parse::<Length>()?.nanometres()),
                    },
                };
                Ok((row[0].as_str().ok_or("no key")?.to_owned(), value))
            })
            .collect()
        };
        let loads = column("loads", 1)?;
        Ok(Self {
            loads: loads
                .into_iter()
                .filter_map(|(kind, load)| Some((kind, load?)))
                .collect(),
            branch: column("drains", 1)?,
            stack: column("drains", 2)?,
            arms: column("arms", 1)?,
        })
    }

    /// As pairs, whose order JSON keeps.
    pub fn json(&self) -> Json {
        json!({"loads": self.loads, "branch": self.branch, "stack": self.stack, "arms": self.arms})
    }
}
