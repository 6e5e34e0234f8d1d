//! Closing one branch: cases first, then sums of facts and of products of facts.

use borewright_motion::{Function, Relation};
use borewright_number::Rational;

use super::linear;
use super::normal::{Branch, PolyFact, Sign};
use super::poly::{Mono, Poly};
use super::products::{Caps, Part, Product};
use super::prover::Prover;
use super::term::{Cond, Term, TermId};
use crate::certificate::{Factor, Proof, Term as Summand};

/// Branches nested deeper than this are given up.
const DEEPEST: usize = 24;

/// How far products go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Level {
    /// Facts alone.
    Linear,
    /// The negated claim times each fact.
    Goal,
    /// Products of two facts.
    Pairs,
    /// Products of three.
    Triples,
}

impl Prover {
    /// Closes a branch whose facts from number `from` on are the negated claim and what was assumed after it.
    pub(super) fn close(&mut self, mut branch: Branch, from: usize, depth: usize) -> Option<Proof> {
        if depth > DEEPEST || !self.spend(1) {
            return None;
        }
        if let Some(proof) = self.close_quickly(&mut branch, from) {
            return Some(proof);
        }
        if let Some(fact) = open_disjunction(&branch, from) {
            return self.close_cases(&branch, fact, from, depth);
        }
        if let Some(condition) = self.open_choice(&branch, from) {
            return self.close_split(&branch, &condition, from, depth);
        }
        if let Some((a, b)) = open_inequation(&branch, from) {
            let less = Cond::Compare(Relation::Less, a, b);
            if let Some(proof) = self.close_split(&branch, &less, from, depth) {
                return Some(proof);
            }
        }
        [Level::Goal, Level::Pairs, Level::Triples]
            .into_iter()
            .find_map(|level| self.combine(&mut branch, from, level))
    }

    /// What takes next to no time.
    pub(super) fn close_quickly(&mut self, branch: &mut Branch, from: usize) -> Option<Proof> {
        if let Some(fact) = branch.context.facts.iter().position(|f| *f == Cond::False) {
            return Some(Proof::Evaluate { fact });
        }
        self.combine(branch, from, Level::Linear)
    }

    fn close_cases(&mut self, branch: &Branch, fact: usize, from: usize, depth: usize) -> Option<Proof> {
        let Some(Cond::Or(parts)) = branch.context.facts.get(fact).cloned() else { return None };
        let mut branches = Vec::new();
        for part in &parts {
            let mut next = branch.clone();
            next.assume(&self.store, part);
            branches.push(self.close(next, from, depth + 1)?);
        }
        Some(Proof::Cases { fact, branches })
    }

    pub(super) fn close_split(
        &mut self,
        branch: &Branch,
        condition: &Cond,
        from: usize,
        depth: usize,
    ) -> Option<Proof> {
        let mut sides = Vec::new();
        for side in [condition.clone(), condition.negated()] {
            let mut next = branch.clone();
            next.assume(&self.store, &side);
            sides.push(self.close(next, from, depth + 1)?);
        }
        let (fails, holds) = (sides.pop()?, sides.pop()?);
        let condition = self.store.terms.export_condition(condition);
        Some(Proof::Split { condition, holds: Box::new(holds), fails: Box::new(fails) })
    }

    /// The condition of the innermost `min`, `max`, `abs` or `if` that the facts leave open.
    fn open_choice(&mut self, branch: &Branch, from: usize) -> Option<Cond> {
        let zero = self.store.terms.number(Rational::ZERO);
        let mut reach = vec![false; self.store.terms.len()];
        let facts = &branch.context.facts;
        for fact in facts.iter().skip(from).chain(facts.iter().take(from)) {
            let mut best = None;
            fact.comparisons(&mut |_, a, b| {
                for side in [a, b] {
                    self.find_choice(branch, side, zero, &mut reach, &mut best);
                }
            });
            if best.is_some() {
                return best;
            }
        }
        None
    }

