//! Edits that are taken back: the network is what it was, and a session tells what it told.

use crownweir::network::Run;
use crownweir::vocabulary::{Role, RunKind};
use crownweir::{Edit, Limits, Network, Pipe, PipeProperty, Session, check};
use crownweir_tests::written::{content, told};
use crownweir_tests::{network, rules};
use proptest::prelude::*;
use proptest::sample::Index;

use super::{EXAMPLES, NETWORKS, RULES, STRUCTURE, Step, edits, is_as_checked_afresh, structure};

/// What is to be there again when edits are taken back: the text, what is in the network, the report.
struct Past {
    text: Option<String>,
    content: Vec<String>,
    report: crownweir::Report,
}

impl Past {
    fn of(session: &mut Session) -> Self {
        Self {
            text: session.network().to_yaml().ok(),
            content: content(session.network(), false),
            report: session.report(),
        }
    }
}

/// What a session tells is what a check of its network tells that was written and read again. Numbers and places in the file
/// differ; so does what hangs on the order of numbers, unless the network is as it was read.
fn is_as_written(session: &mut Session) {
    let Ok(text) = session.network().to_yaml() else {
        return;
    };
    let read = Network::read("written.yaml", text.as_bytes(), &Limits::default())
        .unwrap_or_else(|problems| panic!("{problems}\n{text}"));
    if content(session.network(), true) != content(&read, true) {
        return;
    }
    let fresh = check(&read, session.rules()).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(told(&session.report(), true), told(&fresh, true), "{text}");
}

/// Edits, each of which may be taken back with some of those before it; in the end all are.
fn go(network: &Network, own: usize, steps: &[(Step, u8)]) {
    let rules = &RULES[own % RULES.len()];
    let Ok(mut session) = Session::new(network.clone(), rules.clone()) else {
        return;
    };
    let mut pasts = Vec::new();
    for (count, (step, back)) in steps.iter().enumerate() {
        if session.network().graph().edge_count() > 0 {
            let past = Past::of(&mut session);
            if session.edit(&edits(session.network(), step, count)).is_ok() {
                pasts.push(past);
            }
        }
        for _ in 0..*back {
            take_back(&mut session, pasts.pop());
        }
    }
    while let Some(past) = pasts.pop() {
        take_back(&mut session, Some(past));
    }
    take_back(&mut session, None);
    is_as_written(&mut session);
}

fn take_back(session: &mut Session, past: Option<Past>) {
    let next = session.network().next_run();
    let before = session.report().findings.len();
    let difference = session.undo().unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(
        difference.is_some(),
        past.is_some(),
        "what was made is taken back"
    );
    let (Some(past), Some(difference)) = (past, difference) else {
        return;
    };
    assert_eq!(content(session.network(), false), past.content);
    assert_eq!(session.network().to_yaml().ok(), past.text);
    is_as_checked_afresh(session);
    assert_eq!(session.report(), past.report);
    assert_eq!(
        before + difference.added.len(),
        past.report.findings.len() + difference.removed.len()
    );
    assert!(session.network().next_run() >= next, "no number is given again");
}

fn steps() -> impl Strategy<Value = Vec<(Step, u8)>> {
    let kind = prop_oneof![2 => STRUCTURE..STRUCTURE + structure::KINDS, 1 => 0_u8..24];
    let step = (kind, any::<Index>(), any::<Index>(), any::<Index>());
    let back = prop_oneof![4 => Just(0_u8), 1 => Just(1), 1 => Just(3)];
    proptest::collection::vec((step, back), 1..16)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, max_shrink_iters: 400, ..ProptestConfig::default() })]

    #[test]
    fn what_is_taken_back_is_as_it_was(network in any::<Index>(), rules in 0_usize..5, steps in steps()) {
        go(&NETWORKS[network.index(NETWORKS.len())], rules, &steps);
    }

    #[test]
    fn what_is_taken_back_in_a_worked_example_is_as_it_was(
        network in any::<Index>(),
        rules in 0_usize..5,
        steps in steps(),
    ) {
        go(&EXAMPLES[network.index(EXAMPLES.len())], rules, &steps);
    }
}

const FILE: &str = "
crownweir: network/1
name: house
drains:
  - slope: 1/4 in/ft
    size: 2 in
    path: [{fixture: {name: L1, type: lavatory, trap: {size: 1-1/4 in}}}, {pipe: {name: arm, length: 3 ft}}, {fitting: {name: T1}}, {pipe: {name: drain, length: 4 ft}}, {disposal: {name: sewer}}]
vents:
  - {size: 1-1/2 in, slope: vertical, path: [{at: T1}, {pipe: {name: vent, length: 12 ft}}, {terminal: {name: roof}}]}
";

