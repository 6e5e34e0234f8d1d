//! Which hypotheses a proof rests on: rather one too many than one too few.
//!
//! A proof names the facts that it adds up or evaluates. Others take part without being named: those that settle
//! the sign of a divisor, the side of a `min`, the number a variable equals, the ends of an interval.

use std::collections::BTreeSet;

use borewright_motion::{Expr, Function, Relation};
use borewright_number::Rational;

use super::boxes::Reach;
use super::prover::Prover;
use super::term::{Cond, Term, TermId};
use crate::certificate::{Axiom, Factor, Proof, Term as Summand};

/// What a proof speaks of.
#[derive(Debug, Default)]
struct Uses {
    /// Facts that it names.
    facts: BTreeSet<usize>,
    /// Conditions that it assumes on the way.
    conditions: Vec<Cond>,
    /// Expressions that it names.
    terms: Vec<TermId>,
    /// What it evaluates by intervals.
    evaluated: Vec<Cond>,
    /// The facts on the way to the node, by number; those of axioms as `True`.
    path: Vec<Cond>,
}

impl Uses {
    /// Adds a condition to the facts, as contexts do.
    fn assume(&mut self, condition: &Cond) {
        match condition {
            Cond::True => {}
            Cond::And(parts) => parts.iter().for_each(|part| self.assume(part)),
            Cond::False | Cond::Or(_) | Cond::Compare(..) => self.path.push(condition.clone()),
        }
    }
}

impl Prover {
    /// The hypotheses that a proof of the condition from the base facts rests on.
    pub(super) fn used_by(&mut self, condition: &Cond, proof: &Proof) -> Vec<usize> {
        let path = self.base.context.facts.clone();
        let mut uses = Uses { conditions: vec![condition.clone()], path, ..Uses::default() };
        uses.assume(&condition.negated());
        self.walk(proof, &mut uses);
        for number in uses.facts.clone() {
            uses.conditions.extend(self.base.context.facts.get(number).cloned());
        }
        let mut reach = Reach::of(&self.store.terms, uses.conditions.iter());
        uses.terms.iter().for_each(|term| reach.add(&self.store.terms, *term));
        let mut pairs = self.deciding_pairs(&reach);
        for condition in &uses.conditions {
            condition.comparisons(&mut |_, a, b| {
                pairs.insert(ordered(a, b));
            });
        }
        let evaluated = Reach::of(&self.store.terms, uses.evaluated.iter());
        let mut facts = uses.facts;
        for (number, fact) in self.base.context.facts.iter().enumerate() {
            let Cond::Compare(_, a, b) = fact else { continue };
            if pairs.contains(&ordered(*a, *b)) || self.bounds_one(&evaluated, *a, *b) {
                facts.insert(number);
            }
        }
        facts.extend(self.sign_facts(&reach));
        self.hypotheses_of(facts)
    }

    /// The hypotheses that the facts on these pairs of terms rest on.
    pub(super) fn sources_of(&self, pairs: &[(TermId, TermId)]) -> Vec<usize> {
        let facts = self.base.context.facts.iter().enumerate().filter_map(|(number, fact)| {
            let Cond::Compare(_, a, b) = fact else { return None };
            let meant = pairs.iter().any(|(x, y)| ordered(*x, *y) == ordered(*a, *b));
            meant.then_some(number)
        });
        self.hypotheses_of(facts.collect())
    }

    fn hypotheses_of(&self, facts: BTreeSet<usize>) -> Vec<usize> {
        let used: BTreeSet<usize> =
            facts.into_iter().filter_map(|fact| self.sources.get(fact)).flatten().copied().collect();
        used.into_iter().collect()
    }

    fn walk(&mut self, proof: &Proof, uses: &mut Uses) {
        match proof {
            Proof::Split { condition, holds, fails } => {
                let Some(condition) = self.store.terms.import_condition(condition) else { return };
                for (side, proof) in [(condition.clone(), holds), (condition.negated(), fails)] {
                    self.walk_with(&[side], proof, uses);
                }
                uses.conditions.push(condition);
            }
            Proof::Cases { fact, branches } => {
                uses.facts.insert(*fact);
                let Some(Cond::Or(parts)) = uses.path.get(*fact).cloned() else { return };
                for (part, branch) in parts.iter().zip(branches) {
                    self.walk_with(std::slice::from_ref(part), branch, uses);
                }
            }
            Proof::Axiom { axiom, then } => {
                let count = match axiom {
                    Axiom::Rounding(expr) | Axiom::Root(expr) => {
                        self.note_expr(expr, uses);
                        2
                    }
                    Axiom::Angle(expr) => {
                        self.note_expr(expr, uses);
                        5
                    }
                    Axiom::Whole(fact) => {
                        uses.facts.insert(*fact);
                        1
                    }
                };
                let length = uses.path.len();
                uses.path.resize(length + count, Cond::True);
                self.walk(then, uses);
                uses.path.truncate(length);
            }
            Proof::Combine(sum) => sum.iter().for_each(|summand| self.note_summand(summand, uses)),
            Proof::Evaluate { fact } => {
                uses.facts.insert(*fact);
                uses.evaluated.extend(uses.path.get(*fact).cloned());
            }
        }
    }

