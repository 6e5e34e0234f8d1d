//! Bounds that intervals alone do not see: of sums that are factors or divisors, and of counters.
//!
//! `bore - tool` has no sign by the ranges of the two, but has by a requirement such as `tool + 0.4mm <= bore`; what is
//! divided by it has a bound then. A counter of a loop has the bound of what it is counted up to.

use std::collections::BTreeMap;

use borewright_motion::Relation;
use borewright_number::{Rational, Rounding};

use super::boxes::{Reach, range};
use super::normal::Sign;
use super::poly::{Atom, Mono, Poly};
use super::prover::Prover;
use super::sums::Level;
use super::term::{Cond, Term, TermId};

/// What linear facts say of atoms by themselves and together.
#[derive(Debug, Default)]
struct Ranges {
    least: BTreeMap<Atom, Rational>,
    greatest: BTreeMap<Atom, Rational>,
    /// Sums of several atoms that are not negative.
    sums: Vec<Poly>,
}

impl Ranges {
    fn learn(&mut self, poly: &Poly) {
        let mut atoms = poly.0.keys().filter(|m| !m.0.is_empty());
        let (Some(mono), None) = (atoms.next(), atoms.next()) else {
            if poly.degree() == 1 {
                self.sums.push(poly.clone());
            }
            return;
        };
        let ([atom], Some(slope)) = (mono.0.as_slice(), poly.0.get(mono)) else { return };
        let constant = poly.0.get(&Mono::default()).cloned().unwrap_or(Rational::ZERO);
        let bound = -constant / slope.clone();
        let (ends, stronger): (_, fn(&Rational, &Rational) -> bool) = if slope.signum() > 0 {
            (&mut self.least, |a, b| a > b)
        } else {
            (&mut self.greatest, |a, b| a < b)
        };
        if ends.get(atom).is_none_or(|known| stronger(&bound, known)) {
            ends.insert(*atom, bound);
        }
    }

    /// The least value of a linear polynomial by the ranges alone.
    fn least_of(&self, poly: &Poly) -> Option<Rational> {
        let mut sum = Rational::ZERO;
        for (mono, c) in &poly.0 {
            match mono.0.as_slice() {
                [] => sum += c,
                [atom] => {
                    sum += &(c * if c.signum() > 0 { self.least.get(atom) } else { self.greatest.get(atom) }?)
                }
                _ => return None,
            }
        }
        Some(sum)
    }

    /// The same, with the help of one of the sums.
    fn least_with_sums(&self, poly: &Poly) -> Option<Rational> {
        let mut best = self.least_of(poly);
        for sum in &self.sums {
            for (mono, c) in poly.0.iter().filter(|(mono, _)| !mono.0.is_empty()) {
                let Some(times) = sum.0.get(mono).map(|s| c / s).filter(|times| times.signum() > 0) else {
                    continue;
                };
                let least = self.least_of(&poly.minus(&sum.scaled(&times)));
                best = best.max(least);
            }
        }
        best
    }
}

impl Prover {
    /// Of each sum that is a factor or a divisor, and of which intervals do not tell the sign: the bound that does.
    pub(super) fn bound_factors(&mut self) {
        let sums = self.factor_sums();
        if sums.is_empty() {
            return;
        }
        let mut branch = self.base.clone();
        let facts = branch.poly_facts(&mut self.store);
        let mut ranges = Ranges::default();
        for fact in facts.iter().flatten() {
            match fact.sign {
                Sign::NotNegative | Sign::Positive => ranges.learn(&fact.poly),
                Sign::Zero => {
                    ranges.learn(&fact.poly);
                    ranges.learn(&fact.poly.negated());
                }
                Sign::NotZero => {}
            }
        }
        for sum in sums {
            let Some(normal) = branch.normal(&mut self.store, sum) else { continue };
            if !normal.den.is_empty() || normal.num.degree() != 1 {
                continue;
            }
            let least = ranges.least_with_sums(&normal.num).filter(|least| least.signum() > 0);
            let greatest = ranges.least_with_sums(&normal.num.negated()).filter(|least| least.signum() > 0);
            let bound = match (least, greatest) {
                (Some(least), _) => (Relation::GreaterEqual, least),
                (None, Some(greatest)) => (Relation::LessEqual, -greatest),
                (None, None) => continue,
            };
            let number = self.store.terms.number(bound.1);
            self.know(&Cond::Compare(bound.0, sum, number));
        }
    }

