//! Facts about functions that the sums and products need: axioms, and lemmas that are proved like anything else.

use borewright_motion::{Function, Relation};
use borewright_number::{Rational, Rounding};

use super::boxes::{Reach, range};
use super::normal::Branch;
use super::poly::{Atom, Mono, Poly};
use super::prover::Prover;
use super::term::{Cond, Term, TermId};
use crate::certificate::{Axiom, Proof, Step};

impl Prover {
    /// All lemmas that the facts and the goal call for.
    pub(super) fn add_lemmas(&mut self) {
        self.add_axioms();
        self.add_gaps();
        self.bound_constants();
        self.bound_angles();
        self.bound_factors();
    }

    /// Axioms about the roots and roundings that occur.
    fn add_axioms(&mut self) {
        let mut index = 0;
        while index < self.store.terms.len() {
            let id = TermId(u32::try_from(index).unwrap_or(u32::MAX));
            index += 1;
            match self.store.terms.get(id).clone() {
                Term::Call(Function::Sqrt, a) => self.root_axiom(id, a),
                Term::Call(function @ (Function::Ceil | Function::Floor), a) => {
                    self.rounding_axiom(id, function, a);
                }
                Term::Number(_)
                | Term::Pi
                | Term::Var(_)
                | Term::Add(..)
                | Term::Sub(..)
                | Term::Mul(..)
                | Term::Div(..)
                | Term::Neg(_)
                | Term::Call(..)
                | Term::Min(..)
                | Term::Max(..)
                | Term::If(..) => {}
            }
        }
    }

    /// Axioms about the roundings in a condition.
    pub(super) fn add_roundings(&mut self, condition: &Cond) {
        let reach = Reach::of(&self.store.terms, std::iter::once(condition));
        for id in reach.terms() {
            if let Term::Call(function @ (Function::Ceil | Function::Floor), a) = *self.store.terms.get(*id) {
                self.rounding_axiom(*id, function, a);
            }
        }
    }

    /// Of strict facts between whole values: they differ by 1 at least.
    fn add_gaps(&mut self) {
        for number in 0..self.base.context.facts.len() {
            let Some(fact) = self.base.context.facts.get(number).cloned() else { continue };
            let Some(gap) = self.whole_gap(&fact) else { continue };
            if self.base.context.decides(&gap) != Some(true) {
                let sources = self.sources.get(number).cloned().unwrap_or_default();
                self.steps.push(Step::Axiom(Axiom::Whole(number)));
                self.add_to_base(&gap, sources);
            }
        }
    }

    fn root_axiom(&mut self, id: TermId, a: TermId) {
        if self.base.against_zero(&mut self.store, a, Relation::GreaterEqual) != Some(true) {
            return;
        }
        let zero = self.store.terms.number(Rational::ZERO);
        let square = self.store.terms.intern(Term::Mul(id, id));
        let conclusion = Cond::And(vec![
            Cond::Compare(Relation::GreaterEqual, id, zero),
            Cond::Compare(Relation::Equal, square, a),
        ]);
        let expr = self.store.terms.export(id);
        let sources = self.sources_of(&[(a, zero)]);
        self.steps.push(Step::Axiom(Axiom::Root(expr)));
        self.add_to_base(&conclusion, sources);
        self.root_bounds(id, a);
    }

    fn rounding_axiom(&mut self, id: TermId, function: Function, a: TermId) {
        let up = function == Function::Ceil;
        let one = self.store.terms.number(Rational::ONE);
        let far = self.store.terms.intern(if up { Term::Add(a, one) } else { Term::Sub(a, one) });
        let (near, away) = if up {
            (Relation::GreaterEqual, Relation::Less)
        } else {
            (Relation::LessEqual, Relation::Greater)
        };
        let conclusion = Cond::And(vec![Cond::Compare(near, id, a), Cond::Compare(away, id, far)]);
        if self.base.context.decides(&conclusion) == Some(true) {
            return;
        }
        let expr = self.store.terms.export(id);
        self.steps.push(Step::Axiom(Axiom::Rounding(expr)));
        self.add_to_base(&conclusion, Vec::new());
    }

