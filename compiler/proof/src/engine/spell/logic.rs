//! What follows from the facts as they stand: by the orders that they leave between two terms, and by cases.

use std::collections::BTreeSet;

use borewright_motion::Relation;
use borewright_number::Rational;

use super::lines::{Block, End, Label, Line, Summand, sides, summand};
use super::{Spelling, Term, TermId};
use crate::engine::context::swapped;
use crate::engine::term::Cond;
use crate::engine::well::domain;

/// A comparison of two terms a and b: its label, the relation, and whether it is written as one of b and a.
type Known = (Label, Relation, bool);

impl Spelling {
    /// Makes a condition a fact that the facts decide.
    pub(super) fn ensure(&mut self, condition: &Cond) -> Option<()> {
        match condition {
            Cond::True => Some(()),
            Cond::False => None,
            Cond::And(parts) => parts.iter().try_for_each(|part| self.ensure(part)),
            Cond::Compare(relation, a, b) => self.comparison(*relation, *a, *b).map(|_| ()),
            Cond::Or(_) => {
                let text = self.text(condition);
                if self.known(&text).is_some() { Some(()) } else { self.by_clash(condition).map(|_| ()) }
            }
        }
    }

    /// Makes one fact of the current block what is so because its opposite clashes with the others.
    fn by_clash(&mut self, condition: &Cond) -> Option<Label> {
        let (opposite, proof) = self.within(&condition.negated(), |s| s.clash(8))?;
        let depth = self.depth();
        let claim = self.text(condition);
        let label = self.label(depth, &claim);
        self.frames.last_mut()?.known.insert(claim.clone(), label);
        self.push(Line::Prove { claim, opposite, proof, adds: vec![label] })?;
        Some(label)
    }

    /// The fact `a relation b`, which the facts on the two terms decide.
    pub(super) fn comparison(&mut self, relation: Relation, a: TermId, b: TermId) -> Option<Label> {
        let text = self.text(&Cond::Compare(relation, a, b));
        if let Some(known) = self.known(&text) {
            return Some(known);
        }
        if self.constant_order(a, b).is_some_and(|order| relation.holds(order)) {
            return Some(self.lemma(&text, &[], End::Evaluate));
        }
        let known = self.on_pair(a, b);
        // Labels of facts are small: this one stands for the opposite until it is known.
        const OPPOSITE: Label = Label::MAX;
        let more: Vec<Known> = known.into_iter().chain([(OPPOSITE, relation.negated(), false)]).collect();
        let same = a == b && relation.holds(std::cmp::Ordering::Equal);
        let found = if same { Some(Clash::of(vec![summand(1, &[OPPOSITE])])) } else { contradiction(&more) };
        let Some(clash) = found else { return self.by_clash(&Cond::Compare(relation, a, b)) };
        let uses: Vec<Label> = clash.labels().filter(|label| *label != OPPOSITE).collect();
        Some(self.lemma_by(&text, &uses, |s, opposite| s.close(clash.with(OPPOSITE, opposite))))
    }

    /// The block that a contradiction closes.
    fn close(&mut self, clash: Clash) -> Block {
        let (mut lines, mut sum) = (Vec::new(), clash.sum);
        if let Some(fact) = clash.apart
            && let Some(text) = self.texts.get(fact).cloned()
            && let Some((x, y)) = sides(&text)
        {
            let depth = self.depths.get(fact).copied().unwrap_or(0);
            let square = self.label(depth, &super::square_apart(x, y));
            lines.push(Line::Plain(format!("(apart {x} {y})"), vec![square]));
            sum.push(summand(1, &[square]));
        }
        Block { lines, end: End::Combine(Vec::new(), sum) }
    }

    fn is_constant(&self, id: TermId) -> bool {
        matches!(self.store.terms.get(id), Term::Number(_) | Term::Pi)
    }

