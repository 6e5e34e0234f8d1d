//! A cutter that the operator may correct at the control: the main program guards what is kept for it, and the path
//! follows the actual diameter. Proved for all of it, and run on the virtual controller at some of it.

mod common;

use std::sync::Arc;

use borewright_base::FileId;
use borewright_emit::{EmittedFile, Form, Settings, emit_unproved};
use borewright_machine::{Machine, Range, Wear};
use borewright_motion::Motion;
use borewright_runtime::step::Path;
use borewright_runtime::{Controller, Program, RunOptions, execute, parse_set, read};

const JOB: &str = "use bores

job seat
program 1200
work 1
travel z 60mm
cutter finisher = flat(pocket: 3, diameter: 12mm, flutes: 30mm, reach: 45mm, teeth: 4, wear: 0.1mm)
given hole bored(diameter: 47mm, floor: -42mm) at centre
makes hole seat(diameter: 50mm, floor: -18mm, pilot: 47mm) at centre promises within, sized, cleared
{
    with finisher {
        spindle cw 3000rpm
        call finish_bore(bore: 50mm, pilot: 47mm, depth: 18mm, cut: 500mm/min) at centre
    }
}
";

fn job(text: &str) -> Arc<Motion> {
    common::motions(text).into_iter().find(|m| m.job.is_some()).unwrap()
}

fn radius_kept() -> Machine {
    let mut machine = common::machine("hash-mm");
    machine.axes.wear = Wear::Radius;
    machine
}

fn emitted(machine: &Machine) -> Vec<EmittedFile> {
    common::emitted(&job(JOB), machine, Form::Macro, &Settings::default())
}

fn agrees(main: &str, files: &[EmittedFile], machine: &Machine) -> Result<usize, String> {
    let with: Vec<String> = files.iter().skip(1).map(|f| f.text.clone()).collect();
    let first = files.first().unwrap();
    common::compared(main, &job(JOB), machine, (&first.interface, &with), &[]).map(|proved| proved.len())
}

#[test]
fn the_text_follows_every_wear_that_its_guards_let_through() {
    for machine in [common::machine("hash-mm"), radius_kept(), common::machine("hash-inch")] {
        let files = emitted(&machine);
        let proved = agrees(&files[0].text, &files, &machine);
        assert!(proved.as_ref().is_ok_and(|n| *n > 0), "{}: {proved:?}\n{}", machine.name, files[0].text);
    }
}

#[test]
fn an_edit_of_guard_or_diameter_is_seen() {
    let machine = common::machine("hash-mm");
    let files = emitted(&machine);
    let text = &files[0].text;
    for (right, wrong) in [
        ("IF [#503 EQ #0] GOTO 101 (WEAR OF CUTTER 3)\n", ""),
        ("IF [#503 LT -0.1] GOTO 102\n", ""),
        ("IF [#503 LT -0.1] GOTO 102", "IF [#503 LT -0.2] GOTO 102"),
        ("IF [#503 GT 0.1] GOTO 102", "IF [#503 GT 0.01] GOTO 102"),
        ("IF [#503 GT 0.1] GOTO 102", "IF [#503 GT 0.1] GOTO 101"),
        ("T[12.+#503]", "T12."),
        ("T[12.+#503]", "T[12.-#503]"),
        ("T[12.+#503]", "T[12.+2.*#503]"),
        ("T[12.+#503]", "T[12.+#504]"),
        ("T[12.+#503]", "T[12.1+#503]"),
    ] {
        assert!(text.contains(right), "{right}: {text}");
        let edited = text.replacen(right, wrong, 1);
        assert!(agrees(&edited, &files, &machine).is_err(), "{right} -> {wrong} was not seen");
    }
}

