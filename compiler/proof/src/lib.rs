//! From motion to obligations, and from obligations to verdicts.
//!
//! - **oblige** walks a motion with its contract and writes down every formula that must hold;
//! - **prove** decides one formula for all values of its variables: proved, refuted, unknown;
//! - only when all is proved is a `Proved` motion made, and only that can be emitted.

mod formula;

pub use formula::{Answer, Formula, Hypothesis, HypothesisKind, Lemma, Sort, Valuation, Variable};
