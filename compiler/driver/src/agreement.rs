//! From a text that was emitted to one that may be written: it is read back, lifted, and must agree with its
//! motion. A text that does not is our own fault.

use borewright_base::{Diagnostic, FileId};
use borewright_emit::EmittedFile;
use borewright_lift::{Argument, Reason, Style, Use, lift};
use borewright_machine::Machine;
use borewright_motion::{Lifted, Motion};
use borewright_proof::{Agreed, Interface, Proved, Settings, Settled, Verdict, settle_text};

use crate::errors;

/// A program's text, and what it says it is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Written<'a> {
    /// The name of its file.
    pub(crate) name: &'a str,
    pub(crate) text: &'a str,
    pub(crate) interface: &'a Interface,
}

impl<'a> From<&'a EmittedFile> for Written<'a> {
    fn from(file: &'a EmittedFile) -> Self {
        Self { name: &file.name, text: &file.text, interface: &file.interface }
    }
}

/// A text that is proved to agree, and what was proved of it.
#[derive(Debug)]
pub(crate) struct AgreedText {
    pub(crate) text: Agreed<String>,
    pub(crate) settled: Vec<Settled>,
}

/// The texts of a motion, each proved to agree. The first is its own; the others are subprograms of a job, which
/// agree with the routines that they are of, and the job with all of them together.
///
/// # Errors
/// When one does not, or cannot be followed.
pub(crate) fn agreed(
    proved: &[&Proved<Motion>],
    files: &[Written<'_>],
    machine: &Machine,
) -> Result<Vec<AgreedText>, Box<Diagnostic>> {
    let Some((first, others)) = files.split_first() else { return Ok(Vec::new()) };
    let (main, settled) = one(proved, *first, with(others), machine)?;
    let mut texts = vec![AgreedText { text: main.text(), settled }];
    for (file, together) in others.iter().zip(main.others()) {
        texts.push(if is_by_itself(*file) {
            let (own, settled) = one(proved, *file, Vec::new(), machine)?;
            AgreedText { text: own.text(), settled }
        } else {
            AgreedText { text: together, settled: Vec::new() }
        });
    }
    Ok(texts)
}

/// What a main program runs together with.
pub(crate) fn with(others: &[Written<'_>]) -> Vec<String> {
    others.iter().map(|file| file.text.to_owned()).collect()
}

/// Whether a subprogram agrees with a routine of its own. What takes no arguments is used by its job alone, and is
/// proved with it.
pub(crate) fn is_by_itself(file: Written<'_>) -> bool {
    file.interface.called
}

fn one(
    proved: &[&Proved<Motion>],
    file: Written<'_>,
    with: Vec<String>,
    machine: &Machine,
) -> Result<(Agreed<Lifted>, Vec<Settled>), Box<Diagnostic>> {
    let Some(proved) = proved.iter().find(|p| p.get().span == file.interface.of) else {
        return Err(Box::new(errors::text_disagrees(file.name, "the routine that it is of is not proved")));
    };
    let lifted = lifted(proved.get(), file, with, machine)
        .map_err(|reason| Box::new(errors::text_disagrees(file.name, &not_followed(file, &reason))))?;
    let verdicts = settle_text(proved, lifted, machine, file.interface, &Settings::default());
    let open = verdicts.settled.iter().find(|s| !matches!(s.verdict, Verdict::Proved { .. }));
    match (verdicts.agreed, open) {
        (Some(agreed), _) => Ok((agreed, verdicts.settled)),
        (None, Some(settled)) => Err(Box::new(disagrees(file, settled))),
        (None, None) => Err(Box::new(errors::text_disagrees(file.name, "nothing is known of it"))),
    }
}

/// All that a text can do, by its arguments as the motion has them.
///
/// # Errors
/// When it cannot be followed.
pub(crate) fn lifted(
    motion: &Motion,
    file: Written<'_>,
    with: Vec<String>,
    machine: &Machine,
) -> Result<Lifted, Reason> {
    let arguments = file.interface.arguments(motion, machine).into_iter();
    let arguments = arguments.map(|(variable, a)| (variable, Argument { value: a.value, given: a.given }));
    let style = if file.interface.called { Style::Called } else { Style::Main };
    let usage = Use { style, arguments: arguments.collect(), with };
    lift(file.text, FileId::default(), machine, &usage)
}

/// Which block cannot be followed, and why.
pub(crate) fn not_followed(file: Written<'_>, reason: &Reason) -> String {
    let block = file.text.get(reason.span.range()).unwrap_or_default().trim();
    format!("`{block}` cannot be followed: {reason}")
}

fn disagrees(file: Written<'_>, settled: &Settled) -> Diagnostic {
    let obligation = &settled.obligation;
    let phrases = obligation.kind.phrases();
    let what = match settled.verdict {
        Verdict::Refuted(_) => phrases.failure.to_owned(),
        Verdict::Proved { .. } | Verdict::Unknown { .. } => {
            format!("it could not be proved that {}", phrases.success)
        }
    };
    let told = errors::text_disagrees(file.name, &format!("{what}: {}", obligation.why));
    told.label(obligation.span, obligation.why.clone())
}
