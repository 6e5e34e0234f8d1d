//! The numbers a controller computes with. A step is generic over them: floats and intervals here, symbols elsewhere.

mod float;
mod interval;
mod trigonometry;

use std::fmt::Debug;

use crate::text::{Number, Relation};

/// Yes, no, or cannot be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Truth {
    True,
    False,
    Unknown,
}

impl From<bool> for Truth {
    fn from(value: bool) -> Self {
        if value { Self::True } else { Self::False }
    }
}

impl Truth {
    /// Both hold.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::False, _) | (_, Self::False) => Self::False,
            (Self::True, Self::True) => Self::True,
            (Self::Unknown, _) | (_, Self::Unknown) => Self::Unknown,
        }
    }

    /// The opposite.
    #[must_use]
    pub fn negated(self) -> Self {
        match self {
            Self::True => Self::False,
            Self::False => Self::True,
            Self::Unknown => Self::Unknown,
        }
    }
}

/// What a comparison gives: for floats a yes or no, for symbols a formula.
pub trait Condition: Clone + Debug {
    /// Always so.
    fn constant(value: bool) -> Self;
    /// Both hold.
    #[must_use]
    fn and(&self, other: &Self) -> Self;
    /// It does not hold.
    #[must_use]
    fn negated(&self) -> Self;
    /// Whether it holds.
    fn truth(&self) -> Truth;

    /// At least one holds.
    #[must_use]
    fn or(&self, other: &Self) -> Self {
        self.negated().and(&other.negated()).negated()
    }
}

impl Condition for Truth {
    fn constant(value: bool) -> Self {
        value.into()
    }

    fn and(&self, other: &Self) -> Self {
        Self::and(*self, *other)
    }

    fn negated(&self) -> Self {
        Self::negated(*self)
    }

    fn truth(&self) -> Truth {
        *self
    }
}

/// Functions that a number type must bring; all others are made of them. Angles are in degrees.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Elementary {
    Abs,
    Floor,
    Ceil,
    Sqrt,
    Sin,
    Cos,
    Tan,
    Asin,
    Acos,
    Exp,
    Ln,
}

/// A number as a controller computes with it. Where an operation is not defined for all numbers (division, roots…)
/// the step asks first; the result for numbers outside may be anything, but must not panic.
pub trait Value: Clone + Debug {
    /// What comparing gives.
    type Condition: Condition;

    /// The number as written.
    fn number(number: Number) -> Self;
    /// Sum.
    #[must_use]
    fn add(&self, other: &Self) -> Self;
    /// Difference.
    #[must_use]
    fn subtract(&self, other: &Self) -> Self;
    /// Product.
    #[must_use]
    fn multiply(&self, other: &Self) -> Self;
    /// Quotient; `other` is not 0.
    #[must_use]
    fn divide(&self, other: &Self) -> Self;
    /// Remainder of the division of two numbers that are not negative, `other` not 0.
    #[must_use]
    fn remainder(&self, other: &Self) -> Self;
    /// `self ** other`; `self` is positive, or `other` is a known whole number.
    #[must_use]
    fn power(&self, other: &Self) -> Self;
    /// Opposite number.
    #[must_use]
    fn negate(&self) -> Self;
    /// One of the elementary functions.
    #[must_use]
    fn apply(&self, function: Elementary) -> Self;
    /// The angle of the point (x, y), -180 to 180 degrees.
    #[must_use]
    fn arc_tangent(y: &Self, x: &Self) -> Self;
    /// Compares.
    fn compare(&self, relation: Relation, other: &Self) -> Self::Condition;
    /// `yes` where the condition holds, else `no`; `None` where this kind of number cannot hold both.
    fn choose(condition: &Self::Condition, yes: &Self, no: &Self) -> Option<Self>;
    /// The whole number that it is, within 0.0001 (NISTIR 6556, section 3.3.2.1); `None` if it is none or not known.
    fn whole(&self) -> Option<i64>;
    /// It is a number at all: no overflow happened.
    fn finite(&self) -> Self::Condition;

    /// The whole number.
    fn integer(value: i32) -> Self {
        Self::number(Number::whole(value))
    }

    /// For messages.
    fn text(&self) -> String {
        format!("{self:?}")
    }

    /// Distance from 0.
    #[must_use]
    fn abs(&self) -> Self {
        self.apply(Elementary::Abs)
    }

    /// Square.
    #[must_use]
    fn square(&self) -> Self {
        self.multiply(self)
    }

    /// Shorthand for comparing with 0.
    fn against_zero(&self, relation: Relation) -> Self::Condition {
        self.compare(relation, &Self::integer(0))
    }
}
