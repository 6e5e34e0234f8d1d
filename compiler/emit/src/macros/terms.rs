//! Sums in normal form: so that the offset of an arc comes out as `-lead * sin(start)` and not as the
//! difference of two long coordinates.

use std::collections::BTreeMap;

use borewright_motion::{Expr, Node};
use borewright_number::{Interval, Rational};

/// A sum of products: each sorted list of factors with its coefficient.
struct Sum(BTreeMap<Vec<Expr>, Rational>);

/// Past this, multiplying out makes nothing shorter.
const MOST_TERMS: usize = 24;

/// The shortest form found: the expression as it is, or its sum of products where that has fewer terms.
pub(super) fn simplify(expr: &Expr) -> Expr {
    match Sum::of(expr) {
        Some(sum) => {
            let rebuilt = sum.rebuild();
            if size(&rebuilt) < size(expr) { rebuilt } else { expr.clone() }
        }
        None => expr.clone(),
    }
}

/// Nodes in an expression.
pub(super) fn size(expr: &Expr) -> usize {
    let mut count = 0;
    expr.walk(&mut |_| count += 1);
    count
}

/// A lower bound of the expression: from its enclosure, or from one of the facts, each of which is 0 or more. Where
/// a multiple of a fact leaves only a rest whose enclosure is known, that rest is the bound.
pub(crate) fn least(expr: &Expr, facts: &[Expr], enclosed: &dyn Fn(&Expr) -> Interval) -> f64 {
    let mut best = enclosed(expr).lo;
    let Some(whole) = Sum::of(expr) else { return best };
    for fact in facts {
        let Some(part) = Sum::of(fact) else { continue };
        for (factors, coefficient) in part.0.iter().filter(|(factors, _)| !factors.is_empty()) {
            let Some(own) = whole.0.get(factors) else { continue };
            let times = own / coefficient;
            if times.signum() > 0 {
                let rest = Sum(whole.0.clone()).plus(Sum(part.0.clone()).scaled(&-times)).rebuild();
                best = best.max(enclosed(&rest).lo);
            }
        }
    }
    best
}

impl Sum {
    fn of(expr: &Expr) -> Option<Self> {
        let sum = match expr.node() {
            Node::Number(number) => Self::term(Vec::new(), number.clone()),
            Node::Add(a, b) => Self::of(a)?.plus(Self::of(b)?),
            Node::Sub(a, b) => Self::of(a)?.plus(Self::of(b)?.scaled(&-Rational::ONE)),
            Node::Neg(a) => Self::of(a)?.scaled(&-Rational::ONE),
            Node::Mul(a, b) => Self::of(a)?.times(&Self::of(b)?),
            Node::Div(a, b) => match b.as_number().and_then(Rational::recip) {
                Some(factor) => Self::of(a)?.scaled(&factor),
                None => Self::term(vec![expr.clone()], Rational::ONE),
            },
            Node::Pi | Node::Symbol(_) | Node::Call(..) | Node::Min(..) | Node::Max(..) | Node::If(..) => {
                Self::term(vec![expr.clone()], Rational::ONE)
            }
        };
        (sum.0.len() <= MOST_TERMS).then_some(sum)
    }

    fn term(factors: Vec<Expr>, coefficient: Rational) -> Self {
        let mut terms = BTreeMap::new();
        if !coefficient.is_zero() {
            terms.insert(factors, coefficient);
        }
        Self(terms)
    }

    fn plus(mut self, other: Self) -> Self {
        for (factors, coefficient) in other.0 {
            let sum = self.0.remove(&factors).map_or(coefficient.clone(), |c| c + &coefficient);
            if !sum.is_zero() {
                self.0.insert(factors, sum);
            }
        }
        self
    }

    fn scaled(self, by: &Rational) -> Self {
        if by.is_zero() {
            return Self(BTreeMap::new());
        }
        Self(self.0.into_iter().map(|(f, c)| (f, c * by)).collect())
    }

