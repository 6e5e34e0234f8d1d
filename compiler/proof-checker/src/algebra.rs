//! Polynomials over atoms, and fractions of them with factored denominators.

use std::collections::BTreeMap;
use std::rc::Rc;

use borewright_number::Rational;

use crate::terms::Id;

/// What algebra does not look into, but for the squares of roots and cosines.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Atom {
    Term(Id),
    Root(Poly),
    Call(&'static str, Fraction),
}

/// From products of atoms, sorted, to coefficients that are not 0.
pub(crate) type Poly = BTreeMap<Vec<Rc<Atom>>, Rational>;

/// A polynomial over a product of factors, which are sorted.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(crate) struct Fraction {
    pub(crate) num: Poly,
    pub(crate) den: Vec<Poly>,
}

pub(crate) fn atom(atom: Atom) -> Poly {
    Poly::from([(vec![Rc::new(atom)], Rational::ONE)])
}

pub(crate) fn constant(value: impl Into<Rational>) -> Poly {
    scaled(&Poly::from([(Vec::new(), Rational::ONE)]), &value.into())
}

pub(crate) fn as_constant(poly: &Poly) -> Option<Rational> {
    let single = (poly.len() == 1).then(|| poly.get(&Vec::new()).cloned());
    if poly.is_empty() { Some(Rational::ZERO) } else { single.flatten() }
}

/// a + scale * b
pub(crate) fn plus(a: &Poly, b: &Poly, scale: &Rational) -> Poly {
    let mut sum = a.clone();
    for (mono, c) in b {
        *sum.entry(mono.clone()).or_insert(Rational::ZERO) += &(c * scale);
    }
    sum.retain(|_, c| !c.is_zero());
    sum
}

pub(crate) fn scaled(a: &Poly, scale: &Rational) -> Poly {
    plus(&Poly::new(), a, scale)
}

/// The list without one of each of some others.
pub(crate) fn without<T: PartialEq + Clone>(list: &[T], others: &[T]) -> Vec<T> {
    let mut rest = list.to_vec();
    for other in others {
        if let Some(at) = rest.iter().position(|one| one == other) {
            rest.remove(at);
        }
    }
    rest
}

fn joined<T: Ord + Clone>(a: &[T], b: &[T]) -> Vec<T> {
    let mut all = [a, b].concat();
    all.sort_unstable();
    all
}

/// Every term divided by atoms that it has.
fn over(poly: &Poly, atoms: &[Rc<Atom>]) -> Poly {
    poly.iter().map(|(mono, c)| (without(mono, atoms), c.clone())).collect()
}

/// What replaces the square of an atom.
fn square(of: &Atom) -> Option<Poly> {
    match of {
        Atom::Root(of) => Some(of.clone()),
        Atom::Call("cos", angle) => {
            let sine = atom(Atom::Call("sin", angle.clone()));
            Some(plus(&constant(1), &times(&sine, &sine), &Rational::from(-1)))
        }
        Atom::Term(_) | Atom::Call(..) => None,
    }
}

pub(crate) fn times(a: &Poly, b: &Poly) -> Poly {
    let mut result = Poly::new();
    let products = a.iter().flat_map(|(m, c)| b.iter().map(move |(n, d)| (joined(m, n), c * d)));
    let mut waiting: Vec<_> = products.collect();
    while let Some((mono, c)) = waiting.pop() {
        let mut twice =
            mono.windows(2).filter(|pair| pair.first() == pair.last()).filter_map(|pair| pair.first());
        match twice.find_map(|atom| Some((atom.clone(), square(atom)?))) {
            None => *result.entry(mono).or_insert(Rational::ZERO) += &c,
            Some((atom, square)) => {
                let rest = without(&mono, &[atom.clone(), atom]);
                waiting.extend(square.iter().map(|(m, d)| (joined(m, &rest), &c * d)));
            }
        }
    }
    result.retain(|_, c| !c.is_zero());
    result
}

/// Rational scale times factors: atoms that all terms share, and the primitive rest with a positive first coefficient.
pub(crate) fn factors(poly: &Poly) -> Option<(Rational, Vec<Poly>)> {
    let (mut common, first) = poly.first_key_value().map(|(mono, c)| (mono.clone(), c.clone()))?;
    let mut content = first.abs();
    for (mono, c) in poly {
        common = without(&common, &without(&common, mono));
        let mut rest = c.abs();
        while !rest.is_zero() {
            let whole = (&content / &rest).floor();
            (content, rest) = (rest.clone(), content - whole * rest);
        }
    }
    let scale = if first.signum() < 0 { -content } else { content };
    let rest = scaled(&over(poly, &common), &scale.recip()?);
    let atoms = common.into_iter().map(|atom| Poly::from([(vec![atom], Rational::ONE)]));
    Some((scale, atoms.chain(as_constant(&rest).is_none().then_some(rest)).collect()))
}

impl From<Poly> for Fraction {
    fn from(num: Poly) -> Self {
        Self { num, den: Vec::new() }
    }
}

impl Fraction {
    fn new(num: Poly, mut den: Vec<Poly>) -> Self {
        den.sort_unstable();
        let shared = |num: &Poly, factor: &Poly| {
            let atom = factor.keys().next().filter(|_| factor.len() == 1)?.first()?.clone();
            num.keys().all(|mono| mono.contains(&atom)).then_some(atom)
        };
        let mut fraction = Self { num, den };
        while let Some((at, atom)) =
            fraction.den.iter().enumerate().find_map(|(at, f)| Some((at, shared(&fraction.num, f)?)))
        {
            fraction.den.remove(at);
            fraction.num = over(&fraction.num, &[atom]);
        }
        if fraction.num.is_empty() { Self::default() } else { fraction }
    }

    pub(crate) fn scaled(&self, scale: i32) -> Self {
        Self { num: scaled(&self.num, &Rational::from(scale)), den: self.den.clone() }
    }

    pub(crate) fn plus(&self, other: &Self) -> Self {
        let den = joined(&self.den, &without(&other.den, &self.den));
        let [a, b] = [self, other].map(|part| {
            without(&den, &part.den).iter().fold(part.num.clone(), |num, factor| times(&num, factor))
        });
        Self::new(plus(&a, &b, &Rational::ONE), den)
    }

    pub(crate) fn times(&self, other: &Self) -> Self {
        Self::new(times(&self.num, &other.num), [self.den.as_slice(), &other.den].concat())
    }

    /// `None` for 0.
    pub(crate) fn inverse(&self) -> Option<Self> {
        let (scale, den) = factors(&self.num)?;
        let num = self.den.iter().fold(constant(Rational::ONE / scale), |num, factor| times(&num, factor));
        Some(Self::new(num, den))
    }
}
