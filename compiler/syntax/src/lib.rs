//! From source text to tokens, from tokens to the untyped tree, and from the text to its canonical form.
//!
//! - **lex**: text to tokens and comments; cannot fail.
//! - **parse**: text to [`ast::File`], with every error found; always gives a tree.
//! - **format**: text to its canonical form.

pub mod ast;
mod brackets;
pub mod errors;
mod format;
mod lex;
mod parse;
mod token;

pub use format::format;
pub use lex::{Comment, Lexed, lex};
pub use parse::parse;
pub use token::{Place, Sign, Token, Word};

/// The grammar, as a page of the manual. A test holds it and the parser to each other.
pub const GRAMMAR: &str = include_str!("../manual/grammar.md");
