//! Exact rational numbers, and the one place where a rational becomes decimal digits.

use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

use dashu_int::{IBig, UBig};
use dashu_ratio::RBig;

/// An exact rational number, always in lowest terms.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Rational(RBig);

/// How a number is brought to a fixed count of decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounding {
    /// To the nearest; an exact half goes away from zero.
    Nearest,
    /// Towards minus infinity.
    Down,
    /// Towards plus infinity.
    Up,
}

impl Rational {
    /// The number 0.
    pub const ZERO: Self = Self(RBig::ZERO);
    /// The number 1.
    pub const ONE: Self = Self(RBig::ONE);

    /// `numerator / denominator`; `None` when the denominator is 0.
    #[must_use]
    pub fn ratio(numerator: i64, denominator: i64) -> Option<Self> {
        (denominator != 0).then(|| Self::from(numerator) / Self::from(denominator))
    }

    /// Reads plain decimal digits with at most one point and an optional leading sign: `12`, `0.5`, `-3.25`.
    #[must_use]
    pub fn from_decimal(text: &str) -> Option<Self> {
        let (negative, digits) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
        let all = format!("{whole}{part}");
        if all.is_empty() || !all.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let numerator = IBig::from(UBig::from_str_radix(&all, 10).ok()?);
        let value = Self(RBig::from_parts(numerator, UBig::from(10u8).pow(part.len())));
        Some(if negative { -value } else { value })
    }

    /// Reads `p/q` or a decimal, as certificates write them.
    #[must_use]
    pub fn from_fraction(text: &str) -> Option<Self> {
        match text.split_once('/') {
            None => Self::from_decimal(text),
            Some((p, q)) => {
                let q = Self::from_decimal(q)?;
                (!q.is_zero()).then_some(())?;
                Some(Self::from_decimal(p)? / q)
            }
        }
    }

    /// The exact value of a finite float; `None` for infinities and NaN.
    #[must_use]
    pub fn from_f64(value: f64) -> Option<Self> {
        RBig::try_from(value).ok().map(Self)
    }

    /// The nearest float.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        self.0.to_f64().value()
    }

    /// True for 0.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        self.0.is_zero()
    }

    /// True for whole numbers.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.0.denominator().is_one()
    }

    /// -1, 0 or 1.
    #[must_use]
    pub fn signum(&self) -> i32 {
        match self.cmp(&Self::ZERO) {
            std::cmp::Ordering::Less => -1,
            std::cmp::Ordering::Equal => 0,
            std::cmp::Ordering::Greater => 1,
        }
    }

    /// The distance from 0.
    #[must_use]
    pub fn abs(&self) -> Self {
        if self.signum() < 0 { -self.clone() } else { self.clone() }
    }

    /// The greatest whole number that is not greater.
    #[must_use]
    pub fn floor(&self) -> Self {
        Self(RBig::from(self.0.floor()))
    }

    /// The smallest whole number that is not smaller.
    #[must_use]
    pub fn ceil(&self) -> Self {
        Self(RBig::from(self.0.ceil()))
    }

    /// The whole number as `i64`, when it is whole and fits.
    #[must_use]
    pub fn to_i64(&self) -> Option<i64> {
        self.is_whole().then(|| i64::try_from(self.0.numerator().clone()).ok()).flatten()
    }

    /// `1 / self`; `None` for 0.
    #[must_use]
    pub fn recip(&self) -> Option<Self> {
        (!self.is_zero()).then(|| Self::ONE / self.clone())
    }

    /// Whole power.
    #[must_use]
    pub fn pow(&self, exponent: usize) -> Self {
        Self(self.0.pow(isize::try_from(exponent).unwrap_or(isize::MAX)))
    }

    /// The square root, where it is rational.
    #[must_use]
    pub fn exact_sqrt(&self) -> Option<Self> {
        if self.signum() < 0 {
            return None;
        }
        let root = |n: &UBig| -> Option<UBig> {
            use dashu_int::ops::SquareRoot;
            let r = n.sqrt();
            (&r * &r == *n).then_some(r)
        };
        let numerator = UBig::try_from(self.0.numerator().clone()).ok()?;
        Some(Self(RBig::from_parts(IBig::from(root(&numerator)?), root(self.0.denominator())?)))
    }

    /// The numerator of the lowest terms, in decimal digits.
    #[must_use]
    pub fn numerator_text(&self) -> String {
        self.0.numerator().to_string()
    }

    /// Bits in numerator and denominator together: a measure of how unwieldy the number has become.
    #[must_use]
    pub fn bits(&self) -> usize {
        use dashu_int::ops::BitTest;
        self.0.numerator().bit_len() + self.0.denominator().bit_len()
    }

    /// The whole multiple of `10^-decimals` that `rounding` chooses.
    #[must_use]
    pub fn rounded(&self, decimals: u32, rounding: Rounding) -> Self {
        let scale = Self(RBig::from(UBig::from(10u8).pow(decimals as usize)));
        let scaled = self * &scale;
        let half = Self(RBig::from_parts(IBig::ONE, UBig::from(2u8)));
        let whole = match rounding {
            Rounding::Down => scaled.floor(),
            Rounding::Up => scaled.ceil(),
            Rounding::Nearest if scaled.signum() < 0 => (scaled - half).ceil(),
            Rounding::Nearest => (scaled + half).floor(),
        };
        whole / scale
    }

    /// Exact decimal text (`0.5`, `-12`), or `None` where no finite decimal equals the number.
    #[must_use]
    pub fn exact_decimal(&self) -> Option<String> {
        let mut rest = self.0.denominator().clone();
        let (two, five) = (UBig::from(2u8), UBig::from(5u8));
        let mut places = [0u32; 2];
        for (place, prime) in places.iter_mut().zip([&two, &five]) {
            while (&rest % prime).is_zero() {
                rest /= prime;
                *place += 1;
            }
        }
        rest.is_one().then(|| self.decimal_text(places[0].max(places[1])))
    }

    /// Decimal text with at most `decimals` places, rounded to the nearest, without trailing zeros or point.
    #[must_use]
    pub fn decimal_text(&self, decimals: u32) -> String {
        let fixed = self.fixed_text(decimals);
        match fixed.contains('.') {
            true => fixed.trim_end_matches('0').trim_end_matches('.').to_owned(),
            false => fixed,
        }
    }

    /// Decimal text with exactly `decimals` places, rounded to the nearest; never `-0`.
    #[must_use]
    pub fn fixed_text(&self, decimals: u32) -> String {
        let scale = Self(RBig::from(UBig::from(10u8).pow(decimals as usize)));
        let whole = (self.rounded(decimals, Rounding::Nearest) * scale).abs();
        let digits = format!("{:0>width$}", whole.numerator_text(), width = decimals as usize + 1);
        let (left, right) = digits.split_at(digits.len() - decimals as usize);
        let sign = if self.signum() < 0 && !whole.is_zero() { "-" } else { "" };
        if right.is_empty() { format!("{sign}{left}") } else { format!("{sign}{left}.{right}") }
    }
}

