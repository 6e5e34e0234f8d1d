//! Requirements as the guards of a machine in the other unit have them: a length of the source that is no clean
//! decimal there is rounded so that less is let in, never more.
//!
//! `tool + 0.2mm <= pilot` is asked as `tool + 0.0079 <= pilot` in inches: 0.2 mm is 0.00787 in.

use std::collections::BTreeSet;

use borewright_machine::Machine;
use borewright_motion::{Clause, Condition, Expr, Motion, Node, Relation, Requirement, Symbol};
use borewright_number::{Dimension, Rational, Rounding};

use super::parameters;
use super::scale::Scale;
use crate::number::Digits;

/// The motion with its requirements as guards ask them, and those that are other than in the source, in base units.
pub(crate) fn narrowed(motion: &Motion, machine: &Machine) -> (Motion, Vec<Requirement>) {
    let narrowing = Narrowing { motion, machine, scale: known(motion, machine) };
    let mut changed = Vec::new();
    let mut narrowed = motion.clone();
    for clause in &mut narrowed.head {
        if let Clause::Require(r) = clause
            && narrowing.may_be_rounded(r)
        {
            let condition = narrowing.condition(&r.condition);
            if condition != r.condition {
                r.condition = condition;
                changed.push(r.clone());
            }
        }
    }
    (narrowed, changed)
}

/// What each name of the head measures.
fn known(motion: &Motion, machine: &Machine) -> Scale {
    let mut scale = Scale::new(machine.unit());
    let parameters = motion.parameters.iter().map(|p| (p.symbol.clone(), p.dimension));
    let lets = motion.head.iter().filter_map(|clause| match clause {
        Clause::Let(l) => Some((l.symbol.clone(), l.dimension)),
        Clause::Require(_) => None,
    });
    scale.dimensions.extend(parameters.chain(lets));
    scale
}

struct Narrowing<'m> {
    motion: &'m Motion,
    machine: &'m Machine,
    scale: Scale,
}

impl Narrowing<'_> {
    /// A default that is worked out may lie exactly on a limit, where it must be let in; and where every size has a
    /// default that is a number, a call that states none of them must be let in. A row of a table is called by a
    /// number of its own.
    fn may_be_rounded(&self, requirement: &Requirement) -> bool {
        let names = self.names(requirement.condition.symbols());
        let rows = parameters::rows(self.motion, self.machine);
        let parameters: Vec<_> =
            self.motion.parameters.iter().filter(|p| names.contains(&p.symbol)).collect();
        let computed = parameters.iter().any(|p| p.default.as_ref().is_some_and(|d| d.as_number().is_none()));
        let stated = parameters.iter().any(|p| p.default.is_none());
        !computed && stated && !parameters.iter().any(|p| rows.contains(&p.symbol))
    }

    /// The names, and those that the lets behind them use.
    fn names(&self, mut names: BTreeSet<Symbol>) -> BTreeSet<Symbol> {
        for clause in self.motion.head.iter().rev() {
            if let Clause::Let(l) = clause
                && names.contains(&l.symbol)
            {
                names.extend(l.value.symbols());
            }
        }
        names
    }

    fn condition(&self, condition: &Condition) -> Condition {
        match condition {
            Condition::And(parts) => Condition::all(parts.iter().map(|p| self.condition(p))),
            Condition::Or(parts) => Condition::any(parts.iter().map(|p| self.condition(p))),
            Condition::Not(inner) => self.condition(&inner.negated()),
            Condition::Compare(relation, a, b) if self.is_length(a) || self.is_length(b) => match relation {
                Relation::Less | Relation::LessEqual => self.comparison(*relation, a, b, Rounding::Up),
                Relation::Greater | Relation::GreaterEqual => {
                    self.comparison(*relation, a, b, Rounding::Down)
                }
                Relation::Equal | Relation::NotEqual => condition.clone(),
            },
            Condition::Compare(..) | Condition::True | Condition::False => condition.clone(),
        }
    }

    fn comparison(&self, relation: Relation, a: &Expr, b: &Expr, way: Rounding) -> Condition {
        Condition::Compare(relation, self.rounded(a, way), self.rounded(b, other(way)))
    }

    fn is_length(&self, expr: &Expr) -> bool {
        self.scale.told(expr) == Some(Dimension::LENGTH)
    }

    /// A length that is greater, or smaller, by what its literals are rounded by. A literal on whose sign the
    /// effect depends stays as it is.
    fn rounded(&self, expr: &Expr, way: Rounding) -> Expr {
        match expr.node() {
            Node::Number(value) => Expr::number(self.number(value, way)),
            Node::Add(a, b) => self.rounded(a, way) + self.rounded(b, way),
            Node::Sub(a, b) => self.rounded(a, way) - self.rounded(b, other(way)),
            Node::Neg(a) => -self.rounded(a, other(way)),
            Node::Min(a, b) => self.rounded(a, way).min(self.rounded(b, way)),
            Node::Max(a, b) => self.rounded(a, way).max(self.rounded(b, way)),
            Node::If(condition, a, b) => {
                Expr::choose((**condition).clone(), self.rounded(a, way), self.rounded(b, way))
            }
            Node::Mul(a, b) => match (a.as_number(), b.as_number()) {
                (Some(factor), None) if self.is_length(b) => a.clone() * self.times(b, factor, way),
                (None, Some(factor)) if self.is_length(a) => self.times(a, factor, way) * b.clone(),
                (Some(_) | None, _) => expr.clone(),
            },
            Node::Div(a, b) => match b.as_number() {
                Some(divisor) if self.is_length(a) => self.times(a, divisor, way) / b.clone(),
                Some(_) | None => expr.clone(),
            },
            Node::Pi | Node::Symbol(_) | Node::Call(..) => expr.clone(),
        }
    }

    /// What is multiplied or divided by a number, rounded so that the whole is rounded that way.
    fn times(&self, expr: &Expr, factor: &Rational, way: Rounding) -> Expr {
        self.rounded(expr, if factor.signum() < 0 { other(way) } else { way })
    }

    fn number(&self, value: &Rational, way: Rounding) -> Rational {
        let unit = self.machine.unit();
        let here = value / &unit;
        if Digits::new(self.machine).ends(&here) {
            return value.clone();
        }
        here.rounded(self.machine.numbers.decimals, way) * unit
    }
}

