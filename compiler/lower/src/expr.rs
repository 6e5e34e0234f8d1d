//! Quantities, conditions, points and rows as symbolic expressions.

use std::sync::Arc;

use borewright_check::typed::{
    self, Argument, Arithmetic, Cell, ColumnType, Compare, CutterField, ExprKind, Local, RowExpr, Table,
};
use borewright_motion::{Condition, Expr, Field, Function, Let, Point, Relation, Symbol};
use borewright_number::Dimension;

use crate::routine::Lower;

impl Lower<'_, '_> {
    pub(crate) fn expr(&mut self, e: &typed::Expr) -> Expr {
        match &*e.kind {
            ExprKind::Number(value) => Expr::number(value.clone()),
            ExprKind::Pi => Expr::pi(),
            ExprKind::Name(name) => Expr::symbol(&crate::names::Names::symbol(name)),
            ExprKind::Negate(a) => -self.expr(a),
            ExprKind::Arithmetic(op, a, b) => {
                let (a, b) = (self.expr(a), self.expr(b));
                match op {
                    Arithmetic::Add => a + b,
                    Arithmetic::Sub => a - b,
                    Arithmetic::Mul => a * b,
                    Arithmetic::Div => a / b,
                }
            }
            ExprKind::Function(function, a) => self.expr(a).call(of(*function)),
            ExprKind::Min(a, b) => self.expr(a).min(self.expr(b)),
            ExprKind::Max(a, b) => self.expr(a).max(self.expr(b)),
            ExprKind::If(c, a, b) => {
                let (c, a, b) = (self.condition(c), self.expr(a), self.expr(b));
                Expr::choose(c, a, b)
            }
            ExprKind::X(p) => self.point(p).x,
            ExprKind::Y(p) => self.point(p).y,
            ExprKind::Column(row, column) => self.column(row, *column),
            // A sound routine has none.
            ExprKind::Invalid => Expr::zero(),
        }
    }

    pub(crate) fn optional(&mut self, e: Option<&typed::Expr>) -> Option<Expr> {
        e.map(|e| self.expr(e))
    }

    pub(crate) fn condition(&mut self, c: &typed::Condition) -> Condition {
        match c {
            typed::Condition::Compare(compare, a, b) => {
                Condition::compare(relation(*compare), self.expr(a), self.expr(b))
            }
            typed::Condition::And(a, b) => Condition::all([self.condition(a), self.condition(b)]),
            typed::Condition::Or(a, b) => Condition::any([self.condition(a), self.condition(b)]),
            typed::Condition::Not(a) => self.condition(a).negated(),
            // A sound routine has none.
            typed::Condition::Invalid => Condition::False,
        }
    }

    pub(crate) fn point(&mut self, p: &typed::Point) -> Point {
        match p {
            typed::Point::Rectangular(x, y) => Point::new(self.expr(x), self.expr(y)),
            typed::Point::Polar(radius, angle) => Point::polar(&self.expr(radius), &self.expr(angle)),
            typed::Point::Name(name) => self.names.points.get(name).cloned().unwrap_or_else(Point::centre),
            typed::Point::Plus(a, b) => self.point(a).plus(&self.point(b)),
            typed::Point::Minus(a, b) => self.point(a).minus(&self.point(b)),
            typed::Point::Negate(a) => Point::centre().minus(&self.point(a)),
            typed::Point::Scaled(factor, a) => {
                let (factor, a) = (self.expr(factor), self.point(a));
                Point::new(factor.clone() * a.x, factor * a.y)
            }
            typed::Point::Over(a, divisor) => {
                let (a, divisor) = (self.point(a), self.expr(divisor));
                Point::new(a.x / divisor.clone(), a.y / divisor)
            }
            typed::Point::If(c, a, b) => {
                let (c, a, b) = (self.condition(c), self.point(a), self.point(b));
                Point::new(Expr::choose(c.clone(), a.x, b.x), Expr::choose(c, a.y, b.y))
            }
            // A sound routine has none.
            typed::Point::Invalid => Point::centre(),
        }
    }

