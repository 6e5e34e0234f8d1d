//! Rigorous distances in the plane: points, segments and arcs whose coordinates are intervals.

use borewright_motion::Way;
use borewright_number::{Interval, Rational};

/// A place in the plane, enclosed; mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub x: Interval,
    pub y: Interval,
}

impl Point {
    pub(super) fn new(x: Interval, y: Interval) -> Self {
        Self { x, y }
    }

    /// Exactly here.
    #[cfg(test)]
    pub(super) fn at(x: f64, y: f64) -> Self {
        Self { x: Interval::point(x), y: Interval::point(y) }
    }

    pub(super) fn plus(self, other: Self) -> Self {
        Self { x: self.x + other.x, y: self.y + other.y }
    }

    pub(super) fn minus(self, other: Self) -> Self {
        Self { x: self.x - other.x, y: self.y - other.y }
    }

    pub(super) fn scaled(self, by: Interval) -> Self {
        Self { x: self.x * by, y: self.y * by }
    }

    pub(super) fn dot(self, other: Self) -> Interval {
        self.x * other.x + self.y * other.y
    }

    pub(super) fn cross(self, other: Self) -> Interval {
        self.x * other.y - self.y * other.x
    }

    pub(super) fn length(self) -> Interval {
        (self.x.squared() + self.y.squared()).sqrt()
    }

    pub(super) fn distance(self, other: Self) -> Interval {
        self.minus(other).length()
    }

    /// Turned counterclockwise.
    pub(super) fn turned(self, degrees: Interval) -> Self {
        let (sine, cosine) = (degrees.sin_degrees(), degrees.cos_degrees());
        Self { x: self.x * cosine - self.y * sine, y: self.x * sine + self.y * cosine }
    }

    /// A float place close to it: for proposals and for text.
    pub(super) fn middle(self) -> (f64, f64) {
        (middle(self.x), middle(self.y))
    }
}

/// A float close to the value.
pub(super) fn middle(value: Interval) -> f64 {
    value.lo / 2.0 + value.hi / 2.0
}

/// A way of the cutter's centre, seen from above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Course {
    /// From one place straight to another.
    Line(Point, Point),
    /// From one place to another about a centre.
    Arc { centre: Point, from: Point, to: Point, way: Way, sweep: Interval },
}

impl Course {
    /// An arc, with the angle that it sweeps in degrees: any, where that cannot be told.
    pub(super) fn arc(centre: Point, from: Point, to: Point, way: Way, full: bool) -> Self {
        let any = Interval::new(0.0, 360.0);
        let sweep = if full { Interval::point(360.0) } else { swept(centre, from, to, way).unwrap_or(any) };
        Self::Arc { centre, from, to, way, sweep }
    }

    /// The place after that part of the way, 0 to 1.
    pub(super) fn at(&self, part: f64) -> Point {
        let part = Interval::point(part);
        match self {
            Self::Line(a, b) if part == Interval::ONE => {
                let _ = a;
                *b
            }
            Self::Line(a, b) => a.plus(b.minus(*a).scaled(part)),
            Self::Arc { from, .. } if part == Interval::ZERO => *from,
            Self::Arc { to, .. } if part == Interval::ONE => *to,
            Self::Arc { centre, from, way, sweep, .. } => {
                let angle = *sweep * part;
                let angle = if *way == Way::Ccw { angle } else { -angle };
                centre.plus(from.minus(*centre).turned(angle))
            }
        }
    }

    /// The direction there, any length.
    pub(super) fn direction(&self, part: f64) -> Point {
        match self {
            Self::Line(a, b) => b.minus(*a),
            Self::Arc { centre, way, .. } => {
                let arm = self.at(part).minus(*centre);
                match way {
                    Way::Ccw => Point::new(-arm.y, arm.x),
                    Way::Cw => Point::new(arm.y, -arm.x),
                }
            }
        }
    }

