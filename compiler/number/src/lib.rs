//! Numbers of the trade: exact rationals, rigorous intervals, dimensions and units, decimal printing.
//!
//! Nothing here knows the language or the controller. An exact [`Rational`] decides; an [`Interval`]
//! encloses; a bare `f64` may only propose.

mod dimension;
mod enclosure;
mod interval;
mod rational;
mod small;
mod unit;

pub use dimension::Dimension;
pub use enclosure::{Enclosure, End};
pub use interval::Interval;
pub use rational::{Rational, Rounding};
pub use unit::{Quantity, Unit};