    /// A let of a quantity is one let; of a point, one for each coordinate that is more than a number or a
    /// name.
    pub(crate) fn named(&mut self, l: &typed::Let) -> Vec<Let> {
        match &l.value {
            typed::LetValue::Number(e) => {
                let dimension = e.dimension.unwrap_or(Dimension::RATIO);
                let value = self.expr(e);
                vec![Let { symbol: crate::names::Names::symbol(&l.name), dimension, value, span: l.span }]
            }
            typed::LetValue::Point(p) => {
                let point = self.point(p);
                let mut lets = Vec::new();
                let mut name = |value: Expr, symbol: Symbol| {
                    if value.as_number().is_some() || value.as_symbol().is_some() {
                        return value;
                    }
                    let named = Expr::symbol(&symbol);
                    lets.push(Let { symbol, dimension: Dimension::LENGTH, value, span: l.span });
                    named
                };
                let x = name(point.x, self.names.part(&l.name, "x"));
                let y = name(point.y, self.names.part(&l.name, "y"));
                self.names.points.insert(l.name.clone(), Point::new(x, y));
                lets
            }
        }
    }

    pub(crate) fn argument(&mut self, argument: &Argument) -> Expr {
        match argument {
            Argument::Number(e) => self.expr(e),
            Argument::Row(row) => self.row_key(row),
            Argument::Actual(of) => Expr::symbol(&field(*of).symbol()),
            // A sound routine has none.
            Argument::Invalid => Expr::zero(),
        }
    }

    /// `screw.seat`: a number where the row is known; else a name, whose value is chosen by the parameter.
    fn column(&mut self, row: &RowExpr, column: usize) -> Expr {
        match row {
            RowExpr::If(c, a, b) => {
                let (c, a, b) = (self.condition(c), self.column(a, column), self.column(b, column));
                Expr::choose(c, a, b)
            }
            RowExpr::Constant(..) | RowExpr::Parameter(..) | RowExpr::Column(..) => {
                let Some((name, value)) = self.by_row(row, &|table, row| cell(table, row, column)) else {
                    return Expr::zero();
                };
                let heading = row.table().columns.get(column);
                match (name, heading) {
                    (Some(name), Some((heading, kind))) if !self.in_parameters => {
                        let dimension = match kind {
                            ColumnType::Number { dimension, .. } => *dimension,
                            ColumnType::Choice(_) | ColumnType::Row(_) => Dimension::RATIO,
                        };
                        let symbol = self.names.part(&name, heading);
                        self.name_column(&symbol, dimension, value);
                        Expr::symbol(&symbol)
                    }
                    _ => value,
                }
            }
        }
    }

    /// The number by which a macro knows a row.
    fn row_key(&mut self, row: &RowExpr) -> Expr {
        match row {
            RowExpr::Parameter(name, _) => Expr::symbol(&crate::names::Names::symbol(name)),
            RowExpr::If(c, a, b) => {
                let (c, a, b) = (self.condition(c), self.row_key(a), self.row_key(b));
                Expr::choose(c, a, b)
            }
            RowExpr::Constant(..) | RowExpr::Column(..) => {
                let key = |table: &Table, row: usize| Some(Expr::number(table.key(row)));
                match self.by_row(row, &key) {
                    Some((Some(name), value)) if !self.in_parameters => {
                        let (dimension, _) = crate::routine::key_type(row.table());
                        let symbol = Symbol::new(&name);
                        self.name_column(&symbol, dimension, value);
                        Expr::symbol(&symbol)
                    }
                    Some((_, value)) => value,
                    None => Expr::zero(),
                }
            }
        }
    }

