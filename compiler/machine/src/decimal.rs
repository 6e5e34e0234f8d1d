//! Decimal numbers of a machine file, kept exact.

use std::ops::Deref;

use borewright_number::Rational;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A number as the machine file states it: `0.002` is two thousandths, not the float next to it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Decimal(pub Rational);

impl Deref for Decimal {
    type Target = Rational;
    fn deref(&self) -> &Rational {
        &self.0
    }
}

impl Decimal {
    /// Reads decimal digits; 0 where there are none (only for texts of our own).
    pub(crate) fn of(text: &str) -> Self {
        Self(Rational::from_decimal(text).unwrap_or(Rational::ZERO))
    }
}

impl From<i32> for Decimal {
    fn from(value: i32) -> Self {
        Self(Rational::from(value))
    }
}

impl<'de> Deserialize<'de> for Decimal {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        // The shortest text that names a float is the text that was written, up to 15 digits.
        let value = f64::deserialize(deserializer)?;
        let exact = Rational::from_decimal(&value.to_string());
        exact.map(Self).ok_or_else(|| serde::de::Error::custom("expected a finite number"))
    }
}

impl Serialize for Decimal {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(self.0.to_f64())
    }
}

impl JsonSchema for Decimal {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Decimal".into()
    }
    fn inline_schema() -> bool {
        true
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "number" })
    }
}
