//! `smooth`: wherever the edge meets the wall, one tangent and one direction, and nothing stops.

use super::{
    Act, Faults, Feature, Meant, Place, Promise, Rule, Step, Tolerance, Track, Wall, distance, flat,
};

/// Looks at every place between two moves, and at moves in Z alone.
pub(super) fn measure(
    feature: &Feature,
    steps: &[Step],
    meant: Meant<'_>,
    tolerance: Tolerance,
    faults: &mut Faults,
) {
    if !feature.promises(Promise::Smooth) {
        return;
    }
    let mut before: Option<Track> = None;
    for (i, step) in steps.iter().enumerate() {
        let touches = |p: Place| {
            let below = p[2] < feature.top - tolerance.length;
            let touched = |w: &Wall| {
                on(feature, w, step, p, tolerance) && !meant.is_off(feature, *w, (p, None), tolerance)
            };
            below && feature.walls().iter().any(touched)
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
    let by_size = 4.0 * tolerance.length / size(before).min(size(after));
    let arcs = before.round.is_some() && after.round.is_some();
    let told = tolerance.joint.filter(|_| arcs).map_or(f64::INFINITY, f64::to_radians);
    if angle > by_size.min(told) + 1e-6 {
        faults.add(Rule::Smooth, Some(step), angle.to_degrees());
    }
}
