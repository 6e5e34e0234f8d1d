//! Small certificates, each next to one with a single thing wrong.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests fail by panicking")]

mod lists;

use borewright_proof_checker::{Certificate, recheck};
use lists::{document, lists};
use serde_json::{Value, json};

fn proof(formula: &[&str], steps: &[&str]) -> Result<Certificate, String> {
    recheck(&document(formula, &json!({ "proof": lists(steps) })))
}

fn witness(formula: &[&str], values: &Value, steps: &[&str]) -> Result<Certificate, String> {
    recheck(&document(formula, &json!({ "witness": [values, lists(steps)] })))
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
    // 2 (x - 1) - (2 x - 1) + 1 = 0
    only(
        &DOUBLE,
        &["assume", "(prove (> (+ x x) 1) (combine () (2 0) (-1 1) (1)))"],
        &[
            "(prove (> (+ x x) 1) (combine () (3 0) (-1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (2 1) (-1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (-2 0) (-1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (2 0) (-1 1)))",
            "(prove (> (+ x x) 1) (combine () (0)))",
            "(prove (> (+ x x) 1) (combine ()))",
            "(prove (> (+ x x) 2) (combine () (2 0) (-1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (2 7) (-1 1) (1)))",
            "(prove (> (+ x x) 1) (combine () (2 0) (-1 1) (1 x)))",
            "(prove (> (+ x x) 1) (combine () 2 (-1 1) (1)))",
            "(prove (> (+ x x) 1) (combine (2 0) (-1 1) (1)))",
            "(prove (> (+ x x) 1) (evaluate 0))",
            "(prove (> (+ x x) 1) (cases 0))",
            "(prove (> (+ x x) 1) (close 0))",
            "(prove (> (+ x x) 1) ())",
            "(prove (> (+ x x) 1))",
            "(prove)",
            "()",
        ],
    );
}

#[test]
fn what_is_not_strict_proves_nothing() {
    // x >= y and y >= x do not exclude each other, and a square may be 0.
    let equal = ["(real x)", "(real y)", "(given (>= x y))", "(show (> x y))"];
    assert!(proof(&equal, &["assume", "(prove (> x y) (combine () (1 0) (-1 1)))"]).is_err());
    let square = ["(real x)", "(show (> (* x x) 0))"];
    let positive = "(prove (> (* x x) 0) (combine () (1 1) (-1 2)))";
    assert!(proof(&square, &["(square x)", "(prove (> (* x x) 0) (combine () (1 0) (-1 1)))"]).is_err());
    let square = ["(real x)", "(given (!= x 0))", "(show (> (* x x) 0))"];
    proof(&square, &["assume", "(apart x 0)", positive]).unwrap();
    assert!(proof(&square, &["assume", "(square x)", positive]).is_err());
    // x != 0 has no sign of its own, nor has its product with itself.
    let sign = ["(real x)", "(given (!= x 0))", "(show (> x 0))"];
    assert!(proof(&sign, &["assume", "(prove (> x 0) (combine () (1 0) (-1 1)))"]).is_err());
    assert!(proof(&square, &["assume", "(prove (> (* x x) 0) (combine () (1 0 0) (-1 1)))"]).is_err());
}

/// Every pair of relations with 0 and every scale: what `combine` makes of sums and products is accepted exactly where
/// no two small numbers meet the facts.
#[test]
fn the_orders_of_sums_and_products_are_those_of_numbers() {
    let relations = ["<", "=", "<=", ">", "!=", ">="];
    let holds = |relation: &str, x: i32| match relation {
        "<" => x < 0,
        "=" => x == 0,
        "<=" => x <= 0,
        ">" => x > 0,
        "!=" => x != 0,
        _ => x >= 0,
    };
    let accepts = |first: &str, second: &str, third: &str, sum: &str| {
        let given = [format!("(given ({first} x 0))"), format!("(given ({second} y 0))")];
        let third = format!("(given {third})");
        let formula = ["(real x)", "(real y)", &given[0], &given[1], &third, "(show (or))"];
        let step = format!("(prove (or) (combine () {sum}))");
        proof(&formula, &["assume", "assume", "assume", &step]).is_ok()
    };
    let mut accepted = 0;
    for (first, second) in relations.iter().flat_map(|a| relations.iter().map(move |b| (*a, *b))) {
        let pairs = || (-2..=2).flat_map(|x| (-2..=2).map(move |y| (x, y)));
        let mut pairs: Vec<(i32, i32)> = pairs().collect();
        pairs.retain(|(x, y)| holds(first, *x) && holds(second, *y));
        for scale in [-1, 0, 1] {
            let open = pairs.iter().any(|(x, y)| x + scale * y == 0);
            let sum = format!("(1 0) ({scale} 1) (-1 2)");
            let found = accepts(first, second, &format!("(= (+ x (* {scale} y)) 0)"), &sum);
            assert_eq!(found, !open, "x {first} 0, y {second} 0, x + {scale} y = 0");
            accepted += i32::from(found);
        }
        for relation in relations {
            let open = pairs.iter().any(|(x, y)| holds(relation, x * y));
            let found = accepts(first, second, &format!("({relation} (* x y) 0)"), "(1 0 1) (-1 2)");
            assert_eq!(found, !open, "x {first} 0, y {second} 0, x y {relation} 0");
            accepted += i32::from(found);
        }
    }
    assert!(accepted > 50, "{accepted}");
}

