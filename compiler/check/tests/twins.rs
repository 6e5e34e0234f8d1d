//! For each rule a program that passes and a near one that gives exactly the code said.

use borewright_base::{FileId, Span};
use borewright_check::check;
use borewright_syntax::parse;

/// The codes that a text gives, in the order of their places.
fn codes(text: &str) -> Vec<&'static str> {
    let (file, mut found) = parse(FileId(0), text);
    found.append(check(&file, FileId(0), &()).1);
    found.into_sorted().iter().map(|d| d.code.number).collect()
}

/// Tries each twin in the frame, `@` replaced: the first must pass, the second give the code.
fn twins(frame: &str, cases: &[(&str, &str, &str)]) {
    for (good, bad, code) in cases {
        assert_eq!(codes(&frame.replace('@', good)), Vec::<&str>::new(), "{good}");
        assert_eq!(codes(&frame.replace('@', bad)), vec![*code], "{bad}");
    }
}

const ROUTINE: &str = "
    routine r(
        a: length in 1mm..9mm,
        f: feed in 10mm/min..90mm/min,
        t: angle in 0..90deg,
        n: count in 1..9,
        q: ratio in 0..1,
        s: time in 0..5s,
    ) {
        rapid to (a at t)
        repeat n { rapid to z a * q }
        feed f
        dwell s
        @
    }";

#[test]
fn dimensions_combine() {
    twins(
        ROUTINE,
        &[
            ("line to z a + 0", "line to z a + 1", "N0210"),
            ("line to z a - 2mm", "line to z a - f", "N0210"),
            ("line to z a * a / a", "line to z a * a", "N0211"),
            ("line to z f * s", "line to z f / s", "N0211"),
            ("feed a / s", "feed a * s", "N0211"),
            ("line to z -a", "line to z -f", "N0211"),
            ("line to z sqrt(a * a + a * a)", "line to z sqrt(a)", "N0212"),
            ("line to z min(a, 3mm)", "line to z min(a, 3)", "N0210"),
            ("line to z max(0, a)", "line to z max(t, a)", "N0210"),
            ("line to z a * sin(t)", "line to z a * sin(q)", "N0211"),
            ("line to z a * cos(0)", "line to z a * cos(1)", "N0211"),
            ("rapid to (a at atan(q))", "rapid to (a at atan(t))", "N0211"),
            ("rapid to (a at acos(q))", "rapid to (a at tan(t))", "N0211"),
            ("line to z a * (t / 90deg)", "line to z a * t", "N0211"),
            ("line to z if a < 3mm then a else 0", "line to z if a < 3mm then a else 5", "N0210"),
            ("line to z abs(a)", "line to z abs(q)", "N0211"),
            ("line to z ceil(q) * a", "line to z ceil(a)", "N0211"),
            ("line to z 2 * pi * a", "line to z 2 * pi", "N0211"),
        ],
    );
}

#[test]
fn comparisons_ask_for_one_dimension() {
    twins(
        &ROUTINE
            .replace("{\n        rapid", "requires @ else \"NO\" {\n        rapid")
            .replace("        @\n    }", "}"),
        &[
            ("a < 3mm", "a < 3", "N0210"),
            ("a > 0", "a > 0deg", "N0210"),
            ("a * a <= 9mm * 9mm", "a * a <= 9mm", "N0210"),
            ("not a < 3mm and q == 1", "a and q == 1", "N0214"),
            ("a < 3mm or n == 2", "n or n == 2", "N0214"),
            ("n != 2", "n", "N0214"),
        ],
    );
}

#[test]
fn whole_numbers_stay_whole() {
    twins(
        ROUTINE,
        &[
            ("repeat n { retract }", "repeat q { retract }", "N0215"),
            ("repeat n + 2 { retract }", "repeat n / 2 { retract }", "N0215"),
            ("repeat ceil(n / 2) { retract }", "repeat 2.5 { retract }", "N0215"),
            ("repeat min(n, 3) * 2 { retract }", "repeat a { retract }", "N0211"),
        ],
    );
}

