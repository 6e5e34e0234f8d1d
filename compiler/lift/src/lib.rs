//! Lifting: from controller text to the motion that it makes, for all values of its arguments.
//!
//! The text is run with symbols in its variables and with every state that it can ask for at entry; what comes
//! out is each of its [courses](borewright_motion::Course): under which conditions it is taken, what the
//! machine does, how it ends. Arguments that are left out are a case of their own. What cannot be followed is
//! refused with a [`Reason`]: never guessed.
//!
//! The step from one block to its effects is that of the virtual controller, so that a misreading of the
//! controller's language would be shared by concrete runs and by what is proved of a text: only the step's own
//! tests against outside sources stand against that. Arithmetic is that of the reals; the controller's
//! rounding is accounted for elsewhere.

mod entry;
mod know;
mod loops;
mod run;
mod state;
mod term;

use std::collections::BTreeMap;
use std::fmt;

use borewright_base::{FileId, Severity, Span};
use borewright_machine::Machine;
use borewright_motion::{Expr, Lifted, Symbol};
use borewright_runtime::Program;
use borewright_runtime::controller::Controller;

pub use entry::Style;

/// An argument of a call, in the variable that its letter fills.
#[derive(Debug, Clone, PartialEq)]
pub struct Argument {
    /// The value as the text sees it, in the units of the text.
    pub value: Expr,
    /// A name that is not 0 where the argument is supplied, and 0 where it is vacant.
    pub given: Symbol,
}

/// How a text is used.
#[derive(Debug, Clone, PartialEq)]
pub struct Use {
    /// Called with arguments, or run by itself.
    pub style: Style,
    /// Arguments by variable; all other variables of the call are vacant.
    pub arguments: BTreeMap<u32, Argument>,
    /// Texts with the programs that it calls.
    pub with: Vec<String>,
}

/// Why a text cannot be followed.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    /// The block.
    pub span: Span,
    /// What is wrong with it.
    pub text: String,
}

impl Reason {
    pub(crate) fn new(span: Span, text: impl Into<String>) -> Self {
        Self { span, text: text.into() }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl std::error::Error for Reason {}

/// Lifts a text; its first program is the one that is used. Spans lie in `text` under the id `file`.
///
/// # Errors
/// When the text cannot be read, or cannot be followed.
pub fn lift(text: &str, file: FileId, machine: &Machine, usage: &Use) -> Result<Lifted, Reason> {
    let mut controller = Controller::from(machine);
    let program = readable(text, file, &controller)?;
    let others = usage.with.iter().zip(1..).map(|(text, n)| readable(text, FileId(file.0 + n), &controller));
    let others: Vec<Program> = others.collect::<Result<_, _>>()?;
    controller.variables.system.retain(|_, value| entry::is_followed(*value));
    // Read from the state: one of two codes.
    controller.variables.readable.extend(machine.modes.compensation.map(|variable| variable..=variable));
    let bodies = program.bodies.iter().chain(others.iter().flat_map(|p| &p.bodies)).collect();
    entry::every(text, bodies, &controller, machine, usage)
}

/// A text in which the controller finds nothing wrong before it runs.
fn readable(text: &str, file: FileId, controller: &Controller) -> Result<Program, Reason> {
    let (program, found) = borewright_runtime::read(file, text);
    let unknown = borewright_runtime::conform(&program, controller);
    let mut errors = found.iter().chain(unknown.iter()).filter(|d| d.severity == Severity::Error);
    match errors.next() {
        Some(error) => Err(Reason::new(error.span.unwrap_or_default(), error.message.clone())),
        None => Ok(program),
    }
}