#[test]
fn only_an_equation_may_be_multiplied_by_anything() {
    let scaled = ["(real x)", "(real y)", "(given (= x 2))", "(show (= (* x y) (* 2 y)))"];
    let last = "(prove (= (* x y) (* 2 y)) (combine () (1 2) (-1 1)))";
    proof(&scaled, &["assume", "(scaled x 2 y)", last]).unwrap();
    assert!(proof(&scaled, &["assume", "(scaled x 3 y)"]).is_err());
    let scaled = ["(real x)", "(real y)", "(given (>= x 2))", "(show (>= (* x y) (* 2 y)))"];
    assert!(proof(&scaled, &["assume", "(scaled x 2 y)"]).is_err());
}

#[test]
fn equations_replace_products_by_what_equals_them() {
    let replaced =
        ["(real x)", "(real y)", "(given (= x (+ y 1)))", "(show (= (* x x) (+ (* y y) (+ y (+ y 1)))))"];
    only(
        &replaced,
        &["assume", "(prove (= (* x x) (+ (* y y) (+ y (+ y 1)))) (combine (0) (1 1)))"],
        &[
            "(prove (= (* x x) (+ (* y y) (+ y (+ y 1)))) (combine () (1 1)))",
            "(prove (= (* x x) (+ (* y y) (+ y 1))) (combine (0) (1 1)))",
            "(prove (= (* x x) (+ (* y y) (+ y (+ y 1)))) (combine (0) (0 1)))",
            "(prove (= (* x x) 1) (combine (1) (1 1)))",
        ],
    );
    // The left side must be one product, and an equation.
    let sum = ["(real x)", "(real y)", "(given (= (+ x y) 1))", "(given (>= x 0))", "(show (and))"];
    let step = |n: u8, a: &str| format!("(prove (= x {a}) (combine ({n}) (1 2)))");
    assert!(proof(&sum, &["assume", "assume", &step(0, "(- 1 y)")]).is_err());
    assert!(proof(&sum, &["assume", "assume", &step(1, "0")]).is_err());
    for odd in ["(= 2 x)", "(= (* 2 x) 0)", "(= (- x x) 1)", "(= 0 0)"] {
        let given = format!("(given {odd})");
        let formula = ["(real x)", &given, "(show (and))"];
        assert!(proof(&formula, &["assume", "(prove (= x 1) (combine (0) (1 1)))"]).is_err(), "{odd}");
    }
    // What replaces itself is given up.
    let circle = ["(real x)", "(given (= x (+ x 0)))", "(show (= x 0))"];
    assert!(proof(&circle, &["assume", "(prove (= x 0) (combine (0) (1 1)))"]).is_err());
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
    let either = ["(real x)", "(show (or (>= x 1) (< x 1)))"];
    proof(&either, &["(prove (or (>= x 1) (< x 1)) (combine () (-1 0) (1 1)))"]).unwrap();
}

