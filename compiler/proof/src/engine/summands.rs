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

#[cfg(test)]
mod tests {
    use super::*;

    /// Monomials by their atoms, with whole coefficients.
    fn sum(parts: &[(&[u16], i64)]) -> Vec<(Mono, Rational)> {
        parts.iter().map(|(atoms, c)| (Mono::of(atoms.iter().copied()), Rational::from(*c))).collect()
    }

    #[test]
    fn equal_monomials_add_up_and_those_that_cancel_are_gone() {
        let all = sum(&[(&[1], 2), (&[0, 1], 5), (&[], 1), (&[1], -2), (&[0, 1], 1)]);
        assert_eq!(Summands::adding_up(all), Summands(sum(&[(&[], 1), (&[0, 1], 6)])));
    }

    #[test]
    fn a_multiple_is_merged_in_order() {
        let left = Summands(sum(&[(&[], 1), (&[0], 3), (&[0, 1], 4)]));
        let right = Summands(sum(&[(&[0], -1), (&[1], 2), (&[0, 1], 7)]));
        let merged = left.plus_scaled(&right, &Rational::from(3));
        assert_eq!(merged, Summands(sum(&[(&[], 1), (&[1], 6), (&[0, 1], 25)])));
    }

    #[test]
    fn one_coefficient_may_come_go_and_be_looked_up() {
        let (x, y) = (Mono::of([0]), Mono::of([1]));
        let mut some = Summands::one(y.clone(), Rational::ONE);
        some.add(x.clone(), &Rational::from(2));
        assert_eq!(some.get(&x), Some(&Rational::from(2)));
        some.add(x.clone(), &Rational::from(-2));
        assert_eq!(some.get(&x), None);
        some.remove(&y);
        assert!(some.is_empty());
    }
}
