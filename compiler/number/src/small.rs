//! Quotients of two machine words: the short form of rational numbers.

use std::cmp::Ordering;
use std::num::NonZeroU64;

/// A number in lowest terms, with a positive denominator; both parts are at most `i64::MAX` in size, so that products
/// of two parts and their sums fit in 128 bits.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Small {
    numerator: i64,
    denominator: NonZeroU64,
}

impl Small {
    pub(crate) const ZERO: Self = Self { numerator: 0, denominator: NonZeroU64::MIN };
    pub(crate) const ONE: Self = Self { numerator: 1, denominator: NonZeroU64::MIN };

    pub(crate) fn numerator(self) -> i64 {
        self.numerator
    }

    /// Positive.
    pub(crate) fn denominator(self) -> i64 {
        i64::try_from(self.denominator.get()).unwrap_or(i64::MAX)
    }

    /// Of parts without a common divisor, the second one positive; `None` where they don't fit.
    pub(crate) fn in_lowest_terms(numerator: i128, denominator: i128) -> Option<Self> {
        let numerator = i64::try_from(numerator).ok().filter(|n| *n != i64::MIN)?;
        let denominator = u64::try_from(i64::try_from(denominator).ok()?).ok()?;
        Some(Self { numerator, denominator: NonZeroU64::new(denominator)? })
    }

    /// The quotient of two numbers, the second one positive.
    pub(crate) fn reduced(numerator: i64, denominator: i64) -> Option<Self> {
        let common = gcd(numerator.unsigned_abs(), denominator.unsigned_abs());
        Self::in_lowest_terms(
            i128::from(numerator) / i128::from(common),
            i128::from(denominator) / i128::from(common),
        )
    }

    pub(crate) fn negated(self) -> Self {
        Self { numerator: -self.numerator, denominator: self.denominator }
    }

    pub(crate) fn plus(self, other: Self) -> Option<Self> {
        if self.denominator == NonZeroU64::MIN && other.denominator == NonZeroU64::MIN {
            return Self::in_lowest_terms(i128::from(self.numerator) + i128::from(other.numerator), 1);
        }
        // What the denominators have in common is all that the sum can lose (Knuth, The Art of Computer Programming,
        // 4.5.1).
        let common = gcd(self.denominator.get(), other.denominator.get());
        let (left, right) = (self.denominator.get() / common, other.denominator.get() / common);
        let sum =
            i128::from(self.numerator) * i128::from(right) + i128::from(other.numerator) * i128::from(left);
        let rest = u64::try_from(sum.unsigned_abs() % u128::from(common)).ok()?;
        let lost = gcd(rest, common);
        let denominator = i128::from(left) * i128::from(other.denominator.get() / lost);
        Self::in_lowest_terms(sum / i128::from(lost), denominator)
    }

    pub(crate) fn minus(self, other: Self) -> Option<Self> {
        self.plus(other.negated())
    }

    pub(crate) fn times(self, other: Self) -> Option<Self> {
        let across = gcd(self.numerator.unsigned_abs(), other.denominator.get());
        let back = gcd(other.numerator.unsigned_abs(), self.denominator.get());
        let (across_signed, back_signed) = (i64::try_from(across).ok()?, i64::try_from(back).ok()?);
        let numerator =
            i128::from(self.numerator / across_signed) * i128::from(other.numerator / back_signed);
        let denominator =
            i128::from(self.denominator.get() / back) * i128::from(other.denominator.get() / across);
        Self::in_lowest_terms(numerator, denominator)
    }

    /// `None` also for a divisor 0.
    pub(crate) fn over(self, other: Self) -> Option<Self> {
        let size = NonZeroU64::new(other.numerator.unsigned_abs())?;
        let sign = other.numerator.signum();
        let inverse = Self { numerator: sign * other.denominator(), denominator: size };
        self.times(inverse)
    }

    /// The square root, where it is rational; of a number that is not negative.
    pub(crate) fn exact_sqrt(self) -> Option<Self> {
        let root = |n: u64| {
            let root = n.isqrt();
            (root * root == n).then_some(i128::from(root))
        };
        Self::in_lowest_terms(root(self.numerator.unsigned_abs())?, root(self.denominator.get())?)
    }

    /// The nearest float, where one division of exact parts gives it.
    pub(crate) fn to_f64(self) -> Option<f64> {
        const EXACT: u64 = 1 << 53;
        let fits = self.numerator.unsigned_abs() <= EXACT && self.denominator.get() <= EXACT;
        fits.then(|| as_float(self.numerator) / as_float(self.denominator()))
    }

    /// The exact value of a float, where it is short.
    pub(crate) fn from_f64(value: f64) -> Option<Self> {
        const FRACTION: u32 = 52;
        let bits = value.to_bits();
        let exponent = i32::try_from((bits >> FRACTION) & 0x7ff).ok()?;
        if exponent == 0 {
            return (value == 0.0).then_some(Self::ZERO);
        }
        let fraction = (bits & ((1 << FRACTION) - 1)) | (1 << FRACTION);
        // value = fraction * 2^power, and the fraction is made odd.
        let zeros = fraction.trailing_zeros();
        let size = i128::from(fraction >> zeros);
        let power = exponent - 1075 + i32::try_from(zeros).ok()?;
        let size = if value < 0.0 { -size } else { size };
        match power {
            0..=62 => Self::in_lowest_terms(size << power, 1),
            -62..=-1 => Self::in_lowest_terms(size, 1 << -power),
            _ => None,
        }
    }
}

/// Exact up to 2^53 in size.
fn as_float(value: i64) -> f64 {
    value as f64
}

impl Ord for Small {
    fn cmp(&self, other: &Self) -> Ordering {
        if self.denominator == other.denominator {
            return self.numerator.cmp(&other.numerator);
        }
        let left = i128::from(self.numerator) * i128::from(other.denominator.get());
        left.cmp(&(i128::from(other.numerator) * i128::from(self.denominator.get())))
    }
}

impl PartialOrd for Small {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// The greatest common divisor (Stein's way, by halving); that of 0 and a is a.
fn gcd(mut a: u64, mut b: u64) -> u64 {
    if a == 1 || b == 1 {
        return 1;
    }
    if a == 0 || b == 0 {
        return a | b;
    }
    let twos = (a | b).trailing_zeros();
    a >>= a.trailing_zeros();
    loop {
        b >>= b.trailing_zeros();
        if a > b {
            std::mem::swap(&mut a, &mut b);
        }
        b -= a;
        if b == 0 {
            return a << twos;
        }
    }
}
