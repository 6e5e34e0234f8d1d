//! Rigorous intervals with exact rational ends: slower than [`Interval`](crate::Interval), without any float.
//!
//! Each operation encloses every value that it can give. Ends stay exact as long as they are short; longer ones
//! are rounded outwards. Sines and cosines are Taylor sums with a bound for all that was left out.

use crate::{Rational, Rounding};

/// An end of an enclosure; in order.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum End {
    /// Minus infinity.
    Low,
    /// A number.
    At(Rational),
    /// Infinity.
    High,
}
use End::{At, High, Low};

/// All numbers from `lo` to `hi`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Enclosure {
    /// The lower end.
    pub lo: End,
    /// The upper end.
    pub hi: End,
}

/// Ends with more bits than this are rounded.
const MOST_BITS: usize = 1500;
/// Decimals of rounded ends.
const DECIMALS: u32 = 60;
/// Pi cut off after 50 places: Abramowitz and Stegun, Handbook of Mathematical Functions, table 1.1 (from
/// memory; a test sums Machin's series).
const PI: &str = "3.14159265358979323846264338327950288419716939937510";

impl End {
    fn negated(&self) -> Self {
        match self {
            Low => High,
            At(value) => At(-value.clone()),
            High => Low,
        }
    }

    /// Of two lower ends, or of two upper ones.
    fn plus(&self, other: &Self) -> Self {
        match (self, other) {
            (At(a), At(b)) => At(a + b),
            (At(_), end) | (end, _) => end.clone(),
        }
    }

    fn sign(&self) -> i32 {
        match self {
            Low => -1,
            At(value) => value.signum(),
            High => 1,
        }
    }

    /// 0 times infinity is 0, as bounds of products need it.
    fn times(&self, other: &Self) -> Self {
        match (self, other, self.sign() * other.sign()) {
            (At(a), At(b), _) => At(a * b),
            (_, _, 0) => At(Rational::ZERO),
            (_, _, sign) if sign < 0 => Low,
            _ => High,
        }
    }

    /// `1 / self`; 0 for infinities.
    fn inverse(&self) -> Self {
        At(if let At(value) = self { value.recip().unwrap_or(Rational::ZERO) } else { Rational::ZERO })
    }

    fn map(&self, to: impl Fn(&Rational) -> Rational) -> Self {
        if let At(value) = self { At(to(value)) } else { self.clone() }
    }
}

impl Enclosure {
    /// All reals.
    pub const ENTIRE: Self = Self { lo: Low, hi: High };

    /// The one number.
    #[must_use]
    pub fn point(value: Rational) -> Self {
        Self { lo: At(value.clone()), hi: At(value) }
    }

    /// Pi.
    #[must_use]
    pub fn pi() -> Self {
        let lo = pi();
        let hi = &lo + &tiny(50);
        Self { lo: At(lo), hi: At(hi) }
    }

    fn new(lo: End, hi: End) -> Self {
        let outwards = |end: End, rounding, infinity| {
            let is_long = |end: &End| matches!(end, At(value) if value.bits() > MOST_BITS);
            let short = if is_long(&end) { end.map(|value| value.rounded(DECIMALS, rounding)) } else { end };
            // What is long in front of the point, too, is as good as infinite.
            if is_long(&short) { infinity } else { short }
        };
        Self { lo: outwards(lo, Rounding::Down, Low), hi: outwards(hi, Rounding::Up, High) }
    }

    fn around(ends: [End; 4]) -> Self {
        let [a, b, c, d] = ends;
        let lo = (&a).min(&b).min(&c).min(&d).clone();
        Self::new(lo, a.max(b).max(c).max(d))
    }

