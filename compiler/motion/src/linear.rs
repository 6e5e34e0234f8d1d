//! Sums of multiples of names: what a comparison of two of them says can be seen from the ranges of the names alone.

use std::collections::BTreeMap;

use borewright_number::Rational;

use crate::{Expr, Node, Symbol};

/// A number and multiples of names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Linear {
    constant: Rational,
    terms: BTreeMap<Symbol, Rational>,
}

impl Linear {
    /// An expression as such a sum; `None` where it is something else.
    #[must_use]
    pub fn of(expr: &Expr) -> Option<Self> {
        match expr.node() {
            Node::Number(number) => Some(Self { constant: number.clone(), terms: BTreeMap::new() }),
            Node::Symbol(symbol) => {
                let terms = BTreeMap::from([(symbol.clone(), Rational::ONE)]);
                Some(Self { constant: Rational::ZERO, terms })
            }
            Node::Add(a, b) => Some(Self::of(a)?.plus(Self::of(b)?)),
            Node::Sub(a, b) => Some(Self::of(a)?.plus(Self::of(b)?.scaled(&-Rational::ONE))),
            Node::Neg(a) => Some(Self::of(a)?.scaled(&-Rational::ONE)),
            Node::Mul(a, b) => match (a.as_number(), b.as_number()) {
                (Some(factor), _) => Some(Self::of(b)?.scaled(factor)),
                (None, Some(factor)) => Some(Self::of(a)?.scaled(factor)),
                (None, None) => None,
            },
            Node::Div(a, b) => Some(Self::of(a)?.scaled(&b.as_number()?.recip()?)),
            Node::Pi | Node::Call(..) | Node::Min(..) | Node::Max(..) | Node::If(..) => None,
        }
    }

    /// The least and the greatest value, where the range of every name is known.
    #[must_use]
    pub fn range(
        &self,
        of: &dyn Fn(&Symbol) -> Option<(Rational, Rational)>,
    ) -> Option<(Rational, Rational)> {
        let mut range = (self.constant.clone(), self.constant.clone());
        for (symbol, coefficient) in &self.terms {
            let (least, greatest) = of(symbol)?;
            let ends = if coefficient.signum() < 0 { (greatest, least) } else { (least, greatest) };
            range = (range.0 + coefficient * &ends.0, range.1 + coefficient * &ends.1);
        }
        Some(range)
    }

    fn plus(mut self, other: Self) -> Self {
        self.constant = self.constant + other.constant;
        for (symbol, coefficient) in other.terms {
            let sum = self.terms.remove(&symbol).map_or(coefficient.clone(), |own| own + &coefficient);
            if !sum.is_zero() {
                self.terms.insert(symbol, sum);
            }
        }
        self
    }

    fn scaled(self, by: &Rational) -> Self {
        if by.is_zero() {
            return Self { constant: Rational::ZERO, terms: BTreeMap::new() };
        }
        let terms = self.terms.into_iter().map(|(symbol, c)| (symbol, c * by)).collect();
        Self { constant: self.constant * by, terms }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    fn range(expr: &Expr) -> Option<(Rational, Rational)> {
        let of = |s: &Symbol| match s.name() {
            "bore" => Some((Rational::from(6), Rational::from(95))),
            "stock" => Some((Rational::ZERO, Rational::ONE)),
            _ => None,
        };
        Linear::of(expr)?.range(&of)
    }

    #[test]
    fn a_name_that_cancels_widens_nothing() {
        let rough = n("bore") - Expr::from(2) * n("stock");
        assert_eq!(range(&rough), Some((Rational::from(4), Rational::from(95))));
        assert_eq!(range(&(rough - n("bore"))), Some((Rational::from(-2), Rational::ZERO)));
        assert_eq!(range(&((n("bore") - n("bore")) / Expr::from(2))), Some((Rational::ZERO, Rational::ZERO)));
    }

    #[test]
    fn nothing_is_said_of_what_is_no_such_sum() {
        assert_eq!(range(&(n("bore") * n("stock"))), None);
        assert_eq!(range(&(n("stock") / n("bore"))), None);
        assert_eq!(range(&(n("bore") + n("tool"))), None, "a name whose range nobody knows");
    }
}
