//! Vectors that occur by the sum of their squares: cross products, lengths, and triangles of them.
//!
//! No rule of the certificate knows of vectors. What is found here are squares that are worth adding to a sum,
//! and facts about lengths, each proved by a sum of few products that is known beforehand.

use std::collections::BTreeSet;

use borewright_motion::{Function, Relation};
use borewright_number::{Rational, Rounding};

use super::boxes::{Reach, range};
use super::normal::Branch;
use super::poly::{Atom, Mono, Poly};
use super::products::Product;
use super::prover::Prover;
use super::term::{Cond, Term, TermId};
use crate::certificate::{Axiom, Step};

/// More vectors than this are not compared.
const MOST_VECTORS: usize = 8;
/// More cross products than this are not added.
const MOST_CROSSES: usize = 4;
/// Longer cross products are not added.
const LONGEST_CROSS: usize = 24;

/// A vector whose squared length occurs as a sum of squares.
#[derive(Debug, Clone)]
pub(super) struct Vector {
    /// The sum of squares.
    square: TermId,
    /// The components.
    parts: Vec<Poly>,
}

/// What bounds the third side of a triangle.
#[derive(Debug, Clone)]
enum Side {
    /// Its length is a root.
    Root(TermId),
    /// Its length is at most this number.
    Bound(Rational),
}