    /// Of `w = sqrt(a * a + b * b)`: `w >= a`, `w >= -a`, the same for b; of a positive root, a positive argument.
    fn root_bounds(&mut self, root: TermId, argument: TermId) {
        let zero = self.store.terms.number(Rational::ZERO);
        let positive = Cond::Compare(Relation::Greater, root, zero);
        if self.base.context.decides(&positive) == Some(true) {
            let claim = Cond::Compare(Relation::Greater, argument, zero);
            let mut branch = self.base.clone();
            let from = branch.context.facts.len();
            branch.assume(&self.store, &claim.negated());
            if let Some(proof) = self.close_by_product(&mut branch, from, &[positive.clone(), positive]) {
                self.push_proof(&claim, proof);
            }
        }
        let mut sides = Vec::new();
        self.squared_summands(argument, &mut sides);
        if sides.len() < 2 {
            return;
        }
        for side in sides {
            self.know(&Cond::Compare(Relation::GreaterEqual, root, side));
            let negative = self.store.terms.intern(Term::Neg(side));
            self.know(&Cond::Compare(Relation::GreaterEqual, root, negative));
        }
    }

    /// The a and b of `a * a + b * b`; nothing if any summand is no square.
    pub(super) fn squared_summands(&self, term: TermId, found: &mut Vec<TermId>) -> bool {
        let all = match self.store.terms.get(term) {
            Term::Add(a, b) => self.squared_summands(*a, found) && self.squared_summands(*b, found),
            Term::Mul(a, b) if a == b => {
                found.push(*a);
                true
            }
            Term::Number(_)
            | Term::Pi
            | Term::Var(_)
            | Term::Sub(..)
            | Term::Mul(..)
            | Term::Div(..)
            | Term::Neg(_)
            | Term::Call(..)
            | Term::Min(..)
            | Term::Max(..)
            | Term::If(..) => false,
        };
        if !all {
            found.clear();
        }
        all
    }

    /// Bounds for each product of constants (pi, sin 4deg, sqrt 2, ...) that is a coefficient somewhere.
    fn bound_constants(&mut self) {
        let mut branch = self.base.clone();
        let mut comparisons = Vec::new();
        for condition in self.hypotheses.iter().chain([&self.goal]) {
            condition.comparisons(&mut |relation, a, b| comparisons.push((relation, a, b)));
        }
        let facts: Vec<_> = comparisons
            .into_iter()
            .filter_map(|(relation, a, b)| branch.poly_fact(&mut self.store, relation, a, b))
            .collect();
        let mut constants: Vec<Mono> = Vec::new();
        for mono in facts.iter().flat_map(|fact| fact.poly.0.keys()) {
            let atoms = mono.0.iter().copied().filter(|a| self.is_constant(*a));
            let constant = Mono::of(atoms);
            if !constant.0.is_empty() && !constants.contains(&constant) {
                constants.push(constant);
            }
        }
        for constant in constants {
            let term = self.poly_term(&Poly::monomial(constant));
            self.bound_term(term, -f64::INFINITY, f64::INFINITY);
        }
    }

    /// Bounds of a term by intervals, as facts, where they are within `least` and `most`.
    fn bound_term(&mut self, term: TermId, least: f64, most: f64) {
        let Some(range) = range(&self.store.terms, term, &self.base.context) else { return };
        for (end, relation, rounding) in [
            (range.lo, Relation::GreaterEqual, Rounding::Down),
            (range.hi, Relation::LessEqual, Rounding::Up),
        ] {
            if end > least
                && end < most
                && let Some(exact) = Rational::from_f64(end)
            {
                let bound = self.store.terms.number(exact.rounded(12, rounding));
                self.know(&Cond::Compare(relation, term, bound));
            }
        }
    }

