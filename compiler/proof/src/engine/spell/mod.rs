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
mod point;
mod rules;
mod waves;
mod whole;

use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;

use borewright_motion::{Function, Relation};
use borewright_number::Rational;
use serde_json::Value;

use super::algebra::FactorId;
use super::normal::{Branch, Store};
use super::poly::Atom;
use super::term::{Cond, Term, TermId, Terms};
use crate::certificate::{Axiom, Certificate, Factor, Proof, Step, Term as Sum};
use crate::certify::text;
use crate::formula::{Formula, Sort};
use clear::Form;
use lines::{Block, End, Label, Line, Summand, Writer, opposite, product, sides, summand};
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
    /// How deep the block of each labelled fact is nested, and what it says.
    depths: Vec<usize>,
    texts: Vec<String>,
    names: HashMap<String, (String, Label)>,
    needs: HashMap<TermId, BTreeSet<Cond>>,
    // What was found under the facts of the branch.
    rules: HashMap<TermId, Rc<Rules>>,
    forms: HashMap<TermId, Rc<Form>>,
    /// Factors whose sign is being looked for.
    busy: BTreeSet<FactorId>,
}

/// The steps of a proof of the formula; `None` if the certificate is none of it.
pub(crate) fn spell(formula: &Formula, certificate: &Certificate) -> Option<Vec<Value>> {
    let mut terms = Terms::new(formula)?;
    terms.number(Rational::ZERO);
    let hypotheses: Vec<Cond> =
        formula.hypotheses.iter().map(|h| terms.import_condition(&h.condition)).collect::<Option<_>>()?;
    let goal = terms.import_condition(&formula.goal)?;
    let mut spelling = Spelling::new(terms);
    spelling.assume_whole()?;
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
    spelling.written()
}

/// The steps that show all hypotheses of a formula with values in place of its variables; `None` if they
/// cannot be decided there.
pub(crate) fn spell_values(formula: &Formula, at: &Formula) -> Option<Vec<Value>> {
    let mut terms = Terms::new(at)?;
    terms.number(Rational::ZERO);
    let mut spelling = Spelling::new(terms);
    for variable in formula.variables.iter().filter(|v| v.definition.is_none() && v.sort == Sort::Whole) {
        let value = spelling.store.terms.by_name(&variable.symbol)?;
        spelling.whole(value)?;
    }
    for hypothesis in &formula.hypotheses {
        let condition = spelling.store.terms.import_condition(&hypothesis.condition)?;
        spelling.show_defined(&condition)?;
    }
    spelling.written()
}

impl Spelling {
    fn new(terms: Terms) -> Self {
        let store = Store { terms, ..Store::default() };
        Self { store, frames: vec![Frame::default()], ..Self::default() }
    }

    /// The steps of the outermost block.
    fn written(mut self) -> Option<Vec<Value>> {
        let frame = self.frames.pop()?;
        let lines = Writer::new(&self.texts).lines(&frame.lines);
        Some(lines.iter().map(|line| text::parsed(line)).collect())
    }

    fn push(&mut self, line: Line) -> Option<()> {
        self.frames.last_mut()?.lines.push(line);
        Some(())
    }

    fn label(&mut self, depth: usize, text: &str) -> Label {
        self.depths.push(depth);
        self.texts.push(text.to_owned());
        self.depths.len() - 1
    }

