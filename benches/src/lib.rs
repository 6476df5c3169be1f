//! Generated networks to measure on. The buildings are invented.
#![forbid(unsafe_code)]

/// A tower of `storeys` storeys (at least 2) with eight fixtures on each: two bathrooms on one stack, a kitchen
/// sink and a clothes washer on another, each bathroom wet-vented, a vent stack beside each stack. The text is
/// the same size for any height: what repeats is written once.
#[must_use]
pub fn tower(storeys: u32) -> String {
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
    let stack_step = |name: &str| format!("{{run: {name}, kind: stack, size: 4 in, slope: vertical, path: [");
    format!(
        "crownweir: network/1
name: tower of {storeys} storeys
site: {{occupancy: private, winter_design_temperature: 20 F}}
defaults: {{material: pvc, horizontal_support_spacing: 4 ft, vertical_support_spacing: 8 ft, mid_storey_guide: true}}
storeys:
  - {{storey: cellar, height: 10 ft}}
  - {{storey: '{{number}}', numbers: 1..{storeys}, height: 10 ft}}
models:
  closet: {{type: water_closet, flush_volume: 1.6 gal, rim_height: 15 in, weir_height: 8 in, trap: {{size: 3 in, kind: integral}}}}
  basin: {{type: lavatory, rim_height: 31 in, weir_height: 18 in, trap: {{size: 1-1/4 in, kind: p, seal: 2 in, outlet_drop: 9 in, outlet_offset: 4 in, removable: true}}}}
  tub: {{type: bathtub, rim_height: 16 in, trap: {{size: 1-1/2 in, kind: p, seal: 2 in, outlet_drop: 8 in, outlet_offset: 12 in}}}}
  shower: {{type: shower, flow: 2.5 gpm, rim_height: 3 in, trap: {{size: 2 in, kind: p, seal: 2 in, outlet_drop: 8 in, outlet_offset: 0 in}}}}
  sink: {{type: kitchen_sink, rim_height: 36 in, weir_height: 16 in, trap: {{size: 1-1/2 in, kind: p, seal: 2 in, outlet_drop: 11 in, outlet_offset: 6 in}}}}
  standpipe: {{type: clothes_washer, rim_height: 42 in, weir_height: 12 in, standpipe_height: 30 in, trap: {{size: 2 in, kind: p, seal: 2 in}}}}
repeat:
  - storeys: 1..{storeys}
    drains:
      - {s1}{{fitting: {{name: 'S1-A-{{storey}}', pattern: sanitary_tee, storey: '{{storey}}', height: -12 in}}}}, {{pipe: {{length: 1 ft}}}},
          {{fitting: {{name: 'S1-B-{{storey}}', pattern: sanitary_tee, storey: '{{storey}}'}}}}, {{pipe: {{length: 9 ft}}}}, {{at: 'S1-A-{{below}}'}}]}}
      - {s2}{{fitting: {{name: 'S2-{{storey}}', pattern: sanitary_tee, storey: '{{storey}}'}}}}, {{pipe: {{length: 1 ft}}}},
          {{fitting: {{name: 'S3-{{storey}}', pattern: sanitary_tee, storey: '{{storey}}'}}}}, {{pipe: {{length: 9 ft}}}}, {{at: 'S2-{{below}}'}}]}}{drains}
    vents:
      - {{run: vent stack 1, kind: vent_stack, size: 3 in, slope: vertical, storey: '{{storey}}', path: [
          {{at: 'VS2-{{below}}'}}, {{pipe: {{length: 9 ft}}}}, {{fitting: {{name: 'VS1-{{storey}}'}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: 'VS2-{{storey}}'}}}}]}}
      - {{run: vent stack 2, kind: vent_stack, size: 3 in, slope: vertical, storey: '{{storey}}', path: [
          {{at: 'VS4-{{below}}'}}, {{pipe: {{length: 9 ft}}}}, {{fitting: {{name: 'VS3-{{storey}}'}}}}, {{pipe: {{length: 1 ft}}}}, {{fitting: {{name: 'VS4-{{storey}}'}}}}]}}{vents}
drains:
  - {s1}{{fitting: {{name: S1-A-cellar, pattern: sanitary_tee, storey: cellar}}}}, {{pipe: {{length: 5 ft}}}}, {{at: BD-1}}]}}
  - {s2}{{fitting: {{name: S2-cellar, pattern: sanitary_tee, storey: cellar}}}}, {{pipe: {{length: 5 ft}}}}, {{at: BD-2}}]}}
  - {{run: building drain, kind: building_drain, storey: cellar, underground: true, size: 8 in, slope: 1/8 in/ft, path: [
      {{cleanout: {{name: CO-1, size: 4 in, clearance: 36 in, accessible: true}}}}, {{pipe: {{length: 6 ft}}}},
      {{fitting: {{name: BD-1, pattern: combination_wye}}}}, {{pipe: {{length: 10 ft}}}},
      {{fitting: {{name: BD-2, pattern: combination_wye}}}}, {{pipe: {{length: 10 ft}}}},
      {{cleanout: {{name: CO-2, size: 4 in, clearance: 36 in, accessible: true}}}}, {{pipe: {{length: 3 ft}}}}, {{disposal: {{name: sewer}}}}]}}
vents:
  - {{run: vent stack 1, kind: vent_stack, size: 3 in, slope: vertical, storey: cellar, path: [{{at: S1-A-cellar}}, {{pipe: {{length: 7 ft}}}}, {{fitting: {{name: VS2-cellar}}}}]}}
  - {{run: vent stack 2, kind: vent_stack, size: 3 in, slope: vertical, storey: cellar, path: [{{at: S2-cellar}}, {{pipe: {{length: 7 ft}}}}, {{fitting: {{name: VS4-cellar}}}}]}}
  - {{run: vent stack 1, kind: vent_stack, size: 3 in, slope: vertical, path: [{{at: 'VS2-{storeys}'}}, {{pipe: {{length: 9 ft}}}}, {terminal1}]}}
  - {{run: vent stack 2, kind: vent_stack, size: 3 in, slope: vertical, path: [{{at: 'VS4-{storeys}'}}, {{pipe: {{length: 9 ft}}}}, {terminal2}]}}
  - {{run: stack vent 1, kind: stack_vent, size: 4 in, slope: vertical, path: [{{at: 'S1-A-{storeys}'}}, {{pipe: {{length: 12 ft}}}}, {terminal3}]}}
  - {{run: stack vent 2, kind: stack_vent, size: 4 in, slope: vertical, path: [{{at: 'S2-{storeys}'}}, {{pipe: {{length: 12 ft}}}}, {terminal4}]}}
",
        s1 = stack_step("stack 1"),
        s2 = stack_step("stack 2"),
        terminal1 = terminal(1),
        terminal2 = terminal(2),
        terminal3 = terminal(3),
        terminal4 = terminal(4),
    )
}

fn terminal(number: u32) -> String {
    format!(
        "{{terminal: {{name: VT-{number}, through: roof, roof_use: weather, height_above_roof: 12 in, nearest_opening: none}}}}"
    )
}
