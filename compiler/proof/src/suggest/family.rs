//! Families of requirements that differ in one number: `tool + c <= pilot`, `lead <= k * wall`, `flutes >= k * step`.
//!
//! Each sample point gives the family's *measure* there; the requirement with number c holds exactly where the
//! measure is at least c. So the points at which an obligation fails say how small c may be.

use std::collections::BTreeSet;

use borewright_motion::{Condition, Demand, Expr, Field, Node, Relation, Symbol};
use borewright_number::{Dimension, Rational, Unit};

use super::short;
use super::words::{Word, Words};

/// `(factor, word)`, the word by its place in the list.
type Side = Vec<(i32, usize)>;

/// Where the number stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Knob {
    /// `left + c <= right`
    Slack,
    /// `left <= k * right`
    Most,
    /// `left >= k * right`
    Least,
}

/// Requirements that differ in one number.
#[derive(Debug, Clone)]
pub(crate) struct Family {
    left: Side,
    right: Side,
    knob: Knob,
    /// What one step of the number is worth: the customary unit for lengths, else 1.
    unit: f64,
    /// No word of it but these.
    words: usize,
}

/// A member of a family: with its number, and whether the border is left out.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Member {
    /// In the author's unit.
    pub number: Rational,
    pub strict: bool,
}

/// Beyond this, mm, nobody states an allowance.
const MOST_SLACK: f64 = 10.0;

/// Between a twentieth and twenty, with two places at most.
fn is_plain_factor(number: &Rational) -> bool {
    let size = number.to_f64().abs();
    (0.05..=20.0).contains(&size) && short::digits(number) <= 3
}

/// What a requirement or a demand says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Said {
    /// Of the parameters.
    Require(Condition),
    /// Of the cutter.
    Demand(Demand),
}

impl Said {
    /// As a condition.
    pub(crate) fn condition(&self) -> Condition {
        match self {
            Self::Require(condition) => condition.clone(),
            Self::Demand(rule) => rule.condition(),
        }
    }
}

/// Every family over these words.
pub(crate) fn families(words: &Words) -> Vec<Family> {
    let mut dimensions: Vec<Dimension> = words.list.iter().map(|w| w.dimension).collect();
    dimensions.sort_unstable();
    dimensions.dedup();
    let mut all = Vec::new();
    for dimension in dimensions {
        let of: Vec<usize> = (0..words.list.len())
            .filter(|i| words.list.get(*i).is_some_and(|w| w.dimension == dimension))
            .collect();
        let unit = Unit::customary(dimension, words.inch).map_or(1.0, |u| u.factor().to_f64());
        let mut add = |left: Side, right: Side, knob| {
            let words = left.len() + right.len();
            all.push(Family { left, right, knob, unit, words });
        };
        alone(&of, &mut add);
        if of.len() <= MOST_WORDS {
            three(&of, &mut add);
        }
    }
    all.retain(|f| f.is_sayable(words));
    all
}

/// With more words than this, no family takes three at once.
const MOST_WORDS: usize = 18;

/// One word, and two.
fn alone(of: &[usize], add: &mut dyn FnMut(Side, Side, Knob)) {
    for x in of {
        add(vec![(1, *x)], Vec::new(), Knob::Slack);
        add(Vec::new(), vec![(1, *x)], Knob::Slack);
        for y in of.iter().filter(|y| *y != x) {
            add(vec![(1, *x)], vec![(1, *y)], Knob::Slack);
            add(vec![(1, *x)], vec![(1, *y)], Knob::Most);
            add(vec![(1, *x)], vec![(1, *y)], Knob::Least);
        }
    }
}

/// Three words: `x - y <= k * z`, `x + y + c <= z`, `x + 2 * y + c <= z`, `x + c <= y + z`.
fn three(of: &[usize], add: &mut dyn FnMut(Side, Side, Knob)) {
    for x in of {
        for y in of.iter().filter(|y| *y != x) {
            for z in of.iter().filter(|z| *z != x && *z != y) {
                add(vec![(1, *x), (-1, *y)], vec![(1, *z)], Knob::Most);
                add(vec![(1, *x), (2, *y)], vec![(1, *z)], Knob::Slack);
                add(vec![(1, *z)], vec![(1, *x), (2, *y)], Knob::Slack);
                if x < y {
                    add(vec![(1, *x), (1, *y)], vec![(1, *z)], Knob::Slack);
                    add(vec![(1, *z)], vec![(1, *x), (1, *y)], Knob::Slack);
                }
            }
        }
    }
}

