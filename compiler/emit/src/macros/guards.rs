//! Sizes, guards and modes: everything between the header and the first move.

use borewright_base::Diagnostic;
use borewright_motion::{Clause, Parameter, bind};

use super::Macro;
use super::parameters::range;
use crate::number::{Literal, pointed};
use crate::{Settings, errors};

impl Macro<'_> {
    /// Sizes at the top, for the operator to change.
    pub(super) fn assign_sizes(&mut self, settings: &Settings) -> Result<(), Diagnostic> {
        self.p.program.w.comment("-");
        self.p.program.w.comment("SIZES OF THIS RUN");
        for parameter in &self.motion.parameters {
            let Some(variable) = self.places.variable(&parameter.symbol) else { continue };
            let text = match (settings.values.get(&parameter.symbol), &parameter.default) {
                (Some(value), _) => self.size(parameter, value),
                (None, Some(default)) => self.p.expr(default, parameter.span)?.text,
                (None, None) => {
                    let text =
                        format!("`{}` needs a value to stand at the top of the program", parameter.symbol);
                    return Err(Diagnostic::error(errors::SIZES, parameter.span, text)
                        .hint(format!("give it one: `--set {}=...`", parameter.symbol)));
                }
            };
            let bare = variable.trim_start_matches('#');
            self.p.program.w.assign_text(bare, &text, parameter.symbol.name(), Some(parameter.span));
            self.p.define_symbol(&parameter.symbol, variable.clone());
        }
        for symbol in self.places.centre.iter().flat_map(|(x, y)| [x, y]) {
            if let Some(variable) = self.places.variable(symbol) {
                self.p.program.w.assign_text(variable.trim_start_matches('#'), "0.", symbol.name(), None);
                self.p.define_symbol(symbol, variable.clone());
            }
        }
        // Sizes that are refused are told before the program is written, not at the control.
        let given =
            settings.values.keys().filter(|s| self.motion.parameters.iter().any(|p| p.symbol == **s)).count();
        if given == settings.values.len() {
            return Ok(());
        }
        let unknown = bind(self.motion, &settings.values).err().map(|e| e.to_string()).unwrap_or_default();
        Err(Diagnostic::error(errors::SIZES, self.motion.span, unknown))
    }

    fn size(&self, parameter: &Parameter, value: &borewright_number::Rational) -> String {
        let dimension = parameter.dimension;
        let scaled = if dimension.length == 1 { value / &self.machine.unit() } else { value.clone() };
        match crate::number::Digits::new(self.machine).literal(&scaled) {
            Literal::Digits(text) => text,
            Literal::Quotient(..) => pointed(&scaled, self.machine.numbers.decimals),
        }
    }

    /// Modes that the caller must have right, because changing them here would move an axis or change what the
    /// arguments mean.
    pub(super) fn guard_modes(&mut self) {
        if self.style != super::Arguments::Letters {
            return;
        }
        let modes = self.machine.modes.clone();
        let mut guard = |variable: Option<u32>, test: String, text: &str| {
            if let Some(variable) = variable {
                let label = self.p.program.alarm(text, None);
                self.p.program.w.jump_if(&format!("#{variable} {test}"), label, "", None);
            }
        };
        let units = self.machine.units_code().trim_start_matches('G').to_owned();
        let name = if self.machine.inch() { "PROGRAM IS IN INCHES" } else { "PROGRAM IS IN MM" };
        guard(modes.units, format!("NE {units}"), name);
        guard(modes.compensation, "NE 40".to_owned(), "CUTTER COMPENSATION IS ON");
        guard(modes.length, "EQ 49".to_owned(), "LENGTH OFFSET IS OFF");
    }

    /// Vacant ones refused or given their default, then the ranges, in the order of the parameters.
    pub(super) fn guard_parameters(&mut self) -> Result<(), Diagnostic> {
        for parameter in &self.motion.parameters {
            let Some(variable) = self.places.variable(&parameter.symbol) else { continue };
            if self.style == super::Arguments::Letters {
                self.guard_vacant(parameter, &variable)?;
            }
            self.p.define_symbol(&parameter.symbol, variable.clone());
            let (least, greatest) = range(parameter, self.machine);
            let text = format!("{}: {least} TO {greatest}", shown(parameter));
            let label = self.p.program.alarm(&text, Some(parameter.span));
            let span = Some(parameter.span);
            self.p.program.w.jump_if(&format!("{variable} LT {least}"), label, "", span);
            self.p.program.w.jump_if(&format!("{variable} GT {greatest}"), label, "", span);
            if parameter.whole {
                let text = format!("{}: WHOLE NUMBERS ONLY", shown(parameter));
                let label = self.p.program.alarm(&text, span);
                self.p.program.w.jump_if(&format!("{variable} NE FIX[{variable}]"), label, "", span);
            }
        }
        self.centre();
        Ok(())
    }

    fn guard_vacant(&mut self, parameter: &Parameter, variable: &str) -> Result<(), Diagnostic> {
        let span = parameter.span;
        let vacant = format!("{variable} EQ #0");
        match &parameter.default {
            None => {
                let letter = self.places.of.get(&parameter.symbol).and_then(|t| t.letter);
                let letter = letter.map(|l| format!("{l} ")).unwrap_or_default();
                let text = format!("{letter}{} IS MISSING", shown(parameter));
                let label = self.p.program.alarm(&text, Some(span));
                self.p.program.w.jump_if(&vacant, label, "", Some(span));
            }
            Some(default) => {
                let value = self.p.expr(default, span)?.text;
                self.p.assign_if(&vacant, variable.trim_start_matches('#'), &value, span);
            }
        }
        Ok(())
    }

    fn centre(&mut self) {
        if self.style != super::Arguments::Letters {
            return;
        }
        let Some((x, y)) = self.places.centre.clone() else { return };
        for symbol in [x, y] {
            if let Some(variable) = self.places.variable(&symbol) {
                let bare = variable.trim_start_matches('#').to_owned();
                self.p.assign_if(&format!("{variable} EQ #0"), &bare, "0.", self.motion.span);
                self.p.define_symbol(&symbol, variable);
            }
        }
    }

    /// Lets and requirements in the order of the source.
    pub(super) fn guard_head(&mut self) -> Result<(), Diagnostic> {
        for clause in &self.motion.head {
            match clause {
                Clause::Let(l) if self.needed.contains(&l.symbol) => self.p.assign_let(l)?,
                Clause::Let(_) => {}
                Clause::Require(r) => {
                    let label = self.p.program.alarm(&r.alarm, Some(r.span));
                    self.p.jump_unless(&r.condition, label, "", r.span)?;
                }
            }
        }
        Ok(())
    }

    /// The caller's modes that will be changed and put back.
    pub(super) fn save_modes(&mut self) -> Result<(), Diagnostic> {
        if self.style != super::Arguments::Letters {
            return Ok(());
        }
        let modes = &self.machine.modes;
        let kept =
            [(modes.plane, "PLANE"), (modes.distance, "ABSOLUTE OR NOT"), (modes.feed_mode, "FEED MODE")];
        for (variable, what) in kept {
            if let Some(variable) = variable {
                let slot = self.p.program.slot(self.motion.span)?.text();
                let note = format!("{what} OF THE CALLER");
                self.p.program.w.assign_text(
                    slot.trim_start_matches('#'),
                    &format!("#{variable}"),
                    &note,
                    None,
                );
                self.saved.push(slot);
            }
        }
        Ok(())
    }
}

/// A parameter's name for an alarm.
fn shown(parameter: &Parameter) -> String {
    parameter.symbol.name().to_uppercase().replace('_', " ")
}