#[test]
fn points_and_quantities_are_not_mixed() {
    twins(
        ROUTINE,
        &[
            ("line to (a, 0)", "line to (q, 0)", "N0211"),
            ("line to (a at t)", "line to (a at q)", "N0211"),
            ("line to centre + (a, a)", "line to centre + a", "N0214"),
            ("line to 2 * (a, a)", "line to a * (a, a)", "N0211"),
            ("line to (a, a) / 2", "line to 2 / (a, a)", "N0214"),
            ("line to -(a, a)", "line to -[(a, a)]", "N0214"),
            ("line to z (a, a).y", "line to z (a, a)", "N0214"),
            ("line to ((a, a).x, 0)", "line to ((a, a).w, 0)", "N0234"),
            ("line to if a < 2mm then centre else (a, 0)", "line to if a < 2mm then centre else a", "N0214"),
            ("arc ccw to (a, 0) about centre", "arc ccw to z a about centre", "S0111"),
            ("turn ccw to z a about centre", "turn ccw about a", "N0214"),
            ("let p = (a, 0) line to p", "let p = (a, 0) line to z p", "N0214"),
        ],
    );
}

#[test]
fn names_are_in_scope_to_their_brace() {
    twins(
        ROUTINE,
        &[
            ("let b = a rapid to z b", "rapid to z b let b = a", "N0201"),
            ("let b = a rapid to z b", "let a = 2mm rapid to z a", "N0206"),
            ("let b = a rapid to z b", "let pi = 2mm rapid to z pi", "N0206"),
            ("let b = a repeat 2 { rapid to z b }", "repeat 2 { let b = a } rapid to z b", "N0201"),
            ("repeat 2 as k { rapid to z k * a }", "repeat 2 as a { rapid to z a * 1mm }", "N0206"),
            (
                "repeat 2 { let b = a rapid to z b } repeat 2 { let b = 2 * a rapid to z b }",
                "let b = a repeat 2 { let b = 2 * a rapid to z b }",
                "N0206",
            ),
            (
                "passes l from 0 to a by 1mm { rapid to z l }",
                "passes l from 0 to a by 1mm { } rapid to z l",
                "N0201",
            ),
            (
                "passes l from 0 to a by 1mm { rapid to z l }",
                "passes l from 0 to a by 1mm { retract }",
                "N0280",
            ),
            ("passes l from 0 to a by 1mm { rapid to z l }", "passes l from 0deg to a by 1mm { }", "N0210"),
            (
                "passes l from 0 to a by 1mm { rapid to z l }",
                "passes l from 0 to a by 1 { rapid to z l }",
                "N0211",
            ),
            ("let b = a rapid to z b", "let b = a < 2mm", "N0259"),
        ],
    );
}

#[test]
fn parameters_have_finite_ranges_and_sensible_defaults() {
    twins(
        "routine r(b: length as X in 1mm..9mm, @) { rapid to z a + b }",
        &[
            ("a: length in 1mm..9mm", "a: length", "N0220"),
            ("a: length in 1mm..9mm", "a: length in 9mm..1mm", "N0221"),
            ("a: length in 0..9mm", "a: length in 1..9mm", "N0211"),
            ("a: length in 1mm..2 * 3mm", "a: length in 1mm..b", "N0216"),
            ("a: length in 1mm..9mm = b / 2", "a: length in 1mm..9mm = c / 2", "N0201"),
            ("a: length in 1mm..9mm = 5mm", "a: length in 1mm..9mm = 5", "N0211"),
            ("a: length in 1mm..9mm = b", "a: length in 1mm..9mm = a", "N0201"),
            ("a: length as B in 1mm..9mm", "a: length as X in 1mm..9mm", "N0223"),
        ],
    );
}

#[test]
fn choices_know_their_words() {
    twins(
        "routine r(hand: right or left = right, other: right or left, n: no or yes) {
            repeat if n == yes then 2 else 1 { rapid to z if other == left then 1mm else 2mm }
            rapid to z if @ then 1mm else 2mm
        }",
        &[
            ("hand == right", "hand == up", "N0236"),
            ("right == hand", "up == hand", "N0236"),
            ("hand != other", "hand != n", "N0214"),
            ("hand == left", "hand < left", "N0214"),
            ("hand == other", "hand == 1", "N0214"),
        ],
    );
}

