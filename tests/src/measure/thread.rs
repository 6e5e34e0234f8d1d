//! Threads: wherever a tooth is in the metal, its middle is on one helix about the axis; and that helix is cut
//! to its full depth from the floor to the top face.

use std::f64::consts::TAU;

use super::{Faults, Feature, Promise, Rule, Shape, Step, Tolerance, Track, distance, flat};

/// Places along a move that are looked at.
const PLACES: u32 = 97;

/// Looks at every tooth along every move.
pub(super) fn measure(feature: &Feature, steps: &[Step], tolerance: Tolerance, faults: &mut Faults) {
    let Shape::Thread { lead, whole, .. } = feature.shape else { return };
    if feature.promises(Promise::Within) {
        beside(feature, lead, steps, tolerance, faults);
        past_the_cone(feature, steps, tolerance, faults);
    }
    if feature.promises(Promise::Sized) || feature.promises(Promise::Cleared) {
        for k in 0..11 {
            turns(feature, lead, whole, TAU * (f64::from(k) + 0.003) / 11.0, steps, tolerance, faults);
        }
    }
    for (i, step) in steps.iter().enumerate() {
        let Some(round) = step.track().and_then(|t| t.round) else { continue };
        let bites = step.track().is_some_and(|t| {
            (0..=8).any(|p| bite(feature, step, &t, f64::from(p) / 8.0, tolerance).is_some())
        });
        let inside = matches!(feature.shape, Shape::Thread { inside: true, .. });
        let climbs = (round.sweep > 0.0) == inside;
        let wrong = |p: Promise, climb: bool| feature.promises(p) && climbs != climb;
        if bites && (wrong(Promise::Climb, true) || wrong(Promise::Conventional, false)) {
            faults.add(Rule::Side, Some(i), 0.0);
        }
    }
}

/// Depth of the tooth in the metal and the height of its groove at angle 0, where it is in the metal.
fn bite(feature: &Feature, step: &Step, track: &Track, t: f64, tolerance: Tolerance) -> Option<(f64, f64)> {
    let Shape::Thread { inside, major, minor, lead, .. } = feature.shape else { return None };
    let p = track.at(t);
    let far = distance(flat(p), feature.centre);
    let deep = if inside {
        far + step.cutter.radius() - minor / 2.0
    } else {
        major / 2.0 - (far - step.cutter.radius())
    };
    if deep <= tolerance.length || far <= tolerance.length || p[2] >= feature.top - tolerance.length {
        return None;
    }
    let angle = (p[1] - feature.centre[1]).atan2(p[0] - feature.centre[0]);
    Some((deep, p[2] - lead * angle / TAU))
}

/// How far from the axis the cutter's centre is when its teeth are at the full depth and its end is at that height. The
/// cutter grows as the thread does, so what is true of its highest tooth, the widest, is true of all.
fn full_depth(feature: &Feature, step: &Step, z: f64) -> Option<f64> {
    let Shape::Thread { inside, major, minor, grows, .. } = feature.shape else { return None };
    let [nose, rows, pitch] = step.cutter.teeth?;
    let grown = grows * (z + nose + (rows - 1.0) * pitch - feature.top);
    let radius = step.cutter.radius();
    Some(if inside { major / 2.0 + grown - radius } else { minor / 2.0 - grown + radius })
}

/// By how much teeth that bite go past the cone of a tapered thread.
fn past_the_cone(feature: &Feature, steps: &[Step], tolerance: Tolerance, faults: &mut Faults) {
    let Shape::Thread { inside, grows, error, .. } = feature.shape else { return };
    for (i, step) in steps.iter().enumerate().filter(|_| grows != 0.0) {
        let Some(track) = step.track() else { continue };
        for t in (0..=PLACES).map(|k| f64::from(k) / f64::from(PLACES)) {
            let p = track.at(t);
            let far = distance(flat(p), feature.centre);
            let bites = bite(feature, step, &track, t, tolerance).is_some();
            let Some(path) = full_depth(feature, step, p[2]).filter(|_| bites) else { continue };
            let by = if inside { far - path } else { path - far };
            if by > error + 2.0 * tolerance.length {
                faults.add(Rule::Wall, Some(i), by);
            }
        }
    }
}

