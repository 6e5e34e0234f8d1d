//! Grooves in the wall of a bore: at every place along every move, where the disc and the neck above it are, against
//! the wall that stands at that height.

use std::f64::consts::TAU;

use super::{Faults, Feature, Promise, Rule, Shape, Step, Tolerance, Track, distance, flat};

/// Places along a move, and heights, that are looked at.
const PLACES: u32 = 96;
const HEIGHTS: u32 = 12;

/// Looks at disc and neck along every move, rapid ones too.
pub(super) fn measure(feature: &Feature, steps: &[Step], tolerance: Tolerance, faults: &mut Faults) {
    if feature.promises(Promise::Within) {
        steps.iter().enumerate().for_each(|(i, step)| passed(feature, i, step, tolerance, faults));
    }
    if feature.promises(Promise::Sized) || feature.promises(Promise::Cleared) {
        for k in 0..11 {
            touched(feature, TAU * (f64::from(k) + 0.003) / 11.0, steps, tolerance, faults);
        }
    }
}

/// The least radius of the work between two heights, with some slack at both.
fn room(feature: &Feature, from: f64, to: f64, slack: f64) -> f64 {
    let Shape::Undercut { diameter, bore, low, roof } = feature.shape else { return f64::INFINITY };
    let meets = |a: f64, b: f64| from < b - slack && to > a + slack;
    if meets(feature.floor, low) || meets(roof, feature.top) {
        bore / 2.0
    } else if meets(low, roof) {
        diameter / 2.0
    } else {
        f64::INFINITY
    }
}

fn passed(feature: &Feature, i: usize, step: &Step, tolerance: Tolerance, faults: &mut Faults) {
    let slack = tolerance.length;
    let mut to = step.to;
    // On the way home all of the bore above counts.
    to[2] = if to[2].is_infinite() { feature.top } else { to[2] };
    let track = step.track().unwrap_or_else(|| Track::line(step.from, to));
    if !track.from.iter().chain(&track.to).all(|c| c.is_finite()) {
        return;
    }
    for k in 0..=PLACES {
        let p = track.at(f64::from(k) / f64::from(PLACES));
        let (far, edge) = (distance(flat(p), feature.centre), p[2] + step.cutter.flutes);
        let disc = far + step.cutter.radius() - room(feature, p[2], edge, slack);
        let neck = step.cutter.neck.unwrap_or(step.cutter.radius());
        let above = far + neck - room(feature, edge, feature.top, slack);
        let by = disc.max(above);
        if by > slack {
            faults.add(Rule::Wall, Some(i), by);
        }
        if p[2] < feature.floor - slack {
            faults.add(Rule::Floor, Some(i), feature.floor - p[2]);
        }
    }
}

/// At this angle, at each height of the groove, the disc of some cut touches its wall.
fn touched(feature: &Feature, angle: f64, steps: &[Step], tolerance: Tolerance, faults: &mut Faults) {
    let Shape::Undercut { diameter, low, roof, .. } = feature.shape else { return };
    let slack = 2.0 * tolerance.length;
    for k in 0..=HEIGHTS {
        let z = low + slack + (roof - low - 2.0 * slack) * f64::from(k) / f64::from(HEIGHTS);
        let touches = |step: &Step| {
            let Some(round) = step.track().and_then(|t| t.round) else { return false };
            let Some(track) = step.track() else { return false };
            if distance(round.centre, feature.centre) > slack {
                return false;
            }
            let turned = if round.sweep > 0.0 { angle - round.start } else { round.start - angle };
            let t = turned.rem_euclid(TAU) / round.sweep.abs();
            let above = z - track.at(t)[2];
            let edge = round.radius + step.cutter.radius();
            t <= 1.0
                && (-slack..=step.cutter.flutes + slack).contains(&above)
                && (edge - diameter / 2.0).abs() <= slack
        };
        if !steps.iter().any(touches) {
            faults.add(Rule::Sized, None, 0.0);
            return;
        }
    }
}
