//! A rapid move fails where some way between its ends brings the cutter into metal.

use borewright_number::Interval;

use super::look::{Finding, Look};
use super::measure::{Course, Point, middle};
use super::scene::{Motile, Scene, Speed};
use super::sweep::{Counts, clearance, off};
use super::words;

/// Looks for a point of metal that the rapid move may meet.
pub(super) fn check(look: &Look<'_>) -> Finding {
    let Some(scene) = look.scene else { return Finding::Unclear };
    for (before, m) in look.moves() {
        if m.speed == Speed::Rapid
            && let Some(hit) = hit(scene, before, m)
        {
            return look.fault(told(look, scene, m, &hit));
        }
    }
    Finding::Fine
}

struct Hit {
    p: Point,
    straight: bool,
    /// The cutter's rim only touches.
    rubs: bool,
}

fn told(look: &Look<'_>, scene: &Scene, m: &Motile, hit: &Hit) -> String {
    let top = scene.top();
    let deep = m.to.map_or(0.0, |z| top - middle(z));
    let (x, y) = hit.p.middle();
    let [x, y] = [x, y].map(|v| words::coordinate(v, look.inch()));
    let deep = if deep > 1e-9 {
        format!("{} below the top face", look.length(deep))
    } else {
        "on the top face".to_owned()
    };
    match (hit.rubs, hit.straight) {
        (true, _) => format!("the rapid move rubs on metal {deep}, at x {x}, y {y}"),
        (false, true) => format!("the rapid move runs into metal {deep}, at x {x}, y {y}"),
        (false, false) => {
            format!("the rapid move, where it does not run straight, meets metal {deep}, at x {x}, y {y}")
        }
    }
}

fn hit(scene: &Scene, before: &[Motile], m: &Motile) -> Option<Hit> {
    let z = m.to?;
    // Upwards nothing is met that was not met before.
    if let (Some(from), Course::Line(a, b)) = (m.from, m.course)
        && a == b
        && z.lo >= from.hi
    {
        return None;
    }
    let (heights, along) = heights(scene, z)?;
    let stays = m.from.is_some_and(|from| from == z);
    let Course::Line(a, b) = m.course else { return None };
    let places = if stays { within_box(a, b) } else { vec![(b, true)] };
    let radius = middle(m.cutter.radius);
    // Well inside the cutter first; then its rim, which only touches.
    for part in [0.999_999, 0.9, 0.5, 0.0, 1.000_000_001] {
        for (c, straight) in &places {
            for degrees in (0..24).map(|i| f64::from(i) * 15.0) {
                let p = off(*c, Interval::point(radius * part), degrees);
                let inside = p.distance(*c).hi <= m.cutter.radius.lo;
                let touches = part > 1.0;
                let free = |h: &f64| scene.is_metal(p, *h) && clearance(before, p, *h, Counts::All) > 0.0;
                if !(inside || touches) {
                    continue;
                }
                if heights.iter().any(free) {
                    return Some(Hit { p, straight: *straight, rubs: touches || along });
                }
            }
        }
    }
    None
}

/// Heights at which the cutter may meet metal: above its end, below a top face; and whether it only runs along
/// that face.
fn heights(scene: &Scene, z: Interval) -> Option<(Vec<f64>, bool)> {
    let top = scene.top();
    if top > z.hi {
        return Some(([0.001, 0.25, 0.75].map(|part| z.hi + (top - z.hi) * part).to_vec(), false));
    }
    // Along the top face: what is just below it.
    (top >= z.lo).then(|| (vec![top - 1e-9], true))
}

/// Places of the box between two places, with whether they lie on the straight way.
fn within_box(a: Point, b: Point) -> Vec<(Point, bool)> {
    let part = |from: Interval, to: Interval, p: f64| from + (to - from) * Interval::point(p);
    let steps = [0.0, 0.25, 0.5, 0.75, 1.0];
    let mut places: Vec<(Point, bool)> = steps.map(|p| (Course::Line(a, b).at(p), true)).to_vec();
    for p in steps {
        for q in steps.iter().filter(|q| **q != p) {
            places.push((Point::new(part(a.x, b.x, p), part(a.y, b.y, *q)), false));
        }
    }
    places
}
