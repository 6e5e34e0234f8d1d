//! Every text that is written for bundled routines and sample jobs is proved to agree with its motion.

mod common;

use std::sync::Arc;

use borewright_base::Span;
use borewright_emit::{EmittedFile, Form, Settings};
use borewright_machine::Machine;
use borewright_motion::{Expr, Motion, Step, calls};
use borewright_number::Rational;
use borewright_proof::Interface;

const SAMPLES: [&str; 3] = [
    include_str!("../../../samples/gearbox_seats.bore"),
    include_str!("../../../samples/guide_bush.bore"),
    include_str!("../../../samples/inlet_flange.bore"),
];

fn jobs() -> Vec<Arc<Motion>> {
    SAMPLES.iter().flat_map(|text| common::motions(text)).filter(|m| m.job.is_some()).collect()
}

/// The routine, called by the job, that a text is of.
fn called(steps: &[Step], at: Span) -> Option<Arc<Motion>> {
    let call = calls(steps).into_iter().find(|(call, _)| call.routine.span == at);
    call.map(|(call, _)| Arc::clone(&call.routine))
}

fn agrees(motion: &Motion, machine: &Machine, file: &EmittedFile, with: &[String]) {
    let found = common::compared(&file.text, motion, machine, (&file.interface, with), &[]);
    let proved =
        found.unwrap_or_else(|why| panic!("{} for {}: {why}\n{}", motion.name, machine.name, file.text));
    println!("{} for {}: {} obligations proved", file.name, machine.name, proved.len());
}

#[test]
fn every_bundled_routine_agrees_as_a_macro() {
    for name in ["hash-mm", "hash-inch"] {
        let machine = common::machine(name);
        for motion in common::routines() {
            for file in common::emitted(&motion, &machine, Form::Macro, &Settings::default()) {
                agrees(&motion, &machine, &file, &[]);
            }
        }
    }
}

#[test]
fn a_spiral_agrees_though_each_of_its_turns_begins_elsewhere() {
    let text = include_str!("../../../tests/proofs/pass/holes.bore");
    let spiral = common::motions(text).into_iter().find(|m| m.name == "spiral_hole").unwrap();
    for name in ["hash-mm", "hash-inch"] {
        let machine = common::machine(name);
        for file in common::emitted(&spiral, &machine, Form::Macro, &Settings::default()) {
            agrees(&spiral, &machine, &file, &[]);
        }
    }
}

fn text(name: &str, machine: &str) -> String {
    let machine = common::machine(machine);
    common::emitted(&common::routine(name), &machine, Form::Macro, &Settings::default()).remove(0).text
}

#[test]
fn what_is_the_same_in_every_turn_is_worked_out_before_the_motion() {
    // The bores of the circle are finished in one step, which is no loop.
    for (name, counts) in [("rough_bore", 2), ("bolt_circle", 1)] {
        let text = text(name, "hash-mm");
        let (before, after) = text.split_once("(MOTION BEGINS)").unwrap();
        assert_eq!(before.matches("FUP[").count(), counts, "{text}");
        assert!(!after.contains("FUP[") && !after.contains("TAN["), "{text}");
    }
}

#[test]
fn the_turns_of_a_thread_are_counted_so_that_rounding_adds_none() {
    let motion = common::routine("thread_hole");
    let file = &common::emitted(&motion, &common::machine("hash-mm"), Form::Macro, &Settings::default())[0];
    assert!(file.text.contains("#28=FUP[0.999999*[#7/#6+0.5]]+1.-#23 (TURNS)\nIF [#28 LT 1.] THEN #28=1.\n"));
    let hundredth = Rational::ratio(1, 100).unwrap();
    let within = |bound: &Option<_>| bound.as_ref().is_some_and(|b| *b < hundredth);
    assert!(within(&file.bounds.end_point) && within(&file.bounds.floor), "{:?}", file.bounds);
}

#[test]
fn comments_say_what_is_assumed_without_brackets() {
    let text = text("thread_hole", "hash-mm");
    assert!(text.contains("DEPTH OF ITS TEETH IS AT LEAST MAJOR / 2 - MINOR / 2)"), "{text}");
}

#[test]
fn a_default_on_the_end_of_its_range_stays_within_it_in_inches() {
    // 1 mm is 0.03937 in.
    let text = text("helix_bore", "hash-inch");
    assert!(text.contains("THEN #5=0.0393 (J GAP)") && text.contains("IF [#5 GT 0.0393] GOTO"), "{text}");
}

