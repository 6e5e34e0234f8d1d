//! A counterexample is confirmed by running the motion: what is refuted really fails, and what only a rule
//! that asks too much would refuse is not called refuted.

mod hand;
mod written;

use std::collections::BTreeMap;

use borewright_motion::{Motion, Symbol, bind};
use borewright_number::Rational;
use borewright_proof::{Counterexample, Settings, Settled, Verdict, evaluate, settle};

/// A hole of 30 mm from a pilot of 20 mm with a cutter of 10 mm: small ranges, so that the engine is quick.
const HEAD: &str = "
routine small
length bore 28 30 = 30
length depth 5 10 = 8
angle start 0 45 = 0
feedrate cut 100 500 = 200
let wall = (bore - 10) / 2
cutter diameter == 10, flutes >= depth, reach >= depth
hole seat diameter: bore, floor: -depth, pilot: 20 promises within, sized, cleared, climb
";

fn motion(head: &str, body: &str) -> Motion {
    hand::motion(&format!(
        "{head}{{\nfeed cut\nretract\nrapid centre\nrapid z 5\nline z -depth\n{body}\nretract\n}}\n"
    ))
}

const ROUND: &str = "line <wall @ start>\nturn ccw about centre\nline centre";

/// The same way as one turn, as two half circles: no rule looks for that.
const HALVES: &str = "line <wall @ start>\narc ccw <wall @ start + 180> about centre\n\
    arc ccw <wall @ start> about centre\nline centre";

fn settled(motion: &Motion) -> Vec<Settled> {
    settle(motion, &[], &Settings::default()).settled
}

/// The counterexamples of obligations whose ids hold a word, and how many are not decided.
fn judged(motion: &Motion, word: &str) -> (Vec<Counterexample>, usize) {
    let mut refuted = Vec::new();
    let mut unknown = 0;
    for s in settled(motion).into_iter().filter(|s| s.obligation.id.contains(word)) {
        match s.verdict {
            Verdict::Proved { .. } => {}
            Verdict::Refuted(counter) => refuted.push(counter),
            Verdict::Unknown { why } => {
                println!("{}: {why}", s.obligation.id);
                unknown += 1;
            }
        }
    }
    (refuted, unknown)
}

/// It is refuted, and the fault says so.
fn fails(motion: &Motion, word: &str, said: &str) {
    let (refuted, _) = judged(motion, word);
    let texts: Vec<String> =
        refuted.iter().filter_map(|c| c.fault.as_ref()).map(|f| f.text.clone()).collect();
    assert!(texts.iter().any(|t| t.contains(said)), "{word}: {texts:?} of {}", refuted.len());
}

/// Its rule refuses it, but nothing is wrong: it is not called refuted.
fn is_fine_but_not_proved(motion: &Motion, word: &str) {
    let (refuted, unknown) = judged(motion, word);
    assert!(refuted.is_empty(), "{word}: {refuted:#?}");
    assert!(unknown > 0, "{word}: the rule is no longer too strong; choose another motion");
}

#[test]
fn what_is_left_standing_is_seen() {
    let thick = HEAD.replace("pilot: 20", "pilot: 9").replace("bore 28 30 = 30", "bore 34 36 = 36");
    fails(&motion(&thick, ROUND), "cleared", "metal is left standing, 3mm wide, at");
}

/// Down the middle of a pilot that is narrower than the cutter: the way down clears what the turn leaves.
#[test]
fn what_the_way_down_clears_is_not_left_standing() {
    is_fine_but_not_proved(&motion(&HEAD.replace("pilot: 20", "pilot: 9"), ROUND), "cleared");
}

#[test]
fn half_circles_clear_and_size_as_a_turn_does() {
    is_fine_but_not_proved(&motion(HEAD, HALVES), "cleared");
    is_fine_but_not_proved(&motion(HEAD, HALVES), "sized");
}

#[test]
fn a_wall_that_is_not_touched_is_seen() {
    let short = ROUND.replace("<wall @ start>", "<wall - 0.05 @ start>");
    fails(&motion(HEAD, &short), "sized", "0.05mm of metal is left on the wall");
    let one_half = HALVES.lines().filter(|l| !l.starts_with("arc ccw <wall @ start> ")).collect::<Vec<_>>();
    fails(&motion(HEAD, &one_half.join("\n")), "sized", "of metal is left on the wall");
}

