//! The library of routines that comes with the tool: texts in the language itself, embedded in the binary.
//! There is no logic here.

/// Name (as in `use NAME`) and text of every bundled file, sorted by name.
pub const FILES: &[(&str, &str)] = &[("bores", include_str!("../bores.bore"))];
