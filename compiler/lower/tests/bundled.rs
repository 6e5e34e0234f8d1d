//! The bundled library and the first samples lower without a finding.

use std::path::Path;
use std::sync::Arc;

use borewright_base::{Diagnostics, FileId, SourceMap};
use borewright_check::{Loader, check};
use borewright_lower::{called, lower};
use borewright_motion::Motion;
use borewright_syntax::{ast, parse};

/// Reads `NAME.bore` from the library's folder.
struct Library;

impl Loader for Library {
    fn load(&self, name: &str) -> Option<Arc<ast::File>> {
        let text = text(&format!("stdlib/{name}.bore"));
        Some(Arc::new(parse(FileId(1), &text).0))
    }
}

fn text(path: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    #[allow(clippy::disallowed_methods, reason = "a test reads the repository's own files")]
    std::fs::read_to_string(root.join(path)).unwrap()
}

fn motions(path: &str) -> Vec<Arc<Motion>> {
    let text = text(path);
    let (file, mut found) = parse(FileId(0), &text);
    let (checked, more) = check(&file, FileId(0), &Library);
    found.append(more);
    let (motions, more) = lower(&checked);
    found.append(more);
    assert_eq!(said(path, &text, found), Vec::<String>::new());
    motions
}

fn said(path: &str, text: &str, found: Diagnostics) -> Vec<String> {
    let mut map = SourceMap::default();
    map.add(path, text);
    found
        .into_sorted()
        .into_iter()
        .map(|d| {
            let at = d.span.and_then(|s| map.locate(s)).map(|(_, start, _)| (start.line, start.column));
            format!("{} {:?} {}", d.code.number, at, d.message)
        })
        .collect()
}

#[test]
fn the_library_lowers() {
    let motions = motions("stdlib/bores.bore");
    assert!(motions.len() >= 3);
    println!("{:#?}", motions[0]);
}

#[test]
fn the_samples_lower_and_share_the_routines_they_call() {
    for path in ["samples/gearbox_seats.bore", "samples/guide_bush.bore"] {
        let motions = motions(path);
        assert_eq!(motions.len(), 1, "{path}");
        assert_eq!(called(&motions).len(), 1, "{path}");
    }
}
