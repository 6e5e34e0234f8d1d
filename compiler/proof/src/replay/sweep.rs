//! What the moves cut, asked of single points: never too little, so that what is called uncut is uncut.

use borewright_number::Interval;

use super::measure::Point;
use super::scene::{Body, Motile, Scene, Speed};

/// How much of the cutter counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Counts {
    /// The length of the flutes.
    Flutes,
    /// All above its end.
    All,
}

/// How far the edge surely stays from a point, by all these moves; infinite where none comes by its height.
pub(super) fn clearance(moves: &[Motile], p: Point, height: f64, counts: Counts) -> f64 {
    let cutting = moves.iter().filter(|m| m.speed == Speed::Feed);
    cutting.fold(f64::INFINITY, |least, m| {
        let lowest = match counts {
            Counts::Flutes => (Interval::point(height) - m.cutter.flutes).lo,
            Counts::All => f64::NEG_INFINITY,
        };
        let Some((first, last)) = m.parts_below(height, lowest) else { return least };
        let gap = m.course.stretch(first, last).nearest(p) - m.cutter.radius;
        least.min(gap.lo)
    })
}

/// Whether a point at a height is never cut because every move keeps it under its dead centre, or stays away.
pub(super) fn under_dead_centre(moves: &[Motile], p: Point, height: f64) -> bool {
    let mut under = false;
    for m in moves.iter().filter(|m| m.speed == Speed::Feed) {
        let lowest = (Interval::point(height) - m.cutter.flutes).lo;
        let Some((first, last)) = m.parts_below(height, lowest) else { continue };
        let stretch = m.course.stretch(first, last);
        let away = (stretch.nearest(p) - m.cutter.radius).lo > 0.0;
        let covered = (m.cutter.dead - stretch.farthest(p)).lo > 0.0;
        if !away && !covered {
            return false;
        }
        under |= covered;
    }
    under
}

/// A stretch of heights between two levels, neither of which it holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Layer {
    pub low: f64,
    pub high: f64,
}

impl Layer {
    /// A height within it.
    pub(super) fn height(self) -> f64 {
        self.low / 2.0 + self.high / 2.0
    }
}

/// Layers below this height are no layers but rounding.
const THINNEST: f64 = 1e-6;

/// No more layers than this are looked into.
const MOST_LAYERS: usize = 12;

/// The layers of a feature between the levels at which something changes, from the floor up.
pub(super) fn layers(scene: &Scene, body: &Body) -> Vec<Layer> {
    let (floor, top) = (body.floor.hi, body.top.lo);
    let mut levels = vec![floor, top];
    for m in scene.moves.iter().filter(|m| m.speed == Speed::Feed) {
        let Some((a, b)) = m.heights() else { continue };
        for z in [a, b] {
            levels.extend([z.lo, (z + m.cutter.flutes).hi]);
        }
    }
    levels.retain(|z| *z >= floor && *z <= top);
    levels.sort_by(f64::total_cmp);
    let pairs = levels.windows(2).filter_map(|pair| {
        let (low, high) = (*pair.first()?, *pair.last()?);
        (high - low > THINNEST).then_some(Layer { low, high })
    });
    let all: Vec<Layer> = pairs.collect();
    let step = all.len().div_ceil(MOST_LAYERS).max(1);
    let last = all.len().saturating_sub(1);
    let chosen = all.iter().enumerate().filter(|(i, _)| i % step == 0 || *i == last);
    chosen.map(|(_, layer)| *layer).collect()
}

/// Directions that are looked into, in degrees.
pub(super) const DIRECTIONS: [f64; 12] =
    [0.0, 90.0, 180.0, 270.0, 45.0, 135.0, 225.0, 315.0, 20.0, 110.0, 200.0, 290.0];

/// The point in a direction at a distance.
pub(super) fn off(centre: Point, distance: Interval, degrees: f64) -> Point {
    let east = Point::new(distance, Interval::ZERO);
    centre.plus(east.turned(Interval::point(degrees)))
}

impl Body {
    /// Whether a point is surely of the metal that the feature removes, as seen from above.
    pub(super) fn holds(&self, p: Point) -> bool {
        let far = p.distance(self.centre);
        (self.inner.hi <= 0.0 || far.lo > self.inner.hi) && far.hi < self.outer.lo
    }
}

impl Scene {
    /// Whether a point at a height surely lies in none of the holes that are there before.
    pub(super) fn outside_given(&self, p: Point, height: f64) -> bool {
        self.given.iter().all(|hole| height < hole.floor.lo || p.distance(hole.centre).lo > hole.radius.hi)
    }

    /// Whether a point at a height surely lies in metal, or where nothing may go, before anything is cut.
    pub(super) fn is_metal(&self, p: Point, height: f64) -> bool {
        if !self.outside_given(p, height) {
            return false;
        }
        if self.is_bare() {
            return height < 0.0;
        }
        let mut metal = !self.bodies.is_empty();
        for body in &self.bodies {
            match body.matter(p, height) {
                Some(Matter::Air) | None => return false,
                Some(Matter::Metal) => return true,
                Some(Matter::Around) => metal &= height < body.top.lo,
            }
        }
        metal
    }
}

/// What is at a point as far as one feature tells.
enum Matter {
    Air,
    Metal,
    /// Outside a hole or groove: the part's own metal, below the top face.
    Around,
}

impl Body {
    /// `None` where it is not certain.
    fn matter(&self, p: Point, height: f64) -> Option<Matter> {
        let far = p.distance(self.centre);
        if height >= self.top.hi {
            return Some(Matter::Around);
        }
        if height >= self.top.lo || height >= self.floor.lo && height <= self.floor.hi {
            return None;
        }
        if far.lo > self.outer.hi {
            return Some(if self.boss { Matter::Air } else { Matter::Around });
        }
        // Below the floor nothing is said to be gone, not even under a pilot hole: it may end there.
        if height < self.floor.lo {
            return (far.hi < self.outer.lo).then_some(Matter::Metal);
        }
        if far.hi < self.inner.lo {
            return Some(if self.hollow { Matter::Air } else { Matter::Metal });
        }
        let between = (far.lo > self.inner.hi || self.inner.hi <= 0.0) && far.hi < self.outer.lo;
        between.then_some(Matter::Metal)
    }
}
