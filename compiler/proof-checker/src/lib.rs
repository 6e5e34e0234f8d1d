#![doc = include_str!("../README.md")]

mod check;
mod ranges;
mod sums;
mod terms;

use std::collections::BTreeMap;

use serde::Deserialize;

/// A value, or why the certificate is rejected.
type Checked<T> = Result<T, String>;

/// A certificate as it stands in its file.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    version: u32,
    /// The name of the obligation that it is said to be about: not checked.
    pub id: String,
    /// The lines of the formula.
    pub formula: Vec<String>,
    /// What is shown of it.
    pub evidence: Evidence,
}

/// What shows something of a formula.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Evidence {
    /// It holds for all values: the steps of a proof.
    Proof(Vec<String>),
    /// At these values all hypotheses hold, and the goal does not.
    Counterexample(BTreeMap<String, String>),
    /// At these values all hypotheses hold.
    Witness(BTreeMap<String, String>),
}

/// Rechecks a certificate, the text of its file.
///
/// # Errors
/// Why it is rejected, in one line.
pub fn recheck(text: &str) -> Checked<Certificate> {
    let certificate: Certificate =
        serde_json::from_str(text).map_err(|why| format!("it cannot be read: {why}"))?;
    require(certificate.version == 2, "it is not of version 2")?;
    let mut checker = check::Checker::new(&certificate.formula)?;
    match &certificate.evidence {
        Evidence::Proof(steps) => checker.proof(steps),
        Evidence::Counterexample(values) => checker.values(values, true),
        Evidence::Witness(values) => checker.values(values, false),
    }?;
    Ok(certificate)
}

/// Fails, if it does not hold, with the reason.
fn require(holds: bool, why: &str) -> Checked<()> {
    if holds { Ok(()) } else { Err(why.into()) }
}
