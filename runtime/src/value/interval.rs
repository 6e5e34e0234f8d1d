//! Intervals: an enclosure of every number that exact arithmetic would give. Functions that the interval type does
//! not bring are enclosed by the float's value widened by far more than its error.

use borewright_number::{Interval, Rational};

use super::float::WHOLE_TOLERANCE;
use super::{Elementary, Truth, Value};
use crate::text::{Number, Relation};

/// `libm` states errors below one unit in the last place; this is some thousand.
const WIDENING: f64 = 1e-12;

impl Value for Interval {
    type Condition = Truth;

    fn number(number: Number) -> Self {
        let exact = Rational::from_decimal(&number.text());
        exact.map_or(Self::point(number.float), |exact| Self::from_rational(&exact))
    }

    fn add(&self, other: &Self) -> Self {
        *self + *other
    }

    fn subtract(&self, other: &Self) -> Self {
        *self - *other
    }

    fn multiply(&self, other: &Self) -> Self {
        *self * *other
    }

    fn divide(&self, other: &Self) -> Self {
        *self / *other
    }

    fn remainder(&self, other: &Self) -> Self {
        let turns = (*self / *other).floor();
        if turns.lo < turns.hi {
            return Self::new(0.0, other.hi.max(0.0));
        }
        *self - turns * *other
    }

    fn power(&self, other: &Self) -> Self {
        match other.whole().and_then(|n| i32::try_from(n).ok()) {
            Some(exponent) if exponent.unsigned_abs() <= 64 => {
                let product = (0..exponent.unsigned_abs()).fold(Self::ONE, |p, _| p * *self);
                if exponent < 0 { Self::ONE / product } else { product }
            }
            // x ** y = e ** (y ln x)
            Some(_) | None => (*other * self.apply(Elementary::Ln)).apply(Elementary::Exp),
        }
    }

    fn negate(&self) -> Self {
        -*self
    }

    fn apply(&self, function: Elementary) -> Self {
        match function {
            Elementary::Abs => Self::abs(*self),
            Elementary::Floor => self.floor(),
            Elementary::Ceil => self.ceil(),
            Elementary::Sqrt => self.sqrt(),
            Elementary::Sin => self.sin_degrees(),
            Elementary::Cos => self.cos_degrees(),
            Elementary::Tan => self.sin_degrees() / self.cos_degrees(),
            Elementary::Asin => Self::point(90.0) - self.acos_degrees(),
            Elementary::Acos => self.acos_degrees(),
            Elementary::Exp => rising(*self, libm::exp),
            Elementary::Ln => rising(*self, libm::log),
        }
    }

    fn arc_tangent(y: &Self, x: &Self) -> Self {
        if x.lo > 0.0 {
            return (*y / *x).atan_degrees();
        }
        // acot: 90 degrees less the angle of x over y.
        if y.lo > 0.0 {
            return Self::point(90.0) - (*x / *y).atan_degrees();
        }
        if y.hi < 0.0 {
            return Self::point(-90.0) - (*x / *y).atan_degrees();
        }
        if x.hi < 0.0 && y.lo >= 0.0 {
            return Self::point(180.0) + (*y / *x).atan_degrees();
        }
        Self::new(-180.0, 180.0)
    }

    fn compare(&self, relation: Relation, other: &Self) -> Truth {
        match relation {
            Relation::Less => less(*self, *other),
            Relation::GreaterOrEqual => less(*self, *other).negated(),
            Relation::Greater => less(*other, *self),
            Relation::LessOrEqual => less(*other, *self).negated(),
            Relation::Equal => equal(*self, *other),
            Relation::NotEqual => equal(*self, *other).negated(),
        }
    }

    fn choose(condition: &Truth, yes: &Self, no: &Self) -> Option<Self> {
        Some(match condition {
            Truth::True => *yes,
            Truth::False => *no,
            Truth::Unknown => yes.hull(*no),
        })
    }

    #[allow(clippy::cast_possible_truncation, reason = "the range is checked")]
    fn whole(&self) -> Option<i64> {
        let whole = self.lo.round();
        let near = |end: f64| (end - whole).abs() <= WHOLE_TOLERANCE;
        (near(self.lo) && near(self.hi) && whole.abs() < 9e15).then_some(whole as i64)
    }

    fn finite(&self) -> Truth {
        (self.lo.is_finite() && self.hi.is_finite()).into()
    }
}

fn less(a: Interval, b: Interval) -> Truth {
    if a.hi < b.lo {
        Truth::True
    } else if a.lo >= b.hi {
        Truth::False
    } else {
        Truth::Unknown
    }
}

#[allow(clippy::float_cmp, reason = "two points are equal exactly when their floats are")]
fn equal(a: Interval, b: Interval) -> Truth {
    if a.hi < b.lo || b.hi < a.lo {
        Truth::False
    } else if a.lo == a.hi && b.lo == b.hi {
        Truth::True
    } else {
        Truth::Unknown
    }
}

/// A rising function of floats, widened.
fn rising(x: Interval, f: impl Fn(f64) -> f64) -> Interval {
    let (lo, hi) = (f(x.lo), f(x.hi));
    Interval::new(lo - lo.abs() * WIDENING - f64::MIN_POSITIVE, hi + hi.abs() * WIDENING + f64::MIN_POSITIVE)
}
