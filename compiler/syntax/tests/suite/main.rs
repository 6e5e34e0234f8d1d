//! The syntax crate from outside: one binary, one module for each question.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "helpers of tests may fail as tests do"
)]

mod codes;
mod common;
mod errors;
mod formatting;
mod grammar;
mod programs;
mod robustness;
mod sentences;
