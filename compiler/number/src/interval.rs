//! Rigorous intervals of floats: every operation rounds outwards.
//!
//! Only `+ - * /` and the square root of the platform are used: IEEE 754 rounds these correctly, so one step
//! of [`f64::next_down`] or [`f64::next_up`] encloses the exact value. Sines, cosines and inverse functions are
//! sums of Taylor terms with their remainder added.

use std::ops::{Add, Div, Mul, Neg, Sub};

use crate::Rational;

/// A closed interval `lo..=hi`; an end may be infinite. Never NaN.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
}

/// The float below, and never NaN.
fn down(value: f64) -> f64 {
    if value.is_nan() { f64::NEG_INFINITY } else { value.next_down() }
}

/// The float above, and never NaN.
fn up(value: f64) -> f64 {
    if value.is_nan() { f64::INFINITY } else { value.next_up() }
}

/// Whether `sum`, the rounded `a + b`, is exact (Knuth's error-free sum).
fn sum_is_exact(a: f64, b: f64, sum: f64) -> bool {
    let rest = sum - a;
    sum.is_finite() && (a - (sum - rest)) + (b - rest) == 0.0
}

fn add_down(a: f64, b: f64) -> f64 {
    let sum = a + b;
    if sum_is_exact(a, b, sum) { sum } else { down(sum) }
}

fn add_up(a: f64, b: f64) -> f64 {
    let sum = a + b;
    if sum_is_exact(a, b, sum) { sum } else { up(sum) }
}

/// Whether the rounded product is surely exact: a factor 0, 1 or -1, or whole numbers below 2^53.
fn product_is_exact(a: f64, b: f64, product: f64) -> bool {
    let plain = |x: f64| x == 0.0 || x.abs() == 1.0;
    let whole = |x: f64| x.fract() == 0.0;
    plain(a) || plain(b) || (product.abs() < 9.0e15 && whole(a) && whole(b))
}

/// The product, with `0 * infinity = 0` as interval bounds need it.
fn product(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 { 0.0 } else { a * b }
}

impl Interval {
    /// All reals.
    pub const ENTIRE: Self = Self { lo: f64::NEG_INFINITY, hi: f64::INFINITY };
    /// The number 0.
    pub const ZERO: Self = Self { lo: 0.0, hi: 0.0 };
    /// The number 1.
    pub const ONE: Self = Self { lo: 1.0, hi: 1.0 };
    /// Encloses pi (3.14159265358979323846...).
    pub const PI: Self = Self { lo: std::f64::consts::PI, hi: 3.141_592_653_589_793_6 };

    /// `lo..=hi`; ends that are NaN become infinite.
    #[must_use]
    pub fn new(lo: f64, hi: f64) -> Self {
        Self {
            lo: if lo.is_nan() { f64::NEG_INFINITY } else { lo },
            hi: if hi.is_nan() { f64::INFINITY } else { hi },
        }
    }

    /// The one float.
    #[must_use]
    pub fn point(value: f64) -> Self {
        Self::new(value, value)
    }

    /// The tightest interval around an exact number.
    #[must_use]
    pub fn from_rational(value: &Rational) -> Self {
        let near = value.to_f64();
        match Rational::from_f64(near) {
            None if value.signum() < 0 => Self { lo: f64::NEG_INFINITY, hi: f64::MIN },
            None => Self { lo: f64::MAX, hi: f64::INFINITY },
            Some(exact) if exact == *value => Self::point(near),
            Some(exact) if exact < *value => Self { lo: near, hi: up(near) },
            Some(_) => Self { lo: down(near), hi: near },
        }
    }

