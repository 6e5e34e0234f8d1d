//! Small certificates, each next to one with a single thing wrong.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

use borewright_proof_checker::{Certificate, recheck};

fn shown(formula: &[&str], evidence: serde_json::Value) -> Result<Certificate, String> {
    let document =
        serde_json::json!({ "version": 2, "id": "test", "formula": formula, "evidence": evidence });
    recheck(&document.to_string())
}

fn proof(formula: &[&str], steps: &[&str]) -> Result<Certificate, String> {
    shown(formula, serde_json::json!({ "proof": steps }))
}

fn values(kind: &str, formula: &[&str], values: serde_json::Value) -> Result<Certificate, String> {
    shown(formula, serde_json::json!({ kind: values }))
}

/// The last step proves the goal; none of the others in its place does, and no hypothesis can be left out.
fn only(formula: &[&str], steps: &[&str], wrong: &[&str]) {
    proof(formula, steps).unwrap();
    let (_, before) = steps.split_last().unwrap();
    for wrong in wrong {
        assert!(proof(formula, &[before, &[*wrong]].concat()).is_err(), "{wrong}");
    }
}

const DOUBLE: [&str; 3] = ["(real x)", "(given (>= x 1))", "(show (> (+ x x) 1))"];

#[test]
fn a_sum_that_cannot_be_is_a_proof() {
    // 2 (x - 1) + (1 - 2 x) + 1 = 0
    only(
        &DOUBLE,
        &["assume", "(prove (> (+ x x) 1) (combine () (2 0) (1 1) (1)))"],
        &[
            "(prove (> (+ x x) 1) (combine () (3 0) (1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (2 1) (1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (-2 0) (1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (2 0) (1 1)))",
            "(prove (> (+ x x) 1) (combine ()))",
            "(prove (> (+ x x) 2) (combine () (2 0) (1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (2 7) (1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (1 (any (+ (+ x x) -1))) (1 1) (0 0)))",
        ],
    );
}

#[test]
fn what_is_not_strict_proves_nothing() {
    // x >= y and y >= x do not exclude each other, and a square may be 0.
    let equal = ["(real x)", "(real y)", "(given (>= x y))", "(show (> x y))"];
    assert!(proof(&equal, &["assume", "(prove (> x y) (combine () (1 0) (1 1)))"]).is_err());
    let square = ["(real x)", "(show (> (* x x) 0))"];
    assert!(proof(&square, &["(prove (> (* x x) 0) (combine () (1 (square x)) (1 0)))"]).is_err());
    let square = ["(real x)", "(given (!= x 0))", "(show (> (* x x) 0))"];
    proof(&square, &["assume", "(prove (> (* x x) 0) (combine () (1 0) (1 1)))"]).unwrap();
    // x != 0 has no sign of its own: its square counts.
    let sign = ["(real x)", "(given (!= x 0))", "(show (> x 0))"];
    assert!(proof(&sign, &["assume", "(prove (> x 0) (combine () (1 0) (1 1)))"]).is_err());
}

#[test]
fn only_an_equation_may_be_multiplied_by_anything() {
    let scaled = ["(real x)", "(real y)", "(given (= x 2))", "(show (= (* x y) (* 2 y)))"];
    only(
        &scaled,
        &["assume", "(prove (= (* x y) (* 2 y)) (combine () (1 1) (-1 0 (any (* y (- (* x y) (* 2 y)))))))"],
        &["(prove (= (* x y) (* 2 y)) (combine () (1 1) (-1 (any (* y (- (* x y) (* 2 y)))))))"],
    );
    let scaled = ["(real x)", "(real y)", "(given (>= x 2))", "(show (>= (* x y) (* 2 y)))"];
    assert!(
        proof(&scaled, &["assume", "(prove (>= (* x y) (* 2 y)) (combine () (1 1) (1 0 (any y))))"]).is_err()
    );
}

#[test]
fn equations_replace_products_by_what_equals_them() {
    let replaced =
        ["(real x)", "(real y)", "(given (= x (+ y 1)))", "(show (= (* x x) (+ (* y y) (+ y (+ y 1)))))"];
    only(
        &replaced,
        &["assume", "(equal (0) (* x x) (+ (* y y) (+ y (+ y 1))))"],
        &[
            "(equal () (* x x) (+ (* y y) (+ y (+ y 1))))",
            "(equal (0) (* x x) (+ (* y y) (+ y 1)))",
            "(equal (1) (* x x) 1)",
        ],
    );
    // The left side must be one product, and an equation.
    let sum = ["(real x)", "(real y)", "(given (= (+ x y) 1))", "(given (>= x 0))", "(show (and))"];
    assert!(proof(&sum, &["assume", "assume", "(equal (0) x (- 1 y))"]).is_err());
    assert!(proof(&sum, &["assume", "assume", "(equal (1) x 0)"]).is_err());
    // What replaces itself is given up.
    let circle = ["(real x)", "(given (= x (+ x 0)))", "(show (= x 0))"];
    assert!(proof(&circle, &["assume", "(equal (0) x 0)"]).is_err());
}