    /// The stretch from one part of the way to another.
    pub(super) fn stretch(&self, first: f64, last: f64) -> Self {
        if first <= 0.0 && last >= 1.0 {
            return *self;
        }
        match self {
            Self::Line(..) => Self::Line(self.at(first), self.at(last)),
            Self::Arc { centre, way, sweep, .. } => Self::Arc {
                centre: *centre,
                from: self.at(first),
                to: self.at(last),
                way: *way,
                sweep: *sweep * (Interval::point(last) - Interval::point(first)),
            },
        }
    }

    /// The length of the way, mm.
    pub(super) fn length(&self) -> Interval {
        match self {
            Self::Line(a, b) => a.distance(*b),
            Self::Arc { centre, from, sweep, .. } => {
                from.distance(*centre) * *sweep * Interval::PI / Interval::point(180.0)
            }
        }
    }

    /// Encloses the distance from a place to the nearest place of the way.
    pub(super) fn nearest(&self, p: Point) -> Interval {
        match self {
            Self::Line(a, b) => nearest_of_segment(p, *a, *b),
            Self::Arc { centre, from, to, .. } => {
                let ends = p.distance(*from).min(p.distance(*to));
                let circle = (p.distance(*centre) - self.radius()).abs();
                match self.faces(p) {
                    Some(true) => circle,
                    Some(false) => ends,
                    None => Interval::new(circle.lo, ends.hi),
                }
            }
        }
    }

    /// Encloses the distance from a place to the farthest place of the way.
    pub(super) fn farthest(&self, p: Point) -> Interval {
        match self {
            Self::Line(a, b) => p.distance(*a).max(p.distance(*b)),
            Self::Arc { centre, from, to, .. } => {
                let ends = p.distance(*from).max(p.distance(*to));
                let circle = p.distance(*centre) + self.radius();
                let opposite = centre.plus(centre.minus(p));
                match self.faces(opposite) {
                    Some(true) => circle,
                    Some(false) => ends,
                    None => Interval::new(ends.lo, circle.hi),
                }
            }
        }
    }

    /// Of an arc.
    fn radius(&self) -> Interval {
        match self {
            Self::Line(..) => Interval::ZERO,
            Self::Arc { centre, from, to, .. } => from.distance(*centre).hull(to.distance(*centre)),
        }
    }

    /// Whether an arc comes by on its centre's side where a place lies; `None` where that is not certain.
    fn faces(&self, p: Point) -> Option<bool> {
        let Self::Arc { centre, from, to, way, sweep } = self else { return None };
        if sweep.lo >= 360.0 {
            return Some(true);
        }
        let (u, w) = (from.minus(*centre), to.minus(*centre));
        let (u, w) = if *way == Way::Ccw { (u, w) } else { (w, u) };
        let v = p.minus(*centre);
        let (after, before) = (sign(u.cross(v)), sign(v.cross(w)));
        if sweep.hi <= 180.0 {
            let ahead = sign(v.dot(u.plus(w)));
            match (after, before) {
                (Some(1), Some(1)) => Some(true),
                (Some(-1), _) | (_, Some(-1)) => Some(false),
                // On the ray of one end, or opposite to it.
                _ if ahead == Some(-1) => Some(false),
                _ => None,
            }
        } else if sweep.lo >= 180.0 {
            match (after, before) {
                (Some(-1), Some(-1)) => Some(false),
                (Some(1), _) | (_, Some(1)) => Some(true),
                _ => None,
            }
        } else {
            None
        }
    }

    /// The part of the way at which it comes nearest to the ray from its arc's centre towards a place, or on
    /// a line nearest to the place; a proposal.
    pub(super) fn part_towards(&self, p: Point) -> f64 {
        match self {
            Self::Line(a, b) => {
                let along = b.minus(*a);
                let square = middle(along.dot(along));
                let part = if square > 0.0 { middle(p.minus(*a).dot(along)) / square } else { 0.0 };
                part.clamp(0.0, 1.0)
            }
            Self::Arc { centre, from, way, sweep, .. } => {
                let (u, v) = (from.minus(*centre), p.minus(*centre));
                let (cross, dot) = (middle(u.cross(v)), middle(u.dot(v)));
                let turned = degrees_of(dot, if *way == Way::Ccw { cross } else { -cross });
                let part = turned / middle(*sweep);
                // Between the ends by the way outside: the nearer end.
                if part <= 1.0 {
                    part
                } else if turned - middle(*sweep) < 360.0 - turned {
                    1.0
                } else {
                    0.0
                }
            }
        }
    }
}

