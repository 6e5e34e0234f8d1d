//! Parameters and expressions of RS274/NGC. Values are those printed in NISTIR 6556; a tolerance is half a unit of
//! the last printed digit unless the comment says more.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::approx_constant, reason = "tests")]

mod common;

use borewright_runtime::Controller;
use common::{found, near, nistir, variable};

/// The value of one expression in a word.
fn value(expression: &str) -> f64 {
    let trace = nistir(&format!("g20 f10\ng1 x {expression}\nm2\n"));
    assert!(trace.is_clean(), "{expression}: {:#?}", trace.diagnostics);
    trace.moves[0].to[0]
}

#[test]
fn the_expression_test_program_gives_the_printed_values() {
    // NISTIR 6556, Appendix C.2: expression and value as printed. The tolerance is half a unit of the last printed
    // digit, or more where the source's own rounded arguments make the value differ.
    let printed = [
        ("[1 + 2]", 3.0, 0.0),
        ("[1 --3]", 4.0, 0.0),
        ("[2/5]", 0.40, 1e-15),
        ("[3.0 * 5]", 15.0, 0.0),
        ("[0 OR 0]", 0.0, 0.0),
        ("[2 or 2]", 1.0, 0.0),
        ("[0 AND 0]", 0.0, 0.0),
        ("[0 AND 1]", 0.0, 0.0),
        ("[2 and 2]", 1.0, 0.0),
        ("[0 XOR 1]", 1.0, 0.0),
        ("[2 xor 2]", 0.0, 0.0),
        ("[15 MOD 4.0]", 3.0, 0.0),
        ("[1 + 2 * 3 - 4 / 5]", 6.2, 1e-15),
        ("cos[0.0]", 1.0, 0.0),
        ("tan[60.0]", 1.7321, 5e-5),
        ("sqrt[3]", 1.7321, 5e-5),
        ("atan[1.7321]/[1.0]", 60.0, 7.1e-4),
        ("acos[0.707107]", 45.0000, 5e-5),
        ("abs[20.0]", 20.0, 0.0),
        ("abs[-1.23]", 1.23, 0.0),
        ("round[-0.499]", 0.0, 0.0),
        ("round[2.444]", 2.0, 0.0),
        ("round[9.975]", 10.0, 0.0),
        ("fix[-0.499]", -1.0, 0.0),
        ("fix[-0.5001]", -1.0, 0.0),
        ("fix[9.975]", 9.0, 0.0),
        ("fup[-0.499]", 0.0, 0.0),
        ("fup[-0.5001]", 0.0, 0.0),
        ("fup[2.444]", 3.0, 0.0),
        ("exp[2.3026]", 10.0, 2e-4),
        ("ln[10.0]", 2.3026, 5e-5),
        ("[2 ** 3.0]", 8.0, 1e-15),
        ("sqrt[3**2 + 4**2]", 5.0, 1e-15),
    ];
    for (expression, wanted, tolerance) in printed {
        near(value(expression), wanted, tolerance);
    }
}

#[test]
fn the_examples_of_the_text_give_their_values() {
    // NISTIR 6556, section 3.3.2.3: printed value 0.5.
    near(value("[2.0 / 3 * 1.5 - 5.5 / 11.0]"), 0.5, 1e-15);
    // Section 3.3.2.4: input printed, values computed.
    near(value("ATAN[2]/[1+3]"), 26.565_051_177_077_99, 1e-13);
    near(value("SIN[90]"), 1.0, 0.0);
    // Section 3.3.2.4: printed values.
    for (expression, wanted) in
        [("FIX[2.8]", 2.0), ("FIX[-2.8]", -3.0), ("FUP[2.8]", 3.0), ("FUP[-2.8]", -2.0)]
    {
        near(value(expression), wanted, 0.0);
    }
    // Section 3.3.2.3: input printed, value computed: 1 + 90 - 2 ** 2.
    let trace = nistir("g20 f10 #3=2\ng1 x[ 1 + acos[0] - [#3 ** [4.0/2]]]\nm2\n");
    near(trace.moves[0].to[0], 87.0, 1e-13);
}

