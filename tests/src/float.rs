//! From expressions to floats: a second reading of them, to draw sizes by. It is no part of any proof.

use std::collections::BTreeMap;

use borewright_motion::{Clause, Condition, Expr, Function, Motion, Node, Relation, Symbol};

/// Values by name.
pub type Floats = BTreeMap<Symbol, f64>;

/// Slack of comparisons: sizes on a boundary count as admitted here, and exact arithmetic decides later.
const SLACK: f64 = 1e-9;

/// The value of an expression; `NAN` where it has none.
#[must_use]
pub fn value(e: &Expr, env: &Floats) -> f64 {
    let of = |e: &Expr| value(e, env);
    match e.node() {
        Node::Number(n) => n.to_f64(),
        Node::Pi => std::f64::consts::PI,
        Node::Symbol(s) => env.get(s).copied().unwrap_or(f64::NAN),
        Node::Add(a, b) => of(a) + of(b),
        Node::Sub(a, b) => of(a) - of(b),
        Node::Mul(a, b) => of(a) * of(b),
        Node::Div(a, b) => of(a) / of(b),
        Node::Neg(a) => -of(a),
        Node::Call(f, a) => function(*f, of(a)),
        Node::Min(a, b) => of(a).min(of(b)),
        Node::Max(a, b) => of(a).max(of(b)),
        Node::If(c, a, b) => of(if holds(c, env) { a } else { b }),
    }
}

fn function(f: Function, x: f64) -> f64 {
    match f {
        Function::Sin => x.to_radians().sin(),
        Function::Cos => x.to_radians().cos(),
        Function::Tan => x.to_radians().tan(),
        Function::Atan => x.atan().to_degrees(),
        Function::Acos => x.acos().to_degrees(),
        Function::Sqrt => x.sqrt(),
        Function::Abs => x.abs(),
        Function::Ceil => (x - SLACK).ceil(),
        Function::Floor => (x + SLACK).floor(),
    }
}

/// Whether a condition holds, or nearly.
#[must_use]
pub fn holds(c: &Condition, env: &Floats) -> bool {
    match c {
        Condition::True => true,
        Condition::False => false,
        Condition::Compare(relation, a, b) => {
            let by = value(a, env) - value(b, env);
            match relation {
                Relation::Equal => by.abs() <= SLACK,
                Relation::NotEqual => by.abs() > SLACK,
                Relation::Less | Relation::LessEqual => by <= SLACK,
                Relation::Greater | Relation::GreaterEqual => by >= -SLACK,
            }
        }
        Condition::And(parts) => parts.iter().all(|p| holds(p, env)),
        Condition::Or(parts) => parts.iter().any(|p| holds(p, env)),
        Condition::Not(inner) => !holds(inner, env),
    }
}

/// Every name of the head, when all requirements hold. A default outside its range does not stop it: that is
/// for the proof to exclude.
#[must_use]
pub fn head(motion: &Motion, given: &Floats) -> Option<Floats> {
    let mut env = Floats::new();
    for p in &motion.parameters {
        let default = || p.default.as_ref().map(|d| value(d, &env));
        let value = given.get(&p.symbol).copied().or_else(default)?;
        if !value.is_finite() {
            return None;
        }
        env.insert(p.symbol.clone(), value);
    }
    for clause in &motion.head {
        match clause {
            Clause::Let(l) => {
                let value = value(&l.value, &env);
                env.insert(l.symbol.clone(), value);
            }
            Clause::Require(r) if holds(&r.condition, &env) => {}
            Clause::Require(_) => return None,
        }
    }
    Some(env)
}
