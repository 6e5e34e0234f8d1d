//! What the larger features of the language become.

mod common;

use borewright_motion::{Action, Clause};
use common::{motions, outline};

/// The outline of the last motion of a text.
fn last(text: &str) -> String {
    motions(text).last().map(|m| outline(m)).unwrap_or_default()
}

#[test]
fn a_feed_holds_to_its_brace_and_not_in_inner_blocks() {
    insta::assert_snapshot!(last(
        "routine r(f: feed in 10mm/min..90mm/min) {
            line to z 0
            feed f
            line to z 1mm
            repeat 2 { line to z 2mm feed 2 * f line to z 3mm }
            line to z 4mm
        }"
    ));
}

#[test]
fn names_of_sibling_blocks_are_kept_apart() {
    insta::assert_snapshot!(last(
        "routine r(a: length in 1mm..9mm) {
            passes level from 0 to -a by 1mm { let p = (level, a + level) line to p }
            passes level from 0 to -a by 2mm { let p = (a, 2 * level) line to p }
        }"
    ));
}

#[test]
fn a_choice_is_a_number_with_its_words_in_the_meaning() {
    let all = motions(
        "routine r(
            hand: right or left as H = right, /// way of the thread
        ) {
            rapid to z if hand == left then -1mm else 1mm
        }",
    );
    assert_eq!(all[0].parameters[0].meaning, "way of the thread: 1 right, 2 left");
    insta::assert_snapshot!(outline(&all[0]));
}

const TABLE: &str = "
    table head(size: length, seat: length, hand: right or left) {
        row M5 = 5mm, 10mm, right
        row M6 = 6mm, 11mm, left
        row M8 = 8mm, 15mm, right
    }
    table cover(number: count, screw: head) {
        row intake = 1, head.M6
        row wicket = 2, head.M8
    }
";

#[test]
fn a_row_is_known_by_its_first_column() {
    let text = "
        routine r(screw: head = head.M6, depth: length in 1mm..20mm = screw.seat) {
            rapid to (screw.seat, depth)
            rapid to z if screw.hand == left then head.M5.size else screw.size
        }";
    insta::assert_snapshot!(last(&format!("{TABLE}{text}")));
}

#[test]
fn a_row_within_a_row_follows_the_parameter() {
    let text = "
        routine r(screw: head) { rapid to (screw.seat, 0) }
        routine s(part: cover) { call r(screw: part.screw) rapid to z part.screw.seat }";
    insta::assert_snapshot!(last(&format!("{TABLE}{text}")));
}

#[test]
fn functions_and_constants_are_put_in() {
    insta::assert_snapshot!(last(
        "let margin = 2 * 0.1mm
        function inside(edge: feed, bore: length, tool: length) = edge * (bore - tool) / bore
        function twice(n: count) = 2 * n
        routine r(bore: length in 10mm..90mm, cut: feed in 10mm/min..90mm/min) {
            feed inside(cut, bore, 4mm + margin)
            repeat twice(2) { retract }
            line to z sqrt(bore * bore) + abs(0) + max(bore, 0) + 2 * pi * bore
        }"
    ));
}

const CALLEE: &str = "
    routine drill(
        depth: length in 1mm..9mm,
        tool: length in 2mm..12mm,
        wide: length in 4mm..40mm = 2 * tool,
    )
    let path = (wide - tool) / 2
    requires path < 3 * depth else \"TOO WIDE\"
    cutter flat with diameter == tool, flutes >= depth
    {
        rapid to (path, 0)
    }
";

#[test]
fn requires_all_hands_on_what_is_not_granted_already() {
    let text = "
        routine r(high: length in 1mm..9mm, mill: length in 1mm..12mm)
        let wall = 2 * mill
        requires all drill
        cutter flat with diameter == mill
        {
            rapid to (wall, 0)
            call drill(depth: high, tool: mill) at circle(count: 4, diameter: 60mm)
        }";
    insta::assert_snapshot!(last(&format!("{CALLEE}{text}")));
}

#[test]
fn what_the_ranges_grant_is_not_asked_for_again() {
    let asked = |stock: &str| {
        let text = format!(
            "routine r(high: length in 1mm..9mm, mill: length in 2mm..10mm, stock: length in {stock})
            requires all drill
            cutter flat with diameter == mill
            {{ call drill(depth: high, tool: mill + 2 * stock, wide: 2 * mill + 6mm + 2 * stock) }}"
        );
        let all = motions(&format!("{CALLEE}{text}"));
        let required = all[1].head.iter().filter_map(|clause| match clause {
            Clause::Require(r) => Some(r.alarm.clone()),
            Clause::Let(_) => None,
        });
        required.collect::<Vec<_>>()
    };
    // A cutter of 2 mm to 12 mm, 10 mm to 28 mm wide: within the ranges of the drill at every size.
    assert_eq!(asked("0..1mm"), ["TOO WIDE"]);
    // A thousandth more: the cutter may be too wide now, and only that is asked.
    assert_eq!(asked("0..1.001mm"), ["TOOL OUT OF RANGE", "TOO WIDE"]);
}

#[test]
fn a_circle_with_a_parameter_for_its_count_is_a_counted_call() {
    let text = "
        routine r(holes: count in 2..12, across: length in 50mm..90mm)
        cutter flat with diameter == 6mm
        makes hole seat(diameter: 12mm, floor: -5mm) at circle(count: holes, diameter: across, first: 30deg) promises cleared
        {
            call drill(depth: 5mm, tool: 6mm) at circle(count: holes, diameter: across, first: 30deg)
        }";
    let all = motions(&format!("{CALLEE}{text}"));
    let motion = &all[1];
    let [(index, count)] = &motion.made[0].feature.pattern()[..] else { panic!("one index") };
    assert_eq!((index.name(), count.name()), ("at.seat", "at.seat.count"));
    assert!(matches!(&motion.body[0].action, Action::Repeat { .. }));
    insta::assert_snapshot!(outline(motion));
}

#[test]
fn a_missing_argument_is_filled_from_the_cutter_in_the_spindle() {
    let text = "
        job j
        work 1
        travel z 50mm
        cutter ten = flat(pocket: 1, diameter: 10mm, flutes: 20mm)
        { with ten { call drill(depth: 5mm) call drill(depth: 5mm, tool: 10mm) } }";
    insta::assert_snapshot!(last(&format!("{CALLEE}{text}")));
}

#[test]
fn inches_are_counted_by_range_and_by_routine() {
    let all = motions(
        "routine r(a: length in 0.25in..2in, b: length in 1mm..9mm, f: feed in 1in/min..9in/min) {
            feed f
            line to (a, b) z 0.5in
        }",
    );
    let inch: Vec<bool> = all[0].parameters.iter().map(|p| p.inch).collect();
    assert_eq!((inch, all[0].inch), (vec![true, false, true], true));
}

#[test]
fn an_unsound_routine_does_not_hold_back_the_sound_ones() {
    let (all, said) = common::lowered(
        "routine good(a: length in 1mm..9mm) { rapid to z a }
        routine bad(a: length in 1mm..9mm) { rapid to z b }
        routine caller() { call bad(a: 2mm) }",
    );
    let names: Vec<&str> = all.iter().map(|m| m.name.as_str()).collect();
    assert_eq!(names, ["good"]);
    assert_eq!(said.len(), 1);
}