const TABLES: &str = "
    table thread(major: length, starts: count, hand: right or left) {
        row M8 = 8mm, 1, right
        row T10 = 10mm, 2, left
    }
    table part(sheet: length, screw: thread) {
        row small = 12mm, thread.M8
    }
    let eight = 8mm
    function twice(x: length, n: count) = x * n
    function whole(p: part) = p.screw.major + p.sheet
    @";

#[test]
fn tables_and_functions_have_types() {
    let routine = |text: &str| format!("routine r(p: part, t: thread = thread.M8) {{ {text} }}");
    let cases = [
        ("rapid to z p.sheet + t.major", "rapid to z p.sheets + t.major", "N0234"),
        ("rapid to z p.screw.major + t.major", "rapid to z p.screw + t.major", "N0214"),
        ("rapid to z whole(p) + t.major", "rapid to z whole(t) + p.sheet", "N0214"),
        ("rapid to z twice(p.sheet, t.starts)", "rapid to z twice(t.starts, p.sheet)", "N0211"),
        ("rapid to z twice(p.sheet, t.starts)", "rapid to z twice(p.sheet + t.major)", "N0233"),
        ("rapid to z twice(p.sheet, t.starts)", "rapid to z twise(p.sheet, t.starts)", "N0204"),
        ("rapid to z twice(p.sheet, t.starts)", "rapid to z twice(x: p.sheet, n: t.starts)", "N0233"),
        (
            "rapid to z thread.M8.major + p.sheet + t.major",
            "rapid to z thread.M9.major + p.sheet + t.major",
            "N0235",
        ),
        ("rapid to z eight + p.sheet + t.major", "rapid to z ate + p.sheet + t.major", "N0201"),
        (
            "rapid to z if t.hand == left then p.sheet else 0",
            "rapid to z if t.hand == up then p.sheet else 0",
            "N0236",
        ),
    ];
    for (good, bad, code) in cases {
        twins(TABLES, &[(&routine(good), &routine(bad), code)]);
    }
}

#[test]
fn tables_hold_exact_numbers() {
    twins(
        TABLES,
        &[
            ("table a(x: length) { row b = eight }", "table a(x: length) { row b = pi * eight }", "N0216"),
            ("table a(x: length) { row b = 2 * eight }", "table a(x: length) { row b = 2 }", "N0211"),
            (
                "table a(x: length) { row b = 0 row c = 1mm }",
                "table a(x: length) { row b = 0 row b = 1mm }",
                "N0206",
            ),
            ("table a(x: count) { row b = 2 }", "table a(x: count) { row b = 2.5 }", "N0215"),
            (
                "table a(x: thread) { row b = thread.M8 }",
                "table a(x: thread) { row b = part.small }",
                "N0214",
            ),
            ("table a(x: length) { row b = 1mm }", "table a(x: length) { row b = 1mm, 2mm }", "N0270"),
            ("table a(x: length) { row b = 1mm }", "table a(x: length) { }", "N0270"),
            (
                "table a(x: length, y: length) { row b = 1mm, 0 }",
                "table a(x: length, x: length) { row b = 1mm, 0 }",
                "N0206",
            ),
            ("let b = eight * 2", "let b = b * 2", "N0207"),
            ("function b(x: ratio) = x", "function b(x: ratio) = b(x)", "N0207"),
            ("function b(x: ratio) = x", "function b(x: ratio) = 2", "N0280"),
            ("function b(x: ratio) = x", "function b(x: ratio) = x < 2", "N0259"),
            ("let b = thread.M8", "let b = thread", "N0259"),
        ],
    );
}

const CALLS: &str = "
    routine drill(depth: length in 1mm..9mm, tool: length in 1mm..9mm, dwell_time: time in 0..2s = 0, hand: right or left = left)
    cutter flat with diameter == tool, flutes >= depth
    {
        retract
        dwell dwell_time
        rapid to (tool, 0)
        rapid to z if hand == left then depth else 0
    }
    @";

