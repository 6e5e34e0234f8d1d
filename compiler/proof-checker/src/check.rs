//! Rechecks one certificate, step by step.

use std::collections::{BTreeMap, HashMap, HashSet};

use borewright_number::{Enclosure, End, Rational};
use serde_json::Value::{self, String as Word};

use crate::algebra::{Poly, constant, plus, times};
use crate::normal::Memo;
use crate::terms::{EQUAL, GREATER, Id, LESS, Term, Terms, read, split, swapped};
use crate::{Checked, Evidence, Shown};

/// What is known of one formula.
#[derive(Debug, Default)]
pub(crate) struct Checker {
    pub(crate) terms: Terms,
    hypotheses: Vec<Id>,
    goal: Option<Id>,
    /// The values of variables, where they have some.
    point: HashMap<Id, Rational>,
    /// What is well defined by the facts that all later steps have too.
    safe: HashSet<Id>,
}

impl Checker {
    /// Takes in the lines of a formula.
    pub(crate) fn formula(&mut self, lines: &[String]) -> Checked<()> {
        for line in lines {
            let line = read(line)?;
            match split(&line)? {
                _ if self.goal.is_some() => return Err("something follows the goal".into()),
                (word @ ("real" | "whole"), [Word(name)]) => {
                    let variable = self.terms.intern(Term::Name(name.clone(), word == "whole"));
                    self.terms.declare(name, variable)?;
                }
                ("let", [Word(name), value]) => {
                    let value = self.terms.term(value, &[])?;
                    self.terms.declare(name, value)?;
                }
                ("given", [condition]) => self.hypotheses.push(self.terms.term(condition, &[])?),
                ("show", [condition]) => self.goal = Some(self.terms.term(condition, &[])?),
                (word, _) => return Err(format!("`{word}` begins no line of a formula")),
            }
        }
        Ok(())
    }

    pub(crate) fn evidence(&mut self, evidence: &Evidence) -> Checked<Shown> {
        let goal = self.goal.ok_or("the formula has no goal")?;
        match evidence {
            Evidence::Proof(steps) => self.proof(goal, steps).map(|()| Shown::Holds),
            Evidence::Counterexample(values) => self.values(values, Some(goal)).map(|()| Shown::Fails),
            Evidence::Witness(values) => self.values(values, None).map(|()| Shown::CanBeMet),
        }
    }

    fn proof(&mut self, goal: Id, steps: &[String]) -> Checked<()> {
        let (mut facts, mut assumed) = (Vec::new(), 0);
        for (number, step) in (1..).zip(steps) {
            let step = read(step)?;
            match split(&step)? {
                ("assume", []) => {
                    let next = *self.hypotheses.get(assumed).ok_or("there is no further hypothesis")?;
                    self.defined(&facts, next, true).map_err(|why| format!("step {number}: {why}"))?;
                    self.assume(&mut facts, next);
                    assumed += 1;
                }
                ("prove", [condition, proof]) => {
                    let condition = self.terms.term(condition, &[])?;
                    let opposite = self.terms.negated(condition)?;
                    self.refute(&facts, opposite, proof).map_err(|why| format!("step {number}: {why}"))?;
                    self.assume(&mut facts, condition);
                }
                _ => {
                    let conclusion = self.axiom(&facts, &step)?;
                    self.assume(&mut facts, conclusion);
                }
            }
        }
        self.defined(&facts, goal, true)?;
        let proved = assumed == self.hypotheses.len() && self.follows(&facts, goal);
        if proved { Ok(()) } else { Err("the steps end before the goal is proved".into()) }
    }

    /// Whether a term is well defined under the facts; later parts of `and` and `or` where the earlier ones
    /// leave it open, the sides of `if` where they are chosen. `lasting`: all later steps have these facts too.
    fn defined(&mut self, facts: &[Id], id: Id, lasting: bool) -> Checked<()> {
        let Term::Apply(name, parts) = self.terms.get(id) else { return Ok(()) };
        if self.safe.contains(&id) {
            return Ok(());
        }
        let mut known = facts.to_vec();
        for (at, part) in parts.iter().enumerate() {
            self.defined(&known, *part, lasting && known.len() == facts.len())?;
            match (name, at) {
                ("and", _) | ("if", 0) => self.assume(&mut known, *part),
                ("or", _) => {
                    let opposite = self.terms.negated(*part)?;
                    self.assume(&mut known, opposite);
                }
                ("if", 1) => {
                    let opposite = self.terms.negated(parts.first().copied().unwrap_or_default())?;
                    known.truncate(facts.len());
                    self.assume(&mut known, opposite);
                }
                _ => {}
            }
        }
        let own = match name {
            "/" => "(!= x 0)",
            "sqrt" => "(>= x 0)",
            "acos" => "(and (>= x -1) (<= x 1))",
            _ => "true",
        };
        let own = self.terms.of(own, &[("x", parts.last().copied().unwrap_or_default())])?;
        if !self.follows(facts, own) {
            return Err(format!("`{name}` may be undefined"));
        }
        if lasting {
            self.safe.insert(id);
        }
        Ok(())
    }

