//! Tapered threads: half circles about the axis, each a little further out, that begin and end on the groove.
//!
//! No arc follows a groove on a cone. A half circle from the distance `r0` on one side of the axis to `r1` on the other
//! has its middle `d = (r0 - r1) / 2` off the axis, and the radius `R = (r0 + r1) / 2`. It rises by half the pitch, so
//! where both ends are on the cone `|d| = taper * pitch / 8`. At its own angle `a`, from 0 to 180 degrees:
//!
//! - Its distance from the axis lies between `R + d cos a` and `d^2 / (2 (R - |d|))` more. Evenly from `r0` to `r1` it
//!   would be `R + d (1 - a / 90deg)`, from which `R + d cos a` differs by at most `0.2106 |d|`, where
//!   `sin a = 2 / pi`. So it is off by no more than `|d| / 4` where `|d| <= R / 16`.
//! - Its angle about the axis differs from `a` by at most `asin(|d| / R)`. Its height is even in `a`, so it is off by
//!   at most `pitch / 360deg * asin(|d| / R)`, which is no more than `pitch |d| / (6 R)` where `|d| <= R / 2`.
//!
//! Both are no more than `taper * pitch / 32` where `R >= 2/3 pitch` and `taper <= 1/3`.
//!
//! A half circle that begins or ends in the axis, and at the other end on the groove at the distance `r`, changes its
//! height by a quarter of the pitch, evenly with the angle about the axis. At an angle `e` before that end it is
//! `r (1 - cos(e / 2)) >= r (e / 180deg)^2` nearer to the axis, while the groove has come nearer by
//! `taper * pitch / 8 * e / 180deg` at most: it is past the groove by no more than `(taper * pitch)^2 / (256 r)`, which is
//! less than `taper * pitch / 32` too.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Field, Point, Way};

use super::safe::site;
use super::scope::Scope;
use super::shape::{Solid, Thread, signed_length};
use super::thread::{at_least, covers, field, rise, zero};
use super::tidy::tidy;
use super::turns::Round;
use super::walk::{Path, flat};
use super::{Context, Draft, Move, height};
use crate::Kind;

/// Whether the groove changes its distance from the axis.
pub(crate) fn is_tapered(thread: &Thread) -> bool {
    thread.taper != Expr::zero()
}

/// The cutter grows wider as the thread does.
pub(crate) fn fits(thread: &Thread) -> Condition {
    zero(&(field(Field::Taper) - thread.taper.clone()))
}

/// They are the same; read off where that can be.
fn equal(scope: &Scope, a: &Expr, b: &Expr) -> Condition {
    if scope.same(a, b) { Condition::True } else { zero(&(a.clone() - b.clone())) }
}

fn nowhere(scope: &Scope, p: &Point) -> Condition {
    Condition::all([equal(scope, &p.x, &Expr::zero()), equal(scope, &p.y, &Expr::zero())])
}

fn scaled(p: &Point, by: &Expr) -> Point {
    Point { x: p.x.clone() * by.clone(), y: p.y.clone() * by.clone() }
}

/// One end of a half circle, seen from the axis of the thread.
struct End {
    arm: Point,
    /// How far from the axis the cutter's centre is where its teeth are on the groove at this height. What is true of
    /// its highest tooth, the widest, is true of all.
    path: Expr,
}

impl End {
    /// It is the axis.
    fn central(&self, scope: &Scope) -> Condition {
        nowhere(scope, &self.arm)
    }

    /// It is on the groove, far enough out.
    fn on(&self, scope: &Scope, thread: &Thread) -> Condition {
        let Some(far) = signed_length(&self.arm) else { return Condition::False };
        let either = [far.clone(), -far].map(|far| equal(scope, &far, &self.path));
        Condition::all([Condition::any(either), self.far_out(thread)])
    }

