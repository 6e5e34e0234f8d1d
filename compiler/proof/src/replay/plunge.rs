//! A way down fails where metal stands under the cutter and it goes down straight, or steeper than it may.

use borewright_motion::Field;
use borewright_number::Interval;

use super::look::{Finding, Look};
use super::measure::middle;
use super::scene::{Motile, Scene, Speed};
use super::sweep::{Counts, clearance, off};
use super::words;

/// Looks for metal under the cutter on a way down that it cannot take.
pub(super) fn check(look: &Look<'_>) -> Finding {
    let Some(scene) = look.scene else { return Finding::Unclear };
    for (before, m) in look.moves() {
        let Some(steep) = too_steep(look, m) else { continue };
        if let Some(text) = told(look, scene, before, m, &steep) {
            return look.fault(text);
        }
    }
    Finding::Fine
}

enum Steep {
    /// Straight down, with a cutter that may not.
    Straight,
    /// Straight down, with one that may.
    Plunge,
    Ramp {
        goes: f64,
        may: f64,
    },
}

fn told(look: &Look<'_>, scene: &Scene, before: &[Motile], m: &Motile, steep: &Steep) -> Option<String> {
    if let Steep::Plunge = steep {
        let (deep, flutes) = (super::deep::deep(scene, before, m)?, middle(m.cutter.flutes));
        let (deep, flutes) = (look.length(deep), look.length(flutes));
        return Some(format!("the cutter plunges {deep} deep, and the flutes are {flutes} long"));
    }
    let (x, y, deep) = metal_below(scene, before, m)?;
    let [x, y] = [x, y].map(|v| words::coordinate(v, look.inch()));
    let deep = look.length(deep);
    Some(match steep {
        Steep::Straight | Steep::Plunge => {
            format!("the cutter plunges {deep} deep into solid metal at x {x}, y {y}")
        }
        Steep::Ramp { goes, may } => format!(
            "the way down is {} steep where the cutter may ramp {}, into metal at x {x}, y {y}",
            words::angle(*goes),
            words::angle(*may)
        ),
    })
}

/// How a way down is surely steeper than the cutter may go.
fn too_steep(look: &Look<'_>, m: &Motile) -> Option<Steep> {
    if m.speed != Speed::Feed {
        return None;
    }
    let (from, to) = m.heights()?;
    let drop = from - to;
    if drop.lo <= 0.0 {
        return None;
    }
    let way = m.course.length();
    if way.hi <= 1e-9 {
        return Some(if m.cutter.plunges { Steep::Plunge } else { Steep::Straight });
    }
    let may = ramp_that_is_sure(look);
    let goes = (drop / way).atan_degrees();
    (goes.lo > may.hi).then(|| Steep::Ramp { goes: middle(goes), may: middle(may) })
}

/// The ramp that every cutter which is admitted may take.
fn ramp_that_is_sure(look: &Look<'_>) -> Interval {
    let rules = look.motion.demands.iter().flat_map(|d| &d.rules);
    let least = rules.filter(|r| r.field == Field::Ramp).find_map(|r| look.number(&r.value));
    least.unwrap_or(Interval::ZERO)
}

/// A place under the cutter where metal stands on its way down, with how deep it goes there.
fn metal_below(scene: &Scene, before: &[Motile], m: &Motile) -> Option<(f64, f64, f64)> {
    let (from, _) = m.heights()?;
    let (top, radius) = (scene.top().min(from.lo), middle(m.cutter.radius));
    for part in [1.0, 0.5, 0.25, 0.75] {
        let (low, centre) = (m.height(part)?.hi, m.course.at(part));
        if low >= top {
            continue;
        }
        let heights = [0.001, 0.5].map(|part| low + (top - low) * part);
        for inside in [0.999_999, 0.9, 0.5, 0.0] {
            for degrees in (0..24).map(|i| f64::from(i) * 15.0) {
                let p = off(centre, Interval::point(radius * inside), degrees);
                let under = p.distance(centre).hi <= m.cutter.radius.lo;
                let stands = |h: &f64| scene.is_metal(p, *h) && clearance(before, p, *h, Counts::All) > 0.0;
                if under && heights.iter().any(stands) {
                    let (x, y) = p.middle();
                    return Some((x, y, top - low));
                }
            }
        }
    }
    None
}
