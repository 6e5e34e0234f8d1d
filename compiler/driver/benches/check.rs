//! How long `check` takes for each routine and job of the library and the samples, as a ratio: to the time
//! that a small kernel of exact arithmetic takes in the same run. Milliseconds differ between machines and
//! between quiet and busy hours; the ratios much less.
//!
//! `cargo bench -p borewright-driver` prints a table; a routine that takes more than `MOST` kernels fails it.

#![allow(clippy::print_stdout, clippy::disallowed_methods, reason = "a benchmark has a clock and prints")]

use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use borewright_driver::{Host, MemoryHost, Place, Trouble, check};
use borewright_number::Rational;

/// Rounds; medians are taken over them.
const ROUNDS: usize = 15;

/// The most kernels that a check of one routine or job may take.
const MOST: f64 = 100.0;

/// A sum of 3000 different fractions. It takes long enough for a busy machine to slow it as it slows a proof.
fn kernel() -> Rational {
    let fraction = |n: i64| Rational::ratio(1, n).unwrap_or(Rational::ZERO);
    (1..=3000).map(fraction).fold(Rational::ZERO, |sum, f| sum + f)
}

struct Clocked(MemoryHost, Instant);

impl Host for Clocked {
    fn read(&self, path: &str) -> Result<Vec<u8>, Trouble> {
        self.0.read(path)
    }

    fn look(&self, path: &str) -> Result<Place, Trouble> {
        self.0.look(path)
    }

    fn micros(&self) -> u64 {
        u64::try_from(self.1.elapsed().as_micros()).unwrap_or(u64::MAX)
    }
}

/// Name and text of every file of the library and the samples.
fn files() -> Vec<(String, String)> {
    let bundled = borewright_stdlib::FILES.iter().map(|(n, t)| (format!("{n}.bore"), (*t).to_owned()));
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../samples");
    let entries = std::fs::read_dir(samples).into_iter().flatten();
    let mut paths: Vec<_> = entries.filter_map(|e| Some(e.ok()?.path())).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e == "bore"));
    paths.sort();
    let name = |p: &Path| p.file_name().map_or(String::new(), |n| n.to_string_lossy().into_owned());
    bundled.chain(paths.iter().filter_map(|p| Some((name(p), std::fs::read_to_string(p).ok()?)))).collect()
}

fn median(mut list: Vec<f64>) -> f64 {
    list.sort_by(f64::total_cmp);
    list.get(list.len() / 2).copied().unwrap_or(0.0)
}

/// Milliseconds of every round, of one routine or job.
struct Timed {
    name: String,
    obligations: usize,
    rounds: Vec<f64>,
}

#[allow(clippy::cast_precision_loss, reason = "milliseconds")]
fn round(timed: &mut Vec<Timed>) -> f64 {
    let start = Instant::now();
    let sum = std::hint::black_box(kernel());
    let kernel = start.elapsed().as_secs_f64() * 1000.0;
    assert!(sum.signum() > 0);
    for (file, text) in files() {
        let host = Clocked(MemoryHost::new([(file.clone(), text)]), Instant::now());
        let report = check(&host, &[file]);
        for judged in report.routines.iter().filter(|j| j.asked) {
            let ms = judged.micros as f64 / 1000.0;
            match timed.iter_mut().find(|t| t.name == judged.motion.name) {
                Some(known) => known.rounds.push(ms),
                None => timed.push(Timed {
                    name: judged.motion.name.clone(),
                    obligations: judged.verdicts.settled.len(),
                    rounds: vec![ms],
                }),
            }
        }
    }
    kernel
}

#[allow(clippy::cast_precision_loss, reason = "small counts")]
fn main() -> ExitCode {
    // `cargo test` runs benchmarks too, for one look whether they work.
    let rounds = if std::env::args().any(|a| a == "--bench") { ROUNDS } else { 1 };
    let mut timed = Vec::new();
    let kernel = median((0..rounds).map(|_| round(&mut timed)).collect());
    println!("kernel of exact arithmetic: {kernel:.3} ms, the median of {rounds}");
    println!("{:24}{:>12}{:>10}{:>10}{:>18}", "", "obligations", "ms", "kernels", "each, in kernels");
    let mut each = Vec::new();
    let mut slow = false;
    for t in timed {
        let ms = median(t.rounds);
        let (ratio, share) = (ms / kernel, ms / kernel / t.obligations.max(1) as f64);
        println!("{:24}{:>12}{ms:>10.1}{ratio:>10.1}{share:>18.3}", t.name, t.obligations);
        each.push(share);
        slow |= ratio > MOST;
    }
    println!("{:24}{:>12}{:>10}{:>10}{:>18.3}", "median of all", "", "", "", median(each));
    if slow && rounds > 1 {
        println!("a routine took more than {MOST} kernels");
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}