#[test]
fn a_fact_is_none_outside_of_its_block() {
    let formula = ["(real x)", "(show (= x 0))"];
    let block = "(prove (or (= x 0) (!= x 0)) (apart x 0) (combine () (1 0) (-1 1)))";
    proof(&["(real x)", "(show (or (= x 0) (!= x 0)))"], &[block]).unwrap();
    // By number, by the condition of an axiom, and by what an inner block proved.
    assert!(proof(&formula, &[block, "(prove (= x 0) (combine () (1 1) (-1 2)))"]).is_err());
    assert!(proof(&formula, &[block, "(apart x 0)"]).is_err());
    assert!(proof(&formula, &["(prove (or (= x 0) (!= x 0)) (prove (= x 0) (cases 0)) (cases 0))"]).is_err());
    // No hypothesis is assumed in a block, where it may be well defined only by the block's own assumption.
    let given = ["(real x)", "(given (= (/ x x) 1))", "(show (and))"];
    let inside = "(prove (or (= x 0) (!= x 0)) assume (combine () (1 0) (-1 1)))";
    assert!(proof(&given, &[inside]).is_err());
}

#[test]
fn cases_are_closed_when_no_part_can_hold() {
    let either = ["(real x)", "(given (or (>= x 2) (>= x 3)))", "(show (>= x 1))"];
    let first = "(prove (< x 2) (combine () (-1 1) (1 2) (1)))";
    let both = format!("(prove (>= x 1) {first} (prove (< x 3) (combine () (-1 1) (1 3) (2))) (cases 0))");
    proof(&either, &["assume", &both]).unwrap();
    let one = format!("(prove (>= x 1) {first} (cases 0))");
    assert!(proof(&either, &["assume", &one]).is_err());
}

#[test]
fn what_may_be_undefined_is_not_proved() {
    let whole = ["(real x)", "(given (> x 0))", "(show (= (/ x x) 1))"];
    let open = ["(real x)", "(given (>= x 0))", "(show (= (/ x x) 1))"];
    // x (x/x) - x - x (x/x - 1) = 0
    let steps = [
        "assume",
        "(prove (!= x 0) (combine () (1 0) (-1 1)))",
        "(/ x x)",
        "(prove (= (/ x x) 1) (combine () (1 3 1) (-1 2)))",
    ];
    proof(&whole, &steps).unwrap();
    assert!(proof(&open, &steps).is_err());
    // Without the fact that x is not 0 the goal is not well defined, whatever is known of it.
    let same = |term: &str| format!("(prove (= {term} {term}) (combine () (1 0)))");
    for (show, term) in [
        ("(show (= (/ x x) (/ x x)))", "(/ x x)"),
        ("(show (= (acos x) (acos x)))", "(acos x)"),
        ("(show (= (/ x 0) (/ x 0)))", "(/ x 0)"),
        ("(show (= (sqrt x) (sqrt x)))", "(sqrt x)"),
    ] {
        let why = proof(&["(real x)", show], &[&same(term)]).unwrap_err();
        assert!(why.contains("undefined"), "{term}: {why}");
    }
    assert!(proof(&["(real x)", "(show (>= (sqrt x) 0))"], &["(sqrt x)"]).is_err());
    // A quotient by a number is a product, whatever name the number has; one by 0 is not.
    let quarter = "(prove (= (/ x n) (* 1/4 x)) (combine () (1 0)))";
    proof(&["(real x)", "(let n 4)", "(show (= (/ x n) (* 1/4 x)))"], &[quarter]).unwrap();
    // A hypothesis must be so as well, before it is assumed.
    let given = ["(real x)", "(given (= (/ x x) 1))", "(show (and))"];
    assert!(proof(&given, &["assume"]).is_err());
}

#[test]
fn a_guard_makes_defined_what_comes_after_it() {
    let need = "(prove (or (= x 0) (!= x 0)) (combine () (1 0) (-1 1)))";
    let need = need.replace("(combine () (1 0) (-1 1))", "(apart x 0) (combine (1) (1 2))");
    let guarded = ["(real x)", "(given (or (= x 0) (= (/ x x) 1)))", "(show (and))"];
    proof(&guarded, &["(prove (or (= x 0) (!= x 0)) (combine () (1 0) (1 1)))", "assume"]).unwrap_err();
    proof(&guarded, &[&need, "assume"]).unwrap();
    let late = ["(real x)", "(given (or (= (/ x x) 1) (= x 0)))", "(show (and))"];
    assert!(proof(&late, &[&need, "assume"]).is_err());
    let chosen = ["(real x)", "(given (= (if (= x 0) 1 (/ x x)) 1))", "(show (and))"];
    proof(&chosen, &[&need, "assume"]).unwrap();
    let swapped = ["(real x)", "(given (= (if (= x 0) (/ x x) 1) 1))", "(show (and))"];
    assert!(proof(&swapped, &[&need, "assume"]).is_err());
    // That an `if` is known to be its good side does not make the other one defined.
    let known = ["(real x)", "(show (= (if (and) 1 (/ 1 x)) 1))"];
    assert!(proof(&known, &["(then 1 (/ 1 x) (and))"]).is_err());
    // Of `and`, an earlier part guards a later one.
    let both = ["(real x)", "(given (and (!= x 0) (= (/ x x) 1)))", "(show (and))"];
    let need = "(prove (or (= x 0) (!= x 0)) (combine () (1 0) (-1 1)))";
    proof(&both, &[need, "assume"]).unwrap();
    let late = ["(real x)", "(given (and (= (/ x x) 1) (!= x 0)))", "(show (and))"];
    assert!(proof(&late, &[need, "assume"]).is_err());
}