#[test]
fn operators_of_one_rank_go_left_to_right() {
    // NISTIR 6556, section 3.3.2.3; the values follow from the rule.
    near(value("[2**3**2]"), 64.0, 0.0);
    near(value("[2 - 3 + 4]"), 3.0, 0.0);
    near(value("[24 / 4 * 2]"), 12.0, 0.0);
    near(value("[1 + 1 AND 0]"), 0.0, 0.0);
    near(value("[2 * 3 ** 2]"), 18.0, 0.0);
    near(value("[0 OR 1 + 1]"), 2.0, 0.0);
}

#[test]
fn a_listing_ends_with_an_arc_sine() {
    // NISTIR 6556, Table 10: `g1 x asin[0.5]` shows X 30.0000.
    near(value("asin[0.5]"), 30.0, 5e-5);
}

#[test]
fn the_number_sign_binds_before_all_else() {
    // NISTIR 6556, section 3.3.2.2.
    let text = "#1=5 #2=3 #3=40\n#10=[#1+2] #11=#[1+2] #12=##2\nm2\n";
    let trace = nistir(text);
    let values = [10, 11, 12].map(|n| variable(&trace, n));
    assert_eq!(values, [Some(7.0), Some(40.0), Some(40.0)]);
}

#[test]
fn a_setting_takes_effect_after_the_values_of_its_line_are_read() {
    // NISTIR 6556, section 3.3.3: with #3 = 15, `#3=6 G1 x#3` moves to 15.
    let trace = nistir("f10 #3=15\n#3=6 G1 x#3\ng1 x#3\nm2\n");
    assert_eq!(trace.moves.iter().map(|m| m.to[0]).collect::<Vec<_>>(), [15.0, 6.0]);
    // Appendix C.2: `#1=2.0`, `##1 = 0.375`, `x #2` is 0.375; `x #3 #3=1.1` still moves to the old value, 5.
    let trace = nistir("f10 g1 x0\n#1=2.0\n##1 = 0.375\nx #2\n#3=5.0\nx #3 #3=1.1\nm2\n");
    assert_eq!(trace.moves.iter().map(|m| m.to[0]).collect::<Vec<_>>(), [0.0, 0.375, 5.0]);
    near(variable(&trace, 3).unwrap(), 1.1, 0.0);
}

#[test]
fn of_two_settings_of_one_variable_the_last_wins() {
    // NISTIR 6556, sections 3.3.5 and 3.3.6.
    near(variable(&nistir("#3=15 #3=6\nm2\n"), 3).unwrap(), 6.0, 0.0);
    near(variable(&nistir("#3=6 #3=15\nm2\n"), 3).unwrap(), 15.0, 0.0);
}

#[test]
fn items_of_a_line_may_stand_in_any_order() {
    // NISTIR 6556, section 3.3.6: `g40 g1 #3=15 (foo) #4=-7.0` has five items and 120 equal orders.
    let items = ["g40", "g1 x1", "#3=15", "(foo)", "#4=-7.0"];
    let mut orders = 0;
    permute(&mut items.to_vec(), 0, &mut |order| {
        orders += 1;
        let trace = nistir(&format!("f10\n{}\nm2\n", order.join(" ")));
        assert!(trace.is_clean(), "{order:?}: {:#?}", trace.diagnostics);
        assert_eq!((variable(&trace, 3), variable(&trace, 4)), (Some(15.0), Some(-7.0)));
        assert_eq!(trace.moves.len(), 1);
    });
    assert_eq!(orders, 120);
}

