//! Assignments: read with all other values of the block, in effect at its end (NISTIR 6556, section 3.3.3).

use borewright_base::Span;

use super::{Effect, Outcome, Stepper};
use crate::errors::{self, Fault};
use crate::state::Axis;
use crate::text::Assignment;
use crate::value::Value;

impl<V: Value> Stepper<'_, V> {
    /// The effects of assignments, in the order of the text: the last one to a variable wins.
    pub(super) fn read_assignments(&mut self, assignments: &[Assignment]) -> Outcome<V, Vec<Effect<V>>> {
        assignments.iter().map(|assignment| self.assign(assignment)).collect()
    }

    fn assign(&mut self, assignment: &Assignment) -> Outcome<V, Effect<V>> {
        let span = assignment.span;
        let variable = self.index(&assignment.variable, "the number of a variable", span)?;
        let value = self.number(&assignment.value, span)?;
        let variables = &self.controller.variables;
        if variables.alarm == Some(variable) {
            let number = value.unwrap_or_else(|| V::integer(0));
            return Ok(Effect::Alarm { number, text: self.comment() });
        }
        if variables.stop == Some(variable) {
            return Ok(Effect::Pause { optional: false, text: self.comment() });
        }
        self.may_write(variable, span)?;
        if let Some(value) = &value {
            let greatest = self.controller.greatest_variable.or(self.controller.greatest);
            self.within(greatest, value, span)?;
        }
        let value = if variables.vacant { value } else { Some(value.unwrap_or_else(|| V::integer(0))) };
        Ok(Effect::Set { variable, value })
    }

    fn may_write(&self, variable: u32, span: Span) -> Result<(), Fault> {
        let variables = &self.controller.variables;
        if let Some(system) = self.now.work {
            let active = variables.work_offset(system, Axis::X);
            if (active..active + 3).contains(&variable) {
                return Err(super::modes::not_modelled("a change of the work offset that is active", span)
                    .hint("change it with G10 L2, or before selecting it"));
            }
        }
        if variables.writable.iter().any(|range| range.contains(&variable)) {
            return Ok(());
        }
        Err(Fault::new(
            errors::VARIABLE_NUMBER,
            span,
            format!("a program may not set #{variable} on this controller"),
        )
        .hint("use one of the variables that the machine leaves to programs"))
    }
}
