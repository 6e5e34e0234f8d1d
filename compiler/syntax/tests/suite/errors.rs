//! What a person is told about a text that cannot be read: input and output together.

use crate::common::shown;

macro_rules! error_texts {
    ($($name:ident: $text:expr;)*) => {
        $(#[test] fn $name() { insta::assert_snapshot!(shown($text)); })*
    };
}

error_texts! {
    stray_characters_are_named_one_by_one:
        "let a = 5 # 3\nlet b = 2 ^ 2;\nlet c = 30°\nlet d = 3 − 1\nlet größe = 4mm\nlet e = 1 ≤ 2\n";
    nul_is_reported_once: "l\0e\0t\0 \0a\0";
    numbers_have_digits_on_both_sides_of_the_point: "let a = .5mm\nlet b = 5. + 2\nlet c = 5.mm\nlet d = 7.25mm\n";
    unknown_units_suggest_the_nearest: "let a = 5mmm\nlet b = 30degrees\nlet c = 5kg\nlet d = 1e5\nlet e = 12mm/minute\n";
    a_unit_touches_its_number: "let a = 5 mm\nlet b = (2 in)\nlet c = 24 in/min\n";
    a_text_ends_on_its_line: "routine r(a: length in 0..1mm)\nrequires a < 1mm else \"TOO BIG\nrequires a > 0 else \"TOO\nSMALL\"\nrequires a > 0 else \"A\tTAB\"\n{\n}\n";
    reserved_words_are_no_names: "let feed = 5\nroutine line(z: length in 0..1mm, turn: count in 1..2)\nlet a = b.at\n{\n    call drill(row: 5, depth) at work\n    passes row from 0 to 5 by 1 { }\n    rapid to (travel, 0)\n}\n";
    a_brace_is_missing_at_the_end: "routine r()\n{\n    passes level from 0 to 5mm by 1mm {\n        line to z level\n    retract\n}\n\nroutine s()\n{\n}\n";
    a_brace_is_missing_at_the_end_of_the_file: "routine r()\n{\n    retract\n";
    a_brace_is_missing_at_the_start: "routine r(a: length in 0..1mm)\nrequires a > 0 else \"NO\"\n    retract\n    rapid to centre\n}\nroutine s()\n{\n    retract\n}\n";
    a_bracket_is_missing: "routine r()\n{\n    rapid to (1mm, 2mm\n    line to [1mm, 2mm)\n    line to 3mm)\n    retract\n}\n";
    a_bracket_is_missing_in_the_parameters: "routine r(\n    a: length in 0..1mm,\n    travel: length in 0..1mm,\nlet b = a\n{\n    retract\n}\n";
    three_sides_of_a_comparison: "routine r(a: length in 0..1mm)\nrequires 0 < a <= 1mm else \"NO\"\n{\n}\n";
    arguments_with_names_and_without: "let a = circle(6, diameter: 80mm)\nlet b = circle(count, diameter: 80mm)\n";
    misspelt_statements_suggest_the_nearest: "rutine r()\n{\n}\n\nroutine s()\nrequire 1 < 2 else \"NO\"\n{\n    retrct\n    drill to z 5mm\n    lne to centre\n}\n\ntable t(a: length) {\n    rwo M5 = 1mm\n    row M6 = 2mm\n}\n";
    statements_in_the_wrong_place: "retract\nrapid to centre\n\nroutine r()\n{\n    requires 1 < 2 else \"NO\"\n    row A = 5\n    retract\n    use bores\n}\n";
    documentation_of_nothing: "/// a routine\nroutine r(\n    /// above\n    a: length in 0..1mm, /// beside\n)\n/// of a head line\nlet b = a\n{ /// of a brace\n    /// of a statement\n    retract\n}\n/// at the end\n";
    words_missing_in_statements: "routine r()\n{\n    rapid centre\n    line z 5mm\n    arc to centre about centre\n    arc ccw to z 5mm about centre\n    turn ccw centre\n    passes level from 0 to 5mm { retract }\n    call drill at centre\n    spindle 500rpm\n    feed\n    stop\n}\n";
    words_missing_in_the_head: "routine r(a length in 0..1mm, b: in 0..1mm, c: length as BC, d: length in 1mm)\nrequires a < 1mm \"NO\"\nrequires a = 1mm else \"NO\"\ncutter flat with diameter\nmakes hole(diameter: 5mm) promises within\nmakes hole seat(diameter 5mm) promises within\ntravel 5mm\n{\n}\n";
    several_errors_in_one_expression: "let a = f(1 +, 2, (3 4), [5, * 6]) + g(1, , 2)\nlet b = \nlet c = 5 5\n";
    an_error_in_a_block_head_does_not_hide_its_body: "routine r()\n{\n    passes level frm 0 to 1mm by 1mm {\n        line centre\n    }\n    repeat {\n        turn ccw about\n    }\n}\n";
    errors_in_the_brackets_of_a_wrong_statement_are_found_too: "routine r(a length)\n{\n    call drill(depth: , 5 + ) on [(1mm 2mm), centre]\n    line (1mm at) z\n}\nroutine s(b length)\nrequires all\n";
    a_body_is_missing: "routine r(a length)\n\nroutine s(b length)\nlet c = \n\nlet d = 5\ntable t(a length)\n";
    a_second_thing_on_a_line: "routine r() { retract fast }\nroutine s() { retract rapd to centre }\n";
    nested_too_deep_is_said_once: &format!("let a = {}1{}\nlet b = 1 +\n", "(".repeat(300), ")".repeat(300));
    a_feed_touching_a_bracket: "let a = 24in/min(1, 2)\n";
    signs_of_other_languages: "let a == 5\nlet b = !c\nlet d = e && f\nlet g = h.5\n";
}
