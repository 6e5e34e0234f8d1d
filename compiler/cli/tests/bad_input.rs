//! Bad input gets a message with a code and a name, the right exit status, and nothing half written.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)] // tests may fail by panic

mod common;

use common::{Outcome, Place};

/// The codes of a check, after asserting that people are told the same in few lines.
fn codes(place: &Place, path: &str, status: i32) -> Vec<String> {
    let human = place.run(&["check", path]);
    assert_eq!(human.status, status, "{}", human.err);
    assert!(human.err.len() < 40_000, "{} bytes of message", human.err.len());
    let json = place.run(&["check", path, "--format", "json"]);
    assert_eq!(json.status, status);
    let codes = json.codes();
    for code in codes.iter().take(50) {
        assert!(human.err.contains(code.as_str()), "{code} is not in: {}", human.err);
    }
    codes
}

fn checked(name: &str, text: impl AsRef<[u8]>) -> Vec<String> {
    let place = Place::new(name);
    place.write("plan.bore", text);
    codes(&place, "plan.bore", 1)
}

/// Line and column of the first finding.
fn at(place: &Place, path: &str) -> (u64, u64) {
    let report = place.run(&["check", path, "--format", "json"]).json();
    let first = &report["diagnostics"][0];
    (first["line"].as_u64().unwrap(), first["column"].as_u64().unwrap())
}

#[test]
fn an_empty_file_is_an_error() {
    assert_eq!(checked("empty", ""), ["D0804"]);
    assert_eq!(checked("blank", " \n\t\r\n// only a comment"), ["D0804"]);
}

#[test]
fn a_line_of_a_megabyte_is_answered_briefly() {
    assert!(!checked("long-word", "let ".to_owned() + &"a".repeat(1_000_000) + " = \n").is_empty());
    assert!(!checked("long-sum", "let a = 1".to_owned() + &" + 1".repeat(250_000) + " +\n").is_empty());
    assert!(!checked("long-number", "let a = ".to_owned() + &"9".repeat(1_000_000) + "\n").is_empty());
    assert!(!checked("long-rubbish", "$".repeat(1_000_000)).is_empty());
}

#[test]
fn ten_thousand_nested_brackets_are_an_error_not_a_crash() {
    for (name, open, close) in [("round", "(", ")"), ("square", "[", "]"), ("brace", "{", "}")] {
        let (open, close) = (open.repeat(10_000), close.repeat(10_000));
        assert!(!checked(&format!("nested-{name}"), format!("let a = {open}1{close}\n")).is_empty());
        // Out of place, too deep, and never closed: each is told once, not once for each level.
        assert!(checked(&format!("open-{name}"), format!("let a = {open}\n")).len() <= 3);
    }
    let passes = "passes a from 0 to 1mm by 1mm {".repeat(10_000);
    assert!(!checked("nested-passes", format!("routine r() {{ {passes}")).is_empty());
    assert!(!checked("nested-minus", format!("let a = {}1\n", "-".repeat(10_000))).is_empty());
    assert!(!checked("nested-not", format!("let a = {}1\n", "not ".repeat(10_000))).is_empty());
    assert!(
        !checked("nested-if", format!("let a = {}1\n", "if 1 == 1 then 1 else ".repeat(10_000))).is_empty()
    );
}

#[test]
fn bytes_that_are_no_text_are_pointed_at() {
    assert_eq!(checked("latin", b"// first line\n// 2\xB0\nlet a = 1mm\n"), ["D0803"]);
    let place = Place::new("latin-at");
    place.write("plan.bore", b"// first line\n// 2\xB0\nlet a = 1mm\n");
    assert_eq!(at(&place, "plan.bore"), (2, 5));
}

#[test]
fn a_nul_is_an_error() {
    assert!(!checked("nul", "let a = 1mm\n\0\n").is_empty());
    assert!(!checked("nuls", "\0".repeat(4096)).is_empty());
}

