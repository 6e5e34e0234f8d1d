//! Polynomials over terms, in which equations replace products of terms; and sums of them that cannot be 0.

use std::collections::{BTreeMap, HashMap};

use borewright_number::Rational;
use serde_json::Value;

use crate::Checked;
use crate::check::numbered;
use crate::terms::{EQUAL, GREATER, Id, LESS, Terms, split, swapped};

/// From products of terms, sorted, to their coefficients, none of which is 0.
type Poly = BTreeMap<Vec<Id>, Rational>;

/// What one sum may cost: of each product that is worked out, its factors, once for each rule that is tried on it, and
/// the bits of its coefficient.
const MOST_WORK: usize = 10_000_000;

/// Works out polynomials.
#[derive(Debug)]
pub(crate) struct Sums<'a> {
    terms: &'a Terms,
    facts: &'a [Id],
    /// What stands in place of a product of terms.
    rules: Vec<(Vec<Id>, Poly)>,
    known: HashMap<Id, Poly>,
    work_left: usize,
}

impl<'a> Sums<'a> {
    pub(crate) fn new(terms: &'a Terms, facts: &'a [Id]) -> Self {
        Self { terms, facts, rules: Vec::new(), known: HashMap::new(), work_left: MOST_WORK }
    }

    /// Whether a sum is 0 by the equations although by the orders of its summands it is not.
    pub(crate) fn combine(&mut self, equations: &Value, summands: &[Value]) -> Checked<bool> {
        let (mut sum, mut orders) = (Vec::new(), EQUAL);
        for summand in summands {
            let (value, own) = self.summand(summand)?;
            sum.extend(value);
            orders = of_sum(orders, own);
        }
        self.replace_by(equations)?;
        Ok(self.reduced(sum)?.is_empty() && orders & EQUAL == 0)
    }

    /// A scale times differences of facts, and the orders with 0 that this may have.
    fn summand(&mut self, summand: &Value) -> Checked<(Poly, u8)> {
        let (scale, factors) = split(summand)?;
        let scale = Rational::from_fraction(scale).ok_or("a scale is no number")?;
        let mut orders = LESS << (scale.signum() + 1);
        let mut product = Poly::from([(Vec::new(), scale)]);
        for factor in factors {
            let fact = self.terms.comparison(numbered(self.facts, factor)?);
            let (own, a, b) = fact.ok_or("a factor is no comparison")?;
            let difference = self.plus(a, b, -1)?;
            product = self.times(&product, &difference)?;
            orders = of_product(orders, own);
        }
        Ok((product, orders))
    }

    /// Takes facts `product = polynomial` as rules.
    fn replace_by(&mut self, equations: &Value) -> Checked<()> {
        let mut rules = Vec::new();
        for equation in equations.as_array().ok_or("the list of equations is missing")? {
            let equation = self.terms.comparison(numbered(self.facts, equation)?);
            let Some((EQUAL, a, b)) = equation else { return Err("a rule is no equation".into()) };
            let left = self.poly(a)?;
            let only = left.first_key_value().filter(|_| left.len() == 1);
            let product = only.filter(|(product, c)| !product.is_empty() && **c == Rational::ONE);
            rules.push((product.ok_or("a rule replaces no product")?.0.clone(), self.poly(b)?));
        }
        self.rules = rules;
        Ok(())
    }

    /// The polynomial that a term is; what is no sum, difference or product is an unknown of its own.
    fn poly(&mut self, id: Id) -> Checked<Poly> {
        if let Some(known) = self.known.get(&id) {
            return Ok(known.clone());
        }
        let poly = match (self.terms.get(id), self.terms.number(id)) {
            (_, Some(value)) => self.reduced([(Vec::new(), value)])?,
            (("+", [a, b]), _) => self.plus(*a, *b, 1)?,
            (("-", [a, b]), _) => self.plus(*a, *b, -1)?,
            (("*", [a, b]), _) => {
                let (a, b) = (self.poly(*a)?, self.poly(*b)?);
                self.times(&a, &b)?
            }
            _ => Poly::from([(vec![id], Rational::ONE)]),
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
                let work = (1 + product.len()) * (1 + self.rules.len()) + c.bits();
                self.work_left = self.work_left.checked_sub(work).ok_or("a sum takes too much work")?;
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

/// The orders with 0 that a sum of two can have.
fn of_sum(a: u8, b: u8) -> u8 {
    match (a, b) {
        (EQUAL, other) | (other, EQUAL) => other,
        _ if (a | b) & LESS != 0 && (a | b) & GREATER != 0 => LESS | EQUAL | GREATER,
        _ => (a | b) & !EQUAL | (a & b),
    }
}

/// The orders with 0 that a product of two can have.
fn of_product(a: u8, b: u8) -> u8 {
    let some = |orders: u8, order: u8| if orders & !EQUAL != 0 { order } else { 0 };
    (a | b) & EQUAL | some(a & b, GREATER) | some(a & swapped(b), LESS)
}
