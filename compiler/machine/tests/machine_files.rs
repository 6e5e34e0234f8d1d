//! Machine files: what is built in, what is refused, and where.

#![allow(clippy::unwrap_used, reason = "a test may stop at what it did not expect")]

use borewright_base::{FileId, SourceMap, pages};
use borewright_machine::{BUILTIN, Centre, Machine, parse};
use borewright_number::Rational;
use pretty_assertions::assert_eq;

/// One line for each finding: place, code, message, hints.
fn findings(text: &str) -> String {
    let mut map = SourceMap::default();
    let file = map.add("mill.toml", text);
    let Err(diagnostics) = parse(file, text) else { return "accepted".to_owned() };
    let lines = diagnostics.into_sorted().into_iter().map(|d| {
        let (_, at, _) = map.locate(d.span.unwrap()).unwrap();
        let hints: String = d.hints.iter().map(|h| format!(" ({h})")).collect();
        format!("{}:{} {} {}{hints}", at.line, at.column, d.code.number, d.message)
    });
    lines.collect::<Vec<_>>().join("\n")
}

#[test]
fn every_built_in_text_is_a_machine_of_its_name() {
    for (name, text) in BUILTIN {
        assert_eq!(findings(text), "accepted", "{name}");
        assert_eq!(Machine::builtin(name).unwrap().name, name);
    }
}

#[test]
fn inch_machines_state_every_length_themselves() {
    // The careful defaults are in mm: a length left out would be taken 25 times too generously.
    let lengths =
        ["greatest =", "tolerance =", "smallest_radius =", "greatest_feed =", "rapid =", "acceleration ="];
    for (name, text) in BUILTIN.iter().filter(|(_, text)| text.contains("units = \"inch\"")) {
        for length in lengths {
            assert!(text.contains(&format!("\n{length}")), "{name}: {length}");
        }
    }
}

#[test]
fn arc_tolerances_are_those_of_the_reference_interpreter() {
    // TOLERANCE_INCH 0.0002 and TOLERANCE_MM 0.002 of the NIST interpreter (from memory).
    let tolerance = |name| (*Machine::builtin(name).unwrap().arcs.tolerance).clone();
    assert_eq!(tolerance("rs274ngc"), Rational::from_decimal("0.002").unwrap());
    assert_eq!(tolerance("hash-inch"), Rational::from_decimal("0.0002").unwrap());
}

#[test]
fn rs274ngc_has_expressions_but_no_tests_calls_or_alarms() {
    // NISTIR 6556, sections 3.2 and 3.3: parameters and expressions; nothing that branches.
    let machine = Machine::builtin("rs274ngc").unwrap();
    assert!(machine.has_variables() && !machine.expressions.fix_toward_zero);
    assert!(!machine.flow.if_goto && !machine.flow.while_do && machine.calls.macro_call.is_none());
    assert_eq!((machine.alarms.variable, machine.arcs.centre), (None, Centre::Incremental));
}

#[test]
fn call_letters_fill_the_usual_variables() {
    // Common practice, no source.
    let machine = Machine::builtin("hash-mm").unwrap();
    let filled = ['A', 'D', 'F', 'H', 'I', 'M', 'Q', 'Z'].map(|l| machine.letter_variable(l).unwrap());
    assert_eq!(filled, [1, 7, 9, 11, 4, 13, 17, 26]);
    for reserved in ['G', 'L', 'N', 'O', 'P'] {
        assert_eq!(machine.letter_variable(reserved), None);
    }
}

#[test]
fn each_wrong_field_is_named_with_its_place() {
    let text = "name = 7\nunits = \"furlong\"\n\n[arcs]\ntolerence = 0.001\nhelical = \"yes\"\n\
                [numbers]\ndecimals = -1\n[variables]\nlocal = [[1, 2, 3]]\n[programs]\nletter = \"OO\"\n[coolants]\n";
    insta::assert_snapshot!(findings(text));
}

