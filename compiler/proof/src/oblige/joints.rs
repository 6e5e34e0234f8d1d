//! `smooth`: one tangent and one direction wherever the edge meets a wall, and no stop there.
//! `climb` and `conventional`: the side the chip forms on.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Point, Promise, Way};

use super::safe::site;
use super::shape::{Solid, Wall, flat_square, length, off_arc, outside_disc, within_disc};
use super::tidy::tidy;
use super::walk::{END, Joint, Path, flat};
use super::{At, Context, Draft, Event, Goal, Move, Place, height};
use crate::{ConcreteCheck, Kind};

/// Adds the obligations of `smooth` on the motion's own moves.
pub(crate) fn smooth(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span) {
    for event in context.events.clone() {
        for wall in &walls_of(solid, &event) {
            let serve = |d: Draft| d.serving(promise, because);
            match &event {
                Event::Joint(joint) => one_joint(context, solid, wall, joint, &serve),
                Event::Dwell(place, at) => {
                    let what = if at.site == END { "is left when the routine ends" } else { "dwells" };
                    stands_still(context, solid, wall, place, at, what, &serve);
                }
                Event::Retract(place, at) => {
                    stands_still(context, solid, wall, place, at, "goes straight up", &serve);
                }
                Event::Move(_)
                | Event::Let(_)
                | Event::Passes(..)
                | Event::Call(..)
                | Event::Tool(..)
                | Event::Spindle(..)
                | Event::Stop(_)
                | Event::ToolDone(_) => {}
            }
        }
    }
}

/// The walls as they stand to a cutter at the height where something happens.
fn walls_of(solid: &Solid, event: &Event) -> Vec<Wall> {
    match event {
        Event::Joint(joint) => solid.walls_at(&joint.at.scope, height(&joint.place)),
        Event::Dwell(place, at) | Event::Retract(place, at) => solid.walls_at(&at.scope, height(place)),
        Event::Move(_)
        | Event::Let(_)
        | Event::Passes(..)
        | Event::Call(..)
        | Event::Tool(..)
        | Event::Spindle(..)
        | Event::Stop(_)
        | Event::ToolDone(_) => Vec::new(),
    }
}

fn one_joint(
    context: &mut Context<'_>,
    solid: &Solid,
    wall: &Wall,
    joint: &Joint,
    serve: &dyn Fn(Draft) -> Draft,
) {
    let (Some(p), Some(z)) = (&joint.place.xy, height(&joint.place)) else { return };
    let above = Condition::at_least(z.clone(), solid.top.clone());
    let clear = wall.clear_of(p);
    let broken = joint.before.broken.or(joint.after.broken);
    let vertical =
        |d: &Option<[Expr; 3]>| d.as_ref().is_some_and(|[x, y, _]| *x == Expr::zero() && *y == Expr::zero());
    let upright = vertical(&joint.before.direction) || vertical(&joint.after.direction);
    let tangent = match (&joint.before.direction, &joint.after.direction) {
        (Some(u), Some(v)) if broken.is_none() && !upright => one_direction(u, v),
        _ => Condition::False,
    };
    let on_wall = joint.at.scope.same(&wall.about(p).square(), &wall.path.squared());
    let easier = if on_wall { tangent.clone() } else { clear.clone() };
    let word = format!("smooth/{}", solid.name);
    let (kind, why) = match broken {
        None => (
            Kind::Joint,
            format!("where the edge is on the {}, the path goes on along one tangent", wall.name),
        ),
        Some(reason) => (Kind::Dwell, format!("the edge is off the {} where {}", wall.name, reason)),
    };
    let exact = Condition::any([above, clear, tangent]);
    let easier = Some(easier).filter(|e| *e != exact && *e != Condition::False);
    context.add(serve(Draft::new(kind, site(&word, &joint.at), why)), &joint.at, Goal { exact, easier });
}

/// Two directions in space are the same, lengths aside.
fn one_direction(u: &[Expr; 3], v: &[Expr; 3]) -> Condition {
    let [[a, b, c], [x, y, z]] = [u, v];
    let cross = |p: &Expr, q: &Expr, r: &Expr, s: &Expr| p.clone() * s.clone() - q.clone() * r.clone();
    let zero = |e: Expr| Condition::equal(e, Expr::zero());
    let flat = zero(cross(a, b, x, y));
    let rising = [zero(cross(b, c, y, z)), zero(cross(a, c, x, z))];
    let dot = a.clone() * x.clone() + b.clone() * y.clone() + c.clone() * z.clone();
    let ahead = Condition::greater(dot, Expr::zero());
    Condition::all([flat].into_iter().chain(rising).chain([ahead]))
}

fn stands_still(
    context: &mut Context<'_>,
    solid: &Solid,
    wall: &Wall,
    place: &Place,
    at: &At,
    what: &str,
    serve: &dyn Fn(Draft) -> Draft,
) {
    let (Some(p), Some(z)) = (&place.xy, height(place)) else { return };
    let above = Condition::at_least(z.clone(), solid.top.clone());
    let clear = wall.clear_of(p);
    let why = format!("the edge is off the {} where the cutter {what}", wall.name);
    let draft = Draft::new(Kind::Dwell, site(&format!("smooth/{}", solid.name), at), why);
    let exact = Condition::any([above, clear.clone()]);
    let easier = Some(clear).filter(|c| *c != exact);
    context.add(serve(draft), at, Goal { exact, easier });
}