/// -1, 0 or 1 where it is certain.
pub(super) fn sign(value: Interval) -> Option<i32> {
    if value.lo > 0.0 {
        Some(1)
    } else if value.hi < 0.0 {
        Some(-1)
    } else if value == Interval::ZERO {
        Some(0)
    } else {
        None
    }
}

fn nearest_of_segment(p: Point, a: Point, b: Point) -> Interval {
    let along = b.minus(a);
    let (before, after) = (p.minus(a).dot(along), p.minus(b).dot(along));
    if before.hi <= 0.0 {
        return p.distance(a);
    }
    if after.lo >= 0.0 {
        return p.distance(b);
    }
    let course = Course::Line(a, b);
    let foot = course.at(course.part_towards(p));
    let above = p.distance(a).hi.min(p.distance(b).hi).min(p.distance(foot).hi);
    let across = p.minus(a).cross(along).abs() / along.length();
    let below = if across.lo.is_finite() { across.lo.max(0.0) } else { 0.0 };
    Interval::new(below.min(above), above)
}

/// The angle from `from` to `to` about the centre, in degrees, above 0 and below 360.
fn swept(centre: Point, from: Point, to: Point, way: Way) -> Option<Interval> {
    let (u, w) = (from.minus(centre), to.minus(centre));
    let (u, w) = if way == Way::Ccw { (u, w) } else { (w, u) };
    let (cross, dot) = (u.cross(w), u.dot(w));
    let turned = |sine: Interval, cosine: Interval| (sine / cosine).atan_degrees();
    let right = Interval::point(90.0);
    if dot.lo > 0.0 {
        let angle = turned(cross, dot);
        match sign(cross) {
            Some(1) => Some(angle),
            Some(-1) => Some(Interval::point(360.0) + angle),
            _ => None,
        }
    } else if dot.hi < 0.0 {
        Some(Interval::point(180.0) + turned(cross, dot))
    } else if cross.lo > 0.0 {
        Some(right - turned(dot, cross))
    } else if cross.hi < 0.0 {
        Some(Interval::point(270.0) - turned(dot, cross))
    } else {
        None
    }
}

/// The angle of a direction, 0 to 360 degrees; a proposal.
pub(super) fn degrees_of(x: f64, y: f64) -> f64 {
    let angle = if x.abs() >= y.abs() {
        let base = middle(Interval::point(if x == 0.0 { 0.0 } else { y / x }).atan_degrees());
        if x < 0.0 { base + 180.0 } else { base }
    } else {
        let base = middle(Interval::point(x / y).atan_degrees());
        if y < 0.0 { 270.0 - base } else { 90.0 - base }
    };
    if angle < 0.0 { angle + 360.0 } else { angle }
}

/// The angle between two directions in space, in degrees, 0 to 180; lengths do not matter.
pub(super) fn angle_between(u: [Interval; 3], v: [Interval; 3]) -> Option<Interval> {
    let ([a, b, c], [x, y, z]) = (u, v);
    let cross = [b * z - c * y, c * x - a * z, a * y - b * x];
    let [p, q, r] = cross.map(Interval::squared);
    let sine = (p + q + r).sqrt();
    let cosine = a * x + b * y + c * z;
    if cosine.lo > 0.0 {
        Some((sine / cosine).atan_degrees())
    } else if cosine.hi < 0.0 {
        Some(Interval::point(180.0) + (sine / cosine).atan_degrees())
    } else if sine.lo > 0.0 {
        Some(Interval::point(90.0) - (cosine / sine).atan_degrees())
    } else {
        None
    }
}

