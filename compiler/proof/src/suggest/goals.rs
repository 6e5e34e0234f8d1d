//! From a goal to requirements: what must hold, said of parameters alone, as an author would write it.

use std::collections::BTreeMap;

use borewright_motion::{Condition, Demand, Demands, Expr, Node, Relation, Symbol};
use borewright_number::{Dimension, Rational};

use super::family::Said;
use super::short;
use super::words::Words;
use crate::oblige::{Monomial, Sum};
use crate::{Formula, HypothesisKind};

/// Requirements that the goal of a formula suggests: for all that it says, and for what it says of the cutter that
/// is demanded and of loops at their ends.
pub(crate) fn of_formula(words: &Words, demands: Option<&Demands>, formula: &Formula) -> Vec<Said> {
    let mut all: Vec<Said> = Vec::new();
    for names in readings(demands, formula) {
        let value = |s: &Symbol| names.iter().find(|(name, _)| name == s).map(|(_, value)| value.clone());
        // A value may hold a name that stands for another: the step of a loop, then its end.
        let goal = formula.goal.substitute(&value).substitute(&value);
        for said in of_goal(words, &goal) {
            if !all.contains(&said) {
                all.push(said);
            }
        }
    }
    all
}

/// What names of the cutter and of loops may be read as: as they are; at what is demanded; each turn of a loop a
/// whole step from the one before; at either end of the loop.
fn readings(demands: Option<&Demands>, formula: &Formula) -> Vec<Vec<(Symbol, Expr)>> {
    let rules = demands.iter().flat_map(|d| &d.rules);
    let demanded: Vec<(Symbol, Expr)> = rules.map(|r| (r.field.symbol(), r.value.clone())).collect();
    let (mut steps, mut lows, mut highs) = (Vec::new(), Vec::new(), Vec::new());
    let lemmas = formula.hypotheses.iter().filter(|h| matches!(h.kind, HypothesisKind::Lemma(_)));
    for hypothesis in lemmas {
        let Condition::Compare(relation, a, b) = &hypothesis.condition else { continue };
        match (a.node(), a.as_symbol(), b.as_symbol()) {
            (Node::Sub(x, y), _, _) if *relation == Relation::LessEqual => {
                steps.extend(x.as_symbol().map(|x| (x.clone(), y.clone() + b.clone())));
            }
            (_, Some(name), None) => lows.push((name.clone(), b.clone())),
            (_, None, Some(name)) => highs.push((name.clone(), a.clone())),
            (_, Some(_) | None, Some(_) | None) => {}
        }
    }
    let with = |parts: &[&Vec<(Symbol, Expr)>]| parts.iter().flat_map(|p| p.iter().cloned()).collect();
    vec![
        Vec::new(),
        with(&[&demanded]),
        with(&[&demanded, &steps]),
        with(&[&demanded, &lows, &highs]),
        with(&[&demanded, &highs, &steps, &lows]),
    ]
}

/// The whole of a goal and each of its comparisons, in several wordings.
fn of_goal(words: &Words, goal: &Condition) -> Vec<Said> {
    let mut all = Vec::new();
    let mut add = |said: Option<Said>| all.extend(said.filter(|s| !all.contains(s)));
    let mut comparisons = Vec::new();
    collect(goal, &mut comparisons);
    for (relation, a, b) in &comparisons {
        for (relation, a, b) in wordings(words, *relation, a, b) {
            add(as_said(words, relation, a, b));
        }
    }
    if let Condition::And(parts) = goal {
        let said = parts.iter().map(|p| best_wording(words, p)).collect::<Option<Vec<_>>>();
        add(said.map(|parts| Said::Require(Condition::all(parts))));
    }
    all
}

