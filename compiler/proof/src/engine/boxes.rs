//! Intervals of all terms over a box, narrowed forwards and backwards through the terms.

use borewright_motion::{Function, Relation};
use borewright_number::Interval;

use super::context::Context;
use super::term::{Cond, Term, TermId, Terms};

/// An interval for each term of a fixed set.
#[derive(Debug, Clone)]
pub(super) struct Boxed {
    values: Vec<Interval>,
    /// Whether an `if` is worth the side that the intervals choose; proofs may only take both together.
    choosing: bool,
}

/// The terms that conditions are made of, parts before wholes.
#[derive(Debug, Clone, Default)]
pub(super) struct Reach {
    order: Vec<TermId>,
    seen: Vec<bool>,
    /// Without the conditions of `if`.
    values_only: bool,
}

impl Reach {
    pub(super) fn of<'c>(terms: &Terms, conditions: impl Iterator<Item = &'c Cond>) -> Self {
        let mut reach = Self { seen: vec![false; terms.len()], ..Self::default() };
        for condition in conditions {
            reach.add_condition(terms, condition);
        }
        reach
    }

    /// What a condition's interval is computed from in proofs: not what the conditions of `if` are made of.
    pub(super) fn of_values(terms: &Terms, condition: &Cond) -> Self {
        let mut reach = Self { seen: vec![false; terms.len()], values_only: true, ..Self::default() };
        reach.add_condition(terms, condition);
        reach
    }

    fn add_condition(&mut self, terms: &Terms, condition: &Cond) {
        let mut roots = Vec::new();
        condition.comparisons(&mut |_, a, b| roots.extend([a, b]));
        roots.into_iter().for_each(|root| self.add(terms, root));
    }

    pub(super) fn add(&mut self, terms: &Terms, id: TermId) {
        match self.seen.get_mut(id.0 as usize) {
            Some(seen) if !*seen => *seen = true,
            _ => return,
        }
        if let Term::If(c, _, _) = terms.get(id)
            && !self.values_only
        {
            self.add_condition(terms, c);
        }
        for part in terms.parts(id).into_iter().flatten() {
            self.add(terms, part);
        }
        self.order.push(id);
    }

    pub(super) fn has(&self, id: TermId) -> bool {
        self.seen.get(id.0 as usize) == Some(&true)
    }

    pub(super) fn terms(&self) -> &[TermId] {
        &self.order
    }
}

/// The interval of one term; `None` where no values meet the context.
pub(super) fn range(terms: &Terms, term: TermId, context: &Context) -> Option<Interval> {
    let mut reach = Reach::of(terms, std::iter::empty());
    reach.add(terms, term);
    Some(Boxed::new(terms, &reach, context)?.get(term))
}

impl Boxed {
    /// Everything the facts' bounds leave; `None` if that is nothing.
    pub(super) fn new(terms: &Terms, reach: &Reach, context: &Context) -> Option<Self> {
        let mut all = Self { values: vec![Interval::ENTIRE; terms.len()], choosing: false };
        for (term, bound) in &context.bounds {
            all.set(*term, *bound);
        }
        all.forward(terms, reach).then_some(all)
    }

    /// The same for a search, which may look closer.
    pub(super) fn choosing(mut self) -> Self {
        self.choosing = true;
        self
    }

    pub(super) fn get(&self, id: TermId) -> Interval {
        self.values.get(id.0 as usize).copied().unwrap_or(Interval::ENTIRE)
    }

    pub(super) fn set(&mut self, id: TermId, value: Interval) {
        if let Some(slot) = self.values.get_mut(id.0 as usize) {
            *slot = value;
        }
    }

    /// Cuts a term's interval; false when nothing is left.
    fn narrow(&mut self, id: TermId, value: Interval) -> bool {
        let cut = self.get(id).intersect(value);
        self.set(id, cut);
        !cut.is_empty()
    }

    /// Parts to wholes; false when a term has no value left.
    pub(super) fn forward(&mut self, terms: &Terms, reach: &Reach) -> bool {
        reach.order.iter().all(|id| {
            let value = self.compute(terms, *id);
            self.narrow(*id, value)
        })
    }