    /// Whether no number lies in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.lo > self.hi
    }

    /// The values of an operation, by its name, for all values of its parts; `None` for one that is not known.
    #[must_use]
    pub fn of(operation: &str, parts: &[Self]) -> Option<Self> {
        Some(match (operation, parts) {
            ("pi", []) => Self::pi(),
            ("+", [a, b]) => a.plus(b),
            ("-", [a, b]) => a.plus(&b.negated()),
            ("*", [a, b]) => a.times(b),
            ("/", [a, b]) => a.over(b),
            ("min", [a, b]) => a.min(b),
            ("max", [a, b]) => a.max(b),
            ("if", [_, a, b]) => a.hull(b),
            ("abs", [a]) => a.size(),
            ("sqrt", [a]) => a.root(),
            ("sin", [a]) => a.sine(),
            ("cos", [a]) => a.cosine(),
            ("atan", [a]) => a.arc_tangent(),
            ("acos", [a]) => a.arc_cosine(),
            ("ceil", [a]) => a.ceil(),
            ("floor", [a]) => a.floor(),
            _ => return None,
        })
    }

    /// What lies in both.
    #[must_use]
    pub fn meet(&self, other: &Self) -> Self {
        Self { lo: (&self.lo).max(&other.lo).clone(), hi: (&self.hi).min(&other.hi).clone() }
    }

    /// The smallest enclosure of both.
    #[must_use]
    pub fn hull(&self, other: &Self) -> Self {
        Self::around([self.lo.clone(), self.hi.clone(), other.lo.clone(), other.hi.clone()])
    }

    /// `-self`
    #[must_use]
    pub fn negated(&self) -> Self {
        Self { lo: self.hi.negated(), hi: self.lo.negated() }
    }

    /// `self + other`
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self::new(self.lo.plus(&other.lo), self.hi.plus(&other.hi))
    }

    /// `self * other`
    #[must_use]
    pub fn times(&self, other: &Self) -> Self {
        let [a, b, c, d] = [&self.lo, &self.hi, &other.lo, &other.hi];
        Self::around([a.times(c), a.times(d), b.times(c), b.times(d)])
    }

    /// `self * self`, never below 0.
    #[must_use]
    pub fn squared(&self) -> Self {
        let size = self.size();
        size.times(&size)
    }

    /// `self / other`; all reals where the divisor may be 0.
    #[must_use]
    pub fn over(&self, other: &Self) -> Self {
        if other.lo.sign() * other.hi.sign() <= 0 {
            return Self::ENTIRE;
        }
        self.times(&Self { lo: other.hi.inverse(), hi: other.lo.inverse() })
    }

    /// The smaller of two.
    #[must_use]
    pub fn min(&self, other: &Self) -> Self {
        Self { lo: (&self.lo).min(&other.lo).clone(), hi: (&self.hi).min(&other.hi).clone() }
    }

    /// The greater of two.
    #[must_use]
    pub fn max(&self, other: &Self) -> Self {
        Self { lo: (&self.lo).max(&other.lo).clone(), hi: (&self.hi).max(&other.hi).clone() }
    }

    /// The distance from 0.
    #[must_use]
    pub fn size(&self) -> Self {
        let negative = self.negated();
        let nearest = self.lo.clone().max(negative.lo).max(At(Rational::ZERO));
        Self { lo: nearest, hi: self.hi.clone().max(negative.hi) }
    }

    /// The smallest whole number that is not smaller.
    #[must_use]
    pub fn ceil(&self) -> Self {
        Self { lo: self.lo.map(Rational::ceil), hi: self.hi.map(Rational::ceil) }
    }

    /// The greatest whole number that is not greater.
    #[must_use]
    pub fn floor(&self) -> Self {
        Self { lo: self.lo.map(Rational::floor), hi: self.hi.map(Rational::floor) }
    }

    /// The square root; all reals where the argument may be negative.
    #[must_use]
    pub fn root(&self) -> Self {
        match (&self.lo, &self.hi) {
            (At(lo), _) if lo.signum() < 0 || self.is_empty() => Self::ENTIRE,
            (At(lo), At(hi)) => Self { lo: At(root(lo).0), hi: At(root(hi).1) },
            (At(lo), _) => Self { lo: At(root(lo).0), hi: High },
            _ => Self::ENTIRE,
        }
    }

    /// Cosine of an angle in degrees.
    #[must_use]
    pub fn cosine(&self) -> Self {
        let one = Rational::ONE;
        let (At(lo), At(hi)) = (&self.lo, &self.hi) else {
            return Self { lo: At(-one.clone()), hi: At(one) };
        };
        let (first, last) = (cosine(lo), cosine(hi));
        let ends = Self::around([At(first.0), At(first.1), At(last.0), At(last.1)]);
        // 1 or -1 where a whole turn, or half a turn more, lies between.
        let turn = Rational::from(360);
        let between = |start: i32| {
            let turns = |end: &Rational| (end - &Rational::from(start)) / turn.clone();
            turns(lo).ceil() <= turns(hi).floor()
        };
        Self {
            lo: if between(180) { At(-Rational::ONE) } else { ends.lo.max(At(-Rational::ONE)) },
            hi: if between(0) { At(one) } else { ends.hi.min(At(one)) },
        }
    }

    /// Sine of an angle in degrees.
    #[must_use]
    pub fn sine(&self) -> Self {
        self.plus(&Self::point(Rational::from(-90))).cosine()
    }

    /// Arc cosine in degrees; all reals where the argument may leave -1..=1.
    #[must_use]
    pub fn arc_cosine(&self) -> Self {
        let (At(lo), At(hi)) = (&self.lo, &self.hi) else { return Self::ENTIRE };
        if *lo < -Rational::ONE || *hi > Rational::ONE {
            return Self::ENTIRE;
        }
        Self { lo: At(arc_cosine(hi).0), hi: At(arc_cosine(lo).1) }
    }

    /// Arc tangent in degrees.
    #[must_use]
    pub fn arc_tangent(&self) -> Self {
        let right = || At(Rational::from(90));
        let lo = if let At(lo) = &self.lo { At(arc_tangent(lo).0) } else { right().negated() };
        Self { lo, hi: if let At(hi) = &self.hi { At(arc_tangent(hi).1) } else { right() } }
    }
}

