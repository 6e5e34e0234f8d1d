//! `smooth`: wherever the edge meets the wall, one tangent and one direction, and nothing stops.

use super::{Act, Faults, Feature, Place, Promise, Rule, Step, Tolerance, Track, Wall, distance, flat};

/// Looks at every place between two moves, and at moves in Z alone.
pub(super) fn measure(feature: &Feature, steps: &[Step], tolerance: Tolerance, faults: &mut Faults) {
    if !feature.promises(Promise::Smooth) {
        return;
    }
    let mut before: Option<Track> = None;
    for (i, step) in steps.iter().enumerate() {
        let touches = |p: Place| {
            let below = p[2] < feature.top - tolerance.length;
            below && feature.walls().iter().any(|w| on(feature, w, step, p, tolerance))
        };
        let track = step.track().filter(|t| t.length() > tolerance.length);
        let still = track.is_none() && matches!(step.act, Act::Line { .. } | Act::Arc { .. });
        if still {
            continue; // a move of no length has no direction
        }
        if let Some(track) = track {
            let upright = track.is_vertical(tolerance.length);
            if touches(track.from) {
                match &before {
                    Some(before) if !upright => corner(before, &track, i, tolerance, faults),
                    Some(_) | None => faults.add(Rule::Smooth, Some(i), 180.0),
                }
            }
            if upright && touches(track.to) {
                faults.add(Rule::Smooth, Some(i), 180.0);
            }
        } else if touches(step.from) {
            faults.add(Rule::Smooth, Some(i), 180.0);
        }
        before = track;
    }
}

/// The edge is on the wall. (Past it is a fault of another kind.)
fn on(feature: &Feature, wall: &Wall, step: &Step, p: Place, tolerance: Tolerance) -> bool {
    (distance(flat(p), feature.centre) - wall.path(&step.cutter)).abs() <= tolerance.length
}

fn corner(before: &Track, after: &Track, step: usize, tolerance: Tolerance, faults: &mut Faults) {
    let (u, v) = (before.tangent(1.0), after.tangent(0.0));
    let dot: f64 = u.iter().zip(&v).map(|(a, b)| a * b).sum();
    let cross = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    let angle = cross.iter().map(|c| c * c).sum::<f64>().sqrt().atan2(dot);
    let size = |t: &Track| t.round.map_or(t.length(), |r| r.radius.min(t.length()));
    let allowed = 4.0 * tolerance.length / size(before).min(size(after)) + 1e-6;
    if angle > allowed {
        faults.add(Rule::Smooth, Some(step), angle.to_degrees());
    }
}
