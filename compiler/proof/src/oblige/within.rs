//! `within`: below the top face the cutter stays on its side of every wall and above the floor. `apart`: a
//! wall stands between features.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Feature, Point, Promise};

use super::safe::site;
use super::shape::{Course, Solid};
use super::tidy::tidy;
use super::walk::Path;
use super::{Context, Draft, Goal, Move, height};
use crate::Kind;

/// Adds the obligations of `within` on the motion's own moves.
pub(crate) fn oblige(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span) {
    for m in context.moves() {
        // Rapid moves below the top face are held to air by a rule of their own.
        if m.path == Path::Rapid {
            continue;
        }
        walls(context, solid, promise, because, &m);
        floor(context, solid, promise, because, &m);
    }
}

fn walls(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span, m: &Move) {
    let (Some(from), Some(to)) = (&m.from.xy, &m.to.xy) else { return };
    let (Some(high), Some(low)) = (height(&m.from), height(&m.to)) else { return };
    let above = |z: &Expr| Condition::at_least(z.clone(), solid.top.clone());
    let free = if high == low { above(low) } else { Condition::all([above(high), above(low)]) };
    if free == Condition::True {
        return;
    }
    for wall in &solid.walls {
        let course = Course { path: &m.path, from, to, sloped: high != low };
        let goal = wall.allows(context, &m.at.scope, &course);
        let word = format!("within/{}", solid.name);
        let why = format!("the cutter stays {} the {} of `{}`", side(wall.inside), wall.name, solid.name);
        let draft = Draft::new(Kind::Wall, site(&word, &m.at), why).serving(promise, because);
        let easier = Some(goal.easier.unwrap_or_else(|| goal.exact.clone()));
        let exact = Condition::any([free.clone(), goal.exact]);
        context.add(draft, &m.at, Goal { exact, easier });
    }
}

fn side(inside: bool) -> &'static str {
    if inside { "inside" } else { "outside" }
}

fn floor(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span, m: &Move) {
    let Some(z) = height(&m.to) else { return };
    if m.from.z == m.to.z {
        return;
    }
    let word = format!("within/{}/floor", solid.name);
    let why = format!("the cutter stays above the floor of `{}`", solid.name);
    let draft = Draft::new(Kind::Floor, site(&word, &m.at), why).serving(promise, because);
    let goal = Condition::at_least(tidy(&(z.clone() - solid.floor.clone())), Expr::zero());
    let free = Condition::at_least(z.clone(), solid.top.clone());
    let exact = Condition::any([goal.clone(), free]);
    context.add(draft, &m.at, Goal { easier: Some(goal).filter(|g| *g != exact), exact });
}

/// `apart(w)`: between every two places.
pub(crate) fn apart(
    context: &mut Context<'_>,
    feature: &Feature,
    web: &Expr,
    promise: &Promise,
    because: Span,
) {
    let scope = context.scope.clone();
    let radius = Solid::of(feature, &Point::centre(), &scope).outer;
    let across = Expr::from(2) * radius + web.clone();
    if let Some((index, count)) = feature.pattern() {
        // Evenly on a circle: no two places are nearer than neighbours.
        let count = Expr::symbol(&count);
        let half = (Expr::from(180) / count.clone()).sin();
        let chord = Expr::from(2) * Expr::symbol(&Feature::pattern_radius(&index)) * half;
        let why = format!("neighbouring places of `{}` keep their wall", feature.name);
        let draft = Draft::new(Kind::Web, format!("apart/{}/neighbours", feature.name), why)
            .serving(promise, because);
        let goal =
            Condition::any([Condition::less(count, Expr::from(2)), Condition::at_least(chord, across)]);
        context.add_with(draft, &scope, &[], because, goal);
        return;
    }
    if let (Some((_, count)), Some(place)) = (feature.pattern(), feature.at.first()) {
        let why = format!("neighbours among the places of `{}` keep their wall", feature.name);
        let draft = Draft::new(Kind::Web, format!("apart/{}", feature.name), why).serving(promise, because);
        let goal = neighbours(&scope, place, &Expr::symbol(&count), &across);
        context.add_with(draft, &scope, &[], because, goal);
        return;
    }
    for (i, a) in feature.at.iter().enumerate() {
        for (j, b) in feature.at.iter().enumerate().skip(i + 1) {
            let why = format!("places {} and {} of `{}` keep their wall", i + 1, j + 1, feature.name);
            let id = format!("apart/{}/{}-{}", feature.name, i + 1, j + 1);
            let draft = Draft::new(Kind::Web, id, why).serving(promise, because);
            let between = super::walk::flat(&b.minus(a));
            let goal = super::shape::outside_disc(&between, &across);
            context.add_with(draft, &scope, &[], because, goal);
        }
    }
}

/// Places spread evenly on a circle about the centre: the nearest two are neighbours, `2 r sin(180deg / n)`
/// apart; one place alone has no neighbour.
pub(crate) fn neighbours(scope: &super::Scope, place: &Point, count: &Expr, across: &Expr) -> Condition {
    let arm = Point { x: scope.flatten(&place.x), y: scope.flatten(&place.y) };
    let Some(radius) = super::shape::signed_length(&arm) else { return Condition::False };
    let between = Expr::from(2) * radius * (Expr::from(180) / count.clone()).sin();
    Condition::any([
        Condition::less(count.clone(), Expr::from(2)),
        Condition::at_least(between, across.clone()),
    ])
}
