//! Whole values: those that are their own floor.

use borewright_motion::{Function, Relation};
use borewright_number::Rational;

use super::lines::{End, Label, Line, summand};
use super::{Spelling, Term, TermId};
use crate::engine::term::Cond;

impl Spelling {
    /// Assumes what the formula says of its whole variables.
    pub(super) fn assume_whole(&mut self) -> Option<()> {
        let variables: Vec<TermId> = self.store.terms.variables().collect();
        for variable in variables {
            if self.store.terms.is_whole(variable) {
                let claim = self.is_whole(variable);
                let label = self.label(0, &claim);
                self.push(Line::Plain("assume".to_owned(), vec![label]))?;
                self.frames.last_mut()?.known.insert(claim, label);
            }
        }
        Some(())
    }

    /// `floor a = a`
    fn is_whole(&mut self, a: TermId) -> String {
        let floor = self.store.terms.intern(Term::Call(Function::Floor, a));
        self.equation(floor, a)
    }

    /// The fact that a term is whole; `None` where its form does not say so.
    pub(super) fn whole(&mut self, id: TermId) -> Option<Label> {
        let claim = self.is_whole(id);
        if let Some(known) = self.known(&claim) {
            return Some(known);
        }
        let terms = &mut self.store.terms;
        match terms.get(id).clone() {
            Term::Number(value) => value.is_whole().then(|| self.lemma(&claim, &[], End::Evaluate)),
            Term::Neg(a) => {
                let zero = terms.number(Rational::ZERO);
                self.whole_sum(&claim, zero, a)
            }
            Term::Add(a, b) | Term::Sub(a, b) | Term::Mul(a, b) => self.whole_sum(&claim, a, b),
            Term::Min(a, b) | Term::Max(a, b) => self.whole_choice(&claim, &Cond::True, a, b),
            Term::If(c, a, b) => self.whole_choice(&claim, &c, a, b),
            Term::Call(Function::Abs, a) => {
                let part = self.whole(a)?;
                let step = format!("(whole-size {})", self.term_text(a));
                self.state(step, &[part], &[claim]).first().copied()
            }
            Term::Call(Function::Ceil | Function::Floor, a) => {
                let says = [Function::Ceil, Function::Floor].map(|function| {
                    let rounded = self.store.terms.intern(Term::Call(function, a));
                    self.is_whole(rounded)
                });
                let step = format!("(rounded {})", self.term_text(a));
                self.state(step, &[], &says);
                self.known(&claim)
            }
            Term::Pi | Term::Var(_) | Term::Div(..) | Term::Call(..) => None,
        }
    }

    fn whole_sum(&mut self, claim: &str, a: TermId, b: TermId) -> Option<Label> {
        let parts = [self.whole(a)?, self.whole(b)?];
        let says = [Term::Add(a, b), Term::Sub(a, b), Term::Mul(a, b)].map(|term| {
            let whole = self.store.terms.intern(term);
            self.is_whole(whole)
        });
        let step = format!("(whole-sum {} {})", self.term_text(a), self.term_text(b));
        self.state(step, &parts, &says);
        self.known(claim).or_else(|| {
            // `-b` is written as `0 - b`.
            let [_, difference, _] = &says;
            let known = self.known(difference)?;
            self.frames.get_mut(*self.depths.get(known)?)?.known.insert(claim.to_owned(), known);
            Some(known)
        })
    }

    fn whole_choice(&mut self, claim: &str, choice: &Cond, a: TermId, b: TermId) -> Option<Label> {
        let parts = [self.whole(a)?, self.whole(b)?];
        let chosen = Term::If(choice.clone().into(), a, b);
        let says = [Term::Min(a, b), Term::Max(a, b), chosen].map(|term| {
            let whole = self.store.terms.intern(term);
            self.is_whole(whole)
        });
        let (a, b, choice) = (self.term_text(a), self.term_text(b), self.text(choice));
        self.state(format!("(whole-choice {a} {b} {choice})"), &parts, &says);
        self.known(claim)
    }

    /// Of `a > b` between whole values, the fact of that number: `a >= b + 1`, one number where b is one.
    pub(super) fn next(&mut self, fact: usize) -> Option<()> {
        let (a, b) = match self.branch.context.facts.get(fact)? {
            Cond::Compare(Relation::Greater, a, b) => (*a, *b),
            Cond::Compare(Relation::Less, a, b) => (*b, *a),
            Cond::True | Cond::False | Cond::And(_) | Cond::Or(_) | Cond::Compare(..) => return None,
        };
        self.whole(a)?;
        self.whole(b)?;
        self.ensure(&Cond::Compare(Relation::Greater, a, b))?;
        let step = format!("(next {} {})", self.term_text(a), self.term_text(b));
        let one = self.store.terms.number(Rational::ONE);
        let next = self.store.terms.intern(Term::Add(b, one));
        let gap = Cond::Compare(Relation::GreaterEqual, a, next);
        let Some(value) = self.store.terms.as_number(b).cloned() else {
            let adds = self.assume(&gap);
            return self.push(Line::Plain(step, adds));
        };
        let (depth, text) = (self.depth(), self.text(&gap));
        let gap = self.label(depth, &text);
        self.push(Line::Plain(step, vec![gap]))?;
        let next = self.store.terms.number(value + Rational::ONE);
        let condition = Cond::Compare(Relation::GreaterEqual, a, next);
        self.prove(&condition, |s| {
            let opposite = *s.facts.last()?;
            Some(End::Combine(Vec::new(), vec![summand(1, &[gap]), summand(1, &[opposite])]))
        })
    }
}
