//! Schedules as CSV (RFC 4180), for spreadsheets: findings, fixtures with their loads, pipes with their sizes.
//!
//! They hold what was stated and measured, in the network's notation; nothing in them is a judgement but the findings.
//! A column of which the rule set does not speak is left out: loads and the protection of traps, by a code of framing.

use crownweir_evaluate::{Arranged, Measured, Report, Verdict};
use crownweir_network::{Network, Node, NodeId, NodeKind};
use crownweir_rulebook::{Fact, RuleSet, Subject};
use crownweir_vocabulary::Role;

use crate::plain::plain;

/// A row of the fixture-unit schedule.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct FixtureRow {
    /// Its number among the nodes.
    pub node: u32,
    /// The name in the file.
    pub name: String,
    /// What it is.
    pub fixture: String,
    /// The storey it is on.
    pub storey: String,
    /// The bathroom group that the file counts it in.
    pub group: String,
    /// Size of its trap.
    pub trap: String,
    /// Its load, or between which ends it lies; empty where neither is known.
    pub load: String,
    /// Developed length of its trap arm.
    pub arm: String,
    /// What protects its trap; empty where nothing does or it cannot be told.
    pub protected_by: String,
}

/// A row of the sizing schedule.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct PipeRow {
    /// Its number among the pipes.
    pub pipe: u32,
    /// The name in the file.
    pub name: String,
    /// The run it belongs to.
    pub run: String,
    /// What the run is to the building.
    pub kind: String,
    /// Drain or vent.
    pub role: String,
    /// The storey of its upper end.
    pub storey: String,
    /// Nominal size.
    pub size: String,
    /// What it is made of.
    pub material: String,
    /// Developed length.
    pub length: String,
    /// Fall of a drain, rise of a vent, for its length.
    pub slope: String,
    /// Fixtures upstream of a drain.
    pub fixtures: String,
    /// Load of a drain, or the load that a vent serves.
    pub load: String,
    /// Of a vent, its developed length by the rule set's definition.
    pub developed: String,
}

impl FixtureRow {
    /// What heads the columns; none for what the rule set does not speak of.
    fn head(rules: &RuleSet) -> [Option<&'static str>; 8] {
        [
            Some("fixture"),
            Some("type"),
            Some("storey"),
            Some("bathroom group"),
            Some("trap size"),
            rules.counts_loads().then_some("load"),
            Some("trap arm"),
            rules.protection.is_some().then_some("trap protected by"),
        ]
    }

    fn cells(&self) -> [&str; 8] {
        [
            &self.name,
            &self.fixture,
            &self.storey,
            &self.group,
            &self.trap,
            &self.load,
            &self.arm,
            &self.protected_by,
        ]
    }
}

impl PipeRow {
    /// What heads the columns; none for what the rule set does not speak of.
    fn head(rules: &RuleSet) -> [Option<&'static str>; 12] {
        [
            Some("pipe"),
            Some("run"),
            Some("kind"),
            Some("role"),
            Some("storey"),
            Some("size"),
            Some("material"),
            Some("length"),
            Some("slope"),
            Some("fixtures"),
            rules.counts_loads().then_some("load"),
            Some("developed length"),
        ]
    }

    fn cells(&self) -> [&str; 12] {
        [
            &self.name,
            &self.run,
            &self.kind,
            &self.role,
            &self.storey,
            &self.size,
            &self.material,
            &self.length,
            &self.slope,
            &self.fixtures,
            &self.load,
            &self.developed,
        ]
    }
}

fn storey(network: &Network, node: Option<&Node>) -> String {
    let storey = node.and_then(|node| node.storey);
    let storey = storey.and_then(|storey| network.storeys().get(storey as usize));
    storey.map_or_else(String::new, |storey| storey.name.to_string())
}

