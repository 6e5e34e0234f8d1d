//! The facts on one branch of a proof, and what they say about the order of two terms.

use std::collections::{BTreeMap, BTreeSet};

use borewright_motion::Relation;
use borewright_number::{Interval, Rational};

use super::term::{Cond, TermId, Terms};

/// Which of `<`, `==`, `>` are still possible between two terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Orders(u8);

impl Orders {
    const LESS: u8 = 1;
    const EQUAL: u8 = 2;
    const GREATER: u8 = 4;
    /// Nothing is known.
    pub(super) const ANY: Self = Self(7);

    pub(super) fn of(relation: Relation) -> Self {
        Self(match relation {
            Relation::Equal => Self::EQUAL,
            Relation::NotEqual => Self::LESS | Self::GREATER,
            Relation::Less => Self::LESS,
            Relation::LessEqual => Self::LESS | Self::EQUAL,
            Relation::Greater => Self::GREATER,
            Relation::GreaterEqual => Self::GREATER | Self::EQUAL,
        })
    }

    fn swapped(self) -> Self {
        Self((self.0 & Self::EQUAL) | ((self.0 & Self::LESS) << 2) | ((self.0 & Self::GREATER) >> 2))
    }

    pub(super) fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// Whether the relation is settled.
    pub(super) fn decides(self, relation: Relation) -> Option<bool> {
        let wanted = Self::of(relation).0;
        if self.0 & !wanted == 0 {
            Some(true)
        } else if self.0 & wanted == 0 {
            Some(false)
        } else {
            None
        }
    }

    /// 1 or -1 where the left side is surely greater or less.
    pub(super) fn sign(self) -> Option<i32> {
        match self.0 {
            Self::LESS => Some(-1),
            Self::GREATER => Some(1),
            _ => None,
        }
    }
}

/// The facts on one branch.
#[derive(Debug, Clone, Default)]
pub(super) struct Context {
    /// By number, as certificates count them: comparisons, `or`s and `False`.
    pub(super) facts: Vec<Cond>,
    orders: BTreeMap<(TermId, TermId), Orders>,
    /// `term rel number` facts: the interval they leave.
    pub(super) bounds: BTreeMap<TermId, Interval>,
    /// The `or`s whose cases are being looked at: one part of each is a fact.
    pub(super) opened: BTreeSet<usize>,
}

impl Context {
    /// Adds a condition as facts.
    pub(super) fn assume(&mut self, terms: &Terms, condition: &Cond) {
        match condition {
            Cond::True => {}
            Cond::And(parts) => parts.iter().for_each(|part| self.assume(terms, part)),
            Cond::False | Cond::Or(_) => self.facts.push(condition.clone()),
            Cond::Compare(relation, a, b) => {
                self.facts.push(condition.clone());
                let (key, orders) = ordered(*a, *b, Orders::of(*relation));
                let entry = self.orders.entry(key).or_insert(Orders::ANY);
                *entry = entry.and(orders);
                if let Some(value) = terms.as_number(*b) {
                    self.bound(*a, *relation, value);
                } else if let Some(value) = terms.as_number(*a) {
                    self.bound(*b, swapped(*relation), value);
                }
            }
        }
    }

    fn bound(&mut self, term: TermId, relation: Relation, value: &Rational) {
        let point = Interval::from_rational(value);
        let entry = self.bounds.entry(term).or_insert(Interval::ENTIRE);
        let part = match relation {
            Relation::Equal => point,
            Relation::Less | Relation::LessEqual => Interval { lo: f64::NEG_INFINITY, hi: point.hi },
            Relation::Greater | Relation::GreaterEqual => Interval { lo: point.lo, hi: f64::INFINITY },
            Relation::NotEqual => return,
        };
        *entry = entry.intersect(part);
    }

    /// What the facts say about the order of two terms.
    pub(super) fn orders(&self, a: TermId, b: TermId) -> Orders {
        if a == b {
            return Orders::of(Relation::Equal);
        }
        let (key, _) = ordered(a, b, Orders::ANY);
        let orders = self.orders.get(&key).copied().unwrap_or(Orders::ANY);
        if key == (a, b) { orders } else { orders.swapped() }
    }

    /// The number that a variable equals by the facts.
    pub(super) fn fixed(&self, terms: &Terms, variable: TermId) -> Option<Rational> {
        let range = self.bounds.get(&variable).filter(|range| range.lo == range.hi)?;
        let value = Rational::from_f64(range.lo)?;
        let number = terms.find(&super::term::Term::Number(value.clone()))?;
        (self.orders(variable, number) == Orders::of(Relation::Equal)).then_some(value)
    }

    /// Whether the facts make a variable equal to a number, one of the two being a or b.
    pub(super) fn fixes(&self, terms: &Terms, a: TermId, b: TermId) -> bool {
        [a, b]
            .into_iter()
            .any(|id| matches!(terms.get(id), super::term::Term::Var(_)) && self.fixed(terms, id).is_some())
    }

    /// Whether the facts settle a condition.
    pub(super) fn decides(&self, condition: &Cond) -> Option<bool> {
        match condition {
            Cond::True => Some(true),
            Cond::False => Some(false),
            Cond::Compare(relation, a, b) => self.orders(*a, *b).decides(*relation),
            Cond::And(parts) => self.decides_all(parts, true),
            Cond::Or(parts) => self.decides_all(parts, false),
        }
    }

    /// `and` for `unit` true, `or` for false.
    fn decides_all(&self, parts: &[Cond], unit: bool) -> Option<bool> {
        let mut all = Some(unit);
        for part in parts {
            match self.decides(part) {
                Some(value) if value == unit => {}
                Some(_) => return Some(!unit),
                None => all = None,
            }
        }
        all
    }
}

fn ordered(a: TermId, b: TermId, orders: Orders) -> ((TermId, TermId), Orders) {
    if a <= b { ((a, b), orders) } else { ((b, a), orders.swapped()) }
}

/// The relation with its sides exchanged.
pub(super) fn swapped(relation: Relation) -> Relation {
    match relation {
        Relation::Equal | Relation::NotEqual => relation,
        Relation::Less => Relation::Greater,
        Relation::LessEqual => Relation::GreaterEqual,
        Relation::Greater => Relation::Less,
        Relation::GreaterEqual => Relation::LessEqual,
    }
}