    /// Sums that are multiplied by something or divide it, where intervals leave their sign open.
    fn factor_sums(&self) -> Vec<TermId> {
        let mut found = Vec::new();
        for index in 0..self.store.terms.len() {
            let id = TermId(u32::try_from(index).unwrap_or(u32::MAX));
            let parts = match self.store.terms.get(id) {
                Term::Mul(a, b) => [Some(*a), Some(*b)],
                Term::Div(_, b) => [Some(*b), None],
                Term::Number(_)
                | Term::Pi
                | Term::Var(_)
                | Term::Add(..)
                | Term::Sub(..)
                | Term::Neg(_)
                | Term::Min(..)
                | Term::Max(..)
                | Term::If(..)
                | Term::Call(..) => continue,
            };
            for part in parts.into_iter().flatten() {
                let sum = self.without_numbers(part);
                let is_sum = matches!(self.store.terms.get(sum), Term::Add(..) | Term::Sub(..));
                if is_sum && !found.contains(&sum) && self.is_open(sum) {
                    found.push(sum);
                }
            }
        }
        found
    }

    /// The term without numbers that multiply or divide it.
    fn without_numbers(&self, term: TermId) -> TermId {
        let terms = &self.store.terms;
        let inner = match terms.get(term) {
            Term::Neg(a) => *a,
            Term::Div(a, b) | Term::Mul(a, b) if terms.as_number(*b).is_some() => *a,
            Term::Mul(a, b) if terms.as_number(*a).is_some() => *b,
            Term::Number(_)
            | Term::Pi
            | Term::Var(_)
            | Term::Add(..)
            | Term::Sub(..)
            | Term::Mul(..)
            | Term::Div(..)
            | Term::Min(..)
            | Term::Max(..)
            | Term::If(..)
            | Term::Call(..) => return term,
        };
        self.without_numbers(inner)
    }

    /// Whether intervals leave the sign of a term open.
    fn is_open(&self, term: TermId) -> bool {
        let range = range(&self.store.terms, term, &self.base.context);
        range.is_some_and(|range| range.lo <= 0.0 && range.hi >= 0.0)
    }

    /// A claim that only compares with numbers, by intervals, once counters have bounds. Bounds that did not help are
    /// forgotten.
    pub(super) fn close_by_counters(&mut self, claim: &Cond) -> Option<crate::certificate::Proof> {
        let mut with_numbers = true;
        claim.comparisons(&mut |_, a, b| {
            with_numbers &= self.store.terms.as_number(a).or(self.store.terms.as_number(b)).is_some();
        });
        if !with_numbers {
            return None;
        }
        let before = (self.base.clone(), self.sources.len(), self.steps.len());
        let found = if self.bound_counters(claim) { self.close_claim(claim, Level::Linear) } else { None };
        if found.is_none() {
            self.base = before.0;
            self.sources.truncate(before.1);
            self.steps.truncate(before.2);
        }
        found
    }

    /// For each whole variable of a claim that has no greatest value, and that a fact holds below something: a number
    /// above that. Whether there is any.
    fn bound_counters(&mut self, claim: &Cond) -> bool {
        let reach = Reach::of(&self.store.terms, std::iter::once(claim));
        let mut found = false;
        for fact in self.base.context.facts.clone() {
            let (counter, limit) = match fact {
                Cond::Compare(Relation::Less | Relation::LessEqual | Relation::Equal, a, b) => (a, b),
                Cond::Compare(Relation::Greater | Relation::GreaterEqual, a, b) => (b, a),
                Cond::Compare(Relation::NotEqual, ..)
                | Cond::True
                | Cond::False
                | Cond::And(_)
                | Cond::Or(_) => {
                    continue;
                }
            };
            let is_counter = matches!(self.store.terms.get(counter), Term::Var(_))
                && self.store.terms.is_whole(counter)
                && reach.has(counter);
            let bounds = self.base.context.bounds.get(&counter);
            if is_counter && bounds.is_none_or(|range| range.hi.is_infinite()) {
                found |= self.bound_by(counter, limit);
            }
        }
        found
    }

    /// A bound of the limit by intervals, and so of what does not exceed it.
    fn bound_by(&mut self, counter: TermId, limit: TermId) -> bool {
        let range = range(&self.store.terms, limit, &self.base.context);
        let Some(greatest) = range.and_then(|range| Rational::from_f64(range.hi)) else { return false };
        let number = self.store.terms.number(greatest.rounded(0, Rounding::Up));
        let [limit, counter] = [limit, counter].map(|term| Cond::Compare(Relation::LessEqual, term, number));
        self.know(&limit) && self.know(&counter)
    }
}
