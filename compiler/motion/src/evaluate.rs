//! Expressions at concrete values: exact where every operation is rational, else a rigorous enclosure.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::fmt;

use borewright_number::{Interval, Rational};

use crate::{Condition, Expr, Function, Node, Symbol};

/// The value of a closed expression.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Exactly this.
    Exact(Rational),
    /// Somewhere in here, both ends included.
    Near(Interval),
}

/// Values by name.
pub type Environment = BTreeMap<Symbol, Value>;

/// Why an expression has no value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EvaluateError {
    /// A name that stands for nothing here.
    UnknownSymbol(Symbol),
    /// The divisor is 0, or may be.
    DivisionByZero(Expr),
    /// A root of a negative number, an arc cosine past 1 or a tangent of a right angle; or it may be one.
    OutOfDomain(Expr),
    /// A comparison or a rounding to whole numbers that lies within the enclosure.
    Undecided(Expr),
}

impl fmt::Display for EvaluateError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownSymbol(symbol) => write!(f, "`{symbol}` has no value here"),
            Self::DivisionByZero(e) => write!(f, "`{e}` divides by zero"),
            Self::OutOfDomain(e) => write!(f, "`{e}` has no value here"),
            Self::Undecided(e) => write!(f, "`{e}` lies too close to a step to be decided"),
        }
    }
}

impl std::error::Error for EvaluateError {}

/// The value of an expression whose symbols have exact values.
///
/// ```
/// use std::collections::BTreeMap;
/// use borewright_motion::{Expr, Symbol, Value, evaluate};
/// use borewright_number::Rational;
/// let bore = Symbol::new("bore");
/// let wall = (Expr::symbol(&bore) - Expr::from(12)) / Expr::from(2);
/// let sizes = BTreeMap::from([(bore, Rational::from(50))]);
/// assert_eq!(evaluate(&wall, &sizes), Ok(Value::Exact(Rational::from(19))));
/// ```
pub fn evaluate(expr: &Expr, env: &BTreeMap<Symbol, Rational>) -> Result<Value, EvaluateError> {
    evaluate_with(expr, &|s| env.get(s).cloned().map(Value::Exact))
}

/// The value of an expression; `look_up` knows the names.
pub fn evaluate_with(
    expr: &Expr,
    look_up: &dyn Fn(&Symbol) -> Option<Value>,
) -> Result<Value, EvaluateError> {
    let value = node_value(expr, look_up)?;
    // An enclosure without an end says nothing: a number too great for floats.
    let bounded = |i: Interval| i.lo.is_finite() && i.hi.is_finite();
    match value {
        Value::Near(interval) if !bounded(interval) => Err(EvaluateError::OutOfDomain(expr.clone())),
        Value::Exact(_) | Value::Near(_) => Ok(value),
    }
}

fn node_value(expr: &Expr, look_up: &dyn Fn(&Symbol) -> Option<Value>) -> Result<Value, EvaluateError> {
    let value = |e: &Expr| evaluate_with(e, look_up);
    match expr.node() {
        Node::Number(number) => Ok(Value::Exact(number.clone())),
        Node::Pi => Ok(Value::Near(Interval::PI)),
        Node::Symbol(symbol) => look_up(symbol).ok_or_else(|| EvaluateError::UnknownSymbol(symbol.clone())),
        Node::Add(a, b) => Ok(value(a)?.plus(&value(b)?)),
        Node::Sub(a, b) => Ok(value(a)?.minus(&value(b)?)),
        Node::Mul(a, b) => Ok(value(a)?.times(&value(b)?)),
        Node::Div(a, b) => {
            value(a)?.over(&value(b)?).ok_or_else(|| EvaluateError::DivisionByZero(expr.clone()))
        }
        Node::Neg(a) => Ok(value(a)?.negated()),
        Node::Call(function, a) => apply(*function, &value(a)?, expr),
        Node::Min(a, b) => Ok(value(a)?.min(value(b)?)),
        Node::Max(a, b) => Ok(value(a)?.max(value(b)?)),
        Node::If(condition, a, b) => match decide_with(condition, look_up)? {
            Some(true) => value(a),
            Some(false) => value(b),
            None => Err(EvaluateError::Undecided(expr.clone())),
        },
    }
}

