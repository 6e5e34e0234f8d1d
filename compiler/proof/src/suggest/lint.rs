//! Requirements that say more than any proof needs, and branches that no value takes.

use std::collections::BTreeMap;

use borewright_base::Span;
use borewright_motion::{Action, Clause, Condition, Expr, Motion, Node, Relation, Step, all_steps};

use super::words::{Words, is_row};
use super::{Manner, everything, source, suggest, trial};
use crate::engine::{Budget, prove_briefly, violations};
use crate::{
    Answer, Engine, Formula, HypothesisKind, Settings, Settled, Verdict, Verdicts, decide, oblige, settle,
};

/// Something worth a look in a motion that is proved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Remark {
    /// Everything is proved without this requirement: it was tried.
    NotNeeded {
        /// The line.
        span: Span,
        /// What it requires, in the author's words.
        text: String,
    },
    /// Everything is proved with a weaker requirement in its place: it was tried.
    CouldBeWeaker {
        /// The line.
        span: Span,
        /// What it requires, in the author's words.
        text: String,
        /// What suffices, as a whole line.
        weaker: String,
    },
    /// No admitted value meets (or fails) the condition of an `if`: this was proved.
    NeverTaken {
        /// The line.
        span: Span,
        /// The condition, in the author's words.
        text: String,
        /// Whether it is always met, so that it is the `else` that is never taken.
        always: bool,
    },
}

/// Requirements, by the line that states them: `requires all` brings several. Neither what a table brings nor limits of
/// practice are among them.
fn lines(motion: &Motion) -> BTreeMap<Span, Vec<usize>> {
    let mut lines: BTreeMap<Span, Vec<usize>> = BTreeMap::new();
    for (index, clause) in motion.head.iter().enumerate() {
        if let Clause::Require(r) = clause
            && !r.practice
            && !motion.parameters.iter().any(|p| p.span == r.span)
        {
            lines.entry(r.span).or_default().push(index);
        }
    }
    lines
}

/// The motion without these lines of its head.
fn without(motion: &Motion, indices: &[usize]) -> Motion {
    let mut motion = motion.clone();
    let mut index = 0;
    motion.head.retain(|_| {
        index += 1;
        !indices.contains(&(index - 1))
    });
    motion
}

/// The requirements without which everything is proved all the same. What proofs report to have used may be too
/// little, so each is taken out and everything proved again; a requirement that one point shows to be needed
/// costs next to nothing.
#[must_use]
pub fn not_needed(motion: &Motion, verdicts: &Verdicts, settings: &Settings) -> Vec<Remark> {
    if verdicts.proved.is_none() {
        return Vec::new();
    }
    let idle = lines(motion).into_iter().filter(|(span, indices)| {
        !is_missed(*span, verdicts) && is_all_proved(&without(motion, indices), settings)
    });
    idle.map(|(span, indices)| Remark::NotNeeded { span, text: text_of(motion, &indices) }).collect()
}

/// Whether some proof that used the line fails at a point without it.
fn is_missed(span: Span, verdicts: &Verdicts) -> bool {
    let uses = |s: &&Settled| match &s.verdict {
        Verdict::Proved { formula, used, .. } => used
            .iter()
            .filter_map(|i| formula.hypotheses.get(*i))
            .any(|h| h.kind == HypothesisKind::Requirement && h.span == Some(span)),
        Verdict::Refuted(_) | Verdict::Unknown { .. } => false,
    };
    verdicts.settled.iter().filter(uses).any(|s| {
        let mut formula = s.obligation.formula.clone();
        formula.hypotheses.retain(|h| h.span != Some(span) || h.kind != HypothesisKind::Requirement);
        !violations(&formula, 8).is_empty()
    })
}

fn is_all_proved(motion: &Motion, settings: &Settings) -> bool {
    let engine = Engine { budget: settings.trial.clone() };
    let mut obligations = oblige(motion, &settings.limits, &engine).into_iter();
    obligations.all(|o| matches!(decide(motion, o, settings).verdict, Verdict::Proved { .. }))
}

fn text_of(motion: &Motion, indices: &[usize]) -> String {
    let words = Words::of(motion, motion.head.len());
    let conditions: Vec<&Condition> = indices
        .iter()
        .filter_map(|i| match motion.head.get(*i)? {
            Clause::Require(r) => Some(&r.condition),
            Clause::Let(_) => None,
        })
        .collect();
    match conditions.as_slice() {
        [one] => source::condition(&words, one).unwrap_or_else(|| one.to_string()),
        several => format!("{} requirements taken over from a called routine", several.len()),
    }
}

