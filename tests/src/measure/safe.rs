//! What is owed unasked: a known position, feeds, real arcs, rapids through air, no plunge, no steep ramp,
//! flutes and reach long enough, spindle and length offset on.

use super::{Act, Contract, Faults, Rule, Spindle, Step, Stock, Tolerance, Track, distance, flat};

/// Looks at every step.
pub(super) fn measure(
    contract: &Contract,
    steps: &[Step],
    stock: &Stock<'_>,
    tolerance: Tolerance,
    faults: &mut Faults,
) {
    let deep = deep(steps, stock, tolerance);
    for (i, step) in steps.iter().enumerate() {
        if step.act == Act::Pause || !position(i, step, faults) {
            continue;
        }
        match step.track() {
            None => rapid(i, step, stock, tolerance, faults),
            Some(track) => {
                arc(contract, i, step, tolerance, faults);
                cut(contract, i, step, stock.top() - tolerance.length, faults);
                descent(i, step, &track, stock, tolerance, faults);
                if deep.contains(&i) {
                    flutes(i, step, &track, stock, faults);
                }
            }
        }
        let low = step.from[2].min(step.to[2]);
        let by = stock.top() - low - step.cutter.reach;
        if low < stock.top() - tolerance.length && by > tolerance.length {
            faults.add(Rule::Shank, Some(i), by);
        }
    }
}

/// Up first, then over, then down. False where nothing else can be said of the step.
fn position(i: usize, step: &Step, faults: &mut Faults) -> bool {
    let unknown = |p: [f64; 3]| p[0].is_nan() || p[1].is_nan();
    let goes_home = step.act == Act::Rapid && step.to[2] == f64::INFINITY;
    if step.from[2].is_nan() || unknown(step.from) {
        let over = step.act == Act::Rapid && step.from[2] == step.to[2] && !unknown(step.to);
        let safe = goes_home || (over && !step.from[2].is_nan());
        if !safe {
            faults.add(Rule::Position, Some(i), f64::INFINITY);
        }
        return false;
    }
    !goes_home || !step.from[2].is_nan()
}

fn cut(contract: &Contract, i: usize, step: &Step, top: f64, faults: &mut Faults) {
    let feed = match step.act {
        Act::Line { feed } | Act::Arc { feed, .. } => feed,
        Act::Rapid | Act::Pause => return,
    };
    if !feed.is_some_and(|f| f > 0.0) {
        faults.add(Rule::Feed, Some(i), 0.0);
    }
    if !contract.complete || step.from[2].min(step.to[2]) >= top {
        return;
    }
    let right = if step.cutter.left_hand { Spindle::Counterclockwise } else { Spindle::Clockwise };
    if step.spindle != right {
        faults.add(Rule::Spindle, Some(i), 0.0);
    }
    if !step.offset {
        faults.add(Rule::Offset, Some(i), 0.0);
    }
}

fn arc(contract: &Contract, i: usize, step: &Step, tolerance: Tolerance, faults: &mut Faults) {
    let Act::Arc { centre, full, .. } = step.act else { return };
    let (a, b) = (distance(flat(step.from), centre), distance(flat(step.to), centre));
    if (a - b).abs() > 2.0 * tolerance.length {
        faults.add(Rule::Arc, Some(i), (a - b).abs());
    }
    let small = contract.smallest_arc - a;
    if small > 2.0 * tolerance.length {
        faults.add(Rule::ArcSize, Some(i), small);
    }
    if !full && distance(flat(step.from), flat(step.to)) == 0.0 {
        faults.add(Rule::ArcSize, Some(i), 0.0);
    }
}

