//! Scratch: rechecks obligations of smt2 files and routines.
#![allow(
    clippy::all,
    clippy::pedantic,
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::indexing_slicing
)]
use borewright_proof::{Budget, certify_proof, from_smt2};
use borewright_proof_checker::recheck;
use std::time::Instant;
fn main() {
    let (mut ok, mut bad, mut none, mut size) = (0, 0, 0, 0usize);
    let mut slow = std::time::Duration::ZERO;
    for path in std::env::args().skip(1) {
        let text = std::fs::read_to_string(&path).unwrap();
        if !text.contains(":status unsat") {
            continue;
        }
        let formula = match from_smt2(&text) {
            Ok(f) => f,
            Err(_) => {
                println!("UNREAD {path}");
                continue;
            }
        };
        let Some(c) = certify_proof(&formula, &Budget::default()) else {
            none += 1;
            continue;
        };
        let json = c.to_json(&path);
        size += json.len();
        if std::env::var("DUMP").is_ok() {
            println!("{json}");
        }
        let start = Instant::now();
        match recheck(&json) {
            Ok(_) => ok += 1,
            Err(why) => {
                bad += 1;
                println!("BAD {path}: {}", &why[..why.len().min(300)]);
            }
        }
        let took = start.elapsed();
        slow += took;
        if took.as_millis() > 300 {
            println!("SLOW {path} {took:?} {} bytes", json.len());
        }
    }
    println!("ok {ok} bad {bad} none {none} bytes {size} checking {slow:?}");
}
