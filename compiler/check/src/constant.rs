//! The exact value of an expression that uses literals only.

use borewright_number::Rational;

use crate::typed::{Arithmetic, Compare, Condition, Expr, ExprKind, Function, Point};

/// The value; `None` where it depends on a parameter, is not rational, or does not exist.
pub(crate) fn number(e: &Expr) -> Option<Rational> {
    match &*e.kind {
        ExprKind::Number(value) => Some(value.clone()),
        ExprKind::Negate(a) => Some(-number(a)?),
        ExprKind::Arithmetic(op, a, b) => arithmetic(*op, &number(a)?, &number(b)?),
        ExprKind::Function(function, a) => of_function(*function, &number(a)?),
        ExprKind::Min(a, b) => Some(number(a)?.min(number(b)?)),
        ExprKind::Max(a, b) => Some(number(a)?.max(number(b)?)),
        ExprKind::If(c, a, b) => {
            if holds(c)? {
                number(a)
            } else {
                number(b)
            }
        }
        ExprKind::X(Point::Rectangular(x, _)) => number(x),
        ExprKind::Y(Point::Rectangular(_, y)) => number(y),
        ExprKind::Pi
        | ExprKind::Name(_)
        | ExprKind::X(_)
        | ExprKind::Y(_)
        | ExprKind::Column(..)
        | ExprKind::Invalid => None,
    }
}

fn arithmetic(op: Arithmetic, a: &Rational, b: &Rational) -> Option<Rational> {
    match op {
        Arithmetic::Add => Some(a + b),
        Arithmetic::Sub => Some(a - b),
        Arithmetic::Mul => Some(a * b),
        Arithmetic::Div => (!b.is_zero()).then(|| a / b),
    }
}

fn of_function(function: Function, a: &Rational) -> Option<Rational> {
    match function {
        Function::Abs => Some(a.abs()),
        Function::Ceil => Some(a.ceil()),
        Function::Floor => Some(a.floor()),
        Function::Sqrt => a.exact_sqrt(),
        Function::Sin | Function::Cos | Function::Tan | Function::Atan | Function::Acos => None,
    }
}

/// Whether a condition over literals holds.
pub(crate) fn holds(c: &Condition) -> Option<bool> {
    match c {
        Condition::Compare(relation, a, b) => {
            let ordering = number(a)?.cmp(&number(b)?);
            Some(match relation {
                Compare::Equal => ordering.is_eq(),
                Compare::NotEqual => ordering.is_ne(),
                Compare::Less => ordering.is_lt(),
                Compare::LessEqual => ordering.is_le(),
                Compare::Greater => ordering.is_gt(),
                Compare::GreaterEqual => ordering.is_ge(),
            })
        }
        Condition::And(a, b) => Some(holds(a)? && holds(b)?),
        Condition::Or(a, b) => Some(holds(a)? || holds(b)?),
        Condition::Not(a) => Some(!holds(a)?),
        Condition::Invalid => None,
    }
}
