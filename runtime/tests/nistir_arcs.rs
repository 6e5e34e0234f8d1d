//! Arcs and helices: NISTIR 6556, section 3.5.3 and printed programs. Geometry marked "computed" follows from the
//! printed words.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::approx_constant, reason = "tests")]

mod common;

use borewright_runtime::state::Units;
use borewright_runtime::trace::TracedMove;
use borewright_runtime::{Controller, Trace};
use common::{found, generic, near, nistir};

fn of_nistir(text: &str) -> Vec<&'static str> {
    found(text, &Controller::nistir_6556())
}

/// Runs one arc block from a point.
fn arc(from: [f64; 3], block: &str) -> (Trace, TracedMove) {
    let [x, y, z] = from;
    let trace = nistir(&format!("f10 g0 x{x} y{y} z{z}\n{block}\nm2\n"));
    assert!(trace.is_clean(), "{block}: {:#?}", trace.diagnostics);
    let arc = trace.moves[1].clone();
    (trace, arc)
}

#[track_caller]
fn has_centre(arc: &TracedMove, x: f64, y: f64, tolerance: f64) {
    let centre = arc.centre.unwrap();
    near(centre[0], x, tolerance);
    near(centre[1], y, tolerance);
}

/// The radius at the end of the arc.
fn end_radius(arc: &TracedMove) -> f64 {
    let centre = arc.centre.unwrap();
    ((arc.to[0] - centre[0]).powi(2) + (arc.to[1] - centre[1]).powi(2)).sqrt()
}

#[test]
fn the_centre_format_example() {
    // NISTIR 6556, section 3.5.3.2: `G17 G2 x 10 y 16 i 3 j 4 z 9` from (7, 7): centre (10, 11), radius 5, helical
    // unless the start is at z 9.
    let (_, flat) = arc([7.0, 7.0, 9.0], "G17 G2 x 10 y 16 i 3 j 4 z 9");
    has_centre(&flat, 10.0, 11.0, 0.0);
    near(flat.radius().unwrap(), 5.0, 0.0);
    near(end_radius(&flat), 5.0, 0.0);
    assert_eq!((flat.ccw, flat.plane), (Some(false), Some("XY")));
    near(flat.length(), 5.0 * flat.turns.unwrap() * std::f64::consts::TAU, 1e-12);
    let (_, helix) = arc([7.0, 7.0, 0.0], "G17 G2 x 10 y 16 i 3 j 4 z 9");
    near(helix.length(), (flat.length().powi(2) + 81.0).sqrt(), 1e-12);
    // The feed is along the helix (section 2.1.2.6).
    near(helix.seconds.unwrap(), 60.0 * helix.length() / 10.0, 1e-12);
}

#[test]
fn the_radius_format_line_of_table_10() {
    // NISTIR 6556, Table 10: at (3, 1, 0) `g2 x[6-[4*3/2]] r 7.01 z0.5` goes to (0, 1) about (1.5000, 7.8476),
    // clockwise, to z 0.5000; centre computed 7.847635.
    let (_, arc) = arc([3.0, 1.0, 0.0], "g2 x[6-[4*3/2]] r 7.01 z0.5");
    assert_eq!(arc.to, [0.0, 1.0, 0.5]);
    has_centre(&arc, 1.5, 7.847_635, 5e-7);
    assert_eq!(arc.ccw, Some(false));
}

#[test]
fn arcs_of_sample_program_c_1() {
    // NISTIR 6556, Appendix C.1, n0190, n0490 and n0590; geometry computed.
    let (_, three_quarters) = arc([16.0, 2.5, 0.0], "g3 x13.5 y0 i-2.5");
    has_centre(&three_quarters, 13.5, 2.5, 0.0);
    near(three_quarters.radius().unwrap(), 2.5, 0.0);
    near(three_quarters.turns.unwrap(), 0.75, 1e-15);
    let (_, cap) = arc([64.0, 4.0, 0.0], "g2 x69 r4");
    has_centre(&cap, 66.5, 0.877_501, 1e-6);
    near(cap.turns.unwrap() * 360.0, 77.3644, 5e-5);
    let (_, half) = arc([79.5, 0.0, 0.0], "g2 j2.5 y5");
    has_centre(&half, 79.5, 2.5, 0.0);
    near(half.turns.unwrap(), 0.5, 1e-15);
}

