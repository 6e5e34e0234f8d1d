//! Arguments that may be left out, in a text that gives them no default of their own: each course is taken apart
//! into those cases that it tells apart, and in each of them a parameter is its default or what was supplied.

use std::collections::{BTreeMap, BTreeSet};

use borewright_motion::{Condition, Expr, Motion, Node, Symbol};

use super::interface::{argument, centre, given};

/// More arguments than this are not taken apart: that is more than any text of ours leaves open.
const MOST: usize = 3;

/// One case: which arguments are supplied.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Case {
    /// Values of parameters.
    values: BTreeMap<Symbol, Expr>,
    /// Conditions that say that an argument is supplied, and whether it is.
    supplied: Vec<(Condition, bool)>,
}

/// The cases of a course with these facts. Parameters that are names of the text have their own obligation, and
/// `names` are the values of what the head of the motion names.
pub(super) fn cases(
    facts: &[Condition],
    motion: &Motion,
    names: &BTreeMap<Symbol, Expr>,
    told: &BTreeSet<Symbol>,
) -> Vec<Case> {
    let mentioned: BTreeSet<Symbol> = facts.iter().flat_map(Condition::symbols).collect();
    let optional = motion.parameters.iter().filter_map(|p| Some((p.symbol.clone(), p.default.clone()?)));
    let places = centre().map(|symbol| (symbol, Expr::zero()));
    let open = optional.chain(places).filter(|(s, _)| !told.contains(s) && mentioned.contains(&given(s)));
    let mut cases = vec![Case::default()];
    for (symbol, default) in open.take(MOST) {
        let default = default.substitute(&|s| names.get(s).cloned());
        let both = |case: &Case| [true, false].map(|is| case.with(&symbol, &default, is));
        cases = cases.iter().flat_map(both).collect();
    }
    cases.retain(|case| !facts.iter().any(|fact| case.condition(fact) == Condition::False));
    cases
}

impl Case {
    fn with(&self, symbol: &Symbol, default: &Expr, supplied: bool) -> Self {
        let mut case = self.clone();
        let value = if supplied { argument(symbol) } else { self.put(default) };
        case.values.insert(symbol.clone(), value);
        let is = Condition::not_equal(Expr::symbol(&given(symbol)), Expr::zero());
        case.supplied.push((is, supplied));
        case
    }

    fn put(&self, expr: &Expr) -> Expr {
        expr.substitute(&|s| self.values.get(s).cloned())
    }

    /// The condition in this case.
    pub(super) fn condition(&self, condition: &Condition) -> Condition {
        if self.values.is_empty() {
            return condition.clone();
        }
        self.decided(condition).substitute(&|s| self.values.get(s).cloned())
    }

    /// The condition without what this case decides.
    fn decided(&self, condition: &Condition) -> Condition {
        let known = |c: &Condition| {
            let found = self.supplied.iter().find(|(is, _)| is == c || is.negated() == *c);
            found.map(|(is, supplied)| (is == c) == *supplied)
        };
        if let Some(holds) = known(condition) {
            return Condition::from_bool(holds);
        }
        match condition {
            Condition::And(parts) => Condition::all(parts.iter().map(|p| self.decided(p))),
            Condition::Or(parts) => Condition::any(parts.iter().map(|p| self.decided(p))),
            Condition::Not(inner) => self.decided(inner).negated(),
            Condition::Compare(..) => condition.map(&|e| self.taken(e)),
            Condition::True | Condition::False => condition.clone(),
        }
    }

    /// The branch of a choice, where this case decides it.
    fn taken(&self, expr: &Expr) -> Option<Expr> {
        let Node::If(condition, yes, no) = expr.node() else { return None };
        let taken = |e: &Expr| e.map(&|inner| self.taken(inner));
        match self.decided(condition) {
            Condition::True => Some(taken(yes)),
            Condition::False => Some(taken(no)),
            open @ (Condition::Compare(..) | Condition::And(_) | Condition::Or(_) | Condition::Not(_)) => {
                Some(Expr::choose(open, taken(yes), taken(no)))
            }
        }
    }
}
