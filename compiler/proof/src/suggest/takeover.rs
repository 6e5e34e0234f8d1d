//! `requires all`: what a call asks for of values that its caller does not bound.

use std::collections::BTreeSet;
use std::sync::Arc;

use borewright_base::Span;
use borewright_motion::{Clause, Condition, Demand, Field, Motion, Relation, Symbol};

use super::family::Said;
use super::words::Words;
use super::{Manner, Suggestion, extended, settled_by};
use crate::{Kind, Settings, Settled, Verdicts};

/// For each called routine that asks for more than one thing that is not proved: take over all it asks for.
pub(crate) fn suggest(
    motion: &Motion,
    open: &[&Settled],
    verdicts: &Verdicts,
    settings: &Settings,
) -> Vec<Suggestion> {
    let mut found: Vec<Suggestion> = Vec::new();
    for routine in crate::proved::called(&motion.body) {
        let text = format!("requires all {}", routine.name);
        let asked: Vec<&Settled> = open.iter().copied().filter(|s| asks(&routine, s)).collect();
        if asked.len() < 2 || found.iter().any(|f| f.text == text) {
            continue;
        }
        let Some(with) = with_all(motion, &asked) else { continue };
        let Some(settles) = settled_by(&with, verdicts, settings) else { continue };
        if asked.iter().all(|s| settles.contains(&s.obligation.id)) {
            let condition = Condition::all(asked.iter().map(|s| s.obligation.formula.goal.clone()));
            found.push(Suggestion { text, manner: Manner::TakeOver, condition, settles });
        }
    }
    found
}

/// Whether the obligation is something that this routine asks of its callers.
fn asks(routine: &Arc<Motion>, settled: &Settled) -> bool {
    let parameters = routine.parameters.iter().map(|p| p.span);
    let requirements = routine.head.iter().filter_map(|c| match c {
        Clause::Require(r) => Some(r.span),
        Clause::Let(_) => None,
    });
    let demands = routine.demands.iter().flat_map(|d| d.rules.iter().map(|r| r.span));
    let spans: BTreeSet<Span> = parameters.chain(requirements).chain(demands).collect();
    let obligation = &settled.obligation;
    matches!(obligation.kind, Kind::Argument | Kind::Requirement | Kind::Cutter)
        && obligation.because.is_some_and(|because| spans.contains(&because))
}

/// The motion with all that is asked required of its own callers; `None` where that takes words of a loop.
fn with_all(motion: &Motion, asked: &[&Settled]) -> Option<Motion> {
    let words = Words::of(motion, motion.head.len());
    let mut with = motion.clone();
    for settled in asked {
        let obligation = &settled.obligation;
        let lets = |s: &Symbol| {
            let known = words.get(s).is_some() || motion.parameters.iter().any(|p| p.symbol == *s);
            let variable = obligation.formula.variables.iter().find(|v| v.symbol == *s);
            if known { None } else { variable.and_then(|v| v.definition.clone()) }
        };
        let mut goal = obligation.formula.goal.clone();
        while goal.symbols().iter().any(|s| lets(s).is_some()) {
            goal = goal.substitute(&lets);
        }
        let said = match demand(&goal) {
            Some(rule) => Said::Demand(rule),
            None => Said::Require(goal),
        };
        with = extended(&with, &said, with.head.len());
    }
    Some(with)
}

/// The goal as a demand on the cutter, where it is one.
fn demand(goal: &Condition) -> Option<Demand> {
    let Condition::Compare(relation, a, b) = goal else { return None };
    let field = |s: &Symbol| Field::ALL.into_iter().find(|f| f.symbol() == *s);
    let span = Span::default();
    if let Some(field) = a.as_symbol().and_then(field) {
        return Some(Demand { field, relation: *relation, value: b.clone(), span });
    }
    let field = b.as_symbol().and_then(field)?;
    let relation = match relation {
        Relation::Equal | Relation::NotEqual => *relation,
        Relation::Less => Relation::Greater,
        Relation::LessEqual => Relation::GreaterEqual,
        Relation::Greater => Relation::Less,
        Relation::GreaterEqual => Relation::LessEqual,
    };
    Some(Demand { field, relation, value: a.clone(), span })
}
