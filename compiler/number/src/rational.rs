//! Exact rational numbers, and the one place where a rational becomes decimal digits.

use std::borrow::Cow;
use std::cmp::Ordering;
use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

use dashu_int::{IBig, UBig};
use dashu_ratio::RBig;

use crate::small::Small;

/// An exact rational number, always in lowest terms.
///
/// Nearly all numbers of a program are short: those whose numerator and denominator fit in 63 bits take two words
/// and no allocation.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct Rational(Form);

/// Each number has one form: the short one where it fits.
#[derive(Clone, PartialEq, Eq, Hash)]
enum Form {
    Short(Small),
    Long(Box<RBig>),
}

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
    pub const ZERO: Self = Self(Form::Short(Small::ZERO));
    /// The number 1.
    pub const ONE: Self = Self(Form::Short(Small::ONE));

    /// `numerator / denominator`; `None` when the denominator is 0.
    #[must_use]
    pub fn ratio(numerator: i64, denominator: i64) -> Option<Self> {
        (denominator != 0).then(|| Self::from(numerator) / Self::from(denominator))
    }

    /// In its only form.
    fn of(big: RBig) -> Self {
        let (numerator, denominator) = (big.numerator(), big.denominator());
        let short = match (i64::try_from(numerator), i64::try_from(denominator)) {
            (Ok(numerator), Ok(denominator)) => Small::in_lowest_terms(numerator.into(), denominator.into()),
            (Err(_), _) | (_, Err(_)) => None,
        };
        Self(match short {
            Some(short) => Form::Short(short),
            None => Form::Long(Box::new(big)),
        })
    }

    fn short(&self) -> Option<Small> {
        match &self.0 {
            Form::Short(short) => Some(*short),
            Form::Long(_) => None,
        }
    }

    fn big(&self) -> Cow<'_, RBig> {
        match &self.0 {
            Form::Short(short) => Cow::Owned(RBig::from_parts(
                IBig::from(short.numerator()),
                UBig::from(short.denominator().unsigned_abs()),
            )),
            Form::Long(big) => Cow::Borrowed(big),
        }
    }

    /// By the short way where both are short and the result is, else by the long one.
    fn combined(
        &self,
        other: &Self,
        short: fn(Small, Small) -> Option<Small>,
        long: fn(&RBig, &RBig) -> RBig,
    ) -> Self {
        let found = self.short().zip(other.short()).and_then(|(a, b)| short(a, b));
        match found {
            Some(found) => Self(Form::Short(found)),
            None => Self::of(long(&self.big(), &other.big())),
        }
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
        let short = (all.len() <= 18).then(|| all.parse().ok()).flatten();
        let value = match short.zip(power_of_ten(part.len())).and_then(|(n, d)| Small::reduced(n, d)) {
            Some(short) => Self(Form::Short(short)),
            None => {
                let numerator = IBig::from(UBig::from_str_radix(&all, 10).ok()?);
                Self::of(RBig::from_parts(numerator, UBig::from(10u8).pow(part.len())))
            }
        };
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
        match Small::from_f64(value) {
            Some(short) => Some(Self(Form::Short(short))),
            None => RBig::try_from(value).ok().map(Self::of),
        }
    }

    /// The nearest float.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        match self.short().and_then(Small::to_f64) {
            Some(value) => value,
            None => self.big().to_f64().value(),
        }
    }

    /// True for 0.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        *self == Self::ZERO
    }

    /// True for whole numbers.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        match &self.0 {
            Form::Short(short) => short.denominator() == 1,
            Form::Long(big) => big.denominator().is_one(),
        }
    }

    /// -1, 0 or 1.
    #[must_use]
    pub fn signum(&self) -> i32 {
        match &self.0 {
            Form::Short(short) if short.numerator() == 0 => 0,
            Form::Short(short) if short.numerator() < 0 => -1,
            Form::Short(_) => 1,
            Form::Long(big) if *big.numerator() < IBig::ZERO => -1,
            Form::Long(_) => 1,
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
        match self.short() {
            Some(short) => Self::from(short.numerator().div_euclid(short.denominator())),
            None => Self::of(RBig::from(self.big().floor())),
        }
    }

    /// The smallest whole number that is not smaller.
    #[must_use]
    pub fn ceil(&self) -> Self {
        -(-self.clone()).floor()
    }

    /// The whole number as `i64`, when it is whole and fits.
    #[must_use]
    pub fn to_i64(&self) -> Option<i64> {
        self.is_whole().then(|| i64::try_from(self.big().numerator().clone()).ok()).flatten()
    }

    /// `1 / self`; `None` for 0.
    #[must_use]
    pub fn recip(&self) -> Option<Self> {
        (!self.is_zero()).then(|| Self::ONE / self.clone())
    }

    /// Whole power.
    #[must_use]
    pub fn pow(&self, exponent: usize) -> Self {
        Self::of(self.big().pow(isize::try_from(exponent).unwrap_or(isize::MAX)))
    }

    /// The square root, where it is rational.
    #[must_use]
    pub fn exact_sqrt(&self) -> Option<Self> {
        if self.signum() < 0 {
            return None;
        }
        if let Some(short) = self.short() {
            return short.exact_sqrt().map(|root| Self(Form::Short(root)));
        }
        let root = |n: &UBig| -> Option<UBig> {
            use dashu_int::ops::SquareRoot;
            let r = n.sqrt();
            (&r * &r == *n).then_some(r)
        };
        let big = self.big();
        let numerator = UBig::try_from(big.numerator().clone()).ok()?;
        Some(Self::of(RBig::from_parts(IBig::from(root(&numerator)?), root(big.denominator())?)))
    }

    /// The numerator of the lowest terms, in decimal digits.
    #[must_use]
    pub fn numerator_text(&self) -> String {
        self.big().numerator().to_string()
    }

    /// Bits in numerator and denominator together: a measure of how unwieldy the number has become.
    #[must_use]
    pub fn bits(&self) -> usize {
        use dashu_int::ops::BitTest;
        let big = self.big();
        big.numerator().bit_len() + big.denominator().bit_len()
    }

    /// The whole multiple of `10^-decimals` that `rounding` chooses.
    #[must_use]
    pub fn rounded(&self, decimals: u32, rounding: Rounding) -> Self {
        let scale = ten_to_the(decimals);
        let scaled = self * &scale;
        let half = Self::ONE / Self::from(2);
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
        let mut rest = self.big().denominator().clone();
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
        let scale = ten_to_the(decimals);
        let whole = (self.rounded(decimals, Rounding::Nearest) * scale).abs();
        let digits = format!("{:0>width$}", whole.numerator_text(), width = decimals as usize + 1);
        let (left, right) = digits.split_at(digits.len() - decimals as usize);
        let sign = if self.signum() < 0 && !whole.is_zero() { "-" } else { "" };
        if right.is_empty() { format!("{sign}{left}") } else { format!("{sign}{left}.{right}") }
    }
}

