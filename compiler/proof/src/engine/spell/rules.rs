//! The equations by which the polynomial that a term is for the checker becomes the engine's normal form.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use borewright_motion::{Function, Relation};
use borewright_number::Rational;

use super::lines::{End, Label, summand};
use super::{Spelling, Term, TermId};
use crate::engine::algebra::{FactorId, Quotient};
use crate::engine::poly::{Atom, Mono, Poly};
use crate::engine::term::Cond;

/// Equations that replace products, and how often inverses of factors are left.
#[derive(Debug, Clone, Default)]
pub(super) struct Rules {
    /// `w (1/w) = 1`: before w is put in its place.
    pub(super) inverses: BTreeSet<Label>,
    pub(super) others: BTreeSet<Label>,
    /// What names of factors stand for: last.
    pub(super) names: BTreeSet<Label>,
    /// For each factor: at most so many of its inverses are left in a product.
    pub(super) left: BTreeMap<FactorId, u32>,
}

impl Rules {
    /// In the order in which they are to be tried.
    pub(super) fn labels(&self) -> Vec<Label> {
        self.inverses.iter().chain(&self.others).chain(&self.names).copied().collect()
    }

    /// With those of another term; the inverses of a sum.
    pub(super) fn add(&mut self, other: &Self) {
        self.inverses.extend(&other.inverses);
        self.others.extend(&other.others);
        self.names.extend(&other.names);
        for (factor, k) in &other.left {
            let own = self.left.entry(*factor).or_insert(0);
            *own = (*own).max(*k);
        }
    }

    /// With those of another term; the inverses of a product.
    pub(super) fn multiply(&mut self, other: &Self) {
        let left = std::mem::take(&mut self.left);
        self.add(other);
        for (factor, k) in left {
            *self.left.entry(factor).or_insert(0) += k;
        }
    }
}

impl Spelling {
    /// The rules of a term under the facts of the branch.
    pub(super) fn rules(&mut self, id: TermId) -> Option<Rc<Rules>> {
        if let Some(known) = self.rules.get(&id) {
            return Some(known.clone());
        }
        let rules = Rc::new(self.find_rules(id)?);
        self.rules.insert(id, rules.clone());
        Some(rules)
    }

    fn find_rules(&mut self, id: TermId) -> Option<Rules> {
        let mut rules = Rules::default();
        match self.store.terms.get(id).clone() {
            Term::Number(_) | Term::Pi => {}
            Term::Var(_) => {
                if let Some(value) = self.branch.context.fixed(&self.store.terms, id) {
                    let value = self.store.terms.number(value);
                    rules.others.insert(self.comparison(Relation::Equal, id, value)?);
                }
            }
            Term::Add(a, b) | Term::Sub(a, b) => {
                rules.add(&*self.rules(a)?);
                rules.add(&*self.rules(b)?);
            }
            Term::Mul(a, b) => {
                rules.add(&*self.rules(a)?);
                rules.multiply(&*self.rules(b)?);
            }
            Term::Neg(a) => rules.add(&*self.rules(a)?),
            Term::Div(a, b) => self.quotient_rules(&mut rules, a, b)?,
            Term::Min(a, b) => self.choice_rules(&mut rules, id, a, b, true)?,
            Term::Max(a, b) => self.choice_rules(&mut rules, id, a, b, false)?,
            Term::If(c, a, b) => {
                if let Some(holds) = self.branch.context.decides(&c) {
                    let chosen = if holds { (*c).clone() } else { c.negated() };
                    self.ensure(&chosen)?;
                    rules.others.insert(self.chosen(id, holds)?);
                    rules.add(&*self.rules(if holds { a } else { b })?);
                }
            }
            Term::Call(function, a) => self.call_rules(&mut rules, id, function, a)?,
        }
        Some(rules)
    }

    /// The fact that an `if` is the side that is chosen, as the facts say.
    pub(super) fn chosen(&mut self, id: TermId, holds: bool) -> Option<Label> {
        let Term::If(c, a, b) = self.store.terms.get(id).clone() else { return None };
        let (word, side) = if holds { ("then", a) } else { ("else", b) };
        let uses = self.labels_of(&if holds { (*c).clone() } else { c.negated() })?;
        let equation = self.equation(id, side);
        // `a b c` are the sides and the choice, in this order.
        let step = format!("({word} {} {} {})", self.term_text(a), self.term_text(b), self.text(&c));
        self.state(step, &uses, &[equation]).first().copied()
    }

