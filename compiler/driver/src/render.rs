//! From findings and reports to what is printed: text for people, JSON for programs.

pub mod human;
pub mod json;
pub mod summary;

/// How text for people is to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// With colours.
    pub colour: bool,
    /// Columns of the terminal.
    pub width: usize,
}

impl Look {
    /// What tests and files get.
    pub const PLAIN: Self = Self { colour: false, width: 100 };
}