    fn compute(&self, terms: &Terms, id: TermId) -> Interval {
        match terms.get(id) {
            Term::Number(_) => terms.interval_of_number(id),
            Term::Pi => Interval::PI,
            Term::Var(_) => self.get(id),
            Term::Add(a, b) => self.get(*a) + self.get(*b),
            Term::Sub(a, b) if a == b => Interval::ZERO,
            Term::Sub(a, b) => self.get(*a) - self.get(*b),
            Term::Mul(a, b) if a == b => self.get(*a).squared(),
            Term::Mul(a, b) => self.get(*a) * self.get(*b),
            Term::Div(a, b) => self.get(*a) / self.get(*b),
            Term::Neg(a) => -self.get(*a),
            Term::Min(a, b) => self.get(*a).min(self.get(*b)),
            Term::Max(a, b) => self.get(*a).max(self.get(*b)),
            Term::If(c, a, b) => match self.decides(c).filter(|_| self.choosing) {
                Some(true) => self.get(*a),
                Some(false) => self.get(*b),
                None => self.get(*a).hull(self.get(*b)),
            },
            Term::Call(function, a) => call(*function, self.get(*a)),
        }
    }

    /// Whether the intervals settle a condition.
    pub(super) fn decides(&self, condition: &Cond) -> Option<bool> {
        match condition {
            Cond::True => Some(true),
            Cond::False => Some(false),
            Cond::Compare(relation, a, b) => relate(*relation, self.get(*a), self.get(*b)),
            Cond::And(parts) => {
                let mut all = Some(true);
                for part in parts {
                    match self.decides(part) {
                        Some(true) => {}
                        Some(false) => return Some(false),
                        None => all = None,
                    }
                }
                all
            }
            Cond::Or(parts) => {
                let mut any = Some(false);
                for part in parts {
                    match self.decides(part) {
                        Some(false) => {}
                        Some(true) => return Some(true),
                        None => any = None,
                    }
                }
                any
            }
        }
    }

    /// Narrows by one condition that holds; false when it can't.
    fn impose(&mut self, condition: &Cond) -> bool {
        match condition {
            Cond::True => true,
            Cond::False => false,
            Cond::And(parts) => parts.iter().all(|part| self.impose(part)),
            Cond::Or(parts) => {
                let open: Vec<&Cond> = parts.iter().filter(|p| self.decides(p) != Some(false)).collect();
                match open.as_slice() {
                    [] => false,
                    [only] => self.impose(only),
                    _ => true,
                }
            }
            Cond::Compare(relation, a, b) => self.impose_comparison(*relation, *a, *b),
        }
    }

    fn impose_comparison(&mut self, relation: Relation, a: TermId, b: TermId) -> bool {
        let (x, y) = (self.get(a), self.get(b));
        if relate(relation, x, y) == Some(false) {
            return false;
        }
        let up_to = |hi: f64| Interval { lo: f64::NEG_INFINITY, hi };
        let from = |lo: f64| Interval { lo, hi: f64::INFINITY };
        match relation {
            Relation::Equal => self.narrow(a, y) && self.narrow(b, x),
            Relation::NotEqual => true,
            Relation::Less | Relation::LessEqual => self.narrow(a, up_to(y.hi)) && self.narrow(b, from(x.lo)),
            Relation::Greater | Relation::GreaterEqual => {
                self.narrow(a, from(y.lo)) && self.narrow(b, up_to(x.hi))
            }
        }
    }

    /// Wholes to parts, through functions that can be inverted.
    fn backward(&mut self, terms: &Terms, reach: &Reach) -> bool {
        reach.order.iter().rev().all(|id| self.invert(terms, *id))
    }

