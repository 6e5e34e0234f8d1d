//! Proved routines at sizes drawn at random, most of them where something just holds: the exact motion and
//! the emitted text keep every promise, by a measure that shares nothing with the prover.

#![expect(clippy::unwrap_used, clippy::panic, reason = "test helpers fail by panicking")]

use borewright_base::{Diagnostics, SourceMap};
use borewright_driver::{MemoryHost, machines};
use borewright_machine::Machine;
use borewright_tests::measure::Tolerance;
use borewright_tests::sizes::{Walk, shown};
use borewright_tests::source::{self, Source};
use borewright_tests::trial::{self, Trial};

fn full() -> bool {
    std::env::var("BOREWRIGHT_FULL").is_ok_and(|v| v == "1")
}

fn machine(name: &str) -> Machine {
    let host = MemoryHost::default();
    machines::find(&host, name, &mut SourceMap::default(), &mut Diagnostics::default()).unwrap()
}

/// How a source fared.
struct Count {
    kept: usize,
    text: usize,
    /// Draws of a job with fixed sizes that takes more steps than are tried.
    long: usize,
}

/// At so many draws, and at more of them until so many were admitted.
fn try_all(source: &Source, (draws, admitted): (usize, usize), wrong: &mut Vec<String>) -> Count {
    let report = source::checked(&source.text);
    let Some(judged) = source::judged(&report, &source.name) else {
        panic!("{}: {:?}", source.name, source::errors(&report));
    };
    let motion = &judged.motion;
    let blocks = machine(if motion.inch { "blocks-inch" } else { "blocks-mm" });
    let mut count = Count { kept: 0, text: 0, long: 0 };
    let Some(mut walk) = Walk::new(motion, 1) else {
        wrong.push(format!("{}: no admitted sizes were found", source.name));
        return count;
    };
    // A job with fixed sizes cannot be drawn shorter.
    let most = if motion.parameters.is_empty() { draws } else { 20 * draws };
    for draw in 0..most {
        if draw >= draws && count.kept >= admitted {
            break;
        }
        let sizes = walk.step();
        let exact = trial::exact(motion, &sizes, Tolerance::EXACT);
        let written = exact == Trial::Kept;
        count.kept += usize::from(written);
        count.long += usize::from(exact == Trial::TooLong && motion.parameters.is_empty());
        let text = if written { trial::text(motion, &sizes, &blocks) } else { Trial::NotAdmitted };
        count.text += usize::from(text == Trial::Kept);
        for (how, trial) in [("motion", exact), ("text", text)] {
            if trial.contradicts() {
                wrong.push(format!("{} {how}: {trial:?} at {}", source.name, shown(&sizes)));
            }
        }
    }
    count
}

#[test]
fn proved_routines_keep_every_promise_at_sizes_drawn_at_random() {
    let (draws, admitted) = if full() { (200, 200) } else { (20, 1) };
    let mut wrong = Vec::new();
    for source in source::all() {
        let count = try_all(&source, (draws, admitted), &mut wrong);
        println!("{:24} {:24} {} motions, {} texts", source.file, source.name, count.kept, count.text);
        // A draw may lie beyond an exclusive boundary, or take too many steps, as most of patterns do; not all may.
        if count.kept + count.long == 0 {
            wrong.push(format!("{}: none of {draws} draws was admitted", source.name));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
