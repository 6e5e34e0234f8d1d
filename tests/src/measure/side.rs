//! `climb` and `conventional`: the side the chip forms on, from the way round the wall and the hand of the
//! cutter.

use super::{Faults, Feature, Meant, Promise, Rule, Spindle, Step, Tolerance, distance, flat};

/// Looks at every point where a cutting move touches a wall.
pub(super) fn measure(
    feature: &Feature,
    steps: &[Step],
    meant: Meant<'_>,
    tolerance: Tolerance,
    faults: &mut Faults,
) {
    let one = |i: usize, climb: bool, step: &Step, faults: &mut Faults| {
        one(feature, climb, (i, step), meant, tolerance, faults);
    };
    let climb = feature.promises(Promise::Climb);
    if climb || feature.promises(Promise::Conventional) {
        steps.iter().enumerate().for_each(|(i, step)| one(i, climb, step, faults));
    }
    if climb && feature.promises(Promise::Conventional) {
        steps.iter().enumerate().for_each(|(i, step)| one(i, false, step, faults));
    }
}

fn one(
    feature: &Feature,
    climb: bool,
    (i, step): (usize, &Step),
    meant: Meant<'_>,
    tolerance: Tolerance,
    faults: &mut Faults,
) {
    let Some(track) = step.track().filter(|t| t.length() > tolerance.length) else { return };
    let Some(part) = track.between(f64::NEG_INFINITY, feature.top - tolerance.length) else { return };
    let clockwise = match step.spindle {
        Spindle::Clockwise => true,
        Spindle::Counterclockwise => false,
        Spindle::Stopped => !step.cutter.left_hand,
    };
    for wall in feature.walls() {
        let path = wall.path(&step.cutter);
        // A clockwise cutter climbs with the metal on its right: counterclockwise inside, clockwise outside.
        let ccw = (wall.inside == climb) == clockwise;
        let places = [part.0, part.1].into_iter().chain(track.extremes(feature.centre, part));
        for t in places {
            let p = track.at(t);
            let out = distance(flat(p), feature.centre);
            if (out - path).abs() > tolerance.length || out <= tolerance.length {
                continue;
            }
            let way = track.tangent(t);
            if meant.is_off(feature, wall, (p, Some(way)), tolerance) {
                continue;
            }
            let [u, v, _] = way;
            let round = ((p[0] - feature.centre[0]) * v - (p[1] - feature.centre[1]) * u) / out;
            let wrong = if ccw { -round } else { round };
            let size = track.round.map_or(track.length(), |r| r.radius);
            // Ends that are off turn the way; a place that is off turns the radius to it.
            if wrong > 4.0 * tolerance.length / size + 2.0 * tolerance.length / out + 1e-6 {
                faults.add(Rule::Side, Some(i), wrong);
            }
        }
    }
}
