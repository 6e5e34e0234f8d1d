//! Machines that lack something: whatever text is written for one agrees with its motion, as a macro, as blocks,
//! and as a job with its subprograms. A tenth of the routines for each; all with `BOREWRIGHT_FULL=1`.

mod common;

use std::sync::Arc;

use borewright_emit::{EmittedFile, Form, Settings, emit_unproved};
use borewright_machine::{Centre, Machine};
use borewright_motion::{Motion, calls};

/// A machine less something, by what it lacks.
type Lack = (&'static str, fn(&mut Machine));

const LACKS: [Lack; 13] = [
    ("no WHILE", |m| m.flow.while_do = false),
    ("no IF THEN", |m| m.flow.if_then = false),
    ("neither WHILE nor IF THEN", |m| (m.flow.while_do, m.flow.if_then) = (false, false)),
    ("three brackets in one another", |m| m.expressions.nesting = 3),
    ("two brackets in one another", |m| m.expressions.nesting = 2),
    ("one loop and none in it", |m| m.flow.loop_nesting = 1),
    ("no room for a loop", |m| m.flow.loop_nesting = 0),
    ("no alarm", |m| m.alarms.variable = None),
    ("no full circle in one block", |m| m.arcs.full_circle = false),
    ("centres in coordinates of the program", |m| m.arcs.centre = Centre::Absolute),
    ("no macro call", |m| m.calls.macro_call = None),
    ("few alarms", |m| m.alarms.numbers = borewright_machine::Range(1, 4)),
    ("short blocks", |m| m.text.block_length = 48),
];

fn agrees(motion: &Motion, machine: &Machine, file: &EmittedFile, with: &[String]) -> Result<(), String> {
    let found = common::compared(&file.text, motion, machine, (&file.interface, with), &[]);
    found.map(|_| ()).map_err(|why| format!("{}: {why}\n{}", motion.name, file.text))
}

/// Every text that a machine gets of a motion; none where it cannot have it.
fn texts(motion: &Motion, machine: &Machine, form: Form) -> Vec<EmittedFile> {
    emit_unproved(motion, machine, form, &Settings::default()).unwrap_or_default()
}

fn job_agrees(motion: &Motion, machine: &Machine, files: &[EmittedFile]) -> Result<(), String> {
    let Some((main, others)) = files.split_first() else { return Ok(()) };
    let with: Vec<String> = others.iter().map(|f| f.text.clone()).collect();
    agrees(motion, machine, main, &with)?;
    let routine = |file: &EmittedFile| {
        let call = calls(&motion.body).into_iter().find(|(call, _)| call.routine.span == file.interface.of);
        call.map(|(call, _)| Arc::clone(&call.routine)).unwrap()
    };
    // What takes no arguments is used by this job alone, and was compared with it.
    let mut called = others.iter().filter(|file| file.interface.called);
    called.try_for_each(|file| agrees(&routine(file), machine, file, &[]))
}

/// One of so many pairs of a lack and a motion, each lack and each motion in its turn; all of them where the long
/// measures run whole.
fn is_drawn(lack: usize, motion: usize, of: usize) -> bool {
    std::env::var("BOREWRIGHT_FULL").is_ok_and(|v| v == "1") || (3 * lack + motion).is_multiple_of(of)
}

fn held(base: &str) {
    let routines = common::routines();
    let jobs: Vec<Arc<Motion>> = [
        include_str!("../../../samples/gearbox_seats.bore"),
        include_str!("../../../samples/guide_bush.bore"),
    ]
    .iter()
    .flat_map(|text| common::motions(text))
    .filter(|m| m.job.is_some())
    .collect();
    let mut wrong = Vec::new();
    let whole = common::machine(base);
    // What does not agree for the whole machine either is no matter of what it lacks.
    let fits = |m: &Motion| texts(m, &whole, Form::Macro).iter().all(|f| agrees(m, &whole, f, &[]).is_ok());
    for (nth, (lack, less)) in LACKS.into_iter().enumerate() {
        let mut machine = common::machine(base);
        less(&mut machine);
        let mut written = 0;
        let drawn = routines.iter().enumerate().filter(|(i, _)| is_drawn(nth, *i, 10));
        for (_, motion) in drawn {
            for file in texts(motion, &machine, Form::Macro) {
                written += 1;
                let fault = agrees(motion, &machine, &file, &[]).err().filter(|_| fits(motion));
                wrong.extend(fault.map(|why| format!("{lack}: {why}")));
            }
        }
        for (_, motion) in jobs.iter().enumerate().filter(|(i, _)| is_drawn(nth, *i, 2)) {
            for form in [Form::Macro, Form::Blocks] {
                let files = texts(motion, &machine, form);
                written += files.len();
                wrong.extend(job_agrees(motion, &machine, &files).err().map(|why| format!("{lack}: {why}")));
            }
        }
        println!("{base}, {lack}: {written} texts of {} routines and {} jobs", routines.len(), jobs.len());
        assert!(written > 0, "{lack}");
    }
    // What no proof was found for is not written: a lack, and no fault.
    let (open, wrong): (Vec<_>, Vec<_>) = wrong.into_iter().partition(|why| why.contains(": unknown, "));
    let first = |why: &String| why.lines().next().unwrap_or_default().to_owned();
    println!("{} undecided:\n{}", open.len(), open.iter().map(first).collect::<Vec<_>>().join("\n"));
    assert!(wrong.is_empty(), "{} disagree:\n{}", wrong.len(), wrong.join("\n\n"));
    assert!(open.len() <= 1, "more than is known is undecided");
}

#[test]
fn every_text_for_a_machine_in_mm_that_lacks_something_agrees() {
    held("hash-mm");
}

#[test]
fn every_text_for_a_machine_in_inches_that_lacks_something_agrees() {
    held("hash-inch");
}