#[test]
fn arcs_of_tables_12_and_13_have_equal_radii() {
    // NISTIR 6556, Appendix B.3 (Table 12) and B.4 (Table 13): words printed, radii computed.
    let lines = [
        ([-2.0, -2.0, 0.0], "G2 X-2.6 Y-0.2 J1", 1.0),
        ([1.4, 2.8, 0.0], "G2 X2 Y3 I0.6 J-0.8", 1.0),
        ([1.1, 3.2, 0.0], "G2 X2 Y3.5 I0.9 J-1.2", 1.5),
    ];
    for (from, block, radius) in lines {
        let (_, arc) = arc(from, block);
        near(arc.radius().unwrap(), radius, 1e-15);
        near(end_radius(&arc), radius, 1e-15);
    }
}

#[test]
fn g2_is_clockwise_and_g3_counterclockwise_seen_from_the_positive_normal_axis() {
    // NISTIR 6556, sections 3.5.3 and 4.3.6.1. A quarter from the first axis of the plane to its second is
    // counterclockwise, so the other way round it is three quarters.
    for (plane, from, to, centre) in [
        ("g17", "x1 y0 z0", "x0 y1", "i-1"),
        ("g18", "z1 x0 y0", "z0 x1", "k-1"),
        ("g19", "y1 z0 x0", "y0 z1", "j-1"),
    ] {
        for (code, turns) in [("g3", 0.25), ("g2", 0.75)] {
            let trace = nistir(&format!("f10 {plane} g0 {from}\n{code} {to} {centre}\nm2\n"));
            assert!(trace.is_clean(), "{plane} {code}: {:#?}", trace.diagnostics);
            near(trace.moves[1].turns.unwrap(), turns, 1e-15);
        }
    }
}

#[test]
fn centre_words_belong_to_the_plane_and_count_from_the_start() {
    // NISTIR 6556, sections 3.5.3.2 and 3.5.17: G17 takes I J, G18 I K, G19 J K, incremental even with G90.
    for (plane, wrong) in [("g17", "k1"), ("g18", "j1"), ("g19", "i1")] {
        assert_eq!(of_nistir(&format!("f1 {plane}\ng2 x1 y1 z1 {wrong}\nm2\n")), ["R0620"], "{plane}");
    }
    let (_, moved) = arc([5.0, 5.0, 0.0], "g90 g3 x6 y6 j1");
    has_centre(&moved, 5.0, 6.0, 0.0);
    let (_, incremental) = arc([5.0, 5.0, 0.0], "g91 g3 x1 y1 j1");
    assert_eq!(incremental.to, [6.0, 6.0, 0.0]);
    has_centre(&incremental, 5.0, 6.0, 0.0);
}

#[test]
fn centres_are_absolute_where_the_machine_says_so() {
    let mut controller = Controller::generic(Units::Millimetre);
    controller.arc_centre = borewright_runtime::controller::ArcCentre::Absolute;
    let text = "G21 F10 G0 X15. Y5.\nG3 X5. Y15. I5. J5.\nM30\n";
    let trace = common::trace(text, &controller, &borewright_runtime::RunOptions::default());
    assert!(trace.is_clean(), "{:#?}", trace.diagnostics);
    has_centre(&trace.moves[1], 5.0, 5.0, 0.0);
}

#[test]
fn an_arc_in_centre_format_needs_an_end_and_a_centre() {
    // NISTIR 6556, section 3.5.3.2.
    assert_eq!(of_nistir("f1\ng2 x1\nm2\n"), ["R0620"]);
    assert_eq!(of_nistir("f1\ng2 z1 i1\nm2\n"), ["R0620"]);
    assert_eq!(of_nistir("f1\ng2 x1 i0 j0\nm2\n"), ["R0620"]);
    assert_eq!(of_nistir("f1\ng2 x1 i1 r1\nm2\n"), ["R0620"]);
}

