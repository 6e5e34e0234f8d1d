//! Motions from source texts, for tests.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test helpers fail by panicking")]

use std::sync::Arc;

use borewright_base::FileId;
use borewright_check::{Loader, check};
use borewright_motion::Motion;
use borewright_proof::{Proved, Settings, Verdicts, settle};
use borewright_syntax::{ast, parse};

/// The bundled files, each numbered by its place among them.
struct Bundled;

impl Loader for Bundled {
    fn load(&self, name: &str) -> Option<Arc<ast::File>> {
        let index = borewright_stdlib::FILES.iter().position(|(known, _)| *known == name)?;
        let (_, text) = borewright_stdlib::FILES[index];
        let (tree, _) = parse(FileId(100 + u32::try_from(index).unwrap()), text);
        Some(Arc::new(tree))
    }
}

/// Every motion of a text, callees before callers. Panics on what the front end refuses.
pub fn motions(text: &str) -> Vec<Arc<Motion>> {
    let (tree, mut found) = parse(FileId(0), text);
    let (checked, faults) = check(&tree, FileId(0), &Bundled);
    found.append(faults);
    let (own, faults) = borewright_lower::lower(&checked);
    found.append(faults);
    assert!(!found.has_errors(), "{:#?}", found.iter().collect::<Vec<_>>());
    let mut all = borewright_lower::called(&own);
    for motion in own {
        if !all.iter().any(|known| known.span == motion.span) {
            all.push(motion);
        }
    }
    all
}

/// Every motion of a text with its verdicts.
#[allow(dead_code, reason = "not every test file asks for it")]
pub fn settled(text: &str) -> Vec<(Arc<Motion>, Verdicts)> {
    let mut done: Vec<(Arc<Motion>, Verdicts)> = Vec::new();
    for motion in motions(text) {
        let proved: Vec<&Proved<Motion>> = done.iter().filter_map(|(_, v)| v.proved.as_ref()).collect();
        let verdicts = settle(&motion, &proved, &Settings::default());
        done.push((motion, verdicts));
    }
    done
}
