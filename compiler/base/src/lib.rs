//! What every step of the compiler needs: places in source texts, and the diagnostics that point at them.

mod code;
mod diagnostic;
pub mod pages;
mod source;
mod suggest;

pub use code::Code;
pub use diagnostic::{Diagnostic, Diagnostics, Label, Reported, Severity};
pub use source::{FileId, Position, SourceFile, SourceMap, Span};
pub use suggest::nearest;
