//! Symbolic real expressions.

use std::collections::BTreeSet;
use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};
use std::sync::Arc;

use borewright_number::Rational;

use crate::Condition;

/// A name that stands for one value: a parameter, a `let`, a loop value or counter, a field of the cutter.
///
/// Two symbols are the same when their names are; whoever makes a motion keeps names unique within it
/// (lowering writes `wall`, `cutter.flutes`, `level`, `level.index`, `level.count`, `finish_bore.wall`).
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Symbol(Arc<str>);

impl Symbol {
    /// What the names of counters of places begin with: `at` is a word of the language, so it is nobody's name.
    pub const PLACES: &'static str = "at.";

    /// Whether it counts places, in a routine of its own or in one that is called.
    #[must_use]
    pub fn counts_places(&self) -> bool {
        self.0.split_inclusive('.').any(|part| part == Self::PLACES)
    }

    /// The symbol of that name.
    #[must_use]
    pub fn new(name: impl AsRef<str>) -> Self {
        Self(Arc::from(name.as_ref()))
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Symbol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl fmt::Debug for Symbol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A function of one argument. Angles are in degrees.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Function {
    /// `sin(a)` of an angle in degrees
    Sin,
    /// `cos(a)` of an angle in degrees
    Cos,
    /// `tan(a)` of an angle in degrees
    Tan,
    /// `atan(r)`, in degrees
    Atan,
    /// `acos(r)`, in degrees
    Acos,
    /// `sqrt(x)`
    Sqrt,
    /// `abs(x)`
    Abs,
    /// `ceil(x)`
    Ceil,
    /// `floor(x)`
    Floor,
}

impl Function {
    /// The function's name in the language.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Sin => "sin",
            Self::Cos => "cos",
            Self::Tan => "tan",
            Self::Atan => "atan",
            Self::Acos => "acos",
            Self::Sqrt => "sqrt",
            Self::Abs => "abs",
            Self::Ceil => "ceil",
            Self::Floor => "floor",
        }
    }
}

/// One node of an expression.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Node {
    /// An exact number.
    Number(Rational),
    /// The exact, symbolic pi.
    Pi,
    /// A named value.
    Symbol(Symbol),
    /// `a + b`
    Add(Expr, Expr),
    /// `a - b`
    Sub(Expr, Expr),
    /// `a * b`
    Mul(Expr, Expr),
    /// `a / b`; that `b` is not 0 is an obligation of whoever uses it
    Div(Expr, Expr),
    /// `-a`
    Neg(Expr),
    /// `f(a)`
    Call(Function, Expr),
    /// `min(a, b)`
    Min(Expr, Expr),
    /// `max(a, b)`
    Max(Expr, Expr),
    /// `if c then a else b`
    If(Arc<Condition>, Expr, Expr),
}

/// A symbolic real expression; cheap to copy.
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Expr(Arc<Node>);

impl Expr {
    /// Wraps a node as it is, without any simplification.
    #[must_use]
    pub fn from_node(node: Node) -> Self {
        Self(Arc::new(node))
    }

    /// The topmost node.
    #[must_use]
    pub fn node(&self) -> &Node {
        &self.0
    }

    /// An exact number.
    #[must_use]
    pub fn number(value: Rational) -> Self {
        Self::from_node(Node::Number(value))
    }

    /// 0.
    #[must_use]
    pub fn zero() -> Self {
        Self::number(Rational::ZERO)
    }

    /// pi.
    #[must_use]
    pub fn pi() -> Self {
        Self::from_node(Node::Pi)
    }

    /// A named value.
    #[must_use]
    pub fn symbol(symbol: &Symbol) -> Self {
        Self::from_node(Node::Symbol(symbol.clone()))
    }

    /// The named value of that name.
    #[must_use]
    pub fn named(name: &str) -> Self {
        Self::symbol(&Symbol::new(name))
    }

    /// The number this is, where it is a literal one.
    #[must_use]
    pub fn as_number(&self) -> Option<&Rational> {
        if let Node::Number(value) = self.node() { Some(value) } else { None }
    }

    /// The symbol this is, where it is one.
    #[must_use]
    pub fn as_symbol(&self) -> Option<&Symbol> {
        if let Node::Symbol(symbol) = self.node() { Some(symbol) } else { None }
    }

    fn is(&self, value: &Rational) -> bool {
        self.as_number() == Some(value)
    }

    /// `f(self)`; sines and cosines of quarter turns are folded (`cos(a + 90deg)` becomes `-sin(a)`), exact
    /// values of exact numbers too.
    #[must_use]
    pub fn call(self, function: Function) -> Self {
        match function {
            Function::Sin => Self::sin(self),
            Function::Cos => Self::cos(self),
            Function::Tan | Function::Atan | Function::Acos => self.plain_call(function),
            Function::Sqrt => match self.as_number().and_then(Rational::exact_sqrt) {
                Some(root) => Self::number(root),
                None => self.plain_call(function),
            },
            Function::Abs => self.fold(function, Rational::abs),
            Function::Ceil => self.fold(function, Rational::ceil),
            Function::Floor => self.fold(function, Rational::floor),
        }
    }

