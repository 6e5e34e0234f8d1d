//! Atoms, their rules, and quotients of polynomials with factored denominators.

use std::collections::BTreeMap;

use borewright_number::Rational;
use rustc_hash::FxHashMap;

use super::poly::{Atom, Mono, Poly};
use super::summands::Summands;
use super::term::TermId;

/// Stands for one factor of a denominator.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct FactorId(u32);

/// What an atom is, after normalisation.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) enum AtomKey {
    /// A variable, pi, or whatever algebra can't look into.
    Term(TermId),
    /// The square root of a polynomial that is not negative.
    Root(Poly),
    /// Sine of the angle.
    Sin(Quotient),
    /// Cosine of the angle.
    Cos(Quotient),
    /// A rounding of a normalised argument: up (true) or down.
    Rounded(bool, Quotient),
}

/// An atom.
#[derive(Debug)]
struct AtomInfo {
    /// A term that has this value.
    term: TermId,
    /// What its square is, where a rule removes squares.
    square: Option<Poly>,
}

/// `num / product of factors^exponents`.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub(super) struct Quotient {
    pub(super) num: Poly,
    pub(super) den: BTreeMap<FactorId, u32>,
}

impl Quotient {
    pub(super) fn poly(num: Poly) -> Self {
        Self { num, den: BTreeMap::new() }
    }

    pub(super) fn constant(value: Rational) -> Self {
        Self::poly(Poly::constant(value))
    }
}

/// All atoms and factors met so far.
#[derive(Debug, Default)]
pub(super) struct Algebra {
    atoms: Vec<AtomInfo>,
    atom_index: FxHashMap<AtomKey, Atom>,
    factors: Vec<Poly>,
    factor_index: FxHashMap<Poly, FactorId>,
}

/// Polynomials with more terms than this are not worked with.
const MOST_TERMS: usize = 1500;

impl Algebra {
    /// The atom of that key; `term` stands for it, `square` is the rule for its square.
    pub(super) fn atom(&mut self, key: AtomKey, term: TermId, square: Option<Poly>) -> Atom {
        if let Some(atom) = self.atom_index.get(&key) {
            return *atom;
        }
        let atom = Atom::try_from(self.atoms.len()).unwrap_or(Atom::MAX);
        self.atoms.push(AtomInfo { term, square });
        self.atom_index.insert(key, atom);
        atom
    }

    /// A term that has the atom's value.
    pub(super) fn term_of(&self, atom: Atom) -> Option<TermId> {
        self.atoms.get(usize::from(atom)).map(|info| info.term)
    }

    /// What replaces the atom's square.
    pub(super) fn square_of(&self, atom: Atom) -> Option<&Poly> {
        self.atoms.get(usize::from(atom))?.square.as_ref()
    }

    pub(super) fn factor(&self, id: FactorId) -> Option<&Poly> {
        self.factors.get(id.0 as usize)
    }

    /// The factor's number, and -1 if its negative was met before it.
    pub(super) fn factor_id(&mut self, factor: &Poly) -> (FactorId, i32) {
        if let Some(id) = self.factor_index.get(factor) {
            return (*id, 1);
        }
        if let Some(id) = self.factor_index.get(&factor.negated()) {
            return (*id, -1);
        }
        let id = FactorId(u32::try_from(self.factors.len()).unwrap_or(u32::MAX));
        self.factors.push(factor.clone());
        self.factor_index.insert(factor.clone(), id);
        (id, 1)
    }

    /// The factor's number if it or its negative was met, with the sign.
    pub(super) fn known_factor(&self, factor: &Poly) -> Option<(FactorId, i32)> {
        if let Some(id) = self.factor_index.get(factor) {
            return Some((*id, 1));
        }
        self.factor_index.get(&factor.negated()).map(|id| (*id, -1))
    }

    /// The product, with the rules for squares applied; `None` when it grows too long.
    pub(super) fn times(&self, a: &Poly, b: &Poly) -> Option<Poly> {
        if a.0.len() * b.0.len() > 20 * MOST_TERMS {
            return None;
        }
        let product = self.reduced(a.times(b))?;
        (product.0.len() <= MOST_TERMS).then_some(product)
    }

