//! `climb` and `conventional` fail where the edge is on the wall and the path runs the other way about it.

use borewright_motion::{Promise, Way};

use super::look::{Finding, Look};
use super::measure::sign;
use super::scene::{Body, Motile, Speed, Wall};

/// The edge this close to the wall is on it: the formula, which is exact, says on or past it.
const NEAR: f64 = 1e-9;

/// Looks for a place where the edge is on a wall the wrong way round.
pub(super) fn check(look: &Look<'_>) -> Finding {
    let climb = look.obligation.promise.as_deref() == Some(Promise::Climb.name());
    for body in look.bodies() {
        for (_, m) in look.moves().into_iter().filter(|(_, m)| m.speed == Speed::Feed) {
            for wall in &body.walls {
                let promised = if wall.inside == climb { Way::Ccw } else { Way::Cw };
                if wrong(m, body, *wall, promised) {
                    let word = if climb { Promise::Climb } else { Promise::Conventional };
                    let (runs, asked) = (other(promised).name(), promised.name());
                    return look.fault(format!(
                        "the path runs {runs} about the {}, where `{word}` asks for {asked}",
                        wall.name
                    ));
                }
            }
        }
    }
    Finding::Fine
}

fn other(way: Way) -> Way {
    match way {
        Way::Ccw => Way::Cw,
        Way::Cw => Way::Ccw,
    }
}

/// Whether at some place the edge is on the wall or past it, below the top face, and the path surely runs
/// against the promised way about the wall's centre.
fn wrong(m: &Motile, body: &Body, wall: Wall, promised: Way) -> bool {
    let parts = [0.5, 0.0, 1.0, 0.25, 0.75, m.course.part_towards(body.centre)];
    parts.into_iter().any(|part| {
        let low = m.height(part).is_some_and(|z| z.hi < body.top.lo);
        let arm = m.course.at(part).minus(body.centre);
        let far = arm.length();
        let on = if wall.inside {
            far.lo >= (wall.radius - m.cutter.radius).hi - NEAR
        } else {
            far.hi <= (wall.radius + m.cutter.radius).lo + NEAR
        };
        let round = sign(arm.cross(m.course.direction(part)));
        let against = match promised {
            Way::Ccw => round == Some(-1),
            Way::Cw => round == Some(1),
        };
        low && on && against
    })
}
