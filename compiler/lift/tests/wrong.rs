//! Texts that are wrong in ways that a hand, or a fault of ours, might bring about: none of them agrees.

mod common;

use std::sync::Arc;

use borewright_emit::{EmittedFile, Form, Settings};
use borewright_machine::Machine;
use borewright_motion::Motion;

/// A text with what it is to agree with.
struct Case {
    motion: Arc<Motion>,
    machine: Machine,
    file: EmittedFile,
    with: Vec<String>,
}

impl Case {
    fn agrees(&self, text: &str) -> Result<(), String> {
        let with = (&self.file.interface, self.with.as_slice());
        common::compared(text, &self.motion, &self.machine, with, &[]).map(|_| ())
    }

    /// The text with each of these replaced once.
    fn edited(&self, edits: &[(&str, &str)]) -> String {
        edits.iter().fold(self.file.text.clone(), |text, (from, to)| {
            assert!(text.contains(from), "{from}:\n{text}");
            text.replacen(from, to, 1)
        })
    }

    /// The same with one edit each, in the first block that holds this besides.
    fn hold_in_blocks(&self, wrong: &[(&str, &str, &str)]) {
        let code = self.file.text.find("(GUARDS").unwrap();
        let edits = wrong.iter().map(|(of, from, to)| {
            let holds = |line: &&str| line.contains(of) && line.contains(from);
            let line = self.file.text[code..].lines().find(holds);
            let line = line.unwrap_or_else(|| panic!("{of}: {from}:\n{}", self.file.text));
            (
                format!("{of}: {from} -> {to}"),
                format!("\n{line}\n"),
                format!("\n{}\n", line.replacen(from, to, 1)),
            )
        });
        let edits: Vec<_> = edits.collect();
        let edits: Vec<_> =
            edits.iter().map(|(what, from, to)| (what, [(from.as_str(), to.as_str())])).collect();
        let edits: Vec<_> = edits.iter().map(|(what, edit)| (what.as_str(), edit.as_slice())).collect();
        self.hold(&edits);
    }

    fn hold(&self, wrong: &[(&str, &[(&str, &str)])]) {
        self.agrees(&self.file.text).unwrap();
        let mut accepted = Vec::new();
        for (what, edits) in wrong {
            match self.agrees(&self.edited(edits)) {
                Ok(()) => accepted.push(*what),
                Err(why) => println!("{what}: {why}"),
            }
        }
        assert!(accepted.is_empty(), "accepted: {accepted:#?}");
    }
}

fn macro_on(machine: Machine) -> Case {
    macro_of("finish_bore", machine)
}

fn macro_of(routine: &str, machine: Machine) -> Case {
    macro_with(common::routine(routine), machine)
}

fn macro_with(motion: Arc<Motion>, machine: Machine) -> Case {
    let file = common::emitted(&motion, &machine, Form::Macro, &common::settings(1100)).remove(0);
    Case { motion, machine, file, with: Vec::new() }
}

fn job(machine: &str, form: Form) -> Case {
    let machine = common::machine(machine);
    let text = include_str!("../../../samples/gearbox_seats.bore");
    let motion = common::motions(text).into_iter().find(|m| m.job.is_some()).unwrap();
    let mut files = common::emitted(&motion, &machine, form, &Settings::default());
    let file = files.remove(0);
    Case { motion, machine, file, with: files.into_iter().map(|f| f.text).collect() }
}

#[test]
fn turns_are_counted_as_the_motion_counts_them() {
    let (motion, machine) = (common::routine("thread_hole"), common::machine("hash-mm"));
    let file = common::emitted(&motion, &machine, Form::Macro, &common::settings(1100)).remove(0);
    Case { motion, machine, file, with: Vec::new() }.hold(&[
        ("a thread that may be too short", &[("FUP[0.999999*", "FUP[0.9999*")]),
        ("a turn that is not needed", &[("FUP[0.999999*", "FUP[1.000001*")]),
        ("half a turn less", &[("#7/#6+0.5]", "#7/#6+0.4]")]),
        ("turns that are not whole", &[("FUP[0.999999*", "ABS[0.999999*")]),
        ("a turn less", &[("#6+0.5]]+1.-#23", "#6+0.5]]-#23")]),
    ]);
}

