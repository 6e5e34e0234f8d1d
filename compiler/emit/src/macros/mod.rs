//! The macro form: one program with numbered variables for every admitted size.
//!
//! In order: header, sizes, guards, names, moves, the modes put back, alarms. Guards stand before the first
//! move and the first change of a mode; values are worked out before the moves that use them.

mod guards;
mod moves;
mod parameters;
mod plan;
mod print;
mod program;
mod scale;
mod terms;

use std::collections::BTreeSet;

use borewright_base::{Diagnostic, Diagnostics};
use borewright_machine::Machine;
use borewright_motion::{Action, Clause, Expr, Motion, Point, Step, Symbol};
use borewright_number::Rational;

use crate::assumptions::assumptions;
use crate::writer::{Block, Writer};
use crate::{Arguments, Bounds, EmittedFile, Form, Settings, errors, header};
use moves::Moves;
use parameters::Places;
use plan::{Planner, Sequence};
use print::Printer;
use scale::Scale;

/// Emits a macro.
pub(crate) fn emit_macro(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
) -> Result<EmittedFile, Diagnostics> {
    write_macro(motion, machine, settings).map_err(|diagnostic| {
        let mut diagnostics = Diagnostics::default();
        diagnostics.report(diagnostic);
        diagnostics
    })
}

fn write_macro(motion: &Motion, machine: &Machine, settings: &Settings) -> Result<EmittedFile, Diagnostic> {
    let style = style(motion, machine, settings)?;
    let number = header::program_number(motion, machine, settings)?;
    let scaled = in_machine_units(motion, machine)?;
    let places = Places::assign(&scaled, machine, style)?;
    let mut macro_ = Macro {
        motion: &scaled,
        machine,
        style,
        places,
        p: Printer::new(machine),
        saved: Vec::new(),
        needed: BTreeSet::new(),
    };
    macro_.body(settings)?;
    let free = macro_.places.free(machine);
    let lines = macro_.p.program.number(&free, motion.span)?;
    let bounds = bounds(machine);
    let mut w = Writer::new(machine, false);
    header::open(&mut w, motion, number, machine);
    macro_.places.write(&mut w, motion, machine, number);
    header::promises(&mut w, motion);
    claims(&mut w, machine, &bounds);
    header::assumed(&mut w, &assumptions(motion, machine, Form::Macro));
    header::cautions(&mut w);
    w.append(lines);
    if machine.programs.percent {
        w.percent();
    }
    check_lines(&w, machine, motion)?;
    let (text, lines) = w.finish();
    let name = header::file_name(motion, number, machine);
    Ok(EmittedFile { name, text, lines, program: number, form: Form::Macro, bounds })
}

/// Whether the machine can have a macro at all, and how it gets its sizes.
fn style(motion: &Motion, machine: &Machine, settings: &Settings) -> Result<Arguments, Diagnostic> {
    let refuse = |text: &str| {
        Diagnostic::error(errors::NO_MACRO_FORM, motion.span, text)
            .hint("write the blocks form: `--form blocks` with `--set NAME=VALUE` for each size")
    };
    if motion.job.is_some() {
        let text = "a job has no macro form yet: its routines have";
        return Err(Diagnostic::error(errors::JOB_AS_MACRO, motion.span, text)
            .hint("write the job as blocks, or each of its routines as a macro"));
    }
    if !machine.has_variables() {
        return Err(refuse(&format!("the machine `{}` keeps no variables for programs", machine.name)));
    }
    if !machine.flow.if_goto {
        return Err(refuse(&format!(
            "the machine `{}` has no tests: nothing could guard a macro",
            machine.name
        )));
    }
    let letters =
        machine.calls.macro_call.is_some() && machine.calls.back.is_some() && machine.variables.vacant;
    match (settings.arguments, letters) {
        (Some(Arguments::Letters), false) => {
            Err(refuse(&format!("the machine `{}` has no calls with letter arguments", machine.name)))
        }
        (Some(Arguments::Top), _) | (None, false) => Ok(Arguments::Top),
        (Some(Arguments::Letters) | None, true) => Ok(Arguments::Letters),
    }
}

/// The motion with its calls put in and every literal in the machine's unit.
fn in_machine_units(motion: &Motion, machine: &Machine) -> Result<Motion, Diagnostic> {
    let mut inlined = motion.clone();
    inlined.body = inline_calls(&motion.body, &mut 0);
    let mut scale = Scale::new(machine.unit());
    if scale.unit == Rational::ONE {
        return Ok(inlined);
    }
    scale.motion(&inlined)
}

/// The steps with every call replaced by what it does at each of its places.
fn inline_calls(steps: &[Step], nth: &mut usize) -> Vec<Step> {
    let mut inlined = Vec::new();
    for step in steps {
        let mut step = step.clone();
        match &mut step.action {
            Action::Call(call) => {
                for place in &call.at {
                    *nth += 1;
                    let body = call.body(place, *nth);
                    inlined.extend(inline_calls(&body, nth));
                }
                continue;
            }
            Action::Passes(passes) => passes.body = inline_calls(&passes.body, nth),
            Action::Repeat { body, .. } | Action::With { body, .. } => *body = inline_calls(body, nth),
            Action::Let(_)
            | Action::Retract
            | Action::RapidTo(_)
            | Action::RapidZ(_)
            | Action::Line { .. }
            | Action::Arc { .. }
            | Action::Turn { .. }
            | Action::Dwell(_)
            | Action::Spindle { .. }
            | Action::Coolant(_)
            | Action::Stop(_) => {}
        }
        inlined.push(step);
    }
    inlined
}