#[test]
fn axioms_need_their_conditions() {
    let root = ["(real x)", "(given (>= x 2))", "(show (>= (* (sqrt x) (sqrt x)) 2))"];
    let known = "(prove (>= x 0) (combine () (1 0) (-1 1) (2)))";
    let last = "(prove (>= (* (sqrt x) (sqrt x)) 2) (combine (3) (1 0) (-1 4)))";
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
        "(/ 1 0)",
        "(angle x)",
        "(then x y (< x y))",
        "(else x y (<= x y))",
        "(then x y (or))",
        "(else x y (and))",
        "(apart x y)",
        "(scaled x y 0)",
        "(same-root x y)",
        "(same-angle x y)",
        "(same-divisor x y 1)",
        "(same-ceil x y)",
        "(same-floor x y)",
        "(whole-sum x y)",
        "(whole-choice x y (<= x y))",
        "(whole-size x)",
        "(next y x)",
        "(acos x)",
        "(sqrt -1)",
        "(lesser x)",
        "(frob x)",
    ] {
        assert!(proof(&real, &["assume", wrong]).is_err(), "{wrong}");
    }
}

/// In the table `a`, `b` and `c` stand for what the step says, not for names of the formula.
#[test]
fn names_of_the_formula_are_not_those_of_the_axioms() {
    let formula = ["(real a)", "(real b)", "(given (<= a b))", "(show (= (min a b) a))"];
    proof(&formula, &["assume", "(lesser a b)"]).unwrap();
    assert!(proof(&formula, &["assume", "(lesser b a)"]).is_err());
    let formula = ["(real x)", "(let a (- 0 x))", "(given (>= x 0))", "(show (= (abs x) x))"];
    proof(&formula, &["assume", "(size x)"]).unwrap();
    assert!(proof(&formula, &["assume", "(size a)"]).is_err());
    let named = ["(real x)", "(let c (- 0 1))", "(given (>= x 0))", "(show (= (abs c) c))"];
    assert!(proof(&named, &["assume", "(size c)"]).is_err());
}

#[test]
fn only_whole_numbers_are_a_whole_step_apart() {
    let one = "(prove (= (floor 1) 1) (evaluate 2))";
    let count = ["(whole n)", "(given (> n 1))", "(show (>= n (+ 1 1)))"];
    proof(&count, &["assume", "assume", one, "(next n 1)"]).unwrap();
    assert!(proof(&count, &["assume", "assume", "(next n 1)"]).is_err());
    let real = ["(real n)", "(given (> n 1))", "(show (>= n (+ 1 1)))"];
    assert!(proof(&real, &["assume", "(prove (= (floor 1) 1) (evaluate 1))", "(next n 1)"]).is_err());
    let half = ["(whole n)", "(given (> n 1/2))", "(show (>= n (+ 1/2 1)))"];
    assert!(proof(&half, &["assume", "assume", "(prove (= (floor 1/2) 1/2) (evaluate 2))"]).is_err());
    assert!(proof(&half, &["assume", "assume", "(next n 1/2)"]).is_err());
    // Sums and products of whole numbers are whole, quotients and roots are not.
    let sum = ["(whole n)", "(whole m)", "(show (= (floor (+ n (* n m))) (+ n (* n m))))"];
    proof(&sum, &["assume", "assume", "(whole-sum n m)", "(whole-sum n (* n m))"]).unwrap();
    let quotient = ["(whole n)", "(show (= (floor (* 1/2 n)) (* 1/2 n)))"];
    for wrong in ["(whole-sum 1/2 n)", "(whole-sum n 1/2)", "(rounded (* 1/2 n))", "(down (* 1/2 n))"] {
        assert!(proof(&quotient, &["assume", wrong]).is_err(), "{wrong}");
    }
    let rounded = ["(real x)", "(given (> (ceil x) 1))", "(show (>= (ceil x) (+ 1 1)))"];
    let one = "(prove (= (floor 1) 1) (evaluate 1))";
    proof(&rounded, &["assume", one, "(rounded x)", "(next (ceil x) 1)"]).unwrap();
}

