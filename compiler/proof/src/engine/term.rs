//! Expressions in an arena: equal ones share one number, definitions are put in place of their names.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use borewright_motion::{Condition, Expr, Function, Node, Relation, Symbol};
use borewright_number::{Interval, Rational};
use rustc_hash::{FxHashMap, FxHashSet};

use crate::formula::{Formula, Sort, Variable};

/// Stands for one expression of the arena.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct TermId(pub(super) u32);

/// Stands for one free variable (one without a definition).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct VarId(pub(super) u32);

/// One expression; parts come before wholes, so numbers grow upwards.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Term {
    Number(Rational),
    Pi,
    Var(VarId),
    Add(TermId, TermId),
    Sub(TermId, TermId),
    Mul(TermId, TermId),
    Div(TermId, TermId),
    Neg(TermId),
    Call(Function, TermId),
    Min(TermId, TermId),
    Max(TermId, TermId),
    If(Arc<Cond>, TermId, TermId),
}

/// A condition over terms, negations pushed down to the comparisons.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Cond {
    True,
    False,
    Compare(Relation, TermId, TermId),
    And(Vec<Cond>),
    Or(Vec<Cond>),
}

impl Cond {
    /// The opposite, with the negation pushed down.
    pub(super) fn negated(&self) -> Self {
        match self {
            Self::True => Self::False,
            Self::False => Self::True,
            Self::Compare(relation, a, b) => Self::Compare(relation.negated(), *a, *b),
            Self::And(parts) => Self::Or(parts.iter().map(Self::negated).collect()),
            Self::Or(parts) => Self::And(parts.iter().map(Self::negated).collect()),
        }
    }

    /// Calls `visit` on every comparison.
    pub(super) fn comparisons(&self, visit: &mut dyn FnMut(Relation, TermId, TermId)) {
        match self {
            Self::True | Self::False => {}
            Self::Compare(relation, a, b) => visit(*relation, *a, *b),
            Self::And(parts) | Self::Or(parts) => parts.iter().for_each(|p| p.comparisons(visit)),
        }
    }

    /// All of them, flattened; without `True`, `False` if one is.
    pub(super) fn all(parts: impl IntoIterator<Item = Self>) -> Self {
        let mut kept = Vec::new();
        for part in parts {
            match part {
                Self::True => {}
                Self::False => return Self::False,
                Self::And(inner) => kept.extend(inner),
                part @ (Self::Compare(..) | Self::Or(_)) => {
                    if !kept.contains(&part) {
                        kept.push(part);
                    }
                }
            }
        }
        match kept.len() {
            0 => Self::True,
            1 => kept.pop().unwrap_or(Self::True),
            _ => Self::And(kept),
        }
    }

    /// Either of two, folded where one is `True` or `False`.
    pub(super) fn either(a: Self, b: Self) -> Self {
        match (a, b) {
            (Self::True, _) | (_, Self::True) => Self::True,
            (Self::False, other) | (other, Self::False) => other,
            (a, b) => Self::Or(vec![a, b]),
        }
    }
}

/// A free variable.
#[derive(Debug, Clone)]
pub(super) struct Free {
    pub(super) symbol: Symbol,
    pub(super) whole: bool,
}

/// The arena.
#[derive(Debug, Default)]
pub(super) struct Terms {
    terms: Vec<Term>,
    /// Around each number; all reals for other terms.
    numbers: Vec<Interval>,
    index: FxHashMap<Term, TermId>,
    /// The free variables, by [`VarId`].
    pub(super) free: Vec<Free>,
    by_name: BTreeMap<Symbol, TermId>,
    /// For printing: the name that stands for a defined term.
    named: BTreeMap<TermId, Symbol>,
    exprs: FxHashMap<TermId, Expr>,
    /// Pairs whose order changes what a term normalises to.
    watched: FxHashSet<(TermId, TermId)>,
}

impl Terms {
    /// The arena with all variables of the formula; definitions may refer to each other in any order without
    /// a circle. Names that are not declared are free reals. `None` for a circle.
    pub(super) fn new(formula: &Formula) -> Option<Self> {
        let mut terms = Self::default();
        for variable in formula.variables.iter().filter(|v| v.definition.is_none()) {
            terms.declare(&variable.symbol, variable.sort == Sort::Whole);
        }
        for symbol in names(formula) {
            if formula.variables.iter().all(|v| v.symbol != symbol) {
                terms.declare(&symbol, false);
            }
        }
        let mut waiting: Vec<&Variable> =
            formula.variables.iter().filter(|v| v.definition.is_some()).collect();
        while !waiting.is_empty() {
            let before = waiting.len();
            waiting.retain(|variable| !terms.define(variable));
            if waiting.len() == before {
                return None;
            }
        }
        Some(terms)
    }

    fn declare(&mut self, symbol: &Symbol, whole: bool) {
        let id = VarId(u32::try_from(self.free.len()).unwrap_or(u32::MAX));
        self.free.push(Free { symbol: symbol.clone(), whole });
        let term = self.intern(Term::Var(id));
        self.by_name.insert(symbol.clone(), term);
    }

