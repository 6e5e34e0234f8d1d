//! Bad input gets a message with a code, never a panic, and never takes long.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]

mod common;

use std::fmt::Write as _;

use borewright_runtime::state::Units;
use borewright_runtime::{Controller, RunOptions, decode, read, run};
use common::{FILE, codes, generic};
use proptest::prelude::*;

#[test]
fn an_empty_text_runs_to_its_end() {
    for text in ["", "\n", "%\n%\n", "\u{feff}", "   \t\r\n"] {
        let trace = generic(text);
        assert!(trace.is_clean() && trace.moves.is_empty(), "{text:?}");
    }
}

#[test]
fn ten_thousand_brackets_are_refused_without_overflow() {
    for open in ["[", "SIN[", "-", "#", "#[", "ATAN[1]/["] {
        let text = format!("#1={}1\nM30\n", open.repeat(10_000));
        assert_eq!(codes(&text), ["R0609"], "{open}");
    }
}

#[test]
fn a_megabyte_in_one_line_is_read() {
    let sum = format!("#100={}\nM30\n", vec!["1"; 500_000].join("+"));
    let trace = generic(&sum);
    assert_eq!(trace.diagnostics.iter().map(|d| d.code.number).collect::<Vec<_>>(), ["R0613"; 0]);
    common::near(common::variable(&trace, 100).unwrap(), 500_000.0, 0.0);
    let words = "X1".repeat(50_000);
    assert_eq!(codes(&words).len(), 49_999);
    assert_eq!(codes(&"9".repeat(1_000_000)), ["R0603"]);
    assert_eq!(codes(&format!("X{}", "9".repeat(1_000_000))), ["R0624"]);
    assert_eq!(codes(&format!("({}", "x".repeat(1_000_000))), ["R0601"]);
}

#[test]
fn bytes_that_are_no_text_are_reported_outside_remarks_only() {
    let (program, found) = read(FILE, &decode(b"(\xff\xfe) G0 X1.\nG0 X\xff2.\nM30\n"));
    let found = found.into_sorted();
    assert_eq!(
        found.iter().map(|d| (d.code.number, d.message.as_str())).collect::<Vec<_>>(),
        [("R0604", "a value is missing here")]
    );
    assert_eq!(program.bodies[0].blocks.len(), 3);
}

#[test]
fn control_characters_are_reported_by_number() {
    let (_, found) = read(FILE, "G0 X1.\0\nM30\n");
    let found = found.into_sorted();
    assert_eq!(found[0].message, "a control character (code 0) in the line");
    let (_, found) = read(FILE, "G0 X1. \u{7f}\n");
    assert_eq!(found.into_sorted()[0].code.number, "R0603");
}

#[test]
fn line_ends_of_both_kinds_and_tabs_are_read_alike() {
    let unix = "O1\nG21 G90 F100.\n\tG1 X1. (é)\n\nG1 Y2.\nM30\n";
    let (one, two) = (generic(unix), generic(&unix.replace('\n', "\r\n")));
    assert!(one.is_clean() && two.is_clean());
    assert_eq!(one.moves, two.moves);
}

#[test]
fn a_letter_outside_ascii_before_an_error_does_not_shift_its_place() {
    let text = "(größe µ) G0 X1. X2.\n";
    let (_, found) = read(FILE, text);
    let span = found.into_sorted()[0].span.unwrap();
    assert_eq!(&text[span.range()], "X2.");
}

#[test]
fn all_errors_of_a_text_are_reported_in_order() {
    let text = "G0 X\nG0 X1. (fine)\nG0 G1 X1.\nEND1\n(open\nG0 Z5.\n";
    let (program, found) = read(FILE, text);
    let lines: Vec<_> =
        found.into_sorted().iter().map(|d| text[..d.span.unwrap().range().start].lines().count()).collect();
    assert_eq!(lines, [1, 3, 3, 4]);
    assert_eq!(program.bodies[0].blocks.len(), 6);
}

#[test]
fn numbers_of_any_size_do_not_overflow() {
    for text in [
        "#1=999999999999999999*999999999999999999*999999999999999999",
        "G999999999 X1.",
        "M99999999999999",
        "N4294967295 G0 X1.",
        "O999999999",
        "GOTO 4294967295",
        "#4294967295=1",
        "#1=EXP[700]*EXP[700]",
        "G65 P1 L4294967295",
        "#1=10**300*10**300",
        "#1=0.000000000000000000000000000000000001",
        "G10 L2 P99999",
        "T[1/0.000000000001]",
        "G4 P1000000000000",
        "WHILE [1] DO999999999",
    ] {
        let (program, _) = read(FILE, text);
        let options = RunOptions { budget: 1000, ..RunOptions::default() };
        let _ = run(&program, &Controller::generic(Units::Millimetre), &options);
    }
}

