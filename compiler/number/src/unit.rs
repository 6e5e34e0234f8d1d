//! Units and quantities: every unit is an exact multiple of the base units millimetre, degree and minute.

use std::fmt;

use crate::{Dimension, Rational};

/// A unit that may follow a number in a source text or on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    /// `mm`
    Millimetre,
    /// `in`: exactly 25.4 mm
    Inch,
    /// `m`
    Metre,
    /// `ft`: exactly 12 in
    Foot,
    /// `deg`
    Degree,
    /// `s`
    Second,
    /// `min`
    Minute,
    /// `rpm`
    Rpm,
    /// `mm/min`
    MillimetrePerMinute,
    /// `in/min`
    InchPerMinute,
    /// `m/min`
    MetrePerMinute,
    /// `ft/min`
    FootPerMinute,
}

/// A number with its dimension, in base units (mm, degree, minute).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quantity {
    /// Value in base units.
    pub value: Rational,
    /// What it measures.
    pub dimension: Dimension,
}

impl Unit {
    /// All units, in the order in which messages list them.
    pub const ALL: [Self; 12] = [
        Self::Millimetre,
        Self::Inch,
        Self::Metre,
        Self::Foot,
        Self::Degree,
        Self::Second,
        Self::Minute,
        Self::Rpm,
        Self::MillimetrePerMinute,
        Self::InchPerMinute,
        Self::MetrePerMinute,
        Self::FootPerMinute,
    ];

    /// The unit's spelling.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
            Self::Metre => "m",
            Self::Foot => "ft",
            Self::Degree => "deg",
            Self::Second => "s",
            Self::Minute => "min",
            Self::Rpm => "rpm",
            Self::MillimetrePerMinute => "mm/min",
            Self::InchPerMinute => "in/min",
            Self::MetrePerMinute => "m/min",
            Self::FootPerMinute => "ft/min",
        }
    }

    /// The unit of that spelling.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|u| u.name() == name)
    }

    /// What the unit measures.
    #[must_use]
    pub fn dimension(self) -> Dimension {
        match self {
            Self::Millimetre | Self::Inch | Self::Metre | Self::Foot => Dimension::LENGTH,
            Self::Degree => Dimension::ANGLE,
            Self::Second | Self::Minute => Dimension::TIME,
            Self::Rpm => Dimension::SPEED,
            Self::MillimetrePerMinute | Self::InchPerMinute | Self::MetrePerMinute | Self::FootPerMinute => {
                Dimension::FEED
            }
        }
    }

    /// The unit in base units: 1 in is 127/5 mm.
    #[must_use]
    pub fn factor(self) -> Rational {
        let inch = || Rational::from(127) / Rational::from(5);
        match self {
            Self::Millimetre | Self::Degree | Self::Minute | Self::Rpm | Self::MillimetrePerMinute => {
                Rational::ONE
            }
            Self::Inch | Self::InchPerMinute => inch(),
            Self::Metre | Self::MetrePerMinute => Rational::from(1000),
            Self::Foot | Self::FootPerMinute => inch() * Rational::from(12),
            Self::Second => Rational::ONE / Rational::from(60),
        }
    }

    /// The unit a person of that trade reads lengths, feeds, angles... in: inch or metric.
    #[must_use]
    pub fn customary(dimension: Dimension, inch: bool) -> Option<Self> {
        match (dimension, inch) {
            (Dimension::LENGTH, false) => Some(Self::Millimetre),
            (Dimension::LENGTH, true) => Some(Self::Inch),
            (Dimension::FEED, false) => Some(Self::MillimetrePerMinute),
            (Dimension::FEED, true) => Some(Self::InchPerMinute),
            (Dimension::ANGLE, _) => Some(Self::Degree),
            (Dimension::TIME, _) => Some(Self::Second),
            (Dimension::SPEED, _) => Some(Self::Rpm),
            _ => None,
        }
    }
}

impl Quantity {
    /// `number unit`, as written.
    #[must_use]
    pub fn new(number: &Rational, unit: Unit) -> Self {
        Self { value: number * &unit.factor(), dimension: unit.dimension() }
    }

    /// A plain ratio or count.
    #[must_use]
    pub fn plain(number: Rational) -> Self {
        Self { value: number, dimension: Dimension::RATIO }
    }

    /// Reads `50mm`, `-0.25in`, `24in/min`, `4`: a decimal number and a unit that touches it.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let split = text.find(|c: char| c.is_ascii_alphabetic()).unwrap_or(text.len());
        let (number, unit) = text.split_at(split);
        let number = Rational::from_decimal(number)?;
        if unit.is_empty() {
            return Some(Self::plain(number));
        }
        Some(Self::new(&number, Unit::from_name(unit)?))
    }

    /// Text in the customary unit, exact where the decimal ends within 6 places: `12.7mm`, `0.5in`, `30deg`.
    #[must_use]
    pub fn text(&self, inch: bool) -> String {
        match Unit::customary(self.dimension, inch) {
            Some(unit) => {
                let number = &self.value / &unit.factor();
                format!("{}{}", number.decimal_text(6), unit.name())
            }
            None => self.value.decimal_text(6),
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inch_is_exactly_25_4_mm() {
        assert_eq!(Quantity::parse("1in"), Quantity::parse("25.4mm"));
        assert_eq!(Quantity::parse("24in/min"), Quantity::parse("609.6mm/min"));
    }

    #[test]
    fn text_uses_the_customary_unit() {
        let half = Quantity::parse("0.5in").unwrap();
        assert_eq!((half.text(true), half.text(false)), ("0.5in".to_owned(), "12.7mm".to_owned()));
    }
}
