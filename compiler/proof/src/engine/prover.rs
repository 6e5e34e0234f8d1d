//! The order of work for one formula.

use borewright_motion::{Function, Relation};
use borewright_number::Rational;

use super::normal::{Branch, Store};
use super::sums::Level;
use super::term::{Cond, Term, TermId, Terms};
use super::well::Well;
use super::{Budget, Outcome};
use crate::certificate::{Axiom, Certificate, Proof, Step};
use crate::formula::{Answer, Formula, Valuation};

/// Works on one formula.
#[derive(Debug)]
pub(super) struct Prover {
    pub(super) store: Store,
    pub(super) hypotheses: Vec<Cond>,
    pub(super) goal: Cond,
    pub(super) hints: Vec<TermId>,
    /// The facts so far, shared by all claims.
    pub(super) base: Branch,
    /// For each fact of `base`: the hypotheses it rests on.
    sources: Vec<Vec<usize>>,
    well: Well,
    steps: Vec<Step>,
    spent: u64,
    limit: u64,
}

impl Prover {
    /// Takes the formula in; `None` for names without value.
    pub(super) fn new(formula: &Formula, budget: &Budget) -> Option<Self> {
        let mut terms = Terms::new(formula)?;
        terms.number(Rational::ZERO);
        let hypotheses =
            formula.hypotheses.iter().map(|h| terms.import_condition(&h.condition)).collect::<Option<_>>()?;
        let goal = terms.import_condition(&formula.goal)?;
        let hints = formula.hints.iter().map(|h| terms.import(h)).collect::<Option<_>>()?;
        Some(Self {
            store: Store { terms, ..Store::default() },
            hypotheses,
            goal,
            hints,
            base: Branch::default(),
            sources: Vec::new(),
            well: Well::default(),
            steps: Vec::new(),
            spent: 0,
            limit: budget.steps,
        })
    }

    /// Counts work; false when the budget is used up.
    pub(super) fn spend(&mut self, steps: u64) -> bool {
        self.spent = self.spent.saturating_add(steps);
        self.spent <= self.limit
    }

    /// Decides the formula.
    pub(super) fn run(&mut self) -> Outcome {
        let answer = self.decide();
        let certificate = matches!(answer, Answer::Proved { .. })
            .then(|| Certificate { steps: std::mem::take(&mut self.steps) });
        Outcome { answer, steps: self.spent, certificate }
    }

    fn decide(&mut self) -> Answer {
        if let Some(point) = self.find_point() {
            return Answer::Refuted(point);
        }
        match self.prove_all() {
            Ok(used) => Answer::Proved { used },
            Err(why) => match self.find_point_hard() {
                Some(point) => Answer::Refuted(point),
                None => Answer::Unknown { why },
            },
        }
    }

    /// All steps of a certificate; the hypotheses that were used.
    fn prove_all(&mut self) -> Result<Vec<usize>, String> {
        for (number, hypothesis) in self.hypotheses.clone().into_iter().enumerate() {
            let needed = self.well.condition(&mut self.store.terms, &hypothesis);
            self.require(&needed).ok_or_else(|| {
                format!("hypothesis {} may divide by 0 or take a root of a negative number", number + 1)
            })?;
            self.steps.push(Step::Assume);
            self.add_to_base(&hypothesis, vec![number]);
        }
        let goal = self.goal.clone();
        let needed = self.well.condition(&mut self.store.terms, &goal);
        self.require(&needed)
            .ok_or_else(|| "the claim may divide by 0 or take a root of a negative number".to_owned())?;
        self.add_axioms();
        let used = self.prove_claim(&goal).ok_or_else(|| {
            if self.spent > self.limit { "the step budget is used up" } else { "no proof was found" }
                .to_owned()
        })?;
        Ok(used)
    }

    /// Proves what a hypothesis or the goal needs to be well defined, and makes it a fact.
    fn require(&mut self, needed: &Cond) -> Option<()> {
        if *needed == Cond::True {
            return Some(());
        }
        let parts = if let Cond::And(parts) = needed { parts.clone() } else { vec![needed.clone()] };
        for part in parts {
            match part {
                Cond::Compare(Relation::NotEqual, term, _) => self.sign_divisor(term),
                part @ Cond::Compare(..) => {
                    self.know(&part);
                }
                Cond::True | Cond::False | Cond::And(_) | Cond::Or(_) => {}
            }
        }
        let used = self.prove_claim(needed)?;
        self.add_to_base(needed, used);
        Some(())
    }

    /// Proves the sign of a divisor, and of its factors, where that is easy.
    fn sign_divisor(&mut self, term: TermId) {
        let zero = self.store.terms.number(Rational::ZERO);
        if self.base.context.orders(term, zero).sign().is_some() {
            return;
        }
        for factor in self.factor_terms(term) {
            for relation in [Relation::Greater, Relation::Less] {
                if self.know(&Cond::Compare(relation, factor, zero)) {
                    break;
                }
            }
        }
        for relation in [Relation::Greater, Relation::Less] {
            if self.know(&Cond::Compare(relation, term, zero)) {
                break;
            }
        }
    }