    /// Something of a row, chosen by the parameter that the row hangs on: `part.screw` and the chain of
    /// tests; no name where the row is known.
    fn by_row(
        &mut self,
        row: &RowExpr,
        of: &dyn Fn(&Table, usize) -> Option<Expr>,
    ) -> Option<(Option<String>, Expr)> {
        match row {
            RowExpr::Constant(table, row) => Some((None, of(table, *row)?)),
            RowExpr::Parameter(name, table) => {
                Some((Some(name.to_string()), chain(name, table, &|row| of(table, row))?))
            }
            RowExpr::Column(outer, column, table) => {
                let inner = |outer: &Table, row: usize| match outer.rows.get(row)?.cells.get(*column)? {
                    Cell::Row(row) => of(table, *row),
                    Cell::Number(_) => None,
                };
                let (name, value) = self.by_row(outer, &inner)?;
                let heading = outer.table().columns.get(*column).map_or("", |(n, _)| n.as_str());
                Some((name.map(|n| format!("{n}.{heading}")), value))
            }
            RowExpr::If(c, a, b) => {
                let c = self.condition(c);
                let ((_, a), (_, b)) = (self.by_row(a, of)?, self.by_row(b, of)?);
                Some((None, Expr::choose(c, a, b)))
            }
        }
    }
}

/// `if screw == 5 then a else if screw == 6 then b else c`
fn chain(name: &Local, table: &Arc<Table>, of: &dyn Fn(usize) -> Option<Expr>) -> Option<Expr> {
    let parameter = Expr::symbol(&crate::names::Names::symbol(name));
    let mut rows = (0..table.rows.len()).rev();
    let mut value = of(rows.next()?)?;
    for row in rows {
        let is_it = Condition::equal(parameter.clone(), Expr::number(table.key(row)));
        value = Expr::choose(is_it, of(row)?, value);
    }
    Some(value)
}

fn cell(table: &Table, row: usize, column: usize) -> Option<Expr> {
    match table.rows.get(row)?.cells.get(column)? {
        Cell::Number(value) => Some(Expr::number(value.clone())),
        Cell::Row(_) => None,
    }
}

fn of(function: typed::Function) -> Function {
    match function {
        typed::Function::Sin => Function::Sin,
        typed::Function::Cos => Function::Cos,
        typed::Function::Tan => Function::Tan,
        typed::Function::Atan => Function::Atan,
        typed::Function::Acos => Function::Acos,
        typed::Function::Sqrt => Function::Sqrt,
        typed::Function::Abs => Function::Abs,
        typed::Function::Ceil => Function::Ceil,
        typed::Function::Floor => Function::Floor,
    }
}

pub(crate) fn relation(compare: Compare) -> Relation {
    match compare {
        Compare::Equal => Relation::Equal,
        Compare::NotEqual => Relation::NotEqual,
        Compare::Less => Relation::Less,
        Compare::LessEqual => Relation::LessEqual,
        Compare::Greater => Relation::Greater,
        Compare::GreaterEqual => Relation::GreaterEqual,
    }
}

pub(crate) fn field(field: CutterField) -> Field {
    match field {
        CutterField::Diameter => Field::Diameter,
        CutterField::Flutes => Field::Flutes,
        CutterField::Reach => Field::Reach,
        CutterField::Dead => Field::Dead,
        CutterField::Ramp => Field::Ramp,
        CutterField::Plunges => Field::Plunges,
        CutterField::Teeth => Field::Teeth,
        CutterField::Corner => Field::Corner,
        CutterField::Pocket => Field::Pocket,
        CutterField::Hand => Field::Hand,
        CutterField::Wear => Field::Wear,
        CutterField::Pitch => Field::Pitch,
        CutterField::Rows => Field::Rows,
        CutterField::Nose => Field::Nose,
        CutterField::Tooth => Field::Tooth,
        CutterField::Angle => Field::Angle,
        CutterField::Tip => Field::Tip,
        CutterField::Taper => Field::Taper,
    }
}
