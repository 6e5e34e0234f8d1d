//! Motions that must be proved whole, and twins of them, one line changed, that must be refuted.

mod hand;

use borewright_proof::{Settings, Settled, Verdict, settle};

const HEAD: &str = "
length bore 6 300
length pilot 4 300
length tool 2 50
length depth 0.1 120
length stepdown 0.1 120 = depth
angle start -360 360 = 0
length lead 0.2 75 = (bore - tool) / 4
length clearance 1 50 = 5
feedrate cut 10 5000
feedrate plunge 2 2000 = cut / 4
let wall = (bore - tool) / 2
requires tool + 0.2 <= pilot
requires pilot < bore
requires tool + 0.8 <= bore
requires lead <= 0.9 * wall
requires bore - pilot <= 2 * tool
cutter diameter == tool, flutes >= stepdown, reach >= depth
hole seat diameter: bore, floor: -depth, pilot: pilot promises within, sized, cleared, smooth, climb
";

const QUARTER: &str = "
{
    let pivot.x = (wall - lead) * cos(start)
    let pivot.y = (wall - lead) * sin(start)
    retract
    rapid centre
    rapid z clearance
    passes level from 0 to -depth by stepdown {
        feed plunge
        line z level
        feed cut
        line (pivot.x; pivot.y) & <lead @ start - 90>
        arc ccw <wall @ start> about (pivot.x; pivot.y)
        turn ccw about centre
        arc ccw (pivot.x; pivot.y) & <lead @ start + 90> about (pivot.x; pivot.y)
        line centre
    }
    retract
}
";

const HALF: &str = "
{
    let pivot.x = (wall - lead) * cos(start)
    let pivot.y = (wall - lead) * sin(start)
    retract
    rapid centre
    rapid z clearance
    passes level from 0 to -depth by stepdown {
        feed plunge
        line z level
        feed cut
        line <wall - 2 * lead @ start>
        arc ccw <wall @ start> about (pivot.x; pivot.y)
        turn ccw about centre
        arc ccw <wall - 2 * lead @ start> about (pivot.x; pivot.y)
        line centre
    }
    retract
}
";

const STRAIGHT: &str = "
{
    retract
    rapid centre
    rapid z clearance
    passes level from 0 to -depth by stepdown {
        feed plunge
        line z level
        feed cut
        line <wall @ start>
        turn ccw about centre
        line centre
    }
    retract
}
";

fn quarter() -> String {
    format!("routine quarter\n{HEAD}{QUARTER}")
}

fn half() -> String {
    format!("routine half\n{HEAD}{HALF}")
}

fn straight() -> String {
    let head = HEAD.replace(", smooth", "");
    format!("routine straight\n{head}{STRAIGHT}")
}

fn line(s: &Settled) -> String {
    let verdict = match &s.verdict {
        Verdict::Proved { .. } => "proved".to_owned(),
        Verdict::Refuted(c) => format!("REFUTED {:?} {:?}", c.values, c.fault.as_ref().map(|f| &f.text)),
        Verdict::Unknown { why } => format!("UNKNOWN {why}"),
    };
    format!("{} [{}] {verdict}", s.obligation.id, s.steps)
}

fn proved(text: &str) {
    let verdicts = settle(&hand::motion(text), &[], &Settings::default());
    let open: Vec<String> = verdicts
        .settled
        .iter()
        .filter(|s| !matches!(s.verdict, Verdict::Proved { .. }))
        .map(|s| format!("{}\n   goal {}\n", line(s), s.obligation.formula.goal))
        .collect();
    for s in &verdicts.settled {
        println!("{}", line(s));
    }
    assert!(open.is_empty(), "{}", open.join("\n"));
    assert!(verdicts.proved.is_some());
}

#[test]
fn straight_entry_is_proved() {
    proved(&straight());
}

#[test]
fn half_circle_leads_are_proved() {
    proved(&half());
}

#[test]
fn quarter_circle_leads_are_proved() {
    proved(&quarter());
}