/// The float as an exact number.
pub(super) fn exact(value: f64) -> Option<Rational> {
    Rational::from_f64(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn circle(way: Way) -> Course {
        let from = Point::at(10.0, 0.0);
        Course::arc(Point::at(0.0, 0.0), from, from, way, true)
    }

    fn quarter() -> Course {
        // Counterclockwise from east to north.
        Course::arc(Point::at(0.0, 0.0), Point::at(10.0, 0.0), Point::at(0.0, 10.0), Way::Ccw, false)
    }

    fn holds(value: Interval, expected: f64) {
        assert!(value.lo <= expected && expected <= value.hi && value.width() < 1e-9, "{value:?} {expected}");
    }

    #[test]
    fn distances_to_a_segment_take_the_nearer_end_or_the_foot() {
        let line = Course::Line(Point::at(0.0, 0.0), Point::at(10.0, 0.0));
        holds(line.nearest(Point::at(5.0, 3.0)), 3.0);
        holds(line.nearest(Point::at(-3.0, 4.0)), 5.0);
        holds(line.nearest(Point::at(13.0, -4.0)), 5.0);
        holds(line.farthest(Point::at(13.0, 0.0)), 13.0);
    }

    #[test]
    fn distances_to_an_arc_know_where_it_ends() {
        holds(circle(Way::Ccw).nearest(Point::at(3.0, 4.0)), 5.0);
        holds(circle(Way::Cw).farthest(Point::at(3.0, 4.0)), 15.0);
        holds(quarter().nearest(Point::at(6.0, 8.0)), 0.0);
        holds(quarter().nearest(Point::at(-10.0, 10.0)), 10.0);
        holds(quarter().nearest(Point::at(0.0, -10.0)), 200.0_f64.sqrt());
        holds(quarter().farthest(Point::at(-3.0, -4.0)), 15.0);
    }

    #[test]
    fn sweeps_are_measured_the_way_that_is_gone() {
        let sweep = |x: f64, y: f64, way| {
            let from = Point::at(1.0, 0.0);
            let arc = Course::arc(Point::at(0.0, 0.0), from, Point::at(x, y), way, false);
            match arc {
                Course::Arc { sweep, .. } => middle(sweep).round(),
                Course::Line(..) => f64::NAN,
            }
        };
        let ends = [(1.0, 1.0), (0.0, 1.0), (-1.0, 1.0), (-1.0, 0.0), (0.0, -1.0), (1.0, -1.0)];
        assert_eq!(ends.map(|(x, y)| sweep(x, y, Way::Ccw)), [45.0, 90.0, 135.0, 180.0, 270.0, 315.0]);
        assert_eq!(ends.map(|(x, y)| sweep(x, y, Way::Cw)), [315.0, 270.0, 225.0, 180.0, 90.0, 45.0]);
    }

    #[test]
    fn places_along_an_arc_lie_on_it() {
        let (x, y) = quarter().at(0.5).middle();
        assert!((x - y).abs() < 1e-12 && (x * x + y * y - 100.0).abs() < 1e-9);
        assert!((quarter().part_towards(Point::at(1.0, 1.0)) - 0.5).abs() < 1e-12);
        assert_eq!(quarter().part_towards(Point::at(-1.0, 0.5)), 1.0);
        assert_eq!(quarter().part_towards(Point::at(1.0, -0.5)), 0.0);
    }

    #[test]
    fn angles_between_directions_are_enclosed() {
        let d = |x: f64, y: f64| [Interval::point(x), Interval::point(y), Interval::ZERO];
        holds(angle_between(d(1.0, 0.0), d(1.0, 1.0)).unwrap(), 45.0);
        holds(angle_between(d(1.0, 0.0), d(0.0, -2.0)).unwrap(), 90.0);
        holds(angle_between(d(1.0, 0.0), d(-1.0, 0.0)).unwrap(), 180.0);
        assert_eq!(angle_between(d(0.0, 0.0), d(1.0, 0.0)), None);
    }
}