    /// Bounds of the constants that are coefficients in the claim's facts, with the proof that each holds.
    pub(super) fn constant_bounds(&mut self, branch: &Branch, from: usize) -> Vec<(Cond, Proof)> {
        let mut work = branch.clone();
        let facts = work.poly_facts(&mut self.store);
        let mut constants: Vec<TermId> = Vec::new();
        for mono in facts.iter().skip(from).flatten().flat_map(|fact| fact.poly.0.keys()) {
            let atoms = mono.0.iter().copied().filter(|a| self.is_constant(*a));
            let constant = Mono::of(atoms);
            if !constant.0.is_empty() {
                constants.push(self.poly_term(&Poly::monomial(constant)));
            }
        }
        constants.sort_unstable();
        constants.dedup();
        let mut found = Vec::new();
        for term in constants {
            let Some(range) = range(&self.store.terms, term, &work.context) else { continue };
            for (end, relation, rounding) in [
                (range.lo, Relation::GreaterEqual, Rounding::Down),
                (range.hi, Relation::LessEqual, Rounding::Up),
            ] {
                let Some(exact) = Rational::from_f64(end) else { continue };
                let bound = self.store.terms.number(exact.rounded(12, rounding));
                let condition = Cond::Compare(relation, term, bound);
                let mut fails = work.clone();
                let claim = fails.context.facts.len();
                fails.assume(&self.store, &condition.negated());
                if let Some(proof) = self.close_quickly(&mut fails, claim) {
                    work.assume(&self.store, &condition);
                    found.push((condition, proof));
                }
            }
        }
        found
    }

    /// For the sines and cosines of variable angles that occur: bounds from the angle's range, and in 0..=90
    /// degrees how they compare with the angle.
    fn bound_angles(&mut self) {
        let mut angles = Vec::new();
        for index in 0..self.store.terms.len() {
            let id = TermId(u32::try_from(index).unwrap_or(u32::MAX));
            if let Term::Call(Function::Sin | Function::Cos | Function::Tan, a) = self.store.terms.get(id)
                && self.store.terms.as_number(*a).is_none()
                && !angles.contains(a)
            {
                angles.push(*a);
            }
        }
        for angle in angles {
            let sine = self.store.terms.intern(Term::Call(Function::Sin, angle));
            let cosine = self.store.terms.intern(Term::Call(Function::Cos, angle));
            self.bound_term(sine, -1.0, 1.0);
            self.bound_term(cosine, -1.0, 1.0);
            self.angle_axiom(angle, sine, cosine);
        }
    }

    fn angle_axiom(&mut self, angle: TermId, sine: TermId, cosine: TermId) {
        let zero = self.store.terms.number(Rational::ZERO);
        let right = self.store.terms.number(Rational::from(90));
        if !self.know(&Cond::Compare(Relation::GreaterEqual, angle, zero))
            || !self.know(&Cond::Compare(Relation::LessEqual, angle, right))
        {
            return;
        }
        let terms = &mut self.store.terms;
        let pi = terms.intern(Term::Pi);
        let half_turn = terms.number(Rational::from(180));
        let product = terms.intern(Term::Mul(angle, pi));
        let radians = terms.intern(Term::Div(product, half_turn));
        let scaled = terms.intern(Term::Mul(radians, cosine));
        let two = terms.number(Rational::from(2));
        let chord = terms.intern(Term::Mul(two, radians));
        let stretched = terms.intern(Term::Mul(pi, sine));
        let conclusion = Cond::And(vec![
            Cond::Compare(Relation::LessEqual, sine, radians),
            Cond::Compare(Relation::GreaterEqual, sine, scaled),
            Cond::Compare(Relation::GreaterEqual, stretched, chord),
            Cond::Compare(Relation::GreaterEqual, sine, zero),
            Cond::Compare(Relation::GreaterEqual, cosine, zero),
        ]);
        let expr = self.store.terms.export(angle);
        let sources = self.sources_of(&[(angle, zero), (angle, right)]);
        self.steps.push(Step::Axiom(Axiom::Angle(expr)));
        self.add_to_base(&conclusion, sources);
    }

    /// Whether no variable occurs in the atom.
    fn is_constant(&self, atom: Atom) -> bool {
        let Some(term) = self.store.algebra.term_of(atom) else { return false };
        let mut reach = Reach::of(&self.store.terms, std::iter::empty());
        reach.add(&self.store.terms, term);
        reach.terms().iter().all(|id| !matches!(self.store.terms.get(*id), Term::Var(_)))
    }
}
