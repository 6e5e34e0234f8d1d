//! The wording of findings: the program and what is said about it, side by side.

use std::fmt::Write;

use borewright_base::{FileId, Severity, SourceMap};
use borewright_check::check;
use borewright_syntax::parse;

/// The text with its lines numbered, and below it every finding in full.
fn shown(text: &str) -> String {
    let text = text.trim_matches('\n');
    let mut map = SourceMap::default();
    let id = map.add("example.bore", text);
    let (file, mut found) = parse(id, text);
    found.append(check(&file, FileId(0), &()).1);
    let mut out = String::new();
    for (number, line) in text.lines().enumerate() {
        let _ = writeln!(out, "{:2} {line}", number + 1);
    }
    for d in found.into_sorted() {
        let word = if d.severity == Severity::Error { "error" } else { "warning" };
        let place =
            |span| map.locate(span).map_or(String::new(), |(_, p, _)| format!("{}:{}", p.line, p.column));
        let _ = writeln!(out, "\n{word} {} {}: {}", d.code.number, d.code.name, d.message);
        if let Some(span) = d.span {
            let _ = writeln!(out, "  {} `{}`", place(span), map.text(span));
        }
        for label in &d.labels {
            let _ = writeln!(out, "  {} `{}`: {}", place(label.span), map.text(label.span), label.message);
        }
        for hint in &d.hints {
            let _ = writeln!(out, "  hint: {hint}");
        }
    }
    out
}

#[test]
fn a_length_plus_a_feed_names_both() {
    insta::assert_snapshot!(shown(
        "
routine down(depth: length in 1mm..9mm, cut: feed in 10mm/min..90mm/min) {
    rapid to z depth + cut
    rapid to z depth - 5
    rapid to z depth * depth
    feed 400
}"
    ));
}

#[test]
fn a_fraction_of_an_inch_is_told_from_one_over_a_length() {
    insta::assert_snapshot!(shown(
        "
routine down(depth: length in 0.1in..1in) {
    rapid to z depth + 1/4in
    rapid to z 1/4in
}"
    ));
}

#[test]
fn a_misspelt_name_gets_the_nearest() {
    insta::assert_snapshot!(shown(
        "
table heads(size: length, seat: length) {
    row M5 = 5mm, 10mm
    row M6 = 6mm, 11mm
}
routine down(depth: lenght in 1mm..9mm, head: heads, hand: right or left)
cutter flat with dept >= 5mm
makes hole seat(diametr: head.seta, floor: -5mm) promises cleard
{
    rapid to z heads.M7.size + abss(head.size) + Head.size
    rapid to z if hand == rihgt then 1mm else 2mm
    call dwon(depth: 4mm)
}"
    ));
}

#[test]
fn a_parameter_without_range_is_told_which() {
    insta::assert_snapshot!(shown(
        "
routine down(depth: length, cut: feed, start: angle, n: count in 9..1) {
    rapid to (depth at start)
    repeat n {
        feed cut
    }
}"
    ));
}

#[test]
fn a_job_is_told_what_is_missing() {
    insta::assert_snapshot!(shown(
        "
routine drill(depth: length in 1mm..9mm, tool: length in 1mm..9mm)
cutter flat with diameter == tool
{
    rapid to (tool, 0)
    rapid to z depth
}
job seats
cutter ten = ball(pocket: 1, diameter: 10mm, flutes: 20mm)
cutter nine = flat(diameter: 9mm)
{
    call drill(depth: 5mm)
    with ten {
        call drill(depth: 5mm)
        stop \"MEASURE\"
    }
    with nin {
        call drill()
    }
}"
    ));
}

#[test]
fn a_weak_promise_and_an_unused_name_are_warnings() {
    insta::assert_snapshot!(shown(
        "
routine bore(size: length in 10mm..90mm, pilot: length in 5mm..80mm, tool: length in 1mm..9mm)
makes hole seat(diameter: size, floor: -5mm, pilot: pilot) promises within, sized
makes hole other(diameter: size, floor: -5mm) promises within
{
    let wall = size / 2
    passes level from 0 to -5mm by 1mm {
        retract
    }
}"
    ));
}
