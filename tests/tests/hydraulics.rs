//! The hydraulic formulas against published tables and a general-purpose library.

use crownweir::hydraulics::{
    FOOT, HydraulicsError, INCH, PartFullCircle, US_GALLON, boundary_shear, chezy_slope,
    colebrook_white_flow, depth_ratio_at_flow, design_number, manning_flow, manning_velocity,
    probability_of_simultaneous_use, stack_capacity, stack_terminal_length, stack_terminal_velocity,
};

const GPM: f64 = US_GALLON / 60.0;

/// Whether two figures agree within a share of the second.
#[track_caller]
fn close(got: Result<f64, HydraulicsError>, expected: f64, within: f64, what: &str) {
    let got = got.unwrap_or(f64::NAN);
    assert!(
        (got - expected).abs() <= within * expected.abs(),
        "{what}: {got} is not {expected}"
    );
}

/// The depth ratio at which a share of the area is wetted.
fn depth_at_area(wanted: f64) -> f64 {
    let (mut low, mut high) = (1e-9, 1.0);
    for _ in 0..100 {
        let middle = (low + high) / 2.0;
        let area = PartFullCircle::at_depth(1.0, middle).map_or(0.0, |circle| circle.area);
        if area / (std::f64::consts::PI / 4.0) < wanted {
            low = middle
        } else {
            high = middle
        }
    }
    low
}

// Source: computed with the general-purpose library fluids 1.3.1, see reference/README.md.
#[test]
fn half_full_and_full_flows_agree_with_a_general_purpose_library() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/manning-reference.csv");
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .expect("the reference file");
    let headers = reader.headers().expect("a head").clone();
    let column = |name: &str| {
        headers
            .iter()
            .position(|header| header == name)
            .expect("a column")
    };
    let names = [
        "id_mm",
        "slope_m_per_m",
        "manning_n",
        "depth_ratio_y_D",
        "velocity_m_s",
        "flow_l_s",
        "hyd_radius_mm",
        "shear_Pa",
    ];
    let columns = names.map(column);
    let mut rows = 0;
    for record in reader.records() {
        let record = record.expect("a row");
        let [bore, slope, n, depth, velocity, flow, radius, shear] =
            columns.map(|column| record[column].parse::<f64>().expect("a number"));
        let circle = PartFullCircle::at_depth(bore / 1e3, depth).expect("a depth");
        let what = format!("{record:?}");
        // The file prints six significant digits or fewer; the issue allows 0.5 %.
        close(Ok(circle.hydraulic_radius * 1e3), radius, 1e-3, &what);
        close(
            manning_velocity(circle.hydraulic_radius, slope, n),
            velocity,
            1e-3,
            &what,
        );
        close(
            manning_flow(bore / 1e3, slope, n, depth).map(|flow| flow * 1e3),
            flow,
            1e-3,
            &what,
        );
        close(boundary_shear(circle.hydraulic_radius, slope), shear, 2e-3, &what);
        if depth < 0.93 {
            let carried = manning_flow(bore / 1e3, slope, n, depth).expect("a flow");
            close(
                depth_ratio_at_flow(bore / 1e3, slope, n, carried),
                depth,
                1e-6,
                &what,
            );
        }
        rows += 1;
    }
    assert!(rows > 1000, "only {rows} rows were read");
}

// Source: a lecture sheet on waste piping gives the half-full equality; the other ratios are plane geometry,
// computed for the reference list with the library named above.
#[test]
fn part_full_ratios() {
    let full = manning_flow(0.1, 0.01, 0.011, 1.0).expect("a flow");
    for (depth, flow) in [
        (0.1, 0.0209),
        (0.25, 0.1370),
        (0.5, 0.5),
        (2.0 / 3.0, 0.7839),
        (0.75, 0.9119),
        (0.9, 1.0658),
    ] {
        close(
            manning_flow(0.1, 0.01, 0.011, depth).map(|q| q / full),
            flow,
            3e-3,
            "flow ratio",
        );
    }
    // Greatest flow at a depth ratio of 0.938, 1.0757 of the full flow.
    let capacity = match depth_ratio_at_flow(0.1, 0.01, 0.011, full * 1.08) {
        Err(HydraulicsError::ExceedsCapacity { capacity }) => capacity,
        other => panic!("{other:?}"),
    };
    close(Ok(capacity / full), 1.0757, 1e-4, "greatest flow");
    close(
        depth_ratio_at_flow(0.1, 0.01, 0.011, capacity),
        0.938,
        1e-3,
        "its depth",
    );
}

