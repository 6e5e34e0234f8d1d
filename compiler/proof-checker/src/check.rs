//! Rechecks one certificate, step by step.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use serde_json::Value::{self, String as Word};

use crate::ranges::Ranges;
use crate::sums::Sums;
use crate::terms::{Id, Terms, read, split};
use crate::{Checked, require};

/// What is known of one formula.
#[derive(Debug, Default)]
pub(crate) struct Checker {
    terms: Terms,
    axioms: Value,
    hypotheses: Vec<Id>,
    goal: Option<Id>,
    /// What holds at this place of the proof.
    facts: Vec<Id>,
    /// What must hold for a term to be well defined.
    needs: HashMap<Id, BTreeSet<Id>>,
}

impl Checker {
    /// Takes in the lines of a formula.
    pub(crate) fn new(lines: &[String]) -> Checked<Self> {
        let axioms = include_str!("../axioms.txt").lines().filter(|line| !line.starts_with(';'));
        let axioms = read(&format!("({})", axioms.collect::<String>()))?;
        let mut checker = Self { axioms, ..Self::default() };
        lines.iter().try_for_each(|line| checker.line(&read(line)?))?;
        Ok(checker)
    }

    fn line(&mut self, line: &Value) -> Checked<()> {
        require(self.goal.is_none(), "something follows the goal")?;
        match split(line)? {
            (sort @ ("real" | "whole"), [Word(name)]) => self.terms.variable(sort, name).map(|_| ())?,
            ("let", [Word(name), value]) => {
                let value = self.terms.term(value, &[])?;
                self.terms.declare(name, value)?;
            }
            ("given", [condition]) => self.hypotheses.push(self.terms.term(condition, &[])?),
            ("show", [condition]) => self.goal = Some(self.terms.term(condition, &[])?),
            (word, _) => return Err(format!("`{word}` begins no line of a formula")),
        }
        Ok(())
    }

    /// Whether the steps prove the goal from the hypotheses.
    pub(crate) fn proof(&mut self, steps: &[String]) -> Checked<()> {
        let mut hypotheses = self.hypotheses.clone().into_iter();
        for (number, step) in (1..).zip(steps) {
            let done = if step == "assume" {
                let next = hypotheses.next().ok_or("there is no further hypothesis")?;
                self.defined(next).map(|()| self.assume(next))
            } else {
                read(step).and_then(|step| self.step(&step))
            };
            done.map_err(|why| format!("step {number}: {why}"))?;
        }
        let goal = self.goal.ok_or("the formula has no goal")?;
        self.defined(goal)?;
        let proved = hypotheses.len() == 0 && self.knows(goal);
        require(proved, "the steps end before the goal is proved")
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
        let term = self.terms.get(id);
        let (name, mut parts) = (term.view().0, term.view().1.to_vec());
        if let ("if", &[choice, a, b]) = term.view() {
            let opposite = self.terms.negated(choice)?;
            parts = vec![choice, self.terms.either(opposite, a)?, self.terms.either(choice, b)?];
        }
        let mut needs = BTreeSet::new();
        for part in parts.iter().rev() {
            if let "and" | "or" = name {
                let settled = if name == "and" { self.terms.negated(*part)? } else { *part };
                let open = needs.into_iter().map(|need| self.terms.either(settled, need));
                needs = open.collect::<Checked<_>>()?;
            }
            needs.append(&mut self.needs(*part)?);
        }
        needs.extend(self.axiom(name, &parts)?.map(|[condition, _]| condition));
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
            ("equal", [equations, a, b]) => {
                let [a, b] = [self.terms.term(a, &[])?, self.terms.term(b, &[])?];
                Sums::new(&mut self.terms, &self.facts).equal(equations, a, b)?;
                self.terms.intern("=", vec![a, b])?
            }
            ("name", [Word(name), value]) => {
                let value = self.terms.term(value, &[])?;
                let variable = self.terms.variable("real", name)?;
                self.terms.intern("=", vec![variable, value])?
            }
            (name, parts) => {
                let parts: Vec<Id> =
                    parts.iter().map(|part| self.terms.term(part, &[])).collect::<Checked<_>>()?;
                let [condition, says] =
                    self.axiom(name, &parts)?.ok_or_else(|| format!("what is {step}?"))?;
                let sides = self.terms.get(condition);
                let whole = name != "whole" || sides.view().1.iter().all(|side| self.terms.is_whole(*side));
                require(whole && self.knows(condition), "the condition of an axiom is not known")?;
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
        match split(end)? {
            ("cases", [fact]) => {
                let opposite = self.terms.negated(numbered(&self.facts, fact)?)?;
                require(self.knows(opposite), "some part of the fact may hold")?;
            }
            ("combine", [equations, summands @ ..]) => {
                Sums::new(&mut self.terms, &self.facts).combine(equations, summands)?;
            }
            ("evaluate", [fact]) => {
                let mut ranges = Ranges::new(&self.terms, &self.facts);
                let wrong = ranges.decide(numbered(&self.facts, fact)?) == Some(false);
                require(wrong || ranges.empty, "the fact may hold")?;
            }
            (word, _) => return Err(format!("`{word}` ends no proof")),
        }
        self.facts.truncate(before);
        Ok(())
    }

    /// Whether values of the variables surely meet all hypotheses, and, if asked, surely not the goal.
    pub(crate) fn values(&mut self, values: &BTreeMap<String, String>, fails: bool) -> Checked<()> {
        for (name, value) in values {
            let [variable, value] = [name, value].map(|text| self.terms.term(&Word(text.clone()), &[]));
            let (variable, value) = (variable?, value?);
            let whole = self.terms.is_whole(value) || !self.terms.is_whole(variable);
            let fits = whole
                && self.terms.get(variable).view().0.contains(' ')
                && self.terms.number(value).is_some();
            require(fits, "a value is no number, not whole, or that of no variable")?;
            let equation = self.terms.intern("=", vec![variable, value])?;
            self.assume(equation);
        }
        let mut wanted = self.hypotheses.clone();
        for hypothesis in self.hypotheses.clone() {
            wanted.extend(self.needs(hypothesis)?);
        }
        let goal = self.terms.negated(self.goal.ok_or("the formula has no goal")?)?;
        wanted.extend(fails.then_some(goal));
        let mut ranges = Ranges::new(&self.terms, &self.facts);
        let met = wanted.into_iter().all(|condition| ranges.decide(condition) == Some(true));
        require(met && !ranges.empty, "a hypothesis or the goal is not as it should be at the values")
    }
}

/// The fact of that number.
pub(crate) fn numbered(facts: &[Id], text: &Value) -> Checked<Id> {
    let number: Option<usize> = text.as_str().and_then(|text| text.parse().ok());
    number.and_then(|at| facts.get(at).copied()).ok_or_else(|| format!("there is no fact {text}"))
}
