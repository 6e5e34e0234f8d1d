//! Modes, spindle, coolant, tool and offsets, in the order of NISTIR 6556, Table 8.

use borewright_base::Span;

use super::compensation::{after_compensation, before_compensation};
use super::evaluate::switch_coolant;
use super::words::{Words, conversion};
use super::{Effect, Outcome, Stepper};
use crate::code::{Miscellaneous, Preparatory};
use crate::controller::DwellUnit;
use crate::errors::{self, Fault};
use crate::state::{Axis, Spindle, Triple, Units};
use crate::text::{Items, Relation};
use crate::value::Value;

impl<V: Value> Stepper<'_, V> {
    /// A block of words and assignments.
    pub(super) fn items(&mut self, items: &Items) -> Outcome<V> {
        let mut words = self.read_words(items)?;
        let assignments = self.read_assignments(&items.assignments)?;
        if let Some(span) = words.place(Preparatory::Call) {
            let call = self.macro_call(&mut words, span)?;
            self.effects.extend(assignments);
            self.effects.push(call);
            return Ok(());
        }
        self.technology(&mut words)?;
        self.dwell(&mut words)?;
        self.geometry(&mut words)?;
        self.once(&mut words)?;
        self.motion(&mut words)?;
        self.effects.extend(assignments);
        self.program_flow(&mut words)?;
        Ok(words.refuse_unused()?)
    }

    /// Feed mode, F, S, T, M6, spindle, coolant, overrides.
    fn technology(&mut self, words: &mut Words<V>) -> Outcome<V> {
        if let Some((mode, _)) = words.code(|c| if let Preparatory::FeedMode(m) = c { Some(m) } else { None })
        {
            if self.now.feed_mode.is_some_and(|before| before != mode) {
                self.now.feed = None;
            }
            self.now.feed_mode = Some(mode);
        }
        if let Some((feed, span)) = words.take('F') {
            self.not_negative(&feed, 'F', span)?;
            self.now.feed = Some(feed);
        }
        if let Some((speed, span)) = words.take('S') {
            self.not_negative(&speed, 'S', span)?;
            self.now.speed = Some(speed.clone());
            self.effects.push(Effect::Speed(speed));
        }
        if let Some((tool, span)) = words.take('T') {
            self.not_negative(&tool, 'T', span)?;
            self.now.selected = Some(tool.clone());
            self.effects.push(Effect::Select(tool));
        }
        if words.misc(|m| (m == Miscellaneous::ToolChange).then_some(())).is_some() {
            self.tool_change();
        }
        if let Some((spindle, _)) =
            words.misc(|m| if let Miscellaneous::Spindle(s) = m { Some(s) } else { None })
        {
            self.now.spindle = Some(spindle);
            self.effects.push(Effect::Spindle(spindle));
        }
        self.coolant(words);
        if let Some((on, _)) =
            words.misc(|m| if let Miscellaneous::Overrides(on) = m { Some(on) } else { None })
        {
            self.now.overrides = Some(on);
        }
        Ok(())
    }

    /// The spindle is stopped at the end of a tool change; coolant goes on (NISTIR 6556, section 3.6.3).
    fn tool_change(&mut self) {
        self.now.tool.clone_from(&self.now.selected);
        self.now.spindle = Some(Spindle::Stopped);
        self.effects.push(Effect::ToolChange(self.now.selected.clone()));
    }

    fn coolant(&mut self, words: &Words<V>) {
        let coolant = words.misc(|m| if let Miscellaneous::Coolant(c) = m { Some(c) } else { None });
        if let Some((coolant, _)) = coolant {
            switch_coolant(&mut self.now, coolant);
            self.effects.push(Effect::Coolant(coolant));
        }
    }

    pub(super) fn not_negative(&mut self, value: &V, letter: char, span: Span) -> Outcome<V> {
        self.need(value.against_zero(Relation::GreaterOrEqual), || {
            Fault::new(errors::WORD_VALUE, span, format!("{letter} is negative"))
                .hint("only 0 or more makes sense here")
        })
    }

    fn dwell(&mut self, words: &mut Words<V>) -> Outcome<V> {
        let Some(span) = words.place(Preparatory::Dwell) else { return Ok(()) };
        let letter = self.controller.dwell_letter;
        let Some((time, place)) = words.take(letter) else {
            return Err(Fault::new(
                errors::VALUE_MISSING,
                span,
                format!("G4 needs {letter}, the time to wait"),
            )
            .hint(format!("write for example G4 {letter}1.5"))
            .into());
        };
        self.not_negative(&time, letter, place)?;
        let seconds = match self.controller.dwell {
            DwellUnit::Seconds => time,
            DwellUnit::Milliseconds => time.divide(&V::integer(1000)),
        };
        self.effects.push(Effect::Dwell(seconds));
        Ok(())
    }

    /// Plane, units, compensation, length offset, work offset, path control, distance mode, return level.
    fn geometry(&mut self, words: &mut Words<V>) -> Outcome<V> {
        let codes = words.codes.clone();
        let first = |wanted: fn(Preparatory) -> bool| codes.iter().find(|(c, _)| wanted(*c)).copied();
        self.refuse_with_compensation(words, before_compensation)?;
        if let Some((Preparatory::Plane(plane), _)) = first(|c| matches!(c, Preparatory::Plane(_))) {
            self.now.plane = Some(plane);
        }
        if let Some((Preparatory::Units(units), _)) = first(|c| matches!(c, Preparatory::Units(_))) {
            self.switch_units(units, words);
        }
        self.compensation(words)?;
        self.refuse_with_compensation(words, after_compensation)?;
        self.length_offset(words)?;
        if let Some((Preparatory::WorkOffset(system), _)) = first(|c| matches!(c, Preparatory::WorkOffset(_)))
        {
            self.select_work_offset(system)?;
        }
        if let Some((Preparatory::PathControl(path), _)) = first(|c| matches!(c, Preparatory::PathControl(_)))
        {
            self.now.path_control = Some(path);
        }
        if let Some((Preparatory::Distance(distance), _)) = first(|c| matches!(c, Preparatory::Distance(_))) {
            self.now.distance = Some(distance);
        }
        if let Some((Preparatory::ReturnLevel(level), _)) =
            first(|c| matches!(c, Preparatory::ReturnLevel(_)))
        {
            self.now.return_level = Some(level);
        }
        Ok(())
    }

    /// The point stays where it is and is told in the other units. A feed of before is forgotten: whether it would
    /// be converted differs between controllers.
    fn switch_units(&mut self, to: Units, words: &Words<V>) {
        let Some(from) = self.now.units.replace(to).filter(|from| *from != to) else { return };
        let convert = |t: &Triple<V>| Triple::from_axes(|axis| conversion(t.along(axis), from, to));
        self.now.position = convert(&self.now.position);
        self.now.origin = convert(&self.now.origin);
        self.now.shift = convert(&self.now.shift);
        self.now.length = conversion(&self.now.length, from, to);
        if !words.was_written('F') {
            self.now.feed = None;
        }
    }

    fn length_offset(&mut self, words: &mut Words<V>) -> Outcome<V> {
        if let Some((h, span)) = words.take('H') {
            self.not_negative(&h, 'H', span)?;
            self.now.h = Some(h);
        }
        if words.place(Preparatory::LengthOff).is_some() {
            self.now.length_offset = Some(false);
            self.set_length(V::integer(0));
        }
        let Some(span) = words.place(Preparatory::LengthOn) else { return Ok(()) };
        let Some(h) = self.now.h.clone() else {
            return Err(Fault::new(
                errors::VALUE_MISSING,
                span,
                "G43 needs H, the number of the length offset",
            )
            .hint("usually the tool number: G43 H1 with T1")
            .into());
        };
        let length = self.memory.tool_length(&h)?;
        let length = conversion(&length, self.controller.units, self.units()?);
        self.now.length_offset = Some(true);
        self.set_length(length);
        Ok(())
    }

    /// The point stays; its Z is told with the new length.
    fn set_length(&mut self, length: V) {
        let z = self.now.position.z.add(&self.now.length.subtract(&length));
        self.now.position.z = z;
        self.now.length = length;
    }

    /// The point stays; its coordinates are told from the new origin.
    pub(super) fn set_origin(&mut self, origin: Triple<V>) {
        // The difference first: where nothing changes, nothing is rounded.
        let now = &self.now;
        self.now.position = Triple::from_axes(|axis| {
            now.position.along(axis).add(&now.origin.along(axis).subtract(origin.along(axis)))
        });
        self.now.origin = origin;
    }

    pub(super) fn select_work_offset(&mut self, system: u8) -> Outcome<V> {
        self.now.work = Some(system);
        let origin = self.work_origin(system)?;
        self.set_origin(origin);
        if let Some(variable) = self.controller.variables.active_offset {
            self.effects.push(Effect::Set { variable, value: Some(V::integer(i32::from(system))) });
        }
        Ok(())
    }

    /// The origin of a work offset.
    fn work_origin(&self, system: u8) -> Outcome<V, Triple<V>> {
        self.stored(self.controller.variables.work_offset(system, Axis::X))
    }

    /// Three variables in a row, brought to the active units: offsets are kept in those of power-up.
    fn stored(&self, first: u32) -> Outcome<V, Triple<V>> {
        let units = self.units()?;
        let read = |n| -> Outcome<V, V> {
            let value = self.memory.read(n)?.unwrap_or_else(|| V::integer(0));
            Ok(conversion(&value, self.controller.units, units))
        };
        Ok(Triple::new(read(first)?, read(first + 1)?, read(first + 2)?))
    }

    fn store(&mut self, variable: u32, value: &V) -> Outcome<V> {
        let value = Some(conversion(value, self.units()?, self.controller.units));
        self.effects.push(Effect::Set { variable, value });
        Ok(())
    }

    /// Codes that act once: G10, G28, G30, G92 and its kin.
    fn once(&mut self, words: &mut Words<V>) -> Outcome<V> {
        for (code, span) in words.codes.clone() {
            match code {
                Preparatory::SetData => self.set_data(words, span)?,
                Preparatory::Home => self.home(words, span)?,
                Preparatory::SecondHome => {
                    return Err(not_modelled("the second home position (G30)", span).into());
                }
                Preparatory::Probe => return Err(not_modelled("probing (G38.2)", span).into()),
                Preparatory::Cycle(number) => {
                    return Err(not_modelled(&format!("the canned cycle G{number}"), span)
                        .hint("write its moves out with G0 and G1")
                        .into());
                }
                Preparatory::SetPosition => self.set_position(words, span)?,
                Preparatory::ClearPosition => self.clear_shift(true)?,
                Preparatory::SuspendPosition => self.clear_shift(false)?,
                Preparatory::ResumePosition => self.resume_shift()?,
                Preparatory::Motion(_)
                | Preparatory::Dwell
                | Preparatory::Plane(_)
                | Preparatory::Units(_)
                | Preparatory::CompensationOff
                | Preparatory::Compensation(_)
                | Preparatory::LengthOn
                | Preparatory::LengthOff
                | Preparatory::MachineCoordinates
                | Preparatory::WorkOffset(_)
                | Preparatory::PathControl(_)
                | Preparatory::Call
                | Preparatory::Distance(_)
                | Preparatory::FeedMode(_)
                | Preparatory::ReturnLevel(_) => {}
            }
        }
        Ok(())
    }

    /// `G10 L2 P1 X.. Y.. Z..`: the origin of a work offset (NISTIR 6556, section 3.5.5).
    fn set_data(&mut self, words: &mut Words<V>, span: Span) -> Outcome<V> {
        let kind = words.take('L').and_then(|(l, _)| l.whole());
        let system = words.take('P').and_then(|(p, _)| p.whole()).and_then(|p| u8::try_from(p).ok());
        let (Some(2), Some(system @ 1..=9)) = (kind, system) else {
            return Err(not_modelled("G10 in any form but L2 with P1 to P9", span).into());
        };
        let mut origin = self.work_origin(system)?;
        for axis in Axis::ALL {
            if let Some((value, _)) = words.take(axis.letter()) {
                *origin.along_mut(axis) = value.clone();
                let variable = self.controller.variables.work_offset(system, axis);
                self.store(variable, &value)?;
            }
        }
        if self.now.work == Some(system) {
            self.set_origin(origin);
        }
        Ok(())
    }

    /// `G92 X..`: the point where the cutter is gets these coordinates (NISTIR 6556, section 3.5.18).
    fn set_position(&mut self, words: &mut Words<V>, span: Span) -> Outcome<V> {
        if !words.has_axis() {
            return Err(Fault::new(errors::VALUE_MISSING, span, "G92 needs at least one of X, Y, Z")
                .hint("write the coordinates that the present point is to have")
                .into());
        }
        for axis in Axis::ALL {
            if let Some((value, _)) = words.take(axis.letter()) {
                let before = self.now.position.along(axis).subtract(&value);
                let shift = self.now.shift.along(axis).add(&before);
                *self.now.shift.along_mut(axis) = shift;
                *self.now.position.along_mut(axis) = value;
            }
        }
        self.store_shift(&self.now.shift.clone())
    }

    fn store_shift(&mut self, shift: &Triple<V>) -> Outcome<V> {
        let Some(first) = self.controller.variables.shift else { return Ok(()) };
        Axis::ALL
            .into_iter()
            .zip(first..)
            .try_for_each(|(axis, variable)| self.store(variable, shift.along(axis)))
    }

    pub(super) fn clear_shift(&mut self, stored_too: bool) -> Outcome<V> {
        let zero = Triple::from_axes(|_| V::integer(0));
        self.set_shift(zero.clone());
        if stored_too { self.store_shift(&zero) } else { Ok(()) }
    }

    fn resume_shift(&mut self) -> Outcome<V> {
        if let Some(first) = self.controller.variables.shift {
            let shift = self.stored(first)?;
            self.set_shift(shift);
        }
        Ok(())
    }

    fn set_shift(&mut self, shift: Triple<V>) {
        let now = &self.now;
        self.now.position = Triple::from_axes(|axis| {
            now.position.along(axis).add(&now.shift.along(axis).subtract(shift.along(axis)))
        });
        self.now.shift = shift;
    }
}

pub(super) fn not_modelled(what: &str, span: Span) -> Fault {
    Fault::new(errors::NOT_MODELLED, span, format!("the virtual controller does not model {what}"))
        .hint("nothing is ever skipped silently, so the run ends here")
}
