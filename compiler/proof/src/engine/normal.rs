//! Terms to quotients of polynomials, comparisons to polynomial facts.

use std::collections::BTreeMap;
use std::rc::Rc;

use borewright_motion::{Function, Relation};
use borewright_number::Rational;
use rustc_hash::FxHashMap;

use super::algebra::{Algebra, AtomKey, FactorId, Quotient};
use super::angle;
use super::context::Context;
use super::poly::Poly;
use super::term::{Cond, Term, TermId, Terms};

/// How a polynomial compares with 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Sign {
    /// `P >= 0`
    NotNegative,
    /// `P > 0`
    Positive,
    /// `P == 0`
    Zero,
    /// `P != 0`
    NotZero,
}

/// A comparison as a polynomial fact.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PolyFact {
    pub(super) poly: Poly,
    pub(super) sign: Sign,
}

/// Terms and atoms of one formula.
#[derive(Debug, Default)]
pub(super) struct Store {
    pub(super) terms: Terms,
    pub(super) algebra: Algebra,
}

/// One branch of the proof: its facts, and what was normalised under them.
#[derive(Debug, Default, Clone)]
pub(super) struct Branch {
    pub(super) context: Context,
    memo: FxHashMap<TermId, Option<Rc<Quotient>>>,
    signs: Option<BTreeMap<FactorId, i32>>,
    /// The polynomial facts of the first facts, by number.
    polys: Vec<Option<Rc<PolyFact>>>,
}

impl Branch {
    /// Adds a condition as facts.
    pub(super) fn assume(&mut self, store: &Store, condition: &Cond) {
        self.context.assume(&store.terms, condition);
        let mut matters = false;
        condition.comparisons(&mut |_, a, b| {
            matters |= store.terms.is_watched(a, b) || self.context.fixes(&store.terms, a, b);
        });
        if matters {
            self.memo.clear();
            self.polys.clear();
            self.signs = None;
        }
    }

    /// All comparison facts as polynomials, by number.
    pub(super) fn poly_facts(&mut self, store: &mut Store) -> Vec<Option<Rc<PolyFact>>> {
        for number in self.polys.len()..self.context.facts.len() {
            let poly = match self.context.facts.get(number) {
                Some(Cond::Compare(relation, a, b)) => {
                    let (relation, a, b) = (*relation, *a, *b);
                    self.poly_fact(store, relation, a, b).map(Rc::new)
                }
                Some(Cond::True | Cond::False | Cond::And(_) | Cond::Or(_)) | None => None,
            };
            self.polys.push(poly);
        }
        self.polys.clone()
    }

    /// The polynomial fact a comparison is; `None` if it grows too long.
    pub(super) fn poly_fact(
        &mut self,
        store: &mut Store,
        relation: Relation,
        a: TermId,
        b: TermId,
    ) -> Option<PolyFact> {
        let (a, b) = match relation {
            Relation::Less | Relation::LessEqual => (b, a),
            Relation::Equal | Relation::NotEqual | Relation::Greater | Relation::GreaterEqual => (a, b),
        };
        let (left, right) = (self.normal(store, a)?, self.normal(store, b)?);
        let difference = store.algebra.add(&left, &Algebra::negate(&right))?;
        let sign = match relation {
            Relation::Less | Relation::Greater => Sign::Positive,
            Relation::LessEqual | Relation::GreaterEqual => Sign::NotNegative,
            Relation::Equal => Sign::Zero,
            Relation::NotEqual => Sign::NotZero,
        };
        let mut poly = difference.num;
        if matches!(sign, Sign::Positive | Sign::NotNegative) {
            for (factor, k) in difference.den {
                if k % 2 == 0 {
                    continue;
                }
                match self.sign_of(store, factor) {
                    Some(s) if s < 0 => poly = poly.negated(),
                    Some(_) => {}
                    None => poly = store.algebra.times(&poly, store.algebra.factor(factor)?)?,
                }
            }
        }
        Some(PolyFact { poly, sign })
    }

