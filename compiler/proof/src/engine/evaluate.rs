//! Terms at a point: exactly where all operations are rational, else a rigorous interval.

use borewright_motion::{Function, Relation};
use borewright_number::{Interval, Rational};
use rustc_hash::FxHashMap;

use super::term::{Cond, Term, TermId, Terms};

/// The value of a closed expression.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Exactly this.
    Exact(Rational),
    /// Somewhere in here.
    Near(Interval),
}

impl Value {
    /// The smallest interval around it.
    #[must_use]
    pub fn interval(&self) -> Interval {
        match self {
            Self::Exact(value) => Interval::from_rational(value),
            Self::Near(interval) => *interval,
        }
    }
}

/// Evaluates at one point; each shared term once.
#[derive(Debug)]
pub(super) struct Evaluator<'p> {
    point: &'p [Option<Rational>],
    memo: FxHashMap<TermId, Option<Value>>,
}

impl<'p> Evaluator<'p> {
    /// At the values of the free variables, by number.
    pub(super) fn new(point: &'p [Option<Rational>]) -> Self {
        Self { point, memo: FxHashMap::default() }
    }

    /// Whether the condition holds; `None` where that is not decided or something is not well defined.
    pub(super) fn condition(&mut self, terms: &Terms, condition: &Cond) -> Option<bool> {
        match condition {
            Cond::True => Some(true),
            Cond::False => Some(false),
            Cond::Compare(relation, a, b) => {
                let (a, b) = (self.term(terms, *a)?, self.term(terms, *b)?);
                compare(*relation, &a, &b)
            }
            Cond::And(parts) => {
                for part in parts {
                    if !self.condition(terms, part)? {
                        return Some(false);
                    }
                }
                Some(true)
            }
            Cond::Or(parts) => {
                for part in parts {
                    if self.condition(terms, part)? {
                        return Some(true);
                    }
                }
                Some(false)
            }
        }
    }

    /// The value; `None` where it is not (surely) defined.
    pub(super) fn term(&mut self, terms: &Terms, id: TermId) -> Option<Value> {
        if let Some(known) = self.memo.get(&id) {
            return known.clone();
        }
        let value = self.compute(terms, id);
        self.memo.insert(id, value.clone());
        value
    }

    fn compute(&mut self, terms: &Terms, id: TermId) -> Option<Value> {
        match terms.get(id) {
            Term::Number(value) => Some(Value::Exact(value.clone())),
            Term::Pi => Some(Value::Near(Interval::PI)),
            Term::Var(v) => self.point.get(v.0 as usize)?.clone().map(Value::Exact),
            Term::Add(a, b) => self.both(terms, *a, *b, |x, y| x + y, |x, y| x + y),
            Term::Sub(a, b) => self.both(terms, *a, *b, |x, y| x - y, |x, y| x - y),
            Term::Mul(a, b) if a == b => match self.term(terms, *a)? {
                Value::Exact(x) => Some(Value::Exact(&x * &x)),
                Value::Near(x) => Some(Value::Near(x.squared())),
            },
            Term::Mul(a, b) => self.both(terms, *a, *b, |x, y| x * y, |x, y| x * y),
            Term::Div(a, b) => {
                let divisor = self.term(terms, *b)?;
                let zero = Value::Exact(Rational::ZERO);
                if compare(Relation::NotEqual, &divisor, &zero) != Some(true) {
                    return None;
                }
                self.both(terms, *a, *b, |x, y| x / y, |x, y| x / y)
            }
            Term::Neg(a) => Some(match self.term(terms, *a)? {
                Value::Exact(x) => Value::Exact(-x),
                Value::Near(x) => Value::Near(-x),
            }),
            Term::Min(a, b) => self.choose(terms, *a, *b, Relation::LessEqual, Interval::min),
            Term::Max(a, b) => self.choose(terms, *a, *b, Relation::GreaterEqual, Interval::max),
            Term::If(c, a, b) => {
                let chosen = if self.condition(terms, c)? { *a } else { *b };
                self.term(terms, chosen)
            }
            Term::Call(function, a) => {
                let argument = self.term(terms, *a)?;
                call(*function, argument)
            }
        }
    }

