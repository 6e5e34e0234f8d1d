//! Both forms run on the virtual controller and compared with the exact motion, at many sizes.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may stop at what it did not expect")]
#![allow(clippy::indexing_slicing, reason = "coordinates are counted by hand here")]

mod common;

use borewright_emit::Form;
use borewright_machine::Machine;
use borewright_motion::{Limits, Motion, Symbol, unroll};
use borewright_number::Rational;
use common::running::{Sizes, clean, compare, text, traced};
use common::{finish_bore, gearbox};
use proptest::prelude::*;

/// A digit text in the machine's unit.
fn word(value: &Rational, machine: &Machine, length: bool) -> String {
    let value = if length { value / &machine.unit() } else { value.clone() };
    let digits = value.decimal_text(9);
    if digits.contains('.') { digits } else { format!("{digits}.") }
}

/// A program that calls the macro with these sizes.
fn caller(motion: &Motion, machine: &Machine, sizes: &Sizes) -> String {
    let arguments: String = motion
        .parameters
        .iter()
        .filter_map(|p| Some((p.letter?, word(sizes.get(&p.symbol)?, machine, p.dimension.length == 1))))
        .map(|(letter, value)| format!(" {letter}{value}"))
        .collect();
    let units = if machine.inch() { "G20" } else { "G21" };
    format!("%\nO1\n{units} G17 G40 G80 G90 G94 G43 H1\nS1000 M3\nG65 P1100{arguments}\nM30\n%\n")
}

fn both_forms(sizes: &Sizes, unit: &str) {
    let motion = finish_bore();
    let exact = unroll(&motion, sizes, Limits::default()).unwrap();
    let blocks = Machine::builtin(&format!("blocks-{unit}")).unwrap();
    let trace = traced(&text(&motion, &blocks, Form::Blocks, sizes), &[], &blocks);
    // A fragment: the spindle is not its business.
    compare(&trace, &exact, &blocks);
    let hash = Machine::builtin(&format!("hash-{unit}")).unwrap();
    let program = text(&motion, &hash, Form::Macro, &Sizes::new());
    let trace = clean(traced(&caller(&motion, &hash, sizes), &[&program], &hash));
    compare(&trace, &exact, &hash);
}

#[test]
fn a_control_with_fewer_forms_makes_the_same_motion() {
    // Without WHILE, without THEN, without both; then two levels of brackets less, and no room for a second loop.
    let cases: [fn(&mut Machine); 4] = [
        |m| m.flow.while_do = false,
        |m| m.flow.if_then = false,
        |m| (m.flow.while_do, m.flow.if_then) = (false, false),
        |m| (m.expressions.nesting, m.flow.loop_nesting) = (3, 0),
    ];
    let sizes = common::values(&[
        ("bore", "50mm"),
        ("pilot", "47mm"),
        ("tool", "12mm"),
        ("depth", "12mm"),
        ("stepdown", "4mm"),
        ("start", "30deg"),
        ("cut", "400mm/min"),
    ]);
    let exact = unroll(&finish_bore(), &sizes, Limits::default()).unwrap();
    for less in cases {
        let mut machine = Machine::builtin("hash-mm").unwrap();
        less(&mut machine);
        let program = text(&finish_bore(), &machine, Form::Macro, &Sizes::new());
        assert!(machine.flow.while_do || !program.contains("WHILE"), "{program}");
        assert!(machine.flow.if_then || !program.contains("THEN"), "{program}");
        let trace = clean(traced(&caller(&finish_bore(), &machine, &sizes), &[&program], &machine));
        compare(&trace, &exact, &machine);
    }
}

