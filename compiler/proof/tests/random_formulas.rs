//! Random small formulas: what is proved holds at every point of a grid, what is refuted fails at its point.
//!
//! A seeded tenth ordinarily, all with BOREWRIGHT_FULL=1.
#![allow(clippy::disallowed_methods, clippy::indexing_slicing, reason = "a test reads its environment")]

use std::sync::Arc;

use borewright_motion::{Condition, Expr, Function, Node, Relation, Symbol};
use borewright_number::{Dimension, Rational};
use borewright_proof::{
    Answer, Budget, Certified, Formula, Hypothesis, HypothesisKind, Sort, Valuation, Variable, evaluate,
    prove,
};
use borewright_proof_checker::recheck;

/// A fixed sequence of numbers that look random (xorshift).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from((self.0 >> 11) % sides as u64).unwrap()
    }
}

/// Numbers from -2 to 3 in halves: many formulas are tight at some of them.
const VALUES: std::ops::RangeInclusive<i64> = -4..=6;

fn halves(n: i64) -> Rational {
    Rational::ratio(n, 2).unwrap()
}

fn names() -> [Symbol; 2] {
    [Symbol::new("x"), Symbol::new("y")]
}

fn leaf(dice: &mut Dice) -> Expr {
    match dice.roll(5) {
        0 | 1 => Expr::symbol(&names()[0]),
        2 | 3 => Expr::symbol(&names()[1]),
        _ => Expr::number(halves(i64::try_from(dice.roll(9)).unwrap() - 3)),
    }
}

fn expr(dice: &mut Dice, depth: usize) -> Expr {
    if depth == 0 {
        return leaf(dice);
    }
    let part = |dice: &mut Dice| {
        let less = 1 + dice.roll(depth);
        expr(dice, depth - less.min(depth))
    };
    let choice = dice.roll(16);
    let a = part(dice);
    match choice {
        0 | 1 => a.clone() * a,
        2 => Expr::from_node(Node::Neg(a)),
        3 => a.call(Function::Ceil),
        4 => a.call(Function::Floor),
        5 => a.call(Function::Abs),
        6 => (a.clone() * a + Expr::from(1)).call(Function::Sqrt),
        7 => a.call(Function::Sqrt),
        8 => Expr::from_node(Node::Min(a, part(dice))),
        9 => Expr::from_node(Node::Max(a, part(dice))),
        10 | 11 => Expr::from_node(Node::Div(a, part(dice))),
        12 | 13 => a * part(dice),
        14 => a - part(dice),
        15 => {
            let condition = Arc::new(comparison(dice, 0));
            Expr::from_node(Node::If(condition, a, part(dice)))
        }
        _ => a + part(dice),
    }
}

fn comparison(dice: &mut Dice, depth: usize) -> Condition {
    let relation = [
        Relation::Less,
        Relation::LessEqual,
        Relation::Greater,
        Relation::GreaterEqual,
        Relation::Equal,
        Relation::NotEqual,
    ][dice.roll(6)];
    // Equations hold seldom; half of them become comparisons.
    let relation =
        if relation == Relation::Equal && dice.roll(2) == 0 { Relation::LessEqual } else { relation };
    Condition::Compare(relation, expr(dice, depth), expr(dice, depth))
}

fn condition(dice: &mut Dice, depth: usize) -> Condition {
    match dice.roll(10) {
        0 => Condition::And(vec![comparison(dice, depth), comparison(dice, depth)]),
        1 | 2 => Condition::Or(vec![comparison(dice, depth), comparison(dice, depth)]),
        3 => Condition::Not(comparison(dice, depth).into()),
        _ => comparison(dice, depth),
    }
}

fn formula(dice: &mut Dice) -> Formula {
    let variables = names().map(|symbol| Variable {
        symbol,
        sort: if dice.roll(3) == 0 { Sort::Whole } else { Sort::Real },
        dimension: Dimension::RATIO,
        inch: false,
        definition: None,
    });
    let mut conditions = Vec::new();
    for symbol in names() {
        let (lo, hi) = (dice.roll(7), dice.roll(7));
        let end = |n: usize| Expr::number(halves(i64::try_from(n).unwrap() - 3));
        let name = Expr::symbol(&symbol);
        conditions.push(Condition::Compare(Relation::LessEqual, end(lo.min(hi)), name.clone()));
        conditions.push(Condition::Compare(Relation::LessEqual, name, end(lo.max(hi))));
    }
    for _ in 0..dice.roll(3) {
        conditions.push(condition(dice, 2));
    }
    let hypotheses = conditions
        .into_iter()
        .map(|condition| Hypothesis { condition, kind: HypothesisKind::Requirement, span: None })
        .collect();
    Formula { variables: variables.to_vec(), hypotheses, goal: condition(dice, 3), hints: Vec::new() }
}

