//! Cutter radius compensation: the centre runs beside the programmed path (NISTIR 6556, section 3.5.10 and appendix B).
//!
//! Everything is said of one signed length, how far the centre runs to the left of the path. The offset of a line is a
//! line; that of an arc is an arc about the same centre. Where two moves meet with one tangent their offsets meet too;
//! where the path bends away from the cutter the centre goes around the corner on an arc, if the controller does that;
//! where it bends towards it, the block is refused.

use borewright_base::Span;

use super::modes::not_modelled;
use super::words::{Words, conversion};
use super::{Arc, Feed, Outcome, Path, Stepper, Stop};
use crate::code::Preparatory;
use crate::controller::Compensation;
use crate::errors::{self, Fault};
use crate::state::{Compensated, Offset, Plane, Side, Triple, Units};
use crate::text::{Number, Relation};
use crate::value::{Condition, Elementary, Truth, Value};

/// Sine of the angle up to which two moves count as meeting with one tangent (the reference interpreter of NISTIR 6556
/// takes 0.01 rad for a concave corner, from memory).
const SMOOTH: Number = Number { mantissa: 1, decimals: 2, point: true, float: 0.01 };
/// A way that is shorter has no direction: far below any controller's increment.
const NO_WAY: Number = Number { mantissa: 1, decimals: 7, point: true, float: 1e-7 };

/// Codes that act before compensation is switched, and that it does not bear while it is on (NISTIR 6556, B.5).
pub(super) fn before_compensation(code: Preparatory, units: Option<Units>) -> bool {
    let other_units = matches!(code, Preparatory::Units(new) if Some(new) != units);
    other_units || matches!(code, Preparatory::Plane(Plane::XZ | Plane::YZ))
}

/// Codes that act after it, and that it does not bear (NISTIR 6556, B.5 and sections 3.5.12 to 3.5.16).
pub(super) fn after_compensation(code: Preparatory, _: Option<Units>) -> bool {
    matches!(
        code,
        Preparatory::MachineCoordinates
            | Preparatory::WorkOffset(_)
            | Preparatory::SetData
            | Preparatory::Home
            | Preparatory::SecondHome
            | Preparatory::Probe
            | Preparatory::Cycle(_)
            | Preparatory::SetPosition
            | Preparatory::ClearPosition
            | Preparatory::SuspendPosition
            | Preparatory::ResumePosition
    )
}

