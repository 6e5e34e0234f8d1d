//! From the untyped tree of a file to typed routines and jobs: **resolve** finds what each name means, **type**
//! gives each quantity its dimension.
//!
//! One run reports every error, each once: what was not understood becomes an `Invalid` node, and nothing
//! that builds on it is complained about again.

mod body;
mod call;
mod checker;
pub mod codes;
mod constant;
mod cutter;
mod errors;
mod expr;
mod feature;
mod function;
mod head;
mod module;
mod operator;
mod place;
mod scope;
mod signature;
mod size;
mod suggest;
mod table;
pub mod typed;
mod value;

use std::sync::Arc;

use borewright_base::{Diagnostics, FileId};
use borewright_syntax::ast;

pub use typed::Checked;

/// Finds the file that a `use` names: the bundled library, or `NAME.bore` beside the file.
pub trait Loader {
    /// The parsed file; `None` where there is none. The loader reports what the parser finds in it.
    fn load(&self, name: &str) -> Option<Arc<ast::File>>;
}

/// No file to use.
impl Loader for () {
    fn load(&self, _: &str) -> Option<Arc<ast::File>> {
        None
    }
}

/// Resolves and types a file and all that it uses. Errors of used files are reported too, their warnings are
/// not.
#[must_use]
pub fn check(file: &ast::File, _: FileId, loader: &dyn Loader) -> (Checked, Diagnostics) {
    checker::Checker::new(loader).run(file)
}
