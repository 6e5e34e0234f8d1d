//! The way of a routine, top to bottom.

use borewright_base::{Diagnostic, Diagnostics, SourceMap};

use crate::host::Host;
use crate::load::{Loaded, load};

/// What `check` found.
#[derive(Debug)]
pub struct Report {
    /// The texts.
    pub sources: SourceMap,
    /// Everything found, sorted by place.
    pub found: Vec<Diagnostic>,
}

/// Types and proves everything at and below the paths.
#[must_use]
pub fn check(host: &dyn Host, paths: &[String]) -> Report {
    let mut found = Diagnostics::default();
    let loaded = load(host, paths, &mut found);
    type_all(&loaded, &mut found);
    Report { sources: loaded.sources, found: found.into_sorted() }
}

/// Trees to typed routines.
fn type_all(loaded: &Loaded, found: &mut Diagnostics) {
    for file in &loaded.asked {
        let Some(tree) = loaded.tree(*file) else { continue };
        let (_, faults) = borewright_check::check(tree, *file, &loaded.beside(*file));
        found.append(faults);
    }
}
