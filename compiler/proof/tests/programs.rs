//! Routines of further shapes that must be proved whole: helix, rings, boss, ring groove, stages.

mod written;

use borewright_proof::Verdict;

fn open(text: &str) -> Vec<String> {
    let mut open = Vec::new();
    for (_, verdicts) in written::settled(text) {
        for s in &verdicts.settled {
            let verdict = match &s.verdict {
                Verdict::Proved { .. } => continue,
                Verdict::Refuted(c) => format!("refuted {:?}", c.values),
                Verdict::Unknown { why } => format!("unknown: {why}"),
            };
            open.push(format!("{} {verdict}\n    {}", s.obligation.id, s.obligation.formula.goal));
        }
    }
    open
}

fn proved(text: &str) {
    let open = open(text);
    assert!(open.is_empty(), "{}", open.join("\n"));
}

#[test]
fn a_helical_entry_is_proved() {
    proved(include_str!("programs/helix_bore.bore"));
}

#[test]
fn rings_outward_are_proved() {
    proved(include_str!("programs/rough_bore.bore"));
}

#[test]
fn a_boss_from_outside_is_proved() {
    proved(include_str!("programs/mill_boss.bore"));
}

#[test]
fn a_groove_with_two_walls_is_proved() {
    proved(include_str!("programs/ring_groove.bore"));
}

#[test]
fn stages_are_proved_by_contract() {
    proved(include_str!("programs/open_bore.bore"));
}

#[test]
fn a_circle_of_counterbores_is_proved() {
    proved(include_str!("programs/seat_circle.bore"));
}

/// Without its requirement on the wall between neighbours, the circle is not proved.
#[test]
fn a_circle_with_places_too_near_is_not_proved() {
    let text = include_str!("programs/seat_circle.bore");
    let line = text.lines().find(|l| l.contains("WALL BETWEEN HOLES TOO THIN")).unwrap();
    let open = open(&text.replace(line, ""));
    assert!(open.iter().any(|o| o.contains("apart")), "{open:#?}");
}