    /// The facts that a condition consists of.
    fn labels_of(&mut self, condition: &Cond) -> Option<Vec<Label>> {
        match condition {
            Cond::True => Some(Vec::new()),
            Cond::And(parts) => {
                let mut all = Vec::new();
                for part in parts {
                    all.extend(self.labels_of(part)?);
                }
                Some(all)
            }
            Cond::False | Cond::Compare(..) | Cond::Or(_) => {
                let text = self.text(condition);
                Some(vec![self.known(&text)?])
            }
        }
    }

    pub(super) fn equation(&mut self, a: TermId, b: TermId) -> String {
        self.text(&Cond::Compare(Relation::Equal, a, b))
    }

    fn choice_rules(
        &mut self,
        rules: &mut Rules,
        id: TermId,
        a: TermId,
        b: TermId,
        least: bool,
    ) -> Option<()> {
        let Some(less) = self.branch.context.orders(a, b).decides(Relation::LessEqual) else {
            return Some(());
        };
        let relation = if less { Relation::LessEqual } else { Relation::GreaterEqual };
        let fact = self.comparison(relation, a, b)?;
        let word = if less { "lesser" } else { "greater" };
        let step = format!("({word} {} {})", self.term_text(a), self.term_text(b));
        let (low, high) = if less { (a, b) } else { (b, a) };
        let min = self.store.terms.intern(Term::Min(a, b));
        let max = self.store.terms.intern(Term::Max(a, b));
        let says = [self.equation(min, low), self.equation(max, high)];
        let both = self.state(step, &[fact], &says);
        rules.others.insert(*both.get(usize::from(!least))?);
        rules.add(&*self.rules(if least { low } else { high })?);
        debug_assert!(id == if least { min } else { max });
        Some(())
    }

    fn call_rules(&mut self, rules: &mut Rules, id: TermId, function: Function, a: TermId) -> Option<()> {
        match function {
            Function::Sqrt => self.root_rules(rules, id, a),
            Function::Abs => {
                let Some(up) = self.branch.against_zero(&mut self.store, a, Relation::GreaterEqual) else {
                    return Some(());
                };
                let zero = self.store.terms.number(Rational::ZERO);
                let relation = if up { Relation::GreaterEqual } else { Relation::LessEqual };
                let fact = self.comparison(relation, a, zero)?;
                let negative = self.store.terms.intern(Term::Neg(a));
                let equation = self.equation(id, if up { a } else { negative });
                let step = format!("({} {})", if up { "size" } else { "opposite" }, self.term_text(a));
                rules.others.extend(self.state(step, &[fact], &[equation]));
                rules.add(&*self.rules(a)?);
                Some(())
            }
            Function::Sin | Function::Cos => self.wave_rules(rules, a),
            Function::Tan => {
                let sine = self.store.terms.intern(Term::Call(Function::Sin, a));
                let cosine = self.store.terms.intern(Term::Call(Function::Cos, a));
                self.quotient_rules(rules, sine, cosine)
            }
            Function::Ceil | Function::Floor => self.rounding_rules(rules, id, function, a),
            Function::Atan | Function::Acos => Some(()),
        }
    }

    /// The root of what is the square of a number.
    fn exact_root(&mut self, rules: &mut Rules, square: Rational, root: Rational, a: TermId) -> Option<()> {
        let square = self.store.terms.number(square);
        let exact = self.store.terms.intern(Term::Call(Function::Sqrt, square));
        self.same(rules, "same-root", Function::Sqrt, square, a)?;
        let root = self.store.terms.number(root);
        let equation = self.equation(exact, root);
        rules.others.insert(self.lemma(&equation, &[], End::Evaluate));
        Some(())
    }