// Source WE-33: design table for cast iron soil pipe, maker's manual pages 23 and 25; bores 1.96, 2.96, 5.94 and
// 7.94 in, n = 0.012, fills as shares of the area. Tolerances: 1 % for 2 and 3 in, 0.2 % for 6 and 8 in.
#[test]
fn published_table_of_soil_pipe_capacities() {
    type Row = (f64, f64, f64, [(f64, f64); 4]);
    let rows: [Row; 8] = [
        (
            1.96,
            0.010,
            0.01,
            [(1.13, 2.64), (1.47, 6.84), (1.64, 11.59), (1.47, 13.75)],
        ),
        (
            1.96,
            0.020,
            0.01,
            [(1.60, 3.73), (2.07, 9.67), (2.33, 16.39), (2.07, 19.44)],
        ),
        (
            2.96,
            0.010,
            0.01,
            [(1.50, 8.07), (1.93, 20.74), (2.17, 34.95), (1.93, 41.49)],
        ),
        (
            2.96,
            0.020,
            0.01,
            [(f64::NAN, 11.42), (2.73, 29.33), (3.07, 49.43), (2.73, 58.67)],
        ),
        (
            5.94,
            0.010,
            0.002,
            [(2.38, 51.32), (3.07, 132.75), (3.44, 223.10), (3.07, 265.50)],
        ),
        (
            5.94,
            0.020,
            0.002,
            [(3.36, 72.58), (4.35, 187.74), (4.87, 315.51), (4.35, 375.47)],
        ),
        (
            7.94,
            0.010,
            0.002,
            [(2.89, 111.47), (3.73, 287.90), (4.18, 484.02), (3.73, 575.81)],
        ),
        (
            7.94,
            0.020,
            0.002,
            [(4.08, 157.64), (5.28, 407.16), (5.91, 684.51), (5.28, 814.32)],
        ),
    ];
    for (bore, slope, within, fills) in rows {
        for (share, (velocity, flow)) in [0.25, 0.5, 0.75, 1.0].into_iter().zip(fills) {
            let depth = depth_at_area(share);
            let what = format!("{bore} in at {slope}, {share} of the area");
            // Flows and velocities are printed to two decimals. The table's 2 in pipe a quarter full lies 1.2 %
            // below the formula, which the general-purpose library bears out: the one figure outside its own
            // tolerance.
            let within = if bore == 1.96 && share == 0.25 {
                0.0125
            } else {
                within
            };
            let carried = manning_flow(bore * INCH, slope, 0.012, depth).map(|q| q / GPM);
            close(carried, flow, within + 0.005 / flow, &what);
            if velocity.is_finite() {
                let radius = PartFullCircle::at_depth(bore * INCH, depth)
                    .expect("a depth")
                    .hydraulic_radius;
                let allowance = within + 0.005 / velocity;
                close(
                    manning_velocity(radius, slope, 0.012).map(|v| v / FOOT),
                    velocity,
                    allowance,
                    &what,
                );
            }
        }
    }
    // The table prints 2.21 ft/s for 3 in at 0.020, a quarter full: a misprint, 2.12 is right.
    let radius = PartFullCircle::at_depth(2.96 * INCH, depth_at_area(0.25))
        .expect("a depth")
        .hydraulic_radius;
    let velocity = manning_velocity(radius, 0.02, 0.012).expect("a velocity") / FOOT;
    assert!(
        (velocity - 2.12).abs() < 0.01 && (velocity - 2.21).abs() > 0.05,
        "{velocity}"
    );
}

// Source WE-30: Building Construction Handbook, 8th edition: C = 58, hydraulic radius 0.0375 m, 1 m/s gives
// a gradient of 0.0079, 1 in 126.
#[test]
fn gradient_for_one_metre_a_second() {
    close(chezy_slope(58.0, 0.0375, 1.0), 0.0079, 5e-3, "gradient");
    close(
        chezy_slope(58.0, 0.0375, 1.0).map(|slope| 1.0 / slope),
        126.0,
        2e-3,
        "one in",
    );
}

// Source WE-31: a lecture on drainage: six basins, 30 s in 300 s; 0.531441, 0.354294, 0.098415, 0.01458,
// 0.001215, 0.000054, 0.000001.
#[test]
fn simultaneous_use_of_six_basins() {
    let published = [
        0.531_441, 0.354_294, 0.098_415, 0.014_58, 0.001_215, 0.000_054, 0.000_001,
    ];
    for (in_use, expected) in (0..).zip(published) {
        close(
            probability_of_simultaneous_use(6, in_use, 0.1),
            expected,
            1e-9,
            "chance",
        );
    }
    // Cumulative 0.98415 for two and 0.99873 for three: at a risk of 1 % design for three, at 2 % for two.
    assert_eq!(design_number(6, 0.1, 0.01), Ok(3));
    assert_eq!(design_number(6, 0.1, 0.02), Ok(2));
}

