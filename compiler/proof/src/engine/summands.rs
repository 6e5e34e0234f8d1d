//! The summands of a polynomial: monomials in order, each with its coefficient, in one piece of memory.

use std::cmp::Ordering;

use borewright_number::Rational;

use super::poly::Mono;

/// Monomials in rising order, each once, with coefficients other than 0.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub(super) struct Summands(Vec<(Mono, Rational)>);

/// The summands one by one.
type Iter<'s> = std::iter::Map<
    std::slice::Iter<'s, (Mono, Rational)>,
    fn(&'s (Mono, Rational)) -> (&'s Mono, &'s Rational),
>;

impl Summands {
    /// Of one monomial.
    pub(super) fn one(mono: Mono, coefficient: Rational) -> Self {
        Self(vec![(mono, coefficient)])
    }

    /// Sorts, and adds up what has the same monomial.
    pub(super) fn adding_up(mut all: Vec<(Mono, Rational)>) -> Self {
        all.sort_unstable_by(|a, b| a.0.cmp(&b.0));
        let mut sum: Vec<(Mono, Rational)> = Vec::with_capacity(all.len());
        for (mono, c) in all {
            match sum.last_mut() {
                Some((last, total)) if *last == mono => *total += &c,
                Some(_) | None => sum.push((mono, c)),
            }
        }
        sum.retain(|(_, c)| !c.is_zero());
        Self(sum)
    }

    pub(super) fn len(&self) -> usize {
        self.0.len()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(super) fn iter(&self) -> Iter<'_> {
        self.0.iter().map(|(mono, c)| (mono, c))
    }

    pub(super) fn keys(&self) -> impl DoubleEndedIterator<Item = &Mono> + Clone {
        self.0.iter().map(|(mono, _)| mono)
    }

    pub(super) fn values(&self) -> impl DoubleEndedIterator<Item = &Rational> {
        self.0.iter().map(|(_, c)| c)
    }

    pub(super) fn get(&self, mono: &Mono) -> Option<&Rational> {
        let at = self.0.binary_search_by(|(m, _)| m.cmp(mono)).ok()?;
        self.0.get(at).map(|(_, c)| c)
    }

    pub(super) fn remove(&mut self, mono: &Mono) {
        if let Ok(at) = self.0.binary_search_by(|(m, _)| m.cmp(mono)) {
            self.0.remove(at);
        }
    }

    /// Adds to one coefficient.
    pub(super) fn add(&mut self, mono: Mono, value: &Rational) {
        match self.0.binary_search_by(|(m, _)| m.cmp(&mono)) {
            Err(at) => self.0.insert(at, (mono, value.clone())),
            Ok(at) => {
                if let Some((_, total)) = self.0.get_mut(at) {
                    *total += value;
                    if total.is_zero() {
                        self.0.remove(at);
                    }
                }
            }
        }
    }

    /// `self + scale * other`, for a scale other than 0.
    pub(super) fn plus_scaled(&self, other: &Self, scale: &Rational) -> Self {
        let scaled = |c: &Rational| if *scale == Rational::ONE { c.clone() } else { c * scale };
        let mut sum = Vec::with_capacity(self.len() + other.len());
        let (mut left, mut right) = (self.0.iter().peekable(), other.0.iter().peekable());
        while let (Some((m, c)), Some((n, d))) = (left.peek(), right.peek()) {
            let order = m.cmp(n);
            match order {
                Ordering::Less => sum.push((m.clone(), c.clone())),
                Ordering::Greater => sum.push((n.clone(), scaled(d))),
                Ordering::Equal => {
                    let total = c + &scaled(d);
                    if !total.is_zero() {
                        sum.push((m.clone(), total));
                    }
                }
            }
            if order != Ordering::Greater {
                left.next();
            }
            if order != Ordering::Less {
                right.next();
            }
        }
        sum.extend(left.cloned());
        sum.extend(right.map(|(n, d)| (n.clone(), scaled(d))));
        Self(sum)
    }
}

impl<'s> IntoIterator for &'s Summands {
    type Item = (&'s Mono, &'s Rational);
    type IntoIter = Iter<'s>;
    fn into_iter(self) -> Iter<'s> {
        self.iter()
    }
}

impl IntoIterator for Summands {
    type Item = (Mono, Rational);
    type IntoIter = std::vec::IntoIter<(Mono, Rational)>;
    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl FromIterator<(Mono, Rational)> for Summands {
    /// Of monomials in rising order, each once, as another polynomial's summands give them.
    fn from_iter<I: IntoIterator<Item = (Mono, Rational)>>(summands: I) -> Self {
        Self(summands.into_iter().collect())
    }
}