    /// How two of numbers and pi compare: a proposal, which whoever evaluates it confirms.
    pub(super) fn constant_order(&self, a: TermId, b: TermId) -> Option<std::cmp::Ordering> {
        if !self.is_constant(a) || !self.is_constant(b) {
            return None;
        }
        match (self.store.terms.as_number(a), self.store.terms.as_number(b)) {
            (Some(a), Some(b)) => Some(a.cmp(b)),
            (a, b) => {
                let value = |of: Option<&Rational>| of.map_or(std::f64::consts::PI, Rational::to_f64);
                value(a).partial_cmp(&value(b))
            }
        }
    }

    /// The facts that compare two terms.
    fn on_pair(&self, a: TermId, b: TermId) -> Vec<Known> {
        let facts = self.branch.context.facts.iter().zip(&self.facts);
        let both = |(fact, label): (&Cond, &Label)| {
            let Cond::Compare(relation, x, y) = fact else { return [None, None] };
            let straight = ((*x, *y) == (a, b)).then_some((*label, *relation, false));
            let turned = ((*x, *y) == (b, a)).then(|| (*label, swapped(*relation), true));
            [straight, turned]
        };
        facts.flat_map(both).flatten().collect()
    }

    /// Closes the block by two facts that exclude each other, or by the cases of facts all but one part of which
    /// are excluded.
    pub(super) fn clash(&mut self, depth: usize) -> Option<End> {
        let facts: Vec<(Cond, Label)> =
            self.branch.context.facts.iter().cloned().zip(self.facts.iter().copied()).collect();
        for (fact, label) in facts.iter().rev() {
            match fact {
                Cond::False => return Some(End::Cases(*label)),
                Cond::Compare(relation, a, b)
                    if self.constant_order(*a, *b).is_some_and(|order| !relation.holds(order)) =>
                {
                    return Some(End::Evaluate(*label));
                }
                Cond::Compare(relation, a, b) if a == b && !relation.holds(std::cmp::Ordering::Equal) => {
                    return Some(End::Combine(Vec::new(), vec![summand(1, &[*label])]));
                }
                Cond::Compare(_, a, b) => {
                    if let Some(clash) = contradiction(&self.on_pair(*a, *b)) {
                        let block = self.close(clash);
                        block.lines.into_iter().try_for_each(|line| self.push(line))?;
                        return Some(block.end);
                    }
                }
                Cond::True | Cond::And(_) | Cond::Or(_) => {}
            }
        }
        if depth == 0 {
            return None;
        }
        for (fact, label) in facts.iter().rev() {
            let Cond::Or(parts) = fact else { continue };
            let has = |condition: &Cond| facts.iter().any(|(fact, _)| fact == condition);
            let held = |condition: &Cond| match condition {
                Cond::And(all) => all.iter().all(has),
                Cond::True => true,
                Cond::False | Cond::Compare(..) | Cond::Or(_) => has(condition),
            };
            let excluded = |part: &&Cond| {
                self.branch.context.decides(part) == Some(false)
                    || held(&part.negated())
                    || matches!(part, Cond::And(all) if all.iter().any(|one| held(&one.negated())))
            };
            let open: Vec<&Cond> = parts.iter().filter(|part| !excluded(part)).collect();
            let news = open.iter().all(|part| !held(part));
            if open.len() > 1 || !news {
                continue;
            }
            for part in parts {
                self.exclude(part, |s| s.clash(depth - 1))?;
            }
            return Some(End::Cases(*label));
        }
        None
    }

    /// Makes what a condition needs to be well defined facts, each as the checker asks for it.
    pub(super) fn define(&mut self, condition: &Cond) -> Option<()> {
        self.needs_of(condition).iter().try_for_each(|need| self.ensure(need))
    }

    pub(super) fn needs_of(&mut self, condition: &Cond) -> BTreeSet<Cond> {
        match condition {
            Cond::True | Cond::False => BTreeSet::new(),
            Cond::Compare(_, a, b) => {
                let mut needs = self.needs_of_term(*a);
                needs.extend(self.needs_of_term(*b));
                needs
            }
            Cond::And(parts) | Cond::Or(parts) => {
                let mut needs = BTreeSet::new();
                for part in parts.iter().rev() {
                    let all = matches!(condition, Cond::And(_));
                    needs = unless(&if all { part.negated() } else { part.clone() }, needs);
                    needs.extend(self.needs_of(part));
                }
                needs
            }
        }
    }

