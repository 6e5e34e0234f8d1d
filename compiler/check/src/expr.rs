//! Expressions: what each stands for.

use borewright_base::Span;
use borewright_number::{Dimension, Quantity, Rational, Unit};
use borewright_syntax::ast::{self, ExprKind as Tree, Name};

use crate::checker::Checker;
use crate::errors;
use crate::module::Global;
use crate::scope::Scope;
use crate::typed::{ColumnType, Condition, Expr, ExprKind, Point, RowExpr, Words};
use crate::value::Value;

/// Names that are there without being declared.
const BUILT_IN: [&str; 2] = ["pi", "centre"];

impl Checker<'_> {
    /// What an expression stands for.
    pub(crate) fn value(&mut self, scope: &mut Scope, e: &ast::Expr) -> Value {
        match &*e.kind {
            Tree::Number(number, unit) => Value::Number(literal(scope, number, *unit, e.span)),
            Tree::Name(name) => self.name(scope, name),
            Tree::Field(inner, field) => self.field(scope, inner, field, e.span),
            Tree::Call(name, arguments) => self.function_call(scope, name, arguments, e.span),
            Tree::CallNamed(name, arguments) => self.named_call(scope, name, arguments, e.span),
            Tree::List(items) => self.list(scope, items),
            Tree::Point(x, y) => Value::Point(Point::Rectangular(
                self.quantity(scope, x, Dimension::LENGTH, "a coordinate"),
                self.quantity(scope, y, Dimension::LENGTH, "a coordinate"),
            )),
            Tree::Polar(radius, angle) => Value::Point(Point::Polar(
                self.quantity(scope, radius, Dimension::LENGTH, "the radius of a point"),
                self.quantity(scope, angle, Dimension::ANGLE, "the angle of a point"),
            )),
            Tree::Group(inner) => self.value(scope, inner),
            Tree::Negate(inner) => self.negate(scope, inner, e.span),
            Tree::Not(inner) => {
                Value::Condition(Condition::Not(Box::new(self.condition(scope, inner, "what `not` denies"))))
            }
            Tree::Binary(op, a, b) => self.binary(scope, *op, a, b, e.span),
            Tree::Compare(relation, a, b) => self.compare(scope, *relation, a, b, e.span),
            Tree::If(c, a, b) => self.choose(scope, c, a, b, e.span),
            Tree::Invalid => {
                self.note_invalid();
                Value::Invalid
            }
        }
    }

    /// A name in scope, or one that is there without being declared.
    fn name(&mut self, scope: &mut Scope, name: &Name) -> Value {
        if let Some(value) = scope.look_up(&name.text) {
            return at(value, name.span);
        }
        match name.text.as_str() {
            "pi" => {
                return Value::Number(Expr::new(ExprKind::Pi, Some(Dimension::RATIO), false, name.span));
            }
            "centre" => return Value::Point(Point::centre(name.span)),
            _ => {}
        }
        match self.global(scope.module, &name.text) {
            Some(Global::Constant(id)) => at(self.constant(id), name.span),
            Some(Global::Table(id)) => self.table(id).map_or(Value::Invalid, Value::Table),
            Some(Global::Function(_) | Global::Routine(_) | Global::Job) | None => {
                let mut known: Vec<String> = scope.bindings.iter().map(|b| b.name.clone()).collect();
                known.extend(
                    self.global_names(scope.module, |g| matches!(g, Global::Constant(_) | Global::Table(_))),
                );
                known.extend(BUILT_IN.map(str::to_owned));
                self.report(errors::unknown_name(name, known.iter().map(String::as_str)));
                Value::Invalid
            }
        }
    }

    /// Whether a name means something here; a word of a choice does not.
    pub(crate) fn is_known(&mut self, scope: &Scope, name: &str) -> bool {
        scope.find(name).is_some()
            || BUILT_IN.contains(&name)
            || matches!(self.global(scope.module, name), Some(Global::Constant(_) | Global::Table(_)))
    }

    fn field(&mut self, scope: &mut Scope, inner: &ast::Expr, field: &Name, span: Span) -> Value {
        let value = self.value(scope, inner);
        match (value, field.text.as_str()) {
            (Value::Point(p), "x") => Value::Number(coordinate(ExprKind::X(p), span)),
            (Value::Point(p), "y") => Value::Number(coordinate(ExprKind::Y(p), span)),
            (Value::Row(row), _) => self.column(&row, field, span),
            (Value::Table(table), _) => match table.rows.iter().position(|r| r.name == field.text) {
                Some(row) => Value::Row(RowExpr::Constant(table, row)),
                None => {
                    let known: Vec<String> = table.rows.iter().map(|r| r.name.clone()).collect();
                    self.report(errors::unknown_row(&table.name, field, &known));
                    Value::Invalid
                }
            },
            (Value::Tool(index), _) => self.tool_field(scope, index, field),
            (Value::Invalid, _) => Value::Invalid,
            (
                value @ (Value::Number(_)
                | Value::Point(_)
                | Value::Places(_)
                | Value::Condition(_)
                | Value::Choice(..)),
                _,
            ) => {
                let known: &[String] =
                    if matches!(value, Value::Point(_)) { &["x".to_owned(), "y".to_owned()] } else { &[] };
                self.report(errors::unknown_field(&value.described(), field, known));
                Value::Invalid
            }
        }
    }

    fn column(&mut self, row: &RowExpr, field: &Name, span: Span) -> Value {
        let table = row.table().clone();
        let Some((index, (_, kind))) =
            table.column(&field.text).and_then(|i| Some((i, table.columns.get(i)?)))
        else {
            let known: Vec<String> = table.columns.iter().map(|(n, _)| n.clone()).collect();
            self.report(errors::unknown_field(&format!("the table `{}`", table.name), field, &known));
            return Value::Invalid;
        };
        crate::table::column_value(row, index, kind, span)
    }

    /// `if c then a else b`, of whatever the two sides are.
    fn choose(
        &mut self,
        scope: &mut Scope,
        c: &ast::Expr,
        a: &ast::Expr,
        b: &ast::Expr,
        span: Span,
    ) -> Value {
        let condition = self.condition(scope, c, "what follows `if`");
        let (a, b) = (self.value(scope, a), self.value(scope, b));
        match (a, b) {
            (Value::Invalid, _) | (_, Value::Invalid) => Value::Invalid,
            (Value::Number(a), Value::Number(b)) => {
                match self.common(&a, &b, "the two values of an `if` are {a} and {b}", span) {
                    Some(dimension) => {
                        let whole = a.whole && b.whole;
                        Value::Number(Expr::new(ExprKind::If(condition, a, b), dimension, whole, span))
                    }
                    None => Value::Invalid,
                }
            }
            (Value::Point(a), Value::Point(b)) => Value::Point(Point::If(condition, a.into(), b.into())),
            (Value::Choice(words, a), Value::Choice(others, b)) if words == others => {
                let code = Expr::new(ExprKind::If(condition, a, b), Some(Dimension::RATIO), true, span);
                Value::Choice(words, code)
            }
            (Value::Row(a), Value::Row(b)) if std::sync::Arc::ptr_eq(a.table(), b.table()) => {
                Value::Row(RowExpr::If(condition, Box::new(a), Box::new(b)))
            }
            (a, b) => {
                self.report(errors::wrong_kind(
                    "the other value of this `if`",
                    &a.described(),
                    &b.described(),
                    span,
                ));
                Value::Invalid
            }
        }
    }

    /// A quantity of any dimension.
    pub(crate) fn number(&mut self, scope: &mut Scope, e: &ast::Expr, what: &str) -> Expr {
        match self.value(scope, e) {
            Value::Number(number) => number,
            Value::Invalid => Expr::invalid(e.span),
            value @ (Value::Point(_)
            | Value::Places(_)
            | Value::Condition(_)
            | Value::Choice(..)
            | Value::Row(_)
            | Value::Table(_)
            | Value::Tool(_)) => {
                self.report(errors::wrong_kind(what, "a quantity", &value.described(), e.span));
                Expr::invalid(e.span)
            }
        }
    }

    /// A quantity of the dimension that its place asks for.
    pub(crate) fn quantity(
        &mut self,
        scope: &mut Scope,
        e: &ast::Expr,
        wanted: Dimension,
        what: &str,
    ) -> Expr {
        let number = self.number(scope, e, what);
        self.fit(number, wanted, what)
    }

    /// Gives a literal 0 the dimension that is asked for, and refuses any other one.
    pub(crate) fn fit(&mut self, number: Expr, wanted: Dimension, what: &str) -> Expr {
        match number.dimension {
            None => number.of(wanted),
            Some(found) if found == wanted => number,
            Some(_) => {
                self.report(errors::wrong_dimension(what, wanted, &number));
                Expr::invalid(number.span)
            }
        }
    }

    /// A whole number.
    pub(crate) fn whole(&mut self, scope: &mut Scope, e: &ast::Expr, what: &str) -> Expr {
        let number = self.quantity(scope, e, Dimension::RATIO, what);
        if !number.whole {
            self.report(errors::not_whole(what, number.span));
            return Expr::invalid(number.span);
        }
        number
    }

    /// A condition.
    pub(crate) fn condition(&mut self, scope: &mut Scope, e: &ast::Expr, what: &str) -> Condition {
        match self.value(scope, e) {
            Value::Condition(condition) => condition,
            Value::Invalid => Condition::Invalid,
            value @ (Value::Number(_)
            | Value::Point(_)
            | Value::Places(_)
            | Value::Choice(..)
            | Value::Row(_)
            | Value::Table(_)
            | Value::Tool(_)) => {
                self.report(errors::wrong_kind(
                    what,
                    "a condition, such as `tool < bore`",
                    &value.described(),
                    e.span,
                ));
                Condition::Invalid
            }
        }
    }

    /// Says that a value of another sort is wanted; of what was not understood nothing more is said.
    pub(crate) fn refuse(&mut self, value: &Value, what: &str, wanted: &str, span: Span) {
        if !matches!(value, Value::Invalid) {
            self.report(errors::wrong_kind(what, wanted, &value.described(), span));
        }
    }

    /// One of these words, or a value that is one of them.
    pub(crate) fn word(&mut self, scope: &mut Scope, e: &ast::Expr, words: &Words, what: &str) -> Expr {
        match &*e.kind {
            Tree::Name(name) => {
                if let Some(index) = words.iter().position(|w| *w == name.text) {
                    return Expr::count(index + 1, name.span);
                }
                if !self.is_known(scope, &name.text) {
                    self.report(errors::unknown_word(&name.text, words, name.span));
                    return Expr::invalid(name.span);
                }
            }
            Tree::Group(inner) => return self.word(scope, inner, words, what),
            Tree::If(c, a, b) => {
                let condition = self.condition(scope, c, "what follows `if`");
                let (a, b) = (self.word(scope, a, words, what), self.word(scope, b, words, what));
                return Expr::new(ExprKind::If(condition, a, b), Some(Dimension::RATIO), true, e.span);
            }
            Tree::Number(..)
            | Tree::Field(..)
            | Tree::Call(..)
            | Tree::CallNamed(..)
            | Tree::List(_)
            | Tree::Point(..)
            | Tree::Polar(..)
            | Tree::Negate(_)
            | Tree::Not(_)
            | Tree::Binary(..)
            | Tree::Compare(..)
            | Tree::Invalid => {}
        }
        let value = self.value(scope, e);
        if let Value::Choice(found, code) = &value
            && found == words
        {
            return code.clone();
        }
        self.refuse(&value, what, &words.join(" or "), e.span);
        Expr::invalid(e.span)
    }

    /// A value of the type of a parameter or column.
    pub(crate) fn typed_value(
        &mut self,
        scope: &mut Scope,
        e: &ast::Expr,
        kind: &ColumnType,
        what: &str,
    ) -> Value {
        match kind {
            ColumnType::Number { dimension, whole: false } => {
                Value::Number(self.quantity(scope, e, *dimension, what))
            }
            ColumnType::Number { whole: true, .. } => Value::Number(self.whole(scope, e, what)),
            ColumnType::Choice(words) => Value::Choice(words.clone(), self.word(scope, e, words, what)),
            ColumnType::Row(table) => {
                let value = self.value(scope, e);
                if let Value::Row(row) = &value
                    && std::sync::Arc::ptr_eq(row.table(), table)
                {
                    return value;
                }
                self.refuse(&value, what, &format!("a row of the table `{}`", table.name), e.span);
                Value::Invalid
            }
        }
    }
}