    /// The factors that the normal form of a divisor shows, if there are several.
    fn factor_terms(&mut self, term: TermId) -> Vec<TermId> {
        let mut branch = self.base.clone();
        let Some(normal) = branch.normal(&mut self.store, term) else { return Vec::new() };
        let common = normal.num.common_mono();
        let rest = normal.num.over_mono(&common);
        let mut factors: Vec<TermId> =
            common.0.iter().filter_map(|atom| self.store.algebra.term_of(*atom)).collect();
        factors.dedup();
        if !factors.is_empty() && rest.as_constant().is_none() {
            factors.push(self.poly_term(&rest));
        }
        factors
    }

    /// Makes a condition a fact if it is already one or is proved quickly.
    fn know(&mut self, condition: &Cond) -> bool {
        if self.base.context.decides(condition) == Some(true) {
            return true;
        }
        let mut branch = self.base.clone();
        let from = branch.context.facts.len();
        branch.assume(&self.store, &condition.negated());
        let proof = match self.close_quickly(&mut branch, from) {
            Some(proof) => proof,
            None => match self.combine(&mut branch, from, Level::Goal) {
                Some(proof) => proof,
                None => return false,
            },
        };
        self.push_proof(condition, proof);
        true
    }

    fn push_proof(&mut self, condition: &Cond, proof: Proof) {
        let used = self.used_by(&proof);
        let exported = self.store.terms.export_condition(condition);
        self.steps.push(Step::Prove { condition: exported, proof });
        self.add_to_base(condition, used);
    }

    /// Proves a claim from the base facts as one step; the hypotheses used.
    fn prove_claim(&mut self, claim: &Cond) -> Option<Vec<usize>> {
        let mut branch = self.base.clone();
        let from = branch.context.facts.len();
        branch.assume(&self.store, &claim.negated());
        let proof = self.close(branch, from, 0)?;
        let used = self.used_by(&proof);
        let condition = self.store.terms.export_condition(claim);
        self.steps.push(Step::Prove { condition, proof });
        Some(used)
    }

    fn add_to_base(&mut self, condition: &Cond, sources: Vec<usize>) {
        self.base.assume(&self.store, condition);
        self.sources.resize(self.base.context.facts.len(), sources);
    }

    /// Axioms about the roots and roundings that occur.
    fn add_axioms(&mut self) {
        let mut index = 0;
        while index < self.store.terms.len() {
            let id = TermId(u32::try_from(index).unwrap_or(u32::MAX));
            index += 1;
            match self.store.terms.get(id).clone() {
                Term::Call(Function::Sqrt, a) => self.root_axiom(id, a),
                Term::Call(function @ (Function::Ceil | Function::Floor), a) => {
                    self.rounding_axiom(id, function, a);
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
                | Term::Max(..)
                | Term::If(..) => {}
            }
        }
    }

    fn root_axiom(&mut self, id: TermId, a: TermId) {
        if self.base.against_zero(&mut self.store, a, Relation::GreaterEqual) != Some(true) {
            return;
        }
        let zero = self.store.terms.number(Rational::ZERO);
        let square = self.store.terms.intern(Term::Mul(id, id));
        let conclusion = Cond::And(vec![
            Cond::Compare(Relation::GreaterEqual, id, zero),
            Cond::Compare(Relation::Equal, square, a),
        ]);
        let expr = self.store.terms.export(id);
        self.steps.push(Step::Axiom(Axiom::Root(expr)));
        self.add_to_base(&conclusion, Vec::new());
    }

    fn rounding_axiom(&mut self, id: TermId, function: Function, a: TermId) {
        let up = function == Function::Ceil;
        let one = self.store.terms.number(Rational::ONE);
        let far = self.store.terms.intern(if up { Term::Add(a, one) } else { Term::Sub(a, one) });
        let (near, away) = if up {
            (Relation::GreaterEqual, Relation::Less)
        } else {
            (Relation::LessEqual, Relation::Greater)
        };
        let conclusion = Cond::And(vec![Cond::Compare(near, id, a), Cond::Compare(away, id, far)]);
        let expr = self.store.terms.export(id);
        self.steps.push(Step::Axiom(Axiom::Rounding(expr)));
        self.add_to_base(&conclusion, Vec::new());
    }

    /// The hypotheses that the facts used in a proof rest on.
    fn used_by(&self, proof: &Proof) -> Vec<usize> {
        let mut facts = Vec::new();
        super::close::facts_of(proof, &mut facts);
        let mut used: Vec<usize> =
            facts.into_iter().filter_map(|fact| self.sources.get(fact)).flatten().copied().collect();
        used.sort_unstable();
        used.dedup();
        used
    }

    /// By symbol, for the answer.
    pub(super) fn valuation(&self, point: &[Option<Rational>]) -> Valuation {
        let mut values = Valuation::new();
        for (free, value) in self.store.terms.free.iter().zip(point) {
            if let Some(value) = value {
                values.insert(free.symbol.clone(), value.clone());
            }
        }
        values
    }
}
