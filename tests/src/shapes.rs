//! Networks of awkward shapes, in inches; [`metric`] gives them sizes by DN.

const HEAD: &str = "crownweir: network/1
name: shapes
site: {occupancy: private}
storeys: [{storey: low, elevation: 0 ft, height: 9 ft}, {storey: up, height: 9 ft}]
drains:
";

/// A fixture with a trap, by its type.
#[must_use]
pub fn fixture(name: &str, kind: &str) -> String {
    let details = match kind {
        "water_closet" => "flush_volume: 1.6 gal, rim_height: 15 in, trap: {size: 3 in, kind: integral}",
        "urinal" => "flush_volume: 1 gal, rim_height: 24 in, trap: {size: 2 in, kind: integral}",
        "lavatory" => "rim_height: 32 in, trap: {size: 1-1/4 in, kind: p, seal: 2 in}",
        _ => "rim_height: 36 in, trap: {size: 1-1/2 in, kind: p, seal: 2 in}",
    };
    format!("fixture: {{name: {name}, type: {kind}, {details}}}")
}

/// A drain of `size` on the upper storey: nodes and pipe lengths by turns, as `node` writes them.
#[must_use]
pub fn drain(size: &str, path: &[&str]) -> String {
    let steps: Vec<_> = path.iter().map(|step| format!("{{{step}}}")).collect();
    format!(
        "  - {{size: {size}, storey: up, slope: 1/4 in/ft, path: [{}]}}\n",
        steps.join(", ")
    )
}

/// A dry vent that rises straight to a terminal.
#[must_use]
pub fn vent(at: &str, name: &str) -> String {
    format!(
        "  - {{size: 2 in, slope: vertical, path: [{{at: {at}}}, {{pipe: {{length: 12 ft}}}}, {{terminal: {{name: {name}}}}}]}}\n"
    )
}

/// A network of these drains and vents.
#[must_use]
pub fn whole(drains: &[String], vents: &[String]) -> String {
    format!("{HEAD}{}vents:\n{}", drains.concat(), vents.concat())
}

/// Two bathroom groups back to back on one branch: a lavatory's vent for both, each fixture by its own drain.
#[must_use]
pub fn back_to_back(third: Option<&str>) -> String {
    let mut drains = vec![drain(
        "3 in",
        &[
            "fitting: {name: T}",
            "pipe: {slope: vertical, length: 1 ft}",
            "fitting: {name: Q}",
            "pipe: {length: 2 ft}",
            "fitting: {name: J1}",
            "pipe: {length: 1 ft}",
            "fitting: {name: J2}",
            "pipe: {length: 1 ft}",
            "fitting: {name: J3}",
            "pipe: {length: 9 ft}",
            "disposal: {name: sewer}",
        ],
    )];
    for (name, kind, size, length, joint) in [
        ("lav1", "lavatory", "1-1/2 in", "2 ft", "T"),
        ("lav2", "lavatory", "1-1/2 in", "2 ft", "T"),
        ("tub1", "bathtub", "2 in", "3 ft", "J1"),
        ("tub2", "bathtub", "2 in", "3 ft", "J1"),
        ("wc1", "water_closet", "3 in", "3 ft", "J2"),
        ("wc2", "water_closet", "3 in", "3 ft", "J2"),
    ] {
        drains.push(drain(
            size,
            &[
                &fixture(name, kind),
                &format!("pipe: {{length: {length}}}"),
                &format!("at: {joint}"),
            ],
        ));
    }
    drains.extend(third.map(|kind| {
        drain(
            "3 in",
            &[&fixture("more", kind), "pipe: {length: 3 ft}", "at: J3"],
        )
    }));
    whole(&drains, &[vent("T", "roof")])
}

/// A line of two fixtures whose drains join before the dry vent, and one after it.
#[must_use]
pub fn vent_below(second: &str) -> String {
    whole(
        &[
            drain(
                "3 in",
                &[
                    &fixture("first", "lavatory"),
                    "pipe: {length: 1 ft}",
                    "fitting: {name: J}",
                    "pipe: {length: 1 ft}",
                    "fitting: {name: T}",
                    "pipe: {length: 2 ft}",
                    "fitting: {name: K}",
                    "pipe: {length: 9 ft}",
                    "disposal: {name: sewer}",
                ],
            ),
            drain(
                "3 in",
                &[&fixture("second", second), "pipe: {length: 1 ft}", "at: J"],
            ),
            drain(
                "3 in",
                &[&fixture("third", "water_closet"), "pipe: {length: 2 ft}", "at: K"],
            ),
        ],
        &[vent("T", "roof")],
    )
}

/// A water closet whose drain a lavatory's, with its own vent, joins further down.
#[must_use]
pub fn closet_upstream(closets: &[&str]) -> String {
    let mut drains = vec![
        drain(
            "3 in",
            &[
                &fixture(closets[0], "water_closet"),
                "pipe: {length: 2 ft}",
                "fitting: {name: A}",
                "pipe: {length: 2 ft}",
                "fitting: {name: B}",
                "pipe: {length: 9 ft}",
                "disposal: {name: sewer}",
            ],
        ),
        drain(
            "2 in",
            &[
                &fixture("lav", "lavatory"),
                "pipe: {length: 2 ft}",
                "fitting: {name: T}",
                "pipe: {length: 2 ft}",
                "at: B",
            ],
        ),
    ];
    drains.extend(closets[1..].iter().map(|closet| {
        drain(
            "3 in",
            &[&fixture(closet, "water_closet"), "pipe: {length: 2 ft}", "at: A"],
        )
    }));
    whole(&drains, &[vent("T", "roof")])
}