const NARROW: &str = "IF [[#20+0.2-#11] GT 0.0001] GOTO 116 (CUTTER TOO WIDE FOR PILOT)\n";
const START: &str = "G17 G40 G80 G90 G94\nG91 G28 Z0.\nG90\nG0 X#24 Y#25\nG0 Z#3\n";
const LEAD: &str = "G3 X#15 Y#16 I#4 J#5 (LEAD IN)\n";
const END: &str = "G#28 G#29 G#30 (MODES OF THE CALLER)\nM99\n";

#[test]
fn guards_and_alarms_stand_where_they_belong_and_say_what_the_author_wrote() {
    macro_on(common::machine("hash-mm")).hold(&[
        ("a guard after the first move", &[(NARROW, ""), ("G0 Z#3\n", &format!("G0 Z#3\n{NARROW}"))]),
        ("a guard after the first mode", &[(NARROW, ""), ("G91 G28", &format!("{NARROW}G91 G28"))]),
        ("modes before the guards", &[("IF [#4006", "G17 G40 G80 G90 G94\nIF [#4006")]),
        ("a guard a hundredth too late", &[("#20+0.2-#11] GT 0.0001", "#20+0.2-#11] GT 0.0101")]),
        ("a guard a hundredth too early", &[("#20+0.2-#11] GT 0.0001", "#20+0.2-#11] GT -0.0099")]),
        ("two alarms the other way round", &[("N105 #3000=5", "N105 #3000=7")]),
        (
            "an alarm with other words",
            &[("N116 #3000=16 (CUTTER TOO WIDE", "N116 #3000=16 (CUTTER TOO LONG")],
        ),
        ("an alarm without words", &[("N116 #3000=16 (CUTTER TOO WIDE FOR PILOT)", "N116 #3000=16")]),
        ("an alarm in the middle", &[(LEAD, &format!("{LEAD}#3000=30 (HA)\n"))]),
        ("compensation to the right goes through", &[("[#4007 NE 40]", "[#4007 EQ 41]")]),
        ("compensation to the left goes through", &[("[#4007 NE 40]", "[#4007 EQ 42]")]),
        ("compensation is never asked for", &[("IF [#4007 NE 40] GOTO 102\n", "")]),
        ("a default that nobody stated", &[("#17=#7 (Q", "#17=#7/2. (Q")]),
        ("a default that is refused always", &[("#17=#7 (Q", "#17=#7+1000. (Q")]),
        ("a default that is zero", &[("THEN #3=5. (C", "THEN #3=0. (C")]),
        // It may be vacant or not at entry: what hangs on that is not known.
        (
            "a default that hangs on a variable of nobody",
            &[("IF [#1 EQ #0] THEN #1=0.", "IF [#14 EQ #0] THEN #1=0.")],
        ),
    ]);
}

