//! From verdicts to certificates: what somebody needs who wants to recheck a verdict without this prover.

pub(crate) mod text;

use std::collections::BTreeMap;

use borewright_motion::{Condition, Expr};
use borewright_number::Dimension;
use serde_json::{Value, json};

use crate::certificate::Certificate;
use crate::engine::{Budget, evaluate, prove, spell, spell_values, witness};
use crate::formula::{Answer, Formula, Hypothesis, HypothesisKind, Sort, Valuation, Variable};
use crate::{Kind, Settings, Settled, Verdict};

/// A formula with what shows that it holds, or that its hypotheses can be met; as text for the checker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Certified {
    /// The text of the formula.
    pub formula: Value,
    /// What shows it.
    pub evidence: Evidence,
}

/// What shows that a formula holds, or that its hypotheses can be met.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Evidence {
    /// It holds: the steps of a proof.
    Proof(Vec<Value>),
    /// Its hypotheses can be met: by these values, as the steps show.
    Witness(BTreeMap<String, String>, Vec<Value>),
}

/// The certificate of a verdict; `None` where neither was shown.
#[must_use]
pub fn certify(settled: &Settled, settings: &Settings) -> Option<Certified> {
    let own = &settled.obligation.formula;
    match &settled.verdict {
        Verdict::Proved { .. } if settled.obligation.kind == Kind::Witness => certify_witness(own),
        Verdict::Proved { formula, proof, .. } => {
            proof.as_ref().map(|proof| Certified::of_proof(formula, proof))
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
    witness(formula).map(|values| Certified::of_values(formula, &values))
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
    Some(Certified::of_values(&refutation(formula), &values))
}

/// The formula that is met where another one fails: its hypotheses, and the opposite of its goal.
#[must_use]
pub fn refutation(formula: &Formula) -> Formula {
    let mut refutation = formula.clone();
    let condition = Condition::Not(formula.goal.clone().into());
    refutation.hypotheses.push(Hypothesis { condition, kind: HypothesisKind::Path, span: None });
    refutation.goal = Condition::False;
    refutation
}

/// The formula with values in place of its variables.
fn at(formula: &Formula, values: &Valuation) -> Formula {
    let mut at = formula.clone();
    for symbol in text::undeclared(formula) {
        let (dimension, definition) = (Dimension::RATIO, None);
        at.variables.push(Variable { symbol, sort: Sort::Real, dimension, inch: false, definition });
    }
    for variable in at.variables.iter_mut().filter(|v| v.definition.is_none()) {
        variable.definition = values.get(&variable.symbol).cloned().map(Expr::number);
    }
    at
}

impl Certified {
    /// The formula with its proof.
    #[must_use]
    pub fn of_proof(formula: &Formula, certificate: &Certificate) -> Self {
        // What cannot be spelled out proves nothing: no checker accepts it.
        let steps = spell(formula, certificate).unwrap_or_default();
        Self { formula: text::formula_text(formula), evidence: Evidence::Proof(steps) }
    }

    /// The formula with values of its own variables that meet all its hypotheses.
    #[must_use]
    pub fn of_values(formula: &Formula, values: &Valuation) -> Self {
        let at = at(formula, values);
        let steps = spell_values(formula, &at).unwrap_or_default();
        let free = at.variables.iter().filter(|v| formula.variables.iter().all(|own| own != *v));
        let free =
            free.filter_map(|v| Some((text::name(v.symbol.name()), values.get(&v.symbol)?.to_string())));
        Self { formula: text::formula_text(formula), evidence: Evidence::Witness(free.collect(), steps) }
    }

    /// The text of the file of the obligation of that name: each hypothesis and step on its line.
    #[must_use]
    pub fn to_json(&self, id: &str) -> String {
        let evidence = match &self.evidence {
            Evidence::Proof(steps) => format!("{{ \"proof\": {} }}", lines(steps)),
            Evidence::Witness(values, steps) => {
                format!("{{ \"witness\": [{}, {}] }}", json!(values), lines(steps))
            }
        };
        let part = |name: &str| self.formula.get(name).cloned().unwrap_or_default();
        let list = |name: &str| lines(part(name).as_array().map_or(&[], Vec::as_slice));
        format!(
            "{{\n\"version\": 3,\n\"id\": {},\n\"formula\": {{\n\"real\": {},\n\"let\": {},\n\"given\": {},\n\"show\": {}\n}},\n\"evidence\": {evidence}\n}}\n",
            json!(id),
            part("real"),
            list("let"),
            list("given"),
            part("show"),
        )
    }
}

/// An array, each part on its line.
fn lines(parts: &[Value]) -> String {
    let lines: Vec<String> = parts.iter().map(|part| format!("\n{part}")).collect();
    format!("[{}]", lines.join(","))
}

/// The text of a formula: this is what is hashed.
#[must_use]
pub fn formula_text(formula: &Formula) -> String {
    text::formula_text(formula).to_string()
}

/// A name as it stands in the text of a formula.
#[must_use]
pub fn name_text(symbol: &borewright_motion::Symbol) -> String {
    text::name(symbol.name())
}
