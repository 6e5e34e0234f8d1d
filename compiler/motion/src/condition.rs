//! Conditions over expressions.

use std::sync::Arc;

use crate::{Expr, Symbol};

/// How two values compare.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Relation {
    /// `==`
    Equal,
    /// `!=`
    NotEqual,
    /// `<`
    Less,
    /// `<=`
    LessEqual,
    /// `>`
    Greater,
    /// `>=`
    GreaterEqual,
}

impl Relation {
    /// The relation as a sentence says it: `is at least`.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Equal => "is",
            Self::NotEqual => "is not",
            Self::Less => "is less than",
            Self::LessEqual => "is at most",
            Self::Greater => "is more than",
            Self::GreaterEqual => "is at least",
        }
    }

    /// The relation that holds exactly when this one does not.
    #[must_use]
    pub fn negated(self) -> Self {
        match self {
            Self::Equal => Self::NotEqual,
            Self::NotEqual => Self::Equal,
            Self::Less => Self::GreaterEqual,
            Self::LessEqual => Self::Greater,
            Self::Greater => Self::LessEqual,
            Self::GreaterEqual => Self::Less,
        }
    }

    /// The relation's spelling in the language.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Equal => "==",
            Self::NotEqual => "!=",
            Self::Less => "<",
            Self::LessEqual => "<=",
            Self::Greater => ">",
            Self::GreaterEqual => ">=",
        }
    }

    /// Whether two ordered values stand in this relation.
    #[must_use]
    pub fn holds(self, ordering: std::cmp::Ordering) -> bool {
        match self {
            Self::Equal => ordering.is_eq(),
            Self::NotEqual => ordering.is_ne(),
            Self::Less => ordering.is_lt(),
            Self::LessEqual => ordering.is_le(),
            Self::Greater => ordering.is_gt(),
            Self::GreaterEqual => ordering.is_ge(),
        }
    }
}

/// A condition over expressions.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Condition {
    /// Always.
    True,
    /// Never.
    False,
    /// `a <= b`
    Compare(Relation, Expr, Expr),
    /// `a and b and ...`
    And(Vec<Condition>),
    /// `a or b or ...`
    Or(Vec<Condition>),
    /// `not a`
    Not(Arc<Condition>),
}

impl Condition {
    /// `a relation b`; decided at once where both are numbers.
    #[must_use]
    pub fn compare(relation: Relation, a: Expr, b: Expr) -> Self {
        match (a.as_number(), b.as_number()) {
            (Some(x), Some(y)) => Self::from_bool(relation.holds(x.cmp(y))),
            _ => Self::Compare(relation, a, b),
        }
    }

    /// `a == b`
    #[must_use]
    pub fn equal(a: Expr, b: Expr) -> Self {
        Self::compare(Relation::Equal, a, b)
    }

    /// `a != b`
    #[must_use]
    pub fn not_equal(a: Expr, b: Expr) -> Self {
        Self::compare(Relation::NotEqual, a, b)
    }

    /// `a < b`
    #[must_use]
    pub fn less(a: Expr, b: Expr) -> Self {
        Self::compare(Relation::Less, a, b)
    }

    /// `a <= b`
    #[must_use]
    pub fn at_most(a: Expr, b: Expr) -> Self {
        Self::compare(Relation::LessEqual, a, b)
    }

    /// `a > b`
    #[must_use]
    pub fn greater(a: Expr, b: Expr) -> Self {
        Self::compare(Relation::Greater, a, b)
    }

    /// `a >= b`
    #[must_use]
    pub fn at_least(a: Expr, b: Expr) -> Self {
        Self::compare(Relation::GreaterEqual, a, b)
    }

    /// True or False.
    #[must_use]
    pub fn from_bool(value: bool) -> Self {
        if value { Self::True } else { Self::False }
    }

    /// All of them: flattened, without `True`; `False` if any is.
    #[must_use]
    pub fn all(parts: impl IntoIterator<Item = Self>) -> Self {
        let mut kept = Vec::new();
        for part in parts {
            match part {
                Self::True => {}
                Self::False => return Self::False,
                Self::And(inner) => kept.extend(inner),
                part @ (Self::Compare(..) | Self::Or(_) | Self::Not(_)) => kept.push(part),
            }
        }
        Self::collect(kept, Self::True, Self::And)
    }

    /// Any of them: flattened, without `False`; `True` if any is.
    #[must_use]
    pub fn any(parts: impl IntoIterator<Item = Self>) -> Self {
        let mut kept = Vec::new();
        for part in parts {
            match part {
                Self::False => {}
                Self::True => return Self::True,
                Self::Or(inner) => kept.extend(inner),
                part @ (Self::Compare(..) | Self::And(_) | Self::Not(_)) => kept.push(part),
            }
        }
        Self::collect(kept, Self::False, Self::Or)
    }

    fn collect(mut kept: Vec<Self>, none: Self, many: impl Fn(Vec<Self>) -> Self) -> Self {
        kept.dedup();
        match kept.len() {
            0 => none,
            1 => kept.pop().unwrap_or(none),
            _ => many(kept),
        }
    }

    /// The opposite, with the negation pushed down to the comparisons.
    #[must_use]
    pub fn negated(&self) -> Self {
        match self {
            Self::True => Self::False,
            Self::False => Self::True,
            Self::Compare(relation, a, b) => Self::compare(relation.negated(), a.clone(), b.clone()),
            Self::And(parts) => Self::any(parts.iter().map(Self::negated)),
            Self::Or(parts) => Self::all(parts.iter().map(Self::negated)),
            Self::Not(inner) => (**inner).clone(),
        }
    }

    /// The condition with every symbol for which `to` gives a value replaced by it.
    #[must_use]
    pub fn substitute(&self, to: &dyn Fn(&Symbol) -> Option<Expr>) -> Self {
        match self {
            Self::True | Self::False => self.clone(),
            Self::Compare(relation, a, b) => Self::compare(*relation, a.substitute(to), b.substitute(to)),
            Self::And(parts) => Self::all(parts.iter().map(|p| p.substitute(to))),
            Self::Or(parts) => Self::any(parts.iter().map(|p| p.substitute(to))),
            Self::Not(inner) => inner.substitute(to).negated(),
        }
    }

    /// The condition with every expression node for which `to` gives a value replaced by it, from the top.
    #[must_use]
    pub fn map(&self, to: &dyn Fn(&Expr) -> Option<Expr>) -> Self {
        match self {
            Self::True | Self::False => self.clone(),
            Self::Compare(relation, a, b) => Self::compare(*relation, a.map(to), b.map(to)),
            Self::And(parts) => Self::all(parts.iter().map(|p| p.map(to))),
            Self::Or(parts) => Self::any(parts.iter().map(|p| p.map(to))),
            Self::Not(inner) => inner.map(to).negated(),
        }
    }

    /// Calls `visit` on every expression node in it.
    pub fn walk(&self, visit: &mut dyn FnMut(&Expr)) {
        match self {
            Self::True | Self::False => {}
            Self::Compare(_, a, b) => {
                a.walk(visit);
                b.walk(visit);
            }
            Self::And(parts) | Self::Or(parts) => parts.iter().for_each(|p| p.walk(visit)),
            Self::Not(inner) => inner.walk(visit),
        }
    }

    /// Every symbol that occurs.
    #[must_use]
    pub fn symbols(&self) -> std::collections::BTreeSet<Symbol> {
        let mut found = std::collections::BTreeSet::new();
        self.walk(&mut |e| found.extend(e.as_symbol().cloned()));
        found
    }
}
