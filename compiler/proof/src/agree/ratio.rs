//! How many times one product goes into another, where only numbers and pi are left when common factors are
//! cancelled: how far the number of steps that a text counts can be from that of its motion.
//!
//! A text has pi in decimals and lengths in its own unit, and so counts `0.9998 * (depth / 25.4) / (6.2831854 * r)`
//! where the motion says `abs(-depth) / (2 * pi * 25.4 * r)`. The quotient of the two is a number.

use std::collections::BTreeMap;

use borewright_motion::{Condition, Expr, Function, Node};
use borewright_number::Rational;

/// A product: a number, a power of pi, and powers of what else there is.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Product {
    number: Rational,
    pi: i32,
    rest: BTreeMap<Factor, i32>,
}

/// What cannot be taken apart.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Factor {
    Plain(Expr),
    /// Terms and their numbers; the first is 1.
    Sum(Vec<(Term, Rational)>),
    Absolute(Box<Factor>),
}

/// Powers of pi and of factors.
type Term = (i32, Vec<(Factor, i32)>);

/// More terms than any way of ours has.
const TERMS: usize = 24;

/// What must hold for `steps` not to be less than `counted`, and for it not to exceed `longer` times that; `counted`
/// is a quotient of a text and `steps` that of its motion, which is not negative.
pub(super) fn compared(counted: &Expr, steps: &Expr, longer: &Rational) -> Option<[Condition; 2]> {
    let counted = Product::of(counted)?;
    let inverse = counted.inverse()?;
    let (ratio, positive) = Product::of(steps)?.times(&inverse).reconciled()?;
    if ratio.number.signum() <= 0 {
        return None;
    }
    let pi = |n: i32| (0..n).map(|_| Expr::pi()).fold(Expr::from(1), |a, b| a * b);
    let (above, below) = (pi(ratio.pi.max(0)), pi((-ratio.pi).max(0)));
    let value = Expr::number(ratio.number) * above;
    let with = |relation: Condition| {
        let signs = positive.iter().map(|e| Condition::at_least(e.clone(), Expr::zero()));
        Condition::all(std::iter::once(relation).chain(signs))
    };
    Some([
        with(Condition::at_least(value.clone(), below.clone())),
        with(Condition::at_most(value, Expr::number(longer.clone()) * below)),
    ])
}

impl Product {
    fn number(number: Rational) -> Option<Self> {
        (!number.is_zero()).then(|| Self { number, pi: 0, rest: BTreeMap::new() })
    }

    fn factor(factor: Factor) -> Self {
        Self { number: Rational::ONE, pi: 0, rest: BTreeMap::from([(factor, 1)]) }
    }

    fn of(expr: &Expr) -> Option<Self> {
        match expr.node() {
            Node::Number(number) => Self::number(number.clone()),
            Node::Pi => Some(Self { number: Rational::ONE, pi: 1, rest: BTreeMap::new() }),
            Node::Neg(a) => Some(Self::of(a)?.scaled(&-Rational::ONE)),
            Node::Mul(a, b) => Some(Self::of(a)?.times(&Self::of(b)?)),
            Node::Div(a, b) => Some(Self::of(a)?.times(&Self::of(b)?.inverse()?)),
            Node::Add(..) | Node::Sub(..) => Self::sum(expr),
            Node::Call(Function::Abs, a) => Some(Self::of(a)?.absolute()),
            Node::Symbol(_) | Node::Call(..) | Node::Min(..) | Node::Max(..) | Node::If(..) => {
                Some(Self::factor(Factor::Plain(expr.clone())))
            }
        }
    }

    fn scaled(self, by: &Rational) -> Self {
        Self { number: self.number * by, ..self }
    }

    fn times(mut self, other: &Self) -> Self {
        self.number *= &other.number;
        self.pi += other.pi;
        for (factor, power) in &other.rest {
            let sum = self.rest.remove(factor).unwrap_or(0) + power;
            if sum != 0 {
                self.rest.insert(factor.clone(), sum);
            }
        }
        self
    }

    fn inverse(&self) -> Option<Self> {
        let rest = self.rest.iter().map(|(factor, power)| (factor.clone(), -power)).collect();
        Some(Self { number: self.number.recip()?, pi: -self.pi, rest })
    }

    fn absolute(self) -> Self {
        let absolute = |factor| match factor {
            Factor::Absolute(_) => factor,
            Factor::Plain(_) | Factor::Sum(_) => Factor::Absolute(Box::new(factor)),
        };
        let rest = self.rest.into_iter().map(|(factor, power)| (absolute(factor), power)).collect();
        Self { number: self.number.abs(), pi: self.pi, rest }
    }

    fn sum(expr: &Expr) -> Option<Self> {
        let mut terms = BTreeMap::new();
        add(expr, &Rational::ONE, &mut terms)?;
        terms.retain(|_, number| !number.is_zero());
        let terms: Vec<(Term, Rational)> = terms.into_iter().collect();
        let (_, first) = terms.first()?;
        let (number, inverse) = (first.clone(), first.recip()?);
        if let [((pi, rest), _)] = terms.as_slice() {
            return Some(Self { number, pi: *pi, rest: rest.iter().cloned().collect() });
        }
        let terms = terms.iter().map(|(term, n)| (term.clone(), n * &inverse)).collect();
        Some(Self::factor(Factor::Sum(terms)).scaled(&number))
    }

