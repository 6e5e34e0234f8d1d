//! A cut is deeper than the flutes where metal stands beside the cutter above its flutes.

use borewright_number::Interval;

use super::look::{Finding, Look};
use super::measure::middle;
use super::scene::{Motile, Scene, Speed};
use super::sweep::{Counts, clearance, off};

/// Looks for metal that the cutter meets above its flutes.
pub(super) fn check(look: &Look<'_>) -> Finding {
    let Some(scene) = look.scene else { return Finding::Unclear };
    for (before, m) in look.moves() {
        if m.speed == Speed::Feed
            && let Some(deep) = deep(scene, before, m)
        {
            let (deep, flutes) = (look.length(deep), look.length(middle(m.cutter.flutes)));
            return look.fault(format!("the cut is {deep} deep, and the flutes are {flutes} long"));
        }
    }
    Finding::Fine
}

/// How deep below metal that it meets the cutter's end runs, where that is more than the flutes.
pub(super) fn deep(scene: &Scene, before: &[Motile], m: &Motile) -> Option<f64> {
    let radius = middle(m.cutter.radius);
    for part in [1.0, 0.5, 0.25, 0.75, 0.0] {
        let z = m.height(part)?;
        let flutes_end = (z + m.cutter.flutes).hi;
        let top = scene.top();
        if top <= flutes_end {
            continue;
        }
        // Just below the top, then lower.
        let heights = [0.999_999, 0.5, 0.000_001].map(|p| flutes_end + (top - flutes_end) * p);
        let centre = m.course.at(part);
        for degrees in (0..24).map(|i| f64::from(i) * 15.0) {
            let p = off(centre, Interval::point(radius * 0.999_999), degrees);
            if p.distance(centre).hi > m.cutter.radius.lo {
                continue;
            }
            let stands = |h: &f64| scene.is_metal(p, *h) && clearance(before, p, *h, Counts::All) > 0.0;
            if let Some(height) = heights.iter().find(|h| stands(h)) {
                return Some(height - z.lo);
            }
        }
    }
    None
}