    /// Depth first, so that parts are seen before wholes.
    fn find_choice(
        &self,
        branch: &Branch,
        id: TermId,
        zero: TermId,
        reach: &mut [bool],
        best: &mut Option<Cond>,
    ) {
        match reach.get_mut(id.0 as usize) {
            Some(seen) if !*seen => *seen = true,
            _ => return,
        }
        if let Term::If(c, _, _) = self.store.terms.get(id) {
            c.comparisons(&mut |_, a, b| {
                self.find_choice(branch, a, zero, reach, best);
                self.find_choice(branch, b, zero, reach, best);
            });
        }
        for part in self.store.terms.parts(id).into_iter().flatten() {
            self.find_choice(branch, part, zero, reach, best);
        }
        if best.is_some() {
            return;
        }
        let open = |condition: Cond| branch.context.decides(&condition).is_none().then_some(condition);
        *best = match self.store.terms.get(id) {
            Term::Min(a, b) | Term::Max(a, b) => open(Cond::Compare(Relation::LessEqual, *a, *b)),
            Term::Call(Function::Abs, a) => open(Cond::Compare(Relation::GreaterEqual, *a, zero)),
            Term::If(c, _, _) => open((**c).clone()).and_then(|c| first_open(branch, &c)),
            Term::Number(_)
            | Term::Pi
            | Term::Var(_)
            | Term::Add(..)
            | Term::Sub(..)
            | Term::Mul(..)
            | Term::Div(..)
            | Term::Neg(_)
            | Term::Call(..) => None,
        };
    }

    /// All comparison facts as polynomials, by number.
    fn poly_facts(&mut self, branch: &mut Branch) -> Vec<(usize, PolyFact)> {
        let mut found = Vec::new();
        for (number, fact) in branch.context.facts.clone().into_iter().enumerate() {
            let Cond::Compare(relation, a, b) = fact else { continue };
            if let Some(poly) = branch.poly_fact(&mut self.store, relation, a, b) {
                found.push((number, poly));
            }
        }
        found
    }

    /// Looks for a contradictory sum of facts and products.
    pub(super) fn combine(&mut self, branch: &mut Branch, from: usize, level: Level) -> Option<Proof> {
        let facts = self.poly_facts(branch);
        if let Some(proof) = self.contradictory_fact(&facts) {
            return Some(proof);
        }
        let singles: Vec<Product> = facts
            .iter()
            .filter(|(_, f)| f.sign != Sign::NotZero && f.poly.as_constant().is_none())
            .map(|(number, f)| Product::fact(*number, f))
            .collect();
        let mut products = vec![Product::one()];
        products.extend(singles.iter().cloned());
        let goal = |p: &Product| p.parts.iter().any(|part| matches!(part, Part::Fact(n) if *n >= from));
        let caps = Caps::of(
            singles.iter().filter(|p| level <= Level::Goal || goal(p)).map(|p| &p.column.poly),
            usize::from(level == Level::Goal),
        );
        let mut pairs = Vec::new();
        if level >= Level::Goal {
            for (i, a) in singles.iter().enumerate() {
                for b in singles.iter().skip(i) {
                    let wanted = level > Level::Goal || goal(a) || goal(b);
                    if wanted && let Some(pair) = a.times(&self.store, b) {
                        self.spend(1);
                        pairs.push(pair);
                    }
                }
            }
        }
        for hint in self.hints.clone().into_iter().filter(|_| level >= Level::Pairs) {
            let normal = branch.normal(&mut self.store, hint)?;
            pairs.extend(Product::square(&self.store, &normal.num));
        }
        if level >= Level::Triples {
            let mut triples = Vec::new();
            for pair in pairs.iter().take(200) {
                for single in &singles {
                    if let Some(triple) = pair.times(&self.store, single)
                        && caps.allow(&triple.column.poly)
                    {
                        self.spend(1);
                        triples.push(triple);
                    }
                }
            }
            products.extend(triples);
        }
        products.extend(pairs);
        self.close_sum(&products)
    }

    /// Runs the linear program over the columns.
    fn close_sum(&mut self, products: &[Product]) -> Option<Proof> {
        let columns: Vec<linear::Column> = products.iter().map(|p| p.column.clone()).collect();
        self.spend(1 + columns.len() as u64 / 16);
        let scale = |mono: &Mono| self.mono_scale(mono);
        let found = linear::combine(&columns, &scale)?;
        let mut sum = Vec::new();
        for (j, value) in found {
            let product = products.get(j)?;
            sum.push(Summand { scale: value, factors: self.factors(&product.parts) });
        }
        Some(Proof::Combine(sum))
    }

    fn mono_scale(&self, mono: &Mono) -> f64 {
        mono.0.iter().map(|atom| self.atom_scale(*atom)).product()
    }

    fn atom_scale(&self, atom: u16) -> f64 {
        let Some(term) = self.store.algebra.term_of(atom) else { return 1.0 };
        let Some(range) = self.base.context.bounds.get(&term) else { return 1.0 };
        let size = range.lo.abs().max(range.hi.abs());
        if size.is_finite() && size > 0.0 { size } else { 1.0 }
    }

