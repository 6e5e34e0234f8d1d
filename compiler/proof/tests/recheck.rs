//! Every certificate is accepted by the checker, which shares no code with the engine; changed ones are not, or
//! still prove the same formula.
#![allow(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests read their own files and fail by panicking"
)]

mod written;

use borewright_motion::Condition;
use borewright_number::Rational;
use borewright_proof::{
    Budget, Certified, Formula, Hypothesis, HypothesisKind, Settings, Sort, Valuation, Verdict, certify,
    certify_proof, evaluate, from_smt2,
};
use borewright_proof_checker::recheck;
use serde_json::{Value, json};

fn texts(folder: &str, ending: &str) -> Vec<(String, String)> {
    let folder = format!("{}/{folder}", env!("CARGO_MANIFEST_DIR"));
    let mut paths: Vec<_> = std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|e| e == ending));
    paths.sort();
    let name = |path: &std::path::Path| path.file_name().unwrap().to_string_lossy().into_owned();
    paths.iter().map(|path| (name(path), std::fs::read_to_string(path).unwrap())).collect()
}

/// Each formula of the bundled routines with its certificate.
fn bundled() -> Vec<(String, Formula, Certified)> {
    let mut all = Vec::new();
    for (_, text) in borewright_stdlib::FILES {
        for (_, verdicts) in written::settled(text) {
            for settled in verdicts.settled {
                let Some(certified) = certify(&settled, &Settings::default()) else {
                    panic!("{} has no certificate", settled.obligation.id)
                };
                let formula = match &settled.verdict {
                    Verdict::Proved { formula, .. } => formula.clone(),
                    Verdict::Refuted(_) | Verdict::Unknown { .. } => settled.obligation.formula.clone(),
                };
                all.push((settled.obligation.id.clone(), formula, certified));
            }
        }
    }
    all
}

#[test]
fn certificates_of_routines_and_jobs_are_accepted() {
    let mut problems = Vec::new();
    let own = borewright_stdlib::FILES.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned()));
    for (name, text) in own.chain(texts("../../samples", "bore")).chain(texts("tests/programs", "bore")) {
        for (_, verdicts) in written::settled(&text) {
            for settled in &verdicts.settled {
                let id = &settled.obligation.id;
                let certified = certify(settled, &Settings::default());
                match certified.map(|c| (recheck(&c.to_json(id)), c)) {
                    None => problems.push(format!("{name} {id}: no certificate")),
                    Some((Err(why), _)) => problems.push(format!("{name} {id}: {why}")),
                    Some((Ok(accepted), c)) => assert_eq!(json!(accepted.formula), c.formula),
                }
            }
        }
    }
    assert!(problems.is_empty(), "{problems:#?}");
}

#[test]
fn certificates_of_the_obligations_are_accepted() {
    let mut problems = Vec::new();
    for (name, text) in texts("tests/obligations", "smt2") {
        let formula = from_smt2(&text).unwrap();
        if text.contains(":status unsat")
            && let Some(certified) = certify_proof(&formula, &Budget::default())
            && let Err(why) = recheck(&certified.to_json(&name))
        {
            problems.push(format!("{name}: {why}"));
        }
    }
    assert!(problems.is_empty(), "{problems:#?}");
}

/// Numbers that look random, the same in every run.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % sides
    }
}

/// Every text in it.
fn words(of: &mut Value) -> Vec<&mut String> {
    match of {
        Value::String(word) => vec![word],
        Value::Array(parts) => parts.iter_mut().flat_map(words).collect(),
        Value::Object(parts) => parts.values_mut().flat_map(words).collect(),
        Value::Null | Value::Bool(_) | Value::Number(_) => Vec::new(),
    }
}

/// Changes one number, or in a quarter of all cases an operation or relation; false where there is none.
fn tamper(of: &mut Value, dice: &mut Dice) -> bool {
    const OTHERS: [&str; 12] = ["<", "<=", "=", "!=", ">=", ">", "+", "-", "*", "min", "max", "/"];
    let mut words = words(of);
    let operations = dice.roll(4) == 0;
    let is_number = |word: &str| word.trim_start_matches('-').starts_with(|c: char| c.is_ascii_digit());
    words.retain(|word| if operations { OTHERS.contains(&word.as_str()) } else { is_number(word) });
    if words.is_empty() {
        return false;
    }
    let at = dice.roll(words.len());
    let word = &mut *words[at];
    if operations {
        let old = OTHERS.iter().position(|other| other == word).unwrap();
        *word = OTHERS[(old + 1 + dice.roll(OTHERS.len() - 1)) % OTHERS.len()].to_owned();
        return true;
    }
    let start = word.find(|c: char| c.is_ascii_digit()).unwrap();
    let end = word[start..].find(|c: char| !c.is_ascii_digit()).map_or(word.len(), |n| start + n);
    let Ok(old) = word[start..end].parse::<u128>() else { return false };
    let new = match dice.roll(4) {
        0 => old + 1,
        1 => old.saturating_sub(1).max(u128::from(old == 0)),
        2 => old * 10 + 7,
        _ => old * 2 + 1,
    };
    word.replace_range(start..end, &new.to_string());
    true
}

