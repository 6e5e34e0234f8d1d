//! The number type of a symbolic run: expressions for numbers, formulas for truths.
//!
//! Arithmetic is that of the reals. What a controller's rounding adds is no matter of lifting.

use std::collections::BTreeMap;

use borewright_motion::{Condition, Expr, Function, Relation as Compare, evaluate};
use borewright_number::Rational;
use borewright_runtime::text::{Number, Relation};
use borewright_runtime::value::{self, Elementary, Truth, Value};

/// Names of values that may not be used begin so: nobody else's name does.
const BANNED: char = '?';

/// A symbolic number.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Term(pub(crate) Expr);

/// A symbolic truth.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Claim(pub(crate) Condition);

/// A value that may stand in a variable but not be used, and why.
pub(crate) fn banned(why: &str) -> Expr {
    Expr::named(&format!("{BANNED}{why}"))
}

/// Why an expression may not be used, if it holds such a value.
pub(crate) fn ban(expr: &Expr) -> Option<String> {
    expr.symbols().iter().find_map(|s| s.name().strip_prefix(BANNED).map(str::to_owned))
}

/// Why a condition may not be used, if it holds such a value.
pub(crate) fn ban_in(condition: &Condition) -> Option<String> {
    condition.symbols().iter().find_map(|s| s.name().strip_prefix(BANNED).map(str::to_owned))
}

/// The exact number that was written.
pub(crate) fn exact(number: Number) -> Rational {
    let scale = Rational::from(10).pow(number.decimals as usize);
    Rational::from(number.mantissa) / scale
}

impl value::Condition for Claim {
    fn constant(value: bool) -> Self {
        Self(Condition::from_bool(value))
    }

    fn and(&self, other: &Self) -> Self {
        Self(Condition::all([self.0.clone(), other.0.clone()]))
    }

    fn or(&self, other: &Self) -> Self {
        Self(Condition::any([self.0.clone(), other.0.clone()]))
    }

    fn negated(&self) -> Self {
        Self(self.0.negated())
    }

    fn truth(&self) -> Truth {
        match &self.0 {
            Condition::True => Truth::True,
            Condition::False => Truth::False,
            Condition::Compare(..) | Condition::And(_) | Condition::Or(_) | Condition::Not(_) => {
                Truth::Unknown
            }
        }
    }
}

impl Term {
    fn call(&self, function: Function) -> Self {
        Self(self.0.clone().call(function))
    }

    /// Rounded to a whole number: worked out where it names nothing and no whole number is too near.
    fn rounded(&self, function: Function) -> Self {
        let whole = self.0.clone().call(function);
        let known = whole.symbols().is_empty().then(|| evaluate(&whole, &BTreeMap::new()).ok());
        let number = known.flatten().and_then(|value| value.exact().cloned());
        Self(number.map_or(whole, Expr::number))
    }

    fn unsupported(what: &str) -> Self {
        Self(banned(&format!("{what}, which is not followed")))
    }
}

impl Value for Term {
    type Condition = Claim;

    fn number(number: Number) -> Self {
        Self(Expr::number(exact(number)))
    }

    fn add(&self, other: &Self) -> Self {
        Self(self.0.clone() + other.0.clone())
    }

    fn subtract(&self, other: &Self) -> Self {
        Self(self.0.clone() - other.0.clone())
    }

    fn multiply(&self, other: &Self) -> Self {
        Self(self.0.clone() * other.0.clone())
    }

    fn divide(&self, other: &Self) -> Self {
        Self(self.0.clone() / other.0.clone())
    }

    fn remainder(&self, other: &Self) -> Self {
        let quotient = (self.0.clone() / other.0.clone()).call(Function::Floor);
        Self(self.0.clone() - other.0.clone() * quotient)
    }

    fn power(&self, other: &Self) -> Self {
        match other.whole() {
            Some(n @ 0..=16) => (0..n).fold(Self::integer(1), |product, _| product.multiply(self)),
            Some(_) | None => Self::unsupported("a power"),
        }
    }

    fn negate(&self) -> Self {
        Self(-self.0.clone())
    }

    fn apply(&self, function: Elementary) -> Self {
        match function {
            Elementary::Abs => self.call(Function::Abs),
            Elementary::Floor => self.rounded(Function::Floor),
            Elementary::Ceil => self.rounded(Function::Ceil),
            Elementary::Sqrt => self.call(Function::Sqrt),
            Elementary::Sin => self.call(Function::Sin),
            Elementary::Cos => self.call(Function::Cos),
            Elementary::Tan => self.call(Function::Tan),
            Elementary::Acos => self.call(Function::Acos),
            Elementary::Asin => Self(Expr::from(90) - self.0.clone().call(Function::Acos)),
            Elementary::Exp => Self::unsupported("EXP"),
            Elementary::Ln => Self::unsupported("LN"),
        }
    }

    fn arc_tangent(y: &Self, x: &Self) -> Self {
        match x.0.as_number() {
            Some(number) if number.signum() > 0 => y.divide(x).call(Function::Atan),
            Some(_) | None => Self::unsupported("ATAN of a point whose first coordinate may not be positive"),
        }
    }

    fn compare(&self, relation: Relation, other: &Self) -> Claim {
        let relation = match relation {
            Relation::Equal => Compare::Equal,
            Relation::NotEqual => Compare::NotEqual,
            Relation::Less => Compare::Less,
            Relation::LessOrEqual => Compare::LessEqual,
            Relation::Greater => Compare::Greater,
            Relation::GreaterOrEqual => Compare::GreaterEqual,
        };
        if self.0 == other.0 {
            return Claim(Condition::from_bool(relation.holds(std::cmp::Ordering::Equal)));
        }
        Claim(Condition::compare(relation, self.0.clone(), other.0.clone()))
    }

    fn choose(condition: &Claim, yes: &Self, no: &Self) -> Option<Self> {
        Some(Self(Expr::choose(condition.0.clone(), yes.0.clone(), no.0.clone())))
    }

    fn whole(&self) -> Option<i64> {
        let value = self.0.as_number()?;
        let near = value.rounded(0, borewright_number::Rounding::Nearest);
        let tolerance = Rational::ratio(1, 10_000)?;
        ((value - &near).abs() <= tolerance).then(|| near.to_i64()).flatten()
    }

    fn finite(&self) -> Claim {
        Claim(Condition::True)
    }

    fn text(&self) -> String {
        self.0.to_string()
    }
}