    /// Applies the rules for squares until none applies.
    fn reduced(&self, poly: Poly) -> Option<Poly> {
        if poly.0.keys().all(|mono| self.reducible(mono).is_none()) {
            return Some(poly);
        }
        let mut done = Vec::new();
        let mut waiting: Vec<(Mono, Rational)> = poly.0.into_iter().collect();
        let mut work = 0_usize;
        while let Some((mono, c)) = waiting.pop() {
            work += 1;
            if work > 20 * MOST_TERMS {
                return None;
            }
            match self.reducible(&mono) {
                None => done.push((mono, c)),
                Some((rest, square)) => {
                    waiting.extend(square.0.iter().map(|(m, d)| (m.times(&rest), d * &c)));
                }
            }
        }
        Some(Poly(Summands::adding_up(done)))
    }

    /// The monomial without the first atom's square that has a rule, and that square.
    fn reducible(&self, mono: &Mono) -> Option<(Mono, &Poly)> {
        let mut atoms = mono.0.iter();
        let mut last = *atoms.next()?;
        for atom in atoms {
            if *atom == last
                && let Some(square) = self.square_of(last)
            {
                return Some((mono.over(&Mono::of([last, last]))?, square));
            }
            last = *atom;
        }
        None
    }

    pub(super) fn power(&self, base: &Poly, exponent: u32) -> Option<Poly> {
        let mut power = Poly::one();
        for _ in 0..exponent {
            power = self.times(&power, base)?;
        }
        Some(power)
    }

    /// Sum of two quotients, over the least common multiple of the factored denominators.
    pub(super) fn add(&self, a: &Quotient, b: &Quotient) -> Option<Quotient> {
        if a.den == b.den {
            return Some(self.cancelled(Quotient { num: a.num.plus(&b.num), den: a.den.clone() }));
        }
        let mut den = a.den.clone();
        for (id, k) in &b.den {
            let entry = den.entry(*id).or_insert(0);
            *entry = (*entry).max(*k);
        }
        let num = self.raised(a, &den)?.plus(&self.raised(b, &den)?);
        Some(self.cancelled(Quotient { num, den }))
    }

    /// The numerator over a common denominator.
    fn raised(&self, a: &Quotient, den: &BTreeMap<FactorId, u32>) -> Option<Poly> {
        let mut num = a.num.clone();
        for (id, k) in den {
            let missing = k - a.den.get(id).copied().unwrap_or(0);
            let factor = self.factor(*id)?;
            for _ in 0..missing {
                num = self.times(&num, factor)?;
            }
        }
        Some(num)
    }

    pub(super) fn mul(&self, a: &Quotient, b: &Quotient) -> Option<Quotient> {
        let mut den = a.den.clone();
        for (id, k) in &b.den {
            *den.entry(*id).or_insert(0) += k;
        }
        Some(self.cancelled(Quotient { num: self.times(&a.num, &b.num)?, den }))
    }

    pub(super) fn negate(a: &Quotient) -> Quotient {
        Quotient { num: a.num.negated(), den: a.den.clone() }
    }

    /// `1 / b`, its numerator split into content, common atoms and the primitive rest; `None` for 0.
    pub(super) fn inverse(&mut self, b: &Quotient) -> Option<Quotient> {
        if b.num.is_zero() {
            return None;
        }
        let content = b.num.content();
        let common = b.num.common_mono();
        let rest = b.num.over_mono(&common).scaled(&content.recip()?);
        let mut num = Poly::constant(content.recip()?);
        for (id, k) in &b.den {
            num = self.times(&num, &self.power(self.factor(*id)?, *k)?)?;
        }
        let mut den = BTreeMap::new();
        for atom in &common.0 {
            let (id, _) = self.factor_id(&Poly::atom(*atom));
            *den.entry(id).or_insert(0) += 1;
        }
        match rest.as_constant() {
            Some(one) => num = num.scaled(&one.recip()?),
            None => {
                let (id, sign) = self.factor_id(&rest);
                *den.entry(id).or_insert(0) += 1;
                num = num.scaled(&Rational::from(sign));
            }
        }
        Some(self.cancelled(Quotient { num, den }))
    }

    /// Cancels atoms that all terms of the numerator share with the denominator.
    fn cancelled(&self, mut q: Quotient) -> Quotient {
        if q.num.is_zero() {
            q.den.clear();
            return q;
        }
        if q.den.is_empty() {
            return q;
        }
        let common = q.num.common_mono();
        if common.0.is_empty() {
            return q;
        }
        let mut taken = Vec::new();
        for atom in &common.0 {
            let Some((id, _)) = self.known_factor(&Poly::atom(*atom)) else { continue };
            if let Some(k) = q.den.get_mut(&id)
                && *k > 0
            {
                *k -= 1;
                taken.push(*atom);
            }
        }
        q.den.retain(|_, k| *k > 0);
        q.num = q.num.over_mono(&Mono::of(taken));
        q
    }
}