/// Radius of the full turn about the centre, or the alarm.
fn run(machine: &Machine, set: Option<&str>) -> Result<f64, String> {
    let files = emitted(machine);
    let programs: Vec<Program> = files.iter().map(|f| read(FileId(0), &f.text).0).collect();
    let (main, others) = programs.split_first().unwrap();
    let options = RunOptions {
        with: others.iter().collect(),
        set: set.into_iter().map(|s| parse_set(FileId(9), s).unwrap()).collect(),
        start: Some([3.0, 4.0, 100.0]),
        ..RunOptions::default()
    };
    let run = execute(main, &Controller::from(machine), &options, |x: f64| x);
    if let Some(alarm) = run.alarms.first() {
        assert!(run.moves.is_empty(), "it moved before {}", alarm.text);
        return Err(alarm.text.clone());
    }
    assert!(run.errors.is_empty(), "{:?}", run.errors);
    let full = run.moves.iter().find_map(|m| match &m.path {
        Path::Arc(a) if a.centre.x.abs() < 1e-6 && a.centre.y.abs() < 1e-6 => Some(m.to.x.hypot(m.to.y)),
        _ => None,
    });
    Ok(full.unwrap())
}

#[test]
fn the_path_moves_by_half_of_the_diameter() {
    // (50 - 12) / 2 = 19; common practice, no source: half of the correction of the diameter to the centre's path.
    let diameter = common::machine("hash-mm");
    for (set, radius) in [("#503=0", 19.0), ("#503=-0.02", 19.01), ("#503=0.1", 18.95)] {
        assert!((run(&diameter, Some(set)).unwrap() - radius).abs() < 1e-6, "{set}");
    }
    for (set, radius) in [("#503=-0.02", 19.02), ("#503=0.05", 18.95)] {
        assert!((run(&radius_kept(), Some(set)).unwrap() - radius).abs() < 1e-6, "{set}");
    }
}

#[test]
fn wear_that_is_not_set_or_too_much_is_refused_before_anything_moves() {
    let diameter = common::machine("hash-mm");
    assert_eq!(run(&diameter, None), Err("#503: WEAR 3 IS NOT SET".to_owned()));
    assert_eq!(run(&diameter, Some("#503=-0.101")), Err("WEAR 3: -0.1 TO 0.1".to_owned()));
    assert_eq!(run(&diameter, Some("#503=12")), Err("WEAR 3: -0.1 TO 0.1".to_owned()));
    assert_eq!(run(&radius_kept(), Some("#503=0.051")), Err("WEAR 3: -0.05 TO 0.05".to_owned()));
}

#[test]
fn what_cannot_follow_is_refused_with_its_reason() {
    let refused = |text: &str, machine: &Machine, form: Form| {
        let found = emit_unproved(&job(text), machine, form, &Settings::default()).unwrap_err();
        let first = found.iter().next().unwrap();
        format!("{} {}", first.code.number, first.message)
    };
    let machine = common::machine("hash-mm");
    assert_eq!(refused(JOB, &machine, Form::Blocks), "E0735 plain blocks cannot follow the wear of a cutter");
    let mut without = machine.clone();
    without.variables.wear = None;
    assert!(refused(JOB, &without, Form::Macro).contains("names no `variables.wear`"));
    let mut few = machine.clone();
    few.variables.wear = Some(Range(501, 502));
    assert!(refused(JOB, &few, Form::Macro).contains("its pocket has no variable"));
    let mut silent = machine.clone();
    silent.alarms.variable = None;
    assert!(refused(JOB, &silent, Form::Macro).contains("nothing could guard it"));
    let helix = JOB
        .replace("use bores", "use entries")
        .replace("teeth: 4", "teeth: 4, ramp: 3deg, dead: 0")
        .replace("diameter: 50mm, floor: -18mm, pilot: 47mm", "diameter: 20mm, floor: -18mm")
        .replace("given hole bored(diameter: 47mm, floor: -42mm) at centre\n", "")
        .replace("finish_bore(bore: 50mm, pilot: 47mm,", "helix_bore(bore: 20mm,");
    assert!(refused(&helix, &machine, Form::Macro).contains("the place to which it goes first"));
}