impl<V: Value> Stepper<'_, V> {
    /// G40, G41, G42 and the word that names the offset.
    pub(super) fn compensation(&mut self, words: &mut Words<V>) -> Outcome<V> {
        let controller = self.controller;
        let letter = controller.compensation.as_ref().map_or('D', |c| c.letter);
        let d = words.take(letter);
        if let Some((d, span)) = &d {
            self.not_negative(d, letter, *span)?;
            self.now.d = Some(d.clone());
        }
        if words.place(Preparatory::CompensationOff).is_some() {
            // Still so where it was off already and nothing has moved since.
            let leaving = self.now.compensated.as_ref().map(|_| Compensated::Leaving);
            self.back_to_centre();
            self.now.compensated = leaving;
            self.now.compensation = Some(false);
        }
        if let Some(Compensated::On(offset)) = &mut self.now.compensated {
            offset.waiting = offset.waiting.saturating_add(1);
        }
        let on = words.code(|c| if let Preparatory::Compensation(side) = c { Some(side) } else { None });
        let Some((side, span)) = on else {
            return match (d, &self.now.compensated) {
                (Some((_, place)), Some(Compensated::On(_))) => {
                    Err(not_modelled("another offset while compensation is on", place)
                        .hint("switch compensation off first")
                        .into())
                }
                _ => Ok(()),
            };
        };
        match &controller.compensation {
            Some(how) => self.switch_on(side, d.map(|(d, _)| d), how, span),
            None => Err(not_modelled("cutter radius compensation (G41, G42)", span)
                .hint(
                    "program the path of the cutter's centre instead, or state `[compensation]` in the machine file",
                )
                .into()),
        }
    }

    fn switch_on(&mut self, side: Side, d: Option<V>, how: &Compensation, span: Span) -> Outcome<V> {
        let plane = self.now.plane.ok_or_else(|| self.unknown_mode("plane", "G17"))?;
        if plane != Plane::XY {
            return Err(misused("cutter radius compensation works in the XY plane only", span)
                .hint("program G17 before it (NISTIR 6556, section 3.5.10)")
                .into());
        }
        let already = self.now.compensation.ok_or_else(|| self.unknown_mode("cutter compensation", "G40"))?;
        if already {
            return Err(misused("cutter radius compensation is on already", span)
                .hint("switch it off with G40 first (NISTIR 6556, section 3.5.10)")
                .into());
        }
        let d = d.or_else(|| self.now.tool.clone().filter(|_| how.spindle_tool));
        let letter = how.letter;
        let d = d.ok_or_else(|| {
            Fault::new(
                errors::VALUE_MISSING,
                span,
                format!("compensation needs {letter}, the number of its offset"),
            )
            .hint(format!("usually the tool number: {letter}1 with T1"))
        })?;
        let units = self.units()?;
        let kept = conversion(&self.memory.cutter_offset(&d)?, self.controller.units, units);
        let greatest = how.greatest.of(units);
        self.need(kept.abs().compare(Relation::LessOrEqual, &V::number(greatest)), || {
            let message =
                format!("the offset {} is beyond {}, the greatest here", kept.text(), greatest.text());
            Fault::new(errors::OFFSET_TOO_LARGE, span, message)
                .hint("check what the operator has entered for it")
        })?;
        let radius = if how.diameter { kept.divide(&V::integer(2)) } else { kept };
        let negative = self.decide(&radius.against_zero(Relation::Less), span)?;
        let left = match side {
            Side::Left => radius,
            Side::Right => radius.negate(),
        };
        let centre = [self.now.position.x.clone(), self.now.position.y.clone()];
        self.now.compensation = Some(true);
        self.now.compensated =
            Some(Compensated::On(Offset { side, left, negative, centre, heading: None, waiting: 0 }));
        Ok(())
    }

    /// The position is the cutter's centre again.
    pub(super) fn back_to_centre(&mut self) {
        let Some(Compensated::On(offset)) = self.now.compensated.take() else { return };
        let [x, y] = offset.centre;
        self.now.position = Triple { x, y, z: self.now.position.z.clone() };
    }

    /// Refuses codes that compensation does not bear.
    pub(super) fn refuse_with_compensation(
        &self,
        words: &Words<V>,
        refused: fn(Preparatory, Option<Units>) -> bool,
    ) -> Outcome<V> {
        let on = matches!(self.now.compensated, Some(Compensated::On(_)));
        match words.codes.iter().find(|(code, _)| on && refused(*code, self.now.units)) {
            None => Ok(()),
            Some((_, span)) => {
                Err(misused("this code may not stand while cutter radius compensation is on", *span)
                    .hint("switch compensation off with G40 first (NISTIR 6556, appendix B.5)")
                    .into())
            }
        }
    }

    /// A straight move with compensation on, or the first one after it.
    pub(super) fn compensated_line(
        &mut self,
        words: &Words<V>,
        path: Path<V>,
        to: Triple<V>,
        feed: Option<Feed<V>>,
        machine: bool,
    ) -> Outcome<V> {
        let named = ['X', 'Y'].map(|letter| words.was_written(letter));
        match self.now.compensated.take() {
            Some(Compensated::Leaving) if named == [false, false] => {
                self.now.compensated = Some(Compensated::Leaving);
                self.push_move(path, to, feed, machine)
            }
            Some(Compensated::Leaving) => {
                if named != [true, true] || (self.incremental()? && !machine) {
                    return Err(not_modelled("a way off the compensated path that leaves X or Y open", self.block.span)
                        .hint("name both X and Y, in G90, in the first move after G40: controllers differ on the rest")
                        .into());
                }
                self.push_move(path, to, feed, machine)
            }
            Some(Compensated::On(offset)) => self.offset_line(offset, path, to, feed),
            None => self.push_move(path, to, feed, machine),
        }
    }

    fn offset_line(
        &mut self,
        mut offset: Offset<V>,
        path: Path<V>,
        to: Triple<V>,
        feed: Option<Feed<V>>,
    ) -> Outcome<V> {
        let span = self.block.span;
        let start = match offset.heading {
            Some(_) => [self.now.position.x.clone(), self.now.position.y.clone()],
            None => offset.centre.clone(),
        };
        let end = [to.x.clone(), to.y.clone()];
        let way = minus(&end, &start);
        let length = length(&way);
        let stays = length.compare(Relation::LessOrEqual, &V::number(NO_WAY));
        if self.decide(&stays, span)? {
            if offset.heading.is_none() && self.block_names_the_plane() {
                return Err(no_room("the way on is none", span).into());
            }
            let centre = offset.centre.clone();
            return self.push_offset(offset, path, to, centre, feed);
        }
        self.in_time(&offset)?;
        let heading = scaled(&way, &V::integer(1).divide(&length));
        let (heading, centre) = match &offset.heading {
            None => self.entry(&offset, &heading, &length, &end)?,
            Some(before) => {
                let rapid = matches!(path, Path::Rapid);
                let before = before.clone();
                self.corner(&mut offset, &before, &heading, feed.as_ref(), rapid)?;
                let centre = plus(&end, &scaled(&to_the_left(&heading), &offset.left));
                (heading, centre)
            }
        };
        offset.heading = Some(heading);
        offset.waiting = 0;
        self.push_offset(offset, path, to, centre, feed)
    }

    fn block_names_the_plane(&self) -> bool {
        let crate::text::Content::Items(items) = &self.block.content else { return false };
        items.words.iter().any(|w| w.letter == 'X' || w.letter == 'Y')
    }

    /// The first compensated move: its direction at the end, and where the centre ends.
    fn entry(
        &mut self,
        offset: &Offset<V>,
        along: &[V; 2],
        length: &V,
        end: &[V; 2],
    ) -> Outcome<V, ([V; 2], [V; 2])> {
        let span = self.block.span;
        self.need(length.compare(Relation::Greater, &offset.left.abs()), || {
            no_room("the way on is no longer than the offset", span)
        })?;
        let tangent = self.controller.compensation.as_ref().is_some_and(|c| c.tangent_entry);
        let heading = if tangent {
            // The way to beside the end leads off the programmed line by the angle whose sine is offset / length.
            let sine = offset.left.divide(length);
            let rest = V::integer(1).subtract(&sine.square());
            let cosine = rest.add(&rest.abs()).divide(&V::integer(2)).apply(Elementary::Sqrt);
            plus(&scaled(along, &cosine), &scaled(&to_the_left(along), &sine))
        } else {
            along.clone()
        };
        let centre = plus(end, &scaled(&to_the_left(&heading), &offset.left));
        Ok((heading, centre))
    }

    /// An arc with compensation on.
    pub(super) fn compensated_arc(
        &mut self,
        arc: Arc<V>,
        to: Triple<V>,
        feed: Option<Feed<V>>,
    ) -> Outcome<V> {
        let span = self.block.span;
        let (mut offset, before) = match self.now.compensated.take() {
            Some(Compensated::On(offset)) => match offset.heading.clone() {
                Some(before) => (offset, before),
                None => return Err(straight_only("on", span).into()),
            },
            Some(Compensated::Leaving) => return Err(straight_only("off", span).into()),
            None => return self.push_move(Path::Arc(arc), to, feed, false),
        };
        self.in_time(&offset)?;
        let middle = [arc.centre.x.clone(), arc.centre.y.clone()];
        let end = [to.x.clone(), to.y.clone()];
        let outwards = [
            minus(&[self.now.position.x.clone(), self.now.position.y.clone()], &middle),
            minus(&end, &middle),
        ];
        let [first, last] = outwards.map(|spoke| {
            let radius = length(&spoke);
            (scaled(&spoke, &V::integer(1).divide(&radius)), radius)
        });
        let forward = |out: &[V; 2]| {
            let left = to_the_left(out);
            if arc.counterclockwise { left } else { scaled(&left, &V::integer(-1)) }
        };
        // To the left of a counterclockwise arc is its inside.
        let outside = if arc.counterclockwise { offset.left.negate() } else { offset.left.clone() };
        let radius = last.1.add(&outside);
        let smallest = V::number(self.controller.smallest_arc.of(self.units()?));
        let room =
            radius.against_zero(Relation::Greater).and(&radius.compare(Relation::GreaterOrEqual, &smallest));
        self.need(room, || no_room("the arc is no larger than the offset inside it", span))?;
        self.corner(&mut offset, &before, &forward(&first.0), feed.as_ref(), false)?;
        let centre = plus(&end, &scaled(&last.0, &outside));
        offset.heading = Some(forward(&last.0));
        offset.waiting = 0;
        self.push_offset(offset, Path::Arc(arc), to, centre, feed)
    }

    /// The joint between the move before and this one.
    fn corner(
        &mut self,
        offset: &mut Offset<V>,
        before: &[V; 2],
        after: &[V; 2],
        feed: Option<&Feed<V>>,
        rapid: bool,
    ) -> Outcome<V> {
        let span = self.block.span;
        let [[a, b], [c, d]] = [before, after];
        let turn = a.multiply(d).subtract(&b.multiply(c));
        let onwards = a.multiply(c).add(&b.multiply(d)).against_zero(Relation::Greater);
        let straight = turn.abs().compare(Relation::LessOrEqual, &V::number(SMOOTH));
        if self.decide(&straight, span)? {
            return if self.decide(&onwards, span)? {
                Ok(())
            } else {
                Err(bend("turns back on itself", span).into())
            };
        }
        let on_the_left = (offset.side == Side::Left) != offset.negative;
        let away = if on_the_left { Relation::Less } else { Relation::Greater };
        if !self.decide(&turn.against_zero(away), span)? {
            return Err(bend("has an inside corner", span).into());
        }
        if !self.controller.compensation.as_ref().is_some_and(|c| c.corner_arcs) {
            return Err(bend("has an outside corner, where controllers differ", span).into());
        }
        if rapid || matches!(feed, Some(Feed::InverseTime(_))) {
            return Err(not_modelled("an outside corner at rapid or by inverse time", span).into());
        }
        if self.decide(&offset.left.abs().compare(Relation::LessOrEqual, &V::number(NO_WAY)), span)? {
            return Ok(());
        }
        let corner = self.now.position.clone();
        let centre = plus(&[corner.x.clone(), corner.y.clone()], &scaled(&to_the_left(after), &offset.left));
        let around = Arc {
            centre: corner.clone(),
            plane: Plane::XY,
            counterclockwise: !on_the_left,
            full: V::Condition::constant(false),
        };
        let before = offset.clone();
        self.push_offset(before, Path::Arc(around), corner, centre.clone(), feed.cloned())?;
        offset.centre = centre;
        Ok(())
    }

    /// The cutter's centre moves, and the position is at the end of the programmed move.
    fn push_offset(
        &mut self,
        mut offset: Offset<V>,
        path: Path<V>,
        to: Triple<V>,
        centre: [V; 2],
        feed: Option<Feed<V>>,
    ) -> Outcome<V> {
        let [x, y] = offset.centre;
        let from = Triple { x, y, z: self.now.position.z.clone() };
        self.now.position = from;
        let [x, y] = centre.clone();
        self.push_move(path, Triple { x, y, z: to.z.clone() }, feed, false)?;
        self.now.position = to;
        offset.centre = centre;
        self.now.compensated = Some(Compensated::On(offset));
        Ok(())
    }

    /// Too many blocks without a way in X or Y, and a controller no longer knows where the path goes on.
    fn in_time(&mut self, offset: &Offset<V>) -> Outcome<V> {
        let limit = self.controller.compensation.as_ref().map_or(0, |c| c.look_ahead);
        let idle = offset.waiting.saturating_sub(1);
        if idle <= limit || offset.heading.is_none() {
            return Ok(());
        }
        let message = format!("{idle} blocks without a way in X or Y between two compensated moves");
        Err(misused(&message, self.block.span)
            .hint(format!("this controller bears {limit}: beyond that it may cut into the wall"))
            .into())
    }

    fn decide(&self, condition: &V::Condition, span: Span) -> Outcome<V, bool> {
        match condition.truth() {
            Truth::True => Ok(true),
            Truth::False => Ok(false),
            Truth::Unknown => Err(Stop::Undecided { condition: condition.clone(), span }),
        }
    }
}