/// A point of the grid at which all hypotheses hold and the goal fails.
fn counterexample(formula: &Formula) -> Option<Valuation> {
    for x in VALUES {
        for y in VALUES {
            let point: Valuation = names().into_iter().zip([halves(x), halves(y)]).collect();
            if fails_at(formula, &point) {
                return Some(point);
            }
        }
    }
    None
}

fn fails_at(formula: &Formula, point: &Valuation) -> bool {
    let whole = |v: &Variable| v.sort != Sort::Whole || point.get(&v.symbol).is_some_and(Rational::is_whole);
    let holds = |c: &Condition| evaluate(c, &formula.variables, point);
    formula.variables.iter().all(whole)
        && formula.hypotheses.iter().all(|h| holds(&h.condition) == Some(true))
        && holds(&formula.goal) == Some(false)
}

#[test]
fn no_random_formula_is_proved_that_fails_somewhere() {
    let full = std::env::var("BOREWRIGHT_FULL").is_ok_and(|v| v == "1");
    let mut dice = Dice(0x9E37_79B9_7F4A_7C15);
    let (mut proved, mut refuted, mut unknown) = (0, 0, 0);
    // Formula 2085 has facts that contradict each other, so that one factor is above and below 0: the certificate must
    // name the sign that the proof took.
    for number in 0..if full { 20_000 } else { 2_100 } {
        let formula = formula(&mut dice);
        let outcome = prove(&formula, &Budget { steps: 300 });
        match outcome.answer {
            Answer::Proved { .. } => {
                proved += 1;
                let point = counterexample(&formula);
                assert!(point.is_none(), "formula {number} is proved but fails at {point:?}: {formula:#?}");
                let certificate = outcome.certificate.unwrap();
                let checked = recheck(&Certified::of_proof(&formula, &certificate).to_json("")).map(|_| ());
                assert_eq!(
                    checked,
                    Ok(()),
                    "formula {number}: {}",
                    Certified::of_proof(&formula, &certificate).to_json("")
                );
            }
            Answer::Refuted(point) => {
                refuted += 1;
                assert!(fails_at(&formula, &point), "formula {number} holds at {point:?}: {formula:#?}");
            }
            Answer::Unknown { .. } => unknown += 1,
        }
    }
    // The test has something to say only when all answers occur.
    assert!(proved > 200 && refuted > 200, "{proved} proved, {refuted} refuted, {unknown} unknown");
    println!("{proved} proved, {refuted} refuted, {unknown} unknown");
}

/// The hypotheses that a proof is said to need are enough: without the others it is still no false formula.
#[test]
fn what_a_proof_does_not_use_can_be_left_out() {
    let mut dice = Dice(0x0DDB_1A5E_5BAD_5EED);
    let (mut fewer, mut proved) = (0, 0);
    for number in 0..400 {
        let formula = formula(&mut dice);
        let Answer::Proved { used } = prove(&formula, &Budget { steps: 300 }).answer else { continue };
        let mut rest = formula.clone();
        rest.hypotheses = used.iter().filter_map(|at| formula.hypotheses.get(*at)).cloned().collect();
        if rest.hypotheses.len() < formula.hypotheses.len() {
            fewer += 1;
            let point = counterexample(&rest);
            assert!(point.is_none(), "formula {number} needs more than {used:?}: {point:?} {formula:#?}");
            proved +=
                usize::from(matches!(prove(&rest, &Budget { steps: 4000 }).answer, Answer::Proved { .. }));
        }
    }
    // Where the hypotheses are contradictory, the search may take another way and end it otherwise.
    assert!(fewer > 30 && proved * 100 >= fewer * 95, "{proved} of {fewer}");
}
