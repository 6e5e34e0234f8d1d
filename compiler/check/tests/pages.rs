//! Every code has a page, and the page's example gives exactly that code.

use borewright_base::{FileId, pages};
use borewright_check::{check, codes};
use borewright_syntax::parse;
use pretty_assertions::assert_eq;

#[test]
fn each_example_gives_exactly_its_code() {
    let wrong = pages::astray(codes::ALL, |_, blocks| {
        let file = FileId(0);
        let example = blocks.first().map(|b| b.text.as_str()).unwrap_or_default();
        let (tree, mut found) = parse(file, example);
        found.append(check(&tree, file, &()).1);
        found.iter().map(|d| d.code.number.to_owned()).collect()
    });
    assert_eq!(wrong, Vec::<String>::new());
}

#[test]
fn each_page_has_its_headings() {
    assert_eq!(pages::misshapen(codes::ALL), Vec::<String>::new());
}
