//! What a text rounds up to a whole number, against what its motion rounds up there.
//!
//! A text takes `depth / pitch` a little less before it rounds it up, since the control's own rounding could count
//! one more where it is a whole number. So it counts some whole number that what the motion rounds up exceeds by a
//! small part at most, and that is less than one above it. Such a number gets a name, and agreement is proved with
//! any number for it of which both are true.

use borewright_motion::{Act, ActKind, Condition, Course, Expr, Function, Node, Symbol};
use borewright_number::Rational;

use super::expected::whole;
use super::ratio::compared;

/// The names for what a motion rounds up.
#[derive(Debug, Clone, Default)]
pub(super) struct Ceilings {
    known: Vec<Ceiling>,
}

/// What is rounded up in a motion.
#[derive(Debug, Clone)]
struct Ceiling {
    name: Symbol,
    from: Expr,
}

/// What is rounded up in a text: which name of the motion it is, and what makes it so.
#[derive(Debug, Clone)]
pub(super) struct Match {
    /// The expression of the text.
    pub(super) text: Expr,
    pub(super) name: Expr,
    /// What must hold, each with its words.
    pub(super) goals: Vec<(&'static str, Condition)>,
    /// What follows for the name.
    facts: Vec<Condition>,
}

impl Ceilings {
    /// The expression with a name for all that it rounds up.
    pub(super) fn named(&mut self, expr: &Expr) -> Expr {
        let mut found: Vec<Expr> = Vec::new();
        expr.walk(&mut |e| {
            if let Some(from) = rounded_up(e).filter(|from| !from.symbols().is_empty()) {
                found.push(from.clone());
            }
        });
        for from in found {
            if !self.known.iter().any(|c| c.from == from) {
                let name = Symbol::new(format!("rounded up {}.count", self.known.len() + 1));
                self.known.push(Ceiling { name, from });
            }
        }
        self.put(expr)
    }

    fn put(&self, expr: &Expr) -> Expr {
        expr.map(&|e| {
            let from = rounded_up(e)?;
            self.known.iter().find(|c| c.from == *from).map(|c| Expr::symbol(&c.name))
        })
    }

    /// The condition with a name for all that it rounds up and that has a name.
    pub(super) fn condition(&self, condition: &Condition) -> Condition {
        if self.known.is_empty() {
            return condition.clone();
        }
        condition.map(&|e| {
            let from = rounded_up(e)?;
            self.known.iter().find(|c| c.from == *from).map(|c| Expr::symbol(&c.name))
        })
    }

    /// Whatever in these expressions is rounded up and is one of the motion's, but for `part`.
    pub(super) fn matches(&self, exprs: &[Expr], part: &Rational) -> Vec<Match> {
        let longer = Rational::ONE + part;
        let mut found: Vec<Match> = Vec::new();
        for expr in exprs {
            expr.walk(&mut |e| {
                let Some(from) = rounded_up(e).filter(|from| !from.symbols().is_empty()) else { return };
                if found.iter().any(|known| known.text == *e) {
                    return;
                }
                let mut same = self.known.iter().filter_map(|c| c.matched(e, from, &longer));
                found.extend(same.next());
            });
        }
        found
    }
}

impl Ceiling {
    fn matched(&self, text: &Expr, from: &Expr, longer: &Rational) -> Option<Match> {
        let [no_less, no_more] = compared(from, &self.from, longer)?;
        let name = Expr::symbol(&self.name);
        let zero = Condition::at_least(self.from.clone(), Expr::zero());
        let facts = vec![
            Condition::at_most(self.from.clone(), name.clone() * Expr::number(longer.clone())),
            Condition::less(name.clone(), self.from.clone() + Expr::from(1)),
        ];
        let goals = vec![
            ("what is rounded up has no sign", zero),
            ("no more is counted than needed", no_less),
            ("no less is counted than needed", no_more),
        ];
        Some(Match { text: text.clone(), name, goals, facts })
    }
}

impl Match {
    /// What follows for the name.
    pub(super) fn facts(&self) -> Vec<Condition> {
        self.facts.clone()
    }
}

/// What the facts say of each name that is used in these conditions.
pub(super) fn facts_of<'c>(matches: &[Match], used: impl Iterator<Item = &'c Condition>) -> Vec<Condition> {
    let symbols: std::collections::BTreeSet<Symbol> = used.flat_map(Condition::symbols).collect();
    let named = matches.iter().filter(|m| m.name.as_symbol().is_some_and(|s| symbols.contains(s)));
    named.flat_map(Match::facts).collect()
}