// The number of a run that is taken out, or whose coming is taken back, never comes to be another's.
#[test]
fn no_run_gets_the_number_of_another() {
    let mut session = Session::new(network(FILE), rules("ipc-2021")).expect("known sizes");
    let add = |name: &str| {
        Edit::AddRun(Run {
            name: name.into(),
            kind: RunKind::BranchVent,
        })
    };
    let first = session.network().next_run();
    session.edit(&[add("first")]).expect("it is made");
    session.edit(&[Edit::RemoveRun(first)]).expect("it is made");
    assert!(session.network().run(first).is_none());
    let second = session.network().next_run();
    session.edit(&[add("second")]).expect("it is made");
    assert_eq!(
        session.network().run(second).map(|run| &*run.name),
        Some("second")
    );
    session.undo().expect("known sizes").expect("the second run");
    let third = session.network().next_run();
    session.edit(&[add("third")]).expect("it is made");
    assert!(first < second && second < third);
    let refused = session.edit(&[Edit::RemoveRun(second)]).expect_err("it is gone");
    assert_eq!(
        refused.to_string(),
        "edit 1, run number 3: there is no run number 3"
    );
    let refused = session
        .edit(&[Edit::RemoveRun(third.next()), add("fourth")])
        .expect_err("it is to come");
    assert_eq!(
        refused.to_string(),
        "edit 1, run number 5: there is no run number 5; edit 2 adds it, and has to stand before"
    );
    let vent = Box::new(Pipe::new("second vent", Role::Vent, first));
    let (from, to) = ("T1".to_owned(), "roof".to_owned());
    let refused = session
        .edit(&[Edit::AddPipe { from, to, pipe: vent }])
        .expect_err("it is gone");
    assert_eq!(
        refused.to_string(),
        "edit 1, pipe `second vent`: there is no run number 2"
    );
}

// Only with a run's pipes and what nothing else joins is a network left.
#[test]
fn a_run_goes_with_its_pipes() {
    let mut session = Session::new(network(FILE), rules("ipc-2021")).expect("known sizes");
    let before = session.report();
    let (vents, _) = session.network().runs().nth(1).expect("the vent's run");
    let refused = session
        .edit(&[Edit::RemoveRun(vents)])
        .expect_err("the terminal is left over");
    assert!(refused.to_string().contains("roof"), "{refused}");
    assert_eq!(session.report(), before);
    let gone = [Edit::RemoveRun(vents), Edit::RemoveNode("roof".to_owned())];
    let difference = session.edit(&gone).expect("it is made");
    assert!(difference.added.iter().any(|finding| finding.name == "L1"));
    assert!(session.network().pipe_named("vent").is_none());
    is_as_checked_afresh(&mut session);
    let back = session.undo().expect("known sizes").expect("the vent");
    assert_eq!((back.added, back.removed), (difference.removed, difference.added));
    assert_eq!(session.report(), before);
}

// What a rule set does not know stays away when edits are taken back.
#[test]
fn sizes_that_the_rule_set_does_not_know_do_not_come_back() {
    let mut session = Session::new(network(FILE), rules("ipc-2021")).expect("known sizes");
    let size = |size: &str| Edit::Pipe {
        pipe: "drain".to_owned(),
        set: PipeProperty::Size(size.parse().ok()),
    };
    session.edit(&[size("15 in")]).expect("a size of the code");
    session.edit(&[size("4 in")]).expect("a size of the code");
    session.set_rules(rules("upc-2021")).expect("known sizes");
    let before = session.report();
    let refused = session.undo().expect_err("no size of that code").to_string();
    assert!(refused.contains("15 in"), "{refused}");
    assert_eq!(session.report(), before);
    session.set_rules(rules("ipc-2021")).expect("known sizes");
    assert!(session.undo().expect("known sizes").is_some());
}

#[test]
fn a_clone_goes_its_own_way() {
    for (index, network) in NETWORKS.iter().enumerate() {
        let rules = &RULES[index % RULES.len()];
        let Ok(mut session) = Session::new(network.clone(), rules.clone()) else {
            continue;
        };
        let before = session.report();
        let pipes: Vec<String> = network
            .graph()
            .edge_weights()
            .map(|pipe| pipe.name.to_string())
            .collect();
        let length = |pipe: &String, length: &str| Edit::Pipe {
            pipe: pipe.clone(),
            set: PipeProperty::SupportSpacing(length.parse().ok()),
        };
        let (Some(first), Some(last)) = (pipes.first(), pipes.last()) else {
            panic!("{} has no pipe", network.file());
        };
        session
            .edit(&[length(first, "11 ft")])
            .unwrap_or_else(|error| panic!("{error}"));
        let after = session.report();
        let mut other = session.clone();
        assert_eq!(other.is_ready(), session.is_ready());
        other
            .edit(&[length(last, "12 ft")])
            .unwrap_or_else(|error| panic!("{error}"));
        is_as_checked_afresh(&mut other);
        let others = other.report();
        assert_eq!(session.report(), after);
        assert!(session.undo().expect("sizes that are known").is_some());
        is_as_checked_afresh(&mut session);
        assert_eq!(session.report(), before);
        assert_eq!(other.report(), others);
        // The clone has the edits of before it was made too.
        assert!(other.undo().expect("sizes that are known").is_some());
        assert_eq!(other.report(), after);
        assert!(other.undo().expect("sizes that are known").is_some());
        assert_eq!(other.report(), before);
    }
}