/// The fixtures by name, with what loads the drains.
#[must_use]
pub fn fixtures(measured: &Measured<'_>) -> Vec<FixtureRow> {
    let network = measured.network();
    let mut rows: Vec<FixtureRow> = measured
        .elements(Subject::Fixture)
        .into_iter()
        .filter_map(|number| {
            let node = network.graph().node_weight(NodeId::new(number as usize))?;
            let NodeKind::Fixture(fixture) = &node.kind else {
                return None;
            };
            let words = |subject, fact| measured.fact_in_words(subject, number, fact).unwrap_or_default();
            let protected_by = match fixture.has_trap() {
                true => match measured.arranged(number) {
                    Arranged::By(_, arrangement) => arrangement.title.clone(),
                    _ => String::new(),
                },
                false => String::new(),
            };
            Some(FixtureRow {
                node: number,
                name: node.name.to_string(),
                fixture: fixture.fixture_type.to_string(),
                storey: storey(network, Some(node)),
                group: fixture.group.as_deref().unwrap_or_default().to_owned(),
                trap: fixture
                    .trap
                    .size
                    .map_or_else(String::new, |size| size.to_string()),
                load: words(Subject::Fixture, Fact::FixtureLoad),
                arm: words(Subject::TrapArm, Fact::TrapArmLength),
                protected_by,
            })
        })
        .collect();
    rows.sort_by(|one, other| natural(&one.name, &other.name));
    rows
}

/// The pipes in the order in which water and air flow through them, with what decides their sizes.
#[must_use]
pub fn pipes(measured: &Measured<'_>) -> Vec<PipeRow> {
    let network = measured.network();
    let graph = network.graph();
    let notation = network.notation();
    let rows = network.flow_order().pipes.into_iter().filter_map(|id| {
        let pipe = graph.edge_weight(id)?;
        let (from, _) = graph.edge_endpoints(id)?;
        let number = u32::try_from(id.index()).ok()?;
        let run = network.run(pipe.run);
        let words = |subject, fact| measured.fact_in_words(subject, number, fact).unwrap_or_default();
        let mut row = PipeRow {
            pipe: number,
            name: pipe.name.to_string(),
            run: run.map_or_else(String::new, |run| run.name.to_string()),
            kind: measured
                .kind_of(id)
                .map_or_else(String::new, |kind| kind.to_string()),
            role: pipe.role.to_string(),
            storey: storey(network, graph.node_weight(from)),
            size: pipe.size.map_or_else(String::new, |size| size.to_string()),
            material: pipe
                .material
                .map_or_else(String::new, |material| material.to_string()),
            length: pipe
                .length
                .map_or_else(String::new, |length| length.in_notation(notation).to_string()),
            slope: pipe
                .slope
                .map_or_else(String::new, |slope| slope.in_notation(notation).to_string()),
            ..PipeRow::default()
        };
        match pipe.role {
            Role::Vent => {
                row.load = words(Subject::Vent, Fact::VentServedLoad);
                row.developed = words(Subject::Vent, Fact::VentDevelopedLength);
            }
            _ => {
                row.fixtures = words(Subject::Drain, Fact::DrainFixtures);
                row.load = words(Subject::Drain, Fact::DrainLoad);
            }
        }
        Some(row)
    });
    rows.collect()
}

/// Orders names as people count: `WC-2` before `WC-10`.
pub(crate) fn natural(one: &str, other: &str) -> std::cmp::Ordering {
    let parts = |text: &str| -> Vec<(String, u64)> {
        let mut parts = Vec::new();
        let mut rest = text;
        while !rest.is_empty() {
            let words = rest
                .find(|letter: char| letter.is_ascii_digit())
                .unwrap_or(rest.len());
            let (word, after) = rest.split_at(words);
            let digits = after
                .find(|letter: char| !letter.is_ascii_digit())
                .unwrap_or(after.len());
            let (number, after) = after.split_at(digits);
            parts.push((word.to_owned(), number.parse().unwrap_or(0)));
            rest = after;
        }
        parts
    };
    parts(one).cmp(&parts(other)).then_with(|| one.cmp(other))
}

