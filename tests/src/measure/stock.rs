//! What is metal and what is air, before and after moves.

use std::f64::consts::TAU;

use super::{Air, Contract, Cutter, Shape, Spot, Step, Tolerance, Track, distance};

/// The metal and what cuts it.
#[derive(Debug)]
pub struct Stock<'a> {
    contract: &'a Contract,
    air: Vec<Air>,
    /// Cutting moves with the position of their step.
    cuts: Vec<(usize, Track, Cutter)>,
    tolerance: Tolerance,
}

/// A part of a move that cuts at one height.
#[derive(Debug, Clone, Copy)]
pub struct Cutting<'a> {
    track: &'a Track,
    cutter: &'a Cutter,
    part: (f64, f64),
}

impl Cutting<'_> {
    /// The edge comes over the point: its distance from the cutter's centre passes between the dead centre
    /// and the edge.
    #[must_use]
    pub fn cuts(&self, q: Spot, tolerance: Tolerance) -> bool {
        let (least, most) = self.track.spread(q, self.part);
        least <= self.cutter.radius() + tolerance.length && most >= self.cutter.dead / 2.0 - tolerance.length
    }
}

impl Air {
    /// The point is in it.
    #[must_use]
    pub fn holds(&self, q: Spot, z: f64) -> bool {
        let out = distance(q, self.centre);
        z >= self.floor && if self.inside { out <= self.radius } else { out >= self.radius }
    }
}

impl<'a> Stock<'a> {
    /// The metal of a contract and what a trace cuts.
    #[must_use]
    pub fn new(contract: &'a Contract, steps: &[Step], tolerance: Tolerance) -> Self {
        let own = contract.features.iter().filter_map(|f| {
            let (inside, radius) = match f.shape {
                Shape::Hole { pilot, .. } => (true, pilot? / 2.0),
                Shape::Boss { blank, .. } => (false, blank / 2.0),
                Shape::Face { diameter } => (false, diameter / 2.0),
                Shape::Chamfer { inside, diameter, .. } => (inside, diameter / 2.0),
                Shape::Undercut { bore, .. } => (true, bore / 2.0),
                Shape::Thread { inside: true, minor, .. } => (true, minor / 2.0),
                Shape::Thread { inside: false, major, .. } => (false, major / 2.0),
                Shape::Ring { .. } => return None,
            };
            Some(Air { inside, centre: f.centre, radius, floor: f.floor })
        });
        let air = own.chain(contract.given.iter().copied()).collect();
        let cuts = steps.iter().enumerate();
        let cuts = cuts.filter_map(|(i, s)| Some((i, s.track()?, s.cutter))).collect();
        Self { contract, air, cuts, tolerance }
    }

    /// The highest top face; below everything where there is no feature.
    #[must_use]
    pub fn top(&self) -> f64 {
        self.contract.features.iter().map(|f| f.top).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Air that is there before.
    #[must_use]
    pub fn air(&self) -> &[Air] {
        &self.air
    }

    /// Heights of the ends of cutting moves.
    #[must_use]
    pub fn levels(&self) -> Vec<f64> {
        self.cuts.iter().map(|(_, t, _)| t.to[2]).collect()
    }

    /// Radii where the sweep of a turn about a centre begins and ends.
    #[must_use]
    pub fn edges(&self, centre: Spot) -> Vec<f64> {
        let mut edges = Vec::new();
        for (_, track, cutter) in &self.cuts {
            let Some(round) = track.round.filter(|r| distance(r.centre, centre) <= self.tolerance.length)
            else {
                continue;
            };
            let (w, r, dead) = (round.radius, cutter.radius(), cutter.dead / 2.0);
            for edge in [w - r, w + r, r - w, dead - w] {
                if edge >= 0.0 && !edges.iter().any(|e: &f64| (e - edge).abs() < self.tolerance.length) {
                    edges.push(edge);
                }
            }
        }
        edges
    }

    /// All that cuts at a height.
    #[must_use]
    pub fn cutting(&self, h: f64) -> Vec<Cutting<'_>> {
        self.cutting_before(h, (usize::MAX, 0.0))
    }

    /// All that cuts at a height before a step, and in that step before a part `t` of it.
    #[must_use]
    pub fn cutting_before(&self, h: f64, (step, t): (usize, f64)) -> Vec<Cutting<'_>> {
        let slack = self.tolerance.length;
        let earlier = self.cuts.iter().take_while(|(i, _, _)| *i <= step);
        let cutting = earlier.filter_map(|(i, track, cutter)| {
            let (first, last) = track.between(h - cutter.flutes - slack, h + slack)?;
            let last = if *i == step { last.min(t) } else { last };
            let part = (first, last);
            (first < last || (first == last && *i < step)).then_some(Cutting { track, cutter, part })
        });
        // Whole turns first: they cut most, and are the quickest to ask.
        let whole = |c: &Cutting<'_>| c.track.round.is_some_and(|r| r.sweep.abs() > 6.0);
        let (mut first, rest): (Vec<_>, Vec<_>) = cutting.partition(whole);
        first.extend(rest);
        first
    }

    /// Whether a cutter standing there, from a height upwards, would meet metal that still stands before a
    /// part of a step.
    #[must_use]
    pub fn meets(&self, p: Spot, from: f64, cutter: &Cutter, before: (usize, f64)) -> bool {
        let small = 4.0 * self.tolerance.length;
        let top = self.top();
        let heights = [from + small, f64::midpoint(from, top), top - small];
        heights.into_iter().filter(|h| from < *h && *h < top).any(|h| {
            let cutting = self.cutting_before(h, before);
            disc(p, cutter.radius() - small).any(|q| {
                let air = self.air.iter().any(|a| a.holds(q, h));
                !air && !cutting.iter().any(|c| c.cuts(q, self.tolerance))
            })
        })
    }
}

/// Points of a disc, most of them on its rim.
fn disc(p: Spot, radius: f64) -> impl Iterator<Item = Spot> {
    let ring = move |count: u32, r: f64| {
        (0..count).map(move |k| {
            let angle = TAU * (f64::from(k) + 0.41) / f64::from(count);
            [p[0] + r * angle.cos(), p[1] + r * angle.sin()]
        })
    };
    ring(24, radius).chain(ring(8, radius / 2.0)).chain([p])
}
