//! Emitting controller text: from a proved motion to a macro or to plain blocks.

#![allow(clippy::result_large_err, reason = "a diagnostic is made once, where the writing of a program ends")]

mod arcs;
mod arithmetic;
mod assumptions;
mod blocks;
mod deviation;
pub mod errors;
mod header;
mod interface;
mod job;
mod macros;
mod number;
mod text;
mod wear;
mod writer;

use std::collections::BTreeMap;

use borewright_base::{Diagnostic, Diagnostics, Span};
use borewright_machine::Machine;
use borewright_motion::{Motion, Symbol};
use borewright_number::Rational;
use borewright_proof::{Interface, Proved};

pub use assumptions::{Assumption, assumptions};
pub use text::harmless;

/// How a motion is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Form {
    /// With numbered variables: one program, any size.
    Macro,
    /// Plain blocks: everything worked out for one size.
    Blocks,
}

/// How a macro gets its sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Arguments {
    /// By letters of the call: `G65 P1200 B50. H40.`
    Letters,
    /// In variables set at the top of the program.
    Top,
}

/// What the user chose.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Settings {
    /// Sizes, in base units: all that have no default in the blocks form; in a macro, those of the variables
    /// set at the top.
    pub values: BTreeMap<Symbol, Rational>,
    /// A program number that wins over the one in the source.
    pub program: Option<u32>,
    /// How a macro gets its sizes; by letters where nothing is said and the machine has them.
    pub arguments: Option<Arguments>,
}

/// How far what the text brings about may be from the proved motion, in mm and degrees: rigorous bounds, from the
/// number format and the accuracy that the machine file states. `None` where there is no bound.
#[derive(Debug, Clone, PartialEq)]
pub struct Bounds {
    /// Most that the end of a move differs from the exact one, along one axis.
    pub end_point: Option<Rational>,
    /// Most that the cutter's centre leaves its proved path in the plane, and so the wall its place.
    pub wall: Option<Rational>,
    /// Most that a depth differs.
    pub floor: Option<Rational>,
    /// Most that the angle between two arcs that meet differs, in degrees.
    pub joint: Option<Rational>,
    /// Most that the radii at start and end of an arc differ.
    pub arc_mismatch: Option<Rational>,
}

/// One program, ready to be written to a file.
#[derive(Debug, Clone, PartialEq)]
pub struct EmittedFile {
    /// Its name: `O1200.nc`.
    pub name: String,
    /// The whole text; lines end in a line feed.
    pub text: String,
    /// For each line, the source it serves.
    pub lines: Vec<Option<Span>>,
    /// Its program number.
    pub program: Option<u32>,
    /// Its form.
    pub form: Form,
    /// How far it may be from the exact motion.
    pub bounds: Bounds,
    /// What its author should know; none of it keeps the program from being written.
    pub warnings: Vec<Diagnostic>,
    /// What its numbers and variables stand for: what it is compared by with its motion.
    pub interface: Interface,
}

/// Writes a proved motion for a machine.
pub fn emit(
    proved: &Proved<Motion>,
    machine: &Machine,
    form: Form,
    settings: &Settings,
) -> Result<Vec<EmittedFile>, Diagnostics> {
    emit_unproved(proved.get(), machine, form, settings)
}

/// Emits a motion that has not been proved: for this crate's own tests.
#[doc(hidden)]
pub fn emit_unproved(
    motion: &Motion,
    machine: &Machine,
    form: Form,
    settings: &Settings,
) -> Result<Vec<EmittedFile>, Diagnostics> {
    let files = match form {
        Form::Blocks => blocks::emit_blocks(motion, machine, settings)?,
        Form::Macro if motion.job.is_some() => job::emit_job(motion, machine, settings)?,
        Form::Macro => vec![macros::emit_macro(motion, machine, settings)?],
    };
    remembered(files, motion, machine, form)
}

/// By the names of the programs of a motion, what their variables and numbers stand for, without the texts: what
/// somebody needs who compares texts that he has with their motion, proved or not.
pub fn interfaces(
    motion: &Motion,
    machine: &Machine,
    form: Form,
    settings: &Settings,
) -> Result<Vec<(String, Interface)>, Diagnostics> {
    let files = emit_unproved(motion, machine, form, settings)?;
    Ok(files.into_iter().map(|file| (file.name, file.interface)).collect())
}

/// The programs, where they fit into the program memory together.
fn remembered(
    files: Vec<EmittedFile>,
    motion: &Motion,
    machine: &Machine,
    form: Form,
) -> Result<Vec<EmittedFile>, Diagnostics> {
    let bytes: u64 = files.iter().map(|file| u64::try_from(file.text.len()).unwrap_or(u64::MAX)).sum();
    let Some(memory) = machine.programs.memory.filter(|memory| *memory < bytes) else { return Ok(files) };
    let text =
        format!("`{}` comes to {bytes} bytes, more than the {memory} of the program memory", motion.name);
    let hint = match form {
        Form::Blocks => {
            "the macro form is shorter, and so are calls of subprograms, where the machine has them; or make several jobs of it"
        }
        Form::Macro => "make several jobs of it, or free program memory and say so in the machine file",
    };
    let mut diagnostics = Diagnostics::default();
    diagnostics.report(Diagnostic::error(errors::MEMORY, motion.span, text).hint(hint));
    Err(diagnostics)
}
