//! Chamfers: at every height between foot and top face, how far the cone of the cutter reaches, against the cone that
//! is to be left.

use std::f64::consts::TAU;

use super::{Cutter, Faults, Feature, Promise, Rule, Shape, Step, Tolerance, distance, flat};

/// Places along a move, and heights, that are looked at.
const PLACES: u32 = 48;
const HEIGHTS: u32 = 12;

/// Looks at the cone along every move.
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

/// The steps with cutters that are as wide as their cones are at the top face.
pub(super) fn as_wide_as_at_the_top(feature: &Feature, steps: &[Step]) -> Vec<Step> {
    let wide = |step: &Step| {
        let Some([slope, tip]) = step.cutter.cone else { return *step };
        let low = step.from[2].min(step.to[2]);
        let diameter =
            if low.is_finite() { 2.0 * (tip + (feature.top - low) * slope) } else { step.cutter.diameter };
        Step { cutter: Cutter { diameter: diameter.max(0.0), ..step.cutter }, ..*step }
    };
    steps.iter().map(wide).collect()
}

/// Radius of the cutter so far above its end.
fn radius(cutter: &Cutter, above: f64) -> f64 {
    cutter.cone.map_or(cutter.radius(), |[slope, tip]| (tip + above * slope).min(cutter.radius()))
}

/// Radius of what is left at a height.
fn left(feature: &Feature, z: f64) -> Option<f64> {
    let Shape::Chamfer { inside, diameter, width, slope } = feature.shape else { return None };
    let cone = width + (z - feature.top) * slope;
    Some(if inside { diameter / 2.0 + cone.max(0.0) } else { diameter / 2.0 - cone.max(0.0) })
}

fn heights(low: f64, high: f64) -> impl Iterator<Item = f64> {
    (0..=HEIGHTS).map(move |k| low + (high - low) * f64::from(k) / f64::from(HEIGHTS))
}

fn passed(feature: &Feature, i: usize, step: &Step, tolerance: Tolerance, faults: &mut Faults) {
    let Shape::Chamfer { inside, .. } = feature.shape else { return };
    let Some(track) = step.track().filter(|t| t.from.iter().chain(&t.to).all(|c| c.is_finite())) else {
        return;
    };
    for k in 0..=PLACES {
        let p = track.at(f64::from(k) / f64::from(PLACES));
        if p[2] >= feature.top {
            continue;
        }
        if feature.floor - p[2] > tolerance.length {
            faults.add(Rule::Floor, Some(i), feature.floor - p[2]);
        }
        let far = distance(flat(p), feature.centre);
        for z in heights(p[2], feature.top) {
            let (reach, Some(left)) = (radius(&step.cutter, z - p[2]), left(feature, z)) else { return };
            let by = if inside { far + reach - left } else { left - (far - reach) };
            if by > tolerance.length {
                faults.add(Rule::Wall, Some(i), by);
            }
        }
    }
}

/// At this angle, at each height between foot and top face, the cone of some cut touches what is left.
fn touched(feature: &Feature, angle: f64, steps: &[Step], tolerance: Tolerance, faults: &mut Faults) {
    let Shape::Chamfer { inside, width, slope, .. } = feature.shape else { return };
    let slack = 2.0 * tolerance.length;
    for z in heights(feature.top - width / slope + slack, feature.top - slack) {
        let Some(left) = left(feature, z) else { return };
        let touches = |step: &Step| {
            let Some(track) = step.track() else { return false };
            let Some(round) = track.round else { return false };
            if distance(round.centre, feature.centre) > slack {
                return false;
            }
            let turned = if round.sweep > 0.0 { angle - round.start } else { round.start - angle };
            let t = turned.rem_euclid(TAU) / round.sweep.abs();
            let above = z - track.at(t)[2];
            let reach = radius(&step.cutter, above);
            let edge = if inside { round.radius + reach } else { round.radius - reach };
            t <= 1.0 && above >= -slack && (edge - left).abs() <= 2.0 * slack
        };
        if !steps.iter().any(touches) {
            faults.add(Rule::Sized, None, 0.0);
            return;
        }
    }
}
