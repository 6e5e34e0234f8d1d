//! Threads: a tooth that bites beside the groove, and a turn of the groove that is never cut whole.

use borewright_number::Interval;

use super::look::{Finding, Look};
use super::measure::{Course, middle};
use super::scene::{Body, Motile};

/// Places along a move that are looked at.
const PARTS: i32 = 64;

/// A tooth so far beside the groove, mm, surely spoils a flank; less may be rounding.
const BESIDE: f64 = 1e-6;

fn wrapped(value: f64, pitch: f64) -> f64 {
    value - (value / pitch).round() * pitch
}

/// Degrees from X, -180 to 180.
fn angle((x, y): (f64, f64)) -> f64 {
    let atan = |v: f64| middle(Interval::point(v).atan_degrees());
    if x.abs() >= y.abs() {
        let base = atan(y / x);
        if x > 0.0 { base } else { base + if y < 0.0 { -180.0 } else { 180.0 } }
    } else {
        let base = 90.0 - atan(x / y);
        if y > 0.0 { base } else { base - 180.0 }
    }
}

/// A place of the path where the teeth bite.
struct Bite {
    deep: f64,
    /// Height of the groove there, brought round to angle 0; modulo the pitch.
    phase: f64,
}

fn bites(m: &Motile, body: &Body, lead: f64) -> Vec<Bite> {
    let one = |i: i32| {
        let part = f64::from(i) / f64::from(PARTS);
        // Up to the machine's home it goes through all of the thread above.
        let home = || m.from.map(|z| z + (body.top - z) * Interval::point(part));
        let z = middle(m.height(part).or_else(home)?);
        let arm = m.course.at(part).minus(body.centre).middle();
        let far = (arm.0 * arm.0 + arm.1 * arm.1).sqrt();
        let radius = middle(m.cutter.radius);
        let deep =
            if body.boss { middle(body.outer) - (far - radius) } else { far + radius - middle(body.inner) };
        let bites = deep > BESIDE && z < middle(body.top) - BESIDE && far > BESIDE;
        bites.then(|| Bite { deep, phase: z - lead * angle(arm) / 360.0 })
    };
    (0..=PARTS).filter_map(one).collect()
}

/// How far from the axis the cutter's centre is when its teeth are at the full depth of the thread and its end is at
/// that height: what holds of the highest tooth, the widest, holds of all.
fn path(m: &Motile, body: &Body, pitch: f64, z: f64) -> Option<f64> {
    let wall = body.walls.first()?;
    let (deep, radius) = (middle(wall.radius), middle(m.cutter.radius));
    let above = z + m.cutter.nose + (m.cutter.rows - 1.0) * pitch - middle(body.top);
    let grown = middle(body.taper) * above;
    Some(if wall.inside { deep - radius + grown } else { deep + radius - grown })
}

/// By how much teeth that bite go past the cone of a tapered thread.
fn past(m: &Motile, body: &Body, lead: f64) -> f64 {
    let one = |i: i32| {
        let part = f64::from(i) / f64::from(PARTS);
        let z = m.height(part).map(middle)?;
        let far = middle(m.course.at(part).distance(body.centre));
        let by = far - path(m, body, lead.abs(), z)?;
        let bites = z < middle(body.top) - BESIDE && far + middle(m.cutter.radius) > middle(body.inner);
        let tapered = middle(body.taper) != 0.0 && bites;
        tapered.then_some(if body.boss { -by } else { by })
    };
    (0..=PARTS).filter_map(one).fold(0.0, f64::max) - middle(body.error)
}

/// Looks for a tooth beside the groove.
pub(super) fn off(look: &Look<'_>) -> Finding {
    let Some(scene) = look.scene else { return Finding::Unclear };
    for body in look.bodies() {
        let Some(lead) = body.lead.map(middle) else { continue };
        let all = scene.moves.iter().flat_map(|m| bites(m, body, lead));
        let deepest = all.fold(None::<Bite>, |best, b| match best {
            Some(best) if best.deep >= b.deep - 1e-9 => Some(best),
            Some(_) | None => Some(b),
        });
        let Some(groove) = deepest else { continue };
        let here = look.moves().into_iter().flat_map(|(_, m)| bites(m, body, lead));
        // A tooth that is less deep has room beside it.
        let room = |b: &Bite| middle(body.lean) * (groove.deep - b.deep);
        let off = |b: Bite| wrapped(b.phase - groove.phase, lead.abs()).abs() - room(&b);
        let most = here.map(off).fold(0.0, f64::max);
        // The groove that is looked at may itself be that far off.
        let most = most - 2.0 * middle(body.error);
        let deep = look.moves().into_iter().map(|(_, m)| past(m, body, lead)).fold(0.0, f64::max);
        if deep > BESIDE {
            return look.fault(format!("a tooth goes {} past the cone of the thread", look.length(deep)));
        }
        if most > BESIDE {
            return look
                .fault(format!("a tooth bites {} beside the groove of the thread", look.length(most)));
        }
    }
    Finding::Fine
}

