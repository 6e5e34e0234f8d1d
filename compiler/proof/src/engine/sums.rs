//! Sums of facts, of products of facts and of squares that can't be.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use borewright_motion::Relation;
use borewright_number::Rational;

use super::linear;
use super::normal::{Branch, PolyFact, Sign};
use super::poly::{Mono, Poly};
use super::products::{Caps, Part, Product};
use super::prover::Prover;
use super::term::{Cond, Term, TermId};
use crate::certificate::{Factor, Proof, Term as Summand};

/// How far products go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Level {
    /// Facts and squares alone.
    Linear,
    /// The negated claim times each fact.
    Goal,
    /// Products of two facts, except those with a wide range of a variable.
    Pairs,
    /// Products of three of these that fit the shape of the facts.
    Triples,
    /// Products of two of all facts.
    AllPairs,
    /// Products of three of all facts that fit the shape of the facts.
    AllTriples,
}

/// What is tried on a branch after [`Level::Linear`], in order.
pub(super) const LEVELS: [Level; 5] =
    [Level::Goal, Level::Pairs, Level::Triples, Level::AllPairs, Level::AllTriples];

/// More products than this are not made at once.
const MOST_PRODUCTS: usize = 1600;

impl Prover {
    /// Looks for a contradictory sum of facts and products.
    pub(super) fn combine(&mut self, branch: &mut Branch, from: usize, level: Level) -> Option<Proof> {
        if level >= Level::Pairs {
            self.look_again();
        }
        if self.found.is_some() {
            return None;
        }
        let facts = branch.poly_facts(&mut self.store);
        if let Some(proof) = self.contradictory_fact(&facts) {
            return Some(proof);
        }
        if let Some(proof) = opposite_facts(&facts, from) {
            return Some(proof);
        }
        let singles = different(&facts, from);
        let squares = self.squares(branch, &singles, from, level);
        let mut products = vec![Product::one()];
        match level {
            Level::Linear => {}
            Level::Goal => {
                self.goal_products(&singles, from, &mut products);
                self.inequation_squares(&facts, &mut products);
            }
            Level::Pairs | Level::AllPairs | Level::Triples | Level::AllTriples => {
                self.pairs_and_triples(&singles, &squares, from, level, &mut products);
            }
        }
        products.extend(singles);
        products.extend(squares);
        self.close_sum(&products)
    }

    /// The claim's facts times each fact.
    fn goal_products(&mut self, singles: &[Product], from: usize, products: &mut Vec<Product>) {
        for (i, a) in singles.iter().enumerate() {
            for b in singles.iter().skip(i) {
                if (a.is_of_claim(from) || b.is_of_claim(from))
                    && let Some(pair) = a.times(&self.store, b)
                {
                    products.push(pair);
                }
            }
        }
        self.spend(products.len() as u64 / 8);
    }

    /// `P != 0` says that P squared is positive.
    fn inequation_squares(&self, facts: &[Option<Rc<PolyFact>>], products: &mut Vec<Product>) {
        for (number, fact) in facts.iter().enumerate() {
            let Some(fact) = fact.as_ref().filter(|f| f.sign == Sign::NotZero) else { continue };
            if let Some(square) = self.store.algebra.times(&fact.poly, &fact.poly) {
                let strict = PolyFact { poly: square, sign: Sign::Positive };
                products.push(Product::fact(number, &strict));
            }
        }
    }

