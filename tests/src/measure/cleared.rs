//! `cleared`: no point of the feature outside its pilot is left.

use std::f64::consts::TAU;

use super::{Contract, Faults, Feature, Promise, Rule, Stock, Tolerance};

/// Looks at points of the feature, most of them near its boundaries, at some heights.
pub(super) fn measure(
    contract: &Contract,
    feature: &Feature,
    stock: &Stock<'_>,
    tolerance: Tolerance,
    faults: &mut Faults,
) {
    if !feature.promises(Promise::Cleared) {
        return;
    }
    for h in heights(feature, stock, tolerance) {
        let cutting = stock.cutting(h);
        for r in radii(feature, stock, tolerance) {
            for q in points(feature.centre, r, tolerance) {
                let given = contract.given.iter().any(|a| a.holds(q, h));
                if !given && !cutting.iter().any(|c| c.cuts(q, tolerance)) {
                    faults.add(Rule::Cleared, None, r);
                    return;
                }
            }
        }
    }
}

/// The floor, just above it, just below the top face, and just below and above some of the levels between.
fn heights(feature: &Feature, stock: &Stock<'_>, tolerance: Tolerance) -> Vec<f64> {
    let small = 4.0 * tolerance.length;
    let mut levels: Vec<f64> =
        stock.levels().into_iter().filter(|z| feature.floor < *z && *z < feature.top).collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup_by(|a, b| (*a - *b).abs() < small);
    let mut heights = vec![feature.floor, feature.floor + small, feature.top - small];
    let every = levels.len().div_ceil(3).max(1);
    heights.extend(levels.iter().step_by(every).flat_map(|z| [z - small, z + small]));
    heights.retain(|h| feature.floor <= *h && *h < feature.top);
    heights
}

/// Radii to look at: even ones, and both sides of where the sweep of a turn about the centre ends.
fn radii(feature: &Feature, stock: &Stock<'_>, tolerance: Tolerance) -> Vec<f64> {
    let (inner, outer) = feature.band();
    let small = 4.0 * tolerance.length;
    let mut radii = vec![inner + small, outer - small];
    #[allow(clippy::cast_precision_loss, reason = "a small number")]
    let step = |k: usize| inner + (outer - inner) * (k as f64 + 0.5) / tolerance.grid as f64;
    radii.extend((0..tolerance.grid).map(step));
    radii.extend(stock.edges(feature.centre).into_iter().flat_map(|e| [e - small, e + small]));
    radii.retain(|r| inner <= *r && *r <= outer);
    if inner == 0.0 {
        radii.push(0.0);
    }
    radii.sort_by(f64::total_cmp);
    radii.dedup_by(|a, b| (*a - *b).abs() < small / 4.0);
    radii
}

fn points(centre: [f64; 2], r: f64, tolerance: Tolerance) -> impl Iterator<Item = [f64; 2]> {
    let count = if r == 0.0 { 1 } else { 2 * tolerance.grid + 1 };
    (0..count).map(move |k| {
        #[allow(clippy::cast_precision_loss, reason = "a small number")]
        let angle = TAU * (k as f64 + 0.29) / count as f64;
        [centre[0] + r * angle.cos(), centre[1] + r * angle.sin()]
    })
}
