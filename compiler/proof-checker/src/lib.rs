#![doc = include_str!("../README.md")]

mod algebra;
mod check;
mod normal;
mod terms;

use std::collections::BTreeMap;

use serde::Deserialize;

/// A value, or why the certificate is rejected.
type Checked<T> = Result<T, String>;

/// One certificate as it stands in its file.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    version: u32,
    id: String,
    formula: Vec<String>,
    evidence: Evidence,
}

/// What shows that the formula holds, or does not.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Evidence {
    Proof(Vec<String>),
    Counterexample(BTreeMap<String, String>),
    Witness(BTreeMap<String, String>),
}

/// What a certificate has shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    /// The formula holds for all values.
    Holds,
    /// All hypotheses hold at some values and the goal does not.
    Fails,
    /// All hypotheses hold at some values.
    CanBeMet,
}

/// A certificate that was accepted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Accepted {
    /// The name of the obligation that it is said to be about: not checked.
    pub id: String,
    /// The formula, a line for each of its parts, each with a line end.
    pub formula: String,
    /// What was shown of it.
    pub shown: Shown,
}

/// Rechecks a certificate, the text of its file.
///
/// # Errors
/// Why it is rejected, in one line.
pub fn recheck(text: &str) -> Checked<Accepted> {
    let Document { version, id, formula, evidence } =
        serde_json::from_str(text).map_err(|why| format!("it cannot be read: {why}"))?;
    if version != 1 {
        return Err(format!("its version is {version}, not 1"));
    }
    let mut checker = check::Checker::default();
    checker.formula(&formula)?;
    let shown = checker.evidence(&evidence)?;
    Ok(Accepted { id, formula: formula.iter().map(|line| format!("{line}\n")).collect(), shown })
}