/// Adds the obligations of `climb` or `conventional` on the motion's own moves.
pub(crate) fn side(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span) {
    let climb = *promise == Promise::Climb;
    if let Some(cone) = &solid.cone {
        super::chamfer::slopes(context, solid, cone, promise, because);
    }
    for m in context.moves().into_iter().filter(|m| m.path != Path::Rapid) {
        for wall in &solid.walls_at(&m.at.scope, height(&m.to)) {
            // With the spindle clockwise from above, climbing keeps the metal to the right: counterclockwise
            // inside a hole, clockwise around a boss.
            let promised = if wall.inside == climb { Way::Ccw } else { Way::Cw };
            one_side(context, solid, wall, promised, &m, &|d| d.serving(promise, because));
        }
    }
}

fn one_side(
    context: &mut Context<'_>,
    solid: &Solid,
    wall: &Wall,
    promised: Way,
    m: &Move,
    serve: &dyn Fn(Draft) -> Draft,
) {
    let (Some(from), Some(to)) = (&m.from.xy, &m.to.xy) else { return };
    let (Some(high), Some(low)) = (height(&m.from), height(&m.to)) else { return };
    let above = Condition::all([high, low].map(|z| Condition::at_least(z.clone(), solid.top.clone())));
    if above == Condition::True || (!m.says_xy && matches!(m.path, Path::Line)) {
        return;
    }
    let goal = match &m.path {
        Path::Rapid => return,
        Path::Line => line_side(wall, promised, from, to),
        Path::Turn(way, about) | Path::Arc(way, about) if *way != promised => {
            off_wall(context, m, wall, solid, from, about)
        }
        // The right way round its own centre, a circle that keeps within the hole is right about its wall too.
        Path::Turn(..) | Path::Arc(..) if wall.inside && is_within(context, solid) => return,
        Path::Turn(_, about) => right_way(context, m, wall, from, about),
        Path::Arc(way, about) => {
            let whole = right_way(context, m, wall, from, about);
            let ends = arc_side(wall, promised, *way, about, from, to);
            Condition::any([whole, Condition::all([ends, nearest_is_off(wall, *way, about, from, to)])])
        }
    };
    if goal == Condition::True {
        return;
    }
    let why = format!("where the edge is on the {}, the path runs {} about it", wall.name, promised.name());
    let draft =
        Draft::new(Kind::Side, site(&format!("{}/{}", serve_word(promised, wall), solid.name), &m.at), why)
            .checked(ConcreteCheck::WrongSide);
    let exact = Condition::any([above, goal.clone()]);
    let easier = match &m.path {
        Path::Line if !wall.inside => Condition::any(beyond(wall, from, to)),
        Path::Line | Path::Rapid | Path::Arc(..) | Path::Turn(..) => goal,
    };
    let easier = Some(easier).filter(|g| *g != exact && *g != Condition::False);
    context.add(serve(draft), &m.at, Goal { exact, easier });
}

fn serve_word(promised: Way, wall: &Wall) -> &'static str {
    if (promised == Way::Ccw) == wall.inside { "climb" } else { "conventional" }
}

fn is_within(context: &Context<'_>, solid: &Solid) -> bool {
    let own = context.motion.made.iter().filter(|m| m.feature.span == solid.span);
    own.flat_map(|m| &m.promises).any(|(p, _)| *p == Promise::Within)
}

/// A circle with the promised way round its own centre runs that way about the wall wherever it touches it: it
/// lies in the hole, or goes round the boss. Beside a boss it would run the other way, so it must not touch.
fn right_way(context: &Context<'_>, m: &Move, wall: &Wall, from: &Point, about: &Point) -> Condition {
    let offset = wall.about(about);
    if offset == Point::centre() {
        return Condition::True;
    }
    if wall.inside {
        return within_disc(&offset, &wall.path);
    }
    let radius = length(context, &m.at.scope, &flat(&from.minus(about)));
    let past = Condition::greater(flat_square(&offset), (radius.clone() + wall.path.clone()).squared());
    Condition::any([past, within_disc(&offset, &(radius - wall.path.clone()))])
}

/// The point of an arc's circle that is farthest from the wall's centre is no part of the arc: then only its
/// ends can touch the wall of a hole.
fn farthest_is_off(wall: &Wall, way: Way, about: &Point, from: &Point, to: &Point) -> Condition {
    let (u, v) = (flat(&from.minus(about)), flat(&to.minus(about)));
    let (first, last) = if way == Way::Ccw { (u, v) } else { (v, u) };
    off_arc(&first, &last, &wall.about(about))
}

