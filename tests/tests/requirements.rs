//! How strong the requirements of the library are: just outside each of them, with all others met, how often a
//! promise is broken. What is never broken there must be a practical limit that is said in `limits.toml`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "test helpers fail by panicking")]

use std::collections::BTreeMap;
use std::path::Path;

use borewright_motion::{Clause, Motion, Requirement};
use borewright_tests::measure::Tolerance;
use borewright_tests::sizes::Walk;
use borewright_tests::source::{self, Source};
use borewright_tests::trial::{self, Trial};
use serde::Deserialize;

/// Requirements that no promise needs, each with what it is for.
#[derive(Debug, Deserialize)]
struct Limits {
    limit: Vec<Limit>,
}

#[derive(Debug, Deserialize)]
struct Limit {
    alarm: String,
    reason: String,
}

fn limits() -> BTreeMap<String, String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("limits.toml");
    let limits: Limits = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    limits.limit.into_iter().map(|l| (l.alarm, l.reason)).collect()
}

/// The motion without one of its requirements.
fn without(motion: &Motion, index: usize) -> Motion {
    let mut loose = motion.clone();
    loose.head.remove(index);
    loose
}

/// What was seen just outside one requirement.
struct Seen {
    points: usize,
    broken: usize,
    fault: String,
}

fn outside(motion: &Motion, index: usize, wanted: usize) -> Seen {
    let loose = without(motion, index);
    let mut seen = Seen { points: 0, broken: 0, fault: String::new() };
    let Some(mut walk) = Walk::new(motion, 7) else { return seen };
    for _ in 0..60 * wanted {
        if seen.points == wanted {
            break;
        }
        let Some(sizes) = walk.beyond(&loose) else { continue };
        match trial::exact(&loose, &sizes, Tolerance::EXACT) {
            Trial::NotAdmitted | Trial::TooLong | Trial::NotWritten(_) => continue,
            Trial::Kept => {}
            Trial::Broken(why) => {
                seen.broken += 1;
                seen.fault = why;
            }
            Trial::Faults(faults) => {
                seen.broken += 1;
                seen.fault = faults.first().map(|f| format!("{f:?}")).unwrap_or_default();
            }
        }
        seen.points += 1;
    }
    seen
}

/// Its own requirements: what a called routine or a table brings is not among them.
fn requirements(motion: &Motion) -> Vec<(usize, &Requirement)> {
    let all = || {
        motion.head.iter().enumerate().filter_map(|(index, clause)| match clause {
            Clause::Require(r) => Some((index, r)),
            Clause::Let(_) => None,
        })
    };
    let stated = |r: &Requirement| all().filter(|(_, other)| other.span == r.span).count() == 1;
    let of_table = |r: &Requirement| motion.parameters.iter().any(|p| p.span == r.span);
    all().filter(|(_, r)| stated(r) && !of_table(r)).collect()
}

fn library() -> Vec<Source> {
    source::all().into_iter().filter(|s| s.file.starts_with("stdlib/")).collect()
}

#[test]
fn what_no_promise_needs_is_a_limit_that_is_said() {
    let wanted = if std::env::var("BOREWRIGHT_FULL").is_ok_and(|v| v == "1") { 100 } else { 10 };
    let limits = limits();
    let mut wrong = Vec::new();
    for source in library() {
        let report = source::checked(&source.text);
        let Some(judged) = source::judged(&report, &source.name) else {
            panic!("{}: {:?}", source.name, source::errors(&report));
        };
        for (index, requirement) in requirements(&judged.motion) {
            let seen = outside(&judged.motion, index, wanted);
            let share = (100 * seen.broken).checked_div(seen.points).unwrap_or(0);
            let reason = limits.get(&requirement.alarm);
            let fault: String = seen.fault.chars().take(60).collect();
            let why = reason.map_or(fault.as_str(), String::as_str);
            let (name, alarm, points) = (&source.name, &requirement.alarm, seen.points);
            println!("{name:24} {alarm:28} {points:4} points {share:3} % broken  {why}");
            if seen.broken == 0 && reason.is_none() {
                wrong.push(format!("{}: {} ({})", source.name, requirement.alarm, requirement.condition));
            }
        }
    }
    assert!(wrong.is_empty(), "no promise needs, and no reason is said for:\n{}", wrong.join("\n"));
}

#[test]
fn every_limit_that_is_said_is_one_of_the_library() {
    let library = library();
    let stale = |alarm: &&String| !library.iter().any(|s| s.text.contains(&format!("else \"{alarm}\"")));
    let limits = limits();
    assert_eq!(limits.keys().filter(stale).collect::<Vec<_>>(), Vec::<&String>::new());
}
