//! The order of work for one formula.

use borewright_motion::{Condition, Function, Relation};
use borewright_number::{Interval, Rational};

use super::normal::{Branch, Store};
use super::term::{Cond, Term, TermId, Terms, VarId};
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
        let used = self.prove_claim(needed)?;
        self.add_to_base(needed, used);
        let mut divisors = Vec::new();
        if let Cond::And(parts) = needed {
            parts.iter().for_each(|part| divisors.extend(divisor(part)));
        } else {
            divisors.extend(divisor(needed));
        }
        for term in divisors {
            self.sign_divisor(term);
        }
        Some(())
    }

    /// Proves the sign of a divisor, and that the variables in it are positive, where that is easy.
    fn sign_divisor(&mut self, term: TermId) {
        let mut variables = Vec::new();
        self.variables_of(term, &mut variables);
        let zero = self.store.terms.number(Rational::ZERO);
        for variable in variables {
            let range = self.base.context.bounds.get(&variable).copied().unwrap_or(Interval::ENTIRE);
            if range.lo > 0.0 {
                self.know(&Cond::Compare(Relation::Greater, variable, zero));
            }
        }
        for relation in [Relation::Greater, Relation::Less] {
            if self.know(&Cond::Compare(relation, term, zero)) {
                break;
            }
        }
    }

    fn variables_of(&self, term: TermId, found: &mut Vec<TermId>) {
        if matches!(self.store.terms.get(term), Term::Var(_)) {
            if !found.contains(&term) {
                found.push(term);
            }
            return;
        }
        for part in self.store.terms.parts(term).into_iter().flatten() {
            self.variables_of(part, found);
        }
    }

    /// Makes a condition a fact if it is already one or is proved quickly.
    fn know(&mut self, condition: &Cond) -> bool {
        if self.base.context.decides(condition) == Some(true) {
            return true;
        }
        let mut branch = self.base.clone();
        let from = branch.context.facts.len();
        branch.assume(&self.store, &condition.negated());
        let Some(proof) = self.close_quickly(&mut branch, from) else { return false };
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

    /// The range of a variable by the hypotheses that compare it with a number.
    pub(super) fn range(&self, variable: VarId) -> Interval {
        let Some(term) = self.store.terms.find(&Term::Var(variable)) else { return Interval::ENTIRE };
        self.base.context.bounds.get(&term).copied().unwrap_or(Interval::ENTIRE)
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

/// The b of `b != 0`.
fn divisor(condition: &Cond) -> Option<TermId> {
    if let Cond::Compare(Relation::NotEqual, b, _) = condition { Some(*b) } else { None }
}

/// Printing of conditions is for certificates only.
pub(super) type Exported = Condition;