    /// Whether no number lies in it (`lo > hi`).
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.lo > self.hi
    }

    /// `hi - lo`.
    #[must_use]
    pub fn width(self) -> f64 {
        self.hi - self.lo
    }

    /// Whether the number lies in it.
    #[must_use]
    pub fn contains(self, value: f64) -> bool {
        self.lo <= value && value <= self.hi
    }

    /// What both have in common; may be empty.
    #[must_use]
    pub fn intersect(self, other: Self) -> Self {
        Self { lo: self.lo.max(other.lo), hi: self.hi.min(other.hi) }
    }

    /// The smallest interval around both.
    #[must_use]
    pub fn hull(self, other: Self) -> Self {
        Self { lo: self.lo.min(other.lo), hi: self.hi.max(other.hi) }
    }

    /// `self * self`, never below 0.
    #[must_use]
    pub fn squared(self) -> Self {
        let size = self.abs();
        let square = size * size;
        Self { lo: square.lo.max(0.0), hi: square.hi }
    }

    /// The distance from 0.
    #[must_use]
    pub fn abs(self) -> Self {
        if self.lo >= 0.0 {
            self
        } else if self.hi <= 0.0 {
            -self
        } else {
            Self { lo: 0.0, hi: self.hi.max(-self.lo) }
        }
    }

    /// The smaller of two.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        Self { lo: self.lo.min(other.lo), hi: self.hi.min(other.hi) }
    }

    /// The greater of two.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self { lo: self.lo.max(other.lo), hi: self.hi.max(other.hi) }
    }

    /// The smallest whole number that is not smaller.
    #[must_use]
    pub fn ceil(self) -> Self {
        Self { lo: self.lo.ceil(), hi: self.hi.ceil() }
    }

    /// The greatest whole number that is not greater.
    #[must_use]
    pub fn floor(self) -> Self {
        Self { lo: self.lo.floor(), hi: self.hi.floor() }
    }

    /// The root of the part that is not negative; all reals where there is none.
    #[must_use]
    pub fn sqrt(self) -> Self {
        if self.hi < 0.0 {
            return Self::ENTIRE;
        }
        let exact = |root: f64, of: f64| root.is_finite() && root.fract() == 0.0 && root * root == of;
        let (lo, hi) = (self.lo.max(0.0).sqrt(), self.hi.sqrt());
        Self {
            lo: if exact(lo, self.lo.max(0.0)) { lo } else { down(lo).max(0.0) },
            hi: if exact(hi, self.hi) { hi } else { up(hi) },
        }
    }

    /// Sine of an angle in degrees.
    #[must_use]
    pub fn sin_degrees(self) -> Self {
        // sin(a) = cos(a - 90deg), but the shift would round: both share one routine.
        self.wave(1)
    }

    /// Cosine of an angle in degrees.
    #[must_use]
    pub fn cos_degrees(self) -> Self {
        self.wave(0)
    }

    /// cos(self - 90deg * shift): its ends' values, and 1 or -1 where a crest or a trough may lie between them.
    fn wave(self, shift: i32) -> Self {
        const FARTHEST: f64 = 1.0e9;
        let unit = Self { lo: -1.0, hi: 1.0 };
        if self.is_empty() || self.lo < -FARTHEST || self.hi > FARTHEST || self.width() >= 360.0 {
            return unit;
        }
        let ends = wave_at(self.lo, shift).hull(wave_at(self.hi, shift)).intersect(unit);
        let start = 90.0 * f64::from(shift);
        let crest = self.may_hold_turn(start);
        let trough = self.may_hold_turn(start + 180.0);
        Self { lo: if trough { -1.0 } else { ends.lo }, hi: if crest { 1.0 } else { ends.hi } }
    }

    /// Whether `start + 360 k` lies in it for a whole k; `true` when in doubt.
    fn may_hold_turn(self, start: f64) -> bool {
        let turns = (self - Self::point(start)) / Self::point(360.0);
        turns.lo.ceil() <= turns.hi.floor()
    }

    /// Arc tangent, in degrees.
    #[must_use]
    pub fn atan_degrees(self) -> Self {
        Self { lo: atan_at(self.lo).lo, hi: atan_at(self.hi).hi }
    }

    /// Arc cosine of the part within -1..=1, in degrees; 0..=180 where there is none.
    #[must_use]
    pub fn acos_degrees(self) -> Self {
        let part = self.intersect(Self { lo: -1.0, hi: 1.0 });
        if part.is_empty() {
            return Self { lo: 0.0, hi: 180.0 };
        }
        Self { lo: acos_at(part.hi).lo.max(0.0), hi: acos_at(part.lo).hi.min(180.0) }
    }
}