/// Whether a condition holds at exact values; `None` where that cannot be told, or where a part of it that
/// matters has no value.
#[must_use]
pub fn decide(condition: &Condition, env: &BTreeMap<Symbol, Rational>) -> Option<bool> {
    decide_with(condition, &|s| env.get(s).cloned().map(Value::Exact)).ok().flatten()
}

/// Whether a condition holds; `Ok(None)` where the enclosures overlap. Parts are taken in order: a later one
/// need have no value once an earlier one has settled the matter.
pub fn decide_with(
    condition: &Condition,
    look_up: &dyn Fn(&Symbol) -> Option<Value>,
) -> Result<Option<bool>, EvaluateError> {
    match condition {
        Condition::True => Ok(Some(true)),
        Condition::False => Ok(Some(false)),
        Condition::Compare(relation, a, b) => {
            let (a, b) = (evaluate_with(a, look_up)?, evaluate_with(b, look_up)?);
            Ok(a.relates(*relation, &b))
        }
        Condition::And(parts) => decide_parts(parts, false, look_up),
        Condition::Or(parts) => decide_parts(parts, true, look_up),
        Condition::Not(inner) => Ok(decide_with(inner, look_up)?.map(|b| !b)),
    }
}

/// The parts in order until one has the value that settles all.
fn decide_parts(
    parts: &[Condition],
    settles: bool,
    look_up: &dyn Fn(&Symbol) -> Option<Value>,
) -> Result<Option<bool>, EvaluateError> {
    let mut known = true;
    for part in parts {
        match decide_with(part, look_up)? {
            Some(value) if value == settles => return Ok(Some(settles)),
            Some(_) => {}
            None => known = false,
        }
    }
    Ok(known.then_some(!settles))
}

impl Value {
    /// The exact value, where it is known.
    #[must_use]
    pub fn exact(&self) -> Option<&Rational> {
        match self {
            Self::Exact(value) => Some(value),
            Self::Near(_) => None,
        }
    }

    /// The enclosure.
    #[must_use]
    pub fn interval(&self) -> Interval {
        match self {
            Self::Exact(value) => Interval::from_rational(value),
            Self::Near(interval) => *interval,
        }
    }

    /// A rational at most half the enclosure's width away from the value: exact, or the middle.
    #[must_use]
    pub fn middle(&self) -> Rational {
        match self {
            Self::Exact(value) => value.clone(),
            Self::Near(i) => Rational::from_f64(i.lo / 2.0 + i.hi / 2.0).unwrap_or(Rational::ZERO),
        }
    }