#[test]
fn modes_offsets_and_zeros_are_as_they_should_be_at_every_move() {
    let whole = |to: &'static str| [(START, to)];
    let late = "G17 G40 G80 G94\nG91 G28 Z0.\nG0 X#24 Y#25\nG90\nG0 Z#3\n";
    macro_on(common::machine("hash-mm")).hold(&[
        ("incremental at the first move", &whole(late)),
        ("home by way of the program's zero", &[("G91 G28 Z0.\nG90", "G90 G28 Z0.\nG90")]),
        ("home by way of a place below", &[("G91 G28 Z0.", "G91 G28 Z-9.")]),
        ("home in X as well", &[("G91 G28 Z0.", "G91 G28 X0. Z0.")]),
        ("home in machine coordinates, in between", &[("G0 Z#3\n", "G0 Z#3\nG53 G0 X0.\n")]),
        ("another plane", &[("G17 G40 G80", "G18 G40 G80")]),
        ("another plane for a while", &[(LEAD, "G18\nG17\nG19\nG3 X#15 Y#16 I#4 J#5\nG17\n")]),
        ("inches for a while", &[("G0 Z#3\n", "G20\nG0 Z#3\nG21\n")]),
        ("inches and back before the motion", &[("G17 G40", "G20\nG17 G40")]),
        ("the caller's modes are not put back", &[("G#28 G#29 G#30", "G#28 G#30")]),
        ("incremental at the end", &[("G#28 G#29 G#30", "G#28 G#29 G#30\nG91")]),
        (
            "a shifted zero, put back",
            &[("G0 X#24 Y#25\n", "G92 X0. Y0.\nG0 X#24 Y#25\n"), (END, &format!("G92.1\n{END}"))],
        ),
        (
            "a zero shifted where nothing is known yet",
            &[("G17 G40 G80", "G92 X5.\nG17 G40 G80"), (END, &format!("G92.1\n{END}"))],
        ),
        ("another work offset", &[("G0 X#24 Y#25", "G55\nG0 X#24 Y#25")]),
        ("a work offset rewritten", &[("G0 X#24 Y#25", "G10 L2 P1 X1.\nG0 X#24 Y#25")]),
        ("a work offset rewritten by its variable", &[("G0 X#24 Y#25", "#5221=1.\nG0 X#24 Y#25")]),
        ("the length offset off for a while", &[("G0 Z#3\n", "G49\nG0 Z#3\nG43 H1\n")]),
        ("another length offset", &[("G0 Z#3\n", "G43 H7\nG0 Z#3\n")]),
        ("compensation on", &[(LEAD, "G41 D1\nG3 X#15 Y#16 I#4 J#5\nG40\n")]),
        ("compensation on with no offset", &[(LEAD, &format!("G41 D0\n{LEAD}G40\n"))]),
        ("compensation on and off again", &[(LEAD, &format!("G42 D1\nG40\n{LEAD}"))]),
        ("compensation on for a way up and down", &[("G0 Z#3\n", "G41 D1\nG0 Z#3\nG40\n")]),
        ("a spindle that stops and starts", &[(LEAD, &format!("M5\nM3\n{LEAD}"))]),
        ("coolant", &[(LEAD, &format!("M8\n{LEAD}"))]),
        ("feed by inverse time", &[("G1 Z#13 F#8", "G93\nG1 Z#13 F#8\nG94")]),
        ("overrides off", &[(LEAD, &format!("M49\n{LEAD}"))]),
        ("a stop on the wall", &[(LEAD, &format!("{LEAD}M0\n"))]),
        ("an optional stop on the wall", &[(LEAD, &format!("{LEAD}M1\n"))]),
        ("a dwell on the wall", &[(LEAD, &format!("{LEAD}G4 P1.\n"))]),
        ("an exact stop that stays", &[(LEAD, &format!("G61\n{LEAD}"))]),
    ]);
}

#[test]
fn moves_loops_and_variables_are_as_they_should_be() {
    macro_on(common::machine("hash-mm")).hold(&[
        ("no feed down", &[("G1 Z#13 F#8", "G1 Z#13")]),
        ("the feed of the way down on the way round", &[("G1 X#12 Y#14 F#9", "G1 X#12 Y#14")]),
        ("an arc the other way", &[("G3 X#15 Y#16 I#4", "G2 X#15 Y#16 I#4")]),
        ("a full turn that is none", &[("G3 X#15 Y#16 I#6 J#31", "G3 X#24 Y#16 I#6 J#31")]),
        ("the full turn left out", &[("G3 X#15 Y#16 I#6 J#31 (FULL TURN)\n", "")]),
        ("an arc that sinks", &[("G3 X#15 Y#16 I#4 J#5", "G3 X#15 Y#16 Z[#13-0.1] I#4 J#5")]),
        ("a line at rapid", &[("G1 X#24 Y#25\n", "G0 X#24 Y#25\n")]),
        ("a pass less", &[("LE #33] DO 1", "LT #33] DO 1")]),
        ("no pass too shallow", &[("FUP[0.999999*#7/#17]", "FIX[0.999999*#7/#17]")]),
        ("passes by rounding", &[("FUP[0.999999*#7/#17]", "ROUND[0.999999*#7/#17]")]),
        ("passes that are a tenth deeper", &[("FUP[0.999999*", "FUP[0.9*")]),
        ("passes that are a hair deeper than the header says", &[("FUP[0.999999*", "FUP[0.999939*")]),
        ("passes of no whole number", &[("#33=FUP[0.999999*#7/#17]", "#33=#7/#17+0.5")]),
        ("a counter changed in the turn", &[(LEAD, &format!("{LEAD}#10=#10+1\n"))]),
        ("a counter that goes up by 2", &[("#10=#10+1", "#10=#10+2")]),
        ("a bound changed in the turn", &[(LEAD, &format!("{LEAD}#33=#33-1\n"))]),
        ("a jump into the loop", &[("G0 Z#3\n", "G0 Z#3\n#10=1\nGOTO 900\n"), ("G1 Z#13", "N900 G1 Z#13")]),
        (
            "a jump out of the loop",
            &[(LEAD, &format!("{LEAD}IF [#10 GT 3] GOTO 901\n")), ("G#28", "N901 G#28")],
        ),
        ("a jump back for ever", &[("G0 Z#3\n", "N902 G0 Z#3\nGOTO 902\n")]),
        ("two blocks of one number", &[("N105 #3000", "N104 #3000")]),
        ("something computed on the wall", &[(LEAD, &format!("{LEAD}#30=SIN[#1]*COS[#1]\n"))]),
        ("a choice on the wall", &[(LEAD, &format!("{LEAD}IF [#2 GT 50.] GOTO 903\nN903\n"))]),
        ("a variable of the caller", &[(LEAD, &format!("#100=1.\n{LEAD}"))]),
        ("a kept variable", &[(LEAD, &format!("#500=1.\n{LEAD}"))]),
        ("a variable whose number is computed", &[("#33=FUP", "#[#2]=1.\n#33=FUP")]),
        ("a letter that nobody declared", &[("#33=FUP", "#24=#24+#13\n#33=FUP")]),
        ("a letter that decides", &[("#33=FUP", "IF [#13 NE #0] THEN #24=0.\n#33=FUP")]),
        ("what another program left", &[("#33=FUP", "#24=#24+#110\n#33=FUP")]),
        ("too many brackets", &[("#33=FUP[0.999999*#7/#17]", "#33=FUP[0.999999*[[[[[#7]]]]]/#17]")]),
        ("a back into the caller's middle", &[("M99", "M99 P5")]),
        ("the end of everything", &[("M99", "M30")]),
        ("a block that may be skipped", &[(LEAD, "/G3 X#15 Y#16 I#4 J#5 (LEAD IN)\n")]),
        ("a program that is not here", &[(LEAD, &format!("M98 P77\n{LEAD}"))]),
    ]);
}

