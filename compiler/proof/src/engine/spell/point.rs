//! What holds at one point: conditions without variables, which the intervals of their terms decide.

use super::lines::End;
use super::{Spelling, Term, TermId};
use crate::engine::evaluate::Evaluator;
use crate::engine::term::Cond;

impl Spelling {
    /// Makes a condition a fact, after all that it needs to be well defined.
    pub(super) fn show_defined(&mut self, condition: &Cond) -> Option<()> {
        for need in self.needs_of(condition) {
            self.show(&need)?;
        }
        self.show(condition)
    }

    fn show(&mut self, condition: &Cond) -> Option<()> {
        let text = self.text(condition);
        if self.known(&text).is_some() {
            return Some(());
        }
        match condition {
            Cond::True => Some(()),
            Cond::False => None,
            Cond::And(parts) => parts.iter().try_for_each(|part| self.show(part)),
            Cond::Or(parts) => {
                let part = parts.iter().find(|part| self.holds(part))?;
                self.show(part)?;
                self.prove(condition, |s| s.clash(8))
            }
            Cond::Compare(_, a, b) => {
                self.choose(*a)?;
                self.choose(*b)?;
                self.prove(condition, |s| Some(End::Evaluate(*s.facts.last()?)))
            }
        }
    }

    /// A proposal: whoever evaluates the condition confirms it.
    fn holds(&self, condition: &Cond) -> bool {
        Evaluator::new(&[]).condition(&self.store.terms, condition) == Some(true)
    }

    /// Makes each `if` in a term equal to the side that is chosen.
    fn choose(&mut self, id: TermId) -> Option<()> {
        if let Term::If(choice, a, b) = self.store.terms.get(id).clone() {
            let holds = self.holds(&choice);
            let (chosen, side) = if holds { ((*choice).clone(), a) } else { (choice.negated(), b) };
            self.show(&chosen)?;
            self.chosen(id, holds)?;
            return self.choose(side);
        }
        self.store.terms.parts(id).into_iter().flatten().try_for_each(|part| self.choose(part))
    }
}