/// The same value, said at another place.
pub(crate) fn at(value: Value, span: Span) -> Value {
    match value {
        Value::Number(e) => Value::Number(Expr { span, ..e }),
        Value::Choice(words, code) => Value::Choice(words, Expr { span, ..code }),
        value @ (Value::Point(_)
        | Value::Places(_)
        | Value::Condition(_)
        | Value::Row(_)
        | Value::Table(_)
        | Value::Tool(_)
        | Value::Invalid) => value,
    }
}

fn coordinate(kind: ExprKind, span: Span) -> Expr {
    Expr::new(kind, Some(Dimension::LENGTH), false, span)
}

/// `12mm` in base units; a bare 0 fits any place.
fn literal(scope: &mut Scope, number: &Rational, unit: Option<Unit>, span: Span) -> Expr {
    let Some(unit) = unit else {
        if number.is_zero() {
            return Expr::zero(span);
        }
        return Expr::number(number.clone(), Dimension::RATIO, span);
    };
    match is_inch(unit) {
        Some(true) => scope.literals.0 += 1,
        Some(false) => scope.literals.1 += 1,
        None => {}
    }
    let quantity = Quantity::new(number, unit);
    Expr::number(quantity.value, quantity.dimension, span)
}

/// Whether a unit of length or feed is one of inches.
pub(crate) fn is_inch(unit: Unit) -> Option<bool> {
    match unit {
        Unit::Inch | Unit::Foot | Unit::InchPerMinute | Unit::FootPerMinute => Some(true),
        Unit::Millimetre | Unit::Metre | Unit::MillimetrePerMinute | Unit::MetrePerMinute => Some(false),
        Unit::Degree | Unit::Second | Unit::Minute | Unit::Rpm => None,
    }
}
