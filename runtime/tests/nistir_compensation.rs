//! Cutter radius compensation: the rules of NISTIR 6556, section 3.5.10 and appendix B, and plain geometry.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]

mod common;

use borewright_machine::Machine;
use borewright_number::Interval;
use borewright_runtime::state::{Axis, Units};
use borewright_runtime::{Controller, RunOptions, Trace, execute, read};
use common::{FILE, near, trace, variable};

fn offsets(entries: &[(u32, f64)]) -> RunOptions<'static> {
    RunOptions { cutter_offsets: entries.iter().copied().collect(), ..RunOptions::default() }
}

/// Runs blocks on the controller of NISTIR 6556 in its inches, with these diameters in the tool table.
fn run(text: &str, entries: &[(u32, f64)]) -> Trace {
    let text = format!("g17 g90 g94 f10\n{text}\nm2\n");
    trace(&text, &Controller::nistir_6556(), &offsets(entries))
}

fn codes(trace: &Trace) -> Vec<&'static str> {
    trace.diagnostics.iter().map(|d| d.code.number).collect()
}

fn clean(text: &str, entries: &[(u32, f64)]) -> Trace {
    let trace = run(text, entries);
    assert!(trace.is_clean(), "{text}: {:#?}", trace.diagnostics);
    trace
}

fn hash() -> Controller {
    Controller::from(&Machine::builtin("hash-mm").unwrap())
}

fn far(a: [f64; 3], b: [f64; 2]) -> f64 {
    ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)).sqrt()
}

#[test]
fn the_cutter_runs_left_of_the_path_with_g41_and_right_of_it_with_g42() {
    // NISTIR 6556, section 3.5.10: left and right, looking along the path, for a radius above 0.
    for (code, y) in [("g41", 0.5), ("g42", -0.5)] {
        let ran = clean(&format!("{code} d1 g1 x4 y0\nx8\nx9"), &[(1, 1.0)]);
        let [x, at, _] = ran.moves.last().unwrap().to;
        near(x, 9.0, 1e-12);
        near(at, y, 1e-12);
    }
}

#[test]
fn a_negative_offset_compensates_on_the_other_side() {
    // NISTIR 6556, appendix B.4: a path made for a diameter of 1.0 and a tool of 0.97: the table holds -0.03.
    let circle = |d: f64, code: &str| {
        clean(&format!("g0 x-0.5 y-2\n{code} d1 g1 x0 y-2\ng3 x0 y-2 i0 j2\ng40 g1 x-0.5 y-1"), &[(1, d)])
    };
    let smaller = circle(-0.03, "g41");
    // The cutter is smaller than meant by 0.015: its centre runs that much further out.
    near(far(smaller.moves.iter().rev().nth(1).unwrap().to, [0.0, 0.0]), 2.015, 1e-9);
    near(far(circle(0.03, "g42").moves.iter().rev().nth(1).unwrap().to, [0.0, 0.0]), 2.015, 1e-9);
    near(far(circle(0.03, "g41").moves.iter().rev().nth(1).unwrap().to, [0.0, 0.0]), 1.985, 1e-9);
}

#[test]
fn offset_zero_is_a_radius_of_zero() {
    // NISTIR 6556, section 3.5.10: D0 is allowed and means 0.
    let ran = clean("g41 d0 g1 x4 y0\ng3 x4 y4 i0 j2\ng1 x0\ng40 g1 x0 y2", &[(1, 1.0)]);
    let ends: Vec<_> = ran.moves.iter().map(|m| [m.to[0], m.to[1]]).collect();
    assert_eq!(ends, [[4.0, 0.0], [4.0, 4.0], [0.0, 4.0], [0.0, 2.0]]);
}

#[test]
fn without_d_the_tool_in_the_spindle_counts_or_the_block_is_refused() {
    // The tool in the spindle: NISTIR 6556, section 3.5.10, from memory.
    let ran = clean("t3 m6\ng41 g1 x4 y0\nx8", &[(3, 1.0)]);
    near(ran.moves.last().unwrap().to[1], 0.5, 1e-12);
    assert_eq!(codes(&run("g41 g1 x4 y0", &[])), ["R0604"]);
    let text = "G21 G17 G90 F100.\nT3 M6\nG41 G1 X40. Y0.\nM30\n";
    assert_eq!(codes(&trace(text, &hash(), &offsets(&[]))), ["R0604"]);
}

