//! `smooth` fails where the edge is on the wall and the path turns, or stops.

use borewright_number::Interval;

use super::look::{Finding, Look};
use super::measure::{angle_between, middle};
use super::scene::{Motile, Scene};
use super::words;

/// Off the wall by more than this is off it.
const NEAR: f64 = 1e-9;

/// Measures by how much the path turns where the step begins.
pub(super) fn check(look: &Look<'_>) -> Finding {
    let Some(scene) = look.scene else { return Finding::Unclear };
    let mut fine = true;
    for (index, m) in scene.moves_of(look.obligation, look.values) {
        if off_every_wall(look, m) {
            continue;
        }
        fine = false;
        let before = index.checked_sub(1).and_then(|i| scene.moves.get(i));
        if let Some(turned) = before.and_then(|before| turned(before, m)).filter(|_| !m.broken)
            && turned.lo > 1e-7
        {
            let turned = words::angle(middle(turned));
            return look.fault(format!("the path turns by {turned} where the edge is on the wall"));
        }
    }
    if fine && seen(look, scene) { Finding::Fine } else { Finding::Unclear }
}

fn seen(look: &Look<'_>, scene: &Scene) -> bool {
    scene.moves_of(look.obligation, look.values).next().is_some()
}

/// Whether the edge is surely off the walls where the move begins, or above the top face.
fn off_every_wall(look: &Look<'_>, m: &Motile) -> bool {
    let start = m.course.at(0.0);
    look.bodies().into_iter().all(|body| {
        let above = m.from.is_some_and(|z| z.lo >= body.top.hi);
        let clear = body.walls.iter().all(|wall| {
            let far = start.distance(body.centre);
            if wall.inside {
                far.hi < (wall.radius - m.cutter.radius).lo - NEAR
            } else {
                far.lo > (wall.radius + m.cutter.radius).hi + NEAR
            }
        });
        above || clear
    })
}

/// The angle by which the path turns between two moves.
fn turned(before: &Motile, after: &Motile) -> Option<Interval> {
    angle_between(direction(before, 1.0)?, direction(after, 0.0)?)
}

/// The direction of the path in space.
fn direction(m: &Motile, part: f64) -> Option<[Interval; 3]> {
    let (a, b) = m.heights()?;
    let (rise, way) = (b - a, m.course.length());
    let flat = m.course.direction(part);
    if rise == Interval::ZERO {
        return Some([flat.x, flat.y, Interval::ZERO]);
    }
    let size = flat.length();
    if size.lo <= 0.0 {
        return Some([Interval::ZERO, Interval::ZERO, rise]);
    }
    // As long as the way is, so that it fits the rise.
    let scale = way / size;
    Some([flat.x * scale, flat.y * scale, rise])
}