#[test]
fn sizes_exactly_on_their_limits_pass_and_sizes_that_must_be_off_them_do_not() {
    let machine = Machine::builtin("hash-mm").unwrap();
    let program = text(&finish_bore(), &machine, Form::Macro, &Sizes::new());
    let run = |call: &str| {
        let main = format!("%\nO1\nG21 G17 G40 G80 G90 G94 G43 H1\nS1000 M3\nG65 P1100 {call}\nM30\n%\n");
        let trace = traced(&main, &[&program], &machine);
        trace.alarms.iter().map(|a| a.text.clone()).collect::<String>()
    };
    for k in 1..40 {
        // tool + 0.2 = pilot and tool + 0.8 = bore: the default of the lead is 0.2 then, its least value, which floats miss.
        let tool = f64::from(k * 1037) / 1000.0 + 6.1;
        let call = |bore: f64, pilot: f64| format!("B{bore:.3} H{pilot:.3} T{tool:.3} D3. F400.");
        assert_eq!(run(&call(tool + 0.8, tool + 0.2)), "", "{tool}");
        assert_eq!(run(&call(tool + 0.2 + 2.0 * tool, tool + 0.2)), "", "{tool}");
        assert_eq!(run(&call(tool + 3.0, tool + 3.0)), "PILOT NOT BELOW SIZE");
        assert_eq!(
            run(&call(tool + 0.799, tool + 0.2)),
            "NO ROOM FOR A LEAD ARC",
            "a thousandth below the limit: in the words of the author, not as a lead that comes out of it"
        );
    }
}

#[test]
fn a_control_that_compares_nothing_makes_the_same_motion() {
    // NISTIR 6556: parameters and expressions (3.3.2), no tests and no calls.
    let machine = Machine::builtin("rs274ngc").unwrap();
    for (start, depth) in [("0deg", "10mm"), ("30deg", "12mm"), ("-200deg", "3mm")] {
        let sizes = common::values(&[
            ("bore", "50mm"),
            ("pilot", "47mm"),
            ("tool", "12mm"),
            ("depth", depth),
            ("stepdown", "4mm"),
            ("start", start),
            ("cut", "400mm/min"),
        ]);
        let program = text(&finish_bore(), &machine, Form::Macro, &sizes);
        // Nothing sets the spindle or the length offset in a routine.
        let trace = traced(&format!("G43 H1\nS1000 M3\n{}", program.replace('%', "")), &[], &machine);
        compare(&clean(trace), &unroll(&finish_bore(), &sizes, Limits::default()).unwrap(), &machine);
    }
}

#[test]
fn a_depth_of_whole_steps_takes_no_step_more() {
    let machine = Machine::builtin("hash-mm").unwrap();
    let program = text(&finish_bore(), &machine, Form::Macro, &Sizes::new());
    for step in [0.1, 0.3, 0.7, 1.1, 2.3, 3.9] {
        for count in 1..30 {
            let depth = step * f64::from(count);
            let main = |depth: f64| {
                format!(
                    "%\nO1\nG21 G17 G40 G80 G90 G94 G43 H1\nS1000 M3\nG65 P1100 B50. H47. T12. D{depth:.3} Q{step:.3} F400.\nM30\n%\n"
                )
            };
            let passes = |depth: f64| {
                let trace = clean(traced(&main(depth), &[&program], &machine));
                let turns = trace.moves.iter().filter(|m| m.turns.is_some_and(|t| t > 0.999)).count();
                i32::try_from(turns).unwrap()
            };
            assert_eq!((passes(depth), passes(depth + 0.001)), (count, count + 1), "{count} steps of {step}");
        }
    }
}

fn thousandths(value: i64) -> Rational {
    Rational::ratio(value, 1000).unwrap()
}

#[test]
fn a_job_runs_clean_from_its_first_block_to_its_last() {
    for name in ["blocks-mm", "hash-mm", "rs274ngc"] {
        let machine = Machine::builtin(name).unwrap();
        let trace = clean(traced(&text(&gearbox(), &machine, Form::Blocks, &Sizes::new()), &[], &machine));
        compare(&trace, &unroll(&gearbox(), &Sizes::new(), Limits::default()).unwrap(), &machine);
    }
}

