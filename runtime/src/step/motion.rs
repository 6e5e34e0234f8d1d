//! Straight moves, home moves, and which motion a block asks for.

use borewright_base::Span;

use super::modes::not_modelled;
use super::words::{Words, conversion};
use super::{During, Effect, Feed, Move, Outcome, Path, Stepper};
use crate::code::Preparatory;
use crate::errors::{self, Fault};
use crate::state::{Axis, Distance, FeedMode, Motion, Triple};
use crate::text::Relation;
use crate::value::{Condition, Value};

impl<V: Value> Stepper<'_, V> {
    /// The motion of the block, if it has one.
    pub(super) fn motion(&mut self, words: &mut Words<V>) -> Outcome<V> {
        let named = words.code(|c| if let Preparatory::Motion(m) = c { Some(m) } else { None });
        if let Some((motion, _)) = named {
            self.now.motion = Some(motion);
        }
        let machine = words.place(Preparatory::MachineCoordinates);
        let axes = words.has_axis() || (!self.strict() && "IJK".chars().any(|c| words.has(c)));
        if !axes {
            return self.without_axes(words, named, machine);
        }
        let motion = self.motion_mode()?;
        if let Some(span) = machine {
            self.only_straight(motion, span)?;
        }
        match motion {
            Motion::None => Err(Fault::new(
                errors::UNUSED_WORD,
                self.block.span,
                "axis words while no motion mode is active",
            )
            .hint("G80 has ended the motion mode: program G0, G1, G2 or G3")
            .into()),
            Motion::Rapid => self.straight(words, Path::Rapid, machine.is_some()),
            Motion::Line => self.straight(words, Path::Line, machine.is_some()),
            Motion::ArcClockwise => self.arc(words, false),
            Motion::ArcCounterclockwise => self.arc(words, true),
        }
    }

    fn strict(&self) -> bool {
        self.controller.dialect.motion_needs_axes
    }

    /// A code that wants axis words and has none; home moves and the like have used theirs.
    fn without_axes(
        &self,
        words: &Words<V>,
        named: Option<(Motion, Span)>,
        machine: Option<Span>,
    ) -> Outcome<V> {
        let used = words
            .codes
            .iter()
            .any(|(c, _)| matches!(c, Preparatory::Home | Preparatory::SetData | Preparatory::SetPosition));
        match (named, machine) {
            (
                Some((
                    Motion::Rapid | Motion::Line | Motion::ArcClockwise | Motion::ArcCounterclockwise,
                    span,
                )),
                _,
            ) if used => {
                Err(Fault::new(errors::UNUSED_WORD, span, "two codes in this block want the axis words")
                    .hint("make it two blocks")
                    .into())
            }
            (
                Some((
                    Motion::Rapid | Motion::Line | Motion::ArcClockwise | Motion::ArcCounterclockwise,
                    span,
                )),
                _,
            ) if self.strict() => Err(Fault::new(errors::VALUE_MISSING, span, "a motion without X, Y or Z")
                .hint("give at least one of them")
                .into()),
            (_, Some(span)) => Err(Fault::new(errors::VALUE_MISSING, span, "G53 without X, Y or Z")
                .hint("give at least one of them")
                .into()),
            (_, None) => Ok(()),
        }
    }

    fn only_straight(&self, motion: Motion, span: Span) -> Result<(), Fault> {
        match motion {
            Motion::Rapid | Motion::Line => Ok(()),
            Motion::None | Motion::ArcClockwise | Motion::ArcCounterclockwise => {
                Err(Fault::new(errors::UNUSED_WORD, span, "G53 goes with G0 or G1 only")
                    .hint("program G0 or G1 in this block (NISTIR 6556, section 3.5.12)"))
            }
        }
    }

    fn straight(&mut self, words: &mut Words<V>, path: Path<V>, machine: bool) -> Outcome<V> {
        let to = self.end_point(words, machine)?;
        let feed = match path {
            Path::Rapid => None,
            Path::Line | Path::Arc(_) => self.feed(words)?,
        };
        if self.now.compensated.is_some() {
            return self.compensated_line(words, path, to, feed, machine);
        }
        self.push_move(path, to, feed, machine)
    }

    /// Where the axis words of the block lead.
    pub(super) fn end_point(&mut self, words: &mut Words<V>, machine: bool) -> Outcome<V, Triple<V>> {
        let mut to = self.now.position.clone();
        for axis in Axis::ALL {
            let Some((value, span)) = words.take(axis.letter()) else { continue };
            self.within_greatest(&value, span)?;
            let target = if machine {
                self.to_program(axis, &value)
            } else if self.incremental()? {
                to.along(axis).add(&value)
            } else {
                value
            };
            *to.along_mut(axis) = target;
        }
        for letter in ['A', 'B', 'C', 'U', 'V', 'W'] {
            if let Some((_, span)) = words.take(letter) {
                return Err(not_modelled(&format!("the axis {letter}"), span).into());
            }
        }
        Ok(to)
    }

    pub(super) fn incremental(&self) -> Result<bool, Fault> {
        match self.now.distance {
            Some(distance) => Ok(distance == Distance::Incremental),
            None => Err(self.unknown_mode("distance mode", "G90 or G91")),
        }
    }

    /// The feed of a cutting move; without one the move is expected to be refused.
    pub(super) fn feed(&mut self, words: &Words<V>) -> Outcome<V, Option<Feed<V>>> {
        let mode = self.now.feed_mode.ok_or_else(|| self.unknown_mode("feed mode", "G94"))?;
        let inverse = mode == FeedMode::InverseTime;
        // In inverse time each block states its own F (NISTIR 6556, section 3.5.19).
        let stated = self.now.feed.clone().filter(|_| !inverse || words.was_written('F'));
        let span = self.block.span;
        let fault = move || {
            let message = if inverse {
                "with G93 each cutting block needs its own F"
            } else {
                "no feed is set for this cutting move"
            };
            Fault::new(errors::FEED_MISSING, span, message).hint(
                "add F with a number above 0 to this block; a change of units or feed mode needs a new one",
            )
        };
        let Some(feed) = stated else {
            self.expect(V::Condition::constant(false), fault);
            return Ok(None);
        };
        self.expect(feed.against_zero(Relation::Greater), fault);
        Ok(Some(if inverse { Feed::InverseTime(feed) } else { Feed::PerMinute(feed) }))
    }

    pub(super) fn push_move(
        &mut self,
        path: Path<V>,
        to: Triple<V>,
        feed: Option<Feed<V>>,
        machine: bool,
    ) -> Outcome<V> {
        let units = self.units()?;
        let from = std::mem::replace(&mut self.now.position, to.clone());
        let during = During {
            spindle: self.now.spindle,
            length_offset: self.now.length_offset,
            incremental: self.now.distance == Some(Distance::Incremental),
            machine_coordinates: machine,
        };
        let (line, span) = (self.block.line, self.block.span);
        self.effects.push(Effect::Move(Box::new(Move { line, span, path, from, to, units, feed, during })));
        Ok(())
    }

    /// G28: at rapid to the point of the axis words, then home (NISTIR 6556, section 3.5.8). Which axes go home
    /// differs: see [`crate::Controller::home_named_axes`].
    pub(super) fn home(&mut self, words: &mut Words<V>, span: Span) -> Outcome<V> {
        let named = Axis::ALL.map(|axis| words.has(axis.letter()));
        let any = named.contains(&true);
        // Only a way in X or Y brings the centre back to the programmed path after G40.
        if named != [false, false, true] {
            self.now.compensated = None;
        }
        if self.controller.home_named_axes && !any {
            return Err(Fault::new(errors::VALUE_MISSING, span, "G28 without X, Y or Z")
                .hint("name the axes that go home: G91 G28 Z0")
                .into());
        }
        if any {
            let via = self.end_point(words, false)?;
            self.push_move(Path::Rapid, via, None, false)?;
        }
        let units = self.units()?;
        let mut to = self.now.position.clone();
        for (axis, named) in Axis::ALL.into_iter().zip(named) {
            if named || !self.controller.home_named_axes {
                let home = conversion(&self.memory.home(axis), self.controller.units, units);
                *to.along_mut(axis) = self.to_program(axis, &home);
            }
        }
        self.push_move(Path::Rapid, to, None, true)
    }
}