#[test]
fn a_name_stands_for_one_value_and_is_new() {
    let formula = ["(real x)", "(show (= x x))"];
    let goal = "(prove (= x x) (combine () (1 1)))";
    proof(&formula, &["(name w (+ x 1))", goal]).unwrap();
    for wrong in ["(name x 1)", "(name 5 1)", "(name 1/2 1)", "(name pi 3)", "(name w w)", "(name (w) 1)"] {
        assert!(proof(&formula, &["(name v 1)", wrong, goal.replace('1', "2").as_str()]).is_err(), "{wrong}");
    }
    assert!(proof(&formula, &["(name w 1)", "(name w 2)", goal]).is_err());
    // What a block has named is a variable of which nothing is known outside.
    let block = "(prove (or (< x 0) (>= x 0)) (name w x) (combine () (1 0) (-1 1)))";
    proof(&["(real x)", "(show (or (< x 0) (>= x 0)))"], &[block]).unwrap();
    assert!(proof(&["(real x)", "(show (= x 0))"], &[block, "(name w 0)"]).is_err());
    assert!(proof(&["(real x)", "(real x)", "(show (and))"], &[]).is_err());
    assert!(proof(&["(real x)", "(let x 1)", "(show (and))"], &[]).is_err());
    assert!(proof(&["(let x 1)", "(let x 2)", "(show (and))"], &[]).is_err());
    assert!(proof(&["(let x y)", "(let y x)", "(show (and))"], &[]).is_err());
    assert!(proof(&["(real x)", "(let y (and))", "(show (and))"], &[]).is_err());
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
    // Both sides of an `if` count, unless the facts say which one it is.
    let choice = ["(real x)", "(given (> x 0))", "(show (= (if (> x 0) 1 2) 1))"];
    let last = "(prove (<= (if (> x 0) 1 2) 1) (evaluate 2))";
    let formula = ["(real x)", "(given (> x 0))", "(show (<= (if (> x 0) 1 2) 1))"];
    proof(&choice, &["assume", "(then 1 2 (> x 0))"]).unwrap();
    proof(&formula, &["assume", "(then 1 2 (> x 0))", last]).unwrap();
    assert!(proof(&formula, &["assume", "(square x)", last]).is_err());
    // Facts of numbers with one another lead nowhere, but to an end.
    let numbers = ["(given (<= 3 5))", "(given (>= 5 3))", "(show (< 5 3))"];
    assert!(proof(&numbers, &["assume", "assume", "(prove (< 5 3) (evaluate 0))"]).is_err());
    // A term without any value left excludes all facts.
    let none = ["(real x)", "(given (> x 2))", "(given (< x 1))", "(show (> x 9))"];
    proof(&none, &["assume", "assume", "(prove (> x 9) (evaluate 0))"]).unwrap();
}

