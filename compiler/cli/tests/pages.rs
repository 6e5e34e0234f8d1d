//! Every code of every phase has a page, and the example on it yields exactly that code.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)] // tests may fail by panic

mod common;

use std::collections::BTreeSet;

use borewright_base::pages::{Fenced, example};
use common::Place;

/// `\xB0` stands for a byte that no text can show.
fn bytes(text: &str) -> Vec<u8> {
    let mut parts = text.split("\\x");
    let mut bytes = parts.next().unwrap().as_bytes().to_owned();
    for part in parts {
        bytes.push(u8::from_str_radix(&part[..2], 16).unwrap());
        bytes.extend(&part.as_bytes()[2..]);
    }
    bytes
}

/// What a block of a page is for: the file it is written to, and the command that is run on it.
fn file_and_command(block: &Fenced<'_>) -> Option<(String, String)> {
    let on = |file: &str, command: &str| Some((file.to_owned(), format!("borewright {command}")));
    match (block.language, block.name) {
        ("bore", None) => on("example.bore", "check example.bore"),
        ("toml", None) => on("example.toml", "machines example.toml"),
        ("nc", None) => on("example.nc", "run example.nc"),
        ("nc", Some(machine)) if !machine.contains('.') => {
            on("example.nc", &format!("run example.nc --machine {machine}"))
        }
        ("call", None) => on("example.call", &format!("run example.call --call \"{}\"", block.text.trim())),
        (_, Some(name)) => Some((name.to_owned(), String::new())),
        (_, None) => None,
    }
}

/// The codes that the example of a page yields; what went wrong with it otherwise.
fn yielded(number: &str, page: &str) -> Result<BTreeSet<String>, String> {
    let place = Place::new(&format!("page-{number}"));
    let mut line = String::new();
    for block in example(page) {
        if block.language == "command" {
            line.clone_from(&block.text);
            continue;
        }
        let (file, command) =
            file_and_command(&block).ok_or_else(|| format!("what is a block of `{}`?", block.language))?;
        place.write(&file, bytes(&block.text));
        if line.is_empty() {
            line = command;
        }
    }
    if line.is_empty() {
        return Err("the page has no example".to_owned());
    }
    let outcome = place.run_line(&line, &["--format", "json"]);
    if !outcome.out.starts_with('{') {
        return Err(format!("status {}, no report: {}", outcome.status, outcome.err));
    }
    Ok(outcome.codes().into_iter().collect())
}

/// Codes that no command line can bring about: a fault of our own, and what only fragments and enclosures meet
/// (the tests of the virtual controller show those). A block that cannot be read has its reason reported instead.
const NOT_FROM_OUTSIDE: [&str; 5] = ["D0814", "D0821", "R0626", "R0627", "R0628"];

/// Codes that come with one other: a call of what is not proved needs something that is not proved, and a hole
/// that is to be brought to size and is not cleared is warned of, as is a chamfer that promises no size.
const IN_COMPANY: [&str; 3] = ["P0413", "P0426", "P0431"];

#[test]
fn the_example_of_every_page_yields_exactly_its_code() {
    let mut wrong = Vec::new();
    for code in borewright_driver::codes::all() {
        if NOT_FROM_OUTSIDE.contains(&code.number) {
            continue;
        }
        let yielded = yielded(code.number, code.page);
        let in_company = IN_COMPANY.contains(&code.number)
            && yielded.as_ref().is_ok_and(|codes| codes.contains(code.number) && codes.len() == 2);
        if !in_company && yielded != Ok(BTreeSet::from([code.number.to_owned()])) {
            wrong.push(format!("{} {}: {yielded:?}", code.number, code.name));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn explain_prints_the_page_by_code_and_by_name() {
    let place = Place::new("explain");
    for code in borewright_driver::codes::all() {
        for asked in [code.number, code.name] {
            let outcome = place.run(&["explain", asked]);
            assert_eq!(
                (outcome.status, outcome.out.as_str(), outcome.err.as_str()),
                (0, code.page, ""),
                "{asked}"
            );
        }
    }
}
