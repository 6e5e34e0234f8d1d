//! Small certificates, each next to one with a single thing wrong.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

use borewright_proof_checker::{Shown, recheck};
use pretty_assertions::assert_eq;

fn document(formula: &[&str], evidence: serde_json::Value) -> String {
    serde_json::json!({ "version": 1, "id": "test", "formula": formula, "evidence": evidence }).to_string()
}

fn proof(formula: &[&str], steps: &[&str]) -> Result<Shown, String> {
    recheck(&document(formula, serde_json::json!({ "proof": steps }))).map(|accepted| accepted.shown)
}

fn values(kind: &str, formula: &[&str], values: serde_json::Value) -> Result<Shown, String> {
    recheck(&document(formula, serde_json::json!({ kind: values }))).map(|accepted| accepted.shown)
}

const DOUBLE: [&str; 3] = ["(real x)", "(given (>= x 1))", "(show (> (+ x x) 1))"];

#[test]
fn a_sum_that_cannot_be_is_a_proof() {
    // 2 (x - 1) + (1 - 2 x) + 1 = 0
    assert_eq!(
        proof(&DOUBLE, &["assume", "(prove (> (+ x x) 1) (combine (2 0) (1 1) (1)))"]),
        Ok(Shown::Holds)
    );
    for wrong in [
        "(prove (> (+ x x) 1) (combine (3 0) (1 1) (1)))",
        "(prove (> (+ x x) 1) (combine (2 1) (1 1) (1)))",
        "(prove (> (+ x x) 1) (combine (-2 0) (1 1) (1)))",
        "(prove (> (+ x x) 1) (combine))",
        "(prove (> (+ x x) 2) (combine (2 0) (1 1) (1)))",
        "(prove (> (+ x x) 1) (combine (2 7) (1 1) (1)))",
    ] {
        assert!(proof(&DOUBLE, &["assume", wrong]).is_err(), "{wrong}");
    }
}

#[test]
fn all_hypotheses_and_the_goal_must_be_reached() {
    assert!(proof(&DOUBLE, &["assume"]).is_err());
    assert!(proof(&DOUBLE, &["assume", "assume"]).is_err());
    assert!(proof(&["(real x)", "(given (>= x 1))", "(show (>= x 1))"], &[]).is_err());
    assert_eq!(proof(&["(real x)", "(given (>= x 1))", "(show (>= x 1))"], &["assume"]), Ok(Shown::Holds));
}

#[test]
fn what_may_be_undefined_is_not_proved() {
    let whole = ["(real x)", "(given (> x 0))", "(show (= (/ x x) 1))"];
    let open = ["(real x)", "(given (>= x 0))", "(show (= (/ x x) 1))"];
    let steps = ["assume", "(prove (= (/ x x) 1) (split (> (/ x x) 1) (combine (1 2)) (combine (1 1 1))))"];
    assert_eq!(proof(&whole, &steps), Ok(Shown::Holds));
    assert!(proof(&open, &steps).is_err());
    // A guarded divisor needs no hypothesis.
    let guarded = ["(real x)", "(show (or (= x 0) (= (/ x x) 1)))"];
    let steps = ["(prove (or (= x 0) (= (/ x x) 1)) (combine (1 1 1)))"];
    assert_eq!(proof(&guarded, &steps), Ok(Shown::Holds));
    assert!(proof(&["(real x)", "(show (>= (sqrt x) (- 0 1)))"], &[]).is_err());
}

#[test]
fn axioms_need_their_conditions() {
    let root = ["(real x)", "(given (>= x 2))", "(show (>= (* (sqrt x) (sqrt x)) 2))"];
    let steps = |condition: &str| {
        [
            "assume".to_owned(),
            format!("(prove {condition} (combine (1 0) (1 1) (2)))"),
            "(root (sqrt x))".to_owned(),
        ]
    };
    let steps = steps("(>= x 0)");
    let steps: Vec<&str> = steps.iter().map(String::as_str).collect();
    let last = "(prove (>= (* (sqrt x) (sqrt x)) 2) (combine (1 0) (1 4)))";
    assert_eq!(proof(&root, &[&steps[..], &[last]].concat()), Ok(Shown::Holds));
    assert!(proof(&root, &["assume", "(root (sqrt x))", last]).is_err());
    let count = ["(whole n)", "(given (> n 1))", "(show (>= n 2))"];
    assert_eq!(proof(&count, &["assume", "(whole 0)"]), Ok(Shown::Holds));
    assert!(proof(&["(real n)", "(given (> n 1))", "(show (>= n 2))"], &["assume", "(whole 0)"]).is_err());
}