fn misused(what: &str, span: Span) -> Fault {
    Fault::new(errors::COMPENSATION_MISUSED, span, what)
}

fn no_room(what: &str, span: Span) -> Fault {
    Fault::new(errors::OFFSET_TOO_LARGE, span, format!("cutter radius compensation: {what}"))
        .hint("use a smaller cutter or offset, or a longer way and a larger arc")
}

fn bend(what: &str, span: Span) -> Fault {
    Fault::new(errors::COMPENSATION_CORNER, span, format!("with compensation on, the path {what} here"))
        .hint("let the moves meet with one tangent, or program an arc larger than the offset between them")
}

fn straight_only(what: &str, span: Span) -> Fault {
    not_modelled(&format!("switching compensation {what} by an arc"), span)
        .hint("switch it on and off on a straight line, longer than the offset and off the wall")
}

fn plus<V: Value>([a, b]: &[V; 2], [c, d]: &[V; 2]) -> [V; 2] {
    [a.add(c), b.add(d)]
}

fn minus<V: Value>([a, b]: &[V; 2], [c, d]: &[V; 2]) -> [V; 2] {
    [a.subtract(c), b.subtract(d)]
}

fn scaled<V: Value>([a, b]: &[V; 2], by: &V) -> [V; 2] {
    [a.multiply(by), b.multiply(by)]
}

/// A quarter turn counterclockwise.
fn to_the_left<V: Value>([a, b]: &[V; 2]) -> [V; 2] {
    [b.negate(), a.clone()]
}

fn length<V: Value>([a, b]: &[V; 2]) -> V {
    a.square().add(&b.square()).apply(Elementary::Sqrt)
}
