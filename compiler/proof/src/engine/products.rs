//! Which products of facts may take part in a sum.

use std::collections::{BTreeMap, BTreeSet};

use super::linear::Column;
use super::normal::{PolyFact, Sign, Store};
use super::poly::{Atom, Poly};

/// A factor of a product: a fact's number, or a square.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Part {
    Fact(usize),
    Square(Poly),
}

/// A column with what it is made of.
#[derive(Debug, Clone)]
pub(super) struct Product {
    pub(super) column: Column,
    pub(super) parts: Vec<Part>,
}

impl Product {
    /// The trivial fact 1 > 0.
    pub(super) fn one() -> Self {
        Self { column: Column { poly: Poly::one(), sign: Sign::Positive }, parts: Vec::new() }
    }

    pub(super) fn fact(number: usize, fact: &PolyFact) -> Self {
        let column = Column { poly: fact.poly.clone(), sign: fact.sign };
        Self { column, parts: vec![Part::Fact(number)] }
    }

    pub(super) fn square(store: &Store, poly: &Poly) -> Option<Self> {
        let square = store.algebra.times(poly, poly)?;
        let column = Column { poly: square, sign: Sign::NotNegative };
        Some(Self { column, parts: vec![Part::Square(poly.clone())] })
    }

    /// Whether the claim's facts, numbered from `from` on, take part.
    pub(super) fn is_of_claim(&self, from: usize) -> bool {
        self.parts.iter().any(|part| matches!(part, Part::Fact(number) if *number >= from))
    }

    pub(super) fn times(&self, store: &Store, other: &Self) -> Option<Self> {
        let sign = match (self.column.sign, other.column.sign) {
            (Sign::Zero, _) | (_, Sign::Zero) => Sign::Zero,
            (Sign::Positive, Sign::Positive) => Sign::Positive,
            (Sign::NotNegative | Sign::Positive, Sign::NotNegative | Sign::Positive) => Sign::NotNegative,
            (Sign::NotZero, _) | (_, Sign::NotZero) => return None,
        };
        let poly = store.algebra.times(&self.column.poly, &other.column.poly)?;
        let parts = self.parts.iter().chain(&other.parts).cloned().collect();
        Some(Self { column: Column { poly, sign }, parts })
    }
}

/// How high each atom's exponent and the degree may be for a product to be worth a try.
#[derive(Debug, Clone, Default)]
pub(super) struct Caps {
    exponents: BTreeMap<Atom, usize>,
    degree: usize,
}

impl Caps {
    /// The highest met in the polynomials, `extra` more where wanted.
    pub(super) fn of<'a>(polys: impl Iterator<Item = &'a Poly>, extra: usize) -> Self {
        let mut caps = Self::default();
        for poly in polys {
            for mono in poly.0.keys() {
                caps.degree = caps.degree.max(mono.0.len());
                let atoms: BTreeSet<Atom> = mono.0.iter().copied().collect();
                for atom in atoms {
                    let entry = caps.exponents.entry(atom).or_insert(0);
                    *entry = (*entry).max(mono.exponent(atom));
                }
            }
        }
        caps.degree += extra;
        caps.exponents.values_mut().for_each(|k| *k += extra);
        caps
    }

    pub(super) fn allow(&self, poly: &Poly) -> bool {
        poly.0.keys().all(|mono| {
            mono.0.len() <= self.degree
                && mono.0.iter().all(|a| self.exponents.get(a).is_some_and(|k| mono.exponent(*a) <= *k))
        })
    }
}
