//! Half circles that come into an outer thread from beside it, or leave it.
//!
//! The half circle goes round the axis from the distance `f` on one side to the distance `n <= f` on the other,
//! where a turn goes on. Its middle is `d = (f - n) / 2` off the axis, its radius `R = (f + n) / 2`. At its own
//! angle `a` before the near end the distance from the axis is `r`, with `r^2 = R^2 + d^2 - 2 R d cos a`, and the
//! angle `p` about the axis changes by
//!
//! `dp/da = (R^2 - R d cos a) / r^2`, which is `R / n` at the near end.
//!
//! With a height that changes by `pitch / 360deg * R / n` for each degree of `a` it has the slope of the thread there:
//! the joint is tangent in space. What the height is beside the groove grows from nothing,
//!
//! `R / n - dp/da = R (R + d) d (1 - cos a) / (r^2 n)`, so it is no more than
//! `pitch / (2 pi) * R f d (a - sin a) / n^3`, since `r >= n`.
//!
//! The tooth has drawn back by `r - n = 2 R d (1 - cos a) / (r + n) >= R d (1 - cos a) / f`, since `r + n <= 2 f`. As
//! `(a - sin a) / (1 - cos a)` is at most `pi / 2`, it is beside the groove by no more than `pitch f^2 / (4 n^3)` times
//! that. A tooth that is less deep by some length has `lean` times that length room on either side: none touches a
//! flank where `pitch f^2 <= 4 lean n^3`. For `2 f <= 3 n` it is enough that `9 pitch <= 16 lean n`.

use borewright_motion::{Condition, Expr, Node, Way};

use super::scope::Scope;
use super::shape::{Solid, Thread, length};
use super::thread::{at_least, rise, sides, zero};
use super::tidy::tidy;
use super::walk::{Path, flat};
use super::{Context, Move, height};

/// Whether the move is such a half circle, so that no tooth leaves the groove. Sufficient; false where its ends cannot be
/// seen to be on one line through its own middle and the axis.
pub(crate) fn keeps(context: &Context<'_>, solid: &Solid, thread: &Thread, m: &Move) -> Condition {
    let (Some(from), Some(to), Path::Arc(way, about)) = (&m.from.xy, &m.to.xy, &m.path) else {
        return Condition::False;
    };
    let (Some(start), Some(end)) = (height(&m.from), height(&m.to)) else { return Condition::False };
    if thread.inside || thread.lean == Expr::zero() || super::taper::is_tapered(thread) {
        return Condition::False;
    }
    let scope = &m.at.scope;
    let [u, v, own] = [from, to, about].map(|p| flat(&p.minus(&solid.centre)));
    let twice = flat(&u.plus(&v).minus(&own.plus(&own)));
    let none = |e: &Expr| scope.same(e, &Expr::zero());
    if !(none(&twice.x) && none(&twice.y) && none(&u.cross(&v))) || none(&own.square()) {
        return Condition::False;
    }
    let gained = end.clone() - start.clone();
    let upwards = if *way == Way::Ccw { rise(thread) } else { -rise(thread) };
    let [first, last] = [&u, &v].map(|p| length(context, scope, p));
    let outwards = at_least(&last, &first);
    let outwards = context.oracle.holds(&scope.formula_without_counts(outwards, &m.at.turns.facts()));
    let (near, far) = if outwards { (first, last) } else { (last, first) };
    let room = Expr::from(16) * thread.lean.clone() * near.clone();
    let even = Expr::from(4) * near.clone() * gained - upwards * (near.clone() + far.clone());
    Condition::all([
        Condition::less(tidy(&u.dot(&v)), Expr::zero()),
        at_least(&far, &near),
        at_least(&(near.clone() * Expr::from(3)), &(far * Expr::from(2))),
        at_least(&room, &(thread.pitch.clone() * Expr::from(9))),
        none_either_way(scope, &even),
    ])
}

/// It is zero for either hand, where the hand is a parameter.
fn none_either_way(scope: &Scope, e: &Expr) -> Condition {
    let whole = tidy(&with_questions(scope, e));
    sides(&whole).map_or_else(|| zero(e), |both| Condition::all(both.map(|side| zero(&side))))
}

/// Names that stand for a choice put in.
fn with_questions(scope: &Scope, e: &Expr) -> Expr {
    e.substitute(&|s| {
        let value = scope.definition(s)?;
        let mut asks = false;
        scope.inline(value).walk(&mut |part| asks |= matches!(part.node(), Node::If(..)));
        asks.then(|| with_questions(scope, value))
    })
}
