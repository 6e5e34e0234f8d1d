//! Spells a proof out: from the engine's certificate, in which a fact is a polynomial by what the facts decide, to
//! steps of the text format, in which every quotient, root, choice and sum of angles is reduced by an equation that
//! was proved before. `compiler/proof-checker/README.md` describes the format.
//!
//! The facts of the engine's proof are replayed in order; `facts` maps their numbers to labels. Whatever
//! else is needed is proved where the facts that it rests on stand, once: `frames` are the blocks around the
//! place that is being written, the outermost first.

mod clear;
mod lines;
mod logic;
mod rules;
mod waves;

use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;

use borewright_motion::{Function, Relation};
use borewright_number::Rational;

use super::algebra::FactorId;
use super::normal::{Branch, Store};
use super::poly::Atom;
use super::term::{Cond, Term, TermId, Terms};
use crate::certificate::{Axiom, Certificate, Factor, Proof, Step, Term as Sum};
use crate::certify::text;
use crate::formula::Formula;
use clear::Form;
use lines::{Block, End, Label, Line, Piece, Summand, Writer, summand};
use rules::Rules;

/// One block that is being written.
#[derive(Debug, Default)]
struct Frame {
    lines: Vec<Line>,
    /// Facts by their text.
    known: HashMap<String, Label>,
    /// The terms that stand for roots, sines, cosines and roundings.
    stands: HashMap<Atom, TermId>,
}

/// What is being spelled.
#[derive(Debug, Default)]
struct Spelling {
    store: Store,
    branch: Branch,
    facts: Vec<Label>,
    frames: Vec<Frame>,
    /// How deep the block of each labelled fact is nested.
    depths: Vec<usize>,
    names: HashMap<String, (String, Label)>,
    needs: HashMap<TermId, BTreeSet<Cond>>,
    // What was found under the facts of the branch.
    rules: HashMap<TermId, Rc<Rules>>,
    forms: HashMap<TermId, Rc<Form>>,
    /// Factors whose sign is being looked for.
    busy: BTreeSet<FactorId>,
}

/// The steps of a proof of the formula; `None` if the certificate is none of it.
pub(crate) fn spell(formula: &Formula, certificate: &Certificate) -> Option<Vec<String>> {
    let mut terms = Terms::new(formula)?;
    terms.number(Rational::ZERO);
    let hypotheses: Vec<Cond> =
        formula.hypotheses.iter().map(|h| terms.import_condition(&h.condition)).collect::<Option<_>>()?;
    let goal = terms.import_condition(&formula.goal)?;
    let mut spelling = Spelling {
        store: Store { terms, ..Store::default() },
        frames: vec![Frame::default()],
        ..Spelling::default()
    };
    let mut hypotheses = hypotheses.into_iter();
    for step in &certificate.steps {
        match step {
            Step::Assume => {
                let next = hypotheses.next()?;
                spelling.define(&next)?;
                let adds = spelling.assume(&next);
                spelling.push(Line::Plain("assume".to_owned(), adds))?;
            }
            Step::Axiom(axiom) => spelling.axiom(axiom)?,
            Step::Prove { condition, proof } => {
                let condition = spelling.store.terms.import_condition(condition)?;
                spelling.prove(&condition, |s| s.proof(proof))?;
            }
        }
    }
    spelling.define(&goal)?;
    let frame = spelling.frames.pop()?;
    Some(Writer::default().lines(&frame.lines))
}

impl Spelling {
    fn push(&mut self, line: Line) -> Option<()> {
        self.frames.last_mut()?.lines.push(line);
        Some(())
    }

    fn label(&mut self, depth: usize) -> Label {
        self.depths.push(depth);
        self.depths.len() - 1
    }

    fn depth(&self) -> usize {
        self.frames.len() - 1
    }

    /// The fact of that text, rather one of an outer block.
    fn known(&self, text: &str) -> Option<Label> {
        self.frames.iter().find_map(|frame| frame.known.get(text)).copied()
    }