    /// Adds a condition as facts.
    fn assume(&self, facts: &mut Vec<Id>, condition: Id) {
        if let Term::Apply("and", parts) = self.terms.get(condition) {
            parts.iter().for_each(|part| self.assume(facts, *part));
        } else {
            facts.push(condition);
        }
    }

    /// Whether the facts say it as they stand, or can't all hold.
    fn follows(&self, facts: &[Id], condition: Id) -> bool {
        if let Term::Apply("and", parts) = self.terms.get(condition) {
            return parts.iter().all(|part| self.follows(facts, *part));
        }
        let decided = self.terms.decide(condition, &mut |a, b| self.orders(facts, a, b));
        let impossible = |(_, a, b)| self.orders(facts, a, b) == 0;
        let says = |fact: &Id| {
            self.terms.comparison(*fact).is_some_and(impossible) || self.implies(facts, *fact, condition)
        };
        decided == Some(true) || facts.iter().any(says)
    }

    /// Whether one fact says it: the same, a part of `and`, or all parts of `or` that are not excluded.
    fn implies(&self, facts: &[Id], fact: Id, condition: Id) -> bool {
        let mut orders = |a, b| self.orders(facts, a, b);
        let mut excluded = |part: &Id| self.terms.decide(*part, &mut orders) == Some(false);
        let Term::Apply(name, parts) = self.terms.get(fact) else { return fact == condition };
        let any = || parts.iter().any(|part| self.implies(facts, *part, condition));
        let mut all = || parts.iter().all(|part| excluded(part) || self.implies(facts, *part, condition));
        fact == condition || (name == "and" && any()) || (name == "or" && all())
    }

    /// The orders that the facts leave possible between two terms.
    pub(crate) fn orders(&self, facts: &[Id], a: Id, b: Id) -> u8 {
        facts.iter().filter_map(|fact| self.terms.comparison(*fact)).fold(
            self.terms.plain_orders(a, b),
            |left, (orders, x, y)| match (x, y) {
                _ if (x, y) == (a, b) => left & orders,
                _ if (x, y) == (b, a) => left & swapped(orders),
                _ => left,
            },
        )
    }

    /// Whether the facts decide the condition of a text.
    pub(crate) fn knows(&mut self, facts: &[Id], text: &str, words: &[(&str, Id)]) -> Checked<Option<bool>> {
        let condition = self.terms.of(text, words)?;
        Ok(self.terms.decide(condition, &mut |a, b| self.orders(facts, a, b)))
    }

    /// The facts and one more can't all hold.
    fn refute(&mut self, facts: &[Id], more: Id, proof: &Value) -> Checked<()> {
        let mut facts = facts.to_vec();
        self.assume(&mut facts, more);
        match split(proof)? {
            ("split", [condition, holds, fails]) => {
                let condition = self.terms.term(condition, &[])?;
                let opposite = self.terms.negated(condition)?;
                self.refute(&facts, condition, holds)?;
                self.refute(&facts, opposite, fails)
            }
            ("cases", [fact, branches @ ..]) => {
                match facts.get(number(fact)?).map(|fact| self.terms.get(*fact)) {
                    Some(Term::Apply("or", parts)) if parts.len() == branches.len() => parts
                        .iter()
                        .zip(branches)
                        .try_for_each(|(part, branch)| self.refute(&facts, *part, branch)),
                    _ => Err("no cases of an `or`".into()),
                }
            }
            ("axiom", [axiom, then]) => {
                let conclusion = self.axiom(&facts, axiom)?;
                self.refute(&facts, conclusion, then)
            }
            ("combine", terms) => self.combine(&facts, terms),
            ("evaluate", [fact]) => {
                let fact = *facts.get(number(fact)?).ok_or("there is no such fact")?;
                let mut boxes = Boxes::default();
                let wrong = match self.terms.comparison(fact) {
                    Some((allowed, a, b)) => self.possible(&facts, a, b, &mut boxes) & allowed == 0,
                    None => self.terms.get(fact) == Term::Apply("or", Vec::new()),
                };
                if wrong { Ok(()) } else { Err("the fact may hold".into()) }
            }
            (word, _) => Err(format!("what is `{word}`?")),
        }
    }

