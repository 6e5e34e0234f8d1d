//! What a machine file says is what the virtual controller does.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]

mod common;

use borewright_base::FileId;
use borewright_machine::Machine;
use borewright_runtime::{Controller, RunOptions, Trace, parse_call};
use common::{found, near, trace};

fn machine(name: &str) -> Controller {
    Controller::from(&Machine::builtin(name).unwrap())
}

fn changed(name: &str, change: impl Fn(&mut Machine)) -> Controller {
    let mut machine = Machine::builtin(name).unwrap();
    change(&mut machine);
    Controller::from(&machine)
}

fn run(text: &str, controller: &Controller) -> Trace {
    trace(text, controller, &RunOptions::default())
}

#[test]
fn every_built_in_machine_runs_a_plain_program_in_its_units() {
    for name in Machine::builtin_names() {
        let controller = machine(name);
        let trace = run("G17 G40 G49 G80 G90 G94\nG0 X1. Y2.\nG1 Z0. F10.\nM5\nM30\n", &controller);
        assert!(trace.is_clean(), "{name}: {:#?}", trace.diagnostics);
        assert_eq!(trace.units, controller.units.name());
        assert!(trace.moves.iter().all(|m| m.seconds.is_some()), "{name}: rapids are timed");
    }
}

#[test]
fn a_length_without_a_point_is_a_count_of_increments_where_the_machine_says_so() {
    let text = "G90 F100\nG1 X1500 Y2. Z[3]\nM30\n";
    let millimetres = run(text, &machine("hash-mm"));
    assert_eq!(millimetres.moves[0].to, [1.5, 2.0, 3.0]);
    // F counts no increments.
    near(millimetres.moves[0].feed.unwrap(), 100.0, 0.0);
    near(run(text, &machine("hash-inch")).moves[0].to[0], 0.15, 1e-17);
    near(run(text, &machine("rs274ngc")).moves[0].to[0], 1500.0, 0.0);
    // On a millimetre machine in inches the increment is a ten-thousandth.
    near(run("G20 G90\nG0 X15000\nM30\n", &machine("hash-mm")).moves[0].to[0], 1.5, 1e-15);
}

#[test]
fn a_forgotten_point_in_a_call_is_a_count_of_increments_too() {
    let call = parse_call(FileId(1), "G65 P1 B50 D7.").unwrap();
    let options = RunOptions { call: Some(call), ..RunOptions::default() };
    let run = trace("O1\n#100=#2\n#101=#7\nM99\n", &machine("hash-mm"), &options);
    let values = [100, 101].map(|n| common::variable(&run, n).unwrap());
    near(values[0], 0.05, 1e-17);
    near(values[1], 7.0, 0.0);
}

#[test]
fn plain_block_machines_know_no_variables_no_tests_and_no_calls() {
    let controller = machine("blocks-mm");
    for text in ["#1=1", "G0 X[1+1]", "IF [1] GOTO 5\nN5", "WHILE [1] DO1\nEND1", "G65 P1", "M98 P1"] {
        let codes = found(&format!("{text}\nM30\n"), &controller);
        assert!(!codes.is_empty() && codes.iter().all(|c| *c == "R0612"), "{text}: {codes:?}");
    }
    // And take a full circle as two halves only.
    assert_eq!(found("G21 G90 F100.\nG0 X3.\nG3 X3. I-3.\nM30\n", &controller), ["R0620"]);
    assert_eq!(
        found("G21 G90 F100.\nG0 X3.\nG3 X-3. I-3.\nG3 X3. I3.\nM30\n", &controller),
        Vec::<&str>::new()
    );
}

#[test]
fn limits_of_the_machine_hold() {
    let small = "G21 G90 F100.\nG0 X0.04\nG3 X-0.04 I-0.04\nM30\n";
    assert_eq!(found(small, &machine("hash-mm")), ["R0620"]);
    assert_eq!(found("#1=20000.*10000.\nM30\n", &machine("hash-mm")), ["R0616"]);
    assert_eq!(found("#200=1.\nM30\n", &machine("hash-mm")), ["R0617"]);
    assert_eq!(found("#1=LN[2.]\nM30\n", &machine("hash-mm")), ["R0612"]);
    assert_eq!(found("#1=[[[[[[1.]]]]]]\nM30\n", &machine("hash-mm")), ["R0612"]);
    let four = "WHILE [1 EQ 2] DO1\n".repeat(4) + &"END1\n".repeat(4);
    assert!(found(&four, &machine("hash-mm")).contains(&"R0612"));
}

#[test]
fn codes_letters_and_variables_are_those_of_the_file() {
    let controller = changed("hash-mm", |m| {
        m.words.metric = "G71".to_owned();
        m.words.inch = "G70".to_owned();
        m.words.mist = "M27".to_owned();
        m.words.dwell_letter = 'X';
        m.calls.letters.insert('B', 5);
        m.alarms.variable = Some(3100);
        m.variables.writable.push(borewright_machine::Range(3100, 3100));
    });
    let text = "O1\nG71 G90\nM27\nG4 X1.5\nG65 P2 B3.\nM30\nO2\n#100=#5\n#3100=7 (STOP HERE)\nM99\n";
    let trace = run(text, &controller);
    assert!(trace.diagnostics.is_empty(), "{:#?}", trace.diagnostics);
    assert_eq!(trace.events.iter().map(|e| e.text.as_str()).collect::<Vec<_>>(), ["mist", "1.5 s"]);
    near(common::variable(&trace, 100).unwrap(), 3.0, 0.0);
    assert_eq!((trace.alarms[0].number, trace.alarms[0].text.as_str()), (7.0, "STOP HERE"));
}

#[test]
fn fix_and_fup_go_the_way_that_the_file_says() {
    let values = |controller: &Controller| {
        let trace = run("#100=FIX[-2.8]\n#101=FUP[-2.8]\n#102=FIX[2.8]\n#103=FUP[2.8]\nM30\n", controller);
        [100, 101, 102, 103].map(|n| common::variable(&trace, n).unwrap())
    };
    assert_eq!(values(&machine("hash-mm")), [-2.0, -3.0, 2.0, 3.0]);
    // NISTIR 6556, section 3.3.2.4.
    assert_eq!(values(&machine("rs274ngc")), [-3.0, -2.0, 2.0, 3.0]);
}

#[test]
fn home_moves_of_every_built_in_machine_end_high_above_the_work() {
    for name in Machine::builtin_names() {
        let machine = Machine::builtin(name).unwrap();
        let text = format!("G90\nG0 X1. Y1. Z0.5\n{}\nM30\n", machine.words.home.join("\n"));
        let trace = run(&text, &Controller::from(&machine));
        assert!(trace.is_clean(), "{name}: {:#?}", trace.diagnostics);
        let [x, y, z] = trace.moves.last().unwrap().to;
        assert_eq!((x, y), (1.0, 1.0), "{name}");
        near(z, if machine.inch() { 20.0 } else { 500.0 }, 0.0);
    }
}
