//! What follows at a glance from the facts of a course: signs and bounds, by intervals. What does not is left
//! open; nothing hangs on an answer but how many courses there are.

use std::collections::BTreeMap;

use borewright_motion::{Condition, Expr, Node, Relation, Symbol, Value, decide_with};
use borewright_number::{Interval, Rational};

/// Bounds of names, from facts that compare one name with a number.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Bounds(BTreeMap<Symbol, (Option<Rational>, Option<Rational>)>);

impl Bounds {
    /// Takes in a fact.
    pub(crate) fn learn(&mut self, fact: &Condition) {
        match fact {
            Condition::And(parts) => parts.iter().for_each(|p| self.learn(p)),
            Condition::Compare(relation, a, b) => {
                if let (Some((symbol, scale)), Some(number)) = (scaled(a), b.as_number()) {
                    self.bound(symbol, *relation, &(number / &scale));
                } else if let (Some(number), Some((symbol, scale))) = (a.as_number(), scaled(b)) {
                    self.bound(symbol, turned(*relation), &(number / &scale));
                }
            }
            Condition::True | Condition::False | Condition::Or(_) | Condition::Not(_) => {}
        }
    }

    fn bound(&mut self, symbol: &Symbol, relation: Relation, number: &Rational) {
        let (least, greatest) = self.0.entry(symbol.clone()).or_default();
        let higher = least.as_ref().is_none_or(|l| l < number);
        let lower = greatest.as_ref().is_none_or(|g| g > number);
        match relation {
            Relation::Greater | Relation::GreaterEqual if higher => *least = Some(number.clone()),
            Relation::Less | Relation::LessEqual if lower => *greatest = Some(number.clone()),
            Relation::Equal => (*least, *greatest) = (Some(number.clone()), Some(number.clone())),
            Relation::Greater
            | Relation::GreaterEqual
            | Relation::Less
            | Relation::LessEqual
            | Relation::NotEqual => {}
        }
    }

    /// Whether the condition holds, where that can be told.
    pub(crate) fn decide(&self, condition: &Condition) -> Option<bool> {
        if let Condition::Compare(relation, a, b) = condition
            && a == b
        {
            return Some(relation.holds(std::cmp::Ordering::Equal));
        }
        decide_with(condition, &|symbol| self.value(symbol)).ok().flatten()
    }

    fn value(&self, symbol: &Symbol) -> Option<Value> {
        let (least, greatest) = self.0.get(symbol)?;
        let (least, greatest) = (least.as_ref()?, greatest.as_ref()?);
        Some(Value::Near(Interval::from_rational(least).hull(Interval::from_rational(greatest))))
    }

    /// The expression without the choices that are decided.
    pub(crate) fn settle(&self, expr: &Expr) -> Expr {
        expr.map(&|e| {
            let Node::If(condition, yes, no) = e.node() else { return None };
            let taken = if self.decide(condition)? { yes } else { no };
            Some(self.settle(taken))
        })
    }

    /// The same of a condition.
    pub(crate) fn settle_in(&self, condition: &Condition) -> Condition {
        match condition {
            Condition::Compare(relation, a, b) => {
                Condition::compare(*relation, self.settle(a), self.settle(b))
            }
            Condition::And(parts) => Condition::all(parts.iter().map(|p| self.settle_in(p))),
            Condition::Or(parts) => Condition::any(parts.iter().map(|p| self.settle_in(p))),
            Condition::Not(inner) => self.settle_in(inner).negated(),
            Condition::True | Condition::False => condition.clone(),
        }
    }
}

/// A name times a positive number.
fn scaled(expr: &Expr) -> Option<(&Symbol, Rational)> {
    let (inner, scale) = match expr.node() {
        Node::Symbol(symbol) => return Some((symbol, Rational::ONE)),
        Node::Div(a, b) => (a, b.as_number()?.recip()?),
        Node::Mul(a, b) => match a.as_number() {
            Some(number) => (b, number.clone()),
            None => (a, b.as_number()?.clone()),
        },
        Node::Number(_)
        | Node::Pi
        | Node::Add(..)
        | Node::Sub(..)
        | Node::Neg(_)
        | Node::Call(..)
        | Node::Min(..)
        | Node::Max(..)
        | Node::If(..) => return None,
    };
    Some((inner.as_symbol()?, scale)).filter(|(_, scale)| scale.signum() > 0)
}

fn turned(relation: Relation) -> Relation {
    match relation {
        Relation::Less => Relation::Greater,
        Relation::LessEqual => Relation::GreaterEqual,
        Relation::Greater => Relation::Less,
        Relation::GreaterEqual => Relation::LessEqual,
        Relation::Equal | Relation::NotEqual => relation,
    }
}
