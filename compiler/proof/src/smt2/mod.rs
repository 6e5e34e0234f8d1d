//! Formulas as SMT-LIB 2 text: a reader for a small subset, and a printer.
//!
//! The text means exactly what the formula means, over the reals, with `sqrt`, `sin` and `cos` (of radians)
//! and `real.pi` as the functions of that name (logic name `QF_NRAT`, which solvers without these functions
//! don't know). The goal is negated: `unsat` means proved, `sat` refuted.

mod print;
mod read;

pub use print::to_smt2;
pub use read::{ReadError, from_smt2};