    fn times(self, other: &Self) -> Self {
        let mut product = Self(BTreeMap::new());
        for (f, c) in &self.0 {
            for (g, d) in &other.0 {
                let mut factors: Vec<Expr> = f.iter().chain(g).cloned().collect();
                factors.sort();
                product = product.plus(Self::term(factors, c * d));
            }
        }
        product
    }

    /// The number that all terms of a sum have, but for their signs, and the sum without it: `(a - b) / 2` and not
    /// `a / 2 - b / 2`.
    fn common(&self) -> Option<(Rational, Self)> {
        let factor = self.0.values().next()?.abs();
        let same = self.0.len() > 1 && factor != Rational::ONE && self.0.values().all(|c| c.abs() == factor);
        let inverse = factor.recip().filter(|_| same)?;
        Some((factor, Self(self.0.clone()).scaled(&inverse)))
    }

    /// Positive terms first, so that no sum begins with a minus that it could do without.
    fn rebuild(&self) -> Expr {
        if let Some((factor, rest)) = self.common() {
            return product(&[rest.rebuild()], &factor);
        }
        let (above, below): (Vec<_>, Vec<_>) = self.0.iter().partition(|(_, c)| c.signum() > 0);
        let built = |(factors, c): (&Vec<Expr>, &Rational)| product(factors, &c.abs());
        let positive = above.into_iter().map(built).reduce(|a, b| a + b);
        let negative = below.into_iter().map(built);
        match positive {
            Some(first) => negative.fold(first, |a, b| a - b),
            None => negative.map(|b| -b).reduce(|a, b| a + b).unwrap_or_else(Expr::zero),
        }
    }
}

/// `3 * a * b / 4`
fn product(factors: &[Expr], coefficient: &Rational) -> Expr {
    let (numerator, denominator) = parts(coefficient);
    let all = factors.iter().cloned().reduce(|a, b| a * b);
    let scaled = match all {
        Some(all) => Expr::number(numerator) * all,
        None => return Expr::number(coefficient.clone()),
    };
    scaled / Expr::number(denominator)
}

/// A quotient of whole numbers where a small one exists; else the number over 1.
fn parts(value: &Rational) -> (Rational, Rational) {
    for denominator in [1, 2, 3, 4, 5, 6, 8, 10, 12] {
        let denominator = Rational::from(denominator);
        let numerator = value * &denominator;
        if numerator.is_whole() {
            return (numerator, denominator);
        }
    }
    (value.clone(), Rational::ONE)
}

#[cfg(test)]
mod tests {
    use borewright_motion::Point;

    use super::*;

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    #[test]
    fn offsets_of_leads_come_out_short() {
        let at = |turn: i32| n("start") + Expr::from(turn);
        let pivot = Point::polar(&(n("wall") - n("lead")), &n("start"));
        let first = pivot.plus(&Point::polar(&n("lead"), &at(-90)));
        let offset = pivot.minus(&first);
        assert_eq!(simplify(&offset.x).to_string(), "-(lead * sin(start))");
        let second = pivot.minus(&Point::polar(&n("wall"), &n("start")));
        assert_eq!(simplify(&second.x).to_string(), "-(lead * cos(start))");
        assert_eq!(simplify(&(n("a") - (n("a") - n("b") / Expr::from(2)))).to_string(), "b / 2");
    }

    #[test]
    fn a_requirement_bounds_what_ranges_do_not() {
        let ranges = |e: &Expr| match e.to_string().as_str() {
            "(bore - tool) / 2" => Interval::new(-22.0, 149.0),
            other => Interval::point(other.parse().unwrap_or(-1.0e9)),
        };
        let wall = (n("bore") - n("tool")) / Expr::from(2);
        let room = n("bore") - (n("tool") + Expr::number(Rational::from_decimal("0.8").unwrap()));
        let told = |facts: &[Expr]| least(&wall, facts, &ranges);
        assert_eq!(told(&[]), -22.0);
        assert_eq!(told(&[n("pilot") - n("tool"), room]), 0.4);
    }

    #[test]
    fn what_is_short_already_stays() {
        let wall = (n("bore") - n("tool")) / Expr::from(2);
        assert_eq!(simplify(&wall), wall);
    }
}
