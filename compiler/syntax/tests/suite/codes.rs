//! Every code has a page, and the example on the page gives that code and no other.

use borewright_base::pages::{astray, misshapen};
use borewright_syntax::errors::ALL;

use crate::common::codes;

#[test]
fn every_page_has_its_headings() {
    assert_eq!(misshapen(ALL), Vec::<String>::new());
    assert!(ALL.iter().all(|code| code.number.starts_with("S01") && code.number.len() == 5));
}

#[test]
fn every_example_gives_exactly_its_code() {
    let wrong = astray(ALL, |_, blocks| {
        let example = blocks.first().map(|b| b.text.as_str()).unwrap_or_default();
        codes(example).into_iter().map(str::to_owned).collect()
    });
    assert_eq!(wrong, Vec::<String>::new());
}
