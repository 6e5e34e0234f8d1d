//! The outcome of a check for people: a line for each routine, then the sum.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use borewright_base::Severity;
use borewright_proof::Verdict;

use super::Look;
use super::human::wrapped;
use crate::{Built, Judged, Report};

/// How many obligations ended how.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    /// Proved.
    pub proved: usize,
    /// Refuted.
    pub refuted: usize,
    /// Neither.
    pub unknown: usize,
}

impl Tally {
    /// Of one routine.
    #[must_use]
    pub fn of(judged: &Judged) -> Self {
        let mut tally = Self::default();
        for settled in &judged.verdicts.settled {
            *match settled.verdict {
                Verdict::Proved { .. } => &mut tally.proved,
                Verdict::Refuted(_) => &mut tally.refuted,
                Verdict::Unknown { .. } => &mut tally.unknown,
            } += 1;
        }
        tally
    }

    /// All of them.
    #[must_use]
    pub fn total(self) -> usize {
        self.proved + self.refuted + self.unknown
    }

    fn plus(self, other: Self) -> Self {
        Self {
            proved: self.proved + other.proved,
            refuted: self.refuted + other.refuted,
            unknown: self.unknown + other.unknown,
        }
    }
}

/// The outcome of a check.
#[must_use]
pub fn check(report: &Report, look: Look) -> String {
    let mut files: BTreeMap<_, Vec<&Judged>> = BTreeMap::new();
    for judged in &report.routines {
        files.entry(judged.motion.span.file).or_default().push(judged);
    }
    let widest = report.routines.iter().map(|j| j.motion.name.chars().count()).max().unwrap_or(0);
    let mut text = String::new();
    for (file, routines) in files {
        let name = report.sources.file(file).map_or("", |f| f.name.as_str());
        let _ = writeln!(text, "{name}");
        for judged in routines {
            let _ = writeln!(text, "  {:widest$}  {}", judged.motion.name, line(judged));
        }
    }
    text + &sum(report, look)
}

/// The outcome of a build: what was proved, what was written, what is assumed.
#[must_use]
pub fn build(built: &Built, paths: &[String], look: Look) -> String {
    let mut text = String::new();
    for judged in &built.routines {
        let _ = writeln!(text, "{}: {}", judged.motion.name, line(judged));
    }
    for (program, path) in built.programs.iter().zip(paths) {
        let blocks = program.file.text.lines().count();
        let _ = writeln!(
            text,
            "wrote {path} ({}, {} for {})",
            counted(blocks, "line"),
            program.routine,
            program.machine
        );
    }
    if built.programs.is_empty() {
        return text + "nothing was written\n";
    }
    text += "\nassumed and not proved:\n";
    for (number, assumed) in (1..).zip(&built.assumptions) {
        text += &wrapped(&format!("{number:>3}. "), &assumed.text, look);
    }
    text + "\n" + &wrapped("", CAUTION, look)
}

const CAUTION: &str = "Read the program before it runs. Check units, plane, work offset, tool length and diameter against the set-up; \
dry run above the part, single block, guards shut. The machine's own manual, local rules and a competent person come first.";

/// `47 obligations proved for every admitted size`
fn line(judged: &Judged) -> String {
    let tally = Tally::of(judged);
    let mut text = counted(tally.total(), "obligation");
    if tally.proved == tally.total() {
        text += " proved";
        if !judged.motion.parameters.is_empty() {
            text += " for every admitted size";
        }
        if !judged.verdicts.unproved.is_empty() {
            let _ =
                write!(text, "; but it calls what is not proved: {}", judged.verdicts.unproved.join(", "));
        }
        return text;
    }
    text + ": " + &parts(tally)
}

fn sum(report: &Report, look: Look) -> String {
    let held = match report.held.as_slice() {
        [] => String::new(),
        held => wrapped("not proved until the errors above are corrected: ", &held.join(", "), look),
    };
    if report.routines.is_empty() {
        return held;
    }
    let tally = report.routines.iter().map(Tally::of).fold(Tally::default(), Tally::plus);
    let jobs = report.routines.iter().filter(|j| j.motion.job.is_some()).count();
    let routines = report.routines.len() - jobs;
    let micros: u64 = report.routines.iter().map(|j| j.micros).sum();
    let mut text = held
        + &format!(
            "\n{}, {}: {}, {}; {} ms of proving\n",
            counted(routines, "routine"),
            counted(jobs, "job"),
            counted(tally.total(), "obligation"),
            if tally.proved == tally.total() { String::from("all proved") } else { parts(tally) },
            micros.div_ceil(1000),
        );
    if tally.proved > 0 {
        text += &wrapped("", ASSUMED, look);
    }
    text
}

const ASSUMED: &str = "A proof speaks of the motion, under assumptions about the set-up that every program prints in its header \
and `--format json` lists. Dry run above the part, single block, guards shut.";

fn parts(tally: Tally) -> String {
    let parts =
        [(tally.proved, "proved"), (tally.refuted, "refuted"), (tally.unknown, "could not be proved")];
    let parts = parts.into_iter().filter(|(count, _)| *count > 0);
    parts.map(|(count, what)| format!("{count} {what}")).collect::<Vec<_>>().join(", ")
}

/// The outcome of a verification.
#[must_use]
pub fn verification(verified: &crate::Verified, look: Look) -> String {
    let all = verified.obligations.len();
    let confirmed = verified.obligations.iter().filter(|o| o.confirmed).count();
    let easier = verified.obligations.iter().filter(|o| o.easier).count();
    let outcome = match (confirmed == all, verified.found.iter().any(|d| d.severity == Severity::Error)) {
        (true, false) => "all confirmed",
        (true, true) => "all confirmed, but see above",
        (false, _) => "not all confirmed",
    };
    let text = format!(
        "{}: {confirmed} confirmed, {easier} of them by an easier formula; {outcome}\n",
        counted(all, "obligation")
    );
    text + &wrapped("", TRUSTED, look)
}

const TRUSTED: &str = "Rechecked without the prover. Trusted: that the formulas written from the source say what they should \
(reading, lowering, obligations), the checker and its numbers.";

/// `1 job`, `2 jobs`
pub(crate) fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}