    fn pairs_and_triples(
        &mut self,
        singles: &[Product],
        squares: &[Product],
        from: usize,
        level: Level,
        products: &mut Vec<Product>,
    ) {
        let all = matches!(level, Level::AllPairs | Level::AllTriples);
        let factors: Vec<&Product> = singles
            .iter()
            .filter(|p| all || p.is_of_claim(from) || !self.is_wide_range(&p.column.poly))
            .chain(squares)
            .collect();
        let shapes = singles.iter().filter(|p| p.is_of_claim(from) || p.column.poly.0.len() > 2);
        let caps = Caps::of(shapes.map(|p| &p.column.poly), 0);
        let triples = matches!(level, Level::Triples | Level::AllTriples);
        let mut pairs = Vec::new();
        for (i, a) in factors.iter().enumerate() {
            for (j, b) in factors.iter().enumerate().skip(i) {
                let Some(pair) = a.times(&self.store, b) else { continue };
                let fits = caps.allow(&pair.column.poly);
                if pairs.len() < MOST_PRODUCTS && (fits || !triples) {
                    pairs.push((j, pair));
                }
            }
        }
        self.spend(pairs.len() as u64 / 8);
        if triples {
            let mut more = Vec::new();
            for (last, pair) in &pairs {
                for single in factors.iter().skip(*last) {
                    if more.len() >= MOST_PRODUCTS {
                        break;
                    }
                    if let Some(triple) = pair.times(&self.store, single)
                        && caps.allow(&triple.column.poly)
                    {
                        more.push(triple);
                    }
                }
            }
            self.spend(more.len() as u64 / 8);
            products.extend(more);
        }
        products.extend(pairs.into_iter().map(|(_, pair)| pair));
    }

    /// One end of a range that says nothing about a sign: products with it rarely help.
    fn is_wide_range(&self, poly: &Poly) -> bool {
        let mut atoms = poly.0.keys().filter(|m| !m.0.is_empty());
        let (Some(mono), None) = (atoms.next(), atoms.next()) else { return false };
        let [atom] = mono.0.as_slice() else { return false };
        let Some(slope) = poly.0.get(mono) else { return false };
        let Some(term) = self.store.algebra.term_of(*atom) else { return false };
        let Some(range) = self.base.context.bounds.get(&term) else { return false };
        let sign_like = if slope.signum() > 0 { range.lo >= 0.0 } else { range.hi <= 0.0 };
        !sign_like && range.width() > 2.0
    }

    /// Squares worth having: of what is squared in the facts; at higher levels of hints, cross
    /// products and differences.
    fn squares(
        &mut self,
        branch: &mut Branch,
        singles: &[Product],
        from: usize,
        level: Level,
    ) -> Vec<Product> {
        let mut roots: BTreeSet<Poly> = BTreeSet::new();
        for mono in singles.iter().flat_map(|p| p.column.poly.0.keys()) {
            roots.extend(mono.root().filter(|root| !root.0.is_empty()).map(Poly::monomial));
        }
        let mut terms: Vec<TermId> = self.squared_terms(branch, level);
        if level >= Level::Pairs {
            terms.extend(&self.hints);
            roots.extend(self.crosses(branch, from));
            if level >= Level::Triples {
                roots.extend(self.component_differences(branch));
            }
        }
        for term in terms {
            if let Some(normal) = branch.normal(&mut self.store, term)
                && normal.den.is_empty()
                && normal.num.degree() > 0
            {
                let content = normal.num.content();
                roots.extend(content.recip().map(|scale| normal.num.scaled(&scale)));
            }
        }
        roots.iter().filter_map(|root| Product::square(&self.store, root)).collect()
    }

