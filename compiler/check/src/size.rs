//! How large an expression is when everything that it shares is written out: functions and constants are put
//! in where they are used, and a chain of doublings would outgrow every later step.

use crate::typed::{Condition, Expr, ExprKind, Places, Point, RowExpr};
use crate::value::Value;

/// More nodes than this are no formula that a person wrote.
const MOST_NODES: usize = 10_000;

/// Whether a value is small enough to work with.
pub(crate) fn is_fair(value: &Value) -> bool {
    let mut left = MOST_NODES;
    let fits = match value {
        Value::Number(e) | Value::Choice(_, e) => number(e, &mut left),
        Value::Point(p) => point(p, &mut left),
        Value::Places(places) => places_fit(places, &mut left),
        Value::Condition(c) => condition(c, &mut left),
        Value::Row(r) => row(r, &mut left),
        Value::Table(_) | Value::Tool(_) | Value::Invalid => Some(()),
    };
    fits.is_some()
}

/// Takes the nodes of an expression from what is left; `None` as soon as nothing is.
fn number(e: &Expr, left: &mut usize) -> Option<()> {
    *left = left.checked_sub(1)?;
    match &*e.kind {
        ExprKind::Number(_) | ExprKind::Pi | ExprKind::Name(_) | ExprKind::Invalid => Some(()),
        ExprKind::Negate(a) | ExprKind::Function(_, a) => number(a, left),
        ExprKind::Arithmetic(_, a, b) | ExprKind::Min(a, b) | ExprKind::Max(a, b) => {
            number(a, left)?;
            number(b, left)
        }
        ExprKind::If(c, a, b) => {
            condition(c, left)?;
            number(a, left)?;
            number(b, left)
        }
        ExprKind::X(p) | ExprKind::Y(p) => point(p, left),
        ExprKind::Column(r, _) => row(r, left),
    }
}

fn point(p: &Point, left: &mut usize) -> Option<()> {
    *left = left.checked_sub(1)?;
    match p {
        Point::Rectangular(a, b) | Point::Polar(a, b) => {
            number(a, left)?;
            number(b, left)
        }
        Point::Name(_) | Point::Invalid => Some(()),
        Point::Plus(a, b) | Point::Minus(a, b) => {
            point(a, left)?;
            point(b, left)
        }
        Point::Negate(a) => point(a, left),
        Point::Scaled(n, a) | Point::Over(a, n) => {
            number(n, left)?;
            point(a, left)
        }
        Point::If(c, a, b) => {
            condition(c, left)?;
            point(a, left)?;
            point(b, left)
        }
    }
}

fn places_fit(places: &Places, left: &mut usize) -> Option<()> {
    match places {
        Places::List(points) => points.iter().try_for_each(|p| point(p, left)),
        Places::Circle { count, diameter, first, step, .. } => {
            [count, diameter, first].into_iter().chain(step).try_for_each(|e| number(e, left))
        }
        Places::Grid { columns, rows, wide, high } => {
            [columns, rows, wide, high].into_iter().try_for_each(|e| number(e, left))
        }
    }
}

fn condition(c: &Condition, left: &mut usize) -> Option<()> {
    *left = left.checked_sub(1)?;
    match c {
        Condition::Compare(_, a, b) => {
            number(a, left)?;
            number(b, left)
        }
        Condition::And(a, b) | Condition::Or(a, b) => {
            condition(a, left)?;
            condition(b, left)
        }
        Condition::Not(a) => condition(a, left),
        Condition::Invalid => Some(()),
    }
}

fn row(r: &RowExpr, left: &mut usize) -> Option<()> {
    *left = left.checked_sub(1)?;
    match r {
        RowExpr::Parameter(..) | RowExpr::Constant(..) => Some(()),
        RowExpr::Column(outer, ..) => row(outer, left),
        RowExpr::If(c, a, b) => {
            condition(c, left)?;
            row(a, left)?;
            row(b, left)
        }
    }
}