#[test]
fn a_rapid_move_into_metal_is_seen() {
    fails(
        &motion(HEAD, &format!("rapid <wall @ start>\n{ROUND}")),
        "rapid/",
        "runs into metal 8mm below the top face",
    );
    fails(&motion(HEAD, &format!("{ROUND}\nrapid z -depth - 1")), "rapid/", "runs into metal");
}

#[test]
fn a_rapid_move_through_what_is_cut_is_no_fault() {
    let body = format!("{ROUND}\nline <wall - 2 @ start>\nrapid centre");
    is_fine_but_not_proved(&motion(HEAD, &body), "rapid/");
}

#[test]
fn a_plunge_into_metal_is_seen() {
    let body = format!("{ROUND}\nrapid z 5\nrapid <wall + 1 @ start>\nline z -depth");
    fails(&motion(HEAD, &body), "plunge", "the cutter plunges 8mm deep into solid metal");
    let ramp = format!("{ROUND}\nrapid z 5\nline z 0\nline <wall + 3 @ start> z -depth");
    fails(&motion(HEAD, &ramp), "ramp", "steep where the cutter may ramp 0deg, into metal");
}

#[test]
fn a_plunge_where_all_is_cut_is_no_fault() {
    let body = format!("{ROUND}\nrapid z 5\nrapid <wall - 1 @ start>\nline z -depth");
    is_fine_but_not_proved(&motion(HEAD, &body), "plunge");
}

#[test]
fn a_cut_deeper_than_the_flutes_is_seen() {
    let short = HEAD.replace("flutes >= depth", "flutes >= 2");
    fails(&motion(&short, ROUND), "flutes", "deep, and the flutes are 2mm long");
}

#[test]
fn a_deep_move_where_all_is_cut_is_no_fault() {
    // By thin slices down, then once more at the bottom.
    let head = HEAD.replace("flutes >= depth", "flutes >= 2");
    let slice = |z: &str| format!("line z {z}\n{HALVES}\n");
    let slices = ["-2", "-4", "-6", "-8", "-10"].map(slice).concat();
    let head = head
        .replace("length depth 5 10 = 8", "length depth 10 10.5 = 10")
        .replace("floor: -depth", "floor: -10");
    let body = format!("{slices}line <wall - 1 @ start>\nline centre");
    let body = format!("rapid z 5\n{body}");
    is_fine_but_not_proved(&motion(&head, &body), "flutes");
}

#[test]
fn the_wrong_way_round_is_seen() {
    fails(
        &motion(HEAD, &ROUND.replace("ccw", "cw")),
        "climb",
        "runs cw about the wall, where `climb` asks for ccw",
    );
}

#[test]
fn a_short_arc_the_wrong_way_round_far_from_the_wall_is_no_fault() {
    let body = format!("{ROUND}\narc cw (2; 0) about (1; -50)\nline centre");
    let (refuted, _) = judged(&motion(HEAD, &body), "climb");
    assert!(refuted.is_empty(), "{refuted:#?}");
}

#[test]
fn how_far_the_wall_and_the_floor_are_passed_is_told_at_the_failing_step() {
    let past = motion(HEAD, &ROUND.replace("<wall @ start>", "<wall + 1.4 @ start>"));
    let (refuted, _) = judged(&past, "within");
    let fault = refuted.first().and_then(|c| c.fault.clone()).expect("a fault");
    assert_eq!(fault.text, "the cutter passes the wall by 1.4mm");
    fails(
        &motion(HEAD, &format!("{ROUND}\nline z -depth - 0.5")),
        "floor",
        "the cutter goes 0.5mm below the floor",
    );
}