    /// A float close to the value: for drawings, never for decisions.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        match self {
            Self::Exact(value) => value.to_f64(),
            Self::Near(i) => i.lo / 2.0 + i.hi / 2.0,
        }
    }

    /// How two values are ordered; `None` where the enclosures overlap.
    #[must_use]
    pub fn compare(&self, other: &Self) -> Option<Ordering> {
        if let (Self::Exact(a), Self::Exact(b)) = (self, other) {
            return Some(a.cmp(b));
        }
        let (a, b) = (self.interval(), other.interval());
        if a.hi < b.lo {
            Some(Ordering::Less)
        } else if a.lo > b.hi {
            Some(Ordering::Greater)
        } else {
            None
        }
    }

    /// Whether two values stand in a relation; `None` where that cannot be told.
    #[must_use]
    pub fn relates(&self, relation: crate::Relation, other: &Self) -> Option<bool> {
        if let Some(ordering) = self.compare(other) {
            return Some(relation.holds(ordering));
        }
        // Enclosures that only touch still decide `<=` and `>`.
        let (a, b) = (self.interval(), other.interval());
        match relation {
            crate::Relation::LessEqual => (a.hi <= b.lo).then_some(true),
            crate::Relation::Greater => (a.hi <= b.lo).then_some(false),
            crate::Relation::GreaterEqual => (a.lo >= b.hi).then_some(true),
            crate::Relation::Less => (a.lo >= b.hi).then_some(false),
            crate::Relation::Equal | crate::Relation::NotEqual => None,
        }
    }

    /// `self + other`
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        match (self, other) {
            (Self::Exact(a), Self::Exact(b)) => Self::Exact(a + b),
            (Self::Exact(zero), near) | (near, Self::Exact(zero)) if zero.is_zero() => near.clone(),
            _ => Self::Near(self.interval() + other.interval()),
        }
    }

    /// `self - other`
    #[must_use]
    pub fn minus(&self, other: &Self) -> Self {
        self.plus(&other.negated())
    }

    /// `self * other`
    #[must_use]
    pub fn times(&self, other: &Self) -> Self {
        match (self, other) {
            (Self::Exact(a), Self::Exact(b)) => Self::Exact(a * b),
            (Self::Exact(zero), _) | (_, Self::Exact(zero)) if zero.is_zero() => Self::Exact(Rational::ZERO),
            (Self::Exact(one), near) | (near, Self::Exact(one)) if *one == Rational::ONE => near.clone(),
            _ => Self::Near(self.interval() * other.interval()),
        }
    }

    /// `self / other`; `None` where the divisor is 0 or may be.
    #[must_use]
    pub fn over(&self, other: &Self) -> Option<Self> {
        match (self, other) {
            (_, Self::Exact(zero)) if zero.is_zero() => None,
            (Self::Exact(a), Self::Exact(b)) => Some(Self::Exact(a / b)),
            _ => {
                let divisor = other.interval();
                (divisor.lo > 0.0 || divisor.hi < 0.0).then(|| Self::Near(self.interval() / divisor))
            }
        }
    }

    /// `-self`
    #[must_use]
    pub fn negated(&self) -> Self {
        match self {
            Self::Exact(value) => Self::Exact(-value.clone()),
            Self::Near(interval) => Self::Near(-*interval),
        }
    }

    fn min(self, other: Self) -> Self {
        match self.compare(&other) {
            Some(Ordering::Less | Ordering::Equal) => self,
            Some(Ordering::Greater) => other,
            None => {
                let (a, b) = (self.interval(), other.interval());
                Self::Near(Interval { lo: a.lo.min(b.lo), hi: a.hi.min(b.hi) })
            }
        }
    }

    fn max(self, other: Self) -> Self {
        self.negated().min(other.negated()).negated()
    }
}

impl From<Rational> for Value {
    fn from(value: Rational) -> Self {
        Self::Exact(value)
    }
}

/// `function(value)`; `whole` is the expression it came from, for the error.
fn apply(function: Function, value: &Value, whole: &Expr) -> Result<Value, EvaluateError> {
    let outside = || EvaluateError::OutOfDomain(whole.clone());
    let interval = value.interval();
    match function {
        Function::Sin => Ok(exact_sine(value, 0).unwrap_or_else(|| Value::Near(interval.sin_degrees()))),
        Function::Cos => Ok(exact_sine(value, 90).unwrap_or_else(|| Value::Near(interval.cos_degrees()))),
        Function::Tan => {
            let sine = apply(Function::Sin, value, whole)?;
            let cosine = apply(Function::Cos, value, whole)?;
            sine.over(&cosine).ok_or_else(outside)
        }
        Function::Atan => match value {
            Value::Exact(zero) if zero.is_zero() => Ok(Value::Exact(Rational::ZERO)),
            Value::Exact(_) | Value::Near(_) => Ok(Value::Near(interval.atan_degrees())),
        },
        Function::Acos => match value {
            Value::Exact(one) if *one == Rational::ONE => Ok(Value::Exact(Rational::ZERO)),
            _ if interval.lo < -1.0 || interval.hi > 1.0 => Err(outside()),
            Value::Exact(_) | Value::Near(_) => Ok(Value::Near(interval.acos_degrees())),
        },
        Function::Sqrt => square_root(value).ok_or_else(outside),
        Function::Abs => Ok(match value {
            Value::Exact(v) => Value::Exact(v.abs()),
            Value::Near(_) => value.clone().max(value.negated()),
        }),
        Function::Ceil => step(value, Rational::ceil).ok_or_else(|| EvaluateError::Undecided(whole.clone())),
        Function::Floor => {
            step(value, Rational::floor).ok_or_else(|| EvaluateError::Undecided(whole.clone()))
        }
    }
}