/// A formula with `(show (or))`: of a witness only the hypotheses matter.
#[test]
fn a_witness_meets_all_hypotheses() {
    let formula = ["(real x)", "(given (>= x 1/3))", "(show (or))"];
    let step = |x: &str| format!("(prove (>= {x} 1/3) (evaluate 0))");
    let third = step("1/3");
    witness(&formula, &json!({ "x": "1/3" }), &[&third]).unwrap();
    assert!(witness(&formula, &json!({ "x": "0.3333" }), &[&step("0.3333")]).is_err());
    assert!(witness(&formula, &json!({ "x": "1/3" }), &[]).is_err());
    assert!(witness(&formula, &json!({}), &[&third]).is_err());
    assert!(witness(&formula, &json!({ "x": "1/3", "y": "1" }), &[&third]).is_err());
    assert!(witness(&formula, &json!({ "x": ["and"] }), &[&third]).is_err());
    assert!(witness(&formula, &json!({ "x": "y" }), &[&third]).is_err());
    assert!(witness(&formula, &json!({ "x": "x" }), &[&third]).is_err());
    // Nothing is assumed.
    assert!(witness(&formula, &json!({ "x": "0" }), &["assume"]).is_err());
    // A value is that of one variable, and a definition follows it.
    let defined = ["(real x)", "(let w x)", "(given (>= w 2))", "(show (or))"];
    let two = "(prove (>= 2 2) (evaluate 0))";
    witness(&defined, &json!({ "x": "2" }), &[two]).unwrap();
    assert!(witness(&defined, &json!({ "x": "1", "w": "2" }), &[two]).is_err());
    assert!(witness(&defined, &json!({ "w": "2" }), &[two]).is_err());
    let whole = ["(whole n)", "(given (= (* 2 n) 1))", "(show (or))"];
    let half = "(prove (= (* 2 1/2) 1) (combine () (1 0)))";
    assert!(witness(&whole, &json!({ "n": "1/2" }), &[half]).is_err());
    let real = ["(real n)", "(given (= (* 2 n) 1))", "(show (or))"];
    witness(&real, &json!({ "n": "1/2" }), &[half]).unwrap();
    // Nothing undefined is met.
    let undefined = ["(real x)", "(given (= (* 0 (/ 1 x)) 0))", "(show (or))"];
    let zero = |x: &str| format!("(prove (= (* 0 (/ 1 {x})) 0) (combine () (1 0)))");
    witness(&undefined, &json!({ "x": "1" }), &[&zero("1")]).unwrap();
    assert!(witness(&undefined, &json!({ "x": "0" }), &[&zero("0")]).is_err());
    // A variable without a value stands for any: what is met must be so for all.
    let two = ["(real x)", "(real y)", "(given (>= (* x x) 0))", "(given (= y 1))", "(show (or))"];
    witness(&two, &json!({ "y": "1" }), &["(square x)", "(prove (= 1 1) (combine () (1 1)))"]).unwrap();
    assert!(
        witness(&two, &json!({ "x": "1" }), &["(square 1)", "(prove (= y 1) (combine () (1 1)))"]).is_err()
    );
}

#[test]
fn what_is_not_in_the_language_is_refused() {
    let empty = json!({ "real": [], "let": [], "given": [], "show": ["and"] });
    let document = |version: u32, formula: Value, evidence: Value| {
        let text = json!({ "version": version, "id": "", "formula": formula, "evidence": evidence });
        recheck(&text.to_string())
    };
    document(3, empty.clone(), json!({ "proof": [] })).unwrap();
    document(2, empty.clone(), json!({ "proof": [] })).unwrap_err();
    document(3, empty.clone(), json!({ "proof": [], "witness": [{}, []] })).unwrap_err();
    document(3, empty.clone(), json!({ "counterexample": [{}, []] })).unwrap_err();
    for (key, value) in
        [("also", json!([])), ("given", json!(1)), ("show", json!(null)), ("real", json!([1]))]
    {
        let mut changed = empty.clone();
        changed[key] = value;
        assert!(document(3, changed, json!({ "proof": [] })).is_err(), "{key}");
    }
    for text in ["", "{}", "[]", "{\"version\":3}"] {
        assert!(recheck(text).is_err(), "{text}");
    }
    let twice = r#"{"version":3,"id":"","formula":{"real":[],"let":[],"given":[],"show":["or"],"show":["and"]},"evidence":{"proof":[]}}"#;
    assert!(recheck(twice).is_err());
    for line in [
        "(show x)",
        "(show (< 1))",
        "(show (frob 1 2))",
        "(show (if 1 2))",
        "(show (+ 1 2))",
        "(show 1)",
        "(show ())",
        "(show (not 1))",
        "(given (and))",
        "(let pi 3)",
        "(real 12)",
    ] {
        assert!(proof(&[line], &[]).is_err(), "{line}");
    }
    assert!(proof(&["(show (< 1 (frob 2)))"], &["(prove (< 1 (frob 2)) (evaluate 0))"]).is_err());
    proof(&["(show (and))"], &[]).unwrap();
}

