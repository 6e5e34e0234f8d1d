//! Every fact that the prover adds (axioms, bounds, triangles, scalar products, gaps) holds at random points at which
//! the hypotheses hold, evaluated in intervals with exact rational ends of 60 decimals.
#![allow(clippy::disallowed_methods, reason = "a test reads the obligations and its environment")]

use std::collections::HashMap;

use borewright_motion::{Function, Relation};
use borewright_number::{Enclosure, Rational};

use super::prover::Prover;
use super::term::{Cond, Term, TermId, Terms};
use crate::{Budget, from_smt2};

/// Evaluates at one point, each shared term once; `None` where a term is not defined.
struct At<'p> {
    terms: &'p Terms,
    point: &'p [Option<Rational>],
    memo: HashMap<TermId, Option<Enclosure>>,
}

impl At<'_> {
    fn value(&mut self, id: TermId) -> Option<Enclosure> {
        if let Some(known) = self.memo.get(&id) {
            return known.clone();
        }
        let value = self.compute(id);
        self.memo.insert(id, value.clone());
        value
    }

    fn compute(&mut self, id: TermId) -> Option<Enclosure> {
        let terms = self.terms;
        Some(match terms.get(id) {
            Term::Number(value) => Enclosure::point(value.clone()),
            Term::Pi => Enclosure::pi(),
            Term::Var(v) => Enclosure::point(self.point.get(v.0 as usize)?.clone()?),
            Term::Add(a, b) => self.value(*a)?.plus(&self.value(*b)?),
            Term::Sub(a, b) => self.value(*a)?.plus(&self.value(*b)?.negated()),
            Term::Mul(a, b) if a == b => self.value(*a)?.squared(),
            Term::Mul(a, b) => self.value(*a)?.times(&self.value(*b)?),
            Term::Div(a, b) => {
                let (a, b) = (self.value(*a)?, self.value(*b)?);
                let zero = Enclosure::point(Rational::ZERO);
                if b.lo <= zero.lo && b.hi >= zero.hi {
                    return None;
                }
                a.over(&b)
            }
            Term::Neg(a) => self.value(*a)?.negated(),
            Term::Min(a, b) => self.value(*a)?.min(&self.value(*b)?),
            Term::Max(a, b) => self.value(*a)?.max(&self.value(*b)?),
            Term::If(c, a, b) => {
                let chosen = if self.holds(c)? { *a } else { *b };
                self.value(chosen)?
            }
            Term::Call(function, a) => {
                let a = self.value(*a)?;
                match function {
                    Function::Sqrt if a.lo < Enclosure::point(Rational::ZERO).lo => return None,
                    Function::Sqrt => a.root(),
                    Function::Sin => a.sine(),
                    Function::Cos => a.cosine(),
                    Function::Abs => a.size(),
                    Function::Ceil => a.ceil(),
                    Function::Floor => a.floor(),
                    Function::Tan | Function::Atan | Function::Acos => return None,
                }
            }
        })
    }

    /// `None` where it is not sure.
    fn holds(&mut self, condition: &Cond) -> Option<bool> {
        match condition {
            Cond::True => Some(true),
            Cond::False => Some(false),
            Cond::Compare(relation, a, b) => {
                let (x, y) = (self.value(*a)?, self.value(*b)?);
                let (less, greater) = (x.hi < y.lo, x.lo > y.hi);
                let equal = x.lo == x.hi && x == y;
                match relation {
                    Relation::Less => (less || x.lo >= y.hi).then_some(less),
                    Relation::LessEqual => (greater || x.hi <= y.lo).then_some(!greater),
                    Relation::Greater => (greater || x.hi <= y.lo).then_some(greater),
                    Relation::GreaterEqual => (less || x.lo >= y.hi).then_some(!less),
                    Relation::Equal => (less || greater || equal).then_some(equal),
                    Relation::NotEqual => (less || greater || equal).then_some(!equal),
                }
            }
            Cond::And(parts) => {
                let all: Vec<_> = parts.iter().map(|part| self.holds(part)).collect();
                if all.contains(&Some(false)) {
                    Some(false)
                } else {
                    all.into_iter().collect::<Option<Vec<_>>>().map(|_| true)
                }
            }
            Cond::Or(parts) => {
                let all: Vec<_> = parts.iter().map(|part| self.holds(part)).collect();
                if all.contains(&Some(true)) {
                    Some(true)
                } else {
                    all.into_iter().collect::<Option<Vec<_>>>().map(|_| false)
                }
            }
        }
    }
}

