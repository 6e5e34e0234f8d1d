//! Polynomials over terms, in which equations replace products of terms; and sums of them that cannot be.

use std::collections::{BTreeMap, HashMap};

use borewright_number::Rational;
use serde_json::Value;

use crate::check::numbered;
use crate::terms::{EQUAL, GREATER, Id, LESS, Terms, split, swapped};
use crate::{Checked, require};

/// From products of terms, sorted, to their coefficients, none of which is 0.
type Poly = BTreeMap<Vec<Id>, Rational>;

/// No product has more terms, no number more bits, and no step works out more products.
const MOST_TERMS: usize = 1000;
const MOST_BITS: usize = 100_000;
const MOST_PRODUCTS: usize = 10_000_000;

/// Works out polynomials.
#[derive(Debug)]
pub(crate) struct Sums<'a> {
    terms: &'a mut Terms,
    facts: &'a [Id],
    /// What stands in place of a product of terms.
    rules: Vec<(Vec<Id>, Poly)>,
    known: HashMap<Id, Poly>,
    /// How many products may still be worked out.
    left: usize,
}

impl<'a> Sums<'a> {
    pub(crate) fn new(terms: &'a mut Terms, facts: &'a [Id]) -> Self {
        Self { terms, facts, rules: Vec::new(), known: HashMap::new(), left: MOST_PRODUCTS }
    }

    /// Takes facts `product = polynomial` as rules: what replaces what.
    fn replace_by(&mut self, equations: &Value) -> Checked<()> {
        let mut rules = Vec::new();
        for equation in equations.as_array().ok_or("the list of equations is missing")? {
            let equation = self.terms.comparison(numbered(self.facts, equation)?);
            let Some((EQUAL, a, b)) = equation else { return Err("a rule is no equation".into()) };
            let (left, right) = (self.poly(a)?, self.poly(b)?);
            match left.first_key_value() {
                Some((product, c)) if left.len() == 1 && !product.is_empty() && *c == Rational::ONE => {
                    rules.push((product.clone(), right));
                }
                _ => return Err("a rule replaces no product".into()),
            }
        }
        (self.rules, self.known) = (rules, HashMap::new());
        Ok(())
    }

    /// Whether two terms are equal by the equations, which are applied when all else is worked out.
    pub(crate) fn equal(&mut self, equations: &Value, a: Id, b: Id) -> Checked<()> {
        let difference = self.plus(a, b, -1)?;
        self.replace_by(equations)?;
        let rest = self.reduced(difference)?;
        require(rest.is_empty(), "the terms are not equal by these equations")
    }

    /// A sum that is identically 0 although one of its summands is positive and none is negative. The equations
    /// are applied at each step.
    pub(crate) fn combine(&mut self, equations: &Value, summands: &[Value]) -> Checked<()> {
        self.replace_by(equations)?;
        let (mut sum, mut positive) = (Vec::new(), false);
        for summand in summands {
            let (scale, factors) = split(summand)?;
            let scale = Rational::from_fraction(scale).ok_or("a scale is no number")?;
            let mut product = Poly::from([(Vec::new(), scale.clone())]);
            // The orders with 0 that the factors have together; and whether one of them is 0.
            let (mut orders, mut zero) = (GREATER, false);
            for factor in factors {
                let (value, own) = self.factor(factor)?;
                product = self.times(&product, &value)?;
                orders |= own;
                zero |= own == EQUAL;
            }
            require(zero || orders & LESS == 0 && scale.signum() >= 0, "a summand may be negative")?;
            positive |= orders == GREATER && scale.signum() > 0;
            sum.extend(product);
        }
        let is_zero = self.reduced(sum)?.is_empty();
        require(positive && is_zero, "the sum is not 0, or no summand is positive")
    }

    /// The value of a factor, and the orders that it may have with 0.
    fn factor(&mut self, factor: &Value) -> Checked<(Poly, u8)> {
        if let (word @ ("any" | "square"), [of]) = split(factor)? {
            let of = self.terms.term(of, &[])?;
            let value = self.poly(of)?;
            let square = (self.times(&value, &value)?, EQUAL | GREATER);
            return Ok(if word == "any" { (value, LESS | EQUAL | GREATER) } else { square });
        }
        let fact = self.terms.comparison(numbered(self.facts, factor)?);
        let (orders, a, b) = fact.ok_or("a factor is no comparison")?;
        let turned = orders & LESS != 0 && orders & GREATER == 0;
        let (orders, a, b) = if turned { (swapped(orders), b, a) } else { (orders, a, b) };
        let value = self.plus(a, b, -1)?;
        let square = orders == LESS | GREATER;
        Ok(if square { (self.times(&value, &value)?, GREATER) } else { (value, orders) })
    }

    /// The polynomial that a term is; what is no sum, difference or product is an unknown of its own.
    fn poly(&mut self, id: Id) -> Checked<Poly> {
        if let Some(known) = self.known.get(&id) {
            return Ok(known.clone());
        }
        let poly = match (self.terms.get(id).view(), self.terms.number(id)) {
            (_, Some(value)) => self.reduced([(Vec::new(), value)])?,
            (("+", [a, b]), _) => self.plus(*a, *b, 1)?,
            (("-", [a, b]), _) => self.plus(*a, *b, -1)?,
            (("*", [a, b]), _) => {
                let (a, b) = (self.poly(*a)?, self.poly(*b)?);
                self.times(&a, &b)?
            }
            _ => self.reduced([(vec![id], Rational::ONE)])?,
        };
        self.known.insert(id, poly.clone());
        Ok(poly)
    }

    /// a + sign * b
    fn plus(&mut self, a: Id, b: Id, sign: i32) -> Checked<Poly> {
        let (a, b) = (self.poly(a)?, self.poly(b)?);
        let b = b.into_iter().map(|(product, c)| (product, c * Rational::from(sign)));
        self.reduced(a.into_iter().chain(b))
    }

    fn times(&mut self, a: &Poly, b: &Poly) -> Checked<Poly> {
        let pairs = a.iter().flat_map(|x| b.iter().map(move |y| (x, y)));
        self.reduced(pairs.map(|((m, c), (n, d))| ([m.as_slice(), n].concat(), c * d)))
    }

    /// Replaces products by the rules, of several the first, until none applies; adds up what is left.
    fn reduced(&mut self, products: impl IntoIterator<Item = (Vec<Id>, Rational)>) -> Checked<Poly> {
        let mut done = Poly::new();
        for product in products {
            let mut waiting = vec![product];
            while let Some((mut product, c)) = waiting.pop() {
                self.left = self.left.checked_sub(1).ok_or("it takes too many products")?;
                require(product.len() <= MOST_TERMS && c.bits() <= MOST_BITS, "a product is too long")?;
                product.sort_unstable();
                match self.rules.iter().find_map(|(left, right)| Some((without(&product, left)?, right))) {
                    None => *done.entry(product).or_insert(Rational::ZERO) += &c,
                    Some((rest, right)) => {
                        waiting.extend(right.iter().map(|(m, d)| ([m.as_slice(), &rest].concat(), &c * d)));
                    }
                }
            }
        }
        done.retain(|_, c| !c.is_zero());
        Ok(done)
    }
}

/// What is left of a product without a part of it.
fn without(product: &[Id], part: &[Id]) -> Option<Vec<Id>> {
    let mut rest = part.iter().all(|term| product.contains(term)).then(|| product.to_vec())?;
    for term in part {
        rest.remove(rest.iter().position(|other| other == term)?);
    }
    Some(rest)
}
