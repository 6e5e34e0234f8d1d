//! `within` fails where the cutter passes a wall or goes below the floor.

use super::look::{Finding, Look};
use super::measure::middle;
use super::scene::{Body, Motile, Wall};

/// How far the cutter surely passes the wall below the top face; below 0 where it stays on its side at the
/// places looked at; `None` where it stays above.
pub(super) fn passed(m: &Motile, body: &Body, wall: Wall) -> Option<f64> {
    let (first, last) = below_top(m, body)?;
    let towards = if wall.inside { outward(m, body) } else { m.course.part_towards(body.centre) };
    let parts = [first, last, towards.clamp(first, last), first / 2.0 + last / 2.0];
    let by = |part: f64| {
        // Surely below the top face there.
        let low = m.height(part).is_some_and(|z| z.hi < body.top.lo);
        let far = m.course.at(part).distance(body.centre);
        let limit = if wall.inside { wall.radius - m.cutter.radius } else { wall.radius + m.cutter.radius };
        let by = if wall.inside { far - limit } else { limit - far };
        low.then_some(by.lo)
    };
    parts.into_iter().filter_map(by).reduce(f64::max)
}

/// Whether the cutter surely stays on its side of the wall.
fn kept(m: &Motile, body: &Body, wall: Wall) -> bool {
    let Some((first, last)) = below_top(m, body) else { return true };
    let stretch = m.course.stretch(first, last);
    if wall.inside {
        stretch.farthest(body.centre).hi <= (wall.radius - m.cutter.radius).lo
    } else {
        stretch.nearest(body.centre).lo >= (wall.radius + m.cutter.radius).hi
    }
}

/// The stretch of a move that may run below the top face.
fn below_top(m: &Motile, body: &Body) -> Option<(f64, f64)> {
    let (a, b) = m.heights()?;
    if a.lo >= body.top.hi && b.lo >= body.top.hi {
        return None;
    }
    m.parts_below(body.top.hi, f64::NEG_INFINITY)
}

/// The part of an arc at which it is farthest from the middle.
fn outward(m: &Motile, body: &Body) -> f64 {
    use super::measure::Course;
    match m.course {
        Course::Line(..) => 1.0,
        Course::Arc { centre, .. } => {
            let away = centre.minus(body.centre);
            if middle(away.length()) < 1e-12 { 0.0 } else { m.course.part_towards(centre.plus(away)) }
        }
    }
}

/// Looks at the step's moves and the walls of its feature.
pub(super) fn walls(look: &Look<'_>) -> Finding {
    let (moves, bodies) = (look.moves(), look.bodies());
    if moves.is_empty() || bodies.is_empty() {
        return Finding::Unclear;
    }
    let all = || {
        let each = moves.iter().flat_map(|(_, m)| bodies.iter().map(move |b| (*m, *b)));
        each.flat_map(|(m, b)| b.walls.iter().map(move |w| (m, b, *w)))
    };
    let most = all()
        .filter_map(|(m, body, wall)| Some((passed(m, body, wall)?, wall)))
        .max_by(|(a, _), (b, _)| a.total_cmp(b));
    match most {
        Some((by, wall)) if by > 0.0 => {
            look.fault(format!("the cutter passes the {} by {}", wall.name, look.length(by)))
        }
        _ if all().all(|(m, body, wall)| kept(m, body, wall)) => Finding::Fine,
        _ => Finding::Unclear,
    }
}

/// Looks at how deep the step's moves go.
pub(super) fn floor(look: &Look<'_>) -> Finding {
    let (moves, bodies) = (look.moves(), look.bodies());
    if moves.is_empty() || bodies.is_empty() {
        return Finding::Unclear;
    }
    let each = moves.iter().flat_map(|(_, m)| bodies.iter().map(move |b| (*m, *b)));
    let depths = each.filter_map(|(m, b)| Some((b.floor - m.to?, m.to? - b.floor)));
    let deepest = depths.max_by(|(a, _), (b, _)| a.lo.total_cmp(&b.lo));
    match deepest {
        Some((by, _)) if by.lo > 0.0 => {
            look.fault(format!("the cutter goes {} below the floor", look.length(by.lo)))
        }
        Some((_, left)) if left.lo >= 0.0 => Finding::Fine,
        Some(_) | None => Finding::Unclear,
    }
}