impl Prover {
    /// The vectors whose squared length occurs in the conditions.
    fn vectors<'c>(
        &mut self,
        branch: &mut Branch,
        conditions: impl Iterator<Item = &'c Cond>,
    ) -> Vec<Vector> {
        let reach = Reach::of(&self.store.terms, conditions);
        let mut sums: Vec<(TermId, Vec<TermId>)> = Vec::new();
        let mut inner = BTreeSet::new();
        for id in reach.terms() {
            let mut sides = Vec::new();
            if let Term::Add(a, b) = self.store.terms.get(*id)
                && self.squared_summands(*id, &mut sides)
            {
                inner.extend([*a, *b]);
                sums.push((*id, sides));
            }
        }
        sums.retain(|(id, _)| !inner.contains(id));
        let mut found: Vec<Vector> = Vec::new();
        for (square, sides) in sums {
            let mut parts = Vec::new();
            for side in sides {
                let normal = branch.normal(&mut self.store, side);
                parts.extend(normal.filter(|n| n.den.is_empty()).map(|n| n.num.clone()));
            }
            let whole = self.squared_length(&parts).is_some_and(|poly| poly.as_constant().is_none());
            let known = branch.normal(&mut self.store, square).is_some_and(|n| n.den.is_empty());
            if whole && known && found.len() < MOST_VECTORS && found.iter().all(|v| v.parts != parts) {
                found.push(Vector { square, parts });
            }
        }
        found
    }

    /// How many vectors hypotheses and goal have, at most 2: one can be looked at from a direction, two may be sides
    /// of a triangle.
    pub(super) fn count_vectors(&self) -> usize {
        let reach = Reach::of(&self.store.terms, self.hypotheses.iter().chain([&self.goal]));
        let vectors = reach.terms().iter().filter(|id| match self.store.terms.get(**id) {
            Term::Add(..) => self.squared_summands(**id, &mut Vec::new()),
            Term::Call(Function::Cos, angle) => self.store.terms.as_number(*angle).is_none(),
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
        });
        vectors.take(2).count()
    }

    fn squared_length(&self, parts: &[Poly]) -> Option<Poly> {
        let mut sum = Poly::zero();
        for part in parts {
            sum = sum.plus(&self.store.algebra.times(part, part)?);
        }
        Some(sum)
    }

    /// Cross products of the vectors in the plane with the directions in which the facts look at them: where a
    /// fact has `p * x + q * y`, the cross product of (x, y) and (p, q). Those of the claim come first.
    pub(super) fn crosses(&mut self, branch: &mut Branch, from: usize) -> Vec<Poly> {
        let conditions = branch.context.facts.clone();
        let vectors = self.vectors(branch, conditions.iter());
        let mut found: Vec<Poly> = Vec::new();
        if vectors.is_empty() {
            return found;
        }
        let facts = branch.poly_facts(&mut self.store);
        for fact in facts.iter().skip(from).chain(facts.iter().take(from)).flatten() {
            for vector in &vectors {
                let [x, y] = vector.parts.as_slice() else { continue };
                let Some((p, q)) = direction(&fact.poly, x, y) else { continue };
                let (Some(a), Some(b)) = (self.store.algebra.times(x, &q), self.store.algebra.times(y, &p))
                else {
                    continue;
                };
                let cross = primitive(&a.minus(&b));
                let negative = cross.negated();
                let new = found.iter().all(|known| *known != cross && *known != negative);
                if new && !cross.is_zero() && cross.0.len() <= LONGEST_CROSS && found.len() < MOST_CROSSES {
                    found.push(cross);
                }
            }
        }
        found
    }

    /// Adds lengths of vectors in hypotheses and goal, and what triangles say about them, as facts; whether
    /// there are any.
    pub(super) fn add_triangles(&mut self) -> bool {
        let before = self.steps.len();
        let conditions: Vec<Cond> = self.hypotheses.iter().chain([&self.goal]).cloned().collect();
        let mut branch = self.base.clone();
        let vectors = self.vectors(&mut branch, conditions.iter());
        let mut part_of_one = BTreeSet::new();
        for (i, a) in vectors.iter().enumerate() {
            for (j, b) in vectors.iter().enumerate().skip(i + 1) {
                if self.add_triangles_of(&vectors, a, b) {
                    part_of_one.extend([i, j]);
                }
            }
        }
        if part_of_one.is_empty() {
            return false;
        }
        self.compare_lengths(&vectors);
        self.steps.len() > before
    }

    /// The triangles with these two sides whose third side is known.
    fn add_triangles_of(&mut self, vectors: &[Vector], a: &Vector, b: &Vector) -> bool {
        if a.parts.len() != b.parts.len() {
            return false;
        }
        let mut any = false;
        for scale in [Rational::from(-1), Rational::ONE] {
            let third: Vec<Poly> = a
                .parts
                .iter()
                .zip(&b.parts)
                .map(|(x, y)| {
                    let mut sum = x.clone();
                    sum.add_scaled(y, &scale);
                    sum
                })
                .collect();
            let Some(side) = self.third_side(vectors, [a, b], &third) else { continue };
            let (Some(long), Some(short)) = (self.length(a), self.length(b)) else { continue };
            // a = b + third or a = third - b; b = a - third or b = third - a.
            let away = -scale.clone();
            let other: Vec<Poly> = b.parts.iter().map(|part| part.scaled(&away)).collect();
            any |= self.add_triangle(long, (short, &other), (&side, &third)).is_some();
            let turned: Vec<Poly> = third.iter().map(Poly::negated).collect();
            any |= self.add_triangle(short, (long, &a.parts), (&side, &turned)).is_some();
        }
        any
    }

    /// What is known about the length of the third side: that of another vector, or a bound if it is made of
    /// less than the two others are.
    fn third_side(&mut self, vectors: &[Vector], sides: [&Vector; 2], third: &[Poly]) -> Option<Side> {
        let opposite: Vec<Poly> = third.iter().map(Poly::negated).collect();
        if let Some(vector) = vectors.iter().find(|v| v.parts == third || v.parts == opposite) {
            return self.length(vector).map(Side::Root);
        }
        let exact = self.squared_length(third).and_then(|square| square.square_root());
        if let Some(root) = exact
            && let Some(length) = self.known_sign(&root)
        {
            return Some(Side::Root(length));
        }
        let most = sides.iter().map(|side| atoms(&side.parts).len()).max()?;
        let few = atoms(third).len();
        if few >= most || few == 0 {
            return None;
        }
        let mut square = 0.0_f64;
        for part in third {
            let term = self.poly_term(part);
            let size = range(&self.store.terms, term, &self.base.context)?.abs().hi;
            square += size * size;
        }
        let length = Rational::from_f64(square.sqrt() * (1.0 + 1e-9))?;
        Some(Side::Bound(length.rounded(12, Rounding::Up)))
    }

    /// The root of the vector's square, with what the axiom says about it.
    fn length(&mut self, vector: &Vector) -> Option<TermId> {
        let zero = self.store.terms.number(Rational::ZERO);
        let root = self.store.terms.intern(Term::Call(Function::Sqrt, vector.square));
        let conclusion = Cond::Compare(Relation::GreaterEqual, root, zero);
        if self.base.context.facts.contains(&conclusion) {
            return Some(root);
        }
        if !self.know(&Cond::Compare(Relation::GreaterEqual, vector.square, zero)) {
            return None;
        }
        let square = self.store.terms.intern(Term::Mul(root, root));
        let expr = self.store.terms.export(root);
        let sources = self.sources_of(&[(vector.square, zero)]);
        self.steps.push(Step::Axiom(Axiom::Root(expr)));
        let equation = Cond::Compare(Relation::Equal, square, vector.square);
        self.add_to_base(&Cond::And(vec![conclusion, equation]), sources);
        Some(root)
    }

    /// `long <= short + side`, where the vector of `long` is the sum of the two others.
    fn add_triangle(
        &mut self,
        long: TermId,
        (short, parts): (TermId, &[Poly]),
        (side, third): (&Side, &[Poly]),
    ) -> Option<()> {
        let (length, own) = match side {
            Side::Root(root) => (*root, None),
            Side::Bound(bound) => {
                let bound = self.store.terms.number(bound.clone());
                (bound, Some(self.bound_length(third, bound)?))
            }
        };
        let dot = self.bound_product((short, parts), (length, third), own.as_ref())?;
        let sum = self.store.terms.intern(Term::Add(short, length));
        let claim = Cond::Compare(Relation::LessEqual, long, sum);
        let lengths = if own.is_none() { vec![short, length] } else { vec![short] };
        let facts: Vec<Cond> = own.into_iter().chain([dot]).collect();
        self.prove_by(&claim, |prover, branch, products| {
            let claim = products.last()?.clone();
            products.push(claim.times(&prover.store, &claim)?);
            for length in lengths {
                let positive = prover.not_negative(branch, length)?;
                products.push(claim.times(&prover.store, &positive)?);
            }
            for fact in &facts {
                products.push(prover.fact_product(branch, fact)?);
            }
            Some(())
        })
    }

    /// The fact that a vector's squared length is at most the square of a number.
    fn bound_length(&mut self, parts: &[Poly], bound: TermId) -> Option<Cond> {
        let mut sum = None;
        for part in parts {
            let term = self.poly_term(part);
            let square = self.store.terms.intern(Term::Mul(term, term));
            sum = Some(match sum {
                None => square,
                Some(before) => self.store.terms.intern(Term::Add(before, square)),
            });
        }
        let size = self.store.terms.as_number(bound)?.clone();
        let square = self.store.terms.number(&size * &size);
        let fact = Cond::Compare(Relation::LessEqual, sum?, square);
        self.know(&fact).then_some(fact)
    }

    /// The fact that the scalar product of two vectors is at most the product of their lengths. The second's
    /// length may be a bound; `own` says then that it is one.
    fn bound_product(
        &mut self,
        (a, x): (TermId, &[Poly]),
        (b, y): (TermId, &[Poly]),
        own: Option<&Cond>,
    ) -> Option<Cond> {
        let mut dot = Poly::zero();
        for (p, q) in x.iter().zip(y) {
            dot = dot.plus(&self.store.algebra.times(p, q)?);
        }
        let dot = self.poly_term(&dot);
        let product = self.store.terms.intern(Term::Mul(a, b));
        let claim = Cond::Compare(Relation::LessEqual, dot, product);
        self.prove_by(&claim, |prover, branch, products| {
            let claim = products.last()?.clone();
            products.push(claim.times(&prover.store, &claim)?);
            let first = prover.not_negative(branch, a)?;
            let mut lengths = claim.times(&prover.store, &first)?;
            match own {
                None => {
                    let other = prover.not_negative(branch, b)?;
                    lengths = lengths.times(&prover.store, &other)?;
                }
                Some(own) => {
                    let own = prover.fact_product(branch, own)?;
                    for part in x {
                        let square = Product::square(&prover.store, part)?;
                        products.push(own.times(&prover.store, &square)?);
                    }
                }
            }
            products.push(lengths);
            for (i, (p, q)) in x.iter().zip(y).enumerate() {
                for (r, s) in x.iter().zip(y).skip(i + 1) {
                    let algebra = &prover.store.algebra;
                    let cross = algebra.times(p, s)?.minus(&algebra.times(q, r)?);
                    products.push(Product::square(&prover.store, &cross)?);
                }
            }
            Some(())
        })?;
        Some(claim)
    }

    /// Adds bounds of the scalar products that the facts form of vectors and directions of known length; whether there
    /// are any.
    pub(super) fn add_products(&mut self) -> bool {
        let before = self.steps.len();
        let conditions: Vec<Cond> = self.hypotheses.iter().chain([&self.goal]).cloned().collect();
        let mut branch = self.base.clone();
        conditions.iter().for_each(|condition| branch.assume(&self.store, condition));
        let vectors = self.vectors(&mut branch, conditions.iter());
        let facts = branch.poly_facts(&mut self.store);
        let mut sides: Vec<(Option<&Vector>, Vec<Poly>)> =
            vectors.iter().map(|vector| (Some(vector), vector.parts.clone())).collect();
        sides.extend(self.unit_vectors().into_iter().map(|unit| (None, unit)));
        let mut seen = Vec::new();
        for (vector, parts) in sides {
            let [x, y] = parts.as_slice() else { continue };
            for fact in facts.iter().rev().flatten() {
                let Some((p, q)) = direction(&fact.poly, x, y) else { continue };
                if seen.len() >= MOST_CROSSES || seen.contains(&(parts.clone(), p.clone(), q.clone())) {
                    continue;
                }
                seen.push((parts.clone(), p.clone(), q.clone()));
                self.add_product(vector, &parts, &[p, q]);
            }
        }
        self.compare_lengths(&vectors);
        self.steps.len() > before
    }

    /// `-w * e <= b.d <= w * e` for a vector b of length w (1, if it has no square) and a direction d of length e.
    fn add_product(&mut self, vector: Option<&Vector>, parts: &[Poly], direction: &[Poly]) -> Option<()> {
        let own = self.squared_length(direction)?.square_root()?;
        let other = self.known_sign(&own)?;
        let length = match vector {
            Some(vector) => self.length(vector)?,
            None => self.store.terms.number(Rational::ONE),
        };
        self.bound_product((length, parts), (other, direction), None);
        let opposite: Vec<Poly> = direction.iter().map(Poly::negated).collect();
        self.bound_product((length, parts), (other, &opposite), None);
        Some(())
    }

    /// Cosine and sine of each variable angle.
    fn unit_vectors(&mut self) -> Vec<Vec<Poly>> {
        let mut branch = self.base.clone();
        let mut found: Vec<Vec<Poly>> = Vec::new();
        for id in self.store.terms.calls(Function::Cos) {
            let Term::Call(_, angle) = *self.store.terms.get(id) else { continue };
            let sine = self.store.terms.intern(Term::Call(Function::Sin, angle));
            let (Some(x), Some(y)) =
                (branch.normal(&mut self.store, id), branch.normal(&mut self.store, sine))
            else {
                continue;
            };
            let unit = vec![x.num.clone(), y.num.clone()];
            let single = unit.iter().all(|part| part.0.len() == 1 && part.degree() == 1);
            if single && !found.contains(&unit) && found.len() < MOST_VECTORS {
                found.push(unit);
            }
        }
        found
    }

    /// Differences of the components of two vectors: their squares are what a point between them is nearer by.
    pub(super) fn component_differences(&mut self, branch: &mut Branch) -> Vec<Poly> {
        let conditions = branch.context.facts.clone();
        let vectors = self.vectors(branch, conditions.iter());
        let mut found = Vec::new();
        for (i, a) in vectors.iter().enumerate().take(2) {
            for b in vectors.iter().take(2).skip(i + 1) {
                found.extend(a.parts.iter().zip(&b.parts).map(|(x, y)| x.minus(y)));
            }
        }
        found
    }

    /// How the lengths compare with each other and with what the squares are compared with.
    fn compare_lengths(&mut self, vectors: &[Vector]) {
        for fact in self.base.context.facts.clone() {
            let Cond::Compare(relation, a, b) = fact else { continue };
            if let (Some(x), Some(y)) = (self.side(vectors, a), self.side(vectors, b)) {
                self.compare_roots(&fact, relation, x, y);
            }
        }
        let mut goals = Vec::new();
        self.goal.comparisons(&mut |relation, a, b| goals.push((relation, a, b)));
        for (relation, a, b) in goals {
            if let (Some(x), Some(y)) = (self.side(vectors, a), self.side(vectors, b)) {
                self.compare_squares(relation, (a, x), (b, y));
            }
        }
    }

    /// The length that a side of a comparison is the square of, one side at least being a vector's.
    fn side(&mut self, vectors: &[Vector], id: TermId) -> Option<TermId> {
        if let Some(vector) = vectors.iter().find(|v| v.square == id) {
            return self.length(vector);
        }
        let normal = self.base.normal(&mut self.store, id)?;
        let root = normal.num.square_root().filter(|_| normal.den.is_empty())?;
        self.known_sign(&root)
    }

    /// The polynomial or its negative, whichever is known not to be negative.
    fn known_sign(&mut self, root: &Poly) -> Option<TermId> {
        let zero = self.store.terms.number(Rational::ZERO);
        [root.clone(), root.negated()].into_iter().find_map(|root| {
            let term = self.poly_term(&root);
            let number = matches!(self.store.terms.get(term), Term::Number(n) if n.signum() >= 0);
            (number || self.know(&Cond::Compare(Relation::GreaterEqual, term, zero))).then_some(term)
        })
    }

    /// Of squares that are in order, the roots are too.
    fn compare_roots(&mut self, fact: &Cond, relation: Relation, x: TermId, y: TermId) {
        let orders = match relation {
            Relation::Less | Relation::LessEqual => vec![(x, y)],
            Relation::Greater | Relation::GreaterEqual => vec![(y, x)],
            Relation::Equal => vec![(x, y), (y, x)],
            Relation::NotEqual => vec![],
        };
        for (x, y) in orders {
            let claim = Cond::Compare(Relation::LessEqual, x, y);
            self.prove_by(&claim, |prover, branch, products| {
                let claim = products.last()?.clone();
                products.push(claim.times(&prover.store, &claim)?);
                for root in [x, y] {
                    if let Some(positive) = prover.not_negative(branch, root) {
                        products.push(claim.times(&prover.store, &positive)?);
                    } else {
                        products.push(claim.clone());
                    }
                }
                products.push(prover.fact_product(branch, fact)?);
                Some(())
            });
        }
    }

    /// A comparison of squares that follows from that of the roots.
    fn compare_squares(&mut self, relation: Relation, (a, x): (TermId, TermId), (b, y): (TermId, TermId)) {
        if matches!(relation, Relation::Equal | Relation::NotEqual) {
            return;
        }
        let roots = Cond::Compare(relation, x, y);
        if !self.know(&roots) {
            return;
        }
        let claim = Cond::Compare(relation, a, b);
        self.prove_by(&claim, |prover, branch, products| {
            let order = prover.fact_product(branch, &roots)?;
            for root in [x, y] {
                if let Some(positive) = prover.not_negative(branch, root) {
                    products.push(order.times(&prover.store, &positive)?);
                }
            }
            products.push(order.times(&prover.store, &order)?);
            products.push(order);
            Some(())
        });
    }

    /// The fact that a term is not negative, as a factor; of a number, 1.
    fn not_negative(&mut self, branch: &mut Branch, term: TermId) -> Option<Product> {
        if self.store.terms.as_number(term).is_some_and(|number| number.signum() >= 0) {
            return Some(Product::one());
        }
        let zero = self.store.terms.number(Rational::ZERO);
        [Relation::GreaterEqual, Relation::Greater]
            .into_iter()
            .find_map(|relation| self.fact_product(branch, &Cond::Compare(relation, term, zero)))
    }

    /// The fact as a factor.
    fn fact_product(&mut self, branch: &mut Branch, fact: &Cond) -> Option<Product> {
        let number = branch.context.facts.iter().position(|f| f == fact)?;
        let facts = branch.poly_facts(&mut self.store);
        Some(Product::fact(number, facts.get(number)?.as_ref()?))
    }

    /// Makes a comparison a fact if 1, its negation and the products that `add` puts after these close.
    fn prove_by(
        &mut self,
        claim: &Cond,
        add: impl FnOnce(&mut Self, &mut Branch, &mut Vec<Product>) -> Option<()>,
    ) -> Option<()> {
        if self.base.context.decides(claim) == Some(true) {
            return Some(());
        }
        let mut branch = self.base.clone();
        let number = branch.context.facts.len();
        branch.assume(&self.store, &claim.negated());
        let negated = branch.poly_facts(&mut self.store).get(number)?.clone()?;
        let mut products = vec![Product::one(), Product::fact(number, &negated)];
        add(self, &mut branch, &mut products)?;
        let proof = self.close_sum(&products)?;
        self.push_proof(claim, proof);
        Some(())
    }
}

