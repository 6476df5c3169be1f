//! Generated networks to measure on. The buildings are invented.
#![forbid(unsafe_code)]

mod houses;

pub use houses::house;

/// How many storeys share a pair of stacks.
const ZONE: u32 = 10;

/// A tower of `storeys` storeys with eight fixtures on each: two bathrooms, each wet-vented, on one stack, a
/// kitchen sink and a clothes washer on another, a vent stack beside each. As in a high building the stacks serve
/// ten storeys each and discharge into a collector.
#[must_use]
pub fn tower(storeys: u32) -> String {
    let storeys = storeys.max(1);
    let zones = storeys.div_ceil(ZONE);
    let mut text = format!("crownweir: network/1\nname: tower of {storeys} storeys\n{SITE}");
    text.push_str(&format!(
        "storeys:\n  - {{storey: cellar, height: 10 ft}}\n  - {{storey: '{{number}}', numbers: 1..{storeys}, height: 10 ft}}\n"
    ));
    text.push_str("repeat:\n");
    for zone in 1..=zones {
        let (first, last) = ((zone - 1) * ZONE + 1, (zone * ZONE).min(storeys));
        text.push_str(&floors(zone, first, last));
    }
    text.push_str("drains:\n");
    for zone in 1..=zones {
        let first = (zone - 1) * ZONE + 1;
        let below = if zone == 1 {
            "BD-1".to_owned()
        } else {
            format!("C1-{}", zone - 1)
        };
        text.push_str(&format!(
            "  - {{run: collector, kind: stack, size: 15 in, slope: vertical, path: [{{fitting: {{name: C2-{zone}, pattern: wye, storey: '{first}'}}}}, {{pipe: {{}}}}, {{fitting: {{name: C1-{zone}, pattern: wye, storey: '{first}'}}}}, {{pipe: {{{}}}}}, {{at: {}}}]}}\n",
            if zone == 1 { "length: 4 ft" } else { "" },
            below.replace("C1-", "C2-")
        ));
        for stack in [1, 2] {
            text.push_str(&format!(
                "  - {{run: stack {stack} zone {zone}, kind: stack, size: 4 in, slope: vertical, path: [{{fitting: {{name: F{stack}-{zone}, pattern: wye, storey: '{first}'}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: G{stack}-{zone}, pattern: long_sweep, storey: '{first}'}}}}, {{pipe: {{slope: 1/4 in/ft, length: 4 ft}}}}, {{at: C{stack}-{zone}}}]}}\n"
            ));
        }
    }
    text.push_str(
        "  - {run: building drain, kind: building_drain, storey: cellar, underground: true, size: 15 in, slope: 1/8 in/ft, path: [{cleanout: {name: CO-1, size: 4 in, clearance: 36 in, accessible: true}}, {pipe: {length: 6 ft}}, {fitting: {name: BD-1, pattern: combination_wye}}, {pipe: {length: 10 ft}}, {cleanout: {name: CO-2, size: 4 in, clearance: 36 in, accessible: true}}, {pipe: {length: 3 ft}}, {disposal: {name: sewer}}]}\n",
    );
    text.push_str("vents:\n");
    for zone in 1..=zones {
        let (first, last) = ((zone - 1) * ZONE + 1, (zone * ZONE).min(storeys));
        for (stack, foot, top) in [(1, "VS1", "VS2"), (2, "VS3", "VS4")] {
            let top_tee = if stack == 1 { "S1-A" } else { "S2" };
            text.push_str(&format!(
                "  - {{run: vent stack {stack} zone {zone}, kind: vent_stack, size: 3 in, slope: vertical, path: [{{at: F{stack}-{zone}}}, {{pipe: {{}}}}, {{at: {foot}-{first}}}]}}
  - {{run: vent stack {stack} zone {zone}, kind: vent_stack, size: 3 in, slope: vertical, path: [{{at: {top}-{last}}}, {{pipe: {{length: 3 ft}}}}, {{terminal: {{name: VT-{stack}-{zone}, {TERMINAL}}}}}]}}
  - {{run: stack vent {stack} zone {zone}, kind: stack_vent, size: 4 in, slope: vertical, path: [{{at: {top_tee}-{last}}}, {{pipe: {{length: 7 ft}}}}, {{terminal: {{name: ST-{stack}-{zone}, {TERMINAL}}}}}]}}\n"
            ));
        }
    }
    text
}