#[test]
fn calls_name_their_arguments() {
    let routine = |text: &str| {
        format!(
            "routine r(depth: length in 1mm..9mm, n: count in 2..8) cutter flat with diameter == depth {{ repeat n {{ {text} }} }}"
        )
    };
    let cases = [
        ("call drill(depth, tool: 2mm)", "call dril(depth, tool: 2mm)", "N0203"),
        ("call drill(depth, tool: 2mm)", "call drill(depth)", "N0231"),
        ("call drill(depth, tool: 2mm)", "call drill(depth, tool: 2)", "N0211"),
        ("call drill(depth, tool: 2mm)", "call drill(depth, toll: 2mm)", "N0230"),
        ("call drill(depth, tool: 2mm)", "call drill(depth, tool: 2mm, tool: 3mm)", "N0232"),
        ("call drill(depth, tool: 2mm)", "call drill(depth, tool: 2mm, dwell_time)", "N0201"),
        ("call drill(depth, tool: 2mm, hand: right)", "call drill(depth, tool: 2mm, hand: up)", "N0236"),
        ("call drill(depth, tool: 2mm) at (depth, 0)", "call drill(depth, tool: 2mm) at depth", "N0214"),
        (
            "call drill(depth, tool: 2mm) at [centre, (9mm, 0)]",
            "call drill(depth, tool: 2mm) at [depth]",
            "N0214",
        ),
        (
            "call drill(depth, tool: 2mm) at circle(count: n, diameter: 40mm)",
            "call drill(depth, tool: 2mm) at circle(count: n / 2, diameter: 40mm)",
            "N0215",
        ),
        (
            "call drill(depth, tool: 2mm) at circle(count: 6, diameter: 40mm, first: 30deg)",
            "call drill(depth, tool: 2mm) at circle(count: 6, diameter: 40mm, first: 30)",
            "N0211",
        ),
        (
            "call drill(depth, tool: 2mm) at circle(count: 6, diameter: 40mm)",
            "call drill(depth, tool: 2mm) at circle(count: 6)",
            "N0231",
        ),
    ];
    for (good, bad, code) in cases {
        twins(CALLS, &[(&routine(good), &routine(bad), code)]);
    }
    twins(
        CALLS,
        &[
            (
                "routine r() cutter flat { call drill(depth: 2mm, tool: 2mm) }",
                "routine r() { call drill(depth: 2mm, tool: 2mm) }",
                "N0242",
            ),
            (
                "routine r() cutter flat { call drill(depth: 2mm, tool: 2mm) }",
                "routine r() cutter ball { call drill(depth: 2mm, tool: 2mm) }",
                "N0242",
            ),
            ("routine r() cutter flat { }", "routine r() cutter flat { call r() }", "N0207"),
        ],
    );
}

#[test]
fn a_circle_of_routines_is_said_of_each() {
    let text = "routine r() { call s() } routine s() { call r() }";
    assert!(codes(text).iter().all(|c| *c == "N0207"));
    assert!(!codes(text).is_empty());
}

const JOB: &str = "
    routine drill(depth: length in 1mm..9mm, tool: length in 1mm..9mm)
    cutter flat with diameter == tool, flutes >= depth
    {
        rapid to (tool, 0)
        rapid to z depth
    }
    job seats
    program 1200
    work 1
    travel z 50mm
    cutter ten = flat(pocket: 1, diameter: 10mm, flutes: 20mm)
    @";

#[test]
fn a_job_sets_up_before_it_cuts() {
    let body = |text: &str| format!("{{ with ten {{ spindle cw 2400rpm }} {text} }}");
    let cases = [
        ("with ten { call drill(depth: 2mm) }", "call drill(depth: 2mm)", "N0243"),
        ("with ten { call drill(depth: 2mm) }", "with ten { call drill() }", "N0231"),
        ("with ten { call drill(depth: 2mm, tool: 10mm) }", "with nine { call drill(depth: 2mm) }", "N0241"),
        ("with ten { coolant mist }", "with ten { coolant milk }", "N0236"),
        ("with ten { coolant flood }", "coolant flood", "N0243"),
        ("with ten { spindle ccw 900rpm }", "with ten { spindle ccw 900 }", "N0211"),
        ("with ten { spindle ccw 900rpm }", "with ten { with ten { spindle ccw 900rpm } }", "N0258"),
        ("stop \"MEASURE\"", "with ten { stop \"MEASURE\" }", "N0257"),
        (
            "with ten { feed ten.teeth * 0.1mm * 900rpm }",
            "with ten { feed ten.tooth_count * 0.1mm * 900rpm }",
            "N0234",
        ),
    ];
    for (good, bad, code) in cases {
        twins(JOB, &[(&body(good), &body(bad), code)]);
    }
}

