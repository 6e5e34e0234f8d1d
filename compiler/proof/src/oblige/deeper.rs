//! A way that is cut in every pass of a loop, each time a little deeper: then only one pass of metal stands above
//! it.

use std::collections::BTreeSet;

use borewright_motion::{Condition, Expr, Passes, Symbol};

use super::safe::{fits, is_vertical};
use super::scope::symbols_of;
use super::tidy::tidy;
use super::walk::{Path, Turn};
use super::{Context, Move, height};

/// In a loop of passes the same way was cut one pass higher, no more than the flutes above; the first pass begins
/// on the top face, or is itself no deeper than the flutes.
///
/// Between its ends a way's height changes evenly, so that it is one pass below the way before all along where it is
/// so at both ends.
pub(super) fn by_passes(
    context: &Context<'_>,
    m: &Move,
    to: &Expr,
    from_top: &Condition,
) -> Option<Condition> {
    let passes = m.at.loops.iter().rev().find_map(|value| {
        let passes = context.passes(value)?;
        let same_way = to.symbols().contains(value) && Varying::with(m, &passes).same_way(context, m, to);
        same_way.then_some(passes)
    })?;
    let [_, _, index, _] = symbols_of(&passes);
    let turn = |n: i32| Condition::at_least(Expr::symbol(&index), Expr::from(n));
    let step = Step { context, m, passes: &passes, from_top };
    let mut ways = vec![step.one_deep(to)];
    ways.extend(step.begins(to)?);
    if m.at.turns.are_later(&index) && !step.first_pass_goes_the_same_way() {
        // The first pass began elsewhere: this way itself is first cut in the second pass.
        let second = Condition::all([step.begins_on_top(to), fits(to, &step.at_value(to, &passes.from))]);
        ways.push(Condition::any([turn(3), second, from_top.clone()]));
    }
    Some(Condition::all(ways))
}

/// One move in a loop of passes.
struct Step<'a> {
    context: &'a Context<'a>,
    m: &'a Move,
    passes: &'a Passes,
    from_top: &'a Condition,
}

impl Step<'_> {
    fn at_value(&self, z: &Expr, value: &Expr) -> Expr {
        z.substitute(&|s| (*s == self.passes.value).then(|| value.clone()))
    }

    /// Where passes begin, it is on the top face or above it.
    fn begins_on_top(&self, z: &Expr) -> Condition {
        let start = tidy(&self.at_value(z, &self.passes.from));
        let tops = self.context.tops().iter();
        Condition::all(tops.map(|top| Condition::at_least(start.clone(), top.clone())))
    }

    /// A height that follows the value of the passes is no more than the flutes below that of the pass before.
    fn one_deep(&self, z: &Expr) -> Condition {
        let [_, before, index, _] = symbols_of(self.passes);
        let later = Condition::at_least(Expr::symbol(&index), Expr::from(2));
        let first = Condition::any([self.begins_on_top(z), later, self.from_top.clone()]);
        Condition::all([fits(z, &self.at_value(z, &Expr::symbol(&before))), first])
    }

    /// What must hold of the height where the way begins; `None` where nothing can be said of it.
    fn begins(&self, to: &Expr) -> Option<Vec<Condition>> {
        let from = height(&self.m.from)?;
        if from == to || is_vertical(self.m) {
            return Some(Vec::new());
        }
        let [_, before, index, _] = symbols_of(self.passes);
        let goes_down = Condition::at_least(tidy(&(from.clone() - to.clone())), Expr::zero());
        if self.turn() == Some(Turn::First) {
            return Some(vec![goes_down]);
        }
        if super::tidy::same(from, &self.at_value(to, &Expr::symbol(&before))) {
            // It takes up where the pass before ended; the second pass, which had the first above it, is held
            // against where that began.
            let first = self.moves().into_iter().find(|e| self.turn_of(e) == Some(Turn::First))?;
            let third = Condition::at_least(Expr::symbol(&index), Expr::from(3));
            let began = height(&first.from)?;
            return Some(vec![goes_down, Condition::any([third, fits(from, began)])]);
        }
        let known = Varying::with(self.m, self.passes).only_the_value(from);
        known.then(|| vec![self.one_deep(from)])
    }

    /// The same step of the text, by all ways of getting there.
    fn moves(&self) -> Vec<Move> {
        let all = self.context.moves().into_iter();
        all.filter(|e| e.at.site == self.m.at.site).collect()
    }

    fn turn(&self) -> Option<Turn> {
        self.turn_of(self.m)
    }

    fn turn_of(&self, m: &Move) -> Option<Turn> {
        let [_, _, index, _] = symbols_of(self.passes);
        m.at.turns.of(&index)
    }

    fn first_pass_goes_the_same_way(&self) -> bool {
        let [_, _, index, _] = symbols_of(self.passes);
        let same = |e: &Move| {
            let alike = e.at.turns.but_for(&index) == self.m.at.turns.but_for(&index);
            e.from.xy == self.m.from.xy && alike && self.turn_of(e) == Some(Turn::First)
        };
        self.moves().iter().any(same)
    }
}

/// The names that may stand for something else in another pass.
struct Varying {
    names: BTreeSet<Symbol>,
    value: Symbol,
    index: Symbol,
}

impl Varying {
    fn with(m: &Move, passes: &Passes) -> Self {
        let [value, before, index, _] = symbols_of(passes);
        let names = m.at.scope.that_hang_on(&[value.clone(), before, index.clone()]);
        Self { names, value, index }
    }

    fn mentioned_by(&self, e: &Expr) -> bool {
        e.symbols().iter().any(|s| self.names.contains(s))
    }

    /// It changes from pass to pass as the value itself does.
    fn only_the_value(&self, e: &Expr) -> bool {
        !e.symbols().iter().any(|s| *s != self.value && self.names.contains(s))
    }

    /// Whether the way is gone in every pass, or in every one but the first, always through the same places.
    fn same_way(&self, context: &Context<'_>, m: &Move, to: &Expr) -> bool {
        let ends = [&m.from.xy, &m.to.xy].into_iter().flatten();
        let about = match &m.path {
            Path::Arc(_, about) | Path::Turn(_, about) => Some(about),
            Path::Line | Path::Rapid => None,
        };
        let mut places = ends.chain(about).flat_map(|p| [&p.x, &p.y]);
        let counts = m.at.loops.iter().filter_map(|v| super::apart::count_of(&context.motion.body, v));
        let when = m.at.turns.but_for(&self.index).names();
        // A later turn of a loop within that turns more often in one pass than in another.
        let within = m.at.loops.iter().filter_map(|v| context.passes(v)).map(|p| symbols_of(&p));
        let mut uneven =
            within.filter(|[_, _, index, count]| self.names.contains(count) && when.contains(index));
        !places.any(|e| self.mentioned_by(e))
            && self.only_the_value(to)
            && !counts.into_iter().any(|e| self.mentioned_by(&e))
            && !when.iter().any(|s| self.names.contains(s))
            && uneven.next().is_none()
    }
}
