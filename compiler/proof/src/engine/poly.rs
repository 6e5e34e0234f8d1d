//! Polynomials with rational coefficients over numbered atoms.

use borewright_number::Rational;
use smallvec::SmallVec;

use super::summands::Summands;

/// Stands for one atom.
pub(super) type Atom = u16;

/// A monomial: its atoms in order, repeated by their exponents.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub(super) struct Mono(pub(super) SmallVec<[Atom; 8]>);

/// By degree, then by the atoms: an order that multiplication keeps, which exact division needs.
impl Ord for Mono {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.len().cmp(&other.0.len()).then_with(|| self.0.cmp(&other.0))
    }
}

impl PartialOrd for Mono {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Mono {
    /// Of atoms in order.
    pub(super) fn of(atoms: impl IntoIterator<Item = Atom>) -> Self {
        Self(atoms.into_iter().collect())
    }

    /// The product.
    pub(super) fn times(&self, other: &Self) -> Self {
        let mut all = SmallVec::with_capacity(self.0.len() + other.0.len());
        let (mut left, mut right) = (self.0.iter().peekable(), other.0.iter().peekable());
        while let (Some(a), Some(b)) = (left.peek(), right.peek()) {
            let next = if a <= b { left.next() } else { right.next() };
            all.extend(next.copied());
        }
        all.extend(left.copied());
        all.extend(right.copied());
        Self(all)
    }

    /// The quotient, where the other divides it.
    pub(super) fn over(&self, other: &Self) -> Option<Self> {
        let mut rest = SmallVec::new();
        let mut take = other.0.iter().peekable();
        for atom in &self.0 {
            if take.peek() == Some(&atom) {
                take.next();
            } else {
                rest.push(*atom);
            }
        }
        take.peek().is_none().then_some(Self(rest))
    }

    /// The monomial whose square it is.
    pub(super) fn root(&self) -> Option<Self> {
        let mut root = SmallVec::new();
        for pair in self.0.chunks(2) {
            match pair {
                [a, b] if a == b => root.push(*a),
                _ => return None,
            }
        }
        Some(Self(root))
    }

    /// The exponent of an atom.
    pub(super) fn exponent(&self, atom: Atom) -> usize {
        self.0.iter().filter(|a| **a == atom).count()
    }

    /// The greatest monomial that divides both.
    pub(super) fn common(&self, other: &Self) -> Self {
        let mut both = SmallVec::new();
        let mut right = other.0.iter().peekable();
        for atom in &self.0 {
            while right.next_if(|b| *b < atom).is_some() {}
            if right.next_if(|b| *b == atom).is_some() {
                both.push(*atom);
            }
        }
        Self(both)
    }
}

/// A polynomial: no coefficient is 0.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub(super) struct Poly(pub(super) Summands);

impl Poly {
    pub(super) fn zero() -> Self {
        Self::default()
    }

    pub(super) fn constant(value: Rational) -> Self {
        let mut poly = Self::default();
        poly.add_term(Mono::default(), &value);
        poly
    }

    pub(super) fn one() -> Self {
        Self::constant(Rational::ONE)
    }

    pub(super) fn atom(atom: Atom) -> Self {
        Self::monomial(Mono::of([atom]))
    }

    pub(super) fn monomial(mono: Mono) -> Self {
        Self(Summands::one(mono, Rational::ONE))
    }

    pub(super) fn is_zero(&self) -> bool {
        self.0.is_empty()
    }

    /// The number it is, where it is one.
    pub(super) fn as_constant(&self) -> Option<Rational> {
        match self.0.len() {
            0 => Some(Rational::ZERO),
            1 => self.0.iter().next().filter(|(m, _)| m.0.is_empty()).map(|(_, c)| c.clone()),
            _ => None,
        }
    }

    pub(super) fn add_term(&mut self, mono: Mono, value: &Rational) {
        if !value.is_zero() {
            self.0.add(mono, value);
        }
    }

    /// Adds `scale * other`.
    pub(super) fn add_scaled(&mut self, other: &Self, scale: &Rational) {
        if !scale.is_zero() {
            self.0 = self.0.plus_scaled(&other.0, scale);
        }
    }

