//! Expressions and conditions as source text, with the fewest brackets.

use std::fmt;

use crate::{Condition, Expr, Node};

/// How tightly a node binds: 0 if-then-else, 1 sum, 2 product, 3 sign, 4 atom.
fn level(node: &Node) -> u8 {
    match node {
        Node::If(..) => 0,
        Node::Add(..) | Node::Sub(..) => 1,
        Node::Mul(..) | Node::Div(..) => 2,
        Node::Neg(_) => 3,
        Node::Number(value) => match (value.signum() < 0, value.exact_decimal().is_some()) {
            (_, false) => 2,
            (true, true) => 3,
            (false, true) => 4,
        },
        Node::Pi | Node::Symbol(_) | Node::Call(..) | Node::Min(..) | Node::Max(..) => 4,
    }
}

fn at(f: &mut fmt::Formatter<'_>, e: &Expr, least: u8) -> fmt::Result {
    if level(e.node()) < least { write!(f, "({e})") } else { write!(f, "{e}") }
}

impl fmt::Display for Expr {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let infix = |f: &mut fmt::Formatter<'_>, a: &Expr, op: &str, b: &Expr, left: u8, right: u8| {
            at(f, a, left)?;
            write!(f, " {op} ")?;
            at(f, b, right)
        };
        match self.node() {
            Node::Number(value) => match value.exact_decimal() {
                Some(text) => f.write_str(&text),
                None => write!(f, "{value}"),
            },
            Node::Pi => f.write_str("pi"),
            Node::Symbol(symbol) => write!(f, "{symbol}"),
            Node::Add(a, b) => infix(f, a, "+", b, 1, 2),
            Node::Sub(a, b) => infix(f, a, "-", b, 1, 2),
            Node::Mul(a, b) => infix(f, a, "*", b, 2, 3),
            Node::Div(a, b) => infix(f, a, "/", b, 2, 3),
            Node::Neg(a) => {
                f.write_str("-")?;
                at(f, a, 4)
            }
            Node::Call(function, a) => write!(f, "{}({a})", function.name()),
            Node::Min(a, b) => write!(f, "min({a}, {b})"),
            Node::Max(a, b) => write!(f, "max({a}, {b})"),
            Node::If(c, a, b) => write!(f, "if {c} then {a} else {b}"),
        }
    }
}

impl fmt::Debug for Expr {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Display for Condition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let list = |f: &mut fmt::Formatter<'_>, parts: &[Condition], word: &str| {
            for (i, part) in parts.iter().enumerate() {
                if i > 0 {
                    write!(f, " {word} ")?;
                }
                match part {
                    Condition::And(_) | Condition::Or(_) => write!(f, "({part})")?,
                    Condition::True | Condition::False | Condition::Compare(..) | Condition::Not(_) => {
                        write!(f, "{part}")?;
                    }
                }
            }
            Ok(())
        };
        match self {
            Self::True => f.write_str("true"),
            Self::False => f.write_str("false"),
            Self::Compare(relation, a, b) => {
                at(f, a, 1)?;
                write!(f, " {} ", relation.name())?;
                at(f, b, 1)
            }
            Self::And(parts) => list(f, parts, "and"),
            Self::Or(parts) => list(f, parts, "or"),
            Self::Not(inner) => write!(f, "not ({inner})"),
        }
    }
}