    fn term_text(&mut self, id: TermId) -> String {
        text::expr(&self.store.terms.export(id))
    }

    fn text(&mut self, condition: &Cond) -> String {
        text::condition(&self.store.terms.export_condition(condition))
    }

    /// Adds a condition as facts of the current block.
    fn assume(&mut self, condition: &Cond) -> Vec<Label> {
        let before = self.branch.context.facts.len();
        self.branch.assume(&self.store, condition);
        self.rules.clear();
        self.forms.clear();
        let depth = self.depth();
        let more: Vec<Cond> = self.branch.context.facts.iter().skip(before).cloned().collect();
        let mut labels = Vec::new();
        for fact in more {
            let label = self.label(depth);
            let text = self.text(&fact);
            if let Some(frame) = self.frames.last_mut() {
                frame.known.entry(text).or_insert(label);
            }
            labels.push(label);
        }
        self.facts.extend(&labels);
        labels
    }

    /// Writes a block with one condition more: the facts of it, and the block.
    fn within(
        &mut self,
        more: &Cond,
        write: impl FnOnce(&mut Self) -> Option<End>,
    ) -> Option<(Vec<Label>, Block)> {
        let before = (self.branch.clone(), self.facts.len());
        self.frames.push(Frame::default());
        let adds = self.assume(more);
        let end = write(self);
        let frame = self.frames.pop()?;
        self.branch = before.0;
        self.facts.truncate(before.1);
        self.rules.clear();
        self.forms.clear();
        Some((adds, Block { lines: frame.lines, end: end? }))
    }

    /// Proves a condition, which becomes facts of the current block.
    fn prove(&mut self, condition: &Cond, write: impl FnOnce(&mut Self) -> Option<End>) -> Option<()> {
        let (opposite, proof) = self.within(&condition.negated(), write)?;
        let claim = self.text(condition);
        let adds = self.assume(condition);
        self.push(Line::Prove { claim, opposite, proof, adds })
    }

    /// Proves that a condition does not hold: facts for the checker, not for the engine.
    fn exclude(&mut self, condition: &Cond, write: impl FnOnce(&mut Self) -> Option<End>) -> Option<()> {
        let (opposite, proof) = self.within(condition, write)?;
        let negated = condition.negated();
        let (claim, depth) = (self.text(&negated), self.depth());
        let mut adds = Vec::new();
        for part in conjuncts(&negated) {
            let (text, label) = (self.text(part), self.label(depth));
            self.frames.last_mut()?.known.entry(text).or_insert(label);
            adds.push(label);
        }
        self.push(Line::Prove { claim, opposite, proof, adds })
    }

    /// Proves one comparison where the facts stand that it rests on.
    fn lemma(&mut self, claim: &str, uses: &[Label], end: impl FnOnce(Label) -> End) -> Label {
        if let Some(known) = self.known(claim) {
            return known;
        }
        let depth = uses.iter().filter_map(|label| self.depths.get(*label)).copied().max().unwrap_or(0);
        let (opposite, label) = (self.label(depth + 1), self.label(depth));
        let proof = Block { lines: Vec::new(), end: end(opposite) };
        let line =
            Line::Prove { claim: claim.to_owned(), opposite: vec![opposite], proof, adds: vec![label] };
        if let Some(frame) = self.frames.get_mut(depth) {
            frame.lines.push(line);
            frame.known.insert(claim.to_owned(), label);
        }
        label
    }

    /// Two terms are equal by the rules.
    fn derive(&mut self, a: &str, b: &str, rules: &Rules) -> Label {
        let claim = format!("(= {a} {b})");
        if let Some(known) = self.known(&claim) {
            return known;
        }
        let rules = rules.labels();
        let depth = rules.iter().filter_map(|label| self.depths.get(*label)).copied().max().unwrap_or(0);
        let label = self.label(depth);
        if let Some(frame) = self.frames.get_mut(depth) {
            frame.lines.push(Line::Equal { rules, sides: format!("{a} {b}"), adds: vec![label] });
            frame.known.insert(claim, label);
        }
        label
    }

