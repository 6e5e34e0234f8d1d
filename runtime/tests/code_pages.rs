//! Every code has a page with the fixed headings, and the example on it produces exactly that code.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]

mod common;

use borewright_base::{FileId, pages};
use borewright_machine::Machine;
use borewright_number::Interval;
use borewright_runtime::state::{Registers, Triple, Units};
use borewright_runtime::step::{Stop, step};
use borewright_runtime::{
    Controller, RunOptions, Store, errors, execute, idle, parse_call, parse_set, power_up, read,
};
use common::{FILE, found};

#[test]
fn every_page_has_its_headings_and_an_example() {
    assert_eq!(pages::misshapen(errors::ALL), Vec::<String>::new());
}

#[test]
fn every_example_produces_its_code_and_no_other() {
    let wrong = pages::astray(errors::ALL, |_, blocks| {
        let block = blocks.first().unwrap();
        produced(block.language, block.name, &block.text).into_iter().map(str::to_owned).collect()
    });
    assert_eq!(wrong, Vec::<String>::new());
}

fn produced(language: &str, machine: Option<&str>, text: &str) -> Vec<&'static str> {
    match machine {
        Some(machine) => found(text, &Controller::from(&Machine::builtin(machine).unwrap())),
        None if language == "nc" => found(text, &Controller::generic(Units::Millimetre)),
        None if language == "call" => {
            let call = parse_call(FileId(0), text).unwrap_err();
            assert_eq!(parse_set(FileId(0), text).unwrap_err().diagnostic.code, call.diagnostic.code);
            vec![call.diagnostic.code.number]
        }
        None if language == "fragment" => vec![of_fragment(text)],
        None if language == "enclosed" => enclosed(text),
        None => of_run(text),
    }
}

/// A block that begins with unknown modes.
fn of_fragment(text: &str) -> &'static str {
    let controller = Controller::generic(Units::Millimetre);
    let (program, _) = read(FILE, text);
    let start = idle(&program, &controller, &RunOptions::default(), |x: f64| x);
    let zero = Triple::new(0.0, 0.0, 0.0);
    let unknown =
        Registers { units: None, motion: None, distance: None, ..power_up(&controller, zero, zero) };
    let memory: Store<f64> = start.store;
    match step(&program.bodies[0].blocks[0], &unknown, &controller, &memory).unwrap_err() {
        Stop::Fault(fault) => fault.diagnostic.code.number,
        Stop::Undecided { .. } => "undecided",
    }
}

/// A run in which `#1` is known to within 0.0001.
fn enclosed(text: &str) -> Vec<&'static str> {
    let (program, _) = read(FILE, &format!("#1=#500\n{text}"));
    let controller = Controller::generic(Units::Millimetre);
    let set = vec![parse_set(FileId(1), "#500=1").unwrap()];
    let wide = |x: f64| Interval::new(x - 1e-4, x + 1e-4);
    let mut text = String::from("#1=#5041\n");
    text.push_str(&pages::example(errors::UNDECIDED.page)[0].text);
    let (from_start, _) = read(FILE, &text);
    let options = RunOptions { set, start: Some([1.0, 0.0, 0.0]), ..RunOptions::default() };
    assert!(execute(&program, &controller, &options, wide).errors.is_empty());
    let run = execute(&from_start, &controller, &options, wide);
    run.errors.iter().map(|f| f.diagnostic.code.number).collect()
}

/// What only the run finds, not the reader.
fn of_run(text: &str) -> Vec<&'static str> {
    let (program, _) = read(FILE, text);
    let controller = Controller::generic(Units::Millimetre);
    let run = execute(&program, &controller, &RunOptions::default(), |x: f64| x);
    run.errors.iter().map(|f| f.diagnostic.code.number).collect()
}