    /// How deep the innermost block is nested in which some facts stand.
    fn depth_of(&self, uses: &[Label]) -> usize {
        uses.iter().filter_map(|label| self.depths.get(*label)).copied().max().unwrap_or(0)
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
            let text = self.text(&fact);
            let label = self.label(depth, &text);
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
            let text = self.text(part);
            let label = self.label(depth, &text);
            self.frames.last_mut()?.known.entry(text).or_insert(label);
            adds.push(label);
        }
        self.push(Line::Prove { claim, opposite, proof, adds })
    }

    /// Proves one comparison where the facts stand that it rests on.
    fn lemma(&mut self, claim: &str, uses: &[Label], end: impl FnOnce(Label) -> End) -> Label {
        self.lemma_by(claim, uses, |_, opposite| Block { lines: Vec::new(), end: end(opposite) })
    }

    /// The same by steps: a block with the opposite of the claim.
    fn lemma_by(
        &mut self,
        claim: &str,
        uses: &[Label],
        block: impl FnOnce(&mut Self, Label) -> Block,
    ) -> Label {
        if let Some(known) = self.known(claim) {
            return known;
        }
        let depth = self.depth_of(uses);
        let opposite = self.label(depth + 1, &opposite(claim));
        let label = self.label(depth, claim);
        let proof = block(self, opposite);
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
        let rules = rules.labels();
        self.lemma(&format!("(= {a} {b})"), &rules, |opposite| {
            End::Combine(rules.clone(), vec![summand(1, &[opposite])])
        })
    }

    /// Of a fact `a != b`: the square of `a - b` is positive.
    fn apart(&mut self, fact: Label) -> Option<Label> {
        let text = self.texts.get(fact)?.clone();
        let (a, b) = sides(&text)?;
        self.state(format!("(apart {a} {b})"), &[fact], &[square_apart(a, b)]).first().copied()
    }

    /// Of a fact `a = b`: `c * a = c * b`.
    fn scaled(&mut self, fact: Label, c: &str) -> Option<Label> {
        let text = self.texts.get(fact)?.clone();
        let (a, b) = sides(&text)?;
        let says = format!("(= (* {c} {a}) (* {c} {b}))");
        self.state(format!("(scaled {a} {b} {c})"), &[fact], &[says]).first().copied()
    }

    /// States what an axiom says, given the texts of its facts.
    fn state(&mut self, step: String, uses: &[Label], says: &[String]) -> Vec<Label> {
        if let Some(known) = says.iter().map(|text| self.known(text)).collect::<Option<Vec<_>>>() {
            return known;
        }
        let depth = self.depth_of(uses);
        let labels: Vec<Label> = says.iter().map(|text| self.label(depth, text)).collect();
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
            Proof::Evaluate { fact } => {
                let label = *self.facts.get(*fact)?;
                let is_false = self.branch.context.facts.get(*fact) == Some(&Cond::False);
                Some(if is_false {
                    End::Cases(label)
                } else {
                    self.wrong_number().unwrap_or(End::Evaluate(label))
                })
            }
        }
    }

    /// A fact between numbers that does not hold, as the engine may mean with any fact that it evaluates.
    fn wrong_number(&self) -> Option<End> {
        let mut facts = self.branch.context.facts.iter().zip(&self.facts);
        let wrong = facts.find(|(fact, _)| {
            let Cond::Compare(relation, a, b) = fact else { return false };
            self.constant_order(*a, *b).is_some_and(|order| !relation.holds(order))
        });
        wrong.map(|(_, label)| End::Evaluate(*label))
    }

    fn combine(&mut self, sum: &[Sum]) -> Option<End> {
        let mut rules = Rules::default();
        let mut summands = Vec::new();
        for term in sum {
            let (mut factors, mut any) = (Vec::new(), Vec::new());
            for factor in &term.factors {
                match factor {
                    Factor::Fact(number) => factors.push(self.plain_fact(*number, &mut rules)?),
                    Factor::Square(of) => {
                        let of = self.store.terms.import(of)?;
                        let of = self.plain_term(of, &mut rules)?;
                        let says = format!("(>= (* {of} {of}) 0)");
                        factors.extend(self.state(format!("(square {of})"), &[], &[says]));
                    }
                    Factor::Any(of) => {
                        let of = self.store.terms.import(of)?;
                        any.push(self.plain_term(of, &mut rules)?);
                    }
                }
            }
            self.strengthen(&mut factors, &any)?;
            summands.push(Summand { scale: term.scale.clone(), factors });
        }
        Some(End::Combine(rules.labels(), summands))
    }

    /// Squares of what is not 0 in place of that; and an equation times anything.
    fn strengthen(&mut self, factors: &mut [Label], any: &[String]) -> Option<()> {
        for factor in &mut *factors {
            if self.texts.get(*factor)?.starts_with("(!= ") {
                *factor = self.apart(*factor)?;
            }
        }
        if any.is_empty() {
            return Some(());
        }
        let is_equation = |label: &&mut Label| self.texts.get(**label).is_some_and(|t| t.starts_with("(= "));
        let equation = factors.iter_mut().find(is_equation)?;
        *equation = self.scaled(*equation, &product(any))?;
        Some(())
    }

    /// States an axiom of the engine in the current block.
    fn axiom(&mut self, axiom: &Axiom) -> Option<()> {
        let (step, says) = match axiom {
            Axiom::Whole(fact) => return self.next(*fact),
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
}

/// The conditions that are joined by `and`.
fn conjuncts(condition: &Cond) -> Vec<&Cond> {
    match condition {
        Cond::True => Vec::new(),
        Cond::And(parts) => parts.iter().flat_map(conjuncts).collect(),
        Cond::False | Cond::Compare(..) | Cond::Or(_) => vec![condition],
    }
}

/// What is said of `a` and `b` that are not equal.
fn square_apart(a: &str, b: &str) -> String {
    format!("(> (* (- {a} {b}) (- {a} {b})) 0)")
}