    fn plain_call(self, function: Function) -> Self {
        Self::from_node(Node::Call(function, self))
    }

    fn fold(self, function: Function, exact: impl Fn(&Rational) -> Rational) -> Self {
        match self.as_number() {
            Some(value) => Self::number(exact(value)),
            None => self.plain_call(function),
        }
    }

    /// Sine of an angle in degrees.
    #[must_use]
    pub fn sin(self) -> Self {
        // sin(a) = cos(a - 90deg)
        (self - Self::from(90)).cos()
    }

    /// Cosine of an angle in degrees.
    #[must_use]
    pub fn cos(self) -> Self {
        let (quarters, rest) = self.split_quarters();
        let value = |f, sign: i64| {
            let plain = match rest.as_number() {
                Some(n) if n.is_zero() => Self::from(i32::from(f == Function::Cos)),
                _ => rest.clone().plain_call(f),
            };
            if sign < 0 { -plain } else { plain }
        };
        match quarters {
            0 => value(Function::Cos, 1),
            1 => value(Function::Sin, -1),
            2 => value(Function::Cos, -1),
            _ => value(Function::Sin, 1),
        }
    }

    /// Splits an angle into whole quarter turns (0..4) and the rest, so that there is one unit vector for
    /// each angle name.
    fn split_quarters(&self) -> (i64, Self) {
        let mut constant = Rational::ZERO;
        let rest = self.strip_constant(false, &mut constant);
        let quarters = (&constant / &Rational::from(90)).floor();
        let left = constant - &(&quarters * &Rational::from(90));
        let turn = (&quarters / &Rational::from(4)).floor() * Rational::from(4);
        let index = (quarters - turn).to_i64().unwrap_or(0);
        (index, if left.is_zero() { rest } else { rest + Self::number(left) })
    }

    /// The expression without its additive constants, which are added to `constant`.
    fn strip_constant(&self, negate: bool, constant: &mut Rational) -> Self {
        match self.node() {
            Node::Number(value) => {
                if negate {
                    *constant -= value;
                } else {
                    *constant += value;
                }
                Self::zero()
            }
            Node::Add(a, b) => a.strip_constant(negate, constant) + b.strip_constant(negate, constant),
            Node::Sub(a, b) => a.strip_constant(negate, constant) - b.strip_constant(!negate, constant),
            Node::Neg(a) => -a.strip_constant(!negate, constant),
            Node::Pi
            | Node::Symbol(_)
            | Node::Mul(..)
            | Node::Div(..)
            | Node::Call(..)
            | Node::Min(..)
            | Node::Max(..)
            | Node::If(..) => self.clone(),
        }
    }

    /// The smaller of two.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        match (self.as_number(), other.as_number()) {
            (Some(a), Some(b)) => Self::number(a.min(b).clone()),
            _ if self == other => self,
            _ => Self::from_node(Node::Min(self, other)),
        }
    }

    /// The greater of two.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        match (self.as_number(), other.as_number()) {
            (Some(a), Some(b)) => Self::number(a.max(b).clone()),
            _ if self == other => self,
            _ => Self::from_node(Node::Max(self, other)),
        }
    }

    /// `if condition then self else other`.
    #[must_use]
    pub fn choose(condition: Condition, then: Self, otherwise: Self) -> Self {
        if condition == Condition::True || then == otherwise {
            return then;
        }
        if condition == Condition::False {
            return otherwise;
        }
        Self::from_node(Node::If(Arc::new(condition), then, otherwise))
    }

    /// `self * self`.
    #[must_use]
    pub fn squared(&self) -> Self {
        self.clone() * self.clone()
    }

    /// The expression with every symbol for which `to` gives a value replaced by it; what folds is folded.
    #[must_use]
    pub fn substitute(&self, to: &dyn Fn(&Symbol) -> Option<Self>) -> Self {
        match self.node() {
            Node::Number(_) | Node::Pi => self.clone(),
            Node::Symbol(symbol) => to(symbol).unwrap_or_else(|| self.clone()),
            Node::Add(a, b) => a.substitute(to) + b.substitute(to),
            Node::Sub(a, b) => a.substitute(to) - b.substitute(to),
            Node::Mul(a, b) => a.substitute(to) * b.substitute(to),
            Node::Div(a, b) => a.substitute(to) / b.substitute(to),
            Node::Neg(a) => -a.substitute(to),
            Node::Call(function, a) => a.substitute(to).call(*function),
            Node::Min(a, b) => a.substitute(to).min(b.substitute(to)),
            Node::Max(a, b) => a.substitute(to).max(b.substitute(to)),
            Node::If(c, a, b) => Self::choose(c.substitute(to), a.substitute(to), b.substitute(to)),
        }
    }

    /// The expression with every node for which `to` gives a value replaced by it, from the top.
    #[must_use]
    pub fn map(&self, to: &dyn Fn(&Self) -> Option<Self>) -> Self {
        if let Some(value) = to(self) {
            return value;
        }
        match self.node() {
            Node::Number(_) | Node::Pi | Node::Symbol(_) => self.clone(),
            Node::Add(a, b) => a.map(to) + b.map(to),
            Node::Sub(a, b) => a.map(to) - b.map(to),
            Node::Mul(a, b) => a.map(to) * b.map(to),
            Node::Div(a, b) => a.map(to) / b.map(to),
            Node::Neg(a) => -a.map(to),
            Node::Call(function, a) => a.map(to).call(*function),
            Node::Min(a, b) => a.map(to).min(b.map(to)),
            Node::Max(a, b) => a.map(to).max(b.map(to)),
            Node::If(c, a, b) => Self::choose(c.map(to), a.map(to), b.map(to)),
        }
    }

    /// Calls `visit` on this node and on every node below it, from the top.
    pub fn walk(&self, visit: &mut dyn FnMut(&Self)) {
        visit(self);
        match self.node() {
            Node::Number(_) | Node::Pi | Node::Symbol(_) => {}
            Node::Add(a, b)
            | Node::Sub(a, b)
            | Node::Mul(a, b)
            | Node::Div(a, b)
            | Node::Min(a, b)
            | Node::Max(a, b) => {
                a.walk(visit);
                b.walk(visit);
            }
            Node::Neg(a) | Node::Call(_, a) => a.walk(visit),
            Node::If(c, a, b) => {
                c.walk(visit);
                a.walk(visit);
                b.walk(visit);
            }
        }
    }

    /// Every symbol that occurs.
    #[must_use]
    pub fn symbols(&self) -> BTreeSet<Symbol> {
        let mut found = BTreeSet::new();
        self.walk(&mut |e| found.extend(e.as_symbol().cloned()));
        found
    }
}