/// Every way between the ends, within their box, is through air; a move in Z alone goes straight.
fn rapid(i: usize, step: &Step, stock: &Stock<'_>, tolerance: Tolerance, faults: &mut Faults) {
    let (a, b) = (step.from, step.to);
    let over = distance(flat(a), flat(b)) > tolerance.length;
    let low = if over { a[2].min(b[2]) } else { b[2] };
    if low >= stock.top() - tolerance.length || (!over && b[2] >= a[2]) {
        return;
    }
    for k in 0..4_u8 {
        for l in 0..4_u8 {
            let share = |k: u8, from: f64, to: f64| from + (to - from) * f64::from(k) / 3.0;
            let p = [share(k, a[0], b[0]), share(l, a[1], b[1])];
            if !in_air(p, low, step, stock, tolerance) && stock.meets(p, low, &step.cutter, (i, 0.0)) {
                faults.add(Rule::Rapid, Some(i), stock.top() - low);
                return;
            }
        }
    }
}

/// The whole cutter stands in one piece of air that was there before.
fn in_air(p: [f64; 2], z: f64, step: &Step, stock: &Stock<'_>, tolerance: Tolerance) -> bool {
    let (slack, r) = (tolerance.length, step.cutter.radius());
    stock.air().iter().any(|air| {
        let out = distance(p, air.centre);
        let free = if air.inside { out + r <= air.radius + slack } else { out - r >= air.radius - slack };
        free && z >= air.floor - slack
    })
}

/// Downwards: straight only through air or with a cutter that may; slanting no steeper than it may.
fn descent(
    i: usize,
    step: &Step,
    track: &Track,
    stock: &Stock<'_>,
    tolerance: Tolerance,
    faults: &mut Faults,
) {
    let drop = step.from[2] - step.to[2];
    let low = step.to[2];
    if drop <= tolerance.length || low >= stock.top() - tolerance.length {
        return;
    }
    let free = |t: f64| {
        let p = track.at(t);
        in_air(flat(p), p[2], step, stock, tolerance) || !stock.meets(flat(p), p[2], &step.cutter, (i, 0.0))
    };
    if track.is_vertical(tolerance.length) {
        if !step.cutter.plunges && !free(1.0) {
            faults.add(Rule::Plunge, Some(i), stock.top() - low);
        }
        return;
    }
    let slope = drop.atan2(track.run()).to_degrees();
    let steep = slope - step.cutter.ramp;
    let allowed = (2.0 * tolerance.length / track.run()).to_degrees() + 1e-6;
    // Teeth that follow a thread cut sideways.
    let threads = step.cutter.teeth.is_some();
    if steep > allowed && !threads && ![0.2, 0.5, 0.8, 1.0].into_iter().all(free) {
        faults.add(Rule::Ramp, Some(i), steep);
    }
}

/// Some of the moves whose flutes do not reach up to the top face.
fn deep(steps: &[Step], stock: &Stock<'_>, tolerance: Tolerance) -> Vec<usize> {
    let is_deep = |s: &Step| {
        s.cutter.teeth.is_none()
            && s.cutter.neck.is_none()
            && s.track().is_some()
            && stock.top() - s.to[2] > s.cutter.flutes + tolerance.length
    };
    let deep: Vec<usize> = steps.iter().enumerate().filter(|(_, s)| is_deep(s)).map(|(i, _)| i).collect();
    let every = deep.len().div_ceil(6).max(1);
    deep.iter().copied().step_by(every).chain(deep.last().copied()).collect()
}

/// No metal stands beside the neck, above the flutes.
fn flutes(i: usize, step: &Step, track: &Track, stock: &Stock<'_>, faults: &mut Faults) {
    for t in [0.0, 0.31, 0.77, 1.0] {
        let p = track.at(t);
        let neck = p[2] + step.cutter.flutes;
        // A straight plunge counts as one pass, however much of it lies behind.
        let own = if track.is_vertical(1e-9) { 0.0 } else { t };
        if neck < stock.top() && stock.meets(flat(p), neck, &step.cutter, (i, own)) {
            faults.add(Rule::Flutes, Some(i), stock.top() - neck);
            return;
        }
    }
}