#[test]
fn a_length_of_the_source_in_a_guard_is_rounded_so_that_less_is_let_in() {
    let (motion, machine) = (common::routine("finish_bore"), common::machine("hash-inch"));
    let file = common::emitted(&motion, &machine, Form::Macro, &Settings::default()).remove(0);
    // 0.2 mm is 0.00787 in.
    let right = "[#20+0.0079-#11] GT 0.00001";
    assert!(file.text.contains(right), "{}", file.text);
    let with = |literal: &str| file.text.replacen(right, &right.replace("0.0079", literal), 1);
    let found = |text: &str, interface: &Interface| {
        common::compared(text, &motion, &machine, (interface, &[]), &[]).is_ok()
    };
    for (literal, agrees) in [("0.0079", true), ("0.2/25.4", true), ("0.0078", false), ("0.0081", false)] {
        assert_eq!(found(&with(literal), &file.interface), agrees, "{literal}");
    }
    // Whoever claims that a text refuses more than rounding can explain, claims nothing.
    let mut claims = file.interface.clone();
    for claim in &mut claims.narrowed {
        claim.condition =
            claim.condition.map(&|e| e.as_number().map(|n| Expr::number(n * &Rational::from(2))));
    }
    assert!(!found(&with("0.0158"), &claims));
    let unsaid = Interface { narrowed: Vec::new(), ..file.interface.clone() };
    assert!(!found(&file.text, &unsaid));
}

#[test]
fn a_limit_that_a_default_can_lie_on_stays_exact() {
    let source = "/// A slope.\nroutine slope(\n    deep: length in 1mm..9mm,\n    gap: length in 0.2mm..5mm = deep / 3,\n    \
                  cut: feed in 10mm/min..900mm/min,\n)\nrequires gap + 0.3mm <= deep else \"TOO LOW\"\n{\n    retract\n    \
                  rapid to centre\n    rapid to z deep\n    feed cut\n    line to z gap\n    retract\n}\n";
    let motion = common::motions(source).remove(0);
    let machine = common::machine("hash-inch");
    let file = common::emitted(&motion, &machine, Form::Macro, &Settings::default()).remove(0);
    assert!(file.text.contains("+0.3/25.4-"), "{}", file.text);
    agrees(&motion, &machine, &file, &[]);
}

#[test]
fn a_row_of_a_metric_table_is_called_by_its_number_in_inches_too() {
    let text = text("counterbore_over", "hash-inch");
    assert!(text.contains("IF [#19 EQ 8.] THEN") && !text.contains("IF [#19 EQ 8./25.4]"), "{text}");
}

#[test]
fn what_stays_free_where_nothing_can_be_compared_agrees_at_its_sizes() {
    let machine = common::machine("rs274ngc");
    let values = [
        common::value("bore", "50"),
        common::value("pilot", "47"),
        common::value("tool", "12"),
        common::value("depth", "10"),
        common::value("stepdown", "6"),
        common::value("start", "30"),
        common::value("cut", "400"),
    ];
    let settings = Settings { values: values.into_iter().collect(), ..Settings::default() };
    let motion = common::routine("finish_bore");
    for file in common::emitted(&motion, &machine, Form::Macro, &settings) {
        agrees(&motion, &machine, &file, &[]);
    }
}

#[test]
fn every_sample_job_agrees_as_blocks() {
    for name in ["blocks-mm", "blocks-inch", "hash-mm", "hash-inch", "rs274ngc"] {
        let machine = common::machine(name);
        for motion in jobs() {
            for file in common::emitted(&motion, &machine, Form::Blocks, &Settings::default()) {
                agrees(&motion, &machine, &file, &[]);
            }
        }
    }
}

#[test]
fn a_job_agrees_as_a_main_program_with_its_subprograms() {
    for name in ["hash-mm", "hash-inch"] {
        let machine = common::machine(name);
        for motion in jobs() {
            let files = common::emitted(&motion, &machine, Form::Macro, &Settings::default());
            let (main, others) = files.split_first().unwrap();
            let with: Vec<String> = others.iter().map(|f| f.text.clone()).collect();
            agrees(&motion, &machine, main, &with);
            for file in others {
                let routine = called(&motion.body, file.interface.of).unwrap();
                agrees(&routine, &machine, file, &[]);
            }
        }
    }
}

#[test]
fn a_wrong_number_in_plain_blocks_is_seen() {
    let machine = common::machine("blocks-mm");
    let motion = jobs().remove(0);
    let file = common::emitted(&motion, &machine, Form::Blocks, &Settings::default()).remove(0);
    for (right, wrong) in [
        ("X-57.55 Y-12.45", "X-57.55 Y-12.46"),
        ("I0. J12.45", "I0. J12.5"),
        ("F500.", "F501."),
        ("S3200 M3", "S3200 M4"),
        ("M8\n", "\n"),
        ("G54\n", "G55\n"),
        ("G43 H2", "G43 H3"),
        ("G0 Z60.", "G0 Z59."),
        ("M9\nM5\nM0", "M9\nM0"),
    ] {
        assert!(file.text.contains(right), "{right}: {}", file.text);
        let text = file.text.replacen(right, wrong, 1);
        let found = common::compared(&text, &motion, &machine, (&file.interface, &[]), &[]);
        assert!(found.is_err(), "{wrong} was not seen");
    }
}