/// The requirements in whose place a weaker one would do, each with the weaker one.
#[must_use]
pub fn could_be_weaker(motion: &Motion, verdicts: &Verdicts, settings: &Settings) -> Vec<Remark> {
    let Some(everything) = everything(verdicts).filter(|_| verdicts.proved.is_some()) else {
        return Vec::new();
    };
    let mut remarks = Vec::new();
    for (span, indices) in lines(motion) {
        let [index] = indices.as_slice() else { continue };
        let Some(Clause::Require(own)) = motion.head.get(*index) else { continue };
        let reduced = without(motion, &indices);
        let open = settle(&reduced, &[], settings);
        let found = suggest(&reduced, &open, settings);
        let [one] = found.as_slice() else { continue };
        let is_whole = open
            .settled
            .iter()
            .all(|s| matches!(s.verdict, Verdict::Proved { .. }) || one.settles.contains(&s.obligation.id));
        if is_whole && one.manner == Manner::Require && is_weaker(everything, &own.condition, &one.condition)
        {
            let text = text_of(motion, &indices);
            remarks.push(Remark::CouldBeWeaker { span, text, weaker: one.text.clone() });
        }
    }
    remarks
}

/// Whether the second condition follows from the first, with all else that is known, but not the other way round.
fn is_weaker(everything: &Formula, own: &Condition, other: &Condition) -> bool {
    let implied = Formula { goal: other.clone(), ..everything.clone() };
    let mut without = everything.clone();
    without.hypotheses.retain(|h| h.condition != *own);
    let mut back = trial::extended(&without, &without, other);
    back.goal = own.clone();
    follows(&implied) && !violations(&back, 48).is_empty()
}

fn follows(formula: &Formula) -> bool {
    prove_briefly(formula, &Budget { steps: 20_000 })
        .is_some_and(|outcome| matches!(outcome.answer, Answer::Proved { .. }))
}

/// The `if`s of which one side is never taken.
#[must_use]
pub fn never_taken(motion: &Motion, verdicts: &Verdicts) -> Vec<Remark> {
    let Some(everything) = everything(verdicts) else { return Vec::new() };
    let mut branches = Vec::new();
    for clause in &motion.head {
        match clause {
            // The columns of a row are chosen by tests that nobody wrote.
            Clause::Let(l) if l.symbol.name().contains('.') => {}
            Clause::Let(l) => of_expr(motion, &l.value, l.span, &mut branches),
            Clause::Require(r) => r.condition.walk(&mut |e| of_node(motion, e, r.span, &mut branches)),
        }
    }
    of_steps(motion, &motion.body, &mut branches);
    let known =
        |c: &Condition| c.symbols().iter().all(|s| everything.variables.iter().any(|v| v.symbol == *s));
    let words = Words::of(motion, motion.head.len());
    let mut remarks = Vec::new();
    for (condition, span) in branches.into_iter().filter(|(c, _)| known(c)) {
        for always in [false, true] {
            let never = if always { condition.clone() } else { condition.negated() };
            let formula = Formula { goal: never, ..everything.clone() };
            if violations(&formula, 16).is_empty() && follows(&formula) {
                let text = source::condition(&words, &condition).unwrap_or_else(|| condition.to_string());
                remarks.push(Remark::NeverTaken { span, text, always });
            }
        }
    }
    remarks
}

fn of_steps(motion: &Motion, steps: &[Step], into: &mut Vec<(Condition, Span)>) {
    for step in all_steps(steps) {
        if let Action::Let(l) = &step.action {
            of_expr(motion, &l.value, l.span, into);
        }
    }
}

fn of_expr(motion: &Motion, expr: &Expr, span: Span, into: &mut Vec<(Condition, Span)>) {
    expr.walk(&mut |e| of_node(motion, e, span, into));
}

fn of_node(motion: &Motion, e: &Expr, span: Span, into: &mut Vec<(Condition, Span)>) {
    let Node::If(condition, _, _) = e.node() else { return };
    let of_row = match &**condition {
        Condition::Compare(Relation::Equal, a, _) => a.as_symbol().is_some_and(|s| is_row(motion, s)),
        Condition::Compare(..)
        | Condition::True
        | Condition::False
        | Condition::And(_)
        | Condition::Or(_)
        | Condition::Not(_) => false,
    };
    if !of_row {
        into.push(((**condition).clone(), span));
    }
}