    /// What an axiom says.
    fn axiom(&mut self, facts: &[Id], axiom: &Value) -> Checked<Id> {
        let (word, [of]) = split(axiom)? else { return Err("an axiom is about one thing".into()) };
        if word == "whole" {
            let fact = facts.get(number(of)?).and_then(|fact| self.terms.comparison(*fact));
            let (a, b) = match fact.ok_or("the fact is no comparison")? {
                (GREATER, a, b) => (a, b),
                (LESS, a, b) => (b, a),
                _ => return Err("the fact is not strict".into()),
            };
            if !self.is_whole(a) || !self.is_whole(b) {
                return Err("a side may not be whole".into());
            }
            let next = match self.terms.number(b).map(|b| b + &Rational::ONE) {
                Some(next) => self.terms.intern(Term::Number(next)),
                None => self.terms.of("(+ b 1)", &[("b", b)])?,
            };
            return self.terms.of("(>= a b)", &[("a", a), ("b", next)]);
        }
        let id = self.terms.term(of, &[])?;
        let x = if let Term::Apply(_, parts) = self.terms.get(id) { parts.first().copied() } else { None };
        let (condition, says) = match (word, self.terms.get(id)) {
            ("rounding", Term::Apply("ceil", _)) => ("true", "(and (>= a x) (< a (+ x 1)))"),
            ("rounding", Term::Apply("floor", _)) => ("true", "(and (<= a x) (> a (- x 1)))"),
            ("root", Term::Apply("sqrt", _)) => ("(>= x 0)", "(and (>= a 0) (= (* a a) x))"),
            ("angle", _) => (
                "(and (>= a 0) (<= a 90))",
                "(and (<= (sin a) (/ (* a pi) 180)) (>= (sin a) (* (/ (* a pi) 180) (cos a)))
                 (>= (* pi (sin a)) (* 2 (/ (* a pi) 180))) (>= (sin a) 0) (>= (cos a) 0))",
            ),
            _ => return Err(format!("no axiom: {axiom}")),
        };
        let words = [("a", id), ("x", x.unwrap_or(id))];
        if self.knows(facts, condition, &words)? != Some(true) {
            return Err(format!("the axiom's condition is not known: {axiom}"));
        }
        self.terms.of(says, &words)
    }

    fn is_whole(&self, id: Id) -> bool {
        match self.terms.get(id) {
            Term::Number(value) => value.is_whole(),
            Term::Name(_, whole) => whole,
            Term::Apply("ceil" | "floor", _) => true,
            Term::Apply("+" | "-" | "*" | "min" | "max" | "abs", parts) => {
                parts.iter().all(|p| self.is_whole(*p))
            }
            Term::Apply("if", parts) => parts.iter().skip(1).all(|part| self.is_whole(*part)),
            Term::Apply(..) => false,
        }
    }

    /// A sum that is identically 0 although one of its terms is positive and none is negative.
    fn combine(&mut self, facts: &[Id], terms: &[Value]) -> Checked<()> {
        let (mut memo, mut sum, mut positive) = (Memo::default(), Poly::new(), false);
        for term in terms {
            let (scale, factors) = split(term)?;
            let scale = Rational::from_fraction(scale).ok_or("a scale is no number")?;
            let mut product = constant(Rational::ONE);
            // Which orders with 0 the product of factors has; `any` has no sign.
            let (mut strict, mut zero, mut any) = (true, false, false);
            for factor in factors {
                let (poly, orders) = match split(factor)? {
                    (word @ ("square" | "any"), [of]) => {
                        let of = self.terms.term(of, &[])?;
                        let normal = self.normal(facts, &mut memo, of)?;
                        if !normal.den.is_empty() {
                            return Err("no polynomial".into());
                        }
                        any |= word == "any";
                        (normal.num, if word == "any" { 7 } else { 8 })
                    }
                    _ => self.poly_fact(facts, &mut memo, number(factor)?)?,
                };
                zero |= orders == EQUAL;
                strict &= orders == GREATER || orders == GREATER | LESS;
                product = times(&product, &poly);
                if orders == 8 || orders == GREATER | LESS {
                    product = times(&product, &poly);
                }
            }
            if !zero && (any || scale.signum() < 0) {
                return Err("a term may be negative".into());
            }
            positive |= strict && !zero && scale.signum() > 0;
            sum = plus(&sum, &product, &scale);
        }
        if positive && sum.is_empty() {
            Ok(())
        } else {
            Err("the sum is not 0, or no term is positive".into())
        }
    }

    /// Whether values meet all hypotheses, and the goal not, if one is given.
    fn values(&mut self, values: &BTreeMap<String, String>, goal: Option<Id>) -> Checked<()> {
        for (name, value) in values {
            let value = Rational::from_fraction(value).ok_or("a value is no number")?;
            let id = self.terms.of(name, &[])?;
            let variable = matches!(self.terms.get(id), Term::Name(_, whole) if !whole || value.is_whole());
            if !variable {
                return Err(format!("`{name}` is no variable, or the value is not whole"));
            }
            self.point.insert(id, value);
        }
        let wanted = self.hypotheses.iter().map(|hypothesis| (*hypothesis, true));
        for (condition, wanted) in wanted.chain(goal.map(|goal| (goal, false))) {
            if self.decide_by_intervals(&[], condition, &mut Boxes::default()) != Some(wanted) {
                return Err(format!(
                    "a {} is not {wanted} at the values",
                    if wanted { "hypothesis" } else { "goal" }
                ));
            }
        }
        Ok(())
    }

    fn decide_by_intervals(&self, facts: &[Id], condition: Id, boxes: &mut Boxes) -> Option<bool> {
        self.terms.decide(condition, &mut |a, b| self.possible(facts, a, b, boxes))
    }

    /// The orders that the intervals of two terms leave possible.
    fn possible(&self, facts: &[Id], a: Id, b: Id, boxes: &mut Boxes) -> u8 {
        let (a, b) = (self.enclose(facts, a, boxes), self.enclose(facts, b, boxes));
        let less = if a.lo < b.hi { LESS } else { 0 };
        let equal = if a.lo <= b.hi && b.lo <= a.hi { EQUAL } else { 0 };
        let greater = if a.hi > b.lo { GREATER } else { 0 };
        if boxes.empty { 0 } else { less | equal | greater }
    }

    /// Every value of a term, by those of its parts, cut with the facts `term rel number`.
    fn enclose(&self, facts: &[Id], id: Id, boxes: &mut Boxes) -> Enclosure {
        if let Some(known) = boxes.known.get(&id) {
            return known.clone();
        }
        let (name, parts) = match self.terms.get(id) {
            Term::Number(_) | Term::Name(..) => ("", Vec::new()),
            Term::Apply(name, parts) => (name, parts),
        };
        let mut of =
            |at: usize| parts.get(at).map_or(Enclosure::ENTIRE, |part| self.enclose(facts, *part, boxes));
        let mut all = match name {
            "" => {
                let value = self.terms.number(id).or(self.point.get(&id));
                value.cloned().map_or(Enclosure::ENTIRE, Enclosure::point)
            }
            "pi" => Enclosure::pi(),
            "+" => of(0).plus(&of(1)),
            "-" if parts.first() == parts.last() => Enclosure::point(Rational::ZERO),
            "-" => of(0).plus(&of(1).negated()),
            "*" if parts.first() == parts.last() => of(0).squared(),
            "*" => of(0).times(&of(1)),
            "/" => of(0).over(&of(1)),
            "min" => of(0).min(&of(1)),
            "max" => of(0).max(&of(1)),
            "abs" => of(0).size(),
            "sqrt" => of(0).root(),
            "sin" => of(0).sine(),
            "cos" => of(0).cosine(),
            "atan" => of(0).arc_tangent(),
            "acos" => of(0).arc_cosine(),
            "ceil" => of(0).ceil(),
            "floor" => of(0).floor(),
            "if" => {
                let (a, b) = (of(1), of(2));
                let condition = parts.first().copied().unwrap_or_default();
                match self.decide_by_intervals(facts, condition, boxes) {
                    Some(holds) => {
                        if holds {
                            a
                        } else {
                            b
                        }
                    }
                    None => a.hull(&b),
                }
            }
            _ => Enclosure::ENTIRE,
        };
        for (orders, a, b) in facts.iter().filter_map(|fact| self.terms.comparison(*fact)) {
            let (orders, other) = if a == id { (orders, b) } else { (swapped(orders), a) };
            let Some(bound) = self.terms.number(other).filter(|_| a == id || b == id) else { continue };
            if orders & GREATER == 0 {
                all.hi = all.hi.min(End::At(bound.clone()));
            }
            if orders & LESS == 0 {
                all.lo = all.lo.max(End::At(bound.clone()));
            }
        }
        boxes.empty |= all.is_empty();
        boxes.known.insert(id, all.clone());
        all
    }
}

/// The intervals of terms, and whether one has no value left.
#[derive(Debug, Default)]
struct Boxes {
    known: HashMap<Id, Enclosure>,
    empty: bool,
}

fn number(text: &Value) -> Checked<usize> {
    text.as_str().and_then(|text| text.parse().ok()).ok_or_else(|| format!("no number: {text}"))
}
