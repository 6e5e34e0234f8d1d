//! From a text that was emitted to one that may be written: it is read back, lifted, and must agree with its
//! motion. A text that does not is our own fault.

use borewright_base::{Diagnostic, FileId};
use borewright_emit::EmittedFile;
use borewright_lift::{Argument, Reason, Style, Use, lift};
use borewright_machine::Machine;
use borewright_motion::{Lifted, Motion};
use borewright_proof::{Agreed, Proved, Settings, Settled, Verdict, settle_text};

use crate::errors;

/// The texts of a motion, each proved to agree. The first is its own; the others are subprograms of a job, which
/// agree with the routines that they are of, and the job with all of them together.
///
/// # Errors
/// When one does not, or cannot be followed.
pub(crate) fn agreed(
    proved: &[&Proved<Motion>],
    files: &[EmittedFile],
    machine: &Machine,
) -> Result<Vec<Agreed<String>>, Box<Diagnostic>> {
    let Some((first, others)) = files.split_first() else { return Ok(Vec::new()) };
    let with: Vec<String> = others.iter().map(|file| file.text.clone()).collect();
    let main = one(proved, first, with, machine)?;
    let mut texts = vec![main.text()];
    for (file, together) in others.iter().zip(main.others()) {
        // What takes no arguments is used by this job alone, and was proved with it.
        let text =
            if file.interface.called { one(proved, file, Vec::new(), machine)?.text() } else { together };
        texts.push(text);
    }
    Ok(texts)
}

fn one(
    proved: &[&Proved<Motion>],
    file: &EmittedFile,
    with: Vec<String>,
    machine: &Machine,
) -> Result<Agreed<Lifted>, Box<Diagnostic>> {
    let interface = &file.interface;
    let Some(proved) = proved.iter().find(|p| p.get().span == interface.of) else {
        return Err(Box::new(errors::text_disagrees(&file.name, "the routine that it is of is not proved")));
    };
    let arguments = interface.arguments(proved.get(), machine).into_iter();
    let arguments = arguments.map(|(variable, a)| (variable, Argument { value: a.value, given: a.given }));
    let style = if interface.called { Style::Called } else { Style::Main };
    let usage = Use { style, arguments: arguments.collect(), with };
    let lifted = lift(&file.text, FileId::default(), machine, &usage)
        .map_err(|reason| Box::new(not_followed(file, &reason)))?;
    let verdicts = settle_text(proved, lifted, machine, interface, &Settings::default());
    let open = verdicts.settled.iter().find(|s| !matches!(s.verdict, Verdict::Proved { .. }));
    match (verdicts.agreed, open) {
        (Some(agreed), _) => Ok(agreed),
        (None, Some(settled)) => Err(Box::new(disagrees(file, settled))),
        (None, None) => Err(Box::new(errors::text_disagrees(&file.name, "nothing is known of it"))),
    }
}

fn not_followed(file: &EmittedFile, reason: &Reason) -> Diagnostic {
    let block = file.text.get(reason.span.range()).unwrap_or_default().trim();
    errors::text_disagrees(&file.name, &format!("`{block}` cannot be followed: {reason}"))
}

fn disagrees(file: &EmittedFile, settled: &Settled) -> Diagnostic {
    let obligation = &settled.obligation;
    let phrases = obligation.kind.phrases();
    let what = match settled.verdict {
        Verdict::Refuted(_) => phrases.failure.to_owned(),
        Verdict::Proved { .. } | Verdict::Unknown { .. } => {
            format!("it could not be proved that {}", phrases.success)
        }
    };
    let told = errors::text_disagrees(&file.name, &format!("{what}: {}", obligation.why));
    told.label(obligation.span, obligation.why.clone())
}
