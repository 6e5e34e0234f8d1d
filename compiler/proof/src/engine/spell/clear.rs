//! Denominators: the factors of divisors have names `w`; a quotient is a product with inverses `1/w`, and what has
//! inverses left is multiplied with the factors before it is summed.

use std::collections::BTreeMap;
use std::rc::Rc;

use borewright_motion::Relation;
use borewright_number::Rational;

use super::lines::{End, Label, product, summand};
use super::rules::Rules;
use super::{Spelling, Term, TermId};
use crate::engine::algebra::{Algebra, FactorId};
use crate::engine::poly::Poly;
use crate::engine::term::Cond;

/// Factors with their exponents.
type Powers = BTreeMap<FactorId, u32>;

/// The product that a term is: `name * multiplier = scale * factors`, an equation between names.
#[derive(Debug)]
pub(super) struct Form {
    name: String,
    /// `name = term`, `name * multiplier = scale * factors`, `name != 0`.
    definition: Label,
    equation: Label,
    not_zero: Label,
    scale: Rational,
    /// All even.
    multiplier: Powers,
    factors: Powers,
}

/// The factors that clear a fact of its denominators.
#[derive(Debug)]
struct Clearing {
    /// What the fact is multiplied with, and how much of it is left over.
    above: Powers,
    over: Powers,
    /// The facts about the signs that matter, and the product of these signs.
    signs: Vec<Label>,
    sign: i32,
}

impl Spelling {
    /// A name for a term, and the fact that says so.
    fn name(&mut self, id: TermId) -> Option<(String, Label)> {
        let text = self.term_text(id);
        if let Some(known) = self.names.get(&text) {
            return Some(known.clone());
        }
        let name = format!("#{}", self.names.len());
        let label = self.label(0, &format!("(= {name} {text})"));
        let line = super::Line::Plain(format!("(name {name} {text})"), vec![label]);
        self.frames.first_mut()?.lines.push(line);
        self.names.insert(text, (name.clone(), label));
        Some((name, label))
    }

    /// The name of a factor, and the fact that says so.
    pub(super) fn factor(&mut self, id: FactorId) -> Option<(String, Label)> {
        let poly = self.store.algebra.factor(id)?.clone();
        let term = self.poly_term(&poly)?;
        self.name(term)
    }

    /// The fact that a factor is not 0.
    pub(super) fn not_zero(&mut self, id: FactorId) -> Option<Label> {
        let (name, _) = self.factor(id)?;
        let claim = format!("(!= {name} 0)");
        if let Some(known) = self.known(&claim) {
            return Some(known);
        }
        let (sign, fact) = self.sign(id)?;
        Some(self.lemma(&claim, &[fact], |opposite| {
            End::Combine(Vec::new(), vec![summand(1, &[fact]), summand(-sign, &[opposite])])
        }))
    }

    /// Two terms are equal that are so over the same denominators.
    pub(super) fn equal_over(&mut self, a: &str, b: &str, mut rules: Rules) -> Option<Label> {
        let left = std::mem::take(&mut rules.left);
        self.definitions(&left, &mut rules)?;
        let w = product(&self.texts(&left)?);
        let equation = self.derive(&format!("(* {a} {w})"), &format!("(* {b} {w})"), &rules);
        let factors = self.all_not_zero(&left)?;
        let uses: Vec<Label> = factors.iter().copied().chain([equation]).collect();
        Some(self.lemma(&format!("(= {a} {b})"), &uses, |opposite| {
            let factors = [vec![opposite], factors].concat();
            End::Combine(Vec::new(), vec![summand(1, &factors), summand(-1, &[equation])])
        }))
    }

    /// The facts `w != 0`, each as often as the exponents say.
    fn all_not_zero(&mut self, powers: &Powers) -> Option<Vec<Label>> {
        let mut all = Vec::new();
        for (id, k) in powers {
            let fact = self.not_zero(*id)?;
            all.extend(std::iter::repeat_n(fact, *k as usize));
        }
        Some(all)
    }

    fn texts(&mut self, powers: &Powers) -> Option<Vec<String>> {
        let mut all = Vec::new();
        for (id, k) in powers {
            let (name, _) = self.factor(*id)?;
            all.extend(std::iter::repeat_n(name, *k as usize));
        }
        Some(all)
    }