/// `10^exponent`, where that is short.
fn power_of_ten(exponent: usize) -> Option<i64> {
    10_i64.checked_pow(u32::try_from(exponent).ok()?)
}

fn ten_to_the(exponent: u32) -> Rational {
    match power_of_ten(exponent as usize) {
        Some(power) => Rational::from(power),
        None => Rational::of(RBig::from(UBig::from(10u8).pow(exponent as usize))),
    }
}

impl From<i64> for Rational {
    fn from(value: i64) -> Self {
        match Small::in_lowest_terms(value.into(), 1) {
            Some(short) => Self(Form::Short(short)),
            None => Self::of(RBig::from(value)),
        }
    }
}

impl From<i32> for Rational {
    fn from(value: i32) -> Self {
        Self::from(i64::from(value))
    }
}

impl Ord for Rational {
    fn cmp(&self, other: &Self) -> Ordering {
        match (&self.0, &other.0) {
            (Form::Short(a), Form::Short(b)) => a.cmp(b),
            (Form::Short(_) | Form::Long(_), _) => self.big().cmp(&other.big()),
        }
    }
}

impl PartialOrd for Rational {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

macro_rules! operator {
    ($trait:ident, $method:ident, $short:path, $op:tt) => {
        impl $trait for &Rational {
            type Output = Rational;
            fn $method(self, other: Self) -> Rational {
                self.combined(other, $short, |a, b| a $op b)
            }
        }
        impl $trait for Rational {
            type Output = Self;
            fn $method(self, other: Self) -> Self {
                &self $op &other
            }
        }
        impl $trait<&Rational> for Rational {
            type Output = Self;
            fn $method(self, other: &Self) -> Self {
                &self $op other
            }
        }
    };
}
operator!(Add, add, Small::plus, +);
operator!(Sub, sub, Small::minus, -);
operator!(Mul, mul, Small::times, *);
// Division by 0 is a bug of the caller: ask `is_zero` or use `recip` first.
operator!(Div, div, Small::over, /);

impl AddAssign<&Rational> for Rational {
    fn add_assign(&mut self, other: &Self) {
        *self = &*self + other;
    }
}

impl SubAssign<&Rational> for Rational {
    fn sub_assign(&mut self, other: &Self) {
        *self = &*self - other;
    }
}

impl MulAssign<&Rational> for Rational {
    fn mul_assign(&mut self, other: &Self) {
        *self = &*self * other;
    }
}

impl Neg for Rational {
    type Output = Self;
    fn neg(self) -> Self {
        match self.0 {
            Form::Short(short) => Self(Form::Short(short.negated())),
            Form::Long(big) => Self::of(-*big),
        }
    }
}

/// `p/q`, or `p` for a whole number: exact, and read back by [`Rational::from_fraction`].
impl fmt::Display for Rational {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Form::Short(short) if short.denominator() == 1 => short.numerator().fmt(f),
            Form::Short(_) | Form::Long(_) => self.big().fmt(f),
        }
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

