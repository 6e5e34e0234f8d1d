//! Looking for a point that meets all hypotheses and not the goal.

use borewright_motion::Relation;
use borewright_number::{Interval, Rational};

use super::evaluate::Evaluator;
use super::prover::Prover;
use super::term::{Cond, Term, TermId, VarId};
use crate::formula::Valuation;

/// A fixed sequence of numbers that look random.
#[derive(Debug)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// A number below `sides`.
    pub(super) fn roll(&mut self, sides: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from((self.0 >> 11) % (sides.max(1) as u64)).unwrap_or(0)
    }
}

impl Prover {
    /// Quick tries.
    pub(super) fn find_point(&mut self) -> Option<Valuation> {
        self.try_points(60)
    }

    /// More tries.
    pub(super) fn find_point_hard(&mut self) -> Option<Valuation> {
        self.try_points(2000)
    }

    fn try_points(&mut self, tries: u64) -> Option<Valuation> {
        let count = self.store.terms.free.len();
        let ranges: Vec<Interval> =
            (0..count).map(|v| self.stated_range(VarId(u32::try_from(v).unwrap_or(u32::MAX)))).collect();
        let determined = self.determined();
        for attempt in 0..tries {
            self.spend(1);
            let mut dice = Dice::new(attempt + 1);
            let mut point: Vec<Option<Rational>> = Vec::with_capacity(count);
            for (range, free) in ranges.iter().zip(&self.store.terms.free) {
                let earlier: Vec<Rational> = point.iter().flatten().cloned().collect();
                point.push(pick(*range, free.whole, attempt, &mut dice, &earlier));
            }
            for (variable, term) in &determined {
                let value = Evaluator::new(&point).term(&self.store.terms, *term);
                if let (Some(super::Value::Exact(value)), Some(slot)) =
                    (value, point.get_mut(variable.0 as usize))
                {
                    *slot = Some(value);
                }
            }
            if self.violates(&point) {
                return Some(self.valuation(&point));
            }
        }
        None
    }

    /// Whether all hypotheses hold at the point and the goal fails there, decided exactly.
    pub(super) fn violates(&self, point: &[Option<Rational>]) -> bool {
        let whole = self
            .store
            .terms
            .free
            .iter()
            .zip(point)
            .all(|(free, value)| value.as_ref().is_some_and(|v| !free.whole || v.is_whole()));
        let mut evaluator = Evaluator::new(point);
        whole
            && self.hypotheses.iter().all(|h| evaluator.condition(&self.store.terms, h) == Some(true))
            && evaluator.condition(&self.store.terms, &self.goal) == Some(false)
    }

    /// The range that comparisons with numbers among the hypotheses leave.
    fn stated_range(&self, variable: VarId) -> Interval {
        let mut range = Interval::ENTIRE;
        for hypothesis in &self.hypotheses {
            let mut visit = |relation: Relation, a: TermId, b: TermId| {
                let (relation, number) = match (self.store.terms.get(a), self.store.terms.get(b)) {
                    (Term::Var(v), Term::Number(n)) if *v == variable => (relation, n),
                    (Term::Number(n), Term::Var(v)) if *v == variable => {
                        (super::context::swapped(relation), n)
                    }
                    _ => return,
                };
                let point = Interval::from_rational(number);
                match relation {
                    Relation::Less | Relation::LessEqual => range.hi = range.hi.min(point.hi),
                    Relation::Greater | Relation::GreaterEqual => range.lo = range.lo.max(point.lo),
                    Relation::Equal => range = range.intersect(point),
                    Relation::NotEqual => {}
                }
            };
            match hypothesis {
                Cond::Compare(relation, a, b) => visit(*relation, *a, *b),
                Cond::And(parts) => {
                    for part in parts {
                        if let Cond::Compare(relation, a, b) = part {
                            visit(*relation, *a, *b);
                        }
                    }
                }
                Cond::True | Cond::False | Cond::Or(_) => {}
            }
        }
        range
    }

    /// Variables that a hypothesis `variable == term` determines.
    fn determined(&self) -> Vec<(VarId, TermId)> {
        let mut found: Vec<(VarId, TermId)> = Vec::new();
        for hypothesis in &self.hypotheses {
            let Cond::Compare(Relation::Equal, a, b) = hypothesis else { continue };
            for (x, y) in [(*a, *b), (*b, *a)] {
                let Term::Var(v) = self.store.terms.get(x) else { continue };
                if found.iter().all(|(w, _)| w != v) && !self.mentions(y, x) {
                    found.push((*v, y));
                    break;
                }
            }
        }
        found
    }

    fn mentions(&self, term: TermId, part: TermId) -> bool {
        term == part
            || self.store.terms.parts(term).into_iter().flatten().any(|inner| self.mentions(inner, part))
    }
}

/// A short value in a range: an end, an earlier value, or a round one.
fn pick(
    range: Interval,
    whole: bool,
    attempt: u64,
    dice: &mut Dice,
    earlier: &[Rational],
) -> Option<Rational> {
    let lo = if range.lo.is_finite() { range.lo } else { -1000.0_f64.min(range.hi - 1000.0) };
    let hi = if range.hi.is_finite() { range.hi } else { 1000.0_f64.max(lo + 1000.0) };
    let within = |value: &Rational| {
        let value = value.to_f64();
        lo <= value && value <= hi
    };
    let (low, high) = (tidy(lo)?, tidy(hi)?);
    let choice = match attempt {
        0 => 0,
        1 => 1,
        _ => dice.roll(6),
    };
    let value = match choice {
        0 => low,
        1 => high,
        2 => {
            let fitting: Vec<&Rational> = earlier.iter().filter(|v| within(v)).collect();
            fitting.get(dice.roll(fitting.len())).map_or(high, |v| (*v).clone())
        }
        3 => round_value(lo + (hi - lo) * dice.roll(20) as f64 / 400.0, 0)?,
        4 => round_value(lo + (hi - lo) * dice.roll(100) as f64 / 100.0, 0)?,
        _ => round_value(lo + (hi - lo) * dice.roll(1000) as f64 / 1000.0, 2)?,
    };
    let value = if whole { value.floor() } else { value };
    Some(if within(&value) { value } else { tidy(lo)? })
}

/// The exact decimal a range end was, as far as six places show it.
fn tidy(value: f64) -> Option<Rational> {
    let exact = Rational::from_f64(value)?;
    let short = exact.rounded(9, borewright_number::Rounding::Nearest);
    Some(short)
}

fn round_value(value: f64, decimals: u32) -> Option<Rational> {
    Some(Rational::from_f64(value)?.rounded(decimals, borewright_number::Rounding::Nearest))
}
