//! Sizes, guards and modes: everything between the header and the first move.

use borewright_base::Diagnostic;
use borewright_motion::{Clause, Parameter, Settling, bind};
use borewright_number::{Interval, Rational};

use super::Macro;
use super::parameters::{farthest, range, range_values, unit};
use crate::arithmetic::Computed;
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

    fn size(&self, parameter: &Parameter, value: &Rational) -> String {
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

    /// Arguments, names and requirements in the order in which they are settled, then the place.
    pub(super) fn guard_sizes(&mut self) -> Result<(), Diagnostic> {
        for line in self.motion.settled() {
            match line {
                Settling::Parameter(parameter) => self.guard_parameter(parameter)?,
                Settling::Clause(clause) => self.guard_clause(clause)?,
            }
        }
        self.p.arithmetic.know_more();
        self.centre();
        Ok(())
    }

    /// Refused or given its default where it is vacant; then its range.
    fn guard_parameter(&mut self, parameter: &Parameter) -> Result<(), Diagnostic> {
        let Some(variable) = self.places.variable(&parameter.symbol) else { return Ok(()) };
        if self.style == super::Arguments::Letters {
            self.guard_vacant(parameter, &variable)?;
        }
        self.p.define_symbol(&parameter.symbol, variable.clone());
        self.guard_range(parameter, &variable)?;
        let span = Some(parameter.span);
        if parameter.whole {
            let text = self.fitting(&[
                format!("{}: WHOLE NUMBERS ONLY", shown(parameter)),
                format!("{}: NOT WHOLE", shown(parameter)),
                "NOT A WHOLE NUMBER".to_owned(),
            ]);
            let label = self.p.program.alarm(&text, span);
            self.p.program.w.jump_if(&format!("{variable} NE FIX[{variable}]"), label, "", span);
        }
        Ok(())
    }

    /// Ends exactly as the header has them. Only where a default that is worked out can come so close to an end that
    /// the control's rounding would decide, that end is moved outwards by more than that.
    fn guard_range(&mut self, parameter: &Parameter, variable: &str) -> Result<(), Diagnostic> {
        let span = parameter.span;
        let ends = range_values(parameter, self.machine);
        let enclosed = |v: &Rational| Interval::from_rational(v);
        let argument = self.p.arithmetic.argument(enclosed(&ends.0).hull(enclosed(&ends.1)), parameter.whole);
        let computed = parameter.default.as_ref().filter(|_| self.style == super::Arguments::Letters);
        let computed = computed.map(|d| self.p.arithmetic.value(d)).filter(|v| !v.is_plain());
        let value = computed.map_or(argument, |default| self.p.arithmetic.defaulted(argument, default));
        self.p.arithmetic.define(&parameter.symbol, value);
        let (least, greatest) = range(parameter, self.machine);
        let unit = unit(parameter.dimension, self.machine).map_or_else(String::new, |u| format!(" {u}"));
        let text = self.fitting(&[
            format!("{}: {least} TO {greatest}{unit}", shown(parameter)),
            format!("{} {least} TO {greatest}{unit}", shown(parameter)),
            format!("{}: {least} TO {greatest}", shown(parameter)),
            format!("{} OUT OF RANGE", shown(parameter)),
            "SIZE OUT OF RANGE".to_owned(),
        ]);
        let label = self.p.program.alarm(&text, Some(span));
        for (test, end, digits, side) in [("LT", &ends.0, least, -1.0), ("GT", &ends.1, greatest, 1.0)] {
            let at = enclosed(end).abs().hi;
            // At the end itself the default is off by its part of that end alone.
            let off = computed.map(|v| if v.relative.is_finite() { at * v.relative } else { v.off });
            let reaches = |v: Computed, off: f64| {
                let (near, limit) = if side < 0.0 {
                    (-v.exact.lo, -enclosed(end).lo)
                } else {
                    (v.exact.hi, enclosed(end).hi)
                };
                near + off >= limit
            };
            let close = computed.zip(off).filter(|(v, off)| reaches(*v, *off));
            let Some((_, off)) = close else {
                self.p.program.w.jump_if(&format!("{variable} {test} {digits}"), label, "", Some(span));
                continue;
            };
            let slack = self.p.slack_of(off, span)?;
            let moved = if side < 0.0 { end - &slack } else { end + &slack };
            let limit = pointed(&moved, self.machine.numbers.significant_digits.min(9));
            let note = format!("{digits} AND SLACK");
            self.p.program.w.jump_if(&format!("{variable} {test} {limit}"), label, &note, Some(span));
        }
        Ok(())
    }

    /// The first of the texts that the machine shows whole.
    fn fitting(&self, texts: &[String]) -> String {
        let fits = |t: &&String| crate::harmless(t, self.machine).len() <= self.machine.alarms.text_length;
        texts.iter().find(fits).or(texts.last()).cloned().unwrap_or_default()
    }

    fn guard_vacant(&mut self, parameter: &Parameter, variable: &str) -> Result<(), Diagnostic> {
        let span = parameter.span;
        let vacant = format!("{variable} EQ #0");
        match &parameter.default {
            None => {
                let letter = self.places.of.get(&parameter.symbol).and_then(|t| t.letter);
                let letter = letter.map(|l| format!("{l} ")).unwrap_or_default();
                let text = self.fitting(&[
                    format!("{letter}{} IS MISSING", shown(parameter)),
                    format!("{letter}IS MISSING"),
                ]);
                let label = self.p.program.alarm(&text, Some(span));
                let name = format!("{letter}{}", shown(parameter));
                self.p.program.w.jump_if(&vacant, label, &name, Some(span));
            }
            Some(default) => {
                let value = self.p.expr(default, span)?.text;
                let bare = variable.trim_start_matches('#');
                let letter = self.places.of.get(&parameter.symbol).and_then(|t| t.letter);
                let letter = letter.map(|l| format!("{l} ")).unwrap_or_default();
                self.p.assign_if_noted(&vacant, bare, &value, &format!("{letter}{}", shown(parameter)), span);
            }
        }
        Ok(())
    }

    /// The place of the routine: 0 where none is given, and no farther away than the bounds in the header reach.
    fn centre(&mut self) {
        let Some((x, y)) = self.places.centre.clone() else { return };
        for (symbol, axis) in [(x, 'X'), (y, 'Y')] {
            let Some(variable) = self.places.variable(&symbol) else { continue };
            let bare = variable.trim_start_matches('#').to_owned();
            if self.style == super::Arguments::Letters {
                let note = format!("CENTRE {axis}");
                self.p.assign_if_noted(&format!("{variable} EQ #0"), &bare, "0.", &note, self.motion.span);
            }
            let farthest = farthest(self.machine, axis);
            let digits = pointed(&farthest, self.machine.numbers.decimals);
            let measure = if self.machine.inch() { "IN" } else { "MM" };
            let text = self.fitting(&[
                format!("CENTRE {axis}: -{digits} TO {digits} {measure}"),
                format!("CENTRE {axis} WITHIN {digits} {measure}"),
                format!("CENTRE {axis} OUT OF RANGE"),
            ]);
            let label = self.p.program.alarm(&text, None);
            self.p.program.w.jump_if(&format!("{variable} LT -{digits}"), label, "", None);
            self.p.program.w.jump_if(&format!("{variable} GT {digits}"), label, "", None);
            let end = Interval::from_rational(&farthest);
            let value = self.p.arithmetic.argument((-end).hull(end), false);
            self.p.arithmetic.define(&symbol, value);
            self.p.define_symbol(&symbol, variable);
        }
    }

    /// What is known of the variables at the top, and the names of the head, where nothing is guarded.
    pub(super) fn known_arguments(&mut self) -> Result<(), Diagnostic> {
        let enclosed = |v: &Rational| Interval::from_rational(v);
        for parameter in &self.motion.parameters {
            let (least, greatest) = range_values(parameter, self.machine);
            let range = enclosed(&least).hull(enclosed(&greatest));
            let value = self.p.arithmetic.argument(range, parameter.whole);
            self.p.arithmetic.define(&parameter.symbol, value);
        }
        for (symbol, axis) in self.places.centre.clone().into_iter().flat_map(|(x, y)| [(x, 'X'), (y, 'Y')]) {
            let end = enclosed(&farthest(self.machine, axis));
            let value = self.p.arithmetic.argument((-end).hull(end), false);
            self.p.arithmetic.define(&symbol, value);
        }
        for clause in &self.motion.head {
            if let Clause::Let(l) = clause
                && self.needed.contains(&l.symbol)
            {
                self.p.assign_let(l)?;
            }
        }
        Ok(())
    }

    /// A name of the head, or a requirement.
    fn guard_clause(&mut self, clause: &Clause) -> Result<(), Diagnostic> {
        match clause {
            Clause::Let(l) if self.needed.contains(&l.symbol) => self.p.assign_let(l),
            Clause::Let(_) => Ok(()),
            Clause::Require(r) => {
                let label = self.p.program.alarm(&r.alarm, Some(r.span));
                self.p.jump_unless(&r.condition, label, &r.alarm, r.span)?;
                self.p.suppose(&r.condition);
                Ok(())
            }
        }
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
