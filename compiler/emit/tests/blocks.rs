//! Plain blocks: the text that reaches the control.

#![allow(clippy::indexing_slicing, reason = "files are counted by hand here")]
#![allow(clippy::unwrap_used, reason = "a test may stop at what it did not expect")]

mod common;

use borewright_emit::{Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::{CutterKind, Expr, Field, Limits, Motion, Point, unroll};
use common::running::{Sizes, clean, compare_within, cuts, files, traced};
use common::{finish_bore, gearbox, gearbox_with, num, values};

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

/// Two seats in ten passes each.
fn deep_seats() -> Motion {
    let sizes = [
        ("bore", "62.015mm"),
        ("pilot", "61mm"),
        ("tool", "12mm"),
        ("depth", "29mm"),
        ("stepdown", "3mm"),
        ("start", "30deg"),
        ("cut", "400mm/min"),
    ];
    gearbox_with(&sizes, &[Point::new(num("-70mm"), Expr::zero()), Point::new(num("70mm"), num("0.5mm"))])
}

fn machine(name: &str) -> Machine {
    Machine::builtin(name).unwrap()
}

#[test]
fn what_a_pass_does_in_the_plane_is_written_once_and_called_at_each_height() {
    let (motion, calling) = (deep_seats(), machine("blocks-calls-mm"));
    let files = files(&motion, &calling, Form::Blocks, &Sizes::new());
    assert_eq!(
        files.iter().map(|f| f.name.as_str()).collect::<Vec<_>>(),
        ["O1200.nc", "O1201.nc", "O1202.nc"]
    );
    let (main, others) = files.split_first().unwrap();
    assert_eq!(main.text.matches("M98 P1201").count(), 10, "{}", main.text);
    let with: Vec<&str> = others.iter().map(|f| f.text.as_str()).collect();
    let trace = clean(traced(&main.text, &with, &calling));
    compare_within(&trace, &unroll(&motion, &Sizes::new(), Limits::default()).unwrap(), &calling, 1.0);
    // The same moves as in one program, which is twice as long.
    let plain = blocks(&motion, "blocks-mm", &[]);
    let ends = |trace| cuts(trace).iter().map(|m| (m.kind, m.from, m.to)).collect::<Vec<_>>();
    assert_eq!(ends(&trace), ends(&clean(traced(&plain, &[], &machine("blocks-mm")))));
    let long: usize = files.iter().map(|f| f.text.len()).sum();
    assert!(10 * long < 6 * plain.len(), "{long} of {}", plain.len());
    insta::assert_snapshot!(others[0].text);
}

#[test]
fn what_comes_once_or_cannot_be_called_is_written_out() {
    let one = |motion: &Motion, machine: &Machine| {
        assert_eq!(files(motion, machine, Form::Blocks, &Sizes::new()).len(), 1, "{}", machine.name);
    };
    let calling = machine("blocks-calls-mm");
    one(&gearbox(), &calling);
    one(&Motion { program: None, ..deep_seats() }, &calling);
    one(&deep_seats(), &machine("blocks-mm"));
    one(&deep_seats(), &machine("hash-mm"));
    let mut no_way_back = calling.clone();
    no_way_back.calls.back = None;
    one(&deep_seats(), &no_way_back);
    // The next number is kept by the machine, or by nobody's leave.
    one(&Motion { program: Some(num("7999")), ..deep_seats() }, &calling);
    let mut numbered = calling;
    numbered.programs.block_numbers = Some(borewright_machine::BlockNumbers { first: 10, step: 10 });
    one(&deep_seats(), &numbered);
}

#[test]
fn calls_make_room_in_the_program_memory() {
    let written = |name: &str, memory| {
        let mut machine = machine(name);
        machine.programs.memory = Some(memory);
        let found = emit_unproved(&deep_seats(), &machine, Form::Blocks, &Settings::default());
        found
            .map(|files| files.len())
            .map_err(|found| found.iter().map(|d| d.code.number).collect::<String>())
    };
    assert_eq!(written("blocks-mm", 5000), Err("E0738".to_owned()));
    assert_eq!(written("blocks-calls-mm", 5000), Ok(3));
    // Main program and subprograms are counted together.
    assert_eq!(written("blocks-calls-mm", 3500), Err("E0738".to_owned()));
}