/// Whether the formula holds at points drawn at random within its ranges.
fn holds_at_random(formula: &Formula, dice: &mut Dice) -> bool {
    (0..100).all(|_| {
        let values = point(formula, dice);
        let is = |c: &Condition, wanted| evaluate(c, &formula.variables, &values) == Some(wanted);
        !(formula.hypotheses.iter().all(|h| is(&h.condition, true)) && is(&formula.goal, false))
    })
}

fn point(formula: &Formula, dice: &mut Dice) -> Valuation {
    let free = formula.variables.iter().filter(|v| v.definition.is_none());
    let value = |sort: Sort, dice: &mut Dice| {
        let count = Rational::from(i64::try_from(dice.roll(4001)).unwrap() - 1000);
        if sort == Sort::Whole {
            Rational::from(i64::try_from(dice.roll(9)).unwrap())
        } else {
            count / Rational::from(20)
        }
    };
    free.map(|v| (v.symbol.clone(), value(v.sort, dice))).collect()
}

/// A thousand with `BOREWRIGHT_FULL=1`, else a tenth of that.
#[test]
fn a_certificate_with_one_number_changed_is_rejected_or_proves_the_same_formula() {
    let count = if std::env::var("BOREWRIGHT_FULL").is_ok_and(|full| full == "1") { 1000 } else { 100 };
    let all = bundled();
    let mut dice = Dice(20);
    let (mut rejected, mut other_formula, mut same, mut done) = (0, 0, 0, 0);
    while done < count {
        let (id, formula, certified) = &all[dice.roll(all.len())];
        let mut document: Value = serde_json::from_str(&certified.to_json(id)).unwrap();
        let part = if dice.roll(4) == 0 { "formula" } else { "evidence" };
        if !tamper(&mut document[part], &mut dice) {
            continue;
        }
        done += 1;
        match recheck(&document.to_string()) {
            Err(_) => rejected += 1,
            // Whoever regenerates the formula sees that it is another one.
            Ok(accepted) if json!(accepted.formula) != certified.formula => other_formula += 1,
            Ok(accepted) => {
                same += 1;
                if matches!(accepted.evidence, borewright_proof_checker::Evidence::Proof(_)) {
                    assert!(holds_at_random(formula, &mut dice), "{id} is accepted and does not hold");
                }
            }
        }
    }
    println!(
        "{count} changed: {rejected} rejected, {other_formula} about another formula, {same} still prove the same"
    );
    assert!(rejected > 0 && rejected + other_formula > same);
}

/// The checker and the engine give every condition the same meaning: at random points, what the engine finds
/// true (false) the checker does not find false (true), and most is decided by both.
#[test]
fn the_text_of_a_formula_means_the_same_as_the_formula() {
    let mut dice = Dice(7);
    let (mut both, mut all) = (0, 0);
    for (id, formula, _) in bundled().into_iter().step_by(3) {
        let values = point(&formula, &mut dice);
        let conditions = formula.hypotheses.iter().map(|h| &h.condition).chain([&formula.goal]);
        for condition in conditions {
            let ours = evaluate(condition, &formula.variables, &values);
            let theirs = checked(&formula, condition, &values);
            all += 1;
            both += i32::from(ours.is_some() && theirs.is_some());
            assert!(ours.is_none() || theirs.is_none() || ours == theirs, "{id}: {condition} at {values:?}");
        }
    }
    println!("{both} of {all} conditions decided by both");
    assert!(both * 10 > all * 8);
}

/// What the checker finds of one condition at a point.
fn checked(formula: &Formula, condition: &Condition, values: &Valuation) -> Option<bool> {
    let shows = |condition: Condition| {
        let given = Hypothesis { condition, kind: HypothesisKind::Path, span: None };
        let alone = Formula { hypotheses: vec![given], goal: Condition::False, ..formula.clone() };
        recheck(&Certified::of_values(&alone, values).to_json("")).is_ok()
    };
    if shows(condition.clone()) {
        return Some(true);
    }
    shows(Condition::Not(condition.clone().into())).then_some(false)
}

#[test]
fn a_certificate_survives_being_written_and_read() {
    for (id, _, certified) in bundled().into_iter().step_by(7) {
        let text = certified.to_json(&id);
        let read: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(read["formula"], certified.formula);
        assert_eq!(recheck(&text).unwrap().id, id);
        assert_eq!(recheck(&read.to_string()), recheck(&text));
    }
}
