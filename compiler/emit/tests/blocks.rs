//! Plain blocks: the text that reaches the control.

#![allow(clippy::unwrap_used, reason = "a test may stop at what it did not expect")]

mod common;

use borewright_emit::{Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::{CutterKind, Expr, Field, Motion};
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

#[test]
fn a_cutter_is_shown_with_what_its_kind_has() {
    let shown = |kind: CutterKind, facts: &[(Field, i32)]| {
        let mut motion = gearbox();
        let tool = motion.job.as_mut().and_then(|job| job.tools.first_mut()).unwrap();
        tool.kind = kind;
        tool.fields.extend(facts.iter().map(|(field, value)| (*field, Expr::from(*value))));
        blocks(&motion, "blocks-mm", &[]).replace(")\n(", " ")
    };
    let point = shown(CutterKind::Point, &[(Field::Angle, 90), (Field::Tip, 2)]);
    assert!(point.contains("ANGLE 90DEG, TIP 2MM"), "{point}");
    let thread = shown(CutterKind::Thread, &[(Field::Pitch, 3), (Field::Rows, 4), (Field::Nose, 1)]);
    assert!(thread.contains("PITCH 3MM, ROWS 4, NOSE 1MM"), "{thread}");
    assert!(!shown(CutterKind::Flat, &[(Field::Pitch, 3)]).contains("PITCH"));
}
