//! `within`: below the top face the cutter keeps to the feature's side of every wall and above its floor.
//! `apart`: two features keep a wall between them.

use super::{
    Contract, Cutter, Fault, Faults, Feature, Promise, Rule, Step, Tolerance, Track, distance, flat,
};

/// Looks at every cutting move: it must be allowed by at least one feature.
pub(super) fn measure(contract: &Contract, steps: &[Step], tolerance: Tolerance, faults: &mut Faults) {
    let promised: Vec<&Feature> = contract.features.iter().filter(|f| f.promises(Promise::Within)).collect();
    if promised.is_empty() {
        return;
    }
    for (i, step) in steps.iter().enumerate() {
        let Some(track) = step.track() else { continue };
        let near = |f: &&Feature| distance(flat(track.to), f.centre);
        let mut features: Vec<&Feature> = contract.features.iter().collect();
        features.sort_by(|a, b| near(a).total_cmp(&near(b)));
        let found: Vec<Vec<Fault>> =
            features.iter().map(|f| passed(f, &track, &step.cutter, tolerance)).collect();
        if found.iter().all(|f| !f.is_empty()) {
            found.into_iter().next().into_iter().flatten().for_each(|f| faults.add(f.rule, Some(i), f.by));
        }
    }
}

/// How a move leaves a feature.
fn passed(feature: &Feature, track: &Track, cutter: &Cutter, tolerance: Tolerance) -> Vec<Fault> {
    let slack = tolerance.length;
    let Some(part) = track.between(f64::NEG_INFINITY, feature.top - slack) else { return Vec::new() };
    let mut found = Vec::new();
    let (least, most) = track.spread(feature.centre, part);
    for wall in feature.walls() {
        let path = wall.path(cutter);
        let by = if wall.inside { most - path } else { path - least };
        if by > slack {
            found.push(Fault { rule: Rule::Wall, step: None, by });
        }
    }
    let by = feature.floor - track.low();
    if by > slack {
        found.push(Fault { rule: Rule::Floor, step: None, by });
    }
    found
}

/// The wall between this feature and every later one of its name.
pub(super) fn apart(contract: &Contract, feature: &Feature, tolerance: Tolerance, faults: &mut Faults) {
    let web = feature.promises.iter().find_map(|p| match p {
        Promise::Apart(web) => Some(*web),
        Promise::Within
        | Promise::Sized
        | Promise::Cleared
        | Promise::Smooth
        | Promise::Climb
        | Promise::Conventional => None,
    });
    let Some(web) = web else { return };
    let others = contract.features.iter().filter(|f| f.name == feature.name && !std::ptr::eq(*f, feature));
    for other in others {
        let wall = distance(feature.centre, other.centre) - feature.band().1 - other.band().1;
        if wall < web - tolerance.length {
            faults.add(Rule::Apart, None, web - wall);
        }
    }
}