#[test]
fn what_no_text_of_ours_holds_is_not_read_over() {
    let before: Vec<&str> = vec![
        "G68 X0. Y0. R5.",
        "G51 X0. Y0. P2.",
        "G51.1 X0.",
        "G16",
        "G52 X1.",
        "G92 X1.",
        "G28 X0.",
        "G30 Z0.",
        "G38.2 Z-10. F50.",
        "G81 Z-5. R1. F50.",
        "G0 X9.",
        "g0 x9.",
        "G 0 X 9.",
        "(ALL IS WELL) G0 X9. (REALLY)",
        "X9.",
        "G0 U1.",
        "G0 W-1.",
        "G0 A5.",
        "G0 X1E1",
        "G0 X--9.",
        "%",
        "O2",
        "O2\nM99",
        "G65 P1100",
        "M98 P1100 L2",
        "T9 M6",
        "M2",
        "#24=#24+0.01",
        "#24=#24*1.0001",
        "IF [#24 LT 500.] THEN #24=0.",
        "GOTO#10",
        "G10 L12 P1 R5.",
        "G41.1",
        "S5000",
        "M19",
        "G5.1 Q1",
        "G64",
    ];
    let in_front: Vec<(String, String)> =
        before.iter().map(|block| ((*block).to_owned(), format!("{block}\nG0 Z#3\n"))).collect();
    let edits: Vec<(&str, [(&str, &str); 1])> =
        in_front.iter().map(|(what, with)| (what.as_str(), [("G0 Z#3\n", with.as_str())])).collect();
    let edits: Vec<(&str, &[(&str, &str)])> =
        edits.iter().map(|(what, edit)| (*what, edit.as_slice())).collect();
    macro_on(common::machine("hash-mm")).hold(&edits);
}