// Source WE-34: a maker's catalogue 2022, page 69, table 7: collectors at a filling of 0.7, roughness 1 mm, in
// litres a second. The bores are fitted, so the slopes are what is tested; the 50 mm row fits no bore and is left
// out.
#[test]
fn published_table_of_collectors() {
    let rows = [
        (68.0, 0.025, [1.7, 2.0, 2.4, 2.6, 2.9]),
        (78.8, 0.02, [2.5, 3.0, 3.5, 4.0, 4.3]),
        (98.5, 0.02, [4.5, 5.5, 6.4, 7.1, 7.8]),
        (113.1, 0.02, [6.5, 8.0, 9.2, 10.3, 11.3]),
        (147.0, 0.02, [13.0, 16.0, 18.5, 21.0, 23.0]),
        (184.2, 0.02, [23.8, 29.2, 33.7, 37.7, 41.4]),
        (230.7, 0.02, [43.2, 53.0, 61.2, 68.5, 75.0]),
    ];
    for (bore, within, flows) in rows {
        for (slope, flow) in [0.010, 0.015, 0.020, 0.025, 0.030].into_iter().zip(flows) {
            let got = colebrook_white_flow(bore / 1e3, slope, 0.7, 1e-3, 1.31e-6).map(|flow| flow * 1e3);
            // Flows are printed to one decimal.
            close(got, flow, within + 0.05 / flow, &format!("{bore} mm at {slope}"));
        }
    }
}

// Source WE-36: stack formula from the lecture sheet named in the module; the values are our own calculation by
// that formula, so this guards the conversion of units. Handbooks print, rounded, 17.5, 51, 110 to 112 and 330 gpm
// at a quarter (basis: memory).
#[test]
fn stack_capacities() {
    for (inches, quarter, seven, third) in [
        (2.0, 17.5, 22.6, 28.3),
        (3.0, 51.6, 66.8, 83.4),
        (4.0, 111.2, 143.8, 179.6),
        (6.0, 327.9, 423.9, 529.6),
    ] {
        for (share, gpm) in [(0.25, quarter), (7.0 / 24.0, seven), (1.0 / 3.0, third)] {
            close(
                stack_capacity(inches * INCH, share).map(|q| q / GPM),
                gpm,
                3e-3,
                "stack",
            );
        }
    }
    let velocity = stack_terminal_velocity(143.8 * GPM, 4.0 * INCH).expect("a velocity");
    close(Ok(velocity / FOOT), 12.57, 1e-3, "terminal velocity");
    close(
        stack_terminal_length(velocity).map(|length| length / FOOT),
        8.22,
        2e-3,
        "terminal length",
    );
}

// Source: Purcell (Oklahoma) municipal code 12-488: least slopes of public sewers in feet per 100 feet, meant to
// give 2 ft/s flowing full with n = 0.013. Its entry for 10 in fails its own rule.
#[test]
fn sewer_slopes_of_a_town() {
    for (inches, fall) in [
        (8.0, 0.40),
        (12.0, 0.22),
        (15.0, 0.15),
        (18.0, 0.12),
        (21.0, 0.10),
        (24.0, 0.08),
    ] {
        let velocity = manning_velocity(inches * INCH / 4.0, fall / 100.0, 0.013).expect("a velocity") / FOOT;
        assert!(velocity >= 2.0, "{inches} in: {velocity} ft/s");
    }
    let failing = manning_velocity(10.0 * INCH / 4.0, 0.20 / 100.0, 0.013).map(|velocity| velocity / FOOT);
    close(failing, 1.80, 5e-3, "10 in at 0.20 %");
}

#[test]
fn impossible_figures_are_errors() {
    for bad in [f64::NAN, f64::INFINITY, -1.0, 0.0] {
        assert!(PartFullCircle::at_depth(bad, 0.5).is_err());
        assert!(manning_flow(0.1, bad, 0.011, 0.5).is_err());
        assert!(depth_ratio_at_flow(0.1, 0.01, 0.011, bad).is_err());
        assert!(stack_capacity(bad, 0.25).is_err());
        assert!(probability_of_simultaneous_use(6, 1, bad).is_err());
    }
    assert!(PartFullCircle::at_depth(0.1, 1.5).is_err());
}
