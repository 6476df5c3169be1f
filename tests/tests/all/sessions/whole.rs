//! Edits of what holds for the whole: the site, and the storeys.

use super::{EXAMPLES, NETWORKS, RULES, is_as_checked_afresh};
use crownweir::quantity::{Length, Notation};
use crownweir::vocabulary::{BuildingUse, SystemType};
use crownweir::{Edit, Node, NodeProperty, Session, SiteProperty, Storey};
use crownweir_tests::written::{again, content};
use crownweir_tests::{network, network_text, rules};

fn in_inches(length: Length) -> String {
    length.in_notation(Notation::Inches).to_string()
}

fn length(text: &str) -> Length {
    text.parse().expect("a length")
}

#[test]
fn what_holds_for_the_site_is_followed_and_undone() {
    let properties = [
        SiteProperty::WinterDesignTemperature("40 F".parse().ok()),
        SiteProperty::WinterDesignTemperature(None),
        SiteProperty::DwellingUnits(Some(1)),
        SiteProperty::BuildingUse(Some(BuildingUse::Dwelling)),
        SiteProperty::BuildingUse(None),
        SiteProperty::SystemType(Some(SystemType::Two)),
        SiteProperty::SystemType(None),
    ];
    let mut differed = [false; 7];
    for (index, network) in NETWORKS.iter().chain(EXAMPLES.iter()).enumerate() {
        // Of all networks by a rule set each, of the demos by all.
        let all = if index < NETWORKS.len() { RULES.len() } else { 1 };
        for at in 0..all {
            let rules = &RULES[(index + at) % RULES.len()];
            let Ok(mut session) = Session::new(network.clone(), rules.clone()) else {
                continue;
            };
            let before = session.report();
            for (property, differed) in properties.iter().zip(&mut differed) {
                let edit = [Edit::Site(*property)];
                let difference = session.edit(&edit).unwrap_or_else(|error| panic!("{error}"));
                *differed |= !difference.added.is_empty() || !difference.removed.is_empty();
                is_as_checked_afresh(&mut session);
            }
            for _ in &properties {
                assert!(session.undo().expect("sizes that are known").is_some());
            }
            assert_eq!(session.report(), before);
            assert_eq!(content(session.network(), false), content(network, false));
        }
    }
    assert_eq!(differed, [true, true, true, true, true, true, true]);
}

/// A storey of another height is as if the file had stated that height.
#[test]
fn a_storey_of_another_height_takes_along_what_is_above() {
    let tower = crownweir_benches::tower(4);
    let boathouse = |code: &str| network_text(&format!("heron-point{code}.yaml"));
    let ground = (
        "{storey: ground, height: 10 ft}",
        "{storey: ground, height: 11 ft}",
        0,
    );
    for (text, (stated, other, storey), height) in [
        (boathouse("-upc"), ground, "11 ft"),
        (boathouse("-npc"), ground, "11 ft"),
        (boathouse("-upc-faulty"), ground, "11 ft"),
        (
            boathouse("-upc"),
            (
                "{storey: upper, height: 9 ft}",
                "{storey: upper, height: 8 ft}",
                1,
            ),
            "8 ft",
        ),
        (
            tower.clone(),
            (
                "{storey: cellar, height: 10 ft}",
                "{storey: cellar, height: 3 m}",
                0,
            ),
            "3 m",
        ),
    ] {
        assert_eq!(text.matches(stated).count(), 1, "{text}");
        let (before, after) = (network(&text), network(&text.replace(stated, other)));
        let rules = rules("ipc-2021");
        let mut session = Session::new(before.clone(), rules).unwrap_or_else(|error| panic!("{error}"));
        let report = session.report();
        let edit = Edit::StoreyHeight {
            storey,
            height: length(height),
        };
        session.edit(&[edit]).unwrap_or_else(|error| panic!("{error}"));
        is_as_checked_afresh(&mut session);
        assert_eq!(content(session.network(), false), content(&after, false));
        again(session.network(), true).unwrap_or_else(|error| panic!("{error}"));
        assert!(session.undo().expect("sizes that are known").is_some());
        assert_eq!(session.report(), report);
        assert_eq!(content(session.network(), false), content(&before, false));
    }
}

const FILE: &str = "
crownweir: network/1
name: shed
storeys:
  - {storey: cellar, height: 8 ft}
  - {storey: ground}
  - {storey: loft, elevation: 20 ft}
drains:
  - slope: vertical
    size: 2 in
    path:
      - fixture: {name: L1, type: lavatory, storey: loft, weir_height: 1 ft, trap: {size: 1-1/4 in}}
      - pipe: {name: arm, slope: 1/4 in/ft, length: 4 ft}
      - fitting: {name: T1, pattern: sanitary_tee, storey: loft}
      - pipe: {name: stack}
      - disposal: {name: sewer, storey: cellar, height: 1 ft}
