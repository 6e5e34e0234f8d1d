//! Expressions brought to one form: a sum of products of atoms, with `sin^2 = 1 - cos^2`.
//!
//! Only used to recognise shapes (the radius of an arc, a turn that runs on the wall) and to shorten what is
//! written down. What it recognises is stated in the obligations and proved there.

use std::collections::BTreeMap;

use borewright_motion::{Expr, Function, Node};
use borewright_number::Rational;

/// A product of atoms with their powers; the empty one is 1.
pub(crate) type Monomial = BTreeMap<Expr, u32>;

/// A sum of products with exact coefficients, none of them 0.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Sum(BTreeMap<Monomial, Rational>);

/// Beyond this many products an expression is left as it is.
const MOST_TERMS: usize = 200;

impl Sum {
    /// The sum that an expression is; `None` where it grows too long.
    pub(crate) fn of(expr: &Expr) -> Option<Self> {
        let sum = Self::expand(expr)?;
        Some(sum.without_squared_sines())
    }

    fn expand(expr: &Expr) -> Option<Self> {
        match expr.node() {
            Node::Number(value) => Some(Self::number(value.clone())),
            Node::Add(a, b) => Some(Self::expand(a)?.plus(&Self::expand(b)?)),
            Node::Sub(a, b) => Some(Self::expand(a)?.plus(&Self::expand(b)?.scaled(&Rational::from(-1)))),
            Node::Neg(a) => Some(Self::expand(a)?.scaled(&Rational::from(-1))),
            Node::Mul(a, b) => Self::expand(a)?.times(&Self::expand(b)?),
            Node::Div(a, b) => match b.as_number().and_then(Rational::recip) {
                Some(factor) => Some(Self::expand(a)?.scaled(&factor)),
                None => {
                    let divisor = Self::of(b).map_or_else(|| b.clone(), |s| s.to_expr());
                    Self::expand(a)?.times(&Self::atom(Expr::from(1) / divisor))
                }
            },
            Node::Pi | Node::Symbol(_) | Node::Min(..) | Node::Max(..) | Node::If(..) => {
                Some(Self::atom(expr.clone()))
            }
            Node::Call(Function::Cos, angle) => Some(Self::of(angle)?.unit_vector()?.0),
            Node::Call(Function::Sin, angle) => Some(Self::of(angle)?.unit_vector()?.1),
            Node::Call(function, argument) => {
                let tidied = Self::of(argument).map_or_else(|| argument.clone(), |s| s.to_expr());
                let call = tidied.call(*function);
                Some(if matches!(call.node(), Node::Call(..)) {
                    Self::atom(call)
                } else {
                    Self::expand(&call)?
                })
            }
        }
    }

    fn number(value: Rational) -> Self {
        let mut sum = Self::default();
        sum.add(Monomial::new(), value);
        sum
    }

    fn atom(expr: Expr) -> Self {
        Self(BTreeMap::from([(Monomial::from([(expr, 1)]), Rational::ONE)]))
    }

    fn add(&mut self, monomial: Monomial, coefficient: Rational) {
        let entry = self.0.entry(monomial.clone()).or_insert(Rational::ZERO);
        *entry += &coefficient;
        if entry.is_zero() {
            self.0.remove(&monomial);
        }
    }

    pub(crate) fn plus(mut self, other: &Self) -> Self {
        for (monomial, coefficient) in &other.0 {
            self.add(monomial.clone(), coefficient.clone());
        }
        self
    }

    pub(crate) fn scaled(mut self, factor: &Rational) -> Self {
        if factor.is_zero() {
            return Self::default();
        }
        self.0.values_mut().for_each(|c| *c *= factor);
        self
    }

    fn times(&self, other: &Self) -> Option<Self> {
        if self.0.len() * other.0.len() > MOST_TERMS {
            return None;
        }
        let mut product = Self::default();
        for (a, x) in &self.0 {
            for (b, y) in &other.0 {
                let mut monomial = a.clone();
                for (atom, power) in b {
                    *monomial.entry(atom.clone()).or_insert(0) += power;
                }
                product.add(monomial, x * y);
            }
        }
        Some(product)
    }