/// Pi, cut off after 50 places.
fn pi() -> Rational {
    Rational::from_decimal(PI).unwrap_or(Rational::ZERO)
}

/// 10^-places
fn tiny(places: usize) -> Rational {
    Rational::ONE / Rational::from(10).pow(places)
}

/// A number below and one above the root of a number that is not negative.
fn root(of: &Rational) -> (Rational, Rational) {
    if let Some(exact) = of.exact_sqrt() {
        return (exact.clone(), exact);
    }
    // Newton's steps from above stay above, for (x + a/x) / 2 >= sqrt a whatever x > 0 is.
    let mut above = of.clone().max(Rational::ONE);
    loop {
        let next = ((&above + &(of / &above)) / Rational::from(2)).rounded(DECIMALS, Rounding::Up);
        if next >= above {
            return ((of / &above).rounded(DECIMALS, Rounding::Down), above);
        }
        above = next;
    }
}

/// Encloses the cosine of an angle in degrees; exactly at quarter turns.
fn cosine(degrees: &Rational) -> (Rational, Rational) {
    let [turn, half, right] = [360, 180, 90].map(Rational::from);
    let rest = degrees - &((degrees / &turn).floor() * turn.clone());
    let rest = if rest > half { turn - rest } else { rest };
    if rest > right {
        let (lo, hi) = cosine(&(half - rest));
        return (-hi, -lo);
    }
    if rest == right {
        return (Rational::ZERO, Rational::ZERO);
    }
    if rest.is_zero() {
        return (Rational::ONE, Rational::ONE);
    }
    let near = |value: Rational| value.rounded(DECIMALS, Rounding::Nearest);
    let angle = near(rest * pi() / half);
    let square = near(&angle * &angle);
    let (mut term, mut sum) = (Rational::ONE, Rational::ONE);
    for n in 1..=30 {
        term = near(-(term * square.clone()) / Rational::from((2 * n - 1) * (2 * n)));
        sum += &term;
    }
    // Below pi/2, what follows the 30th term is below 1.6^62 / 62! < 10^-70; the angle is off by less than
    // 10^-50, each of the 30 terms by less than 10^-58.
    let margin = tiny(48);
    (&sum - &margin, sum + margin)
}

/// Encloses the arc cosine, in degrees, of a number in -1..=1, by cosines on both sides of it.
fn arc_cosine(of: &Rational) -> (Rational, Rational) {
    for degrees in [0, 90, 180].map(Rational::from) {
        if cosine(&degrees).0 == *of {
            return (degrees.clone(), degrees);
        }
    }
    let (mut lo, mut hi) = (Rational::ZERO, Rational::from(180));
    for _ in 0..130 {
        // Not in the middle: angles of 45 and 60 degrees, whose cosines come near to `of`, are not met.
        let part = (&hi - &lo) * Rational::from(3) / Rational::from(7);
        let between = (&lo + &part).rounded(DECIMALS, Rounding::Down);
        let (least, greatest) = cosine(&between);
        if *of < least {
            lo = between;
        } else if *of > greatest {
            hi = between;
        } else {
            break;
        }
    }
    (lo, hi)
}