const TERMINAL: &str =
    "through: wall, lot_line_distance: 12 ft, height_above_ground: 12 ft, nearest_opening: none";

const SITE: &str = "site: {occupancy: private, winter_design_temperature: 20 F}
defaults: {material: pvc, horizontal_support_spacing: 4 ft, vertical_support_spacing: 8 ft, mid_storey_guide: true}
models:
  closet: {type: water_closet, flush_volume: 1.6 gal, rim_height: 15 in, weir_height: 8 in, trap: {size: 3 in, kind: integral}}
  basin: {type: lavatory, rim_height: 31 in, weir_height: 18 in, trap: {size: 1-1/4 in, kind: p, seal: 2 in, outlet_drop: 9 in, outlet_offset: 4 in, removable: true}}
  tub: {type: bathtub, rim_height: 16 in, trap: {size: 1-1/2 in, kind: p, seal: 2 in, outlet_drop: 8 in, outlet_offset: 12 in}}
  shower: {type: shower, flow: 2.5 gpm, rim_height: 3 in, trap: {size: 2 in, kind: p, seal: 2 in, outlet_drop: 8 in, outlet_offset: 0 in}}
  sink: {type: kitchen_sink, rim_height: 36 in, weir_height: 16 in, trap: {size: 1-1/2 in, kind: p, seal: 2 in, outlet_drop: 11 in, outlet_offset: 6 in}}
  standpipe: {type: clothes_washer, rim_height: 42 in, weir_height: 12 in, standpipe_height: 30 in, trap: {size: 2 in, kind: p, seal: 2 in}}
";