/// Looks for a turn of the groove that is not cut to its full depth.
pub(super) fn short(look: &Look<'_>) -> Finding {
    let Some(scene) = look.scene else { return Finding::Unclear };
    for body in look.bodies() {
        let (Some(lead), Some(wall)) = (body.lead.map(middle), body.walls.first()) else { continue };
        let pitch = lead.abs();
        let tapered = middle(body.taper) != 0.0;
        let on = |m: &&Motile| {
            if tapered {
                return on_cone(m, body, pitch);
            }
            let radius =
                if wall.inside { wall.radius - m.cutter.radius } else { wall.radius + m.cutter.radius };
            let far = m.course.at(0.0).distance(body.centre);
            far.lo >= radius.lo - BESIDE && far.hi <= radius.hi + BESIDE
        };
        // Just before and after where turns begin, what they lack shows most.
        let begins = |m: &Motile| angle(m.course.at(0.0).minus(body.centre).middle());
        let mut starts: Vec<f64> = scene.moves.iter().filter(on).map(begins).collect();
        starts.dedup();
        starts.truncate(4);
        starts.push(0.0);
        for degrees in starts.iter().flat_map(|s| [s + 0.01, s - 0.01]) {
            let mut heights: Vec<f64> =
                scene.moves.iter().filter(on).flat_map(|m| crossings(m, body, degrees, pitch)).collect();
            heights.sort_by(f64::total_cmp);
            if let Some(text) = gap(look, body, pitch, &heights) {
                return look.fault(text);
            }
        }
    }
    Finding::Fine
}

/// Whether it goes round the axis, on the groove of a tapered thread where it begins and where it ends.
fn on_cone(m: &Motile, body: &Body, pitch: f64) -> bool {
    let Course::Arc { centre, from, .. } = m.course else { return false };
    let off = middle(centre.distance(body.centre));
    let round = off <= middle(centre.distance(from)) / 16.0;
    let on = |part: f64| {
        let far = middle(m.course.at(part).distance(body.centre));
        let path = m.height(part).and_then(|z| path(m, body, pitch, middle(z)));
        path.is_some_and(|path| (far - path).abs() <= BESIDE)
    };
    round && on(0.0) && on(1.0)
}

/// Heights of the teeth where a full turn about the axis comes by that angle, or a half circle nearly about it.
fn crossings(m: &Motile, body: &Body, degrees: f64, pitch: f64) -> Vec<f64> {
    let Course::Arc { centre, from, way, sweep, .. } = m.course else { return Vec::new() };
    let tapered = middle(body.taper) != 0.0;
    let full = sweep.lo >= 360.0 && middle(centre.distance(body.centre)) < BESIDE;
    let all = if tapered { middle(sweep) } else { 360.0 };
    let start = angle(from.minus(body.centre).middle());
    let turned = if way == borewright_motion::Way::Ccw { degrees - start } else { start - degrees };
    let part = turned.rem_euclid(360.0) / all;
    match m.height(part).map(middle).filter(|_| (full || tapered) && part <= 1.0) {
        Some(z) => {
            let mut heights = Vec::new();
            let mut row = 0.0;
            while row < m.cutter.rows && row < 200.0 {
                heights.push(z + m.cutter.nose + row * pitch);
                row += 1.0;
            }
            heights
        }
        None => Vec::new(),
    }
}

/// The turns of the groove at one angle follow each other by the pitch, from the floor to the top face.
fn gap(look: &Look<'_>, body: &Body, pitch: f64, heights: &[f64]) -> Option<String> {
    let (floor, top) = (middle(body.floor), middle(body.top));
    let slack = BESIDE + 2.0 * middle(body.error);
    let (Some(low), Some(high)) = (heights.first(), heights.last()) else {
        return Some("no full turn cuts the thread to its full depth".to_owned());
    };
    if low - pitch > floor + slack {
        return Some(format!(
            "the lowest full turn stays {} above the floor",
            look.length(low - pitch - floor)
        ));
    }
    if *high < top - pitch / 2.0 - slack {
        let missing = top - pitch / 2.0 - high;
        return Some(format!("the highest full turn ends {} too low", look.length(missing)));
    }
    let pairs = heights.iter().zip(heights.iter().skip(1));
    pairs
        .map(|(a, b)| b - a)
        .find(|step| *step > pitch + slack)
        .map(|step| format!("two turns of the groove are {} apart", look.length(step)))
}
