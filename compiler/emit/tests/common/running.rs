//! Emitted texts run on the virtual controller, and their traces held against the exact motion.

use std::collections::BTreeMap;

use borewright_base::FileId;
use borewright_emit::{EmittedFile, Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::{FlatAction, FlatStep, Motion, Symbol, Value};
use borewright_number::Rational;
use borewright_runtime::trace::{Kind, TracedMove};
use borewright_runtime::{Controller, RunOptions, Trace, read, run};

pub type Sizes = BTreeMap<Symbol, Rational>;

pub fn files(motion: &Motion, machine: &Machine, form: Form, sizes: &Sizes) -> Vec<EmittedFile> {
    let settings = Settings { values: sizes.clone(), ..Settings::default() };
    let files = emit_unproved(motion, machine, form, &settings);
    files.unwrap_or_else(|d| panic!("{:?}", d.iter().collect::<Vec<_>>()))
}

pub fn text(motion: &Motion, machine: &Machine, form: Form, sizes: &Sizes) -> String {
    files(motion, machine, form, sizes).remove(0).text
}

pub fn traced(program: &str, with: &[&str], machine: &Machine) -> Trace {
    let (program, found) = read(FileId(0), program);
    assert!(!found.has_errors(), "{:?}", found.iter().collect::<Vec<_>>());
    let others: Vec<_> = (1..).zip(with).map(|(i, text)| read(FileId(i), text).0).collect();
    let with = others.iter().collect();
    let options = RunOptions { with, start: Some([3.0, 4.0, 100.0]), ..RunOptions::default() };
    run(&program, &Controller::from(machine), &options)
}

pub fn clean(trace: Trace) -> Trace {
    assert!(trace.alarms.is_empty(), "{:?}", trace.alarms);
    let errors: Vec<_> =
        trace.diagnostics.iter().map(|d| format!("{} {}", d.code.number, d.message)).collect();
    assert_eq!(errors, Vec::<String>::new());
    trace
}

/// Feed moves of a trace; halves of a full circle put together.
pub fn cuts(trace: &Trace) -> Vec<TracedMove> {
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
pub fn compare(trace: &Trace, exact: &[FlatStep], machine: &Machine) {
    compare_within(trace, exact, machine, 1.0);
}

/// The same, ends within so many units of the last decimal and centres within twice as many.
pub fn compare_within(trace: &Trace, exact: &[FlatStep], machine: &Machine, units: f64) {
    let unit = machine.unit().to_f64();
    let step = units * machine.resolution().to_f64() / unit;
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