    fn definitions(&mut self, powers: &Powers, rules: &mut Rules) -> Option<()> {
        for id in powers.keys() {
            let (_, label) = self.factor(*id)?;
            rules.names.insert(label);
            let poly = self.store.algebra.factor(*id)?.clone();
            self.poly_rules(&poly, rules)?;
        }
        Some(())
    }

    /// Whether one of the factors has the name of that definition.
    fn is_factor(&mut self, factors: &Powers, definition: Label) -> Option<bool> {
        let mut found = false;
        for id in factors.keys() {
            found |= self.factor(*id)?.1 == definition;
        }
        Some(found)
    }

    /// The facts `w^2 > 0`, each as often as the exponents say over two: their product is that of the factors.
    fn squares(&mut self, powers: &Powers) -> Option<Vec<Label>> {
        let mut all = Vec::new();
        for (id, k) in powers {
            if *k > 1 {
                let fact = self.not_zero(*id)?;
                let fact = self.apart(fact)?;
                all.extend(std::iter::repeat_n(fact, *k as usize / 2));
            }
        }
        Some(all)
    }

    fn inverse(&mut self, name: &str, not_zero: Label) -> Option<Label> {
        let says = [format!("(= (* {name} (/ 1 {name})) 1)")];
        self.state(format!("(/ 1 {name})"), &[not_zero], &says).first().copied()
    }

    /// The scale and the factors of a polynomial, as the engine splits divisors.
    fn split(&mut self, poly: &Poly) -> Option<(Rational, Powers)> {
        if poly.is_zero() {
            return None;
        }
        let mut scale = poly.content();
        let common = poly.common_mono();
        let rest = poly.over_mono(&common).scaled(&scale.recip()?);
        let mut factors = Powers::new();
        for atom in &common.0 {
            let (id, _) = self.store.algebra.factor_id(&Poly::atom(*atom));
            *factors.entry(id).or_insert(0) += 1;
        }
        match rest.as_constant() {
            Some(one) => scale *= &one,
            None => {
                let (id, sign) = self.store.algebra.factor_id(&rest);
                *factors.entry(id).or_insert(0) += 1;
                scale *= &Rational::from(sign);
            }
        }
        Some((scale, factors))
    }

    /// The product that a term is of which the facts say that it is not 0.
    pub(super) fn form(&mut self, id: TermId) -> Option<Rc<Form>> {
        if let Some(known) = self.forms.get(&id) {
            return Some(known.clone());
        }
        let mut rules = (*self.rules(id)?).clone();
        let normal = self.branch.normal(&mut self.store, id)?;
        let (scale, numerator) = self.split(&normal.num)?;
        let mut multiplier = Powers::new();
        for (factor, k) in rules.left.iter().chain(&normal.den) {
            let own = multiplier.entry(*factor).or_insert(0);
            *own = (*own).max(k.next_multiple_of(2));
        }
        let mut factors = numerator.clone();
        for (factor, k) in &multiplier {
            let more = k - normal.den.get(factor).copied().unwrap_or(0);
            *factors.entry(*factor).or_insert(0) += more;
        }
        factors.retain(|_, k| *k > 0);
        let (name, definition) = self.name(id)?;
        let (left, right) = (self.texts(&multiplier)?, self.texts(&factors)?);
        let left = product(&[vec![name.clone()], left].concat());
        let right = product(&[vec![scale.to_string()], right].concat());
        if !self.is_factor(&factors, definition)? {
            rules.others.insert(definition);
        }
        self.definitions(&multiplier, &mut rules)?;
        self.definitions(&factors, &mut rules)?;
        let equation = self.derive(&left, &right, &rules);
        let zero = self.store.terms.number(Rational::ZERO);
        let own = self.comparison(Relation::NotEqual, id, zero)?;
        let not_zero = self.lemma(&format!("(!= {name} 0)"), &[own, definition], |opposite| {
            End::Combine(vec![definition], vec![summand(1, &[own]), summand(-1, &[opposite])])
        });
        let form = Form { name, definition, equation, not_zero, scale, multiplier, factors };
        for factor in numerator.keys() {
            self.factor_not_zero(&form, *factor)?;
        }
        let form = Rc::new(form);
        self.forms.insert(id, form.clone());
        Some(form)
    }

