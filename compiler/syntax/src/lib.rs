//! From source text to tokens, from tokens to the untyped tree, and from the tree back to formatted text.
//!
//! - **lex**: text to tokens; cannot fail.
//! - **parse**: tokens to [`ast::File`], with every error found; always gives a tree.

pub mod ast;
