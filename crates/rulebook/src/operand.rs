//! Operands: values, and how to come by them.

use crownweir_document::{Cursor, Diagnostics, nearest};
use crownweir_quantity::{Flow, Load};
use serde_yaml::{Mapping, Value as Yaml};

use crate::expression::{Scope, entries, only};
use crate::literal::literal;
use crate::model::{Lookup, Operand};
use crate::table::{Column, Table};
use crate::value::{Dimension, Value};

/// The ways to come by a value, as keys of an operand.
const FORMS: [&str; 9] = [
    "fact",
    "table",
    "times",
    "sum",
    "larger_of",
    "smaller_of",
    "diameter",
    "size_for",
    "sizes_up",
];

impl Scope<'_> {
    /// An operand of the dimension that its place asks for.
    pub(crate) fn operand(
        &self,
        yaml: &Yaml,
        at: Cursor<'_>,
        wanted: Dimension,
        problems: &mut Diagnostics,
    ) -> Option<Operand> {
        let map = match yaml {
            Yaml::Mapping(map) => map,
            Yaml::String(text) if looks_like_a_fact(text) => {
                return self.fact_operand(text, at, wanted, problems);
            }
            _ => return literal(yaml, at, wanted, None, self.ladder, problems).map(Operand::Literal),
        };
        let Some(form) = FORMS.into_iter().find(|form| map.contains_key(*form)) else {
            if map.contains_key("per") {
                return self.flow_as_load(map, at, wanted, problems);
            }
            let wrong = entries(map).next().map_or("", |(key, _)| key);
            problems.push(
                at.problem("this does not say how to come by a value")
                    .expecting(format!(
                        "one of {}, or `flow` with `per` and `load`",
                        FORMS.join(", ")
                    ))
                    .suggesting(nearest(wrong, FORMS)),
            );
            return None;
        };
        let allowed: &[&str] = match form {
            "table" => &["table", "column", "keys", "smallest", "holds"],
            "times" | "sizes_up" => &[form, "of"],
            _ => &[form],
        };
        if !only(allowed, map, at, problems) {
            return None;
        }
        let below = at.get(form);
        let inner = map.get(form).unwrap_or(&Yaml::Null);
        let of = |wanted: Dimension, problems: &mut Diagnostics| {
            let of = map.get("of").unwrap_or(&Yaml::Null);
            self.operand(of, at.get("of"), wanted, problems).map(Box::new)
        };
        let gives = |dimension: Dimension, problems: &mut Diagnostics| {
            let fits = dimension == wanted;
            if !fits {
                problems.push(unlike(below, &format!("`{form}`"), dimension, wanted));
            }
            fits.then_some(())
        };
        match form {
            "fact" => match inner {
                Yaml::String(text) => self.fact_operand(text, below, wanted, problems),
                _ => {
                    problems.push(below.problem("a fact's name belongs here"));
                    None
                }
            },
            "table" => self.table_operand(map, at, wanted, problems),
            "times" => {
                if !has_multiples(wanted) {
                    problems.push(below.problem(format!("{} cannot be multiplied", wanted.with_article())));
                    return None;
                }
                let (numerator, denominator) = self.ratio(inner, below, problems)?;
                Some(Operand::Times {
                    numerator,
                    denominator,
                    of: of(wanted, problems)?,
                })
            }
            "sum" => self.operands(inner, below, wanted, problems).map(Operand::Sum),
            "larger_of" => self
                .operands(inner, below, wanted, problems)
                .map(Operand::LargerOf),
            "smaller_of" => self
                .operands(inner, below, wanted, problems)
                .map(Operand::SmallerOf),
            "diameter" => {
                gives(Dimension::Length, problems)?;
                let size = self.operand(inner, below, Dimension::Size, problems)?;
                Some(Operand::Diameter(Box::new(size)))
            }
            "size_for" => {
                gives(Dimension::Size, problems)?;
                let diameter = self.operand(inner, below, Dimension::Length, problems)?;
                Some(Operand::SizeFor(Box::new(diameter)))
            }
            _ => {
                gives(Dimension::Size, problems)?;
                let steps = inner.as_u64().and_then(|steps| u16::try_from(steps).ok());
                if steps.is_none() {
                    problems.push(below.problem("a number of steps up the ladder of sizes belongs here"));
                }
                Some(Operand::SizesUp(steps?, of(Dimension::Size, problems)?))
            }
        }
    }

    /// A list of operands; every one that is wrong is told.
    fn operands(
        &self,
        yaml: &Yaml,
        at: Cursor<'_>,
        wanted: Dimension,
        problems: &mut Diagnostics,
    ) -> Option<Vec<Operand>> {
        let Yaml::Sequence(items) = yaml else {
            problems.push(at.problem("a list belongs here").expecting("`[first, second]`"));
            return None;
        };
        let items = items.iter().enumerate();
        let read: Vec<_> = items
            .map(|(index, item)| self.operand(item, at.item(index), wanted, problems))
            .collect();
        read.into_iter().collect()
    }

    fn fact_operand(
        &self,
        name: &str,
        at: Cursor<'_>,
        wanted: Dimension,
        problems: &mut Diagnostics,
    ) -> Option<Operand> {
        let fact = self.fact(name, at, problems)?;
        if fact.dimension() != wanted {
            problems.push(unlike(at, &format!("`{name}`"), fact.dimension(), wanted));
            return None;
        }
        Some(Operand::Fact(fact))
    }

    fn table_operand(
        &self,
        map: &Mapping,
        at: Cursor<'_>,
        wanted: Dimension,
        problems: &mut Diagnostics,
    ) -> Option<Operand> {
        if !is_look_up(map, at, problems) {
            return None;
        }
        let (table, own) = self.table_named(map, at, problems)?;
        let (column, of_column) = column_named(own, map, at, problems)?;
        let sought = map.get("smallest").and_then(Yaml::as_str);
        let (keys, size_key) = self.keys_of(own, map, sought, at, problems)?;
        let lookup = Lookup { table, column, keys };
        let Some(sought) = sought else {
            if of_column.dimension != wanted {
                let what = format!("the column `{}` of the table `{}`", of_column.name, own.name);
                problems.push(unlike(at, &what, of_column.dimension, wanted));
                return None;
            }
            return Some(Operand::Lookup(lookup));
        };
        let Some(size_key) = size_key else {
            problems.push(at.get("smallest").problem(format!(
                "`{sought}` is not a key of the table `{}` that is a size",
                own.name
            )));
            return None;
        };
        if wanted != Dimension::Size {
            let what = "the smallest size";
            problems.push(unlike(at.get("smallest"), what, Dimension::Size, wanted));
            return None;
        }
        let holds = map.get("holds").unwrap_or(&Yaml::Null);
        let holds = self.operand(holds, at.get("holds"), of_column.dimension, problems)?;
        Some(Operand::SmallestSize {
            lookup,
            size_key,
            holds: Box::new(holds),
        })
    }

    /// The table that is looked up, and its number.
    fn table_named(
        &self,
        map: &Mapping,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<(usize, &Table)> {
        let name = map.get("table").and_then(Yaml::as_str).unwrap_or_default();
        let mut tables = self.tables.iter().enumerate();
        let found = tables.find(|(_, table)| table.name == name);
        if found.is_none() {
            problems.push_with(|| {
                let known = self.tables.iter().map(|table| table.name.as_str());
                at.get("table")
                    .problem(format!("there is no table `{name}`"))
                    .suggesting(nearest(name, known))
            });
        }
        found
    }

    /// What a table is looked up by, in the order of its keys, and which key is the size that is sought.
    fn keys_of(
        &self,
        table: &Table,
        map: &Mapping,
        sought: Option<&str>,
        at: Cursor<'_>,
        problems: &mut Diagnostics,
    ) -> Option<(Vec<Operand>, Option<usize>)> {
        let name = &table.name;
        let empty = Mapping::new();
        let given = map.get("keys").and_then(Yaml::as_mapping).unwrap_or(&empty);
        let at = at.get("keys");
        for (key, _) in entries(given) {
            if !table.keys.iter().any(|known| known.name == key) {
                let known: Vec<_> = table.keys.iter().map(|key| key.name.as_str()).collect();
                problems.push(
                    at.key(key)
                        .problem(format!("the table `{name}` is not looked up by `{key}`"))
                        .expecting(format!("one of {}", known.join(", ")))
                        .suggesting(nearest(key, known)),
                );
            }
        }
        let mut size_key = None;
        let mut keys = Vec::with_capacity(table.keys.len());
        for (index, key) in table.keys.iter().enumerate() {
            if sought == Some(&key.name) && key.dimension == Dimension::Size {
                size_key = Some(index);
                keys.push(Operand::Literal(Value::Size(crate::value::Size(0))));
                continue;
            }
            let Some(value) = given.get(key.name.as_str()) else {
                problems.push(
                    at.problem(format!("the table `{name}` is looked up by `{}` too", key.name))
                        .expecting(format!("`{}` with {}", key.name, key.dimension.example())),
                );
                return None;
            };
            keys.push(self.operand(value, at.get(&key.name), key.dimension, problems)?);
        }
        Some((keys, size_key))
    }

    fn flow_as_load(
        &self,
        map: &Mapping,
        at: Cursor<'_>,
        wanted: Dimension,
        problems: &mut Diagnostics,
    ) -> Option<Operand> {
        if wanted != Dimension::Load {
            problems.push(unlike(at, "a flow counted as a load", Dimension::Load, wanted));
            return None;
        }
        if !only(&["flow", "per", "load"], map, at, problems) {
            return None;
        }
        let part = |key: &str| (map.get(key).unwrap_or(&Yaml::Null), at.get(key));
        let (flow, flow_at) = part("flow");
        let flow = self.operand(flow, flow_at, Dimension::Flow, problems);
        let (per, per_at) = part("per");
        let per = literal(per, per_at, Dimension::Flow, None, self.ladder, problems);
        let (load, load_at) = part("load");
        let load = literal(load, load_at, Dimension::Load, None, self.ladder, problems);
        let (Some(flow), Some(Value::Flow(per)), Some(Value::Load(load))) = (flow, per, load) else {
            return None;
        };
        if per == Flow::default() || load == Load::default() {
            problems.push(
                per_at
                    .problem("a rate of nothing")
                    .expecting("a flow and a load above zero"),
            );
            return None;
        }
        Some(Operand::FlowAsLoad {
            flow: Box::new(flow),
            per,
            load,
        })
    }

    /// A multiple: `10`, `1/2`, `0.8`.
    fn ratio(&self, yaml: &Yaml, at: Cursor<'_>, problems: &mut Diagnostics) -> Option<(i64, i64)> {
        let text = match yaml {
            Yaml::Number(number) => number.to_string(),
            Yaml::String(text) => text.clone(),
            _ => String::new(),
        };
        let read = match text.split_once('/') {
            Some((numerator, denominator)) => {
                numerator.trim().parse().ok().zip(denominator.trim().parse().ok())
            }
            None => match text.split_once('.') {
                Some((whole, part)) if part.len() <= 9 => {
                    let denominator = 10_i64.checked_pow(u32::try_from(part.len()).unwrap_or(0));
                    format!("{whole}{part}").parse().ok().zip(denominator)
                }
                _ => text.parse().ok().map(|whole| (whole, 1)),
            },
        };
        let ratio = read.filter(|(numerator, denominator)| *numerator >= 0 && *denominator > 0);
        if ratio.is_none() {
            problems.push(
                at.problem(format!("`{text}` is not a multiple"))
                    .expecting("a number or a fraction such as `10` or `1/2`"),
            );
        }
        ratio
    }
}

