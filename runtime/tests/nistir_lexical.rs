//! Lines, words and comments of RS274/NGC: NISTIR 6556, sections 3.1 and 3.3.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::approx_constant,
    clippy::wildcard_enum_match_arm,
    reason = "tests"
)]

mod common;

use borewright_runtime::text::Content;
use borewright_runtime::{Controller, EventKind, read};
use common::{FILE, found, nistir, variable};

fn of_nistir(text: &str) -> Vec<&'static str> {
    found(text, &Controller::nistir_6556())
}

#[test]
fn blanks_mean_nothing_outside_comments() {
    // NISTIR 6556, section 3.3: `g0x +0. 12 34y 7` equals `g0 x+0.1234 y7`.
    let (odd, plain) = (nistir("g0x +0. 12 34y 7\nm2\n"), nistir("g0 x+0.1234 y7\nm2\n"));
    assert!(odd.is_clean());
    assert_eq!(odd.moves, plain.moves);
    assert_eq!(odd.moves[0].to, [0.1234, 7.0, 0.0]);
    let tabs = nistir("g\t0 x + 0.12\t34\ty7\r\nm2\r\n");
    assert_eq!(tabs.moves[0].to, plain.moves[0].to);
}

#[test]
fn letter_case_means_nothing_and_blank_lines_are_passed_over() {
    // NISTIR 6556, section 3.3.
    let trace = nistir("\n  \nG1 X SQRT[ 4 ] f9\n\t\ng1 x sQrT[9]\n\nm2\n");
    assert!(trace.is_clean());
    assert_eq!(trace.moves.iter().map(|m| (m.line, m.to[0])).collect::<Vec<_>>(), [(3, 2.0), (5, 3.0)]);
}

#[test]
fn a_line_has_at_most_256_characters() {
    // NISTIR 6556, section 3.3.
    let line = |length: usize| format!("({})\nm2\n", "x".repeat(length - 2));
    assert_eq!(of_nistir(&line(256)), Vec::<&str>::new());
    assert_eq!(of_nistir(&line(257)), ["R0613"]);
}

#[test]
fn a_line_is_a_skip_mark_then_a_number_then_items() {
    // NISTIR 6556, section 3.3 and Appendix E.2.
    assert_eq!(of_nistir("/n10 g0 x1 (foo)\nm2\n"), Vec::<&str>::new());
    assert_eq!(of_nistir("n10 / g0 x1\nm2\n"), ["R0603"]);
    assert_eq!(of_nistir("g0 n10 x1\nm2\n"), ["R0603"]);
}

#[test]
fn line_numbers_have_at_most_five_digits_no_sign_and_any_order() {
    // NISTIR 6556, section 3.3.1.
    assert_eq!(of_nistir("n99999 g0 x1\nn0 x2\nn7 x3\nn7 x4\nm2\n"), Vec::<&str>::new());
    assert_eq!(of_nistir("n000009 g0 x1\nm2\n"), ["R0612"]);
    assert_eq!(of_nistir("n-5 g0 x1\nm2\n"), ["R0604"]);
    assert_eq!(of_nistir("n1.5 g0 x1\nm2\n"), ["R0603"]);
}

#[test]
fn words_begin_with_the_letters_of_table_3() {
    // NISTIR 6556, Table 3 and Appendix E.3: E, O, U, V and W begin no word.
    for letter in ['E', 'U', 'V', 'W'] {
        assert_eq!(of_nistir(&format!("{letter}1\nm2\n")), ["R0612"], "{letter}");
    }
    let (_, found) = read(FILE, "A1 B1 C1 D1 F1 H1 I1 J1 K1 L1 P1 Q1 R1 S1 T1 X1 Y1 Z1\n");
    assert!(!found.has_errors());
}