#[test]
fn all_hypotheses_and_the_goal_must_be_reached() {
    let open = ["(real x)", "(given (>= x 1))", "(show (> (* x x) x))"];
    assert!(proof(&open, &["assume"]).is_err());
    assert!(proof(&DOUBLE, &["assume", "assume"]).is_err());
    assert!(proof(&["(real x)", "(given (>= x 1))", "(show (>= x 1))"], &[]).is_err());
    proof(&["(real x)", "(given (>= x 1))", "(show (>= x 1))"], &["assume"]).unwrap();
    // What holds within a proof is no fact after it.
    let nested = ["(real x)", "(show (>= x 1))"];
    assert!(proof(&nested, &["(prove (or (>= x 1) (< x 1)) (cases 0))"]).is_err());
    proof(
        &["(real x)", "(show (or (>= x 1) (< x 1)))"],
        &["(prove (or (>= x 1) (< x 1)) (combine () (1 0) (1 1)))"],
    )
    .unwrap();
}

#[test]
fn cases_are_closed_when_no_part_can_hold() {
    let either = ["(real x)", "(given (or (>= x 2) (>= x 3)))", "(show (>= x 1))"];
    let first = "(prove (< x 2) (combine () (1 1) (1 2) (1)))";
    let both = format!("(prove (>= x 1) {first} (prove (< x 3) (combine () (1 1) (1 3) (2))) (cases 0))");
    proof(&either, &["assume", &both]).unwrap();
    let one = format!("(prove (>= x 1) {first} (cases 0))");
    assert!(proof(&either, &["assume", &one]).is_err());
}

#[test]
fn what_may_be_undefined_is_not_proved() {
    let whole = ["(real x)", "(given (> x 0))", "(show (= (/ x x) 1))"];
    let open = ["(real x)", "(given (>= x 0))", "(show (= (/ x x) 1))"];
    let steps = [
        "assume",
        "(prove (!= x 0) (combine () (1 0) (-1 1)))",
        "(/ x x)",
        "(prove (= (/ x x) 1) (combine () (1 3 1) (-1 2 (any (- (/ x x) 1)) (any x))))",
    ];
    proof(&whole, &steps).unwrap();
    assert!(proof(&open, &steps).is_err());
    // Without the fact that x is not 0 the goal is not well defined, whatever is known of it.
    assert!(proof(&open, &["assume", "(prove (= (/ x x) (/ x x)) (combine () (1 1)))"]).is_err());
    assert!(proof(&["(real x)", "(show (= (/ x x) (/ x x)))"], &["(equal () (/ x x) (/ x x))"]).is_err());
    assert!(proof(&["(real x)", "(show (>= (sqrt x) 0))"], &["(sqrt x)"]).is_err());
    assert!(proof(&["(real x)", "(show (= (acos x) (acos x)))"], &["(equal () (acos x) (acos x))"]).is_err());
    // A quotient by a number is a product, whatever name the number has; one by 0 is not.
    proof(&["(real x)", "(let n 4)", "(show (= (/ x n) (* 1/4 x)))"], &["(equal () (/ x n) (* 1/4 x))"])
        .unwrap();
    assert!(proof(&["(real x)", "(show (= (/ x 0) (/ x 0)))"], &["(equal () (/ x 0) (/ x 0))"]).is_err());
    // A hypothesis must be so as well, before it is assumed.
    let given = ["(real x)", "(given (= (/ x x) 1))", "(show (and))"];
    assert!(proof(&given, &["assume"]).is_err());
}

#[test]
fn a_guard_makes_defined_what_comes_after_it() {
    let need = "(prove (or (= x 0) (!= x 0)) (combine () (1 0) (-1 1 (any x))))";
    let guarded = ["(real x)", "(given (or (= x 0) (= (/ x x) 1)))", "(show (and))"];
    proof(&guarded, &["(prove (or (= x 0) (!= x 0)) (combine () (1 0) (1 1)))", "assume"]).unwrap_err();
    proof(&guarded, &[need, "assume"]).unwrap();
    let late = ["(real x)", "(given (or (= (/ x x) 1) (= x 0)))", "(show (and))"];
    assert!(proof(&late, &[need, "assume"]).is_err());
    let chosen = ["(real x)", "(given (= (if (= x 0) 1 (/ x x)) 1))", "(show (and))"];
    proof(&chosen, &[need, "assume"]).unwrap();
    let swapped = ["(real x)", "(given (= (if (= x 0) (/ x x) 1) 1))", "(show (and))"];
    assert!(proof(&swapped, &[need, "assume"]).is_err());
}

