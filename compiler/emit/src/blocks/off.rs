//! How far the rounded words of one move are off, worked out from the words themselves.

use borewright_motion::{FlatStep, Position, Spot, Value};
use borewright_number::{Interval, Rational};

use super::Emitter;
use crate::arcs::Grid;
use crate::deviation::{ArcParts, length};
use crate::number::Steps;

impl Emitter<'_> {
    /// One step of the last decimal, in the machine's unit.
    fn step_size(&self) -> Interval {
        Interval::from_rational(&(self.machine.resolution() / self.machine.unit()))
    }

    /// From exact mm to the machine's unit.
    fn in_unit(&self, value: &Value) -> Interval {
        match value {
            Value::Exact(exact) => Interval::from_rational(&(exact / &self.machine.unit())),
            Value::Near(near) => *near / Interval::from_rational(&self.machine.unit()),
        }
    }

    fn rounded(&self, steps: Steps) -> Interval {
        Interval::from_rational(&Rational::from(steps)) * self.step_size()
    }

    fn axis_off(&self, rounded: Option<Steps>, exact: Option<&Value>) -> f64 {
        match (rounded, exact) {
            (Some(rounded), Some(exact)) => (self.rounded(rounded) - self.in_unit(exact)).abs().hi,
            _ => 0.0,
        }
    }

    /// How far X and Y are off.
    pub(super) fn plane_off(&self, target: [Option<Steps>; 3], end: &Position) -> (f64, f64) {
        let [x, y, _] = target;
        (self.axis_off(x, end.x.as_ref()), self.axis_off(y, end.y.as_ref()))
    }

    pub(super) fn height_off(&mut self, target: [Option<Steps>; 3], end: &Position) {
        let [_, _, z] = target;
        let off = self.axis_off(z, end.z.as_ref());
        self.deviation.height(off);
    }

    pub(super) fn line_off(&mut self, step: &FlatStep, target: [Option<Steps>; 3]) {
        let (start, end) = (self.plane_off(self.at, &step.start), self.plane_off(target, &step.end));
        self.deviation.ends(end);
        self.deviation.line(length(start.0, start.1), length(end.0, end.1));
        self.height_off(target, &step.end);
    }

    /// The place halfway round a full turn that is written as two halves: it lies opposite the start.
    pub(super) fn across_off(&mut self, step: &FlatStep, about: &Spot, across: Grid) {
        let off = |at: Steps, start: Option<&Value>, about: &Value| {
            let about = self.in_unit(about);
            start.map_or(0.0, |start| (self.rounded(at) - (about + about - self.in_unit(start))).abs().hi)
        };
        let x = off(across.0, step.start.x.as_ref(), &about.x);
        let y = off(across.1, step.start.y.as_ref(), &about.y);
        self.deviation.ends((x, y));
    }

    /// `(start, end, centre)` as written.
    pub(super) fn arc_off(
        &mut self,
        step: &FlatStep,
        about: &Spot,
        written: (Grid, Grid, Grid),
        mismatch: f64,
    ) {
        let (start, end, centre) = written;
        let exact = |p: &Position| Some((self.in_unit(p.x.as_ref()?), self.in_unit(p.y.as_ref()?)));
        let (Some(from), Some(to)) = (exact(&step.start), exact(&step.end)) else { return };
        let middle = (self.in_unit(&about.x), self.in_unit(&about.y));
        let apart = |a: Grid, b: (Interval, Interval)| (self.rounded(a.0) - b.0, self.rounded(a.1) - b.1);
        let size = |v: (Interval, Interval)| length(v.0.abs().hi, v.1.abs().hi);
        let off = apart(centre, middle);
        let relative = |end: (Interval, Interval)| size((end.0 - off.0, end.1 - off.1));
        let way = (from.0 - middle.0, from.1 - middle.1);
        let parts = ArcParts {
            start: relative(apart(start, from)),
            end: relative(apart(end, to)),
            centre: size(off),
            shift: 0.0,
            radius: (way.0.squared() + way.1.squared()).sqrt().lo,
        };
        let ends = apart(end, to);
        self.deviation.ends((ends.0.abs().hi, ends.1.abs().hi));
        self.deviation.arc(parts, mismatch * self.step_size().hi);
    }
}