/// Every refutation, evaluated again from outside: all that is required holds, and the formula fails.
#[test]
fn whatever_is_refuted_fails_at_the_values_that_are_shown() {
    let bodies = [
        ROUND.replace("<wall @ start>", "<wall + 0.3 @ start>"),
        ROUND.replace("<wall @ start>", "<wall - 0.3 @ start>"),
        ROUND.replace("turn ccw", "turn cw"),
        ROUND.replace("turn ccw about centre", "turn ccw about (0.1; 0)"),
        format!("{ROUND}\nline z 0.1 - depth\nline z -depth - 0.1"),
        format!("rapid <wall @ start>\n{ROUND}"),
        String::new(),
    ];
    let mut seen = 0;
    for body in bodies {
        let motion = motion(HEAD, &body);
        for s in settled(&motion) {
            let Verdict::Refuted(counter) = &s.verdict else { continue };
            seen += 1;
            let formula = &s.obligation.formula;
            let id = &s.obligation.id;
            let arguments: BTreeMap<Symbol, Rational> = counter.values.clone();
            let bound = bind(&motion, &arguments);
            assert!(bound.is_ok(), "{id}: {bound:?}");
            assert_eq!(evaluate(&formula.goal, &formula.variables, &counter.values), Some(false), "{id}");
            for h in &formula.hypotheses {
                assert_eq!(evaluate(&h.condition, &formula.variables, &counter.values), Some(true), "{id}");
            }
        }
    }
    assert!(seen > 12, "only {seen} refuted");
}

/// Values are those that a machinist would type: defaults where nothing else is needed.
#[test]
fn counterexamples_keep_to_defaults_and_round_numbers() {
    let past = motion(HEAD, &ROUND.replace("<wall @ start>", "<wall + 1.4 @ start>"));
    for s in settled(&past) {
        let Verdict::Refuted(counter) = &s.verdict else { continue };
        let text: Vec<String> = counter
            .values
            .iter()
            .filter(|(s, _)| !s.name().contains('.'))
            .map(|(s, v)| format!("{s} {v}"))
            .collect();
        assert_eq!(text.join(", "), "bore 30, cut 200, depth 8, start 0", "{}", s.obligation.id);
    }
}

const CALLER: &str = "
routine bore_out(
    bore: length in 20mm..40mm,
    pilot: length in 14mm..30mm,
    cut: feed in 100mm/min..900mm/min,
)
requires bore - pilot <= 20mm else \"TOO MUCH STOCK\"
requires pilot + 4mm <= bore else \"TOO LITTLE STOCK\"
cutter flat with diameter == 12mm, flutes >= 10mm, reach >= 10mm
makes hole seat(diameter: bore, floor: -10mm, pilot: pilot) promises within, sized, cleared
{
    retract
    rapid to centre
    rapid to z 5mm
    feed cut
    line to z -10mm
    line to ((bore - 12mm) / 2, 0)
    turn ccw about centre
    line to centre
    retract
}

job seats
program 1
work 1
travel z 30mm
cutter endmill = flat(pocket: 1, diameter: 12mm, flutes: 20mm, reach: 30mm, teeth: 3)
given hole drilled(diameter: 18mm, floor: -20mm) at centre
makes hole seat(diameter: 30mm, floor: -10mm, pilot: 18mm) promises within, sized, cleared
{
    with endmill {
        spindle cw 2000rpm
        call bore_out(bore: 30mm, pilot: 18mm, cut: 400mm/min) at centre
    }
}
";

/// What is said of the job whose call is changed.
fn said_of_the_job(from: &str, to: &str) -> Vec<String> {
    assert!(CALLER.contains(from), "{from}");
    let settled = written::settled(&CALLER.replace(from, to));
    let (motion, verdicts) = settled.iter().find(|(motion, _)| motion.name == "seats").unwrap();
    borewright_proof::errors::findings(motion, verdicts).iter().map(|d| d.message.clone()).collect()
}

#[test]
fn a_call_that_is_refused_shows_the_values_that_were_put_in() {
    let said = said_of_the_job("bore: 30mm, pilot: 18mm", "bore: 36mm, pilot: 15mm");
    let refused = "`bore_out` refuses this: bore - pilot <= 20mm is false with bore 36mm, pilot 15mm";
    assert!(said.iter().any(|m| m == refused), "{said:#?}");
    let said = said_of_the_job("call bore_out(bore: 30mm", "call bore_out(bore: 45mm");
    let outside = "`bore` of `bore_out` is given 45mm, above its greatest of 40mm";
    assert!(said.iter().any(|m| m == outside), "{said:#?}");
    let said = said_of_the_job("flutes: 20mm", "flutes: 8mm");
    let short = "the cutter has flutes 8mm, and `bore_out` demands at least 10mm";
    assert!(said.iter().any(|m| m == short), "{said:#?}");
}