#[test]
fn a_macro_refuses_before_it_moves() {
    let machine = Machine::builtin("hash-mm").unwrap();
    let program = text(&finish_bore(), &machine, Form::Macro, &Sizes::new());
    let head = "%\nO1\nG21 G17 G40 G80 G90 G94 G43 H1\nS1000 M3\n";
    let alarm = |call: &str| {
        let trace = traced(&format!("{head}{call}\nM30\n%\n"), &[&program], &machine);
        assert!(trace.moves.is_empty(), "{call}: {:?}", trace.moves);
        trace.alarms.iter().map(|a| a.text.clone()).collect::<Vec<_>>().join("; ")
    };
    assert_eq!(alarm("G65 P1100 H47. T12. D10. F400."), "B BORE IS MISSING");
    assert_eq!(alarm("G65 P1100 B0. H47. T12. D10. F400."), "BORE: 6. TO 300. MM");
    assert_eq!(alarm("G65 P1100 B50. H12.1 T12. D10. F400."), "CUTTER TOO WIDE FOR PILOT");
    assert_eq!(alarm("G65 P1100 B50. H50. T12. D10. F400."), "PILOT NOT BELOW SIZE");
    assert_eq!(alarm("G65 P1100 B50. H47. T12. D10. F400. R19."), "LEAD ARC TOO BIG");
    assert_eq!(alarm("G65 P1100 B80. H47. T12. D10. F400."), "TOO MUCH STOCK FOR A TURN");
    assert_eq!(alarm("G20\nG65 P1100 B50. H47. T12. D10. F400."), "PROGRAM IS IN MM");
    assert_eq!(alarm("G49\nG65 P1100 B50. H47. T12. D10. F400."), "LENGTH OFFSET IS OFF");
    assert_eq!(alarm("G65 P1100 B50. H47. T12. D-10. F400."), "DEPTH: 0.1 TO 120. MM");
}

#[test]
fn the_callers_modes_are_put_back() {
    let machine = Machine::builtin("hash-mm").unwrap();
    let program = text(&finish_bore(), &machine, Form::Macro, &Sizes::new());
    let main = "%\nO1\nG21 G17 G40 G80 G90 G94 G43 H1\nS1000 M3\nG91\nG65 P1100 B50. H47. T12. D10. F400.\n\
                G0 X1.\nM30\n%\n";
    let trace = clean(traced(main, &[&program], &machine));
    let last = trace.moves.last().unwrap();
    assert!((last.to[0] - 1.0).abs() < 1e-9, "incremental again: from the centre by 1: {last:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]
    #[test]
    fn both_forms_follow_the_exact_motion(
        tool in 2000i64..50_000, gap in 1000i64..40_000, stock in 100i64..4_000, depth in 100i64..120_000,
        passes in 1i64..9, start in -360_000i64..360_000, lead in 200i64..1000, cut in 100i64..5000, inch: bool,
    ) {
        // Sizes in steps of the machine: a thousandth of a mm, or a ten-thousandth of an inch.
        let (unit, scale) = if inch { ("inch", Rational::ratio(254, 100_000).unwrap()) } else { ("mm", thousandths(1)) };
        let fit = |n: i64| if inch { n * 39 / 100 } else { n };
        let of = |n: i64| Rational::from(n) * &scale;
        let (tool, gap, stock, depth) = (fit(tool), fit(gap), fit(stock), fit(depth).max(50));
        let pilot = tool + gap;
        let bore = pilot + stock;
        // Not whole quotients, so that no rounding of the control decides the count.
        let stepdown = (depth / passes + 3).min(depth);
        let wall = (bore - tool) / 2;
        let lead = (wall * lead / 1200).max(fit(210));
        prop_assume!(lead * 10 <= wall * 9 - 10 && stock < tool);
        let sizes: Sizes = [
            ("bore", of(bore)), ("pilot", of(pilot)), ("tool", of(tool)), ("depth", of(depth)),
            ("stepdown", of(stepdown)), ("start", thousandths(start)), ("lead", of(lead)),
            ("cut", if inch { Rational::ratio(254 * cut.min(1900), 100).unwrap() / Rational::from(10) } else { Rational::from(cut) }),
        ].into_iter().map(|(name, value)| (Symbol::new(name), value)).collect();
        prop_assume!(borewright_motion::bind(&finish_bore(), &sizes).is_ok());
        both_forms(&sizes, unit);
    }
}