/// The shortest wording of a condition; `None` where the goal speaks of more than parameters.
fn best_wording(words: &Words, condition: &Condition) -> Option<Condition> {
    let Condition::Compare(relation, a, b) = condition else { return None };
    let said = wordings(words, *relation, a, b).into_iter().filter_map(|(r, a, b)| as_said(words, r, a, b));
    let plain = said.filter_map(|s| if let Said::Require(c) = s { Some(c) } else { None });
    plain.min_by_key(|c| super::source::condition(words, c).map_or(usize::MAX, |t| t.len()))
}

fn collect(condition: &Condition, into: &mut Vec<(Relation, Expr, Expr)>) {
    match condition {
        Condition::Compare(relation, a, b) => into.push((*relation, a.clone(), b.clone())),
        Condition::And(parts) | Condition::Or(parts) => parts.iter().for_each(|p| collect(p, into)),
        Condition::Not(inner) => collect(&inner.negated(), into),
        Condition::True | Condition::False => {}
    }
}

/// As a requirement, or as a demand where a fact of the cutter stands alone on one side.
fn as_said(words: &Words, relation: Relation, a: Expr, b: Expr) -> Option<Said> {
    let condition = Condition::compare(relation, a.clone(), b.clone());
    if !words.knows(&condition) {
        return None;
    }
    match words.field_in(&condition.symbols()).ok()? {
        None => Some(Said::Require(condition)),
        Some(field) => {
            let is_field = |e: &Expr| e.as_symbol() == Some(&field.symbol());
            let span = borewright_base::Span::default();
            if is_field(&a) {
                Some(Said::Demand(Demand { field, relation, value: b, span }))
            } else if is_field(&b) {
                Some(Said::Demand(Demand { field, relation: swapped(relation), value: a, span }))
            } else {
                None
            }
        }
    }
}

fn swapped(relation: Relation) -> Relation {
    match relation {
        Relation::Equal | Relation::NotEqual => relation,
        Relation::Less => Relation::Greater,
        Relation::LessEqual => Relation::GreaterEqual,
        Relation::Greater => Relation::Less,
        Relation::GreaterEqual => Relation::LessEqual,
    }
}

type Wording = (Relation, Expr, Expr);

/// The comparison as it stands, sorted out, and with lets in the place of what they stand for.
fn wordings(words: &Words, relation: Relation, a: &Expr, b: &Expr) -> Vec<Wording> {
    let mut all = vec![upright((relation, a.clone(), b.clone()))];
    all.extend(Sum::of(&(b.clone() - a.clone())).and_then(|sum| sides(words, relation, &sum)));
    let (a, b) = (words.inline_plain(a), words.inline_plain(b));
    if let Some(sum) = Sum::of(&(b.clone() - a.clone())) {
        all.extend(sides(words, relation, &sum));
        for shorter in with_lets(words, &sum) {
            all.extend(sides(words, relation, &shorter));
        }
    }
    all.push(upright((relation, a, b)));
    all
}

/// The same sum with a let in the place of a symbol, where that makes it no longer.
fn with_lets(words: &Words, sum: &Sum) -> Vec<Sum> {
    let mut all = Vec::new();
    for word in words.list.iter().filter(|w| w.field.is_none() && w.value.as_symbol().is_none()) {
        let Some(value) = Sum::of(&words.inline_plain(&word.value)) else { continue };
        let name = Sum::of(&Expr::symbol(&word.symbol)).unwrap_or_default();
        for (monomial, factor) in value.terms() {
            let Some(here) = sum.terms().find(|(m, _)| *m == monomial).map(|(_, c)| c) else { continue };
            if monomial.is_empty() || factor.is_zero() {
                continue;
            }
            let times = here / factor;
            let shorter =
                sum.clone().plus(&value.clone().scaled(&-times.clone())).plus(&name.clone().scaled(&times));
            if shorter.terms().count() < sum.terms().count() {
                all.push(shorter);
            }
        }
    }
    all
}