#[test]
fn a_full_circle_ends_where_it_starts() {
    // NISTIR 6556, section 3.5.3.2: legal in centre format, one of X and Y still required.
    let (_, circle) = arc([3.0, 0.0, 0.0], "g3 x3 i-3");
    near(circle.turns.unwrap(), 1.0, 0.0);
    near(circle.length(), 6.0 * std::f64::consts::PI, 1e-14);
    let (_, turn) = arc([3.0, 0.0, 0.0], "g3 x3 i-3 z-1");
    near(turn.turns.unwrap(), 1.0, 0.0);
    assert_eq!(of_nistir("f1 g0 x3\ng3 i-3\nm2\n"), ["R0604"]);
    // Elsewhere a centre alone makes a full circle (common practice, no source).
    let trace = generic("F10 G0 X3.\nG3 I-3.\nM30\n");
    near(trace.moves[1].turns.unwrap(), 1.0, 0.0);
}

#[test]
fn the_radius_format_has_no_full_circle() {
    // NISTIR 6556, section 3.5.3.1.
    assert_eq!(of_nistir("f1\ng2 x0 y0 r5\nm2\n"), ["R0620"]);
    assert_eq!(of_nistir("f1\ng2 x1 r0\nm2\n"), ["R0620"]);
    assert_eq!(of_nistir("f1\ng2 x10 r4\nm2\n"), ["R0619"]);
}

#[test]
fn a_positive_radius_turns_at_most_half_and_a_negative_one_more() {
    // NISTIR 6556, section 3.5.3.1.
    for code in ["g2", "g3"] {
        let (_, minor) = arc([0.0, 0.0, 0.0], &format!("{code} x3 y4 r5"));
        let (_, major) = arc([0.0, 0.0, 0.0], &format!("{code} x3 y4 r-5"));
        near(minor.turns.unwrap(), 60.0 / 360.0, 1e-14);
        near(major.turns.unwrap(), 300.0 / 360.0, 1e-14);
        near(minor.radius().unwrap(), 5.0, 1e-14);
        near(end_radius(&major), 5.0, 1e-14);
    }
    let (_, half) = arc([0.0, 0.0, 0.0], "g3 x6 y8 r5");
    near(half.turns.unwrap(), 0.5, 1e-14);
    has_centre(&half, 3.0, 4.0, 1e-14);
}

#[test]
fn radii_may_differ_by_the_tolerance_and_no_more() {
    // 0.002 mm and 0.0002 in: constants of the reference interpreter of NISTIR 6556, from memory.
    let end = |units: &str, x: f64| of_nistir(&format!("{units} f1 g0 x10 y0\ng3 x0 y{x} i-10\nm2\n"));
    assert_eq!(end("g21", 10.0019), Vec::<&str>::new());
    assert_eq!(end("g21", 9.9981), Vec::<&str>::new());
    assert_eq!(end("g21", 10.0021), ["R0619"]);
    assert_eq!(end("g20", 10.00019), Vec::<&str>::new());
    assert_eq!(end("g20", 9.99979), ["R0619"]);
}

#[test]
fn a_machine_may_refuse_full_circles_helices_and_small_arcs() {
    let plain = |change: fn(&mut Controller)| {
        let mut controller = Controller::generic(Units::Millimetre);
        change(&mut controller);
        controller
    };
    let circle = "F1 G0 X3.\nG3 I-3.\nM30\n";
    assert_eq!(found(circle, &plain(|c| c.full_circles = false)), ["R0620"]);
    let helix = "F1 G0 X3.\nG3 X-3. I-3. Z-1.\nM30\n";
    assert_eq!(found(helix, &plain(|c| c.helices = false)), ["R0620"]);
    let small = borewright_runtime::text::Number::parse("3.001").unwrap();
    let mut controller = Controller::generic(Units::Millimetre);
    controller.smallest_arc.millimetre = small;
    assert_eq!(found(circle, &controller), ["R0620"]);
}