    /// Of a product that is not 0, no factor is.
    fn factor_not_zero(&mut self, form: &Form, factor: FactorId) -> Option<()> {
        let (name, _) = self.factor(factor)?;
        let claim = format!("(!= {name} 0)");
        if self.known(&claim).is_some() {
            return Some(());
        }
        let factors = [vec![form.not_zero], self.all_not_zero(&form.multiplier)?].concat();
        let uses: Vec<Label> = factors.iter().copied().chain([form.equation]).collect();
        self.lemma(&claim, &uses, |opposite| {
            // With 0 in place of the factor nothing is left of the right side.
            End::Combine(vec![opposite], vec![summand(1, &factors), summand(-1, &[form.equation])])
        });
        Some(())
    }

    /// The rules of `a / b`, where b is not 0.
    pub(super) fn quotient_rules(&mut self, rules: &mut Rules, a: TermId, b: TermId) -> Option<()> {
        if self.store.terms.as_number(b).is_some_and(|value| !value.is_zero()) {
            rules.add(&*self.rules(a)?);
            return Some(());
        }
        if self.branch.against_zero(&mut self.store, b, Relation::NotEqual) != Some(true)
            || self.branch.normal(&mut self.store, b)?.num.is_zero()
        {
            return Some(());
        }
        let form = self.form(b)?;
        let (above, below) = (self.term_text(a), self.term_text(b));
        let name = &form.name;
        let says = [format!("(= (/ {above} {below}) (/ {above} {name}))")];
        let step = format!("(same-divisor {name} {below} {above})");
        rules.others.extend(self.state(step, &[form.definition], &says));
        if above != "1" {
            let says = [format!("(= (/ {above} {name}) (* {above} (/ 1 {name})))")];
            rules.others.extend(self.state(format!("(quotient {above} {name})"), &[], &says));
        }
        self.inverse_rules(rules, &form)?;
        rules.multiply(&*self.rules(a)?);
        Some(())
    }

    /// The rules of one over a product.
    fn inverse_rules(&mut self, rules: &mut Rules, form: &Form) -> Option<()> {
        let mut inverses = vec![self.inverse(&form.name, form.not_zero)?];
        let mut below = Vec::new();
        for (id, k) in &form.factors {
            let (name, _) = self.factor(*id)?;
            let not_zero = self.not_zero(*id)?;
            inverses.push(self.inverse(&name, not_zero)?);
            below.extend(std::iter::repeat_n(format!("(/ 1 {name})"), *k as usize));
            let left = k.saturating_sub(form.multiplier.get(id).copied().unwrap_or(0));
            if left > 0 {
                *rules.left.entry(*id).or_insert(0) += left;
            }
        }
        rules.inverses.extend(&inverses);
        self.definitions(&form.multiplier, rules)?;
        self.definitions(&form.factors, rules)?;
        if self.is_factor(&form.factors, form.definition)? {
            return Some(());
        }
        let inverse = form.scale.recip()?;
        let above = self.texts(&form.multiplier)?;
        let value = product(&[vec![inverse.to_string()], above, below.clone()].concat());
        let own = format!("(/ 1 {})", form.name);
        let claim = format!("(= {own} {value})");
        let scaled = self.scaled(form.equation, &product(&[own, product(&below)]))?;
        let uses: Vec<Label> = inverses.iter().copied().chain([scaled]).collect();
        let lemma = self.lemma(&claim, &uses, |opposite| {
            let sum = vec![summand(1, &[opposite]), summand(inverse.clone(), &[scaled])];
            End::Combine(inverses.clone(), sum)
        });
        rules.others.insert(lemma);
        Some(())
    }

    /// The sign of a factor, and the fact that says so.
    fn sign(&mut self, factor: FactorId) -> Option<(i32, Label)> {
        self.sign_among(factor, &[1, -1])
    }

    /// The same, of these signs: facts that contradict each other may say both.
    fn sign_among(&mut self, factor: FactorId, signs: &[i32]) -> Option<(i32, Label)> {
        let (name, _) = self.factor(factor)?;
        for (sign, word) in [(1, ">"), (-1, "<")].into_iter().filter(|(sign, _)| signs.contains(sign)) {
            if let Some(known) = self.known(&format!("({word} {name} 0)")) {
                return Some((sign, known));
            }
        }
        if !self.busy.insert(factor) {
            return None;
        }
        let zero = self.store.terms.number(Rational::ZERO);
        let pi = self.store.terms.intern(Term::Pi);
        let mut terms = vec![(pi, 1)];
        for fact in self.branch.context.facts.clone() {
            let Cond::Compare(_, a, b) = fact else { continue };
            let (term, other) = if a == zero { (b, a) } else { (a, b) };
            if other == zero
                && let Some(sign) = self.branch.context.orders(term, zero).sign()
                && !terms.contains(&(term, sign))
            {
                terms.push((term, sign));
            }
        }
        let mut all = terms.into_iter().filter_map(|(term, sign)| self.sign_by(factor, term, sign));
        let found = all.find(|(sign, _)| signs.contains(sign));
        self.busy.remove(&factor);
        found
    }

