//! Once round on several arcs, each about a centre of its own: a turn of a spiral.
//!
//! Let `c` be the centre of the feature, and let every arc run one way about a centre of its own whose circle holds
//! `c`, so that the direction in which the cutter is seen from `c` only ever goes on that way. Each arc goes on by
//! less than half a circle, and the last ends in the direction in which the first began: together they have been seen
//! in every direction. Let `p` be the least and `q` the greatest distance of the arcs from `c`, `t` the radius of the
//! cutter, `d` that of its dead centre.
//!
//! A point at distance `r` from `c` sees the cutter come by in its own direction at some distance `w` from `c`, with
//! `p <= w <= q`, and so no farther from the point than `t` where `q - t <= r <= p + t`. In the opposite direction the
//! cutter is at least `r + p` away. Between the two it goes without a jump, so at some place it is no farther than `t`
//! and no nearer than `d`, wherever `r + p >= d`: there it cuts the point. So one turn of a spiral clears from `q - t`
//! to `p + t`, as a turn about `c` itself does with `p = q`, and the next turn takes up from there: turns that grow by
//! no more than the cutter's radius leave nothing between them. The last turn, about `c` itself, closes the rim.
//!
//! This is sufficient only: what is farther apart is decided at concrete values, by the island that is left.

use borewright_motion::{Condition, Expr, Point, Way};

use super::safe::site;
use super::shape::{length, within_disc};
use super::tidy::tidy;
use super::turns::{Ring, Round};
use super::walk::{Path, Turns, flat};
use super::{At, Context, Draft, Move, height};
use crate::{Hypothesis, HypothesisKind, Kind, Lemma};

/// Arcs that follow each other once round a centre.
struct Spiral {
    arcs: Vec<Move>,
    /// Where it may begin: one move for each place that the first arc is come by from.
    begins: Vec<Move>,
    way: Way,
}

/// Every run of three or more arcs of one height and one way round, taken as one way round `centre`, together
/// with the obligations that make it one.
pub(crate) fn rounds(
    context: &mut Context<'_>,
    centre: &Point,
    draft: &dyn Fn(Kind, &str, String) -> Draft,
) -> Vec<Round> {
    spirals(context).iter().filter_map(|spiral| round(context, spiral, centre, draft)).collect()
}

fn spirals(context: &Context<'_>) -> Vec<Spiral> {
    let mut all: Vec<Spiral> = Vec::new();
    let mut run: Option<Spiral> = None;
    for m in context.moves() {
        // What may be left out breaks the run too: where it happens, the next arc begins elsewhere.
        let (Path::Arc(way, _), true) = (&m.path, m.at.certain) else {
            all.extend(run.take());
            continue;
        };
        let way = *way;
        let flat = m.from.z == m.to.z && height(&m.to).is_some();
        run = match run.take() {
            Some(mut spiral) if flat && spiral.takes(&m, way) => {
                spiral.add(m);
                Some(spiral)
            }
            other => {
                all.extend(other);
                flat.then(|| Spiral { arcs: vec![m.clone()], begins: vec![m], way })
            }
        };
    }
    all.extend(run);
    all.retain(|s| s.arcs.len() >= 3);
    all
}

impl Spiral {
    fn takes(&self, m: &Move, way: Way) -> bool {
        let Some(last) = self.arcs.last() else { return false };
        let again = last.at.site == m.at.site;
        let before = if again { self.arcs.iter().rev().nth(1) } else { Some(last) };
        let follows = before.is_none_or(|before| before.to.xy == m.from.xy);
        way == self.way && follows && last.at.loops == m.at.loops && last.to.z == m.to.z
    }

    fn add(&mut self, m: Move) {
        if self.arcs.last().is_some_and(|l| l.at.site == m.at.site) {
            if self.arcs.len() == 1 {
                self.begins.push(m);
            }
        } else {
            self.arcs.push(m);
        }
    }
}

/// The arc's centre and the radius about it, in coordinates about the feature's centre.
struct Arm {
    about: Point,
    radius: Expr,
    off: Expr,
}

fn arm(context: &Context<'_>, m: &Move, centre: &Point) -> Option<Arm> {
    let (Path::Arc(_, about), Some(to)) = (&m.path, &m.to.xy) else { return None };
    let scope = &m.at.scope;
    let radius = length(context, scope, &flat(&to.minus(about)));
    let about = flat(&about.minus(centre));
    let off = length(context, scope, &about);
    Some(Arm { about, radius, off })
}