/// The sine of `value + shift` degrees where it is rational for a reason: at whole multiples of 30 degrees.
fn exact_sine(value: &Value, shift: i32) -> Option<Value> {
    let thirtieths = (value.exact()? + &Rational::from(shift)) / Rational::from(30);
    thirtieths.is_whole().then_some(())?;
    let turn = (&thirtieths / &Rational::from(12)).floor() * Rational::from(12);
    let halves = match (thirtieths - turn).to_i64()? {
        0 | 6 => 0,
        1 | 5 => 1,
        3 => 2,
        7 | 11 => -1,
        9 => -2,
        _ => return None,
    };
    Rational::ratio(halves, 2).map(Value::Exact)
}

fn square_root(value: &Value) -> Option<Value> {
    if let Some(root) = value.exact().and_then(Rational::exact_sqrt) {
        return Some(Value::Exact(root));
    }
    let interval = value.interval();
    (interval.lo >= 0.0).then(|| Value::Near(interval.sqrt()))
}

/// Rounding to whole numbers: decided where both ends give the same.
fn step(value: &Value, round: impl Fn(&Rational) -> Rational) -> Option<Value> {
    let whole = match value {
        Value::Exact(v) => round(v),
        Value::Near(i) => {
            let (low, high) = (round(&Rational::from_f64(i.lo)?), round(&Rational::from_f64(i.hi)?));
            (low == high).then_some(low)?
        }
    };
    Some(Value::Exact(whole))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(expr: &Expr) -> Result<Value, EvaluateError> {
        evaluate(expr, &BTreeMap::new())
    }

    fn function(f: Function, of: i32) -> Expr {
        // Built as a node: the constructors would fold it.
        Expr::from_node(Node::Call(f, Expr::from(of)))
    }

    #[test]
    fn sines_of_thirtieths_are_exact() {
        let half = || Rational::ratio(1, 2).unwrap();
        assert_eq!(value(&function(Function::Sin, 390)), Ok(Value::Exact(half())));
        assert_eq!(value(&function(Function::Cos, 240)), Ok(Value::Exact(-half())));
        assert_eq!(value(&function(Function::Cos, -270)), Ok(Value::Exact(Rational::ZERO)));
        assert!(matches!(value(&function(Function::Sin, 60)), Ok(Value::Near(_))));
    }

    #[test]
    fn roots_are_exact_or_enclosed() {
        assert_eq!(value(&function(Function::Sqrt, 9)), Ok(Value::Exact(Rational::from(3))));
        let Ok(Value::Near(two)) = value(&function(Function::Sqrt, 2)) else { panic!("not enclosed") };
        let (lo, hi) = (Rational::from_f64(two.lo).unwrap(), Rational::from_f64(two.hi).unwrap());
        assert!(&lo * &lo < Rational::from(2) && &hi * &hi > Rational::from(2) && two.width() < 1e-15);
    }

    #[test]
    fn what_has_no_value_says_why() {
        let zero = Expr::named("a") - Expr::named("b");
        let env = BTreeMap::from([(Symbol::new("a"), Rational::ONE), (Symbol::new("b"), Rational::ONE)]);
        let divided = Expr::from(1) / zero;
        assert_eq!(evaluate(&divided, &env), Err(EvaluateError::DivisionByZero(divided)));
        let root = function(Function::Sqrt, -1);
        assert_eq!(value(&root), Err(EvaluateError::OutOfDomain(root)));
        let unknown = Expr::named("c");
        assert_eq!(value(&unknown), Err(EvaluateError::UnknownSymbol(Symbol::new("c"))));
        let steps = (Expr::pi() / Expr::pi()).call(Function::Ceil);
        assert_eq!(value(&steps), Err(EvaluateError::Undecided(steps)));
    }

    #[test]
    fn conditions_are_decided_where_they_can_be() {
        let env = BTreeMap::from([(Symbol::new("a"), Rational::ZERO)]);
        let a = || Expr::named("a");
        let guarded = Condition::all([
            Condition::not_equal(a(), Expr::zero()),
            Condition::greater(Expr::from(1) / a(), Expr::zero()),
        ]);
        assert_eq!(decide(&guarded, &env), Some(false), "the first part settles it");
        assert_eq!(decide(&Condition::greater(Expr::pi(), a() + Expr::from(3)), &env), Some(true));
        assert_eq!(decide(&Condition::equal(Expr::pi(), Expr::pi() + a()), &env), None);
        assert_eq!(decide(&Condition::less(Expr::named("b"), a()), &env), None);
    }
}
