//! Which values of a counterexample are worth telling.

use borewright_motion::{Condition, Environment, Expr, Field, Motion, Symbol, decide_with, evaluate_with};
use borewright_number::Rational;

use super::trial::resolve;
use crate::{Formula, Obligation, Sort, Valuation};

/// All parameters, and all that the formula speaks of.
pub(super) fn shown(motion: &Motion, obligation: &Obligation, mut values: Valuation) -> Valuation {
    values.retain(|symbol, _| {
        let parameter = motion.parameters.iter().any(|p| p.symbol == *symbol);
        parameter || obligation.formula.variables.iter().any(|v| v.symbol == *symbol)
    });
    values
}

/// Whether a value is but the first turn of a loop: what goes wrong at once need not say so.
fn is_first_turn(symbol: &Symbol, values: &Valuation) -> bool {
    let field = Field::ALL.iter().any(|f| f.symbol() == *symbol);
    !field && values.get(symbol) == Some(&Rational::ONE)
}

/// Whether another value of a parameter could make the goal hold or change what it measures, the rest being
/// the same: if not, it need not be told.
pub(crate) fn matter(motion: &Motion, formula: &Formula, values: &Valuation, symbol: &Symbol) -> bool {
    let Some(parameter) = motion.parameters.iter().find(|p| p.symbol == *symbol) else {
        return !is_first_turn(symbol, values);
    };
    let mut known = values.clone();
    // Counters that are not told stand at their first turn.
    for variable in formula.variables.iter().filter(|v| v.definition.is_none()) {
        known.entry(variable.symbol.clone()).or_insert(Rational::ONE);
    }
    let here = resolve(&formula.variables, &known);
    let usual = parameter.default.as_ref().and_then(|d| exact(d, &here));
    let others = [parameter.least.clone(), parameter.greatest.clone()].into_iter().chain(usual);
    let measured = measures(formula);
    others.filter(|other| values.get(symbol) != Some(other)).any(|other| {
        let mut changed = known.clone();
        changed.insert(symbol.clone(), other);
        let there = resolve(&formula.variables, &changed);
        let holds = decide_with(&formula.goal, &|s| there.get(s).cloned()).ok().flatten() != Some(false);
        holds || measured.iter().any(|e| float(e, &here) != float(e, &there))
    })
}

fn exact(expr: &Expr, env: &Environment) -> Option<Rational> {
    evaluate_with(expr, &|s| env.get(s).cloned()).ok()?.exact().cloned()
}

fn float(expr: &Expr, env: &Environment) -> Option<f64> {
    Some(evaluate_with(expr, &|s| env.get(s).cloned()).ok()?.to_f64())
}

/// The differences that the goal compares, but for heights of passes: that a move lies below the top face is
/// no measure of its fault.
fn measures(formula: &Formula) -> Vec<Expr> {
    let mut found = Vec::new();
    gather(&formula.goal, formula, &mut found);
    found
}

fn gather(condition: &Condition, formula: &Formula, found: &mut Vec<Expr>) {
    match condition {
        Condition::Compare(_, a, b) => {
            let difference = a.clone() - b.clone();
            if !counts(&difference, formula) {
                found.push(difference);
            }
        }
        Condition::And(parts) | Condition::Or(parts) => parts.iter().for_each(|p| gather(p, formula, found)),
        Condition::Not(inner) => gather(inner, formula, found),
        Condition::True | Condition::False => {}
    }
}

/// Whether a value depends on the turn of a loop.
fn counts(expr: &Expr, formula: &Formula) -> bool {
    let mut seen = expr.symbols();
    loop {
        let of = formula.variables.iter().filter(|v| seen.contains(&v.symbol));
        if of.clone().any(|v| v.sort == Sort::Whole) {
            return true;
        }
        let more: Vec<Symbol> = of.filter_map(|v| v.definition.as_ref()).flat_map(Expr::symbols).collect();
        let before = seen.len();
        seen.extend(more);
        if seen.len() == before {
            return false;
        }
    }
}