#[test]
fn axioms_need_their_conditions() {
    let root = ["(real x)", "(given (>= x 2))", "(show (>= (* (sqrt x) (sqrt x)) 2))"];
    let known = "(prove (>= x 0) (combine () (1 0) (1 1) (2)))";
    let last = "(prove (>= (* (sqrt x) (sqrt x)) 2) (combine (3) (1 0) (1 4)))";
    proof(&root, &["assume", known, "(sqrt x)", last]).unwrap();
    assert!(proof(&root, &["assume", "(sqrt x)"]).is_err());
    let real = ["(real x)", "(real y)", "(given (<= x y))", "(show (and))"];
    proof(&real, &["assume", "(lesser x y)"]).unwrap();
    for wrong in [
        "(greater x y)",
        "(lesser y x)",
        "(size x)",
        "(opposite x)",
        "(/ x y)",
        "(angle x)",
        "(then x y (< x y))",
        "(else x y (<= x y))",
        "(same-root x y)",
        "(same-angle x y)",
        "(same-divisor x y 1)",
        "(same-ceil x y)",
        "(same-floor x y)",
        "(acos x)",
        "(lesser x)",
        "(frob x)",
    ] {
        assert!(proof(&real, &["assume", wrong]).is_err(), "{wrong}");
    }
}

#[test]
fn only_whole_numbers_are_a_whole_step_apart() {
    let count = ["(whole n)", "(given (> n 1))", "(show (>= n (+ 1 1)))"];
    proof(&count, &["assume", "(whole n 1)"]).unwrap();
    let real = ["(real n)", "(given (> n 1))", "(show (>= n (+ 1 1)))"];
    assert!(proof(&real, &["assume", "(whole n 1)"]).is_err());
    let half = ["(whole n)", "(given (> n 1/2))", "(show (>= n (+ 1/2 1)))"];
    assert!(proof(&half, &["assume", "(whole n 1/2)"]).is_err());
    // A part that is left out is none of the formula's own names.
    let named = ["(whole n)", "(real b)", "(given (> n b))", "(show (>= n (+ b 1)))"];
    assert!(proof(&named, &["assume", "(whole n)"]).is_err());
    let quotient = ["(whole n)", "(given (> (* 1/2 n) 1))", "(show (>= (* 1/2 n) (+ 1 1)))"];
    assert!(proof(&quotient, &["assume", "(whole (* 1/2 n) 1)"]).is_err());
    let rounded = ["(real x)", "(given (> (ceil x) 1))", "(show (>= (ceil x) (+ 1 1)))"];
    proof(&rounded, &["assume", "(whole (ceil x) 1)"]).unwrap();
}

#[test]
fn a_name_stands_for_one_value_and_is_new() {
    let formula = ["(real x)", "(show (= x x))"];
    proof(&formula, &["(name w (+ x 1))", "(equal () x x)"]).unwrap();
    for wrong in ["(name x 1)", "(name 5 1)", "(name pi 3)"] {
        assert!(proof(&formula, &["(equal () x x)", wrong]).is_err(), "{wrong}");
    }
    assert!(proof(&formula, &["(name w 1)", "(name w 2)", "(equal () x x)"]).is_err());
}

#[test]
fn intervals_close_what_cannot_be() {
    let sine = ["(real a)", "(given (>= a 0))", "(given (<= a 30))", "(show (<= (sin a) 51/100))"];
    let step = |fact: &str| format!("(prove (<= (sin a) 51/100) (evaluate {fact}))");
    proof(&sine, &["assume", "assume", &step("2")]).unwrap();
    assert!(proof(&sine, &["assume", "assume", &step("1")]).is_err());
    let tight = ["(real a)", "(given (>= a 0))", "(given (<= a 30))", "(show (<= (sin a) 49/100))"];
    assert!(proof(&tight, &["assume", "assume", "(prove (<= (sin a) 49/100) (evaluate 2))"]).is_err());
    let open = ["(real a)", "(given (>= a 0))", "(show (<= (sin a) 51/100))"];
    assert!(proof(&open, &["assume", "(prove (<= (sin a) 51/100) (evaluate 1))"]).is_err());
}