#[test]
fn a_wrong_loop_over_places_is_seen() {
    let machine = common::machine("hash-mm");
    let motion = jobs().into_iter().find(|m| m.name == "inlet_flange").unwrap();
    let files = common::emitted(&motion, &machine, Form::Macro, &Settings::default());
    let (main, others) = files.split_first().unwrap();
    let with: Vec<String> = others.iter().map(|f| f.text.clone()).collect();
    for (right, wrong) in [
        ("#100 LE 11", "#100 LE 10"),
        ("#100 LE 11", "#100 LE 12"),
        ("#100 LE 11", "#100 LT 11"),
        ("#100=1 (", "#100=2 ("),
        ("#101=-90.+", "#101=90.+"),
        ("[#100-1]*360./11.", "#100*360./11."),
        ("[#100-1]*360./11.", "[#100-1]*360./12."),
        ("[#100-1]*360./11.", "[#100-1]*32.72"),
        ("110.*COS[#101]", "110.*SIN[#101]"),
        ("110.*COS[#101]", "111.*COS[#101]"),
        ("X#102 Y#103", "X#103 Y#102"),
        ("X#102 Y#103", "X#102"),
        ("#100=#100+1", "#100=#100+2"),
        ("B24.", "B25."),
    ] {
        assert!(main.text.contains(right), "{right}: {}", main.text);
        let text = main.text.replacen(right, wrong, 1);
        let found = common::compared(&text, &motion, &machine, (&main.interface, &with), &[]);
        assert!(found.is_err(), "{wrong} was not seen");
    }
    // A whole turn more or less is the same place.
    let text = main.text.replacen("#101=-90.+", "#101=270.+", 1);
    let same = common::compared(&text, &motion, &machine, (&main.interface, &with), &[]);
    assert!(same.is_ok(), "{same:?}");
}

const DEEP: &str = "use bores
job deep_seat
program 1400
work 1
travel z 60mm
cutter finisher = flat(pocket: 2, diameter: 12mm, flutes: 30mm, reach: 45mm, teeth: 4)
given hole bored(diameter: 61mm, floor: -42mm) at (-70mm, 0)
{
    with finisher {
        spindle cw 3200rpm
        call finish_bore(bore: 62mm, pilot: 61mm, depth: 24mm, stepdown: 3mm, cut: 400mm/min) at (-70mm, 0)
    }
}
";

#[test]
fn blocks_that_are_called_agree_and_are_called_where_nothing_flows() {
    let (motion, machine) = (common::motions(DEEP).remove(0), common::machine("blocks-calls-mm"));
    let files = common::emitted(&motion, &machine, Form::Blocks, &Settings::default());
    let [main, called] = files.as_slice() else { panic!("{} files", files.len()) };
    let found = |main_text: &str, text: &str| {
        common::compared(main_text, &motion, &machine, (&main.interface, &[text.to_owned()]), &[]).is_ok()
    };
    assert!(found(&main.text, &called.text));
    let call = "M98 P1401\n";
    assert_eq!(main.text.matches(call).count(), 8, "{}", main.text);
    assert!(!found(&main.text.replacen(call, "", 1), &called.text), "a pass is left out");
    assert!(!found(&main.text.replacen(call, "M98 P1401 L2\n", 1), &called.text), "a pass comes twice");
    for (right, wrong) in
        [("F400.", "F401."), ("G17 G40", "G17 G91 G40"), ("G17 G40", "G18 G40"), ("M99\n", "M30\n")]
    {
        assert!(called.text.contains(right), "{}", called.text);
        assert!(!found(&main.text, &called.text.replacen(right, wrong, 1)), "{wrong} was not seen");
    }
    // The same blocks, of which the main program keeps the last ones: it is come back from where the edge is on the wall.
    let (head, rest) = called.text.split_once("(LEAD OUT)").unwrap();
    let (stays, lead) = head.rsplit_once('\n').unwrap();
    let (back, end) = rest.split_once("M99").unwrap();
    let split = main.text.replace(call, &format!("{call}{lead}(LEAD OUT){back}"));
    let with = [format!("{stays}\nM99{end}")];
    let why = common::compared(&split, &motion, &machine, (&main.interface, &with), &[]).unwrap_err();
    assert!(
        why.contains("it computes or branches where moves should flow into each other"),
        "{why}\n{split}"
    );
}