    /// Terms that occur squared in the facts, and differences at higher levels.
    fn squared_terms(&self, branch: &Branch, level: Level) -> Vec<TermId> {
        let reach = super::boxes::Reach::of(&self.store.terms, branch.context.facts.iter());
        let mut found = Vec::new();
        for id in reach.terms() {
            match self.store.terms.get(*id) {
                Term::Mul(a, b) if a == b => found.push(*a),
                Term::Sub(a, b) if level >= Level::Pairs => {
                    let simple = |t: &TermId| matches!(self.store.terms.get(*t), Term::Var(_));
                    if simple(a) && simple(b) {
                        found.push(*id);
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
                | Term::Min(..)
                | Term::Max(..)
                | Term::If(..)
                | Term::Call(..) => {}
            }
        }
        found.sort_unstable();
        found.dedup();
        found
    }

    /// A fact of the claim that is a multiple of a positive polynomial, without that factor: the simpler fact, and the
    /// proof that it follows.
    pub(super) fn cancel(&mut self, branch: &mut Branch, from: usize) -> Option<(Cond, Proof)> {
        let facts = branch.poly_facts(&mut self.store);
        let positive: Vec<(usize, Poly)> = facts
            .iter()
            .enumerate()
            .take(from)
            .filter_map(|(number, fact)| Some((number, surely_positive(fact.as_ref()?)?)))
            .collect();
        for (number, fact) in facts.iter().enumerate().skip(from) {
            let Some(fact) = fact.as_ref().filter(|f| f.poly.degree() > 1) else { continue };
            for (divisor, positive) in &positive {
                if positive.degree() >= fact.poly.degree() {
                    continue;
                }
                let Some(quotient) = fact.poly.divided(positive) else { continue };
                let Some(scale) = quotient.content().recip() else { continue };
                let quotient = quotient.scaled(&scale);
                let relation = match fact.sign {
                    Sign::NotNegative => Relation::GreaterEqual,
                    Sign::Positive => Relation::Greater,
                    Sign::Zero => Relation::Equal,
                    Sign::NotZero => continue,
                };
                let (left, zero) = (self.poly_term(&quotient), self.store.terms.number(Rational::ZERO));
                let simpler = Cond::Compare(relation, left, zero);
                if branch.context.decides(&simpler).is_some() {
                    continue;
                }
                let mut fails = branch.clone();
                fails.assume(&self.store, &simpler.negated());
                if let Some(proof) = self.close_multiple(&mut fails, number, *divisor) {
                    return Some((simpler, proof));
                }
            }
        }
        None
    }

    /// The last fact says that the quotient has the wrong sign: times the divisor it contradicts the multiple.
    fn close_multiple(&mut self, branch: &mut Branch, multiple: usize, divisor: usize) -> Option<Proof> {
        let facts = branch.poly_facts(&mut self.store);
        let single = |number: usize| {
            facts.get(number).and_then(Option::as_ref).map(|fact| Product::fact(number, fact))
        };
        let last = facts.len().checked_sub(1)?;
        let (multiple, divisor, last) = (single(multiple)?, single(divisor)?, single(last)?);
        let product = last.times(&self.store, &divisor)?;
        self.close_sum(&[Product::one(), multiple, product, last])
    }

    /// Closes a branch by one product of facts besides the facts of the claim.
    pub(super) fn close_by_product(
        &mut self,
        branch: &mut Branch,
        from: usize,
        factors: &[Cond],
    ) -> Option<Proof> {
        let facts = branch.poly_facts(&mut self.store);
        let mut product = Product::one();
        for factor in factors {
            let number = branch.context.facts.iter().position(|f| f == factor)?;
            let fact = facts.get(number)?.as_ref()?;
            product = product.times(&self.store, &Product::fact(number, fact))?;
        }
        let mut products = vec![Product::one(), product];
        for (number, fact) in facts.iter().enumerate().skip(from) {
            products.extend(fact.as_ref().map(|fact| Product::fact(number, fact)));
        }
        self.close_sum(&products)
    }

    /// Runs the linear program over the columns.
    pub(super) fn close_sum(&mut self, products: &[Product]) -> Option<Proof> {
        let columns: Vec<&linear::Column> = products.iter().map(|p| &p.column).collect();
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
            })
            .collect()
    }

