//! The order of work for one formula.

use borewright_motion::Relation;
use borewright_number::Rational;

use super::normal::{Branch, Store};
use super::search::Hunt;
use super::sums::Level;
use super::term::{Cond, TermId, Terms};
use super::well::Well;
use super::{Budget, Outcome};
use crate::certificate::{Certificate, Proof, Step};
use crate::formula::{Answer, Formula, Valuation};

/// Tries before any proof.
const FIRST_TRIES: u64 = 2;

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
    pub(super) sources: Vec<Vec<usize>>,
    /// Hypotheses that make others and the goal well defined.
    defining: Vec<usize>,
    /// How far the products of [`Self::close`] go.
    pub(super) top: Level,
    well: Well,
    pub(super) steps: Vec<Step>,
    spent: u64,
    pub(super) limit: u64,
    /// Where a counterexample is looked for; once it has been.
    pub(super) hunts: Option<Vec<Hunt>>,
    /// Quick tries made.
    pub(super) tried: u64,
    /// A counterexample that turned up while a proof was looked for.
    pub(super) found: Option<Valuation>,
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
            defining: Vec::new(),
            top: Level::AllTriples,
            well: Well::default(),
            steps: Vec::new(),
            spent: 0,
            limit: budget.steps,
            hunts: None,
            tried: 0,
            found: None,
        })
    }

    /// Counts work; false when the budget is used up.
    pub(super) fn spend(&mut self, steps: u64) -> bool {
        self.spent = self.spent.saturating_add(steps);
        self.spent <= self.limit && self.found.is_none()
    }

    /// Decides the formula.
    pub(super) fn run(&mut self) -> Outcome {
        let answer = self.decide();
        let certificate = matches!(answer, Answer::Proved { .. })
            .then(|| Certificate { steps: std::mem::take(&mut self.steps) });
        Outcome { answer, steps: self.spent, certificate }
    }

    /// Decides the formula without a long search for a counterexample.
    pub(super) fn run_briefly(&mut self) -> Outcome {
        let answer = self.decide_quickly().unwrap_or_else(|why| Answer::Unknown { why });
        Outcome { answer, steps: self.spent, certificate: None }
    }

    fn decide(&mut self) -> Answer {
        self.decide_quickly().unwrap_or_else(|why| match self.find_point_hard() {
            Some(point) => Answer::Refuted(point),
            None => Answer::Unknown { why },
        })
    }

    /// By few tries, the easy part of a proof, the rest of the quick tries, and the rest of the proof; or why not.
    fn decide_quickly(&mut self) -> Result<Answer, String> {
        if let Some(point) = self.find_point_within(FIRST_TRIES) {
            return Ok(Answer::Refuted(point));
        }
        let proved = self.prove_all();
        if proved.is_err() {
            self.look_again();
        }
        match self.found.take() {
            Some(point) => Ok(Answer::Refuted(point)),
            None => proved.map(|used| Answer::Proved { used }),
        }
    }

    /// All steps of a certificate; the hypotheses that were used.
    pub(super) fn prove_all(&mut self) -> Result<Vec<usize>, String> {
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
        self.add_lemmas();
        let mut used = self.prove_claim(&goal).ok_or_else(|| {
            if self.spent > self.limit { "the step budget is used up" } else { "no proof was found" }
                .to_owned()
        })?;
        used.append(&mut self.defining);
        used.sort_unstable();
        used.dedup();
        Ok(used)
    }

    /// Proves what a hypothesis or the goal needs to be well defined, and makes it a fact.
    fn require(&mut self, needed: &Cond) -> Option<()> {
        if *needed == Cond::True {
            return Some(());
        }
        self.add_roundings(needed);
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
        self.defining.extend(&used);
        self.add_to_base(needed, used);
        Some(())
    }

    /// Proves the sign of a divisor, and of its factors, where that is easy.
    fn sign_divisor(&mut self, term: TermId) {
        let zero = self.store.terms.number(Rational::ZERO);
        if self.base.context.orders(term, zero).sign().is_some() {
            return;
        }
        let mut facts = Vec::new();
        for factor in self.factor_terms(term) {
            facts.extend(self.know_sign(factor));
        }
        if self.know_sign(term).is_some() {
            return;
        }
        for relation in [Relation::Greater, Relation::Less] {
            if facts.is_empty() {
                break;
            }
            let condition = Cond::Compare(relation, term, zero);
            let mut branch = self.base.clone();
            let from = branch.context.facts.len();
            branch.assume(&self.store, &condition.negated());
            if let Some(proof) = self.close_by_product(&mut branch, from, &facts) {
                self.push_proof(&condition, proof);
                return;
            }
        }
        self.sign_by_products(term);
    }

    /// Proves the sign that a divisor has at some point, by products.
    fn sign_by_products(&mut self, term: TermId) {
        let zero = self.store.terms.number(Rational::ZERO);
        let Some(relation) = self.sign_somewhere(term) else { return };
        let claim = Cond::Compare(relation, term, zero);
        let proof = match self.count_vectors() {
            0 => self.close_claim(&claim, Level::Pairs),
            _ => self.close_with(&claim, Level::Pairs, Self::add_products),
        };
        if let Some(proof) = proof {
            self.push_proof(&claim, proof);
        }
    }

    /// The fact `term > 0` or `term < 0`, where one is easy to prove.
    pub(super) fn know_sign(&mut self, term: TermId) -> Option<Cond> {
        let zero = self.store.terms.number(Rational::ZERO);
        [Relation::Greater, Relation::Less]
            .into_iter()
            .map(|relation| Cond::Compare(relation, term, zero))
            .find(|condition| self.know(condition))
    }

    /// The factors that the normal form of a divisor shows, if there are several.
    fn factor_terms(&mut self, term: TermId) -> Vec<TermId> {
        let mut branch = self.base.clone();
        let Some(normal) = branch.normal(&mut self.store, term) else { return Vec::new() };
        let common = normal.num.common_mono();
        let rest = normal.num.over_mono(&common);
        let mut factors: Vec<TermId> =
            common.0.iter().filter_map(|atom| self.store.algebra.term_of(*atom)).collect();
        if !factors.is_empty() && rest.as_constant().is_none() {
            factors.push(self.poly_term(&rest));
        }
        factors
    }

    /// Makes a condition a fact if it is already one or is proved quickly.
    pub(super) fn know(&mut self, condition: &Cond) -> bool {
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

    pub(super) fn push_proof(&mut self, condition: &Cond, proof: Proof) {
        let used = self.used_by(condition, &proof);
        let exported = self.store.terms.export_condition(condition);
        self.steps.push(Step::Prove { condition: exported, proof });
        self.add_to_base(condition, used);
    }

    /// Proves a claim from the base facts as one step; the hypotheses used.
    fn prove_claim(&mut self, claim: &Cond) -> Option<Vec<usize>> {
        let ranged = self.close_by_counters(claim);
        let proof = match self.count_vectors() {
            _ if ranged.is_some() => ranged,
            0 => None,
            1 => self.close_with(claim, Level::Pairs, Self::add_products),
            _ => self
                .close_with(claim, Level::Goal, Self::add_triangles)
                .or_else(|| self.close_with(claim, Level::Pairs, Self::add_products)),
        };
        let proof = proof.or_else(|| self.close_claim(claim, Level::AllTriples))?;
        let used = self.used_by(claim, &proof);
        let condition = self.store.terms.export_condition(claim);
        self.steps.push(Step::Prove { condition, proof });
        Some(used)
    }

    /// With products up to a level.
    pub(super) fn close_claim(&mut self, claim: &Cond, top: Level) -> Option<Proof> {
        let mut branch = self.base.clone();
        let from = branch.context.facts.len();
        branch.assume(&self.store, &claim.negated());
        self.top = top;
        let proof = self.close(branch, from, 0);
        self.top = Level::AllTriples;
        proof
    }

    /// With products up to a level; if these don't do, with more facts besides. Facts that did not help are forgotten:
    /// they would only make longer sums.
    fn close_with(&mut self, claim: &Cond, top: Level, add: fn(&mut Self) -> bool) -> Option<Proof> {
        if let Some(proof) = self.close_claim(claim, top) {
            return Some(proof);
        }
        self.look_again();
        let before = (self.base.clone(), self.sources.len(), self.steps.len());
        let found = if add(self) { self.close_claim(claim, top) } else { None };
        if found.is_none() {
            self.base = before.0;
            self.sources.truncate(before.1);
            self.steps.truncate(before.2);
        }
        found
    }

    pub(super) fn add_to_base(&mut self, condition: &Cond, sources: Vec<usize>) {
        self.base.assume(&self.store, condition);
        self.sources.resize(self.base.context.facts.len(), sources);
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