#[test]
fn the_first_move_ends_with_the_cutter_beside_the_programmed_end() {
    // The reference interpreter, from memory: the way of the centre is tangent to the circle about the programmed end.
    let ran = clean("g0 x1 y-3\ng41 d1 g1 x4 y1", &[(1, 1.5)]);
    let entry = ran.moves.last().unwrap();
    near(far(entry.to, [4.0, 1.0]), 0.75, 1e-12);
    let way = [entry.to[0] - entry.from[0], entry.to[1] - entry.from[1]];
    let side = [4.0 - entry.to[0], 1.0 - entry.to[1]];
    near(way[0] * side[0] + way[1] * side[1], 0.0, 1e-12);
    assert!(way[0] * side[1] - way[1] * side[0] < 0.0, "the path lies to the right of the cutter");
    // Square to the programmed line where the machine file says so (common practice, no source).
    let text = "G21 G17 G90 G94 F100.\nG0 X10. Y-30.\nG41 D1 G1 X40. Y10.\nM30\n";
    let square = trace(text, &hash(), &offsets(&[(1, 15.0)]));
    assert!(square.is_clean(), "{:#?}", square.diagnostics);
    let to = square.moves.last().unwrap().to;
    near(to[0], 40.0 - 7.5 * 0.8, 1e-9);
    near(to[1], 10.0 + 7.5 * 0.6, 1e-9);
}

#[test]
fn compensation_goes_on_on_a_straight_way_longer_than_the_radius_only() {
    // NISTIR 6556, appendix B.3.1.1: the line before the entry arc is longer than the tool radius.
    assert_eq!(codes(&run("g41 d1 g1 x0.4 y0", &[(1, 1.0)])), ["R0634"]);
    assert_eq!(codes(&run("g41 d1 g1 x0.5 y0", &[(1, 1.0)])), ["R0634"]);
    clean("g41 d1 g1 x0.51 y0", &[(1, 1.0)]);
    assert_eq!(codes(&run("g41 d1 g3 x0 y4 i0 j2", &[(1, 1.0)])), ["R0621"]);
    assert_eq!(codes(&run("g41 d1 g1 x4 y0\ng40 g3 x4 y4 i0 j2", &[(1, 1.0)])), ["R0621"]);
}

#[test]
fn the_cutter_goes_around_an_outside_corner_and_refuses_an_inside_one() {
    // NISTIR 6556, appendix B.5.1: a concave corner is an error. Arcs around others: reference interpreter, from memory.
    let ran = clean("g42 d1 g1 x4 y0\nx8\ny5", &[(1, 1.0)]);
    let around = ran.moves.iter().rev().nth(1).unwrap();
    assert_eq!((around.from[0], around.from[1]), (8.0, -0.5));
    near(around.to[0], 8.5, 1e-12);
    near(around.to[1], 0.0, 1e-12);
    near(far(around.centre.unwrap(), [8.0, 0.0]), 0.0, 1e-12);
    for (text, d) in [("g41 d1 g1 x4 y0\nx8\ny5", 1.0), ("g42 d1 g1 x4 y0\nx8\ny-5", 1.0)] {
        assert_eq!(codes(&run(text, &[(1, d)])), ["R0633"], "{text}");
        // With a negative offset the cutter is on the other side.
        assert_eq!(codes(&run(text, &[(1, -d)])), Vec::<&str>::new(), "{text}");
    }
    assert_eq!(codes(&run("g41 d1 g1 x4 y0\nx8\nx5", &[(1, 1.0)])), ["R0633"], "back on itself");
    assert_eq!(codes(&run("g41 d0 g1 x4 y0\nx8\ny5", &[])), ["R0633"], "whatever the offset is today");
}

#[test]
fn an_arc_no_larger_than_the_cutter_inside_it_is_refused() {
    // NISTIR 6556, appendix B.5.1: the radius must be larger than that of the tool.
    let text = |r: f64| format!("g0 x-9 y0\ng41 d1 g1 x0 y0\nx4\ng3 x4 y{} i0 j{r}", 2.0 * r);
    assert_eq!(codes(&run(&text(0.5), &[(1, 1.0)])), ["R0634"]);
    assert_eq!(codes(&run(&text(0.49), &[(1, 1.0)])), ["R0634"]);
    let ran = clean(&text(0.51), &[(1, 1.0)]);
    near(far(ran.moves.last().unwrap().to, [4.0, 0.51]), 0.01, 1e-9);
    // Outside the arc there is room for any cutter.
    let outside = clean(&text(0.1).replace("g41", "g42"), &[(1, 1.0)]);
    near(far(outside.moves.last().unwrap().to, [4.0, 0.1]), 0.6, 1e-9);
}

