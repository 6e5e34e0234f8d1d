//! `sized`: the edge touches the wall all round at the floor, and no band of the wall is left untouched up to
//! the top face.

use std::f64::consts::TAU;

use super::{Faults, Feature, Promise, Rule, Step, Tolerance, Track, Wall, distance};

/// Degrees between the directions that are looked at; they are not round, so that starts at round angles are
/// met from both sides.
const DIRECTIONS: usize = 181;

/// Looks at each wall in many directions.
pub(super) fn measure(feature: &Feature, steps: &[Step], tolerance: Tolerance, faults: &mut Faults) {
    if !feature.promises(Promise::Sized) {
        return;
    }
    for wall in feature.walls() {
        let contacts = contacts(feature, wall, steps, tolerance);
        for k in 0..DIRECTIONS {
            #[allow(clippy::cast_precision_loss, reason = "a small number")]
            let angle = TAU * (k as f64 + 0.37) / DIRECTIONS as f64;
            direction(feature, &contacts, angle, tolerance, faults);
        }
    }
}

/// Moves that run on the wall, with the length of the flutes.
fn contacts(feature: &Feature, wall: Wall, steps: &[Step], tolerance: Tolerance) -> Vec<(Track, f64)> {
    let on_wall = |step: &Step| {
        let track = step.track()?;
        let round = track.round?;
        let path = wall.path(&step.cutter);
        let about = distance(round.centre, feature.centre) <= tolerance.length;
        let there = (round.radius - path).abs() <= tolerance.length;
        (about && there).then_some((track, step.cutter.flutes))
    };
    steps.iter().filter_map(on_wall).collect()
}

/// The heights at which the wall is touched in one direction.
fn direction(
    feature: &Feature,
    contacts: &[(Track, f64)],
    angle: f64,
    tolerance: Tolerance,
    faults: &mut Faults,
) {
    let touch = |(track, flutes): &(Track, f64)| {
        let round = track.round?;
        let slack = 2.0 * tolerance.length / round.radius.max(tolerance.length);
        let t = round.passes(angle, (0.0, 1.0), slack)?;
        Some((track.at(t)[2], *flutes))
    };
    let mut heights: Vec<(f64, f64)> = contacts.iter().filter_map(touch).collect();
    heights.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some((lowest, _)) = heights.first() else {
        faults.add(Rule::Sized, None, f64::INFINITY);
        return;
    };
    if lowest - feature.floor > tolerance.length {
        faults.add(Rule::Sized, None, lowest - feature.floor);
    }
    let mut touched = feature.floor;
    for (z, flutes) in heights {
        // Both heights may be off.
        if z - touched > 2.0 * tolerance.length {
            faults.add(Rule::Meeting, None, z - touched);
        }
        touched = touched.max(z + flutes);
    }
    if feature.top - touched > tolerance.length {
        faults.add(Rule::Meeting, None, feature.top - touched);
    }
}
