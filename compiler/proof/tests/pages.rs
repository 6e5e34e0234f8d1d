//! Every code has a page, and the page's example gives exactly that code.

mod written;

use borewright_proof::{codes, errors};

#[test]
fn each_example_gives_exactly_its_code() {
    let mut wrong = Vec::new();
    for code in codes::ALL {
        let found = example_codes(code.page);
        // A caller of what is not proved: that has a finding of its own.
        let expected =
            if *code == codes::UNPROVED_CALLEE { vec!["P0415", "P0431"] } else { vec![code.number] };
        if found != expected {
            wrong.push((code.number, found));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn each_page_is_headed_by_number_and_name() {
    for code in codes::ALL {
        let head = format!("# {} {}", code.number, code.name);
        assert_eq!(code.page.lines().next(), Some(head.as_str()));
        for heading in ["## What it means", "## Example", "## What to do"] {
            assert!(code.page.contains(heading), "{} has no `{heading}`", code.number);
        }
    }
}

/// The codes that the example of a page gives, each once.
fn example_codes(page: &str) -> Vec<&'static str> {
    let example = page.split("```bore\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    let mut numbers = Vec::new();
    for (motion, verdicts) in written::settled(example) {
        for diagnostic in errors::findings(&motion, &verdicts).iter() {
            println!("{} {}", diagnostic.code.number, diagnostic.message);
            numbers.push(diagnostic.code.number);
        }
    }
    numbers.sort_unstable();
    numbers.dedup();
    numbers
}
