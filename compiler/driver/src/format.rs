//! From source texts to their canonical form: what `fmt` does.

use borewright_base::{Diagnostic, Diagnostics, SourceMap};

use crate::errors;
use crate::host::Host;
use crate::load::{decode, search};

/// What `fmt` found.
#[derive(Debug)]
pub struct Formatted {
    /// The texts.
    pub sources: SourceMap,
    /// Why a text was left alone.
    pub found: Vec<Diagnostic>,
    /// Path and canonical text of every file that is not in it already.
    pub changed: Vec<(String, String)>,
    /// How many files there are.
    pub count: usize,
}

/// Formats all texts at and below the paths. A text with errors is left alone.
#[must_use]
pub fn format(host: &dyn Host, paths: &[String]) -> Formatted {
    let (mut sources, mut found, mut changed) = (SourceMap::default(), Diagnostics::default(), Vec::new());
    let files = search(host, paths, &mut found);
    let count = files.len();
    for path in files {
        if let Some(text) = one(host, &path, &mut sources, &mut found) {
            changed.push((path, text));
        }
    }
    Formatted { sources, found: found.into_sorted(), changed, count }
}

fn one(host: &dyn Host, path: &str, sources: &mut SourceMap, found: &mut Diagnostics) -> Option<String> {
    let bytes = match host.read(path) {
        Ok(bytes) => bytes,
        Err(trouble) => {
            let _said = found.report(errors::trouble(path, &trouble));
            return None;
        }
    };
    let text = decode(path, &bytes, sources, found)?;
    let file = sources.add(path, text.as_str());
    match borewright_syntax::format(file, &text) {
        Ok(formatted) => (formatted.as_bytes() != bytes).then_some(formatted),
        Err(faults) => {
            found.append(faults);
            None
        }
    }
}
