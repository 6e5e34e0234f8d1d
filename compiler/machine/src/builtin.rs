//! The machines that are built in, named by what they are.

use borewright_base::FileId;

use crate::{Machine, read};

/// Name and text of each built-in machine file.
pub const BUILTIN: [(&str, &str); 6] = [
    ("blocks-calls-mm", include_str!("../machines/blocks-calls-mm.toml")),
    ("blocks-inch", include_str!("../machines/blocks-inch.toml")),
    ("blocks-mm", include_str!("../machines/blocks-mm.toml")),
    ("hash-inch", include_str!("../machines/hash-inch.toml")),
    ("hash-mm", include_str!("../machines/hash-mm.toml")),
    ("rs274ngc", include_str!("../machines/rs274ngc.toml")),
];

impl Machine {
    /// The built-in machine of that name.
    #[must_use]
    pub fn builtin(name: &str) -> Option<Self> {
        // The tests hold that every built-in text is a machine.
        read::parse(FileId::default(), Self::builtin_text(name)?).ok()
    }

    /// The text of the built-in machine file of that name.
    #[must_use]
    pub fn builtin_text(name: &str) -> Option<&'static str> {
        BUILTIN.iter().find(|(n, _)| *n == name).map(|(_, text)| *text)
    }

    /// The names of the built-in machines, in order.
    pub fn builtin_names() -> impl Iterator<Item = &'static str> {
        BUILTIN.iter().map(|(name, _)| *name)
    }
}