#[test]
fn values_are_evaluated_exactly_and_must_decide() {
    let formula = ["(real x)", "(given (>= x 1/3))", "(show (> (* x x) 1/9))"];
    values("counterexample", &formula, serde_json::json!({ "x": "1/3" })).unwrap();
    for wrong in [
        serde_json::json!({ "x": "0.3333" }),
        serde_json::json!({ "x": "1" }),
        serde_json::json!({}),
        serde_json::json!({ "x": "1/3", "y": "1" }),
        serde_json::json!({ "x": "1/3", "(* x x)": "1/16" }),
        serde_json::json!({ "x": "x" }),
    ] {
        assert!(values("counterexample", &formula, wrong.clone()).is_err(), "{wrong}");
    }
    values("witness", &formula, serde_json::json!({ "x": "1" })).unwrap();
    assert!(values("witness", &formula, serde_json::json!({ "x": "0" })).is_err());
    let whole = ["(whole n)", "(show (!= (* 2 n) 1))"];
    assert!(values("counterexample", &whole, serde_json::json!({ "n": "1/2" })).is_err());
    // Two names of one variable with different values.
    let twice = ["(real x)", "(let w x)", "(given (>= x 2))", "(show (>= 0 x))"];
    values("witness", &twice, serde_json::json!({ "x": "2", "w": "2" })).unwrap();
    assert!(values("witness", &twice, serde_json::json!({ "x": "2", "w": "1" })).is_err());
    // sqrt 2 squared is 2, but intervals cannot tell: not accepted.
    let root = ["(real x)", "(show (!= (* (sqrt x) (sqrt x)) x))"];
    assert!(values("counterexample", &root, serde_json::json!({ "x": "2" })).is_err());
    values("counterexample", &root, serde_json::json!({ "x": "4" })).unwrap();
    let divided = ["(real x)", "(show (> (/ 1 x) 0))"];
    assert!(values("counterexample", &divided, serde_json::json!({ "x": "0" })).is_err());
    // Nothing undefined is met.
    let undefined = ["(real x)", "(given (= (* 0 (/ 1 x)) 0))", "(show (> x 0))"];
    assert!(values("witness", &undefined, serde_json::json!({ "x": "0" })).is_err());
    values("witness", &undefined, serde_json::json!({ "x": "1" })).unwrap();
    let chosen = ["(real x)", "(show (= (if (> x 0) 1 2) 2))"];
    values("counterexample", &chosen, serde_json::json!({ "x": "1" })).unwrap();
    assert!(values("counterexample", &chosen, serde_json::json!({ "x": "0" })).is_err());
}

#[test]
fn what_is_not_in_the_language_is_refused() {
    for text in [
        "",
        "{}",
        "[]",
        "{\"version\":1,\"id\":\"\",\"formula\":[\"(show (and))\"],\"evidence\":{\"proof\":[]}}",
    ] {
        assert!(recheck(text).is_err(), "{text}");
    }
    for line in [
        "(show",
        "(show x)",
        "(show (< 1))",
        "(given (and))",
        "(let pi 3)",
        "(real 12)",
        "show",
        "(show (frob 1 2))",
        "(show (+ 1 2))",
    ] {
        assert!(proof(&[line], &[]).is_err(), "{line}");
    }
    assert!(proof(&["(real x)", "(real x)", "(show (and))"], &[]).is_err());
    assert!(proof(&["(show (and))", "(real x)"], &[]).is_err());
    proof(&["(show (and))"], &[]).unwrap();
    let deep = format!("(show (< {}1{} 2))", "(abs ".repeat(5000), ")".repeat(5000));
    assert!(proof(&[&deep], &[]).is_err());
}

#[test]
fn hostile_certificates_are_given_up_soon() {
    // Each definition squares the one before: too many bits, and too long a product.
    for first in ["3", "x"] {
        let mut lines = vec!["(real x)".to_owned(), format!("(let a0 {first})")];
        lines.extend((1..60).map(|n| format!("(let a{n} (* a{} a{}))", n - 1, n - 1)));
        lines.push("(show (= a59 0))".to_owned());
        let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
        assert!(proof(&lines, &["(equal () a59 0)"]).unwrap_err().contains("too long"));
    }
    // Definitions nested too deeply.
    let mut lines = vec!["(real a0)".to_owned()];
    lines.extend((1..5000).map(|n| format!("(let a{n} (abs a{}))", n - 1)));
    lines.push("(show (>= a4999 0))".to_owned());
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    assert!(proof(&lines, &[]).unwrap_err().contains("too deeply"));
}
