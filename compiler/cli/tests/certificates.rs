//! `check --certificate`, `verify` and `check --smt2` as scripts and people meet them.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)] // tests may fail by panic

mod common;

use common::Place;
use pretty_assertions::assert_eq;

const UP: &str = "routine up()\n{\n    retract\n}\n";

#[test]
fn a_verification_says_what_it_confirmed_and_what_is_trusted() {
    let place = Place::new("verify-good");
    place.write("up.bore", UP);
    assert_eq!(place.run(&["check", "up.bore", "--certificate", "proofs"]).status, 0);
    let outcome = place.run(&["verify", "proofs", "--against", "up.bore"]);
    assert_eq!((outcome.status, outcome.err.as_str()), (0, ""));
    insta::assert_snapshot!(outcome.out, @r"
    1 obligation: 1 confirmed, 0 of them by an easier formula; all confirmed
    Rechecked without the prover. Trusted: that the formulas written from the source say what they
    should (reading, lowering, obligations), the checker and its numbers.
    ");
    let report = place.run(&["verify", "proofs", "--against", "up.bore", "--format", "json"]).json();
    insta::assert_snapshot!(serde_json::to_string_pretty(&report).unwrap(), @r#"
    {
      "diagnostics": [],
      "obligations": [
        {
          "confirmed": true,
          "easier": false,
          "file": "up.bore",
          "id": "up/witness",
          "line": 1
        }
      ],
      "version": 1
    }
    "#);
}

#[test]
fn the_bundled_library_and_the_samples_are_verified() {
    let place = Place::new("verify-all");
    assert_eq!(place.run(&["check", "stdlib", "samples", "--certificate", "proofs"]).status, 0);
    let outcome = place.run(&["verify", "proofs", "--against", "stdlib", "samples"]);
    assert_eq!((outcome.status, outcome.err.as_str()), (0, ""), "{}", outcome.out);
    // The samples alone do not ask for all that was proved of the library.
    assert_eq!(place.run(&["verify", "proofs", "--against", "samples"]).status, 1);
}

#[test]
fn paths_that_cannot_be_used_are_status_2_and_nothing_is_half_written() {
    let place = Place::new("verify-paths");
    place.write("up.bore", UP).write("plain", "a file");
    assert_eq!(place.run(&["verify", "none", "--against", "up.bore"]).status, 2);
    assert_eq!(place.run(&["verify", "proofs"]).status, 2);
    assert_eq!(place.run(&["check", "up.bore", "--certificate", "plain/proofs"]).status, 2);
    assert_eq!(place.files(), ["plain", "up.bore"]);
}

#[test]
fn every_obligation_is_written_for_other_solvers() {
    let place = Place::new("smt2");
    place.write("up.bore", UP);
    assert_eq!(place.run(&["check", "up.bore", "--smt2", "smt"]).status, 0);
    let files: Vec<String> = place.files().into_iter().filter(|name| name.starts_with("smt")).collect();
    assert_eq!(files.len(), 1);
    let text = place.read(&files[0]);
    assert!(text.starts_with("; up/witness\n") && text.contains("expected answer: sat\n"), "{text}");
}
