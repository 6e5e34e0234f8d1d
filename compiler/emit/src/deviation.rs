//! How far the path that a text brings about can be from the proved one: bounds on the wall, the floor, the joints
//! and the radii of arcs, from bounds on how far each word is off.
//!
//! An arc is taken as any curve round its centre whose distance from it stays between its radius at the start and
//! its radius at the end: whatever a control makes of two radii that differ.

use borewright_machine::Machine;
use borewright_number::{Interval, Rational, Rounding};

use crate::Bounds;

/// Bounds that grow with every move, in the unit that the words are in.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Deviation {
    /// Of an end point, along one axis.
    pub(crate) end: f64,
    /// Of a feed move's path in the plane, from the proved path.
    pub(crate) wall: f64,
    /// Of a feed move's height.
    pub(crate) floor: f64,
    /// Of the angle at which two arcs meet, in degrees.
    pub(crate) joint: f64,
    /// Between the two radii of an arc.
    pub(crate) mismatch: f64,
    /// How far the end of the last arc is turned, as seen from its centre, in degrees; none where the last move was
    /// no arc.
    turned: Option<f64>,
}

/// How far the parts of an arc are off, as lengths of vectors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ArcParts {
    /// The way from the centre to the start.
    pub(crate) start: f64,
    /// The way from the centre to the end.
    pub(crate) end: f64,
    /// The centre.
    pub(crate) centre: f64,
    /// The least radius that the proved arc can have.
    pub(crate) radius: f64,
    /// How far start, centre and end lie elsewhere together, which changes nothing of what they make.
    pub(crate) shift: f64,
}

impl Deviation {
    /// A move that ends so far off along X and Y.
    pub(crate) fn ends(&mut self, (x, y): (f64, f64)) {
        self.end = self.end.max(x).max(y);
    }

    /// A straight feed move between ends that are off by the lengths of these vectors.
    pub(crate) fn line(&mut self, start: f64, end: f64) {
        self.wall = self.wall.max(start).max(end);
        self.turned = None;
    }

    /// A feed move's height is off by this.
    pub(crate) fn height(&mut self, off: f64) {
        self.end = self.end.max(off);
        self.floor = self.floor.max(off);
    }

    /// Something that is no arc: what follows joins nothing.
    pub(crate) fn pause(&mut self) {
        self.turned = None;
    }

    /// An arc; its radii differ by at most `mismatch`.
    pub(crate) fn arc(&mut self, parts: ArcParts, mismatch: f64) {
        self.wall = self.wall.max(parts.start.max(parts.end) + parts.centre + parts.shift);
        self.mismatch = self.mismatch.max(mismatch);
        // A tangent is square to the radius: it turns as far as the radius does.
        let turned = |off: f64| degrees(off, parts.radius);
        if let Some(before) = self.turned {
            self.joint = self.joint.max(before + turned(parts.start));
        }
        self.turned = Some(turned(parts.end));
    }

    /// The same for a path of which every end and centre lies elsewhere by up to `plane` along each axis, and every
    /// height by up to `height`. Its arcs are arcs still, and meet as they did.
    pub(crate) fn moved(self, plane: f64, height: f64) -> Self {
        // The centre, and two radii that may differ by both of their ends.
        let wall = self.wall + 3.0 * length(plane, plane);
        Self { end: self.end + plane.max(height), wall, floor: self.floor + height, ..self }
    }

    /// The greater of each.
    pub(crate) fn and(self, other: Self) -> Self {
        Self {
            end: self.end.max(other.end),
            wall: self.wall.max(other.wall),
            floor: self.floor.max(other.floor),
            joint: self.joint.max(other.joint),
            mismatch: self.mismatch.max(other.mismatch),
            turned: None,
        }
    }

    /// In mm and degrees; what has no bound is not told.
    pub(crate) fn bounds(&self, machine: &Machine) -> Bounds {
        let enlarged = |value: f64| Rational::from_f64(value * (1.0 + 1e-9));
        let length = |value: f64| enlarged(value).map(|v| v * machine.unit());
        Bounds {
            end_point: length(self.end),
            wall: length(self.wall),
            floor: length(self.floor),
            joint: enlarged(self.joint),
            arc_mismatch: length(self.mismatch),
        }
    }
}

/// The length of a vector, rounded up.
pub(crate) fn length(x: f64, y: f64) -> f64 {
    (x * x + y * y).sqrt() * (1.0 + 1e-12)
}

/// Most that a vector of at least this length turns when its end moves by `off`; a right angle and more is no bound.
fn degrees(off: f64, least: f64) -> f64 {
    if off.is_nan() || off >= least {
        return f64::INFINITY;
    }
    let sine = off / least;
    // asin x = acos(-x) - 90
    (Interval::point(-sine).acos_degrees().hi - 90.0).max(0.0)
}

/// The lines of a header that say it.
pub(crate) fn told(bounds: &Bounds, machine: &Machine) -> Vec<String> {
    let decimals = machine.numbers.decimals + 1;
    let mm = |value: &Option<Rational>| {
        let in_unit = value.as_ref().map(|v| (v / &machine.unit()).rounded(decimals, Rounding::Up));
        in_unit.map_or_else(|| "AN UNKNOWN AMOUNT".to_owned(), |v| crate::number::pointed(&v, decimals))
    };
    let (end, wall, floor) = (mm(&bounds.end_point), mm(&bounds.wall), mm(&bounds.floor));
    let mut lines = vec![format!(
        "BOUNDS, FROM ROUNDING: MOVES END WITHIN {end} ALONG EACH AXIS, THE CUTTERS CENTRE STAYS WITHIN {wall} OF ITS \
         PROVED PATH, DEPTHS ARE WITHIN {floor}"
    )];
    let joint = bounds.joint.as_ref().filter(|angle| !angle.is_zero());
    let joint = joint.map(|angle| crate::number::pointed(&angle.rounded(3, Rounding::Up), 3));
    let joint = joint.map_or_else(String::new, |angle| format!(", ARCS MEET WITHIN {angle} DEG"));
    lines.push(format!("ARC RADII AGREE WITHIN {}{joint}", mm(&bounds.arc_mismatch)));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_step_on_every_word_moves_a_wall_by_three_and_a_half() {
        let half = length(0.5, 0.5);
        let mut path = Deviation::default();
        let parts = ArcParts { start: half, end: 3.0 * half, centre: 2.0 * half, radius: 200.0, shift: 0.0 };
        path.arc(parts, 4.0 * half);
        assert!((path.wall - 5.0 * half).abs() < 1e-9 && path.joint == 0.0);
        path.arc(parts, 0.0);
        let angle = ((3.0 * half / 200.0).asin() + (half / 200.0).asin()).to_degrees();
        assert!((path.joint - angle).abs() < 1e-9 && path.joint >= angle - 1e-12);
        path.line(half, half);
        path.arc(ArcParts { radius: 1.0, ..parts }, 0.0);
        assert!(path.joint < 1.0, "a line is no arc: {path:?}");
    }

    #[test]
    fn an_arc_smaller_than_its_error_has_no_angle() {
        assert_eq!(degrees(1.0, 1.0), f64::INFINITY);
        assert_eq!(degrees(0.0, 1.0), 0.0);
    }
}
