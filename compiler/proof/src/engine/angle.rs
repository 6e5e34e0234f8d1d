//! Sines and cosines of sums of angles, in terms of one unit vector for each summand.
//!
//! The angle's normal form, if it has no denominator, is a sum of rational multiples of monomials. The
//! constant is split into quarter turns (exact) and a rest in 0..=45 after reflection; 30 and 45 degrees have
//! exact values with roots. Each other summand q * m, q > 0, has the atoms sin(q m) and cos(q m). Sums
//! follow by the addition theorems, negative summands by symmetry. An angle with a denominator is one summand.

use borewright_motion::Function;
use borewright_number::Rational;

use super::algebra::{Algebra, AtomKey, Quotient};
use super::normal::Store;
use super::poly::{Atom, Mono, Poly};
use super::term::{Term, TermId};

/// Sine and cosine of an angle in degrees whose term is `id`.
pub(super) fn sine_cosine(store: &mut Store, angle: &Quotient, id: TermId) -> Option<(Quotient, Quotient)> {
    if !angle.den.is_empty() {
        return Some(unit_vector(store, angle, id));
    }
    let mut sum: Option<(Quotient, Quotient)> = None;
    let single = angle.num.0.len() == 1;
    for (mono, c) in &angle.num.0 {
        let part = if mono.0.is_empty() {
            constant_angle(store, c)
        } else {
            let mut summand = Poly::zero();
            summand.add_term(mono.clone(), &c.abs());
            let term = if single && c.signum() > 0 { id } else { summand_term(store, mono, &c.abs()) };
            let (sine, cosine) = unit_vector(store, &Quotient::poly(summand), term);
            (if c.signum() < 0 { Algebra::negate(&sine) } else { sine }, cosine)
        };
        sum = Some(match sum {
            None => part,
            Some(before) => add_angles(&store.algebra, &before, &part)?,
        });
    }
    Some(sum.unwrap_or_else(|| (Quotient::default(), Quotient::constant(Rational::ONE))))
}

/// sin(a + b) = sin a cos b + cos a sin b, cos(a + b) = cos a cos b - sin a sin b
fn add_angles(
    algebra: &Algebra,
    a: &(Quotient, Quotient),
    b: &(Quotient, Quotient),
) -> Option<(Quotient, Quotient)> {
    let sine = algebra.add(&algebra.mul(&a.0, &b.1)?, &algebra.mul(&a.1, &b.0)?)?;
    let cosine = algebra.add(&algebra.mul(&a.1, &b.1)?, &Algebra::negate(&algebra.mul(&a.0, &b.0)?))?;
    Some((sine, cosine))
}

/// The atoms of an angle; the cosine's square is 1 minus the sine's.
fn unit_vector(store: &mut Store, angle: &Quotient, id: TermId) -> (Quotient, Quotient) {
    let sine_term = store.terms.intern(Term::Call(Function::Sin, id));
    let cosine_term = store.terms.intern(Term::Call(Function::Cos, id));
    let sine = store.algebra.atom(AtomKey::Sin(angle.clone()), sine_term, None);
    let mut rest = Poly::one();
    rest.add_term(Mono::of([sine, sine]), &Rational::from(-1));
    let cosine = store.algebra.atom(AtomKey::Cos(angle.clone()), cosine_term, Some(rest));
    (Quotient::poly(Poly::atom(sine)), Quotient::poly(Poly::atom(cosine)))
}

/// A term for `c * mono`.
fn summand_term(store: &mut Store, mono: &Mono, c: &Rational) -> TermId {
    let mut product = None;
    for atom in &mono.0 {
        let Some(next) = store.algebra.term_of(*atom) else { continue };
        product = Some(match product {
            None => next,
            Some(before) => store.terms.intern(Term::Mul(before, next)),
        });
    }
    let scale = store.terms.number(c.clone());
    match product {
        None => scale,
        Some(product) if *c == Rational::ONE => product,
        Some(product) => store.terms.intern(Term::Mul(scale, product)),
    }
}

/// Sine and cosine of a rational number of degrees.
fn constant_angle(store: &mut Store, degrees: &Rational) -> (Quotient, Quotient) {
    let quarter = Rational::from(90);
    let quarters = (degrees / &quarter).floor();
    let rest = degrees - &(&quarters * &quarter);
    let turn = (&quarters / &Rational::from(4)).floor() * Rational::from(4);
    let turn = (&quarters - &turn).to_i64().unwrap_or(0);
    let (sine, cosine) = if rest > Rational::from(45) {
        let (sine, cosine) = small_angle(store, &(&quarter - &rest));
        (cosine, sine)
    } else {
        small_angle(store, &rest)
    };
    match turn {
        0 => (sine, cosine),
        1 => (cosine, Algebra::negate(&sine)),
        2 => (Algebra::negate(&sine), Algebra::negate(&cosine)),
        _ => (Algebra::negate(&cosine), sine),
    }
}

/// Of 0..=45 degrees.
fn small_angle(store: &mut Store, degrees: &Rational) -> (Quotient, Quotient) {
    let half = Rational::ONE / Rational::from(2);
    match degrees.to_i64() {
        Some(0) => (Quotient::default(), Quotient::constant(Rational::ONE)),
        Some(30) => {
            let root = number_root(store, 3);
            (Quotient::constant(half.clone()), Quotient::poly(Poly::atom(root).scaled(&half)))
        }
        Some(45) => {
            let root = Quotient::poly(Poly::atom(number_root(store, 2)).scaled(&half));
            (root.clone(), root)
        }
        _ => {
            let id = store.terms.number(degrees.clone());
            unit_vector(store, &Quotient::constant(degrees.clone()), id)
        }
    }
}

/// The atom sqrt(n).
fn number_root(store: &mut Store, n: i64) -> Atom {
    let value = Rational::from(n);
    let number = store.terms.number(value.clone());
    let term = store.terms.intern(Term::Call(Function::Sqrt, number));
    let poly = Poly::constant(value);
    store.algebra.atom(AtomKey::Root(poly.clone()), term, Some(poly))
}