#[test]
fn a_comment_goes_from_a_bracket_to_the_first_closing_one() {
    // NISTIR 6556, section 3.3.4: no nesting, closed on the same line.
    assert_eq!(of_nistir("g0 x1 (a remark) y2\nm2\n"), Vec::<&str>::new());
    assert_eq!(of_nistir("g0 x1 (a remark\nm2\n"), ["R0601"]);
    assert_eq!(of_nistir("(a (b) c)\nm2\n"), ["R0604"]);
    assert_eq!(of_nistir("g0 x1 a remark)\nm2\n"), ["R0608"]);
}

#[test]
fn a_comment_that_begins_with_msg_is_a_message_and_only_the_last_counts() {
    // NISTIR 6556, sections 3.3.4 and 3.3.5.
    let messages = |text: &str| -> Vec<String> {
        let trace = nistir(text);
        let texts = trace.execution.events.iter().filter_map(|e| match &e.kind {
            EventKind::Message(text) => Some(text.clone()),
            _ => None,
        });
        texts.collect()
    };
    assert_eq!(messages("( m S g , turn the part)\nm2\n"), ["turn the part"]);
    assert_eq!(messages("(MSG,one) (MSG,two)\nm2\n"), ["two"]);
    assert_eq!(messages("(message, no)\nm2\n"), Vec::<String>::new());
    assert_eq!(of_nistir("(fine) (open\nm2\n"), ["R0601"]);
}

#[test]
fn each_letter_but_g_and_m_stands_once_and_m_at_most_four_times() {
    // NISTIR 6556, section 3.3.5.
    assert_eq!(of_nistir("g0 x1 x2\nm2\n"), ["R0605"]);
    assert_eq!(of_nistir("g0 g17 g21 g90 x1\nm2\n"), Vec::<&str>::new());
    assert_eq!(of_nistir("s100 m6 m3 m8 m48\nm2\n"), Vec::<&str>::new());
    assert_eq!(of_nistir("s100 m6 m3 m8 m48 m0\nm2\n"), ["R0605"]);
}

#[test]
fn no_two_codes_of_one_modal_group_stand_in_a_line() {
    // NISTIR 6556, section 3.3.5 and Table 4.
    let groups = [
        "g0 g1 x1",
        "g2 g80",
        "g17 g18",
        "g90 g91",
        "g93 g94",
        "g20 g21",
        "g40 g41",
        "g43 g49",
        "g98 g99",
        "g54 g59.3",
        "g61 g64",
        "g4 g10",
        "m0 m2",
        "m3 m4",
        "m8 m9",
        "m48 m49",
    ];
    for line in groups {
        assert_eq!(of_nistir(&format!("{line}\nm2\n")), ["R0606"], "{line}");
    }
    // Codes with computed numbers are caught when the block runs.
    assert_eq!(of_nistir("f1 g[0+0] g1 x1\nm2\n"), ["R0606"]);
}

#[test]
fn percent_signs_enclose_a_file_or_m2_ends_it() {
    // NISTIR 6556, section 3.1.
    assert_eq!(of_nistir("%\ng0 x1\n%\n"), Vec::<&str>::new());
    assert_eq!(of_nistir("%\ng0 x1\nm2\n"), ["R0629"]);
    assert_eq!(of_nistir("g0 x1\n"), ["R0629"]);
    assert_eq!(of_nistir("g0 x1\nm30\n"), Vec::<&str>::new());
}

#[test]
fn nothing_after_the_second_percent_sign_or_the_program_end_is_run() {
    // NISTIR 6556, sections 3.1 and 3.6.1.
    let trace = nistir("%\n#1=1\n%\n#1=2 this is not a block (\n");
    assert_eq!(variable(&trace, 1), Some(1.0));
    let trace = nistir("#1=1\nm2\n#1=2\n");
    assert_eq!(variable(&trace, 1), Some(1.0));
}

#[test]
fn spans_point_at_the_bytes_of_the_text() {
    let text = "(é) g1 x[1+2\nm2\n";
    let (program, found) = read(FILE, text);
    let found = found.into_sorted();
    assert_eq!(found.len(), 1);
    let span = found[0].span.unwrap();
    assert_eq!(&text[span.range()], "[1+2");
    assert_eq!(program.bodies[0].blocks[0].content, Content::Unreadable);
}
