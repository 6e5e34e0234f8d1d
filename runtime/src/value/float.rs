//! Floats: what most controllers compute with, more or less.

use super::trigonometry as trig;
use super::{Elementary, Truth, Value};
use crate::text::{Number, Relation};

/// Whole numbers are told within this (NISTIR 6556, section 3.3.2.1).
pub(super) const WHOLE_TOLERANCE: f64 = 0.0001;

impl Value for f64 {
    type Condition = Truth;

    fn number(number: Number) -> Self {
        number.float
    }

    fn add(&self, other: &Self) -> Self {
        self + other
    }

    fn subtract(&self, other: &Self) -> Self {
        self - other
    }

    fn multiply(&self, other: &Self) -> Self {
        self * other
    }

    fn divide(&self, other: &Self) -> Self {
        self / other
    }

    fn remainder(&self, other: &Self) -> Self {
        self % other
    }

    fn power(&self, other: &Self) -> Self {
        libm::pow(*self, *other)
    }

    fn negate(&self) -> Self {
        -self
    }

    fn apply(&self, function: Elementary) -> Self {
        match function {
            Elementary::Abs => f64::abs(*self),
            Elementary::Floor => self.floor(),
            Elementary::Ceil => self.ceil(),
            Elementary::Sqrt => self.sqrt(),
            Elementary::Sin => trig::sin(*self),
            Elementary::Cos => trig::cos(*self),
            Elementary::Tan => trig::tan(*self),
            Elementary::Asin => trig::asin(*self),
            Elementary::Acos => trig::acos(*self),
            Elementary::Exp => libm::exp(*self),
            Elementary::Ln => libm::log(*self),
        }
    }

    fn arc_tangent(y: &Self, x: &Self) -> Self {
        trig::atan2(*y, *x)
    }

    #[allow(clippy::float_cmp, reason = "the controller's comparison is the exact one of its floats")]
    fn compare(&self, relation: Relation, other: &Self) -> Truth {
        Truth::from(match relation {
            Relation::Equal => self == other,
            Relation::NotEqual => self != other,
            Relation::Less => self < other,
            Relation::LessOrEqual => self <= other,
            Relation::Greater => self > other,
            Relation::GreaterOrEqual => self >= other,
        })
    }

    fn choose(condition: &Truth, yes: &Self, no: &Self) -> Option<Self> {
        match condition {
            Truth::True => Some(*yes),
            Truth::False => Some(*no),
            Truth::Unknown => None,
        }
    }

    #[allow(clippy::cast_possible_truncation, reason = "the range is checked")]
    fn whole(&self) -> Option<i64> {
        let whole = self.round();
        ((self - whole).abs() <= WHOLE_TOLERANCE && whole.abs() < 9e15).then_some(whole as i64)
    }

    fn finite(&self) -> Truth {
        self.is_finite().into()
    }

    fn text(&self) -> String {
        format!("{self:.5}")
    }
}