/// cos(degrees - 90 * shift).
fn wave_at(degrees: f64, shift: i32) -> Interval {
    // The nearest quarter turn is taken off exactly: 90 k is exact, and so is the difference (Sterbenz).
    let quarters = (degrees / 90.0).round();
    let rest = degrees - 90.0 * quarters;
    let angle = Interval::point(rest) * Interval::PI / Interval::point(180.0);
    let turn = (quarters - f64::from(shift)).rem_euclid(4.0);
    if turn == 0.0 {
        cos_series(angle)
    } else if turn == 1.0 {
        -sin_series(angle)
    } else if turn == 2.0 {
        -cos_series(angle)
    } else {
        sin_series(angle)
    }
}

/// Number of Taylor terms: with |x| < 0.79 the first one left out is below 1e-21.
const TERMS: i32 = 10;

/// Sine of an angle in radians, at most 0.8 in size.
fn sin_series(x: Interval) -> Interval {
    // x - x^3/3! + ... ; nested: x (1 - x^2/(2*3) (1 - x^2/(4*5) (...)))
    if x == Interval::ZERO { x } else { x * nested(x.squared(), 0) }
}

/// Cosine of an angle in radians, at most 0.8 in size.
fn cos_series(x: Interval) -> Interval {
    nested(x.squared(), -1)
}

/// 1 - s/(a(a+1)) (1 - s/((a+2)(a+3)) (...)), with a = 2 + offset; the last bracket lies within 0..=1.
fn nested(square: Interval, offset: i32) -> Interval {
    let mut sum = Interval { lo: 0.0, hi: 1.0 };
    for term in (1..=TERMS).rev() {
        let first = f64::from(2 * term + offset);
        sum = Interval::ONE - square / Interval::point(first * (first + 1.0)) * sum;
    }
    sum
}

/// Arc tangent of one float (or infinity), in degrees.
fn atan_at(value: f64) -> Interval {
    let quarter = Interval::point(90.0);
    if value == 0.0 {
        return Interval::ZERO;
    }
    if value.is_infinite() {
        return if value > 0.0 { quarter } else { -quarter };
    }
    if value.abs() == 1.0 {
        return Interval::point(45.0 * value);
    }
    if value.abs() > 1.0 {
        let rest = atan_small(Interval::ONE / Interval::point(value.abs()));
        let angle = quarter - rest;
        return if value > 0.0 { angle } else { -angle };
    }
    let angle = atan_small(Interval::point(value.abs()));
    if value > 0.0 { angle } else { -angle }
}

/// Arc tangent of a number in 0..=1, in degrees: the angle is halved three times, then a Taylor sum.
fn atan_small(x: Interval) -> Interval {
    let mut t = x;
    for _ in 0..3 {
        // tan(a/2) = tan a / (1 + sqrt(1 + tan^2 a))
        t = t / (Interval::ONE + (Interval::ONE + t.squared()).sqrt());
    }
    // t < 0.1: the alternating sum's rest after 12 terms is below 0.1^25 / 25.
    let square = t.squared();
    let mut sum = Interval { lo: 0.0, hi: 0.04 };
    for term in (0..12).rev() {
        sum = Interval::ONE / Interval::point(f64::from(2 * term + 1)) - square * sum;
    }
    t * sum * Interval::point(8.0 * 180.0) / Interval::PI
}

/// Arc cosine of one float in -1..=1, in degrees.
fn acos_at(value: f64) -> Interval {
    if value == 1.0 {
        return Interval::ZERO;
    }
    if value == -1.0 {
        return Interval::point(180.0);
    }
    if value == 0.0 {
        return Interval::point(90.0);
    }
    // acos x = 2 atan sqrt((1 - x) / (1 + x))
    let point = Interval::point(value);
    let ratio = ((Interval::ONE - point) / (Interval::ONE + point)).sqrt();
    ratio.atan_degrees() * Interval::point(2.0)
}