/// Urinals on a branch with a circuit vent; `mid` is how the branch runs between the second and the third.
#[must_use]
pub fn battery(mid: &[&str]) -> String {
    let urinal = |name: &str, at: &str| {
        drain(
            "2 in",
            &[
                &fixture(name, "urinal"),
                "pipe: {length: 1 ft}",
                &format!("at: {at}"),
            ],
        )
    };
    let above = [
        "cleanout: {name: C}",
        "pipe: {length: 1 ft}",
        "fitting: {name: A}",
        "pipe: {length: 1 ft}",
        "fitting: {name: V}",
        "pipe: {length: 1 ft}",
        "fitting: {name: B}",
    ];
    let below = [
        "fitting: {name: D}",
        "pipe: {length: 2 ft}",
        "fitting: {name: E}",
        "pipe: {length: 9 ft}",
        "disposal: {name: sewer}",
    ];
    let path: Vec<&str> = above.iter().chain(mid).chain(&below).copied().collect();
    whole(
        &[
            drain("4 in", &path),
            urinal("a", "A"),
            urinal("b", "B"),
            urinal("d", "D"),
            urinal("e", "E"),
        ],
        &[vent("V", "roof")],
    )
}

/// An island sink whose loop drains back below, and whose vent from the foot runs level and rises to `top`; `late`
/// is what it meets on the way there.
#[must_use]
pub fn island(top: &str, late: &str) -> String {
    format!(
        "{}  - {{size: 2 in, storey: up, path: [{{at: V}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: U, height: 33 in}}}}, {{pipe: {{slope: level, length: 1 ft}}}}, {{fitting: {{name: W, height: 33 in}}}}, {{pipe: {{slope: vertical}}}}, {{at: F}}]}}
  - {{size: 2 in, storey: up, path: [{{at: F}}, {{pipe: {{slope: 1/4 in/ft, length: 4 ft}}}}, {{cleanout: {{name: X}}}}, {{pipe: {{slope: 1/4 in/ft, length: 4 ft}}}}, {{fitting: {{name: R}}}}, {{pipe: {{slope: vertical}}}}, {{fitting: {{name: G, height: {top}}}}}, {{pipe: {{slope: level, length: 2 ft}}}}, {{at: H}}]}}
  - {{size: 2 in, storey: up, slope: vertical, path: [{{at: S}}, {{pipe: {{size: 2 in}}}}, {late}{{fitting: {{name: H}}}}, {{pipe: {{length: 12 ft}}}}, {{terminal: {{name: roof}}}}]}}
",
        whole(
            &[
                drain(
                    "2 in",
                    &[
                        "fixture: {name: sink, type: kitchen_sink, rim_height: 36 in, weir_height: 16 in, trap: {size: 1-1/2 in, kind: p, seal: 2 in, outlet_drop: 8 in}}",
                        "pipe: {length: 2 ft}", "fitting: {name: V}", "pipe: {slope: vertical, length: 2 ft}",
                        "fitting: {name: J}", "pipe: {slope: vertical, length: 3 ft}", "fitting: {name: S}",
                        "pipe: {length: 9 ft}", "disposal: {name: sewer}",
                    ],
                ),
                "  - {size: 2 in, storey: up, slope: vertical, path: [{fitting: {name: F}}, {pipe: {length: 1 ft}}, {at: J}]}\n".to_owned(),
            ],
            &[],
        )
    )
}

/// A lavatory with a vent, below which a water closet and a bathtub join; the bathtub `at` a joint of its own, `K`, or
/// through the water closet's arm, `X`.
#[must_use]
pub fn anothers_arm(at: &str) -> String {
    whole(
        &[
            drain(
                "3 in",
                &[
                    &fixture("lav", "lavatory"),
                    "pipe: {length: 2 ft}",
                    "fitting: {name: T}",
                    "pipe: {length: 2 ft}",
                    "fitting: {name: J}",
                    "pipe: {length: 2 ft}",
                    "fitting: {name: K}",
                    "pipe: {length: 9 ft}",
                    "disposal: {name: sewer}",
                ],
            ),
            drain(
                "3 in",
                &[
                    &fixture("wc", "water_closet"),
                    "pipe: {length: 2 ft}",
                    "fitting: {name: X}",
                    "pipe: {length: 1 ft}",
                    "at: J",
                ],
            ),
            drain(
                "2 in",
                &[
                    &fixture("tub", "bathtub"),
                    "pipe: {length: 2 ft}",
                    &format!("at: {at}"),
                ],
            ),
        ],
        &[vent("T", "roof")],
    )
}

/// The same with the sizes of EN 12056-2, in a dwelling of system I.
#[must_use]
pub fn metric(text: &str) -> String {
    let sizes = [
        ("1-1/4 in", "DN 30"),
        ("1-1/2 in", "DN 40"),
        ("2 in", "DN 50"),
        ("3 in", "DN 100"),
        ("4 in", "DN 100"),
    ];
    let sized = sizes
        .into_iter()
        .fold(text.to_owned(), |text, (inches, by_bore)| {
            text.replace(&format!("size: {inches}"), &format!("size: {by_bore}"))
        });
    sized.replace(
        "site: {occupancy: private}",
        "units: millimetres\nsite: {occupancy: private, use: dwelling, system_type: I}",
    )
}
