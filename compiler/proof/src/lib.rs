//! From motion to obligations, and from obligations to verdicts.
//!
//! - **oblige** walks a motion with its contract and writes down every formula that must hold;
//! - **prove** decides one formula for all values of its variables: proved, refuted, unknown;
//! - **suggest** finds lines that would make what is not proved hold, and requirements that say too much;
//! - only when all is proved is a `Proved` motion made, and only that can be emitted.

mod agree;
mod assumption;
pub mod certificate;
mod certify;
pub mod codes;
mod engine;
pub mod errors;
mod formula;
mod kind;
mod obligation;
mod oblige;
mod plain;
mod proved;
mod replay;
mod smt2;
mod suggest;

pub use agree::{
    Agreed, Given, Interface, TextVerdicts, Tolerance, Wear, agree, settle_text, settle_unproved,
};
pub use assumption::{Assumption, assume};
pub use certify::{
    Certified, Evidence, certify, certify_proof, certify_witness, formula_text, name_text, refutation,
};
pub use engine::{Budget, Outcome, Value, enclose, evaluate, prove, well_defined, witness};
pub use formula::{Answer, Formula, Hypothesis, HypothesisKind, Lemma, Sort, Valuation, Variable};
pub use kind::{Kind, Phrases};
pub use obligation::{ConcreteCheck, Obligation};
pub use oblige::{Limits, Oracle, oblige};
pub use proved::{
    Counterexample, Engine, Fault, Proved, Settings, Settled, Verdict, Verdicts, decide, settle, settle_timed,
};
pub use smt2::{ReadError, from_smt2, to_smt2};
pub use suggest::{Lints, Manner, Remark, Suggestion, review, suggest};