/// `0 relation sum` with the negative terms on the left and short factors. Products with one and the same tail
/// stay together: `pitch <= pi * (bore - tool) * tan(ramp)`.
fn sides(words: &Words, relation: Relation, sum: &Sum) -> Option<Wording> {
    let sum = sum.clone().scaled(&scale_of(sum)?);
    let mut by_tail: BTreeMap<Monomial, Vec<(Option<Expr>, Rational)>> = BTreeMap::new();
    for (monomial, coefficient) in sum.terms() {
        let (head, tail) = parted(words, monomial);
        by_tail.entry(tail).or_default().push((head, coefficient.clone()));
    }
    let (mut left, mut right) = (Expr::zero(), Expr::zero());
    for (tail, heads) in by_tail {
        let product = |sum: Expr| {
            let factors =
                tail.iter().flat_map(|(atom, power)| std::iter::repeat_n(atom.clone(), *power as usize));
            factors.fold(sum, |product, atom| product * atom)
        };
        let (minus, plus): (Vec<_>, Vec<_>) = heads.into_iter().partition(|(_, c)| c.signum() < 0);
        if tail.is_empty() || plus.is_empty() || minus.is_empty() {
            left = left + product(total(&minus));
            right = right + product(total(&plus));
        } else {
            right = right + product(total(&plus) - total(&minus));
        }
    }
    Some(upright((relation, left, right)))
}

/// With what is small on the left, and numbers on the right.
fn upright((relation, a, b): Wording) -> Wording {
    // `-depth <= -shelf` reads better without signs.
    let (relation, a, b) = match (a.node(), b.node()) {
        (Node::Neg(x), Node::Neg(y)) => (swapped(relation), x.clone(), y.clone()),
        _ => (relation, a, b),
    };
    let plain = |e: &Expr| e.as_number().is_some();
    let large = matches!(relation, Relation::Greater | Relation::GreaterEqual);
    if plain(&a) || (large && !plain(&b)) { (swapped(relation), b, a) } else { (relation, a, b) }
}

/// The sum of the terms, none of them negative; numbers last.
fn total(terms: &[(Option<Expr>, Rational)]) -> Expr {
    let (named, numbers): (Vec<_>, Vec<_>) = terms.iter().partition(|(head, _)| head.is_some());
    named.into_iter().chain(numbers).fold(Expr::zero(), |sum, (head, coefficient)| {
        let size = Expr::number(coefficient.abs());
        sum + head.clone().map_or(size.clone(), |h| size * h)
    })
}

/// A positive factor that makes every coefficient short: one term alone with factor 1, or whole numbers.
fn scale_of(sum: &Sum) -> Option<Rational> {
    let is_alone = |negative: bool| {
        let mut side = sum.terms().filter(|(_, c)| (c.signum() < 0) == negative);
        match (side.next(), side.next()) {
            (Some((monomial, c)), None) if !monomial.is_empty() => Some(c.abs()),
            _ => None,
        }
    };
    let are_short =
        |scale: &Rational| sum.terms().all(|(m, c)| m.is_empty() || short::digits(&(c * scale)) <= 3);
    let alone = [true, false].into_iter().filter_map(is_alone).filter_map(|c| c.recip());
    let smallest = sum.terms().filter(|(m, _)| !m.is_empty()).map(|(_, c)| c.abs()).min()?;
    let whole = smallest.recip()?;
    alone.chain([whole.clone()]).find(are_short).or(Some(whole))
}

/// A length or count that stands first in a product, and the rest.
fn parted(words: &Words, monomial: &Monomial) -> (Option<Expr>, Monomial) {
    let is_head =
        |e: &Expr| e.as_symbol().and_then(|s| words.get(s)).is_some_and(|w| w.dimension != Dimension::ANGLE);
    let head =
        monomial.iter().find(|(atom, power)| is_head(atom) && **power == 1).map(|(atom, _)| atom.clone());
    let mut tail = monomial.clone();
    if let Some(head) = &head {
        tail.remove(head);
    }
    (head, tail)
}
