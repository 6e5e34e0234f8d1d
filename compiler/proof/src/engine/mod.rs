//! From a formula to an answer: proved for all values, refuted by a point, or unknown.
//!
//! Exact rationals decide; floats only propose. Every proof is a [`Certificate`](crate::certificate::Certificate)
//! made of few kinds of steps; every counterexample is evaluated exactly before it is given out. Work is counted
//! in steps, never in time: the same answer on every machine.

mod algebra;
mod angle;
mod bounds;
mod boxes;
mod close;
mod context;
mod evaluate;
mod lemma;
mod linear;
mod normal;
mod poly;
mod products;
#[cfg(test)]
mod properties;
mod prover;
mod search;
mod spell;
mod summands;
mod sums;
mod term;
mod used;
mod vectors;
mod well;

use borewright_motion::{Condition, Expr, Relation, Symbol};
use borewright_number::Rational;

pub use evaluate::Value;
pub(crate) use spell::{spell, spell_values};

use crate::certificate::Certificate;
use crate::formula::{Answer, Formula, Valuation, Variable};
use evaluate::Evaluator;
use prover::Prover;
use term::Terms;

/// How much work may be spent on one formula.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Budget {
    /// Steps: a step is roughly one product of polynomials, one point or box tried.
    pub steps: u64,
}

impl Default for Budget {
    fn default() -> Self {
        Self { steps: 200_000 }
    }
}

/// What [`prove`] found, and what it took.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Proved, refuted or unknown.
    pub answer: Answer,
    /// Steps spent.
    pub steps: u64,
    /// The proof, where there is one.
    pub certificate: Option<Certificate>,
}

/// Decides a formula.
#[must_use]
pub fn prove(formula: &Formula, budget: &Budget) -> Outcome {
    match Prover::new(formula, budget) {
        Some(mut prover) => prover.run(),
        None => Outcome {
            answer: Answer::Unknown { why: "a name is defined by itself".to_owned() },
            steps: 0,
            certificate: None,
        },
    }
}

/// As [`prove`], but where the proof fails it does not go on to look for a counterexample: for questions that
/// are asked by the dozen.
pub(crate) fn prove_briefly(formula: &Formula, budget: &Budget) -> Option<Outcome> {
    Some(Prover::new(formula, budget)?.run_briefly())
}

/// Points that meet all hypotheses and not the goal, decided exactly: whatever so many tries find.
pub(crate) fn violations(formula: &Formula, tries: u64) -> Vec<Valuation> {
    Prover::new(formula, &Budget::default()).map_or_else(Vec::new, |mut prover| prover.find_points(tries))
}

/// Values that meet all hypotheses of a formula, decided exactly; `None` if none were found.
#[must_use]
pub fn witness(formula: &Formula) -> Option<Valuation> {
    let mut formula = formula.clone();
    formula.goal = Condition::False;
    let mut prover = Prover::new(&formula, &Budget::default())?;
    prover.find_point().or_else(|| prover.find_point_hard())
}

/// Whether a condition holds at values of the variables that have no definition.
///
/// `None` if that is not decided: a name without value, a division by 0, an irrational value too near to a border.
#[must_use]
pub fn evaluate(condition: &Condition, variables: &[Variable], values: &Valuation) -> Option<bool> {
    let mut terms = arena(variables, condition.symbols().into_iter())?;
    let condition = terms.import_condition(condition)?;
    let point = terms.point(values);
    Evaluator::new(&point).condition(&terms, &condition)
}

/// The value of an expression at values of the variables that have no definition; `None` where it is not
/// (surely) defined.
#[must_use]
pub fn enclose(expr: &Expr, variables: &[Variable], values: &Valuation) -> Option<Value> {
    let mut terms = arena(variables, expr.symbols().into_iter())?;
    let term = terms.import(expr)?;
    let point = terms.point(values);
    Evaluator::new(&point).term(&terms, term)
}

/// The condition under which a condition is well defined: no divisor is 0, no root's argument negative, ...
/// Definitions are not looked into.
#[must_use]
pub fn well_defined(condition: &Condition) -> Condition {
    let Some(mut terms) = arena(&[], condition.symbols().into_iter()) else { return Condition::False };
    let Some(imported) = terms.import_condition(condition) else { return Condition::False };
    let needed = well::Well::default().condition(&mut terms, &imported);
    terms.export_condition(&needed)
}

/// An arena with these variables, and with the names that are not among them as free ones.
fn arena(variables: &[Variable], names: impl Iterator<Item = Symbol>) -> Option<Terms> {
    let named = |symbol| Condition::Compare(Relation::Equal, Expr::symbol(&symbol), Expr::zero());
    let formula = Formula {
        variables: variables.to_vec(),
        hypotheses: Vec::new(),
        goal: Condition::And(names.map(named).collect()),
        hints: Vec::new(),
    };
    Terms::new(&formula)
}

impl Terms {
    /// The values of the free variables, by number.
    fn point(&self, values: &Valuation) -> Vec<Option<Rational>> {
        self.free.iter().map(|free| values.get(&free.symbol).cloned()).collect()
    }
}