    /// A fact that is a number of the wrong sign: `0 > 0`, `-1 >= 0`, `0 != 0`, `3 == 0`.
    fn contradictory_fact(&mut self, facts: &[Option<Rc<PolyFact>>]) -> Option<Proof> {
        let (number, value, sign) = facts.iter().enumerate().find_map(|(number, fact)| {
            let fact = fact.as_ref()?;
            let value = fact.poly.as_constant()?;
            let wrong = match fact.sign {
                Sign::NotNegative => value.signum() < 0,
                Sign::Positive => value.signum() <= 0,
                Sign::Zero => !value.is_zero(),
                Sign::NotZero => value.is_zero(),
            };
            wrong.then_some((number, value, fact.sign))
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

/// The facts that say something, without those that another of the same form makes needless: `2 * x >= 2` beside
/// `x >= 3`. They only disturb sums.
fn different(facts: &[Option<Rc<PolyFact>>], from: usize) -> Vec<Product> {
    let mut equations: BTreeSet<(Poly, bool)> = BTreeSet::new();
    let mut strongest: BTreeMap<(Poly, bool), (usize, Rational)> = BTreeMap::new();
    let mut singles: Vec<Product> = Vec::new();
    for (number, fact) in facts.iter().enumerate() {
        let Some(fact) = fact.as_ref().filter(|f| f.sign != Sign::NotZero) else { continue };
        let Some(lead) = fact.poly.0.values().next_back().filter(|_| fact.poly.as_constant().is_none())
        else {
            continue;
        };
        let Some(scale) = lead.abs().recip() else { continue };
        let (mut form, claim) = (fact.poly.scaled(&scale), number >= from);
        if fact.sign == Sign::Zero {
            if equations.insert((form, claim)) {
                singles.push(Product::fact(number, fact));
            }
            continue;
        }
        // Of `form + constant >= 0`, the smaller constant says more.
        let constant = form.0.get(&Mono::default()).cloned().unwrap_or(Rational::ZERO);
        form.0.remove(&Mono::default());
        match strongest.entry((form, claim)) {
            Entry::Vacant(entry) => {
                entry.insert((singles.len(), constant));
                singles.push(Product::fact(number, fact));
            }
            Entry::Occupied(mut entry) => {
                let (at, known) = entry.get_mut();
                let Some(slot) = singles.get_mut(*at) else { continue };
                let stricter = fact.sign == Sign::Positive && slot.column.sign == Sign::NotNegative;
                if constant < *known || (constant == *known && stricter) {
                    *known = constant;
                    *slot = Product::fact(number, fact);
                }
            }
        }
    }
    singles
}

/// A fact of the claim against one other: `P > 0` with `P == 0`, `-P == 0`, `-P >= 0` or `-P > 0`.
fn opposite_facts(facts: &[Option<Rc<PolyFact>>], from: usize) -> Option<Proof> {
    let all = || facts.iter().enumerate().filter_map(|(number, fact)| Some((number, fact.as_ref()?)));
    for (number, claim) in all().skip_while(|(number, _)| *number < from) {
        let negative = claim.poly.negated();
        for (other, fact) in all() {
            if claim.sign != Sign::Positive && fact.sign != Sign::Positive {
                continue;
            }
            let scale = if fact.poly == negative && fact.sign != Sign::NotZero && claim.sign != Sign::NotZero
            {
                Rational::ONE
            } else if fact.poly == claim.poly && (claim.sign == Sign::Zero || fact.sign == Sign::Zero) {
                Rational::from(-1)
            } else {
                continue;
            };
            // The equation, if there is one, may have any scale.
            let (first, second) = if claim.sign == Sign::Zero { (other, number) } else { (number, other) };
            let summand = |scale: Rational, fact| Summand { scale, factors: vec![Factor::Fact(fact)] };
            return Some(Proof::Combine(vec![summand(Rational::ONE, first), summand(scale, second)]));
        }
    }
    None
}

/// A polynomial that a fact makes positive: that of a strict fact, or of `P >= c` with a positive number c.
fn surely_positive(fact: &PolyFact) -> Option<Poly> {
    let mut poly = fact.poly.clone();
    let constant = poly.0.get(&Mono::default()).cloned().unwrap_or(Rational::ZERO);
    match fact.sign {
        Sign::Positive => {}
        Sign::NotNegative if constant.signum() < 0 => {
            poly.0.remove(&Mono::default());
        }
        Sign::NotNegative | Sign::Zero | Sign::NotZero => return None,
    }
    (poly.degree() > 0).then_some(poly)
}
