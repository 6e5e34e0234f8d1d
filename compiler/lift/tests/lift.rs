//! What becomes of small texts: courses, loops, and clear reasons where a text cannot be followed.

mod common;

use std::collections::BTreeMap;

use borewright_base::FileId;
use borewright_lift::{Argument, Style, Use, lift};
use borewright_motion::{ActKind, Course, Ending, Expr, Lifted, Symbol};

/// Lifts a called text whose arguments A, B and C are in #1, #2 and #3.
fn lifted(text: &str) -> Result<Lifted, String> {
    let argument =
        |name: &str| Argument { value: Expr::named(name), given: Symbol::new(format!("{name}.given")) };
    let arguments = BTreeMap::from([(1, argument("a")), (2, argument("b")), (3, argument("c"))]);
    let usage = Use { style: Style::Called, arguments, with: Vec::new() };
    let text = format!("%\nO1100\n{text}\n%\n");
    lift(&text, FileId(0), &common::machine("hash-mm"), &usage).map_err(|reason| reason.to_string())
}

/// The courses under the right modes and with the caller's modes as they are after power-up.
fn plain(lifted: &Lifted) -> Vec<&Course> {
    let usual = |c: &&Course| {
        let e = c.entry;
        e.inch == Some(false)
            && e.compensation == Some(false)
            && e.length == Some(true)
            && (e.plane, e.incremental, e.inverse_time) == (Some(0), Some(false), Some(false))
    };
    lifted.courses.iter().filter(usual).collect()
}

fn facts(course: &Course) -> Vec<String> {
    course.facts.iter().map(ToString::to_string).collect()
}

const MODES: &str = "G17 G40 G80 G90 G94 G21\n";

#[test]
fn two_guards_with_one_alarm_are_two_courses() {
    let text = "IF [#1 LT 2.] GOTO 101\nIF [#1 GT 5.] GOTO 101\nM99\nN101 #3000=7 (A: 2. TO 5.)";
    let lifted = lifted(text).unwrap();
    let ends: Vec<_> = plain(&lifted)
        .iter()
        .map(|c| (matches!(c.end, Ending::Alarm { .. }), facts(c).join(" and ")))
        .collect();
    // A vacant argument counts as 0 in an order, and so raises the first alarm.
    let expected = [
        (false, "a.given != 0 and a >= 2 and a <= 5"),
        (true, "a.given != 0 and a < 2"),
        (true, "a.given == 0"),
        (true, "a.given != 0 and a >= 2 and a > 5"),
    ];
    assert_eq!(ends.len(), expected.len(), "{ends:?}");
    for (alarm, fact) in expected {
        assert!(ends.contains(&(alarm, fact.to_owned())), "{fact}: {ends:?}");
    }
}

#[test]
fn an_argument_left_out_is_a_value_that_hangs_on_it() {
    let text = format!("IF [#2 EQ #0] THEN #2=#1/2.\n{MODES}G0 X#2\nM99");
    let lifted = lifted(&text).unwrap();
    let named: Vec<_> = lifted.joined.iter().map(|j| format!("{} = {}", j.symbol, j.value())).collect();
    // A vacant argument counts as 0, so a value that is computed from one hangs on it as well.
    let expected = ["#2.1 = if a.given != 0 then a / 2 else 0", "#2.2 = if b.given != 0 then b else #2.1"];
    assert_eq!(named, expected);
}

#[test]
fn both_forms_of_a_counted_loop_are_one_turn_for_all() {
    let head = format!(
        "IF [#1 EQ #0] GOTO 9\nIF [#1 LT 1.] GOTO 9\nIF [#1 GT 9.] GOTO 9\n#4=FUP[#1]\n{MODES}#5=1\n"
    );
    let turn = "G1 Z-#5 F100.\nG1 X#1\n#5=#5+1\n";
    let tail = "M99\nN9 #3000=1 (A)";
    let whole = format!("{head}WHILE [#5 LE #4] DO 1\n{turn}END 1\n{tail}");
    let jumps = format!("{head}N1\nIF [#5 GT #4] GOTO 2\n{turn}GOTO 1\nN2\n{tail}");
    for text in [whole, jumps] {
        let lifted = lifted(&text).unwrap();
        let moving = plain(&lifted).into_iter().find(|c| !c.acts.is_empty()).unwrap();
        let [act] = moving.acts.as_slice() else { panic!("{:?}", moving.acts) };
        let ActKind::Loop { first, last, body, index } = &act.kind else { panic!("{act:?}") };
        assert_eq!((first.to_string(), last.to_string()), ("1".to_owned(), "ceil(a)".to_owned()));
        let ActKind::Line { to: [_, _, z], .. } = &body.first().unwrap().kind else { panic!() };
        assert_eq!(z.to_string(), format!("-{index}"));
        assert!(lifted.needs.iter().any(|n| n.message.contains("not even once")), "{:?}", lifted.needs);
    }
}

/// The reason why a text cannot be followed.
fn refused(text: &str) -> String {
    match lifted(text) {
        Ok(_) => "nothing".to_owned(),
        Err(reason) => reason,
    }
}

#[test]
fn a_depth_that_is_added_up_is_refused() {
    let text = format!(
        "{MODES}#4=FUP[#1]\n#5=1\n#6=0.\nWHILE [#5 LE #4] DO 1\n#6=#6-1.\nG1 Z#6 F100.\n#5=#5+1\nEND 1\nM99"
    );
    let reason = refused(&text);
    assert!(reason.contains("#6, in which the turn before has left its value"), "{reason}");
}

#[test]
fn loops_that_are_no_count_are_refused() {
    let turn = |step: &str, start: &str| {
        format!(
            "{MODES}#4=FUP[#1]\n#5={start}\nWHILE [#5 LE #4] DO 1\nG1 Z-#5 F100.\n#5=#5+{step}\nEND 1\nM99"
        )
    };
    assert_eq!(refused(&turn("2", "1")), "a loop whose counter does not go up by 1");
    assert_eq!(refused(&turn("1", "#2")), "a loop whose counter does not begin at a whole number");
    let bound = format!("{MODES}#4=FUP[#1]\n#5=1\nWHILE [#5 LE #4] DO 1\n#4=#4+1\n#5=#5+1\nEND 1\nM99");
    assert_eq!(refused(&bound), "a loop that counts nothing up to a fixed bound");
}

#[test]
fn what_nobody_knows_may_not_be_used() {
    let reason = refused(&format!("{MODES}G0 X#100\nM99"));
    assert_eq!(reason, "it uses what was in #100 before the program began");
    let reason = refused(&format!("{MODES}G1 X1.\nM99"));
    assert_eq!(reason, "it uses the feed that was active before");
    assert!(refused("G0 G53 X1.\nM99").contains("machine coordinates"));
}

#[test]
fn what_is_left_changed_is_told() {
    let lifted = lifted("#100=5.\nG91\nM99").unwrap();
    let [course] = plain(&lifted)[..] else { panic!("one course") };
    assert!(course.changed.contains("absolute or incremental"), "{:?}", course.changed);
    assert!(course.written.contains(&100), "{:?}", course.written);
}
