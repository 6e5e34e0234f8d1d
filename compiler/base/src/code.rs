//! Codes: each diagnostic has a number, a readable name and a page.

/// The identity of one kind of diagnostic.
#[derive(Debug, Clone, Copy)]
pub struct Code {
    /// `S0103`: a letter for the phase and four digits; never reused.
    pub number: &'static str,
    /// `unclosed-bracket`: names the problem, never the cure.
    pub name: &'static str,
    /// The page that `explain` prints, in Markdown.
    pub page: &'static str,
}

impl PartialEq for Code {
    fn eq(&self, other: &Self) -> bool {
        self.number == other.number
    }
}
impl Eq for Code {}

/// Declares the codes of one phase: a constant each, and `ALL`. The page of `S0103` is `codes/S0103.md`
/// beside the crate's `src`.
///
/// ```ignore
/// borewright_base::codes! {
///     /// `(1 + 2`
///     UNCLOSED_BRACKET = "S0103" "unclosed-bracket";
/// }
/// ```
#[macro_export]
macro_rules! codes {
    ($($(#[$doc:meta])* $constant:ident = $number:literal $name:literal;)*) => {
        $($(#[$doc])* pub const $constant: $crate::Code = $crate::Code {
            number: $number,
            name: $name,
            page: include_str!(concat!("../codes/", $number, ".md")),
        };)*
        /// Every code of this phase.
        pub const ALL: &[$crate::Code] = &[$($constant),*];
    };
}
