//! The shapes of the JSON reports are a contract: these names may be added to, never changed.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)] // tests may fail by panic

mod common;

use std::collections::BTreeSet;

use common::Place;
use pretty_assertions::assert_eq;
use serde_json::Value;

/// Asserts that an object has at least these keys.
fn has(value: &Value, keys: &[&str]) {
    let object = value.as_object().unwrap_or_else(|| panic!("no object: {value}"));
    for key in keys {
        assert!(object.contains_key(*key), "`{key}` is missing in {value}");
    }
}

fn first(value: &Value) -> &Value {
    &value.as_array().unwrap_or_else(|| panic!("no list: {value}"))[0]
}

const FINDING: &[&str] = &[
    "code",
    "name",
    "severity",
    "message",
    "file",
    "line",
    "column",
    "end_line",
    "end_column",
    "labels",
    "hints",
];

#[test]
fn a_check_reports_findings_obligations_and_assumptions() {
    let place = Place::new("shape-check");
    let report = place.run(&["check", "stdlib", "--format", "json"]).json();
    has(&report, &["version", "diagnostics", "obligations", "assumptions"]);
    assert_eq!(report["version"], 1);
    let obligation = first(&report["obligations"]);
    has(
        obligation,
        &["id", "file", "line", "routine", "promise", "kind", "why", "verdict", "counterexample"],
    );
    has(obligation, &["suggestion", "micros", "steps"]);
    assert_eq!(obligation["file"], "stdlib/bores.bore");
    assert_eq!(obligation["routine"], "finish_bore");
    assert_eq!(obligation["verdict"], "proved");
    has(first(&report["assumptions"]), &["id", "text"]);
    let ids: Vec<&str> =
        report["obligations"].as_array().unwrap().iter().map(|o| o["id"].as_str().unwrap()).collect();
    assert_eq!(ids.iter().collect::<BTreeSet<_>>().len(), ids.len(), "ids are unique");
}

#[test]
fn a_finding_has_its_place_resolved() {
    let place = Place::new("shape-finding");
    place.write("plan.bore", "// \u{2300}\nlet a = 1mm + 1deg\n");
    let report = place.run(&["check", "plan.bore", "--format", "json"]).json();
    let finding = first(&report["diagnostics"]);
    has(finding, FINDING);
    assert_eq!((&finding["file"], &finding["line"]), (&Value::from("plan.bore"), &Value::from(2)));
    let missing = place.run(&["check", "none.bore", "--format", "json"]).json();
    has(first(&missing["diagnostics"]), FINDING);
    assert_eq!(first(&missing["diagnostics"])["line"], Value::Null);
}

#[test]
fn a_check_is_the_same_twice_but_for_the_time_it_took() {
    let place = Place::new("shape-same");
    let report = || {
        let text = place.run(&["check", "stdlib", "samples", "--format", "json"]).out;
        text.lines().filter(|line| !line.contains("\"micros\"")).collect::<String>()
    };
    assert_eq!(report(), report());
}

#[test]
fn a_run_reports_moves_events_and_alarms() {
    let place = Place::new("shape-run");
    let text = "G21 G90 G17\nS1000 M3\nG0 X10. Y0. Z5.\nG1 Z-1. F100.\nG3 X10. Y0. I-10. J0.\n#3000=7 (TOO WIDE)\nM30\n";
    place.write("turn.nc", text);
    let outcome = place.run(&["run", "turn.nc", "--format", "json"]);
    assert_eq!(outcome.status, 1, "an alarm is something found");
    let report = outcome.json();
    has(&report, &["version", "units", "moves", "events", "alarms", "errors"]);
    let moves = report["moves"].as_array().unwrap();
    for step in moves {
        has(step, &["line", "kind", "from", "to", "centre", "plane", "ccw", "turns", "feed", "seconds"]);
    }
    let arc = &moves[2];
    assert_eq!(arc["kind"], "arc");
    assert_eq!(arc["centre"], serde_json::json!([0.0, 0.0, -1.0]));
    assert_eq!((&arc["ccw"], &arc["turns"]), (&Value::from(true), &Value::from(1.0)));
    has(first(&report["events"]), &["line", "kind", "text"]);
    let alarm = first(&report["alarms"]);
    has(alarm, &["line", "number", "text"]);
    assert_eq!(alarm["line"], 6);
}

#[test]
fn a_run_as_a_table_has_a_line_for_each_move() {
    let place = Place::new("shape-csv");
    place.write("move.nc", "G21 G90\nG1 X10. F100.\nM30\n");
    let outcome = place.run(&["run", "move.nc", "--format", "csv"]);
    let lines: Vec<&str> = outcome.out.lines().collect();
    assert!(lines[0].starts_with("line,kind,from_x,"), "{}", lines[0]);
    assert_eq!(lines.len(), 2);
}

#[test]
fn a_build_reports_the_files_it_wrote() {
    let place = Place::new("shape-build");
    let outcome = place.run(&[
        "build",
        "stdlib/bores.bore",
        "--form",
        "macro",
        "--machine",
        "hash-mm",
        "--out",
        "out",
        "--routine",
        "finish_bore",
        "--format",
        "json",
    ]);
    assert_eq!(outcome.status, 0, "{}", outcome.out);
    let report = outcome.json();
    has(&report, &["version", "files", "assumptions", "diagnostics"]);
    let file = first(&report["files"]);
    has(file, &["path", "form", "machine", "program", "sha256", "bytes", "blocks", "bounds"]);
    let text = place.read(file["path"].as_str().unwrap());
    assert_eq!(file["bytes"], text.len());
    assert_eq!(file["form"], "macro");
    has(first(&report["assumptions"]), &["id", "text"]);
}

#[test]
fn a_macro_is_called_as_a_caller_leaves_the_machine() {
    let place = Place::new("shape-call");
    place.write(
        "ream.nc",
        "IF [#4008 EQ 49] GOTO 9\nG21 G90 G94\nG1 Z-#7 F100.\nM99\nN9 #3000=3 (LENGTH OFFSET IS OFF)\n",
    );
    let alarms = |calls: &[&str]| {
        let calls = calls.iter().flat_map(|call| ["--call", call]);
        let arguments: Vec<&str> = ["run", "ream.nc", "--format", "json"].into_iter().chain(calls).collect();
        place.run(&arguments).json()["alarms"].as_array().map(Vec::len)
    };
    assert_eq!(alarms(&["G65 P1 D2."]), Some(0));
    assert_eq!(alarms(&["G49", "G65 P1 D2."]), Some(1));
}
