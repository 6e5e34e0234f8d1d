//! Chamfers: the cone of a pointed cutter, laid against the cone that is to be left on an edge.
//!
//! Both have one angle, so they touch along a whole line or not at all. Where the end of the cutter is at `z`, its
//! cone is `tip / 2 + (top - z) * tan(angle / 2)` wide at the top face. Below that it grows narrower just as the
//! chamfer does, and below the foot of the chamfer it is narrower than the hole: so the cone stays off the metal
//! exactly when, at the top face, it stays off the chamfer's wide end. A move at one height is therefore held to a
//! wall at the top face, for a cutter that is so wide there.

use borewright_base::Span;
use borewright_motion::{Condition, CutterKind, Expr, Field, Function, Promise};

use super::safe::{is_vertical, site};
use super::scope::Scope;
use super::shape::{Cone, Course, Solid, Wall};
use super::tidy::tidy;
use super::turns::{Round, Site, rounds};
use super::walk::Path;
use super::{Context, Draft, Goal, Move, height};
use crate::Kind;

/// How wide the cone of a cutter whose end is at `z` is at the top face, by half.
fn wide(solid: &Solid, cone: &Cone, scope: &Scope, z: &Expr) -> Expr {
    let tip = scope.inline_once(&Expr::symbol(&Field::Tip.symbol()));
    tip / Expr::from(2) + (solid.top.clone() - z.clone()) * cone.half.clone().call(Function::Tan)
}

/// The wall at the top face that the cone is held to: the chamfer's wide end, or the edge as it is before.
fn wall(solid: &Solid, cone: &Cone, scope: &Scope, z: &Expr, radius: &Expr) -> Wall {
    let wide = wide(solid, cone, scope, z);
    let path = if cone.inside { radius.clone() - wide } else { radius.clone() + wide };
    Wall {
        inside: cone.inside,
        centre: solid.centre.clone(),
        path: tidy(&path),
        radius: radius.clone(),
        name: "chamfer",
    }
}

/// The wide end of the chamfer, for a cutter whose end is at `z`.
pub(crate) fn edge(solid: &Solid, cone: &Cone, scope: &Scope, z: &Expr) -> Wall {
    let radius = if cone.inside { &solid.outer } else { &solid.inner };
    wall(solid, cone, scope, z, radius)
}

/// The edge before anything is cut.
fn sharp(solid: &Solid, cone: &Cone, scope: &Scope, z: &Expr) -> Wall {
    let radius = if cone.inside { &solid.inner } else { &solid.outer };
    wall(solid, cone, scope, z, radius)
}

/// All of the move stays off the metal that is there before, at whatever height it runs.
fn free(context: &Context<'_>, solid: &Solid, cone: &Cone, m: &Move, course: &Course<'_>) -> Condition {
    let ends = [height(&m.from), height(&m.to)].into_iter().flatten();
    let off = |z: &Expr| sharp(solid, cone, &m.at.scope, z).allows(context, &m.at.scope, course).exact;
    Condition::all(ends.map(off))
}

/// The ways down that lead through the air in a hole, or beside a boss, whose edge is broken.
pub(crate) fn open_ways(context: &Context<'_>, m: &Move, course: &Course<'_>, to: &Expr) -> Vec<Condition> {
    if super::held(context, m) != Some(CutterKind::Point) {
        return Vec::new();
    }
    let solids = context.solids();
    let open = |solid: &Solid| {
        let cone = solid.cone.as_ref()?;
        let low = Condition::at_least(tidy(&(to.clone() - solid.floor.clone())), Expr::zero());
        Some(Condition::all([free(context, solid, cone, m, course), low]))
    };
    solids.iter().filter_map(open).collect()
}

/// Adds the obligations of `within` on the motion's own moves.
pub(crate) fn within(context: &mut Context<'_>, all: &[Solid], promise: &Promise, because: Span) {
    let moves = context.moves();
    let one = match all {
        [solid] => solid.cone.clone().map(|cone| (solid, cone)),
        [] | [_, _, ..] => None,
    };
    let Some((solid, cone)) = one else {
        if moves.iter().any(|m| m.path != Path::Rapid) {
            let why = "a chamfer is cut by a routine that makes nothing else, at one place; call it for each";
            context.refuse(Draft::new(Kind::Kept, "within/chamfer", why).serving(promise, because), because);
        }
        return;
    };
    if moves.is_empty() {
        return;
    }
    point(context, solid, &cone, promise, because);
    for m in moves.iter().filter(|m| m.path != Path::Rapid) {
        stays_off(context, solid, &cone, promise, because, m);
        super::within::floor(context, solid, promise, because, m);
    }
}