#[test]
fn intervals_close_what_cannot_be() {
    let sine = ["(real a)", "(given (>= a 0))", "(given (<= a 30))", "(show (<= (sin a) 51/100))"];
    let steps = |fact: &str| format!("(prove (<= (sin a) 51/100) (evaluate {fact}))");
    assert_eq!(proof(&sine, &["assume", "assume", &steps("2")]), Ok(Shown::Holds));
    assert!(proof(&sine, &["assume", "assume", &steps("1")]).is_err());
    let tight = ["(real a)", "(given (>= a 0))", "(given (<= a 30))", "(show (<= (sin a) 49/100))"];
    assert!(proof(&tight, &["assume", "assume", "(prove (<= (sin a) 49/100) (evaluate 2))"]).is_err());
}

#[test]
fn values_are_evaluated_exactly_and_must_decide() {
    let formula = ["(real x)", "(given (>= x 1/3))", "(show (> (* x x) 1/9))"];
    assert_eq!(values("counterexample", &formula, serde_json::json!({ "x": "1/3" })), Ok(Shown::Fails));
    assert!(values("counterexample", &formula, serde_json::json!({ "x": "0.3333" })).is_err());
    assert!(values("counterexample", &formula, serde_json::json!({ "x": "1" })).is_err());
    assert!(values("counterexample", &formula, serde_json::json!({})).is_err());
    assert!(values("counterexample", &formula, serde_json::json!({ "x": "1/3", "y": "1" })).is_err());
    assert_eq!(values("witness", &formula, serde_json::json!({ "x": "1" })), Ok(Shown::CanBeMet));
    assert!(values("witness", &formula, serde_json::json!({ "x": "0" })).is_err());
    let whole = ["(whole n)", "(show (!= (* 2 n) 1))"];
    assert!(values("counterexample", &whole, serde_json::json!({ "n": "1/2" })).is_err());
    // sqrt 2 squared is 2, but intervals cannot tell: not accepted.
    let root = ["(real x)", "(show (!= (* (sqrt x) (sqrt x)) x))"];
    assert!(values("counterexample", &root, serde_json::json!({ "x": "2" })).is_err());
    assert_eq!(values("counterexample", &root, serde_json::json!({ "x": "4" })), Ok(Shown::Fails));
    let divided = ["(real x)", "(show (> (/ 1 x) 0))"];
    assert!(values("counterexample", &divided, serde_json::json!({ "x": "0" })).is_err());
}

#[test]
fn what_is_not_in_the_language_is_refused() {
    for text in [
        "",
        "{}",
        "[]",
        "{\"version\":2,\"id\":\"\",\"formula\":[\"(show true)\"],\"evidence\":{\"proof\":[]}}",
    ] {
        assert!(recheck(text).is_err(), "{text}");
    }
    for line in [
        "(show",
        "(show x)",
        "(show (< 1))",
        "(given true)",
        "(let pi 3)",
        "(real 12)",
        "show",
        "(show (frob 1 2))",
    ] {
        assert!(proof(&[line], &[]).is_err(), "{line}");
    }
    assert!(proof(&["(real x)", "(real x)", "(show true)"], &[]).is_err());
    assert!(proof(&["(show true)", "(real x)"], &[]).is_err());
    assert_eq!(proof(&["(show true)"], &[]), Ok(Shown::Holds));
    let deep = format!("(show (< {}1{} 2))", "(abs ".repeat(5000), ")".repeat(5000));
    assert!(proof(&[&deep], &[]).is_err());
}
