//! What is done with untrusted bytes: the bodies of the fuzz targets under `tests/fuzz`, which the tests run over the
//! bytes that fuzzing kept.
//!
//! Whatever the bytes are, they are read or refused; what is read can be used to its end.

use std::hint::black_box;
use std::str::FromStr;
use std::sync::OnceLock;

use crownweir::proof::{Example, prove};
use crownweir::quantity::{
    Angle, Bearing, Flow, Heading, Length, Load, NominalSize, Period, Ratio, Slope, StatedLoad, Temperature,
    Velocity, Viscosity, Volume,
};
use crownweir::shop::{self, Dimensions, Job, Practice};
use crownweir::{
    Document, Effort, Limits, Measured, MemoryCells, Network, RuleSet, Text, audit, report, size,
};

/// A name, and what is done with the bytes.
pub type Target = (&'static str, fn(&[u8]));

/// Every target.
pub const TARGETS: [Target; 8] = [
    ("amendments", amendments),
    ("documents", documents),
    ("worked_examples", worked_examples),
    ("layouts", layouts),
    ("networks", networks),
    ("quantities", quantities),
    ("rules", rules),
    ("sheets", sheets),
];

/// A rule set small enough to be read thousands of times.
const SMALL: &str = include_str!("../../benches/peers/rules.yaml");

/// Notation that is read is printed and read again as the same.
pub fn quantities(bytes: &[u8]) {
    fn again<T: FromStr + ToString + PartialEq + std::fmt::Debug>(text: &str) {
        if let Ok(value) = text.parse::<T>() {
            let printed = value.to_string();
            let read = printed.parse::<T>().ok();
            assert_eq!(read.as_ref(), Some(&value), "{text} {printed}");
        }
    }
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    again::<Angle>(text);
    again::<Bearing>(text);
    again::<Load>(text);
    again::<Flow>(text);
    again::<Heading>(text);
    again::<Length>(text);
    again::<NominalSize>(text);
    again::<Period>(text);
    again::<Ratio>(text);
    again::<Slope>(text);
    again::<StatedLoad>(text);
    again::<Temperature>(text);
    again::<Velocity>(text);
    again::<Viscosity>(text);
    again::<Volume>(text);
}

/// YAML or JSON of any form is read, or refused with words.
pub fn documents(bytes: &[u8]) {
    if let Err(problems) = Document::read("document", bytes, &Limits::default()) {
        assert!(!problems.to_string().is_empty());
    }
}

/// Read once: a rule set takes longer to read than most inputs to check.
fn ipc() -> &'static RuleSet {
    static RULES: OnceLock<RuleSet> = OnceLock::new();
    RULES.get_or_init(|| crate::rules("ipc-2021"))
}

/// A network that is read is written as text that reads as the same; it is checked, and each finding told with how it was
/// reached.
pub fn networks(bytes: &[u8]) {
    let Ok(network) = Network::read("network", bytes, &Limits::default()) else {
        return;
    };
    let read = crate::written::again(&network, false);
    assert!(read.is_ok(), "{read:?}");
    if let Ok(measured) = Measured::new(&network, ipc()) {
        let found = measured.check();
        black_box(report::text(&found, &|finding| {
            Some(measured.workings_of(finding))
        }));
    }
}

/// What is made of a network beside its findings: drawing, sizes, shop sheets.
pub fn layouts(bytes: &[u8]) {
    let Ok(network) = Network::read("network", bytes, &Limits::default()) else {
        return;
    };
    if let Ok(measured) = Measured::new(&network, ipc()) {
        black_box(report::drawing(&measured, &measured.check(), Default::default()).svg());
    }
    drop(black_box(size(&network, ipc(), Effort { evaluations: 20 })));
    let (Ok(dimensions), Ok(practice)) = (Dimensions::published(), Practice::published()) else {
        return;
    };
    let mut job = Job::new(&network, &dimensions).with_practice(&practice);
    if let Ok(measured) = Measured::new(&network, ipc()) {
        job = job.with_plumbing(measured);
    }
    for kind in shop::SheetKind::ALL {
        black_box(kind.sheet(&job));
    }
}

/// A rule set that is read is audited, and a network checked by it.
pub fn rules(bytes: &[u8]) {
    let Ok(rules) = RuleSet::read("rules", bytes, &Limits::default()) else {
        return;
    };
    black_box(audit(&rules, MemoryCells::Counted));
    let network = crate::network(&crate::network_text("heron-point-faulty.yaml"));
    if let Ok(measured) = Measured::new(&network, &rules) {
        black_box(measured.check());
    }
}

/// An amendment that fits its base makes a rule set that is audited.
pub fn amendments(bytes: &[u8]) {
    let text = |name, bytes| Text { name, bytes };
    let (base, amendment) = (text("base", SMALL.as_bytes()), text("amendment", bytes));
    if let Some(day) = "2027-01-01".parse().ok()
        && let Ok(rules) = RuleSet::amended(base, &[amendment], day, &Limits::default())
    {
        black_box(audit(&rules, MemoryCells::Counted));
    }
}

/// Worked examples that are read are proved.
pub fn worked_examples(bytes: &[u8]) {
    if let Ok(example) = Example::read("example", bytes, &Limits::default()) {
        black_box(prove(ipc(), &[example]));
    }
}

/// What shop sheets are made by: dimensions and practice.
pub fn sheets(bytes: &[u8]) {
    let limits = Limits::default();
    let read = [
        Dimensions::read("dimensions", bytes, &limits).is_ok(),
        Practice::read("practice", bytes, &limits).is_ok(),
    ];
    assert_ne!(read, [true, true], "one text is two kinds of file");
}