    /// The groove is far enough from the axis there.
    fn far_out(&self, thread: &Thread) -> Condition {
        at_least(&(self.path.clone() * Expr::from(3)), &(thread.pitch.clone() * Expr::from(2)))
    }
}

/// A half circle about a middle of its own.
struct Half<'a> {
    scope: &'a Scope,
    thread: &'a Thread,
    from: End,
    to: End,
    /// Its middle lies between its ends.
    middle: Condition,
    gained: Expr,
    /// What a full turn that way gains.
    turn: Expr,
}

impl<'a> Half<'a> {
    fn of(solid: &Solid, thread: &'a Thread, m: &'a Move) -> Option<Self> {
        let (Some(from), Some(to), Path::Arc(way, about)) = (&m.from.xy, &m.to.xy, &m.path) else {
            return None;
        };
        let (low, high) = (height(&m.from)?, height(&m.to)?);
        let scope = &m.at.scope;
        let [u, v, own] = [from, to, about].map(|p| flat(&p.minus(&solid.centre)));
        let middle = nowhere(scope, &flat(&u.plus(&v).minus(&own.plus(&own))));
        let turn = if *way == Way::Ccw { rise(thread) } else { -rise(thread) };
        let from = End { arm: u, path: path(solid, thread, low)? };
        let to = End { arm: v, path: path(solid, thread, high)? };
        Some(Self { scope, thread, from, to, middle, gained: high.clone() - low.clone(), turn })
    }

    fn gains(&self, part: i32) -> Condition {
        equal(self.scope, &(self.gained.clone() * Expr::from(part)), &self.turn)
    }

    /// What is allowed is at least how far a half circle leaves the groove.
    fn allowed(&self) -> Condition {
        let (error, most) = (
            self.thread.error.clone() * Expr::from(32),
            self.thread.taper.clone() * self.thread.pitch.clone(),
        );
        let taper = self.scope.inline(&self.thread.taper);
        let enough = if self.scope.same(&error, &most) { Condition::True } else { at_least(&error, &most) };
        let steep = Condition::at_most(taper * Expr::from(3), Expr::from(1));
        Condition::all([enough, steep])
    }

    /// From one side of the axis to the other, on the groove at both ends.
    fn round(&self) -> Condition {
        let (u, v) = (&self.from, &self.to);
        // As one is so far out as the groove, the other is too, and on the other side.
        let across = nowhere(self.scope, &scaled(&u.arm, &v.path).plus(&scaled(&v.arm, &u.path)));
        let far = v.far_out(self.thread);
        let on = u.on(self.scope, self.thread);
        Condition::all([self.middle.clone(), across, far, on, self.gains(2), self.allowed()])
    }

    /// From the axis to the groove, or back.
    fn through(&self) -> Condition {
        let way = |a: &End, b: &End| Condition::all([a.central(self.scope), b.on(self.scope, self.thread)]);
        let ends = Condition::any([way(&self.from, &self.to), way(&self.to, &self.from)]);
        Condition::all([self.middle.clone(), ends, self.gains(4), self.allowed()])
    }
}

/// How far from the axis the cutter's centre is where its teeth are on the groove and its end is at `z`.
fn path(solid: &Solid, thread: &Thread, z: &Expr) -> Option<Expr> {
    let wall = solid.walls.first()?;
    let teeth = field(Field::Nose) + (field(Field::Rows) - Expr::from(1)) * thread.pitch.clone();
    let above = z.clone() + teeth - solid.top.clone();
    let grown = thread.taper.clone() / Expr::from(2) * above;
    Some(tidy(&if thread.inside { wall.path.clone() + grown } else { wall.path.clone() - grown }))
}

/// Whether the whole move keeps to the groove, but for what is allowed. Sufficient.
pub(crate) fn keeps(solid: &Solid, thread: &Thread, m: &Move) -> Condition {
    Half::of(solid, thread, m).map_or(Condition::False, |half| {
        let through = if thread.inside { half.through() } else { Condition::False };
        Condition::any([half.round(), through])
    })
}