impl Add for Interval {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(add_down(self.lo, other.lo), add_up(self.hi, other.hi))
    }
}

impl Sub for Interval {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Neg for Interval {
    type Output = Self;
    fn neg(self) -> Self {
        Self { lo: -self.hi, hi: -self.lo }
    }
}

impl Mul for Interval {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let mut result = Self { lo: f64::INFINITY, hi: f64::NEG_INFINITY };
        for (a, b) in [(self.lo, other.lo), (self.lo, other.hi), (self.hi, other.lo), (self.hi, other.hi)] {
            let rounded = product(a, b);
            let exact = product_is_exact(a, b, rounded);
            result.lo = result.lo.min(if exact { rounded } else { down(rounded) });
            result.hi = result.hi.max(if exact { rounded } else { up(rounded) });
        }
        result
    }
}

/// All reals where the divisor may be 0.
impl Div for Interval {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        if other.contains(0.0) {
            return Self::ENTIRE;
        }
        let mut result = Self { lo: f64::INFINITY, hi: f64::NEG_INFINITY };
        for (a, b) in [(self.lo, other.lo), (self.lo, other.hi), (self.hi, other.lo), (self.hi, other.hi)] {
            let quotient = a / b;
            let exact = a == 0.0 || b.abs() == 1.0;
            result.lo = result.lo.min(if exact { quotient } else { down(quotient) });
            result.hi = result.hi.max(if exact { quotient } else { up(quotient) });
        }
        result
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn holds(interval: Interval, value: f64, width: f64) {
        assert!(interval.lo <= value && value <= interval.hi, "{value} not in {interval:?}");
        assert!(interval.width() <= width, "{interval:?} is wide");
    }

    // Values to 16 digits: Abramowitz and Stegun, Handbook of Mathematical Functions, tables 4.10 and 4.14
    // (from memory).
    #[test]
    fn functions_enclose_the_known_values() {
        let point = Interval::point;
        holds(point(30.0).sin_degrees(), 0.5, 1e-14);
        holds(point(45.0).cos_degrees(), std::f64::consts::FRAC_1_SQRT_2, 1e-14);
        holds(point(4.0).sin_degrees(), 0.069_756_473_744_125_3, 1e-15);
        holds(point(-120.0).cos_degrees(), -0.5, 1e-14);
        holds(point(1.0).atan_degrees(), 45.0, 0.0);
        holds(point(0.5).atan_degrees(), 26.565_051_177_077_99, 1e-12);
        holds(point(-3.0).atan_degrees(), -71.565_051_177_077_99, 1e-12);
        holds(point(0.5).acos_degrees(), 60.0, 1e-12);
        holds(point(-1.0).acos_degrees(), 180.0, 0.0);
        assert_eq!(point(90.0).sin_degrees(), Interval::ONE);
        assert_eq!(point(360.0).sin_degrees(), Interval::ZERO);
    }

    #[test]
    fn waves_know_their_crests() {
        let arc = Interval::new(80.0, 100.0);
        assert_eq!(arc.sin_degrees().hi, 1.0);
        holds(arc.cos_degrees(), 0.0, 0.35);
        assert_eq!(Interval::new(0.0, 720.0).sin_degrees(), Interval::new(-1.0, 1.0));
        assert_eq!(Interval::new(170.0, 190.0).cos_degrees().lo, -1.0);
    }

    #[test]
    fn dividing_by_what_may_be_0_gives_all_reals() {
        assert_eq!(Interval::ONE / Interval::new(-1.0, 1.0), Interval::ENTIRE);
        assert_eq!(Interval::ONE / Interval::ZERO, Interval::ENTIRE);
    }

    #[test]
    fn exact_sums_and_whole_products_stay_exact() {
        let two = Interval::point(2.0);
        assert_eq!(two * two + Interval::point(0.5), Interval::point(4.5));
        assert_eq!(Interval::point(9.0).sqrt(), Interval::point(3.0));
        holds(Interval::from_rational(&Rational::ratio(1, 3).unwrap()), 1.0 / 3.0, 1e-16);
    }
}