#[test]
fn a_tool_list_holds_possible_cutters() {
    let head =
        |text: &str| format!("{text} {{ with ten {{ spindle cw 2400rpm }} with x {{ spindle cw 900rpm }} }}");
    let good = "cutter x = flat(pocket: 2, diameter: 8mm, flutes: 20mm, reach: 30mm, dead: 1mm, ramp: 3deg, plunges: no, hand: left, teeth: 3, wear: 0.1mm)";
    let cases = [
        ("cutter x = flat(pocket: 2, diameter: 8mm)", "N0231"),
        ("cutter x = flat(pocket: 2, diameter: 8, flutes: 20mm)", "N0211"),
        ("cutter x = flat(pocket: 2, diameter: -8mm, flutes: 20mm)", "N0244"),
        ("cutter x = flat(pocket: 2, diameter: 8mm, flutes: 20mm, dead: 9mm)", "N0244"),
        ("cutter x = flat(pocket: 2, diameter: 8mm, flutes: 20mm, ramp: 90deg)", "N0244"),
        ("cutter x = flat(pocket: 2, diameter: 8mm, flutes: 20mm, corner: 1mm)", "N0244"),
        ("cutter x = flat(pocket: 2, diameter: 8mm, flutes: 20mm, tooth: 1mm)", "N0244"),
        ("cutter x = disc(pocket: 2, diameter: 8mm, flutes: 2mm, reach: 9mm)", "N0231"),
        (
            "cutter x = disc(pocket: 2, diameter: 8mm, flutes: 2mm, tooth: 1mm, reach: 9mm, wear: 0.1mm)",
            "N0244",
        ),
        ("cutter x = disc(pocket: 2, diameter: 8mm, flutes: 2mm, tooth: 5mm, reach: 9mm)", "N0244"),
        ("cutter x = flat(pocket: 2, diameter: 8mm, flutes: 20mm, plunges: maybe)", "N0236"),
        ("cutter x = flat(pocket: 2, diameter: 8mm, flutes: 20mm, flutes: 21mm)", "N0232"),
        ("cutter x = flat(pocket: 2, diameter: 8mm, flutes: 20mm, flute: 21mm)", "N0234"),
        ("cutter x = round(pocket: 2, diameter: 8mm, flutes: 20mm)", "N0240"),
        ("cutter x = thread(pocket: 2, diameter: 8mm, pitch: 2mm)", "N0231"),
        ("cutter x = flat(pocket: 2.5, diameter: 8mm, flutes: 20mm)", "N0215"),
    ];
    for (bad, code) in cases {
        twins(JOB, &[(&head(good), &head(bad), code)]);
    }
}

#[test]
fn an_unused_cutter_is_warned_about() {
    assert_eq!(codes(&JOB.replace('@', "{ }")), ["N0280"]);
}

const FEATURES: &str = "
    routine r(a: length in 1mm..9mm)
    @
    {
        rapid to z a
    }";

#[test]
fn features_and_promises_are_known_ones() {
    twins(
        FEATURES,
        &[
            (
                "makes hole h(diameter: a, floor: -a) promises cleared",
                "makes hole h(diameter: a) promises cleared",
                "N0231",
            ),
            (
                "makes hole h(diameter: a, floor: -a, pilot: a / 2) promises cleared, sized",
                "makes hole h(diameter: a, floor: -a, pilot: a / 2) promises sized",
                "N0281",
            ),
            (
                "makes hole h(diameter: a, floor: -a) promises sized",
                "makes hole h(diameter: a, floor: -a) promises within",
                "N0281",
            ),
            (
                "makes hole h(diameter: a, floor: -a) promises cleared",
                "makes hole h(diameter: a, floor: -1) promises cleared",
                "N0211",
            ),
            (
                "makes hole h(diameter: a, floor: -a) promises cleared",
                "makes hole h(diameter: a, floor: -a, blank: a) promises cleared",
                "N0230",
            ),
            (
                "makes boss b(diameter: a, blank: 2 * a, floor: -a) promises cleared",
                "makes boss b(diameter: a, floor: -a) promises cleared",
                "N0231",
            ),
            (
                "makes ring g(outer: a, inner: a / 2, floor: -a) promises cleared",
                "makes rings g(outer: a, inner: a / 2, floor: -a) promises cleared",
                "N0250",
            ),
        ],
    );
}