/// By how much teeth are beside the groove that the deepest of them cuts.
fn beside(feature: &Feature, lead: f64, steps: &[Step], tolerance: Tolerance, faults: &mut Faults) {
    let mut all: Vec<(usize, f64, f64)> = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        // Rapid moves count: a tooth must not be drawn out through the thread.
        let mut to = step.to;
        // On the way home all of the thread above counts.
        to[2] = if to[2].is_infinite() { feature.top } else { to[2] };
        let track = step.track().unwrap_or_else(|| Track::line(step.from, to));
        if !track.from.iter().chain(&track.to).all(|c| c.is_finite()) {
            continue;
        }
        let places = (0..=PLACES).map(|k| f64::from(k) / f64::from(PLACES));
        all.extend(places.filter_map(|t| bite(feature, step, &track, t, tolerance)).map(|(d, z)| (i, d, z)));
    }
    let Some(deepest) = all.iter().max_by(|a, b| a.1.total_cmp(&b.1)).copied() else { return };
    for (i, deep, z) in all {
        let off = z - deepest.2;
        let off = (off - (off / lead).round() * lead).abs();
        // Where a rounded path is near the axis its angle is worth little.
        let Shape::Thread { minor, error, lean, .. } = feature.shape else { return };
        let Some(step) = steps.get(i) else { continue };
        // The groove that is looked at may itself be off by what is allowed; a tooth that is less deep has room.
        let slack = 2.0 * error
            + lean * (deepest.1 - deep)
            + tolerance.length * (4.0 + lead.abs() / (minor - step.cutter.diameter).abs().max(0.01));
        if off > slack {
            faults.add(Rule::Lead, Some(i), off.max(deep.min(off)));
        }
    }
}

/// The arc goes round the axis at the full depth: of a straight thread about the axis itself, of a tapered one nearly.
fn cuts_whole(feature: &Feature, step: &Step, track: &Track, tolerance: Tolerance) -> bool {
    let Shape::Thread { grows, error, .. } = feature.shape else { return false };
    let Some(round) = track.round else { return false };
    let off = distance(round.centre, feature.centre);
    let near = if grows == 0.0 { off <= tolerance.length } else { off <= round.radius / 16.0 };
    let whole = |t: f64| {
        let p = track.at(t);
        let far = distance(flat(p), feature.centre);
        full_depth(feature, step, p[2])
            .is_some_and(|path| (far - path).abs() <= error + 2.0 * tolerance.length)
    };
    near && [0.0, 0.25, 0.5, 0.75, 1.0].into_iter().all(whole)
}

/// At this angle the groove is cut to its full depth at every pitch from the floor to the top face.
fn turns(
    feature: &Feature,
    lead: f64,
    whole: f64,
    angle: f64,
    steps: &[Step],
    tolerance: Tolerance,
    faults: &mut Faults,
) {
    let pitch = lead.abs();
    let mut heights: Vec<f64> = Vec::new();
    for step in steps {
        let (Some(track), Some([nose, rows, apart])) = (step.track(), step.cutter.teeth) else { continue };
        let Some(round) = track.round.filter(|_| cuts_whole(feature, step, &track, tolerance)) else {
            continue;
        };
        let begins = (track.from[1] - feature.centre[1]).atan2(track.from[0] - feature.centre[0]);
        let turned = if round.sweep > 0.0 { angle - begins } else { begins - angle };
        let t = turned.rem_euclid(TAU) / round.sweep.abs();
        if t > 1.0 {
            continue;
        }
        let mut row = 0.0;
        while row < rows {
            heights.push(track.at(t)[2] + nose + row * apart);
            row += 1.0;
        }
    }
    heights.sort_by(f64::total_cmp);
    let Shape::Thread { error, .. } = feature.shape else { return };
    let slack = 2.0 * (tolerance.length + error);
    let low = heights.first().map_or(f64::INFINITY, |z| z - pitch - whole);
    let high = heights.last().map_or(f64::INFINITY, |z| feature.top - pitch / 2.0 - z);
    let gap =
        heights.iter().zip(heights.iter().skip(1)).map(|(low, high)| high - low - pitch).fold(0.0, f64::max);
    let most = low.max(high).max(gap);
    if most > slack {
        faults.add(Rule::Thread, None, most);
    }
}