#[test]
fn what_compensation_does_not_bear_is_refused() {
    // NISTIR 6556, section 3.5.10, appendix B.5 and sections 3.5.12 to 3.5.16.
    assert_eq!(codes(&run("g18\ng41 d1", &[])), ["R0632"]);
    for twice in ["g41 d1", "g42 d1"] {
        assert_eq!(codes(&run(&format!("g41 d1 g1 x4 y0\n{twice}"), &[])), ["R0632"]);
    }
    for block in [
        "g18",
        "g19",
        "g21",
        "g28 x0",
        "g53 g0 x0 y0",
        "g55",
        "g92 x1",
        "g92.1",
        "g10 l2 p1 x1",
        "g30",
        "g81 x1 z-1 r1",
    ] {
        assert_eq!(codes(&run(&format!("g41 d1 g1 x4 y0\n{block}"), &[])), ["R0632"], "{block}");
        let off = codes(&run(&format!("g41 d1 g1 x4 y0\ng40 g1 x0 y9\n{block}"), &[]));
        assert!(!off.contains(&"R0632"), "{block}");
    }
    for allowed in ["g17", "g20", "g90", "m8", "g4 p1", "g61", "f20"] {
        clean(&format!("g41 d1 g1 x4 y0\n{allowed}\nx8"), &[(1, 1.0)]);
    }
}

#[test]
fn the_feed_is_that_of_the_centre() {
    // NISTIR 6556, appendix B.1: the feed applies to the path of the cutter, not to the contour.
    let ran = clean("g41 d1 g1 x4 y0\ng3 x4 y4 i0 j2", &[(1, 1.0)]);
    assert!(ran.moves.iter().all(|m| m.feed == Some(10.0)), "{:?}", ran.moves);
}

#[test]
fn z_moves_alone_and_helices_keep_the_offset() {
    let ran =
        clean("g0 x2 y-4\ng41 d1 g1 x2 y2 z0\nz-1\ng3 x0 y4 z-1.5 i-2 j0\ng1 z1\ng40 g1 x0 y0", &[(1, 1.0)]);
    let ran_down = &ran.moves[2];
    assert_eq!((ran_down.from[0], ran_down.from[1]), (ran_down.to[0], ran_down.to[1]));
    near(far(ran_down.to, [2.0, 2.0]), 0.5, 1e-9);
    let up = &ran.moves[ran.moves.len() - 2];
    near(far(up.to, [0.0, 2.0]), 1.5, 1e-9);
    near(up.from[2], -1.5, 1e-12);
    assert_eq!(ran.moves.last().unwrap().to[..2], [0.0, 0.0]);
}

#[test]
fn the_way_off_names_both_axes_in_absolute_coordinates() {
    // Common practice, no source: controllers differ on what an axis left out means then.
    for (text, refused) in [
        ("g40 g1 x9 y9", false),
        ("g40 g1 x9", true),
        ("g40 g91 g1 x9 y9", true),
        ("g40 g0 z1", false),
        ("g40\ng40 g1 x9", true),
        ("g40 g53 g0 z1\ng0 x9", true),
    ] {
        let ran = run(&format!("g41 d1 g1 x4 y0\nx6\n{text}"), &[(1, 1.0)]);
        assert_eq!(codes(&ran), if refused { vec!["R0621"] } else { vec![] }, "{text}");
    }
    // The end of a program switches compensation off (NISTIR 6556, section 3.6.1).
    let ran = clean("g41 d1 g1 x4 y0\nx6", &[(1, 1.0)]);
    assert_eq!(ran.execution.registers.compensation, Some(false));
    near(ran.execution.registers.position.y, 0.5, 1e-12);
}

/// A circle in a bore of diameter 60 by a cutter of 12.1 in place of 12: on and off on lines, tangent arcs between.
const WALL: &str = "G0 X-5 Y-20 F200.\nG41 D1 G1 X10. Y-20.\nG3 X30. Y0 I0 J20.\nG3 X30. Y0 I-30. J0\n\
    G3 X10. Y20. I-20. J0\nG40 G1 X-5 Y20\n";
const CENTRE: &str = "G0 X-5 Y-14 F200.\nG41 D1 G1 X10. Y-14.\nG3 X24. Y0 I0 J14.\nG3 X24. Y0 I-24. J0\n\
    G3 X10. Y14. I-14. J0\nG40 G1 X-5 Y14\n";

#[test]
fn wall_with_radius_and_centre_with_wear_lead_the_cutter_along_one_circle() {
    let nist = |text: &str, d| {
        let text = format!("G21 G17 G90 G94\n{text}M2\n");
        let ran = trace(&text, &Controller::nistir_6556(), &offsets(&[(1, d / 25.4)]));
        assert!(ran.is_clean(), "{:#?}", ran.diagnostics);
        ran
    };
    let (wall, centre) = (nist(WALL, 12.1), nist(CENTRE, 0.1));
    for ran in [&wall, &centre] {
        let circle = ran.moves.iter().filter(|m| m.centre.is_some_and(|c| far(c, [0.0, 0.0]) < 1e-9));
        let radii: Vec<_> = circle.map(|m| far(m.to, [0.0, 0.0])).collect();
        assert_eq!(radii.len(), 1);
        near(radii[0], 23.95, 1e-9);
    }
}

