//! Whether an obligation is proved with one more requirement; if not, at which points it fails.

use std::collections::BTreeSet;

use borewright_motion::{Clause, Condition, Motion, Symbol};

use super::words::Words;
use crate::engine::{Budget, prove_briefly, violations};
use crate::{Answer, Formula, Hypothesis, HypothesisKind, Kind, Settled, Valuation, Verdict};

/// An obligation that is not proved.
#[derive(Debug, Clone)]
pub(crate) struct Target<'v> {
    pub settled: &'v Settled,
    /// At how many lines of the head a requirement for it may stand at the latest.
    pub lines: usize,
    /// The parameter of whose default it speaks: requirements on it are no help.
    own: Option<Symbol>,
}

/// What a trial found.
#[derive(Debug)]
pub(crate) enum Tried {
    Proved,
    /// Points at which the requirement holds and the obligation fails.
    Fails(Vec<Valuation>),
    Open,
}

impl<'v> Target<'v> {
    pub(crate) fn of(motion: &Motion, settled: &'v Settled) -> Self {
        let obligation = &settled.obligation;
        let own = motion.parameters.iter().find(|p| {
            obligation.kind == Kind::Default && Some(p.span) == obligation.because.or(Some(obligation.span))
        });
        let own = own.map(|p| p.symbol.clone());
        let is_definition = matches!(obligation.kind, Kind::Divisor | Kind::Domain);
        let here = motion.head.iter().position(|clause| {
            let span = match clause {
                Clause::Let(l) => l.span,
                Clause::Require(r) => r.span,
            };
            is_definition && span == obligation.span
        });
        Self { settled, lines: here.unwrap_or(motion.head.len()), own }
    }

    /// Points at which it fails, found in so many tries.
    pub(crate) fn failures(&self, tries: u64) -> Vec<Valuation> {
        let mut points = violations(&self.settled.obligation.formula, tries);
        if let Verdict::Refuted(counter) = &self.settled.verdict {
            points.push(counter.values.clone());
        }
        points
    }

    /// Whether a requirement on these symbols (lets put in) can bear on it at all.
    pub(crate) fn can_use(&self, symbols: &BTreeSet<Symbol>) -> bool {
        self.own.as_ref().is_none_or(|own| !symbols.contains(own))
            && symbols
                .iter()
                .all(|s| self.settled.obligation.formula.variables.iter().any(|v| v.symbol == *s))
    }

    /// Whether it is proved with the requirement.
    pub(crate) fn with(
        &self,
        words: &Words,
        everything: &Formula,
        condition: &Condition,
        work: &mut Work,
    ) -> Tried {
        work.tries = work.tries.saturating_sub(1);
        let symbols = words.inline_condition(condition).symbols();
        if !self.can_use(&symbols) {
            return Tried::Open;
        }
        let obligation = &self.settled.obligation;
        let exact = extended(&obligation.formula, everything, condition);
        // A point is found in a hundredth of the time of a proof that fails.
        for tries in [12, 48] {
            let points = violations(&exact, tries);
            work.spend(10 * tries);
            if !points.is_empty() {
                return Tried::Fails(points);
            }
        }
        let easier = obligation.easier.iter().map(|f| extended(f, everything, condition));
        for formula in easier.chain([exact]) {
            let budget = Budget { steps: work.trial.min(work.left) };
            let Some(outcome) = prove_briefly(&formula, &budget) else { continue };
            work.spend(outcome.steps);
            match outcome.answer {
                Answer::Proved { .. } => return Tried::Proved,
                // Only the exact formula, which comes last, fails where the obligation fails.
                Answer::Refuted(_) | Answer::Unknown { .. } => {}
            }
        }
        Tried::Open
    }
}

/// How much the search may still do, in steps of the engine.
#[derive(Debug, Clone)]
pub(crate) struct Work {
    pub left: u64,
    /// For one proof.
    pub trial: u64,
    /// How many proofs may still fail.
    pub open: u32,
    /// How many requirements may still be tried.
    pub tries: u32,
}

impl Work {
    pub(crate) fn spend(&mut self, steps: u64) {
        self.left = self.left.saturating_sub(steps);
    }

    pub(crate) fn is_used_up(&self) -> bool {
        self.left == 0 || self.open == 0 || self.tries == 0
    }
}

/// The formula with one more requirement, and with what is known of names that only the requirement uses.
pub(crate) fn extended(formula: &Formula, everything: &Formula, condition: &Condition) -> Formula {
    let mut formula = formula.clone();
    let mut open: Vec<Symbol> = condition.symbols().into_iter().collect();
    while let Some(symbol) = open.pop() {
        if formula.variables.iter().any(|v| v.symbol == symbol) {
            continue;
        }
        let Some(variable) = everything.variables.iter().find(|v| v.symbol == symbol) else { continue };
        open.extend(variable.definition.iter().flat_map(borewright_motion::Expr::symbols));
        formula.variables.push(variable.clone());
    }
    // Below the other requirements, above what loops and the cutter bring.
    let is_head = |h: &Hypothesis| matches!(h.kind, HypothesisKind::Range | HypothesisKind::Requirement);
    let at = formula.hypotheses.iter().rposition(is_head).map_or(0, |i| i + 1);
    let kind = HypothesisKind::Requirement;
    formula.hypotheses.insert(at, Hypothesis { condition: condition.clone(), kind, span: None });
    formula
}