    /// Walks with more facts.
    fn walk_with(&mut self, more: &[Cond], proof: &Proof, uses: &mut Uses) {
        let length = uses.path.len();
        more.iter().for_each(|condition| uses.assume(condition));
        self.walk(proof, uses);
        uses.path.truncate(length);
    }

    fn note_summand(&mut self, summand: &Summand, uses: &mut Uses) {
        for factor in &summand.factors {
            match factor {
                Factor::Fact(number) => {
                    uses.facts.insert(*number);
                }
                Factor::Square(expr) | Factor::Any(expr) => self.note_expr(expr, uses),
            }
        }
    }

    fn note_expr(&mut self, expr: &Expr, uses: &mut Uses) {
        uses.terms.extend(self.store.terms.import(expr));
    }

    /// The pairs of terms whose order decides what the terms in reach normalise to.
    fn deciding_pairs(&mut self, reach: &Reach) -> BTreeSet<(TermId, TermId)> {
        let zero = self.store.terms.number(Rational::ZERO);
        let right = self.store.terms.number(Rational::from(90));
        let mut pairs = BTreeSet::new();
        for id in reach.terms() {
            match self.store.terms.get(*id).clone() {
                Term::Min(a, b) | Term::Max(a, b) => {
                    pairs.insert(ordered(a, b));
                }
                Term::If(c, _, _) => c.comparisons(&mut |_, a, b| {
                    pairs.insert(ordered(a, b));
                }),
                Term::Div(_, b) => {
                    pairs.insert(ordered(b, zero));
                }
                Term::Call(function, a) => {
                    // The range of an angle, the sign of what a root or a size is taken of.
                    pairs.extend([ordered(a, zero), ordered(a, right)]);
                    if function == Function::Tan {
                        let cosine = self.store.terms.intern(Term::Call(Function::Cos, a));
                        pairs.insert(ordered(cosine, zero));
                    }
                }
                Term::Var(_) => {
                    if let Some(value) = self.base.context.fixed(&self.store.terms, *id) {
                        let number = self.store.terms.number(value);
                        pairs.insert(ordered(*id, number));
                    }
                }
                Term::Number(_) | Term::Pi | Term::Add(..) | Term::Sub(..) | Term::Mul(..) | Term::Neg(_) => {
                }
            }
        }
        pairs
    }

    /// Whether a comparison gives an end of the interval of a term in reach.
    fn bounds_one(&self, reach: &Reach, a: TermId, b: TermId) -> bool {
        (self.store.terms.as_number(b).is_some() && reach.has(a))
            || (self.store.terms.as_number(a).is_some() && reach.has(b))
    }

    /// Facts that may settle the sign of a factor of a denominator: strict comparisons with 0 that share a
    /// variable with the divisors, or with one another.
    fn sign_facts(&self, reach: &Reach) -> BTreeSet<usize> {
        let terms = &self.store.terms;
        let mut facts = BTreeSet::new();
        let mut known = BTreeSet::new();
        for id in reach.terms() {
            match terms.get(*id) {
                Term::Div(_, b) => known.extend(self.variables_of(*b)),
                Term::Call(Function::Tan, a) => known.extend(self.variables_of(*a)),
                Term::Number(_)
                | Term::Pi
                | Term::Var(_)
                | Term::Add(..)
                | Term::Sub(..)
                | Term::Mul(..)
                | Term::Neg(_)
                | Term::Call(..)
                | Term::Min(..)
                | Term::Max(..)
                | Term::If(..) => {}
            }
        }
        if known.is_empty() {
            return facts;
        }
        loop {
            let before = facts.len();
            for (number, fact) in self.base.context.facts.iter().enumerate() {
                let Cond::Compare(relation, a, b) = fact else { continue };
                let zero = |id: &TermId| terms.as_number(*id).is_some_and(Rational::is_zero);
                if *relation == Relation::Equal || !(zero(a) || zero(b)) || facts.contains(&number) {
                    continue;
                }
                let own: BTreeSet<TermId> = [*a, *b].into_iter().flat_map(|s| self.variables_of(s)).collect();
                if own.is_empty() || !own.is_disjoint(&known) {
                    facts.insert(number);
                    known.extend(own);
                }
            }
            if facts.len() == before {
                return facts;
            }
        }
    }

    fn variables_of(&self, id: TermId) -> Vec<TermId> {
        let mut reach = Reach::of(&self.store.terms, std::iter::empty());
        reach.add(&self.store.terms, id);
        let variable = |id: &TermId| matches!(self.store.terms.get(*id), Term::Var(_));
        reach.terms().iter().copied().filter(variable).collect()
    }
}

fn ordered(a: TermId, b: TermId) -> (TermId, TermId) {
    (a.min(b), a.max(b))
}
