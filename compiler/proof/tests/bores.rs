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

/// The ids that are refuted, and those that are not decided.
fn verdicts_of(text: &str) -> (Vec<String>, Vec<String>) {
    let verdicts = settle(&hand::motion(text), &[], &Settings::default());
    assert!(verdicts.proved.is_none(), "a twin was proved");
    let (mut refuted, mut unknown) = (Vec::new(), Vec::new());
    for s in &verdicts.settled {
        match &s.verdict {
            Verdict::Proved { .. } => {}
            Verdict::Refuted(_) => refuted.push(line(s)),
            Verdict::Unknown { .. } => unknown.push(line(s)),
        }
    }
    (refuted, unknown)
}

/// Each twin: its name, the routine, the text to change and what it becomes, and a part of the id of an
/// obligation that must be refuted.
type Twin = (&'static str, fn() -> String, &'static str, &'static str, &'static str);

const TWINS: &[Twin] = &[
    (
        "cutter as large as the bore",
        straight,
        "requires tool + 0.2 <= pilot\nrequires pilot < bore\nrequires tool + 0.8 <= bore\nrequires lead <= 0.9 * wall",
        "",
        "within",
    ),
    (
        "cutter wider than the pilot",
        quarter,
        "requires tool + 0.2 <= pilot",
        "requires tool <= bore",
        "plunge",
    ),
    ("lead arc too large", quarter, "requires lead <= 0.9 * wall", "requires lead <= 1.1 * wall", "within"),
    ("no bound on the lead arc", quarter, "requires lead <= 0.9 * wall", "", "within"),
    (
        "centre offset with the wrong sign",
        quarter,
        "let pivot.x = (wall - lead)",
        "let pivot.x = (wall + lead)",
        "within",
    ),
    ("arc end off by 0.01 mm", quarter, "arc ccw <wall @ start>", "arc ccw <wall + 0.01 @ start>", "arc/"),
    ("turn off the wall by 0.01 mm", straight, "line <wall @ start>", "line <wall - 0.01 @ start>", "sized"),
    ("past the wall by 0.01 mm", straight, "line <wall @ start>", "line <wall + 0.01 @ start>", "within"),
    (
        "stepdown may be zero",
        quarter,
        "length stepdown 0.1 120 = depth",
        "length stepdown 0 120 = depth",
        "ends",
    ),
    ("floor overshot", quarter, "from 0 to -depth by", "from 0 to -depth - 0.1 by", "floor"),
    ("floor not reached", quarter, "from 0 to -depth by", "from 0 to 0.05 - depth by", "landing"),
    ("feed missing", quarter, "feed plunge", "feed none", "feed"),
    ("feed may be zero", quarter, "feedrate cut 10 5000", "feedrate cut 0 5000", "feed"),
    ("down before XY is known", quarter, "rapid centre\n", "", "entry"),
    ("XY before the retract", quarter, "{\n    let pivot.x", "{\n    rapid centre\n    let pivot.x", "entry"),
    (
        "diagonal rapid inside the bore",
        quarter,
        "line (pivot.x; pivot.y) & <lead @ start - 90>",
        "rapid (pivot.x; pivot.y) & <lead @ start - 90>",
        "rapid",
    ),
    (
        "rapid down into the pilot that just fits",
        quarter,
        "rapid z clearance",
        "rapid z clearance - 2",
        "rapid",
    ),
    (
        "default outside its range",
        quarter,
        "length lead 0.2 75 = (bore - tool) / 4",
        "length lead 0.5 75 = (bore - tool) / 4",
        "default",
    ),
    ("straight entry promising smooth", straight, "cleared, climb", "cleared, smooth, climb", "smooth"),
    ("dwell on the wall", quarter, "turn ccw about centre", "dwell 1\n turn ccw about centre", "smooth"),
    ("wrong way round", straight, "turn ccw about centre", "turn cw about centre", "climb"),
    ("turn against the lead arc", quarter, "turn ccw about centre", "turn cw about centre", "smooth"),
    ("too much stock for one turn", quarter, "requires bore - pilot <= 2 * tool", "", "cleared"),
    ("flutes not demanded", quarter, "flutes >= stepdown, ", "", "flutes"),
    ("reach not demanded", quarter, ", reach >= depth", "", "shank"),
    ("no lead room", quarter, "requires tool + 0.8 <= bore", "", "default"),
    ("clearance below the face", quarter, "length clearance 1 50 = 5", "length clearance -1 50 = 5", "rapid"),
    ("no turn at all", straight, "turn ccw about centre\n", "", "sized"),
    ("turn about the wrong centre", straight, "turn ccw about centre", "turn ccw about (0.01; 0)", "within"),
    ("requirements contradict", quarter, "requires pilot < bore", "requires pilot < tool", "witness"),
    (
        "half circle lead too large",
        half,
        "requires lead <= 0.9 * wall",
        "requires lead <= 1.01 * wall",
        "within",
    ),
    (
        "half circle about a centre off by 0.01 mm",
        half,
        "about (pivot.x; pivot.y)",
        "about (pivot.x + 0.01; pivot.y)",
        "arc/",
    ),
    (
        "divisor may vanish",
        quarter,
        "let wall = (bore - tool) / 2",
        "let wall = (bore - tool) / 2\nlet ratio = lead / (bore - tool)",
        "divisor",
    ),
];

#[test]
fn twins_are_refuted() {
    let mut wrong = Vec::new();
    for (name, base, from, to, part) in TWINS {
        let text = base();
        assert!(text.contains(from), "{name}: nothing to change");
        let (refuted, unknown) = verdicts_of(&text.replacen(from, to, 1));
        println!("{name}\n   {}\n   {}", refuted.join("\n   "), unknown.join("\n   "));
        if !refuted.iter().any(|id| id.contains(part)) {
            wrong.push(*name);
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The lead arc's centre is one degree beside the contact radius: equal radii, but no common tangent.
#[test]
fn a_tangent_off_by_one_degree_is_refuted() {
    let text = quarter()
        .replace(
            "let pivot.x = (wall - lead) * cos(start)",
            "let pivot.x = wall * cos(start) - lead * cos(start + 1)",
        )
        .replace(
            "let pivot.y = (wall - lead) * sin(start)",
            "let pivot.y = wall * sin(start) - lead * sin(start + 1)",
        );
    let (refuted, _) = verdicts_of(&text);
    println!("{}", refuted.join("\n"));
    assert!(refuted.iter().any(|id| id.contains("smooth")), "{refuted:#?}");
}

/// The lead arc begins anywhere: here 89 degrees before the wall.
#[test]
fn a_lead_arc_of_any_angle_is_proved() {
    proved(&quarter().replace("start - 90>", "start - 89>"));
    proved(&quarter().replace("start - 90>", "start - 60>").replace("start + 90>", "start + 130>"));
}