#[test]
fn line_ends_tabs_and_letters_of_any_script_do_not_move_the_place() {
    let place = Place::new("places");
    place.write("unix.bore", "// a\nlet a = 1mm + 1deg\n");
    place.write("crlf.bore", "// a\r\nlet a = 1mm + 1deg\r\n");
    place.write(
        "letters.bore",
        "// Bohrung \u{2300} 62 H7, \u{00b5}m, \u{6df1}\u{3055}\nlet a = 1mm + 1deg\n",
    );
    place.write("mark.bore", "\u{feff}// a\nlet a = 1mm + 1deg\n");
    let expected = at(&place, "unix.bore");
    assert_eq!(expected.0, 2);
    for path in ["crlf.bore", "letters.bore", "mark.bore"] {
        assert_eq!(at(&place, path), expected, "{path}");
    }
    place.write("tabs.bore", "// a\n\tlet a = 1mm + 1deg\n");
    assert_eq!(at(&place, "tabs.bore"), (expected.0, expected.1 + 1));
}

#[test]
fn a_missing_file_is_status_2() {
    let place = Place::new("missing");
    assert_eq!(codes(&place, "none.bore", 2), ["D0801"]);
    assert_eq!(place.run(&["run", "none.nc", "--format", "json"]).codes(), ["D0801"]);
    assert_eq!(place.run(&["run", "none.nc"]).status, 2);
}

#[test]
fn a_directory_without_sources_is_status_2() {
    let place = Place::new("nothing");
    place.write("empty/readme.txt", "no programs here");
    assert_eq!(codes(&place, "empty", 2), ["D0805"]);
}

fn build(place: &Place, more: &[&str]) -> Outcome {
    let base = ["build", "stdlib/bores.bore", "--form", "macro", "--machine", "hash-mm", "--format", "json"];
    place.run(&[&base[..], more].concat())
}

#[test]
fn an_unwritable_directory_is_status_2_and_nothing_is_written() {
    let place = Place::new("unwritable");
    place.write("plain", "a file, not a directory");
    let outcome = build(&place, &["--out", "plain/out"]);
    assert_eq!((outcome.status, outcome.codes()), (2, vec!["D0806".to_owned()]));
    assert_eq!(place.files(), ["plain"]);
}

#[test]
fn a_wrong_option_is_status_2() {
    let place = Place::new("options");
    assert_eq!(place.run(&["build", "stdlib/bores.bore", "--form", "tape"]).status, 2);
    assert_eq!(place.run(&["check", "--colour", "."]).status, 2);
    assert_eq!(place.run(&["bore"]).status, 2);
    let outcome = build(&place, &["--out", "out", "--machine", "lathe"]);
    assert_eq!(outcome.status, 2);
    assert_eq!(place.files(), Vec::<String>::new());
}

#[test]
fn rubbish_given_to_run_is_answered_with_a_code() {
    let place = Place::new("rubbish");
    let long = "G1 X".to_owned() + &"1".repeat(1_000_000);
    let nested = "#1=".to_owned() + &"[".repeat(10_000) + "1" + &"]".repeat(10_000);
    let texts: [(&str, &[u8]); 5] = [
        ("empty.nc", b""),
        ("latin.nc", b"G0 X1\xB0\nM30\n"),
        ("nul.nc", b"G0 X1\0\nM30\n"),
        ("long.nc", long.as_bytes()),
        ("nested.nc", nested.as_bytes()),
    ];
    for (name, text) in texts {
        place.write(name, text);
        let outcome = place.run(&["run", name, "--format", "json"]);
        assert_eq!(outcome.status, 1, "{name}");
        assert!(!outcome.codes().is_empty(), "{name}");
        assert!(outcome.out.len() < 20_000, "{name}");
    }
}

#[test]
fn rubbish_given_as_a_machine_is_answered_with_a_code() {
    let place = Place::new("machine-rubbish");
    for (name, text) in
        [("empty.toml", "\0"), ("words.toml", "units mm"), ("nested.toml", &"[".repeat(10_000))]
    {
        place.write(name, text);
        let outcome = place.run(&["machines", name, "--format", "json"]);
        assert_eq!(outcome.status, 1, "{name}");
        assert!(!outcome.codes().is_empty(), "{name}");
    }
}