impl From<i64> for Rational {
    fn from(value: i64) -> Self {
        Self(RBig::from(value))
    }
}

impl From<i32> for Rational {
    fn from(value: i32) -> Self {
        Self(RBig::from(value))
    }
}

macro_rules! operator {
    ($trait:ident, $method:ident, $op:tt) => {
        impl $trait for Rational {
            type Output = Self;
            fn $method(self, other: Self) -> Self {
                Self(self.0 $op other.0)
            }
        }
        impl $trait<&Rational> for Rational {
            type Output = Self;
            fn $method(self, other: &Self) -> Self {
                Self(self.0 $op &other.0)
            }
        }
        impl $trait for &Rational {
            type Output = Rational;
            fn $method(self, other: Self) -> Rational {
                Rational(&self.0 $op &other.0)
            }
        }
    };
}
operator!(Add, add, +);
operator!(Sub, sub, -);
operator!(Mul, mul, *);
// Division by 0 is a bug of the caller: ask `is_zero` or use `recip` first.
operator!(Div, div, /);

impl AddAssign<&Rational> for Rational {
    fn add_assign(&mut self, other: &Self) {
        self.0 += &other.0;
    }
}

impl SubAssign<&Rational> for Rational {
    fn sub_assign(&mut self, other: &Self) {
        self.0 -= &other.0;
    }
}

impl MulAssign<&Rational> for Rational {
    fn mul_assign(&mut self, other: &Self) {
        self.0 *= &other.0;
    }
}

impl Neg for Rational {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

/// `p/q`, or `p` for a whole number: exact, and read back by [`Rational::from_fraction`].
impl fmt::Display for Rational {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Debug for Rational {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn q(text: &str) -> Rational {
        Rational::from_fraction(text).unwrap()
    }

    #[test]
    fn decimals_are_exact() {
        assert_eq!(q("25.4") * q("1/2"), q("12.7"));
        assert_eq!(q("0.1") + q("0.2"), q("0.3"));
        assert_eq!(Rational::from_decimal("1e3"), None);
        assert_eq!(Rational::from_decimal("."), None);
    }

    #[test]
    fn text_rounds_half_away_from_zero_and_has_no_negative_zero() {
        assert_eq!(q("0.0005").fixed_text(3), "0.001");
        assert_eq!(q("-0.0005").fixed_text(3), "-0.001");
        assert_eq!(q("-0.0004").fixed_text(3), "0.000");
        assert_eq!(q("12").decimal_text(3), "12");
        assert_eq!(q("100").decimal_text(0), "100");
        assert_eq!(q("1/3").decimal_text(4), "0.3333");
        assert_eq!(q("-7/8").fixed_text(4), "-0.8750");
    }

    #[test]
    fn exact_text_only_where_one_exists() {
        assert_eq!(q("1/8").exact_decimal().as_deref(), Some("0.125"));
        assert_eq!(q("1/3").exact_decimal(), None);
        assert_eq!(q("-40").exact_decimal().as_deref(), Some("-40"));
    }

    #[test]
    fn roots_only_where_rational() {
        assert_eq!(q("9/4").exact_sqrt(), Some(q("3/2")));
        assert_eq!(q("2").exact_sqrt(), None);
        assert_eq!(q("-1").exact_sqrt(), None);
    }
}
