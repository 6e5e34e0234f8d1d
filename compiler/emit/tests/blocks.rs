//! Plain blocks: the text that reaches the control.

#![allow(clippy::unwrap_used, reason = "a test may stop at what it did not expect")]

mod common;

use borewright_emit::{Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::Motion;
use common::{finish_bore, gearbox, values};

fn blocks(motion: &Motion, machine: &str, list: &[(&str, &str)]) -> String {
    let settings = Settings { values: values(list), ..Settings::default() };
    let machine = Machine::builtin(machine).unwrap();
    match emit_unproved(motion, &machine, Form::Blocks, &settings) {
        Ok(mut files) => files.remove(0).text,
        Err(diagnostics) => {
            let lines = diagnostics.iter().map(|d| format!("{} {}\n", d.code.number, d.message));
            lines.collect()
        }
    }
}

const SIZES: [(&str, &str); 6] = [
    ("bore", "50mm"),
    ("pilot", "47mm"),
    ("tool", "12mm"),
    ("depth", "10mm"),
    ("stepdown", "4mm"),
    ("cut", "400mm/min"),
];

#[test]
fn one_bore_in_blocks() {
    insta::assert_snapshot!(blocks(&finish_bore(), "blocks-mm", &SIZES));
}

#[test]
fn a_job_in_blocks() {
    insta::assert_snapshot!(blocks(&gearbox(), "blocks-mm", &[]));
}
