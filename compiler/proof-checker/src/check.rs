//! Rechecks one certificate, step by step.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use serde_json::Value::{self, String as Word};

use crate::ranges::Ranges;
use crate::sums::Sums;
use crate::terms::{Id, Terms, split};
use crate::{Checked, Evidence, Formula, require};

/// What a term may need to be well defined: so many conditions.
const MOST_NEEDS: usize = 1000;

/// What is known at one place of a proof.
#[derive(Debug, Default)]
struct Checker {
    terms: Terms,
    axioms: Value,
    facts: Vec<Id>,
    /// What must hold for a term to be well defined.
    needs: HashMap<Id, BTreeSet<Id>>,
}

/// Whether the evidence shows of the formula what it claims.
pub(crate) fn check(formula: &Formula, evidence: &Evidence) -> Checked<()> {
    let axioms = serde_json::from_str(include_str!("../axioms.json")).map_err(|why| why.to_string())?;
    let mut checker = Checker { axioms, ..Checker::default() };
    match evidence {
        Evidence::Proof(steps) => {
            let (given, goal) = checker.formula(formula, &BTreeMap::new())?;
            checker.proof(given, &[goal], steps)
        }
        Evidence::Witness(values, steps) => {
            let (given, _) = checker.formula(formula, values)?;
            checker.proof(Vec::new(), &given, steps)
        }
    }
}

impl Checker {
    /// The hypotheses and the goal of a formula, with values in place of some variables.
    fn formula(&mut self, formula: &Formula, values: &BTreeMap<String, Value>) -> Checked<(Vec<Id>, Id)> {
        require(values.keys().all(|name| formula.real.contains(name)), "a value is that of no variable")?;
        for name in formula.real.iter().filter(|name| !values.contains_key(*name)) {
            self.terms.variable(name)?;
        }
        for (name, value) in values.iter().chain(formula.r#let.iter().map(|(name, value)| (name, value))) {
            let value = self.terms.term(value, &[])?;
            require(self.terms.negated(value).is_err(), "a name stands for a condition")?;
            self.terms.declare(name, value)?;
        }
        let given = formula.given.iter().map(|condition| self.terms.term(condition, &[]));
        Ok((given.collect::<Checked<_>>()?, self.terms.term(&formula.show, &[])?))
    }

    /// Whether the steps prove the goals from the hypotheses.
    fn proof(&mut self, hypotheses: Vec<Id>, goals: &[Id], steps: &[Value]) -> Checked<()> {
        let mut hypotheses = hypotheses.into_iter();
        for (number, step) in (1..).zip(steps) {
            let done = if step == "assume" {
                let next = hypotheses.next().ok_or("there is no further hypothesis")?;
                self.defined(next).map(|()| self.assume(next))
            } else {
                self.step(step)
            };
            done.map_err(|why| format!("step {number}: {why}"))?;
        }
        goals.iter().try_for_each(|goal| self.defined(*goal))?;
        let proved = hypotheses.len() == 0 && goals.iter().all(|goal| self.knows(*goal));
        require(proved, "the steps end before all is proved")
    }

    fn assume(&mut self, condition: Id) {
        self.facts.extend(self.terms.conjuncts(condition));
    }

    /// Whether a condition stands among the facts.
    fn knows(&self, condition: Id) -> bool {
        self.terms.conjuncts(condition).iter().all(|part| self.facts.contains(part))
    }

    /// Whether the facts say that a condition is well defined.
    fn defined(&mut self, condition: Id) -> Checked<()> {
        let known = self.needs(condition)?.iter().all(|need| self.knows(*need));
        require(known, "a divisor, root or arc cosine may be undefined")
    }

