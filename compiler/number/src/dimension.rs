//! Dimensions: length, angle and time, with whole exponents.

use std::fmt;

/// The dimension of a quantity: `length^a * angle^b * time^c`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Dimension {
    /// Exponent of length (base unit: millimetre).
    pub length: i8,
    /// Exponent of angle (base unit: degree).
    pub angle: i8,
    /// Exponent of time (base unit: minute).
    pub time: i8,
}

impl Dimension {
    /// A plain ratio or count.
    pub const RATIO: Self = Self { length: 0, angle: 0, time: 0 };
    /// `12mm`
    pub const LENGTH: Self = Self { length: 1, angle: 0, time: 0 };
    /// `30deg`
    pub const ANGLE: Self = Self { length: 0, angle: 1, time: 0 };
    /// `2s`
    pub const TIME: Self = Self { length: 0, angle: 0, time: 1 };
    /// `400mm/min`; also a cutting speed.
    pub const FEED: Self = Self { length: 1, angle: 0, time: -1 };
    /// `1200rpm`: turns have no dimension.
    pub const SPEED: Self = Self { length: 0, angle: 0, time: -1 };

    /// The dimension of a product; `None` when an exponent leaves its range.
    #[must_use]
    pub fn times(self, other: Self) -> Option<Self> {
        Some(Self {
            length: self.length.checked_add(other.length)?,
            angle: self.angle.checked_add(other.angle)?,
            time: self.time.checked_add(other.time)?,
        })
    }

    /// The dimension of a quotient; `None` when an exponent leaves its range.
    #[must_use]
    pub fn over(self, other: Self) -> Option<Self> {
        Some(Self {
            length: self.length.checked_sub(other.length)?,
            angle: self.angle.checked_sub(other.angle)?,
            time: self.time.checked_sub(other.time)?,
        })
    }

    /// The dimension of a square root; `None` when an exponent is odd.
    #[must_use]
    pub fn root(self) -> Option<Self> {
        let half = |e: i8| (e % 2 == 0).then_some(e / 2);
        Some(Self { length: half(self.length)?, angle: half(self.angle)?, time: half(self.time)? })
    }
}

/// The name a programmer would use: `length`, `feed`, `length * length / time`.
impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known = [
            (Self::RATIO, "ratio"),
            (Self::LENGTH, "length"),
            (Self::ANGLE, "angle"),
            (Self::TIME, "time"),
            (Self::FEED, "feed"),
            (Self::SPEED, "speed"),
        ];
        if let Some((_, name)) = known.iter().find(|(d, _)| d == self) {
            return f.write_str(name);
        }
        let parts = [("length", self.length), ("angle", self.angle), ("time", self.time)];
        let list = |sign: i8| -> Vec<&str> {
            parts
                .iter()
                .flat_map(|(name, e)| {
                    let times = if e.signum() == sign { e.unsigned_abs() } else { 0 };
                    std::iter::repeat_n(*name, usize::from(times))
                })
                .collect()
        };
        let (above, below) = (list(1), list(-1));
        f.write_str(if above.is_empty() { "1" } else { "" })?;
        f.write_str(&above.join(" * "))?;
        for name in below {
            write!(f, " / {name}")?;
        }
        Ok(())
    }
}