    /// The sign of a factor from that of a product.
    fn sign_by(&mut self, factor: FactorId, term: TermId, term_sign: i32) -> Option<(i32, Label)> {
        let normal = self.branch.normal(&mut self.store, term)?;
        let (_, numerator) = self.split(&normal.num)?;
        let odd = |id: &FactorId| {
            let count = |powers: &Powers| powers.get(id).copied().unwrap_or(0);
            (count(&numerator) + count(&normal.den)) % 2 == 1
        };
        if !odd(&factor) {
            return None;
        }
        let (mut signs, mut sign) = (Vec::new(), term_sign);
        for id in numerator.keys().chain(normal.den.keys()).filter(|id| **id != factor && odd(id)) {
            let (own, label) = self.sign(*id)?;
            if !signs.contains(&label) {
                signs.push(label);
                sign *= own;
            }
        }
        let form = self.form(term)?;
        sign *= form.scale.signum();
        let zero = self.store.terms.number(Rational::ZERO);
        let (relation, word) = if term_sign > 0 { (Relation::Greater, ">") } else { (Relation::Less, "<") };
        let own = self.comparison(relation, term, zero)?;
        let claim = format!("({word} {} 0)", form.name);
        let whole = self.lemma(&claim, &[own, form.definition], |opposite| {
            End::Combine(vec![form.definition], vec![summand(1, &[own]), summand(1, &[opposite])])
        });
        let (name, _) = self.factor(factor)?;
        let claim = format!("({} {name} 0)", if sign > 0 { ">" } else { "<" });
        let left = [vec![whole], self.squares(&form.multiplier)?].concat();
        let right = [self.squares(&form.factors)?, signs].concat();
        let uses: Vec<Label> = left.iter().chain(&right).copied().chain([form.equation]).collect();
        let label = self.lemma(&claim, &uses, |opposite| {
            let right = [vec![opposite], right].concat();
            let sum = vec![
                summand(1, &left),
                summand(form.scale.abs(), &right),
                summand(-term_sign, &[form.equation]),
            ];
            End::Combine(Vec::new(), sum)
        });
        Some((sign, label))
    }

    /// A term without denominators as a factor of a sum.
    pub(super) fn plain_term(&mut self, id: TermId, rules: &mut Rules) -> Option<String> {
        let own = self.rules(id)?;
        if own.left.is_empty() {
            rules.add(&own);
            return Some(self.term_text(id));
        }
        let normal = self.branch.normal(&mut self.store, id)?;
        if !normal.den.is_empty() {
            return None;
        }
        let plain = self.poly_term(&normal.num)?;
        self.poly_rules(&normal.num, rules)?;
        Some(self.term_text(plain))
    }

    /// The rules of the atoms of a polynomial: for their squares.
    fn poly_rules(&mut self, poly: &Poly, rules: &mut Rules) -> Option<()> {
        let atoms: std::collections::BTreeSet<_> = poly.0.keys().flat_map(|mono| mono.0.clone()).collect();
        for atom in atoms {
            let known = self.store.algebra.term_of(atom)?;
            let stand = self.stand(atom, known);
            rules.add(&*self.rules(stand)?);
        }
        Some(())
    }

