//! Every code has a page, and the page's example gives exactly that code.

mod written;

use borewright_base::{Code, pages};
use borewright_proof::{Lints, Settings, codes, errors, review};

/// The codes that an example gives; what costs a search of its own is looked for only on its own page.
fn found(code: Code, blocks: &[pages::Fenced<'_>]) -> Vec<String> {
    let lints = Lints { weaker: code == codes::REQUIREMENT_COULD_BE_WEAKER, ..Lints::default() };
    let settings = Settings { lints, ..Settings::default() };
    let example = blocks.first().map(|b| b.text.as_str()).unwrap_or_default();
    let mut numbers = Vec::new();
    for (motion, mut verdicts) in written::settled(example) {
        if verdicts.proved.is_some() {
            review(&motion, &mut verdicts, &settings);
        }
        for diagnostic in errors::findings(&motion, &verdicts).iter() {
            println!("{} {}", diagnostic.code.number, diagnostic.message);
            numbers.push(diagnostic.code.number.to_owned());
        }
    }
    numbers
}

#[test]
fn each_example_gives_exactly_its_code() {
    let wrong = pages::astray(codes::ALL, |code: &Code, blocks| {
        let mut numbers = found(*code, blocks);
        // A caller of what is not proved: that has a finding of its own.
        if *code == codes::UNPROVED_CALLEE {
            assert!(numbers.iter().any(|n| n == "P0415"), "{numbers:?}");
            numbers.retain(|n| n != "P0415");
        }
        numbers
    });
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn each_page_has_its_headings() {
    assert_eq!(pages::misshapen(codes::ALL), Vec::<String>::new());
}
