//! Macros: the text that reaches the control.

#![allow(clippy::unwrap_used, reason = "a test may stop at what it did not expect")]

mod common;

use borewright_emit::{Arguments, Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::Motion;
use common::{finish_bore, gearbox, values};

fn emitted(motion: &Motion, machine: &Machine, settings: &Settings) -> String {
    match emit_unproved(motion, machine, Form::Macro, settings) {
        Ok(mut files) => files.remove(0).text,
        Err(diagnostics) => {
            let lines = diagnostics.iter().map(|d| format!("{} {}\n", d.code.number, d.message));
            lines.collect()
        }
    }
}

fn on(machine: &str) -> String {
    emitted(&finish_bore(), &Machine::builtin(machine).unwrap(), &Settings::default())
}

#[test]
fn one_bore_as_a_macro_in_mm() {
    insta::assert_snapshot!(on("hash-mm"));
}

#[test]
fn one_bore_as_a_macro_in_inches() {
    insta::assert_snapshot!(on("hash-inch"));
}

#[test]
fn one_bore_with_variables_at_the_top() {
    let sizes =
        [("bore", "50mm"), ("pilot", "47mm"), ("tool", "12mm"), ("depth", "10mm"), ("cut", "400mm/min")];
    let settings =
        Settings { values: values(&sizes), arguments: Some(Arguments::Top), ..Settings::default() };
    insta::assert_snapshot!(emitted(&finish_bore(), &Machine::builtin("hash-mm").unwrap(), &settings));
}

#[test]
fn what_decides_nothing_stays_free_where_nothing_can_be_compared() {
    let sizes = [
        ("bore", "50mm"),
        ("pilot", "47mm"),
        ("tool", "12mm"),
        ("depth", "10mm"),
        ("stepdown", "6mm"),
        ("start", "30deg"),
        ("cut", "400mm/min"),
    ];
    let settings = Settings { values: values(&sizes), ..Settings::default() };
    insta::assert_snapshot!(emitted(&finish_bore(), &Machine::builtin("rs274ngc").unwrap(), &settings));
}

#[test]
fn machines_that_cannot_guard_get_no_macro() {
    assert!(on("blocks-mm").starts_with("E0721"));
    assert!(on("rs274ngc").starts_with("E0727"), "what decides needs values there");
    assert!(
        emitted(&gearbox(), &Machine::builtin("blocks-mm").unwrap(), &Settings::default())
            .starts_with("E0721")
    );
}

#[test]
fn every_code_has_a_page_of_its_name() {
    assert_eq!(borewright_base::pages::misshapen(borewright_emit::errors::ALL), Vec::<String>::new());
}