    /// Defines the variable if all names in its definition are known.
    fn define(&mut self, variable: &Variable) -> bool {
        let Some(definition) = &variable.definition else { return true };
        let Some(term) = self.import(definition) else { return false };
        self.by_name.insert(variable.symbol.clone(), term);
        // A number or a variable prints as itself.
        if !matches!(self.get(term), Term::Number(_) | Term::Var(_)) {
            self.named.entry(term).or_insert_with(|| variable.symbol.clone());
        }
        true
    }

    pub(super) fn len(&self) -> usize {
        self.terms.len()
    }

    /// Around a number; all reals for other terms.
    pub(super) fn interval_of_number(&self, id: TermId) -> Interval {
        self.numbers.get(id.0 as usize).copied().unwrap_or(Interval::ENTIRE)
    }

    pub(super) fn intern(&mut self, term: Term) -> TermId {
        if let Some(id) = self.index.get(&term) {
            return *id;
        }
        let id = TermId(u32::try_from(self.terms.len()).unwrap_or(u32::MAX));
        self.watch(&term);
        let value = if let Term::Number(value) = &term { Some(value) } else { None };
        self.numbers.push(value.map_or(Interval::ENTIRE, Interval::from_rational));
        self.terms.push(term.clone());
        self.index.insert(term, id);
        id
    }

    fn watch(&mut self, term: &Term) {
        match term {
            Term::Min(a, b) | Term::Max(a, b) => {
                self.watched.insert((*a.min(b), *a.max(b)));
            }
            Term::If(c, _, _) => c.comparisons(&mut |_, a, b| {
                self.watched.insert((a.min(b), a.max(b)));
            }),
            Term::Number(_)
            | Term::Pi
            | Term::Var(_)
            | Term::Add(..)
            | Term::Sub(..)
            | Term::Mul(..)
            | Term::Div(..)
            | Term::Neg(_)
            | Term::Call(..) => {}
        }
    }

    /// Whether the order of the pair may change what a term normalises to: it decides a `min`, `max` or `if`, or
    /// it is the sign of a term.
    pub(super) fn is_watched(&self, a: TermId, b: TermId) -> bool {
        let zero = |id: TermId| self.as_number(id).is_some_and(Rational::is_zero);
        zero(a) || zero(b) || self.watched.contains(&(a.min(b), a.max(b)))
    }

    /// The term's number, if it was met.
    pub(super) fn find(&self, term: &Term) -> Option<TermId> {
        self.index.get(term).copied()
    }

    pub(super) fn get(&self, id: TermId) -> &Term {
        const LOST: &Term = &Term::Pi;
        self.terms.get(id.0 as usize).unwrap_or(LOST)
    }

    pub(super) fn number(&mut self, value: Rational) -> TermId {
        self.intern(Term::Number(value))
    }

    /// The number it literally is.
    pub(super) fn as_number(&self, id: TermId) -> Option<&Rational> {
        if let Term::Number(value) = self.get(id) { Some(value) } else { None }
    }

    pub(super) fn var(&self, id: VarId) -> Option<&Free> {
        self.free.get(id.0 as usize)
    }