/// Text that looks like controller text, and some that does not.
fn texts() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        4 => "[GMXYZIJKRFSTNOPLHD]-?[0-9]{0,3}\\.?[0-9]{0,2}",
        2 => "#[0-9]{1,4}(=| )",
        2 => prop::sample::select(vec![
            "[", "]", "(", ")", "\n", "\r\n", " ", "%", "/", "=", "IF", "THEN", "GOTO", "WHILE", "DO1", "END1", "EQ", "LT",
            "AND", "SIN[", "ATAN[1]/[", "**", "-", "G65P1", "M98P1", "M99", "M30", "G28", "G91", "#0", "#3000=1", "\0", "é",
            "\u{feff}", "G2", "G3", "F100", "O1\n", "N1 ",
        ]).prop_map(str::to_owned),
    ];
    prop::collection::vec(piece, 0..60).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn reading_and_running_never_panics(text in texts()) {
        let (program, _) = read(FILE, &text);
        for controller in [Controller::generic(Units::Millimetre), Controller::nistir_6556()] {
            let options = RunOptions { budget: 300, keep_going: true, skip: true, ..RunOptions::default() };
            let trace = run(&program, &controller, &options);
            let _ = (trace.to_json(), trace.to_csv(), trace.to_table());
        }
    }

    #[test]
    fn reading_any_bytes_never_panics(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let text = decode(&bytes);
        let (program, found) = read(FILE, &text);
        // Nothing is lost: each line that is not blank is a block, a program number or the end of the text.
        let blocks: usize = program.bodies.iter().map(|b| b.blocks.len()).sum();
        prop_assert!(blocks <= text.split('\n').count());
        for diagnostic in found.into_sorted() {
            let span = diagnostic.span.unwrap().range();
            prop_assert!(text.get(span).is_some(), "a span off the characters");
        }
    }

    #[test]
    fn a_number_is_kept_exactly(whole in -99_999i64..99_999, part in 0u32..1_000_000) {
        let written = format!("{}{}.{part:06}", if whole < 0 { "-" } else { "" }, whole.abs());
        let number = borewright_runtime::text::Number::parse(&written).unwrap();
        prop_assert_eq!(number.float, written.parse::<f64>().unwrap());
        let exact = borewright_number::Rational::from_decimal(&written);
        prop_assert_eq!(borewright_number::Rational::from_decimal(&number.text()), exact);
    }

    #[test]
    fn an_arc_trace_is_continuous_and_its_ends_lie_on_one_circle(
        points in prop::collection::vec((-50.0..50.0f64, -50.0..50.0f64, 0.5..60.0f64, any::<bool>()), 1..12)
    ) {
        let mut text = String::from("G21 G17 G90 G94 F100.\nG0 X0 Y0 Z0\n");
        let mut at = (0.0, 0.0);
        for (x, y, extra, ccw) in points {
            let half = f64::midpoint(0.0, ((x - at.0) * (x - at.0) + (y - at.1) * (y - at.1)).sqrt());
            if half < 0.01 {
                continue;
            }
            let code = if ccw { "G3" } else { "G2" };
            writeln!(text, "{code} X{x:.6} Y{y:.6} R{:.6}", half + extra).unwrap();
            at = (x, y);
        }
        text.push_str("M30\n");
        let trace = generic(&text);
        prop_assert!(trace.is_clean(), "{:#?}", trace.diagnostics);
        for pair in trace.moves.windows(2) {
            prop_assert_eq!(pair[0].to, pair[1].from);
        }
        for arc in trace.moves.iter().filter(|m| m.centre.is_some()) {
            let [x, y, _] = arc.centre.unwrap();
            let radius = |p: [f64; 3]| ((p[0] - x).powi(2) + (p[1] - y).powi(2)).sqrt();
            prop_assert!((radius(arc.from) - radius(arc.to)).abs() < 1e-9);
            prop_assert!(arc.turns.unwrap() > 0.0 && arc.turns.unwrap() <= 0.5 + 1e-9);
        }
    }
}