#[test]
fn syntax_is_reported_where_it_breaks() {
    insta::assert_snapshot!(findings("name = \"mill\"\nunits \"mm\"\n[arcs\nhelical = true"));
}

#[test]
fn fields_that_do_not_go_together_are_refused() {
    let text = "like = \"hash-mm\"\n[variables]\nlocal = [[33, 1]]\ncommon = [[10, 20]]\nwritable = [[100, 199]]\n\
                [arcs]\ntolerance = 0.0001\n[axes]\nx = [500, 0]\nrapid = 0\n[words]\nhome = []\ninch = \"G20\\nM3\"\n";
    insta::assert_snapshot!(findings(text));
}

#[test]
fn a_table_of_compensation_is_judged() {
    let table = |text: &str| findings(&format!("like = \"hash-mm\"\n[compensation]\n{text}\n"));
    assert_eq!(table("greatest = 3\nholds = \"radius\"\nvalues = [2401, 2420]"), "accepted");
    for (text, place) in [
        ("greatest = -1", "3:12"),
        ("letter = \"X\"", "3:10"),
        ("values = [100, 120]", "3:10"),
        ("right = \"G41\"", "1:1"),
        ("off = \"G40 M3\"", "3:7"),
        ("entry = \"round\"", "3:9"),
    ] {
        let found = table(text);
        assert!(found.contains(place), "{text}: {found}");
    }
    let nist = Machine::builtin("rs274ngc").unwrap().compensation.unwrap();
    assert!(nist.spindle_tool && nist.entry == borewright_machine::Entry::Tangent);
    // What a file leaves out, the machine is not trusted with.
    assert_eq!(parse(FileId::default(), "units = \"mm\"").unwrap().compensation, None);
    let none = parse(FileId::default(), "like = \"hash-mm\"\n[compensation]\ngreatest = 0").unwrap();
    assert_eq!(none.compensation, None);
}

#[test]
fn a_machine_is_not_built_upon_one_of_the_other_unit() {
    assert!(findings("like = \"hash-mm\"\nunits = \"inch\"").contains("E0704"));
    assert_eq!(findings("like = \"hash-inch\"\nunits = \"inch\""), "accepted");
    assert!(findings("like = \"my-mill\"").contains("E0705"));
}

#[test]
fn a_file_keeps_what_it_does_not_mention() {
    let text = "like = \"hash-inch\"\nname = \"knee mill\"\n[arcs]\nfull_circle = false";
    let machine = parse(FileId::default(), text).unwrap();
    let base = Machine::builtin("hash-inch").unwrap();
    assert_eq!((machine.arcs.full_circle, &machine.arcs.tolerance), (false, &base.arcs.tolerance));
    assert_eq!(machine.calls, base.calls);
    let plain = parse(FileId::default(), "units = \"inch\"").unwrap();
    assert_eq!(plain.arcs.tolerance, base.arcs.tolerance, "careful defaults follow the unit");
}

#[test]
fn every_code_has_a_page_whose_example_gives_it() {
    let all = borewright_machine::errors::ALL;
    assert_eq!(pages::misshapen(all), Vec::<String>::new());
    let wrong = pages::astray(all, |_, blocks| {
        let diagnostics = parse(FileId::default(), &blocks.first().unwrap().text).unwrap_err();
        diagnostics.iter().map(|d| d.code.number.to_owned()).collect()
    });
    assert_eq!(wrong, Vec::<String>::new());
}

#[test]
fn bad_bytes_are_refused_without_a_panic() {
    for text in
        ["\0", "[[[[", "units = \"\u{7}\"", "numbers = 1", "[numbers]\ndecimals = 99999999999999999999"]
    {
        assert_ne!(findings(text), "accepted", "{text:?}");
    }
    assert_eq!(findings(""), "accepted");
}

#[test]
fn the_schema_describes_every_field() {
    let schema = borewright_machine::schema();
    let properties = schema.get("properties").unwrap().as_object().unwrap();
    assert_eq!(properties.len(), 17);
    for (name, field) in properties {
        assert!(field.get("description").is_some(), "{name}");
    }
}
