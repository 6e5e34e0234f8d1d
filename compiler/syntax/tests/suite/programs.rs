//! Whole programs: the language's own examples.

use borewright_base::FileId;
use borewright_syntax::{format, parse};
use pretty_assertions::assert_eq;

macro_rules! programs {
    ($($name:ident)*) => {
        /// Name and text of every program.
        pub const PROGRAMS: &[(&str, &str)] =
            &[$((stringify!($name), include_str!(concat!("programs/", stringify!($name), ".bore")))),*];
    };
}

programs! {
    finish_bore helix_bore rough_and_open_bore counterbore thread_mill mill_boss ring_groove seat_circle
    gearbox_seats cover_family speeds
}

#[test]
fn every_program_parses_without_complaint() {
    for (name, text) in PROGRAMS {
        let (tree, diagnostics) = parse(FileId(0), text);
        assert_eq!(diagnostics.into_sorted(), [], "{name}");
        assert!(!tree.items.is_empty(), "{name}");
    }
}

#[test]
fn every_program_is_in_canonical_form() {
    for (name, text) in PROGRAMS {
        assert_eq!(format(FileId(0), text).ok().as_deref(), Some(*text), "{name}");
    }
}

#[test]
fn the_tree_of_a_small_program() {
    let text = "/// A bore.\nroutine seat(\n    bore: length as B in 20mm..3in = 1.5in, /// finished\n)\n\
        requires bore > 1 + 2 * -x.y else \"NO\"\n{\n    arc ccw to (bore / 2 at 90deg) z 0 about centre\n}\n";
    insta::assert_snapshot!(format!("{text}----\n{:#?}", parse(FileId(0), text).0));
}
