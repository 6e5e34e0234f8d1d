//! Values for the names in a motion's head: arguments checked, defaults filled in, lets worked out.

use std::collections::BTreeMap;
use std::fmt;

use borewright_number::Rational;

use crate::evaluate::{Environment, EvaluateError, Value, decide_with, evaluate_with};
use crate::{Clause, Condition, Expr, Motion, Parameter, Relation, Requirement, Settling, Symbol};

/// Why a motion does not admit some values.
#[derive(Debug, Clone, PartialEq)]
pub enum BindError {
    /// No parameter has this name.
    NoParameter(Symbol),
    /// A parameter without default was left out.
    Missing(Box<Parameter>),
    /// The value lies outside the parameter's range.
    OutOfRange(Box<Parameter>, Value),
    /// A count that is not whole.
    NotWhole(Box<Parameter>, Value),
    /// A requirement does not hold.
    Refused(Requirement),
    /// A requirement lies too close to its boundary to be decided.
    Undecided(Requirement),
    /// A let or a default has no value.
    Evaluate(EvaluateError),
}

impl fmt::Display for BindError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoParameter(symbol) => write!(f, "there is no parameter `{symbol}`"),
            Self::Missing(p) => write!(f, "`{}` needs a value", p.symbol),
            Self::OutOfRange(p, _) => write!(f, "`{}` is out of its range", p.symbol),
            Self::NotWhole(p, _) => write!(f, "`{}` is not a whole number", p.symbol),
            Self::Refused(r) => write!(f, "`{}` does not hold: {}", r.condition, r.alarm),
            Self::Undecided(r) => write!(f, "`{}` lies too close to its boundary to be decided", r.condition),
            Self::Evaluate(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for BindError {}

impl From<EvaluateError> for BindError {
    fn from(error: EvaluateError) -> Self {
        Self::Evaluate(error)
    }
}

/// Every name of the head with its value, from exact arguments.
///
/// Ranges and requirements are checked in the order of [`Motion::settled`]; the first that fails is the answer, as
/// in a macro.
pub fn bind(motion: &Motion, arguments: &BTreeMap<Symbol, Rational>) -> Result<Environment, BindError> {
    let given = arguments.iter().map(|(s, v)| (s.clone(), Value::Exact(v.clone()))).collect();
    bind_values(motion, &given, &mut |r| Err(BindError::Undecided(r.clone())))
}

/// As [`bind`], from values that need not be exact; `undecided` judges a requirement that cannot be decided.
pub(crate) fn bind_values(
    motion: &Motion,
    arguments: &Environment,
    undecided: &mut dyn FnMut(&Requirement) -> Result<(), BindError>,
) -> Result<Environment, BindError> {
    let mut env = Environment::new();
    for (symbol, value) in arguments {
        let known = motion.parameters.iter().any(|p| p.symbol == *symbol);
        // Facts of the cutter may be given along with the parameters.
        if symbol.name().starts_with("cutter.") {
            env.insert(symbol.clone(), value.clone());
        } else if !known {
            return Err(BindError::NoParameter(symbol.clone()));
        }
    }
    for line in motion.settled() {
        match line {
            Settling::Parameter(parameter) => {
                let value = argument(parameter, arguments, &env)?;
                admit(parameter, &value)?;
                env.insert(parameter.symbol.clone(), value);
            }
            Settling::Clause(Clause::Let(l)) => {
                let value = evaluate_with(&l.value, &|s| env.get(s).cloned())?;
                env.insert(l.symbol.clone(), value);
            }
            Settling::Clause(Clause::Require(r)) => {
                match decide_with(&r.condition, &|s| env.get(s).cloned())? {
                    Some(true) => {}
                    Some(false) => return Err(BindError::Refused(r.clone())),
                    None => undecided(r)?,
                }
            }
        }
    }
    Ok(env)
}

fn argument(parameter: &Parameter, arguments: &Environment, env: &Environment) -> Result<Value, BindError> {
    if let Some(value) = arguments.get(&parameter.symbol) {
        return Ok(value.clone());
    }
    match &parameter.default {
        Some(default) => Ok(evaluate_with(default, &|s| env.get(s).cloned())?),
        None => Err(BindError::Missing(Box::new(parameter.clone()))),
    }
}

/// The range is checked as far as it can be told: an enclosure that touches an end passes.
fn admit(parameter: &Parameter, value: &Value) -> Result<(), BindError> {
    let outside =
        |relation, end: &Rational| value.relates(relation, &Value::Exact(end.clone())) == Some(true);
    if outside(Relation::Less, &parameter.least) || outside(Relation::Greater, &parameter.greatest) {
        return Err(BindError::OutOfRange(Box::new(parameter.clone()), value.clone()));
    }
    match value {
        Value::Exact(v) if parameter.whole && !v.is_whole() => {
            Err(BindError::NotWhole(Box::new(parameter.clone()), value.clone()))
        }
        Value::Exact(_) | Value::Near(_) => Ok(()),
    }
}

impl Parameter {
    /// Its range as a condition.
    #[must_use]
    pub fn range(&self) -> Condition {
        let value = || Expr::symbol(&self.symbol);
        Condition::all([
            Condition::at_least(value(), self.least.clone().into()),
            Condition::at_most(value(), self.greatest.clone().into()),
        ])
    }
}
