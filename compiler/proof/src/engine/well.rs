//! When an expression is well defined: no divisor is 0, no root's argument is negative, ...

use borewright_motion::{Function, Relation};
use borewright_number::Rational;
use rustc_hash::FxHashMap;

use super::term::{Cond, Term, TermId, Terms};

/// Computes well-definedness, each shared term once.
#[derive(Debug, Default)]
pub(super) struct Well {
    memo: FxHashMap<TermId, Cond>,
}

impl Well {
    /// The condition under which `condition` is well defined; later parts of `and` and `or` only where the
    /// earlier ones leave it open.
    pub(super) fn condition(&mut self, terms: &mut Terms, condition: &Cond) -> Cond {
        match condition {
            Cond::True | Cond::False => Cond::True,
            Cond::Compare(_, a, b) => Cond::all([self.term(terms, *a), self.term(terms, *b)]),
            Cond::And(parts) => self.parts(terms, parts, true),
            Cond::Or(parts) => self.parts(terms, parts, false),
        }
    }

    fn parts(&mut self, terms: &mut Terms, parts: &[Cond], all: bool) -> Cond {
        let mut result = Cond::True;
        for part in parts.iter().rev() {
            let settled = if all { part.negated() } else { part.clone() };
            let rest = if result == Cond::True { Cond::True } else { Cond::either(settled, result) };
            result = Cond::all([self.condition(terms, part), rest]);
        }
        result
    }

    fn term(&mut self, terms: &mut Terms, id: TermId) -> Cond {
        if let Some(known) = self.memo.get(&id) {
            return known.clone();
        }
        let mut needed = Vec::new();
        match terms.get(id).clone() {
            Term::If(c, a, b) => {
                needed.push(self.condition(terms, &c));
                let (a, b) = (self.term(terms, a), self.term(terms, b));
                if a != Cond::True {
                    needed.push(Cond::either(c.negated(), a));
                }
                if b != Cond::True {
                    needed.push(Cond::either((*c).clone(), b));
                }
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
            | Term::Max(..) => {
                for part in terms.parts(id).into_iter().flatten() {
                    needed.push(self.term(terms, part));
                }
                needed.push(own(terms, id));
            }
        }
        let result = Cond::all(needed);
        self.memo.insert(id, result.clone());
        result
    }
}

/// What the topmost operation needs.
fn own(terms: &mut Terms, id: TermId) -> Cond {
    let needed = domain(terms, id);
    Cond::all(needed.into_iter().map(|(relation, a, value)| compare(terms, relation, a, value)))
}

/// How the parts of the topmost operation must stand to numbers for it to have a value.
pub(super) fn domain(terms: &mut Terms, id: TermId) -> Vec<(Relation, TermId, Rational)> {
    match *terms.get(id) {
        Term::Div(_, b) => vec![(Relation::NotEqual, b, Rational::ZERO)],
        Term::Call(Function::Sqrt, a) => vec![(Relation::GreaterEqual, a, Rational::ZERO)],
        Term::Call(Function::Tan, a) => {
            let cosine = terms.intern(Term::Call(Function::Cos, a));
            vec![(Relation::NotEqual, cosine, Rational::ZERO)]
        }
        Term::Call(Function::Acos, a) => {
            vec![(Relation::GreaterEqual, a, Rational::from(-1)), (Relation::LessEqual, a, Rational::ONE)]
        }
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
        | Term::If(..) => Vec::new(),
    }
}

/// Decided at once between numbers.
fn compare(terms: &mut Terms, relation: Relation, a: TermId, value: Rational) -> Cond {
    if matches!(terms.get(a), Term::Pi) && value.is_zero() {
        return if relation.holds(std::cmp::Ordering::Greater) { Cond::True } else { Cond::False };
    }
    match terms.as_number(a) {
        Some(number) if relation.holds(number.cmp(&value)) => Cond::True,
        Some(_) => Cond::False,
        None => {
            let b = terms.number(value);
            Cond::Compare(relation, a, b)
        }
    }
}
