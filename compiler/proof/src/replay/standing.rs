//! `cleared` fails where a point of the feature is never cut.

use borewright_number::Interval;

use super::look::{Finding, Look};
use super::measure::{Course, Point, middle};
use super::scene::{Body, Motile, Scene, Speed};
use super::sweep::{Counts, DIRECTIONS, Layer, clearance, layers, off, under_dead_centre};
use super::words;
use crate::Kind;

/// Looks for a point that every move leaves standing.
pub(super) fn check(look: &Look<'_>) -> Finding {
    let Some(scene) = look.scene else { return Finding::Unclear };
    let pins = look.obligation.kind == Kind::Pin;
    for body in look.bodies() {
        for layer in layers(scene, body) {
            let found = if pins { pin(scene, body, layer) } else { left(scene, body, layer) };
            if let Some((p, wide)) = found {
                return look.fault(told(look, body, layer, p, wide, pins));
            }
        }
    }
    Finding::Fine
}

fn told(look: &Look<'_>, body: &Body, layer: Layer, p: Point, wide: Option<f64>, pin: bool) -> String {
    let (x, y) = p.middle();
    let inch = look.inch();
    let whole = |v: f64| words::coordinate(v, inch);
    match wide {
        None => format!(
            "metal is left standing: nothing cuts between z {} and z {}",
            whole(layer.high),
            whole(layer.low)
        ),
        Some(_) if pin => {
            let far = middle(p.distance(body.centre));
            let where_ = if far < 1e-9 {
                "in the middle".to_owned()
            } else {
                format!("at x {}, y {}", whole(x), whole(y))
            };
            format!("a pin is left {where_}, always under the cutter's dead centre")
        }
        Some(wide) => format!(
            "metal is left standing, {} wide, at {}",
            words::length(wide, inch),
            words::place(x, y, layer.height(), inch)
        ),
    }
}

/// A point that no edge comes to, and how wide what stands there is; `None` for the width where nothing cuts
/// at that height at all.
fn left(scene: &Scene, body: &Body, layer: Layer) -> Option<(Point, Option<f64>)> {
    let height = layer.height();
    places(scene, body).into_iter().find_map(|(p, wide)| {
        let stands = body.holds(p) && scene.outside_given(p, height);
        let gap = if stands { clearance(&scene.moves, p, height, Counts::Flutes) } else { 0.0 };
        (gap > 0.0).then(|| (p, gap.is_finite().then(|| wide.min(2.0 * gap.max(wide / 2.0)))))
    })
}

fn pin(scene: &Scene, body: &Body, layer: Layer) -> Option<(Point, Option<f64>)> {
    let height = layer.height();
    let mut places = places(scene, body);
    places.insert(0, (body.centre, 0.0));
    places.into_iter().find_map(|(p, wide)| {
        let stands = body.holds(p) && scene.outside_given(p, height);
        (stands && under_dead_centre(&scene.moves, p, height)).then_some((p, Some(wide)))
    })
}

/// Points between any two distances from the middle at which an edge may pass, with how far these are apart.
fn places(scene: &Scene, body: &Body) -> Vec<(Point, f64)> {
    let mut edges = vec![middle(body.inner), middle(body.outer)];
    let mut seen: Vec<Course> = Vec::new();
    for m in scene.moves.iter().filter(|m| m.speed == Speed::Feed) {
        if seen.contains(&m.course) || seen.len() > 60 {
            continue;
        }
        seen.push(m.course);
        edges.extend(distances(m, body));
    }
    edges.retain(|d| *d >= middle(body.inner) && *d <= middle(body.outer));
    edges.sort_by(f64::total_cmp);
    edges.dedup_by(|a, b| (*a - *b).abs() < 1e-7);
    let gaps: Vec<(f64, f64)> = edges
        .windows(2)
        .filter_map(|pair| Some((*pair.first()?, *pair.last()?)))
        .map(|(a, b)| (a / 2.0 + b / 2.0, b - a))
        .collect();
    let around = |(far, wide): &(f64, f64)| {
        let far = Interval::point(*far);
        let wide = *wide;
        DIRECTIONS.map(|degrees| (off(body.centre, far, degrees), wide))
    };
    gaps.iter().flat_map(around).collect()
}

/// Distances from the middle at which the edge of a move may pass.
fn distances(m: &Motile, body: &Body) -> Vec<f64> {
    let (near, far) = (m.course.nearest(body.centre), m.course.farthest(body.centre));
    let (radius, dead) = (middle(m.cutter.radius), middle(m.cutter.dead));
    let ways = [middle(near), middle(far)];
    ways.iter().flat_map(|w| [w - radius, w + radius, radius - w, w - dead, w + dead, dead - w]).collect()
}
