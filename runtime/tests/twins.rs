//! Twins: the same motion written in two ways gives the same trace, and a small change does not.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "tests")]

mod common;

use borewright_runtime::checks::{Comparison, compare, totals};
use common::{generic, near};

#[track_caller]
fn same(one: &str, other: &str, tolerance: f64) {
    let (one, other) = (generic(one), generic(other));
    assert!(one.is_clean(), "{:#?}", one.diagnostics);
    assert!(other.is_clean(), "{:#?}", other.diagnostics);
    match compare(&one, &other) {
        Comparison::Same(d) => {
            let worst = d.ends.max(d.centres).max(d.feeds).max(d.turns);
            assert!(worst <= tolerance, "{d:?}");
        }
        Comparison::Different(index) => panic!("move {index}"),
    }
}

fn worst(one: &str, other: &str) -> f64 {
    match compare(&generic(one), &generic(other)) {
        Comparison::Same(d) => d.ends.max(d.centres).max(d.feeds).max(d.turns),
        Comparison::Different(_) => f64::INFINITY,
    }
}

const BLOCKS: &str = "G21 G17 G90 G94\nG0 X10. Y0.\nG1 Z-1. F100.\nG3 X0. Y10. I-10. J0.\nG1 X-5.\nM30\n";

#[test]
fn incremental_and_absolute_agree() {
    let incremental = "G21 G17 G91 G94\nG0 X10. Y0\nG1 Z-501. F100.\nG3 X-10. Y10. I-10. J0.\nG1 X-5.\nM30\n";
    same(BLOCKS, incremental, 1e-12);
}

#[test]
fn centre_and_radius_formats_agree() {
    same(BLOCKS, &BLOCKS.replace("I-10. J0.", "R10."), 1e-12);
}

#[test]
fn variables_and_plain_numbers_agree() {
    let computed =
        "#1=10.\nG21 G17 G90 G94\nG0 X#1 Y0\nG1 Z-[#1/10.] F[#1*10.]\nG3 X0 Y#1 I-#1 J0\nG1 X[-#1/2.]\nM30\n";
    same(BLOCKS, computed, 1e-12);
}

#[test]
fn modal_words_may_be_left_out() {
    same("G21 F9.\nG1 X1.\nG1 Y1.\nG1 Y2.\nM30\n", "G21 F9.\nG1 X1.\nY1.\nY2.\nM30\n", 0.0);
}

#[test]
fn a_subprogram_and_its_copy_agree() {
    let called = "O1\nG21 G91 F9.\nM98 P2 L2\nM30\nO2\nG1 X1.\nG1 Y-1.\nM99\n";
    same("G21 G91 F9.\nG1 X1.\nY-1.\nX1.\nY-1.\nM30\n", called, 0.0);
}

#[test]
fn small_changes_show() {
    for (from, to, least) in [
        ("X-5.", "X-5.001", 9e-4),
        ("F100.", "F101.", 0.9),
        ("I-10. J0.", "I-9.999 J0.001", 9e-4),
        ("G3 X0. Y10. I-10. J0.", "G2 X0. Y10. I-10. J0.", f64::INFINITY),
        ("G1 X-5.", "G0 X-5.", f64::INFINITY),
        ("M30", "G1 Y1.\nM30", f64::INFINITY),
    ] {
        assert!(worst(BLOCKS, &BLOCKS.replace(from, to)) >= least, "{from} -> {to}");
    }
}

#[test]
fn totals_add_up() {
    let trace = generic("G21 G90 G0 X3. Y4. Z500.\nG1 Z490. F60.\nG3 X3. I-3.\nG4 P2.\nM30\n");
    let totals = totals(&trace);
    near(totals.rapid, 5.0, 1e-12);
    near(totals.cutting, 10.0 + 6.0 * std::f64::consts::PI, 1e-12);
    near(totals.seconds, totals.cutting + 2.0, 1e-9);
    assert_eq!((totals.untimed, totals.lowest), (1, Some(490.0)));
}