    fn invert(&mut self, terms: &Terms, id: TermId) -> bool {
        let z = self.get(id);
        match terms.get(id) {
            Term::Number(_) | Term::Pi | Term::Var(_) => true,
            Term::Add(a, b) => {
                let (x, y) = (self.get(*a), self.get(*b));
                self.narrow(*a, z - y) && self.narrow(*b, z - x)
            }
            Term::Sub(a, b) => {
                let (x, y) = (self.get(*a), self.get(*b));
                self.narrow(*a, z + y) && self.narrow(*b, x - z)
            }
            Term::Mul(a, b) if a == b => self.invert_square(*a, z),
            Term::Mul(a, b) => {
                let (x, y) = (self.get(*a), self.get(*b));
                self.narrow(*a, z / y) && self.narrow(*b, z / x)
            }
            Term::Div(a, b) => {
                let (x, y) = (self.get(*a), self.get(*b));
                self.narrow(*a, if y.contains(0.0) { Interval::ENTIRE } else { z * y })
                    && self.narrow(*b, if y.contains(0.0) { Interval::ENTIRE } else { x / z })
            }
            Term::Neg(a) => self.narrow(*a, -z),
            Term::Min(a, b) => {
                let (x, y) = (self.get(*a), self.get(*b));
                let from = Interval { lo: z.lo, hi: f64::INFINITY };
                self.narrow(*a, if y.lo > z.hi { z } else { from })
                    && self.narrow(*b, if x.lo > z.hi { z } else { from })
            }
            Term::Max(a, b) => {
                let (x, y) = (self.get(*a), self.get(*b));
                let to = Interval { lo: f64::NEG_INFINITY, hi: z.hi };
                self.narrow(*a, if y.hi < z.lo { z } else { to })
                    && self.narrow(*b, if x.hi < z.lo { z } else { to })
            }
            Term::If(c, a, b) => match self.decides(c) {
                Some(true) => self.narrow(*a, z),
                Some(false) => self.narrow(*b, z),
                None => true,
            },
            Term::Call(Function::Sqrt, a) if z.lo >= 0.0 => self.narrow(*a, z.squared()),
            Term::Call(Function::Abs, a) => self.invert_size(*a, z),
            Term::Call(Function::Ceil, a) => {
                self.narrow(*a, Interval { lo: (z.lo - 1.0).next_down(), hi: z.hi })
            }
            Term::Call(Function::Floor, a) => {
                self.narrow(*a, Interval { lo: z.lo, hi: (z.hi + 1.0).next_up() })
            }
            Term::Call(..) => true,
        }
    }

    fn invert_square(&mut self, a: TermId, z: Interval) -> bool {
        let z = z.intersect(Interval { lo: 0.0, hi: f64::INFINITY });
        !z.is_empty() && self.invert_size(a, z.sqrt())
    }

    /// `|a|` lies in z.
    fn invert_size(&mut self, a: TermId, z: Interval) -> bool {
        let x = self.get(a);
        let part = if x.lo >= 0.0 || x.lo > -z.lo {
            z
        } else if x.hi <= 0.0 || x.hi < z.lo {
            -z
        } else {
            Interval { lo: -z.hi, hi: z.hi }
        };
        self.narrow(a, part)
    }

    /// Narrows by all conditions, some rounds; false when there is no point in the box.
    pub(super) fn contract(
        &mut self,
        terms: &Terms,
        reach: &Reach,
        conditions: &[Cond],
        rounds: usize,
    ) -> bool {
        for _ in 0..rounds {
            let sound = conditions.iter().all(|condition| self.impose(condition))
                && self.backward(terms, reach)
                && self.forward(terms, reach);
            if !sound {
                return false;
            }
        }
        true
    }
}

fn call(function: Function, argument: Interval) -> Interval {
    match function {
        Function::Sin => argument.sin_degrees(),
        Function::Cos => argument.cos_degrees(),
        Function::Tan => argument.sin_degrees() / argument.cos_degrees(),
        Function::Atan => argument.atan_degrees(),
        // Outside their domain these have some unknown value.
        Function::Acos if argument.lo >= -1.0 && argument.hi <= 1.0 => argument.acos_degrees(),
        Function::Sqrt if argument.lo >= 0.0 => argument.sqrt(),
        Function::Acos | Function::Sqrt => Interval::ENTIRE,
        Function::Abs => argument.abs(),
        Function::Ceil => argument.ceil(),
        Function::Floor => argument.floor(),
    }
}

/// Whether two values of these intervals surely stand in the relation, or surely don't.
fn relate(relation: Relation, x: Interval, y: Interval) -> Option<bool> {
    let less = x.hi < y.lo;
    let at_most = x.hi <= y.lo;
    let greater = x.lo > y.hi;
    let at_least = x.lo >= y.hi;
    let settle = |yes: bool, no: bool| {
        if yes {
            Some(true)
        } else if no {
            Some(false)
        } else {
            None
        }
    };
    match relation {
        Relation::Equal => settle(at_most && at_least, less || greater),
        Relation::NotEqual => settle(less || greater, at_most && at_least),
        Relation::Less => settle(less, at_least),
        Relation::LessEqual => settle(at_most, greater),
        Relation::Greater => settle(greater, at_most),
        Relation::GreaterEqual => settle(at_least, less),
    }
}
