//! From a text to its canonical form.
//!
//! The form is made from the tokens, not from the tree: nothing is printed that was not read, and a comment stays
//! between the two tokens where it stood. `breaks` decides where lines begin, `spacing` what stands between two tokens of a line,
//! `layout` puts both together, `align` lines up columns. Only commas at the end of a list come and go.

mod align;
mod breaks;
mod layout;
mod spacing;

use borewright_base::{Diagnostics, FileId};

use crate::{lex, parse};

/// The widest line that a list of parameters is put on.
const WIDTH: usize = 100;

/// The canonical form of a text: one statement a line, at most one blank line between two, columns lined up.
/// Formatting it again changes nothing, and it reads as the same tree.
///
/// # Errors
/// Everything that is wrong with the text when it cannot be parsed: such a text is left alone.
pub fn format(file: FileId, text: &str) -> Result<String, Diagnostics> {
    let (_, diagnostics) = parse(file, text);
    if diagnostics.has_errors() {
        return Err(diagnostics);
    }
    let lexed = lex(file, text);
    let lines = layout::lay_out(text, &lexed);
    Ok(align::print(lines))
}
