//! Texts that nobody would write: a message, never a panic.

use borewright_base::FileId;
use borewright_syntax::{format, parse};
use proptest::prelude::*;

use crate::common::codes;
use crate::programs::PROGRAMS;
use crate::sentences::{Dice, Grammar};

/// Everything that can be done with a text; every finding must lie in it.
fn exercise(text: &str) {
    let (_, diagnostics) = parse(FileId(0), text);
    for diagnostic in diagnostics.iter() {
        let range = diagnostic.span.unwrap().range();
        assert!(text.get(range.clone()).is_some(), "{range:?} in {text:?}: {diagnostic:?}");
        assert!(!diagnostic.message.is_empty());
    }
    assert_eq!(format(FileId(0), text).is_err(), diagnostics.has_errors());
}

#[test]
fn ten_thousand_nested_brackets_are_one_error() {
    for (open, close) in [("(", ")"), ("[", "]"), ("f(", ")"), ("f(a: ", ")"), ("1 + (", ")"), ("(1, ", ")")]
    {
        let text = std::format!("let a = {}1{}\nlet b = 2\n", open.repeat(10_000), close.repeat(10_000));
        assert_eq!(codes(&text), ["S0110"], "{open}");
    }
}

#[test]
fn ten_thousand_open_brackets_are_a_few_errors() {
    for open in ["(", "[", "{", "([{", ")"] {
        exercise(&open.repeat(10_000));
        exercise(&std::format!("routine r() {{ rapid to {}\n retract }}", open.repeat(10_000)));
    }
}

#[test]
fn ten_thousand_nested_blocks_are_one_error() {
    let text = std::format!("routine r() {{ {}{} }}", "repeat 2 { ".repeat(10_000), "} ".repeat(10_000));
    assert_eq!(codes(&text), ["S0110"]);
}

#[test]
fn long_chains_are_one_error_for_each_statement() {
    for chain in [" + 1", " - -1", ".x", " and not b", " < 1", " if a then"] {
        let text = std::format!("let a = b{}\nlet c = b\n", chain.repeat(10_000));
        assert_eq!(codes(&text), ["S0110"], "{chain}");
    }
}

#[test]
fn a_line_of_a_megabyte_is_read() {
    let list = "(1mm, 2mm), ".repeat(90_000);
    assert_eq!(codes(&std::format!("let places = [{list}]\n")), [""; 0]);
    let statements = "rapid to centre ".repeat(65_000);
    assert_eq!(codes(&std::format!("routine r() {{ {statements} }}\n")), [""; 0]);
    assert_eq!(codes(&std::format!("// {}\nlet a = 1", "x".repeat(1_000_000))), [""; 0]);
    assert_eq!(codes(&std::format!("let {} = 1", "x".repeat(1_000_000))), [""; 0]);
    assert_eq!(codes(&std::format!("let a = {}", "1".repeat(1_000_000))), ["S0102"]);
}

#[test]
fn a_megabyte_of_errors_is_reported_in_time() {
    for text in
        ["let = 1\n", "drill to 5\n", "#", "a b ", "retract\n", "{", "} ", "( ", ") ", "\"x\n", "\0", "1.. "]
    {
        exercise(&text.repeat(100_000 / text.len()));
    }
}

#[test]
fn odd_files_are_read() {
    assert_eq!(codes(""), [""; 0]);
    assert_eq!(codes("\r\n\t \n"), [""; 0]);
    assert_eq!(codes("\u{feff}let a = 1\r\nlet b = 2\r\n"), [""; 0]);
    assert_eq!(codes("// µ é 漢 \u{1f529}\nlet a = \n"), ["S0111"]);
    assert_eq!(codes("let a = 1\rlet b = 2"), [""; 0]);
    assert_eq!(codes("let a\u{a0}= 1"), ["S0101"]);
}

/// Things that mean something to the lexer, good and bad.
const SCRAPS: &[&str] = &[
    "routine", "job", "table", "row", "let", "passes", "with", "feed", "at", "z", "to", "if", "else", "(",
    ")", "[", "]", "{", "}", ",", ":", "..", ".", "=", "<", "+", "-", "x", "5", "5mm", ".5", "5.", "5 mm",
    "\"T\"", "\"", "//c\n", "///d\n", "\n", "#", "é", "\0", ";", "cutter", "requires", "makes", "all",
    "call", "not", "or",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_000))]

    #[test]
    fn any_string_is_read(text in any::<String>()) {
        exercise(&text);
    }

    #[test]
    fn any_heap_of_scraps_is_read(scraps in prop::collection::vec(prop::sample::select(SCRAPS), 0..60)) {
        exercise(&scraps.join(" "));
        exercise(&scraps.concat());
    }

    #[test]
    fn a_program_with_a_hole_is_read(program in prop::sample::select(PROGRAMS), from in any::<prop::sample::Index>(), length in 1_usize..40) {
        let chars: Vec<char> = program.1.chars().collect();
        let from = from.index(chars.len());
        let text: String = chars.iter().take(from).chain(chars.iter().skip(from + length)).collect();
        exercise(&text);
    }

    #[test]
    fn the_half_of_a_sentence_is_read(seed in any::<u64>(), depth in 3_usize..20, cut in any::<prop::sample::Index>()) {
        let words = Grammar::of_manual().sentence("file", depth, &mut Dice::new(seed));
        exercise(&words[..cut.index(words.len() + 1)].join("\n"));
    }
}