#[test]
fn intervals_enclose_the_run_on_floats() {
    let text = format!("G21 G17 G90 G94\n{WALL}M2\n");
    let (program, found) = read(FILE, &text);
    assert!(!found.has_errors());
    let controller = Controller::nistir_6556();
    let options = offsets(&[(1, 12.1 / 25.4)]);
    let floats = execute(&program, &controller, &options, |x: f64| x);
    let enclosures = execute(&program, &controller, &options, |x| Interval::new(x - 1e-9, x + 1e-9));
    assert!(enclosures.errors.is_empty(), "{:?}", enclosures.errors);
    assert_eq!(floats.moves.len(), enclosures.moves.len());
    for (point, around) in floats.moves.iter().zip(&enclosures.moves) {
        for axis in Axis::ALL {
            let (at, within) = (*point.to.along(axis), around.to.along(axis));
            assert!(within.contains(at) && within.width() < 1e-4, "{at} in {within:?}");
        }
    }
}

#[test]
fn an_offset_is_stated_with_its_number_and_unit() {
    let of = |text: &str| borewright_runtime::parse_offset(FILE, text).map(|o| (o.d, o.value, o.units));
    assert_eq!(of("1=-0.05mm").unwrap(), (1, -0.05, Units::Millimetre));
    assert_eq!(of(" D12 = 0.5 in").unwrap(), (12, 0.5, Units::Inch));
    for wrong in ["1=0.05", "=1mm", "0.05mm", "-1=1mm", "1=mm", "1=infmm", "1=1e999mm", "x=1mm", "1=1cm"] {
        assert_eq!(of(wrong).unwrap_err().diagnostic.code.number, "R0630", "{wrong}");
    }
    let half = borewright_runtime::parse_offset(FILE, "1=0.5in").unwrap();
    near(half.within(Units::Millimetre), 12.7, 1e-12);
}

#[test]
fn a_macro_reads_which_side_is_on() {
    let text =
        "G21 G17 G90 G94 F100.\n#100=#4007\nG42 D1 G1 X40. Y0\n#101=#4007\nG40 G1 X80. Y0\n#102=#4007\nM30\n";
    let ran = trace(text, &hash(), &offsets(&[(1, 10.0)]));
    assert!(ran.is_clean(), "{:#?}", ran.diagnostics);
    assert_eq!([100, 101, 102].map(|v| variable(&ran, v).unwrap()), [40.0, 42.0, 40.0]);
}

#[test]
fn blocks_without_a_way_are_counted_where_the_machine_says_how_many_it_bears() {
    let text =
        |idle: &str| format!("G21 G17 G90 G94 F100.\nG41 D1 G1 X40. Y0\n{idle}X60.\nG40 G1 X80. Y0\nM30\n");
    for (idle, refused) in [("", false), ("M8\n", false), ("Z-1.\n", false), ("M8\n#100=1\n", true)] {
        let ran = trace(&text(idle), &hash(), &offsets(&[(1, 10.0)]));
        assert_eq!(codes(&ran), if refused { vec!["R0632"] } else { vec![] }, "{idle}");
    }
}

#[test]
fn the_machine_file_says_how_offsets_are_kept_and_how_large_they_may_be() {
    let text = "G21 G17 G90 G94 F100.\nG41 D1 G1 X40. Y0\nX60.\n#100=#2401\nM30\n";
    let table =
        "like = \"hash-mm\"\n[compensation]\nholds = \"radius\"\nvalues = [2401, 2420]\ngreatest = 8\n";
    let machine = borewright_machine::parse(FILE, table).unwrap();
    let ran = trace(text, &Controller::from(&machine), &offsets(&[(1, 8.0)]));
    assert!(ran.is_clean(), "{:#?}", ran.diagnostics);
    near(ran.moves.last().unwrap().to[1], 8.0, 1e-9);
    near(variable(&ran, 100).unwrap(), 8.0, 0.0);
    let beyond = trace(text, &Controller::from(&machine), &offsets(&[(1, 8.01)]));
    assert_eq!(codes(&beyond), ["R0634"]);
    let none = borewright_machine::parse(FILE, "like = \"hash-mm\"\n[compensation]\ngreatest = 0\n").unwrap();
    assert_eq!(codes(&trace(text, &Controller::from(&none), &offsets(&[]))), ["R0621"]);
}