    /// Numbers on both sides of where the short form ends.
    fn samples() -> Vec<Rational> {
        let ends =
            [i64::MAX, i64::MAX - 1, i64::MIN, i64::MIN + 1, 1 << 62, 3_037_000_500, 1_000_003, 7, 2, 1];
        let mut all = vec![Rational::ZERO];
        for p in ends {
            for q in ends {
                let value = Rational::ratio(p, q).unwrap();
                all.push(&value * &value);
                all.extend([-value.clone(), value]);
            }
        }
        all
    }

    #[test]
    fn short_and_long_numbers_follow_the_same_arithmetic() {
        let all = samples();
        for a in &all {
            let long = a.big().into_owned();
            assert_eq!(a.to_f64(), long.to_f64().value(), "{a}");
            assert_eq!(a.floor().to_string(), long.floor().to_string(), "{a}");
            assert_eq!(a.ceil().to_string(), long.ceil().to_string(), "{a}");
            assert_eq!(a.to_string(), long.to_string());
            assert_eq!(a.bits(), (a + &Rational::ZERO).bits());
            for b in &all {
                let other = b.big().into_owned();
                assert_eq!(a + b, Rational::of(&long + &other), "{a} + {b}");
                assert_eq!(a - b, Rational::of(&long - &other), "{a} - {b}");
                assert_eq!(a * b, Rational::of(&long * &other), "{a} * {b}");
                assert_eq!(a.cmp(b), long.cmp(&other), "{a} and {b}");
                if !b.is_zero() {
                    assert_eq!(a / b, Rational::of(&long / &other), "{a} / {b}");
                }
            }
        }
    }

    #[test]
    fn each_number_has_one_form() {
        for a in samples() {
            assert_eq!(&(&a + &Rational::ONE) - &Rational::ONE, a);
            assert_eq!(Rational::of(a.big().into_owned()), a);
            assert_eq!(-(-a.clone()), a);
        }
    }

    #[test]
    fn floats_are_taken_exactly() {
        for value in
            [0.1, -0.75, 1e300, -5e-324, 3.0, 9_007_199_254_740_993.0, 1e-17, 4.611_686_018_427_388e18]
        {
            let exact = Rational::from_f64(value).unwrap();
            assert_eq!(exact, Rational::of(RBig::try_from(value).unwrap()));
            assert_eq!(exact.to_f64(), value);
        }
        assert_eq!(Rational::from_f64(f64::NAN), None);
        assert_eq!(Rational::from_f64(f64::INFINITY), None);
        assert_eq!(Rational::from_f64(-0.0), Some(Rational::ZERO));
    }
}
