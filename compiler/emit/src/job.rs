//! A job in macro form: one subprogram for each routine that it calls, and a main program of plain blocks that
//! calls it once for each place.
//!
//! The main program is worked out for the job's sizes, as blocks are; a subprogram takes any admitted size. A
//! subprogram has the number that its routine states. Where it states none it is numbered after the job: the first
//! routine that the job calls has the next number, the second the one after it.

use std::sync::Arc;

use borewright_base::{Diagnostic, Diagnostics, Span};
use borewright_machine::Machine;
use borewright_motion::{Motion, Step, Symbol, calls};

use crate::macros::{self, Interface};
use crate::{Arguments, EmittedFile, Form, Settings, blocks, errors, header};

/// A routine as a program that others call.
pub(crate) struct Subprogram {
    /// The routine.
    pub(crate) routine: Arc<Motion>,
    /// The routine with its requirements as the guards of its text have them.
    pub(crate) admits: Motion,
    /// Its program number.
    pub(crate) number: u32,
    /// Its variables.
    pub(crate) interface: Interface,
    /// Its text.
    pub(crate) file: EmittedFile,
}

/// The parameter that a job adds to every routine: no source can hold a name with a blank.
pub(crate) fn travel_symbol() -> Symbol {
    Symbol::new("travel height")
}

/// Emits the main program, then its subprograms.
pub(crate) fn emit_job(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
) -> Result<Vec<EmittedFile>, Diagnostics> {
    let failed = |diagnostic: Diagnostic| {
        let mut diagnostics = Diagnostics::default();
        diagnostics.report(diagnostic);
        diagnostics
    };
    let subprograms = subprograms(motion, machine, settings).map_err(failed)?;
    let mut files = blocks::emit_with(motion, machine, settings, Form::Macro, &subprograms)?;
    files.extend(subprograms.into_iter().map(|s| s.file));
    Ok(files)
}

fn subprograms(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
) -> Result<Vec<Subprogram>, Diagnostic> {
    let style = macros::style(motion, machine, settings)?;
    let refuse = |text: &str| {
        Diagnostic::error(errors::JOB_AS_MACRO, motion.span, text)
            .hint("or write the job with `--form blocks`")
    };
    let called = match style {
        Arguments::Letters => true,
        Arguments::Top => machine.calls.subprogram.is_some() && machine.calls.back.is_some(),
    };
    if !called || machine.programs.letter.is_none() {
        return Err(refuse("the machine calls no programs, so that a job has no macro form on it"));
    }
    let Some(own) = header::program_number(motion, machine, settings)? else {
        return Err(refuse(
            "a job in macro form needs a program number: its subprograms are numbered after it",
        )
        .hint("state one in its head: `program 1200`"));
    };
    let mut numbers = vec![own];
    let mut made = Vec::new();
    for (next, (routine, span)) in (1..).zip(routines(&motion.body)) {
        let stated = header::program_number(&routine, machine, &Settings::default())?;
        let number = match stated {
            Some(number) => number,
            None => header::allowed(own.saturating_add(next), span, machine)?,
        };
        if numbers.contains(&number) {
            let text = format!("`{}` would be program {number}, which another program here is", routine.name);
            return Err(Diagnostic::error(errors::PROGRAM_NUMBER, span, text)
                .hint("state another number in the head of the routine or of the job"));
        }
        numbers.push(number);
        let (file, interface) = macros::emit_called(&routine, machine, style, number)?;
        let (admits, _) = macros::narrowed(&routine, machine);
        made.push(Subprogram { routine, admits, number, interface, file });
    }
    Ok(made)
}

/// The routines that a job calls itself, in the order of their first calls, with the place of that call.
fn routines(steps: &[Step]) -> Vec<(Arc<Motion>, Span)> {
    let mut found: Vec<(Arc<Motion>, Span)> = Vec::new();
    for (call, span) in calls(steps) {
        let same = |known: &Motion| known.name == call.routine.name && known.span == call.routine.span;
        if !found.iter().any(|(known, _)| same(known)) {
            found.push((Arc::clone(&call.routine), span));
        }
    }
    found
}