/// A full turn of two half circles, the second of which takes up where the first ends.
struct Pair {
    first: Move,
    second: Move,
}

impl Pair {
    /// All such turns that surely happen, in order; one that is come by from several places, once for each.
    fn all(context: &Context<'_>) -> Vec<Self> {
        let is_arc = |m: &Move| m.at.certain && matches!(m.path, Path::Arc(..));
        let arcs: Vec<Move> = context.moves().into_iter().filter(is_arc).collect();
        let follows = |a: &Move, b: &Move| {
            let (Some(p), Some(q)) = (&a.to.xy, &b.from.xy) else { return false };
            let (Some(y), Some(z)) = (height(&a.to), height(&b.from)) else { return false };
            let scope = &b.at.scope;
            let same_way = way(a) == way(b) && a.at.loops == b.at.loops && a.at.site != b.at.site;
            same_way && scope.same_point(p, q) && scope.same(y, z)
        };
        let pair = |a: &Move| {
            let second = arcs.iter().find(|b| follows(a, b))?;
            Some(Self { first: a.clone(), second: second.clone() })
        };
        arcs.iter().filter_map(pair).collect()
    }

    /// As one turn, for what holds of turns.
    fn round(&self, context: &Context<'_>, solid: &Solid) -> Option<Round> {
        let head = context.scope.clone();
        let plain = |m: &Move, e: &Expr| tidy(&m.at.scope.inline_beyond(&head, e));
        let from = plain(&self.first, height(&self.first.from)?);
        let to = plain(&self.second, height(&self.second.to)?);
        let (about, turn) = (solid.centre.clone(), self.first.clone());
        let arm = flat(&turn.from.xy.as_ref()?.minus(&about));
        Some(Round { turn, from, to, about, arm, reach: None, descent: None, rings: None })
    }
}

fn way(m: &Move) -> Option<Way> {
    match &m.path {
        Path::Arc(way, _) | Path::Turn(way, _) => Some(*way),
        Path::Rapid | Path::Line => None,
    }
}

/// Adds the obligations of `sized` for a tapered thread: turns of two half circles each that are on the groove and
/// follow each other from the floor to the top face.
pub(crate) fn sized(
    context: &mut Context<'_>,
    solid: &Solid,
    thread: &Thread,
    because: Span,
    draft: &dyn Fn(Kind, &str, String) -> Draft,
) {
    let pairs = Pair::all(context);
    let Some(last) = pairs.last().map(|pair| pair.first.at.site.clone()) else {
        let why = format!("full turns of two half circles cut `{}` to its full depth", solid.name);
        context.refuse(draft(Kind::Contact, "contact", why), because);
        return;
    };
    let same: Vec<&Pair> = pairs.iter().filter(|pair| pair.first.at.site == last).collect();
    for m in same.iter().flat_map(|pair| [&pair.first, &pair.second]) {
        let why = format!("the half circle goes round on the cone of `{}`", solid.name);
        let on = Half::of(solid, thread, m).map_or(Condition::False, |half| half.round());
        context.add(draft(Kind::Contact, &site("round", &m.at), why), &m.at, on);
    }
    let rounds: Vec<Round> = same.iter().filter_map(|pair| pair.round(context, solid)).collect();
    let all: Vec<&Round> = rounds.iter().collect();
    let goals = covers(context, solid, thread, &all);
    let goals = goals.unwrap_or([Condition::False, Condition::False, Condition::False]);
    let Some(last) = same.last().map(|pair| pair.first.at.clone()) else { return };
    let words = ["follow each other", "begin or end at the floor", "reach past the top face"];
    for (goal, (part, words)) in goals.into_iter().zip(["turns", "low", "high"].into_iter().zip(words)) {
        let why = format!("the full turns that cut `{}` {words}", solid.name);
        context.add(draft(Kind::Turns, part, why), &last, goal);
    }
}