impl Family {
    /// At most one fact of the cutter, alone with factor 1; no word twice, not even within a let.
    fn is_sayable(&self, words: &Words) -> bool {
        let word = |(_, i): &(i32, usize)| words.list.get(*i);
        let fields =
            self.left.iter().chain(&self.right).filter(|w| word(w).is_some_and(|w| w.field.is_some()));
        let fields: Vec<_> = fields.collect();
        let alone = match fields.as_slice() {
            [] => true,
            [(factor, _)] => *factor == 1 && (self.knob == Knob::Slack || self.left.len() == 1),
            _ => false,
        };
        // `left <= k * right` with the fact on the right would need a quotient.
        let in_right = self.right.iter().any(|w| word(w).is_some_and(|w| w.field.is_some()));
        alone && (self.knob == Knob::Slack || !in_right)
    }

    /// At least which number the family's number may be for the point to meet it; NaN where that is not known.
    pub(crate) fn measure(&self, row: &[f64]) -> f64 {
        let sum = |side: &Side| -> f64 {
            side.iter().map(|(factor, i)| f64::from(*factor) * row.get(*i).copied().unwrap_or(f64::NAN)).sum()
        };
        let (left, right) = (sum(&self.left), sum(&self.right));
        match self.knob {
            Knob::Slack => (right - left) / self.unit,
            Knob::Most if right > 0.0 => -left / right,
            Knob::Least if right > 0.0 => left / right,
            Knob::Most | Knob::Least => f64::NAN,
        }
    }

    /// Members that leave out every point with a measure up to `bad`, the weaker one first.
    pub(crate) fn members(&self, bad: f64) -> Vec<Member> {
        let member = |number, strict| Member { number, strict };
        if bad == f64::NEG_INFINITY {
            let plain = self.knob == Knob::Slack;
            return if plain {
                vec![member(Rational::ZERO, false), member(Rational::ZERO, true)]
            } else {
                Vec::new()
            };
        }
        let least = if self.knob == Knob::Slack { self.least_step() } else { 0.0 };
        let short = short::as_short(bad).map(|number| member(number, true));
        let above = short::above(bad, least).map(|number| member(number, false));
        // Where some allowance is enough, none at all is the plainest thing to ask for.
        let none = (self.knob == Knob::Slack && bad < 0.0).then(|| member(Rational::ZERO, false));
        short.into_iter().chain(above).chain(none).filter(|m| self.makes_sense(&m.number)).collect()
    }

    /// 0.05 mm, or two thousandths of an inch.
    fn least_step(&self) -> f64 {
        if self.unit > 2.0 { 0.002 } else { 0.05 }
    }

    /// A factor is above zero; no offset of a tenth of a micron.
    fn makes_sense(&self, number: &Rational) -> bool {
        match self.knob {
            // Beyond, it is no allowance but an accident of the samples.
            Knob::Slack => (number.to_f64() * self.unit).abs() <= MOST_SLACK || self.words == 1,
            // With factor 1 it is one of the others.
            Knob::Most => number.signum() < 0 && *number != Rational::from(-1) && is_plain_factor(number),
            Knob::Least => number.signum() > 0 && *number != Rational::ONE && is_plain_factor(number),
        }
    }

    /// How long it reads: words and numbers.
    pub(crate) fn length(&self, member: &Member) -> usize {
        let plain = match self.knob {
            Knob::Slack => member.number.is_zero(),
            Knob::Most | Knob::Least => member.number.abs() == Rational::ONE,
        };
        let factors = self.left.iter().chain(&self.right).filter(|(f, _)| f.abs() != 1).count();
        2 * self.words + factors + if plain { 0 } else { 1 + short::digits(&member.number) }
    }