/// The p and q of `p * x + q * y` in a polynomial, without what they have in common.
fn direction(poly: &Poly, x: &Poly, y: &Poly) -> Option<(Poly, Poly)> {
    let (lead_x, scale_x) = x.0.iter().next_back()?;
    let (lead_y, scale_y) = y.0.iter().next_back()?;
    if lead_x == lead_y || lead_x.0.is_empty() || lead_y.0.is_empty() {
        return None;
    }
    let own: BTreeSet<Atom> = lead_x.0.iter().chain(&lead_y.0).copied().collect();
    let coefficient = |lead: &Mono, scale: &Rational| {
        let mut sum = Poly::zero();
        for (mono, c) in &poly.0 {
            if let Some(rest) = mono.over(lead)
                && rest.0.iter().all(|atom| !own.contains(atom))
            {
                sum.add_term(rest, &(c / scale));
            }
        }
        sum
    };
    let (p, q) = (coefficient(lead_x, scale_x), coefficient(lead_y, scale_y));
    let common = match (p.is_zero(), q.is_zero()) {
        (true, _) => q.common_mono(),
        (_, true) => p.common_mono(),
        (false, false) => p.common_mono().common(&q.common_mono()),
    };
    let (p, q) = (p.over_mono(&common), q.over_mono(&common));
    // With numbers for a direction there is no product to bound.
    (p.as_constant().is_none() || q.as_constant().is_none()).then_some((p, q))
}

fn primitive(poly: &Poly) -> Poly {
    match poly.content().recip() {
        Some(scale) => poly.scaled(&scale),
        None => poly.clone(),
    }
}

fn atoms(parts: &[Poly]) -> BTreeSet<Atom> {
    parts.iter().flat_map(|part| part.0.keys()).flat_map(|mono| mono.0.iter().copied()).collect()
}
