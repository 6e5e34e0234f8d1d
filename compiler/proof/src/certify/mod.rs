//! From verdicts to certificates: what somebody needs who wants to recheck a verdict without this prover.

pub(crate) mod text;

use std::collections::BTreeMap;

use borewright_motion::Symbol;

pub use text::formula_lines;

use crate::certificate::Certificate;
use crate::engine::{Budget, evaluate, prove, spell, witness};
use crate::formula::{Answer, Formula, Valuation};
use crate::{Kind, Settings, Settled, Verdict};

/// A formula with what shows that it holds, or does not; as text for the checker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Certified {
    /// The lines of the formula.
    pub formula: Vec<String>,
    /// What shows it.
    pub evidence: Evidence,
}

/// What shows that a formula holds, or does not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Evidence {
    /// It holds: the steps of a proof.
    Proof(Vec<String>),
    /// It fails at these values.
    Counterexample(BTreeMap<String, String>),
    /// Its hypotheses can be met: at these values.
    Witness(BTreeMap<String, String>),
}

/// The certificate of a verdict; `None` where neither was shown.
#[must_use]
pub fn certify(settled: &Settled, settings: &Settings) -> Option<Certified> {
    let own = &settled.obligation.formula;
    match &settled.verdict {
        Verdict::Proved { .. } if settled.obligation.kind == Kind::Witness => certify_witness(own),
        Verdict::Proved { formula, .. } => {
            let budget = if formula == own { &settings.budget } else { &settings.trial };
            certify_proof(formula, budget)
        }
        Verdict::Refuted(_) if settled.obligation.kind == Kind::Witness => {
            certify_proof(own, &settings.budget)
        }
        Verdict::Refuted(counter) => certify_refutation(own, &counter.values, &settings.budget),
        Verdict::Unknown { .. } => None,
    }
}

/// The proof of a formula, where the engine finds one.
#[must_use]
pub fn certify_proof(formula: &Formula, budget: &Budget) -> Option<Certified> {
    prove(formula, budget).certificate.map(|certificate| Certified::of_proof(formula, &certificate))
}

/// Values that meet all hypotheses of a formula, where the engine finds some.
#[must_use]
pub fn certify_witness(formula: &Formula) -> Option<Certified> {
    let values = witness(formula)?;
    Some(Certified { formula: formula_lines(formula), evidence: Evidence::Witness(texts(formula, &values)) })
}

/// Values for which the formula fails: those that were shown, or else the engine's own.
fn certify_refutation(formula: &Formula, shown: &Valuation, budget: &Budget) -> Option<Certified> {
    let is = |condition, wanted| evaluate(condition, &formula.variables, shown) == Some(wanted);
    let fails = formula.hypotheses.iter().all(|h| is(&h.condition, true)) && is(&formula.goal, false);
    let values = if fails {
        shown.clone()
    } else if let Answer::Refuted(values) = prove(formula, budget).answer {
        values
    } else {
        return None;
    };
    let evidence = Evidence::Counterexample(texts(formula, &values));
    Some(Certified { formula: formula_lines(formula), evidence })
}

/// The values of a formula's own variables.
fn texts(formula: &Formula, values: &Valuation) -> BTreeMap<String, String> {
    let defined =
        |symbol: &Symbol| formula.variables.iter().any(|v| v.symbol == *symbol && v.definition.is_some());
    let free = values.iter().filter(|(symbol, _)| !defined(symbol) && text::occurs(formula, symbol));
    free.map(|(symbol, value)| (text::name(symbol.name()), value.to_string())).collect()
}

impl Certified {
    /// The formula with its proof.
    #[must_use]
    pub fn of_proof(formula: &Formula, certificate: &Certificate) -> Self {
        // What cannot be spelled out proves nothing: no checker accepts it.
        let steps = spell(formula, certificate).unwrap_or_default();
        Self { formula: formula_lines(formula), evidence: Evidence::Proof(steps) }
    }

    /// The text of the file of the obligation of that name.
    #[must_use]
    pub fn to_json(&self, id: &str) -> String {
        let evidence = match &self.evidence {
            Evidence::Proof(steps) => serde_json::json!({ "proof": steps }),
            Evidence::Counterexample(values) => serde_json::json!({ "counterexample": values }),
            Evidence::Witness(values) => serde_json::json!({ "witness": values }),
        };
        let document =
            serde_json::json!({ "version": 2, "id": id, "formula": self.formula, "evidence": evidence });
        format!("{document:#}\n")
    }
}

/// The text of a formula: its lines, each with a line end. This is what is hashed.
#[must_use]
pub fn formula_text(formula: &Formula) -> String {
    formula_lines(formula).iter().map(|line| format!("{line}\n")).collect()
}

/// A name as it stands in the text of a formula.
#[must_use]
pub fn name_text(symbol: &Symbol) -> String {
    text::name(symbol.name())
}