fn permute(items: &mut Vec<&str>, from: usize, visit: &mut impl FnMut(&[&str])) {
    if from + 1 >= items.len() {
        visit(items);
        return;
    }
    for with in from..items.len() {
        items.swap(from, with);
        permute(items, from + 1, visit);
        items.swap(from, with);
    }
}

#[test]
fn parameters_go_from_1_to_5399_and_begin_at_zero() {
    // NISTIR 6556, sections 3.2.1 and 3.3.2.2 and Table 2.
    let trace = nistir("#10=[#5399+#1] #11=#5220\nm2\n");
    assert_eq!((variable(&trace, 10), variable(&trace, 11)), (Some(0.0), Some(1.0)));
    let controller = Controller::nistir_6556();
    assert_eq!(found("#1=#0\nm2\n", &controller), ["R0617"]);
    assert_eq!(found("#1=#5400\nm2\n", &controller), ["R0617"]);
    assert_eq!(found("#5400=1\nm2\n", &controller), ["R0617"]);
}

#[test]
fn whole_numbers_are_told_within_a_ten_thousandth() {
    // NISTIR 6556, section 3.3.2.1.
    near(variable(&nistir("#[2.00009]=7\nm2\n"), 2).unwrap(), 7.0, 0.0);
    let controller = Controller::nistir_6556();
    assert_eq!(found("#[2.0002]=7\nm2\n", &controller), ["R0617"]);
    assert_eq!(found("g[1.000009] x1 f1\nm2\n", &controller), Vec::<&str>::new());
    assert_eq!(found("m[3.001]\nm2\n", &controller), ["R0624"]);
}

#[test]
fn numbers_have_no_exponent_and_at_most_one_point() {
    // NISTIR 6556, section 3.3.2.1 and Appendix E.2.
    near(value("+.5"), 0.5, 0.0);
    near(value("-5."), -5.0, 0.0);
    let controller = Controller::nistir_6556();
    assert_eq!(found("x1.2.3\nm2\n", &controller), ["R0603"]);
    assert_eq!(found("x.\nm2\n", &controller), ["R0604"]);
    assert_eq!(found("g1 x1e3 f1\nm2\n", &controller), ["R0612"]);
}

#[test]
fn what_this_version_does_not_have_is_refused() {
    // NISTIR 6556 has no comparisons, no IF, WHILE or GOTO, no subprograms and no named variables.
    let controller = Controller::nistir_6556();
    for text in
        ["#1=[1 EQ 1]", "IF [#1] GOTO 5\nN5", "N5 GOTO 5", "WHILE [#1] DO1\nEND1", "M98 P1", "M99", "O5"]
    {
        let codes = found(&format!("{text}\nm2\n"), &controller);
        assert!(!codes.is_empty() && codes.iter().all(|c| *c == "R0612"), "{text}: {codes:?}");
    }
    assert_eq!(found("#<a>=1\nm2\n", &controller), ["R0604"]);
    // Signs belong to numbers, sums to brackets (section 3.3.2.3 and Appendix E).
    assert_eq!(found("g1 x-#1 f1\nm2\n", &controller), ["R0612"]);
    assert_eq!(found("#1=#2+1\nm2\n", &controller), ["R0612"]);
}

#[test]
fn arguments_outside_a_functions_domain_are_refused() {
    let controller = Controller::nistir_6556();
    for expression in [
        "[1/0]",
        "sqrt[-1]",
        "ln[0]",
        "asin[1.5]",
        "acos[-1.5]",
        "tan[90]",
        "[-2**0.5]",
        "[0**-1]",
        "atan[0]/[0]",
    ] {
        assert_eq!(found(&format!("#1={expression}\nm2\n"), &controller), ["R0616"], "{expression}");
    }
    // NISTIR 6556 leaves MOD of negative numbers open; controllers differ.
    assert_eq!(found("#1=[-7 MOD 3]\nm2\n", &controller), ["R0616"]);
    assert_eq!(found("#1=exp[1000]\nm2\n", &controller), ["R0616"]);
}