/// Adds all lemmas to the hypotheses of a formula, and looks for a point at which one fails. How many facts were
/// confirmed.
fn confirm(name: &str, text: &str, points: u64) -> usize {
    let formula = from_smt2(text).unwrap();
    let mut prover = Prover::new(&formula, &Budget { steps: 3000 }).unwrap();
    let _ = prover.prove_all();
    prover.add_lemmas();
    prover.add_triangles();
    prover.add_products();
    // Facts beyond the hypotheses; the goal, where it was proved, is one more.
    let facts = prover.base.context.facts.clone();
    let mut confirmed = 0;
    for point in prover.points(points) {
        let mut at = At { terms: &prover.store.terms, point: &point, memo: HashMap::new() };
        for fact in &facts {
            match at.holds(fact) {
                Some(true) => confirmed += 1,
                Some(false) => {
                    let shown = prover.store.terms.export_condition(fact);
                    panic!("{name}: {shown:?} fails at {:?}", prover.valuation(&point));
                }
                None => {}
            }
        }
    }
    confirmed
}

fn full() -> bool {
    std::env::var("BOREWRIGHT_FULL").is_ok_and(|value| value == "1")
}

#[test]
fn axioms_hold_at_random_points() {
    let variable = |name: &str, lo: &str, hi: &str| {
        format!("(declare-const {name} Real)(assert (<= {lo} {name}))(assert (<= {name} {hi}))")
    };
    let wide = variable("x", "(- 1000.0)", "1000.0") + &variable("y", "(- 3.0)", "50.0");
    let angle = variable("a", "0.0", "90.0");
    let whole = "(declare-const i Int)(declare-const j Int)(assert (<= 0 i))(assert (<= i 40))\
                 (assert (<= (- 9) j))(assert (<= j 9))(assert (< j i))";
    let cases = [
        ("rounding up", wide.clone() + "(assert (not (>= (- (to_int (- x))) y)))"),
        ("rounding down", wide.clone() + "(assert (not (>= (to_int (* x y)) y)))"),
        ("root", wide.clone() + "(assert (>= x 0.0))(assert (not (>= (sqrt x) y)))"),
        ("root of squares", wide + "(assert (not (>= (sqrt (+ (* x x) (* y y))) 70.0)))"),
        ("angle", angle.clone() + "(assert (not (>= (sin (/ (* a real.pi) 180.0)) 0.5)))"),
        (
            "two angles",
            angle
                + &variable("b", "(- 400.0)", "400.0")
                + "(assert (not (>= (+ (* (cos (/ (* a real.pi) 180.0)) (cos (/ (* b real.pi) 180.0))) \
                   (* (sin (/ (* a real.pi) 180.0)) (sin (/ (* b real.pi) 180.0)))) 0.5)))",
        ),
        ("whole numbers", whole.to_owned() + "(assert (not (> (* 2 i) (* 3 j))))"),
    ];
    let points = if full() { 3000 } else { 300 };
    for (name, text) in cases {
        let confirmed = confirm(name, &text, points);
        assert!(confirmed as u64 > points / 2, "{name}: only {confirmed}");
    }
}

#[test]
fn facts_of_all_obligations_hold_at_random_points() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/obligations");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    let (mut confirmed, mut reached) = (0, 0);
    for path in &files {
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let facts = confirm(&name, &std::fs::read_to_string(path).unwrap(), if full() { 60 } else { 6 });
        confirmed += facts;
        reached += usize::from(facts > 0);
    }
    assert!(reached * 100 > files.len() * 70, "{reached} of {} files have a point", files.len());
    assert!(confirmed > 5000, "{confirmed}");
}