    pub(super) fn plus(&self, other: &Self) -> Self {
        Self(self.0.plus_scaled(&other.0, &Rational::ONE))
    }

    pub(super) fn minus(&self, other: &Self) -> Self {
        Self(self.0.plus_scaled(&other.0, &Rational::from(-1)))
    }

    pub(super) fn scaled(&self, scale: &Rational) -> Self {
        if scale.is_zero() {
            return Self::zero();
        }
        Self(self.0.iter().map(|(m, c)| (m.clone(), c * scale)).collect())
    }

    pub(super) fn negated(&self) -> Self {
        Self(self.0.iter().map(|(m, c)| (m.clone(), -c.clone())).collect())
    }

    /// The product, before any rule for atoms is applied.
    pub(super) fn times(&self, other: &Self) -> Self {
        let summand = |(m, c): (&Mono, &Rational), (n, d): (&Mono, &Rational)| (m.times(n), c * d);
        let all = self.0.iter().flat_map(|a| other.0.iter().map(move |b| summand(a, b)));
        // The order is kept by multiplication with one summand.
        let sorted = self.0.len() <= 1 || other.0.len() <= 1;
        Self(if sorted { all.collect() } else { Summands::adding_up(all.collect()) })
    }

    /// The greatest monomial that divides every term.
    pub(super) fn common_mono(&self) -> Mono {
        let mut terms = self.0.keys();
        let Some(first) = terms.next() else { return Mono::default() };
        terms.fold(first.clone(), |common, mono| common.common(mono))
    }

    /// Each term over a monomial that divides all of them.
    pub(super) fn over_mono(&self, mono: &Mono) -> Self {
        if mono.0.is_empty() {
            return self.clone();
        }
        Self(self.0.iter().filter_map(|(m, c)| Some((m.over(mono)?, c.clone()))).collect())
    }

    /// The positive rational q for which `self / q` has whole coefficients without a common divisor.
    pub(super) fn content(&self) -> Rational {
        let mut content: Option<Rational> = None;
        for c in self.0.values() {
            content = Some(match content {
                None => c.abs(),
                Some(q) => gcd(&q, c),
            });
        }
        content.unwrap_or(Rational::ONE)
    }

    /// The highest number of factors in a term.
    pub(super) fn degree(&self) -> usize {
        self.0.keys().map(|m| m.0.len()).max().unwrap_or(0)
    }

    /// The polynomial whose square it is, up to its sign.
    pub(super) fn square_root(&self) -> Option<Self> {
        let (lead, lead_c) = self.0.iter().next_back()?;
        let root = lead.root()?;
        let twice = lead_c.exact_sqrt()? * Rational::from(2);
        let mut found = Self(Summands::one(root.clone(), lead_c.exact_sqrt()?));
        for _ in 0..12 {
            let rest = self.minus(&found.times(&found));
            let Some((mono, c)) = rest.0.iter().next_back() else { return Some(found) };
            found.add_term(mono.over(&root)?, &(c / &twice));
        }
        None
    }

    /// `self / divisor` where the division leaves no rest.
    pub(super) fn divided(&self, divisor: &Self) -> Option<Self> {
        let (lead, lead_c) = divisor.0.iter().next_back()?;
        let mut rest = self.clone();
        let mut quotient = Self::zero();
        while let Some((mono, c)) = rest.0.iter().next_back() {
            let (mono, c) = (mono.over(lead)?, c / lead_c);
            let step = Self(divisor.0.iter().map(|(m, d)| (m.times(&mono), d * &c)).collect());
            rest = rest.minus(&step);
            quotient.add_term(mono, &c);
            if quotient.0.len() > 400 {
                return None;
            }
        }
        Some(quotient)
    }
}

/// The greatest rational that divides both a whole number of times.
fn gcd(a: &Rational, b: &Rational) -> Rational {
    let (mut a, mut b) = (a.abs(), b.abs());
    while !b.is_zero() {
        let times = (&a / &b).floor();
        let rest = a - &(&times * &b);
        a = std::mem::replace(&mut b, rest);
    }
    a
}
