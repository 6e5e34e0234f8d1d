//! What a text was written for. Its rounding can bring the edge nearer to a wall than the motion came: that makes no
//! contact of a place where there was none.

use super::{Feature, Place, Step, Tolerance, Wall, distance, flat};

/// The steps of the motion that a text was written for.
#[derive(Debug, Clone, Copy)]
pub struct Meant<'a>(&'a [Step]);

/// A motion is on a wall where it is no farther from it than this, mm.
const EXACTLY: f64 = 1e-6;

/// Two moves go the same way where the cosine of the angle between them is above this.
const SAME_WAY: f64 = 0.9;

impl<'a> Meant<'a> {
    /// A trace that was written for nothing else.
    pub const ITSELF: Self = Self(&[]);

    /// A text that was written for these steps.
    #[must_use]
    pub fn of(steps: &'a [Step]) -> Self {
        Self(steps)
    }

    /// The motion comes by there, and off the wall. Where the text goes a known way there, only what goes that way
    /// counts: a cut on the wall says nothing of another one beside it.
    pub(super) fn is_off(
        self,
        feature: &Feature,
        wall: Wall,
        (p, way): (Place, Option<Place>),
        tolerance: Tolerance,
    ) -> bool {
        let mut gaps =
            self.0.iter().flat_map(|step| gaps(step, feature, wall, (p, way), tolerance)).peekable();
        gaps.peek().is_some() && gaps.all(|gap| gap > EXACTLY)
    }
}

/// How far from the wall a step of the motion runs where it comes by a place.
fn gaps(
    step: &Step,
    feature: &Feature,
    wall: Wall,
    (p, way): (Place, Option<Place>),
    tolerance: Tolerance,
) -> Vec<f64> {
    let Some(track) = step.track() else { return Vec::new() };
    let parts = [0.0, 1.0].into_iter().chain(track.extremes(flat(p), (0.0, 1.0)));
    let near = |q: &Place| {
        let out = distance(flat(*q), flat(p)).hypot(q[2] - p[2]);
        out <= 2.0 * tolerance.length
    };
    let along = |t: f64| {
        way.is_none_or(|way| way.iter().zip(track.tangent(t)).map(|(a, b)| a * b).sum::<f64>() > SAME_WAY)
    };
    let places = parts.filter(|t| along(*t)).map(|t| track.at(t)).filter(near);
    places.map(|q| (distance(flat(q), feature.centre) - wall.path(&step.cutter)).abs()).collect()
}
