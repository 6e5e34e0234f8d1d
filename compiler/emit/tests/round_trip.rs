//! Both forms run on the virtual controller and compared with the exact motion, at many sizes.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may stop at what it did not expect")]
#![allow(clippy::indexing_slicing, reason = "coordinates are counted by hand here")]

mod common;

use std::collections::BTreeMap;

use borewright_base::FileId;
use borewright_emit::{Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::{FlatAction, FlatStep, Limits, Motion, Symbol, Value, unroll};
use borewright_number::Rational;
use borewright_runtime::trace::{Kind, TracedMove};
use borewright_runtime::{Controller, RunOptions, Trace, read, run};
use common::{finish_bore, gearbox};
use proptest::prelude::*;

type Sizes = BTreeMap<Symbol, Rational>;

fn text(motion: &Motion, machine: &Machine, form: Form, sizes: &Sizes) -> String {
    let settings = Settings { values: sizes.clone(), ..Settings::default() };
    let files = emit_unproved(motion, machine, form, &settings);
    files.unwrap_or_else(|d| panic!("{:?}", d.iter().collect::<Vec<_>>())).remove(0).text
}

fn traced(program: &str, with: Option<&str>, machine: &Machine) -> Trace {
    let (program, found) = read(FileId(0), program);
    assert!(!found.has_errors(), "{:?}", found.iter().collect::<Vec<_>>());
    let other = with.map(|text| read(FileId(1), text).0);
    let with = other.iter().collect();
    let options = RunOptions { with, start: Some([3.0, 4.0, 100.0]), ..RunOptions::default() };
    run(&program, &Controller::from(machine), &options)
}

fn clean(trace: Trace) -> Trace {
    assert!(trace.alarms.is_empty(), "{:?}", trace.alarms);
    let errors: Vec<_> =
        trace.diagnostics.iter().map(|d| format!("{} {}", d.code.number, d.message)).collect();
    assert_eq!(errors, Vec::<String>::new());
    trace
}

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

/// Feed moves of a trace; halves of a full circle put together.
fn cuts(trace: &Trace) -> Vec<TracedMove> {
    let mut cuts: Vec<TracedMove> = Vec::new();
    for m in trace.moves.iter().filter(|m| m.kind != Kind::Rapid) {
        match cuts.last_mut() {
            Some(last)
                if m.kind == Kind::Arc
                    && last.turns.is_some_and(|t| (t - 0.5).abs() < 1e-9)
                    && m.turns.is_some_and(|t| (t - 0.5).abs() < 1e-9) =>
            {
                last.to = m.to;
                last.turns = Some(1.0);
            }
            _ => cuts.push(m.clone()),
        }
    }
    cuts
}

fn number(value: Option<&Value>) -> f64 {
    value.unwrap().to_f64()
}

/// Compares feed moves one by one: ends within one unit of the last decimal, centres within two.
fn compare(trace: &Trace, exact: &[FlatStep], machine: &Machine) {
    let unit = machine.unit().to_f64();
    let step = machine.resolution().to_f64() / unit;
    let feeds = |s: &&FlatStep| matches!(s.action, FlatAction::Line { .. } | FlatAction::Arc { .. });
    let exact: Vec<_> = exact.iter().filter(feeds).collect();
    let cuts = cuts(trace);
    assert_eq!(cuts.len(), exact.len(), "as many feed moves");
    for (m, s) in cuts.iter().zip(exact) {
        let end = [number(s.end.x.as_ref()), number(s.end.y.as_ref()), number(s.end.z.as_ref())];
        for (axis, at) in end.iter().enumerate() {
            assert!(
                (m.to[axis] - at / unit).abs() <= step,
                "line {}: {} is not {}",
                m.line,
                m.to[axis],
                at / unit
            );
        }
        let feed = |f: &Option<Value>| f.as_ref().map(|f| f.to_f64() / unit);
        let (FlatAction::Line { feed: f } | FlatAction::Arc { feed: f, .. }) = &s.action else { panic!() };
        assert!((m.feed.unwrap() - feed(f).unwrap()).abs() <= 0.06, "line {}: feed", m.line);
        if let FlatAction::Arc { about, way, full, .. } = &s.action {
            let centre = m.centre.unwrap();
            assert!((centre[0] - about.x.to_f64() / unit).abs() <= 2.0 * step, "line {}: centre", m.line);
            assert!((centre[1] - about.y.to_f64() / unit).abs() <= 2.0 * step, "line {}: centre", m.line);
            assert_eq!(m.ccw, Some(*way == borewright_motion::Way::Ccw));
            assert_eq!(*full, m.turns.unwrap() > 0.999);
        }
    }
}

fn both_forms(sizes: &Sizes, unit: &str) {
    let motion = finish_bore();
    let exact = unroll(&motion, sizes, Limits::default()).unwrap();
    let blocks = Machine::builtin(&format!("blocks-{unit}")).unwrap();
    let trace = traced(&text(&motion, &blocks, Form::Blocks, sizes), None, &blocks);
    // A fragment: the spindle is not its business.
    compare(&trace, &exact, &blocks);
    let hash = Machine::builtin(&format!("hash-{unit}")).unwrap();
    let program = text(&motion, &hash, Form::Macro, &Sizes::new());
    let trace = clean(traced(&caller(&motion, &hash, sizes), Some(&program), &hash));
    compare(&trace, &exact, &hash);
}

fn thousandths(value: i64) -> Rational {
    Rational::ratio(value, 1000).unwrap()
}

#[test]
fn a_job_runs_clean_from_its_first_block_to_its_last() {
    for name in ["blocks-mm", "hash-mm", "rs274ngc"] {
        let machine = Machine::builtin(name).unwrap();
        let trace = clean(traced(&text(&gearbox(), &machine, Form::Blocks, &Sizes::new()), None, &machine));
        compare(&trace, &unroll(&gearbox(), &Sizes::new(), Limits::default()).unwrap(), &machine);
    }
}

#[test]
fn a_macro_refuses_before_it_moves() {
    let machine = Machine::builtin("hash-mm").unwrap();
    let program = text(&finish_bore(), &machine, Form::Macro, &Sizes::new());
    let head = "%\nO1\nG21 G17 G40 G80 G90 G94 G43 H1\nS1000 M3\n";
    let alarm = |call: &str| {
        let trace = traced(&format!("{head}{call}\nM30\n%\n"), Some(&program), &machine);
        assert!(trace.moves.is_empty(), "{call}: {:?}", trace.moves);
        trace.alarms.iter().map(|a| a.text.clone()).collect::<Vec<_>>().join("; ")
    };
    assert_eq!(alarm("G65 P1100 H47. T12. D10. F400."), "B BORE IS MISSING");
    assert_eq!(alarm("G65 P1100 B0. H47. T12. D10. F400."), "BORE: 6. TO 300.");
    assert_eq!(alarm("G65 P1100 B50. H12.1 T12. D10. F400."), "CUTTER TOO WIDE FOR PILOT");
    assert_eq!(alarm("G65 P1100 B50. H50. T12. D10. F400."), "PILOT NOT BELOW SIZE");
    assert_eq!(alarm("G65 P1100 B50. H47. T12. D10. F400. R19."), "LEAD ARC TOO BIG");
    assert_eq!(alarm("G65 P1100 B80. H47. T12. D10. F400."), "TOO MUCH STOCK FOR ONE TUR");
    assert_eq!(alarm("G20\nG65 P1100 B50. H47. T12. D10. F400."), "PROGRAM IS IN MM");
    assert_eq!(alarm("G49\nG65 P1100 B50. H47. T12. D10. F400."), "LENGTH OFFSET IS OFF");
    assert_eq!(alarm("G65 P1100 B50. H47. T12. D-10. F400."), "DEPTH: 0.1 TO 120.");
}

#[test]
fn the_callers_modes_are_put_back() {
    let machine = Machine::builtin("hash-mm").unwrap();
    let program = text(&finish_bore(), &machine, Form::Macro, &Sizes::new());
    let main = "%\nO1\nG21 G17 G40 G80 G90 G94 G43 H1\nS1000 M3\nG91\nG65 P1100 B50. H47. T12. D10. F400.\n\
                G0 X1.\nM30\n%\n";
    let trace = clean(traced(main, Some(&program), &machine));
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
