//! Arcs and helices in centre and radius format (NISTIR 6556, section 3.5.3).

use borewright_base::Span;

use super::words::Words;
use super::{Arc, Outcome, Path, Stepper};
use crate::controller::ArcCentre;
use crate::errors::{self, Fault};
use crate::state::{Axis, Plane};
use crate::text::{Number, Relation};
use crate::value::{Condition, Elementary, Value};

/// Coordinates that differ by less than this are one place: far below any controller's increment.
const SAME_PLACE: Number = Number { mantissa: 1, decimals: 7, point: true, float: 1e-7 };
/// By this part a half chord may exceed the radius of an arc in radius format (reference interpreter of NISTIR
/// 6556, from memory).
const CHORD_EXCESS: Number =
    Number { mantissa: 1_000_000_000_001, decimals: 12, point: true, float: 1.000_000_000_001 };

/// Start, end and what the arc is about, in the plane.
struct Chord<V> {
    plane: Plane,
    first: Axis,
    second: Axis,
    /// From start to end.
    along: [V; 2],
}

impl<V: Value> Stepper<'_, V> {
    pub(super) fn arc(&mut self, words: &mut Words<V>, counterclockwise: bool) -> Outcome<V> {
        let plane = self.now.plane.ok_or_else(|| self.unknown_mode("plane", "G17, G18 or G19"))?;
        let [first, second, normal] = plane.axes();
        let ends = words.has(first.letter()) || words.has(second.letter());
        let radius = words.take('R');
        let offsets = [first, second].map(|axis| words.take(axis.centre_letter()));
        if let Some((_, span)) = words.take(normal.centre_letter()) {
            return Err(wrong_centre_word(normal, plane, span).into());
        }
        let to = self.end_point(words, false)?;
        let from = self.now.position.clone();
        let along = [first, second].map(|axis| to.along(axis).subtract(from.along(axis)));
        let chord = Chord { plane, first, second, along };
        let full = self.same_place(&chord);
        self.allowed(&full, from.along(normal), to.along(normal))?;
        let centre = match (radius, &offsets) {
            (Some((_, span)), [Some(_), _] | [_, Some(_)]) => return Err(both_formats(span).into()),
            (None, [None, None]) => return Err(self.no_centre(&chord).into()),
            (Some((radius, span)), [None, None]) => {
                self.radius_format(&chord, &radius, counterclockwise, &full, span)?
            }
            (None, _) => self.centre_format(&chord, &offsets, ends)?,
        };
        let feed = self.feed(words)?;
        let mut middle = from.clone();
        let [u, v] = centre;
        *middle.along_mut(first) = from.along(first).add(&u);
        *middle.along_mut(second) = from.along(second).add(&v);
        let arc = Arc { centre: middle, plane, counterclockwise, full };
        if self.now.compensated.is_some() {
            return self.compensated_arc(arc, to, feed);
        }
        self.push_move(Path::Arc(arc), to, feed, false)
    }

    /// Some machines take no full circle in one block, or no helix.
    fn allowed(&mut self, full: &V::Condition, from: &V, to: &V) -> Outcome<V> {
        let span = self.block.span;
        if !self.controller.full_circles {
            self.need(full.negated(), || {
                Fault::new(errors::ARC_INCOMPLETE, span, "this machine takes no full circle in one block")
                    .hint("write two half circles")
            })?;
        }
        if !self.controller.helices {
            self.need(from.compare(Relation::Equal, to), || {
                Fault::new(
                    errors::ARC_INCOMPLETE,
                    span,
                    "this machine takes no arc that moves along a third axis",
                )
                .hint("write flat arcs, and go down between them")
            })?;
        }
        Ok(())
    }

    fn same_place(&self, chord: &Chord<V>) -> V::Condition {
        let tiny = V::number(SAME_PLACE);
        let [u, v] = &chord.along;
        let near = |d: &V| d.abs().compare(Relation::Less, &tiny);
        near(u).and(&near(v))
    }

    /// The centre from the start, by I, J, K; the radii at both ends are compared.
    fn centre_format(
        &mut self,
        chord: &Chord<V>,
        offsets: &[Option<(V, Span)>; 2],
        ends: bool,
    ) -> Outcome<V, [V; 2]> {
        if !ends && !self.controller.circle_without_end {
            return Err(self.no_end(chord).into());
        }
        let [first, second] = [(chord.first, 0), (chord.second, 1)].map(|(axis, index)| {
            let given = offsets.get(index).and_then(|o| o.as_ref()).map(|(value, _)| value.clone());
            self.offset(axis, given)
        });
        let (u, v) = (first, second);
        let length = |a: &V, b: &V| a.square().add(&b.square()).apply(Elementary::Sqrt);
        let [du, dv] = &chord.along;
        let at_start = length(&u, &v);
        let at_end = length(&du.subtract(&u), &dv.subtract(&v));
        self.radii(&at_start, &at_end)?;
        Ok([u, v])
    }

    /// An offset left out is 0 from the start, or 0 itself where centres are absolute.
    fn offset(&self, axis: Axis, given: Option<V>) -> V {
        let given = given.unwrap_or_else(|| V::integer(0));
        match self.controller.arc_centre {
            ArcCentre::FromStart => given,
            ArcCentre::Absolute => given.subtract(self.now.position.along(axis)),
        }
    }

    fn radii(&mut self, at_start: &V, at_end: &V) -> Outcome<V> {
        let units = self.units()?;
        let span = self.block.span;
        let tolerance = self.controller.arc_tolerance.of(units);
        let smallest = V::number(self.controller.smallest_arc.of(units));
        let fit = at_start.against_zero(Relation::Greater);
        self.need(fit, || {
            Fault::new(errors::ARC_INCOMPLETE, span, "an arc whose centre is its start")
                .hint("I, J and K lead from the start to the centre; one of them must not be 0")
        })?;
        self.need(at_start.compare(Relation::GreaterOrEqual, &smallest), || {
            Fault::new(errors::ARC_INCOMPLETE, span, "the radius is smaller than this machine's smallest arc")
                .hint("use a larger lead radius or a smaller cutter")
        })?;
        let difference = at_start.subtract(at_end).abs();
        let message = || {
            let (start, end) = (at_start.text(), at_end.text());
            let (tolerance, units) = (tolerance.text(), units.name());
            format!(
                "the radius is {start} at the start and {end} at the end: more apart than {tolerance} {units}"
            )
        };
        self.expect(difference.compare(Relation::LessOrEqual, &V::number(tolerance)), || {
            Fault::new(errors::ARC_MISMATCH, span, message()).hint(
                "start and end must lie on one circle about the centre: check I, J, K and the end point",
            )
        });
        Ok(())
    }

    /// The centre from the start, by R: a positive R turns at most 180 degrees, a negative one more.
    fn radius_format(
        &mut self,
        chord: &Chord<V>,
        radius: &V,
        counterclockwise: bool,
        full: &V::Condition,
        span: Span,
    ) -> Outcome<V, [V; 2]> {
        let [du, dv] = &chord.along;
        self.need(full.negated(), || {
            Fault::new(errors::ARC_INCOMPLETE, span, "an arc with R whose end is its start").hint(
                "R leaves the centre open then: give the centre with I and J (NISTIR 6556, section 3.5.3.1)",
            )
        })?;
        self.need(radius.against_zero(Relation::NotEqual), || {
            Fault::new(errors::ARC_INCOMPLETE, span, "an arc with radius 0")
                .hint("give the radius of the arc")
        })?;
        let two = V::integer(2);
        let length = du.square().add(&dv.square()).apply(Elementary::Sqrt);
        let half = length.divide(&two);
        let reach = radius.abs().multiply(&V::number(CHORD_EXCESS));
        self.need(half.compare(Relation::LessOrEqual, &reach), || {
            Fault::new(errors::ARC_MISMATCH, span, "the end is further away than twice the radius R")
                .hint("no circle of that radius goes through both points: check R and the end point")
        })?;
        // max(0, r^2 - h^2) without a branch: a half circle may miss by a rounding.
        let rest = radius.square().subtract(&half.square());
        let rest = rest.add(&rest.abs()).divide(&two);
        let side = if counterclockwise { V::integer(1) } else { V::integer(-1) };
        let sign = side.multiply(radius).divide(&radius.abs());
        let part = rest.apply(Elementary::Sqrt).multiply(&sign).divide(&length);
        let (mid_u, mid_v) = (du.divide(&two), dv.divide(&two));
        Ok([mid_u.subtract(&dv.multiply(&part)), mid_v.add(&du.multiply(&part))])
    }

    fn no_centre(&self, chord: &Chord<V>) -> Fault {
        let (a, b) = (chord.first.centre_letter(), chord.second.centre_letter());
        Fault::new(errors::ARC_INCOMPLETE, self.block.span, "an arc without its centre or radius")
            .hint(format!("in the plane {} give {a} and {b}, or R", chord.plane.name()))
    }

    fn no_end(&self, chord: &Chord<V>) -> Fault {
        let (a, b) = (chord.first.letter(), chord.second.letter());
        Fault::new(errors::ARC_INCOMPLETE, self.block.span, "an arc without its end point")
            .hint(format!("give {a} or {b}, even for a full circle (NISTIR 6556, section 3.5.3.2)"))
    }
}

fn wrong_centre_word(normal: Axis, plane: Plane, span: Span) -> Fault {
    let letter = normal.centre_letter();
    Fault::new(
        errors::ARC_INCOMPLETE,
        span,
        format!("{letter} has no meaning for an arc in the plane {}", plane.name()),
    )
    .hint("check the active plane: G17 takes I and J, G18 I and K, G19 J and K")
}

fn both_formats(span: Span) -> Fault {
    Fault::new(errors::ARC_INCOMPLETE, span, "an arc with both R and a centre")
        .hint("give either R, or I, J and K")
}