    /// The terms of the free variables.
    pub(super) fn variables(&self) -> impl Iterator<Item = TermId> + '_ {
        (0..self.free.len()).filter_map(|v| self.find(&Term::Var(VarId(u32::try_from(v).ok()?))))
    }

    /// Whether the term takes whole values only.
    pub(super) fn is_whole(&self, id: TermId) -> bool {
        match self.get(id) {
            Term::Number(value) => value.is_whole(),
            Term::Var(variable) => self.var(*variable).is_some_and(|v| v.whole),
            Term::Call(Function::Ceil | Function::Floor, _) => true,
            Term::Neg(a) | Term::Call(Function::Abs, a) => self.is_whole(*a),
            Term::Add(a, b)
            | Term::Sub(a, b)
            | Term::Mul(a, b)
            | Term::Min(a, b)
            | Term::Max(a, b)
            | Term::If(_, a, b) => self.is_whole(*a) && self.is_whole(*b),
            Term::Pi | Term::Div(..) | Term::Call(..) => false,
        }
    }

    /// The terms that are values of the function.
    pub(super) fn calls(&self, function: Function) -> Vec<TermId> {
        let ids = (0..self.terms.len()).filter_map(|id| u32::try_from(id).ok().map(TermId));
        ids.filter(|id| matches!(self.get(*id), Term::Call(f, _) if *f == function)).collect()
    }

    /// The term a name stands for.
    pub(super) fn by_name(&self, symbol: &Symbol) -> Option<TermId> {
        self.by_name.get(symbol).copied()
    }

    /// Takes an expression in; `None` if it has an undeclared name.
    pub(super) fn import(&mut self, expr: &Expr) -> Option<TermId> {
        let term = match expr.node() {
            Node::Number(value) => Term::Number(value.clone()),
            Node::Pi => Term::Pi,
            Node::Symbol(symbol) => return self.by_name(symbol),
            Node::Add(a, b) => Term::Add(self.import(a)?, self.import(b)?),
            Node::Sub(a, b) => Term::Sub(self.import(a)?, self.import(b)?),
            Node::Mul(a, b) => Term::Mul(self.import(a)?, self.import(b)?),
            Node::Div(a, b) => Term::Div(self.import(a)?, self.import(b)?),
            Node::Neg(a) => Term::Neg(self.import(a)?),
            Node::Call(function, a) => Term::Call(*function, self.import(a)?),
            Node::Min(a, b) => Term::Min(self.import(a)?, self.import(b)?),
            Node::Max(a, b) => Term::Max(self.import(a)?, self.import(b)?),
            Node::If(c, a, b) => {
                Term::If(Arc::new(self.import_condition(c)?), self.import(a)?, self.import(b)?)
            }
        };
        Some(self.intern(term))
    }

    /// Takes a condition in, negations pushed down.
    pub(super) fn import_condition(&mut self, condition: &Condition) -> Option<Cond> {
        Some(match condition {
            Condition::True => Cond::True,
            Condition::False => Cond::False,
            Condition::Compare(relation, a, b) => Cond::Compare(*relation, self.import(a)?, self.import(b)?),
            Condition::And(parts) => {
                Cond::And(parts.iter().map(|p| self.import_condition(p)).collect::<Option<_>>()?)
            }
            Condition::Or(parts) => {
                Cond::Or(parts.iter().map(|p| self.import_condition(p)).collect::<Option<_>>()?)
            }
            Condition::Not(inner) => self.import_condition(inner)?.negated(),
        })
    }

    /// The expression, defined terms by their names, without any folding.
    pub(super) fn export(&mut self, id: TermId) -> Expr {
        if let Some(expr) = self.exprs.get(&id) {
            return expr.clone();
        }
        let node = match self.named.get(&id) {
            Some(symbol) => Node::Symbol(symbol.clone()),
            None => self.export_node(id),
        };
        let expr = Expr::from_node(node);
        self.exprs.insert(id, expr.clone());
        expr
    }

    fn export_node(&mut self, id: TermId) -> Node {
        match self.get(id).clone() {
            Term::Number(value) => Node::Number(value),
            Term::Pi => Node::Pi,
            Term::Var(v) => match self.var(v) {
                Some(free) => Node::Symbol(free.symbol.clone()),
                None => Node::Pi,
            },
            Term::Add(a, b) => Node::Add(self.export(a), self.export(b)),
            Term::Sub(a, b) => Node::Sub(self.export(a), self.export(b)),
            Term::Mul(a, b) => Node::Mul(self.export(a), self.export(b)),
            Term::Div(a, b) => Node::Div(self.export(a), self.export(b)),
            Term::Neg(a) => Node::Neg(self.export(a)),
            Term::Call(function, a) => Node::Call(function, self.export(a)),
            Term::Min(a, b) => Node::Min(self.export(a), self.export(b)),
            Term::Max(a, b) => Node::Max(self.export(a), self.export(b)),
            Term::If(c, a, b) => {
                Node::If(Arc::new(self.export_condition(&c)), self.export(a), self.export(b))
            }
        }
    }

    /// The condition, without any folding.
    pub(super) fn export_condition(&mut self, condition: &Cond) -> Condition {
        match condition {
            Cond::True => Condition::True,
            Cond::False => Condition::False,
            Cond::Compare(relation, a, b) => Condition::Compare(*relation, self.export(*a), self.export(*b)),
            Cond::And(parts) => Condition::And(parts.iter().map(|p| self.export_condition(p)).collect()),
            Cond::Or(parts) => Condition::Or(parts.iter().map(|p| self.export_condition(p)).collect()),
        }
    }

    /// The parts right below a term (conditions of `if` apart).
    pub(super) fn parts(&self, id: TermId) -> [Option<TermId>; 2] {
        match self.get(id) {
            Term::Number(_) | Term::Pi | Term::Var(_) => [None, None],
            Term::Add(a, b)
            | Term::Sub(a, b)
            | Term::Mul(a, b)
            | Term::Div(a, b)
            | Term::Min(a, b)
            | Term::Max(a, b)
            | Term::If(_, a, b) => [Some(*a), Some(*b)],
            Term::Neg(a) | Term::Call(_, a) => [Some(*a), None],
        }
    }
}

/// Every name that occurs in a formula.
fn names(formula: &Formula) -> BTreeSet<Symbol> {
    let mut found = formula.goal.symbols();
    formula.hypotheses.iter().for_each(|h| found.extend(h.condition.symbols()));
    formula.hints.iter().for_each(|hint| found.extend(hint.symbols()));
    formula.variables.iter().filter_map(|v| v.definition.as_ref()).for_each(|d| found.extend(d.symbols()));
    found
}