/// The point of an arc's circle that is nearest to the wall's centre is no part of the arc: then only its ends
/// can touch a boss.
fn nearest_is_off(wall: &Wall, way: Way, about: &Point, from: &Point, to: &Point) -> Condition {
    let (u, v) = (flat(&from.minus(about)), flat(&to.minus(about)));
    let (first, last) = if way == Way::Ccw { (u, v) } else { (v, u) };
    let out = wall.about(about);
    off_arc(&first, &last, &Point { x: -out.x, y: -out.y })
}

/// A straight move past a boss touches it between its ends in the promised way only, or not at all.
fn between_ends(wall: &Wall, promised: Way, from: &Point, to: &Point) -> Condition {
    let (a, b) = (wall.about(from), wall.about(to));
    let along = flat(&b.minus(&a));
    let round = tidy(&a.cross(&along));
    let right = match promised {
        Way::Ccw => Condition::at_least(round.clone(), Expr::zero()),
        Way::Cw => Condition::at_most(round.clone(), Expr::zero()),
    };
    let apart = [
        right,
        Condition::at_least(tidy(&a.dot(&along)), Expr::zero()),
        Condition::at_most(tidy(&b.dot(&along)), Expr::zero()),
        Condition::greater(round.squared(), wall.path.squared() * flat_square(&along)),
    ];
    Condition::any(apart)
}

/// Both ends lie beyond one tangent of the wall's path: then the way between them touches nothing.
fn beyond(wall: &Wall, from: &Point, to: &Point) -> Vec<Condition> {
    wall.beyond_a_tangent(&wall.about(from), &wall.about(to), Condition::greater)
}

/// A straight move that touches the wall does not run against the promised way.
fn line_side(wall: &Wall, promised: Way, from: &Point, to: &Point) -> Condition {
    let along = flat(&to.minus(from));
    let end = |p: &Point| {
        let round = tidy(&wall.about(p).cross(&along));
        let right = match promised {
            Way::Ccw => Condition::at_least(round, Expr::zero()),
            Way::Cw => Condition::at_most(round, Expr::zero()),
        };
        Condition::any([wall.clear_of(p), right])
    };
    if wall.inside {
        return Condition::all([end(from), end(to)]);
    }
    let touching = Condition::all([end(from), end(to), between_ends(wall, promised, from, to)]);
    Condition::any(beyond(wall, from, to).into_iter().chain([touching]))
}

/// An arc that rolls onto the wall from outside (a boss): at both ends, off the wall or the promised way.
fn arc_side(wall: &Wall, promised: Way, way: Way, about: &Point, from: &Point, to: &Point) -> Condition {
    let end = |p: &Point| {
        let r = flat(&p.minus(about));
        let tangent = match way {
            Way::Ccw => Point { x: -r.y, y: r.x },
            Way::Cw => Point { x: r.y, y: -r.x },
        };
        let round = tidy(&wall.about(p).cross(&tangent));
        let right = match promised {
            Way::Ccw => Condition::at_least(round, Expr::zero()),
            Way::Cw => Condition::at_most(round, Expr::zero()),
        };
        Condition::any([wall.clear_of(p), right])
    };
    Condition::all([end(from), end(to)])
}

/// A way round the wrong way never comes to the wall; about the wall's own centre it must not cut at all.
fn off_wall(
    context: &Context<'_>,
    m: &Move,
    wall: &Wall,
    solid: &Solid,
    from: &Point,
    about: &Point,
) -> Condition {
    let scope = &m.at.scope;
    let radius = length(context, scope, &flat(&from.minus(about)));
    let offset = wall.about(about);
    // Inside a hole the farthest point counts, outside a boss the nearest, inside or outside the circle.
    let far = |edge: Expr| {
        let inner = within_disc(&offset, &edge);
        let touching = Condition::equal(flat_square(&offset), edge.squared());
        Condition::all([inner, touching.negated()])
    };
    if wall.inside {
        let whole = far(wall.path.clone() - radius);
        let (Path::Arc(way, _), Some(to)) = (&m.path, &m.to.xy) else { return whole };
        let ends = [from, to].map(|p| wall.clear_of(p));
        let part = ends.into_iter().chain([farthest_is_off(wall, *way, about, from, to)]);
        return Condition::any([whole, Condition::all(part)]);
    }
    let ends = [m.from.xy.as_ref(), m.to.xy.as_ref()].into_iter().flatten();
    let rolling = match &m.path {
        // The wrong way round its own centre, rolling on a boss from outside is the promised way.
        Path::Arc(way, _) => {
            let promised = if *way == Way::Ccw { Way::Cw } else { Way::Ccw };
            let ends: Vec<&Point> = ends.collect();
            match ends.as_slice() {
                [a, b] => {
                    let past = outside_disc(&offset, &(radius.clone() + wall.path.clone()));
                    let touch = Condition::any([past, nearest_is_off(wall, *way, about, a, b)]);
                    Condition::all([arc_side(wall, promised, *way, about, a, b), touch])
                }
                _ => Condition::False,
            }
        }
        Path::Turn(..) => outside_disc(&offset, &(radius.clone() + wall.path.clone())),
        Path::Rapid | Path::Line => Condition::False,
    };
    let _ = solid;
    Condition::any([far(radius - wall.path.clone()), rolling])
}