/// What a whole number is rounded up from: `ceil(a)`, which a control may know only as rounding away from zero.
fn rounded_up(e: &Expr) -> Option<&Expr> {
    match e.node() {
        Node::Call(Function::Ceil, from) => Some(from),
        Node::If(condition, yes, _) => {
            let Condition::Compare(borewright_motion::Relation::GreaterEqual, x, y) = &**condition else {
                return None;
            };
            let Node::Call(Function::Ceil, from) = yes.node() else { return None };
            (whole(y) == Some(0) && x == from).then_some(from)
        }
        Node::Number(_)
        | Node::Pi
        | Node::Symbol(_)
        | Node::Add(..)
        | Node::Sub(..)
        | Node::Mul(..)
        | Node::Div(..)
        | Node::Neg(_)
        | Node::Min(..)
        | Node::Max(..)
        | Node::Call(..) => None,
    }
}

/// Every expression of a course.
pub(super) fn exprs(course: &Course) -> Vec<Expr> {
    let mut found = Vec::new();
    for fact in &course.facts {
        fact.walk(&mut |e| found.push(e.clone()));
    }
    of_acts(&course.acts, &mut found);
    found
}

fn of_acts(acts: &[Act], found: &mut Vec<Expr>) {
    for act in acts {
        match &act.kind {
            ActKind::Home | ActKind::Stop(_) => {}
            ActKind::Rapid { to, .. } => found.extend(to.iter().cloned()),
            ActKind::Line { to, feed, .. } => found.extend(to.iter().chain(feed).cloned()),
            ActKind::Arc { to, centre, feed, .. } => {
                found.extend(to.iter().chain(centre).chain(feed).cloned());
            }
            ActKind::Dwell(time) => found.push(time.clone()),
            ActKind::Loop { first, last, body, .. } => {
                found.extend([first.clone(), last.clone()]);
                of_acts(body, found);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    fn turns() -> Expr {
        n("depth") / n("pitch") + Expr::number(Rational::ratio(1, 2).unwrap())
    }

    fn ceil(e: Expr) -> Expr {
        e.call(Function::Ceil)
    }

    #[test]
    fn a_little_less_is_the_same_and_another_number_is_not() {
        let less = |text: &str| Expr::number(Rational::from_decimal(text).unwrap());
        let mut ceilings = Ceilings::default();
        assert_eq!(ceilings.named(&ceil(turns())).to_string(), "rounded up 1.count");
        let of = |text: Expr| {
            let matches = ceilings.matches(&[text], &Rational::ratio(2, 1_000_000).unwrap());
            let goals = matches.iter().flat_map(|m| m.goals.iter().skip(1).map(|(_, goal)| goal.clone()));
            (matches.len(), goals.collect::<Vec<_>>())
        };
        assert_eq!(of(ceil(less("0.999999") * turns())), (1, vec![Condition::True, Condition::True]));
        // More than was granted, and more than the motion: goals that are false.
        assert_eq!(of(ceil(less("0.99999") * turns())), (1, vec![Condition::True, Condition::False]));
        assert_eq!(of(ceil(less("1.000001") * turns())), (1, vec![Condition::False, Condition::True]));
        assert_eq!(of(ceil(n("depth") / n("pitch"))), (0, Vec::new()));
    }
}
