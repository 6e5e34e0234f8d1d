//! Expressions of a text in the names of its motion.

use std::collections::BTreeMap;

use borewright_motion::{Condition, Expr, Node, Relation, Symbol};

use super::names::Names;

/// Puts motion's names for the text's.
#[derive(Debug, Clone, Default)]
pub(super) struct Resolver {
    /// Values of names that the text gave.
    names: BTreeMap<Symbol, Expr>,
    /// Whole expressions that have a name: numbers of passes.
    counts: Vec<(Expr, Expr)>,
}

impl Resolver {
    /// From here on the name stands for this.
    pub(super) fn name(&mut self, symbol: &Symbol, value: Expr) {
        self.names.insert(symbol.clone(), value);
    }

    /// From here on this expression of the text is called so.
    pub(super) fn count(&mut self, text: &Expr, name: Expr) {
        let resolved = self.expr(text);
        // The same number of steps, counted for a loop before.
        if let Some((_, known)) = self.counts.iter_mut().find(|(_, known)| *known == resolved) {
            *known = name;
        } else if resolved.as_number().is_none() && resolved != name {
            self.counts.push((resolved, name));
        }
    }

    /// From here on what the text rounds up is called so.
    pub(super) fn round_up(&mut self, text: Expr, name: Expr) {
        self.counts.push((text, name));
    }

    /// What the text works out for a number of passes, also where a loop before has given it a name.
    pub(super) fn counted(&self, text: &Expr) -> Expr {
        let resolved = self.expr(text);
        let known = self.counts.iter().find(|(_, name)| *name == resolved);
        known.map_or(resolved.clone(), |(counted, _)| counted.clone())
    }

    pub(super) fn expr(&self, expr: &Expr) -> Expr {
        let named = expr.substitute(&|s| self.names.get(s).map(|value| self.expr(value)));
        if self.counts.is_empty() {
            return named;
        }
        named.map(&|e| self.counts.iter().find(|(text, _)| text == e).map(|(_, name)| name.clone()))
    }

    pub(super) fn condition(&self, condition: &Condition) -> Condition {
        let named = condition.substitute(&|s| self.names.get(s).map(|value| self.expr(value)));
        if self.counts.is_empty() {
            return named;
        }
        named.map(&|e| self.counts.iter().find(|(text, _)| text == e).map(|(_, name)| name.clone()))
    }
}

/// One case of a goal: what holds in it, and the goal without the choices that this decides.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Case {
    pub(super) facts: Vec<Condition>,
    pub(super) goal: Condition,
}

impl Case {
    /// The same with values for names.
    pub(super) fn with(&self, names: &Names) -> Self {
        Self { facts: self.facts.iter().map(|f| names.back(f)).collect(), goal: names.back(&self.goal) }
    }

    /// What a fact says in this case: without the choices that it decides.
    pub(super) fn within(&self, fact: &Condition) -> Condition {
        let decide = |known: Condition, case: &Condition| {
            let known = decided(&decided(&known, case, true), &case.negated(), false);
            equated(known, case)
        };
        if first_choice(fact).is_none() {
            return fact.clone();
        }
        self.facts.iter().fold(fact.clone(), decide)
    }
}

/// More cases than any goal of ours has.
const CASES: usize = 32;

/// The cases of a goal that holds choices: the goal follows when it follows in each.
pub(super) fn cases(goal: Condition) -> Vec<Case> {
    let goal = goal.map(&chosen);
    let mut open = vec![Case { facts: Vec::new(), goal }];
    let mut done = Vec::new();
    while let Some(case) = open.pop() {
        let Some(condition) = first_choice(&case.goal).filter(|_| open.len() + done.len() < CASES) else {
            done.push(case);
            continue;
        };
        for (holds, fact) in [(false, condition.negated()), (true, condition.clone())] {
            let mut facts = case.facts.clone();
            let goal = decided(&case.goal, &condition, holds);
            let goal = equated(goal, &fact);
            facts.push(fact);
            open.push(Case { facts, goal });
        }
    }
    done.retain(|case| case.goal != Condition::True && !case.is_none());
    done
}

impl Case {
    /// Text and motion ask the same thing, and the answers differ.
    fn is_none(&self) -> bool {
        self.facts.iter().any(|fact| self.facts.contains(&fact.negated()))
    }
}

/// The smaller and the greater of two as choices.
fn chosen(expr: &Expr) -> Option<Expr> {
    let choose = |relation, a: &Expr, b: &Expr| {
        let (a, b) = (a.map(&chosen), b.map(&chosen));
        Some(Expr::choose(Condition::compare(relation, a.clone(), b.clone()), a, b))
    };
    match expr.node() {
        Node::Min(a, b) => choose(Relation::LessEqual, a, b),
        Node::Max(a, b) => choose(Relation::GreaterEqual, a, b),
        Node::Number(_)
        | Node::Pi
        | Node::Symbol(_)
        | Node::Add(..)
        | Node::Sub(..)
        | Node::Mul(..)
        | Node::Div(..)
        | Node::Neg(_)
        | Node::Call(..)
        | Node::If(..) => None,
    }
}

fn first_choice(goal: &Condition) -> Option<Condition> {
    let mut found: Option<Condition> = None;
    goal.walk(&mut |e| {
        if let Node::If(condition, ..) = e.node()
            && found.is_none()
        {
            // The innermost one first: conditions may hold choices themselves.
            found = first_choice(condition).or_else(|| Some((**condition).clone()));
        }
    });
    found
}

fn decided(goal: &Condition, condition: &Condition, holds: bool) -> Condition {
    goal.map(&|e| {
        let Node::If(c, yes, no) = e.node() else { return None };
        if **c == *condition {
            let taken = if holds { yes } else { no };
            return Some(in_expr(taken, condition, holds));
        }
        let inner = decided(c, condition, holds);
        (inner != **c)
            .then(|| Expr::choose(inner, in_expr(yes, condition, holds), in_expr(no, condition, holds)))
    })
}

fn in_expr(expr: &Expr, condition: &Condition, holds: bool) -> Expr {
    let carrier = Condition::Compare(Relation::Equal, expr.clone(), Expr::zero());
    match decided(&carrier, condition, holds) {
        Condition::Compare(_, inner, _) => inner,
        Condition::True | Condition::False | Condition::And(_) | Condition::Or(_) | Condition::Not(_) => {
            expr.clone()
        }
    }
}

/// A name that is known to be equal to something is replaced by it.
fn equated(goal: Condition, fact: &Condition) -> Condition {
    let Condition::Compare(Relation::Equal, a, b) = fact else { return goal };
    let (symbol, value) = match (a.as_symbol(), b.as_symbol()) {
        (Some(symbol), _) if !b.symbols().contains(symbol) => (symbol, b),
        (_, Some(symbol)) if !a.symbols().contains(symbol) => (symbol, a),
        (Some(_) | None, Some(_) | None) => return goal,
    };
    goal.substitute(&|s| (s == symbol).then(|| value.clone()))
}
