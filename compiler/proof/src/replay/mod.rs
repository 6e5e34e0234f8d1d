//! From a counterexample to what a machinist would see: the motion is run at those values.
//!
//! The engine refutes formulas. Here every name gets a value, what is required is checked again, the motion is
//! unrolled, and the fault itself is looked for. Some formulas are only sufficient: those are refuted by
//! nothing but a fault that is seen.

mod deep;
mod joint;
mod lead;
mod look;
mod matters;
mod measure;
mod plain;
mod plunge;
mod rapid;
mod scene;
mod shrink;
mod side;
mod standing;
mod sweep;
mod trial;
mod undersize;
mod wall;
mod words;

use borewright_motion::{Condition, Expr, Motion};

use crate::engine::{Budget, prove};
use crate::proved::{Counterexample, Verdict};
use crate::{Answer, ConcreteCheck, Formula, Hypothesis, HypothesisKind, Kind, Obligation, Valuation};
use look::{Finding, Look};
pub(crate) use matters::matter;
use trial::{Choices, Failure, Trial};

/// A counterexample that the engine found, confirmed and shown, or the reason why it is none.
pub(crate) fn confirm(motion: &Motion, obligation: &Obligation, values: Valuation) -> Verdict {
    let trial = Trial::new(motion, obligation);
    let confirmed = |values: &Valuation| -> Option<(Choices, Failure)> {
        let choices = trial.choices(values)?;
        let failure = trial.fails(&choices)?;
        Some((choices, failure))
    };
    let first = confirmed(&values);
    let found = first.or_else(|| others(motion, obligation, &values).iter().find_map(confirmed));
    match found {
        Some((choices, failure)) => {
            let Failure { values, fault } = shrink::shrink(&trial, choices, failure);
            Verdict::Refuted(Counterexample { values: matters::shown(motion, obligation, values), fault })
        }
        None => Verdict::Unknown { why: why_not(obligation).to_owned() },
    }
}

fn why_not(obligation: &Obligation) -> &'static str {
    if obligation.check.is_some() {
        "the rule that was tried is stronger than needed; no size was found at which it really fails"
    } else {
        "the formula fails for some values, but no size was found at which all requirements are met and the motion fails"
    }
}

/// Steps that the engine may take for each further counterexample.
const STEPS: u64 = 3_000;

/// The engine is asked for no more of them than this.
const MOST_OTHERS: usize = 8;

/// Further counterexamples: with a parameter at its default, or at an end of its range.
fn others(motion: &Motion, obligation: &Obligation, found: &Valuation) -> Vec<Valuation> {
    let parameters = motion.parameters.iter().filter(|p| found.contains_key(&p.symbol));
    let fixed = parameters.flat_map(|p| {
        let ends = [p.greatest.clone(), p.least.clone()].map(Expr::number);
        let values = p.default.clone().into_iter().chain(ends);
        values.map(|value| Condition::equal(Expr::symbol(&p.symbol), value))
    });
    let mut list: Vec<Valuation> = Vec::new();
    for condition in fixed.take(MOST_OTHERS) {
        let other = with(&obligation.formula, condition);
        list.extend(other.filter(|o| o != found && !list.contains(o)));
    }
    list
}

fn with(formula: &Formula, condition: Condition) -> Option<Valuation> {
    let known = |s| formula.variables.iter().any(|v| v.symbol == s);
    if !condition.symbols().into_iter().all(known) {
        return None;
    }
    let mut formula = formula.clone();
    formula.hypotheses.push(Hypothesis { condition, kind: HypothesisKind::Path, span: None });
    match prove(&formula, &Budget { steps: STEPS }).answer {
        Answer::Refuted(values) => Some(values),
        Answer::Proved { .. } | Answer::Unknown { .. } => None,
    }
}

/// What is wrong at these values.
fn find(look: &Look<'_>) -> Finding {
    match look.obligation.check {
        Some(ConcreteCheck::Standing) if look.obligation.kind == Kind::Landing => undersize::floor_left(look),
        Some(ConcreteCheck::Standing) => standing::check(look),
        Some(ConcreteCheck::Undersize) => undersize::check(look),
        Some(ConcreteCheck::RapidInMetal) => rapid::check(look),
        Some(ConcreteCheck::PlungeInMetal) => plunge::check(look),
        Some(ConcreteCheck::DeepCut) => deep::check(look),
        Some(ConcreteCheck::WrongSide) => side::check(look),
        Some(ConcreteCheck::OffLead) => lead::off(look),
        Some(ConcreteCheck::ThreadShort) => lead::short(look),
        None => plain::check(look),
    }
}
