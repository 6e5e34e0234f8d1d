#![doc = include_str!("../README.md")]

mod check;
mod ranges;
mod sums;
mod terms;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A value, or why the certificate is rejected.
type Checked<T> = Result<T, String>;

/// A certificate as it stands in its file.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    version: u32,
    /// The name of the obligation that it is said to be about: not checked.
    pub id: String,
    /// What it speaks of.
    pub formula: Formula,
    /// What is shown of it.
    pub evidence: Evidence,
}

/// For all real values of the variables the hypotheses imply the goal, and everything in it is well defined.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Formula {
    /// The variables.
    pub real: Vec<String>,
    /// Names, and the terms that they stand for; these may use the names before.
    pub r#let: Vec<(String, Value)>,
    /// The hypotheses.
    pub given: Vec<Value>,
    /// The goal.
    pub show: Value,
}

/// What shows something of a formula: the steps of a proof.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Evidence {
    /// It holds.
    Proof(Vec<Value>),
    /// With these terms in place of variables all hypotheses hold.
    Witness(BTreeMap<String, Value>, Vec<Value>),
}

/// Rechecks a certificate, the text of its file.
///
/// # Errors
/// Why it is rejected, in one line.
pub fn recheck(text: &str) -> Checked<Certificate> {
    let certificate: Certificate =
        serde_json::from_str(text).map_err(|why| format!("it cannot be read: {why}"))?;
    require(certificate.version == 3, "it is not of version 3")?;
    check::check(&certificate.formula, &certificate.evidence)?;
    Ok(certificate)
}

/// Fails, if it does not hold, with the reason.
fn require(holds: bool, why: &str) -> Checked<()> {
    if holds { Ok(()) } else { Err(why.into()) }
}