fn other(way: Rounding) -> Rounding {
    match way {
        Rounding::Up => Rounding::Down,
        Rounding::Down => Rounding::Up,
        Rounding::Nearest => Rounding::Nearest,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    fn mm(text: &str) -> Expr {
        Expr::number(Rational::from_decimal(text).unwrap())
    }

    /// The condition in the machine's unit, for lengths a and b and a count k.
    fn asked(condition: &Condition) -> String {
        let machine = Machine::builtin("hash-inch").unwrap();
        let mut scale = Scale::new(machine.unit());
        let length = ["a", "b"].map(|name| (Symbol::new(name), Dimension::LENGTH));
        scale.dimensions.extend(length);
        scale.dimensions.insert(Symbol::new("k"), Dimension::RATIO);
        let motion = Motion {
            name: String::new(),
            documentation: Vec::new(),
            span: borewright_base::Span::default(),
            inch: false,
            program: None,
            parameters: Vec::new(),
            head: Vec::new(),
            demands: None,
            job: None,
            made: Vec::new(),
            given: Vec::new(),
            body: Vec::new(),
        };
        let narrowing = Narrowing { motion: &motion, machine: &machine, scale };
        let narrowed = narrowing.condition(condition);
        narrowing.scale.condition(&narrowed, borewright_base::Span::default()).unwrap().to_string()
    }

    #[test]
    fn literals_are_rounded_so_that_less_is_let_in() {
        // 0.2 mm is 0.00787 in, 6 mm are 0.23622 in.
        assert_eq!(asked(&Condition::at_most(n("a") + mm("0.2"), n("b"))), "a + 0.0079 <= b");
        assert_eq!(asked(&Condition::at_most(n("a"), n("b") - mm("0.2"))), "a <= b - 0.0079");
        assert_eq!(asked(&Condition::less(n("a"), mm("6"))), "a < 0.2362");
        assert_eq!(asked(&Condition::at_least(n("a"), mm("6"))), "a >= 0.2363");
        assert_eq!(asked(&Condition::greater(n("a") - n("b") * mm("-2"), mm("6"))), "a - b * -2 > 0.2363");
        assert_eq!(
            asked(&Condition::at_most(mm("-2") * (n("a") + mm("0.2")), n("b"))),
            "-2 * (a + 0.0078) <= b"
        );
        assert_eq!(asked(&Condition::less(mm("6"), n("a")).negated()), "0.2362 >= a");
        assert_eq!(
            asked(&Condition::at_most((n("a") + mm("0.2")).max(n("b")), mm("6"))),
            "max(a + 0.0079, b) <= 0.2362"
        );
    }

    #[test]
    fn what_is_clean_or_no_length_or_hangs_on_a_sign_stays() {
        assert_eq!(asked(&Condition::at_most(n("a") + mm("25.4"), n("b"))), "a + 1 <= b");
        assert_eq!(asked(&Condition::at_least(n("k"), mm("3"))), "k >= 3");
        assert_eq!(asked(&Condition::at_most(mm("0.9") * n("a"), n("b"))), "0.9 * a <= b");
        let apart = (n("a") - mm("0.2")).call(borewright_motion::Function::Abs);
        assert_eq!(asked(&Condition::at_most(apart, n("b"))), "abs(a - 1/127) <= b");
        assert_eq!(asked(&Condition::at_most(n("k") * (n("a") + mm("0.2")), n("b"))), "k * (a + 1/127) <= b");
        assert!(asked(&Condition::equal(n("a"), mm("6"))).contains("30/127"));
    }
}