    /// Cosine and sine of an angle, by the sines and cosines of its terms: one unit vector for each term,
    /// multiplied as complex numbers are.
    fn unit_vector(&self) -> Option<(Self, Self)> {
        let mut vector = (Self::number(Rational::ONE), Self::default());
        for (monomial, coefficient) in &self.0 {
            let size = product(monomial, coefficient.abs());
            let part = |e: Expr| match e.node() {
                Node::Call(..) => Some(Self::atom(e)),
                Node::Neg(inner) => Some(Self::atom(inner.clone()).scaled(&Rational::from(-1))),
                Node::Number(value) => Some(Self::number(value.clone())),
                Node::Pi
                | Node::Symbol(_)
                | Node::Add(..)
                | Node::Sub(..)
                | Node::Mul(..)
                | Node::Div(..)
                | Node::Min(..)
                | Node::Max(..)
                | Node::If(..) => None,
            };
            let (cos, mut sin) = (part(size.clone().cos())?, part(size.sin())?);
            if coefficient.signum() < 0 {
                sin = sin.scaled(&Rational::from(-1));
            }
            let minus = |s: Self| s.scaled(&Rational::from(-1));
            vector = (
                vector.0.times(&cos)?.plus(&minus(vector.1.times(&sin)?)),
                vector.0.times(&sin)?.plus(&vector.1.times(&cos)?),
            );
        }
        Some(vector)
    }

    /// Every `sin(a)^2` replaced by `1 - cos(a)^2`.
    fn without_squared_sines(self) -> Self {
        let mut done = Self::default();
        let mut open: Vec<(Monomial, Rational)> = self.0.into_iter().collect();
        while let Some((monomial, coefficient)) = open.pop() {
            let Some((sine, cosine)) = squared_sine(&monomial) else {
                done.add(monomial, coefficient);
                continue;
            };
            let rest = lowered(monomial, &sine);
            let mut with_cosine = rest.clone();
            *with_cosine.entry(cosine).or_insert(0) += 2;
            open.push((with_cosine, -coefficient.clone()));
            open.push((rest, coefficient));
        }
        done
    }

    /// Every product with its coefficient.
    pub(crate) fn terms(&self) -> impl Iterator<Item = (&Monomial, &Rational)> {
        self.0.iter()
    }

    /// True for the sum of nothing.
    pub(crate) fn is_zero(&self) -> bool {
        self.0.is_empty()
    }

    /// The sum as an expression again.
    pub(crate) fn to_expr(&self) -> Expr {
        // Positive terms first, so that no expression begins with a sign that it can do without.
        let (minus, plus): (Vec<_>, Vec<_>) = self.0.iter().partition(|(_, c)| c.signum() < 0);
        plus.into_iter().chain(minus).fold(Expr::zero(), |sum, (monomial, coefficient)| {
            let size = product(monomial, coefficient.abs());
            if coefficient.signum() < 0 { sum - size } else { sum + size }
        })
    }

    /// The square root, where the sum is the square of something simple: `a * b`, a number, or `a - b`.
    /// The root may be negative.
    pub(crate) fn root(&self) -> Option<Self> {
        if self.is_zero() {
            return Some(Self::default());
        }
        // The square roots of the terms that are squares, with both signs, are what the root can be made of.
        let squares: Vec<Self> = self.0.iter().filter_map(|(m, c)| term_root(m, c)).collect();
        let (first, rest) = squares.split_first()?;
        let signs = 1usize << rest.len().min(4);
        (0..signs).find_map(|mask| {
            let mut candidate = first.clone();
            for (i, term) in rest.iter().enumerate() {
                let sign = if mask & (1 << i) == 0 { 1 } else { -1 };
                candidate = candidate.plus(&term.clone().scaled(&Rational::from(sign)));
            }
            let square = candidate.times(&candidate)?.without_squared_sines();
            (square == *self).then_some(candidate)
        })
    }
}

