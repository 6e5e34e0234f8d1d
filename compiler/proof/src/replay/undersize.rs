//! `sized` fails where the wall is not touched, or is cut past.

use super::look::{Finding, Look};
use super::scene::{Body, Scene, Speed, Wall};
use super::sweep::{Counts, DIRECTIONS, Layer, clearance, layers, off};
use super::{wall, words};
use crate::Kind;

/// Looks for a place of the wall that no edge touches.
pub(super) fn check(look: &Look<'_>) -> Finding {
    let Some(scene) = look.scene else { return Finding::Unclear };
    if look.obligation.kind == Kind::Landing
        && let Some(text) = landing(look)
    {
        return look.fault(text);
    }
    for body in look.bodies() {
        for wall in &body.walls {
            for layer in layers(scene, body) {
                if let Some(gap) = untouched(scene, body, *wall, layer) {
                    return look.fault(told(look, body, *wall, layer, gap));
                }
            }
        }
    }
    past(look).unwrap_or(Finding::Fine)
}

fn told(look: &Look<'_>, body: &Body, wall: Wall, layer: Layer, gap: f64) -> String {
    let [high, low] = [layer.high, layer.low].map(|z| words::coordinate(z, look.inch()));
    if !gap.is_finite() {
        return format!("the {} is not touched between z {high} and z {low}", wall.name);
    }
    let left = format!("{} of metal is left on the {}", look.length(gap), wall.name);
    let whole = layer.high >= body.top.lo && layer.low <= body.floor.hi;
    if whole { left } else { format!("{left} between z {high} and z {low}") }
}

/// How far the nearest edge stays off a place of the wall.
fn untouched(scene: &Scene, body: &Body, wall: Wall, layer: Layer) -> Option<f64> {
    let height = layer.height();
    DIRECTIONS.iter().find_map(|degrees| {
        let p = off(body.centre, wall.radius, *degrees);
        let stands = scene.outside_given(p, height);
        let gap = if stands { clearance(&scene.moves, p, height, Counts::Flutes) } else { 0.0 };
        (gap > 0.0).then_some(gap)
    })
}

/// The last pass ends above or below the floor.
fn landing(look: &Look<'_>) -> Option<String> {
    let scene = look.scene?;
    let body = look.bodies().into_iter().next()?;
    // Those of the last turn of the loops around it.
    let last = scene.moves.iter().rev().find(|m| m.span == look.obligation.span)?;
    let end = last.to?;
    let (above, below) = ((end - body.floor).lo, (body.floor - end).lo);
    if below > 0.0 {
        return Some(format!("the last pass ends {} below the floor", look.length(below)));
    }
    let deeper = scene
        .moves
        .iter()
        .filter(|m| m.speed == Speed::Feed)
        .any(|m| m.heights().is_none_or(|(a, b)| a.lo < end.lo || b.lo < end.lo));
    (above > 0.0 && !deeper).then(|| format!("the last pass ends {} above the floor", look.length(above)))
}

/// Some move cuts past a wall: then no edge touches it there.
fn past(look: &Look<'_>) -> Option<Finding> {
    let scene = look.scene?;
    let bodies = look.bodies();
    let cutting = scene.moves.iter().filter(|m| m.speed == Speed::Feed);
    let most = cutting
        .flat_map(|m| bodies.iter().flat_map(move |b| b.walls.iter().map(move |w| (m, *b, *w))))
        .filter_map(|(m, body, wall)| Some((wall::passed(m, body, wall)?, m.span, wall)))
        .max_by(|(a, ..), (b, ..)| a.total_cmp(b));
    let (by, span, wall) = most.filter(|(by, ..)| *by > 0.0)?;
    let text = format!("the {} is cut past by {}", wall.name, look.length(by));
    Some(Finding::Fault(crate::Fault { text, span }))
}

/// `cleared` at the floor: the last pass ends above it, or metal stands elsewhere.
pub(super) fn floor_left(look: &Look<'_>) -> Finding {
    landing(look).map_or_else(|| super::standing::check(look), |text| look.fault(text))
}
