//! The words of messages, and the forms in which a trace is given.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]

mod common;

use std::fmt::Write as _;

use borewright_base::{Diagnostic, SourceMap};
use borewright_runtime::state::Units;
use borewright_runtime::{Controller, RunOptions, read, run};

/// Every message of a text: what was read, what it ran on, and what was said.
fn messages(text: &str, controller: &Controller) -> String {
    let mut sources = SourceMap::default();
    let file = sources.add("part.nc", text);
    let (program, found) = read(file, text);
    let mut trace = run(&program, controller, &RunOptions::default());
    trace.prepend(found);
    let mut out = format!("{text}\n");
    for diagnostic in &trace.diagnostics {
        write_message(&mut out, diagnostic, &sources);
    }
    out
}

fn write_message(out: &mut String, diagnostic: &Diagnostic, sources: &SourceMap) {
    let span = diagnostic.span.unwrap();
    let (_, start, end) = sources.locate(span).unwrap();
    writeln!(out, "{} {}: {}", diagnostic.code.number, diagnostic.code.name, diagnostic.message).unwrap();
    writeln!(out, "  at {}:{}-{} `{}`", start.line, start.column, end.column, sources.text(span)).unwrap();
    for label in &diagnostic.labels {
        writeln!(out, "  {}: `{}`", label.message, sources.text(label.span)).unwrap();
    }
    for hint in &diagnostic.hints {
        writeln!(out, "  hint: {hint}").unwrap();
    }
}

#[test]
fn messages_of_the_reader() {
    let text = "\
G0 X1. (CLEAR OF THE PART
G1 X[#1+[#2/2] F100.
G0 X10. & Y5.
G0 X Y5.
G0 X10. Y5. X12.
G0 G1 X10.
#1=SINE[30]
#1=[1 LT 2 LT 3]
WHILE [#1 LT 3] DO1
IF [#1 EQ #0] THEN
WHILE #1 DO2
G0 GOTO 5
X1..5
N-1 G0";
    insta::assert_snapshot!(messages(text, &Controller::generic(Units::Millimetre)));
}

#[test]
fn messages_about_dialects() {
    let text = "O5\nG777 X-#1\nIF [#1 GT 0 AND #2] GOTO 5\n#1=#2+ATAN[1]\nM98 P5\nU1 M10\nG65 P1\n";
    insta::assert_snapshot!(messages(text, &Controller::nistir_6556()));
}

#[test]
fn messages_of_the_run() {
    let controller = Controller::generic(Units::Millimetre);
    let texts = [
        "G21 G90\nG1 X10.\n",
        "G21 G90 F100.\nG0 X10. Y0.\nG3 X0. Y10.1 I-10.\n",
        "G21 G90 F100.\nG3 X10. Y10. R0\n",
        "G21 G90 F100.\nG3 X10. R4.\n",
        "G17 F100.\nG3 X10. Z1. I5. K1.\n",
        "G41 D1 G1 X10. F100.\n",
        "#1=10./#2\n",
        "#1=#1200\n",
        "#0=5.\n",
        "GOTO 90\n",
        "N1\nGOTO 1\nN1\n",
        "G65 P9010 B50.\n",
        "G65 P1 N5\n",
        "G4\n",
        "G0 X10. R5.\n",
        "S-5. M3\n",
        "G80\nX5.\n",
    ];
    let all: Vec<_> = texts.iter().map(|text| messages(text, &controller)).collect();
    insta::assert_snapshot!(all.join("\n"));
}

const PART: &str = "\
O1200 (SEAT)
G21 G17 G90 G94 G40 G49 G80
T3 M6
S1200 M3
G0 X0. Y0.
G43 Z5. H3 M8
G1 Z-2. F120.
G3 X10. I5. F400.
G3 X10. Y0. I-10. J0. Z-3.
G4 P0.5
G0 Z5. M9
M1 (MEASURE)
M30
";

#[test]
fn a_trace_in_json() {
    insta::assert_snapshot!(common::generic(PART).to_json());
}

#[test]
fn a_trace_in_csv() {
    insta::assert_snapshot!(common::generic(PART).to_csv());
}

#[test]
fn a_trace_as_a_table() {
    insta::assert_snapshot!(common::generic(PART).to_table());
}

#[test]
fn an_alarm_in_the_table() {
    insta::assert_snapshot!(common::generic("G21 G0 X1.\n#3000=12 (BORE TOO SMALL)\n").to_table());
}
