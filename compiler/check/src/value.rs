//! What an expression can stand for while it is being understood.

use std::sync::Arc;

use borewright_base::Span;
use borewright_number::{Dimension, Rational};

use crate::typed::{Condition, Expr, ExprKind, Places, Point, RowExpr, Table, Words};

/// The value of any expression.
#[derive(Debug, Clone)]
pub(crate) enum Value {
    Number(Expr),
    Point(Point),
    Places(Places),
    Condition(Condition),
    Choice(Words, Expr),
    Row(RowExpr),
    /// The name of a table, before `.ROW`.
    Table(Arc<Table>),
    /// The name of a cutter in a job's tool list, before `.FIELD`.
    Tool(usize),
    /// Not understood; the reason has been reported.
    Invalid,
}

impl Value {
    /// What it is, for a message: "a point".
    pub(crate) fn described(&self) -> String {
        match self {
            Self::Number(e) => e.dimension.map_or_else(|| "a number".to_owned(), described),
            Self::Point(_) => "a point".to_owned(),
            Self::Places(_) => "a list of places".to_owned(),
            Self::Condition(_) => "a condition".to_owned(),
            Self::Choice(words, _) => format!("a choice of {}", words.join(" or ")),
            Self::Row(row) => format!("a row of the table `{}`", row.table().name),
            Self::Table(table) => format!("the table `{}`", table.name),
            Self::Tool(_) => "a cutter".to_owned(),
            Self::Invalid => "something not understood".to_owned(),
        }
    }
}

/// A dimension with its article: "a feed", "an angle", "a plain number".
pub(crate) fn described(dimension: Dimension) -> String {
    let text = dimension.to_string();
    match text.as_str() {
        "ratio" => "a plain number".to_owned(),
        "angle" => "an angle".to_owned(),
        "length" | "time" | "feed" | "speed" => format!("a {text}"),
        _ => format!("a quantity of {text}"),
    }
}

impl Expr {
    pub(crate) fn new(kind: ExprKind, dimension: Option<Dimension>, whole: bool, span: Span) -> Self {
        Self { kind: Arc::new(kind), dimension, whole, span }
    }

    pub(crate) fn invalid(span: Span) -> Self {
        Self::new(ExprKind::Invalid, None, true, span)
    }

    pub(crate) fn number(value: Rational, dimension: Dimension, span: Span) -> Self {
        let whole = value.is_whole() && dimension == Dimension::RATIO;
        Self::new(ExprKind::Number(value), Some(dimension), whole, span)
    }

    /// A count, such as the code of a word.
    pub(crate) fn count(value: usize, span: Span) -> Self {
        let value = Rational::from(i32::try_from(value).unwrap_or(i32::MAX));
        Self::number(value, Dimension::RATIO, span)
    }

    /// A literal 0, which fits any place.
    pub(crate) fn zero(span: Span) -> Self {
        Self::new(ExprKind::Number(Rational::ZERO), None, true, span)
    }

    pub(crate) fn is_invalid(&self) -> bool {
        matches!(*self.kind, ExprKind::Invalid)
    }

    /// The same with the dimension that its place asks for.
    pub(crate) fn of(self, dimension: Dimension) -> Self {
        Self { dimension: Some(dimension), ..self }
    }

    /// The dimension, where a literal 0 counts as a plain number.
    pub(crate) fn settled(&self) -> Dimension {
        self.dimension.unwrap_or(Dimension::RATIO)
    }
}

impl Point {
    pub(crate) fn centre(span: Span) -> Self {
        Self::Rectangular(Expr::zero(span).of(Dimension::LENGTH), Expr::zero(span).of(Dimension::LENGTH))
    }
}