    /// The sign of a factor of a denominator, where the facts tell it.
    pub(super) fn sign_of(&mut self, store: &mut Store, factor: FactorId) -> Option<i32> {
        if self.signs.is_none() {
            let signs = self.collect_signs(store);
            self.signs = Some(signs);
        }
        self.signs.as_ref()?.get(&factor).copied()
    }

    /// From each term that is surely positive or negative: the sign of the one factor of its numerator and
    /// denominator that has none yet.
    fn collect_signs(&mut self, store: &mut Store) -> BTreeMap<FactorId, i32> {
        let mut signs = BTreeMap::new();
        let Some(zero) = store.terms.find(&Term::Number(Rational::ZERO)) else { return signs };
        if let Some(pi) = store.terms.find(&Term::Pi) {
            let atom = store.algebra.atom(AtomKey::Term(pi), pi, None);
            signs.insert(store.algebra.factor_id(&Poly::atom(atom)).0, 1);
        }
        let mut seen = Vec::new();
        for fact in self.context.facts.clone() {
            let Cond::Compare(_, a, b) = fact else { continue };
            let (term, other) = if a == zero { (b, a) } else { (a, b) };
            let Some(sign) = self.context.orders(term, other).sign() else { continue };
            if other == zero && !seen.contains(&term) {
                seen.push(term);
                self.infer_sign(store, term, sign, &mut signs);
            }
        }
        signs
    }

    fn infer_sign(
        &mut self,
        store: &mut Store,
        term: TermId,
        mut sign: i32,
        signs: &mut BTreeMap<FactorId, i32>,
    ) -> Option<()> {
        let normal = self.normal(store, term)?;
        let mut parts: Vec<(FactorId, u32)> = normal.den.iter().map(|(f, k)| (*f, *k)).collect();
        let inverse = store.algebra.inverse(&Quotient::poly(normal.num.clone()))?;
        if inverse.num.as_constant()?.signum() < 0 {
            sign = -sign;
        }
        parts.extend(inverse.den.iter().map(|(f, k)| (*f, *k)));
        let mut unknown = None;
        for (factor, k) in parts {
            if k % 2 == 0 {
                continue;
            }
            match signs.get(&factor) {
                Some(s) => sign *= s,
                None if unknown.is_none() => unknown = Some(factor),
                None => return None,
            }
        }
        signs.insert(unknown?, sign);
        Some(())
    }

    /// The normal form of a term under the facts of the branch; `None` if it grows too long.
    pub(super) fn normal(&mut self, store: &mut Store, id: TermId) -> Option<Rc<Quotient>> {
        if let Some(known) = self.memo.get(&id) {
            return known.clone();
        }
        let normal = self.normalise(store, id).map(Rc::new);
        self.memo.insert(id, normal.clone());
        normal
    }

    fn normalise(&mut self, store: &mut Store, id: TermId) -> Option<Quotient> {
        match store.terms.get(id).clone() {
            Term::Number(value) => Some(Quotient::constant(value)),
            Term::Var(_) => match self.context.fixed(&store.terms, id) {
                Some(value) => Some(Quotient::constant(value)),
                None => Some(opaque(store, id)),
            },
            Term::Pi => Some(opaque(store, id)),
            Term::Add(a, b) => {
                let (a, b) = (self.normal(store, a)?, self.normal(store, b)?);
                store.algebra.add(&a, &b)
            }
            Term::Sub(a, b) => {
                let (a, b) = (self.normal(store, a)?, self.normal(store, b)?);
                store.algebra.add(&a, &Algebra::negate(&b))
            }
            Term::Mul(a, b) => {
                let (a, b) = (self.normal(store, a)?, self.normal(store, b)?);
                store.algebra.mul(&a, &b)
            }
            Term::Neg(a) => Some(Algebra::negate(&*self.normal(store, a)?)),
            Term::Div(a, b) => self.divide(store, id, a, b),
            Term::Min(a, b) => match self.context.orders(a, b).decides(Relation::LessEqual) {
                Some(less) => Some((*self.normal(store, if less { a } else { b })?).clone()),
                None => Some(opaque(store, id)),
            },
            Term::Max(a, b) => match self.context.orders(a, b).decides(Relation::LessEqual) {
                Some(less) => Some((*self.normal(store, if less { b } else { a })?).clone()),
                None => Some(opaque(store, id)),
            },
            Term::If(c, a, b) => match self.context.decides(&c) {
                Some(holds) => Some((*self.normal(store, if holds { a } else { b })?).clone()),
                None => Some(opaque(store, id)),
            },
            Term::Call(function, a) => self.call(store, id, function, a),
        }
    }