    fn root_rules(&mut self, rules: &mut Rules, id: TermId, a: TermId) -> Option<()> {
        let argument = self.branch.normal(&mut self.store, a)?;
        let open = self.branch.against_zero(&mut self.store, a, Relation::GreaterEqual) != Some(true);
        if open || !argument.den.is_empty() {
            return Some(());
        }
        if let Some(square) = argument.num.as_constant()
            && let Some(root) = square.exact_sqrt()
        {
            return self.exact_root(rules, square, root, a);
        }
        let normal = self.branch.normal(&mut self.store, id)?;
        let atom = lone_atom(&normal)?;
        let stand = self.stand(atom, id);
        let Term::Call(_, inner) = *self.store.terms.get(stand) else { return None };
        self.same(rules, "same-root", Function::Sqrt, inner, a)?;
        // The square of what stands for it.
        let zero = self.store.terms.number(Rational::ZERO);
        let claim = self.text(&Cond::Compare(Relation::GreaterEqual, inner, zero));
        let sign = match self.known(&claim) {
            Some(known) => known,
            None if inner == a => self.comparison(Relation::GreaterEqual, a, zero)?,
            None => {
                let own = self.comparison(Relation::GreaterEqual, a, zero)?;
                let equal = self.equal(inner, a)?;
                self.lemma(&claim, &[own, equal], |opposite| {
                    let sum = vec![summand(1, &[opposite]), summand(1, &[own]), summand(1, &[equal])];
                    End::Combine(Vec::new(), sum)
                })
            }
        };
        let square = self.store.terms.intern(Term::Mul(stand, stand));
        let says =
            [self.text(&Cond::Compare(Relation::GreaterEqual, stand, zero)), self.equation(square, inner)];
        let step = format!("(sqrt {})", self.term_text(inner));
        let facts = self.state(step, &[sign], &says);
        let inside = self.rules(inner)?;
        if inside.left.is_empty() {
            rules.others.extend(facts.get(1));
            rules.add(&inside);
        } else {
            let plain = self.poly_term(&argument.num)?;
            let equal = self.equal(inner, plain)?;
            let equation = self.equation(square, plain);
            let own = *facts.get(1)?;
            let uses = [equal, own];
            rules.others.insert(self.lemma(&equation, &uses, |opposite| {
                let sum = vec![summand(1, &[opposite]), summand(-1, &[equal]), summand(-1, &[own])];
                End::Combine(Vec::new(), sum)
            }));
        }
        Some(())
    }

    fn rounding_rules(&mut self, rules: &mut Rules, id: TermId, function: Function, a: TermId) -> Option<()> {
        let word = if function == Function::Ceil { "same-ceil" } else { "same-floor" };
        let argument = self.branch.normal(&mut self.store, a)?;
        if let Some(value) = argument.num.as_constant().filter(|_| argument.den.is_empty()) {
            let rounded = if function == Function::Ceil { value.ceil() } else { value.floor() };
            let value = self.store.terms.number(value);
            self.same(rules, word, function, value, a)?;
            let exact = self.store.terms.intern(Term::Call(function, value));
            let rounded = self.store.terms.number(rounded);
            let equation = self.equation(exact, rounded);
            rules.others.insert(self.lemma(&equation, &[], End::Evaluate));
            return Some(());
        }
        let normal = self.branch.normal(&mut self.store, id)?;
        let stand = self.stand(lone_atom(&normal)?, id);
        let Term::Call(_, inner) = *self.store.terms.get(stand) else { return None };
        self.same(rules, word, function, inner, a)
    }

    /// The rule `f(b) = f(a)`, unless a is b.
    fn same(&mut self, rules: &mut Rules, word: &str, f: Function, a: TermId, b: TermId) -> Option<()> {
        if self.core(a) == self.core(b) {
            return Some(());
        }
        let equal = self.equal(a, b)?;
        let (x, y) = (self.store.terms.intern(Term::Call(f, b)), self.store.terms.intern(Term::Call(f, a)));
        let equation = self.equation(x, y);
        let step = format!("({word} {} {})", self.term_text(a), self.term_text(b));
        rules.others.extend(self.state(step, &[equal], &[equation]));
        Some(())
    }

