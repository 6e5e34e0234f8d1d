//! The way of one cutting move: where it is, which way it goes, how near it comes to a point.

use std::f64::consts::{PI, TAU};

use super::{Place, Spot, distance, flat};

/// A straight way, an arc or a helix; run through by `t` from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Track {
    /// Start.
    pub from: Place,
    /// End.
    pub to: Place,
    /// The arc, where it is one.
    pub round: Option<Round>,
}

/// The round part of a track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Round {
    /// Centre.
    pub centre: Spot,
    /// Radius at the start.
    pub radius: f64,
    /// Angle of the start, radians.
    pub start: f64,
    /// How far it turns, radians, counterclockwise above zero.
    pub sweep: f64,
}

impl Track {
    /// Straight.
    #[must_use]
    pub fn line(from: Place, to: Place) -> Self {
        Self { from, to, round: None }
    }

    /// An arc; `full` for a whole turn.
    #[must_use]
    pub fn arc(from: Place, to: Place, centre: Spot, ccw: bool, full: bool) -> Self {
        let angle = |p: Place| (p[1] - centre[1]).atan2(p[0] - centre[0]);
        let radius = distance(flat(from), centre);
        let turn = (angle(to) - angle(from)).rem_euclid(TAU);
        let sweep = match (full, ccw) {
            (true, true) => TAU,
            (true, false) => -TAU,
            (false, true) => turn,
            (false, false) => -(TAU - turn).rem_euclid(TAU),
        };
        Self { from, to, round: Some(Round { centre, radius, start: angle(from), sweep }) }
    }

    /// The place at `t`.
    #[must_use]
    pub fn at(&self, t: f64) -> Place {
        let z = self.from[2] + (self.to[2] - self.from[2]) * t;
        match self.round {
            None => {
                let along = |a: f64, b: f64| a + (b - a) * t;
                [along(self.from[0], self.to[0]), along(self.from[1], self.to[1]), z]
            }
            Some(r) => {
                let angle = r.start + r.sweep * t;
                [r.centre[0] + r.radius * angle.cos(), r.centre[1] + r.radius * angle.sin(), z]
            }
        }
    }

    /// The direction at `t`, of length 1; zero for a move of no length.
    #[must_use]
    pub fn tangent(&self, t: f64) -> Place {
        let rise = self.to[2] - self.from[2];
        let way = match self.round {
            None => [self.to[0] - self.from[0], self.to[1] - self.from[1], rise],
            Some(r) => {
                let angle = r.start + r.sweep * t;
                [-r.radius * r.sweep * angle.sin(), r.radius * r.sweep * angle.cos(), rise]
            }
        };
        let length = way.iter().map(|c| c * c).sum::<f64>().sqrt();
        if length == 0.0 { [0.0; 3] } else { way.map(|c| c / length) }
    }

    /// Its length in the plane.
    #[must_use]
    pub fn run(&self) -> f64 {
        self.round.map_or_else(|| distance(flat(self.from), flat(self.to)), |r| (r.radius * r.sweep).abs())
    }

    /// Its length.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.run().hypot(self.to[2] - self.from[2])
    }

    /// Straight up or down.
    #[must_use]
    pub fn is_vertical(&self, tolerance: f64) -> bool {
        self.round.is_none() && self.run() <= tolerance && (self.to[2] - self.from[2]).abs() > tolerance
    }

    /// The lowest height.
    #[must_use]
    pub fn low(&self) -> f64 {
        self.from[2].min(self.to[2])
    }

    /// The part of it between two heights.
    #[must_use]
    pub fn between(&self, low: f64, high: f64) -> Option<(f64, f64)> {
        let (a, b) = (self.from[2], self.to[2]);
        if (a - b).abs() < 1e-12 {
            return (low <= a && a <= high).then_some((0.0, 1.0));
        }
        let at = |z: f64| (z - a) / (b - a);
        let (first, last) = if a < b { (at(low), at(high)) } else { (at(high), at(low)) };
        let (first, last) = (first.max(0.0), last.min(1.0));
        (first <= last).then_some((first, last))
    }

    /// The least and the greatest distance of a part of it from a point.
    #[must_use]
    pub fn spread(&self, q: Spot, part: (f64, f64)) -> (f64, f64) {
        if let Some(r) = self.round.filter(|r| (r.sweep * (part.1 - part.0)).abs() >= TAU - 1e-12) {
            let out = distance(q, r.centre);
            return ((out - r.radius).abs(), out + r.radius);
        }
        let near = |t: f64| distance(flat(self.at(t)), q);
        let (a, b) = (near(part.0), near(part.1));
        let (mut least, mut most) = (a.min(b), a.max(b));
        match self.round {
            None => least = least.min(self.foot(q, part).map_or(least, near)),
            Some(r) => {
                let out = distance(q, r.centre);
                let towards = (q[1] - r.centre[1]).atan2(q[0] - r.centre[0]);
                if r.passes(towards, part, 0.0).is_some() {
                    least = least.min((out - r.radius).abs());
                }
                if r.passes(towards + PI, part, 0.0).is_some() {
                    most = most.max(out + r.radius);
                }
            }
        }
        (least, most)
    }

    /// Where a straight way comes nearest to a point, if not at an end.
    fn foot(&self, q: Spot, part: (f64, f64)) -> Option<f64> {
        let (dx, dy) = (self.to[0] - self.from[0], self.to[1] - self.from[1]);
        let square = dx * dx + dy * dy;
        let t = ((q[0] - self.from[0]) * dx + (q[1] - self.from[1]) * dy) / square;
        (square > 0.0 && part.0 < t && t < part.1).then_some(t)
    }

    /// Where within a part it is nearest to and farthest from a point, beside the ends.
    #[must_use]
    pub fn extremes(&self, q: Spot, part: (f64, f64)) -> Vec<f64> {
        match self.round {
            None => self.foot(q, part).into_iter().collect(),
            Some(r) => {
                let towards = (q[1] - r.centre[1]).atan2(q[0] - r.centre[0]);
                [towards, towards + PI].iter().filter_map(|a| r.passes(*a, part, 0.0)).collect()
            }
        }
    }
}

impl Round {
    /// Where in a part of the arc an angle is passed; ends count within `slack` radians.
    #[must_use]
    pub fn passes(&self, angle: f64, part: (f64, f64), slack: f64) -> Option<f64> {
        if self.sweep == 0.0 {
            return None;
        }
        let (first, last) = (self.sweep * part.0, self.sweep * part.1);
        let (low, high) = (first.min(last) - slack, first.max(last) + slack);
        let ahead = (angle - self.start - low).rem_euclid(TAU) + low;
        (ahead <= high).then(|| (ahead / self.sweep).clamp(part.0, part.1))
    }
}