#[test]
fn hostile_certificates_are_given_up_soon() {
    let chain = |first: &str, next: &dyn Fn(usize) -> String, last: &str, count: usize| {
        let mut lines = vec!["(real x)".to_owned(), format!("(let a0 {first})")];
        lines.extend((1..count).map(|n| format!("(let a{n} {})", next(n - 1))));
        lines.push(last.to_owned());
        lines
    };
    let tried = |lines: &[String], step: &str| {
        let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
        proof(&lines, &[step]).unwrap_err()
    };
    // Each definition squares the one before: too many bits, and too long a product.
    let square = |n: usize| format!("(* a{n} a{n})");
    for first in ["3", "3/7", "x", "(+ x 1)"] {
        let lines = chain(first, &square, "(show (= a59 0))", 60);
        let why = tried(&lines, "(prove (= a59 0) (combine () (1 0)))");
        assert!(why.contains("too much work"), "{why}");
        // Intervals with long ends are as good as none.
        let why = tried(&lines, "(prove (= a59 0) (evaluate 0))");
        assert!(why.contains("may all hold"), "{why}");
    }
    // A sum with a product more at each step, and rules that go on for ever.
    let lines = chain("x", &|n| format!("(* (+ a{n} 1) (+ a{n} x))"), "(show (= a59 0))", 60);
    assert!(tried(&lines, "(prove (= a59 0) (combine () (1 0)))").contains("too much work"));
    let grows = ["(real x)", "(given (= x (+ x 1)))", "(show (= x 0))"];
    assert!(proof(&grows, &["assume", "(prove (= x 0) (combine (0) (1 1)))"]).is_err());
    // Nested too deeply: by definitions, and as text.
    let lines = chain("x", &|n| format!("(abs a{n})"), "(show (>= a4899 0))", 5000);
    assert!(tried(&lines, "(square x)").contains("too deeply"));
    let formula = document(&DOUBLE, &json!({ "proof": ["assume", "DEEP"] }));
    for open in [r#"["abs","#, r#"["prove",["and"],"#, r#"["not","#, r#"{"a":"#] {
        let closed = if open.starts_with('{') { "}" } else { "]" };
        let deep = format!("{}[\"and\"]{}", open.repeat(50_000), closed.repeat(50_000));
        assert!(recheck(&formula.replace("\"DEEP\"", &deep)).unwrap_err().contains("recursion"));
    }
    // As deep as it may be, and well within the stack.
    let lines = chain("x", &|n| format!("(sqrt (abs a{n}))"), "(show (>= a489 0))", 490);
    assert!(tried(&lines, "(prove (>= a489 0) (evaluate 0))").contains("undefined"));
    assert!(
        tried(&lines, "(prove (>= a489 0) (square a489) (combine () (1 0) (1 1)))").contains("may all hold")
    );
    assert!(tried(&lines, "(square a489)").contains("undefined"));
    // Twice as many conditions to be well defined at each step.
    let lines = chain("(/ 1 x)", &|n| format!("(if (> x {n}) a{n} (+ a{n} 1))"), "(show (= a59 0))", 60);
    assert!(tried(&lines, "(square x)").contains("too much must be defined"));
    // Conditions cannot be shared by name, so that they do not grow so fast.
    let lines = chain("(and)", &|n| format!("(and a{n} a{n})"), "(show a59)", 60);
    assert!(tried(&lines, "(square x)").contains("stands for a condition"));
    let long = format!("(show (> {} 0))", "7".repeat(100_000));
    assert!(proof(&[&long], &[]).unwrap_err().contains("too long"));
    // Numbers of facts that are none.
    for fact in ["18446744073709551616", "-1", "1/2", "99999"] {
        let step = format!("(prove (> (+ x x) 1) (combine () (1 {fact})))");
        assert!(proof(&DOUBLE, &["assume", &step]).is_err());
    }
}

#[test]
fn the_example_of_the_readme_is_accepted_and_its_figures_hold() {
    let readme = include_str!("../README.md");
    let (_, rest) = readme.split_once("```json\n").unwrap();
    recheck(rest.split_once("```").unwrap().0).unwrap();
    let sources = [
        include_str!("../src/check.rs"),
        include_str!("../src/lib.rs"),
        include_str!("../src/ranges.rs"),
        include_str!("../src/sums.rs"),
        include_str!("../src/terms.rs"),
    ];
    let lines: usize = sources.iter().map(|source| source.lines().count()).sum();
    assert!(lines < 600 && readme.contains(&format!("{lines} lines of Rust")), "{lines} lines");
}