    /// What must hold for a term to be well defined: in later parts of `and` and `or` only where the earlier
    /// ones leave it open, in the sides of an `if` only where they are chosen.
    fn needs(&mut self, id: Id) -> Checked<BTreeSet<Id>> {
        if let Some(known) = self.needs.get(&id) {
            return Ok(known.clone());
        }
        let (name, parts) = self.terms.get(id);
        let (name, mut parts) = (name.to_owned(), parts.to_vec());
        if let ("if", &[choice, a, b]) = (name.as_str(), parts.as_slice()) {
            let opposite = self.terms.negated(choice)?;
            let [a, b] = [[opposite, a], [choice, b]].map(|side| self.terms.intern("or", side.to_vec()));
            parts = vec![choice, a?, b?];
        }
        let mut needs = BTreeSet::new();
        for part in parts.iter().rev() {
            if name == "and" || name == "or" {
                let settled = if name == "and" { self.terms.negated(*part)? } else { *part };
                let open = needs.into_iter().map(|need| self.terms.intern("or", vec![settled, need]));
                needs = open.collect::<Checked<_>>()?;
            }
            needs.append(&mut self.needs(*part)?);
        }
        needs.extend(self.axiom(&name, &parts)?.map(|[condition, _]| condition));
        require(needs.len() <= MOST_NEEDS, "too much must be defined")?;
        self.needs.insert(id, needs.clone());
        Ok(needs)
    }

    /// The condition and the conclusion of the axiom of that name, for some terms.
    fn axiom(&mut self, name: &str, parts: &[Id]) -> Checked<Option<[Id; 2]>> {
        let mut table = self.axioms.as_array().into_iter().flatten().filter_map(|axiom| split(axiom).ok());
        let Some((_, [condition, says])) = table.find(|axiom| axiom.0 == name) else { return Ok(None) };
        let words: Vec<(&str, Id)> = ["a", "b", "c"].into_iter().zip(parts.iter().copied()).collect();
        Ok(Some([self.terms.term(condition, &words)?, self.terms.term(says, &words)?]))
    }

    /// Adds what follows from the facts.
    fn step(&mut self, step: &Value) -> Checked<()> {
        let conclusion = match split(step)? {
            ("prove", [condition, proof @ ..]) => {
                let condition = self.terms.term(condition, &[])?;
                let opposite = self.terms.negated(condition)?;
                self.refute(opposite, proof)?;
                condition
            }
            ("name", [Word(name), value]) => {
                let value = self.terms.term(value, &[])?;
                let variable = self.terms.variable(name)?;
                self.terms.intern("=", vec![variable, value])?
            }
            (name, parts) => {
                let parts = parts.iter().map(|part| self.terms.term(part, &[]));
                let parts: Vec<Id> = parts.collect::<Checked<_>>()?;
                let [condition, says] =
                    self.axiom(name, &parts)?.ok_or_else(|| format!("what is {step}?"))?;
                require(self.knows(condition), "the condition of an axiom is not known")?;
                says
            }
        };
        self.assume(conclusion);
        Ok(())
    }

    /// The facts and one condition more cannot all hold: by steps, and how they end.
    fn refute(&mut self, more: Id, proof: &[Value]) -> Checked<()> {
        let before = self.facts.len();
        self.assume(more);
        let (end, steps) = proof.split_last().ok_or("a proof is missing")?;
        steps.iter().try_for_each(|step| self.step(step))?;
        let closed = match split(end)? {
            ("cases", [fact]) => {
                let opposite = self.terms.negated(numbered(&self.facts, fact)?)?;
                self.knows(opposite)
            }
            ("combine", [equations, summands @ ..]) => {
                Sums::new(&self.terms, &self.facts).combine(equations, summands)?
            }
            ("evaluate", [fact]) => {
                Ranges::new(&self.terms, &self.facts).exclude(numbered(&self.facts, fact)?)
            }
            _ => false,
        };
        require(closed, &format!("its facts may all hold: {end}"))?;
        self.facts.truncate(before);
        Ok(())
    }
}

/// The fact of that number.
pub(crate) fn numbered(facts: &[Id], text: &Value) -> Checked<Id> {
    let number = text.as_str().and_then(|text| text.parse::<usize>().ok());
    number.and_then(|at| facts.get(at).copied()).ok_or_else(|| format!("there is no fact {text}"))
}