    /// The fact of the cutter in it.
    pub(crate) fn field(&self, words: &Words) -> Option<Field> {
        let words = self.left.iter().chain(&self.right).filter_map(|(_, i)| words.list.get(*i));
        words.filter_map(|w| w.field).next()
    }

    /// Every symbol that a member depends on.
    pub(crate) fn symbols(&self, words: &Words) -> BTreeSet<Symbol> {
        let word = |(_, i): &(i32, usize)| words.list.get(*i);
        self.left.iter().chain(&self.right).filter_map(word).flat_map(|w| w.value.symbols()).collect()
    }

    /// The member as the author would write it.
    pub(crate) fn say(&self, words: &Words, member: &Member) -> Option<Said> {
        let unit = Rational::from_f64(self.unit).unwrap_or(Rational::ONE);
        let unit = if self.unit > 2.0 { Unit::Inch.factor() } else { unit };
        let field = |side: &Side| {
            let at = side.iter().position(|(_, i)| words.list.get(*i).is_some_and(|w| w.field.is_some()))?;
            side.get(at).and_then(|(_, i)| words.list.get(*i)).map(|word| (at, word))
        };
        let (low, high) = (relation(member.strict, true), relation(member.strict, false));
        let sum = |side: &[(i32, usize)]| sum(words, side);
        if self.knob != Knob::Slack {
            let k = Expr::number(member.number.abs());
            let value = k * sum(&self.right);
            let relation = if self.knob == Knob::Most { low } else { high };
            return Some(match field(&self.left) {
                Some((_, word)) => demand(word, relation, value)?,
                None => Said::Require(Condition::compare(relation, sum(&self.left), value)),
            });
        }
        let c = &member.number * &unit;
        if let Some((at, word)) = field(&self.right) {
            let rest = without(&self.right, at);
            let value = sum(&self.left) - sum(&rest) + Expr::number(c);
            return demand(word, high, signed(value));
        }
        if let Some((at, word)) = field(&self.left) {
            let value = sum(&self.right) - sum(&without(&self.left, at)) - Expr::number(c);
            return demand(word, low, signed(value));
        }
        let slack = Expr::number(c.abs());
        let condition = match (self.left.is_empty(), self.right.is_empty()) {
            (true, _) => Condition::compare(high, sum(&self.right), Expr::number(c)),
            (_, true) => Condition::compare(low, sum(&self.left), Expr::number(-c)),
            _ if c.signum() >= 0 => Condition::compare(low, sum(&self.left) + slack, sum(&self.right)),
            _ => Condition::compare(low, sum(&self.left), sum(&self.right) + slack),
        };
        Some(Said::Require(condition))
    }
}

/// `a + -0.2` reads `a - 0.2`.
fn signed(value: Expr) -> Expr {
    let negative = |e: &Expr| e.as_number().filter(|v| v.signum() < 0).map(|v| Expr::number(-v.clone()));
    if let Node::Add(a, b) = value.node() {
        return negative(b).map_or_else(|| value.clone(), |b| a.clone() - b);
    }
    if let Node::Sub(a, b) = value.node() {
        return negative(b).map_or_else(|| value.clone(), |b| a.clone() + b);
    }
    value
}

fn relation(strict: bool, low: bool) -> Relation {
    match (low, strict) {
        (true, false) => Relation::LessEqual,
        (true, true) => Relation::Less,
        (false, false) => Relation::GreaterEqual,
        (false, true) => Relation::Greater,
    }
}

fn demand(word: &Word, relation: Relation, value: Expr) -> Option<Said> {
    Some(Said::Demand(Demand { field: word.field?, relation, value, span: borewright_base::Span::default() }))
}

fn without(side: &Side, at: usize) -> Side {
    side.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, w)| *w).collect()
}

fn sum(words: &Words, side: &[(i32, usize)]) -> Expr {
    side.iter().fold(Expr::zero(), |sum, (factor, i)| {
        let Some(word) = words.list.get(*i) else { return sum };
        let size = Expr::from(factor.abs()) * Expr::symbol(&word.symbol);
        if *factor < 0 { sum - size } else { sum + size }
    })
}