#[test]
fn no_word_is_read_over_in_a_block_of_ours() {
    macro_on(common::machine("hash-mm")).hold(&[
        ("two moves in one block", &[("G0 Z#3\n", "G0 G1 Z#3\n")]),
        ("a word twice", &[("G0 X#24 Y#25\n", "G0 X#24 Y#25 X9.\n")]),
        ("a radius and a centre", &[("I#4 J#5", "I#4 J#5 R#4")]),
        ("an arc of several turns", &[("I#6 J#31", "I#6 J#31 P2")]),
        ("an arc of several turns by another word", &[("I#6 J#31", "I#6 J#31 L2")]),
        ("a second feed", &[("G1 Z#13 F#8", "G1 Z#13 F#8 F#9")]),
        ("a fourth axis", &[("G1 Z#13 F#8", "G1 Z#13 A9. F#8")]),
        ("a stop in the block of a move", &[("G1 Z#13 F#8", "G1 Z#13 F#8 M0")]),
        ("a spindle stop in the block of a move", &[("G1 Z#13 F#8", "G1 Z#13 F#8 M5")]),
        ("a dwell in the block of a move", &[("G1 Z#13 F#8", "G4 P1. G1 Z#13 F#8")]),
        ("machine coordinates in the block of a move", &[("G0 X#24 Y#25\n", "G53 G0 X#24 Y#25\n")]),
        ("a sum that a comment hides", &[("G1 Z#13 F#8", "G1 Z#13 (DOWN) F#8 (TO) X9.")]),
        ("a minus before the depth", &[("G1 Z#13 F#8", "G1 Z-#13 F#8")]),
        ("a number for a feed", &[("G1 Z#13 F#8", "G1 Z#13 F5000")]),
        ("a call that repeats", &[("M99", "M99 L2")]),
    ]);
}

#[test]
fn the_centre_of_an_arc_is_read_as_the_machine_reads_it() {
    let mut case = macro_on(common::machine("hash-mm"));
    case.machine.arcs.centre = borewright_machine::Centre::Absolute;
    assert!(case.agrees(&case.file.text).is_err());
}

#[test]
fn a_main_program_states_everything_in_time() {
    let seat = "G54\nG0 X-70. Y0.\nG0 G43 H2 Z5.\nM8\n";
    job("hash-mm", Form::Blocks).hold(&[
        ("a rapid under another work offset", &[(seat, "G55\nG0 X-70. Y0.\nG54\nG0 G43 H2 Z5.\nM8\n")]),
        ("a rapid before the work offset", &[(seat, "G0 X-70. Y0.\nG54\nG0 X-70. Y0. G43 H2 Z5.\nM8\n")]),
        ("down before the length offset", &[(seat, "G54\nG0 X-70. Y0.\nG0 Z5.\nG43 H2\nM8\n")]),
        ("a shifted zero", &[(seat, &format!("G92 X0.\n{seat}"))]),
        ("a rewritten work offset", &[(seat, &format!("#5221=10.\n{seat}"))]),
        ("a rewritten work offset by G10", &[(seat, &format!("G10 L2 P1 Z-1.\n{seat}"))]),
        ("a kept variable", &[(seat, &format!("#500=10.\n{seat}"))]),
        ("an optional stop where measuring is due", &[("M0 (MEASURE", "M1 (MEASURE")]),
        ("no stop where measuring is due", &[("M0 (MEASURE BOTH SEATS BEFORE THE LAST TURN)\n", "")]),
        ("the stop with the spindle on", &[("M9\nM5\nM0", "M9\nM0")]),
        ("another tool", &[("T2 M6", "T3 M6")]),
        ("the tool never changed", &[("T2 M6", "T2")]),
        ("compensation never off", &[("G21 G17 G40 G49", "G21 G17 G49"), ("G21 G17 G40 G49", "G21 G17 G49")]),
        ("the spindle the other way", &[("S3200 M3", "S3200 M4")]),
        ("inches", &[("G21 G17", "G20 G17")]),
    ]);
}

#[test]
fn a_fragment_leaves_to_others_what_is_theirs() {
    let motion = common::routine("finish_bore");
    let machine = common::machine("blocks-mm");
    let values = [("bore", "50"), ("pilot", "47"), ("tool", "12"), ("depth", "10"), ("cut", "400")];
    let values = values.iter().map(|(n, v)| common::value(n, v)).collect();
    let settings = Settings { values, ..Settings::default() };
    let file = common::emitted(&motion, &machine, Form::Blocks, &settings).remove(0);
    let case = Case { motion, machine, file, with: Vec::new() };
    case.hold(&[
        ("the spindle stops before the cut", &[("G0 Z5.\n", "G0 Z5.\nM5\n")]),
        ("the spindle turns the other way", &[("G0 Z5.\n", "G0 Z5.\nM4\n")]),
        ("the coolant stops", &[("G0 Z5.\n", "G0 Z5.\nM9\n")]),
        ("another work offset", &[("G0 X0. Y0.\n", "G55\nG0 X0. Y0.\n")]),
        ("no length offset", &[("G21 G17 G40 G80", "G21 G17 G40 G49 G80")]),
        ("compensation never off", &[("G17 G40 G80", "G17 G80")]),
        ("another length offset", &[("G0 Z5.\n", "G43 H1\nG0 Z5.\n")]),
    ]);
}

