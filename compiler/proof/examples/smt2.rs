//! Decides SMT-LIB 2 files: one line for each, `NAME proved|refuted|unknown MICROSECONDS`.
#![allow(
    clippy::disallowed_methods,
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a command line program: it reads files, measures time and prints"
)]

use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use borewright_proof::{Answer, Budget, from_smt2, prove};

fn main() -> ExitCode {
    let mut good = true;
    let mut details = false;
    for path in std::env::args().skip(1) {
        if path == "--details" {
            details = true;
            continue;
        }
        let name = Path::new(&path).file_stem().map_or(path.clone(), |n| n.to_string_lossy().into_owned());
        let Ok(text) = std::fs::read_to_string(&path) else {
            eprintln!("{path}: can't be read");
            good = false;
            continue;
        };
        let start = Instant::now();
        let outcome = from_smt2(&text).map(|formula| prove(&formula, &Budget::default()));
        let micros = start.elapsed().as_micros();
        match outcome {
            Err(error) => {
                eprintln!("{path}: {error}");
                good = false;
                println!("{name} unknown {micros}");
            }
            Ok(outcome) => {
                let word = match &outcome.answer {
                    Answer::Proved { .. } => "proved",
                    Answer::Refuted(_) => "refuted",
                    Answer::Unknown { .. } => "unknown",
                };
                println!("{name} {word} {micros}");
                if details {
                    println!("    {} steps; {:?}", outcome.steps, outcome.answer);
                }
            }
        }
    }
    if good { ExitCode::SUCCESS } else { ExitCode::from(2) }
}
