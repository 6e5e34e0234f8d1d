//! Sines and cosines of sums of angles, by the addition theorems: one unit vector for each summand.

use borewright_motion::Function;
use borewright_number::Rational;

use super::rules::{Rules, lone_atom};
use super::{Spelling, Term, TermId};
use crate::engine::poly::Poly;

impl Spelling {
    /// The rules for the sine and the cosine of an angle.
    pub(super) fn wave_rules(&mut self, rules: &mut Rules, a: TermId) -> Option<()> {
        let angle = self.branch.normal(&mut self.store, a)?;
        if !angle.den.is_empty() {
            let base = self.wave_stand(a)?;
            self.same_angle(rules, base, a)?;
            return self.circle(rules, base);
        }
        let mut pieces = Vec::new();
        for (mono, c) in &angle.num.0 {
            if mono.0.is_empty() {
                self.constant_pieces(c, &mut pieces);
                continue;
            }
            let mut summand = Poly::zero();
            summand.add_term(mono.clone(), &c.abs());
            let own = if angle.num.0.len() == 1 && c.signum() > 0 { a } else { self.poly_term(&summand)? };
            pieces.push((self.wave_stand(own)?, c.signum() < 0));
        }
        let signed = |s: &mut Self, (base, negative): (TermId, bool)| {
            if negative { s.store.terms.intern(Term::Neg(base)) } else { base }
        };
        let zero = self.store.terms.number(Rational::ZERO);
        let mut sum = None;
        for piece in &pieces {
            let next = signed(self, *piece);
            sum = Some(sum.map_or(next, |sum| self.store.terms.intern(Term::Add(sum, next))));
        }
        let sum = sum.unwrap_or(zero);
        self.same_angle(rules, sum, a)?;
        let mut sum = None;
        for piece in &pieces {
            let next = signed(self, *piece);
            if let Some(before) = sum {
                self.sum_rules(rules, before, next);
            }
            sum = Some(sum.map_or(next, |sum| self.store.terms.intern(Term::Add(sum, next))));
            if piece.1 {
                self.turned_rules(rules, piece.0);
            }
            self.base_rules(rules, piece.0)?;
        }
        if pieces.is_empty() {
            self.base_rules(rules, zero)?;
        }
        Some(())
    }

    /// Quarter turns, and a rest of at most 45 degrees.
    fn constant_pieces(&mut self, c: &Rational, pieces: &mut Vec<(TermId, bool)>) {
        let (right, half) = (Rational::from(90), Rational::from(45));
        let negative = c.signum() < 0;
        let mut quarters = (c.abs() / right.clone()).floor();
        let mut rest = c.abs() - &quarters * &right;
        if rest > half {
            quarters = quarters + Rational::ONE;
            rest = rest - right.clone();
        }
        if !rest.is_zero() {
            let base = self.store.terms.number(rest.abs());
            let base = self.wave_stand(base).unwrap_or(base);
            pieces.push((base, negative != (rest.signum() < 0)));
        }
        let quarter = self.store.terms.number(right);
        let count = quarters.to_i64().unwrap_or(0);
        pieces.extend((0..count).map(|_| (quarter, negative)));
    }

    /// The angle whose sine and cosine stand for those of this one.
    fn wave_stand(&mut self, angle: TermId) -> Option<TermId> {
        let sine = self.store.terms.intern(Term::Call(Function::Sin, angle));
        let cosine = self.store.terms.intern(Term::Call(Function::Cos, angle));
        let normal = self.branch.normal(&mut self.store, sine)?;
        let Some(atom) = lone_atom(&normal) else { return Some(angle) };
        let stand = self.stand(atom, sine);
        let Term::Call(Function::Sin, base) = *self.store.terms.get(stand) else {
            return Some(angle);
        };
        let normal = self.branch.normal(&mut self.store, cosine)?;
        let own = self.store.terms.intern(Term::Call(Function::Cos, base));
        if let Some(atom) = lone_atom(&normal)
            && self.stand(atom, own) != own
        {
            self.frames.last_mut()?.stands.insert(atom, own);
        }
        Some(base)
    }

    fn waves(&mut self, angle: TermId) -> [TermId; 2] {
        [Function::Sin, Function::Cos].map(|f| self.store.terms.intern(Term::Call(f, angle)))
    }

