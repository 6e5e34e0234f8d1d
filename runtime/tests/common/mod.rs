//! What the tests share: run a text and look at the trace.
#![allow(dead_code, clippy::unwrap_used, reason = "each test file uses its part")]

use borewright_base::FileId;
use borewright_runtime::state::Units;
use borewright_runtime::{Controller, RunOptions, Trace, parse_call, parse_set, read, run};

pub const FILE: FileId = FileId(0);
const ARGUMENT: FileId = FileId(1);

/// Runs a text that must read without error.
pub fn trace(text: &str, controller: &Controller, options: &RunOptions<'_>) -> Trace {
    let (program, found) = read(FILE, text);
    assert!(!found.has_errors(), "{:#?}", found.into_sorted());
    run(&program, controller, options)
}

/// Runs a text on the controller of NISTIR 6556.
pub fn nistir(text: &str) -> Trace {
    trace(text, &Controller::nistir_6556(), &RunOptions::default())
}

/// Runs a text on the generic macro controller.
pub fn generic(text: &str) -> Trace {
    trace(text, &Controller::generic(Units::Millimetre), &RunOptions::default())
}

/// Calls a macro.
pub fn call(text: &str, call: &str, set: &[&str]) -> Trace {
    let options = RunOptions {
        call: Some(parse_call(ARGUMENT, call).unwrap()),
        set: set.iter().map(|s| parse_set(ARGUMENT, s).unwrap()).collect(),
        ..RunOptions::default()
    };
    trace(text, &Controller::generic(Units::Millimetre), &options)
}

/// The codes of everything found when reading and running a text on the generic controller.
pub fn codes(text: &str) -> Vec<&'static str> {
    found(text, &Controller::generic(Units::Millimetre))
}

/// The same on a given controller.
pub fn found(text: &str, controller: &Controller) -> Vec<&'static str> {
    let (program, found) = read(FILE, text);
    let mut codes: Vec<_> = found.into_sorted().iter().map(|d| d.code.number).collect();
    if codes.is_empty() {
        let trace = run(&program, controller, &RunOptions::default());
        codes.extend(trace.diagnostics.iter().map(|d| d.code.number));
    }
    codes
}

/// Value of a variable after a run.
pub fn variable(trace: &Trace, number: u32) -> Option<f64> {
    trace.execution.store.get(number).copied()
}

#[track_caller]
pub fn near(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() <= tolerance, "{found} is not {wanted} within {tolerance}");
}