fn round(
    context: &mut Context<'_>,
    spiral: &Spiral,
    centre: &Point,
    draft: &dyn Fn(Kind, &str, String) -> Draft,
) -> Option<Round> {
    let last = spiral.arcs.last()?.clone();
    // What is said of the arcs must hold in all turns of the loops around, however the first one is come by.
    let whole = |m: &Move| {
        let at = At { turns: Turns::default(), variant: 0, ..m.at.clone() };
        Move { at, ..m.clone() }
    };
    let first = whole(spiral.arcs.first()?);
    let arms: Option<Vec<Arm>> = spiral.arcs.iter().map(|m| arm(context, m, centre)).collect();
    let arms = arms?;
    // A growing spiral is nearest to the centre on its first arc and farthest from it on its last.
    let least = tidy(&(arms.first()?.radius.clone() - arms.first()?.off.clone()));
    let greatest = tidy(&(arms.last()?.radius.clone() + arms.last()?.off.clone()));
    let clear = Condition::greater(least.clone(), Expr::zero());
    let mut goals: Vec<(Draft, Move, Condition, Vec<Hypothesis>)> = Vec::new();
    let why =
        "each arc of the way round goes about the centre, no nearer than the first, no farther than the last";
    for (m, arm) in spiral.arcs.iter().zip(&arms) {
        let goal = Condition::all([
            within_disc(&arm.about, &tidy(&(arm.radius.clone() - least.clone()))),
            within_disc(&arm.about, &tidy(&(greatest.clone() - arm.radius.clone()))),
            clear.clone(),
        ]);
        let m = whole(m);
        goals.push((draft(Kind::Standing, &site("round", &m.at), why.to_owned()), m, goal, Vec::new()));
    }
    let why = "the arcs go once round";
    let kind = HypothesisKind::Lemma(Lemma::Nearest);
    let nearest = Hypothesis { condition: clear, kind, span: None };
    for begin in &spiral.begins {
        let parts = once_round(spiral, begin, &last, centre, &least)?;
        // Each by itself: together their cases would be many.
        for goal in parts.into_iter().filter(|goal| *goal != Condition::True) {
            let closes = draft(Kind::Standing, &site("closes", &begin.at), why.to_owned());
            let facts = begin.at.turns.facts().into_iter().chain([nearest.clone()]).collect();
            goals.push((closes, begin.clone(), goal, facts));
        }
    }
    if !goals.iter().all(|(_, m, goal, _)| context.holds_at_sample(&m.at, goal)) {
        // Arcs that follow each other for some other reason.
        return None;
    }
    for (draft, m, goal, facts) in goals {
        context.add_with(draft, &m.at.scope, &facts, m.at.span, goal);
    }
    let z = height(&first.to)?.clone();
    let known = context.scope.clone();
    let plain = |e: &Expr| tidy(&first.at.scope.inline_beyond(&known, e));
    let (least, greatest) = (plain(&least), plain(&greatest));
    let rings = Ring::of(context, &first, &[&least, &greatest]);
    Some(Round {
        from: z.clone(),
        to: z.clone(),
        about: centre.clone(),
        arm: Point { x: least.clone(), y: Expr::zero() },
        descent: Round::descent_of(context, &first, &z),
        rings,
        reach: Some((least, greatest)),
        turn: first,
    })
}

/// Each arc goes on round the centre by less than half a circle, and the last ends in the direction in which
/// the first began: then they have gone round at least once.
fn once_round(
    spiral: &Spiral,
    begin: &Move,
    last: &Move,
    centre: &Point,
    least: &Expr,
) -> Option<Vec<Condition>> {
    let about = |p: &Point| flat(&p.minus(centre));
    let mut ahead = Vec::new();
    let start = about(begin.from.xy.as_ref()?);
    // Where the turn before has ended is the least distance of this one: in its words the rest is short.
    let known = [least.clone(), tidy(&-least.clone())];
    let shortest = |e: &Expr| known.iter().find(|k| begin.at.scope.same(e, k)).unwrap_or(e).clone();
    let start = Point { x: shortest(&start.x), y: shortest(&start.y) };
    let mut from = start.clone();
    for m in &spiral.arcs {
        let to = about(m.to.xy.as_ref()?);
        ahead.push(match spiral.way {
            Way::Ccw => ahead_of(&from, &to),
            Way::Cw => ahead_of(&to, &from),
        });
        from = to;
    }
    let end = about(last.to.xy.as_ref()?);
    ahead.push(Condition::equal(tidy(&start.cross(&end)), Expr::zero()));
    let zero = Expr::zero();
    ahead.push(if start.y == zero || end.y == zero {
        same_sign(&start.x, &end.x)
    } else if start.x == zero || end.x == zero {
        same_sign(&start.y, &end.y)
    } else {
        Condition::greater(tidy(&start.dot(&end)), zero)
    });
    Some(ahead)
}

/// `b` lies counterclockwise of `a`, by less than half a circle: their cross product is above zero. Where one of
/// its products falls away, the other is told by its factors.
fn ahead_of(a: &Point, b: &Point) -> Condition {
    let zero = Expr::zero();
    if a.y == zero || b.x == zero {
        same_sign(&a.x, &b.y)
    } else if a.x == zero || b.y == zero {
        same_sign(&tidy(&-a.y.clone()), &b.x)
    } else {
        Condition::greater(tidy(&a.cross(b)), zero)
    }
}

/// The product of both is above zero.
fn same_sign(a: &Expr, b: &Expr) -> Condition {
    let both = |compare: fn(Expr, Expr) -> Condition| {
        Condition::all([a, b].map(|e| compare(e.clone(), Expr::zero())))
    };
    Condition::any([both(Condition::greater), both(Condition::less)])
}
