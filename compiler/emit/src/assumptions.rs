//! What is assumed and not proved: a numbered list that stands in every header, sheet and report.

use borewright_machine::Machine;
use borewright_motion::{CutterKind, Motion};

use crate::Form;

/// One thing that is assumed and not proved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumption {
    /// A short name that stays the same: `pilot`, `clamps`.
    pub id: &'static str,
    /// The whole sentence.
    pub text: String,
    /// The same without brackets, for a comment.
    pub plain: String,
}

/// Everything that the proof of this motion, written in this form for this machine, does not cover.
#[must_use]
pub fn assumptions(motion: &Motion, machine: &Machine, form: Form) -> Vec<Assumption> {
    let computed = form == Form::Macro;
    let matters = |name: &str| match name {
        "functions" | "variables" => computed,
        // A macro looks for itself where the machine lets a program read its modes.
        "length" => !(computed && machine.modes.length.is_some()),
        _ => true,
    };
    let all = borewright_proof::assume(motion).into_iter().filter(|a| matters(a.name));
    all.map(|a| Assumption { id: a.name, text: a.text, plain: a.plain }).collect()
}

/// The kind in words.
pub(crate) fn kind(kind: CutterKind) -> &'static str {
    match kind {
        CutterKind::Flat => "flat end mill",
        CutterKind::Corner => "corner radius end mill",
        CutterKind::Ball => "ball end mill",
        CutterKind::Point => "pointed cutter",
        CutterKind::Thread => "thread mill",
        CutterKind::Disc => "disc cutter on a neck",
    }
}

/// What a person does before metal is cut. This text defers to the machine's manual and to local rules.
pub(crate) const CAUTIONS: [&str; 6] = [
    "VERIFY THIS PROGRAM: UNITS, OFFSETS, TOOL LENGTH, TOOL DIAMETER",
    "FIRST RUN: DRY, ABOVE THE PART, SINGLE BLOCK, RAPIDS AND FEED DOWN",
    "GUARDS SHUT, WORK CLAMPED, A HAND ON FEED HOLD",
    "STOP THE SPINDLE BEFORE A HAND GOES NEAR CUTTER OR WORK",
    "THE MANUAL OF THE MACHINE AND LOCAL RULES COME FIRST",
    "ONLY UNDER A COMPETENT PERSON",
];

/// Whether a tool of the job is allowed to wear: a size that only the control knows.
pub(crate) fn uses_wear(motion: &Motion) -> bool {
    let worn = |job: &borewright_motion::Job| {
        job.tools.iter().any(|t| {
            let wear = t.fields.get(&borewright_motion::Field::Wear);
            wear.is_some_and(|w| w.as_number().is_none_or(|n| !n.is_zero()))
        })
    };
    motion.job.as_ref().is_some_and(worn)
}