    fn both(
        &mut self,
        terms: &Terms,
        a: TermId,
        b: TermId,
        exact: impl Fn(&Rational, &Rational) -> Rational,
        near: impl Fn(Interval, Interval) -> Interval,
    ) -> Option<Value> {
        Some(match (self.term(terms, a)?, self.term(terms, b)?) {
            (Value::Exact(x), Value::Exact(y)) => Value::Exact(exact(&x, &y)),
            (x, y) => Value::Near(near(x.interval(), y.interval())),
        })
    }

    fn choose(
        &mut self,
        terms: &Terms,
        a: TermId,
        b: TermId,
        first_if: Relation,
        near: impl Fn(Interval, Interval) -> Interval,
    ) -> Option<Value> {
        let (a, b) = (self.term(terms, a)?, self.term(terms, b)?);
        Some(match compare(first_if, &a, &b) {
            Some(true) => a,
            Some(false) => b,
            None => Value::Near(near(a.interval(), b.interval())),
        })
    }
}

/// Whether two values surely stand in that relation, or surely don't.
pub(super) fn compare(relation: Relation, a: &Value, b: &Value) -> Option<bool> {
    if let (Value::Exact(x), Value::Exact(y)) = (a, b) {
        return Some(relation.holds(x.cmp(y)));
    }
    let (x, y) = (a.interval(), b.interval());
    if x.hi < y.lo {
        Some(relation.holds(std::cmp::Ordering::Less))
    } else if x.lo > y.hi {
        Some(relation.holds(std::cmp::Ordering::Greater))
    } else {
        match relation {
            Relation::LessEqual if x.hi <= y.lo => Some(true),
            Relation::GreaterEqual if x.lo >= y.hi => Some(true),
            Relation::Less if x.lo >= y.hi => Some(false),
            Relation::Greater if x.hi <= y.lo => Some(false),
            Relation::Equal
            | Relation::NotEqual
            | Relation::Less
            | Relation::LessEqual
            | Relation::Greater
            | Relation::GreaterEqual => None,
        }
    }
}

/// A function's value; `None` outside its domain or where that is not sure.
fn call(function: Function, argument: Value) -> Option<Value> {
    let near = argument.interval();
    let exact = |f: fn(&Rational) -> Rational, of: &Value| match of {
        Value::Exact(x) => Some(f(x)),
        Value::Near(_) => None,
    };
    Some(match function {
        Function::Sqrt => match &argument {
            Value::Exact(x) if x.signum() < 0 => return None,
            Value::Exact(x) => match x.exact_sqrt() {
                Some(root) => Value::Exact(root),
                None => Value::Near(near.sqrt()),
            },
            Value::Near(x) if x.lo >= 0.0 => Value::Near(x.sqrt()),
            Value::Near(_) => return None,
        },
        Function::Abs => match exact(Rational::abs, &argument) {
            Some(value) => Value::Exact(value),
            None => Value::Near(near.abs()),
        },
        Function::Ceil => match exact(Rational::ceil, &argument) {
            Some(value) => Value::Exact(value),
            None => whole(near.ceil()),
        },
        Function::Floor => match exact(Rational::floor, &argument) {
            Some(value) => Value::Exact(value),
            None => whole(near.floor()),
        },
        Function::Sin => point_or_near(near.sin_degrees()),
        Function::Cos => point_or_near(near.cos_degrees()),
        Function::Tan => {
            let (sine, cosine) = (near.sin_degrees(), near.cos_degrees());
            if cosine.contains(0.0) {
                return None;
            }
            point_or_near(sine / cosine)
        }
        Function::Atan => point_or_near(near.atan_degrees()),
        Function::Acos if near.lo >= -1.0 && near.hi <= 1.0 => point_or_near(near.acos_degrees()),
        Function::Acos => return None,
    })
}

/// An interval of one point is an exact value.
fn point_or_near(value: Interval) -> Value {
    match Rational::from_f64(value.lo).filter(|_| value.lo == value.hi) {
        Some(exact) => Value::Exact(exact),
        None => Value::Near(value),
    }
}

fn whole(value: Interval) -> Value {
    point_or_near(value)
}