    fn factors(&mut self, parts: &[Part]) -> Vec<Factor> {
        parts
            .iter()
            .map(|part| match part {
                Part::Fact(number) => Factor::Fact(*number),
                Part::Square(poly) => Factor::Square(self.export_poly(poly)),
                Part::Any(poly) => Factor::Any(self.export_poly(poly)),
            })
            .collect()
    }

    /// A fact that is a number of the wrong sign: `0 > 0`, `-1 >= 0`, `0 != 0`, `3 == 0`.
    fn contradictory_fact(&mut self, facts: &[(usize, PolyFact)]) -> Option<Proof> {
        let (number, value, sign) = facts.iter().find_map(|(number, fact)| {
            let value = fact.poly.as_constant()?;
            let wrong = match fact.sign {
                Sign::NotNegative => value.signum() < 0,
                Sign::Positive => value.signum() <= 0,
                Sign::Zero => !value.is_zero(),
                Sign::NotZero => value.is_zero(),
            };
            wrong.then_some((*number, value, fact.sign))
        })?;
        let factors = vec![Factor::Fact(number)];
        let mut sum = vec![];
        if value.is_zero() {
            sum.push(Summand { scale: Rational::ONE, factors });
        } else {
            let scale = if sign == Sign::Zero { -value.recip()? } else { value.abs().recip()? };
            sum.push(Summand { scale, factors });
            sum.push(Summand { scale: Rational::ONE, factors: Vec::new() });
        }
        Some(Proof::Combine(sum))
    }

    /// The polynomial as an expression.
    pub(super) fn export_poly(&mut self, poly: &Poly) -> borewright_motion::Expr {
        let term = self.poly_term(poly);
        self.store.terms.export(term)
    }

    pub(super) fn poly_term(&mut self, poly: &Poly) -> TermId {
        let mut sum = None;
        for (mono, c) in &poly.0 {
            let mut product = self.store.terms.number(c.clone());
            for atom in &mono.0 {
                let Some(term) = self.store.algebra.term_of(*atom) else { continue };
                product = self.store.terms.intern(Term::Mul(product, term));
            }
            sum = Some(match sum {
                None => product,
                Some(before) => self.store.terms.intern(Term::Add(before, product)),
            });
        }
        sum.unwrap_or_else(|| self.store.terms.number(Rational::ZERO))
    }
}

/// An `or` that the facts don't settle; those of the claim first.
fn open_disjunction(branch: &Branch, from: usize) -> Option<usize> {
    let facts = &branch.context.facts;
    let open = |(_, f): &(usize, &Cond)| matches!(f, Cond::Or(_)) && branch.context.decides(f) != Some(true);
    let numbered = || facts.iter().enumerate();
    numbered().skip(from).find(open).or_else(|| numbered().take(from).find(open)).map(|(i, _)| i)
}

/// A `!=` of the claim whose sides are not yet ordered.
fn open_inequation(branch: &Branch, from: usize) -> Option<(TermId, TermId)> {
    branch.context.facts.iter().skip(from).find_map(|fact| match fact {
        Cond::Compare(Relation::NotEqual, a, b) if branch.context.orders(*a, *b).sign().is_none() => {
            Some((*a, *b))
        }
        Cond::Compare(..) | Cond::True | Cond::False | Cond::And(_) | Cond::Or(_) => None,
    })
}

/// The first comparison in a condition that the facts leave open.
fn first_open(branch: &Branch, condition: &Cond) -> Option<Cond> {
    let mut found = None;
    condition.comparisons(&mut |relation, a, b| {
        let comparison = Cond::Compare(relation, a, b);
        if found.is_none() && branch.context.decides(&comparison).is_none() {
            found = Some(comparison);
        }
    });
    found
}

/// The numbers of the facts that a proof names.
pub(super) fn facts_of(proof: &Proof, found: &mut Vec<usize>) {
    match proof {
        Proof::Split { holds, fails, .. } => {
            facts_of(holds, found);
            facts_of(fails, found);
        }
        Proof::Cases { fact, branches } => {
            found.push(*fact);
            branches.iter().for_each(|branch| facts_of(branch, found));
        }
        Proof::Axiom { then, .. } => facts_of(then, found),
        Proof::Combine(terms) => {
            for factor in terms.iter().flat_map(|term| &term.factors) {
                if let Factor::Fact(number) = factor {
                    found.push(*number);
                }
            }
        }
        Proof::Evaluate { fact } => found.push(*fact),
    }
}