impl From<i32> for Expr {
    fn from(value: i32) -> Self {
        Self::number(Rational::from(value))
    }
}

impl From<Rational> for Expr {
    fn from(value: Rational) -> Self {
        Self::number(value)
    }
}

// The operators fold numbers and the neutral elements, and nothing else: what a person wrote stays readable.
impl Add for Expr {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        match (self.as_number(), other.as_number()) {
            (Some(a), Some(b)) => Self::number(a + b),
            (Some(a), None) if a.is_zero() => other,
            (None, Some(b)) if b.is_zero() => self,
            _ => {
                if let Node::Neg(b) = other.node() {
                    Self::from_node(Node::Sub(self, b.clone()))
                } else {
                    Self::from_node(Node::Add(self, other))
                }
            }
        }
    }
}

impl Sub for Expr {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        match (self.as_number(), other.as_number()) {
            (Some(a), Some(b)) => Self::number(a - b),
            (Some(a), None) if a.is_zero() => -other,
            (None, Some(b)) if b.is_zero() => self,
            _ if self == other => Self::zero(),
            _ => {
                if let Node::Neg(b) = other.node() {
                    Self::from_node(Node::Add(self, b.clone()))
                } else {
                    Self::from_node(Node::Sub(self, other))
                }
            }
        }
    }
}

impl Mul for Expr {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        match (self.as_number(), other.as_number()) {
            (Some(a), Some(b)) => Self::number(a * b),
            _ if self.is(&Rational::ZERO) || other.is(&Rational::ZERO) => Self::zero(),
            _ if self.is(&Rational::ONE) => other,
            _ if other.is(&Rational::ONE) => self,
            _ => Self::from_node(Node::Mul(self, other)),
        }
    }
}

impl Div for Expr {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        match (self.as_number(), other.as_number()) {
            (Some(a), Some(b)) if !b.is_zero() => Self::number(a / b),
            _ if other.is(&Rational::ONE) => self,
            _ => Self::from_node(Node::Div(self, other)),
        }
    }
}

impl Neg for Expr {
    type Output = Self;
    fn neg(self) -> Self {
        if let Node::Number(value) = self.node() {
            return Self::number(-value.clone());
        }
        if let Node::Neg(inner) = self.node() {
            return inner.clone();
        }
        Self::from_node(Node::Neg(self))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quarter_turns_share_one_unit_vector() {
        let a = Expr::named("start");
        let turned = |deg: i32| a.clone() + Expr::from(deg);
        assert_eq!(turned(90).cos(), -a.clone().sin());
        assert_eq!(turned(-90).cos(), a.clone().sin());
        assert_eq!(turned(180).sin(), -a.clone().sin());
        assert_eq!(turned(450).sin(), a.clone().cos());
        assert_eq!(turned(-360).cos(), a.cos());
        assert_eq!(Expr::from(270).sin(), Expr::from(-1));
        assert_eq!(Expr::from(90).cos(), Expr::zero());
    }

    #[test]
    fn numbers_fold_and_names_stay() {
        let x = Expr::named("x");
        assert_eq!(x.clone() + Expr::zero(), x);
        assert_eq!((x.clone() / Expr::from(2)).to_string(), "x / 2");
        assert_eq!(Expr::from(9).call(Function::Sqrt), Expr::from(3));
        // x / 0 is kept: that the divisor is not 0 is an obligation, not ours to hide.
        assert_eq!((x / Expr::zero()).to_string(), "x / 0");
    }
}