fn squared_sine(monomial: &Monomial) -> Option<(Expr, Expr)> {
    monomial.iter().find_map(|(atom, power)| {
        let Node::Call(Function::Sin, angle) = atom.node() else { return None };
        (*power >= 2).then(|| (atom.clone(), Expr::from_node(Node::Call(Function::Cos, angle.clone()))))
    })
}

/// The monomial divided by the square of an atom.
fn lowered(mut monomial: Monomial, atom: &Expr) -> Monomial {
    let left = monomial.get(atom).map_or(0, |p| p.saturating_sub(2));
    if left == 0 {
        monomial.remove(atom);
    } else {
        monomial.insert(atom.clone(), left);
    }
    monomial
}

fn term_root(monomial: &Monomial, coefficient: &Rational) -> Option<Sum> {
    let root = coefficient.exact_sqrt()?;
    let halves: Option<Monomial> =
        monomial.iter().map(|(atom, power)| (power % 2 == 0).then(|| (atom.clone(), power / 2))).collect();
    Some(Sum(BTreeMap::from([(halves?, root)])))
}

fn product(monomial: &Monomial, coefficient: Rational) -> Expr {
    let mut factors = monomial.iter().flat_map(|(a, p)| std::iter::repeat_n(a.clone(), *p as usize));
    let Some(first) = factors.next() else { return Expr::number(coefficient) };
    factors.fold(Expr::number(coefficient) * first, |a, b| a * b)
}

/// The expression in its one form.
pub(crate) fn tidy(expr: &Expr) -> Expr {
    Sum::of(expr).map_or_else(|| expr.clone(), |sum| sum.to_expr())
}

/// Whether two expressions are one and the same polynomial.
pub(crate) fn same(a: &Expr, b: &Expr) -> bool {
    a == b || Sum::of(&(a.clone() - b.clone())).is_some_and(|sum| sum.is_zero())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    #[test]
    fn differences_cancel_and_squared_unit_vectors_vanish() {
        let a = n("a");
        let x = n("r") * a.clone().cos();
        let y = n("r") * a.sin();
        assert_eq!(tidy(&(n("p") + x.clone() - n("p"))).to_string(), "r * cos(a)");
        assert_eq!(tidy(&(x.squared() + y.squared())).to_string(), "r * r");
        assert!(same(&((n("d") - n("t")) / Expr::from(2) * Expr::from(2) + n("t")), &n("d")));
        assert!(!same(&n("d"), &n("t")));
    }

    #[test]
    fn angles_are_taken_apart_into_unit_vectors() {
        let (a, b) = (n("a"), n("b"));
        let turned = a.clone() + b.clone() - Expr::from(89);
        let square = turned.clone().cos().squared() + turned.sin().squared();
        assert_eq!(tidy(&square), Expr::from(1));
        let apart = (a.clone() - b.clone()).cos() - (b - a).cos();
        assert_eq!(tidy(&apart), Expr::zero());
        let chord = n("r") * (Expr::from(1) - Expr::from(60).cos());
        assert_eq!(tidy(&chord).to_string(), "r - r * cos(60)");
    }

    #[test]
    fn roots_are_found_where_they_are_simple() {
        let root = |e: &Expr| Sum::of(e).unwrap().root().map(|r| r.to_expr().to_string());
        assert_eq!(root(&n("r").squared()).as_deref(), Some("r"));
        let d = n("wall") - Expr::from(2) * n("lead");
        assert!(root(&d.squared()).is_some());
        assert_eq!(root(&(n("a").squared() + n("b").squared())), None);
        assert_eq!(root(&n("a")), None);
        assert_eq!(root(&Expr::zero()).as_deref(), Some("0"));
    }
}
