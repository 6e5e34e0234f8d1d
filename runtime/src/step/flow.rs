//! Statements, calls, returns and the end of a program. Calls and statements: common practice of macro dialects, no
//! source.

use borewright_base::Span;

use super::words::Words;
use super::{Call, Effect, Outcome, Stepper, Target};
use crate::code::Miscellaneous;
use crate::errors::{self, Fault};
use crate::state::{Coolant, Distance, FeedMode, Motion, Plane, Spindle};
use crate::step::evaluate::{switch_coolant, whole};
use crate::text::{Expression, Then};
use crate::value::{Condition, Value};

impl<V: Value> Stepper<'_, V> {
    pub(super) fn if_statement(&mut self, condition: &Expression, then: &Then) -> Outcome<V> {
        let condition = self.condition(condition, self.block.span)?;
        let effects = match then {
            Then::Goto(number) => vec![self.jump(number)?],
            Then::Assign(assignments) => self.read_assignments(assignments)?,
        };
        self.effects.push(Effect::When { condition, effects });
        Ok(())
    }

    pub(super) fn while_statement(&mut self, condition: &Expression, end: usize) -> Outcome<V> {
        let condition = self.condition(condition, self.block.span)?;
        let over = Effect::Jump(Target::Block(end + 1));
        self.effects.push(Effect::When { condition: condition.negated(), effects: vec![over] });
        Ok(())
    }

    pub(super) fn goto(&mut self, number: &Expression) -> Outcome<V> {
        let jump = self.jump(number)?;
        self.effects.push(jump);
        Ok(())
    }

    fn jump(&mut self, number: &Expression) -> Outcome<V, Effect<V>> {
        let span = self.block.span;
        let number = self.index(number, "the sequence number after GOTO", span)?;
        Ok(Effect::Jump(Target::Sequence { number, span }))
    }

    /// `G65 P.. L.. A.. B..`
    pub(super) fn macro_call(&mut self, words: &mut Words<V>, span: Span) -> Outcome<V, Effect<V>> {
        let (program, repeats) = self.called(words, span)?;
        let mut arguments = Vec::new();
        for (letter, value, place) in words.take_all() {
            let Some(variable) = self.controller.call_letters.get(&letter) else {
                return Err(Fault::new(
                    errors::WORD_VALUE,
                    place,
                    format!("{letter} cannot be an argument of a macro call"),
                )
                .hint("G, L, N, O and P belong to the call itself; use another letter")
                .into());
            };
            arguments.push((*variable, value));
        }
        Ok(Effect::Call(Call { program, repeats, arguments: Some(arguments), span }))
    }

    /// P and L of a call.
    fn called(&mut self, words: &mut Words<V>, span: Span) -> Outcome<V, (u32, u32)> {
        let Some((program, place)) = words.take('P') else {
            return Err(Fault::new(
                errors::VALUE_MISSING,
                span,
                "a call without P, the number of the program",
            )
            .hint("write for example G65 P9010 or M98 P9010; a file without O number answers to any P")
            .into());
        };
        let program = whole(Some(&program), "the program number P", place)?;
        let repeats = match words.take(self.controller.repeat_letter) {
            None => 1,
            Some((repeats, place)) => whole(Some(&repeats), "the count of repeats L", place)?,
        };
        Ok((program, repeats))
    }

    /// M98, M99, and the stops: the last thing a block does.
    pub(super) fn program_flow(&mut self, words: &mut Words<V>) -> Outcome<V> {
        for (code, span) in words.miscellaneous.clone() {
            match code {
                Miscellaneous::Stop => self.pause(false),
                Miscellaneous::OptionalStop => self.pause(true),
                Miscellaneous::End => self.end()?,
                Miscellaneous::CallSubprogram => {
                    let (program, repeats) = self.called(words, span)?;
                    self.effects.push(Effect::Call(Call { program, repeats, arguments: None, span }));
                }
                Miscellaneous::Return => {
                    let to = match words.take('P') {
                        None => None,
                        Some((number, place)) => Some(whole(Some(&number), "the sequence number P", place)?),
                    };
                    self.effects.push(Effect::Return(to));
                }
                Miscellaneous::Spindle(_)
                | Miscellaneous::ToolChange
                | Miscellaneous::Coolant(_)
                | Miscellaneous::Overrides(_) => {}
            }
        }
        Ok(())
    }

    fn pause(&mut self, optional: bool) {
        let text = self.comment();
        self.effects.push(Effect::Pause { optional, text });
    }

    /// What M2 and M30 reset (NISTIR 6556, section 3.6.1).
    fn end(&mut self) -> Outcome<V> {
        self.back_to_centre();
        let now = &mut self.now;
        now.plane = Some(Plane::XY);
        now.distance = Some(Distance::Absolute);
        now.feed_mode = Some(FeedMode::PerMinute);
        now.overrides = Some(true);
        now.compensation = Some(false);
        now.motion = Some(Motion::Line);
        if now.spindle.replace(Spindle::Stopped) != Some(Spindle::Stopped) {
            self.effects.push(Effect::Spindle(Spindle::Stopped));
        }
        if (self.now.mist, self.now.flood) != (Some(false), Some(false)) {
            switch_coolant(&mut self.now, Coolant::Off);
            self.effects.push(Effect::Coolant(Coolant::Off));
        }
        if self.now.work.is_some_and(|system| system != 1) {
            self.select_work_offset(1)?;
        }
        self.clear_shift(false)?;
        self.effects.push(Effect::End);
        Ok(())
    }
}
