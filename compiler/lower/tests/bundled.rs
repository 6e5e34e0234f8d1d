//! The bundled library and the first samples lower without a finding.

mod common;

use borewright_lower::called;
use common::{motions, outline, read};

#[test]
fn a_quarter_circle_bore_becomes_symbolic_moves() {
    let motions = motions(&read("stdlib/bores.bore"));
    assert!(motions.len() >= 3);
    insta::assert_snapshot!(outline(&motions[0]));
}

#[test]
fn a_job_shares_the_routine_that_it_calls_twice() {
    let motions = motions(&read("samples/gearbox_seats.bore"));
    assert_eq!(motions.len(), 1);
    assert_eq!(called(&motions).len(), 1);
    insta::assert_snapshot!(outline(&motions[0]));
}

#[test]
fn a_job_in_inches_is_known_as_one() {
    let motions = motions(&read("samples/guide_bush.bore"));
    insta::assert_snapshot!(outline(&motions[0]));
}
