//! Looking for a point that meets all hypotheses and not the goal.

use borewright_motion::Relation;
use borewright_number::{Interval, Rational, Rounding};

use super::Value;
use super::boxes::{Boxed, Reach};
use super::context::Context;
use super::evaluate::Evaluator;
use super::prover::Prover;
use super::term::{Cond, Term, TermId};
use crate::formula::Valuation;

/// A fixed sequence of numbers that look random.
#[derive(Debug)]
struct Dice(u64);

impl Dice {
    fn new(seed: u64) -> Self {
        Self((seed + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// A number below `sides`.
    fn roll(&mut self, sides: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from((self.0 >> 11) % (sides.max(1) as u64)).unwrap_or(0)
    }

    /// A number in 0..=1.
    fn part(&mut self) -> f64 {
        f64::from(u32::try_from(self.roll(1001)).unwrap_or(0)) / 1000.0
    }
}

/// Tries before a proof gets laborious.
const QUICK_TRIES: u64 = 24;

/// What a search works on.
#[derive(Debug)]
pub(super) struct Hunt {
    /// What must hold: the hypotheses and the negated goal.
    conditions: Vec<Cond>,
    reach: Reach,
    start: Boxed,
    /// The free variables' terms, those that a hypothesis determines last.
    order: Vec<TermId>,
    /// `variable == term` hypotheses.
    determined: Vec<(TermId, TermId)>,
}

/// A value for each free variable, by number.
type Point = Vec<Option<Rational>>;

impl Prover {
    /// Quick tries.
    pub(super) fn find_point(&mut self) -> Option<Valuation> {
        self.find_point_within(QUICK_TRIES)
    }

    /// As many of the quick tries as are left up to a number.
    pub(super) fn find_point_within(&mut self, tries: u64) -> Option<Valuation> {
        let mut hunts = match self.hunts.take() {
            Some(hunts) => hunts,
            None => self.hunts(),
        };
        let from = self.tried;
        self.tried = tries.max(from);
        let found = self.hunt(&mut hunts, from..tries);
        self.hunts = Some(hunts);
        found
    }

    /// Before much work goes into a proof: the rest of the quick tries. A point found ends the work.
    pub(super) fn look_again(&mut self) {
        if self.tried < QUICK_TRIES {
            self.found = self.find_point();
        }
    }

    /// More tries.
    pub(super) fn find_point_hard(&mut self) -> Option<Valuation> {
        // No more than what may be spent on the whole.
        let mut hunts = self.hunts();
        self.hunt(&mut hunts, QUICK_TRIES..self.limit.clamp(QUICK_TRIES, 1500))
    }

    fn hunt(&mut self, hunts: &mut [Hunt], attempts: std::ops::Range<u64>) -> Option<Valuation> {
        for attempt in attempts {
            for hunt in &mut *hunts {
                self.spend(1);
                let Some(point) = self.attempt(hunt, attempt) else { continue };
                if self.violates(&point) {
                    let point = self.shrink(point);
                    return Some(self.valuation(&point));
                }
            }
        }
        None
    }

    /// Every point that so many tries find, as it is found.
    pub(super) fn find_points(&mut self, tries: u64) -> Vec<Valuation> {
        let mut hunts = self.hunts();
        let mut points = Vec::new();
        for attempt in 0..tries {
            for hunt in &mut hunts {
                let found = self.attempt(hunt, attempt).filter(|point| self.violates(point));
                points.extend(found.map(|point| self.valuation(&point)));
            }
        }
        points
    }

    /// One hunt for each way in which the goal can fail.
    fn hunts(&self) -> Vec<Hunt> {
        let negated = self.goal.negated();
        let ways = if let Cond::Or(parts) = &negated { parts.clone() } else { vec![negated.clone()] };
        ways.into_iter().filter_map(|way| self.prepare(way)).collect()
    }

    /// How the term compares with 0 at the first point found at which all hypotheses hold.
    pub(super) fn sign_somewhere(&mut self, term: TermId) -> Option<Relation> {
        let goal = std::mem::replace(&mut self.goal, Cond::False);
        let point = self.prepare(Cond::True).and_then(|mut hunt| {
            (0..12).find_map(|attempt| self.attempt(&mut hunt, attempt).filter(|point| self.violates(point)))
        });
        self.goal = goal;
        let point = point?;
        let value = Evaluator::new(&point).term(&self.store.terms, term)?.interval();
        if value.lo > 0.0 { Some(Relation::Greater) } else { (value.hi < 0.0).then_some(Relation::Less) }
    }

    /// Some points at which all hypotheses hold.
    #[cfg(test)]
    pub(super) fn points(&mut self, attempts: u64) -> Vec<Point> {
        self.goal = Cond::False;
        let Some(mut hunt) = self.prepare(Cond::True) else { return Vec::new() };
        (0..attempts)
            .filter_map(|attempt| self.attempt(&mut hunt, attempt))
            .filter(|point| self.violates(point))
            .collect()
    }

    /// `None` when the intervals alone exclude any point.
    fn prepare(&self, way: Cond) -> Option<Hunt> {
        let terms = &self.store.terms;
        let mut conditions = self.hypotheses.clone();
        conditions.push(way);
        let mut context = Context::default();
        conditions.iter().for_each(|condition| context.assume(terms, condition));
        let mut reach = Reach::of(terms, conditions.iter());
        let variables: Vec<TermId> = terms.variables().collect();
        variables.iter().for_each(|v| reach.add(terms, *v));
        let mut start = Boxed::new(terms, &reach, &context)?.choosing();
        if !start.contract(terms, &reach, &conditions, 3) {
            return None;
        }
        let determined = self.determined();
        let is_determined = |v: &TermId| determined.iter().any(|(w, _)| w == v);
        let (last, mut order): (Vec<TermId>, Vec<TermId>) = variables.into_iter().partition(is_determined);
        order.extend(last);
        Some(Hunt { conditions, reach, start, order, determined })
    }

    /// One point, chosen variable by variable from what the choices before leave.
    fn attempt(&self, hunt: &mut Hunt, attempt: u64) -> Option<Point> {
        let terms = &self.store.terms;
        let mut dice = Dice::new(attempt);
        let free = hunt.order.len() - hunt.determined.len();
        if attempt % 4 == 3
            && let Some(chosen) = hunt.order.get_mut(..free)
        {
            let shift = dice.roll(free);
            chosen.rotate_left(shift);
        }
        let mut boxed = hunt.start.clone();
        let mut point: Point = vec![None; terms.free.len()];
        for id in &hunt.order {
            let Term::Var(variable) = terms.get(*id) else { continue };
            let whole = terms.var(*variable).is_some_and(|v| v.whole);
            let exact = hunt.determined.iter().find(|(v, _)| v == id).and_then(|(_, term)| {
                match Evaluator::new(&point).term(terms, *term) {
                    Some(Value::Exact(value)) => Some(value),
                    Some(Value::Near(_)) | None => None,
                }
            });
            let value = match exact {
                Some(value) => value,
                None => pick(boxed.get(*id), whole, attempt, &mut dice, &point)?,
            };
            boxed.set(*id, Interval::from_rational(&value));
            if let Some(slot) = point.get_mut(variable.0 as usize) {
                *slot = Some(value);
            }
            if !boxed.forward(terms, &hunt.reach) || !boxed.contract(terms, &hunt.reach, &hunt.conditions, 2)
            {
                return None;
            }
        }
        Some(point)
    }

    /// Whether all hypotheses hold at the point and the goal fails there, decided exactly.
    fn violates(&self, point: &[Option<Rational>]) -> bool {
        let whole = self
            .store
            .terms
            .free
            .iter()
            .zip(point)
            .all(|(free, value)| value.as_ref().is_some_and(|v| !free.whole || v.is_whole()));
        let mut evaluator = Evaluator::new(point);
        whole
            && evaluator.condition(&self.store.terms, &self.goal) == Some(false)
            && self.hypotheses.iter().all(|h| evaluator.condition(&self.store.terms, h) == Some(true))
    }

    /// The same violation with shorter values, one variable at a time.
    fn shrink(&self, mut point: Point) -> Point {
        for _ in 0..2 {
            for index in 0..point.len() {
                let Some(Some(value)) = point.get(index).cloned() else { continue };
                for shorter in shorter_values(&value, &point) {
                    let mut trial = point.clone();
                    if let Some(slot) = trial.get_mut(index) {
                        *slot = Some(shorter);
                    }
                    if self.violates(&trial) {
                        point = trial;
                        break;
                    }
                }
            }
        }
        point
    }

    /// Variables that a hypothesis `variable == term` determines, as `(variable, term)`.
    fn determined(&self) -> Vec<(TermId, TermId)> {
        let mut found: Vec<(TermId, TermId)> = Vec::new();
        for hypothesis in &self.hypotheses {
            let Cond::Compare(Relation::Equal, a, b) = hypothesis else { continue };
            for (x, y) in [(*a, *b), (*b, *a)] {
                let variable = matches!(self.store.terms.get(x), Term::Var(_));
                if variable && found.iter().all(|(w, _)| *w != x) && !self.mentions(y, x) {
                    found.push((x, y));
                    break;
                }
            }
        }
        found
    }

    fn mentions(&self, term: TermId, part: TermId) -> bool {
        let mut reach = Reach::of(&self.store.terms, std::iter::empty());
        reach.add(&self.store.terms, term);
        reach.terms().contains(&part)
    }
}

/// Values that a machinist would rather type, best first.
fn shorter_values(value: &Rational, point: &[Option<Rational>]) -> Vec<Rational> {
    let mut values = vec![Rational::ZERO];
    for decimals in 0..4 {
        values.push(value.rounded(decimals, Rounding::Nearest));
        values.push(value.rounded(decimals, Rounding::Down));
        values.push(value.rounded(decimals, Rounding::Up));
    }
    let ten = Rational::from(10);
    values.insert(1, (value / &ten).rounded(0, Rounding::Nearest) * ten);
    values.extend(point.iter().flatten().cloned());
    let digits =
        |v: &Rational| v.exact_decimal().map_or(usize::MAX, |text| text.trim_start_matches('-').len());
    let now = digits(value);
    values.retain(|v| digits(v) < now);
    values.sort_by_key(digits);
    values.dedup();
    values
}

/// A short value in an interval: an end, an earlier value, or a round one.
fn pick(
    range: Interval,
    whole: bool,
    attempt: u64,
    dice: &mut Dice,
    point: &[Option<Rational>],
) -> Option<Rational> {
    let lo = if range.lo.is_finite() { range.lo } else { (range.hi - 1000.0).clamp(-1e6, -1000.0) };
    let hi = if range.hi.is_finite() { range.hi } else { (lo + 1000.0).clamp(1000.0, 1e6) };
    if whole {
        let (first, last) = (lo.ceil(), hi.floor());
        let choice = match attempt {
            0 => first,
            1 => last,
            _ => match dice.roll(4) {
                0 => first,
                1 => last,
                2 => (first + dice.part() * 10.0).floor(),
                _ => (first + dice.part() * (last - first)).floor(),
            },
        };
        return Rational::from_f64(choice.clamp(first, last.max(first)));
    }
    let choice = match attempt {
        0 => 0,
        1 => 1,
        2 => 3,
        _ => dice.roll(6),
    };
    match choice {
        0 => end(lo, hi, true),
        1 => end(lo, hi, false),
        2 => {
            let fitting: Vec<Rational> = point
                .iter()
                .flatten()
                .flat_map(|v| [v.clone(), -v.clone()])
                .filter(|v| range.contains(v.to_f64()))
                .collect();
            match fitting.get(dice.roll(fitting.len())) {
                Some(value) => Some(value.clone()),
                None => shortest(lo, hi),
            }
        }
        3 => shortest(lo, hi),
        4 => {
            let middle = lo + (hi - lo) * dice.part() * dice.part();
            shortest(middle, middle + (hi - lo) * 0.1 * dice.part()).filter(|v| range.contains(v.to_f64()))
        }
        _ => {
            let middle = lo + (hi - lo) * dice.part();
            let width = (hi - lo) * 0.02;
            shortest((middle - width).max(lo), (middle + width).min(hi))
        }
    }
}

/// An end of the range as the short decimal it stands for.
fn end(lo: f64, hi: f64, low: bool) -> Option<Rational> {
    let exact = Rational::from_f64(if low { lo } else { hi })?;
    for decimals in 0..12 {
        let rounding = if low { Rounding::Up } else { Rounding::Down };
        let near = exact.rounded(decimals, Rounding::Nearest);
        if (&near - &exact).abs() <= exact.abs() * Rational::from_f64(1e-15)? {
            return Some(near);
        }
        let short = exact.rounded(decimals, rounding);
        let slack = Rational::from_f64((hi - lo) * 1e-3)?;
        if (&short - &exact).abs() <= slack {
            return Some(short);
        }
    }
    Some(exact)
}

/// A decimal with as few places as possible within an interval.
fn shortest(lo: f64, hi: f64) -> Option<Rational> {
    let (low, high) = (Rational::from_f64(lo)?, Rational::from_f64(hi)?);
    let middle = (&low + &high) / Rational::from(2);
    for decimals in 0..15 {
        let near = middle.rounded(decimals, Rounding::Nearest);
        if low < near && near < high {
            return Some(near);
        }
    }
    end(lo, hi, true)
}