    /// States what an axiom says, given the texts of its facts.
    fn state(&mut self, step: String, uses: &[Label], says: &[String]) -> Vec<Label> {
        if let Some(known) = says.iter().map(|text| self.known(text)).collect::<Option<Vec<_>>>() {
            return known;
        }
        let depth = uses.iter().filter_map(|label| self.depths.get(*label)).copied().max().unwrap_or(0);
        let labels: Vec<Label> = says.iter().map(|_| self.label(depth)).collect();
        if let Some(frame) = self.frames.get_mut(depth) {
            for (text, label) in says.iter().zip(&labels) {
                frame.known.entry(text.clone()).or_insert(*label);
            }
            frame.lines.push(Line::Plain(step, labels.clone()));
        }
        labels
    }

    fn proof(&mut self, proof: &Proof) -> Option<End> {
        match proof {
            Proof::Split { condition, holds, fails } => {
                let condition = self.store.terms.import_condition(condition)?;
                self.prove(&condition.negated(), |s| s.proof(holds))?;
                self.proof(fails)
            }
            Proof::Cases { fact, branches } => {
                let Some(Cond::Or(parts)) = self.branch.context.facts.get(*fact).cloned() else {
                    return None;
                };
                let label = *self.facts.get(*fact)?;
                for (part, branch) in parts.iter().zip(branches) {
                    self.exclude(part, |s| s.proof(branch))?;
                }
                Some(End::Cases(label))
            }
            Proof::Axiom { axiom, then } => {
                self.axiom(axiom)?;
                self.proof(then)
            }
            Proof::Combine(sum) => self.combine(sum),
            Proof::Evaluate { fact } => Some(End::Evaluate(*self.facts.get(*fact)?)),
        }
    }

    fn combine(&mut self, sum: &[Sum]) -> Option<End> {
        let mut rules = Rules::default();
        let mut summands = Vec::new();
        for term in sum {
            let mut factors = Vec::new();
            for factor in &term.factors {
                factors.push(match factor {
                    Factor::Fact(number) => Piece::Fact(self.plain_fact(*number, &mut rules)?),
                    Factor::Square(of) => {
                        let of = self.store.terms.import(of)?;
                        Piece::Square(self.plain_term(of, &mut rules)?)
                    }
                    Factor::Any(of) => {
                        let of = self.store.terms.import(of)?;
                        Piece::Any(self.plain_term(of, &mut rules)?)
                    }
                });
            }
            summands.push(Summand { scale: term.scale.clone(), factors });
        }
        Some(End::Combine(rules.labels(), summands))
    }

    /// States an axiom of the engine in the current block.
    fn axiom(&mut self, axiom: &Axiom) -> Option<()> {
        let (step, says) = match axiom {
            Axiom::Whole(fact) => return self.whole(*fact),
            Axiom::Rounding(of) => {
                let id = self.store.terms.import(of)?;
                let Term::Call(function, a) = *self.store.terms.get(id) else { return None };
                let one = self.store.terms.number(Rational::ONE);
                let up = function == Function::Ceil;
                let far = self.store.terms.intern(if up { Term::Add(a, one) } else { Term::Sub(a, one) });
                let (near, away) = if up {
                    (Relation::GreaterEqual, Relation::Less)
                } else {
                    (Relation::LessEqual, Relation::Greater)
                };
                let says = vec![Cond::Compare(near, id, a), Cond::Compare(away, id, far)];
                (format!("({} {})", if up { "up" } else { "down" }, self.term_text(a)), says)
            }
            Axiom::Root(of) => {
                let id = self.store.terms.import(of)?;
                let Term::Call(Function::Sqrt, a) = *self.store.terms.get(id) else { return None };
                let zero = self.store.terms.number(Rational::ZERO);
                self.ensure(&Cond::Compare(Relation::GreaterEqual, a, zero))?;
                let square = self.store.terms.intern(Term::Mul(id, id));
                let says = vec![
                    Cond::Compare(Relation::GreaterEqual, id, zero),
                    Cond::Compare(Relation::Equal, square, a),
                ];
                (format!("(sqrt {})", self.term_text(a)), says)
            }
            Axiom::Angle(of) => {
                let id = self.store.terms.import(of)?;
                (format!("(angle {})", self.term_text(id)), self.angle_facts(id)?)
            }
        };
        let adds = self.assume(&Cond::And(says));
        self.push(Line::Plain(step, adds))
    }