/// The storeys of a zone: what repeats on each is written once.
fn floors(zone: u32, first: u32, last: u32) -> String {
    let bath = |letter: &str, stack: &str, bath: &str, size: &str| {
        format!(
            "
      - {{storey: '{{storey}}', size: 3 in, slope: 1/4 in/ft, path: [
          {{fixture: {{name: 'WC-{letter}-{{storey}}', model: closet}}}}, {{pipe: {{slope: vertical}}}},
          {{fitting: {{name: 'CB-{letter}-{{storey}}', pattern: closet_bend}}}}, {{pipe: {{length: 24 in}}}},
          {{fitting: {{name: 'W1-{letter}-{{storey}}', pattern: wye}}}}, {{pipe: {{length: 30 in}}}},
          {{fitting: {{name: 'W2-{letter}-{{storey}}', pattern: wye}}}}, {{pipe: {{length: 40 in}}}},
          {{at: '{stack}-{letter}-{{storey}}'}}]}}
      - {{storey: '{{storey}}', size: 1-1/2 in, slope: 1/4 in/ft, path: [
          {{fixture: {{name: 'LAV-{letter}-{{storey}}', model: basin}}}}, {{pipe: {{length: 20 in}}}},
          {{fitting: {{name: 'T-{letter}-{{storey}}', pattern: sanitary_tee}}}}, {{pipe: {{slope: vertical}}}},
          {{fitting: {{name: 'E-{letter}-{{storey}}', pattern: long_sweep}}}}, {{pipe: {{length: 12 in}}}},
          {{at: 'W1-{letter}-{{storey}}'}}]}}
      - {{storey: '{{storey}}', size: {size}, slope: 1/4 in/ft, path: [
          {{fixture: {{name: '{bath}-{letter}-{{storey}}', model: {bath}}}}}, {{pipe: {{length: 36 in}}}}, {{at: 'W2-{letter}-{{storey}}'}}]}}"
        )
    };
    let waste = |name: &str, model: &str, size: &str, on: &str| {
        format!(
            "
      - {{storey: '{{storey}}', size: {size}, slope: 1/4 in/ft, path: [
          {{fixture: {{name: '{name}-{{storey}}', model: {model}}}}}, {{pipe: {{length: 24 in}}}},
          {{fitting: {{name: 'T-{name}-{{storey}}', pattern: sanitary_tee}}}}, {{pipe: {{slope: vertical}}}},
          {{fitting: {{name: 'E-{name}-{{storey}}', pattern: long_sweep}}}}, {{pipe: {{length: 30 in}}}}, {{at: '{on}-{{storey}}'}}]}}"
        )
    };
    let vent = |from: &str, to: &str| {
        format!(
            "
      - {{storey: '{{storey}}', size: 2 in, path: [{{at: '{from}-{{storey}}'}}, {{pipe: {{slope: vertical}}}},
          {{fitting: {{name: 'V-{from}-{{storey}}'}}}}, {{pipe: {{slope: 1/8 in/ft, length: 4 ft}}}}, {{at: '{to}-{{storey}}'}}]}}"
        )
    };
    let drains = [
        bath("A", "S1", "tub", "1-1/2 in"),
        bath("B", "S1", "shower", "2 in"),
        waste("KS", "sink", "2 in", "S2"),
        waste("CW", "standpipe", "2 in", "S3"),
    ]
    .concat();
    let vents = [
        vent("T-A", "VS1"),
        vent("T-B", "VS2"),
        vent("T-KS", "VS3"),
        vent("T-CW", "VS4"),
    ]
    .concat();
    let foot = |stack: u32| format!("F{stack}-{zone}");
    let step = |stack: u32, upper: &str, lower: &str, height: &str| {
        // The lowest storey of a zone leads to the foot of its stacks.
        let tee = |name: &str, height: &str| {
            format!(
                "{{fitting: {{name: '{name}-{{storey}}', pattern: sanitary_tee, storey: '{{storey}}'{height}}}}}"
            )
        };
        let path = format!(
            "{}, {{pipe: {{length: 1 ft}}}}, {}",
            tee(upper, height),
            tee(lower, "")
        );
        format!(
            "\n      - {{run: stack {stack} zone {zone}, kind: stack, size: 4 in, slope: vertical, path: [{path}, {{pipe: {{length: LENGTH}}}}, {{at: 'BELOW{stack}'}}]}}"
        )
    };
    let stacks = [
        step(1, "S1-A", "S1-B", ", height: -12 in"),
        step(2, "S2", "S3", ", height: -10 in"),
    ]
    .concat();
    let main_vent = |number: u32, lower: &str, upper: &str, before: &str| {
        format!(
            "\n      - {{run: vent stack {number} zone {zone}, kind: vent_stack, size: 3 in, slope: vertical, storey: '{{storey}}', path: [{before}{{fitting: {{name: '{lower}-{{storey}}', height: 60 in}}}}, {{pipe: {{}}}}, {{fitting: {{name: '{upper}-{{storey}}', height: 72 in}}}}]}}"
        )
    };
    let group = |range: String, stacks: String, main: String| {
        format!("  - storeys: {range}\n    drains:{stacks}{drains}\n    vents:{main}{vents}\n")
    };
    let lowest = stacks
        .replace("LENGTH", "4 ft")
        .replace("BELOW1", &foot(1))
        .replace("BELOW2", &foot(2));
    let mut text = group(
        format!("'{first}'"),
        lowest,
        [main_vent(1, "VS1", "VS2", ""), main_vent(2, "VS3", "VS4", "")].concat(),
    );
    if last > first {
        let others = stacks
            .replace("LENGTH", "9 ft")
            .replace("BELOW1", "S1-A-{below}")
            .replace("BELOW2", "S2-{below}");
        let main = [
            main_vent(1, "VS1", "VS2", "{at: 'VS2-{below}'}, {pipe: {}}, "),
            main_vent(2, "VS3", "VS4", "{at: 'VS4-{below}'}, {pipe: {}}, "),
        ]
        .concat();
        text.push_str(&group(format!("{}..{last}", first + 1), others, main));
    }
    text
}
