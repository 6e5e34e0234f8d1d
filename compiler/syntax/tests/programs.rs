//! Whole programs are read without a complaint.

use borewright_base::FileId;
use borewright_syntax::parse;

#[test]
fn every_program_parses() {
    for path in std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/programs")).unwrap() {
        let path = path.unwrap().path();
        #[expect(clippy::disallowed_methods, reason = "a test reads its own data")]
        let text = std::fs::read_to_string(&path).unwrap();
        let (tree, diagnostics) = parse(FileId(0), &text);
        let found: Vec<_> = diagnostics.iter().collect();
        assert!(found.is_empty(), "{path:?}: {found:#?}");
        assert!(!tree.items.is_empty());
    }
}
