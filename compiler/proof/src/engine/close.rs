//! Closing one branch: cases first, then sums of facts and of products of facts.

use borewright_motion::{Function, Relation};
use borewright_number::Rational;

use super::boxes::{Boxed, Reach};
use super::normal::Branch;
use super::prover::Prover;
use super::sums::{LEVELS, Level};
use super::term::{Cond, Term, TermId};
use crate::certificate::{Axiom, Proof};

/// Branches nested deeper than this are given up.
const DEEPEST: usize = 24;

/// Whole variables of wider ranges are not tried value by value.
const MOST_VALUES: f64 = 64.0;

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
        if let Some(fact) = self.open_gap(&branch, from) {
            return self.close_gap(branch, fact, from, depth);
        }
        if let Some(side) = open_inequation(&branch, from) {
            return self.close_split(&branch, &side, from, depth);
        }
        if let Some((quotient, fails)) = self.cancel(&mut branch, from) {
            branch.assume(&self.store, &quotient);
            let holds = Box::new(self.close(branch, from, depth + 1)?);
            let condition = self.store.terms.export_condition(&quotient);
            return Some(Proof::Split { condition, holds, fails: Box::new(fails) });
        }
        if let Some(variable) = self.small_count(&branch, from) {
            return self.unroll(branch, variable, from, depth);
        }
        let top = self.top;
        LEVELS.into_iter().filter(|l| *l <= top).find_map(|level| self.combine(&mut branch, from, level))
    }

    /// What takes next to no time.
    pub(super) fn close_quickly(&mut self, branch: &mut Branch, from: usize) -> Option<Proof> {
        if let Some(fact) = branch.context.facts.iter().position(|f| *f == Cond::False) {
            return Some(Proof::Evaluate { fact });
        }
        if let Some(fact) = self.false_by_intervals(branch, from) {
            return Some(Proof::Evaluate { fact });
        }
        self.combine(branch, from, Level::Linear)
    }

    /// A fact of the claim that can't hold for interval reasons.
    fn false_by_intervals(&self, branch: &Branch, from: usize) -> Option<usize> {
        let terms = &self.store.terms;
        let mut claims = branch.context.facts.iter().enumerate().skip(from);
        let wrong = claims.find(|(_, fact)| {
            let Cond::Compare(..) = fact else { return false };
            let reach = Reach::of_values(terms, fact);
            Boxed::new(terms, &reach, &branch.context).is_none_or(|boxed| boxed.decides(fact) == Some(false))
        });
        wrong.map(|(number, _)| number)
    }

    fn close_cases(&mut self, branch: &Branch, fact: usize, from: usize, depth: usize) -> Option<Proof> {
        let Some(Cond::Or(parts)) = branch.context.facts.get(fact).cloned() else { return None };
        let mut branches = Vec::new();
        for part in &parts {
            let mut next = branch.clone();
            next.context.opened.insert(fact);
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

    /// A strict fact of the claim between whole values that is not yet one of a difference of at least 1.
    fn open_gap(&mut self, branch: &Branch, from: usize) -> Option<usize> {
        (from..branch.context.facts.len()).find(|number| {
            let gap = branch.context.facts.get(*number).and_then(|fact| self.whole_gap(fact));
            gap.is_some_and(|gap| branch.context.decides(&gap) != Some(true))
        })
    }

    /// Of `a > b` between whole values: `a >= b + 1`.
    pub(super) fn whole_gap(&mut self, fact: &Cond) -> Option<Cond> {
        let (a, b) = match fact {
            Cond::Compare(Relation::Greater, a, b) => (*a, *b),
            Cond::Compare(Relation::Less, a, b) => (*b, *a),
            Cond::True | Cond::False | Cond::And(_) | Cond::Or(_) | Cond::Compare(..) => return None,
        };
        if !self.store.terms.is_whole(a) || !self.store.terms.is_whole(b) {
            return None;
        }
        let next = match self.store.terms.as_number(b).cloned() {
            Some(value) => self.store.terms.number(value + Rational::ONE),
            None => {
                let one = self.store.terms.number(Rational::ONE);
                self.store.terms.intern(Term::Add(b, one))
            }
        };
        Some(Cond::Compare(Relation::GreaterEqual, a, next))
    }

    fn close_gap(&mut self, mut branch: Branch, fact: usize, from: usize, depth: usize) -> Option<Proof> {
        let gap = branch.context.facts.get(fact).cloned()?;
        let gap = self.whole_gap(&gap)?;
        branch.assume(&self.store, &gap);
        let then = Box::new(self.close(branch, from, depth + 1)?);
        Some(Proof::Axiom { axiom: Axiom::Whole(fact), then })
    }

    /// A whole variable with few values that stands within a function of the claim.
    fn small_count(&self, branch: &Branch, from: usize) -> Option<TermId> {
        let claims = branch.context.facts.iter().skip(from);
        let reach = Reach::of(&self.store.terms, claims);
        let mut inside = Reach::of(&self.store.terms, std::iter::empty());
        for id in reach.terms() {
            if let Term::Call(Function::Sin | Function::Cos | Function::Tan, a) = self.store.terms.get(*id) {
                inside.add(&self.store.terms, *a);
            }
        }
        inside.terms().iter().copied().find(|id| {
            let Term::Var(variable) = self.store.terms.get(*id) else { return false };
            let range = branch.context.bounds.get(id);
            self.store.terms.var(*variable).is_some_and(|v| v.whole)
                && range.is_some_and(|r| r.width() > 0.0 && r.width() <= MOST_VALUES)
        })
    }

    /// Closes the branch for the smallest value, and for the greater ones.
    fn unroll(&mut self, branch: Branch, variable: TermId, from: usize, depth: usize) -> Option<Proof> {
        let least = Rational::from_f64(branch.context.bounds.get(&variable)?.lo.ceil())?;
        let number = self.store.terms.number(least.clone());
        let first = Cond::Compare(Relation::LessEqual, variable, number);
        let mut low = branch.clone();
        low.assume(&self.store, &first);
        let holds = self.close_one_value(low, variable, &least, from, depth)?;
        let mut high = branch;
        high.assume(&self.store, &first.negated());
        let axiom = Axiom::Whole(high.context.facts.len().checked_sub(1)?);
        let next = self.store.terms.number(least + Rational::ONE);
        high.assume(&self.store, &Cond::Compare(Relation::GreaterEqual, variable, next));
        // Going on to the next value is no deeper nesting of cases.
        let then = Box::new(self.close(high, from, depth)?);
        let fails = Box::new(Proof::Axiom { axiom, then });
        let condition = self.store.terms.export_condition(&first);
        Some(Proof::Split { condition, holds: Box::new(holds), fails })
    }

    /// The variable is at most `least`, and at least that. Bounds of the sines of what it fixes are stated.
    fn close_one_value(
        &mut self,
        mut branch: Branch,
        variable: TermId,
        least: &Rational,
        from: usize,
        depth: usize,
    ) -> Option<Proof> {
        let number = self.store.terms.number(least.clone());
        let exact = Cond::Compare(Relation::GreaterEqual, variable, number);
        let mut known = Vec::new();
        if branch.context.decides(&exact) != Some(true) {
            return None;
        }
        for (condition, proof) in self.constant_bounds(&branch, from) {
            branch.assume(&self.store, &condition);
            known.push((condition, proof));
        }
        let mut proof = self.close(branch, from, depth + 1)?;
        for (condition, fails) in known.into_iter().rev() {
            let condition = self.store.terms.export_condition(&condition);
            proof = Proof::Split { condition, holds: Box::new(proof), fails: Box::new(fails) };
        }
        Some(proof)
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
}

/// An `or` that the facts don't settle; those of the claim first.
fn open_disjunction(branch: &Branch, from: usize) -> Option<usize> {
    let facts = &branch.context.facts;
    let open = |(number, fact): &(usize, &Cond)| {
        matches!(fact, Cond::Or(_))
            && !branch.context.opened.contains(number)
            && branch.context.decides(fact) != Some(true)
    };
    let numbered = || facts.iter().enumerate();
    numbered().skip(from).find(open).or_else(|| numbered().take(from).find(open)).map(|(i, _)| i)
}

/// A side of a `!=` of the claim that no strict fact settles yet.
fn open_inequation(branch: &Branch, from: usize) -> Option<Cond> {
    let facts = &branch.context.facts;
    for fact in facts.iter().skip(from) {
        let Cond::Compare(Relation::NotEqual, a, b) = fact else { continue };
        let less = Cond::Compare(Relation::Less, *a, *b);
        let greater = Cond::Compare(Relation::Greater, *a, *b);
        if facts.contains(&less) || facts.contains(&greater) {
            continue;
        }
        match (facts.contains(&less.negated()), facts.contains(&greater.negated())) {
            (true, true) => {}
            (true, false) => return Some(greater),
            (false, _) => return Some(less),
        }
    }
    None
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