    /// Whether the facts settle how the term compares with 0.
    pub(super) fn against_zero(&self, store: &mut Store, id: TermId, relation: Relation) -> Option<bool> {
        if let Some(value) = store.terms.as_number(id) {
            return Some(relation.holds(value.cmp(&Rational::ZERO)));
        }
        if matches!(store.terms.get(id), Term::Pi) {
            return Some(relation.holds(std::cmp::Ordering::Greater));
        }
        let zero = store.terms.number(Rational::ZERO);
        self.context.orders(id, zero).decides(relation)
    }

    fn divide(&mut self, store: &mut Store, id: TermId, a: TermId, b: TermId) -> Option<Quotient> {
        if self.against_zero(store, b, Relation::NotEqual) != Some(true) {
            return Some(opaque(store, id));
        }
        let (a, b) = (self.normal(store, a)?, self.normal(store, b)?);
        match store.algebra.inverse(&b) {
            Some(inverse) => store.algebra.mul(&a, &inverse),
            // The divisor is identically 0 although the facts say it is not: they are contradictory.
            None => Some(opaque(store, id)),
        }
    }

    fn call(&mut self, store: &mut Store, id: TermId, function: Function, a: TermId) -> Option<Quotient> {
        match function {
            Function::Sqrt => self.root(store, id, a),
            Function::Abs => match self.against_zero(store, a, Relation::GreaterEqual) {
                Some(true) => Some((*self.normal(store, a)?).clone()),
                Some(false) => Some(Algebra::negate(&*self.normal(store, a)?)),
                None => Some(opaque(store, id)),
            },
            Function::Sin => {
                let angle = self.normal(store, a)?;
                Some(angle::sine_cosine(store, &angle, a)?.0)
            }
            Function::Cos => {
                let angle = self.normal(store, a)?;
                Some(angle::sine_cosine(store, &angle, a)?.1)
            }
            Function::Tan => {
                let cosine = store.terms.intern(Term::Call(Function::Cos, a));
                if self.against_zero(store, cosine, Relation::NotEqual) != Some(true) {
                    return Some(opaque(store, id));
                }
                let angle = self.normal(store, a)?;
                let (sine, cosine) = angle::sine_cosine(store, &angle, a)?;
                match store.algebra.inverse(&cosine) {
                    Some(inverse) => store.algebra.mul(&sine, &inverse),
                    None => Some(opaque(store, id)),
                }
            }
            Function::Ceil | Function::Floor => {
                let up = function == Function::Ceil;
                let argument = self.normal(store, a)?;
                if let Some(value) = argument.num.as_constant().filter(|_| argument.den.is_empty()) {
                    return Some(Quotient::constant(if up { value.ceil() } else { value.floor() }));
                }
                let key = AtomKey::Rounded(up, (*argument).clone());
                Some(Quotient::poly(Poly::atom(store.algebra.atom(key, id, None))))
            }
            Function::Atan | Function::Acos => Some(opaque(store, id)),
        }
    }

    fn root(&mut self, store: &mut Store, id: TermId, a: TermId) -> Option<Quotient> {
        let argument = self.normal(store, a)?;
        if self.against_zero(store, a, Relation::GreaterEqual) != Some(true) || !argument.den.is_empty() {
            return Some(opaque(store, id));
        }
        if let Some(value) = argument.num.as_constant().and_then(|v| v.exact_sqrt()) {
            return Some(Quotient::constant(value));
        }
        let key = AtomKey::Root(argument.num.clone());
        let atom = store.algebra.atom(key, id, Some(argument.num.clone()));
        Some(Quotient::poly(Poly::atom(atom)))
    }
}

/// The term as an atom of its own.
fn opaque(store: &mut Store, id: TermId) -> Quotient {
    Quotient::poly(Poly::atom(store.algebra.atom(AtomKey::Term(id), id, None)))
}