    /// Without factors, where what stands above has an absolute value and what stands below has none: the signs
    /// that must be known then.
    fn reconciled(mut self) -> Option<(Self, Vec<Expr>)> {
        let mut positive = Vec::new();
        let absolute: Vec<Factor> = self.rest.keys().cloned().collect();
        for factor in absolute {
            let Factor::Absolute(inner) = &factor else { continue };
            let Some(power) = self.rest.remove(&factor) else { continue };
            let left = self.rest.remove(&**inner).unwrap_or(0) + power;
            if left != 0 {
                return None;
            }
            positive.push(inner.expr());
        }
        self.rest.is_empty().then_some((self, positive))
    }
}

/// Adds an expression, so many times, to a sum.
fn add(expr: &Expr, times: &Rational, terms: &mut BTreeMap<Term, Rational>) -> Option<()> {
    match expr.node() {
        Node::Add(a, b) => {
            add(a, times, terms)?;
            add(b, times, terms)?;
        }
        Node::Sub(a, b) => {
            add(a, times, terms)?;
            add(b, &-times.clone(), terms)?;
        }
        Node::Number(number) if number.is_zero() => {}
        Node::Number(_)
        | Node::Pi
        | Node::Symbol(_)
        | Node::Mul(..)
        | Node::Div(..)
        | Node::Neg(_)
        | Node::Call(..)
        | Node::Min(..)
        | Node::Max(..)
        | Node::If(..) => {
            let product = Product::of(expr)?;
            let number = product.number * times;
            let rest: Vec<_> = product.rest.into_iter().collect();
            // A multiple of a sum is a sum.
            if let ([(Factor::Sum(inner), 1)], 0) = (rest.as_slice(), product.pi) {
                for (term, n) in inner {
                    let sum = terms.remove(term).unwrap_or(Rational::ZERO) + &number * n;
                    terms.insert(term.clone(), sum);
                }
            } else {
                let term = (product.pi, rest);
                let sum = terms.remove(&term).unwrap_or(Rational::ZERO) + number;
                terms.insert(term, sum);
            }
        }
    }
    (terms.len() <= TERMS).then_some(())
}

impl Factor {
    fn expr(&self) -> Expr {
        match self {
            Self::Plain(expr) => expr.clone(),
            Self::Absolute(inner) => inner.expr().call(Function::Abs),
            Self::Sum(terms) => {
                let one = |((pi, rest), number): &(Term, Rational)| {
                    let number = Product { number: number.clone(), pi: *pi, rest: BTreeMap::new() };
                    rest.iter().fold(number.bare(), |whole, (factor, power)| {
                        let part = power_of(&factor.expr(), power.unsigned_abs());
                        if *power > 0 { whole * part } else { whole / part }
                    })
                };
                terms.iter().map(one).reduce(|a, b| a + b).unwrap_or_else(Expr::zero)
            }
        }
    }
}

impl Product {
    /// The number and pi alone.
    fn bare(&self) -> Expr {
        let part = power_of(&Expr::pi(), self.pi.unsigned_abs());
        let number = Expr::number(self.number.clone());
        if self.pi >= 0 { number * part } else { number / part }
    }
}

fn power_of(expr: &Expr, power: u32) -> Expr {
    (0..power).fold(Expr::from(1), |whole, _| whole * expr.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    fn d(text: &str) -> Expr {
        Expr::number(Rational::from_decimal(text).unwrap())
    }

    fn longer() -> Rational {
        Rational::from_decimal("1.002").unwrap()
    }

    fn told(counted: &Expr, steps: &Expr) -> Option<[String; 2]> {
        compared(counted, steps, &longer()).map(|both| both.map(|c| c.to_string()))
    }

    #[test]
    fn units_and_decimals_of_pi_cancel() {
        let path = |unit: &str| (n("bore") / d(unit) - n("tool") / d(unit)) / Expr::from(2);
        let counted = d("0.9998") * (n("depth") / d("25.4")) / (d("6.2831854") * path("25.4"));
        let steps = (-n("depth")).call(Function::Abs) / (Expr::from(2) * Expr::pi() * path("1"));
        let [fewest, most] = told(&counted, &steps).unwrap();
        assert!(fewest.ends_with(">= pi and depth >= 0"), "{fewest}");
        assert!(most.ends_with("<= 1.002 * pi and depth >= 0"), "{most}");
    }

    #[test]
    fn what_is_left_is_proved() {
        let mid = || (n("bore") - n("tool")) / Expr::from(2);
        let way = || (-n("depth") - n("gap")).call(Function::Abs);
        let counted = d("0.9998") * way() / (d("6.2831854") * mid() * n("ramp").call(Function::Tan));
        let steps = way() / (Expr::from(2) * Expr::pi() * mid() * n("ramp").call(Function::Tan));
        for goal in compared(&counted, &steps, &longer()).unwrap() {
            let formula =
                crate::Formula { variables: Vec::new(), hypotheses: Vec::new(), goal, hints: Vec::new() };
            let answer = crate::engine::prove(&formula, &crate::Budget { steps: 1000 }).answer;
            assert!(matches!(answer, crate::Answer::Proved { .. }), "{}: {answer:?}", formula.goal);
        }
    }

    #[test]
    fn sums_are_told_apart_by_more_than_their_order() {
        let way = |a: Expr, b: Expr| (a - b).call(Function::Abs) / n("by");
        assert!(told(&way(n("a"), n("b")), &way(n("b"), n("a"))).is_some());
        assert_eq!(told(&way(n("a"), n("b")), &way(n("a"), n("c"))), None);
        assert_eq!(told(&(n("a") / n("by")), &(n("a") / n("by") + Expr::from(1))), None);
    }
}