/// Encloses the arc tangent in degrees: atan x = acos(1 / sqrt(1 + x^2)) for x >= 0.
fn arc_tangent(of: &Rational) -> (Rational, Rational) {
    if of.signum() < 0 {
        let (lo, hi) = arc_tangent(&-of.clone());
        return (-hi, -lo);
    }
    let (lo, hi) = root(&(of * of + Rational::ONE));
    (arc_cosine(&(Rational::ONE / lo)).0, arc_cosine(&(Rational::ONE / hi)).1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Interval;

    fn q(text: &str) -> Rational {
        Rational::from_fraction(text).unwrap()
    }

    fn at(text: &str) -> Enclosure {
        Enclosure::point(q(text))
    }

    /// Machin, 1706: pi/4 = 4 atan(1/5) - atan(1/239), the arc tangents by their series.
    #[test]
    fn pi_is_what_machins_series_gives() {
        let atan = |of: i32| {
            let mut sum = Rational::ZERO;
            for n in 0..80_i32 {
                let term =
                    Rational::ONE / Rational::from(of).pow(2 * n as usize + 1) / Rational::from(2 * n + 1);
                sum = if n % 2 == 0 { sum + term } else { sum - term };
            }
            sum
        };
        let sum = (atan(5) * Rational::from(4) - atan(239)) * Rational::from(4);
        let Enclosure { lo, hi } = Enclosure::pi();
        assert!(lo < At(sum.clone()) && At(sum) < hi);
    }

    #[test]
    fn roots_and_quarter_turns_are_exact_where_they_can_be() {
        assert_eq!(at("9/4").root(), at("3/2"));
        assert_eq!(at("0").root(), at("0"));
        assert_eq!(at("90").sine(), at("1"));
        assert_eq!(at("-270").cosine(), at("0"));
        assert_eq!(at("0").arc_tangent(), at("0"));
        assert_eq!(at("-1").arc_cosine(), at("180"));
        assert_eq!(at("1").over(&Enclosure { lo: At(q("0")), hi: High }), Enclosure::ENTIRE);
        let from_zero = Enclosure { lo: At(q("0")), hi: High };
        assert_eq!(from_zero.times(&from_zero), from_zero);
    }

    /// The float intervals are a second opinion: both enclose the value, so they meet; and ours are narrow.
    #[test]
    fn functions_meet_the_intervals_of_floats() {
        let narrow = q("1/1000000000000000000000000");
        for step in (-400..400_i32).step_by(7) {
            let value = Rational::from(step) * q("97/100");
            let (exact, float) = (Enclosure::point(value.clone()), Interval::from_rational(&value));
            let unit = value.clone() / q("400");
            let (part, float_part) = (Enclosure::point(unit.clone()), Interval::from_rational(&unit));
            for (ours, theirs) in [
                (exact.sine(), float.sin_degrees()),
                (exact.cosine(), float.cos_degrees()),
                (exact.arc_tangent(), float.atan_degrees()),
                (part.arc_cosine(), float_part.acos_degrees()),
                (exact.size().root(), float.abs().sqrt()),
            ] {
                let (At(lo), At(hi)) = (ours.lo, ours.hi) else { panic!("no bound at {value}") };
                assert!(hi.clone() - lo.clone() <= narrow, "{value}: {lo} {hi}");
                let (theirs_lo, theirs_hi) = (Rational::from_f64(theirs.lo), Rational::from_f64(theirs.hi));
                assert!(lo <= theirs_hi.unwrap() && theirs_lo.unwrap() <= hi, "{value}");
            }
        }
    }

    #[test]
    fn waves_know_their_crests() {
        let arc = Enclosure { lo: At(q("80")), hi: At(q("100")) };
        assert_eq!(arc.sine().hi, At(q("1")));
        assert!(arc.cosine().hi < At(q("2/10")));
        assert_eq!(Enclosure::ENTIRE.sine(), Enclosure { lo: At(q("-1")), hi: At(q("1")) });
        assert_eq!(Enclosure { lo: At(q("170")), hi: At(q("190")) }.cosine().lo, At(q("-1")));
    }
}