vents:
  - {size: 2 in, slope: vertical, path: [{at: T1}, {pipe: {length: 12 ft}}, {terminal: {name: roof}}]}
";

#[test]
fn floors_lie_on_what_is_below_them() {
    let floors = |network: &crownweir::Network| -> Vec<_> {
        let storeys = network.storeys().iter();
        storeys
            .map(|storey| {
                let [floor, height] = [storey.elevation, storey.height];
                let shown = |own: Option<Length>| own.map_or("?".to_owned(), in_inches);
                format!("{} {} {}", storey.name, shown(floor), shown(height))
            })
            .collect()
    };
    let mut own = network(FILE);
    let stack = |network: &crownweir::Network| {
        let pipe = network.pipe_named("stack").expect("the stack");
        network.graph()[pipe].length.map(in_inches)
    };
    assert_eq!(
        floors(&own),
        ["cellar 0 in 8 ft", "ground 8 ft 12 ft", "loft 20 ft ?"]
    );
    assert_eq!(stack(&own).as_deref(), Some("19 ft 11 in"));
    let high = |storey, height| Edit::StoreyHeight {
        storey,
        height: length(height),
    };
    own.edit(&[high(0, "9 ft")]).expect("it rises");
    assert_eq!(
        floors(&own),
        ["cellar 0 in 9 ft", "ground 9 ft 12 ft", "loft 21 ft ?"]
    );
    assert_eq!(stack(&own).as_deref(), Some("20 ft 11 in"));
    // What an edit has put on a floor goes with it; and a storey that comes lies on the others.
    own.edit(&[
        high(1, "10 ft"),
        high(2, "7 ft"),
        Edit::AddStorey(Storey::new("attic", None)),
    ])
    .expect("they are stacked");
    assert_eq!(
        floors(&own),
        [
            "cellar 0 in 9 ft",
            "ground 9 ft 10 ft",
            "loft 19 ft 7 ft",
            "attic 26 ft ?"
        ]
    );
    assert_eq!(stack(&own).as_deref(), Some("18 ft 11 in"));
    let on_attic = Edit::Node {
        node: "roof".to_owned(),
        set: NodeProperty::Storey(Some(4)),
    };
    let higher = Storey {
        elevation: Some(length("40 ft")),
        ..Storey::new("ridge", Some(length("1 ft")))
    };
    own.edit(&[Edit::AddStorey(higher), on_attic.clone()])
        .expect("it stands there");
    assert_eq!(floors(&own)[3..], ["attic 26 ft 14 ft", "ridge 40 ft 1 ft"]);
    for _ in 0..3 {
        assert!(own.undo().is_some());
    }
    assert_eq!(
        floors(&own),
        ["cellar 0 in 8 ft", "ground 8 ft 12 ft", "loft 20 ft ?"]
    );
    let told = |edits: &[Edit]| -> String {
        let mut own = own.clone();
        let error = own.edit(edits).expect_err("it is refused");
        assert_eq!(content(&own, false), content(&network(FILE), false));
        error.to_string()
    };
    let add = |name: &str| Edit::AddStorey(Storey::new(name, None));
    assert_eq!(
        told(&[add("loft")]),
        "edit 1, storey `loft`: two storeys are called `loft`; expected a name of its own for each storey"
    );
    assert_eq!(
        told(&[high(3, "1 ft")]),
        "edit 1, storey number 3: there is no storey number 3"
    );
    assert_eq!(
        told(&[Edit::StoreyHeight {
            storey: 1,
            height: Length::from_nanometres(-1)
        }]),
        "edit 1, storey number 1: the height of the storey `ground` is negative; expected a length that is not negative"
    );
    assert_eq!(
        told(&[Edit::StoreyHeight {
            storey: 0,
            height: Length::from_nanometres(i64::MAX)
        }]),
        "edit 1, storey number 0: a floor above would be higher than can be told"
    );
    let before = "; edit 2 adds it, and has to stand before";
    let third = |edit| [edit, add("attic")];
    let on = |storey| Edit::Node {
        node: "roof".to_owned(),
        set: NodeProperty::Storey(Some(storey)),
    };
    assert_eq!(
        told(&third(on(3))),
        format!("edit 1, node `roof`: there is no storey number 3{before}")
    );
    assert_eq!(
        told(&third(high(3, "1 ft"))),
        format!("edit 1, storey number 3: there is no storey number 3{before}")
    );
    let node = Node {
        storey: Some(3),
        ..Node::new("T2", crownweir::vocabulary::FittingPattern::Tee)
    };
    assert_eq!(
        told(&third(Edit::AddNode(node))),
        format!("edit 1, node `T2`: there is no storey number 3{before}")
    );
    // A floor that is moved onto what stands there is told of.
    let told = told(&[
        Edit::Site(SiteProperty::DwellingUnits(Some(2))),
        Edit::RemovePipe("stack".to_owned()),
    ]);
    assert!(told.contains("T1"), "{told}");
}