    fn angle_facts(&mut self, angle: TermId) -> Option<Vec<Cond>> {
        let terms = &mut self.store.terms;
        let (zero, right) = (terms.number(Rational::ZERO), terms.number(Rational::from(90)));
        self.ensure(&Cond::Compare(Relation::GreaterEqual, angle, zero))?;
        self.ensure(&Cond::Compare(Relation::LessEqual, angle, right))?;
        let terms = &mut self.store.terms;
        let (sine, cosine) =
            (terms.intern(Term::Call(Function::Sin, angle)), terms.intern(Term::Call(Function::Cos, angle)));
        let (pi, half_turn, two) =
            (terms.intern(Term::Pi), terms.number(Rational::from(180)), terms.number(Rational::from(2)));
        let product = terms.intern(Term::Mul(angle, pi));
        let radians = terms.intern(Term::Div(product, half_turn));
        let scaled = terms.intern(Term::Mul(radians, cosine));
        let chord = terms.intern(Term::Mul(two, radians));
        let stretched = terms.intern(Term::Mul(pi, sine));
        Some(vec![
            Cond::Compare(Relation::LessEqual, sine, radians),
            Cond::Compare(Relation::GreaterEqual, sine, scaled),
            Cond::Compare(Relation::GreaterEqual, stretched, chord),
            Cond::Compare(Relation::GreaterEqual, sine, zero),
            Cond::Compare(Relation::GreaterEqual, cosine, zero),
        ])
    }

    /// Of `a > b` between whole values, the fact of that number: `a >= b + 1`, one number where b is one.
    fn whole(&mut self, fact: usize) -> Option<()> {
        let (a, b) = match self.branch.context.facts.get(fact)? {
            Cond::Compare(Relation::Greater, a, b) => (*a, *b),
            Cond::Compare(Relation::Less, a, b) => (*b, *a),
            Cond::True | Cond::False | Cond::And(_) | Cond::Or(_) | Cond::Compare(..) => return None,
        };
        self.ensure(&Cond::Compare(Relation::Greater, a, b))?;
        let step = format!("(whole {} {})", self.term_text(a), self.term_text(b));
        let one = self.store.terms.number(Rational::ONE);
        let next = self.store.terms.intern(Term::Add(b, one));
        let gap = Cond::Compare(Relation::GreaterEqual, a, next);
        let Some(value) = self.store.terms.as_number(b).cloned() else {
            let adds = self.assume(&gap);
            return self.push(Line::Plain(step, adds));
        };
        let depth = self.depth();
        let gap = self.label(depth);
        self.push(Line::Plain(step, vec![gap]))?;
        let next = self.store.terms.number(value + Rational::ONE);
        let condition = Cond::Compare(Relation::GreaterEqual, a, next);
        self.prove(&condition, |s| {
            let opposite = *s.facts.last()?;
            Some(End::Combine(Vec::new(), vec![summand(1, &[gap]), summand(1, &[opposite])]))
        })
    }
}

/// The conditions that are joined by `and`.
fn conjuncts(condition: &Cond) -> Vec<&Cond> {
    match condition {
        Cond::True => Vec::new(),
        Cond::And(parts) => parts.iter().flat_map(conjuncts).collect(),
        Cond::False | Cond::Compare(..) | Cond::Or(_) => vec![condition],
    }
}
