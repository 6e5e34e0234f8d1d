//! Operators and built-in functions: how dimensions combine.

use std::sync::Arc;

use borewright_base::Span;
use borewright_number::Dimension;
use borewright_syntax::ast::{self, Binary, Compare, ExprKind as Tree, Name};

use crate::checker::Checker;
use crate::errors;
use crate::scope::Scope;
use crate::typed::{Arithmetic, Condition, Expr, ExprKind, Function, Point};
use crate::value::Value;

/// The patterns of places, which take their arguments by name.
pub(crate) const PATTERNS: [&str; 2] = ["circle", "grid"];

/// The built-in functions, in the order in which the manual lists them.
pub(crate) const FUNCTIONS: [&str; 11] =
    ["sin", "cos", "tan", "atan", "acos", "sqrt", "abs", "min", "max", "ceil", "floor"];

impl Checker<'_> {
    pub(crate) fn negate(&mut self, scope: &mut Scope, inner: &ast::Expr, span: Span) -> Value {
        match self.value(scope, inner) {
            Value::Number(a) => {
                let (dimension, whole) = (a.dimension, a.whole);
                Value::Number(Expr::new(ExprKind::Negate(a), dimension, whole, span))
            }
            Value::Point(p) => Value::Point(Point::Negate(Arc::new(p))),
            Value::Invalid => Value::Invalid,
            value @ (Value::Places(_)
            | Value::Condition(_)
            | Value::Choice(..)
            | Value::Row(_)
            | Value::Table(_)
            | Value::Tool(_)) => {
                self.report(errors::wrong_kind(
                    "what follows `-`",
                    "a quantity or a point",
                    &value.described(),
                    span,
                ));
                Value::Invalid
            }
        }
    }

    pub(crate) fn binary(
        &mut self,
        scope: &mut Scope,
        op: Binary,
        a: &ast::Expr,
        b: &ast::Expr,
        span: Span,
    ) -> Value {
        let arithmetic = match op {
            Binary::And | Binary::Or => {
                let what = if op == Binary::And { "each side of `and`" } else { "each side of `or`" };
                let a = Box::new(self.condition(scope, a, what));
                let b = Box::new(self.condition(scope, b, what));
                let both = if op == Binary::And { Condition::And(a, b) } else { Condition::Or(a, b) };
                return Value::Condition(both);
            }
            Binary::Add => Arithmetic::Add,
            Binary::Sub => Arithmetic::Sub,
            Binary::Mul => Arithmetic::Mul,
            Binary::Div => Arithmetic::Div,
        };
        let (left, right) = (self.value(scope, a), self.value(scope, b));
        match (left, right) {
            (Value::Invalid, _) | (_, Value::Invalid) => Value::Invalid,
            (Value::Number(a), Value::Number(b)) => self.arithmetic(arithmetic, a, b, span),
            (Value::Point(a), Value::Point(b)) if arithmetic == Arithmetic::Add => {
                Value::Point(Point::Plus(a.into(), b.into()))
            }
            (Value::Point(a), Value::Point(b)) if arithmetic == Arithmetic::Sub => {
                Value::Point(Point::Minus(a.into(), b.into()))
            }
            (Value::Number(n), Value::Point(p)) | (Value::Point(p), Value::Number(n))
                if arithmetic == Arithmetic::Mul =>
            {
                Value::Point(Point::Scaled(
                    self.fit(n, Dimension::RATIO, "what a point is multiplied by"),
                    p.into(),
                ))
            }
            (Value::Point(p), Value::Number(n)) if arithmetic == Arithmetic::Div => Value::Point(
                Point::Over(p.into(), self.fit(n, Dimension::RATIO, "what a point is divided by")),
            ),
            (left, right) => {
                self.report(no_operation(arithmetic, &left, &right, span));
                Value::Invalid
            }
        }
    }

    fn arithmetic(&mut self, op: Arithmetic, a: Expr, b: Expr, span: Span) -> Value {
        if a.is_invalid() || b.is_invalid() {
            return Value::Invalid;
        }
        let dimension = match op {
            Arithmetic::Add => self.common(&a, &b, "{a} and {b} cannot be added", span),
            Arithmetic::Sub => self.common(&a, &b, "{b} cannot be subtracted from {a}", span),
            Arithmetic::Mul => self.product(a.settled().times(b.settled()), span),
            Arithmetic::Div => self.product(a.settled().over(b.settled()), span),
        };
        let whole = a.whole && b.whole && op != Arithmetic::Div;
        match dimension {
            Some(dimension) => {
                Value::Number(Expr::new(ExprKind::Arithmetic(op, a, b), dimension, whole, span))
            }
            None => Value::Invalid,
        }
    }

    fn product(&mut self, dimension: Option<Dimension>, span: Span) -> Option<Option<Dimension>> {
        if dimension.is_none() {
            self.report(errors::dimension_too_large(span));
        }
        Some(Some(dimension?))
    }

    /// The one dimension of two quantities; a literal 0 takes the other's. `doing` says what cannot be done
    /// with `{a}` and `{b}`.
    pub(crate) fn common(
        &mut self,
        a: &Expr,
        b: &Expr,
        doing: &str,
        span: Span,
    ) -> Option<Option<Dimension>> {
        match (a.dimension, b.dimension) {
            (None, other) | (other, None) => Some(other),
            (Some(x), Some(y)) if x == y => Some(Some(x)),
            (Some(_), Some(_)) => {
                self.report(errors::dimension_clash(doing, a, b, span));
                None
            }
        }
    }

    /// `a <= b`, or `hand == right`.
    pub(crate) fn compare(
        &mut self,
        scope: &mut Scope,
        relation: Compare,
        a: &ast::Expr,
        b: &ast::Expr,
        span: Span,
    ) -> Value {
        // A word of a choice means nothing by itself: the other side says which words there are.
        let (first, second) = if self.is_word(scope, a) { (b, a) } else { (a, b) };
        let left = self.value(scope, first);
        if let Value::Choice(words, code) = left {
            let word = self.word(scope, second, &words, "what a choice is compared with");
            if !matches!(relation, Compare::Equal | Compare::NotEqual) {
                self.report(errors::wrong_kind(
                    "what is compared by size",
                    "a quantity",
                    "a choice of words",
                    span,
                ));
                return Value::Invalid;
            }
            return Value::Condition(Condition::Compare(relation, code, word));
        }
        let right = self.value(scope, second);
        match (left, right) {
            (Value::Invalid, _) | (_, Value::Invalid) => Value::Invalid,
            (Value::Number(a), Value::Number(b)) => self.compare_numbers(relation, a, b, span),
            (left, right) => {
                let odd = if matches!(left, Value::Number(_)) { right } else { left };
                self.report(errors::wrong_kind("what is compared", "a quantity", &odd.described(), span));
                Value::Invalid
            }
        }
    }

    fn compare_numbers(&mut self, relation: Compare, a: Expr, b: Expr, span: Span) -> Value {
        if a.is_invalid() || b.is_invalid() {
            return Value::Invalid;
        }
        match self.common(&a, &b, "{a} and {b} cannot be compared", span) {
            Some(_) => Value::Condition(Condition::Compare(relation, a, b)),
            None => Value::Invalid,
        }
    }

    fn is_word(&mut self, scope: &Scope, e: &ast::Expr) -> bool {
        let Tree::Name(name) = &*e.kind else { return false };
        !self.is_known(scope, &name.text)
    }

    /// A built-in function, if it is one.
    pub(crate) fn built_in(
        &mut self,
        scope: &mut Scope,
        name: &Name,
        arguments: &[ast::Expr],
        span: Span,
    ) -> Option<Value> {
        if !FUNCTIONS.contains(&name.text.as_str()) {
            return None;
        }
        let what = format!("an argument of `{}`", name.text);
        let values: Vec<Expr> = arguments.iter().map(|a| self.number(scope, a, &what)).collect();
        let wanted = if matches!(name.text.as_str(), "min" | "max") { 2 } else { 1 };
        if values.len() != wanted {
            self.report(errors::argument_count(name, wanted, values.len(), span));
            return Some(Value::Invalid);
        }
        if values.iter().any(Expr::is_invalid) {
            return Some(Value::Invalid);
        }
        let mut values = values.into_iter();
        let result = match (values.next(), values.next()) {
            (Some(a), None) => self.of_one(&name.text, a, &what, span),
            (Some(a), Some(b)) => self.of_two(&name.text, a, b, span),
            (None, _) => None,
        };
        Some(result.map_or(Value::Invalid, Value::Number))
    }

    fn of_two(&mut self, name: &str, a: Expr, b: Expr, span: Span) -> Option<Expr> {
        let doing = format!("{{a}} and {{b}} have no `{name}`");
        let dimension = self.common(&a, &b, &doing, span)?;
        let whole = a.whole && b.whole;
        let kind = if name == "min" { ExprKind::Min(a, b) } else { ExprKind::Max(a, b) };
        Some(Expr::new(kind, dimension, whole, span))
    }

    fn of_one(&mut self, name: &str, a: Expr, what: &str, span: Span) -> Option<Expr> {
        let (ratio, angle) = (Dimension::RATIO, Dimension::ANGLE);
        let (function, wanted, dimension, whole) = match name {
            "sin" => (Function::Sin, Some(angle), Some(ratio), false),
            "cos" => (Function::Cos, Some(angle), Some(ratio), false),
            "tan" => (Function::Tan, Some(angle), Some(ratio), false),
            "atan" => (Function::Atan, Some(ratio), Some(angle), false),
            "acos" => (Function::Acos, Some(ratio), Some(angle), false),
            "ceil" => (Function::Ceil, Some(ratio), Some(ratio), true),
            "floor" => (Function::Floor, Some(ratio), Some(ratio), true),
            "abs" => (Function::Abs, None, a.dimension, a.whole),
            _ => {
                let Some(root) = a.settled().root() else {
                    self.report(errors::no_root(&a));
                    return None;
                };
                (Function::Sqrt, None, a.dimension.map(|_| root), false)
            }
        };
        let a = match wanted {
            Some(wanted) => self.fit(a, wanted, what),
            None => a,
        };
        (!a.is_invalid()).then(|| Expr::new(ExprKind::Function(function, a), dimension, whole, span))
    }
}

fn no_operation(op: Arithmetic, a: &Value, b: &Value, span: Span) -> borewright_base::Diagnostic {
    let (a, b) = (a.described(), b.described());
    let message = match op {
        Arithmetic::Add => format!("{a} and {b} cannot be added"),
        Arithmetic::Sub => format!("{b} cannot be subtracted from {a}"),
        Arithmetic::Mul => format!("{a} cannot be multiplied by {b}"),
        Arithmetic::Div => format!("{a} cannot be divided by {b}"),
    };
    borewright_base::Diagnostic::error(crate::codes::WRONG_KIND, span, message)
}