    /// The term that stands for an atom in this block: one whose normal form it is.
    pub(super) fn stand(&mut self, atom: Atom, id: TermId) -> TermId {
        let known: Vec<TermId> =
            self.frames.iter().rev().filter_map(|frame| frame.stands.get(&atom)).copied().collect();
        for stand in known {
            let normal = self.branch.normal(&mut self.store, stand);
            if normal.is_some_and(|normal| lone_atom(&normal) == Some(atom)) {
                return stand;
            }
        }
        if let Some(frame) = self.frames.last_mut() {
            frame.stands.insert(atom, id);
        }
        id
    }

    /// A term for a polynomial.
    pub(super) fn poly_term(&mut self, poly: &Poly) -> Option<TermId> {
        let mut terms = Vec::new();
        for (mono, c) in &poly.0 {
            terms.push(self.mono_term(mono, c)?);
        }
        while terms.len() > 1 {
            let pairs: Vec<Vec<TermId>> = terms.chunks(2).map(<[TermId]>::to_vec).collect();
            terms.clear();
            for pair in pairs {
                terms.push(match pair.as_slice() {
                    [a, b] => self.store.terms.intern(Term::Add(*a, *b)),
                    _ => *pair.first()?,
                });
            }
        }
        let zero = self.store.terms.number(Rational::ZERO);
        Some(terms.pop().unwrap_or(zero))
    }

    fn mono_term(&mut self, mono: &Mono, c: &Rational) -> Option<TermId> {
        let mut product =
            (*c != Rational::ONE || mono.0.is_empty()).then(|| self.store.terms.number(c.clone()));
        for atom in &mono.0 {
            let known = self.store.algebra.term_of(*atom)?;
            let next = self.stand(*atom, known);
            product = Some(match product {
                None => next,
                Some(before) => self.store.terms.intern(Term::Mul(before, next)),
            });
        }
        product
    }

    /// The fact that two terms are equal whose normal forms are.
    pub(super) fn equal(&mut self, a: TermId, b: TermId) -> Option<Label> {
        let claim = self.equation(a, b);
        if let Some(known) = self.known(&claim) {
            return Some(known);
        }
        let mut rules = (*self.rules(a)?).clone();
        rules.add(&*self.rules(b)?);
        let (x, y) = (self.term_text(a), self.term_text(b));
        if rules.left.is_empty() {
            return Some(self.derive(&x, &y, &rules));
        }
        self.equal_over(&x, &y, rules)
    }

    /// A term in place of others that the checker reads as the same.
    pub(super) fn core(&mut self, id: TermId) -> TermId {
        let term = match self.store.terms.get(id).clone() {
            Term::Neg(a) => Term::Sub(self.store.terms.number(Rational::ZERO), self.core(a)),
            Term::Call(Function::Tan, a) => {
                let a = self.core(a);
                Term::Div(
                    self.store.terms.intern(Term::Call(Function::Sin, a)),
                    self.store.terms.intern(Term::Call(Function::Cos, a)),
                )
            }
            Term::Call(function, a) => Term::Call(function, self.core(a)),
            Term::Div(a, b) => {
                let (a, b) = (self.core(a), self.core(b));
                match self.store.terms.as_number(b).and_then(Rational::recip) {
                    Some(inverse) => Term::Mul(self.store.terms.number(inverse), a),
                    None => Term::Div(a, b),
                }
            }
            Term::Add(a, b) => Term::Add(self.core(a), self.core(b)),
            Term::Sub(a, b) => Term::Sub(self.core(a), self.core(b)),
            Term::Mul(a, b) => Term::Mul(self.core(a), self.core(b)),
            Term::Min(a, b) => Term::Min(self.core(a), self.core(b)),
            Term::Max(a, b) => Term::Max(self.core(a), self.core(b)),
            term @ (Term::Number(_) | Term::Pi | Term::Var(_) | Term::If(..)) => term,
        };
        self.store.terms.intern(term)
    }
}

/// The atom that a normal form is.
pub(super) fn lone_atom(normal: &Quotient) -> Option<Atom> {
    let (mono, c) = normal.num.0.iter().next()?;
    let single = normal.den.is_empty() && normal.num.0.len() == 1 && *c == Rational::ONE;
    match mono.0.as_slice() {
        [atom] if single => Some(*atom),
        _ => None,
    }
}
