//! Jobs in macro form: a main program and its subprograms, run together and held against the exact motion.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may stop at what it did not expect")]
#![allow(clippy::indexing_slicing, reason = "files are counted by hand here")]

mod common;

use borewright_emit::{EmittedFile, Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::{Around, Expr, Limits, Motion, Point, unroll};
use borewright_number::Rational;
use common::running::{Sizes, clean, compare_within, files, traced};
use common::{finish_bore, gearbox, gearbox_round, gearbox_with, num};
use proptest::prelude::*;

fn macros(motion: &Motion, machine: &Machine) -> Vec<EmittedFile> {
    files(motion, machine, Form::Macro, &Sizes::new())
}

/// Runs the main program with its subprograms; ends within so many units of the last decimal.
fn runs(motion: &Motion, machine: &Machine, units: f64) {
    let files = macros(motion, machine);
    let subprograms: Vec<&str> = files[1..].iter().map(|f| f.text.as_str()).collect();
    let trace = clean(traced(&files[0].text, &subprograms, machine));
    compare_within(&trace, &unroll(motion, &Sizes::new(), Limits::default()).unwrap(), machine, units);
}

/// The control calls programs, but takes no arguments by letters.
fn without_letters() -> Machine {
    let mut machine = Machine::builtin("hash-mm").unwrap();
    machine.calls.macro_call = None;
    machine
}

#[test]
fn a_job_as_a_main_program_and_a_subprogram() {
    let machine = Machine::builtin("hash-mm").unwrap();
    let files = macros(&gearbox(), &machine);
    let names: Vec<_> = files.iter().map(|f| (f.name.as_str(), f.program)).collect();
    assert_eq!(names, [("O1200.nc", Some(1200)), ("O1100.nc", Some(1100))]);
    insta::assert_snapshot!(files[0].text);
}

#[test]
fn the_subprogram_of_a_job() {
    let machine = Machine::builtin("hash-mm").unwrap();
    insta::assert_snapshot!(macros(&gearbox(), &machine)[1].text);
}

#[test]
fn without_letters_the_main_program_sets_the_variables() {
    let files = macros(&gearbox(), &without_letters());
    insta::assert_snapshot!(files[0].text);
}

#[test]
fn main_and_subprograms_make_the_motion_of_the_job() {
    runs(&gearbox(), &Machine::builtin("hash-mm").unwrap(), 1.0);
    runs(&gearbox(), &without_letters(), 1.0);
    // 62.015 mm is no whole number of ten-thousandths of an inch: the arguments are rounded as well.
    runs(&gearbox(), &Machine::builtin("hash-inch").unwrap(), 2.0);
}

#[test]
fn routines_without_a_number_are_numbered_after_the_job() {
    let mut motion = gearbox();
    let bare = Motion { program: None, ..finish_bore() };
    for step in &mut motion.body {
        if let borewright_motion::Action::With { body, .. } = &mut step.action
            && let Some(borewright_motion::Action::Call(call)) = body.last_mut().map(|s| &mut s.action)
        {
            call.routine = std::sync::Arc::new(bare.clone());
        }
    }
    let machine = Machine::builtin("hash-mm").unwrap();
    let files = macros(&motion, &machine);
    assert_eq!(files.iter().map(|f| f.name.as_str()).collect::<Vec<_>>(), ["O1200.nc", "O1201.nc"]);
    assert!(files[0].text.contains("G65 P1201 "), "{}", files[0].text);
    assert!(files[1].text.starts_with("%\nO1201 "));
}

fn round(radius: &str, first: &str, step: (i64, i64)) -> Around<Expr> {
    let step = Rational::ratio(step.0, step.1).unwrap();
    Around { radius: num(radius), first: num(first), step: Expr::number(step) }
}

#[test]
fn places_that_are_counted_make_the_motion_of_the_job() {
    for (count, around) in [
        (11, round("110mm", "-90deg", (360, 11))),
        (5, round("66.85mm", "0deg", (-83, 2))),
        (2, round("4.3in", "33.333deg", (180, 1))),
    ] {
        let motion = gearbox_round(count, &around);
        for (name, units) in [("hash-mm", 1.0), ("hash-inch", 2.0)] {
            let machine = Machine::builtin(name).unwrap();
            let main = &macros(&motion, &machine)[0].text;
            assert_eq!(main.matches("G65 P1100").count(), 1, "{main}");
            runs(&motion, &machine, units);
        }
    }
}

#[test]
fn a_loop_over_places_is_written_by_its_circle() {
    let machine = Machine::builtin("hash-inch").unwrap();
    let motion = gearbox_round(7, &round("40mm", "15deg", (360, 7)));
    let main = &macros(&motion, &machine)[0].text;
    let (_, after) = main.split_once("PLACES ROUND A CIRCLE, COUNTED)").unwrap();
    let (text, _) = after.split_once("END 1").unwrap();
    insta::assert_snapshot!(text);
}

#[test]
fn places_are_not_counted_where_the_control_cannot_or_where_there_is_one() {
    let around = round("40mm", "15deg", (120, 1));
    let motion = gearbox_round(3, &around);
    let mut machine = Machine::builtin("hash-mm").unwrap();
    machine.flow.while_do = false;
    assert_eq!(refused(&motion, &machine), "E0739");
    assert_eq!(refused(&motion, &without_letters()), "E0739");
    let mut machine = Machine::builtin("hash-mm").unwrap();
    machine.variables.common.clear();
    assert_eq!(refused(&motion, &machine), "E0721", "no variables, no macro");
    // The twin that lists its places needs no loop.
    let mut machine = Machine::builtin("hash-mm").unwrap();
    machine.flow.while_do = false;
    runs(&gearbox(), &machine, 1.0);
    let one = &macros(&gearbox_round(1, &around), &Machine::builtin("hash-mm").unwrap())[0].text;
    assert!(!one.contains("WHILE"), "{one}");
}

fn refused(motion: &Motion, machine: &Machine) -> String {
    let found = emit_unproved(motion, machine, Form::Macro, &Settings::default()).unwrap_err();
    found.iter().map(|d| d.code.number).collect()
}

#[test]
fn numbers_that_collide_or_are_kept_are_refused() {
    let machine = Machine::builtin("hash-mm").unwrap();
    let numbered = |n: &str| Motion { program: Some(num(n)), ..gearbox() };
    assert_eq!(refused(&numbered("1100"), &machine), "E0720", "the number of its own routine");
    assert_eq!(refused(&numbered("8500"), &machine), "E0720", "a number that the machine keeps");
    assert_eq!(refused(&Motion { program: None, ..gearbox() }, &machine), "E0729");
    let mut alone = without_letters();
    alone.calls.subprogram = None;
    assert_eq!(refused(&gearbox(), &alone), "E0729");
}

fn thousandths(value: i64) -> String {
    format!("{}mm", Rational::ratio(value, 1000).unwrap().decimal_text(3))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    #[test]
    fn jobs_of_random_sizes_make_their_motion(
        gap in 1000i64..40_000, stock in 100i64..4_000, depth in 1000i64..29_000, passes in 1i64..9,
        start in -360_000i64..360_000, x in -300_000i64..300_000, y in -300_000i64..300_000, inch: bool,
    ) {
        let pilot = 12_000 + gap;
        let bore = thousandths(pilot + stock);
        // Not whole quotients, so that rounded arguments give as many passes.
        let stepdown = thousandths((depth / passes + 37).min(depth));
        let angle = format!("{}deg", Rational::ratio(start, 1000).unwrap().decimal_text(3));
        let (pilot, depth) = (thousandths(pilot), thousandths(depth));
        let sizes = [
            ("bore", bore.as_str()), ("pilot", &pilot), ("tool", "12mm"), ("depth", &depth),
            ("stepdown", &stepdown), ("start", &angle), ("cut", "400mm/min"),
        ];
        let seats = [
            Point::new(num(&thousandths(x)), num(&thousandths(y))),
            Point::new(num(&thousandths(-x)), Expr::zero()),
        ];
        let motion = gearbox_with(&sizes, &seats);
        let machine = Machine::builtin(if inch { "hash-inch" } else { "hash-mm" }).unwrap();
        runs(&motion, &machine, if inch { 3.0 } else { 1.0 });
    }
}