    fn needs_of_term(&mut self, id: TermId) -> BTreeSet<Cond> {
        if let Some(known) = self.needs.get(&id) {
            return known.clone();
        }
        let mut needs = BTreeSet::new();
        let term = self.store.terms.get(id).clone();
        if let Term::If(c, a, b) = &term {
            needs.extend(self.needs_of(c));
            needs.extend(unless(&c.negated(), self.needs_of_term(*a)));
            needs.extend(unless(c, self.needs_of_term(*b)));
        } else {
            for part in self.store.terms.parts(id).into_iter().flatten() {
                needs.extend(self.needs_of_term(part));
            }
        }
        // The checker reads division by a number as a product.
        let plain = matches!(term, Term::Div(_, b)
            if self.store.terms.as_number(b).is_some_and(|number| !number.is_zero()));
        let terms = &mut self.store.terms;
        let own = domain(terms, id).into_iter();
        let own = Cond::all(own.map(|(relation, a, value)| Cond::Compare(relation, a, terms.number(value))));
        if own != Cond::True && !plain {
            needs.insert(own);
        }
        self.needs.insert(id, needs.clone());
        needs
    }
}

fn unless(settled: &Cond, needs: BTreeSet<Cond>) -> BTreeSet<Cond> {
    needs.into_iter().map(|need| Cond::Or(vec![settled.clone(), need])).collect()
}

/// Facts that leave no order between two terms: a sum that is identically 0.
struct Clash {
    sum: Vec<Summand>,
    /// A fact `a != b` whose square belongs to the sum.
    apart: Option<Label>,
}

impl Clash {
    fn of(sum: Vec<Summand>) -> Self {
        Self { sum, apart: None }
    }

    fn labels(&self) -> impl Iterator<Item = Label> {
        self.sum.iter().flat_map(|summand| summand.factors.clone()).chain(self.apart)
    }

    /// With one fact in place of another.
    fn with(mut self, old: Label, new: Label) -> Self {
        let factors = self.sum.iter_mut().flat_map(|summand| &mut summand.factors);
        for label in factors.chain(&mut self.apart).filter(|label| **label == old) {
            *label = new;
        }
        self
    }
}

fn contradiction(known: &[Known]) -> Option<Clash> {
    use Relation::{Equal, Greater, GreaterEqual, Less, LessEqual, NotEqual};
    let find = |wanted: &[Relation]| known.iter().find(|(_, relation, _)| wanted.contains(relation));
    // The sign of `a - b` in what the checker makes of an equation, or of its opposite.
    let sign = |swapped: bool| if swapped { -1 } else { 1 };
    if let (Some(up), Some(down)) = (find(&[Greater]), find(&[Less, LessEqual])) {
        return Some(Clash::of(vec![summand(1, &[up.0]), summand(1, &[down.0])]));
    }
    if let (Some(up), Some(down)) = (find(&[GreaterEqual]), find(&[Less])) {
        return Some(Clash::of(vec![summand(1, &[up.0]), summand(1, &[down.0])]));
    }
    if let Some((equal, _, turned)) = find(&[Equal]) {
        let sum = |strict: Label, sign: i32| vec![summand(1, &[strict]), summand(sign, &[*equal])];
        if let Some((strict, _, _)) = find(&[Greater]) {
            return Some(Clash::of(sum(*strict, -sign(*turned))));
        }
        if let Some((strict, _, _)) = find(&[Less]) {
            return Some(Clash::of(sum(*strict, sign(*turned))));
        }
        if let Some((other, _, other_turned)) = find(&[NotEqual]) {
            return Some(Clash::of(sum(*other, -sign(*turned) * sign(*other_turned))));
        }
    }
    let (other, up, down) = (find(&[NotEqual])?, find(&[GreaterEqual])?, find(&[LessEqual])?);
    Some(Clash { sum: vec![summand(1, &[up.0, down.0])], apart: Some(other.0) })
}
