//! From obligations to SMT-LIB 2 files, so that anybody can ask another solver.

use borewright_proof::{Formula, Kind, Verdict, to_smt2};

use crate::Report;
use crate::certificates::{File, stem, word};

const MEANING: &str = "\
; Meaning. All numbers are exact reals; lengths in mm, angles in degrees, time in minutes; Int constants take
; whole values only. The last assertion is the negated claim, the others are what may be assumed:
; `unsat` = the claim holds for all values. sqrt is the root that is not negative; sin, cos, tan take radians
; (degrees are converted by real.pi / 180), arctan lies in -pi/2 .. pi/2, arccos in 0 .. pi. That no divisor is 0
; and no root or arccos leaves its domain is a claim of its own, made in the obligations called divisor and
; domain: a solver that gives x / 0 some value of its choice answers the same. to_int is the floor.
";

/// A file for each obligation, and one more for each that was proved by an easier formula.
#[must_use]
pub fn smt2(report: &Report) -> Vec<File> {
    let mut files: Vec<File> = Vec::new();
    for settled in report.routines.iter().flat_map(|judged| &judged.verdicts.settled) {
        let obligation = &settled.obligation;
        let mut stem = stem(&obligation.id, &obligation.id);
        while files.iter().any(|(name, _)| *name == format!("{stem}.smt2")) {
            stem += "-2";
        }
        let expected = match (&settled.verdict, obligation.kind == Kind::Witness) {
            (Verdict::Proved { .. }, false) | (Verdict::Refuted(_), true) => "unsat",
            (Verdict::Proved { .. }, true) | (Verdict::Refuted(_), false) => "sat",
            (Verdict::Unknown { .. }, _) => "not known",
        };
        let head = format!(
            "; {}\n; {}\n; verdict here: {}; expected answer: {expected}\n",
            obligation.id,
            obligation.why.replace('\n', " "),
            word(&settled.verdict)
        );
        let text =
            |note: &str, formula: &Formula| format!("{head}{note}{MEANING}{}", to_smt2(formula)).into_bytes();
        let easier = match &settled.verdict {
            Verdict::Proved { formula, .. } if *formula != obligation.formula => Some(formula),
            Verdict::Proved { .. } | Verdict::Refuted(_) | Verdict::Unknown { .. } => None,
        };
        let note = match easier {
            Some(_) => format!("; proved by an easier formula that implies this one: {stem}.easier.smt2\n"),
            None => String::new(),
        };
        files.push((format!("{stem}.smt2"), text(&note, &obligation.formula)));
        let note =
            format!("; easier than {stem}.smt2, and implies it: this is the formula that was proved\n");
        files.extend(easier.map(|formula| (format!("{stem}.easier.smt2"), text(&note, formula))));
    }
    files
}