/// The fixture-unit schedule as CSV.
#[must_use]
pub fn fixtures_csv(measured: &Measured<'_>) -> String {
    let rows = fixtures(measured);
    table(
        &FixtureRow::head(measured.rules()),
        rows.iter().map(FixtureRow::cells),
    )
}

/// The sizing schedule as CSV.
#[must_use]
pub fn pipes_csv(measured: &Measured<'_>) -> String {
    let rows = pipes(measured);
    table(&PipeRow::head(measured.rules()), rows.iter().map(PipeRow::cells))
}

/// The findings as CSV, numbered as in the other formats for people.
#[must_use]
pub fn findings_csv(report: &Report) -> String {
    let head = [
        "number", "verdict", "severity", "rule", "element", "name", "storey", "line", "column", "message",
        "measured", "limit", "headroom", "needed", "to do", "citation", "basis", "changes",
    ];
    let text = |figure: &Option<crownweir_evaluate::Figure>| {
        figure
            .as_ref()
            .map_or_else(String::new, |figure| figure.text.clone())
    };
    let rows = report.findings.iter().zip(1..).map(|(finding, number)| {
        [
            number.to_string(),
            match finding.verdict {
                Verdict::Violated => "violated".to_owned(),
                Verdict::Undetermined => "undetermined".to_owned(),
            },
            finding.severity.name().to_owned(),
            finding.rule.clone(),
            finding.kind.clone(),
            finding.name.clone(),
            finding.storey.clone().unwrap_or_default(),
            finding.position.line.to_string(),
            finding.position.column.to_string(),
            finding.message.clone(),
            text(&finding.measured),
            text(&finding.limit),
            text(&finding.headroom),
            finding.needed().join("; "),
            finding.advice.clone().unwrap_or_default(),
            finding.citation.to_string(),
            finding.citation.basis.name().to_owned(),
            finding.changes.join("; "),
        ]
    });
    table(&head.map(Some), rows)
}

fn table<const COLUMNS: usize, Cell: AsRef<str>>(
    head: &[Option<&str>; COLUMNS],
    rows: impl Iterator<Item = [Cell; COLUMNS]>,
) -> String {
    let mut out = String::new();
    line(&mut out, head.iter().copied().flatten());
    for row in rows {
        let columns = row.iter().zip(head);
        line(&mut out, columns.filter_map(|(cell, head)| head.map(|_| cell)));
    }
    out
}

fn line(out: &mut String, cells: impl Iterator<Item = impl AsRef<str>>) {
    for (number, cell) in cells.enumerate() {
        if number > 0 {
            out.push(',');
        }
        let cell = plain(cell.as_ref());
        // A spreadsheet would take what begins so for a formula; figures below zero are ours.
        let formula = cell.starts_with(['=', '+', '@'])
            || cell
                .strip_prefix('-')
                .is_some_and(|rest| !rest.starts_with(|first: char| first.is_ascii_digit()));
        let cell = if formula { format!("'{cell}") } else { cell };
        if cell.contains(['"', ',']) || formula {
            out.push('"');
            out.push_str(&cell.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(&cell);
        }
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::{line, natural};

    #[test]
    fn names_come_in_the_order_people_count() {
        let mut names = ["WC-10", "WC-2", "LAV-1", "WC-2a", "WC-02"];
        names.sort_by(|one, other| natural(one, other));
        assert_eq!(names, ["LAV-1", "WC-02", "WC-2", "WC-2a", "WC-10"]);
    }

    #[test]
    fn cells_are_quoted_as_rfc_4180_asks() {
        let mut out = String::new();
        line(&mut out, ["a", "b,c", "d\"e", "=f", "-2 in", "-g"].iter());
        assert_eq!(out, "a,\"b,c\",\"d\"\"e\",\"'=f\",-2 in,\"'-g\"\r\n");
    }
}