    /// Rules for the waves of b as those of a, unless a is b.
    fn same_angle(&mut self, rules: &mut Rules, a: TermId, b: TermId) -> Option<()> {
        if self.core(a) == self.core(b) {
            return Some(());
        }
        let equal = self.equal(a, b)?;
        let ([sine_a, cosine_a], [sine_b, cosine_b]) = (self.waves(a), self.waves(b));
        let says = [self.equation(sine_b, sine_a), self.equation(cosine_b, cosine_a)];
        let step = format!("(same-angle {} {})", self.term_text(a), self.term_text(b));
        rules.others.extend(self.state(step, &[equal], &says));
        Some(())
    }

    fn sum_rules(&mut self, rules: &mut Rules, a: TermId, b: TermId) {
        let ([sine_a, cosine_a], [sine_b, cosine_b]) = (self.waves(a), self.waves(b));
        let terms = &mut self.store.terms;
        let sum = terms.intern(Term::Add(a, b));
        let mut times = |a, b| terms.intern(Term::Mul(a, b));
        let (sc, cs, cc, ss) = (
            times(sine_a, cosine_b),
            times(cosine_a, sine_b),
            times(cosine_a, cosine_b),
            times(sine_a, sine_b),
        );
        let (sine, cosine) = (terms.intern(Term::Add(sc, cs)), terms.intern(Term::Sub(cc, ss)));
        let [sine_sum, cosine_sum] = self.waves(sum);
        let says = [self.equation(sine_sum, sine), self.equation(cosine_sum, cosine)];
        let step = format!("(sum {} {})", self.term_text(a), self.term_text(b));
        rules.others.extend(self.state(step, &[], &says));
    }

    fn turned_rules(&mut self, rules: &mut Rules, base: TermId) {
        let turned = self.store.terms.intern(Term::Neg(base));
        let ([sine, cosine], [turned_sine, turned_cosine]) = (self.waves(base), self.waves(turned));
        let opposite = self.store.terms.intern(Term::Neg(sine));
        let says = [self.equation(turned_sine, opposite), self.equation(turned_cosine, cosine)];
        let step = format!("(turned {})", self.term_text(base));
        rules.others.extend(self.state(step, &[], &says));
    }

    /// The exact values, or the square of the cosine.
    fn base_rules(&mut self, rules: &mut Rules, base: TermId) -> Option<()> {
        let value = self.store.terms.as_number(base).and_then(Rational::to_i64);
        if !value.is_some_and(|value| [0, 30, 45, 90].contains(&value)) {
            return self.circle(rules, base);
        }
        let says = [
            "(= (sin 0) 0)",
            "(= (cos 0) 1)",
            "(= (sin 90) 1)",
            "(= (cos 90) 0)",
            "(= (sin 30) 1/2)",
            "(= (cos 30) (* 1/2 (sqrt 3)))",
            "(= (sin 45) (* 1/2 (sqrt 2)))",
            "(= (cos 45) (* 1/2 (sqrt 2)))",
        ]
        .map(str::to_owned);
        let exact = self.state("(exact)".to_owned(), &[], &says);
        let (at, root) = match value {
            Some(0) => (0, None),
            Some(90) => (2, None),
            Some(30) => (4, Some(3)),
            _ => (6, Some(2)),
        };
        rules.others.extend(exact.into_iter().skip(at).take(2));
        if let Some(root) = root {
            let root = self.store.terms.number(Rational::from(root));
            let root = self.store.terms.intern(Term::Call(Function::Sqrt, root));
            rules.add(&*self.rules(root)?);
        }
        Some(())
    }

    fn circle(&mut self, rules: &mut Rules, base: TermId) -> Option<()> {
        let [sine, cosine] = self.waves(base);
        let one = self.store.terms.number(Rational::ONE);
        let terms = &mut self.store.terms;
        let square = terms.intern(Term::Mul(cosine, cosine));
        let other = terms.intern(Term::Mul(sine, sine));
        let rest = terms.intern(Term::Sub(one, other));
        let equation = self.equation(square, rest);
        let step = format!("(circle {})", self.term_text(base));
        rules.others.extend(self.state(step, &[], &[equation]));
        Some(())
    }
}
