//! Every code has a page, and the page's example gives exactly that code.

use borewright_base::FileId;
use borewright_check::{check, codes};
use borewright_syntax::parse;
use pretty_assertions::assert_eq;

#[test]
fn each_example_gives_exactly_its_code() {
    let mut wrong = Vec::new();
    for code in codes::ALL {
        let found = example_codes(code.page);
        if found != [code.number] {
            wrong.push((code.number, found));
        }
    }
    assert_eq!(wrong, []);
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

#[test]
fn no_number_and_no_name_is_used_twice() {
    for (index, code) in codes::ALL.iter().enumerate() {
        let before = codes::ALL.iter().take(index);
        assert_eq!(
            before.filter(|c| c.number == code.number || c.name == code.name).count(),
            0,
            "{}",
            code.number
        );
    }
}

/// The codes that the example of a page gives, each once.
fn example_codes(page: &str) -> Vec<&'static str> {
    let example =
        page.split("```bore\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap_or_default();
    let file = FileId(0);
    let (tree, mut found) = parse(file, example);
    found.append(check(&tree, file, &()).1);
    let mut numbers: Vec<&str> = found.iter().map(|d| d.code.number).collect();
    numbers.sort_unstable();
    numbers.dedup();
    numbers
}