/// The cutter has the angle of the chamfer.
fn point(context: &mut Context<'_>, solid: &Solid, cone: &Cone, promise: &Promise, because: Span) {
    let angle = Expr::symbol(&Field::Angle.symbol());
    let same = tidy(&(angle - cone.half.clone() * Expr::from(2)));
    let tip = Expr::symbol(&Field::Tip.symbol());
    let goal = Condition::all([Condition::equal(same, Expr::zero()), Condition::at_least(tip, Expr::zero())]);
    let why = "the cone of the cutter has the angle of the chamfer";
    let draft = Draft::new(Kind::Cone, format!("within/{}/angle", solid.name), why);
    let scope = context.scope.clone();
    context.add_with(draft.serving(promise, because), &scope, &[], because, goal);
}

/// At one height the cone stays on its side of the chamfer; on a slope it stays off the metal altogether.
fn stays_off(
    context: &mut Context<'_>,
    solid: &Solid,
    cone: &Cone,
    promise: &Promise,
    because: Span,
    m: &Move,
) {
    let Some((course, high, low)) = super::within::course(m) else { return };
    let above = super::within::above(&solid.top, high, low);
    if above == Condition::True {
        return;
    }
    let scope = &m.at.scope;
    let off = if high == low || is_vertical(m) {
        let goals = [high, low].map(|z| edge(solid, cone, scope, z).allows(context, scope, &course));
        let easier = goals.iter().map(|g| g.easier.clone().unwrap_or_else(|| g.exact.clone()));
        Goal { easier: Some(Condition::all(easier)), exact: Condition::all(goals.map(|g| g.exact)) }
    } else {
        free(context, solid, cone, m, &course).into()
    };
    let why = format!("the cone of the cutter stays off what lies behind `{}`", solid.name);
    let draft = Draft::new(Kind::Wall, site(&format!("within/{}", solid.name), &m.at), why);
    let exact = Condition::any([above, off.exact.clone()]);
    let easier = Some(off.easier.unwrap_or(off.exact)).filter(|e| *e != exact && *e != Condition::False);
    context.add(draft.serving(promise, because), &m.at, Goal { exact, easier });
}

/// Adds the obligations of `sized`, and of `cleared`: a cone that goes round on the chamfer cuts all before it.
pub(crate) fn sized(context: &mut Context<'_>, solid: &Solid, cone: &Cone, promise: &Promise, because: Span) {
    if super::calls::keeps_by_calls(context, promise) {
        return;
    }
    let word = promise.name();
    let draft = |kind, part: &str, why: String| {
        Draft::new(kind, format!("{word}/{}/{part}", solid.name), why).serving(promise, because)
    };
    let of = |r: &Round| edge(solid, cone, &r.turn.at.scope, &r.end());
    let all = Site::group(rounds(context));
    let on = |site: &&Site| site.ways.iter().all(|r| r.plainly_on(context, &of(r)));
    let mut on: Vec<Site> = all.iter().filter(on).cloned().collect();
    let why = format!("a full turn lays the cone of the cutter against `{}`", solid.name);
    if on.is_empty() {
        on.extend(all.last().cloned());
    }
    if on.is_empty() {
        context.refuse(draft(Kind::Contact, "contact", why), because);
        return;
    }
    for round in on.iter().flat_map(|site| &site.ways) {
        let at = round.turn.at.clone();
        context.add(draft(Kind::Contact, &at.site, why.clone()), &at, round.on(&of(round)));
        let why = format!("the cone reaches from the foot of `{}` up to the top face", solid.name);
        let id = site("reaches", &at);
        context.add(draft(Kind::Cone, &id, why), &at, reaches(solid, cone, round));
    }
}

/// The turn is flat, the end of the cutter lies at the foot of the chamfer or lower, and the cone ends at the top
/// face or higher.
fn reaches(solid: &Solid, cone: &Cone, round: &Round) -> Condition {
    if round.is_helix() {
        return Condition::False;
    }
    let scope = &round.turn.at.scope;
    let z = round.end();
    let deep = (solid.top.clone() - z.clone()) * cone.half.clone().call(Function::Tan);
    let diameter = scope.inline_once(&Expr::symbol(&Field::Diameter.symbol()));
    let long = diameter / Expr::from(2) - wide(solid, cone, scope, &z);
    Condition::all([
        Condition::at_least(tidy(&(deep - cone.width.clone())), Expr::zero()),
        Condition::at_least(tidy(&long), Expr::zero()),
    ])
}

/// On a slope no chip forms on the promised side, nor on the other: the cone stays off the metal.
pub(crate) fn slopes(
    context: &mut Context<'_>,
    solid: &Solid,
    cone: &Cone,
    promise: &Promise,
    because: Span,
) {
    for m in context.moves().into_iter().filter(|m| m.path != Path::Rapid && !is_vertical(m)) {
        let Some((course, high, low)) = super::within::course(&m) else { continue };
        if high == low {
            continue;
        }
        let above = super::within::above(&solid.top, high, low);
        let exact = Condition::any([above, free(context, solid, cone, &m, &course)]);
        let why = format!("on a slope the cutter stays off the edge of `{}`", solid.name);
        let id = site(&format!("{}/{}/slope", promise.name(), solid.name), &m.at);
        context.add(Draft::new(Kind::Side, id, why).serving(promise, because), &m.at, exact);
    }
}
