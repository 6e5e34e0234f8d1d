//! Every routine and job that is proved has a text in every form on every built-in machine, and it agrees; but for
//! a short list of what a machine cannot do.
//!
//! With `OPEN=DIR` what is left open or takes long is written there, one SMT-LIB file for each formula: the first thing to look
//! at where a text that should agree does not.

mod common;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use borewright_base::Diagnostics;
use borewright_emit::{EmittedFile, Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::{Motion, Step, calls};
use borewright_proof::{Settled, Verdict, agree, decide, to_smt2};

/// What is refused in which form, by which code, and why. Nothing else may be.
const REFUSED: &[(&str, Form, &str, &str)] = &[(
    "turbine_seat",
    Form::Blocks,
    "E0735",
    "plain blocks cannot follow what the operator corrects at the control",
)];

fn folder(below: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(below)
}

#[expect(clippy::disallowed_methods, reason = "test data are files")]
fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

/// Bundled routines, samples, and the routines that must be proved.
fn motions() -> Vec<Arc<Motion>> {
    let mut all = common::routines();
    for below in ["samples", "tests/proofs/pass"] {
        let mut paths: Vec<_> = folder(below).read_dir().unwrap().map(|e| e.unwrap().path()).collect();
        paths.retain(|p| p.extension().is_some_and(|e| e == "bore"));
        paths.sort();
        all.extend(paths.iter().flat_map(|p| common::motions(&read(p))));
    }
    all
}

/// The first code that refuses it, or why it does not agree.
fn outcome(motion: &Motion, machine: &Machine, form: Form, settings: &Settings) -> Result<usize, String> {
    let codes = |found: Diagnostics| {
        let told: Vec<_> = found.iter().map(|d| format!("{} {}", d.code.number, d.message)).collect();
        told.join("; ")
    };
    let files = emit_unproved(motion, machine, form, settings).map_err(codes)?;
    let Some((main, others)) = files.split_first() else { return Err("no files".to_owned()) };
    let with: Vec<String> = others.iter().map(|f| f.text.clone()).collect();
    let mut proved = agrees(motion, machine, main, &with)?;
    for file in others.iter().filter(|f| f.interface.called) {
        let routine = called(&motion.body, file).ok_or("of nothing that it calls")?;
        proved += agrees(&routine, machine, file, &[])?;
    }
    Ok(proved)
}

fn called(steps: &[Step], file: &EmittedFile) -> Option<Arc<Motion>> {
    let call = calls(steps).into_iter().find(|(call, _)| call.routine.span == file.interface.of);
    call.map(|(call, _)| Arc::clone(&call.routine))
}

/// Microseconds that this thread was on a processor, where the system tells it: what others do meanwhile is no part of it.
fn busy() -> u64 {
    #[expect(clippy::disallowed_methods, reason = "a measure of what each takes")]
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    told.split_whitespace().next().and_then(|n| n.parse::<u64>().ok()).unwrap_or(0) / 1000
}

fn agrees(motion: &Motion, machine: &Machine, file: &EmittedFile, with: &[String]) -> Result<usize, String> {
    let lifted = common::lifted(&file.text, motion, machine, (&file.interface, with)).map_err(|reason| {
        let block = file.text.get(reason.span.range()).unwrap_or_default().trim();
        format!("not followed: {reason}: {block}")
    })?;
    let settings = borewright_proof::Settings::default();
    let mut settled: Vec<Settled> = Vec::new();
    for obligation in agree(motion, &lifted, machine, &file.interface) {
        let start = busy();
        let one = decide(motion, obligation, &settings);
        let one = Settled { micros: busy() - start, ..one };
        let folder = std::env::var_os("OPEN").filter(|_| is_open(&one) || one.micros > 300_000);
        if let Some(folder) = folder {
            println!("{} ms, {} steps: {}", one.micros / 1000, one.steps, common::told(&one));
            keep(&one, machine, file, Path::new(&folder));
        }
        settled.push(one);
    }
    let micros: u64 = settled.iter().map(|s| s.micros).sum();
    println!("{} on {}: {} obligations, {} ms", file.name, machine.name, settled.len(), micros / 1000);
    let open: Vec<String> = settled.iter().filter(|s| is_open(s)).map(common::told).collect();
    if open.is_empty() { Ok(settled.len()) } else { Err(format!("disagrees: {}", open.join("\n    "))) }
}

fn is_open(settled: &Settled) -> bool {
    !matches!(settled.verdict, Verdict::Proved { .. })
}

#[expect(clippy::disallowed_methods, reason = "for whoever looks for the cause")]
/// The text, and each formula of an obligation, the easier ones among them.
fn keep(settled: &Settled, machine: &Machine, file: &EmittedFile, folder: &Path) {
    let write = |name: String, text: &str| std::fs::write(folder.join(name), text).unwrap();
    std::fs::create_dir_all(folder).unwrap();
    write(format!("{}-{}", machine.name, file.name), &file.text);
    let name = settled.obligation.id.replace('/', "-");
    let easier = settled.obligation.easier.iter().enumerate();
    let formulas = std::iter::once((0, &settled.obligation.formula)).chain(easier.map(|(i, f)| (i + 1, f)));
    for (i, formula) in formulas {
        let text = format!("; {}\n{}", settled.obligation.why, to_smt2(formula));
        write(format!("{}-{name}-{i}.smt2", machine.name), &text);
    }
}

/// What is said of every motion on these machines that is neither right nor on the list.
fn faults(names: &[&str], form: Form, settings: &dyn Fn(&Motion) -> Option<Settings>) -> Vec<String> {
    let mut faults = Vec::new();
    // `ONLY=name,name` looks at these alone.
    let only = std::env::var("ONLY").ok();
    for name in names {
        let machine = common::machine(name);
        for motion in motions() {
            if only.as_ref().is_some_and(|only| !only.split(',').any(|name| name == motion.name)) {
                continue;
            }
            let Some(settings) = settings(&motion) else { continue };
            let listed = REFUSED.iter().find(|(n, f, ..)| *n == motion.name && *f == form);
            match (outcome(&motion, &machine, form, &settings), listed) {
                (Ok(proved), None) => println!("{} on {name}: {proved} obligations", motion.name),
                (Err(why), Some((_, _, code, _))) if why.starts_with(code) => {}
                (Ok(_), Some(_)) => faults.push(format!("{} on {name}: listed, and written", motion.name)),
                (Err(why), _) => faults.push(format!("{} on {name}: {why}", motion.name)),
            }
        }
    }
    faults
}

/// `ONLY=helix_bore cargo test --release -p borewright-lift --test every_form -- --nocapture`
#[test]
fn as_macros_on_machines_with_tests() {
    let none = |_: &Motion| Some(Settings::default());
    let faults = faults(&["hash-mm", "hash-inch"], Form::Macro, &none);
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn jobs_as_blocks_on_every_machine() {
    let jobs = |motion: &Motion| motion.job.as_ref().map(|_| Settings::default());
    let machines = ["blocks-mm", "blocks-inch", "hash-mm", "hash-inch", "rs274ngc"];
    let faults = faults(&machines, Form::Blocks, &jobs);
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}
