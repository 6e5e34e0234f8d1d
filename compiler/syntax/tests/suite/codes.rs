//! Every code has a page, and the example on the page gives that code and no other.

use borewright_syntax::errors::ALL;

use crate::common::{codes, complaints};

#[test]
fn every_page_has_its_headings() {
    for code in ALL {
        let headings: Vec<_> = code.page.lines().filter(|line| line.starts_with('#')).collect();
        let title = format!("# {} {}", code.number, code.name);
        assert_eq!(headings, [title.as_str(), "## What it means", "## Example", "## What to do"]);
    }
}

#[test]
fn every_example_gives_exactly_its_code() {
    for code in ALL {
        let (_, rest) = code.page.split_once("```bore\n").expect("an example");
        let (example, _) = rest.split_once("```").expect("an end");
        assert_eq!(codes(example), [code.number], "{}", complaints(example));
    }
}

#[test]
fn numbers_and_names_are_used_once() {
    for (i, code) in ALL.iter().enumerate() {
        let others = ALL.iter().skip(i + 1);
        assert!(others.clone().all(|other| other.number != code.number && other.name != code.name));
        assert!(code.number.starts_with("S01") && code.number.len() == 5);
    }
}