    /// The fact whose polynomial is that of the engine's fact of that number.
    pub(super) fn plain_fact(&mut self, number: usize, rules: &mut Rules) -> Option<Label> {
        let label = *self.facts.get(number)?;
        let Cond::Compare(relation, a, b) = self.branch.context.facts.get(number)?.clone() else {
            return None;
        };
        let mut own = (*self.rules(a)?).clone();
        own.add(&*self.rules(b)?);
        let left = std::mem::take(&mut own.left);
        if left.is_empty() {
            rules.add(&own);
            return Some(label);
        }
        let poly = self.branch.poly_fact(&mut self.store, relation, a, b)?.poly;
        let (a, b) = match relation {
            Relation::Less | Relation::LessEqual => (b, a),
            Relation::Equal | Relation::NotEqual | Relation::Greater | Relation::GreaterEqual => (a, b),
        };
        let (x, y) = (self.branch.normal(&mut self.store, a)?, self.branch.normal(&mut self.store, b)?);
        let den = self.store.algebra.add(&x, &Algebra::negate(&y))?.den;
        let plain = self.poly_term(&poly)?;
        self.poly_rules(&poly, rules)?;
        let difference = self.store.terms.intern(Term::Sub(a, b));
        self.cleared(label, relation, difference, plain, &own, &left, &den)
    }

    /// What an ordering, or an equation, is multiplied with.
    fn clearing(&mut self, ordered: bool, left: &Powers, den: &Powers) -> Option<Clearing> {
        let (mut above, mut over, mut signs) = (Powers::new(), Powers::new(), Vec::new());
        let mut sign = 1;
        let all: std::collections::BTreeSet<FactorId> = left.keys().chain(den.keys()).copied().collect();
        for id in all {
            let k = den.get(&id).copied().unwrap_or(0);
            let mut e = k.max(left.get(&id).copied().unwrap_or(0));
            if ordered {
                e = e.next_multiple_of(2);
            } else if (e - k) % 2 == 1 {
                e += 1;
            }
            let mut rest = e - k;
            if ordered && k % 2 == 1 {
                match self.branch.sign_of(&mut self.store, id) {
                    // The polynomial was made with this sign.
                    Some(engine) => {
                        let (own, fact) = self.sign_among(id, &[engine])?;
                        sign *= own;
                        signs.push(fact);
                    }
                    // The polynomial has the factor itself.
                    None => rest -= 1,
                }
            }
            above.insert(id, e);
            over.insert(id, rest);
        }
        Some(Clearing { above, over, signs, sign })
    }

    /// From `difference relation 0`: the same of the difference times a product of factors.
    #[allow(clippy::too_many_arguments, reason = "what one lemma is made of")]
    fn cleared(
        &mut self,
        fact: Label,
        relation: Relation,
        difference: TermId,
        plain: TermId,
        rules: &Rules,
        left: &Powers,
        den: &Powers,
    ) -> Option<Label> {
        let ordered = !matches!(relation, Relation::Equal | Relation::NotEqual);
        let Clearing { above, over, signs, sign } = self.clearing(ordered, left, den)?;
        let (w, v) = (product(&self.texts(&above)?), product(&self.texts(&over)?));
        let (d, p) = (self.term_text(difference), self.term_text(plain));
        let mut all = rules.clone();
        self.definitions(&above, &mut all)?;
        let equation = self.derive(&format!("(* {d} {w})"), &format!("(* {sign} (* {p} {v}))"), &all);
        let (around, wide) = (self.all_not_zero(&over)?, self.all_not_zero(&above)?);
        let (squares, halves) =
            if ordered { (self.squares(&over)?, self.squares(&above)?) } else { (Vec::new(), Vec::new()) };
        let word = match relation {
            Relation::Less | Relation::Greater => ">",
            Relation::LessEqual | Relation::GreaterEqual => ">=",
            Relation::Equal => "=",
            Relation::NotEqual => "!=",
        };
        let with = |first: Label, rest: &[Label]| [&[first], rest].concat();
        let parts: Vec<Label> =
            [&around, &wide, &squares, &halves, &signs].into_iter().flatten().copied().collect();
        let parts = [parts, vec![fact, equation]].concat();
        Some(self.lemma(&format!("({word} {p} 0)"), &parts, |opposite| {
            let sum = match relation {
                Relation::Equal => vec![
                    summand(sign, &with(opposite, &around)),
                    summand(1, &[equation]),
                    summand(-1, &with(fact, &wide)),
                ],
                Relation::NotEqual => vec![
                    summand(1, &with(fact, &wide)),
                    summand(-1, &[equation]),
                    summand(-sign, &with(opposite, &around)),
                ],
                Relation::Less | Relation::LessEqual | Relation::Greater | Relation::GreaterEqual => vec![
                    summand(1, &with(fact, &halves)),
                    summand(1, &with(opposite, &[signs, squares].concat())),
                    summand(-1, &[equation]),
                ],
            };
            End::Combine(Vec::new(), sum)
        }))
    }
}
