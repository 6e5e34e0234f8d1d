//! Rigorous intervals of floats: every operation rounds outwards.

/// A closed interval `lo..=hi`; an end may be infinite. Never NaN.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
}
