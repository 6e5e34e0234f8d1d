//! Points and places.

use borewright_base::Span;
use borewright_number::Dimension;
use borewright_syntax::ast::{self, Argument as TreeArgument, Name};

use crate::checker::Checker;
use crate::constant;
use crate::errors;
use crate::scope::Scope;
use crate::typed::{Expr, ExprKind, Places, Point};
use crate::value::Value;

/// More places than this in one pattern are a mistake, or a program that nobody can read.
const MOST_PLACES: u32 = 1000;

impl Checker<'_> {
    pub(crate) fn point(&mut self, scope: &mut Scope, e: &ast::Expr, what: &str) -> Point {
        let value = self.value(scope, e);
        if let Value::Point(point) = value {
            return point;
        }
        self.refuse(&value, what, "a point, such as `(x, y)` or `(radius at angle)`", e.span);
        Point::Invalid
    }

    /// What stands after `at`: a point, or several.
    pub(crate) fn places(&mut self, scope: &mut Scope, at: Option<&ast::Expr>, span: Span) -> Places {
        let Some(e) = at else { return Places::List(vec![Point::centre(span)]) };
        let value = self.value(scope, e);
        match value {
            Value::Point(point) => Places::List(vec![point]),
            Value::Places(places) => places,
            Value::Number(_)
            | Value::Condition(_)
            | Value::Choice(..)
            | Value::Row(_)
            | Value::Table(_)
            | Value::Tool(_)
            | Value::Invalid => {
                self.refuse(&value, "what stands after `at`", "a point or places", e.span);
                Places::List(vec![Point::Invalid])
            }
        }
    }

    pub(crate) fn list(&mut self, scope: &mut Scope, items: &[ast::Expr]) -> Value {
        let points: Vec<Point> = items.iter().map(|e| self.point(scope, e, "each place of a list")).collect();
        // What is wrong inside has been told; lists around it have nothing to add.
        if points.iter().any(|p| matches!(p, Point::Invalid)) {
            return Value::Invalid;
        }
        Value::Places(Places::List(points))
    }

    /// `circle(count: holes, diameter: across, first: 0deg)`, and with a `step` a part of one.
    pub(crate) fn circle(
        &mut self,
        scope: &mut Scope,
        name: &Name,
        arguments: &[TreeArgument],
        span: Span,
    ) -> Value {
        let known = ["count", "diameter", "first", "step"];
        let given = self.arguments(scope, "`circle`", &known, &["count", "diameter"], arguments, name.span);
        let [count, diameter, first, step] = given.as_slice() else { return Value::Invalid };
        let count = match count {
            Some(e) => self.whole(scope, e, "the number of places"),
            None => return Value::Invalid,
        };
        let diameter = match diameter {
            Some(e) => self.quantity(scope, e, Dimension::LENGTH, "the diameter of a circle of places"),
            None => return Value::Invalid,
        };
        let first = match first {
            Some(e) => self.quantity(scope, e, Dimension::ANGLE, "the angle of the first place"),
            None => Expr::zero(span).of(Dimension::ANGLE),
        };
        let step = step.as_ref();
        let step =
            step.map(|e| self.quantity(scope, e, Dimension::ANGLE, "the angle from one place to the next"));
        if [&count, &diameter, &first].into_iter().chain(&step).any(Expr::is_invalid) {
            return Value::Invalid;
        }
        match self.most(scope, &count) {
            Some(most) if most <= MOST_PLACES => {
                Value::Places(Places::Circle { count, most, diameter, first, step })
            }
            Some(_) | None => {
                self.report(errors::unbounded_places(MOST_PLACES, count.span));
                Value::Invalid
            }
        }
    }

    /// `grid(columns: 4, rows: 3, wide: 30mm, high: 20mm)`
    pub(crate) fn grid(
        &mut self,
        scope: &mut Scope,
        name: &Name,
        arguments: &[TreeArgument],
        span: Span,
    ) -> Value {
        let known = ["columns", "rows", "wide", "high"];
        let given = self.arguments(scope, "`grid`", &known, &known, arguments, name.span);
        let [Some(columns), Some(rows), Some(wide), Some(high)] = given.as_slice() else {
            return Value::Invalid;
        };
        let columns = self.whole(scope, columns, "the number of columns");
        let rows = self.whole(scope, rows, "the number of rows");
        let wide = self.quantity(scope, wide, Dimension::LENGTH, "the way from column to column");
        let high = self.quantity(scope, high, Dimension::LENGTH, "the way from row to row");
        if [&columns, &rows, &wide, &high].into_iter().any(Expr::is_invalid) {
            return Value::Invalid;
        }
        let most = self.most(scope, &columns).zip(self.most(scope, &rows));
        if most.and_then(|(c, r)| c.checked_mul(r)).is_none_or(|most| most > MOST_PLACES) {
            self.report(errors::unbounded_places(MOST_PLACES, span));
            return Value::Invalid;
        }
        for way in [&wide, &high] {
            if constant::number(way).is_some_and(|way| way.is_zero()) {
                self.report(errors::coinciding_places(way.span));
                return Value::Invalid;
            }
        }
        Value::Places(Places::Grid { columns, rows, wide, high })
    }

    /// The greatest value that a count can have: a number, or a parameter with its range.
    fn most(&self, scope: &Scope, count: &Expr) -> Option<u32> {
        let value = match (&*count.kind, constant::number(count)) {
            (_, Some(value)) => value,
            (ExprKind::Name(name), None) => scope.greatest(name)?,
            (ExprKind::Column(row, column), None) => {
                let column = |row: &crate::typed::Row| match row.cells.get(*column) {
                    Some(crate::typed::Cell::Number(value)) => Some(value.clone()),
                    Some(crate::typed::Cell::Row(_)) | None => None,
                };
                row.table().rows.iter().filter_map(column).max()?
            }
            _ => return None,
        };
        value.to_i64().and_then(|n| u32::try_from(n).ok())
    }
}