/// How far a control that rounds each word to the last decimal may be off. Nothing here is proved of the text.
fn bounds(machine: &Machine) -> Bounds {
    let step = machine.resolution();
    // Three points of an arc, each off by up to half a step along both axes: 4 * 0.5 * sqrt(2) steps.
    let mismatch = Rational::ratio(283, 100).unwrap_or(Rational::ONE) * &step;
    Bounds { end_point: step, arc_mismatch: mismatch }
}

fn claims(w: &mut Writer, machine: &Machine, bounds: &Bounds) {
    let digits = crate::number::Digits::new(machine);
    w.comment("MOTION PROVED FOR EVERY ADMITTED SIZE. THIS TEXT COMPARED WITH IT AT SAMPLED SIZES ONLY");
    let tolerance = machine.millimetres(&machine.arcs.tolerance);
    if bounds.arc_mismatch > tolerance {
        let apart = digits.length_rounded(&bounds.arc_mismatch, borewright_number::Rounding::Up);
        let step = digits.length(&machine.resolution());
        w.comment(&format!(
            "A CONTROL THAT ROUNDS EACH WORD TO {step} CAN SEE ARC RADII UP TO {apart} APART: ITS ARC TOLERANCE MUST ALLOW THAT"
        ));
    }
}

fn check_lines(w: &Writer, machine: &Machine, motion: &Motion) -> Result<(), Diagnostic> {
    match w.longest() {
        Some((line, span)) if line.len() > machine.text.line_length => {
            let text = format!("a line of {} characters is too long for the machine", line.len());
            Err(Diagnostic::error(errors::NO_MACRO_FORM, span.unwrap_or(motion.span), text).hint(format!(
                "the machine file allows {}; name parts of long expressions with `let`",
                machine.text.line_length
            )))
        }
        _ => Ok(()),
    }
}

struct Macro<'m> {
    motion: &'m Motion,
    machine: &'m Machine,
    style: Arguments,
    places: Places,
    p: Printer<'m>,
    /// Variables that hold modes to put back.
    saved: Vec<String>,
    /// Names that something needs; the others get no variable.
    needed: BTreeSet<Symbol>,
}

impl Macro<'_> {
    fn body(&mut self, settings: &Settings) -> Result<(), Diagnostic> {
        let motion = self.motion;
        let sequence = self.planner().sequence(&motion.body)?;
        self.needed = needed(motion, &sequence);
        if self.style == Arguments::Top {
            self.assign_sizes(settings)?;
        }
        self.p.program.w.comment("-");
        self.p.program.w.comment("GUARDS: NOTHING MOVES AND NO MODE CHANGES BEFORE ALL OF THEM HAVE PASSED");
        self.guard_modes();
        self.guard_parameters()?;
        self.guard_head()?;
        self.p.program.w.comment("-");
        self.save_modes()?;
        let start = match self.style {
            Arguments::Letters => self.machine.words.routine_start.clone(),
            Arguments::Top => format!("{} {}", self.machine.units_code(), self.machine.words.routine_start),
        };
        // Modes are set behind everything that can be worked out before them.
        self.moves(&sequence, &start)?;
        self.end()
    }

    fn planner(&self) -> Planner<'_> {
        let lets = self.motion.head.iter().filter_map(|clause| match clause {
            Clause::Let(l) => Some((l.symbol.clone(), l.value.clone())),
            Clause::Require(_) => None,
        });
        let centre = match &self.places.centre {
            Some((x, y)) => Point::new(Expr::symbol(x), Expr::symbol(y)),
            None => Point::centre(),
        };
        Planner { machine: self.machine, centre, lets: lets.collect(), at: None }
    }

    fn moves(&mut self, sequence: &Sequence, start: &str) -> Result<(), Diagnostic> {
        let positive = self.motion.parameters.iter().filter(|p| p.least > Rational::ZERO);
        self.p.positive = positive.map(|p| p.symbol.clone()).collect();
        let mut moves = Moves { p: &mut self.p, feed: None, depth: 0 };
        moves.names_and_values(sequence, &self.needed)?;
        moves.p.program.w.comment("MOTION BEGINS");
        moves.p.program.w.raw(start);
        moves.each(sequence)
    }

    /// Puts the modes back and goes back to the caller, or ends the program; then the alarms.
    fn end(&mut self) -> Result<(), Diagnostic> {
        let span = self.motion.span;
        let out = self.machine.alarms.variable.is_none().then(|| self.p.program.label());
        if let Some(label) = out {
            self.p.program.w.label(label);
        }
        if !self.saved.is_empty() {
            let block = self.saved.iter().fold(Block::default(), |b, slot| b.word('G', slot));
            self.p.program.w.block(block.note("MODES OF THE CALLER"), span);
        }
        match (self.style, &self.machine.calls.back) {
            (Arguments::Letters, Some(back)) => self.p.program.w.raw(back),
            (Arguments::Letters, None) | (Arguments::Top, _) => {
                self.p.program.w.block(Block::code("M5"), span);
                for block in &self.machine.programs.tail {
                    self.p.program.w.raw(block);
                }
            }
        }
        self.p.program.w.comment("-");
        self.p.program.w.comment("ALARMS");
        self.p.program.write_alarms(span, out)
    }
}

/// The names that something needs: guards, moves, and the lets behind them.
fn needed(motion: &Motion, sequence: &Sequence) -> BTreeSet<Symbol> {
    let mut names = BTreeSet::new();
    moves::names_used(sequence, &mut names);
    for clause in motion.head.iter().rev() {
        match clause {
            Clause::Require(r) => names.extend(r.condition.symbols()),
            Clause::Let(l) if names.contains(&l.symbol) => names.extend(l.value.symbols()),
            Clause::Let(_) => {}
        }
    }
    names
}