#[test]
fn promises_are_complete_and_agree() {
    twins(
        FEATURES,
        &[
            (
                "makes hole h(diameter: a, floor: -a) promises cleared, climb",
                "makes hole h(diameter: a, floor: -a) promises cleared, climb, conventional",
                "N0252",
            ),
            (
                "makes hole h(diameter: a, floor: -a) promises cleared, apart(3mm)",
                "makes hole h(diameter: a, floor: -a) promises cleared, apart(3)",
                "N0211",
            ),
            (
                "makes hole h(diameter: a, floor: -a) promises cleared",
                "makes hole h(diameter: a, floor: -a) promises cleared(1mm)",
                "N0252",
            ),
            (
                "makes hole h(diameter: a, floor: -a) promises cleared",
                "makes hole h(diameter: a, floor: -a) promises cleared, cleared",
                "N0253",
            ),
            (
                "makes hole h(diameter: a, floor: -a) promises cleared",
                "makes hole h(diameter: a, floor: -a) promises clear",
                "N0251",
            ),
            (
                "given hole h(diameter: a, floor: -a) at [centre, (99mm, 0)]",
                "given hole h(diameter: a, floor: -a) at a",
                "N0214",
            ),
            (
                "given hole h(diameter: a, floor: -a) given hole i(diameter: a, floor: -a)",
                "given hole h(diameter: a, floor: -a) given hole h(diameter: a, floor: -a)",
                "N0206",
            ),
        ],
    );
}

#[test]
fn heads_demand_what_a_cutter_has_and_say_it_once() {
    twins(
        FEATURES,
        &[
            ("cutter flat with reach >= a", "cutter flat with reach >= 3", "N0211"),
            ("cutter flat with plunges == yes", "cutter flat with plunges == 1", "N0214"),
            ("cutter flat with hand == right", "cutter flat with hand == up", "N0236"),
            ("cutter flat with reach >= a", "cutter flat with length >= a", "N0234"),
            ("cutter flat with reach >= a", "cutter flat cutter flat", "N0253"),
            ("program 1200", "program 12.5", "N0215"),
            ("requires a < 8mm else \"TOO LONG\"", "work 1", "N0255"),
            ("requires a < 8mm else \"TOO LONG\"", "travel z 50mm", "N0255"),
            ("requires a < 8mm else \"TOO LONG\"", "requires all s", "N0203"),
            (
                "let b = a requires b < 8mm else \"TOO LONG\"",
                "requires b < 8mm else \"TOO LONG\" let b = a",
                "N0201",
            ),
        ],
    );
}

#[test]
fn one_run_reports_every_error_once() {
    let text = "
        routine r(a: lenght in 1mm..9mm, b: length, f: feed in 10mm/min..90mm/min) {
            let c = a + 1
            let d = c * unknown
            rapid to z d + c
            feed f + b
            line to z f + 3mm
        }";
    assert_eq!(codes(text), ["N0205", "N0220", "N0201", "N0210", "N0210"]);
}

#[test]
fn a_name_that_was_not_understood_is_not_unused_too() {
    assert_eq!(codes("routine r(a: length in 1mm..9mm) { rapid to z aa }"), ["N0201"]);
}

#[test]
fn spans_point_at_the_place_itself() {
    let text = "routine r(a: length in 1mm..9mm, f: feed in 10mm/min..90mm/min) { rapid to z a + f }";
    let (file, _) = parse(FileId(0), text);
    let found = check(&file, FileId(0), &()).1.into_sorted();
    let at = |s: Option<Span>| s.map(|s| &text[s.range()]);
    assert_eq!(at(found[0].span), Some("a + f"));
    assert_eq!(at(Some(found[0].labels[0].span)), Some("a"));
    assert_eq!(at(Some(found[0].labels[1].span)), Some("f"));
}