/// Whether what a look-up says of its parts has the form that each must have.
fn is_look_up(map: &Mapping, at: Cursor<'_>, problems: &mut Diagnostics) -> bool {
    let stated = |key: &str| map.get(key).filter(|value| !value.is_null());
    let parts = [
        (
            "column",
            stated("column").is_none_or(Yaml::is_string),
            "a column's name",
        ),
        (
            "smallest",
            stated("smallest").is_none_or(Yaml::is_string),
            "a key's name",
        ),
        (
            "keys",
            stated("keys").is_none_or(Yaml::is_mapping),
            "keys with values, such as `{size: pipe.size}`",
        ),
        (
            "holds",
            stated("holds").is_none() || stated("smallest").is_some(),
            "`smallest` beside it",
        ),
    ];
    let wrong = parts.into_iter().find(|(_, fits, _)| !fits);
    if let Some((key, _, expected)) = wrong {
        let what = format!("`{key}` cannot stand here as it does");
        problems.push(at.get(key).problem(what).expecting(expected));
    }
    wrong.is_none()
}

/// The column that is looked up in, and its number; the only one need not be named.
fn column_named<'t>(
    table: &'t Table,
    map: &Mapping,
    at: Cursor<'_>,
    problems: &mut Diagnostics,
) -> Option<(usize, &'t Column)> {
    let given = map.get("column").and_then(Yaml::as_str);
    let mut columns = table.columns.iter().enumerate();
    let found = match given {
        Some(name) => columns.find(|(_, column)| column.name == name),
        None => columns.next().filter(|_| table.columns.len() == 1),
    };
    if found.is_none() {
        let known: Vec<_> = table.columns.iter().map(|column| column.name.as_str()).collect();
        let given = given.unwrap_or_default();
        problems.push(
            at.get("column")
                .problem(format!("the table `{}` has no column `{given}`", table.name))
                .expecting(format!("one of {}", known.join(", ")))
                .suggesting(nearest(given, known)),
        );
    }
    found
}

/// Whether a value of the dimension can be multiplied by a number.
fn has_multiples(dimension: Dimension) -> bool {
    matches!(
        dimension,
        Dimension::Length | Dimension::Load | Dimension::Flow | Dimension::Count
    )
}

fn unlike(at: Cursor<'_>, what: &str, is: Dimension, wanted: Dimension) -> crownweir_document::Diagnostic {
    let kind = |dimension: Dimension| match dimension {
        Dimension::Word(words) => format!("a word among {}", words.join(", ")),
        other => other.with_article(),
    };
    at.problem(format!("{what} is {}, where {} belongs", kind(is), kind(wanted)))
        .expecting(wanted.example())
}

/// `trap.size`, not `1.5 in`, `0.5` or a word.
pub(crate) fn looks_like_a_fact(text: &str) -> bool {
    text.starts_with(|first: char| first.is_ascii_lowercase()) && text.contains('.') && !text.contains(' ')
}