#[test]
fn a_thread_in_inches_keeps_its_pitch_its_hand_and_its_way_in() {
    macro_of("thread_hole_passes", common::machine("hash-inch")).hold_in_blocks(&[
        ("(CUTTER TOO WIDE FOR HOLE)", "GT 0.00001", "GT 0.0001"),
        ("(CUTTER TOO WIDE FOR HOLE)", "0.0079", "0.0069"),
        ("(CUTTER TOO WIDE FOR HOLE)", "0.0079", "0.0089"),
        ("(H HAND)", "=1.", "=2."),
        // A size exactly on a limit that it must stay off.
        ("(HOLE NOT BELOW MAJOR)", "GE", "GT"),
        ("EQ 1.] THEN", "EQ", "NE"),
        ("(TURNS)", "FUP[", "FIX["),
        ("(TURNS)", "+0.5]", "+0.4]"),
        ("(Z END OF THE LINE)", "/4.", "/5."),
        ("(Z END OF ARC)", "+0.25", "+0.5"),
        ("(HOW MANY STEPS OF PATH)", "0.9992", "0.9982"),
        ("(HOW MANY STEPS OF PATH)", "/2.]", "/3.]"),
        ("LT 1] THEN", "LT 1", "LT 3"),
        ("(Z END OF FULL TURN)", "+", "-"),
        ("DO 2", "LE", "LT"),
        ("(FULL TURN)", "G3", "G2"),
        ("(PATH)", "/2.+", "/3.+"),
    ]);
}

#[test]
fn a_row_of_a_table_in_inches_is_that_of_its_screw() {
    macro_of("counterbore", common::machine("hash-inch")).hold_in_blocks(&[
        ("(SCREW.HEIGHT)", "36./25.4", "38./25.4"),
        ("(SCREW.SEAT)", "/25.4", ""),
        ("(SCREW NOT IN TABLE)", "NE 36.", "NE 35."),
        ("(HELIX BORE.PITCH)", "6.2831853", "6.3031853"),
        ("(HELIX BORE.PITCH)", "6.2831853", "6.2811853"),
        ("(HOW MANY STEPS OF HELIX BORE.LEVEL)", "0.9998", "0.9988"),
        ("(TAN OF RAMP)", "TAN", "SIN"),
        ("(FINISH BORE.LEAD)", "/4.", "/3."),
    ]);
}

#[test]
fn rings_of_a_face_are_as_many_and_as_wide_as_they_should_be() {
    macro_of("face_round", common::machine("hash-mm")).hold_in_blocks(&[
        ("(HOW MANY STEPS OF RING)", "0.99995", "0.9995"),
        ("(HOW MANY STEPS OF RING)", "0.99995", "1.0001"),
        ("(RING)", "/4.", "/3."),
        ("(RING)", "]*", "]*2.*"),
        ("(FULL TURN)", "G2", "G3"),
        ("DO 2", "LE", "LT"),
    ]);
}

/// Each turn begins where the one before it has ended, at another place than all others.
#[test]
fn a_spiral_goes_on_where_it_was() {
    let text = include_str!("../../../tests/proofs/pass/holes.bore");
    let spiral = || common::motions(text).into_iter().find(|m| m.name == "spiral_hole").unwrap();
    for machine in ["hash-mm", "hash-inch"] {
        macro_with(spiral(), common::machine(machine)).hold_in_blocks(&[
            ("(X OF THE RAPID MOVE)", "#24+", "#24+0.01+"),
            ("(X OF THE RAPID MOVE)", "#24+", "#24-"),
            ("(BEGIN)", "-1.]", "-2.]"),
            ("(BEGIN)", "+[", "-["),
            ("(Y END OF ARC)", "+", "-"),
            ("(I OF FULL TURN)", "-#", "#"),
            ("(X END OF FULL TURN)", "*", "/"),
            ("G3 X", "I#", "I-#"),
            ("DO 1", "LE", "LT"),
            ("G1 Z", "G1 Z", "G1 X0. Z"),
            ("G3 X#", "G3 X#", "G3 X0.1 Y0.1 I0. J1.\nG3 X#"),
        ]);
    }
}
